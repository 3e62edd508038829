//! This guide's own words and the format's values, as definitions that stand in for the scalars
//! of the shapes.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value as Json, json};

use crate::content::{ConditionKind, Guide, Input, TraitKind};
use crate::names::Names;
use crate::pages::is_picture;
use crate::quantity::{Dimension, UNITS};
use crate::schema::patterns::{
    ADDRESS, ID, LINK, above_zero, closed_span, date, day, number_text, offered, one_of,
    one_of_folded, period, quantity, span, text, weight_text, word_or_span,
};

/// What a size may be written in.
pub(crate) const SIZES: &[Dimension] = &[
    Dimension::Length,
    Dimension::Mass,
    Dimension::Area,
    Dimension::Percent,
    Dimension::Count,
];

/// Definitions by name.
pub(crate) type Definitions = BTreeMap<String, Json>;

fn matching(pattern: String) -> Json {
    json!({ "type": "string", "pattern": pattern })
}

/// A number in digits, or the same in quotes.
fn number(limits: Json, quoted: String) -> Json {
    let mut plain = limits;
    plain["type"] = json!("number");
    // YAML has a word for what is no finite number.
    for (key, most) in [("minimum", -1e300), ("maximum", 1e300)] {
        if plain.get(key).is_none() {
            plain[key] = json!(most);
        }
    }
    json!({ "anyOf": [plain, matching(quoted)] })
}

/// A text that a plain whole number may stand for, such as a year.
fn dated(pattern: String) -> Json {
    let year = json!({ "type": "integer", "minimum": 1000, "maximum": 9999 });
    json!({ "anyOf": [matching(pattern), year] })
}

/// Definitions of every scalar of the shapes.
pub(crate) fn definitions(guide: &Guide, names: &Names, input: &Input) -> Definitions {
    let ids =
        |ids: &mut dyn Iterator<Item = &str>| -> Vec<String> { ids.map(str::to_owned).collect() };
    let sources = ids(&mut guide.sources.iter().map(|source| source.id.as_str()));
    let traits = ids(&mut guide.traits.iter().map(|of| of.id.as_str()));
    let plants = ids(&mut names.plants.iter().map(|plant| plant.name.as_str()));
    let slugs = ids(&mut names.plants.iter().map(|plant| plant.slug.as_str()));
    let kinds = ids(&mut guide.weights.kinds.keys().map(String::as_str));
    let places: BTreeSet<String> = guide
        .regulated
        .iter()
        .map(|row| row.place.clone())
        .collect();
    let places: Vec<String> = places.into_iter().collect();
    let pictures: Vec<String> = guide
        .pictures
        .iter()
        .filter(|path| input.bytes(path).is_some_and(is_picture))
        .filter_map(|path| Some(path.strip_prefix("content/pictures/")?.to_owned()))
        .collect();
    let waters: Vec<String> = ids(&mut guide.waters.iter().map(|water| water.id.as_str()));
    let water_spans: Vec<String> = guide
        .conditions
        .iter()
        .filter(|condition| matches!(condition.kind, ConditionKind::Span(_)))
        .map(|condition| format!("water.{}", condition.id))
        .collect();
    let units = ids(&mut UNITS.iter().map(|unit| unit.name));
    let sizes = |more: &[Dimension]| [SIZES, more].concat();
    let above = json!({ "minimum": 0 });
    let share = json!({ "minimum": 0, "maximum": 1 });
    let inside = json!({ "exclusiveMinimum": 0, "exclusiveMaximum": 1 });
    let all = [
        ("text", text()),
        ("number", number(json!({}), number_text())),
        ("weight", number(above, weight_text())),
        ("threshold", number(share, weight_text())),
        ("leaving", number(inside, weight_text())),
        ("day", matching(day())),
        ("date", dated(date())),
        ("period", dated(period())),
        ("address", matching(ADDRESS.to_owned())),
        ("link", matching(LINK.to_owned())),
        ("slug", matching(ID.to_owned())),
        ("plant-slug", one_of(&slugs)),
        ("plant-name", offered(&plants)),
        ("used-name", offered(&used_names(guide, names))),
        ("genus-name", offered(&names.genera)),
        ("source-id", one_of(&sources)),
        ("voice-id", offered(&voices(guide))),
        ("source-kind", one_of(&kinds)),
        ("trait-id", one_of(&traits)),
        (
            "scale-id",
            one_of(&ids(&mut guide.scales.iter().map(|of| of.id.as_str()))),
        ),
        (
            "condition-id",
            one_of(&ids(&mut guide.conditions.iter().map(|of| of.id.as_str()))),
        ),
        (
            "form-id",
            one_of(&ids(&mut guide.forms.iter().map(|of| of.id.as_str()))),
        ),
        (
            "role-id",
            one_of(&ids(&mut guide.roles.iter().map(|of| of.id.as_str()))),
        ),
        ("water-id", one_of(&waters)),
        ("theme-id", one_of(&themes(input))),
        ("place-name", offered(&places)),
        ("picture-file", one_of(&pictures)),
        ("level-name", level_name()),
        ("unit-name", one_of(&units)),
        ("quantity", matching(quantity(&[]))),
        ("size", matching(above_zero(SIZES))),
        ("duration", matching(above_zero(&[Dimension::Time]))),
        ("volume", matching(quantity(&[Dimension::Volume]))),
        ("mass", matching(quantity(&[Dimension::Mass]))),
        ("share", matching(quantity(&[Dimension::Percent]))),
        ("amount", matching(quantity(&sizes(&[Dimension::Volume])))),
        (
            "each",
            matching(span(&[
                Dimension::Mass,
                Dimension::Length,
                Dimension::Count,
                Dimension::Area,
            ])),
        ),
        ("measured", matching(span(&[]))),
        (
            "series-day",
            json!({ "anyOf": [matching(day()), number(json!({}), number_text())] }),
        ),
        ("limit", text()),
        ("water-span", one_of(&water_spans)),
        ("stated", stated(guide, false)),
        ("when", stated(guide, true)),
        ("vocabulary", vocabulary(guide)),
    ];
    all.map(|(name, json)| (name.to_owned(), json)).into()
}

/// Loose names first, then all others that a source may have used.
fn used_names(guide: &Guide, names: &Names) -> Vec<String> {
    let mut out = Vec::new();
    for genus in &guide.genera {
        let rows = genus.loose.iter().map(|row| &row.name);
        out.extend(
            genus
                .loose_name
                .iter()
                .chain(&genus.also)
                .chain(rows)
                .map(|n| &n.value),
        );
    }
    for plant in &names.plants {
        let entry = &guide.plants[plant.entry];
        let others = entry.all_names().skip(1);
        out.extend(others.map(|name| &name.value));
    }
    let mut seen = BTreeSet::new();
    out.retain(|name| seen.insert(*name));
    out.into_iter().cloned().collect()
}

fn voices(guide: &Guide) -> Vec<String> {
    let own = guide.sources.iter().map(|source| &source.id);
    let shared = guide
        .sources
        .iter()
        .filter_map(|source| source.voice.as_ref());
    let all: BTreeSet<&String> = own.chain(shared).collect();
    all.into_iter().cloned().collect()
}

fn themes(input: &Input) -> Vec<String> {
    let built_in = crate::pages::BUILT_IN_THEME;
    let mut all: BTreeSet<&str> = BTreeSet::from([built_in]);
    for (path, _) in &input.files {
        let folder = path
            .strip_prefix("themes/")
            .and_then(|rest| rest.split_once('/'));
        all.extend(folder.map(|(name, _)| name));
    }
    all.into_iter().map(str::to_owned).collect()
}

fn level_name() -> Json {
    let mut out = text();
    out["not"] = json!({ "type": "string", "pattern": r"\.\." });
    out
}

/// Levels of a scale by its place.
pub(crate) fn levels(guide: &Guide, scale: usize) -> Vec<String> {
    let levels = guide.scales[scale].levels.iter();
    levels.map(|level| level.id.clone()).collect()
}

/// Words that a claim on a trait may use: the levels, then the words of any source.
pub(crate) fn words_of(guide: &Guide, trait_index: usize, scale: usize) -> Vec<String> {
    let mut out = levels(guide, scale);
    let of_sources: BTreeSet<&String> = guide
        .sources
        .iter()
        .filter_map(|source| source.vocabulary.get(&trait_index))
        .flat_map(BTreeMap::keys)
        .collect();
    let others: Vec<String> = of_sources
        .into_iter()
        .filter(|word| !out.iter().any(|level| level.to_lowercase() == **word))
        .cloned()
        .collect();
    out.extend(others);
    out
}

/// What a condition's value in a trait's or claim's `where` may be.
fn condition_value(guide: &Guide, kind: &ConditionKind) -> Json {
    match kind {
        ConditionKind::Scale(scale) => one_of_folded(&levels(guide, *scale)),
        ConditionKind::Words(words) => one_of_folded(words),
        ConditionKind::Span(unit) => {
            let is_hardness = matches!(
                unit.dimension,
                Dimension::GeneralHardness | Dimension::CarbonateHardness
            );
            let more = if is_hardness {
                Dimension::Concentration
            } else {
                unit.dimension
            };
            matching(closed_span(&[unit.dimension, more]))
        }
    }
}

/// Conditions with their values; each may have several values where `several`.
fn stated(guide: &Guide, several: bool) -> Json {
    let mut properties = Map::new();
    for condition in &guide.conditions {
        let mut value = condition_value(guide, &condition.kind);
        if several {
            value = json!({ "anyOf": [value, { "type": "array", "items": value }] });
        }
        value["description"] = json!(format!("{}.", condition.title));
        properties.insert(condition.id.clone(), value);
    }
    json!({ "type": "object", "properties": properties, "additionalProperties": false })
}

fn vocabulary(guide: &Guide) -> Json {
    let mut properties = Map::new();
    for of in &guide.traits {
        if let TraitKind::Scale(on) = &of.kind {
            let meant = word_or_span(&levels(guide, on.scale));
            let words = json!({
                "type": "object",
                "additionalProperties": meant,
                "description": format!("This source's words for {}.", of.title.to_lowercase()),
            });
            properties.insert(of.id.clone(), words);
        }
    }
    json!({ "type": "object", "properties": properties, "additionalProperties": false })
}
