//! Voices: who speaks for whom, and how much each weighs (§2 and §3 of the mathematics).

use std::collections::{BTreeMap, BTreeSet};

use crate::claims::mass::REACHED;
use crate::claims::{Claim, Claims, Fate};
use crate::content::{ConditionValue, Guide, Trait, Weights};

/// Who is behind each source of a guide.
#[derive(Debug, Clone)]
pub struct Voices {
    /// Ids of all voices, sorted; a voice is its place here.
    pub ids: Vec<String>,
    /// Voice of each source.
    pub of_source: Vec<usize>,
    /// Originals of each source, in the order in which they are asked.
    pub originals: Vec<Vec<usize>>,
}

impl Voices {
    /// Voices of a guide's sources.
    pub fn of(guide: &Guide) -> Voices {
        let id = |source: &crate::content::Source| {
            source.voice.clone().unwrap_or_else(|| source.id.clone())
        };
        let ids: BTreeSet<String> = guide.sources.iter().map(id).collect();
        let ids: Vec<String> = ids.into_iter().collect();
        let of_source = guide
            .sources
            .iter()
            .map(|source| ids.binary_search(&id(source)).unwrap_or(0))
            .collect();
        let repeats: Vec<&[usize]> = guide.sources.iter().map(|s| s.repeats.as_slice()).collect();
        Voices {
            of_source,
            originals: (0..guide.sources.len())
                .map(|at| originals(&repeats, at))
                .collect(),
            ids,
        }
    }
}

/// Originals of a source: itself if it repeats nothing; else, walking what it repeats depth first
/// in written order, each source met that repeats nothing; else the smallest on the walk that
/// stands on a ring.
///
/// Sources are sorted by id, so the smallest index is the smallest id.
pub fn originals(repeats: &[&[usize]], source: usize) -> Vec<usize> {
    let mut walk: Vec<usize> = Vec::new();
    let mut stack = vec![source];
    while let Some(at) = stack.pop() {
        if walk.contains(&at) {
            continue;
        }
        walk.push(at);
        stack.extend(repeats[at].iter().rev());
    }
    let ends: Vec<usize> = walk
        .iter()
        .copied()
        .filter(|at| repeats[*at].is_empty())
        .collect();
    if !ends.is_empty() {
        return ends;
    }
    walk.iter()
        .copied()
        .filter(|at| reaches(repeats, *at, *at))
        .min()
        .map_or_else(|| vec![source], |smallest| vec![smallest])
}

fn reaches(repeats: &[&[usize]], from: usize, to: usize) -> bool {
    let mut seen = BTreeSet::new();
    let mut stack: Vec<usize> = repeats[from].to_vec();
    while let Some(at) = stack.pop() {
        if at == to {
            return true;
        }
        if seen.insert(at) {
            stack.extend(repeats[at]);
        }
    }
    false
}

/// One claim as it is heard on a trait of a plant.
#[derive(Debug, Clone, Copy)]
pub struct Heard<'a> {
    /// Index of the claim in [`Claims::all`].
    pub id: usize,
    /// The claim.
    pub claim: &'a Claim,
    /// The voice it belongs to.
    pub voice: usize,
}

impl Heard<'_> {
    /// Whether the claim is weighed, and not merely shown.
    pub fn is_weighed(&self) -> bool {
        self.claim.fate == Fate::Weighed
    }
}

/// Which claims are heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loose {
    /// All of them.
    Heard,
    /// As if the loose ones were not there.
    LeftOut,
}

/// The claims on one trait of one plant, each with its voice.
///
/// A claim belongs to the voice of the first of its originals that speaks there: that has a
/// weighed claim on this trait of this plant without a `repeats` of its own; else of the first.
pub fn heard<'a>(
    ids: &[usize],
    claims: &'a Claims,
    voices: &Voices,
    loose: Loose,
) -> Vec<Heard<'a>> {
    let taken: Vec<usize> = ids
        .iter()
        .copied()
        .filter(|id| loose == Loose::Heard || !claims.all[*id].is_loose)
        .collect();
    let speakers: BTreeSet<usize> = taken
        .iter()
        .map(|id| &claims.all[*id])
        .filter(|claim| claim.fate == Fate::Weighed && claim.repeats.is_none())
        .map(|claim| claim.source)
        .collect();
    taken
        .into_iter()
        .map(|id| {
            let claim = &claims.all[id];
            let originals = &voices.originals[claim.repeats.unwrap_or(claim.source)];
            let original = originals
                .iter()
                .find(|source| speakers.contains(source))
                .unwrap_or(&originals[0]);
            Heard {
                id,
                claim,
                voice: voices.of_source[*original],
            }
        })
        .collect()
}

/// How kinds of source weigh.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kinds {
    /// As the policy says.
    AsWeighed,
    /// Every kind as one further note.
    Equal,
}

/// Weight of a claim: kind × loose × the factors of the conditions, the last only for a water.
///
/// Zero for a claim that is merely shown.
pub fn weight(
    claim: &Claim,
    of: &Trait,
    policy: &Weights,
    kinds: Kinds,
    water: Option<&BTreeMap<usize, ConditionValue>>,
) -> f64 {
    if claim.fate != Fate::Weighed {
        return 0.0;
    }
    let kind = match kinds {
        Kinds::AsWeighed => policy.kinds.get(&claim.kind).copied().unwrap_or(0.0),
        Kinds::Equal => policy.further_note,
    };
    let loose = if claim.is_loose {
        policy.loose_name
    } else {
        1.0
    };
    let Some(water) = water else {
        return kind * loose;
    };
    of.depends_on
        .iter()
        .fold(kind * loose, |weight, condition| {
            match water.get(condition) {
                Some(states) => {
                    weight * condition_factor(claim.stated.get(condition), states, policy)
                }
                None => weight,
            }
        })
}

/// Factor of one condition that the water states.
pub fn condition_factor(
    claim: Option<&ConditionValue>,
    water: &ConditionValue,
    policy: &Weights,
) -> f64 {
    match (claim, water) {
        (None, _) => policy.unstated,
        (Some(ConditionValue::Level(a)), ConditionValue::Level(b)) => {
            policy.per_step.powi(a.abs_diff(*b) as i32)
        }
        (Some(ConditionValue::Word(a)), ConditionValue::Word(b))
            if a.to_lowercase() == b.to_lowercase() =>
        {
            1.0
        }
        (
            Some(ConditionValue::Span {
                low: a_low,
                high: a_high,
            }),
            ConditionValue::Span {
                low: b_low,
                high: b_high,
            },
        ) if *a_low <= b_high + REACHED && *b_low <= a_high + REACHED => 1.0,
        _ => policy.mismatch,
    }
}

/// One independent witness on a trait of a plant.
#[derive(Debug, Clone, PartialEq)]
pub struct Voice {
    /// Place in [`Voices::ids`].
    pub id: usize,
    /// Its weight: the largest claim weight in it.
    pub weight: f64,
    /// Its weight without water and before the second-hand factor.
    pub base: f64,
    /// Whether every claim of it that takes part is of a second-hand kind.
    pub is_second_hand: bool,
    /// Weighted mean of what its claims say.
    pub mean: Vec<f64>,
}

impl Voice {
    /// Position on the scale: Σ k · m_k.
    pub fn position(&self) -> f64 {
        self.mean
            .iter()
            .enumerate()
            .map(|(k, m)| k as f64 * m)
            .sum()
    }
}

/// Voices before the second-hand factor, in order of id; those silent in the water weigh 0.
///
/// `says` gives what a claim says: a mass over levels, or any other list of numbers.
pub fn gathered(
    heard: &[Heard<'_>],
    of: &Trait,
    policy: &Weights,
    kinds: Kinds,
    water: Option<&BTreeMap<usize, ConditionValue>>,
    says: &dyn Fn(&Claim) -> Vec<f64>,
) -> Vec<Voice> {
    let mut by_voice: BTreeMap<usize, Vec<&Claim>> = BTreeMap::new();
    for one in heard {
        by_voice.entry(one.voice).or_default().push(one.claim);
    }
    by_voice
        .into_iter()
        .filter_map(|(id, claims)| {
            let mut voice = Voice {
                id,
                weight: 0.0,
                base: 0.0,
                is_second_hand: true,
                mean: Vec::new(),
            };
            let mut total = 0.0;
            for claim in claims {
                let base = weight(claim, of, policy, kinds, None);
                if base <= 0.0 {
                    continue;
                }
                voice.base = voice.base.max(base);
                voice.is_second_hand &= policy.second_hand.contains(&claim.kind);
                let here = match water {
                    Some(_) => weight(claim, of, policy, kinds, water),
                    None => base,
                };
                if here <= 0.0 {
                    continue;
                }
                voice.weight = voice.weight.max(here);
                total += here;
                let said = says(claim);
                voice.mean.resize(said.len(), 0.0);
                for (sum, part) in voice.mean.iter_mut().zip(&said) {
                    *sum += here * part;
                }
            }
            for part in &mut voice.mean {
                *part /= total;
            }
            (voice.base > 0.0).then_some(voice)
        })
        .collect()
}

/// Voices that take part, second-hand ones scaled together to at most the cap.
///
/// The factor min(1, cap ÷ Σ w_V) uses the weights without water, and is the same in every water.
/// `without` leaves a voice out, with what it weighs in the factor.
pub fn counted(voices: &[Voice], policy: &Weights, without: Option<usize>) -> Vec<Voice> {
    let present = || voices.iter().filter(|voice| Some(voice.id) != without);
    let second_hand: f64 = present()
        .filter(|voice| voice.is_second_hand)
        .map(|voice| voice.base)
        .sum();
    let factor = if second_hand > 0.0 {
        (policy.second_hand_cap / second_hand).min(1.0)
    } else {
        1.0
    };
    present()
        .filter(|voice| voice.weight > 0.0)
        .map(|voice| {
            let mut voice = voice.clone();
            if voice.is_second_hand {
                voice.weight *= factor;
            }
            voice
        })
        .filter(|voice| voice.weight > 0.0)
        .collect()
}
