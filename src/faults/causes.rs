//! One verdict for one cause: which finding stands behind which, and what cannot be called healthy beside it.
//!
//! Comes in: every rule's verdicts. Goes out: the same, consequences naming their cause in `caused_by`, so that no waste is counted twice. The
//! decision a reader would question: a consequence keeps its own finding, since it is what people see first.

use super::{Case, Fault, Verdict};

/// Two onsets this near are one event [ms]: a day each way, as onsets are found within a day.
const SAME_EVENT_MS: i64 = 2 * 86_400_000;

/// Resolves the families.
pub(super) fn resolve(_case: &Case, verdicts: &mut [Verdict]) {
    behind_a_bypass(verdicts);
    silence_health_behind_a_bypass(verdicts);
}

/// Water past the coils lowers the loop's temperature difference: where both are found, and began together or the
/// bypass came first, the bypass is the cause and its price is not counted twice.
fn behind_a_bypass(verdicts: &mut [Verdict]) {
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

/// Water that passes the coils lowers the loop's temperature difference, whatever the terminals do: while a bypass stands open nobody can call
/// the loop's difference healthy.
fn silence_health_behind_a_bypass(verdicts: &mut [Verdict]) {
    let open = |v: &Verdict| matches!(v, Verdict::Found(f) if f.fault == Fault::StuckBypass && f.confidence >= 0.5);
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
