//! The page that describes the data files.

use std::collections::BTreeMap;

use serde_json::{Value as Json, json};

use crate::pages::table::TABLES;
use crate::pages::{Press, Sheet};
use crate::quantity::significant;

/// Whole-guide files of JSON and what is in each.
const JSON_FILES: [(&str, &str); 5] = [
    (
        "data/guide.json",
        "The guide’s title, the ids, names and pages of its plants, waters and roles, and its editions: where to begin.",
    ),
    (
        "data/plants.json",
        "Every plant with its forms, legal listings, graded traits, claims, standings with their reasons, and plants to use instead. An array of each plant’s own file, by id.",
    ),
    (
        "data/sources.json",
        "Every source with its kind, its voice, the number of its claims, and how it runs against the others. An array of each source’s own file, by id.",
    ),
    (
        "data/names.json",
        "Every genus with the levels of its plants, and whether the loose name hides different ones. An array of each name’s own file.",
    ),
    (
        "data/wanted.json",
        "Standings that are not known yet, with the fewest further notes that would decide each (null where five would not), fewest first.",
    ),
];

impl Press<'_> {
    /// What can be downloaded; `data` is every data file as (address, text).
    pub(crate) fn downloads(&self, data: &[(String, String)]) -> Sheet {
        let sizes: BTreeMap<&str, usize> = data
            .iter()
            .map(|(address, text)| (address.as_str(), text.len()))
            .collect();
        let file = |address: &str, what: &str| {
            json!({
                "name": address.trim_start_matches("data/"),
                "what": what,
                "size": size(sizes.get(address).copied().unwrap_or_default()),
            })
        };
        let files: Vec<Json> = JSON_FILES
            .iter()
            .map(|(address, what)| file(address, what))
            .collect();
        let tables: Vec<Json> = TABLES
            .iter()
            .map(|table| {
                let mut view = file(table.address, table.row);
                view["id"] = json!(format!(
                    "table-{}",
                    table
                        .address
                        .trim_start_matches("data/")
                        .trim_end_matches(".csv")
                ));
                view["columns"] = table
                    .columns
                    .iter()
                    .map(|(name, means)| json!({ "name": name, "means": means }))
                    .collect();
                view
            })
            .collect();
        Sheet::new(
            "data/index.html",
            "data.html",
            "Data",
            "The whole guide to download, as JSON and as tables, with a description of each file.",
            json!({ "files": files, "tables": tables }),
        )
    }
}

/// A file size in decimal units, two figures.
fn size(bytes: usize) -> String {
    let (value, unit) = match bytes as f64 {
        bytes if bytes < 1e3 => return format!("{bytes} bytes"),
        bytes if bytes < 1e6 => (bytes / 1e3, "kB"),
        bytes => (bytes / 1e6, "MB"),
    };
    let digits = if value < 10.0 { 2 } else { 3 };
    format!("{} {unit}", significant(value, digits))
}
