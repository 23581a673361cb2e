//! The words for things that have a code: what a person reads, and what a file holds.

use crate::{
    faults::{Fault, Urgency},
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

/// An urgency's code, the same in the JSON and on the page.
pub fn urgency(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::Watch => "watch",
        Urgency::Plan => "plan",
        Urgency::Act => "act",
    }
}

/// How sure, in words that go with a probability.
pub fn sureness(confidence: f64) -> &'static str {
    match confidence {
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
