//! Points without a value, and points that never change while the pumps run and what should move them does.

use super::far::is_measured;
use super::{Doubt, quantile, sorted};
use crate::ingest::{Clock, Series};
use crate::plant::Role;

/// Shorter running proves nothing: a quiet day can be even [h].
const LEAST_HOURS: f64 = 24.0;
/// A point with fewer samples was logged on change; that it did not change is then no sign of a fault [samples].
const LEAST_SAMPLES: u64 = 50;
/// The driver moves when its middle 90 % span this share of its middle value [share].
const DRIVER_MOVES: f64 = 0.1;
/// Two temperatures of one loop move when their difference does by this [K].
const OTHER_MOVES_K: f64 = 2.0;

/// Judges every point; removes those that cannot be true.
pub(super) fn judge(clock: &Clock, series: &mut [Series], samples: &[u64], running: Option<&[bool]>) -> Vec<Doubt> {
    let runs = |row: usize| running.is_none_or(|r| r.get(row).copied().unwrap_or(false));
    let mut doubts = Vec::new();
    let mut removed = Vec::new();
    for (i, s) in series.iter().enumerate() {
        if s.values.iter().all(|v| v.is_nan()) {
            doubts.push(Doubt {
                point: s.name.clone(),
                rows: 0,
                why: "it has no valid value in this record".to_string(),
            });
            continue;
        }
        if samples.get(i).is_none_or(|n| *n < LEAST_SAMPLES) || !never_changes(s, &runs, clock) {
            continue;
        }
        let value =
            s.values.iter().enumerate().find(|(row, v)| !v.is_nan() && runs(*row)).map_or(f64::NAN, |(_, v)| *v);
        let rows = s.values.iter().filter(|v| !v.is_nan()).count();
        let (driver, impossible) = match s.role {
            Role::PumpPower | Role::PumpFlow | Role::PumpHead | Role::LoopFlow | Role::TotalPower => {
                (moving_speed(series, s, &runs), true)
            }
            // Readings in whole degrees may stand still for days: kept.
            Role::SupplyTemperature | Role::ReturnTemperature => (moving_partner(series, s, &runs), false),
            _ => (None, false),
        };
        let Some(driver) = driver else { continue };
        let verdict = if impossible { "it was removed" } else { "it was kept, since a coarse reading may stand still" };
        let why =
            format!("it stands at {value:.4} {} through all running hours while \"{driver}\" moves; {verdict}", s.unit);
        doubts.push(Doubt { point: s.name.clone(), rows, why });
        if impossible {
            removed.push(i);
        }
    }
    for i in removed {
        series[i].values.fill(f64::NAN);
    }
    doubts
}

fn while_running<'a>(s: &'a Series, runs: &'a impl Fn(usize) -> bool) -> impl Iterator<Item = f64> + 'a {
    s.values.iter().enumerate().filter(|(row, v)| !v.is_nan() && runs(*row)).map(|(_, v)| *v)
}

fn never_changes(s: &Series, runs: &impl Fn(usize) -> bool, clock: &Clock) -> bool {
    let mut values = while_running(s, runs);
    let Some(first) = values.next() else { return false };
    let mut alike = 1;
    for v in values {
        if v != first {
            return false;
        }
        alike += 1;
    }
    is_measured(s.role) && f64::from(alike) * clock.hours() >= LEAST_HOURS
}

/// A trended speed of the same pump, or of any where the point is the loop's, that moves.
fn moving_speed(series: &[Series], of: &Series, runs: &impl Fn(usize) -> bool) -> Option<String> {
    let same = |s: &&Series| s.role == Role::PumpSpeed && (of.of.is_none() || s.of == of.of);
    let moves = |s: &&Series| {
        let valid = sorted(while_running(s, runs));
        let (low, middle, high) = (quantile(&valid, 0.05), quantile(&valid, 0.5), quantile(&valid, 0.95));
        matches!((low, middle, high), (Some(l), Some(m), Some(h)) if h - l > DRIVER_MOVES * m.abs())
    };
    series.iter().filter(same).find(moves).map(|s| s.name.clone())
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
