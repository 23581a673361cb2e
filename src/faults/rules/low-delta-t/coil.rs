//! A coil that passes more water than its load needs.

use super::expected::{coil_design_k, coil_ratio, expected_k};
use super::seen::{AIR_MOVED_K, air_ordered, coil_difference, conditions, daily, working};
use crate::faults::onset;
use crate::faults::rules::number;
use crate::faults::spread::median;
use crate::faults::{Case, CoilCase, Evidence, say};
use crate::plant::{Service, Terminal, Valve};

/// A coil's valve must have opened by this much at like conditions [-], its water's difference fallen by so much [-].
const COIL_OPENED: f64 = 0.10;
const COIL_FELL: f64 = 0.12;
/// A coil whose valve stands this far open [-] while its water takes up no more than so much of design [-], for so long [h].
pub const WIDE_OPEN: f64 = 0.90;
const COIL_LOW: f64 = 0.65;
const LEAST_WIDE_H: f64 = 20.0;
/// From the first day on, beside siblings: a coil whose design is declared and whose valve stands this far open [-] takes up no more than so
/// much of it while its siblings take up at least so much of theirs [-], on so many days [days].
const LAGS_OPEN: f64 = 0.60;
const LAGS: f64 = 0.75;
/// Below this a coil does nothing at all [-]: its fan stands still, and that is not trended.
const IDLE: f64 = 0.30;
const SIBLINGS: f64 = 0.90;
const LEAST_LAG_DAYS: usize = 4;
/// Rows looked at; more would add time, not knowledge [-].
const MOST_ROWS: usize = 4000;
/// What an ordered coil's water may still take up of what it should [-]: above that the order costs little.
const ORDER_COSTS: f64 = 0.85;

/// Why it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// Dirt on water or air side, too little air, a slipped actuator.
    Fouled,
    /// Its air setpoint was moved toward more work.
    Order,
}

/// The coil at fault.
pub struct CoilFault {
    pub coil: usize,
    pub cause: Cause,
    pub rows: Vec<usize>,
    /// Day the fault began on; `None` from the first day on.
    pub at: Option<usize>,
    /// Its water's difference of what it was or should be [-].
    pub left: f64,
    /// Share of what it was (where it fell) or should be, from which its difference is low [-].
    pub limit: f64,
    pub confidence: f64,
    pub because: String,
    pub evidence: Vec<Evidence>,
}

pub fn coil(case: &Case, k: usize) -> Option<CoilFault> {
    let c = &case.coils[k];
    if matches!(c.declared.valve, Some(Valve::ThreeWay | Valve::None | Valve::PressureIndependent)) {
        return None;
    }
    if at_low_fans(c) {
        return None;
    }
    c.valve?;
    c.return_c?;
    let rows = working(case, c);
    opened(case, k, &rows).or_else(|| lags(case, k, &rows)).or_else(|| wide_open(case, k, &rows))
}

/// By a step: the valve opened and the water's difference fell at like conditions; where the air's setpoint moved with it, by that order.
fn opened(case: &Case, k: usize, rows: &[usize]) -> Option<CoilFault> {
    let c = &case.coils[k];
    let valve = c.valve?;
    let given = conditions(case, k, rows);
    let open = onset::step(&daily(case, rows, &|i| valve[i]), &given, 3)?;
    let water = onset::step(&daily(case, rows, &|i| coil_difference(case, c, i)), &given, 3)?;
    let sure = open.t >= onset::BELIEVED && water.t >= onset::BELIEVED && open.at.abs_diff(water.at) <= 1;
    // A step beyond all travel, or to less than nothing, is drawn by few unlike days.
    let possible = open.size <= 1.0 && water.size > -water.before;
    if !sure || !possible || open.size < COIL_OPENED || water.size > -COIL_FELL * water.before {
        return None;
    }
    let ordered = air_ordered(case, c, rows, open.at);
    let start = case.days()[open.at].start;
    let left = 1.0 + water.size / water.before;
    let mine: Vec<usize> = rows.iter().copied().filter(|i| *i >= start).collect();
    let first = *mine.first()?;
    let cause = if ordered >= AIR_MOVED_K { Cause::Order } else { Cause::Fouled };
    let costs = median(mine.iter().map(|i| coil_ratio(case, k, *i))) <= ORDER_COSTS;
    if ordered <= -AIR_MOVED_K || (cause == Cause::Order && !costs) {
        return None;
    }
    let why = match cause {
        Cause::Fouled => "the coil takes less from more water, as a fouled coil does".to_owned(),
        Cause::Order => format!("its air setpoint moved by {} toward more work on that day", case.say_kelvin(ordered)),
    };
    let source = "valve position and coil return temperature, days with the other valves and the weather alike";
    Some(CoilFault {
        coil: k,
        cause,
        at: Some(open.at),
        left,
        limit: 1.0 - COIL_FELL,
        confidence: (0.7 + open.t.min(water.t) / 100.0).min(0.92),
        because: format!(
            "Since {} the valve of {} is {} of its travel further open in the same conditions, and the temperature difference of its water fell to {} of what it was: {why}.",
            case.say_when(first),
            c.name,
            say::percent(open.size),
            say::percent(left)
        ),
        evidence: vec![
            number("valve opened by", open.size, "fraction", format!("below {COIL_OPENED}"), source),
            number(
                "its water's temperature difference, after over before",
                left,
                "fraction",
                format!("above {}", 1.0 - COIL_FELL),
                source,
            ),
            number(
                "step over its standard error",
                open.t.min(water.t),
                "-",
                format!("below {}", onset::BELIEVED),
                source,
            ),
        ],
        rows: mine,
    })
}

/// From the first day on, beside siblings: its own design is declared, its valve is well open, and its water takes up far less of that than
/// theirs do of theirs.
fn lags(case: &Case, k: usize, rows: &[usize]) -> Option<CoilFault> {
    let c = &case.coils[k];
    let valve = c.valve?;
    c.declared.design_load.and(c.declared.design_flow)?;
    let ratio = |i: usize| coil_ratio(case, k, i);
    let beside = |i: usize| {
        let others = (0..case.coils.len()).filter(|j| *j != k && case.coils[*j].valve.is_some_and(|v| v[i] >= 0.15));
        median(others.map(|j| coil_ratio(case, j, i)))
    };
    let open: Vec<usize> =
        rows.iter().copied().filter(|i| valve[*i] >= LAGS_OPEN && case.steady[*i] && ratio(*i).is_finite()).collect();
    let stride = open.len().div_ceil(MOST_ROWS).max(1);
    let seen = open.iter().step_by(stride).map(|i| (*i, ratio(*i), beside(*i))).filter(|s| s.2 >= SIBLINGS);
    let seen: Vec<(usize, f64, f64)> = seen.collect();
    let mut days: Vec<u32> = seen.iter().filter(|s| s.1 <= LAGS).map(|s| case.local_day[s.0]).collect();
    let hours = days.len() as f64 * stride as f64 * case.step_h;
    days.dedup();
    let (own, theirs) = (median(seen.iter().map(|s| s.1)), median(seen.iter().map(|s| s.2)));
    if !(IDLE..=LAGS).contains(&own) || hours < LEAST_WIDE_H || days.len() < LEAST_LAG_DAYS {
        return None;
    }
    let low: Vec<usize> = open.into_iter().filter(|i| ratio(*i) <= LAGS).collect();
    let source = "coil return temperatures, in steady hours with the valve well open";
    Some(CoilFault {
        coil: k,
        cause: Cause::Fouled,
        at: None,
        left: own,
        limit: LAGS,
        confidence: (0.65 + (LAGS - own)).min(0.85),
        because: format!(
            "With its valve more than {} open the water of {} changes by {} of its design temperature difference, for {:.0} h on {} days, while that of the other coils changes by {}.",
            say::percent(LAGS_OPEN),
            c.name,
            say::percent(own),
            hours,
            days.len(),
            say::percent(theirs)
        ),
        evidence: vec![
            number(
                "coil's temperature difference over design, valve well open",
                own,
                "fraction",
                format!("above {LAGS}"),
                source,
            ),
            number("the other coils' temperature difference over design", theirs, "fraction", "1", source),
        ],
        rows: low,
    })
}

/// Fan coils at low fan speed take up less through an open valve, in health; a status says that a fan turns, not how fast.
fn at_low_fans(c: &CoilCase) -> bool {
    c.declared.terminal == Some(Terminal::FanCoil)
}

/// From the first day on: wide open, and the water hardly takes anything up. A coil short of capacity for any other
/// reason would take up its design difference or more at full flow.
fn wide_open(case: &Case, k: usize, rows: &[usize]) -> Option<CoilFault> {
    let c = &case.coils[k];
    let valve = c.valve?;
    let design = coil_design_k(case, c);
    let rows: Vec<usize> = rows
        .iter()
        .copied()
        .filter(|i| valve[*i] >= WIDE_OPEN && expected_k(case, *i).is_finite() && case.steady[*i])
        .collect();
    let ratio = median(rows.iter().map(|i| coil_difference(case, c, *i) / design));
    let stride = rows.len().div_ceil(MOST_ROWS).max(1);
    let beside = |i: &usize| sibling_difference(case, k, *i) / case.design_delta_t_k();
    let sibling = median(rows.iter().step_by(stride).map(beside));
    let low = ratio <= COIL_LOW && sibling.is_finite() && ratio <= COIL_LOW * sibling.max(1.0);
    if case.plant.system.service == Service::HeatingWater || !low || (rows.len() as f64) * case.step_h < LEAST_WIDE_H {
        return None;
    }
    Some(CoilFault {
        coil: k,
        cause: Cause::Fouled,
        at: None,
        left: ratio,
        limit: COIL_LOW,
        confidence: 0.75,
        because: format!(
            "The valve of {} was wide open for {:.0} h while its water changed by {} of its design temperature difference, where that of the other coils changed by {}.",
            c.name,
            rows.len() as f64 * case.step_h,
            say::percent(ratio),
            say::percent(sibling)
        ),
        evidence: vec![
            number(
                "coil's temperature difference over design, wide open",
                ratio,
                "fraction",
                format!("above {COIL_LOW}"),
                "coil return temperature",
            ),
            number(
                "the other coils' temperature difference over design",
                sibling,
                "fraction",
                "1",
                "coil return temperatures",
            ),
        ],
        rows,
    })
}

fn sibling_difference(case: &Case, k: usize, i: usize) -> f64 {
    let others = case.coils.iter().enumerate().filter(|(j, c)| *j != k && c.valve.is_some_and(|v| v[i] >= 0.15));
    median(others.map(|(_, c)| coil_difference(case, c, i)))
}
