//! A smooth curve through scattered points: a polynomial of low degree, deaf to outliers, and the shape a pump's head has.
//!
//! Legendre polynomials over the range keep the equations well conditioned. Weights fall to nothing for what lies far off
//! (Tukey's bisquare; Beaton and Tukey, *Technometrics* 16 (1974) 147, from memory).

use linfa_linalg::cholesky::SolveCInplace;
use ndarray::Array2;

/// A range of flow at full speed [m3/h].
#[derive(Debug, Clone, Copy)]
pub(super) struct Span {
    pub from: f64,
    pub to: f64,
}

impl Span {
    pub fn holds(&self, q: f64) -> bool {
        self.from <= q && q <= self.to
    }

    /// Evenly spaced flows from end to end.
    pub fn knots(&self, n: usize) -> Vec<f64> {
        (0..n).map(|i| self.from + (self.to - self.from) * i as f64 / (n - 1) as f64).collect()
    }

    /// Which of `n` equal parts holds `q`; the nearest for what lies outside.
    pub fn bin(&self, q: f64, n: usize) -> usize {
        (((q - self.from) / (self.to - self.from) * n as f64).max(0.0) as usize).min(n - 1)
    }

    /// Legendre polynomials of degree 0 to `degree` at `q`.
    pub fn basis(&self, q: f64, degree: usize) -> Vec<f64> {
        let u = 2.0 * (q - self.from) / (self.to - self.from) - 1.0;
        let mut p = vec![1.0, u];
        for k in 1..degree {
            p.push(((2 * k + 1) as f64 * u * p[k] - k as f64 * p[k - 1]) / (k + 1) as f64);
        }
        p.truncate(degree + 1);
        p
    }
}

/// One equation of a fit: what the unknowns multiply, what they should make, and its weight.
#[derive(Debug, Clone)]
pub(super) struct Equation {
    pub terms: Vec<f64>,
    pub target: f64,
    pub weight: f64,
    /// Knowledge from before the rows: no outlier, however far the rows lie.
    pub prior: bool,
}

impl Equation {
    pub fn miss(&self, solution: &[f64]) -> f64 {
        self.target - self.terms.iter().zip(solution).map(|(a, x)| a * x).sum::<f64>()
    }
}

/// Share of the largest diagonal entry that is added to all: enough against rounding, too little to be seen.
const RIDGE: f64 = 1e-9;
/// Bisquare's reach in standard deviations: 95 % as sharp as least squares where errors are normal.
const REACH: f64 = 4.685;
/// Rounds of weighting: the weights settle in fewer.
const ROUNDS: usize = 8;
/// Median of absolute values to standard deviation, for a normal distribution.
pub(super) const MAD: f64 = 1.4826;

/// Weighted least squares; `None` where the equations do not fix the unknowns.
pub(super) fn solve(equations: &[Equation]) -> Option<Vec<f64>> {
    let m = equations.first()?.terms.len();
    let mut a = Array2::<f64>::zeros((m, m));
    let mut b = Array2::<f64>::zeros((m, 1));
    for e in equations {
        for i in 0..m {
            b[[i, 0]] += e.weight * e.terms[i] * e.target;
            for j in 0..m {
                a[[i, j]] += e.weight * e.terms[i] * e.terms[j];
            }
        }
    }
    let ridge = RIDGE * (0..m).map(|i| a[[i, i]]).fold(0.0, f64::max);
    for i in 0..m {
        a[[i, i]] += ridge;
    }
    let x = a.solvec_into(b).ok()?;
    let x: Vec<f64> = x.column(0).to_vec();
    x.iter().all(|v| v.is_finite()).then_some(x)
}

/// The same, with less and less weight on what lies far off.
pub(super) fn solve_robust(equations: &[Equation]) -> Option<Vec<f64>> {
    let mut weighted = equations.to_vec();
    let mut solution = solve(equations)?;
    for _ in 0..ROUNDS {
        let misses: Vec<f64> = equations.iter().map(|e| e.weight.sqrt() * e.miss(&solution)).collect();
        let sd = MAD * median(&misses.iter().map(|m| m.abs()).collect::<Vec<_>>());
        if !(sd > 0.0) {
            break;
        }
        for ((w, e), m) in weighted.iter_mut().zip(equations).zip(&misses) {
            w.weight = if e.prior { e.weight } else { e.weight * bisquare(m / (REACH * sd)) };
        }
        solution = solve(&weighted)?;
    }
    Some(solution)
}

fn bisquare(u: f64) -> f64 {
    if u.abs() < 1.0 { (1.0 - u * u).powi(2) } else { 0.0 }
}

/// NaN where there is nothing.
pub(super) fn median(values: &[f64]) -> f64 {
    quantile(values, 0.5)
}

/// The value below which a share of them lies; NaN where there is nothing.
pub(super) fn quantile(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().saturating_sub(1);
    sorted.get((share * last as f64).round() as usize).copied().unwrap_or(f64::NAN)
}

/// A polynomial over a range of flow.
#[derive(Debug, Clone)]
pub(super) struct Polynomial {
    pub span: Span,
    pub terms: Vec<f64>,
}

impl Polynomial {
    /// Through points of flow, value and weight, in relative error.
    pub fn robust(points: &[[f64; 3]], span: &Span, degree: usize) -> Option<Self> {
        let equations: Vec<Equation> = points
            .iter()
            .map(|[q, y, w]| Equation { terms: span.basis(*q, degree), target: *y, weight: w / (y * y), prior: false })
            .filter(|e| e.weight.is_finite())
            .collect();
        Some(Self { span: *span, terms: solve_robust(&equations)? })
    }

    pub fn at(&self, q: f64) -> f64 {
        self.span.basis(q, self.terms.len() - 1).iter().zip(&self.terms).map(|(b, c)| b * c).sum()
    }
}

/// Share of the largest flow up to which a head may rise: drooping pumps peak below it (common practice, no source).
const DROOP_TO: f64 = 0.4;
/// By how much it may [-]: a droop of more is not known of pumps for buildings (common practice, no source).
const DROOP: f64 = 0.03;

/// The nearest heads that rise slightly to one peak, near no flow, and then fall. Source: pooling of adjacent violators, Barlow and
/// others, *Statistical Inference under Order Restrictions* (1972), from memory.
pub(super) fn falling(q: &[f64], head: &[f64]) -> Vec<f64> {
    let peak = (0..head.len()).max_by(|a, b| head[*a].total_cmp(&head[*b])).unwrap_or(0);
    let droops = peak > 0 && q[peak] <= DROOP_TO * q[q.len() - 1] && head[peak] <= (1.0 + DROOP) * head[0];
    let top = if droops { peak } else { 0 };
    let mut rising: Vec<f64> = head[..top].iter().rev().copied().collect();
    rising = never_rising(&rising);
    rising.reverse();
    rising.extend(never_rising(&head[top..]));
    rising
}

fn never_rising(values: &[f64]) -> Vec<f64> {
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for v in values {
        let mut pool = (*v, 1);
        while let Some(&(mean, n)) = pools.last()
            && mean < pool.0
        {
            pool = ((mean * n as f64 + pool.0 * pool.1 as f64) / (n + pool.1) as f64, n + pool.1);
            pools.pop();
        }
        pools.push(pool);
    }
    pools.iter().flat_map(|(mean, n)| std::iter::repeat_n(*mean, *n)).collect()
}
