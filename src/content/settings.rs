//! The guide's settings: scales, conditions, traits, forms, roles, weights, legal lists, waters.

use std::collections::BTreeMap;

use crate::content::fields::{Faults, Fields, is_id, read_quantity, read_span, text};
use crate::content::yaml::{Data, Node};
use crate::content::{
    Condition, ConditionKind, ConditionValue, Form, Level, Measure, Scale, ScaleTrait, Trait,
    TraitKind, Water, position,
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
