//! The pass over finished HTML: plant names in prose are linked, their standing set beside them.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::rc::Rc;

use aho_corasick::{AhoCorasick, AhoCorasickKind, MatchKind};
use lol_html::html_content::ContentType;
use lol_html::{Settings, element, rewrite_str, text};

use crate::content::Guide;
use crate::diagnostic::counted;
use crate::names::{Names, PlantId};
use crate::pages::mark::escaped;
use crate::roles::{Standings, Word};

/// What a page is about: its own plant or genus is not linked on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Own {
    /// No plant.
    Nothing,
    /// This plant.
    Plant(PlantId),
    /// This genus.
    Genus(usize),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Target {
    Plant(PlantId),
    Genus(usize),
}

/// Every name that is looked for, and what is set beside it.
pub(crate) struct Mentions {
    finder: Option<AhoCorasick>,
    targets: Vec<Target>,
    /// Address below the root, and the note, by target.
    plants: Vec<(String, String)>,
    genera: Vec<(String, String)>,
}

/// The role in which a plant is spoken of where none is at hand: the first that its forms can
/// have, in the default water.
pub(crate) fn first_role(
    guide: &Guide,
    standings: &Standings,
    plant: PlantId,
) -> Option<(usize, Word)> {
    let here = &standings.plants[plant].standings[guide.about.default_water];
    here.iter()
        .enumerate()
        .find_map(|(role, standing)| standing.as_ref().map(|standing| (role, standing.word)))
}

/// The notice of a plant on a list of one of the guide's places, as text; empty for others.
pub(crate) fn notice(guide: &Guide, standings: &Standings, plant: PlantId) -> String {
    let rows: Vec<String> = standings.plants[plant]
        .regulated
        .iter()
        .filter(|(_, here)| *here)
        .map(|(listing, _)| {
            let listing = &guide.regulated[*listing];
            let date = listing.date.as_deref().unwrap_or("no date given");
            format!("{}: {}, {date}", listing.place, listing.instrument)
        })
        .collect();
    if rows.is_empty() {
        String::new()
    } else {
        format!("listed in {}", rows.join("; "))
    }
}

impl Mentions {
    /// Gathers the names of a guide.
    pub(crate) fn new(guide: &Guide, names: &Names, standings: &Standings) -> Mentions {
        let mut patterns: Vec<(String, Target)> = Vec::new();
        let mut add = |name: &str, target: Target| {
            let name = name.trim();
            if name.chars().count() < 3 {
                return;
            }
            for spelling in spellings(name) {
                patterns.push((spelling, target));
            }
        };
        // Loose names first: where a name is both, the loose reading wins.
        for (at, genus) in guide.genera.iter().enumerate() {
            let rows = genus.loose.iter().map(|row| &row.name);
            for name in genus.loose_name.iter().chain(&genus.also).chain(rows) {
                add(&name.value, Target::Genus(at));
            }
        }
        for (id, plant) in names.plants.iter().enumerate() {
            let entry = &guide.plants[plant.entry];
            add(&plant.name, Target::Plant(id));
            for name in entry.synonyms.iter().chain(&entry.trade_names) {
                add(&name.value, Target::Plant(id));
            }
        }
        let mut seen = BTreeSet::new();
        patterns.retain(|(name, _)| seen.insert(name.clone()));
        let finder = AhoCorasick::builder()
            .match_kind(MatchKind::LeftmostLongest)
            .kind(Some(AhoCorasickKind::ContiguousNFA))
            .build(patterns.iter().map(|(name, _)| name.as_str()))
            .ok();
        let plants = names
            .plants
            .iter()
            .enumerate()
            .map(|(id, plant)| {
                (
                    format!("plants/{}/", plant.slug),
                    plant_note(guide, standings, id),
                )
            })
            .collect();
        let genera = guide
            .genera
            .iter()
            .enumerate()
            .map(|(at, genus)| {
                let count = counted(names.of_genus(at).len(), "plant", "plants");
                let note = format!(" <span class=\"standing-note\">(loose name: {count})</span>");
                (format!("names/{}/", genus.folder), note)
            })
            .collect();
        Mentions {
            finder,
            targets: patterns.into_iter().map(|(_, target)| target).collect(),
            plants,
            genera,
        }
    }

    /// Marks the first mention of each name in each section of a page's prose.
    ///
    /// Prose stands inside elements with `data-prose`, which is taken off. `root` leads from the
    /// page to the site's root. Gives the HTML, and where its links and pictures lead. Fails where
    /// the HTML is ambiguous.
    pub(crate) fn mark(
        &self,
        html: &str,
        own: Own,
        root: &str,
    ) -> Result<(String, Vec<String>), String> {
        let links: Rc<RefCell<Vec<String>>> = Rc::default();
        let found_links = Rc::clone(&links);
        let seen: Rc<RefCell<BTreeSet<Target>>> = Rc::default();
        let skip = Rc::new(RefCell::new(false));
        let set_skip = Rc::clone(&skip);
        let new_section = Rc::clone(&seen);
        let settings = Settings::new()
            .append_element_content_handler(element!("section, h1, h2, h3, h4, h5, h6", move |_| {
                new_section.borrow_mut().clear();
                Ok(())
            }))
            .append_element_content_handler(element!("a[href], img[src]", move |found| {
                let to = found.get_attribute("href").or_else(|| found.get_attribute("src"));
                found_links
                    .borrow_mut()
                    .extend(to.map(|to| to.replace("&amp;", "&")));
                Ok(())
            }))
            .append_element_content_handler(element!("[data-prose]", |found| {
                found.remove_attribute("data-prose");
                Ok(())
            }))
            .append_element_content_handler(text!(
                "[data-prose] a, [data-prose] code, [data-prose] pre, [data-prose] h1, [data-prose] h2, \
                 [data-prose] h3, [data-prose] h4, [data-prose] h5, [data-prose] h6, \
                 [data-prose] blockquote, [data-prose] q, [data-prose] button, [data-prose] svg",
                move |_| {
                    *set_skip.borrow_mut() = true;
                    Ok(())
                }
            ))
            .append_element_content_handler(text!("[data-prose]", move |chunk| {
                // Both handlers see the same chunk, this one last; that holds only because the first
                // one looks inside prose alone.
                if std::mem::take(&mut *skip.borrow_mut()) {
                    return Ok(());
                }
                if let Some(marked) = self.linked(chunk.as_str(), own, root, &mut seen.borrow_mut()) {
                    chunk.replace(&marked, ContentType::Html);
                }
                Ok(())
            }));
        let html = rewrite_str(html, settings).map_err(|error| error.to_string())?;
        let links = links.borrow().clone();
        Ok((html, links))
    }

    /// A piece of text with its names linked; `None` where it has none.
    fn linked(
        &self,
        text: &str,
        own: Own,
        root: &str,
        seen: &mut BTreeSet<Target>,
    ) -> Option<String> {
        let finder = self.finder.as_ref()?;
        let mut out = String::new();
        let mut from = 0;
        for found in finder.find_iter(text) {
            let target = self.targets[found.pattern().as_usize()];
            let is_own = match (own, target) {
                (Own::Plant(id), Target::Plant(other)) => id == other,
                (Own::Genus(at), Target::Genus(other)) => at == other,
                _ => false,
            };
            if is_own || !is_word(text, found.start(), found.end()) || !seen.insert(target) {
                continue;
            }
            let (address, note) = match target {
                Target::Plant(id) => &self.plants[id],
                Target::Genus(at) => &self.genera[at],
            };
            out.push_str(&text[from..found.start()]);
            let name = &text[found.start()..found.end()];
            out.push_str(&format!("<a href=\"{root}{address}\">{name}</a>{note}"));
            from = found.end();
        }
        if from == 0 {
            return None;
        }
        out.push_str(&text[from..]);
        Some(out)
    }
}

fn plant_note(guide: &Guide, standings: &Standings, id: PlantId) -> String {
    let standing = match first_role(guide, standings, id) {
        Some((role, word)) => format!(
            "{} for {}",
            word.on_screen(),
            guide.roles[role].title.to_lowercase()
        ),
        None => "no role for its form".to_owned(),
    };
    let notice = notice(guide, standings, id);
    let law = if notice.is_empty() {
        String::new()
    } else {
        format!(" <span class=\"law-note\">({})</span>", escaped(&notice))
    };
    format!(
        " <span class=\"standing-note\">({})</span>{law}",
        escaped(&standing)
    )
}

/// A name as it may stand in HTML: straight or curly quotes, signs as characters or entities.
fn spellings(name: &str) -> Vec<String> {
    let straight = name.replace(['‘', '’'], "'");
    let mut out = vec![escaped(&straight)];
    if straight.contains('\'') {
        let mut is_open = false;
        let curly: String = straight
            .chars()
            .map(|c| {
                if c == '\'' {
                    is_open = !is_open;
                    if is_open { '‘' } else { '’' }
                } else {
                    c
                }
            })
            .collect();
        out.push(escaped(&straight).replace("&#39;", "'"));
        out.push(escaped(&curly));
    }
    let signs: Vec<String> = out
        .iter()
        .filter(|spelling| spelling.contains('×'))
        .map(|spelling| spelling.replace('×', "&times;"))
        .collect();
    out.extend(signs);
    out
}

/// Whether a match stands by itself: no letter, digit, hyphen or apostrophe goes on.
fn is_word(text: &str, start: usize, end: usize) -> bool {
    let goes_on = |c: char| c.is_alphanumeric() || c == '-' || c == '’';
    let before = text[..start].chars().next_back();
    let after = text[end..].chars().next();
    !before.is_some_and(goes_on) && !after.is_some_and(goes_on)
}
