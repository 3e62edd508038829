//! The program as its users meet it: exit codes, hostile files, help.

use std::path::Path;
use std::process::{Command, Output};

use crate::support::{folder, project};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_pondweigh"))
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("a folder");
    for entry in std::fs::read_dir(from).expect("a folder") {
        let entry = entry.expect("an entry");
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).expect("a copy");
        }
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

#[test]
fn a_sown_guide_proofs_and_presses_without_a_fault() {
    let dir = folder("sown");
    let guide = dir.join("guide");
    let path = guide.to_str().expect("a path");
    assert_eq!(run(&["sow", path]).status.code(), Some(0));
    let proof = run(&["proof", path]);
    assert_eq!(proof.status.code(), Some(0));
    assert!(
        text(&proof.stdout).starts_with("no faults"),
        "{}",
        text(&proof.stdout)
    );
    assert_eq!(run(&["press", path]).status.code(), Some(0));
    assert!(guide.join("public/index.html").is_file());
    // A second time it refuses, and changes nothing.
    let again = run(&["sow", path]);
    assert_eq!(again.status.code(), Some(2));
    assert!(text(&again.stderr).contains("a guide already"));
}

#[test]
fn a_guide_with_errors_leaves_the_old_site_as_it_was() {
    let dir = folder("old-site");
    let guide = dir.join("guide");
    copy(&project("tests/cases/proof/ok-minimal"), &guide);
    let path = guide.to_str().expect("a path");
    assert_eq!(run(&["press", path]).status.code(), Some(0));
    let before = snapshot(&guide.join("public"));
    assert!(before.len() > 10);
    std::fs::write(
        guide.join("content/roles.yaml"),
        "uptake: {title: U, mainstay: [{trait: nothing, at-least: x}]}\n",
    )
    .expect("written");
    let press = run(&["press", path]);
    assert_eq!(press.status.code(), Some(1));
    assert!(
        text(&press.stderr).contains("content/roles.yaml:1:39: unknown trait `nothing`"),
        "{}",
        text(&press.stderr)
    );
    assert_eq!(snapshot(&guide.join("public")), before);
}

fn snapshot(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut out = Vec::new();
    let mut stack = vec![folder.to_path_buf()];
    while let Some(at) = stack.pop() {
        for entry in std::fs::read_dir(&at).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                stack.push(path);
            } else {
                let name = path
                    .strip_prefix(folder)
                    .expect("inside")
                    .to_string_lossy()
                    .into_owned();
                out.push((name, std::fs::read(&path).expect("bytes")));
            }
        }
    }
    out.sort();
    out
}

#[test]
fn stale_pages_go_and_strangers_stay() {
    let dir = folder("stale");
    let guide = dir.join("guide");
    copy(&project("tests/cases/proof/ok-minimal"), &guide);
    let path = guide.to_str().expect("a path");
    assert_eq!(run(&["press", path]).status.code(), Some(0));
    let out = guide.join("public");
    std::fs::write(out.join("mine.txt"), "kept").expect("written");
    std::fs::create_dir_all(guide.join("content/pages")).expect("a folder");
    std::fs::write(guide.join("content/pages/about.md"), "# About\n\nText.\n").expect("written");
    assert_eq!(run(&["press", path]).status.code(), Some(0));
    assert!(out.join("pages/about/index.html").is_file());
    std::fs::remove_file(guide.join("content/pages/about.md")).expect("removed");
    assert_eq!(run(&["press", path]).status.code(), Some(0));
    assert!(!out.join("pages/about").exists());
    assert_eq!(
        std::fs::read_to_string(out.join("mine.txt")).expect("kept"),
        "kept"
    );
    // Nothing changed: nothing is written.
    let again = run(&["press", path]);
    assert!(
        text(&again.stdout).contains(": 0 files changed"),
        "{}",
        text(&again.stdout)
    );
}

#[test]
fn what_no_press_wrote_is_never_replaced() {
    let dir = folder("strangers");
    let guide = dir.join("guide");
    copy(&project("tests/cases/proof/ok-minimal"), &guide);
    std::fs::create_dir_all(guide.join("themes")).expect("a folder");
    let path = guide.to_str().expect("a path");
    let out = dir.join("mine");
    std::fs::create_dir_all(&out).expect("a folder");
    std::fs::write(out.join("index.html"), "my own").expect("written");
    let into = |out: &Path| run(&["press", path, "--out", out.to_str().expect("a path")]);
    let refused = into(&out);
    assert_eq!(refused.status.code(), Some(2));
    let why = text(&refused.stderr);
    assert!(
        why.contains("index.html") && why.contains("hint: "),
        "{why}"
    );
    let left: Vec<_> = std::fs::read_dir(&out).expect("a folder").collect();
    assert_eq!(left.len(), 1, "nothing else came");
    let kept = std::fs::read_to_string(out.join("index.html")).expect("kept");
    assert_eq!(kept, "my own");
    for below in [
        "content",
        "content/plants",
        "content/new/folder",
        "themes",
        "themes/mine",
    ] {
        let refused = into(&guide.join(below));
        assert_eq!(refused.status.code(), Some(2), "{below}");
        assert!(!guide.join(below).join("index.html").exists(), "{below}");
    }
    std::fs::remove_file(out.join("index.html")).expect("removed");
    assert_eq!(into(&out).status.code(), Some(0));
    assert_eq!(into(&out).status.code(), Some(0));
}

#[test]
fn a_file_of_50_megabytes_is_refused_unread() {
    let dir = folder("large");
    let guide = dir.join("guide");
    copy(&project("tests/cases/proof/ok-minimal"), &guide);
    let file = std::fs::File::create(guide.join("content/sources/large.yaml")).expect("a file");
    file.set_len(50 << 20).expect("50 MB");
    let proof = run(&["proof", guide.to_str().expect("a path")]);
    assert_eq!(proof.status.code(), Some(1));
    let shown = text(&proof.stdout);
    assert!(
        shown.contains("content/sources/large.yaml:1:1: this file is too large"),
        "{shown}"
    );
    assert!(shown.contains("help: "), "{shown}");
}

#[test]
fn help_names_every_command_and_what_it_is_for() {
    let help = text(&run(&["--help"]).stdout);
    for word in ["sow", "proof", "weigh", "press", "content/"] {
        assert!(help.contains(word), "{help}");
    }
    for command in ["sow", "proof", "weigh", "press"] {
        let help = text(&run(&[command, "--help"]).stdout);
        assert!(help.lines().count() > 8, "{help}");
    }
}

#[test]
fn a_folder_without_a_guide_cannot_be_run() {
    let dir = folder("nothing");
    for command in ["proof", "press"] {
        let output = run(&[command, dir.to_str().expect("a path")]);
        assert_eq!(output.status.code(), Some(2));
        assert!(
            text(&output.stderr).contains("pondweigh sow"),
            "{}",
            text(&output.stderr)
        );
    }
}

#[test]
fn weigh_finds_a_plant_by_any_name_and_offers_near_ones() {
    let guide = project("");
    let guide = guide.to_str().expect("a path");
    let by_slug = run(&["weigh", "bolbitis-heudelotii", "growth", "--guide", guide]);
    let by_name = run(&["weigh", "Bolbitis heudelotii", "Growth", "--guide", guide]);
    assert_eq!(by_slug.status.code(), Some(0));
    assert_eq!(text(&by_slug.stdout), text(&by_name.stdout));
    let near = run(&["weigh", "Bolbitis heudeloti", "--guide", guide]);
    assert_eq!(near.status.code(), Some(2));
    assert!(
        text(&near.stderr).contains("Bolbitis heudelotii"),
        "{}",
        text(&near.stderr)
    );
    let loose = run(&["weigh", "Cryptocoryne", "--guide", guide]);
    assert!(
        text(&loose.stderr).contains("loose name"),
        "{}",
        text(&loose.stderr)
    );
}
