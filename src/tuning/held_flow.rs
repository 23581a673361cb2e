//! How a two-way bypass valve holds the machines' least flow, and what a lower head makes of it.
//!
//! Comes in: the running rows. Goes out: [`HeldFlow`]: rows in which the machines would get too little
//! beyond today's. The decision a reader would question: a control that integrates makes good a shortfall by opening; at a lower
//! head each opening passes less, as the root of it, so a shortfall is that much deeper and lasts that much longer (derived: an integral control on a
//! ramp errs as one over its gain). A valve that stands at its end is met by the same.
//! What it does not do: tell how far a valve that nobody trends can open; the plan says what it must pass, and at which head.

use super::Basis;
use super::least_flow::declared;
use super::record::Row;
use crate::plant::Bypass;

/// Such a valve is tuned to hold up to this much over the least flow [-] (common practice, no source).
const HOLDS_TO: f64 = 1.10;
/// Under what it holds by more than this counts [-]: the control is good to that.
const UNDER: f64 = 0.05;
/// A shortfall within so many standard deviations of a row's own noise is none.
const NOISE: f64 = 2.5;
/// Standard deviations to the median step between neighbouring rows: 0.6745 times the root of two.
const STEP: f64 = 0.954;
/// Fewer held rows than this tell no level.
const ROWS_MIN: usize = 12;

/// What the valve holds, as this record reads it.
#[derive(Debug, Clone, Copy)]
pub struct HeldFlow {
    /// [m3/h]
    pub level: f64,
    /// Row-to-row standard deviation of flow there [-].
    noise: f64,
}

impl HeldFlow {
    /// `None` where no two-way valve keeps a declared flow, or the record never came near it.
    pub fn of(b: &Basis, rows: &[Row]) -> Option<Self> {
        let least = declared(b).filter(|_| b.plant.system.bypass == Some(Bypass::TwoWay))?;
        // A flow read a tenth too high is still the least flow, as far as the interval says so.
        let near = |r: &&Row| r.flow <= HOLDS_TO * least || r.low <= least && r.flow <= HOLDS_TO * HOLDS_TO * least;
        let mut flows: Vec<f64> = rows.iter().filter(near).map(|r| r.flow).collect();
        if flows.is_empty() {
            return None;
        }
        let known = |r: &Row| if r.low.is_finite() { (r.low / r.flow).clamp(0.0, 1.0) } else { 0.0 };
        let mut ends: Vec<f64> = rows.iter().filter(near).map(known).collect();
        let lowest = least * median(&mut ends);
        let level = if flows.len() < ROWS_MIN { least } else { densest(&mut flows) };
        let level = level.clamp(lowest, HOLDS_TO * least);
        // Dips step by themselves: where they are most of the rows near the level, the whole record tells the noise.
        let step = |of: &dyn Fn(&Row) -> bool| {
            let both = rows.windows(2).filter(|w| of(&w[0]) && of(&w[1]));
            let mut steps: Vec<f64> = both.map(|w| (w[1].flow - w[0].flow).abs() / level).collect();
            if steps.len() < ROWS_MIN { f64::INFINITY } else { median(&mut steps) / STEP }
        };
        let noise = step(&|r| near(&r)).min(step(&|_| true));
        let noise = if noise.is_finite() { noise } else { 0.0 };
        Some(Self { level, noise })
    }

    /// Rows in which the machines get too little beyond today's, by one row whose head falls to this share.
    pub fn more_under(&self, row: &Row, share: f64) -> f64 {
        let short = 1.0 - row.flow / self.level;
        if share >= 1.0 || short < NOISE * self.noise {
            return 0.0;
        }
        let passes = share.max(1e-6).sqrt();
        let after = if short > UNDER * passes { 1.0 / passes } else { 0.0 };
        after - f64::from(u8::from(short > UNDER))
    }
}

/// Where a third of the values lie closest together: dips spread, what is held does not.
fn densest(v: &mut [f64]) -> f64 {
    v.sort_by(f64::total_cmp);
    let third = v.len().div_ceil(3);
    let spread = |i: &usize| v[i + third - 1] - v[*i];
    let from = (0..=v.len() - third).min_by(|a, b| spread(a).total_cmp(&spread(b))).unwrap_or(0);
    v[from + third / 2]
}

fn median(v: &mut [f64]) -> f64 {
    let middle = v.len() / 2;
    *v.select_nth_unstable_by(middle, f64::total_cmp).1
}
