//! One change: the old setting's model predicts the new setting's days.

use super::day_rows;
use super::days_needed::days_needed;
use super::errors::{Errors, Mixture, variance};
use super::form::{Calendar, Driver, Form};
use super::guideline::{self, FACTOR, Figures, Quality, Uncertainty};
use super::held_out::{self, Candidate, Choice};
use super::model::{Model, columns, energy, group, groups};
use super::periods::{Periods, side};
use super::rows::{Day, Row};
use super::{
    Baseline, Estimate, Experiment, Record, Refusal, Saving, Setting, Stretch, Told, joint, least_squares, year,
};
use crate::hydraulics::student;

/// Mean length of a month [d].
const MONTH_DAYS: f64 = 365.25 / 12.0;

pub(super) fn saving(record: &Record, stretches: &[Stretch]) -> Result<Saving, Refusal> {
    let mut periods = Periods::new(record, stretches)?;
    if periods.old.iter().all(|d| d.row.energy_kwh == 0.0) {
        return Err(Refusal::NeverRan);
    }
    let coverage = periods.coverage();
    let experiment = experiment(&periods.order);
    let hours = experiment == Experiment::BeforeAfter
        && held_out::carries_hours(&periods.old)
        && periods.new.iter().all(|d| !d.hours.is_empty());
    let has = |d| periods.drivers.contains(&d);
    let forms = Form::all(has(Driver::Outdoor), has(Driver::Load), hours);
    let choice = held_out::choose(&forms, &periods.old, &periods.new, periods.drivers.first().copied())
        .ok_or(Refusal::NoModel)?;
    for candidate in &choice.all {
        periods.keep_to_what_was_seen(candidate.model.form.on())?;
    }
    let compared = Compared::new(&choice, &periods, experiment).ok_or(Refusal::NoModel)?;
    let saving_kwh = compared.saving.estimate();
    let m = periods.new.len();
    let fraction = |s: f64| s / (compared.measured_kwh + s);
    let saving_fraction = Estimate {
        estimate: fraction(saving_kwh.estimate),
        low: fraction(saving_kwh.low),
        high: fraction(saving_kwh.high),
    };
    let t = student::quantile(0.975, compared.errors.freedom);
    let named = &choice.named.model;
    Ok(Saving {
        told: told(&saving_kwh),
        experiment,
        before: side(&periods.old, periods.old.iter().map(|d| d.row.energy_kwh).sum()),
        after: side(&periods.new, compared.measured_kwh),
        saving_kwh,
        saving_fraction,
        saving_kwh_per_year: year::saving(&choice, &periods),
        quality: quality(&choice.named, &periods, saving_fraction.estimate),
        coverage,
        days: day_rows::all(&choice, &periods, experiment, saving_kwh.estimate),
        days_needed: days_needed(&saving_kwh, m, compared.model_variance, compared.noise_variance, t),
        baseline: Baseline {
            form: named.form,
            points: named.points.clone(),
            weight: choice.all.iter().find(|c| c.model.form == named.form).map_or(0.0, |c| c.weight),
            tried: choice.tried,
        },
        excluded: periods.excluded,
    })
}

/// What is believed of a saving, and what it takes to say how it would grow.
pub(super) struct Compared {
    pub saving: Mixture,
    /// Energy of the new setting's days [kWh].
    pub measured_kwh: f64,
    pub errors: Errors,
    /// Variance of the saving over m days: `model` m^2 + `noise` m [kWh^2].
    pub model_variance: f64,
    pub noise_variance: f64,
}

impl Compared {
    /// Every form that counts, with its weight; energy and errors are those of the named one.
    fn new(choice: &Choice, periods: &Periods, experiment: Experiment) -> Option<Self> {
        let of = |model: &Model| match experiment {
            Experiment::BeforeAfter => before_after(model, periods),
            Experiment::Alternating { .. } => joint::compare(model, periods),
        };
        let mut named = of(&choice.named.model)?;
        let mut saving = Mixture::default();
        let mut centres = Vec::new();
        for candidate in &choice.all {
            if let Some(one) = of(&candidate.model) {
                centres.push((candidate.weight, one.saving.mean()));
                saving.add(candidate.weight, &one.saving);
            }
        }
        let all: f64 = centres.iter().map(|(w, _)| w).sum();
        let mean = centres.iter().map(|(w, c)| w * c).sum::<f64>() / all;
        let apart = centres.iter().map(|(w, c)| w * (c - mean).powi(2)).sum::<f64>() / all;
        named.saving = saving;
        named.model_variance += apart / (periods.new.len() as f64).powi(2);
        Some(named)
    }
}

fn told(saving: &Estimate) -> Told {
    if saving.low > 0.0 {
        Told::Saved
    } else if saving.high < 0.0 {
        Told::UsedMore
    } else {
        Told::CannotTell
    }
}

/// Both settings came at least twice, or not.
fn experiment(order: &[Setting]) -> Experiment {
    let times = |s: Setting| order.iter().filter(|o| **o == s).count();
    if times(Setting::Old) >= 2 && times(Setting::New) >= 2 {
        Experiment::Alternating { changes: order.len() - 1 }
    } else {
        Experiment::BeforeAfter
    }
}

fn before_after(model: &Model, periods: &Periods) -> Option<Compared> {
    let asked = held_out::rows(model.form, &periods.new);
    let measured_kwh: f64 = asked.iter().map(|r| r.energy_kwh).sum();
    let predicted: f64 = asked.iter().map(|r| model.predict(r)).sum();
    let weighed = Weighed::new(model, &periods.old, &asked)?;
    let (day, y, design) = by_day(model, &periods.old);
    let errors = Errors::new(&day, &y, &design)?;
    let after: Vec<(i64, f64)> = periods.new.iter().map(|d| (d.row.day, -1.0)).collect();
    let all = merged(&weighed.by_day, &after);
    let error = |r: f64, sigma: f64| (sigma * sigma * variance(&all, r) + weighed.within).sqrt();
    let centre = predicted - measured_kwh;
    let m = periods.new.len() as f64;
    Some(Compared {
        saving: errors.told(|p| (centre, error(p.r, p.sigma))),
        measured_kwh,
        model_variance: errors.mean(|p| p.sigma.powi(2) * variance(&weighed.by_day, p.r)) / (m * m),
        noise_variance: errors.mean(|p| p.sigma.powi(2) * variance(&after, p.r)) / m,
        errors,
    })
}

/// Weights of two sets of days, in order of the days.
pub(super) fn merged(a: &[(i64, f64)], b: &[(i64, f64)]) -> Vec<(i64, f64)> {
    let mut all = [a, b].concat();
    all.sort_by_key(|(day, _)| *day);
    all
}

/// The weights of the fitted days in a sum of predictions.
pub(super) struct Weighed {
    pub by_day: Vec<(i64, f64)>,
    /// What unequal weights within a day add to the variance [kWh^2]; zero where the rows are days.
    pub within: f64,
}

impl Weighed {
    /// Of the rows asked for. `None` where one asks for a place in the calendar that was never seen.
    pub fn new(model: &Model, days: &[Day], asked: &[Row]) -> Option<Self> {
        let rows = held_out::rows(model.form, days);
        let of = |r: &Row| [model.columns(r), model.steep(r)].concat();
        let fit = least_squares::fit(&energy(&rows), &groups(model.form.calendar, &rows), &columns(&rows, of))?;
        let mut counts = vec![0.0; 1 + asked.iter().map(|r| group(model.form.calendar, r)).max()?];
        let mut sums = vec![0.0; fit.slope.len()];
        for row in asked {
            counts[group(model.form.calendar, row)] += 1.0;
            sums.iter_mut().zip(of(row)).for_each(|(s, v)| *s += v);
        }
        let weights = fit.weights(&counts, &sums)?;
        let mut by_day = Vec::new();
        let (mut spread, mut at) = (0.0, 0);
        for block in rows.chunk_by(|a, b| a.day == b.day) {
            let part = &weights[at..at + block.len()];
            let mean = part.iter().sum::<f64>() / part.len() as f64;
            spread += part.iter().map(|w| (w - mean).powi(2)).sum::<f64>();
            by_day.push((block[0].day, mean));
            at += block.len();
        }
        let within = if model.form.hourly() { spread * hourly_variance(&rows, &fit.residual) } else { 0.0 };
        Some(Self { by_day, within })
    }
}

/// Variance of an hour about its day's mean residual, with what neighbouring hours share [kWh^2].
fn hourly_variance(rows: &[Row], residual: &[f64]) -> f64 {
    let (mut squares, mut pairs, mut freedom, mut at) = (0.0, 0.0, 0.0, 0);
    for block in rows.chunk_by(|a, b| a.day == b.day) {
        let part = &residual[at..at + block.len()];
        let mean = part.iter().sum::<f64>() / part.len() as f64;
        squares += part.iter().map(|e| (e - mean).powi(2)).sum::<f64>();
        pairs += part.windows(2).map(|w| (w[0] - mean) * (w[1] - mean)).sum::<f64>();
        freedom += part.len() as f64 - 1.0;
        at += block.len();
    }
    if !(squares > 0.0) {
        return 0.0;
    }
    let r = (pairs / squares).clamp(0.0, 0.95);
    squares / freedom * (1.0 + r) / (1.0 - r)
}

/// Days, their energy, and the model's columns summed over each, its levels as columns too.
pub(super) fn by_day(model: &Model, days: &[Day]) -> (Vec<i64>, Vec<f64>, Vec<Vec<f64>>) {
    let hourly = model.form.hourly();
    let calendar = if hourly { Calendar::Weekday } else { model.form.calendar };
    let mut seen: Vec<usize> = days.iter().map(|d| group(calendar, &d.row)).collect();
    seen.sort_unstable();
    seen.dedup();
    let (mut day, mut y, mut design) = (Vec::new(), Vec::new(), Vec::new());
    for d in days {
        let rows = held_out::rows(model.form, std::slice::from_ref(d));
        let mut line: Vec<f64> = seen.iter().map(|g| f64::from(u8::from(*g == group(calendar, &d.row)))).collect();
        let mut sums = vec![0.0; model.fit.slope.len() + model.points.len()];
        for row in &rows {
            sums.iter_mut().zip([model.columns(row), model.steep(row)].concat()).for_each(|(s, v)| *s += v);
        }
        line.extend(sums);
        day.push(d.row.day);
        y.push(rows.iter().map(|r| r.energy_kwh).sum());
        design.push(line);
    }
    let turned = (0..design.first().map_or(0, Vec::len)).map(|j| design.iter().map(|l| l[j]).collect()).collect();
    (day, y, turned)
}

fn quality(named: &Candidate, periods: &Periods, fraction: f64) -> Quality {
    let (model, fit) = (&named.model, &named.model.fit);
    let rows = held_out::rows(model.form, &periods.old);
    let mean = rows.iter().map(|r| r.energy_kwh).sum::<f64>() / fit.n as f64;
    let days = periods.old.len();
    let mut residual = Vec::new();
    let mut at = 0;
    for block in rows.chunk_by(|a, b| a.day == b.day) {
        residual.push(fit.residual[at..at + block.len()].iter().sum::<f64>());
        at += block.len();
    }
    let day_kwh = named.energy_kwh() / days as f64;
    let day_parameters = if model.form.hourly() { 7 + fit.slope.len() } else { model.parameters() };
    let cv_rmse_days =
        guideline::cv_rmse(residual.iter().map(|e| e * e).sum(), residual.len(), day_parameters, day_kwh);
    let r = guideline::autocorrelation(&residual);
    let (n, m) = (days as f64, periods.new.len() as f64);
    let known_r = if r.is_nan() { 0.0 } else { r };
    let uncertainty = Uncertainty { t: 1.0, factor: FACTOR, cv: cv_rmse_days, fraction, n, m, r: known_r };
    let cv_rmse = guideline::cv_rmse(fit.sse, fit.n, model.parameters(), mean);
    let figures = Figures {
        cv_rmse_days,
        nmbe: named.bias_kwh() / named.energy_kwh(),
        cv_rmse_hours: model.form.hourly().then_some(cv_rmse),
        fractional_uncertainty: uncertainty.of_saving(),
        months_after: m / MONTH_DAYS,
    };
    let limits = guideline::limits(&figures);
    Quality {
        cv_rmse,
        cv_rmse_days,
        cv_rmse_held_out: named.rmse_kwh() / day_kwh,
        nmbe: figures.nmbe,
        r2: fit.r2(),
        n: fit.n,
        p: model.parameters(),
        autocorrelation: r,
        fractional_uncertainty: figures.fractional_uncertainty,
        acceptable: limits[..2].iter().all(|l| l.kept == Some(true)),
        limits,
    }
}
