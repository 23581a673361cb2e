//! A pump that has no table: its curves from the stretch in which its flow was metered, ready to be used like any other.
//!
//! Comes in: a pump, its witnesses and states. Goes out: [`Taught`]: the pump with the curves it showed, and a text to paste; or why there are none.
//! The curves are laid out at several speeds as what is trended there, so that no law of motor and drive comes between. The decision a reader
//! would question: sensors' constant errors are in the curves and cancel; the meter's comes on top of every flow ([`widen`]), since nothing
//! here can tell it.

use super::basis::Basis;
use super::learned_curve::{Metered, MotorFacts, NotLearned, learn_curve};
use super::model::witness::{HEAD, METER, POWER};
use super::priors::{self, Sizes, TableIs};
use super::witness::Witnesses;
use super::{LearnedTable, PumpPoints, State};
use crate::ingest::Clock;
use crate::plant::{Plant, PowerIs, Pump};
use crate::quantity::Power;
use chrono::DateTime;

/// A pump with learned curves.
pub struct Taught {
    pub pump: Pump,
    pub sizes: Sizes,
    /// The curves' power is what is trended: nothing lies between.
    pub no_chain: bool,
    /// Where power was taken to be read.
    pub power_is: PowerIs,
    /// Head follows flow.
    pub has_head: bool,
    pub table: LearnedTable,
}

/// Learns what can be learned.
///
/// # Errors
/// Why nothing can.
pub fn teach(plant: &Plant, clock: Clock, pump: &Pump, w: &Witnesses, states: &[State]) -> Result<Taught, NotLearned> {
    let rows = metered(w, states);
    let power_is = w.power_is.unwrap_or(PowerIs::DriveInput);
    let motor = MotorFacts {
        rated_kw: pump.motor_power.map(Power::in_kw),
        motor_efficiency: pump.motor_efficiency,
        drive_efficiency: pump.drive_efficiency,
        trended_is: power_is,
    };
    let rows_a_day = (DAY_S / clock.step_s.max(1)).max(1) as usize;
    let curve = learn_curve(&rows, rows_a_day, &motor)?;
    let no_chain = power_is == PowerIs::DriveInput;
    let mut taught = Pump { curves: curve.tables(no_chain), ..pump.clone() };
    // Slip was in the speed that the curves were learned with.
    taught.motor = crate::plant::MotorKind::PermanentMagnet;
    let sizes = Sizes {
        table: TableIs::Learned { head: curve.head_error, power: curve.power_error },
        plate: true,
        ..Sizes::of(plant, &taught)
    };
    let table = LearnedTable {
        pump: pump.name.clone(),
        toml: curve.to_toml(plant.units, &pump.name, &seen(plant, clock, &rows)),
        rows: curve.rows,
        days: curve.days,
        head_error: curve.head_error,
        power_error: curve.power_error,
        flow_error: curve.flow_error,
    };
    Ok(Taught { pump: taught, sizes, no_chain, power_is, has_head: !curve.head_kpa.is_empty(), table })
}

/// A day [s].
const DAY_S: i64 = 86_400;

/// Steady rows with a flow of this pump's own.
fn metered(w: &Witnesses, states: &[State]) -> Vec<Metered> {
    let row = |i: usize| {
        let row = w.row(i);
        let flow_m3h = row.reading[METER];
        (flow_m3h > 0.0).then_some(Metered {
            speed: row.speed,
            flow_m3h,
            head_kpa: row.reading[HEAD],
            power_kw: row.reading[POWER],
            density: row.hour.density,
            time_index: i,
        })
    };
    (0..states.len()).filter(|&i| states[i] == State::Steady).filter_map(row).collect()
}

/// The first and the last day with a meter, for people.
fn seen(plant: &Plant, clock: Clock, rows: &[Metered]) -> String {
    let day = |row: &Metered| {
        let at = DateTime::from_timestamp_millis(clock.at_ms(row.time_index));
        at.map_or_else(String::new, |t| t.with_timezone(&plant.site.timezone).format("%Y-%m-%d").to_string())
    };
    match (rows.first(), rows.last()) {
        (Some(first), Some(last)) => format!("{} to {}", day(first), day(last)),
        _ => String::new(),
    }
}

/// Adds what the curves cannot know of themselves: the meter's constant error to every flow, the head sensor's to every head.
pub fn widen(p: &mut PumpPoints, w: &Witnesses, sizes: &Sizes) {
    let (gain, zero) = priors::meter(w);
    let head = priors::of_head(w, sizes);
    for i in 0..p.state.len() {
        if !matches!(p.basis[i], Basis::Measured(_) | Basis::PowerBound | Basis::Speed) {
            continue;
        }
        let own = (gain * p.flow_m3h[i]).hypot(zero);
        (p.flow_low_m3h[i], p.flow_high_m3h[i]) = wider(p.flow_m3h[i], p.flow_low_m3h[i], p.flow_high_m3h[i], own);
        p.flow_sd_common_m3h[i] = p.flow_sd_common_m3h[i].hypot(own);
        let own = (head.0 * p.head_kpa[i]).hypot(head.1);
        (p.head_low_kpa[i], p.head_high_kpa[i]) = wider(p.head_kpa[i], p.head_low_kpa[i], p.head_high_kpa[i], own);
        p.head_sd_common_kpa[i] = p.head_sd_common_kpa[i].hypot(own);
    }
}

/// Where there is no head curve, heads are as they were measured; NaN where they were not.
pub fn heads_as_measured(p: &mut PumpPoints, measured: &[f64], doubt: (f64, f64)) {
    for i in 0..p.state.len() {
        let head = if p.state[i] == State::Off { f64::NAN } else { measured[i] };
        let sd = (doubt.0 * head).hypot(doubt.1);
        (p.head_kpa[i], p.head_low_kpa[i], p.head_high_kpa[i]) = (head, head - 1.96 * sd, head + 1.96 * sd);
        p.head_sd_common_kpa[i] = sd;
        let made = p.flow_m3h[i] * head / 3600.0;
        p.efficiency[i] = if p.power_kw[i] > 0.0 { (made / p.power_kw[i]).clamp(0.0, 1.0) } else { f64::NAN };
    }
}

/// A 95 % interval with one more standard deviation in it.
fn wider(middle: f64, low: f64, high: f64, sd: f64) -> (f64, f64) {
    let more = |side: f64| side.hypot(1.96 * sd);
    ((middle - more(middle - low)).max(0.0), middle + more(high - middle))
}
