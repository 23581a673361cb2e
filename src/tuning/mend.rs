//! What must be mended before a setting holds: faults found, and coils whose valve stands open without doing its work.

use super::Basis;
use crate::faults::{Fault, Verdict};
use crate::plant::{Role, Serves, Service};

/// A valve this far open is at its end [-].
const AT_END: f64 = 0.95;
/// Share of the coil's working rows there from which its valve is pegged [-].
const PEGGED: f64 = 0.05;
/// How far air or room may miss its setpoint [K].
const MISSED_K: f64 = 1.0;
/// Of the rows at the end, the share in which the air misses its setpoint [-].
const UNMET: f64 = 0.5;
/// Of the coils, so many may be left out at most [-]: where more are short, the head is too low, not too high.
const FEW: f64 = 0.25;
/// Rows after all pumps stood that say nothing [h].
const SETTLED_H: f64 = 0.5;

/// A coil to be mended first.
#[derive(Debug, Clone, PartialEq)]
pub struct Rogue {
    /// Index into the plant's coils.
    pub coil: usize,
    /// Share of its working rows with the valve at its end [-].
    pub share: f64,
    /// Its air or room misses the setpoint meanwhile; else nobody trends that.
    pub unmet: bool,
}

/// Pegged coils, the worst first: those whose load is not met, and those of which nobody knows.
pub struct Pegged {
    pub unmet: Vec<Rogue>,
    pub unknown: Vec<Rogue>,
}

/// Looks for them; `Err` with their number where too many coils are short.
pub fn pegged(b: &Basis) -> Result<Pegged, usize> {
    let mut all: Vec<Rogue> = (0..b.plant.coils.len()).filter_map(|c| rogue(b, c)).collect();
    all.sort_by(|x, y| y.share.total_cmp(&x.share));
    let (unmet, unknown): (Vec<Rogue>, Vec<Rogue>) = all.into_iter().partition(|r| r.unmet);
    let few = ((FEW * b.plant.coils.len() as f64) as usize).max(1);
    // Nobody leaves out a coil that must not be short.
    if unmet.len() > few || unmet.iter().any(|r| b.plant.coils[r.coil].serves != Serves::Comfort) {
        return Err(unmet.len());
    }
    Ok(Pegged { unmet, unknown })
}

fn rogue(b: &Basis, coil: usize) -> Option<Rogue> {
    let name = b.plant.coils[coil].name.as_str();
    let valve = b.screened.valve(name)?;
    let fan = b.screened.values(Role::FanStatus, Some(name));
    let pair =
        |value: Role, set: Role| Some((b.screened.values(value, Some(name))?, b.screened.values(set, Some(name))?));
    let air = pair(Role::AirTemperature, Role::AirTemperatureSetpoint)
        .or_else(|| pair(Role::SpaceTemperature, Role::SpaceTemperatureSetpoint));
    let heating = b.plant.system.service == Service::HeatingWater;
    let (mut works, mut at_end, mut missed, mut seen) = (0usize, 0usize, 0usize, 0usize);
    let mut since = f64::INFINITY;
    for i in 0..b.clock.len {
        let on = b.reconstructed.points.system.pumps_on[i] > 0;
        since = if on { since + b.clock.hours() } else { 0.0 };
        if !on || since < SETTLED_H || !(valve[i] > 0.02) || fan.is_some_and(|f| f[i] < 0.5) {
            continue;
        }
        works += 1;
        if valve[i] < AT_END {
            continue;
        }
        at_end += 1;
        if let Some((value, set)) = air
            && value[i].is_finite()
            && set[i].is_finite()
        {
            seen += 1;
            let short = if heating { set[i] - value[i] } else { value[i] - set[i] };
            missed += usize::from(short > MISSED_K);
        }
    }
    let share = at_end as f64 / works.max(1) as f64;
    if works == 0 || share < PEGGED {
        return None;
    }
    // At its end with its air at setpoint it needs what it gets: that is no fault.
    let unmet = missed as f64 > UNMET * seen as f64;
    (seen == 0 || unmet).then_some(Rogue { coil, share, unmet: unmet && seen > 0 })
}

/// Faults to mend first: what else spoils the head the coils need, or the record it was read from.
pub fn faults(b: &Basis, rogues: &[Rogue]) -> Vec<Fault> {
    let mut out: Vec<Fault> = Vec::new();
    for v in b.verdicts {
        let Verdict::Found(f) = v else { continue };
        if f.confidence < 0.5 {
            continue;
        }
        let counts = match f.fault {
            Fault::LowDeltaT
            | Fault::StuckBypass
            | Fault::OffControlCurve
            | Fault::FixedSpeed
            | Fault::SetpointTooLow => true,
            Fault::SensorFault => b.plant.points.iter().filter(|p| p.name == f.subject).all(|p| matters(p.role)),
            _ => false,
        };
        if counts {
            out.push(f.fault);
        }
    }
    if !rogues.is_empty() && out.is_empty() {
        // Its own rule did not settle it: water that does not do its work is what a valve at its end shows.
        out.push(Fault::LowDeltaT);
    }
    out.sort_unstable();
    out.dedup();
    out
}

/// Whether a proposal was read from a point of this role.
fn matters(role: Role) -> bool {
    matches!(
        role,
        Role::PumpSpeed
            | Role::PumpPower
            | Role::TotalPower
            | Role::PumpFlow
            | Role::LoopFlow
            | Role::PumpHead
            | Role::DifferentialPressure
            | Role::DifferentialPressureSetpoint
            | Role::SuctionPressure
            | Role::DischargePressure
            | Role::ValvePosition
            | Role::ValveCommand
            | Role::BypassPosition
    )
}
