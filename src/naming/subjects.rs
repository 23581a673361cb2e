//! A name as read: its words with their senses, its unit, what it speaks of.

use super::concepts::{Concept, Concept::*, Set};
use super::evidence::{self, Measured};
use super::lexicon::{self, Word};
use super::owner::{self, Label};
use super::{OfKind, Seen, UnitFrom, places, senses};
use crate::plant::Dimension;

/// A name as read.
#[derive(Debug, Clone)]
pub struct Name {
    pub words: Vec<Word>,
    pub says: Set,
    /// What the file says of the medium.
    pub context: Set,
    pub measured: Measured,
    /// Two readings, or words.
    pub binary: bool,
    pub german: bool,
    pub unknown: usize,
}

/// Unit words that names end in. A "(…)" at the end is read as a unit whatever it holds.
const UNIT_WORDS: [(&str, &str); 37] = [
    ("kwr", "kW"),
    ("kwt", "kW"),
    ("kwc", "kW"),
    ("kw", "kW"),
    ("kwh", "kWh"),
    ("mwh", "MWh"),
    ("hz", "Hz"),
    ("rpm", "rpm"),
    ("gpm", "gpm"),
    ("lps", "L/s"),
    ("cmh", "m3/h"),
    ("psi", "psi"),
    ("psig", "psi"),
    ("kpa", "kPa"),
    ("bar", "bar"),
    ("mbar", "mbar"),
    ("amps", "A"),
    ("amp", "A"),
    ("tons", "tons"),
    ("degc", "degC"),
    ("degf", "degF"),
    ("mbh", "MBH"),
    ("pct", "%"),
    ("percent", "%"),
    ("nm", "Nm"),
    ("ft", "ft"),
    ("btuh", "Btu/h"),
    ("kbtuh", "MBH"),
    ("lpm", "L/min"),
    ("volts", "V"),
    ("cfm", "cfm"),
    ("ppm", "ppm"),
    ("fthd", "ft"),
    ("watts", "W"),
    ("tonnage", "tons"),
    ("kwth", "kW"),
    ("hours", "h"),
];

impl Name {
    pub fn read(seen: &Seen<'_>) -> Self {
        let mut words = lexicon::words(without_unit(seen.name));
        forget_system(&mut words);
        places::forget(&mut words);
        let mut measured = seen.unit.map(evidence::from_text).unwrap_or_default();
        if measured.dimension.is_none() && !measured.foreign && !measured.states && !evidence::is_binary(seen) {
            measured = from_name(seen.name, &words).unwrap_or(measured);
        }
        senses::settle(&mut words, seen, &measured);
        forget_system(&mut words);
        places::forget(&mut words);
        drop_controllers(&mut words);
        let mut says = Set::default();
        words.iter().for_each(|w| says.join(w.means));
        let mut context = Set::default();
        let around = lexicon::words(seen.context);
        around.iter().for_each(|w| context.join(w.means));
        lend(&mut words, &mut says, &around, &measured);
        let binary = measured.states || evidence::is_binary(seen);
        let german = senses::is_german(&words, seen.context);
        // A path or site in front is no part of the point's own name.
        let unknown = words.iter().skip(1).filter(|w| !w.known && w.text.len() > 2).count();
        Self { words, says, context, measured, binary, german, unknown }
    }

    pub fn has(&self, concept: Concept) -> bool {
        self.says.has(concept)
    }
    pub fn any(&self, concepts: &[Concept]) -> bool {
        self.says.any(concepts)
    }
    pub fn is(&self, dimension: Dimension) -> bool {
        self.measured.dimension == Some(dimension)
    }
    pub fn is_any(&self, dimensions: &[Dimension]) -> bool {
        self.measured.dimension.is_some_and(|d| dimensions.contains(&d))
    }
    /// No unit is told and the values are no states.
    pub fn is_silent(&self) -> bool {
        self.measured.dimension.is_none_or(|d| d == Dimension::Count) && !self.measured.foreign && !self.binary
    }
    /// The unit is one of these, or not told.
    pub fn may_be(&self, dimensions: &[Dimension]) -> bool {
        self.is_any(dimensions) || self.is_silent()
    }
    /// States, or so few readings without a unit that they may be.
    pub fn may_be_state(&self, seen: &Seen<'_>) -> bool {
        !self.measured.foreign
            && (self.binary || (self.measured.dimension.is_none_or(|d| d == Dimension::Count) && seen.distinct <= 12))
    }
    pub fn medium(&self) -> Option<Concept> {
        let own = [Chilled, Heating, Condenser].into_iter().find(|c| self.has(*c));
        own.or_else(|| [Chilled, Heating, Condenser].into_iter().find(|c| self.context.has(*c)))
    }
    pub fn label(&self, kind: OfKind) -> Option<Label> {
        owner::label(&self.words, kind)
    }
    /// Of supply and return the one that stands last: "supply header, return temp".
    pub fn last_way(&self) -> (bool, bool) {
        let last = |concept| self.words.iter().rposition(|w| w.has(concept));
        match (last(Supply), last(Return)) {
            (Some(supply), Some(ret)) => (supply > ret, ret > supply),
            (supply, ret) => (supply.is_some(), ret.is_some()),
        }
    }
    /// Whether a word of `first` is followed by one of `second`.
    pub fn follows(&self, first: Concept, second: Concept) -> bool {
        self.words.windows(2).any(|w| w[0].has(first) && !w[0].has(second) && w[1].has(second))
    }
}

/// The name without the unit in brackets at its end: "[1/min]" speaks of no minimum.
fn without_unit(name: &str) -> &str {
    let trimmed = name.trim_end();
    let Some(open) = trimmed.rfind(['(', '[']).filter(|at| *at > 0 && trimmed.ends_with([')', ']'])) else {
        return name;
    };
    let inside = &trimmed[open + 1..trimmed.len() - 1];
    let found = evidence::from_text(inside);
    let unit = found.dimension.is_some_and(|d| d != Dimension::Count);
    if unit && inside.len() < 12 { &trimmed[..open] } else { name }
}

/// "HWS" may name the system: beside a plain word for the return its S says nothing, and the other way round.
fn forget_system(words: &mut [Word]) {
    for (letter, own, other) in [("s", Supply, Return), ("r", Return, Supply)] {
        let plain = words.iter().any(|w| (w.text.len() > 1 || !w.glued()) && w.has(other) && !w.has(own));
        for word in words.iter_mut().filter(|w| plain && w.text == letter && w.glued() && w.has(own)) {
            word.means = Set::default();
            word.text = "system".to_owned();
        }
    }
}

/// The unit that a name ends in: "(kW)", "_kW", "GPM".
fn from_name(name: &str, words: &[Word]) -> Option<Measured> {
    let trimmed = name.trim_end();
    if let Some(open) = trimmed.rfind(['(', '['])
        && trimmed.ends_with([')', ']'])
    {
        let inside = &trimmed[open + 1..trimmed.len() - 1];
        if inside.len() < 12 {
            let mut found = evidence::from_text(inside);
            if found.dimension.is_some() && found.dimension != Some(Dimension::Count) {
                found.from = Some(UnitFrom::Name);
                return Some(found);
            }
        }
    }
    if trimmed.ends_with('%') {
        return Some(evidence::read("%", UnitFrom::Name));
    }
    // "supply air °C", "flow m³/h": a last piece with a sign that no word has.
    if let Some((_, last)) = trimmed.rsplit_once([' ', '_'])
        && last.chars().count() < 8
        && last.contains(['°', '³', '²', '/'])
    {
        let found = evidence::from_text(last);
        if found.dimension.is_some_and(|d| d != Dimension::Count) {
            return Some(Measured { from: Some(UnitFrom::Name), ..found });
        }
    }
    // "FT-201" is a tag, no length.
    let tag = |i: usize| words.get(i + 1).is_some_and(|w| w.number);
    words.iter().enumerate().skip(1).rev().filter(|(i, _)| !tag(*i)).find_map(|(_, word)| {
        let (_, unit) = UNIT_WORDS.iter().find(|u| u.0 == word.text)?;
        let mut found = evidence::from_text(unit);
        found.from = Some(UnitFrom::Name);
        Some(found)
    })
}

/// In a path the controller's own name comes first: "FC-1" or "AC-2" before the equipment it controls says nothing.
fn drop_controllers(words: &mut [Word]) {
    let cuts = |w: &Word| matches!(w.before, Some('/' | '.' | ':' | '|' | '\\'));
    for i in 0..words.len() {
        let controller = matches!(words[i].text.as_str(), "fc" | "ac" | "uc" | "au") && words[i].has(Unit);
        let Some(next) = words.iter().skip(i + 1).position(cuts).map(|n| n + i + 1) else { continue };
        let equipment = |w: &Word| w.means.any(&[Pump, Unit, Source, Outdoor]);
        if controller && words[next..].iter().any(equipment) {
            words[i].means = Set::default();
        }
    }
}

/// A name without any equipment takes that of its file or sheet, where that names just one.
fn lend(words: &mut Vec<Word>, says: &mut Set, around: &[Word], measured: &Measured) {
    const OWN: [Concept; 11] = [Pump, Pumps, Unit, Coil, Room, Source, Outdoor, Bypass, Tower, Plant, Header];
    const MEDIUM: [Concept; 4] = [Chilled, Heating, Condenser, Loop];
    // A medium is taken for the loop's own unless the sheet is that of one numbered machine.
    let loops = says.any(&MEDIUM) || says.has(Fan);
    if around.is_empty() || words.is_empty() || says.any(&OWN) || measured.foreign {
        return;
    }
    let all = around.iter().fold(Set::default(), |mut all, w| {
        all.join(w.means);
        all
    });
    let kinds = [(Pump, OfKind::Pump), (Unit, OfKind::Coil), (Room, OfKind::Coil), (Source, OfKind::Source)];
    let mut met = kinds.iter().filter(|k| all.has(k.0));
    let (Some((concept, _)), None) = (met.next(), met.next()) else { return };
    let places: Vec<usize> = (0..around.len()).filter(|i| around[*i].has(*concept)).collect();
    let numbered: Vec<usize> = places.iter().copied().filter(|i| around.get(i + 1).is_some_and(|w| w.number)).collect();
    let (([at], _) | (_, [at])) = (&places[..], &numbered[..]) else { return };
    let at = *at;
    if loops && !around.get(at + 1).is_some_and(|w| w.number) {
        return;
    }
    // The pieces of one run before it, and "P-1" or a number behind it.
    let start = (0..=at).rev().find(|i| *i == 0 || !around[*i].glued() || around[i - 1].number).unwrap_or(at);
    let more = |w: &&Word| w.number || w.text == "p";
    let end = at + 1 + around[at + 1..].iter().take(2).take_while(more).count();
    for word in around[start..end].iter().rev() {
        says.join(word.means);
        words.insert(0, word.clone());
        if word.text == "p" && *concept == Pump {
            words[0].means.add(Pump);
        }
    }
}
