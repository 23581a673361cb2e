//! Student's t: how many standard errors a 95 % interval of a few days' mean must reach.
//!
//! Comes in: a probability and degrees of freedom. Goes out: the quantile. With `t = sqrt(v) tan(a)` the density becomes a power of the cosine, so that
//! no gamma function is needed: Simpson's rule and halving do.
//! Source: Student, *The probable error of a mean*, Biometrika 6 (1908) 1 (from memory).

use std::f64::consts::FRAC_PI_2;

/// Strips of Simpson's rule.
const STRIPS: usize = 200;
/// Beyond so many degrees of freedom the quantile no longer moves in its third figure.
const MANY: f64 = 400.0;

/// The value that t with `freedom` degrees of freedom [-] stays below with probability `p` [-]; NaN outside 0 < p < 1 or for less than one degree.
///
/// ```
/// use offcurve::hydraulics::student::quantile;
/// // Any printed table: 12.706, 4.303, 2.228 at 1, 2 and 10 degrees for 97.5 %.
/// assert!((quantile(0.975, 1.0) - 12.706).abs() < 5e-3);
/// assert!((quantile(0.975, 2.0) - 4.303).abs() < 1e-3);
/// assert!((quantile(0.025, 10.0) + 2.228).abs() < 1e-3);
/// ```
#[must_use]
pub fn quantile(p: f64, freedom: f64) -> f64 {
    if !(p > 0.0 && p < 1.0 && freedom >= 1.0) {
        return f64::NAN;
    }
    let v = freedom.min(MANY);
    let share = (2.0 * p - 1.0).abs();
    let half = area(FRAC_PI_2, v);
    let (mut low, mut high) = (0.0, FRAC_PI_2);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if area(middle, v) < share * half { low = middle } else { high = middle }
    }
    (v.sqrt() * (0.5 * (low + high)).tan()).copysign(p - 0.5)
}

/// The probability with which t with `freedom` degrees of freedom [-] stays below a value [-]; NaN for less than one degree.
///
/// ```
/// use offcurve::hydraulics::student::below;
/// // The same table the other way round, and its middle.
/// assert!((below(2.228, 10.0) - 0.975).abs() < 1e-4);
/// assert!((below(0.0, 3.0) - 0.5).abs() < 1e-12);
/// ```
#[must_use]
pub fn below(t: f64, freedom: f64) -> f64 {
    if !(freedom >= 1.0) || t.is_nan() {
        return f64::NAN;
    }
    let v = freedom.min(MANY);
    0.5 + 0.5 * (area((t.abs() / v.sqrt()).atan(), v) / area(FRAC_PI_2, v)).copysign(t)
}

/// Area under the cosine's power from zero to `to`.
fn area(to: f64, v: f64) -> f64 {
    let step = to / STRIPS as f64;
    let at = |i: usize| (step * i as f64).cos().max(0.0).powf(v - 1.0);
    let inner: f64 = (1..STRIPS).map(|i| at(i) * if i % 2 == 1 { 4.0 } else { 2.0 }).sum();
    (at(0) + inner + at(STRIPS)) * step / 3.0
}
