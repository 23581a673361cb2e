//! Flow from speed alone.
//!
//! Comes in: a pump's columns, some of whose running rows have nothing measured but speed. Goes out: flow there from the flow that went with that
//! speed elsewhere in the record, as wide as it scattered; failing that, from the design point, as wide as valves can make it. Published plants
//! show 3 to 5 % of scatter where valves move little and far more where they move, so the record's own scatter is taken, never less than that.

use super::basis::Basis;
use super::model::{Hour, PumpModel};
use super::priors::Sizes;
use super::{PumpPoints, State};
use crate::operating::learn::Learned;

/// Speeds are gathered in steps of this [-].
const STEP: f64 = 0.02;
/// Rows that a step needs to speak, with those of its two neighbours.
const ENOUGH: usize = 20;
/// Least standard deviation, of the flow [-]: what published plants show where valves move little.
const LEAST: f64 = 0.04;

/// Flow, low and high over a speed.
struct Step {
    flow: f64,
    low: f64,
    high: f64,
    sd_common: f64,
}

/// Fills rows that have nothing but speed; says how many, and whether from the record.
pub fn fill(p: &mut PumpPoints, model: &PumpModel, learned: &Learned, sizes: &Sizes, silent: &[usize]) -> Option<bool> {
    if silent.is_empty() {
        return None;
    }
    let known: Vec<usize> = (0..p.state.len())
        .filter(|&i| {
            p.state[i] == State::Steady && p.flow_m3h[i].is_finite() && matches!(p.basis[i], Basis::Measured(_))
        })
        .collect();
    let from_record = known.len() >= ENOUGH;
    let mut by_step: Vec<Vec<usize>> = vec![Vec::new(); 80];
    for &i in &known {
        if let Some(list) = by_step.get_mut((p.speed[i] / STEP) as usize) {
            list.push(i);
        }
    }
    let steps: Vec<Option<Step>> = (0..by_step.len()).map(|k| step(p, &by_step, k)).collect();
    for &i in silent {
        let s = p.speed[i];
        let said = if from_record {
            steps.get((s / STEP) as usize).and_then(Option::as_ref).map(|t| (t.flow, t.low, t.high, t.sd_common))
        } else {
            designed(model, learned, sizes, s)
        };
        let Some((flow, low, high, sd)) = said else { continue };
        (p.flow_m3h[i], p.flow_low_m3h[i], p.flow_high_m3h[i], p.flow_sd_common_m3h[i]) = (flow, low, high, sd);
        p.basis[i] = Basis::Speed;
        let head = |q: f64| model.makes((q / s).min(model.q_max), s, Hour::DESIGN, &learned.common);
        let (middle, least, most) = (head(flow), head(high).head, head(low).head);
        (p.head_kpa[i], p.head_low_kpa[i], p.head_high_kpa[i]) =
            (middle.head, 0.96 * least.min(middle.head), 1.04 * most.max(middle.head));
        p.head_sd_common_kpa[i] = (p.head_high_kpa[i] - p.head_low_kpa[i]) / 3.92;
        if model.has_power() && !p.power_kw[i].is_finite() {
            p.power_kw[i] = middle.power;
        }
        if p.power_kw[i] > 0.0 {
            p.efficiency[i] = (flow * middle.head / 3600.0 / p.power_kw[i]).clamp(0.0, 1.0);
        }
    }
    Some(from_record)
}

/// What went with the speeds of a step and its neighbours; `None` where too little did.
fn step(p: &PumpPoints, by_step: &[Vec<usize>], k: usize) -> Option<Step> {
    let rows: Vec<usize> = by_step[k.saturating_sub(1)..(k + 2).min(by_step.len())].concat();
    if rows.len() < ENOUGH {
        return None;
    }
    let at = k as f64 + 0.5;
    // Carried to the step's middle speed in proportion, as a system of fixed valves would.
    let mut flow: Vec<f64> = rows.iter().map(|&i| p.flow_m3h[i] * at * STEP / p.speed[i]).collect();
    flow.sort_by(f64::total_cmp);
    let quantile = |share: f64| flow[((flow.len() - 1) as f64 * share).round() as usize];
    let middle = quantile(0.5);
    let common = rows.iter().map(|&i| p.flow_sd_common_m3h[i]).sum::<f64>() / rows.len() as f64;
    let own = |side: f64| side.max(1.96 * LEAST * middle).hypot(1.96 * common);
    // The outermost of a small sample lie inside its 95 %: a tenth more.
    Some(Step {
        flow: middle,
        low: (middle - 1.1 * own(middle - quantile(0.025))).max(0.0),
        high: middle + 1.1 * own(quantile(0.975) - middle),
        sd_common: common,
    })
}

/// Without a record: valves anywhere between shut and as at design. The most that passes is the design point's flow in proportion to speed,
/// and a fifth more for a design that was generous.
fn designed(model: &PumpModel, learned: &Learned, sizes: &Sizes, s: f64) -> Option<(f64, f64, f64, f64)> {
    let at_design = model.speed_for(sizes.design_flow_m3h, sizes.design_head_kpa, &learned.common)?;
    let most = (GENEROUS * sizes.design_flow_m3h * s / at_design).min(model.q_max * s);
    most.is_finite().then(|| (0.5 * most, 0.0, most, most / 3.92))
}

/// How much more than designed may pass at the design's valves [-] (common practice, no source).
const GENEROUS: f64 = 1.2;
