//! Single rows far from both neighbours, in bulk: a loose terminal, a lost packet, a spoilt export.

use super::doubt::{Kind, Sign, kept};
use super::far::is_measured;
use super::{Doubt, Seen, quantile_of};
use crate::ingest::{Clock, Series};
use crate::plant::Role;
use rayon::prelude::*;

/// A spike stands off both neighbours by this many times what nine tenths of the readings span [-], while they agree within the lesser.
const STANDS_OFF: f64 = 1.0;
const AGREE: f64 = 0.25;
/// And by at least so much: of a temperature [K]; of anything else, of its usual largest reading [-]. Below, a coarse reading flips between two steps.
const LEAST_K: f64 = 1.0;
const LEAST_PART: f64 = 0.05;
/// Nothing else changes: the pumps run on or rest on, and every speed keeps to within this share of itself [-].
const SPEED_KEEPS: f64 = 0.05;
/// In bulk: so many, and this share of the valid rows [-]. Fewer are a bad day of the network.
const LEAST: usize = 30;
const SHARE: f64 = 0.01;
/// Values that cannot be are in bulk from this share of the valid rows on [-].
const IMPOSSIBLE: f64 = 0.05;

/// Turns a doubt about many impossible values into a fault of the point.
pub(super) fn in_bulk(doubts: &mut [Doubt], valid: usize) {
    let rows: usize = doubts.iter().map(|d| d.rows).sum();
    if rows < LEAST || (rows as f64) < IMPOSSIBLE * valid as f64 {
        return;
    }
    for d in doubts {
        d.kind = Kind::Outliers;
        d.confidence = 0.9;
        d.sign = Some(sign(rows as f64 / valid as f64));
    }
}

fn sign(share: f64) -> Sign {
    Sign {
        name: "share of readings that cannot be".into(),
        value: share,
        unit: "fraction",
        expected: "below 0.01".into(),
    }
}

/// Removes spikes that come in bulk.
pub(super) fn judge(clock: &Clock, series: &mut [Series], seen: &Seen) -> Vec<Doubt> {
    let speeds: Vec<Vec<f64>> = series.iter().filter(|s| s.role == Role::PumpSpeed).map(|s| s.values.clone()).collect();
    let calm = |i: usize| {
        let runs = |k: usize| seen.running.as_ref().is_none_or(|r| r[k]);
        let kept = |v: &Vec<f64>| {
            let most = SPEED_KEEPS * v[i].abs();
            !((v[i] - v[i - 1]).abs() > most) && !((v[i] - v[i + 1]).abs() > most)
        };
        runs(i) == runs(i - 1) && runs(i) == runs(i + 1) && speeds.iter().all(kept)
    };
    series.par_iter_mut().filter_map(|s| one(clock, s, &calm)).collect()
}

fn one(clock: &Clock, s: &mut Series, calm: &impl Fn(usize) -> bool) -> Option<Doubt> {
    if !is_measured(s.role) || s.role == Role::PumpSpeed {
        return None;
    }
    let mut valid: Vec<f64> = s.values.iter().copied().filter(|v| v.is_finite()).collect();
    let (high, low) = (quantile_of(&mut valid, 0.95)?, quantile_of(&mut valid, 0.05)?);
    let span = high - low;
    let least = if s.unit == "degC" { LEAST_K } else { LEAST_PART * high.abs() };
    let stands_off = (STANDS_OFF * span).max(least);
    let v = &s.values;
    let is_spike = |i: usize| {
        let (a, b) = (v[i] - v[i - 1], v[i] - v[i + 1]);
        a * b > 0.0 && a.abs().min(b.abs()) > stands_off && (a - b).abs() < AGREE * span && calm(i)
    };
    if !(span > 0.0) || clock.len < 3 {
        return None;
    }
    let spikes: Vec<usize> = (1..clock.len - 1).filter(|&i| is_spike(i)).collect();
    let valid = valid.len();
    let share = spikes.len() as f64 / valid as f64;
    if spikes.len() < LEAST || share < SHARE {
        return None;
    }
    let why = format!(
        "{} of {valid} readings stand alone, off both neighbours by more than {stands_off:.2} {} while nothing else changes; they were removed",
        spikes.len(),
        s.unit
    );
    let ends = (spikes[0], spikes[spikes.len() - 1]);
    let doubt = Doubt {
        removed: true,
        confidence: (0.75 + 2.0 * share).min(0.9),
        sign: Some(sign(share)),
        why,
        was: kept(s, true),
        ..Doubt::of(clock, s, Kind::Outliers, ends, spikes.len())
    };
    spikes.into_iter().for_each(|i| s.values[i] = f64::NAN);
    Some(doubt)
}
