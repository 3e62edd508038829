//! Pooled estimates of measured claims, random effects (§5 of the mathematics).

use std::collections::BTreeMap;
use std::f64::consts::LN_2;

use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::claims::mass::NO_ERROR;
use crate::content::{ScaleTrait, Trait, Weights};
use crate::reconcile::voice::{Heard, Kinds, weight};

/// The 0.975 quantile of the standard normal, to the digits the method prints.
const Z_975: f64 = 1.959_964;

/// What the measured claims of one size measure come to.
#[derive(Debug, Clone, PartialEq)]
pub struct Pooled {
    /// Number of voices, k ≥ 1.
    pub k: usize,
    /// μ, in d⁻¹ for growth, else in the trait's own unit.
    pub estimate: f64,
    /// Standard error of μ.
    pub se: f64,
    /// Between-voice variance, DerSimonian–Laird; `None` for one voice.
    pub tau2_dl: Option<f64>,
    /// Cochran's Q; `None` for one voice.
    pub q: Option<f64>,
    /// I² from Q; `None` for one voice.
    pub i2_from_q: Option<f64>,
    /// 95 % interval.
    pub ci: (f64, f64),
    /// 95 % prediction interval; `None` for fewer than three voices.
    pub prediction: Option<(f64, f64)>,
    /// ln 2 / μ for growth; `None` where μ ≤ 0 and for other traits.
    pub doubling_days: Option<f64>,
    /// The voices' values: voice, value, variance.
    pub values: Vec<(usize, f64, f64)>,
}

/// One voice beside the others of a pool.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Voice.
    pub voice: usize,
    /// Its value y, in the unit of the pool.
    pub value: f64,
    /// y ± 1.959964 √v, with the variance v that pooling uses.
    pub ci: (f64, f64),
    /// u / Σu, its share of the pooled estimate.
    pub share: f64,
}

impl Pooled {
    /// What each voice brings, in order of voices.
    pub fn estimates(&self) -> Vec<Estimate> {
        let tau2 = self.tau2_dl.unwrap_or(0.0);
        let u = |v: f64| 1.0 / (v + tau2);
        let sum_u: f64 = self.values.iter().map(|(_, _, v)| u(*v)).sum();
        self.values
            .iter()
            .map(|(voice, y, v)| {
                let half = Z_975 * v.sqrt();
                Estimate {
                    voice: *voice,
                    value: *y,
                    ci: (y - half, y + half),
                    share: u(*v) / sum_u,
                }
            })
            .collect()
    }
}

/// A claim that qualifies: its voice, its value, its own standard error.
type Qualified = (usize, f64, Option<f64>);

/// Pools the measured, non-loose claims of a trait, by size measure.
pub fn pooled(
    heard: &[Heard<'_>],
    of: &Trait,
    on: &ScaleTrait,
    policy: &Weights,
    is_growth: bool,
) -> BTreeMap<&'static str, Pooled> {
    let mut by_key: BTreeMap<&'static str, Vec<Qualified>> = BTreeMap::new();
    for one in heard {
        let Some(measured) = &one.claim.measured else {
            continue;
        };
        if one.claim.is_loose || weight(one.claim, of, policy, Kinds::AsWeighed, None) <= 0.0 {
            continue;
        }
        by_key
            .entry(measured.key)
            .or_default()
            .push((one.voice, measured.y, measured.own_s));
    }
    by_key
        .into_iter()
        .filter_map(|(key, values)| {
            let sizes: Vec<f64> = values.iter().map(|(_, y, _)| y.abs()).collect();
            let common = (policy.measurement_error * median(&sizes)).max(on.floor);
            let mut by_voice: BTreeMap<usize, Vec<(f64, f64)>> = BTreeMap::new();
            for (voice, y, own_s) in values {
                let s = own_s.unwrap_or(common);
                if s >= NO_ERROR {
                    by_voice.entry(voice).or_default().push((y, s * s));
                }
            }
            let values: Vec<(usize, f64, f64)> = by_voice
                .into_iter()
                .map(|(voice, claims)| {
                    let (y, v) = within_voice(&claims);
                    (voice, y, v)
                })
                .collect();
            pool(values, is_growth).map(|pooled| (key, pooled))
        })
        .collect()
}

/// Median; the mean of the middle two for an even number. Zero for none.
pub fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    if n == 0 {
        0.0
    } else if n % 2 == 1 {
        sorted[n / 2]
    } else {
        (sorted[n / 2 - 1] + sorted[n / 2]) / 2.0
    }
}

/// One voice's value: the inverse-variance mean of its claims, with the smallest of their
/// variances, since saying it twice adds no certainty. `claims` are (value, variance > 0).
fn within_voice(claims: &[(f64, f64)]) -> (f64, f64) {
    let total: f64 = claims.iter().map(|(_, v)| 1.0 / v).sum();
    let mean = claims.iter().map(|(y, v)| y / v).sum::<f64>() / total;
    let least = claims.iter().map(|(_, v)| *v).fold(f64::INFINITY, f64::min);
    (mean, least)
}

fn pool(values: Vec<(usize, f64, f64)>, is_growth: bool) -> Option<Pooled> {
    let effects: Vec<f64> = values.iter().map(|(_, y, _)| *y).collect();
    let variances: Vec<f64> = values.iter().map(|(_, _, v)| *v).collect();
    let k = effects.len();
    if k == 0 {
        return None;
    }
    let tau2 = tau2_dl(&effects, &variances);
    let u: Vec<f64> = variances.iter().map(|v| 1.0 / (v + tau2)).collect();
    let sum_u: f64 = u.iter().sum();
    let estimate = u.iter().zip(&effects).map(|(u, y)| u * y).sum::<f64>() / sum_u;
    let se = sum_u.recip().sqrt();
    let q = cochran_q(&effects, &variances);
    let (half, prediction) = if k == 1 {
        (Z_975 * se, None)
    } else {
        let df = (k - 1) as f64;
        let spread: f64 = u
            .iter()
            .zip(&effects)
            .map(|(u, y)| u * (y - estimate).powi(2))
            .sum();
        let q_star = (spread / df).max(1.0);
        let half = t_975(df) * se * q_star.sqrt();
        let prediction = (k >= 3).then(|| {
            let half = t_975((k - 2) as f64) * (tau2 + se * se).sqrt();
            (estimate - half, estimate + half)
        });
        (half, prediction)
    };
    let several = k > 1;
    Some(Pooled {
        k,
        estimate,
        se,
        tau2_dl: several.then_some(tau2),
        q: several.then_some(q),
        i2_from_q: several.then(|| i2_from_q(q, k)),
        ci: (estimate - half, estimate + half),
        prediction,
        doubling_days: (is_growth && estimate > 0.0).then(|| LN_2 / estimate),
        values,
    })
}

/// The 0.975 quantile of Student t with `df` degrees of freedom.
pub fn t_975(df: f64) -> f64 {
    StudentsT::new(0.0, 1.0, df).map_or(f64::INFINITY, |t| t.inverse_cdf(0.975))
}

/// Cochran's Q: Σ w (y − μ_F)², w = 1/v, μ_F = Σ w y / Σ w. Zero for one estimate.
///
/// Source: as [`tau2_dl`].
pub fn cochran_q(effects: &[f64], variances: &[f64]) -> f64 {
    let total: f64 = variances.iter().map(|v| 1.0 / v).sum();
    let fixed = effects
        .iter()
        .zip(variances)
        .map(|(y, v)| y / v)
        .sum::<f64>()
        / total;
    effects
        .iter()
        .zip(variances)
        .map(|(y, v)| (y - fixed).powi(2) / v)
        .sum()
}

/// Between-voice variance τ², DerSimonian–Laird, truncated at zero.
///
/// τ² = max(0, (Q − (k − 1)) / C), w = 1/v, C = Σw − Σw²/Σw. `effects` are in one unit,
/// `variances` (> 0) in its square, and so is the result. Zero for fewer than two estimates: one
/// voice says nothing about spread.
///
/// Source: DerSimonian & Laird 1986, Control. Clin. Trials 7:177–188; the formula and its
/// vectors (BCG and others) in tests/reference/statistics.json (`ma.*`), the paper not opened.
pub fn tau2_dl(effects: &[f64], variances: &[f64]) -> f64 {
    let k = effects.len();
    if k < 2 {
        return 0.0;
    }
    let w: Vec<f64> = variances.iter().map(|v| 1.0 / v).collect();
    let sum: f64 = w.iter().sum();
    let c = sum - w.iter().map(|w| w * w).sum::<f64>() / sum;
    // Truncated because voices that agree closely give Q < k − 1, and a negative τ² would claim
    // more certainty than the voices themselves do.
    ((cochran_q(effects, variances) - (k - 1) as f64) / c).max(0.0)
}

/// I² from Q: max(0, (Q − (k − 1)) / Q), 0 where Q = 0.
///
/// Source: Higgins & Thompson 2002, Stat. Med. 21:1539–1558, doi:10.1002/sim.1186, not opened;
/// vectors as for [`tau2_dl`].
pub fn i2_from_q(q: f64, k: usize) -> f64 {
    if q <= 0.0 {
        return 0.0;
    }
    ((q - (k as f64 - 1.0)) / q).max(0.0)
}

/// Pools bare estimates, for checks against published vectors: the intervals are those of
/// Hartung & Knapp 2001 and Sidik & Jonkman 2002 with max(1, q) after Röver, Knapp & Friede 2015,
/// and the prediction interval of Higgins, Thompson & Spiegelhalter 2009.
pub fn pool_estimates(effects: &[f64], variances: &[f64]) -> Option<Pooled> {
    let values = effects
        .iter()
        .zip(variances)
        .enumerate()
        .map(|(at, (y, v))| (at, *y, *v))
        .collect();
    pool(values, false)
}

#[cfg(test)]
mod tests {
    use super::*;

    // By hand: equal variances give equal shares; 1.959964 · √4 = 3.919928.
    #[test]
    fn what_each_voice_brings_makes_up_the_pool() {
        let pooled = pool_estimates(&[1.0, 5.0, 6.0], &[4.0, 4.0, 4.0]).expect("three estimates");
        let estimates = pooled.estimates();
        assert_eq!(estimates.len(), 3);
        assert!((estimates[0].ci.0 + 2.919_928).abs() < 1e-9);
        assert!((estimates[0].ci.1 - 4.919_928).abs() < 1e-9);
        assert!(
            estimates
                .iter()
                .all(|one| (one.share - 1.0 / 3.0).abs() < 1e-12)
        );
        let uneven = pool_estimates(&[1.0, 5.0, 6.0], &[0.1, 4.0, 9.0]).expect("three estimates");
        let sum: f64 = uneven
            .estimates()
            .iter()
            .map(|one| one.share * one.value)
            .sum();
        assert!((sum - uneven.estimate).abs() < 1e-12);
        let alone = pool_estimates(&[3.0], &[4.0]).expect("one estimate");
        assert!((alone.estimates()[0].share - 1.0).abs() < 1e-12);
    }
}
