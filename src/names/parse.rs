//! Botanical and cultivated-plant names, read by the rules of their two codes.
//!
//! Knows no list of plants: whether a name exists, and what it is a synonym
//! of, is for the name lookup to say.

use crate::names::tokens;
use crate::names::tokens::Quotes;
use crate::names::tokens::Sign;
use crate::names::tokens::Spacing;
use crate::names::tokens::Token;
use crate::names::tokens::note;
use crate::names::words;
use crate::names::words::Joint;
use crate::names::words::Marker;
use crate::names::words::Qualifier;

/// The parts of one name, and what had to be set right to read them.
///
/// Epithets stand in small plain letters, a cultivar without its quotation
/// marks, a Group or grex without that word.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ParsedName {
    /// The genus; with its full stop when abbreviated. None for a formula of two genera.
    pub genus: Option<String>,
    /// The epithet of the species.
    pub species: Option<String>,
    /// The lowest rank given, as the Code abbreviates it: `var.`, `nothosubsp.`
    pub infraspecific_rank: Option<String>,
    /// The epithet at that rank. Without a rank when the name has none.
    pub infraspecific_epithet: Option<String>,
    /// The cultivar epithet.
    pub cultivar: Option<String>,
    /// The Group epithet.
    pub group: Option<String>,
    /// The grex epithet.
    pub grex: Option<String>,
    /// A selling name, or words that cannot be told from one.
    pub trade_designation: Option<String>,
    /// What kind of hybrid the name says it is.
    pub hybrid: Option<Hybrid>,
    /// The term of open nomenclature, as it stands in the canonical name.
    pub qualifier: Option<String>,
    /// The author citation of the lowest rank.
    pub authorship: Option<String>,
    /// True when a person has to decide which plant is meant.
    pub loose: bool,
    /// The name as it is best written, without author; None for formulas and for no name.
    pub canonical: Option<String>,
    /// What was set right or left out, one word each, in the order met.
    pub repairs: Vec<&'static str>,
    /// The canonical name with its qualifier left out.
    undoubted: Option<String>,
}

/// The kinds of hybrid and graft.
///
/// Source: ICN Shenzhen Art. H.2; Art. H.3, read in an earlier edition.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hybrid {
    /// A hybrid with an epithet of its own: Mentha ×piperita.
    Nothospecies,
    /// A hybrid of two genera with a name of its own: ×Agropogon.
    Nothogenus,
    /// A hybrid below the species: nothosubsp., nothovar.
    NothotaxonInfraspecific,
    /// Two parents joined by the sign; no single taxon name.
    Formula,
    /// Tissue of two plants grown together, marked by `+`.
    GraftChimaera,
}

/// How far a name leaves open which species it means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Openness {
    /// It names one plant or category, or it is a formula or no name at all.
    None,
    /// `cf.`: provisionally the named one.
    Cf,
    /// `aff.`: near the named one, and held to differ; its data must not attach.
    Aff,
    /// `sp.`: one species of the genus.
    Sp,
    /// `spp.`: several species of the genus, or all.
    Spp,
    /// `?`: doubtful.
    Doubtful,
    /// `agg.` or `s.l.`: several species under one name.
    Wide,
    /// `sensu`, `auct.`, `non`: the name as some author used it, perhaps wrongly.
    Sensu,
    /// A genus, and nothing else that says which plant.
    GenusAlone,
}

impl Hybrid {
    /// The kind in words.
    pub fn as_str(self) -> &'static str {
        match self {
            Hybrid::Nothospecies => "nothospecies",
            Hybrid::Nothogenus => "nothogenus",
            Hybrid::NothotaxonInfraspecific => "nothotaxon-infraspecific",
            Hybrid::Formula => "formula",
            Hybrid::GraftChimaera => "graft-chimaera",
        }
    }
}

impl ParsedName {
    /// How far the name leaves open which species it means.
    ///
    /// A selling name does not count as saying which plant: it belongs to no taxon.
    pub fn doubt(&self) -> Openness {
        match self.qualifier.as_deref() {
            Some("cf.") => Openness::Cf,
            Some("aff.") => Openness::Aff,
            Some("sp.") => Openness::Sp,
            Some("spp.") => Openness::Spp,
            Some("?") => Openness::Doubtful,
            Some("agg." | "s.l.") => Openness::Wide,
            Some("s.str.") | None if self.canonical.is_some() && !self.has_epithet() => {
                Openness::GenusAlone
            }
            Some("s.str.") | None => Openness::None,
            Some(_) => Openness::Sensu,
        }
    }

    /// For a name under `cf.`, `aff.` or `?`, the canonical name with that taken out.
    ///
    /// None for any other name, and when no epithet is left to name a plant by.
    pub fn without_doubt(&self) -> Option<String> {
        let is_doubted = matches!(
            self.doubt(),
            Openness::Cf | Openness::Aff | Openness::Doubtful
        );
        self.undoubted
            .clone()
            .filter(|_| is_doubted && self.has_epithet())
    }

    /// True when anything below the genus says which plant is meant.
    fn has_epithet(&self) -> bool {
        self.species.is_some()
            || self.infraspecific_epithet.is_some()
            || self.cultivar.is_some()
            || self.group.is_some()
            || self.grex.is_some()
    }
}

/// The parts of a name.
///
/// Never fails: what cannot be read as a name comes back loose, without a
/// canonical name, and with the reason among the repairs. Takes time linear in
/// the length of the text.
pub fn parse(text: &str) -> ParsedName {
    read(text, Depth::Outer)
}

/// Whether the text is a whole name or the inside of a bracket in one.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Depth {
    Outer,
    /// Brackets in brackets are not read as names, so that depth costs no stack.
    Inner,
}

/// The parts of a name in the order they are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Genus,
    Species,
    Infraspecific,
    Grex,
    Group,
    Cultivar,
}

/// Where a qualifier stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    Before(Part),
    /// Touching the end of a part that may not be the last.
    After(Part),
    End,
}

fn read(text: &str, depth: Depth) -> ParsedName {
    let (text, mut repairs) = tokens::cleaned(text);
    if text.is_empty() {
        return refused("empty");
    }
    if tokens::has_markup(&text) {
        return refused("markup-refused");
    }
    let mut tokens = tokens::tokens(&text);
    if is_all_capitals(&text, &tokens) {
        note(&mut repairs, "all-capitals");
        tokens = words::recased(tokens);
    }
    let bracketed = bracketed_name(&tokens).filter(|_| depth == Depth::Outer);
    let has_latin_epithet = matches!(
        tokens.get(1), Some(Token::Word(word)) if tokens::has_latin_ending(word)
    );
    let has_latin_lead = text.starts_with(char::is_uppercase) || has_latin_epithet;
    let name = Reader::new(tokens, repairs.clone(), depth).name();
    if let Some(mut inner) = bracketed
        && (name.genus.is_none() || (!has_latin_lead && !inner.loose))
    {
        repairs.push("leading-common-name");
        for repair in &inner.repairs {
            note(&mut repairs, repair);
        }
        inner.repairs = repairs;
        return inner;
    }
    name
}

/// A text that is no name, and why.
fn refused(reason: &'static str) -> ParsedName {
    ParsedName {
        loose: true,
        repairs: vec![reason],
        ..ParsedName::default()
    }
}

fn is_all_capitals(text: &str, tokens: &[Token]) -> bool {
    let first_word = tokens.iter().find_map(|token| match token {
        Token::Word(word) => Some(word),
        _ => None,
    });
    let n_capitals = first_word.map_or(0, |word| {
        word.chars().filter(|letter| letter.is_uppercase()).count()
    });
    n_capitals > 1 && !text.contains(char::is_lowercase)
}

/// The name in the bracket of `common name (Genus epithet)`.
fn bracketed_name(tokens: &[Token]) -> Option<ParsedName> {
    let (Token::Bracket(content), lead) = tokens.split_last()? else {
        return None;
    };
    let is_lead = !lead.is_empty()
        && lead
            .iter()
            .all(|token| matches!(token, Token::Word(_) | Token::StrayQuote));
    if !is_lead || !content.starts_with(|first: char| first.is_uppercase() || "×+".contains(first))
    {
        return None;
    }
    Some(read(content, Depth::Inner)).filter(|name| name.genus.is_some())
}

/// The state of one reading: the tokens, where it stands, and what it has found.
struct Reader {
    tokens: Vec<Token>,
    at: usize,
    depth: Depth,
    name: ParsedName,
    /// The last part found.
    last_part: Part,
    /// A qualifier met, and not yet the part it stands before.
    pending: Option<&'static str>,
    place: Place,
    /// The sign before the genus or the species: `×` or `+`.
    genus_sign: Option<char>,
    species_sign: Option<char>,
    rank_depth: u8,
    species_author: Option<String>,
    /// `sp.` or `spp.`, while no species follows.
    open: Option<Qualifier>,
    /// The words of a Group or grex: from the first to the marker.
    marked_run: Option<(usize, usize)>,
    has_loose_words: bool,
    has_bracketed_group: bool,
}

impl Reader {
    fn new(tokens: Vec<Token>, repairs: Vec<&'static str>, depth: Depth) -> Reader {
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
            has_bracketed_group: false,
        }
    }

    fn name(mut self) -> ParsedName {
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

    fn note(&mut self, repair: &'static str) {
        note(&mut self.name.repairs, repair);
    }

    fn note_some(&mut self, repair: Option<&'static str>) {
        if let Some(repair) = repair {
            self.note(repair);
        }
    }

    /// A repair that leaves the name to a person.
    fn note_loose(&mut self, repair: &'static str) {
        self.note(repair);
        self.has_loose_words = true;
    }

    fn stop(&mut self) {
        self.at = self.tokens.len();
    }

    fn word(&self, index: usize) -> Option<&str> {
        match self.tokens.get(index) {
            Some(Token::Word(word)) => Some(word),
            _ => None,
        }
    }

    /// Notes that a part has been found, and what stood before it.
    fn found(&mut self, part: Part) {
        if let Some(qualifier) = self.pending.take() {
            self.qualify(qualifier, Place::Before(part));
        }
        self.last_part = part;
    }

    /// Keeps the qualifier that forbids most; a name has room for one.
    fn qualify(&mut self, qualifier: &str, place: Place) {
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
    fn read_query(&mut self, spacing: Spacing) {
        match spacing {
            Spacing::Tight => self.qualify("?", Place::After(self.last_part)),
            Spacing::Free => self.defer("?"),
        }
        self.at += 1;
    }

    /// Keeps a qualifier for the part that follows.
    fn defer(&mut self, qualifier: &'static str) {
        if let Some(earlier) = self.pending.replace(qualifier) {
            self.qualify(earlier, Place::Before(self.last_part));
        }
    }

    /// Takes `cf.`, `aff.` or `?`, if one stands here.
    fn read_doubt(&mut self) -> bool {
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
    fn read_opening(&mut self) {
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
    fn read_genus(&mut self) -> Option<()> {
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
        if words::is_abbreviated_genus(&word) && self.can_open_epithet(self.at + 1) {
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
            let is_term = words::joint(&word).is_some()
                || words::qualifier(&word).is_some()
                || words::rank(&word).is_some();
            if is_term || !tokens::is_plain(&word) || word.contains(tokens::is_quote) {
                return None;
            }
            let (letters, repairs) = tokens::latin_letters(&word)?;
            let is_latin = tokens::has_latin_shape(&letters) && !letters.ends_with("ng");
            if !is_latin || tokens::opens_common_name(&letters) {
                return None;
            }
            self.note_capitals(&word);
            if word.starts_with(char::is_lowercase) {
                self.note("genus-lower-case");
            }
            for repair in repairs {
                self.note(repair);
            }
            self.name.genus = Some(words::capitalized(&letters));
        }
        self.at += 1;
        self.found(Part::Genus);
        Some(())
    }

    /// Parts `B.caroliniana`, written without its space.
    fn part_fused_genus(&mut self) {
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
    fn note_capitals(&mut self, word: &str) {
        if tokens::is_in_capitals(word) {
            self.note("all-capitals");
        } else if word.chars().skip(1).any(char::is_uppercase) {
            self.note("mixed-capitals");
        }
    }

    /// True when an epithet, or a sign or qualifier of one, stands at the index.
    fn can_open_epithet(&self, index: usize) -> bool {
        match self.tokens.get(index) {
            Some(Token::Word(word)) => {
                word.starts_with(char::is_lowercase) && words::joint(word).is_none()
            }
            Some(Token::Sign(_) | Token::Query(_)) => true,
            _ => false,
        }
    }

    /// True when a small-letter word that can be an epithet stands at the index.
    fn has_epithet_at(&self, index: usize) -> bool {
        self.word(index).is_some_and(|word| {
            word.starts_with(char::is_lowercase)
                && tokens::is_plain(word)
                && words::joint(word).is_none()
                && words::qualifier(word).is_none()
                && words::rank(word).is_none()
                && !words::is_cultivar_term(word)
                && !tokens::is_descriptive(word)
                && tokens::latin_letters(word)
                    .is_some_and(|(letters, _)| tokens::has_latin_shape(&letters))
        })
    }

    /// The first index from one on that holds no doubt or sign, or the end.
    ///
    /// A given end keeps a run of signs from being walked once for each of them.
    fn after_doubts(&self, from: usize, end: usize) -> usize {
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
    fn read_formula(&mut self) -> bool {
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
        let is_mark = self.after_doubts(self.at, self.tokens.len()) > first
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
    fn end_of_name(&self) -> usize {
        self.tokens
            .iter()
            .position(|token| *token == Token::Comma)
            .map_or(self.tokens.len(), |comma| comma.max(self.at))
    }

    /// Reads up to the epithet of the species, if there is one.
    ///
    /// None when the words after the genus show that it was none.
    fn read_species(&mut self) -> Option<()> {
        loop {
            if self.read_doubt() {
                continue;
            }
            match self.tokens.get(self.at) {
                Some(Token::Sign(sign))
                    if self.has_epithet_at(self.after_doubts(self.at, self.tokens.len())) =>
                {
                    let sign = *sign;
                    self.note_some(sign_repair(sign));
                    self.species_sign = Some('×');
                }
                Some(Token::Plus)
                    if self.has_epithet_at(self.after_doubts(self.at, self.tokens.len())) =>
                {
                    self.species_sign = Some('+');
                }
                // A subgenus in brackets is no part of a species name.
                Some(Token::Bracket(_)) if self.has_epithet_at(self.at + 1) => {
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
                        self.qualify(term, Place::End);
                        self.open = Some(qualifier);
                    } else if matches!(word.as_str(), "ssp." | "ssp")
                        && !self.has_epithet_at(self.after_doubts(self.at + 1, self.tokens.len()))
                    {
                        self.note("variant-qualifier");
                        self.qualify("spp.", Place::End);
                        self.open = Some(Qualifier::Spp);
                    } else if self.open.is_some() && self.pending.is_none() {
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
    fn read_first_epithet(&mut self, word: String) -> Option<()> {
        let is_term = words::joint(&word).is_some()
            || words::rank(&word).is_some()
            || words::is_cultivar_term(&word)
            || words::sense(&self.tokens[self.at..]).is_some();
        if is_term || self.is_in_marked_run() {
            return Some(());
        }
        if tokens::is_plant_noun(&word) {
            return None;
        }
        let is_terminal = self.at + 1 == self.tokens.len();
        let stem = word.strip_suffix('.').filter(|stem| {
            is_terminal && word.starts_with(char::is_lowercase) && tokens::has_latin_ending(stem)
        });
        let word = match stem {
            Some(stem) => {
                self.note("trailing-full-stop");
                stem.to_owned()
            }
            None => word,
        };
        if !tokens::is_plain(&word) || tokens::is_descriptive(&word) {
            return self.unless_common_name();
        }
        let letters = tokens::latin_letters(&word);
        if word.starts_with(char::is_lowercase) {
            let (letters, repairs) = letters?;
            if !tokens::has_latin_shape(&letters) {
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
            Some((letters, repairs)) if tokens::has_latin_ending(&letters) && !opens_other => {
                self.note("epithet-capital");
                self.note_capitals(&word);
                self.set_species(letters, repairs);
                Some(())
            }
            _ => self.unless_common_name(),
        }
    }

    fn set_species(&mut self, letters: String, repairs: Vec<&'static str>) {
        for repair in repairs {
            self.note(repair);
        }
        self.has_loose_words |= tokens::may_hide_sign(&letters);
        self.name.species = Some(letters);
        self.open = None;
        self.at += 1;
        self.found(Part::Species);
    }

    /// None when the words from here on end in a plant noun: `Java Dwarf Fern`.
    fn unless_common_name(&self) -> Option<()> {
        let run = (self.at..).map_while(|index| self.word(index));
        let last = run.take_while(|word| tokens::is_plain(word)).last();
        match last {
            Some(word) if tokens::is_plant_noun(word) => None,
            _ => Some(()),
        }
    }

    /// Takes whatever stands next, after the genus and the species.
    fn read_next(&mut self) {
        if self.read_doubt() {
            return;
        }
        match self.tokens.get(self.at).cloned() {
            Some(Token::Word(word)) => self.read_word(&word),
            Some(Token::Quoted(text, quotes)) => {
                self.at += 1;
                self.read_quoted(&text, quotes);
            }
            Some(Token::OpenQuote(text)) => {
                self.note_loose("unbalanced-quote");
                self.keep_as_trade_designation(tidy_epithet(&text));
                self.stop();
            }
            Some(Token::StrayQuote) => {
                self.note_loose("unbalanced-quote");
                self.at += 1;
            }
            Some(Token::Bracket(content)) => {
                if !self.read_authors() {
                    self.at += 1;
                    self.read_bracket(&content);
                }
            }
            Some(Token::OpenBracket) => {
                self.note("unbalanced-parenthesis");
                self.stop();
            }
            Some(Token::CloseBracket) => {
                // The citation is broken at an unknown place, so none of it is kept.
                self.note("unbalanced-parenthesis");
                self.name.authorship = None;
                self.stop();
            }
            Some(Token::Comma) => {
                self.at += 1;
                self.read_after_comma();
            }
            Some(Token::Sign(_) | Token::Plus | Token::Query(_) | Token::Other) => {
                self.note_loose("trailing-text");
                self.stop();
            }
            None => {}
        }
    }

    fn read_word(&mut self, word: &str) {
        if self.open.is_some() {
            self.read_open_words(word);
        } else if words::rank(word).is_some() {
            self.read_infraspecific(word);
        } else if words::is_cultivar_term(word) {
            self.read_cultivar_term();
        } else if let Some((sense, n_words)) = words::sense(&self.tokens[self.at..]) {
            self.qualify(&sense, Place::End);
            self.at += n_words;
        } else if self.is_in_marked_run() {
            self.read_marked_run();
        } else if words::is_year(word) {
            self.note("trailing-year");
            self.at += 1;
        } else if self.is_stray_term(word) {
            self.note_loose("trailing-text");
            self.stop();
        } else if tokens::is_in_capitals(word) {
            let run = self.run_of(tokens::is_in_capitals);
            self.keep_as_trade_designation(run);
        } else if self.name.cultivar.is_some() {
            self.note("trailing-text");
            self.run_of(|word| !tokens::is_in_capitals(word));
        } else if self.read_authors() || self.read_rankless_epithet() {
        } else {
            self.note_loose("unquoted-trailing-words");
            let run = self.run_of(|_| true);
            self.keep_as_trade_designation(run);
        }
    }

    /// The free words after `sp.` name a plant of the trade; after `spp.`, nothing.
    fn read_open_words(&mut self, word: &str) {
        if matches!(word, "nov." | "nov" | "n.") {
            self.note("variant-qualifier");
            self.at += 1;
            return;
        }
        let run = self.run_of(|_| true);
        if self.open == Some(Qualifier::Sp) {
            self.note("trade-name-after-sp");
            self.keep_as_trade_designation(run);
        } else {
            self.note("trailing-text");
        }
    }

    /// True for a word that shows the text goes on to something else.
    fn is_stray_term(&self, word: &str) -> bool {
        words::qualifier(word).is_some()
            || words::joint(word) == Some(Joint::Connector)
            || !word.chars().any(char::is_alphanumeric)
    }

    /// The words from here on that fit, taken.
    fn run_of(&mut self, fits: impl Fn(&str) -> bool) -> String {
        let run: Vec<&str> = (self.at..)
            .map_while(|index| self.word(index))
            .take_while(|word| fits(word))
            .collect();
        let (text, n_words) = (run.join(" "), run.len());
        self.at += n_words;
        text
    }

    fn keep_as_trade_designation(&mut self, text: String) {
        if text.is_empty() {
            return;
        }
        if self.name.trade_designation.is_some() {
            self.note("trailing-text");
        } else {
            self.name.trade_designation = Some(text);
        }
    }

    /// Reads a rank and its epithet; the lowest rank is the name's.
    ///
    /// Source: ICN Shenzhen Art. 24.1 and its Ex. 1.
    fn read_infraspecific(&mut self, word: &str) {
        let Some((mut rank, depth, repair)) = words::rank(word) else {
            return;
        };
        self.at += 1;
        while self.read_doubt() {}
        if matches!(self.tokens.get(self.at), Some(Token::Sign(_))) {
            self.at += 1;
        }
        let capital = self.word(self.at).filter(|word| {
            word.starts_with(char::is_uppercase) && tokens::has_latin_ending(&word.to_lowercase())
        });
        let is_capital = capital.is_some_and(tokens::is_plain);
        let letters = match self.word(self.at) {
            Some(word) if is_capital || self.has_epithet_at(self.at) => tokens::latin_letters(word),
            _ => None,
        };
        let Some((letters, repairs)) = letters else {
            self.note_loose("rank-without-epithet");
            return;
        };
        self.note_some(repair);
        if is_capital {
            self.note("epithet-capital");
        }
        for repair in repairs {
            self.note(repair);
        }
        self.at += 1;
        let authorship = self.name.authorship.take();
        if self.species_author.is_none() && self.rank_depth == 0 {
            self.species_author = authorship.clone();
        }
        if self.name.infraspecific_epithet.is_some() {
            self.note("classification-reduced-to-lowest-rank");
            if depth < self.rank_depth {
                self.name.authorship = authorship;
                return;
            }
        }
        self.rank_depth = depth;
        self.has_loose_words |= tokens::may_hide_sign(&letters);
        rank.shrink_to_fit();
        self.name.infraspecific_rank = Some(rank);
        self.name.infraspecific_epithet = Some(letters);
        self.found(Part::Infraspecific);
    }

    /// Takes a third small word as an epithet whose rank is missing.
    fn read_rankless_epithet(&mut self) -> bool {
        let next_is_small = self.word(self.at + 1).is_some_and(|next| {
            next.starts_with(char::is_lowercase) && words::rank(next).is_none()
        });
        let is_third = self.last_part == Part::Species && self.name.authorship.is_none();
        if !is_third || next_is_small || !self.has_epithet_at(self.at) {
            return false;
        }
        let word = self.word(self.at).unwrap_or_default();
        let Some((letters, repairs)) =
            tokens::latin_letters(word).filter(|_| !tokens::is_plant_noun(word))
        else {
            return false;
        };
        for repair in repairs {
            self.note(repair);
        }
        self.note_loose("rank-missing");
        self.name.infraspecific_epithet = Some(letters);
        self.at += 1;
        self.found(Part::Infraspecific);
        true
    }

    /// Reads `cv. Mi Oya`, the form given up for quotation marks.
    fn read_cultivar_term(&mut self) {
        self.note("cv-abbreviation");
        self.at += 1;
        if matches!(self.tokens.get(self.at), Some(Token::Quoted(_, _))) {
            return;
        }
        let run = self.run_of(|_| true);
        self.set_cultivar(&run);
    }

    fn read_quoted(&mut self, text: &str, quotes: Quotes) {
        match quotes {
            Quotes::Single => {}
            Quotes::Double => self.note("double-quotes"),
            Quotes::Odd => self.note("non-standard-quotes"),
        }
        if self.open.is_some() {
            // Our choice: without a species, quotes are no sign of an established epithet.
            self.note("trade-name-after-sp");
            self.keep_as_trade_designation(tidy_epithet(text));
        } else {
            self.set_cultivar(text);
        }
    }

    fn set_cultivar(&mut self, text: &str) {
        let epithet = tidy_epithet(text);
        if !epithet.chars().any(char::is_alphanumeric) {
            self.note_loose("empty-quotes");
            return;
        }
        if self.name.cultivar.is_some() {
            self.note_loose("trailing-text");
            return;
        }
        let titled = match epithet.starts_with(char::is_lowercase) {
            true => words::title_case(&epithet),
            false => epithet.clone(),
        };
        if titled != epithet {
            self.note("cultivar-lower-case");
        }
        self.name.cultivar = Some(titled);
        self.found(Part::Cultivar);
    }

    fn is_in_marked_run(&self) -> bool {
        self.word(self.at).is_some_and(tokens::is_capitalized)
            && self
                .marked_run
                .is_some_and(|(first, end)| (first..end).contains(&self.at))
    }

    /// Reads the capitalised words before `Group` or `grex`.
    fn read_marked_run(&mut self) {
        let Some((_, end)) = self.marked_run.take() else {
            return;
        };
        let run: Vec<&str> = (self.at..end)
            .filter_map(|index| self.word(index))
            .collect();
        let epithet = run.join(" ");
        let marker = self.word(end).and_then(words::marker);
        self.at = end + 1;
        if let Some((marker, repair)) = marker {
            self.note_some(repair);
            self.set_marked(marker, epithet);
        }
    }

    fn set_marked(&mut self, marker: Marker, epithet: String) {
        let (slot, part) = match marker {
            Marker::Group => (&mut self.name.group, Part::Group),
            Marker::Grex => (&mut self.name.grex, Part::Grex),
        };
        if slot.is_some() {
            self.note_loose("trailing-text");
            return;
        }
        *slot = Some(epithet);
        self.found(part);
    }

    /// Reads a bracket that holds no author: a Group, a synonym or a common name.
    fn read_bracket(&mut self, content: &str) {
        let inner = tokens::tokens(content);
        if let Some((first, end)) = marked_run(&inner)
            && first == 0
            && end + 1 == inner.len()
            && self.open.is_none()
            && let Some(Token::Word(marker_word)) = inner.last()
            && let Some((marker, repair)) = words::marker(marker_word)
        {
            let epithet: Vec<&str> = inner[..end].iter().filter_map(word_of).collect();
            self.note_some(repair);
            self.set_marked(marker, epithet.join(" "));
            self.has_bracketed_group = true;
            return;
        }
        if let Some((sense, n_words)) = words::sense(&inner)
            && n_words == inner.len()
        {
            self.qualify(&sense, Place::End);
            return;
        }
        if matches!(&inner[..], [Token::Word(word)] if words::is_year(word)) {
            self.note("trailing-year");
            return;
        }
        let second_name = content.trim_start_matches(['=', '≡', ' ']);
        let second_name = ["syn. ", "syn: ", "syn "]
            .iter()
            .find_map(|lead| second_name.strip_prefix(lead))
            .unwrap_or(second_name);
        let is_name = self.depth == Depth::Outer && is_second_name(second_name);
        self.note(if is_name {
            "synonym-in-parentheses"
        } else {
            "trailing-common-name"
        });
    }

    /// After a comma comes an author, a year, or what is no part of the name.
    fn read_after_comma(&mut self) {
        let is_year = self.word(self.at).is_some_and(words::is_year);
        if is_year {
            return;
        }
        if self.at == self.tokens.len() {
            self.note("trailing-punctuation");
            return;
        }
        if self.read_authors() {
            self.note("comma-before-author");
            return;
        }
        let opens_name = self.word(self.at).is_some_and(|word| {
            word.starts_with(char::is_uppercase)
                && (words::is_abbreviated_genus(word) || tokens::is_plain(word))
        });
        let is_name = opens_name
            && self.has_epithet_at(self.at + 1)
            && !self.word(self.at + 1).is_some_and(tokens::is_plant_noun);
        self.note("trailing-text");
        // Two names are not one plant.
        self.has_loose_words |= is_name;
        self.stop();
    }

    /// Takes an author citation, if one stands here and none has been read.
    fn read_authors(&mut self) -> bool {
        if self.name.authorship.is_some() || self.open.is_some() || self.name.cultivar.is_some() {
            return false;
        }
        // After a bare genus a lone capitalised word is as likely an epithet.
        let proof = match self.name.species {
            Some(_) => Proof::LoneName,
            None => Proof::Mark,
        };
        let Some((end, text)) = authors(&self.tokens, self.at, proof) else {
            return false;
        };
        self.name.authorship = Some(text);
        self.at = end;
        true
    }

    /// Settles what could not be settled word by word.
    fn finished(mut self) -> ParsedName {
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
        // Brackets keep a Group apart from the cultivar epithet after it.
        let group = name.group.as_ref().map(|group| match name.cultivar {
            Some(_) => format!("({group} Group)"),
            None => format!("{group} Group"),
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

fn sign_repair(sign: Sign) -> Option<&'static str> {
    match sign {
        Sign::Tight => None,
        Sign::Spaced => Some("space-after-multiplication-sign"),
        Sign::Letter => Some("letter-x-for-multiplication-sign"),
    }
}

fn word_of(token: &Token) -> Option<&str> {
    match token {
        Token::Word(word) => Some(word),
        _ => None,
    }
}

/// True when a word is this genus, in full or by its first letters.
fn is_same_genus(genus: &str, word: &str) -> bool {
    match word.strip_suffix('.') {
        Some(letters) => genus.starts_with(letters),
        None => tokens::latin_letters(word)
            .is_some_and(|(letters, _)| words::capitalized(&letters) == genus),
    }
}

/// True when a bracket or what follows a comma is a whole name of its own.
fn is_second_name(text: &str) -> bool {
    text.starts_with(|first: char| first.is_uppercase() || first == '×')
        && read(text, Depth::Inner).species.is_some()
}

/// An epithet out of its quotation marks, that stays the same between straight ones.
///
/// A straight apostrophe at the end of a word would close them too early.
fn tidy_epithet(text: &str) -> String {
    let text = text.trim_matches(|edge: char| edge == ' ' || tokens::is_quote(edge));
    let mut epithet = String::with_capacity(text.len());
    let mut characters = text.chars().peekable();
    while let Some(character) = characters.next() {
        let goes_on = characters.peek().is_some_and(|next| next.is_alphanumeric());
        epithet.push(if character == '\'' && !goes_on {
            '’'
        } else {
            character
        });
    }
    epithet
}

/// The words that a first `Group` or `grex` makes one epithet: from where, and to the marker.
///
/// Walks back from the marker over words without full stops.
fn marked_run(tokens: &[Token]) -> Option<(usize, usize)> {
    let end = tokens
        .iter()
        .position(|token| word_of(token).is_some_and(|word| words::marker(word).is_some()))?;
    let is_part = |token: &&Token| {
        word_of(token).is_some_and(|word| {
            word.chars()
                .all(|character| character.is_alphanumeric() || !"&.".contains(character))
        })
    };
    let n_words = tokens[..end].iter().rev().take_while(is_part).count();
    (n_words > 0).then_some((end - n_words, end))
}

/// What shows that words are an author citation.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Proof {
    /// A full stop, initial, connector or particle.
    Mark,
    /// A mark, or one capitalised word with nothing after it that could belong to it.
    LoneName,
}

/// The author citation that starts at an index: where it ends, and its text.
///
/// Two capitalised words without a mark between them are no author: they cannot
/// be told from a selling name.
///
/// Source: ICN Shenzhen Art. 46 and 49 (brackets, ex, &); abbreviation as seen
/// in their examples.
fn authors(tokens: &[Token], from: usize, proof: Proof) -> Option<(usize, String)> {
    let mut at = from;
    let mut text = String::new();
    let mut has_mark = false;
    // The citation up to its last whole author, and up to the first comma.
    let mut whole: Option<(usize, usize)> = None;
    let mut first_comma: Option<(usize, usize)> = None;
    let mut is_list_closed = true;
    let mut is_due = true;
    let mut last_is_plain = false;
    let mut has_basionym = false;
    if let Some(Token::Bracket(content)) = tokens.get(at) {
        let inner = author_content(content)?;
        has_mark |= inner.contains('.');
        has_basionym = true;
        text = format!("({inner})");
        at += 1;
        if has_mark {
            whole = Some((at, text.len()));
        }
    }
    while let Some(token) = tokens.get(at) {
        let word = match token {
            Token::Word(word) => word.as_str(),
            Token::Comma if !is_due => {
                first_comma = first_comma.or(whole);
                is_list_closed = false;
                is_due = true;
                text.push(',');
                at += 1;
                continue;
            }
            _ => break,
        };
        let is_name = tokens::is_capitalized(word)
            && !tokens::is_in_capitals(word)
            && !word.chars().any(char::is_numeric)
            && words::marker(word).is_none();
        match words::joint(word) {
            Some(Joint::Connector) if !is_due => {
                is_list_closed = true;
                is_due = true;
                has_mark = true;
            }
            Some(Joint::Particle) if is_due && names_author(tokens, at) => has_mark = true,
            Some(Joint::Filius) if !is_due && !opens_infraspecific(tokens, at) => {
                has_mark = true;
                last_is_plain = true;
            }
            Some(Joint::Collective) if is_due => {
                has_mark = true;
                is_due = false;
                last_is_plain = true;
            }
            None if is_name && (is_due || !last_is_plain) => {
                last_is_plain = !word.contains('.');
                has_mark |= !last_is_plain;
                is_due = false;
            }
            _ => break,
        }
        if !text.is_empty() {
            text.push(' ');
        }
        text.push_str(word);
        at += 1;
        if !is_due {
            whole = Some((at, text.len()));
        }
    }
    // A comma belongs to a list of authors only if an `&` closes it.
    let (end, length) = if is_list_closed {
        whole?
    } else {
        first_comma.or(whole)?
    };
    text.truncate(length);
    let is_lone = end == from + 1 && !has_basionym && !has_mark;
    if has_mark || has_basionym {
        return Some((end, text));
    }
    let ends_there = match tokens.get(end) {
        None
        | Some(
            Token::Bracket(_)
            | Token::OpenBracket
            | Token::CloseBracket
            | Token::Comma
            | Token::Quoted(_, _)
            | Token::Query(_),
        ) => true,
        Some(Token::Word(word)) => {
            words::rank(word).is_some()
                || words::qualifier(word).is_some()
                || words::is_year(word)
                || words::is_cultivar_term(word)
                || tokens::is_in_capitals(word)
                || words::sense(&tokens[end..]).is_some()
        }
        Some(_) => false,
    };
    (proof == Proof::LoneName && is_lone && ends_there && !tokens::is_descriptive(&text))
        .then_some((end, text))
}

/// The content of a bracket, if it is all one author citation.
fn author_content(content: &str) -> Option<String> {
    if content.contains(['(', ')']) {
        return None;
    }
    let inner = tokens::tokens(content);
    authors(&inner, 0, Proof::LoneName)
        .filter(|(end, _)| *end == inner.len())
        .map(|(_, text)| text)
}

/// True when the particles from here on lead to a capitalised surname.
fn names_author(tokens: &[Token], at: usize) -> bool {
    tokens
        .iter()
        .skip(at)
        .filter_map(word_of)
        .take(4)
        .find(|word| words::joint(word) != Some(Joint::Particle))
        .is_some_and(tokens::is_capitalized)
}

/// True when an `f.` means forma: an epithet follows, not more of the citation.
fn opens_infraspecific(tokens: &[Token], at: usize) -> bool {
    tokens.get(at + 1).and_then(word_of).is_some_and(|next| {
        next.starts_with(char::is_lowercase)
            && tokens::is_plain(next)
            && words::joint(next).is_none()
            && words::rank(next).is_none()
            && words::qualifier(next).is_none()
            && !words::is_cultivar_term(next)
    })
}
