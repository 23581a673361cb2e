//! Row-to-row noise of the measurements: what does average out.
//!
//! Comes in: what the plant file declares, else what such sensors usually do. Goes out: [`Noise`]. What is wrong hour after hour is no noise;
//! it is a common error (`model.rs`).

use super::model::{Around, witness};

/// Share of the reading [-] and absolute part of each kind of measurement, in its own unit.
#[derive(Debug, Clone, Copy)]
pub struct Noise {
    pub of: [(f64, f64); witness::COUNT],
    /// Of a temperature difference [K]: it divides a heat balance.
    pub delta_t: f64,
}

impl Noise {
    /// Variance of a reading.
    #[must_use]
    pub fn variance(&self, which: usize, reading: f64, around: Around) -> f64 {
        let (share, absolute) = self.of[which];
        let own = (share * reading).powi(2) + absolute * absolute;
        if which == witness::HEAT { own + (reading * self.delta_t / around.delta_t).powi(2) } else { own }
    }

    /// Standard deviation of a reading.
    #[must_use]
    pub fn sd(&self, which: usize, reading: f64) -> f64 {
        self.variance(which, reading, Around::ALONE).sqrt()
    }

    /// A moving row's readings belong to slightly different instants: twice the noise.
    #[must_use]
    pub fn widened(self) -> Self {
        Self { of: self.of.map(|(a, b)| (2.0 * a, 2.0 * b)), delta_t: 2.0 * self.delta_t }
    }
}
