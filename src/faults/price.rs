//! What a fault costs: the hours with it against the same hours without it.
//!
//! The replay's own bias (the pump's table, the drive's losses) is in both powers, so their ratio is taken and put
//! on the power that was recorded.

use super::{Case, Estimate, Urgency};
use crate::plant::Serves;

/// Rows priced; more would only cost time, since rows of a fault resemble each other [-].
const MOST_PRICED: usize = 2000;
/// A price stands where at least this share of the rows sampled can be priced [-].
const PRICEABLE: f64 = 0.8;
/// What the replay's ratio itself is good to, as share of the waste, 95 % [-]: half of the drive and motor losses at part load.
const REPLAY: f64 = 0.10;
/// A record this long may be scaled to a year [h]: four weeks, so that every weekday counts alike.
const CARRIES_A_YEAR_H: f64 = 28.0 * 24.0;
/// Hours of a mean year [h].
pub(super) const YEAR_H: f64 = 8766.0;
/// How far the seasons not seen may differ from those seen, 95 %, as share of the waste [-] (common practice, no source).
const UNSEEN_SEASONS: f64 = 0.5;
/// Shares of the loop's pump energy from which a waste is to be acted on, or planned for [-].
const ACT: f64 = 0.15;
const PLAN: f64 = 0.04;

/// Waste over these rows [kWh]; `otherwise` is a row's flow [m3/h] and head [kPa] without the fault.
/// `None` where too few rows can be priced.
pub(super) fn waste(case: &Case, rows: &[usize], otherwise: impl Fn(usize) -> (f64, f64)) -> Option<Estimate> {
    waste_by(case, rows, |i, toward| saved_kw(case, i, toward, &otherwise))
}

/// Waste over these rows [kWh] by the power saved in one [kW], with the flow at its middle (0) or an end of its interval (-1, 1).
pub(super) fn waste_by(case: &Case, rows: &[usize], saved: impl Fn(usize, f64) -> f64) -> Option<Estimate> {
    let stride = rows.len().div_ceil(MOST_PRICED).max(1);
    let sampled: Vec<usize> = rows.iter().copied().step_by(stride).collect();
    let mut by_day: Vec<(u32, f64)> = Vec::new();
    let (mut priced, mut shifted) = (0usize, 0.0);
    for &i in &sampled {
        let w = saved(i, 0.0);
        if !w.is_finite() {
            continue;
        }
        priced += 1;
        let (a, b) = (saved(i, -1.0), saved(i, 1.0));
        shifted += if a.is_finite() && b.is_finite() { (a - b).abs() / 2.0 } else { w.abs() * REPLAY };
        match by_day.last_mut() {
            Some((day, sum)) if *day == case.local_day[i] => *sum += w,
            _ => by_day.push((case.local_day[i], w)),
        }
    }
    if priced == 0 || (priced as f64) < PRICEABLE * sampled.len() as f64 {
        return None;
    }
    let to_kwh = case.step_h * rows.len() as f64 / priced as f64;
    let estimate = by_day.iter().map(|d| d.1).sum::<f64>() * to_kwh;
    let half = (blocks(&by_day) * to_kwh).hypot(shifted * to_kwh).hypot(REPLAY * estimate);
    Some(Estimate { estimate: estimate.max(0.0), low: (estimate - half).max(0.0), high: (estimate + half).max(0.0) })
}

/// Power saved in one row [kW], with the flow moved to an end of its interval.
fn saved_kw(case: &Case, i: usize, toward: f64, otherwise: &impl Fn(usize) -> (f64, f64)) -> f64 {
    let (flow, head) = (case.loop_flow_m3h[i], case.loop_head_kpa[i]);
    let end = if toward < 0.0 { case.loop_flow_low_m3h[i] } else { case.loop_flow_high_m3h[i] };
    let factor = if toward == 0.0 { 1.0 } else { end / flow };
    let (other_flow, other_head) = otherwise(i);
    let with = (case.price)(flow * factor, head, case.pumps_on[i]);
    let without = (case.price)(other_flow * factor, other_head, case.pumps_on[i]);
    if with > 0.0 { case.loop_power_kw[i] * (1.0 - without / with) } else { f64::NAN }
}

/// Spread of a total over whole days, 95 %.
fn blocks(by_day: &[(u32, f64)]) -> f64 {
    let n = by_day.len() as f64;
    if n < 2.0 {
        return 0.0;
    }
    let mean = by_day.iter().map(|d| d.1).sum::<f64>() / n;
    let variance = by_day.iter().map(|d| (d.1 - mean).powi(2)).sum::<f64>() / (n - 1.0);
    1.96 * (variance * n).sqrt()
}

/// Scaled to a year by the hours seen; `None` where the record is too short or the waste unknown.
pub(super) fn per_year(case: &Case, waste: Option<Estimate>) -> Option<Estimate> {
    let waste = waste?;
    let seen_h = case.loop_power_kw.iter().filter(|p| p.is_finite()).count() as f64 * case.step_h;
    if seen_h < CARRIES_A_YEAR_H {
        return None;
    }
    let factor = YEAR_H / seen_h;
    let estimate = waste.estimate * factor;
    let half =
        ((waste.high - waste.low) / 2.0 * factor).hypot(UNSEEN_SEASONS * (1.0 - (seen_h / YEAR_H).min(1.0)) * estimate);
    Some(Estimate { estimate, low: (estimate - half).max(0.0), high: estimate + half })
}

/// Share of the record's pump energy [-]; NaN unknown.
pub(super) fn share(case: &Case, waste: Option<Estimate>) -> f64 {
    let energy: f64 = case.loop_power_kw.iter().filter(|p| p.is_finite()).sum::<f64>() * case.step_h;
    waste.map_or(f64::NAN, |w| w.estimate / energy)
}

/// By money and by what is at stake: a fault that can starve a load is never less than planned for, and one that can
/// starve a critical load is acted on.
pub(super) fn urgency(case: &Case, waste: Option<Estimate>, starves: bool) -> Urgency {
    let critical =
        case.plant.system.serves == Serves::Critical || case.plant.coils.iter().any(|c| c.serves == Serves::Critical);
    let share = share(case, waste);
    if (starves && critical) || share >= ACT {
        Urgency::Act
    } else if starves || share >= PLAN {
        Urgency::Plan
    } else {
        Urgency::Watch
    }
}
