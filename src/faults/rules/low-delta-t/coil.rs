//! A coil that passes more water than its load needs.

use super::FAULT;
use super::expected::{coil_design_k, coil_ratio, expected_k, with_difference};
use super::seen::{AIR_MOVED_K, air_ordered, coil_difference, conditions, daily, working};
use crate::faults::onset::{self, Step};
use crate::faults::rules::{lines, number};
use crate::faults::spread::median;
use crate::faults::{Case, CoilCase, Evidence, Finding, Verdict, price, say};
use crate::plant::{Service, Valve};
use crate::quantity::Flow;

/// A coil's valve must have opened by this much at like conditions [-], its water's difference fallen by so much [-].
const COIL_OPENED: f64 = 0.08;
const COIL_FELL: f64 = 0.08;
/// A coil whose valve stands this far open [-] while its water takes up no more than so much of design [-], for so long [h].
const WIDE_OPEN: f64 = 0.90;
const COIL_LOW: f64 = 0.65;
const LEAST_WIDE_H: f64 = 20.0;
/// From the first day on, beside siblings: a coil whose design is declared and whose valve stands this far open [-] takes up no more than so
/// much of it while its siblings take up at least so much of theirs [-], on so many days [days].
const LAGS_OPEN: f64 = 0.60;
const LAGS: f64 = 0.75;
const SIBLINGS: f64 = 0.90;
const LEAST_LAG_DAYS: usize = 4;
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
    cause: Cause,
    rows: Vec<usize>,
    /// Day the fault began on; `None` from the first day on.
    pub at: Option<usize>,
    /// Its water's difference of what it was or should be [-].
    left: f64,
    confidence: f64,
    because: String,
    evidence: Vec<Evidence>,
}

pub fn coil(case: &Case, k: usize) -> Option<CoilFault> {
    let c = &case.coils[k];
    if matches!(c.declared.valve, Some(Valve::ThreeWay | Valve::None | Valve::PressureIndependent)) {
        return None;
    }
    c.valve?;
    c.return_c?;
    opened(case, k).or_else(|| lags(case, k)).or_else(|| wide_open(case, k))
}

/// By a step: the valve opened and the water's difference fell at like conditions; where the air's setpoint moved with it, by that order.
fn opened(case: &Case, k: usize) -> Option<CoilFault> {
    let c = &case.coils[k];
    let valve = c.valve?;
    let rows = working(case, c);
    let given = conditions(case, k, &rows);
    let open = onset::step(&daily(case, &rows, &|i| valve[i]), &given, 3)?;
    let water = onset::step(&daily(case, &rows, &|i| coil_difference(case, c, i)), &given, 3)?;
    let sure = open.t >= onset::BELIEVED && water.t >= onset::BELIEVED && open.at.abs_diff(water.at) <= 1;
    if !sure || open.size < COIL_OPENED || water.size > -COIL_FELL * water.before {
        return None;
    }
    let ordered = air_ordered(case, c, &rows, open.at);
    let start = case.days()[open.at].start;
    let left = 1.0 + water.size / water.before;
    let mine: Vec<usize> = rows.into_iter().filter(|i| *i >= start).collect();
    let first = *mine.first()?;
    let cause = if ordered >= AIR_MOVED_K { Cause::Order } else { Cause::Fouled };
    let costs = median(mine.iter().map(|i| coil_ratio(case, k, *i))) <= ORDER_COSTS;
    if ordered <= -AIR_MOVED_K || (cause == Cause::Order && !costs) {
        return None;
    }
    let why = match cause {
        Cause::Fouled => "the coil takes up less from more water, as a fouled one does".to_owned(),
        Cause::Order => format!("its air setpoint moved by {} toward more work on that day", case.say_kelvin(ordered)),
    };
    let source = "valve position and coil return temperature, days at like sibling valves and weather";
    Some(CoilFault {
        coil: k,
        cause,
        at: Some(open.at),
        left,
        confidence: (0.7 + open.t.min(water.t) / 100.0).min(0.92),
        because: format!(
            "Since {} the valve of {} stands {} of its travel wider at like conditions, and its water's temperature difference fell \
             to {} of what it was: {why}.",
            case.say_when(first),
            c.name,
            say::percent(open.size),
            say::percent(left)
        ),
        evidence: vec![
            number("valve opened by", open.size, "fraction", format!("below {COIL_OPENED}"), source),
            number(
                "water's difference after over before",
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
fn lags(case: &Case, k: usize) -> Option<CoilFault> {
    let c = &case.coils[k];
    let valve = c.valve?;
    c.declared.design_load.and(c.declared.design_flow)?;
    let ratio = |i: usize| coil_ratio(case, k, i);
    let beside = |i: usize| {
        let others = (0..case.coils.len()).filter(|j| *j != k && case.coils[*j].valve.is_some_and(|v| v[i] >= 0.15));
        median(others.map(|j| coil_ratio(case, j, i)))
    };
    let rows: Vec<usize> = working(case, c)
        .into_iter()
        .filter(|i| valve[*i] >= LAGS_OPEN && case.steady[*i] && ratio(*i).is_finite() && beside(*i) >= SIBLINGS)
        .collect();
    let low: Vec<usize> = rows.iter().copied().filter(|i| ratio(*i) <= LAGS).collect();
    let mut days: Vec<u32> = low.iter().map(|i| case.local_day[*i]).collect();
    days.dedup();
    let (own, theirs) = (median(rows.iter().map(|i| ratio(*i))), median(rows.iter().map(|i| beside(*i))));
    if !(own <= LAGS) || (low.len() as f64) * case.step_h < LEAST_WIDE_H || days.len() < LEAST_LAG_DAYS {
        return None;
    }
    let source = "coil return temperatures, in steady hours with the valve well open";
    Some(CoilFault {
        coil: k,
        cause: Cause::Fouled,
        at: None,
        left: own,
        confidence: (0.65 + (LAGS - own)).min(0.85),
        because: format!(
            "With its valve more than {} open the water of {} takes up {} of its design difference, for {:.0} h on {} days, while its \
             siblings' takes up {}.",
            say::percent(LAGS_OPEN),
            c.name,
            say::percent(own),
            low.len() as f64 * case.step_h,
            days.len(),
            say::percent(theirs)
        ),
        evidence: vec![
            number("coil's difference over design, valve well open", own, "fraction", format!("above {LAGS}"), source),
            number("siblings' difference over design", theirs, "fraction", "1", source),
        ],
        rows: low,
    })
}

/// From the first day on: wide open, and the water hardly takes anything up. A coil short of capacity for any other
/// reason would take up its design difference or more at full flow.
fn wide_open(case: &Case, k: usize) -> Option<CoilFault> {
    let c = &case.coils[k];
    let valve = c.valve?;
    let design = coil_design_k(case, c);
    let rows: Vec<usize> = working(case, c)
        .into_iter()
        .filter(|i| valve[*i] >= WIDE_OPEN && expected_k(case, *i).is_finite() && case.steady[*i])
        .collect();
    let ratio = median(rows.iter().map(|i| coil_difference(case, c, *i) / design));
    let sibling = median(rows.iter().map(|i| sibling_difference(case, k, *i) / case.design_delta_t_k()));
    let low = ratio <= COIL_LOW && sibling.is_finite() && ratio <= COIL_LOW * sibling.max(1.0);
    if case.plant.system.service == Service::HeatingWater || !low || (rows.len() as f64) * case.step_h < LEAST_WIDE_H {
        return None;
    }
    Some(CoilFault {
        coil: k,
        cause: Cause::Fouled,
        at: None,
        left: ratio,
        confidence: 0.75,
        because: format!(
            "The valve of {} stands wide open for {:.0} h while its water takes up {} of its design difference, where its siblings' \
             takes up {}.",
            c.name,
            rows.len() as f64 * case.step_h,
            say::percent(ratio),
            say::percent(sibling)
        ),
        evidence: vec![
            number(
                "coil's difference over design, wide open",
                ratio,
                "fraction",
                format!("above {COIL_LOW}"),
                "coil return temperature",
            ),
            number("siblings' difference over design", sibling, "fraction", "1", "coil return temperatures"),
        ],
        rows,
    })
}

fn sibling_difference(case: &Case, k: usize, i: usize) -> f64 {
    let others = case.coils.iter().enumerate().filter(|(j, c)| *j != k && c.valve.is_some_and(|v| v[i] >= 0.15));
    median(others.map(|(_, c)| coil_difference(case, c, i)))
}

impl CoilFault {
    /// Share of the loop's design flow that the coil has [-].
    fn share(&self, case: &Case) -> f64 {
        let own = case.coils[self.coil].declared.design_flow.map_or(f64::NAN, Flow::in_m3h);
        let share = own / case.design_flow_m3h();
        if share.is_finite() { share } else { 1.0 / case.coils.len() as f64 }
    }

    /// Whether it alone lowers the loop's difference by as much, on the same day: its share takes 1/left of its water.
    pub fn explains(&self, case: &Case, fall: Step, level: &[f64]) -> bool {
        let more = self.share(case) * (1.0 / self.left.max(0.2) - 1.0);
        let fell = -fall.size / median(level[..fall.at].iter().copied());
        let together = self.at.is_none_or(|at| at.abs_diff(fall.at) <= 2);
        together && fell <= 2.0 * more / (1.0 + more) + 0.02
    }

    pub fn verdict(&self, case: &Case) -> Verdict {
        let c = &case.coils[self.coil];
        let (first, last) = (self.rows[0], self.rows[self.rows.len() - 1]);
        let share = self.share(case) * (1.0 - self.left);
        let waste = price::waste(case, &self.rows, |i| with_difference(case, i, 1.0 - share));
        let starves = c.valve.is_some_and(|v| median(self.rows.iter().map(|i| v[*i])) >= WIDE_OPEN);
        Verdict::Found(Box::new(Finding {
            fault: FAULT,
            subject: c.name.into(),
            urgency: price::urgency(case, waste, starves),
            confidence: self.confidence,
            first_seen_ms: case.time_ms[first],
            last_seen_ms: case.time_ms[last],
            hours: self.rows.len() as f64 * case.step_h,
            waste_kwh: waste,
            waste_kwh_per_year: price::per_year(case, waste),
            caused_by: None,
            because: self.because.clone(),
            evidence: self.evidence.clone(),
            could_also_be: self.could_also_be(c),
            check_on_site: lines(&[
                "Read entering and leaving air and water with one calibrated thermometer, at high load.",
                "Look at both faces of the coil and at the filter; measure the pressure drop of air and water.",
                "Flush the strainer and vent the coil; see whether the stem follows the command over its whole travel.",
            ]),
            change: match self.cause {
                Cause::Fouled => {
                    format!(
                        "Clean or mend {}; then let the valve come back before any pump setting is lowered.",
                        c.name
                    )
                }
                Cause::Order => {
                    format!(
                        "Put the air setpoint of {} back to what its coil was built for, or say why it must stay.",
                        c.name
                    )
                }
            },
            caution: case
                .caution("Stop and lock the fan before opening the unit; a coil that meets outdoor air can freeze."),
        }))
    }

    fn could_also_be(&self, c: &CoilCase) -> Vec<String> {
        let mut all = lines(&[
            "less air over the coil: a filter, a belt, a fan or a damper",
            "a valve or actuator that slipped, so that its position says more than it opens",
        ]);
        if c.air_setpoint_c.is_none() {
            all.push(
                "a load that asks for colder (in heating: warmer) air than before without a setpoint that is trended"
                    .into(),
            );
        }
        if self.at.is_none() {
            all.push(
                "a coil too small for its load, or built for another difference than declared, from the start".into(),
            );
        }
        all
    }
}
