//! The pass over finished HTML: plant names in prose are linked, their standing set beside them.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::rc::Rc;

use aho_corasick::{AhoCorasick, AhoCorasickKind, Input, Match, MatchKind};
use lol_html::html_content::ContentType;
use lol_html::{Settings, element, rewrite_str, text};

use crate::content::Guide;
use crate::diagnostic::counted;
use crate::names::{Found, Names, PlantId};
use crate::pages::mark::escaped;
use crate::pages::sentence::within;
use crate::roles::{Standing, Standings, Word, notice};

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
    /// A genus, and the row of its loose names or the genus as a whole.
    Loose(usize, Option<usize>),
}

/// Every name that is looked for, and what is set beside it.
pub(crate) struct Mentions {
    finder: Option<AhoCorasick>,
    targets: Vec<Target>,
    /// Address below the root, and the note, by target.
    notes: BTreeMap<Target, (String, String)>,
}

/// The role in which a plant is spoken of where none is at hand: the first that its forms can
/// have, in the default water.
pub(crate) fn first_role<'a>(
    guide: &Guide,
    standings: &'a Standings,
    plant: PlantId,
) -> Option<(usize, &'a Standing)> {
    let here = &standings.plants[plant].standings[guide.about.default_water];
    here.iter()
        .enumerate()
        .find_map(|(role, standing)| standing.as_ref().map(|standing| (role, standing)))
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
            for name in genus.loose_name.iter().chain(&genus.also) {
                add(&name.value, Target::Loose(at, None));
            }
            for (row, loose) in genus.loose.iter().enumerate() {
                add(&loose.name.value, Target::Loose(at, Some(row)));
            }
        }
        for (id, plant) in names.plants.iter().enumerate() {
            let entry = &guide.plants[plant.entry];
            add(&plant.name, Target::Plant(id));
            for name in entry.synonyms.iter().chain(&entry.trade_names) {
                // A name of several plants would be linked to one of them.
                if !matches!(names.find(&name.value), Found::Several(_)) {
                    add(&name.value, Target::Plant(id));
                }
            }
        }
        let mut seen = BTreeSet::new();
        patterns.retain(|(name, _)| seen.insert(name.clone()));
        let finder = AhoCorasick::builder()
            .match_kind(MatchKind::LeftmostLongest)
            .kind(Some(AhoCorasickKind::ContiguousNFA))
            .build(patterns.iter().map(|(name, _)| name.as_str()))
            .ok();
        let targets: Vec<Target> = patterns.into_iter().map(|(_, target)| target).collect();
        let notes = targets
            .iter()
            .map(|target| (*target, address_and_note(*target, guide, names, standings)))
            .collect();
        Mentions {
            finder,
            targets,
            notes,
        }
    }

    /// Says anew what is set beside the names of a plant.
    pub(crate) fn note_again(
        &mut self,
        plant: PlantId,
        guide: &Guide,
        names: &Names,
        standings: &Standings,
    ) {
        let target = Target::Plant(plant);
        if let Some(note) = self.notes.get_mut(&target) {
            *note = address_and_note(target, guide, names, standings);
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
        let skip: Rc<RefCell<Option<Range<usize>>>> = Rc::default();
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
                "a, code, pre, h1, h2, h3, h4, h5, h6, blockquote, q, script, style, button, svg, [data-nolink]",
                move |chunk| {
                    *set_skip.borrow_mut() = Some(chunk.source_location().bytes());
                    Ok(())
                }
            ))
            .append_element_content_handler(text!("[data-prose]", move |chunk| {
                // Both handlers see the same chunk, this one last. What was left alone outside of
                // prose says nothing of the text that comes next.
                if skip.borrow().as_ref() == Some(&chunk.source_location().bytes()) {
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
        // Up to where the text is written out, and up to where it has been searched.
        let (mut from, mut searched) = (0, 0);
        while let Some(found) = finder.find(Input::new(text).span(searched..text.len())) {
            if !is_word(text, &found) {
                // A part of a longer word; another name may start within it.
                let first = text[found.start()..].chars().next();
                searched = found.start() + first.map_or(1, char::len_utf8);
                continue;
            }
            searched = found.end();
            let target = self.targets[found.pattern().as_usize()];
            let is_own = match (own, target) {
                (Own::Plant(id), Target::Plant(other)) => id == other,
                (Own::Genus(at), Target::Loose(other, _)) => at == other,
                _ => false,
            };
            let Some((address, note)) = self.notes.get(&target) else {
                continue;
            };
            if is_own || !seen.insert(target) {
                continue;
            }
            let name = &text[found.range()];
            out.push_str(&text[from..found.start()]);
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

/// Where a name leads, below the root, and what stands beside it.
fn address_and_note(
    target: Target,
    guide: &Guide,
    names: &Names,
    standings: &Standings,
) -> (String, String) {
    match target {
        Target::Plant(id) => (
            format!("plants/{}/", names.plants[id].slug),
            plant_note(guide, standings, id),
        ),
        Target::Loose(at, row) => {
            let plants = match row {
                Some(row) => names.loose[at][row].covers.len(),
                None => names.of_genus(at).len(),
            };
            let count = counted(plants, "plant", "plants");
            (
                format!("names/{}/", guide.genera[at].folder),
                format!(" <span class=\"standing-note\">(loose name: {count})</span>"),
            )
        }
    }
}

fn plant_note(guide: &Guide, standings: &Standings, id: PlantId) -> String {
    let text = match first_role(guide, standings, id) {
        Some((role, standing)) => {
            // "wrong for this water for …" would say it twice.
            let link = match standing.word {
                Word::Unproven | Word::Unsuited => ":",
                _ => " for",
            };
            format!(
                "{}{}{link} {} in {}",
                standing.word.on_screen(),
                if standing.is_doubtful() {
                    ", in doubt,"
                } else {
                    ""
                },
                within(&guide.roles[role].title),
                guide.waters[guide.about.default_water].title
            )
        }
        None => "no role for its form".to_owned(),
    };
    let note = format!(" <span class=\"standing-note\">({})</span>", escaped(&text));
    let notice = notice(guide, standings, id);
    if notice.is_empty() {
        note
    } else {
        format!(
            "{note} <span class=\"law-note\">({})</span>",
            escaped(&notice)
        )
    }
}

/// A name as it may stand in HTML: straight or curly quotes, signs as characters or entities.
fn spellings(name: &str) -> BTreeSet<String> {
    let straight = name.replace(['‘', '’'], "'");
    let mut signs = BTreeSet::from([straight.clone(), curly(&straight)]);
    if name.contains('×') {
        let tight: Vec<String> = signs.iter().map(|name| name.replace("× ", "×")).collect();
        signs.extend(tight);
    }
    let mut out = BTreeSet::new();
    for name in signs {
        // In text, quotes need not be written as entities.
        let html = escaped(&name);
        for quoted in [
            html.clone(),
            html.replace("&#39;", "'").replace("&quot;", "\""),
        ] {
            out.insert(quoted.replace('×', "&times;"));
            out.insert(quoted);
        }
    }
    out
}

/// A name with curly quotes: one between letters is an apostrophe, the others open and close.
fn curly(straight: &str) -> String {
    let letters: Vec<char> = straight.chars().collect();
    let is_letter = |at: Option<&char>| at.is_some_and(|c| c.is_alphanumeric());
    let mut out = String::with_capacity(straight.len());
    for (at, c) in letters.iter().enumerate() {
        let before = at.checked_sub(1).and_then(|before| letters.get(before));
        let is_open = before.is_none_or(|c| c.is_whitespace()) && is_letter(letters.get(at + 1));
        out.push(match (c, is_open) {
            ('\'', true) => '‘',
            ('\'', false) => '’',
            (c, _) => *c,
        });
    }
    out
}

/// An apostrophe as it may stand in HTML.
const APOSTROPHES: [&str; 6] = ["'", "’", "&#39;", "&#x27;", "&apos;", "&rsquo;"];

/// Whether a match stands by itself: no letter, digit or hyphen goes on, nor an apostrophe with a
/// letter behind it.
fn is_word(text: &str, found: &Match) -> bool {
    let (before, after) = (&text[..found.start()], &text[found.end()..]);
    let is_letter = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
    let goes_on = |c: Option<char>| is_letter(c) || c == Some('-');
    let is_after = goes_on(after.chars().next())
        || APOSTROPHES.iter().any(|sign| {
            after
                .strip_prefix(sign)
                .is_some_and(|rest| is_letter(rest.chars().next()))
        });
    let is_before = goes_on(before.chars().next_back())
        || APOSTROPHES.iter().any(|sign| {
            before
                .strip_suffix(sign)
                .is_some_and(|rest| is_letter(rest.chars().next_back()))
        });
    !is_before && !is_after
}

#[cfg(test)]
mod tests {
    use std::sync::LazyLock;

    use super::*;
    use crate::Weighed;

    static DEMO: LazyLock<(Weighed, Mentions)> = LazyLock::new(made);

    fn demo() -> &'static (Weighed, Mentions) {
        &DEMO
    }

    fn made() -> (Weighed, Mentions) {
        let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
        let (input, _) = crate::content::disk::read_guide(root).expect("a guide");
        let mut weighed = crate::weigh(&input).0.expect("a guide without errors");
        // A trade name with an apostrophe within it, one of two plants, and one with `&`.
        let place = weighed.guide.plants[0].name.place.clone();
        for (plant, name) in [
            (0, "Keeper's 'Big' Leaf"),
            (1, "Two Of Us"),
            (2, "Two Of Us"),
            (3, "Fin & Frond"),
        ] {
            let name = crate::diagnostic::Placed::new(name.to_owned(), place.clone());
            weighed.guide.plants[plant].trade_names.push(name);
        }
        let (names, _) = crate::names::names(&weighed.guide);
        weighed.names = names;
        let mentions = Mentions::new(&weighed.guide, &weighed.names, &weighed.standings);
        (weighed, mentions)
    }

    fn mark(html: &str) -> String {
        let (_, mentions) = demo();
        let once = mentions.mark(html, Own::Nothing, "../").expect(html).0;
        let again = mentions.mark(&once, Own::Nothing, "../").expect(html).0;
        assert_eq!(again, once, "what is marked is marked for good");
        once
    }

    fn links(html: &str) -> usize {
        mark(html).matches("<a href=\"../").count()
    }

    #[test]
    fn a_plant_is_linked_with_its_standing_and_its_notice() {
        assert_eq!(
            mark("<p data-prose>See Hygrophila difformis.</p>"),
            "<p>See <a href=\"../plants/hygrophila-difformis/\">Hygrophila difformis</a> \
             <span class=\"standing-note\">(mainstay for nutrient \
             uptake in Capped-soil tank, low light)</span>.</p>"
        );
        let wrong = mark("<p data-prose>Hydrocharis laevigata</p>");
        let note = "(wrong for this water: nutrient uptake in Capped-soil tank, low light)";
        assert!(wrong.contains(note), "{wrong}");
        let regulated = mark("<p data-prose>Elodea canadensis</p>");
        let notice = "<span class=\"law-note\">(listed in England and Wales: Wildlife and \
                      Countryside Act 1981 Schedule 9 Part 2 as varied by SI 2010/609; listing \
                      not read in the instrument, 2010-04-06)</span>";
        assert!(regulated.contains(notice), "{regulated}");
    }

    #[test]
    fn a_loose_name_says_how_many_plants_it_covers() {
        let genus = mark("<p data-prose>Crypts are slow.</p>");
        assert!(
            genus.starts_with("<p><a href=\"../names/cryptocoryne/\">Crypts</a> <span class=\"standing-note\">(loose name: 5 plants)</span> are"),
            "{genus}"
        );
        let row = mark("<p data-prose>Cryptocoryne wendtii is sold unnamed.</p>");
        assert!(
            row.contains(">Cryptocoryne wendtii</a>") && row.contains("(loose name: 2 plants)"),
            "{row}"
        );
    }

    #[test]
    fn a_longer_name_wins_and_a_name_of_several_is_left() {
        let longer = mark("<p data-prose>Cryptocoryne wendtii 'Green' and Cryptocoryne</p>");
        assert!(
            longer.contains(">Cryptocoryne wendtii 'Green'</a>"),
            "{longer}"
        );
        assert!(longer.contains(">Cryptocoryne</a>"), "{longer}");
        assert_eq!(links("<p data-prose>Two Of Us</p>"), 0);
    }

    #[test]
    fn every_spelling_of_a_name_is_found() {
        for name in [
            "Cryptocoryne wendtii 'Green'",
            "Cryptocoryne wendtii ‘Green’",
            "Cryptocoryne wendtii &#39;Green&#39;",
            "Cryptocoryne × willisii",
            "Cryptocoryne ×willisii",
            "Cryptocoryne &times; willisii",
            "Keeper's 'Big' Leaf",
            "Keeper’s ‘Big’ Leaf",
            "Keeper&#39;s &#39;Big&#39; Leaf",
            "Fin &amp; Frond",
        ] {
            let marked = mark(&format!("<p data-prose>a {name} b</p>"));
            assert!(marked.contains(&format!(">{name}</a>")), "{marked}");
        }
    }

    #[test]
    fn a_part_of_a_word_is_no_name() {
        for (text, n) in [
            ("Elodea canadensis-like", 0),
            ("xElodea canadensis", 0),
            ("Elodea canadensis's", 0),
            ("Elodea canadensis’s", 0),
            ("Elodea canadensis&#39;s", 0),
            ("d'Elodea canadensis", 0),
            ("pre-Elodea canadensis", 0),
            ("Hygrometer and Cryptic", 0),
            ("elodea canadensis", 0),
            ("'Elodea canadensis'", 1),
            ("‘Elodea canadensis’", 1),
            ("(Elodea canadensis)", 1),
            (
                "Elodea canadensisElodea canadensis Hygrophila polysperma",
                1,
            ),
        ] {
            assert_eq!(links(&format!("<p data-prose>{text}</p>")), n, "{text}");
        }
    }

    #[test]
    fn only_prose_is_read_and_not_all_of_it() {
        assert_eq!(links("<p>Elodea canadensis</p>"), 0);
        for tag in [
            "a",
            "code",
            "pre",
            "h1",
            "h3",
            "h6",
            "blockquote",
            "q",
            "button",
            "svg",
            "span data-nolink",
        ] {
            let end = tag.split(' ').next().expect("a tag");
            let html = format!(
                "<div data-prose><{tag}>Elodea <b>x</b> Hygrophila difformis</{end}> Hygrophila polysperma</div>"
            );
            assert_eq!(links(&html), 1, "{tag}: {}", mark(&html));
        }
        // In an element that forgets its end tag, and in those whose end is implied.
        assert_eq!(
            links(
                "<ul data-prose><li>Elodea canadensis<li>Hygrophila difformis</ul><p>Elodea canadensis"
            ),
            2
        );
        assert_eq!(
            links("<div data-prose><p><q>Elodea canadensis<p>Hygrophila difformis</div>"),
            0
        );
        // Left alone or not, as the text itself stands: nothing carries over from before it, and
        // prose within what is left alone is left alone.
        assert_eq!(links("<h2>x</h2><p data-prose>Elodea canadensis</p>"), 1);
        assert_eq!(
            links("<a href=x>y</a><p data-prose>Elodea canadensis</p>"),
            1
        );
        assert_eq!(
            links("<a href=x><span data-prose>Elodea canadensis</span></a>"),
            0
        );
        assert_eq!(
            links("<div data-nolink><p data-prose>Elodea canadensis</p></div>"),
            0
        );
        assert!(!mark("<p data-prose id=x>y</p>").contains("data-prose"));
    }

    #[test]
    fn the_first_mention_of_each_section_is_linked() {
        let twice = "Elodea canadensis, Elodea canadensis";
        assert_eq!(
            links(&format!(
                "<p data-prose>{twice}</p><p data-prose>{twice}</p>"
            )),
            1
        );
        assert_eq!(
            links(&format!(
                "<section><p data-prose>{twice}</p></section><section><p data-prose>{twice}</p></section>"
            )),
            2
        );
        assert_eq!(
            links(&format!("<div data-prose>{twice}<h3>x</h3>{twice}</div>")),
            2
        );
    }

    #[test]
    fn a_page_does_not_link_to_itself() {
        let (weighed, mentions) = demo();
        let html = "<p data-prose>Cryptocoryne parva, Crypts, Cryptocoryne wendtii</p>";
        let marked = |own| {
            mentions
                .mark(html, own, "")
                .expect("html")
                .0
                .matches("<a ")
                .count()
        };
        let plant = weighed
            .names
            .plants
            .iter()
            .position(|plant| plant.slug == "cryptocoryne-parva");
        let genus = weighed
            .guide
            .genera
            .iter()
            .position(|genus| genus.folder == "cryptocoryne");
        assert_eq!(marked(Own::Nothing), 3);
        assert_eq!(marked(Own::Plant(plant.expect("a plant"))), 2);
        assert_eq!(marked(Own::Genus(genus.expect("a genus"))), 1);
    }

    /// Takes off what the pass adds; the same pieces as text, in order.
    fn without_marks(html: &str) -> String {
        let mut out = String::new();
        let mut rest = html;
        while let Some(start) = rest.find("<a href=\"../") {
            out.push_str(&rest[..start]);
            let link = &rest[start..];
            let name_from = link.find('>').expect("a start tag") + 1;
            let name_to = link.find("</a>").expect("an end tag");
            out.push_str(&link[name_from..name_to]);
            rest = &link[name_to + 4..];
            for class in ["standing-note", "law-note"] {
                if let Some(note) = rest.strip_prefix(&format!(" <span class=\"{class}\"")) {
                    rest = &note[note.find("</span>").expect("an end tag") + 7..];
                }
            }
        }
        out.push_str(rest);
        out
    }

    #[test]
    fn nothing_else_of_a_text_changes() {
        let (_, mentions) = demo();
        let pieces = [
            "Elodea canadensis",
            "Hygrophila",
            "Crypts",
            "Cryptocoryne wendtii 'Green'",
            "Cryptocoryne × willisii",
            "&amp;",
            "&#39;",
            "&times;",
            "é",
            "水",
            "’",
            "-",
            " ",
            " ",
            "\n",
            "<b>",
            "</b>",
            "<i>x</i>",
            "<br>",
            "x",
            "<code>Elodea</code>",
            "<h3>Hygro</h3>",
            "<p>",
            "</p>",
            "<li>",
            "<!-- Elodea -->",
            "3 < 4",
            "&",
            "<q>",
            "</q>",
        ];
        let mut state: u64 = 0x2545_f491_4f6c_dd1d;
        let mut next = |below: usize| {
            // xorshift64, Marsaglia 2003, doi:10.18637/jss.v008.i14, from memory.
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            (state % below as u64) as usize
        };
        let mut n_links = 0;
        for _ in 0..2_000 {
            let n = next(30);
            let text: String = (0..n).map(|_| pieces[next(pieces.len())]).collect();
            let html = format!("<main data-prose>{text}</main>");
            let (marked, _) = mentions.mark(&html, Own::Nothing, "../").expect("html");
            assert_eq!(without_marks(&marked), format!("<main>{text}</main>"));
            n_links += marked.matches("<a ").count();
        }
        assert!(n_links > 500, "{n_links}");
    }
}
