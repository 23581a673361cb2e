//! What could not be judged most often, and the points that would settle most of it.

use super::Line;
use crate::plant::Role;

/// A fault that could not be judged, counted over plants.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Untold {
    /// A fault's code, or `recommendation`.
    pub fault: &'static str,
    pub plants: usize,
    /// What was missing most often, and in how many of these plants; `None` where nothing was missing but length or quality of the record.
    pub missing: Option<(String, usize)>,
}

/// A point that would settle what could not be judged, over all plants that lack it.
#[derive(Debug, Clone, PartialEq)]
pub struct NextTally {
    pub role: Role,
    /// It settles these only together with a point of this role.
    pub with: Option<Role>,
    pub plants: usize,
    /// Codes of faults, each once.
    pub would_settle: Vec<&'static str>,
    /// What these faults usually waste in loops of such energy, the plants whose energy is known added [kWh a year].
    pub worth_kwh_per_year: f64,
}

/// Faults by the number of plants in which they could not be judged.
pub(super) fn untold(lines: &[Line]) -> Vec<Untold> {
    let mut seen: Vec<(&'static str, usize, Vec<(String, usize)>)> = Vec::new();
    for line in lines {
        let mut faults: Vec<&'static str> = line.extract.not_judged.iter().map(|n| n.fault).collect();
        faults.sort_unstable();
        faults.dedup();
        for fault in faults {
            let at = seen.iter().position(|s| s.0 == fault).unwrap_or_else(|| {
                seen.push((fault, 0, Vec::new()));
                seen.len() - 1
            });
            seen[at].1 += 1;
            let of_fault = line.extract.not_judged.iter().filter(|n| n.fault == fault);
            let mut missing: Vec<&String> = of_fault.flat_map(|n| &n.missing).collect();
            missing.sort_unstable();
            missing.dedup();
            for what in missing {
                match seen[at].2.iter_mut().find(|m| m.0 == *what) {
                    Some(m) => m.1 += 1,
                    None => seen[at].2.push((what.clone(), 1)),
                }
            }
        }
    }
    let mut all: Vec<Untold> = seen
        .into_iter()
        .map(|(fault, plants, mut missing)| {
            missing.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
            Untold { fault, plants, missing: missing.into_iter().next() }
        })
        .collect();
    all.sort_by(|a, b| b.plants.cmp(&a.plants).then(a.fault.cmp(b.fault)));
    all
}

/// Points by what they are worth over all plants.
pub(super) fn next(lines: &[Line]) -> Vec<NextTally> {
    let mut all: Vec<NextTally> = Vec::new();
    for point in lines.iter().flat_map(|l| &l.extract.next_points) {
        let at = all.iter().position(|t| t.role == point.role && t.with == point.with).unwrap_or_else(|| {
            let (role, with) = (point.role, point.with);
            all.push(NextTally { role, with, plants: 0, would_settle: Vec::new(), worth_kwh_per_year: 0.0 });
            all.len() - 1
        });
        let tally = &mut all[at];
        tally.plants += 1;
        tally.would_settle.extend(&point.would_settle);
        tally.would_settle.sort_unstable();
        tally.would_settle.dedup();
        if point.worth_kwh_per_year.is_finite() {
            tally.worth_kwh_per_year += point.worth_kwh_per_year;
        }
    }
    let order = |t: &NextTally| (t.role.word(), t.with.map(Role::word));
    all.sort_by(|a, b| {
        b.worth_kwh_per_year
            .total_cmp(&a.worth_kwh_per_year)
            .then(b.plants.cmp(&a.plants))
            .then_with(|| order(a).cmp(&order(b)))
    });
    all
}
