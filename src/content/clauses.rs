//! Roles and what they ask: `roles.yaml`.

use crate::content::fields::{Faults, Fields, is_id, text};
use crate::content::settings::{Settings, condition_value};
use crate::content::yaml::{Data, Node};
use crate::content::{Bound, Clause, ConditionKind, ConditionValue, Limit, Role, Trait, TraitKind};
use crate::diagnostic::{Diagnostic, Placed};

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
