//! Water that comes back too near the temperature it left with.
//!
//! Judged against what the terminals should give in that hour: coils on a constant supply temperature keep their
//! difference at part load or raise it, so there a fall is a cause at work; where the supply is compensated by the
//! weather, the difference is held against supply minus room. A raised chilled supply lowers it honestly, steeply and
//! not in proportion: such hours are not held against the design. A step in the record at like load and supply
//! temperature is the strongest evidence. Where the coils' own water is trended and in health, what is low is not theirs.
//! Condenser water gets no verdict: less flow there costs the chiller more.
//!
//! One verdict for one cause: a coil that alone explains the loop's fall is named and the loop is not. `water.rs` judges
//! the loop, `coil.rs` each coil, `expected.rs` says what the terminals should give, `seen.rs` what valves
//! and air did from day to day, `terminals.rs` whether the coils' own water clears them.

#[path = "low-delta-t/coil.rs"]
mod coil;
#[path = "low-delta-t/expected.rs"]
mod expected;
#[path = "low-delta-t/seen.rs"]
mod seen;
#[path = "low-delta-t/terminals.rs"]
mod terminals;
#[path = "low-delta-t/told.rs"]
mod told;
#[path = "low-delta-t/water.rs"]
mod water;

use super::cannot_tell;
use crate::faults::{Case, Fault, Verdict};
use crate::operating::Basis;
use crate::plant::Service;
use coil::CoilFault;
pub(super) use expected::{coil_ratio, expected_k, three_way_share};
pub use seen::Opened;
pub use water::Water;

const FAULT: Fault = Fault::LowDeltaT;
/// When more than this share of the coils seem at fault, they are not what is [-].
const MOST_COILS: f64 = 0.5;

/// A verdict for each coil that is found, then one for the loop.
pub fn judge(case: &Case) -> Vec<Verdict> {
    if let Some(v) = missing(case) {
        return vec![v];
    }
    let water = Water::seen(case);
    let mut coils: Vec<CoilFault> = case.coils.iter().enumerate().filter_map(|(k, _)| coil::coil(case, k)).collect();
    let most = MOST_COILS * case.coils.len() as f64;
    coils.retain(|c| c.at.is_none_or(|at| seen::opened_with(case, at) as f64 <= most));
    if coils.len() as f64 > most {
        // What most coils share has one cause somewhere else.
        coils.clear();
    }
    let mut verdicts: Vec<Verdict> = coils.iter().map(|c| c.verdict(case)).collect();
    verdicts.push(water.verdict(case, &coils));
    verdicts
}

fn missing(case: &Case) -> Option<Verdict> {
    if case.plant.system.service == Service::CondenserWater {
        let why = "condenser water: less flow costs the chiller more than the pump saves, so no temperature difference is called low";
        return Some(cannot_tell(FAULT, "loop", &[], why));
    }
    let mut missing = Vec::new();
    let known = |t: Option<&[f64]>| t.is_some_and(|t| t.iter().any(|v| v.is_finite()));
    if !known(case.supply_c) {
        missing.push("supply-temperature");
    }
    if !known(case.return_c) {
        missing.push("return-temperature");
    }
    if !case.loop_flow_m3h.iter().any(|q| *q > 0.0) {
        missing.push("loop-flow or a reconstructable operating point");
    }
    if missing.is_empty() && *case.looks.by_speed_alone.get_or_init(|| by_speed_alone(case)) {
        let why = "the flow is known from the speed alone, which is too wide to weigh the water by";
        return Some(cannot_tell(FAULT, "loop", &["loop-flow or pump-power with a pump curve"], why));
    }
    (!missing.is_empty())
        .then(|| cannot_tell(FAULT, "loop", &missing, "the difference at a known flow is not in the record"))
}

/// The loop's water, where it can be judged, looked at before any rule asks.
pub(in crate::faults) fn look_at_water(case: &Case) {
    if missing(case).is_none() {
        Water::seen(case);
    }
}

/// One coil's valve, where it can be judged, looked at before any rule asks.
pub(in crate::faults) fn look_at_coil(case: &Case, k: usize) {
    if missing(case).is_none() {
        seen::valve_opened(case, k);
    }
}

/// Whether most of the flow rests on nothing but the speed.
fn by_speed_alone(case: &Case) -> bool {
    let (mut known, mut weak) = (0usize, 0usize);
    for p in &case.pumps {
        for (basis, flow) in p.basis.iter().zip(p.flow_m3h) {
            known += usize::from(*flow > 0.0);
            weak += usize::from(*flow > 0.0 && *basis == Basis::Speed);
        }
    }
    weak * 2 > known
}

/// From which row on the loop's difference is fallen, where it fell within the record.
pub(super) fn fallen_from(case: &Case) -> Option<usize> {
    if missing(case).is_some() {
        return None;
    }
    Water::seen(case).fall(case).map(|s| case.days()[s.at].start)
}
