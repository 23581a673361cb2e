//! Steady points joined to clusters, whatever their number and order.
//!
//! Rows are binned to weighted cells; the cells that hold most of the rows are the dense ones; linfa's DBSCAN joins
//! dense cells that touch. Its DBSCAN knows no weights and slows with the square of its points, so the density is
//! found here and it only does the joining; with two as its smallest neighbourhood every joined cell is a core, and
//! so nothing hangs on the order of rows.

use super::Regime;
use super::naming::Naming;
use crate::operating::{PumpPoints, State};
use crate::plant::Plant;
use crate::quantity::{Flow, Pressure};
use linfa::traits::Transformer;
use linfa_clustering::Dbscan;
use ndarray::Array2;

/// Flow over design flow, excess head over design head, speed, delta-T over design delta-T.
const DIMENSIONS: usize = 4;
/// Narrowest cell [-] in each: no measurement here is better than that, and drives report whole per cents.
const NARROWEST: [f64; DIMENSIONS] = [0.02, 0.015, 0.01, 0.05];
/// Widest cell the spread rule may ask for, in narrowest cells [-]: wider would join a curve and its neighbour.
const WIDEST: f64 = 2.0;
/// Most cells handed to DBSCAN, which takes time with their square: about 10 ms at this many.
const MOST_CELLS: usize = 1500;
/// The heaviest cells that together hold this share of the rows are the dense ones [-].
const DENSE_SHARE: f64 = 0.95;
/// Cells this near, in cell widths, touch: the diagonal of a cell in four dimensions is 2 [-].
const TOUCHING: f64 = 2.05;
/// A cluster is at least this share of the steady rows [-]; less is scatter.
const SMALLEST_CLUSTER: f64 = 0.02;
/// Delta-T takes part where at least this share of the steady rows have one [-].
const DELTA_T_SHARE: f64 = 0.9;
/// No cluster.
const NONE: u16 = u16::MAX;

/// The cluster of each row.
pub(super) struct Clusters {
    of_row: Vec<u16>,
    count: usize,
}

impl Clusters {
    pub(super) fn of(&self, row: usize) -> Option<usize> {
        let c = self.of_row[row];
        (c != NONE).then_some(c as usize)
    }

    pub(super) fn count(&self) -> usize {
        self.count
    }

    /// Each cluster's name: what most of its rows are by their own physics.
    pub(super) fn names(&self, regime: &[Regime]) -> Vec<Regime> {
        let mut votes = vec![[0usize; 8]; self.count];
        for (row, r) in regime.iter().enumerate() {
            if let Some(c) = self.of(row) {
                votes[c][*r as usize] += 1;
            }
        }
        votes.iter().map(most).collect()
    }

    /// Rows just off the curve inside an on-curve cluster are taken in; nothing is ever called a deviation by its company.
    pub(super) fn take_strays_in(&self, naming: &Naming, names: &[Regime], regime: &mut [Regime]) {
        for (row, r) in regime.iter_mut().enumerate() {
            let deviates = matches!(r, Regime::AboveCurve | Regime::BelowCurve);
            let among_good = self.of(row).is_some_and(|c| names[c] == Regime::OnCurve);
            if deviates && among_good && naming.is_stray(row) {
                *r = Regime::OnCurve;
            }
        }
    }
}

/// The regimes in the order of their numbers.
pub(super) const ALL: [Regime; 8] = [
    Regime::OnCurve,
    Regime::AboveCurve,
    Regime::BelowCurve,
    Regime::SpeedFloor,
    Regime::FullSpeed,
    Regime::Off,
    Regime::Transient,
    Regime::Unknown,
];

fn most(votes: &[usize; 8]) -> Regime {
    let mut best = 7;
    for (k, v) in votes.iter().enumerate().rev() {
        if *v >= votes[best] {
            best = k;
        }
    }
    ALL[best]
}

/// Clusters one pump's steady rows.
pub(super) fn cluster(
    plant: &Plant,
    pump: &PumpPoints,
    excess_kpa: &[f64],
    regime: &[Regime],
    delta_t_k: Option<&[f64]>,
) -> Clusters {
    let rows = pump.state.len();
    let coordinates = Coordinates::new(plant, pump, excess_kpa, delta_t_k);
    let steady: Vec<(u32, [f32; DIMENSIONS])> = (0..rows)
        .filter(|i| pump.state[*i] == State::Steady && regime[*i] != Regime::Unknown)
        .filter_map(|i| coordinates.at(i).map(|c| (i as u32, c)))
        .collect();
    let mut of_row = vec![NONE; rows];
    if steady.is_empty() {
        return Clusters { of_row, count: 0 };
    }
    let widths = widths(&steady);
    let keys: Vec<u64> = steady.iter().map(|(_, c)| key(c, &widths)).collect();
    let (cells, shifts) = few_cells(weigh(keys.clone()));
    let (labels, count) = join(&cells);
    for ((row, _), k) in steady.iter().zip(&keys) {
        let coarse = shifted(*k, &shifts);
        let cell = cells.binary_search_by_key(&coarse, |c| c.0).expect("every row's cell was weighed");
        of_row[*row as usize] = labels[cell];
    }
    Clusters { of_row, count }
}

/// Doubles cells, one dimension after the other, until they are few enough; delta-T first, what matters least here.
fn few_cells(mut cells: Vec<(u64, u32)>) -> (Vec<(u64, u32)>, [u32; DIMENSIONS]) {
    const COARSEN: [usize; DIMENSIONS] = [3, 0, 2, 1];
    let mut shifts = [0; DIMENSIONS];
    let mut turn = 0;
    while cells.len() > MOST_CELLS {
        let d = COARSEN[turn % DIMENSIONS];
        shifts[d] += 1;
        turn += 1;
        let mut one = [0; DIMENSIONS];
        one[d] = 1;
        cells.iter_mut().for_each(|c| c.0 = shifted(c.0, &one));
        cells.sort_unstable();
        cells.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            kept.1 += if same { next.1 } else { 0 };
            same
        });
    }
    (cells, shifts)
}

/// The key of the coarser cell that a cell lies in.
fn shifted(k: u64, shifts: &[u32; DIMENSIONS]) -> u64 {
    let mut coarse = 0;
    for (d, shift) in shifts.iter().enumerate() {
        coarse = coarse << 16 | (k >> (16 * (DIMENSIONS - 1 - d)) & 0xffff) >> shift;
    }
    coarse
}

/// The four coordinates of a row.
struct Coordinates<'a> {
    pump: &'a PumpPoints,
    excess_kpa: &'a [f64],
    delta_t_k: Option<&'a [f64]>,
    design: [f64; DIMENSIONS],
    has_excess: bool,
}

impl<'a> Coordinates<'a> {
    fn new(plant: &Plant, pump: &'a PumpPoints, excess_kpa: &'a [f64], delta_t_k: Option<&'a [f64]>) -> Self {
        let s = &plant.system;
        let largest = |v: &[f64]| v.iter().copied().filter(|x| x.is_finite()).fold(f64::NAN, f64::max);
        let flow = s.design_flow.map_or_else(|| largest(&pump.flow_m3h), Flow::in_m3h);
        let head = s.design_head.map_or_else(|| largest(&pump.head_kpa), Pressure::in_kpa);
        let span = match (s.supply_temperature, s.return_temperature) {
            (Some(a), Some(b)) => a.minus(b).in_kelvin().abs(),
            _ => f64::NAN,
        };
        let steady = |i: &usize| pump.state[*i] == State::Steady;
        let rows = (0..pump.state.len()).filter(steady).count();
        let with = delta_t_k.map_or(0, |d| (0..d.len()).filter(steady).filter(|i| d[*i].is_finite()).count());
        let enough = span > 0.0 && with as f64 >= DELTA_T_SHARE * rows as f64;
        Self {
            pump,
            excess_kpa,
            delta_t_k: delta_t_k.filter(|_| enough),
            design: [flow, head, 1.0, span],
            has_excess: excess_kpa.iter().any(|e| e.is_finite()),
        }
    }

    /// `None` where one of them is missing: an incomplete row is not clustered.
    fn at(&self, i: usize) -> Option<[f32; DIMENSIONS]> {
        let excess = if self.has_excess { self.excess_kpa[i] / self.design[1] } else { 0.0 };
        let delta_t = self.delta_t_k.map_or(0.0, |d| d[i] / self.design[3]);
        let c = [self.pump.flow_m3h[i] / self.design[0], excess, self.pump.speed[i], delta_t];
        c.iter().all(|v| v.is_finite()).then(|| c.map(|v| v as f32))
    }
}

/// Cell widths from the spread of the points: 2 IQR / n^(1/3) (the rule of Freedman and Diaconis, from memory), kept
/// between the narrowest and the widest that make sense here. Quartiles are read off a histogram of half cells.
fn widths(steady: &[(u32, [f32; DIMENSIONS])]) -> [f64; DIMENSIONS] {
    const BINS: usize = 1024;
    const LOW: f64 = -2.0;
    let mut counts = vec![[0u32; DIMENSIONS]; BINS];
    for (_, c) in steady {
        for d in 0..DIMENSIONS {
            let bin = (f64::from(c[d]) - LOW) / (NARROWEST[d] / 2.0);
            counts[(bin.max(0.0) as usize).min(BINS - 1)][d] += 1;
        }
    }
    let n = steady.len() as f64;
    std::array::from_fn(|d| {
        let quartile = |share: f64| {
            let mut seen = 0.0;
            let reached = |c: &[u32; DIMENSIONS]| {
                seen += f64::from(c[d]);
                seen >= share * n
            };
            counts.iter().position(reached).unwrap_or(BINS) as f64 * NARROWEST[d] / 2.0
        };
        let iqr = quartile(0.75) - quartile(0.25);
        (2.0 * iqr / n.cbrt()).clamp(NARROWEST[d], NARROWEST[d] * WIDEST)
    })
}

/// A cell's four 16-bit coordinates packed into one key; far outliers share the outermost cell.
fn key(c: &[f32; DIMENSIONS], widths: &[f64; DIMENSIONS]) -> u64 {
    let mut k = 0u64;
    for d in 0..DIMENSIONS {
        let cell = (f64::from(c[d]) / widths[d]).floor().clamp(-32_000.0, 32_000.0) + 32_768.0;
        k = k << 16 | cell as u64;
    }
    k
}

fn unpack(k: u64) -> [f64; DIMENSIONS] {
    std::array::from_fn(|d| f64::from((k >> (16 * (DIMENSIONS - 1 - d)) & 0xffff) as u16))
}

/// Cells in key order with the rows they hold.
fn weigh(mut keys: Vec<u64>) -> Vec<(u64, u32)> {
    keys.sort_unstable();
    let mut cells: Vec<(u64, u32)> = Vec::new();
    for k in keys {
        match cells.last_mut() {
            Some((last, weight)) if *last == k => *weight += 1,
            _ => cells.push((k, 1)),
        }
    }
    cells
}

/// Which cells are dense, by weight.
fn dense(cells: &[(u64, u32)]) -> Vec<usize> {
    let total: u32 = cells.iter().map(|c| c.1).sum();
    let mut heaviest: Vec<usize> = (0..cells.len()).collect();
    heaviest.sort_by_key(|i| (std::cmp::Reverse(cells[*i].1), cells[*i].0));
    let mut held = 0;
    let mut kept: Vec<usize> = heaviest
        .into_iter()
        .take_while(|i| {
            let more = f64::from(held) < DENSE_SHARE * f64::from(total);
            held += cells[*i].1;
            more
        })
        .collect();
    kept.sort_unstable();
    kept
}

/// Joins dense cells that touch and drops what is too small; a label for each cell, and how many clusters there are.
fn join(cells: &[(u64, u32)]) -> (Vec<u16>, usize) {
    let dense = dense(cells);
    let mut at = Array2::<f64>::zeros((dense.len(), DIMENSIONS));
    for (row, cell) in dense.iter().enumerate() {
        for (d, v) in unpack(cells[*cell].0).into_iter().enumerate() {
            at[[row, d]] = v;
        }
    }
    let joined =
        Dbscan::params::<f64>(2).tolerance(TOUCHING).transform(&at).expect("two neighbours and a positive reach");
    let (mut labels, count) = label(cells, &dense, joined.as_slice().expect("a fresh array is contiguous"));
    let of_dense: Vec<([f64; DIMENSIONS], u16)> = dense.iter().map(|c| (unpack(cells[*c].0), labels[*c])).collect();
    for (cell, label) in labels.iter_mut().enumerate().filter(|(_, l)| **l == NONE) {
        *label = nearest(&unpack(cells[cell].0), &of_dense);
    }
    (labels, count)
}

/// The cluster that a thin cell touches: that of the nearest dense cell, the lower label where two are as near.
fn nearest(at: &[f64; DIMENSIONS], dense: &[([f64; DIMENSIONS], u16)]) -> u16 {
    let far = |c: &[f64; DIMENSIONS]| (0..DIMENSIONS).map(|d| (c[d] - at[d]).powi(2)).sum::<f64>();
    let reach = TOUCHING * TOUCHING;
    let near = dense.iter().filter(|c| c.1 != NONE).map(|c| (far(&c.0), c.1)).filter(|c| c.0 <= reach);
    near.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))).map_or(NONE, |c| c.1)
}

/// Labels clusters by their lowest cell and drops those with too few rows; a dense cell that touches no other stands
/// for itself.
fn label(cells: &[(u64, u32)], dense: &[usize], joined: &[Option<usize>]) -> (Vec<u16>, usize) {
    let total: u32 = cells.iter().map(|c| c.1).sum();
    let lone = joined.iter().flatten().max().map_or(0, |m| m + 1);
    let group = |at: usize| joined[at].unwrap_or(lone + at);
    let mut weight = vec![0u32; lone + dense.len()];
    for (at, cell) in dense.iter().enumerate() {
        weight[group(at)] += cells[*cell].1;
    }
    let mut number = vec![NONE; weight.len()];
    let mut count = 0u16;
    let mut labels = vec![NONE; cells.len()];
    for (at, cell) in dense.iter().enumerate() {
        let g = group(at);
        let large = f64::from(weight[g]) >= SMALLEST_CLUSTER * f64::from(total);
        if large && number[g] == NONE && count < NONE {
            number[g] = count;
            count += 1;
        }
        labels[*cell] = number[g];
    }
    (labels, count as usize)
}
