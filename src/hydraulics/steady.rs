//! Is a signal at rest? The ratio of two variances, one about a filtered mean and one between neighbours.
//!
//! Comes in: a column at even spacing, NaN where missing. Goes out: the ratio R for each row. R is near 1 at rest and
//! grows while the signal moves. The decision a reader would question: the filter restarts after a gap, since what
//! happened in it is not known; the first row of each stretch has no ratio. It sees no unit and sets no rule.
//! Source: Cao and Rhinehart, *An efficient method for on-line identification of steady state*, J. Process Control 5
//! (1995) 363; critical values, J. Process Control 7 (1997) 149.

/// R above which, with filter factors 0.2, 0.1, 0.1, rest is rejected at 5 % error: 95th percentile of 2 million
/// independent normal values (own computation, repeated by `tests/reference/make_reference.py`).
pub const CRITICAL_95: f64 = 1.435;

/// Filter factors \[-\] for which [`CRITICAL_95`] holds: of the mean, of the variance about it, of the differences.
pub const FACTORS: (f64, f64, f64) = (0.2, 0.1, 0.1);

/// R \[-\] of each row of `values`, for filter factors in (0, 1]. NaN in the first row of each unbroken stretch, in gaps, and
/// as long as every value of the stretch was the same (0/0: a signal that never moved shows no noise to compare with).
///
/// ```
/// use offcurve::hydraulics::steady::ratio;
/// let r = ratio(&[10.0, 10.2, 9.9], 0.2, 0.1, 0.1);
/// // By hand: second row, (2 - 0.2) * 0.1 * 0.2^2 / (0.1 * 0.2^2) = 1.8.
/// assert!((r[1] - 1.8).abs() < 1e-12 && r[0].is_nan());
/// ```
#[must_use]
pub fn ratio(values: &[f64], of_mean: f64, of_variance: f64, of_difference: f64) -> Vec<f64> {
    let mut out = vec![f64::NAN; values.len()];
    let (mut mean, mut last) = (f64::NAN, f64::NAN);
    let (mut variance, mut difference) = (0.0, 0.0);
    for (r, &x) in out.iter_mut().zip(values) {
        if !x.is_finite() {
            last = f64::NAN;
            continue;
        }
        if last.is_nan() {
            (mean, last, variance, difference) = (x, x, 0.0, 0.0);
            continue;
        }
        variance += of_variance * ((x - mean).powi(2) - variance);
        mean += of_mean * (x - mean);
        difference += of_difference * ((x - last).powi(2) - difference);
        last = x;
        *r = (2.0 - of_mean) * variance / difference;
    }
    out
}
