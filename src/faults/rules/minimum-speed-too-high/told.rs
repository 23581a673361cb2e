//! What is said of a floor that is too high.

use super::{FAULT, Floor, LEAST_H, SUPPOSED_LIMIT, asked_kpa, enough_speed, target_kpa};
use crate::faults::rules::{lines, number};
use crate::faults::shown::column;
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Finding, PumpCase, Shown, Verdict, What, onset, price, say};

pub(super) fn found(case: &Case, pump: &PumpCase, floor: &Floor, level: f64, maker: Option<f64>) -> Verdict {
    let rows = &floor.spent;
    let hours = rows.len() as f64 * case.step_h;
    let first = first_row(case, floor);
    let enough =
        quantile(rows.iter().map(|&i| enough_speed(case, pump, i, asked_kpa(case, pump, i)).max(floor.lowest)), 0.5);
    let head = median(rows.iter().map(|&i| pump.head_kpa[i]));
    let asked = median(rows.iter().map(|&i| target_kpa(case, pump, i, asked_kpa(case, pump, i))));
    let waste = price::waste(case, rows, |i| (case.loop_flow_m3h[i], at_lower_floor(case, pump, i, floor.lowest)));
    let per_year = price::per_year(case, waste);
    let share = rows.len() as f64 / floor.running as f64;
    let limit = match maker {
        Some(m) => format!("the maker allows {}", say::percent(m)),
        None => format!("the maker's limit is not declared; {} is common", say::percent(SUPPOSED_LIMIT)),
    };
    let source = "steady rows at the day's lowest speed";
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: pump.name.into(),
        urgency: price::urgency(case, waste, false),
        confidence: confidence(case, floor, level - enough, share, maker),
        first_seen_ms: case.time_ms[first],
        last_seen_ms: case.time_ms[rows[rows.len() - 1]],
        hours,
        waste_kwh: waste,
        waste_kwh_per_year: per_year,
        caused_by: None,
        because: format!(
            "For {hours:.0} h ({} of its steady hours) {} ran at its lowest speed of {}, which held {} where {} was asked or needed; {} would \
             have been enough, and {limit}.",
            say::percent(share),
            pump.name,
            say::percent(level),
            case.say_head(head),
            case.say_head(asked),
            say::percent(enough),
        ),
        evidence: vec![
            number("speed floor", level, "fraction", format!("about {enough:.2}"), source),
            number("head on it", head, "kPa", format!("{asked:.0} kPa"), "head against control curve and neediest valve"),
            number("lowest speed that maker and machines allow", floor.lowest, "fraction", "-", "[[pump]].minimum_allowed_speed and least flow"),
            number("hours at it with speed to spare", hours, "h", format!("below {LEAST_H:.0}"), source),
        ],
        could_also_be: could_be(case, floor, maker),
        check_on_site: check_on_site(maker),
        change: format!(
            "Lower the drive's minimum speed in steps of 5 %, to {} at the lowest, and watch flow, seal and motor for a day after each step{}.",
            say::percent(enough.max(floor.lowest)),
            if maker.is_none() { "; only within what the maker of pump, seal and motor confirms in writing" } else { "" }
        ),
        shown: Shown::new(rows, What::Floor { floor: level, lowest: floor.lowest, asked_kpa: column(case.rows(), |i| target_kpa(case, pump, i, asked_kpa(case, pump, i))) }), caution: case.caution("Never below the maker's limit for seal and motor, nor below any machine's least flow: measure it at the new floor."),
    }))
}

fn check_on_site(maker: Option<f64>) -> Vec<String> {
    let mut out = lines(&[
        "Read the minimum frequency in the drive and the lower limit in the controller: the higher one rules.",
        "With the valves nearly shut, step the floor down by 5 % and read flow through each machine, bypass opening and motor temperature.",
    ]);
    if maker.is_none() {
        out.insert(0, "Ask the makers of pump, seal and motor for the lowest continuous speed.".to_owned());
    }
    out
}

fn could_be(case: &Case, floor: &Floor, maker: Option<f64>) -> Vec<String> {
    let mut out = Vec::new();
    if maker.is_none() {
        out.push("a floor at the maker's limit, which is not declared".to_owned());
    }
    if case.minimum_flow_m3h() > 0.0 {
        out.push("a floor that somebody set to keep a machine's least flow".to_owned());
    } else {
        out.push("a floor that keeps the least flow of a machine that is not declared".to_owned());
    }
    if floor.excess_above_kpa.is_nan() {
        out.push("a drive in hand at that speed".to_owned());
    }
    out
}

fn confidence(case: &Case, floor: &Floor, spare: f64, share: f64, maker: Option<f64>) -> f64 {
    let mut c = 0.72 + 0.10 * (spare / 0.2).clamp(0.0, 1.0) + 0.08 * share.min(1.0);
    // That a bypass nobody trends opens further is taken on trust.
    c -= if case.minimum_flow_m3h() > 0.0 && case.bypass_position.is_none() { 0.06 } else { 0.0 };
    c -= if floor.excess_above_kpa.is_nan() { 0.10 } else { 0.0 };
    if maker.is_none() { c.min(0.58) } else { c.min(0.93) }
}

/// The first row to spare: by change point in the day's floor where it rose.
fn first_row(case: &Case, floor: &Floor) -> usize {
    const ROSE: f64 = 0.03;
    let since = onset::step(&floor.by_day, &[], 2).filter(|s| s.t >= onset::BELIEVED && s.size >= ROSE);
    let from = since.map_or(0, |s| case.days()[s.at].start);
    floor.spent.iter().copied().find(|i| *i >= from).unwrap_or(floor.spent[0])
}

/// Head at the lower floor, never below what is enough [kPa].
fn at_lower_floor(case: &Case, pump: &PumpCase, i: usize, lowest: f64) -> f64 {
    let head = case.loop_head_kpa[i];
    let speed = pump.speed[i];
    let by_table = head - pump.shut_off_kpa * (speed * speed - lowest * lowest);
    let at_lowest = if by_table.is_finite() { by_table } else { head * (lowest / speed).powi(2) };
    target_kpa(case, pump, i, asked_kpa(case, pump, i)).max(at_lowest).min(head)
}
