//! Roles of terminal units, their coils and rooms.

use super::concepts::Concept::*;
use super::rules::{FAIR, LIKELY, OPEN, PLAIN, Verdict, WEAK, verdict};
use super::subjects::Name;
use super::{OfKind, Seen};
use crate::plant::{Dimension as D, Role};

/// The role of a point whose name speaks of a terminal unit, a coil, a room, a valve or supply air.
pub fn coil(name: &Name, _seen: &Seen<'_>) -> Option<Verdict> {
    if name.has(Valve)
        && !name.is_any(&[D::Temperature, D::Flow, D::Pressure, D::Head])
        && !(name.is_silent() && name.has(Flow))
    {
        return valve(name);
    }
    if name.may_be(&[D::Temperature])
        && (name.is(D::Temperature)
            || name.any(&[Temperature, Setpoint])
            || name.any(&[Supply, Return]) && !name.any(&[Flow, Output])
            || name.has(SupplyAir) && !name.any(&[Fan, Valve, Flow, Output, Pressure, Position, Damper, Humidity]))
    {
        return temperature(name);
    }
    if name.is(D::Flow) || name.is_silent() && name.has(Flow) {
        return flow(name);
    }
    if name.is_any(&[D::Fraction]) && name.has(Coil) && name.any(&[Position, Command, Output, Feedback]) {
        return valve(name);
    }
    if name.may_be(&[D::Fraction])
        && name.has(Unit)
        && name.any(&[Cooling, Heat, Reheat])
        && name.any(&[Command, Output])
    {
        return valve(name).map(|v| Verdict { score: v.score.min(OPEN), ..v });
    }
    if name.is(D::Fraction) && name.has(Unit) && name.has(Load) {
        let why = "The name speaks of a unit's demand, which may be its valve's signal";
        return verdict(Role::ValveCommand, OfKind::Coil, WEAK, why);
    }
    if name.is(D::Fraction) && name.any(&[Unit]) && name.any(&[Chilled, Heating]) && name.any(&[Position, Command]) {
        return valve(name).map(|v| Verdict { score: v.score.min(OPEN), ..v });
    }
    None
}

pub fn valve(name: &Name) -> Option<Verdict> {
    if !name.may_be(&[D::Fraction, D::Voltage]) || name.any(&[Alarm, Mode, Enable, Pressure, Speed, Power, Current]) {
        return None;
    }
    // A valve in the air of a laboratory is none in water.
    if [SupplyAir, ReturnAir, ExhaustAir].iter().any(|air| name.has(ExhaustAir) || name.follows(*air, Valve)) {
        return None;
    }
    let owned = name.any(&[Unit, Room]);
    let mut score = match (owned, name.has(Coil)) {
        (true, _) => PLAIN,
        (false, true) => FAIR,
        // A valve of nobody: a mixing valve, an isolating valve, a coil's.
        _ => OPEN,
    };
    if name.any(&[Source, Header, Loop]) {
        score = score.min(WEAK);
    }
    if name.any(&[Command, Output, Setpoint]) && !name.has(Feedback) {
        let score = if name.has(Setpoint) { score.min(OPEN) } else { score };
        return verdict(Role::ValveCommand, OfKind::Coil, score, "The name speaks of a coil's valve and a command");
    }
    let score = if name.is_silent() && !name.has(Position) { score.min(LIKELY) } else { score };
    verdict(Role::ValvePosition, OfKind::Coil, score, "The name speaks of a coil's valve and how far it is open")
}

fn temperature(name: &Name) -> Option<Verdict> {
    let asked = name.has(Setpoint);
    let water = name.any(&[Chilled, Heating, Condenser, Water]);
    if name.any(&[MixedAir, Enable, Command, Alarm]) {
        return None;
    }
    if name.any(&[SupplyAir, Discharge]) && !water {
        let role = if asked { Role::AirTemperatureSetpoint } else { Role::AirTemperature };
        let owned = name.any(&[Unit, Coil]) || name.has(Room);
        let score = if owned { PLAIN } else { OPEN };
        let asked = if asked { " setpoint" } else { "" };
        return verdict(
            role,
            OfKind::Coil,
            score,
            format!("The name speaks of a unit's leaving air and a temperature{asked}"),
        );
    }
    // "Raum 2 Ausblastemperatur", "Sala 8 temperatura impulsión".
    let blown = name.words.iter().any(|w| is_air_side(&w.text)) && !name.has(Return);
    if name.has(Room) && !name.has(Unit) && blown && !water {
        let role = if asked { Role::AirTemperatureSetpoint } else { Role::AirTemperature };
        return verdict(role, OfKind::Coil, LIKELY, "The name speaks of a room's supply and a temperature");
    }
    if name.has(Room) && !((water || name.has(Coil)) && name.any(&[Supply, Return])) {
        let role = if asked { Role::SpaceTemperatureSetpoint } else { Role::SpaceTemperature };
        if name.has(ReturnAir) {
            return None;
        }
        // One of several setpoints: the one in force is another point.
        let plain = !name.has(Occupancy) && (name.has(Temperature) || name.is(D::Temperature) || asked);
        let score = if plain { PLAIN } else { OPEN };
        let asked = if asked { " setpoint" } else { "" };
        return verdict(role, OfKind::Coil, score, format!("The name speaks of a room and a temperature{asked}"));
    }
    let says_air = name.words.iter().any(|w| is_air_side(&w.text));
    if asked
        && name.has(Unit)
        && !water
        && !name.any(&[Flow, Dp, Pressure, Position])
        && !name.any(&[ReturnAir, Return])
    {
        if says_air {
            return verdict(
                Role::AirTemperatureSetpoint,
                OfKind::Coil,
                LIKELY,
                "The name speaks of a unit's supply and a setpoint",
            );
        }
        if name.words.iter().any(|w| is_zonal(&w.text)) && !name.any(&[Supply, Discharge]) {
            let score = LIKELY;
            return verdict(
                Role::SpaceTemperatureSetpoint,
                OfKind::Coil,
                score,
                "The name speaks of a room's unit and a setpoint",
            );
        }
    }
    if asked || name.has(ReturnAir) {
        return None;
    }
    // On a coil "leaving" water is its return to the plant, and so is "return".
    let leaving = name.any(&[Supply]);
    let out = name.has(Return) && !name.words.iter().any(|w| is_entering(&w.text))
        || leaving && water && name.words.iter().any(|w| is_leaving(&w.text));
    let lwt = name.has(Coil) && name.words.iter().any(|w| matches!(w.text.as_str(), "lwt" | "rwt"));
    if (water || name.has(Coil)) && out || lwt {
        let score = if water || name.german { FAIR + 0.04 } else { OPEN };
        return verdict(
            Role::CoilReturnTemperature,
            OfKind::Coil,
            score,
            "The name speaks of a coil and the water that leaves it",
        );
    }
    if name.has(Unit) && leaving && !water && !name.has(Coil) {
        // On an air handler "supply" is air; "leaving" may be either.
        let score = if says_air { LIKELY } else { WEAK };
        return verdict(
            Role::AirTemperature,
            OfKind::Coil,
            score,
            "The name speaks of a unit's supply and a temperature",
        );
    }
    let bare = !name.any(&[Supply, Return, Discharge, Coil, ReturnAir]) && !water;
    if bare && name.has(Temperature) && name.words.iter().any(|w| is_zonal(&w.text)) {
        let why = "The name speaks of a room's unit and a temperature";
        return verdict(Role::SpaceTemperature, OfKind::Coil, OPEN, why);
    }
    None
}

/// Words for supply that mean air on a unit.
fn is_air_side(text: &str) -> bool {
    text.starts_with("sup") || matches!(text, "impulsion" | "mandata" | "spl" | "sply" | "insuflacao")
}

/// Units that serve one room or zone.
fn is_zonal(text: &str) -> bool {
    const UNITS: [&str; 17] = [
        "chb",
        "chbm",
        "ch_bm",
        "chilled_beam",
        "beam",
        "vav",
        "fcu",
        "fc",
        "fcv",
        "vcv",
        "fancoil",
        "fan_coil",
        "ventilo",
        "fpb",
        "fptu",
        "uv",
        "uh",
    ];
    UNITS.contains(&text)
}

/// Words for water that goes into a coil, among those read as return of a loop.
fn is_entering(text: &str) -> bool {
    matches!(
        text,
        "entering"
            | "ent"
            | "ewt"
            | "entree"
            | "entrada"
            | "inlet"
            | "ingresso"
            | "eintritt"
            | "echwt"
            | "ehwt"
            | "in"
            | "hwet"
            | "chwet"
            | "eintr"
            | "entr"
            | "e"
    )
}

/// Words for water that comes out of a coil, among those read as supply of a loop.
fn is_leaving(text: &str) -> bool {
    matches!(
        text,
        "leaving"
            | "lvg"
            | "lwt"
            | "sortie"
            | "salida"
            | "outlet"
            | "uscita"
            | "austritt"
            | "lchwt"
            | "chwlt"
            | "out"
            | "hwlt"
            | "lhwt"
            | "salida_agua"
            | "aust"
            | "l"
            | "lt"
            | "output"
    )
}

fn flow(name: &Name) -> Option<Verdict> {
    if name.has(Setpoint) || name.any(&[SupplyAir, ReturnAir, Air, Outdoor]) {
        return None;
    }
    let water = name.any(&[Chilled, Heating, Water, Coil]);
    // Air is told in m3/h and l/s too; in gpm it is not.
    let gallons = name.measured.written.as_deref().is_some_and(|u| matches!(u, "gpm" | "L/h" | "L/min" | "kg/s"));
    let score = match (water, gallons) {
        (true, _) => FAIR + 0.06,
        (false, true) => LIKELY,
        _ => WEAK,
    };
    verdict(Role::CoilFlow, OfKind::Coil, score, "The name speaks of a unit or coil and a flow of water")
}
