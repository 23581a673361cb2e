//! What each measurement said in one row, and what was concluded: for a figure.
//!
//! Comes in: a pump's columns, its witnesses and models. Goes out: [`ShownHour`]: likelihood over flow of every measurement by itself and of
//! all together. The row is the steady one with the most measurements whose flow lies nearest the middle of the record's, the earliest of these:
//! a usual hour, not the best or the worst.

use super::mixture::Mixture;
use super::model::witness;
use super::noise::Noise;
use super::witness::Witnesses;
use super::{PumpPoints, State};

/// One row, opened.
#[derive(Debug, Clone)]
pub struct ShownHour {
    /// Row of the clock.
    pub row: usize,
    /// Readings in the order of [`witness`]: [kPa], [kW], [m3/h], [m3/h], [kPa]; NaN where there was none.
    pub readings: [f64; witness::COUNT],
    /// Shown speed [-].
    pub speed: f64,
    /// Flows [m3/h] at which likelihoods are given, from none to the end of the table at that speed.
    pub flow_m3h: Vec<f64>,
    /// Likelihood of each measurement alone (its place in [`witness`]), the highest 1, and of all together (`None`). Speed's are in all of them.
    pub likelihood: Vec<(Option<usize>, Vec<f64>)>,
    /// What was concluded [m3/h].
    pub flow: f64,
    pub low: f64,
    pub high: f64,
}

/// Points of a curve: enough that a sharp one is smooth where a figure looks closer.
const POINTS: usize = 641;

/// Opens a usual hour; `None` where no steady row has a flow.
#[must_use]
pub fn usual(p: &PumpPoints, w: &Witnesses, mixture: &Mixture, noise: Noise) -> Option<ShownHour> {
    let measured = |i: usize| w.row(i).reading.iter().filter(|v| v.is_finite()).count();
    let candidates: Vec<(usize, usize)> = (0..p.state.len())
        .filter(|&i| p.state[i] == State::Steady && p.flow_m3h[i].is_finite())
        .map(|i| (i, measured(i)))
        .collect();
    let most = candidates.iter().map(|(_, count)| *count).max()?;
    let mut flows: Vec<f64> = candidates.iter().map(|&(i, _)| p.flow_m3h[i]).collect();
    let half = flows.len() / 2;
    let middle = *flows.select_nth_unstable_by(half, f64::total_cmp).1;
    let far = |i: usize| (p.flow_m3h[i] - middle).abs();
    let with_most = candidates.into_iter().filter(|(_, count)| *count == most).map(|(i, _)| i);
    let row = with_most.min_by(|&a, &b| far(a).total_cmp(&far(b)))?;
    let said = w.row(row);
    let likelihood = mixture.evidence(&said, noise, POINTS);
    let q_max = mixture.likeliest()?.model.q_max;
    Some(ShownHour {
        row,
        readings: said.reading,
        speed: said.speed,
        flow_m3h: (0..POINTS).map(|i| q_max * said.speed * i as f64 / (POINTS - 1) as f64).collect(),
        likelihood,
        flow: p.flow_m3h[row],
        low: p.flow_low_m3h[row],
        high: p.flow_high_m3h[row],
    })
}
