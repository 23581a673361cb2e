//! What is set today: a curve, or a pressure far away with the pipe between.

use super::curve::Curve;
use super::{Basis, Tuning, pipe, refuse};
use crate::plant::{Control, ControlMode, Reset, Role, Serves, Service};
use crate::quantity::{Flow, Pressure};
use pipe::Pipe;

/// Today's setting.
#[derive(Debug, Clone)]
pub enum Today {
    Curve(Setting),
    Remote(Pipe),
}

/// A curve, and whether a reset moves it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    pub curve: Curve,
    pub resets: bool,
}

impl Today {
    /// What it asks at a loop flow [m3/h], where it is measured [kPa].
    pub fn asks(&self, flow: f64) -> f64 {
        match self {
            Self::Curve(s) => s.curve.head(flow),
            Self::Remote(p) => p.setpoint,
        }
    }

    pub fn design_flow(&self) -> f64 {
        match self {
            Self::Curve(s) => s.curve.design_flow,
            Self::Remote(p) => p.design_flow,
        }
    }

    pub fn resets(&self) -> bool {
        match self {
            Self::Curve(s) => s.resets,
            Self::Remote(p) => p.resets,
        }
    }

    /// As a curve at the pumps [kPa]: a remote setpoint plus the pipe before it rises with flow squared.
    pub fn at_pumps(&self) -> Curve {
        match self {
            Self::Curve(s) => s.curve,
            Self::Remote(p) => Curve {
                mode: ControlMode::Quadratic,
                zero_flow_head: p.setpoint,
                design_flow: p.design_flow,
                design_head: p.setpoint + p.resistance * p.design_flow * p.design_flow,
            },
        }
    }

    pub fn mode(&self) -> ControlMode {
        match self {
            Self::Curve(s) => s.curve.mode,
            Self::Remote(_) => ControlMode::RemotePressure,
        }
    }

    /// For people.
    pub fn in_words(&self) -> String {
        match self {
            Self::Curve(s) => s.curve.in_words(),
            Self::Remote(p) => format!("{} at the remote sensor", super::curve::head_words(p.setpoint)),
        }
    }
}

/// Today's setting, or why there is nothing to tune.
pub fn today(b: &Basis) -> Result<Today, Tuning> {
    let (plant, control) = (b.plant, &b.plant.control);
    match plant.system.serves {
        Serves::Comfort => {}
        Serves::DomesticHotWater => {
            return refuse(
                &[],
                "the loop makes domestic hot water: it is diagnosed, never tuned down, because its temperature protects health",
            );
        }
        Serves::Process | Serves::Critical => {
            return refuse(&[], "the loop serves more than comfort: it is diagnosed, never tuned down");
        }
    }
    if plant.system.service == Service::CondenserWater {
        return refuse(
            &["chiller power"],
            "less condenser water makes the chiller use more, and without the chiller's power the saving is not known",
        );
    }
    let flow = control.design_flow.or(plant.system.design_flow);
    let head = control.design_head.or(plant.system.design_head);
    let (Some(flow), Some(head)) = (flow.map(Flow::in_m3h), head.map(Pressure::in_kpa)) else {
        return refuse(&["loop.design_flow", "loop.design_head"], "the design point is not declared");
    };
    let resets = control.reset.is_some_and(|r| r != Reset::None);
    let curve = |mode, zero: f64, top: f64| {
        let curve = Curve { mode, zero_flow_head: zero, design_flow: flow, design_head: top };
        Ok(Today::Curve(Setting { curve, resets }))
    };
    match control.mode {
        Some(mode @ (ControlMode::Quadratic | ControlMode::Proportional)) => match control.zero_flow_head {
            Some(zero) => curve(mode, zero.in_kpa(), head),
            None => refuse(&["control.zero_flow_head"], "the head at no flow of today's curve is not declared"),
        },
        Some(mode @ ControlMode::ConstantPressure) => match set(control, resets) {
            Some(set) => curve(mode, set, set),
            None => refuse(&["control.setpoint"], "the setpoint is not declared"),
        },
        Some(ControlMode::RemotePressure) if plant.sensors.len() > 1 => refuse(
            &[],
            "the pumps follow the neediest of several remote sensors, and which of them it was hour by hour is not known: none is lowered",
        ),
        Some(ControlMode::RemotePressure) => match set(control, resets) {
            Some(set) => pipe::learn(b, set, flow, resets).map(Today::Remote),
            None => refuse(&["control.setpoint"], "the remote sensor's setpoint is not declared"),
        },
        Some(_) => refuse(&[], "the pumps do not follow a head curve, so there is no curve to lower"),
        None => refuse(&["control.mode"], "what the drive is set to do is not declared"),
    }
}

fn set(control: &Control, resets: bool) -> Option<f64> {
    let top = if resets { control.setpoint_high } else { None };
    top.or(control.setpoint).or(control.setpoint_high).map(Pressure::in_kpa)
}

/// The remote sensor's readings, its own or the loop's.
pub fn readings<'a>(b: &Basis<'a>) -> Option<&'a [f64]> {
    let at = b.plant.control.sensor_at.as_deref();
    let own = at.and_then(|coil| b.screened.values(Role::DifferentialPressure, Some(coil)));
    own.or_else(|| b.screened.values(Role::DifferentialPressure, None))
}
