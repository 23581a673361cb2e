//! The common errors of one pump, learned from the whole record.
//!
//! Comes in: the rows in which head and power (or a meter) over-determine the point. Goes out: the most probable common
//! errors and their covariance. Rows are first gathered in cells of like speed and head, since a thousand rows at one duty say
//! little more than ten: each cell keeps a model error that does not average out. The points themselves are eliminated
//! (Schur complement), so the work is linear in cells. Where to start: [`learn`].

use super::model::{COMMON, Common, PumpModel};
use super::posterior::Noise;
use super::witness::Row;
use linfa_linalg::cholesky::InverseC;
use ndarray::Array2;

/// What the record says about the errors that all rows share.
#[derive(Debug, Clone)]
pub struct Learned {
    /// Most probable values, in prior standard deviations.
    pub common: Common,
    /// Their covariance.
    pub covariance: Vec<[f64; COMMON]>,
    /// How many cells it rests on.
    pub cells: usize,
}

impl Learned {
    /// Nothing learned: the prior.
    #[must_use]
    pub fn prior() -> Self {
        let mut covariance = vec![[0.0; COMMON]; COMMON];
        for (i, row) in covariance.iter_mut().enumerate() {
            row[i] = 1.0;
        }
        Self { common: [0.0; COMMON], covariance, cells: 0 }
    }
}

/// Model error of a cell that no common error of ours describes [-]: the tables' interpolation, part-load wrinkles.
pub const MODEL_HEAD: f64 = 0.006;
/// The same for power [-]; larger, since drives switch and fans cycle.
pub const MODEL_POWER: f64 = 0.015;
/// What a cell's own model error counts for here [-]: cells of like flow share it, so that many of them must not add up to certainty about a
/// constant loss or a sensor's scale (simulated plants with other equations showed 95 % intervals of that scale missing otherwise).
const SHARED_ERROR: f64 = 2.0;
/// More cells than this add no knowledge.
const CELLS: usize = 150;
/// Gauss-Newton steps at most.
const STEPS: usize = 25;
/// Degrees of freedom of the heavy-tailed errors: few enough that one odd cell does not steer, enough to stay near normal.
const TAIL: f64 = 6.0;

#[derive(Debug, Clone, Copy)]
struct Cell {
    row: Row,
    n: f64,
    q: f64,
}

/// Learns the common errors from steady rows (others must not be passed in).
#[must_use]
pub fn learn(model: &PumpModel, rows: &[Row], noise: &Noise) -> Learned {
    let mut cells = gather(model, rows);
    if cells.len() < 3 {
        return Learned::prior();
    }
    let mut common = [0.0; COMMON];
    for cell in &mut cells {
        cell.q = start(model, &cell.row, noise);
    }
    let mut covariance = Learned::prior().covariance;
    let mut cost = misfit(model, &cells, noise, &common);
    for _ in 0..STEPS {
        let Some((step, cov)) = gauss_newton(model, &cells, noise, &common) else { break };
        covariance = cov;
        // The whole step, or the largest half, quarter... of it that helps.
        let better = (0..5).map(|k| 0.5f64.powi(k)).find_map(|share| {
            let to: Common = std::array::from_fn(|k| (common[k] + share * step[k]).clamp(-4.0, 4.0));
            let moved = follow(model, &cells, noise, &to);
            let there = misfit(model, &moved, noise, &to);
            (there < cost).then_some((to, moved, there))
        });
        let Some((to, moved, there)) = better else { break };
        let gained = cost - there;
        (common, cells, cost) = (to, moved, there);
        if gained < 1e-3 {
            break;
        }
    }
    Learned { common, covariance, cells: cells.len() }
}

/// Heavy-tailed misfit of all cells and of the prior.
fn misfit(model: &PumpModel, cells: &[Cell], noise: &Noise, common: &Common) -> f64 {
    let of_cells: f64 = cells.iter().map(|c| (TAIL + 1.0) * (1.0 + squares(model, c, noise, common) / TAIL).ln()).sum();
    of_cells + common.iter().map(|c| c * c).sum::<f64>()
}

/// Squared residuals of a cell, in its own standard deviations.
fn squares(model: &PumpModel, cell: &Cell, noise: &Noise, common: &Common) -> f64 {
    let sd = deviations(cell, noise);
    let shown = model.shown(cell.q, cell.row.speed, cell.row.density, common);
    ((cell.row.head - shown.head) / sd[0]).powi(2) + ((cell.row.power - shown.power) / sd[1]).powi(2)
}

/// Standard deviation of a cell's mean head [kPa] and power [kW]: noise that averages out, and model error that does not.
fn deviations(cell: &Cell, noise: &Noise) -> [f64; 2] {
    let row = &cell.row;
    [
        (noise.head(row.head).powi(2) / cell.n + (SHARED_ERROR * MODEL_HEAD * row.head).powi(2)).sqrt(),
        (noise.power(row.power).powi(2) / cell.n + (SHARED_ERROR * MODEL_POWER * row.power).powi(2)).sqrt(),
    ]
}

/// The cells with their flows settled again under other common errors: a few one-dimensional steps each.
fn follow(model: &PumpModel, cells: &[Cell], noise: &Noise, to: &Common) -> Vec<Cell> {
    let mut moved = cells.to_vec();
    for cell in &mut moved {
        for _ in 0..3 {
            let l = Linear::at(model, cell, noise, to, false);
            let down = l.by_flow[0].powi(2) + l.by_flow[1].powi(2);
            if down <= 0.0 {
                break;
            }
            let by = (l.by_flow[0] * l.residual[0] + l.by_flow[1] * l.residual[1]) / down;
            let before = (squares(model, cell, noise, to), cell.q);
            cell.q = (cell.q + by.clamp(-0.1 * model.q_max, 0.1 * model.q_max)).clamp(0.0, model.q_max);
            if squares(model, cell, noise, to) >= before.0 {
                cell.q = before.1;
                break;
            }
        }
    }
    moved
}

fn gather(model: &PumpModel, rows: &[Row]) -> Vec<Cell> {
    let mut keyed: Vec<(i32, i32, &Row)> = rows
        .iter()
        .filter(|r| r.speed.is_finite() && r.head.is_finite() && r.power.is_finite() && model.has_power())
        .map(|r| ((r.speed / 0.03) as i32, (r.head / r.speed.powi(2) / model.shut_off() * 33.0) as i32, r))
        .collect();
    keyed.sort_by_key(|k| (k.0, k.1));
    let mut cells: Vec<Cell> = Vec::new();
    for group in keyed.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
        let n = group.len() as f64;
        let mean = |f: fn(&Row) -> f64| group.iter().map(|g| f(g.2)).sum::<f64>() / n;
        let row = Row {
            speed: mean(|r| r.speed),
            head: mean(|r| r.head),
            power: mean(|r| r.power),
            meter: f64::NAN,
            density: mean(|r| r.density),
        };
        cells.push(Cell { row, n, q: 0.0 });
    }
    cells.sort_by(|a, b| b.n.total_cmp(&a.n));
    cells.truncate(CELLS);
    cells.retain(|c| c.n >= 2.0 || rows.len() < 50);
    cells
}

/// Start value of a cell's reduced flow: the grid flow that fits head and power best with prior common errors.
fn start(model: &PumpModel, row: &Row, noise: &Noise) -> f64 {
    let misfit = |q: f64| {
        let shown = model.shown(q, row.speed, row.density, &[0.0; COMMON]);
        ((row.head - shown.head) / (0.04 * row.head + noise.head(row.head))).powi(2)
            + ((row.power - shown.power) / (0.08 * row.power + noise.power(row.power))).powi(2)
    };
    (0..=60).map(|i| model.q_max * f64::from(i) / 60.0).min_by(|a, b| misfit(*a).total_cmp(&misfit(*b))).unwrap_or(0.0)
}

type Step = ([f64; COMMON], Vec<[f64; COMMON]>);

/// One step: residuals weighted by their noise, each cell's flow eliminated, the prior added.
fn gauss_newton(model: &PumpModel, cells: &[Cell], noise: &Noise, common: &Common) -> Option<Step> {
    let mut a = Array2::<f64>::eye(COMMON);
    let mut b: [f64; COMMON] = std::array::from_fn(|k| -common[k]);
    let linear: Vec<Linear> = cells.iter().map(|c| Linear::at(model, c, noise, common, true)).collect();
    for l in &linear {
        for i in 0..COMMON {
            let pi = l.projected(i);
            b[i] += pi[0] * l.residual[0] + pi[1] * l.residual[1];
            for j in 0..COMMON {
                a[[i, j]] += pi[0] * l.by_common[j][0] + pi[1] * l.by_common[j][1];
            }
        }
    }
    let inverse = a.invc().ok()?;
    let step: [f64; COMMON] =
        std::array::from_fn(|i| (0..COMMON).map(|j| inverse[[i, j]] * b[j]).sum::<f64>().clamp(-1.5, 1.5));
    let covariance = (0..COMMON).map(|i| std::array::from_fn(|j| inverse[[i, j]])).collect();
    Some((step, covariance))
}

/// A cell's whitened residuals and derivatives.
struct Linear {
    residual: [f64; 2],
    by_flow: [f64; 2],
    by_common: [[f64; 2]; COMMON],
}

impl Linear {
    /// `all`: the derivatives by the common errors too.
    fn at(model: &PumpModel, cell: &Cell, noise: &Noise, common: &Common, all: bool) -> Self {
        let row = &cell.row;
        let sd = deviations(cell, noise);
        let whiten = |shown: super::model::Shown, base: super::model::Shown, step: f64| {
            [(shown.head - base.head) / step / sd[0], (shown.power - base.power) / step / sd[1]]
        };
        let base = model.shown(cell.q, row.speed, row.density, common);
        let residual = [(row.head - base.head) / sd[0], (row.power - base.power) / sd[1]];
        let weight = ((TAIL + 1.0) / (TAIL + residual[0].powi(2) + residual[1].powi(2))).min(1.0).sqrt();
        let dq = if cell.q > 0.5 * model.q_max { -1e-3 } else { 1e-3 } * model.q_max;
        let by_flow = whiten(model.shown(cell.q + dq, row.speed, row.density, common), base, dq);
        let by_common = std::array::from_fn(|k| {
            if !all {
                return [0.0; 2];
            }
            let mut moved = *common;
            moved[k] += 1e-3;
            whiten(model.shown(cell.q, row.speed, row.density, &moved), base, 1e-3).map(|v| v * weight)
        });
        Self { residual: residual.map(|v| v * weight), by_flow: by_flow.map(|v| v * weight), by_common }
    }

    /// The derivative by common error `k` with the part along the flow taken out.
    fn projected(&self, k: usize) -> [f64; 2] {
        let down = self.by_flow[0].powi(2) + self.by_flow[1].powi(2);
        let j = self.by_common[k];
        if down <= 0.0 {
            return j;
        }
        let along = (self.by_flow[0] * j[0] + self.by_flow[1] * j[1]) / down;
        [j[0] - along * self.by_flow[0], j[1] - along * self.by_flow[1]]
    }
}
