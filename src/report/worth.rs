//! What it is worth: energy, money and CO2 equivalent, over a year where the period can carry one.
//!
//! The decision a reader would question: what the findings cost and what the new setting saves stand side by side and are never added,
//! since the setting answers some of the findings.

use super::{
    document::{Answer, Table},
    headline,
    show::Show,
    summary::Summary,
};
use crate::{faults::Estimate, pipeline::Review, tuning::Tuning};

/// A record shorter than this speaks for no year [ms]: four weeks, as the prices of findings and settings have it.
const CARRIES_A_YEAR_MS: i64 = 28 * 86_400_000;

/// The answer, with its table where there is anything to price.
pub fn answer(review: &Review, summary: &Summary, show: &Show) -> Answer {
    let saving = match &review.tuning {
        Tuning::Proposed(r) => Some((r.saving_kwh, r.saving_kwh_per_year)),
        Tuning::Refused { .. } => None,
    };
    let faults = summary.waste_total_kwh.filter(|_| !summary.findings.is_empty());
    let year = (summary.waste_year_kwh, saving.and_then(|s| s.1));
    let (over, pair) = match year {
        (None, None) => ("in this period", (faults, saving.map(|s| s.0))),
        some => ("a year", some),
    };
    let mut said = Vec::new();
    said.extend(faults_cost(summary, pair.0, over, show));
    said.extend(pair.1.map(|s| format!("The new setting would save {} {over}.", show.worth_range(s))));
    if pair.0.is_some() && pair.1.is_some() {
        said.push("The two overlap and are not to be added.".to_owned());
    }
    if said.is_empty() {
        said.push(nothing(summary));
    }
    let rows = rows(pair, over, review, show);
    if !rows.is_empty() {
        said.extend(no_year(review, year, faults, saving.is_some()));
        said.extend(not_declared(review));
    }
    Answer { label: "What it is worth", text: said.join(" "), table: table(rows, review, show) }
}

fn faults_cost(summary: &Summary, cost: Option<Estimate>, over: &str, show: &Show) -> Option<String> {
    match cost {
        Some(e) if e.estimate > 0.0 => Some(format!("What was found costs {} {over}.", show.worth_range(e))),
        Some(_) => None,
        None if summary.findings.is_empty() => None,
        None if summary.waste_total_kwh.is_some() => None,
        None => Some("What was found could not be priced from this record.".to_owned()),
    }
}

fn nothing(summary: &Summary) -> String {
    if headline::silent(summary) {
        "Not known: what this plant wastes, if anything, cannot be told from this record.".to_owned()
    } else {
        "No waste was found, and no saving is claimed.".to_owned()
    }
}

/// Why there is no yearly figure, or none for some of it.
fn no_year(
    review: &Review,
    year: (Option<Estimate>, Option<Estimate>),
    faults: Option<Estimate>,
    proposed: bool,
) -> Option<String> {
    let lacking = (faults.is_some_and(|f| f.estimate > 0.0) && year.0.is_none()) || (proposed && year.1.is_none());
    if !lacking {
        return None;
    }
    let short = review.to_ms - review.from_ms < CARRIES_A_YEAR_MS;
    let why = if short { "is shorter than four weeks and" } else { "holds less than four weeks of readings and" };
    Some(match year {
        (None, None) => format!("This period {why} cannot speak for a year."),
        _ => "Where a yearly figure is missing, this period cannot speak for a year.".to_owned(),
    })
}

/// What the plant file does not say, and what is therefore not said here.
fn not_declared(review: &Review) -> Option<String> {
    let site = &review.plant.site;
    match (site.energy_price, site.carbon_intensity) {
        (None, None) => Some(
            "Money and CO₂e are not given: the plant file has neither energy_price nor carbon_intensity.".to_owned(),
        ),
        (None, Some(_)) => Some("Money is not given: the plant file has no energy_price.".to_owned()),
        (Some(_), None) => Some("CO₂e is not given: the plant file has no carbon_intensity.".to_owned()),
        (Some(_), Some(_)) => None,
    }
}

fn rows(pair: (Option<Estimate>, Option<Estimate>), over: &str, review: &Review, show: &Show) -> Vec<Vec<String>> {
    let row = |name: &str, kwh: Estimate| {
        let mut cells = vec![format!("{name}, {over}"), show.energy_range(kwh)];
        cells.extend(show.money_range(kwh));
        cells.extend(review.plant.site.carbon_intensity.map(|c| show.carbon_range(kwh, c)));
        cells
    };
    let cost = pair.0.filter(|e| e.estimate > 0.0).map(|e| row("What was found costs", e));
    let saved = pair.1.map(|e| row("The new setting would save", e));
    cost.into_iter().chain(saved).collect()
}

fn table(rows: Vec<Vec<String>>, review: &Review, show: &Show) -> Option<Table> {
    if rows.is_empty() {
        return None;
    }
    let mut titles = vec!["", "#Energy"];
    if show.money(0.0).is_some() {
        titles.push("#Money");
    }
    if review.plant.site.carbon_intensity.is_some() {
        titles.push("#CO₂e");
    }
    Some(Table::new("Best values, with the range in which the true value lies.", &titles, rows))
}
