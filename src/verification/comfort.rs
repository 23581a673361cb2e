//! What the change cost in comfort: the share of hours in which a coil was short of water, before and after.
//!
//! A coil is short where its valve stands at its end and its air misses its setpoint on the starving side; where no air is trended, the valve at its end counts alone.
//! The decision a reader would question: the shares are not adjusted for weather. A valve at its end hangs on load in no simple line, so the days' own scatter says
//! whether a difference can be told, and the report says what the weather was.

use super::View;
use crate::plant::{Coil, Role, Service, Valve};
use crate::verify::guideline::{autocorrelation, effective_number};
use crate::verify::{Setting, Stretch};

/// A valve this far open is at its end [-]: the usual limit of a request for more pressure (ASHRAE Guideline 36: above 95 %, from memory).
const PEGGED: f64 = 0.95;
/// Air this far off its setpoint is short [K]: sensors and a proportional controller take half of it (common practice, no source).
const SHORT_K: f64 = 1.0;
/// A coil at work for less than this is still pulling down or warming up [h] (common practice, no source).
const SETTLING_H: f64 = 2.0;
/// A valve open by less is not at work [-].
const AT_WORK: f64 = 0.10;
/// Judged hours that a day needs to count [h], and days either side.
const LEAST_DAY_H: f64 = 1.0;
const LEAST_DAYS: usize = 3;
/// A difference of shares below this is none [-], however sure (common practice, no source).
const WORTH: f64 = 0.02;
/// Standard errors from which a difference is told [-]: 95 % for the few tens of days that there are.
const TOLD: f64 = 2.1;

/// Which way the share of hours went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tendency {
    Rose,
    Fell,
    /// No difference that could be told, or too small to matter.
    NoneTold,
    /// Nothing could be judged.
    Unknown,
}

/// One side.
#[derive(Debug, Clone, Default)]
pub struct Short {
    /// Hours with a pump running and a coil at work that could be judged [h].
    pub judged_h: f64,
    /// Of them with at least one coil short [h].
    pub short_h: f64,
    /// Share of each coil's own judged hours, by name.
    pub coils: Vec<CoilShort>,
    days: Vec<f64>,
}

/// One coil.
#[derive(Debug, Clone)]
pub struct CoilShort {
    pub name: String,
    pub judged_h: f64,
    pub short_h: f64,
}

impl Short {
    /// Share of judged hours with a coil short [-]; NaN where none was judged.
    #[must_use]
    pub fn share(&self) -> f64 {
        if self.judged_h > 0.0 { self.short_h / self.judged_h } else { f64::NAN }
    }

    /// Mean of the days' shares, and the variance of that mean with neighbouring days alike.
    fn mean(&self) -> (f64, f64) {
        let n = self.days.len() as f64;
        let mean = self.days.iter().sum::<f64>() / n;
        let variance = self.days.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let r = autocorrelation(&self.days);
        (mean, variance / effective_number(n, if r.is_nan() { 0.0 } else { r.min(0.9) }).max(1.0))
    }
}

/// Both sides.
#[derive(Debug, Clone)]
pub struct Comfort {
    pub before: Short,
    pub after: Short,
    /// Coils that were judged by their air, and by their valve alone.
    pub by_air: usize,
    pub by_valve: usize,
    pub tendency: Tendency,
    /// Why nothing could be judged.
    pub why: Option<String>,
}

/// A coil whose valve can be seen to stand at its end.
struct Seen<'a> {
    coil: &'a Coil,
    valve: &'a [f64],
    fan: Option<&'a [f64]>,
    air: Option<(&'a [f64], &'a [f64])>,
}

/// Judges both settings' stretches.
pub(super) fn judge(view: &View, stretches: &[Stretch]) -> Comfort {
    let coils: Vec<Seen> = view.plant.coils.iter().filter_map(|c| seen(view, c)).collect();
    let why = if view.plant.system.service == Service::CondenserWater {
        Some("condenser water: no coil's valve says what the machines need")
    } else if coils.is_empty() {
        Some(
            "no two-way coil valve is trended, so no coil could be seen to be short: trend valve-position, and air-temperature with its setpoint",
        )
    } else {
        None
    };
    let (before, after) = if why.is_some() {
        (Short::default(), Short::default())
    } else {
        let says: Vec<Vec<Option<bool>>> = coils.iter().map(|c| says(view, c)).collect();
        (side(view, stretches, Setting::Old, &coils, &says), side(view, stretches, Setting::New, &coils, &says))
    };
    let by_air = coils.iter().filter(|c| c.air.is_some()).count();
    let tendency = tendency(&before, &after);
    let idle = (why.is_none() && tendency == Tendency::Unknown)
        .then(|| format!("fewer than {LEAST_DAYS} days on either side with a coil at work"));
    Comfort { before, after, by_air, by_valve: coils.len() - by_air, tendency, why: why.map(str::to_owned).or(idle) }
}

fn seen<'a>(view: &View<'a>, coil: &'a Coil) -> Option<Seen<'a>> {
    let screened = view.screened;
    let of = |role| screened.values(role, Some(&coil.name));
    let valve = screened.valve(&coil.name)?;
    let pair = |v: Option<&'a [f64]>, s: Option<&'a [f64]>| v.zip(s);
    let air = pair(of(Role::AirTemperature), of(Role::AirTemperatureSetpoint))
        .or_else(|| pair(of(Role::SpaceTemperature), of(Role::SpaceTemperatureSetpoint)));
    let tells = match coil.valve {
        Some(Valve::TwoWay) | None => true,
        // It stands at its end at design flow, too.
        Some(Valve::PressureIndependent) => air.is_some(),
        Some(Valve::ThreeWay | Valve::Thermostatic | Valve::None) => false,
    };
    tells.then_some(Seen { coil, valve, fan: of(Role::FanStatus), air })
}

/// Whether the coil is short, row by row; `None`: not at work, still settling, or unknown.
fn says(view: &View, seen: &Seen) -> Vec<Option<bool>> {
    let settled = (SETTLING_H / view.clock.hours()).ceil() as usize;
    let heating = view.plant.system.service == Service::HeatingWater;
    let running = |i: usize| view.points.pumps.iter().any(|p| p.state[i].turns());
    let mut at_work = 0usize;
    let mut row = |i: usize| {
        let valve = seen.valve[i];
        let on = !seen.fan.is_some_and(|f| f[i] < 0.5);
        at_work = if on && valve > AT_WORK && running(i) { at_work + 1 } else { 0 };
        if at_work <= settled || !valve.is_finite() {
            return None;
        }
        let pegged = valve >= PEGGED;
        let Some((air, setpoint)) = seen.air else { return Some(pegged) };
        let off = if heating { setpoint[i] - air[i] } else { air[i] - setpoint[i] };
        off.is_finite().then_some(pegged && off > SHORT_K)
    };
    (0..view.clock.len).map(&mut row).collect()
}

fn side(view: &View, stretches: &[Stretch], setting: Setting, coils: &[Seen], says: &[Vec<Option<bool>>]) -> Short {
    let hours = view.clock.hours();
    let coil = |c: &Seen| CoilShort { name: c.coil.name.clone(), judged_h: 0.0, short_h: 0.0 };
    let mut side = Short { coils: coils.iter().map(coil).collect(), ..Short::default() };
    let mut day: Option<(chrono::NaiveDate, f64, f64)> = None;
    for i in 0..view.clock.len {
        let ms = view.clock.at_ms(i);
        if !stretches.iter().any(|s| s.setting == setting && (s.from_ms..s.to_ms).contains(&ms)) {
            continue;
        }
        let (mut judged, mut short) = (false, false);
        for (k, says) in says.iter().enumerate() {
            if let Some(is_short) = says[i] {
                (judged, short) = (true, short || is_short);
                side.coils[k].judged_h += hours;
                side.coils[k].short_h += if is_short { hours } else { 0.0 };
            }
        }
        if !judged {
            continue;
        }
        let more = if short { hours } else { 0.0 };
        side.judged_h += hours;
        side.short_h += more;
        let date = view.plant.local(ms).date_naive();
        match &mut day {
            Some(d) if d.0 == date => (d.1, d.2) = (d.1 + hours, d.2 + more),
            _ => {
                side.close(day.take());
                day = Some((date, hours, more));
            }
        }
    }
    side.close(day);
    side
}

impl Short {
    fn close(&mut self, day: Option<(chrono::NaiveDate, f64, f64)>) {
        if let Some((_, judged, short)) = day.filter(|d| d.1 >= LEAST_DAY_H) {
            self.days.push(short / judged);
        }
    }
}

fn tendency(before: &Short, after: &Short) -> Tendency {
    if before.days.len() < LEAST_DAYS || after.days.len() < LEAST_DAYS {
        return Tendency::Unknown;
    }
    let ((b, vb), (a, va)) = (before.mean(), after.mean());
    let told = (a - b).abs() > TOLD * (vb + va).sqrt() && (a - b).abs() >= WORTH;
    match (told, a > b) {
        (true, true) => Tendency::Rose,
        (true, false) => Tendency::Fell,
        _ => Tendency::NoneTold,
    }
}
