//! Botanical and cultivated-plant names, read by the rules of their two codes.
//!
//! Knows no list of plants: whether a name exists, and what it is a synonym
//! of, is for the name lookup to say.

mod spelling;

mod authors;

mod reader;

mod below;

mod written;

use crate::names::parse::reader::Reader;
use crate::names::tokens;
use crate::names::tokens::Token;
use crate::names::tokens::note;
use crate::names::words;

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
    let bracketed = match depth {
        Depth::Outer => bracketed_name(&tokens),
        Depth::Inner => None,
    };
    let has_latin_epithet = matches!(
        tokens.get(1), Some(Token::Word(word)) if spelling::has_latin_ending(word)
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
    let first_word = tokens.iter().find_map(Token::word);
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
