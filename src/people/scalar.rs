//! A text written back into YAML in the manner it was written in.

/// The text of a scalar for a place where `raw` stood: in the same quotes, or plain where it can
/// be. `None` where `raw` runs over lines, so that its folding would be lost.
pub(crate) fn written(raw: &str, text: &str) -> Option<String> {
    if raw.contains('\n') || text.contains('\n') {
        return None;
    }
    if raw.starts_with('\'') {
        return Some(format!("'{}'", text.replace('\'', "''")));
    }
    if raw.starts_with('"') || !is_plain(text) {
        return Some(quoted(text));
    }
    Some(text.to_owned())
}

/// A text in double quotes.
pub(crate) fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// Whether a text may stand without quotes, in a list or map on one line too, and still be a text.
///
/// Source: YAML 1.2.2, sections 7.3.3 (plain style) and 10.3 (core schema); from memory, and
/// narrower than they allow.
pub(crate) fn is_plain(text: &str) -> bool {
    let is_bare = text
        .chars()
        .all(|c| c.is_alphanumeric() || " -._/’'()+;%".contains(c));
    let first = text.chars().next();
    let is_word = !["true", "false", "null", "yes", "no", "on", "off"]
        .contains(&text.to_lowercase().as_str());
    is_bare && is_word && first.is_some_and(char::is_alphabetic) && text.trim() == text
}
