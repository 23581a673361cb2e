//! The days before a change against those after it.

use super::who::{Duty, Is, who};
use super::{Change, LEAST_DAYS, Moved, WORDS};
use crate::faults::fit::{Moments, solve};
use crate::faults::onset;
use crate::faults::spread::{mean, quantile};
use crate::faults::{Case, PumpCase};
use crate::operating::days::{Day, PAIRS};

/// Head that spans less than this share of its middle is held: then it tells nothing at like speed [-].
const HELD: f64 = 0.12;

/// Speed that spans less than this share of its middle does not answer a weaker pump [-].
const ONE_SPEED: f64 = 0.05;

/// On the floor up to this much above it [-], and the share of running rows there from which it is left out.
const ON_FLOOR: f64 = 0.015;

const OFTEN: f64 = 0.2;

/// A slow change fits better than a sudden one when its misfit is below this share of the other's [-].
const SLOWER: f64 = 0.8;

/// The days compared: before and after.
struct Sides {
    before: std::ops::Range<usize>,
    after: std::ops::Range<usize>,
}

pub(super) fn moved(case: &Case, pump: &PumpCase, days: &[Day], k: usize, step: onset::Step, y: &[f64]) -> Moved {
    let hinge = hinge(y, &step);
    let first = hinge.unwrap_or(step.at);
    // A slow change is compared at its end.
    let sides = match hinge {
        Some(h) => Sides {
            before: 0..h.max(LEAST_DAYS),
            after: (h.max(LEAST_DAYS) + (days.len() - h) / 2).min(days.len() - LEAST_DAYS)..days.len(),
        },
        None => Sides { before: 0..step.at, after: step.at..days.len() },
    };
    let pairs = [0, 1, 2].map(|p| pair_change(days, p, &sides));
    let floor = floor_step(pump);
    let alone = [0, 1, 2].map(|r| at_like_speed(days, r, &sides, floor));
    let flat = spans(case, pump, pump.head_kpa, floor.is_some()) < HELD;
    let one_speed = spans(case, pump, pump.speed, false) < ONE_SPEED;
    let rises = mean(days.iter().map(|d| d.power_rises));
    let (who, size) = who(&pairs, &alone, k, &Duty { flat, one_speed, rises });
    let mut seen: Vec<Change> = Vec::new();
    for (p, is) in pairs.iter().enumerate().filter(|(_, is)| is.v.is_finite()) {
        let (of, by) = (place(PAIRS[p].0), place(PAIRS[p].1));
        seen.push(Change {
            name: format!("change of {} against what {} and table say", WORDS[of], WORDS[by]),
            size: is.v.exp_m1(),
        });
    }
    for (r, is) in alone.iter().enumerate().filter(|(_, is)| is.v.is_finite()) {
        seen.push(Change { name: format!("change of {} at like speed", WORDS[r]), size: is.v.exp_m1() });
    }
    let readings =
        (0..3).filter(|r| (0..3).any(|p| pairs[p].v.is_finite() && [PAIRS[p].0, PAIRS[p].1].map(place).contains(r)));
    Moved {
        who,
        size: size.v.exp_m1(),
        error: size.e,
        t: step.t,
        first_ms: days[first].from_ms,
        last_ms: days[days.len() - 1].to_ms,
        day: days[first].day,
        slow: hinge.is_some(),
        pair: k,
        readings: readings.collect(),
        seen,
    }
}

/// A place in the operating stage's witnesses among the three readings.
fn place(witness: usize) -> usize {
    crate::operating::days::READINGS.iter().position(|r| *r == witness).unwrap_or(0)
}

/// Where a slow change began, if one fits clearly better than a step.
fn hinge(y: &[f64], step: &onset::Step) -> Option<usize> {
    let known: Vec<usize> = (0..y.len()).filter(|d| y[*d].is_finite()).collect();
    let ramp = |k: usize, d: usize| d.saturating_sub(k) as f64;
    let rss = |x: &dyn Fn(usize) -> f64| -> Option<f64> {
        let mut m = Moments::new(2);
        known.iter().for_each(|d| m.add(&[1.0, x(*d)], y[*d]));
        let c = solve(m.xx.clone(), m.xy.clone())?;
        Some(known.iter().map(|d| (y[*d] - c[0] - c[1] * x(*d)).powi(2)).sum())
    };
    let at_once = rss(&|d| f64::from(u8::from(d >= step.at)))?;
    let last = known.len().checked_sub(2 * LEAST_DAYS)?;
    let best = known[..last]
        .iter()
        .filter_map(|k| rss(&|d| ramp(*k, d)).map(|r| (*k, r)))
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    (best.1 < SLOWER * at_once).then_some(best.0)
}

/// Mean over the days after less that before, days as the sample.
fn pair_change(days: &[Day], k: usize, sides: &Sides) -> Is {
    let of = |r: &std::ops::Range<usize>| -> Vec<f64> {
        days[r.clone()].iter().map(|d| d.pairs[k]).filter(|v| v.is_finite()).collect()
    };
    difference(&of(&sides.before), &of(&sides.after))
}

fn difference(before: &[f64], after: &[f64]) -> Is {
    let (n, m) = (before.len() as f64, after.len() as f64);
    if before.len() < LEAST_DAYS || after.len() < LEAST_DAYS {
        return Is::UNKNOWN;
    }
    let (x, y) = (mean(before.iter().copied()), mean(after.iter().copied()));
    let variance = |v: &[f64], c: f64| v.iter().map(|v| (v - c).powi(2)).sum::<f64>() / (v.len() - 1) as f64;
    Is { v: y - x, e: (variance(before, x) / n + variance(after, y) / m).sqrt() }
}

/// Change of a reading at like speeds and like numbers of pumps; steps of speed that only one side has say nothing.
fn at_like_speed(days: &[Day], reading: usize, sides: &Sides, floor: Option<u16>) -> Is {
    use std::collections::BTreeMap;
    let mut cells: BTreeMap<(u16, u8), [Vec<f64>; 2]> = BTreeMap::new();
    for (side, range) in [&sides.before, &sides.after].into_iter().enumerate() {
        for s in days[range.clone()].iter().flat_map(|d| &d.at_speed) {
            if s.level[reading].is_finite() && floor != Some(s.step) {
                cells.entry((s.step, s.sharing)).or_default()[side].push(s.level[reading]);
            }
        }
    }
    let (mut weight, mut sum, mut spread, mut freedom) = (0.0, 0.0, 0.0, 0.0);
    for [before, after] in cells.values().filter(|c| c[0].len() >= 2 && c[1].len() >= 2) {
        let (n, m) = (before.len() as f64, after.len() as f64);
        let (x, y) = (mean(before.iter().copied()), mean(after.iter().copied()));
        let w = n * m / (n + m);
        weight += w;
        sum += w * (y - x);
        spread +=
            before.iter().map(|v| (v - x).powi(2)).sum::<f64>() + after.iter().map(|v| (v - y).powi(2)).sum::<f64>();
        freedom += n + m - 2.0;
    }
    if weight > 0.0 && freedom > 0.0 {
        Is { v: sum / weight, e: (spread / freedom / weight).sqrt() }
    } else {
        Is::UNKNOWN
    }
}

/// The step of speed that the floor lies in, where the pump rests there often.
fn floor_step(pump: &PumpCase) -> Option<u16> {
    let running = || pump.speed.iter().copied().filter(|v| *v > 0.0);
    let floor = quantile(running(), 0.02);
    let (on, all) = running().fold((0u32, 0u32), |(on, all), v| (on + u32::from(v <= floor + ON_FLOOR), all + 1));
    let share = f64::from(on) / f64::from(all.max(1));
    (OFTEN..1.0 - OFTEN).contains(&share).then_some((floor / crate::operating::days::SPEED_STEP) as u16)
}

/// Middle eight tenths over the middle, of running rows, with or without those on the floor [-].
fn spans(case: &Case, pump: &PumpCase, of: &[f64], off_floor: bool) -> f64 {
    let floor =
        if off_floor { quantile(pump.speed.iter().copied().filter(|v| *v > 0.0), 0.02) + ON_FLOOR } else { 0.0 };
    let running = || (0..case.rows()).filter(|&i| pump.speed[i] > floor).map(|i| of[i]);
    (quantile(running(), 0.9) - quantile(running(), 0.1)) / quantile(running(), 0.5)
}
