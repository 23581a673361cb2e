//! What was measured of one pump, row by row, in one shape.
//!
//! Comes in: the plant's declarations and screened trends. Goes out: [`Witnesses`]: speed as shown (fraction of rated), head,
//! power, meter and relative density a row, with what each one is. A point computed from others is not called. The decision a
//! reader would question: differential pressure with no pump named is taken at the headers, so a loss lies between.

use crate::hydraulics::fluid;
use crate::notice::Notice;
use crate::plant::{Accuracy, ControlMode, PercentOf, Plant, Point, PowerIs, Pump, Role};
use crate::quantity::{Density, Frequency, Temperature};
use crate::screening::Screened;

/// One row's measurements; NaN where there is none.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// Shaft speed as shown, over rated [-].
    pub speed: f64,
    /// [kPa]
    pub head: f64,
    /// [kW]
    pub power: f64,
    /// [m3/h]
    pub meter: f64,
    /// Density of the fluid over that of the declared curves [-].
    pub density: f64,
}

/// All that was measured of one pump.
#[derive(Debug, Clone)]
pub struct Witnesses {
    pub rows: Vec<Row>,
    /// Share of the interval that the status says running; NaN unknown.
    pub status: Option<Vec<f64>>,
    /// The head is taken at the headers, not at the pump's flanges.
    pub head_at_header: bool,
    pub power_is: PowerIs,
    /// The speed signal is the shaft's own (rpm): no slip hides.
    pub slip_seen: bool,
    pub head_accuracy: Option<Accuracy>,
    pub power_accuracy: Option<Accuracy>,
    pub meter_accuracy: Option<Accuracy>,
    pub head_noise: Option<Accuracy>,
    pub power_noise: Option<Accuracy>,
    pub notices: Vec<Notice>,
}

/// Gathers what was measured of a pump.
#[must_use]
pub fn gather(plant: &Plant, screened: &Screened, pump: &Pump) -> Witnesses {
    let n = screened.clock.len;
    let mut notices = Vec::new();
    let of = Some(pump.name.as_str());
    let only = plant.pumps.len() == 1;
    let (speed, slip_seen) = speed_column(plant, screened, pump, &mut notices);
    let (head, head_at_header, head_point) = head_column(plant, screened, of);
    let (power, power_point) = power_column(plant, screened, of, only);
    let meter = witness(plant, screened, Role::PumpFlow, of)
        .or_else(|| if only { witness(plant, screened, Role::LoopFlow, None) } else { None });
    let density = density_column(plant, screened);
    let power_is = power_point.and_then(|p| p.power_is).unwrap_or(PowerIs::DriveInput);
    let blank = vec![f64::NAN; n];
    let head = head.unwrap_or_else(|| blank.clone());
    let power = power.unwrap_or_else(|| blank.clone());
    let (meter, meter_point) = meter.map_or((blank.as_slice(), None), |(v, p)| (v, Some(p)));
    let rows = (0..n)
        .map(|i| Row { speed: speed[i], head: head[i], power: power[i], meter: meter[i], density: density[i] })
        .collect();
    Witnesses {
        rows,
        status: screened.values(Role::PumpStatus, of).map(<[f64]>::to_vec),
        head_at_header,
        power_is,
        slip_seen,
        head_accuracy: head_point.and_then(|p| p.accuracy),
        power_accuracy: power_point.and_then(|p| p.accuracy),
        meter_accuracy: meter_point.and_then(|p| p.accuracy),
        head_noise: head_point.and_then(|p| p.noise),
        power_noise: power_point.and_then(|p| p.noise),
        notices,
    }
}

/// A series and its declaration, unless it is computed from others.
fn witness<'a>(
    plant: &'a Plant,
    screened: &'a Screened,
    role: Role,
    of: Option<&str>,
) -> Option<(&'a [f64], &'a Point)> {
    let series = screened.find(role, of)?;
    let point = plant.points.get(series.point)?;
    point.computed_from.is_empty().then_some((series.values.as_slice(), point))
}

fn speed_column(plant: &Plant, screened: &Screened, pump: &Pump, notices: &mut Vec<Notice>) -> (Vec<f64>, bool) {
    let of = Some(pump.name.as_str());
    let found = screened.find(Role::PumpSpeed, of).or_else(|| screened.find(Role::PumpSpeedCommand, of));
    let Some(series) = found else { return (vec![f64::NAN; screened.clock.len], false) };
    let percent_of = plant.points.get(series.point).and_then(|p| p.percent_of).unwrap_or(PercentOf::RatedSpeed);
    let (factor, slip_seen) = match series.unit {
        "Hz" => {
            let rated = pump
                .rated_frequency
                .map_or_else(|| guessed_frequency(&series.values, &pump.name, notices), Frequency::in_hz);
            (1.0 / rated, false)
        }
        "rpm" => match pump.rated_speed {
            Some(rated) => (1.0 / rated.in_rpm(), true),
            None => return (vec![f64::NAN; screened.clock.len], true),
        },
        _ => match (percent_of, pump.maximum_frequency, pump.rated_frequency) {
            (PercentOf::MaximumFrequency, Some(top), Some(rated)) => (top.in_hz() / rated.in_hz(), false),
            _ => (1.0, false),
        },
    };
    (series.values.iter().map(|v| v * factor).collect(), slip_seen)
}

/// The mains frequency that the largest reading points to, said in a notice.
fn guessed_frequency(values: &[f64], pump: &str, notices: &mut Vec<Notice>) -> f64 {
    let top = values.iter().copied().filter(|v| v.is_finite()).fold(0.0, f64::max);
    let rated = if top > 50.5 { 60.0 } else { 50.0 };
    notices.push(Notice::new(
        "operating",
        format!("{pump}: no rated_frequency is declared; its speed never exceeds {top:.1} Hz, so {rated:.0} Hz is taken as full speed"),
    ));
    rated
}

type HeadColumn<'a> = (Option<Vec<f64>>, bool, Option<&'a Point>);

fn head_column<'a>(plant: &'a Plant, screened: &'a Screened, of: Option<&str>) -> HeadColumn<'a> {
    if let Some((v, p)) = witness(plant, screened, Role::PumpHead, of) {
        return (Some(v.to_vec()), false, Some(p));
    }
    if let Some(v) = across(screened, of) {
        return (Some(v), false, None);
    }
    if let Some((v, p)) = witness(plant, screened, Role::PumpHead, None) {
        return (Some(v.to_vec()), true, Some(p));
    }
    if let Some(v) = across(screened, None) {
        return (Some(v), true, None);
    }
    let at_pump = matches!(
        plant.control.mode,
        Some(ControlMode::ConstantPressure | ControlMode::Proportional | ControlMode::Quadratic)
    );
    match witness(plant, screened, Role::DifferentialPressure, None) {
        Some((v, p)) if at_pump => (Some(v.to_vec()), true, Some(p)),
        _ => (None, false, None),
    }
}

fn across(screened: &Screened, of: Option<&str>) -> Option<Vec<f64>> {
    let discharge = screened.values(Role::DischargePressure, of)?;
    let suction = screened.values(Role::SuctionPressure, of)?;
    Some(discharge.iter().zip(suction).map(|(d, s)| d - s).collect())
}

type PowerColumn<'a> = (Option<Vec<f64>>, Option<&'a Point>);

fn power_column<'a>(plant: &'a Plant, screened: &'a Screened, of: Option<&str>, only: bool) -> PowerColumn<'a> {
    if let Some((v, p)) = witness(plant, screened, Role::PumpPower, of) {
        return (Some(v.to_vec()), Some(p));
    }
    if let Some((v, p)) = witness(plant, screened, Role::PumpEnergy, of) {
        return (Some(from_counter(v, screened.clock.hours())), Some(p));
    }
    match witness(plant, screened, Role::TotalPower, None) {
        Some((v, p)) if only => (Some(v.to_vec()), Some(p)),
        _ => (None, None),
    }
}

/// Mean power between counter readings [kW]; a counter that falls was reset and says nothing for that row.
fn from_counter(reading_kwh: &[f64], step_h: f64) -> Vec<f64> {
    (0..reading_kwh.len())
        .map(|i| {
            let next = reading_kwh.get(i + 1).copied().unwrap_or(f64::NAN);
            let used = next - reading_kwh[i];
            if used >= 0.0 { used / step_h } else { f64::NAN }
        })
        .collect()
}

/// Density of each hour's water over that at the design supply temperature, which the curves are declared at.
fn density_column(plant: &Plant, screened: &Screened) -> Vec<f64> {
    let n = screened.clock.len;
    let system = &plant.system;
    let (Some(design), Some(supply)) = (system.supply_temperature, screened.values(Role::SupplyTemperature, None))
    else {
        return vec![1.0; n];
    };
    let kind = system.fluid.in_books();
    let density = |t: Temperature| fluid::density(kind, system.glycol_mass_fraction, t).map(Density::in_kg_m3);
    let Some(at_design) = density(design) else { return vec![1.0; n] };
    supply
        .iter()
        .map(|&t| if t.is_finite() { density(Temperature::celsius(t)).map_or(1.0, |d| d / at_design) } else { 1.0 })
        .collect()
}
