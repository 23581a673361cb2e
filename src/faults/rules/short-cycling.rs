//! Starts that come too often.
//!
//! By the drive's own starts counter at any interval, else by status and speed where five rows lie between two starts at the limit. The
//! decision a reader would question: the limit is what pumps do in good practice, below what most motors bear; the motor's own limit is
//! evidence beside it, since it holds for starts across the line and a drive's ramp is easier on the motor.

use super::{cannot_tell, clear, lines, number};
use crate::faults::starts::{self, Busy, StartsLimit};
use crate::faults::{Case, Fault, Finding, PumpCase, Shown, Urgency, Verdict, What, onset, price};
use crate::plant::{Pump, Role};
use crate::quantity::{Power, ShaftSpeed};

const FAULT: Fault = Fault::ShortCycling;
/// Starts an hour from which a pump cycles [1/h], in the mean of so many hours [h]: a pump holds what it started for, and even a thermostat asks
/// for two an hour at most (common practice, no source).
const TOO_OFTEN: f64 = 3.0;
const OVER_H: f64 = 2.0;
/// Found from so many hours [h] on so many days: less is a trial or a commissioning morning.
const LEAST_H: f64 = 4.0;
const LEAST_DAYS: usize = 3;
/// Starts an hour over all those hours, of the limit [-]: two hours can hold one start more than their mean.
const ALL_TOLD: f64 = 0.97;
/// Rows between two starts at the limit [rows], where a status tells.
const ROWS_A_CYCLE: f64 = 5.0;
/// Observed hours the record must have [h].
const LEAST_SEEN_H: f64 = 24.0;
/// Faster than this a four-pole or slower motor cannot turn at 60 Hz [rpm].
const TWO_POLES_FROM_RPM: f64 = 2000.0;
/// Share of the starts beside a running pump, from which it is staging that cycles [-].
const BESIDE: f64 = 0.6;

/// One verdict a pump.
pub fn judge(case: &Case) -> Vec<Verdict> {
    case.pumps.iter().map(|p| judge_pump(case, p)).collect()
}

/// Starts as a witness tells them.
struct Told {
    starts: Vec<f32>,
    counter: bool,
    checked: bool,
    seen_h: f64,
}

fn judge_pump(case: &Case, pump: &PumpCase) -> Verdict {
    let limit = motor_limit(pump.declared);
    let too_often = limit.map_or(TOO_OFTEN, |l| l.per_hour.min(TOO_OFTEN));
    let Some(mut told) = told(case, pump, too_often) else {
        let why = format!(
            "rows {:.0} min apart are too long for a status to show {too_often:.0} starts an hour, and no starts counter is trended",
            case.step_h * 60.0
        );
        return cannot_tell(FAULT, pump.name, &["pump-starts, or pump-status every 4 min or finer"], why);
    };
    if told.seen_h < LEAST_SEEN_H {
        let why = format!("fewer than {LEAST_SEEN_H:.0} h in which starts could be seen");
        return cannot_tell(FAULT, pump.name, &["pump-status"], why);
    }
    // Frost protection by a thermostat cycles on purpose.
    let on_purpose = |i: usize| case.frost[i] && !case.in_schedule[i];
    told.starts.iter_mut().enumerate().filter(|(i, _)| on_purpose(*i)).for_each(|(_, s)| *s = 0.0);
    let busy = starts::busy(case, &told.starts, too_often, OVER_H);
    let often = busy.hours >= LEAST_H && busy.mean >= ALL_TOLD * too_often;
    if often && busy.days >= LEAST_DAYS {
        return found(case, pump, &told, &busy, limit, too_often);
    }
    if often {
        let why = format!(
            "{too_often:.0} starts an hour and more for {:.0} h, but on so few days ({}) that trials and commissioning look the same",
            busy.hours, busy.days
        );
        return cannot_tell(FAULT, pump.name, &[], why);
    }
    clear(
        FAULT,
        pump.name,
        format!(
            "{LEAST_H:.0} h, over {LEAST_DAYS} days, with {too_often:.0} starts an hour or more; the busiest hour had {:.0}",
            busy.busiest
        ),
    )
}

/// By the counter, else by the state; `None` where neither can.
fn told(case: &Case, pump: &PumpCase, too_often: f64) -> Option<Told> {
    let hours = |n: usize| n as f64 * case.step_h;
    if let Some(counter) = case.trend(Role::PumpStarts, Some(pump.name)) {
        let seen_h = hours(counter.iter().filter(|v| v.is_finite()).count());
        if seen_h >= LEAST_SEEN_H {
            return Some(Told { starts: starts::by_counter(case, counter), counter: true, checked: true, seen_h });
        }
    }
    if case.step_h * ROWS_A_CYCLE > 1.0 / too_often + 1e-9 {
        return None;
    }
    let seen_h = hours(pump.state.iter().filter(|s| **s != crate::operating::State::Unknown).count());
    let (starts, _, checked) = starts::by_state(case, pump);
    Some(Told { starts, counter: false, checked, seen_h })
}

/// What the motor bears across the line; `None` where its size is not declared.
fn motor_limit(pump: &Pump) -> Option<StartsLimit> {
    let two_poles = pump.rated_speed.is_some_and(|s| ShaftSpeed::in_rpm(s) > TWO_POLES_FROM_RPM);
    pump.motor_power.map(|p| starts::across_the_line(Power::in_hp(p), two_poles, None))
}

fn found(
    case: &Case,
    pump: &PumpCase,
    told: &Told,
    busy: &Busy,
    limit: Option<StartsLimit>,
    too_often: f64,
) -> Verdict {
    let (first, last) = (began(case, busy), busy.rows[busy.rows.len() - 1]);
    let beside = beside_another(case, pump, told, busy);
    let over = |v: f64, from: f64, to: f64| ((v - from) / (to - from)).clamp(0.0, 1.0);
    let base = if told.counter {
        0.82
    } else if told.checked {
        0.78
    } else {
        0.60
    };
    let margin = 0.08 * over(busy.mean, too_often, 2.0 * too_often) + 0.06 * over(busy.hours, LEAST_H, 24.0);
    let motor = limit.map_or_else(
        || "The motor's size is not declared, so its own limit is not known.".to_owned(),
        |l| {
            format!(
                "Started across the line its motor bears {:.1} an hour; a drive's ramp is easier on it.",
                l.per_hour
            )
        },
    );
    let lag = if beside {
        " It starts beside another pump that runs on: the thresholds that stage it lie too near each other."
    } else {
        ""
    };
    let witness = if told.counter { "starts counter" } else { "status and speed" };
    let mut evidence = vec![
        number("starts an hour in those hours", busy.mean, "1/h", format!("below {too_often:.0}"), witness),
        number("busiest hour", busy.busiest, "1/h", format!("below {too_often:.0}"), witness),
        number("days on which it cycles", busy.days as f64, "d", "none", witness),
    ];
    if let Some(l) = limit {
        evidence.push(number(
            "starts an hour that the motor stands across the line",
            l.per_hour,
            "1/h",
            "more than it makes",
            "NEMA MG 10, Table 2-3, A",
        ));
    }
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: pump.name.into(),
        urgency: price::urgency(case, None, false).max(Urgency::Plan),
        confidence: (base + margin).min(0.95),
        first_seen_ms: case.time_ms[first],
        last_seen_ms: case.time_ms[last],
        hours: busy.hours,
        waste_kwh: None,
        waste_kwh_per_year: None,
        caused_by: None,
        because: format!(
            "{} starts {:.1} times an hour for {:.0} h on {} days, {:.0} times in the busiest hour.{lag} {motor}",
            pump.name, busy.mean, busy.hours, busy.days, busy.busiest
        ),
        evidence,
        could_also_be: could_also_be(told),
        check_on_site: lines(&[
            "Read the drive's starts counter and its fault log; watch three cycles at the panel.",
            "See what ends each run: a flow or pressure switch, a temperature that is met at once, a thermostat, a drive trip with automatic restart, a staging threshold.",
            "Compare minimum run and rest times in the controller with what the motor's maker allows.",
        ]),
        change: "Give the pump a minimum run and rest time (ten minutes each is common practice), widen the difference between what starts and what stops it, \
                 and mend the switch or sensor that ends its runs."
            .into(),
        shown: Shown::new(&busy.rows, What::Starts { starts: started(told), too_often }), caution: case.caution("A pump that restarts by itself can start while someone works on it."),
    }))
}

/// Rows with a start, and how often.
fn started(told: &Told) -> Vec<(u32, f32)> {
    (0u32..).zip(told.starts.iter().copied()).filter(|(_, s)| *s > 0.0).collect()
}

fn could_also_be(told: &Told) -> Vec<String> {
    let mut also = lines(&["a drive that trips and restarts by itself"]);
    if told.counter {
        also.push("a counter that counts enable signals or power-ups, not starts".into());
    } else if !told.checked {
        also.push("a status point that flickers while the pump runs on: no speed or power is trended to tell".into());
    }
    also
}

/// Whether most of its starts came while another pump ran on.
fn beside_another(case: &Case, pump: &PumpCase, told: &Told, busy: &Busy) -> bool {
    let others = |i: usize| {
        case.pumps.iter().any(|p| {
            p.name != pump.name
                && matches!(p.state[i], crate::operating::State::Steady | crate::operating::State::Transient)
        })
    };
    let started: Vec<usize> = busy.rows.iter().copied().filter(|i| told.starts[*i] > 0.5).collect();
    started.iter().filter(|i| others(**i)).count() as f64 > BESIDE * started.len() as f64
}

/// The first row, or that of the day on which the busy hours stepped up from nothing.
fn began(case: &Case, busy: &Busy) -> usize {
    let days = case.days();
    let hours = |d: &std::ops::Range<usize>| {
        (busy.rows.partition_point(|r| *r < d.end) - busy.rows.partition_point(|r| *r < d.start)) as f64 * case.step_h
    };
    let daily: Vec<f64> = days.iter().map(hours).collect();
    let step =
        onset::step(&daily, &[], 3).filter(|s| s.t >= onset::BELIEVED && s.size > 0.0 && s.before < 0.1 * s.size);
    let from = step.map_or(0, |s| days[s.at].start);
    let k = busy.rows.partition_point(|r| *r < from);
    busy.rows.get(k).or(busy.rows.first()).copied().unwrap_or(0)
}
