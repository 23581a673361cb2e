//! What is said of a setting that is too high.

use super::lower_end::{ZERO_TOO_HIGH, rise};
use super::{AT_DESIGN, FAULT, Judged, LEARNED_MOST, LEAST_H, MARGIN, TOO_MUCH};
use crate::faults::rules::{lines, number};
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Estimate, Evidence, Finding, Shown, Verdict, What, price, say};
use crate::plant::{Reset, Serves};

/// A setpoint that moves less than this over the record stands still [kPa].
const STANDS_STILL_KPA: f64 = 2.0;

pub fn zero_too_high(case: &Case, rows: &[usize], set: f64, needed: f64, enough: f64) -> Verdict {
    let lower = |i: usize| {
        let less = (set - enough).max(0.0) * (1.0 - rise(case, case.loop_flow_m3h[i]).unwrap_or(1.0)).max(0.0);
        (case.loop_flow_m3h[i], case.loop_head_kpa[i] - less)
    };
    let waste = price::waste(case, rows, lower);
    let hours = rows.len() as f64 * case.step_h;
    let because = format!(
        "For {hours:.0} h the pumps kept a curve that starts at {} at no flow; one that starts at {} and meets the same design \
         point would have been enough for the neediest valve in all but one hour in fifty, at low and middle flow.",
        case.say_head(set),
        case.say_head(enough),
    );
    let learned = "need of the neediest valve at 90 % open, from the loop learned from this record";
    let evidence = vec![
        number("zero-flow head set", set, "kPa", "about what is needed", "plant file"),
        number(
            "zero-flow head that was needed, 98th percentile",
            needed,
            "kPa",
            format!("above {:.0} kPa", ZERO_TOO_HIGH * set),
            learned,
        ),
        number("hours on the curve", hours, "h", format!("at least {LEAST_H}"), "operating points"),
    ];
    let confidence = (0.6 + 0.6 * (ZERO_TOO_HIGH - enough / set)).clamp(0.6, 0.9);
    finding(case, rows, Told { waste, because, evidence, confidence, zero_enough_kpa: Some(enough) })
}

/// A sentence on a declared reset whose trended setpoint never moves.
fn reset(case: &Case, rows: &[usize]) -> &'static str {
    let Some(setpoint) = case.dp_setpoint_kpa.filter(|_| case.plant.control.reset == Some(Reset::MostOpenValve)) else {
        return "";
    };
    let of = |share: f64| quantile(rows.iter().map(|i| setpoint[*i]), share);
    if of(0.98) - of(0.02) < STANDS_STILL_KPA {
        " The reset that is declared never moved the setpoint: it is off, or a valve that is always open holds it up."
    } else {
        ""
    }
}

pub fn found(case: &Case, j: &Judged) -> Verdict {
    let enough = (j.ratio.max(j.at_design) * MARGIN).min(1.0);
    let waste = price::waste(case, &j.rows, |i| {
        (case.loop_flow_m3h[i], (case.loop_head_kpa[i] * enough).max(case.need_kpa[i].min(case.loop_head_kpa[i])))
    });
    let head = median(j.rows.iter().map(|i| case.loop_head_kpa[*i]));
    let need = median(j.rows.iter().map(|i| case.need_kpa[*i]));
    let hours = j.rows.len() as f64 * case.step_h;
    let learned = "need of the neediest valve at 90 % open, from the loop learned from this record";
    let because = format!(
        "For {hours:.0} h the pumps kept {} (in the middle of all hours) where the neediest valve would have had enough with {}; in 19 of 20 hours no \
         valve was more than {} open, and the need carried up to design flow is {} of what the setting gives there.{}",
        case.say_head(head),
        case.say_head(need),
        say::percent(j.widest),
        say::percent(j.at_design),
        reset(case, &j.rows),
    );
    let expected = format!("above {AT_DESIGN}");
    let evidence = vec![
        number("need over head, 95th percentile", j.ratio, "fraction", format!("above {TOO_MUCH}"), learned),
        number("widest valve, 95th percentile", j.widest, "fraction", "0.85 to 0.95", "valve positions"),
        number("need at design flow over the setting's head there", j.at_design, "fraction", expected, learned),
        number(
            "the same by the loop that asks most of those that explain the record",
            j.at_most,
            "fraction",
            format!("above {LEARNED_MOST}"),
            learned,
        ),
        number("highest flow seen over design flow", j.highest_flow, "fraction", "at least 0.5", "operating points"),
    ];
    let confidence = (0.6 + (1.0 - j.at_most) * 0.8 + (TOO_MUCH - j.ratio) * 0.4).clamp(0.6, 0.95);
    finding(case, &j.rows, Told { waste, because, evidence, confidence, zero_enough_kpa: None })
}

/// What differs between the two ends of a curve.
struct Told {
    waste: Option<Estimate>,
    because: String,
    evidence: Vec<Evidence>,
    confidence: f64,
    zero_enough_kpa: Option<f64>,
}

fn finding(case: &Case, rows: &[usize], told: Told) -> Verdict {
    let comfort = case.plant.system.serves == Serves::Comfort;
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: "loop".into(),
        urgency: price::urgency(case, told.waste, false),
        confidence: told.confidence,
        first_seen_ms: case.time_ms[rows[0]],
        last_seen_ms: case.time_ms[rows[rows.len() - 1]],
        hours: rows.len() as f64 * case.step_h,
        waste_kwh: told.waste,
        waste_kwh_per_year: price::per_year(case, told.waste),
        caused_by: None,
        because: told.because,
        evidence: told.evidence,
        could_also_be: lines(&[
            "a control sensor that reads low, so that a right setpoint makes too much head",
            "a branch that is not trended, or took little while this was recorded, and needs the head",
        ]),
        check_on_site: lines(&[
            "Read the setting on the drive or controller and compare it with the balancing report.",
            "Check the control sensor against a calibrated gauge at the same tappings.",
            "At a time of high load, lower the setting in steps of a tenth and watch the neediest valve come up to 90 % open.",
        ]),
        change: if comfort {
            "Lower the control curve in steps, as long as the neediest valve stays below 90 % open, or let the most open valve reset it.".into()
        } else {
            "This loop serves more than comfort, so no lower setting is proposed. Have its duty confirmed by whoever answers for the load."
                .into()
        },
        shown: Shown::new(rows, What::TooMuchHead { share: TOO_MUCH, zero_enough_kpa: told.zero_enough_kpa }),
        caution: case.caution("A load that this record did not show may need the head."),
    }))
}
