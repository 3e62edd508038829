//! Sources, plants, genera, claims, plantings, removed entries and free pages.

use std::collections::BTreeMap;

use crate::content::fields::{
    Faults, Fields, day, is_date, is_id, read_number, read_quantity, read_span, text,
};
use crate::content::settings::{Settings, check_link};
use crate::content::yaml::{Data, Node};
use crate::content::{
    Author, Caution, CautionKind, Determined, Feeds, FreePage, Gone, Picture, Plant, RawClaim,
    RawLoose, RawValue, Reading, Roster, RosterPlant, SizeMeasure, Source, Stage, TraitKind,
    ValueBound,
};
use crate::diagnostic::{Diagnostic, Place, Placed};
use crate::quantity::{Dimension, Quantity};

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

fn known_kind(kind: Placed<String>, settings: &Settings, faults: &mut Faults) -> Option<String> {
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

/// Where a claim stands, which decides what it must name.
#[derive(Clone, Copy)]
pub(crate) enum Home {
    /// In a plant's or a genus's file: it names its source.
    Plant,
    /// In the file of this source: it names its plant.
    Source(usize),
}

const VALUES: &[&str] = &[
    "says",
    "rgr",
    "doubles-in",
    "grew",
    "trimmed",
    "series",
    "measures",
];

const CLAIM_KEYS: &[&str] = &[
    "trait",
    "source",
    "says",
    "rgr",
    "doubles-in",
    "grew",
    "trimmed",
    "series",
    "measures",
    "as",
    "at",
    "seen",
    "where",
    "kind",
    "repeats",
    "bound",
    "of",
    "se",
    "stage",
    "set-aside",
    "tank",
    "picture",
    "quote",
    "remark",
];

const SOURCE_CLAIM_KEYS: &[&str] = &[
    "plant",
    "trait",
    "says",
    "rgr",
    "doubles-in",
    "grew",
    "trimmed",
    "series",
    "measures",
    "as",
    "at",
    "seen",
    "where",
    "kind",
    "repeats",
    "bound",
    "of",
    "se",
    "stage",
    "set-aside",
    "tank",
    "picture",
    "quote",
    "remark",
];

/// One claim.
pub(crate) fn claim(
    node: Node,
    home: Home,
    settings: &Settings,
    faults: &mut Faults,
) -> Option<RawClaim> {
    let keys = match home {
        Home::Plant => CLAIM_KEYS,
        Home::Source(_) => SOURCE_CLAIM_KEYS,
    };
    let before = faults.len();
    let mut map = Fields::open(node, "a claim", keys, faults)?;
    let place = map.place.clone();
    let trait_index = map
        .need_text("trait", faults)
        .and_then(|id| settings.trait_index(&id, faults));
    let (plant, source) = match home {
        Home::Plant => {
            let source = map
                .need_text("source", faults)
                .and_then(|id| settings.source(&id, faults));
            (None, source)
        }
        Home::Source(own) => (map.need_text("plant", faults), Some(own)),
    };
    let given: Vec<&'static str> = VALUES.iter().copied().filter(|key| map.has(key)).collect();
    let form = if given.len() == 1 {
        Some(given[0])
    } else {
        None
    };
    if form.is_none() {
        faults.push(Diagnostic::claim_values(&place, &given));
        for key in &given {
            map.take(key, faults);
        }
    }
    let value_place = form.map_or_else(|| place.clone(), |form| map.key_place(form));
    let value = form.and_then(|form| {
        let node = map.take(form, faults)?;
        let value_place = node.place.clone();
        Some((raw_value(form, node, faults)?, value_place))
    });
    let stated = map
        .take("where", faults)
        .map_or_else(BTreeMap::new, |node| {
            settings.stated(node, "`where`", faults)
        });
    let kind = map
        .text("kind", faults)
        .and_then(|kind| known_kind(kind, settings, faults));
    let repeats = map.text("repeats", faults).and_then(|id| {
        let found = settings.source(&id, faults)?;
        if Some(found) == source {
            faults.push(Diagnostic::repeats_itself(&id.place, &id.value));
            return None;
        }
        Some(found)
    });
    let bound_place = map.key_place("bound");
    let bounds = [
        ("at-least", ValueBound::AtLeast),
        ("at-most", ValueBound::AtMost),
    ];
    let bound = map.word("bound", "bound", &bounds, faults);
    let of_place = map.key_place("of");
    let of = map.word("of", "size measure", SizeMeasure::ALL, faults);
    let se_place = map.key_place("se");
    let se = map.number("se", faults);
    let stages = [("settling", Stage::Settling), ("settled", Stage::Settled)];
    let stage = map.word("stage", "stage", &stages, faults);
    let seen = map
        .text("seen", faults)
        .and_then(|seen| check_seen(seen, faults));
    let claim = RawClaim {
        plant,
        value_place: value
            .as_ref()
            .map_or(value_place, |(_, place)| place.clone()),
        used_name: map.text("as", faults),
        at: map.string("at", faults),
        seen,
        stated,
        kind,
        repeats,
        bound,
        of,
        se: se.as_ref().map(|se| se.value),
        stage,
        set_aside: map.string("set-aside", faults),
        tank: map.string("tank", faults),
        picture: map.text("picture", faults),
        quote: map.string("quote", faults),
        remark: map.string("remark", faults),
        trait_index: trait_index?,
        source: source?,
        value: value?.0,
        place,
    };
    check_keys(
        &claim,
        &bound_place,
        &of_place,
        se.map(|se| (se, se_place)),
        faults,
    );
    // A claim with a fault is not weighed: half of what it says may be wrong.
    (faults.len() == before).then_some(claim)
}

/// Keys that go only with some forms of claim.
fn check_keys(
    claim: &RawClaim,
    bound_place: &Place,
    of_place: &Place,
    se: Option<(Placed<f64>, Place)>,
    faults: &mut Faults,
) {
    let is_range = matches!(&claim.value, RawValue::Measures(span) if !span.is_single);
    if claim.bound.is_some() {
        if matches!(claim.value, RawValue::Says(_)) {
            faults.push(Diagnostic::claim_key(
                bound_place,
                "bound",
                "a word is no measured value",
            ));
        } else if is_range {
            faults.push(Diagnostic::claim_key(
                bound_place,
                "bound",
                "a range has two ends already",
            ));
        }
    }
    let takes_of = matches!(
        claim.value,
        RawValue::Rgr(_) | RawValue::DoublesIn(_) | RawValue::Trimmed { .. }
    );
    if claim.of.is_some() && !takes_of {
        faults.push(Diagnostic::claim_key(
            of_place,
            "of",
            "it goes with `rgr`, `doubles-in` and `trimmed`; other forms show what was measured",
        ));
    }
    if let Some((se, place)) = se {
        let takes_se = matches!(claim.value, RawValue::Rgr(_))
            || matches!(&claim.value, RawValue::Measures(span) if span.is_single);
        if !takes_se {
            faults.push(Diagnostic::claim_key(
                &place,
                "se",
                "it goes with `rgr` or a single `measures`",
            ));
        }
        if se.value < 0.0 {
            faults.push(Diagnostic::number_range(
                &se.place,
                "`se`",
                &se.value.to_string(),
                "zero or more",
            ));
        }
    }
}

fn check_seen(seen: Placed<String>, faults: &mut Faults) -> Option<String> {
    let parts: Vec<&str> = seen.value.split('/').map(str::trim).collect();
    if parts.len() > 2 || !parts.iter().all(|part| is_date(part)) {
        faults.push(Diagnostic::bad_date(
            &seen.place,
            &seen.value,
            "a day or a period, such as `2025-05-01` or `2025-05-01/2025-06-20`",
        ));
        return None;
    }
    // ISO dates of one length sort as text; a month and a day compare by what they share.
    if let [from, to] = parts[..] {
        let shared = from.len().min(to.len());
        if from[..shared] > to[..shared] {
            faults.push(Diagnostic::period_reversed(&seen.place, &seen.value));
            return None;
        }
    }
    Some(seen.value.trim().to_owned())
}

fn raw_value(form: &str, node: Node, faults: &mut Faults) -> Option<RawValue> {
    match form {
        "says" => text(node, form, faults).map(RawValue::Says),
        "rgr" => {
            let text = text(node, form, faults)?;
            read_number(&text, faults).map(RawValue::Rgr)
        }
        "doubles-in" => {
            let text = text(node, form, faults)?;
            duration(&text, faults).map(RawValue::DoublesIn)
        }
        "grew" => grew(node, faults),
        "trimmed" => trimmed(node, faults),
        "series" => series(node, faults),
        _ => {
            let text = text(node, form, faults)?;
            read_span(&text, &[], faults).map(RawValue::Measures)
        }
    }
}

fn duration(text: &Placed<String>, faults: &mut Faults) -> Option<Quantity> {
    let found = read_quantity(text, &[Dimension::Time], faults)?;
    if found.value <= 0.0 {
        faults.push(Diagnostic::time_not_positive(&text.place, &text.value));
        return None;
    }
    Some(found)
}

const SIZES: &[Dimension] = &[
    Dimension::Length,
    Dimension::Mass,
    Dimension::Area,
    Dimension::Percent,
    Dimension::Count,
];

fn size(text: &Placed<String>, faults: &mut Faults) -> Option<Quantity> {
    let found = read_quantity(text, SIZES, faults)?;
    if found.value <= 0.0 {
        faults.push(Diagnostic::size_not_positive(&text.place, &text.value));
        return None;
    }
    Some(found)
}

/// What is compared: the dimension, for counts with the thing counted.
fn kind_of_size(size: &Quantity) -> String {
    match size.unit.thing {
        Some(thing) => format!("a count of {thing}"),
        None => size.unit.dimension.noun().to_owned(),
    }
}

fn same_kind(
    first: &Quantity,
    text: &Placed<String>,
    second: &Quantity,
    faults: &mut Faults,
) -> bool {
    if first.unit.dimension == second.unit.dimension && first.unit.thing == second.unit.thing {
        return true;
    }
    faults.push(Diagnostic::mixed_sizes(
        &text.place,
        &kind_of_size(second),
        &kind_of_size(first),
    ));
    false
}

fn grew(node: Node, faults: &mut Faults) -> Option<RawValue> {
    let mut map = Fields::open(node, "`grew`", &["from", "to", "over"], faults)?;
    let from = map
        .need_text("from", faults)
        .and_then(|text| size(&text, faults));
    let to = map
        .need_text("to", faults)
        .and_then(|text| Some((size(&text, faults)?, text)));
    let over = map
        .need_text("over", faults)
        .and_then(|text| duration(&text, faults));
    let (from, (to, to_text), over) = (from?, to?, over?);
    same_kind(&from, &to_text, &to, faults).then_some(RawValue::Grew { from, to, over })
}

fn trimmed(node: Node, faults: &mut Faults) -> Option<RawValue> {
    let mut map = Fields::open(node, "`trimmed`", &["every", "leaving"], faults)?;
    let every = map
        .need_text("every", faults)
        .and_then(|text| duration(&text, faults));
    let leaving = map.number("leaving", faults);
    if let Some(leaving) = &leaving
        && !(leaving.value > 0.0 && leaving.value < 1.0)
    {
        faults.push(Diagnostic::number_range(
            &leaving.place,
            "`leaving`",
            &leaving.value.to_string(),
            "between 0 and 1",
        ));
        return None;
    }
    Some(RawValue::Trimmed {
        every: every?,
        leaving: leaving.map_or(0.5, |leaving| leaving.value),
    })
}

fn series(node: Node, faults: &mut Faults) -> Option<RawValue> {
    let place = node.place.clone();
    let Data::List(items) = node.data else {
        faults.push(Diagnostic::wrong_shape(
            &place,
            "a list of points such as `[2025-01-03, 12 cm]`",
            node.noun(),
        ));
        return None;
    };
    let written = items.len();
    let mut points: Vec<(f64, Quantity)> = Vec::new();
    let mut are_dates: Option<bool> = None;
    let mut is_whole = true;
    for item in items {
        let point_place = item.place.clone();
        let pair: Option<[Node; 2]> = match item.data {
            Data::List(pair) => pair.try_into().ok(),
            _ => None,
        };
        let Some([when, how_much]) = pair else {
            faults.push(Diagnostic::wrong_shape(
                &point_place,
                "a point such as `[2025-01-03, 12 cm]`",
                "something else",
            ));
            is_whole = false;
            continue;
        };
        let (when, how_much) = (
            text(when, "series", faults),
            text(how_much, "series", faults),
        );
        let (Some(when), Some(how_much)) = (when, how_much) else {
            is_whole = false;
            continue;
        };
        let Some(size) = size(&how_much, faults) else {
            is_whole = false;
            continue;
        };
        let (number, is_date) = match day(&when.value) {
            Some(date) => (days_since_2000(date), true),
            None => match crate::quantity::number(when.value.trim()) {
                Some(number) => (number, false),
                None => {
                    faults.push(Diagnostic::bad_date(
                        &when.place,
                        &when.value,
                        "a day such as `2025-01-03`, or a day number",
                    ));
                    is_whole = false;
                    continue;
                }
            },
        };
        if *are_dates.get_or_insert(is_date) != is_date {
            faults.push(Diagnostic::mixed_days(&when.place));
            is_whole = false;
            continue;
        }
        if points
            .iter()
            .any(|(other, _)| (other - number).abs() < 1e-9)
        {
            faults.push(Diagnostic::equal_days(&when.place, &when.value));
            is_whole = false;
            continue;
        }
        if let Some((_, first)) = points.first()
            && !same_kind(&first.clone(), &how_much, &size, faults)
        {
            is_whole = false;
            continue;
        }
        points.push((number, size));
    }
    if is_whole && points.len() < 2 {
        faults.push(Diagnostic::short_series(&place, written));
        is_whole = false;
    }
    is_whole.then_some(RawValue::Series(points))
}

/// Whole days since the start of the year 2000; small numbers keep the regression exact.
fn days_since_2000(date: jiff::civil::Date) -> f64 {
    let origin = jiff::civil::date(2000, 1, 1);
    date.since(origin)
        .map_or(0.0, |span| f64::from(span.get_days()))
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
