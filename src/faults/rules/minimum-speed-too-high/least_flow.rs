//! The least flow that machines and loop must have, and the speed it needs.

use super::ON_FLOOR;
use crate::faults::spread::quantile;
use crate::faults::{Case, PumpCase};
use crate::plant::{Bypass, Role};
use crate::quantity::Flow;

/// A bypass this far open has no room [-].
const BYPASS_FULL: f64 = 0.80;

/// Flow over the least one, up to which the bypass makes the flow [-].
const AT_LEAST_FLOW: f64 = 1.15;

/// Rows looked at for the least flow; more would only cost time [rows].
const MOST_ROWS: usize = 20_000;

/// The least flow that machines and loop must have.
struct LeastFlow<'a> {
    own_m3h: f64,
    /// The most that any one asks, where not every machine's status is trended.
    any_m3h: f64,
    /// Each machine's least flow [m3/h] and status.
    machines: Option<Vec<(f64, &'a [f64])>>,
}

impl<'a> LeastFlow<'a> {
    fn of(case: &Case<'a>) -> Self {
        let with = case.plant.sources.iter().filter_map(|s| s.minimum_flow.map(|q| (q.in_m3h(), s.name.as_str())));
        let machines: Option<Vec<_>> =
            with.map(|(q, name)| Some((q, case.trend(Role::SourceStatus, Some(name))?))).collect();
        Self {
            own_m3h: case.plant.system.minimum_flow.map_or(0.0, Flow::in_m3h),
            any_m3h: case.minimum_flow_m3h(),
            machines: machines.filter(|m| !m.is_empty()),
        }
    }
    /// In a row [m3/h].
    fn at(&self, i: usize) -> f64 {
        let running = |m: &Vec<(f64, &[f64])>| m.iter().filter(|(_, on)| on[i] >= 0.5).map(|m| m.0).sum::<f64>();
        self.machines.as_ref().map_or(self.any_m3h, |m| self.own_m3h.max(running(m)))
    }
}

/// Lowest speed that still gives the least flow, over rated [-]; `None` where nothing must be kept or a controlled bypass keeps it.
pub(super) fn least_flow_speed(case: &Case, pump: &PumpCase, served: &[usize]) -> Result<Option<f64>, &'static str> {
    if case.minimum_flow_m3h() <= 0.0 {
        return Ok(None);
    }
    let least = LeastFlow::of(case);
    let flow = |i: usize| {
        if case.loop_flow_low_m3h[i].is_finite() { case.loop_flow_low_m3h[i] } else { case.loop_flow_m3h[i] }
    };
    let stride = served.len().div_ceil(MOST_ROWS).max(1);
    let rows = || served.iter().copied().step_by(stride);
    let known = rows().filter(|&i| flow(i).is_finite()).count();
    if known * 2 < rows().count() {
        return Err("a least flow must be kept, and the flow on the floor is not known");
    }
    let controlled = case.plant.system.bypass == Some(Bypass::TwoWay);
    if controlled && bypass_has_room(case, served, &least) {
        return Ok(None);
    }
    // Through valves that stay as they are, flow goes with speed.
    let at = |i: usize| pump.speed[i] * least.at(i) / flow(i).max(f64::MIN_POSITIVE);
    let floor = quantile(rows().map(|i| pump.speed[i]), 0.02);
    let on_floor = rows().filter(|&i| pump.speed[i] <= floor + ON_FLOOR);
    Ok(Some(quantile(on_floor.map(at), 0.95).min(1.0)))
}

/// Whether the bypass, where it makes the flow, could open further; unknown is taken as yes, and said.
fn bypass_has_room(case: &Case, served: &[usize], least: &LeastFlow) -> bool {
    let Some(position) = case.bypass_position else { return true };
    let makes_it = |i: &usize| case.loop_flow_m3h[*i] <= AT_LEAST_FLOW * least.at(*i);
    let widest = quantile(served.iter().copied().filter(makes_it).map(|i| position[i]), 0.95);
    widest.is_nan() || widest <= BYPASS_FULL
}
