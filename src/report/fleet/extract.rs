//! What one review says in a line of the fleet's page.

use super::super::{
    settings,
    show::Show,
    summary::{Dated, Status, Summary},
    words,
};
use crate::{
    faults::Fault,
    fleet::{Brief, Extract, NotJudged, Price, Proposal},
    pipeline::Review,
    tuning::{Recommendation, Tuning},
};

/// Findings that the proposed setting itself answers.
const ABOUT_SETTINGS: [Fault; 3] = [Fault::SetpointTooHigh, Fault::SetpointTooLow, Fault::MinimumSpeedTooHigh];
/// What a finding says where nothing is to be changed.
const NO_CHANGE: &str = "None.";

/// Of a review and its summary, in the reader's units.
pub fn extract(review: &Review, summary: &Summary, show: &Show) -> Extract {
    let site = &review.plant.site;
    let known = review.points.system.power_kw.iter().any(|p| p.is_finite());
    Extract {
        name: review.plant.name.clone(),
        system: review.plant.system.name.clone(),
        site: site.name.clone(),
        timezone: site.timezone,
        from_ms: review.from_ms,
        to_ms: review.to_ms,
        coverage: review.coverage,
        energy_kwh: if known { review.energy_kwh } else { f64::NAN },
        price: site.energy_price.zip(site.currency.clone()).map(|(per_kwh, currency)| Price { currency, per_kwh }),
        carbon_intensity: site.carbon_intensity,
        findings: summary.findings.iter().map(|d| brief(d, show)).collect(),
        waste_kwh: summary.waste_total_kwh,
        proposal: match &review.tuning {
            Tuning::Proposed(r) => Some(Proposal {
                saving_kwh: r.saving_kwh,
                saving_kwh_per_year: r.saving_kwh_per_year,
                conditional_on: r.conditional_on.clone(),
            }),
            Tuning::Refused { .. } => None,
        },
        first: first(review, summary, show),
        not_judged: summary
            .not_judged
            .iter()
            .map(|n| NotJudged { fault: n.fault, missing: n.missing.to_vec() })
            .collect(),
        next_points: summary.next_points.clone(),
        clear: summary.clear.len(),
        resolved: summary.resolved.len(),
    }
}

fn brief(dated: &Dated, show: &Show) -> Brief {
    let f = dated.finding;
    Brief {
        fault: f.fault,
        subject: f.subject.clone(),
        urgency: f.urgency,
        confidence: f.confidence,
        hours: f.hours,
        waste_kwh: f.waste_kwh,
        waste_kwh_per_year: f.waste_kwh_per_year,
        caused_by: f.caused_by,
        new: dated.status == Status::New,
        since_ms: dated.since_ms,
        change: show.sentence(f.change.trim()),
    }
}

/// What to do first: the advice of the report's first finding; where that is about a setting, and nothing is to be mended before, the
/// setting itself.
fn first(review: &Review, summary: &Summary, show: &Show) -> String {
    let setting = match &review.tuning {
        Tuning::Proposed(r) if r.conditional_on.is_empty() => setting(r, show),
        _ => None,
    };
    let Some(dated) = summary.findings.first() else { return setting.unwrap_or_default() };
    let f = dated.finding;
    let set = setting.filter(|_| ABOUT_SETTINGS.contains(&f.fault));
    let change = Some(f.change.trim()).filter(|c| !c.is_empty() && *c != NO_CHANGE);
    let look = f.check_on_site.first().map(|c| c.trim());
    set.or_else(|| change.or(look).map(|text| show.sentence(text)))
        .unwrap_or_else(|| format!("{}: see the report.", words::fault(f.fault)))
}

/// "Set the head at no flow from 100 kPa to 77 kPa."
fn setting(r: &Recommendation, show: &Show) -> Option<String> {
    // The other way of writing a head stands in the plant's report.
    let short = |text: &str| text.split(" (").next().unwrap_or_default().to_owned();
    let changes: Vec<String> = settings::settings(&r.current, &r.proposed, show)
        .into_iter()
        .filter(|s| s.present != s.proposed && !s.proposed.is_empty())
        .map(|s| match s.present.as_str() {
            "" => format!("the {} to {}", s.label, short(&s.proposed)),
            present => format!("the {} from {} to {}", s.label, short(present), short(&s.proposed)),
        })
        .collect();
    (!changes.is_empty()).then(|| format!("Set {}.", words::join(&changes)))
}
