//! What is wrong since the change: both periods are judged by all rules, each by itself and with the setting that stood then, but with the pumps' models of the whole
//! record, so that a finding does not come or go because a pump was learned anew.

use crate::faults::{Fault, Finding, Verdict};
use crate::ingest::{Clock, Series, Trends};
use crate::operating::Reconstructed;
use crate::pipeline;
use crate::plant::Plant;

/// A finding after the change that was none before it.
#[derive(Debug, Clone)]
pub struct SideEffect {
    pub finding: Finding,
    /// The period before was cleared of it; else it could not be told there.
    pub clear_before: bool,
}

/// Findings that came and went.
#[derive(Debug, Clone, Default)]
pub struct Effects {
    pub new: Vec<SideEffect>,
    /// Found before, clear after.
    pub gone: Vec<(Fault, String)>,
    /// Found before and after.
    pub kept: Vec<(Fault, String)>,
    /// What was looked at: the longest stretch of either setting [ms UTC].
    pub before: (i64, i64),
    pub after: (i64, i64),
    /// Why nothing was judged.
    pub not_judged: Option<String>,
}

/// Judges both stretches.
pub(super) fn judge(
    plant: &Plant,
    trends: &Trends,
    whole: &Reconstructed,
    before: (i64, i64),
    after: (i64, i64),
) -> Effects {
    // One after the other: the rules of a review share what they look at, and wait for it on their own threads.
    let (old, new) = (verdicts(plant, trends, whole, before), verdicts(plant, trends, whole, after));
    let mut effects = Effects { before, after, ..Effects::default() };
    let (Some(old), Some(new)) = (old, new) else {
        effects.not_judged = Some("one of the two periods has no readings".to_owned());
        return effects;
    };
    let same = |v: &&Verdict, f: &Finding| key(v) == (f.fault, f.subject.as_str());
    for finding in found(&new) {
        match old.iter().find(|v| same(v, finding)) {
            Some(Verdict::Found(_)) => effects.kept.push((finding.fault, finding.subject.clone())),
            Some(Verdict::Clear { .. }) => {
                effects.new.push(SideEffect { finding: finding.clone(), clear_before: true });
            }
            _ => effects.new.push(SideEffect { finding: finding.clone(), clear_before: false }),
        }
    }
    for finding in found(&old) {
        if new.iter().any(|v| same(&v, finding) && matches!(v, Verdict::Clear { .. })) {
            effects.gone.push((finding.fault, finding.subject.clone()));
        }
    }
    effects
}

fn found(verdicts: &[Verdict]) -> impl Iterator<Item = &Finding> {
    verdicts.iter().filter_map(|v| if let Verdict::Found(f) = v { Some(f.as_ref()) } else { None })
}

fn key(verdict: &Verdict) -> (Fault, &str) {
    match verdict {
        Verdict::Found(f) => (f.fault, &f.subject),
        Verdict::Clear { fault, subject, .. } | Verdict::CannotTell { fault, subject, .. } => (*fault, subject),
    }
}

fn verdicts(plant: &Plant, trends: &Trends, whole: &Reconstructed, (from, to): (i64, i64)) -> Option<Vec<Verdict>> {
    let (part, first) = part(trends, from, to)?;
    Some(pipeline::verdicts(&as_it_stood(plant, from, to), part, whole, first))
}

/// The plant with the setting of the end of a period as today's.
fn as_it_stood(plant: &Plant, from: i64, to: i64) -> Plant {
    let control = plant.control_at(to - 1).clone();
    let mut plant = Plant { control, ..plant.clone() };
    plant.control_history.retain(|(until, _)| (from..to).contains(&until.timestamp_millis()));
    plant
}

/// The rows of a period, and the first of them.
fn part(trends: &Trends, from: i64, to: i64) -> Option<(Trends, usize)> {
    let clock = trends.clock;
    let row = |ms: i64| ((ms - clock.start_ms).max(0) as u64).div_ceil(clock.step_s as u64 * 1000) as usize;
    let (first, last) = (row(from).min(clock.len), row(to).min(clock.len));
    if first >= last {
        return None;
    }
    let series = |s: &Series| Series { values: s.values[first..last].to_vec(), ..s.clone() };
    let mut ledger = trends.ledger.clone();
    let share = (last - first) as f64 / clock.len as f64;
    ledger.points.iter_mut().for_each(|p| p.samples = (p.samples as f64 * share).ceil() as u64);
    let clock = Clock { start_ms: clock.at_ms(first), len: last - first, ..clock };
    Some((Trends { clock, series: trends.series.iter().map(series).collect(), ledger }, first))
}
