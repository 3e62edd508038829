//! The grade of a span trait (§12 of the mathematics).

use crate::claims::mass::REACHED;
use crate::content::Weights;
use crate::reconcile::grade::{
    Agreement, Confidence, Evidence, agreement, confidence, evidence, kish, weighted_median,
};
use crate::reconcile::voice::Voice;

/// The grade of a span trait.
#[derive(Debug, Clone, PartialEq)]
pub struct SpanGrade {
    /// W.
    pub weight: f64,
    /// Number of voices.
    pub voices: usize,
    /// Weighted median of the lower ends, in the trait's own unit; `None` without a voice.
    pub low: Option<f64>,
    /// Weighted median of the upper ends.
    pub high: Option<f64>,
    /// Mean overlap of pairs of voices; `None` for fewer than two.
    pub overlap: Option<f64>,
    /// How much there is to go on.
    pub evidence: Evidence,
    /// How far the spans agree.
    pub agreement: Agreement,
    /// How sure the guide is.
    pub confidence: Confidence,
}

/// Grades a span trait; each voice's mean is its lower and its upper end.
pub fn span_grade(voices: &[Voice], policy: &Weights) -> SpanGrade {
    let weights: Vec<f64> = voices.iter().map(|voice| voice.weight).collect();
    let lows: Vec<f64> = voices.iter().map(|voice| voice.mean[0]).collect();
    let highs: Vec<f64> = voices.iter().map(|voice| voice.mean[1]).collect();
    let weight: f64 = weights.iter().sum();
    let effective = kish(&weights).unwrap_or(0.0);
    let spans: Vec<(f64, f64)> = lows.iter().copied().zip(highs.iter().copied()).collect();
    let overlap = overlap(&spans, &weights);
    let agreement = if effective < 1.5 - REACHED {
        Agreement::Untested
    } else {
        agreement(overlap.unwrap_or(1.0), policy.span_agreement)
    };
    let evidence = evidence(weight, effective, policy);
    SpanGrade {
        weight,
        voices: voices.len(),
        low: weighted_median(&lows, &weights),
        high: weighted_median(&highs, &weights),
        overlap,
        evidence,
        agreement,
        confidence: confidence(evidence, agreement, weight),
    }
}

/// Weighted mean, over pairs, of overlap ÷ union of two spans; the weight of a pair is the
/// product of its two. 0 where two spans do not meet, 1 for two equal points. `None` for fewer
/// than two spans.
///
/// Source: overlap ÷ union is the Jaccard index of two intervals; its use here is our choice.
pub fn overlap(spans: &[(f64, f64)], weights: &[f64]) -> Option<f64> {
    let (mut sum, mut total) = (0.0, 0.0);
    for (i, a) in spans.iter().enumerate() {
        for (j, b) in spans.iter().enumerate().skip(i + 1) {
            let weight = weights[i] * weights[j];
            let union = a.1.max(b.1) - a.0.min(b.0);
            let shared = (a.1.min(b.1) - a.0.max(b.0)).max(0.0);
            let ratio = if union <= 0.0 { 1.0 } else { shared / union };
            sum += weight * ratio;
            total += weight;
        }
    }
    (total > 0.0).then(|| sum / total)
}
