//! What a result says beyond the review itself: the sum of the waste, what is new and what was mended since the last
//! review, and which point to trend next.

use super::history::{Earlier, EarlierFinding};
use crate::{
    faults::{
        Estimate, Fault, Finding, Verdict,
        next_point::{self, NextPoint},
    },
    pipeline::Review,
    tuning::Tuning,
};

/// Whether the last review had the finding already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    New,
    Persisting,
}

/// A finding, and since when it has been known.
#[derive(Debug)]
pub struct Dated<'r> {
    pub finding: &'r Finding,
    pub status: Status,
    pub since_ms: i64,
}

/// A rule that looked and saw nothing.
#[derive(Debug)]
pub struct Clear<'r> {
    pub fault: Fault,
    pub subject: &'r str,
    pub would_have_seen: &'r str,
}

/// A fault of the last review that this one looked for and did not see.
#[derive(Debug)]
pub struct Resolved {
    pub fault: Fault,
    pub subject: String,
    pub last_seen_ms: i64,
}

/// A fault, or the recommendation, that this record cannot decide.
#[derive(Debug)]
pub struct NotJudged<'r> {
    pub fault: &'static str,
    pub subject: &'r str,
    pub missing: &'r [String],
    pub why: &'r str,
}

/// The whole summary. Findings stand in the order that a reader should meet them.
#[derive(Debug)]
pub struct Summary<'r> {
    pub findings: Vec<Dated<'r>>,
    pub clear: Vec<Clear<'r>>,
    pub resolved: Vec<Resolved>,
    pub not_judged: Vec<NotJudged<'r>>,
    /// `None` where there are findings and none of them could be priced.
    pub waste_total_kwh: Option<Estimate>,
    /// The same over a year, of those findings that have a yearly figure; `None` where none has.
    pub waste_year_kwh: Option<Estimate>,
    pub next_points: Vec<NextPoint>,
    pub earlier: Option<Earlier>,
    /// Findings of the last review that this one neither saw again nor cleared.
    pub undecided: Vec<EarlierFinding>,
}

impl<'r> Summary<'r> {
    /// Of a review, seen after `earlier`.
    pub fn new(review: &'r Review, earlier: Option<Earlier>) -> Self {
        let findings = findings(review, earlier.as_ref());
        let not_judged = not_judged(review);
        let resolved = resolved(review, earlier.as_ref());
        let undecided = undecided(&findings, &resolved, earlier.as_ref());
        Self {
            waste_total_kwh: waste_total(&findings, review.energy_kwh),
            waste_year_kwh: waste_year(&findings),
            clear: clear(review),
            resolved,
            undecided,
            next_points: next_points(review),
            findings,
            not_judged,
            earlier,
        }
    }
}

fn findings<'r>(review: &'r Review, earlier: Option<&Earlier>) -> Vec<Dated<'r>> {
    let mut all: Vec<&Finding> = review
        .verdicts
        .iter()
        .filter_map(|v| match v {
            Verdict::Found(f) => Some(f.as_ref()),
            _ => None,
        })
        .collect();
    all.sort_by(|a, b| {
        order(a).partial_cmp(&order(b)).unwrap_or(std::cmp::Ordering::Equal).then(a.subject.cmp(&b.subject))
    });
    beneath_their_causes(&all).into_iter().map(|f| date(f, earlier)).collect()
}

/// Consequences stand under their cause, wherever that stands.
fn beneath_their_causes<'r>(sorted: &[&'r Finding]) -> Vec<&'r Finding> {
    let caused = |f: &&Finding| f.caused_by.is_some_and(|c| sorted.iter().any(|g| g.fault == c));
    let mut placed: Vec<&Finding> = Vec::with_capacity(sorted.len());
    for own in sorted.iter().filter(|f| !caused(f)) {
        placed.push(own);
        let first = placed.iter().filter(|f| f.fault == own.fault).count() == 1;
        if first {
            place_effects(own.fault, sorted, &mut placed);
        }
    }
    let left: Vec<&Finding> =
        sorted.iter().filter(|f| !placed.iter().any(|p| std::ptr::eq(*p, **f))).copied().collect();
    placed.extend(left);
    placed
}

/// What a fault brought about, and what that brought about in turn.
fn place_effects<'r>(cause: Fault, sorted: &[&'r Finding], placed: &mut Vec<&'r Finding>) {
    for f in sorted.iter().filter(|f| f.caused_by == Some(cause)) {
        if !placed.iter().any(|p| std::ptr::eq(*p, *f)) {
            placed.push(f);
            place_effects(f.fault, sorted, placed);
        }
    }
}

/// Most urgent first, then causes before effects, then the dearest.
fn order(f: &Finding) -> (i8, bool, f64, Fault) {
    (-(f.urgency as i8), f.caused_by.is_some(), -f.waste_kwh.map_or(0.0, |w| w.estimate), f.fault)
}

fn date<'r>(finding: &'r Finding, earlier: Option<&Earlier>) -> Dated<'r> {
    let before = earlier
        .and_then(|e| e.findings.iter().find(|f| f.fault == finding.fault.code() && f.subject == finding.subject));
    match before {
        Some(f) => Dated { finding, status: Status::Persisting, since_ms: f.since_ms.min(finding.first_seen_ms) },
        None => Dated { finding, status: Status::New, since_ms: finding.first_seen_ms },
    }
}

fn clear(review: &Review) -> Vec<Clear<'_>> {
    review
        .verdicts
        .iter()
        .filter_map(|v| match v {
            Verdict::Clear { fault, subject, would_have_seen } => {
                Some(Clear { fault: *fault, subject, would_have_seen })
            }
            _ => None,
        })
        .collect()
}

/// Only a verdict of clear resolves: a loop that stood idle has resolved nothing.
fn resolved(review: &Review, earlier: Option<&Earlier>) -> Vec<Resolved> {
    let clear = clear(review);
    let before = earlier.map_or(&[][..], |e| &e.findings);
    before
        .iter()
        .filter_map(|f| {
            let now = clear.iter().find(|c| c.fault.code() == f.fault && c.subject == f.subject)?;
            Some(Resolved { fault: now.fault, subject: f.subject.clone(), last_seen_ms: f.last_seen_ms })
        })
        .collect()
}

/// What the last review found and this one says nothing about.
fn undecided(findings: &[Dated], resolved: &[Resolved], earlier: Option<&Earlier>) -> Vec<EarlierFinding> {
    let again = |f: &EarlierFinding| {
        findings.iter().any(|d| d.finding.fault.code() == f.fault && d.finding.subject == f.subject)
            || resolved.iter().any(|r| r.fault.code() == f.fault && r.subject == f.subject)
    };
    earlier.map_or(&[][..], |e| &e.findings).iter().filter(|f| !again(f)).cloned().collect()
}

fn not_judged(review: &Review) -> Vec<NotJudged<'_>> {
    let rules = review.verdicts.iter().filter_map(|v| match v {
        Verdict::CannotTell { fault, subject, missing, why } => {
            Some(NotJudged { fault: fault.code(), subject, missing, why })
        }
        _ => None,
    });
    let tuning = match &review.tuning {
        Tuning::Refused { missing, why } => Some(NotJudged { fault: "recommendation", subject: "loop", missing, why }),
        Tuning::Proposed(_) => None,
    };
    rules.chain(tuning).collect()
}

/// Sum over the findings that no other finding causes. The bounds are summed too, which is the widest honest interval:
/// the findings are priced through the same pump, motor and drive, so their errors go together. No sum exceeds what the
/// pumps used.
fn waste_total(findings: &[Dated], energy_kwh: f64) -> Option<Estimate> {
    let priced: Vec<Estimate> = uncaused(findings).filter_map(|f| f.waste_kwh).collect();
    if priced.is_empty() && !findings.is_empty() {
        return None;
    }
    let sum = |part: fn(&Estimate) -> f64| priced.iter().map(part).fold(0.0, |a, b| a + b).min(energy_kwh.max(0.0));
    Some(Estimate { estimate: sum(|e| e.estimate), low: sum(|e| e.low), high: sum(|e| e.high) })
}

/// The same sum over a year.
fn waste_year(findings: &[Dated]) -> Option<Estimate> {
    let yearly: Vec<Estimate> = uncaused(findings).filter_map(|f| f.waste_kwh_per_year).collect();
    let sum = |part: fn(&Estimate) -> f64| yearly.iter().map(part).fold(0.0, |a, b| a + b);
    (!yearly.is_empty()).then(|| Estimate { estimate: sum(|e| e.estimate), low: sum(|e| e.low), high: sum(|e| e.high) })
}

/// Findings that no other finding causes.
fn uncaused<'f, 'r: 'f>(findings: &'f [Dated<'r>]) -> impl Iterator<Item = &'r Finding> + use<'f, 'r> {
    let found = |fault: Fault| findings.iter().any(|d| d.finding.fault == fault);
    findings.iter().map(|d| d.finding).filter(move |f| !f.caused_by.is_some_and(found))
}

/// What to trend next; valves are worth more where their lack kept a recommendation back.
fn next_points(review: &Review) -> Vec<NextPoint> {
    let untuned = matches!(&review.tuning, Tuning::Refused { missing, .. } if missing.iter().any(|m| m.starts_with("valve-position")));
    let hours = (review.to_ms - review.from_ms) as f64 / 3_600_000.0;
    next_point::best(&review.verdicts, untuned, &review.plant, review.energy_kwh, hours)
}
