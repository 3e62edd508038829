//! Page addresses of names, and the key by which two spellings of a name are compared.
//!
//! Knows nothing of what the parts of a name mean: that is `parse`.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use crate::names::tokens::is_quote;
use crate::names::tokens::is_zero_width;

/// The page address of a name; it never changes once published.
///
/// Decomposed (NFKD), combining marks dropped, `×` read as " x ", lower case,
/// every run of anything but a–z and 0–9 one hyphen, none at the ends.
/// Empty for a name without a single Latin letter or digit.
pub fn slug(name: &str) -> String {
    let mut slug = String::with_capacity(name.len());
    let mut is_gap = false;
    let decomposed = name
        .nfkd()
        .filter(|character| !is_combining_mark(*character));
    for character in decomposed.flat_map(char::to_lowercase) {
        // Spaces round the sign, so that `×piperita` does not read `xpiperita`.
        let (letter, is_sign) = match character {
            '×' => ('x', true),
            _ => (character, false),
        };
        if !letter.is_ascii_alphanumeric() {
            is_gap = true;
            continue;
        }
        if (is_gap || is_sign) && !slug.is_empty() {
            slug.push('-');
        }
        slug.push(letter);
        is_gap = is_sign;
    }
    slug
}

/// The key under which a name is looked up: equal for spellings of one name.
///
/// NFC, lower case, all quotation marks as `'`, the hybrid sign gone (also as a
/// free-standing x before another word), diaeresis ignored, white space of any
/// kind one space, invisible characters gone. Ranks and quotation marks stay:
/// a variety and a cultivar of one epithet are two plants.
///
/// Source: ICN Art. H.3 (the sign is disregarded for homonymy), read in an
/// earlier edition; the rest is our choice.
pub fn key(text: &str) -> String {
    let visible = text.chars().filter(|character| !is_zero_width(*character));
    let folded: String = visible
        .nfd()
        .filter(|character| *character != '\u{308}')
        .map(|character| match character {
            '×' | '_' => ' ',
            'ſ' => 's',
            '\u{2010}' | '\u{2011}' => '-',
            _ if is_quote(character) => '\'',
            _ if character.is_control() => ' ',
            _ => character,
        })
        .collect();
    let lower: String = folded.to_lowercase().nfc().collect();
    let mut words = lower.split_whitespace().peekable();
    let mut key = String::with_capacity(lower.len());
    while let Some(word) = words.next() {
        if word == "x" && words.peek().is_some() {
            continue;
        }
        if !key.is_empty() {
            key.push(' ');
        }
        key.push_str(word);
    }
    key
}
