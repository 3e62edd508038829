//! A person's name, and where it stands in a text.

use std::ops::Range;

use crate::content::Author;
use crate::names::slug::slug;

/// A person's name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Given names.
    pub given: Option<String>,
    /// Family name.
    pub family: String,
}

impl Person {
    /// From `Given Family`, where the last word is the family name, or `Family, Given`. `None`
    /// where there is no word.
    pub fn read(text: &str) -> Option<Person> {
        let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let (given, family) = match text.split_once(',') {
            Some((family, given)) => (words(given), words(family)),
            None => {
                let text = words(text);
                match text.rsplit_once(' ') {
                    Some((given, family)) => (given.to_owned(), family.to_owned()),
                    None => (String::new(), text),
                }
            }
        };
        (!family.is_empty()).then(|| Person {
            given: (!given.is_empty()).then_some(given),
            family,
        })
    }

    /// An author of a source.
    pub(crate) fn of(author: &Author) -> Person {
        Person {
            given: author.given.clone(),
            family: author.family.clone(),
        }
    }

    /// `Given Family`.
    pub fn full(&self) -> String {
        match &self.given {
            Some(given) => format!("{given} {}", self.family),
            None => self.family.clone(),
        }
    }

    /// `Family, Given`.
    pub fn turned(&self) -> String {
        match &self.given {
            Some(given) => format!("{}, {given}", self.family),
            None => self.family.clone(),
        }
    }

    /// `G. Family`, as whoever named a plant or took a picture may stand; `None` without a given
    /// name.
    pub fn initials(&self) -> Option<String> {
        let given = self.given.as_ref()?;
        let letters: Vec<String> = given
            .split_whitespace()
            .filter_map(|name| Some(format!("{}.", name.chars().next()?)))
            .collect();
        Some(format!("{} {}", letters.join(" "), self.family))
    }

    /// Whether an author is this person, wherever the family name starts.
    pub fn is(&self, author: &Author) -> bool {
        let fold = |text: &str| {
            text.split_whitespace()
                .collect::<Vec<_>>()
                .join(" ")
                .to_lowercase()
        };
        fold(&Person::of(author).full()) == fold(&self.full())
    }

    /// The words of an id that name the person: in either order, in full.
    pub(crate) fn id_words(&self) -> [Vec<String>; 2] {
        let words = |text: &str| -> Vec<String> {
            slug(text)
                .split('-')
                .filter(|word| !word.is_empty())
                .map(str::to_owned)
                .collect()
        };
        [words(&self.full()), words(&self.turned())]
    }

    /// The words of an id that name the family.
    pub(crate) fn family_words(&self) -> Vec<String> {
        slug(&self.family).split('-').map(str::to_owned).collect()
    }
}

/// Where a name stands as a whole in a text; its words may be set apart by any blanks.
pub(crate) fn found(text: &str, name: &str) -> Vec<Range<usize>> {
    let words: Vec<&str> = name.split_whitespace().collect();
    let Some(first) = words.first() else {
        return Vec::new();
    };
    let mut out: Vec<Range<usize>> = Vec::new();
    for (start, _) in text.match_indices(first) {
        if out.last().is_some_and(|last| start < last.end) || !is_edge(text[..start].chars().last())
        {
            continue;
        }
        let mut at = start;
        let is_whole = words.iter().enumerate().all(|(index, word)| {
            let rest = &text[at..];
            let blanks = rest.len() - rest.trim_start().len();
            if index > 0 && blanks == 0 {
                return false;
            }
            let is_here = rest.trim_start().starts_with(word);
            at += blanks + word.len();
            is_here
        });
        if is_whole && is_edge(text[at..].chars().next()) {
            out.push(start..at);
        }
    }
    out
}

/// Whether a name may end beside a character.
pub(crate) fn is_edge(c: Option<char>) -> bool {
    c.is_none_or(|c| !c.is_alphanumeric())
}

/// Where words stand one after the other in an id, as the numbers of its own words.
pub(crate) fn within_id(id: &[String], words: &[String]) -> Option<Range<usize>> {
    if words.is_empty() {
        return None;
    }
    id.windows(words.len())
        .position(|window| window == words)
        .map(|at| at..at + words.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_found_as_a_whole_over_any_blanks() {
        let text = "Wilf Osterby, Wilf\n  Osterby’s; Wilf Osterbys, AWilf Osterby, Osterby";
        let at = found(text, "Wilf Osterby");
        let texts: Vec<&str> = at.into_iter().map(|range| &text[range]).collect();
        assert_eq!(texts, ["Wilf Osterby", "Wilf\n  Osterby"]);
    }

    #[test]
    fn a_comma_says_where_the_family_name_ends() {
        let read = |text: &str| Person::read(text).map(|person| (person.given, person.family));
        let some = |text: &str| Some(text.to_owned());
        assert_eq!(
            read("Ina  van Dael"),
            Some((some("Ina van"), "Dael".to_owned()))
        );
        assert_eq!(
            read("van Dael, Ina"),
            Some((some("Ina"), "van Dael".to_owned()))
        );
        assert_eq!(read("Ina"), Some((None, "Ina".to_owned())));
        assert_eq!(read("  "), None);
        let author = Author {
            family: "van Dael".to_owned(),
            given: some("Ina"),
        };
        assert!(Person::read("Ina van Dael").is_some_and(|person| person.is(&author)));
    }
}
