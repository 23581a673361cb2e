//! How a point behaves elsewhere in the record, and what should have moved it.

use super::{DRIVER_MOVES, OTHER_MOVES_K, Run, while_running};
use crate::ingest::Series;
use crate::plant::Role;
use crate::screening::{quantile, sorted};

/// A point is lively when it differs from its last value in this share of working rows outside the run [share].
const LIVELY: f64 = 0.8;
/// Then the run is a fault when it is this many times longer than any other.
const LONGER: usize = 6;
/// A point that is not lively must miss a change of this share of its middle, and of so many of its resolutions.
const MISSED: f64 = 0.25;
const RESOLUTIONS: f64 = 5.0;
/// Driver's values are sorted into so many classes to learn the point's habit.
const CLASSES: usize = 12;

/// How a point behaves outside the runs in question.
pub(super) struct Habit {
    /// Share of working rows with a new value.
    lively: f64,
    /// Working rows of the longest other run.
    longest: usize,
    /// Middle change.
    resolution: f64,
    middle: f64,
}

impl Habit {
    pub(super) fn of(s: &Series, all: &[Run], candidates: &[Run], works: &impl Fn(usize) -> bool) -> Self {
        let others = || all.iter().filter(|r| !candidates.iter().any(|c| c.first == r.first));
        let working: usize = others().map(|r| r.working).sum();
        let changes = others().filter(|r| r.working > 0).count();
        let steps = sorted(all.windows(2).map(|w| (w[1].value - w[0].value).abs()));
        let values = sorted(s.values.iter().enumerate().filter(|(row, _)| works(*row)).map(|(_, v)| v.abs()));
        Self {
            lively: if working > 0 { changes as f64 / working as f64 } else { 0.0 },
            longest: others().map(|r| r.working).max().unwrap_or(0),
            resolution: quantile(&steps, 0.5).unwrap_or(f64::NAN),
            middle: quantile(&values, 0.5).unwrap_or(f64::NAN),
        }
    }

    /// The point that moved during a run and should have moved this one; `None` where the run may be honest.
    pub(super) fn drives(
        &self,
        series: &[Series],
        s: &Series,
        r: &Run,
        runs: &impl Fn(usize) -> bool,
        outdoor: bool,
    ) -> Option<String> {
        let lively = self.lively >= LIVELY && r.working >= LONGER * self.longest;
        if outdoor {
            return lively.then(|| "the day".to_owned());
        }
        let inside = |row: usize| (r.first..=r.last).contains(&row) && runs(row);
        if let Some(speed) = drivers(series, s).find(|d| moves(d, &inside)) {
            let missed = || missed(speed, s, r, runs);
            let asked =
                self.resolution.is_finite() && missed() > (RESOLUTIONS * self.resolution).max(MISSED * self.middle);
            if lively || (asked && follows_speed(s.role)) {
                return Some(speed.name.clone());
            }
        }
        let other = series.iter().filter(|o| o.name != s.name && is_water(o.role)).find(|o| {
            let valid = sorted(o.values[r.first..=r.last].iter().copied());
            matches!((quantile(&valid, 0.05), quantile(&valid, 0.95)), (Some(l), Some(h)) if h - l > OTHER_MOVES_K)
        });
        other.filter(|_| lively && is_water(s.role)).map(|o| o.name.clone())
    }
}

fn is_water(role: Role) -> bool {
    use Role::{
        CoilReturnTemperature, ReturnTemperature, SourceReturnTemperature, SourceSupplyTemperature, SupplyTemperature,
    };
    matches!(
        role,
        SupplyTemperature
            | ReturnTemperature
            | CoilReturnTemperature
            | SourceSupplyTemperature
            | SourceReturnTemperature
    )
}

fn follows_speed(role: Role) -> bool {
    use Role::{LoopFlow, MotorCurrent, MotorTorque, PumpFlow, PumpHead, PumpPower, TotalPower};
    matches!(role, PumpPower | PumpFlow | PumpHead | LoopFlow | TotalPower | MotorCurrent | MotorTorque)
}

/// Speeds that drive a point: its own pump's, or any where the point is the loop's.
fn drivers<'a>(series: &'a [Series], s: &'a Series) -> impl Iterator<Item = &'a Series> {
    let of_pump =
        matches!(s.role, Role::PumpPower | Role::PumpFlow | Role::PumpHead | Role::MotorCurrent | Role::MotorTorque);
    series.iter().filter(move |d| d.role == Role::PumpSpeed && (!of_pump || s.of.is_none() || s.of == d.of))
}

pub(super) fn moves(d: &Series, inside: &impl Fn(usize) -> bool) -> bool {
    let valid = sorted(while_running(d, inside));
    let (low, middle, high) = (quantile(&valid, 0.05), quantile(&valid, 0.5), quantile(&valid, 0.95));
    matches!((low, middle, high), (Some(l), Some(m), Some(h)) if h - l > DRIVER_MOVES * m.abs())
}

/// How far the point should have moved within the run, by what it did at like values of the driver elsewhere.
fn missed(driver: &Series, s: &Series, r: &Run, runs: &impl Fn(usize) -> bool) -> f64 {
    let valid = sorted(while_running(driver, &|row| runs(row)));
    let (Some(low), Some(high)) = (valid.first(), valid.last()) else { return f64::NAN };
    let width = (high - low) / CLASSES as f64;
    let class = |v: f64| (((v - low) / width) as usize).min(CLASSES - 1);
    let outside = |row: usize| runs(row) && !(r.first..=r.last).contains(&row);
    let mut habit: Vec<Vec<f64>> = vec![Vec::new(); CLASSES];
    for row in
        (0..s.values.len()).filter(|&row| outside(row) && driver.values[row].is_finite() && s.values[row].is_finite())
    {
        habit[class(driver.values[row])].push(s.values[row]);
    }
    let levels: Vec<Option<f64>> =
        habit.into_iter().map(|h| (h.len() >= 10).then(|| quantile(&sorted(h.into_iter()), 0.5)).flatten()).collect();
    let asked = (r.first..=r.last).filter(|&row| runs(row) && driver.values[row].is_finite());
    let asked = sorted(asked.filter_map(|row| levels[class(driver.values[row])]));
    match (quantile(&asked, 0.1), quantile(&asked, 0.9)) {
        (Some(l), Some(h)) => h - l,
        _ => f64::NAN,
    }
}
