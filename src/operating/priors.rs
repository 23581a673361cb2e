//! What is expected of sensors, tables and drives before the record speaks.
//!
//! Comes in: what the plant file declares. Goes out: [`Prior`] and [`Noise`], with their reasons.

use super::model::{Prior, witness};
use super::noise::Noise;
use super::witness::Witnesses;
use crate::plant::{Accuracy, Plant, Pump};
use crate::quantity::{Power, Pressure};
use witness::{COUNT, HEAD, HEAT, METER, POWER, REMOTE};

/// Sizes that turn a share of span into a number.
#[derive(Debug, Clone, Copy)]
pub struct Sizes {
    pub design_head_kpa: f64,
    pub design_flow_m3h: f64,
    pub rated_kw: f64,
    /// Largest flow of the pump's table.
    pub q_max: f64,
    pub table: TableIs,
    /// Whether the motor's rated power and efficiency are declared.
    pub plate: bool,
}

/// Where a pump's table comes from, which says how far the pump may be from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TableIs {
    /// Of the pump's type.
    OfType,
    /// A test of this very pump, good to this much, taken as two standard deviations [-].
    Tested { tolerance: f64 },
    /// Learned from a metered stretch, with the standard errors of head and power on days held out [-]; it holds what motor, drive and sensors
    /// did there.
    Learned { head: f64, power: f64 },
}

impl TableIs {
    /// As declared: the loosest of several tables.
    fn of(pump: &Pump) -> Self {
        let each: Option<Vec<f64>> = pump.curves.iter().map(|c| c.tolerance).collect();
        match each.and_then(|t| t.into_iter().reduce(f64::max)) {
            Some(tolerance) => Self::Tested { tolerance },
            None => Self::OfType,
        }
    }
}

impl Sizes {
    /// Of a pump in its plant.
    #[must_use]
    pub fn of(plant: &Plant, pump: &Pump) -> Self {
        let curve = pump.curves.first();
        let table_kw = pump.curves.iter().flat_map(|c| c.power_kw.iter().copied()).fold(0.0, f64::max);
        let q_max = curve.and_then(|c| c.head_flow_m3h.last().map(|q| q / c.speed.in_of_one()));
        let head = curve.and_then(|c| c.head_kpa.first().map(|h| 0.8 * h));
        let on_duty = plant.system.pumps_on_duty.map_or(1.0, |n| n.max(1) as f64);
        let flow = plant.system.design_flow.map(|q| q.in_m3h() / on_duty);
        Self {
            design_head_kpa: plant.system.design_head.map(Pressure::in_kpa).or(head).unwrap_or(100.0),
            design_flow_m3h: flow.or(q_max.map(|q| 0.7 * q)).unwrap_or(f64::NAN),
            rated_kw: pump.motor_power.map_or(table_kw * 1.1, Power::in_kw),
            q_max: q_max.unwrap_or(f64::NAN),
            table: TableIs::of(pump),
            plate: pump.motor_power.is_some() && pump.motor_efficiency.is_some(),
        }
    }
}

/// A pressure sensor's span over the design head [-] (common practice, no source).
const SPAN: f64 = 1.5;

/// Standard deviation taken from a maker's limit (the limit is two of them): share of the reading and absolute part.
fn half(accuracy: Option<Accuracy>, span: f64, default: (f64, f64)) -> (f64, f64) {
    match accuracy {
        Some(Accuracy::OfReading(x)) => (0.5 * x, 0.0),
        Some(Accuracy::OfSpan(x)) => (0.0, 0.5 * x * span),
        Some(Accuracy::Absolute(x)) => (0.0, 0.5 * x),
        None => default,
    }
}

/// No declared accuracy makes a sensor perfect: the least share of the reading left in doubt [-].
const LEAST: f64 = 1e-4;

/// How motor and drive lose at part load.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LossKind {
    /// As separated losses of a motor behind a drive: iron falls with speed, copper with torque.
    Drive,
    /// Toward the handbooks' tables, of older motors on the mains.
    Handbook,
    /// In proportion to shaft power.
    Proportional,
}

/// Priors of the common errors (reasons at [`Prior`]).
#[must_use]
pub fn prior(w: &Witnesses, sizes: &Sizes, frequency_shown: bool, kind: LossKind) -> Prior {
    let span = SPAN * sizes.design_head_kpa;
    let head = half(w.accuracy[HEAD], span, (0.01, 0.005 * span));
    let remote = half(w.accuracy[REMOTE], span, (0.01, 0.005 * span));
    let power = half(w.accuracy[POWER], sizes.rated_kw, (0.02, 0.0));
    let meter = half(w.accuracy[METER], sizes.q_max, (0.02, 0.004 * sizes.design_flow_m3h));
    let heat = half(w.accuracy[HEAT], f64::NAN, (0.025, 0.0));
    let pressure_zero = |declared: f64, given: bool| if given { declared.max(LEAST * span) } else { declared };
    let of_type = Prior {
        head_table: HEAD_TABLE,
        power_table: POWER_TABLE,
        head_gain: head.0.max(LEAST),
        head_zero: pressure_zero(head.1, w.accuracy[HEAD].is_some()),
        power_gain: power.0.hypot(if sizes.rated_kw > 0.0 { power.1 / (0.5 * sizes.rated_kw) } else { 0.0 }).max(LEAST),
        loss: if sizes.plate { LOSS } else { LOSS.map(|sd| sd.hypot(LOSS_UNDECLARED)) },
        proportional_loss: kind == LossKind::Proportional,
        low_load: match kind {
            LossKind::Drive => 0.08,
            LossKind::Handbook => 0.35,
            LossKind::Proportional => 0.0,
        },
        low_load_mean: if kind == LossKind::Handbook { 0.7 } else { 0.0 },
        loss_speed: 0.3,
        drift: 0.6,
        drift_low_mean: 0.3,
        drift_low: 0.5,
        slip_mean: if frequency_shown { 1.0 } else { 0.0 },
        slip: if frequency_shown { 0.15 } else { 0.05 },
        header: if w.head_at_header { HEADER_LOSS.1 } else { 0.0 },
        header_mean: if w.head_at_header { HEADER_LOSS.0 } else { 0.0 },
        meter_gain: meter.0.max(LEAST),
        meter_zero: meter.1,
        heat_gain: if heat.0 > 0.0 { heat.0 } else { 0.025 },
        heat_pair: 0.2,
        pipe_mean: if w.has(REMOTE) && sizes.design_flow_m3h > 0.0 {
            PIPE_SHARE * sizes.design_head_kpa / sizes.design_flow_m3h.powi(2)
        } else {
            0.0
        },
        pipe: if w.has(REMOTE) { 0.5 } else { 0.0 },
        remote_gain: if w.has(REMOTE) { remote.0.max(LEAST) } else { 0.0 },
        remote_zero: if w.has(REMOTE) { remote.1 } else { 0.0 },
        model_head: MODEL_HEAD,
        model_power: MODEL_POWER,
    };
    match sizes.table {
        TableIs::OfType => of_type,
        TableIs::Tested { tolerance } => tested(of_type, 0.5 * tolerance),
        TableIs::Learned { head, power } => learned(of_type, head, power),
    }
}

/// Loss between flanges and headers at the table's end, share of shut-off head [-]: mean and standard deviation. Check valve, strainer and balancing valve
/// take some 2 to 6 % of the head at design flow, which is about half of this at two thirds of the table (common practice, no source).
const HEADER_LOSS: (f64, f64) = (0.06, 0.03);
/// Losses over the model's, natural logarithm: without load and with load (reasons at [`Prior`]).
const LOSS: [f64; 2] = [0.25, 0.2];
/// The same, on top, where no name plate is declared: the next size up or the one after, of one efficiency class or another, and a drive of
/// whose loss only the usual is known.
const LOSS_UNDECLARED: f64 = 0.4;

/// Departure of a pump from its type's table: level, tilt, bend, ripple [-] (reasons at [`Prior`]).
const HEAD_TABLE: [f64; 4] = [0.02, 0.008, 0.005, 0.0025];
const POWER_TABLE: [f64; 4] = [0.03, 0.012, 0.007, 0.0035];
/// Model error of a cell that no common error of ours describes [-]: the tables' interpolation, part-load wrinkles.
const MODEL_HEAD: f64 = 0.0045;
/// The same for power [-]; larger, since drives switch and fans cycle.
const MODEL_POWER: f64 = 0.008;

/// All four parts of a departure, with its level at `level`.
fn departure(of_type: [f64; 4], level: f64) -> [f64; 4] {
    of_type.map(|part| part * level / of_type[0])
}

/// A test of this very pump: its departure and its wrinkles are within the test's own tolerance.
fn tested(of_type: Prior, sd: f64) -> Prior {
    Prior {
        head_table: departure(HEAD_TABLE, sd),
        power_table: departure(POWER_TABLE, sd),
        model_head: MODEL_HEAD * (sd / HEAD_TABLE[0]).min(1.0),
        model_power: MODEL_POWER * (sd / POWER_TABLE[0]).min(1.0),
        ..of_type
    }
}

/// A table learned from this pump's own trends: losses, slip and the sensors' constant errors are in it, and were in what its error was measured
/// on. The meter's is in it as well, and comes on top of every flow afterwards.
fn learned(of_type: Prior, head: f64, power: f64) -> Prior {
    let known = |error: f64, usual: [f64; 4]| if error.is_finite() { departure(usual, error) } else { usual };
    Prior {
        head_table: known(head, HEAD_TABLE),
        power_table: known(power, POWER_TABLE),
        head_gain: 0.0,
        head_zero: 0.0,
        power_gain: 0.0,
        loss: [0.0; 2],
        low_load: 0.0,
        low_load_mean: 0.0,
        loss_speed: 0.0,
        drift: 0.0,
        drift_low_mean: 0.0,
        drift_low: 0.0,
        slip_mean: 0.0,
        slip: 0.0,
        header: 0.0,
        header_mean: 0.0,
        meter_gain: 0.0,
        meter_zero: 0.0,
        ..of_type
    }
}

/// Share of the design head that is lost before a remote sensor [-], to start from.
const PIPE_SHARE: f64 = 0.45;

/// Row noise where none is declared: a transmitter's half per cent with a step of quantisation; power fluctuates twice as much.
#[must_use]
pub fn noise(w: &Witnesses, sizes: &Sizes) -> Noise {
    let pressure = (0.005, 0.002 * sizes.design_head_kpa);
    let default: [(f64, f64); COUNT] = [
        pressure,
        (0.010, 0.002 * sizes.rated_kw),
        (0.010, 0.002 * sizes.q_max),
        (0.020, 0.004 * sizes.q_max),
        pressure,
    ];
    let of = std::array::from_fn(|k| match w.noise[k] {
        Some(Accuracy::OfReading(x)) => (x, 0.2 * default[k].1),
        Some(Accuracy::Absolute(x)) => (0.0, x.max(0.1 * default[k].1)),
        Some(Accuracy::OfSpan(_)) | None => default[k],
    });
    Noise { of, delta_t: 0.07 }
}

/// Common standard deviation of a head reading: of the reading [-], and absolute [kPa].
#[must_use]
pub fn of_head(w: &Witnesses, sizes: &Sizes) -> (f64, f64) {
    let span = SPAN * sizes.design_head_kpa;
    half(w.accuracy[HEAD], span, (0.01, 0.005 * span))
}

/// Common standard deviation of a pump's flow meter that stands alone: of the reading [-], and absolute [m3/h].
#[must_use]
pub fn meter(w: &Witnesses) -> (f64, f64) {
    of_meter(w.accuracy[METER])
}

/// The same of any flow meter.
#[must_use]
pub fn of_meter(accuracy: Option<Accuracy>) -> (f64, f64) {
    let (gain, zero) = half(accuracy, f64::NAN, (0.02, 0.0));
    (gain, if zero.is_finite() { zero } else { 0.0 })
}
