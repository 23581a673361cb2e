//! A speed that stands while what should move it moves: a drive in hand, or a control that never reaches it.
//!
//! Judged day by day: a day stands where one speed holds nearly all its running rows, or many hours at a stretch. Days that stand at one speed make a
//! stay; a stay counts where something moved in it that should have moved the speed (`fixed-speed/movers.rs`). The decision a reader would question:
//! a pump on its floor or flat out is not called in hand, unless the head says that its control would have left that end.
//! `fixed-speed/told.rs` is what is said.

use super::minimum_speed_too_high::asked_kpa;
use super::off_control_curve::head_is_read;
use super::setpoint_too_high::{PEGGED, widest};
use super::{cannot_tell, clear};
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Fault, PumpCase, Verdict, say};
use crate::operating::State;
use crate::plant::{Control, ControlMode, HeadAt};
use crate::quantity::Fraction;
use crate::regimes::{CURVE_TOLERANCE, Regime};
use movers::{Moved, Strength};

#[path = "fixed-speed/movers.rs"]
mod movers;
#[path = "fixed-speed/stays.rs"]
mod stays;
#[path = "fixed-speed/told.rs"]
mod told;

use stays::{Kind, Stay};

const FAULT: Fault = Fault::FixedSpeed;
/// Running hours with a known speed that the record must have [h].
const LEAST_RUNNING_H: f64 = 12.0;
/// In hand from so many hours, days and share of the running hours on [h], [days], [-]: a service visit in hand is shorter.
const LEAST_HAND_H: f64 = 12.0;
const LEAST_HAND_DAYS: usize = 3;
const LEAST_SHARE: f64 = 0.10;
/// Where temperatures alone witness it, it takes more days [days].
const LEAST_WEAK_DAYS: usize = 5;
/// Hours in which the speed moves that make the rest of the record health [h].
const LEAST_MOVING_H: f64 = 12.0;
/// Within this of its floor or its full speed a pump is at that end [-]: slip, and drives that report whole per cents.
const AT_END: f64 = 0.012;
/// Share of a stay's rows in which the head must contradict an end [-].
const CONTRADICTS: f64 = 0.25;
/// Head above the curve that pipe parts between pump and header may take, of the design head [-]; as in the regimes.
const HEADER_LOSS: f64 = 0.12;
/// How much more must move at a pump's own lowest speed [-].
const AT_LOWEST: f64 = 1.5;
/// Power at the low end of a stay at full speed over that at its high end, below which the pump was throttled far back on its curve [-]: near shut-off it
/// makes more than its design head, which no curve asks (common practice, no source).
const THROTTLED_POWER: f64 = 0.75;

/// One verdict a pump.
pub fn judge(case: &Case) -> Vec<Verdict> {
    case.pumps.iter().map(|p| judge_pump(case, p)).collect()
}

fn judge_pump(case: &Case, pump: &PumpCase) -> Verdict {
    if let Some(why) = meant_to_stand(&case.plant.control) {
        return cannot_tell(FAULT, pump.name, &[], why);
    }
    let running = (0..case.rows()).filter(|&i| stays::runs(case, pump, i)).count() as f64 * case.step_h;
    if running < LEAST_RUNNING_H {
        let why = format!("fewer than {LEAST_RUNNING_H:.0} running hours with a known speed");
        return cannot_tell(FAULT, pump.name, &["pump-speed"], why);
    }
    let mut days = stays::days(case, pump);
    let stays: Vec<Stay> =
        stays::gather(case, pump, &mut days, |rows, level, coarse| weigh(case, pump, rows, level, coarse));
    let hand: Vec<&Stay> = stays.iter().filter(|s| s.kind == Kind::Hand).collect();
    let judged = Judged::new(case, &days, &hand, running);
    if !judged.enough() {
        return not_in_hand(case, pump, &stays, &judged);
    }
    told::found(case, pump, &days, &hand, &judged)
}

/// Why one speed is what this control is meant to hold; `None` where it is not.
fn meant_to_stand(control: &Control) -> Option<&'static str> {
    match control.mode {
        Some(ControlMode::FixedSpeed) => Some("the pump is declared to run at a fixed speed: that it does is no fault"),
        Some(ControlMode::ConstantFlow) => Some(
            "the declared control holds one flow: with a loop that does not change, one speed is what it should show",
        ),
        _ => None,
    }
}

/// What holds a stay: a hand, an end of the speed range, or nothing that would have moved it.
fn weigh(case: &Case, pump: &PumpCase, rows: &[usize], level: f64, coarse: bool) -> (Kind, Vec<Moved>) {
    let end = end_of_range(case, pump, rows[0], level);
    let mut moved = movers::moved(case, pump, rows, coarse);
    moved.extend(movers::command(case, pump, rows, level, end));
    moved.extend(movers::mode(case, pump, rows));
    if moved.iter().any(|m| m.strength == Strength::Proof) {
        return (Kind::Hand, moved);
    }
    if movers::follows(case, pump, rows) {
        return (Kind::Follows, moved);
    }
    if let Some(end) = end {
        let contradicted = against_end(case, pump, rows, end);
        let kind = if contradicted.is_some() { Kind::Hand } else { end };
        moved.extend(contradicted);
        return (kind, moved);
    }
    let lowest = at_its_lowest(case, pump, level);
    let least = if lowest { AT_LOWEST } else { 1.0 };
    let kind = if moved.iter().any(|m| m.strength == Strength::Strong && m.times >= least) {
        Kind::Hand
    } else if movers::temperatures_tell(&moved) && !lowest {
        Kind::HandByTemperatures
    } else {
        Kind::Still
    };
    (kind, moved)
}

/// Whether a speed is the lowest of a pump that also runs faster: near no flow a curve rests there by itself.
fn at_its_lowest(case: &Case, pump: &PumpCase, level: f64) -> bool {
    const NEAR: f64 = 0.03;
    const FASTER: f64 = 0.05;
    let stride = case.rows().div_ceil(4000).max(1);
    let sampled = || (0..case.rows()).step_by(stride).filter(|&i| stays::runs(case, pump, i)).map(|i| pump.speed[i]);
    level <= quantile(sampled(), 0.02) + NEAR && quantile(sampled(), 0.90) > level + FASTER
}

/// Which end of the speed range a level is at.
fn end_of_range(case: &Case, pump: &PumpCase, row: usize, level: f64) -> Option<Kind> {
    let control = case.plant.control_at(case.time_ms[row]);
    let ceiling = control.maximum_speed.map_or(1.0, Fraction::in_of_one);
    let floor = case.floor_at(pump, case.time_ms[row]);
    if level >= ceiling - AT_END {
        Some(Kind::Full)
    } else {
        floor.is_some_and(|(f, _)| level <= f + AT_END).then_some(Kind::Floor)
    }
}

/// Between its ends the pump is off the declared curve to that side longer than on it: then it is the setting that differs, and its control reaches
/// the end by itself.
fn set_otherwise(case: &Case, pump: &PumpCase, end: Kind) -> bool {
    let side = if end == Kind::Full { Regime::AboveCurve } else { Regime::BelowCurve };
    let hours = |wanted: Regime| pump.regime.iter().filter(|r| **r == wanted).count() as f64 * case.step_h;
    hours(side) >= LEAST_MOVING_H && hours(side) > hours(Regime::OnCurve)
}

/// Head that no control would hold at that end: far above what is asked at full speed, below it on the floor. A valve at its end calls for all the
/// flow there is, and a head from the pump's table that lies far above the curve all the same is the table's error, not a drive's: left out.
fn against_end(case: &Case, pump: &PumpCase, rows: &[usize], end: Kind) -> Option<Moved> {
    let design = case.design_head_kpa();
    let pipes = if case.plant.control.head_at == Some(HeadAt::Pump) { 0.0 } else { HEADER_LOSS };
    let mut excess: Vec<f64> = Vec::with_capacity(rows.len());
    let (mut known, mut beyond) = (0usize, 0usize);
    let calls = |i: usize| end == Kind::Full && !head_is_read(case) && widest(case, i) >= PEGGED;
    for &i in rows {
        if calls(i) {
            continue;
        }
        let asked = asked_kpa(case, pump, i);
        let scale = if design.is_finite() { design } else { asked };
        let off = pump.head_kpa[i] - asked;
        if !off.is_finite() {
            continue;
        }
        known += 1;
        let out = match end {
            Kind::Full => pump.head_low_kpa[i] - asked > (CURVE_TOLERANCE + pipes) * scale,
            _ => asked - pump.head_high_kpa[i] > CURVE_TOLERANCE * scale,
        };
        if out {
            beyond += 1;
            excess.push(off);
        }
    }
    if known * 2 >= rows.len() {
        if set_otherwise(case, pump, end) {
            return None;
        }
        let contradicts = beyond as f64 >= CONTRADICTS * known as f64;
        return contradicts
            .then(|| Moved::head_off_curve(median(excess.iter().copied()), beyond as f64 / known as f64));
    }
    if end != Kind::Full {
        return None;
    }
    let power = |share| quantile(rows.iter().map(|&i| pump.power_kw[i]), share);
    let (low, high) = (power(0.05), power(0.95));
    (low > 0.0 && low < THROTTLED_POWER * high).then(|| Moved::throttled_at_full(low, high))
}

/// The sums a verdict rests on.
struct Judged {
    running_h: f64,
    hand_h: f64,
    days: usize,
    moving_h: f64,
    weak_only: bool,
    /// A mode point says hand.
    told: bool,
}

impl Judged {
    fn new(case: &Case, days: &[stays::Day], hand: &[&Stay], running_h: f64) -> Self {
        let hours = |rows: usize| rows as f64 * case.step_h;
        let strengths = || hand.iter().flat_map(|s| &s.moved).map(|m| m.strength);
        Self {
            running_h,
            hand_h: hours(hand.iter().map(|s| s.rows.len()).sum()),
            days: hand.iter().map(|s| s.days.len()).sum(),
            moving_h: hours(days.iter().filter(|d| !d.stands()).map(|d| d.running).sum()),
            weak_only: strengths().all(|s| s == Strength::Weak),
            told: hand.iter().any(|s| s.moved.iter().any(|m| m.is_mode)),
        }
    }
    fn enough(&self) -> bool {
        let days = if self.weak_only { LEAST_WEAK_DAYS } else { LEAST_HAND_DAYS };
        self.hand_h >= LEAST_HAND_H && self.days >= days && self.hand_h >= LEAST_SHARE * self.running_h
    }
}

fn not_in_hand(case: &Case, pump: &PumpCase, stays: &[Stay], judged: &Judged) -> Verdict {
    let hours =
        |kind: Kind| stays.iter().filter(|s| s.kind == kind).map(|s| s.rows.len()).sum::<usize>() as f64 * case.step_h;
    let (full, floor, still) = (hours(Kind::Full), hours(Kind::Floor), hours(Kind::Still));
    let on_curve = hours(Kind::Follows);
    if judged.moving_h + on_curve >= LEAST_MOVING_H {
        let seen = format!(
            "one speed held, between its floor and full speed, for at least {} of the running hours and {LEAST_HAND_DAYS} days while head, \
             power, flow or valves moved",
            say::percent(LEAST_SHARE)
        );
        return clear(FAULT, pump.name, seen);
    }
    if !movers::any_trended(case, pump) {
        let why = "the speed does not move, and nothing is trended that should have moved it";
        return cannot_tell(FAULT, pump.name, &["pump-power", "pump-head", "valve-position"], why);
    }
    if full >= floor && full >= still && full > 0.0 {
        let why = format!(
            "for {full:.0} h it runs at full speed, and nothing shows a head above what is asked: a setpoint never met (too few \
             pumps, a setting out of reach) looks the same as a drive in hand"
        );
        return cannot_tell(FAULT, pump.name, &["pump-mode", "pump-head"], why);
    }
    if floor >= still && floor > 0.0 {
        let why = format!(
            "for {floor:.0} h it rests on its speed floor, where its control would hold it too; nothing else was seen"
        );
        return cannot_tell(FAULT, pump.name, &["pump-mode", "weeks of higher load"], why);
    }
    let why = "neither the speed nor what would move it changed: one steady load and a drive in hand look the same";
    cannot_tell(FAULT, pump.name, &["pump-mode", "weeks of another load"], why)
}

/// Whether a pump's row is one with its speed known, past its start.
fn running(state: State) -> bool {
    matches!(state, State::Steady | State::Transient)
}
