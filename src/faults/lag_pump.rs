//! A pump that comes and goes beside another that runs through.
//!
//! Comes in: every pump's states. Goes out: [`Hunts`], where it comes and goes too often at flows that hardly differ. The decision a reader would
//! question: three times an hour and more is short cycling, which has its own name.

use super::spread::median;
use super::{Case, PumpCase, starts};
use crate::operating::State;
use crate::plant::Role;

/// Days of too few that it needs; fewer are a trial.
pub(super) const LEAST_DAYS: usize = 3;
/// Days of coming and going that it needs: a week with a load at the threshold is weather.
pub(super) const HUNTS_DAYS: usize = 5;
/// Comes and goes: starts an hour in the mean of so many hours [1/h, h], hours in all [h]. Guideline 36 stages on and off after 10 min each,
/// so that it cannot come more than three times an hour; from there on it is short cycling. The hours decide where a counter tells of short cycling:
/// five days on which it comes and goes have at least as many. Starts are whole: two in two hours are 1.0, three 1.5, and any limit between is the same.
pub(super) const HUNTS: f64 = 1.5;
const OVER_H: f64 = 2.0;
pub(super) const HUNTS_H: f64 = 6.0;
pub(super) const CYCLES: f64 = 3.0;
/// Flow when it comes over flow when it goes, up to which the thresholds coincide [-].
pub(super) const COINCIDE: f64 = 1.25;
/// Rows that a cycle of 40 min needs [h].
const COARSEST_H: f64 = 8.0 / 60.0;
const ROWS_A_CYCLE: f64 = 5.0;

/// A lag pump that comes and goes: its rows, and the flows at which it does.
pub(super) struct Hunts {
    pub busy: starts::Busy,
    pub on: f64,
    pub off: f64,
}

/// `None` where none does, or rows are too long to see it.
pub(super) fn comes_and_goes(case: &Case) -> Option<Hunts> {
    if case.step_h > COARSEST_H {
        return None;
    }
    let lag: Lag = lags(case);
    let busy = starts::busy(case, &lag.starts, HUNTS, OVER_H);
    let (on, off) = (median(lag.flow_on.iter().copied()), median(lag.flow_off.iter().copied()));
    // Coming and going must be seen: five rows a cycle, two of them on.
    let seen = busy.mean * case.step_h * ROWS_A_CYCLE <= 1.0 && median(lag.stayed.iter().copied()) >= 2.0;
    let holds = seen
        && busy.hours >= HUNTS_H
        && busy.days >= HUNTS_DAYS
        && busy.mean < CYCLES
        && on <= COINCIDE * off
        && !cycles_by_counter(case);
    holds.then_some(Hunts { busy, on, off })
}

/// Whether a starts counter tells of short cycling: then rows of the state show some of the starts only, and it has its own name.
fn cycles_by_counter(case: &Case) -> bool {
    case.pumps
        .iter()
        .filter_map(|p| case.trend(Role::PumpStarts, Some(p.name)))
        .any(|counter| starts::busy(case, &starts::by_counter(case, counter), CYCLES, OVER_H).hours >= HUNTS_H)
}

/// A pump that starts beside others and stops while they run on: starts a row, and the flow just before it came and just before it went.
#[derive(Debug, Default)]
struct Lag {
    starts: Vec<f32>,
    flow_on: Vec<f64>,
    flow_off: Vec<f64>,
    /// How long it stayed [rows].
    stayed: Vec<f64>,
}

/// Which pumps but this one run in a row, by bits.
fn others(case: &Case, k: usize, i: usize) -> u64 {
    let on = |p: &PumpCase| u64::from(!matches!(p.state[i], State::Off | State::Unknown));
    case.pumps.iter().take(64).enumerate().filter(|(j, _)| *j != k).map(|(j, p)| on(p) << j).sum()
}

/// Every pump's comings and goings beside a pump that runs through. A change of the duty pump is none: the one that stops is another.
fn lags(case: &Case) -> Lag {
    let mut lag = Lag { starts: vec![0.0; case.rows()], ..Lag::default() };
    for (k, p) in case.pumps.iter().enumerate() {
        // The first row it runs in, and which of the others have run in every row since the one before, by bits (of the first 64).
        let mut came: Option<(usize, u64)> = None;
        for i in 1..case.rows() {
            match (p.state[i - 1], p.state[i]) {
                (State::Unknown, _) | (_, State::Unknown) => came = None,
                (State::Off, State::Off) => {}
                (State::Off, _) => came = Some((i, others(case, k, i - 1) & others(case, k, i))),
                (_, State::Off) => {
                    let through = came.take().filter(|(_, on)| on & others(case, k, i) != 0);
                    if let Some((from, _)) = through {
                        lag.starts[from] += 1.0;
                        lag.stayed.push((i - from) as f64);
                        lag.flow_on.push(case.loop_flow_m3h[from - 1]);
                        lag.flow_off.push(case.loop_flow_m3h[i - 1]);
                    }
                }
                _ => came = came.map(|(from, on)| (from, on & others(case, k, i))),
            }
        }
    }
    lag
}
