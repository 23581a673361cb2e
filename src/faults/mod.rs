//! Faults: rules, each in one .rs and one .md, and one table.

/// The sixteen faults, by the codes used everywhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fault {
    LowDeltaT,
    StuckBypass,
    MinimumSpeedHunting,
    SpeedHunting,
    SetpointTooHigh,
    SetpointTooLow,
    OffControlCurve,
    FixedSpeed,
    OutOfHoursRunning,
    PumpDegraded,
    ShortCycling,
    SensorFault,
    MinimumSpeedTooHigh,
    OutsidePreferredRegion,
    PoorStaging,
    Deadheading,
}

impl Fault {
    pub const ALL: [Fault; 16] = [
        Fault::LowDeltaT,
        Fault::StuckBypass,
        Fault::MinimumSpeedHunting,
        Fault::SpeedHunting,
        Fault::SetpointTooHigh,
        Fault::SetpointTooLow,
        Fault::OffControlCurve,
        Fault::FixedSpeed,
        Fault::OutOfHoursRunning,
        Fault::PumpDegraded,
        Fault::ShortCycling,
        Fault::SensorFault,
        Fault::MinimumSpeedTooHigh,
        Fault::OutsidePreferredRegion,
        Fault::PoorStaging,
        Fault::Deadheading,
    ];
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Fault::LowDeltaT => "low-delta-t",
            Fault::StuckBypass => "stuck-bypass",
            Fault::MinimumSpeedHunting => "minimum-speed-hunting",
            Fault::SpeedHunting => "speed-hunting",
            Fault::SetpointTooHigh => "setpoint-too-high",
            Fault::SetpointTooLow => "setpoint-too-low",
            Fault::OffControlCurve => "off-control-curve",
            Fault::FixedSpeed => "fixed-speed",
            Fault::OutOfHoursRunning => "out-of-hours-running",
            Fault::PumpDegraded => "pump-degraded",
            Fault::ShortCycling => "short-cycling",
            Fault::SensorFault => "sensor-fault",
            Fault::MinimumSpeedTooHigh => "minimum-speed-too-high",
            Fault::OutsidePreferredRegion => "outside-preferred-region",
            Fault::PoorStaging => "poor-staging",
            Fault::Deadheading => "deadheading",
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Urgency {
    Watch,
    Plan,
    Act,
}

/// Best value with a 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
}

/// One number that a verdict rests on.
#[derive(Debug, Clone)]
pub struct Evidence {
    pub name: String,
    pub value: f64,
    pub unit: &'static str,
    pub expected: String,
    pub source: String,
}

/// A fault that is there.
#[derive(Debug, Clone)]
pub struct Finding {
    pub fault: Fault,
    /// "loop", a pump's or coil's name, or a point's name.
    pub subject: String,
    pub urgency: Urgency,
    pub confidence: f64,
    pub first_seen_ms: i64,
    pub last_seen_ms: i64,
    pub hours: f64,
    /// This period's; `None` where it cannot be priced.
    pub waste_kwh: Option<Estimate>,
    /// `None` where the period's weather cannot carry a year.
    pub waste_kwh_per_year: Option<Estimate>,
    pub caused_by: Option<Fault>,
    pub because: String,
    pub evidence: Vec<Evidence>,
    pub could_also_be: Vec<String>,
    pub check_on_site: Vec<String>,
    pub change: String,
    pub caution: String,
}

/// A rule's answer for one subject.
#[derive(Debug, Clone)]
pub enum Verdict {
    Found(Box<Finding>),
    Clear { fault: Fault, subject: String, would_have_seen: String },
    CannotTell { fault: Fault, subject: String, missing: Vec<String>, why: String },
}
