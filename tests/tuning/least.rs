//! The least setting that works in truth, found by running the plant again and again.
//!
//! Comes in: a plant, today's run, a setting to start from. Goes out: the lowest zero-flow head (or setpoint) of that kind under which the plant
//! still works, and what the best of them saves. Works: the neediest valve at 90 % open has enough, no coil is short and the machines keep their
//! flow (the declared least, else the least that today's run saw), but for [`MISSED`] of the hours more than today. The decision to question: a rising curve keeps today's head at design flow unless the record
//! came near design flow, as a proposal must.

use super::again::{Mode, Plant, Ran, Setting};

/// Hours that a setting may miss beyond today's and still work [-].
const MISSED: f64 = 0.005;
/// No zero-flow head below this share of the head at design flow is asked of anybody (common practice, no source) [-].
pub const PRACTICE: f64 = 0.08;
/// Halvings of the way.
const HALVINGS: u32 = 7;
/// A record that saw this share of design flow lowers the head there as well [-].
const SEEN_DESIGN: f64 = 0.85;

/// Undercut by more than this counts [-].
const KEPT: f64 = 0.02;

/// Shares of the hours in which something is wanting [-].
fn wanting(r: &Ran, least_flow: f64) -> [f64; 4] {
    let looks = r.wanted.len().max(1) as f64;
    let missed = r.wanted.iter().filter(|(_, need, gave)| gave < need).count() as f64;
    let under = r.wanted.iter().filter(|w| w.0 < (1.0 - KEPT) * least_flow).count() as f64;
    [under / looks, missed / looks, r.short_h / r.running_h.max(1e-9), r.starved_machine_h / r.running_h.max(1e-9)]
}

fn works(today: &Ran, then: &Ran, least_declared: bool) -> bool {
    let seen = if least_declared { 0.0 } else { quantile(today.wanted.iter().map(|w| w.0), MISSED) };
    wanting(today, seen).iter().zip(wanting(then, seen)).all(|(before, after)| after <= before + MISSED)
}

/// Energy saved, of all, with today's setting kept in hours of frost [-].
pub fn saves(today: &Ran, then: &Ran) -> f64 {
    ((today.kwh - today.frost_kwh) - (then.kwh - then.frost_kwh)) / today.kwh
}

/// The same with another head at no flow, a constant one as a whole.
fn from_zero(s: Setting, zero: f64) -> Setting {
    let rising = matches!(s.mode, Mode::Proportional | Mode::Quadratic);
    Setting { zero, design: if rising { s.design } else { zero }, ..s }
}

/// The lowest that works between a share of the head at design flow and `high` [kPa], with its run; `None` where not even that works.
pub fn lowest(p: &Plant, today: &Ran, s: Setting, high: f64) -> Option<(Setting, Ran)> {
    let at = |zero: f64| {
        let s = from_zero(s, zero);
        let ran = p.run(Some(s));
        works(today, &ran, p.least_declared()).then_some((s, ran))
    };
    let (mut low, mut high) = (PRACTICE * s.design, high);
    if let Some(least) = at(low) {
        return Some(least);
    }
    let mut found = None;
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        match at(middle) {
            Some(works) => (high, found) = (middle, Some(works)),
            None => low = middle,
        }
    }
    found.or_else(|| at(high))
}

/// What the best setting that a proposal could have named saves in truth [-]: a quadratic curve or today's own kind.
pub fn best(p: &Plant, today: &Ran, set: Setting, design_flow: f64, design_head: f64) -> f64 {
    let rising = matches!(set.mode, Mode::Proportional | Mode::Quadratic);
    let design = if set.mode == Mode::Remote { design_head } else { set.design };
    let quadratic = Setting { mode: Mode::Quadratic, zero: set.zero, design, floor: set.floor };
    let top = if rising { set.zero } else { 0.95 * design };
    let mut tried = vec![(quadratic, top)];
    let high = quantile(today.wanted.iter().map(|w| w.0), 0.995);
    if high >= SEEN_DESIGN * design_flow {
        let near = today.wanted.iter().filter(|w| w.0 > 0.75 * high);
        let carried = quantile(near.map(|w| w.1 * (design_flow / w.0).powi(2).max(1.0)), 0.995);
        if carried < design {
            tried.push((Setting { design: carried, ..quadratic }, top.min(0.95 * carried)));
        }
    }
    if set.mode == Mode::Remote {
        tried.push((set, set.zero));
    }
    let runs = tried.into_iter().filter_map(|(s, top)| lowest(p, today, s, top));
    runs.map(|(_, then)| saves(today, &then)).fold(0.0, f64::max)
}

fn quantile(values: impl Iterator<Item = f64>, q: f64) -> f64 {
    let mut v: Vec<f64> = values.filter(|x| x.is_finite()).collect();
    v.sort_by(f64::total_cmp);
    if v.is_empty() { f64::NAN } else { v[((v.len() - 1) as f64 * q) as usize] }
}
