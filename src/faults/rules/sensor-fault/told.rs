//! What is said of a point at fault.

use super::FAULT;
use crate::faults::rules::lines;
use crate::faults::{Case, Evidence, Finding, Shown, Urgency, Verdict};
use crate::plant::Role;

/// Words of a kind of fault.
pub(super) struct Told {
    pub says: &'static str,
    pub could_also_be: &'static [&'static str],
    pub check: &'static [&'static str],
    pub change: &'static str,
}

pub(super) struct Seen<'a> {
    pub confidence: f64,
    pub first_ms: i64,
    pub last_ms: i64,
    pub hours: f64,
    pub because: String,
    pub evidence: Vec<Evidence>,
    pub beside: &'a [String],
    pub shown: Shown,
}

pub(super) fn finding(case: &Case, subject: String, told: &Told, seen: Seen) -> Verdict {
    let role = case.trends.iter().find(|s| s.name == subject).map(|s| s.role);
    // What the pumps are controlled by, and what people are kept warm or cold by.
    let controls = matches!(role, Some(Role::DifferentialPressure | Role::PumpHead | Role::SupplyTemperature));
    let mut could_also_be = lines(told.could_also_be);
    could_also_be.extend(seen.beside.iter().map(|b| format!("\"{b}\" instead, or as well")));
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject,
        urgency: if controls { Urgency::Plan } else { Urgency::Watch },
        confidence: seen.confidence.min(0.97),
        first_seen_ms: seen.first_ms,
        last_seen_ms: seen.last_ms,
        hours: seen.hours,
        waste_kwh: None,
        waste_kwh_per_year: None,
        caused_by: None,
        because: seen.because,
        evidence: seen.evidence,
        could_also_be,
        check_on_site: lines(told.check),
        change: told.change.into(),
        shown: seen.shown,
        caution: case.caution("Put the control in hand before a sensor it follows is touched."),
    }))
}
