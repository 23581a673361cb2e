//! Small least squares: plain, and with coefficients that cannot be negative.

/// Rounds after which a fit that still moves is taken as it is; some hundred settle the worst seen.
const MOST_ROUNDS: usize = 1000;
/// A fit has settled when a round moves what it predicts by no more than this share [-].
const SETTLED: f64 = 1e-7;

/// Solves `a x = b` by elimination with pivoting; `None` where the equations do not fix x.
pub(super) fn solve(mut a: Vec<Vec<f64>>, mut b: Vec<f64>) -> Option<Vec<f64>> {
    let n = b.len();
    let scale: Vec<f64> = (0..n).map(|k| a[k][k].abs()).collect();
    for k in 0..n {
        let pivot = (k..n).max_by(|i, j| a[*i][k].abs().total_cmp(&a[*j][k].abs()))?;
        if a[pivot][k].abs().is_nan() || a[pivot][k].abs() <= 1e-9 * scale[k].max(f64::MIN_POSITIVE) {
            return None;
        }
        a.swap(k, pivot);
        b.swap(k, pivot);
        for i in k + 1..n {
            let f = a[i][k] / a[k][k];
            for j in k..n {
                let above = a[k][j];
                a[i][j] -= f * above;
            }
            b[i] -= f * b[k];
        }
    }
    let mut x = vec![0.0; n];
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| a[k][j] * x[j]).sum();
        x[k] = (b[k] - known) / a[k][k];
    }
    Some(x)
}

/// Sums of squares and products of a design, from which any fit of it can be made.
#[derive(Clone)]
pub(super) struct Moments {
    pub xx: Vec<Vec<f64>>,
    pub xy: Vec<f64>,
    pub yy: f64,
    pub n: f64,
}

impl Moments {
    pub fn new(columns: usize) -> Self {
        Self { xx: vec![vec![0.0; columns]; columns], xy: vec![0.0; columns], yy: 0.0, n: 0.0 }
    }

    pub fn add(&mut self, x: &[f64], y: f64) {
        for (i, xi) in x.iter().enumerate() {
            for (j, xj) in x.iter().enumerate() {
                self.xx[i][j] += xi * xj;
            }
            self.xy[i] += xi * y;
        }
        self.yy += y * y;
        self.n += 1.0;
    }

    /// Residual sum of squares of a set of coefficients.
    pub fn residual(&self, c: &[f64]) -> f64 {
        let mut r = self.yy;
        for i in 0..c.len() {
            r -= 2.0 * c[i] * self.xy[i];
            for j in 0..c.len() {
                r += c[i] * c[j] * self.xx[i][j];
            }
        }
        r.max(0.0)
    }

    /// Coefficients none of which is negative, by going down one coordinate after the other (the problem is convex).
    pub fn not_negative(&self) -> Vec<f64> {
        let k = self.xy.len();
        let mut c = vec![0.0; k];
        for _ in 0..MOST_ROUNDS {
            let mut moved = 0.0f64;
            for i in 0..k {
                if self.xx[i][i] <= 0.0 {
                    continue;
                }
                let all: f64 = self.xx[i].iter().zip(&c).map(|(x, c)| x * c).sum();
                let next = (c[i] + (self.xy[i] - all) / self.xx[i][i]).max(0.0);
                moved = moved.max((next - c[i]).abs() * self.xx[i][i].sqrt());
                c[i] = next;
            }
            if moved <= SETTLED * self.yy.sqrt() {
                break;
            }
        }
        c
    }
}
