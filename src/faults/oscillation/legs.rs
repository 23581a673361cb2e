//! Turning points of a stretch of speed, the ways between them, and how its rows resemble themselves a period later.
//!
//! Comes in: rows without a gap. Goes out: [`Leg`]s, each timed where it crosses the middle between its turning points, and what the rows keep
//! when the slow movement under the swing is taken out. The decision a reader would question: a way up is timed from its crest and a way down
//! from its crest too, since a trough on a floor has no row of its own.

use super::cycles::REVERSAL;
use super::{HalfPeriod, Lagged, decay};

/// Rows a period that the autocorrelation looks at; more are only slower, and no verdict hangs on how many [-].
const LAGS: f64 = 24.0;
/// How far the two periods may differ [-], one row at least.
/// No record was found on which a wider limit decides otherwise: where periods mix, chains part before.
const AGREE: f64 = 0.25;

/// One way between two turning points.
pub(super) struct Leg {
    /// Where it crosses the middle between them: row within the stretch, and speed.
    pub at: f64,
    pub level: f64,
    pub from: f64,
    pub to: f64,
    pub rows: f64,
}

impl Leg {
    pub fn swing(&self) -> f64 {
        (self.to - self.from).abs()
    }
}

/// Turning points, and the ways between them.
pub(super) fn legs(values: &[f64], out: &mut Vec<Leg>) {
    let (mut low, mut high, mut rising) = (0, 0, None);
    let mut before: Option<usize> = None;
    let mut turn = |at: usize| {
        if let Some(a) = before.replace(at) {
            out.push(leg(values, a, at));
        }
    };
    for i in 0..values.len() {
        if rising != Some(false) && values[i] > values[high] {
            high = i;
        }
        if rising != Some(true) && values[i] < values[low] {
            low = i;
        }
        if rising != Some(false) && values[high] - values[i] >= REVERSAL {
            turn(high);
            (rising, low) = (Some(false), i);
        } else if rising != Some(true) && values[i] - values[low] >= REVERSAL {
            turn(low);
            (rising, high) = (Some(true), i);
        }
    }
}

/// The way from one turning point to the next; it is timed from its far end, where a floor leaves no doubt when it was left.
fn leg(values: &[f64], a: usize, b: usize) -> Leg {
    let (from, to) = (values[a], values[b]);
    let level = (from + to) / 2.0;
    let beyond = |j: usize| (values[j] - level) * (to - from) >= 0.0;
    let mut j = if to > from { b } else { a };
    let at = if to > from {
        while j > a + 1 && beyond(j - 1) {
            j -= 1;
        }
        j as f64 - 1.0 + (level - values[j - 1]) / (values[j] - values[j - 1])
    } else {
        while j + 1 < b && !beyond(j + 1) {
            j += 1;
        }
        j as f64 + (level - values[j]) / (values[j + 1] - values[j])
    };
    Leg { at, level, from, to, rows: (b - a) as f64 }
}

/// What is left of the rows without the slow movement under the swing, and the half periods it makes [rows].
pub(super) fn less_level(values: &[f64], legs: &[Leg], rows: std::ops::Range<usize>) -> (Vec<f64>, Vec<HalfPeriod>) {
    let mut halves: Vec<HalfPeriod> =
        legs.windows(2).map(|w| HalfPeriod { length: w[1].at - w[0].at, area: 0.0 }).collect();
    let mut k = 0;
    let deviation = rows
        .map(|row| {
            while k + 2 < legs.len() && row as f64 > legs[k + 1].at {
                k += 1;
            }
            let (a, b) = (&legs[k], &legs[k + 1]);
            let part = ((row as f64 - a.at) / (b.at - a.at)).clamp(0.0, 1.0);
            let e = values[row] - (a.level + (b.level - a.level) * part);
            halves[k].area += e.abs();
            e
        })
        .collect();
    (deviation, halves)
}

/// Miao and Seborg's ratio around a period, and whether the autocorrelation has its maximum near it. Rows that a slow swing has in plenty are
/// taken one in so many, so that the cost does not grow with the period.
pub(super) fn repeats(deviation: &[f64], period: f64) -> (f64, bool) {
    let stride = (period / LAGS).ceil().max(1.0) as usize;
    let kept: Vec<f64> = deviation.iter().copied().step_by(stride).collect();
    let (series, period) = (Lagged::new(kept), period / stride as f64);
    let longest = series.centred.len().saturating_sub(2);
    let range =
        |from: f64, to: f64| (from * period).ceil().max(1.0) as usize..=((to * period).floor() as usize).min(longest);
    let value = |lag: usize| (lag as f64, series.alike_after(lag));
    let by = |a: &(f64, f64), b: &(f64, f64)| a.1.total_cmp(&b.1);
    let Some(most) = range(0.6, 1.4).map(value).max_by(by) else { return (f64::NAN, false) };
    let before = |lag: &usize| (*lag as f64) < most.0;
    let first = range(0.2, 1.0).filter(before).map(value).min_by(by);
    let second = range(1.0, 1.9).filter(|lag| *lag as f64 > most.0).map(value).min_by(by);
    let (Some(first), Some(second)) = (first, second) else { return (f64::NAN, false) };
    (decay(first, most, second), (most.0 - period).abs() <= (AGREE * period).max(1.0))
}
