//! What a reader can look for: every name of the guide, listed on pages and laid out in drawers for
//! the script; texts and sources are in `drawers.rs`.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value as Json, json};
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use crate::diagnostic::counted;
use crate::names::PlantId;
use crate::pages::mark::{beam_again, escaped, glyphs, name_html};
use crate::pages::mention::first_role;
use crate::pages::{Press, Sheet, root};
use crate::roles::{Standing, Word, notice};

/// Up to so many names stand on one page; more are listed on a page a letter.
///
/// Our choice: about 400 kB of HTML.
const ON_ONE_PAGE: usize = 1500;

/// What kind of name it is, in the order in which like names are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    Loose,
    Accepted,
    Synonym,
    Trade,
    Known,
}

impl Kind {
    const ALL: [Kind; 5] = [
        Kind::Loose,
        Kind::Accepted,
        Kind::Synonym,
        Kind::Trade,
        Kind::Known,
    ];

    fn on_screen(self) -> &'static str {
        match self {
            Kind::Loose => "loose name",
            Kind::Accepted => "accepted name",
            Kind::Synonym => "synonym",
            Kind::Trade => "trade name",
            Kind::Known => "known as",
        }
    }
}

/// What a name leads to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Target {
    Genus(usize),
    Plant(PlantId),
}

/// One name, and what it leads to.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct FindableName {
    /// As it is looked for, for the order of lists.
    folded: String,
    pub(crate) kind: Kind,
    pub(crate) target: Target,
    pub(crate) shown: String,
}

/// The words of a text as they are looked for: decomposed (NFKD), combining marks dropped, lower
/// case, cut at everything but letters and digits.
///
/// The script of the search page cuts what a reader types in the same way.
pub(crate) fn words(text: &str) -> Vec<String> {
    let folded: String = text
        .nfkd()
        .filter(|character| !is_combining_mark(*character))
        .flat_map(char::to_lowercase)
        .filter(|character| !is_combining_mark(*character))
        .collect();
    folded
        .split(|character: char| !character.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect()
}

impl Press<'_> {
    /// Every name of the guide, sorted as it is looked for.
    pub(crate) fn findable_names(&self) -> Vec<FindableName> {
        let mut out = BTreeSet::new();
        let mut add = |shown: &str, kind: Kind, target: Target| {
            let shown = shown.trim().to_owned();
            let folded = words(&shown).join(" ");
            out.insert(FindableName {
                folded,
                kind,
                target,
                shown,
            });
        };
        for (at, genus) in self.guide.genera.iter().enumerate() {
            if self.names.of_genus(at).is_empty() {
                continue;
            }
            let target = Target::Genus(at);
            add(&self.names.genera[at], Kind::Loose, target);
            let written = genus.loose_name.iter().chain(&genus.also);
            for name in written.chain(genus.loose.iter().map(|row| &row.name)) {
                add(&name.value, Kind::Loose, target);
            }
        }
        for (id, plant) in self.names.plants.iter().enumerate() {
            let entry = &self.guide.plants[plant.entry];
            let target = Target::Plant(id);
            add(&plant.name, Kind::Accepted, target);
            for (names, kind) in [
                (&entry.synonyms, Kind::Synonym),
                (&entry.trade_names, Kind::Trade),
                (&entry.known_as, Kind::Known),
            ] {
                for name in names {
                    add(&name.value, kind, target);
                }
            }
        }
        out.into_iter().collect()
    }

    /// The search page, which without its script is the list of all names; and for a guide of many
    /// names a page a letter.
    pub(crate) fn search_pages(&self, names: &[FindableName]) -> Vec<Sheet> {
        let mut letters: BTreeMap<String, Vec<&FindableName>> = BTreeMap::new();
        for name in names {
            letters.entry(initial(&name.folded)).or_default().push(name);
        }
        let is_one = names.len() <= ON_ONE_PAGE;
        let section = |letter: &str, names: &[&FindableName], root: &str, has_rows: bool| {
            let rows = has_rows.then(|| {
                let rows = names.iter().map(|name| self.name_row(name, root));
                rows.collect::<Vec<Json>>()
            });
            json!({
                "letter": letter.to_uppercase(),
                "id": format!("letter-{letter}"),
                "href": (!has_rows).then(|| format!("{letter}/")),
                "count": counted(names.len(), "name", "names"),
                "rows": rows.unwrap_or_default(),
            })
        };
        let about = "Every name of the guide: accepted names, synonyms, trade names, what plants are known as, loose names.";
        let page = |address: &str, title: &str, sections: Vec<Json>, letter: Option<&str>| {
            Sheet::new(
                address,
                "search.html",
                title,
                about,
                json!({
                    "letters": sections,
                    "letter": letter.map(str::to_uppercase),
                    "one": is_one,
                    "count": counted(names.len(), "name", "names"),
                    "glyphs": glyphs(),
                }),
            )
        };
        let sections = letters
            .iter()
            .map(|(letter, names)| section(letter, names, "../", is_one));
        let mut out = vec![page(
            "search/index.html",
            "Search",
            sections.collect(),
            None,
        )];
        if is_one {
            return out;
        }
        for (letter, names) in &letters {
            let address = format!("search/{letter}/index.html");
            let title = format!("Names that start with {}", letter.to_uppercase());
            let sections = vec![section(letter, names, &root(&address), true)];
            out.push(page(&address, &title, sections, Some(letter)));
        }
        out
    }

    /// A name in the list of all names, with the standing of its plant.
    fn name_row(&self, name: &FindableName, root: &str) -> Json {
        let shown = match name.kind {
            Kind::Loose | Kind::Accepted | Kind::Synonym => name_html(&name.shown),
            Kind::Trade | Kind::Known => escaped(&name.shown),
        };
        match name.target {
            Target::Genus(genus) => json!({
                "href": self.genus_href(genus, root),
                "name": shown,
                "loose": self.covers(genus),
            }),
            Target::Plant(plant) => {
                let mut view = self.plant_ref(plant, None, root);
                if let Some((_, standing)) = first_role(self.guide, self.standings, plant) {
                    view["beam"] = json!(beam_again(standing.word));
                }
                view["loose"] = Json::Null;
                view["other"] = json!((name.kind != Kind::Accepted).then(|| {
                    let kind = match name.kind {
                        Kind::Known => "what some call",
                        kind => kind.on_screen(),
                    };
                    let link = if name.kind == Kind::Known { "" } else { " of" };
                    format!("{kind}{link} {}", name_html(&self.names.plants[plant].name))
                }));
                view["name"] = json!(shown);
                view
            }
        }
    }

    fn genus_href(&self, genus: usize, root: &str) -> String {
        format!("{root}names/{}/", self.guide.genera[genus].folder)
    }

    fn covers(&self, genus: usize) -> String {
        counted(self.names.of_genus(genus).len(), "plant", "plants")
    }

    /// What a script shows of a name's target: name, address, role, standing in each water, notice.
    pub(crate) fn target_card(&self, target: Target) -> Json {
        match target {
            Target::Genus(genus) => json!([
                name_html(&self.names.genera[genus]),
                self.genus_href(genus, ""),
                null,
                self.covers(genus),
                null
            ]),
            Target::Plant(plant) => {
                let law = notice(self.guide, self.standings, plant);
                json!([
                    name_html(&self.names.plants[plant].name),
                    self.plant_href(plant, ""),
                    first_role(self.guide, self.standings, plant).map(|(role, _)| role),
                    self.standing_codes(plant),
                    (!law.is_empty()).then_some(law),
                ])
            }
        }
    }

    /// A plant's standing in its first role, a letter for each water, the default one first: the
    /// place of its word in [`Word::ALL`] as a digit, or as a letter where it is in doubt. Empty
    /// where its forms have no role.
    pub(crate) fn standing_codes(&self, plant: PlantId) -> String {
        let Some((role, _)) = first_role(self.guide, self.standings, plant) else {
            return String::new();
        };
        let codes = self.waters_in_order().into_iter().map(|water| {
            let standing = self.standings.plants[plant].standings[water][role].as_ref();
            standing.map_or('-', standing_code)
        });
        codes.collect()
    }

    /// What a script says of a plant set beside others: in plain text, name and standing together.
    pub(crate) fn beside(&self, plant: PlantId) -> Json {
        let view = self.plant_ref(plant, None, "");
        let texts = ["word", "role"].map(|key| view[key].as_str().unwrap_or_default());
        let doubt = if view["doubt"] == true {
            ", in doubt"
        } else {
            ""
        };
        let standing = format!("{}{doubt} {}", texts[0], texts[1]);
        json!({
            "slug": view["slug"],
            "name": self.names.plants[plant].name,
            "standing": standing.trim(),
            "law": view["law"],
        })
    }

    /// What the letters and numbers of the drawers stand for.
    pub(crate) fn search_legend(&self) -> Map<String, Json> {
        let guide = self.guide;
        let waters = self.waters_in_order().into_iter().map(|water| {
            let of = &guide.waters[water];
            json!([of.id, of.title])
        });
        let roles = guide.roles.iter().map(|role| role.title.to_lowercase());
        let words = Word::ALL.iter().map(|word| [word.id(), word.on_screen()]);
        let kinds = Kind::ALL.iter().map(|kind| kind.on_screen());
        [
            ("waters", waters.collect::<Json>()),
            ("roles", json!(roles.collect::<Vec<_>>())),
            ("standings", json!(words.collect::<Vec<_>>())),
            ("kinds", json!(kinds.collect::<Vec<_>>())),
        ]
        .into_iter()
        .map(|(key, value)| (key.to_owned(), value))
        .collect()
    }
}

fn standing_code(standing: &Standing) -> char {
    let at = Word::ALL.iter().position(|word| *word == standing.word);
    let codes = if standing.is_doubtful() {
        ['a', 'b', 'c', 'd', 'e']
    } else {
        ['0', '1', '2', '3', '4']
    };
    at.and_then(|at| codes.get(at).copied()).unwrap_or('-')
}

/// The letter a name is filed under.
fn initial(folded: &str) -> String {
    match folded.chars().next() {
        Some(first) if first.is_ascii_alphabetic() => first.to_string(),
        _ => "other".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // No source: made-up names, cut by the rule in the doc comment.
    #[test]
    fn words_are_folded_and_cut() {
        assert_eq!(
            words("Cryptocoryne × willisii 'Mí-Oya' É2"),
            ["cryptocoryne", "willisii", "mi", "oya", "e2"]
        );
        assert_eq!(words("  ×  "), Vec::<String>::new());
    }
}
