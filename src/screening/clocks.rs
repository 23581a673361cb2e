//! Points that must move together and do so hours apart: a file in another time zone, or a logger whose clock is wrong.
//!
//! Row-to-row changes of a pump's status, speed, power, flow and head are correlated over lags; points are grouped by the lag that fits. The
//! smaller group is the one named. A shift of one row is no fault: exports stamp an interval at its beginning or its end.

use super::Doubt;
use super::doubt::{Kind, Sign};
use crate::ingest::{Clock, Series};
use crate::plant::{Plant, Role};
use std::sync::Arc;

/// Lags looked at, either way [s]: half a day, since a whole day repeats itself.
const FARTHEST_S: i64 = 12 * 3600;
/// The least that counts [s]; a lag of one step of the grid is none in any case.
const LEAST_S: i64 = 600;
/// The grid is no finer than this [s], and has no more steps: cost goes with their product with the lags.
const GRID_S: i64 = 300;
const MOST_STEPS: usize = 30_000;
/// Correlation at the lag [-], and how little of it may be left without the lag [share].
const TOGETHER: f64 = 0.5;
const LEFT: f64 = 0.3;
/// Steps that must have a change on both sides.
const LEAST_CHANGES: usize = 20;

/// Judges every pump's points.
pub(super) fn judge(plant: &Plant, clock: &Clock, series: &mut [Series]) -> Vec<Doubt> {
    let mut doubts = Vec::new();
    let mut remove = Vec::new();
    for pump in &plant.pumps {
        if let Some((doubt, points)) = one(plant, clock, series, &pump.name)
            && !doubts.iter().any(|d: &Doubt| d.point == doubt.point)
        {
            doubts.push(doubt);
            remove.extend(points);
        }
    }
    remove.into_iter().for_each(|k: usize| series[k].values.fill(f64::NAN));
    doubts
}

fn one(plant: &Plant, clock: &Clock, series: &[Series], pump: &str) -> Option<(Doubt, Vec<usize>)> {
    use Role::{LoopFlow, MotorCurrent, PumpFlow, PumpHead, PumpPower, PumpSpeed, PumpStatus, TotalPower};
    let only = plant.pumps.len() == 1;
    let is_of = |s: &Series| {
        let own = s.of.as_deref() == Some(pump)
            && matches!(s.role, PumpStatus | PumpSpeed | PumpPower | PumpFlow | PumpHead | MotorCurrent);
        own || (only && s.of.is_none() && matches!(s.role, LoopFlow | PumpHead | TotalPower))
    };
    let grid = Grid::of(clock);
    let members: Vec<(usize, Vec<f64>)> = series
        .iter()
        .enumerate()
        .filter(|(_, s)| is_of(s))
        .filter_map(|(k, s)| Some((k, grid.changes(&s.values)?)))
        .collect();
    let (reference, rest) = members.split_first()?;
    let mut together = vec![reference.0];
    let mut apart: Vec<(usize, Lag)> = Vec::new();
    for (k, changes) in rest {
        match lag(&reference.1, changes, &grid) {
            Some(l) if l.steps == 0 => together.push(*k),
            Some(l) => apart.push((*k, l)),
            None => {}
        }
    }
    let lag = apart.first()?.1;
    apart.retain(|(_, l)| (l.steps - lag.steps).abs() <= 1);
    let late: Vec<usize> = apart.iter().map(|a| a.0).collect();
    let (named, others, sign) =
        if late.len() > together.len() { (together, late, -1.0) } else { (late, together, 1.0) };
    let minutes = sign * lag.steps as f64 * grid.step_s as f64 / 60.0;
    let name = |k: &usize| format!("\"{}\"", series[*k].name);
    let list = |of: &[usize]| of.iter().map(name).collect::<Vec<_>>().join(", ");
    // Without its speed and status a pump cannot be judged at all: those are kept.
    let removed = named.iter().all(|k| !matches!(series[*k].role, PumpSpeed | PumpStatus));
    let why = format!(
        "{} moves {:.0} min {} {}; the file seems to keep another clock or time zone. {}",
        list(&named),
        minutes.abs(),
        if minutes > 0.0 { "after" } else { "before" },
        list(&others),
        if removed { "The former were removed" } else { "All were kept" }
    );
    let doubt = Doubt {
        beside: named[1..].iter().map(|k| series[*k].name.clone()).collect(),
        removed,
        confidence: (0.6 + 0.3 * lag.alike).min(0.92),
        sign: Some(Sign {
            name: "lag at which it fits its pump's other points".into(),
            value: minutes,
            unit: "min",
            expected: "0".into(),
        }),
        why,
        was: Arc::new(if removed { named.iter().map(|k| series[*k].clone()).collect() } else { Vec::new() }),
        ..Doubt::of(clock, &series[named[0]], Kind::Clock, (0, clock.len - 1), clock.len)
    };
    Some((doubt, if removed { named } else { Vec::new() }))
}

struct Grid {
    stride: usize,
    steps: usize,
    step_s: i64,
}

impl Grid {
    fn of(clock: &Clock) -> Self {
        let stride = (GRID_S / clock.step_s.max(1)).max(1) as usize;
        let steps = (clock.len / stride).min(MOST_STEPS);
        Self { stride, steps, step_s: clock.step_s * stride as i64 }
    }

    /// Changes from step to step over their root mean square; `None` where hardly anything changes.
    fn changes(&self, v: &[f64]) -> Option<Vec<f64>> {
        let at = |k: usize| v[k * self.stride];
        let d: Vec<f64> =
            (1..self.steps).map(|k| at(k) - at(k - 1)).map(|d| if d.is_finite() { d } else { 0.0 }).collect();
        let size = (d.iter().map(|d| d * d).sum::<f64>() / d.len().max(1) as f64).sqrt();
        let enough = d.iter().filter(|d| d.abs() > 0.5 * size).count() >= LEAST_CHANGES;
        (size > 0.0 && enough).then(|| d.into_iter().map(|d| d / size).collect())
    }
}

#[derive(Debug, Clone, Copy)]
struct Lag {
    steps: i64,
    /// Correlation there [-].
    alike: f64,
}

/// The lag of `b` behind `a`; steps 0 where they move together, `None` where they do not.
fn lag(a: &[f64], b: &[f64], grid: &Grid) -> Option<Lag> {
    let farthest = FARTHEST_S / grid.step_s;
    let best = |a: &[f64], b: &[f64]| {
        (-farthest..=farthest)
            .map(|l| Lag { steps: l, alike: alike(a, b, l) })
            .max_by(|x, y| x.alike.total_cmp(&y.alike))
    };
    let at_once = (-1..=1).map(|l| alike(a, b, l)).fold(f64::MIN, f64::max);
    if at_once >= TOGETHER {
        return Some(Lag { steps: 0, alike: at_once });
    }
    let found = best(a, b).filter(|l| l.alike >= TOGETHER)?;
    let far = found.steps.abs() * grid.step_s >= LEAST_S;
    if !far || at_once > LEFT * found.alike {
        return None;
    }
    // Chance does not repeat itself: both halves of the record must say the same.
    let half = a.len() / 2;
    let in_half = |from: usize, to: usize| best(&a[from..to], &b[from..to]).filter(|l| l.alike >= TOGETHER);
    let (first, second) = (in_half(0, half)?, in_half(half, a.len())?);
    let same = (first.steps - found.steps).abs() <= 1 && (second.steps - found.steps).abs() <= 1;
    same.then_some(found)
}

/// Correlation of `a` with `b` so many steps later.
fn alike(a: &[f64], b: &[f64], lag: i64) -> f64 {
    let n = a.len();
    let by = lag.unsigned_abs() as usize;
    if by >= n {
        return 0.0;
    }
    let (a, b) = if lag >= 0 { (&a[..n - by], &b[by..]) } else { (&a[by..], &b[..n - by]) };
    a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>() / (n - by) as f64
}
