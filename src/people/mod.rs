//! A person renamed or removed everywhere in the content: authors, ids, prose, editions.
//!
//! Works on the files as text and changes as little of them as it can; knows nothing of the disk.

pub mod disk;

mod name;

mod sources;

mod plan;

use std::collections::{BTreeMap, BTreeSet};

use crate::content::{Guide, Input};
use crate::editions::{Edition, text};

pub use name::Person;
pub use plan::plan;

/// What becomes of a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// The person has another name.
    Rename(Person),
    /// The person is no longer named; this stands instead.
    Remove(String),
}

/// One place that is changed.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Touch {
    /// File, by its path before.
    pub file: String,
    /// Line in it before.
    pub line: usize,
    /// What is changed, and into what.
    pub what: String,
}

/// A place that may speak of the person and that a human must look at.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mention {
    /// File, by its path after.
    pub file: String,
    /// Line in it after; 0 where the name of the file is meant.
    pub line: usize,
    /// The line.
    pub text: String,
}

/// What a change does to the content.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Plan {
    /// For each path that is written or removed, its bytes after.
    pub files: BTreeMap<String, Option<Vec<u8>>>,
    /// Everything that is changed, by file and line.
    pub touched: Vec<Touch>,
    /// Everything that a human must look at.
    pub mentions: Vec<Mention>,
    /// The person, as the guide spells the name.
    pub person: Option<Person>,
    /// Authors whose names are spelled almost so, where nothing was found.
    pub near: Vec<String>,
    /// Ids of sources, before and after.
    pub ids: BTreeMap<String, String>,
}

/// A person by the spelling that the guide's sources have, where case or blanks differ.
pub fn as_written(guide: &Guide, person: &Person) -> Person {
    let mut authors = guide.sources.iter().flat_map(|source| &source.authors);
    let found = authors.find(|author| person.is(author));
    found.map_or_else(|| person.clone(), Person::of)
}

/// Authors whose names are spelled almost so, sorted.
pub fn near(guide: &Guide, person: &Person) -> Vec<String> {
    let wanted = person.full().to_lowercase();
    let authors = guide.sources.iter().flat_map(|source| &source.authors);
    let names = authors.map(|author| Person::of(author).full());
    let most = wanted.chars().count() / 4;
    let is_near = |name: &String| strsim::osa_distance(&wanted, &name.to_lowercase()) <= most;
    let near: BTreeSet<String> = names.filter(is_near).collect();
    near.into_iter().collect()
}

impl Plan {
    /// The content after the change.
    pub fn applied(&self, input: &Input) -> Input {
        let mut files: BTreeMap<String, Vec<u8>> = input.files.iter().cloned().collect();
        for (path, bytes) in &self.files {
            match bytes {
                Some(bytes) => files.insert(path.clone(), bytes.clone()),
                None => files.remove(path),
            };
        }
        Input {
            files: files.into_iter().collect(),
            unread: input.unread.clone(),
        }
    }

    /// Gives the editions the stamps that rules and sources have after the change, wherever they
    /// had those of before: a change of names is no shift.
    pub fn restamp(&mut self, editions: &[Edition], before: &Edition, after: &Edition) {
        for edition in editions {
            let Some(date) = edition.head.date else {
                continue;
            };
            let mut new = edition.clone();
            for (file, stamp) in &mut new.rules {
                if before.rules.get(file) == Some(stamp)
                    && let Some(now) = after.rules.get(file)
                {
                    stamp.clone_from(now);
                }
            }
            for (id, stamp) in &mut new.sources {
                let old = self
                    .ids
                    .iter()
                    .find(|(_, new)| *new == id)
                    .map_or(id, |(old, _)| old);
                if before.sources.get(old) == Some(stamp)
                    && let Some(now) = after.sources.get(id)
                {
                    stamp.clone_from(now);
                }
            }
            if new != *edition {
                let path = crate::editions::path(date);
                self.files.insert(path, Some(text(&new).into_bytes()));
            }
        }
    }

    /// Whether two records say the same of every plant, but for the ids of sources.
    pub fn weighs_the_same(&self, before: &Edition, after: &Edition) -> bool {
        let mut renamed = before.plants.clone();
        for graded in renamed
            .values_mut()
            .flat_map(|plant| plant.traits.values_mut())
        {
            self.rename_claims(&mut graded.claims);
        }
        renamed == after.plants
    }

    fn rename_claims(&self, claims: &mut [(String, String)]) {
        for (source, _) in claims.iter_mut() {
            if let Some(new) = self.ids.get(source) {
                source.clone_from(new);
            }
        }
        claims.sort();
    }
}
