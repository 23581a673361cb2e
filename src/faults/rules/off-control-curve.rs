//! Steady points off the configured control curve, at neither speed floor nor full speed.
//!
//! Errors common to all rows can put a whole month off a curve, so an offset that is there from the first day must
//! be far beyond the interval; one that came during the record is held against the days before it. A head that moved
//! while the pump stayed on its own line of power and head is a reading (or a pump) that moved, not a control; and a
//! speed that stands still is a fixed speed, not a curve. Start at [`judge`]; `excess.rs` is the distance from the curve,
//! `own_line.rs` the pump's own line, `told.rs` what is said.

#[path = "off-control-curve/day.rs"]
mod day;
#[path = "off-control-curve/doubts.rs"]
mod doubts;
#[path = "off-control-curve/excess.rs"]
mod excess;
#[path = "off-control-curve/own_line.rs"]
mod own_line;
#[path = "off-control-curve/told.rs"]
mod told;

use super::{cannot_tell, clear};
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Fault, Verdict, onset};
use crate::plant::{ControlMode, Reset};
use crate::regimes::Regime;
use day::{Day, day};
pub(super) use excess::head_is_read;
use excess::{allowance_kpa, excess_kpa, half_kpa, reference_head_kpa};

const FAULT: Fault = Fault::OffControlCurve;
/// A day is judged on at least this many hours at neither end of the speed range [h].
const LEAST_DAY_H: f64 = 1.0;
/// A day is off the curve when at least this share of them is, one way [-].
const DAY_OFF: f64 = 0.5;
/// A day keeps the curve when at most this share is off [-]: one row in twenty is expected outside a 95 % interval.
const DAY_ON: f64 = 0.10;
/// Found from this many hours off the curve, on at least so many days [h, days]: less is a test or a hand run.
const LEAST_OFF_H: f64 = 8.0;
const LEAST_DAYS: usize = 2;
/// Days that keep the curve needed to hold the others against [days].
const LEAST_GOOD_DAYS: usize = 2;
/// How far an excess must move within the record to be a change, in design heads [-]: common errors cancel, dead bands stay.
const CHANGE: f64 = 0.05;
/// How many half intervals an offset from the first day must reach [-]: two are about four standard deviations.
const FROM_FIRST_DAY: f64 = 2.0;
/// A head interval wider than this, each way, in design heads, hides too much to call the curve kept [-].
const TOO_WIDE: f64 = 0.10;
/// Rows of which a middle half width is taken; more would add time, not knowledge [-].
const MOST_ROWS: usize = 2000;
/// Hours at neither end that the record must have to be judged at all [h].
const LEAST_JUDGED_H: f64 = 6.0;

/// Judges the loop, or the one pump among several that leaves the curve.
pub fn judge(case: &Case) -> Vec<Verdict> {
    if let Some(v) = not_judgeable(case) {
        return vec![v];
    }
    let all: Vec<usize> = (0..case.pumps.len()).collect();
    let one_by_one: Vec<Tally> = all.iter().map(|p| Tally::new(case, &[*p])).collect();
    let off = one_by_one.iter().filter(|t| t.enough_off(case)).count();
    let with_hours = one_by_one.iter().filter(|t| t.judged_h(case) >= LEAST_JUDGED_H).count();
    if off > 0 && off < with_hours {
        let named = one_by_one.iter().zip(&case.pumps).filter(|(t, _)| t.judged_h(case) >= LEAST_JUDGED_H);
        return named.map(|(t, p)| t.verdict(case, p.name)).collect();
    }
    let together = match <[Tally; 1]>::try_from(one_by_one) {
        Ok([alone]) => alone,
        Err(_) => Tally::new(case, &all),
    };
    vec![together.verdict(case, "loop")]
}

fn not_judgeable(case: &Case) -> Option<Verdict> {
    let mode = case.plant.control.mode;
    let why = match mode {
        None => return Some(cannot_tell(FAULT, "loop", &["[control].mode"], "no control curve is declared")),
        Some(ControlMode::Temperature | ControlMode::DeltaTemperature | ControlMode::External) => {
            "the declared control sets the speed by something other than pressure"
        }
        Some(ControlMode::FixedSpeed | ControlMode::ConstantFlow) => "the declared control has no head to keep",
        Some(ControlMode::ConstantPressure | ControlMode::RemotePressure) if setpoint_unknown(case) => {
            let why = "a reset moves the setpoint and its trend is missing, so where the head should be is not known";
            return Some(cannot_tell(FAULT, "loop", &["differential-pressure-setpoint"], why));
        }
        Some(_) if !head_is_read(case) => {
            let why =
                "no head is read: one taken from the pump's table would show the table's own errors as a wrong curve";
            return Some(cannot_tell(FAULT, "loop", &["pump-head or differential-pressure"], why));
        }
        Some(_) => return None,
    };
    Some(cannot_tell(FAULT, "loop", &[], why))
}

/// Whether the setpoint moves by a reset that nobody trends.
fn setpoint_unknown(case: &Case) -> bool {
    let moves = case.plant.control.reset.is_some_and(|r| r != Reset::None);
    moves && !case.dp_setpoint_kpa.is_some_and(|s| s.iter().any(|v| v.is_finite()))
}

/// The rows judged of some pumps.
struct Tally {
    pumps: Vec<usize>,
    days: Vec<Day>,
    /// Row and pump of points off the curve on days that are off it, one way.
    off: Vec<(usize, usize)>,
    up: bool,
    half_kpa: f64,
}

impl Tally {
    fn new(case: &Case, pumps: &[usize]) -> Self {
        let days: Vec<Day> = case.days().into_iter().map(|rows| day(case, pumps, rows)).collect();
        let least = LEAST_DAY_H / case.step_h;
        let counts = |d: &&Day, n: usize| d.judged as f64 >= least && n as f64 >= DAY_OFF * d.judged as f64;
        let above: usize = days.iter().filter(|d| counts(d, d.above)).map(|d| d.above).sum();
        let below: usize = days.iter().filter(|d| counts(d, d.below)).map(|d| d.below).sum();
        let judged: Vec<(usize, usize)> = pumps
            .iter()
            .flat_map(|p| (0..case.rows()).filter(|i| is_judged(case.pumps[*p].regime[*i])).map(|i| (i, *p)))
            .collect();
        let stride = judged.len().div_ceil(MOST_ROWS).max(1);
        let half_kpa = median(judged.iter().step_by(stride).map(|(i, p)| half_kpa(case, *p, *i)));
        let mut tally = Self { pumps: pumps.to_vec(), days, off: Vec::new(), up: above >= below, half_kpa };
        tally.off = tally.rows_off(case);
        tally
    }

    fn wanted(&self) -> Regime {
        if self.up { Regime::AboveCurve } else { Regime::BelowCurve }
    }

    fn is_off(&self, case: &Case, d: &Day) -> bool {
        let n = if self.up { d.above } else { d.below };
        d.judged as f64 * case.step_h >= LEAST_DAY_H && n as f64 >= DAY_OFF * d.judged as f64
    }

    fn is_on(case: &Case, d: &Day) -> bool {
        d.judged as f64 * case.step_h >= LEAST_DAY_H && (d.above + d.below) as f64 <= DAY_ON * d.judged as f64
    }

    fn rows_off(&self, case: &Case) -> Vec<(usize, usize)> {
        let mut off = Vec::new();
        for (d, rows) in self.days.iter().zip(case.days()) {
            if self.is_off(case, d) {
                for i in rows {
                    off.extend(
                        self.pumps.iter().filter(|p| case.pumps[**p].regime[i] == self.wanted()).map(|p| (i, *p)),
                    );
                }
            }
        }
        off
    }

    fn judged_h(&self, case: &Case) -> f64 {
        self.days.iter().map(|d| d.judged).sum::<usize>() as f64 * case.step_h
    }

    /// Hours off the curve: rows, not pumps.
    fn off_rows(&self) -> Vec<usize> {
        let mut rows: Vec<usize> = self.off.iter().map(|o| o.0).collect();
        rows.dedup();
        rows
    }

    fn enough_off(&self, case: &Case) -> bool {
        let days = self.days.iter().filter(|d| self.is_off(case, d)).count();
        self.off_rows().len() as f64 * case.step_h >= LEAST_OFF_H && days >= LEAST_DAYS
    }

    fn verdict(&self, case: &Case, subject: &str) -> Verdict {
        let design = reference_head_kpa(case);
        if self.judged_h(case) < LEAST_JUDGED_H {
            let flow_known = case.loop_flow_m3h.iter().any(|q| *q > 0.0);
            return if !flow_known {
                let why = "what the curve asks hangs on the flow, and the flow is not known";
                cannot_tell(FAULT, subject, &["loop-flow", "pump.curve"], why)
            } else {
                let missing = ["pump-head", "pump-power with a pump curve"];
                let why = "fewer than six steady hours with a known head between speed floor and full speed";
                cannot_tell(FAULT, subject, &missing, why)
            };
        }
        if !self.enough_off(case) {
            return self.moved(case, subject, design).unwrap_or_else(|| self.kept(case, subject, design));
        }
        if self.speed_stands(case) {
            let why = "the speed stands still while the flow moves: a fixed speed crosses every curve; see fixed-speed";
            return cannot_tell(FAULT, subject, &[], why);
        }
        let excess = median(self.off.iter().map(|(i, p)| excess_kpa(case, *p, *i)));
        let change = self.change(case, excess);
        let honest = if self.up { median(self.off.iter().map(|(i, _)| allowance_kpa(case, *i))) } else { 0.0 };
        let far = excess.abs() >= honest + FROM_FIRST_DAY * self.half_kpa + crate::regimes::CURVE_TOLERANCE * design;
        if let Some(v) = self.by_the_reading(case, subject, change) {
            return v;
        }
        if !change.is_some_and(|c| c.abs() >= CHANGE * design) && !far {
            let why = format!(
                "the points lie {} {} the curve, which errors common to all rows (interval {} each way) could make too",
                case.say_head(excess.abs()),
                if self.up { "above" } else { "below" },
                case.say_head(self.half_kpa)
            );
            return cannot_tell(FAULT, subject, &["a pressure reading at the pump good to 2 %"], why);
        }
        self.found(case, subject, excess, change)
    }

    fn kept(&self, case: &Case, subject: &str, design: f64) -> Verdict {
        if self.half_kpa > TOO_WIDE * design || !design.is_finite() {
            let why = format!("the head is known only to {} each way", case.say_head(self.half_kpa));
            return cannot_tell(FAULT, subject, &["pump-head"], why);
        }
        let least = self.half_kpa + crate::regimes::CURVE_TOLERANCE * design;
        clear(
            FAULT,
            subject,
            format!("points {} or more off the curve for {LEAST_OFF_H} h on {LEAST_DAYS} days", case.say_head(least)),
        )
    }

    /// How far the excess of the days off stands from that of the days on, at flows both have seen [kPa].
    fn change(&self, case: &Case, excess: f64) -> Option<f64> {
        let flows = |i: &(usize, usize)| case.loop_flow_m3h[i.0];
        let (low, high) = (quantile(self.off.iter().map(flows), 0.05), quantile(self.off.iter().map(flows), 0.95));
        let mut good = Vec::new();
        let mut good_days = 0;
        for (d, rows) in self.days.iter().zip(case.days()) {
            if Self::is_on(case, d) {
                let before = good.len();
                for i in rows {
                    let like = case.loop_flow_m3h[i] >= low && case.loop_flow_m3h[i] <= high;
                    let judged = self.pumps.iter().filter(|p| like && is_judged(case.pumps[**p].regime[i]));
                    good.extend(judged.map(|p| excess_kpa(case, *p, i)));
                }
                good_days += usize::from(good.len() > before);
            }
        }
        (good_days >= LEAST_GOOD_DAYS).then(|| excess - median(good))
    }

    /// First row of the deviation: that of the first day off, unless a believed step says a later day.
    fn first_row(&self, case: &Case) -> usize {
        let daily: Vec<f64> = self.days.iter().map(|d| d.excess_kpa).collect();
        let first_day = self.days.iter().position(|d| self.is_off(case, d)).unwrap_or(0);
        let step = onset::step(&daily, &[], 2).filter(|s| s.t >= onset::BELIEVED && (s.size > 0.0) == self.up);
        let begun = step.map_or(0, |s| if s.at > first_day + 1 { self.days[s.at].first } else { 0 });
        self.off.iter().map(|o| o.0).find(|i| *i >= begun).unwrap_or(begun)
    }
}

fn is_judged(regime: Regime) -> bool {
    matches!(regime, Regime::OnCurve | Regime::AboveCurve | Regime::BelowCurve)
}
