//! A second reading, where the first gives no role: the label is in letters that no list holds, but the rest of the name
//! speaks of what only one kind of equipment has.
//!
//! "BC-02 vel. real" is a pump's or a fan's; in a file of a pumped loop, a pump's. Never sure: a person decides.

use super::concepts::{Concept::*, Set};
use super::lexicon::Word;
use super::rules::{OPEN, Verdict, WEAK};
use super::subjects::Name;
use super::{OfKind, Seen, rules_coil, rules_pump};
use crate::plant::{Dimension as D, Role};

/// Letters of inputs and outputs of controllers: what has only them and a number is opaque.
const OPAQUE: [&str; 22] = [
    "ai", "ao", "di", "do", "bi", "bo", "av", "bv", "ui", "uo", "mi", "mo", "tl", "msv", "pt", "point", "trend", "ch",
    "channel", "tag", "reg", "var",
];
/// Longest letters of a label.
const LABEL: usize = 5;

/// The role of a point of equipment that no word names.
pub fn guess(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    let labels = (0..name.words.len()).filter(|i| is_label(&name.words, *i));
    let label = labels.max_by_key(|i| (name.words[*i].text.ends_with('p'), name.words[*i].text.len().min(2), *i));
    let pump = || {
        let at = label?;
        let letters = name.words[at].text.as_str();
        if !turns(name) && !letters.ends_with('p') {
            return None;
        }
        let verdict = rules_pump::pump(&with(name, at, Pump), seen)?;
        let most = if letters.ends_with('p') { OPEN } else { OPEN.min(0.6) };
        Some(doubt(verdict, most, "a pump perhaps, by what it reads"))
    };
    let coil = || {
        let says = name.any(&[SupplyAir, Discharge, Valve, Room]) && !name.any(&[Pump, Source, Outdoor]);
        if !says || !name.may_be(&[D::Temperature, D::Fraction]) {
            return None;
        }
        let at = label.or_else(|| name.words.iter().position(|w| w.means.any(&[Discharge, SupplyAir, Valve])))?;
        Some(doubt(rules_coil::coil(&with(name, at, Unit), seen)?, OPEN, "a unit with a coil perhaps"))
    };
    if name.any(&[Pump, Pumps, Fan, Unit, Source]) {
        return fan(name, seen);
    }
    pump().or_else(coil).or_else(|| pressure_output(name)).or_else(|| fan(name, seen)).or_else(|| room(name, seen))
}

/// What a controller of differential pressure sends goes to the pumps.
fn pressure_output(name: &Name) -> Option<Verdict> {
    let sent = name.has(Dp) && name.any(&[Output, Command]) && name.is_any(&[D::Fraction, D::Frequency]);
    (sent && !name.any(&[Bypass, Valve])).then(|| {
        let why = "The name speaks of what a controller of differential pressure sends, to the pumps perhaps";
        Verdict { role: Role::PumpSpeedCommand, kind: Some(OfKind::Pump), score: OPEN, why: why.to_owned() }
    })
}

/// A fan of nobody that runs: in a file of a pumped loop mostly a coil's.
fn fan(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    let other =
        [ExhaustAir, ReturnAir, Outdoor, Tower, Source, Pump, Alarm, StartStop, Command, Mode, Enable, Speed, Dp];
    let told = name.any(&[Status, Feedback, On]) || name.has(Unit) && name.binary;
    let runs = name.has(Fan) && told && name.may_be_state(seen) && !name.any(&other);
    runs.then(|| {
        let why = "The name speaks of a fan and whether it runs, of a unit with a coil perhaps";
        Verdict { role: Role::FanStatus, kind: Some(OfKind::Coil), score: WEAK, why: why.to_owned() }
    })
}

/// A temperature of a place that no word names, with the values of a room.
fn room(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    let other =
        [Supply, Return, Discharge, Suction, Chilled, Heating, Condenser, Water, Coil, Valve, Motor, Drive, Loop];
    let unread = name.words.iter().any(|w| !w.number && w.text.len() > 1 && w.means.is_empty());
    let told = name.has(Temperature) && name.is(D::Temperature) && unread && !name.any(&other);
    let si = |value: f64| name.measured.unit.as_ref().map_or(f64::NAN, |u| value * u.factor + u.offset);
    let warm = (17.0..28.0).contains(&si(seen.mean)) && si(seen.low) > 10.0 && si(seen.high) < 36.0;
    (told && warm).then(|| {
        let role = if name.has(Setpoint) { Role::SpaceTemperatureSetpoint } else { Role::SpaceTemperature };
        let why = "The name speaks of a temperature, and its values are those of a room";
        Verdict { role, kind: Some(OfKind::Coil), score: WEAK, why: why.to_owned() }
    })
}

/// The first reading, or the second where there is no first, or where "DHP-5 flow" was taken for the loop's.
pub fn instead(name: &Name, seen: &Seen<'_>, first: Option<Verdict>) -> Option<Verdict> {
    let Some(first) = first else { return guess(name, seen) };
    let loops = matches!(first.role, Role::LoopFlow | Role::DifferentialPressure) && !name.any(&[Total, Remote, Loop]);
    let unread = loops && name.medium().is_none() && !name.any(&[Pump, Pumps, Source, Unit, Coil]);
    let label = (0..name.words.len()).find(|i| is_label(&name.words, *i) && name.words[*i].text.ends_with('p'));
    let Some(at) = label.filter(|_| unread) else { return Some(first) };
    let second = rules_pump::pump(&with(name, at, Pump), seen);
    second.map_or(Some(first), |v| Some(doubt(v, OPEN, "a pump perhaps, by its label")))
}

/// Letters that no list holds, before a number or a single letter.
fn is_label(words: &[Word], at: usize) -> bool {
    let word = &words[at];
    let next = words.get(at + 1);
    let numbered = next.is_some_and(|w| w.number || w.text.len() == 1 && !w.glued() && w.means.is_empty());
    let unread = word.means.is_empty() || !word.known || word.has(Noise);
    let letters = !word.number && word.text.len() <= LABEL && word.text.bytes().all(|b| b.is_ascii_lowercase());
    numbered && unread && letters && !OPAQUE.contains(&word.text.as_str())
}

/// Whether the name speaks of what has a motor and water.
fn turns(name: &Name) -> bool {
    let air = name.any(&[SupplyAir, ReturnAir, ExhaustAir, Air, Damper, Room, Valve]);
    let motor = name.any(&[Speed, Frequency, Torque, Drive, Head, Suction, Starts])
        || name.is_any(&[D::Frequency, D::ShaftSpeed, D::Torque])
        || name.is(D::Current)
        || name.has(Mode);
    motor && !air && !name.any(&[Chilled, Heating, Condenser])
}

fn with(name: &Name, at: usize, concept: super::concepts::Concept) -> Name {
    let mut name = name.clone();
    name.words[at].means.add(concept);
    name.words[at].known = true;
    let mut says = Set::default();
    name.words.iter().for_each(|w| says.join(w.means));
    Name { says, ..name }
}

fn doubt(mut verdict: Verdict, most: f64, what: &str) -> Verdict {
    verdict.score = verdict.score.min(most).max(WEAK.min(most));
    verdict.why.push_str(", of ");
    verdict.why.push_str(what);
    verdict
}
