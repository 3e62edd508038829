//! The guide's settings: scales, conditions, traits, forms, roles, weights, legal lists, waters.

use std::collections::BTreeMap;

use crate::content::fields::{Faults, Fields, is_id, read_number, read_quantity, read_span, text};
use crate::content::yaml::{Data, Node};
use crate::content::{
    Bound, Clause, Condition, ConditionKind, ConditionValue, Covers, EvidenceRow, Form, Level,
    Limit, Listing, Measure, Role, Scale, ScaleTrait, Trait, TraitKind, Water, Weights, position,
};
use crate::diagnostic::{Diagnostic, Placed};
use crate::quantity::{Dimension, MG_PER_DEGREE, Unit};

/// Settings that entries lean on, in the order in which they are read.
#[derive(Default)]
pub(crate) struct Settings {
    pub(crate) scales: Vec<Scale>,
    pub(crate) conditions: Vec<Condition>,
    pub(crate) traits: Vec<Trait>,
    pub(crate) forms: Vec<Form>,
    pub(crate) waters: Vec<String>,
    pub(crate) roles: Vec<String>,
    pub(crate) kinds: Vec<String>,
    /// Ids of sources, from the files' names, sorted.
    pub(crate) sources: Vec<String>,
    /// Settings files that could not be read whole: what leans on them is not reported again.
    pub(crate) broken: Vec<&'static str>,
}

impl Settings {
    /// Index of a trait; unknown is a fault.
    pub(crate) fn trait_index(&self, id: &Placed<String>, faults: &mut Faults) -> Option<usize> {
        let found = position(&self.traits, &id.value, |t| &t.id);
        if found.is_none() && !self.broken.contains(&"traits") {
            faults.push(Diagnostic::unknown_id(
                &id.place,
                "trait",
                &id.value,
                self.traits.iter().map(|t| t.id.as_str()),
            ));
        }
        found
    }

    /// Index of a condition; unknown is a fault.
    pub(crate) fn condition(&self, id: &Placed<String>, faults: &mut Faults) -> Option<usize> {
        let found = position(&self.conditions, &id.value, |c| &c.id);
        if found.is_none() && !self.broken.contains(&"conditions") {
            faults.push(Diagnostic::unknown_id(
                &id.place,
                "condition",
                &id.value,
                self.conditions.iter().map(|c| c.id.as_str()),
            ));
        }
        found
    }

    /// Index of a source; unknown is a fault.
    pub(crate) fn source(&self, id: &Placed<String>, faults: &mut Faults) -> Option<usize> {
        let found = self.sources.binary_search(&id.value).ok();
        if found.is_none() {
            faults.push(Diagnostic::unknown_id(
                &id.place,
                "source",
                &id.value,
                self.sources.iter().map(String::as_str),
            ));
        }
        found
    }

    /// A declared form; unknown is a fault.
    pub(crate) fn form(&self, id: Placed<String>, faults: &mut Faults) -> Option<String> {
        if !self.forms.iter().any(|form| form.id == id.value) {
            if !self.broken.contains(&"forms") {
                faults.push(Diagnostic::unknown_id(
                    &id.place,
                    "form",
                    &id.value,
                    self.forms.iter().map(|form| form.id.as_str()),
                ));
            }
            return None;
        }
        Some(id.value)
    }

    /// A map of conditions, such as a claim's `where`.
    pub(crate) fn stated(
        &self,
        node: Node,
        what: &'static str,
        faults: &mut Faults,
    ) -> BTreeMap<usize, ConditionValue> {
        let mut out = BTreeMap::new();
        let Some(fields) = Fields::open_any(node, what, faults) else {
            return out;
        };
        for (key, node) in fields.into_entries() {
            let Some(index) = self.condition(&key, faults) else {
                continue;
            };
            let Some(value) = text(node, &key.value, faults) else {
                continue;
            };
            if let Some(value) =
                condition_value(&self.conditions[index], &self.scales, &value, faults)
            {
                out.insert(index, value);
            }
        }
        out
    }
}

/// Reads a value of a condition: a level, a word, or a span.
pub fn condition_value(
    condition: &Condition,
    scales: &[Scale],
    text: &Placed<String>,
    faults: &mut Vec<Diagnostic>,
) -> Option<ConditionValue> {
    match &condition.kind {
        ConditionKind::Scale(scale) => {
            let scale = &scales[*scale];
            let found = scale.position(&text.value);
            if found.is_none() {
                faults.push(Diagnostic::unknown_id(
                    &text.place,
                    &format!("level of `{}`", scale.id),
                    &text.value,
                    scale.levels.iter().map(|level| level.id.as_str()),
                ));
            }
            found.map(ConditionValue::Level)
        }
        ConditionKind::Words(words) => {
            let folded = text.value.trim().to_lowercase();
            let found = words.iter().find(|word| word.to_lowercase() == folded);
            if found.is_none() {
                faults.push(Diagnostic::unknown_id(
                    &text.place,
                    &format!("word of condition `{}`", condition.id),
                    &text.value,
                    words.iter().map(String::as_str),
                ));
            }
            found.map(|word| ConditionValue::Word(word.clone()))
        }
        ConditionKind::Span(unit) => {
            let hardness = Measure::Hardness.dimensions();
            let dimensions: &[Dimension] = if hardness.contains(&unit.dimension) {
                &[unit.dimension, Dimension::Concentration]
            } else {
                &[unit.dimension]
            };
            let span = read_span(text, dimensions, faults)?;
            let (Some(low), Some(high)) = (span.low, span.high) else {
                faults.push(Diagnostic::span_open(&text.place, &text.value));
                return None;
            };
            Some(ConditionValue::Span {
                low: base(low, &span.unit),
                high: base(high, &span.unit),
            })
        }
    }
}

/// A value in the base unit of its dimension; mg/l of hardness in degrees.
pub fn base(value: f64, unit: &Unit) -> f64 {
    if unit.dimension == Dimension::Concentration {
        value / MG_PER_DEGREE
    } else {
        unit.to_base(value)
    }
}

/// `scales.yaml`.
pub(crate) fn scales(node: Node, faults: &mut Faults) -> Vec<Scale> {
    let mut out = Vec::new();
    let Some(fields) = Fields::open_any(node, "scales.yaml", faults) else {
        return out;
    };
    for (id, node) in fields.into_entries() {
        if !is_id(&id.value) {
            faults.push(Diagnostic::bad_id(&id.place, &id.value));
        }
        let (items, plain) = match node.data {
            Data::List(items) => (items, None),
            Data::Map(_) => {
                let Some(mut map) = Fields::open(node, "a scale", &["levels", "plain"], faults)
                else {
                    continue;
                };
                map.need("levels", faults)
                    .map_or((Vec::new(), None), |node| {
                        let plain = map.take("plain", faults);
                        match node.data {
                            Data::List(items) => (items, plain),
                            _ => {
                                faults.push(Diagnostic::wrong_shape(
                                    &node.place,
                                    "a list of levels",
                                    node.noun(),
                                ));
                                (Vec::new(), plain)
                            }
                        }
                    })
            }
            _ => {
                faults.push(Diagnostic::wrong_shape(
                    &node.place,
                    "a list of levels",
                    node.noun(),
                ));
                continue;
            }
        };
        let mut levels: Vec<Level> = Vec::new();
        for item in items {
            let Some(level) = text(item, "levels", faults) else {
                continue;
            };
            let name = level.value.trim().to_owned();
            if name.contains("..") {
                faults.push(Diagnostic::bad_id(&level.place, &name));
            }
            if levels
                .iter()
                .any(|l| l.id.to_lowercase() == name.to_lowercase())
            {
                faults.push(Diagnostic::declared_twice(&level.place, "level", &name));
                continue;
            }
            levels.push(Level {
                id: name,
                plain: None,
            });
        }
        if let Some(plain) =
            plain.and_then(|node| Fields::open_any(node, "plain sentences", faults))
        {
            for (key, node) in plain.into_entries() {
                let sentence = text(node, &key.value, faults);
                match levels.iter_mut().find(|level| level.id == key.value) {
                    Some(level) => level.plain = sentence.map(|s| s.value),
                    None => faults.push(Diagnostic::unknown_id(
                        &key.place,
                        "level",
                        &key.value,
                        levels.iter().map(|level| level.id.as_str()),
                    )),
                }
            }
        }
        if levels.len() < 2 {
            faults.push(Diagnostic::short_scale(&id.place, &id.value));
            continue;
        }
        out.push(Scale {
            id: id.value,
            levels,
        });
    }
    out.sort_by(|a, b| a.id.cmp(&b.id));
    out
}

/// `conditions.yaml`.
pub(crate) fn conditions(node: Node, settings: &Settings, faults: &mut Faults) -> Vec<Condition> {
    let mut out = Vec::new();
    let Some(fields) = Fields::open_any(node, "conditions.yaml", faults) else {
        return out;
    };
    for (id, node) in fields.into_entries() {
        if !is_id(&id.value) {
            faults.push(Diagnostic::bad_id(&id.place, &id.value));
        }
        let Some(mut map) = Fields::open(
            node,
            "a condition",
            &["title", "scale", "words", "span"],
            faults,
        ) else {
            continue;
        };
        let title = map
            .string("title", faults)
            .unwrap_or_else(|| id.value.clone());
        let kinds = ["scale", "words", "span"]
            .iter()
            .filter(|key| map.has(key))
            .count();
        if kinds != 1 {
            faults.push(if kinds == 0 {
                Diagnostic::missing_key(&id.place, "scale", "this condition")
            } else {
                Diagnostic::key_not_here(
                    &id.place,
                    "scale",
                    "a condition has one of `scale`, `words` and `span`",
                )
            });
            continue;
        }
        let kind = if map.has("scale") {
            map.text("scale", faults)
                .and_then(|scale| scale_index(&scale, settings, faults).map(ConditionKind::Scale))
        } else if map.has("words") {
            let words: Vec<String> = map
                .texts("words", faults)
                .into_iter()
                .map(|w| w.value)
                .collect();
            Some(ConditionKind::Words(words))
        } else {
            map.text("span", faults)
                .and_then(|unit| match Unit::of(unit.value.trim()) {
                    Some(unit) => Some(ConditionKind::Span(unit)),
                    None => {
                        faults.push(Diagnostic::unknown_id(
                            &unit.place,
                            "unit",
                            &unit.value,
                            crate::quantity::UNITS.iter().map(|u| u.name),
                        ));
                        None
                    }
                })
        };
        if let Some(kind) = kind {
            out.push(Condition {
                id: id.value,
                title,
                kind,
            });
        }
    }
    out.sort_by(|a, b| a.id.cmp(&b.id));
    out
}

fn scale_index(scale: &Placed<String>, settings: &Settings, faults: &mut Faults) -> Option<usize> {
    let found = position(&settings.scales, &scale.value, |s| &s.id);
    if found.is_none() && !settings.broken.contains(&"scales") {
        faults.push(Diagnostic::unknown_id(
            &scale.place,
            "scale",
            &scale.value,
            settings.scales.iter().map(|s| s.id.as_str()),
        ));
    }
    found
}

const TRAIT_KEYS: &[&str] = &[
    "title",
    "scale",
    "kind",
    "measure",
    "edges",
    "floor",
    "spans",
    "depends-on",
];

/// `traits.yaml`.
pub(crate) fn traits(node: Node, settings: &Settings, faults: &mut Faults) -> Vec<Trait> {
    let mut out = Vec::new();
    let Some(fields) = Fields::open_any(node, "traits.yaml", faults) else {
        return out;
    };
    for (id, node) in fields.into_entries() {
        if !is_id(&id.value) {
            faults.push(Diagnostic::bad_id(&id.place, &id.value));
        }
        let Some(mut map) = Fields::open(node, "a trait", TRAIT_KEYS, faults) else {
            continue;
        };
        let title = map
            .string("title", faults)
            .unwrap_or_else(|| id.value.clone());
        let depends_on: Vec<usize> = map
            .texts("depends-on", faults)
            .iter()
            .filter_map(|condition| settings.condition(condition, faults))
            .collect();
        let kind = if map.has("kind") {
            span_trait(&mut map, faults)
        } else {
            scale_trait(&mut map, &id, settings, faults)
        };
        if let Some(kind) = kind {
            out.push(Trait {
                id: id.value,
                title,
                kind,
                depends_on,
            });
        }
    }
    out.sort_by(|a, b| a.id.cmp(&b.id));
    out
}

fn span_trait(map: &mut Fields, faults: &mut Faults) -> Option<TraitKind> {
    map.word("kind", "kind of trait", &[("span", ())], faults)?;
    for key in ["scale", "edges", "floor", "spans"] {
        if map.has(key) {
            let place = map.key_place(key);
            faults.push(Diagnostic::key_not_here(
                &place,
                key,
                "this trait is a span",
            ));
            map.take(key, faults);
        }
    }
    if !map.has("measure") {
        faults.push(Diagnostic::missing_key(
            &map.place,
            "measure",
            "this span trait",
        ));
        return None;
    }
    let place = map.key_place("measure");
    let measure = map.word("measure", "measure", Measure::ALL, faults)?;
    if measure == Measure::RelativeGrowthRate {
        faults.push(Diagnostic::key_not_here(
            &place,
            "measure",
            "growth is graded on a scale, not as a span",
        ));
        return None;
    }
    Some(TraitKind::Span(measure))
}

fn scale_trait(
    map: &mut Fields,
    id: &Placed<String>,
    settings: &Settings,
    faults: &mut Faults,
) -> Option<TraitKind> {
    if !map.has("scale") {
        faults.push(Diagnostic::missing_key(
            &id.place,
            "scale",
            &format!("trait `{}`", id.value),
        ));
        return None;
    }
    let scale_text = map.text("scale", faults)?;
    let scale = scale_index(&scale_text, settings, faults)?;
    let levels = settings.scales[scale].levels.len();
    let is_need = map
        .word("spans", "way to count spans", &[("lowest", true)], faults)
        .unwrap_or(false);
    let measure = map.word("measure", "measure", Measure::ALL, faults);
    let mut unit = None;
    let mut edges = Vec::new();
    let has_edges = map.has("edges");
    let edges_place = map.key_place("edges");
    if let Some(measure) = measure {
        if !has_edges {
            faults.push(Diagnostic::needs_key(
                &map.key_place("measure"),
                "measure",
                "edges",
            ));
            return None;
        }
        let mut is_whole = true;
        for node in map.list("edges", faults) {
            let Some(written) = text(node, "edges", faults) else {
                is_whole = false;
                continue;
            };
            let Some(quantity) = read_quantity(&written, measure.dimensions(), faults) else {
                is_whole = false;
                continue;
            };
            let first = *unit.get_or_insert(quantity.unit);
            if measure == Measure::Hardness && !same_hardness(&first, &quantity.unit) {
                faults.push(Diagnostic::mixed_sizes(
                    &written.place,
                    quantity.unit.dimension.noun(),
                    first.dimension.noun(),
                ));
                is_whole = false;
                continue;
            }
            let edge = if measure == Measure::RelativeGrowthRate {
                if quantity.value <= 0.0 {
                    faults.push(Diagnostic::time_not_positive(
                        &written.place,
                        &written.value,
                    ));
                    is_whole = false;
                    continue;
                }
                std::f64::consts::LN_2 / quantity.base()
            } else {
                own_unit(measure, &first, quantity.value, &quantity.unit)
            };
            if edges.last().is_some_and(|last| edge <= *last) {
                faults.push(Diagnostic::edge_order(
                    &written.place,
                    measure == Measure::RelativeGrowthRate,
                ));
                is_whole = false;
            }
            edges.push(edge);
        }
        if is_whole && edges.len() + 1 != levels {
            faults.push(Diagnostic::edge_count(&edges_place, edges.len(), levels));
            is_whole = false;
        }
        if !is_whole {
            return None;
        }
    } else if has_edges {
        faults.push(Diagnostic::needs_key(&edges_place, "edges", "measure"));
        map.take("edges", faults);
    }
    let floor_place = map.key_place("floor");
    let floor = map.number("floor", faults);
    if let Some(floor) = &floor {
        if measure.is_none() {
            faults.push(Diagnostic::needs_key(&floor_place, "floor", "measure"));
        }
        if floor.value < 0.0 {
            faults.push(Diagnostic::number_range(
                &floor.place,
                "`floor`",
                &floor.value.to_string(),
                "zero or more",
            ));
        }
    }
    Some(TraitKind::Scale(ScaleTrait {
        scale,
        levels,
        measure,
        edges,
        unit,
        floor: floor.map_or(0.0, |floor| floor.value),
        is_need,
    }))
}

/// Whether two units of hardness may stand in one trait: not both general and carbonate.
pub fn same_hardness(first: &Unit, second: &Unit) -> bool {
    first.dimension == second.dimension
        || first.dimension == Dimension::Concentration
        || second.dimension == Dimension::Concentration
}

/// A value in the unit in which the trait's edges are written; temperatures in °C, hardness in
/// degrees.
pub fn own_unit(measure: Measure, edges: &Unit, value: f64, unit: &Unit) -> f64 {
    let in_base = base(value, unit);
    match measure {
        Measure::Temperature | Measure::Hardness | Measure::RelativeGrowthRate => in_base,
        _ => edges.from_base(in_base),
    }
}

/// `forms.yaml`, in written order.
pub(crate) fn forms(node: Node, faults: &mut Faults) -> Vec<Form> {
    let mut out = Vec::new();
    let Some(fields) = Fields::open_any(node, "forms.yaml", faults) else {
        return out;
    };
    for (id, node) in fields.into_entries() {
        if !is_id(&id.value) {
            faults.push(Diagnostic::bad_id(&id.place, &id.value));
        }
        let Some(mut map) = Fields::open(node, "a form", &["title", "plain"], faults) else {
            continue;
        };
        out.push(Form {
            title: map
                .string("title", faults)
                .unwrap_or_else(|| id.value.clone()),
            plain: map.string("plain", faults),
            id: id.value,
        });
    }
    out
}

const ROLE_KEYS: &[&str] = &["title", "asks", "forms", "unsuited", "mainstay", "support"];

/// `roles.yaml`: the clauses of every role, and the roles in written order.
pub(crate) fn roles(
    node: Node,
    settings: &Settings,
    faults: &mut Faults,
) -> (Vec<Clause>, Vec<Role>) {
    let mut every = Vec::new();
    let mut out = Vec::new();
    let Some(fields) = Fields::open_any(node, "roles.yaml", faults) else {
        return (every, out);
    };
    for (id, node) in fields.into_entries() {
        if id.value == "every-role" {
            if let Some(mut map) = Fields::open(node, "every-role", &["unsuited"], faults) {
                every = clauses(&mut map, "unsuited", settings, faults).0;
            }
            continue;
        }
        if !is_id(&id.value) {
            faults.push(Diagnostic::bad_id(&id.place, &id.value));
        }
        let Some(mut map) = Fields::open(node, "a role", ROLE_KEYS, faults) else {
            continue;
        };
        if !map.has("title") {
            faults.push(Diagnostic::missing_key(
                &id.place,
                "title",
                &format!("role `{}`", id.value),
            ));
        }
        let title = map
            .string("title", faults)
            .unwrap_or_else(|| id.value.clone());
        let asks = map.string("asks", faults);
        let forms = map.has("forms").then(|| {
            map.texts("forms", faults)
                .into_iter()
                .filter_map(|form| settings.form(form, faults))
                .collect()
        });
        let (unsuited, _) = clauses(&mut map, "unsuited", settings, faults);
        let (mainstay, written_mainstay) = clauses(&mut map, "mainstay", settings, faults);
        let (support, written_support) = clauses(&mut map, "support", settings, faults);
        if written_mainstay + written_support == 0 {
            faults.push(Diagnostic::empty_role(&id.place, &id.value));
        }
        out.push(Role {
            id: id.value,
            title,
            asks,
            forms,
            unsuited,
            mainstay,
            support,
        });
    }
    (every, out)
}

const BOUNDS: &[&str] = &["at-least", "at-most", "above", "below", "covers", "outside"];
const CLAUSE_KEYS: &[&str] = &[
    "trait", "at-least", "at-most", "above", "below", "covers", "outside", "form", "when",
    "because",
];

/// The clauses of a list, and how many were written, right or wrong.
fn clauses(
    map: &mut Fields,
    key: &str,
    settings: &Settings,
    faults: &mut Faults,
) -> (Vec<Clause>, usize) {
    let nodes = map.list(key, faults);
    let written = nodes.len();
    let clauses = nodes
        .into_iter()
        .filter_map(|node| clause(node, settings, faults))
        .collect();
    (clauses, written)
}

fn clause(node: Node, settings: &Settings, faults: &mut Faults) -> Option<Clause> {
    let mut map = Fields::open(node, "a clause", CLAUSE_KEYS, faults)?;
    let place = map.place.clone();
    let id = map.need_text("trait", faults);
    let given: Vec<&str> = BOUNDS.iter().copied().filter(|key| map.has(key)).collect();
    let bound = if given.len() == 1 {
        map.text(given[0], faults).map(|limit| (given[0], limit))
    } else {
        faults.push(Diagnostic::clause_bounds(&place, given.len(), BOUNDS));
        None
    };
    let because = map.string("because", faults);
    let forms = map.has("form").then(|| {
        map.texts("form", faults)
            .into_iter()
            .filter_map(|form| settings.form(form, faults))
            .collect()
    });
    let when = when(&mut map, settings, faults);
    let trait_index = settings.trait_index(&id?, faults)?;
    let (key, limit) = bound?;
    let bound = read_bound(key, &limit, &settings.traits[trait_index], settings, faults)?;
    Some(Clause {
        trait_index,
        bound,
        forms,
        when,
        because,
        place,
    })
}

fn when(
    map: &mut Fields,
    settings: &Settings,
    faults: &mut Faults,
) -> Vec<(usize, Vec<ConditionValue>)> {
    let mut out = Vec::new();
    let Some(node) = map.take("when", faults) else {
        return out;
    };
    let Some(fields) = Fields::open_any(node, "`when`", faults) else {
        return out;
    };
    for (key, node) in fields.into_entries() {
        let Some(index) = settings.condition(&key, faults) else {
            continue;
        };
        let nodes = match node.data {
            Data::List(items) => items,
            _ => vec![node],
        };
        let condition = &settings.conditions[index];
        let values = nodes
            .into_iter()
            .filter_map(|node| {
                let value = text(node, &key.value, faults)?;
                condition_value(condition, &settings.scales, &value, faults)
            })
            .collect();
        out.push((index, values));
    }
    out
}

fn read_bound(
    key: &str,
    limit: &Placed<String>,
    asked: &Trait,
    settings: &Settings,
    faults: &mut Faults,
) -> Option<Bound> {
    let on_spans = matches!(key, "covers" | "outside");
    let is_span = matches!(asked.kind, TraitKind::Span(_));
    if on_spans != is_span {
        let valid: &[&str] = if is_span { &BOUNDS[4..] } else { &BOUNDS[..4] };
        faults.push(Diagnostic::bound_kind(&limit.place, key, &asked.id, valid));
        return None;
    }
    let condition = limit.value.trim().strip_prefix("water.");
    if let Some(condition) = condition {
        let id = Placed::new(condition.to_owned(), limit.place.clone());
        let index = settings.condition(&id, faults)?;
        let fits = match (&asked.kind, &settings.conditions[index].kind) {
            (TraitKind::Scale(on), ConditionKind::Scale(scale)) => on.scale == *scale,
            (TraitKind::Span(measure), ConditionKind::Span(unit)) => {
                measure.dimensions().contains(&unit.dimension)
            }
            _ => false,
        };
        if !fits {
            faults.push(Diagnostic::off_scale(&limit.place, condition, &asked.id));
            return None;
        }
        return Some(match key {
            "at-least" => Bound::AtLeast(Limit::Water(index)),
            "at-most" => Bound::AtMost(Limit::Water(index)),
            "above" => Bound::Above(Limit::Water(index)),
            "below" => Bound::Below(Limit::Water(index)),
            "covers" => Bound::Covers(index),
            _ => Bound::Outside(index),
        });
    }
    let TraitKind::Scale(on) = &asked.kind else {
        faults.push(Diagnostic::unknown_id(
            &limit.place,
            "condition of the water",
            &limit.value,
            settings
                .conditions
                .iter()
                .map(|c| format!("water.{}", c.id))
                .collect::<Vec<_>>()
                .iter()
                .map(String::as_str),
        ));
        return None;
    };
    let scale = &settings.scales[on.scale];
    let Some(level) = scale.position(&limit.value) else {
        faults.push(Diagnostic::unknown_id(
            &limit.place,
            &format!("level of `{}`", scale.id),
            &limit.value,
            scale.levels.iter().map(|level| level.id.as_str()),
        ));
        return None;
    };
    let level = Limit::Level(level);
    Some(match key {
        "at-least" => Bound::AtLeast(level),
        "at-most" => Bound::AtMost(level),
        "above" => Bound::Above(level),
        _ => Bound::Below(level),
    })
}

/// `regulated.yaml`, in written order.
pub(crate) fn regulated(node: Node, faults: &mut Faults) -> Vec<Listing> {
    let Data::List(items) = node.data else {
        faults.push(Diagnostic::wrong_shape(
            &node.place,
            "a list of listings",
            node.noun(),
        ));
        return Vec::new();
    };
    items
        .into_iter()
        .filter_map(|item| listing(item, faults))
        .collect()
}

fn listing(node: Node, faults: &mut Faults) -> Option<Listing> {
    let keys = &["listed-as", "covers", "place", "instrument", "date", "link"];
    let mut map = Fields::open(node, "a listing", keys, faults)?;
    let at = map.place.clone();
    let listed_as = map.need_text("listed-as", faults);
    let place = map.need_text("place", faults);
    let instrument = map.need_text("instrument", faults);
    let date = map.date("date", faults);
    let link = map
        .text("link", faults)
        .and_then(|link| check_link(link, faults));
    let covers = map.need("covers", faults)?;
    let mut covers = Fields::open(covers, "`covers`", &["genus", "taxon"], faults)?;
    let genus = covers.string("genus", faults);
    let taxon = covers.string("taxon", faults);
    let covers = match (genus, taxon) {
        (Some(genus), None) => Covers::Genus(genus),
        (None, Some(taxon)) => Covers::Taxon(taxon),
        _ => {
            faults.push(Diagnostic::missing_key(
                &covers.place,
                "genus` or `taxon",
                "`covers`",
            ));
            return None;
        }
    };
    Some(Listing {
        listed_as: listed_as?.value,
        covers,
        place: place?.value,
        instrument: instrument?.value,
        date,
        link,
        at,
    })
}

/// A link that may be shown.
pub(crate) fn check_link(link: Placed<String>, faults: &mut Faults) -> Option<String> {
    let folded = link.value.trim().to_ascii_lowercase();
    if ["https://", "http://", "mailto:"]
        .iter()
        .any(|scheme| folded.starts_with(scheme))
        && !link
            .value
            .chars()
            .any(|c| c.is_control() || c == ' ' || c == '"' || c == '<')
    {
        return Some(link.value.trim().to_owned());
    }
    faults.push(Diagnostic::bad_link(&link.place, &link.value));
    None
}

/// One water.
pub(crate) fn water(
    id: &str,
    node: Node,
    settings: &Settings,
    faults: &mut Faults,
) -> Option<Water> {
    let mut map = Fields::open(node, "a water", &["title", "tell-by", "conditions"], faults)?;
    let title = map.need_text("title", faults);
    let tell_by = map
        .texts("tell-by", faults)
        .into_iter()
        .map(|t| t.value)
        .collect();
    let conditions = map.need("conditions", faults);
    let conditions = conditions.map(|node| settings.stated(node, "`conditions`", faults));
    Some(Water {
        id: id.to_owned(),
        title: title?.value,
        tell_by,
        conditions: conditions?,
    })
}

impl Default for Weights {
    /// The numbers of the format's own example. Our choice; the method page says so.
    fn default() -> Weights {
        let kinds = [
            ("study", 1.0),
            ("log", 0.8),
            ("note", 0.5),
            ("label", 0.3),
            ("article", 0.25),
            ("hearsay", 0.1),
        ];
        Weights {
            kinds: kinds
                .iter()
                .map(|(kind, weight)| ((*kind).to_owned(), *weight))
                .collect(),
            second_hand: ["label", "article", "hearsay"].map(str::to_owned).to_vec(),
            second_hand_cap: 1.0,
            further_note: 0.5,
            loose_name: 0.3,
            unstated: 0.7,
            per_step: 0.4,
            mismatch: 0.3,
            measurement_error: 0.25,
            robust: EvidenceRow {
                weight: 2.5,
                voices: 3.0,
            },
            medium: EvidenceRow {
                weight: 1.2,
                voices: 2.0,
            },
            agreement: (0.85, 0.65),
            span_agreement: (0.7, 0.45),
            met: 0.8,
            failed: 0.2,
        }
    }
}

const WEIGHT_KEYS: &[&str] = &[
    "kinds",
    "second-hand",
    "second-hand-cap",
    "further-note",
    "loose-name",
    "unstated",
    "per-step",
    "mismatch",
    "measurement-error",
    "evidence",
    "agreement",
    "span-agreement",
    "decision",
];

/// `weights.yaml`: what is not written keeps its default.
pub(crate) fn weights(node: Node, faults: &mut Faults) -> Weights {
    let mut out = Weights::default();
    let Some(mut map) = Fields::open(node, "weights.yaml", WEIGHT_KEYS, faults) else {
        return out;
    };
    let written_kinds = map.take("kinds", faults);
    if let Some(fields) = written_kinds.and_then(|node| Fields::open_any(node, "`kinds`", faults)) {
        let mut kinds = BTreeMap::new();
        for (kind, node) in fields.into_entries() {
            let weight = text(node, &kind.value, faults).and_then(|text| {
                at_least_zero(&text, &format!("the weight of `{}`", kind.value), faults)
            });
            // A kind with a bad weight is still a kind: what names it is not reported as well.
            kinds.insert(kind.value, weight.unwrap_or(0.0));
        }
        out.kinds = kinds;
        out.second_hand.retain(|kind| out.kinds.contains_key(kind));
    }
    if map.has("second-hand") {
        let mut kinds = Vec::new();
        for kind in map.texts("second-hand", faults) {
            if out.kinds.contains_key(&kind.value) {
                kinds.push(kind.value);
            } else {
                faults.push(Diagnostic::unknown_id(
                    &kind.place,
                    "kind of source",
                    &kind.value,
                    out.kinds.keys().map(String::as_str),
                ));
            }
        }
        out.second_hand = kinds;
    }
    let singles: [(&str, &mut f64); 7] = [
        ("second-hand-cap", &mut out.second_hand_cap),
        ("further-note", &mut out.further_note),
        ("loose-name", &mut out.loose_name),
        ("unstated", &mut out.unstated),
        ("per-step", &mut out.per_step),
        ("mismatch", &mut out.mismatch),
        ("measurement-error", &mut out.measurement_error),
    ];
    for (key, slot) in singles {
        if let Some(text) = map.text(key, faults)
            && let Some(value) = at_least_zero(&text, &format!("`{key}`"), faults)
        {
            *slot = value;
        }
    }
    let evidence = map.take("evidence", faults);
    if let Some(mut rows) =
        evidence.and_then(|node| Fields::open(node, "`evidence`", &["robust", "medium"], faults))
    {
        let place = rows.place.clone();
        for (key, row) in [("robust", &mut out.robust), ("medium", &mut out.medium)] {
            let node = rows.take(key, faults);
            let Some(mut cells) = node
                .and_then(|node| Fields::open(node, "thresholds", &["weight", "voices"], faults))
            else {
                continue;
            };
            for (key, slot) in [("weight", &mut row.weight), ("voices", &mut row.voices)] {
                if let Some(text) = cells.text(key, faults)
                    && let Some(value) = at_least_zero(&text, &format!("`{key}`"), faults)
                {
                    *slot = value;
                }
            }
        }
        if out.medium.weight > out.robust.weight || out.medium.voices > out.robust.voices {
            faults.push(Diagnostic::thresholds_crossed(&place, "medium", "robust"));
        }
    }
    pair(
        &mut map,
        "agreement",
        ["high", "medium"],
        &mut out.agreement,
        faults,
    );
    pair(
        &mut map,
        "span-agreement",
        ["high", "medium"],
        &mut out.span_agreement,
        faults,
    );
    let mut decision = (out.met, out.failed);
    pair(
        &mut map,
        "decision",
        ["met", "failed"],
        &mut decision,
        faults,
    );
    (out.met, out.failed) = decision;
    out
}

/// Two thresholds between 0 and 1, the first the higher.
fn pair(
    map: &mut Fields,
    key: &'static str,
    names: [&'static str; 2],
    slot: &mut (f64, f64),
    faults: &mut Faults,
) {
    let node = map.take(key, faults);
    let Some(mut cells) = node.and_then(|node| Fields::open(node, "thresholds", &names, faults))
    else {
        return;
    };
    let place = cells.place.clone();
    for (name, slot) in names.iter().zip([&mut slot.0, &mut slot.1]) {
        let Some(text) = cells.text(name, faults) else {
            continue;
        };
        let Some(value) = read_number(&text, faults) else {
            continue;
        };
        if !(0.0..=1.0).contains(&value) {
            faults.push(Diagnostic::number_range(
                &text.place,
                &format!("`{name}`"),
                &text.value,
                "between 0 and 1",
            ));
            continue;
        }
        *slot = value;
    }
    if slot.1 > slot.0 {
        faults.push(Diagnostic::thresholds_crossed(&place, names[1], names[0]));
    }
}

fn at_least_zero(text: &Placed<String>, what: &str, faults: &mut Faults) -> Option<f64> {
    let value = read_number(text, faults)?;
    if value < 0.0 {
        faults.push(Diagnostic::number_range(
            &text.place,
            what,
            &text.value,
            "zero or more",
        ));
        return None;
    }
    Some(value)
}
