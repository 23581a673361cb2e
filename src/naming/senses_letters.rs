//! Letters for equipment, media and quantities: their company decides, as in `senses`.

use super::concepts::{Concept, Concept::*, Set};
use super::cut;
use super::senses::{Around, Company};
use crate::plant::Dimension as D;

/// The sense of one letter or a few, where their company leaves one.
#[allow(clippy::too_many_lines, reason = "one table, a line a word")]
pub fn sense(text: &str, around: &Around<'_>, of: &Company<'_>) -> Option<&'static [Concept]> {
    let &Company { all, dimension, binary, share, pressure, warm, german, .. } = of;
    let is = |d: D| dimension == Some(d);
    let silent = dimension.is_none() && !binary;
    let medium = all.any(&[Chilled, Heating, Condenser]);
    let letter_after = around.after.len() == 1 && matches!(around.after, "a" | "b" | "c" | "d");
    let equipment = around.others.any(&[Pump, Unit, Source, Coil, Fan, Room, Outdoor, Chilled, Heating, Condenser]);
    Some(match text {
        "p" if around.number_after || letter_after => &[Pump],
        "p" if is(D::Power) && !around.glued => &[Power],
        "p" if pressure || (silent && all.any(&[Suction, Discharge])) => &[Pressure],
        "up" if around.number_after || german => &[Pump],
        // Letters for pumps of a medium, which also stand for something else: believed with what only a pump has.
        "chp" | "schp" | "pchp" | "scp" | "pcp" if around.number_after => &[Chilled, Pump],
        "hwcp" | "bhp" | "php" | "shp" | "hwsp" if around.number_after => &[Heating, Pump],
        "hp" | "bp" | "dp" | "pp" | "sp" | "tp" | "cp" | "wp" | "np" | "rp"
            if around.number_after
                && (around.opens || cut::is_medium(around.before))
                && !all.has(Valve)
                && rotates(dimension, all) =>
        {
            &[Pump]
        }
        // Of these only a pump is switched, or takes a current.
        "bp" | "pp" | "sp" | "tp" | "cp" | "np" | "rp"
            if around.number_after
                && (around.opens || cut::is_medium(around.before))
                && !all.any(&[Valve, Fan])
                && is_pumpish(of) =>
        {
            &[Pump]
        }
        "pp" if around.opens && around.others.any(&[Chilled, Heating]) && !all.any(&[Valve, Unit]) => &[Pump],
        "wp" if german && warm && around.others.any(&[Supply, Return]) => &[Source],
        "bp" if around.number_after && all.any(&[Pump, Pumps]) => &[],
        "bo" | "bb" if around.number_after && all.any(&[Speed, Power, Frequency]) => &[Pump],
        "p" if share && all.any(&[Speed, Frequency]) && medium && !all.any(&[Valve, Fan]) => &[Pump],
        "vf" if all.has(Unit) && (share || silent) => &[Valve, Cooling],
        "vc" if all.any(&[Unit]) && share && around.first && !around.number_after => &[Valve, Heat],
        "zu" if warm && (german || around.after == "t") => &[SupplyAir],
        "r" if warm && around.number_glued && around.first => &[Room],
        "l" if around.number_after && all.any(&[SupplyAir, Valve]) && german => &[Unit],
        "mar" if binary => &[Status],
        "puiss" if is(D::Power) && medium && !all.has(Pump) => &[Load, Thermal],
        "imp" if warm && all.has(Unit) => &[SupplyAir],
        "heizkoerper" | "radiateur" | "radiator" | "radiateurs" | "radiadores"
            if warm && all.any(&[Supply, Return]) =>
        {
            &[Heating]
        }
        "peg" if around.number_after => &[Chilled, Pump],
        "pch" | "pec" if around.number_after => &[Heating, Pump],
        "ph" | "rh" if all.has(Valve) || around.after == "o" => &[Heat],
        "ven" if all.has(Coil) => &[Valve],
        "est" if binary => &[Status],
        "int" if is(D::Current) => &[Current],
        "imp" if warm => &[Supply],
        "af" if warm || is(D::Flow) || pressure => &[Chilled],
        "ac" if warm && matches!(around.before, "imp" | "ret" | "impulsion" | "retorno") => &[Heating],
        "chaud" if around.number_after => &[Source],
        "s" if binary && !(around.glued && super::cut::is_medium(around.before)) => &[Status],
        "s" if warm && medium => &[Supply],
        "s" if share && all.has(Pump) && !all.any(&[Speed, Torque]) => &[Speed],
        "a" | "b" | "c" | "d" if around.ends_part && !around.glued && around.before_sign == Some(' ') => &[],
        // "ENB_CHW_DP": letters of a site, for what is measured is not switched.
        "enb" | "ena" | "en" | "alm" | "cmd" | "sts" | "st" if around.first && !binary && dimension.is_some() => &[],
        "a" | "b" | "c" | "d" if around.glued && !around.last && is_digits(around.before) && binary => &[],
        // The letter that tells one unit from the others.
        "c" if !around.last && around.before_sign == Some('-') && is_unit(around.before) => &[],
        "c" if around.last && !binary && matches!(around.before, "p" | "pump") => &[],
        "c" if silent && around.last && all.any(&[Valve, Speed]) => &[Command],
        "c" if binary || (share && (all.any(&[Pump, Valve]) || around.before == "spd")) => &[Command],
        "o" if share || binary || silent && around.last && all.any(&[Speed, Drive, Valve, Coil, Heat, Cooling]) => {
            &[Output, Command]
        }
        "v" if is(D::Flow) => &[Flow],
        "v" if share => &[Valve],
        "t" if warm || silent && medium => &[Temperature],
        "t" if dimension.is_none() && !binary && !around.number_after => &[Temperature],
        "f" if is(D::Flow) => &[Flow],
        "f" if warm && medium && !around.number_after => &[Supply],
        "f" if is(D::Frequency) => &[Speed, Frequency],
        "f" if around.glued && !around.last && is_digits(around.before) => &[Noise],
        "f" if binary && !around.number_after => &[Alarm],
        "n" if share && (all.any(&[Pump]) || german) && !all.has(Valve) => &[Speed],
        "h" if pressure => &[Head],
        "h" if is(D::Fraction) => &[Humidity],
        "h" if is(D::Time) => &[Hours],
        "q" if is(D::Flow) => &[Flow],
        "q" if is(D::Power) => &[Load, Thermal],
        "a" | "i" if is(D::Current) => &[Current],
        "y" if share => &[Command],
        "r" if warm && medium => &[Return],
        "e" if is(D::Energy) => &[Energy],
        "w" if is(D::Energy) => &[Energy],
        "k" if around.number_after && german && !all.has(Source) => &[Source],
        "b" if around.number_after && is_house(around) => &[],
        "b" if around.number_after && !equipment && (around.opens && warm || around.after.len() == 1 && binary) => {
            &[Source]
        }
        "k" if around.number_after && german && binary => &[Source],
        "wp" if around.number_after && german && (binary || is(D::Flow)) => &[Source],
        "ch" if around.number_after => &[Source],
        "ch" if all.has(Water) => &[Chilled],
        "ct" if around.number_after && !all.has(Pump) => &[Tower],
        "kwp" if around.number_after || german => &[Chilled, Pump],
        "hp" if german && around.number_after && all.any(&[Speed, Frequency]) => &[Heating, Pump],
        "hp" if around.number_after && !is(D::Power) => &[Source],
        "hkp" | "kkp" if around.number_after => &[Heating, Pump],
        "hp" if is(D::Power) => &[Power],
        "wp" if around.number_after && german => &[Source],
        "wt" if around.number_after && german => &[Source, Exchanger],
        _ => return None,
    })
}

/// "B07/…", "B12.…": rather a building than a boiler or a pump, where it stands in front and has two digits, or where the
/// rest speaks of the loop itself.
pub fn is_house(around: &Around<'_>) -> bool {
    let digits = around.number_glued && around.after.len() > 1;
    around.first && (digits || around.others.any(&[Loop, Plant, Header, Meter, Chilled, Heating, Condenser]))
}

fn is_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

fn is_unit(text: &str) -> bool {
    matches!(text, "ahu" | "rtu" | "mau" | "doas" | "fcu" | "uta" | "cta" | "rlt" | "chiller" | "boiler" | "ah")
}

/// What a pump shows, and neither a setpoint nor a bypass: states, current, the pressures beside it.
fn is_pumpish(of: &Company<'_>) -> bool {
    let electric = matches!(of.dimension, Some(D::Current | D::Power | D::Energy | D::Torque));
    let switched = of.binary && of.all.any(&[Status, StartStop, Alarm, Mode, Command, Enable, On, Feedback]);
    let hydraulic = (of.pressure || of.silent) && of.all.any(&[Suction, Discharge, Head, Dp]);
    let counted = of.silent && of.all.any(&[Starts, Mode, Torque, Current]);
    electric || switched || hydraulic || counted
}

/// What a machine has that turns: a speed, or a drive and a motor.
fn rotates(dimension: Option<D>, all: Set) -> bool {
    let speed = matches!(dimension, Some(D::Frequency | D::ShaftSpeed));
    speed || all.any(&[Speed, Drive, Torque, Frequency]) && dimension != Some(D::Temperature)
}
