//! What to do, in order, and whose work it is.
//!
//! Comes in: the findings in their order, the proposed setting, the points worth trending. Goes out: the numbered list of the first
//! screen. The decision a reader would question: what another finding brings about is no thing to do of its own, and the proposed
//! setting stands after whatever must be mended before it holds.

use super::{
    anchor,
    document::Action,
    settings::settings,
    show::Show,
    summary::{Dated, Summary},
    trades, words,
};
use crate::{
    faults::{Fault, Finding, Urgency},
    pipeline::Review,
    plant::Plant,
    tuning::{Recommendation, Tuning},
};

/// Things to do named one by one; a first screen that says more says less.
const MOST: usize = 7;
/// Findings that the proposed setting itself answers.
const ABOUT_SETTINGS: [Fault; 3] = [Fault::SetpointTooHigh, Fault::SetpointTooLow, Fault::MinimumSpeedTooHigh];

/// The list; never empty.
pub fn actions(review: &Review, summary: &Summary, show: &Show) -> Vec<Action> {
    let ids = anchor::of_findings(&summary.findings);
    let proposal = match &review.tuning {
        Tuning::Proposed(r) => setting(r, show).map(|what| (r.as_ref(), what)),
        Tuning::Refused { .. } => None,
    };
    let mut work: Vec<Work> = Vec::new();
    let mut setting_at = 0;
    for (dated, id) in summary.findings.iter().zip(&ids) {
        let f = dated.finding;
        let answered = proposal.is_some() && ABOUT_SETTINGS.contains(&f.fault);
        if !answered && f.caused_by.is_none() && !f.change.trim().is_empty() {
            merge(&mut work, f, id);
        }
        let first = proposal.as_ref().is_some_and(|(r, _)| r.conditional_on.contains(&f.fault));
        if first || answered || f.urgency >= Urgency::Plan {
            setting_at = work.len();
        }
    }
    let mut out: Vec<Action> = work.iter().map(|w| w.action(&review.plant, show)).collect();
    if let Some((r, what)) = proposal {
        let after = if r.conditional_on.is_empty() || setting_at == 0 { "" } else { "After that, " };
        let what = if after.is_empty() { what } else { format!("{after}{}", words::clause(&what)) };
        let what = format!("{}. {}", what.trim_end_matches('.'), saves(r, show));
        out.insert(setting_at, Action { what, who: trades::CONTROLS.to_owned(), see: Some("settings".to_owned()) });
    }
    let cut = out.len().saturating_sub(MOST);
    out.truncate(MOST);
    if cut > 0 {
        let what = format!("See to {} further down this report.", words::count(cut, "smaller matter"));
        out.push(Action { what, who: trades::FACILITY.to_owned(), see: Some("findings".to_owned()) });
    }
    out.extend(trend(summary));
    out.extend(declare(summary));
    if out.is_empty() {
        out.push(Action {
            what: "Nothing needs to be done now. Review the next month as well.".to_owned(),
            who: trades::FACILITY.to_owned(),
            see: None,
        });
    }
    out
}

/// What to do about one finding, or about several of one fault that want the same.
struct Work<'r> {
    first: &'r Finding,
    subjects: Vec<&'r str>,
    see: String,
}

/// Where a change names its subject.
const SUBJECT: &str = "\u{0}";

/// The change with its subject's name taken out.
fn template(f: &Finding) -> String {
    let change = f.change.trim();
    if f.subject.is_empty() { change.to_owned() } else { change.replace(&f.subject, SUBJECT) }
}

/// The same work for several subjects is told once.
fn merge<'r>(all: &mut Vec<Work<'r>>, f: &'r Finding, id: &str) {
    match all.iter_mut().find(|w| w.first.fault == f.fault && template(w.first) == template(f)) {
        Some(work) => work.subjects.push(&f.subject),
        None => all.push(Work { first: f, subjects: vec![&f.subject], see: id.to_owned() }),
    }
}

impl Work<'_> {
    fn action(&self, plant: &Plant, show: &Show) -> Action {
        let names: Vec<String> = self.subjects.iter().map(|s| (*s).to_owned()).collect();
        let names = words::join(&names);
        let change = template(self.first);
        let what = if change.contains(SUBJECT) {
            words::sentence(&show.sentence(&change).replace(SUBJECT, &names))
        } else if names == "loop" {
            words::sentence(&show.sentence(&change))
        } else {
            format!("{names}: {}", words::sentence(&words::clause(&show.sentence(&change))))
        };
        Action { what, who: trades::of(self.first, plant), see: Some(self.see.clone()) }
    }
}

/// The first point worth trending.
fn trend(summary: &Summary) -> Option<Action> {
    let next = summary.next_points.first()?;
    Some(Action {
        what: format!("Trend {}, so that more can be judged.", words::point(next)),
        who: trades::CONTROLS.to_owned(),
        see: Some("next-point".to_owned()),
    })
}

/// Facts of the plant file for which at least so many matters wait are worth a line.
const WAITING: usize = 2;
/// Facts in plain words.
const FACTS: [(&str, &str); 4] = [
    ("[[pump.curve]]", "the pump's tested curve"),
    ("[control].mode", "the control curve that the drive is set to"),
    ("[[schedule]]", "the hours in which the loop is meant to run"),
    ("[loop].design_flow", "the design flow"),
];

/// The fact of the plant file for which most matters wait.
fn declare(summary: &Summary) -> Option<Action> {
    let waiting = |key: &str| summary.not_judged.iter().filter(|n| n.missing.iter().any(|m| m == key)).count();
    let counted = FACTS.iter().map(|(key, said)| (waiting(key), *key, *said));
    // The first of those that most wait for.
    let (_, key, said) = counted.rev().max_by_key(|c| c.0).filter(|c| c.0 >= WAITING)?;
    Some(Action {
        what: format!("Write {said} into the plant file ({key}), so that more can be judged."),
        who: trades::FACILITY.to_owned(),
        see: Some("not-judged".to_owned()),
    })
}

/// "Set the head at no flow from 64 kPa to 38 kPa"; nothing where all stays as it is.
fn setting(r: &Recommendation, show: &Show) -> Option<String> {
    // The other way of writing a head is in the table below.
    let short = |text: &str| text.split(" (").next().unwrap_or_default().to_owned();
    let changes: Vec<String> = settings(&r.current, &r.proposed, show)
        .into_iter()
        .filter(|s| s.present != s.proposed && !s.proposed.is_empty())
        .map(|s| match s.present.is_empty() {
            true => format!("the {} to {}", s.label, short(&s.proposed)),
            false => format!("the {} from {} to {}", s.label, short(&s.present), short(&s.proposed)),
        })
        .collect();
    (!changes.is_empty()).then(|| format!("Set {}.", words::join(&changes)))
}

fn saves(r: &Recommendation, show: &Show) -> String {
    match r.saving_kwh_per_year {
        Some(year) => format!("It would save about {} a year.", show.money_or_energy(year.estimate)),
        None => format!("It would have saved about {} in this period.", show.money_or_energy(r.saving_kwh.estimate)),
    }
}

/// Dated findings that are things to do of their own.
pub fn own<'s, 'r>(findings: &'s [Dated<'r>]) -> impl Iterator<Item = &'s Dated<'r>> {
    findings.iter().filter(|d| d.finding.caused_by.is_none())
}
