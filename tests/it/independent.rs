//! Single values worked by another route, in `tests/reference/worked.yaml`: statistics packages,
//! or by hand with the working shown.

use std::collections::BTreeMap;

use pondweigh::build;
use serde_json::Value;

use crate::support::{guide, text};

/// One line of the file: a YAML map after `- `.
fn rows() -> Vec<Value> {
    text("tests/reference/worked.yaml")
        .lines()
        .filter_map(|line| line.strip_prefix("- "))
        .map(|line| serde_yaml::from_str(line).unwrap_or_else(|error| panic!("{error}: {line}")))
        .collect()
}

/// The value at a path such as `traits.growth.claims[2].mass[0]`.
fn at<'a>(json: &'a Value, path: &str) -> Option<&'a Value> {
    let mut value = json;
    for part in path
        .replace('[', ".")
        .replace(']', "")
        .split('.')
        .filter(|part| !part.is_empty())
    {
        value = match value {
            Value::Array(items) => items.get(part.parse::<usize>().ok()?)?,
            other => other.get(part)?,
        };
    }
    Some(value)
}

#[test]
fn values_worked_by_another_route_agree() {
    let rows = rows();
    assert!(rows.len() >= 225, "only {} values", rows.len());
    let by_hand = rows.iter().filter(|row| row["working"].is_string()).count();
    assert!(by_hand >= 25, "only {by_hand} worked by hand");
    let mut sites: BTreeMap<String, BTreeMap<String, Value>> = BTreeMap::new();
    let mut wrong = Vec::new();
    for row in &rows {
        let name = row["guide"].as_str().expect("a guide").to_owned();
        let files = sites.entry(name.clone()).or_insert_with(|| {
            let (built, faults) = build(&guide(&format!("tests/guides/{name}")), &|| {});
            let built = built.unwrap_or_else(|| panic!("{faults:#?}"));
            built
                .site
                .files
                .into_iter()
                .filter(|(path, _)| path.ends_with(".json"))
                .map(|(path, bytes)| (path, serde_json::from_slice(&bytes).expect("JSON")))
                .collect()
        });
        let (file, path) = (
            row["file"].as_str().expect("a file"),
            row["path"].as_str().expect("a path"),
        );
        let found = files.get(file).and_then(|json| at(json, path));
        let expected = &row["value"];
        let agrees = match (found, expected.as_f64()) {
            (Some(found), Some(expected)) => found.as_f64().is_some_and(|found| {
                let within = row["within"].as_f64().expect("within");
                (found - expected).abs() <= within * expected.abs().max(1.0)
            }),
            (Some(found), None) => found == expected,
            (None, _) => false,
        };
        if !agrees {
            wrong.push(format!(
                "{name} {file} {path}: expected {expected}, found {found:?}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
