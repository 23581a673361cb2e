//! The point to trend next: the one or two that would settle most of what could not be told.
//!
//! Comes in: the verdicts, the plant and its pump energy. Goes out: [`NextPoint`]s, the best first, each with the energy that what it settles
//! usually wastes. The decision a reader would question: worth is what the faults it settles waste in loops of this trade (`needs.rs`)
//! times this loop's energy; a point whose fault was cleared or found is worth nothing, and one that settles a fault only together with
//! a second is named with it. A fault that cannot be told although all its points are there (record too short, no
//! declared curve) is helped by no point.

use super::needs::{Known, NEEDS, Need};
use super::price::YEAR_H;
use super::{Fault, Verdict};
use crate::plant::{Plant, Role};

/// A point that is not trended and would help.
#[derive(Debug, Clone, PartialEq)]
pub struct NextPoint {
    pub role: Role,
    /// Pump or coil; `None` for the loop.
    pub of: Option<String>,
    /// Codes of faults, and "recommendation".
    pub would_settle: Vec<&'static str>,
    /// It settles these only together with this one.
    pub with: Option<Role>,
    /// What the faults it settles usually waste in a loop of this energy [kWh a year]; NaN where the loop's energy is not known.
    pub worth_kwh_per_year: f64,
}

/// What the tool could not recommend without valves: a lower curve is met in so many loops, and saves so much of the pump energy [-] (common
/// practice, no source).
const TUNING_WORTH: f64 = 0.5 * 0.2;
/// The code of what `tuning` answers.
const RECOMMENDATION: &str = "recommendation";
/// Points named at most.
const MOST: usize = 4;

/// Points worth trending, best first. `energy_kwh` is the pumps' over `hours` of record.
#[must_use]
pub fn best(verdicts: &[Verdict], untuned: bool, plant: &Plant, energy_kwh: f64, hours: f64) -> Vec<NextPoint> {
    let open = open(verdicts);
    let yearly = if energy_kwh > 0.0 && hours > 0.0 { energy_kwh / hours * YEAR_H } else { f64::NAN };
    let trended = Trended::of(plant);
    let candidates = Trended::CANDIDATES.into_iter().filter(|r| !trended.complete(*r, plant));
    let candidates: Vec<Role> = candidates.collect();
    let mut found: Vec<(f64, NextPoint)> = Vec::new();
    for role in &candidates {
        let settled = settled(&open, &trended, &[*role]);
        found.extend(told(plant, *role, None, &settled, untuned && *role == Role::ValvePosition, yearly));
    }
    // A pair counts for what neither settles alone; half of its worth a point, since two must be wired.
    for (k, a) in candidates.iter().enumerate() {
        for b in &candidates[k + 1..] {
            let alone = |n: &&&Need| ![*a, *b].iter().any(|r| trended.with(&[*r]).meets(n));
            let both: Vec<&Need> = settled(&open, &trended, &[*a, *b]).iter().copied().filter(|n| alone(&n)).collect();
            found.extend(told(plant, *a, Some(*b), &both, false, yearly).map(|(w, p)| (w / 2.0, p)));
        }
    }
    found.sort_by(|a, b| {
        b.0.total_cmp(&a.0).then(a.1.role.word().cmp(b.1.role.word())).then(a.1.with.is_some().cmp(&b.1.with.is_some()))
    });
    without_repeats(found)
}

/// Points whose faults an earlier, better point settles as well are left out.
fn without_repeats(found: Vec<(f64, NextPoint)>) -> Vec<NextPoint> {
    let mut kept: Vec<NextPoint> = Vec::new();
    for (_, p) in found {
        let new = p.would_settle.iter().any(|f| kept.iter().all(|k| !k.would_settle.contains(f)));
        if new && kept.len() < MOST {
            kept.push(p);
        }
    }
    kept
}

fn told(
    plant: &Plant,
    role: Role,
    with: Option<Role>,
    settled: &[&Need],
    tunes: bool,
    yearly: f64,
) -> Option<(f64, NextPoint)> {
    if settled.is_empty() && !tunes {
        return None;
    }
    let share: f64 = settled.iter().map(|n| n.met * n.wastes).sum::<f64>() + if tunes { TUNING_WORTH } else { 0.0 };
    let recommendation = tunes.then_some(RECOMMENDATION);
    let would_settle = settled.iter().map(|n| n.fault.code()).chain(recommendation).collect();
    let of = subject(plant, role);
    Some((share, NextPoint { role, of, would_settle, with, worth_kwh_per_year: share * yearly }))
}

/// Faults that could not be told for a subject and were neither found nor cleared for any.
fn open(verdicts: &[Verdict]) -> Vec<&'static Need> {
    let any = |is: &dyn Fn(&Verdict) -> bool| verdicts.iter().any(is);
    let told = |fault: Fault| {
        any(&|v| match v {
            Verdict::Found(f) => f.fault == fault,
            Verdict::Clear { fault: f, .. } => *f == fault,
            Verdict::CannotTell { .. } => false,
        })
    };
    let untold = |fault: Fault| any(&|v| matches!(v, Verdict::CannotTell { fault: f, .. } if *f == fault));
    NEEDS.iter().filter(|n| untold(n.fault) && !told(n.fault)).collect()
}

fn settled(open: &[&'static Need], trended: &Trended, more: &[Role]) -> Vec<&'static Need> {
    let then = trended.with(more);
    open.iter().copied().filter(|n| !trended.meets(n) && then.meets(n)).collect()
}

/// Whose point it would be: the first pump without one, the index coil or the one with most design flow.
fn subject(plant: &Plant, role: Role) -> Option<String> {
    let has = |of: &str| plant.points.iter().any(|p| p.role == role && p.of.as_deref() == Some(of));
    match role {
        Role::PumpSpeed | Role::PumpPower | Role::PumpStatus | Role::PumpStarts | Role::PumpHead => {
            plant.pumps.iter().map(|p| p.name.as_str()).find(|n| !has(n)).map(str::to_owned)
        }
        Role::ValvePosition => {
            let flow = |c: &crate::plant::Coil| c.design_flow.map_or(0.0, crate::quantity::Flow::in_m3h);
            let without = plant.coils.iter().filter(|c| !has(&c.name));
            without.max_by(|a, b| a.index.cmp(&b.index).then(flow(a).total_cmp(&flow(b)))).map(|c| c.name.clone())
        }
        _ => None,
    }
}

/// Which roles the plant trends, and whether its pumps have tables.
struct Trended {
    roles: Vec<Role>,
    head_table: bool,
    power_table: bool,
}

impl Trended {
    /// What may be advised.
    const CANDIDATES: [Role; 9] = [
        Role::PumpPower,
        Role::PumpHead,
        Role::LoopFlow,
        Role::ValvePosition,
        Role::SupplyTemperature,
        Role::ReturnTemperature,
        Role::PumpSpeed,
        Role::PumpStatus,
        Role::PumpStarts,
    ];

    fn of(plant: &Plant) -> Self {
        let all = |has: &dyn Fn(&crate::plant::TestedCurve) -> bool| {
            !plant.pumps.is_empty() && plant.pumps.iter().all(|p| p.curves.iter().any(has))
        };
        Self {
            roles: plant.points.iter().map(|p| p.role).collect(),
            head_table: all(&|c| !c.head_kpa.is_empty()),
            power_table: all(&|c| !c.power_kw.is_empty()),
        }
    }

    fn with(&self, more: &[Role]) -> Self {
        let roles = self.roles.iter().chain(more).copied().collect();
        Self { roles, head_table: self.head_table, power_table: self.power_table }
    }

    fn any(&self, roles: &[Role]) -> bool {
        self.roles.iter().any(|r| roles.contains(r))
    }

    /// Nothing more of this role could be wired: every pump or coil has one.
    fn complete(&self, role: Role, plant: &Plant) -> bool {
        match role {
            Role::PumpHead => self.head() || subject(plant, role).is_none(),
            Role::ValvePosition | Role::PumpSpeed | Role::PumpPower | Role::PumpStatus | Role::PumpStarts => {
                subject(plant, role).is_none()
            }
            _ => self.any(&[role]),
        }
    }

    fn head(&self) -> bool {
        self.any(&[Role::PumpHead]) || (self.any(&[Role::SuctionPressure]) && self.any(&[Role::DischargePressure]))
    }

    fn power(&self) -> bool {
        self.any(&[Role::PumpPower, Role::TotalPower])
    }

    fn metered(&self) -> bool {
        self.any(&[Role::LoopFlow, Role::PumpFlow])
    }

    fn known(&self, what: Known) -> bool {
        let speed = self.any(&[Role::PumpSpeed]);
        match what {
            Known::Point(roles) => self.any(roles),
            Known::Flow => {
                self.metered() || (speed && ((self.head() && self.head_table) || (self.power() && self.power_table)))
            }
            Known::Head => self.head() || self.any(&[Role::DifferentialPressure]),
            Known::Witnesses => {
                let by_table = [self.head() && self.head_table, self.power() && self.power_table, self.metered()];
                by_table.into_iter().filter(|b| *b).count() >= 2
            }
        }
    }

    fn meets(&self, need: &Need) -> bool {
        need.all_of.iter().all(|k| self.known(*k))
    }
}
