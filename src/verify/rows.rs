//! From a record at any interval to whole local days, and to the hours of those days.
//!
//! A day counts when nine tenths of its energy is there; its energy is then scaled to the whole day. A driver is known on a day when three quarters of it are
//! there. Days that the clocks make 23 or 25 hours long are taken as long as they are.

use super::Record;
use crate::plant::local_to_utc;
use chrono::{DateTime, Datelike, NaiveDate, NaiveTime, Timelike};
use chrono_tz::Tz;

/// Share of a day's or an hour's energy readings that must be there (common practice, no source) [-].
pub const LEAST_ENERGY: f64 = 0.9;
/// Share of a driver's readings that must be there: a mean of temperatures bears more holes than a sum of energy (common practice, no source) [-].
pub const LEAST_DRIVER: f64 = 0.75;
/// How a holiday is counted: as a Sunday (common practice, no source).
const SUNDAY: usize = 6;
const HOUR_MS: i64 = 3_600_000;

/// A whole day, or an hour of one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Days since 1970 on the site's calendar.
    pub day: i64,
    /// Monday is 0; a holiday counts as 6.
    pub weekday: usize,
    /// Hour of the local day; 0 for a day.
    pub hour: usize,
    /// Energy of the row [kWh].
    pub energy_kwh: f64,
    /// Mean outdoor temperature [degC]; NaN unknown.
    pub outdoor_c: f64,
    /// Mean load [kW]; NaN unknown.
    pub load_kw: f64,
}

/// A day with its bounds and hours.
#[derive(Debug, Clone)]
pub(super) struct Day {
    pub row: Row,
    /// Local midnight, and the next one [ms since 1970, UTC].
    pub from_ms: i64,
    pub to_ms: i64,
    /// Its hours of which energy is known; none where the record is coarser than an hour.
    pub hours: Vec<Row>,
}

/// A sum and a mean in the making.
#[derive(Clone, Copy, Default)]
struct Tally {
    energy: (f64, f64),
    outdoor: (f64, f64),
    load: (f64, f64),
}

impl Tally {
    fn add(&mut self, energy: f64, outdoor: f64, load: f64) {
        for (into, v) in [(&mut self.energy, energy), (&mut self.outdoor, outdoor), (&mut self.load, load)] {
            if v.is_finite() {
                *into = (into.0 + v, into.1 + 1.0);
            }
        }
    }

    fn row(&self, expected: f64, day: i64, weekday: usize, hour: usize) -> Row {
        let mean = |(sum, n): (f64, f64)| if n >= LEAST_DRIVER * expected { sum / n } else { f64::NAN };
        let (energy, n) = self.energy;
        let energy_kwh = if n > 0.0 && n >= LEAST_ENERGY * expected { energy * expected.max(n) / n } else { f64::NAN };
        Row { day, weekday, hour, energy_kwh, outdoor_c: mean(self.outdoor), load_kw: mean(self.load) }
    }
}

/// The days on which anything stands, in order; energy and drivers NaN where too much is missing.
pub(super) fn days(record: &Record) -> Vec<Day> {
    let at = |column: &[f64], i: usize| column.get(i).copied().unwrap_or(f64::NAN);
    let hourly = record.interval_ms <= HOUR_MS;
    let mut days: Vec<Day> = Vec::new();
    let mut whole = Tally::default();
    let mut part = Tally::default();
    let mut hour = None;
    for (i, ms) in record.time_ms.iter().enumerate() {
        let Some(local) = DateTime::from_timestamp_millis(*ms).map(|t| t.with_timezone(&record.timezone)) else {
            continue;
        };
        let date = local.date_naive();
        if days.last().is_none_or(|d| *ms >= d.to_ms) {
            close_hour(&mut days, &mut part, &mut hour, record);
            close_day(&mut days, &mut whole, record);
            days.push(open(date, record));
        }
        let this = (local.hour() as usize, ms.div_euclid(HOUR_MS / 4) - i64::from(local.minute() / 15));
        if hourly && hour != Some(this) {
            close_hour(&mut days, &mut part, &mut hour, record);
            hour = Some(this);
        }
        let (energy, outdoor, load) = (at(record.energy_kwh, i), at(record.outdoor_c, i), at(record.load_kw, i));
        whole.add(energy, outdoor, load);
        part.add(energy, outdoor, load);
    }
    close_hour(&mut days, &mut part, &mut hour, record);
    close_day(&mut days, &mut whole, record);
    days
}

fn open(date: NaiveDate, record: &Record) -> Day {
    let midnight = |d: NaiveDate| local_to_utc(record.timezone, d.and_time(NaiveTime::MIN)).0.timestamp_millis();
    let weekday = if record.holidays.contains(&date) { SUNDAY } else { date.weekday().num_days_from_monday() as usize };
    let day = i64::from(date.num_days_from_ce()) - 719_163;
    let row = Row { day, weekday, hour: 0, energy_kwh: f64::NAN, outdoor_c: f64::NAN, load_kw: f64::NAN };
    Day { row, from_ms: midnight(date), to_ms: date.succ_opt().map_or(i64::MAX, midnight), hours: Vec::new() }
}

fn close_hour(days: &mut [Day], part: &mut Tally, hour: &mut Option<(usize, i64)>, record: &Record) {
    if let (Some(day), Some((h, _))) = (days.last_mut(), hour.take()) {
        let expected = (HOUR_MS as f64 / record.interval_ms as f64).max(1.0);
        let row = part.row(expected, day.row.day, day.row.weekday, h);
        if row.energy_kwh.is_finite() {
            day.hours.push(row);
        }
    }
    *part = Tally::default();
}

fn close_day(days: &mut [Day], whole: &mut Tally, record: &Record) {
    if let Some(day) = days.last_mut() {
        let expected = ((day.to_ms.saturating_sub(day.from_ms)) as f64 / record.interval_ms as f64).round().max(1.0);
        day.row = whole.row(expected, day.row.day, day.row.weekday, 0);
    }
    *whole = Tally::default();
}

/// The day on the site's calendar, counted from any first one; none outside the calendar.
pub(super) fn local_day(ms: i64, timezone: Tz) -> Option<i64> {
    let local = DateTime::from_timestamp_millis(ms)?.with_timezone(&timezone);
    Some(i64::from(local.date_naive().num_days_from_ce()))
}

/// Of at least one value.
pub(super) fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    if values.len() % 2 == 1 { values[middle] } else { 0.5 * (values[middle - 1] + values[middle]) }
}
