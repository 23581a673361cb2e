//! A pump that turns and delivers nothing.
//!
//! Ways to see it: a pump slower than opens its check valve against the head that others hold; a pump whose head stands apart from that of the pumps beside it;
//! a running pump whose meter stands at zero, or whose head is that of no flow while every way for the water is known shut. Power alone never tells: little flow and none look alike. Minutes at a start or stop, an exercise
//! and an open bypass are no fault. The rows are sorted in `deadheading/rows.rs`; the formulas stand in `hydraulics::deadhead`.

use super::{cannot_tell, clear, lines, number};
use crate::faults::shown::column;
use crate::faults::spread::median;
use crate::faults::{Case, Estimate, Evidence, Fault, Finding, PumpCase, Shown, Urgency, Verdict, What, onset, say};
use crate::hydraulics::deadhead::{heating_k_per_min, opening_speed};
use crate::plant::Service;
use rows::{Seen, Stretch, Witness};

#[path = "deadheading/rows.rs"]
mod rows;

const FAULT: Fault = Fault::Deadheading;
/// Found from so many hours on so many days [h], [days], or from one stretch this long [h].
const LEAST_H: f64 = 1.5;
const LEAST_DAYS: usize = 3;
const LONG_H: f64 = 1.0;
/// Running hours in which flow or no flow could be told that a clear needs [h].
const LEAST_TOLD_H: f64 = 12.0;
/// Water in the casing of a pump of some kilowatts [L]; a figure to show the pace, not this pump's own (common practice, no source).
const CASING_L: f64 = 10.0;
/// Motor and drive where not declared [-] (common practice, no source).
const MOTOR_AND_DRIVE: f64 = 0.85;
/// Water at 20 degC [kg/m3], [kJ/kg K] (IAPWS-IF97).
const WATER_KG_M3: f64 = 998.2;
const WATER_KJ_KGK: f64 = 4.185;
/// Power meter's scale, 95 % [-].
const METER: f64 = 0.05;

/// One verdict a pump.
pub fn judge(case: &Case) -> Vec<Verdict> {
    case.pumps.iter().map(|p| judge_pump(case, p)).collect()
}

fn judge_pump(case: &Case, pump: &PumpCase) -> Verdict {
    let seen = Seen::of(case, pump);
    let hours = |rows: usize| rows as f64 * case.step_h;
    let total: f64 = seen.stretches.iter().map(|s| s.hours).sum();
    let longest = seen.stretches.iter().map(|s| s.hours).fold(0.0, f64::max);
    let days = days(case, &seen.stretches);
    if (total >= LEAST_H && days >= LEAST_DAYS) || longest >= LONG_H {
        return found(case, pump, &seen, total, longest, days);
    }
    if hours(seen.told) < LEAST_TOLD_H {
        let why = format!(
            "in {:.0} running hours only can flow be told from no flow: power and speed do not, it takes the head between the headers (with the pump's table) or a meter",
            hours(seen.told)
        );
        let mut missing = vec!["pump-head", "loop-flow"];
        if pump.shut_off_kpa.is_nan() {
            missing.push("[[pump.curve]]");
        }
        return cannot_tell(FAULT, pump.name, &missing, why);
    }
    clear(
        FAULT,
        pump.name,
        format!(
            "{LEAST_H:.1} h on {LEAST_DAYS} days, or {LONG_H:.0} h at a stretch, in which the pump turns and delivers nothing, in stretches of at least {:.0} min",
            rows::shortest_h(case) * 60.0
        ),
    )
}

fn days(case: &Case, stretches: &[Stretch]) -> usize {
    let mut days: Vec<u32> = stretches.iter().map(|s| case.local_day[s.rows.start]).collect();
    days.dedup();
    days.len()
}

fn found(case: &Case, pump: &PumpCase, seen: &Seen, total: f64, longest: f64, days: usize) -> Verdict {
    let rows: Vec<usize> = seen.stretches.iter().flat_map(|s| s.rows.clone()).filter(|&i| seen.dead[i]).collect();
    let first = first_row(case, seen);
    let witness = Witness::new(case, pump);
    let behind = rows.iter().filter(|&&i| witness.is_behind(case, pump, i)).count() * 2 >= rows.len();
    let power = median(rows.iter().map(|&i| pump.power_kw[i]));
    let share = pump.declared.motor_efficiency.unwrap_or(1.0) * pump.declared.drive_efficiency.unwrap_or(1.0);
    let share = if share < 1.0 { share } else { MOTOR_AND_DRIVE };
    let pace = heating_k_per_min(power * share, CASING_L, WATER_KG_M3, WATER_KJ_KGK);
    let held = median(rows.iter().map(|&i| witness.held_kpa(case, i)));
    let speed = median(rows.iter().map(|&i| pump.speed[i]));
    let waste = energy(case, pump, &rows);
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: pump.name.into(),
        urgency: if longest >= LONG_H { Urgency::Act } else { Urgency::Plan },
        confidence: confidence(seen, behind, total, days),
        first_seen_ms: case.time_ms[first],
        last_seen_ms: case.time_ms[rows[rows.len() - 1]],
        hours: total,
        waste_kwh: waste,
        waste_kwh_per_year: crate::faults::price::per_year(case, waste),
        caused_by: None,
        because: because(case, pump, (total, longest, days), behind.then_some((speed, held)), pace),
        evidence: evidence(pump, (total, longest), speed, held, pace),
        could_also_be: could_be(behind, seen),
        check_on_site: lines(if behind {
            &[
                "Stand back from the casing and read its temperature with a contact-free thermometer before touching anything.",
                "Compare the speeds of all running pumps: parallel pumps should run at one speed.",
                "Stop the pump that delivers nothing and see whether flow and head stay the same.",
            ]
        } else {
            &[
                "Read the casing's temperature with a contact-free thermometer before touching anything; stop the pump where it is hot.",
                "Follow the pipe from the pump: isolation valve, check valve, strainer, and whether any way for the water is open.",
                "Compare the meter with a clamp-on one: a meter that is stuck looks the same.",
            ]
        }),
        change: if behind {
            "Give parallel pumps one speed signal. Keep each above the speed that opens its check valve while another runs, or stop it.".into()
        } else {
            "Open a way for the water or stop the pump; give it a minimum-flow bypass and a stop on no flow.".into()
        },
        shown: Shown::new(
            &rows,
            What::NoFlow {
                no_flow_kpa: column(case.rows(), |i| pump.speed[i].powi(2) * pump.shut_off_kpa),
                held_kpa: column(case.rows(), |i| witness.held_kpa(case, i)),
            },
        ),
        caution: case.caution(strong_caution(case)),
    }))
}

fn strong_caution(case: &Case) -> &'static str {
    if case.plant.system.service == Service::HeatingWater {
        "A pump without flow heats the water in its casing, within minutes above boiling in hot water: scalds, steam, seals that give way, pressure in a casing shut on both sides. \
         Do not open vent or drain, nor tap or strike it, while it is hot. Let it cool, and leave it to qualified people."
    } else {
        "A pump without flow heats the water in its casing: scalds, seals that give way, pressure in a casing shut on both sides. \
         Do not open vent or drain while it is hot; let it cool, and leave it to qualified people."
    }
}

fn because(
    case: &Case,
    pump: &PumpCase,
    (total, longest, days): (f64, f64, usize),
    behind: Option<(f64, f64)>,
    pace: f64,
) -> String {
    let how = match behind {
        Some((speed, held)) => format!(
            "at {} of rated speed behind a check valve that {} between the headers keep shut below {}",
            say::percent(speed),
            case.say_head(held),
            say::percent(opening_speed(held, pump.shut_off_kpa))
        ),
        None => "with nothing flowing".to_owned(),
    };
    let heats = if pace.is_finite() {
        format!("its power warms {CASING_L:.0} L of water by {pace:.1} K a minute")
    } else {
        let example = heating_k_per_min(2.0, CASING_L, WATER_KG_M3, WATER_KJ_KGK);
        format!("2 kW warm {CASING_L:.0} L of water by {example:.2} K a minute")
    };
    format!(
        "{} turned for {total:.1} h on {days} days, up to {longest:.1} h at a stretch, {how}: all its power goes into the water in its casing ({heats}).",
        pump.name
    )
}

fn evidence(pump: &PumpCase, (total, longest): (f64, f64), speed: f64, held: f64, pace: f64) -> Vec<Evidence> {
    let mut out = vec![
        number("hours without flow", total, "h", "none beyond minutes at a start or stop", "running rows"),
        number("longest stretch", longest, "h", format!("below {LONG_H}"), "running rows"),
        number("speed in them", speed, "fraction", "-", "speed trend"),
    ];
    if held.is_finite() && pump.shut_off_kpa.is_finite() {
        let opens = opening_speed(held, pump.shut_off_kpa);
        out.push(number(
            "speed that opens its check valve",
            opens,
            "fraction",
            "below the speed it runs at",
            "square root of the head held over the head at shut-off (affinity laws)",
        ));
    }
    if pace.is_finite() {
        out.push(number(
            "warming of 10 L of water by its shaft power",
            pace,
            "K/min",
            "none",
            "heat balance of the casing, metal left out",
        ));
    }
    out
}

fn could_be(behind: bool, seen: &Seen) -> Vec<String> {
    let mut out = Vec::new();
    if behind {
        out.push("a pump table of another impeller, so that the check valve opens earlier than computed".to_owned());
        out.push("a speed reading that is not this pump's".to_owned());
    } else {
        if seen.by_meter {
            out.push("a flow meter that is stuck, or reads zero at low flow".to_owned());
        }
        out.push("a trickle past valves that do not shut tight, which carries the heat away".to_owned());
        out.push(
            "a broken coupling: the motor turns, the pump does not (its power is then that of an idling motor)"
                .to_owned(),
        );
    }
    out
}

fn confidence(seen: &Seen, behind: bool, total: f64, days: usize) -> f64 {
    let mut c = if behind || seen.by_meter { 0.78 } else { 0.64 };
    c += 0.06 * (total / 10.0).min(1.0);
    c += if days >= LEAST_DAYS { 0.08 } else { -0.08 };
    c.clamp(0.5, 0.95)
}

/// All its energy in those hours [kWh].
fn energy(case: &Case, pump: &PumpCase, rows: &[usize]) -> Option<Estimate> {
    let known: Vec<f64> = rows.iter().map(|&i| pump.power_kw[i]).filter(|p| p.is_finite()).collect();
    if known.len() * 5 < rows.len() * 4 || known.is_empty() {
        return None;
    }
    let estimate = known.iter().sum::<f64>() / known.len() as f64 * rows.len() as f64 * case.step_h;
    let unknown = 1.0 - known.len() as f64 / rows.len() as f64;
    let half = estimate * METER.hypot(unknown);
    Some(Estimate { estimate, low: estimate - half, high: estimate + half })
}

/// The first row of it: by change point on the daily hours, else the first stretch's.
fn first_row(case: &Case, seen: &Seen) -> usize {
    const STEP_H: f64 = 0.25;
    let days = case.days();
    let mut y = vec![0.0; days.len()];
    for s in &seen.stretches {
        y[days.partition_point(|d| d.end <= s.rows.start)] += s.hours;
    }
    let first = seen.stretches[0].rows.start;
    let step =
        onset::step(&y, &[], 2).filter(|s| s.t >= onset::BELIEVED && s.size >= STEP_H && s.before < s.size / 2.0);
    let from = step.map_or(0, |s| days[s.at].start);
    seen.stretches.iter().map(|s| s.rows.start).find(|i| *i >= from).unwrap_or(first)
}
