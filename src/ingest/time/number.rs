//! Times as bare numbers: spreadsheet serials, Unix times, dates run together. Told by magnitude.
//!
//! Only where the caller says that the column holds times: any reading could be such a number. The ranges do not meet: a date of the
//! years 1990 to 2099 is a serial of five digits, 8, 12, 14 or 17 digits run together, or one of four Unix counts. Serials count
//! days since 1899-12-30 as all common spreadsheet programs write them now (ECMA-376 part 1, 18.17.4); the 1904 system is not read.

use super::form::compact;
use super::look::{Look, Parts};
use super::stamp::{MS_PER_DAY, Stamp};

/// Days from 1899-12-30 to 1970-01-01.
const SERIAL_OF_1970: i64 = 25_569;
const SERIALS: std::ops::Range<i64> = 20_000..80_000;
/// 1990-01-01 and 2100-01-01 [s since 1970].
const UNIX: std::ops::Range<i64> = 631_152_000..4_102_444_800;

/// The time that a number alone says.
pub(super) fn read(cell: &[u8]) -> Option<Stamp> {
    understand(cell).map(|u| u.0)
}

/// How it says it.
pub(super) fn look(cell: &[u8]) -> Option<Look> {
    understand(cell).map(|(_, what)| Look { parts: Parts::Number(what), ..Look::default() })
}

fn understand(cell: &[u8]) -> Option<(Stamp, &'static str)> {
    let (mut whole, mut value) = (0, 0_i64);
    while let Some(b) = cell.get(whole).filter(|b| b.is_ascii_digit()) {
        value = value.wrapping_mul(10).wrapping_add(i64::from(b - b'0'));
        whole += 1;
    }
    // 19 digits may be more than a word holds; what wraps below zero is refused with all that lies outside the ranges.
    if !(5..=19).contains(&whole) {
        return None;
    }
    let decimals: &[u8] = match &cell[whole..] {
        [] => &[],
        [b'.' | b',', decimals @ ..] if decimals.iter().all(u8::is_ascii_digit) => decimals,
        _ => return None,
    };
    let zeros = decimals.iter().all(|b| *b == b'0');
    if SERIALS.contains(&value) && whole == 5 {
        return serial(value, decimals).map(|s| (s, "spreadsheet serial"));
    }
    let unix = |unit_per_s: i64| UNIX.contains(&value.div_euclid(unit_per_s));
    let cut = |what| Stamp::instant(value * 1000).map(|s| (s, what));
    match whole {
        9 | 10 if unix(1) && zeros => cut("Unix seconds"),
        9 | 10 if unix(1) => Stamp::instant(value * 1000 + thousandths(decimals)).map(|s| (s, "Unix seconds")),
        12 | 13 if unix(1000) => Stamp::instant(value).map(|s| (s, "Unix milliseconds")),
        15 | 16 if unix(1_000_000) => Stamp::instant(value / 1000).map(|s| (s, "Unix microseconds")),
        18 | 19 if unix(1_000_000_000) => Stamp::instant(value / 1_000_000).map(|s| (s, "Unix nanoseconds")),
        8 if zeros => run_together(value, 0).map(|s| (s, "YYYYMMDD")),
        12 if zeros => run_together(value / 10_000, value % 10_000 * 100_000).map(|s| (s, "YYYYMMDDHHMM")),
        14 => run_together(value / 1_000_000, value % 1_000_000 * 1000 + thousandths(decimals))
            .map(|s| (s, "YYYYMMDDHHMMSS")),
        17 if zeros => run_together(value / 1_000_000_000, value % 1_000_000_000).map(|s| (s, "YYYYMMDDHHMMSSmmm")),
        _ => None,
    }
}

fn thousandths(decimals: &[u8]) -> i64 {
    decimals.iter().zip([100, 10, 1]).map(|(b, unit)| i64::from(b - b'0') * unit).sum()
}

/// A date YYYYMMDD and a time of day HHMMSSmmm.
fn run_together(date: i64, clock: i64) -> Option<Stamp> {
    let (hour, minute, second, ms) = (clock / 10_000_000, clock / 100_000 % 100, clock / 1000 % 100, clock % 1000);
    let of_day = ((hour * 60 + minute) * 60 + second) * 1000 + ms;
    (minute < 60 && second < 60 && of_day <= MS_PER_DAY).then_some(())?;
    Stamp::civil(compact(date)? * MS_PER_DAY + of_day)
}

/// A serial; its fraction, which the decimals cut, goes to the nearest second; with four decimals, which are good to nine
/// seconds, to the minute within them.
fn serial(day: i64, decimals: &[u8]) -> Option<Stamp> {
    // So many digits are whole numbers of a double; the others are worth less than a microsecond.
    let kept = &decimals[..decimals.len().min(15)];
    let (top, bottom) = kept.iter().fold((0.0, 1.0), |(t, o), b| (t * 10.0 + f64::from(b - b'0'), o * 10.0));
    let of_day = top / bottom * MS_PER_DAY as f64;
    let half_step = 0.5 / bottom * MS_PER_DAY as f64;
    Stamp::civil((day - SERIAL_OF_1970) * MS_PER_DAY + settle(of_day, half_step))
}

/// The whole minute or second that may have been meant, else the millisecond.
fn settle(ms: f64, half_step: f64) -> i64 {
    let near = |unit: f64| (ms / unit).round() * unit;
    // A half millisecond for what a double's last digits lose.
    let within = |unit: f64| (near(unit) - ms).abs() <= half_step + 0.5;
    let unit = if (1000.0..10_000.0).contains(&half_step) && within(60_000.0) {
        60_000.0
    } else if within(1000.0) {
        1000.0
    } else {
        1.0
    };
    near(unit) as i64
}
