//! What the review before this one found.
//!
//! Comes in: the text of earlier `findings.json` files. Goes out: the latest that ended at or before this period's
//! start. It reads no folders itself; the writer hands it the texts. Files it cannot read are no earlier result.

use chrono::DateTime;
use serde::Deserialize;

/// What matters of an earlier result.
#[derive(Debug, Clone)]
pub struct Earlier {
    pub from_ms: i64,
    pub to_ms: i64,
    pub findings: Vec<EarlierFinding>,
}

/// One finding of an earlier result.
#[derive(Debug, Clone)]
pub struct EarlierFinding {
    pub fault: String,
    pub subject: String,
    pub since_ms: i64,
    pub last_seen_ms: i64,
}

#[derive(Deserialize)]
struct FileForm {
    schema: String,
    plant: String,
    period: PeriodForm,
    findings: Vec<FindingForm>,
}
#[derive(Deserialize)]
struct PeriodForm {
    from: String,
    to: String,
}
#[derive(Deserialize)]
struct FindingForm {
    fault: String,
    subject: String,
    since: String,
    last_seen: String,
}

/// The latest earlier result of `plant` that ended at or before `from_ms`.
pub fn latest<'t>(texts: impl IntoIterator<Item = &'t str>, plant: &str, from_ms: i64) -> Option<Earlier> {
    texts.into_iter().filter_map(|t| read(t, plant)).filter(|e| e.to_ms <= from_ms).max_by_key(|e| (e.to_ms, e.from_ms))
}

fn read(text: &str, plant: &str) -> Option<Earlier> {
    let form: FileForm = serde_json::from_str(text).ok()?;
    if form.schema != super::json::SCHEMA || form.plant != plant {
        return None;
    }
    let findings = form.findings.into_iter().map(finding).collect::<Option<Vec<_>>>()?;
    Some(Earlier { from_ms: instant(&form.period.from)?, to_ms: instant(&form.period.to)?, findings })
}

fn finding(form: FindingForm) -> Option<EarlierFinding> {
    Some(EarlierFinding {
        since_ms: instant(&form.since)?,
        last_seen_ms: instant(&form.last_seen)?,
        fault: form.fault,
        subject: form.subject,
    })
}

fn instant(text: &str) -> Option<i64> {
    DateTime::parse_from_rfc3339(text).ok().map(|t| t.timestamp_millis())
}
