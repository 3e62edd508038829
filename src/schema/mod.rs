//! JSON Schemas (draft 2020-12) of the content files of a guide, for editors.
//!
//! The shapes are types with a comment on every key; the guide's own words stand in them as
//! completions. What only the reader can see (another file, a sum, an order) is not in them.

mod patterns;

mod shapes;

mod words;

mod rules;

use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde_json::{Map, Value as Json, json};

use crate::content::{Guide, Input};
use crate::names::Names;
use crate::schema::words::Definitions;

/// The folder of the schemas, below the guide's folder.
pub const FOLDER: &str = "content/.schemas";

/// The comment that ties a content file to its schema, as editors with a YAML language server read
/// it; `None` for a file that has no schema. `path` is relative to the guide's folder.
pub fn editor_comment(path: &str) -> Option<String> {
    let schema = schema_of(path)?;
    let depth = path.matches('/').count().checked_sub(1)?;
    let up = "../".repeat(depth);
    Some(format!(
        "# yaml-language-server: $schema={up}.schemas/{schema}.json"
    ))
}

/// The schema of a content file, by its path in the guide.
pub fn schema_of(path: &str) -> Option<&'static str> {
    let parts: Vec<&str> = path.strip_prefix("content/")?.split('/').collect();
    let is_data = path.ends_with(".yaml");
    match parts[..] {
        ["guide.yaml"] => Some("guide"),
        ["scales.yaml"] => Some("scales"),
        ["conditions.yaml"] => Some("conditions"),
        ["traits.yaml"] => Some("traits"),
        ["forms.yaml"] => Some("forms"),
        ["roles.yaml"] => Some("roles"),
        ["weights.yaml"] => Some("weights"),
        ["regulated.yaml"] => Some("regulated"),
        ["waters", _] if is_data => Some("water"),
        ["sources", _] if is_data => Some("source"),
        ["gone", _] if is_data => Some("gone"),
        ["rosters", _] if is_data => Some("roster"),
        ["plants", _, "genus.yaml"] => Some("genus"),
        ["plants", _, _] if is_data => Some("plant"),
        _ => None,
    }
}

/// Every schema of a guide as (file name, text), sorted. A guide with faults has them too: what
/// can be read of it gives the words.
pub fn schemas(guide: &Guide, names: &Names, input: &Input) -> Vec<(String, String)> {
    let words = words::definitions(guide, names, input);
    let rules = rules::rules(guide);
    let of = |name: &str, root: Json| {
        let finished = finished(name, root, &words, &rules);
        (format!("{name}.json"), format!("{finished:#}\n"))
    };
    let mut out = vec![
        of("conditions", derived::<shapes::Conditions>()),
        of("forms", derived::<shapes::Forms>()),
        of("genus", derived::<shapes::Genus>()),
        of("gone", derived::<shapes::Gone>()),
        of("guide", derived::<shapes::Guide>()),
        of("plant", derived::<shapes::Plant>()),
        of("regulated", derived::<shapes::Regulated>()),
        of("roles", derived::<shapes::Roles>()),
        of("roster", derived::<shapes::Roster>()),
        of("scales", derived::<shapes::Scales>()),
        of("source", derived::<shapes::Source>()),
        of("traits", derived::<shapes::Traits>()),
        of("water", derived::<shapes::Water>()),
        of("weights", derived::<shapes::Weights>()),
    ];
    out.sort();
    out
}

fn derived<T: JsonSchema>() -> Json {
    let generator = SchemaSettings::draft2020_12().into_generator();
    generator.into_root_schema_for::<T>().to_value()
}

/// A derived schema with the guide's words and the rules that the shapes lack.
fn finished(name: &str, mut root: Json, words: &Definitions, rules: &Definitions) -> Json {
    if name == "roles" {
        add_every_role(&mut root);
    }
    without_null(&mut root);
    if let Some(definitions) = root.get_mut("$defs").and_then(Json::as_object_mut) {
        for (id, definition) in definitions.iter_mut() {
            if let Some(word) = words.get(id) {
                let description = definition["description"].take();
                *definition = word.clone();
                definition["description"] = description;
            }
            if id == "claim" {
                at_home(definition, name == "source");
            }
            if let (Some(rule), Some(definition)) = (rules.get(id), definition.as_object_mut()) {
                lay_over(definition, rule);
            }
        }
        if definitions.contains_key("reading") {
            let quantity = words.get("quantity").cloned().unwrap_or_default();
            definitions.entry("quantity").or_insert(quantity);
        }
    }
    if let Some(root) = root.as_object_mut() {
        rules::ids_as_keys(root);
    }
    root
}

fn lay_over(definition: &mut Map<String, Json>, rule: &Json) {
    let Some(rule) = rule.as_object() else {
        return;
    };
    for (key, value) in rule {
        definition.insert(key.clone(), value.clone());
    }
}

/// A claim names its plant in a source's file, and its source elsewhere.
fn at_home(claim: &mut Json, is_in_source: bool) {
    let (here, not_here) = if is_in_source {
        ("plant", "source")
    } else {
        ("source", "plant")
    };
    if let Some(properties) = claim["properties"].as_object_mut() {
        properties.remove(not_here);
    }
    if let Some(required) = claim["required"].as_array_mut() {
        required.push(json!(here));
    }
}

/// `every-role` stands beside the roles, with keys of its own.
fn add_every_role(root: &mut Json) {
    let every = derived::<shapes::EveryRole>();
    let mut own = every.clone();
    for key in ["$schema", "$defs", "title"] {
        if let Some(own) = own.as_object_mut() {
            own.remove(key);
        }
    }
    if let (Some(all), Some(more)) = (root["$defs"].as_object_mut(), every["$defs"].as_object()) {
        all.extend(more.clone());
    }
    root["properties"] = json!({ "every-role": own });
    root["propertyNames"] = json!({ "pattern": patterns::ID });
}

/// A key that may be left out may not be written as nothing.
fn without_null(schema: &mut Json) {
    match schema {
        Json::Array(items) => items.iter_mut().for_each(without_null),
        Json::Object(map) => {
            map.values_mut().for_each(without_null);
            if let Some(Json::Array(types)) = map.get_mut("type") {
                types.retain(|of| of != "null");
                if let [one] = &types[..] {
                    let one = one.clone();
                    map.insert("type".to_owned(), one);
                }
            }
            if let Some(Json::Array(choices)) = map.get_mut("anyOf") {
                choices.retain(|choice| *choice != json!({ "type": "null" }));
                if let [Json::Object(one)] = &choices[..] {
                    let one = one.clone();
                    map.remove("anyOf");
                    for (key, value) in one {
                        map.entry(key).or_insert(value);
                    }
                }
            }
        }
        _ => {}
    }
}
