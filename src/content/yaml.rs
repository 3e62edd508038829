//! YAML text to a tree of nodes that know their place. Knows the syntax, not the format.

use std::sync::Arc;

use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_yaml::Spanned;

use crate::diagnostic::{Diagnostic, Place};

/// Limits on one file. Our choice: many times what the largest honest file needs.
const MAX_DEPTH: usize = 24;
const MAX_NODES: usize = 250_000;
const MAX_SCALAR_BYTES: usize = 2 << 20;

/// One YAML value and where it stands.
#[derive(Debug, Clone)]
pub(crate) struct Node {
    /// Scalar, list or map.
    pub(crate) data: Data,
    /// Where it stands.
    pub(crate) place: Place,
}

/// What a node holds.
#[derive(Debug, Clone)]
pub(crate) enum Data {
    /// A key without a value, or `~`.
    Null,
    /// A scalar as text; a plain number or boolean keeps the characters it was written with.
    Text(String),
    /// A list.
    List(Vec<Node>),
    /// A map in written order; keys are unique.
    Map(Vec<(Key, Node)>),
}

/// A key of a map.
#[derive(Debug, Clone)]
pub(crate) struct Key {
    pub(crate) text: String,
    pub(crate) place: Place,
}

impl Node {
    /// What the node is, in words.
    pub(crate) fn noun(&self) -> &'static str {
        match self.data {
            Data::Null => "nothing",
            Data::Text(_) => "a text",
            Data::List(_) => "a list",
            Data::Map(_) => "a map",
        }
    }
}

/// Reads one file. A file that is not YAML gives its first fault.
pub(crate) fn parse(file: &Arc<str>, text: &str) -> Result<Node, Box<Diagnostic>> {
    if text
        .trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}')
        .is_empty()
        || text.lines().all(|line| {
            let line = line.trim();
            line.is_empty() || line.starts_with('#') || line == "---"
        })
    {
        return Err(Box::new(Diagnostic::empty_file(file)));
    }
    let options = serde_yaml::options! {
        budget: serde_yaml::budget! {
            max_anchors: 0,
            max_aliases: 0,
            max_depth: MAX_DEPTH,
            max_nodes: MAX_NODES,
            max_documents: 1,
            max_total_scalar_bytes: MAX_SCALAR_BYTES,
        },
        merge_keys: serde_yaml::options::MergeKeyPolicy::Error,
        strict_booleans: true,
        leading_zero_numbers_as_strings: true,
        underscored_numbers_as_strings: true,
        with_snippet: false,
    };
    // Some editors put a byte order mark first; places count without it.
    let (text, shift) = match text.strip_prefix('\u{feff}') {
        Some(rest) => (rest, text.len() - rest.len()),
        None => (text, 0),
    };
    let lines = Lines::new(text, shift);
    match serde_yaml::from_str_with_options::<Spanned<Raw>>(text, options) {
        Ok(root) => {
            let root = node(root, file, text, &lines);
            match unprintable(&root) {
                Some(place) => Err(Box::new(Diagnostic::unprintable(place))),
                None => Ok(root),
            }
        }
        Err(error) => Err(Box::new(syntax_fault(&error, file, text, &lines))),
    }
}

/// Whether a text has a sign that no page can show. HTML forbids control characters but the white
/// space among them.
pub(crate) fn is_unprintable(text: &str) -> bool {
    text.contains(|c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
}

/// Where the first text with such a sign stands.
fn unprintable(node: &Node) -> Option<&Place> {
    match &node.data {
        Data::Null => None,
        Data::Text(text) => is_unprintable(text).then_some(&node.place),
        Data::List(items) => items.iter().find_map(unprintable),
        Data::Map(entries) => entries.iter().find_map(|(key, value)| {
            let in_key = is_unprintable(&key.text).then_some(&key.place);
            in_key.or_else(|| unprintable(value))
        }),
    }
}

/// Byte offsets of the lines of a text.
struct Lines {
    starts: Vec<usize>,
    /// Bytes before the text in its file.
    shift: usize,
}

impl Lines {
    fn new(text: &str, shift: usize) -> Lines {
        let mut starts = vec![0];
        starts.extend(
            text.bytes()
                .enumerate()
                .filter(|(_, b)| *b == b'\n')
                .map(|(i, _)| i + 1),
        );
        Lines { starts, shift }
    }

    /// The place of a byte range; the column counts characters.
    fn place(&self, file: &Arc<str>, text: &str, start: usize, end: usize) -> Place {
        let start = floor_boundary(text, start);
        let end = floor_boundary(text, end.max(start));
        let line = self
            .starts
            .partition_point(|s| *s <= start)
            .saturating_sub(1);
        let column = text[self.starts[line]..start].chars().count() + 1;
        Place {
            file: Arc::clone(file),
            line: line as u32 + 1,
            column: column as u32,
            start: start + self.shift,
            end: end + self.shift,
        }
    }
}

fn floor_boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// What serde sees. Numbers and booleans are only marked: their text is cut from the source, so
/// that `2024-03`, `1.50` and `no` stay what was written.
enum Raw {
    Null,
    Cut,
    Text(String),
    List(Vec<Spanned<Raw>>),
    Map(Vec<(Spanned<Raw>, Spanned<Raw>)>),
}

struct RawVisitor;

impl<'de> Visitor<'de> for RawVisitor {
    type Value = Raw;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a text, a list or a map")
    }

    fn visit_bool<E>(self, _: bool) -> Result<Raw, E> {
        Ok(Raw::Cut)
    }

    fn visit_i64<E>(self, _: i64) -> Result<Raw, E> {
        Ok(Raw::Cut)
    }

    fn visit_u64<E>(self, _: u64) -> Result<Raw, E> {
        Ok(Raw::Cut)
    }

    fn visit_i128<E>(self, _: i128) -> Result<Raw, E> {
        Ok(Raw::Cut)
    }

    fn visit_u128<E>(self, _: u128) -> Result<Raw, E> {
        Ok(Raw::Cut)
    }

    fn visit_f64<E>(self, _: f64) -> Result<Raw, E> {
        Ok(Raw::Cut)
    }

    fn visit_str<E>(self, text: &str) -> Result<Raw, E> {
        Ok(Raw::Text(text.to_owned()))
    }

    fn visit_string<E>(self, text: String) -> Result<Raw, E> {
        Ok(Raw::Text(text))
    }

    fn visit_unit<E>(self) -> Result<Raw, E> {
        Ok(Raw::Null)
    }

    fn visit_none<E>(self) -> Result<Raw, E> {
        Ok(Raw::Null)
    }

    fn visit_some<D: Deserializer<'de>>(self, deserializer: D) -> Result<Raw, D::Error> {
        Raw::deserialize(deserializer)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Raw, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = seq.next_element::<Spanned<Raw>>()? {
            items.push(item);
        }
        Ok(Raw::List(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Raw, A::Error> {
        let mut entries = Vec::new();
        while let Some(entry) = map.next_entry::<Spanned<Raw>, Spanned<Raw>>()? {
            entries.push(entry);
        }
        Ok(Raw::Map(entries))
    }
}

impl<'de> Deserialize<'de> for Raw {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Raw, D::Error> {
        deserializer.deserialize_any(RawVisitor)
    }
}

fn node(raw: Spanned<Raw>, file: &Arc<str>, text: &str, lines: &Lines) -> Node {
    let span = raw.referenced.span();
    let (start, len) = match (span.byte_offset(), span.byte_len()) {
        (Some(offset), Some(len)) => (offset as usize, len as usize),
        _ => {
            let line = (raw.referenced.line() as usize).saturating_sub(1);
            let start = lines.starts.get(line).copied().unwrap_or(text.len());
            let column = (raw.referenced.column() as usize).saturating_sub(1);
            let skip = text[start..]
                .char_indices()
                .nth(column)
                .map_or(0, |(i, _)| i);
            (start + skip, 0)
        }
    };
    let place = lines.place(file, text, start, start + len);
    let data = match raw.value {
        Raw::Null => Data::Null,
        Raw::Cut => Data::Text(
            text[place.start - lines.shift..place.end - lines.shift]
                .trim()
                .to_owned(),
        ),
        Raw::Text(value) => Data::Text(value),
        Raw::List(items) => Data::List(
            items
                .into_iter()
                .map(|item| node(item, file, text, lines))
                .collect(),
        ),
        Raw::Map(entries) => Data::Map(
            entries
                .into_iter()
                .map(|(key, value)| {
                    let key = node(key, file, text, lines);
                    let name = match key.data {
                        Data::Text(name) => name,
                        _ => String::new(),
                    };
                    let key = Key {
                        text: name,
                        place: key.place,
                    };
                    (key, node(value, file, text, lines))
                })
                .collect(),
        ),
    };
    // A block collection has no width of its own: mark its first line at least.
    Node { data, place }
}

fn syntax_fault(
    error: &serde_yaml::Error,
    file: &Arc<str>,
    text: &str,
    lines: &Lines,
) -> Diagnostic {
    let place = match error.location() {
        Some(location) if location.line() > 0 => {
            let line = (location.line() as usize - 1).min(lines.starts.len() - 1);
            let start = lines.starts[line];
            let column = (location.column() as usize).saturating_sub(1);
            let skip = text[start..]
                .char_indices()
                .take_while(|(_, c)| *c != '\n')
                .nth(column)
                .map_or_else(
                    || text[start..].find('\n').unwrap_or(text.len() - start),
                    |(i, _)| i,
                );
            lines.place(file, text, start + skip, start + skip + 1)
        }
        _ => Place::head(file),
    };
    let message = error.to_string();
    let lower = message.to_lowercase();
    if let serde_yaml::Error::DuplicateMappingKey { key, .. } = error {
        let mut place = place;
        let key = key.clone().unwrap_or_default();
        if text[place.start.saturating_sub(lines.shift)..].starts_with(&key) {
            place.end = place.start + key.len();
        }
        return Diagnostic::duplicate_key(&place, &key);
    }
    if matches!(error, serde_yaml::Error::MergeKeyNotAllowed { .. })
        || lower.contains("anchor")
        || lower.contains("alias")
    {
        return Diagnostic::anchors_refused(&place);
    }
    if lower.contains("tabs") || lower.contains("tab char") {
        return Diagnostic::tab_indent(&place);
    }
    if let serde_yaml::Error::NonFiniteFloat { .. } = error {
        let rest = &text[place.start.saturating_sub(lines.shift)..];
        let length = rest.find([',', '}', ']', '\n']).unwrap_or(rest.len());
        let end = place.start + length;
        return Diagnostic::bad_number(&Place { end, ..place }, rest[..length].trim());
    }
    let is_over = matches!(error, serde_yaml::Error::Budget { .. }) || lower.contains("limit");
    if is_over {
        return Diagnostic::over_limit(
            &place,
            &format!("nesting {MAX_DEPTH}, {MAX_NODES} values, {MAX_SCALAR_BYTES} bytes of text"),
        );
    }
    // The parser's own sentence ends with the place, which the reader has already.
    let message = message.lines().next().unwrap_or_default();
    let message = match message.rfind(" at line ") {
        Some(at) => &message[..at],
        None => message,
    };
    let message = message.trim_start_matches("error: ");
    let message = match message.find(": ") {
        Some(at) if message[..at].starts_with("line ") => &message[at + 2..],
        _ => message,
    };
    Diagnostic::bad_yaml(&place, &format!("this is not YAML: {message}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Node, Box<Diagnostic>> {
        parse(&Arc::from("content/x.yaml"), text)
    }

    #[test]
    fn scalars_keep_the_characters_they_were_written_with() {
        let root = read("a: 1.50\nb: no\nc: 2024-03\nd: 'é'\ne: 012\nf: é x\ng: true\nh: 1e3\n")
            .expect("valid");
        let Data::Map(entries) = root.data else {
            panic!("a map")
        };
        let texts: Vec<String> = entries
            .iter()
            .map(|(key, value)| match &value.data {
                Data::Text(text) => format!(
                    "{}={text}@{}:{}",
                    key.text, value.place.line, value.place.column
                ),
                other => format!("{other:?}"),
            })
            .collect();
        assert_eq!(
            texts,
            [
                "a=1.50@1:4",
                "b=no@2:4",
                "c=2024-03@3:4",
                "d=é@4:4",
                "e=012@5:4",
                "f=é x@6:4",
                "g=true@7:4",
                "h=1e3@8:4"
            ]
        );
    }

    #[test]
    fn a_byte_order_mark_and_carriage_returns_shift_no_place() {
        let text = "\u{feff}a: x\r\nb: é, y\r\nc: 12\r\n";
        let Data::Map(entries) = read(text).expect("valid").data else {
            panic!("a map")
        };
        for ((_, node), (line, column, value)) in
            entries
                .iter()
                .zip([(1, 4, "x"), (2, 4, "é, y"), (3, 4, "12")])
        {
            assert_eq!((node.place.line, node.place.column), (line, column));
            assert_eq!(&text[node.place.start..node.place.end], value);
            assert!(matches!(&node.data, Data::Text(text) if text == value));
        }
    }

    #[test]
    fn hostile_files_are_refused() {
        for (text, part) in [
            ("a: &x [1]\nb: *x\n", "anchors"),
            ("a: 1\na: 2\n", "twice"),
            ("a:\n\tb: 1\n", "tab"),
            ("", "empty"),
            ("# only a comment\n", "empty"),
            ("a: b\n---\nc: d\n", ""),
            ("<<: {a: 1}\n", "anchors"),
        ] {
            let fault = read(text).expect_err(text);
            assert!(fault.title.contains(part), "{text:?}: {}", fault.title);
        }
        let deep = "[".repeat(1000);
        let fault = read(&deep).expect_err("deep");
        assert!(
            fault.title.contains("limit") || fault.title.contains("YAML"),
            "{}",
            fault.title
        );
    }
}
