//! The stages in order, as one function that reads as a sentence.

use crate::{
    faults::Verdict,
    ingest::{Clock, Ledger},
    notice::Notice,
    operating::OperatingPoints,
    plant::Plant,
    regimes::Regimes,
    screening::{Doubt, Screened},
    tuning::Tuning,
};

/// Everything a report may say.
#[derive(Debug, Clone)]
pub struct Review {
    pub plant: Plant,
    /// The period [ms UTC]: from inclusive, to exclusive.
    pub from_ms: i64,
    pub to_ms: i64,
    /// Share of the period's rows in which some pump's running state is known [-].
    pub coverage: f64,
    /// Pump energy in the period [kWh].
    pub energy_kwh: f64,
    pub clock: Clock,
    pub ledger: Ledger,
    pub screened: Screened,
    pub doubts: Vec<Doubt>,
    pub points: OperatingPoints,
    pub regimes: Regimes,
    /// The head that would have been enough with the neediest valve at 90 % open, one a row [kPa]; NaN where unknown.
    pub need_kpa: Vec<f64>,
    /// Index of the neediest coil, one a row; `u16::MAX` where unknown.
    pub neediest: Vec<u16>,
    pub verdicts: Vec<Verdict>,
    pub tuning: Tuning,
    pub notices: Vec<Notice>,
    pub assumed: Vec<String>,
}
