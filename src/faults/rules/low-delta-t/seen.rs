//! What valves, water and air of the coils did from day to day.

use crate::faults::spread::{mean, median};
use crate::faults::{Case, CoilCase, onset};
use crate::plant::{Service, Valve};
use std::sync::OnceLock;

/// A valve opened by this much at like conditions bears witness [-].
pub const VALVE_OPENED: f64 = 0.06;
/// A move of the air's setpoint or temperature that explains a valve that opened [K].
pub const AIR_MOVED_K: f64 = 0.8;
/// Hours a day needs to count [h].
pub const LEAST_DAY_H: f64 = 1.0;

/// A valve that stands wider at like conditions from a day on.
pub struct Opened {
    pub coil: usize,
    pub at: usize,
    pub size: f64,
}

/// The coils whose valves opened, each with its day.
pub fn valves_opened<'c>(case: &'c Case) -> impl Iterator<Item = &'c Opened> {
    (0..case.coils.len()).filter_map(|k| valve_opened(case, k))
}

pub fn valve_opened<'c>(case: &'c Case, k: usize) -> Option<&'c Opened> {
    let all = case.looks.opened.get_or_init(|| case.coils.iter().map(|_| OnceLock::new()).collect());
    all[k].get_or_init(|| look_for_opened(case, k)).as_ref()
}

fn look_for_opened(case: &Case, k: usize) -> Option<Opened> {
    let c = &case.coils[k];
    let valve = c.valve?;
    if matches!(c.declared.valve, Some(Valve::ThreeWay | Valve::None | Valve::PressureIndependent)) {
        return None;
    }
    let rows: Vec<usize> = (0..case.rows()).filter(|i| at_work(case, c, *i)).collect();
    let s = onset::step(&daily(case, &rows, &|i| valve[i]), &conditions(case, k, &rows), 3)?;
    let sure = s.t >= onset::BELIEVED && s.size >= VALVE_OPENED && !air_moved(case, c, &rows, s.at);
    sure.then_some(Opened { coil: k, at: s.at, size: s.size })
}

/// How many coils' valves opened on a day, whatever their siblings did: what most share cannot be told apart by holding one against the others.
pub fn opened_with(case: &Case, at: usize) -> usize {
    let opened = |c: &&CoilCase| {
        let Some(valve) = c.valve else { return false };
        let rows: Vec<usize> = (0..case.rows()).filter(|i| at_work(case, c, *i)).collect();
        let of = |column: Option<&[f64]>| daily(case, &rows, &|i| column.map_or(f64::NAN, |v| v[i]));
        let mut given = vec![of(case.supply_c), of(case.outdoor_c)];
        given.retain(|g| g.iter().any(|v| v.is_finite()));
        let step = onset::step_on(&daily(case, &rows, &|i| valve[i]), &given, 3, at);
        step.is_some_and(|s| s.t >= onset::BELIEVED && s.size >= VALVE_OPENED)
    };
    case.coils.iter().filter(opened).count()
}

/// Those that opened with a fall of the loop's difference.
pub fn witnesses<'c>(case: &'c Case, at: usize) -> Vec<&'c Opened> {
    valves_opened(case).filter(|o| o.at.abs_diff(at) <= 1).collect()
}

/// A sentence that names the coils whose valves opened.
pub fn named(case: &Case, seen: &[&Opened]) -> String {
    if seen.is_empty() {
        return String::new();
    }
    let names: Vec<&str> = seen.iter().map(|o| case.coils[o.coil].name).collect();
    format!(
        " With it the valve{} of {} opened wider at like conditions: {} more water for the same load, as a fouled coil does.",
        if seen.len() > 1 { "s" } else { "" },
        names.join(" and "),
        if seen.len() > 1 { "they take" } else { "it takes" }
    )
}

/// Rows in which the coil works.
pub fn working(case: &Case, c: &CoilCase) -> Vec<usize> {
    (0..case.rows()).filter(|i| at_work(case, c, *i) && coil_difference(case, c, *i).is_finite()).collect()
}

/// Whether a coil's valve is open while pump and, as far as known, fan run.
pub fn at_work(case: &Case, c: &CoilCase, i: usize) -> bool {
    case.pumps_on[i] > 0 && !c.fan_off(i) && !case.frost[i] && c.valve.is_some_and(|v| v[i] >= 0.1)
}

pub fn coil_difference(case: &Case, c: &CoilCase, i: usize) -> f64 {
    let (Some(supply), Some(back)) = (case.supply_c, c.return_c) else { return f64::NAN };
    case.toward_load(supply[i], back[i])
}

/// A daily mean over rows, NaN on days with too few.
pub fn daily(case: &Case, rows: &[usize], of: &dyn Fn(usize) -> f64) -> Vec<f64> {
    let mean_of = |d: std::ops::Range<usize>| {
        let mine = &rows[rows.partition_point(|i| *i < d.start)..rows.partition_point(|i| *i < d.end)];
        if mine.len() as f64 * case.step_h < LEAST_DAY_H { f64::NAN } else { mean(mine.iter().map(|i| of(*i))) }
    };
    case.days().into_iter().map(mean_of).collect()
}

/// What a coil's valve may honestly follow: its siblings' valves, the supply's temperature, the weather.
pub fn conditions(case: &Case, k: usize, rows: &[usize]) -> Vec<Vec<f64>> {
    let others: Vec<&[f64]> =
        case.coils.iter().enumerate().filter(|(j, _)| *j != k).filter_map(|(_, c)| c.valve).collect();
    let siblings = |i: usize| mean(others.iter().map(|v| v[i]));
    let mut given =
        vec![daily(case, rows, &siblings), daily(case, rows, &|i| case.supply_c.map_or(f64::NAN, |s| s[i]))];
    given.push(daily(case, rows, &|i| case.outdoor_c.map_or(f64::NAN, |t| t[i])));
    given.retain(|g| g.iter().any(|v| v.is_finite()));
    given
}

/// How far the coil's air setpoint moved on that day toward more work for the coil [K]; NaN where none is trended.
pub fn air_ordered(case: &Case, c: &CoilCase, rows: &[usize], at: usize) -> f64 {
    let Some(setpoint) = c.air_setpoint_c else { return f64::NAN };
    let days = daily(case, rows, &|i| setpoint[i]);
    let near = |from: usize, to: usize| median(days[from.min(days.len())..to.min(days.len())].iter().copied());
    let moved = near(at, at + 7) - near(at.saturating_sub(7), at);
    if case.plant.system.service == Service::HeatingWater { moved } else { -moved }
}

/// Whether the coil's air setpoint moved on that day: then the valve followed an order.
pub fn air_moved(case: &Case, c: &CoilCase, rows: &[usize], at: usize) -> bool {
    air_ordered(case, c, rows, at).abs() >= AIR_MOVED_K
}
