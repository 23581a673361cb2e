//! What the unit and the values say, for and against.

use super::{Seen, UnitFrom};
use crate::plant::{Dimension, Role, Unit, units};

/// A unit as read.
#[derive(Debug, Clone, Default)]
pub struct Measured {
    pub dimension: Option<Dimension>,
    /// Its canonical spelling, where a plant file may say it.
    pub written: Option<String>,
    pub unit: Option<Unit>,
    pub from: Option<UnitFrom>,
    /// A unit was written that no role has: ppm, cfm, lux.
    pub foreign: bool,
    /// Cells or unit say on and off.
    pub states: bool,
}

/// Words of a unit column that say the cells are states.
const STATES: [&str; 29] = [
    "mode",
    "status",
    "multistate",
    "multi-state",
    "msv",
    "text",
    "hoa",
    "on/off",
    "off/on",
    "onoff",
    "ein/aus",
    "aus/ein",
    "marche/arret",
    "marche/arrêt",
    "on-off",
    "bool",
    "boolean",
    "binary",
    "state",
    "enum",
    "marcha/paro",
    "0/1",
    "open/closed",
    "auto/hand",
    "hand/auto",
    "true/false",
    "start/stop",
    "digital",
    "run/stop",
];
/// Words of two states, as in "yes/no".
const STATE_WORDS: [&str; 40] = [
    "yes", "no", "on", "off", "run", "running", "stop", "stopped", "start", "started", "active", "inactive", "normal",
    "alarm", "ok", "fault", "trip", "tripped", "open", "closed", "auto", "hand", "manual", "ja", "nein", "ein", "aus",
    "oui", "non", "marche", "arret", "arrêt", "defaut", "défaut", "si", "sí", "marcha", "paro", "enabled", "disabled",
];

fn is_state(word: &str) -> bool {
    let word = word.trim();
    STATE_WORDS.contains(&word)
        || matches!(
            word,
            "true"
                | "false"
                | "man"
                | "local"
                | "remote"
                | "0"
                | "1"
                | "manu"
                | "low"
                | "medium"
                | "high"
                | "stoerung"
                | "störung"
                | "averia"
                | "healthy"
        )
}

/// Units of air, light and the like: nothing of water has them.
const FOREIGN: [&str; 12] =
    ["cfm", "scfm", "ppm", "ppb", "lux", "ug/m3", "w/m2", "kg", "btu/lb", "kj/kg", "%rh", "m/s"];

/// The unit text of the export.
pub fn from_text(text: &str) -> Measured {
    let trimmed = text.trim().trim_matches(|c| matches!(c, '[' | ']' | '(' | ')')).trim();
    let lower = trimmed.to_lowercase();
    if trimmed.is_empty()
        || matches!(
            lower.as_str(),
            "-" | "--"
                | "none"
                | "n/a"
                | "na"
                | "null"
                | "units"
                | "unit"
                | "unitless"
                | "no units"
                | "no-units"
                | "nounits"
        )
    {
        return Measured::default();
    }
    let parts = lower.split(['/', '|', ',']);
    let pair = (2..=5).contains(&parts.clone().count()) && parts.into_iter().all(is_state);
    if pair || STATES.contains(&lower.as_str()) {
        return Measured { states: true, from: Some(UnitFrom::Header), ..Measured::default() };
    }
    if FOREIGN.contains(&lower.as_str()) || lower.contains("rh") || lower.contains("r.h") || lower.contains("r.f") {
        return Measured { foreign: true, ..Measured::default() };
    }
    // Two spellings that the trade means one way on water plants, and a mass flow, which has no place in a plant file.
    let spelt = match trimmed {
        "mbtuh" | "mbtu/h" | "MBtu/hr" | "MBTU/HR" | "MBtuh" => "MBH",
        "tonR" | "tonsR" | "tons R" => "tons",
        "mw" if lower == "mw" && trimmed != "mw" => "MW",
        other => other,
    };
    read(spelt, UnitFrom::Header)
}

/// A unit's text through the table of the plant file.
pub fn read(text: &str, from: UnitFrom) -> Measured {
    match units::unit(text) {
        Ok(unit) => Measured {
            dimension: Some(unit.dimension),
            written: Some(units::proposed(text).unwrap_or(text).to_owned()),
            unit: Some(unit),
            from: Some(from),
            ..Measured::default()
        },
        Err(units::UnitError::Ambiguous { written, .. }) => {
            let lower = written.to_lowercase();
            let dimension = match lower.as_str() {
                "mw" | "mbtu/h" | "mbtuh" | "kva" => Some(Dimension::Power),
                "mwh" | "mj" => Some(Dimension::Energy),
                "kg/s" | "kg/h" | "t/h" => Some(Dimension::Flow),
                "mv" => Some(Dimension::Voltage),
                _ => Some(Dimension::Pressure),
            };
            Measured { dimension, from: Some(from), ..Measured::default() }
        }
        Err(_) => Measured { foreign: true, ..Measured::default() },
    }
}

/// Whether the values are states: two readings, nought and one, or words.
pub fn is_binary(seen: &Seen<'_>) -> bool {
    let words = !has_values(seen) && (1..=12).contains(&seen.distinct);
    // A switch that is written as 0 and 100, or as 1 and 2.
    let pair = |a: f64, b: f64| seen.low == a && seen.high == b;
    let switch = seen.distinct == 2 && seen.unit.is_none() && (pair(0.0, 100.0) || pair(1.0, 2.0) || pair(0.0, 255.0));
    seen.states
        || words
        || switch
        || (seen.distinct <= 2 && seen.low >= 0.0 && seen.high <= 1.0 && seen.high > seen.low)
}

/// Whether values were counted at all; words and empty columns have none.
pub fn has_values(seen: &Seen<'_>) -> bool {
    seen.low.is_finite() && seen.high.is_finite() && seen.mean.is_finite()
}

/// Usual values of a role in SI units; outside them the role is doubted, not refused. Common practice, no source.
fn usual(role: Role) -> Option<(f64, f64)> {
    use Role::*;
    Some(match role {
        SupplyTemperature
        | ReturnTemperature
        | SourceSupplyTemperature
        | SourceReturnTemperature
        | CoilReturnTemperature => (-15.0, 160.0),
        AirTemperature | AirTemperatureSetpoint => (-5.0, 70.0),
        SpaceTemperature => (0.0, 50.0),
        SpaceTemperatureSetpoint => (5.0, 40.0),
        OutdoorTemperature => (-50.0, 60.0),
        DifferentialPressure | DifferentialPressureSetpoint => (-20.0, 1500.0),
        PumpHead => (-50.0, 2500.0),
        SuctionPressure | DischargePressure => (-100.0, 4000.0),
        ValvePosition | ValveCommand | BypassPosition => (-0.15, 1.15),
        PumpPower | MotorCurrent | PumpEnergy | TotalPower => (-0.5, f64::INFINITY),
        _ => return None,
    })
}

/// Why the values speak against a role, if they do.
pub fn against(role: Role, seen: &Seen<'_>, unit: Option<&Unit>) -> Option<String> {
    if !has_values(seen) {
        return None;
    }
    let whole = matches!(
        role,
        Role::PumpStatus
            | Role::PumpCommand
            | Role::PumpAlarm
            | Role::FanStatus
            | Role::SourceStatus
            | Role::PlantEnable
    );
    if whole && seen.distinct > 12 {
        return Some(format!("a state has few readings, and this has {}", seen.distinct));
    }
    if role == Role::PumpMode && seen.distinct > 12 {
        return Some(format!("a mode has few readings, and this has {}", seen.distinct));
    }
    let measured = matches!(unit, Some(u) if u.dimension != Dimension::Count) && !whole;
    if measured && seen.distinct == 2 && seen.low == 0.0 && seen.high == 1.0 {
        return Some("it only reads 0 and 1".to_owned());
    }
    let (low, high) = usual(role)?;
    let unit = unit.filter(|u| role.dimensions().contains(&u.dimension))?;
    let head = if unit.dimension == Dimension::Head { 9.8 } else { 1.0 };
    let si = |v: f64| (v * unit.factor + unit.offset) * head;
    if si(seen.mean) < low || si(seen.mean) > high {
        return Some(format!("its mean of {} {} is far from what such a point reads", seen.mean, unit.written));
    }
    None
}

/// A unit from the values alone, and only where one is left: least, mean and most of the readings as they stand, and how many differ.
/// `heating`: the water is heating water.
pub fn from_values(
    role: Role,
    heating: bool,
    (low, mean, high): (f64, f64, f64),
    distinct: usize,
) -> Option<&'static str> {
    if ![low, mean, high].iter().all(|v| v.is_finite()) {
        return None;
    }
    let dimension = role.dimensions().first()?;
    match dimension {
        Dimension::Temperature => {
            let water = matches!(
                role,
                Role::SupplyTemperature
                    | Role::ReturnTemperature
                    | Role::SourceSupplyTemperature
                    | Role::SourceReturnTemperature
                    | Role::CoilReturnTemperature
            );
            match () {
                () if role == Role::OutdoorTemperature && high > 50.0 => Some("degF"),
                () if role == Role::OutdoorTemperature && (low < 5.0 && high < 42.0) => Some("degC"),
                () if role == Role::OutdoorTemperature => None,
                () if water && heating && mean > 110.0 => Some("degF"),
                () if water && heating && (20.0..75.0).contains(&mean) => Some("degC"),
                () if water && heating => None,
                () if mean > 40.0 => Some("degF"),
                () if mean < 32.0 => Some("degC"),
                () => None,
            }
        }
        Dimension::Fraction if high <= 1.0 && distinct > 2 => Some("fraction"),
        Dimension::Fraction if matches!(role, Role::PumpSpeed | Role::PumpSpeedCommand) => match high {
            h if (62.0..=110.0).contains(&h) => Some("%"),
            h if h > 300.0 => Some("rpm"),
            _ => None,
        },
        Dimension::Fraction if high > 11.0 && high <= 110.0 => Some("%"),
        _ => None,
    }
}
