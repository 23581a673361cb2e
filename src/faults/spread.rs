//! Order statistics that leave NaN out.

/// The value below which a share of the known values lies [-]; NaN where there are none.
pub(super) fn quantile(values: impl IntoIterator<Item = f64>, share: f64) -> f64 {
    let mut known: Vec<f64> = values.into_iter().filter(|v| v.is_finite()).collect();
    quantile_of(&mut known, share)
}

/// The same of values that are all known; leaves them in another order.
pub(super) fn quantile_of(known: &mut [f64], share: f64) -> f64 {
    if known.is_empty() {
        return f64::NAN;
    }
    let at = ((known.len() - 1) as f64 * share.clamp(0.0, 1.0)).round() as usize;
    *known.select_nth_unstable_by(at, f64::total_cmp).1
}

/// The middle of the known values.
pub(super) fn median(values: impl IntoIterator<Item = f64>) -> f64 {
    quantile(values, 0.5)
}

/// Mean of the known values; NaN where there are none.
pub(super) fn mean(values: impl IntoIterator<Item = f64>) -> f64 {
    let (mut n, mut sum) = (0.0, 0.0);
    for v in values.into_iter().filter(|v| v.is_finite()) {
        n += 1.0;
        sum += v;
    }
    if n > 0.0 { sum / n } else { f64::NAN }
}

/// Standard deviation of the known values.
pub(super) fn deviation(values: &[f64]) -> f64 {
    let centre = mean(values.iter().copied());
    mean(values.iter().map(|v| (v - centre) * (v - centre))).sqrt()
}
