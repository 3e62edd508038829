//! The text of a plant name, cleaned and cut into tokens, and what single words look like.
//!
//! Knows nothing of how the tokens make up a name: that is `parse`.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// One piece of a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Token {
    /// Letters, digits, full stops, hyphens and apostrophes inside; or `&` alone.
    Word(String),
    /// The multiplication sign, or a letter x standing for it.
    Sign(Sign),
    /// The addition sign of graft-chimaeras.
    Plus,
    /// Text between two quotation marks.
    Quoted(String, Quotes),
    /// All that follows an opening quotation mark that is never closed.
    OpenQuote(String),
    /// A closing quotation mark without an opening one.
    StrayQuote,
    /// Text between two matching round brackets.
    Bracket(String),
    /// An opening bracket that is never closed; what follows it is dropped.
    OpenBracket,
    /// A closing bracket without an opening one.
    CloseBracket,
    /// A comma.
    Comma,
    /// A question mark; tight when it touches what stands before it.
    Query(Spacing),
    /// Any other character.
    Other,
}

impl Token {
    /// The text of a word.
    pub(crate) fn word(&self) -> Option<&str> {
        match self {
            Token::Word(word) => Some(word),
            _ => None,
        }
    }
}

/// How a hybrid sign was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sign {
    /// `×` next to the word it belongs to.
    Tight,
    /// `×` with a space after it.
    Spaced,
    /// A free-standing letter x.
    Letter,
}

/// Which quotation marks stood round a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Quotes {
    /// Straight or curly single marks.
    Single,
    /// Any double marks.
    Double,
    /// Grave and acute accents, primes, angle marks and the like.
    Odd,
}

/// Whether a mark touches what stands before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Spacing {
    /// It does.
    Tight,
    /// It does not.
    Free,
}

/// The text in NFC with plain spaces, and the repairs that took.
///
/// Invisible characters and trade mark signs go, every run of white space
/// becomes one space, and look-alikes of hyphen and multiplication sign become
/// the real ones.
pub(crate) fn cleaned(text: &str) -> (String, Vec<&'static str>) {
    let mut repairs = Vec::new();
    let mut mapped = String::with_capacity(text.len());
    for character in text.chars() {
        let (replacement, repair) = match character {
            ' ' => (" ", None),
            '_' => (" ", Some("underscore-for-space")),
            _ if character.is_whitespace() && !character.is_ascii() => {
                (" ", Some("non-ascii-space"))
            }
            _ if character.is_whitespace() => (" ", Some("extra-whitespace")),
            _ if is_zero_width(character) => ("", Some("zero-width-character")),
            _ if character.is_control() => (" ", Some("extra-whitespace")),
            '®' | '™' | '©' => ("", Some("trade-mark-sign-dropped")),
            '✕' | '✖' | '⨉' | '⨯' | '╳' => {
                ("×", Some("non-standard-multiplication-sign"))
            }
            '\u{2010}' | '\u{2011}' => ("-", Some("non-standard-hyphen")),
            'ſ' => ("s", Some("long-s")),
            'ﬀ' => ("ff", Some("ligature-written-out")),
            'ﬁ' => ("fi", Some("ligature-written-out")),
            'ﬂ' => ("fl", Some("ligature-written-out")),
            'ﬃ' => ("ffi", Some("ligature-written-out")),
            'ﬄ' => ("ffl", Some("ligature-written-out")),
            'ﬅ' | 'ﬆ' => ("st", Some("ligature-written-out")),
            _ => {
                mapped.push(character);
                continue;
            }
        };
        mapped.push_str(replacement);
        if let Some(repair) = repair {
            note(&mut repairs, repair);
        }
    }
    let composed: String = mapped.nfc().collect();
    if composed != mapped {
        note(&mut repairs, "unicode-normalised");
    }
    let words: Vec<&str> = composed
        .split(' ')
        .filter(|word| !word.is_empty())
        .collect();
    let single_spaced = words.join(" ");
    if single_spaced != composed {
        note(&mut repairs, "extra-whitespace");
    }
    (single_spaced, repairs)
}

/// Adds a repair once, in the order met.
pub(crate) fn note(repairs: &mut Vec<&'static str>, repair: &'static str) {
    if !repairs.contains(&repair) {
        repairs.push(repair);
    }
}

/// True for text that holds a tag or a character reference.
pub(crate) fn has_markup(text: &str) -> bool {
    if text.contains(['<', '>']) {
        return true;
    }
    text.split('&').skip(1).any(|after| {
        let n_name = after
            .bytes()
            .take_while(|byte| byte.is_ascii_alphanumeric() || *byte == b'#')
            .count();
        n_name > 0 && after.as_bytes().get(n_name) == Some(&b';')
    })
}

/// The tokens of cleaned text, in linear time.
pub(crate) fn tokens(text: &str) -> Vec<Token> {
    let characters: Vec<char> = text.chars().collect();
    let closers = last_closers(&characters);
    let mut tokens = Vec::new();
    let mut at = 0;
    while let Some(&character) = characters.get(at) {
        let next = characters.get(at + 1).copied();
        at += 1;
        match character {
            ' ' => {}
            '×' if next == Some(' ') => tokens.push(Token::Sign(Sign::Spaced)),
            '×' => tokens.push(Token::Sign(Sign::Tight)),
            '+' => tokens.push(Token::Plus),
            ',' => tokens.push(Token::Comma),
            ')' => tokens.push(Token::CloseBracket),
            '&' => tokens.push(Token::Word("&".to_owned())),
            '?' => tokens.push(Token::Query(
                match at.checked_sub(2).map(|before| characters[before]) {
                    None | Some(' ' | '(' | '×' | '+') => Spacing::Free,
                    Some(_) => Spacing::Tight,
                },
            )),
            '(' => {
                let Some(end) = closing_bracket(&characters, at) else {
                    tokens.push(Token::OpenBracket);
                    break;
                };
                tokens.push(Token::Bracket(slice(&characters, at, end)));
                at = end + 1;
            }
            _ if is_quote(character) => {
                let follows_word = at >= 2 && is_word_character(characters[at - 2]);
                let is_stray = follows_word && !opens_after_word(&characters, at - 1);
                if is_stray && !is_double(character) {
                    tokens.push(Token::StrayQuote);
                } else if let Some(end) = closing_quote(&characters, at, character, &closers) {
                    let content = slice(&characters, at, end);
                    tokens.push(Token::Quoted(content, quotes(character)));
                    at = end + 1;
                } else {
                    tokens.push(Token::OpenQuote(slice(&characters, at, characters.len())));
                    break;
                }
            }
            _ if is_word_character(character) => {
                let start = at - 1;
                while is_word_part(&characters, at) {
                    at += 1;
                }
                tokens.push(Token::Word(slice(&characters, start, at)));
            }
            _ => tokens.push(Token::Other),
        }
    }
    letter_signs(&mut tokens);
    tokens
}

/// True when a word starts with a capital letter, or with a small article before one (`d'Urv.`).
pub(crate) fn is_capitalized(word: &str) -> bool {
    let after_apostrophe = word.split_once(is_quote).map(|(_, after)| after);
    word.starts_with(char::is_uppercase)
        || after_apostrophe.is_some_and(|after| after.starts_with(char::is_uppercase))
}

/// True for a word of letters, inner hyphens and inner apostrophes alone.
pub(crate) fn is_plain(word: &str) -> bool {
    word.chars().any(char::is_alphabetic)
        && word.chars().all(|character| {
            character.is_alphabetic()
                || character == '-'
                || is_quote(character)
                || is_combining_mark(character)
        })
}

/// True for a word of three letters or more, all of them capitals.
pub(crate) fn is_in_capitals(word: &str) -> bool {
    let n_upper = word
        .chars()
        .filter(|character| character.is_uppercase())
        .count();
    n_upper > 2 && !word.contains('.') && !word.chars().any(char::is_lowercase)
}

/// True for any mark used as a quotation mark or an apostrophe.
pub(crate) fn is_quote(character: char) -> bool {
    is_double(character)
        || matches!(
            character,
            '\'' | '‘'
                | '’'
                | '‚'
                | '‛'
                | '`'
                | '´'
                | '′'
                | '‵'
                | 'ʼ'
                | 'ʹ'
                | '‹'
                | '›'
                | '＇'
        )
}

/// True for characters that take no room on the page.
pub(crate) fn is_zero_width(character: char) -> bool {
    matches!(
        character,
        '\u{ad}' | '\u{34f}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{2064}' | '\u{2066}'..='\u{206f}' | '\u{feff}'
    )
}

fn is_double(character: char) -> bool {
    matches!(
        character,
        '"' | '“' | '”' | '„' | '‟' | '«' | '»' | '″' | '＂'
    )
}

fn quotes(opening: char) -> Quotes {
    match opening {
        '\'' | '‘' | '’' => Quotes::Single,
        '«' | '»' | '″' => Quotes::Odd,
        _ if is_double(opening) => Quotes::Double,
        _ => Quotes::Odd,
    }
}

fn slice(characters: &[char], start: usize, end: usize) -> String {
    characters[start..end].iter().collect()
}

fn is_word_character(character: char) -> bool {
    character.is_alphanumeric() && !is_quote(character)
        || is_combining_mark(character)
        || character == '.'
        || character == '-'
}

/// Inside a word, a quotation mark between two letters is an apostrophe.
fn is_word_part(characters: &[char], at: usize) -> bool {
    let is_letter = |index: Option<usize>| {
        index
            .and_then(|index| characters.get(index))
            .is_some_and(|character| character.is_alphanumeric() && !is_quote(*character))
    };
    characters.get(at).is_some_and(|character| {
        is_word_character(*character)
            || (is_quote(*character)
                && !is_double(*character)
                && !opens_after_word(characters, at)
                && is_letter(at.checked_sub(1))
                && is_letter(at.checked_add(1)))
    })
}

/// True for a mark between small letters and a capital: `wendtii'Mi Oya'` lacks a space.
///
/// Three letters, since `d'Urv.` and the like have fewer.
fn opens_after_word(characters: &[char], at: usize) -> bool {
    let before = at.checked_sub(3).map(|start| &characters[start..at]);
    let is_word_before =
        before.is_some_and(|before| before.iter().all(|letter| letter.is_lowercase()));
    is_word_before
        && characters
            .get(at + 1)
            .is_some_and(|next| next.is_uppercase())
}

/// The index of the bracket that closes the one before `from`.
fn closing_bracket(characters: &[char], from: usize) -> Option<usize> {
    let mut depth = 1_usize;
    for (index, character) in characters.iter().enumerate().skip(from) {
        match character {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return Some(index);
        }
    }
    None
}

/// The last place where each kind of mark can close a quotation.
///
/// Known beforehand so that no search for a mark that never comes is made
/// twice: that would cost quadratic time.
fn last_closers(characters: &[char]) -> Vec<(char, usize)> {
    let mut closers: Vec<(char, usize)> = Vec::new();
    for (index, character) in characters.iter().enumerate() {
        if !is_quote(*character) || !closes(characters, index) {
            continue;
        }
        match closers.iter_mut().find(|(mark, _)| mark == character) {
            Some((_, last)) => *last = index,
            None => closers.push((*character, index)),
        }
    }
    closers
}

/// A mark with a letter after it is an apostrophe or an opening mark.
fn closes(characters: &[char], index: usize) -> bool {
    is_double(characters[index])
        || !characters
            .get(index + 1)
            .is_some_and(|next| next.is_alphanumeric())
}

/// The index of the mark that closes the quotation opened before `from`.
///
/// The mark that pairs with the opening one is preferred, so that an
/// apostrophe of another kind can stand inside; failing that, any mark of the
/// same weight.
fn closing_quote(
    characters: &[char],
    from: usize,
    opening: char,
    last_closers: &[(char, usize)],
) -> Option<usize> {
    let partners: &[char] = match opening {
        '‘' | '‛' => &['’'],
        '‚' => &['‘', '’'],
        '`' => &['´', '`'],
        '‵' => &['′'],
        '“' | '‟' => &['”'],
        '„' => &['“', '”'],
        '«' => &['»'],
        '»' => &['«'],
        '‹' => &['›'],
        '›' => &['‹'],
        _ => &[opening],
    };
    let is_partner = |mark: char| partners.contains(&mark);
    let is_same_weight = |mark: char| is_double(mark) == is_double(opening);
    let comes = |fits: &dyn Fn(char) -> bool| {
        last_closers
            .iter()
            .any(|(mark, last)| fits(*mark) && *last >= from)
    };
    let fits: &dyn Fn(char) -> bool = if comes(&is_partner) {
        &is_partner
    } else if comes(&is_same_weight) {
        &is_same_weight
    } else {
        return None;
    };
    (from..characters.len()).find(|index| {
        is_quote(characters[*index]) && fits(characters[*index]) && closes(characters, *index)
    })
}

/// Reads a free-standing x before another word as the multiplication sign.
fn letter_signs(tokens: &mut [Token]) {
    for index in 1..tokens.len() {
        let stands_before_word = matches!(tokens[index], Token::Word(_) | Token::Query(_));
        let previous = &mut tokens[index - 1];
        if stands_before_word && matches!(previous, Token::Word(word) if word == "x" || word == "X")
        {
            *previous = Token::Sign(Sign::Letter);
        }
    }
}
