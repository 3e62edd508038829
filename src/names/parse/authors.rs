//! Author citations: where one starts, where it ends, and what is none.

use crate::names::parse::spelling;
use crate::names::tokens;
use crate::names::tokens::Token;
use crate::names::words;
use crate::names::words::Joint;

/// What shows that words are an author citation.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Proof {
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
pub(super) fn authors(tokens: &[Token], from: usize, proof: Proof) -> Option<(usize, String)> {
    let mut at = from;
    let mut text = String::new();
    let mut has_mark = false;
    // The citation up to its last whole author, and up to the last comma no `&` has followed yet.
    let mut whole: Option<(usize, usize)> = None;
    let mut before_list: Option<(usize, usize)> = None;
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
                if is_list_closed {
                    before_list = whole;
                }
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
    let (end, length) = if is_list_closed { whole? } else { before_list? };
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
    (proof == Proof::LoneName && is_lone && ends_there && !spelling::is_descriptive(&text))
        .then_some((end, text))
}

/// The content of a bracket, if it is all one author citation.
pub(super) fn author_content(content: &str) -> Option<String> {
    if content.contains(['(', ')']) {
        return None;
    }
    let inner = tokens::tokens(content);
    authors(&inner, 0, Proof::LoneName)
        .filter(|(end, _)| *end == inner.len())
        .map(|(_, text)| text)
}

/// True when the particles from here on lead to a capitalised surname.
pub(super) fn names_author(tokens: &[Token], at: usize) -> bool {
    tokens
        .iter()
        .skip(at)
        .filter_map(Token::word)
        .take(4)
        .find(|word| words::joint(word) != Some(Joint::Particle))
        .is_some_and(tokens::is_capitalized)
}

/// True when an `f.` means forma: an epithet follows, not more of the citation.
pub(super) fn opens_infraspecific(tokens: &[Token], at: usize) -> bool {
    tokens
        .get(at + 1)
        .and_then(Token::word)
        .is_some_and(|next| {
            next.starts_with(char::is_lowercase) && tokens::is_plain(next) && !words::is_term(next)
        })
}
