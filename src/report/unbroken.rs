//! Where a line may not end: between a number and its unit, and at the hyphen of a name.
//!
//! Comes in: a sentence with ordinary spaces. Goes out: the same with a space that does not break between every number and the unit after
//! it. The decision a reader would question: it is done where page and terminal lay out lines, not where sentences are made, so that JSON and Markdown keep
//! plain spaces and tests compare plain words. Start at [`bound`].

use super::show::THIN;

/// Units as sentences write them.
const UNITS: [&str; 34] = [
    "kPa", "Pa", "bar", "psi", "m³/h", "m3/h", "l/s", "gpm", "m", "ft", "K", "°C", "°F", "degC", "degF", "%", "kW",
    "W", "MBH", "kWh", "MWh", "kg", "h", "min", "s", "d", "rpm", "Hz", "A", "V", "MB", "months", "days", "hours",
];

/// The sentence with its numbers bound to their units: "255 h" stays on one line.
pub fn bound(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = "";
    for (i, word) in text.split(' ').enumerate() {
        if i > 0 {
            out.push(if is_number(before) && is_unit(word) { THIN } else { ' ' });
        }
        out.push_str(word);
        before = word;
    }
    out
}

/// A name such as "AHU-2", with what punctuation stands about it: a line that ended at its hyphen would hide whose the fault is.
pub fn is_name(word: &str) -> bool {
    let plain = word.trim_matches(|c: char| !c.is_alphanumeric());
    plain.len() <= 16
        && plain
            .rsplit_once('-')
            .is_some_and(|(name, number)| !name.is_empty() && number.starts_with(|c: char| c.is_ascii_digit()))
}

/// "82", "(1.5", "−0.2", "1\u{202f}000".
fn is_number(word: &str) -> bool {
    let digits = word.trim_start_matches(['(', '"', '−', '-', '+']);
    digits.starts_with(|c: char| c.is_ascii_digit())
        && digits.ends_with(|c: char| c.is_ascii_digit())
        && digits.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | THIN))
}

fn is_unit(word: &str) -> bool {
    UNITS.contains(&word.trim_end_matches(['.', ',', ';', ':', ')', '?', '"']))
}
