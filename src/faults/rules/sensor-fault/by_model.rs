//! What only a pump's model can see: a scale that moved within the record.

use super::told::{Seen, Told, finding};
use super::{FAULT, names};
use crate::faults::moved::{HEAD, LEAST, METER, Moved, POWER, WORDS, Who};
use crate::faults::rules::{cannot_tell, number};
use crate::faults::{Case, Evidence, PumpCase, Shown, Verdict, What};
use crate::ingest::Series;
use crate::plant::Role;

/// The trended point behind a pump's reading.
fn point_of<'a>(case: &'a Case, pump: &PumpCase, reading: usize) -> Option<&'a Series> {
    let of = |role: Role, own: bool| {
        let name = own.then_some(pump.name);
        case.trends.iter().find(|s| s.role == role && s.of.as_deref() == name)
    };
    match reading {
        HEAD => of(Role::PumpHead, true)
            .or(of(Role::DischargePressure, true))
            .or(of(Role::PumpHead, false))
            .or(of(Role::DischargePressure, false))
            .or(of(Role::DifferentialPressure, false)),
        POWER => of(Role::PumpPower, true).or(of(Role::PumpEnergy, true)).or(of(Role::TotalPower, false)),
        METER => of(Role::PumpFlow, true).or(of(Role::LoopFlow, false)),
        _ => None,
    }
}

pub(super) fn by_model(case: &Case, pump: &PumpCase, m: &Moved, verdicts: &mut Vec<Verdict>) {
    let subject =
        |r: usize| point_of(case, pump, r).map_or_else(|| format!("{} {}", pump.name, WORDS[r]), |s| s.name.clone());
    let verdict = match &m.who {
        Who::Pump => return,
        Who::Reading(r) => vec![a_reading(case, pump, m, *r, subject(*r))],
        Who::Either(of, pump_too) => of
            .iter()
            .map(|r| {
                let others: Vec<String> = of.iter().filter(|o| *o != r).map(|o| format!("\"{}\"", subject(*o))).collect();
                let or_pump = if *pump_too { Some(format!("{} itself", pump.name)) } else { None };
                let all: Vec<String> = others.into_iter().chain(or_pump).collect();
                let why = format!(
                    "since {} \"{}\" and {} no longer fit each other as before ({:+.1} %), and what is trended does not tell which of them moved",
                    case.say_instant(m.first_ms),
                    subject(*r),
                    all.join(" and "),
                    100.0 * m.size
                );
                cannot_tell(FAULT, &subject(*r), &[missing(m)], why)
            })
            .collect(),
    };
    for v in verdict {
        let about = subject_of(&v).to_owned();
        match verdicts.iter().position(|old| names(old, &about)) {
            None => verdicts.push(v),
            // A sensor that two pumps share: the surer word stands.
            Some(k) if matches!(v, Verdict::Found(_)) && !matches!(verdicts[k], Verdict::Found(_)) => verdicts[k] = v,
            Some(_) => {}
        }
    }
}

fn subject_of(v: &Verdict) -> &str {
    match v {
        Verdict::Found(f) => &f.subject,
        Verdict::Clear { subject, .. } | Verdict::CannotTell { subject, .. } => subject,
    }
}

fn missing(m: &Moved) -> &'static str {
    match (m.readings.contains(&HEAD), m.readings.contains(&POWER)) {
        (false, _) => "pump-head",
        (_, false) => "pump-power",
        _ if !m.readings.contains(&METER) => "loop-flow",
        _ => "valve-position",
    }
}

fn a_reading(case: &Case, pump: &PumpCase, m: &Moved, r: usize, subject: String) -> Verdict {
    let others: Vec<&str> = m.readings.iter().filter(|o| **o != r).map(|o| WORDS[*o]).collect();
    let three = m.readings.len() == 3;
    let how = if m.slow { "has drifted bit by bit since" } else { "changed at once on" };
    let evidence: Vec<Evidence> = m
        .seen
        .iter()
        .map(|c| number(c.name.clone(), c.size, "fraction", "near 0", "medians by days, before and after"))
        .collect();
    let since: Vec<usize> = (0..case.rows()).filter(|i| case.time_ms[*i] >= m.first_ms).collect();
    let with = if three { 0.72 } else { 0.60 };
    let confidence =
        with + 0.1 * ((m.t - 6.0) / 6.0).clamp(0.0, 1.0) + 0.1 * ((m.size.abs() - 0.05) / 0.15).clamp(0.0, 1.0);
    let pump_too: &[&str] = match r {
        POWER if m.size > 0.0 => &["motor, drive or bearings that lose more than before, while the pump's head stayed"],
        HEAD if m.size < 0.0 => &["a pump that wears while its valves hold the flow"],
        METER if m.size < 0.0 => &["water that runs back inside the pump"],
        _ => &[],
    };
    let told = Told {
        says: "has changed its scale",
        could_also_be: pump_too,
        check: &[
            "Compare the reading with a second instrument: a calibrated gauge across the same tappings, a clamp-on flow meter, a power analyser at the drive's input.",
            "Look for work on that date: a new transmitter, another range in the controller, another current transformer.",
        ],
        change: "Calibrate or re-range the instrument; correct the record with [[point]] scale where the error is proved.",
    };
    let seen = Seen {
        confidence: confidence.min(0.94),
        first_ms: m.first_ms,
        last_ms: m.last_ms,
        hours: since.len() as f64 * case.step_h,
        because: format!(
            "the scale of \"{subject}\" {how} {}, by {:+.0} %: against {} it moved, while {} at the same speed stayed as before.",
            case.say_instant(m.first_ms),
            100.0 * m.size,
            others.join(" and "),
            others.join(" and "),
        ),
        evidence,
        beside: &[],
        shown: Shown::new(
            &since,
            What::Moved { pump: pump.name.into(), pair: m.pair, since_ms: m.first_ms, within: LEAST },
        ),
    };
    finding(case, subject, &told, seen)
}
