//! How the loop ran in a period, small enough to keep in its result: what a later review needs to put this one beside it.
//!
//! Comes in: a review. Goes out: an [`Operation`]: hours, means, regimes, head by flow, and a line a day of energy, weather
//! and load. The same type is written into `findings.json` and read from there. A day counts as `verify`'s do: nine tenths
//! of its energy, three quarters of a driver. Missing is `None`, in the file null.

use super::words;
use crate::{
    pipeline::Review,
    plant::{Role, local_to_utc},
    quantity::Flow,
    regimes::Regime,
    verification,
    verify::rows::{LEAST_DRIVER, LEAST_ENERGY},
};
use chrono::{DateTime, NaiveTime};
use serde::{Deserialize, Serialize};

/// Flow bins up to design flow: wide enough that a month fills each, fine enough that a curve shows [-].
const BINS: f64 = 12.0;
/// A bin of fewer hours is not worth a mark [h].
const LEAST_BIN_H: f64 = 0.5;
/// Ends of the middle of a bin's heads [-].
const MIDDLE: (f64, f64) = (0.1, 0.9);

/// How a loop ran.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Operation {
    /// Hours with any pump running.
    pub running_hours: f64,
    /// Means over those hours.
    pub mean_flow_m3_h: Option<f64>,
    pub mean_head_kpa: Option<f64>,
    pub mean_delta_t_k: Option<f64>,
    pub mean_power_kw: Option<f64>,
    /// Electric power is trended, not worked out from the pumps' tables.
    pub power_metered: bool,
    /// Where the load comes from; null: none is metered apart from the pumps.
    pub load_from: Option<String>,
    /// Hours of all pumps in each regime.
    pub regime_hours: Vec<RegimeHours>,
    /// Steady hours by flow.
    pub head_over_flow: Vec<Bin>,
    pub days: Vec<Day>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RegimeHours {
    pub regime: String,
    pub hours: f64,
}

/// Heads of a narrow range of flow: the middle one, and between which eight tenths lie.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bin {
    pub flow_m3_h: f64,
    pub head_kpa: f64,
    pub head_low_kpa: f64,
    pub head_high_kpa: f64,
    pub hours: f64,
}

/// A local day. Energy and drivers are null where too much of them is missing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Day {
    pub date: String,
    pub energy_kwh: Option<f64>,
    pub outdoor_degc: Option<f64>,
    pub load_kw: Option<f64>,
    pub running_hours: Option<f64>,
}

impl Operation {
    /// Of a review.
    pub fn new(review: &Review) -> Self {
        let system = &review.points.system;
        let running: Vec<usize> = (0..review.clock.len)
            .filter(|i| at(&system.flow_m3h, *i) > 0.0 || system.pumps_on.get(*i).is_some_and(|n| *n > 0))
            .collect();
        let load = verification::load(&review.plant, &review.screened);
        let mean = |column: &[f64]| mean(running.iter().map(|i| at(column, *i)));
        Self {
            running_hours: round(running.len() as f64 * review.clock.hours()),
            mean_flow_m3_h: mean(&system.flow_m3h),
            mean_head_kpa: mean(&system.head_kpa),
            mean_delta_t_k: delta_t(review, &running),
            mean_power_kw: mean(&system.power_kw),
            power_metered: metered(review),
            regime_hours: regime_hours(review),
            head_over_flow: bins(review),
            days: days(review, load.as_ref().map(|l| l.0.as_slice())),
            load_from: load.map(|l| l.1),
        }
    }

    /// Mean energy of the days of which it is known [kWh].
    pub fn energy_a_day(&self) -> Option<f64> {
        mean(self.days.iter().map(|d| d.energy_kwh.unwrap_or(f64::NAN)))
    }
}

/// Seven significant figures, as every number of the file.
pub fn round(value: f64) -> f64 {
    format!("{value:.6e}").parse().unwrap_or(value)
}

fn known(value: f64) -> Option<f64> {
    value.is_finite().then(|| round(value))
}

fn at(column: &[f64], i: usize) -> f64 {
    column.get(i).copied().unwrap_or(f64::NAN)
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, n) = values.filter(|v| v.is_finite()).fold((0.0, 0usize), |(s, n), v| (s + v, n + 1));
    known(sum / n as f64)
}

fn delta_t(review: &Review, running: &[usize]) -> Option<f64> {
    let supply = review.screened.values(Role::SupplyTemperature, None)?;
    let back = review.screened.values(Role::ReturnTemperature, None)?;
    mean(running.iter().map(|i| (at(back, *i) - at(supply, *i)).abs()))
}

fn metered(review: &Review) -> bool {
    let power = [Role::PumpPower, Role::PumpEnergy, Role::TotalPower];
    review.screened.series.iter().any(|s| power.contains(&s.role) && s.values.iter().any(|v| v.is_finite()))
}

fn regime_hours(review: &Review) -> Vec<RegimeHours> {
    let count = |regime: Regime| {
        let rows = review.regimes.pumps.iter().flat_map(|p| &p.regime).filter(|r| **r == regime).count();
        rows as f64 * review.clock.hours()
    };
    let all = words::REGIMES.iter().map(|r| (*r, count(*r))).filter(|(_, hours)| *hours > 0.0);
    all.map(|(r, hours)| RegimeHours { regime: words::regime_code(r).to_owned(), hours: round(hours) }).collect()
}

/// Heads by flow, over the loop's steady rows.
fn bins(review: &Review) -> Vec<Bin> {
    let system = &review.points.system;
    let steady = |i: &usize| system.steady.get(*i) == Some(&true) && at(&system.flow_m3h, *i) > 0.0;
    let rows: Vec<(f64, f64)> = (0..review.clock.len)
        .filter(steady)
        .map(|i| (system.flow_m3h[i], at(&system.head_kpa, i)))
        .filter(|(_, head)| head.is_finite())
        .collect();
    let most = rows.iter().map(|r| r.0).fold(0.0, f64::max);
    let width = review.plant.system.design_flow.map_or(most, Flow::in_m3h) / BINS;
    if !(width > 0.0) {
        return Vec::new();
    }
    let mut heads: std::collections::BTreeMap<i64, Vec<f64>> = std::collections::BTreeMap::new();
    rows.iter().for_each(|(flow, head)| heads.entry((flow / width).floor() as i64).or_default().push(*head));
    let mut out = Vec::new();
    for (k, mut heads) in heads {
        let hours = heads.len() as f64 * review.clock.hours();
        if hours < LEAST_BIN_H {
            continue;
        }
        heads.sort_by(f64::total_cmp);
        let place = |share: f64| round(heads[((heads.len() - 1) as f64 * share).round() as usize]);
        out.push(Bin {
            flow_m3_h: round((k as f64 + 0.5) * width),
            head_kpa: place(0.5),
            head_low_kpa: place(MIDDLE.0),
            head_high_kpa: place(MIDDLE.1),
            hours: round(hours),
        });
    }
    out
}

/// The local days that lie in the period whole.
fn days(review: &Review, load_kw: Option<&[f64]>) -> Vec<Day> {
    let (clock, system) = (review.clock, &review.points.system);
    let zone = review.plant.site.timezone;
    let outdoor = review.screened.values(Role::OutdoorTemperature, None);
    let (step, end) = (clock.step_s * 1000, clock.at_ms(clock.len).min(review.to_ms));
    let Some(first) = DateTime::from_timestamp_millis(review.from_ms.max(clock.start_ms)) else { return Vec::new() };
    let midnight = |d: chrono::NaiveDate| local_to_utc(zone, d.and_time(NaiveTime::MIN)).0.timestamp_millis();
    let mut out = Vec::new();
    let mut date = first.with_timezone(&zone).date_naive();
    while let Some(next) = date.succ_opt() {
        let (from, to) = (midnight(date), midnight(next));
        if from >= end {
            break;
        }
        if from >= review.from_ms && to <= review.to_ms {
            let row = |ms: i64| ((ms - clock.start_ms + step - 1).div_euclid(step)).clamp(0, clock.len as i64) as usize;
            let (rows, expected) = (row(from)..row(to), ((to - from) / step).max(1) as f64);
            let part = |column: &[f64]| column.get(rows.clone()).map_or((0.0, 0.0), sum_and_count);
            let mean = |column: Option<&[f64]>| {
                let (sum, n) = column.map_or((0.0, 0.0), part);
                if n > 0.0 && n >= LEAST_DRIVER * expected { known(sum / n) } else { None }
            };
            let (energy, n) = part(&system.power_kw);
            let whole = n > 0.0 && n >= LEAST_ENERGY * expected;
            let on = system.pumps_on.get(rows.clone()).map_or(0, |on| on.iter().filter(|n| **n > 0).count());
            out.push(Day {
                date: date.to_string(),
                energy_kwh: if whole { known(energy / n * expected * clock.hours()) } else { None },
                outdoor_degc: mean(outdoor),
                load_kw: mean(load_kw),
                running_hours: if whole { known(on as f64 * clock.hours()) } else { None },
            });
        }
        date = next;
    }
    out
}

fn sum_and_count(values: &[f64]) -> (f64, f64) {
    values.iter().filter(|v| v.is_finite()).fold((0.0, 0.0), |(s, n), v| (s + v, n + 1.0))
}
