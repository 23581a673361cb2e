//! A pump that runs outside the part of its curve it is made for.
//!
//! Held against flow over best-efficiency flow at the speed of the hour. A row is outside only with its whole interval. The decision a reader would question: most
//! variable loops spend their nights far left, so the left side counts only where hours and energy agree, and where the pump is too large at its design
//! duty too. `told.rs` is what is said.

use super::{cannot_tell, clear};
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, Fault, PumpCase, Verdict, say};
use crate::operating::{Basis, State};
use crate::plant::Role;
use crate::quantity::ShaftSpeed;

#[path = "outside-preferred-region/told.rs"]
mod told;

const FAULT: Fault = Fault::OutsidePreferredRegion;
/// Preferred region, flow over best-efficiency flow [-], and its upper end for high specific speed: ANSI/HI 9.6.3 as quoted in a trade article.
const LOW: f64 = 0.70;
const HIGH: f64 = 1.20;
const HIGH_OF_FAST: f64 = 1.15;
/// US specific speed above which a pump counts as high [rpm, gpm, ft].
const FAST: f64 = 4500.0;
/// Steady hours with a measured flow that the record must have [h], and share of the steady hours [-].
const LEAST_H: f64 = 24.0;
const MEASURED: f64 = 0.5;
/// Outside from this share of the hours and of the energy [-]; to the right fewer hours are enough with more of the
/// energy, since run-out can cavitate.
const MOST_HOURS: f64 = 0.5;
const MOST_ENERGY: f64 = 0.5;
const MUCH_ENERGY: f64 = 0.6;
const MANY_HOURS: f64 = 0.35;
/// Middle of the hours that must lie clearly left [-].
const CLEARLY_LEFT: f64 = 0.66;
/// Design duty over best-efficiency flow at the speed of that duty, from which the pump is sized for it, and below which it is much too large whatever the
/// load [-]: pumps are chosen from a little left of their best flow up to it (common practice, no source).
const SIZED: f64 = 0.88;
const MUCH_TOO_LARGE: f64 = 0.70;
/// Between the two the load must not explain it: a pump at its best at design would have had its middle hour here or above [-].
const WITH_ONE_THAT_FITS: f64 = 0.50;
/// Where the design duty is not known: what the pump reaches in one hour of twenty [-].
const REACHES: f64 = 0.90;
/// A meter's error where the flow is its own alone, 95 % [-].
const METER: f64 = 0.05;
/// How well a table of some points places the flow of best efficiency, where the efficiency is flat [-] (common practice, no source).
const BEST_POINT: f64 = 1.05;
/// Slowest speed held against a curve [-].
const SLOWEST: f64 = 0.15;

/// One verdict a pump.
pub fn judge(case: &Case) -> Vec<Verdict> {
    case.pumps.iter().map(|p| judge_pump(case, p)).collect()
}

/// The pump's own meter, else the loop's.
fn meter<'a>(case: &Case<'a>, pump: &PumpCase) -> Option<&'a [f64]> {
    case.trend(Role::PumpFlow, Some(pump.name)).or_else(|| case.trend(Role::LoopFlow, None))
}

/// Flow over best-efficiency flow at the row's speed [-]: best, low and high.
fn ratio(case: &Case, pump: &PumpCase, meter: Option<&[f64]>, i: usize) -> Option<(f64, f64, f64)> {
    let speed = pump.speed[i];
    if pump.state[i] != State::Steady || !(speed > SLOWEST) {
        return None;
    }
    let (flow, low, high) = match pump.basis[i] {
        Basis::Measured(_) => (pump.flow_m3h[i], pump.flow_low_m3h[i], pump.flow_high_m3h[i]),
        // Beyond the tested points the table is silent; a meter is not.
        Basis::OutsideTable => {
            let q = meter.map_or(f64::NAN, |m| m[i]) / f64::from(case.pumps_on[i].max(1));
            (q, q * (1.0 - METER), q * (1.0 + METER))
        }
        _ => return None,
    };
    let scale = speed * pump.best_flow_m3h;
    let (mut least, mut most) = (scale, scale);
    if pump.declared.best_efficiency_flow.is_none() {
        (least, most) = (scale / BEST_POINT, scale * BEST_POINT);
        // A flat top hides where the best point is.
        least = least.min(speed * pump.best_range_m3h.0);
        most = most.max(speed * pump.best_range_m3h.1);
    }
    let x = (flow / scale, low / most, high / least);
    (x.0.is_finite() && x.1.is_finite() && x.2.is_finite()).then_some(x)
}

/// Sums over a record.
struct Judged {
    high_limit: f64,
    hours: f64,
    below: Side,
    above: Side,
    /// Share of the hours whose likeliest flow lies right of the region [-].
    likely_outside: f64,
    middle: f64,
    reaches: f64,
    energy_known: bool,
}

#[derive(Default)]
struct Side {
    rows: Vec<usize>,
    /// Shares of hours and of energy [-].
    share: f64,
    energy: f64,
}

fn judge_pump(case: &Case, pump: &PumpCase) -> Verdict {
    if !(pump.best_flow_m3h > 0.0) {
        let why = "without a pump table its best-efficiency flow is not known";
        return cannot_tell(FAULT, pump.name, &["[[pump.curve]]"], why);
    }
    let meter = meter(case, pump);
    let rows: Vec<(usize, (f64, f64, f64))> =
        (0..case.rows()).filter_map(|i| ratio(case, pump, meter, i).map(|x| (i, x))).collect();
    let steady = pump.state.iter().filter(|s| **s == State::Steady).count();
    let hours = rows.len() as f64 * case.step_h;
    if hours < LEAST_H || (rows.len() as f64) < MEASURED * steady as f64 {
        let why = format!(
            "{hours:.0} of {:.0} steady hours have a flow that measurements fix within the pump's table; speed alone or a bound by power does not",
            steady as f64 * case.step_h
        );
        return cannot_tell(FAULT, pump.name, &["pump-head", "loop-flow", "pump-power"], why);
    }
    let judged = Judged::new(case, pump, &rows);
    if judged.is_left() && oversized(case, pump, &judged) {
        return told::found(case, pump, &judged, true);
    }
    if judged.is_right() {
        return told::found(case, pump, &judged, false);
    }
    if judged.likely_outside >= MOST_HOURS {
        let why = format!(
            "in {} of the steady hours the likeliest flow lies above {} of best-efficiency flow, but what is known of flow and best point \
             does not settle it",
            say::percent(judged.likely_outside),
            say::percent(judged.high_limit)
        );
        return cannot_tell(FAULT, pump.name, &["[[pump]].best_efficiency_flow", "loop-flow"], why);
    }
    clear(
        FAULT,
        pump.name,
        format!(
            "most of the steady hours (and of the energy) with the whole range of the flow below {} or above {} of best-efficiency flow at the speed of \
             the hour, beyond what part load explains; {} of the hours lay below and {} above",
            say::percent(LOW),
            say::percent(judged.high_limit),
            say::percent(judged.below.share),
            say::percent(judged.above.share)
        ),
    )
}

impl Judged {
    fn new(case: &Case, pump: &PumpCase, rows: &[(usize, (f64, f64, f64))]) -> Self {
        let fast = specific_speed_us(pump) > FAST;
        let high_limit = if fast { HIGH_OF_FAST } else { HIGH };
        let known = rows.iter().filter(|(i, _)| pump.power_kw[*i] >= 0.0).count();
        let energy_known = known as f64 >= 0.8 * rows.len() as f64;
        let all: f64 = rows.iter().map(|(i, _)| pump.power_kw[*i]).filter(|p| p.is_finite()).sum();
        let side = |outside: &dyn Fn(&(f64, f64, f64)) -> bool| {
            let of: Vec<usize> = rows.iter().filter(|(_, x)| outside(x)).map(|(i, _)| *i).collect();
            let energy: f64 = of.iter().map(|&i| pump.power_kw[i]).filter(|p| p.is_finite()).sum();
            Side {
                share: of.len() as f64 / rows.len() as f64,
                energy: if all > 0.0 { energy / all } else { f64::NAN },
                rows: of,
            }
        };
        Self {
            high_limit,
            hours: rows.len() as f64 * case.step_h,
            below: side(&|x| x.2 < LOW),
            above: side(&|x| x.1 > high_limit),
            likely_outside: rows.iter().filter(|(_, x)| x.0 > high_limit).count() as f64 / rows.len() as f64,
            middle: median(rows.iter().map(|(_, x)| x.0)),
            reaches: quantile(rows.iter().map(|(_, x)| x.0), 0.95),
            energy_known,
        }
    }
    fn is_left(&self) -> bool {
        let energy = !self.energy_known || self.below.energy >= MOST_ENERGY;
        self.below.share >= MOST_HOURS && energy && self.middle <= CLEARLY_LEFT
    }
    fn is_right(&self) -> bool {
        let by_energy = self.energy_known && self.above.energy >= MUCH_ENERGY && self.above.share >= MANY_HOURS;
        self.above.share >= MOST_HOURS || by_energy
    }
}

/// Whether the pump is too large for its duty, and not only at part load: a pump that fits would have been inside, or nearly.
fn oversized(case: &Case, pump: &PumpCase, judged: &Judged) -> bool {
    let at_design = design_ratio(case, pump, &judged.below.rows);
    if at_design.is_nan() {
        return judged.reaches < REACHES;
    }
    at_design < MUCH_TOO_LARGE || (at_design < SIZED && judged.middle / at_design >= WITH_ONE_THAT_FITS)
}

/// Design flow of one pump over its best-efficiency flow at the speed of the design duty [-]; NaN where it cannot be known.
///
/// H = s^2 H0 - b Q^2 through the middle of these rows gives b, and with it the speed of the design head (affinity laws, common practice).
fn design_ratio(case: &Case, pump: &PumpCase, rows: &[usize]) -> f64 {
    let on_duty = case.plant.system.pumps_on_duty.unwrap_or_else(|| usize::from(usual_pumps_on(case, rows)));
    let flow = case.design_flow_m3h() / on_duty.max(1) as f64;
    let b = median(
        rows.iter()
            .filter(|&&i| pump.flow_m3h[i] > 0.0)
            .map(|&i| (pump.speed[i].powi(2) * pump.shut_off_kpa - pump.head_kpa[i]) / pump.flow_m3h[i].powi(2)),
    );
    let squared = (case.design_head_kpa() + b.max(0.0) * flow * flow) / pump.shut_off_kpa;
    // A pump that cannot reach the duty is not too large for it.
    let speed = squared.sqrt().clamp(SLOWEST, 1.0);
    flow / (speed * pump.best_flow_m3h)
}

fn usual_pumps_on(case: &Case, rows: &[usize]) -> u8 {
    median(rows.iter().map(|&i| f64::from(case.pumps_on[i]))).max(1.0) as u8
}

/// US specific speed N Q^0.5 / H^0.75 at best efficiency [rpm, gpm, ft]; NaN where rated speed or table are not known.
/// 1 gpm = 0.2271247 m3/h; 1 ft of water = 2.98898 kPa.
fn specific_speed_us(pump: &PumpCase) -> f64 {
    let rpm = pump.declared.rated_speed.map_or(f64::NAN, ShaftSpeed::in_rpm);
    let Some(curve) = pump.declared.curves.first() else { return f64::NAN };
    let s = curve.speed.in_of_one();
    let at = pump.best_flow_m3h * s;
    let (flow, head) = (&curve.head_flow_m3h, &curve.head_kpa);
    let k = flow.partition_point(|q| *q <= at).clamp(1, flow.len().max(2) - 1);
    let (Some(&q0), Some(&q1), Some(&h0), Some(&h1)) = (flow.get(k - 1), flow.get(k), head.get(k - 1), head.get(k))
    else {
        return f64::NAN;
    };
    let head_kpa = (h0 + (h1 - h0) * (at - q0) / (q1 - q0)) / (s * s);
    rpm * (pump.best_flow_m3h / 0.227_124_7).sqrt() / (head_kpa / 2.988_98).powf(0.75)
}
