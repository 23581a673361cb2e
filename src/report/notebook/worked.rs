//! One worked cell a finding: text that says what is counted from which columns, and the code that counts it.
//!
//! Each fault's pair of files lies in `cells/`. What goes into the notebook is the file and the finding's place among those of `findings.json`, nothing else.

use super::{Cell, code, escape, markdown};
use crate::{
    faults::{Fault, Finding},
    report::words,
};

/// A fault's text and code.
macro_rules! cell {
    ($code:literal) => {
        (include_str!(concat!("cells/", $code, ".md")), include_str!(concat!("cells/", $code, ".py")))
    };
}

fn of(fault: Fault) -> (&'static str, &'static str) {
    match fault {
        Fault::LowDeltaT => cell!("low-delta-t"),
        Fault::StuckBypass => cell!("stuck-bypass"),
        // One swing, told by where its troughs lie.
        Fault::MinimumSpeedHunting | Fault::SpeedHunting => cell!("speed-hunting"),
        Fault::SetpointTooHigh => cell!("setpoint-too-high"),
        Fault::SetpointTooLow => cell!("setpoint-too-low"),
        Fault::OffControlCurve => cell!("off-control-curve"),
        Fault::FixedSpeed => cell!("fixed-speed"),
        Fault::OutOfHoursRunning => cell!("out-of-hours-running"),
        Fault::PumpDegraded => cell!("pump-degraded"),
        Fault::ShortCycling => cell!("short-cycling"),
        Fault::SensorFault => cell!("sensor-fault"),
        Fault::MinimumSpeedTooHigh => cell!("minimum-speed-too-high"),
        Fault::OutsidePreferredRegion => cell!("outside-preferred-region"),
        Fault::PoorStaging => cell!("poor-staging"),
        Fault::Deadheading => cell!("deadheading"),
    }
}

/// Text and code of the finding at this place.
pub fn cells(place: usize, finding: &Finding) -> [Cell; 2] {
    let (text, source) = of(finding.fault);
    let fault = finding.fault.code();
    let title = words::capital(words::fault(finding.fault));
    let number = place + 1;
    [
        markdown(
            format!("about-finding-{number}"),
            format!("### {number}. {title}: {}\n\n{}", escape(&finding.subject), text.trim_end()),
        ),
        code(
            format!("finding-{number}"),
            format!("finding = FINDINGS[{place}]\nassert finding[\"fault\"] == \"{fault}\"\n{source}"),
        ),
    ]
}
