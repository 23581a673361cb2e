//! The posterior on flow for one pump and one row.
//!
//! Comes in: a model with its learned common errors, and one row's measurements. Goes out: best flow, 95 % interval, the
//! share of its variance that all rows have in common, and a word for rows that cannot be. The likelihood is taken on a grid
//! over the tested range and the grid drawn closer where the mass lies; it is heavy-tailed, so that one bad sensor does not
//! drag the point; both peaks of a flat power curve stay in the interval. It does not look at neighbour rows.

use super::learn::{Learned, MODEL_HEAD, MODEL_POWER};
use super::model::{COMMON, PumpModel, Shown};
use super::witness::Row;

/// Row-to-row noise of the measurements.
#[derive(Debug, Clone, Copy)]
pub struct Noise {
    /// Share of the reading and absolute part [-], [kPa].
    pub head: (f64, f64),
    /// Share of the reading and absolute part [-], [kW].
    pub power: (f64, f64),
    /// Share of the reading and absolute part [-], [m3/h].
    pub meter: (f64, f64),
}

impl Noise {
    /// Standard deviation of a head reading [kPa].
    #[must_use]
    pub fn head(&self, head: f64) -> f64 {
        self.head_variance(head).sqrt()
    }
    /// Standard deviation of a power reading [kW].
    #[must_use]
    pub fn power(&self, power: f64) -> f64 {
        self.power_variance(power).sqrt()
    }
    fn head_variance(&self, head: f64) -> f64 {
        (self.head.0 * head).powi(2) + self.head.1.powi(2)
    }
    fn power_variance(&self, power: f64) -> f64 {
        (self.power.0 * power).powi(2) + self.power.1.powi(2)
    }
    fn meter_variance(&self, flow: f64) -> f64 {
        (self.meter.0 * flow).powi(2) + self.meter.1.powi(2)
    }
    /// Standard deviation of a meter reading [m3/h].
    #[must_use]
    pub fn meter(&self, flow: f64) -> f64 {
        self.meter_variance(flow).sqrt()
    }
}

/// What one row says.
#[derive(Debug, Clone, Copy)]
pub struct Said {
    pub flow: f64,
    pub low: f64,
    pub high: f64,
    /// Standard deviation of the part that all rows share [m3/h].
    pub sd_common: f64,
    pub two_peaks: bool,
}

/// Why a row says nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Silent {
    NothingMeasured,
    OutsideTable,
    MeasurementsDisagree,
}

/// Degrees of freedom of the heavy-tailed likelihood.
const TAIL: i32 = 8;
/// Squared misfit, in variances, beyond which a point at the table's end lies outside it (three standard deviations).
const OUTSIDE: f64 = 9.0;
/// Squared misfit beyond which measurements contradict each other (four standard deviations and a half).
const DISAGREE: f64 = 20.0;
const GRID: usize = 41;

/// What a learned pump shows, and the covariance of its common errors' effect on (head, power), tabulated over flow and speed once, since rows
/// are many and each asks a hundred times.
#[derive(Debug, Clone)]
pub struct CommonField {
    q_max: f64,
    cells: Vec<[f64; 3]>,
    /// Head [kPa], power [kW], and the change of both for a unit of relative density.
    shown: Vec<[f64; 4]>,
}

/// Grid of the readings: fine enough that a straight line between its points errs by less than 0.1 % down to a third of rated speed.
const SHOWN_Q: usize = 121;
const SHOWN_S: usize = 126;
/// Speeds of that grid [-]; beyond them the model is asked itself.
const SHOWN_FROM: f64 = 0.05;
const SHOWN_TO: f64 = 1.30;
/// Step of relative density for its slope [-].
const DENSER: f64 = 0.02;

const FIELD_Q: usize = 33;
const FIELD_S: usize = 24;
const FIELD_TOP: f64 = 1.2;

impl CommonField {
    /// Tabulates `J cov J'` on a grid of flow and speed.
    #[must_use]
    pub fn new(model: &PumpModel, learned: &Learned) -> Self {
        let mut cells = Vec::with_capacity(FIELD_Q * FIELD_S);
        for j in 0..FIELD_S {
            let speed = (j as f64 / (FIELD_S - 1) as f64 * FIELD_TOP).max(0.05);
            for i in 0..FIELD_Q {
                cells.push(spread(model, learned, i as f64 / (FIELD_Q - 1) as f64 * model.q_max, speed));
            }
        }
        let mut shown = Vec::with_capacity(SHOWN_Q * SHOWN_S);
        for j in 0..SHOWN_S {
            let speed = SHOWN_FROM + (SHOWN_TO - SHOWN_FROM) * j as f64 / (SHOWN_S - 1) as f64;
            for i in 0..SHOWN_Q {
                let q = i as f64 / (SHOWN_Q - 1) as f64 * model.q_max;
                let (a, b) =
                    (model.shown(q, speed, 1.0, &learned.common), model.shown(q, speed, 1.0 + DENSER, &learned.common));
                shown.push([a.head, a.power, (b.head - a.head) / DENSER, (b.power - a.power) / DENSER]);
            }
        }
        Self { q_max: model.q_max, cells, shown }
    }

    /// Readings at reduced flow `q` and shown speed; `None` outside the grid's speeds.
    fn shown(&self, q: f64, speed: f64, density: f64) -> Option<Shown> {
        if !(SHOWN_FROM..=SHOWN_TO).contains(&speed) {
            return None;
        }
        let x = (q / self.q_max * (SHOWN_Q - 1) as f64).clamp(0.0, (SHOWN_Q - 1) as f64);
        let y = (speed - SHOWN_FROM) / (SHOWN_TO - SHOWN_FROM) * (SHOWN_S - 1) as f64;
        let (i, j) = ((x as usize).min(SHOWN_Q - 2), (y as usize).min(SHOWN_S - 2));
        let (u, v) = (x - i as f64, y - j as f64);
        let row = |b: usize| (&self.shown[(j + b) * SHOWN_Q + i], &self.shown[(j + b) * SHOWN_Q + i + 1]);
        let ((a, b), (c, d)) = (row(0), row(1));
        let at = |k: usize| (1.0 - v) * (a[k] + u * (b[k] - a[k])) + v * (c[k] + u * (d[k] - c[k]));
        let denser = density - 1.0;
        Some(Shown { head: at(0) + denser * at(2), power: at(1) + denser * at(3) })
    }

    fn at(&self, q: f64, s: f64) -> [f64; 3] {
        let x = (q / self.q_max * (FIELD_Q - 1) as f64).clamp(0.0, (FIELD_Q - 1) as f64);
        let y = (s / FIELD_TOP * (FIELD_S - 1) as f64).clamp(0.0, (FIELD_S - 1) as f64);
        let (i, j) = ((x as usize).min(FIELD_Q - 2), (y as usize).min(FIELD_S - 2));
        let (u, v) = (x - i as f64, y - j as f64);
        let cell = |a: usize, b: usize| &self.cells[(j + b) * FIELD_Q + i + a];
        std::array::from_fn(|k| {
            (1.0 - v) * ((1.0 - u) * cell(0, 0)[k] + u * cell(1, 0)[k])
                + v * ((1.0 - u) * cell(0, 1)[k] + u * cell(1, 1)[k])
        })
    }
}

fn spread(model: &PumpModel, learned: &Learned, q: f64, speed: f64) -> [f64; 3] {
    let base = model.shown(q, speed, 1.0, &learned.common);
    let jac: [[f64; 2]; COMMON] = std::array::from_fn(|k| {
        let mut moved = learned.common;
        moved[k] += 1e-3;
        let s = model.shown(q, speed, 1.0, &moved);
        [(s.head - base.head) / 1e-3, (s.power - base.power) / 1e-3]
    });
    let mut out = [(MODEL_HEAD * base.head).powi(2), 0.0, (MODEL_POWER * base.power).powi(2)];
    for (a, row) in learned.covariance.iter().enumerate() {
        for (b, cov) in row.iter().enumerate() {
            out[0] += jac[a][0] * cov * jac[b][0];
            out[1] += jac[a][0] * cov * jac[b][1];
            out[2] += jac[a][1] * cov * jac[b][1];
        }
    }
    out
}

/// A pump, its learned errors and its noise: all a row needs.
pub struct Estimator<'a> {
    pub model: &'a PumpModel,
    pub learned: &'a Learned,
    pub field: &'a CommonField,
    pub noise: Noise,
}

/// Misfit, log likelihood and the parts of the variance at one flow.
struct Fit {
    misfit: f64,
    log: f64,
}

impl Estimator<'_> {
    /// The posterior of one row.
    ///
    /// # Errors
    /// Why the row says nothing: no measurement, outside the table, or measurements that contradict each other.
    pub fn say(&self, row: &Row) -> Result<Said, Silent> {
        let use_power = row.power.is_finite() && self.model.has_power();
        if !(row.head.is_finite() || use_power || row.meter.is_finite()) {
            return Err(Silent::NothingMeasured);
        }
        let (mut low, mut high) = (0.0, self.model.q_max);
        let mut grid = self.grid(row, low, high);
        for _ in 0..4 {
            let top = grid.iter().map(|f| f.log).fold(f64::NEG_INFINITY, f64::max);
            let heavy = |f: &Fit| f.log > top - 9.0;
            let first = grid.iter().position(heavy).unwrap_or(0);
            let last = grid.iter().rposition(heavy).unwrap_or(GRID - 1);
            let step = (high - low) / (GRID - 1) as f64;
            if last - first > GRID / 2 {
                break;
            }
            (low, high) = (
                (low + step * (first as f64 - 1.0)).max(0.0),
                (low + step * (last as f64 + 1.0)).min(self.model.q_max),
            );
            grid = self.grid(row, low, high);
        }
        self.conclude(row, &grid, low, high)
    }

    fn grid(&self, row: &Row, low: f64, high: f64) -> Vec<Fit> {
        (0..GRID).map(|i| self.fit(row, low + (high - low) * i as f64 / (GRID - 1) as f64)).collect()
    }

    /// Residuals and covariance at reduced flow `q`: (residual, random variance, common covariance, which are there).
    fn parts(&self, row: &Row, q: f64) -> ([f64; 3], [f64; 3], [f64; 3], f64) {
        let tabulated = self.field.shown(q, row.speed, row.density);
        let shown = tabulated.unwrap_or_else(|| self.model.shown(q, row.speed, row.density, &self.learned.common));
        let flow = q * row.speed;
        let residual = [
            row.head - shown.head,
            if self.model.has_power() { row.power - shown.power } else { f64::NAN },
            row.meter - flow,
        ];
        let random = [
            self.noise.head_variance(shown.head),
            self.noise.power_variance(shown.power),
            self.noise.meter_variance(flow),
        ];
        (residual, random, self.field.at(q, row.speed), (self.model.prior.meter_gain * flow).powi(2))
    }

    fn fit(&self, row: &Row, q: f64) -> Fit {
        let (r, random, common, meter_common) = self.parts(row, q);
        let (hh, hp, pp) = (common[0] + random[0], common[1], common[2] + random[1]);
        let (mut misfit, mut spread, mut m) = (0.0, 1.0, 0);
        match (r[0].is_finite(), r[1].is_finite()) {
            (true, true) => {
                let det = (hh * pp - hp * hp).max(1e-12 * hh * pp);
                misfit += (pp * r[0] * r[0] - 2.0 * hp * r[0] * r[1] + hh * r[1] * r[1]) / det;
                spread *= det;
                m += 2;
            }
            (true, false) => {
                misfit += r[0] * r[0] / hh;
                spread *= hh;
                m += 1;
            }
            (false, true) => {
                misfit += r[1] * r[1] / pp;
                spread *= pp;
                m += 1;
            }
            (false, false) => {}
        }
        if r[2].is_finite() {
            let mm = random[2] + meter_common;
            misfit += r[2] * r[2] / mm;
            spread *= mm;
            m += 1;
        }
        // Student's t in m dimensions; one logarithm of the product, since this line runs a hundred times a row.
        let heavy = (1.0 + misfit / f64::from(TAIL)).powi(TAIL + m);
        Fit { misfit, log: -0.5 * (heavy * spread).ln() }
    }

    fn conclude(&self, row: &Row, grid: &[Fit], low: f64, high: f64) -> Result<Said, Silent> {
        let step = (high - low) / (GRID - 1) as f64;
        let top = grid.iter().enumerate().max_by(|a, b| a.1.log.total_cmp(&b.1.log)).map_or(0, |t| t.0);
        let q_top = low + step * top as f64;
        let at_end = q_top <= 1e-3 * self.model.q_max || q_top >= 0.999 * self.model.q_max;
        if at_end && grid[top].misfit > OUTSIDE {
            return Err(Silent::OutsideTable);
        }
        if grid[top].misfit > DISAGREE {
            return Err(Silent::MeasurementsDisagree);
        }
        let weight: Vec<f64> = grid.iter().map(|f| (f.log - grid[top].log).exp()).collect();
        let mass: f64 = weight.windows(2).map(|w| w[0] + w[1]).sum();
        let q_at = |i: usize| low + step * i as f64;
        let mean =
            (0..GRID - 1).map(|i| 0.5 * (q_at(i) + q_at(i + 1)) * (weight[i] + weight[i + 1])).sum::<f64>() / mass;
        let variance = (0..GRID - 1)
            .map(|i| (0.5 * (q_at(i) + q_at(i + 1)) - mean).powi(2) * (weight[i] + weight[i + 1]))
            .sum::<f64>()
            / mass;
        // Peaks of the fit itself: where only the doubt changes with flow, the posterior may have a shoulder but there is one answer.
        let fits: Vec<f64> = grid.iter().map(|f| (-0.5 * (f.misfit - grid[top].misfit)).exp()).collect();
        let two_peaks = has_two_peaks(&fits);
        let best = if two_peaks { q_top } else { mean };
        let s = row.speed;
        Ok(Said {
            flow: best * s,
            low: quantile(&weight, mass, 0.025, low, step) * s,
            high: quantile(&weight, mass, 0.975, low, step) * s,
            sd_common: (variance * self.common_share(row, best)).sqrt() * s,
            two_peaks,
        })
    }

    /// The share of the flow's variance that all rows have in common, by linear propagation at the point.
    fn common_share(&self, row: &Row, q: f64) -> f64 {
        let dq = 0.005 * self.model.q_max;
        let (a, _, _, _) = self.parts(row, (q - dq).max(0.0));
        let (b, random, common, meter_common) = self.parts(row, q + dq);
        let information = |head: f64, power: f64, meter: f64| {
            let one = |k: usize, v: f64| {
                if a[k].is_finite() && b[k].is_finite() {
                    ((b[k] - a[k]) / (2.0 * dq)).powi(2) / v.max(1e-12)
                } else {
                    0.0
                }
            };
            one(0, head) + one(1, power) + one(2, meter)
        };
        let all = information(random[0] + common[0], random[1] + common[2], random[2] + meter_common);
        let only_random = information(random[0], random[1], random[2]);
        if all > 0.0 && only_random > 0.0 { (1.0 - all / only_random).clamp(0.0, 1.0) } else { 1.0 }
    }
}

fn quantile(weight: &[f64], mass: f64, share: f64, low: f64, step: f64) -> f64 {
    let mut before = 0.0;
    for (i, w) in weight.windows(2).enumerate() {
        let here = w[0] + w[1];
        if before + here >= share * mass && here > 0.0 {
            return low + step * (i as f64 + (share * mass - before) / here);
        }
        before += here;
    }
    low + step * (weight.len() - 1) as f64
}

/// Two local maxima, the lesser at least a twentieth of the greater and with a valley at most half its height.
fn has_two_peaks(weight: &[f64]) -> bool {
    let mut valley_since = f64::INFINITY;
    let mut last_peak = 0.0f64;
    for i in 0..weight.len() {
        let left = if i == 0 { 0.0 } else { weight[i - 1] };
        let right = weight.get(i + 1).copied().unwrap_or(0.0);
        valley_since = valley_since.min(weight[i]);
        if weight[i] >= left && weight[i] > right && weight[i] > 0.05 {
            if last_peak > 0.0 && valley_since < 0.5 * last_peak.min(weight[i]) {
                return true;
            }
            last_peak = weight[i];
            valley_since = weight[i];
        }
    }
    false
}
