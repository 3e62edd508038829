//! The schemas and the reader know the same keys; editor comments point at the right schema.

use std::collections::{BTreeMap, BTreeSet};

use pondweigh::content::{Input, read};
use pondweigh::names::names;
use pondweigh::schema::{editor_comment, schema_of, schemas};
use serde_json::Value as Json;

use crate::support::{guide, input_of, project};

/// A key that is like no other.
const STRANGE: &str = "qqqqqqqqqq";

fn schemas_of(input: &Input) -> BTreeMap<String, Json> {
    let (guide, _) = read(input);
    let (names, _) = names(&guide);
    schemas(&guide, &names, input)
        .into_iter()
        .map(|(name, text)| {
            let json = serde_json::from_str(&text).expect("JSON");
            (name, json)
        })
        .collect()
}

fn minimal() -> BTreeMap<String, String> {
    guide("tests/cases/proof/ok-minimal")
        .files
        .into_iter()
        .map(|(path, bytes)| (path, String::from_utf8(bytes).expect("UTF-8")))
        .collect()
}

/// Every kind of map of the format: a file with a strange key in it, and where its schema is.
const MAPS: &[(&str, &str, &str)] = &[
    (
        "content/guide.yaml",
        "title: A\n@",
        "guide.json#/properties",
    ),
    (
        "content/scales.yaml",
        "pace: {levels: [slow, moderate, fast], @}",
        "scales.json#/$defs/explained-scale/properties",
    ),
    (
        "content/conditions.yaml",
        "light: {scale: light, @}",
        "conditions.json#/$defs/condition/properties",
    ),
    (
        "content/traits.yaml",
        "growth: {scale: pace, @}",
        "traits.json#/$defs/trait/properties",
    ),
    (
        "content/forms.yaml",
        "rosette: {@}",
        "forms.json#/$defs/form/properties",
    ),
    (
        "content/roles.yaml",
        "uptake: {title: U, @}",
        "roles.json#/$defs/role/properties",
    ),
    (
        "content/roles.yaml",
        "every-role: {@}",
        "roles.json#/properties/every-role/properties",
    ),
    (
        "content/roles.yaml",
        "uptake: {mainstay: [{trait: growth, at-least: fast, @}]}",
        "roles.json#/$defs/clause/properties",
    ),
    ("content/weights.yaml", "@", "weights.json#/properties"),
    (
        "content/weights.yaml",
        "evidence: {@}",
        "weights.json#/$defs/evidence/properties",
    ),
    (
        "content/weights.yaml",
        "evidence: {medium: {@}}",
        "weights.json#/$defs/evidence-row/properties",
    ),
    (
        "content/weights.yaml",
        "agreement: {@}",
        "weights.json#/$defs/grades/properties",
    ),
    (
        "content/weights.yaml",
        "decision: {@}",
        "weights.json#/$defs/decision/properties",
    ),
    (
        "content/regulated.yaml",
        "- {listed-as: A, @}",
        "regulated.json#/$defs/listing/properties",
    ),
    (
        "content/regulated.yaml",
        "- {covers: {genus: A, @}}",
        "regulated.json#/$defs/covers/properties",
    ),
    (
        "content/waters/still.yaml",
        "title: S\n@",
        "water.json#/properties",
    ),
    (
        "content/sources/log.yaml",
        "title: S\n@",
        "source.json#/properties",
    ),
    (
        "content/sources/log.yaml",
        "authors: [{family: A, @}]",
        "source.json#/$defs/author/properties",
    ),
    (
        "content/sources/log.yaml",
        "claims: [{trait: growth, @}]",
        "source.json#/$defs/claim/properties",
    ),
    (
        "content/plants/vallisneria/genus.yaml",
        "loose-name: V\n@",
        "genus.json#/properties",
    ),
    (
        "content/plants/vallisneria/genus.yaml",
        "loose: [{name: V, @}]",
        "genus.json#/$defs/loose-name/properties",
    ),
    (
        "content/plants/vallisneria/genus.yaml",
        "claims: [{trait: growth, @}]",
        "genus.json#/$defs/claim/properties",
    ),
    (
        "content/plants/vallisneria/spiralis.yaml",
        "name: V\n@",
        "plant.json#/properties",
    ),
    (
        "content/plants/vallisneria/spiralis.yaml",
        "determined: {by: A, @}",
        "plant.json#/$defs/determined/properties",
    ),
    (
        "content/plants/vallisneria/spiralis.yaml",
        "pictures: [{file: A, @}]",
        "plant.json#/$defs/picture/properties",
    ),
    (
        "content/plants/vallisneria/spiralis.yaml",
        "cautions: [{kind: hazard, @}]",
        "plant.json#/$defs/caution/properties",
    ),
    (
        "content/plants/vallisneria/spiralis.yaml",
        "claims: [{trait: growth, @}]",
        "plant.json#/$defs/claim/properties",
    ),
    (
        "content/plants/vallisneria/spiralis.yaml",
        "claims: [{trait: growth, grew: {over: 2 d, @}}]",
        "plant.json#/$defs/grew/properties",
    ),
    (
        "content/plants/vallisneria/spiralis.yaml",
        "claims: [{trait: growth, trimmed: {every: 2 d, @}}]",
        "plant.json#/$defs/trimmed/properties",
    ),
    (
        "content/gone/old.yaml",
        "name: A\n@",
        "gone.json#/properties",
    ),
    (
        "content/rosters/hall.yaml",
        "title: A\n@",
        "roster.json#/properties",
    ),
    (
        "content/rosters/hall.yaml",
        "feeds: {amount: 1 g, @}",
        "roster.json#/$defs/feeds/properties",
    ),
    (
        "content/rosters/hall.yaml",
        "plants: [{plant: A, @}]",
        "roster.json#/$defs/roster-plant/properties",
    ),
];

/// The keys that the reader says it knows where the strange one stands.
fn keys_of_reader(path: &str, text: &str) -> BTreeSet<String> {
    let mut files = minimal();
    let text = text.replace('@', &format!("{STRANGE}: x"));
    files.insert(path.to_owned(), format!("{text}\n"));
    let (_, faults) = read(&input_of(&files));
    let fault = faults
        .iter()
        .find(|fault| fault.title.contains(STRANGE))
        .unwrap_or_else(|| panic!("{path}: {text}: the strange key is taken: {faults:#?}"));
    assert_eq!(fault.rule, "unknown-key");
    let hint = fault.hint.as_deref().expect("a hint");
    assert!(
        !hint.contains(" more"),
        "the hint does not list all: {hint}"
    );
    let (_, listed) = hint.split_once(" may have ").expect("a list");
    listed
        .split(", ")
        .map(|key| key.trim_matches('`').to_owned())
        .collect()
}

#[test]
fn schemas_and_reader_know_the_same_keys() {
    let all = schemas_of(&input_of(&minimal()));
    let mut wrong = Vec::new();
    let mut seen = BTreeSet::new();
    for (path, text, place) in MAPS {
        let (file, pointer) = place.split_once('#').expect("a place");
        let properties = all[file]
            .pointer(pointer)
            .unwrap_or_else(|| panic!("no {place}"));
        let in_schema: BTreeSet<String> = properties
            .as_object()
            .expect("a map")
            .keys()
            .cloned()
            .collect();
        let in_reader = keys_of_reader(path, text);
        if in_schema != in_reader {
            wrong.push(format!(
                "{place}: schema {in_schema:?}, reader {in_reader:?}"
            ));
        }
        seen.insert((file, pointer));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // Every closed map of the schemas is looked at; those with the guide's own keys are not closed
    // by the format.
    let own = ["stated", "when", "vocabulary"];
    for (file, schema) in &all {
        let mut maps = vec![("/properties".to_owned(), schema)];
        for (name, map) in schema["$defs"].as_object().into_iter().flatten() {
            if !own.contains(&name.as_str()) {
                maps.push((format!("/$defs/{name}/properties"), map));
            }
        }
        for (pointer, map) in maps {
            let is_closed = map["additionalProperties"] == Json::Bool(false);
            let is_known = MAPS.iter().any(|(_, _, place)| place.ends_with(&pointer));
            assert!(
                !is_closed || is_known,
                "{file}{pointer} is not in the list of this test"
            );
        }
    }
}

#[test]
fn required_keys_are_those_of_the_reader() {
    let all = schemas_of(&input_of(&minimal()));
    for (file, pointer, expected) in [
        (
            "guide.json",
            "/required",
            "address default-water licence publisher title",
        ),
        ("source.json", "/required", "kind title"),
        ("plant.json", "/required", "form name"),
        ("genus.json", "/required", "loose-name"),
        ("water.json", "/required", "conditions title"),
        ("plant.json", "/$defs/claim/required", "source trait"),
        ("source.json", "/$defs/claim/required", "plant trait"),
        ("plant.json", "/$defs/picture/required", "alt file"),
        ("plant.json", "/$defs/caution/required", "kind text"),
        (
            "regulated.json",
            "/$defs/listing/required",
            "covers instrument listed-as place",
        ),
    ] {
        let mut found: Vec<&str> = all[file]
            .pointer(pointer)
            .and_then(Json::as_array)
            .unwrap_or_else(|| panic!("{file}{pointer}"))
            .iter()
            .filter_map(Json::as_str)
            .collect();
        found.sort_unstable();
        assert_eq!(found.join(" "), expected, "{file}{pointer}");
    }
}

#[test]
fn every_key_is_described_and_the_guides_words_are_offered() {
    let all = schemas_of(&guide(""));
    for (file, schema) in &all {
        assert!(
            schema["title"].is_string() && schema["description"].is_string(),
            "{file}"
        );
        let mut maps = vec![schema];
        maps.extend(
            schema["$defs"]
                .as_object()
                .into_iter()
                .flatten()
                .map(|(_, map)| map),
        );
        for map in maps {
            for (key, value) in map["properties"].as_object().into_iter().flatten() {
                let said = value["description"].as_str().unwrap_or_default();
                assert!(
                    said.ends_with('.'),
                    "{file}: `{key}` is described as {said:?}"
                );
            }
        }
        let text = schema.to_string();
        assert!(
            !text.contains("\"null\""),
            "{file}: nothing may be written as nothing"
        );
    }
    let words = |file: &str, pointer: &str| all[file].pointer(pointer).expect(pointer).to_string();
    assert!(words("plant.json", "/$defs/source-id/enum").contains("\"mill-window-log\""));
    assert!(words("plant.json", "/$defs/trait-id/enum").contains("\"light-need\""));
    assert!(words("roster.json", "/$defs/role-id/enum").contains("\"surface-shade\""));
    assert!(words("source.json", "/$defs/plant-name").contains("Bolbitis heudelotii"));
    assert!(words("plant.json", "/$defs/claim/allOf").contains("\"very-slow\""));
    assert!(words("plant.json", "/$defs/claim/allOf").contains("\"like a weed\""));
}

#[test]
fn an_editor_comment_leads_to_the_schema_of_its_file() {
    for (path, expected) in [
        ("content/guide.yaml", ".schemas/guide.json"),
        ("content/sources/a-log.yaml", "../.schemas/source.json"),
        (
            "content/plants/riccia/fluitans.yaml",
            "../../.schemas/plant.json",
        ),
        (
            "content/plants/riccia/genus.yaml",
            "../../.schemas/genus.json",
        ),
    ] {
        let comment = editor_comment(path).expect(path);
        assert_eq!(
            comment,
            format!("# yaml-language-server: $schema={expected}")
        );
        let schema = project("content").join(expected.trim_start_matches("../"));
        assert_eq!(schema.file_stem().and_then(|s| s.to_str()), schema_of(path));
    }
    assert_eq!(editor_comment("content/pages/about.md"), None);
    assert_eq!(editor_comment("content/README.md"), None);
}

#[test]
fn every_file_of_the_demo_carries_its_editor_comment() {
    let demo = guide("");
    let mut n_files = 0;
    for (path, bytes) in &demo.files {
        let Some(comment) = editor_comment(path) else {
            continue;
        };
        let text = std::str::from_utf8(bytes).expect("UTF-8");
        assert_eq!(text.lines().next(), Some(comment.as_str()), "{path}");
        n_files += 1;
    }
    assert!(n_files > 100, "{n_files}");
}
