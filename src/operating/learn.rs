//! The common errors of one pump, learned from the whole record.
//!
//! Comes in: rows, moving ones for less, in which two or more measurements over-determine the point. Goes out: the most probable common
//! errors, their covariance, and how well the model explains the record at all. Rows are first averaged over short stretches at like
//! speed; stretches at one duty share a model error that does not average out, since a thousand rows there say little more than ten. The points themselves are
//! eliminated (Schur complement), so the work is linear in cells. Where to start: [`learn`].

mod cells;

pub use cells::{Cells, ROWS, STRETCH, Weighted, gather};

use super::model::{COMMON, Common, Duty, PumpModel, error, witness};
use super::noise::Noise;
use cells::{Cell, Guess, present, share_model_error};
use linfa_linalg::cholesky::{Cholesky, InverseC};
use ndarray::Array2;
use witness::{COUNT, HEAD, HEAT, METER, POWER, REMOTE};

/// What the record says about the errors that all rows share.
#[derive(Debug, Clone)]
pub struct Learned {
    /// Most probable values, in prior standard deviations.
    pub common: Common,
    /// Their covariance.
    pub covariance: Vec<[f64; COMMON]>,
    /// Those that play a part with this pump and its sensors.
    pub active: Vec<usize>,
    /// How many cells it rests on.
    pub cells: usize,
    /// Natural logarithm of the record's probability under this model, up to a constant.
    pub evidence: f64,
    /// Mean squared misfit a degree of freedom, at least 1: how much worse the record fits than its noise allows.
    pub strain: f64,
}

impl Learned {
    /// Nothing learned: the prior.
    #[must_use]
    pub fn prior(model: &PumpModel) -> Self {
        let mut covariance = vec![[0.0; COMMON]; COMMON];
        for (i, row) in covariance.iter_mut().enumerate() {
            row[i] = 1.0;
        }
        let active = (0..COMMON).filter(|&k| model.prior.sd(k) > 0.0 && (k != error::SLIP || model.slips())).collect();
        Self { common: [0.0; COMMON], covariance, active, cells: 0, evidence: 0.0, strain: 1.0 }
    }
}

/// Gauss-Newton steps at most.
const STEPS: usize = 25;
/// Degrees of freedom of the heavy-tailed errors: few enough that one odd cell does not steer, enough to stay near normal.
const TAIL: f64 = 6.0;

/// Learns the common errors from the cells of a record.
#[must_use]
pub fn learn(model: &PumpModel, cells: &Cells, noise: &Noise) -> Learned {
    let mut out = Learned::prior(model);
    let Cells { all, start } = cells;
    if all.len() < 3 {
        return out;
    }
    let mut cells = all.clone();
    let common = [0.0; COMMON];
    let heard = heard(&out.active, &cells);
    let mut flows: Vec<f64> =
        cells.iter().zip(start).map(|(cell, &from)| Guess::new(model, cell, noise).downhill(from)).collect();
    share_model_error(model, &mut cells);
    let mut strain = 1.0;
    let mut at = Fit { common, covariance: Learned::prior(model).covariance, log_det: 0.0, cost: 0.0 };
    for _ in 0..2 {
        at = settle(model, &cells, &mut flows, at.common, &heard);
        // Where the record fits the model worse than its noise allows, its noise is taken for larger by as much, once.
        let worse = (at.cost / freedom(&cells)).max(1.0);
        if worse < STRAINED {
            break;
        }
        strain *= worse;
        for cell in &mut cells {
            cell.sd = cell.sd.map(|v| v * worse.sqrt());
        }
    }
    out.evidence = -0.5 * (at.cost + at.log_det + freedom(&cells) * strain.ln());
    Learned { common: at.common, covariance: at.covariance, cells: cells.len(), strain, ..out }
}

/// The errors that a reading of any cell shows: what is known of a sensor that is not there stays as it was.
fn heard(active: &[usize], cells: &[Cell]) -> Vec<usize> {
    let any = cells.iter().fold(0, |bits, cell| bits | present(&cell.row));
    let shows = |k: &usize| match *k {
        error::HEAD_GAIN | error::HEAD_ZERO | error::HEADER => any >> HEAD & 1 == 1,
        error::POWER_GAIN => any >> POWER & 1 == 1,
        error::METER_GAIN | error::METER_ZERO => any >> METER & 1 == 1,
        error::HEAT_GAIN | error::HEAT_PAIR => any >> HEAT & 1 == 1,
        error::PIPE..=error::REMOTE_ZERO => any >> REMOTE & 1 == 1,
        _ => true,
    };
    active.iter().copied().filter(shows).collect()
}

/// From here the misfit is the model's, not chance: a mean of a few dozen squares of one strays by a third.
const STRAINED: f64 = 1.4;

/// Gain in misfit below which the steps end.
const SETTLED: f64 = 0.02;

/// The flow of a cell's least misfit over the whole table, near enough for the steps to go on from. Between two of a few flows each reading is taken to lie
/// between its two values there; where that leaves no room for less misfit than at hand, nothing in between is asked.
fn lowest(model: &PumpModel, cell: &Cell, q: f64, common: &Common) -> f64 {
    const WIDE: usize = 10;
    const NARROW: usize = 4;
    let own = squares(model, cell, q, common);
    let step = model.q_max / (WIDE * NARROW) as f64;
    let flow = |k: usize| k as f64 * step;
    let at: [[f64; COUNT]; WIDE + 1] = std::array::from_fn(|i| residuals(model, cell, flow(NARROW * i), common));
    let ends = at.iter().enumerate().map(|(i, r)| (flow(NARROW * i), dot(r, r)));
    let open = at.windows(2).enumerate().filter(|(_, pair)| room(&pair[0], &pair[1]) < own);
    let within = open.flat_map(|(i, _)| (1..NARROW).map(move |k| flow(NARROW * i + k)));
    let within = within.map(|q| (q, squares(model, cell, q, common)));
    // The steps have found the lowest of its own dip; only another one may lie lower.
    match ends.chain(within).min_by(|a, b| a.1.total_cmp(&b.1)) {
        Some((best, there)) if there < own => {
            let fine = (-4..=4).map(|k| (best + 0.25 * f64::from(k) * step).clamp(0.0, model.q_max));
            let fine = fine.map(|q| (q, squares(model, cell, q, common)));
            fine.min_by(|a, b| a.1.total_cmp(&b.1)).map_or(best, |found| found.0)
        }
        _ => q,
    }
}

/// The least squares that residuals between two sets can have.
fn room(a: &[f64; COUNT], b: &[f64; COUNT]) -> f64 {
    (0..COUNT).filter(|&w| a[w] * b[w] > 0.0).map(|w| a[w].abs().min(b[w].abs()).powi(2)).sum()
}

/// Where the steps end.
struct Fit {
    common: Common,
    covariance: Vec<[f64; COMMON]>,
    log_det: f64,
    cost: f64,
}

fn settle(model: &PumpModel, cells: &[Cell], flows: &mut Vec<f64>, from: Common, active: &[usize]) -> Fit {
    let mut at = Fit { common: from, covariance: Vec::new(), log_det: 0.0, cost: misfit(model, cells, flows, &from) };
    for _ in 0..STEPS {
        let Some(step) = gauss_newton(model, cells, flows, &at.common, active) else { break };
        (at.covariance, at.log_det) = (step.covariance, step.log_det);
        // The whole step, or the largest half, quarter... of it that helps.
        let better = (0..5).map(|k| 0.5f64.powi(k)).find_map(|share| {
            let to: Common = std::array::from_fn(|k| (at.common[k] + share * step.by[k]).clamp(-4.0, 4.0));
            let (moved, there) = follow(model, cells, flows, &to);
            (there < at.cost).then_some((to, moved, there))
        });
        let gained = better.as_ref().map_or(0.0, |b| at.cost - b.2);
        if let Some((to, moved, there)) = better {
            (at.common, at.cost) = (to, there);
            *flows = moved;
        }
        if gained < SETTLED {
            // A cell may sit in the lesser of two dips of its own misfit: all flows are looked at once more.
            let afresh: Vec<f64> = cells.iter().zip(&*flows).map(|(c, &q)| lowest(model, c, q, &at.common)).collect();
            let there = misfit(model, cells, &afresh, &at.common);
            if at.cost - there < SETTLED {
                break;
            }
            at.cost = there;
            *flows = afresh;
        }
    }
    if at.covariance.is_empty() {
        at.covariance = Learned::prior(model).covariance;
    }
    at
}

/// Readings beyond those that settle the flows.
fn freedom(cells: &[Cell]) -> f64 {
    cells.iter().map(|c| f64::from(present(&c.row).count_ones()) - 1.0).sum::<f64>().max(1.0)
}

/// Heavy-tailed misfit of all cells and of the prior.
fn misfit(model: &PumpModel, cells: &[Cell], flows: &[f64], common: &Common) -> f64 {
    together(cells.iter().zip(flows).map(|(c, &q)| squares(model, c, q, common)), common)
}

fn together(squares: impl Iterator<Item = f64>, common: &Common) -> f64 {
    let of_cells: f64 = squares.map(|s| (TAIL + 1.0) * (1.0 + s / TAIL).ln()).sum();
    of_cells + common.iter().map(|c| c * c).sum::<f64>()
}

/// Squared residuals of a cell at a flow, in its own standard deviations.
fn squares(model: &PumpModel, cell: &Cell, q: f64, common: &Common) -> f64 {
    let r = residuals(model, cell, q, common);
    dot(&r, &r)
}

/// The residuals; zero where there is no reading.
fn residuals(model: &PumpModel, cell: &Cell, q: f64, common: &Common) -> [f64; COUNT] {
    let shown = shown(model, cell, q, common);
    let reading = &cell.row.reading;
    std::array::from_fn(|w| if reading[w].is_finite() { (reading[w] - shown[w]) / cell.sd[w] } else { 0.0 })
}

fn shown(model: &PumpModel, cell: &Cell, q: f64, common: &Common) -> [f64; COUNT] {
    readings(model, cell, &model.duty(q, cell.row.speed, cell.row.hour, common), common)
}

fn readings(model: &PumpModel, cell: &Cell, at: &Duty, common: &Common) -> [f64; COUNT] {
    std::array::from_fn(|w| {
        if cell.row.reading[w].is_finite() { model.reading(w, at, cell.row.around, common) } else { 0.0 }
    })
}

/// The cells' flows settled again under other common errors, and the misfit there.
fn follow(model: &PumpModel, cells: &[Cell], flows: &[f64], to: &Common) -> (Vec<f64>, f64) {
    let settled: Vec<(f64, f64)> = cells.iter().zip(flows).map(|(c, &q)| follow_one(model, c, q, to)).collect();
    (settled.iter().map(|s| s.0).collect(), together(settled.iter().map(|s| s.1), to))
}

/// What a step of a cell's flow must take from its squares to be worth its evaluation: all cells together stay far below [`SETTLED`].
const WORTH_A_STEP: f64 = 1e-5;

/// A cell's flow after a few one-dimensional steps, and its squared residuals there.
fn follow_one(model: &PumpModel, cell: &Cell, from: f64, to: &Common) -> (f64, f64) {
    let (mut q, mut least) = (from, f64::NAN);
    for _ in 0..3 {
        let l = Linear::at(model, cell, q, to, &[]);
        least = l.squares;
        let (down, along) = (dot(&l.by_flow, &l.by_flow), dot(&l.by_flow, &l.residual));
        if !(along * along > WORTH_A_STEP * down) {
            break;
        }
        let most = 0.1 * model.q_max;
        let next = (q + (along / down).clamp(-most, most)).clamp(0.0, model.q_max);
        let there = squares(model, cell, next, to);
        if there >= least {
            break;
        }
        (q, least) = (next, there);
    }
    (q, least)
}

fn dot(a: &[f64; COUNT], b: &[f64; COUNT]) -> f64 {
    (0..COUNT).map(|w| a[w] * b[w]).sum()
}

struct Step {
    by: Common,
    covariance: Vec<[f64; COMMON]>,
    /// Of the information over the prior's.
    log_det: f64,
}

/// One step: residuals weighted by their noise, each cell's flow eliminated, the prior added.
fn gauss_newton(model: &PumpModel, cells: &[Cell], flows: &[f64], common: &Common, active: &[usize]) -> Option<Step> {
    let m = active.len();
    let mut lower = [[0.0; COMMON]; COMMON];
    let mut b: Vec<f64> = active.iter().map(|&k| -common[k]).collect();
    for (cell, &q) in cells.iter().zip(flows) {
        let l = Linear::at(model, cell, q, common, active);
        for axis in l.beside_flow() {
            let mut along = [0.0; COMMON];
            for (a, j) in along.iter_mut().zip(&l.by_common) {
                *a = dot(&axis, j);
            }
            let residual = dot(&axis, &l.residual);
            for (i, row) in lower.iter_mut().enumerate().take(m) {
                b[i] += along[i] * residual;
                for (sum, a) in row.iter_mut().zip(&along).take(i + 1) {
                    *sum += along[i] * a;
                }
            }
        }
    }
    let mut a = Array2::<f64>::eye(m);
    for i in 0..m {
        for j in 0..=i {
            a[[i, j]] += lower[i][j];
            if i != j {
                a[[j, i]] = a[[i, j]];
            }
        }
    }
    let factor = a.cholesky().ok()?;
    let log_det = 2.0 * (0..m).map(|i| factor[[i, i]].ln()).sum::<f64>();
    let inverse = a.invc().ok()?;
    let mut by = [0.0; COMMON];
    let mut covariance = vec![[0.0; COMMON]; COMMON];
    for k in 0..COMMON {
        covariance[k][k] = 1.0;
    }
    for (i, &k) in active.iter().enumerate() {
        by[k] = (0..m).map(|j| inverse[[i, j]] * b[j]).sum::<f64>().clamp(-1.5, 1.5);
        for (j, &l) in active.iter().enumerate() {
            covariance[k][l] = inverse[[i, j]];
        }
    }
    Some(Step { by, covariance, log_det })
}

/// A cell's whitened residuals and derivatives.
struct Linear {
    /// The readings there, one bit each.
    there: u32,
    /// Squared residuals, not yet weighed.
    squares: f64,
    residual: [f64; COUNT],
    by_flow: [f64; COUNT],
    by_common: Vec<[f64; COUNT]>,
}

impl Linear {
    /// With derivatives by the common errors named.
    fn at(model: &PumpModel, cell: &Cell, q: f64, common: &Common, by: &[usize]) -> Self {
        let row = &cell.row;
        let working = model.working(q, row.speed, row.hour, common);
        let base = readings(model, cell, &working.duty, common);
        let there = |w: usize| row.reading[w].is_finite();
        let residual: [f64; COUNT] =
            std::array::from_fn(|w| if there(w) { (row.reading[w] - base[w]) / cell.sd[w] } else { 0.0 });
        let squares = dot(&residual, &residual);
        let weight = ((TAIL + 1.0) / (TAIL + squares)).min(1.0).sqrt();
        let whiten = |moved: [f64; COUNT], step: f64| -> [f64; COUNT] {
            std::array::from_fn(|w| if there(w) { weight * (moved[w] - base[w]) / step / cell.sd[w] } else { 0.0 })
        };
        let dq = if q > 0.5 * model.q_max { -1e-3 } else { 1e-3 } * model.q_max;
        let by_flow = whiten(shown(model, cell, q + dq, common), dq);
        let by_common = by
            .iter()
            .map(|&k| {
                let mut moved = *common;
                moved[k] += 1e-3;
                whiten(readings(model, cell, &model.moved(&working, k, &moved), &moved), 1e-3)
            })
            .collect();
        Self { there: present(row), squares, residual: residual.map(|v| v * weight), by_flow, by_common }
    }

    /// Directions among the readings that the flow does not move, at right angles to each other: what they say is of the common errors alone. The
    /// flow's own direction is turned onto the first reading that is there (Householder's reflection), and the others are what is left.
    fn beside_flow(&self) -> impl Iterator<Item = [f64; COUNT]> {
        let there = self.there;
        let first = there.trailing_zeros() as usize;
        let length = dot(&self.by_flow, &self.by_flow).sqrt();
        let mut mirror = self.by_flow;
        let by = if length > 0.0 {
            mirror[first] += length.copysign(mirror[first]);
            2.0 / dot(&mirror, &mirror)
        } else {
            0.0
        };
        // A flow that moves nothing takes no direction away.
        let others = (0..COUNT).filter(move |&w| there >> w & 1 == 1 && (w != first || by == 0.0));
        others.map(move |w| std::array::from_fn(|v| f64::from(u8::from(v == w)) - by * mirror[w] * mirror[v]))
    }
}
