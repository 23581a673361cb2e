//! When did a daily statistic change its level? Least squares over all ways to cut the record.
//!
//! Comes in: a column, NaN where a day has no value, and a penalty for each cut. Goes out: where new levels begin. The
//! decision a reader would question: the exact search without pruning, since a year of days takes a millisecond and
//! pruning changes the answer never, the time only. A drift is reported as steps. It does not say why.
//! Source: Killick, Fearnhead and Eckley, *Optimal detection of changepoints with a linear computational cost*, JASA 107 (2012)
//! 1590 (cost and penalty, from memory); the search is optimal partitioning, Jackson et al., IEEE Signal Process. Lett. 12 (2005) 105.

/// One change of level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// First row of the new level.
    pub at: usize,
    /// Mean before, of all rows since the start.
    pub before: f64,
    /// Mean from there to the end.
    pub after: f64,
    /// By how much the sum of squares falls through the cut [unit of the column, squared].
    pub gain: f64,
}

/// Rows at which new levels begin, ascending, for which the sum of squares about the levels plus `penalty` a cut is least;
/// each level has at least `min_rows` rows that are not NaN. A tie goes to the earlier cut.
///
/// ```
/// use offcurve::hydraulics::change::changes;
/// // Two levels of three days: the sum of squares falls from 13.5 to 0 for a cut.
/// assert_eq!(changes(&[1.0, 1.0, 1.0, 4.0, 4.0, 4.0], 5.0, 2), [3]);
/// assert!(changes(&[1.0, 1.0, 1.0, 4.0, 4.0, 4.0], 20.0, 2).is_empty());
/// ```
#[must_use]
pub fn changes(values: &[f64], penalty: f64, min_rows: usize) -> Vec<usize> {
    let (rows, sums) = sums(values);
    let (n, least) = (rows.len(), min_rows.max(1));
    // best[j]: least cost of the first j rows; from[j]: where its last level begins.
    let mut best = vec![f64::INFINITY; n + 1];
    let mut from = vec![0; n + 1];
    best[0] = -penalty;
    for end in least..=n {
        for start in 0..=end - least {
            let cost = best[start] + sums.squares(start, end) + penalty;
            if cost < best[end] {
                (best[end], from[end]) = (cost, start);
            }
        }
    }
    if n < least {
        return Vec::new();
    }
    let mut cuts = Vec::new();
    let mut end = from[n];
    while end > 0 {
        cuts.push(rows[end]);
        end = from[end];
    }
    cuts.reverse();
    cuts
}

/// The one cut that lowers the sum of squares most, with at least `min_rows` rows on either side; `None` in a record shorter
/// than that. Whether the gain is more than chance is for the caller: compare it with [`penalty`].
#[must_use]
pub fn single(values: &[f64], min_rows: usize) -> Option<Change> {
    let (rows, sums) = sums(values);
    let (n, least) = (rows.len(), min_rows.max(1));
    let gain = |k: usize| sums.squares(0, n) - sums.squares(0, k) - sums.squares(k, n);
    let last = n.checked_sub(least)?;
    let cut = (least..=last).reduce(|best, k| if gain(k) > gain(best) { k } else { best })?;
    Some(Change { at: rows[cut], before: sums.mean(0, cut), after: sums.mean(cut, n), gain: gain(cut) })
}

/// Sum of squares about the mean of the rows that are not NaN [unit of the column, squared].
#[must_use]
pub fn cost(values: &[f64]) -> f64 {
    let (rows, sums) = sums(values);
    sums.squares(0, rows.len())
}

/// The usual penalty of a cut: 2 sigma^2 ln n, `noise` the standard deviation of a row about its level. Source: Schwarz's
/// criterion for one mean and one place a cut (from memory).
#[must_use]
pub fn penalty(noise: f64, rows: usize) -> f64 {
    2.0 * noise * noise * (rows.max(2) as f64).ln()
}

/// Standard deviation of a row about its level, from neighbours' differences, which a step hardly touches: 1.4826 times the
/// median of |difference| over the root of 2. `None` with fewer than three values. Rows alike in turn make it too small.
/// Source: median absolute deviation of normal values (Hampel 1974, from memory).
#[must_use]
pub fn noise(values: &[f64]) -> Option<f64> {
    let there: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    let mut steps: Vec<f64> = there.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
    if steps.len() < 2 {
        return None;
    }
    steps.sort_by(f64::total_cmp);
    let middle = steps.len() / 2;
    let median = if steps.len() % 2 == 1 { steps[middle] } else { 0.5 * (steps[middle - 1] + steps[middle]) };
    Some(1.4826 * median / std::f64::consts::SQRT_2)
}

/// Running sums of the values, shifted by their mean so that squares keep their digits.
struct Sums {
    shift: f64,
    first: Vec<f64>,
    second: Vec<f64>,
}

fn sums(values: &[f64]) -> (Vec<usize>, Sums) {
    let rows: Vec<usize> = (0..values.len()).filter(|&i| values[i].is_finite()).collect();
    let shift = rows.iter().map(|&i| values[i]).sum::<f64>() / rows.len().max(1) as f64;
    let (mut first, mut second) = (vec![0.0], vec![0.0]);
    for (k, &i) in rows.iter().enumerate() {
        let v = values[i] - shift;
        first.push(first[k] + v);
        second.push(second[k] + v * v);
    }
    (rows, Sums { shift, first, second })
}

impl Sums {
    fn squares(&self, start: usize, end: usize) -> f64 {
        let n = (end - start).max(1) as f64;
        let sum = self.first[end] - self.first[start];
        (self.second[end] - self.second[start] - sum * sum / n).max(0.0)
    }

    fn mean(&self, start: usize, end: usize) -> f64 {
        self.shift + (self.first[end] - self.first[start]) / (end - start).max(1) as f64
    }
}
