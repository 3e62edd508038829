//! Ids, voices and picture files that carry a person's name, and what they become.

use std::collections::{BTreeMap, BTreeSet};

use crate::content::Guide;
use crate::names::slug::slug;
use crate::people::name::{found, within_id};
use crate::people::{Change, Person};

/// What stands in an id for a person who is no longer named.
const NEUTRAL: &str = "member";

/// New ids by old ones.
#[derive(Debug, Clone, Default)]
pub(crate) struct Renamed {
    /// Of sources.
    pub(crate) sources: BTreeMap<String, String>,
    /// Of voices; one that is a source's id is among them.
    pub(crate) voices: BTreeMap<String, String>,
    /// Of files in `pictures/`.
    pub(crate) pictures: BTreeMap<String, String>,
}

/// Finds everything that is renamed.
///
/// An id is renamed where it has the whole name, in either order; one that has the family name
/// alone, where the source is by that person. A family name may be a place's name too.
pub(crate) fn renamed(guide: &Guide, person: &Person, change: &Change) -> Renamed {
    let mut taken: BTreeSet<String> = guide.sources.iter().map(|s| s.id.clone()).collect();
    taken.extend(guide.sources.iter().filter_map(|s| s.voice.clone()));
    let mut out = Renamed::default();
    let by_person = |at: usize| {
        guide.sources[at]
            .authors
            .iter()
            .any(|author| person.is(author))
    };
    for (at, source) in guide.sources.iter().enumerate() {
        if let Some(new) = new_id(&source.id, by_person(at), person, change) {
            let new = free(&new, &mut taken);
            out.sources.insert(source.id.clone(), new);
        }
    }
    out.voices = out.sources.clone();
    for (at, source) in guide.sources.iter().enumerate() {
        let Some(voice) = &source.voice else {
            continue;
        };
        if out.voices.contains_key(voice) || guide.sources.iter().any(|s| s.id == *voice) {
            continue;
        }
        let is_theirs = by_person(at)
            || guide
                .sources
                .iter()
                .enumerate()
                .any(|(other, of)| of.voice.as_ref() == Some(voice) && by_person(other));
        let is_in_words = [person.full(), person.turned()]
            .iter()
            .any(|name| !found(voice, name).is_empty());
        let new = match change {
            _ if slug(voice) == *voice => new_id(voice, is_theirs, person, change),
            _ if !is_in_words => None,
            Change::Rename(to) => Some(
                voice
                    .replace(&person.full(), &to.full())
                    .replace(&person.turned(), &to.turned()),
            ),
            Change::Remove(_) => Some(NEUTRAL.to_owned()),
        };
        if let Some(new) = new {
            let new = free(&new, &mut taken);
            out.voices.insert(voice.clone(), new);
        }
    }
    let mut files: BTreeSet<String> = guide.pictures.iter().cloned().collect();
    for path in &guide.pictures {
        let Some(file) = path.strip_prefix("content/pictures/") else {
            continue;
        };
        let (folder, name) = file.rsplit_once('/').map_or(("", file), |(f, n)| (f, n));
        let (stem, end) = name.rsplit_once('.').unwrap_or((name, ""));
        if let Some(new) = new_id(&slug(stem), false, person, change) {
            let place = if folder.is_empty() {
                String::new()
            } else {
                format!("{folder}/")
            };
            let path = |stem: &str| format!("content/pictures/{place}{stem}.{end}");
            let mut stem = new.clone();
            let mut number = 2;
            while !files.insert(path(&stem)) {
                stem = format!("{new}-{number}");
                number += 1;
            }
            out.pictures
                .insert(file.to_owned(), format!("{place}{stem}.{end}"));
        }
    }
    out
}

/// An id without a person's name; `None` where it does not have it.
fn new_id(id: &str, is_theirs: bool, person: &Person, change: &Change) -> Option<String> {
    let words: Vec<String> = id.split('-').map(str::to_owned).collect();
    let [full, turned] = person.id_words();
    let with = |new: fn(&Person) -> Vec<String>| match change {
        Change::Rename(to) => new(to),
        Change::Remove(_) => vec![NEUTRAL.to_owned()],
    };
    let (at, new) = if let Some(at) = within_id(&words, &full) {
        (at, with(|to| to.id_words()[0].clone()))
    } else if let Some(at) = within_id(&words, &turned) {
        (at, with(|to| to.id_words()[1].clone()))
    } else if is_theirs {
        let at = within_id(&words, &person.family_words())?;
        (at, with(Person::family_words))
    } else {
        return None;
    };
    let parts = [&words[..at.start], &new, &words[at.end..]].concat();
    let new = parts.join("-");
    (new != id).then_some(new)
}

/// An id that nothing has yet.
fn free(id: &str, taken: &mut BTreeSet<String>) -> String {
    let mut new = id.to_owned();
    let mut number = 2;
    while !taken.insert(new.clone()) {
        new = format!("{id}-{number}");
        number += 1;
    }
    new
}
