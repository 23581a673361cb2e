//! How sure a sum of days is when neighbouring days err alike.
//!
//! The errors of days follow e(t) = r e(t - 1) + noise. r is not known well from some weeks, and the residuals of a fit show less of it than there is, so no
//! single value is taken: every r on a grid counts by its restricted likelihood (which allows for the parameters fitted), with all r as likely beforehand.
//! A saving is a sum of weights times readings, before and after, so for each r its variance is exact, gaps and interleaved weeks included; given r it is a t
//! variable, and the interval is that of the mixture. The effective number n' = n (1 - r) / (1 + r) is the same variance where all weights are alike.
//!
//! Source: restricted likelihood, Patterson and Thompson, Biometrika 58 (1971) 545; errors of first order, Cochrane and Orcutt, JASA 44 (1949) 32; n', Reddy and Claridge,
//! HVAC&R Research 6 (2000) 3 (all from memory). That the intervals hold is a test of ours (`tests/it/verify_calibration.rs`).

use super::least_squares::{self, Fit};
use crate::faults::Estimate;
use crate::hydraulics::student;

/// Autocorrelations of neighbouring days that are weighed [-]: least, step, how many.
const LEAST_R: f64 = -0.3;
const STEP_R: f64 = 0.02;
const COUNT_R: u32 = 65;
/// An r with less of the weight than this changes no printed digit [-].
const NO_WEIGHT: f64 = 1e-4;
/// Noise below this share of a day's energy is not believed: meters resolve no better (common practice, no source) [-].
pub(super) const LEAST_NOISE: f64 = 1e-4;

/// One autocorrelation that may be.
#[derive(Debug, Clone)]
pub struct Possible {
    pub r: f64,
    /// Probability; all add up to one.
    pub weight: f64,
    /// Standard deviation of a day's error [kWh].
    pub sigma: f64,
    /// The fit with the errors made independent.
    pub fit: Fit,
}

/// All of them.
#[derive(Debug, Clone)]
pub struct Errors {
    pub possible: Vec<Possible>,
    /// Days less parameters.
    pub freedom: f64,
}

impl Errors {
    /// From days in order (days since any), their energy, and the columns it was fitted with, levels included. `None` where nothing is left over to judge by.
    #[must_use]
    pub fn new(day: &[i64], y: &[f64], columns: &[Vec<f64>]) -> Option<Self> {
        let scale = y.iter().map(|v| v.abs()).sum::<f64>() / y.len().max(1) as f64;
        let floor = y.len() as f64 * (LEAST_NOISE * scale).powi(2);
        let mut found: Vec<(f64, Possible)> = Vec::new();
        let mut freedom = 0.0;
        for k in 0..COUNT_R {
            let r = LEAST_R + STEP_R * f64::from(k);
            let Some((fit, log_v)) = generalised(day, y, columns, r) else { continue };
            if fit.n <= fit.p {
                return None;
            }
            freedom = (fit.n - fit.p) as f64;
            let sse = fit.sse.max(floor).max(f64::MIN_POSITIVE);
            let log = -0.5 * (log_v + fit.log_determinant() + freedom * sse.ln());
            found.push((log, Possible { r, weight: 0.0, sigma: (sse / freedom).sqrt(), fit }));
        }
        let most = found.iter().map(|(l, _)| *l).fold(f64::NEG_INFINITY, f64::max);
        let mut possible: Vec<Possible> =
            found.into_iter().map(|(l, p)| Possible { weight: (l - most).exp(), ..p }).collect();
        possible.retain(|p| p.weight > NO_WEIGHT);
        let all: f64 = possible.iter().map(|p| p.weight).sum();
        possible.iter_mut().for_each(|p| p.weight /= all);
        (!possible.is_empty()).then_some(Self { possible, freedom })
    }

    /// Mean of what each possible r says.
    #[must_use]
    pub fn mean(&self, of: impl Fn(&Possible) -> f64) -> f64 {
        self.possible.iter().map(|p| p.weight * of(p)).sum()
    }

    /// What each possible r says of something: its centre and standard error.
    pub(super) fn told(&self, of: impl Fn(&Possible) -> (f64, f64)) -> Mixture {
        let part = |p: &Possible| {
            let (centre, error) = of(p);
            Part { weight: p.weight, centre, error, freedom: self.freedom }
        };
        Mixture(self.possible.iter().map(part).collect())
    }
}

/// A t variable that counts with a weight.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    pub weight: f64,
    pub centre: f64,
    pub error: f64,
    pub freedom: f64,
}

/// What is believed of one number: t variables, each with its weight.
#[derive(Debug, Clone, Default)]
pub(super) struct Mixture(Vec<Part>);

impl Mixture {
    /// Adds another, which counts with `weight`.
    pub fn add(&mut self, weight: f64, other: &Self) {
        self.0.extend(other.0.iter().map(|p| Part { weight: weight * p.weight, ..*p }));
    }

    /// The best value.
    pub fn mean(&self) -> f64 {
        let all: f64 = self.0.iter().map(|p| p.weight).sum();
        self.0.iter().map(|p| p.weight * p.centre).sum::<f64>() / all
    }

    /// Best value and 95 % interval.
    pub fn estimate(&self) -> Estimate {
        let mut tables: Vec<Table> = Vec::new();
        let mut of = Vec::with_capacity(self.0.len());
        for part in &self.0 {
            let known = tables.iter().position(|t| t.freedom == part.freedom);
            of.push(known.unwrap_or(tables.len()));
            if known.is_none() {
                tables.push(Table::new(part.freedom));
            }
        }
        let all: f64 = self.0.iter().map(|p| p.weight).sum();
        let below = |v: f64| {
            let one =
                |(p, k): (&Part, &usize)| p.weight * tables[*k].below((v - p.centre) / p.error.max(f64::MIN_POSITIVE));
            self.0.iter().zip(&of).map(one).sum::<f64>() / all
        };
        let ends = |sign: f64| self.0.iter().zip(&of).map(move |(p, k)| (p, *k, sign));
        let low = ends(-1.0).map(|(p, k, s)| p.centre + s * tables[k].most() * p.error).fold(f64::INFINITY, f64::min);
        let high =
            ends(1.0).map(|(p, k, s)| p.centre + s * tables[k].most() * p.error).fold(f64::NEG_INFINITY, f64::max);
        let at = |share: f64| {
            let (mut low, mut high) = (low, high);
            for _ in 0..50 {
                let middle = 0.5 * (low + high);
                if below(middle) < share { low = middle } else { high = middle }
            }
            0.5 * (low + high)
        };
        Estimate { estimate: self.mean(), low: at(0.025), high: at(0.975) }
    }
}

/// Student's t tabulated: a mixture asks for it some hundred thousand times.
struct Table {
    freedom: f64,
    /// Probability between zero and so many steps.
    inside: Vec<f64>,
}

impl Table {
    /// Width of a step [-]: read between them in a line, the error is below 1e-5.
    const STEP: f64 = 0.01;
    /// What is outside the table.
    const OUTSIDE: f64 = 1e-5;

    fn new(freedom: f64) -> Self {
        let most = student::quantile(1.0 - Self::OUTSIDE, freedom).min(100.0);
        let density = |t: f64| (1.0 + t * t / freedom).powf(-0.5 * (freedom + 1.0));
        let steps = (most / Self::STEP).ceil() as usize;
        let mut inside = vec![0.0];
        for k in 0..steps {
            let t = Self::STEP * k as f64;
            let strip = density(t) + 4.0 * density(t + 0.5 * Self::STEP) + density(t + Self::STEP);
            inside.push(inside[k] + strip);
        }
        let whole = inside[steps] / (student::below(Self::STEP * steps as f64, freedom) - 0.5);
        inside.iter_mut().for_each(|v| *v /= whole);
        Self { freedom, inside }
    }

    fn most(&self) -> f64 {
        Self::STEP * (self.inside.len() - 1) as f64
    }

    fn below(&self, t: f64) -> f64 {
        let last = self.inside.len() - 1;
        let at = (t.abs() / Self::STEP).min(last as f64);
        let k = (at as usize).min(last - 1);
        let inside = self.inside[k] + (at - k as f64) * (self.inside[k + 1] - self.inside[k]);
        0.5 + inside.copysign(t)
    }
}

/// Variance of a sum of weights times errors of unit variance whose autocorrelation from day to day is `r` [-]: weights in order of their days.
#[must_use]
pub fn variance(weights: &[(i64, f64)], r: f64) -> f64 {
    let (mut sum, mut before, mut last) = (0.0, 0.0, None);
    for (day, w) in weights {
        before *= last.map_or(0.0, |l| power(r, day - l));
        sum += w * (w + 2.0 * before);
        before += w;
        last = Some(*day);
    }
    sum.max(0.0)
}

/// The fit of columns (levels included) whose errors have the autocorrelation `r` [-] from day to day, gaps counted, and the logarithm of the determinant of
/// the errors' correlation. Its slopes are those of generalised least squares, its [`Fit::slope_error`] theirs too. `None` as for [`least_squares::fit`].
#[must_use]
pub fn generalised(day: &[i64], y: &[f64], columns: &[Vec<f64>], r: f64) -> Option<(Fit, f64)> {
    let (made, log_v) = independent(day, y, columns, r);
    Some((least_squares::fit(&made[0], &[], &made[1..])?, log_v))
}

/// Energy and columns with the errors made independent, of unit variance each, and the logarithm of the determinant of their correlation.
fn independent(day: &[i64], y: &[f64], columns: &[Vec<f64>], r: f64) -> (Vec<Vec<f64>>, f64) {
    let step: Vec<f64> = day.windows(2).map(|w| power(r, w[1] - w[0])).collect();
    let made = |c: &[f64]| {
        let rest = step.iter().enumerate().map(|(i, f)| (c[i + 1] - f * c[i]) / (1.0 - f * f).sqrt());
        c.first().copied().into_iter().chain(rest).collect::<Vec<f64>>()
    };
    let log_v = step.iter().map(|f| (1.0 - f * f).ln()).sum();
    (std::iter::once(y).chain(columns.iter().map(Vec::as_slice)).map(made).collect(), log_v)
}

fn power(r: f64, days: i64) -> f64 {
    r.powi(i32::try_from(days).unwrap_or(i32::MAX))
}
