//! Did a change save what was claimed, at the same weather and load?
//!
//! Comes in: energy, outdoor temperature and load on one clock, and which stretches of time had the old and the new setting. Goes out: [`Saving`]: what the old
//! setting would have used less what was used, with a 95 % interval, the guideline statistics behind it, how much of the period could be compared, and how many
//! more days would settle it; or a [`Refusal`]. The decision a reader would question: days whose drivers the old setting never saw are left out instead of
//! being predicted, so that a saving is one of the days compared, not of a line drawn past its data. It does not find out when the change was made: that is
//! [`found`]; nor whether the points moved to the new curve: that is [`took`]. It knows no plant and no comfort. Start at [`saving`].
//!
//! The rule of a saving: the 95 % interval lies above zero. Where nothing changed that happens in 2.5 % of cases, and in another 2.5 % a loss is told.

pub mod bins;
mod day_rows;
mod days_needed;
pub mod errors;
pub mod form;
pub mod found;
pub mod guideline;
mod held_out;
mod joint;
pub mod least_squares;
pub mod model;
mod periods;
pub mod rows;
mod saving;
pub mod took;
mod year;

use crate::faults::Estimate;
use chrono::NaiveDate;
use chrono_tz::Tz;
pub use days_needed::DaysNeeded;
use form::{Driver, Form};
use guideline::Quality;

/// What was trended, on one clock. A driver that was not trended is an empty slice; a missing reading is NaN.
#[derive(Debug, Clone, Copy)]
pub struct Record<'a> {
    /// Start of each interval [ms since 1970, UTC], ascending.
    pub time_ms: &'a [i64],
    /// Length of an interval [ms].
    pub interval_ms: i64,
    /// The site's clock: days begin at its midnight.
    pub timezone: Tz,
    /// Days that count as Sundays.
    pub holidays: &'a [NaiveDate],
    /// Energy of the pumps in the interval [kWh].
    pub energy_kwh: &'a [f64],
    /// Outdoor temperature [degC].
    pub outdoor_c: &'a [f64],
    /// Load that is metered apart from the pump [kW]; a flow made from the pump's power is none.
    pub load_kw: &'a [f64],
}

/// The setting that stood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Setting {
    Old,
    New,
}

/// A stretch of time with one setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// First instant [ms since 1970, UTC].
    pub from_ms: i64,
    /// The first instant after it [ms since 1970, UTC].
    pub to_ms: i64,
    pub setting: Setting,
}

/// The two stretches of one change [ms since 1970, UTC], cut to periods `(from, to)` where they are given.
#[must_use]
pub fn before_after(changed_ms: i64, before: Option<(i64, i64)>, after: Option<(i64, i64)>) -> [Stretch; 2] {
    let (b, a) = (before.unwrap_or((i64::MIN, changed_ms)), after.unwrap_or((changed_ms, i64::MAX)));
    [
        Stretch { from_ms: b.0, to_ms: b.1.min(changed_ms), setting: Setting::Old },
        Stretch { from_ms: a.0.max(changed_ms), to_ms: a.1, setting: Setting::New },
    ]
}

/// How the two settings followed each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Experiment {
    /// The old setting predicts the new one's days.
    BeforeAfter,
    /// Both came at least twice: one model for all days, in which the setting is one more column. The stronger experiment, since what drifts with
    /// the season meets both settings alike.
    Alternating {
        /// How often the setting changed.
        changes: usize,
    },
}

/// What the interval says, by the rule in this module's header.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told {
    Saved,
    UsedMore,
    CannotTell,
}

/// The days of one setting that were compared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Side {
    pub days: usize,
    /// Energy of those days [kWh].
    pub energy_kwh: f64,
    /// First instant of the first day and first after the last [ms since 1970, UTC].
    pub from_ms: i64,
    pub to_ms: i64,
}

/// Why days were left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// Both settings stood on it, or a period began or ended within it.
    PartOfADay,
    /// More than a tenth of its energy is missing.
    NoEnergy,
    /// A driver is missing for more than a quarter of it.
    NoDriver,
    /// Its driver lies outside what the old setting saw on all but its outermost days.
    OutsideDriver,
}

/// Days left out for one reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Excluded {
    pub setting: Setting,
    pub why: Why,
    pub days: usize,
}

/// A day of the record as it entered the comparison.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayRow {
    /// Local midnight, and the next one [ms since 1970, UTC].
    pub from_ms: i64,
    pub to_ms: i64,
    /// `None`: no stretch touches it.
    pub setting: Option<Setting>,
    /// `None`: compared, or of no stretch.
    pub left_out: Option<Why>,
    /// NaN unknown.
    pub energy_kwh: f64,
    pub outdoor_c: f64,
    pub load_kw: f64,
    /// What the old setting's models say, each with its weight [kWh]; NaN on days that were not compared. Over the new setting's days, the sum of predicted less
    /// measured is the saving. With settings in turn the predictions are moved by a constant so that this holds.
    pub predicted_kwh: f64,
}

/// How far a driver's range before covers the days after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coverage {
    pub driver: Driver,
    /// Least and most daily mean under the old setting, and under the new one [degC or kW].
    pub before: (f64, f64),
    pub after: (f64, f64),
    /// Share of the new setting's days inside the old one's range [-].
    pub share_inside: f64,
    /// The same with a tenth of the range allowed on either side [-] (CalTRACK 2.0: reporting temperatures may exceed the baseline's range by so much).
    pub share_within_a_tenth: f64,
}

/// The model that is named: the simplest of those that predict held-out days best.
#[derive(Debug, Clone)]
pub struct Baseline {
    pub form: Form,
    /// Where the slope changes [degC or kW].
    pub points: Vec<f64>,
    /// Its share in the saving: other forms that predict held-out days about as well count, too [-].
    pub weight: f64,
    /// Forms tried, with the error of held-out days [kWh].
    pub tried: Vec<(Form, f64)>,
}

/// What a change saved.
#[derive(Debug, Clone)]
pub struct Saving {
    pub told: Told,
    pub experiment: Experiment,
    pub before: Side,
    pub after: Side,
    /// What the old setting would have used on the days after, less what was used [kWh].
    pub saving_kwh: Estimate,
    /// The same over what the old setting would have used [-].
    pub saving_fraction: Estimate,
    /// Over a year like the last one in the record; the words say why there is none [kWh].
    pub saving_kwh_per_year: Result<Estimate, String>,
    pub baseline: Baseline,
    pub quality: Quality,
    pub coverage: Vec<Coverage>,
    pub excluded: Vec<Excluded>,
    pub days_needed: DaysNeeded,
    /// Every day of the record.
    pub days: Vec<DayRow>,
}

/// Why nothing can be said.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refusal {
    #[error("columns of {found} and {wanted} rows: every column needs one row per interval, or none at all")]
    Unequal { found: usize, wanted: usize },
    #[error("the times do not rise from row to row, or the interval is zero")]
    NoClock,
    #[error("no energy is known: every reading is missing")]
    NoEnergy,
    #[error(
        "there are {days} whole days with the {} setting; at least {least} are needed{hint}",
        if *setting == Setting::Old { "old" } else { "new" }
    )]
    TooFewDays { setting: Setting, days: usize, least: usize, hint: &'static str },
    #[error(
        "{outside} of {days} days after the change had weather or load that no day before had; {least} comparable days are needed"
    )]
    NothingInCommon { outside: usize, days: usize, least: usize },
    #[error("the pumps used no energy on any day with the old setting")]
    NeverRan,
    #[error("no model of the days before can be fitted")]
    NoModel,
}

/// Compares. `stretches` need no order; days that none of them holds whole are left out.
pub fn saving(record: &Record, stretches: &[Stretch]) -> Result<Saving, Refusal> {
    saving::saving(record, stretches)
}
