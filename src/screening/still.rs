//! Points without a value, and points that stand still while the pumps run and what should move them does.
//!
//! A run of one value counts only where the pump (or the coil) works through hours of it, something that drives the point moves meanwhile, and the
//! point is one that does not rest: either it changes from row to row in the rest of the record, or the driver moved so far that its
//! own habit in the rest of the record asks for a change many times its resolution. So a reading held between changes of value, one in whole degrees,
//! one at its setpoint and one at rest are believed.

mod habit;

use super::doubt::{Kind, Sign, kept};
use super::far::is_measured;
use super::{Doubt, Seen, quantile, sorted};
use crate::ingest::{Clock, Series};
use crate::plant::Role;
use habit::{Habit, moves};
use rayon::prelude::*;

/// Shorter running proves nothing: a quiet day can be even [h].
const LEAST_HOURS: f64 = 24.0;
/// A run must last so long, with so many working hours in it [h].
const RUN_HOURS: f64 = 24.0;
const WORKING_HOURS: f64 = 8.0;
/// A point with fewer samples was logged on change; that it did not change is then no sign of a fault [samples].
const LEAST_SAMPLES: u64 = 50;
/// The driver moves when its middle 90 % span this share of its middle value [share].
const DRIVER_MOVES: f64 = 0.1;
/// Two temperatures of one loop move when their difference does by this [K].
const OTHER_MOVES_K: f64 = 2.0;
/// Weather moves: outdoor air that keeps one value so long is no weather [h] (common practice, no source).
const WEATHER_H: f64 = 48.0;
/// The same value again this often is a stop of the sensor's range, not a fault [runs].
const VISITS: usize = 3;
/// A valve passes water from here on [-].
const OPEN: f64 = 0.05;
/// Two readings are the same within this share: averages of equal numbers differ in the last digit [-].
const SAME: f64 = 1e-9;

/// A series by its place, what is doubted of it, and the stretches of rows to remove.
type Found = (usize, Doubt, Vec<(usize, usize)>);

/// Judges every point; removes those that cannot be true, or the stretch of them that cannot.
pub(super) fn judge(clock: &Clock, series: &mut [Series], samples: &[u64], seen: &Seen) -> Vec<Doubt> {
    let runs = |row: usize| seen.running.as_ref().is_none_or(|r| r.get(row).copied().unwrap_or(false));
    let all: &[Series] = series;
    let one = |(i, s): (usize, &Series)| {
        if s.values.iter().all(|v| v.is_nan()) {
            let why = "it has no valid value in this record".to_string();
            let doubt = Doubt { point: s.name.clone(), kind: Kind::NoValue, why, ..Doubt::default() };
            return Some((i, doubt, Vec::new()));
        }
        if samples.get(i).is_none_or(|n| *n < LEAST_SAMPLES) {
            return None;
        }
        if never_changes(s, &runs, clock)
            && let Some((doubt, stretch)) = through_all(clock, all, s, &runs)
        {
            return Some((i, doubt, stretch.into_iter().collect()));
        }
        for_a_while(clock, all, s, &runs).map(|(doubt, stretches)| (i, doubt, stretches))
    };
    let found: Vec<Found> = all.par_iter().enumerate().filter_map(one).collect();
    let mut doubts = Vec::with_capacity(found.len());
    for (i, doubt, stretches) in found {
        stretches.into_iter().for_each(|(a, b)| series[i].values[a..=b].fill(f64::NAN));
        doubts.push(doubt);
    }
    doubts
}

/// A point that keeps one value through all running hours; with the stretch to remove, if it is sure.
fn through_all(
    clock: &Clock,
    series: &[Series],
    s: &Series,
    runs: &impl Fn(usize) -> bool,
) -> Option<(Doubt, Option<(usize, usize)>)> {
    let value = s.values.iter().enumerate().find(|(row, v)| !v.is_nan() && runs(*row)).map_or(f64::NAN, |(_, v)| *v);
    let rows = s.values.iter().filter(|v| !v.is_nan()).count();
    let (driver, impossible) = match s.role {
        Role::PumpPower | Role::PumpFlow | Role::PumpHead | Role::LoopFlow | Role::TotalPower => {
            (moving_speed(series, s, runs), true)
        }
        // Readings in whole degrees may stand still for days: kept.
        Role::SupplyTemperature | Role::ReturnTemperature => (moving_partner(series, s, runs), false),
        _ => (None, false),
    };
    let driver = driver?;
    let verdict = if impossible { "it was removed" } else { "it was kept, since a coarse reading may stand still" };
    let why =
        format!("it stands at {value:.4} {} through all running hours while \"{driver}\" moves; {verdict}", s.unit);
    let ends = (s.values.iter().position(|v| !v.is_nan())?, s.values.iter().rposition(|v| !v.is_nan())?);
    let hours = rows as f64 * clock.hours();
    let doubt = Doubt {
        removed: impossible,
        confidence: if impossible { 0.95 } else { 0.4 },
        sign: Some(stands(hours, &driver)),
        why,
        was: kept(s, impossible),
        ..Doubt::of(clock, s, Kind::Stuck, ends, rows)
    };
    Some((doubt, impossible.then_some((0, s.values.len() - 1))))
}

fn stands(hours: f64, driver: &str) -> Sign {
    Sign { name: "hours at one value".into(), value: hours, unit: "h", expected: format!("moves with \"{driver}\"") }
}

/// A run of one value: first and last row, valid rows, working rows.
#[derive(Debug, Clone, Copy)]
struct Run {
    first: usize,
    last: usize,
    working: usize,
    value: f64,
}

/// A point that keeps one value for part of the record.
fn for_a_while(
    clock: &Clock,
    series: &[Series],
    s: &Series,
    runs: &impl Fn(usize) -> bool,
) -> Option<(Doubt, Vec<(usize, usize)>)> {
    if !is_measured(s.role) || matches!(s.role, Role::PumpSpeed | Role::SpaceTemperature | Role::BypassFlow) {
        return None;
    }
    let outdoor = s.role == Role::OutdoorTemperature;
    let valve = valve_of(series, s);
    let works = |row: usize| outdoor || (runs(row) && valve.is_none_or(|v| v[row] > OPEN));
    let hours = |rows: usize| rows as f64 * clock.hours();
    let least = if outdoor { WEATHER_H } else { RUN_HOURS };
    let long = |r: &&Run| {
        hours(r.last - r.first + 1) >= least
            && hours(r.working) >= WORKING_HOURS
            && !(r.value == 0.0 && is_flow(s.role))
    };
    // Most points have no long run: they are looked through before their many runs are kept.
    if !runs_of(s, &works).any(|r| long(&&r)) {
        return None;
    }
    let all: Vec<Run> = runs_of(s, &works).collect();
    let stopped = |r: &&Run| {
        let visits = all.iter().filter(|o| same(o.value, r.value) && o.last > o.first).count();
        let (low, high) =
            (s.values.iter().copied().fold(f64::MAX, f64::min), s.values.iter().copied().fold(f64::MIN, f64::max));
        visits < VISITS || !(same(r.value, low) || same(r.value, high))
    };
    let candidates: Vec<Run> = all.iter().filter(long).filter(stopped).copied().collect();
    if candidates.is_empty() {
        return None;
    }
    let habit = Habit::of(s, &all, &candidates, &works);
    let stuck: Vec<(Run, String)> =
        candidates.iter().filter_map(|r| Some((*r, habit.drives(series, s, r, runs, outdoor)?))).collect();
    let rows: usize = stuck.iter().map(|(r, _)| r.last - r.first + 1).sum();
    let (first, driver) = stuck.first()?;
    let last = stuck.last()?.0;
    let why = format!(
        "it stands at {:.4} {} for {:.0} h while \"{driver}\" moves, and does not rest so elsewhere in the record; that stretch was removed",
        first.value,
        s.unit,
        hours(rows)
    );
    let doubt = Doubt {
        removed: true,
        confidence: (0.85 + 0.1 * (hours(rows) / 72.0).min(1.0)).min(0.95),
        sign: Some(stands(hours(rows), driver)),
        why,
        was: kept(s, true),
        ..Doubt::of(clock, s, Kind::Stuck, (first.first, last.last), rows)
    };
    Some((doubt, stuck.iter().map(|(r, _)| (r.first, r.last)).collect()))
}

fn is_flow(role: Role) -> bool {
    matches!(role, Role::LoopFlow | Role::PumpFlow | Role::CoilFlow | Role::SourceFlow | Role::ThermalLoad)
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= SAME * a.abs().max(b.abs())
}

/// Runs of one value, in the order of time.
fn runs_of<'a>(s: &'a Series, works: &'a impl Fn(usize) -> bool) -> impl Iterator<Item = Run> + 'a {
    let mut rows = s.values.iter().enumerate().filter(|(_, v)| !v.is_nan()).peekable();
    std::iter::from_fn(move || {
        let (first, &value) = rows.next()?;
        let mut run = Run { first, last: first, working: usize::from(works(first)), value };
        while let Some((row, _)) = rows.next_if(|(_, v)| same(value, **v)) {
            (run.last, run.working) = (row, run.working + usize::from(works(row)));
        }
        Some(run)
    })
}

/// The valve of the coil whose return or leaving air a point is.
fn valve_of<'a>(series: &'a [Series], s: &Series) -> Option<&'a [f64]> {
    if !matches!(s.role, Role::CoilReturnTemperature | Role::AirTemperature | Role::CoilFlow) {
        return None;
    }
    let of = |role: Role| series.iter().find(|o| o.role == role && o.of == s.of).map(|o| o.values.as_slice());
    of(Role::ValvePosition).or_else(|| of(Role::ValveCommand))
}

fn while_running<'a>(s: &'a Series, runs: &'a impl Fn(usize) -> bool) -> impl Iterator<Item = f64> + 'a {
    s.values.iter().enumerate().filter(|(row, v)| !v.is_nan() && runs(*row)).map(|(_, v)| *v)
}

/// A measured point whose value never differs through enough running hours.
fn never_changes(s: &Series, runs: &impl Fn(usize) -> bool, clock: &Clock) -> bool {
    let mut alike = 0u32;
    let mut first = None;
    for v in while_running(s, runs) {
        if *first.get_or_insert(v) != v {
            return false;
        }
        alike += 1;
    }
    is_measured(s.role) && f64::from(alike) * clock.hours() >= LEAST_HOURS
}

/// A trended speed of the same pump, or of any where the point is the loop's, that moves.
fn moving_speed(series: &[Series], of: &Series, runs: &impl Fn(usize) -> bool) -> Option<String> {
    let same = |s: &&Series| s.role == Role::PumpSpeed && (of.of.is_none() || s.of == of.of);
    series.iter().filter(same).find(|s| moves(s, runs)).map(|s| s.name.clone())
}

/// The other of supply and return, where it moves.
fn moving_partner(series: &[Series], of: &Series, runs: &impl Fn(usize) -> bool) -> Option<String> {
    let other = if of.role == Role::SupplyTemperature { Role::ReturnTemperature } else { Role::SupplyTemperature };
    let moves = |s: &&Series| {
        let valid = sorted(while_running(s, runs));
        matches!((quantile(&valid, 0.05), quantile(&valid, 0.95)), (Some(l), Some(h)) if h - l > OTHER_MOVES_K)
    };
    series.iter().filter(|s| s.role == other && s.of == of.of).find(moves).map(|s| s.name.clone())
}
