//! Whose work a thing to do usually is: the trade's division of work (common practice, no source).
//!
//! A finding's fault decides, and where one fault can be mended by several trades, its subject or the words of its change.

use crate::{
    faults::{Fault, Finding},
    plant::{Plant, Role},
};

/// Programs, tunes and calibrates what the plant is controlled by.
pub const CONTROLS: &str = "controls contractor";
/// Opens pumps, valves and coils.
pub const MECHANICAL: &str = "mechanical service";
/// Measures flows and sets balancing valves.
pub const BALANCING: &str = "balancing contractor";
/// Works inside panels, drives and meters.
pub const ELECTRICAL: &str = "electrician";
/// Runs the building: knows its hours and walks through its plant room.
pub const FACILITY: &str = "facility staff";

/// Who mends a finding.
pub fn of(f: &Finding, plant: &Plant) -> String {
    let change = f.change.to_lowercase();
    let says = |word: &str| change.contains(word);
    match f.fault {
        Fault::LowDeltaT if says("clean") || says("valve") => MECHANICAL.to_owned(),
        Fault::LowDeltaT => with(BALANCING, CONTROLS),
        Fault::StuckBypass => with(MECHANICAL, CONTROLS),
        Fault::SetpointTooLow => with(CONTROLS, BALANCING),
        Fault::MinimumSpeedHunting
        | Fault::SpeedHunting
        | Fault::SetpointTooHigh
        | Fault::OffControlCurve
        | Fault::ShortCycling
        | Fault::MinimumSpeedTooHigh
        | Fault::PoorStaging => CONTROLS.to_owned(),
        // A pump in hand is put back by whoever finds it so; what keeps a drive from following its signal is not.
        Fault::FixedSpeed => with(FACILITY, CONTROLS),
        Fault::OutOfHoursRunning => with(FACILITY, CONTROLS),
        Fault::PumpDegraded | Fault::OutsidePreferredRegion => MECHANICAL.to_owned(),
        Fault::SensorFault if power_meter(f, plant) => ELECTRICAL.to_owned(),
        Fault::SensorFault => CONTROLS.to_owned(),
        // Parallel pumps at unequal speeds are a matter of their signal, a shut valve is one of the pipe.
        Fault::Deadheading if says("speed signal") => CONTROLS.to_owned(),
        Fault::Deadheading => MECHANICAL.to_owned(),
    }
}

fn with(first: &str, second: &str) -> String {
    format!("{first}, with the {second}")
}

/// Whether what the finding doubts is a meter in an electric panel.
fn power_meter(f: &Finding, plant: &Plant) -> bool {
    let electric = [Role::PumpPower, Role::TotalPower, Role::PumpEnergy, Role::MotorCurrent];
    plant.points.iter().any(|p| p.name == f.subject && electric.contains(&p.role))
}
