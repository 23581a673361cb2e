//! Two answers in a row, settled by the rows beside it.
//!
//! Comes in: a pump's columns and the rows whose power (or drooping head) fits two flows. Goes out: those columns with one peak believed where the
//! steady rows before and after, each with one answer, agree on it. A flow does not jump across a pump's curve and back between two readings at
//! like speed; where the neighbours are as doubtful, or disagree, both peaks stay in the interval.

use super::basis::{Basis, NEIGHBOURS};
use super::posterior::Peak;
use super::{PumpPoints, State};

/// How far a neighbour may be [s]: loads drift over an hour (common practice, no source).
const NEAR_S: i64 = 3600;
/// Speeds that differ by more are not the same duty [-].
const LIKE_SPEED: f64 = 0.05;
/// A neighbour speaks for the nearer peak if it is nearer by this factor.
const CLEARLY: f64 = 3.0;

/// Settles what can be settled; says how many rows.
pub fn settle(p: &mut PumpPoints, two: &[(usize, [Peak; 2])], step_s: i64) -> usize {
    let reach = (NEAR_S / step_s.max(1)).max(1) as usize;
    let doubtful: Vec<usize> = two.iter().map(|t| t.0).collect();
    let mut settled = Vec::new();
    for &(i, ref peaks) in two.iter().filter(|t| p.state[t.0] == State::Steady) {
        let before = (1..=reach.min(i)).map(|k| i - k).find_map(|j| side(p, &doubtful, peaks, i, j));
        let after =
            (1..=reach).map(|k| i + k).take_while(|j| *j < p.state.len()).find_map(|j| side(p, &doubtful, peaks, i, j));
        if let (Some(a), Some(b)) = (before, after)
            && a == b
        {
            settled.push((i, peaks[a]));
        }
    }
    for (i, peak) in &settled {
        let i = *i;
        // The head was taken at the other flow where it was not measured: it moves with its interval's worth of doubt kept.
        (p.flow_m3h[i], p.flow_low_m3h[i], p.flow_high_m3h[i]) = (peak.flow, peak.low, peak.high);
        p.flow_sd_common_m3h[i] = p.flow_sd_common_m3h[i].min((peak.high - peak.low) / 3.92);
        if let Basis::Measured(bits) = p.basis[i] {
            p.basis[i] = Basis::Measured(bits | NEIGHBOURS);
        }
    }
    settled.len()
}

/// The peak that row `j` speaks for; `None` where it is no witness.
fn side(p: &PumpPoints, doubtful: &[usize], peaks: &[Peak; 2], i: usize, j: usize) -> Option<usize> {
    let alike = p.state[j] == State::Steady
        && p.flow_m3h[j].is_finite()
        && (p.speed[j] - p.speed[i]).abs() < LIKE_SPEED
        && doubtful.binary_search(&j).is_err();
    if !alike {
        return None;
    }
    let far = [0, 1].map(|k: usize| (p.flow_m3h[j] - peaks[k].flow).abs());
    if CLEARLY * far[0] < far[1] {
        Some(0)
    } else if CLEARLY * far[1] < far[0] {
        Some(1)
    } else {
        None
    }
}
