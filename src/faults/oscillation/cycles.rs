//! Cycles in the raw rows of a pump's speed.
//!
//! Comes in: one pump's columns. Goes out: [`Cycles`]: chains of cycles that follow one another with like period and swing, each with the
//! published measures of `mod.rs`. The decision a reader would question: zero crossings need a setpoint and a symmetrical swing, and a speed
//! on its floor has neither; so a cycle is found by its turning points, and timed where the speed crosses the middle between them. Rows
//! are raw, since what hunts is never steady; rows after a start or a change of the number of pumps are left out.

use super::legs::{Leg, legs, less_level, repeats};
use super::{forsman_stattin, iae_limit};
use crate::faults::spread::{mean, median};
use crate::faults::{Case, PumpCase};
use crate::operating::State;

/// A turning point is one when the speed comes back from it by this much of rated [-]: less is noise and whole per cents.
pub(in crate::faults) const REVERSAL: f64 = 0.025;
/// Rows a period must span to be measured [rows]: about five; below four to six a period is not to be trusted (common practice).
pub(in crate::faults) const LEAST_ROWS: f64 = 4.8;
/// Slower than this it is the load that swings [h].
pub(in crate::faults) const SLOWEST_H: f64 = 1.5;
/// On the floor up to this much above it [-]: drives report whole per cents.
const ON_FLOOR: f64 = 0.012;
/// After a start or a staging change the speed is its own [h].
const SETTLING_H: f64 = 0.25;
/// Missing rows bridged by a straight line [h], two rows at least.
const BRIDGED_H: f64 = 5.0 / 60.0;
/// How far a cycle's period and swing may differ from those before it in a chain [-].
const LIKE_PERIOD: f64 = 0.6;
const LIKE_SWING: f64 = 0.4;
/// Cycles a chain has at least; a long one is cut, so that a change of period halfway does not spoil all of it [-]; no
/// verdict hangs on where.
const LEAST_CYCLES: f64 = 3.0;
const MOST_CYCLES: f64 = 24.0;
/// Rows after which a stretch is cut, so that its columns stay in the processor's cache; no verdict hangs on where [rows].
const LONGEST: usize = 16_384;
/// Legs in a row that are too short to be measured, from which they count [-].
const LEAST_FAST: usize = 6;
/// Limits of alike in Forsman and Stattin's index [-], as in the paper's example, from memory.
const ALIKE: f64 = 0.5;

/// Cycles that follow one another with like period and swing.
#[derive(Debug, Clone)]
pub(in crate::faults) struct Chain {
    /// Rows, the last one excluded.
    pub first: usize,
    pub last: usize,
    pub cycles: f64,
    /// Mean of the periods [rows] and of their squares.
    pub period: f64,
    pub period_squared: f64,
    /// Medians: from trough to crest, and the troughs and crests themselves [-].
    pub swing: f64,
    pub low: f64,
    pub high: f64,
    /// Share of the troughs that lie on the floor [-].
    pub on_floor: f64,
    /// Part of the period in which the speed rises [-].
    pub rising: f64,
    /// Forsman and Stattin: half periods that resemble the next, and how many could.
    pub similar: f64,
    pub comparable: f64,
    /// Miao and Seborg's ratio [-], and whether the autocorrelation has the same period.
    pub decay: f64,
    pub agrees: bool,
    /// Share of the half periods whose integrated error is above Hagglund's limit for half a [`REVERSAL`] [-].
    pub loads: f64,
    /// Means, for the price.
    pub flow_m3h: f64,
    pub head_kpa: f64,
}

/// What a pump's record shows.
#[derive(Debug, Default)]
pub(in crate::faults) struct Cycles {
    pub running_h: f64,
    pub chains: Vec<Chain>,
    /// Rows of swings that are too fast to be measured, of all swings faster than [`SLOWEST_H`], and of those in chains.
    pub fast_rows: f64,
    pub swinging_rows: f64,
    pub chained_rows: f64,
}

/// Cycles of one pump; `floor` is NaN where none is known.
pub(in crate::faults) fn of(case: &Case, pump: &PumpCase, floor: f64) -> Cycles {
    let to_rows = |hours: f64| (hours / case.step_h - 1e-9).ceil().max(2.0) as usize;
    let (settling, bridged) = (to_rows(SETTLING_H), to_rows(BRIDGED_H));
    let mut scan = Scan { case, floor, first: 0, values: Vec::new(), legs: Vec::new(), found: Cycles::default() };
    let (mut gap, mut on_before, mut settled) = (0, None, 0usize);
    for i in 0..case.rows() {
        if !(pump.state[i].turns() && pump.speed[i].is_finite()) {
            gap += 1;
            if pump.state[i] == State::Off || gap > bridged {
                scan.close();
                (settled, on_before) = (0, None);
            }
            continue;
        }
        scan.found.running_h += case.step_h;
        if on_before.is_some_and(|on| on != case.pumps_on[i]) {
            scan.close();
            settled = 0;
        }
        (settled, on_before) = (settled + 1, Some(case.pumps_on[i]));
        if settled > settling {
            scan.push(i, pump.speed[i]);
        }
        gap = 0;
    }
    scan.close();
    scan.found
}

/// A stretch of running on its way through the record.
struct Scan<'a> {
    case: &'a Case<'a>,
    floor: f64,
    first: usize,
    values: Vec<f64>,
    legs: Vec<Leg>,
    found: Cycles,
}

impl Scan<'_> {
    /// Takes a row in; rows missed since the last one lie on a straight line.
    fn push(&mut self, row: usize, speed: f64) {
        let Some(before) = self.values.last().copied() else {
            self.first = row;
            self.values.push(speed);
            return;
        };
        let steps = row + 1 - self.first - self.values.len();
        if steps == 1 {
            self.values.push(speed);
            if self.values.len() >= LONGEST {
                self.close();
            }
            return;
        }
        self.values.extend((1..=steps).map(|k| before + (speed - before) * k as f64 / steps as f64));
    }

    /// Ends the stretch.
    fn close(&mut self) {
        self.legs.clear();
        legs(&self.values, &mut self.legs);
        self.tally();
        let mut start = 0;
        for k in 2..self.legs.len() {
            if !self.goes_on(start, k) || (k - start) as f64 > 2.0 * MOST_CYCLES {
                self.chain(start, k);
                start = k - 1;
            }
        }
        self.chain(start, self.legs.len());
        self.values.clear();
    }

    /// Rows that swing at all, and those that do too fast.
    fn tally(&mut self) {
        let slowest = SLOWEST_H / self.case.step_h;
        let (mut fast, mut fast_legs) = (0.0, 0);
        for w in self.legs.windows(3) {
            let (period, half) = (w[2].at - w[0].at, w[2].at - w[1].at);
            if period <= slowest {
                self.found.swinging_rows += half;
            }
            if period < LEAST_ROWS {
                (fast, fast_legs) = (fast + half, fast_legs + 1);
                continue;
            }
            self.found.fast_rows += if fast_legs >= LEAST_FAST { fast } else { 0.0 };
            (fast, fast_legs) = (0.0, 0);
        }
        self.found.fast_rows += if fast_legs >= LEAST_FAST { fast } else { 0.0 };
    }

    /// Whether leg `k` continues the chain that began at `start`.
    fn goes_on(&self, start: usize, k: usize) -> bool {
        let period = self.legs[k].at - self.legs[k - 2].at;
        if period > SLOWEST_H / self.case.step_h {
            return false;
        }
        let whole = (k - 1 - start) / 2;
        let like = |a: f64, b: f64, limit: f64| a >= limit * b && b >= limit * a;
        let mean = (self.legs[start + 2 * whole].at - self.legs[start].at) / whole as f64;
        // The leg before the chain's first belongs to something else.
        let swing_known = k - 2 >= start;
        (whole == 0 || like(period, mean, LIKE_PERIOD))
            && (!swing_known || like(self.legs[k].swing(), self.legs[k - 2].swing(), LIKE_SWING))
    }

    /// Legs `start..end` as a chain, where they are enough.
    fn chain(&mut self, start: usize, end: usize) {
        let legs = &self.legs[start..end];
        let whole = legs.len().saturating_sub(1) / 2;
        let cycles = legs.len().saturating_sub(1) as f64 / 2.0;
        if cycles < LEAST_CYCLES {
            return;
        }
        let periods = || legs.windows(3).map(|w| w[2].at - w[0].at);
        let period = (legs[2 * whole].at - legs[0].at) / whole as f64;
        if period < LEAST_ROWS {
            return;
        }
        let (from, to) = (legs[0].at.ceil() as usize, legs[legs.len() - 1].at.floor() as usize + 1);
        let (deviation, halves) = less_level(&self.values, legs, from..to);
        let (decay, agrees) = repeats(&deviation, period);
        let limit = iae_limit(REVERSAL / 2.0, period);
        let up: Vec<&Leg> = legs.iter().filter(|l| l.to > l.from).collect();
        let down: Vec<&Leg> = legs.iter().filter(|l| l.to <= l.from).collect();
        let long = |l: &[&Leg]| mean(l.iter().map(|l| l.rows));
        let share = |n: usize, of: usize| n as f64 / of.max(1) as f64;
        let (first, last) = (self.first + from, self.first + to);
        self.found.chained_rows += legs[legs.len() - 1].at - legs[0].at;
        self.found.chains.push(Chain {
            first,
            last,
            cycles,
            period,
            period_squared: mean(periods().map(|p| p * p)) - mean(periods()).powi(2) + period * period,
            swing: median(legs.iter().map(Leg::swing)),
            low: median(up.iter().map(|l| l.from)),
            high: median(up.iter().map(|l| l.to)),
            on_floor: share(up.iter().filter(|l| l.from <= self.floor + ON_FLOOR).count(), up.len()),
            rising: long(&up) / (long(&up) + long(&down)),
            similar: forsman_stattin(&halves, ALIKE, ALIKE) * halves.len() as f64,
            comparable: halves.len() as f64 - 2.0,
            decay,
            agrees,
            loads: share(halves.iter().filter(|h| h.area >= limit).count(), halves.len()),
            flow_m3h: mean(self.case.loop_flow_m3h[first..last].iter().copied()),
            head_kpa: mean(self.case.loop_head_kpa[first..last].iter().copied()),
        });
    }
}
