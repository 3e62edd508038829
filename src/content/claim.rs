//! One claim as written: its keys, its value, and which keys go with which form.

use std::collections::BTreeMap;

use crate::content::entries::known_kind;
use crate::content::fields::{
    Faults, Fields, day, is_day_or_period, read_any_span, read_number, read_quantity, text,
};
use crate::content::settings::Settings;
use crate::content::yaml::{Data, Node};
use crate::content::{RawClaim, RawValue, SizeMeasure, Stage, ValueBound};
use crate::diagnostic::{Diagnostic, Place, Placed};
use crate::quantity::{Dimension, Quantity};

/// Where a claim stands, which decides what it must name.
#[derive(Clone, Copy)]
pub(crate) enum Home {
    /// In a plant's or a genus's file: it names its source.
    Plant,
    /// In the file of this source: it names its plant.
    Source(usize),
}

/// Keys that say what was seen; a claim has one of them.
pub(crate) const VALUES: [&str; 7] = [
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
    let given: Vec<&'static str> = VALUES.into_iter().filter(|key| map.has(key)).collect();
    let form = if given.len() == 1 {
        Some(given[0])
    } else {
        None
    };
    if form.is_none() {
        faults.push(Diagnostic::claim_values(&place, &given, &VALUES));
        for key in &given {
            map.take(key, faults);
        }
    }
    let value_place = form.map_or_else(|| place.clone(), |form| map.key_place(form));
    let value = form.and_then(|form| {
        let node = map.take(form, faults)?;
        let value_place = node.place.clone();
        let measured = trait_index.map_or(&[][..], |at| settings.traits[at].kind.dimensions());
        Some((raw_value(form, node, measured, faults)?, value_place))
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
    if !is_day_or_period(&seen.value) {
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

fn raw_value(
    form: &str,
    node: Node,
    measured: &[Dimension],
    faults: &mut Faults,
) -> Option<RawValue> {
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
            read_any_span(&text, measured, faults).map(RawValue::Measures)
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
