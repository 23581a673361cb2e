//! Short words of media, ways and states: their company, the unit and the values decide, as in `senses`.

use super::Seen;
use super::concepts::{Concept, Concept::*, Set};
use super::senses::{Around, Company};
use crate::plant::Dimension as D;

/// The sense of a short word, where its company leaves one.
#[allow(clippy::too_many_lines, reason = "one table, a line a word")]
pub fn sense(text: &str, around: &Around<'_>, of: &Company<'_>) -> Option<&'static [Concept]> {
    let &Company { all, dimension, binary, share, pressure, warm, german, seen, .. } = of;
    let is = |d: D| dimension == Some(d);
    let silent = dimension.is_none() && !binary;
    let medium = all.any(&[Chilled, Heating, Condenser]);
    Some(match text {
        "kk" if german => &[Chilled],
        "kw" if is(D::Temperature) || is(D::Flow) || pressure => &[Chilled],
        "kw" if matches!(
            around.after,
            "tvl" | "trl" | "dp" | "netz" | "kreis" | "vl" | "rl" | "vorlauf" | "ruecklauf" | "pumpe"
        ) =>
        {
            &[Chilled]
        }
        "kw" if german && !is(D::Power) && !silent => &[Chilled],
        "cl" if around.number_after => &[Unit],
        "ec" if warm || is(D::Flow) || pressure || all.has(Pump) => &[Heating],
        "eg" if !german || !all.has(Room) && (warm || is(D::Flow) || pressure) => &[Chilled],
        "rt" if silent && (medium || all.any(&[Source, Loop, Header])) => &[Return, Temperature],
        "rt" if warm && (medium || all.has(Source)) => &[Return, Temperature],
        "rt" if warm || silent => &[Room, Temperature],
        "st" if binary => &[Status],
        "st" if (warm || silent) && all.has(Source) => &[Supply, Temperature],
        "st" if warm && medium => &[Supply, Temperature],
        "at" if warm && german => &[Outdoor, Temperature],
        "at" if is(D::Temperature) && around.first => &[Temperature],
        "ta" if german && warm && around.number_after => &[Return, Temperature],
        "ta" if german && warm => &[Outdoor, Temperature],
        "ta" if warm && all.any(&[Unit, Room]) => &[Room, Temperature],
        "text" if warm => &[Outdoor, Temperature],
        "te" if warm && !around.number_after && !medium => &[Outdoor, Temperature],
        "te" | "tt" | "ti" if warm => &[Temperature],
        "si" | "st" if share && all.has(Pump) => &[Speed],
        "sic" | "sc" if share && all.has(Pump) => &[Speed, Command],
        "control" | "ctrl" | "ctl" | "cntl" | "cntrl" | "ctr"
            if (share || silent) && CONTROLLED.contains(&around.before) =>
        {
            &[Command]
        }
        "level" | "lvl" | "niveau" | "nivel" | "floor" | "lev"
            if around.number_after && around.first && !around.last =>
        {
            &[Noise]
        }
        "level" | "lvl" | "niveau" | "nivel" if around.number_after && !is(D::Fraction) => &[Noise],
        "no" => &[Noise],
        "before" | "upstream" | "ahead" if (pressure || all.has(Pressure)) && all.any(&[Pump, Pumps]) => &[Suction],
        "after" | "behind" | "downstream" if (pressure || all.has(Pressure)) && all.any(&[Pump, Pumps]) => &[Discharge],
        "chi" if around.number_after || around.last => &[Source],
        "chi" => &[Chilled],
        "vent" if share && all.any(&[Coil, Cooling, Heat, Reheat]) && !all.has(Speed) => &[Valve],
        "st" if share && german && all.has(Valve) => &[Command],
        "cv" if all.any(&[Supply, Return, Dp]) && !share => &[Heating],
        // What freezes is outdoors.
        "out" if warm && is_bare(around.others) && celsius(seen.low, seen) < 5.0 => &[Outdoor],
        "amb" | "tamb" if warm && is_bare(around.others) && celsius(seen.low, seen) < 5.0 => &[Outdoor, Temperature],
        "u" if share && around.first && all.has(Pump) => &[Command],
        "mains" if all.any(&[Chilled, Heating, Supply, Return]) => &[Loop],
        "leaving_chillers" if all.has(Condenser) => &[Return],
        "entering_chillers" if all.has(Condenser) => &[Supply],
        "h" if silent && all.has(Pump) && !around.number_after && !around.glued => &[Head],
        "q" if silent && all.has(Pump) && !around.number_after && !around.glued => &[Flow],
        "i" if silent && all.has(Pump) && !around.number_after && !around.glued => &[Current],
        "n" if silent && all.has(Pump) && !around.number_after && !around.glued => &[Speed],
        "int" if silent && all.has(Pump) && around.last => &[Current],
        "hp" if silent && around.last && all.has(Pump) => &[Power],
        "flow_total" | "total_flow_volume" if silent && seen.low < 0.5 * seen.mean => &[Flow, Total],
        "rt" if silent && all.has(Load) => &[],
        "out" if silent && all.has(Source) => &[Supply],
        "in" if silent && all.has(Source) => &[Return],
        "y" if silent && all.has(Valve) => &[Command],
        "v" if silent && (all.has(Bypass) && around.last || is_temper(around.after)) => &[Valve],
        "hz" if silent && all.any(&[Supply, Return]) => &[Heating],
        "dsp" if share && all.has(Pump) => &[],
        "twr" if warm && around.first && !medium => &[Condenser, Return],
        "s" if warm && around.before.len() < 6 && around.before.ends_with('w') => &[Supply],
        "r" if warm && around.before.len() < 6 && around.before.ends_with('w') => &[Return],
        "radiation" | "radn" | "radiant" if all.has(Valve) => &[Unit],
        "radiation" | "radn" | "rad" if warm && all.any(&[Supply, Return]) => &[Heating],
        "hz" if warm || is(D::Flow) || pressure && !all.has(Pump) => &[Heating],
        "chs" if warm => &[Chilled, Supply],
        "chr" if warm => &[Chilled, Return],
        "cds" if warm => &[Condenser, Supply],
        "cdr" if warm => &[Condenser, Return],
        "lts" | "hts" if warm => &[Supply, Water],
        "ltr" | "htr" if warm && !all.has(Coil) => &[Return, Water],
        "delivery" if (pressure || silent) && all.has(Pump) => &[Discharge],
        "hd" if pressure && all.has(Pump) => &[Head],
        "dpr" if pressure => &[Dp],
        "rad" if all.has(Valve) && !all.has(Damper) || matches!(around.after, "vlv" | "valve" | "v" | "panel") => {
            &[Unit]
        }
        "to_chillers" if all.has(Condenser) => &[Supply],
        "from_chillers" if all.has(Condenser) => &[Return],
        "frio" | "fria" | "froid" | "froide" if all.has(Loop) && !all.any(&[Coil, Valve, Unit]) => &[Chilled],
        "calor" | "chaud" | "chaude" if all.has(Loop) && !all.any(&[Coil, Valve, Unit]) && !around.number_after => {
            &[Heating]
        }
        "lift" if pressure && all.has(Pump) => &[Head],
        "act" | "active" if !binary => &[Feedback],
        "cw" if is(D::Temperature) && !all.has(Source) && celsius(seen.mean, seen) < 15.0 => &[Chilled],
        "chb" | "vu" | "ukg" | "tka" | "fsb" | "sdv" | "ddv" | "pib" | "ttu" | "hvu" | "tu" | "vvt"
            if !around.number_after =>
        {
            &[]
        }
        "acc" if around.number_after => &[Source],
        "hc" | "cc" if around.number_after && text == "hc" && all.any(&[Supply, Return, Pump, Meter]) => &[Heating],
        "rm" if german || all.any(&[Valve, Speed]) && !around.number_after => &[Feedback],
        "rm" => &[Room],
        "stm" if binary => &[Alarm],
        "stm" => &[Foreign],
        "sm" if !binary => &[],
        "hr" if is(D::Fraction) => &[Humidity],
        "hr" if is(D::Temperature) => &[],
        "vs" if !is(D::Flow) => &[Drive],
        "sw" if binary => &[],
        "wet" if !german && around.after != "ta" => &[Wet],
        "par" if !is(D::Torque) && !is(D::Fraction) => &[],
        "ma" if is(D::Current) => &[],
        "out" | "outlet" | "output" | "salida" | "sortie" | "uscita" | "aus" if warm => &[Supply],
        "in" | "ein" | "input" if warm => &[Return],
        "in" => &[],
        "flow" | "flo" if is(D::Temperature) || (silent && all.has(Temperature)) => &[Supply],
        "demand" if is(D::Power) => &[Load],
        "ist" if binary => &[],
        "aux" => &[Noise],
        "ba" if !german => &[],
        "td" | "dt" if !is(D::TemperatureDifference) && !is(D::Temperature) => &[],
        "std" | "lv" | "lo" | "hi" if around.glued => &[],
        "hv" if around.number_after && !share => &[Unit],
        "ai" | "ao" | "di" | "do" | "bi" | "bo" | "av" | "bv" | "ui" | "uo" | "mi" | "tl" | "msv" => &[],
        _ => return None,
    })
}

/// A name that says no more than that it is a temperature, perhaps of outdoors.
fn is_bare(others: Set) -> bool {
    !others.any(&[Source, Chilled, Heating, Condenser, Pump, Coil, Unit, SupplyAir, Loop, Exchanger, Water, Return])
}

fn is_temper(text: &str) -> bool {
    matches!(text, "frio" | "calor" | "froid" | "chaud" | "froide" | "chaude" | "af" | "ac")
}

/// Words after which "control" is the signal.
const CONTROLLED: [&str; 11] =
    ["freq", "frequency", "hz", "speed", "spd", "valve", "vlv", "vfd", "vsd", "inverter", "drive"];

/// A reading whose unit may be degF, roughly in degC.
fn celsius(value: f64, seen: &Seen<'_>) -> f64 {
    match seen.unit {
        Some(u) if u.to_lowercase().contains('f') => (value - 32.0) / 1.8,
        _ => value,
    }
}
