//! From a change to the edits that it needs, file by file.

use std::ops::Range;
use std::sync::Arc;

use crate::content::scalar::{in_manner_of, quoted, scalar};
use crate::content::yaml::{self, Data, Node};
use crate::content::{Author, Guide, Input};
use crate::editions::{self, Edition};
use crate::names::slug::slug;
use crate::people::name::{found, is_edge, within_id};
use crate::people::sources::{Renamed, renamed};
use crate::people::{Change, Mention, Person, Plan, Touch};

/// Keys whose texts are names of plants: a plant may be named for a person, and keeps its name.
const NAMES: &[&str] = &[
    "name",
    "plant",
    "synonyms",
    "trade-names",
    "known-as",
    "as",
    "loose-name",
    "also",
    "covers",
    "listed-as",
];

/// One change of a file: where, into what, and what it is in words.
struct Edit {
    at: Range<usize>,
    new: String,
    what: String,
}

struct Planner<'a> {
    person: &'a Person,
    change: &'a Change,
    ids: Renamed,
}

/// Plans a change: every edit that it needs, and what a human must look at.
pub fn plan(
    input: &Input,
    guide: &Guide,
    editions: &[Edition],
    person: &Person,
    change: &Change,
) -> Plan {
    let planner = Planner {
        person,
        change,
        ids: renamed(guide, person, change),
    };
    let mut out = Plan {
        ids: planner.ids.sources.clone(),
        ..Plan::default()
    };
    for (path, bytes) in &input.files {
        let new_path = planner.new_path(path);
        let is_edition = path.starts_with("content/editions/");
        let edited = std::str::from_utf8(bytes)
            .ok()
            .filter(|_| path.starts_with("content/") && !is_edition)
            .and_then(|text| planner.edited(path, text, &mut out.touched));
        if let Some(new) = &new_path {
            out.touched.push(Touch {
                file: path.clone(),
                line: 1,
                what: format!("the file becomes {new}"),
            });
            out.files.insert(path.clone(), None);
        }
        if edited.is_some() || new_path.is_some() {
            let bytes = edited.map_or_else(|| bytes.clone(), String::into_bytes);
            out.files
                .insert(new_path.unwrap_or_else(|| path.clone()), Some(bytes));
        }
    }
    for edition in editions {
        planner.edition(edition, input, &mut out);
    }
    out.touched.sort();
    let after = out.applied(input);
    out.mentions = planner.mentions(&after);
    if out.touched.is_empty() {
        // Nobody of that name is here: a word that is written as an ordinary one is one.
        let family = &person.family;
        out.mentions.retain(|mention| mention.text.contains(family));
    }
    out.person = Some(person.clone());
    out
}

impl Planner<'_> {
    /// A path that carries the person's name, as it becomes.
    fn new_path(&self, path: &str) -> Option<String> {
        if let Some(file) = path.strip_prefix("content/pictures/") {
            let new = self.ids.pictures.get(file)?;
            return Some(format!("content/pictures/{new}"));
        }
        let id = path
            .strip_prefix("content/sources/")?
            .strip_suffix(".yaml")?;
        let new = self.ids.sources.get(id)?;
        Some(format!("content/sources/{new}.yaml"))
    }

    /// A file with everything changed; `None` where nothing is.
    fn edited(&self, path: &str, text: &str, touched: &mut Vec<Touch>) -> Option<String> {
        let mut edits = Vec::new();
        let mut scalars: Vec<Range<usize>> = Vec::new();
        if path.ends_with(".yaml")
            && let Ok(root) = yaml::parse(&Arc::from(path), text)
        {
            self.node(&root, "", text, &mut edits, &mut scalars);
        }
        // What is no value: comments, keys, and all of a page.
        let free = self.prose(text).into_iter().filter(|edit| {
            let is_apart =
                |other: &Range<usize>| edit.at.end <= other.start || other.end <= edit.at.start;
            scalars.iter().all(is_apart) && edits.iter().all(|other| is_apart(&other.at))
        });
        let free: Vec<Edit> = free.collect();
        edits.extend(free);
        edits.sort_by_key(|edit| edit.at.start);
        let mut out = String::with_capacity(text.len());
        let mut from = 0;
        for edit in &edits {
            if edit.at.start < from {
                continue;
            }
            out.push_str(&text[from..edit.at.start]);
            out.push_str(&edit.new);
            from = edit.at.end;
            touched.push(Touch {
                file: path.to_owned(),
                line: text[..edit.at.start].matches('\n').count() + 1,
                what: edit.what.clone(),
            });
        }
        out.push_str(&text[from..]);
        (!edits.is_empty()).then_some(out)
    }

    /// Edits of a value and all below it; `key` is the key it stands under.
    fn node(
        &self,
        node: &Node,
        key: &str,
        text: &str,
        edits: &mut Vec<Edit>,
        scalars: &mut Vec<Range<usize>>,
    ) {
        match &node.data {
            Data::Null => {}
            Data::List(items) => {
                for item in items {
                    self.node(item, key, text, edits, scalars);
                }
            }
            Data::Map(entries) => {
                let has_shown_as = entries.iter().any(|(key, _)| key.text == "shown-as");
                for (name, value) in entries {
                    if name.text == "authors"
                        && let Some(edit) =
                            self.authors(name.place.start, value, text, has_shown_as)
                    {
                        scalars.push(edit.at.clone());
                        edits.push(edit);
                    } else {
                        self.node(value, &name.text, text, edits, scalars);
                    }
                }
            }
            Data::Text(value) => {
                let at = scalar_range(node, text);
                edits.extend(self.scalar(value, key, at.clone(), text));
                scalars.push(at);
            }
        }
    }

    /// Edits of one text.
    fn scalar(&self, value: &str, key: &str, at: Range<usize>, text: &str) -> Vec<Edit> {
        let ids = match key {
            "source" | "repeats" => Some(&self.ids.sources),
            "voice" => Some(&self.ids.voices),
            "file" | "picture" => Some(&self.ids.pictures),
            key if NAMES.contains(&key) => return Vec::new(),
            _ => None,
        };
        let raw = &text[at.clone()];
        if let Some(ids) = ids {
            let new = ids.get(value.trim());
            return new
                .into_iter()
                .map(|new| Edit {
                    at: at.clone(),
                    new: in_manner_of(raw, new).unwrap_or_else(|| quoted(new)),
                    what: format!("{key} `{}` becomes `{new}`", value.trim()),
                })
                .collect();
        }
        if matches!(key, "by" | "credit") && self.person.initials().as_deref() == Some(value.trim())
        {
            let new = match self.change {
                Change::Rename(to) => to.initials().unwrap_or_else(|| to.full()),
                Change::Remove(shown) => shown.clone(),
            };
            return vec![Edit {
                at,
                new: in_manner_of(raw, &new).unwrap_or_else(|| quoted(&new)),
                what: format!("`{key}`: “{}” becomes “{new}”", value.trim()),
            }];
        }
        let in_value = self.prose(value);
        if in_value.is_empty() {
            return Vec::new();
        }
        let mut new = String::new();
        let mut from = 0;
        for edit in &in_value {
            new.push_str(&value[from..edit.at.start]);
            new.push_str(&edit.new);
            from = edit.at.end;
        }
        new.push_str(&value[from..]);
        match in_manner_of(raw, &new) {
            Some(written) => vec![Edit {
                at,
                new: written,
                what: format!("`{key}`: {}", in_value[0].what),
            }],
            // Over several lines: the words alone are changed, and the lines stay as they are.
            None => self
                .prose(raw)
                .into_iter()
                .map(|edit| Edit {
                    at: at.start + edit.at.start..at.start + edit.at.end,
                    what: format!("`{key}`: {}", edit.what),
                    ..edit
                })
                .collect(),
        }
    }

    /// The whole name wherever it stands in a text, and ways to pages whose ids change.
    fn prose(&self, text: &str) -> Vec<Edit> {
        let mut out = Vec::new();
        let (full, turned) = match self.change {
            Change::Rename(to) => (to.full(), to.turned()),
            Change::Remove(shown) => (shown.clone(), shown.clone()),
        };
        let mut names = vec![(self.person.full(), full)];
        if self.person.given.is_some() {
            names.push((self.person.turned(), turned));
        }
        for (old, new) in &names {
            for at in found(text, old) {
                let new = if matches!(self.change, Change::Remove(_)) {
                    in_sentence(&text[..at.start], new)
                } else {
                    new.clone()
                };
                out.push(Edit {
                    what: format!("“{old}” becomes “{new}”"),
                    at,
                    new,
                });
            }
        }
        let ways = [
            ("sources/", &self.ids.sources),
            ("pictures/", &self.ids.pictures),
        ];
        for (folder, ids) in ways {
            for (old, new) in ids {
                let way = format!("{folder}{old}");
                for (start, _) in text.match_indices(&way) {
                    let end = start + way.len();
                    let next = text[end..].chars().next();
                    if next.is_none_or(|c| !c.is_alphanumeric() && c != '-' && c != '.') {
                        out.push(Edit {
                            at: start..end,
                            new: format!("{folder}{new}"),
                            what: format!("the way to {way} becomes {folder}{new}"),
                        });
                    }
                }
            }
        }
        out.sort_by_key(|edit| edit.at.start);
        out
    }

    /// The authors of a source without the person, or with the new name. `None` where the person
    /// is none of them.
    fn authors(
        &self,
        key_start: usize,
        node: &Node,
        text: &str,
        has_shown_as: bool,
    ) -> Option<Edit> {
        let Data::List(items) = &node.data else {
            return None;
        };
        let authors: Vec<Author> = items.iter().filter_map(author).collect();
        if authors.len() != items.len() || !authors.iter().any(|author| self.person.is(author)) {
            return None;
        }
        let value_start = key_start + "authors:".len();
        let end = list_end(text, value_start, node);
        let full = self.person.full();
        let list = |with: &Author| {
            let parts: Vec<String> = authors
                .iter()
                .map(|one| {
                    let one = if self.person.is(one) { with } else { one };
                    let part = |text: &str| scalar(text);
                    match &one.given {
                        Some(given) => {
                            format!("{{family: {}, given: {}}}", part(&one.family), part(given))
                        }
                        None => format!("{{family: {}}}", part(&one.family)),
                    }
                })
                .collect();
            format!("authors: [{}]", parts.join(", "))
        };
        let named = |family: &str, given: Option<&String>| Author {
            family: family.to_owned(),
            given: given.cloned(),
        };
        let (new, what) = match self.change {
            Change::Rename(to) => (
                list(&named(&to.family, to.given.as_ref())),
                format!("author “{full}” becomes “{}”", to.full()),
            ),
            Change::Remove(shown) if authors.len() > 1 => (
                list(&named(shown, None)),
                format!("author “{full}” becomes “{shown}”, beside the others"),
            ),
            Change::Remove(shown) if !has_shown_as => {
                let shown_as = scalar(shown);
                (
                    format!("shown-as: {shown_as}"),
                    format!("author “{full}” is taken out; shown as “{shown}”"),
                )
            }
            Change::Remove(_) => {
                // The key goes with its line.
                let at = key_start..end + usize::from(text[end..].starts_with('\n'));
                return Some(Edit {
                    at,
                    new: String::new(),
                    what: format!("author “{full}” is taken out; the source is shown as before"),
                });
            }
        };
        Some(Edit {
            at: key_start..end,
            new,
            what,
        })
    }

    /// An edition with new ids, and its note.
    fn edition(&self, edition: &Edition, input: &Input, out: &mut Plan) {
        let Some(date) = edition.head.date else {
            return;
        };
        let path = editions::path(date);
        let mut new = edition.clone();
        let mut touched = 0;
        for graded in new
            .plants
            .values_mut()
            .flat_map(|plant| plant.traits.values_mut())
        {
            let before = graded.claims.clone();
            out.rename_claims(&mut graded.claims);
            touched += usize::from(before != graded.claims);
        }
        new.sources = edition
            .sources
            .iter()
            .map(|(id, stamp)| (out.ids.get(id).unwrap_or(id).clone(), stamp.clone()))
            .collect();
        let mut note = String::new();
        let mut from = 0;
        let in_note = self.prose(&edition.head.note);
        for edit in &in_note {
            note.push_str(&edition.head.note[from..edit.at.start]);
            note.push_str(&edit.new);
            from = edit.at.end;
        }
        note.push_str(&edition.head.note[from..]);
        new.head.note = note;
        if new == *edition {
            return;
        }
        let old_text = input.text(&path).unwrap_or_default();
        let line = |part: &str| {
            let at = old_text.find(part).unwrap_or(0);
            old_text[..at].matches('\n').count() + 1
        };
        let mut push = |line: usize, what: String| {
            out.touched.push(Touch {
                file: path.clone(),
                line,
                what,
            });
        };
        for edit in &in_note {
            push(line("\"note\":"), format!("`note`: {}", edit.what));
        }
        for (old, id) in &out.ids {
            if edition.sources.contains_key(old) || old_text.contains(&format!("{old}:")) {
                push(
                    line(&format!("\"{old}\":")),
                    format!("source `{old}` becomes `{id}`, in the claims of {touched} traits too"),
                );
            }
        }
        out.files
            .insert(path, Some(editions::text(&new).into_bytes()));
    }

    /// What else may speak of the person: the family name alone, in texts and in names of files.
    fn mentions(&self, after: &Input) -> Vec<Mention> {
        let family = self.person.family.to_lowercase();
        let words = self.person.family_words();
        let new = match self.change {
            Change::Rename(to) => vec![to.full(), to.turned()],
            Change::Remove(_) => Vec::new(),
        };
        let mut out = Vec::new();
        for (path, bytes) in &after.files {
            let named = path.rsplit('/').next().unwrap_or(path);
            let own: Vec<String> = slug(named).split('-').map(str::to_owned).collect();
            let is_new = new.iter().any(|name| {
                let name: Vec<String> = slug(name).split('-').map(str::to_owned).collect();
                within_id(&own, &name).is_some()
            });
            if within_id(&own, &words).is_some() && !is_new {
                out.push(Mention {
                    file: path.clone(),
                    line: 0,
                    text: "the name of the file".to_owned(),
                });
            }
            let Ok(text) = std::str::from_utf8(bytes) else {
                continue;
            };
            for (number, line) in text.lines().enumerate() {
                let lower = line.to_lowercase();
                let stands = |start: usize| {
                    let end = start + family.len();
                    is_edge(lower[..start].chars().last()) && is_edge(lower[end..].chars().next())
                };
                let count = lower
                    .match_indices(&family)
                    .filter(|(start, _)| stands(*start))
                    .count();
                let known: usize = new.iter().map(|name| found(line, name).len()).sum();
                // An author's own entry, where the family name stayed.
                let is_entry = matches!(self.change, Change::Rename(to) if to.family == self.person.family)
                    && line.contains("family:");
                if count > known && !is_entry {
                    let text: String = line.trim().chars().take(160).collect();
                    out.push(Mention {
                        file: path.clone(),
                        line: number + 1,
                        text,
                    });
                }
            }
        }
        out.sort();
        out
    }
}

fn author(node: &Node) -> Option<Author> {
    let Data::Map(entries) = &node.data else {
        return None;
    };
    let part = |key: &str| {
        let (_, value) = entries.iter().find(|(name, _)| name.text == key)?;
        match &value.data {
            Data::Text(text) => Some(text.clone()),
            _ => None,
        }
    };
    Some(Author {
        family: part("family")?,
        given: part("given"),
    })
}

/// The bytes of a scalar in its file.
fn scalar_range(node: &Node, text: &str) -> Range<usize> {
    node.place.start.min(text.len())..node.place.end.min(text.len())
}

/// Where a list ends: at its closing bracket, or with the line of its last value.
fn list_end(text: &str, from: usize, node: &Node) -> usize {
    let rest = &text[from..];
    let blanks = rest.len() - rest.trim_start().len();
    if rest[blanks..].starts_with('[') {
        let mut depth = 0;
        let mut quote = None;
        for (at, c) in rest.char_indices() {
            match (quote, c) {
                (Some(open), c) if c == open => quote = None,
                (Some(_), _) => {}
                (None, '"' | '\'') => {
                    // An apostrophe within a plain word opens nothing.
                    let before = rest[..at].chars().last();
                    if before.is_none_or(|c| !c.is_alphanumeric()) {
                        quote = Some(c);
                    }
                }
                (None, '[') => depth += 1,
                (None, ']') => {
                    depth -= 1;
                    if depth == 0 {
                        return from + at + 1;
                    }
                }
                _ => {}
            }
        }
    }
    let last = last_byte(node).max(from);
    text[last..].find('\n').map_or(text.len(), |at| last + at)
}

fn last_byte(node: &Node) -> usize {
    match &node.data {
        Data::List(items) => items.iter().map(last_byte).max(),
        Data::Map(entries) => entries.iter().map(|(_, value)| last_byte(value)).max(),
        _ => Some(node.place.end),
    }
    .unwrap_or(node.place.end)
}

/// What stands for a person within a sentence: an article is small there.
fn in_sentence(before: &str, shown: &str) -> String {
    let before = before.trim_end();
    let is_start = before.is_empty()
        || before.ends_with(['.', '!', '?', ':', '#', '-', '*', '“', '"', '(', '|', '>']);
    let has_article = ["A ", "An ", "The "].iter().any(|a| shown.starts_with(a));
    if is_start || !has_article {
        return shown.to_owned();
    }
    let mut letters = shown.chars();
    let first: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_lowercase)
        .collect();
    format!("{first}{}", letters.as_str())
}
