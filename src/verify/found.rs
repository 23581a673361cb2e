//! When was the setting changed, where nobody says?
//!
//! Comes in: what the control relation leaves over, a row each (head less what it was as a function of flow, differential pressure less its setpoint, speed less
//! what it was as a function of flow). Goes out: the instant of the strongest step in its daily medians, how sure, and every other step. The decisions a reader would
//! question: steps are cut with a penalty that counts how alike neighbouring days are, and a record along which a straight line fits better than a step has drifted and
//! was not changed. It does not say what was changed. Start at [`change`]; [`residual`] makes the rows from two columns.

use super::least_squares::fit;
use super::rows::{local_day, median};
use crate::faults::onset::{BELIEVED, step_on};
use crate::hydraulics::{change as cuts, student};
use chrono_tz::Tz;

/// Days on either side of a step, at the least (common practice, no source).
const LEAST_DAYS: usize = 5;
/// Rows a day must have for its median (common practice, no source).
const LEAST_ROWS: usize = 6;
/// Rounds in which cuts and noise settle; three do in all cases tried.
const ROUNDS: usize = 5;
/// Autocorrelation of days is not believed above this [-]: as for onsets of faults.
const MOST_ALIKE: f64 = 0.9;
/// Share of the variance that a line must take up to be called a drift (common practice, no source) [-].
const MOSTLY: f64 = 0.5;
/// Standard deviation over the median of the size, of normal values (Hampel 1974, from memory) [-].
const TO_SIGMA: f64 = 1.4826;
/// The set of days within which the change lies with this probability [-].
const SURE: f64 = 0.95;
const DAY_MS: i64 = 86_400_000;

/// One step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// First row after it [ms since 1970, UTC].
    pub at_ms: i64,
    /// The change lies between with 95 %: beginning of the first, end of the last day that may be [ms since 1970, UTC].
    pub from_ms: i64,
    pub to_ms: i64,
    /// After less before [unit of the residual].
    pub size: f64,
    /// Size over its standard error, autocorrelation counted [-].
    pub t: f64,
    /// One less the probability that noise alone shows such a step somewhere in the record [-].
    pub confidence: f64,
}

/// The change, and what else moved.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The strongest step.
    pub step: Step,
    /// Other steps, in order of time: one after the change means that the period after it does not have one setting.
    pub others: Vec<Step>,
}

/// Why no change is named.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NotFound {
    #[error("the control relation is known on {days} days; at least {least} are needed")]
    TooFewDays { days: usize, least: usize },
    #[error(
        "no step stands out in the control relation: the strongest is {t:.1} times its standard error, at least {BELIEVED} times is needed"
    )]
    NoStep { t: f64 },
    #[error("the control relation drifts over the whole record, so no day stands out as that of the change")]
    Drift,
}

/// A local day's median, and where its rows stand.
struct Daily {
    day: i64,
    rows: Vec<usize>,
    median: f64,
}

/// Finds it. `residual` a row each, NaN unknown; times ascend [ms since 1970, UTC].
pub fn change(time_ms: &[i64], residual: &[f64], timezone: Tz) -> Result<Found, NotFound> {
    let daily = daily(time_ms, residual, timezone);
    let least = 2 * LEAST_DAYS;
    if daily.len() < least {
        return Err(NotFound::TooFewDays { days: daily.len(), least });
    }
    let y: Vec<f64> = daily.iter().map(|d| d.median).collect();
    if drifted(&y) {
        return Err(NotFound::Drift);
    }
    let (places, noise) = segments(&y);
    let mut steps: Vec<Step> = (0..places.len())
        .filter_map(|k| {
            let from = if k == 0 { 0 } else { places[k - 1] };
            let to = places.get(k + 1).copied().unwrap_or(y.len());
            step(time_ms, residual, &daily, &y, (from, places[k], to), noise)
        })
        .collect();
    let strongest = steps.iter().map(|s| s.t).fold(0.0, f64::max);
    steps.retain(|s| s.t >= BELIEVED);
    let first = (0..steps.len()).reduce(|best, k| if steps[k].t > steps[best].t { k } else { best });
    let Some(first) = first else { return Err(NotFound::NoStep { t: strongest }) };
    let step = steps.remove(first);
    Ok(Found { step, others: steps })
}

/// `y` less the part of it that hangs on `x`, row by row: a line and a square learned within days, so that a step between days stays in. Rows that lack
/// either are NaN. Where x does not move within any day it is `y` itself.
#[must_use]
pub fn residual(time_ms: &[i64], x: &[f64], y: &[f64], timezone: Tz) -> Vec<f64> {
    let rows: Vec<usize> = (0..time_ms.len().min(x.len()).min(y.len()))
        .filter(|i| x[*i].is_finite() && y[*i].is_finite() && local_day(time_ms[*i], timezone).is_some())
        .collect();
    let mut out = vec![f64::NAN; y.len()];
    let days: Vec<i64> = rows.iter().filter_map(|i| local_day(time_ms[*i], timezone)).collect();
    let first = days.iter().min().copied().unwrap_or(0);
    let group: Vec<usize> = days.iter().map(|d| (d - first) as usize).collect();
    let mean = rows.iter().map(|i| x[*i]).sum::<f64>() / rows.len().max(1) as f64;
    let powers = |n: i32| rows.iter().map(|i| (x[*i] - mean).powi(n)).collect::<Vec<f64>>();
    let columns = [powers(1), powers(2)];
    let slope = fit(&rows.iter().map(|i| y[*i]).collect::<Vec<f64>>(), &group, &columns).map(|f| f.slope);
    for (k, i) in rows.iter().enumerate() {
        let part = slope.as_ref().map_or(0.0, |s| s[0] * columns[0][k] + s[1] * columns[1][k]);
        out[*i] = y[*i] - part;
    }
    out
}

fn daily(time_ms: &[i64], residual: &[f64], timezone: Tz) -> Vec<Daily> {
    let mut days: Vec<Daily> = Vec::new();
    for i in (0..time_ms.len().min(residual.len())).filter(|i| residual[*i].is_finite()) {
        let Some(day) = local_day(time_ms[i], timezone) else { continue };
        match days.last_mut() {
            Some(d) if d.day == day => d.rows.push(i),
            _ => days.push(Daily { day, rows: vec![i], median: f64::NAN }),
        }
    }
    days.retain(|d| d.rows.len() >= LEAST_ROWS);
    for d in &mut days {
        d.median = median(d.rows.iter().map(|i| residual[*i]).collect());
    }
    days
}

/// Where new levels begin, and the standard deviation of a day about its level with what neighbours share. The first noise is from differences, which a
/// step hardly touches: begun from the whole record, a second step would pass for autocorrelation and never be cut.
fn segments(y: &[f64]) -> (Vec<usize>, f64) {
    let mut noise = first_noise(y);
    let mut places = Vec::new();
    for _ in 0..ROUNDS {
        let next = cuts::changes(y, 2.0 * cuts::penalty(noise, y.len()), LEAST_DAYS);
        let same = next == places;
        places = next;
        noise = spread(y, &places);
        if same {
            break;
        }
    }
    (places, noise)
}

/// From differences over one day and over two: their squares grow as 1 - r and 1 - r^2.
fn first_noise(y: &[f64]) -> f64 {
    let square = |lag: usize| {
        let d: Vec<f64> = y.windows(lag + 1).map(|w| (w[lag] - w[0]).abs()).collect();
        (TO_SIGMA * median(d)).powi(2)
    };
    let (one, two) = (square(1), square(2));
    let alike = if one > 0.0 { (two / one - 1.0).clamp(0.0, MOST_ALIKE) } else { 0.0 };
    (one / (2.0 * (1.0 - alike)) * (1.0 + alike) / (1.0 - alike)).sqrt()
}

fn spread(y: &[f64], places: &[usize]) -> f64 {
    let left = about_levels(y, places);
    let squares: f64 = left.iter().map(|e| e * e).sum();
    let pairs: f64 = left.windows(2).map(|w| w[0] * w[1]).sum();
    let alike = if squares > 0.0 { (pairs / squares).clamp(0.0, MOST_ALIKE) } else { 0.0 };
    let freedom = y.len().saturating_sub(places.len() + 1).max(1) as f64;
    (squares / freedom * (1.0 + alike) / (1.0 - alike)).sqrt()
}

fn about_levels(y: &[f64], places: &[usize]) -> Vec<f64> {
    let mut ends = places.to_vec();
    ends.push(y.len());
    let (mut left, mut from) = (Vec::with_capacity(y.len()), 0);
    for to in ends {
        let mean = y[from..to].iter().sum::<f64>() / (to - from).max(1) as f64;
        left.extend(y[from..to].iter().map(|v| v - mean));
        from = to;
    }
    left
}

/// Whether one straight line takes up most of what moves, and more than the best step does.
fn drifted(y: &[f64]) -> bool {
    let along = (0..y.len()).map(|i| i as f64).collect();
    let Some(line) = fit(y, &vec![0; y.len()], &[along]) else { return false };
    let best = cuts::single(y, LEAST_DAYS).map_or(f64::INFINITY, |c| cuts::cost(y) - c.gain);
    line.r2() > MOSTLY && line.sse < best
}

fn step(
    time_ms: &[i64],
    residual: &[f64],
    daily: &[Daily],
    y: &[f64],
    (from, at, to): (usize, usize, usize),
    noise: f64,
) -> Option<Step> {
    let told = step_on(&y[from..to], &[], LEAST_DAYS.min(at - from).min(to - at), at - from)?;
    let freedom = (to - from).saturating_sub(2).max(1) as f64;
    let by_chance = 2.0 * (1.0 - student::below(told.t, freedom)) * y.len() as f64;
    let (first, last) = sure_days(&y[from..to], noise);
    let day = |k: usize| &daily[from + k];
    let (before, after) = (median(y[from..at].to_vec()), median(y[at..to].to_vec()));
    let near: Vec<usize> =
        (at.saturating_sub(1).max(from)..(at + 1).min(to)).flat_map(|k| daily[k].rows.clone()).collect();
    let at_ms = time_ms[split(residual, &near, before, after)?];
    Some(Step {
        at_ms,
        from_ms: time_ms[*day(first.saturating_sub(1)).rows.first()?].min(at_ms),
        to_ms: (time_ms[*day(last).rows.first()?] + DAY_MS).max(at_ms),
        size: told.size,
        t: told.t,
        confidence: (1.0 - by_chance).max(0.0),
    })
}

/// First and last place of the cut that may be, by how much worse it fits than the best.
fn sure_days(y: &[f64], noise: f64) -> (usize, usize) {
    let places: Vec<usize> = (1..y.len()).collect();
    let cost: Vec<f64> = places.iter().map(|k| about_levels(y, &[*k]).iter().map(|e| e * e).sum()).collect();
    let least = cost.iter().copied().fold(f64::INFINITY, f64::min);
    let scale = (2.0 * noise * noise).max(f64::MIN_POSITIVE);
    let weight: Vec<f64> = cost.iter().map(|c| (-(c - least) / scale).exp()).collect();
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by(|a, b| weight[*b].total_cmp(&weight[*a]));
    let all: f64 = weight.iter().sum();
    let (mut sum, mut first, mut last) = (0.0, usize::MAX, 0);
    for k in order {
        sum += weight[k];
        (first, last) = (first.min(places[k]), last.max(places[k]));
        if sum >= SURE * all {
            break;
        }
    }
    (first, last)
}

/// The row from which the later level fits better, among the rows of the two days about the cut.
fn split(residual: &[f64], rows: &[usize], before: f64, after: f64) -> Option<usize> {
    let away = |i: usize, level: f64| (residual[i] - level).abs();
    let mut cost: f64 = rows.iter().map(|i| away(*i, after)).sum();
    let mut best = (cost, *rows.first()?);
    for w in rows.windows(2) {
        cost += away(w[0], before) - away(w[0], after);
        if cost < best.0 {
            best = (cost, w[1]);
        }
    }
    Some(best.1)
}
