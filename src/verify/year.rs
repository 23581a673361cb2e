//! The saving over a year, where the record knows a year's weather and both settings have seen it.
//!
//! Both settings get a model of the chosen form; their difference is summed over the last 365 days of the record, whichever setting stood. The rule: at least
//! 330 of those days must be known, and nine tenths of them must lie within what each setting saw (with a tenth of its range beyond); the rest are taken at the
//! nearest value that both saw. Else there is no yearly figure, and the words say which of the two is missing.

use super::Estimate;
use super::errors::{Errors, Mixture, variance};
use super::form::Driver;
use super::held_out::{self, Choice};
use super::model::{Model, driver};
use super::periods::{Periods, range};
use super::rows::{Day, Row};
use super::saving::{Weighed, by_day, merged};

const YEAR_DAYS: i64 = 365;
/// Days of the last year that must be known: eleven months (common practice, no source).
const LEAST_DAYS: usize = 330;
/// Share of them that each setting must have seen (common practice, no source) [-].
const LEAST_SEEN: f64 = 0.9;
/// Hours that a day must have where the rows are hours.
const LEAST_HOURS: usize = 22;
/// By how much of its range a driver may leave it (CalTRACK 2.0) [-].
const BEYOND: f64 = 0.1;

/// Every form that counts; where the named one has no yearly figure, there is none.
pub(super) fn saving(choice: &Choice, periods: &Periods) -> Result<Estimate, String> {
    of_form(&choice.named.model, periods)?;
    let mut all = Mixture::default();
    for candidate in &choice.all {
        if let Ok(one) = of_form(&candidate.model, periods) {
            all.add(candidate.weight, &one);
        }
    }
    Ok(all.estimate())
}

fn of_form(model: &Model, periods: &Periods) -> Result<Mixture, String> {
    let needed = periods.needed(model.form.on());
    if needed.is_empty() {
        return Err(
            "neither weather nor load is trended, so it is not known how well these days stand for a year".to_owned()
        );
    }
    let days = last_year(periods, &needed, model.form.hourly());
    if days.len() < LEAST_DAYS {
        let known = days.len();
        return Err(format!(
            "{} is known on {known} of the last {YEAR_DAYS} days; {LEAST_DAYS} are needed",
            needed.iter().map(|d| name(*d)).collect::<Vec<_>>().join(" and ")
        ));
    }
    let mut held = days.clone();
    for which in needed {
        let both = seen_by_both(which, periods, &days)?;
        held = held.iter().map(|d| hold(d, which, both)).collect();
    }
    let unsure = || "the days with the new setting are too few for a model of their own".to_owned();
    let after = Model::new(model.form, &held_out::rows(model.form, &periods.new)).ok_or_else(unsure)?;
    let rows = held_out::rows(model.form, &held);
    let sum = |m: &Model, rows: &[Row]| rows.iter().map(|r| m.predict(r)).sum::<f64>();
    let scale = YEAR_DAYS as f64 / days.len() as f64;
    let centre = scale * (sum(model, &rows) - sum(&after, &rows));
    let weighed = |m: &Model, d: &[Day]| Weighed::new(m, d, &rows).ok_or_else(unsure);
    let (a, b) = (weighed(model, &periods.old)?, weighed(&after, &periods.new)?);
    let taken: Vec<(i64, f64)> = b.by_day.iter().map(|(d, w)| (*d, -w)).collect();
    let all = merged(&a.by_day, &taken);
    let error = |r: f64, sigma: f64| scale * (sigma * sigma * variance(&all, r) + a.within + b.within).sqrt();
    if !centre.is_finite() {
        return Err(unsure());
    }
    let (day, y, design) = by_day(model, &periods.old);
    let errors = Errors::new(&day, &y, &design).ok_or_else(unsure)?;
    Ok(errors.told(|p| (centre, error(p.r, p.sigma))))
}

/// What both settings saw of a driver; the words where one of them saw too little of a year's days.
fn seen_by_both(which: Driver, periods: &Periods, days: &[Day]) -> Result<(f64, f64), String> {
    let (old, new) = (range(which, &periods.old), range(which, &periods.new));
    for (seen, setting) in [(old, "old"), (new, "new")] {
        let margin = BEYOND * (seen.1 - seen.0);
        let inside = |d: &&Day| (seen.0 - margin..=seen.1 + margin).contains(&driver(which, &d.row));
        let share = days.iter().filter(inside).count() as f64 / days.len() as f64;
        if share < LEAST_SEEN {
            return Err(format!(
                "the {setting} setting saw the {} of {:.0} % of a year's days; {:.0} % are needed",
                name(which),
                100.0 * share,
                100.0 * LEAST_SEEN
            ));
        }
    }
    // Both at the same place, or the difference would be one of weather.
    Ok((old.0.max(new.0), old.1.min(new.1)))
}

/// The last 365 days of the record of which the driver is known (and, for a form of hours, nearly every hour).
fn last_year(periods: &Periods, needed: &[Driver], hourly: bool) -> Vec<Day> {
    let end = periods.all.last().map_or(0, |d| d.row.day);
    let hours = |d: &&Day| !hourly || d.hours.len() >= LEAST_HOURS;
    let finite = |d: &Day| needed.iter().all(|w| driver(*w, &d.row).is_finite());
    let known = |d: &&Day| d.row.day > end - YEAR_DAYS && finite(d) && hours(d);
    periods.all.iter().filter(known).cloned().collect()
}

/// A day with its driver held within a range.
fn hold(day: &Day, which: Driver, (low, high): (f64, f64)) -> Day {
    let held = |row: &Row| {
        let mut row = *row;
        match which {
            Driver::Outdoor => row.outdoor_c = row.outdoor_c.clamp(low, high),
            Driver::Load | Driver::LoadAndOutdoor => row.load_kw = row.load_kw.clamp(low, high),
        }
        row
    };
    // Hours leave the range of daily means every day, which the model knows: only whole days are held.
    Day { row: held(&day.row), ..day.clone() }
}

fn name(which: Driver) -> &'static str {
    match which {
        Driver::Outdoor => "outdoor temperature",
        Driver::Load | Driver::LoadAndOutdoor => "load",
    }
}
