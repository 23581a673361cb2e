//! A speed floor that holds more head than anything asks, where a lower one is allowed.
//!
//! Each day's floor is the lowest speed its steady rows pile on. A row there is spent where the speed that would be enough (for the head asked and needed, for the
//! machines' least flow, for the maker's limit) lies clearly below. The decision a reader would question: a bypass that is a control valve is trusted to
//! open further at a lower head unless its position says otherwise; any other way of keeping a least flow loses flow with speed, and holds the floor.
//! `least_flow.rs` has the speed that machines need; `told.rs` is what is said.

use super::{cannot_tell, clear};
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Fault, PumpCase, Verdict, say};
use crate::operating::State;
use crate::plant::{ControlMode, Reset, Role};
use crate::quantity::{Fraction, Pressure};
use crate::regimes::CURVE_TOLERANCE;

#[path = "minimum-speed-too-high/least_flow.rs"]
mod least_flow;
#[path = "minimum-speed-too-high/told.rs"]
mod told;

use least_flow::least_flow_speed;

const FAULT: Fault = Fault::MinimumSpeedTooHigh;
/// Within this of the day's lowest speed a row is on its floor [-]: slip and whole per cents.
const ON_FLOOR: f64 = 0.012;
/// Share of a day's steady rows that must pile there [-].
const PILED_UP: f64 = 0.10;
/// A floor this far above the lowest allowed can be lowered [-]: one cautious step down; and so much slower the pump must then really run [-].
const SPARE: f64 = 0.06;
const SLOWER: f64 = 0.03;
/// The same where the maker's limit is not known [-], and the limit then supposed: practice is 20 to 30 % (common practice, no source).
const SPARE_UNKNOWN: f64 = 0.15;
const SUPPOSED_LIMIT: f64 = 0.30;
/// Found from so many hours [h] and that share of the running hours [-].
const LEAST_H: f64 = 24.0;
const LEAST_SHARE: f64 = 0.15;
/// Running hours with known heads that the record must have [h].
const LEAST_KNOWN_H: f64 = 24.0;
/// Valves no wider open than this are shut [-]: nobody is served, and the head is for nobody to judge.
const SHUT: f64 = 0.05;
/// Above its floor the pump must follow its curve: excess there over excess on the floor [-].
const ALSO_ABOVE: f64 = 0.5;
/// The lowest floor of any day, over rated [-]; slower is a reading on its way to a stop.
const SLOWEST: f64 = 0.10;

/// One verdict a pump.
pub fn judge(case: &Case) -> Vec<Verdict> {
    case.pumps.iter().map(|p| judge_pump(case, p)).collect()
}

/// Head that the control asks of a pump in a row [kPa]: its curve's, or where a sensor is followed the head less what the sensor reads above its setpoint; NaN unknown.
pub(super) fn asked_kpa(case: &Case, pump: &PumpCase, i: usize) -> f64 {
    let curve = pump.curve_head_kpa[i];
    if curve.is_finite() {
        return curve;
    }
    let control = case.plant.control_at(case.time_ms[i]);
    let follows = matches!(control.mode, Some(ControlMode::RemotePressure | ControlMode::ConstantPressure));
    let at = control.sensor_at.as_deref();
    let own = at.and_then(|coil| case.trend(Role::DifferentialPressure, Some(coil)));
    let Some(reading) = own.or(case.dp_kpa).filter(|_| follows) else { return f64::NAN };
    let moves = control.reset.is_some_and(|r| r != Reset::None);
    let declared = control.setpoint.filter(|_| !moves).map_or(f64::NAN, Pressure::in_kpa);
    let setpoint = case.dp_setpoint_kpa.map(|s| s[i]).filter(|s| s.is_finite()).unwrap_or(declared);
    pump.head_kpa[i] - (reading[i] - setpoint)
}

/// What the rows of a record say of one pump's floor.
struct Floor {
    /// Rows on a day's floor with a known head, and those to spare.
    on: usize,
    spent: Vec<usize>,
    running: usize,
    known: usize,
    /// Each day's floor [-]; NaN where the day shows none.
    by_day: Vec<f64>,
    /// Lowest speed that maker and machines allow [-].
    lowest: f64,
    /// Rows above the floor, the middle of their excess head [kPa]; NaN where there are none.
    excess_above_kpa: f64,
}

fn judge_pump(case: &Case, pump: &PumpCase) -> Verdict {
    let maker = pump.declared.minimum_allowed_speed.map(Fraction::in_of_one);
    let spare = if maker.is_some() { SPARE } else { SPARE_UNKNOWN };
    let rows: Vec<usize> = (0..case.rows()).filter(|&i| serves(case, pump, i)).collect();
    let limit = match least_flow_speed(case, pump, &rows) {
        Ok(by_flow) => maker.unwrap_or(SUPPOSED_LIMIT).max(by_flow.unwrap_or(0.0)),
        Err(why) => return cannot_tell(FAULT, pump.name, &["loop-flow"], why),
    };
    let floor = look(case, pump, &rows, limit, spare);
    let hours = |rows: usize| rows as f64 * case.step_h;
    if hours(floor.known) < LEAST_KNOWN_H {
        let why = format!(
            "fewer than {LEAST_KNOWN_H:.0} steady hours in which both the head and what the control asks are known"
        );
        return cannot_tell(FAULT, pump.name, &["pump-head", "[control]"], why);
    }
    let many = hours(floor.spent.len()) >= LEAST_H && floor.spent.len() as f64 >= LEAST_SHARE * floor.running as f64;
    if !many {
        return not_found(case, pump, &rows, &floor, maker);
    }
    let spent_kpa = median(floor.spent.iter().map(|&i| pump.head_kpa[i] - asked_kpa(case, pump, i)));
    if floor.excess_above_kpa > ALSO_ABOVE * spent_kpa {
        let why =
            "above its floor the head is off what the control asks as well: the whole curve is off, or its declaration";
        return cannot_tell(FAULT, pump.name, &[], why);
    }
    let level = median(floor.spent.iter().map(|&i| pump.speed[i]));
    told::found(case, pump, &floor, level, maker)
}

/// Whether a row is steady with a known speed, not for frost, and serves somebody.
fn serves(case: &Case, pump: &PumpCase, i: usize) -> bool {
    let shut = case.widest_valve(i) <= SHUT;
    pump.state[i] == State::Steady && pump.speed[i] > SLOWEST && !case.frost[i] && !shut
}

fn look(case: &Case, pump: &PumpCase, served: &[usize], lowest: f64, spare: f64) -> Floor {
    let mut floor = Floor {
        on: 0,
        spent: Vec::new(),
        running: 0,
        known: 0,
        by_day: Vec::new(),
        lowest,
        excess_above_kpa: f64::NAN,
    };
    let mut above: Vec<f64> = Vec::new();
    let declared = case.floor_at(pump, i64::MAX).map(|f| f.0);
    for day in case.days() {
        let from = served.partition_point(|i| *i < day.start);
        let to = served.partition_point(|i| *i < day.end);
        let steady = || served[from..to].iter().copied();
        let low = quantile(steady().map(|i| pump.speed[i]), 0.02);
        let (rows, on) = (steady().count(), steady().filter(|&i| pump.speed[i] <= low + ON_FLOOR).count());
        floor.running += rows;
        // A day that never leaves one speed shows a floor only where that is the declared one: a hand holds a speed too.
        let leaves =
            steady().filter(|&i| pump.speed[i] > low + 2.0 * ON_FLOOR).count() as f64 >= PILED_UP * rows as f64;
        let as_declared = declared.is_some_and(|d| (low - d).abs() <= 2.0 * ON_FLOOR);
        let piled = rows > 0 && on as f64 >= PILED_UP * rows as f64 && (leaves || as_declared);
        floor.by_day.push(if piled { low } else { f64::NAN });
        for i in steady() {
            let asked = asked_kpa(case, pump, i);
            if !(pump.head_kpa[i] - asked).is_finite() {
                continue;
            }
            floor.known += 1;
            if !piled || pump.speed[i] > low + ON_FLOOR {
                if !piled || pump.speed[i] > low + 2.0 * ON_FLOOR {
                    above.push(pump.head_kpa[i] - asked);
                }
                continue;
            }
            floor.on += 1;
            if is_spent(case, pump, i, asked, lowest, spare) {
                floor.spent.push(i);
            }
        }
    }
    floor.excess_above_kpa = median(above);
    floor
}

/// Whether a lower floor would have served a row: head clearly to spare, and speed that may be given up.
fn is_spent(case: &Case, pump: &PumpCase, i: usize, asked: f64, lowest: f64, spare: f64) -> bool {
    let surplus = pump.head_low_kpa[i].min(pump.head_kpa[i]) - target_kpa(case, pump, i, asked);
    let enough = enough_speed(case, pump, i, asked);
    let slower = if spare > SPARE { spare } else { SLOWER };
    surplus > tolerance(case, asked) && pump.speed[i] - lowest >= spare && pump.speed[i] - enough.max(lowest) >= slower
}

/// Speed that would hold the head asked, and the one needed, at the row's flow, over rated [-].
///
/// At one flow H(s) = s^2 H0 - f(Q), so s'^2 = s^2 - (H - H') / H0 by the affinity laws; without a table H0 >= H / s^2 gives the lowest it could be, and half the way
/// there is taken.
fn enough_speed(case: &Case, pump: &PumpCase, i: usize, asked: f64) -> f64 {
    let (head, speed) = (pump.head_kpa[i], pump.speed[i]);
    let over = (head - target_kpa(case, pump, i, asked)).max(0.0);
    let by_table = speed * speed - over / pump.shut_off_kpa;
    let squared = if by_table.is_finite() { by_table } else { speed * speed * (1.0 - 0.5 * over / head) };
    squared.max(0.0).sqrt()
}

fn tolerance(case: &Case, asked: f64) -> f64 {
    let design = case.design_head_kpa();
    CURVE_TOLERANCE * if design.is_finite() { design } else { asked }
}

/// Head that is enough: what the control asks, or the neediest valve where that is more [kPa].
fn target_kpa(case: &Case, pump: &PumpCase, i: usize, asked: f64) -> f64 {
    let need = case.need_kpa[i];
    if need.is_finite() { asked.max(need.min(pump.head_kpa[i])) } else { asked }
}

fn not_found(case: &Case, pump: &PumpCase, rows: &[usize], floor: &Floor, maker: Option<f64>) -> Verdict {
    let Some(maker) = maker else {
        // With no limit at all, would there be anything to spare?
        if look(case, pump, rows, 0.0, SPARE).spent.len() as f64 * case.step_h >= LEAST_H {
            let why =
                "the floor holds more head than is asked, but without the maker's limit no lower one can be proposed";
            return cannot_tell(FAULT, pump.name, &["[[pump]].minimum_allowed_speed"], why);
        }
        return clear(
            FAULT,
            pump.name,
            format!("a floor {} of rated speed above what the curve asks, for {LEAST_H:.0} h", say::percent(SPARE)),
        );
    };
    let held = if floor.lowest > maker + 0.01 {
        format!(" (here {}, by the least flow)", say::percent(floor.lowest))
    } else {
        String::new()
    };
    clear(
        FAULT,
        pump.name,
        format!(
            "{LEAST_H:.0} h, a tenth of the steady hours, on a floor at least {} of rated speed above what the curve, the least flow and the maker's \
             limit of {} allow{held}; {:.0} h were on a floor",
            say::percent(SPARE),
            say::percent(maker),
            floor.on as f64 * case.step_h
        ),
    )
}
