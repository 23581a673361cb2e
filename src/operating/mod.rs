//! Operating points with their intervals: where each pump really ran.
//!
//! Comes in: the plant's declarations and screened trends. Goes out: [`Reconstructed`]: flow, head, power a pump and row, with
//! 95 % intervals, and the pump models as the record taught them. Flow is a posterior, fed by whatever is trended
//! (`posterior.rs`); what is wrong hour after hour is learned from the whole record (`learn.rs`), not treated as noise. A row
//! that cannot be known stays NaN, with the reason counted. Start at [`reconstruct`].

pub mod learn;
pub mod learned_curve;
pub mod model;
pub mod posterior;
mod state;
pub mod witness;

use crate::notice::{Notice, Noticed};
use crate::plant::{Accuracy, Plant, Pump};
use crate::quantity::{Power, Pressure};
use crate::screening::Screened;
use learn::Learned;
use model::{Prior, PumpModel};
use posterior::{CommonField, Estimator, Noise, Said, Silent};
use witness::{Row, Witnesses};

/// What a pump was doing in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    Unknown,
    Off,
    Starting,
    Transient,
    Steady,
}

/// Which measurements fixed the point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    None,
    Off,
    Meter,
    HeadPower,
    Head,
    Power,
    Speed,
    MeterHeadPower,
    MeterHead,
    MeterPower,
    PowerBound,
    OutsideTable,
}

impl Basis {
    /// Every kind; the first is none.
    pub const ALL: [Self; 12] = [
        Self::None,
        Self::Off,
        Self::Meter,
        Self::HeadPower,
        Self::Head,
        Self::Power,
        Self::Speed,
        Self::MeterHeadPower,
        Self::MeterHead,
        Self::MeterPower,
        Self::PowerBound,
        Self::OutsideTable,
    ];
    /// The word used in tables and files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Basis::None => "none",
            Basis::Off => "off",
            Basis::Meter => "meter",
            Basis::HeadPower => "head+power",
            Basis::Head => "head",
            Basis::Power => "power",
            Basis::Speed => "speed",
            Basis::MeterHeadPower => "meter+head+power",
            Basis::MeterHead => "meter+head",
            Basis::MeterPower => "meter+power",
            Basis::PowerBound => "power-bound",
            Basis::OutsideTable => "outside-table",
        }
    }
}

/// One pump's columns, one entry a row of the clock; NaN where it cannot be known.
#[derive(Debug, Clone)]
pub struct PumpPoints {
    pub pump: String,
    pub state: Vec<State>,
    /// Shaft speed over rated speed [-].
    pub speed: Vec<f64>,
    pub flow_m3h: Vec<f64>,
    pub flow_low_m3h: Vec<f64>,
    pub flow_high_m3h: Vec<f64>,
    pub head_kpa: Vec<f64>,
    pub head_low_kpa: Vec<f64>,
    pub head_high_kpa: Vec<f64>,
    /// Electric (drive input), as trended or reconstructed [kW].
    pub power_kw: Vec<f64>,
    /// Wire to water [-].
    pub efficiency: Vec<f64>,
    pub basis: Vec<Basis>,
    /// Part of the standard deviation that all rows of the pump share.
    pub flow_sd_common_m3h: Vec<f64>,
    pub head_sd_common_kpa: Vec<f64>,
}

/// The loop's columns: all pumps together.
#[derive(Debug, Clone)]
pub struct LoopPoints {
    pub flow_m3h: Vec<f64>,
    pub flow_low_m3h: Vec<f64>,
    pub flow_high_m3h: Vec<f64>,
    /// Head the pumps make together [kPa]: that of the running pumps.
    pub head_kpa: Vec<f64>,
    /// Electric power of all pumps [kW].
    pub power_kw: Vec<f64>,
    /// How many deliver.
    pub pumps_on: Vec<u8>,
    /// Every running pump steady.
    pub steady: Vec<bool>,
}

/// All operating points of a review.
#[derive(Debug, Clone)]
pub struct OperatingPoints {
    pub pumps: Vec<PumpPoints>,
    pub system: LoopPoints,
}

/// A pump as the record taught it.
#[derive(Debug, Clone)]
pub struct Machine {
    pub pump: String,
    pub model: PumpModel,
    pub learned: Learned,
}

/// Operating points and the models they came from.
#[derive(Debug, Clone)]
pub struct Reconstructed {
    pub points: OperatingPoints,
    /// One a pump that has a table.
    pub machines: Vec<Machine>,
}

/// Standard deviation taken from a maker's limit (the limit is two of them): share of the reading and absolute part.
fn half(accuracy: Option<Accuracy>, span: f64, default: (f64, f64)) -> (f64, f64) {
    match accuracy {
        Some(Accuracy::OfReading(x)) => (0.5 * x, 0.0),
        Some(Accuracy::OfSpan(x)) => (0.0, 0.5 * x * span),
        Some(Accuracy::Absolute(x)) => (0.0, 0.5 * x),
        None => default,
    }
}

/// Priors of the common errors (reasons at [`Prior`]).
fn prior(w: &Witnesses, design_head_kpa: f64, rated_kw: f64) -> Prior {
    let span = 1.5 * design_head_kpa;
    let head = half(w.head_accuracy, span, (0.01, 0.005 * span));
    let power = half(w.power_accuracy, rated_kw, (0.02, 0.0));
    let meter = half(w.meter_accuracy, f64::NAN, (0.02, 0.0));
    Prior {
        head_table: [0.02, 0.012, 0.006],
        power_table: [0.03, 0.02, 0.012],
        head_gain: if head.0 > 0.0 { head.0 } else { 0.003 },
        head_zero: head.1.max(0.002 * span),
        power_gain: power.0.max(if rated_kw > 0.0 { power.1 / (0.5 * rated_kw) } else { 0.0 }).max(0.003),
        loss: [0.4, 0.3],
        low_load: 0.6,
        slip: 0.5,
        header: if w.head_at_header { 0.02 } else { 0.0 },
        header_mean: if w.head_at_header { 0.03 } else { 0.0 },
        meter_gain: if meter.0 > 0.0 { meter.0 } else { 0.01 },
    }
}

/// Row noise where none is declared: a transmitter's half per cent with a step of quantisation; power fluctuates twice as much.
fn noise(w: &Witnesses, design_head_kpa: f64, rated_kw: f64, q_max: f64) -> Noise {
    let as_is = |a: Option<Accuracy>, default: (f64, f64)| match a {
        Some(Accuracy::OfReading(x)) => (x, default.1),
        Some(Accuracy::Absolute(x)) => (0.0, x.max(0.1 * default.1)),
        Some(Accuracy::OfSpan(_)) | None => default,
    };
    Noise {
        head: as_is(w.head_noise, (0.006, 0.004 * design_head_kpa)),
        power: as_is(w.power_noise, (0.012, 0.004 * rated_kw)),
        meter: (0.01, 0.003 * q_max),
    }
}

/// Reconstructs every pump's operating points.
#[must_use]
pub fn reconstruct(plant: &Plant, screened: &Screened) -> Noticed<Reconstructed> {
    let mut notices = Vec::new();
    let mut machines = Vec::new();
    let mut pumps = Vec::new();
    for pump in &plant.pumps {
        let witnesses = witness::gather(plant, screened, pump);
        notices.extend(witnesses.notices.iter().cloned());
        let (points, machine, mut said) = one_pump(plant, screened, pump, &witnesses);
        notices.append(&mut said);
        pumps.push(points);
        machines.extend(machine);
    }
    let shared_head = screened.find(crate::plant::Role::PumpHead, None).is_some();
    let system = together(&pumps, screened.clock.len, shared_head);
    Noticed { value: Reconstructed { points: OperatingPoints { pumps, system }, machines }, notices }
}

fn one_pump(
    plant: &Plant,
    screened: &Screened,
    pump: &Pump,
    w: &Witnesses,
) -> (PumpPoints, Option<Machine>, Vec<Notice>) {
    let clock = screened.clock;
    let table_kw = pump.curves.iter().flat_map(|c| c.power_kw.iter().copied()).fold(0.0, f64::max);
    let rated_kw = pump.motor_power.map_or(table_kw * 1.1, Power::in_kw);
    let design_head = design_head(plant, pump);
    let states = state::states(w, clock.step_s, rated_kw);
    let mut points = blank(&pump.name, &states, w);
    let model = PumpModel::new(pump, prior(w, design_head, rated_kw), w.power_is, w.slip_seen);
    let Some(model) = model else {
        let metered = as_measured(&mut points, w, &half(w.meter_accuracy, f64::NAN, (0.02, 0.0)));
        let text = if metered {
            format!("{}: no pump table is declared, so its flow is the meter's alone", pump.name)
        } else {
            format!("{}: no pump table is declared, so its flow is not reconstructed", pump.name)
        };
        return (points, None, vec![Notice::new("operating", text)]);
    };
    let noise = noise(w, design_head, rated_kw, model.q_max);
    let steady: Vec<Row> = w.rows.iter().zip(&states).filter(|(_, s)| **s == State::Steady).map(|(r, _)| *r).collect();
    let learned = learn::learn(&model, &steady, &noise);
    let field = CommonField::new(&model, &learned);
    let calm = Estimator { model: &model, learned: &learned, field: &field, noise };
    let moving = Estimator { noise: widened(noise), ..calm };
    let mut silent: [(u64, &str); 3] = [
        (0, "nothing measured but speed"),
        (0, "outside the pump's table"),
        (0, "head and power contradict each other"),
    ];
    for (i, row) in w.rows.iter().enumerate() {
        let estimator = match states[i] {
            State::Steady => &calm,
            State::Transient | State::Starting => &moving,
            State::Off | State::Unknown => continue,
        };
        if !row.speed.is_finite() {
            continue;
        }
        match estimator.say(row) {
            Ok(said) => fill(&mut points, i, row, &said, estimator, w),
            Err(why) => {
                silent[why as usize].0 += 1;
                points.basis[i] = if why == Silent::OutsideTable { Basis::OutsideTable } else { Basis::None };
            }
        }
    }
    let all = running(&states);
    let notices = silent
        .iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, why)| {
            let doubt = if *n as f64 > MOSTLY * all as f64 && *why != silent[0].1 {
                "; check the units of its points and the curve in the plant file"
            } else {
                ""
            };
            Notice::new("operating", format!("{}: {n} of {all} running rows have no flow: {why}{doubt}", pump.name))
        })
        .collect();
    (points, Some(Machine { pump: pump.name.clone(), model, learned }), notices)
}

/// Without a table: head and flow as they were measured, with the sensors' own doubt; says whether any flow was.
fn as_measured(p: &mut PumpPoints, w: &Witnesses, meter: &(f64, f64)) -> bool {
    let mut metered = false;
    for (i, row) in w.rows.iter().enumerate() {
        if matches!(p.state[i], State::Off | State::Unknown) {
            continue;
        }
        if row.head.is_finite() {
            let sd = HEAD_ALONE * row.head.abs();
            (p.head_kpa[i], p.head_low_kpa[i], p.head_high_kpa[i]) =
                (row.head, row.head - 1.96 * sd, row.head + 1.96 * sd);
            p.head_sd_common_kpa[i] = sd;
        }
        if row.meter >= 0.0 {
            let common = (meter.0 * row.meter).hypot(if meter.1.is_finite() { meter.1 } else { 0.0 });
            let sd = common.hypot(METER_NOISE * row.meter);
            p.flow_m3h[i] = row.meter;
            (p.flow_low_m3h[i], p.flow_high_m3h[i]) = ((row.meter - 1.96 * sd).max(0.0), row.meter + 1.96 * sd);
            p.flow_sd_common_m3h[i] = common;
            p.basis[i] = Basis::Meter;
            metered = true;
            if row.head.is_finite() && p.power_kw[i] > 0.0 {
                p.efficiency[i] = (row.meter * row.head / 3600.0 / p.power_kw[i]).clamp(0.0, 1.0);
            }
        }
    }
    metered
}

/// Standard deviation of a head that stands alone: a transmitter's 1 %, and half of that again for its zero [-].
const HEAD_ALONE: f64 = 0.015;
/// Row noise of a flow meter [-].
const METER_NOISE: f64 = 0.01;
/// Share of running rows outside the table from which the unit or the curve is the likelier culprit [-].
const MOSTLY: f64 = 0.3;

fn running(states: &[State]) -> usize {
    states.iter().filter(|s| !matches!(s, State::Off | State::Unknown)).count()
}

/// A moving row's readings belong to slightly different instants: twice the noise.
fn widened(noise: Noise) -> Noise {
    let twice = |(a, b): (f64, f64)| (2.0 * a, 2.0 * b);
    Noise { head: twice(noise.head), power: twice(noise.power), meter: twice(noise.meter) }
}

fn design_head(plant: &Plant, pump: &Pump) -> f64 {
    plant
        .system
        .design_head
        .map(Pressure::in_kpa)
        .or_else(|| pump.curves.first().and_then(|c| c.head_kpa.first().map(|h| 0.8 * h)))
        .unwrap_or(100.0)
}

fn blank(name: &str, states: &[State], w: &Witnesses) -> PumpPoints {
    let n = states.len();
    let off = |i: usize| states[i] == State::Off;
    let zero_when_off = || -> Vec<f64> { (0..n).map(|i| if off(i) { 0.0 } else { f64::NAN }).collect() };
    let nan = || vec![f64::NAN; n];
    PumpPoints {
        pump: name.to_owned(),
        state: states.to_vec(),
        speed: (0..n).map(|i| if off(i) { 0.0 } else { w.rows[i].speed }).collect(),
        flow_m3h: zero_when_off(),
        flow_low_m3h: zero_when_off(),
        flow_high_m3h: zero_when_off(),
        head_kpa: nan(),
        head_low_kpa: nan(),
        head_high_kpa: nan(),
        power_kw: (0..n)
            .map(|i| {
                if w.rows[i].power.is_finite() {
                    w.rows[i].power
                } else if off(i) {
                    0.0
                } else {
                    f64::NAN
                }
            })
            .collect(),
        efficiency: nan(),
        basis: (0..n).map(|i| if off(i) { Basis::Off } else { Basis::None }).collect(),
        flow_sd_common_m3h: zero_when_off(),
        head_sd_common_kpa: nan(),
    }
}

/// Under this share of rated load the chain from shaft to drive input is so uncertain that power alone only bounds the flow.
const BOUND_LOAD: f64 = 0.2;

fn fill(p: &mut PumpPoints, i: usize, row: &Row, said: &Said, e: &Estimator, w: &Witnesses) {
    let q = said.flow / row.speed;
    let makes = e.model.makes(q, row.speed, row.density, &e.learned.common);
    p.speed[i] = e.model.speed(q, row.speed, &e.learned.common);
    p.flow_m3h[i] = said.flow;
    p.flow_low_m3h[i] = said.low;
    p.flow_high_m3h[i] = said.high;
    p.flow_sd_common_m3h[i] = said.sd_common;
    let (head, random, common) = head_of(row, q, said, e);
    p.head_kpa[i] = head;
    p.head_low_kpa[i] = (head - 1.96 * random.hypot(common)).max(0.0);
    p.head_high_kpa[i] = head + 1.96 * random.hypot(common);
    p.head_sd_common_kpa[i] = common;
    if !row.power.is_finite() || w.power_is != crate::plant::PowerIs::DriveInput {
        p.power_kw[i] = if e.model.has_power() { makes.power } else { f64::NAN };
    }
    let hydraulic_kw = said.flow * head / 3600.0;
    if p.power_kw[i] > 0.0 {
        p.efficiency[i] = (hydraulic_kw / p.power_kw[i]).clamp(0.0, 1.0);
    }
    let power = row.power.is_finite() && e.model.has_power();
    p.basis[i] = match (row.meter.is_finite(), row.head.is_finite(), power) {
        (true, true, true) => Basis::MeterHeadPower,
        (true, true, false) => Basis::MeterHead,
        (true, false, true) => Basis::MeterPower,
        (true, false, false) => Basis::Meter,
        (false, true, true) => Basis::HeadPower,
        (false, true, false) => Basis::Head,
        (false, false, true) if row.power < BOUND_LOAD * e.model.rated_kw() => Basis::PowerBound,
        (false, false, true) => Basis::Power,
        (false, false, false) => Basis::None,
    };
}

/// Head across the pump [kPa], its row noise and the part all rows share: the sensor's where there is one, else the table's.
fn head_of(row: &Row, q: f64, said: &Said, e: &Estimator) -> (f64, f64, f64) {
    let (model, learned) = (e.model, e.learned);
    let c = &learned.common;
    let var = |k: usize| learned.covariance[k][k];
    let table = model.makes(q, row.speed, row.density, c).head;
    if row.head.is_finite() {
        let prior = &model.prior;
        let between = model.between(q, row.speed, row.density, c);
        let head = (row.head - prior.head_zero * c[7]) / (1.0 + prior.head_gain * c[6]) + between;
        let shut_off = model.shut_off() * row.speed.powi(2) * (q / model.q_max).powi(2);
        let common = var(6) * (prior.head_gain * row.head).powi(2)
            + var(7) * prior.head_zero.powi(2)
            + var(12) * (prior.header * shut_off).powi(2);
        return (head.max(0.0), e.noise.head(row.head), common.sqrt());
    }
    let dq = 0.01 * model.q_max;
    let slope = (model.makes((q + dq).min(model.q_max), row.speed, row.density, c).head - table) / (dq * row.speed);
    let flow_sd = (said.high - said.low) / (2.0 * 1.96);
    let random = slope.abs() * (flow_sd.powi(2) - said.sd_common.powi(2)).max(0.0).sqrt();
    let departure = var(0).sqrt() * model.prior.head_table[0] * table;
    (table, random, departure.hypot(slope * said.sd_common))
}

/// Share of the pumps' common errors taken as common to them all: one head sensor, like drives, like tables.
const SHARED: f64 = 0.5;
/// The same where each pump has its own sensors.
const SHARED_APART: f64 = 0.25;

/// Sums the pumps: row noise in squares, common errors partly straight.
fn together(pumps: &[PumpPoints], n: usize, shared_head: bool) -> LoopPoints {
    let share = if shared_head { SHARED } else { SHARED_APART };
    let nan = || vec![f64::NAN; n];
    let mut out = LoopPoints {
        flow_m3h: nan(),
        flow_low_m3h: nan(),
        flow_high_m3h: nan(),
        head_kpa: nan(),
        power_kw: nan(),
        pumps_on: vec![0; n],
        steady: vec![false; n],
    };
    for i in 0..n {
        let on: Vec<&PumpPoints> =
            pumps.iter().filter(|p| !matches!(p.state[i], State::Off | State::Unknown)).collect();
        out.pumps_on[i] = u8::try_from(on.len()).unwrap_or(u8::MAX);
        out.power_kw[i] = pumps.iter().map(|p| p.power_kw[i]).sum();
        out.steady[i] = !on.is_empty() && on.iter().all(|p| p.state[i] == State::Steady);
        if pumps.iter().any(|p| p.state[i] == State::Unknown) {
            continue;
        }
        let flow: f64 = on.iter().map(|p| p.flow_m3h[i]).sum();
        out.flow_m3h[i] = flow;
        let common: f64 = on.iter().map(|p| p.flow_sd_common_m3h[i]).sum();
        let common_sq: f64 = on.iter().map(|p| p.flow_sd_common_m3h[i].powi(2)).sum();
        let wide = |edge: &dyn Fn(&PumpPoints) -> f64| {
            let random_sq: f64 =
                on.iter().map(|p| (edge(p).powi(2) - (1.96 * p.flow_sd_common_m3h[i]).powi(2)).max(0.0)).sum();
            (random_sq + 1.96f64.powi(2) * ((1.0 - share) * common_sq + share * common * common)).sqrt()
        };
        if on.len() == 1 {
            out.flow_low_m3h[i] = on[0].flow_low_m3h[i];
            out.flow_high_m3h[i] = on[0].flow_high_m3h[i];
        } else {
            out.flow_low_m3h[i] = (flow - wide(&|p: &PumpPoints| p.flow_m3h[i] - p.flow_low_m3h[i])).max(0.0);
            out.flow_high_m3h[i] = flow + wide(&|p: &PumpPoints| p.flow_high_m3h[i] - p.flow_m3h[i]);
        }
        if !on.is_empty() {
            out.head_kpa[i] = on.iter().map(|p| p.head_kpa[i]).sum::<f64>() / on.len() as f64;
        }
    }
    out
}
