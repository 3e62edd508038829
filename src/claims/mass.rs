//! Mass over the levels of a scale, from words, values, ranges and bounds (§1 of the mathematics).

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// Within this, a threshold counts as reached.
pub const REACHED: f64 = 1e-9;

/// A standard error below this puts all mass on one level.
pub const NO_ERROR: f64 = 1e-12;

/// All mass on one level of `levels`.
pub fn point(levels: usize, level: usize) -> Vec<f64> {
    spread(levels, level, level)
}

/// Mass spread evenly over the levels from `low` to `high`, both included.
pub fn spread(levels: usize, low: usize, high: usize) -> Vec<f64> {
    let share = 1.0 / (high + 1 - low) as f64;
    (0..levels)
        .map(|level| {
            if (low..=high).contains(&level) {
                share
            } else {
                0.0
            }
        })
        .collect()
}

/// The level that holds a value: the number of edges at or below it.
///
/// `edges` rise and are in the unit of `value`. A value on an edge, within 1e-9, belongs to the
/// higher level.
pub fn level_of(edges: &[f64], value: f64) -> usize {
    edges
        .iter()
        .filter(|edge| value >= **edge - REACHED)
        .count()
}

/// How a measured value is spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread {
    /// Normal with this standard error.
    Normal(f64),
    /// Student t with this standard error and these degrees of freedom.
    StudentT(f64, f64),
}

/// Mass of a measured value: m_k = F(upper edge of k) − F(lower edge of k).
///
/// The first lower edge is −∞, the last upper edge +∞. A standard error below 1e-12 puts all
/// mass on the level that holds the value.
///
/// Source: the interval probabilities of a location-scale distribution; F normal, or Student t
/// with n − 2 degrees of freedom for the slope of a regression on n points (any handbook of
/// regression, for example Draper & Smith 1998, Applied Regression Analysis, §1.4; the page from
/// memory).
pub fn measured(edges: &[f64], value: f64, spread: Spread) -> Vec<f64> {
    let s = match spread {
        Spread::Normal(s) | Spread::StudentT(s, _) => s,
    };
    if s < NO_ERROR {
        return point(edges.len() + 1, level_of(edges, value));
    }
    let below: Vec<f64> = edges
        .iter()
        .map(|edge| {
            let z = (edge - value) / s;
            match spread {
                Spread::Normal(_) => Normal::standard().cdf(z),
                Spread::StudentT(_, df) => StudentsT::new(0.0, 1.0, df).map_or(0.5, |t| t.cdf(z)),
            }
        })
        .collect();
    differences(&below)
}

/// Mass of a range whose F is uniform over it; `low < high`.
pub fn uniform(edges: &[f64], low: f64, high: f64) -> Vec<f64> {
    let below: Vec<f64> = edges
        .iter()
        .map(|edge| ((edge - low) / (high - low)).clamp(0.0, 1.0))
        .collect();
    differences(&below)
}

fn differences(below: &[f64]) -> Vec<f64> {
    let mut lower = 0.0;
    let mut mass: Vec<f64> = Vec::with_capacity(below.len() + 1);
    for upper in below.iter().chain(std::iter::once(&1.0)) {
        mass.push((upper - lower).max(0.0));
        lower = *upper;
    }
    mass
}

/// Least-squares slope of ln(size) on day, and its standard error.
///
/// r = S_xy / S_xx, s² = Σ(residual²)/(n − 2), SE = √(s² / S_xx); x in days, sizes in any one
/// unit, r and SE in d⁻¹. The standard error is `None` for two points, which fit exactly.
/// Days must differ.
///
/// Source: Hunt 1982, Plant Growth Curves (the "classical" log-linear fit); OECD Test Guideline
/// 221 for the average specific growth rate; both as cited by the format, not opened.
pub fn slope(points: &[(f64, f64)]) -> (f64, Option<f64>) {
    let n = points.len() as f64;
    let mean_x = points.iter().map(|(x, _)| x).sum::<f64>() / n;
    let mean_y = points.iter().map(|(_, size)| size.ln()).sum::<f64>() / n;
    let s_xx: f64 = points.iter().map(|(x, _)| (x - mean_x).powi(2)).sum();
    let s_xy: f64 = points
        .iter()
        .map(|(x, size)| (x - mean_x) * (size.ln() - mean_y))
        .sum();
    let r = s_xy / s_xx;
    if points.len() < 3 {
        return (r, None);
    }
    let residuals: f64 = points
        .iter()
        .map(|(x, size)| (size.ln() - mean_y - r * (x - mean_x)).powi(2))
        .sum();
    (r, Some((residuals / (n - 2.0) / s_xx).sqrt()))
}
