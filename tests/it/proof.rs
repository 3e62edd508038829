//! Faults in the forms that other programs read, and what warnings do to the exit code.

use std::collections::BTreeMap;
use std::process::{Command, Output};

use pondweigh::build;
use pondweigh::proof::rules::RULES;
use pondweigh::proof::{Proofed, json, sarif};
use serde_json::Value as Json;

use crate::support::{check_expected, folder, guide, input_of, project, text};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .args(arguments)
        .current_dir(project(""))
        .output()
        .expect("the program runs")
}

fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("UTF-8")
}

fn parsed(text: &str) -> Json {
    serde_json::from_str(text).expect("JSON")
}

#[test]
fn every_kind_of_fault_has_its_rule_and_its_sentence() {
    let source = text("src/diagnostic.rs");
    let (_, body) = source
        .split_once("impl Diagnostic {")
        .expect("constructors");
    let mut found: Vec<(String, String)> = Vec::new();
    let mut sentence: Vec<&str> = Vec::new();
    for line in body.lines().map(str::trim) {
        if let Some(part) = line.strip_prefix("/// ") {
            sentence.push(part);
        } else if let Some(rest) = line.strip_prefix("pub fn ") {
            let name: String = rest
                .chars()
                .take_while(|c| c.is_alphanumeric() || *c == '_')
                .collect();
            let rule = name.replace('_', "-");
            let own = body
                .split(&format!("pub fn {name}"))
                .nth(1)
                .expect("a body");
            let own = own.split("\n    pub fn ").next().unwrap_or(own);
            assert!(
                own.contains(&format!("\"{rule}\"")),
                "`{name}` gives another rule"
            );
            found.push((rule, sentence.join(" ")));
            sentence.clear();
        } else {
            sentence.clear();
        }
    }
    found.sort();
    let table: Vec<(String, String)> = RULES
        .iter()
        .map(|(rule, said)| ((*rule).to_owned(), (*said).to_owned()))
        .collect();
    for row in &found {
        assert!(table.contains(row), "src/proof/rules.rs lacks {row:?}");
    }
    assert_eq!(table, found);
}

#[test]
fn the_json_of_faults_is_as_described() {
    let output = run(&["proof", "tests/cases/proof/err-beside-warnings", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    let expected = project("tests/cases/proof/err-beside-warnings/expected.json");
    check_expected(&expected, &stdout(&output)).unwrap_or_else(|why| panic!("{why}"));
    let clean = parsed(&stdout(&run(&[
        "proof",
        "tests/cases/proof/ok-minimal",
        "--json",
    ])));
    assert_eq!(clean["can_be_pressed"], Json::Bool(true));
    assert_eq!(clean["counts"]["claims"], 4);
    assert_eq!(clean["faults"].as_array().map(Vec::len), Some(0));
}

#[test]
fn json_and_plain_text_name_the_same_faults() {
    for entry in std::fs::read_dir(project("tests/cases/proof")).expect("cases") {
        let name = entry
            .expect("a case")
            .file_name()
            .to_string_lossy()
            .into_owned();
        let input = guide(&format!("tests/cases/proof/{name}"));
        let (built, faults) = build(&input, &|| {});
        let daily = built.map_or_else(Vec::new, |built| built.daily);
        let faults = pondweigh::in_order([faults, daily].concat());
        let proofed = Proofed {
            input: &input,
            faults: &faults,
            counts: None,
        };
        let json = parsed(&json(&proofed));
        let sarif = parsed(&sarif(&proofed, ""));
        let rows = json["faults"].as_array().expect("faults");
        let results = sarif["runs"][0]["results"].as_array().expect("results");
        let shown = text(&format!("tests/cases/proof/{name}/expected.txt"));
        assert_eq!(rows.len(), results.len(), "{name}");
        for (row, result) in rows.iter().zip(results) {
            let place = format!(
                "{}:{}:{}: {}",
                row["file"].as_str().expect("a file"),
                row["line"],
                row["column"],
                row["title"].as_str().expect("a title")
            );
            assert!(shown.contains(&place), "{name}: {place}");
            assert_eq!(row["rule"], result["ruleId"], "{name}");
            assert_eq!(row["severity"], result["level"], "{name}");
            let rule = &sarif["runs"][0]["tool"]["driver"]["rules"]
                [result["ruleIndex"].as_u64().expect("an index") as usize];
            assert_eq!(rule["id"], result["ruleId"], "{name}");
        }
    }
}

#[test]
fn warnings_fail_only_where_they_are_asked_to() {
    let case = "tests/cases/proof/warn-picture-without-licence";
    for (arguments, code) in [
        (vec!["proof", case], 0),
        (vec!["proof", case, "--strict"], 1),
        (vec!["proof", case, "--json"], 0),
        (vec!["proof", case, "--json", "--strict"], 1),
        (vec!["proof", case, "--sarif"], 0),
        (vec!["proof", case, "--sarif", "--strict"], 1),
        (vec!["proof", "tests/cases/proof/ok-minimal", "--strict"], 0),
    ] {
        let output = run(&arguments);
        assert_eq!(output.status.code(), Some(code), "{arguments:?}");
    }
    // A guide with warnings is pressed, and says where they are rather than what.
    let out = folder("warned");
    let output = run(&["press", case, "--out", out.to_str().expect("a path")]);
    assert_eq!(output.status.code(), Some(0));
    assert!(
        stdout(&output).ends_with("1 warning: see `pondweigh proof`.\n"),
        "{}",
        stdout(&output)
    );
    assert!(output.stderr.is_empty());
}

#[test]
fn many_warnings_of_a_kind_are_shown_in_full_on_request_and_always_in_json() {
    let case = "tests/cases/proof/warn-many-of-a-kind";
    let n_full = |text: &str| text.matches("help: ").count();
    assert_eq!(n_full(&stdout(&run(&["proof", case]))), 5);
    assert_eq!(n_full(&stdout(&run(&["proof", case, "--all"]))), 7);
    let json = parsed(&stdout(&run(&["proof", case, "--json"])));
    assert_eq!(json["faults"].as_array().map(Vec::len), Some(7));
    assert_eq!(json["warnings"], 7);
}

/// A fault behind letters that take two and four bytes: columns count characters.
fn files(before: &str) -> BTreeMap<String, String> {
    let mut files: BTreeMap<String, String> = guide("tests/cases/proof/ok-minimal")
        .files
        .into_iter()
        .map(|(path, bytes)| (path, String::from_utf8(bytes).expect("UTF-8")))
        .collect();
    let plant = files
        .get_mut("content/plants/vallisneria/spiralis.yaml")
        .expect("a plant");
    plant.push_str(&format!(
        "{before}  - {{remark: é𝄞, trait: growth, source: lgo, says: fast}}\n"
    ));
    files.insert("content/a note.txt".to_owned(), "x".to_owned());
    files
}

#[test]
fn a_region_counts_characters_and_an_address_is_encoded() {
    let input = input_of(&files(""));
    let (_, faults) = build(&input, &|| {});
    let proofed = Proofed {
        input: &input,
        faults: &faults,
        counts: None,
    };
    let log = parsed(&sarif(&proofed, "guides/my guide"));
    assert_eq!(log["runs"][0]["columnKind"], "unicodeCodePoints");
    let results = log["runs"][0]["results"].as_array().expect("results");
    let place = |at: usize| &results[at]["locations"][0]["physicalLocation"];
    let stray = place(0);
    assert_eq!(
        stray["artifactLocation"]["uri"],
        "guides/my%20guide/content/a%20note.txt"
    );
    assert!(stray["region"]["startColumn"].is_null(), "{stray}");
    let region = &place(1)["region"];
    // `  - {remark: é𝄞, trait: growth, source: lgo`: the id starts at the 41st character.
    assert_eq!(region["startLine"], 8);
    assert_eq!(
        (&region["startColumn"], &region["endColumn"]),
        (&Json::from(41), &Json::from(44))
    );
}

#[test]
fn a_fault_that_moves_to_another_line_keeps_its_print() {
    let print = |before: &str| {
        let input = input_of(&files(before));
        let (_, faults) = build(&input, &|| {});
        let proofed = Proofed {
            input: &input,
            faults: &faults,
            counts: None,
        };
        let log = parsed(&sarif(&proofed, ""));
        let result = &log["runs"][0]["results"][1];
        let line = result["locations"][0]["physicalLocation"]["region"]["startLine"].clone();
        (line, result["partialFingerprints"].clone())
    };
    let (first, moved) = (print(""), print("  # a line more\n"));
    assert_ne!(first.0, moved.0);
    assert_eq!(first.1, moved.1);
}
