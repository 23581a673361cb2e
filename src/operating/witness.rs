//! What was measured of one pump, row by row, in one shape.
//!
//! Comes in: the plant's declarations and screened trends. Goes out: [`Witnesses`]: speed as shown (fraction of rated), and whatever depends on
//! flow: head, power, meter, heat balance, remote pressure. A point computed from others is not called. The decisions a reader would question:
//! differential pressure with no pump named is taken at the headers, so a loss lies between; the loop's own meters speak of a pump only while it
//! runs alone; a thermal load beside a flow meter is that meter times delta-T, so it is not called.

use super::model::{Around, Hour, PumpModel, witness};
use super::speed;
use crate::hydraulics::fluid;
use crate::notice::Notice;
use crate::plant::{Accuracy, ControlMode, Plant, Point, PowerIs, Pump, Role};
use crate::quantity::{Density, Fraction, Temperature, Viscosity};
use crate::screening::Screened;
use std::borrow::Cow;
use witness::{COUNT, HEAD, HEAT, METER, POWER, REMOTE};

/// One row's measurements; NaN where there is none.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// Speed as shown, over rated [-].
    pub speed: f64,
    /// Head [kPa], power [kW], pump's flow meter [m3/h], flow of a heat balance [m3/h], remote differential pressure [kPa].
    pub reading: [f64; COUNT],
    pub hour: Hour,
    pub around: Around,
}

impl Row {
    /// Head [kPa], power [kW] and metered flow [m3/h] at a speed [-]; NaN where there is none.
    #[must_use]
    pub fn new(speed: f64, head: f64, power: f64, meter: f64) -> Self {
        Self { speed, reading: [head, power, meter, f64::NAN, f64::NAN], hour: Hour::DESIGN, around: Around::ALONE }
    }

    /// How many measurements there are that this pump's table can use.
    #[must_use]
    pub fn measured(&self, model: &PumpModel) -> usize {
        (0..COUNT).filter(|&w| self.reading[w].is_finite() && (w != POWER || model.has_power())).count()
    }
}

/// Whether a speed signal shows the shaft or the frequency that feeds the motor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shows {
    /// Probability that it is the frequency, so that slip hides [-].
    pub frequency: f64,
}

/// All that was measured of one pump.
#[derive(Debug, Clone)]
pub struct Witnesses<'a> {
    pub speed: Vec<f64>,
    reading: [Option<Cow<'a, [f64]>>; COUNT],
    density: Vec<f64>,
    thicker: Vec<f64>,
    delta_t: Vec<f64>,
    /// How many pumps run; empty where there is only one.
    pub sharing: Vec<u8>,
    /// The meter is the loop's: it speaks of this pump only while it runs alone.
    loop_meter: bool,
    /// The pumps of the loop are alike, so that they share its flow evenly.
    alike: bool,
    /// Share of the interval that the status says running; NaN unknown.
    pub status: Option<&'a [f64]>,
    /// The head is taken at the headers, not at the pump's flanges.
    pub head_at_header: bool,
    /// Where power is read, where it is declared.
    pub power_is: Option<PowerIs>,
    pub shows: Shows,
    pub accuracy: [Option<Accuracy>; COUNT],
    pub noise: [Option<Accuracy>; COUNT],
    pub notices: Vec<Notice>,
}

impl Witnesses<'_> {
    /// How many rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.speed.len()
    }
    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.speed.is_empty()
    }
    /// Whether a kind is trended at all.
    #[must_use]
    pub fn has(&self, which: usize) -> bool {
        self.reading[which].is_some()
    }
    /// A kind of reading in a row, whoever runs.
    #[must_use]
    pub fn raw(&self, which: usize, i: usize) -> f64 {
        self.reading[which].as_ref().map_or(f64::NAN, |v| v[i])
    }

    /// Differential pressure across the headers [kPa], where head is taken there.
    #[must_use]
    pub fn header_head(&self) -> Option<&[f64]> {
        self.reading[HEAD].as_deref().filter(|_| self.head_at_header)
    }

    /// Leaves a kind of reading out from here on.
    pub fn forget(&mut self, which: usize) {
        self.reading[which] = None;
    }

    /// Whether the meter is this pump's own, not the loop's.
    #[must_use]
    pub fn own_meter(&self) -> bool {
        !self.loop_meter || self.sharing.is_empty()
    }

    /// Whether the loop's meter speaks of this pump in a row: it runs alone, and has no meter of its own.
    #[must_use]
    pub fn hears_loop_meter(&self, i: usize) -> bool {
        self.loop_meter && self.sharing.get(i).copied().unwrap_or(1) <= 1
    }

    /// What was measured in a row.
    #[must_use]
    #[inline]
    pub fn row(&self, i: usize) -> Row {
        let mut reading = [f64::NAN; COUNT];
        for (w, of) in self.reading.iter().enumerate() {
            if let Some(v) = of {
                reading[w] = v[i];
            }
        }
        let running = self.sharing.get(i).copied().unwrap_or(1).max(1);
        if running > 1 {
            reading[HEAT] = f64::NAN;
            if self.loop_meter {
                reading[METER] = f64::NAN;
            }
            if !self.alike {
                reading[REMOTE] = f64::NAN;
            }
        }
        let at = |v: &[f64], usual: f64| v.get(i).copied().unwrap_or(usual);
        Row {
            speed: self.speed[i],
            reading,
            hour: Hour { density: at(&self.density, 1.0), thicker: at(&self.thicker, 0.0) },
            around: Around { delta_t: at(&self.delta_t, f64::NAN), sharing: f64::from(running) },
        }
    }
}

/// Gathers what was measured of a pump.
#[must_use]
pub fn gather<'a>(plant: &Plant, screened: &'a Screened, pump: &Pump) -> Witnesses<'a> {
    let mut notices = Vec::new();
    let of = Some(pump.name.as_str());
    let only = plant.pumps.len() == 1;
    let (head, head_at_header, head_point) = head_column(plant, screened, of);
    let (power, power_point) = power_column(plant, screened, of, only);
    let power_is = match power_point {
        // A counter of energy hangs on the supply.
        Some(p) if p.role == Role::PumpPower => p.power_is,
        Some(p) => p.power_is.or(Some(PowerIs::DriveInput)),
        None => Some(PowerIs::DriveInput),
    };
    let status = screened.values(Role::PumpStatus, of);
    let beside = Beside {
        head: head.as_deref(),
        power: power.as_deref(),
        power_is: power_is.unwrap_or(PowerIs::DriveInput),
        status,
    };
    let (speed, shows) = speed_column(plant, screened, pump, &beside, &mut notices);
    let own_meter = witness(plant, screened, Role::PumpFlow, of);
    let loop_meter = own_meter.is_none();
    let meter = own_meter.or_else(|| witness(plant, screened, Role::LoopFlow, None));
    let (density, thicker) = fluid_columns(plant, screened);
    let remote = remote_column(plant, screened);
    let metered = meter.is_some() || screened.find(Role::LoopFlow, None).is_some();
    let heat = if metered { None } else { heat_column(plant, screened) };
    let (heat, delta_t, heat_point) =
        heat.map_or((None, Vec::new(), None), |h| (Some(Cow::Owned(h.flow)), h.delta_t, h.point));
    let points = [head_point, power_point, meter.map(|m| m.1), heat_point, remote.map(|r| r.1)];
    let mut reading: [Option<Cow<'a, [f64]>>; COUNT] = [const { None }; COUNT];
    reading[HEAD] = head;
    reading[POWER] = power;
    reading[METER] = meter.map(|m| Cow::Borrowed(m.0));
    reading[HEAT] = heat;
    reading[REMOTE] = remote.map(|r| Cow::Borrowed(r.0));
    Witnesses {
        speed,
        reading,
        density,
        thicker,
        delta_t,
        sharing: Vec::new(),
        loop_meter,
        alike: alike(plant),
        status,
        head_at_header,
        power_is,
        shows,
        accuracy: points.map(|p| p.and_then(|p| p.accuracy)),
        noise: points.map(|p| p.and_then(|p| p.noise)),
        notices,
    }
}

/// Whether all pumps have the same declared table.
fn alike(plant: &Plant) -> bool {
    plant.pumps.windows(2).all(|w| {
        w[0].curves.len() == w[1].curves.len()
            && w[0].curves.iter().zip(&w[1].curves).all(|(a, b)| {
                a.head_flow_m3h == b.head_flow_m3h && a.head_kpa == b.head_kpa && a.power_kw == b.power_kw
            })
    })
}

/// A series and its declaration, unless it is computed from others.
fn witness<'a, 'p>(
    plant: &'p Plant,
    screened: &'a Screened,
    role: Role,
    of: Option<&str>,
) -> Option<(&'a [f64], &'p Point)> {
    let series = screened.find(role, of)?;
    let point = plant.points.get(series.point)?;
    point.computed_from.is_empty().then_some((series.values.as_slice(), point))
}

/// The meter that sees all pumps' water, unless it is computed from others.
#[must_use]
pub fn loop_meter<'a, 'p>(plant: &'p Plant, screened: &'a Screened) -> Option<(&'a [f64], &'p Point)> {
    witness(plant, screened, Role::LoopFlow, None)
}

/// How often a signal shows the frequency and not the shaft (common practice, no source): drives differ, and a "speed" in % is as often the one
/// as the other, even where a plant file calls it a % of rated speed, as people say it of both. One in Hz is the drive's output or its reference
/// before the slip is made up for; one in rpm is the drive's estimate of the shaft. What is declared to be of a frequency, or stops where only a
/// frequency does, is one nearly always.
const SHOWS_RPM: Shows = Shows { frequency: 0.1 };
const SHOWS_PERCENT: Shows = Shows { frequency: 0.5 };
const SHOWS_HZ: Shows = Shows { frequency: 0.6 };
const SHOWS_FREQUENCY: Shows = Shows { frequency: 0.9 };

fn shows(of: speed::Shows, unit: &str) -> Shows {
    match (of, unit) {
        (speed::Shows::Frequency, "Hz") => SHOWS_HZ,
        (speed::Shows::Frequency, _) => SHOWS_FREQUENCY,
        (speed::Shows::Shaft, "rpm") => SHOWS_RPM,
        (speed::Shows::Shaft | speed::Shows::Either, _) => SHOWS_PERCENT,
    }
}

/// What else was trended of the pump, to settle what its speed means.
struct Beside<'a> {
    head: Option<&'a [f64]>,
    power: Option<&'a [f64]>,
    power_is: PowerIs,
    status: Option<&'a [f64]>,
}

impl Beside<'_> {
    /// Rows in which the pump runs by its status, else by its power; empty where neither tells.
    fn running(&self) -> Vec<bool> {
        if let Some(status) = self.status {
            // An unknown row may run.
            return status.iter().map(|s| !(*s <= 0.5)).collect();
        }
        let Some(power) = self.power else { return Vec::new() };
        let most = power.iter().copied().filter(|p| p.is_finite()).fold(0.0, f64::max);
        power.iter().map(|p| !(*p <= IDLE * most)).collect()
    }
}

/// Below this share of its largest power a pump is at rest [-]: standby of drive and fan.
const IDLE: f64 = 0.01;

fn speed_column(
    plant: &Plant,
    screened: &Screened,
    pump: &Pump,
    beside: &Beside,
    notices: &mut Vec<Notice>,
) -> (Vec<f64>, Shows) {
    let of = Some(pump.name.as_str());
    let none = || vec![f64::NAN; screened.clock.len];
    let found = screened.find(Role::PumpSpeed, of).or_else(|| screened.find(Role::PumpSpeedCommand, of));
    let Some(series) = found else { return (none(), SHOWS_PERCENT) };
    let running = beside.running();
    let record = speed::Record {
        readings: &series.values,
        running: &running,
        head: beside.head,
        power: beside.power,
        power_is: beside.power_is,
    };
    let consistent = |factor: f64| speed::disagreement(pump, &record, factor);
    let read = speed::meaning(&speed::Signal {
        pump,
        point: plant.points.get(series.point),
        maximum_speed: plant.control.maximum_speed.map(Fraction::in_of_one),
        unit: series.unit,
        values: &series.values,
        running: &running,
        consistent: Some(&consistent),
    });
    notices.extend(read.notices);
    match read.value {
        Some(m) => (series.values.iter().map(|v| v * m.factor).collect(), shows(m.shows, series.unit)),
        None => (none(), SHOWS_PERCENT),
    }
}

type Declared<'p> = Option<&'p Point>;

fn head_column<'a, 'p>(
    plant: &'p Plant,
    screened: &'a Screened,
    of: Option<&str>,
) -> (Option<Cow<'a, [f64]>>, bool, Declared<'p>) {
    if let Some((v, p)) = witness(plant, screened, Role::PumpHead, of) {
        return (Some(Cow::Borrowed(v)), false, Some(p));
    }
    if let Some(v) = across(screened, of) {
        return (Some(Cow::Owned(v)), false, None);
    }
    if let Some((v, p)) = witness(plant, screened, Role::PumpHead, None) {
        return (Some(Cow::Borrowed(v)), true, Some(p));
    }
    if let Some(v) = across(screened, None) {
        return (Some(Cow::Owned(v)), true, None);
    }
    let at_pump = matches!(
        plant.control.mode,
        Some(ControlMode::ConstantPressure | ControlMode::Proportional | ControlMode::Quadratic)
    );
    match witness(plant, screened, Role::DifferentialPressure, None) {
        Some((v, p)) if at_pump => (Some(Cow::Borrowed(v)), true, Some(p)),
        _ => (None, false, None),
    }
}

/// The control sensor where it stands out in the loop.
fn remote_column<'a, 'p>(plant: &'p Plant, screened: &'a Screened) -> Option<(&'a [f64], &'p Point)> {
    if plant.control.mode != Some(ControlMode::RemotePressure) {
        return None;
    }
    let series = screened.series.iter().find(|s| s.role == Role::DifferentialPressure)?;
    let point = plant.points.get(series.point)?;
    point.computed_from.is_empty().then_some((series.values.as_slice(), point))
}

fn across(screened: &Screened, of: Option<&str>) -> Option<Vec<f64>> {
    let discharge = screened.values(Role::DischargePressure, of)?;
    let suction = screened.values(Role::SuctionPressure, of)?;
    Some(discharge.iter().zip(suction).map(|(d, s)| d - s).collect())
}

fn power_column<'a, 'p>(
    plant: &'p Plant,
    screened: &'a Screened,
    of: Option<&str>,
    only: bool,
) -> (Option<Cow<'a, [f64]>>, Declared<'p>) {
    if let Some((v, p)) = witness(plant, screened, Role::PumpPower, of) {
        return (Some(Cow::Borrowed(v)), Some(p));
    }
    if let Some((v, p)) = witness(plant, screened, Role::PumpEnergy, of) {
        return (Some(Cow::Owned(from_counter(v, screened.clock.hours()))), Some(p));
    }
    match witness(plant, screened, Role::TotalPower, None) {
        Some((v, p)) if only => (Some(Cow::Borrowed(v)), Some(p)),
        _ => (None, None),
    }
}

/// A heat balance: flow [m3/h] that carries the load, and the temperature difference it rests on [K].
struct Heat<'p> {
    flow: Vec<f64>,
    delta_t: Vec<f64>,
    point: Declared<'p>,
}

/// Below this a pair of sensors says nothing of the flow [K].
const LEAST_DELTA_T: f64 = 1.0;

fn heat_column<'p>(plant: &'p Plant, screened: &Screened) -> Option<Heat<'p>> {
    let (load, point) = witness(plant, screened, Role::ThermalLoad, None)?;
    let supply = screened.values(Role::SupplyTemperature, None)?;
    let back = screened.values(Role::ReturnTemperature, None)?;
    let kind = plant.system.fluid.in_books();
    let capacity = |t: f64| {
        fluid::volumetric_heat_capacity(kind, plant.system.glycol_mass_fraction, Temperature::celsius(t))
            .unwrap_or(f64::NAN)
    };
    // Heat a degree and volume changes by a few per cent over the range of a loop: two temperatures and the line between them.
    let typical = supply.iter().copied().filter(|t| t.is_finite()).fold((0.0, 0u32), |(s, n), t| (s + t, n + 1));
    let middle = if typical.1 > 0 { typical.0 / f64::from(typical.1) } else { 20.0 };
    let (at, slope) = (capacity(middle), (capacity(middle + 5.0) - capacity(middle - 5.0)) / 10.0);
    let at = if at.is_finite() { at } else { WATER_CAPACITY };
    let slope = if slope.is_finite() { slope } else { 0.0 };
    let delta_t: Vec<f64> = supply.iter().zip(back).map(|(s, r)| (s - r).abs()).collect();
    let flow = (0..load.len())
        .map(|i| {
            if delta_t[i] >= LEAST_DELTA_T && load[i] >= 0.0 {
                load[i] * 3600.0 / ((at + slope * (0.5 * (supply[i] + back[i]) - middle)) * delta_t[i])
            } else {
                f64::NAN
            }
        })
        .collect();
    Some(Heat { flow, delta_t, point: Some(point) })
}

/// Heat that a cubic metre of cold water takes up a kelvin [kJ/(m3 K)].
const WATER_CAPACITY: f64 = 4186.0;

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

/// Density and logarithm of viscosity of each hour's fluid over those at the design supply temperature, which the curves are declared at. Empty
/// where the temperature is not known; viscosity is followed for glycols only.
fn fluid_columns(plant: &Plant, screened: &Screened) -> (Vec<f64>, Vec<f64>) {
    let system = &plant.system;
    let (Some(design), Some(supply)) = (system.supply_temperature, screened.values(Role::SupplyTemperature, None))
    else {
        return (Vec::new(), Vec::new());
    };
    let (kind, share) = (system.fluid.in_books(), system.glycol_mass_fraction);
    let density = |t: f64| fluid::density(kind, share, Temperature::celsius(t)).map(Density::in_kg_m3);
    let viscosity = |t: f64| fluid::viscosity(kind, share, Temperature::celsius(t)).map(Viscosity::in_mpa_s);
    let Some(at_design) = density(design.in_celsius()) else { return (Vec::new(), Vec::new()) };
    let densities: Vec<f64> = supply.iter().map(|&t| density(t).map_or(1.0, |d| d / at_design)).collect();
    let thick_at_design = viscosity(design.in_celsius()).filter(|_| kind != fluid::Fluid::Water);
    let thicker = thick_at_design.map_or_else(Vec::new, |v| {
        supply.iter().zip(&densities).map(|(&t, d)| viscosity(t).map_or(0.0, |x| (x / v / d).ln())).collect()
    });
    (densities, thicker)
}
