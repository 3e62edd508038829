//! Which plants a name means: accepted names, synonyms, selling names, vernaculars, loose names.

mod tokens;

mod words;

pub mod parse;

pub mod slug;

use std::collections::{BTreeMap, BTreeSet};

use crate::content::{Covers, Guide, Listing};
use crate::diagnostic::{Diagnostic, Placed};
use crate::names::parse::{Hybrid, Openness, ParsedName, parse};
use crate::names::slug::{key, slug};

/// A plant by its place in [`Names::plants`], which is sorted by slug.
pub type PlantId = usize;

/// All names of a guide.
#[derive(Debug, Clone)]
pub struct Names {
    /// Plants sorted by slug.
    pub plants: Vec<PlantName>,
    /// For each genus of the guide, the loose names below it.
    pub loose: Vec<Vec<LooseName>>,
    /// For each genus of the guide, its plants.
    of_genus: Vec<Vec<PlantId>>,
    /// For each genus, its name as its plants have it.
    pub genera: Vec<String>,
    index: BTreeMap<String, Entry>,
    /// Keys of what may be a name in an entry that could not be read.
    unread: BTreeSet<String>,
}

/// A plant's accepted name.
#[derive(Debug, Clone)]
pub struct PlantName {
    /// Index in the guide's plants.
    pub entry: usize,
    /// Page address.
    pub slug: String,
    /// As the entry writes it.
    pub name: String,
    /// Parsed.
    pub parsed: ParsedName,
    /// Index in the guide's genera.
    pub genus: usize,
}

/// A loose name below the genus.
#[derive(Debug, Clone)]
pub struct LooseName {
    /// As written.
    pub name: String,
    /// The plants it covers.
    pub covers: Vec<PlantId>,
}

#[derive(Debug, Clone, Default)]
struct Entry {
    shown: String,
    plants: Vec<PlantId>,
    loose: Option<(usize, Option<usize>)>,
}

/// How surely a name means the plant found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Surety {
    /// It is a name of the plant.
    Exact,
    /// The name was given with *cf.* or in doubt.
    Cf,
    /// The name was given with *aff.*: another plant, near this one.
    Aff,
}

/// What a name means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Found {
    /// One plant.
    Plant(PlantId, Surety),
    /// Several entries, and no loose name says so.
    Several(Vec<PlantId>),
    /// A loose name.
    Loose {
        /// Index of the genus.
        genus: usize,
        /// Row of the genus's loose names, or the genus as a whole.
        row: Option<usize>,
        /// The plants it covers.
        plants: Vec<PlantId>,
    },
    /// No plant of the guide.
    Nothing {
        /// Names that are near, nearest first.
        near: Vec<String>,
        /// The name cannot mean one plant.
        is_loose: bool,
        /// The name says "not that one".
        is_akin: bool,
    },
}

/// How a legal listing bears on a plant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Listed {
    /// The plant is on the list.
    Yes,
    /// Its name is near a listed one.
    Near,
    /// Neither.
    No,
}

/// Builds the names of a guide.
pub fn names(guide: &Guide) -> (Names, Vec<Diagnostic>) {
    let mut faults = Vec::new();
    let mut plants: Vec<PlantName> = Vec::new();
    for (entry, plant) in guide.plants.iter().enumerate() {
        let parsed = parse(&plant.name.value);
        let slug = slug(&plant.name.value);
        let folder = &guide.genera[plant.genus].folder;
        let written_genus = genus_of(&parsed, &plant.name.value);
        if slug.is_empty() || written_genus.is_empty() {
            faults.push(Diagnostic::bad_plant_name(
                &plant.name.place,
                &plant.name.value,
                "it has no genus",
            ));
            continue;
        }
        if crate::names::slug::slug(&written_genus) != *folder {
            faults.push(Diagnostic::genus_folder(
                &plant.name.place,
                &written_genus,
                folder,
            ));
        }
        plants.push(PlantName {
            entry,
            slug,
            name: plant.name.value.trim().to_owned(),
            parsed,
            genus: plant.genus,
        });
    }
    plants.sort_by(|a, b| (&a.slug, a.entry).cmp(&(&b.slug, b.entry)));
    plants.dedup_by(|later, first| {
        let is_taken = later.slug == first.slug;
        if is_taken {
            faults.push(Diagnostic::slug_taken(
                &guide.plants[later.entry].name.place,
                &later.slug,
                &guide.plants[first.entry].name.place,
            ));
        }
        is_taken
    });

    let mut of_genus = vec![Vec::new(); guide.genera.len()];
    let mut genera: Vec<String> = guide
        .genera
        .iter()
        .map(|genus| genus.title.clone())
        .collect();
    for (id, plant) in plants.iter().enumerate() {
        if of_genus[plant.genus].is_empty() {
            genera[plant.genus] = genus_of(&plant.parsed, &plant.name);
        }
        of_genus[plant.genus].push(id);
    }
    let mut out = Names {
        loose: vec![Vec::new(); guide.genera.len()],
        plants,
        of_genus,
        genera,
        index: BTreeMap::new(),
        unread: guide
            .unread_entries
            .iter()
            .flat_map(|text| possible_names(text))
            .collect(),
    };
    out.index_plants(guide);
    out.index_loose(guide, &mut faults);
    out.check_addresses(guide, &mut faults);
    (out, faults)
}

/// Keys of all that may be a name above the claims of an entry that is not YAML.
fn possible_names(text: &str) -> impl Iterator<Item = String> {
    let head = text.split("\nclaims:").next().unwrap_or_default();
    let piece = |piece: &str| {
        let trimmed = piece.trim().trim_start_matches("- ").trim();
        let bare = trimmed.trim_matches('"');
        key(bare)
    };
    let pieces = head
        .split(['\n', ':', ',', '[', ']', '{', '}', '#'])
        .map(piece);
    pieces.filter(|key| !key.is_empty())
}

fn genus_of(parsed: &ParsedName, written: &str) -> String {
    let genus = parsed.genus.clone().or_else(|| {
        // A formula of two genera has none of its own: its first word files it.
        let first = written.trim().trim_start_matches(['×', '+']).trim();
        first.split_whitespace().next().map(str::to_owned)
    });
    genus.unwrap_or_default()
}

impl Names {
    /// The plants of a genus.
    pub fn of_genus(&self, genus: usize) -> Vec<PlantId> {
        self.of_genus[genus].clone()
    }

    fn keys_of(name: &str) -> Vec<String> {
        let mut keys = vec![key(name)];
        if let Some(canonical) = parse(name).canonical {
            let canonical = key(&canonical);
            if !keys.contains(&canonical) {
                keys.push(canonical);
            }
        }
        keys
    }

    fn index_plants(&mut self, guide: &Guide) {
        for id in 0..self.plants.len() {
            let entry = &guide.plants[self.plants[id].entry];
            for name in entry.all_names() {
                for key in Names::keys_of(&name.value) {
                    let slot = self.index.entry(key).or_default();
                    if slot.shown.is_empty() {
                        slot.shown = name.value.trim().to_owned();
                    }
                    if !slot.plants.contains(&id) {
                        slot.plants.push(id);
                    }
                }
            }
        }
    }

    fn index_loose(&mut self, guide: &Guide, faults: &mut Vec<Diagnostic>) {
        for (genus, entry) in guide.genera.iter().enumerate() {
            for row in &entry.loose {
                let mut covers = Vec::new();
                for name in &row.covers {
                    if let Some(id) = self.one(name, faults)
                        && !covers.contains(&id)
                    {
                        covers.push(id);
                    }
                }
                covers.sort_unstable();
                self.loose[genus].push(LooseName {
                    name: row.name.value.clone(),
                    covers,
                });
            }
        }
        for (genus, entry) in guide.genera.iter().enumerate() {
            let whole = entry
                .loose_name
                .iter()
                .chain(&entry.also)
                .map(|name| (name, None));
            let rows = entry
                .loose
                .iter()
                .enumerate()
                .map(|(at, row)| (&row.name, Some(at)));
            for (name, row) in whole.chain(rows) {
                let slot = self.index.entry(key(&name.value)).or_default();
                if slot.loose.is_none() {
                    slot.loose = Some((genus, row));
                } else if slot.loose != Some((genus, row)) {
                    faults.push(Diagnostic::declared_twice(
                        &name.place,
                        "loose name",
                        &name.value,
                    ));
                }
                if slot.shown.is_empty() {
                    slot.shown = name.value.trim().to_owned();
                }
            }
        }
    }

    /// Former addresses must be free, and what stands instead of a removed entry must be there.
    fn check_addresses(&self, guide: &Guide, faults: &mut Vec<Diagnostic>) {
        let slugs: Vec<&str> = self
            .plants
            .iter()
            .map(|plant| plant.slug.as_str())
            .collect();
        let mut taken: BTreeMap<&str, &crate::diagnostic::Place> = BTreeMap::new();
        for plant in &self.plants {
            let entry = &guide.plants[plant.entry];
            taken.insert(&plant.slug, &entry.name.place);
        }
        let formers = guide.plants.iter().flat_map(|entry| &entry.formerly);
        let formers = formers.map(|slug| (slug.value.as_str(), &slug.place));
        let gone = guide
            .gone
            .iter()
            .map(|gone| (gone.slug.as_str(), &gone.place));
        for (slug, place) in formers.chain(gone) {
            match taken.get(slug) {
                Some(other) => faults.push(Diagnostic::slug_taken(place, slug, other)),
                None => {
                    taken.insert(slug, place);
                }
            }
        }
        for entry in &guide.gone {
            for slug in &entry.instead {
                if !slugs.contains(&slug.value.as_str()) {
                    faults.push(Diagnostic::unknown_id(
                        &slug.place,
                        "plant address",
                        &slug.value,
                        slugs.iter().copied(),
                    ));
                }
            }
        }
    }

    /// What a name means.
    pub fn find(&self, name: &str) -> Found {
        if let Some(found) = self.look_up(&key(name), Surety::Exact) {
            return found;
        }
        // The terms of open nomenclature are read as words first: they hold whether or not the
        // rest of the name is Latin in shape.
        let terms = OpenTerms::of(name);
        let parsed = parse(name);
        let doubt = parsed.doubt();
        let is_akin = terms.is_aff || doubt == Openness::Aff;
        let surety = if is_akin { Surety::Aff } else { Surety::Cf };
        let without = terms
            .without
            .iter()
            .chain(&parsed.without_doubt())
            .cloned()
            .collect::<Vec<_>>();
        for base in without {
            match self.look_up(&key(&base), surety) {
                // *aff.* of a name that covers several is none of them.
                Some(Found::Several(_)) if is_akin => {}
                Some(found) => return found,
                None => {}
            }
        }
        let is_open = terms.is_alone
            || terms.is_sp
            || matches!(doubt, Openness::Sp | Openness::Spp | Openness::GenusAlone);
        if is_open && !is_akin {
            let genus = parsed.genus.as_deref().unwrap_or(&terms.first);
            let folder = slug(genus);
            if let Some(at) = self.genera.iter().position(|g| slug(g) == folder) {
                return Found::Loose {
                    genus: at,
                    row: None,
                    plants: self.of_genus(at),
                };
            }
        }
        if !parsed.loose
            && let Some(canonical) = &parsed.canonical
            && let Some(found) = self.look_up(&key(canonical), Surety::Exact)
        {
            return found;
        }
        Found::Nothing {
            near: self.near(name),
            is_loose: !is_akin
                && (terms.is_sp
                    || terms.without.is_some()
                    || !matches!(doubt, Openness::None | Openness::Sensu)),
            is_akin,
        }
    }

    fn look_up(&self, key: &str, surety: Surety) -> Option<Found> {
        let entry = self.index.get(key)?;
        if let Some((genus, row)) = entry.loose
            && surety != Surety::Aff
        {
            let plants = match row {
                Some(row) => self.loose[genus][row].covers.clone(),
                None => self.of_genus(genus),
            };
            return Some(Found::Loose { genus, row, plants });
        }
        match entry.plants.as_slice() {
            [] => None,
            [one] => Some(Found::Plant(*one, surety)),
            several => Some(Found::Several(several.to_vec())),
        }
    }

    /// Names of the guide that are near to one it does not know.
    pub fn near(&self, name: &str) -> Vec<String> {
        let wanted = key(name);
        let length = wanted.chars().count();
        let mut near: Vec<(usize, &str)> = self
            .index
            .iter()
            .filter_map(|(key, entry)| {
                let distance = strsim::osa_distance(&wanted, key);
                let is_near = distance <= length.max(key.chars().count()) / 4;
                // A species named without its cultivar, or a cultivar without its species.
                let is_part = length >= 4 && (key.starts_with(&wanted) || key.ends_with(&wanted));
                (is_near || is_part).then_some((distance, entry.shown.as_str()))
            })
            .collect();
        near.sort_unstable();
        near.dedup();
        near.into_iter()
            .take(5)
            .map(|(_, shown)| shown.to_owned())
            .collect()
    }

    /// The one plant that a name must mean; anything else is a fault.
    pub fn one(&self, name: &Placed<String>, faults: &mut Vec<Diagnostic>) -> Option<PlantId> {
        let shown = |plants: &[PlantId]| -> Vec<String> {
            plants
                .iter()
                .map(|id| self.plants[*id].name.clone())
                .collect()
        };
        match self.find(&name.value) {
            Found::Plant(id, Surety::Exact) => Some(id),
            Found::Plant(id, _) => {
                let fits = shown(&[id]);
                faults.push(Diagnostic::loose_where_plant(
                    &name.place,
                    &name.value,
                    fits.iter().map(String::as_str),
                ));
                None
            }
            Found::Several(plants) => {
                let fits = shown(&plants);
                faults.push(Diagnostic::ambiguous_name(
                    &name.place,
                    &name.value,
                    fits.iter().map(String::as_str),
                ));
                None
            }
            Found::Loose { plants, .. } => {
                // An accepted name may also be declared loose; where one plant is meant it wins.
                let wanted = key(&name.value);
                if let Some(id) = self
                    .plants
                    .iter()
                    .position(|plant| key(&plant.name) == wanted)
                {
                    return Some(id);
                }
                let fits = shown(&plants);
                faults.push(Diagnostic::loose_where_plant(
                    &name.place,
                    &name.value,
                    fits.iter().map(String::as_str),
                ));
                None
            }
            Found::Nothing { near, .. } => {
                self.unknown(name, &near, faults);
                None
            }
        }
    }

    /// Whether a name stands in an entry that could not be read.
    pub(crate) fn is_unread(&self, name: &str) -> bool {
        self.unread.contains(&key(name))
    }

    /// Tells of a name that fits nothing, unless it stands in an entry that could not be read:
    /// that entry has its own fault, and once it is mended the name fits.
    pub(crate) fn unknown(
        &self,
        name: &Placed<String>,
        near: &[String],
        faults: &mut Vec<Diagnostic>,
    ) {
        if !self.is_unread(&name.value) {
            faults.push(Diagnostic::unknown_name(
                &name.place,
                &name.value,
                near.iter().map(String::as_str),
            ));
        }
    }

    /// How a legal listing bears on a plant.
    ///
    /// A listed taxon covers the plant whose accepted name or synonym is the taxon or stands
    /// below it; a listed genus covers the genus of the accepted name. A *cf.*, *aff.*, *sp.* or
    /// hybrid name near a listed one, and a synonym in a listed genus, are only near.
    pub fn listed(&self, id: PlantId, guide: &Guide, listing: &Listing) -> Listed {
        Lawful::of(self, id, guide).under(&Listings::of(listing))
    }
}

/// What a legal listing covers, read once for all plants.
pub(crate) enum Listings {
    /// A genus, by its slug.
    Genus(String),
    /// A taxon: its key, and its name read.
    Taxon(String, Box<ParsedName>),
}

impl Listings {
    pub(crate) fn of(listing: &Listing) -> Listings {
        match &listing.covers {
            Covers::Genus(genus) => Listings::Genus(slug(genus)),
            Covers::Taxon(taxon) => Listings::Taxon(key(taxon), Box::new(parse(taxon))),
        }
    }
}

/// The names of a plant that the law may have, read once for all listings.
pub(crate) struct Lawful<'a> {
    parsed: &'a ParsedName,
    synonyms: Vec<ParsedName>,
    parents: Vec<ParsedName>,
    /// Keys of its names as written, without those in doubt: they are near at most, which their
    /// parts decide.
    keys: Vec<String>,
}

impl<'a> Lawful<'a> {
    pub(crate) fn of(names: &'a Names, id: PlantId, guide: &Guide) -> Lawful<'a> {
        let plant = &names.plants[id];
        let synonyms = &guide.plants[plant.entry].synonyms;
        let written = std::iter::once(&plant.name).chain(synonyms.iter().map(|name| &name.value));
        Lawful {
            parsed: &plant.parsed,
            synonyms: synonyms.iter().map(|name| parse(&name.value)).collect(),
            parents: formula_parents(&plant.name),
            keys: written
                .filter(|name| OpenTerms::of(name).without.is_none())
                .map(|name| key(name))
                .collect(),
        }
    }

    pub(crate) fn under(&self, listing: &Listings) -> Listed {
        match listing {
            Listings::Genus(genus) => {
                let in_genus =
                    |name: &ParsedName| name.genus.as_deref().is_some_and(|g| slug(g) == *genus);
                if in_genus(self.parsed) {
                    Listed::Yes
                } else if self.synonyms.iter().any(in_genus) || self.parents.iter().any(in_genus) {
                    Listed::Near
                } else {
                    Listed::No
                }
            }
            Listings::Taxon(listed, taxon) => {
                // Equal or with more after it, as written: holds for any spelling both share.
                let is_formula = self.parsed.hybrid == Some(Hybrid::Formula);
                for name in &self.keys {
                    let goes_on = name
                        .strip_prefix(listed.as_str())
                        .is_some_and(|rest| rest.starts_with(' '));
                    if name == listed || (goes_on && !is_formula && listed.contains(' ')) {
                        return Listed::Yes;
                    }
                }
                let mut out = Listed::No;
                for name in std::iter::once(self.parsed).chain(&self.synonyms) {
                    match below(name, taxon) {
                        Listed::Yes => return Listed::Yes,
                        Listed::Near => out = Listed::Near,
                        Listed::No => {}
                    }
                }
                if self
                    .parents
                    .iter()
                    .any(|parent| below(parent, taxon) != Listed::No)
                {
                    out = Listed::Near;
                }
                out
            }
        }
    }
}

/// The terms of open nomenclature in a name, read as words.
struct OpenTerms {
    /// The first word.
    first: String,
    /// One word.
    is_alone: bool,
    /// A first word with *sp.* or *spp.*
    is_sp: bool,
    /// There is an *aff.*
    is_aff: bool,
    /// The name with *cf.*, *aff.* and `?` left out, if there was one.
    without: Option<String>,
}

impl OpenTerms {
    fn of(name: &str) -> OpenTerms {
        let words: Vec<&str> = name.split_whitespace().collect();
        let bare = |word: &str| word.trim_end_matches('.').to_lowercase();
        let is_term = |word: &str| matches!(bare(word).as_str(), "cf" | "aff" | "?");
        let kept: Vec<&str> = words
            .iter()
            .copied()
            .filter(|word| !is_term(word))
            .collect();
        OpenTerms {
            first: kept
                .first()
                .map_or_else(String::new, |word| (*word).to_owned()),
            is_alone: kept.len() == 1,
            is_sp: match kept.as_slice() {
                [_, second] => matches!(bare(second).as_str(), "sp" | "spp"),
                _ => false,
            },
            is_aff: words.iter().any(|word| bare(word) == "aff"),
            without: (kept.len() < words.len()).then(|| kept.join(" ")),
        }
    }
}

/// The parents of a hybrid formula; none for other names.
fn formula_parents(name: &str) -> Vec<ParsedName> {
    if parse(name).hybrid != Some(Hybrid::Formula) {
        return Vec::new();
    }
    let genus = name
        .split_whitespace()
        .next()
        .unwrap_or_default()
        .to_owned();
    name.split('×')
        .map(|parent| {
            let parent = parent.trim();
            // `S. caprea` beside `Salix aurita` keeps its genus.
            match parent.split_once(". ") {
                Some((initial, rest)) if initial.len() == 1 && genus.starts_with(initial) => {
                    parse(&format!("{genus} {rest}"))
                }
                _ => parse(parent),
            }
        })
        .collect()
}

/// Whether a name is the taxon or stands below it.
fn below(name: &ParsedName, taxon: &ParsedName) -> Listed {
    let same = |a: &Option<String>, b: &Option<String>| match (a, b) {
        (Some(a), Some(b)) => key(a) == key(b),
        _ => false,
    };
    if !same(&name.genus, &taxon.genus) {
        return Listed::No;
    }
    if taxon.species.is_some() && !same(&name.species, &taxon.species) {
        // A genus alone, or `sp.`, may be the listed species.
        let is_open = name.species.is_none()
            && matches!(
                name.doubt(),
                Openness::Sp | Openness::Spp | Openness::GenusAlone
            );
        return if is_open { Listed::Near } else { Listed::No };
    }
    if taxon.infraspecific_epithet.is_some()
        && !same(&name.infraspecific_epithet, &taxon.infraspecific_epithet)
    {
        return Listed::No;
    }
    match name.doubt() {
        Openness::None | Openness::GenusAlone => Listed::Yes,
        _ => Listed::Near,
    }
}
