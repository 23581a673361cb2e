//! One cell: a number, a state in words, nothing, or a word that says the reading is bad.
//!
//! Comes in: the bytes of a cell and what its point may say. Goes out: [`Cell`]. A number that cannot be true
//! (-9999, 1e38) is a number here: screening judges it, by the role. Start at [`Reader::read`].

use crate::plant::{Point, Role};
use std::borrow::Cow;

/// What a cell says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Cell {
    /// A reading in the point's own unit.
    Number(f64),
    /// A state in words, already as 0 or 1; no unit applies.
    State(f64),
    Blank,
    /// A word for "no valid reading".
    Bad,
    /// Neither a number nor a known word.
    Unknown,
}

/// Words that controllers and loggers write in place of a reading (common practice, no source). Compared in lower case.
const BAD_WORDS: &[&str] = &[
    "nan",
    "bad",
    "fault",
    "faulted",
    "null",
    "none",
    "nil",
    "--",
    "---",
    "----",
    "-",
    "?",
    "n/a",
    "na",
    "#n/a",
    "#value!",
    "#ref!",
    "#div/0!",
    "no data",
    "nodata",
    "offline",
    "comm fail",
    "comm failure",
    "commfail",
    "comm loss",
    "comm lost",
    "error",
    "err",
    "down",
    "stale",
    "invalid",
    "unreliable",
    "uncertain",
    "not available",
    "unavailable",
    "timeout",
    "failed",
    "fail",
    "missing",
    "disconnected",
    "out of service",
    "open circuit",
    "short circuit",
    "{down}",
];
const ON: &[&str] = &[
    "on",
    "active",
    "running",
    "run",
    "true",
    "started",
    "start",
    "enabled",
    "enable",
    "yes",
    "proven",
    "proof",
    "operating",
    "t",
    "y",
];
const OFF: &[&str] = &[
    "off",
    "inactive",
    "stopped",
    "stop",
    "false",
    "disabled",
    "disable",
    "no",
    "idle",
    "standby",
    "not running",
    "unproven",
    "f",
    "n",
];
const ALARM: &[&str] = &["alarm", "fault", "faulted", "trip", "tripped", "fail", "failed", "offnormal"];
const NORMAL: &[&str] = &["normal", "ok", "healthy", "clear", "none"];
const AUTO: &[&str] = &["auto", "automatic", "remote"];
const HAND: &[&str] = &["hand", "manual", "local", "override"];
const OPEN: &[&str] = &["open", "opened"];
const CLOSED: &[&str] = &["closed", "close", "shut"];

/// Reads the cells of one point.
pub(super) struct Reader {
    on: Vec<String>,
    states: &'static [(&'static [&'static str], f64)],
    is_state: bool,
    unit: Option<String>,
    decimal_comma: bool,
}

impl Reader {
    /// `decimal_comma`: a comma does not part the cells of this file.
    pub fn new(point: &Point, decimal_comma: bool) -> Self {
        Self {
            on: point.on.iter().map(|w| w.trim().to_lowercase()).collect(),
            states: states(point.role),
            is_state: is_state(point.role),
            unit: point.unit.as_ref().map(|u| u.written.to_lowercase()),
            decimal_comma,
        }
    }

    /// A plain number may skip [`Reader::read`].
    pub fn takes_plain_numbers(&self) -> bool {
        !self.is_state
    }

    /// What the cell says.
    pub fn read(&self, cell: &[u8]) -> Cell {
        let cell = cell.trim_ascii();
        if cell.is_empty() {
            return Cell::Blank;
        }
        let word = text(cell);
        let lower = word.to_lowercase();
        if self.is_state {
            return self.read_state(&lower);
        }
        if let Some(n) = self.number(&word) {
            return Cell::Number(n);
        }
        if BAD_WORDS.contains(&lower.as_str()) {
            return Cell::Bad;
        }
        match look_up(self.states, &lower) {
            Some(state) => Cell::State(state),
            None => self.number_with_unit(&lower).map_or(Cell::Unknown, Cell::Number),
        }
    }

    fn read_state(&self, lower: &str) -> Cell {
        let number = self.number(lower);
        if !self.on.is_empty() {
            if self.on.iter().any(|w| w == lower) {
                return Cell::State(1.0);
            }
            let bad = BAD_WORDS.contains(&lower) && look_up(self.states, lower).is_none();
            return if bad { Cell::Bad } else { Cell::State(0.0) };
        }
        if let Some(n) = number {
            return Cell::State(if n == 0.0 { 0.0 } else { 1.0 });
        }
        match look_up(self.states, lower) {
            Some(state) => Cell::State(state),
            None if BAD_WORDS.contains(&lower) => Cell::Bad,
            None => Cell::Unknown,
        }
    }

    fn number(&self, word: &str) -> Option<f64> {
        if !word
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b',' | b'-' | b'+' | b'e' | b'E' | b'\'' | b' '))
        {
            return None;
        }
        let plain = plain_number(word, self.decimal_comma);
        plain.parse().ok().filter(|n: &f64| n.is_finite())
    }

    /// "72.4 kW", where the point says that it is in kW.
    fn number_with_unit(&self, lower: &str) -> Option<f64> {
        let bare = self.unit.as_deref().and_then(|u| lower.strip_suffix(u))?;
        self.number(bare.trim())
    }
}

/// One decimal sign, no thousands separators: of two kinds the last is the decimal sign.
fn plain_number(word: &str, decimal_comma: bool) -> Cow<'_, str> {
    let Some(comma) = word.rfind(',') else { return Cow::Borrowed(word) };
    match word.rfind('.') {
        Some(point) if point > comma => Cow::Owned(word.replace(',', "")),
        Some(_) => Cow::Owned(word.replace('.', "").replace(',', ".")),
        None if decimal_comma => Cow::Owned(word.replace(',', ".")),
        // A quoted "1,234" in a file whose cells are parted by commas.
        None if word.len() - comma == 4 => Cow::Owned(word.replace(',', "")),
        None => Cow::Owned(word.replace(',', ".")),
    }
}

/// Whether a role is a state (on or off) and not a measured number.
pub(super) fn is_state(role: Role) -> bool {
    use Role::*;
    matches!(role, PumpStatus | PumpCommand | FanStatus | SourceStatus | PlantEnable | PumpMode | PumpAlarm)
}

fn states(role: Role) -> &'static [(&'static [&'static str], f64)] {
    use Role::*;
    match role {
        PumpAlarm => &[(ALARM, 1.0), (NORMAL, 0.0), (ON, 1.0), (OFF, 0.0)],
        // 1 is automatic: the pump follows the controller.
        PumpMode => &[(AUTO, 1.0), (HAND, 0.0), (OFF, 0.0)],
        PumpStatus | PumpCommand | FanStatus | SourceStatus | PlantEnable => &[(ON, 1.0), (OFF, 0.0)],
        ValvePosition | BypassPosition | ValveCommand => &[(OPEN, 1.0), (CLOSED, 0.0)],
        _ => &[],
    }
}

fn look_up(states: &[(&[&str], f64)], lower: &str) -> Option<f64> {
    states.iter().find(|(words, _)| words.contains(&lower)).map(|(_, state)| *state)
}

/// A word for a state or a bad reading: not a name, when columns are told apart.
pub(super) fn is_known_word(cell: &[u8]) -> bool {
    let lower = text(cell.trim_ascii()).to_lowercase();
    let lower = lower.as_str();
    [ON, OFF, ALARM, NORMAL, AUTO, HAND, OPEN, CLOSED, BAD_WORDS].iter().any(|words| words.contains(&lower))
}

/// Text of a cell: UTF-8, or else one character a byte (ISO 8859-1), so that a stray degree sign loses nothing.
pub(super) fn text(bytes: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(s) => Cow::Borrowed(s),
        Err(_) => Cow::Owned(bytes.iter().map(|b| char::from(*b)).collect()),
    }
}

/// Powers of ten that are exact in binary64.
const TENS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];

/// A plain decimal number that starts at `at` and is followed by `delimiter` or the line's end: its value, and where it ends.
///
/// Up to 15 digits: both the digits as an integer and the power of ten are exact, so one division rounds correctly
/// (Clinger 1990, "How to read floating point numbers accurately"). Anything else is `None` and takes the slow path.
#[inline]
pub(super) fn plain_number_at(line: &[u8], at: usize, delimiter: u8) -> Option<(f64, usize)> {
    let negative = line.get(at) == Some(&b'-');
    let mut i = at + usize::from(negative);
    let (start, mut whole, mut decimals, mut digits) = (i, 0u64, 0usize, 0usize);
    let mut point = false;
    while let Some(&b) = line.get(i) {
        let digit = b.wrapping_sub(b'0');
        if digit < 10 {
            whole = whole.wrapping_mul(10).wrapping_add(u64::from(digit));
            digits += 1;
            decimals += usize::from(point);
        } else if b == b'.' && !point && i > start {
            point = true;
        } else if b == delimiter {
            break;
        } else {
            return None;
        }
        i += 1;
    }
    if digits == 0 || digits > 15 {
        return None;
    }
    let value = whole as f64 / TENS[decimals];
    Some((if negative { -value } else { value }, i))
}

/// The cell that starts at `at`, without its quotes, and where the next one starts (`None` at the line's end).
///
/// A quote closes at the latest at the line's end: a line end inside quotes is not supported.
pub(super) fn cell_at(line: &[u8], at: usize, delimiter: u8) -> (Cow<'_, [u8]>, Option<usize>) {
    let rest = line.get(at..).unwrap_or_default();
    if rest.first() != Some(&b'"') {
        return match memchr::memchr(delimiter, rest) {
            Some(n) => (Cow::Borrowed(&rest[..n]), Some(at + n + 1)),
            None => (Cow::Borrowed(rest), None),
        };
    }
    let mut close = 1;
    let mut doubled = false;
    while let Some(n) = memchr::memchr(b'"', rest.get(close..).unwrap_or_default()) {
        close += n;
        if rest.get(close + 1) != Some(&b'"') {
            break;
        }
        doubled = true;
        close += 2;
    }
    let inside_end = if rest.get(close) == Some(&b'"') { close } else { rest.len() };
    let inside = rest.get(1..inside_end).unwrap_or_default();
    let next = memchr::memchr(delimiter, rest.get(inside_end..).unwrap_or_default()).map(|n| at + inside_end + n + 1);
    if !doubled {
        return (Cow::Borrowed(inside), next);
    }
    let mut plain = Vec::with_capacity(inside.len());
    let mut skip = false;
    for &b in inside {
        skip = b == b'"' && !skip;
        if !skip {
            plain.push(b);
        }
    }
    (Cow::Owned(plain), next)
}

/// All cells of a line.
pub(super) fn cells(line: &[u8], delimiter: u8) -> Vec<Cow<'_, [u8]>> {
    let mut all = Vec::new();
    let mut at = Some(0);
    while let Some(here) = at {
        let (cell, next) = cell_at(line, here, delimiter);
        all.push(cell);
        at = next;
    }
    all
}
