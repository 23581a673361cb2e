//! Times as exports write them, one form a cell, the order of day and month decided over the whole column.
//!
//! Comes in: the bytes of a cell. Goes out: a [`Stamp`]: a civil time, a civil time whose day and month are still in the
//! file's order, or an instant where the cell says its offset. [`Evidence`] gathers what the column proves; no row is
//! ever read by what the first rows looked like. Zones are `zone.rs`'s work.

use super::error::IngestError;
use chrono::{Datelike, NaiveDate};

const MS_PER_DAY: i64 = 86_400_000;
/// Earlier than any trend log of this kind, and later than this program's clock: outside, a controller had lost its clock.
const YEARS: std::ops::RangeInclusive<i64> = 1990..=2099;

const TAG: u32 = 60;
const CIVIL: i64 = 0;
const UNORDERED: i64 = 1;
const INSTANT: i64 = 2;
const PAYLOAD: i64 = (1 << TAG) - 1;

/// A time in eight bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stamp(i64);

/// What a [`Stamp`] holds once the order of day and month is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Moment {
    /// Civil time [ms since 1970-01-01 00:00 of the same calendar].
    Civil(i64),
    /// Instant [ms since 1970, UTC].
    Instant(i64),
    /// No such day.
    Never,
}

impl Stamp {
    fn unordered(year: i64, first: i64, second: i64, ms: i64) -> Self {
        Self(UNORDERED << TAG | year << 41 | first << 34 | second << 27 | ms)
    }

    /// First and second number of an unordered date.
    fn pair(self) -> Option<(i64, i64)> {
        (self.0 >> TAG == UNORDERED).then_some((self.0 >> 34 & 0x7f, self.0 >> 27 & 0x7f))
    }

    /// The time, day before month or after.
    pub fn moment(self, day_first: bool) -> Moment {
        let payload = self.0 & PAYLOAD;
        match self.0 >> TAG {
            CIVIL => Moment::Civil(payload),
            INSTANT => Moment::Instant(payload),
            _ => {
                let (a, b) = (payload >> 34 & 0x7f, payload >> 27 & 0x7f);
                let (day, month) = if day_first { (a, b) } else { (b, a) };
                days(payload >> 41, month, day)
                    .map_or(Moment::Never, |d| Moment::Civil(d * MS_PER_DAY + (payload & ((1 << 27) - 1))))
            }
        }
    }
}

fn days(year: i64, month: i64, day: i64) -> Option<i64> {
    let date =
        NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, u32::try_from(month).ok()?, u32::try_from(day).ok()?)?;
    Some(i64::from(date.num_days_from_ce()) - 719_163)
}

/// How a time was written, for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Look {
    separator: char,
    year_first: bool,
    month_word: bool,
    long_year: bool,
    has_time: bool,
    t: bool,
    seconds: bool,
    half_days: bool,
    offset: bool,
}

impl Look {
    /// For example "DD/MM/YYYY HH:MM".
    pub fn describe(self, day_first: bool) -> String {
        let s = self.separator;
        let year = if self.long_year { "YYYY" } else { "YY" };
        let mut out = match (self.year_first, self.month_word, day_first) {
            (true, _, _) => format!("YYYY{s}MM{s}DD"),
            (_, true, _) => format!("DD{s}Mon{s}{year}"),
            (_, _, true) => format!("DD{s}MM{s}{year}"),
            (_, _, false) => format!("MM{s}DD{s}{year}"),
        };
        if self.has_time {
            out.push(if self.t { 'T' } else { ' ' });
            out.push_str(if self.half_days { "hh:MM" } else { "HH:MM" });
            out.push_str(if self.seconds { ":SS" } else { "" });
            out.push_str(if self.half_days { " AM/PM" } else { "" });
        }
        out.push_str(if self.offset { " with offset" } else { "" });
        out
    }
}

/// Parses the times of a column; remembers the last date, since the next row has the same as a rule.
#[derive(Default)]
pub(super) struct Parser {
    date: Vec<u8>,
    base: i64,
}

impl Parser {
    /// The time that a cell says; `None` if it says none.
    pub fn parse(&mut self, cell: &[u8]) -> Option<Stamp> {
        let cell = cell.trim_ascii();
        if !self.date.is_empty()
            && let Some(rest) = cell.strip_prefix(self.date.as_slice())
            && rest.first().is_none_or(|b| !b.is_ascii_digit())
            && let Some((ms, None, _)) = time_of_day(rest)
        {
            return Some(Stamp(self.base + ms));
        }
        let (date, length) = date(cell)?;
        let (ms, offset, _) = time_of_day(&cell[length..])?;
        match offset {
            None => {
                self.date.clear();
                self.date.extend_from_slice(&cell[..length]);
                self.base = date.stamp.0;
                Some(Stamp(date.stamp.0 + ms))
            }
            // An offset beside a date whose order is open occurs in no export known.
            Some(offset_ms) if date.stamp.pair().is_none() => {
                Some(Stamp(INSTANT << TAG | (date.stamp.0 + ms - offset_ms)))
            }
            Some(_) => None,
        }
    }
}

/// Whether a cell is a time of day alone, as where date and time stand in two columns.
pub(super) fn is_time_of_day(cell: &[u8]) -> bool {
    let cell = cell.trim_ascii();
    let mut spaced = vec![b' '];
    spaced.extend_from_slice(cell);
    cell.contains(&b':') && time_of_day(&spaced).is_some()
}

/// How a cell writes its time.
pub(super) fn look(cell: &[u8]) -> Option<Look> {
    let cell = cell.trim_ascii();
    let (date, length) = date(cell)?;
    let (_, offset, mut look) = time_of_day(&cell[length..])?;
    (look.separator, look.year_first, look.month_word, look.long_year) =
        (date.separator, date.year_first, date.month_word, date.long_year);
    look.offset = offset.is_some();
    Some(look)
}

struct Date {
    stamp: Stamp,
    separator: char,
    year_first: bool,
    month_word: bool,
    long_year: bool,
}

/// The date at the start of a cell, and its length.
fn date(cell: &[u8]) -> Option<(Date, usize)> {
    let (a, a_end) = digits(cell, 0, 4)?;
    let separator = *cell.get(a_end).filter(|b| matches!(b, b'-' | b'/' | b'.' | b' '))?;
    let (b, b_end, month_word) = match digits(cell, a_end + 1, 2) {
        Some((b, end)) => (b, end, false),
        None => (month_by_name(cell.get(a_end + 1..a_end + 4)?)?, a_end + 4, true),
    };
    if cell.get(b_end) != Some(&separator) || (separator == b' ' && !month_word) {
        return None;
    }
    let (c, c_end) = digits(cell, b_end + 1, 4)?;
    let year_first = a_end == 4;
    let long_year = year_first || c_end - b_end - 1 == 4;
    if !year_first && !long_year && c_end - b_end - 1 != 2 {
        return None;
    }
    let year = if year_first {
        a
    } else if long_year {
        c
    } else {
        2000 + c
    };
    if !YEARS.contains(&year) {
        return None;
    }
    let stamp = match (year_first, month_word) {
        (true, _) => Stamp((CIVIL << TAG) | (days(year, b, c)? * MS_PER_DAY)),
        (_, true) => Stamp((CIVIL << TAG) | (days(year, b, a)? * MS_PER_DAY)),
        _ if (1..=31).contains(&a) && (1..=31).contains(&b) && a.min(b) <= 12 => Stamp::unordered(year, a, b, 0),
        _ => return None,
    };
    Some((Date { stamp, separator: char::from(separator), year_first, month_word, long_year }, c_end))
}

/// Up to `most` digits at `at`, and where they end; `None` where there are none or more.
#[inline]
fn digits(cell: &[u8], at: usize, most: usize) -> Option<(i64, usize)> {
    let mut value = 0;
    let mut end = at;
    while let Some(b) = cell.get(end).filter(|b| b.is_ascii_digit()) {
        if end - at == most {
            return None;
        }
        value = value * 10 + i64::from(b - b'0');
        end += 1;
    }
    (end > at).then_some((value, end))
}

fn month_by_name(name: &[u8]) -> Option<i64> {
    const MONTHS: [&[u8; 3]; 12] =
        [b"jan", b"feb", b"mar", b"apr", b"may", b"jun", b"jul", b"aug", b"sep", b"oct", b"nov", b"dec"];
    let lower = name.to_ascii_lowercase();
    MONTHS.iter().position(|m| m.as_slice() == lower).map(|i| i as i64 + 1)
}

/// What follows the date: the time [ms from midnight], its offset from UTC [ms] if it says one, and how it is written.
#[inline]
fn time_of_day(rest: &[u8]) -> Option<(i64, Option<i64>, Look)> {
    let mut look = Look::default();
    if rest.is_empty() {
        return Some((0, None, look));
    }
    look.has_time = true;
    look.t = rest[0] == b'T';
    let mut at = if look.t { 1 } else { rest.iter().take_while(|b| matches!(b, b' ' | b',')).count() };
    if at == 0 {
        return None;
    }
    let (mut hour, end) = digits(rest, at, 2)?;
    at = colon(rest, end)?;
    let (minute, end) = two_digits(rest, at)?;
    at = end;
    let mut ms = 0;
    if rest.get(at) == Some(&b':') {
        look.seconds = true;
        let (second, end) = two_digits(rest, at + 1)?;
        let (fraction_ms, end) = fraction(rest, end);
        ms = second * 1000 + fraction_ms;
        at = end;
    }
    let mut tail = rest[at..].trim_ascii_start();
    if let Some(afternoon) = half_day(tail) {
        look.half_days = true;
        if !(1..=12).contains(&hour) {
            return None;
        }
        hour = hour % 12 + 12 * i64::from(afternoon);
        tail = tail[2..].trim_ascii_start();
    }
    ms += (hour * 60 + minute) * 60_000;
    if minute > 59 || ms > MS_PER_DAY || (ms == MS_PER_DAY && hour != 24) {
        return None;
    }
    match tail {
        [] => Some((ms, None, look)),
        _ => Some((ms, Some(offset(tail)?), look)),
    }
}

fn colon(rest: &[u8], at: usize) -> Option<usize> {
    (rest.get(at) == Some(&b':')).then_some(at + 1)
}

fn two_digits(rest: &[u8], at: usize) -> Option<(i64, usize)> {
    digits(rest, at, 2).filter(|(value, end)| end - at == 2 && *value < 60)
}

/// Fraction of a second [ms], cut.
fn fraction(rest: &[u8], at: usize) -> (i64, usize) {
    if !matches!(rest.get(at), Some(b'.' | b',')) {
        return (0, at);
    }
    let (mut ms, mut unit, mut end) = (0, 100, at + 1);
    while let Some(b) = rest.get(end).filter(|b| b.is_ascii_digit()) {
        ms += i64::from(b - b'0') * unit;
        unit /= 10;
        end += 1;
    }
    (ms, end)
}

fn half_day(tail: &[u8]) -> Option<bool> {
    match tail.get(..2)? {
        [b'A' | b'a', b'M' | b'm'] => Some(false),
        [b'P' | b'p', b'M' | b'm'] => Some(true),
        _ => None,
    }
}

/// "Z", "UTC", "+01:00", "+0100" or "+01" [ms].
fn offset(tail: &[u8]) -> Option<i64> {
    if matches!(tail, b"Z" | b"z" | b"UTC") {
        return Some(0);
    }
    let sign = match tail.first()? {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    let (hours, minutes) = match *tail.get(1..)? {
        [a, b] => ([a, b], *b"00"),
        [a, b, c, d] => ([a, b], [c, d]),
        [a, b, b':', c, d] => ([a, b], [c, d]),
        _ => return None,
    };
    let (h, _) = digits(&hours, 0, 2).filter(|(h, end)| *end == 2 && *h <= 14)?;
    let (m, _) = two_digits(&minutes, 0)?;
    Some(sign * (h * 60 + m) * 60_000)
}

/// What a whole column proves about the order of day and month.
#[derive(Debug, Default)]
pub(super) struct Evidence {
    unordered: u64,
    only_day_first: u64,
    only_month_first: u64,
    same: u64,
}

/// Of two contradicting proofs the lesser is taken for damaged cells up to this share of the greater, beyond it for a mixed file.
const DAMAGED_SHARE: f64 = 0.01;

impl Evidence {
    /// One more row; true for the first whose day and month could be exchanged.
    #[inline]
    pub fn add(&mut self, stamp: Stamp) -> bool {
        let Some((a, b)) = stamp.pair() else { return false };
        self.unordered += 1;
        self.only_day_first += u64::from(a > 12);
        self.only_month_first += u64::from(b > 12);
        self.same += u64::from(a == b);
        a != b && self.unordered - self.same == 1
    }

    /// Whether the day stands first; as declared, or as the column proves.
    pub fn day_first(
        &self,
        declared: Option<bool>,
        path: &str,
        column: &str,
        example: &str,
    ) -> Result<bool, IngestError> {
        if let Some(declared) = declared {
            return Ok(declared);
        }
        let (d, m) = (self.only_day_first, self.only_month_first);
        match (d, m) {
            (0, 0) if self.same == self.unordered => Ok(true),
            (0, 0) => Err(IngestError::AmbiguousDates {
                path: path.to_string(),
                column: column.to_string(),
                example: example.split([' ', 'T', ',']).next().unwrap_or(example).to_string(),
            }),
            _ if d.min(m) as f64 <= DAMAGED_SHARE * d.max(m) as f64 => Ok(d > m),
            _ => Err(IngestError::MixedDates {
                path: path.to_string(),
                column: column.to_string(),
                day_first: d,
                month_first: m,
                of: self.unordered,
            }),
        }
    }
}
