//! What a difference goes with: shares of dispersion and exact permutation tests (§7).

use crate::claims::mass::REACHED;
use crate::reconcile::grade::consensus;

/// Arrangements up to which all are enumerated; beyond, random ones are drawn.
pub const MOST_ENUMERATED: u64 = 20_000;

/// Random arrangements drawn beyond that.
pub const DRAWN: u64 = 9_999;

/// One unit: a position on the scale, a weight, and the group it is in.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// Position.
    pub position: f64,
    /// Weight.
    pub weight: f64,
    /// Group, from 0.
    pub group: usize,
}

/// How much of the dispersion a grouping takes up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// 1 − Σ (W_g/W) D_g / D; may be negative.
    pub share: f64,
    /// Fraction of arrangements with a share at least as large; `None` where the share is below
    /// 0.4.
    pub p: Option<f64>,
    /// Number of distinct arrangements; `None` as `p`.
    pub arrangements: Option<f64>,
    /// Whether p was drawn rather than enumerated.
    pub is_drawn: bool,
}

impl Share {
    /// Share at least 0.4 and p at most 0.1.
    pub fn is_notable(&self) -> bool {
        self.share >= 0.4 - REACHED && self.p.is_some_and(|p| p <= 0.1 + REACHED)
    }
}

/// Share of dispersion that goes with a grouping, with its permutation p.
///
/// Dispersion D = 1 − consensus over the units. Needs at least 5 units, 2 groups and D > 1e-12,
/// else `None`. p is the fraction of all distinct arrangements of the group labels over the units
/// (positions and weights stay put) whose share reaches the observed one, less 1e-12; beyond
/// 20,000 arrangements, (1 + hits) / 10,000 over 9,999 seeded random ones.
///
/// Source: exact permutation tests, Fisher 1935, The Design of Experiments; Good 2005,
/// Permutation, Parametric and Bootstrap Tests of Hypotheses; neither opened. Vectors of the
/// enumeration in tests/reference/statistics.json (`perm.*`).
pub fn share(units: &[Unit], levels: usize, seed: &str) -> Option<Share> {
    let groups = units.iter().map(|unit| unit.group).max()? + 1;
    let mut sizes = vec![0_u64; groups];
    for unit in units {
        sizes[unit.group] += 1;
    }
    if units.len() < 5 || sizes.iter().filter(|size| **size > 0).count() < 2 {
        return None;
    }
    let positions: Vec<f64> = units.iter().map(|unit| unit.position).collect();
    let weights: Vec<f64> = units.iter().map(|unit| unit.weight).collect();
    let all = 1.0 - consensus(&positions, &weights, levels);
    if all <= 1e-12 {
        return None;
    }
    let mut within = Within::of(&positions, &weights, levels, groups);
    let mut share_of = |labels: &[usize]| 1.0 - within.dispersion(labels) / all;
    let mut labels: Vec<usize> = units.iter().map(|unit| unit.group).collect();
    let observed = share_of(&labels);
    if observed < 0.4 - REACHED {
        return Some(Share {
            share: observed,
            p: None,
            arrangements: None,
            is_drawn: false,
        });
    }
    let arrangements = arrangements(&sizes);
    let mut reaches = |labels: &[usize]| share_of(labels) >= observed - 1e-12;
    let is_drawn = arrangements > MOST_ENUMERATED as f64;
    let p = if is_drawn {
        let mut random = Random::seeded(seed);
        let mut hits = 0_u64;
        for _ in 0..DRAWN {
            random.shuffle(&mut labels);
            hits += u64::from(reaches(&labels));
        }
        (1 + hits) as f64 / (DRAWN + 1) as f64
    } else {
        permutation_p(&mut labels, reaches)
    };
    Some(Share {
        share: observed,
        p: Some(p),
        arrangements: Some(arrangements),
        is_drawn,
    })
}

/// The dispersion within groups, Σ_g (W_g/W) D_g, for any labels of the same units.
///
/// Run thousands of times a test, so nothing is allocated after the start. D_g is 1 − consensus,
/// which leaves W_g D_g = −Σ w log₂(1 − |x − μ_g| / (K − 1)).
struct Within<'a> {
    positions: &'a [f64],
    weights: &'a [f64],
    width: f64,
    total: f64,
    group_weight: Vec<f64>,
    group_mean: Vec<f64>,
}

impl<'a> Within<'a> {
    fn of(positions: &'a [f64], weights: &'a [f64], levels: usize, groups: usize) -> Within<'a> {
        Within {
            positions,
            weights,
            width: (levels - 1) as f64,
            total: weights.iter().sum(),
            group_weight: vec![0.0; groups],
            group_mean: vec![0.0; groups],
        }
    }

    fn dispersion(&mut self, labels: &[usize]) -> f64 {
        self.group_weight.fill(0.0);
        self.group_mean.fill(0.0);
        let units = || self.positions.iter().zip(self.weights).zip(labels);
        for ((x, w), group) in units() {
            self.group_weight[*group] += w;
            self.group_mean[*group] += w * x;
        }
        for (mean, weight) in self.group_mean.iter_mut().zip(&self.group_weight) {
            if *weight > 0.0 {
                *mean /= weight;
            }
        }
        let mut sum = 0.0;
        for ((x, w), group) in self.positions.iter().zip(self.weights).zip(labels) {
            let distance = (x - self.group_mean[*group]).abs();
            if *w > 0.0 && distance > 0.0 {
                sum -= w * (1.0 - distance / self.width).max(f64::MIN_POSITIVE).log2();
            }
        }
        sum / self.total
    }
}

/// Fraction of all distinct arrangements of labels for which `reaches` holds.
pub fn permutation_p(labels: &mut [usize], mut reaches: impl FnMut(&[usize]) -> bool) -> f64 {
    labels.sort_unstable();
    let (mut hits, mut all) = (0_u64, 0_u64);
    loop {
        all += 1;
        hits += u64::from(reaches(labels));
        if !next_arrangement(labels) {
            return hits as f64 / all as f64;
        }
    }
}

/// Number of distinct arrangements, n! / Π n_g!. Exact up to 2⁵³; beyond, near enough to choose
/// between enumerating and drawing.
pub fn arrangements(sizes: &[u64]) -> f64 {
    let mut product = 1.0_f64;
    let mut placed = 0_u64;
    for size in sizes {
        for at in 1..=*size {
            placed += 1;
            product = product * placed as f64 / at as f64;
        }
    }
    product.round()
}

/// The next arrangement in dictionary order; false after the last.
fn next_arrangement(labels: &mut [usize]) -> bool {
    let Some(pivot) = (1..labels.len())
        .rev()
        .find(|at| labels[at - 1] < labels[*at])
    else {
        return false;
    };
    let Some(swap) = (pivot..labels.len())
        .rev()
        .find(|at| labels[*at] > labels[pivot - 1])
    else {
        return false;
    };
    labels.swap(pivot - 1, swap);
    labels[pivot..].reverse();
    true
}

/// A small random generator that is the same on every machine.
///
/// Source: SplitMix64, Steele, Lea & Flood 2014, doi:10.1145/2714064.2660195, from memory. The
/// seed is the FNV-1a hash of a text, so that the same guide draws the same arrangements.
struct Random(u64);

impl Random {
    fn seeded(text: &str) -> Random {
        Random(text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        }))
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn shuffle(&mut self, labels: &mut [usize]) {
        for at in (1..labels.len()).rev() {
            let pick = (self.next() % (at as u64 + 1)) as usize;
            labels.swap(at, pick);
        }
    }
}
