//! Every row of a pump through its posterior, on as many threads as there are.
//!
//! Comes in: a learned pump and its witnesses. Goes out: the pump's columns filled, and how many rows stayed silent and why. Rows do not look at
//! each other here, so the result is the same for any number of threads.

use super::basis::Basis;
use super::field::{SPEED_FROM, SPEED_TO};
use super::lattice::Lattice;
use super::mixture::Mixture;
use super::model::witness;
use super::noise::Noise;
use super::posterior::{Peak, Said, Silent};
use super::witness::{Row, Witnesses};
use super::{PumpPoints, State};
use crate::plant::PowerIs;
use rayon::prelude::*;

/// Rows a thread takes at a time.
const CHUNK: usize = 8192;
/// Under this share of rated load the chain from shaft to drive input is so uncertain that power alone only bounds the flow.
const BOUND_LOAD: f64 = 0.2;

/// A flow may lie below the table's first by what rounding leaves [-].
const FIRST_FLOW: f64 = 0.98;

/// Rows that stayed silent, by reason, and rows with two answers.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    pub silent: [u64; 3],
    /// Rows whose speed is missing, and rows whose speed no pump has.
    pub no_speed: u64,
    pub odd_speed: u64,
    /// Row and its two answers.
    pub two: Vec<(usize, [Peak; 2])>,
    /// Rows in which one witness of three or more was not heard because it contradicted the others, by kind.
    pub odd: [u64; witness::COUNT],
}

impl Tally {
    fn add(&mut self, other: Self) {
        for (a, b) in self.silent.iter_mut().zip(other.silent) {
            *a += b;
        }
        for (a, b) in self.odd.iter_mut().zip(other.odd) {
            *a += b;
        }
        self.no_speed += other.no_speed;
        self.odd_speed += other.odd_speed;
        self.two.extend(other.two);
    }
}

/// The columns of one chunk.
struct Chunk<'a> {
    from: usize,
    state: &'a [State],
    speed: &'a mut [f64],
    flow: &'a mut [f64],
    low: &'a mut [f64],
    high: &'a mut [f64],
    sd_common: &'a mut [f64],
    head: &'a mut [f64],
    head_low: &'a mut [f64],
    head_high: &'a mut [f64],
    head_sd_common: &'a mut [f64],
    power: &'a mut [f64],
    efficiency: &'a mut [f64],
    basis: &'a mut [Basis],
}

/// Fills the columns of running rows.
pub fn fill(p: &mut PumpPoints, w: &Witnesses, mixture: &Mixture, noise: Noise) -> Tally {
    let mut chunks = Vec::new();
    let each = p
        .state
        .chunks(CHUNK)
        .zip(p.speed.chunks_mut(CHUNK))
        .zip(p.flow_m3h.chunks_mut(CHUNK).zip(p.flow_low_m3h.chunks_mut(CHUNK)))
        .zip(p.flow_high_m3h.chunks_mut(CHUNK).zip(p.flow_sd_common_m3h.chunks_mut(CHUNK)))
        .zip(p.head_kpa.chunks_mut(CHUNK).zip(p.head_low_kpa.chunks_mut(CHUNK)))
        .zip(p.head_high_kpa.chunks_mut(CHUNK).zip(p.head_sd_common_kpa.chunks_mut(CHUNK)))
        .zip(p.power_kw.chunks_mut(CHUNK).zip(p.efficiency.chunks_mut(CHUNK)))
        .zip(p.basis.chunks_mut(CHUNK));
    for (k, item) in each.enumerate() {
        let (rest, basis) = item;
        let (rest, (power, efficiency)) = rest;
        let (rest, (head_high, head_sd_common)) = rest;
        let (rest, (head, head_low)) = rest;
        let (rest, (high, sd_common)) = rest;
        let ((state, speed), (flow, low)) = rest;
        chunks.push(Chunk {
            from: k * CHUNK,
            state,
            speed,
            flow,
            low,
            high,
            sd_common,
            head,
            head_low,
            head_high,
            head_sd_common,
            power,
            efficiency,
            basis,
        });
    }
    let lattice = Lattice::over(&asked(&chunks), |i| w.row(i), mixture, noise);
    let tallies: Vec<Tally> = chunks.into_par_iter().map(|c| c.fill(w, mixture, noise, lattice.as_ref())).collect();
    let mut out = Tally::default();
    for t in tallies {
        out.add(t);
    }
    out
}

/// Rows that will be asked for, with whether they move.
fn asked(chunks: &[Chunk]) -> Vec<(usize, bool)> {
    let each = chunks.iter().flat_map(|c| c.state.iter().enumerate().map(|(k, s)| (c.from + k, *s)));
    each.filter_map(|(i, state)| moves(state).map(|moving| (i, moving))).collect()
}

/// Whether a running row moves; `None` where nothing runs.
fn moves(state: State) -> Option<bool> {
    match state {
        State::Steady => Some(false),
        State::Transient | State::Starting => Some(true),
        State::Off | State::Unknown => None,
    }
}

impl Chunk<'_> {
    fn fill(mut self, w: &Witnesses, mixture: &Mixture, noise: Noise, lattice: Option<&Lattice>) -> Tally {
        let mut tally = Tally::default();
        let widened = noise.widened();
        let least = mixture.likeliest().map_or(0.0, |h| h.model.q_min);
        for k in 0..self.state.len() {
            let Some(moving) = moves(self.state[k]) else { continue };
            let row = w.row(self.from + k);
            if !row.speed.is_finite() {
                tally.no_speed += 1;
                continue;
            }
            if !(SPEED_FROM..=SPEED_TO).contains(&row.speed) {
                tally.odd_speed += 1;
                self.basis[k] = Basis::OutsideTable;
                continue;
            }
            let close = lattice.and_then(|l| l.say(&row, moving));
            match close.map_or_else(|| mixture.say(&row, if moving { widened } else { noise }), Ok) {
                Ok(said) if said.flow < FIRST_FLOW * least * row.speed => {
                    tally.silent[Silent::OutsideTable as usize] += 1;
                    self.basis[k] = Basis::OutsideTable;
                }
                Ok(said) => self.put(k, &row, &said, w, mixture, &mut tally),
                Err(why) => {
                    tally.silent[why as usize] += 1;
                    self.basis[k] = if why == Silent::OutsideTable { Basis::OutsideTable } else { Basis::None };
                }
            }
        }
        tally
    }

    fn put(&mut self, k: usize, row: &Row, said: &Said, w: &Witnesses, mixture: &Mixture, tally: &mut Tally) {
        self.speed[k] = said.speed;
        (self.flow[k], self.low[k], self.high[k]) = (said.flow, said.low.max(0.0), said.high);
        self.sd_common[k] = said.sd_common;
        let reach = 1.96 * said.head_sd.hypot(said.head_sd_common);
        (self.head[k], self.head_low[k], self.head_high[k]) =
            (said.head, (said.head - reach).max(0.0), said.head + reach);
        self.head_sd_common[k] = said.head_sd_common;
        let power = row.reading[witness::POWER];
        if !power.is_finite() || w.power_is != Some(PowerIs::DriveInput) {
            self.power[k] = said.power;
        }
        if self.power[k] > 0.0 {
            self.efficiency[k] = (said.flow * said.head / 3600.0 / self.power[k]).clamp(0.0, 1.0);
        }
        self.basis[k] = basis(said, power, w, mixture);
        tally.two.extend(said.peaks.map(|p| (self.from + k, p)));
        for (kind, count) in tally.odd.iter_mut().enumerate() {
            let there = row.reading[kind].is_finite() && (kind != witness::POWER || mixture.has_power());
            *count += u64::from(there && said.heard & (1 << kind) == 0);
        }
    }
}

fn basis(said: &Said, power: f64, w: &Witnesses, mixture: &Mixture) -> Basis {
    let only_power = said.heard == 1 << witness::POWER;
    // Power at the shaft, or learned where it is trended, has no chain to doubt.
    let chained = w.power_is != Some(PowerIs::Shaft) && mixture.likeliest().is_some_and(|h| h.model.has_chain());
    if only_power && chained && power < BOUND_LOAD * mixture.rated_kw() {
        return Basis::PowerBound;
    }
    Basis::Measured(said.heard)
}
