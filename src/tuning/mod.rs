//! What to set instead, and what it saves.
//!
//! Comes in: the need of every row, the control in force, the loop's replay. Goes out: [`Tuning`]: a control curve that would
//! have covered the need of the neediest valve, with the saving replayed through pump, motor and drive, or the reason why none
//! can be given. The decision a reader would question: above the highest flow seen, today's curve stays. Start at [`tune`].

mod choose;
mod curve;
mod enough;
mod held_flow;
mod independent;
mod least_flow;
mod limits;
mod mend;
mod pipe;
mod plan;
mod proposal;
mod record;
mod refused;
mod resample;
mod reset;
mod saving;
mod today;

use crate::faults::{Estimate, Fault, Verdict};
use crate::ingest::Clock;
use crate::r#loop::{Learned, Need};
use crate::operating::Reconstructed;
use crate::plant::{Control, Plant};
use crate::quantity::Pressure;
use crate::regimes::Regimes;
use crate::screening::Screened;
use record::Record;
use today::Today;

pub use curve::Curve;

/// One control setting that would have been enough, with what it saves on the record.
#[derive(Debug, Clone)]
pub struct Alternative {
    pub control: Control,
    pub saving_fraction: Estimate,
}

/// The number to type in, and what bounded it.
#[derive(Debug, Clone)]
pub struct Recommendation {
    pub current: Control,
    pub proposed: Control,
    /// Why this one and none of the others.
    pub choice: String,
    /// `None` where the period cannot carry a year.
    pub saving_kwh_per_year: Option<Estimate>,
    pub saving_kwh: Estimate,
    pub saving_fraction: Estimate,
    pub conditional_on: Vec<Fault>,
    pub alternatives: Vec<Alternative>,
    pub steps: Vec<String>,
    pub limits: Vec<String>,
}

/// A recommendation, or why there is none.
#[derive(Debug, Clone)]
pub enum Tuning {
    Proposed(Box<Recommendation>),
    Refused { missing: Vec<String>, why: String },
}

/// What tuning looks at.
pub struct Basis<'a> {
    pub plant: &'a Plant,
    pub clock: Clock,
    pub local_day: &'a [u32],
    /// Outdoor air below the declared frost limit: nothing is tuned down then.
    pub frost: &'a [bool],
    pub screened: &'a Screened,
    /// The control's own setpoint where it is trended [kPa].
    pub setpoint: Option<&'a [f64]>,
    pub reconstructed: &'a Reconstructed,
    pub regimes: &'a Regimes,
    pub learned: Option<&'a Learned>,
    pub need: &'a Need,
    pub verdicts: &'a [Verdict],
}

impl Basis<'_> {
    /// Whether a fault was found.
    fn found(&self, fault: Fault) -> bool {
        self.verdicts.iter().any(|v| matches!(v, Verdict::Found(f) if f.fault == fault && f.confidence >= 0.5))
    }
}

/// Proposes a control curve.
#[must_use]
pub fn tune(b: &Basis) -> Tuning {
    match propose(b) {
        Ok(r) => Tuning::Proposed(Box::new(r)),
        Err(refusal) => refusal,
    }
}

fn refuse<T>(missing: &[&str], why: impl Into<String>) -> Result<T, Tuning> {
    Err(Tuning::Refused { missing: missing.iter().map(|m| (*m).to_owned()).collect(), why: why.into() })
}

fn propose(b: &Basis) -> Result<Recommendation, Tuning> {
    let today = today::today(b)?;
    refused::by_plant(b)?;
    let Ok(pegged) = mend::pegged(b) else {
        return refuse(
            &[],
            "too many coils have their valve fully open and their load unmet: the head is more likely too low than too high",
        );
    };
    if pegged.unmet.is_empty() && b.found(Fault::SetpointTooLow) {
        return refuse(&[], "the head is too low already (setpoint-too-low); review again once that is mended");
    }
    let conditional_on = mend::faults(b, &pegged.unmet);
    let mended = conditional_on.iter().any(|f| matches!(f, Fault::OffControlCurve | Fault::FixedSpeed));
    let left_out = pegged.unmet.iter().map(|r| r.coil).collect();
    let record = Record::of(b, today.clone(), left_out, mended);
    let high = refused::by_rows(&record, &today)?;
    let chosen = choose::best(&record, &today, high)?;
    let current = b.plant.control.clone();
    Ok(Recommendation {
        proposed: chosen.proposal.as_control(&current),
        saving_kwh_per_year: chosen.saved.per_year,
        saving_kwh: chosen.saved.kwh,
        saving_fraction: chosen.saved.fraction,
        conditional_on,
        alternatives: chosen
            .others
            .iter()
            .map(|(p, s)| Alternative { control: p.as_control(&current), saving_fraction: s.fraction })
            .collect(),
        steps: plan::steps(b, &today, &chosen.proposal, &pegged.unmet),
        limits: limits::limits(&record, &today, &chosen.proposal, high, &pegged, chosen.floor_stays),
        choice: chosen.why,
        current,
    })
}

/// 1st and 99.5th percentile.
fn spread(v: &mut [f64]) -> (f64, f64) {
    if v.is_empty() {
        return (f64::NAN, f64::NAN);
    }
    let last = (v.len() - 1) as f64;
    let mut at = |p: f64| *v.select_nth_unstable_by((last * p) as usize, f64::total_cmp).1;
    (at(0.01), at(0.995))
}

/// A pressure for a control setting.
fn kpa(v: f64) -> Option<Pressure> {
    Some(Pressure::kpa(v))
}
