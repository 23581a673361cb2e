//! Chains of cycles pooled over days and pumps: does it swing, where, how fast, and is it one thing?
//!
//! Comes in: every pump's [`Cycles`]. Goes out: a [`Swing`] where measures agree. The decision a reader would question: a few cycles a day are
//! enough where they come day after day with the same period; a long chain is not asked for. Pumps that run together, or take turns, at
//! one controller's speed are one swing.

use super::cycles::{self, Chain, Cycles, LEAST_ROWS, REVERSAL, SLOWEST_H};
use super::regular;
use crate::faults::{Case, onset};

/// Found from so many hours [h] and cycles [-] in all.
pub(in crate::faults) const LEAST_H: f64 = 4.0;
const LEAST_CYCLES: f64 = 12.0;
/// And from so many days, where the record has more than three: one day is a controller being tuned [days].
const LEAST_DAYS: usize = 2;
/// Smallest median swing: off the floor, and above it [-] (the floor hides the lower half of a swing).
pub(in crate::faults) const LEAST_RISE: f64 = 0.035;
pub(in crate::faults) const LEAST_SWING: f64 = 0.040;
/// Chains count within this much of the middle period [-].
const ONE_PERIOD: f64 = 0.45;
/// Mean period over three standard deviations from which periods are regular [-] (Thornhill, Huang and Zhang 2003, from memory).
pub(super) const REGULAR: f64 = 1.0;
/// Miao and Seborg's limit of an excessive swing [-] (1999, from memory).
pub(super) const EXCESSIVE: f64 = 0.5;
/// Forsman and Stattin's index over its ceiling from which a swing is a candidate [-] (1999, from memory).
pub(super) const CANDIDATE: f64 = 0.4;
/// How far the three stand between their limits and the values of a clean swing (3, 1 and 1), in the mean [-]. Loads that wander at random reach
/// 0.45 by the chance that chains are picked from them, clean swings 0.95 (invented records, `tests/it/faults_swings.rs`). It asks more than the three limits do one by one; they are where each begins to
/// count.
pub(super) const AGREED: f64 = 0.65;
const CLEAN: (f64, f64, f64) = (3.0, 1.0, 1.0);
/// Share of half periods above Hagglund's limit [-], and of all that swings that must lie in chains [-]: what comes and goes at random makes
/// chains by chance only.
const LOADED: f64 = 0.6;
const CHAINED: f64 = 0.35;
/// An interval longer than this hides the loop periods that pumps hunt at [h]: five rows at 10 minutes are 50.
pub(in crate::faults) const COARSEST_H: f64 = 8.0 / 60.0;
/// Running hours a record must have [h].
pub(in crate::faults) const LEAST_RUNNING_H: f64 = 12.0;
/// A saw-tooth smaller than this [-], slower than this [h], that rises or falls in less than this share of its period [-], over so many rows: a
/// setpoint that is trimmed and responds (Guideline 36: minus 2 % every 5 min, plus 3 % a request).
const SAW: (f64, f64, f64, f64) = (0.06, 20.0 / 60.0, 0.3, 8.0);
/// Share of the hours from which a pump is named as one that swings [-].
const NAMED: f64 = 0.1;

/// Where the troughs lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::faults) enum Kind {
    Floor,
    Free,
}

impl Kind {
    fn of(chain: &Chain) -> Self {
        if chain.on_floor >= 0.5 { Kind::Floor } else { Kind::Free }
    }
}

/// A swing on which the measures agree.
#[derive(Debug)]
pub(in crate::faults) struct Swing {
    /// With the pump's index, in order of time.
    pub chains: Vec<(usize, Chain)>,
    /// Rows in them, each once.
    pub rows: Vec<usize>,
    pub hours: f64,
    pub cycles: f64,
    pub period_min: f64,
    pub swing: f64,
    pub low: f64,
    pub high: f64,
    pub regularity: f64,
    pub index: f64,
    pub decay: f64,
    /// Pumps that swing, by index.
    pub pumps: Vec<usize>,
    /// Row from which it is seen.
    pub first: usize,
    pub last: usize,
    /// Share of the running hours of those pumps [-].
    pub share: f64,
}

/// Everything about the swings of a loop.
pub(in crate::faults) struct Swings {
    pub pumps: Vec<Cycles>,
    /// Each pump's floor [-]; NaN where none is declared or seen.
    pub floors: Vec<f64>,
    pub floor: Option<Swing>,
    pub free: Option<Swing>,
    /// Hours of small slow saw-teeth [h].
    pub saw_h: f64,
}

/// What every pump shows.
pub(in crate::faults) fn look<'c>(case: &'c Case) -> &'c Swings {
    case.looks.swings.get_or_init(|| of_pumps(case))
}

fn of_pumps(case: &Case) -> Swings {
    let floors: Vec<f64> = case.pumps.iter().map(|p| case.floor_at(p, i64::MAX).map_or(f64::NAN, |f| f.0)).collect();
    if case.step_h > COARSEST_H {
        let pumps = case.pumps.iter().map(|_| Cycles::default()).collect();
        return Swings { pumps, floors, floor: None, free: None, saw_h: 0.0 };
    }
    let pumps: Vec<Cycles> = case.pumps.iter().zip(&floors).map(|(p, f)| cycles::of(case, p, *f)).collect();
    let saws = pumps.iter().flat_map(|p| &p.chains).filter(|c| is_saw(case, c));
    let saw_h = saws.map(|c| (c.last - c.first) as f64).sum::<f64>() * case.step_h;
    Swings { floor: pool(case, &pumps, Kind::Floor), free: pool(case, &pumps, Kind::Free), pumps, floors, saw_h }
}

fn is_saw(case: &Case, c: &Chain) -> bool {
    let (small, slow, uneven, rows) = SAW;
    Kind::of(c) == Kind::Free
        && c.swing < small
        && c.period * case.step_h >= slow
        && c.period >= rows
        && (c.rising <= uneven || c.rising >= 1.0 - uneven)
}

/// All chains of a kind with one period, where the measures agree that they swing.
fn pool(case: &Case, pumps: &[Cycles], kind: Kind) -> Option<Swing> {
    let mut chains: Vec<(usize, &Chain)> = pumps
        .iter()
        .enumerate()
        .filter(|(_, p)| p.running_h >= LEAST_RUNNING_H)
        .flat_map(|(k, p)| p.chains.iter().map(move |c| (k, c)))
        .filter(|(_, c)| Kind::of(c) == kind && !is_saw(case, c) && c.agrees)
        .collect();
    let period = weighted_middle(&chains, |c| c.period);
    chains.retain(|(_, c)| (c.period / period).ln().abs() <= ONE_PERIOD);
    chains.sort_by_key(|(k, c)| (c.first, *k));
    let of = |f: fn(&Chain) -> f64| weighted_middle(&chains, f);
    let sum = |f: fn(&Chain) -> f64| chains.iter().map(|(_, c)| f(c)).sum::<f64>();
    let cycles = sum(|c| c.cycles);
    let mean = sum(|c| c.cycles * c.period) / cycles;
    let spread = (sum(|c| c.cycles * c.period_squared) / cycles - mean * mean).max(0.01).sqrt();
    let index = sum(|c| c.similar) / sum(|c| c.comparable);
    let least = if kind == Kind::Floor { LEAST_RISE } else { LEAST_SWING };
    let (regularity, decay, swing) = (regular(mean, spread), of(|c| c.decay), of(|c| c.swing));
    let swings = cycles >= LEAST_CYCLES
        && regularity >= REGULAR
        && index >= CANDIDATE
        && decay >= EXCESSIVE
        && agreed(regularity, decay, index) >= AGREED
        && swing >= least
        && of(|c| c.loads) >= LOADED;
    swings.then(|| gather(case, pumps, &chains)).flatten().map(|s| Swing {
        cycles,
        period_min: period * case.step_h * 60.0,
        regularity,
        index,
        decay,
        swing,
        low: of(|c| c.low),
        high: of(|c| c.high),
        ..s
    })
}

pub(super) fn over(value: f64, limit: f64, full: f64) -> f64 {
    ((value - limit) / (full - limit)).clamp(0.0, 1.0)
}

/// How well the measures agree that it swings [-]: 0 at their limits, 1 for a clean swing.
pub(super) fn agreed(regularity: f64, decay: f64, index: f64) -> f64 {
    let (regular, lasting, alike) = CLEAN;
    (over(regularity, REGULAR, regular) + over(decay, EXCESSIVE, lasting) + over(index, CANDIDATE, alike)) / 3.0
}

/// Rows, hours, days and pumps of the chains; `None` where they are too few.
fn gather(case: &Case, pumps: &[Cycles], chains: &[(usize, &Chain)]) -> Option<Swing> {
    let mut rows: Vec<usize> = Vec::new();
    for (_, c) in chains {
        let from = rows.last().map_or(c.first, |l| c.first.max(l + 1));
        rows.extend(from..c.last);
    }
    let hours = rows.len() as f64 * case.step_h;
    let (days, hours_a_day) = by_day(case, &rows);
    let few_days = hours_a_day.len() > 3 && days < LEAST_DAYS;
    if hours < LEAST_H || few_days {
        return None;
    }
    let total: f64 = chains.iter().map(|(_, c)| c.cycles * c.period).sum();
    let part = |k: usize| chains.iter().filter(|(p, _)| *p == k).map(|(_, c)| c.cycles * c.period).sum::<f64>() / total;
    let named: Vec<usize> = (0..pumps.len()).filter(|k| part(*k) >= NAMED).collect();
    let of_named = |f: fn(&Cycles) -> f64| named.iter().map(|k| f(&pumps[*k])).sum::<f64>();
    let chained = of_named(|p| p.chained_rows) / of_named(|p| p.swinging_rows).max(1.0);
    if chained < CHAINED {
        return None;
    }
    let share = (total * case.step_h / of_named(|p| p.running_h)).min(1.0);
    let first = began(case, &rows, &hours_a_day);
    let last = *rows.last()?;
    let chains = chains.iter().map(|(k, c)| (*k, (*c).clone())).collect();
    let unset = f64::NAN;
    Some(Swing {
        chains,
        rows,
        hours,
        pumps: named,
        first,
        last,
        share,
        cycles: unset,
        period_min: unset,
        swing: unset,
        low: unset,
        high: unset,
        regularity: unset,
        index: unset,
        decay: unset,
    })
}

/// How many days have such rows, and every day's hours of them.
fn by_day(case: &Case, rows: &[usize]) -> (usize, Vec<f64>) {
    let mut hours = Vec::new();
    let mut k = 0;
    for day in case.days() {
        let from = k;
        k += rows[k..].partition_point(|r| *r < day.end);
        hours.push((k - from) as f64 * case.step_h);
    }
    (hours.iter().filter(|h| **h > 0.0).count(), hours)
}

/// The first row, or that of the day on which the hours a day stepped up from next to nothing.
fn began(case: &Case, rows: &[usize], hours_a_day: &[f64]) -> usize {
    const NEXT_TO_NOTHING: f64 = 0.15;
    let step = onset::step(hours_a_day, &[], 3).filter(|s| s.t >= onset::BELIEVED && s.size > 0.0);
    let day = step.filter(|s| s.before <= NEXT_TO_NOTHING * (s.before + s.size)).map_or(0, |s| s.at);
    let from = case.days().get(day).map_or(0, |d| d.start);
    let k = rows.partition_point(|r| *r < from);
    rows.get(k).or(rows.first()).copied().unwrap_or(0)
}

/// Median over the chains, each counted by its cycles; NaN where there are none.
fn weighted_middle(chains: &[(usize, &Chain)], f: impl Fn(&Chain) -> f64) -> f64 {
    let mut known: Vec<(f64, f64)> = chains.iter().map(|(_, c)| (f(c), c.cycles)).filter(|v| v.0.is_finite()).collect();
    known.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = known.iter().map(|v| v.1).sum::<f64>() / 2.0;
    let mut sum = 0.0;
    known
        .iter()
        .find(|v| {
            sum += v.1;
            sum >= half
        })
        .map_or(f64::NAN, |v| v.0)
}

/// Shortest and longest period that this record can show [min].
pub(in crate::faults) fn shown_min(case: &Case) -> (f64, f64) {
    (5.0 * case.step_h * 60.0, SLOWEST_H * 60.0)
}

/// Hours of a pump's swings that are too fast to be measured [h].
pub(in crate::faults) fn fast_h(case: &Case, pump: &Cycles) -> f64 {
    const { assert!(LEAST_ROWS < 5.0 && REVERSAL < LEAST_RISE) };
    pump.fast_rows * case.step_h
}
