//! What is said of a pump outside its region.

use super::{
    FAST, FAULT, HIGH, HIGH_OF_FAST, Judged, LOW, MOST_HOURS, Side, design_ratio, meter, ratio, specific_speed_us,
    usual_pumps_on,
};
use crate::faults::rules::{lines, number};
use crate::faults::shown::column;
use crate::faults::spread::median;
use crate::faults::{Case, Evidence, Finding, PumpCase, Shown, Urgency, Verdict, What, onset, say};
use crate::operating::State;

pub(super) fn found(case: &Case, pump: &PumpCase, judged: &Judged, left: bool) -> Verdict {
    let side = if left { &judged.below } else { &judged.above };
    let first = first_row(case, pump, side);
    let hours = side.rows.len() as f64 * case.step_h;
    let at_design = design_ratio(case, pump, &side.rows);
    let staged = staging_explains(case, pump, side, left);
    let (limit, what) = if left { (LOW, "below") } else { (judged.high_limit, "above") };
    let energy =
        if judged.energy_known { format!(" and {} of its energy", say::percent(side.energy)) } else { String::new() };
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: pump.name.into(),
        // Run-out can cavitate and overload the motor; far left it only wears.
        urgency: if left { Urgency::Watch } else { Urgency::Plan },
        confidence: confidence(judged, side, staged, pump),
        first_seen_ms: case.time_ms[first],
        last_seen_ms: case.time_ms[side.rows[side.rows.len() - 1]],
        hours,
        waste_kwh: None,
        waste_kwh_per_year: None,
        caused_by: None,
        because: format!(
            "For {hours:.0} h ({} of its steady hours{energy}) {} ran {what} {} of its best-efficiency flow at the speed of the hour, with the whole range of the flow; the middle of all hours is at {}.{}",
            say::percent(side.share),
            pump.name,
            say::percent(limit),
            say::percent(judged.middle),
            if at_design.is_finite() {
                format!(" At its design duty it would be at {}.", say::percent(at_design))
            } else {
                String::new()
            },
        ),
        evidence: evidence(pump, judged, side),
        could_also_be: could_be(left, staged),
        check_on_site: lines(if left {
            &[
                "Compare pump and impeller with the schedule: size, trimmed diameter, rated speed.",
                "Read the head across the pump at a known speed with the discharge valve shut for no longer than a minute, and compare it with the table's first point.",
                "Count the pumps that run at part load.",
            ]
        } else {
            &[
                "Listen at the suction for cavitation and read the suction pressure against the maker's required net positive suction head.",
                "Compare the motor current with its name plate.",
                "Look for an open bypass or balancing valve, and for a second pump that should run and does not.",
            ]
        }),
        change: if left {
            "Where one pump fewer would do, run fewer. When the pump or its impeller is due for replacement, select it for the flow that is really needed.".into()
        } else {
            "Find what lets so much water through before the pump is changed, and do not raise its speed until then."
                .into()
        },
        shown: Shown::new(&side.rows, region(case, pump, judged)),
        caution: case.caution("The maker's allowed region and least flow rule over any general figure."),
    }))
}

fn region(case: &Case, pump: &PumpCase, judged: &Judged) -> What {
    let meter = meter(case, pump);
    let ratio = column(case.rows(), |i| ratio(case, pump, meter, i).map_or(f64::NAN, |x| x.0));
    What::Region { ratio, low: LOW, high: judged.high_limit }
}

fn evidence(pump: &PumpCase, judged: &Judged, side: &Side) -> Vec<Evidence> {
    let source = "ANSI/HI 9.6.3 as quoted in a trade article";
    let region = format!("{LOW} to {}", judged.high_limit);
    let mut out = vec![
        number("flow over best-efficiency flow, middle of the hours", judged.middle, "fraction", region, source),
        number("the same, reached in one hour of twenty", judged.reaches, "fraction", "about 1", source),
        number(
            "share of the steady hours outside",
            side.share,
            "fraction",
            format!("below {MOST_HOURS}"),
            "whole range (95 %) outside",
        ),
        number("share of the energy outside", side.energy, "fraction", "below one half", "power over those hours"),
        number(
            "US specific speed",
            specific_speed_us(pump),
            "-",
            format!("above {FAST:.0} the region ends at {HIGH_OF_FAST}"),
            "rated speed and table",
        ),
    ];
    out.retain(|e| e.value.is_finite());
    out
}

fn first_row(case: &Case, pump: &PumpCase, side: &Side) -> usize {
    const STEP: f64 = 0.4;
    let days = case.days();
    let mut outside = vec![0.0; days.len()];
    for &i in &side.rows {
        outside[days.partition_point(|d| d.end <= i)] += 1.0;
    }
    let steady = |d: &std::ops::Range<usize>| d.clone().filter(|&i| pump.state[i] == State::Steady).count() as f64;
    let y: Vec<f64> = days.iter().zip(outside).map(|(d, o)| o / steady(d)).collect();
    let step = onset::step(&y, &[], 2).filter(|s| s.t >= onset::BELIEVED && s.size >= STEP && s.before < 0.3);
    let from = step.map_or(0, |s| days[s.at].start);
    side.rows.iter().copied().find(|i| *i >= from).unwrap_or(side.rows[0])
}

/// Whether one pump fewer (left) or more (right) would bring the middle of these rows inside.
fn staging_explains(case: &Case, pump: &PumpCase, side: &Side, left: bool) -> bool {
    let n = f64::from(usual_pumps_on(case, &side.rows));
    let x = median(side.rows.iter().map(|&i| pump.flow_m3h[i] / (pump.speed[i] * pump.best_flow_m3h)));
    if left {
        n >= 2.0 && x * n / (n - 1.0) >= LOW
    } else {
        (n as usize) < case.pumps.len() && x * n / (n + 1.0) <= HIGH
    }
}

fn confidence(judged: &Judged, side: &Side, staged: bool, pump: &PumpCase) -> f64 {
    let mut c = 0.70 + 0.15 * (side.share - MOST_HOURS).max(0.0) / (1.0 - MOST_HOURS);
    c += 0.06 * (judged.hours / 200.0).min(1.0);
    c -= if staged { 0.12 } else { 0.0 };
    // A table learned from a meter, or none but a stated flow, places the best point less surely.
    c -= if pump.declared.curves.is_empty() { 0.12 } else { 0.0 };
    c.clamp(0.5, 0.92)
}

fn could_be(left: bool, staged: bool) -> Vec<String> {
    let mut out = Vec::new();
    if staged && left {
        out.push("poor staging: one pump fewer would run inside its region".to_owned());
    } else if staged {
        out.push("poor staging: one pump more would bring each inside its region".to_owned());
    }
    if left {
        out.push("head held too high by setting or a speed in hand, so that valves throttle the flow".to_owned());
        out.push("a season of low load, where the design duty is not reached".to_owned());
    } else {
        out.push("a bypass that stands open or valves that do not shut, so that the loop passes too much".to_owned());
        out.push(
            "less resistance than designed, with the pump in hand or its setting above what the loop needs".to_owned(),
        );
    }
    out.push("a pump table of another impeller".to_owned());
    out
}
