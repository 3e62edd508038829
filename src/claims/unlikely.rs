//! Figures that hardly any water or plant can have: a wrong unit, or a slipped decimal point.
//!
//! Knows nothing of other claims; `misprint` holds those against each other.

use crate::claims::Measured;
use crate::claims::value::unit_of;
use crate::content::{
    ConditionKind, ConditionValue, Guide, Measure, RawClaim, RawValue, TraitKind, base_value, day,
};
use crate::diagnostic::{Diagnostic, Place, counted};
use crate::quantity::{Dimension, days_in_words, significant};

/// The most that is likely, in the base unit of a measure, and what is known to occur.
///
/// Wide on purpose. The rate is from Sree et al. 2015 (`tests/reference/growth_rates.csv`), the
/// figures of sun and sea are from memory, the others are common practice, no source.
fn most(measure: Measure) -> Option<(f64, &'static str)> {
    Some(match measure {
        Measure::RelativeGrowthRate => (1.0, "the fastest duckweed known grows 0.57 a day"),
        Measure::Temperature => (45.0, "water plants die well below 45 °C"),
        Measure::Light => (2500.0, "the midday sun gives about 2000 µmol/m²/s"),
        Measure::Hardness => (100.0, "very hard water has about 30 degrees"),
        Measure::Conductivity => (60_000.0, "sea water has about 53,000 µS/cm"),
        Measure::Length => (2000.0, "few water plants are longer than 6 m"),
        Measure::Share => (100.0, "the whole is 100 %"),
        Measure::Mass | Measure::Count => return None,
    })
}

/// The first of some values that is unlikely, and why.
fn unlikely_one(measure: Measure, values: &[f64]) -> Option<(f64, &'static str)> {
    let has_negative = matches!(measure, Measure::RelativeGrowthRate | Measure::Temperature);
    let below = values.iter().find(|value| !has_negative && **value < 0.0);
    if let Some(value) = below {
        return Some((*value, "there is no less than nothing of it"));
    }
    let (most, known) = most(measure)?;
    let above = values.iter().find(|value| **value > most)?;
    Some((*above, known))
}

/// What a condition in a unit measures; `None` where any figure may be right.
fn measure_of(dimension: Dimension) -> Option<Measure> {
    match dimension {
        Dimension::Temperature => Some(Measure::Temperature),
        Dimension::Light => Some(Measure::Light),
        Dimension::GeneralHardness | Dimension::CarbonateHardness => Some(Measure::Hardness),
        Dimension::Conductivity => Some(Measure::Conductivity),
        Dimension::Percent => Some(Measure::Share),
        _ => None,
    }
}

/// Warns of a claim's value, and of what it states of its water, where they are unlikely.
///
/// A claim that was set aside needs no second warning.
pub(crate) fn unlikely(
    raw: &RawClaim,
    measured: Option<&Measured>,
    guide: &Guide,
) -> Vec<Diagnostic> {
    if raw.set_aside.is_some() {
        return Vec::new();
    }
    let mut figures: Vec<(&Place, Measure, Vec<f64>)> = Vec::new();
    let measure = match &guide.traits[raw.trait_index].kind {
        TraitKind::Span(measure) => Some(*measure),
        TraitKind::Scale(on) => on.measure,
    };
    let values = match &raw.value {
        RawValue::Measures(span) => {
            let ends = [span.low, span.high].into_iter().flatten();
            ends.map(|end| base_value(end, &span.unit)).collect()
        }
        _ => measured.iter().map(|measured| measured.y).collect(),
    };
    figures.extend(measure.map(|measure| (&raw.value_place, measure, values)));
    for (condition, stated) in &raw.stated {
        if let ConditionKind::Span(unit) = &guide.conditions[*condition].kind
            && let ConditionValue::Span { low, high } = stated
            && let Some(measure) = measure_of(unit.dimension)
        {
            figures.push((&raw.place, measure, vec![*low, *high]));
        }
    }
    let mut faults: Vec<Diagnostic> = short_period(raw).into_iter().collect();
    let warn = |(place, measure, values): (&Place, Measure, Vec<f64>)| {
        let (value, known) = unlikely_one(measure, &values)?;
        let found = format!("{}{}", significant(value, 3), unit_of(measure));
        Some(Diagnostic::unlikely_value(place, &found, known))
    };
    faults.extend(figures.into_iter().filter_map(warn));
    faults
}

/// How many times the days in which it was seen the days of growth may be, beside the two ends.
///
/// Our choice: a month is 28 to 31 days, and a keeper who says six weeks may have counted forty.
const LONGER: f64 = 1.25;

/// Warns where growth took longer than the period in which it was seen.
fn short_period(raw: &RawClaim) -> Option<Diagnostic> {
    let RawValue::Grew { over, .. } = &raw.value else {
        return None;
    };
    let (from, to) = raw.seen.as_deref()?.split_once('/')?;
    let days = day(from)?.until(day(to)?).ok()?.get_days();
    let over = over.base();
    let is_longer = over > LONGER * f64::from(days) + 2.0;
    is_longer.then(|| {
        Diagnostic::short_period(
            &raw.value_place,
            &days_in_words(over),
            &counted(usize::try_from(days).unwrap_or_default(), "day", "days"),
        )
    })
}
