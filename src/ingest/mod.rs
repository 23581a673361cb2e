//! Files of any shape to trends on one clock, with a ledger of every cell not used.
//!
//! Comes in: a plant's `[trends]` and `[[point]]` parts. Goes out: [`Trends`]: one column a point on one clock, in the
//! role's SI unit, NaN where missing. Only this stage's openers touch trend files. The decision one may question: a cell
//! is never guessed. What is not a reading of a declared point at a known instant is refused, and the ledger says why.
//!
//! The way of a cell: `open` (bytes by lines) → `sniff` (what stands where) → `wide` or `tall` through `time` and `cell`
//! → `zone` (instants) → `samples` (one rising series a point) → `align` (onto the clock). It does not judge numbers: that a
//! temperature of 850 degC cannot be is screening's work. A further shape of export is one function (`shape`). Start at [`read()`].
#![cfg_attr(not(feature = "review"), allow(dead_code, reason = "what only alignment and the columnar readers call"))]

#[cfg(feature = "review")]
mod align;
mod apart;
mod bad_words;
mod blocks;
pub mod cell;
pub mod container;
mod error;
mod gathering;
mod inspect;
mod ledger;
mod open;
pub mod progress;
#[cfg(feature = "review")]
mod read;
mod refusals;
mod rhythm;
mod samples;
mod sections;
mod shape;
mod sniff;
mod split;
mod table;
mod tall;
mod time;
mod undeclared;
mod wanted;
mod zone;

pub use error::IngestError;
pub use inspect::{Looked, LookedFile, LookedPoint, Sample, Status, inspect, inspect_bytes};
pub use open::{as_pattern, files_at, names, patterns};
#[cfg(feature = "review")]
pub use read::{from_bytes, from_bytes_within, read};

use crate::notice::Notice;
use crate::plant::Role;

/// A regular clock: instant of row `i` is `start_ms + i * step_s * 1000`, UTC; the row stands for the interval that starts there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Clock {
    pub start_ms: i64,
    pub step_s: i64,
    pub len: usize,
}

impl Clock {
    /// Instant of row `i` [ms since 1970, UTC].
    #[must_use]
    pub fn at_ms(&self, i: usize) -> i64 {
        self.start_ms + i as i64 * self.step_s * 1000
    }
    /// Hours a row stands for [h].
    #[must_use]
    pub fn hours(&self) -> f64 {
        self.step_s as f64 / 3600.0
    }
}

/// One point's values on the clock.
#[derive(Debug, Clone)]
pub struct Series {
    pub name: String,
    pub role: Role,
    /// Pump or coil; `None` for the loop.
    pub of: Option<String>,
    /// Index into the plant's points.
    pub point: usize,
    /// Unit of `values`: fraction, m3/h, kPa, kW, degC, Hz, rpm, kWh, A.
    pub unit: &'static str,
    /// One a row; NaN is missing. Held over a change-of-value gap; averaged where the export is finer than the clock.
    pub values: Vec<f64>,
}

/// Everything trended, on one clock.
#[derive(Debug, Clone)]
pub struct Trends {
    pub clock: Clock,
    pub series: Vec<Series>,
    pub ledger: Ledger,
}

/// What became of every cell.
#[derive(Debug, Clone, Default)]
pub struct Ledger {
    pub files: Vec<FileLedger>,
    pub points: Vec<PointLedger>,
}

/// One file's account: `cells == used + missing + refused`.
#[derive(Debug, Clone, Default)]
pub struct FileLedger {
    /// As given, relative to the plant file.
    pub path: String,
    pub sha256: String,
    /// "wide" or "tall".
    pub shape: &'static str,
    pub time_format: String,
    pub rows: u64,
    pub cells: u64,
    pub used: u64,
    pub missing: u64,
    pub refused: Vec<Refusal>,
}

/// Cells not used for one reason.
#[derive(Debug, Clone)]
pub struct Refusal {
    pub reason: String,
    pub count: u64,
    pub first_line: u64,
    pub example: String,
}

/// One point's account.
#[derive(Debug, Clone, Default)]
pub struct PointLedger {
    pub name: String,
    pub role: String,
    pub of: Option<String>,
    pub samples: u64,
    pub bad: u64,
    pub missing: u64,
    pub flat_hours: f64,
    pub interval_s: i64,
    /// First and last sample [ms UTC].
    pub first_ms: i64,
    pub last_ms: i64,
    /// First line with a bad word, and the word.
    pub first_bad: Option<(u64, String)>,
}
