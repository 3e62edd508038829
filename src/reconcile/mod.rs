//! How the evidence weighs: grades of every trait of every plant, from claims alone.
//!
//! Knows nothing of roles, pages or files; a statistician can read it by itself.

pub mod voice;

pub mod grade;

pub mod pool;

pub mod factor;

pub mod span;

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::claims::{Claim, Claims, Value};
use crate::content::{ConditionKind, ConditionValue, Guide, Measure, ScaleTrait, Trait, TraitKind};
use crate::names::{Names, PlantId};
use crate::reconcile::factor::{Share, Unit, share};
use crate::reconcile::grade::{Agreement, Grade, grade, mean};
use crate::reconcile::pool::{Pooled, pooled, t_975};
use crate::reconcile::span::{SpanGrade, span_grade};
use crate::reconcile::voice::{
    Heard, Kinds, Loose, Voice, Voices, counted, gathered, heard, weight,
};

/// Every grade of a guide.
#[derive(Debug, Clone)]
pub struct Reconciled {
    /// Voices of the guide.
    pub voices: Voices,
    /// Grades of each plant.
    pub plants: Vec<PlantGrades>,
    /// For each genus, by trait, what its loose name hides.
    pub groups: Vec<BTreeMap<usize, Group>>,
    /// For each source, by trait, how it runs against the others.
    pub runs: Vec<BTreeMap<usize, Run>>,
}

/// The grades of one plant.
#[derive(Debug, Clone)]
pub struct PlantGrades {
    /// By trait, for every trait somebody has spoken on.
    pub traits: BTreeMap<usize, TraitGrade>,
    /// For each water, by trait on a scale, the grade there.
    pub in_water: Vec<BTreeMap<usize, Grade>>,
}

/// The grade of one trait, without water.
#[derive(Debug, Clone)]
pub struct TraitGrade {
    /// Every claim on it, with its voice and, if weighed, its weight.
    pub claims: Vec<WeighedClaim>,
    /// The voices that take part.
    pub voices: Vec<Voice>,
    /// What they come to.
    pub outcome: Outcome,
}

/// One claim with its voice and weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeighedClaim {
    /// Index in [`Claims::all`].
    pub id: usize,
    /// Voice.
    pub voice: usize,
    /// Weight without water; `None` where the claim is merely shown.
    pub weight: Option<f64>,
}

/// What the voices on a trait come to.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// On a scale.
    Scale {
        /// The grade.
        grade: Grade,
        /// Pooled measurements by size measure.
        measured: BTreeMap<&'static str, Pooled>,
        /// What the difference goes with.
        goes_with: Vec<Factor>,
    },
    /// A span.
    Span(SpanGrade),
}

/// A circumstance that a difference may go with.
#[derive(Debug, Clone)]
pub struct Factor {
    /// Condition id, or `name`, or `kind`.
    pub id: String,
    /// Share and p.
    pub share: Share,
    /// Its groups: label, and the voices in it.
    pub groups: Vec<(String, Vec<usize>)>,
}

/// What a loose name hides on one trait.
#[derive(Debug, Clone)]
pub struct Group {
    /// How much of the difference the full name takes up.
    pub share: Option<Share>,
    /// Level of each plant with a non-loose claim of weight above 0, its weight, its voices.
    pub levels: BTreeMap<PlantId, (usize, f64, Vec<Voice>)>,
    /// The name hides different plants.
    pub is_misleading: bool,
}

/// How a source runs against the others on one trait.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Number of plants.
    pub n: usize,
    /// Mean difference in levels.
    pub mean: f64,
    /// 95 % t interval; `None` for one plant.
    pub ci: Option<(f64, f64)>,
}

/// What a claim says on a scale; empty for spans.
pub fn mass_of(claim: &Claim) -> Vec<f64> {
    match &claim.value {
        Value::Mass(mass) => mass.clone(),
        Value::Span { .. } => Vec::new(),
    }
}

/// The two ends of what a claim says; empty for masses.
pub fn ends_of(claim: &Claim) -> Vec<f64> {
    match claim.value {
        Value::Span { low, high } => vec![low, high],
        Value::Mass(_) => Vec::new(),
    }
}

/// Weighs every claim of a guide.
pub fn reconcile(guide: &Guide, names: &Names, claims: &Claims) -> Reconciled {
    let voices = Voices::of(guide);
    let plants: Vec<PlantGrades> = (0..names.plants.len())
        .into_par_iter()
        .map(|plant| plant_grades(plant, guide, names, claims, &voices))
        .collect();
    let groups = (0..guide.genera.len())
        .into_par_iter()
        .map(|genus| groups(genus, guide, names, claims, &voices))
        .collect();
    let differences: Vec<Vec<Difference>> = plants
        .iter()
        .map(|plant| differences(plant, claims))
        .collect();
    let sources: Vec<usize> = (0..guide.sources.len()).collect();
    let runs = runs_of(&sources, &differences, sources.len());
    Reconciled {
        voices,
        plants,
        groups,
        runs,
    }
}

/// Every grade of one plant.
pub(crate) fn plant_grades(
    plant: PlantId,
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    voices: &Voices,
) -> PlantGrades {
    let mut traits = BTreeMap::new();
    let mut in_water = vec![BTreeMap::new(); guide.waters.len()];
    for (trait_index, ids) in &claims.of_plant[plant] {
        let of = &guide.traits[*trait_index];
        let policy = &guide.weights;
        let heard = heard(ids, claims, voices, Loose::Heard);
        let weighed = heard
            .iter()
            .map(|one| WeighedClaim {
                id: one.id,
                voice: one.voice,
                weight: one
                    .is_weighed()
                    .then(|| weight(one.claim, of, policy, Kinds::AsWeighed, None)),
            })
            .collect();
        let (taking_part, outcome) = match &of.kind {
            TraitKind::Scale(on) => {
                let gathered_here = |water: Option<&BTreeMap<usize, ConditionValue>>| {
                    let all = gathered(&heard, of, policy, Kinds::AsWeighed, water, &mass_of);
                    counted(&all, policy, None)
                };
                let taking_part = gathered_here(None);
                let overall = grade(&taking_part, on.levels, policy);
                for (water, grades) in guide.waters.iter().zip(&mut in_water) {
                    let here = gathered_here(Some(&water.conditions));
                    grades.insert(*trait_index, grade(&here, on.levels, policy));
                }
                let goes_with = if overall.agreement == Agreement::High {
                    Vec::new()
                } else {
                    let seed = format!("{}/{}", names.plants[plant].slug, of.id);
                    goes_with(&heard, &taking_part, of, on, guide, &seed)
                };
                let is_growth = on.measure == Some(Measure::RelativeGrowthRate);
                let measured = pooled(&heard, of, on, policy, is_growth);
                (
                    taking_part,
                    Outcome::Scale {
                        grade: overall,
                        measured,
                        goes_with,
                    },
                )
            }
            TraitKind::Span(_) => {
                let all = gathered(&heard, of, policy, Kinds::AsWeighed, None, &ends_of);
                let taking_part = counted(&all, policy, None);
                let outcome = Outcome::Span(span_grade(&taking_part, policy));
                (taking_part, outcome)
            }
        };
        traits.insert(
            *trait_index,
            TraitGrade {
                claims: weighed,
                voices: taking_part,
                outcome,
            },
        );
    }
    PlantGrades { traits, in_water }
}

/// Factors of one plant's trait: each condition that claims state, then the name, then the kind.
fn goes_with(
    heard: &[Heard<'_>],
    voices: &[Voice],
    of: &Trait,
    on: &ScaleTrait,
    guide: &Guide,
    seed: &str,
) -> Vec<Factor> {
    let mut out = Vec::new();
    // The claims of a voice that take part.
    let of_voice = |voice: usize| {
        heard.iter().filter(move |one| {
            one.voice == voice
                && weight(one.claim, of, &guide.weights, Kinds::AsWeighed, None) > 0.0
        })
    };
    let mut add = |id: &str, equal_weights: bool, label: &dyn Fn(&Claim) -> Option<String>| {
        let mut groups: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        let mut labelled: Vec<(&Voice, String)> = Vec::new();
        for voice in voices {
            let mut labels = of_voice(voice.id).map(|one| label(one.claim));
            let Some(Some(first)) = labels.next() else {
                continue;
            };
            if labels.all(|other| other.as_deref() == Some(first.as_str())) {
                groups.entry(first.clone()).or_default().push(voice.id);
                labelled.push((voice, first));
            }
        }
        let order: Vec<&String> = groups.keys().collect();
        let units: Vec<Unit> = labelled
            .iter()
            .map(|(voice, label)| Unit {
                position: voice.position(),
                weight: if equal_weights { 1.0 } else { voice.weight },
                group: order.iter().position(|l| *l == label).unwrap_or(0),
            })
            .collect();
        if let Some(share) = share(&units, on.levels, &format!("{seed}/{id}")) {
            out.push(Factor {
                id: id.to_owned(),
                share,
                groups: groups.into_iter().collect(),
            });
        }
    };
    for (index, condition) in guide.conditions.iter().enumerate() {
        add(&condition.id, false, &|claim| {
            claim
                .stated
                .get(&index)
                .map(|value| shown_condition(value, &condition.kind, guide))
        });
    }
    add("name", true, &|claim| {
        Some(
            if claim.is_loose {
                "loose name"
            } else {
                "full name"
            }
            .to_owned(),
        )
    });
    add("kind", true, &|claim| Some(claim.kind.clone()));
    out
}

/// A value of a condition in print.
pub fn shown_condition(value: &ConditionValue, kind: &ConditionKind, guide: &Guide) -> String {
    match (value, kind) {
        (ConditionValue::Level(level), ConditionKind::Scale(scale)) => {
            guide.scales[*scale].levels[*level].id.clone()
        }
        (ConditionValue::Word(word), _) => word.clone(),
        (ConditionValue::Span { low, high }, ConditionKind::Span(unit)) => {
            let shown = |base: f64| crate::quantity::decimals(base, 1);
            let unit = crate::claims::shown_base_unit(unit);
            if (high - low).abs() < 1e-9 {
                format!("{} {unit}", shown(*low))
            } else {
                format!("{} to {} {unit}", shown(*low), shown(*high))
            }
        }
        _ => String::new(),
    }
}

/// What the loose name of a genus hides, by trait on a scale.
pub(crate) fn groups(
    genus: usize,
    guide: &Guide,
    names: &Names,
    claims: &Claims,
    voices: &Voices,
) -> BTreeMap<usize, Group> {
    let mut out = BTreeMap::new();
    let plants = names.of_genus(genus);
    for (trait_index, of) in guide.traits.iter().enumerate() {
        let TraitKind::Scale(on) = &of.kind else {
            continue;
        };
        let mut levels = BTreeMap::new();
        let mut units = Vec::new();
        for (group, plant) in plants.iter().enumerate() {
            let Some(ids) = claims.of_plant[*plant].get(&trait_index) else {
                continue;
            };
            let heard = heard(ids, claims, voices, Loose::LeftOut);
            let all = gathered(&heard, of, &guide.weights, Kinds::AsWeighed, None, &mass_of);
            let taking_part = counted(&all, &guide.weights, None);
            let grade = grade(&taking_part, on.levels, &guide.weights);
            let Some(level) = grade.level else {
                continue;
            };
            units.extend(taking_part.iter().map(|voice| Unit {
                position: voice.position(),
                weight: voice.weight,
                group,
            }));
            levels.insert(*plant, (level, grade.weight, taking_part));
        }
        if levels.is_empty() {
            continue;
        }
        let seed = format!("{}/{}", guide.genera[genus].folder, of.id);
        let share = share(&units, on.levels, &seed);
        let firm: Vec<usize> = levels
            .values()
            .filter(|(_, weight, _)| *weight >= 1.0 - 1e-9)
            .map(|(level, _, _)| *level)
            .collect();
        let is_wide = match (firm.iter().min(), firm.iter().max()) {
            (Some(low), Some(high)) => high - low >= (on.levels - 1).min(2),
            _ => false,
        };
        out.insert(
            trait_index,
            Group {
                is_misleading: is_wide || share.is_some_and(|share| share.is_notable()),
                share,
                levels,
            },
        );
    }
    out
}

/// Of one source on one trait of a plant: its position less that of the other voices.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Difference {
    pub(crate) source: usize,
    trait_index: usize,
    levels: f64,
}

/// What each source's position on a plant differs by from that of the other voices.
pub(crate) fn differences(plant: &PlantGrades, claims: &Claims) -> Vec<Difference> {
    let mut out = Vec::new();
    for (trait_index, graded) in &plant.traits {
        if !matches!(graded.outcome, Outcome::Scale { .. }) {
            continue;
        }
        // By source: its voice here, and Σ w, Σ w · position of its own claims.
        let mut own: BTreeMap<usize, (usize, f64, f64)> = BTreeMap::new();
        for one in &graded.claims {
            let claim = &claims.all[one.id];
            let weight = one.weight.unwrap_or(0.0);
            if claim.is_loose || claim.repeats.is_some() || weight <= 0.0 {
                continue;
            }
            let position: f64 = mass_of(claim)
                .iter()
                .enumerate()
                .map(|(k, m)| k as f64 * m)
                .sum();
            let sums = own.entry(claim.source).or_insert((one.voice, 0.0, 0.0));
            sums.1 += weight;
            sums.2 += weight * position;
        }
        for (source, (voice, weight, weighted)) in own {
            let others: Vec<&Voice> = graded.voices.iter().filter(|v| v.id != voice).collect();
            if others.len() < 2 {
                continue;
            }
            let positions: Vec<f64> = others.iter().map(|v| v.position()).collect();
            let weights: Vec<f64> = others.iter().map(|v| v.weight).collect();
            if let Some(other) = mean(&positions, &weights) {
                out.push(Difference {
                    source,
                    trait_index: *trait_index,
                    levels: weighted / weight - other,
                });
            }
        }
    }
    out
}

/// How these sources run: over plants, the mean of the position less that of the other voices.
///
/// 95 % interval mean ± t(n−1) · s / √n. Shown, never fed back into the weights.
pub(crate) fn runs_of(
    sources: &[usize],
    differences: &[Vec<Difference>],
    n_sources: usize,
) -> Vec<BTreeMap<usize, Run>> {
    let mut at = vec![None; n_sources];
    for (place, source) in sources.iter().enumerate() {
        at[*source] = Some(place);
    }
    let mut found: Vec<BTreeMap<usize, Vec<f64>>> = vec![BTreeMap::new(); sources.len()];
    for one in differences.iter().flatten() {
        if let Some(place) = at[one.source] {
            let of_trait = found[place].entry(one.trait_index).or_default();
            of_trait.push(one.levels);
        }
    }
    found
        .into_iter()
        .map(|by_trait| by_trait.into_iter().map(|(t, d)| (t, run(&d))).collect())
        .collect()
}

fn run(differences: &[f64]) -> Run {
    let n = differences.len();
    let mean = differences.iter().sum::<f64>() / n as f64;
    let ci = (n >= 2).then(|| {
        let variance =
            differences.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n as f64 - 1.0);
        let half = t_975(n as f64 - 1.0) * (variance / n as f64).sqrt();
        (mean - half, mean + half)
    });
    Run { n, mean, ci }
}
