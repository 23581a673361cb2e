//! What to set instead, and what it saves.

use crate::faults::{Estimate, Fault};
use crate::plant::Control;

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
