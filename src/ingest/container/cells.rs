//! Typed cells as text: comma parted, quoted as RFC 4180 says, one line a row.
//!
//! Line breaks within a cell become spaces, so that a line is a row. Numbers stand in the shortest form that reads back
//! to the same bits; missing is nothing at all.

use chrono::{Datelike, NaiveDate};
use std::fmt::Write as _;
use std::io::{self, Read};

/// Made at once [bytes].
const BLOCK: usize = 64 << 10;

/// A text that is made as it is read. `more` puts the next lines at the end of what it is given; false: that was all.
pub(super) struct Made<F> {
    more: F,
    /// Comes after what was made before it.
    fault: Option<io::Error>,
    out: Vec<u8>,
    given: usize,
    ended: bool,
}

impl<F: FnMut(&mut Vec<u8>) -> io::Result<bool>> Made<F> {
    pub fn new(more: F) -> Self {
        Self { more, fault: None, out: Vec::new(), given: 0, ended: false }
    }
}

impl<F: FnMut(&mut Vec<u8>) -> io::Result<bool>> Read for Made<F> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.given == self.out.len() {
            self.out.clear();
            self.given = 0;
            while self.out.len() < BLOCK && !self.ended {
                match (self.more)(&mut self.out) {
                    Ok(goes_on) => self.ended = !goes_on,
                    Err(fault) => (self.fault, self.ended) = (Some(fault), true),
                }
            }
            if self.out.is_empty()
                && let Some(fault) = self.fault.take()
            {
                return Err(fault);
            }
        }
        let n = into.len().min(self.out.len() - self.given);
        into[..n].copy_from_slice(&self.out[self.given..self.given + n]);
        self.given += n;
        Ok(n)
    }
}

/// A cell of words.
pub(super) fn word(text: &[u8], out: &mut Vec<u8>) {
    let marks = text.iter().any(|b| matches!(b, b',' | b'"' | b'\n' | b'\r' | 0));
    if !marks {
        return out.extend_from_slice(text);
    }
    let quote = text.iter().any(|b| matches!(b, b',' | b'"'));
    if quote {
        out.push(b'"');
    }
    for &b in text {
        match b {
            b'"' => out.extend_from_slice(b"\"\""),
            b'\n' | b'\r' | 0 => out.push(b' '),
            _ => out.push(b),
        }
    }
    if quote {
        out.push(b'"');
    }
}

/// A number in the shortest form that reads back to the same bits [any unit]; NaN is missing.
pub(super) fn number(value: f64, out: &mut Vec<u8>) {
    // Most readings have three places at most. A quotient of whole numbers is the nearest to the decimal, so if it is the value, the decimal
    // reads back to it; and of decimals with up to 15 digits only one does.
    let thousandths = (value * 1e3).round();
    if value != 0.0 && thousandths.abs() < 1e15 && thousandths / 1e3 == value {
        return decimal(thousandths as i64, out);
    }
    shortest(value, value.abs(), out);
}

/// Thousandths as a decimal without zeros at its end.
fn decimal(thousandths: i64, out: &mut Vec<u8>) {
    if thousandths < 0 {
        out.push(b'-');
    }
    let (whole, part) = (thousandths.unsigned_abs() / 1_000, thousandths.unsigned_abs() % 1_000);
    digits(whole, 1, out);
    let (part, places) = match part {
        0 => return,
        p if p % 100 == 0 => (p / 100, 1),
        p if p % 10 == 0 => (p / 10, 2),
        p => (p, 3),
    };
    out.push(b'.');
    digits(part, places, out);
}

/// The same for one of 32 bits.
pub(super) fn short_number(value: f32, out: &mut Vec<u8>) {
    shortest(value, f64::from(value.abs()), out);
}

fn shortest(value: impl std::fmt::Display + std::fmt::LowerExp, size: f64, out: &mut Vec<u8>) {
    let mut text = Ascii(out);
    // Writing to memory does not fail.
    let _ = match size {
        s if s.is_nan() => Ok(()),
        s if s.is_infinite() => write!(text, "{value}"),
        0.0 => write!(text, "0"),
        s if (1e-6..1e16).contains(&s) => write!(text, "{value}"),
        _ => write!(text, "{value:e}"),
    };
}

/// Bytes that are written to as text.
pub(super) struct Ascii<'a>(pub &'a mut Vec<u8>);

impl std::fmt::Write for Ascii<'_> {
    fn write_str(&mut self, s: &str) -> std::fmt::Result {
        self.0.extend_from_slice(s.as_bytes());
        Ok(())
    }
}

/// A date as ISO 8601; nothing for one outside years 1 to 9999.
pub(super) fn date(days: i64, out: &mut Vec<u8>) {
    let found = i32::try_from(days).ok().and_then(NaiveDate::from_epoch_days);
    let Some(date) = found.filter(|d| (1..=9999).contains(&d.year())) else { return };
    digits(u64::from(date.year().unsigned_abs()), 4, out);
    out.push(b'-');
    digits(u64::from(date.month()), 2, out);
    out.push(b'-');
    digits(u64::from(date.day()), 2, out);
}

/// A time of day as ISO 8601 from nanoseconds since midnight [ns], with 3, 6 or 9 places where they say something.
pub(super) fn clock(nanos: i64, out: &mut Vec<u8>) {
    let (seconds, rest) = (nanos.unsigned_abs() / 1_000_000_000, nanos.unsigned_abs() % 1_000_000_000);
    digits(seconds / 3600, 2, out);
    out.push(b':');
    digits(seconds / 60 % 60, 2, out);
    out.push(b':');
    digits(seconds % 60, 2, out);
    let (value, places) = match rest {
        0 => return,
        r if r % 1_000_000 == 0 => (r / 1_000_000, 3),
        r if r % 1_000 == 0 => (r / 1_000, 6),
        r => (r, 9),
    };
    out.push(b'.');
    digits(value, places, out);
}

/// An instant as ISO 8601. `per_second` [1/s]: ticks of the unit; `is_utc`: with Z, else civil. Nothing outside years 1 to 9999.
pub(super) fn instant(ticks: i64, per_second: i64, is_utc: bool, out: &mut Vec<u8>) {
    let seconds = ticks.div_euclid(per_second);
    let nanos = ticks.rem_euclid(per_second) * (1_000_000_000 / per_second);
    let before = out.len();
    date(seconds.div_euclid(86_400), out);
    if out.len() == before {
        return;
    }
    out.push(b'T');
    clock(seconds.rem_euclid(86_400) * 1_000_000_000 + nanos, out);
    if is_utc {
        out.push(b'Z');
    }
}

fn digits(value: u64, places: u32, out: &mut Vec<u8>) {
    for place in (0..places.max(value.checked_ilog10().unwrap_or(0) + 1)).rev() {
        out.push(b'0' + u8::try_from(value / 10_u64.pow(place) % 10).unwrap_or(0));
    }
}
