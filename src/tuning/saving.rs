//! The record replayed under another setting: what it would have saved, with an interval.
//!
//! Each row keeps the flow its coils took; what does not throttle loses flow as the root of pressure. Its power comes from the ratio of two model
//! powers, so that what the model gets wrong at both cancels. The interval joins whole days drawn again, the loop's flow as far as it is known,
//! the learned loops that explain the record alike, and the model's own doubt.

use super::proposal::Proposal;
use super::record::{Record, Row};
use super::resample;
use crate::faults::Estimate;
use rayon::prelude::*;

/// The model's doubt about a head ratio's power ratio, one standard deviation of the saving [-]: losses at part load, and how closely a control
/// keeps its setting.
const MODEL_DOUBT: f64 = 0.05;
/// The same that no saving escapes [-]: the control's own error.
const LEAST_DOUBT: f64 = 0.004;
/// A lower head moves the hours in which a further pump runs, one standard deviation of the saving [-] (common practice, no source).
const STAGING_DOUBT: f64 = 0.04;
/// A record shorter than this carries no yearly figure [days].
const YEAR_FROM_DAYS: f64 = 28.0;
/// Doubt about the loads of a year that the record did not see, one standard deviation of their saving [-].
const SEASON_DOUBT: f64 = 0.4;
/// Least doubt about carrying one season to a year, one standard deviation [-].
const YEAR_DOUBT: f64 = 0.1;
/// Rows replayed for the doubts: more add nothing.
const SAMPLED: usize = 600;
/// Rows replayed for the saving itself, evenly: a quarter of an hour stands for itself [-].
const REPLAYED: usize = 2000;
/// Rows a thread takes at least.
const CHUNK: usize = 128;

/// What a setting saves.
#[derive(Debug, Clone, Copy)]
pub struct Saved {
    pub kwh: Estimate,
    pub fraction: Estimate,
    pub per_year: Option<Estimate>,
}

/// What the rows take under today's setting: whatever is put in its place, they take that.
pub struct Before {
    /// For the saving itself, every so many rows of the record.
    rows: Vec<Priced>,
    every: usize,
    /// For the doubts: as the flow is read, at its low end and at its high end, and how far the ends lie off [-].
    sampled: Vec<Priced>,
    low: Vec<Priced>,
    high: Vec<Priced>,
    flow_sd: f64,
}

/// A row of the record with the model's power as it was and under today's setting [kW].
#[derive(Clone, Copy)]
struct Priced {
    row: usize,
    was: f64,
    from: f64,
}

impl Before {
    pub fn of(record: &Record) -> Self {
        let every = record.rows.len().div_ceil(REPLAYED).max(1);
        let stride = record.rows.len().div_ceil(SAMPLED).max(1);
        let priced = |every: usize, scale: f64| -> Vec<Priced> {
            let price = |row: &Row, head: f64| record.replay.power_kw(row.flow * scale, head, row.on);
            let one = |at: usize| {
                let row = &record.rows[at * every];
                let was = if scale == 1.0 { row.model } else { price(row, row.head) };
                let from = if row.from == row.head { was } else { price(row, row.from) };
                Priced { row: at * every, was, from }
            };
            (0..record.rows.len().div_ceil(every)).into_par_iter().with_min_len(CHUNK).map(one).collect()
        };
        let flow_sd = flow_sd(record);
        Self {
            rows: priced(every, 1.0),
            every,
            sampled: if record.loses { priced(stride, 1.0) } else { Vec::new() },
            low: priced(stride, 1.0 - flow_sd),
            high: priced(stride, 1.0 + flow_sd),
            flow_sd,
        }
    }
}

/// Power of a row [kW] under today's setting and under another.
fn powers(record: &Record, p: &Proposal, priced: &Priced, open: f64, scale: f64) -> Option<(f64, f64)> {
    let row = &record.rows[priced.row];
    let (was, from) = (priced.was, priced.from);
    if !(was > 0.0 && from > 0.0) {
        return None;
    }
    let (flow, head) = p.puts(record, row, open);
    let to = record.replay.power_kw(flow * scale, head, row.on);
    (to > 0.0).then(|| (row.kw * from / was, row.kw * to / was))
}

/// Share saved over sampled rows.
fn share(record: &Record, p: &Proposal, priced: &[Priced], scale: f64, open: impl Fn(&Row) -> f64) -> f64 {
    let (mut used, mut saved) = (0.0, 0.0);
    for of in priced {
        if let Some((before, after)) = powers(record, p, of, open(&record.rows[of.row]), scale) {
            (used, saved) = (used + before, saved + before - after);
        }
    }
    if used > 0.0 { saved / used } else { f64::NAN }
}

/// Replays the record; `None` where no row can be replayed.
pub fn saved(record: &Record, today: &Before, p: &Proposal) -> Option<Saved> {
    let b = record.b;
    let step_h = b.clock.hours() * (record.stride * today.every) as f64;
    let mut days: Vec<(u32, f64, f64)> = Vec::new();
    for priced in &today.rows {
        let row = &record.rows[priced.row];
        let Some((before, after)) = powers(record, p, priced, row.open, 1.0) else { continue };
        let (before, saved) = (before * step_h, (before - after) * step_h);
        match days.last_mut() {
            Some(d) if d.0 == row.day => (d.1, d.2) = (d.1 + before, d.2 + saved),
            _ => days.push((row.day, before, saved)),
        }
    }
    let energy: f64 = days.iter().map(|d| d.1).sum();
    if energy <= 0.0 {
        return None;
    }
    let fraction = days.iter().map(|d| d.2).sum::<f64>() / energy;
    let sampling = resample::ratio_sd(&days);
    let sampling = if sampling.is_finite() { sampling } else { fraction.abs() };
    let staged = record.rows.iter().any(|r| r.on != record.rows[0].on);
    let staging = if staged { STAGING_DOUBT * fraction } else { 0.0 };
    let model = (MODEL_DOUBT * fraction).hypot(LEAST_DOUBT).hypot(staging);
    let sd = sampling.hypot(model).hypot(by_flow(record, today, p)).hypot(by_loop(record, today, p));
    let around = |scale: f64, sd: f64| Estimate {
        estimate: scale * fraction,
        low: scale * (fraction - 1.96 * sd),
        high: scale * (fraction + 1.96 * sd),
    };
    let recorded = b.clock.len as f64 * b.clock.hours() / 24.0;
    let unseen = 1.0 - seen_share(record);
    let season = (YEAR_DOUBT + SEASON_DOUBT * unseen) * fraction;
    let per_year = (recorded.round() >= YEAR_FROM_DAYS).then(|| around(energy * 365.0 / recorded, sd.hypot(season)));
    Some(Saved { kwh: around(energy, sd), fraction: around(1.0, sd), per_year })
}

/// How well the loop's flow is known, one standard deviation [-].
fn flow_sd(record: &Record) -> f64 {
    let system = &record.b.reconstructed.points.system;
    let mut wide: Vec<f64> = record
        .rows
        .iter()
        .map(|r| (system.flow_high_m3h[r.i] - system.flow_low_m3h[r.i]) / (2.0 * 1.96 * r.flow))
        .filter(|w| w.is_finite())
        .collect();
    if wide.is_empty() {
        return 0.0;
    }
    let middle = wide.len() / 2;
    wide.select_nth_unstable_by(middle, f64::total_cmp).1.clamp(0.0, 0.3)
}

/// How much the saving moves with the loop's flow, one standard deviation.
fn by_flow(record: &Record, today: &Before, p: &Proposal) -> f64 {
    let sd = today.flow_sd;
    if sd == 0.0 {
        return 0.0;
    }
    let at = |priced, scale| share(record, p, priced, scale, |r| r.open);
    let (low, high) = (at(&today.low, 1.0 - sd), at(&today.high, 1.0 + sd));
    if low.is_finite() && high.is_finite() { 0.5 * (high - low).abs() } else { 0.0 }
}

/// How much it moves among the loops that explain the record alike, one standard deviation.
fn by_loop(record: &Record, today: &Before, p: &Proposal) -> f64 {
    let (Some(coils), Some(learned)) = (&record.coils, record.b.learned) else { return 0.0 };
    if !record.loses || learned.as_good.is_empty() {
        return 0.0;
    }
    let said: Vec<f64> = learned
        .as_good
        .iter()
        .map(|l| share(record, p, &today.sampled, 1.0, |r| coils.open_share(l, r.i)))
        .filter(|s| s.is_finite())
        .collect();
    if said.len() < 2 {
        return 0.0;
    }
    let mean = said.iter().sum::<f64>() / said.len() as f64;
    (said.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (said.len() - 1) as f64).sqrt()
}

/// Share of the way from no flow to design flow that the record saw [-]: what a year may bring beyond it is not known.
pub fn seen_share(record: &Record) -> f64 {
    let mut flows: Vec<f64> = record.rows.iter().map(|r| r.flow).collect();
    let (low, high) = super::spread(&mut flows);
    ((high - low) / record.today.design_flow()).clamp(0.0, 1.0)
}
