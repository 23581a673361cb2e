//! Faults: rules, each in one .rs and one .md, and one table.
//!
//! Comes in: a [`Case`]: slices of points and trends, and declared facts. Goes out: one [`Verdict`] a fault and subject.
//! The decision a reader would question: a false alarm costs more than a miss, so every rule asks for a contrast that
//! errors common to all rows cannot make (a change over time, a sibling, a second witness), or for a level far beyond
//! them, and else cannot tell. Start at [`RULES`] and [`judge`]; a rule is `rules/<code>.rs` with its text beside it.

pub mod calendar;
pub mod case;
mod fit;
pub mod onset;
mod price;
mod rules;
mod say;
mod spread;

pub use calendar::Calendar;
pub use case::{Case, CoilCase, PumpCase};

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

/// A rule: which fault it judges, its text for people, and its judgement.
pub struct Rule {
    pub fault: Fault,
    /// Fixed headings: What it finds, Why it matters, Needs, Cannot tell when, Limits, Looks alike, Check on site, Source.
    pub text: &'static str,
    pub judge: fn(&Case) -> Vec<Verdict>,
}

/// The rules, in the order they are judged.
pub const RULES: &[Rule] = &[
    Rule { fault: Fault::StuckBypass, text: include_str!("rules/stuck-bypass.md"), judge: rules::stuck_bypass::judge },
    Rule { fault: Fault::LowDeltaT, text: include_str!("rules/low-delta-t.md"), judge: rules::low_delta_t::judge },
    Rule {
        fault: Fault::MinimumSpeedHunting,
        text: include_str!("rules/minimum-speed-hunting.md"),
        judge: rules::minimum_speed_hunting::judge,
    },
    Rule {
        fault: Fault::OffControlCurve,
        text: include_str!("rules/off-control-curve.md"),
        judge: rules::off_control_curve::judge,
    },
    Rule {
        fault: Fault::SetpointTooHigh,
        text: include_str!("rules/setpoint-too-high.md"),
        judge: rules::setpoint_too_high::judge,
    },
];

/// Judges every fault. Faults without a rule answer that they cannot tell; consequences name their cause.
#[must_use]
pub fn judge(case: &Case) -> Vec<Verdict> {
    let mut verdicts: Vec<Verdict> = RULES.iter().flat_map(|r| (r.judge)(case)).collect();
    rules::name_causes(case, &mut verdicts);
    silence_health_behind_a_bypass(&mut verdicts);
    let without = Fault::ALL.into_iter().filter(|f| RULES.iter().all(|r| r.fault != *f));
    verdicts.extend(without.map(|fault| Verdict::CannotTell {
        fault,
        subject: "loop".into(),
        missing: Vec::new(),
        why: "not built yet".into(),
    }));
    verdicts
}

/// Water that passes the coils lowers the loop's temperature difference, whatever the terminals do: while a bypass stands open nobody can call
/// the loop's difference healthy.
fn silence_health_behind_a_bypass(verdicts: &mut [Verdict]) {
    let open = |v: &Verdict| matches!(v, Verdict::Found(f) if f.fault == Fault::StuckBypass && f.confidence >= 0.5);
    if !verdicts.iter().any(open) {
        return;
    }
    for v in verdicts {
        if let Verdict::Clear { fault: fault @ Fault::LowDeltaT, subject, .. } = v
            && subject == "loop"
        {
            *v = Verdict::CannotTell {
                fault: *fault,
                subject: std::mem::take(subject),
                missing: Vec::new(),
                why: "the stuck bypass lowers the loop's temperature difference; what the terminals add shows once it is mended".into(),
            };
        }
    }
}

/// The text of a fault's rule; `None` where there is no rule yet.
#[must_use]
pub fn text(fault: Fault) -> Option<&'static str> {
    RULES.iter().find(|r| r.fault == fault).map(|r| r.text)
}
