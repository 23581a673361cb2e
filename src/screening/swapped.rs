//! Supply and return the wrong way round for the service, over the record as a whole.

use super::doubt::{Kind, Sign};
use super::{Doubt, Seen, quantile, sorted};
use crate::ingest::{Clock, Series};
use crate::plant::{Plant, Role, Service};
use std::sync::Arc;

/// Less running proves nothing: a loop that is being warmed or cooled down is the wrong way round for hours [h].
const LEAST_HOURS: f64 = 24.0;
/// Two good sensors may differ by this at no load [K].
const SENSOR_ERROR_K: f64 = 0.5;
/// From here on it is the pipes, not one sensor: both are removed, since every figure made of them has the wrong sign [K].
const SURE_K: f64 = 1.5;
/// The difference has the wrong sign in this share of running rows [share].
const MOSTLY: f64 = 0.8;

/// A doubt that names both; nothing is exchanged, since a person can look at the pipes and we cannot.
pub(super) fn judge(plant: &Plant, clock: &Clock, series: &mut [Series], seen: &Seen) -> Vec<Doubt> {
    let find = |role: Role| series.iter().position(|s| s.role == role && s.of.is_none());
    let (Some(s), Some(r)) = (find(Role::SupplyTemperature), find(Role::ReturnTemperature)) else {
        return Vec::new();
    };
    let (supply, back) = (&series[s], &series[r]);
    let sign = toward_load(plant);
    let runs = |row: &usize| seen.running.as_ref().is_none_or(|r| r.get(*row).copied().unwrap_or(false));
    let rows = (0..clock.len).filter(runs);
    let differences = sorted(rows.map(|row| sign * (back.values[row] - supply.values[row])));
    let wrong = differences.iter().filter(|d| **d < 0.0).count();
    let (Some(middle), count) = (quantile(&differences, 0.5), differences.len()) else { return Vec::new() };
    let enough = count as f64 * clock.hours() >= LEAST_HOURS;
    if !enough || middle > -SENSOR_ERROR_K || (wrong as f64) < MOSTLY * count as f64 {
        return Vec::new();
    }
    let sure = middle <= -SURE_K;
    let (expected, found) = if sign > 0.0 { ("warmer", "colder") } else { ("colder", "warmer") };
    let kept = if sure { "Both were removed" } else { "Both were kept, since one sensor's error could do that too" };
    let why = format!(
        "\"{}\" (return) is {found} than \"{}\" (supply) in {wrong} of {count} running rows, by {:.1} K in the middle; it should be {expected}: the two may be exchanged in the plant file or on the pipes, or the service be declared wrongly. {kept}",
        back.name, supply.name, -middle
    );
    let was = Arc::new(if sure { vec![supply.clone(), back.clone()] } else { Vec::new() });
    let doubt = |one: &Series, other: &Series| Doubt {
        beside: vec![other.name.clone()],
        removed: sure,
        confidence: if sure { 0.9 } else { 0.45 },
        sign: Some(Sign {
            name: "middle of return less supply, in the sense of the service".into(),
            value: middle,
            unit: "K",
            expected: "above 0".into(),
        }),
        why: why.clone(),
        was: Arc::clone(&was),
        ..Doubt::of(clock, one, Kind::Swapped, (0, clock.len - 1), wrong)
    };
    let out = vec![doubt(supply, back), doubt(back, supply)];
    if sure {
        [s, r].into_iter().for_each(|k| series[k].values.fill(f64::NAN));
    }
    out
}

/// 1 where water warms on its way through the load, -1 where it cools.
pub(super) fn toward_load(plant: &Plant) -> f64 {
    match plant.system.service {
        Service::ChilledWater | Service::CondenserWater => 1.0,
        Service::HeatingWater => -1.0,
    }
}
