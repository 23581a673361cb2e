//! Whether points left the pump's own line of power and head.
//!
//! At any speed head over speed squared is a function of power over speed cubed (affinity laws): whatever the control does, the pump moves along
//! that line. A head reading whose scale moved, or a pump that wore, leaves it; a control curve that moved does not. Without a power trend a
//! flow meter over speed serves.

use super::FAULT;
use crate::faults::rules::cannot_tell;
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Verdict, say};
use crate::operating::model::witness;
use crate::plant::Role;

/// Pieces of the line, and rows a piece needs on each side [-].
const PIECES: usize = 8;
const LEAST_ROWS: usize = 8;
/// A piece whose head over speed squared spreads more than this, 10th to 90th percentile, in shares [-], tells nothing: there the power is flat.
const TELLS: f64 = 0.12;
/// Part of the change that must show on the line for the line to explain it [-].
const EXPLAINS: f64 = 0.5;

/// Head over speed squared after over before, at like power over speed cubed [-]; `None` where the two have too little in common.
pub fn moved(case: &Case, before: &[(usize, usize)], after: &[(usize, usize)]) -> Option<f64> {
    let of = |rows: &[(usize, usize)]| -> Vec<(f64, f64)> {
        let stride = rows.len().div_ceil(super::MOST_ROWS).max(1);
        rows.iter().step_by(stride).filter_map(|(i, p)| point(case, *p, *i)).collect()
    };
    let (before, after) = (of(before), of(after));
    if before.len() < LEAST_ROWS || after.len() < LEAST_ROWS {
        return None;
    }
    let edges: Vec<f64> =
        (0..=PIECES).map(|k| quantile(before.iter().map(|p| p.0), k as f64 / PIECES as f64)).collect();
    let (mut sum, mut weight) = (0.0, 0.0);
    for e in edges.windows(2) {
        let within = |points: &[(f64, f64)]| -> Vec<f64> {
            points.iter().filter(|p| p.0 >= e[0] && p.0 < e[1]).map(|p| p.1).collect()
        };
        let (b, a) = (within(&before), within(&after));
        let middle = median(b.iter().copied());
        let spread = (quantile(b.iter().copied(), 0.9) - quantile(b.iter().copied(), 0.1)) / middle;
        if b.len() >= LEAST_ROWS && a.len() >= LEAST_ROWS && spread <= TELLS {
            let n = b.len().min(a.len()) as f64;
            weight += n;
            sum += n * median(a) / middle;
        }
    }
    (weight > 0.0).then(|| sum / weight)
}

/// Place along the line and head over speed squared.
fn point(case: &Case, p: usize, i: usize) -> Option<(f64, f64)> {
    let pump = &case.pumps[p];
    let speed = pump.speed[i];
    let along = if pump.basis[i].rests_on(witness::POWER) {
        pump.power_kw[i] / speed.powi(3)
    } else {
        case.trend(Role::LoopFlow, None).filter(|_| case.pumps_on[i] == 1)?[i] / speed
    };
    let head = pump.head_kpa[i] / speed.powi(2);
    (along.is_finite() && head.is_finite() && speed > 0.0).then_some((along, head))
}

/// Whether a move off the line is the greater part of a change of head [-].
pub fn explains(line: f64, change: f64) -> bool {
    let (line, change) = (line.ln(), (1.0 + change).ln());
    line * change > 0.0 && line.abs() >= EXPLAINS * change.abs()
}

/// The verdict on such a move.
pub fn not_the_control(case: &Case, subject: &str, line: f64) -> Verdict {
    let why = format!(
        "the head read against the control curve moved, but so it did at like power and speed (to {} of what it was), which no control \
         curve can do: the head reading{} or the pump itself changed",
        say::percent(line),
        if case.pumps.len() > 1 { ", a speed" } else { "" }
    );
    cannot_tell(FAULT, subject, &["a second head reading"], why)
}
