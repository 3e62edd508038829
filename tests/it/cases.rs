//! Folders of broken guides, each with the output that `proof` must print.

use std::path::Path;
use std::process::Command;

use crate::support::{check_expected, project};

/// What `proof` prints of a guide, and its exit code.
fn proof(guide: &Path) -> (String, i32) {
    let output = Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .arg("proof")
        .arg(guide)
        .output()
        .expect("the program runs");
    let text = String::from_utf8(output.stdout).expect("UTF-8");
    let errors = String::from_utf8(output.stderr).expect("UTF-8");
    assert!(
        !errors.contains("panicked"),
        "{}: {errors}",
        guide.display()
    );
    (text, output.status.code().unwrap_or(-1))
}

#[test]
fn every_broken_guide_gets_place_fault_and_remedy() {
    let folder = project("tests/cases/proof");
    let mut names: Vec<String> = std::fs::read_dir(&folder)
        .expect("cases")
        .map(|entry| {
            entry
                .expect("a case")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    names.sort();
    assert!(names.iter().filter(|name| name.starts_with("err-")).count() >= 30);
    let mut wrong = Vec::new();
    for name in &names {
        let (text, code) = proof(&folder.join(name));
        let is_error = name.starts_with("err-");
        if code != i32::from(is_error) {
            wrong.push(format!("{name}: exit code {code}"));
        }
        for block in text
            .split("\n\n")
            .filter(|b| b.starts_with("error") || b.starts_with("warning"))
        {
            let head = block.lines().next().unwrap_or_default();
            let place = head.split(": ").nth(1).unwrap_or_default();
            let parts: Vec<&str> = place.rsplitn(3, ':').collect();
            let has_place = parts.len() == 3
                && parts[2].starts_with("content/")
                && parts[..2]
                    .iter()
                    .all(|n| n.parse::<u32>().is_ok_and(|n| n > 0));
            if !has_place || !block.contains("help: ") {
                wrong.push(format!("{name}: no place or no remedy:\n{block}"));
            }
        }
        if let Err(why) = check_expected(&folder.join(name).join("expected.txt"), &text) {
            wrong.push(why);
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}
