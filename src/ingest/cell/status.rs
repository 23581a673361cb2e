//! What stands behind a number: its unit, and words that say what it is worth.

use super::UnitText;
use super::words::{Meaning, meaning};
use crate::plant::units;

/// Longer text behind a number is a sentence and no status [bytes].
const LONGEST: usize = 80;

/// What a status says of the value before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Worth {
    Good,
    /// A valid reading that a person set.
    Overridden,
    Bad,
    Unknown,
}

/// The text behind a number, taken apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tail {
    pub unit: Option<UnitText>,
    pub worth: Worth,
}

impl Tail {
    const UNKNOWN: Self = Self { unit: None, worth: Worth::Unknown };

    /// Of the text behind a number. `is_own` knows the unit that the point declares, however it is written.
    pub fn of(rest: &str, is_own: &impl Fn(&str) -> bool) -> Self {
        let rest = rest.trim();
        if rest.is_empty() {
            return Self { unit: None, worth: Worth::Good };
        }
        if rest.len() > LONGEST {
            return Self::UNKNOWN;
        }
        let is_unit = |t: &str| is_own(t) || (starts_a_unit(t) && units::is_known(t));
        match worth(rest) {
            Worth::Unknown if is_unit(rest) => Self { unit: UnitText::new(rest), worth: Worth::Good },
            Worth::Unknown => Self::parted(rest, is_unit),
            worth => Self { unit: None, worth },
        }
    }

    /// "kW {ok}", "US gpm fault": the first place where a unit ends and a known status begins.
    fn parted(rest: &str, is_unit: impl Fn(&str) -> bool) -> Self {
        let opens =
            |c: char| c.is_whitespace() || matches!(c, '{' | '(' | '[' | '<' | ';' | '|' | ',' | '#' | '*' | ':');
        for (at, _) in rest.char_indices().filter(|(at, c)| *at > 0 && opens(*c)) {
            let (unit, behind) = (rest[..at].trim(), worth(rest[at..].trim()));
            if behind != Worth::Unknown && is_unit(unit) {
                return Self { unit: UnitText::new(unit), worth: behind };
            }
        }
        Self::UNKNOWN
    }
}

/// Not a sign that the reader of units passes over, and no second number ("1/min" is a unit).
fn starts_a_unit(text: &str) -> bool {
    let passed_over =
        |c: char| matches!(c, '-' | '\u{2212}' | '.' | ',' | '_' | '*' | '^' | '·' | '+' | '/' | ')' | ']');
    !text.starts_with(passed_over) && (!text.starts_with(|c: char| c.is_ascii_digit()) || text.starts_with("1/"))
}

/// What a status text says: the worst of its words, and unknown where it holds one that is not known.
pub(super) fn worth(status: &str) -> Worth {
    // A lone mark has no agreed meaning, but for the question mark.
    if status.chars().all(|c| matches!(c, '*' | '#' | '-' | '_' | '/' | '–' | '—')) {
        return Worth::Unknown;
    }
    if matches!(status, "{}" | "()" | "[]") {
        return Worth::Good;
    }
    let one = |word: &str| {
        let meaning = meaning(word);
        if meaning.may_be(Meaning::GOOD) {
            Worth::Good
        } else if meaning.may_be(Meaning::OVERRIDDEN) {
            Worth::Overridden
        } else if meaning.may_be(Meaning::BAD) {
            Worth::Bad
        } else {
            Worth::Unknown
        }
    };
    let whole = one(status);
    if whole != Worth::Unknown {
        return whole;
    }
    let mut worst = None;
    for word in status.split([';', ',', '|', '+', '&', '/', '}', ')', ']']).filter(|w| !w.trim().is_empty()) {
        worst = Some(match (worst, one(word)) {
            (Some(Worth::Bad), _) | (_, Worth::Bad) => Worth::Bad,
            (Some(Worth::Unknown), _) | (_, Worth::Unknown) => Worth::Unknown,
            (Some(Worth::Overridden), _) | (_, Worth::Overridden) => Worth::Overridden,
            _ => Worth::Good,
        });
    }
    worst.unwrap_or(Worth::Unknown)
}
