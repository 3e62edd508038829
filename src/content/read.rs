//! From files to a [`Guide`]: settings first, then what leans on them, entries in parallel.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;

use crate::content::clauses;
use crate::content::entries;
use crate::content::fields::{Faults, Fields, is_id};
use crate::content::policy;
use crate::content::settings::{self, Settings};
use crate::content::yaml::{self, Node};
use crate::content::{About, FreePage, Genus, Gone, Guide, Plant, Roster, Source, Water, Weights};
use crate::diagnostic::{Diagnostic, Place, Placed};

/// The files of a guide: paths relative to its folder, with `/` between their parts.
#[derive(Debug, Clone, Default)]
pub struct Input {
    /// Path and bytes, sorted by path.
    pub files: Vec<(String, Vec<u8>)>,
    /// Paths of files that are there but were not read.
    pub unread: Vec<String>,
}

impl Input {
    /// The bytes of a file.
    pub fn bytes(&self, path: &str) -> Option<&[u8]> {
        let at = self
            .files
            .binary_search_by(|(p, _)| p.as_str().cmp(path))
            .ok()?;
        Some(&self.files[at].1)
    }

    /// The text of a file, if it is UTF-8.
    pub fn text(&self, path: &str) -> Option<&str> {
        std::str::from_utf8(self.bytes(path)?).ok()
    }
}

/// What a path under `content/` is.
enum Part<'a> {
    Setting,
    Water(&'a str),
    Source(&'a str),
    Genus(&'a str),
    Plant(&'a str),
    Gone(&'a str),
    Roster(&'a str),
    Page(&'a str),
    Picture(&'a str),
    Ignored,
    Stray,
}

fn part(path: &str) -> Part<'_> {
    let pieces: Vec<&str> = path.split('/').collect();
    match pieces[1..] {
        ["README.md"] => Part::Ignored,
        // Read by `editions`, which knows what stands in them.
        ["editions", name] if name.ends_with(".json") => Part::Ignored,
        [
            "guide.yaml" | "scales.yaml" | "conditions.yaml" | "traits.yaml" | "forms.yaml"
            | "roles.yaml" | "weights.yaml" | "regulated.yaml",
        ] => Part::Setting,
        ["waters", name] if name.ends_with(".yaml") => Part::Water(stem(path)),
        ["sources", name] if name.ends_with(".yaml") => Part::Source(stem(path)),
        ["gone", name] if name.ends_with(".yaml") => Part::Gone(stem(path)),
        ["rosters", name] if name.ends_with(".yaml") => Part::Roster(stem(path)),
        ["plants", folder, "genus.yaml"] => Part::Genus(folder),
        ["plants", folder, name] if name.ends_with(".yaml") => Part::Plant(folder),
        ["pages", name] if name.ends_with(".md") => Part::Page(stem(path)),
        ["pictures", ..] => Part::Picture(path),
        _ => Part::Stray,
    }
}

fn stem(path: &str) -> &str {
    let name = path.rsplit('/').next().unwrap_or(path);
    name.rsplit_once('.').map_or(name, |(stem, _)| stem)
}

/// UTF-8 text of a file; a byte that is not is a fault at its place.
fn utf8<'a>(path: &str, bytes: &'a [u8]) -> Result<&'a str, Box<Diagnostic>> {
    std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to();
        let before = String::from_utf8_lossy(&bytes[..at]);
        let line = before.matches('\n').count() as u32 + 1;
        let column = before.rsplit('\n').next().map_or(0, |l| l.chars().count()) as u32 + 1;
        Box::new(Diagnostic::not_utf8(&Place {
            file: Arc::from(path),
            line,
            column,
            start: 0,
            end: 0,
        }))
    })
}

fn parse(path: &str, bytes: &[u8]) -> Result<Node, Box<Diagnostic>> {
    let text = utf8(path, bytes)?;
    yaml::parse(&Arc::from(path), text)
}

/// Reads a whole guide, with every fault that the files alone show.
///
/// What could not be read is left out, or stands as an empty place where others name it, so that
/// the later stages can report their own faults in the same run.
pub fn read(input: &Input) -> (Guide, Vec<Diagnostic>) {
    let (guide, read) = as_read(input, BTreeMap::new());
    let mut faults = read.general;
    faults.extend(read.of_file.into_values().flatten());
    (guide, faults)
}

/// What it takes to read one file of a guide again, and the faults of each.
pub(crate) struct AsRead {
    /// What is wrong with the settings, and with the guide as a whole.
    pub(crate) general: Faults,
    /// What is wrong with files that lean on the settings, by path; those without a fault left out.
    pub(crate) of_file: BTreeMap<String, Faults>,
    known: Settings,
    genera: Vec<String>,
}

impl AsRead {
    /// Reads one file that leans on the settings, as they are now.
    pub(crate) fn item(&self, path: &str, bytes: &[u8]) -> (Item, Faults) {
        item(path, bytes, &self.known, &self.genera)
    }
}

/// What a file of the guide is to a reader of single files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Leaf<'a> {
    /// A source, by id.
    Source(&'a str),
    /// The file of a genus, by folder.
    Genus(&'a str),
    /// A plant entry.
    Plant,
    /// A planting, by id.
    Roster(&'a str),
    /// A free page, by id.
    Page(&'a str),
    /// A file of a theme.
    Theme,
    /// A file that is no part of the guide.
    Aside,
    /// A file that others lean on: a setting, a water, a removed entry, a picture.
    Ground,
    /// A file on which weights and standings lean: a setting or a water.
    Setting,
}

/// What the file at a path is.
pub(crate) fn leaf(path: &str) -> Leaf<'_> {
    if path.starts_with("themes/") {
        return Leaf::Theme;
    }
    match part(path) {
        _ if path.starts_with("content/editions/") => Leaf::Ground,
        Part::Source(id) => Leaf::Source(id),
        Part::Genus(folder) => Leaf::Genus(folder),
        Part::Plant(_) => Leaf::Plant,
        Part::Roster(id) => Leaf::Roster(id),
        Part::Page(id) => Leaf::Page(id),
        Part::Ignored => Leaf::Aside,
        Part::Setting | Part::Water(_) => Leaf::Setting,
        Part::Gone(_) | Part::Picture(_) | Part::Stray => Leaf::Ground,
    }
}

/// Ids of the sources that a guide has files for, sorted.
pub(crate) fn source_ids(input: &Input) -> Vec<String> {
    let read = input.files.iter().map(|(path, _)| path);
    let mut out: Vec<String> = read
        .chain(&input.unread)
        .filter(|path| path.starts_with("content/"))
        .filter_map(|path| match part(path) {
            Part::Source(id) => Some(id.to_owned()),
            _ => None,
        })
        .collect();
    out.sort();
    out
}

/// Folders of plants that were read, sorted.
pub(crate) fn genus_folders(input: &Input) -> Vec<String> {
    let mut out: Vec<String> = input
        .files
        .iter()
        .filter(|(path, _)| path.starts_with("content/"))
        .filter_map(|(path, _)| match part(path) {
            Part::Genus(folder) | Part::Plant(folder) => Some(folder.to_owned()),
            _ => None,
        })
        .collect();
    out.sort();
    out.dedup();
    out
}

/// Reads a whole guide, and keeps what belongs to each file apart.
///
/// `kept` has files without a fault that were read before and say the same under these settings.
pub(crate) fn as_read(input: &Input, mut kept: BTreeMap<String, Item>) -> (Guide, AsRead) {
    let mut faults: Faults = Vec::new();
    let content: Vec<(&str, &[u8])> = input
        .files
        .iter()
        .filter(|(path, _)| path.starts_with("content/"))
        .map(|(path, bytes)| (path.as_str(), bytes.as_slice()))
        .collect();

    let mut known = Settings::default();
    for path in content
        .iter()
        .map(|(path, _)| *path)
        .chain(input.unread.iter().map(String::as_str))
    {
        match part(path) {
            Part::Water(id) => known.waters.push(id.to_owned()),
            Part::Stray if path.starts_with("content/") => {
                let is_data = [".yaml", ".yml", ".md", ".json"]
                    .iter()
                    .any(|end| path.ends_with(end));
                faults.push(if is_data {
                    Diagnostic::stray_file(path)
                } else {
                    Diagnostic::unused_file(path)
                });
            }
            _ => {}
        }
    }
    known.sources = source_ids(input);
    known.waters.sort();
    check_ids(&content, &mut faults);

    let mut setting = |file: &'static str, is_needed: bool, known: &mut Settings| -> Option<Node> {
        let path = format!("content/{file}.yaml");
        match input.bytes(&path) {
            None => {
                if is_needed && !input.unread.contains(&path) {
                    faults.push(Diagnostic::missing_file(&path));
                }
                if is_needed || input.unread.contains(&path) {
                    known.broken.push(file);
                }
                None
            }
            Some(bytes) => match parse(&path, bytes) {
                Ok(node) => Some(node),
                Err(fault) => {
                    faults.push(*fault);
                    known.broken.push(file);
                    None
                }
            },
        }
    };
    let scales = setting("scales", true, &mut known);
    let conditions = setting("conditions", false, &mut known);
    let traits = setting("traits", true, &mut known);
    let forms = setting("forms", false, &mut known);
    let weights = setting("weights", false, &mut known);
    let roles = setting("roles", true, &mut known);
    let regulated = setting("regulated", false, &mut known);
    let about = setting("guide", true, &mut known);

    known.scales = guarded(
        "scales",
        scales,
        &mut known,
        &mut faults,
        |node, _, faults| settings::scales(node, faults),
    );
    known.conditions = guarded(
        "conditions",
        conditions,
        &mut known,
        &mut faults,
        settings::conditions,
    );
    known.traits = guarded("traits", traits, &mut known, &mut faults, settings::traits);
    known.forms = guarded(
        "forms",
        forms,
        &mut known,
        &mut faults,
        |node, _, faults| settings::forms(node, faults),
    );
    let weights = weights.map_or_else(Weights::default, |node| policy::weights(node, &mut faults));
    known.kinds = weights.kinds.keys().cloned().collect();
    let (every_role, roles) = guarded("roles", roles, &mut known, &mut faults, clauses::roles);
    known.roles = roles.iter().map(|role| role.id.clone()).collect();
    let regulated = regulated.map_or_else(Vec::new, |node| policy::regulated(node, &mut faults));

    let genera_names = genus_folders(input);
    let read: Vec<Option<(Item, Faults)>> = content
        .par_iter()
        .map(|(path, bytes)| {
            (!kept.contains_key(*path)).then(|| item(path, bytes, &known, &genera_names))
        })
        .collect();
    let mut of_file = BTreeMap::new();

    let mut waters: Vec<Water> = Vec::new();
    let mut sources: Vec<Source> = Vec::new();
    let mut genera: Vec<Genus> = genera_names
        .iter()
        .map(|folder| Genus {
            folder: folder.clone(),
            title: folder.clone(),
            has_file: false,
            loose_name: None,
            also: Vec::new(),
            loose: Vec::new(),
            claims: Vec::new(),
        })
        .collect();
    let mut plants: Vec<Plant> = Vec::new();
    let mut gone: Vec<Gone> = Vec::new();
    let mut rosters: Vec<Roster> = Vec::new();
    let mut pages: Vec<FreePage> = Vec::new();
    let mut pictures: Vec<String> = Vec::new();
    let mut unread_entries: Vec<String> = Vec::new();
    for ((path, bytes), read) in content.iter().zip(read) {
        let mut kept = || kept.remove(*path).unwrap_or(Item::Nothing);
        let (item, found) = read.unwrap_or_else(|| (kept(), Vec::new()));
        if !found.is_empty() {
            of_file.insert((*path).to_owned(), found);
        }
        match item {
            Item::Water(water) => waters.push(water),
            Item::Source(source) => sources.push(*source),
            Item::Genus(at, file) => {
                let genus = &mut genera[at];
                genus.has_file = true;
                genus.loose_name = Some(file.loose_name);
                genus.also = file.also;
                genus.loose = file.loose;
                genus.claims = file.claims;
            }
            Item::Plant(plant) => plants.push(*plant),
            Item::Gone(entry) => gone.push(entry),
            Item::Roster(roster) => rosters.push(*roster),
            Item::Page(page) => pages.push(page),
            Item::Picture(path) => pictures.push(path),
            Item::Nothing if matches!(part(path), Part::Plant(_) | Part::Genus(_)) => {
                unread_entries.push(String::from_utf8_lossy(bytes).into_owned());
            }
            Item::Nothing => {}
        }
    }
    for (folder, noun, is_none) in [
        ("content/waters", "water", known.waters.is_empty()),
        ("content/sources", "source", known.sources.is_empty()),
        (
            "content/plants",
            "plant",
            !content
                .iter()
                .any(|(path, _)| matches!(part(path), Part::Plant(_))),
        ),
    ] {
        if is_none {
            faults.push(Diagnostic::none_of(folder, noun));
        }
    }
    let about = about.and_then(|node| about_guide(node, &known, &mut faults));
    // Entries name sources and waters by their place in the sorted list: keep a place for each.
    for id in &known.sources {
        if !sources.iter().any(|source| source.id == *id) {
            sources.push(unread_source(id));
        }
    }
    sources.sort_by(|a, b| a.id.cmp(&b.id));
    for id in &known.waters {
        if !waters.iter().any(|water| water.id == *id) {
            waters.push(Water {
                id: id.clone(),
                title: id.clone(),
                tell_by: Vec::new(),
                conditions: Default::default(),
            });
        }
    }
    waters.sort_by(|a, b| a.id.cmp(&b.id));
    faults.extend(rings(&sources));
    let guide = Guide {
        about: about.unwrap_or_else(unread_about),
        scales: known.scales.clone(),
        conditions: known.conditions.clone(),
        traits: known.traits.clone(),
        forms: known.forms.clone(),
        every_role,
        roles,
        weights,
        regulated,
        waters,
        sources,
        unread_entries,
        genera,
        plants,
        gone,
        rosters,
        pages,
        pictures,
    };
    let read = AsRead {
        general: faults,
        of_file,
        known,
        genera: genera_names,
    };
    (guide, read)
}

fn unread_source(id: &str) -> Source {
    Source {
        id: id.to_owned(),
        is_read: false,
        file: Place::head(&format!("content/sources/{id}.yaml")),
        title: id.to_owned(),
        kind: String::new(),
        authors: Vec::new(),
        publisher: None,
        container: None,
        volume: None,
        issue: None,
        pages: None,
        issued: None,
        url: None,
        accessed: None,
        doi: None,
        isbn: None,
        voice: None,
        repeats: Vec::new(),
        shown_as: None,
        vocabulary: Default::default(),
        claims: Vec::new(),
    }
}

fn unread_about() -> About {
    About {
        title: String::new(),
        address: String::new(),
        publisher: String::new(),
        licence: String::new(),
        theme: Placed::new("stillwater".to_owned(), Place::head("content/guide.yaml")),
        default_water: 0,
        places: Vec::new(),
        contact: None,
        notice: None,
    }
}

fn check_ids(content: &[(&str, &[u8])], faults: &mut Faults) {
    for (path, _) in content {
        let id = match part(path) {
            Part::Water(id)
            | Part::Source(id)
            | Part::Gone(id)
            | Part::Roster(id)
            | Part::Page(id) => id,
            Part::Genus(folder) | Part::Plant(folder) => folder,
            _ => continue,
        };
        if !is_id(id) {
            faults.push(Diagnostic::bad_id(&Place::head(path), id));
        }
    }
}

/// Reads a settings file. A list with a fault in it may lack what others name: it counts as
/// broken, and those names are not reported again.
fn guarded<T: Default>(
    file: &'static str,
    node: Option<Node>,
    known: &mut Settings,
    faults: &mut Faults,
    read: impl FnOnce(Node, &Settings, &mut Faults) -> T,
) -> T {
    let Some(node) = node else {
        return T::default();
    };
    let before = faults.len();
    let out = read(node, known, faults);
    if faults.len() > before {
        known.broken.push(file);
    }
    out
}

/// What one file holds.
pub(crate) enum Item {
    /// A kind of tank or pond.
    Water(Water),
    /// A source.
    Source(Box<Source>),
    /// What a `genus.yaml` says of the genus at this place.
    Genus(usize, entries::GenusFile),
    /// A plant entry.
    Plant(Box<Plant>),
    /// A removed entry.
    Gone(Gone),
    /// A planting.
    Roster(Box<Roster>),
    /// A free page.
    Page(FreePage),
    /// A picture.
    Picture(String),
    /// Nothing that could be read, or a file that is no part of the guide.
    Nothing,
}

/// Reads one file that leans on the settings.
fn item(path: &str, bytes: &[u8], known: &Settings, genera: &[String]) -> (Item, Faults) {
    let mut faults = Vec::new();
    let place = Place::head(path);
    let genus = |folder: &str| {
        genera
            .binary_search_by(|g| g.as_str().cmp(folder))
            .unwrap_or(0)
    };
    let kind = part(path);
    if let Part::Picture(path) = kind {
        return (Item::Picture(path.to_owned()), faults);
    }
    if matches!(kind, Part::Setting | Part::Ignored | Part::Stray) {
        return (Item::Nothing, faults);
    }
    if let Part::Page(id) = kind {
        let item = match utf8(path, bytes) {
            Ok(text) => {
                entries::page(id, place, text, &mut faults).map_or(Item::Nothing, Item::Page)
            }
            Err(fault) => {
                faults.push(*fault);
                Item::Nothing
            }
        };
        return (item, faults);
    }
    let node = match parse(path, bytes) {
        Ok(node) => node,
        Err(fault) => {
            faults.push(*fault);
            return (Item::Nothing, faults);
        }
    };
    let item = match kind {
        Part::Water(id) => settings::water(id, node, known, &mut faults).map(Item::Water),
        Part::Source(id) => entries::source(id, &place, node, known, &mut faults)
            .map(|source| Item::Source(Box::new(source))),
        Part::Genus(folder) => {
            entries::genus(node, known, &mut faults).map(|file| Item::Genus(genus(folder), file))
        }
        Part::Plant(folder) => entries::plant(path, genus(folder), node, known, &mut faults)
            .map(|plant| Item::Plant(Box::new(plant))),
        Part::Gone(slug) => entries::gone(slug, &place, node, &mut faults).map(Item::Gone),
        Part::Roster(id) => entries::roster(id, &place, node, known, &mut faults)
            .map(|roster| Item::Roster(Box::new(roster))),
        _ => None,
    };
    (item.unwrap_or(Item::Nothing), faults)
}

const GUIDE_KEYS: &[&str] = &[
    "title",
    "address",
    "publisher",
    "licence",
    "theme",
    "default-water",
    "places",
    "contact",
    "notice",
];

/// `guide.yaml`.
fn about_guide(node: Node, known: &Settings, faults: &mut Faults) -> Option<About> {
    let mut map = Fields::open(node, "guide.yaml", GUIDE_KEYS, faults)?;
    let title = map.need_text("title", faults);
    let address = map
        .need_text("address", faults)
        .and_then(|text| address(text, faults));
    let publisher = map.need_text("publisher", faults);
    let licence = map.need_text("licence", faults);
    let theme = map
        .text("theme", faults)
        .unwrap_or_else(|| Placed::new("stillwater".to_owned(), map.place.clone()));
    let default_water = map.need_text("default-water", faults).and_then(|id| {
        let found = known.waters.binary_search(&id.value).ok();
        if found.is_none() {
            faults.push(Diagnostic::unknown_id(
                &id.place,
                "water",
                &id.value,
                known.waters.iter().map(String::as_str),
            ));
        }
        found
    });
    let places = map
        .texts("places", faults)
        .into_iter()
        .map(|place| place.value)
        .collect();
    Some(About {
        contact: map.string("contact", faults),
        notice: map.string("notice", faults),
        title: title?.value,
        address: address?,
        publisher: publisher?.value,
        licence: licence?.value,
        default_water: default_water?,
        theme,
        places,
    })
}

fn address(text: Placed<String>, faults: &mut Faults) -> Option<String> {
    let value = text.value.trim();
    let host = value
        .strip_prefix("https://")
        .or_else(|| value.strip_prefix("http://"))
        .map(|rest| rest.split('/').next().unwrap_or_default());
    let is_host = host.is_some_and(|host| {
        !host.is_empty()
            && host
                .bytes()
                .all(|b| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'-' | b':' | b'[' | b']'))
    });
    let is_path = value
        .bytes()
        .all(|b| b.is_ascii_graphic() && !matches!(b, b'"' | b'<' | b'>' | b'?' | b'#'));
    if !is_host || !is_path {
        faults.push(Diagnostic::bad_address(&text.place, &text.value));
        return None;
    }
    Some(if value.ends_with('/') {
        value.to_owned()
    } else {
        format!("{value}/")
    })
}

/// A warning for each ring of sources that repeat one another.
fn rings(sources: &[Source]) -> Vec<Diagnostic> {
    let reach = |from: usize| -> Vec<bool> {
        let mut seen = vec![false; sources.len()];
        let mut stack: Vec<usize> = sources[from].repeats.clone();
        while let Some(at) = stack.pop() {
            if !std::mem::replace(&mut seen[at], true) {
                stack.extend(&sources[at].repeats);
            }
        }
        seen
    };
    let mut told = vec![false; sources.len()];
    let mut out = Vec::new();
    for from in 0..sources.len() {
        if told[from] || sources[from].repeats.is_empty() {
            continue;
        }
        let reached = reach(from);
        if !reached[from] {
            continue;
        }
        let ring: Vec<usize> = (0..sources.len())
            .filter(|other| reached[*other] && reach(*other)[from])
            .collect();
        for member in &ring {
            told[*member] = true;
        }
        let ids: Vec<&str> = ring.iter().map(|at| sources[*at].id.as_str()).collect();
        out.push(Diagnostic::ring(&sources[from].file, &ids));
    }
    out
}
