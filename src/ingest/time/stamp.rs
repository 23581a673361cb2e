//! A time in eight bytes, as far as its cell says it: order, year and zone may still be open.
//!
//! Lowest 27 bits: milliseconds of the day, so that a time of day is added to the stamp of its date. Then, by the tag on top: days,
//! three numbers, a month and a day; then what the cell says of its zone.

use super::mark::Mark;
use chrono::{Datelike, NaiveDate};

pub(super) const MS_PER_DAY: i64 = 86_400_000;
/// Earlier than any trend log of this kind, and later than this program's clock: outside, a controller had lost its clock.
pub(super) const YEARS: std::ops::RangeInclusive<i64> = 1990..=2099;
/// Two-digit years from here on are of the last century (the first is that of [`YEARS`]).
const LAST_CENTURY: i64 = 90;

const DAY_BITS: u32 = 27;
const DATE_BITS: u32 = 48;
const TAG: u32 = 58;
/// Shift of zero: a civil time whose date is whole.
const CIVIL: i64 = 0;
const INSTANT: i64 = 1;
/// A year and two numbers, day and month in the file's order.
const PAIR: i64 = 2;
/// Three numbers of two digits.
const TRIPLE: i64 = 3;
/// The same, parted by dashes.
const DASHED: i64 = 4;
/// Day and month in the file's order, no year.
const OPEN_YEARLESS: i64 = 5;
/// Day and month.
const YEARLESS: i64 = 6;
const FIRST_YEAR: i64 = 1990;
/// Zone fields from here on are offsets in quarter hours, this being -16 h; below are marks.
const OFFSETS: i64 = 256;
const QUARTER_HOUR_MS: i64 = 900_000;
const MOST_QUARTERS: i64 = 64;

/// A time in eight bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) struct Stamp(pub(super) i64);

/// What a [`Stamp`] holds once the order of its numbers is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) enum Moment {
    /// Civil time [ms since 1970-01-01 00:00 of the same calendar].
    Civil(i64),
    /// The same, with the abbreviation of a zone.
    Marked(i64, Mark),
    /// Instant [ms since 1970, UTC].
    Instant(i64),
    /// No such day, or a day without a year.
    Never,
}

/// How the numbers of a column's dates stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) struct Order {
    /// Where day and month may be exchanged, the day stands first.
    pub day_first: bool,
    /// Of three numbers of two digits, the first is the year, the last the day.
    pub short_year_first: bool,
}

impl From<bool> for Order {
    fn from(day_first: bool) -> Self {
        Self { day_first, short_year_first: false }
    }
}

/// The date of a cell before anything is decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Date {
    Days(i64),
    Pair { year: i64, a: i64, b: i64 },
    Triple { a: i64, b: i64, c: i64, dashed: bool },
    OpenYearless { a: i64, b: i64 },
    Yearless { month: i64, day: i64 },
}

/// What a cell says of its zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Zoned {
    No,
    Offset(i64),
    Mark(Mark),
}

impl Stamp {
    /// A civil time [ms since 1970-01-01 00:00 of the same calendar], as workbooks hold them; `None` out of range.
    pub fn civil(ms: i64) -> Option<Self> {
        in_range(ms).then_some(Self(ms))
    }

    /// An instant [ms since 1970, UTC], as columnar files hold them; `None` out of range.
    pub fn instant(ms: i64) -> Option<Self> {
        in_range(ms).then_some(Self(INSTANT << TAG | ms))
    }

    pub(super) fn new(date: Date, ms: i64, zoned: Zoned) -> Option<Self> {
        if let (Date::Days(days), Zoned::Offset(offset)) = (date, zoned) {
            return Some(Self(INSTANT << TAG | (days * MS_PER_DAY + ms - offset)));
        }
        let (tag, date) = match date {
            Date::Days(days) => (CIVIL, days * MS_PER_DAY),
            Date::Pair { year, a, b } => (PAIR, three(year - FIRST_YEAR, b, a)),
            Date::Triple { a, b, c, dashed } => (if dashed { DASHED } else { TRIPLE }, three(c, b, a)),
            Date::OpenYearless { a, b } => (OPEN_YEARLESS, three(0, b, a)),
            Date::Yearless { month, day } => (YEARLESS, three(0, month, day)),
        };
        let zone = match zoned {
            Zoned::No => 0,
            Zoned::Mark(mark) => i64::from(mark.number()),
            Zoned::Offset(ms) if ms % QUARTER_HOUR_MS == 0 => OFFSETS + MOST_QUARTERS + ms / QUARTER_HOUR_MS,
            Zoned::Offset(_) => return None,
        };
        Some(Self(tag << TAG | zone << DATE_BITS | (date + ms)))
    }

    fn tag(self) -> i64 {
        self.0 >> TAG
    }

    fn zone(self) -> i64 {
        self.0 >> DATE_BITS & ((1 << (TAG - DATE_BITS)) - 1)
    }

    /// Nothing is open in it: neither order nor year nor zone.
    #[inline]
    pub(super) fn is_whole(self) -> bool {
        self.0 >> DATE_BITS == 0 || self.0 >> TAG == INSTANT
    }

    pub(super) fn mark(self) -> Option<Mark> {
        u8::try_from(self.zone()).ok().and_then(Mark::from_number)
    }

    /// The stamp without its time of day; of a whole date, with it.
    pub(super) fn date_bits(self) -> i64 {
        if self.tag() <= INSTANT { self.0 >> DATE_BITS } else { self.0 >> DAY_BITS }
    }

    pub(super) fn ms_of_day(self) -> i64 {
        self.0 & ((1 << DAY_BITS) - 1)
    }

    pub(super) fn is_triple(self) -> bool {
        matches!(self.tag(), TRIPLE | DASHED)
    }

    pub(super) fn is_dashed(self) -> bool {
        self.tag() == DASHED
    }

    pub(super) fn is_yearless(self) -> bool {
        matches!(self.tag(), OPEN_YEARLESS | YEARLESS)
    }

    /// Day and month may be exchanged, or the year may stand at either end.
    pub(super) fn is_open(self) -> bool {
        matches!(self.tag(), PAIR | TRIPLE | DASHED | OPEN_YEARLESS)
    }

    fn numbers(self) -> (i64, i64, i64) {
        let n = |shift: u32| self.0 >> (DAY_BITS + shift) & 0x7f;
        (n(0), n(7), self.0 >> (DAY_BITS + 14) & 0x7f)
    }

    /// Year (0: none), month and day of a date that is not whole.
    fn parts(self, order: Order) -> (i64, i64, i64) {
        let (a, b, c) = self.numbers();
        let (day, month) = if order.day_first { (a, b) } else { (b, a) };
        match self.tag() {
            YEARLESS => (0, b, a),
            OPEN_YEARLESS => (0, month, day),
            PAIR => ((self.0 >> (DAY_BITS + 14) & 0x7f) + FIRST_YEAR, month, day),
            _ if order.short_year_first => (century(a), b, c),
            _ => (century(c), month, day),
        }
    }

    /// Days since 1970 of a date that is open, in one order; a date without a year as in a leap year.
    pub(super) fn days(self, order: Order) -> Option<i64> {
        let (year, month, day) = self.parts(order);
        days(if year == 0 { 2000 } else { year }, month, day)
    }

    /// Month of a date without a year.
    pub fn month_without_year(self, order: impl Into<Order>) -> Option<i64> {
        self.is_yearless().then(|| self.parts(order.into()).1)
    }

    /// The same time in a year; unchanged where that year has no such day.
    pub fn in_year(self, order: impl Into<Order>, year: i64) -> Self {
        if !self.is_yearless() || !YEARS.contains(&year) {
            return self;
        }
        let (_, month, day) = self.parts(order.into());
        let Some(days) = days(year, month, day) else { return self };
        let civil = days * MS_PER_DAY + self.ms_of_day();
        match self.zone() {
            zone if zone >= OFFSETS => Self(INSTANT << TAG | (civil - offset_of(zone))),
            zone => Self(zone << DATE_BITS | civil),
        }
    }

    /// The time, the order of its numbers known.
    #[inline]
    pub fn moment(self, order: impl Into<Order>) -> Moment {
        let civil = match self.tag() {
            CIVIL => self.0 & ((1 << DATE_BITS) - 1),
            INSTANT => return Moment::Instant(self.0 & ((1 << DATE_BITS) - 1)),
            OPEN_YEARLESS | YEARLESS => return Moment::Never,
            _ => match self.days(order.into()) {
                Some(days) => days * MS_PER_DAY + self.ms_of_day(),
                None => return Moment::Never,
            },
        };
        match self.zone() {
            0 => Moment::Civil(civil),
            zone if zone >= OFFSETS => Moment::Instant(civil - offset_of(zone)),
            _ => self.mark().map_or(Moment::Never, |mark| Moment::Marked(civil, mark)),
        }
    }
}

fn offset_of(zone: i64) -> i64 {
    (zone - OFFSETS - MOST_QUARTERS) * QUARTER_HOUR_MS
}

fn three(c: i64, b: i64, a: i64) -> i64 {
    (c << 14 | b << 7 | a) << DAY_BITS
}

/// Whether an instant or civil time lies in [`YEARS`], a day more at either end for offsets.
fn in_range(ms: i64) -> bool {
    let ends = (days(*YEARS.start(), 1, 1), days(*YEARS.end(), 12, 31));
    matches!(ends, (Some(from), Some(to)) if (from - 1..=to + 2).contains(&ms.div_euclid(MS_PER_DAY)))
}

/// The year of two digits.
pub(super) fn century(short: i64) -> i64 {
    if short >= LAST_CENTURY { 1900 + short } else { 2000 + short }
}

/// Days since 1970; `None` where the calendar or [`YEARS`] has no such day.
pub(super) fn days(year: i64, month: i64, day: i64) -> Option<i64> {
    if !YEARS.contains(&year) {
        return None;
    }
    let date =
        NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, u32::try_from(month).ok()?, u32::try_from(day).ok()?)?;
    Some(i64::from(date.num_days_from_ce()) - 719_163)
}
