//! Random draws, the same on every machine.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};

/// A stream of random draws.
pub(crate) struct Draw(ChaCha8Rng);

impl Draw {
    /// One of the streams of a seed.
    pub(crate) fn of(seed: u64, stream: u64) -> Draw {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Draw(rng)
    }

    /// True with this probability.
    pub(crate) fn chance(&mut self, p: f64) -> bool {
        self.0.random::<f64>() < p
    }

    /// Normal with this mean and standard deviation.
    pub(crate) fn normal(&mut self, mean: f64, sd: f64) -> f64 {
        Normal::new(mean, sd)
            .expect("a finite spread")
            .sample(&mut self.0)
    }

    /// Uniform between two values.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// A number below n.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        self.0.random_range(0..n as u64) as usize
    }

    /// A place in a list of shares.
    pub(crate) fn pick(&mut self, shares: &[f64]) -> usize {
        let mut left = self.0.random::<f64>() * shares.iter().sum::<f64>();
        for (at, share) in shares.iter().enumerate() {
            if left < *share {
                return at;
            }
            left -= share;
        }
        shares.len() - 1
    }
}
