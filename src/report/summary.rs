//! What a result says beyond the review itself: the sum of the waste, what is new, what stayed and at what cost, what was
//! mended since earlier reviews, what can no longer be judged, and which point to trend next.
//!
//! The decision a reader would question: a finding is `persisting` where an earlier review found it and none since has
//! ruled it out, also through reviews that could not judge it; one that had been ruled out and is back is `new`, with
//! `returned` beside it.

use super::{
    followed::{Cost, Episode, Returned, Spell, Standing},
    history::{Earlier, History},
    normalised::Normalised,
    operation::Operation,
};
use crate::{
    faults::{
        Estimate, Fault, Finding, Verdict,
        next_point::{self, NextPoint},
    },
    pipeline::Review,
    plant::Plant,
    tuning::Tuning,
};

/// Whether an earlier review had the finding already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    New,
    Persisting,
}

/// A finding, and its course through the reviews.
#[derive(Debug)]
pub struct Dated<'r> {
    pub finding: &'r Finding,
    pub status: Status,
    pub since_ms: i64,
    /// Reviews that found it, this one included, and reviews between that could not tell.
    pub seen_in: usize,
    pub not_told_in: usize,
    /// Over all of them.
    pub cost: Cost,
    /// It had been there before and was found gone.
    pub returned: Option<Returned>,
}

/// A rule that looked and saw nothing.
#[derive(Debug)]
pub struct Clear<'r> {
    pub fault: Fault,
    pub subject: &'r str,
    pub would_have_seen: &'r str,
}

/// A fault of earlier reviews that this one looked for and did not see.
#[derive(Debug)]
pub struct Resolved {
    pub fault: Fault,
    pub subject: String,
    pub since_ms: i64,
    pub last_seen_ms: i64,
    pub seen_in: usize,
    pub cost: Cost,
}

/// A fault of earlier reviews that this one neither saw again nor ruled out.
#[derive(Debug)]
pub struct Undecided {
    pub fault: Fault,
    pub subject: String,
    pub since_ms: i64,
    pub last_seen_ms: i64,
    pub seen_in: usize,
    pub cost: Cost,
    /// Reviews that could not tell since it was last found, this one included.
    pub silent: usize,
    /// Why this record cannot tell.
    pub why: String,
    /// A review from here on would see its beginning, where that is what is wanted.
    pub review_from_ms: Option<i64>,
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
    pub undecided: Vec<Undecided>,
    pub history: History,
    /// How the loop ran in this period.
    pub operation: Operation,
    /// Energy at like weather or load, against earlier periods.
    pub normalised: Normalised,
}

impl<'r> Summary<'r> {
    /// Of a review, seen after what earlier ones said.
    pub fn new(review: &'r Review, history: History) -> Self {
        let findings = findings(review, &history.all);
        let operation = Operation::new(review);
        let open = open_before(&findings, &history.all);
        let clear = clear(review);
        let (resolved, undecided) = told_of(&open, review, &clear, history.last());
        Self {
            waste_total_kwh: waste_total(&findings, review.energy_kwh),
            waste_year_kwh: waste_year(&findings),
            not_judged: not_judged(review),
            next_points: next_points(review),
            normalised: Normalised::new(review, &operation, &history),
            clear,
            resolved,
            undecided,
            findings,
            operation,
            history,
        }
    }

    /// The review before this one.
    pub fn earlier(&self) -> Option<&Earlier> {
        self.history.last()
    }
}

fn findings<'r>(review: &'r Review, earlier: &[Earlier]) -> Vec<Dated<'r>> {
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
    beneath_their_causes(&all).into_iter().map(|f| date(f, review, earlier)).collect()
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

fn date<'r>(finding: &'r Finding, review: &Review, earlier: &[Earlier]) -> Dated<'r> {
    let Standing { open, returned, .. } = Standing::new(earlier, finding.fault, &finding.subject);
    let status = if open.is_some() { Status::Persisting } else { Status::New };
    let mut episode = open.unwrap_or_else(|| Episode::since(finding.first_seen_ms));
    episode.add(Spell {
        from_ms: review.from_ms,
        to_ms: review.to_ms,
        first_seen_ms: finding.first_seen_ms,
        last_seen_ms: finding.last_seen_ms,
        waste_kwh: finding.waste_kwh,
    });
    let (seen_in, not_told_in, cost) = (episode.seen_in, episode.not_told_in, episode.cost());
    Dated { finding, status, since_ms: episode.since_ms, seen_in, not_told_in, cost, returned }
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

/// What earlier reviews found, none since has ruled out, and this one did not find.
fn open_before<'h>(findings: &[Dated], earlier: &'h [Earlier]) -> Vec<(Fault, &'h str, Standing<'h>)> {
    let mut known: Vec<(Fault, &str)> = Vec::new();
    for found in earlier.iter().rev().flat_map(|e| &e.findings) {
        let Some(fault) = Fault::ALL.into_iter().find(|f| f.code() == found.fault) else { continue };
        let now = findings.iter().any(|d| d.finding.fault == fault && d.finding.subject == found.subject);
        if !now && !known.contains(&(fault, found.subject.as_str())) {
            known.push((fault, &found.subject));
        }
    }
    let stand = |(fault, subject): (Fault, &'h str)| (fault, subject, Standing::new(earlier, fault, subject));
    known.into_iter().map(stand).filter(|(.., s)| s.open.is_some()).collect()
}

/// Only a check that rules it out resolves a fault: a loop that stood idle has resolved nothing. The rest is undecided.
fn told_of(
    open: &[(Fault, &str, Standing)],
    review: &Review,
    clear: &[Clear],
    last: Option<&Earlier>,
) -> (Vec<Resolved>, Vec<Undecided>) {
    let (mut resolved, mut undecided) = (Vec::new(), Vec::new());
    for (fault, subject, standing) in open {
        let Some(episode) = &standing.open else { continue };
        let check = clear.iter().find(|c| c.fault == *fault && c.subject == *subject);
        let (fault, subject) = (*fault, (*subject).to_owned());
        let (since_ms, last_seen_ms, seen_in, cost) =
            (episode.since_ms, episode.last_seen_ms, episode.seen_in, episode.cost());
        if check.is_some_and(|c| standing.ruled_out(fault, c.would_have_seen)) {
            resolved.push(Resolved { fault, subject, since_ms, last_seen_ms, seen_in, cost });
            continue;
        }
        // What is no longer in the plant file is told of once.
        if !is_in(&review.plant, &subject) && !last.is_some_and(|l| speaks_of(l, &subject)) {
            continue;
        }
        let review_from_ms = check.is_some().then(|| episode.spells.first().map_or(since_ms, |s| s.from_ms));
        let why = why_undecided(review, fault, &subject, check.is_some());
        let silent = episode.silent + 1;
        undecided.push(Undecided {
            fault,
            subject,
            since_ms,
            last_seen_ms,
            seen_in,
            cost,
            silent,
            why,
            review_from_ms,
        });
    }
    (resolved, undecided)
}

fn is_in(plant: &Plant, subject: &str) -> bool {
    subject == "loop"
        || plant.pumps.iter().any(|p| p.name == subject)
        || plant.coils.iter().any(|c| c.name == subject)
        || plant.sources.iter().any(|s| s.name == subject)
        || plant.sensors.iter().any(|s| s.name == subject)
        || plant.points.iter().any(|p| p.name == subject)
}

fn speaks_of(earlier: &Earlier, subject: &str) -> bool {
    earlier.findings.iter().any(|f| f.subject == subject)
        || earlier.clear.iter().any(|c| c.subject == subject)
        || earlier.not_judged.iter().any(|n| n.1 == subject)
}

fn why_undecided(review: &Review, fault: Fault, subject: &str, looked: bool) -> String {
    if looked {
        return "the check looks for a change within its own record, and this one began before it".to_owned();
    }
    if !is_in(&review.plant, subject) {
        return format!("{subject} is no longer in the plant file; under another name it counts as another one");
    }
    let said = |of: &str| {
        review.verdicts.iter().find_map(|v| match v {
            Verdict::CannotTell { fault: f, subject: s, why, .. } if *f == fault && s == of => Some(why.clone()),
            _ => None,
        })
    };
    said(subject)
        .or_else(|| said("loop"))
        .unwrap_or_else(|| format!("no check of this record speaks of {subject} by itself"))
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
