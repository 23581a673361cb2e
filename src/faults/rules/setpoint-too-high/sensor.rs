//! Whether the control sensor reads low, so that a right setpoint makes too much head.
//!
//! In a closed loop the head between pump and sensor goes with flow squared: carried to no flow, pump head and reading must meet. What is left
//! there is the sensor's (or the pump gauge's) own.

use super::FAULT;
use crate::faults::fit::{Moments, solve};
use crate::faults::rules::cannot_tell;
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Verdict};
use crate::plant::{ControlMode, HeadAt, Role};

/// Flow squared over that of design must range this far, 10th to 90th percentile [-].
const RANGES: f64 = 0.10;
/// What may be left at no flow, beyond the head's own interval, in design heads [-]: two gauges at their usual 1 to 2 % of span, and static
/// parts of control valves (common practice, no source).
const LEFT: f64 = 0.10;

/// The verdict where it does.
pub fn reads_low(case: &Case, rows: &[usize]) -> Option<Verdict> {
    let control = &case.plant.control;
    let follows = match control.mode {
        Some(ControlMode::RemotePressure) => true,
        Some(ControlMode::ConstantPressure) => control.head_at != Some(HeadAt::Pump),
        _ => false,
    };
    let own = control.sensor_at.as_deref().and_then(|at| case.trend(Role::DifferentialPressure, Some(at)));
    let reading = own.or(case.dp_kpa).filter(|_| follows)?;
    let x = |i: usize| (case.loop_flow_m3h[i] / case.design_flow_m3h()).powi(2);
    let known = |i: &&usize| (case.loop_head_kpa[**i] - reading[**i]).is_finite() && x(**i).is_finite();
    let rows: Vec<usize> = rows.iter().filter(known).copied().collect();
    let range = quantile(rows.iter().map(|i| x(*i)), 0.9) - quantile(rows.iter().map(|i| x(*i)), 0.1);
    if !(range >= RANGES) {
        return None;
    }
    let mut m = Moments::new(2);
    rows.iter().for_each(|i| m.add(&[1.0, x(*i)], case.loop_head_kpa[*i] - reading[*i]));
    let at_no_flow = solve(m.xx.clone(), m.xy.clone())?[0];
    let half =
        median(case.pumps.iter().flat_map(|p| {
            rows.iter().map(|i| (p.head_high_kpa[*i] - p.head_low_kpa[*i]) / 2.0).filter(|h| h.is_finite())
        }));
    let room = half + LEFT * case.design_head_kpa();
    (at_no_flow > room).then(|| {
        let why = format!(
            "carried to no flow, the control sensor reads {} less than the pumps make: a sensor that reads low makes too much head at a \
             right setpoint",
            case.say_head(at_no_flow)
        );
        cannot_tell(FAULT, "loop", &["a calibrated reading at the control sensor"], why)
    })
}
