//! The figures by which the trade's guidelines judge a baseline model.
//!
//! Comes in: sums of errors. Goes out: numbers, and whether they keep the limits. The decision a reader would question: the limits here are the guidelines' own,
//! with the way each is known; our interval does not rest on them, it rests on [`super::saving`]'s own errors. What a guideline's formula cannot say (a
//! fraction saved that is not above zero) is NaN.

use std::fmt;

/// CV(RMSE): root mean square error over the mean reading [-], with `n - p` degrees of freedom. NaN without any.
///
/// Source: ASHRAE Guideline 14 (definition, from memory).
#[must_use]
pub fn cv_rmse(sse: f64, n: usize, p: usize, mean: f64) -> f64 {
    if n > p { (sse / (n - p) as f64).sqrt() / mean } else { f64::NAN }
}

/// NMBE: mean error over the mean reading [-]; measured less predicted, so that a model that predicts too little is above zero. NaN without degrees of freedom.
///
/// Source: ASHRAE Guideline 14 (definition, from memory; the sign differs among texts).
#[must_use]
pub fn nmbe(sum_of_errors: f64, n: usize, p: usize, mean: f64) -> f64 {
    if n > p { sum_of_errors / ((n - p) as f64 * mean) } else { f64::NAN }
}

/// Durbin-Watson statistic of residuals in order [-]: 2 where neighbours err independently, towards 0 where they err alike. NaN without residuals.
///
/// Source: Durbin and Watson, Biometrika 37 (1950) 409 (from memory).
#[must_use]
pub fn durbin_watson(residual: &[f64]) -> f64 {
    residual.windows(2).map(|w| (w[1] - w[0]).powi(2)).sum::<f64>() / residual.iter().map(|e| e * e).sum::<f64>()
}

/// Lag-1 autocorrelation of residuals in order [-]: the correlation of each with the one before it. NaN where they do not vary.
#[must_use]
pub fn autocorrelation(residual: &[f64]) -> f64 {
    let n = residual.len().saturating_sub(1);
    let mean = |r: &[f64]| r.iter().sum::<f64>() / n as f64;
    let (first, second) = (residual.get(..n).unwrap_or_default(), residual.get(1..).unwrap_or_default());
    let (a, b) = (mean(first), mean(second));
    let sum = |f: &dyn Fn(f64, f64) -> f64| first.iter().zip(second).map(|(x, y)| f(x - a, y - b)).sum::<f64>();
    sum(&|x, y| x * y) / (sum(&|x, _| x * x) * sum(&|_, y| y * y)).sqrt()
}

/// How many independent readings `n` are worth that resemble their neighbours: n (1 - r) / (1 + r); below zero r counts as zero.
///
/// Source: Reddy and Claridge, HVAC&R Research 6 (2000) 3, as printed by CalTRACK 2.0, 4.3.2.4 (read).
#[must_use]
pub fn effective_number(n: f64, r: f64) -> f64 {
    n * (1.0 - r.max(0.0)) / (1.0 + r.max(0.0))
}

/// The empirical factor of ASHRAE Guideline 14's formula [-] (from memory).
pub const FACTOR: f64 = 1.26;

/// Interval of the readings that a factor is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Readings {
    Daily,
    Monthly,
}

/// The factor that takes the place of 1.26, by the months of the reporting period [-]: a polynomial that holds for 1 to 24 months; `None` outside (at 292,
/// which is 8,760 hourly rows over 30, it would be below zero).
///
/// Source: Sun and Baltazar 2013, as printed by CalTRACK 2.0 (read).
#[must_use]
pub fn factor(months: f64, readings: Readings) -> Option<f64> {
    let (a, b, d) = match readings {
        Readings::Daily => (-0.00024, 0.03535, 1.00286),
        Readings::Monthly => (-0.00022, 0.03306, 0.94054),
    };
    (1.0..=24.0).contains(&months).then_some(a * months * months + b * months + d)
}

/// What the guideline's uncertainty of a saving is made from.
#[derive(Debug, Clone, Copy)]
pub struct Uncertainty {
    /// t of the wanted confidence [-]: 1 for 68 %, 1.645 for 90 %.
    pub t: f64,
    /// [`FACTOR`] or [`factor`] [-].
    pub factor: f64,
    /// CV(RMSE) [-].
    pub cv: f64,
    /// Share saved [-].
    pub fraction: f64,
    /// Readings before and after.
    pub n: f64,
    pub m: f64,
    /// Lag-1 autocorrelation of residuals [-].
    pub r: f64,
}

impl Uncertainty {
    /// Uncertainty of the saving over the saving [-]: t 1.26 CV / F sqrt((n / n') (1 + 2 / n') / m). NaN where nothing was saved.
    ///
    /// Source: Reddy and Claridge, HVAC&R Research 6 (2000) 3, in the form of ASHRAE Guideline 14, printed by CalTRACK 2.0, 4.3.2.4 (read; 1.26 from memory).
    #[must_use]
    pub fn of_saving(&self) -> f64 {
        if !(self.fraction > 0.0) {
            return f64::NAN;
        }
        let worth = effective_number(self.n, self.r);
        self.t * self.factor * self.cv / self.fraction * (self.n / worth * (1.0 + 2.0 / worth) / self.m).sqrt()
    }
}

/// A published limit, and what stands against it.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    pub name: &'static str,
    /// [-]
    pub value: f64,
    /// Largest value allowed, without sign [-].
    pub limit: f64,
    /// `None` where there is no value to hold against it.
    pub kept: Option<bool>,
    pub source: &'static str,
}

impl Limit {
    fn new(name: &'static str, value: f64, limit: f64, source: &'static str) -> Self {
        Self { name, value, limit, kept: (!value.is_nan()).then(|| value.abs() <= limit), source }
    }
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        write!(f, "{}: {:.1} %, limit {:.0} % ({})", self.name, 100.0 * self.value, 100.0 * self.limit, self.source)
    }
}

/// The figures of one baseline model.
#[derive(Debug, Clone, PartialEq)]
pub struct Quality {
    /// CV(RMSE) of the fit, of its own rows (hours or days) [-].
    pub cv_rmse: f64,
    /// The same of whole days [-].
    pub cv_rmse_days: f64,
    /// Root mean square error of held-out days over the mean day [-].
    pub cv_rmse_held_out: f64,
    /// Mean error of held-out days over the mean day, measured less predicted [-]. (Within the fit it is zero by construction.)
    pub nmbe: f64,
    /// Share of the variance that the fit takes up [-].
    pub r2: f64,
    /// Rows fitted, and parameters.
    pub n: usize,
    pub p: usize,
    /// Lag-1 autocorrelation of daily residuals [-].
    pub autocorrelation: f64,
    /// The guideline's uncertainty of the saving over the saving, at 68 % [-]; NaN where nothing was saved.
    pub fractional_uncertainty: f64,
    pub limits: Vec<Limit>,
    /// Whether CV(RMSE) and NMBE, both of whole days, keep their limits.
    pub acceptable: bool,
}

/// What is held against the limits.
pub(super) struct Figures {
    /// Of whole days.
    pub cv_rmse_days: f64,
    pub nmbe: f64,
    /// Of hours, where the rows are hours.
    pub cv_rmse_hours: Option<f64>,
    pub fractional_uncertainty: f64,
    pub months_after: f64,
}

/// The limits that apply: those of daily readings first, since the saving is one of days. The one of CV(RMSE) goes by the length of the reporting period.
pub(super) fn limits(of: &Figures) -> Vec<Limit> {
    const GUIDELINE: &str = "ASHRAE Guideline 14-2014, whole building, quoted from memory: check before citing";
    let most = match of.months_after {
        m if m < 12.0 => 0.20,
        m if m <= 60.0 => 0.25,
        _ => 0.30,
    };
    let mut limits = vec![
        Limit::new("CV(RMSE) of whole days", of.cv_rmse_days, most, GUIDELINE),
        Limit::new(
            "NMBE of held-out days",
            of.nmbe,
            0.05,
            "monthly limit of ASHRAE Guideline 14, as quoted by others; none is known for days",
        ),
    ];
    let hourly = "hourly limit of ASHRAE Guideline 14, as quoted by others";
    limits.extend(of.cv_rmse_hours.map(|cv| Limit::new("CV(RMSE) of hours", cv, 0.30, hourly)));
    limits.push(Limit::new("uncertainty of the saving at 68 %", of.fractional_uncertainty, 0.50, GUIDELINE));
    limits
}
