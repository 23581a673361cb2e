//! What to set instead, and what it saves.
//!
//! Comes in: the need of every row, the control in force, the loop's replay. Goes out: [`Tuning`]: a control curve that would
//! have covered the need of the neediest valve, with the saving replayed through pump, motor and drive, or the reason why none
//! can be given. The decision a reader would question: above the highest flow seen, today's curve stays. Start at [`tune`].

mod curve;
mod saving;

use crate::faults::{Estimate, Fault, Verdict};
use crate::ingest::Clock;
use crate::r#loop::{Learned, Need, Replay};
use crate::operating::Reconstructed;
use crate::plant::{Control, ControlMode, Plant, Serves, Service};
use crate::quantity::{Fraction, Pressure};
use crate::regimes::{Regime, Regimes};
pub use curve::Curve;

/// One control setting that would have been enough, with what it saves on the record.
#[derive(Debug, Clone)]
pub struct Alternative {
    pub control: Control,
    pub saving_fraction: Estimate,
}

/// The number to type in, and what bounded it.
#[derive(Debug, Clone)]
pub struct Recommendation {
    pub current: Control,
    pub proposed: Control,
    /// `None` where the period cannot carry a year.
    pub saving_kwh_per_year: Option<Estimate>,
    pub saving_kwh: Estimate,
    pub saving_fraction: Estimate,
    pub conditional_on: Vec<Fault>,
    pub alternatives: Vec<Alternative>,
    pub steps: Vec<String>,
    pub limits: Vec<String>,
}

/// A recommendation, or why there is none.
#[derive(Debug, Clone)]
pub enum Tuning {
    Proposed(Box<Recommendation>),
    Refused { missing: Vec<String>, why: String },
}

/// What tuning looks at.
pub struct Basis<'a> {
    pub plant: &'a Plant,
    pub clock: Clock,
    pub local_day: &'a [u32],
    /// Outdoor air below the declared frost limit: nothing is tuned down then.
    pub frost: &'a [bool],
    pub reconstructed: &'a Reconstructed,
    pub regimes: &'a Regimes,
    pub learned: Option<&'a Learned>,
    pub need: &'a Need,
    pub verdicts: &'a [Verdict],
}

/// Share of running rows whose need the proposed curve may miss.
const MISSED: f64 = 0.005;
/// Added to the need [-]: what the learned loop leaves unexplained and the season to come (stated to the reader).
const MARGIN: f64 = 0.10;
/// Fewer running hours with a known need than this make no proposal: a week of days.
const HOURS_MIN: f64 = 60.0;
/// The flow seen must span at least this share of design flow, or the curve's slope is not to be told.
const SPAN_MIN: f64 = 0.15;
/// Savings below this share are not worth a change.
const WORTH: f64 = 0.02;
/// Trended throttling valves must carry at least this share of the learned conductance.
const TRENDED_MIN: f64 = 0.5;
/// A learned loop with more scatter than this has not been understood.
const SCATTER_MAX: f64 = 0.25;

/// Rows a proposal rests on: running, flow and need known, not frost, control not at full speed.
fn usable(b: &Basis) -> Vec<usize> {
    let system = &b.reconstructed.points.system;
    (0..b.clock.len)
        .filter(|&i| {
            system.pumps_on[i] > 0 && system.flow_m3h[i] > 0.0 && b.need.head_kpa[i].is_finite() && !b.frost[i]
        })
        .collect()
}

/// Proposes a control curve.
#[must_use]
pub fn tune(b: &Basis) -> Tuning {
    match propose(b) {
        Ok(r) => Tuning::Proposed(Box::new(r)),
        Err(refusal) => refusal,
    }
}

fn refuse<T>(missing: &[&str], why: impl Into<String>) -> Result<T, Tuning> {
    Err(Tuning::Refused { missing: missing.iter().map(|m| (*m).to_owned()).collect(), why: why.into() })
}

fn propose(b: &Basis) -> Result<Recommendation, Tuning> {
    let current = b.plant.control.clone();
    let today = declared(b, &current)?;
    let learned = check_loop(b)?;
    let rows = usable(b);
    let hours = rows.len() as f64 * b.clock.hours();
    if hours < HOURS_MIN {
        return refuse(&[], format!("only {hours:.0} running hours have a known need; {HOURS_MIN:.0} are wanted"));
    }
    let system = &b.reconstructed.points.system;
    let flows: Vec<f64> = rows.iter().map(|&i| system.flow_m3h[i]).collect();
    let (low, high) = spread(&flows);
    let design_flow = today.design_flow;
    if (high - low) / design_flow < SPAN_MIN {
        return refuse(
            &[],
            format!("the record saw flows from {low:.0} to {high:.0} m3/h only, too narrow for a curve"),
        );
    }
    let wanted: Vec<(f64, f64)> =
        rows.iter().map(|&i| (system.flow_m3h[i], b.need.head_kpa[i] * (1.0 + MARGIN))).collect();
    let replay = Replay::new(&b.reconstructed.machines);
    let job = saving::Job {
        b,
        rows: &rows,
        replay: &replay,
        today,
        floor: current.minimum_speed.map_or(0.0, Fraction::in_of_one),
    };
    let candidates = Curve::candidates(&today, &wanted, high, MISSED);
    if candidates.is_empty() {
        return refuse(
            &[],
            "the neediest valve needed about as much head as today's setting gives: there is nothing to lower",
        );
    }
    let mut options: Vec<(Curve, saving::Saved)> =
        candidates.into_iter().filter_map(|c| saving::saved(&job, &c).map(|s| (c, s))).collect();
    options.sort_by(|x, y| y.1.fraction.estimate.total_cmp(&x.1.fraction.estimate));
    let same_mode = options.iter().position(|(c, _)| Some(c.mode) == current.mode);
    let Some(chosen) = same_mode.or(if options.is_empty() { None } else { Some(0) }) else {
        return refuse(
            &["pump.curve power"],
            "the pump models cannot replay the record: power of the pumps is not known".to_owned(),
        );
    };
    let (curve, saved) = options.remove(chosen);
    if saved.fraction.estimate < WORTH {
        return refuse(
            &[],
            format!(
                "today's setting is close to what the record needed: the best change would save {:.1} %",
                100.0 * saved.fraction.estimate
            ),
        );
    }
    let alternatives = options
        .into_iter()
        .filter(|(_, s)| s.fraction.estimate > WORTH)
        .map(|(c, s)| Alternative { control: c.as_control(&current), saving_fraction: s.fraction })
        .collect();
    Ok(Recommendation {
        proposed: curve.as_control(&current),
        saving_kwh_per_year: saved.per_year,
        saving_kwh: saved.kwh,
        saving_fraction: saved.fraction,
        conditional_on: conditions(b),
        alternatives,
        steps: steps(b, &today, &curve),
        limits: limits(b, &curve, high, learned),
        current,
    })
}

/// Today's curve, or why there is nothing to tune.
fn declared(b: &Basis, control: &Control) -> Result<Curve, Tuning> {
    let plant = b.plant;
    if plant.system.serves != Serves::Comfort {
        return refuse(&[], "the loop serves more than comfort: it is diagnosed, never tuned down");
    }
    if plant.system.service == Service::CondenserWater {
        return refuse(
            &["chiller power"],
            "less condenser water costs the chiller more; without its power no saving can be told",
        );
    }
    let flow = control.design_flow.or(plant.system.design_flow);
    let head = control.design_head.or(plant.system.design_head);
    let (Some(flow), Some(head)) = (flow, head) else {
        return refuse(&["loop.design_flow", "loop.design_head"], "the design point is not declared");
    };
    let (flow, head) = (flow.in_m3h(), head.in_kpa());
    let zero = match control.mode {
        Some(mode @ (ControlMode::Quadratic | ControlMode::Proportional)) => match control.zero_flow_head {
            Some(zero) => Some((mode, zero.in_kpa(), head)),
            None => {
                return refuse(&["control.zero_flow_head"], "the head at zero flow of today's curve is not declared");
            }
        },
        Some(mode @ ControlMode::ConstantPressure) => match control.setpoint.or(control.setpoint_high) {
            Some(set) => Some((mode, set.in_kpa(), set.in_kpa())),
            None => return refuse(&["control.setpoint"], "the setpoint is not declared"),
        },
        Some(ControlMode::RemotePressure) => {
            return refuse(
                &[],
                "the setpoint of a remote sensor is not tuned yet: the pipe between pump and sensor must be learned first",
            );
        }
        Some(_) => return refuse(&[], "the pumps do not follow a head curve, so there is no curve to lower"),
        None => return refuse(&["control.mode"], "what the drive is set to do is not declared"),
    };
    let Some((mode, zero, top)) = zero else { return refuse(&["control"], "no curve is declared") };
    Ok(Curve { mode, zero_flow_head: zero, design_flow: flow, design_head: top })
}

fn check_loop<'a>(b: &Basis<'a>) -> Result<&'a Learned, Tuning> {
    if b.reconstructed.machines.is_empty() {
        return refuse(&["pump.curve"], "no pump table is declared, so neither flow nor saving can be told");
    }
    let Some(learned) = b.learned else {
        return refuse(
            &["valve-position"],
            "no valve positions are trended with steady flow and head, so nobody knows what the neediest coil wants",
        );
    };
    let carried: f64 = learned.throttles.iter().map(|t| t.conductance).sum();
    let share = carried / (carried + learned.open_conductance).max(1e-9);
    if share < TRENDED_MIN {
        return refuse(
            &["valve-position"],
            format!("the trended valves explain only {:.0} % of the flow", 100.0 * share),
        );
    }
    if learned.scatter > SCATTER_MAX {
        return refuse(
            &[],
            format!("flow, head and valves do not agree well enough: {:.0} % scatter", 100.0 * learned.scatter),
        );
    }
    if let Some(index) = b.plant.coils.iter().position(|c| c.index)
        && !learned.throttles.iter().any(|t| t.coil == index)
    {
        return refuse(
            &["valve-position"],
            format!("the neediest branch, {}, is not trended", b.plant.coils[index].name),
        );
    }
    Ok(learned)
}

/// 1st and 99.5th percentile.
fn spread(v: &[f64]) -> (f64, f64) {
    let mut sorted = v.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |p: f64| sorted[((sorted.len() - 1) as f64 * p) as usize];
    (at(0.01), at(0.995))
}

/// Faults to mend first: what else spoils the head the coils need, or the record it was read from.
fn conditions(b: &Basis) -> Vec<Fault> {
    let mut out: Vec<Fault> = b
        .verdicts
        .iter()
        .filter_map(|v| match v {
            Verdict::Found(f) if f.confidence >= 0.5 => Some(f.fault),
            _ => None,
        })
        .filter(|f| {
            matches!(
                f,
                Fault::LowDeltaT | Fault::StuckBypass | Fault::OffControlCurve | Fault::SensorFault | Fault::FixedSpeed
            )
        })
        .collect();
    out.sort_unstable();
    out.dedup();
    out
}

fn steps(b: &Basis, today: &Curve, proposed: &Curve) -> Vec<String> {
    let neediest = most_often(b).unwrap_or_else(|| "the neediest coil".to_owned());
    let half = |a: f64, c: f64| 0.5 * (a + c);
    let text = Curve::in_words;
    let middle = Curve {
        zero_flow_head: half(today.zero_flow_head, proposed.zero_flow_head),
        design_head: half(today.design_head, proposed.design_head),
        ..*proposed
    };
    vec![
        format!("Write down today's setting ({}) and agree with the operator who may change it.", text(today)),
        format!("Go half way first: {}. Leave it for a warm or cold day that loads the loop.", text(&middle)),
        format!("Watch {neediest}: its valve should settle at or below 90 % and its air or space temperature at setpoint."),
        format!("Then set {}. Watch {neediest} for a week.", text(proposed)),
        "Go back to the written-down setting if a valve stays fully open with its setpoint unmet, a flow switch trips, or anyone complains.".to_owned(),
        "Put the new setting in the plant file under [control], and the old one under [[control_history]] with the time of the change.".to_owned(),
    ]
}

fn most_often(b: &Basis) -> Option<String> {
    let mut count = vec![0usize; b.plant.coils.len()];
    for &k in &b.need.neediest {
        if let Some(c) = count.get_mut(usize::from(k)) {
            *c += 1;
        }
    }
    let (i, n) = count.iter().enumerate().max_by_key(|(i, n)| (**n, usize::MAX - *i))?;
    (*n > 0).then(|| b.plant.coils[i].name.clone())
}

fn limits(b: &Basis, curve: &Curve, high: f64, learned: &Learned) -> Vec<String> {
    let mut out = Vec::new();
    if let Some(coil) = most_often(b) {
        out.push(format!("{coil} was the neediest coil most often; its valve at 90 % open set the head"));
    }
    out.push(format!(
        "the highest flow seen was {}; above it today's curve stays, since this record says nothing of it",
        curve::flow_words(high)
    ));
    if curve.design_flow > 0.0 && high < 0.85 * curve.design_flow {
        out.push(format!(
            "that is {:.0} % of design flow: look again after a month with more load",
            100.0 * high / curve.design_flow
        ));
    }
    out.push(format!(
        "a margin of {:.0} % on the need, which covers what the learned loop leaves unexplained ({:.0} %)",
        100.0 * MARGIN,
        100.0 * learned.scatter
    ));
    let floored = floor_share(b);
    if floored > 0.05 {
        out.push(format!(
            "the speed floor holds the pumps for {:.0} % of running hours; the floor itself is left as it is",
            100.0 * floored
        ));
    }
    if b.plant.system.minimum_flow.is_some() || b.plant.sources.iter().any(|s| s.minimum_flow.is_some()) {
        out.push("the least flow of the machines must be held: a bypass passes less at lower pressure, so check it at the new setting".to_owned());
    }
    out
}

fn floor_share(b: &Basis) -> f64 {
    let all: Vec<Regime> = b
        .regimes
        .pumps
        .iter()
        .flat_map(|p| p.regime.iter().copied())
        .filter(|r| !matches!(r, Regime::Off | Regime::Unknown))
        .collect();
    let floor = all.iter().filter(|r| **r == Regime::SpeedFloor).count();
    if all.is_empty() { 0.0 } else { floor as f64 / all.len() as f64 }
}

/// A pressure for a control setting.
fn kpa(v: f64) -> Option<Pressure> {
    Some(Pressure::kpa(v))
}
