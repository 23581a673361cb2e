//! One verdict for one cause: which finding stands behind which, and what cannot be called healthy beside it.
//!
//! Comes in: every rule's verdicts. Goes out: the same, consequences naming their cause in `caused_by`, so that no waste is counted twice. The
//! decision a reader would question: a consequence keeps its own finding below its cause, since it is often what people saw first; it needs a
//! cause at least as old as itself, and never a cause that is less sure than even odds. Start at [`resolve`] and [`FAMILIES`].

use super::{Case, Fault, Finding, Verdict};
use crate::plant::Role;

/// Two onsets this near are one event [ms]: a day each way, as onsets are found within a day.
pub(super) const SAME_EVENT_MS: i64 = 2 * 86_400_000;
/// A cause that is less sure takes nothing under it [-]. No rule names anything below even odds today: this holds a new one to it.
const SURE: f64 = 0.5;

/// A cause, what it brings about, and why: common practice, no source.
struct Family {
    cause: Fault,
    effect: Fault,
    /// Both must be of one pump.
    same_subject: bool,
    /// The cause is a sensor of one of these roles; empty for any.
    sensors: &'static [Role],
}

const fn of(cause: Fault, effect: Fault) -> Family {
    Family { cause, effect, same_subject: false, sensors: &[] }
}

const fn of_pump(cause: Fault, effect: Fault) -> Family {
    Family { cause, effect, same_subject: true, sensors: &[] }
}

const fn of_sensor(effect: Fault, sensors: &'static [Role]) -> Family {
    Family { cause: Fault::SensorFault, effect, same_subject: false, sensors }
}

/// Pressure as the control or the model sees it.
const PRESSURES: &[Role] =
    &[Role::PumpHead, Role::DifferentialPressure, Role::SuctionPressure, Role::DischargePressure];
/// Temperatures that the loop's difference is taken from.
const TEMPERATURES: &[Role] = &[Role::SupplyTemperature, Role::ReturnTemperature, Role::CoilReturnTemperature];
/// What a pump's efficiency is judged by.
const WITNESSES: &[Role] = &[
    Role::PumpHead,
    Role::DifferentialPressure,
    Role::SuctionPressure,
    Role::DischargePressure,
    Role::PumpPower,
    Role::TotalPower,
    Role::LoopFlow,
    Role::PumpFlow,
];

/// The families, the surest causes first: an effect takes the first that fits.
const FAMILIES: [Family; 27] = [
    // A reading that is wrong makes everything judged by it wrong.
    of_sensor(Fault::PumpDegraded, WITNESSES),
    of_sensor(Fault::OffControlCurve, PRESSURES),
    of_sensor(Fault::SetpointTooHigh, PRESSURES),
    of_sensor(Fault::SetpointTooLow, PRESSURES),
    of_sensor(Fault::LowDeltaT, TEMPERATURES),
    of_sensor(Fault::StuckBypass, PRESSURES),
    of_sensor(Fault::MinimumSpeedTooHigh, PRESSURES),
    of_sensor(Fault::Deadheading, PRESSURES),
    // A drive in hand follows no curve, and pumps too much or too little.
    of(Fault::FixedSpeed, Fault::OffControlCurve),
    of(Fault::FixedSpeed, Fault::LowDeltaT),
    of(Fault::FixedSpeed, Fault::SetpointTooLow),
    of_pump(Fault::FixedSpeed, Fault::OutsidePreferredRegion),
    of(Fault::FixedSpeed, Fault::PoorStaging),
    of_pump(Fault::FixedSpeed, Fault::Deadheading),
    // Water past the coils lowers the difference and takes the pump to the right.
    of(Fault::StuckBypass, Fault::LowDeltaT),
    of(Fault::StuckBypass, Fault::OutsidePreferredRegion),
    of(Fault::StuckBypass, Fault::SetpointTooLow),
    // Coils that cannot give their heat open their valves; more water takes the pump to the right.
    of(Fault::LowDeltaT, Fault::SetpointTooLow),
    // A worn pump keeps no curve.
    of(Fault::PumpDegraded, Fault::OffControlCurve),
    of(Fault::PumpDegraded, Fault::SetpointTooLow),
    // One swing is one finding.
    of_pump(Fault::MinimumSpeedHunting, Fault::SpeedHunting),
    of(Fault::PoorStaging, Fault::ShortCycling),
    // A pump that delivers nothing is counted by nobody, and keeps no curve.
    of(Fault::Deadheading, Fault::PoorStaging),
    of(Fault::Deadheading, Fault::OffControlCurve),
    of(Fault::PoorStaging, Fault::OutsidePreferredRegion),
    // A control that holds another curve shows another head on its floor than the declared one asks.
    of(Fault::OffControlCurve, Fault::MinimumSpeedTooHigh),
    // A floor above the need pumps more than the coils ask.
    of(Fault::MinimumSpeedTooHigh, Fault::LowDeltaT),
];

/// Resolves the families.
pub(super) fn resolve(case: &Case, verdicts: &mut [Verdict]) {
    name_causes(case, verdicts);
    silence_health_behind_a_bypass(verdicts);
    leave_the_setting_open_behind_a_bypass(verdicts);
}

fn found(v: &Verdict) -> Option<&Finding> {
    match v {
        Verdict::Found(f) => Some(f),
        _ => None,
    }
}

fn name_causes(case: &Case, verdicts: &mut [Verdict]) {
    let named: Vec<Option<Fault>> = verdicts.iter().map(|v| found(v).and_then(|f| cause(case, f, verdicts))).collect();
    for (v, cause) in verdicts.iter_mut().zip(named) {
        if let Verdict::Found(f) = v
            && f.caused_by.is_none()
        {
            f.caused_by = cause;
        }
    }
    break_circles(verdicts);
}

/// The first family whose cause is found, stood before the effect or came with it, and lasted into it.
fn cause(case: &Case, effect: &Finding, verdicts: &[Verdict]) -> Option<Fault> {
    let coil = case.coils.iter().any(|c| c.name == effect.subject);
    FAMILIES.iter().filter(|f| f.effect == effect.fault).find_map(|family| {
        // What one coil does is its own: whole-loop causes stand behind whole-loop effects.
        if coil && family.cause != Fault::SensorFault {
            return None;
        }
        let fits = |c: &&Finding| {
            c.fault == family.cause
                && c.confidence >= SURE
                && (!family.same_subject || c.subject == effect.subject)
                && c.first_seen_ms <= effect.first_seen_ms + SAME_EVENT_MS
                && c.last_seen_ms >= effect.first_seen_ms
                && (family.sensors.is_empty() || is_of(case, &c.subject, family.sensors))
        };
        verdicts.iter().filter_map(found).find(fits).map(|c| c.fault)
    })
}

fn is_of(case: &Case, point: &str, roles: &[Role]) -> bool {
    case.trends.iter().any(|s| s.name == point && roles.contains(&s.role))
}

/// Two that name each other: the one first in the table of faults is judged first and keeps standing.
fn break_circles(verdicts: &mut [Verdict]) {
    let pairs: Vec<(Fault, Fault)> =
        verdicts.iter().filter_map(found).filter_map(|f| f.caused_by.map(|c| (f.fault, c))).collect();
    for v in verdicts {
        if let Verdict::Found(f) = v
            && let Some(cause) = f.caused_by
            && pairs.contains(&(cause, f.fault))
            && f.fault < cause
        {
            f.caused_by = None;
        }
    }
}

/// Water that passes the coils lowers the loop's temperature difference, whatever the terminals do: while a bypass stands open nobody can call
/// the loop's difference healthy.
fn silence_health_behind_a_bypass(verdicts: &mut [Verdict]) {
    let open = |v: &Verdict| matches!(v, Verdict::Found(f) if f.fault == Fault::StuckBypass && f.confidence >= SURE);
    if !verdicts.iter().any(open) {
        return;
    }
    for v in verdicts {
        if let Verdict::Clear { fault: fault @ Fault::LowDeltaT, subject, .. } = v
            && subject == "loop"
        {
            *v = Verdict::CannotTell {
                fault: *fault,
                subject: std::mem::take(subject),
                missing: Vec::new(),
                why: "the stuck bypass lowers the loop's temperature difference; what the terminals add shows once it is mended".into(),
            };
        }
    }
}

/// What the coils need at design flow is carried up from the flow that was seen; while water goes past them that flow is not theirs.
fn leave_the_setting_open_behind_a_bypass(verdicts: &mut [Verdict]) {
    let Some(since) = verdicts
        .iter()
        .filter_map(found)
        .find_map(|f| (f.fault == Fault::StuckBypass && f.confidence >= SURE).then_some(f.first_seen_ms))
    else {
        return;
    };
    for v in verdicts {
        let open =
            found(v).is_some_and(|f| f.fault == Fault::SetpointTooHigh && f.first_seen_ms + SAME_EVENT_MS >= since);
        if open {
            *v = Verdict::CannotTell {
                fault: Fault::SetpointTooHigh,
                subject: "loop".into(),
                missing: Vec::new(),
                why: "the stuck bypass passes water that the coils do not take, so what they need at design flow is not known until it is mended".into(),
            };
        }
    }
}
