//! The zero-flow head of a rising curve.
//!
//! Tried and left: a zero-flow head that covers one branch alone at its design flow as never too high. That is what a sensor at the far end is set
//! to, and twice what weeks of rows need; the curve proposed is the envelope of those, and the caution says what was not seen.

use super::{LEAST_DAYS, LEAST_H, PEGGED, PEGGED_SHARE, short_at_full_speed, told, widest};
use crate::faults::spread::quantile;
use crate::faults::{Case, Verdict};
use crate::plant::ControlMode;

/// Part of a rising curve's rise up to which the zero-flow head rules more than the design head does [-].
const LOWER_END: f64 = 0.5;
/// Rows that the zero-flow head may leave short [-]: all but one to two in a hundred hours.
const SHORT: f64 = 0.02;
/// A zero-flow head of this share of the design head is never too high [-]: below it valves and sensors lose their
/// hold (common practice, no source).
const LEAST_ZERO: f64 = 0.20;
/// What would have been enough over what is set, from which the zero-flow head is too high [-].
pub const ZERO_TOO_HIGH: f64 = 0.72;
/// Head left above it in the counterfactual, in design heads [-].
const ZERO_MARGIN: f64 = 0.02;

/// How far up its rise the curve is at a flow [-]; `None` where it does not rise.
pub fn rise(case: &Case, flow_m3h: f64) -> Option<f64> {
    let control = &case.plant.control;
    let x = flow_m3h / control.design_flow.or(case.plant.system.design_flow)?.in_m3h();
    match control.mode {
        Some(ControlMode::Proportional) => Some(x),
        Some(ControlMode::Quadratic) => Some(x * x),
        _ => None,
    }
}

/// The verdict where the zero-flow head of a rising curve is too high.
pub fn judge(case: &Case, rows: &[usize]) -> Option<Verdict> {
    let control = &case.plant.control;
    let set = control.zero_flow_head?.in_kpa();
    let design = control.design_head.or(case.plant.system.design_head)?.in_kpa();
    let healthy_until = crate::faults::rules::low_delta_t::fallen_from(case).unwrap_or(case.rows());
    let low: Vec<(usize, f64)> = rows
        .iter()
        .filter_map(|i| rise(case, case.loop_flow_m3h[*i]).map(|g| (*i, g)))
        .filter(|(i, g)| *g <= LOWER_END && *i < healthy_until)
        .collect();
    let mut days: Vec<u32> = low.iter().map(|(i, _)| case.local_day[*i]).collect();
    days.dedup();
    let pegged = low.iter().filter(|(i, _)| widest(case, *i) >= PEGGED).count() as f64;
    if (low.len() as f64) * case.step_h < LEAST_H
        || days.len() < LEAST_DAYS
        || pegged >= PEGGED_SHARE * low.len() as f64
        || short_at_full_speed(case, rows) >= PEGGED_SHARE
    {
        return None;
    }
    let needed = quantile(low.iter().map(|(i, g)| (case.need_high_kpa[*i] - design * g) / (1.0 - g)), 1.0 - SHORT);
    let enough = needed.max(LEAST_ZERO * design);
    (enough <= ZERO_TOO_HIGH * set).then(|| told::zero_too_high(case, rows, set, needed, enough + ZERO_MARGIN * design))
}
