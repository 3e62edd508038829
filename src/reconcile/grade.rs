//! The grade of a trait: level, spread, agreement, evidence, confidence (§4 of the mathematics).

use crate::claims::mass::REACHED;
use crate::content::Weights;
use crate::reconcile::voice::Voice;

/// How much there is to go on.
///
/// Source: the terms of Mastrandrea et al. 2010, IPCC guidance note on uncertainties, para 8,
/// read through public transcriptions. The thresholds are the guide's own policy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Evidence {
    /// Little.
    Limited,
    /// Some.
    Medium,
    /// Much.
    Robust,
}

/// How far the voices agree.
///
/// Source: as [`Evidence`]; `Untested`, for fewer than 1.5 effective voices, is ours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Agreement {
    /// Hardly more than one voice.
    Untested,
    /// They do not.
    Low,
    /// Roughly.
    Medium,
    /// They do.
    High,
}

/// How sure the guide is.
///
/// Source: the five terms of the guidance note, para 9. The table from evidence and agreement to
/// a term is ours: the note gives none, only that confidence rises with both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Confidence {
    /// Very low.
    VeryLow,
    /// Low.
    Low,
    /// Medium.
    Medium,
    /// High.
    High,
    /// Very high.
    VeryHigh,
}

impl Evidence {
    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Evidence::Limited => "limited",
            Evidence::Medium => "medium",
            Evidence::Robust => "robust",
        }
    }
}

impl Agreement {
    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Agreement::Untested => "untested",
            Agreement::Low => "low",
            Agreement::Medium => "medium",
            Agreement::High => "high",
        }
    }
}

impl Confidence {
    /// All, lowest first.
    pub const ALL: [Confidence; 5] = [
        Confidence::VeryLow,
        Confidence::Low,
        Confidence::Medium,
        Confidence::High,
        Confidence::VeryHigh,
    ];

    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Confidence::VeryLow => "very low",
            Confidence::Low => "low",
            Confidence::Medium => "medium",
            Confidence::High => "high",
            Confidence::VeryHigh => "very high",
        }
    }
}

/// The grade of a trait on a scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Grade {
    /// W: what all voices weigh together.
    pub weight: f64,
    /// Number of voices.
    pub voices: usize,
    /// Effective voices; `None` without a voice.
    pub effective_voices: Option<f64>,
    /// Mass over the levels; `None` without a voice.
    pub profile: Option<Vec<f64>>,
    /// Graded level; `None` without a voice.
    pub level: Option<usize>,
    /// Levels between which the voices lie; `None` without a voice.
    pub span: Option<(usize, usize)>,
    /// Weighted mean position: the balance point. `None` without a voice.
    pub mean: Option<f64>,
    /// Consensus, 0 to 1; `None` for fewer than two voices.
    pub consensus: Option<f64>,
    /// Good sources stand far apart.
    pub is_contested: bool,
    /// How much there is to go on.
    pub evidence: Evidence,
    /// How far the voices agree.
    pub agreement: Agreement,
    /// How sure the guide is.
    pub confidence: Confidence,
}

/// Grades a trait from its voices; `levels` is K.
pub fn grade(voices: &[Voice], levels: usize, policy: &Weights) -> Grade {
    let weights: Vec<f64> = voices.iter().map(|voice| voice.weight).collect();
    let positions: Vec<f64> = voices.iter().map(Voice::position).collect();
    let weight: f64 = weights.iter().sum();
    let effective_voices = kish(&weights);
    let profile = (!voices.is_empty()).then(|| {
        let mut profile = vec![0.0; levels];
        for voice in voices {
            for (sum, mass) in profile.iter_mut().zip(&voice.mean) {
                *sum += voice.weight * mass;
            }
        }
        profile
            .iter()
            .map(|mass| mass / weight)
            .collect::<Vec<f64>>()
    });
    let consensus = (voices.len() >= 2).then(|| consensus(&positions, &weights, levels));
    let is_contested = contested(&positions, &weights, levels);
    let agreement = if effective_voices.is_none_or(|n| n < 1.5 - REACHED) {
        Agreement::Untested
    } else if is_contested {
        Agreement::Low
    } else {
        agreement(consensus.unwrap_or(1.0), policy.agreement)
    };
    let evidence = evidence(weight, effective_voices.unwrap_or(0.0), policy);
    Grade {
        weight,
        voices: voices.len(),
        effective_voices,
        level: profile.as_deref().map(median_level),
        span: profile.as_deref().map(span),
        mean: mean(&positions, &weights),
        profile,
        consensus,
        is_contested,
        evidence,
        agreement,
        confidence: confidence(evidence, agreement, weight),
    }
}

/// Weighted mean; `None` for no weight.
pub fn mean(values: &[f64], weights: &[f64]) -> Option<f64> {
    let total: f64 = weights.iter().sum();
    (total > 0.0).then(|| values.iter().zip(weights).map(|(x, w)| x * w).sum::<f64>() / total)
}

/// Effective number of voices: W² / Σ w².
///
/// Between 1 and the number of positive weights, unchanged by scaling; `None` where all weights
/// are zero or there are none.
///
/// Source: Kish 1965, Survey Sampling (the effective sample size of unequal weights); vectors in
/// tests/reference/statistics.json (`kish.*`).
pub fn kish(weights: &[f64]) -> Option<f64> {
    let sum: f64 = weights.iter().sum();
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    (squares > 0.0).then(|| sum * sum / squares)
}

/// The first level whose cumulative mass reaches a half, within 1e-9: the weighted median.
pub fn median_level(profile: &[f64]) -> usize {
    first_reaching(profile, |sum| sum >= 0.5 - REACHED)
}

/// From the first level with cumulative mass above 0.1 to the first with at least 0.9; within
/// 1e-9, 0.1 counts as not exceeded and 0.9 as reached.
pub fn span(profile: &[f64]) -> (usize, usize) {
    (
        first_reaching(profile, |sum| sum > 0.1 + REACHED),
        first_reaching(profile, |sum| sum >= 0.9 - REACHED),
    )
}

fn first_reaching(profile: &[f64], is_reached: impl Fn(f64) -> bool) -> usize {
    let mut sum = 0.0;
    for (level, mass) in profile.iter().enumerate() {
        sum += mass;
        if is_reached(sum) {
            return level;
        }
    }
    profile.len().saturating_sub(1)
}

/// Weighted median of positions: sorted by position, the first whose cumulative weight reaches
/// half of all, within 1e-9 ("lower" weighted median). `None` for no weight.
pub fn weighted_median(values: &[f64], weights: &[f64]) -> Option<f64> {
    let total: f64 = weights.iter().sum();
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let mut sum = 0.0;
    for at in order {
        sum += weights[at];
        if weights[at] > 0.0 && sum >= total / 2.0 - REACHED {
            return Some(values[at]);
        }
    }
    None
}

/// Consensus: 1 + Σ (w/W) · log₂(1 − |x − μ| / (K − 1)), with μ = Σ w x / W.
///
/// `positions` on a scale of `levels` = K ≥ 2 steps, from 0 to K − 1. 1 where all stand in one
/// place or there is one; 0 where they are split evenly between the ends.
///
/// Source: Tastle & Wierman 2007, Int. J. Approx. Reason. 45:531–545, taken over the voices'
/// positions, so that one source's imprecision does not count as disagreement; vectors in
/// tests/reference/statistics.json (`ord.tw.*`).
pub fn consensus(positions: &[f64], weights: &[f64], levels: usize) -> f64 {
    let Some(mu) = mean(positions, weights) else {
        return 1.0;
    };
    let total: f64 = weights.iter().sum();
    let width = (levels - 1) as f64;
    let sum: f64 = positions
        .iter()
        .zip(weights)
        .filter(|(_, w)| **w > 0.0)
        // A position a whole scale from the mean has no weight to speak of; the guard keeps a
        // rounding error from making the logarithm infinite.
        .map(|(x, w)| w / total * (1.0 - (x - mu).abs() / width).max(f64::MIN_POSITIVE).log2())
        .sum();
    (1.0 + sum).clamp(0.0, 1.0)
}

/// Whether voices at least min(1.5, K − 1) levels from the weighted median hold at least a fifth
/// of the weight. Never for fewer than two voices.
///
/// Our choice: a level and a half is more than a slip of the pen on a scale of five.
pub fn contested(positions: &[f64], weights: &[f64], levels: usize) -> bool {
    if positions.len() < 2 {
        return false;
    }
    let Some(median) = weighted_median(positions, weights) else {
        return false;
    };
    let total: f64 = weights.iter().sum();
    let far = ((levels - 1) as f64).min(1.5) - REACHED;
    let held: f64 = positions
        .iter()
        .zip(weights)
        .filter(|(x, _)| (*x - median).abs() >= far)
        .map(|(_, w)| w)
        .sum();
    held / total >= 0.2 - REACHED
}

/// Agreement from a consensus figure and the two thresholds (high, medium).
pub fn agreement(figure: f64, thresholds: (f64, f64)) -> Agreement {
    if figure >= thresholds.0 - REACHED {
        Agreement::High
    } else if figure >= thresholds.1 - REACHED {
        Agreement::Medium
    } else {
        Agreement::Low
    }
}

/// Evidence from the weight and the effective voices: both must reach a row's thresholds.
pub fn evidence(weight: f64, effective_voices: f64, policy: &Weights) -> Evidence {
    let reaches = |row: &crate::content::EvidenceRow| {
        weight >= row.weight - REACHED && effective_voices >= row.voices - REACHED
    };
    if reaches(&policy.robust) {
        Evidence::Robust
    } else if reaches(&policy.medium) {
        Evidence::Medium
    } else {
        Evidence::Limited
    }
}

/// Confidence from evidence, agreement and weight W.
///
/// W < 0.5: very low, whatever the agreement; else untested: low; else the sum of the two
/// grades' places (0 to 2 each), at most low while W < 1.
///
/// Source: the five terms and that confidence rises along both axes, Mastrandrea et al. 2010,
/// Figure 1; the cells and the limits on W are our choice, since the note gives no table.
pub fn confidence(evidence: Evidence, agreement: Agreement, weight: f64) -> Confidence {
    if weight < 0.5 - REACHED {
        return Confidence::VeryLow;
    }
    let agreement = match agreement {
        Agreement::Untested => return Confidence::Low,
        Agreement::Low => 0,
        Agreement::Medium => 1,
        Agreement::High => 2,
    };
    let confidence = match evidence as usize + agreement {
        0 => Confidence::VeryLow,
        1 => Confidence::Low,
        2 => Confidence::Medium,
        3 => Confidence::High,
        _ => Confidence::VeryHigh,
    };
    if weight < 1.0 - REACHED {
        confidence.min(Confidence::Low)
    } else {
        confidence
    }
}
