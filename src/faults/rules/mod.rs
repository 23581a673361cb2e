//! One file a rule, its text beside it; here what rules share.

#[path = "deadheading.rs"]
pub mod deadheading;
#[path = "fixed-speed.rs"]
pub mod fixed_speed;
#[path = "low-delta-t.rs"]
pub mod low_delta_t;
#[path = "minimum-speed-hunting.rs"]
pub mod minimum_speed_hunting;
#[path = "minimum-speed-too-high.rs"]
pub mod minimum_speed_too_high;
#[path = "off-control-curve.rs"]
pub mod off_control_curve;
#[path = "out-of-hours-running.rs"]
pub mod out_of_hours_running;
#[path = "outside-preferred-region.rs"]
pub mod outside_preferred_region;
#[path = "poor-staging.rs"]
pub mod poor_staging;
#[path = "pump-degraded.rs"]
pub mod pump_degraded;
#[path = "sensor-fault.rs"]
pub mod sensor_fault;
#[path = "setpoint-too-high.rs"]
pub mod setpoint_too_high;
#[path = "setpoint-too-low.rs"]
pub mod setpoint_too_low;
#[path = "short-cycling.rs"]
pub mod short_cycling;
#[path = "speed-hunting.rs"]
pub mod speed_hunting;
#[path = "stuck-bypass.rs"]
pub mod stuck_bypass;

use super::{Evidence, Fault, Verdict};

fn cannot_tell(fault: Fault, subject: &str, missing: &[&str], why: impl Into<String>) -> Verdict {
    Verdict::CannotTell {
        fault,
        subject: subject.into(),
        missing: missing.iter().map(|m| (*m).to_owned()).collect(),
        why: why.into(),
    }
}

fn clear(fault: Fault, subject: &str, would_have_seen: impl Into<String>) -> Verdict {
    Verdict::Clear { fault, subject: subject.into(), would_have_seen: would_have_seen.into() }
}

fn number(
    name: impl Into<String>,
    value: f64,
    unit: &'static str,
    expected: impl Into<String>,
    source: impl Into<String>,
) -> Evidence {
    Evidence { name: name.into(), value, unit, expected: expected.into(), source: source.into() }
}

fn lines(of: &[&str]) -> Vec<String> {
    of.iter().map(|l| (*l).to_owned()).collect()
}
