//! Figures of one source that can hardly both be right: a growth rate beside a doubling time, and
//! one rate far from another.
//!
//! Knows nothing of other sources: that they disagree is what a guide is about.

use crate::claims::{Claim, Claims, Fate};
use crate::content::{Guide, Measure, RawClaim, RawValue, ScaleTrait, TraitKind};
use crate::diagnostic::Diagnostic;
use crate::names::PlantId;
use crate::quantity::significant;

/// How many times one rate of a source may be another, like for like.
///
/// Our choice: a slipped decimal point makes ten, and two honest rates of one plant in one trial,
/// with and without sediment or ammonium, were 1.8 and 1.6 apart (Knauer et al. 2006; Jampeetong &
/// Brix 2009; the files in `tests/reference/` have both).
const FAR: f64 = 3.0;

/// Half-width of a 95 % interval in standard errors.
const HALF_WIDTH: f64 = 1.959_964;

/// A measured growth claim on one plant.
struct Figure<'a> {
    claim: &'a Claim,
    raw: &'a RawClaim,
    key: &'static str,
    /// Rate, d⁻¹.
    r: f64,
    /// Its standard error: its own, or the one that the guide takes for all others.
    s: f64,
}

/// Warns of pairs of growth figures that one source gives of one plant.
///
/// `raw` gives a claim as written, by its place in `claims.all`. Claims that are only shown,
/// bounds and claims under a loose name take no part.
pub(crate) fn misprints<'a>(
    plant: PlantId,
    guide: &Guide,
    claims: &'a Claims,
    raw: &dyn Fn(usize) -> &'a RawClaim,
) -> Vec<Diagnostic> {
    let mut faults = Vec::new();
    for (trait_index, ids) in &claims.of_plant[plant] {
        let TraitKind::Scale(on) = &guide.traits[*trait_index].kind else {
            continue;
        };
        if on.measure != Some(Measure::RelativeGrowthRate) {
            continue;
        }
        let depends_on = &guide.traits[*trait_index].depends_on;
        let figures: Vec<Figure> = ids
            .iter()
            .filter_map(|id| figure(&claims.all[*id], raw(*id), on, guide))
            .collect();
        let mut told = vec![false; figures.len()];
        unlike_times(&figures, on, guide, &mut told, &mut faults);
        far_rates(&figures, depends_on, guide, &mut told, &mut faults);
    }
    faults
}

fn figure<'a>(
    claim: &'a Claim,
    raw: &'a RawClaim,
    on: &ScaleTrait,
    guide: &Guide,
) -> Option<Figure<'a>> {
    let measured = claim.measured.as_ref()?;
    if claim.is_loose || claim.fate != Fate::Weighed {
        return None;
    }
    Some(Figure {
        claim,
        raw,
        key: measured.key,
        r: measured.y,
        s: measured
            .own_s
            .unwrap_or_else(|| expected_error(measured.y, on, guide)),
    })
}

/// The standard error of a rate that states none.
fn expected_error(r: f64, on: &ScaleTrait, guide: &Guide) -> f64 {
    (guide.weights.measurement_error * r.abs()).max(on.floor)
}

/// Whether two claims are one source's, of one size measure, seen at one place and time under one
/// name: the same but for the conditions.
fn is_alike(a: &Figure, b: &Figure) -> bool {
    let name = |figure: &Figure| {
        let name = figure.raw.used_name.as_ref();
        name.map(|name| name.value.trim().to_lowercase())
    };
    a.claim.source == b.claim.source
        && a.key == b.key
        && a.claim.kind == b.claim.kind
        && a.claim.repeats == b.claim.repeats
        && a.claim.seen == b.claim.seen
        && a.claim.tank == b.claim.tank
        && name(a) == name(b)
}

/// A doubling time and a rate in the same circumstances are one figure said twice.
///
/// Each doubling time T is held against the nearest rate r: ln 2 / T may be off by the error of a
/// measurement, `measurement-error` × the larger of the two, or `floor`.
fn unlike_times(
    figures: &[Figure],
    on: &ScaleTrait,
    guide: &Guide,
    told: &mut [bool],
    faults: &mut Vec<Diagnostic>,
) {
    let is_time = |figure: &Figure| matches!(figure.raw.value, RawValue::DoublesIn(_));
    let is_rate = |figure: &Figure| matches!(figure.raw.value, RawValue::Rgr(_));
    for (at, time) in figures.iter().enumerate().filter(|(_, f)| is_time(f)) {
        let nearest = figures
            .iter()
            .enumerate()
            .filter(|(_, rate)| {
                is_rate(rate) && is_alike(time, rate) && time.claim.stated == rate.claim.stated
            })
            .min_by(|(_, a), (_, b)| (a.r - time.r).abs().total_cmp(&(b.r - time.r).abs()));
        let Some((other, rate)) = nearest else {
            continue;
        };
        let allowed = expected_error(time.r.abs().max(rate.r.abs()), on, guide);
        if (time.r - rate.r).abs() > allowed {
            told[at] = true;
            told[other] = true;
            faults.push(Diagnostic::unlike_time(
                &time.raw.value_place,
                &guide.sources[time.claim.source].id,
                &significant(time.r, 3),
                &significant(rate.r, 3),
                &rate.raw.value_place,
            ));
        }
    }
}

/// The ends of what one source measured, where no condition that the trait depends on differs.
fn far_rates(
    figures: &[Figure],
    depends_on: &[usize],
    guide: &Guide,
    told: &mut [bool],
    faults: &mut Vec<Diagnostic>,
) {
    let is_same = |a: &Figure, b: &Figure| {
        is_alike(a, b)
            && depends_on
                .iter()
                .all(|at| a.claim.stated.get(at) == b.claim.stated.get(at))
    };
    let mut seen = vec![false; figures.len()];
    for first in 0..figures.len() {
        if seen[first] {
            continue;
        }
        let mut group: Vec<usize> = (first..figures.len())
            .filter(|at| !seen[*at] && is_same(&figures[first], &figures[*at]))
            .collect();
        for at in &group {
            seen[*at] = true;
        }
        // A plant that stood still or shrank is no factor of one that grew.
        group.retain(|at| figures[*at].r > 0.0 && !told[*at]);
        group.sort_by(|a, b| figures[*a].r.total_cmp(&figures[*b].r));
        let (Some(low), Some(high)) = (group.first(), group.last()) else {
            continue;
        };
        let (low, high) = (&figures[*low], &figures[*high]);
        if high.r > FAR * low.r && high.r - low.r > HALF_WIDTH * high.s.hypot(low.s) {
            let (later, earlier) = if high.raw.value_place > low.raw.value_place {
                (high, low)
            } else {
                (low, high)
            };
            faults.push(Diagnostic::far_rate(
                &later.raw.value_place,
                &guide.sources[later.claim.source].id,
                &significant(later.r, 3),
                &significant(earlier.r, 3),
                &earlier.raw.value_place,
            ));
        }
    }
}
