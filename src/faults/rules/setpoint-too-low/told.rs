//! What is said of coils that starve.

use super::short::{Branch, PEGGED, SHORT_K, Says, short_by};
use super::{Account, FAULT, LACKS_WATER, LEAST_H, LEAST_MUTE_H, SURELY_LACKS, middle};
use crate::faults::rules::{lines, number};
use crate::faults::spread::median;
use crate::faults::{Case, Evidence, Finding, Shown, Urgency, Verdict, What, say};
use crate::plant::{Reset, Serves};

/// How sure the air's word makes, the valves' alone, and one branch's alone [-]: the rest comes from water, need and hours.
const BY_AIR: f64 = 0.70;
const BY_VALVES: f64 = 0.58;
const ONE_BRANCH: f64 = 0.60;

/// Hours for which a branch starves in these rows [h].
fn hours(case: &Case, b: &Branch, rows: &[usize]) -> f64 {
    rows.iter().filter(|i| matches!(b.says[**i], Says::Short | Says::AtItsEnd)).count() as f64 * case.step_h
}

/// The branches that starve for at least an hour, the longest first.
fn starving<'b, 'a>(case: &Case, branches: &'b [Branch<'a>], rows: &[usize]) -> Vec<(&'b Branch<'a>, f64)> {
    let mut of: Vec<_> = branches.iter().map(|b| (b, hours(case, b, rows))).filter(|b| b.1 >= 1.0).collect();
    of.sort_by(|a, b| b.1.total_cmp(&a.1));
    of
}

/// Their names, at most four.
pub fn names(case: &Case, branches: &[Branch], rows: &[usize]) -> String {
    let of = starving(case, branches, rows);
    let named: Vec<&str> = of.iter().take(4).map(|b| case.coils[b.0.coil].name).collect();
    let more = if of.len() > named.len() { format!(" and {} more", of.len() - named.len()) } else { String::new() };
    format!("{}{more}", named.join(", "))
}

pub fn found(case: &Case, branches: &[Branch], a: &Account, water: f64) -> Verdict {
    let first = a.first_row(case);
    let rows: Vec<usize> = a.rows.iter().copied().filter(|i| *i >= first).collect();
    let last = rows[rows.len() - 1];
    let of = starving(case, branches, &rows);
    let critical = case.plant.system.serves == Serves::Critical
        || of.iter().any(|b| case.coils[b.0.coil].declared.serves == Serves::Critical);
    let needs_more = rows.iter().filter(|i| case.need_kpa[**i] > case.loop_head_kpa[**i]).count() * 2 > rows.len();
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: "loop".into(),
        urgency: if critical { Urgency::Act } else { Urgency::Plan },
        confidence: confidence(a, a.hours(case), of.len() < 2, water, needs_more),
        first_seen_ms: case.time_ms[first],
        last_seen_ms: case.time_ms[last],
        hours: rows.len() as f64 * case.step_h,
        waste_kwh: None,
        waste_kwh_per_year: None,
        caused_by: None,
        because: because(case, branches, a, &rows, water),
        evidence: evidence(case, branches, a, &rows, water),
        could_also_be: could_also_be(case, of.len() < 2),
        check_on_site: lines(&[
            "At a high-load hour read the setting on the drive or controller and compare it with the balancing report.",
            "Check the control sensor against a calibrated gauge at the same tappings: one that reads high starves the loop.",
            "At the starved coils measure the pressure across coil and valve, and leaving water and air with one thermometer.",
            "Look for a strainer, isolating or balancing valve that is nearly shut on the way to them.",
            "Raise the setting by a tenth and see whether their valves begin to close within the hour.",
        ]),
        change: change(case),
        shown: Shown::new(
            &rows,
            What::Starving {
                coils: of.iter().map(|b| case.coils[b.0.coil].name.into()).collect(),
                at_end: PEGGED,
                short_k: SHORT_K,
            },
        ),
        caution: case.caution(
            "More head than the neediest coil needs is wasted: stop raising when its valve is near 90 % open.",
        ),
    }))
}

fn change(case: &Case) -> String {
    if case.plant.control.reset == Some(Reset::MostOpenValve) {
        return "Raise the reset's upper limit in steps of a tenth, and see that it follows the starved coils' valves."
            .into();
    }
    "Raise the control curve in steps of a tenth, at the end (zero flow or design flow) at which the coils starve, until the neediest valve is near 90 % open at high load."
        .into()
}

fn because(case: &Case, branches: &[Branch], a: &Account, rows: &[usize], water: f64) -> String {
    let of = starving(case, branches, rows);
    let flow = middle(rows, |i| case.loop_flow_m3h[i]);
    let head = middle(rows, |i| case.loop_head_kpa[i]);
    let at = if flow.is_finite() && head.is_finite() {
        format!(" ({} at {})", case.say_head(head), case.say_flow(flow))
    } else {
        String::new()
    };
    let each: Vec<String> = of
        .iter()
        .take(4)
        .map(|(b, h)| format!("{} for {h:.0} h{}", case.coils[b.coil].name, off(case, b, rows)))
        .collect();
    let air = if a.by_air {
        "their air was off its setpoint"
    } else {
        "no air temperature is trended to say how short they are"
    };
    format!(
        "For {:.0} h on {} days the pumps kept their curve{at} below full speed while coil valves were fully open and {air}: {}. Their water changes temperature by {} of what it should, so they lack water. The cost is comfort, not energy.",
        rows.len() as f64 * case.step_h,
        a.days,
        each.join(", "),
        say::percent(water)
    )
}

/// By how much a branch's air is off, as the end of a clause.
fn off(case: &Case, b: &Branch, rows: &[usize]) -> String {
    let Some(air) = b.air else { return String::new() };
    let by = median(rows.iter().filter(|i| b.says[**i] == Says::Short).map(|i| short_by(case, air, *i)));
    if by.is_finite() { format!(" by {}", case.say_kelvin(by)) } else { String::new() }
}

fn evidence(case: &Case, branches: &[Branch], a: &Account, rows: &[usize], water: f64) -> Vec<Evidence> {
    let least = if a.by_air { LEAST_H } else { LEAST_MUTE_H };
    let mut all = vec![
        number(
            "hours with coils short on the curve",
            a.hours(case),
            "h",
            format!("below {least}"),
            "valves, air, operating points",
        ),
        number(
            "difference of the starved coils' water over what it should be",
            water,
            "fraction",
            format!("below {LACKS_WATER} where a coil cannot use its water"),
            "water temperatures",
        ),
    ];
    for (b, h) in starving(case, branches, rows).into_iter().take(4) {
        let name = format!("hours with {} fully open", case.coils[b.coil].name);
        all.push(number(name, h, "h", "few", "valve position"));
    }
    let lacking = middle(rows, |i| case.need_kpa[i] - case.loop_head_kpa[i]);
    if lacking.is_finite() {
        let learned = "need of the neediest valve at 90 % open, from the loop learned from this record";
        all.push(number("need above the head given", lacking, "kPa", "below 0", learned));
    }
    all
}

fn could_also_be(case: &Case, one: bool) -> Vec<String> {
    let mut all = lines(&[
        "a control sensor that reads high, so that a right setpoint makes too little head",
        "a strainer or a valve nearly shut in the pipe that the starved coils share",
        "a load beyond what these coils were built for",
    ]);
    if one {
        all.insert(0, "the index branch alone: its strainer, its balancing valve or its coil".into());
    }
    if case.plant.control.sensor_at.is_none()
        && case.plant.control.mode == Some(crate::plant::ControlMode::RemotePressure)
    {
        all.push("a sensor that sits on a nearer branch than the starved ones".into());
    }
    all
}

fn confidence(a: &Account, hours: f64, one: bool, water: f64, needs_more: bool) -> f64 {
    let least = if a.by_air { LEAST_H } else { LEAST_MUTE_H };
    let base = match (a.by_air, one) {
        (_, true) => ONE_BRANCH,
        (true, false) => BY_AIR,
        (false, false) => BY_VALVES,
    };
    let by_water = if water >= SURELY_LACKS { 0.08 } else { 0.0 };
    let by_need = if needs_more { 0.06 } else { 0.0 };
    (base + by_water + by_need + 0.02 * (hours / least - 1.0).clamp(0.0, 4.0)).min(0.93)
}
