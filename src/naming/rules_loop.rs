//! Roles of machines and of the loop as a whole.

use super::concepts::Concept::*;
use super::rules::{FAIR, LIKELY, OPEN, PLAIN, Verdict, WEAK, verdict};
use super::subjects::Name;
use super::{OfKind, Seen};
use crate::plant::{Dimension as D, Role};

/// The role of a point whose name speaks of a chiller, boiler, heat pump or heat exchanger.
pub fn source(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    if name.any(&[Setpoint, Alarm, Dp, DeltaT, Pressure, Power, Current, Condenser, Mode, Starts]) {
        return None;
    }
    let numbered = name.label(OfKind::Source).is_some_and(|l| l.numbered);
    if name.has(Valve) && name.has(Exchanger) && name.any(&[Command, Output, Position]) {
        return super::rules_coil::valve(name);
    }
    if name.has(Valve) {
        return None;
    }
    if !numbered && name.any(&[Plant, Loop]) && name.has(Enable) && name.may_be_state(seen) {
        return enable(name, FAIR);
    }
    let sure = if numbered { FAIR + 0.06 } else { LIKELY };
    if name.binary || name.is_silent() && seen.distinct <= 6 {
        let running = name.any(&[Status, Feedback, On]) && !name.any(&[Command, StartStop, Enable, Output, Flow]);
        if !running || name.has(Exchanger) {
            return None;
        }
        return verdict(Role::SourceStatus, OfKind::Source, sure, "The name speaks of a machine and whether it runs");
    }
    if name.is(D::Flow) || name.is_silent() && name.has(Flow) {
        let score = if name.has(Exchanger) { OPEN } else { sure };
        return verdict(
            Role::SourceFlow,
            OfKind::Source,
            score,
            "The name speaks of a machine and the flow through it",
        );
    }
    // "Kessel 1 Vorlauf" without a unit is a temperature more often than not.
    let implied = name.is_silent() && name.any(&[Supply, Return]) && !name.any(&[Load, Energy, Position]);
    let sure = if implied && !name.has(Temperature) { sure.min(OPEN) } else { sure };
    if !(name.is(D::Temperature) || implied || name.is_silent() && name.has(Temperature))
        || name.any(&[Outdoor, Room, Air])
    {
        return None;
    }
    let sure = if name.has(Exchanger) { sure.min(OPEN) } else { sure };
    let sure = if name.has(Supply) && name.has(Return) { sure.min(OPEN) } else { sure };
    match name.last_way() {
        (true, false) => verdict(
            Role::SourceSupplyTemperature,
            OfKind::Source,
            sure,
            "The name speaks of a machine and the water that leaves it",
        ),
        (false, true) => verdict(
            Role::SourceReturnTemperature,
            OfKind::Source,
            sure,
            "The name speaks of a machine and the water that enters it",
        ),
        _ => None,
    }
}

/// The role of a point whose name speaks of no equipment: the loop's own.
pub fn whole(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    if name.any(&[SupplyAir, ReturnAir, MixedAir, Outdoor, ExhaustAir, Air, Current, Torque, Speed]) {
        return None;
    }
    let own = name.any(&[Chilled, Heating, Condenser]);
    let place = name.any(&[Loop, Plant, Header, Meter, Remote, Water]);
    let told = name.medium().is_some();
    // How far it is said that the loop is meant.
    let meant = match (own, place, told) {
        (true, ..) => PLAIN,
        (_, true, _) => FAIR,
        (_, _, true) => LIKELY + 0.04,
        _ if name.any(&[Cooling, Heat]) || name.words.iter().any(|w| is_water_only(&w.text)) => LIKELY,
        _ => OPEN,
    };
    if name.binary || name.is_silent() && seen.states {
        return enable(name, meant);
    }
    pressure(name, meant)
        .or_else(|| temperature(name, meant))
        .or_else(|| flow(name, meant))
        .or_else(|| load(name, meant))
}

fn enable(name: &Name, meant: f64) -> Option<Verdict> {
    let asked = name.any(&[Plant, Loop]) && name.any(&[On, Command, StartStop]);
    if asked && !name.any(&[Enable, Valve, Alarm, Status, Feedback, Mode, Hand, Auto]) && meant >= LIKELY {
        return verdict(Role::PlantEnable, OfKind::Loop, OPEN, "The name speaks of the plant and a command");
    }
    // "Anlage Ein", "Marche installation".
    let installed = name.words.iter().any(|w| matches!(w.text.as_str(), "anlage" | "installation" | "instalacion"));
    let on = name.words.iter().any(|w| matches!(w.text.as_str(), "ein" | "marche" | "marcha"));
    if installed && on && !name.any(&[Valve, Alarm, Feedback, Mode]) {
        return verdict(Role::PlantEnable, OfKind::Loop, OPEN, "The name speaks of the plant and that it is on");
    }
    if !name.any(&[Enable]) || name.any(&[Valve, Alarm, Status, Feedback]) || meant < LIKELY {
        return None;
    }
    let score = if name.any(&[Plant, Loop]) { meant.min(FAIR + 0.05) } else { meant.min(LIKELY) };
    verdict(Role::PlantEnable, OfKind::Loop, score, "The name speaks of the plant and its release")
}

fn pressure(name: &Name, meant: f64) -> Option<Verdict> {
    // A pressure at the end of the line is a difference: the height of the system says nothing.
    let remote = name.has(Remote) && name.has(Pressure) && !name.any(&[Suction, Discharge, Supply, Return]);
    if !(name.has(Dp) || remote) || !name.may_be(&[D::Pressure, D::Head]) {
        return None;
    }
    if name.any(&[Alarm, Valve, Enable]) || name.is_silent() && name.has(Output) {
        return None;
    }
    // Differential pressure without a word for where is mostly the loop's, in a file of a pumped loop.
    let score = if remote && !name.has(Dp) { OPEN } else { meant.max(LIKELY) };
    let small = name.measured.written.as_deref().is_some_and(|u| matches!(u, "Pa" | "inH2O" | "mmH2O"));
    let score = if small && meant < PLAIN { WEAK } else { score };
    if name.any(&[Setpoint, Command]) {
        return verdict(
            Role::DifferentialPressureSetpoint,
            OfKind::Loop,
            score,
            "The name speaks of the loop's differential pressure and a setpoint",
        );
    }
    verdict(Role::DifferentialPressure, OfKind::Loop, score, "The name speaks of the loop's differential pressure")
}

fn temperature(name: &Name, meant: f64) -> Option<Verdict> {
    let temperature = name.is(D::Temperature) || name.is_silent() && name.has(Temperature);
    let implied =
        name.is_silent() && name.any(&[Chilled, Heating, Condenser, Heat, Cooling]) && name.any(&[Supply, Return]);
    let implied = implied || name.is_silent() && told_supply(name);
    let implied = implied && !name.any(&[Flow, Power, Energy, Load, Head, Meter]);
    if !(temperature || implied) || name.any(&[Setpoint, Command, Enable, Alarm, Valve, Dp, Pressure]) {
        return None;
    }
    let meant = if name.measured.dimension.is_none() && !name.has(Temperature) { meant.min(OPEN) } else { meant };
    let meant = if name.has(Supply) && name.has(Return) { meant.min(OPEN) } else { meant };
    match name.last_way() {
        (true, false) => verdict(
            Role::SupplyTemperature,
            OfKind::Loop,
            meant,
            "The name speaks of the loop's supply and a temperature",
        ),
        (false, true) => verdict(
            Role::ReturnTemperature,
            OfKind::Loop,
            meant,
            "The name speaks of the loop's return and a temperature",
        ),
        _ => None,
    }
}

/// Supply or return in a word of water, or in the file of a medium.
fn told_supply(name: &Name) -> bool {
    name.any(&[Supply, Return]) && (name.medium().is_some() || name.words.iter().any(|w| is_water_only(&w.text)))
}

fn flow(name: &Name, meant: f64) -> Option<Verdict> {
    if !(name.is(D::Flow) || name.is_silent() && name.has(Flow)) || name.any(&[Setpoint, Enable, Valve, Command]) {
        return None;
    }
    let score = if name.any(&[Flow, Meter]) { meant } else { meant.min(LIKELY) };
    let score = if name.any(&[Exchanger]) { score.min(OPEN) } else { score };
    verdict(Role::LoopFlow, OfKind::Loop, score, "The name speaks of the loop's flow")
}

fn load(name: &Name, meant: f64) -> Option<Verdict> {
    if !name.may_be(&[D::Power]) || name.any(&[Setpoint, Electric, Command, Enable]) {
        return None;
    }
    let cold = name
        .measured
        .unit
        .as_ref()
        .is_some_and(|u| matches!(u.written.to_lowercase().as_str(), "tons" | "ton" | "tr" | "rt"));
    let demand = name.has(Load);
    let metered = (name.has(Meter) || name.context.has(Meter) && name.context.has(Thermal))
        && (name.medium().is_some() || name.any(&[Heat, Cooling, Thermal]) || name.context.has(Thermal));
    let silent = name.is_silent() && name.has(Power) && (name.has(Thermal) || metered);
    let told = demand || silent || name.is(D::Power) && (name.any(&[Meter, Thermal]) || cold || metered);
    if !told {
        // kW of a plant is electric more often than not; only a name that says heat or cold is believed.
        let heat = name.is(D::Power) && name.any(&[Cooling, Heat, Chilled, Heating]);
        return heat.then(|| {
            verdict(Role::ThermalLoad, OfKind::Loop, WEAK, "The name speaks of heating or cooling and a power")
        })?;
    }
    let heat = name.any(&[Cooling, Heat]) || name.words.iter().any(|w| w.has(Thermal) && !is_plain_load(&w.text));
    let meant = if heat { meant.max(FAIR) } else { meant };
    let meant = if name.is_silent() { meant.min(LIKELY) } else { meant };
    // A meter without a medium may be anybody's electricity.
    let meant = if !name.has(Load) && name.medium().is_none() && !cold { meant.min(LIKELY) } else { meant };
    verdict(Role::ThermalLoad, OfKind::Loop, meant, "The name speaks of the loop's thermal load")
}

/// Words for a load that may be electric as well.
fn is_plain_load(text: &str) -> bool {
    matches!(text, "load" | "last" | "charge" | "carga" | "carico" | "demand" | "energy_rate" | "thermal" | "th")
}

/// Words for supply and return that nobody uses for air.
fn is_water_only(text: &str) -> bool {
    const WORDS: [&str; 10] =
        ["vl", "rl", "vorlauf", "ruecklauf", "tvl", "trl", "vorlauftemperatur", "ruecklauftemperatur", "depart", "ida"];
    WORDS.contains(&text)
}
