//! A speed that stands while what should move it moves: a drive in hand, or a control that never reaches it.
//!
//! Judged day by day: a day stands where one speed holds nearly all its running rows, or many hours at a stretch. Days that stand at one speed make a
//! stay; a stay counts where something moved in it that should have moved the speed (`fixed-speed/movers.rs`). The decision a reader would question:
//! a pump on its floor or flat out is not called in hand, unless the head says that its control would have left that end.

use super::minimum_speed_too_high::asked_kpa;
use super::{cannot_tell, clear, lines, number};
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Fault, Finding, PumpCase, Verdict, onset, price, say};
use crate::operating::State;
use crate::plant::{Control, ControlMode, HeadAt, Role};
use crate::quantity::Fraction;
use crate::regimes::CURVE_TOLERANCE;
use movers::{Moved, Strength};

#[path = "fixed-speed/movers.rs"]
mod movers;
#[path = "fixed-speed/stays.rs"]
mod stays;

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
    found(case, pump, &days, &hand, &judged)
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

/// Head that no control would hold at that end: far above what is asked at full speed, below it on the floor.
fn against_end(case: &Case, pump: &PumpCase, rows: &[usize], end: Kind) -> Option<Moved> {
    let design = case.design_head_kpa();
    let pipes = if case.plant.control.head_at == Some(HeadAt::Pump) { 0.0 } else { HEADER_LOSS };
    let mut excess: Vec<f64> = Vec::with_capacity(rows.len());
    let (mut known, mut beyond) = (0usize, 0usize);
    for &i in rows {
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
        let why = "the speed stands, and nothing is trended that should have moved it";
        return cannot_tell(FAULT, pump.name, &["pump-power", "pump-head", "valve-position"], why);
    }
    if full >= floor && full >= still && full > 0.0 {
        let why = format!(
            "for {full:.0} h it stands at full speed, and nothing shows a head above what is asked: a setpoint never met (too few \
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
    let why = "the speed stands, and so does what would move it: one steady load and a drive in hand look the same";
    cannot_tell(FAULT, pump.name, &["pump-mode", "weeks of another load"], why)
}

fn found(case: &Case, pump: &PumpCase, days: &[stays::Day], hand: &[&Stay], judged: &Judged) -> Verdict {
    let proof = hand.iter().any(|s| s.moved.iter().any(|m| m.strength == Strength::Proof));
    let moved_elsewhere = judged.moving_h >= LEAST_MOVING_H;
    match case.plant.control.mode {
        None if !proof && !moved_elsewhere => {
            let why =
                "the speed never moves, and no control mode is declared: the pump may be meant to run at one speed";
            return cannot_tell(FAULT, pump.name, &["[control].mode"], why);
        }
        Some(ControlMode::External) if !proof => {
            let why = "the speed stands, but something outside this loop sets it, and what that asks is not trended";
            return cannot_tell(FAULT, pump.name, &["pump-speed-command", "pump-mode"], why);
        }
        _ => {}
    }
    let rows: Vec<usize> = hand.iter().flat_map(|s| s.rows.iter().copied()).collect();
    let first = first_row(case, days, hand);
    let waste = price::waste(case, &rows, |i| (case.loop_flow_m3h[i], under_control_kpa(case, pump, i)));
    let level = median(hand.iter().map(|s| s.level));
    let moved = strongest(hand);
    let told: Vec<String> = moved.iter().take(3).map(|m| m.say()).collect();
    let share = judged.hand_h / judged.running_h;
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: pump.name.into(),
        urgency: price::urgency(case, waste, false),
        confidence: confidence(case, judged, &moved, proof, moved_elsewhere),
        first_seen_ms: case.time_ms[first],
        last_seen_ms: case.time_ms[rows[rows.len() - 1]],
        hours: judged.hand_h,
        waste_kwh: waste,
        waste_kwh_per_year: price::per_year(case, waste),
        caused_by: None,
        because: format!(
            "{} stood at {} of rated speed for {:.0} h on {} days ({} of its running hours since {}), while {}.{}",
            pump.name,
            say::percent(level),
            judged.hand_h,
            judged.days,
            say::percent(share),
            case.say_when(first),
            told.join(" and "),
            price::money(case, price::per_year(case, waste)),
        ),
        evidence: evidence(level, judged, &moved),
        could_also_be: could_be(case, judged, proof),
        check_on_site: lines(&[
            "Read the drive's panel: hand or automatic, and where its speed reference comes from.",
            "Read the controller's output and whether the point is overridden there; trend both for a day.",
            "Watch the pressure sensor and its setpoint while a valve is moved: a healthy drive answers within a minute.",
        ]),
        change: "Return the drive and its controller to automatic, and find out first why it was put in hand.".into(),
        caution: case.caution(
            "Whoever put it in hand may have had a reason: a failed sensor, a machine that trips on low flow.",
        ),
    }))
}

/// The first row of it: by change point where the share of the day that stands steps up, else the first stay's.
fn first_row(case: &Case, days: &[stays::Day], hand: &[&Stay]) -> usize {
    const STEP: f64 = 0.4;
    let in_hand = |d: usize| hand.iter().any(|s| s.days.contains(&d));
    let least_rows = 1.0 / case.step_h;
    let share = |(k, d): (usize, &stays::Day)| {
        if (d.running as f64) < least_rows {
            f64::NAN
        } else if in_hand(k) {
            d.held as f64 / d.running as f64
        } else {
            0.0
        }
    };
    let y: Vec<f64> = days.iter().enumerate().map(share).collect();
    let from = onset::step(&y, &[], 2)
        .filter(|s| s.t >= onset::BELIEVED && s.size >= STEP && s.before < 0.5 - STEP / 2.0)
        .map_or(0, |s| if s.at > 0 && in_hand(s.at - 1) { s.at - 1 } else { s.at });
    let since = days[from.min(days.len() - 1)].range.start;
    let all = || hand.iter().flat_map(|s| s.rows.iter().copied());
    all().find(|i| *i >= since).or_else(|| all().next()).unwrap_or(0)
}

/// Head with the control back: what is asked, but never above the head of the hour nor below what the floor makes [kPa].
fn under_control_kpa(case: &Case, pump: &PumpCase, i: usize) -> f64 {
    let head = case.loop_head_kpa[i];
    let floor = case.plant.control.minimum_speed.map_or(0.0, Fraction::in_of_one);
    let by_floor = head - pump.shut_off_kpa * (pump.speed[i].powi(2) - floor.powi(2));
    let asked = asked_kpa(case, pump, i);
    if asked.is_nan() { f64::NAN } else { asked.max(by_floor).min(head) }
}

/// What moved, one entry a kind, the strongest first.
fn strongest<'a>(hand: &[&'a Stay]) -> Vec<&'a Moved> {
    let mut best: Vec<&Moved> = Vec::new();
    for m in hand.iter().flat_map(|s| &s.moved) {
        match best.iter_mut().find(|b| b.name == m.name) {
            Some(b) if b.times < m.times => *b = m,
            Some(_) => {}
            None => best.push(m),
        }
    }
    best.sort_by(|a, b| a.strength.cmp(&b.strength).then(b.times.total_cmp(&a.times)));
    best
}

fn confidence(case: &Case, judged: &Judged, moved: &[&Moved], proof: bool, moved_elsewhere: bool) -> f64 {
    let strong = moved.iter().filter(|m| m.strength == Strength::Strong).count();
    let mut c = if judged.weak_only { 0.60 } else { 0.74 };
    c += if proof { 0.15 } else { 0.0 };
    c += 0.04 * strong.saturating_sub(1).min(3) as f64;
    c += if moved_elsewhere { 0.08 } else { 0.0 };
    c += 0.05 * (judged.days as f64 / 20.0).min(1.0);
    c -= if case.plant.control.mode.is_none() { 0.15 } else { 0.0 };
    c.clamp(0.5, 0.97)
}

fn evidence(level: f64, judged: &Judged, moved: &[&Moved]) -> Vec<crate::faults::Evidence> {
    let mut out = vec![
        number("speed it stood at", level, "fraction", "moves with the load", "speed trend, running rows"),
        number(
            "hours it stood",
            judged.hand_h,
            "h",
            format!("below {LEAST_HAND_H:.0}"),
            "days on which one speed holds",
        ),
    ];
    out.extend(moved.iter().take(5).map(|m| m.evidence()));
    out
}

fn could_be(case: &Case, judged: &Judged, proof: bool) -> Vec<String> {
    let mut out = Vec::new();
    if !judged.told {
        let auto = case.trends.iter().any(|t| t.role == Role::PumpMode);
        out.push(if auto {
            "an override in the controller's software, since the mode point does not say hand".to_owned()
        } else {
            "an override in the controller's software instead of a drive in hand".to_owned()
        });
    }
    if !proof {
        out.push("a speed reading that is frozen while the drive follows its control".to_owned());
    }
    if judged.weak_only {
        out.push(
            "a loop whose resistance hardly changes (three-way valves), where control holds one speed too".to_owned(),
        );
    }
    out.push("a speed limit set in the drive (equal minimum and maximum)".to_owned());
    out
}

/// Whether a pump's row is one with its speed known, past its start.
fn running(state: State) -> bool {
    matches!(state, State::Steady | State::Transient)
}
