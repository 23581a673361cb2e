//! From what a name says to a role, with the reason.

use super::concepts::Concept::*;
use super::evidence;
use super::refusals;
use super::subjects::Name;
use super::{OfKind, Proposal, Seen, UnitFrom};
use crate::plant::{Dimension as D, Role};

/// A role with how sure the name alone makes it.
#[derive(Debug, Clone)]
pub struct Verdict {
    pub role: Role,
    pub kind: Option<OfKind>,
    pub score: f64,
    pub why: String,
}

pub fn verdict(role: Role, kind: OfKind, score: f64, why: impl Into<String>) -> Option<Verdict> {
    Some(Verdict { role, kind: Some(kind), score, why: why.into() })
}

/// How sure, by what the name leaves open. Counted on the list that was written for it (tests/it/names/development.csv).
pub const PLAIN: f64 = 0.97;
pub const FAIR: f64 = 0.9;
pub const LIKELY: f64 = 0.83;
pub const OPEN: f64 = 0.65;
pub const WEAK: f64 = 0.45;

/// The proposal for one point from its own name, unit and values.
pub fn judge(name: &Name, seen: &Seen<'_>) -> Proposal {
    let verdict = match refusals::refused(name) {
        Some(what) => refusals::placed(name, seen).ok_or_else(|| format!("No role: the name speaks of {what}.")),
        None => super::guess::instead(name, seen, role(name, seen)).ok_or_else(|| nothing(name)),
    };
    let mut proposal = Proposal {
        role: None,
        of: None,
        of_kind: None,
        confidence: 0.0,
        unit: name.measured.written.clone(),
        unit_from: name.measured.written.as_ref().and(name.measured.from),
        why: String::new(),
    };
    match verdict {
        Err(why) => proposal.why = why,
        Ok(verdict) => settle(&mut proposal, verdict, name, seen),
    }
    proposal
}

fn nothing(name: &Name) -> String {
    if name.words.iter().all(|w| w.means.is_empty() || w.has(Noise) || w.number) {
        return "No role: no word of the name is known.".to_owned();
    }
    "No role: name and unit together fit none.".to_owned()
}

/// Weighs a verdict by unit and values, and writes it down.
fn settle(proposal: &mut Proposal, verdict: Verdict, name: &Name, seen: &Seen<'_>) {
    let Verdict { role, kind, mut score, mut why } = verdict;
    let fits =
        |d: D| role.dimensions().contains(&d) || d == D::Count && name.binary || d == D::Voltage && may_be_volts(role);
    if name.measured.foreign || name.measured.dimension.is_some_and(|d| !fits(d) && d != D::Count) {
        proposal.why = format!("No role: the name reads like {}, but the unit measures something else.", role.word());
        return;
    }
    let states = role.dimensions() == [D::Count];
    if name.binary && !states {
        proposal.why = format!("No role: the name reads like {}, but the cells are states.", role.word());
        return;
    }
    if let Some(doubt) = evidence::against(role, seen, name.measured.unit.as_ref()) {
        score = score.min(WEAK);
        why = format!("{why}, but {doubt}");
    } else if name.measured.dimension.is_none() && !states {
        score *= 0.98;
        why = format!("{why}; no unit confirms it");
    } else if let (false, Some(written)) = (states, &name.measured.written) {
        why = format!("{why}; the unit {written} agrees");
    }
    score *= 0.985_f64.powi(name.unknown.min(3) as i32);
    if proposal.unit.is_none()
        && !states
        && name.measured.dimension.is_none()
        && let Some(unit) =
            evidence::from_values(role, name.medium() == Some(Heating), (seen.low, seen.mean, seen.high), seen.distinct)
    {
        proposal.unit = Some(unit.to_owned());
        proposal.unit_from = Some(UnitFrom::Values);
        why = format!("{why}; the unit {unit} is read off the values and should be checked");
    }
    if states {
        (proposal.unit, proposal.unit_from) = (None, None);
    }
    proposal.role = Some(role);
    proposal.of_kind = kind;
    proposal.of = kind.and_then(|k| name.label(k)).map(|l| l.text);
    proposal.confidence = (score * 100.0).round() / 100.0;
    proposal.why = format!("{why}.");
}

/// Roles whose reading may be a signal in volts, with a range.
fn may_be_volts(role: Role) -> bool {
    matches!(
        role,
        Role::ValvePosition | Role::ValveCommand | Role::BypassPosition | Role::PumpSpeed | Role::PumpSpeedCommand
    )
}

/// The role that name and unit ask for.
pub fn role(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    if name.any(&[Pump, Pumps]) {
        return super::rules_pump::pump(name, seen);
    }
    if name.has(Outdoor) && name.any(&[Temperature, Air]) || name.has(Outdoor) && name.is(D::Temperature) {
        return outdoor(name);
    }
    // "OSA", "Ambient" with many readings and no unit: what is read outdoors is mostly the temperature.
    let other = [Flow, Dp, Pressure, Position, Speed, Humidity, Supply, Return, Status, Unit, Room, Setpoint, Limit];
    if name.has(Outdoor) && name.is_silent() && seen.distinct > 12 && !name.any(&other) {
        return outdoor(name).map(|v| Verdict { score: v.score.min(OPEN), ..v });
    }
    if name.has(Fan) {
        return fan(name, seen);
    }
    if name.has(Bypass) {
        return bypass(name, seen);
    }
    if name.has(Drive) && !name.is(D::Temperature) && !name.any(&[Unit, Coil, Room, SupplyAir, Air, Source]) {
        return super::rules_pump::drive(name, seen);
    }
    // The sensor at the last coil reads the loop.
    if name.has(Dp) && name.has(Remote) && name.may_be(&[D::Pressure, D::Head]) {
        return super::rules_loop::whole(name, seen);
    }
    if name.has(Dp) && name.has(Room) && name.any(&[Chilled, Heating]) && !name.any(&[Unit, Coil, Valve]) {
        return super::rules_loop::whole(name, seen);
    }
    // A sensor at the far unit, told from one across its filter by what it reads.
    let si = |value: f64| name.measured.unit.as_ref().map_or(0.0, |u| value * u.factor);
    let water = name.any(&[Chilled, Heating]) || name.is(D::Pressure) && si(seen.mean) > 5.0;
    if name.has(Dp) && name.has(Unit) && water && !name.any(&[Coil, Valve, SupplyAir, Filter, Fan, Air, Pump]) {
        return super::rules_loop::whole(name, seen).map(|v| Verdict { score: v.score.min(OPEN), ..v });
    }
    if name.has(Dp) && name.has(Unit) && name.any(&[Chilled, Heating]) && !name.any(&[Coil, Valve, SupplyAir, Filter]) {
        return super::rules_loop::whole(name, seen).map(|v| Verdict { score: v.score.min(OPEN), ..v });
    }
    // "LPHW zone 2 flow temp": of the circuit that serves the zone.
    let served = name.any(&[Chilled, Heating]) && name.any(&[Supply, Return]) && name.may_be(&[D::Temperature]);
    if name.has(Room) && served && !name.any(&[Unit, Coil, Valve, SupplyAir, Setpoint]) {
        return super::rules_loop::whole(name, seen).map(|v| Verdict { score: v.score.min(OPEN), ..v });
    }
    if name.any(&[Unit, Coil, Room]) {
        return super::rules_coil::coil(name, seen);
    }
    if name.has(Evaporator) && !name.has(Source) && name.any(&[Supply, Return, Flow]) {
        let found = super::rules_loop::source(name, seen)?;
        return Some(Verdict { score: found.score.min(OPEN), ..found });
    }
    if name.has(Source) {
        return super::rules_loop::source(name, seen);
    }
    if name.any(&[SupplyAir, Valve]) {
        return super::rules_coil::coil(name, seen);
    }
    super::rules_loop::whole(name, seen)
}

fn outdoor(name: &Name) -> Option<Verdict> {
    if !name.may_be(&[D::Temperature]) || name.any(&[Setpoint, Enable, Command, Damper, Valve, Flow]) {
        return None;
    }
    let score = if name.has(Temperature) || name.is(D::Temperature) { PLAIN } else { OPEN };
    Some(Verdict {
        role: Role::OutdoorTemperature,
        kind: None,
        score,
        why: "The name speaks of outdoor air and a temperature".to_owned(),
    })
}

fn fan(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    let ours = name.any(&[Unit, Room]) || name.has(SupplyAir);
    let bare = name.binary && name.has(Unit) && name.has(SupplyAir) && !name.any(&[Output, Input, Drive]);
    if !ours || name.any(&[ReturnAir, ExhaustAir, Alarm, StartStop, Command, Mode, Enable, Dp, Speed, Setpoint]) {
        return None;
    }
    if !name.may_be_state(seen) || !(bare || name.any(&[Status, Feedback, On])) {
        return None;
    }
    let score = match (name.has(Unit), name.has(SupplyAir)) {
        _ if !name.any(&[Status, Feedback, On]) => OPEN,
        (true, _) => FAIR + 0.05,
        (false, true) => OPEN,
        _ => WEAK,
    };
    verdict(Role::FanStatus, OfKind::Coil, score, "The name speaks of a terminal unit's fan and whether it runs")
}

fn bypass(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    let air = name.any(&[SupplyAir, Air, Fan, Unit]);
    if name.any(&[Drive, Alarm, Source]) || air && name.has(Unit) {
        return None;
    }
    // "Min flow bypass" that ends at 100: a position, no flow.
    let share = name.is_silent() && !name.has(Setpoint) && seen.low >= 0.0 && (99.0..=101.0).contains(&seen.high);
    if share && !name.any(&[Valve, Position]) {
        let why = "The name speaks of the bypass, and its values run as % do";
        return verdict(Role::BypassPosition, OfKind::Loop, OPEN, why);
    }
    if name.is(D::Flow) || name.is_silent() && name.has(Flow) && !name.has(Valve) {
        if name.has(Setpoint) {
            return None;
        }
        return verdict(Role::BypassFlow, OfKind::Loop, FAIR + 0.05, "The name speaks of the bypass and a flow");
    }
    if name.is_any(&[D::Fraction, D::Voltage]) || name.is_silent() && name.any(&[Valve, Position]) {
        if name.has(Setpoint) {
            return None;
        }
        let score = if name.has(Valve) || name.has(Position) { FAIR + 0.05 } else { LIKELY };
        let score = if name.any(&[Command, Output]) { LIKELY } else { score };
        return verdict(
            Role::BypassPosition,
            OfKind::Loop,
            score,
            "The name speaks of the bypass valve and how far it is open",
        );
    }
    None
}
