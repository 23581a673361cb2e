//! Names that links into a report use. They are the same each month for the same finding.

use super::summary::Dated;
use crate::faults::Fault;

/// Of one finding: "pump-degraded-p-1".
pub fn of_finding(fault: Fault, subject: &str) -> String {
    let mut out = format!("{}-", fault.code());
    for c in subject.chars().flat_map(char::to_lowercase) {
        if c.is_alphanumeric() {
            out.push(c);
        } else if !out.ends_with('-') {
            out.push('-');
        }
    }
    out.trim_end_matches('-').to_owned()
}

/// Of all findings of a report; where two would share a name, later ones are numbered.
pub fn of_findings(findings: &[Dated]) -> Vec<String> {
    let mut ids: Vec<String> = Vec::with_capacity(findings.len());
    for d in findings {
        let plain = of_finding(d.finding.fault, &d.finding.subject);
        let mut id = plain.clone();
        let mut n = 2;
        while ids.contains(&id) {
            id = format!("{plain}-{n}");
            n += 1;
        }
        ids.push(id);
    }
    ids
}
