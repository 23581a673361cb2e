//! Rows in which a running pump delivers nothing, and the stretches they make.

use crate::faults::spread::median;
use crate::faults::{Case, PumpCase};
use crate::operating::State;
use crate::plant::{Bypass, Role, Valve};
use crate::quantity::Flow;
use std::ops::Range;

/// The head that others hold must lie this far above that of no flow [-]: a pump's table (ISO 9906 grade 2B: 5 % of head, from memory) and the readings.
const BEHIND: f64 = 1.06;
/// A meter at or below this share of full flow stands at zero [-]: low-flow cut-offs lie at 1 to 2 % of span (common practice, no source).
const ZERO: f64 = 0.02;
/// Flow from this share of the best-efficiency flow on is delivery [-].
const DELIVERS: f64 = 0.05;
/// Head of no flow, over the table's at the row's speed: from here on [-], and where a meter says the same, from here on.
const AT_SHUT_OFF: f64 = 0.94;
const NOT_AGAINST: f64 = 0.85;
/// Head across this pump over the one across a pump beside it [-], with room for the sensors [kPa], and over that of no flow [-]: apart.
const APART: f64 = 1.10;
const APART_KPA: f64 = 2.0;
const APART_SHUT_OFF: f64 = 0.90;
/// No head at all between the headers, over this pump's [-].
const GONE: f64 = 0.10;
/// Without a meter the flow's whole interval must lie below this share of the best-efficiency flow [-].
const NEXT_TO_NOTHING: f64 = 0.10;
/// A valve no wider open is shut [-]; a bypass wider open passes water [-].
const SHUT: f64 = 0.03;
const BYPASS_OPEN: f64 = 0.05;
/// Valves this far open, in the mean over the design flow, call for water that would then come [-]: an equal-percentage valve passes a third there.
const CALLING: f64 = 0.70;
/// The flow's whole interval below this share of the best-efficiency flow is none of theirs [-].
const NOT_THEIRS: f64 = 0.20;
/// Pumps at speeds this near run as one [-]. Power over that of a pump beside it, of what it mostly is, below which its water has gone to the other
/// [-]: at no flow a radial pump takes about half its best-point power (common practice, no source), and the other takes more. It takes so many hours
/// together to know what it mostly is [h].
const ONE_SPEED: f64 = 0.02;
const LOST_POWER: f64 = 0.70;
const TOGETHER_H: f64 = 12.0;
/// Less power is lost in the meter's steps [kW].
const LEAST_KW: f64 = 0.15;
/// Share of the coils whose valves must be trended for "all shut" [-].
const TRENDED: f64 = 0.6;
const EVERY: f64 = 0.95;
/// Slowest speed that is running in earnest [-]: a pump spinning off is slower before long.
const SLOWEST: f64 = 0.10;
/// A whole run no longer than this is an exercise [h] (common practice, no source).
const EXERCISE_H: f64 = 1.0 / 3.0;
/// Shorter stretches are starts, stops and staging [h], and never fewer than two rows.
const SHORTEST_H: f64 = 0.25;

/// One stretch without flow.
pub(super) struct Stretch {
    pub rows: Range<usize>,
    pub hours: f64,
}

/// What a pump's rows say.
pub(super) struct Seen {
    pub dead: Vec<bool>,
    pub stretches: Vec<Stretch>,
    /// Rows in which flow or no flow can be told.
    pub told: usize,
    /// A meter says so in most of them.
    pub by_meter: bool,
}

pub(super) fn shortest_h(case: &Case) -> f64 {
    SHORTEST_H.max(2.0 * case.step_h)
}

impl Seen {
    pub(super) fn of(case: &Case, pump: &PumpCase) -> Self {
        let n = case.rows();
        let witness = Witness::new(case, pump);
        let mut dead = vec![false; n];
        let (mut told, mut metered) = (0usize, 0usize);
        let mut i = 0;
        while i < n {
            if !pump.state[i].turns() {
                i += 1;
                continue;
            }
            let end = i + (i..n).take_while(|&k| pump.state[k].turns()).count();
            let exercise = (end - i) as f64 * case.step_h <= EXERCISE_H;
            for k in i..end {
                if exercise || pump.state[k] == State::Starting {
                    continue;
                }
                match witness.flows(case, pump, k) {
                    Some(Told::Delivers) => told += 1,
                    Some(Told::Nothing { by_meter }) => {
                        (dead[k], told) = (true, told + 1);
                        metered += usize::from(by_meter);
                    }
                    None => {}
                }
            }
            i = end;
        }
        let count = dead.iter().filter(|d| **d).count();
        Self { stretches: stretches(case, &dead), dead, told, by_meter: metered * 2 > count }
    }
}

/// Runs of dead rows that are long enough.
fn stretches(case: &Case, dead: &[bool]) -> Vec<Stretch> {
    let mut out = Vec::new();
    let mut i = 0;
    while i < dead.len() {
        let end = i + dead[i..].iter().take_while(|d| **d == dead[i]).count();
        let hours = (end - i) as f64 * case.step_h;
        if dead[i] && hours >= shortest_h(case) - 1e-9 {
            out.push(Stretch { rows: i..end, hours });
        }
        i = end;
    }
    out
}

enum Told {
    Delivers,
    Nothing { by_meter: bool },
}

/// What can be asked.
pub(super) struct Witness<'a> {
    own_head: Option<&'a [f64]>,
    header: Option<&'a [f64]>,
    sensor: Option<&'a [f64]>,
    /// The other pumps' numbers in the case, with the head across each.
    others: Vec<(usize, Option<&'a [f64]>)>,
    /// Power over that of another pump, by its number, at one speed: the middle of the record [-].
    power_ratio: Vec<(usize, f64)>,
    own_meter: Option<&'a [f64]>,
    loop_meter: Option<&'a [f64]>,
    /// Flow that a meter's zero is held against [m3/h].
    full_m3h: f64,
    /// Most of the design flow's valves are trended, and nothing else lets water through; all of them are, and there is no bypass that might be stuck.
    all_valves: bool,
    every_valve: bool,
}

impl<'a> Witness<'a> {
    pub(super) fn new(case: &Case<'a>, pump: &PumpCase<'a>) -> Self {
        let weight = |c: &&crate::faults::CoilCase| c.declared.design_flow.map_or(1.0, Flow::in_m3h);
        let all: f64 = case.coils.iter().map(|c| weight(&c)).sum();
        let with: f64 = case.coils.iter().filter(|c| c.valve.is_some()).map(|c| weight(&c)).sum();
        let passes = |c: &crate::faults::CoilCase| matches!(c.declared.valve, Some(Valve::ThreeWay | Valve::None));
        let bypass = case.bypass_position.is_some() || matches!(case.plant.system.bypass, Some(Bypass::None));
        let design = case.design_flow_m3h();
        let others = case.pumps.iter().enumerate().filter(|(_, p)| p.name != pump.name);
        Self {
            own_head: case.trend(Role::PumpHead, Some(pump.name)),
            header: case.trend(Role::PumpHead, None),
            sensor: case.dp_kpa,
            others: others.map(|(k, p)| (k, case.trend(Role::PumpHead, Some(p.name)))).collect(),
            power_ratio: power_ratios(case, pump),
            own_meter: case.trend(Role::PumpFlow, Some(pump.name)),
            loop_meter: case.trend(Role::LoopFlow, None),
            full_m3h: if pump.best_flow_m3h > 0.0 { pump.best_flow_m3h } else { design },
            every_valve: all > 0.0 && with >= EVERY * all && case.plant.system.bypass == Some(Bypass::None),
            all_valves: all > 0.0 && with >= TRENDED * all && bypass && !case.coils.iter().any(passes),
        }
    }

    /// Whether a row delivers; `None` where nothing tells.
    fn flows(&self, case: &Case, pump: &PumpCase, i: usize) -> Option<Told> {
        let speed = pump.speed[i];
        if !(speed > SLOWEST) {
            return None;
        }
        if self.is_behind(case, pump, i) || self.stands_apart(case, pump, i) || self.works_less(case, pump, i) {
            return Some(Told::Nothing { by_meter: false });
        }
        let bypass_open = case.bypass_position.is_some_and(|b| b[i] > BYPASS_OPEN);
        let alone = self.others.iter().all(|(k, _)| case.pumps[*k].state[i] == State::Off);
        let own = at(self.own_meter, i);
        let of_loop = at(self.loop_meter, i);
        // The loop's meter speaks of a pump that runs alone, and of all where it stands at zero.
        let metered = if own.is_nan() && (alone || of_loop <= ZERO * self.full_m3h) { of_loop } else { own };
        let at_shut_off = self.shut_off_ratio(pump, i);
        if metered.is_finite() {
            // An open bypass may take its water before the meter; while coils call and head is that of no flow, it does not.
            let past = bypass_open && own.is_nan() && !(at_shut_off >= AT_SHUT_OFF && self.calling(case, i));
            return self.by_meter(metered, speed, at_shut_off, past);
        }
        let best = speed * pump.best_flow_m3h;
        let little = self.every_valve || pump.flow_high_m3h[i] <= NEXT_TO_NOTHING * best;
        let shut = self.all_valves && !bypass_open && case.widest_valve(i) <= SHUT;
        if shut && alone && at_shut_off >= AT_SHUT_OFF && little {
            return Some(Told::Nothing { by_meter: false });
        }
        // Coils call, and what they would take does not flow: the way to them is shut.
        let barred = pump.flow_high_m3h[i] <= NOT_THEIRS * best && self.calling(case, i);
        if barred && alone && at_shut_off >= AT_SHUT_OFF {
            return Some(Told::Nothing { by_meter: false });
        }
        // Whatever fixed the flow, an interval that starts above little is delivery; it takes a measured head to say so.
        if at_shut_off.is_finite() && pump.flow_low_m3h[i] > DELIVERS * best {
            return Some(Told::Delivers);
        }
        (self.held_kpa(case, i) < speed * speed * pump.shut_off_kpa / BEHIND).then_some(Told::Delivers)
    }

    /// Whether its power fell far below its usual share of that of a pump beside it at one speed.
    fn works_less(&self, case: &Case, pump: &PumpCase, i: usize) -> bool {
        self.power_ratio
            .iter()
            .any(|(k, usual)| power_ratio(pump, &case.pumps[*k], i).is_some_and(|r| r <= LOST_POWER * usual))
    }

    /// Whether most valves stand far open: the coils call for water.
    fn calling(&self, case: &Case, i: usize) -> bool {
        let (mut open, mut all) = (0.0, 0.0);
        for c in &case.coils {
            let weight = c.declared.design_flow.map_or(1.0, Flow::in_m3h);
            let position = c.valve.map_or(f64::NAN, |v| v[i]);
            if position.is_finite() && !c.fan_off(i) {
                open += weight * position;
                all += weight;
            }
        }
        all > 0.0 && open >= CALLING * all
    }

    /// Whether the head across this pump is that of no flow and well above the one across another that runs beside it, or above all that reaches the loop:
    /// then a shut valve parts it from them.
    fn stands_apart(&self, case: &Case, pump: &PumpCase, i: usize) -> bool {
        let own = at(self.own_head, i);
        let no_flow = pump.speed[i].powi(2) * pump.shut_off_kpa;
        if pump.state[i] != State::Steady || !(own >= APART_SHUT_OFF * no_flow) {
            return false;
        }
        let beside = self.others.iter().filter(|(k, _)| case.pumps[*k].state[i] == State::Steady);
        let across = beside.map(|(_, head)| at(*head, i)).fold(f64::NAN, f64::max);
        let gone = at(self.header, i).max(at(self.sensor, i)) <= GONE * own;
        own > APART * across + APART_KPA || gone
    }

    fn by_meter(&self, metered: f64, speed: f64, at_shut_off: f64, bypass_open: bool) -> Option<Told> {
        if metered > DELIVERS * speed * self.full_m3h {
            return Some(Told::Delivers);
        }
        // A head well below that of no flow says that water moves, whatever the meter reads; none at all, that it does not reach the loop.
        let against = (GONE..NOT_AGAINST).contains(&at_shut_off);
        let zero = metered <= ZERO * self.full_m3h;
        (zero && !against && !bypass_open).then_some(Told::Nothing { by_meter: true })
    }

    /// Measured head over that of no flow at the row's speed [-]; NaN where either is not known.
    fn shut_off_ratio(&self, pump: &PumpCase, i: usize) -> f64 {
        let own = at(self.own_head, i);
        let head = if own.is_finite() { own } else { at(self.header, i) };
        head / (pump.speed[i].powi(2) * pump.shut_off_kpa)
    }

    /// Head measured between the headers [kPa]: of all, across another running pump, or at the control sensor, which is less; NaN unknown.
    pub(super) fn held_kpa(&self, case: &Case, i: usize) -> f64 {
        let header = at(self.header, i);
        if header.is_finite() {
            return header;
        }
        let running = self.others.iter().filter(|(k, _)| case.pumps[*k].state[i].turns());
        running.map(|(_, head)| at(*head, i)).fold(f64::NAN, f64::max).max(at(self.sensor, i))
    }

    /// Whether a pump is too slow to open its check valve against the head that another, faster one holds.
    pub(super) fn is_behind(&self, case: &Case, pump: &PumpCase, i: usize) -> bool {
        let faster = |k: usize| {
            let other = &case.pumps[k];
            other.state[i] == State::Steady && other.speed[i] > pump.speed[i]
        };
        let no_flow = pump.speed[i].powi(2) * pump.shut_off_kpa;
        self.others.iter().any(|(k, _)| faster(*k)) && self.held_kpa(case, i) > BEHIND * no_flow
    }
}

/// Power over another pump's where both run steadily at one speed [-].
fn power_ratio(pump: &PumpCase, other: &PumpCase, i: usize) -> Option<f64> {
    let steady = pump.state[i] == State::Steady && other.state[i] == State::Steady;
    let one = (pump.speed[i] - other.speed[i]).abs() <= ONE_SPEED * other.speed[i];
    let known = pump.power_kw[i] > 0.0 && other.power_kw[i] >= LEAST_KW;
    (steady && one && known).then(|| pump.power_kw[i] / other.power_kw[i])
}

/// The usual ratio to each pump that ran beside it for long enough, where most of those hours are alike.
fn power_ratios(case: &Case, pump: &PumpCase) -> Vec<(usize, f64)> {
    let mut usual = Vec::new();
    for (k, other) in case.pumps.iter().enumerate().filter(|(_, p)| p.name != pump.name) {
        let ratios: Vec<f64> = (0..case.rows()).filter_map(|i| power_ratio(pump, other, i)).collect();
        if ratios.len() as f64 * case.step_h >= TOGETHER_H {
            let middle = median(ratios.iter().copied());
            let alike = ratios.iter().filter(|r| **r > LOST_POWER * middle && **r < middle / LOST_POWER).count();
            if alike * 2 > ratios.len() {
                usual.push((k, middle));
            }
        }
    }
    usual
}

fn at(values: Option<&[f64]>, i: usize) -> f64 {
    values.map_or(f64::NAN, |v| v[i])
}
