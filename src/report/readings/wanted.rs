//! Which readings a finding can be counted again from.

use crate::{faults::Fault, plant::Role};

/// Readings of one kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Want {
    Loop(Role),
    /// Head between the headers.
    Header,
    /// The loop's flow meter.
    Meter,
    /// The pressure that the pumps follow.
    ControlPressure,
    /// Each pump's own.
    Pump(Role),
    /// Each coil's own.
    Coils(Role),
    /// The head that would have been enough.
    Need,
}

use Want::{Coils, ControlPressure, Header, Loop, Meter, Need, Pump};

const SETPOINT: Want = Loop(Role::DifferentialPressureSetpoint);
const VALVES: Want = Coils(Role::ValvePosition);
const OUTDOOR: Want = Loop(Role::OutdoorTemperature);
const COIL_RETURNS: Want = Coils(Role::CoilReturnTemperature);
const FANS: Want = Coils(Role::FanStatus);
const OWN_HEAD: Want = Pump(Role::PumpHead);
const OWN_METER: Want = Pump(Role::PumpFlow);
/// As trended: the table's own power is reconstructed where the reading broke.
const OWN_POWER: Want = Pump(Role::PumpPower);

/// Those of the figures, then those of each fault once, in the order of the codes. With frost protection most rules leave cold hours out.
pub fn wanted(found: &[Fault], frost_protection: bool) -> Vec<Want> {
    let mut all = vec![Loop(Role::SupplyTemperature), Loop(Role::ReturnTemperature)];
    all.extend((frost_protection && !found.is_empty()).then_some(OUTDOOR));
    for fault in Fault::ALL.into_iter().filter(|f| found.contains(f)) {
        for want in of(fault) {
            if !all.contains(want) {
                all.push(*want);
            }
        }
    }
    all
}

fn of(fault: Fault) -> &'static [Want] {
    match fault {
        Fault::LowDeltaT => &[VALVES, OUTDOOR, COIL_RETURNS, FANS],
        Fault::StuckBypass => &[VALVES, COIL_RETURNS, Loop(Role::BypassPosition)],
        Fault::MinimumSpeedHunting | Fault::SpeedHunting => &[],
        Fault::SetpointTooHigh => &[Need, VALVES, FANS, ControlPressure, SETPOINT],
        Fault::SetpointTooLow => &[
            Need,
            VALVES,
            COIL_RETURNS,
            FANS,
            Coils(Role::AirTemperature),
            Coils(Role::AirTemperatureSetpoint),
            Coils(Role::SpaceTemperature),
            Coils(Role::SpaceTemperatureSetpoint),
        ],
        Fault::OffControlCurve | Fault::PoorStaging => &[ControlPressure, SETPOINT],
        Fault::FixedSpeed => &[ControlPressure, SETPOINT, VALVES],
        Fault::OutOfHoursRunning => &[OUTDOOR],
        Fault::PumpDegraded => &[OWN_HEAD, Header, Meter, OWN_METER, OWN_POWER],
        Fault::ShortCycling => &[Pump(Role::PumpStarts), Pump(Role::PumpSpeed)],
        Fault::SensorFault => &[OWN_HEAD, Header, Meter, OWN_METER, OWN_POWER],
        Fault::MinimumSpeedTooHigh => &[Need, ControlPressure, SETPOINT, VALVES],
        Fault::OutsidePreferredRegion => &[Meter, OWN_METER],
        Fault::Deadheading => {
            &[OWN_HEAD, Header, Meter, OWN_METER, ControlPressure, VALVES, Loop(Role::BypassPosition)]
        }
    }
}
