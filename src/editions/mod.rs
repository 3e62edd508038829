//! Editions: dated, numbered records of all grades and standings, and what moved between two.
//!
//! An edition knows ids and words only, so that it can still be read when the plants, sources and
//! rules that it speaks of are gone. Knows nothing of pages and no clock: its day is given.

mod file;

mod record;

mod shift;

pub(crate) mod tell;

use std::collections::BTreeMap;

use jiff::civil::Date;

pub use file::{path, read, text};
pub use record::record;
pub use shift::{
    Cause, ClaimShift, PlantShift, Shifts, Step, Tally, TraitShift, Turn, What, Whence, shifts,
};
pub use tell::{Told, as_json, as_markdown, as_text, claim_words, tally as as_tally};

use crate::reconcile::grade::Confidence;
use crate::roles::Word;

/// What is said of an edition beside its record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Its day; `None` for the guide as it is, which is no edition yet.
    pub date: Option<Date>,
    /// 1, 2, 3 … by day.
    pub number: u32,
    /// What the club says of it.
    pub note: String,
}

/// A record of all grades and standings.
#[derive(Debug, Clone, PartialEq)]
pub struct Edition {
    /// Its day, number and note.
    pub head: Head,
    /// The program that weighed it.
    pub made_with: String,
    /// Roles of the guide then, sorted.
    pub roles: Vec<String>,
    /// Waters of the guide then, sorted.
    pub waters: Vec<String>,
    /// For each file that rules the weighing, a stamp of what it says.
    pub rules: BTreeMap<String, String>,
    /// For each source, a stamp of its kind, voice, originals and words.
    pub sources: BTreeMap<String, String>,
    /// By page address.
    pub plants: BTreeMap<String, Recorded>,
}

impl Edition {
    /// The plant of an address, or of one of the addresses that it has had.
    pub fn plant<'a, 'b>(
        &'a self,
        slug: &'b str,
        formerly: impl IntoIterator<Item = &'b str>,
    ) -> Option<(&'a str, &'a Recorded)> {
        std::iter::once(slug)
            .chain(formerly)
            .find_map(|slug| self.plants.get_key_value(slug))
            .map(|(slug, recorded)| (slug.as_str(), recorded))
    }
}

/// What an edition holds of a plant.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// Its name.
    pub name: String,
    /// Its growth forms.
    pub forms: Vec<String>,
    /// Addresses that it has had.
    pub formerly: Vec<String>,
    /// By trait.
    pub traits: BTreeMap<String, Graded>,
    /// By role, by water; without those that its forms cannot have.
    pub standings: BTreeMap<String, BTreeMap<String, Word>>,
}

impl Recorded {
    /// A standing; `None` where its forms could not have one.
    pub fn standing(&self, role: &str, water: &str) -> Option<Word> {
        self.standings.get(role)?.get(water).copied()
    }
}

/// What an edition holds of a trait of a plant.
#[derive(Debug, Clone, PartialEq)]
pub struct Graded {
    /// Whatever the water.
    pub overall: Mark,
    /// In each water where it is another.
    pub in_water: BTreeMap<String, Mark>,
    /// Every claim on it, by source and stamp, sorted; one made twice stands twice.
    pub claims: Vec<(String, String)>,
}

impl Graded {
    /// The grade in a water.
    pub fn in_water(&self, water: &str) -> &Mark {
        self.in_water.get(water).unwrap_or(&self.overall)
    }
}

/// A grade as an edition keeps it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// The level's id, or both ends of a span in print; `None` where nothing was weighed.
    pub level: Option<String>,
    /// How sure the guide was.
    pub confidence: Confidence,
    /// Good sources stood far apart.
    pub is_contested: bool,
}
