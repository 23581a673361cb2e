//! Roles of pumps.

use super::concepts::Concept::*;
use super::rules::{FAIR, LIKELY, OPEN, PLAIN, Verdict, WEAK, verdict};
use super::subjects::Name;
use super::{OfKind, Seen};
use crate::plant::{Dimension as D, Role};

const PRESSURES: [D; 2] = [D::Pressure, D::Head];
const SPEEDS: [D; 4] = [D::Fraction, D::Frequency, D::ShaftSpeed, D::Voltage];

/// The role of a point whose name speaks of a pump.
pub fn pump(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    let mut found = quantity(name, seen)?;
    let numbered = name.label(OfKind::Pump).is_some_and(|l| l.numbered);
    // A pump within an air handler circulates one coil; the loop's pumps are others.
    if name.any(&[Unit, Coil]) {
        found.score = found.score.min(OPEN);
        found.why.push_str(", of a coil's own pump perhaps");
    }
    if name.any(&[Tower, Tank]) {
        found.score = found.score.min(OPEN);
    }
    // "Storm pump", "cellar pump": a word in front that nobody knows may say that it serves no loop.
    let unread = |w: &super::lexicon::Word| w.means.is_empty() && !w.known && w.text.len() > 2;
    let odd = name.words.windows(2).any(|w| unread(&w[0]) && w[1].has(Pump) && !w[1].glued() && !w[1].number);
    if odd && !numbered && name.medium().is_none() && !name.has(Loop) {
        found.score = found.score.min(OPEN);
        found.why.push_str(", of another loop perhaps");
    }
    if !numbered && found.kind == Some(OfKind::Pump) && name.medium().is_none() {
        found.score = found.score.min(LIKELY);
    }
    Some(found)
}

/// The role of a drive's point that does not say what the drive turns: mostly a pump, in a file of a pumped loop.
pub fn drive(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    if !name.any(&[Speed, Frequency, Power, Current, Torque, Energy, Command, Setpoint, Feedback, Alarm, Status]) {
        return None;
    }
    let mut found = quantity(name, seen)?;
    found.score = found.score.min(OPEN);
    found.why = "The name speaks of a drive, of a pump perhaps".to_owned();
    Some(found)
}

fn quantity(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    if name.any(&[Fan, Valve, Bypass]) && (!name.has(Drive) || name.has(Bypass) && name.binary) {
        return None;
    }
    if name.binary || name.is_silent() && seen.distinct <= 12 && seen.states {
        return state(name);
    }
    if let Some(found) = silent_state(name, seen) {
        return Some(found);
    }
    if let Some(found) = pressures(name) {
        return Some(found);
    }
    electric(name, seen).or_else(|| speed(name, seen)).or_else(|| water(name))
}

/// Modes and counters, which carry no unit.
fn silent_state(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    if !name.is_silent() {
        return None;
    }
    let few = seen.distinct <= 12;
    if name.any(&[Starts]) || name.has(Count) && name.any(&[Start, StartStop]) {
        return verdict(Role::PumpStarts, OfKind::Pump, PLAIN, "The name speaks of a pump and a count of its starts");
    }
    if few && name.any(&[Mode, Auto]) && !name.has(Status) || few && name.has(Hand) && name.any(&[Auto, Off]) {
        return verdict(Role::PumpMode, OfKind::Pump, FAIR + 0.05, "The name speaks of a pump and hand or automatic");
    }
    if few && name.any(&[Status, Alarm, StartStop, Enable]) && !name.any(&[Count, Speed]) {
        return state(name).map(|v| Verdict { score: v.score.min(LIKELY), ..v });
    }
    None
}

fn state(name: &Name) -> Option<Verdict> {
    let of_pump = |role, score, what: &str| {
        verdict(role, OfKind::Pump, score, format!("The name speaks of a pump, and its states are {what}"))
    };
    let proof = |w: &super::lexicon::Word| matches!(w.text.as_str(), "switch" | "proving" | "proof" | "proven" | "prv");
    let switch = name.words.iter().any(proof) && name.any(&[Flow, Dp]) && !name.has(Alarm);
    if switch {
        return of_pump(Role::PumpStatus, OPEN, "of a flow or pressure switch, which tells whether it runs");
    }
    if name.any(&[Starts, Temperature, Pressure, Flow, Dp, Setpoint]) && !name.has(Alarm) {
        return None;
    }
    if name.has(Alarm) {
        // Alarms of a sensor beside the pump are not the pump's own.
        let own = !name.any(&[Temperature, Pressure, Flow, Dp, Limit, Level]);
        return of_pump(Role::PumpAlarm, if own { FAIR + 0.06 } else { OPEN }, "a fault");
    }
    let hand = name.has(Hand) || name.has(Off) && name.has(Auto) || name.has(Mode);
    if hand || name.has(Auto) && !name.has(Status) {
        return of_pump(Role::PumpMode, FAIR + 0.05, "hand and automatic");
    }
    if name.has(Remote) && !name.any(&[Status, Command, StartStop, Enable]) {
        return of_pump(Role::PumpMode, OPEN, "local and remote");
    }
    if name.has(Output) && !name.has(Feedback) && name.words.iter().any(|w| matches!(w.text.as_str(), "run" | "start"))
    {
        return of_pump(Role::PumpCommand, LIKELY, "an output that starts it");
    }
    if name.any(&[Status]) && !name.any(&[Command, StartStop]) || name.has(Feedback) && !name.has(Command) {
        let score = if name.has(Enable) { OPEN } else { PLAIN };
        return of_pump(Role::PumpStatus, score, "whether it runs");
    }
    let status = |w: &super::lexicon::Word| matches!(w.text.as_str(), "status" | "sts" | "stat" | "state");
    if name.has(StartStop) && !name.has(Command) && name.words.iter().any(status) {
        return of_pump(Role::PumpStatus, FAIR, "whether it was started");
    }
    if name.any(&[StartStop, Command, Output]) || name.has(Start) && name.has(Stop) {
        return of_pump(Role::PumpCommand, FAIR + 0.06, "a command to run");
    }
    if name.has(Enable) {
        let score = if name.any(&[Loop, Plant]) && name.label(OfKind::Pump).is_none_or(|l| !l.numbered) {
            OPEN
        } else {
            LIKELY
        };
        return of_pump(Role::PumpCommand, score, "a release to run");
    }
    if name.any(&[On]) {
        return of_pump(Role::PumpStatus, FAIR, "whether it is on");
    }
    // A pump's name and nothing else: mostly whether it runs, at times the command.
    of_pump(Role::PumpStatus, OPEN, "of a kind that the name does not tell")
}

fn pressures(name: &Name) -> Option<Verdict> {
    if !name.may_be(&PRESSURES) {
        return None;
    }
    let silent = name.is_silent();
    let numbered = name.label(OfKind::Pump).is_some_and(|l| l.numbered);
    let kind = if numbered { OfKind::Pump } else { OfKind::Loop };
    if name.any(&[Dp, Head]) && !name.any(&[Suction, Speed]) {
        let across = !name.has(Remote) || numbered;
        if name.has(Setpoint) {
            let score = if numbered { LIKELY } else { FAIR };
            return verdict(
                Role::DifferentialPressureSetpoint,
                OfKind::Loop,
                score,
                "The name speaks of a setpoint of differential pressure for pumps",
            );
        }
        if !across {
            return verdict(
                Role::DifferentialPressure,
                OfKind::Loop,
                LIKELY,
                "The name speaks of differential pressure in the loop",
            );
        }
        let score = if numbered { PLAIN } else { LIKELY };
        return verdict(Role::PumpHead, kind, score, "The name speaks of a pump and the pressure across it");
    }
    if name.has(Setpoint)
        || silent && !name.any(&[Pressure, Suction, Discharge])
        || silent && name.any(&[Flow, Temperature])
    {
        return None;
    }
    if name.has(Suction) || name.has(Return) && !name.has(Discharge) {
        let inlet = name
            .words
            .iter()
            .any(|w| matches!(w.text.as_str(), "inlet" | "in" | "entree" | "entrada" | "ingresso" | "eintritt"));
        let score = if name.has(Suction) || inlet { PLAIN } else { OPEN };
        return verdict(Role::SuctionPressure, kind, score, "The name speaks of the pressure before the pump");
    }
    if name.has(Discharge) || name.any(&[Supply, Output]) {
        let outlet = name
            .words
            .iter()
            .any(|w| matches!(w.text.as_str(), "outlet" | "out" | "sortie" | "salida" | "uscita" | "austritt"));
        let score = if name.has(Discharge) || outlet { PLAIN } else { OPEN };
        return verdict(Role::DischargePressure, kind, score, "The name speaks of the pressure behind the pump");
    }
    None
}

fn electric(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    let numbered = name.label(OfKind::Pump).is_some_and(|l| l.numbered);
    let several = name.words.windows(2).any(|w| w[0].number && w[1].number && !name.any(&[Unit, Source]));
    let together = !numbered && name.any(&[Pumps, Total]) || numbered && several && name.has(Total);
    if name.has(Setpoint) {
        return None;
    }
    // A counter never comes back to nought: "potencia consumida".
    let counts = seen.low > 0.5 * seen.mean || !seen.low.is_finite();
    let power = name.is(D::Power) || name.is_silent() && (name.has(Power) || name.has(Energy) && !counts);
    if name.is(D::Energy) || name.is_silent() && name.has(Energy) && counts && seen.distinct > 12 {
        if together || name.has(Load) && !name.has(Pump) {
            return None;
        }
        return verdict(
            Role::PumpEnergy,
            OfKind::Pump,
            FAIR + 0.06,
            "The name speaks of a pump and its energy counter",
        );
    }
    if power {
        if together {
            return verdict(
                Role::TotalPower,
                OfKind::Loop,
                FAIR + 0.05,
                "The name speaks of all pumps together and their power",
            );
        }
        let score = match (numbered, name.any(&[Power, Drive])) {
            (true, true) => PLAIN,
            (true, false) => FAIR,
            _ => LIKELY,
        };
        return verdict(Role::PumpPower, OfKind::Pump, score, "The name speaks of a pump and its electric power");
    }
    if name.is(D::Current) || name.may_be(&[D::Fraction]) && name.has(Current) {
        return verdict(
            Role::MotorCurrent,
            OfKind::Pump,
            FAIR + 0.06,
            "The name speaks of a pump's motor and its current",
        );
    }
    if name.is(D::Torque) || name.may_be(&[D::Fraction]) && name.has(Torque) {
        return verdict(
            Role::MotorTorque,
            OfKind::Pump,
            FAIR + 0.06,
            "The name speaks of a pump's motor and its torque",
        );
    }
    None
}

fn speed(name: &Name, seen: &Seen<'_>) -> Option<Verdict> {
    if !name.may_be(&SPEEDS) || name.any(&[Voltage, Load, Humidity, Level, Temperature]) {
        return None;
    }
    let told = name.has(Speed) || name.is_any(&[D::Frequency, D::ShaftSpeed]);
    let asked = name.any(&[Command, Setpoint]);
    // A signal without a unit whose values run as a share in % does.
    let shares = name.is_silent() && seen.low >= -1.0 && (11.0..=110.0).contains(&seen.high) && seen.distinct > 12;
    let signal = name.any(&[Command, Setpoint, Output, Feedback, Drive]) && !name.any(&[Flow, Power, Energy, Status]);
    if !told && shares && signal {
        let role = if name.any(&[Command, Setpoint, Output]) { Role::PumpSpeedCommand } else { Role::PumpSpeed };
        let score = if name.any(&[Command, Drive, Feedback]) { LIKELY } else { OPEN };
        return verdict(role, OfKind::Pump, score, "The name speaks of a pump's signal, and its values run as % do");
    }
    if !told && name.is_silent() || name.is(D::Voltage) && !told && !asked {
        return None;
    }
    if asked {
        let score = if told { PLAIN } else { LIKELY };
        return verdict(Role::PumpSpeedCommand, OfKind::Pump, score, "The name speaks of a pump's speed and a command");
    }
    if told {
        if name.follows(Speed, Output) && !name.any(&[Drive, Frequency]) {
            let why = "The name speaks of a pump's speed and an output";
            return verdict(Role::PumpSpeedCommand, OfKind::Pump, OPEN, why);
        }
        let score = if name.has(Output) && !name.any(&[Drive, Frequency]) { OPEN } else { PLAIN };
        return verdict(Role::PumpSpeed, OfKind::Pump, score, "The name speaks of a pump and its speed");
    }
    // A share in % of a pump with a drive, and no word for what.
    let (role, score) = match () {
        () if name.has(Output) => (Role::PumpSpeedCommand, OPEN),
        () if name.has(Feedback) => (Role::PumpSpeed, LIKELY),
        () if name.has(Drive) => (Role::PumpSpeed, LIKELY),
        () if name.any(&[Status, Alarm, Position, Power]) => return None,
        () => (Role::PumpSpeed, OPEN),
    };
    verdict(role, OfKind::Pump, score, "The name speaks of a pump, and a share in % is mostly its speed")
}

fn water(name: &Name) -> Option<Verdict> {
    if name.has(Setpoint) || !(name.is(D::Flow) || name.is_silent() && name.has(Flow)) {
        return None;
    }
    let numbered = name.label(OfKind::Pump).is_some_and(|l| l.numbered);
    if !numbered && name.any(&[Pumps, Total, Header]) {
        return verdict(Role::LoopFlow, OfKind::Loop, OPEN, "The name speaks of all pumps' flow");
    }
    let score = if name.has(Flow) { PLAIN } else { WEAK.max(LIKELY) };
    verdict(Role::PumpFlow, OfKind::Pump, score, "The name speaks of a pump and its flow")
}
