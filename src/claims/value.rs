//! From a claim as written to its mass, its span and its measured value.

use std::f64::consts::LN_2;

use crate::claims::mass::{self, Spread};
use crate::claims::{Measured, Value};
use crate::content::{
    Guide, Measure, RawClaim, RawValue, ScaleTrait, SizeMeasure, TraitKind, ValueBound,
};
use crate::diagnostic::Diagnostic;
use crate::quantity::{Dimension, Quantity, Span, Unit, decimals, significant};

/// What a claim says, checked against its trait and its source's words.
pub(crate) fn value(
    raw: &RawClaim,
    guide: &Guide,
    faults: &mut Vec<Diagnostic>,
) -> Option<(Value, Option<Measured>)> {
    match &guide.traits[raw.trait_index].kind {
        TraitKind::Span(measure) => span_value(raw, *measure, guide, faults).map(|v| (v, None)),
        TraitKind::Scale(on) => {
            let (mass, measured) = scale_value(raw, on, guide, faults)?;
            Some((Value::Mass(mass), measured))
        }
    }
}

fn form(value: &RawValue) -> &'static str {
    match value {
        RawValue::Says(_) => "says",
        RawValue::Rgr(_) => "rgr",
        RawValue::DoublesIn(_) => "doubles-in",
        RawValue::Grew { .. } => "grew",
        RawValue::Trimmed { .. } => "trimmed",
        RawValue::Series(_) => "series",
        RawValue::Measures(_) => "measures",
    }
}

fn wrong_form(raw: &RawClaim, guide: &Guide, valid: &str) -> Diagnostic {
    let id = &guide.traits[raw.trait_index].id;
    Diagnostic::claim_form(&raw.value_place, form(&raw.value), id, valid)
}

fn span_value(
    raw: &RawClaim,
    measure: Measure,
    guide: &Guide,
    faults: &mut Vec<Diagnostic>,
) -> Option<Value> {
    let RawValue::Measures(span) = &raw.value else {
        faults.push(wrong_form(
            raw,
            guide,
            "`measures` with a span, such as `18..26 C`",
        ));
        return None;
    };
    if !right_dimension(raw, span, measure, faults) {
        return None;
    }
    if raw.bound.is_some() {
        faults.push(Diagnostic::claim_key(
            &raw.place,
            "bound",
            "a span needs both ends",
        ));
        return None;
    }
    let (Some(low), Some(high)) = (span.low, span.high) else {
        faults.push(Diagnostic::span_open(&raw.value_place, &shown_span(span)));
        return None;
    };
    Some(Value::Span {
        low: crate::content::base_value(low, &span.unit),
        high: crate::content::base_value(high, &span.unit),
    })
}

fn right_dimension(
    raw: &RawClaim,
    span: &Span,
    measure: Measure,
    faults: &mut Vec<Diagnostic>,
) -> bool {
    let dimensions = measure.dimensions();
    if dimensions.contains(&span.unit.dimension) {
        return true;
    }
    let nouns: Vec<&str> = dimensions.iter().map(|d| d.noun()).collect();
    let units: Vec<String> = dimensions.iter().map(|d| d.units()).collect();
    faults.push(Diagnostic::wrong_dimension(
        &raw.value_place,
        &shown_span(span),
        span.unit.dimension.noun(),
        &nouns.join(" or "),
        &units.join(", "),
    ));
    false
}

fn scale_value(
    raw: &RawClaim,
    on: &ScaleTrait,
    guide: &Guide,
    faults: &mut Vec<Diagnostic>,
) -> Option<(Vec<f64>, Option<Measured>)> {
    if let RawValue::Says(_) = raw.value {
        let (low, high) = said_levels(raw, on, guide, faults)?;
        let high = if on.is_need { low } else { high };
        return Some((mass::spread(on.levels, low, high), None));
    }
    let Some(measure) = on.measure else {
        faults.push(wrong_form(
            raw,
            guide,
            "`says` with a level, as it has no measure",
        ));
        return None;
    };
    if measure == Measure::RelativeGrowthRate {
        growth_value(raw, on, guide, faults)
    } else {
        plain_value(raw, on, measure, guide, faults)
    }
}

/// Levels meant by `says`: the source's own word, a level, or a span of either.
fn said_levels(
    raw: &RawClaim,
    on: &ScaleTrait,
    guide: &Guide,
    faults: &mut Vec<Diagnostic>,
) -> Option<(usize, usize)> {
    let RawValue::Says(said) = &raw.value else {
        return None;
    };
    let source = &guide.sources[raw.source];
    let scale = &guide.scales[on.scale];
    let words = source.vocabulary.get(&raw.trait_index);
    let look_up = |word: &str| -> Option<(usize, usize)> {
        words
            .and_then(|words| words.get(&word.trim().to_lowercase()).copied())
            .or_else(|| scale.position(word).map(|level| (level, level)))
    };
    if let Some(levels) = look_up(&said.value) {
        return Some(levels);
    }
    let ends = said.value.split_once("..");
    if let Some((low, high)) = ends
        && let (Some((low, _)), Some((_, high))) = (look_up(low), look_up(high))
    {
        if low > high {
            faults.push(Diagnostic::span_reversed(&said.place, &said.value));
            return None;
        }
        return Some((low, high));
    }
    if source.is_read {
        let unknown = match ends {
            Some((low, high)) => [low, high].into_iter().find(|end| look_up(end).is_none()),
            None => None,
        };
        let valid = words
            .into_iter()
            .flat_map(|words| words.keys().map(String::as_str))
            .chain(scale.levels.iter().map(|level| level.id.as_str()));
        faults.push(Diagnostic::unknown_word(
            &said.place,
            unknown.unwrap_or(&said.value).trim(),
            &source.id,
            &guide.traits[raw.trait_index].id,
            valid,
        ));
    }
    None
}

/// r = ln 2 / T, from a doubling time in days.
fn rate(doubling_days: f64) -> f64 {
    LN_2 / doubling_days
}

/// A growth claim as a relative growth rate r (d⁻¹) with its standard error.
///
/// Source: Hunt 1982, Plant Growth Curves; OECD Test Guideline 221 ("average specific growth
/// rate"): r = (ln size₂ − ln size₁) / (t₂ − t₁). Not opened; as the format cites them.
fn growth_value(
    raw: &RawClaim,
    on: &ScaleTrait,
    guide: &Guide,
    faults: &mut Vec<Diagnostic>,
) -> Option<(Vec<f64>, Option<Measured>)> {
    let error = guide.weights.measurement_error;
    let default = |r: f64| Spread::Normal((error * r.abs()).max(on.floor));
    let of = raw.of.map_or("unstated", SizeMeasure::id);
    let key =
        |size: &Quantity| SizeMeasure::of(size.unit.dimension).map_or("unstated", SizeMeasure::id);
    let (r, spread, key, own_s) = match &raw.value {
        RawValue::Rgr(r) => (
            *r,
            raw.se.map_or_else(|| default(*r), Spread::Normal),
            of,
            raw.se,
        ),
        RawValue::DoublesIn(time) => {
            let r = rate(time.base());
            (r, default(r), of, None)
        }
        RawValue::Grew { from, to, over } => {
            let r = (to.base().ln() - from.base().ln()) / over.base();
            (r, default(r), key(from), None)
        }
        RawValue::Trimmed { every, leaving } => {
            let r = -leaving.ln() / every.base();
            (r, default(r), of, None)
        }
        RawValue::Series(points) => {
            let sizes: Vec<(f64, f64)> = points
                .iter()
                .map(|(day, size)| (*day, size.base()))
                .collect();
            let (r, se) = mass::slope(&sizes);
            let key = points.first().map_or("unstated", |(_, size)| key(size));
            match se {
                Some(se) => {
                    let s = se.max(on.floor);
                    (
                        r,
                        Spread::StudentT(s, points.len() as f64 - 2.0),
                        key,
                        Some(s),
                    )
                }
                None => (r, default(r), key, None),
            }
        }
        RawValue::Says(_) | RawValue::Measures(_) => {
            faults.push(wrong_form(
                raw,
                guide,
                "`says`, `rgr`, `doubles-in`, `grew`, `trimmed` or `series`",
            ));
            return None;
        }
    };
    if let Some(bound) = raw.bound {
        return Some((bounded(on, r, bound), None));
    }
    Some((
        mass::measured(&on.edges, r, spread),
        Some(Measured { key, y: r, own_s }),
    ))
}

/// Mass of a bound: evenly from the level that holds the value to the open end of the scale; on
/// a need, all on the lower end.
fn bounded(on: &ScaleTrait, value: f64, bound: ValueBound) -> Vec<f64> {
    let level = mass::level_of(&on.edges, value);
    let (low, high) = match bound {
        ValueBound::AtLeast => (level, on.levels - 1),
        ValueBound::AtMost => (0, level),
    };
    mass::spread(on.levels, low, if on.is_need { low } else { high })
}

fn plain_value(
    raw: &RawClaim,
    on: &ScaleTrait,
    measure: Measure,
    guide: &Guide,
    faults: &mut Vec<Diagnostic>,
) -> Option<(Vec<f64>, Option<Measured>)> {
    let RawValue::Measures(span) = &raw.value else {
        faults.push(wrong_form(raw, guide, "`says` or `measures`"));
        return None;
    };
    if !right_dimension(raw, span, measure, faults) {
        return None;
    }
    let edges_unit = on.unit.unwrap_or(span.unit);
    if measure == Measure::Hardness && !crate::content::fits_hardness(&edges_unit, &span.unit) {
        let id = &guide.traits[raw.trait_index].id;
        faults.push(Diagnostic::mixed_hardness(
            &raw.value_place,
            id,
            edges_unit.name,
        ));
        return None;
    }
    let own = |value: f64| crate::content::own_value(measure, &edges_unit, value, &span.unit);
    let (low, high) = match (span.low, span.high) {
        (Some(low), Some(high)) => (own(low), own(high)),
        (Some(low), None) => return Some((bounded(on, own(low), ValueBound::AtLeast), None)),
        (None, Some(high)) => return Some((bounded(on, own(high), ValueBound::AtMost), None)),
        (None, None) => return None,
    };
    if !span.is_single {
        let mass = if on.is_need || high - low < mass::NO_ERROR {
            mass::point(on.levels, mass::level_of(&on.edges, low))
        } else {
            mass::uniform(&on.edges, low, high)
        };
        return Some((mass, None));
    }
    if let Some(bound) = raw.bound {
        return Some((bounded(on, low, bound), None));
    }
    // A standard error is a difference: the offset of a unit drops out.
    let own_s = raw.se.map(|se| (own(se) - own(0.0)).abs());
    let s = own_s.unwrap_or_else(|| (guide.weights.measurement_error * low.abs()).max(on.floor));
    Some((
        mass::measured(&on.edges, low, Spread::Normal(s)),
        Some(Measured {
            key: "value",
            y: low,
            own_s,
        }),
    ))
}

/// A unit in print.
pub fn shown_unit(unit: &Unit) -> &'static str {
    match (unit.name, unit.dimension) {
        ("C", _) => "°C",
        ("F", _) => "°F",
        ("umol/m2/s", _) => "µmol/m²/s",
        ("uS/cm", _) => "µS/cm",
        ("cm2", _) => "cm²",
        ("m2", _) => "m²",
        ("gal-us", _) => "US gal",
        ("gal-uk", _) => "UK gal",
        (name, _) => name,
    }
}

/// The base unit of a unit's dimension in print.
pub fn shown_base_unit(unit: &Unit) -> &'static str {
    match unit.dimension {
        Dimension::Temperature => "°C",
        Dimension::Length => "cm",
        Dimension::Mass => "g",
        Dimension::Area => "cm²",
        Dimension::Time => "days",
        Dimension::Volume => "l",
        Dimension::Light => "µmol/m²/s",
        Dimension::GeneralHardness => "dGH",
        Dimension::CarbonateHardness => "dKH",
        Dimension::Concentration => "degrees",
        Dimension::Conductivity => "µS/cm",
        Dimension::Percent => "%",
        Dimension::Count => "",
    }
}

/// The unit of a measure's base values, with the blank before it; empty for bare numbers.
pub fn unit_of(measure: Measure) -> &'static str {
    match measure {
        Measure::RelativeGrowthRate => " a day",
        Measure::Length => " cm",
        Measure::Mass => " g",
        Measure::Light => " µmol/m²/s",
        Measure::Temperature => " °C",
        Measure::Hardness => " degrees",
        Measure::Conductivity => " µS/cm",
        Measure::Share => " %",
        Measure::Count => "",
    }
}

/// A quantity in print.
pub fn shown(quantity: &Quantity) -> String {
    format!("{} {}", decimals(quantity.value, 4), shown_time(quantity))
}

fn shown_time(quantity: &Quantity) -> String {
    if quantity.unit.dimension != Dimension::Time {
        return shown_unit(&quantity.unit).to_owned();
    }
    let is_one = (quantity.value - 1.0).abs() < 1e-9;
    let word = match quantity.unit.name {
        "h" | "hour" | "hours" => "hour",
        "d" | "day" | "days" => "day",
        "week" | "weeks" => "week",
        "month" | "months" => "month",
        _ => "year",
    };
    if is_one {
        word.to_owned()
    } else {
        format!("{word}s")
    }
}

/// A span in print.
pub fn shown_span(span: &Span) -> String {
    let unit = shown_unit(&span.unit);
    match (span.low, span.high) {
        (Some(low), Some(_)) if span.is_single => format!("{} {unit}", decimals(low, 4)),
        (Some(low), Some(high)) => format!("{} to {} {unit}", decimals(low, 4), decimals(high, 4)),
        (Some(low), None) => format!("{} {unit} or more", decimals(low, 4)),
        (None, Some(high)) => format!("{} {unit} or less", decimals(high, 4)),
        (None, None) => unit.to_owned(),
    }
}

/// What a claim says, in words that stand after a colon.
pub(crate) fn words(raw: &RawClaim, guide: &Guide) -> String {
    let bound = match raw.bound {
        Some(ValueBound::AtLeast) => "at least ",
        Some(ValueBound::AtMost) => "at most ",
        None => "",
    };
    let per_day = |r: f64| format!("{} a day", significant(r, 3));
    let error = raw
        .se
        .map_or_else(String::new, |se| format!(" ± {}", significant(se, 2)));
    match &raw.value {
        RawValue::Says(said) => {
            let scale = match &guide.traits[raw.trait_index].kind {
                TraitKind::Scale(on) => Some(&guide.scales[on.scale]),
                TraitKind::Span(_) => None,
            };
            let is_level = scale.is_some_and(|scale| scale.position(&said.value).is_some());
            if is_level {
                said.value.trim().replace('-', " ")
            } else {
                format!("“{}”", said.value.trim().replace("..", " to "))
            }
        }
        RawValue::Rgr(r) => format!("{bound}relative growth rate {}{error}", per_day(*r)),
        RawValue::DoublesIn(time) => match raw.bound {
            // The bound speaks of the rate: at least this fast is at most this long.
            Some(ValueBound::AtLeast) => format!("doubles in {} or less", shown(time)),
            Some(ValueBound::AtMost) => format!("doubles in {} or more", shown(time)),
            None => format!("doubles in {}", shown(time)),
        },
        RawValue::Grew { from, to, over } => {
            format!(
                "{bound}from {} to {} in {}",
                shown(from),
                shown(to),
                shown(over)
            )
        }
        RawValue::Trimmed { every, leaving } => format!(
            "{bound}cut back to {} % every {}",
            decimals(leaving * 100.0, 1),
            shown(every)
        ),
        RawValue::Series(points) => {
            let (first, last) = (points.first(), points.last());
            match (first, last) {
                (Some((from, a)), Some((to, b))) => format!(
                    "{bound}{} readings over {} days, from {} to {}",
                    points.len(),
                    decimals((to - from).abs(), 0),
                    shown(a),
                    shown(b)
                ),
                _ => String::new(),
            }
        }
        RawValue::Measures(span) => format!("{bound}{}{error}", shown_span(span)),
    }
}
