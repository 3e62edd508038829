//! How Latin words are spelled, and which English words are taken for them.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use crate::names::tokens::is_quote;
use crate::names::tokens::note;

/// A word as genus or epithet: plain Latin letters, small, with the repairs that took.
///
/// None when it holds anything but letters and inner hyphens or apostrophes.
/// A diaeresis is dropped; other marks, ligatures and apostrophes are
/// transcribed: ä ö ü as ae oe ue unless a vowel stands before, when the dots
/// part two vowels.
///
/// Source: ICN Shenzhen Art. 60.7, from memory.
pub(super) fn latin_letters(word: &str) -> Option<(String, Vec<&'static str>)> {
    let mut letters = String::with_capacity(word.len());
    let mut repairs = Vec::new();
    for character in word.chars() {
        let lower = character.to_lowercase().next().unwrap_or(character);
        if lower.is_ascii_lowercase() || lower == '-' {
            letters.push(lower);
            continue;
        }
        let transcribed = match lower {
            'æ' => "ae",
            'œ' | 'ø' => "oe",
            'ß' => "ss",
            _ if is_quote(lower) => "",
            _ => {
                let mut parts = lower.nfd();
                let base = parts.next().filter(char::is_ascii_lowercase)?;
                let mark = parts.next().filter(|mark| is_combining_mark(*mark))?;
                let follows_vowel = letters.ends_with(['a', 'e', 'i', 'o', 'u', 'y']);
                let is_umlaut = mark == '\u{308}' && "aou".contains(base) && !follows_vowel;
                letters.push(base);
                if mark == '\u{308}' && !is_umlaut {
                    note(&mut repairs, "diaeresis-ignored-for-matching");
                    continue;
                }
                match (base, mark) {
                    _ if is_umlaut => "e",
                    ('a', '\u{30a}') => "o",
                    _ => "",
                }
            }
        };
        note(&mut repairs, "diacritic-transcribed");
        letters.push_str(transcribed);
    }
    let is_sound = letters.len() > 1
        && letters.starts_with(|first: char| first.is_ascii_lowercase())
        && letters.ends_with(|last: char| last.is_ascii_lowercase());
    is_sound.then_some((letters, repairs))
}

/// True when a small-letter word ends as Latin words and latinised foreign ones do.
///
/// A vowel, or one consonant out of those that close Latin and Greek words,
/// or one of a few pairs (repens, anceps, iners). Foreign words kept as they
/// are may also end in k, t, ch or ng (Murdannia keisak, Panax ginseng).
///
/// Our choice: keeps most English plant words out without a dictionary. An
/// epithet that is refused by it belongs in the pairs below.
pub(super) fn has_latin_shape(word: &str) -> bool {
    let is_vowel = |byte: u8| b"aeiouy".contains(&byte);
    let bytes = word.as_bytes();
    let from_end = |n_back: usize| bytes.len().checked_sub(n_back).map(|index| bytes[index]);
    let (Some(last), Some(before)) = (from_end(1), from_end(2)) else {
        return false;
    };
    if !bytes.iter().copied().any(is_vowel) || word.ends_with("ee") || word.ends_with("oo") {
        return false;
    }
    if b"aeiou".contains(&last) {
        return true;
    }
    if is_vowel(before) {
        return b"bchklmnprstx".contains(&last);
    }
    let is_pair = ["bs", "ch", "ng", "ns", "nx", "ph", "ps", "rs", "rx", "th"]
        .iter()
        .any(|pair| word.ends_with(pair));
    is_pair && from_end(3).is_some_and(is_vowel)
}

/// True for the commonest endings of Latin epithets, too Latin for a selling name.
pub(super) fn has_latin_ending(word: &str) -> bool {
    const ENDINGS: &[&str] = &[
        "a", "i", "ae", "us", "um", "is", "ans", "ens", "or", "pes", "ides", "ax", "ex", "ix",
        "ceps", "are", "ale", "ile", "ense", "estre",
    ];
    word.len() > 3 && ENDINGS.iter().any(|ending| word.ends_with(ending))
}

/// True for an epithet whose first letter may be a hybrid sign written as x.
///
/// Epithets that begin with x come from a handful of Greek roots; all others
/// are in doubt. Source: common practice, no source; roots from memory.
pub(super) fn may_hide_sign(epithet: &str) -> bool {
    const ROOTS: &[&str] = &["xanth", "xen", "xer", "xiph", "xyl", "xyr", "xyst", "xalap"];
    epithet.starts_with('x') && !ROOTS.iter().any(|root| epithet.starts_with(root))
}

/// True for an English word that ends the common name of a plant.
///
/// Our choice: general English, needed because `Java fern` is built like a
/// binomial. A missing word costs a false binomial, which the name lookup
/// then reports as unknown.
pub(super) fn is_plant_noun(word: &str) -> bool {
    const ENDINGS: &[&str] = &[
        "weed", "wort", "grass", "fern", "moss", "foil", "lily", "nut", "leaf", "root", "cress",
        "berry", "flower", "feather", "lettuce", "thorn",
    ];
    const NOUNS: &str = "\
        alga algae arrowhead ball bit bush buttercup cabbage chestnut clover daisy duckweed \
        fennel form frogbit hair heather herb hyacinth iris ivy lace lantern lilies mat mint \
        onion orchid palm parsley pine plant plantain poppy primrose race reed rose rush sedge \
        shamrock soldier spinach sprite star strain sword tail tongue tree type variety vine \
        wisteria";
    let is_listed =
        |word: &str| is_among(NOUNS, word) || ENDINGS.iter().any(|ending| word.ends_with(ending));
    let lower = word.to_lowercase();
    let singular = lower.strip_suffix("es").or(lower.strip_suffix('s'));
    is_listed(&lower)
        || lower.strip_suffix('s').is_some_and(is_listed)
        || singular.is_some_and(is_listed)
}

/// True for an English word that opens a common name or a sentence, and is no genus.
pub(super) fn opens_common_name(word: &str) -> bool {
    const OPENERS: &str = "\
        a african all american an and any asian australian bog brazilian chinese christmas \
        climbing common creeping european false flame floating for from in indian it its \
        japanese lake lesser marsh mixed my no not of on one onion our parrot pond river sea \
        singapore some spring stream swamp sword the this tropical true two unknown water \
        weeping wild with";
    let lower = word.to_lowercase();
    is_among(OPENERS, &lower) || is_descriptive(&lower) || is_plant_noun_only(&lower)
}

/// True for an English word of colour, size or shape, as selling names use them.
///
/// Gray is left out because it is an author's surname far more often.
pub(super) fn is_descriptive(word: &str) -> bool {
    const WORDS: &str = "\
        big black blue bright broad bronze brown compact curly dark deep dwarf fine giant gold \
        golden green hairy hybrid large leaf leaved light long mega micro mini narrow new orange pale \
        pink purple red round short silver small spotted striped super tall thin tiger tiny \
        variegated wavy white yellow";
    let lower = word.to_lowercase();
    is_among(WORDS, &lower)
}

/// True for a plant noun that no genus is spelled like, as the iris is.
fn is_plant_noun_only(lower: &str) -> bool {
    lower != "iris" && is_plant_noun(lower)
}

/// True for a word of a list that is written as one text.
fn is_among(list: &str, word: &str) -> bool {
    list.split(' ').any(|listed| listed == word)
}
