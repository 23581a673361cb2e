//! When something began: the single step in a daily statistic that least squares likes best.
//!
//! The statistic may hang on other daily figures (load, supply temperature); the step is what they leave over. Its
//! standard error counts that neighbouring days resemble each other, n' = n (1 - r) / (1 + r) with r the lag-1
//! autocorrelation of the residuals (as for daily data in measurement and verification).

use super::fit::{Moments, solve};

/// A step in a daily series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Index of the first day after it.
    pub at: usize,
    /// After minus before, other things equal.
    pub size: f64,
    /// Mean over the days before it.
    pub before: f64,
    /// Size over its standard error, without sign.
    pub t: f64,
}

/// A step is believed from here on: among some hundred places to put it, pure noise reaches 4 now and then [-].
pub const BELIEVED: f64 = 6.0;
/// Noise below this share of the step is not believed: a perfect model of a few days is luck [-].
const LEAST_NOISE: f64 = 0.02;

/// Finds it. `y` one value a day, NaN unknown; `given` what it may hang on, one column each; `least` known days on
/// each side. `None` where there are too few days.
#[must_use]
pub fn step(y: &[f64], given: &[Vec<f64>], least: usize) -> Option<Step> {
    let daily = Daily::new(y, given, least)?;
    let places = least..=daily.known.len() - least;
    let (k, c, _) =
        places.filter_map(|k| fit(y, &daily, k).map(|(c, rss)| (k, c, rss))).min_by(|a, b| a.2.total_cmp(&b.2))?;
    Some(daily.told(y, k, &c))
}

/// The step on a day that another witness names: the same fit, nothing searched for. `None` where a side is too short.
#[must_use]
pub fn step_on(y: &[f64], given: &[Vec<f64>], least: usize, day: usize) -> Option<Step> {
    let daily = Daily::new(y, given, least)?;
    let k = daily.known.partition_point(|d| *d < day);
    if k < least || k + least > daily.known.len() {
        return None;
    }
    let (c, _) = fit(y, &daily, k)?;
    Some(daily.told(y, k, &c))
}

/// The days that count and what they may hang on.
struct Daily {
    known: Vec<usize>,
    given: Vec<Vec<f64>>,
    all: Moments,
}

impl Daily {
    fn new(y: &[f64], given: &[Vec<f64>], least: usize) -> Option<Self> {
        let known: Vec<usize> =
            (0..y.len()).filter(|d| y[*d].is_finite() && given.iter().all(|g| g[*d].is_finite())).collect();
        let enough = known.len() > 2 * least + given.len();
        enough.then(|| {
            let given = centred(given, &known);
            Self { all: without_step(y, &given, &known), given, known }
        })
    }

    fn told(&self, y: &[f64], k: usize, c: &[f64]) -> Step {
        let of = |(r, d): (usize, &usize)| y[*d] - predict(c, &self.given, *d, r >= k);
        let residual: Vec<f64> = self.known.iter().enumerate().map(of).collect();
        let before = self.known[..k].iter().map(|d| y[*d]).sum::<f64>() / k as f64;
        let t = c[1].abs() / standard_error(&residual, k, c.len(), c[1]);
        Step { at: self.known[k], size: c[1], before, t }
    }
}

/// Covariates less their mean and over their spread; ones that do not move are left out.
fn centred(given: &[Vec<f64>], known: &[usize]) -> Vec<Vec<f64>> {
    let n = known.len() as f64;
    let mut kept = Vec::new();
    for g in given {
        let mean = known.iter().map(|d| g[*d]).sum::<f64>() / n;
        let sd = (known.iter().map(|d| (g[*d] - mean).powi(2)).sum::<f64>() / n).sqrt();
        if sd > 1e-9 * mean.abs().max(1e-9) {
            kept.push(g.iter().map(|v| (v - mean) / sd).collect());
        }
    }
    kept
}

fn predict(c: &[f64], given: &[Vec<f64>], day: usize, after: bool) -> f64 {
    let level = if after { c[0] + c[1] } else { c[0] };
    given.iter().zip(&c[2..]).fold(level, |sum, (g, c)| sum + g[day] * c)
}

/// Sums of squares and products over the days, all but those of the step, which alone differ from place to place.
fn without_step(y: &[f64], given: &[Vec<f64>], known: &[usize]) -> Moments {
    let mut m = Moments::new(2 + given.len());
    let mut x = vec![0.0; 2 + given.len()];
    for d in known {
        x[0] = 1.0;
        x[2..].iter_mut().zip(given).for_each(|(x, g)| *x = g[*d]);
        m.add(&x, y[*d]);
    }
    m
}

fn fit(y: &[f64], daily: &Daily, k: usize) -> Option<(Vec<f64>, f64)> {
    let (given, known) = (&daily.given, &daily.known);
    let mut m = daily.all.clone();
    let after = |of: &dyn Fn(usize) -> f64| known[k..].iter().fold(0.0, |sum, d| sum + of(*d));
    let days = after(&|_| 1.0);
    (m.xx[0][1], m.xx[1][0], m.xx[1][1], m.xy[1]) = (days, days, days, after(&|d| y[d]));
    for (j, g) in given.iter().enumerate() {
        let sum = after(&|d| g[d]);
        (m.xx[1][j + 2], m.xx[j + 2][1]) = (sum, sum);
    }
    let c = solve(m.xx, m.xy)?;
    let rss = known.iter().enumerate().map(|(r, d)| (y[*d] - predict(&c, given, *d, r >= k)).powi(2)).sum();
    Some((c, rss))
}

fn standard_error(residual: &[f64], k: usize, parameters: usize, size: f64) -> f64 {
    let n = residual.len();
    let rss: f64 = residual.iter().map(|r| r * r).sum();
    let lagged: f64 = residual.windows(2).map(|w| w[0] * w[1]).sum();
    let alike = if rss > 0.0 { (lagged / rss).clamp(0.0, 0.9) } else { 0.0 };
    let variance = rss / n.saturating_sub(parameters).max(1) as f64 * (1.0 + alike) / (1.0 - alike);
    let sides = 1.0 / k as f64 + 1.0 / (n - k) as f64;
    (variance * sides).sqrt().max(LEAST_NOISE * size.abs()).max(f64::MIN_POSITIVE)
}
