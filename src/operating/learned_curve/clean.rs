//! Metered rows made fit to learn from: usable, without outliers, within the range that was really seen, weighed.
//!
//! A meter's noise in the flow would flatten a curve fitted to single rows, and worse: where speed follows flow, the noiseless
//! speed would take the credit that flow deserves. So rows are averaged first in groups that know nothing of that noise: of
//! like speed, and of like power where head is fitted, of like head where power is (grouping by an instrument; Wald, *Annals of
//! Mathematical Statistics* 11 (1940) 284, from memory).

use super::fit::{MAD, Polynomial, Span, median, quantile};
use super::power::{Kind, Law};
use super::{Metered, MotorFacts, NotLearned, ROWS_MIN, Seen};

/// Speeds below this share of rated are a pump that starts or stands [-].
const SPEED_MIN: f64 = 0.1;
/// Share of rows beyond each end of the range: a handful must have been seen there.
const TAIL: f64 = 0.005;
/// The lowest flow must lie this share below the highest, for the two to be different places of the curve.
const WIDTH_MIN: f64 = 0.25;
/// How far past the tails rows are tried at all, share of the range.
const MARGIN: f64 = 0.1;
/// Rows that miss the rough curve by more standard deviations are outliers: of a thousand sound rows none is.
const FAR: f64 = 5.0;
/// No scatter is taken to be less than this [-]: steps of the readings.
const SCATTER_MIN: f64 = 0.002;
/// Rows for the rough curve.
const ROUGH_ROWS: usize = 2000;
/// Bins in which scatter is measured apart: the meter's noise counts for more where the curve is steep.
const SCATTER_BINS: usize = 8;
/// Bins that must be seen, each by a few rows, and how many of them.
const PLACES: usize = 12;
const PLACES_MIN: usize = 5;
const PLACE_ROWS: usize = 3;
/// So many empty bins side by side are a gap that only a parabola may span; half of all is no curve.
const GAP: usize = 3;
/// Rows averaged lie in one such bin of speed [-].
const ALIKE_SPEED: f64 = 0.01;
/// Spread of flow in a group, over the range [-]: two to three times a meter's noise.
const SPREAD_MAX: f64 = 0.05;
/// Groups that rows are averaged to, or some more: ten and more to each place of the curve.
const GROUPS: usize = 120;
/// Bins of flow whose rows share a model error, and its variance over a row's noise: a fifth to a quarter of the noise.
const SHARING_BINS: usize = 20;
const SHARED: f64 = 0.06;
/// Bins of flow in which a day's mean miss is taken.
const ERROR_BINS: usize = 10;

/// Rows that have flow, speed, and head or power, in order of time.
pub(super) fn usable(rows: &[Metered], rows_a_day: usize) -> Result<Vec<Seen>, NotLearned> {
    let with_flow: Vec<&Metered> = rows.iter().filter(|r| r.flow_m3h > 0.0 && r.flow_m3h.is_finite()).collect();
    if with_flow.is_empty() {
        return Err(NotLearned::NothingWithFlow);
    }
    let turning: Vec<&Metered> = with_flow.into_iter().filter(|r| r.speed > SPEED_MIN && r.speed.is_finite()).collect();
    if turning.is_empty() {
        return Err(NotLearned::NoSpeed);
    }
    let positive = |v: f64| if v > 0.0 && v.is_finite() { v } else { f64::NAN };
    let mut seen: Vec<(usize, Seen)> = turning
        .iter()
        .map(|r| {
            let row = Seen {
                speed: r.speed,
                q: r.flow_m3h / r.speed,
                density: if r.density > 0.0 && r.density.is_finite() { r.density } else { 1.0 },
                head: positive(r.head_kpa),
                power: positive(r.power_kw),
                n: 1.0,
                day: r.time_index / rows_a_day.max(1),
                weight: 1.0,
            };
            (r.time_index, row)
        })
        .filter(|(_, r)| r.head.is_finite() || r.power.is_finite())
        .collect();
    if seen.is_empty() {
        return Err(NotLearned::NeitherHeadNorPower);
    }
    if seen.len() < ROWS_MIN {
        return Err(NotLearned::TooFewRows { rows: seen.len(), needed: ROWS_MIN });
    }
    seen.sort_by_key(|r| r.0);
    Ok(seen.into_iter().map(|r| r.1).collect())
}

/// Rows that lie near a rough curve of their own.
pub(super) fn without_outliers(rows: &[Seen], motor: &MotorFacts) -> Vec<Seen> {
    let flows: Vec<f64> = rows.iter().map(|r| r.q).collect();
    let (from, to) = (quantile(&flows, TAIL), quantile(&flows, 1.0 - TAIL));
    let margin = MARGIN * (to - from);
    if !(margin > 0.0) {
        return rows.to_vec();
    }
    let span = Span { from: (from - margin).max(0.0), to: to + margin };
    let within: Vec<Seen> = rows.iter().filter(|r| span.holds(r.q)).copied().collect();
    let some: Vec<Seen> = within.iter().step_by(within.len().div_ceil(ROUGH_ROWS).max(1)).copied().collect();
    let heads: Vec<[f64; 3]> = some
        .iter()
        .filter(|r| r.head.is_finite())
        .map(|r| [r.q, r.head / (r.density * r.speed.powi(2)), 1.0])
        .collect();
    let head = Polynomial::robust(&heads, &span, 3);
    let law = Law::fit(&some, &span, 3, Kind::Own, None, motor);
    let misses = |r: &Seen| {
        let of_head = head.as_ref().map_or(f64::NAN, |h| r.head / (r.density * r.speed.powi(2) * h.at(r.q)) - 1.0);
        let of_power = law.as_ref().map_or(f64::NAN, |l| r.power / l.shown_kw(r.q, r.speed, r.density) - 1.0);
        [of_head, of_power]
    };
    let all: Vec<[f64; 2]> = within.iter().map(misses).collect();
    let scatter = [scatter(&within, &all, &span, 0), scatter(&within, &all, &span, 1)];
    let far = |r: &Seen, m: &[f64; 2]| {
        let bin = span.bin(r.q, SCATTER_BINS);
        (0..2).any(|k| {
            let (middle, sd) = scatter[k][bin];
            (m[k] - middle).abs() > FAR * sd
        })
    };
    within.iter().zip(&all).filter(|(r, m)| !far(r, m)).map(|(r, _)| *r).collect()
}

/// Median miss and standard deviation in each bin of flow, of head (0) or power (1).
fn scatter(rows: &[Seen], misses: &[[f64; 2]], span: &Span, of: usize) -> Vec<(f64, f64)> {
    let about = |values: &[f64]| {
        let middle = median(values);
        let sd = MAD * median(&values.iter().map(|v| (v - middle).abs()).collect::<Vec<_>>());
        (middle, sd.max(SCATTER_MIN))
    };
    let in_bin = |bin: Option<usize>| -> Vec<f64> {
        rows.iter()
            .zip(misses)
            .filter(|(r, m)| m[of].is_finite() && bin.is_none_or(|b| span.bin(r.q, SCATTER_BINS) == b))
            .map(|(_, m)| m[of])
            .collect()
    };
    let overall = about(&in_bin(None));
    // A handful of rows has no scatter of its own.
    (0..SCATTER_BINS).map(|b| Some(in_bin(Some(b))).filter(|v| v.len() >= 10).map_or(overall, |v| about(&v))).collect()
}

/// The flows at full speed that were seen.
pub(super) fn span(rows: &[Seen]) -> Result<Span, NotLearned> {
    let flows = |of: fn(&Seen) -> f64| -> Vec<f64> { rows.iter().filter(|r| of(r).is_finite()).map(|r| r.q).collect() };
    // Where both head and power were trended for long enough, the range that both saw.
    let (mut from, mut to) = (0.0_f64, f64::INFINITY);
    for seen in [flows(|r| r.head), flows(|r| r.power)].iter().filter(|f| f.len() >= ROWS_MIN) {
        from = from.max(quantile(seen, TAIL));
        to = to.min(quantile(seen, 1.0 - TAIL));
    }
    if !to.is_finite() {
        return Err(NotLearned::TooFewRows { rows: rows.len(), needed: ROWS_MIN });
    }
    if !(to - from >= WIDTH_MIN * to) {
        return Err(NotLearned::TooNarrow { from_m3h: from.min(to), to_m3h: to });
    }
    Ok(Span { from, to })
}

/// The highest degree that the flows seen can carry.
pub(super) fn degree(rows: &[Seen], span: &Span) -> Result<usize, NotLearned> {
    let mut counts = [0; PLACES];
    for row in rows {
        counts[span.bin(row.q, PLACES)] += 1;
    }
    let seen = counts.map(|n| n >= PLACE_ROWS);
    let gap = seen.chunk_by(|a, b| a == b).filter(|run| !run[0]).map(<[bool]>::len).max().unwrap_or(0);
    let places = seen.iter().filter(|s| **s).count();
    if places < PLACES_MIN || gap >= PLACES / 2 {
        return Err(NotLearned::TooNarrow { from_m3h: span.from, to_m3h: span.to });
    }
    Ok(if gap >= GAP { 2 } else { (places - 2).min(4) })
}

/// Means of rows of like speed and like witness: of power where head is fitted, of head where power is; where it was not trended, of
/// rows near in time.
pub(super) fn means(rows: &[Seen], span: &Span, witness: fn(&Seen) -> f64) -> Vec<Seen> {
    let most = (rows.len() / GROUPS).max(1);
    let mut keyed: Vec<(usize, f64, Seen)> = rows
        .iter()
        .map(|r| ((r.speed / ALIKE_SPEED) as usize, witness(r) / (r.density * r.speed.powi(2)), *r))
        .collect();
    // Stable: where the witness is missing, the order is that of time.
    keyed.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut out = Vec::new();
    for alike in keyed.chunk_by(|a, b| a.0 == b.0) {
        // Groups of one size, so that none is left with a single row.
        let size = alike.len().div_ceil((alike.len() / most).max(1));
        for group in alike.chunks(size) {
            let group: Vec<Seen> = group.iter().map(|k| k.2).collect();
            out.extend(close(group, span).iter().map(|g| mean(g)));
        }
    }
    weigh(&mut out, span);
    out
}

/// A group whose flows differ by more than the meter's noise would be cut across the curve's bend: it is parted by flow.
fn close(mut group: Vec<Seen>, span: &Span) -> Vec<Vec<Seen>> {
    let middle = group.iter().map(|r| r.q).sum::<f64>() / group.len() as f64;
    let square = group.iter().map(|r| (r.q - middle).powi(2)).sum::<f64>() / group.len() as f64;
    if square.sqrt() <= SPREAD_MAX * (span.to - span.from) {
        return vec![group];
    }
    let bin = |r: &Seen| span.bin(r.q, SHARING_BINS);
    group.sort_by_key(bin);
    group.chunk_by(|a, b| bin(a) == bin(b)).map(<[Seen]>::to_vec).collect()
}

fn mean(rows: &[Seen]) -> Seen {
    let of = |f: &dyn Fn(&Seen) -> f64| {
        let values: Vec<f64> = rows.iter().map(f).filter(|v| v.is_finite()).collect();
        values.iter().sum::<f64>() / values.len() as f64
    };
    let (speed, density) = (of(&|r| r.speed), of(&|r| r.density));
    Seen {
        speed,
        density,
        q: of(&|r| r.q),
        head: of(&|r| r.head / (r.density * r.speed.powi(2))) * density * speed.powi(2),
        power: of(&|r| r.power / (r.density * r.speed.powi(3))) * density * speed.powi(3),
        n: rows.len() as f64,
        ..rows[0]
    }
}

/// Weighs means by their rows, less where many share one flow.
fn weigh(means: &mut [Seen], span: &Span) {
    let mut counts = [0.0; SHARING_BINS];
    for m in means.iter() {
        counts[span.bin(m.q, SHARING_BINS)] += m.n;
    }
    for m in means {
        m.weight = m.n / (1.0 + SHARED * counts[span.bin(m.q, SHARING_BINS)]);
    }
}

/// Days on which rows lie.
pub(super) fn days(rows: &[Seen]) -> usize {
    let mut days: Vec<usize> = rows.iter().map(|r| r.day).collect();
    days.dedup();
    days.len()
}

/// Misses parted in two standard deviations [-]: what a day's rows of like flow have in common, and what scatters about it.
pub(super) fn parts_of_error(seen: &[(&Seen, f64)], span: &Span) -> (f64, f64) {
    let mut keyed: Vec<(usize, usize, f64)> =
        seen.iter().map(|(r, m)| (span.bin(r.q, ERROR_BINS), r.day, *m)).collect();
    keyed.sort_by_key(|k| (k.0, k.1));
    let (mut sum, mut total) = (0.0, 0.0);
    let (mut squares, mut free) = (0.0, 0.0);
    for bin in keyed.chunk_by(|a, b| a.0 == b.0) {
        let groups: Vec<Vec<f64>> = bin.chunk_by(|a, b| a.1 == b.1).map(|g| g.iter().map(|k| k.2).collect()).collect();
        let mean = |g: &[f64]| g.iter().sum::<f64>() / g.len() as f64;
        let inner: f64 = groups.iter().map(|g| g.iter().map(|v| (v - mean(g)).powi(2)).sum::<f64>()).sum();
        let degrees = (bin.len() - groups.len()) as f64;
        squares += inner;
        free += degrees;
        // A bin without two rows on any day cannot tell its noise from its error.
        if degrees < 1.0 {
            continue;
        }
        for g in &groups {
            let n = g.len() as f64;
            let w = n / (n + ENOUGH);
            sum += w * (mean(g).powi(2) - inner / degrees / n);
            total += w;
        }
    }
    let noise = if free > 0.0 { (squares / free).sqrt() } else { 0.0 };
    let error = if total > 0.0 { (sum / total).max(0.0).sqrt() } else { 0.0 };
    (error, noise)
}

/// Rows of a group that make its mean half as good as it can get.
const ENOUGH: f64 = 4.0;
