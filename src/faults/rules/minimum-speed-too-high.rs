//! A speed floor that holds more head than anything asks, where a lower one is allowed.
//!
//! Each day's floor is the lowest speed its steady rows pile on. A row there is spent where the speed that would be enough (for the head asked and needed, for the
//! machines' least flow, for the maker's limit) lies clearly below. The decision a reader would question: a bypass that is a control valve is trusted to
//! open further at a lower head unless its position says otherwise; any other way of keeping a least flow loses flow with speed, and holds the floor.

use super::{cannot_tell, clear, lines, number};
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Fault, Finding, PumpCase, Verdict, onset, price, say};
use crate::operating::State;
use crate::plant::{Bypass, ControlMode, Reset, Role};
use crate::quantity::{Flow, Fraction, Pressure};
use crate::regimes::CURVE_TOLERANCE;

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
/// A bypass this far open has no room [-].
const BYPASS_FULL: f64 = 0.80;
/// Flow over the least one, up to which the bypass makes the flow [-].
const AT_LEAST_FLOW: f64 = 1.15;
/// Rows looked at for the least flow; more would only cost time [rows].
const MOST_ROWS: usize = 20_000;
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
    found(case, pump, &floor, level, maker)
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
fn least_flow_speed(case: &Case, pump: &PumpCase, served: &[usize]) -> Result<Option<f64>, &'static str> {
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

fn found(case: &Case, pump: &PumpCase, floor: &Floor, level: f64, maker: Option<f64>) -> Verdict {
    let rows = &floor.spent;
    let hours = rows.len() as f64 * case.step_h;
    let first = first_row(case, floor);
    let enough =
        quantile(rows.iter().map(|&i| enough_speed(case, pump, i, asked_kpa(case, pump, i)).max(floor.lowest)), 0.5);
    let head = median(rows.iter().map(|&i| pump.head_kpa[i]));
    let asked = median(rows.iter().map(|&i| target_kpa(case, pump, i, asked_kpa(case, pump, i))));
    let waste = price::waste(case, rows, |i| (case.loop_flow_m3h[i], at_lower_floor(case, pump, i, floor.lowest)));
    let per_year = price::per_year(case, waste);
    let share = rows.len() as f64 / floor.running as f64;
    let limit = match maker {
        Some(m) => format!("the maker allows {}", say::percent(m)),
        None => format!("the maker's limit is not declared; {} is common", say::percent(SUPPOSED_LIMIT)),
    };
    let source = "steady rows on the day's lowest speed";
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: pump.name.into(),
        urgency: price::urgency(case, waste, false),
        confidence: confidence(case, floor, level - enough, share, maker),
        first_seen_ms: case.time_ms[first],
        last_seen_ms: case.time_ms[rows[rows.len() - 1]],
        hours,
        waste_kwh: waste,
        waste_kwh_per_year: per_year,
        caused_by: None,
        because: format!(
            "For {hours:.0} h ({} of its steady hours) {} stood on a speed floor of {}, which held {} where {} was asked or needed; {} would \
             have been enough, and {limit}.{}",
            say::percent(share),
            pump.name,
            say::percent(level),
            case.say_head(head),
            case.say_head(asked),
            say::percent(enough),
            price::money(case, per_year),
        ),
        evidence: vec![
            number("speed floor", level, "fraction", format!("about {enough:.2}"), source),
            number("head on it", head, "kPa", format!("{asked:.0} kPa"), "head against control curve and neediest valve"),
            number("lowest speed that maker and machines allow", floor.lowest, "fraction", "-", "[[pump]].minimum_allowed_speed and least flow"),
            number("hours on it with speed to spare", hours, "h", format!("below {LEAST_H:.0}"), source),
        ],
        could_also_be: could_be(case, floor, maker),
        check_on_site: check_on_site(maker),
        change: format!(
            "Lower the drive's minimum speed in steps of 5 %, to {} at the lowest, and watch flow, seal and motor for a day after each step{}.",
            say::percent(enough.max(floor.lowest)),
            if maker.is_none() { "; only within what the maker of pump, seal and motor confirms in writing" } else { "" }
        ),
        caution: case.caution("Never below the maker's limit for seal and motor, nor below any machine's least flow: measure it at the new floor."),
    }))
}

fn check_on_site(maker: Option<f64>) -> Vec<String> {
    let mut out = lines(&[
        "Read the minimum frequency in the drive and the lower limit in the controller: the higher one rules.",
        "With the valves nearly shut, step the floor down by 5 % and read flow through each machine, bypass opening and motor temperature.",
    ]);
    if maker.is_none() {
        out.insert(0, "Ask the makers of pump, seal and motor for the lowest continuous speed.".to_owned());
    }
    out
}

fn could_be(case: &Case, floor: &Floor, maker: Option<f64>) -> Vec<String> {
    let mut out = Vec::new();
    if maker.is_none() {
        out.push("a floor at the maker's limit, which is not declared".to_owned());
    }
    if case.minimum_flow_m3h() > 0.0 {
        out.push("a floor that somebody set to keep a machine's least flow".to_owned());
    } else {
        out.push("a floor that keeps the least flow of a machine that is not declared".to_owned());
    }
    if floor.excess_above_kpa.is_nan() {
        out.push("a drive in hand at that speed".to_owned());
    }
    out
}

fn confidence(case: &Case, floor: &Floor, spare: f64, share: f64, maker: Option<f64>) -> f64 {
    let mut c = 0.72 + 0.10 * (spare / 0.2).clamp(0.0, 1.0) + 0.08 * share.min(1.0);
    // That a bypass nobody trends opens further is taken on trust.
    c -= if case.minimum_flow_m3h() > 0.0 && case.bypass_position.is_none() { 0.06 } else { 0.0 };
    c -= if floor.excess_above_kpa.is_nan() { 0.10 } else { 0.0 };
    if maker.is_none() { c.min(0.58) } else { c.min(0.93) }
}

/// The first row to spare: by change point in the day's floor where it rose.
fn first_row(case: &Case, floor: &Floor) -> usize {
    const ROSE: f64 = 0.03;
    let since = onset::step(&floor.by_day, &[], 2).filter(|s| s.t >= onset::BELIEVED && s.size >= ROSE);
    let from = since.map_or(0, |s| case.days()[s.at].start);
    floor.spent.iter().copied().find(|i| *i >= from).unwrap_or(floor.spent[0])
}

/// Head at the lower floor, never below what is enough [kPa].
fn at_lower_floor(case: &Case, pump: &PumpCase, i: usize, lowest: f64) -> f64 {
    let head = case.loop_head_kpa[i];
    let speed = pump.speed[i];
    let by_table = head - pump.shut_off_kpa * (speed * speed - lowest * lowest);
    let at_lowest = if by_table.is_finite() { by_table } else { head * (lowest / speed).powi(2) };
    target_kpa(case, pump, i, asked_kpa(case, pump, i)).max(at_lowest).min(head)
}
