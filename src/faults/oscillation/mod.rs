//! Whether something swings, how fast and how regularly: the published measures, and what the hunting rules share.
//!
//! Comes in: a row of numbers at a fixed interval. Goes out: one number a measure. The decision a reader would question: each function
//! is its paper's measure and nothing else (limits are the rules' own), and the formulas are from memory of the papers: what is checked
//! is that each gives the value that follows from its definition for a sine, a damped sine and noise (`tests/it/oscillation.rs`).
//! `cycles.rs` finds cycles in raw rows (`legs.rs`: turning points); `swing.rs` pools them over days and pumps; `leads.rs` asks who swings first.

pub(super) mod cycles;
pub(super) mod leads;
mod legs;
pub(super) mod swing;
mod told;

/// The stretch between two crossings of zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HalfPeriod {
    /// [s], or whatever the step was given in.
    pub length: f64,
    /// Integral of the absolute error over it [unit of the error times that of the step].
    pub area: f64,
}

/// Stretches between zero crossings of a control error, their ends by straight lines between rows; those cut by the record's ends or by a
/// missing row are left out. `step`: time between rows.
///
/// Integrated absolute error (IAE) between zero crossings: Hagglund, A control-loop performance monitor, Control Engineering Practice 3 (1995)
/// 1543-1551, from memory. Half a period of `a sin(w t)` has 2 a / w.
#[must_use]
pub fn half_periods(error: &[f64], step: f64) -> Vec<HalfPeriod> {
    let mut found = Vec::new();
    // Where the stretch began, none before the first crossing; its area so far.
    let (mut since, mut area): (Option<f64>, f64) = (None, 0.0);
    let mut sign = 0.0;
    for (i, e) in error.iter().copied().enumerate() {
        if e.is_nan() {
            (since, area, sign) = (None, 0.0, 0.0);
            continue;
        }
        let before = if i > 0 && error[i - 1].is_finite() { error[i - 1] } else { f64::NAN };
        if e * sign < 0.0 {
            let crossing = (i - 1) as f64 + before / (before - e);
            area += before.abs() * (crossing - (i - 1) as f64) / 2.0;
            if let Some(start) = since {
                found.push(HalfPeriod { length: (crossing - start) * step, area: area * step });
            }
            (since, area) = (Some(crossing), e.abs() * (i as f64 - crossing) / 2.0);
        } else if before.is_finite() {
            area += (before.abs() + e.abs()) / 2.0;
        }
        if e != 0.0 {
            sign = e.signum();
        }
    }
    found
}

/// The IAE of half a sine of this amplitude and period, from which a stretch counts as a load disturbance: 2 a / w = a T / pi.
///
/// Hagglund 1995 (as above), from memory; he takes 1 % of the span as amplitude and the integral time as period.
#[must_use]
pub fn iae_limit(amplitude: f64, period: f64) -> f64 {
    amplitude * period / std::f64::consts::PI
}

/// How many of the stretches resemble the next one on the same side of zero, in length (within `alpha` and 1 / `alpha`) and in area (`gamma`)
/// [-]: noise about 0.2, a candidate above 0.4, clear above 0.8.
///
/// Forsman and Stattin, A new criterion for detecting oscillations in control loops, European Control Conference 1999, from memory.
#[must_use]
pub fn forsman_stattin(stretches: &[HalfPeriod], alpha: f64, gamma: f64) -> f64 {
    if stretches.is_empty() {
        return f64::NAN;
    }
    let alike = |a: f64, b: f64, limit: f64| b > limit * a && limit * b < a;
    let count = stretches
        .iter()
        .zip(stretches.iter().skip(2))
        .filter(|(a, b)| alike(a.length, b.length, alpha) && alike(a.area, b.area, gamma))
        .count();
    count as f64 / stretches.len() as f64
}

/// Mean interval over three standard deviations [-]: above 1 the intervals are regular. Infinite where they do not differ at all.
///
/// Thornhill, Huang and Zhang, Detection of multiple oscillations in control loops, Journal of Process Control 13 (2003) 91-100, from memory.
#[must_use]
pub fn regular(mean: f64, standard_deviation: f64) -> f64 {
    mean / (3.0 * standard_deviation)
}

/// Intervals that the regularity rests on [-].
const INTERVALS: usize = 10;

/// Period [in the unit of `step`] and regularity [-] by the zero crossings of the autocovariance: twice the mean of ten intervals, and
/// [`regular`] of them. `None` where there are fewer crossings.
///
/// Thornhill, Huang and Zhang 2003 (as above), from memory.
#[must_use]
pub fn regularity(values: &[f64], step: f64) -> Option<(f64, f64)> {
    let centred = less_mean(values);
    let mut crossings = Vec::with_capacity(INTERVALS + 1);
    let mut before = covariance(&centred, 0);
    for lag in 1..values.len() {
        let now = covariance(&centred, lag);
        if before * now < 0.0 || (now == 0.0 && before != 0.0) {
            crossings.push((lag - 1) as f64 + before / (before - now));
        }
        before = now;
        if crossings.len() > INTERVALS {
            break;
        }
    }
    if crossings.len() <= INTERVALS {
        return None;
    }
    let intervals: Vec<f64> = crossings.windows(2).map(|w| w[1] - w[0]).collect();
    let mean = intervals.iter().sum::<f64>() / INTERVALS as f64;
    let variance = intervals.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / INTERVALS as f64;
    Some((2.0 * mean * step, regular(2.0 * mean, 2.0 * variance.sqrt())))
}

/// Decay ratio [-] of an autocorrelation that is 1 at no lag, from its first minimum, first maximum and second minimum, each (lag, value): how
/// far the maximum stands above the line through the minima, over how far the first minimum lies below the line from no lag to the maximum.
/// One half is a quarter-amplitude decay of the response; more swings too long.
///
/// Miao and Seborg, Automatic detection of excessively oscillatory feedback control loops, Control Engineering Practice 7 (1999), from memory.
#[must_use]
pub fn decay(minimum: (f64, f64), maximum: (f64, f64), second: (f64, f64)) -> f64 {
    let line = |a: (f64, f64), b: (f64, f64), at: f64| a.1 + (b.1 - a.1) * (at - a.0) / (b.0 - a.0);
    let above = maximum.1 - line(minimum, second, maximum.0);
    let below = line((0.0, 1.0), maximum, minimum.0) - minimum.1;
    above / below
}

/// [`decay`] of a series by its own autocorrelation (each lag over the whole length, so that long lags fade). `None` where it does not turn
/// three times.
#[must_use]
pub fn decay_ratio(values: &[f64]) -> Option<f64> {
    let centred = less_mean(values);
    let whole = covariance(&centred, 0);
    let mut turns: Vec<(f64, f64)> = Vec::with_capacity(3);
    let (mut before, mut now) = (1.0, covariance(&centred, 1) / whole);
    for lag in 2..values.len() {
        let next = covariance(&centred, lag) / whole;
        let down = turns.len().is_multiple_of(2);
        if (down && now < before && now <= next) || (!down && now > before && now >= next) {
            turns.push(((lag - 1) as f64, now));
        }
        if turns.len() == 3 {
            return Some(decay(turns[0], turns[1], turns[2]));
        }
        (before, now) = (now, next);
    }
    None
}

fn less_mean(values: &[f64]) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    values.iter().map(|v| v - mean).collect()
}

/// Sum of products with itself so many rows later.
fn covariance(centred: &[f64], lag: usize) -> f64 {
    centred.iter().zip(&centred[lag.min(centred.len())..]).map(|(a, b)| a * b).sum()
}

/// A series ready to be held against itself.
pub(super) struct Lagged {
    pub centred: Vec<f64>,
    /// Sum of squares before each row.
    power: Vec<f64>,
}

impl Lagged {
    pub fn new(values: Vec<f64>) -> Self {
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        let centred: Vec<f64> = values.into_iter().map(|v| v - mean).collect();
        let mut power = Vec::with_capacity(centred.len() + 1);
        power.push(0.0);
        power.extend(centred.iter().scan(0.0, |sum, x| {
            *sum += x * x;
            Some(*sum)
        }));
        Self { centred, power }
    }

    /// Correlation with itself so many rows later, over the rows that both have [-]; it does not fade with the lag.
    pub fn alike_after(&self, lag: usize) -> f64 {
        let n = self.centred.len();
        let lag = lag.min(n);
        let (earlier, later) = (self.power[n - lag], self.power[n] - self.power[lag]);
        covariance(&self.centred, lag) / (earlier * later).sqrt()
    }
}
