//! What could not be judged most often, and the points that would settle most of it.

use super::Line;
use crate::plant::Role;
use std::collections::{BTreeMap, BTreeSet};

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

/// A fault's plants, and those of each thing that was missing in them.
#[derive(Default)]
struct Count<'l> {
    plants: usize,
    missing: BTreeMap<&'l str, usize>,
}

/// Faults by the number of plants in which they could not be judged.
pub(super) fn untold(lines: &[Line]) -> Vec<Untold> {
    let mut seen: BTreeMap<&'static str, Count> = BTreeMap::new();
    for line in lines {
        // Each once a plant, however many pumps and coils it has.
        let mut of_plant: BTreeMap<&'static str, BTreeSet<&str>> = BTreeMap::new();
        for n in &line.extract.not_judged {
            of_plant.entry(n.fault).or_default().extend(n.missing.iter().map(String::as_str));
        }
        for (fault, missing) in of_plant {
            let count = seen.entry(fault).or_default();
            count.plants += 1;
            for what in missing {
                *count.missing.entry(what).or_default() += 1;
            }
        }
    }
    let mut all: Vec<Untold> = seen
        .into_iter()
        .map(|(fault, count)| {
            // Of equals the first by name.
            let most = count.missing.into_iter().rev().max_by_key(|m| m.1);
            Untold { fault, plants: count.plants, missing: most.map(|(what, n)| (what.to_owned(), n)) }
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
