//! Days that stand at one speed, and the stays they make.

use super::movers::{Moved, Strength};
use crate::faults::spread::median;
use crate::faults::{Case, PumpCase};
use std::ops::Range;

/// How far from its level a standing speed may read [-]: noise of a drive's reading; more where the reading itself is noisier, up to the second.
const BAND: f64 = 0.006;
const WIDEST_BAND: f64 = 0.015;
/// Share of a day's running rows at one speed from which the whole day stands [-].
const WHOLE_DAY: f64 = 0.85;
/// Hours at one speed without a break that stand by themselves [h].
const LONG_RUN_H: f64 = 5.0;
/// Running hours a day must have to be judged [h].
const LEAST_DAY_H: f64 = 2.0;
/// Rows off the level that a run survives [rows].
const STRAYS: usize = 2;
/// Range of a mover over the least that counts, from which hours within a day stand for themselves [-].
const LOUD: f64 = 2.5;
/// A reading in steps at least this large is a coarse one [-].
const COARSE: f64 = 0.004;

/// One day: what it ran, and the speed that holds it.
pub(super) struct Day {
    pub range: Range<usize>,
    /// Rows running with a known speed, and those of them at the level in the part that stands.
    pub running: usize,
    pub held: usize,
    pub level: f64,
    /// The part of the day that stands, and whether that is nearly all of it.
    pub part: Range<usize>,
    pub whole: bool,
}

impl Day {
    pub(super) fn stands(&self) -> bool {
        self.held > 0
    }
}

/// What holds a speed where it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Something that should have moved it moved.
    Hand,
    /// Only temperatures moved: counts with enough days.
    HandByTemperatures,
    Floor,
    Full,
    /// It hardly moves, but with the load.
    Follows,
    /// Nothing moved that would have moved it.
    Still,
}

/// Days that stand at one speed.
pub(super) struct Stay {
    pub days: Vec<usize>,
    pub rows: Vec<usize>,
    pub level: f64,
    pub kind: Kind,
    pub moved: Vec<Moved>,
}

/// Whether a row runs, past its start, with a known speed, when the loop is meant to run: frost protection and hours of rest hold a pump at its lowest, on purpose.
pub(super) fn runs(case: &Case, pump: &PumpCase, i: usize) -> bool {
    super::running(pump.state[i]) && pump.speed[i].is_finite() && case.in_schedule[i] && !case.frost[i]
}

/// Every day, and whether it stands.
pub(super) fn days(case: &Case, pump: &PumpCase) -> Vec<Day> {
    let band = band(case, pump);
    let mut speeds: Vec<f64> = Vec::new();
    case.days().into_iter().map(|range| day(case, pump, range, band, &mut speeds)).collect()
}

/// Twice and a half the reading's noise, from the differences of neighbours, within limits [-].
fn band(case: &Case, pump: &PumpCase) -> f64 {
    let apart = (1..case.rows())
        .filter(|&i| runs(case, pump, i) && runs(case, pump, i - 1))
        .map(|i| (pump.speed[i] - pump.speed[i - 1]).abs());
    // Median of |difference| of two normal readings: 0.6745 * sqrt(2) standard deviations.
    let noise = median(apart) / 0.954;
    if noise.is_finite() { (2.5 * noise).clamp(BAND, WIDEST_BAND) } else { BAND }
}

fn day(case: &Case, pump: &PumpCase, range: Range<usize>, band: f64, speeds: &mut Vec<f64>) -> Day {
    speeds.clear();
    speeds.extend(range.clone().filter(|&i| runs(case, pump, i)).map(|i| pump.speed[i]));
    speeds.sort_unstable_by(f64::total_cmp);
    let running = speeds.len();
    let mut day =
        Day { range: range.clone(), running, held: 0, level: f64::NAN, part: range.start..range.start, whole: false };
    if (running as f64) * case.step_h < LEAST_DAY_H {
        return day;
    }
    let (level, count) = densest(speeds, band);
    let at_level = |i: usize| runs(case, pump, i) && (pump.speed[i] - level).abs() <= band;
    let whole = count as f64 >= WHOLE_DAY * running as f64;
    let part = if whole { range } else { longest(case, pump, range, &at_level) };
    let held = part.clone().filter(|&i| at_level(i)).count();
    if whole || held as f64 * case.step_h >= LONG_RUN_H {
        (day.level, day.held, day.part, day.whole) = (level, held, part, whole);
    }
    day
}

/// The middle of the window of twice `band` that holds most of the sorted speeds, and how many it holds.
fn densest(sorted: &[f64], band: f64) -> (f64, usize) {
    let (mut from, mut best) = (0, (0, 0));
    for to in 0..sorted.len() {
        while sorted[to] - sorted[from] > 2.0 * band {
            from += 1;
        }
        if to + 1 - from > best.1 {
            best = (from, to + 1 - from);
        }
    }
    (median(sorted[best.0..best.0 + best.1].iter().copied()), best.1)
}

/// The longest run of rows at the level: stops don't break it, more than a few running rows off the level do.
fn longest(case: &Case, pump: &PumpCase, range: Range<usize>, at_level: &impl Fn(usize) -> bool) -> Range<usize> {
    let (mut best, mut current, mut held, mut most) = (range.start..range.start, None, 0usize, 0usize);
    let mut strays = 0;
    for i in range {
        if at_level(i) {
            let start = *current.get_or_insert(i);
            (held, strays) = (held + 1, 0);
            if held > most {
                (most, best) = (held, start..i + 1);
            }
        } else if runs(case, pump, i) {
            strays += 1;
            if strays > STRAYS {
                (current, held) = (None, 0);
            }
        }
    }
    best
}

/// Joins neighbouring days at one speed to stays, and weighs each.
pub(super) fn gather(
    case: &Case,
    pump: &PumpCase,
    days: &mut [Day],
    weigh: impl Fn(&[usize], f64, bool) -> (Kind, Vec<Moved>),
) -> Vec<Stay> {
    let band = band(case, pump);
    let coarse = is_coarse(case, pump);
    let mut stays: Vec<Stay> = Vec::new();
    for (k, day) in days.iter().enumerate().filter(|(_, d)| d.stands()) {
        let rows = day.part.clone().filter(|&i| runs(case, pump, i) && (pump.speed[i] - day.level).abs() <= band);
        let joins = stays.last().is_some_and(|s| {
            let between = s.days[s.days.len() - 1] + 1..k;
            (s.level - day.level).abs() <= BAND && days[between].iter().all(|d| d.running == 0)
        });
        match stays.last_mut() {
            Some(s) if joins => {
                s.days.push(k);
                s.rows.extend(rows);
            }
            _ => stays.push(Stay {
                days: vec![k],
                rows: rows.collect(),
                level: day.level,
                kind: Kind::Still,
                moved: Vec::new(),
            }),
        }
    }
    for s in &mut stays {
        (s.kind, s.moved) = weigh(&s.rows, s.level, coarse);
        let whole = s.days.iter().any(|d| days[*d].whole);
        if !whole && !loud(&s.moved) && matches!(s.kind, Kind::Hand | Kind::HandByTemperatures) {
            s.kind = Kind::Follows;
        }
    }
    promote(&mut stays);
    // What moves on the same day, or with its load, is no standing.
    for s in &stays {
        for &d in s.days.iter().filter(|_| s.kind == Kind::Follows) {
            days[d].held = 0;
        }
        for &d in s.days.iter().filter(|_| s.kind == Kind::Still) {
            days[d].held = if days[d].whole { days[d].held } else { 0 };
        }
    }
    stays
}

/// Whether something speaks loudly enough for hours within a day: a quiet night at one speed is usual.
fn loud(moved: &[Moved]) -> bool {
    moved.iter().any(|m| m.strength == Strength::Proof || (m.strength == Strength::Strong && m.times >= LOUD))
}

/// Stays at a speed that others show to be in hand are in hand too; temperatures alone need company.
fn promote(stays: &mut [Stay]) {
    let days_by_temperatures: usize =
        stays.iter().filter(|s| s.kind == Kind::HandByTemperatures).map(|s| s.days.len()).sum();
    let alone = days_by_temperatures < super::LEAST_WEAK_DAYS;
    let hands: Vec<f64> = stays.iter().filter(|s| s.kind == Kind::Hand).map(|s| s.level).collect();
    for s in stays {
        let like_a_hand = hands.iter().any(|l| (l - s.level).abs() <= BAND);
        match s.kind {
            Kind::Still if like_a_hand => s.kind = Kind::Hand,
            Kind::HandByTemperatures if like_a_hand || !alone => s.kind = Kind::Hand,
            Kind::HandByTemperatures => s.kind = Kind::Still,
            _ => {}
        }
    }
}

/// Whether the speed is read in steps, so that a small movement may hide between two of them.
fn is_coarse(case: &Case, pump: &PumpCase) -> bool {
    // Ten-thousandths of rated speed, finer than drives report, and so many different readings that none of them is a step: no verdict hangs on
    // either.
    const SCALE: f64 = 1e4;
    const MOST: usize = 400;
    let mut seen: Vec<i64> = Vec::with_capacity(MOST);
    for i in (0..case.rows()).filter(|&i| runs(case, pump, i)) {
        let step = (pump.speed[i] * SCALE).round() as i64;
        if let Err(at) = seen.binary_search(&step) {
            if seen.len() == MOST {
                return false;
            }
            seen.insert(at, step);
        }
    }
    match seen.as_slice() {
        [] => false,
        // One value throughout: coarse where it is a whole per cent.
        [one] => *one % (SCALE as i64 / 100) == 0,
        many => many.windows(2).map(|w| w[1] - w[0]).min().unwrap_or(0) as f64 >= COARSE * SCALE,
    }
}
