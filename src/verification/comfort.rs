//! What the change cost in comfort: the share of hours in which a coil was short of water, before and after.
//!
//! A coil is short where its valve stands at its end and its air misses its setpoint on the starving side; where no air is trended, the valve at its end counts alone.
//! The decision a reader would question: a valve at its end hangs on load in no simple line, so no model is made of it. Days are compared with days of like outdoor
//! temperature (or load, where no weather is trended), and only those count; the days' own scatter says whether a difference can be told. Weather comes before load:
//! a coil that starves takes less of it, and would be compared with milder days.

use super::View;
use super::record::Columns;
use crate::plant::{Coil, Role, Service, Valve};
use crate::verify::form::Driver;
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

/// Parts of the days' outdoor temperature or load, each with as many days, within which days are alike (common practice, no source).
const PARTS: usize = 8;
/// Days of either side that a part needs to count.
const LEAST_IN_PART: usize = 2;
/// Autocorrelation of days is not believed above this [-].
const MOST_ALIKE: f64 = 0.9;
/// Share of the days compared on which the driver must be known [-].
const LEAST_KNOWN: f64 = 0.8;

/// Which way the share of hours went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tendency {
    Rose,
    Fell,
    /// No difference that could be told, or too small to matter.
    NoneTold,
    /// Nothing could be judged, or no days are alike.
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
    days: Vec<Day>,
}

/// A day's share of judged hours with a coil short, and its mean outdoor temperature or load over them; NaN unknown.
#[derive(Debug, Clone, Copy)]
struct Day {
    share: f64,
    at: f64,
}

/// The same days' shares, of like outdoor temperature or load only.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Like {
    pub driver: Driver,
    /// Days compared.
    pub days_before: usize,
    pub days_after: usize,
    /// Mean of the days' shares [-], the days before weighed as those after.
    pub share_before: f64,
    pub share_after: f64,
    /// Of their difference.
    variance: f64,
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
}

/// Both sides.
#[derive(Debug, Clone)]
pub struct Comfort {
    pub before: Short,
    pub after: Short,
    /// Coils that were judged by their air, and by their valve alone.
    pub by_air: usize,
    pub by_valve: usize,
    /// By which way the share went is told; `None` where neither weather nor load is known, or no days are alike.
    pub like: Option<Like>,
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
pub(super) fn judge(view: &View, columns: &Columns, stretches: &[Stretch]) -> Comfort {
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
    let along = along(columns);
    let (before, after) = if why.is_some() {
        (Short::default(), Short::default())
    } else {
        let says: Vec<Vec<Option<bool>>> = coils.iter().map(|c| says(view, c)).collect();
        let side = |setting| side(view, stretches, setting, &coils, &says, along.map_or(&[], |a| a.1));
        (side(Setting::Old), side(Setting::New))
    };
    let by_air = coils.iter().filter(|c| c.air.is_some()).count();
    let few = before.days.len() < LEAST_DAYS || after.days.len() < LEAST_DAYS;
    let idle =
        (why.is_none() && few).then(|| format!("fewer than {LEAST_DAYS} days on either side with a coil at work"));
    let like = along.filter(|_| !few).and_then(|(driver, _)| like(driver, &before.days, &after.days));
    Comfort {
        tendency: like.map_or(Tendency::Unknown, |l| tendency(&l)),
        before,
        after,
        by_air,
        by_valve: coils.len() - by_air,
        like,
        why: why.map(str::to_owned).or(idle),
    }
}

/// What days are compared along.
fn along(columns: &Columns) -> Option<(Driver, &[f64])> {
    let known = |c: &&[f64]| c.iter().any(|v| v.is_finite());
    let outdoor = Some(columns.outdoor_c.as_slice()).filter(known).map(|c| (Driver::Outdoor, c));
    outdoor.or_else(|| Some(columns.load_kw.as_slice()).filter(known).map(|c| (Driver::Load, c)))
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

/// `along` is what days are compared along, one a row; empty where nothing is known.
fn side(
    view: &View,
    stretches: &[Stretch],
    setting: Setting,
    coils: &[Seen],
    says: &[Vec<Option<bool>>],
    along: &[f64],
) -> Short {
    let hours = view.clock.hours();
    let coil = |c: &Seen| CoilShort { name: c.coil.name.clone(), judged_h: 0.0, short_h: 0.0 };
    let mut side = Short { coils: coils.iter().map(coil).collect(), ..Short::default() };
    let mut day: Option<(chrono::NaiveDate, Tally)> = None;
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
        if day.as_ref().is_none_or(|d| d.0 != date) {
            side.close(day.take());
        }
        let tally = &mut day.get_or_insert((date, Tally::default())).1;
        (tally.judged_h, tally.short_h) = (tally.judged_h + hours, tally.short_h + more);
        if let Some(v) = along.get(i).filter(|v| v.is_finite()) {
            (tally.sum, tally.known) = (tally.sum + v, tally.known + 1.0);
        }
    }
    side.close(day);
    side
}

/// A day in the making.
#[derive(Default)]
struct Tally {
    judged_h: f64,
    short_h: f64,
    sum: f64,
    known: f64,
}

impl Short {
    fn close(&mut self, day: Option<(chrono::NaiveDate, Tally)>) {
        if let Some((_, t)) = day.filter(|d| d.1.judged_h >= LEAST_DAY_H) {
            let at = if t.known > 0.0 { t.sum / t.known } else { f64::NAN };
            self.days.push(Day { share: t.short_h / t.judged_h, at });
        }
    }
}

/// Days against days of the same part of the driver's range; `None` where too few are alike.
fn like(driver: Driver, before: &[Day], after: &[Day]) -> Option<Like> {
    let mut known: Vec<f64> = before.iter().chain(after).map(|d| d.at).filter(|v| v.is_finite()).collect();
    if (known.len() as f64) < LEAST_KNOWN * (before.len() + after.len()) as f64 {
        return None;
    }
    known.sort_by(f64::total_cmp);
    let ends: Vec<f64> = (1..PARTS).map(|k| known[k * known.len() / PARTS]).collect();
    let part = |d: &Day| d.at.is_finite().then(|| ends.partition_point(|e| *e <= d.at));
    let of =
        |days: &[Day], k: usize| -> Vec<f64> { days.iter().filter(|d| part(d) == Some(k)).map(|d| d.share).collect() };
    let pairs: Vec<(Vec<f64>, Vec<f64>)> = (0..PARTS).map(|k| (of(before, k), of(after, k))).collect();
    let counts = |k: usize| pairs[k].0.len() >= LEAST_IN_PART && pairs[k].1.len() >= LEAST_IN_PART;
    let parts: Vec<usize> = (0..PARTS).filter(|k| counts(*k)).collect();
    let days_before: usize = parts.iter().map(|k| pairs[*k].0.len()).sum();
    let days_after: usize = parts.iter().map(|k| pairs[*k].1.len()).sum();
    if days_before < LEAST_DAYS + parts.len() || days_after < LEAST_DAYS + parts.len() {
        return None;
    }
    // What is left over in order of the days says how a day scatters, and how much neighbours are alike.
    let scatter = |days: &[Day], side: &dyn Fn(usize) -> f64, n: usize| {
        let rest = |d: &Day| part(d).filter(|k| counts(*k)).map(|k| d.share - side(k));
        let rest: Vec<f64> = days.iter().filter_map(rest).collect();
        let r = autocorrelation(&rest);
        let worth = effective_number(n as f64, if r.is_nan() { 0.0 } else { r.min(MOST_ALIKE) });
        rest.iter().map(|e| e * e).sum::<f64>() / (n - parts.len()) as f64 * n as f64 / worth
    };
    let was = scatter(before, &|k| mean(&pairs[k].0), days_before);
    let is = scatter(after, &|k| mean(&pairs[k].1), days_after);
    let mut like = Like { driver, days_before, days_after, share_before: 0.0, share_after: 0.0, variance: 0.0 };
    for k in parts {
        let (b, a) = (&pairs[k].0, &pairs[k].1);
        let weight = a.len() as f64 / days_after as f64;
        like.share_before += weight * mean(b);
        like.share_after += weight * mean(a);
        like.variance += weight * weight * (was / b.len() as f64 + is / a.len() as f64);
    }
    Some(like)
}

fn mean(of: &[f64]) -> f64 {
    of.iter().sum::<f64>() / of.len() as f64
}

fn tendency(like: &Like) -> Tendency {
    let rise = like.share_after - like.share_before;
    let told = rise.abs() > TOLD * like.variance.sqrt() && rise.abs() >= WORTH;
    match (told, rise > 0.0) {
        (true, true) => Tendency::Rose,
        (true, false) => Tendency::Fell,
        _ => Tendency::NoneTold,
    }
}
