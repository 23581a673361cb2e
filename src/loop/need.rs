//! The head that would have been enough, row by row.
//!
//! The coils met their load with the flows they took. Had every throttling valve been opened by the same factor until the
//! neediest stood at [`NEEDIEST_OPEN`], the same flows would have come from less head. What is always open (three-way coils,
//! a bypass) takes less flow at less head, as the root of pressure.

use super::learn::{Learned, installed};
use crate::operating::LoopPoints;
use crate::plant::{Plant, Role};
use crate::screening::Screened;

/// The neediest valve is left this far open: room to control (common practice: 85 to 95 %).
pub const NEEDIEST_OPEN: f64 = 0.90;

/// Need and who needs it, one a row.
#[derive(Debug, Clone)]
pub struct Need {
    /// Head that would have been enough [kPa]; NaN unknown.
    pub head_kpa: Vec<f64>,
    /// Loop flow at that head [m3/h]; NaN unknown.
    pub flow_m3h: Vec<f64>,
    /// Index into the plant's coils; `u16::MAX` unknown.
    pub neediest: Vec<u16>,
    /// Opening of the neediest valve [-]; NaN unknown.
    pub opening: Vec<f64>,
}

/// Computes the need of every row whose flow, head and valves are known.
#[must_use]
pub fn need(plant: &Plant, screened: &Screened, system: &LoopPoints, learned: Option<&Learned>) -> Need {
    let n = system.flow_m3h.len();
    let mut out = Need {
        head_kpa: vec![f64::NAN; n],
        flow_m3h: vec![f64::NAN; n],
        neediest: vec![u16::MAX; n],
        opening: vec![f64::NAN; n],
    };
    let Some(learned) = learned else { return out };
    let valves: Vec<Option<&[f64]>> = learned.throttles.iter().map(|t| valve(plant, screened, t.coil)).collect();
    let fans: Vec<Option<&[f64]>> =
        learned.throttles.iter().map(|t| screened.values(Role::FanStatus, Some(&plant.coils[t.coil].name))).collect();
    for i in 0..n {
        let (q, h) = (system.flow_m3h[i], system.head_kpa[i]);
        if system.pumps_on[i] == 0 || !(q > 0.0 && h > learned.static_kpa) {
            continue;
        }
        if let Some(row) = one(learned, &valves, &fans, i, q, h) {
            (out.head_kpa[i], out.flow_m3h[i]) = (row.head, row.flow);
            out.neediest[i] = u16::try_from(learned.throttles[row.throttle].coil).unwrap_or(u16::MAX);
            out.opening[i] = row.opening;
        }
    }
    out
}

fn valve<'a>(plant: &Plant, screened: &'a Screened, coil: usize) -> Option<&'a [f64]> {
    let of = Some(plant.coils[coil].name.as_str());
    screened.values(Role::ValvePosition, of).or_else(|| screened.values(Role::ValveCommand, of))
}

struct RowNeed {
    head: f64,
    flow: f64,
    throttle: usize,
    opening: f64,
}

fn one(l: &Learned, valves: &[Option<&[f64]>], fans: &[Option<&[f64]>], i: usize, q: f64, h: f64) -> Option<RowNeed> {
    let mut throttled = 0.0;
    let mut neediest: Option<(usize, f64)> = None;
    for (j, t) in l.throttles.iter().enumerate() {
        let x = valves[j].map_or(f64::NAN, |v| v[i]);
        if !x.is_finite() {
            return None;
        }
        throttled += t.conductance * installed(x, t.characteristic, l.authority);
        // A valve open on a stopped fan cools nothing: it needs no head.
        let stopped = fans[j].is_some_and(|f| f[i] < 0.5);
        if !stopped && neediest.is_none_or(|(_, top)| x > top) {
            neediest = Some((j, x));
        }
    }
    let (j, x) = neediest?;
    let characteristic = l.throttles[j].characteristic;
    let now = installed(x, characteristic, l.authority);
    if now <= 0.0 || throttled <= 0.0 {
        return None;
    }
    let opened = installed(NEEDIEST_OPEN, characteristic, l.authority) / now;
    let across = (h - l.static_kpa - l.common_resistance * q * q).max(0.05 * (h - l.static_kpa));
    let through_valves = q * throttled / (throttled + l.open_conductance).max(1e-9);
    let flow = through_valves + (q - through_valves) / opened.max(1.0);
    let head = l.static_kpa + l.common_resistance * flow * flow + across / (opened * opened);
    Some(RowNeed { head, flow, throttle: j, opening: x })
}
