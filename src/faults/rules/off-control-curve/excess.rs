//! How far a point lies from what its control asks, and how well that is known.

use super::is_judged;
use crate::faults::Case;
use crate::faults::spread::median;
use crate::operating::model::witness;
use crate::plant::{ControlMode, HeadAt, Reset, Role};
use crate::quantity::{Flow, Pressure};
use crate::regimes::ask_at;

/// Share of the design head that check valve, strainer and balancing valve may take at design flow between pump and header [-]: as the
/// regimes allow, check valve and strainer at 5 to 15 kPa and a balancing valve at as much again (common practice, no source).
const HEADER_LOSS: f64 = 0.12;
/// Share of the rows with a head that must rest on a reading of it [-].
const READ: f64 = 0.5;

/// Whether the heads that rules see are read, not taken from the pump's table.
pub fn head_is_read(case: &Case) -> bool {
    *case.looks.head_is_read.get_or_init(|| look_for_readings(case))
}

fn look_for_readings(case: &Case) -> bool {
    if case.dp_kpa.is_some_and(|_| (0..case.rows()).any(|i| sensor_kpa(case, i).is_finite())) {
        return true;
    }
    let (mut known, mut read) = (0usize, 0usize);
    for p in &case.pumps {
        for (basis, head) in p.basis.iter().zip(p.head_kpa) {
            known += usize::from(head.is_finite());
            read += usize::from(head.is_finite() && (basis.rests_on(witness::HEAD) || basis.rests_on(witness::REMOTE)));
        }
    }
    known == 0 || read as f64 >= READ * known as f64
}

/// Reading of the control sensor above its setpoint in a row [kPa]; NaN where the pumps follow none or it is not trended.
fn sensor_kpa(case: &Case, i: usize) -> f64 {
    let control = case.plant.control_at(case.time_ms[i]);
    let follows = match control.mode {
        Some(ControlMode::RemotePressure) => true,
        Some(ControlMode::ConstantPressure) => control.head_at != Some(HeadAt::Pump),
        _ => false,
    };
    if !follows {
        return f64::NAN;
    }
    let own = control.sensor_at.as_deref().and_then(|at| case.trend(Role::DifferentialPressure, Some(at)));
    let Some(reading) = own.or(case.dp_kpa) else { return f64::NAN };
    reading[i] - setpoint_kpa(case, i)
}

/// Setpoint of the control sensor in a row [kPa]: as trended, else as declared where no reset moves it; NaN unknown.
pub fn setpoint_kpa(case: &Case, i: usize) -> f64 {
    let control = case.plant.control_at(case.time_ms[i]);
    let moves = control.reset.is_some_and(|r| r != Reset::None);
    let declared = if moves { f64::NAN } else { control.setpoint.map_or(f64::NAN, Pressure::in_kpa) };
    case.dp_setpoint_kpa.map(|s| s[i]).filter(|s| s.is_finite()).unwrap_or(declared)
}

/// Whether a row is held against the control's own sensor.
pub fn by_sensor(case: &Case, i: usize) -> bool {
    sensor_kpa(case, i).is_finite()
}

/// Sensor reading above its setpoint, or, where the control follows none, head above the curve [kPa].
pub fn excess_kpa(case: &Case, p: usize, i: usize) -> f64 {
    let sensor = sensor_kpa(case, i);
    if sensor.is_finite() { sensor } else { case.pumps[p].head_kpa[i] - case.pumps[p].curve_head_kpa[i] }
}

/// Half of the 95 % interval of the distance [kPa]: that of the head, and of the curve through the flow's; none at the control's own sensor,
/// whose reading is what the control follows.
pub fn half_kpa(case: &Case, p: usize, i: usize) -> f64 {
    if by_sensor(case, i) {
        return 0.0;
    }
    let pump = &case.pumps[p];
    let control = case.plant.control_at(case.time_ms[i]);
    let at = |q: f64| ask_at(case.plant, control, q, case.dp_setpoint_kpa.map_or(f64::NAN, |s| s[i]));
    let curve = (at(case.loop_flow_high_m3h[i]) - at(case.loop_flow_low_m3h[i])) / 2.0;
    let head = (pump.head_high_kpa[i] - pump.head_low_kpa[i]) / 2.0;
    if curve.is_finite() { head.hypot(curve) } else { head }
}

/// What honestly lies between pump and header where the curve's head is not declared at the pump [kPa].
pub fn allowance_kpa(case: &Case, i: usize) -> f64 {
    let control = case.plant.control_at(case.time_ms[i]);
    if control.head_at == Some(HeadAt::Pump) || by_sensor(case, i) {
        return 0.0;
    }
    let share = HEADER_LOSS * (case.loop_flow_m3h[i] / case.design_flow_m3h()).powi(2);
    if share.is_finite() { share * reference_head_kpa(case) } else { 0.0 }
}

/// Flow and head of the row on the curve.
pub fn on_curve(case: &Case, pumps: &[usize], i: usize) -> (f64, f64) {
    let excess = median(pumps.iter().filter(|p| is_judged(case.pumps[**p].regime[i])).map(|p| excess_kpa(case, *p, i)));
    (case.loop_flow_m3h[i], case.loop_head_kpa[i] - excess)
}

pub fn reference_head_kpa(case: &Case) -> f64 {
    let h = case.design_head_kpa();
    if h.is_finite() { h } else { median(case.loop_head_kpa.iter().copied()) }
}

pub fn curve_flow_m3h(case: &Case) -> f64 {
    case.plant.control.design_flow.or(case.plant.system.design_flow).map_or(f64::NAN, Flow::in_m3h)
}

pub fn curve_head_kpa(case: &Case) -> f64 {
    case.plant.control.design_head.or(case.plant.system.design_head).map_or(f64::NAN, Pressure::in_kpa)
}
