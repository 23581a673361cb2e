//! The period cut into bins of an hour, a few hours or local days, as the time strip draws it and the page's script reads it.

use crate::{pipeline::Review, regimes::Regime, report::show::Show, report::words};
use chrono::NaiveDate;
use std::ops::Range;

/// No more bins than this, so that a year's strip stays small.
const MOST_BINS: usize = 800;
/// Days up to which a bin is a few hours: of a longer record the eye sees no single day's course any more.
const BY_HOURS: usize = 70;
const FEW_HOURS: usize = 3;
/// Least share of a day that a pump must run for the day to count as one of running.
const RAN: f64 = 0.1;

/// What a bin is long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Each {
    Hours(usize),
    Days(usize),
}

/// Rows of the clock that go into each bin, and the bins' edges in local days since the first midnight.
pub struct Bins {
    pub rows: Vec<Range<usize>>,
    pub edges: Vec<f64>,
    pub days: Range<f64>,
    /// The day that edges count from.
    pub first: NaiveDate,
    pub each: Each,
}

impl Bins {
    /// `None` for a period without rows.
    pub fn new(review: &Review, show: &Show) -> Option<Self> {
        let clock = review.clock;
        let first = show.local(clock.at_ms(0)).filter(|_| clock.len > 1)?.naive_local().date();
        let midnight = first.and_time(chrono::NaiveTime::MIN);
        let day = |i: usize| -> f64 {
            let local = show.local(clock.at_ms(i)).map_or(midnight, |t| t.naive_local());
            (local - midnight).num_seconds() as f64 / 86_400.0
        };
        let hours = (clock.len as f64 * clock.hours()).ceil() as usize;
        let each = match hours {
            h if h <= MOST_BINS => Each::Hours(1),
            h if h <= 24 * BY_HOURS => Each::Hours(FEW_HOURS),
            h => Each::Days(h.div_ceil(24 * MOST_BINS)),
        };
        let rows = match each {
            Each::Hours(n) => {
                let step = (n as i64 * 3600 / clock.step_s.max(1)).max(1) as usize;
                (0..clock.len).step_by(step).map(|i| i..(i + step).min(clock.len)).collect()
            }
            Each::Days(n) => by_days(clock.len, clock.step_s, n, &day),
        };
        let mut edges: Vec<f64> = rows.iter().map(|r| day(r.start)).collect();
        edges.push(day(clock.len));
        let days = edges[0].floor()..edges.last().copied().unwrap_or(1.0).ceil().max(1.0);
        Some(Self { rows, edges, days, first, each })
    }

    /// Mean of the known values in each bin; NaN where there is none.
    pub fn means(&self, values: &[f64]) -> Vec<f64> {
        let mean = |rows: &Range<usize>| {
            let known = values.get(rows.clone()).unwrap_or_default().iter().filter(|v| v.is_finite());
            let (sum, n) = known.fold((0.0, 0.0), |(s, n), v| (s + v, n + 1.0));
            sum / n
        };
        self.rows.iter().map(mean).collect()
    }

    /// The regime that fills most of each bin; of a day, most of the time that the pump ran.
    pub fn dominant(&self, regime: &[Regime]) -> Vec<Option<Regime>> {
        let most = |rows: &Range<usize>| {
            let own = regime.get(rows.clone())?;
            let mut counts = [0usize; words::REGIMES.len()];
            for r in own {
                counts[words::REGIMES.iter().position(|o| o == r).unwrap_or(0)] += 1;
            }
            let off = words::REGIMES.iter().position(|o| *o == Regime::Off).unwrap_or(0);
            let ran = own.len() - counts[off];
            if matches!(self.each, Each::Days(_)) && ran as f64 >= RAN * own.len() as f64 {
                counts[off] = 0;
            }
            // The last of equals, as the legend lists them.
            (0..counts.len()).filter(|k| counts[*k] > 0).max_by_key(|k| counts[*k]).map(|k| words::REGIMES[k])
        };
        self.rows.iter().map(most).collect()
    }

    /// Where a bin's middle lies [d].
    pub fn middle(&self, i: usize) -> f64 {
        (self.edges[i] + self.edges[i + 1]) / 2.0
    }
}

/// Rows by so many local days. Clocks change on the hour or half hour: no piece of a quarter of an hour lies in two days.
fn by_days(len: usize, step_s: i64, each: usize, day: &dyn Fn(usize) -> f64) -> Vec<Range<usize>> {
    let piece = (900 / step_s.max(1)).max(1) as usize;
    let bin = |i: usize| (day(i) / each as f64).floor() as i64;
    let mut rows: Vec<Range<usize>> = Vec::new();
    let mut last = None;
    for start in (0..len).step_by(piece) {
        let (end, own) = ((start + piece).min(len), bin(start));
        match rows.last_mut().filter(|_| last == Some(own)) {
            Some(range) => range.end = end,
            None => rows.push(start..end),
        }
        last = Some(own);
    }
    rows
}
