//! One file a rule, its text beside it; here what rules share, and which finding causes which.

#[path = "low-delta-t.rs"]
pub mod low_delta_t;
#[path = "minimum-speed-hunting.rs"]
pub mod minimum_speed_hunting;
#[path = "off-control-curve.rs"]
pub mod off_control_curve;
#[path = "setpoint-too-high.rs"]
pub mod setpoint_too_high;
#[path = "stuck-bypass.rs"]
pub mod stuck_bypass;

use super::{Case, Evidence, Fault, Verdict};

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

/// Two onsets this near are one event [ms]: a day each way, as onsets are found within a day.
const SAME_EVENT_MS: i64 = 2 * 86_400_000;

/// Water past the coils lowers the loop's temperature difference: where both are found, and began together or the
/// bypass came first, the bypass is the cause and its price is not counted twice.
pub(super) fn name_causes(_case: &Case, verdicts: &mut [Verdict]) {
    let bypass = verdicts.iter().find_map(|v| match v {
        Verdict::Found(f) if f.fault == Fault::StuckBypass => Some(f.first_seen_ms),
        _ => None,
    });
    let Some(bypass) = bypass else { return };
    for v in verdicts {
        if let Verdict::Found(f) = v {
            let whole_loop = f.fault == Fault::LowDeltaT && f.subject == "loop";
            if whole_loop && f.first_seen_ms + SAME_EVENT_MS >= bypass {
                f.caused_by = Some(Fault::StuckBypass);
            }
        }
    }
}
