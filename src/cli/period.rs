//! From what was typed (`--from`, `--to`, `--month`) to instants, on the plant's own clock.

use super::args::{ReviewOptions, VerifyOptions};
use crate::verification;
use chrono::{DateTime, Days, Months, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, TimeZone};
use chrono_tz::Tz;

/// The period asked for [ms UTC]: first instant, and first instant after it; `None` where an end was not given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asked {
    pub from_ms: Option<i64>,
    pub to_ms: Option<i64>,
}

/// Reads the options on the plant's clock.
pub fn asked(options: &ReviewOptions, timezone: Tz) -> Result<Asked, String> {
    if let Some(month) = &options.month {
        return whole_month(month, timezone);
    }
    let from_ms = options.from.as_deref().map(|t| start("--from", t, timezone)).transpose()?;
    let to_ms = options.to.as_deref().map(|t| end("--to", t, timezone)).transpose()?;
    if let (Some(from), Some(to)) = (from_ms, to_ms)
        && from >= to
    {
        return Err("--to: the period ends before it starts\nhint: a date given as --to is included, so one day is --from 2026-03-01 --to 2026-03-01".to_owned());
    }
    Ok(Asked { from_ms, to_ms })
}

/// Reads what is said of a change on the plant's clock.
pub fn change(options: &VerifyOptions, timezone: Tz) -> Result<verification::Asked, String> {
    Ok(verification::Asked {
        changed_ms: options.changed.as_deref().map(|t| start("--changed", t, timezone)).transpose()?,
        before: options.before.as_deref().map(|t| span("--before", t, timezone)).transpose()?,
        after: options.after.as_deref().map(|t| span("--after", t, timezone)).transpose()?,
    })
}

/// FROM..TO, a date as its end included.
fn span(option: &str, text: &str, timezone: Tz) -> Result<(i64, i64), String> {
    let Some((from, to)) = text.split_once("..") else {
        return Err(format!("{option}: \"{text}\" is not a period\nhint: {option} 2025-11-01..2026-02-10"));
    };
    let (from, to) = (start(option, from.trim(), timezone)?, end(option, to.trim(), timezone)?);
    if from >= to {
        return Err(format!(
            "{option}: the period ends before it starts\nhint: a date at its end is included, so one day is {option} 2026-03-01..2026-03-01"
        ));
    }
    Ok((from, to))
}

fn whole_month(text: &str, timezone: Tz) -> Result<Asked, String> {
    let first = NaiveDate::parse_from_str(&format!("{text}-01"), "%Y-%m-%d").ok();
    let next = first.and_then(|f| f.checked_add_months(Months::new(1)));
    let (Some(first), Some(next)) = (first, next) else {
        return Err(format!("--month: \"{text}\" is not a month\nhint: --month 2026-03"));
    };
    Ok(Asked { from_ms: Some(instant(midnight(first), timezone)), to_ms: Some(instant(midnight(next), timezone)) })
}

fn start(option: &str, text: &str, timezone: Tz) -> Result<i64, String> {
    match date(text) {
        Some(date) => Ok(instant(midnight(date), timezone)),
        None => moment(option, text, timezone),
    }
}

fn end(option: &str, text: &str, timezone: Tz) -> Result<i64, String> {
    match date(text).map(|d| d.checked_add_days(Days::new(1))) {
        Some(Some(after)) => Ok(instant(midnight(after), timezone)),
        _ => moment(option, text, timezone),
    }
}

fn date(text: &str) -> Option<NaiveDate> {
    NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()
}

fn midnight(date: NaiveDate) -> NaiveDateTime {
    date.and_time(NaiveTime::MIN)
}

fn moment(option: &str, text: &str, timezone: Tz) -> Result<i64, String> {
    let forms = ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S"];
    if let Some(local) = forms.iter().find_map(|f| NaiveDateTime::parse_from_str(text, f).ok()) {
        return Ok(instant(local, timezone));
    }
    let exact = DateTime::parse_from_rfc3339(text).map(|t| t.timestamp_millis());
    exact.map_err(|_| {
        format!("{option}: \"{text}\" is not a time\nhint: {option} 2026-03-01, or {option} \"2026-03-01 06:00\"")
    })
}

/// A local time as an instant [ms UTC]: the first of two where the clock went back, the moment the clock jumped where it went ahead.
fn instant(local: NaiveDateTime, timezone: Tz) -> i64 {
    let found = timezone.from_local_datetime(&local).earliest();
    // No zone skips more than a day (Samoa skipped one whole in 2011).
    let later =
        || (1..=96).find_map(|q| timezone.from_local_datetime(&(local + TimeDelta::minutes(15 * q))).earliest());
    found.or_else(later).map_or_else(|| local.and_utc().timestamp_millis(), |t| t.timestamp_millis())
}
