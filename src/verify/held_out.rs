//! Which form: the one that predicts whole stretches of days it was not fitted to best.
//!
//! The before-period is cut into weeks (three days where it is shorter than eight weeks), which are held out in turn; single days would be predicted by
//! their own neighbours. The error is that of days, whatever the rows of a form are. Of forms within a hundredth of the best the simplest is taken and named.
//!
//! Days count double, so to say: as any other, and as often as days of their weather will have to be predicted; else a form that errs only where few days
//! lie would be taken for a season that has nothing but such days.
//!
//! The decision a reader would question: the others are not forgotten. Some weeks seldom tell two forms apart, and an interval that takes the winner for the
//! truth is too narrow (tried: 92 % where 95 % were promised, and 66 % where the line bends where few days lie). So every form counts in the saving with the weight exp(-n'/2 ln MSE),
//! MSE that of held-out days and n' the number of independent days they are worth.
//!
//! Source: weights of errors where the predicted days differ, Shimodaira, J. Stat. Plan. Inference 90 (2000) 227; weights by held-out density, Geisser and Eddy, *A predictive approach to model selection*, JASA 74 (1979) 153; Yao et al., Bayesian Analysis 13 (2018) 917 (both from memory).

use super::errors::LEAST_NOISE;
use super::form::{Driver, Form};
use super::guideline::{autocorrelation, effective_number};
use super::model::{Model, driver};
use super::rows::{Day, Row};

/// Days of a block, and of one where the period is shorter than so many days.
const WEEK: i64 = 7;
const SHORT_BLOCK: i64 = 3;
const SHORT_BELOW: usize = 56;
/// How many times a part is held out at most.
const MOST_FOLDS: i64 = 10;
/// Days a parameter (common practice, no source): a form with more is not tried.
const LEAST_DAYS: usize = 5;
/// Forms whose error is no more than this above the best's count as equally good [-].
const AS_GOOD: f64 = 0.01;
/// Autocorrelation of held-out errors is not believed above this [-]; beyond it no number of days would tell forms apart.
const MOST_ALIKE: f64 = 0.95;
/// Whole weeks from which hours of the week can be told: each hour is then seen four times (common practice, no source).
const LEAST_WEEKS: usize = 4;

/// Parts of the driver's range by which days are alike, each with as many days.
const PARTS: usize = 10;
/// No day counts for more than so many.
const MOST_COUNT: f64 = 10.0;
/// A form's weight below this share of all is no longer counted [-].
const LEAST_WEIGHT: f64 = 0.01;

/// A form, fitted to all days, and how well it predicted those it was not fitted to.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    pub model: Model,
    /// Its share among those that count.
    pub weight: f64,
    score: Score,
}

impl Candidate {
    /// Root of the mean square of held-out days' errors [kWh].
    pub fn rmse_kwh(&self) -> f64 {
        self.score.rmse()
    }

    /// Sum of held-out errors, measured less predicted [kWh].
    pub fn bias_kwh(&self) -> f64 {
        self.score.sum
    }

    /// The energy of the days held out [kWh].
    pub fn energy_kwh(&self) -> f64 {
        self.score.energy
    }
}

/// The forms that count.
#[derive(Debug, Clone)]
pub(super) struct Choice {
    /// The one that is named: the simplest of the best.
    pub named: Candidate,
    /// Those that count, the named one among them.
    pub all: Vec<Candidate>,
    /// Every form tried with its held-out error [kWh].
    pub tried: Vec<(Form, f64)>,
}

/// The rows a form is fitted to.
pub(super) fn rows(form: Form, days: &[Day]) -> Vec<Row> {
    if !form.hourly() {
        return days.iter().map(|d| d.row).collect();
    }
    let known = |r: &&Row| form.on().is_none_or(|d| driver(d, r).is_finite());
    days.iter().flat_map(|d| d.hours.iter()).filter(known).copied().collect()
}

/// Whether hours of the week can be told from these days.
pub(super) fn carries_hours(days: &[Day]) -> bool {
    days.iter().filter(|d| d.hours.len() >= 20).count() >= LEAST_WEEKS * 7
}

/// Tries them all. `like` are the days to be predicted and `along` the driver by which they may differ. `None` where no form can be fitted.
pub(super) fn choose(forms: &[Form], days: &[Day], like: &[Day], along: Option<Driver>) -> Option<Choice> {
    let counts = along.map_or_else(|| vec![1.0; days.len()], |d| counts(days, like, d));
    let mut all: Vec<Candidate> = forms.iter().filter_map(|f| candidate(*f, days, &counts)).collect();
    let tried = all.iter().map(|c| (c.model.form, c.rmse_kwh())).collect();
    // No error is believed that is smaller than a meter tells: of errors of rounding none is better.
    let day_kwh = days.iter().map(|d| d.row.energy_kwh.abs()).sum::<f64>() / days.len() as f64;
    let floor = (LEAST_NOISE * day_kwh).max(f64::MIN_POSITIVE);
    let least = all.iter().map(Candidate::rmse_kwh).fold(f64::INFINITY, f64::min).max(floor);
    let as_good = |c: &&Candidate| c.rmse_kwh() <= least * (1.0 + AS_GOOD);
    let named = all.iter().filter(as_good).min_by_key(|c| c.score.parameters)?.clone();
    let days_worth = counts.iter().sum::<f64>().powi(2) / counts.iter().map(|c| c * c).sum::<f64>();
    let worth = effective_number(days_worth, alike(&named.score.errors));
    let of = |c: &Candidate| (-worth * (c.rmse_kwh().max(floor) / least).ln()).exp();
    let most: f64 = all.iter().map(of).sum();
    all.iter_mut().for_each(|c| c.weight = of(c) / most);
    let form = named.model.form;
    all.retain(|c| c.weight >= LEAST_WEIGHT || c.model.form == form);
    Some(Choice { named, all, tried })
}

/// How much each day's error counts: half as one of all, half as one of those like the days to be predicted, by tenths of the driver.
fn counts(days: &[Day], like: &[Day], along: Driver) -> Vec<f64> {
    let of = |d: &Day| driver(along, &d.row);
    let mut sorted: Vec<f64> = days.iter().map(of).collect();
    sorted.sort_by(f64::total_cmp);
    let ends: Vec<f64> = (1..PARTS).map(|k| sorted[k * sorted.len() / PARTS]).collect();
    let part = |d: &Day| ends.partition_point(|e| *e <= of(d));
    let share = |days: &[Day]| {
        let mut share = [0.0; PARTS];
        days.iter().for_each(|d| share[part(d)] += 1.0 / days.len() as f64);
        share
    };
    let (here, there) = (share(days), share(like));
    days.iter().map(|d| 0.5 + 0.5 * (there[part(d)] / here[part(d)]).min(MOST_COUNT)).collect()
}

/// Lag-1 autocorrelation of errors; zero where it cannot be told.
fn alike(errors: &[f64]) -> f64 {
    let r = autocorrelation(errors);
    if r.is_nan() { 0.0 } else { r.clamp(0.0, MOST_ALIKE) }
}

#[derive(Debug, Clone)]
struct Score {
    /// Weighted squares of errors, and the weights.
    squares: f64,
    counts: f64,
    sum: f64,
    energy: f64,
    /// Of the days in order.
    errors: Vec<f64>,
    parameters: usize,
}

impl Score {
    fn rmse(&self) -> f64 {
        (self.squares / self.counts).sqrt()
    }
}

fn candidate(form: Form, days: &[Day], counts: &[f64]) -> Option<Candidate> {
    let whole = Model::new(form, &rows(form, days))?;
    // Over a day the levels of its hours are one level of its weekday.
    let parameters = if form.hourly() { 7 + whole.fit.slope.len() } else { whole.parameters() };
    if days.len() < LEAST_DAYS * parameters {
        return None;
    }
    Some(Candidate { score: score(form, days, counts, parameters)?, model: whole, weight: 1.0 })
}

fn score(form: Form, days: &[Day], counts: &[f64], parameters: usize) -> Option<Score> {
    let first = days.first()?.row.day;
    let length = if days.len() < SHORT_BELOW { SHORT_BLOCK } else { WEEK };
    let blocks = (days.last()?.row.day - first) / length + 1;
    let folds = blocks.min(MOST_FOLDS);
    let fold = |d: &Day| ((d.row.day - first) / length) % folds;
    let mut score =
        Score { squares: 0.0, counts: 0.0, sum: 0.0, energy: 0.0, errors: vec![f64::NAN; days.len()], parameters };
    for k in 0..folds {
        let (out, kept): (Vec<usize>, Vec<usize>) = (0..days.len()).partition(|d| fold(&days[*d]) == k);
        if out.is_empty() {
            continue;
        }
        let kept: Vec<Row> = kept.iter().flat_map(|d| rows(form, std::slice::from_ref(&days[*d]))).collect();
        let model = Model::new(form, &kept)?;
        for d in out {
            let rows = rows(form, std::slice::from_ref(&days[d]));
            let error: f64 = rows.iter().map(|r| r.energy_kwh - model.predict(r)).sum();
            if !error.is_finite() {
                return None;
            }
            score.squares += counts[d] * error * error;
            score.counts += counts[d];
            score.sum += error;
            score.energy += rows.iter().map(|r| r.energy_kwh).sum::<f64>();
            score.errors[d] = error;
        }
    }
    Some(score)
}
