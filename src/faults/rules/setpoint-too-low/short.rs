//! Which coils are short in which rows, and what their water says.

use super::{OTHERS_WIDE, THIRD, TOGETHER, median, reset_has_room};
use crate::faults::rules::low_delta_t;
use crate::faults::{Case, CoilCase};
use crate::plant::{Role, Service, Valve};
use crate::quantity::Flow;

/// A valve this far open is at its end [-]: the usual limit of a request for more pressure (ASHRAE Guideline 36: above 95 %).
pub const PEGGED: f64 = 0.95;
/// Air this far off its setpoint on the starving side is short [K]: sensors and a proportional controller take half of it.
pub const SHORT_K: f64 = 1.0;
/// A coil at work for less than this is still pulling down or warming up [h].
const SETTLING_H: f64 = 2.0;
/// A setpoint that jumps by so much starts that anew [K].
const ORDER_K: f64 = 1.0;
/// A valve open by less is not at work [-].
const AT_WORK: f64 = 0.10;

/// Rows whose water is looked at; more would add time, not knowledge [-].
const MOST_ROWS: usize = 4000;

/// What a coil says in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Says {
    /// Not at work, still settling, or unknown.
    Nothing,
    /// At work, and its valve has room, or its air is what it should be.
    Served,
    /// At its end; nobody trends its air.
    AtItsEnd,
    /// At its end, and its air is short.
    Short,
}

/// Who bears witness in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Witness {
    Nothing,
    Valves,
    Air,
}

/// A coil whose valve can be seen to stand at its end.
pub struct Branch<'a> {
    pub coil: usize,
    pub valve: &'a [f64],
    /// Air leaving it, else the space's, and what it should be.
    pub air: Option<(&'a [f64], &'a [f64])>,
    /// Share of the coils' design flow [-].
    pub share: f64,
    pub index: bool,
    pub says: Vec<Says>,
}

/// The coils on two-way valves; a pressure-independent one counts with its air only, since it stands at its end at design flow too.
pub fn branches<'a>(case: &Case<'a>) -> Vec<Branch<'a>> {
    let all: f64 = case.coils.iter().map(|c| weight(case, c)).sum();
    let of = |(coil, c): (usize, &CoilCase<'a>)| {
        let valve = c.valve?;
        let air = air(case, c);
        let tells = match c.declared.valve {
            Some(Valve::TwoWay) | None => true,
            Some(Valve::PressureIndependent) => air.is_some(),
            Some(Valve::ThreeWay | Valve::Thermostatic | Valve::None) => false,
        };
        let says = if tells { says(case, c, valve, air) } else { Vec::new() };
        let share = weight(case, c) / all;
        tells.then_some(Branch { coil, valve, air, share, index: c.declared.index, says })
    };
    case.coils.iter().enumerate().filter_map(of).collect()
}

/// By design flow where all declare it, else by number.
fn weight(case: &Case, c: &CoilCase) -> f64 {
    let by_flow = case.coils.iter().all(|c| c.declared.design_flow.is_some());
    if by_flow { c.declared.design_flow.map_or(0.0, Flow::in_m3h) } else { f64::from(c.declared.count) }
}

fn air<'a>(case: &Case<'a>, c: &CoilCase<'a>) -> Option<(&'a [f64], &'a [f64])> {
    if let (Some(air), Some(setpoint)) = (c.air_c, c.air_setpoint_c) {
        return Some((air, setpoint));
    }
    let of = |role| case.trend(role, Some(c.name));
    of(Role::SpaceTemperature).zip(of(Role::SpaceTemperatureSetpoint))
}

/// How far the air is off its setpoint on the starving side [K].
pub fn short_by(case: &Case, air: (&[f64], &[f64]), i: usize) -> f64 {
    let off = air.0[i] - air.1[i];
    if case.plant.system.service == Service::HeatingWater { -off } else { off }
}

fn says(case: &Case, c: &CoilCase, valve: &[f64], air: Option<(&[f64], &[f64])>) -> Vec<Says> {
    let mut at_work_h = 0.0;
    let one = |i: usize| {
        let works = case.pumps_on[i] > 0 && !c.fan_off(i) && valve[i] >= AT_WORK;
        let starts = i > 0 && case.in_schedule[i] && !case.in_schedule[i - 1];
        let ordered = air.is_some_and(|a| i > 0 && (a.1[i] - a.1[i - 1]).abs() >= ORDER_K);
        at_work_h = if !works || starts || ordered { 0.0 } else { at_work_h + case.step_h };
        if !works || at_work_h < SETTLING_H {
            return Says::Nothing;
        }
        let off = air.map_or(f64::NAN, |a| short_by(case, a, i));
        match (valve[i] >= PEGGED, off) {
            (true, off) if off >= SHORT_K => Says::Short,
            (true, off) if off.is_nan() => Says::AtItsEnd,
            _ => Says::Served,
        }
    };
    (0..case.rows()).map(one).collect()
}

/// Who bears witness in a row that coils starve together.
pub fn witness(case: &Case, branches: &[Branch], i: usize) -> Witness {
    let (mut short, mut at_end, mut share, mut index, mut content) = (0, 0, 0.0, false, 0);
    for b in branches {
        match b.says[i] {
            Says::Short => {
                short += 1;
                index |= b.index;
            }
            Says::AtItsEnd => {
                at_end += 1;
                share += b.share;
            }
            // At its end and content: the air says that the valve has what it needs.
            Says::Served if b.valve[i] >= PEGGED => content += 1,
            Says::Served | Says::Nothing => {}
        }
    }
    if index || (short >= 1 && short + at_end >= TOGETHER) {
        return Witness::Air;
    }
    let together = short == 0 && content == 0 && at_end >= TOGETHER && share >= THIRD;
    if together && !reset_has_room(case, i) && middle_valve(branches, i) >= OTHERS_WIDE {
        return Witness::Valves;
    }
    Witness::Nothing
}

/// The middle of the valves at work [-].
fn middle_valve(branches: &[Branch], i: usize) -> f64 {
    median(branches.iter().filter(|b| b.says[i] != Says::Nothing).map(|b| b.valve[i]))
}

/// The one coil that is short for the most hours while no other is, with its hours.
pub fn alone(case: &Case, branches: &[Branch]) -> Option<(usize, f64)> {
    let mut hours = vec![0.0; branches.len()];
    for i in (0..case.rows()).filter(|i| case.steady[*i] && !case.frost[*i]) {
        let mut starving = (0..branches.len()).filter(|k| matches!(branches[*k].says[i], Says::Short | Says::AtItsEnd));
        if let (Some(k), None) = (starving.next(), starving.next())
            && branches[k].says[i] == Says::Short
        {
            hours[k] += case.step_h;
        }
    }
    branches.iter().map(|b| b.coil).zip(hours).max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Share of the coils' design flow in these branches [-].
pub fn trended_share(case: &Case, branches: &[Branch]) -> f64 {
    if case.coils.is_empty() { 0.0 } else { branches.iter().map(|b| b.share).sum() }
}

/// The difference that the starving coils' water takes up over what it should, the middle over the rows [-]; of the loop's water where
/// no coil's own is trended; NaN unknown.
pub fn water(case: &Case, branches: &[Branch], rows: &[usize]) -> f64 {
    let starving = |b: &&Branch, i: usize| matches!(b.says[i], Says::Short | Says::AtItsEnd);
    let one = |i: &usize| {
        let expected = low_delta_t::expected_k(case, *i);
        let own = branches.iter().filter(|b| starving(b, *i)).map(|b| low_delta_t::coil_ratio(case, b.coil, *i));
        let own = median(own);
        if own.is_finite() { own } else { case.delta_t_k(*i) / expected }
    };
    median(rows.iter().step_by(rows.len().div_ceil(MOST_ROWS).max(1)).map(one))
}
