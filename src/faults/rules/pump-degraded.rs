//! A pump that gives less head, or takes more power for it, than it did earlier in the record.
//!
//! What the readings say of each other is compared day by day (`faults/moved.rs`, shared with the rule on sensors). The decision a reader would question: a
//! pump that was weak from the first day is not found, since a wrong table or a sensor's error looks the same; only where the
//! table is the pump's own test (`tolerance`) and a flow meter bears witness is a level judged.

use super::{cannot_tell, clear, lines, number};
use crate::faults::moved::{self, HEAD, Looked, METER, Moved, POWER, WORDS, Who};
use crate::faults::{Case, Estimate, Fault, Finding, PumpCase, Shown, Verdict, What, price, say};
use crate::operating::check::{Offset, OffsetOf};

const FAULT: Fault = Fault::PumpDegraded;
/// Head lost from which a load may go without [-].
const STARVES: f64 = 0.15;
/// Beyond a proved table's own tolerance, the 95 % interval must lie below this [-]: a sensor's usual error.
const BELOW_PROVED: f64 = 0.05;
/// What is not known of how much of the loss is paid for in power, 95 %, as share of it [-]: head may be lost with efficiency or with flow.
const PAID: f64 = 0.5;

/// One verdict a pump.
pub fn judge(case: &Case) -> Vec<Verdict> {
    moved::look(case).iter().zip(&case.pumps).map(|(l, p)| judge_pump(case, p, l)).collect()
}

fn judge_pump(case: &Case, pump: &PumpCase, looked: &Looked) -> Verdict {
    match looked {
        Looked::NoPair(missing, why) => cannot_tell(FAULT, pump.name, missing, *why),
        Looked::TooShort(why) => cannot_tell(FAULT, pump.name, &["a longer record"], why.clone()),
        Looked::Still(least) => match below_its_test(pump) {
            Some(offset) => weak_from_the_start(case, pump, offset),
            None => healthy(pump, *least),
        },
        Looked::Moved(m) => match &m.who {
            Who::Pump => found(case, pump, m),
            Who::Reading(r) if m.readings.len() == 3 && *r != HEAD => healthy(pump, moved::LEAST.max(3.0 * m.error)),
            Who::Reading(r) => {
                let why = format!("its {} reading itself moved within the record (see sensor-fault)", WORDS[*r]);
                cannot_tell(FAULT, pump.name, &[third(m)], why)
            }
            Who::Either(of, pump_too) => {
                let words: Vec<&str> = of.iter().map(|r| WORDS[*r]).collect();
                let or_pump = if *pump_too { "the pump wore, or " } else { "" };
                let why = format!(
                    "head, power or flow moved against each other by {} on {}: {or_pump}the reading of {} changed, and these readings do not tell which",
                    signed(m.size),
                    case.say_instant(m.first_ms),
                    words.join(" or ")
                );
                cannot_tell(FAULT, pump.name, &[third(m)], why)
            }
        },
    }
}

/// The reading that would settle it.
fn third(m: &Moved) -> &'static str {
    match (m.readings.contains(&HEAD), m.readings.contains(&POWER), m.readings.contains(&METER)) {
        (false, ..) => "pump-head",
        (_, false, _) => "pump-power",
        (.., false) => "loop-flow",
        _ => "a second head sensor",
    }
}

fn healthy(pump: &PumpCase, least: f64) -> Verdict {
    clear(
        FAULT,
        pump.name,
        format!(
            "a loss of {} of head at the same flow and speed that came within the record and lasted to its end",
            say::percent(least)
        ),
    )
}

fn signed(share: f64) -> String {
    format!("{:+.1} %", 100.0 * share)
}

fn found(case: &Case, pump: &PumpCase, m: &Moved) -> Verdict {
    let lost = -m.size;
    let rows: Vec<usize> = (0..case.rows()).filter(|&i| case.time_ms[i] >= m.first_ms && pump.speed[i] > 0.0).collect();
    let waste = waste(case, pump, m, &rows);
    let how = if m.slow { "bit by bit since" } else { "at once on" };
    let mut evidence = vec![number(
        "head at like flow and speed, against earlier in the record",
        m.size,
        "fraction",
        format!("within {} of 0", say::percent(moved::LEAST)),
        "head, power and flow meter held against each other through the pump table, by days",
    )];
    evidence.extend(
        m.seen
            .iter()
            .map(|c| number(c.name.clone(), c.size, "fraction", "near 0", "medians by days, before and after")),
    );
    let with = if m.readings.len() == 3 { 0.70 } else { 0.60 };
    let confidence =
        with + 0.1 * ((m.t - 6.0) / 6.0).clamp(0.0, 1.0) + 0.1 * ((lost - moved::LEAST) / 0.09).clamp(0.0, 1.0);
    let per_year = price::per_year(case, waste);
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: pump.name.into(),
        urgency: price::urgency(case, waste, lost >= STARVES),
        confidence: confidence.min(0.93),
        first_seen_ms: m.first_ms,
        last_seen_ms: m.last_ms,
        hours: rows.len() as f64 * case.step_h,
        waste_kwh: waste,
        waste_kwh_per_year: per_year,
        caused_by: None,
        because: format!(
            "{} gives {} less head at the same flow and speed than earlier in the record; the loss came {how} {}, and flow and {} at the same speed fell with it, as when a pump wears.",
            pump.name,
            say::percent(lost),
            case.say_instant(m.first_ms),
            if m.readings.contains(&POWER) { "power" } else { "head" },
        ),
        evidence,
        could_also_be: lines(&[
            "the head sensor reads low since then, and the pump is controlled by that very sensor",
            "air in the pump, a blocked suction strainer or impeller, a motor that turns the wrong way after work on it",
            "a fluid that became lighter or thicker: glycol refilled, a temperature that changed",
            "another pump now runs beside it without being trended",
        ]),
        check_on_site: lines(&[
            "Vent the pump and read its strainer's pressure drop with a gauge; clean it, and see whether the head returns.",
            "Read suction and discharge with one and the same gauge at one speed, with the discharge valve closed for no more than half a minute, and compare with the table's head at no flow; close no valve on a pump that must run.",
            "Compare motor current with an earlier reading at the same speed; listen and feel for cavitation and vibration.",
            "Check the direction of rotation where motor or drive was worked on.",
            "Where all of that is in order, isolate and open the pump: wear rings, impeller, debris.",
        ]),
        change: "Clean or repair the pump. Until then it needs a higher speed for the same flow.".into(),
        shown: Shown::new(
            &rows,
            What::Moved { pump: pump.name.into(), pair: m.pair, since_ms: m.first_ms, within: moved::LEAST },
        ),
        caution: case.caution("A pump run against a closed valve heats within minutes; do not hold it there."),
    }))
}

/// Extra power for the same flow and head since it began: with less head for like power the efficiency fell by the same share.
fn waste(case: &Case, pump: &PumpCase, m: &Moved, rows: &[usize]) -> Option<Estimate> {
    let known: Vec<f64> = rows.iter().map(|&i| pump.power_kw[i]).filter(|p| p.is_finite()).collect();
    if known.is_empty() || 2 * known.len() < rows.len() {
        return None;
    }
    let energy: f64 = known.iter().sum::<f64>() * case.step_h * rows.len() as f64 / known.len() as f64;
    let mean_share = if m.slow { 0.5 } else { 1.0 } * -m.size;
    let estimate = energy * mean_share;
    let half = estimate * (1.96 * m.error / m.size.abs().max(f64::MIN_POSITIVE)).hypot(PAID);
    Some(Estimate { estimate, low: (estimate - half).max(0.0), high: estimate + half })
}

/// A level below a table that is the pump's own test, with a meter as witness.
fn below_its_test(pump: &PumpCase) -> Option<Offset> {
    let check = pump.check?;
    let tolerance = pump.declared.curves.iter().filter_map(|c| c.tolerance).fold(f64::NAN, f64::max);
    let of = |of: OffsetOf| check.offsets.iter().find(|o| o.of == of);
    let head = of(OffsetOf::HeadScale).filter(|o| o.told_by_record)?;
    of(OffsetOf::MeterScale)?;
    of(OffsetOf::PowerScale)?;
    (tolerance.is_finite() && head.high < -(tolerance + BELOW_PROVED)).then_some(*head)
}

fn weak_from_the_start(case: &Case, pump: &PumpCase, offset: Offset) -> Verdict {
    let rows: Vec<usize> = (0..case.rows()).filter(|&i| pump.speed[i] > 0.0).collect();
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else {
        return cannot_tell(FAULT, pump.name, &["pump-speed"], "it did not run");
    };
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: pump.name.into(),
        urgency: price::urgency(case, None, -offset.estimate >= STARVES),
        confidence: 0.65,
        first_seen_ms: case.time_ms[*first],
        last_seen_ms: case.time_ms[*last],
        hours: rows.len() as f64 * case.step_h,
        waste_kwh: None,
        waste_kwh_per_year: None,
        caused_by: None,
        because: format!(
            "{} gives {} less head than its own test says, all through the record; flow meter and power agree on the flow.",
            pump.name,
            say::percent(-offset.estimate)
        ),
        evidence: vec![number(
            "head over its own test at like flow and speed",
            offset.estimate,
            "fraction",
            format!("above {:.2}", offset.high.min(0.0)),
            "offset learned from head, power and meter together",
        )],
        could_also_be: lines(&["the head sensor reads low", "the test is another pump's, or of another impeller"]),
        check_on_site: lines(&[
            "Read suction and discharge with one and the same gauge at a known speed and compare with the test.",
            "Compare the impeller's diameter on the name plate with the test's.",
        ]),
        change: "Prove head and flow with calibrated instruments; then overhaul the pump.".into(),
        shown: Shown::new(&rows, What::BelowTest),
        caution: case.caution("A pump run against a closed valve heats within minutes; do not hold it there."),
    }))
}
