//! Pieces of YAML as a claim is made of them, and how they are written.

use crate::content::yaml::{Data, Node};

/// A scalar, a list or a map, in the order in which it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    /// A scalar.
    Text(String),
    /// A list.
    List(Vec<Part>),
    /// A map.
    Map(Vec<(String, Part)>),
}

impl Part {
    /// A scalar.
    pub fn text(text: impl Into<String>) -> Part {
        Part::Text(text.into())
    }

    /// What a node of a file holds; a key without a value is an empty text.
    pub(crate) fn of(node: &Node) -> Part {
        match &node.data {
            Data::Null => Part::Text(String::new()),
            Data::Text(text) => Part::Text(text.clone()),
            Data::List(items) => Part::List(items.iter().map(Part::of).collect()),
            Data::Map(entries) => Part::Map(
                entries
                    .iter()
                    .map(|(key, node)| (key.text.clone(), Part::of(node)))
                    .collect(),
            ),
        }
    }

    /// On one line, as between braces and brackets.
    pub fn on_one_line(&self) -> String {
        match self {
            Part::Text(text) => scalar(text),
            Part::List(items) => {
                let items: Vec<String> = items.iter().map(Part::on_one_line).collect();
                format!("[{}]", items.join(", "))
            }
            Part::Map(entries) => {
                let entries: Vec<String> = entries
                    .iter()
                    .map(|(key, part)| format!("{}: {}", scalar(key), part.on_one_line()))
                    .collect();
                format!("{{{}}}", entries.join(", "))
            }
        }
    }
}

/// Words that other readers of YAML take for something else than a text.
const TAKEN: &[&str] = &[
    "null", "true", "false", "yes", "no", "on", "off", "y", "n", "~",
];

/// A scalar as it is written: plain where that is safe in any place, else in double quotes.
pub(crate) fn scalar(text: &str) -> String {
    if is_plain(text) {
        return text.to_owned();
    }
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            // Not printable by YAML 1.2.2, 5.1, or taken for a line break by older readers.
            c if c.is_control()
                || matches!(
                    c,
                    '\u{2028}' | '\u{2029}' | '\u{feff}' | '\u{fffe}' | '\u{ffff}'
                ) =>
            {
                out.push_str(&format!("\\u{:04x}", u32::from(c)));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// Whether a text may stand without quotes, between braces too. Our choice: fewer texts than
/// YAML would let pass.
fn is_plain(text: &str) -> bool {
    let is_open_span = text.starts_with("..");
    let mut chars = text.chars();
    let Some(first) = chars.next() else {
        return false;
    };
    (first.is_alphanumeric() || is_open_span)
        && !text.ends_with(' ')
        && !TAKEN.contains(&text.to_lowercase().as_str())
        && text
            .chars()
            .all(|c| c.is_alphanumeric() || " ._-/+%'()×µ°".contains(c))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_that_could_be_read_as_something_else_is_quoted() {
        for (text, written) in [
            ("fast", "fast"),
            ("2025-05-01/2025-06-20", "2025-05-01/2025-06-20"),
            ("25..35 umol/m2/s", "25..35 umol/m2/s"),
            ("..40 umol/m2/s", "..40 umol/m2/s"),
            (
                "Cryptocoryne wendtii 'Mi Oya'",
                "Cryptocoryne wendtii 'Mi Oya'",
            ),
            ("no", "\"no\""),
            ("", "\"\""),
            ("a: b", "\"a: b\""),
            ("a, b", "\"a, b\""),
            ("# not a remark", "\"# not a remark\""),
            ("two\nlines", "\"two\\nlines\""),
            ("a \"quoted\" \\ word", "\"a \\\"quoted\\\" \\\\ word\""),
            ("'quoted'", "\"'quoted'\""),
            ("- dash", "\"- dash\""),
            ("ends ", "\"ends \""),
            ("bell\u{7}", "\"bell\\u0007\""),
        ] {
            assert_eq!(scalar(text), written);
        }
    }
}
