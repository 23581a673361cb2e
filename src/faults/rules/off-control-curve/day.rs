//! A day's account of rows on and off the curve.

use super::excess::excess_kpa;
use super::{LEAST_DAY_H, is_judged};
use crate::faults::Case;
use crate::faults::spread::median;
use crate::regimes::Regime;

/// One day's account.
pub struct Day {
    pub first: usize,
    pub judged: usize,
    pub above: usize,
    pub below: usize,
    pub excess_kpa: f64,
}

pub fn day(case: &Case, pumps: &[usize], rows: std::ops::Range<usize>) -> Day {
    let mut day = Day { first: rows.start, judged: 0, above: 0, below: 0, excess_kpa: f64::NAN };
    let mut excess = Vec::new();
    for i in rows {
        let mut sides = [0usize; 3];
        for p in pumps {
            let regime = case.pumps[*p].regime[i];
            if is_judged(regime) {
                sides[(regime == Regime::AboveCurve) as usize + 2 * (regime == Regime::BelowCurve) as usize] += 1;
                excess.push(excess_kpa(case, *p, i));
            }
        }
        let judged = sides[0] + sides[1] + sides[2];
        day.judged += usize::from(judged > 0);
        day.above += usize::from(judged > 0 && sides[1] * 2 > judged);
        day.below += usize::from(judged > 0 && sides[2] * 2 > judged);
    }
    if day.judged as f64 * case.step_h >= LEAST_DAY_H {
        day.excess_kpa = median(excess);
    }
    day
}
