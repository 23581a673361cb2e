//! Many plants: which there are below a folder, reviewed side by side, ranked by money.
//!
//! Comes in: a folder, and what is to be done with one plant file (a function; this module knows no trends). Goes out: a
//! [`Fleet`]: what each plant's review says in a line, in the order in which somebody should look at them, and whatever
//! could not be reviewed with the reason. The decisions a reader would question: what a plant has at stake is the larger of what
//! its faults cost and what the proposed setting saves, never their sum, since both often are the same energy; and money of
//! different currencies is neither added nor ranked against each other. It writes nothing; start at [`Fleet::of`].

pub mod find;
mod rank;
mod tally;
pub mod work;

pub use find::{Candidate, Found, PassedOver};
pub use rank::times;
pub use tally::{NextTally, Untold};

use crate::faults::{Estimate, Fault, Urgency, next_point::NextPoint};
use chrono_tz::Tz;

/// Everything the page of a fleet may say.
#[derive(Debug, Clone, Default)]
pub struct Fleet {
    /// Plants with something to do or to watch, by currency; those without a price last.
    pub groups: Vec<Group>,
    /// Plants in which every check that could be made came out clear.
    pub clear: Vec<Line>,
    /// Plants in which nothing could be judged.
    pub silent: Vec<Line>,
    pub lost: Vec<Lost>,
    pub passed_over: Vec<PassedOver>,
    /// What could not be judged, most plants first.
    pub untold: Vec<Untold>,
    /// Points that would settle most of it, over all plants.
    pub next: Vec<NextTally>,
}

/// Plants whose money can be compared.
#[derive(Debug, Clone)]
pub struct Group {
    /// `None`: no price of energy is declared, and kWh are compared.
    pub currency: Option<String>,
    /// Dearest first.
    pub lines: Vec<Line>,
}

/// One plant.
#[derive(Debug, Clone)]
pub struct Line {
    /// The plant file, below the folder that was asked for, with forward slashes.
    pub path: String,
    /// The folder of its result, below the folder that results go to.
    pub folder: String,
    pub extract: Extract,
}

/// What a review says in a line. Energies in kWh; NaN and `None`: not known.
#[derive(Debug, Clone)]
pub struct Extract {
    pub name: String,
    pub system: Option<String>,
    pub site: Option<String>,
    pub timezone: Tz,
    pub from_ms: i64,
    pub to_ms: i64,
    pub coverage: f64,
    pub energy_kwh: f64,
    pub price: Option<Price>,
    /// kg CO2e per kWh.
    pub carbon_intensity: Option<f64>,
    /// In the order of the report.
    pub findings: Vec<Brief>,
    /// What all faults cost in the period, no consequence counted twice.
    pub waste_kwh: Option<Estimate>,
    pub proposal: Option<Proposal>,
    /// What to do first, in the reader's units; empty where there is nothing to do.
    pub first: String,
    pub not_judged: Vec<NotJudged>,
    pub next_points: Vec<NextPoint>,
    /// Checks that came out clear, and faults of the last review that this one cleared.
    pub clear: usize,
    pub resolved: usize,
}

/// What energy costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Price {
    pub currency: String,
    pub per_kwh: f64,
}

/// A finding in a line.
#[derive(Debug, Clone)]
pub struct Brief {
    pub fault: Fault,
    pub subject: String,
    pub urgency: Urgency,
    pub confidence: f64,
    pub hours: f64,
    pub waste_kwh: Option<Estimate>,
    pub waste_kwh_per_year: Option<Estimate>,
    pub caused_by: Option<Fault>,
    /// The last review of this plant did not have it.
    pub new: bool,
    pub since_ms: i64,
    /// In the reader's units.
    pub change: String,
}

/// The setting that a review proposes.
#[derive(Debug, Clone)]
pub struct Proposal {
    pub saving_kwh: Estimate,
    pub saving_kwh_per_year: Option<Estimate>,
    /// Codes of what must be mended first.
    pub conditional_on: Vec<Fault>,
}

/// A fault, or the recommendation, that a record cannot decide.
#[derive(Debug, Clone)]
pub struct NotJudged {
    pub fault: &'static str,
    pub missing: Vec<String>,
}

/// A plant that could not be reviewed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lost {
    pub path: String,
    /// For a person; a line that starts with `hint:` says what to do.
    pub why: String,
}

/// What is at stake in a plant, and over what time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stake {
    /// kWh a year.
    Year(Estimate),
    /// kWh in the period, where it does not carry a year.
    Period(Estimate),
    /// Nothing that was found could be priced.
    Unknown,
}
