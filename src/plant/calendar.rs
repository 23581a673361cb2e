//! Local time, the schedule, and which settings stood when.

use super::{Control, Plant, Schedule};
use chrono::{DateTime, Datelike, LocalResult, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;

/// A local time as an instant. In an autumn hour that occurs twice it is the first; in a spring hour that is skipped it
/// is read with the offset before the gap. The second value says which: `true` where the clock said this just once.
#[must_use]
pub fn local_to_utc(timezone: Tz, local: NaiveDateTime) -> (DateTime<Utc>, bool) {
    match timezone.from_local_datetime(&local) {
        LocalResult::Single(t) => (t.with_timezone(&Utc), true),
        LocalResult::Ambiguous(first, _) => (first.with_timezone(&Utc), false),
        LocalResult::None => (after_gap(timezone, local), false),
    }
}

/// No zone has ever skipped more than a day, so a day and an hour before a gap there is an offset to read with.
fn after_gap(timezone: Tz, local: NaiveDateTime) -> DateTime<Utc> {
    let step = TimeDelta::hours(25);
    let before = local.checked_sub_signed(step).and_then(|t| timezone.from_local_datetime(&t).latest());
    before.and_then(|t| t.with_timezone(&Utc).checked_add_signed(step)).unwrap_or_else(|| local.and_utc())
}

impl Plant {
    /// An instant [ms since 1970, UTC] on the site's clock. Instants outside the years 1 to 9999 are held at their ends.
    #[must_use]
    pub fn local(&self, ms: i64) -> DateTime<Tz> {
        const YEAR_1: i64 = -62_100_000_000_000;
        const YEAR_9999: i64 = 253_300_000_000_000;
        let instant = DateTime::from_timestamp_millis(ms.clamp(YEAR_1, YEAR_9999)).unwrap_or_default();
        instant.with_timezone(&self.site.timezone)
    }

    /// The settings that stood at an instant [ms since 1970, UTC].
    #[must_use]
    pub fn control_at(&self, ms: i64) -> &Control {
        let earlier = self.control_history.iter().find(|(until, _)| ms < until.timestamp_millis());
        earlier.map_or(&self.control, |(_, control)| control)
    }

    /// Whether the loop is meant to run at an instant [ms since 1970, UTC]. Without a schedule: always. A run that
    /// goes past midnight belongs to the day it began on, holidays included.
    #[must_use]
    pub fn scheduled(&self, ms: i64) -> bool {
        self.scheduled_at(self.local(ms).naive_local())
    }

    /// [`Plant::scheduled`] for a time on the site's clock: for whoever has it already.
    #[must_use]
    pub fn scheduled_at(&self, local: NaiveDateTime) -> bool {
        if self.schedule.is_empty() {
            return true;
        }
        let (today, time) = (local.date(), local.time());
        self.schedule.iter().any(|s| {
            let wraps = s.to <= s.from;
            let began_today = self.applies(s, Some(today)) && time >= s.from && (wraps || time < s.to);
            let began_yesterday = wraps && time < s.to && self.applies(s, today.pred_opt());
            began_today || began_yesterday
        })
    }

    fn applies(&self, schedule: &Schedule, day: Option<NaiveDate>) -> bool {
        day.is_some_and(|d| {
            schedule.days[d.weekday().num_days_from_monday() as usize] && !self.site.holidays.contains(&d)
        })
    }
}

/// Reads "2026-02-11 19:00", with or without seconds, `T` or a time at all.
pub(super) fn date_time(written: &str) -> Option<NaiveDateTime> {
    let text = written.trim().replacen('T', " ", 1);
    let full = ["%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M"];
    let read = full.iter().find_map(|f| NaiveDateTime::parse_from_str(&text, f).ok());
    let read = read.or_else(|| date(&text).map(|d| d.and_time(NaiveTime::MIN)));
    read.filter(|t| (1900..=2200).contains(&t.year()))
}

/// Reads "2026-01-01".
pub(super) fn date(written: &str) -> Option<NaiveDate> {
    NaiveDate::parse_from_str(written.trim(), "%Y-%m-%d").ok().filter(|d| (1900..=2200).contains(&d.year()))
}

/// Reads "06:00"; "24:00" is midnight at the end of the day, given back as 00:00 with `true`.
pub(super) fn time_of_day(written: &str) -> Option<(NaiveTime, bool)> {
    let text = written.trim();
    if matches!(text, "24:00" | "24:00:00") {
        return Some((NaiveTime::MIN, true));
    }
    let read = ["%H:%M", "%H:%M:%S"].iter().find_map(|f| NaiveTime::parse_from_str(text, f).ok());
    read.map(|t| (t, false))
}

/// Reads "mon-fri", "sat, sun", "daily", "weekdays", "weekends"; Monday first.
pub(super) fn days(written: &str) -> Option<[bool; 7]> {
    let mut days = [false; 7];
    for part in written.to_lowercase().split([',', ';', ' ']).filter(|p| !p.is_empty()) {
        let (first, last) = match part {
            "daily" | "all" | "every-day" | "everyday" => (0, 6),
            "weekdays" => (0, 4),
            "weekends" | "weekend" => (5, 6),
            _ => match part.split_once(['-', '–']) {
                Some((a, b)) => (weekday(a)?, weekday(b)?),
                None => (weekday(part)?, weekday(part)?),
            },
        };
        let length = (last + 7 - first) % 7;
        for step in 0..=length {
            days[(first + step) % 7] = true;
        }
    }
    days.contains(&true).then_some(days)
}

/// Monday is 0. At least three letters of the English name.
fn weekday(written: &str) -> Option<usize> {
    const NAMES: [&str; 7] = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];
    let word = written.trim().trim_end_matches('.');
    if word.len() < 3 {
        return None;
    }
    NAMES.iter().position(|name| name.starts_with(word))
}
