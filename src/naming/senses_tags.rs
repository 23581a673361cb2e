//! Letters of instrument tags and of states as controllers write them: their company decides, as in `senses`.
//!
//! Instrument letters after ISA-5.1 (S speed, P pressure, PD its difference, T temperature, F flow, Z position; then
//! I indicates, C controls, T transmits), from memory; the rest is common practice, no source.

use super::concepts::{Concept, Concept::*};
use super::cut;
use super::senses::{Around, Company};
use crate::plant::Dimension as D;

/// The sense of a short word, where its company leaves one.
pub fn sense(text: &str, around: &Around<'_>, of: &Company<'_>) -> Option<&'static [Concept]> {
    instruments(text, around, of).or_else(|| states(text, around, of)).or_else(|| others(text, around, of))
}

fn instruments(text: &str, around: &Around<'_>, of: &Company<'_>) -> Option<&'static [Concept]> {
    let all = of.all;
    let tagged = of.silent && (around.number_after || of.controller);
    let share = of.share || of.silent && all.has(Pump) && (of.controller || around.last);
    Some(match text {
        // What a controller's tag ends in: process value, output.
        "pv" if around.last && (of.controller || around.before_sign == Some('.')) => &[Feedback],
        "op" | "out" | "cv" | "mv" if around.last && of.controller => &[Output, Command],
        "pv" if all.any(&[Pump, Unit, Valve, Dp, Temperature, Flow]) && !of.is(D::Power) => &[Feedback],
        "sic" | "sc" | "st" if share && all.has(Pump) && of.controller && all.has(Feedback) => &[Speed],
        "si" | "st" if share && all.has(Pump) => &[Speed],
        "sic" | "sc" if share && all.has(Pump) => &[Speed, Command],
        "zt" | "zi" | "gt" if of.share || tagged && all.any(&[Bypass, Valve]) => &[Position],
        "zic" | "zc" if of.share => &[Command],
        "tv" | "tcv" | "fv" | "fcv" | "lcv" | "xv"
            if (of.share || of.silent) && all.any(&[Unit, Coil, Room, Bypass]) =>
        {
            &[Valve]
        }
        "tv" if of.share && around.number_after => &[Valve],
        "ys" | "yl" | "xs" | "yi" if of.binary && all.has(Pump) => &[Status],
        "xa" | "ya" | "xal" | "ua" if of.binary && all.has(Pump) => &[Alarm],
        "hs" | "xc" | "yc" if of.binary && all.has(Pump) => &[Command],
        "n" if of.silent && all.has(Pump) && around.last => &[Speed],
        "q" if of.silent && all.has(Pump) && around.last => &[Flow],
        "ii" | "it" | "ie" if of.is(D::Current) => &[Current],
        "ji" | "jt" | "je" if of.is(D::Power) => &[Power],
        "jq" | "jqi" if of.is(D::Energy) => &[Energy],
        "pi" | "pt" | "pit" | "pe" if of.pressure || of.silent && all.any(&[Suction, Discharge]) => &[Pressure],
        "ti" | "te" | "tt" | "tit" | "tic" if of.is(D::Temperature) || tagged => &[Temperature],
        "fi" | "fe" | "ft" | "fit" | "fic" | "fq" if of.is(D::Flow) || tagged => &[Flow],
        "pdic" | "pdi" | "pdc" | "dpic" | "dpi" if of.pressure || tagged => &[Dp],
        "pdy" | "pdz" if of.pressure => &[Dp],
        _ => return None,
    })
}

fn states(text: &str, around: &Around<'_>, of: &Company<'_>) -> Option<&'static [Concept]> {
    let pump = of.all.any(&[Pump, Pumps]);
    if !of.binary {
        return None;
    }
    Some(match text {
        // "Rückmeldung", "retour de marche": no room is on or off.
        "rm" if pump || of.all.any(&[Source, Fan]) => &[Feedback, Status],
        "cm" | "tc" | "om" if pump => &[Command],
        "ts" if pump => &[Status],
        "ta" | "am" if pump => &[Alarm],
        "firing" if of.all.has(Source) => &[Status],
        "trip" if pump => &[Alarm],
        "m" if pump && around.last => &[Status],
        _ => return None,
    })
}

fn others(text: &str, around: &Around<'_>, of: &Company<'_>) -> Option<&'static [Concept]> {
    let all = of.all;
    Some(match text {
        // "15 min" is a time.
        "min"
            if around.number_before
                && !matches!(around.after, "spd" | "speed" | "hz" | "freq")
                && (around.glued || all.has(Calculated)) =>
        {
            &[]
        }
        "h" if of.is(D::Fraction) && (all.has(Pump) || around.number_after) => &[],
        "differential" | "diff" | "dif"
            if !all.has(Filter) && (of.pressure || of.silent && all.any(&[Pump, Loop, Chilled, Heating, Pressure])) =>
        {
            &[Dp]
        }
        "reset" if all.has(Setpoint) && all.any(&[SupplyAir, Dp]) => &[],
        // SHWR, PCHWS: of the secondary, of the primary.
        "s" | "p" | "t" if around.glued_after && (around.first || !around.glued) && cut::is_medium(around.after) => {
            &[Loop]
        }
        // The letter that tells one pump from the others.
        "a" | "b" | "c" | "d" if is_pump(around.before) && !around.last => &[],
        // An analogue output is what the controller sends.
        "ao" if (of.share || of.silent) && all.any(&[Pump, Valve]) && !all.has(Feedback) => &[Command],
        "amont" if of.pressure || of.silent && all.has(Pressure) => &[Suction],
        "aval" if of.pressure || of.silent && all.has(Pressure) => &[Discharge],
        "sal" if of.warm => &[Supply],
        "ent" if of.warm && of.spanish => &[Return],
        "la" if around.number_after && of.german => &[Unit],
        "val" if of.share && all.any(&[Unit, Coil, Room]) && !all.has(Valve) => &[Valve],
        "cal" if around.number_after => &[Source],
        "ac" if around.first && SPANISH_LOOP.contains(&around.after) => &[Heating],
        "static" | "statisch" | "statische" if all.has(Pump) && !of.pressure => &[],
        "level" | "lvl" if around.number_after && all.any(&[Valve, Unit, Room, Speed]) => &[Noise],
        "panel" if all.has(Valve) => &[],
        "feed" if !all.any(&[Pump, Pumps]) => &[],
        "vc" if around.number_after => &[Unit],
        "bf" if of.warm || of.share || of.is(D::Flow) => &[Coil, Cooling],
        "bc" if all.has(Unit) && (of.warm || of.share || of.is(D::Flow)) => &[Coil, Heat],
        "bc" | "bs" | "br" | "be" | "bpr" | "bsc" | "bac" | "baf" | "bcal" | "bq"
            if around.number_after && of.spanish && !all.any(&[Unit, Valve, Coil]) && !of.is(D::Temperature) =>
        {
            &[Pump]
        }
        "aut" if matches!(around.after, "prod" | "production" | "marche" | "chauff" | "eg" | "ec") => &[Enable],
        "prod" if of.binary => &[Plant],
        "ef" if matches!(around.before, "vanne" | "v" | "vne") => &[Chilled],
        "vc" if around.first && all.any(&[Fan, Valve, Room]) => &[Unit],
        "ti" if of.warm && matches!(around.after, "af" | "ac") => &[Supply, Temperature],
        "tr" if of.warm && matches!(around.after, "af" | "ac") => &[Return, Temperature],
        "pid" if all.any(&[Output, Feedback, Command]) => &[],
        "ab" if of.german && matches!(around.after, "vent" | "ventilator" | "luft") => &[ReturnAir],
        "rep" | "repr" | "repris" if all.any(&[Unit, Fan]) => &[ReturnAir],
        "imp" if of.pressure && all.has(Pump) => &[Discharge],
        "chp" if of.warm => &[Source],
        "b" if around.number_after
            && super::senses_letters::is_house(around)
            && !of.all.any(&[Speed, Power, Status, Alarm]) =>
        {
            &[]
        }
        "b" if around.number_after && of.spanish && !all.has(Source) && !of.is(D::Temperature) => &[Pump],
        "in" | "inlet" if of.pressure && all.has(Pump) => &[Suction],
        "outlet" if of.pressure && all.has(Pump) => &[Discharge],
        "hkr" => &[Heating, Loop],
        "aul" if of.warm => &[Outdoor],
        "cal" if of.german => &[],
        "media" if !of.spanish => &[],
        _ => return None,
    })
}

/// What follows AC where it is "agua caliente", not an air conditioner.
const SPANISH_LOOP: [&str; 8] = ["imp", "ret", "ida", "impulsion", "retorno", "caudal", "pdif", "b"];

fn is_pump(text: &str) -> bool {
    matches!(text, "pump" | "pmp" | "pumpe" | "pompe" | "bomba" | "pu" | "p")
}

/// Words after which a tag's last letters are a controller's.
pub fn is_controller(text: &str) -> bool {
    matches!(text, "sic" | "sc" | "pdic" | "dpic" | "pic" | "tic" | "fic" | "pdc" | "zic")
}

/// Whether the words are Spanish.
pub fn is_spanish(texts: &[String]) -> bool {
    const SIGNS: [&str; 32] = [
        "par_motor",
        "altura",
        "af",
        "frec",
        "mando",
        "pot",
        "vel",
        "imp",
        "csg",
        "enf",
        "bomba",
        "bba",
        "marcha",
        "paro",
        "averia",
        "fallo",
        "caudal",
        "velocidad",
        "consigna",
        "impulsion",
        "retorno",
        "frecuencia",
        "potencia",
        "presion",
        "agua",
        "confirmada",
        "confirmacion",
        "estado",
        "orden",
        "valvula",
        "intensidad",
        "posicion",
    ];
    texts.iter().any(|t| t.split('_').any(|part| SIGNS.contains(&part)) || t.contains("marcha"))
}

impl Company<'_> {
    pub fn is(&self, dimension: D) -> bool {
        self.dimension == Some(dimension)
    }
}
