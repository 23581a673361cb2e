//! Days counted by a workbook, and the number formats that say that a number is one.
//!
//! Source: ECMA-376 part 1, 18.17.4.1 (date systems) and 18.8.30 (number formats).

use super::cells;

/// What a number format shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shows {
    Number,
    Date,
    /// Date and time of day.
    Instant,
    Time,
    /// Hours that run on past 24.
    Elapsed,
}

/// A format by its number, when the workbook does not write it out.
pub(super) fn built_in(id: u32) -> Shows {
    match id {
        14..=17 | 27..=31 | 34..=36 | 50..=58 => Shows::Date,
        22 => Shows::Instant,
        18..=21 | 32 | 33 | 45 | 47 => Shows::Time,
        46 => Shows::Elapsed,
        _ => Shows::Number,
    }
}

/// A format by its code, like `dd/mm/yyyy hh:mm` or `[Red]0.00" kW"`: its first section decides.
pub(super) fn by_code(code: &str) -> Shows {
    let (mut day, mut hour, mut minutes_or_month) = (false, false, false);
    let mut letters = code.chars();
    while let Some(c) = letters.next() {
        match c {
            ';' => break,
            '"' => letters.by_ref().take_while(|c| *c != '"').for_each(drop),
            '\\' | '_' | '*' => drop(letters.next()),
            '[' => {
                let inside: String = letters.by_ref().take_while(|c| *c != ']').collect();
                let unit = inside.to_ascii_lowercase();
                if !unit.is_empty() && unit.chars().all(|c| matches!(c, 'h' | 'm' | 's')) {
                    return Shows::Elapsed;
                }
            }
            '#' | '?' => return Shows::Number,
            'y' | 'Y' | 'd' | 'D' => day = true,
            'h' | 'H' | 's' | 'S' => hour = true,
            'm' | 'M' => minutes_or_month = true,
            'G' | 'g' if code.to_ascii_lowercase().contains("general") => return Shows::Number,
            _ => {}
        }
    }
    match (day, hour) {
        (true, true) => Shows::Instant,
        (false, true) => Shows::Time,
        (true, false) => Shows::Date,
        (false, false) if minutes_or_month => Shows::Date,
        (false, false) => Shows::Number,
    }
}

const DAY_NS: f64 = 86_400e9;
/// 1970-01-01 in the 1900 system.
const EPOCH: i64 = 25_569;
/// 9999-12-31 in the 1900 system.
const LAST: f64 = 2_958_466.0;

/// A serial [d] as ISO 8601, civil; with the time of day where it has one or its format shows one.
/// In the 1900 system day 60 is 29 February 1900, which never was: days before it lie one later. What is no date stays a number.
pub(super) fn instant(serial: f64, shows: Shows, from_1904: bool, out: &mut Vec<u8>) {
    if shows == Shows::Number || !(0.0..LAST).contains(&serial) {
        return cells::number(serial, out);
    }
    // To the nearest millisecond: a serial of today is good to 0.6 us, and writers round to seconds by adding fractions.
    let milliseconds = (serial * 86_400e3).round();
    let days = (milliseconds / 86_400e3).floor();
    let nanos = (milliseconds - days * 86_400e3) * 1e6;
    debug_assert!((0.0..DAY_NS).contains(&nanos));
    let (days, nanos) = (days as i64, nanos as i64);
    if shows == Shows::Elapsed {
        return cells::clock(days * 86_400_000_000_000 + nanos, out);
    }
    if days == 0 && shows == Shows::Time {
        return cells::clock(nanos, out);
    }
    match days {
        _ if from_1904 => cells::date(days + 1_462 - EPOCH, out),
        0 => out.extend_from_slice(b"1900-01-00"),
        60 => out.extend_from_slice(b"1900-02-29"),
        1..60 => cells::date(days + 1 - EPOCH, out),
        _ => cells::date(days - EPOCH, out),
    }
    if nanos > 0 || shows != Shows::Date {
        out.push(b'T');
        cells::clock(nanos, out);
    }
}
