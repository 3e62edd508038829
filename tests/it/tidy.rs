//! Checks of the tree itself: import direction, file heads, one case a message.

use std::path::{Path, PathBuf};

use crate::support::{project, table, text};

fn rust_files(folder: &Path, out: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            rust_files(&path, out);
        } else if path.extension().is_some_and(|end| end == "rs") {
            out.push(path);
        }
    }
}

/// Modules in the order in which `lib.rs` declares them.
fn order() -> Vec<String> {
    text("src/lib.rs")
        .lines()
        .filter_map(|line| {
            line.strip_prefix("pub mod ")?
                .strip_suffix(';')
                .map(str::to_owned)
        })
        .collect()
}

/// Imports of later modules by earlier ones: (importer, imported, line).
fn turned_round(order: &[String], module: &str, source: &str) -> Vec<String> {
    let own = order.iter().position(|m| m == module);
    let mut out = Vec::new();
    for (number, line) in source.lines().enumerate() {
        // Comments and documentation may point anywhere.
        let code = line.split("//").next().unwrap_or_default();
        for part in code.split("crate::").skip(1) {
            let named: String = part
                .chars()
                .take_while(|c| c.is_alphanumeric() || *c == '_')
                .collect();
            let Some(at) = order.iter().position(|m| *m == named) else {
                continue;
            };
            if own.is_some_and(|own| at > own) {
                out.push(format!("line {}: `{module}` imports `{named}`", number + 1));
            }
        }
    }
    out
}

#[test]
fn imports_go_one_way() {
    let order = order();
    assert_eq!(
        order,
        [
            "diagnostic",
            "quantity",
            "content",
            "names",
            "claims",
            "reconcile",
            "roles",
            "editions",
            "pages",
            "files",
            "schema",
            "intake",
            "proof",
            "people",
            "desk"
        ]
    );
    let mut files = Vec::new();
    rust_files(&project("src"), &mut files);
    let mut wrong = Vec::new();
    for file in files {
        let path = file
            .strip_prefix(project("src"))
            .expect("below src")
            .to_path_buf();
        let first = path
            .components()
            .next()
            .expect("a name")
            .as_os_str()
            .to_string_lossy()
            .into_owned();
        let module = first.trim_end_matches(".rs");
        // The program itself and the map stand above all.
        if matches!(module, "main" | "lib" | "cli") {
            continue;
        }
        let source = std::fs::read_to_string(&file).expect("a source file");
        wrong.extend(
            turned_round(&order, module, &source)
                .into_iter()
                .map(|w| format!("{}: {w}", path.display())),
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn an_import_turned_round_is_found() {
    let order = order();
    let found = turned_round(
        &order,
        "claims",
        "use crate::content::Guide;\nuse crate::roles::Word;\n",
    );
    assert_eq!(found, ["line 2: `claims` imports `roles`"]);
    let found = turned_round(&order, "quantity", "fn f() { crate::content::read(); }\n");
    assert_eq!(found, ["line 1: `quantity` imports `content`"]);
}

#[test]
fn every_file_says_what_it_holds() {
    let mut files = Vec::new();
    rust_files(&project("src"), &mut files);
    rust_files(&project("tests"), &mut files);
    for file in files {
        let source = std::fs::read_to_string(&file).expect("a source file");
        let first = source.lines().next().unwrap_or_default();
        assert!(
            first.starts_with("//! ") && first.len() > 12,
            "{}: {first}",
            file.display()
        );
        assert!(!source.contains(concat!("TO", "DO")), "{}", file.display());
        assert!(
            !source.contains("use super::") || source.contains("#[cfg(test)]"),
            "{}",
            file.display()
        );
    }
}

#[test]
fn only_the_two_ends_touch_the_disk() {
    let mut files = Vec::new();
    rust_files(&project("src"), &mut files);
    for file in files {
        let path = file.to_string_lossy().replace('\\', "/");
        if path.ends_with("/disk.rs") || path.contains("/cli/") || path.ends_with("main.rs") {
            continue;
        }
        let source = std::fs::read_to_string(&file).expect("a source file");
        for word in [
            "std::fs",
            "std::env",
            "std::time",
            "SystemTime",
            "Instant",
            "walkdir",
            "std::process",
        ] {
            let is_clock =
                word.starts_with("std::time") || word.ends_with("Time") || word == "Instant";
            if is_clock && path.ends_with("/desk/clock.rs") {
                continue;
            }
            assert!(!source.contains(word), "{path} uses {word}");
        }
    }
}

#[test]
fn every_message_is_used() {
    let messages = text("src/diagnostic.rs");
    let mut files = Vec::new();
    rust_files(&project("src"), &mut files);
    let code: String = files
        .iter()
        .filter(|file| !file.ends_with("diagnostic.rs"))
        .map(|file| std::fs::read_to_string(file).expect("a source file"))
        .collect();
    for line in messages.lines() {
        let Some(rest) = line.trim().strip_prefix("pub fn ") else {
            continue;
        };
        let name: String = rest
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect();
        let is_constructor = messages
            .split(&format!("pub fn {name}"))
            .nth(1)
            .is_some_and(|after| {
                after
                    .split('{')
                    .next()
                    .is_some_and(|head| head.contains("-> Diagnostic"))
            });
        if is_constructor {
            assert!(
                code.contains(&format!("Diagnostic::{name}")),
                "`{name}` is never used"
            );
        }
    }
}

/// The columns of a table that name where a row is from.
const SOURCE_COLUMNS: [&str; 4] = ["citation", "source", "instrument", "basis"];

#[test]
fn every_reference_file_names_its_sources() {
    let folder = project("tests/reference");
    let readme = text("tests/reference/README.md");
    for entry in std::fs::read_dir(folder).expect("reference") {
        let path = entry.expect("a file").path();
        let name = path.file_name().expect("a name").to_string_lossy();
        assert!(
            name == "README.md" || readme.contains(&format!("`{name}`")),
            "README.md does not say what {name} checks"
        );
        if name.ends_with(".csv") {
            for row in table(&name) {
                let source = SOURCE_COLUMNS.iter().find_map(|column| row.get(*column));
                assert!(source.is_some_and(|s| !s.is_empty()), "{name}: {row:?}");
            }
        } else if name != "README.md" {
            let body = std::fs::read_to_string(&path).expect("text");
            assert!(
                body.contains("\"source\"")
                    || body.contains("working: ")
                    || body.contains("source:"),
                "{name} names no source"
            );
        }
    }
}
