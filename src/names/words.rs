//! The terms that stand between the parts of a name: ranks, qualifiers, author joints.
//!
//! Tables, one row a term, and the words' way with capitals.

use unicode_normalization::UnicodeNormalization;

use crate::names::tokens::Token;
use crate::names::tokens::is_plain;

/// What a term of open nomenclature says of the name it stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Qualifier {
    /// Provisional, to be compared.
    Cf,
    /// Near to the named species, but held to differ.
    Aff,
    /// One species of the genus, not known which.
    Sp,
    /// Several species of the genus, or all.
    Spp,
}

/// A word that joins the parts of an author citation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Joint {
    /// Between two authors: `&`, `et`, `ex`, `in`, `emend.`
    Connector,
    /// Before a surname: `de`, `van`.
    Particle,
    /// After a surname: `f.`, the son.
    Filius,
    /// In place of a surname: `hort.`, `al.`
    Collective,
}

/// What a word after a run of capitalised words makes of that run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Marker {
    /// A Group of cultivars.
    Group,
    /// A grex of orchids.
    Grex,
}

/// The rank a term stands for as the Code abbreviates it, how low it is, and the repair it took.
///
/// Source: ICN Shenzhen Art. 4 (ranks); Rec. 5A (abbreviations), from memory.
pub(crate) fn rank(word: &str) -> Option<(String, u8, Option<&'static str>)> {
    const NORMALIZED: Option<&str> = Some("rank-abbreviation-normalised");
    let (term, hybrid_prefix) = match word.strip_prefix("notho") {
        Some(term) => (term, "notho"),
        None => (word, ""),
    };
    let (abbreviation, depth, repair) = match term {
        "subsp." => ("subsp.", 1, None),
        "var." => ("var.", 2, None),
        "subvar." => ("subvar.", 3, None),
        "f." => ("f.", 4, None),
        "subf." => ("subf.", 5, None),
        "subsp" => ("subsp.", 1, Some("missing-full-stop")),
        "var" => ("var.", 2, Some("missing-full-stop")),
        "subvar" => ("subvar.", 3, Some("missing-full-stop")),
        "f" => ("f.", 4, Some("missing-full-stop")),
        "subf" => ("subf.", 5, Some("missing-full-stop")),
        "ssp." | "ssp" | "subspecies" => ("subsp.", 1, NORMALIZED),
        "variety" | "varietas" => ("var.", 2, NORMALIZED),
        "subvariety" | "subvarietas" => ("subvar.", 3, NORMALIZED),
        "forma" | "fo." | "fma." => ("f.", 4, NORMALIZED),
        "subforma" | "subform" => ("subf.", 5, NORMALIZED),
        "nssp." | "nsubsp." if hybrid_prefix.is_empty() => ("nothosubsp.", 1, NORMALIZED),
        "nvar." if hybrid_prefix.is_empty() => ("nothovar.", 2, NORMALIZED),
        _ => return None,
    };
    Some((format!("{hybrid_prefix}{abbreviation}"), depth, repair))
}

/// The open-nomenclature term a word stands for, as written in full, and the repair it took.
///
/// Source: Sigovini, Keppel & Tagliapietra 2016, doi:10.1111/2041-210X.12594
/// (abstract read; the terms from memory).
pub(crate) fn qualifier(word: &str) -> Option<(Qualifier, &'static str, Option<&'static str>)> {
    const STOP: Option<&str> = Some("missing-full-stop");
    const VARIANT: Option<&str> = Some("variant-qualifier");
    Some(match word {
        "cf." => (Qualifier::Cf, "cf.", None),
        "cf" => (Qualifier::Cf, "cf.", STOP),
        "cfr." | "cfr" | "conf." => (Qualifier::Cf, "cf.", VARIANT),
        "aff." => (Qualifier::Aff, "aff.", None),
        "aff" => (Qualifier::Aff, "aff.", STOP),
        "nr." | "prox." => (Qualifier::Aff, "aff.", VARIANT),
        "sp." => (Qualifier::Sp, "sp.", None),
        "sp" => (Qualifier::Sp, "sp.", STOP),
        "spec." | "spec" | "species" | "indet." => (Qualifier::Sp, "sp.", VARIANT),
        "spp." => (Qualifier::Spp, "spp.", None),
        "spp" => (Qualifier::Spp, "spp.", STOP),
        _ => return None,
    })
}

/// The term at the head of these tokens that says in which sense a name is used, and its length.
///
/// Aggregates and wide or narrow senses are closed terms; `sensu`, `auct.` and
/// `non` take all words after them, for the authors named there are not the
/// name's.
pub(crate) fn sense(tokens: &[Token]) -> Option<(String, usize)> {
    let word = |index: usize| match tokens.get(index) {
        Some(Token::Word(word)) => Some(word.as_str()),
        _ => None,
    };
    let term = match (word(0)?, word(1).unwrap_or_default()) {
        ("agg." | "agg" | "aggr.", _) => ("agg.", 1),
        ("s.l." | "s.lat.", _) => ("s.l.", 1),
        ("s.str." | "s.s.", _) => ("s.str.", 1),
        ("s.", "l." | "lat.") | ("sensu", "lato") => ("s.l.", 2),
        ("s.", "str." | "s.") | ("sensu", "stricto") => ("s.str.", 2),
        ("sensu" | "auct." | "auct" | "auctt." | "non", _) => {
            let words: Vec<&str> = (0..).map_while(word).collect();
            return Some((words.join(" "), words.len()));
        }
        _ => return None,
    };
    Some((term.0.to_owned(), term.1))
}

/// True for a word that opens a term of `sense`.
pub(crate) fn opens_sense(word: &str) -> bool {
    matches!(
        word,
        "agg."
            | "agg"
            | "aggr."
            | "s.l."
            | "s.lat."
            | "s.str."
            | "s.s."
            | "s."
            | "sensu"
            | "auct."
            | "auct"
            | "auctt."
            | "non"
    )
}

/// True for a word that joins or qualifies the parts of a name and is none itself.
pub(crate) fn is_term(word: &str) -> bool {
    joint(word).is_some()
        || qualifier(word).is_some()
        || rank(word).is_some()
        || is_cultivar_term(word)
        || opens_sense(word)
        || marker(word).is_some()
}

/// What part of an author citation a word is, if it is no name.
///
/// Source: ICN Shenzhen Art. 46 and 49 (ex, in, brackets); particles from memory.
pub(crate) fn joint(word: &str) -> Option<Joint> {
    Some(match word {
        "&" | "et" | "ex" | "in" | "and" | "emend." => Joint::Connector,
        "da" | "das" | "de" | "del" | "della" | "den" | "der" | "des" | "di" | "do" | "dos"
        | "du" | "la" | "le" | "van" | "von" | "vom" | "zu" | "zum" | "zur" | "ter" | "ten"
        | "te" | "af" | "av" | "y" => Joint::Particle,
        "f." | "fil." | "f" => Joint::Filius,
        "hort." | "hort" | "al." => Joint::Collective,
        _ => return None,
    })
}

/// What a word says of the capitalised words before it, and the repair it took.
///
/// Source: Darwin Core cultivarEpithet examples; ICNCP article 15 and 16, secondary.
pub(crate) fn marker(word: &str) -> Option<(Marker, Option<&'static str>)> {
    Some(match word {
        "Group" => (Marker::Group, None),
        "Gp" | "Gp." => (Marker::Group, Some("rank-abbreviation-normalised")),
        "group" => (Marker::Group, Some("group-lower-case")),
        "grex" => (Marker::Grex, None),
        "gx" | "gx." | "Grex" => (Marker::Grex, Some("rank-abbreviation-normalised")),
        _ => return None,
    })
}

/// True for the abbreviation of cultivar that the cultivated-plant Code gave up for quotes.
pub(crate) fn is_cultivar_term(word: &str) -> bool {
    matches!(word, "cv." | "cv" | "cultivar")
}

/// True for ranks between genus and species, which are no part of a species name.
pub(crate) fn is_infrageneric_term(word: &str) -> bool {
    matches!(
        word,
        "subg." | "subgen." | "sect." | "subsect." | "ser." | "subser."
    )
}

/// True for a year of four digits, from the first names (1753) on.
///
/// Source: ICN Art. 13.1 (starting point 1 May 1753), from memory.
pub(crate) fn is_year(word: &str) -> bool {
    word.len() == 4
        && word
            .parse::<u16>()
            .is_ok_and(|year| (1753..=2199).contains(&year))
}

/// True for a genus cut to its first letters and a full stop.
pub(crate) fn is_abbreviated_genus(word: &str) -> bool {
    word.strip_suffix('.').is_some_and(|letters| {
        (1..=6).contains(&letters.len()) && letters.bytes().all(|byte| byte.is_ascii_alphabetic())
    })
}

/// A word with its first letter a capital.
pub(crate) fn capitalized(word: &str) -> String {
    let mut characters = word.chars();
    let Some(first) = characters.next() else {
        return String::new();
    };
    // A letter whose capital is two letters stays: the result would read otherwise.
    let mut upper = first.to_uppercase();
    let capital = match (upper.next(), upper.next()) {
        (Some(capital), None) => capital,
        _ => first,
    };
    std::iter::once(capital).chain(characters).collect()
}

/// Words with capitals, but for the small ones that names of flowers keep small inside.
pub(crate) fn title_case(text: &str) -> String {
    const SMALL: &[&str] = &[
        "a", "an", "and", "at", "d", "da", "de", "del", "den", "der", "des", "di", "du", "et",
        "for", "in", "la", "le", "of", "on", "the", "to", "und", "van", "von", "y",
    ];
    let words = text.split(' ').enumerate().map(|(index, word)| {
        if index > 0 && SMALL.contains(&word) {
            word.to_owned()
        } else {
            capitalized(word)
        }
    });
    // A capital can compose with the marks after it where the small letter could not.
    words.collect::<Vec<String>>().join(" ").nfc().collect()
}

/// The tokens of a name written in capitals throughout, as they would stand otherwise.
///
/// The first word and all names get capitals; terms and the words that can only
/// be epithets get small letters.
pub(crate) fn recased(tokens: Vec<Token>) -> Vec<Token> {
    let mut is_epithet_due = false;
    let mut has_genus = false;
    let mut recased = Vec::with_capacity(tokens.len());
    for token in tokens {
        recased.push(match token {
            Token::Word(word) => {
                let lower = word.to_lowercase();
                let is_rank = rank(&lower).is_some();
                let is_term = is_rank
                    || qualifier(&lower).is_some()
                    || is_cultivar_term(&lower)
                    || is_infrageneric_term(&lower)
                    || joint(&lower).is_some();
                if is_term {
                    is_epithet_due = is_rank || (is_epithet_due && qualifier(&lower).is_some());
                    Token::Word(lower)
                } else if !has_genus {
                    has_genus = true;
                    is_epithet_due = true;
                    Token::Word(initials_only(&word))
                } else if is_epithet_due && is_plain(&word) {
                    is_epithet_due = false;
                    Token::Word(lower)
                } else {
                    is_epithet_due = false;
                    Token::Word(initials_only(&word))
                }
            }
            Token::Quoted(text, quotes) => Token::Quoted(title_case(&text.to_lowercase()), quotes),
            Token::OpenQuote(text) => Token::OpenQuote(title_case(&text.to_lowercase())),
            Token::Bracket(text) => Token::Bracket(initials_only(&text)),
            Token::Sign(_)
            | Token::Plus
            | Token::StrayQuote
            | Token::OpenBracket
            | Token::CloseBracket
            | Token::Comma
            | Token::Query(_)
            | Token::Other => token,
        });
    }
    recased
}

/// Every run of letters with its first letter alone a capital.
fn initials_only(text: &str) -> String {
    let mut is_inside = false;
    let mut cased = String::with_capacity(text.len());
    for character in text.chars() {
        if is_inside {
            cased.extend(character.to_lowercase());
        } else {
            cased.push(character);
        }
        is_inside = character.is_alphabetic();
    }
    cased
}
