//! What each fault needs to be judged, as points: what the next point to trend is computed from.
//!
//! Comes in: nothing. Goes out: [`NEEDS`]: one entry a fault; of every group one point is enough. The decision a reader would question: a flow
//! counts as known where a meter is trended, or where a pump has a table and a head or a power: speed alone gives none that a
//! verdict may rest on. How often a fault is met and what it usually wastes only rank advice: they are common practice, no source.

use super::Fault;
use crate::plant::Role;

/// One thing that must be known, by any of these.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// A trended point of any of these roles.
    Point(&'static [Role]),
    /// A flow: by a meter, or through a pump's table from head or power.
    Flow,
    /// A head: by any pressure across the pumps.
    Head,
    /// Two witnesses of the operating point beside speed.
    Witnesses,
}

/// What one fault needs.
#[derive(Debug, Clone, Copy)]
pub struct Need {
    pub fault: Fault,
    pub all_of: &'static [Known],
    /// Share of loops that have it [-].
    pub met: f64,
    /// Pump energy it usually wastes where it is met [-].
    pub wastes: f64,
}

/// Any of these tells when a pump runs.
const RUNS: &[Role] = &[Role::PumpStatus, Role::PumpSpeed, Role::PumpPower, Role::TotalPower];
const SPEED: Known = Known::Point(&[Role::PumpSpeed]);
const SUPPLY: Known = Known::Point(&[Role::SupplyTemperature]);
const RETURN: Known = Known::Point(&[Role::ReturnTemperature]);
const VALVES: Known = Known::Point(&[Role::ValvePosition, Role::ValveCommand]);
/// What should move a speed that stands.
const MOVES: Known = Known::Point(&[
    Role::PumpPower,
    Role::PumpHead,
    Role::DifferentialPressure,
    Role::LoopFlow,
    Role::ValvePosition,
    Role::ReturnTemperature,
    Role::PumpMode,
    Role::PumpSpeedCommand,
]);

/// One entry a fault, in the order of the codes.
pub const NEEDS: [Need; 16] = [
    need(Fault::LowDeltaT, &[SUPPLY, RETURN, Known::Flow], 0.30, 0.15),
    need(Fault::StuckBypass, &[VALVES, Known::Flow, Known::Head], 0.10, 0.15),
    need(Fault::MinimumSpeedHunting, &[SPEED], 0.10, 0.02),
    need(Fault::SpeedHunting, &[SPEED], 0.10, 0.02),
    need(Fault::SetpointTooHigh, &[VALVES, Known::Head], 0.40, 0.25),
    need(Fault::SetpointTooLow, &[VALVES, Known::Head], 0.05, 0.02),
    need(Fault::OffControlCurve, &[Known::Head, Known::Flow], 0.15, 0.20),
    need(Fault::FixedSpeed, &[SPEED, MOVES], 0.15, 0.35),
    need(Fault::OutOfHoursRunning, &[Known::Point(RUNS)], 0.20, 0.20),
    need(Fault::PumpDegraded, &[SPEED, Known::Witnesses], 0.05, 0.08),
    need(Fault::ShortCycling, &[Known::Point(&[Role::PumpStarts, Role::PumpStatus, Role::PumpSpeed])], 0.05, 0.01),
    need(Fault::SensorFault, &[SUPPLY, RETURN], 0.20, 0.02),
    need(Fault::MinimumSpeedTooHigh, &[SPEED, Known::Head], 0.20, 0.15),
    need(Fault::OutsidePreferredRegion, &[Known::Flow], 0.20, 0.08),
    need(Fault::PoorStaging, &[Known::Flow, Known::Head], 0.10, 0.08),
    need(Fault::Deadheading, &[SPEED, Known::Head], 0.03, 0.05),
];

const fn need(fault: Fault, all_of: &'static [Known], met: f64, wastes: f64) -> Need {
    Need { fault, all_of, met, wastes }
}
