//! The same value again and again, far beyond all others: a number that stands for "no reading".

use super::{Doubt, Kind, quantile_of};
use crate::ingest::{Clock, Series};
use crate::plant::Role;
use std::collections::BTreeMap;

/// Fewer alike may be chance.
const LEAST_ALIKE: usize = 3;
/// More than this is how the point reads, not an exception [share of valid rows].
const MOST_ROWS: f64 = 0.2;
/// Beyond the middle 60 % of all readings by this many times their spread.
const SPREADS: f64 = 20.0;
/// And larger than all of them by this factor, so that the zero of a pump at rest is never one.
const TIMES_LARGER: f64 = 3.0;
/// Of all readings that far off, at least this share is the repeated ones [-]: a pump that stands by and runs now and then reads many values there.
const MOST_OF_THEM: f64 = 0.9;
/// And they are so few different ones: an export has one number for "no reading", or one a kind of failure.
const MOST_KINDS: usize = 3;
/// The usual readings lie between these shares; the sentinels are at most [`MOST_ROWS`] on one side.
const USUAL: (f64, f64) = (0.2, 0.8);

/// Removes them and says so.
pub(super) fn remove(clock: &Clock, series: &mut Series) -> Option<Doubt> {
    if !is_measured(series.role) {
        return None;
    }
    let mut valid: Vec<f64> = series.values.iter().copied().filter(|v| v.is_finite()).collect();
    let (low, high) = (quantile_of(&mut valid, USUAL.0)?, quantile_of(&mut valid, USUAL.1)?);
    let spread = high - low;
    let largest = low.abs().max(high.abs());
    let is_far = |v: f64| {
        let away = (v - high).max(low - v);
        away > SPREADS * spread && v.abs() > TIMES_LARGER * largest && away > 0.0 && largest > 0.0
    };
    let mut counts: BTreeMap<u64, usize> = BTreeMap::new();
    for v in valid.iter().filter(|v| is_far(**v)) {
        *counts.entry(v.to_bits()).or_default() += 1;
    }
    let far: usize = counts.values().sum();
    counts.retain(|_, n| *n >= LEAST_ALIKE);
    let rows: usize = counts.values().sum();
    let one_number = counts.len() <= MOST_KINDS && rows as f64 >= MOST_OF_THEM * far as f64;
    if rows == 0 || !one_number || rows as f64 > MOST_ROWS * valid.len() as f64 {
        return None;
    }
    let is_one = |v: &f64| counts.contains_key(&v.to_bits());
    let ends = (series.values.iter().position(is_one)?, series.values.iter().rposition(is_one)?);
    series.values.iter_mut().filter(|v| is_one(v)).for_each(|v| *v = f64::NAN);
    let example = counts.keys().next().map(|b| f64::from_bits(*b))?;
    let why = format!(
        "{rows} values are exactly the same and far from all others, such as {example:.4} {} beside {low:.4} to {high:.4}; such a number stands for no reading, so they were removed",
        series.unit
    );
    Some(Doubt { removed: true, why, ..Doubt::of(clock, series, Kind::Odd, ends, rows) })
}

/// A measured number: not a state, a setpoint, a command or a counter, which are set to round values.
#[must_use]
pub fn is_measured(role: Role) -> bool {
    use Role::*;
    matches!(
        role,
        PumpSpeed
            | PumpPower
            | PumpFlow
            | PumpHead
            | TotalPower
            | LoopFlow
            | ThermalLoad
            | SupplyTemperature
            | ReturnTemperature
            | DifferentialPressure
            | BypassFlow
            | AirTemperature
            | SpaceTemperature
            | CoilFlow
            | CoilReturnTemperature
            | SuctionPressure
            | DischargePressure
            | MotorCurrent
            | MotorTorque
            | SourceFlow
            | SourceSupplyTemperature
            | SourceReturnTemperature
            | OutdoorTemperature
    )
}
