//! Where no setting can be named, and why: what is not declared, not trended, or must never be tuned down.

use super::record::Record;
use super::{Basis, Today, Tuning, refuse, spread};
use crate::plant::{Coil, Role, Serves, Valve};
use crate::quantity::Flow;

/// Fewer running hours with a known need than this make no proposal: a week of days.
const HOURS_MIN: f64 = 60.0;
/// The flow seen must span at least this share of design flow, or the curve's slope is not to be told.
const SPAN_MIN: f64 = 0.15;
/// Coils whose need can be seen must carry at least this share of the design flow [-], and of the learned conductance.
const TRENDED_MIN: f64 = 0.5;
/// A learned loop with more scatter than this has not been understood.
const SCATTER_MAX: f64 = 0.25;

/// Whether a coil's need can be seen.
fn seen(b: &Basis, coil: &Coil) -> bool {
    match coil.valve {
        Some(Valve::Thermostatic | Valve::None) => false,
        _ => b.screened.valve(&coil.name).is_some(),
    }
}

/// What does not hang on the rows.
pub fn by_plant(b: &Basis) -> Result<(), Tuning> {
    if b.reconstructed.machines.is_empty() {
        return refuse(&["pump.curve"], "no [[pump.curve]] is declared, so neither flow nor saving is known");
    }
    let reads = [Role::PumpHead, Role::DifferentialPressure, Role::DischargePressure];
    if !b.screened.series.iter().any(|s| reads.contains(&s.role)) {
        return refuse(
            &["pump-head"],
            "no head is trended, and one worked out from the pump's table carries the table's errors",
        );
    }
    let coils = &b.plant.coils;
    if let Some(index) = coils.iter().find(|c| c.index && !seen(b, c)) {
        return refuse(
            &["valve-position"],
            format!("the valve of the neediest branch, {}, is not trended", index.name),
        );
    }
    if let Some(c) = coils.iter().find(|c| c.serves != Serves::Comfort && !seen(b, c)) {
        let text =
            format!("{} serves more than comfort and its valve is not trended, so what it needs is not known", c.name);
        return refuse(&["valve-position"], text);
    }
    let share = trended_share(b);
    if share < TRENDED_MIN {
        let text = if share > 0.0 {
            format!("the trended valves carry only {:.0} % of the design flow", 100.0 * share)
        } else {
            "no valve positions are trended, so what the neediest coil needs is not known".to_owned()
        };
        return refuse(&["valve-position"], text);
    }
    let independent = |c: &&Coil| c.valve == Some(Valve::PressureIndependent);
    if let Some(c) = coils.iter().filter(independent).find(|c| c.minimum_differential_pressure.is_none()) {
        let text = format!(
            "the least differential pressure that the pressure-independent valve of {} needs is not declared",
            c.name
        );
        return refuse(&["coil.minimum_differential_pressure"], text);
    }
    let throttles = coils.iter().any(|c| matches!(c.valve, Some(Valve::TwoWay) | None) && seen(b, c));
    match b.learned {
        None if throttles || !coils.iter().any(|c| independent(&c)) => refuse(
            &["valve-position"],
            "no valve positions are trended together with steady flow and head, so what the neediest coil needs is not known",
        ),
        None => Ok(()),
        Some(learned) => {
            let carried: f64 = learned.throttles.iter().map(|t| t.conductance).sum();
            let share = carried / (carried + learned.open_conductance).max(1e-9);
            if share < TRENDED_MIN {
                let text = format!("the trended valves explain only {:.0} % of the flow", 100.0 * share);
                return refuse(&["valve-position"], text);
            }
            if learned.scatter > SCATTER_MAX {
                let text = format!(
                    "flow, head and valve positions do not agree well enough: they scatter by {:.0} %",
                    100.0 * learned.scatter
                );
                return refuse(&[], text);
            }
            Ok(())
        }
    }
}

/// By design flow where all declare it, else by number.
fn trended_share(b: &Basis) -> f64 {
    let by_flow = b.plant.coils.iter().all(|c| c.design_flow.is_some());
    let weight = |c: &Coil| if by_flow { c.design_flow.map_or(0.0, Flow::in_m3h) } else { f64::from(c.count) };
    let all: f64 = b.plant.coils.iter().map(weight).sum();
    let with: f64 = b.plant.coils.iter().filter(|c| seen(b, c)).map(weight).sum();
    if all > 0.0 { with / all } else { 0.0 }
}

/// What hangs on the rows; gives the highest flow seen [m3/h].
pub fn by_rows(record: &Record, today: &Today) -> Result<f64, Tuning> {
    let mut flows: Vec<f64> = record.rows.iter().filter(|r| r.judged).map(|r| r.flow).collect();
    let hours = (flows.len() * record.stride) as f64 * record.b.clock.hours();
    if hours < HOURS_MIN {
        let frost = record.rows.iter().filter(|r| r.frost).count();
        if 2 * frost > record.rows.len() {
            let text = format!(
                "in {:.0} % of the running hours the outdoor temperature was below the frost limit, where nothing is tuned down",
                100.0 * frost as f64 / record.rows.len() as f64
            );
            return refuse(&[], text);
        }
        return refuse(&[], format!("the need is known in {hours:.0} h of running only; {HOURS_MIN:.0} h are needed"));
    }
    let (low, high) = spread(&mut flows);
    if (high - low) / today.design_flow() < SPAN_MIN {
        let text =
            format!("the flows of the record run from {low:.0} to {high:.0} m3/h only, too narrow a range for a curve");
        return refuse(&[], text);
    }
    Ok(high)
}
