//! The words for things that have a code: what a person reads, and what a file holds.

use crate::{
    faults::{Fault, Finding, Urgency, next_point::NextPoint},
    plant::Role,
    regimes::Regime,
};

/// A fault in a few plain words, as the start of a sentence.
pub fn fault(fault: Fault) -> &'static str {
    match fault {
        Fault::LowDeltaT => "Water returns with too little temperature change",
        Fault::StuckBypass => "A bypass passes water all the time",
        Fault::MinimumSpeedHunting => "The pump hunts on and off its lowest speed",
        Fault::SpeedHunting => "The pump's speed swings and does not settle",
        Fault::SetpointTooHigh => "The pumps make more head than the loop needs",
        Fault::SetpointTooLow => "The pumps make too little head for the neediest branch",
        Fault::OffControlCurve => "The pumps do not follow their configured control curve",
        Fault::FixedSpeed => "The pump runs at one fixed speed",
        Fault::OutOfHoursRunning => "The pumps run when the loop is not meant to",
        Fault::PumpDegraded => "The pump makes less than its tested curve",
        Fault::ShortCycling => "The pump starts and stops too often",
        Fault::SensorFault => "A sensor cannot be right",
        Fault::MinimumSpeedTooHigh => "The lowest speed is set higher than it needs to be",
        Fault::OutsidePreferredRegion => "The pump works far from its best flow",
        Fault::PoorStaging => "The wrong number of pumps share the flow",
        Fault::Deadheading => "The pump runs against closed valves",
    }
}

/// The fault in plain words, and whose it is unless the whole loop's.
pub fn finding(f: &Finding) -> String {
    of(f.fault, &f.subject)
}

/// A fault and whose it is, unless the whole loop's.
pub fn of(fault: Fault, subject: &str) -> String {
    if subject == "loop" { self::fault(fault).to_owned() } else { format!("{} ({subject})", self::fault(fault)) }
}

/// A fault and all whose it is; more than a handful are counted.
pub fn of_all(fault: Fault, subjects: &[&str]) -> String {
    const NAMED: usize = 4;
    let mut names: Vec<String> =
        subjects.iter().filter(|s| **s != "loop").take(NAMED).map(|s| (*s).to_owned()).collect();
    if subjects.len() > NAMED {
        names.push(format!("{} more", subjects.len() - NAMED));
    }
    of(fault, &if names.is_empty() { "loop".to_owned() } else { join(&names) })
}

/// A fault by its code, or the recommendation, in a few words for tables.
pub fn code(code: &'static str) -> &'static str {
    match Fault::ALL.iter().find(|f| f.code() == code) {
        Some(f) => short(*f),
        None if code == "recommendation" => "a setting to propose",
        None => code,
    }
}

/// A fault as the trade calls it.
pub fn short(fault: Fault) -> &'static str {
    match fault {
        Fault::LowDeltaT => "low temperature difference",
        Fault::StuckBypass => "stuck bypass",
        Fault::MinimumSpeedHunting => "hunting at minimum speed",
        Fault::SpeedHunting => "speed hunting",
        Fault::SetpointTooHigh => "setpoint too high",
        Fault::SetpointTooLow => "setpoint too low",
        Fault::OffControlCurve => "off the control curve",
        Fault::FixedSpeed => "fixed speed",
        Fault::OutOfHoursRunning => "running out of hours",
        Fault::PumpDegraded => "worn or blocked pump",
        Fault::ShortCycling => "short cycling",
        Fault::SensorFault => "sensor fault",
        Fault::MinimumSpeedTooHigh => "minimum speed too high",
        Fault::OutsidePreferredRegion => "pump far from its best flow",
        Fault::PoorStaging => "poor staging",
        Fault::Deadheading => "pump against closed valves",
    }
}

/// A point's role in plain words, with its article.
pub fn role(role: Role) -> String {
    match role {
        Role::PumpPower => "the electric power".to_owned(),
        Role::PumpHead => "the differential pressure across the pump".to_owned(),
        Role::LoopFlow => "the loop's flow".to_owned(),
        Role::ValvePosition => "the valve position".to_owned(),
        Role::SupplyTemperature => "the supply temperature".to_owned(),
        Role::ReturnTemperature => "the return temperature".to_owned(),
        Role::PumpSpeed => "the speed".to_owned(),
        Role::PumpStatus => "the run status".to_owned(),
        Role::PumpStarts => "a counter of starts".to_owned(),
        other => format!("the {}", other.word().replace('-', " ")),
    }
}

/// A point to trend: what it is, whose, its role in the plant file, and what must stand beside it.
pub fn point(p: &NextPoint) -> String {
    let of = p.of.as_ref().map_or_else(String::new, |of| format!(" of {of}"));
    let with = p.with.map_or_else(String::new, |w| format!(", together with {} ({})", role(w), w.word()));
    format!("{}{of} ({}){with}", role(p.role), p.role.word())
}

/// An urgency's code, the same in the JSON and on the page.
pub fn urgency(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::Watch => "watch",
        Urgency::Plan => "plan",
        Urgency::Act => "act",
    }
}

/// An urgency for people.
pub fn urgency_said(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::Watch => "keep an eye on it",
        Urgency::Plan => "plan the work",
        Urgency::Act => "act now",
    }
}

/// How sure, in words that go with a probability.
pub fn sureness(confidence: f64) -> &'static str {
    // As the number beside it is rounded.
    match (confidence * 100.0).round() / 100.0 {
        c if c >= 0.95 => "nearly certain",
        c if c >= 0.85 => "very likely",
        c if c >= 0.7 => "likely",
        _ => "more likely than not",
    }
}

/// All regimes, in the order that legends and tables list them.
pub const REGIMES: [Regime; 8] = [
    Regime::OnCurve,
    Regime::AboveCurve,
    Regime::BelowCurve,
    Regime::SpeedFloor,
    Regime::FullSpeed,
    Regime::Transient,
    Regime::Unknown,
    Regime::Off,
];

/// A regime's code in result files.
pub fn regime_code(regime: Regime) -> &'static str {
    match regime {
        Regime::OnCurve => "on-curve",
        Regime::AboveCurve => "above-curve",
        Regime::BelowCurve => "below-curve",
        Regime::SpeedFloor => "speed-floor",
        Regime::FullSpeed => "full-speed",
        Regime::Off => "off",
        Regime::Transient => "transient",
        Regime::Unknown => "unknown",
    }
}

/// A regime in plain words.
pub fn regime(regime: Regime) -> &'static str {
    match regime {
        Regime::OnCurve => "on the control curve",
        Regime::AboveCurve => "above the curve",
        Regime::BelowCurve => "below the curve",
        Regime::SpeedFloor => "at the speed floor",
        Regime::FullSpeed => "at full speed",
        Regime::Off => "off",
        Regime::Transient => "changing",
        Regime::Unknown => "not known",
    }
}

/// "1 finding", "2 findings".
pub fn count(n: usize, noun: &str) -> String {
    if n == 1 { format!("1 {noun}") } else { format!("{n} {noun}s") }
}

/// "is 1 finding", "are 2 findings".
pub fn are_counted(n: usize, noun: &str) -> String {
    format!("{} {}", if n == 1 { "is" } else { "are" }, count(n, noun))
}

/// "1 was found", "2 were found".
pub fn were_counted(n: usize, what: &str) -> String {
    format!("{n} {} {what}", if n == 1 { "was" } else { "were" })
}

/// The text with a full stop where it has no end.
pub fn sentence(text: &str) -> String {
    if text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}

/// "a", "a and b", "a, b and c".
pub fn join(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// The sentence with a capital first letter.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|c| c.to_uppercase().chain(chars).collect()).unwrap_or_default()
}

/// The sentence without its full stop, and with a small first letter unless its first word is a name or a code.
pub fn clause(text: &str) -> String {
    let text = text.trim().trim_end_matches('.');
    let first = text.split_whitespace().next().unwrap_or_default();
    let plain = first.chars().skip(1).all(|c| c.is_lowercase() || c == '\'');
    let mut chars = text.chars();
    match chars.next() {
        Some(c) if plain => c.to_lowercase().chain(chars).collect(),
        _ => text.to_owned(),
    }
}

/// A text's sentences: what ends in a full stop before a capital letter.
pub fn sentences(text: &str) -> Vec<&str> {
    let mut all = Vec::new();
    let mut from = 0;
    for (at, _) in text.match_indices(". ") {
        if text[at + 2..].starts_with(char::is_uppercase) {
            all.push(&text[from..=at]);
            from = at + 2;
        }
    }
    all.push(&text[from..]);
    all
}
