//! Faults: rules, each in one .rs and one .md, and one table.
//!
//! Comes in: a [`Case`]: slices of points and trends, and declared facts. Goes out: one [`Verdict`] a fault and subject.
//! The decision a reader would question: a false alarm costs more than a miss, so every rule asks for a contrast that
//! errors common to all rows cannot make (a change over time, a sibling, a second witness), or for a level far beyond
//! them, and else cannot tell. Start at [`RULES`] and [`judge`]; a rule is `rules/<code>.rs` with its text beside it.

pub mod calendar;
pub mod case;
mod causes;
mod fit;
mod lag_pump;
mod looks;
mod moved;
pub mod needs;
pub mod next_point;
pub mod older;
pub mod onset;
pub mod oscillation;
mod page;
mod price;
mod rules;
mod say;
pub mod shown;
mod spread;
mod staging;
pub mod starts;

pub use calendar::Calendar;
pub use case::{Case, CoilCase, PumpCase};
pub use looks::Looks;
pub use page::{page, said};
pub use say::general_caution;
pub use shown::{Shown, What};

use rayon::prelude::*;

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
    /// What a figure of it shows.
    pub shown: Shown,
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

/// A rule is two files of one name below `rules/`.
macro_rules! rule {
    ($fault:ident, $code:literal, $module:ident) => {
        Rule { fault: Fault::$fault, text: include_str!(concat!("rules/", $code, ".md")), judge: rules::$module::judge }
    };
}

/// The rules, in the order they are judged: sensors first.
pub const RULES: &[Rule] = &[
    rule!(SensorFault, "sensor-fault", sensor_fault),
    rule!(StuckBypass, "stuck-bypass", stuck_bypass),
    rule!(LowDeltaT, "low-delta-t", low_delta_t),
    rule!(MinimumSpeedHunting, "minimum-speed-hunting", minimum_speed_hunting),
    rule!(SpeedHunting, "speed-hunting", speed_hunting),
    rule!(ShortCycling, "short-cycling", short_cycling),
    rule!(OffControlCurve, "off-control-curve", off_control_curve),
    rule!(FixedSpeed, "fixed-speed", fixed_speed),
    rule!(SetpointTooHigh, "setpoint-too-high", setpoint_too_high),
    rule!(SetpointTooLow, "setpoint-too-low", setpoint_too_low),
    rule!(MinimumSpeedTooHigh, "minimum-speed-too-high", minimum_speed_too_high),
    rule!(OutOfHoursRunning, "out-of-hours-running", out_of_hours_running),
    rule!(PumpDegraded, "pump-degraded", pump_degraded),
    rule!(OutsidePreferredRegion, "outside-preferred-region", outside_preferred_region),
    rule!(PoorStaging, "poor-staging", poor_staging),
    rule!(Deadheading, "deadheading", deadheading),
];

/// Judges every fault; consequences name their cause.
#[must_use]
pub fn judge(case: &Case) -> Vec<Verdict> {
    // What several rules look at comes first, so that no rule waits for another's look.
    let each_once: [fn(&Case); 4] = [
        rules::low_delta_t::look_at_water,
        |c| _ = rules::stuck_bypass::past_the_coils(c),
        |c| _ = oscillation::swing::look(c),
        |c| _ = moved::look(c),
    ];
    let coils = (0..case.coils.len()).into_par_iter().with_max_len(1);
    rayon::join(
        || coils.for_each(|k| rules::low_delta_t::look_at_coil(case, k)),
        || each_once.par_iter().with_max_len(1).for_each(|look| look(case)),
    );
    let by_rule: Vec<Vec<Verdict>> = RULES.par_iter().with_max_len(1).map(|r| (r.judge)(case)).collect();
    let mut verdicts: Vec<Verdict> = by_rule.into_iter().flatten().collect();
    causes::resolve(case, &mut verdicts);
    verdicts
}

/// The text of a fault's rule.
#[must_use]
pub fn text(fault: Fault) -> &'static str {
    RULES.iter().find(|r| r.fault == fault).expect("every fault has a rule").text
}
