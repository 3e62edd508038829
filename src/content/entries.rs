//! Sources, plants, genera, claims, plantings, removed entries and free pages.

use std::collections::BTreeMap;

use crate::content::claim::{Home, claim};
use crate::content::fields::{Faults, Fields, is_id, read_quantity, read_span, text};
use crate::content::policy::check_link;
use crate::content::settings::Settings;
use crate::content::yaml::{Node, is_unprintable};
use crate::content::{
    Author, Caution, CautionKind, Determined, Feeds, FreePage, Gone, Picture, Plant, RawClaim,
    RawLoose, Reading, Roster, RosterPlant, Source, TraitKind,
};
use crate::diagnostic::{Diagnostic, Place, Placed};
use crate::quantity::Dimension;

const SOURCE_KEYS: &[&str] = &[
    "title",
    "kind",
    "authors",
    "publisher",
    "container",
    "volume",
    "issue",
    "pages",
    "issued",
    "url",
    "accessed",
    "doi",
    "isbn",
    "voice",
    "repeats",
    "shown-as",
    "vocabulary",
    "claims",
];

/// One source; `id` is its file's name.
pub(crate) fn source(
    id: &str,
    file: &Place,
    node: Node,
    settings: &Settings,
    faults: &mut Faults,
) -> Option<Source> {
    let mut map = Fields::open(node, "a source", SOURCE_KEYS, faults)?;
    let title = map.need_text("title", faults);
    let kind = map
        .need_text("kind", faults)
        .and_then(|kind| known_kind(kind, settings, faults));
    let authors = map
        .list("authors", faults)
        .into_iter()
        .filter_map(|node| author(node, faults))
        .collect();
    let repeats = map
        .texts("repeats", faults)
        .iter()
        .filter_map(|other| {
            if other.value == id {
                faults.push(Diagnostic::repeats_itself(&other.place, id));
                return None;
            }
            settings.source(other, faults)
        })
        .collect();
    let url = map
        .text("url", faults)
        .and_then(|url| check_link(url, faults));
    let own = settings
        .sources
        .binary_search_by(|s| s.as_str().cmp(id))
        .ok()?;
    let vocabulary = vocabulary(&mut map, settings, faults);
    let claims = map
        .list("claims", faults)
        .into_iter()
        .filter_map(|node| claim(node, Home::Source(own), settings, faults))
        .collect();
    Some(Source {
        id: id.to_owned(),
        is_read: true,
        file: file.clone(),
        publisher: map.string("publisher", faults),
        container: map.string("container", faults),
        volume: map.string("volume", faults),
        issue: map.string("issue", faults),
        pages: map.string("pages", faults),
        issued: map.date("issued", faults),
        accessed: map.day("accessed", faults),
        doi: map.string("doi", faults),
        isbn: map.string("isbn", faults),
        voice: map
            .string("voice", faults)
            .map(|voice| voice.trim().to_owned()),
        shown_as: map.string("shown-as", faults),
        title: title?.value,
        kind: kind?,
        authors,
        url,
        repeats,
        vocabulary,
        claims,
    })
}

pub(crate) fn known_kind(
    kind: Placed<String>,
    settings: &Settings,
    faults: &mut Faults,
) -> Option<String> {
    if settings.kinds.contains(&kind.value) {
        return Some(kind.value);
    }
    faults.push(Diagnostic::unknown_id(
        &kind.place,
        "kind of source",
        &kind.value,
        settings.kinds.iter().map(String::as_str),
    ));
    None
}

fn author(node: Node, faults: &mut Faults) -> Option<Author> {
    let mut map = Fields::open(node, "an author", &["family", "given"], faults)?;
    let family = map.need_text("family", faults)?.value;
    let given = map.string("given", faults);
    Some(Author { family, given })
}

fn vocabulary(
    map: &mut Fields,
    settings: &Settings,
    faults: &mut Faults,
) -> BTreeMap<usize, BTreeMap<String, (usize, usize)>> {
    let mut out = BTreeMap::new();
    let node = map.take("vocabulary", faults);
    let Some(fields) = node.and_then(|node| Fields::open_any(node, "`vocabulary`", faults)) else {
        return out;
    };
    for (id, node) in fields.into_entries() {
        let Some(index) = settings.trait_index(&id, faults) else {
            continue;
        };
        let TraitKind::Scale(on) = &settings.traits[index].kind else {
            faults.push(Diagnostic::key_not_here(
                &id.place,
                &id.value,
                "this trait is a span and takes no words",
            ));
            continue;
        };
        let scale = &settings.scales[on.scale];
        let Some(words) = Fields::open_any(node, "the words of a trait", faults) else {
            continue;
        };
        let mut known: BTreeMap<String, (usize, usize)> = BTreeMap::new();
        for (word, node) in words.into_entries() {
            let Some(meant) = text(node, &word.value, faults) else {
                continue;
            };
            let (low, high) = meant
                .value
                .split_once("..")
                .unwrap_or((&meant.value, &meant.value));
            let mut end = |part: &str| {
                let found = scale.position(part);
                if found.is_none() {
                    faults.push(Diagnostic::unknown_id(
                        &meant.place,
                        &format!("level of `{}`", scale.id),
                        part.trim(),
                        scale.levels.iter().map(|level| level.id.as_str()),
                    ));
                }
                found
            };
            let (Some(low), Some(high)) = (end(low), end(high)) else {
                continue;
            };
            if low > high {
                faults.push(Diagnostic::span_reversed(&meant.place, &meant.value));
                continue;
            }
            if known
                .insert(word.value.trim().to_lowercase(), (low, high))
                .is_some()
            {
                faults.push(Diagnostic::declared_twice(&word.place, "word", &word.value));
            }
        }
        out.insert(index, known);
    }
    out
}

const GENUS_KEYS: &[&str] = &["loose-name", "also", "loose", "claims"];

/// What a `genus.yaml` holds.
pub(crate) struct GenusFile {
    pub(crate) loose_name: Placed<String>,
    pub(crate) also: Vec<Placed<String>>,
    pub(crate) loose: Vec<RawLoose>,
    pub(crate) claims: Vec<RawClaim>,
}

/// One `genus.yaml`.
pub(crate) fn genus(node: Node, settings: &Settings, faults: &mut Faults) -> Option<GenusFile> {
    let mut map = Fields::open(node, "genus.yaml", GENUS_KEYS, faults)?;
    let loose_name = map.need_text("loose-name", faults);
    let also = map.texts("also", faults);
    let mut loose = Vec::new();
    for node in map.list("loose", faults) {
        let Some(mut row) = Fields::open(node, "a loose name", &["name", "covers"], faults) else {
            continue;
        };
        let name = row.need_text("name", faults);
        if !row.has("covers") {
            faults.push(Diagnostic::missing_key(
                &row.place,
                "covers",
                "a loose name",
            ));
        }
        let covers = row.texts("covers", faults);
        if let Some(name) = name {
            loose.push(RawLoose { name, covers });
        }
    }
    let claims = map
        .list("claims", faults)
        .into_iter()
        .filter_map(|node| claim(node, Home::Plant, settings, faults))
        .collect();
    Some(GenusFile {
        loose_name: loose_name?,
        also,
        loose,
        claims,
    })
}

const PLANT_KEYS: &[&str] = &[
    "name",
    "known-as",
    "synonyms",
    "trade-names",
    "formerly",
    "form",
    "determined",
    "summary",
    "story",
    "pictures",
    "cautions",
    "claims",
];

/// One plant entry; `genus` is the index of its folder.
pub(crate) fn plant(
    file: &str,
    genus: usize,
    node: Node,
    settings: &Settings,
    faults: &mut Faults,
) -> Option<Plant> {
    let mut map = Fields::open(node, "a plant", PLANT_KEYS, faults)?;
    let name = map.need_text("name", faults);
    if !map.has("form") {
        faults.push(Diagnostic::missing_key(&map.place, "form", "a plant"));
    }
    let forms = map
        .texts("form", faults)
        .into_iter()
        .filter_map(|form| settings.form(form, faults))
        .collect();
    let formerly = map.texts("formerly", faults);
    for slug in &formerly {
        if !is_id(&slug.value) {
            faults.push(Diagnostic::bad_id(&slug.place, &slug.value));
        }
    }
    let determined = map.take("determined", faults).and_then(|node| {
        let mut map = Fields::open(node, "`determined`", &["by", "on", "following"], faults)?;
        Some(Determined {
            by: map.string("by", faults),
            on: map.day("on", faults),
            following: map.string("following", faults),
        })
    });
    let pictures = map
        .list("pictures", faults)
        .into_iter()
        .filter_map(|node| picture(node, faults))
        .collect();
    let cautions = map
        .list("cautions", faults)
        .into_iter()
        .filter_map(|node| caution(node, settings, faults))
        .collect();
    let claims = map
        .list("claims", faults)
        .into_iter()
        .filter_map(|node| claim(node, Home::Plant, settings, faults))
        .collect();
    Some(Plant {
        file: file.to_owned(),
        genus,
        known_as: map.texts("known-as", faults),
        synonyms: map.texts("synonyms", faults),
        trade_names: map.texts("trade-names", faults),
        summary: map.text("summary", faults),
        story: map.text("story", faults),
        name: name?,
        formerly,
        forms,
        determined,
        pictures,
        cautions,
        claims,
    })
}

fn picture(node: Node, faults: &mut Faults) -> Option<Picture> {
    let mut map = Fields::open(
        node,
        "a picture",
        &["file", "alt", "credit", "licence"],
        faults,
    )?;
    let file = map.need_text("file", faults);
    let alt = map.need_text("alt", faults);
    let credit = map.string("credit", faults);
    let licence = map.string("licence", faults);
    Some(Picture {
        file: file?,
        alt: alt?.value,
        credit,
        licence,
    })
}

fn caution(node: Node, settings: &Settings, faults: &mut Faults) -> Option<Caution> {
    let kinds = [
        ("regulated", CautionKind::Regulated),
        ("hazard", CautionKind::Hazard),
        ("handling", CautionKind::Handling),
    ];
    let mut map = Fields::open(node, "a caution", &["kind", "text", "source"], faults)?;
    if !map.has("kind") {
        faults.push(Diagnostic::missing_key(&map.place, "kind", "a caution"));
    }
    let kind = map.word("kind", "kind of caution", &kinds, faults);
    let said = map.need_text("text", faults);
    let source = map
        .text("source", faults)
        .and_then(|id| settings.source(&id, faults));
    Some(Caution {
        kind: kind?,
        text: said?,
        source,
    })
}

const ROSTER_KEYS: &[&str] = &[
    "title", "water", "volume", "started", "ended", "keeps", "feeds", "plants", "readings", "went",
];

/// One planting.
pub(crate) fn roster(
    id: &str,
    file: &Place,
    node: Node,
    settings: &Settings,
    faults: &mut Faults,
) -> Option<Roster> {
    let mut map = Fields::open(node, "a planting", ROSTER_KEYS, faults)?;
    let title = map.string("title", faults).unwrap_or_else(|| id.to_owned());
    let water = map.text("water", faults).and_then(|water| {
        let found = settings.waters.binary_search(&water.value).ok();
        if found.is_none() {
            faults.push(Diagnostic::unknown_id(
                &water.place,
                "water",
                &water.value,
                settings.waters.iter().map(String::as_str),
            ));
        }
        found
    });
    let volume = map
        .text("volume", faults)
        .and_then(|text| read_quantity(&text, &[Dimension::Volume], faults));
    let started_place = map.key_place("ended");
    let started = map.day("started", faults);
    let ended = map.day("ended", faults);
    if let (Some(from), Some(to)) = (started, ended)
        && to < from
    {
        faults.push(Diagnostic::period_reversed(
            &started_place,
            &format!("{from}/{to}"),
        ));
    }
    let feeds = map.take("feeds", faults).and_then(|node| {
        let mut map = Fields::open(node, "`feeds`", &["amount", "protein"], faults)?;
        let amount = map
            .need_text("amount", faults)
            .and_then(|text| read_quantity(&text, &[Dimension::Mass], faults));
        let protein = map
            .text("protein", faults)
            .and_then(|text| read_quantity(&text, &[Dimension::Percent], faults));
        Some(Feeds {
            amount: amount?,
            protein,
        })
    });
    let plants = map
        .list("plants", faults)
        .into_iter()
        .filter_map(|node| roster_plant(node, settings, faults))
        .collect();
    let readings = map
        .list("readings", faults)
        .into_iter()
        .filter_map(|node| reading(node, faults))
        .collect();
    Some(Roster {
        id: id.to_owned(),
        keeps: map.string("keeps", faults),
        went: map.text("went", faults),
        place: file.clone(),
        title,
        water,
        volume,
        started,
        ended,
        feeds,
        plants,
        readings,
    })
}

fn roster_plant(node: Node, settings: &Settings, faults: &mut Faults) -> Option<RosterPlant> {
    let mut map = Fields::open(
        node,
        "a plant of a planting",
        &["plant", "job", "amount", "each"],
        faults,
    )?;
    let plant = map.need_text("plant", faults);
    let job = map.text("job", faults).and_then(|job| {
        let found = settings.roles.iter().position(|role| *role == job.value);
        if found.is_none() && !settings.broken.contains(&"roles") {
            faults.push(Diagnostic::unknown_id(
                &job.place,
                "role",
                &job.value,
                settings.roles.iter().map(String::as_str),
            ));
        }
        found
    });
    let amounts = [
        Dimension::Count,
        Dimension::Mass,
        Dimension::Percent,
        Dimension::Area,
        Dimension::Length,
        Dimension::Volume,
    ];
    let amount = map
        .text("amount", faults)
        .and_then(|text| read_quantity(&text, &amounts, faults));
    let each = map.text("each", faults).and_then(|text| {
        read_span(
            &text,
            &[
                Dimension::Mass,
                Dimension::Length,
                Dimension::Count,
                Dimension::Area,
            ],
            faults,
        )
    });
    Some(RosterPlant {
        plant: plant?,
        job,
        amount,
        each,
    })
}

fn reading(node: Node, faults: &mut Faults) -> Option<Reading> {
    let mut map = Fields::open_any(node, "a reading", faults)?;
    if !map.has("on") {
        faults.push(Diagnostic::missing_key(&map.place, "on", "a reading"));
    }
    let on = map.day("on", faults);
    let mut values = Vec::new();
    for (key, node) in map.into_entries() {
        let Some(text) = text(node, &key.value, faults) else {
            continue;
        };
        if let Some(value) = read_quantity(&text, &[], faults) {
            values.push((key.value, value));
        }
    }
    Some(Reading { on: on?, values })
}

/// One removed entry; `slug` is its file's name.
pub(crate) fn gone(slug: &str, file: &Place, node: Node, faults: &mut Faults) -> Option<Gone> {
    let mut map = Fields::open(
        node,
        "a removed entry",
        &["name", "on", "because", "instead"],
        faults,
    )?;
    Some(Gone {
        slug: slug.to_owned(),
        name: map
            .string("name", faults)
            .unwrap_or_else(|| slug.to_owned()),
        on: map.day("on", faults),
        because: map.string("because", faults),
        instead: map.texts("instead", faults),
        place: file.clone(),
    })
}

/// One free page: its first heading is the title, the rest its body.
pub(crate) fn page(id: &str, place: Place, source: &str, faults: &mut Faults) -> Option<FreePage> {
    if is_unprintable(source) {
        faults.push(Diagnostic::unprintable(&place));
        return None;
    }
    let mut offset = 0;
    for line in source.split_inclusive('\n') {
        offset += line.len();
        if let Some(title) = line.trim_end().strip_prefix("# ") {
            return Some(FreePage {
                id: id.to_owned(),
                title: title.trim().trim_end_matches('#').trim().to_owned(),
                body: Placed::new(source[offset..].to_owned(), place),
            });
        }
        if !line.trim().is_empty() && line.trim() != "\u{feff}" {
            break;
        }
    }
    faults.push(Diagnostic::missing_key(&place, "# Title", "a free page"));
    None
}
