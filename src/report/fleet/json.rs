//! `fleet.json`: the promise to other programs. Own types, in the order in which DEVELOPERS.md lists the keys.

use super::{
    super::json::{Number, Range, range, utc},
    super::words as say,
    words,
};
use crate::{
    faults::{Estimate, Fault},
    fleet::{Brief, Extract, Fleet, Group, Line, Proposal, Stake, times},
    plant::Role,
};
use serde::Serialize;

/// The name and version of this form.
pub const SCHEMA: &str = "offcurve/fleet/1";

#[derive(Serialize)]
struct File<'f> {
    schema: &'static str,
    version: &'static str,
    summary: String,
    counts: Counts,
    at_stake: Vec<AtStake<'f>>,
    plants: Vec<Plant<'f>>,
    not_reviewed: Vec<NotReviewed<'f>>,
    passed_over: Vec<PassedOver<'f>>,
    not_judged: Vec<Untold<'f>>,
    next_point_to_trend: Vec<Next<'f>>,
}
#[derive(Serialize)]
struct Counts {
    plants: usize,
    to_do: usize,
    to_watch: usize,
    clear: usize,
    nothing_judged: usize,
    not_reviewed: usize,
}
#[derive(Serialize)]
struct AtStake<'f> {
    currency: Option<&'f str>,
    per_year: Range,
    plants: usize,
    plants_without_a_year: usize,
}
#[derive(Serialize)]
struct Plant<'f> {
    rank: Option<usize>,
    state: &'static str,
    plant: &'f str,
    r#loop: Option<&'f str>,
    site: Option<&'f str>,
    path: &'f str,
    report: String,
    period: Period,
    energy_kwh: Number,
    currency: Option<&'f str>,
    energy_price: Option<Number>,
    urgency: Option<&'static str>,
    do_first: Option<&'f str>,
    at_stake_kwh_per_year: Option<Range>,
    at_stake_kwh: Option<Range>,
    at_stake_money_per_year: Option<Range>,
    at_stake_kg_co2e_per_year: Option<Range>,
    waste_kwh: Option<Range>,
    recommendation: Option<Recommendation>,
    findings: Vec<Finding<'f>>,
    clear: usize,
    resolved: usize,
    not_judged: usize,
}
#[derive(Serialize)]
struct Period {
    from: String,
    to: String,
    coverage: Number,
}
#[derive(Serialize)]
struct Recommendation {
    saving_kwh: Range,
    saving_kwh_per_year: Option<Range>,
    conditional_on: Vec<&'static str>,
}
#[derive(Serialize)]
struct Finding<'f> {
    fault: &'static str,
    subject: &'f str,
    urgency: &'static str,
    confidence: Number,
    hours: Number,
    waste_kwh: Option<Range>,
    waste_kwh_per_year: Option<Range>,
    caused_by: Option<&'static str>,
    status: &'static str,
    since: String,
    change: &'f str,
}
#[derive(Serialize)]
struct NotReviewed<'f> {
    path: &'f str,
    why: &'f str,
}
#[derive(Serialize)]
struct PassedOver<'f> {
    path: &'f str,
    why: &'f str,
}
#[derive(Serialize)]
struct Untold<'f> {
    fault: &'f str,
    plants: usize,
    missing: Option<&'f str>,
    missing_plants: Option<usize>,
}
#[derive(Serialize)]
struct Next<'f> {
    role: &'static str,
    with: Option<&'static str>,
    plants: usize,
    would_settle: &'f [&'static str],
    worth_kwh_per_year: Number,
}

/// The whole file.
pub fn write(fleet: &Fleet) -> String {
    let ranked = fleet.groups.iter().flat_map(|g| g.lines.iter().enumerate().map(|(k, line)| (Some(k + 1), line)));
    let others = fleet.clear.iter().chain(&fleet.silent).map(|line| (None, line));
    let to_do = fleet.lines().filter(|l| l.extract.needs_doing()).count();
    let file = File {
        schema: SCHEMA,
        version: env!("CARGO_PKG_VERSION"),
        summary: words::state(fleet).join(" ").replace(super::super::show::THIN, " "),
        counts: Counts {
            plants: fleet.plants(),
            to_do,
            to_watch: fleet.groups.iter().map(|g| g.lines.len()).sum::<usize>() - to_do,
            clear: fleet.clear.len(),
            nothing_judged: fleet.silent.len(),
            not_reviewed: fleet.lost.len(),
        },
        at_stake: fleet.groups.iter().map(at_stake).collect(),
        plants: ranked.chain(others).map(|(rank, line)| plant(rank, line)).collect(),
        not_reviewed: fleet.lost.iter().map(|l| NotReviewed { path: &l.path, why: &l.why }).collect(),
        passed_over: fleet.passed_over.iter().map(|p| PassedOver { path: &p.shown, why: &p.why }).collect(),
        not_judged: fleet
            .untold
            .iter()
            .map(|u| Untold {
                fault: u.fault,
                plants: u.plants,
                missing: u.missing.as_ref().map(|m| m.0.as_str()),
                missing_plants: u.missing.as_ref().map(|m| m.1),
            })
            .collect(),
        next_point_to_trend: fleet
            .next
            .iter()
            .map(|t| Next {
                role: t.role.word(),
                with: t.with.map(Role::word),
                plants: t.plants,
                would_settle: &t.would_settle,
                worth_kwh_per_year: Number::new(t.worth_kwh_per_year),
            })
            .collect(),
    };
    let mut text = serde_json::to_string_pretty(&file).expect("these types have no map with keys that are not text");
    text.push('\n');
    text
}

fn at_stake(group: &Group) -> AtStake<'_> {
    let (sum, plants) = group.per_year();
    AtStake {
        currency: group.currency.as_deref(),
        per_year: range(sum),
        plants,
        plants_without_a_year: group.lines.len() - plants,
    }
}

fn plant(rank: Option<usize>, line: &Line) -> Plant<'_> {
    let d = &line.extract;
    let (year, period) = match d.stake() {
        Stake::Year(e) => (Some(e), None),
        Stake::Period(e) => (None, Some(e)),
        Stake::Unknown => (None, None),
    };
    let in_terms_of = |factor: Option<f64>| Some(range(times(year?, factor?)));
    Plant {
        rank,
        state: state(d),
        plant: &d.name,
        r#loop: d.system.as_deref(),
        site: d.site.as_deref(),
        path: &line.path,
        report: format!("{}/report.html", line.folder),
        period: Period { from: utc(d.from_ms), to: utc(d.to_ms), coverage: Number::new(d.coverage) },
        energy_kwh: Number::new(d.energy_kwh),
        currency: d.price.as_ref().map(|p| p.currency.as_str()),
        energy_price: d.price.as_ref().map(|p| Number::new(p.per_kwh)),
        urgency: d.urgency().map(say::urgency),
        do_first: Some(d.first.as_str()).filter(|f| !f.is_empty()),
        at_stake_kwh_per_year: year.map(range),
        at_stake_kwh: period.map(range),
        at_stake_money_per_year: in_terms_of(d.price.as_ref().map(|p| p.per_kwh)),
        at_stake_kg_co2e_per_year: in_terms_of(d.carbon_intensity),
        waste_kwh: d.waste_kwh.map(range),
        recommendation: d.proposal.as_ref().map(recommendation),
        findings: d.findings.iter().map(finding).collect(),
        clear: d.clear,
        resolved: d.resolved,
        not_judged: d.not_judged.len(),
    }
}

/// What the plant is counted as.
pub(super) fn state(d: &Extract) -> &'static str {
    match d {
        d if d.needs_doing() => "to-do",
        d if d.has_something() => "to-watch",
        d if d.clear > 0 => "clear",
        _ => "nothing-judged",
    }
}

fn recommendation(p: &Proposal) -> Recommendation {
    Recommendation {
        saving_kwh: range(p.saving_kwh),
        saving_kwh_per_year: p.saving_kwh_per_year.map(range),
        conditional_on: p.conditional_on.iter().map(|f| f.code()).collect(),
    }
}

fn finding(f: &Brief) -> Finding<'_> {
    let energy = |e: Option<Estimate>| e.map(range);
    Finding {
        fault: f.fault.code(),
        subject: &f.subject,
        urgency: say::urgency(f.urgency),
        confidence: Number::new(f.confidence),
        hours: Number::new(f.hours),
        waste_kwh: energy(f.waste_kwh),
        waste_kwh_per_year: energy(f.waste_kwh_per_year),
        caused_by: f.caused_by.map(Fault::code),
        status: if f.new { "new" } else { "persisting" },
        since: utc(f.since_ms),
        change: &f.change,
    }
}
