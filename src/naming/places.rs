//! Parts of a name that say where a point is, not what it is: "Kitchen block", "Lab tower", "Energy centre".
//!
//! Comes in: the words of a name as the vocabulary reads them. Goes out: the same, places without a meaning. The decision
//! to question: a word such as "tower" or "pool" is a place only where something else of the loop follows it, or where a
//! word for a building stands beside it; by itself it keeps its meaning, and with it the refusal of a role.

use super::concepts::{Concept, Concept::*};
use super::lexicon::Word;

/// Words that name a building or a part of one after another word: "Pool house", "Steam mill wing".
const BUILDINGS: [&str; 33] = [
    "dorm",
    "dormitory",
    "laboratory",
    "stadium",
    "arena",
    "clinic",
    "bldg",
    "building",
    "block",
    "blk",
    "wing",
    "tower",
    "twr",
    "house",
    "centre",
    "center",
    "ctr",
    "annex",
    "annexe",
    "pavilion",
    "court",
    "hall",
    "park",
    "campus",
    "complex",
    "depot",
    "gebaeude",
    "bau",
    "trakt",
    "batiment",
    "bat",
    "edificio",
    "edif",
];

/// Rooms and buildings whose names mean something else as well.
const PLACES: [&str; 41] = [
    "tower",
    "twr",
    "kitchen",
    "server",
    "rack",
    "parking",
    "garage",
    "pool",
    "piscine",
    "piscina",
    "schwimmbad",
    "tenant",
    "cafetaria",
    "feeder",
    "panel",
    "cell",
    "basin",
    "storage",
    "store",
    "depot",
    "gas",
    "medical",
    "ice",
    "solar",
    "energy",
    "power",
    "water",
    "steam",
    "cuisine",
    "cocina",
    "kueche",
    "mensa",
    "elevator",
    "lift",
    "fire",
    "sprinkler",
    "season",
    "laundry",
    "sewage",
    "weather",
    "theatre",
];

/// What a place may lose: ideas that put a role out, and quantities.
const LOSES: [Concept; 15] = [
    Outdoor, Tower, Electrical, Foreign, Tank, Other, Machine, OtherPump, Energy, Power, Water, Room, Weather, Filter,
    Damper,
];

/// What a word for a place must be followed by: equipment or water of a loop.
const ANCHORS: [Concept; 12] =
    [Pump, Pumps, Unit, Coil, Room, Source, Outdoor, Chilled, Heating, Condenser, Bypass, SupplyAir];

/// Takes the meaning from places.
pub fn forget(words: &mut [Word]) {
    for i in 0..words.len() {
        if !words[i].means.any(&LOSES) || words[i].number {
            continue;
        }
        if is_before_a_building(words, i) || is_before_an_anchor(words, i) || is_machines_room(words, i) {
            clear(&mut words[i]);
        }
    }
    sections(words);
    plant_rooms(words);
    circuits(words);
    paths(words);
}

/// "Main.Vent.AHU4.SupT": the part of a path that names the ventilation is no fan.
fn sections(words: &mut [Word]) {
    for i in 0..words.len() {
        let section = matches!(words[i].text.as_str(), "vent" | "ventilation" | "lueftung");
        let alone = words.get(i + 1).is_some_and(|w| matches!(w.before, Some('/' | '.' | ':' | '|' | '\\' | '>')));
        if section && alone && words[i + 1..].iter().any(|w| w.means.any(&[Unit, Room])) {
            clear(&mut words[i]);
        }
    }
}

/// "PlantRoom.AHU-9 SAT": the plant room is a place wherever something of the plant follows.
fn plant_rooms(words: &mut [Word]) {
    let room =
        |w: &Word| w.has(Plant) && (w.text.ends_with("_room") || w.text == "heizraum" || w.text == "technikraum");
    let Some(at) = words.iter().position(room) else { return };
    let surroundings = |w: &Word| w.text.starts_with("amb");
    let mut after = words[at + 1..].iter().filter(|w| !surroundings(w));
    if after.any(|w| w.means.any(&ANCHORS) || w.means.any(&[Loop, Header])) {
        words[at].text = "plant".to_owned();
    }
}

/// "Circuit CTA", "HK 3 Radiatoren": units without a number beside a word for a circuit are what the circuit serves.
fn circuits(words: &mut [Word]) {
    const LOOPS: [&str; 6] = ["loop", "circuit", "cct", "ckt", "kreis", "network"];
    const CIRCUITS: [&str; 12] = [
        "circuit",
        "circuito",
        "kreis",
        "heizkreis",
        "hk",
        "reseau",
        "red",
        "anillo",
        "secondaire",
        "secundario",
        "primaire",
        "primario",
    ];
    for i in 0..words.len() {
        let unnumbered = !words.get(i + 1).is_some_and(|w| w.number);
        let machine = words[i].has(Source) && !words[i].has(Exchanger) && words[i].text.contains("hp")
            || words[i].text == "heat_pump";
        if !(words[i].has(Unit) || machine) || !unnumbered || words[i].number {
            continue;
        }
        let after = words.get(i + 1).is_some_and(|w| LOOPS.contains(&w.text.as_str()));
        if after {
            words[i].means = super::concepts::Set::default();
            words[i].means.add(Loop);
            continue;
        }
        let before = words[..i].iter().rev().take(2);
        if before.clone().any(|w| CIRCUITS.contains(&w.text.as_str())) {
            let heating = words[i].text.starts_with("radia") || words[i].text.starts_with("heizk");
            words[i].means = super::concepts::Set::default();
            words[i].means.add(Loop);
            if heating {
                words[i].means.add(Heating);
            }
        }
    }
}

fn clear(word: &mut Word) {
    word.means = super::concepts::Set::default();
    word.means.add(Noise);
}

/// "Pool Bldg", "Lab Tower", and the tower itself after a name; never "cooling tower".
fn is_before_a_building(words: &[Word], at: usize) -> bool {
    let is_building = |w: &Word| BUILDINGS.contains(&w.text.as_str());
    let next = words.iter().skip(at + 1).take(2).take_while(|w| !w.number).any(|w| is_building(w) || w.has(Building));
    let named =
        at > 0 && (words[at - 1].means.any(&[Room, Noise]) || words[at - 1].means.is_empty()) && !words[at - 1].number;
    let place = !words[at].means.any(&[Filter, Damper, Machine]) || words[at].has(Room);
    next && place || named && is_building(&words[at]) && !words[at].has(Room)
}

/// A place, and equipment or water of the loop after it.
fn is_before_an_anchor(words: &[Word], at: usize) -> bool {
    let text = words[at].text.as_str();
    if !PLACES.contains(&text) || matches!(text, "energy" | "power" | "water" | "gas" | "steam" | "solar" | "fire") {
        return false;
    }
    let cooling = at > 0 && words[at - 1].has(Cooling);
    let own = |w: &Word| w.means.any(&ANCHORS) && !w.means.any(&[Domestic, Foreign, OtherPump, Tower, Fan]);
    let Some(anchor) = words.iter().skip(at + 1).position(own).map(|n| n + at + 1) else { return false };
    // A pool's pump and a lift's pump are their own.
    let next_to = anchor == at + 1;
    let its_own = words[anchor].means.any(&[Pump, Pumps, Source, Heating]) && !words[anchor].has(Unit);
    let medium = words[anchor..].iter().any(|w| w.means.any(&[Chilled, Condenser]));
    let building = matches!(text, "tower" | "twr") && at > 0 && !words[at - 1].number;
    !(cooling || next_to && its_own && !medium && !building || words[at + 1..anchor].iter().any(|w| w.has(Fan)))
}

/// A room before a pump or machine, or before a unit where the room has no number, tells where that stands.
fn is_machines_room(words: &[Word], at: usize) -> bool {
    let room = words[at].has(Room) && !words[at].means.any(&[Temperature, Setpoint, Unit]);
    let numbered = words.get(at + 1).is_some_and(|w| w.number);
    let mut rest = words.iter().skip(at + 1);
    let own = |w: &Word| w.means.any(&[Pump, Source]) && !w.has(Room);
    // The water that goes to a room without a number is the loop's own.
    let loops = !numbered && at == 0 && words.iter().any(|w| w.means.any(&[Chilled, Heating, Condenser, Loop]));
    let loops = loops && !words.iter().any(|w| w.means.any(&[Valve, Unit, SupplyAir, Coil, Setpoint]));
    room && (loops || rest.any(|w| own(w) || !numbered && w.has(Unit) && !w.has(Room)))
}

/// Quantities that earlier parts of a path name by the way: "Energy Centre / PMP-3 speed".
const BY_THE_WAY: [Concept; 6] = [Energy, Load, Power, Level, Electrical, Weather];
/// What the last part of a path must say by itself.
const QUANTITIES: [Concept; 16] = [
    Speed,
    Frequency,
    Status,
    Flow,
    Dp,
    Pressure,
    Head,
    Temperature,
    Position,
    Current,
    Torque,
    Alarm,
    Mode,
    StartStop,
    Command,
    Power,
];

/// In a path the last part says what is read.
fn paths(words: &mut [Word]) {
    let cuts = |w: &Word| matches!(w.before, Some('/' | '.' | ':' | '|' | '\\' | '>'));
    let Some(last) = words.iter().rposition(cuts) else { return };
    if !words[last..].iter().any(|w| w.means.any(&QUANTITIES)) {
        return;
    }
    for word in words[..last].iter_mut().filter(|w| w.means.any(&BY_THE_WAY)) {
        if !word.means.any(&ANCHORS) && !word.has(Pump) {
            clear(word);
        }
    }
}
