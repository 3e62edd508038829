//! The end of a reading: hybrid kind, looseness, and the canonical name.

use crate::names::parse::Hybrid;
use crate::names::parse::ParsedName;
use crate::names::parse::Part;
use crate::names::parse::Place;
use crate::names::parse::reader::Reader;

impl Reader {
    /// Settles what could not be settled word by word.
    pub(super) fn finished(mut self) -> ParsedName {
        if let Some(qualifier) = self.pending.take() {
            self.qualify(qualifier, Place::End);
        }
        let is_autonym = self.name.species.is_some()
            && self.name.infraspecific_rank.is_some()
            && self.name.infraspecific_epithet == self.name.species;
        if is_autonym && self.species_author.is_some() {
            self.name.authorship = self.species_author.take();
        }
        if self.name.infraspecific_epithet.is_some() && self.name.species.is_none() {
            self.note_loose("species-missing");
        }
        let is_capitals_only = self
            .name
            .trade_designation
            .as_deref()
            .is_some_and(|text| !text.contains(char::is_lowercase));
        let is_unquoted = is_capitals_only && self.name.cultivar.is_none() && self.open.is_none();
        if is_unquoted && !self.name.repairs.contains(&"unbalanced-quote") {
            self.note_loose("unquoted-trailing-words");
        }
        self.set_hybrid();
        let is_open = !matches!(self.name.qualifier.as_deref(), None | Some("s.str."));
        self.name.loose = self.has_loose_words || is_open || !self.name.has_epithet();
        self.name.canonical = Some(self.written(self.name.qualifier.as_deref()));
        self.name.undoubted = Some(self.written(None));
        self.name
    }

    fn set_hybrid(&mut self) {
        // A name has one sign, at the highest part that bears it.
        if self.genus_sign.is_some() && self.species_sign.take().is_some() {
            self.note("second-sign-dropped");
        }
        let is_notho_rank = self
            .name
            .infraspecific_rank
            .as_deref()
            .is_some_and(|rank| rank.starts_with("notho"));
        self.name.hybrid = match (self.genus_sign, self.species_sign) {
            (Some('+'), _) | (_, Some('+')) => Some(Hybrid::GraftChimaera),
            (Some(_), _) => Some(Hybrid::Nothogenus),
            (None, Some(_)) => Some(Hybrid::Nothospecies),
            (None, None) => is_notho_rank.then_some(Hybrid::NothotaxonInfraspecific),
        };
    }

    /// The name as it is best written, with this qualifier.
    fn written(&self, qualifier: Option<&str>) -> String {
        let name = &self.name;
        let signed = |sign: Option<char>, word: &String| match sign {
            Some(sign) => format!("{sign}{word}"),
            None => word.clone(),
        };
        let infraspecific =
            name.infraspecific_epithet
                .as_ref()
                .map(|epithet| match &name.infraspecific_rank {
                    Some(rank) => format!("{rank} {epithet}"),
                    None => epithet.clone(),
                });
        // Brackets keep a Group apart from another epithet of cultivated plants.
        let is_alone = name.cultivar.is_none() && name.grex.is_none();
        let group = name.group.as_ref().map(|group| match is_alone {
            true => format!("{group} Group"),
            false => format!("({group} Group)"),
        });
        let parts = [
            (
                Part::Genus,
                name.genus
                    .as_ref()
                    .map(|genus| signed(self.genus_sign, genus)),
            ),
            (
                Part::Species,
                name.species
                    .as_ref()
                    .map(|word| signed(self.species_sign, word)),
            ),
            (Part::Infraspecific, infraspecific),
            (
                Part::Grex,
                name.grex.as_ref().map(|grex| format!("{grex} grex")),
            ),
            (Part::Group, group),
            (
                Part::Cultivar,
                name.cultivar.as_ref().map(|epithet| format!("'{epithet}'")),
            ),
        ];
        let written: Vec<(Part, String)> = parts
            .into_iter()
            .filter_map(|(part, text)| Some((part, text?)))
            .collect();
        let last = written.last().map(|(part, _)| *part);
        let before = match self.place {
            Place::Before(part) => Some(part),
            Place::After(part) if Some(part) != last => Some(part),
            Place::After(_) | Place::End => None,
        };
        let is_placed = written.iter().any(|(part, _)| Some(*part) == before);
        let mut text = String::new();
        for (part, part_text) in &written {
            if !text.is_empty() {
                text.push(' ');
            }
            if let Some(qualifier) = qualifier.filter(|_| Some(*part) == before) {
                text.push_str(qualifier);
                if qualifier != "?" {
                    text.push(' ');
                }
            }
            text.push_str(part_text);
        }
        if let Some(qualifier) = qualifier.filter(|_| !is_placed) {
            if qualifier != "?" {
                text.push(' ');
            }
            text.push_str(qualifier);
        }
        text
    }
}
