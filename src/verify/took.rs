//! Did the operating points move to the new curve?
//!
//! Comes in: rows with what was measured, what the old setting asks there and what the new one asks (heads, pressures or speeds, at the row's own flow). Goes out:
//! how much of the way from the one to the other the points went, by days, with a 95 % interval. The decision a reader would question: where the points lay
//! before is taken off, so that a sensor's offset, which is the same before and after, moves nothing. It does not say why a change did not take.
//! Start at [`took`].

use super::errors::Errors;
use super::{Estimate, rows};
use chrono_tz::Tz;

/// From here to here the points count as moved to the new curve: nearer to it than to the old one, and not past it by as much (common practice, no source) [-].
const ON_IT: (f64, f64) = (0.5, 1.5);
/// Rows a day needs, and days either side (common practice, no source).
const LEAST_ROWS: usize = 6;
const LEAST_DAYS: usize = 3;
/// The settings must be this far apart at a row, over what the old one asks [-]: below it a row says nothing (a head sensor is good to a percent or two).
const APART: f64 = 0.05;

/// Rows to judge by; all of the same length and unit, NaN unknown. Only steady rows, on which the controller was free to follow its curve.
#[derive(Debug, Clone, Copy)]
pub struct Points<'a> {
    /// [ms since 1970, UTC], ascending.
    pub time_ms: &'a [i64],
    pub timezone: Tz,
    /// [ms since 1970, UTC]
    pub changed_ms: i64,
    pub measured: &'a [f64],
    /// What the old and the new setting ask at the row's flow.
    pub old: &'a [f64],
    pub new: &'a [f64],
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Took {
    /// `None`: cannot tell.
    pub took: Option<bool>,
    pub why: String,
    /// How much of the way from the old curve to the new one the points moved [-]: 0 stayed, 1 arrived.
    pub moved: Option<Estimate>,
}

/// Judges. The interval counts that neighbouring days resemble each other.
#[must_use]
pub fn took(points: &Points) -> Took {
    let daily = daily(points);
    let count = |after: bool| daily.iter().filter(|d| d.after == after).count();
    let (before, after) = (count(false), count(true));
    let cannot = |why: String| Took { took: None, why, moved: None };
    if before < LEAST_DAYS || after < LEAST_DAYS {
        return cannot(format!(
            "the two settings differ enough to tell on {before} days before and {after} after; {LEAST_DAYS} of each are needed"
        ));
    }
    let day: Vec<i64> = daily.iter().map(|d| d.day).collect();
    let share: Vec<f64> = daily.iter().map(|d| d.share).collect();
    let step = daily.iter().map(|d| f64::from(u8::from(d.after))).collect();
    let Some(errors) = Errors::new(&day, &share, &[vec![1.0; day.len()], step]) else {
        return cannot(format!("{} days are too few to tell how much they scatter", day.len()));
    };
    let moved = errors.told(|p| (p.fit.slope[1], p.fit.slope_error(1))).estimate();
    let (took, what) = if moved.low > ON_IT.0 && moved.high < ON_IT.1 {
        (Some(true), "the points lie on the new curve")
    } else if moved.high < ON_IT.0 {
        (Some(false), "the points stayed nearer to the old curve")
    } else if moved.low > ON_IT.1 {
        (Some(false), "the points moved past the new curve")
    } else {
        (None, "the points scatter too much to say which curve they follow")
    };
    let way = format!(
        "{:.0} % of the way, {:.0} % to {:.0} %",
        100.0 * moved.estimate,
        100.0 * moved.low,
        100.0 * moved.high
    );
    Took { took, why: format!("{what} ({way}; {before} days before, {after} after)"), moved: Some(moved) }
}

struct Daily {
    day: i64,
    after: bool,
    share: f64,
}

/// A day's median of how far the points are from the old curve to the new; the day of the change is nobody's.
fn daily(points: &Points) -> Vec<Daily> {
    let n = points.time_ms.len().min(points.measured.len()).min(points.old.len()).min(points.new.len());
    let mut days: Vec<(i64, Vec<f64>)> = Vec::new();
    for i in 0..n {
        let share = (points.old[i] - points.measured[i]) / (points.old[i] - points.new[i]);
        let apart = (points.old[i] - points.new[i]).abs() > APART * points.old[i].abs();
        let Some(day) = rows::local_day(points.time_ms[i], points.timezone).filter(|_| apart && share.is_finite())
        else {
            continue;
        };
        match days.last_mut() {
            Some((last, shares)) if *last == day => shares.push(share),
            _ => days.push((day, vec![share])),
        }
    }
    let changed = rows::local_day(points.changed_ms, points.timezone);
    let kept = days.into_iter().filter(|(day, shares)| shares.len() >= LEAST_ROWS && Some(*day) != changed);
    let of = |(day, shares): (i64, Vec<f64>)| Daily {
        day,
        after: changed.is_some_and(|c| day > c),
        share: rows::median(shares),
    };
    kept.map(of).collect()
}
