//! What a name speaks of that no role is meant for.

use super::Seen;
use super::concepts::{Concept, Concept::*, Set};
use super::lexicon::Word;
use super::rules::{OPEN, Verdict, role};
use super::subjects::Name;
use crate::plant::Dimension as D;

/// Ideas for which no role is meant, and how they are called.
const NO_ROLE: [(Concept, &str); 24] = [
    (Domestic, "domestic water"),
    (Foreign, "gas, steam, oil or another medium than the loop's water"),
    (OtherPump, "a pump that serves no heating or cooling loop"),
    (Tower, "a cooling tower"),
    (Damper, "a damper"),
    (Filter, "a filter or strainer"),
    (Isolation, "an isolating valve"),
    (Humidity, "humidity"),
    (AirQuality, "air quality"),
    (Level, "a level"),
    (Hours, "hours run"),
    (Wet, "wet bulb, dew point or enthalpy"),
    (Refrigerant, "a machine's refrigerant"),
    (Occupancy, "occupancy"),
    (Weather, "weather other than temperature"),
    (Static, "static pressure of air"),
    (AirFlow, "an air flow"),
    (Electrical, "electrical equipment other than the pumps"),
    (Tank, "a tank or vessel"),
    (Duct, "an air duct"),
    (Other, "something that no role is meant for"),
    (DeltaT, "a temperature difference"),
    (Volume, "a counted volume"),
    (Limit, "a limit or an adjustment"),
];

/// What the name speaks of, where no role is meant for that.
pub fn refused(name: &Name) -> Option<&'static str> {
    let pump = name.any(&[Pump, Pumps]);
    let excused = |concept: Concept| match concept {
        // A pump of the tower's water is a condenser-water pump; "min flow bypass" and alarms speak of limits.
        Tower => pump || name.any(&[Condenser, Bypass]),
        // A damper is none in water: "Bypassklappe".
        OtherPump => name.any(&[Unit, Coil]) && !pump,
        Damper => name.has(Bypass) && !name.any(&[Unit, Air, SupplyAir, ReturnAir]),
        Foreign => name.follows(Foreign, Source) && !name.is(D::Flow) && !name.is(D::Pressure),
        Limit => name.has(Bypass) || name.has(Alarm),
        Volume => name.is(D::Flow) || pump && (name.is(D::Energy) || name.has(Energy)),
        Other => pump && name.is_any(&[D::Head, D::Pressure]),
        Tank => pump,
        Electrical => pump && !name.any(&[Domestic]),
        Hours => name.is_any(&[D::Power, D::Energy, D::Flow, D::Temperature]),
        // Weather station, dry bulb.
        Weather => name.has(Outdoor) && name.is(D::Temperature),
        Duct => name.has(SupplyAir) && name.is(D::Temperature) && !name.has(Limit) && !name.any(&[Heat, Cooling]),
        Occupancy if name.has(Enable) => name.any(&[Plant, Loop]),
        Occupancy => name.has(Setpoint) && name.any(&[Room, Unit]) && name.is(D::Temperature),
        _ => false,
    };
    let found = NO_ROLE.iter().find(|(concept, _)| name.has(*concept) && !excused(*concept));
    found.map(|(_, what)| *what).or_else(|| refused_pairs(name))
}

fn refused_pairs(name: &Name) -> Option<&'static str> {
    let pump = name.any(&[Pump, Pumps]);
    let boiler_runs = name.has(Source) && name.binary && name.words.iter().any(|w| w.text == "firing");
    if name.has(Machine) && !pump && !boiler_runs {
        return Some("the inside of a machine");
    }
    let room = |t: &str| t.starts_with("plant_room") || t.ends_with("_room") && t != "zt_room" || t == "heizraum";
    let surroundings = |t: &str| t.starts_with("amb");
    let outdoors = name.words.iter().any(|w| w.has(Outdoor) && !surroundings(&w.text));
    if name.words.iter().any(|w| w.has(Plant) && room(&w.text))
        && name.is(D::Temperature)
        && !outdoors
        && !name.any(&[Supply, Return])
    {
        return Some("a plant room");
    }
    if [Pump, Drive, Source].iter().any(|of| name.follows(*of, Room)) && !name.any(&[Supply, Return, Valve, Unit]) {
        return Some("a plant room");
    }
    if name.any(&[ReturnAir, MixedAir, ExhaustAir]) && !pump && !name.any(&[Supply, Return, Valve, Room]) {
        return Some("air before the coil, or fans of return air");
    }
    None
}

/// What puts a role out may be the name of a place, where it stands in front and something else between it and the
/// equipment: "Tank farm north, P-3 speed". Doubtful, for a person to decide.
pub fn placed(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    const PLACES: [Concept; 8] = [Tower, Electrical, Foreign, Tank, Other, Weather, Filter, OtherPump];
    let anchor = |w: &Word| w.means.any(&[Pump, Unit, Source, Chilled, Heating, Condenser]);
    let first = name.words.iter().position(|w| anchor(w) && !w.means.any(&PLACES))?;
    let front = |i: usize, w: &Word| i + 1 < first && w.means.any(&PLACES);
    let mut read = name.clone();
    for (i, word) in read.words.iter_mut().enumerate() {
        if front(i, word) {
            word.means = Set::default();
        }
    }
    read.says = Set::default();
    read.words.iter().for_each(|w| read.says.join(w.means));
    if read.says == name.says || refused(&read).is_some() {
        return None;
    }
    let found = role(&read, seen)?;
    let why = format!("{}, if what stands before is the name of a place", found.why);
    Some(Verdict { score: found.score.min(OPEN), why, ..found })
}
