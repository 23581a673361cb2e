//! By a rise of the loop's conductance that the valves do not explain.

use super::{LEAST_DAY_H, LEAST_DAYS, Stuck, step};
use crate::faults::fit::Moments;
use crate::faults::rules::off_control_curve::head_is_read;
use crate::faults::spread::quantile;
use crate::faults::{Case, CoilCase};
use crate::plant::{Characteristic, Valve};
use crate::quantity::Pressure;

/// For the conductance, rows may lie lower, since an honest bypass is there on every day alike [-].
const CONDUCTANCE_FROM: f64 = 0.25;
/// Rows of a day that take part; more add time, not knowledge.
const ROWS_A_DAY: usize = 96;
/// Rangeability of an equal-percentage valve [-]: 30 to 50 is common practice.
const RANGEABILITY: f64 = 50.0;
/// Below this a valve is shut [-]: it lets a fiftieth through there, on which no verdict turns.
const SHUT: f64 = 0.02;
/// Parts of the smallest resistance seen that may lie in the common pipe [-].
const COMMON_PIPE: [f64; 5] = [0.0, 0.2, 0.4, 0.6, 0.8];

pub enum Conductance {
    Stuck(Stuck),
    Steady {
        least: f64,
    },
    /// It rose, and the water's temperature speaks against a bypass.
    Contradicted {
        why: String,
    },
    Unknown {
        missing: Vec<&'static str>,
        why: String,
    },
}

/// By a rise of the loop's conductance that the valves do not explain.
pub fn look(case: &Case) -> Conductance {
    let unknown =
        |missing: &[&'static str], why: &str| Conductance::Unknown { missing: missing.to_vec(), why: why.into() };
    if !head_is_read(case) {
        return unknown(
            &["pump-head"],
            "no head is read, and one taken from the pump's table moves with the table's errors",
        );
    }
    let fixed = |c: &&CoilCase| matches!(c.declared.valve, Some(Valve::PressureIndependent | Valve::Thermostatic));
    if case.coils.iter().any(|c| fixed(&c)) {
        return unknown(
            &["bypass-position"],
            "the coils' valves hold their own flow, so the loop's conductance says little",
        );
    }
    let moving: Vec<&CoilCase> = case.coils.iter().filter(|c| c.valve.is_some() && modulates(c)).collect();
    if moving.is_empty() {
        return unknown(
            &["valve-position", "bypass-position"],
            "without valve positions a bypass looks like open coils",
        );
    }
    let rows = rows(case, &moving);
    let days = by_day(case, &rows);
    // A step needs its least days on either side and one to tell it from noise.
    if days.iter().filter(|d| !d.is_empty()).count() <= 2 * LEAST_DAYS {
        return unknown(
            &["loop-flow or a reconstructable operating point"],
            "fewer than seven days with flow, head and valves known",
        );
    }
    let Some(fit) = Fit::best(case, &moving, &days) else {
        return unknown(&[], "the loop's conductance does not follow the valves closely enough");
    };
    step::weigh(case, &moving, &days, &fit)
}

/// Whether a valve changes the loop's conductance as it moves.
pub fn modulates(coil: &CoilCase) -> bool {
    !matches!(coil.declared.valve, Some(Valve::ThreeWay | Valve::None))
}

pub fn rows(case: &Case, moving: &[&CoilCase]) -> Vec<usize> {
    let from = (CONDUCTANCE_FROM * case.design_flow_m3h()).max(case.minimum_flow_m3h() * 1.1);
    let from = if from.is_finite() { from } else { 0.3 * quantile(case.loop_flow_m3h.iter().copied(), 0.95) };
    (0..case.rows())
        .filter(|i| case.steady[*i] && case.loop_flow_m3h[*i] >= from && case.loop_head_kpa[*i] > fixed_kpa(case))
        .filter(|i| moving.iter().all(|c| c.valve.is_some_and(|v| v[*i].is_finite())))
        .collect()
}

fn fixed_kpa(case: &Case) -> f64 {
    case.plant.system.static_head.map_or(0.0, Pressure::in_kpa)
}

/// Rows of each day, thinned evenly; empty where there are too few.
pub fn by_day(case: &Case, rows: &[usize]) -> Vec<Vec<usize>> {
    let of = |d: std::ops::Range<usize>| {
        let mine = &rows[rows.partition_point(|i| *i < d.start)..rows.partition_point(|i| *i < d.end)];
        let enough = mine.len() as f64 * case.step_h >= LEAST_DAY_H;
        if enough { mine.iter().copied().step_by(mine.len().div_ceil(ROWS_A_DAY)).collect() } else { Vec::new() }
    };
    case.days().into_iter().map(of).collect()
}

/// How much a valve lets through at this opening, of fully open [-]: equal-percentage unless declared linear.
pub fn through(coil: &CoilCase, opening: f64) -> f64 {
    if opening < SHUT {
        return 0.0;
    }
    let x = opening.min(1.0);
    if coil.declared.characteristic == Some(Characteristic::Linear) { x } else { RANGEABILITY.powf(x - 1.0) }
}

/// One row of the fit: what passes each way in, conductance and its weight.
pub struct Row {
    pub x: Vec<f64>,
    pub y: f64,
}

/// The field's conductance behind the common pipe, 1/sqrt(H/Q^2 - r), is the sum of what the branches let through;
/// each row is weighted to count relative errors of the loop's conductance.
pub fn row(case: &Case, moving: &[&CoilCase], i: usize, r: f64) -> Option<Row> {
    let mut row = Row { x: Vec::new(), y: f64::NAN };
    Passes::new(case, moving, i).fill(&mut row, r).then_some(row)
}

/// What a row shows whatever the common pipe takes.
struct Passes {
    /// Head over flow squared.
    resistance: f64,
    /// What each way lets through of what it could [-]: the constant's, the branches', the bypass's by its position.
    lets: Vec<f64>,
}

impl Passes {
    fn new(case: &Case, moving: &[&CoilCase], i: usize) -> Self {
        let branches = moving.iter().map(|c| through(c, c.valve.map_or(f64::NAN, |v| v[i])));
        let bypass = case.bypass_position.map(|b| b[i].max(0.0));
        Self {
            resistance: (case.loop_head_kpa[i] - fixed_kpa(case)) / case.loop_flow_m3h[i].powi(2),
            lets: std::iter::once(1.0).chain(branches).chain(bypass).collect(),
        }
    }

    /// The row of the fit; whether it counts.
    fn fill(&self, row: &mut Row, r: f64) -> bool {
        let behind = self.resistance - r;
        if !(behind > 0.05 * self.resistance) {
            return false;
        }
        let field = behind.powf(-0.5);
        let weight = behind / self.resistance / field;
        row.x.clear();
        row.x.extend(self.lets.iter().map(|l| l * weight));
        row.y = field * weight;
        row.x.iter().all(|v| v.is_finite())
    }
}

/// A fit with a step on a day.
pub struct Fit {
    pub r: f64,
    pub at: usize,
    /// Constant, branches, bypass by position, step.
    pub c: Vec<f64>,
    pub with: f64,
    pub without: f64,
}

impl Fit {
    pub fn best(case: &Case, moving: &[&CoilCase], days: &[Vec<usize>]) -> Option<Self> {
        let passes: Vec<Vec<Passes>> =
            days.iter().map(|d| d.iter().map(|i| Passes::new(case, moving, *i)).collect()).collect();
        let smallest = quantile(passes.iter().flatten().map(|p| p.resistance), 0.02);
        let columns = 1 + moving.len() + usize::from(case.bypass_position.is_some());
        let fits = COMMON_PIPE.iter().filter_map(|p| Self::at_pipe(columns, &passes, p * smallest));
        fits.min_by(|a, b| a.with.total_cmp(&b.with))
    }

    fn at_pipe(columns: usize, days: &[Vec<Passes>], r: f64) -> Option<Self> {
        let mut row = Row { x: Vec::with_capacity(columns), y: f64::NAN };
        let mut sums = |d: &Vec<Passes>| {
            let mut m = Moments::new(columns);
            for p in d {
                if p.fill(&mut row, r) {
                    m.add(&row.x, row.y);
                }
            }
            m
        };
        let daily: Vec<Moments> = days.iter().map(&mut sums).collect();
        let filled: Vec<usize> = (0..daily.len()).filter(|d| daily[*d].n > 0.0).collect();
        if filled.len() < 2 * LEAST_DAYS {
            return None;
        }
        let all = with_step(&daily, daily.len());
        let total = all.residual(&all.not_negative());
        let try_at = |k: &usize| {
            let m = with_step(&daily, filled[*k]);
            let c = m.not_negative();
            (filled[*k], m.residual(&c), c)
        };
        let stride = (filled.len() / 40).max(1);
        let coarse: Vec<usize> = (LEAST_DAYS..=filled.len() - LEAST_DAYS).step_by(stride).collect();
        let tried = coarse.iter().map(|k| (*k, try_at(k).1));
        let near = tried.min_by(|a, b| a.1.total_cmp(&b.1))?.0;
        let fine = near.saturating_sub(stride).max(LEAST_DAYS)..=(near + stride).min(filled.len() - LEAST_DAYS);
        let (at, with, c) = fine.map(|k| try_at(&k)).min_by(|a, b| a.1.total_cmp(&b.1))?;
        let n: f64 = daily.iter().map(|m| m.n).sum();
        Some(Self { r, at, c, with: with / n, without: total / n })
    }
}

/// Sums over all days with one more column: the constant's, from a day on.
fn with_step(daily: &[Moments], at: usize) -> Moments {
    let k = daily[0].xy.len();
    let mut m = Moments::new(k + 1);
    for (d, day) in daily.iter().enumerate() {
        for i in 0..k {
            for j in 0..k {
                m.xx[i][j] += day.xx[i][j];
            }
            m.xy[i] += day.xy[i];
            if d >= at {
                m.xx[k][i] += day.xx[0][i];
                m.xx[i][k] += day.xx[i][0];
            }
        }
        if d >= at {
            m.xx[k][k] += day.xx[0][0];
            m.xy[k] += day.xy[0];
        }
        m.yy += day.yy;
        m.n += day.n;
    }
    m
}
