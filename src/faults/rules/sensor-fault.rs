//! Points that do not tell the truth, each by its name.
//!
//! What screening did not believe is told here; to it comes what only a pump's model can see, a scale that moved within the record
//! (`faults/moved.rs`, shared with the rule on wear). The decision a reader would question: a sensor is named only where more than two witnesses part
//! the stories; where two part company and nobody can say which is right, both are named as not judged. `doubted.rs` tells what
//! screening doubts, `by_model.rs` what the model sees; `told.rs` is what is said.

use super::{cannot_tell, clear};
use crate::faults::moved::{self, Looked};
use crate::faults::{Case, Fault, Verdict, say};
use crate::ingest::Series;
use crate::plant::Role;
use crate::screening::{Kind, is_measured};

#[path = "sensor-fault/by_model.rs"]
mod by_model;
#[path = "sensor-fault/doubted.rs"]
mod doubted;
#[path = "sensor-fault/told.rs"]
mod told;

use by_model::by_model;
use doubted::doubted;

const FAULT: Fault = Fault::SensorFault;
/// Running hours from which a point may be called well [h].
const LEAST_H: f64 = 24.0;

/// One verdict a measured point.
pub fn judge(case: &Case) -> Vec<Verdict> {
    let mut verdicts: Vec<Verdict> = Vec::new();
    for d in case.doubts {
        // Supply and return exchanged are one finding.
        let told = verdicts.iter().any(|v| names(v, &d.point))
            || (d.kind == Kind::Swapped && verdicts.iter().any(|v| d.beside.iter().any(|b| names(v, b))));
        if !told {
            verdicts.extend(doubted(case, d));
        }
    }
    let looked = moved::look(case);
    for (l, pump) in looked.iter().zip(&case.pumps) {
        if let Looked::Moved(m) = l {
            by_model(case, pump, m, &mut verdicts);
        }
    }
    let running = (0..case.rows()).filter(|&i| case.pumps_on[i] > 0).count() as f64 * case.step_h;
    for s in case.trends.iter().filter(|s| is_measured(s.role) && s.role != Role::PumpSpeed) {
        if !verdicts.iter().any(|v| names(v, &s.name))
            && !case.doubts.iter().any(|d| d.kind != Kind::Odd && d.beside.contains(&s.name))
        {
            verdicts.push(well(s, running, looked));
        }
    }
    if verdicts.is_empty() {
        verdicts.push(cannot_tell(
            FAULT,
            "loop",
            &["pump-power", "pump-head", "loop-flow"],
            "no measured point is trended",
        ));
    }
    verdicts
}

fn names(v: &Verdict, point: &str) -> bool {
    match v {
        Verdict::Found(f) => f.subject == point,
        Verdict::Clear { subject, .. } | Verdict::CannotTell { subject, .. } => subject == point,
    }
}

/// A point that nothing speaks against.
fn well(s: &Series, running_h: f64, looked: &[Looked]) -> Verdict {
    if running_h < LEAST_H {
        return cannot_tell(
            FAULT,
            &s.name,
            &["a longer record"],
            format!("fewer than {LEAST_H:.0} running hours to hold it against"),
        );
    }
    let still = looked.iter().filter_map(|l| if let Looked::Still(least) = l { Some(*least) } else { None });
    let least = still.fold(f64::NAN, f64::max);
    let moved =
        if least.is_finite() && matches!(s.role, Role::PumpHead | Role::PumpPower | Role::PumpFlow | Role::LoopFlow) {
            format!(", or a scale that moved against the pump's other readings by some {}", say::percent(2.0 * least))
        } else {
            String::new()
        };
    let of_role = match s.role {
        Role::SupplyTemperature | Role::ReturnTemperature => {
            "; exchanged supply and return 1.5 K apart; a bias of 1.5 to 2 K where water circulates at no load, mixes from known coils, or settles among others"
        }
        Role::CoilReturnTemperature => "; a bias that carries it 1 K to the wrong side of the supply",
        Role::PumpHead | Role::DifferentialPressure => {
            "; a zero off by 5 % of the usual reading, where the pumps rest for six hours"
        }
        _ => "",
    };
    clear(
        FAULT,
        &s.name,
        format!(
            "a day of one reading while what drives it moves, spikes in one row of a hundred, readings in another unit{of_role}{moved}"
        ),
    )
}
