//! Whether a check that saw nothing speaks of a fault that an earlier record showed.
//!
//! Some rules look for a change within their record: wear, a scale that moved, a bypass that opened, a difference that
//! fell. What changed in January is all of February long as it then is, so February's check sees nothing, and nothing
//! was mended by that. Comes in: the check's own words and how the fault was found. Goes out: yes or no.

use super::Fault;

/// The words by which a rule says that it looked for a change alone.
const OF_A_CHANGE: [&str; 3] = ["within the record", "during the record", "a fall beyond"];
/// How the rule on sensors says that a scale moved.
const SCALE: &str = "the scale of ";

/// A fault as an earlier record showed it.
#[derive(Debug, Clone, Copy)]
pub struct Older<'o> {
    pub fault: Fault,
    /// The finding's own sentences.
    pub because: &'o str,
    /// It began within that record, and not before its first day.
    pub began_within: bool,
}

/// Whether the check with these words rules that fault out.
#[must_use]
pub fn rules_out(would_have_seen: &str, older: Older) -> bool {
    let of_a_change = OF_A_CHANGE.iter().any(|w| would_have_seen.contains(w));
    match older.fault {
        // Its clear holds a level against design, which a fall may stay above.
        Fault::LowDeltaT => !of_a_change && !older.began_within,
        Fault::SensorFault => !of_a_change && !older.because.contains(SCALE),
        _ => !of_a_change,
    }
}
