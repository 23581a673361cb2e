//! What is said of a speed that stands.

use super::movers::{Moved, Strength};
use super::stays::{self, Stay};
use super::{FAULT, Judged, LEAST_HAND_H, LEAST_MOVING_H};
use crate::faults::rules::minimum_speed_too_high::asked_kpa;
use crate::faults::rules::{cannot_tell, lines, number};
use crate::faults::spread::median;
use crate::faults::{Case, Finding, PumpCase, Shown, Verdict, What, onset, price, say};
use crate::plant::{ControlMode, Role};
use crate::quantity::Fraction;

pub(super) fn found(case: &Case, pump: &PumpCase, days: &[stays::Day], hand: &[&Stay], judged: &Judged) -> Verdict {
    let proof = hand.iter().any(|s| s.moved.iter().any(|m| m.strength == Strength::Proof));
    let moved_elsewhere = judged.moving_h >= LEAST_MOVING_H;
    match case.plant.control.mode {
        None if !proof && !moved_elsewhere => {
            let why =
                "the speed never moves, and no control mode is declared: the pump may be meant to run at one speed";
            return cannot_tell(FAULT, pump.name, &["[control].mode"], why);
        }
        Some(ControlMode::External) if !proof => {
            let why =
                "the speed does not move, but something outside this loop sets it, and what that asks is not trended";
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
            "{} ran at {} of rated speed for {:.0} h on {} days ({} of its running hours since {}), while {}.",
            pump.name,
            say::percent(level),
            judged.hand_h,
            judged.days,
            say::percent(share),
            case.say_when(first),
            told.join(" and "),
        ),
        evidence: evidence(level, judged, &moved),
        could_also_be: could_be(case, judged, proof),
        check_on_site: lines(&[
            "Read the drive's panel: hand or automatic, and where its speed reference comes from.",
            "Read the controller's output and whether the point is overridden there; trend both for a day.",
            "Watch the pressure sensor and its setpoint while a valve is moved: a healthy drive answers within a minute.",
        ]),
        change: "Find out why the drive or its controller was put in hand; then return it to automatic.".into(),
        shown: Shown::new(&rows, What::Stands { level }),
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
        number("speed it held", level, "fraction", "moves with the load", "speed trend, running rows"),
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
