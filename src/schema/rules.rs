//! What a shape alone cannot say: which keys go together, and what a trait's claims and clauses
//! may hold. Each is a set of keywords laid over a definition.

use serde_json::{Map, Value as Json, json};

use crate::content::{ConditionKind, Guide, Measure, Trait, TraitKind, VALUES};
use crate::quantity::Dimension;
use crate::schema::patterns::{
    ID, above_zero, closed_span, one_of, one_of_folded, quantity, sizes_of_one_kind, span,
    word_or_span,
};
use crate::schema::words::{Definitions, SIZES, levels, words_of};

const BOUNDS: [&str; 6] = ["at-least", "at-most", "above", "below", "covers", "outside"];

fn needs(key: &str) -> Json {
    json!({ "required": [key] })
}

fn has_none_of(keys: &[&str]) -> Json {
    let each: Vec<Json> = keys.iter().map(|key| needs(key)).collect();
    json!({ "not": { "anyOf": each } })
}

fn exactly_one_of(keys: &[&str]) -> Json {
    keys.iter().map(|key| needs(key)).collect()
}

/// `then`, where a key has a value.
fn where_is(key: &str, value: &str, then: Json) -> Json {
    json!({
        "if": { "properties": { key: { "const": value } }, "required": [key] },
        "then": then,
    })
}

/// `then`, where a key is there.
fn where_has(key: &str, then: Json) -> Json {
    json!({ "if": needs(key), "then": then })
}

fn matching(pattern: String) -> Json {
    json!({ "pattern": pattern })
}

/// Keywords to lay over definitions, by their names.
pub(crate) fn rules(guide: &Guide) -> Definitions {
    let all = [
        ("claim", claim(guide)),
        ("clause", clause(guide)),
        ("trait", of_trait(guide)),
        (
            "condition",
            json!({ "oneOf": exactly_one_of(&["scale", "words", "span"]) }),
        ),
        (
            "covers",
            json!({ "oneOf": exactly_one_of(&["genus", "taxon"]) }),
        ),
        ("grew", grew()),
        ("role", role()),
        (
            "reading",
            json!({ "additionalProperties": { "$ref": "#/$defs/quantity" } }),
        ),
    ];
    all.map(|(name, json)| (name.to_owned(), json)).into()
}

fn role() -> Json {
    let has = |list: &str| json!({ "required": [list], "properties": { list: { "minItems": 1 } } });
    json!({ "anyOf": [has("mainstay"), has("support")] })
}

/// Both sizes of one kind.
fn grew() -> Json {
    let each = sizes_of_one_kind(SIZES).into_iter().map(
        |size| json!({ "properties": { "from": { "pattern": size }, "to": { "pattern": size } } }),
    );
    json!({ "anyOf": each.collect::<Vec<Json>>() })
}

/// All sizes of one kind, and all days dates or all of them numbers.
fn series() -> Json {
    let points = |of: usize, value: Json| {
        let point: Vec<Json> = (0..2)
            .map(|at| if at == of { value.clone() } else { json!(true) })
            .collect();
        json!({ "properties": { "series": { "items": { "prefixItems": point } } } })
    };
    let sizes: Vec<Json> = sizes_of_one_kind(SIZES)
        .into_iter()
        .map(|size| points(1, json!({ "pattern": size })))
        .collect();
    let dates = json!({ "type": "string", "pattern": "[0-9]-" });
    json!({ "allOf": [
        { "anyOf": sizes },
        { "anyOf": [points(0, dates.clone()), points(0, json!({ "not": dates }))] },
    ] })
}

/// Maps whose keys are ids of the guide's own.
pub(crate) fn ids_as_keys(root: &mut Map<String, Json>) {
    if root.get("type") == Some(&json!("object")) && !root.contains_key("properties") {
        root.insert("propertyNames".to_owned(), json!({ "pattern": ID }));
    }
}

fn claim(guide: &Guide) -> Json {
    let is_range =
        json!({ "properties": { "measures": { "pattern": r"\.\." } }, "required": ["measures"] });
    let single = json!({ "properties": { "measures": { "not": { "pattern": r"\.\." } } }, "required": ["measures"] });
    let mut all = vec![
        where_has("says", has_none_of(&["bound"])),
        json!({ "if": is_range, "then": has_none_of(&["bound"]) }),
        where_has("series", series()),
        where_has("se", json!({ "anyOf": [needs("rgr"), single] })),
        where_has(
            "of",
            json!({ "anyOf": [needs("rgr"), needs("doubles-in"), needs("trimmed")] }),
        ),
    ];
    for (index, of) in guide.traits.iter().enumerate() {
        all.push(where_is("trait", &of.id, claims_on(guide, index, of)));
    }
    json!({ "oneOf": exactly_one_of(&VALUES), "allOf": all })
}

/// What claims on a trait may hold.
fn claims_on(guide: &Guide, index: usize, of: &Trait) -> Json {
    match &of.kind {
        TraitKind::Span(measure) => {
            let measures = matching(closed_span(measure.dimensions()));
            json!({
                "required": ["measures"],
                "not": needs("bound"),
                "properties": { "measures": measures },
            })
        }
        TraitKind::Scale(on) => {
            let mut valid = vec!["says"];
            let mut properties = Map::new();
            let words = words_of(guide, index, on.scale);
            properties.insert("says".to_owned(), word_or_span(&words));
            match on.measure {
                None => {}
                Some(Measure::RelativeGrowthRate) => valid.extend(&VALUES[1..6]),
                Some(measure) => {
                    valid.push("measures");
                    properties.insert("measures".to_owned(), matching(span(measure.dimensions())));
                }
            }
            let form: Vec<Json> = valid.iter().map(|key| needs(key)).collect();
            json!({ "anyOf": form, "properties": properties })
        }
    }
}

fn clause(guide: &Guide) -> Json {
    let on_traits: Vec<Json> = guide
        .traits
        .iter()
        .map(|of| where_is("trait", &of.id, clauses_on(guide, of)))
        .collect();
    let mut out = json!({ "oneOf": exactly_one_of(&BOUNDS) });
    if !on_traits.is_empty() {
        out["allOf"] = json!(on_traits);
    }
    out
}

/// What clauses on a trait may ask.
fn clauses_on(guide: &Guide, of: &Trait) -> Json {
    let fits = |kind: &ConditionKind| match (&of.kind, kind) {
        (TraitKind::Scale(on), ConditionKind::Scale(scale)) => on.scale == *scale,
        (TraitKind::Span(measure), ConditionKind::Span(unit)) => {
            measure.dimensions().contains(&unit.dimension)
        }
        _ => false,
    };
    let of_water: Vec<String> = guide
        .conditions
        .iter()
        .filter(|condition| fits(&condition.kind))
        .map(|condition| format!("water.{}", condition.id))
        .collect();
    let (valid, other, limit) = match &of.kind {
        TraitKind::Scale(on) => {
            let mut limit = one_of_folded(&levels(guide, on.scale));
            if !of_water.is_empty() {
                limit = json!({ "anyOf": [limit, one_of(&of_water)] });
            }
            (&BOUNDS[..4], &BOUNDS[4..], limit)
        }
        TraitKind::Span(_) => (&BOUNDS[4..], &BOUNDS[..4], one_of(&of_water)),
    };
    let properties: Map<String, Json> = valid
        .iter()
        .map(|key| ((*key).to_owned(), limit.clone()))
        .collect();
    let mut out = has_none_of(other);
    out["properties"] = Json::Object(properties);
    out
}

fn of_trait(guide: &Guide) -> Json {
    let mut all = vec![json!({
        "if": needs("kind"),
        "then": {
            "required": ["measure"],
            "not": { "anyOf": [needs("scale"), needs("edges"), needs("floor"), needs("spans")] },
            "properties": { "measure": { "not": { "const": Measure::RelativeGrowthRate.id() } } },
        },
        "else": {
            "required": ["scale"],
            "dependentRequired": { "measure": ["edges"], "edges": ["measure"], "floor": ["measure"] },
        },
    })];
    for (id, measure) in Measure::ALL {
        let edge = match measure {
            Measure::RelativeGrowthRate => above_zero(&[Dimension::Time]),
            other => quantity(other.dimensions()),
        };
        let edges = json!({ "properties": { "edges": { "items": matching(edge) } } });
        all.push(where_is("measure", id, edges));
    }
    for scale in &guide.scales {
        let between = scale.levels.len().saturating_sub(1);
        let edges =
            json!({ "properties": { "edges": { "minItems": between, "maxItems": between } } });
        all.push(where_is("scale", &scale.id, edges));
    }
    json!({ "allOf": all })
}
