//! The search index as static files: names, words and texts in drawers, so that one query opens few.
//!
//! Words stand in order, and a drawer holds a stretch of them; `search/drawers.json` says which.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;
use serde_json::{Map, Value as Json, json};

use crate::names::PlantId;
use crate::pages::search::{FindableName, Target, words};
use crate::pages::{Press, Sheet};

/// Names in a drawer. Our choice: about 25 kB.
const NAMES: usize = 200;

/// Bytes of text in a drawer, unless one text has more. Our choice: a query shows few texts, and
/// they seldom stand side by side.
const TEXT_BYTES: usize = 6_000;

/// Places in texts in a drawer of words. Our choice: about 20 kB.
const PLACES: usize = 3_000;

/// Places kept of a word: one that stands in more texts than these is no help in finding one.
const PLACES_OF_A_WORD: usize = 400;

/// A text that can be found.
struct Text {
    group: Group,
    title: String,
    href: String,
    text: String,
    plant: Option<PlantId>,
}

/// Where texts come from, in the order in which they are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Group {
    Sources,
    Pages,
    Plantings,
    Plants,
}

impl Group {
    const ALL: [Group; 4] = [
        Group::Sources,
        Group::Pages,
        Group::Plantings,
        Group::Plants,
    ];

    fn on_screen(self) -> &'static str {
        match self {
            Group::Sources => "Sources",
            Group::Pages => "Pages",
            Group::Plantings => "Plantings",
            Group::Plants => "Notes on plants",
        }
    }
}

impl Press<'_> {
    /// Every file of the search index as (address, text). `sheets` are the pages, whose texts are
    /// ready there.
    pub(crate) fn drawers(
        &self,
        names: &[FindableName],
        sheets: &[Sheet],
    ) -> Vec<(String, Vec<u8>)> {
        let mut contents = self.search_legend();
        let mut out = self.name_drawers(names, &mut contents);
        out.extend(word_drawers(names, &mut contents));
        let texts = self.texts(sheets);
        out.extend(self.text_drawers(&texts, &mut contents));
        out.extend(place_drawers(&texts, &mut contents));
        out.push(("search/drawers.json".to_owned(), file(&contents.into())));
        out
    }

    /// Names by each of their words: `rows` are number, name, kind, target; `of` says what a script
    /// shows of a target.
    fn name_drawers(
        &self,
        names: &[FindableName],
        contents: &mut Map<String, Json>,
    ) -> Vec<(String, Vec<u8>)> {
        // Under a word first the names that are wider or accepted: they are shown first.
        let mut by_word = BTreeSet::new();
        for (number, name) in names.iter().enumerate() {
            by_word.extend(
                words(&name.shown)
                    .into_iter()
                    .map(|word| (word, name.kind, number)),
            );
        }
        let by_word: Vec<_> = by_word.into_iter().collect();
        let drawers: Vec<_> = by_word.chunks(NAMES).collect();
        let spans: Vec<Json> = drawers
            .iter()
            .filter_map(|drawer| Some(json!([drawer.first()?.0, drawer.last()?.0])))
            .collect();
        contents.insert("names".to_owned(), json!(spans));
        drawers
            .par_iter()
            .enumerate()
            .map(|(at, drawer)| {
                let numbers: BTreeSet<usize> =
                    drawer.iter().map(|(_, _, number)| *number).collect();
                let rows: Vec<Json> = numbers
                    .iter()
                    .map(|number| {
                        let name = &names[*number];
                        json!([number, name.shown, name.kind as usize, key(name.target)])
                    })
                    .collect();
                let of: Map<String, Json> = numbers
                    .iter()
                    .map(|number| names[*number].target)
                    .map(|target| (key(target), self.target_card(target)))
                    .collect();
                let address = format!("search/names/{at}.json");
                (address, file(&json!({ "rows": rows, "of": of })))
            })
            .collect()
    }

    /// Texts of plants, sources, plantings and free pages.
    fn texts(&self, sheets: &[Sheet]) -> Vec<Text> {
        let mut out: Vec<Text> = (0..self.guide.sources.len())
            .map(|source| {
                let of = &self.guide.sources[source];
                let by = self.source_by(source).unwrap_or_default();
                Text {
                    group: Group::Sources,
                    title: of.title.clone(),
                    href: format!("sources/{}/", of.id),
                    text: [of.kind.as_str(), by.as_str()]
                        .into_iter()
                        .filter(|part| !part.is_empty())
                        .collect::<Vec<_>>()
                        .join(", "),
                    plant: None,
                }
            })
            .collect();
        let plants: BTreeMap<String, PlantId> = (0..self.names.plants.len())
            .map(|plant| (self.plant_href(plant, ""), plant))
            .collect();
        for sheet in sheets {
            let href = sheet.address.trim_end_matches("index.html");
            let about = sheet.view["page"]["about"].as_str().unwrap_or_default();
            let of = |keys: &[&str]| {
                let texts = keys.iter().filter_map(|key| sheet.view.get(key)?.as_str());
                texts.map(plain).collect::<Vec<_>>().join(" ")
            };
            let (group, text) = match sheet.template {
                "plant.html" => (Group::Plants, of(&["summary", "story"])),
                "planting.html" => (Group::Plantings, of(&["went"])),
                "page.html" => (Group::Pages, of(&["body"])),
                // Of these only what stands at the head, and none that says the same of one water.
                "role.html" if sheet.view["one"] == false => (Group::Pages, about.to_owned()),
                "water.html" => (Group::Pages, tell_by(&sheet.view["water"]["tell_by"])),
                "start.html" | "compare.html" if href.matches('/').count() > 1 => continue,
                "start.html" | "compare.html" | "trait.html" | "cautions.html" | "method.html"
                | "words.html" | "contested.html" | "wanted.html" | "data.html" => {
                    (Group::Pages, about.to_owned())
                }
                _ => continue,
            };
            if text.is_empty() && group == Group::Plants {
                continue;
            }
            let title = sheet.view["page"]["title"].as_str().unwrap_or_default();
            out.push(Text {
                group,
                title: title.to_owned(),
                href: href.to_owned(),
                text,
                plant: plants.get(href).copied(),
            });
        }
        out.sort_by(|a, b| (a.group, &a.href).cmp(&(b.group, &b.href)));
        out
    }

    /// The texts themselves: `rows` are number, group, title, address, text, target.
    fn text_drawers(
        &self,
        texts: &[Text],
        contents: &mut Map<String, Json>,
    ) -> Vec<(String, Vec<u8>)> {
        let mut starts: Vec<usize> = Vec::new();
        let mut bytes = TEXT_BYTES;
        for (number, text) in texts.iter().enumerate() {
            if bytes >= TEXT_BYTES {
                starts.push(number);
                bytes = 0;
            }
            bytes += text.text.len() + text.title.len();
        }
        let groups: Vec<Json> = Group::ALL
            .iter()
            .map(|group| {
                let first = texts.partition_point(|text| text.group < *group);
                json!([group.on_screen(), first])
            })
            .collect();
        contents.insert("groups".to_owned(), json!(groups));
        contents.insert("texts".to_owned(), json!(starts));
        let ends = starts.iter().skip(1).copied().chain([texts.len()]);
        let spans: Vec<(usize, usize)> = starts.iter().copied().zip(ends).collect();
        spans
            .par_iter()
            .enumerate()
            .map(|(at, (from, to))| {
                let of: Map<String, Json> = texts[*from..*to]
                    .iter()
                    .filter_map(|text| text.plant)
                    .map(Target::Plant)
                    .map(|target| (key(target), self.target_card(target)))
                    .collect();
                let rows: Vec<Json> = (*from..*to)
                    .map(|number| {
                        let text = &texts[number];
                        let target = text.plant.map(|plant| key(Target::Plant(plant)));
                        let group = text.group as usize;
                        json!([number, group, text.title, text.href, text.text, target])
                    })
                    .collect();
                let address = format!("search/texts/{at}.json");
                (address, file(&json!({ "rows": rows, "of": of })))
            })
            .collect()
    }
}

/// Words of names by their length: a word with two letters wrong is at most two longer or shorter.
fn word_drawers(
    names: &[FindableName],
    contents: &mut Map<String, Json>,
) -> Vec<(String, Vec<u8>)> {
    let mut by_length: BTreeMap<usize, BTreeSet<String>> = BTreeMap::new();
    for word in names.iter().flat_map(|name| words(&name.shown)) {
        by_length
            .entry(word.chars().count())
            .or_default()
            .insert(word);
    }
    by_length.retain(|length, _| *length > 2);
    let lengths: Vec<usize> = by_length.keys().copied().collect();
    contents.insert("words".to_owned(), json!(lengths));
    by_length
        .into_iter()
        .map(|(length, words)| (format!("search/words/{length}.json"), file(&json!(words))))
        .collect()
}

/// Where each word stands: the word, in how many texts, the numbers of the first of them.
fn place_drawers(texts: &[Text], contents: &mut Map<String, Json>) -> Vec<(String, Vec<u8>)> {
    let mut places: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (number, text) in texts.iter().enumerate() {
        let all = words(&text.title).into_iter().chain(words(&text.text));
        for word in all
            .filter(|word| word.chars().count() > 1)
            .collect::<BTreeSet<_>>()
        {
            places.entry(word).or_default().push(number);
        }
    }
    let mut drawers: Vec<Vec<Json>> = Vec::new();
    let mut spans: Vec<[String; 2]> = Vec::new();
    let mut held = PLACES;
    for (word, mut numbers) in places {
        let total = numbers.len();
        numbers.truncate(PLACES_OF_A_WORD);
        if held >= PLACES {
            drawers.push(Vec::new());
            spans.push([word.clone(), String::new()]);
            held = 0;
        }
        // A word takes about as much room as two of its places.
        held += numbers.len() + 2;
        if let (Some(drawer), Some(span)) = (drawers.last_mut(), spans.last_mut()) {
            span[1].clone_from(&word);
            drawer.push(json!([word, total, numbers]));
        }
    }
    contents.insert("places".to_owned(), json!(spans));
    drawers
        .into_iter()
        .enumerate()
        .map(|(at, rows)| (format!("search/places/{at}.json"), file(&json!(rows))))
        .collect()
}

/// What a water can be told by, in one line.
fn tell_by(view: &Json) -> String {
    let signs = view.as_array().into_iter().flatten();
    let signs: Vec<&str> = signs.filter_map(Json::as_str).collect();
    signs.join(". ")
}

/// A target's name within a drawer.
fn key(target: Target) -> String {
    match target {
        Target::Genus(genus) => format!("g{genus}"),
        Target::Plant(plant) => format!("p{plant}"),
    }
}

/// The text of finished HTML.
fn plain(html: &str) -> String {
    let mut out = String::with_capacity(html.len());
    let mut rest = html;
    while let Some(at) = rest.find(['<', '&']) {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        if rest.starts_with('<') {
            let end = rest.find('>').map_or(rest.len(), |end| end + 1);
            // Tags within a word leave it whole; others part words.
            let is_inline = ["i", "b", "em", "strong", "sub", "sup", "code", "a"]
                .iter()
                .any(|tag| {
                    let name = rest[1..].trim_start_matches('/');
                    name.strip_prefix(tag)
                        .is_some_and(|after| after.starts_with(['>', ' ']))
                });
            if !is_inline {
                out.push(' ');
            }
            rest = &rest[end..];
            continue;
        }
        let known = [
            ("&amp;", "&"),
            ("&lt;", "<"),
            ("&gt;", ">"),
            ("&quot;", "\""),
            ("&#39;", "'"),
            ("&#x27;", "'"),
            ("&#x2f;", "/"),
            ("&nbsp;", " "),
        ];
        let found = known.iter().find(|(entity, _)| rest.starts_with(entity));
        let (entity, text) = found.copied().unwrap_or(("&", "&"));
        out.push_str(text);
        rest = &rest[entity.len()..];
    }
    out.push_str(rest);
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn file(json: &Json) -> Vec<u8> {
    let mut text = json.to_string();
    text.push('\n');
    text.into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    // No source: made-up text.
    #[test]
    fn tags_and_entities_leave_plain_text() {
        assert_eq!(
            plain(
                "<p>A <i>B c</i>&#39;s &lt;d&gt;</p><ul><li>e<sub>2</sub></li><li>f &amp; g</li></ul>"
            ),
            "A B c's <d> e2 f & g"
        );
    }
}
