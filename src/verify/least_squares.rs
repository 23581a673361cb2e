//! Least squares on levels and columns: y = level of the row's group + sum of slope times column.
//!
//! Comes in: a reading a row, the row's group, columns. Goes out: levels, slopes, residuals, and the weights with which the readings enter any sum of
//! predictions. The decision a reader would question: levels are taken out by subtracting each group's mean (exact, and 168 hours of the week cost no more than
//! one level), and only the columns go through a QR decomposition. Normal equations would square the condition number. A column that the levels and the columns
//! before it already say is left out and named. Start at [`fit`].
//!
//! Source: levels taken out first, Frisch and Waugh, *Partial time regressions*, Econometrica 1 (1933) 387 (from memory); QR: Golub, *Numerical methods for
//! solving linear least squares problems*, Numer. Math. 7 (1965) 206 (from memory).

use linfa_linalg::qr::QR;
use ndarray::Array2;

/// A column counts as already said when less than this share of its length is left over [-]: far above rounding (1e-16 times the condition number), far
/// below the 1e-2 of collinear data that are still data (Longley's).
const NOTHING_NEW: f64 = 1e-9;

/// A fit, and what it takes to say how sure any sum of its predictions is.
#[derive(Debug, Clone)]
pub struct Fit {
    /// A level a group [unit of y]; NaN where no row had the group.
    pub level: Vec<f64>,
    /// A slope a column [unit of y per unit of the column]; zero where the column was left out.
    pub slope: Vec<f64>,
    /// Columns left out: they say nothing new.
    pub left_out: Vec<usize>,
    /// Measured minus fitted, a row [unit of y].
    pub residual: Vec<f64>,
    /// Rows.
    pub n: usize,
    /// Levels and slopes that were fitted.
    pub p: usize,
    /// Sum of squares of the residuals [unit of y, squared].
    pub sse: f64,
    /// Sum of squares about the mean of all rows [unit of y, squared].
    pub sst: f64,
    group: Vec<usize>,
    /// Rows a group.
    rows: Vec<f64>,
    /// Mean of each column in each group.
    mean: Vec<Vec<f64>>,
    kept: Vec<usize>,
    q: Array2<f64>,
    r: Array2<f64>,
}

/// Fits it; with no groups at all, without levels (through the origin). `None` with no rows, fewer rows than parameters, columns or groups of another length than `y`, or a value that is not finite.
///
/// ```
/// use offcurve::verify::least_squares::fit;
/// // y = 1 + 2 x without an error.
/// let f = fit(&[1.0, 3.0, 5.0], &[0, 0, 0], &[vec![0.0, 1.0, 2.0]]).expect("three rows, two parameters");
/// assert!((f.level[0] - 1.0).abs() < 1e-12 && (f.slope[0] - 2.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn fit(y: &[f64], group: &[usize], columns: &[Vec<f64>]) -> Option<Fit> {
    let n = y.len();
    let finite = |c: &[f64]| c.iter().all(|v| v.is_finite());
    if n == 0
        || !(group.is_empty() || group.len() == n)
        || !finite(y)
        || columns.iter().any(|c| c.len() != n || !finite(c))
    {
        return None;
    }
    let groups = group.iter().max().map_or(0, |g| g + 1);
    let mut rows = vec![0.0; groups];
    group.iter().for_each(|g| rows[*g] += 1.0);
    let level_of_y = means(y, group, &rows);
    let mean: Vec<Vec<f64>> = columns.iter().map(|c| means(c, group, &rows)).collect();
    let inner: Vec<Vec<f64>> = columns.iter().zip(&mean).map(|(c, m)| less_mean(c, group, m)).collect();
    let inner_y = less_mean(y, group, &level_of_y);
    let length: Vec<f64> = columns.iter().map(|c| norm(c)).collect();
    let (kept, q, r) = decompose(&inner, &length, n)?;
    let p = rows.iter().filter(|m| **m > 0.0).count() + kept.len();
    if n < p {
        return None;
    }
    let slopes = back(&r, &project(&q, &inner_y));
    let mut slope = vec![0.0; columns.len()];
    kept.iter().zip(&slopes).for_each(|(j, s)| slope[*j] = *s);
    let level = (0..groups).map(|g| level_of_y[g] - (0..columns.len()).map(|j| slope[j] * mean[j][g]).sum::<f64>());
    let residual: Vec<f64> =
        (0..n).map(|i| inner_y[i] - kept.iter().map(|j| slope[*j] * inner[*j][i]).sum::<f64>()).collect();
    let all = y.iter().sum::<f64>() / n as f64;
    Some(Fit {
        level: level.collect(),
        left_out: (0..columns.len()).filter(|j| !kept.contains(j)).collect(),
        sse: residual.iter().map(|e| e * e).sum(),
        sst: y.iter().map(|v| (v - all).powi(2)).sum(),
        slope,
        residual,
        n,
        p,
        group: group.to_vec(),
        rows,
        mean,
        kept,
        q,
        r,
    })
}

impl Fit {
    /// Level of the group plus slopes times `x`; NaN for a group that no row had.
    #[must_use]
    pub fn predict(&self, group: usize, x: &[f64]) -> f64 {
        let missing = if self.group.is_empty() { 0.0 } else { f64::NAN };
        let level = self.level.get(group).copied().unwrap_or(missing);
        level + self.slope.iter().zip(x).map(|(s, x)| s * x).sum::<f64>()
    }

    /// The weight of every reading in a sum of predictions that asks for `counts` rows of each group and columns that add up to `sums`: the sum is
    /// weights times readings, its standard error under independent errors is their length times [`Fit::sigma`]. `None` where a group is asked for that no row had.
    #[must_use]
    pub fn weights(&self, counts: &[f64], sums: &[f64]) -> Option<Vec<f64>> {
        let asked = |g: usize| counts.get(g).copied().unwrap_or(0.0);
        if (0..counts.len()).any(|g| counts[g] != 0.0 && self.rows.get(g).is_none_or(|m| *m == 0.0)) {
            return None;
        }
        let inner = |j: &usize| sums[*j] - (0..self.rows.len()).map(|g| asked(g) * self.mean[*j][g]).sum::<f64>();
        let through = forward(&self.r, &self.kept.iter().map(inner).collect::<Vec<f64>>());
        let weight = |i: usize| {
            let level = self.group.get(i).map_or(0.0, |g| asked(*g) / self.rows[*g]);
            level + through.iter().enumerate().map(|(k, t)| self.q[[i, k]] * t).sum::<f64>()
        };
        Some((0..self.n).map(weight).collect())
    }

    /// Standard deviation of a row about the fit [unit of y]; NaN where nothing is left over to tell it.
    #[must_use]
    pub fn sigma(&self) -> f64 {
        if self.n > self.p { (self.sse / (self.n - self.p) as f64).sqrt() } else { f64::NAN }
    }

    /// Share of the variance about the mean that the fit takes up [-]; NaN where the readings do not vary.
    #[must_use]
    pub fn r2(&self) -> f64 {
        if self.sst > 0.0 { 1.0 - self.sse / self.sst } else { f64::NAN }
    }

    /// Standard error of a slope under independent errors; NaN for a column that was left out.
    #[must_use]
    pub fn slope_error(&self, column: usize) -> f64 {
        if !self.kept.contains(&column) {
            return f64::NAN;
        }
        let sums: Vec<f64> = (0..self.slope.len()).map(|j| f64::from(u8::from(j == column))).collect();
        self.weights(&[], &sums).map_or(f64::NAN, |w| self.sigma() * norm(&w))
    }

    /// Standard error of a level under independent errors; NaN for a group that no row had.
    #[must_use]
    pub fn level_error(&self, group: usize) -> f64 {
        let counts: Vec<f64> = (0..=group).map(|g| f64::from(u8::from(g == group))).collect();
        self.weights(&counts, &vec![0.0; self.slope.len()]).map_or(f64::NAN, |w| self.sigma() * norm(&w))
    }

    /// Logarithm of the determinant of the columns' moments after the levels are taken out, and of the levels' counts: what restricted
    /// likelihood needs.
    pub(super) fn log_determinant(&self) -> f64 {
        let levels: f64 = self.rows.iter().filter(|m| **m > 0.0).map(|m| m.ln()).sum();
        levels + (0..self.kept.len()).map(|k| 2.0 * self.r[[k, k]].abs().ln()).sum::<f64>()
    }
}

/// Q and R of the columns that say something new, and which those are.
fn decompose(inner: &[Vec<f64>], length: &[f64], n: usize) -> Option<(Vec<usize>, Array2<f64>, Array2<f64>)> {
    let mut kept: Vec<usize> = (0..inner.len()).filter(|j| norm(&inner[*j]) > NOTHING_NEW * length[*j]).collect();
    loop {
        if kept.len() > n {
            return None;
        }
        if kept.is_empty() {
            return Some((kept, Array2::zeros((n, 0)), Array2::zeros((0, 0))));
        }
        let matrix = Array2::from_shape_fn((n, kept.len()), |(i, k)| inner[kept[k]][i]);
        let (q, r) = matrix.qr().ok()?.into_decomp();
        let known = |k: usize| r[[k, k]].abs() <= NOTHING_NEW * norm(&inner[kept[k]]);
        let Some(k) = (0..kept.len()).find(|k| known(*k)) else { return Some((kept, q, r)) };
        kept.remove(k);
    }
}

fn means(values: &[f64], group: &[usize], rows: &[f64]) -> Vec<f64> {
    let mut sum = vec![0.0; rows.len()];
    group.iter().zip(values).for_each(|(g, v)| sum[*g] += v);
    // A second pass takes up what rounding left of the first.
    let mut mean: Vec<f64> = sum.iter().zip(rows).map(|(s, n)| s / n).collect();
    let mut left = vec![0.0; rows.len()];
    group.iter().zip(values).for_each(|(g, v)| left[*g] += v - mean[*g]);
    mean.iter_mut().zip(left.iter().zip(rows)).for_each(|(m, (l, n))| *m += l / n);
    mean
}

fn less_mean(values: &[f64], group: &[usize], mean: &[f64]) -> Vec<f64> {
    if group.is_empty() {
        return values.to_vec();
    }
    values.iter().zip(group).map(|(v, g)| v - mean[*g]).collect()
}

fn norm(values: &[f64]) -> f64 {
    values.iter().map(|v| v * v).sum::<f64>().sqrt()
}

fn project(q: &Array2<f64>, y: &[f64]) -> Vec<f64> {
    (0..q.ncols()).map(|k| y.iter().enumerate().map(|(i, v)| q[[i, k]] * v).sum()).collect()
}

/// Solves `r x = b`, r upper triangular.
fn back(r: &Array2<f64>, b: &[f64]) -> Vec<f64> {
    let mut x = b.to_vec();
    for k in (0..b.len()).rev() {
        let known: f64 = (k + 1..b.len()).map(|j| r[[k, j]] * x[j]).sum();
        x[k] = (b[k] - known) / r[[k, k]];
    }
    x
}

/// Solves `r' x = b`.
fn forward(r: &Array2<f64>, b: &[f64]) -> Vec<f64> {
    let mut x = b.to_vec();
    for k in 0..b.len() {
        let known: f64 = (0..k).map(|j| r[[j, k]] * x[j]).sum();
        x[k] = (b[k] - known) / r[[k, k]];
    }
    x
}
