//! Need of pressure-independent valves: their declared least pressure difference plus the pipe.
//!
//! Such a valve shows the flow it passes, not how far it is from lacking head. The pipe before it is bounded by today's design head: at design flow
//! the design head less that pressure is all that pipe, coil and branch can take. It falls with the square of the loop's flow where it is common,
//! of the coil's own where it is the branch's; the larger of the two holds, so the bound errs upward.

use super::{Basis, Today};
use crate::plant::Valve;
use crate::quantity::Pressure;

/// A valve that passes less than this share asks for nothing [-].
const SHUT: f64 = 0.02;

/// Head at the pumps that is enough for the independent valves of a row [kPa]; NaN where there are none or one is not known.
pub fn need(b: &Basis, today: &Today, i: usize, flow: f64) -> f64 {
    let top = today.at_pumps();
    let fixed = b.plant.system.static_head.map_or(0.0, Pressure::in_kpa);
    let share = (flow / top.design_flow).powi(2);
    let mut most = f64::NAN;
    for coil in b.plant.coils.iter().filter(|c| c.valve == Some(Valve::PressureIndependent)) {
        let (Some(least), Some(passes)) =
            (coil.minimum_differential_pressure.map(Pressure::in_kpa), b.screened.valve(&coil.name))
        else {
            return f64::NAN;
        };
        let passes = passes[i];
        if !passes.is_finite() {
            return f64::NAN;
        }
        if passes < SHUT {
            continue;
        }
        let pipe = (top.head(top.design_flow) - fixed - least).max(0.0);
        most = most.max(fixed + least + pipe * share.max(passes.min(1.0).powi(2)));
    }
    most
}
