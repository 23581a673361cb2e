//! Old and new setting in turn: one model of all days, in which the setting is one more column.
//!
//! The columns are the chosen form's; the setting comes as a step, and as a change of each level and slope about the new days' mean, so that the step is the saving
//! of their mean day: a saving that is smaller on Sundays must not be taken for one that is the same on all days. For each autocorrelation that may be the fit is made with the errors independent: what drifts slowly then drops out between neighbouring stretches.

use super::errors::Errors;
use super::model::Model;
use super::periods::Periods;
use super::rows::Day;
use super::saving::{Compared, by_day};

/// Days a parameter from which levels and slopes may differ, too (common practice, no source).
const DAYS_A_SLOPE: usize = 10;

pub(super) fn compare(model: &Model, periods: &Periods) -> Option<Compared> {
    let mut days: Vec<(Day, bool)> = periods.old.iter().map(|d| (d.clone(), false)).collect();
    days.extend(periods.new.iter().map(|d| (d.clone(), true)));
    days.sort_by_key(|(d, _)| d.row.day);
    let new: Vec<bool> = days.iter().map(|(_, new)| *new).collect();
    let days: Vec<Day> = days.into_iter().map(|(d, _)| d).collect();
    let (day, y, mut design) = by_day(model, &days);
    let lines = design.len();
    // The first level is the step's own.
    let differ: Vec<Vec<f64>> = design[1..lines - model.points.len()].to_vec();
    let on = |v: f64, new: bool| if new { v } else { 0.0 };
    let step = design.len();
    design.push(new.iter().map(|n| on(1.0, *n)).collect());
    let m = periods.new.len() as f64;
    if days.len() >= DAYS_A_SLOPE * (design.len() + differ.len()) {
        for column in differ {
            let mean = column.iter().zip(&new).map(|(v, n)| on(*v, *n)).sum::<f64>() / m;
            design.push(column.iter().zip(&new).map(|(v, n)| on(v - mean, *n)).collect());
        }
    }
    let errors = Errors::new(&day, &y, &design)?;
    let saving = errors.told(|p| (-m * p.fit.slope[step], m * p.fit.slope_error(step)));
    let sigma = errors.mean(|p| p.fit.slope_error(step).powi(2));
    // More stretches of both settings make the step surer in proportion: its variance falls as one over the days.
    Some(Compared {
        saving,
        measured_kwh: periods.new.iter().map(|d| d.row.energy_kwh).sum(),
        model_variance: 0.0,
        noise_variance: sigma * m,
        errors,
    })
}
