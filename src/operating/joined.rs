//! What the pumps of a loop have in common, made ready for their sum.
//!
//! Comes in: every pump's points, witnesses and models. Goes out: the loop's columns (`together.rs`). The decision a reader would question: a loop
//! meter that spoke of a pump while it ran alone is asked here for the other rows only, and what it taught that pump then counts as an error
//! that meter and pump have in common.

use super::together::{LIKE_PUMPS, Loop, Meter, ONE_SENSOR, Together, together};
use super::witness::Witnesses;
use super::{Machine, PumpPoints, State, priors};
use crate::notice::Noticed;
use crate::plant::{Accuracy, Plant};
use crate::screening::Screened;
use priors::{Sizes, TableIs};

/// One pump on its way into the sum.
pub struct Joined<'a, 'w> {
    pub witnesses: &'a Witnesses<'w>,
    pub sizes: &'a Sizes,
    /// `None` where it has no table.
    pub machine: Option<&'a Machine>,
}

/// Adds the pumps up, and corrects them where the loop's own meter knows better.
pub fn add_up(plant: &Plant, screened: &Screened, pumps: &mut [PumpPoints], of: &[Joined]) -> Noticed<Together> {
    let point = super::witness::loop_meter(plant, screened);
    let flow: Vec<f64> = point.map_or_else(Vec::new, |(v, _)| unheard(v, of));
    let meter = point.map(|(_, p)| {
        let design = of.first().map_or(f64::NAN, |j| j.sizes.design_flow_m3h);
        let noise = match p.noise {
            Some(Accuracy::OfReading(x)) => (x, 0.0),
            Some(Accuracy::Absolute(x)) => (0.0, x),
            Some(Accuracy::OfSpan(_)) | None => (METER_NOISE, if design > 0.0 { METER_STEP * design } else { 0.0 }),
        };
        Meter { name: &p.name, flow: &flow, gain_sd: gain_sd(p.accuracy, &flow), noise }
    });
    let header = of.iter().find_map(|j| j.witnesses.header_head());
    let with_meter: Vec<f64> = of.iter().zip(pumps.iter()).map(|(j, p)| taught_by_meter(j, p)).collect();
    let shared = |a: usize, b: usize| {
        let like = if header.is_some() { ONE_SENSOR } else { LIKE_PUMPS };
        let meter = with_meter[a] * with_meter[b];
        meter + (1.0 - meter) * like
    };
    let peaks: Vec<f64> = of.iter().map(|j| j.machine.map_or(0.0, peak)).collect();
    let shut_off = |k: usize, i: usize| of.get(k).map_or((f64::NAN, f64::NAN), |j| shut_off(j, i, peaks[k]));
    let about = Loop {
        meter,
        header_head: header,
        shared: &shared,
        with_meter: &|k| with_meter[k],
        shut_off: &shut_off,
        hours: screened.clock.hours(),
    };
    together(pumps, &about)
}

/// Row noise of a loop's meter: of the reading [-], and of one pump's design flow [-].
const METER_NOISE: f64 = 0.01;
const METER_STEP: f64 = 0.002;
/// A meter and a pump that it taught are never taken for one [-].
const MOST_ALIKE: f64 = 0.9;

/// The loop's meter where no pump has heard it yet; NaN elsewhere.
fn unheard(meter: &[f64], of: &[Joined]) -> Vec<f64> {
    let heard = |i: usize| of.iter().any(|j| j.witnesses.hears_loop_meter(i));
    meter.iter().enumerate().map(|(i, v)| if heard(i) { f64::NAN } else { *v }).collect()
}

/// Standard deviation of a meter's scale, its zero taken at a usual reading [-].
fn gain_sd(accuracy: Option<Accuracy>, flow: &[f64]) -> f64 {
    let (gain, zero) = priors::of_meter(accuracy);
    let mut running: Vec<f64> = flow.iter().copied().filter(|v| *v > 0.0).collect();
    if running.is_empty() || zero <= 0.0 {
        return gain;
    }
    let middle = running.len() / 2;
    gain.hypot(zero / *running.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// How far a pump's shared error of flow is that of the meter which taught it [-], where several run.
fn taught_by_meter(j: &Joined, p: &PumpPoints) -> f64 {
    let Some(machine) = j.machine else { return 0.0 };
    let others: Vec<usize> = (0..p.state.len())
        .filter(|&i| p.state[i] == State::Steady && p.flow_m3h[i] > 0.0 && !j.witnesses.hears_loop_meter(i))
        .collect();
    let Some(&usual) = others.get(others.len() / 2) else { return 0.0 };
    if let TableIs::Learned { .. } = j.sizes.table {
        let gain = priors::meter(j.witnesses).0 * p.flow_m3h[usual];
        return (gain / p.flow_sd_common_m3h[usual]).clamp(0.0, MOST_ALIKE);
    }
    let said = machine
        .mixture
        .likeliest()
        .and_then(|h| h.estimator(machine.noise).correlation_with_meter(&j.witnesses.row(usual), p.flow_m3h[usual]));
    said.unwrap_or(0.0).clamp(0.0, MOST_ALIKE)
}

/// Where a pump makes its most head: at no flow, or further out where its curve droops [m3/h at full speed].
fn peak(machine: &Machine) -> f64 {
    let head = |q: f64| machine.model.table(q, 1.0, 0.0).0;
    let at = |k: usize| machine.model.q_max * k as f64 / PEAK_STEPS as f64;
    (0..=PEAK_STEPS).map(at).max_by(|a, b| head(*a).total_cmp(&head(*b))).unwrap_or(0.0)
}

/// Steps over the table: a droop's top is flat.
const PEAK_STEPS: usize = 40;

/// The most head [kPa] a pump makes in a row, and the standard deviation of what is not known of it.
fn shut_off(j: &Joined, i: usize, peak: f64) -> (f64, f64) {
    let none = (f64::NAN, f64::NAN);
    let Some((machine, first)) = j.machine.and_then(|m| Some((m, m.mixture.likeliest()?))) else { return none };
    first.estimator(machine.noise).head_at(&j.witnesses.row(i), peak).unwrap_or(none)
}
