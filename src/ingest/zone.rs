//! Civil times to instants, through both nights when the clocks change.
//!
//! Comes in: the times of one file in the order they stand there, and a zone. Goes out: an instant a row, or none. Spring: a
//! time that the clocks skip does not exist and is refused, not moved. Autumn: the hour that comes twice is told apart
//! by the order of rows: before the time steps back it is the first pass (summer time), after it the second.

use super::shape::Stamps;
use super::time::{Moment, Stamp};
use chrono::{DateTime, NaiveDateTime, Offset, TimeZone};
use chrono_tz::Tz;

/// In place of an instant: the clocks skip this time.
pub(super) const SKIPPED: i64 = i64::MIN;
/// In place of an instant: the calendar has no such day.
pub(super) const NO_DAY: i64 = i64::MIN + 1;
/// Any instant is later than this.
pub(super) const NONE_BELOW: i64 = i64::MIN + 2;

/// Offsets change on multiples of this in civil time (every change since 1990 in the zone tables does).
const QUARTER_HOUR_MS: i64 = 900_000;
/// Steps of a column looked at to see whether it runs backwards.
const LOOKED_AT: usize = 1000;

/// What was doubtful in one file.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(super) struct Doubled {
    /// Times in an hour that comes twice of which the order of rows told which is meant.
    pub told: u64,
    /// Times in such an hour that stands there only once: read as its first pass.
    pub untold: u64,
}

#[derive(Clone, Copy)]
enum Offsets {
    One(i64),
    Skipped,
    /// First and second pass [ms].
    Two(i64, i64),
}

/// A zone with the last quarter of an hour looked up.
pub(super) struct Zone {
    tz: Tz,
    last: Option<(i64, Offsets)>,
}

impl Zone {
    pub fn new(tz: Tz) -> Self {
        Self { tz, last: None }
    }

    fn offsets(&mut self, civil_ms: i64) -> Offsets {
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
}

fn look_up(tz: Tz, civil_ms: i64) -> Offsets {
    let Some(civil) = DateTime::from_timestamp_millis(civil_ms).map(|t| t.naive_utc()) else { return Offsets::Skipped };
    let ms = |o: chrono_tz::TzOffset| i64::from(o.fix().local_minus_utc()) * 1000;
    let local: chrono::MappedLocalTime<chrono_tz::TzOffset> = tz.offset_from_local_datetime(&civil as &NaiveDateTime);
    match local {
        chrono::MappedLocalTime::Single(o) => Offsets::One(ms(o)),
        chrono::MappedLocalTime::Ambiguous(first, second) => Offsets::Two(ms(first), ms(second)),
        chrono::MappedLocalTime::None => Offsets::Skipped,
    }
}

/// A time of the doubled hour: where it is, which line it came from.
struct Twice {
    column: usize,
    row: usize,
    line: u32,
    civil: i64,
    offsets: (i64, i64),
}

/// A column's instants, and the line each came from; lines rise.
pub(super) type Instants = (Vec<i64>, Vec<u32>);

/// The instants of each column of times of one file.
pub(super) fn instants(tz: Tz, day_first: bool, columns: Vec<Stamps>) -> (Vec<Instants>, Doubled) {
    let backwards = runs_backwards(&columns, day_first);
    let mut zone = Zone::new(tz);
    let mut twice = Vec::new();
    let mut all = Vec::with_capacity(columns.len());
    for (c, Stamps { stamps, lines }) in columns.into_iter().enumerate() {
        let instant = |(row, stamp): (usize, Stamp)| match stamp.moment(day_first) {
            Moment::Instant(ms) => ms,
            Moment::Never => NO_DAY,
            Moment::Civil(civil) => match zone.offsets(civil) {
                Offsets::One(offset) => civil - offset,
                Offsets::Skipped => SKIPPED,
                Offsets::Two(first, second) => {
                    twice.push(Twice { column: c, row, line: lines[row], civil, offsets: (first, second) });
                    civil - first
                }
            },
        };
        let instants = stamps.into_iter().enumerate().map(instant).collect();
        all.push((instants, lines));
    }
    let doubled = tell_apart(twice, backwards, &mut all);
    (all, doubled)
}

/// Whether the file starts with its latest rows.
fn runs_backwards(columns: &[Stamps], day_first: bool) -> bool {
    let civil = |s: &Stamp| match s.moment(day_first) {
        Moment::Civil(ms) | Moment::Instant(ms) => ms,
        Moment::Never => 0,
    };
    let (mut down, mut up) = (0usize, 0usize);
    for column in columns {
        for pair in column.stamps.windows(2).take(LOOKED_AT) {
            let (a, b) = (civil(&pair[0]), civil(&pair[1]));
            down += usize::from(b < a);
            up += usize::from(b > a);
        }
    }
    down > up
}

/// Sets the second pass: over all columns in the order of lines where that order steps back once a night, else column by column.
fn tell_apart(mut twice: Vec<Twice>, backwards: bool, all: &mut [(Vec<i64>, Vec<u32>)]) -> Doubled {
    let order = |t: &Twice| if backwards { -i64::from(t.line) } else { i64::from(t.line) };
    twice.sort_by_key(|t| {
        (t.civil.div_euclid(86_400_000), order(t), if backwards { usize::MAX - t.row } else { t.row })
    });
    let mut doubled = Doubled::default();
    for night in twice.chunk_by(|a, b| a.civil.div_euclid(86_400_000) == b.civil.div_euclid(86_400_000)) {
        let whole: Vec<&Twice> = night.iter().collect();
        if steps_back(&whole) == 1 {
            set_second_pass(&whole, all, &mut doubled);
            continue;
        }
        let mut by_column: Vec<&Twice> = whole;
        by_column.sort_by_key(|t| t.column);
        for column in by_column.chunk_by(|a, b| a.column == b.column) {
            set_second_pass(column, all, &mut doubled);
        }
    }
    doubled
}

fn steps_back(times: &[&Twice]) -> usize {
    times.windows(2).filter(|w| w[1].civil < w[0].civil).count()
}

/// The first row of the second pass: where the time steps back, or, of just two equal times of hourly rows, the second.
fn second_pass(times: &[&Twice]) -> Option<usize> {
    let back = times.windows(2).position(|w| w[1].civil < w[0].civil).map(|i| i + 1);
    let hourly = times.len() == 2 && times[0].civil == times[1].civil;
    back.or(hourly.then_some(1))
}

fn set_second_pass(times: &[&Twice], all: &mut [(Vec<i64>, Vec<u32>)], doubled: &mut Doubled) {
    let Some(second) = second_pass(times) else {
        doubled.untold += times.len() as u64;
        return;
    };
    doubled.told += times.len() as u64;
    for t in &times[second..] {
        all[t.column].0[t.row] = t.civil - t.offsets.1;
    }
}
