//! Values of the format as regular expressions, in the part of their language that JSON Schema
//! validators share (ECMA 262, without flags).

use std::collections::BTreeMap;

use serde_json::{Value as Json, json};

use crate::quantity::{Dimension, UNITS, number};

/// An unsigned number as `quantity::number` reads it.
const DIGITS: &str = r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?";

/// Somewhere before the exponent stands a digit that is not 0.
const ABOVE_ZERO: &str = r"(?=[0-9.]*[1-9])";

/// A day that exists, but for the 29th of February in a year that has none.
const DAY: &str = r"[0-9]{4}-(?:(?:0[13578]|1[02])-(?:0[1-9]|[12][0-9]|3[01])|(?:0[469]|11)-(?:0[1-9]|[12][0-9]|30)|02-(?:0[1-9]|[12][0-9]))";

/// A month.
const MONTH: &str = r"[0-9]{4}-(?:0[1-9]|1[0-2])";

/// An id, or an address of a page.
pub(crate) const ID: &str = r"^[a-z0-9](?:[a-z0-9-]*[a-z0-9])?$";

/// A web address with a host; no query and no fragment.
pub(crate) const ADDRESS: &str = r"^\s*https?://[A-Za-z0-9.:\[\]-]+(?:/[!$-;=@-~]*)?\s*$";

/// A link that may be shown.
pub(crate) const LINK: &str = r#"^(?:[Hh][Tt][Tt][Pp][Ss]?://|[Mm][Aa][Ii][Ll][Tt][Oo]:)[^\s"<]*$"#;

fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if r"\.+*?()[]{}|^$/".contains(c) {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

/// Units of some dimensions; all of them where none is named.
fn units(dimensions: &[Dimension]) -> String {
    let named = UNITS
        .iter()
        .filter(|unit| dimensions.is_empty() || dimensions.contains(&unit.dimension));
    let names: Vec<String> = named.map(|unit| escaped(unit.name)).collect();
    format!("(?:{})", names.join("|"))
}

/// A number and a unit.
pub(crate) fn quantity(dimensions: &[Dimension]) -> String {
    format!(r"^\s*[-+]?{DIGITS}\s*{}\s*$", units(dimensions))
}

/// A number above zero and a unit.
pub(crate) fn above_zero(dimensions: &[Dimension]) -> String {
    format!(r"^\s*\+?{ABOVE_ZERO}{DIGITS}\s*{}\s*$", units(dimensions))
}

/// Sizes above zero of each kind that can be compared: of one dimension, and for counts of one
/// thing.
pub(crate) fn sizes_of_one_kind(dimensions: &[Dimension]) -> Vec<String> {
    let mut kinds: BTreeMap<(Dimension, Option<&str>), Vec<String>> = BTreeMap::new();
    for unit in UNITS
        .iter()
        .filter(|unit| dimensions.contains(&unit.dimension))
    {
        let kind = kinds.entry((unit.dimension, unit.thing)).or_default();
        kind.push(escaped(unit.name));
    }
    let of =
        |units: &Vec<String>| format!(r"^\s*\+?{ABOVE_ZERO}{DIGITS}\s*(?:{})\s*$", units.join("|"));
    kinds.values().map(of).collect()
}

/// A value, or a range with both ends.
pub(crate) fn closed_span(dimensions: &[Dimension]) -> String {
    let units = units(dimensions);
    format!(r"^\s*(?:[-+]?{DIGITS}\s*\.\.\s*)?[-+]?{DIGITS}\s*{units}\s*$")
}

/// A value, a range, or a range open at one end.
pub(crate) fn span(dimensions: &[Dimension]) -> String {
    let units = units(dimensions);
    format!(
        r"^\s*(?:(?:[-+]?{DIGITS}\s*)?\.\.\s*[-+]?{DIGITS}|[-+]?{DIGITS}\s*\.\.|[-+]?{DIGITS})\s*{units}\s*$"
    )
}

/// A day.
pub(crate) fn day() -> String {
    format!(r"^\s*{DAY}\s*$")
}

/// A year, a month or a day.
pub(crate) fn date() -> String {
    format!(r"^\s*(?:[0-9]{{4}}|{MONTH}|{DAY})\s*$")
}

/// A date, or two of them joined by `/`.
pub(crate) fn period() -> String {
    let date = format!(r"(?:[0-9]{{4}}|{MONTH}|{DAY})");
    format!(r"^\s*{date}(?:\s*/\s*{date})?\s*$")
}

/// A number in quotes.
pub(crate) fn number_text() -> String {
    format!(r"^\s*[-+]?{DIGITS}\s*$")
}

/// A number of zero or more in quotes.
pub(crate) fn weight_text() -> String {
    format!(r"^\s*(?:\+?{DIGITS}|-(?:0+\.?0*|\.0+))\s*$")
}

/// Any of some words in any letter case, blanks around it allowed.
fn any_of(words: &[String]) -> String {
    let folded: Vec<String> = words.iter().map(|word| folded(word)).collect();
    format!(r"\s*(?:{})\s*", folded.join("|"))
}

fn folded(word: &str) -> String {
    let mut out = String::new();
    for c in word.chars() {
        let lower: Vec<char> = c.to_lowercase().collect();
        let upper: Vec<char> = c.to_uppercase().collect();
        match (&lower[..], &upper[..]) {
            ([lower], [upper]) if lower != upper => out.push_str(&format!("[{lower}{upper}]")),
            _ => out.push_str(&escaped(&c.to_string())),
        }
    }
    out
}

/// A word as YAML reads it: one that looks like a number or a truth value is one.
fn as_read(word: &str) -> Vec<Json> {
    let mut out = vec![json!(word)];
    match word {
        "true" | "True" | "TRUE" => out.push(json!(true)),
        "false" | "False" | "FALSE" => out.push(json!(false)),
        _ => {
            if let Some(value) = number(word) {
                out.push(serde_json::from_str(word).unwrap_or_else(|_| json!(value)));
            }
        }
    }
    out
}

/// Exactly one of some words. An editor offers them.
pub(crate) fn one_of(words: &[String]) -> Json {
    if words.is_empty() {
        // There is none yet: nothing can be written here.
        return json!({ "not": {} });
    }
    let read: Vec<Json> = words.iter().flat_map(|word| as_read(word)).collect();
    json!({ "enum": read })
}

/// One of some words in any letter case. An editor offers them as they are declared.
pub(crate) fn one_of_folded(words: &[String]) -> Json {
    if words.is_empty() {
        return one_of(words);
    }
    let pattern = format!("^{}$", any_of(words));
    json!({ "anyOf": [one_of(words), { "type": "string", "pattern": pattern }] })
}

/// One of some words, or a span `a..b` of them, in any letter case.
pub(crate) fn word_or_span(words: &[String]) -> Json {
    if words.is_empty() {
        return one_of(words);
    }
    let word = any_of(words);
    let pattern = format!(r"^{word}(?:\.\.{word})?$");
    json!({ "anyOf": [one_of(words), { "type": "string", "pattern": pattern }] })
}

/// Some words to offer, and any other text.
pub(crate) fn offered(words: &[String]) -> Json {
    if words.is_empty() {
        return text();
    }
    json!({ "anyOf": [one_of(words), text()] })
}

/// Any text. A plain number or truth value is a text to the reader.
pub(crate) fn text() -> Json {
    json!({ "type": ["string", "number", "boolean"], "pattern": r"\S" })
}
