//! The loop from its pumps: flows add, errors that pumps share add straight, and a meter in the loop corrects both sides.
//!
//! Comes in: every pump's points, and what the loop shows as a whole ([`Loop`]). Goes out: [`LoopPoints`], the pumps' points
//! corrected, and what was odd. The decision a reader would question: a meter that disagrees for hours with a standby pump off is
//! named as suspected backflow and not used there, but no backflow is ever computed, since a wrong meter looks the same. It does
//! not follow the meter's scale over time. Start at [`together`].

use super::balance::Record;
use super::{LoopPoints, PumpPoints, State};
use crate::notice::{Notice, Noticed};

/// A flow meter that sees all pumps' water.
#[derive(Clone, Copy)]
pub struct Meter<'a> {
    /// Name of the point, for people.
    pub name: &'a str,
    /// [m3/h], NaN where missing.
    pub flow: &'a [f64],
    /// Standard deviation of its scale, the same in every row [-].
    pub gain_sd: f64,
    /// Row-to-row noise: share of the reading [-] and absolute part [m3/h], standard deviations.
    pub noise: (f64, f64),
}

/// What the pumps have in common.
#[derive(Clone, Copy)]
pub struct Loop<'a> {
    pub meter: Option<Meter<'a>>,
    /// Head across the headers [kPa] where it is trended; NaN where missing.
    pub header_head: Option<&'a [f64]>,
    /// Correlation of two pumps' common errors, by their places in the list [-]; [`shared`] makes one.
    pub shared: &'a dyn Fn(usize, usize) -> f64,
    /// How far a pump's common error is that of the meter, which taught it in other rows: correlation of both readings' errors [-].
    pub with_meter: &'a dyn Fn(usize) -> f64,
    /// The most head [kPa] that a pump (by place) makes at the speed of a row, at no flow unless its curve droops, and its standard deviation;
    /// NaN where unknown.
    pub shut_off: &'a dyn Fn(usize, usize) -> (f64, f64),
    /// Hours a row stands for [h].
    pub hours: f64,
}

/// The loop's columns and what the record says of its meter.
#[derive(Debug, Clone)]
pub struct Together {
    pub system: LoopPoints,
    pub meter: Option<MeterGain>,
}

/// The scale of a loop meter against the pumps' sum, over the record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeterGain {
    /// How much more the meter reads than is there [-], with its 95 % interval.
    pub gain: f64,
    pub low: f64,
    pub high: f64,
    /// Rows it rests on.
    pub rows: usize,
}

/// Part of a pump's common variance that one head sensor for all pumps brings, where it is not known better: half, since its scale and zero (1 %
/// and 0.5 % of span) weigh about as much as a table's level [-].
pub const ONE_SENSOR: f64 = 0.5;
/// The same for like pumps with sensors of their own: type, motor and drive are like, and so are their departures (common practice, no source).
pub const LIKE_PUMPS: f64 = 0.25;

/// Correlation [-] of two pumps' common errors, from the part of each one's common variance that comes from what both share: a
/// sensor or a type's departure weighs in each as the root of its part. What is a pump's own (its table's departure) is shared by none.
///
/// ```
/// use offcurve::operating::together::shared;
/// // Half of each pump's variance from one sensor: errors e1 = s + a, e2 = s + b of equal variances correlate by a half.
/// assert!((shared(0.5, 0.5) - 0.5).abs() < 1e-12);
/// assert_eq!(shared(0.0, 1.0), 0.0);
/// ```
#[must_use]
pub fn shared(part_of_one: f64, part_of_other: f64) -> f64 {
    (part_of_one.clamp(0.0, 1.0) * part_of_other.clamp(0.0, 1.0)).sqrt()
}

/// Standard deviations from the middle to the edge of a 95 % interval.
pub(super) const EDGE: f64 = 1.96;
/// Loss between a pump's flanges and the headers, in its head [-]: it holds the valve of another closed only by what is left.
const BETWEEN: f64 = 0.05;
/// Standard deviation of a header pressure difference [-]: a transmitter's 1 %, and half of that again for its zero.
const HEADER_SD: f64 = 0.015;

/// Adds the pumps up, with the loop's own witnesses; corrects `pumps` where those know better.
#[must_use]
pub fn together(pumps: &mut [PumpPoints], about: &Loop) -> Noticed<Together> {
    let rows = pumps.first().map_or(0, |p| p.state.len());
    let mut valves = Valves { closed_rows: vec![0; pumps.len()] };
    let mut deliver = Vec::with_capacity(pumps.len());
    let mut record = Record::new(pumps.len(), about);
    record.learn(pumps);
    let mut system = blank(rows);
    for i in 0..rows {
        sum_up(pumps, i, &mut system);
        valves.close(pumps, i, about, &mut deliver);
        system.pumps_on[i] = u8::try_from(deliver.len()).unwrap_or(u8::MAX);
        if pumps.iter().any(|p| p.state[i] == State::Unknown) {
            record.balance_unknown();
            continue;
        }
        record.row(pumps, i, &deliver, &mut system);
        system.head_kpa[i] = common_head(pumps, i, &deliver);
    }
    record.balance_unknown();
    let mut notices = valves.notices(pumps, about.hours);
    notices.extend(record.notices(pumps));
    Noticed { value: Together { system, meter: record.gain() }, notices }
}

fn blank(rows: usize) -> LoopPoints {
    let nan = || vec![f64::NAN; rows];
    LoopPoints {
        flow_m3h: nan(),
        flow_low_m3h: nan(),
        flow_high_m3h: nan(),
        head_kpa: nan(),
        power_kw: nan(),
        pumps_on: vec![0; rows],
        steady: vec![false; rows],
    }
}

pub(super) fn runs(p: &PumpPoints, i: usize) -> bool {
    !matches!(p.state[i], State::Off | State::Unknown)
}

/// What needs no flow: power and steadiness.
fn sum_up(pumps: &[PumpPoints], i: usize, system: &mut LoopPoints) {
    system.power_kw[i] = pumps.iter().map(|p| p.power_kw[i]).sum();
    let mut on = pumps.iter().filter(|p| runs(p, i)).peekable();
    system.steady[i] = on.peek().is_some() && on.all(|p| p.state[i] == State::Steady);
}

/// Standard deviation of a head [kPa], from its interval.
fn head_sd(p: &PumpPoints, i: usize) -> f64 {
    (p.head_high_kpa[i] - p.head_low_kpa[i]) / (2.0 * EDGE)
}

/// Mean of the delivering pumps' heads, each weighed by its precision: they stand on the same headers.
fn common_head(pumps: &[PumpPoints], i: usize, deliver: &[usize]) -> f64 {
    let known = deliver.iter().map(|&k| &pumps[k]).filter(|p| p.head_kpa[i].is_finite());
    let (mut weight, mut sum, mut plain, mut n) = (0.0, 0.0, 0.0, 0.0);
    for p in known {
        // No interval: the plain mean.
        let w = 1.0 / head_sd(p, i).powi(2).max(1e-6);
        if w.is_finite() {
            weight += w;
            sum += w * p.head_kpa[i];
        }
        plain += p.head_kpa[i];
        n += 1.0;
    }
    if weight > 0.0 { sum / weight } else { plain / n }
}

/// Check valves: a pump whose head at no flow is below what the others hold delivers nothing.
struct Valves {
    closed_rows: Vec<usize>,
}

impl Valves {
    /// Sets the flow of pumps behind closed valves to nothing; leaves in `deliver` the others that run.
    fn close(&mut self, pumps: &mut [PumpPoints], i: usize, about: &Loop, deliver: &mut Vec<usize>) {
        deliver.clear();
        deliver.extend((0..pumps.len()).filter(|&k| runs(&pumps[k], i)));
        if deliver.len() < 2 {
            return;
        }
        deliver.retain(|&k| {
            let closed = is_held_closed(pumps, k, i, about);
            if closed {
                nothing_flows(&mut pumps[k], i);
                self.closed_rows[k] += 1;
            }
            !closed
        });
    }

    fn notices(&self, pumps: &[PumpPoints], hours: f64) -> Vec<Notice> {
        let of = |(p, n): (&PumpPoints, &usize)| {
            let text = format!(
                "{}: for {:.1} h it turned too slowly to open its check valve against the head the other pumps held, and delivered nothing",
                p.pump,
                *n as f64 * hours
            );
            (*n > 0).then(|| Notice::new("operating", text))
        };
        pumps.iter().zip(&self.closed_rows).filter_map(of).collect()
    }
}

/// Whether the head at no flow lies below what stronger pumps hold, beyond what both leave open.
pub(super) fn is_held_closed(pumps: &[PumpPoints], k: usize, i: usize, about: &Loop) -> bool {
    let (own, own_sd) = (about.shut_off)(k, i);
    if !own.is_finite() {
        return false;
    }
    let (mut held, mut held_sd) = (f64::NAN, 0.0);
    for (j, other) in pumps.iter().enumerate() {
        // Only a pump that delivers, and could make more than this one, holds a valve closed.
        let delivers = j != k && runs(other, i) && other.flow_m3h[i] > 0.0;
        if !delivers || (about.shut_off)(j, i).0 <= own {
            continue;
        }
        let head = other.head_kpa[i] * (1.0 - BETWEEN);
        if head.is_finite() && !(held >= head) {
            (held, held_sd) = (head, head_sd(other, i));
        }
    }
    // With no delivering pump there is nobody to hold it, whatever the headers show.
    if held.is_finite()
        && let Some(header) = about.header_head.map(|h| h[i]).filter(|h| h.is_finite())
    {
        (held, held_sd) = (header, HEADER_SD * header);
    }
    own + EDGE * own_sd.max(0.0).hypot(held_sd) < held
}

/// A pump spinning behind a closed valve: no flow; the upper edge stays where its interval reached down to none.
fn nothing_flows(p: &mut PumpPoints, i: usize) {
    let touches_none = p.flow_low_m3h[i] <= 0.0 && p.flow_high_m3h[i].is_finite();
    p.flow_high_m3h[i] = if touches_none { p.flow_high_m3h[i] } else { 0.0 };
    p.flow_m3h[i] = 0.0;
    p.flow_low_m3h[i] = 0.0;
    p.flow_sd_common_m3h[i] = 0.0;
    p.efficiency[i] = 0.0;
}
