//! Supply and return the wrong way round for the service, over the record as a whole.

use super::{Doubt, quantile, sorted};
use crate::ingest::{Clock, Series};
use crate::plant::{Plant, Role, Service};

/// Less running proves nothing: a loop that is being warmed or cooled down is the wrong way round for hours [h].
const LEAST_HOURS: f64 = 24.0;
/// Two good sensors may differ by this at no load [K].
const SENSOR_ERROR_K: f64 = 0.5;
/// The difference has the wrong sign in this share of running rows [share].
const MOSTLY: f64 = 0.8;

/// A doubt that names both; nothing is exchanged, since a person can look at the pipes and we cannot.
pub(super) fn judge(plant: &Plant, clock: &Clock, series: &[Series], running: Option<&[bool]>) -> Vec<Doubt> {
    let find = |role: Role| series.iter().find(|s| s.role == role && s.of.is_none());
    let (Some(supply), Some(back)) = (find(Role::SupplyTemperature), find(Role::ReturnTemperature)) else {
        return Vec::new();
    };
    let sign = match plant.system.service {
        Service::ChilledWater | Service::CondenserWater => 1.0,
        Service::HeatingWater => -1.0,
    };
    let runs = |row: &usize| running.is_none_or(|r| r.get(*row).copied().unwrap_or(false));
    let rows = (0..clock.len).filter(runs);
    let differences = sorted(rows.map(|row| sign * (back.values[row] - supply.values[row])));
    let wrong = differences.iter().filter(|d| **d < 0.0).count();
    let (Some(middle), count) = (quantile(&differences, 0.5), differences.len()) else { return Vec::new() };
    let enough = count as f64 * clock.hours() >= LEAST_HOURS;
    if !enough || middle > -SENSOR_ERROR_K || (wrong as f64) < MOSTLY * count as f64 {
        return Vec::new();
    }
    let (expected, found) = if sign > 0.0 { ("warmer", "colder") } else { ("colder", "warmer") };
    let why = format!(
        "\"{}\" (return) is {found} than \"{}\" (supply) in {wrong} of {count} running rows, by {:.1} K in the middle; it should be {expected}: the two may be exchanged in the plant file or on the pipes. Both were kept as declared",
        back.name, supply.name, -middle
    );
    let doubt = |s: &Series| Doubt { point: s.name.clone(), rows: wrong, why: why.clone() };
    vec![doubt(supply), doubt(back)]
}
