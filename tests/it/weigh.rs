//! The balance in the terminal: golden output, the columns it keeps to, and what would be.

use std::process::{Command, Output};

use pondweigh::content::Input;

use crate::support::{check_expected, guide, project, text, weighed};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn said(arguments: &[&str]) -> String {
    let output = run(arguments);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}");
    String::from_utf8(output.stdout).expect("UTF-8")
}

#[test]
fn each_case_prints_what_is_expected() {
    let folder = project("tests/cases/weigh");
    let mut cases: Vec<_> = std::fs::read_dir(&folder)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    cases.sort();
    assert!(cases.len() >= 6);
    let mut wrong = Vec::new();
    for case in cases {
        let asked = std::fs::read_to_string(case.join("arguments.txt")).expect("arguments");
        let root = project("tests/site/guide");
        let mut arguments = vec!["weigh"];
        arguments.extend(asked.lines());
        arguments.extend(["--guide", root.to_str().expect("a path")]);
        let output = run(&arguments);
        let code = output.status.code().expect("a code");
        let found = format!(
            "{}{}exit {code}\n",
            String::from_utf8(output.stdout).expect("UTF-8"),
            String::from_utf8(output.stderr).expect("UTF-8")
        );
        wrong.extend(check_expected(&case.join("expected.txt"), &found).err());
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_line_is_wider_than_eighty_columns() {
    let root = project("");
    for plant in weighed(&guide("")).names.plants {
        for line in said(&[
            "weigh",
            &plant.slug,
            "--guide",
            root.to_str().expect("a path"),
        ])
        .lines()
        {
            assert!(line.chars().count() <= 80, "{}: {line}", plant.slug);
        }
    }
}

#[test]
fn the_readme_shows_what_is_printed() {
    let readme = text("README.md");
    let sample = readme
        .split("$ pondweigh weigh \"Bolbitis heudelotii\" growth\n")
        .nth(1)
        .and_then(|rest| rest.split("  …").next())
        .expect("a sample");
    let root = project("");
    let found = said(&[
        "weigh",
        "Bolbitis heudelotii",
        "growth",
        "--guide",
        root.to_str().expect("a path"),
    ]);
    assert!(found.starts_with(sample), "{found}");
}

/// The guide without the claims of a source, where each of them is a line of an entry.
fn without_lines(input: &Input, source: &str) -> (Input, usize) {
    let mut input = input.clone();
    let mut taken = 0;
    for (path, bytes) in &mut input.files {
        if !path.starts_with("content/plants/") {
            continue;
        }
        let text = String::from_utf8(bytes.clone()).expect("UTF-8");
        let is_its = |line: &&str| {
            line.trim_start().starts_with("- {trait")
                && (line.contains(&format!("source: {source},"))
                    || line.contains(&format!("source: {source}}}")))
        };
        let (its, kept): (Vec<&str>, Vec<&str>) = text.lines().partition(is_its);
        taken += its.len();
        *bytes = format!("{}\n", kept.join("\n")).into_bytes();
    }
    (input, taken)
}

#[test]
fn without_a_source_is_as_if_it_had_said_nothing() {
    let input = guide("");
    let whole = weighed(&input);
    let found = (0..whole.guide.sources.len())
        .filter(|at| whole.guide.sources[*at].claims.is_empty())
        .map(|at| {
            let (less, taken) = without_lines(&input, &whole.guide.sources[at].id);
            (taken, at, less)
        })
        .filter(|(taken, at, _)| *taken == whole.claims.of_source[*at])
        .max_by_key(|(taken, ..)| *taken);
    let (taken, at, less) = found.expect("a source with its claims in entries alone");
    assert!(taken > 10, "{taken}");
    let less = weighed(&less);
    let dropped = whole.without_sources(&[at]);
    for (a, b) in dropped
        .reconciled
        .plants
        .iter()
        .zip(&less.reconciled.plants)
    {
        assert_eq!(
            a.traits.keys().collect::<Vec<_>>(),
            b.traits.keys().collect::<Vec<_>>()
        );
        for (a, b) in a.traits.values().zip(b.traits.values()) {
            assert_eq!(format!("{:?}", a.outcome), format!("{:?}", b.outcome));
        }
    }
    for (a, b) in dropped.standings.plants.iter().zip(&less.standings.plants) {
        assert_eq!(a.standings, b.standings);
    }
}
