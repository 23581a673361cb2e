//! The days behind a saving, one row each, so that anyone can add it up again.

use super::held_out::{self, Choice};
use super::periods::Periods;
use super::rows::Day;
use super::{DayRow, Experiment, Setting};

/// Every day of the record. `saving_kwh` is the best value.
pub(super) fn all(choice: &Choice, periods: &Periods, experiment: Experiment, saving_kwh: f64) -> Vec<DayRow> {
    let mut rows: Vec<DayRow> = periods.all.iter().map(|d| row(d, choice, periods)).collect();
    if experiment != Experiment::BeforeAfter {
        let gain = |r: &DayRow| if of_new(r) { r.predicted_kwh - r.energy_kwh } else { 0.0 };
        let apart = (saving_kwh - rows.iter().map(gain).sum::<f64>()) / periods.new.len() as f64;
        rows.iter_mut().filter(|r| of_new(r)).for_each(|r| r.predicted_kwh += apart);
    }
    rows
}

fn of_new(row: &DayRow) -> bool {
    row.setting == Some(Setting::New) && row.predicted_kwh.is_finite()
}

fn row(day: &Day, choice: &Choice, periods: &Periods) -> DayRow {
    let among = |days: &[Day]| days.binary_search_by_key(&day.row.day, |d| d.row.day).is_ok();
    let left_out = periods.left_out.iter().find(|l| l.0 == day.row.day);
    let compared = [(Setting::Old, &periods.old), (Setting::New, &periods.new)].into_iter().find(|(_, d)| among(d));
    DayRow {
        from_ms: day.from_ms,
        to_ms: day.to_ms,
        setting: compared.map(|c| c.0).or(left_out.map(|l| l.1)),
        left_out: left_out.map(|l| l.2),
        energy_kwh: day.row.energy_kwh,
        outdoor_c: day.row.outdoor_c,
        load_kw: day.row.load_kw,
        predicted_kwh: if compared.is_some() { predicted(day, choice) } else { f64::NAN },
    }
}

/// Of all forms that count, each held against the rows it is for: hours that lack a driver are on neither side.
fn predicted(day: &Day, choice: &Choice) -> f64 {
    let (mut sum, mut all) = (0.0, 0.0);
    for candidate in &choice.all {
        let rows = held_out::rows(candidate.model.form, std::slice::from_ref(day));
        let more: f64 = rows.iter().map(|r| candidate.model.predict(r) - r.energy_kwh).sum();
        sum += candidate.weight * more;
        all += candidate.weight;
    }
    day.row.energy_kwh + sum / all
}
