//! Puts a claim into the text of a file and changes nothing else in it.
//!
//! The claim goes behind the last one, in the manner of the last one: between braces or key by
//! key, with the same indentation and line ends. The new text is read back; where it does not
//! say the old content and the claim, it is refused.

use std::sync::Arc;

use crate::content::scalar::scalar;
use crate::content::yaml::{self, Data, Node};
use crate::intake::part::Part;

/// The text of a file with a claim in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Inserted {
    /// The new text.
    pub(crate) text: String,
    /// First line of the claim, from 1.
    pub(crate) line: u32,
    /// Number of its lines.
    pub(crate) lines: u32,
}

/// Why a claim cannot be put into a file by the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Refused {
    /// The file cannot be read.
    Unreadable,
    /// The whole file stands between braces.
    Braces,
    /// No way was found that leaves the rest as it is.
    NoWay,
}

/// The file's text with one claim more.
pub(crate) fn with_claim(text: &str, claim: &Part) -> Result<Inserted, Refused> {
    let file: Arc<str> = Arc::from("entry");
    let old = yaml::parse(&file, text).map_err(|_| Refused::Unreadable)?;
    let Data::Map(entries) = &old.data else {
        return Err(Refused::Unreadable);
    };
    if text[old.place.start..].starts_with('{') {
        return Err(Refused::Braces);
    }
    let at = entries.iter().position(|(key, _)| key.text == "claims");
    let ways = match at.map(|at| &entries[at].1) {
        None => at_the_end(text, claim),
        Some(node) => {
            let key = entries[at.unwrap_or_default()].0.place.start;
            let next = entries.iter().map(|(key, _)| key.place.start);
            let next = next.filter(|start| *start > key).min();
            match &node.data {
                Data::List(items) => among(text, node, items, next, claim),
                _ => return Err(Refused::Unreadable),
            }
        }
    };
    ways.into_iter()
        .find(|way| yaml::parse(&file, &way.text).is_ok_and(|new| is_one_more(&old, &new, claim)))
        .ok_or(Refused::NoWay)
}

/// The line end of a text.
fn line_end(text: &str) -> &'static str {
    match text.find('\n') {
        Some(at) if text[..at].ends_with('\r') => "\r\n",
        _ => "\n",
    }
}

/// Where the content of the document ends: its end mark, or the end of the text.
fn document_end(text: &str) -> usize {
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        if line.trim_end() == "..." && at > 0 {
            return at;
        }
        at += line.len();
    }
    text.len()
}

/// A new list of claims behind everything else.
fn at_the_end(text: &str, claim: &Part) -> Vec<Inserted> {
    let block = ["claims:".to_owned(), format!("  - {}", claim.on_one_line())];
    vec![put(text, document_end(text), &block, 1)]
}

/// Puts whole lines before byte `at`, which is the start of a line or the end of the text; the
/// claim starts in the line `from` of them.
fn put(text: &str, at: usize, lines: &[String], from: usize) -> Inserted {
    let end = line_end(text);
    let (before, after) = text.split_at(at);
    let mut out = before.to_owned();
    let is_open = !before.is_empty() && !before.ends_with('\n');
    if is_open {
        out.push_str(end);
    }
    let line = out.matches('\n').count() + 1 + from;
    out.push_str(&lines.join(end));
    // A file without a last line end keeps to its way.
    if !(is_open && after.is_empty()) {
        out.push_str(end);
    }
    out.push_str(after);
    Inserted {
        text: out,
        line: line as u32,
        lines: (lines.len() - from) as u32,
    }
}

/// Behind the last claim of a list.
fn among(
    text: &str,
    list: &Node,
    items: &[Node],
    next: Option<usize>,
    claim: &Part,
) -> Vec<Inserted> {
    if text[list.place.start..].starts_with('[') {
        return in_brackets(text, list.place.start, items, claim);
    }
    let Some(last) = items.last() else {
        return Vec::new();
    };
    let start = last.place.start;
    let Some((dash, gap)) = dash(text, start) else {
        return Vec::new();
    };
    let line_start = |at: usize| text[..at].rfind('\n').map_or(0, |at| at + 1);
    let indent = &text[line_start(dash)..dash];
    let end = next.map_or_else(|| document_end(text), line_start);
    // Behind the last line of the claim, or behind the blank lines and remarks after it too.
    let mut behind = start;
    let mut at = line_start(start);
    for line in text[at..end].split_inclusive('\n') {
        at += line.len();
        let deep = line.len() - line.trim_start_matches(' ').len();
        let is_remark = line.trim_start().starts_with('#') && deep <= indent.len();
        if !line.trim().is_empty() && !is_remark {
            behind = at;
        }
    }
    let flow = text[start..].starts_with('{');
    let lines: Vec<String> = match claim {
        Part::Map(entries) if !flow => entries
            .iter()
            .enumerate()
            .map(|(n, (key, part))| {
                let head = if n == 0 {
                    format!("{indent}-{}", " ".repeat(gap))
                } else {
                    format!("{indent} {}", " ".repeat(gap))
                };
                format!("{head}{}: {}", scalar(key), part.on_one_line())
            })
            .collect(),
        _ => vec![format!(
            "{indent}-{}{}",
            " ".repeat(gap),
            claim.on_one_line()
        )],
    };
    let mut ways = vec![put(text, behind, &lines, 0)];
    if end != behind {
        ways.push(put(text, end, &lines, 0));
    }
    ways
}

/// The dash of a list's item that starts at byte `start`, and the blanks between the two.
fn dash(text: &str, start: usize) -> Option<(usize, usize)> {
    let line = text[..start].rfind('\n').map_or(0, |at| at + 1);
    let before = &text[line..start];
    if let Some(at) = before.rfind('-')
        && before[..at]
            .trim_start_matches('\u{feff}')
            .trim()
            .is_empty()
        && before[at + 1..].chars().all(|c| c == ' ')
    {
        return Some((line + at, before.len() - at - 1));
    }
    // The dash stands alone in a line above.
    let mut end = line;
    while end > 0 {
        let from = text[..end - 1].rfind('\n').map_or(0, |at| at + 1);
        let above = text[from..end].trim_end();
        let bare = above.split('#').next().unwrap_or_default().trim();
        match bare {
            "-" => return Some((from + above.find('-')?, 1)),
            "" => end = from,
            _ => return None,
        }
    }
    None
}

/// Behind the last item between brackets.
fn in_brackets(text: &str, open: usize, items: &[Node], claim: &Part) -> Vec<Inserted> {
    let claim = claim.on_one_line();
    let line_of = |text: &str, at: usize| text[..at].matches('\n').count() as u32 + 1;
    let one = |text: String, at: usize| {
        let line = line_of(&text, at);
        vec![Inserted {
            text,
            line,
            lines: 1,
        }]
    };
    let Some(last) = items.last() else {
        let at = open + 1;
        return one(format!("{}{claim}{}", &text[..at], &text[at..]), at);
    };
    let Some(end) = closing(text, last.place.start) else {
        return Vec::new();
    };
    let comma = after_blanks(text, end).filter(|at| text[*at..].starts_with(','));
    let start = text[..last.place.start].rfind('\n').map_or(0, |at| at + 1);
    let indent = &text[start..last.place.start];
    let rest_at = comma.map_or(end, |at| at + 1);
    let rest_end = text[rest_at..].find('\n').map(|at| rest_at + at);
    let rest = rest_end.map(|to| text[rest_at..to].trim());
    let is_own_line = start > open
        && indent.trim().is_empty()
        && rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('#'));
    if is_own_line && let Some(line_break) = rest_end {
        let line_break = if text[..line_break].ends_with('\r') {
            line_break - 1
        } else {
            line_break
        };
        let (mark, tail) = if comma.is_some() {
            ("", ",")
        } else {
            (",", "")
        };
        let head = format!(
            "{}{mark}{}{}{indent}",
            &text[..end],
            &text[end..line_break],
            line_end(text)
        );
        let at = head.len();
        return one(format!("{head}{claim}{tail}{}", &text[line_break..]), at);
    }
    match comma {
        Some(comma) => {
            let head = format!("{} ", &text[..=comma]);
            let at = head.len();
            one(format!("{head}{claim},{}", &text[comma + 1..]), at)
        }
        None => {
            let head = format!("{}, ", &text[..end]);
            let at = head.len();
            one(format!("{head}{claim}{}", &text[end..]), at)
        }
    }
}

/// The first byte at or behind `at` that is no blank, no line end and no remark.
fn after_blanks(text: &str, mut at: usize) -> Option<usize> {
    loop {
        let c = text[at..].chars().next()?;
        if c == '#' {
            at += text[at..].find('\n')?;
        } else if c.is_whitespace() {
            at += c.len_utf8();
        } else {
            return Some(at);
        }
    }
}

/// The byte behind the brace or bracket that closes the one at `open`.
fn closing(text: &str, open: usize) -> Option<usize> {
    let mut depth = 0usize;
    let mut quote: Option<char> = None;
    // A quote opens only where a value can start; within a word it is a letter.
    let mut is_start = true;
    let mut before = ' ';
    let mut chars = text[open..].char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        if let Some(mark) = quote {
            if c == '\\' && mark == '"' {
                chars.next();
            } else if c == mark {
                if mark == '\'' && chars.peek().is_some_and(|(_, c)| *c == '\'') {
                    chars.next();
                } else {
                    quote = None;
                }
            }
            continue;
        }
        match c {
            '"' | '\'' if is_start => quote = Some(c),
            '#' if before.is_whitespace() => while chars.next_if(|(_, c)| *c != '\n').is_some() {},
            '{' | '[' => depth += 1,
            '}' | ']' => {
                depth = depth.checked_sub(1)?;
                if depth == 0 {
                    return Some(open + at + 1);
                }
            }
            _ => {}
        }
        is_start = matches!(c, '{' | '[' | ',' | ':') || (is_start && c.is_whitespace());
        before = c;
    }
    None
}

/// Whether `new` says all that `old` says, and has `claim` behind its claims.
fn is_one_more(old: &Node, new: &Node, claim: &Part) -> bool {
    let (Part::Map(old), Part::Map(new)) = (Part::of(old), Part::of(new)) else {
        return false;
    };
    let mut wanted = old;
    match wanted.iter_mut().find(|(key, _)| key == "claims") {
        Some((_, Part::List(claims))) => claims.push(claim.clone()),
        Some(_) => return false,
        None => wanted.push(("claims".to_owned(), Part::List(vec![claim.clone()]))),
    }
    wanted == new
}

#[cfg(test)]
mod tests {
    use super::*;

    fn claim() -> Part {
        Part::Map(vec![
            ("trait".to_owned(), Part::text("growth")),
            ("source".to_owned(), Part::text("log")),
            ("says".to_owned(), Part::text("fast")),
        ])
    }

    fn check(before: &str, after: &str) {
        let found = with_claim(before, &claim()).expect("a way");
        assert_eq!(found.text, after);
        let line = found
            .text
            .lines()
            .nth(found.line as usize - 1)
            .expect("a line");
        assert!(line.contains("growth"), "{line}");
    }

    #[test]
    fn a_claim_stands_in_the_manner_of_the_last_one() {
        check(
            "name: A b\nclaims:\n  - {trait: t, source: s, says: x} # kept\n",
            "name: A b\nclaims:\n  - {trait: t, source: s, says: x} # kept\n  - {trait: growth, source: log, says: fast}\n",
        );
        check(
            "claims:\n-   trait: t\n    source: s\n    says: x\n\n# about the name\nname: A b\n",
            "claims:\n-   trait: t\n    source: s\n    says: x\n-   trait: growth\n    source: log\n    says: fast\n\n# about the name\nname: A b\n",
        );
        check(
            "name: A b\r\nclaims:\r\n  - {trait: t, source: s, says: x}",
            "name: A b\r\nclaims:\r\n  - {trait: t, source: s, says: x}\r\n  - {trait: growth, source: log, says: fast}",
        );
        check(
            "claims:\n  -\n    trait: t\n    remark: |\n      # no remark\n\n      it's so\nname: A b\n",
            "claims:\n  -\n    trait: t\n    remark: |\n      # no remark\n\n      it's so\n  - trait: growth\n    source: log\n    says: fast\nname: A b\n",
        );
    }

    #[test]
    fn brackets_and_files_without_claims_are_served() {
        check(
            "name: A b\n",
            "name: A b\nclaims:\n  - {trait: growth, source: log, says: fast}\n",
        );
        check(
            "name: A b",
            "name: A b\nclaims:\n  - {trait: growth, source: log, says: fast}",
        );
        check(
            "name: A b\n...\n",
            "name: A b\nclaims:\n  - {trait: growth, source: log, says: fast}\n...\n",
        );
        check(
            "claims: []\nname: A b\n",
            "claims: [{trait: growth, source: log, says: fast}]\nname: A b\n",
        );
        check(
            "claims: [{trait: t, remark: \"a ] b\"}, {trait: u, says: it's}] # end\nname: A b\n",
            "claims: [{trait: t, remark: \"a ] b\"}, {trait: u, says: it's}, {trait: growth, source: log, says: fast}] # end\nname: A b\n",
        );
        check(
            "claims: [\n  {trait: t, says: x}, # first\n  {trait: u, says: y} # last\n]\nname: A b\n",
            "claims: [\n  {trait: t, says: x}, # first\n  {trait: u, says: y}, # last\n  {trait: growth, source: log, says: fast}\n]\nname: A b\n",
        );
        check(
            "claims: [\n  {trait: u, says: y},\n]\n",
            "claims: [\n  {trait: u, says: y},\n  {trait: growth, source: log, says: fast},\n]\n",
        );
    }

    #[test]
    fn what_cannot_be_kept_as_it_is_is_refused() {
        let refused = |text: &str| with_claim(text, &claim()).expect_err("no way");
        assert_eq!(refused("{name: A b}\n"), Refused::Braces);
        assert_eq!(refused("name: [\n"), Refused::Unreadable);
        assert_eq!(refused("claims: none\n"), Refused::Unreadable);
    }
}
