//! How a point is logged: at regular intervals, or when its value changes.

use super::samples::Samples;
use crate::plant::Blank;

/// Spacings this close to the middle one count as alike [share]: loggers wander by seconds.
const JITTER: f64 = 0.1;
/// A point is regular when this share of its spacings is alike [share].
const REGULAR_SHARE: f64 = 0.8;
/// Intervals that people set [s].
const USUAL_S: [i64; 18] = [1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 240, 300, 360, 600, 900, 1200, 1800, 3600];

/// How a point is logged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Rhythm {
    /// At this interval [ms].
    Regular(i64),
    /// When its value changes; the most common spacing [ms], 0 for fewer than two samples.
    OnChange(i64),
}

impl Rhythm {
    /// How the samples lie.
    pub fn of(samples: &Samples, blank: Blank) -> Self {
        if let Some(ms) = even(samples) {
            return if blank == Blank::Missing { Self::Regular(ms) } else { Self::OnChange(ms) };
        }
        let times: Vec<i64> = samples.written().collect();
        let mut spacings: Vec<i64> = times.windows(2).map(|w| w[1] - w[0]).collect();
        if spacings.is_empty() {
            return Self::OnChange(0);
        }
        spacings.sort_unstable();
        let middle = spacings[spacings.len() / 2];
        let alike = spacings.iter().filter(|s| (**s - middle).abs() as f64 <= JITTER * middle as f64).count();
        let runs = spacings.chunk_by(|a, b| a == b);
        let common = runs.reduce(|a, b| if b.len() > a.len() { b } else { a }).unwrap_or(&[]);
        let interval = if 2 * common.len() >= spacings.len() { common[0] } else { usual(middle) };
        if blank == Blank::Missing && alike as f64 >= REGULAR_SHARE * spacings.len() as f64 {
            Self::Regular(interval)
        } else {
            Self::OnChange(interval)
        }
    }

    /// Interval [s].
    pub fn interval_s(self) -> i64 {
        match self {
            Self::Regular(ms) | Self::OnChange(ms) => ms / 1000,
        }
    }
}

/// The spacing of cells that are not blank, where it is the same throughout [ms].
fn even(samples: &Samples) -> Option<i64> {
    if samples.unbroken.is_some() {
        return samples.unbroken;
    }
    let mut written = samples.written();
    let (first, second) = (written.next()?, written.next()?);
    let mut last = second;
    let same = written.all(|t| {
        let spacing = t - last;
        last = t;
        spacing == second - first
    });
    same.then_some(second - first)
}

/// The usual interval within the jitter, else the spacing itself [ms].
fn usual(spacing: i64) -> i64 {
    let near = |s: &&i64| (**s * 1000 - spacing).abs() as f64 <= JITTER * spacing as f64;
    USUAL_S.iter().filter(near).min_by_key(|s| (**s * 1000 - spacing).abs()).map_or(spacing, |s| s * 1000)
}
