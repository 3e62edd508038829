//! One reading of a name: its state, and the way to the epithet of the species.

use crate::names::parse::Depth;
use crate::names::parse::Hybrid;
use crate::names::parse::ParsedName;
use crate::names::parse::Part;
use crate::names::parse::Place;
use crate::names::parse::refused;
use crate::names::parse::spelling;
use crate::names::tokens;
use crate::names::tokens::Sign;
use crate::names::tokens::Spacing;
use crate::names::tokens::Token;
use crate::names::tokens::note;
use crate::names::words;
use crate::names::words::Joint;
use crate::names::words::Qualifier;

/// The state of one reading: the tokens, where it stands, and what it has found.
pub(super) struct Reader {
    pub(super) tokens: Vec<Token>,
    pub(super) at: usize,
    pub(super) depth: Depth,
    pub(super) name: ParsedName,
    /// The last part found.
    pub(super) last_part: Part,
    /// A qualifier met, and not yet the part it stands before.
    pub(super) pending: Option<&'static str>,
    pub(super) place: Place,
    /// The sign before the genus or the species: `×` or `+`.
    pub(super) genus_sign: Option<char>,
    pub(super) species_sign: Option<char>,
    pub(super) rank_depth: u8,
    pub(super) species_author: Option<String>,
    /// `sp.` or `spp.`, while no species follows.
    pub(super) open: Option<Qualifier>,
    /// The words of a Group or grex: from the first to the marker.
    pub(super) marked_run: Option<(usize, usize)>,
    pub(super) has_loose_words: bool,
}

impl Reader {
    pub(super) fn new(tokens: Vec<Token>, repairs: Vec<&'static str>, depth: Depth) -> Reader {
        let marked_run = marked_run(&tokens);
        Reader {
            tokens,
            at: 0,
            depth,
            name: ParsedName {
                repairs,
                ..ParsedName::default()
            },
            last_part: Part::Genus,
            pending: None,
            place: Place::End,
            genus_sign: None,
            species_sign: None,
            rank_depth: 0,
            species_author: None,
            open: None,
            marked_run,
            has_loose_words: false,
        }
    }

    pub(super) fn name(mut self) -> ParsedName {
        self.read_opening();
        if self.read_genus().is_none() {
            return refused("not-a-scientific-name");
        }
        if self.read_formula() {
            self.name.loose = true;
            return self.name;
        }
        if self.read_species().is_none() {
            return refused("not-a-scientific-name");
        }
        while self.at < self.tokens.len() {
            self.read_next();
        }
        self.finished()
    }

    pub(super) fn note(&mut self, repair: &'static str) {
        note(&mut self.name.repairs, repair);
    }

    pub(super) fn note_some(&mut self, repair: Option<&'static str>) {
        if let Some(repair) = repair {
            self.note(repair);
        }
    }

    /// A repair that leaves the name to a person.
    pub(super) fn note_loose(&mut self, repair: &'static str) {
        self.note(repair);
        self.has_loose_words = true;
    }

    pub(super) fn stop(&mut self) {
        self.at = self.tokens.len();
    }

    pub(super) fn word(&self, index: usize) -> Option<&str> {
        match self.tokens.get(index) {
            Some(Token::Word(word)) => Some(word),
            _ => None,
        }
    }

    /// Notes that a part has been found, and what stood before it.
    pub(super) fn found(&mut self, part: Part) {
        if let Some(qualifier) = self.pending.take() {
            self.qualify(qualifier, Place::Before(part));
        }
        self.last_part = part;
    }

    /// Keeps the qualifier that forbids most; a name has room for one.
    pub(super) fn qualify(&mut self, qualifier: &str, place: Place) {
        let weight = |qualifier: &str| match qualifier {
            "aff." => 4,
            "cf." => 3,
            "sp." | "spp." => 2,
            "?" => 1,
            _ => 0,
        };
        if let Some(present) = &self.name.qualifier {
            let is_weaker = weight(qualifier) <= weight(present);
            self.note("variant-qualifier");
            if is_weaker {
                return;
            }
        }
        self.name.qualifier = Some(qualifier.to_owned());
        self.place = place;
    }

    /// Takes a question mark: tight, it doubts what it touches, else what follows.
    pub(super) fn read_query(&mut self, spacing: Spacing) {
        match spacing {
            Spacing::Tight => self.qualify("?", Place::After(self.last_part)),
            Spacing::Free => self.defer("?"),
        }
        self.at += 1;
    }

    /// Keeps a qualifier for the part that follows.
    pub(super) fn defer(&mut self, qualifier: &'static str) {
        if let Some(earlier) = self.pending.replace(qualifier) {
            self.qualify(earlier, Place::Before(self.last_part));
        }
    }

    /// Takes `cf.`, `aff.` or `?`, if one stands here.
    pub(super) fn read_doubt(&mut self) -> bool {
        match self.tokens.get(self.at) {
            Some(Token::Query(spacing)) => {
                self.read_query(*spacing);
                true
            }
            Some(Token::Word(word)) => match words::qualifier(word) {
                Some((Qualifier::Cf | Qualifier::Aff, term, repair)) => {
                    self.note_some(repair);
                    self.defer(term);
                    self.at += 1;
                    true
                }
                _ => false,
            },
            _ => false,
        }
    }

    /// What may stand before the genus: a qualifier, a sign.
    pub(super) fn read_opening(&mut self) {
        loop {
            match self.tokens.get(self.at) {
                Some(Token::Query(_)) => {
                    self.defer("?");
                    self.at += 1;
                }
                Some(Token::Sign(sign)) => {
                    let sign = *sign;
                    self.note_some(sign_repair(sign));
                    self.genus_sign = Some('×');
                    self.at += 1;
                }
                Some(Token::Plus) => {
                    self.genus_sign = Some('+');
                    self.at += 1;
                }
                _ => {
                    if !self.read_doubt() {
                        return;
                    }
                }
            }
        }
    }

    /// None when the first word can be no genus.
    pub(super) fn read_genus(&mut self) -> Option<()> {
        self.part_fused_genus();
        let mut word = self.word(self.at)?.to_owned();
        // An x before a capital cannot belong to the word: no genus is spelled so.
        if let Some(rest) = word.strip_prefix('x')
            && rest.starts_with(char::is_uppercase)
            && self.genus_sign.is_none()
        {
            word = rest.to_owned();
            self.genus_sign = Some('×');
            self.note("letter-x-for-multiplication-sign");
        }
        let is_terminal = self.at + 1 == self.tokens.len();
        let epithet = self.after_doubts(self.at + 1, self.tokens.len());
        if words::is_abbreviated_genus(&word) && self.has_epithet_at(epithet) {
            if word.starts_with(char::is_lowercase) {
                self.note("genus-lower-case");
            }
            self.note("abbreviated-genus");
            self.has_loose_words = true;
            self.name.genus = Some(words::capitalized(&word.to_lowercase()));
        } else {
            if let Some(stem) = word.strip_suffix('.')
                && is_terminal
                && stem.len() > 3
            {
                word = stem.to_owned();
                self.note("trailing-full-stop");
            }
            if words::is_term(&word) || !tokens::is_plain(&word) || word.contains(tokens::is_quote)
            {
                return None;
            }
            let (letters, repairs) = spelling::latin_letters(&word)?;
            let is_latin = spelling::has_latin_shape(&letters) && !letters.ends_with("ng");
            let genus = words::capitalized(&letters);
            let is_english = spelling::opens_common_name(&letters) || words::is_term(&genus);
            if !is_latin || is_english {
                return None;
            }
            self.note_capitals(&word);
            if word.starts_with(char::is_lowercase) {
                self.note("genus-lower-case");
            }
            for repair in repairs {
                self.note(repair);
            }
            self.name.genus = Some(genus);
        }
        self.at += 1;
        self.found(Part::Genus);
        Some(())
    }

    /// Parts `B.caroliniana`, written without its space.
    pub(super) fn part_fused_genus(&mut self) {
        let Some((letters, epithet)) = self.word(self.at).and_then(|word| word.split_once('.'))
        else {
            return;
        };
        let is_fused = (1..=3).contains(&letters.len())
            && letters.starts_with(|first: char| first.is_ascii_uppercase())
            && epithet.len() > 3
            && epithet.bytes().all(|byte| byte.is_ascii_lowercase());
        if is_fused {
            let parts = [
                Token::Word(format!("{letters}.")),
                Token::Word(epithet.to_owned()),
            ];
            self.tokens.splice(self.at..=self.at, parts);
            self.marked_run = marked_run(&self.tokens);
            self.note("missing-space");
        }
    }

    /// Notes capitals inside a genus or epithet.
    pub(super) fn note_capitals(&mut self, word: &str) {
        if tokens::is_in_capitals(word) {
            self.note("all-capitals");
        } else if word.chars().skip(1).any(char::is_uppercase) {
            self.note("mixed-capitals");
        }
    }

    /// True when a small-letter word that can be an epithet stands at the index.
    pub(super) fn has_epithet_at(&self, index: usize) -> bool {
        self.word(index).is_some_and(|word| {
            word.starts_with(char::is_lowercase)
                && tokens::is_plain(word)
                && epithet_letters(word)
                    .is_some_and(|(letters, _)| spelling::has_latin_shape(&letters))
        })
    }

    /// The first index from one on that holds no doubt or sign, or the end.
    ///
    /// A given end keeps a run of signs from being walked once for each of them.
    pub(super) fn after_doubts(&self, from: usize, end: usize) -> usize {
        let is_doubt = |token: &&Token| match token {
            Token::Query(_) | Token::Sign(_) | Token::Plus => true,
            Token::Word(word) => matches!(
                words::qualifier(word),
                Some((Qualifier::Cf | Qualifier::Aff, _, _))
            ),
            _ => false,
        };
        let rest = self.tokens.get(from..end).unwrap_or_default();
        from + rest.iter().take_while(is_doubt).count()
    }

    /// Reads `Salix aurita × S. caprea`: names joined by a sign; false when this is none.
    ///
    /// Source: ICN Shenzhen Art. H.2; its Ex. 2 wants the second genus or its initial.
    pub(super) fn read_formula(&mut self) -> bool {
        let end = self.end_of_name();
        let is_open = self.word(self.at).is_some_and(|word| {
            matches!(
                words::qualifier(word),
                Some((Qualifier::Sp | Qualifier::Spp, _, _))
            )
        });
        let is_join = |token: &Token| match token {
            // In the free words after `sp.`, a letter or a plus may be anything.
            Token::Plus | Token::Sign(Sign::Letter) => !is_open,
            Token::Sign(_) => true,
            _ => false,
        };
        let mut joins: Vec<usize> = (self.at..end)
            .filter(|index| is_join(&self.tokens[*index]))
            .collect();
        let Some(&first) = joins.first() else {
            return false;
        };
        // A sign straight after the genus, before an epithet, marks one name.
        let start = self.at + usize::from(is_open);
        let is_mark = self.after_doubts(start, self.tokens.len()) > first
            && (first > start || !is_open)
            && self.has_epithet_at(self.after_doubts(first, self.tokens.len()));
        if is_mark {
            joins.remove(0);
        }
        if joins.is_empty() {
            return false;
        }
        if joins
            .iter()
            .any(|index| self.tokens[*index] == Token::Sign(Sign::Letter))
        {
            self.note("letter-x-for-multiplication-sign");
        }
        let is_graft = joins.iter().all(|index| self.tokens[*index] == Token::Plus);
        for position in 0..joins.len() {
            let stop = joins.get(position + 1).copied().unwrap_or(end);
            let parent = self.after_doubts(joins[position], stop);
            match self
                .word(parent)
                .filter(|_| parent < stop)
                .map(str::to_owned)
            {
                None => self.note("second-parent-missing"),
                Some(word) if word.starts_with(char::is_lowercase) => {
                    self.note("second-genus-missing");
                }
                Some(word) => {
                    let is_shared = self
                        .name
                        .genus
                        .as_deref()
                        .is_some_and(|genus| is_same_genus(genus, &word));
                    if !is_shared {
                        self.name.genus = None;
                    }
                }
            }
        }
        self.name.hybrid = Some(if is_graft {
            Hybrid::GraftChimaera
        } else {
            Hybrid::Formula
        });
        self.name.qualifier = None;
        true
    }

    /// The index of the first comma, or the end.
    pub(super) fn end_of_name(&self) -> usize {
        self.tokens
            .iter()
            .position(|token| *token == Token::Comma)
            .map_or(self.tokens.len(), |comma| comma.max(self.at))
    }

    /// Reads up to the epithet of the species, if there is one.
    ///
    /// None when the words after the genus show that it was none.
    pub(super) fn read_species(&mut self) -> Option<()> {
        loop {
            if self.read_doubt() {
                continue;
            }
            // After `sp.`, only `cf.` and `aff.` lead to an epithet.
            let is_due = self.open.is_none() || matches!(self.pending, Some("cf." | "aff."));
            match self.tokens.get(self.at) {
                Some(Token::Sign(sign))
                    if is_due
                        && self.has_epithet_at(self.after_doubts(self.at, self.tokens.len())) =>
                {
                    let sign = *sign;
                    self.note_some(sign_repair(sign));
                    self.species_sign = Some('×');
                }
                Some(Token::Plus)
                    if is_due
                        && self.has_epithet_at(self.after_doubts(self.at, self.tokens.len())) =>
                {
                    self.species_sign = Some('+');
                }
                // A subgenus in brackets is no part of a species name.
                Some(Token::Bracket(_)) if is_due && self.has_epithet_at(self.at + 1) => {
                    self.note("infrageneric-name-dropped");
                }
                Some(Token::Word(word)) => {
                    let next_is_capital =
                        self.word(self.at + 1).is_some_and(tokens::is_capitalized);
                    if words::is_infrageneric_term(word) && next_is_capital {
                        self.note("infrageneric-name-dropped");
                        self.at += 1;
                    } else if let Some((qualifier, term, repair)) = words::qualifier(word) {
                        self.note_some(repair);
                        if let Some(earlier) = self.pending.take() {
                            self.qualify(earlier, Place::End);
                        }
                        self.qualify(term, Place::End);
                        self.open = Some(qualifier);
                    } else if matches!(word.as_str(), "ssp." | "ssp")
                        && !self.has_epithet_at(self.after_doubts(self.at + 1, self.tokens.len()))
                    {
                        self.note("variant-qualifier");
                        self.qualify("spp.", Place::End);
                        self.open = Some(Qualifier::Spp);
                    } else if !is_due {
                        return Some(());
                    } else {
                        let word = word.clone();
                        return self.read_first_epithet(word);
                    }
                }
                _ => return Some(()),
            }
            self.at += 1;
        }
    }

    /// Takes the word after the genus as the species, or leaves it for what follows.
    pub(super) fn read_first_epithet(&mut self, word: String) -> Option<()> {
        if words::is_term(&word) || self.is_in_marked_run() {
            return Some(());
        }
        if spelling::is_plant_noun(&word) {
            return None;
        }
        let is_terminal = self.at + 1 == self.tokens.len();
        let stem = word.strip_suffix('.').filter(|stem| {
            is_terminal && word.starts_with(char::is_lowercase) && spelling::has_latin_ending(stem)
        });
        let word = match stem {
            Some(stem) => {
                self.note("trailing-full-stop");
                stem.to_owned()
            }
            None => word,
        };
        if !tokens::is_plain(&word) || spelling::is_descriptive(&word) {
            return self.unless_common_name();
        }
        let letters = epithet_letters(&word);
        if word.starts_with(char::is_lowercase) {
            let (letters, repairs) = letters?;
            if !spelling::has_latin_shape(&letters) {
                return None;
            }
            self.note_capitals(&word);
            self.set_species(letters, repairs);
            return Some(());
        }
        let next = self.word(self.at + 1).unwrap_or_default();
        let opens_other = (tokens::is_capitalized(next) && tokens::is_plain(next))
            || matches!(words::joint(next), Some(Joint::Connector | Joint::Filius))
            || tokens::is_in_capitals(&word);
        match letters {
            Some((letters, repairs)) if spelling::has_latin_ending(&letters) && !opens_other => {
                self.note("epithet-capital");
                self.note_capitals(&word);
                self.set_species(letters, repairs);
                Some(())
            }
            _ => self.unless_common_name(),
        }
    }

    pub(super) fn set_species(&mut self, letters: String, repairs: Vec<&'static str>) {
        for repair in repairs {
            self.note(repair);
        }
        self.has_loose_words |= spelling::may_hide_sign(&letters);
        self.name.species = Some(letters);
        self.open = None;
        self.at += 1;
        self.found(Part::Species);
    }

    /// None when the words from here on end in a plant noun: `Java Dwarf Fern`.
    pub(super) fn unless_common_name(&self) -> Option<()> {
        let run = (self.at..).map_while(|index| self.word(index));
        let last = run.take_while(|word| tokens::is_plain(word)).last();
        match last {
            Some(word) if spelling::is_plant_noun(word) => None,
            _ => Some(()),
        }
    }
}

/// A word as an epithet, unless it is a term or an English word once its marks are gone.
pub(super) fn epithet_letters(word: &str) -> Option<(String, Vec<&'static str>)> {
    spelling::latin_letters(word).filter(|(letters, _)| {
        !words::is_term(letters)
            && !spelling::is_descriptive(letters)
            && !spelling::is_plant_noun(letters)
    })
}

/// The words that a first `Group` or `grex` makes one epithet: from where, and to the marker.
///
/// Walks back from the marker over words without full stops.
pub(super) fn marked_run(tokens: &[Token]) -> Option<(usize, usize)> {
    let end = tokens.iter().position(|token| {
        token
            .word()
            .is_some_and(|word| words::marker(word).is_some())
    })?;
    let is_part = |token: &&Token| token.word().is_some_and(|word| !word.contains(['&', '.']));
    let n_words = tokens[..end].iter().rev().take_while(is_part).count();
    (n_words > 0).then_some((end - n_words, end))
}

fn sign_repair(sign: Sign) -> Option<&'static str> {
    match sign {
        Sign::Tight => None,
        Sign::Spaced => Some("space-after-multiplication-sign"),
        Sign::Letter => Some("letter-x-for-multiplication-sign"),
    }
}

/// True when a word is this genus, in full or by its first letters.
fn is_same_genus(genus: &str, word: &str) -> bool {
    match word.strip_suffix('.') {
        Some(letters) => genus.starts_with(letters),
        None => spelling::latin_letters(word)
            .is_some_and(|(letters, _)| words::capitalized(&letters) == genus),
    }
}
