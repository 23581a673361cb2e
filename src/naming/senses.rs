//! Words that mean one thing here and another there: their company, the unit and the values decide.

use super::concepts::{Concept::*, Set};
use super::evidence::{self, Measured};
use super::lexicon::Word;
use super::{Seen, lexicon, senses_tags};
use crate::plant::Dimension as D;

/// Whether the file speaks German: some abbreviations are only read that way there.
pub fn is_german(words: &[Word], context: &str) -> bool {
    const SIGNS: [&str; 43] = [
        "nord",
        "sued",
        "ost",
        "pumpe",
        "vorlauf",
        "ruecklauf",
        "vl",
        "rl",
        "heizkreis",
        "kessel",
        "drehzahl",
        "leistung",
        "temperatur",
        "ist",
        "soll",
        "istwert",
        "sollwert",
        "rlt",
        "ventil",
        "volumenstrom",
        "hk",
        "kk",
        "wmz",
        "fu",
        "bm",
        "stoerung",
        "heizung",
        "kaelte",
        "waerme",
        "raum",
        "betrieb",
        "druck",
        "km",
        "kkr",
        "wt",
        "ventilstellung",
        "differenzdruck",
        "zul",
        "abl",
        "aussen",
        "netz",
        "freigabe",
        "sm",
    ];
    let said = |text: &str| SIGNS.contains(&text);
    let stem = |text: &str| STEMS.iter().any(|s| text.starts_with(s));
    words.iter().any(|w| said(&w.text) || stem(&w.text)) || {
        let folded = super::lexicon::words(context);
        folded.iter().any(|w| said(&w.text))
    }
}

/// Beginnings of words that only German has.
const STEMS: [&str; 17] = [
    "betrieb",
    "stoer",
    "rueck",
    "durchfl",
    "kuehl",
    "druck",
    "leistung",
    "drehz",
    "stell",
    "heiz",
    "waerm",
    "kaelt",
    "mindest",
    "verdampfer",
    "schalt",
    "volumenstr",
    "umwaelz",
];

/// Gives every short word the one meaning that its company leaves.
pub fn settle(words: &mut [Word], seen: &Seen<'_>, measured: &Measured) {
    let german = is_german(words, seen.context);
    let binary = measured.states || (measured.dimension.is_none() && evidence::is_binary(seen));
    let texts: Vec<String> = words.iter().map(|w| w.text.clone()).collect();
    let numbers: Vec<bool> = words.iter().map(|w| w.number).collect();
    let first: Vec<Set> = words.iter().map(|w| w.means).collect();
    let dimension = measured.dimension;
    let one_of = |list: &[D]| dimension.is_some_and(|d| list.contains(&d));
    let mut of = Company {
        all: Set::default(),
        dimension,
        binary,
        share: one_of(&[D::Fraction, D::Frequency, D::ShaftSpeed, D::Voltage]),
        pressure: one_of(&[D::Pressure, D::Head]),
        silent: dimension.is_none() && !binary && !measured.foreign,
        warm: false,
        german,
        spanish: senses_tags::is_spanish(&texts),
        controller: texts.iter().any(|t| senses_tags::is_controller(t)),
        seen,
    };
    // Twice: what a short word turned out to be is company for the others.
    for _ in 0..2 {
        let all = words.iter().fold(Set::default(), |all, w| union(all, w.means));
        of.all = all;
        of.warm = dimension == Some(D::Temperature) || dimension.is_none() && !binary && all.has(Temperature);
        for i in 0..words.len() {
            let around = Around {
                before: i.checked_sub(1).map_or("", |b| texts[b].as_str()),
                after: texts.get(i + 1).map_or("", String::as_str),
                number_before: i > 0 && numbers[i - 1] && (i == 1 || !words[i - 1].glued()),
                glued_after: words.get(i + 1).is_some_and(|w| !w.number && w.glued()),
                before_sign: words[i].before,
                last: i + 1 == words.len(),
                number_after: numbers.get(i + 1).copied().unwrap_or(false),
                first: i == 0,
                opens: i == 0 || matches!(words[i].before, Some('/' | '.' | ':' | '|' | '\\' | ' ' | '_' | '-')),
                others: words
                    .iter()
                    .enumerate()
                    .filter(|w| w.0 != i)
                    .fold(Set::default(), |all, w| union(all, w.1.means)),
                ends_part: words.get(i + 1).is_some_and(|w| matches!(w.before, Some('/' | '|' | '\\' | '>' | ':'))),
                number_glued: words.get(i + 1).is_some_and(|w| w.number && w.glued()),
                glued: words[i].glued(),
            };
            words[i].means = first[i];
            if is_place_letter(&texts[i], &around) {
                continue;
            }
            if !words[i].known && of.warm && words[i].means.is_empty() {
                words[i].means = unread_water(&texts[i]);
            }
            if let Some(means) = senses_tags::sense(&texts[i], &around, &of).or_else(|| sense(&texts[i], &around, &of))
            {
                words[i].means = Set::default();
                means.iter().for_each(|m| words[i].means.add(*m));
                words[i].known = true;
            }
        }
    }
}

/// What stands beside a word.
pub struct Around<'a> {
    pub before: &'a str,
    pub after: &'a str,
    /// A number that stands by itself: "15 min", not "P1 min".
    pub number_before: bool,
    pub glued_after: bool,
    pub number_after: bool,
    pub before_sign: Option<char>,
    pub first: bool,
    /// First of the name, or after a separator.
    pub opens: bool,
    pub number_glued: bool,
    /// Last of its part of a path.
    pub ends_part: bool,
    /// What the other words stand for.
    pub others: Set,
    pub last: bool,
    pub glued: bool,
}

/// The ideas of all words of a name, what its unit measures, how its file speaks.
pub struct Company<'a> {
    pub all: Set,
    pub dimension: Option<D>,
    pub binary: bool,
    pub share: bool,
    pub pressure: bool,
    /// No unit is told and the values are no states.
    pub silent: bool,
    pub warm: bool,
    pub german: bool,
    pub spanish: bool,
    /// A word is the tag of a controller: SIC, PDIC.
    pub controller: bool,
    pub seen: &'a Seen<'a>,
}

fn union(mut a: Set, b: Set) -> Set {
    a.join(b);
    a
}

#[allow(clippy::too_many_lines, reason = "one table, a line a word")]
fn sense(text: &str, around: &Around<'_>, of: &Company<'_>) -> Option<&'static [super::concepts::Concept]> {
    let &Company { all, dimension, binary, share, pressure, warm, german, seen, .. } = of;
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
                && (around.opens || lexicon::is_medium(around.before))
                && !all.has(Valve)
                && rotates(dimension, all) =>
        {
            &[Pump]
        }
        // Of these only a pump is switched, or takes a current.
        "bp" | "pp" | "sp" | "tp" | "cp" | "np" | "rp"
            if around.number_after
                && (around.opens || lexicon::is_medium(around.before))
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
        "s" if binary && !(around.glued && super::lexicon::is_medium(around.before)) => &[Status],
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

/// "B07/…", "B12.…": rather a building than a boiler or a pump, where it stands in front and has two digits, or where the
/// rest speaks of the loop itself.
pub fn is_house(around: &Around<'_>) -> bool {
    let digits = around.number_glued && around.after.len() > 1;
    around.first && (digits || around.others.any(&[Loop, Plant, Header, Meter, Chilled, Heating, Condenser]))
}

fn is_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

/// A name that says no more than that it is a temperature, perhaps of outdoors.
fn is_bare(others: Set) -> bool {
    !others.any(&[Source, Chilled, Heating, Condenser, Pump, Coil, Unit, SupplyAir, Loop, Exchanger, Water, Return])
}

fn is_temper(text: &str) -> bool {
    matches!(text, "frio" | "calor" | "froid" | "chaud" | "froide" | "chaude" | "af" | "ac")
}

fn is_unit(text: &str) -> bool {
    matches!(text, "ahu" | "rtu" | "mau" | "doas" | "fcu" | "uta" | "cta" | "rlt" | "chiller" | "boiler" | "ah")
}

/// Words after which "control" is the signal.
const CONTROLLED: [&str; 11] =
    ["freq", "frequency", "hz", "speed", "spd", "valve", "vlv", "vfd", "vsd", "inverter", "drive"];

/// "TCWS", "HRWR temp": water of a loop that no list holds, with the letter for its way.
fn unread_water(text: &str) -> Set {
    let mut set = Set::default();
    if (3..=6).contains(&text.len()) {
        match text.strip_suffix('t').unwrap_or(text) {
            t if t.ends_with("ws") => [Supply, Water].into_iter().for_each(|c| set.add(c)),
            t if t.ends_with("wr") => [Return, Water].into_iter().for_each(|c| set.add(c)),
            _ => {}
        }
    }
    set
}

/// "H01", "B12" in front: a house, no head and no humidity.
fn is_place_letter(text: &str, around: &Around<'_>) -> bool {
    around.first
        && around.number_glued
        && matches!(text, "h" | "f" | "s" | "e" | "w" | "q" | "n" | "a" | "i" | "o" | "y")
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

/// A reading whose unit may be degF, roughly in degC.
fn celsius(value: f64, seen: &Seen<'_>) -> f64 {
    match seen.unit {
        Some(u) if u.to_lowercase().contains('f') => (value - 32.0) / 1.8,
        _ => value,
    }
}
