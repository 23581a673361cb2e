//! A power of a relative speed, by table, where millions are asked.
//!
//! Comes in: an exponent once, then numbers. Goes out: the number raised to it, straight between knots: for exponents from -0.1 to 1.3 to 2e-5 of itself from `FROM` to `TO`, to 1e-6 above a third; outside
//! the platform's own function answers. What a formula says of speed stays with the formula; here is only its arithmetic.

/// Least and largest number of the table \[-\].
const FROM: f64 = 0.05;
const TO: f64 = 1.5;
const KNOTS_A_UNIT: f64 = 1024.0;

/// Numbers raised to one exponent.
#[derive(Debug, Clone)]
pub struct Raised {
    exponent: f64,
    knots: Vec<f64>,
}

impl Raised {
    /// A table for `exponent` \[-\].
    #[must_use]
    pub fn to(exponent: f64) -> Self {
        let knots = (0..=(TO * KNOTS_A_UNIT) as usize + 1).map(|i| (i as f64 / KNOTS_A_UNIT).powf(exponent));
        Self { exponent, knots: knots.collect() }
    }

    /// `x` \[-\] raised.
    ///
    /// ```
    /// use offcurve::hydraulics::raised::Raised;
    /// // 0.25 to the half is a half, and 0.5 to -1 is two; between knots it is near.
    /// assert_eq!(Raised::to(0.5).of(0.25), 0.5);
    /// assert_eq!(Raised::to(-1.0).of(0.5), 2.0);
    /// assert!((Raised::to(1.3).of(0.333_333) / 0.333_333f64.powf(1.3) - 1.0).abs() < 1e-6);
    /// ```
    #[must_use]
    #[inline]
    pub fn of(&self, x: f64) -> f64 {
        if !(FROM..=TO).contains(&x) {
            return x.powf(self.exponent);
        }
        let at = x * KNOTS_A_UNIT;
        let i = at as usize;
        self.knots[i] + (at - i as f64) * (self.knots[i + 1] - self.knots[i])
    }
}
