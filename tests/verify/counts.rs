//! What counts as met when savings are put to the truth. Frozen: written before any figure was made with it.
//!
//! A change in three has no effect, one in three has weather that shifts under it (every other one of those without effect), the rest have an effect. What may be
//! told of them is in the constants; the reasons are the definition of a 95 % interval and common practice, no source.

/// Share of intervals that hold the truth. Met: an exact two-sided binomial test against it over all changes told does not reject at [`LEVEL`].
pub const COVERAGE: f64 = 0.95;
/// Share of changes without effect of which a saving may be told. Met: an exact one-sided binomial test against it does not reject at [`LEVEL`].
pub const FALSE_SAVING: f64 = 0.05;
pub const LEVEL: f64 = 0.05;
/// Refusals allowed among changes with 28 days and more on either side [-]; a refusal is no coverage and no miss.
pub const REFUSED: f64 = 0.10;
/// A yearly figure asks for so many known days among the last 365, and for this share of them within what each setting saw with [`BEYOND`] of its range on either
/// side. One that is told elsewhere is a violation; none may be.
pub const YEAR_DAYS: i64 = 365;
pub const KNOWN_DAYS: usize = 330;
pub const SEEN: f64 = 0.9;
pub const BEYOND: f64 = 0.1;
/// A change whose true saving lies below this share of energy, either way, has no effect as far as "told" goes, whatever was set [-].
pub const NO_EFFECT: f64 = 1e-9;

/// Probability of `k` or fewer of `n` at `p` each.
pub fn at_most(k: usize, n: usize, p: f64) -> f64 {
    let mut term = n as f64 * libm::log(1.0 - p);
    let mut sum = libm::exp(term);
    for i in 0..k {
        term += libm::log((n - i) as f64 / (i + 1) as f64) + libm::log(p / (1.0 - p));
        sum += libm::exp(term);
    }
    sum.min(1.0)
}

/// Exact two-sided: twice the smaller tail.
pub fn two_sided(k: usize, n: usize, p: f64) -> f64 {
    let above = if k == 0 { 1.0 } else { 1.0 - at_most(k - 1, n, p) };
    (2.0 * at_most(k, n, p).min(above)).min(1.0)
}

/// Probability of `k` or more.
pub fn at_least(k: usize, n: usize, p: f64) -> f64 {
    if k == 0 { 1.0 } else { 1.0 - at_most(k - 1, n, p) }
}

/// Exact 95 % interval of a share (Clopper and Pearson 1934), by halving.
pub fn range(k: usize, n: usize) -> (f64, f64) {
    let half = |of: &dyn Fn(f64) -> bool| {
        let (mut low, mut high) = (1e-9, 1.0 - 1e-9);
        for _ in 0..50 {
            let p = 0.5 * (low + high);
            if of(p) { low = p } else { high = p }
        }
        low
    };
    let low = if k == 0 { 0.0 } else { half(&|p| at_least(k, n, p) < 0.025) };
    let high = if k >= n { 1.0 } else { half(&|p| at_most(k, n, p) > 0.025) };
    (low, high)
}
