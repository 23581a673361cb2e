//! What the configured control asks for, row by row.
//!
//! A control curve asks a head at the pump for the loop's flow. A remote sensor asks a pressure far away: the head at
//! the pump then hangs on a pipe constant nobody declared, so there the sensor is held against its setpoint instead.
//! A setpoint that is trended wins over the declared one.

use crate::hydraulics::system::ControlCurve;
use crate::operating::LoopPoints;
use crate::plant::{Control, ControlMode, HeadAt, Plant, Reset, Role};
use crate::quantity::{Flow, Pressure};
use crate::screening::Screened;

/// What is asked, one entry a row; NaN is unknown.
#[derive(Debug, Clone)]
pub struct Ask {
    /// Head that the control curve asks at the loop's flow [kPa].
    pub curve_head_kpa: Vec<f64>,
    /// The same at the low and the high end of the loop flow's interval [kPa].
    pub curve_low_kpa: Vec<f64>,
    pub curve_high_kpa: Vec<f64>,
    /// Sensor reading minus its setpoint, where the control follows a sensor that is trended [kPa].
    pub sensor_excess_kpa: Option<Vec<f64>>,
    /// How much the head at the pump may honestly stand above the curve: pipe parts between pump and header [kPa].
    pub header_allowance_kpa: Vec<f64>,
}

/// Share of the design head that check valve, strainer and balancing valve may take at design flow between a pump and
/// the header, where the curve's head is measured there or nobody said where [-]. Common practice, no source: check
/// valve and strainer are selected for 5 to 15 kPa, a balancing valve for as much again.
const HEADER_LOSS_SHARE: f64 = 0.12;

/// Head that a control setting asks at a loop flow [kPa]; NaN where the setting does not fix one at the pump.
///
/// `flow_m3h` loop flow [m3/h]; `setpoint_kpa` the trended setpoint of the hour [kPa], NaN or absent where there is none.
/// Constant: H = setpoint. Proportional: H = h0 + (hd - h0)(Q/Qd). Quadratic: H = h0 + (hd - h0)(Q/Qd)^2, common
/// practice. Design flow and head default to the loop's. Above the design flow the curve goes on rising.
#[must_use]
pub fn ask_at(plant: &Plant, control: &Control, flow_m3h: f64, setpoint_kpa: f64) -> f64 {
    let design_m3h = control.design_flow.or(plant.system.design_flow).map_or(f64::NAN, Flow::in_m3h);
    let design_kpa = control.design_head.or(plant.system.design_head).map_or(f64::NAN, Pressure::in_kpa);
    let zero_flow_kpa = control.zero_flow_head.map_or(f64::NAN, Pressure::in_kpa);
    let curve = match control.mode {
        Some(ControlMode::ConstantPressure) if setpoint_kpa.is_finite() => {
            ControlCurve::Constant { head_kpa: setpoint_kpa }
        }
        Some(ControlMode::ConstantPressure) => ControlCurve::Constant { head_kpa: constant_setpoint(control) },
        Some(ControlMode::Proportional) => ControlCurve::Proportional { zero_flow_kpa, design_m3h, design_kpa },
        Some(ControlMode::Quadratic) => ControlCurve::Quadratic { zero_flow_kpa, design_m3h, design_kpa },
        _ => return f64::NAN,
    };
    curve.head(flow_m3h)
}

/// The declared setpoint, unless a reset moves it and nobody trends where to.
fn constant_setpoint(control: &Control) -> f64 {
    let moves = control.reset.is_some_and(|r| r != Reset::None);
    if moves { f64::NAN } else { control.setpoint.map_or(f64::NAN, Pressure::in_kpa) }
}

/// What the control asks for in every row.
#[must_use]
pub fn ask(plant: &Plant, screened: &Screened, system: &LoopPoints) -> Ask {
    let rows = system.flow_m3h.len();
    let setpoint = screened.values(Role::DifferentialPressureSetpoint, None);
    let at = |i: usize| setpoint.and_then(|s| s.get(i)).copied().unwrap_or(f64::NAN);
    let mut ask = Ask {
        curve_head_kpa: Vec::with_capacity(rows),
        curve_low_kpa: Vec::with_capacity(rows),
        curve_high_kpa: Vec::with_capacity(rows),
        sensor_excess_kpa: sensor_excess(plant, screened, rows),
        header_allowance_kpa: Vec::with_capacity(rows),
    };
    for i in 0..rows {
        let control = plant.control_at(screened.clock.at_ms(i));
        let curve = |q: f64| ask_at(plant, control, q, at(i));
        ask.curve_head_kpa.push(curve(system.flow_m3h[i]));
        ask.curve_low_kpa.push(curve(known(system.flow_low_m3h[i], system.flow_m3h[i])));
        ask.curve_high_kpa.push(curve(known(system.flow_high_m3h[i], system.flow_m3h[i])));
        ask.header_allowance_kpa.push(header_allowance(plant, control, system.flow_m3h[i]));
    }
    ask
}

fn known(value: f64, otherwise: f64) -> f64 {
    if value.is_finite() { value } else { otherwise }
}

/// Pump head honestly above a header's: grows with flow squared; none where the curve is declared at the pump.
fn header_allowance(plant: &Plant, control: &Control, flow_m3h: f64) -> f64 {
    if control.head_at == Some(HeadAt::Pump) {
        return 0.0;
    }
    let (Some(q), Some(h)) = (plant.system.design_flow, plant.system.design_head) else { return 0.0 };
    let x = flow_m3h / q.in_m3h();
    if x.is_finite() { HEADER_LOSS_SHARE * h.in_kpa() * x * x } else { 0.0 }
}

/// Reading minus setpoint of the control sensor, where the pumps follow one and it is trended.
fn sensor_excess(plant: &Plant, screened: &Screened, rows: usize) -> Option<Vec<f64>> {
    let at = plant.control.sensor_at.as_deref();
    let own = at.and_then(|coil| screened.values(Role::DifferentialPressure, Some(coil)));
    let reading = own.or_else(|| screened.values(Role::DifferentialPressure, None))?;
    let trended = screened.values(Role::DifferentialPressureSetpoint, None);
    let row = |i: usize| {
        let control = plant.control_at(screened.clock.at_ms(i));
        let follows = match control.mode {
            Some(ControlMode::RemotePressure) => true,
            Some(ControlMode::ConstantPressure) => control.head_at != Some(HeadAt::Pump),
            _ => false,
        };
        let setpoint = trended.map(|t| t[i]).filter(|s| s.is_finite()).unwrap_or_else(|| constant_setpoint(control));
        if follows { reading[i] - setpoint } else { f64::NAN }
    };
    let excess: Vec<f64> = (0..rows).map(row).collect();
    excess.iter().any(|e| e.is_finite()).then_some(excess)
}
