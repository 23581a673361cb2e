//! What earlier reviews of the same plant said.
//!
//! Comes in: the texts of earlier `findings.json` files, each with its folder's name. Goes out: a [`History`]: those that
//! ended at or before this period's start, in the order they ended. It reads no folders itself; the writer hands it the
//! texts. A file that cannot be read, or has a later form, is no earlier result: it is named in `skipped`, and the review
//! goes on without it. The decision a reader would question: a result that ends after this period's start is left out
//! even where it began before, since it has seen a part of what is judged now; so a rerun of an old month sees no later one.

use super::operation::Operation;
use crate::{faults::Estimate, plant::local_to_utc};
use chrono::{DateTime, Months};
use chrono_tz::Tz;
use serde::Deserialize;

/// What matters of an earlier result.
#[derive(Debug, Clone)]
pub struct Earlier {
    pub from_ms: i64,
    pub to_ms: i64,
    pub coverage: Option<f64>,
    pub energy_kwh: Option<f64>,
    pub findings: Vec<EarlierFinding>,
    pub clear: Vec<EarlierClear>,
    /// Fault and subject of what could not be judged.
    pub not_judged: Vec<(String, String)>,
    /// How the loop ran; `None` in results written before they held it.
    pub operation: Option<Operation>,
}

/// One finding of an earlier result.
#[derive(Debug, Clone)]
pub struct EarlierFinding {
    pub fault: String,
    pub subject: String,
    pub since_ms: i64,
    pub first_seen_ms: i64,
    pub last_seen_ms: i64,
    pub waste_kwh: Option<Estimate>,
    pub because: String,
}

/// A check of an earlier result that saw nothing.
#[derive(Debug, Clone)]
pub struct EarlierClear {
    pub fault: String,
    pub subject: String,
    pub would_have_seen: String,
}

/// The earlier results that count, in the order in which they ended.
#[derive(Debug, Clone, Default)]
pub struct History {
    pub all: Vec<Earlier>,
    /// Folders that hold a result which could not be used, and why, as sentences.
    pub skipped: Vec<String>,
    last: Option<usize>,
    year_ago: Option<usize>,
}

/// A result's folder, and the text of its findings.json or why there is none.
pub type Text = (String, Result<String, String>);

/// How far the ends of the same period a year ago may lie from today's less a year [ms]: three days, since a review
/// of weeks starts on a weekday.
const YEAR_SLACK_MS: i64 = 3 * 86_400_000;

#[derive(Deserialize)]
struct FileForm {
    schema: String,
    plant: String,
    period: PeriodForm,
    #[serde(default)]
    energy_kwh: Option<f64>,
    findings: Vec<FindingForm>,
    #[serde(default)]
    clear: Vec<ClearForm>,
    #[serde(default)]
    not_judged: Vec<NotJudgedForm>,
    #[serde(default)]
    operation: Option<Operation>,
}
#[derive(Deserialize)]
struct PeriodForm {
    from: String,
    to: String,
    #[serde(default)]
    coverage: Option<f64>,
}
#[derive(Deserialize)]
struct FindingForm {
    fault: String,
    subject: String,
    since: String,
    #[serde(default)]
    first_seen: Option<String>,
    last_seen: String,
    #[serde(default)]
    waste_kwh: Option<RangeForm>,
    #[serde(default)]
    because: String,
}
#[derive(Deserialize)]
struct RangeForm {
    estimate: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
}
#[derive(Deserialize)]
struct ClearForm {
    fault: String,
    subject: String,
    #[serde(default)]
    would_have_seen: String,
}
#[derive(Deserialize)]
struct NotJudgedForm {
    fault: String,
    subject: String,
}

impl History {
    /// Of the results in `texts` that ended at or before `from_ms`, for a review of `plant` from there to `to_ms`.
    pub fn new(texts: &[Text], plant: &str, from_ms: i64, to_ms: i64, timezone: Tz) -> Self {
        let mut history = Self::default();
        for (folder, text) in texts {
            match text.as_deref().map_err(Clone::clone).and_then(|t| read(t, plant)) {
                Ok(e) if e.to_ms <= from_ms && e.from_ms < e.to_ms => history.all.push(e),
                Ok(_) => {}
                Err(why) => history.skipped.push(format!("{folder}/findings.json was left out: {why}")),
            }
        }
        history.all.sort_by_key(|e| (e.to_ms, e.from_ms));
        let length = to_ms - from_ms;
        let unlike = |e: &Earlier| (e.to_ms - e.from_ms - length).abs();
        // Of those that ended last, the one most like this period: a month is held against the month, not against its last week.
        let ends = history.all.last().map(|e| e.to_ms);
        history.last = (0..history.all.len())
            .filter(|k| Some(history.all[*k].to_ms) == ends)
            .min_by_key(|k| unlike(&history.all[*k]));
        let ago = (a_year_before(from_ms, timezone), a_year_before(to_ms, timezone));
        let near = |e: &Earlier| (e.from_ms - ago.0).abs().max((e.to_ms - ago.1).abs());
        history.year_ago = (0..history.all.len())
            .filter(|k| near(&history.all[*k]) <= YEAR_SLACK_MS)
            .min_by_key(|k| near(&history.all[*k]));
        history
    }

    /// The review before this one.
    #[must_use]
    pub fn last(&self) -> Option<&Earlier> {
        self.last.and_then(|k| self.all.get(k))
    }

    /// The review of the same period a year ago, unless it is the last one.
    #[must_use]
    pub fn year_ago(&self) -> Option<&Earlier> {
        self.year_ago.filter(|k| Some(*k) != self.last).and_then(|k| self.all.get(k))
    }
}

/// The same local time a year before.
fn a_year_before(ms: i64, timezone: Tz) -> i64 {
    let local = DateTime::from_timestamp_millis(ms).map(|t| t.with_timezone(&timezone).naive_local());
    let ago = local.and_then(|t| t.checked_sub_months(Months::new(12)));
    ago.map_or(i64::MIN / 4, |t| local_to_utc(timezone, t).0.timestamp_millis())
}

fn read(text: &str, plant: &str) -> Result<Earlier, String> {
    let form: FileForm =
        serde_json::from_str(text).map_err(|e| format!("it cannot be read as a result (line {})", e.line()))?;
    if form.schema != super::json::SCHEMA {
        return Err(format!("it has the form \"{}\"; this version reads \"{}\"", form.schema, super::json::SCHEMA));
    }
    if form.plant != plant {
        return Err(format!("it is a result of the plant \"{}\"", form.plant));
    }
    let period = instant(&form.period.from).zip(instant(&form.period.to));
    let findings = form.findings.into_iter().map(finding).collect::<Option<Vec<_>>>();
    let ((from_ms, to_ms), findings) = period.zip(findings).ok_or("a time in it cannot be read")?;
    Ok(Earlier {
        from_ms,
        to_ms,
        coverage: form.period.coverage,
        energy_kwh: form.energy_kwh,
        findings,
        clear: form
            .clear
            .into_iter()
            .map(|c| EarlierClear { fault: c.fault, subject: c.subject, would_have_seen: c.would_have_seen })
            .collect(),
        not_judged: form.not_judged.into_iter().map(|n| (n.fault, n.subject)).collect(),
        operation: form.operation,
    })
}

fn finding(form: FindingForm) -> Option<EarlierFinding> {
    let since_ms = instant(&form.since)?;
    Some(EarlierFinding {
        since_ms,
        first_seen_ms: form.first_seen.as_deref().map_or(Some(since_ms), instant)?,
        last_seen_ms: instant(&form.last_seen)?,
        waste_kwh: form.waste_kwh.as_ref().and_then(estimate),
        because: form.because,
        fault: form.fault,
        subject: form.subject,
    })
}

fn estimate(form: &RangeForm) -> Option<Estimate> {
    Some(Estimate { estimate: form.estimate?, low: form.low?, high: form.high? })
}

fn instant(text: &str) -> Option<i64> {
    DateTime::parse_from_rfc3339(text).ok().map(|t| t.timestamp_millis())
}
