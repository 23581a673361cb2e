//! The record's rows gathered in cells, and a first guess of each one's flow.
//!
//! Comes in: rows that over-determine the point. Goes out: [`Cells`]: means over short stretches at like speed, with the noise of those means. They are
//! cut by time and speed alone, never by a reading: rows whose noise is alike would stand together. Start at [`gather`].

use super::shown;
use crate::operating::model::{Around, COMMON, Hour, PumpModel, witness};
use crate::operating::noise::Noise;
use crate::operating::witness::Row;
use witness::{COUNT, HEAD, HEAT, METER, POWER, REMOTE};

/// Rows of one cell at most.
pub const STRETCH: usize = 8;
/// Speeds of one cell differ by no more than this [-].
const LIKE_SPEED: f64 = 0.02;
/// More cells than this add no knowledge; they are taken evenly over the record.
const CELLS: usize = 150;
/// Rows beyond this are thinned evenly: they fill the same cells again.
pub const ROWS: usize = 20_000;

/// The mean of a stretch.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    pub row: Row,
    /// Standard deviations of the mean readings.
    pub sd: [f64; COUNT],
}

/// A row to learn from, and what it counts for: one if steady.
#[derive(Debug, Clone, Copy)]
pub struct Weighted {
    pub row: Row,
    pub weight: f64,
    /// Its place in the record.
    pub at: usize,
}

/// Rows gathered in cells; to be shared by the models that are compared on them.
#[derive(Debug, Clone)]
pub struct Cells {
    pub(super) all: Vec<Cell>,
    /// Where each one's flow lies under the model they were gathered for, in parts of the largest: [`START`] of them.
    pub(super) start: Vec<usize>,
}

/// Parts of the largest flow in which a first guess is looked for.
const START: usize = 60;

impl Cells {
    /// How many.
    #[must_use]
    pub fn len(&self) -> usize {
        self.all.len()
    }
    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.all.is_empty()
    }
}

/// Stretches of time at like speed, averaged. They are cut by time and speed alone: cut by a noisy reading, rows whose noise is alike would stand
/// together, and its mean would pass for a measurement.
#[must_use]
pub fn gather(model: &PumpModel, rows: &[Weighted], noise: &Noise) -> Cells {
    let of_use: Vec<&Weighted> = rows.iter().filter(|r| r.row.speed > 0.0 && r.row.measured(model) >= 2).collect();
    let mut cells: Vec<Cell> = Vec::new();
    let mut from = 0;
    for i in 1..=of_use.len() {
        let ends = of_use.get(i).is_none_or(|next| {
            let first = of_use[from];
            i - from >= STRETCH
                || (next.row.speed - first.row.speed).abs() > LIKE_SPEED
                || next.at > of_use[i - 1].at + STRETCH
                || present(&next.row) != present(&first.row)
        });
        if ends {
            cells.push(mean_of(model, &of_use[from..i], noise));
            from = i;
        }
    }
    let stride = cells.len().div_ceil(CELLS).max(1);
    let all: Vec<Cell> = cells.into_iter().step_by(stride).collect();
    let start = all.iter().map(|cell| Guess::new(model, cell, noise).best()).collect();
    Cells { all, start }
}

pub(super) fn present(row: &Row) -> u32 {
    (0..COUNT).map(|w| u32::from(row.reading[w].is_finite()) << w).sum()
}

/// Cells at like speed and flow share what is wrong with the model there: each counts for less the more of them there are.
pub(super) fn share_model_error(model: &PumpModel, cells: &mut [Cell]) {
    // By readings alone, so that models are compared on the same errors.
    let place = |c: &Cell| {
        let (r, s) = (&c.row.reading, c.row.speed);
        let duty = if r[METER].is_finite() {
            r[METER] / s / model.q_max * 12.0
        } else if r[HEAT].is_finite() {
            r[HEAT] / s / model.q_max * 12.0
        } else if r[HEAD].is_finite() {
            r[HEAD] / (s * s * model.shut_off()) * 20.0
        } else {
            r[REMOTE] / (s * s * model.shut_off()) * 12.0
        };
        ((s / 0.05) as i32, duty as i32)
    };
    let places: Vec<(i32, i32)> = cells.iter().map(place).collect();
    let mut sorted = places.clone();
    sorted.sort_unstable();
    for (cell, place) in cells.iter_mut().zip(&places) {
        let alike = (sorted.partition_point(|p| p <= place) - sorted.partition_point(|p| p < place)) as f64;
        for w in [HEAD, POWER, REMOTE] {
            let own = if w == POWER { model.prior.model_power } else { model.prior.model_head } * cell.row.reading[w];
            cell.sd[w] = cell.sd[w].hypot(own * alike.sqrt());
        }
    }
}

fn mean_of(model: &PumpModel, group: &[&Weighted], noise: &Noise) -> Cell {
    let n = group.iter().map(|g| g.weight).sum::<f64>();
    let mean = |f: &dyn Fn(&Row) -> f64| group.iter().map(|g| g.weight * f(&g.row)).sum::<f64>() / n;
    let row =
        Row {
            speed: mean(&|r| r.speed),
            reading: std::array::from_fn(|w| {
                if w == POWER && !model.has_power() { f64::NAN } else { mean(&|r| r.reading[w]) }
            }),
            hour: Hour { density: mean(&|r| r.hour.density), thicker: mean(&|r| r.hour.thicker) },
            around: Around { delta_t: mean(&|r| r.around.delta_t), sharing: mean(&|r| r.around.sharing) },
        };
    let sd = std::array::from_fn(|w| (noise.variance(w, row.reading[w], row.around) / n).sqrt().max(1e-9));
    Cell { row, sd }
}

/// Start value of a cell's reduced flow: the grid flow that fits best with prior common errors.
pub(super) struct Guess<'a> {
    model: &'a PumpModel,
    cell: &'a Cell,
    sd: [f64; COUNT],
}

impl<'a> Guess<'a> {
    pub fn new(model: &'a PumpModel, cell: &'a Cell, noise: &Noise) -> Self {
        let row = &cell.row;
        // What a first guess may be off by, of the reading [-].
        const LOOSE: [f64; COUNT] = [0.04, 0.08, 0.05, 0.10, 0.30];
        let sd = std::array::from_fn(|w| {
            LOOSE[w] * row.reading[w].abs() + noise.variance(w, row.reading[w], row.around).sqrt()
        });
        Self { model, cell, sd }
    }

    fn flow(&self, part: usize) -> f64 {
        self.model.q_max * part as f64 / START as f64
    }

    fn misfit(&self, part: usize) -> f64 {
        let shown = shown(self.model, self.cell, self.flow(part), &[0.0; COMMON]);
        let reading = &self.cell.row.reading;
        let there = (0..COUNT).filter(|&w| reading[w].is_finite());
        there.map(|w| ((reading[w] - shown[w]) / self.sd[w]).powi(2)).sum()
    }

    /// The part of the largest flow that fits best.
    fn best(&self) -> usize {
        let all = (0..=START).map(|part| (part, self.misfit(part)));
        all.min_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |found| found.0)
    }

    /// The flow that fits best next to where another model of the same pump has it: models of one pump differ by little.
    pub fn downhill(&self, from: usize) -> f64 {
        let (mut part, mut least) = (from, self.misfit(from));
        for up in [false, true] {
            loop {
                let next = if up { part + 1 } else { part.wrapping_sub(1) };
                let there = if next > START { f64::INFINITY } else { self.misfit(next) };
                if !(there < least) {
                    break;
                }
                (part, least) = (next, there);
            }
            if part != from {
                break;
            }
        }
        self.flow(part)
    }
}
