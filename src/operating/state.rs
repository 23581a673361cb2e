//! What a pump was doing: off, starting, transient or steady.
//!
//! Comes in: one pump's measurements on the clock. Goes out: one [`State`] a row. A row is transient where the ratio test of
//! Cao and Rhinehart (J. Proc. Control 1997) rejects steadiness *and* the change is larger than a duty would show; statistics
//! alone would call every quantised signal unsteady. Start at [`states`].

use super::State;
use super::model::witness;
use super::witness::Witnesses;
use crate::hydraulics::steady;
use rayon::prelude::*;

/// Below this share of rated speed a pump is off: no drive holds a pump there (common practice, no source).
const OFF_SPEED: f64 = 0.03;
/// Below this share of rated motor power, with no speed trended, a pump is off: standby of drive and fan.
const OFF_POWER: f64 = 0.01;
/// After a start, the loop takes this long to fill its pressure and fetch its temperatures [s] (common practice, no source).
const START_S: i64 = 600;
/// Changes below this are duty, not transients: of rated speed [-], and of head and power relative to the record's high.
const QUIET_SPEED: f64 = 0.012;
const QUIET_HEAD: f64 = 0.03;
const QUIET_POWER: f64 = 0.03;
/// A step between rows above this share of rated speed is a transient whatever the statistic says.
const JUMP_SPEED: f64 = 0.04;

/// One state a row.
#[must_use]
pub fn states(w: &Witnesses, step_s: i64, rated_kw: f64) -> Vec<State> {
    let n = w.len();
    let running: Vec<Option<bool>> = (0..n).map(|i| is_running(w, i, rated_kw)).collect();
    let while_on = |f: &dyn Fn(usize) -> f64| -> Vec<f64> {
        (0..n).map(|i| if running[i] == Some(true) { f(i) } else { f64::NAN }).collect()
    };
    let ((speed, moves), mut unsteady) = rayon::join(
        || {
            let speed = while_on(&|i| w.speed[i]);
            let moves = moving(&speed, QUIET_SPEED);
            (speed, moves)
        },
        || {
            let witnesses = [(witness::HEAD, QUIET_HEAD), (witness::POWER, QUIET_POWER)];
            let one = |(which, quiet): (usize, f64)| {
                w.has(which).then(|| {
                    let column = while_on(&|i| w.raw(which, i));
                    moving(&column, quiet * high(&column))
                })
            };
            witnesses.into_par_iter().filter_map(one).collect::<Vec<_>>()
        },
    );
    unsteady.push(moves);
    let start_rows = ((START_S + step_s - 1) / step_s).max(1) as usize;
    let mut since_start = usize::MAX;
    let mut out = vec![State::Unknown; n];
    for i in 0..n {
        out[i] = match running[i] {
            None => State::Unknown,
            Some(false) => {
                since_start = 0;
                State::Off
            }
            Some(true) if since_start < start_rows => {
                since_start += 1;
                State::Starting
            }
            Some(true) => {
                let jump = i > 0 && (speed[i] - speed[i - 1]).abs() > JUMP_SPEED;
                let stops = i + 1 < n && running[i + 1] == Some(false);
                // A running row without its speed is no witness of steadiness.
                if jump || stops || !speed[i].is_finite() || unsteady.iter().any(|u| u[i]) {
                    State::Transient
                } else {
                    State::Steady
                }
            }
        };
    }
    out
}

/// Whether the pump runs in a row, by its status, speed, power or meter; `None` where none of them tells.
#[must_use]
pub fn is_running(w: &Witnesses, i: usize, rated_kw: f64) -> Option<bool> {
    let status = w.status.as_ref().map_or(f64::NAN, |s| s[i]);
    if status.is_finite() && status < 0.01 {
        return Some(false);
    }
    if w.speed[i].is_finite() {
        return Some(w.speed[i] > OFF_SPEED);
    }
    let power = w.raw(witness::POWER, i);
    if power.is_finite() && rated_kw > 0.0 {
        return Some(power > OFF_POWER * rated_kw);
    }
    if status.is_finite() {
        return Some(status > 0.5);
    }
    let meter = w.raw(witness::METER, i);
    (meter.is_finite() && w.own_meter()).then_some(meter > 0.0)
}

fn high(v: &[f64]) -> f64 {
    v.iter().copied().filter(|x| x.is_finite()).fold(0.0, f64::max)
}

/// Rows in which the ratio test rejects and the change is above `quiet`.
fn moving(v: &[f64], quiet: f64) -> Vec<bool> {
    let ratio = steady::ratio(v, 0.2, 0.1, 0.1);
    (0..v.len())
        .map(|i| {
            let back = |k: usize| i.checked_sub(k).map_or(f64::NAN, |j| v[j]);
            let change = (v[i] - back(1)).abs().max(0.7 * (v[i] - back(2)).abs());
            change.is_finite() && change > quiet && (ratio[i] > steady::CRITICAL_95 || change > 2.0 * quiet)
        })
        .collect()
}
