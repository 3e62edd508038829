//! Paths, guides and folders for the other modules.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use pondweigh::content::{Input, ScaleTrait, TraitKind, disk};
use pondweigh::reconcile::Outcome;
use pondweigh::reconcile::grade::Grade;
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
    assert!(!pondweigh::has_errors(&faults), "{faults:#?}");
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

/// One row of a table in `tests/reference/`, by the head of its columns.
pub(crate) type Row = BTreeMap<String, String>;

/// The rows of a table in `tests/reference/`.
pub(crate) fn table(name: &str) -> Vec<Row> {
    let path = project("tests/reference").join(name);
    let mut reader = csv::Reader::from_path(&path).unwrap_or_else(|why| panic!("{name}: {why}"));
    let heads = reader.headers().expect("heads of columns").clone();
    reader
        .records()
        .map(|record| {
            let record = record.unwrap_or_else(|why| panic!("{name}: {why}"));
            let cells = heads.iter().zip(&record);
            cells
                .map(|(head, cell)| (head.to_owned(), cell.to_owned()))
                .collect()
        })
        .collect()
}

/// A text in the quotes of YAML.
pub(crate) fn quoted(text: &str) -> String {
    serde_json::to_string(text).expect("a text")
}

/// A guide from files made by a test.
pub(crate) fn input_of(files: &BTreeMap<String, String>) -> Input {
    let files: Vec<(&str, &str)> = files
        .iter()
        .map(|(path, text)| (path.as_str(), text.as_str()))
        .collect();
    input(&files)
}

/// A plant of a weighed guide by its page address.
pub(crate) fn plant(weighed: &Weighed, slug: &str) -> usize {
    let found = weighed.names.plants.iter().position(|p| p.slug == slug);
    found.unwrap_or_else(|| panic!("no plant {slug}"))
}

/// A trait, or another thing with an id, by its place in the guide.
pub(crate) fn trait_index(weighed: &Weighed, id: &str) -> usize {
    let found = weighed.guide.traits.iter().position(|t| t.id == id);
    found.unwrap_or_else(|| panic!("no trait {id}"))
}

/// The grade of a trait over all waters; `None` where nobody has spoken.
pub(crate) fn grade<'a>(weighed: &'a Weighed, slug: &str, id: &str) -> Option<&'a Grade> {
    let traits = &weighed.reconciled.plants[plant(weighed, slug)].traits;
    match &traits.get(&trait_index(weighed, id))?.outcome {
        Outcome::Scale { grade, .. } => Some(grade),
        Outcome::Span(_) => panic!("{id} is a span"),
    }
}

/// The level of a trait in words.
pub(crate) fn level<'a>(weighed: &'a Weighed, slug: &str, id: &str) -> Option<&'a str> {
    let level = grade(weighed, slug, id)?.level?;
    Some(level_name(weighed, id, level))
}

/// The name of a level of a trait's scale.
pub(crate) fn level_name<'a>(weighed: &'a Weighed, id: &str, level: usize) -> &'a str {
    &weighed.guide.scales[on_scale(weighed, id).scale].levels[level].id
}

/// A trait's scale and edges.
pub(crate) fn on_scale<'a>(weighed: &'a Weighed, id: &str) -> &'a ScaleTrait {
    match &weighed.guide.traits[trait_index(weighed, id)].kind {
        TraitKind::Scale(on) => on,
        TraitKind::Span(_) => panic!("{id} is a span"),
    }
}

/// What pressing a guide gives: addresses and bytes.
pub(crate) type Site = BTreeMap<String, Vec<u8>>;

/// The demo guide, pressed once for all tests.
pub(crate) static DEMO: LazyLock<Site> = LazyLock::new(|| site_of(&guide("")));

/// The guide of corner cases, pressed once for all tests.
pub(crate) static CORNER: LazyLock<Site> = LazyLock::new(|| site_of(&guide("tests/guides/corner")));

/// Presses a guide that has no errors.
pub(crate) fn site_of(input: &Input) -> Site {
    let (built, faults) = build(input, &|| {});
    let built = built.unwrap_or_else(|| panic!("{faults:#?}"));
    built.site.files.into_iter().collect()
}

/// The HTML pages of a site.
pub(crate) fn html_pages(site: &Site) -> impl Iterator<Item = (&str, &str)> {
    site.iter()
        .filter(|(path, _)| path.ends_with(".html"))
        .map(|(path, bytes)| (path.as_str(), std::str::from_utf8(bytes).expect("UTF-8")))
}
