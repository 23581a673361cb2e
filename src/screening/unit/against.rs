//! What a reading is held against: the pumps' tables at the speed of the row, and the factors of usual mistakes.

use super::MOSTLY;
use crate::ingest::Series;
use crate::plant::{Plant, Pump, Role};
use crate::quantity::{Frequency, Power, ShaftSpeed};
use crate::screening::share_of;

/// Speed over rated of the fastest pump a reading belongs to, row by row, with that pump.
pub(super) struct Speeds<'a> {
    pub(super) of: Vec<(&'a Pump, &'a [f64], f64)>,
}

impl<'a> Speeds<'a> {
    pub(super) fn of(plant: &'a Plant, series: &'a [Series], pump: Option<&str>) -> Option<Self> {
        let wanted = plant.pumps.iter().filter(|p| pump.is_none_or(|n| n == p.name));
        let of = wanted
            .map(|p| {
                let s = series.iter().find(|s| s.role == Role::PumpSpeed && s.of.as_ref() == Some(&p.name))?;
                Some((p, s.values.as_slice(), factor(p, s)?))
            })
            .collect::<Option<Vec<_>>>()?;
        (!of.is_empty()).then_some(Self { of })
    }
    /// The largest of `what(pump)` at each pump's speed to this power, and the sum.
    pub(super) fn made(&self, i: usize, slowest: f64, power: i32, what: impl Fn(&Pump) -> f64) -> (f64, f64) {
        let mut out = (f64::NAN, 0.0);
        for (p, v, f) in &self.of {
            let speed = v[i] * f;
            if speed > slowest {
                let made = what(p) * speed.powi(power);
                out = (out.0.max(made), out.1 + made);
            }
        }
        out
    }
}

/// Reading to share of rated; `None` where it has two meanings.
fn factor(pump: &Pump, s: &Series) -> Option<f64> {
    let top = share_of(s.values.iter().copied(), 0.99);
    match s.unit {
        "fraction" if top > 2.0 => Some(0.01),
        // A % that stops at 50 or 60 may be hertz.
        "fraction" if (top - 0.5).abs() < 0.003 || (top - 0.6).abs() < 0.003 => None,
        "fraction" => Some(1.0),
        "Hz" => {
            pump.rated_frequency.map(Frequency::in_hz).or(Some(if top > 51.0 { 60.0 } else { 50.0 })).map(|f| 1.0 / f)
        }
        "rpm" => pump.rated_speed.map(|r| 1.0 / ShaftSpeed::in_rpm(r)),
        _ => None,
    }
}

/// Largest and last head of a pump's table at rated speed [kPa]; NaN without one.
pub(super) fn heads(p: &Pump) -> (f64, f64) {
    let Some(c) = p.curves.first() else { return (f64::NAN, f64::NAN) };
    let at = c.speed.in_of_one().powi(2);
    let most = c.head_kpa.iter().copied().fold(f64::NAN, f64::max);
    (most / at, c.head_kpa.last().copied().unwrap_or(f64::NAN) / at)
}

pub(super) fn last_flow(p: &Pump) -> f64 {
    p.curves.first().map_or(f64::NAN, |c| c.head_flow_m3h.last().copied().unwrap_or(f64::NAN) / c.speed.in_of_one())
}

/// Largest shaft power of the table at rated speed, else the name plate's [kW].
pub(super) fn largest_power(p: &Pump) -> f64 {
    let table = p
        .curves
        .first()
        .map_or(f64::NAN, |c| c.power_kw.iter().copied().fold(f64::NAN, f64::max) / c.speed.in_of_one().powi(3));
    if table.is_finite() { table } else { p.motor_power.map_or(f64::NAN, Power::in_kw) }
}

/// Ratio of reading to reference over rows: middle, and the share of rows below and above a range.
pub(super) fn ratios(
    rows: &[usize],
    ratio: impl Fn(usize) -> f64,
    (low, high): (f64, f64),
) -> Option<(f64, bool, bool)> {
    let all: Vec<f64> = rows.iter().map(|&i| ratio(i)).filter(|r| r.is_finite()).collect();
    if all.len() < rows.len() / 4 || all.len() < 20 {
        return None;
    }
    let share = |f: &dyn Fn(f64) -> bool| all.iter().filter(|r| f(**r)).count() as f64 / all.len() as f64;
    Some((share_of(all.iter().copied(), 0.5), share(&|r| r < low) >= MOSTLY, share(&|r| r > high) >= MOSTLY))
}

/// The mistake whose factor brings the middle nearest to the middle of a range, if it brings it inside.
pub(super) fn mistake(middle: f64, (low, high): (f64, f64), of: &[(f64, &'static str)]) -> Option<&'static str> {
    let away = |f: f64| (middle * f / (low * high).sqrt()).ln().abs();
    of.iter()
        .filter(|(f, _)| (low..=high).contains(&(middle * f)))
        .min_by(|a, b| away(a.0).total_cmp(&away(b.0)))
        .map(|m| m.1)
}
