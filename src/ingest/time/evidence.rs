//! What a whole column proves about the order of its dates' numbers.
//!
//! First what the calendar allows: no day is above 31, no month above 12. Where that leaves two readings, how the times run: the
//! step over midnight is about the step before it under the true reading, and months or years under the other. Nothing else
//! settles an order; what is left is the person's to say.

use super::super::error::IngestError;
use super::mark::Mark;
use super::stamp::{MS_PER_DAY, Order, Stamp};

/// Of two contradicting proofs the lesser is taken for damaged cells up to this share of the greater, beyond it for a mixed file.
const DAMAGED_SHARE: f64 = 0.01;
/// Midnights that must be crossed evenly before the course of the times settles day and month: three days in a row.
const EVEN_MIDNIGHTS: u64 = 2;
/// The same for the end at which the year stands: the other reading jumps by a year.
const EVEN_MIDNIGHTS_OF_YEARS: u64 = 1;
/// Of all changes of the date, so many must be crossed evenly [share].
const EVEN_SHARE: f64 = 0.8;
/// A step over midnight up to this many times the step before it is even.
const EVEN_STEPS: i64 = 2;

const ORDERS: [Order; 3] = [
    Order { day_first: true, short_year_first: false },
    Order { day_first: false, short_year_first: false },
    Order { day_first: true, short_year_first: true },
];
const DAY: usize = 0;
const MONTH: usize = 1;
const YEAR: usize = 2;
/// Classes of dates: a bit for each order that the calendar allows, and these.
const SHORT: usize = 8;
const SAME: usize = 16;
const CLASSES: usize = 32;

/// The year that a column without years is given, and the row it belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) enum Year {
    /// Of the first row of the file.
    OfFirst(i64),
    /// Of the last row, as where a preamble says when a rising file was exported.
    OfLast(i64),
}

/// What is known from elsewhere.
#[derive(Debug, Clone, Copy, Default)]
pub(in super::super) struct Told {
    /// As the plant file declares it.
    pub day_first: Option<bool>,
    /// From the preamble or the file's name.
    pub year: Option<Year>,
}

/// How a column is to be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) struct Reading {
    pub order: Order,
    /// For dates without a year.
    pub year: Option<Year>,
    /// Midnights that the times cross evenly in this order and not in the other, where only that settled it.
    pub settled_by_midnights: Option<u64>,
}

impl Reading {
    /// What a notice may say: how an order that no date settles was found.
    pub fn why(&self) -> Option<String> {
        let midnights = self.settled_by_midnights?;
        let (order, other) = match self.order {
            Order { short_year_first: true, .. } => ("with the year first", "years"),
            Order { day_first: true, .. } => ("day-first", "months"),
            Order { day_first: false, .. } => ("month-first", "months"),
        };
        Some(format!(
            "dates were read {order}: so the times run on evenly over {midnights} midnights, otherwise they jump by {other}"
        ))
    }
}

/// Where a column stands, for errors.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Place<'a> {
    pub path: &'a str,
    pub column: &'a str,
    pub example: &'a str,
}

impl Place<'_> {
    fn date(&self) -> String {
        self.example.split([' ', 'T', ',']).next().unwrap_or(self.example).to_string()
    }
}

/// The last row seen, and its step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Course {
    stamp: Option<Stamp>,
    /// The last step within one day [ms]; none since the date changed.
    step: Option<i64>,
}

/// What a whole column proves.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub(in super::super) struct Evidence {
    counts: [u64; CLASSES],
    dashed: u64,
    yearless: bool,
    /// A bit for each abbreviation of a zone.
    marks: u64,
    /// Of the date of the last row.
    class: usize,
    last: Course,
    /// The first row, and the first change of the date where the step before it lies before the first row.
    first: Option<Stamp>,
    head: Option<(Stamp, Stamp)>,
    changed: bool,
    /// Changes of the date with a step before them, and those that each order crosses evenly.
    midnights: u64,
    even: [u64; 3],
}

impl Evidence {
    /// One more row; true for the first whose day and month could be exchanged.
    #[inline]
    pub fn add(&mut self, stamp: Stamp) -> bool {
        if stamp.is_whole() {
            return false;
        }
        self.add_open(stamp)
    }

    fn add_open(&mut self, stamp: Stamp) -> bool {
        if !stamp.is_open() {
            self.note(stamp);
            return false;
        }
        let last = self.last.stamp;
        if last.is_none_or(|l| l.date_bits() != stamp.date_bits()) {
            self.note(stamp);
            let class = class(stamp);
            // A date in no order: it is no step of the course.
            if class == 0 {
                return false;
            }
            self.class = class;
            self.new_date(stamp);
        }
        self.dashed += u64::from(stamp.is_dashed());
        let first_exchangeable = self.class & SAME == 0 && !self.has_exchangeable();
        self.counts[self.class] += 1;
        self.step_to(stamp);
        first_exchangeable
    }

    /// Whether a row was met whose day and month could be exchanged.
    pub fn has_exchangeable(&self) -> bool {
        self.counts[1..SAME].iter().any(|n| *n > 0)
    }

    fn step_to(&mut self, stamp: Stamp) {
        if let Some(last) = self.last.stamp.filter(|l| l.date_bits() == stamp.date_bits()) {
            let step = stamp.ms_of_day() - last.ms_of_day();
            if step != 0 {
                self.last.step = Some(step);
            }
        }
        self.last.stamp = Some(stamp);
    }

    fn note(&mut self, stamp: Stamp) {
        self.yearless |= stamp.is_yearless();
        self.marks |= stamp.mark().map_or(0, |m| 1 << m.number());
    }

    fn new_date(&mut self, stamp: Stamp) {
        match self.last.stamp {
            None => self.first = Some(stamp),
            Some(last) => {
                if !self.changed && self.last.step.is_none() {
                    self.head = Some((last, stamp));
                }
                self.changed = true;
                self.cross(last, stamp);
            }
        }
        self.last.step = None;
    }

    /// A change of the date, with the step before it.
    fn cross(&mut self, from: Stamp, to: Stamp) {
        let Some(step) = self.last.step else { return };
        self.midnights += 1;
        for (even, order) in self.even.iter_mut().zip(ORDERS) {
            let (Some(a), Some(b)) = (from.days(order), to.days(order)) else { continue };
            let over = (b - a) * MS_PER_DAY + to.ms_of_day() - from.ms_of_day();
            *even += u64::from(over.signum() == step.signum() && over.abs() <= EVEN_STEPS * step.abs());
        }
    }

    /// Adds what the rows after these prove: the same as if they had been added one by one.
    pub fn merge(&mut self, later: &Self) {
        self.counts.iter_mut().zip(later.counts).for_each(|(a, b)| *a += b);
        (self.dashed, self.marks) = (self.dashed + later.dashed, self.marks | later.marks);
        (self.yearless, self.midnights) = (self.yearless | later.yearless, self.midnights + later.midnights);
        self.even.iter_mut().zip(later.even).for_each(|(a, b)| *a += b);
        let Some(first) = later.first else { return };
        self.class = later.class;
        let Some(last) = self.last.stamp else {
            (self.first, self.head, self.changed, self.last) = (later.first, later.head, later.changed, later.last);
            return;
        };
        if last.date_bits() != first.date_bits() {
            if !self.changed && self.last.step.is_none() {
                self.head = Some((last, first));
            }
            self.changed = true;
            self.cross(last, first);
            self.last.step = None;
        } else {
            self.step_to(first);
        }
        if let Some((from, to)) = later.head {
            if !self.changed && self.last.step.is_none() {
                self.head = Some((from, to));
            }
            self.cross(from, to);
        }
        let step = if later.changed { later.last.step } else { later.last.step.or(self.last.step) };
        self.changed |= later.changed;
        self.last = Course { stamp: later.last.stamp, step };
    }

    /// Abbreviations of zones that the column uses.
    pub fn marks(&self) -> impl Iterator<Item = Mark> + '_ {
        (1..64).filter(|n| self.marks >> n & 1 == 1).filter_map(Mark::from_number)
    }

    /// Rows of the classes that `is` picks.
    fn rows(&self, is: impl Fn(usize) -> bool) -> u64 {
        (1..CLASSES).filter(|c| is(*c)).map(|c| self.counts[c]).sum()
    }

    /// How the column is to be read; as told, as the calendar proves, or as the times run.
    pub fn reading(&self, told: &Told, place: &Place<'_>) -> Result<Reading, IngestError> {
        if self.yearless && told.year.is_none() {
            return Err(IngestError::NoYear {
                path: place.path.to_string(),
                column: place.column.to_string(),
                example: place.example.to_string(),
            });
        }
        let year = told.year.filter(|_| self.yearless);
        if let Some(midnights) = self.short_year_first(told, place)? {
            // Dates of four-digit years beside them are few; they follow the declaration.
            let day_first = told.day_first.unwrap_or(true);
            let order = Order { day_first, short_year_first: true };
            return Ok(Reading { order, year, settled_by_midnights: midnights });
        }
        let (day_first, settled_by_midnights) = self.day_first(told.day_first, place)?;
        Ok(Reading { order: day_first.into(), year, settled_by_midnights })
    }

    /// Whether dates of three two-digit numbers begin with their year; with the midnights that show it.
    fn short_year_first(&self, told: &Told, place: &Place<'_>) -> Result<Option<Option<u64>>, IngestError> {
        let short = self.rows(|c| c & SHORT != 0);
        let refuted = |order: usize| {
            let rows = self.rows(|c| c & SHORT != 0 && c & (1 << order) == 0);
            rows as f64 > DAMAGED_SHARE * short as f64
        };
        if short == 0 || refuted(YEAR) {
            return Ok(None);
        }
        let last_refuted = match told.day_first {
            Some(true) => refuted(DAY),
            Some(false) => refuted(MONTH),
            None => refuted(DAY) && refuted(MONTH),
        };
        if last_refuted {
            return Ok(Some(None));
        }
        let even = |order: usize| self.runs_evenly(order, EVEN_MIDNIGHTS_OF_YEARS);
        if self.even[DAY] == 0 && self.even[MONTH] == 0 && even(YEAR) {
            return Ok(Some(Some(self.even[YEAR])));
        }
        let year_last = self.even[YEAR] == 0 && (even(DAY) || even(MONTH));
        // With dots and slashes two digits of a year stand last (common practice, no source).
        if year_last || told.day_first.is_some() || self.dashed == 0 {
            return Ok(None);
        }
        Err(IngestError::AmbiguousYears {
            path: place.path.to_string(),
            column: place.column.to_string(),
            example: place.date(),
        })
    }

    fn runs_evenly(&self, order: usize, least: u64) -> bool {
        self.even[order] >= least && self.even[order] as f64 >= EVEN_SHARE * self.midnights as f64
    }

    /// Whether the day stands first, and the midnights that show it where nothing else does.
    fn day_first(&self, declared: Option<bool>, place: &Place<'_>) -> Result<(bool, Option<u64>), IngestError> {
        if let Some(declared) = declared {
            return Ok((declared, None));
        }
        let may = |c: usize, order: usize| c & (1 << order) != 0;
        let d = self.rows(|c| may(c, DAY) && !may(c, MONTH));
        let m = self.rows(|c| may(c, MONTH) && !may(c, DAY));
        match (d, m) {
            (0, 0) if !self.has_exchangeable() => Ok((true, None)),
            (0, 0) => match (self.even[DAY], self.even[MONTH]) {
                (midnights, 0) if self.runs_evenly(DAY, EVEN_MIDNIGHTS) => Ok((true, Some(midnights))),
                (0, midnights) if self.runs_evenly(MONTH, EVEN_MIDNIGHTS) => Ok((false, Some(midnights))),
                _ => Err(IngestError::AmbiguousDates {
                    path: place.path.to_string(),
                    column: place.column.to_string(),
                    example: place.date(),
                }),
            },
            _ if d.min(m) as f64 <= DAMAGED_SHARE * d.max(m) as f64 => Ok((d > m, None)),
            _ => Err(IngestError::MixedDates {
                path: place.path.to_string(),
                column: place.column.to_string(),
                day_first: d,
                month_first: m,
                of: self.rows(|_| true),
            }),
        }
    }
}

/// The class of an open date.
fn class(stamp: Stamp) -> usize {
    let may = |order: usize| usize::from(stamp.days(ORDERS[order]).is_some()) << order;
    let (day, month) = (may(DAY), may(MONTH));
    let same = day != 0 && month != 0 && stamp.days(ORDERS[DAY]) == stamp.days(ORDERS[MONTH]);
    let same = if same { SAME } else { 0 };
    if stamp.is_triple() { day | month | may(YEAR) | SHORT | same } else { day | month | same }
}
