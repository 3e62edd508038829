//! Paths, guides and folders for the other modules.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use pondweigh::content::{Input, disk};
use pondweigh::{Weighed, build, weigh};

/// A path below the project's folder.
pub(crate) fn project(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// A text file of the project.
pub(crate) fn text(path: &str) -> String {
    std::fs::read_to_string(project(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// A guide from disk, every file of it readable.
pub(crate) fn guide(path: &str) -> Input {
    let (input, faults) = disk::read_guide(&project(path)).expect("the guide is there");
    assert!(faults.is_empty(), "{faults:#?}");
    input
}

/// A guide from (path, text) pairs.
pub(crate) fn input(files: &[(&str, &str)]) -> Input {
    let mut files: Vec<(String, Vec<u8>)> = files
        .iter()
        .map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec()))
        .collect();
    files.sort();
    Input {
        files,
        unread: Vec::new(),
    }
}

/// An empty folder of its own for one test.
pub(crate) fn folder(name: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&path);
    std::fs::create_dir_all(&path).expect("a folder");
    path
}

/// Compares with a file of expected output, or rewrites it where `UPDATE=1` is set.
pub(crate) fn check_expected(path: &Path, found: &str) -> Result<(), String> {
    if std::env::var("UPDATE").is_ok_and(|value| value == "1") {
        std::fs::write(path, found).expect("expected output can be written");
        return Ok(());
    }
    let expected =
        std::fs::read_to_string(path).map_err(|_| format!("{} is missing", path.display()))?;
    if expected == found {
        return Ok(());
    }
    let at = expected
        .lines()
        .zip(found.lines())
        .position(|(a, b)| a != b);
    Err(format!(
        "{} differs (first at line {:?})\n--- expected\n{expected}\n--- found\n{found}",
        path.display(),
        at.map(|at| at + 1)
    ))
}

/// Every page of a guide.
pub(crate) fn pages(input: &Input) -> BTreeMap<String, String> {
    let (built, faults) = build(input, &|| {});
    let built = built.unwrap_or_else(|| panic!("{faults:#?}"));
    built
        .site
        .files
        .into_iter()
        .filter(|(path, _)| path.ends_with(".html"))
        .map(|(path, bytes)| (path, String::from_utf8(bytes).expect("UTF-8")))
        .collect()
}

/// A guide without errors, weighed.
pub(crate) fn weighed(input: &Input) -> Weighed {
    weigh(input).0.expect("no errors")
}

/// Slugs of plants on a list of one of the guide's places.
pub(crate) fn regulated_here(weighed: &Weighed) -> BTreeSet<String> {
    weighed
        .names
        .plants
        .iter()
        .zip(&weighed.standings.plants)
        .filter(|(_, roles)| roles.is_regulated_here())
        .map(|(name, _)| name.slug.clone())
        .collect()
}

/// Every link to a plant's page: its slug, and what follows the link.
pub(crate) fn plant_links(html: &str) -> Vec<(&str, &str)> {
    html.split("<a href=\"")
        .skip(1)
        .filter_map(|part| {
            let (href, rest) = part.split_once('"')?;
            let slug = href
                .trim_start_matches("../")
                .strip_prefix("plants/")?
                .strip_suffix('/')?;
            let (_, after) = rest.split_once("</a>")?;
            (!slug.is_empty() && !slug.contains('/')).then_some((slug, after))
        })
        .collect()
}

/// The main part of a page.
pub(crate) fn main_of(html: &str) -> &str {
    html.split("<main").nth(1).expect("a main part")
}
