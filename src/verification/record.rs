//! The columns a saving rests on: energy of the pumps, weather, and a load that the pumps do not make up themselves.

use super::VerifyError;
use crate::hydraulics::fluid;
use crate::ingest::{Clock, Series};
use crate::notice::Notice;
use crate::operating::OperatingPoints;
use crate::plant::{Plant, PowerIs, Role};
use crate::quantity::Temperature;
use crate::screening::Screened;
use crate::verify::Record;

/// Share of running rows without a metered power from which that is said (common practice, no source) [-].
const MOSTLY_METERED: f64 = 0.95;
/// Heat a volume of cold water takes a degree [kJ/(m3 K)] (IAPWS-IF97 at 10 degC), where the fluid's own is out of range.
const WATER_CAPACITY: f64 = 4192.0;

/// One entry a row each; a driver that is not trended is empty.
pub(super) struct Columns {
    time_ms: Vec<i64>,
    energy_kwh: Vec<f64>,
    pub outdoor_c: Vec<f64>,
    pub load_kw: Vec<f64>,
    pub energy_from: String,
    pub load_from: Option<String>,
}

impl Columns {
    pub fn new(
        plant: &Plant,
        screened: &Screened,
        points: &OperatingPoints,
        notices: &mut Vec<Notice>,
    ) -> Result<Self, VerifyError> {
        let clock = screened.clock;
        let (power, energy_from) = power(plant, screened, points, notices);
        if power.iter().all(|p| !p.is_finite()) {
            return Err(VerifyError::NoEnergy { plant: plant.name.clone() });
        }
        let load = load(plant, screened);
        if load.is_none() && plant.points.iter().any(|p| p.role == Role::ThermalLoad) {
            let text = "the trended load is computed from a flow that the pumps' own drives estimate, or its computed_from is not declared: such a load may follow the setting, so it was not used as a driver";
            notices.push(Notice::new("verification", text));
        }
        let (load_kw, load_from) = load.map_or((Vec::new(), None), |(kw, from)| (kw, Some(from)));
        Ok(Self {
            time_ms: (0..clock.len).map(|i| clock.at_ms(i)).collect(),
            energy_kwh: power.iter().map(|p| p * clock.hours()).collect(),
            outdoor_c: screened.values(Role::OutdoorTemperature, None).map_or_else(Vec::new, <[f64]>::to_vec),
            load_kw,
            energy_from,
            load_from,
        })
    }

    pub fn record<'a>(&'a self, plant: &'a Plant, clock: Clock) -> Record<'a> {
        Record {
            time_ms: &self.time_ms,
            interval_ms: clock.step_s * 1000,
            timezone: plant.site.timezone,
            holidays: &plant.site.holidays,
            energy_kwh: &self.energy_kwh,
            outdoor_c: &self.outdoor_c,
            load_kw: &self.load_kw,
        }
    }
}

/// Electric power of all pumps [kW], and where it comes from. One source for the whole record: two would differ by their errors, which is no saving.
fn power(
    plant: &Plant,
    screened: &Screened,
    points: &OperatingPoints,
    notices: &mut Vec<Notice>,
) -> (Vec<f64>, String) {
    let own = |pump: &str| {
        let of = Some(pump);
        screened.find(Role::PumpPower, of).or_else(|| screened.find(Role::PumpEnergy, of))
    };
    let each = points.pumps.iter().all(|p| own(&p.pump).is_some());
    if !each && let Some(total) = screened.find(Role::TotalPower, None).filter(|s| measured(plant, s)) {
        return (total.values.clone(), format!("metered for all pumps together ({})", total.name));
    }
    let (mut running, mut metered) = (0usize, 0usize);
    let mut sum = vec![0.0; screened.clock.len];
    for pump in &points.pumps {
        let meter = own(&pump.pump).map(|s| &s.values);
        for i in (0..pump.state.len()).filter(|i| pump.state[*i].turns()) {
            running += 1;
            metered += usize::from(meter.is_some_and(|m| m[i].is_finite()));
        }
        let as_read = screened.find(Role::PumpPower, Some(&pump.pump)).filter(|s| at_the_input(plant, s));
        let kw = as_read.map_or_else(|| pump.power_kw.clone(), |s| filled(&s.values, &pump.power_kw));
        sum.iter_mut().zip(kw).for_each(|(sum, kw)| *sum += kw);
    }
    let share = metered as f64 / running.max(1) as f64;
    let from = if metered == 0 {
        "not metered: worked out from the pumps' tables and what is trended"
    } else if share < MOSTLY_METERED {
        "metered, with gaps filled from the pumps' tables and what is trended"
    } else {
        "metered at the pumps"
    };
    if share < MOSTLY_METERED {
        let text = format!(
            "power is metered in {:.0} % of the pumps' running rows; in the others it is worked out by one model of the pumps for the whole record, so that before and after share its error",
            100.0 * share
        );
        notices.push(Notice::new("verification", text));
    }
    (sum, from.to_owned())
}

/// Read at the drive's input, or nobody says where: then the reading stands as it is.
fn at_the_input(plant: &Plant, series: &Series) -> bool {
    let place = plant.points.get(series.point).and_then(|p| p.power_is);
    measured(plant, series) && place.is_none_or(|p| p == PowerIs::DriveInput)
}

/// The meter's readings [kW]; its gaps by the model, scaled to the meter so that a gap is no step.
fn filled(meter: &[f64], model: &[f64]) -> Vec<f64> {
    let both = || meter.iter().zip(model).filter(|(m, p)| m.is_finite() && p.is_finite());
    let (read, made) = both().fold((0.0, 0.0), |(m, p), (a, b)| (m + a, p + b));
    let scale = if read > 0.0 && made > 0.0 { read / made } else { 1.0 };
    meter.iter().zip(model).map(|(m, p)| if m.is_finite() { *m } else { scale * p }).collect()
}

/// Read by an instrument, not computed from other points.
fn measured(plant: &Plant, series: &Series) -> bool {
    plant.points.get(series.point).is_some_and(|p| p.computed_from.is_empty())
}

/// A load metered apart from the pumps [kW], and where it comes from: a heat meter, or a flow meter of the loop with both temperatures.
#[must_use]
pub fn load(plant: &Plant, screened: &Screened) -> Option<(Vec<f64>, String)> {
    if let Some(s) = screened.find(Role::ThermalLoad, None).filter(|s| apart_from_pumps(plant, s)) {
        return Some((s.values.iter().map(|v| v.abs()).collect(), format!("metered ({})", s.name)));
    }
    let flow = screened.find(Role::LoopFlow, None).filter(|s| measured(plant, s))?;
    let supply = screened.values(Role::SupplyTemperature, None)?;
    let back = screened.values(Role::ReturnTemperature, None)?;
    let kind = plant.system.fluid.in_books();
    let design = plant.system.supply_temperature.map_or(20.0, Temperature::in_celsius);
    let per_m3s_k =
        fluid::volumetric_heat_capacity(kind, plant.system.glycol_mass_fraction, Temperature::celsius(design));
    let capacity = per_m3s_k.unwrap_or(WATER_CAPACITY) / 3600.0;
    let kw = |i: usize| flow.values[i] * (back[i] - supply[i]).abs() * capacity;
    let from = format!("{} times the difference of supply and return temperature", flow.name);
    Some(((0..flow.values.len()).map(kw).collect(), from))
}

/// A computed load counts where its flow is a meter's: where it is made from nothing but the loop's meter and temperatures.
fn apart_from_pumps(plant: &Plant, series: &Series) -> bool {
    let Some(point) = plant.points.get(series.point) else { return false };
    let metered =
        |r: Role| matches!(r, Role::LoopFlow | Role::SupplyTemperature | Role::ReturnTemperature | Role::SourceFlow);
    point.computed_from.iter().all(|name| plant.points.iter().any(|p| p.name == *name && metered(p.role)))
}
