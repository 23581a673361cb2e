//! What was not believed, and how sure that is.

use crate::ingest::{Clock, Series};
use std::sync::Arc;

/// A point, or a part of it, that was not believed.
#[derive(Debug, Clone, Default)]
pub struct Doubt {
    pub point: String,
    /// Other points that share it, or that may be the one instead.
    pub beside: Vec<String>,
    pub kind: Kind,
    pub rows: usize,
    /// First and last row of it, and their instants [ms UTC]; the last instant is the end of its row.
    pub first_row: usize,
    pub last_row: usize,
    pub first_ms: i64,
    pub last_ms: i64,
    /// Later stages see NaN for these rows.
    pub removed: bool,
    /// Probability that what `kind` says is so [-]; 0 where it is no fault of the point.
    pub confidence: f64,
    /// The readings as they were before any was taken out, of this point and of those removed with it; empty where none was, or where what was taken out
    /// stood for no reading.
    pub was: Arc<Vec<Series>>,
    /// The number that gives it away.
    pub sign: Option<Sign>,
    pub why: String,
}

/// What is wrong with a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Kind {
    /// A few values that cannot be, or stand for no reading; the point itself is well.
    #[default]
    Odd,
    NoValue,
    Stuck,
    Biased,
    Swapped,
    Unit,
    Outliers,
    Clock,
    /// A position that does not follow its command.
    Position,
}

/// A number and what it should have been.
#[derive(Debug, Clone)]
pub struct Sign {
    pub name: String,
    pub value: f64,
    pub unit: &'static str,
    pub expected: String,
}

impl Doubt {
    /// A doubt over these rows of a point; `first` and `last` are rows.
    pub(super) fn of(clock: &Clock, s: &Series, kind: Kind, (first, last): (usize, usize), rows: usize) -> Self {
        Self {
            point: s.name.clone(),
            kind,
            rows,
            first_row: first,
            last_row: last,
            first_ms: clock.at_ms(first),
            last_ms: clock.at_ms(last + 1),
            ..Self::default()
        }
    }
}

/// The readings before they are taken out.
pub(super) fn kept(s: &Series, removed: bool) -> Arc<Vec<Series>> {
    Arc::new(if removed { vec![s.clone()] } else { Vec::new() })
}
