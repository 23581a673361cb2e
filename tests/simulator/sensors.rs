//! From true signals to readings: gain and offset errors, lag, noise, quantisation.

use super::noise::Rng;

/// A transmitter and its logger.
#[derive(Debug, Clone, Copy)]
pub struct Sensor {
    pub gain: f64,
    /// In the unit of the reading.
    pub offset: f64,
    /// Row-to-row standard deviation: a share of the reading, and a fixed part.
    pub relative_noise: f64,
    pub noise: f64,
    /// Share of the last reading that lingers.
    pub lag: f64,
    /// Decimals that the logger keeps.
    pub decimals: u32,
}

impl Sensor {
    /// Exact but for rounding.
    pub fn exact(decimals: u32) -> Self {
        Self { gain: 1.0, offset: 0.0, relative_noise: 0.0, noise: 0.0, lag: 0.0, decimals }
    }

    /// Readings of a signal (in the unit of the reading).
    pub fn read(&self, rng: &mut Rng, signal: impl Iterator<Item = f64>, decimals_scale: f64) -> Vec<i64> {
        let mut last = f64::NAN;
        signal
            .map(|v| {
                let exact = self.gain * v + self.offset;
                let slow = if last.is_nan() { exact } else { self.lag * last + (1.0 - self.lag) * exact };
                last = slow;
                let noisy = slow + rng.jitter() * (self.noise + self.relative_noise * slow.abs());
                libm::floor(noisy * decimals_scale + 0.5) as i64
            })
            .collect()
    }
}
