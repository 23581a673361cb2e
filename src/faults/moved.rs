//! Whether head, power and flow meter moved against each other within the record, and which of them, or the pump, did.
//!
//! Comes in: a pump's days ([`crate::operating::days::Day`]). Goes out: [`Looked`], which the rules on sensors and on wear share, so that one change is never
//! two findings. The decision a reader would question: where only two readings stand beside the speed, the loop's own habit is the third witness. A
//! reading whose scale changes leaves the other where it was at like speed; a pump that wears is driven along its system, so that flow,
//! head and power at like speed all fall; a loop that is set otherwise moves along the pump's curve, which is no misfit at all. Where these
//! do not part the stories, all are named and none is found. Start at [`look`].

mod who;

use super::case::{Case, PumpCase};
use super::fit::{Moments, solve};
use super::onset;
use super::spread::{mean, quantile};
use crate::operating::days::{Day, PAIRS};
use who::{Duty, Is, who};

/// Places in a day's readings.
pub(super) const HEAD: usize = 0;
pub(super) const POWER: usize = 1;
pub(super) const METER: usize = 2;
/// The same in words.
pub(super) const WORDS: [&str; 3] = ["head", "power", "flow meter"];

/// Days on either side of a change: fewer are weather [days].
const LEAST_DAYS: usize = 3;
/// From so many days on the load's season shows in the misfit [days].
const SEASONS: usize = 45;
/// A smaller misfit is no matter, however sure [-]: sensors and tables are good to no more over a season.
pub(super) const LEAST: f64 = 0.03;
/// A pair is asked who moved from this misfit on [-]: a flat curve shows a tenth of power as a fiftieth of head.
const ASKED: f64 = 0.015;
/// Head that spans less than this share of its middle is held: then it tells nothing at like speed [-].
const HELD: f64 = 0.12;
/// Speed that spans less than this share of its middle does not answer a weaker pump [-].
const ONE_SPEED: f64 = 0.05;
/// On the floor up to this much above it [-], and the share of running rows there from which it is left out.
const ON_FLOOR: f64 = 0.015;
const OFTEN: f64 = 0.2;
/// Changes of two pumps this near are one event [days].
const SAME_DAYS: usize = 2;
/// A slow change fits better than a sudden one when its misfit is below this share of the other's [-].
const SLOWER: f64 = 0.8;

/// What the days of a pump show.
#[derive(Debug, Clone)]
pub(super) enum Looked {
    /// No two readings stand beside the speed, or no table does.
    NoPair(Vec<&'static str>, &'static str),
    TooShort(String),
    /// Nothing moved; the least change of head or power that would have shown [-].
    Still(f64),
    Moved(Moved),
}

/// A change, and who made it.
#[derive(Debug, Clone)]
pub(super) struct Moved {
    pub who: Who,
    /// Change of the one who moved, as share [-], and its standard error; of the clearest pair where nobody is named.
    pub size: f64,
    pub error: f64,
    /// Size over standard error.
    pub t: f64,
    /// First and last instant of it [ms UTC].
    pub first_ms: i64,
    pub last_ms: i64,
    /// Place of the first day after it.
    pub day: u32,
    pub slow: bool,
    /// Readings that were compared: two or three.
    pub readings: Vec<usize>,
    pub seen: Vec<Change>,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) enum Who {
    Reading(usize),
    Pump,
    /// One of these, or the pump where that is true.
    Either(Vec<usize>, bool),
}

/// One number it rests on.
#[derive(Debug, Clone)]
pub(super) struct Change {
    pub name: String,
    pub size: f64,
}

/// What every pump's days show; pumps that share a sensor bear witness for each other.
pub(super) fn look<'c>(case: &'c Case) -> &'c [Looked] {
    case.looks.moved.get_or_init(|| of_pumps(case))
}

fn of_pumps(case: &Case) -> Vec<Looked> {
    let mut all: Vec<Looked> = case.pumps.iter().map(|p| one(case, p)).collect();
    let alone: Vec<Looked> = all.clone();
    for (k, looked) in all.iter_mut().enumerate() {
        let others = alone.iter().enumerate().filter(|o| o.0 != k).map(|o| o.1);
        if let Looked::Moved(m) = looked {
            m.who = beside_others(case, &case.pumps[k], m, others);
        }
    }
    all
}

/// A sensor that several pumps share moves for all of them; one pump's wear moves for it alone.
fn beside_others<'a>(case: &Case, pump: &PumpCase, m: &Moved, others: impl Iterator<Item = &'a Looked>) -> Who {
    let own_head = case.trend(crate::plant::Role::PumpHead, Some(pump.name)).is_some();
    let suspect = matches!(m.who, Who::Pump)
        || m.who == Who::Reading(HEAD)
        || matches!(&m.who, Who::Either(r, true) if r.contains(&HEAD));
    if own_head || !suspect {
        return m.who.clone();
    }
    let (mut with, mut without) = (0, 0);
    for other in others {
        match other {
            Looked::Moved(o) if o.day.abs_diff(m.day) as usize <= SAME_DAYS && o.size * m.size > 0.0 => with += 1,
            Looked::Still(least) if *least <= m.size.abs() => without += 1,
            _ => {}
        }
    }
    match (with, without, &m.who) {
        (1.., 0, Who::Pump) => Who::Either(vec![HEAD], true),
        (0, 1.., Who::Either(..) | Who::Reading(_)) if m.size < 0.0 => Who::Pump,
        _ => m.who.clone(),
    }
}

fn one(case: &Case, pump: &PumpCase) -> Looked {
    let Some(check) = pump.check else {
        return Looked::NoPair(
            vec!["[[pump.curve]]"],
            "without a pump table nothing says what head and power belong to a flow",
        );
    };
    let days = &check.days;
    let there = |k: usize| days.iter().any(|d| d.pairs[k].is_finite());
    if days.is_empty() || !(0..3).any(there) {
        let missing = vec!["pump-head", "pump-power", "loop-flow"];
        return Looked::NoPair(
            missing,
            "fewer than two of head, power and a flow meter can be compared beside the speed",
        );
    }
    // A long record has seasons: what a curve's shape leaves over then hangs on the duty, too.
    let mut given = vec![days.iter().map(|d| d.speed).collect::<Vec<f64>>()];
    if days.len() > SEASONS {
        given.push(days.iter().map(|d| d.duty).collect());
    }
    let found = (0..3).filter(|k| there(*k)).filter_map(|k| {
        let y: Vec<f64> = days.iter().map(|d| d.pairs[k]).collect();
        onset::step(&y, &given, LEAST_DAYS).map(|s| (k, s, y))
    });
    let found: Vec<(usize, onset::Step, Vec<f64>)> = found.collect();
    let clear = found.iter().filter(|(_, s, y)| s.size.abs() >= ASKED && s.t >= onset::BELIEVED && lasts(y, s));
    match clear.max_by(|a, b| a.1.t.total_cmp(&b.1.t)) {
        Some((k, step, y)) => {
            let m = moved(case, pump, days, *k, *step, y);
            if m.size.abs() >= LEAST { Looked::Moved(m) } else { Looked::Still(LEAST.max(shows(days, *k))) }
        }
        None if found.is_empty() => {
            Looked::TooShort(format!("fewer than {} days on which the readings can be compared", 2 * LEAST_DAYS + 2))
        }
        None => Looked::Still(found.iter().map(|(k, _, _)| shows(days, *k)).fold(LEAST, f64::max)),
    }
}

/// The change is still there in the last third of the days after it.
fn lasts(y: &[f64], step: &onset::Step) -> bool {
    let after: Vec<f64> = y[step.at..].iter().copied().filter(|v| v.is_finite()).collect();
    let late = mean(after[after.len() - after.len().div_ceil(3)..].iter().copied()) - step.before;
    late * step.size > 0.0 && late.abs() >= 0.5 * step.size.abs()
}

/// The least step halfway that the spread of the days would have shown [-].
fn shows(days: &[Day], k: usize) -> f64 {
    let known: Vec<f64> = days.iter().map(|d| d.pairs[k]).filter(|v| v.is_finite()).collect();
    let between: Vec<f64> = known.windows(2).map(|w| (w[1] - w[0]).powi(2)).collect();
    let sd = (mean(between) / 2.0).sqrt();
    1.5 * onset::BELIEVED * sd * 2.0 / (known.len() as f64).sqrt()
}

/// The days compared: before and after.
struct Sides {
    before: std::ops::Range<usize>,
    after: std::ops::Range<usize>,
}

fn moved(case: &Case, pump: &PumpCase, days: &[Day], k: usize, step: onset::Step, y: &[f64]) -> Moved {
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
