//! Values that cannot be, by role: wider than any plant, so that only a broken reading falls outside.

use super::{Doubt, Kind};
use crate::ingest::{Clock, Series};
use crate::plant::{Plant, Role};
use crate::quantity::{Frequency, ShaftSpeed};

/// Colder than any climate and any brine in a hydronic loop [degC].
const COLDEST_C: f64 = -60.0;
/// Hotter than district heating water [degC].
const HOTTEST_WATER_C: f64 = 150.0;
/// Hotter than air behind a heating coil [degC].
const HOTTEST_AIR_C: f64 = 90.0;
/// A position may overshoot its ends by this, where the feedback is calibrated roughly [share of the stroke].
const POSITION_SLACK: f64 = 0.05;
/// A drive may run above rated speed, but not by half: motors for it do not exist in this trade [share of rated].
const FASTEST: f64 = 1.5;
/// A column of fractions that is above this most of the time is one of percentages: 200 % of speed turns no pump. The operating stage settles
/// what it means [-].
const PERCENT_FROM: f64 = 2.0;
/// Rated frequency where none is declared: the higher of the two in use, so that nothing possible is removed [Hz].
const HIGHEST_GRID_HZ: f64 = 60.0;
/// Two poles at 60 Hz: no pump motor on the grid is rated faster [rpm].
const HIGHEST_RATED_RPM: f64 = 3600.0;
/// A meter at rest may read below zero by this share of its usual largest reading [share].
const ZERO_NOISE: f64 = 0.02;
/// More than the pumps of one loop make and pipes of this trade bear [kPa].
const HIGHEST_KPA: f64 = 4000.0;
/// A differential pressure sensor piped the wrong way still reads within this [kPa].
const LOWEST_KPA: f64 = -4000.0;
/// More than the flow of a city's district pipe [m3/h].
const HIGHEST_FLOW_M3H: f64 = 100_000.0;

/// Removes what lies outside and says so.
pub(super) fn remove(plant: &Plant, clock: &Clock, series: &mut Series) -> Option<Doubt> {
    let (low, high) = range(plant, series)?;
    let (mut rows, mut example, mut ends) = (0, None, (usize::MAX, 0));
    for (row, v) in series.values.iter_mut().enumerate().filter(|(_, v)| !v.is_nan() && !(low..=high).contains(*v)) {
        example.get_or_insert(*v);
        *v = f64::NAN;
        rows += 1;
        ends = (ends.0.min(row), row);
    }
    let unit = series.unit;
    let why = format!(
        "{rows} values outside {low:.4} to {high:.4} {unit}, such as {:.4}, are not possible and were removed",
        example?
    );
    Some(Doubt { removed: true, why, ..Doubt::of(clock, series, Kind::Odd, ends, rows) })
}

/// What a value of this role can be, in the series' unit; `None` where no bound is known.
fn range(plant: &Plant, series: &Series) -> Option<(f64, f64)> {
    use Role::*;
    Some(match series.role {
        SupplyTemperature
        | ReturnTemperature
        | CoilReturnTemperature
        | SourceSupplyTemperature
        | SourceReturnTemperature => (COLDEST_C, HOTTEST_WATER_C),
        AirTemperature | AirTemperatureSetpoint | SpaceTemperature | SpaceTemperatureSetpoint | OutdoorTemperature => {
            (COLDEST_C, HOTTEST_AIR_C)
        }
        ValvePosition | ValveCommand | BypassPosition => (-POSITION_SLACK, 1.0 + POSITION_SLACK),
        PumpSpeed | PumpSpeedCommand => {
            let rated = rated_speed(plant, series)?;
            (-POSITION_SLACK * rated, FASTEST * rated)
        }
        PumpPower | TotalPower => (-ZERO_NOISE * usual_largest(series)?, f64::MAX),
        PumpFlow | LoopFlow | CoilFlow | SourceFlow => (-ZERO_NOISE * usual_largest(series)?, HIGHEST_FLOW_M3H),
        BypassFlow => (-HIGHEST_FLOW_M3H, HIGHEST_FLOW_M3H),
        PumpHead | DifferentialPressure | DifferentialPressureSetpoint => (LOWEST_KPA, HIGHEST_KPA),
        SuctionPressure | DischargePressure => (-101.325, HIGHEST_KPA),
        PumpEnergy | PumpStarts => (0.0, f64::MAX),
        _ => return None,
    })
}

/// Rated speed in the unit of a speed's series.
fn rated_speed(plant: &Plant, series: &Series) -> Option<f64> {
    let pump = plant.pumps.iter().find(|p| Some(&p.name) == series.of.as_ref());
    match series.unit {
        "fraction" if usual_largest(series).is_some_and(|v| v > PERCENT_FROM) => Some(100.0),
        "fraction" => Some(1.0),
        "Hz" => {
            let rated = pump.and_then(|p| p.maximum_frequency.or(p.rated_frequency));
            Some(rated.map_or(HIGHEST_GRID_HZ, Frequency::in_hz))
        }
        "rpm" => Some(pump.and_then(|p| p.rated_speed).map_or(HIGHEST_RATED_RPM, ShaftSpeed::in_rpm)),
        _ => None,
    }
}

/// The size that 95 of 100 readings stay below; a damaged reading does not set it.
fn usual_largest(series: &Series) -> Option<f64> {
    Some(super::share_of(series.values.iter().map(|v| v.abs()), 0.95)).filter(|v| v.is_finite())
}
