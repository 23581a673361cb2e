//! Which trended points can be believed: the witnesses that later stages may call.
//!
//! Comes in: [`Trends`](crate::ingest::Trends). Goes out: [`Screened`]: the same columns with unbelievable values
//! taken out (NaN) and a doubt for each, and look-ups by role.

use crate::ingest::{Clock, Series};
use crate::plant::Role;

/// A point, or a part of it, that was not believed.
#[derive(Debug, Clone)]
pub struct Doubt {
    pub point: String,
    pub rows: usize,
    pub why: String,
}

/// Trends that later stages may rely on.
#[derive(Debug, Clone)]
pub struct Screened {
    pub clock: Clock,
    pub series: Vec<Series>,
    pub doubts: Vec<Doubt>,
}

impl Screened {
    /// The first series of a role, of this pump or coil (or of the loop where `of` is `None`).
    #[must_use]
    pub fn find(&self, role: Role, of: Option<&str>) -> Option<&Series> {
        self.series.iter().find(|s| s.role == role && s.of.as_deref() == of)
    }
    /// Its values.
    #[must_use]
    pub fn values(&self, role: Role, of: Option<&str>) -> Option<&[f64]> {
        self.find(role, of).map(|s| s.values.as_slice())
    }
}

/// Temporary.
pub fn screen(_plant: &crate::plant::Plant, trends: crate::ingest::Trends) -> crate::notice::Noticed<Screened> {
    crate::notice::Noticed { value: Screened { clock: trends.clock, series: trends.series, doubts: Vec::new() }, notices: Vec::new() }
}
