//! A cubic through given points that rises and falls only where the points do.
//!
//! Comes in: knots, x ascending. Goes out: value, slope, and every x at which a value is met. Outside the knots there is
//! no answer. The decision a reader would question: this cubic rather than a natural spline, since a spline swings
//! above and below pump tables (at flow 10 of the example it reads 0.24 % higher).
//! Source: Fritsch and Carlson, *Monotone Piecewise Cubic Interpolation*, SIAM J. Numer. Anal. 17 (1980) 238; slopes by the
//! weighted harmonic mean of Fritsch and Butland (SIAM J. Sci. Stat. Comput. 5 (1984) 300), end slopes by the one-sided
//! three-point formula, as in scipy's `PchipInterpolator`.

/// Why knots make no curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum KnotError {
    /// Different counts of x and y.
    #[error("{x} x values but {y} y values: each x needs one y")]
    Counts { x: usize, y: usize },
    /// Fewer than two knots.
    #[error("{0} points: a curve needs at least 2")]
    TooFew(usize),
    /// A missing or infinite number.
    #[error("point {0} (counted from 1) is not a finite number")]
    NotFinite(usize),
    /// x not ascending.
    #[error("point {0} (counted from 1) does not lie to the right of the one before")]
    NotAscending(usize),
}

/// A piecewise cubic, one a curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Pchip {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
}

impl Pchip {
    /// Through the points `(x, y)`; x strictly ascending, at least two of them, all finite.
    ///
    /// ```
    /// use offcurve::hydraulics::pchip::Pchip;
    /// let head = Pchip::new(&[0.0, 25.0, 50.0, 75.0, 100.0], &[30.0, 29.5, 27.0, 21.5, 12.0]).unwrap();
    /// // scipy 1.17.1 PchipInterpolator
    /// assert!((head.value(37.5).unwrap() - 28.5755208333).abs() < 1e-9);
    /// assert_eq!(head.value(100.1), None);
    /// ```
    pub fn new(x: &[f64], y: &[f64]) -> Result<Self, KnotError> {
        check(x, y)?;
        let slope = slopes(x, y);
        Ok(Self { x: x.to_vec(), y: y.to_vec(), slope })
    }

    /// Value at `x`; `None` outside the knots.
    #[must_use]
    pub fn value(&self, x: f64) -> Option<f64> {
        self.value_and_slope(x).map(|(value, _)| value)
    }

    /// Value and slope at `x`; `None` outside the knots.
    #[must_use]
    pub fn value_and_slope(&self, x: f64) -> Option<(f64, f64)> {
        (self.first_x() <= x && x <= self.last_x()).then(|| self.piece_at(x))
    }

    /// Value at `x`, and beyond the knots that of the nearest knot. NaN stays NaN.
    #[must_use]
    pub fn value_clamped(&self, x: f64) -> f64 {
        if x.is_nan() { f64::NAN } else { self.piece_at(x.clamp(self.first_x(), self.last_x())).0 }
    }

    /// Every x, ascending, at which the curve has the value `y`. Where it lies at `y` over a stretch, the stretch's ends.
    ///
    /// ```
    /// use offcurve::hydraulics::pchip::Pchip;
    /// let power = Pchip::new(&[0.0, 25.0, 50.0, 75.0, 100.0], &[2.0, 3.2, 4.0, 4.15, 3.9]).unwrap();
    /// // scipy 1.17.1, PchipInterpolator.solve(4.0): a power curve that falls again has two.
    /// let roots = power.roots(4.0);
    /// assert!((roots[0] - 50.0).abs() < 1e-9 && (roots[1] - 93.909734).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn roots(&self, y: f64) -> Vec<f64> {
        let mut out: Vec<f64> = Vec::new();
        if !y.is_finite() {
            return out;
        }
        let mut keep = |x: f64| {
            if out.last().is_none_or(|&last| x > last) {
                out.push(x);
            }
        };
        for i in 0..self.x.len() - 1 {
            let (low, high) = (self.y[i] - y, self.y[i + 1] - y);
            if low == 0.0 {
                keep(self.x[i]);
            }
            if low * high < 0.0 {
                keep(self.crossing(i, y));
            }
            if high == 0.0 {
                keep(self.x[i + 1]);
            }
        }
        out
    }

    /// The knots' x, ascending.
    #[must_use]
    pub fn knots(&self) -> &[f64] {
        &self.x
    }

    /// The knots' y.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.y
    }

    /// Left end.
    #[must_use]
    pub fn first_x(&self) -> f64 {
        self.x[0]
    }

    /// Right end.
    #[must_use]
    pub fn last_x(&self) -> f64 {
        self.x[self.x.len() - 1]
    }

    /// Value and slope of the piece that holds `x`, which must lie within the knots.
    fn piece_at(&self, x: f64) -> (f64, f64) {
        let i = self.x.partition_point(|&k| k <= x).clamp(1, self.x.len() - 1) - 1;
        self.piece(i, x)
    }

    fn piece(&self, i: usize, x: f64) -> (f64, f64) {
        let h = self.x[i + 1] - self.x[i];
        let t = (x - self.x[i]) / h;
        let secant = (self.y[i + 1] - self.y[i]) / h;
        let (left, right) = (self.slope[i], self.slope[i + 1]);
        // Hermite in powers of t: y = y0 + h (left t + b t^2 + a t^3).
        let b = 3.0 * secant - 2.0 * left - right;
        let a = left + right - 2.0 * secant;
        (self.y[i] + h * t * (left + t * (b + t * a)), left + t * (2.0 * b + 3.0 * a * t))
    }

    /// The one crossing of a monotone piece whose ends lie on either side of `y`: Newton's steps, kept within a bracket.
    fn crossing(&self, i: usize, y: f64) -> f64 {
        let rising = self.y[i + 1] > self.y[i];
        let (mut low, mut high) = (self.x[i], self.x[i + 1]);
        let mut x = low + (high - low) * (y - self.y[i]) / (self.y[i + 1] - self.y[i]);
        // 60 halvings of a bracket exhaust an f64 mantissa; Newton needs five or six.
        for _ in 0..60 {
            let (value, slope) = self.piece(i, x);
            if (value > y) == rising {
                high = x;
            } else {
                low = x;
            }
            let step = x - (value - y) / slope;
            let next = if low < step && step < high { step } else { 0.5 * (low + high) };
            if (next - x).abs() <= 1e-14 * (self.x[i + 1] - self.x[i]) {
                return next;
            }
            x = next;
        }
        x
    }
}

fn check(x: &[f64], y: &[f64]) -> Result<(), KnotError> {
    if x.len() != y.len() {
        return Err(KnotError::Counts { x: x.len(), y: y.len() });
    }
    if x.len() < 2 {
        return Err(KnotError::TooFew(x.len()));
    }
    if let Some(i) = (0..x.len()).find(|&i| !x[i].is_finite() || !y[i].is_finite()) {
        return Err(KnotError::NotFinite(i + 1));
    }
    match (1..x.len()).find(|&i| x[i] <= x[i - 1]) {
        Some(i) => Err(KnotError::NotAscending(i + 1)),
        None => Ok(()),
    }
}

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    let h: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let secant: Vec<f64> = (0..n - 1).map(|i| (y[i + 1] - y[i]) / h[i]).collect();
    if n == 2 {
        return vec![secant[0]; 2];
    }
    let mut out = vec![end_slope(h[0], h[1], secant[0], secant[1])];
    for i in 1..n - 1 {
        out.push(inner_slope(h[i - 1], h[i], secant[i - 1], secant[i]));
    }
    out.push(end_slope(h[n - 2], h[n - 3], secant[n - 2], secant[n - 3]));
    out
}

/// Zero at a turning point, else the weighted harmonic mean of the secants on either side.
fn inner_slope(h_left: f64, h_right: f64, left: f64, right: f64) -> f64 {
    if left * right <= 0.0 {
        return 0.0;
    }
    let (w_left, w_right) = (2.0 * h_right + h_left, h_right + 2.0 * h_left);
    (w_left + w_right) / (w_left / left + w_right / right)
}

/// One-sided three-point slope, held back where it would overshoot.
fn end_slope(h_near: f64, h_far: f64, near: f64, far: f64) -> f64 {
    let slope = ((2.0 * h_near + h_far) * near - h_near * far) / (h_near + h_far);
    if slope * near <= 0.0 {
        0.0
    } else if near * far <= 0.0 && slope.abs() > 3.0 * near.abs() {
        3.0 * near
    } else {
        slope
    }
}
