//! The corpus: invented plants with and without faults, by two generators that share nothing but the words of this file.
//!
//! Comes in: an [`Ask`]. Goes out: a [`Case`]: plant file, exports and what was planted. The decision to question: what may be judged from
//! which points at which interval is written in `judgeable.rs`, and how strong a fault is in `severity.rs`, both before any figure
//! was made. Neither generator uses the analyser, nor the other. Start at [`Generator`].
#![allow(dead_code, reason = "each including target uses its own part")]

pub mod first;
pub mod fit;
pub mod judgeable;
pub mod score;
pub mod second;
pub mod severity;
pub mod table;

/// The sixteen faults by their codes.
pub const FAULTS: [&str; 16] = [
    "low-delta-t",
    "stuck-bypass",
    "minimum-speed-hunting",
    "speed-hunting",
    "setpoint-too-high",
    "setpoint-too-low",
    "off-control-curve",
    "fixed-speed",
    "out-of-hours-running",
    "pump-degraded",
    "short-cycling",
    "sensor-fault",
    "minimum-speed-too-high",
    "outside-preferred-region",
    "poor-staging",
    "deadheading",
];

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    Mild,
    Moderate,
    Severe,
}

impl Severity {
    pub const ALL: [Self; 3] = [Self::Mild, Self::Moderate, Self::Severe];
    pub fn word(self) -> &'static str {
        match self {
            Self::Mild => "mild",
            Self::Moderate => "moderate",
            Self::Severe => "severe",
        }
    }
}

/// What is trended. Every set has each pump's speed and status.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Trended {
    /// Power, each pump's head, loop flow meter, control pressure and its setpoint, supply and return, valves, coil returns, leaving air and
    /// its setpoint, bypass position, outdoor air, pump mode, starts counter.
    All,
    /// Power, head between the headers, supply and return, valves, outdoor air.
    Usual,
    /// Power, supply and return, valves, outdoor air.
    NoPressure,
    /// Loop flow meter, head between the headers, supply and return, outdoor air; no power, no valves.
    Metered,
    /// Power.
    Drive,
    /// Supply and return, outdoor air; no power, no head.
    Temperatures,
}

impl Trended {
    pub const ALL: [Self; 6] =
        [Self::All, Self::Usual, Self::NoPressure, Self::Metered, Self::Drive, Self::Temperatures];
    pub fn word(self) -> &'static str {
        match self {
            Self::All => "all",
            Self::Usual => "usual",
            Self::NoPressure => "no pressure",
            Self::Metered => "metered",
            Self::Drive => "drive",
            Self::Temperatures => "temperatures",
        }
    }
}

/// What is asked of a generator.
#[derive(Debug, Clone)]
pub struct Ask {
    pub seed: u64,
    /// Codes and how strong; empty: a healthy plant with its look-alikes.
    pub plant: Vec<(&'static str, Severity)>,
    pub trended: Trended,
    /// 1, 5 or 15.
    pub minutes: u32,
    pub days: u32,
}

/// A fault that was planted.
#[derive(Debug, Clone)]
pub struct Planted {
    pub fault: &'static str,
    pub severity: Severity,
    /// Subjects of which any is right: "loop", a pump's, coil's or point's name.
    pub subjects: Vec<String>,
    pub first_ms: i64,
    pub last_ms: i64,
    /// It began inside the record, at once.
    pub step: bool,
    /// Period of what swings [min]; NaN where nothing does.
    pub period_min: f64,
    /// What was done, for whoever looks at a miss.
    pub note: String,
}

/// An invented record.
#[derive(Debug, Clone)]
pub struct Case {
    pub plant_toml: String,
    /// Path below the plant file's folder, and the bytes.
    pub files: Vec<(String, Vec<u8>)>,
    pub planted: Vec<Planted>,
    /// Faults that were not planted but hold in truth: finding them is right, not finding them is not counted.
    pub also_true: Vec<&'static str>,
    /// Pump-months in it: pumps times days over 30.4.
    pub pump_months: f64,
    /// Look-alikes in it, for whoever looks at a false alarm.
    pub look_alikes: Vec<&'static str>,
}

/// A way to invent plants. `None` where this generator's plant for the seed cannot have what is asked (poor staging of one pump): the caller
/// takes the next seed.
pub trait Generator: Sync {
    fn name(&self) -> &'static str;
    fn draw(&self, ask: &Ask) -> Option<Case>;
}
