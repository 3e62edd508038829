//! How a text is written as a scalar of YAML.

/// Words that other readers of YAML take for something else than a text.
const TAKEN: &[&str] = &[
    "null", "true", "false", "yes", "no", "on", "off", "y", "n", "~",
];

/// A scalar as it is written: plain where that is safe in any place, else in double quotes.
pub(crate) fn scalar(text: &str) -> String {
    if is_plain(text) || is_negative(text) {
        text.to_owned()
    } else {
        quoted(text)
    }
}

/// The text of a scalar for a place where `raw` stood: in the same quotes, or plain where it can
/// be. `None` where `raw` runs over lines, so that its folding would be lost.
pub(crate) fn in_manner_of(raw: &str, text: &str) -> Option<String> {
    if raw.contains('\n') || text.contains('\n') {
        return None;
    }
    Some(if raw.starts_with('\'') {
        format!("'{}'", text.replace('\'', "''"))
    } else if raw.starts_with('"') {
        quoted(text)
    } else {
        scalar(text)
    })
}

/// A text in double quotes.
pub(crate) fn quoted(text: &str) -> String {
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

/// Whether a text is a number below zero, or a span or a quantity that starts with one.
fn is_negative(text: &str) -> bool {
    let rest = text.strip_prefix('-');
    rest.is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()) && is_plain(rest))
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
            .all(|c| c.is_alphanumeric() || " ._-/+%'’();×µ°".contains(c))
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
            ("-0.02", "-0.02"),
            ("-2..5 C", "-2..5 C"),
            ("- 2", "\"- 2\""),
            ("-", "\"-\""),
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
