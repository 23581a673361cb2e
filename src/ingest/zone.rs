//! Civil times to instants, through both nights when the clocks change.
//!
//! Comes in: the times of one file in the order they stand there, and a zone. Goes out: an instant a row, or none. Spring: a
//! time that the clocks skip does not exist and is refused, not moved. Autumn: the hour that comes twice is told apart
//! by the abbreviation of the zone where the cell has one, else by the order of rows: before the time steps back it is the first
//! pass (summer time), after it the second. An abbreviation means what the plant's zone means by it, else what all zones do.

use super::error::IngestError;
use super::shape::Stamps;
use super::time::{Evidence, Mark, Moment, Order, Place, Reading, Stamp, Year};
use chrono::{DateTime, NaiveDateTime, Offset, TimeZone};
use chrono_tz::{OffsetName, Tz, TzOffset};
use std::sync::Arc;

/// In place of an instant: the clocks skip this time.
pub(super) const SKIPPED: i64 = i64::MIN;
/// In place of an instant: the calendar has no such day.
pub(super) const NO_DAY: i64 = i64::MIN + 1;
/// Any instant is later than this.
pub(super) const NONE_BELOW: i64 = i64::MIN + 2;

/// Offsets change on multiples of this in civil time (every change since 1990 in the zone tables does).
const QUARTER_HOUR_MS: i64 = 900_000;
const MS_PER_DAY: i64 = 86_400_000;
/// Steps of a column looked at to see whether it runs backwards.
const LOOKED_AT: usize = 1000;
/// Times before and after a skipped one by which its step is judged.
const EVEN_STEPS: usize = 2;
/// Months around a time in which the plant's zone is asked for an abbreviation: a year to either side knows all its seasons.
const MONTHS_ASKED: i64 = 12;
const MS_PER_MONTH: i64 = 30 * MS_PER_DAY;
/// Any leap year, to compare days without a year.
const LEAP_YEAR: i64 = 2000;

/// What was doubtful in one file.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(super) struct Doubled {
    /// Times in an hour that comes twice of which the order of rows told which is meant.
    pub told: u64,
    /// Times in such an hour that stands there only once: read as its first pass.
    pub untold: u64,
    /// Times that the clocks skip.
    pub skipped: u64,
    /// The rows run through an hour that the clocks skip in regular steps, and none through an hour twice: a logger that keeps
    /// standard time all year writes so. Nothing was shifted.
    pub keeps_standard_time: bool,
}

#[derive(Clone, Copy)]
enum Offsets {
    One(i64),
    Skipped,
    /// First and second pass [ms].
    Two(i64, i64),
}

/// A zone with the last day, the last quarter of an hour and the last abbreviation looked up.
pub(super) struct Zone {
    tz: Tz,
    /// A civil day, and its offset where it is the same at both of its ends [ms]: no zone has changed twice in a day since 1990.
    day: Option<(i64, Option<i64>)>,
    last: Option<(i64, Offsets)>,
    marked: Option<(Mark, i64, Option<i64>)>,
}

impl Zone {
    pub fn new(tz: Tz) -> Self {
        Self { tz, day: None, last: None, marked: None }
    }

    #[inline]
    fn offsets(&mut self, civil_ms: i64) -> Offsets {
        let day = civil_ms.div_euclid(MS_PER_DAY);
        let of_day = match self.day {
            Some((d, offset)) if d == day => offset,
            _ => {
                let ends = (look_up(self.tz, day * MS_PER_DAY), look_up(self.tz, (day + 1) * MS_PER_DAY));
                let same = match ends {
                    (Offsets::One(a), Offsets::One(b)) if a == b => Some(a),
                    _ => None,
                };
                self.day = Some((day, same));
                same
            }
        };
        if let Some(offset) = of_day {
            return Offsets::One(offset);
        }
        let quarter = civil_ms.div_euclid(QUARTER_HOUR_MS);
        match self.last {
            Some((q, offsets)) if q == quarter => offsets,
            _ => {
                let offsets = look_up(self.tz, quarter * QUARTER_HOUR_MS);
                self.last = Some((quarter, offsets));
                offsets
            }
        }
    }

    /// Offset [ms] that an abbreviation means about a civil time.
    fn meant(&mut self, mark: Mark, civil_ms: i64) -> Option<i64> {
        let day = civil_ms.div_euclid(MS_PER_DAY);
        match self.marked {
            Some((m, d, offset)) if m == mark && d == day => offset,
            _ => {
                let offset = used(self.tz, mark, civil_ms).or(mark.offset_ms());
                self.marked = Some((mark, day, offset));
                offset
            }
        }
    }
}

fn ms(offset: TzOffset) -> i64 {
    i64::from(offset.fix().local_minus_utc()) * 1000
}

fn look_up(tz: Tz, civil_ms: i64) -> Offsets {
    let Some(civil) = DateTime::from_timestamp_millis(civil_ms).map(|t| t.naive_utc()) else { return Offsets::Skipped };
    let local: chrono::MappedLocalTime<TzOffset> = tz.offset_from_local_datetime(&civil as &NaiveDateTime);
    match local {
        chrono::MappedLocalTime::Single(o) => Offsets::One(ms(o)),
        chrono::MappedLocalTime::Ambiguous(first, second) => Offsets::Two(ms(first), ms(second)),
        chrono::MappedLocalTime::None => Offsets::Skipped,
    }
}

/// Offset [ms] for which the zone itself uses an abbreviation, nearest to a civil time.
fn used(tz: Tz, mark: Mark, civil_ms: i64) -> Option<i64> {
    let near = (0..=MONTHS_ASKED).flat_map(|m| [civil_ms + m * MS_PER_MONTH, civil_ms - m * MS_PER_MONTH]);
    let offset = |at: i64| DateTime::from_timestamp_millis(at).map(|t| tz.offset_from_utc_datetime(&t.naive_utc()));
    near.filter_map(offset).find(|o| o.abbreviation() == Some(mark.name())).map(ms)
}

/// An abbreviation that neither the zone nor all zones alike know is an error.
pub(super) fn refuse_ambiguous(tz: Tz, evidence: &Evidence, place: &Place<'_>) -> Result<(), IngestError> {
    // Seasons repeat from year to year: any recent year shows the abbreviations of a zone.
    const RECENT_MS: i64 = 1_772_323_200_000;
    let known = |mark: &Mark| mark.offset_ms().is_some() || used(tz, *mark, RECENT_MS).is_some();
    match evidence.marks().find(|m| !known(m)) {
        None => Ok(()),
        Some(mark) => Err(IngestError::AmbiguousZone {
            path: place.path.to_string(),
            column: place.column.to_string(),
            word: mark.name(),
            timezone: tz.name().to_string(),
        }),
    }
}

/// A time of the doubled hour: where it is, which line it came from.
#[derive(Clone, Copy)]
struct Twice {
    column: usize,
    row: usize,
    line: u32,
    civil: i64,
    offsets: (i64, i64),
}

/// A column's instants, and the line each came from; lines rise. Columns of the same times share them.
pub(super) type Instants = (Arc<Vec<i64>>, Vec<u32>);

/// The instants of each column of times of one file.
pub(super) fn instants(tz: Tz, reading: &Reading, mut columns: Vec<Stamps>) -> (Vec<Instants>, Doubled) {
    let order = reading.order;
    if let Some(year) = reading.year {
        give_years(&mut columns, order, year);
    }
    let backwards = runs_backwards(&columns, order);
    let mut zone = Zone::new(tz);
    let (mut twice, mut doubled, mut skips_evenly) = (Vec::new(), Doubled::default(), false);
    let mut all: Vec<Instants> = Vec::with_capacity(columns.len());
    let mut before: Option<Before> = None;
    for (c, Stamps { stamps, lines }) in columns.into_iter().enumerate() {
        if let Some(same) = before.as_ref().filter(|b| b.stamps == stamps) {
            doubled.skipped += same.skipped;
            let again = |t: &Twice| Twice { column: c, line: lines[t.row], ..*t };
            let again: Vec<Twice> = twice[same.twice.clone()].iter().map(again).collect();
            twice.extend(again);
            all.push((Arc::clone(&same.instants), lines));
            continue;
        }
        let (skipped, first_twice) = (doubled.skipped, twice.len());
        let instant = |(row, stamp): (usize, &Stamp)| match stamp.moment(order) {
            Moment::Instant(ms) => ms,
            Moment::Never => NO_DAY,
            Moment::Marked(civil, mark) => zone.meant(mark, civil).map_or(NO_DAY, |offset| civil - offset),
            Moment::Civil(civil) => match zone.offsets(civil) {
                Offsets::One(offset) => civil - offset,
                Offsets::Skipped => {
                    doubled.skipped += 1;
                    skips_evenly = skips_evenly || is_even(&stamps, row, order);
                    SKIPPED
                }
                Offsets::Two(first, second) => {
                    twice.push(Twice { column: c, row, line: lines[row], civil, offsets: (first, second) });
                    civil - first
                }
            },
        };
        let instants = Arc::new(stamps.iter().enumerate().map(instant).collect());
        let shared = Arc::clone(&instants);
        let (skipped, twice) = (doubled.skipped - skipped, first_twice..twice.len());
        before = Some(Before { stamps, instants: shared, skipped, twice });
        all.push((instants, lines));
    }
    drop(before);
    tell_apart(twice, backwards, &mut all, &mut doubled);
    share(&mut all);
    doubled.keeps_standard_time = skips_evenly && doubled.told == 0;
    (all, doubled)
}

/// A column read, for the next of the same times.
struct Before {
    stamps: Vec<Stamp>,
    instants: Arc<Vec<i64>>,
    skipped: u64,
    twice: std::ops::Range<usize>,
}

/// Columns that were told apart alike share their instants again.
fn share(all: &mut [Instants]) {
    for c in 1..all.len() {
        let (before, rest) = all.split_at_mut(c);
        let (mine, last) = (&mut rest[0].0, &before[c - 1].0);
        if !Arc::ptr_eq(mine, last) && *mine == *last {
            *mine = Arc::clone(last);
        }
    }
}

/// Puts years to times without one. They follow one another in the order of lines; where every column has lines of its own (a block
/// a point), in the order of each column.
fn give_years(columns: &mut [Stamps], order: Order, given: Year) {
    let mut blocks: Vec<(u32, u32)> =
        columns.iter().filter_map(|c| Some((*c.lines.first()?, *c.lines.last()?))).collect();
    blocks.sort_unstable();
    if blocks.windows(2).all(|w| w[0].1 < w[1].0) {
        for column in columns {
            let rows: Vec<(usize, usize)> = (0..column.stamps.len()).map(|r| (0, r)).collect();
            walk(std::slice::from_mut(column), &rows, order, given);
        }
        return;
    }
    let mut rows: Vec<(usize, usize)> =
        columns.iter().enumerate().flat_map(|(c, column)| (0..column.stamps.len()).map(move |r| (c, r))).collect();
    rows.sort_by_key(|(c, r)| columns[*c].lines[*r]);
    walk(columns, &rows, order, given);
}

/// Where times rise, a month before the last one's is of the next year, but for the last month, which is only a row out of order;
/// where the latest rows stand first, the other way round.
fn walk(columns: &mut [Stamps], rows: &[(usize, usize)], order: Order, given: Year) {
    let stamp = |(c, r): &(usize, usize)| columns[*c].stamps[*r];
    let in_one_year: Vec<i64> =
        rows.iter().filter_map(|at| civil(stamp(at).in_year(order, LEAP_YEAR), order)).collect();
    let backwards = is_falling(&in_one_year);
    let mut turn = 0;
    let mut last: Option<i64> = None;
    let mut turns = Vec::with_capacity(rows.len());
    for at in rows {
        if let Some(month) = stamp(at).month_without_year(order) {
            let rise = last.map_or(0, |l| if backwards { l - month } else { month - l });
            let years = match rise {
                ..=-2 => 1,
                10.. => -1,
                _ => 0,
            };
            turn += if backwards { -years } else { years };
            last = Some(month);
        }
        turns.push(turn);
    }
    let first = match given {
        Year::OfFirst(year) => year,
        Year::OfLast(year) => year - turn,
    };
    for ((c, r), turn) in rows.iter().zip(turns) {
        let stamp = &mut columns[*c].stamps[*r];
        *stamp = stamp.in_year(order, first + turn);
    }
}

fn civil(stamp: Stamp, order: Order) -> Option<i64> {
    match stamp.moment(order) {
        Moment::Civil(ms) | Moment::Marked(ms, _) | Moment::Instant(ms) => Some(ms),
        Moment::Never => None,
    }
}

/// Whether the steps before and after a row are all alike.
fn is_even(stamps: &[Stamp], row: usize, order: Order) -> bool {
    let (from, to) = (row.saturating_sub(EVEN_STEPS), (row + EVEN_STEPS + 1).min(stamps.len()));
    let times: Vec<i64> = stamps[from..to].iter().filter_map(|s| civil(*s, order)).collect();
    let step = times.get(1).map_or(0, |t| t - times[0]);
    times.len() == 2 * EVEN_STEPS + 1 && step != 0 && times.windows(2).all(|w| w[1] - w[0] == step)
}

/// Whether the file starts with its latest rows.
fn runs_backwards(columns: &[Stamps], order: Order) -> bool {
    let steps = columns.iter().flat_map(|c| c.stamps.windows(2).take(LOOKED_AT));
    let signs = steps.filter_map(|w| Some((civil(w[1], order)? - civil(w[0], order)?).signum()));
    signs.sum::<i64>() < 0
}

fn is_falling(times: &[i64]) -> bool {
    times.windows(2).map(|w| (w[1] - w[0]).signum()).sum::<i64>() < 0
}

/// Sets the second pass: over all columns in the order of lines where that order steps back once a night, else column by column.
fn tell_apart(mut twice: Vec<Twice>, backwards: bool, all: &mut [Instants], doubled: &mut Doubled) {
    let night = |t: &Twice| t.civil.div_euclid(MS_PER_DAY);
    let order = |t: &Twice| if backwards { -i64::from(t.line) } else { i64::from(t.line) };
    twice.sort_by_key(|t| (night(t), order(t), if backwards { usize::MAX - t.row } else { t.row }));
    for night in twice.chunk_by(|a, b| night(a) == night(b)) {
        let whole: Vec<&Twice> = night.iter().collect();
        if steps_back(&whole) == 1 {
            set_second_pass(&whole, all, doubled);
            continue;
        }
        let mut by_column: Vec<&Twice> = whole;
        by_column.sort_by_key(|t| t.column);
        for column in by_column.chunk_by(|a, b| a.column == b.column) {
            set_second_pass(column, all, doubled);
        }
    }
}

fn steps_back(times: &[&Twice]) -> usize {
    times.windows(2).filter(|w| w[1].civil < w[0].civil).count()
}

/// Which rows are of the second pass: those from where the time steps back on; or, where every time stands there twice in a row
/// (hourly rows, or rows sorted by civil time), the second of each two. `None`: nothing tells.
fn second_pass(times: &[&Twice]) -> Option<Vec<bool>> {
    if let Some(back) = times.windows(2).position(|w| w[1].civil < w[0].civil) {
        return Some((0..times.len()).map(|i| i > back).collect());
    }
    let pairs = times.len().is_multiple_of(2) && times.chunks(2).all(|w| w[0].civil == w[1].civil);
    let distinct = times.chunks(2).map(|w| w[0].civil).is_sorted_by(|a, b| a < b);
    (pairs && distinct).then(|| (0..times.len()).map(|i| i % 2 == 1).collect())
}

/// Whether the rows around these stand there twice too: then twice is no sign of a second pass.
fn all_is_twice(times: &[&Twice], all: &[Instants]) -> bool {
    let rows = || times.iter().map(|t| (t.column, t.row));
    let (Some((c, first)), Some((d, last))) = (rows().min(), rows().max()) else { return false };
    let same = |column: usize, a: Option<usize>, b: Option<usize>| {
        let at = |row: Option<usize>| row.and_then(|r| all[column].0.get(r)).filter(|t| **t >= NONE_BELOW);
        at(a).is_some() && at(a) == at(b)
    };
    same(c, first.checked_sub(1), first.checked_sub(2)) || same(d, Some(last + 1), Some(last + 2))
}

fn set_second_pass(times: &[&Twice], all: &mut [Instants], doubled: &mut Doubled) {
    let steps_back = steps_back(times) > 0;
    let Some(second) = second_pass(times).filter(|_| steps_back || !all_is_twice(times, all)) else {
        doubled.untold += times.len() as u64;
        return;
    };
    doubled.told += times.len() as u64;
    for (t, _) in times.iter().zip(second).filter(|(_, is_second)| *is_second) {
        Arc::make_mut(&mut all[t.column].0)[t.row] = t.civil - t.offsets.1;
    }
}
