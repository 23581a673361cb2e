//! Energy at like weather or load, against earlier periods.
//!
//! Comes in: how the loop ran in this period and in earlier ones. Goes out: kWh a degree-day and a MWh of load for each,
//! and by how much this period's energy differs from what the earlier one's days foretell for this one's weather and load,
//! with a 95 % interval. The decision a reader would question: the change is not the quotient of the two rates. Pumps use
//! energy without any load, so kWh a degree-day is high in mild months whatever is done; the change comes from the same
//! models that verify a saving (`verify`), and days that the earlier period's weather does not cover are left out.
//!
//! Degree-days are by daily means: the sum over days of how far the mean outdoor temperature lies beyond a base.

use super::{
    history::{Earlier, History},
    operation::{Day, Operation, round},
};
use crate::{
    faults::Estimate,
    pipeline::Review,
    plant::{Service, local_to_utc},
    verify::{
        self, Record, Refusal, Setting, Stretch,
        form::{Calendar, Driver, Form, Shape},
        model::Model,
        rows::Row,
    },
};
use chrono::{Datelike, NaiveDate, NaiveTime};
use std::collections::BTreeMap;

/// Base temperatures where the record itself gives none [degC]: heating 15.5 (CIBSE TM41:2006, the base of published
/// degree-days in the United Kingdom), cooling 18.3 (65 degF; ASHRAE Handbook Fundamentals, chapter on climatic design
/// information). Both from memory.
const HEATING_BASE_C: f64 = 15.5;
const COOLING_BASE_C: f64 = 18.3;
/// Days that a rate or a base needs (common practice, no source).
const LEAST_DAYS: usize = 7;
const LEAST_DAYS_OF_BASE: usize = 30;
/// Fewer degree-days a day, and their rate says more of the base than of the pumps (common practice, no source) [K].
const LEAST_DEGREES_A_DAY: f64 = 1.0;
/// The record gives its base where the 95 % interval of the point is no wider than this [K]: a conventional base is wrong by
/// as much for many buildings (common practice, no source).
const BASE_WIDTH_K: f64 = 3.0;
/// Chi-squared with one degree of freedom at 95 % [-].
const CHI_95: f64 = 3.841;
/// Steps in which that interval is looked for [K].
const BASE_STEP_K: f64 = 0.25;
/// A change below this is not told [-]: models of daily readings have resolved some 3 % (EVO, M&V Focus 7, 2020).
const LEAST_TOLD: f64 = 0.03;
/// How far two months may differ by the pump models alone where power is worked out from them, 95 % [-] (common practice, no source).
const UNMETERED: f64 = 0.10;

/// What the rate is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Season {
    Heating,
    Cooling,
}

/// The temperature from which degree-days count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Base {
    pub degc: f64,
    /// The point where the energy of this plant's days begins to rise; else a convention.
    pub of_record: bool,
}

/// Energy over what it was used for, over the days on which both are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    pub days: usize,
    pub energy_kwh: f64,
    /// Degree-days [K d], or load [MWh].
    pub amount: f64,
    /// `None` where there is too little of either.
    pub kwh_per: Option<f64>,
}

/// A period's two rates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rates {
    pub degree_days: Option<Rate>,
    pub load: Option<Rate>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    Last,
    YearAgo,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told {
    Less,
    More,
    NoClearDifference,
    CannotTell,
}

/// This period against an earlier one.
#[derive(Debug, Clone)]
pub struct Against {
    pub which: Which,
    pub from_ms: i64,
    pub to_ms: i64,
    pub rates: Rates,
    pub told: Told,
    /// What was used beyond what the earlier period's days foretell, over that [-].
    pub change: Option<Estimate>,
    /// Days of this period that could be compared.
    pub days: usize,
    /// What it is held to: outdoor temperature, load.
    pub by: Vec<Driver>,
    /// Why nothing can be told.
    pub why: Option<String>,
}

/// All of it.
#[derive(Debug, Clone)]
pub struct Normalised {
    pub season: Season,
    pub base: Base,
    pub rates: Rates,
    /// Why there is no rate of either kind.
    pub why: Option<String>,
    pub against: Vec<Against>,
}

impl Normalised {
    /// Of this period, after earlier ones.
    pub fn new(review: &Review, operation: &Operation, history: &History) -> Self {
        let season = match review.plant.system.service {
            Service::HeatingWater => Season::Heating,
            Service::ChilledWater | Service::CondenserWater => Season::Cooling,
        };
        let operations = history.all.iter().filter_map(|e| e.operation.as_ref()).chain([operation]);
        // A day that two reviews hold counts once, as the later one has it.
        let days: BTreeMap<&str, &Day> = operations.flat_map(|o| &o.days).map(|d| (d.date.as_str(), d)).collect();
        let base = base(&days.into_values().collect::<Vec<_>>(), season);
        let rates = Rates::new(operation, base, season);
        let pairs = [(Which::Last, history.last()), (Which::YearAgo, history.year_ago())];
        let against = pairs
            .into_iter()
            .filter_map(|(which, e)| e.map(|e| compare(which, e, review, operation, base, season)))
            .collect();
        let none = rates.degree_days.and_then(|r| r.kwh_per).or(rates.load.and_then(|r| r.kwh_per)).is_none();
        Self { season, base, rates, why: none.then(|| why_no_rate(operation, &rates)), against }
    }
}

impl Rates {
    /// Of a period.
    pub fn new(operation: &Operation, base: Base, season: Season) -> Self {
        let degrees = |t: f64| match season {
            Season::Heating => (base.degc - t).max(0.0),
            Season::Cooling => (t - base.degc).max(0.0),
        };
        let of = |amount: &dyn Fn(&Day) -> Option<f64>| {
            let both: Vec<(f64, f64)> =
                operation.days.iter().filter_map(|d| Some((d.energy_kwh?, amount(d)?))).collect();
            (!both.is_empty())
                .then(|| both.iter().fold((0.0, 0.0), |(e, a), (x, y)| (e + x, a + y)))
                .map(|s| (both.len(), s))
        };
        let rate = |(days, (energy, amount)): (usize, (f64, f64)), least: f64| Rate {
            days,
            energy_kwh: energy,
            amount,
            kwh_per: (days >= LEAST_DAYS && amount > least * days as f64).then(|| energy / amount),
        };
        Self {
            degree_days: of(&|d| d.outdoor_degc.map(degrees)).map(|s| rate(s, LEAST_DEGREES_A_DAY)),
            load: of(&|d| d.load_kw.map(|kw| kw * 24.0 / 1000.0)).map(|s| rate(s, 0.0)),
        }
    }
}

fn why_no_rate(operation: &Operation, rates: &Rates) -> String {
    let energy = operation.days.iter().filter(|d| d.energy_kwh.is_some()).count();
    match (rates.degree_days, rates.load) {
        _ if energy < LEAST_DAYS => {
            format!("the pumps' energy is known on {energy} whole days of this period, and {LEAST_DAYS} are needed")
        }
        (None, None) => "neither outdoor temperature nor a metered load is trended".to_owned(),
        (Some(r), _) if r.days >= LEAST_DAYS => format!(
            "{} days of this period had {:.0} degree-days in all, too few to hold the pumps' energy to",
            r.days, r.amount
        ),
        (Some(r), _) | (None, Some(r)) => format!(
            "energy and weather or load are both known on {} days of this period, and {LEAST_DAYS} are needed",
            r.days
        ),
    }
}

/// The plant's own base where its days show one, else the convention.
fn base(days: &[&Day], season: Season) -> Base {
    let convention = match season {
        Season::Heating => HEATING_BASE_C,
        Season::Cooling => COOLING_BASE_C,
    };
    let own = of_record(days, season).map(|degc| Base { degc: round((degc * 10.0).round() / 10.0), of_record: true });
    own.unwrap_or(Base { degc: convention, of_record: false })
}

/// Where energy begins to rise with outdoor temperature, by a three-point line with a level for weekdays and one for the
/// rest, wherever that is known to [`BASE_WIDTH_K`] from the likelihood's profile.
fn of_record(days: &[&Day], season: Season) -> Option<f64> {
    let rows: Vec<Row> = days.iter().filter_map(|d| row(d)).collect();
    if rows.len() < LEAST_DAYS_OF_BASE {
        return None;
    }
    let shape = if season == Season::Heating { Shape::Below } else { Shape::Above };
    let form = Form { calendar: Calendar::Weekend, driver: Driver::Outdoor, shape };
    let model = Model::new(form, &rows)?;
    let at = *model.points.first()?;
    let slope = *model.fit.slope.first()?;
    if !(slope > 0.0 && slope > 3.0 * model.fit.slope_error(0)) {
        return None;
    }
    // Twice the fall of the log-likelihood of independent normal errors is n ln(SSE / least SSE).
    let inside = |p: f64| {
        let fit = Model::at(form, &[p], &rows)?.fit;
        Some(rows.len() as f64 * (fit.sse / model.fit.sse).ln() <= CHI_95)
    };
    let half = (BASE_WIDTH_K / BASE_STEP_K) as i32;
    let held = (-half..=half).filter(|k| inside(at + f64::from(*k) * BASE_STEP_K).unwrap_or(true));
    let (low, high) = held.fold((0, 0), |(low, high), k| (low.min(k), high.max(k)));
    (f64::from(high - low) * BASE_STEP_K <= BASE_WIDTH_K).then_some(at)
}

fn row(day: &Day) -> Option<Row> {
    let date: NaiveDate = day.date.parse().ok()?;
    Some(Row {
        day: i64::from(date.num_days_from_ce()),
        weekday: date.weekday().num_days_from_monday() as usize,
        hour: 0,
        energy_kwh: day.energy_kwh?,
        outdoor_c: day.outdoor_degc?,
        load_kw: f64::NAN,
    })
}

fn compare(
    which: Which,
    earlier: &Earlier,
    review: &Review,
    operation: &Operation,
    base: Base,
    season: Season,
) -> Against {
    let mut against = Against {
        which,
        from_ms: earlier.from_ms,
        to_ms: earlier.to_ms,
        rates: Rates { degree_days: None, load: None },
        told: Told::CannotTell,
        change: None,
        days: 0,
        by: Vec::new(),
        why: None,
    };
    let Some(before) = &earlier.operation else {
        against.why =
            Some("its result was written before results held a line a day; review that period once more".to_owned());
        return against;
    };
    against.rates = Rates::new(before, base, season);
    match change(earlier, before, review, operation) {
        Ok((change, days, by)) => {
            against.told = told(&change);
            (against.change, against.days, against.by) = (Some(change), days, by);
        }
        Err(why) => against.why = Some(why),
    }
    against
}

fn told(change: &Estimate) -> Told {
    if change.estimate.abs() < LEAST_TOLD || (change.low <= 0.0 && change.high >= 0.0) {
        Told::NoClearDifference
    } else if change.estimate < 0.0 {
        Told::Less
    } else {
        Told::More
    }
}

/// What this period used beyond what the earlier one's days foretell, over that; days compared; what they are held to.
fn change(
    earlier: &Earlier,
    before: &Operation,
    review: &Review,
    now: &Operation,
) -> Result<(Estimate, usize, Vec<Driver>), String> {
    let zone = review.plant.site.timezone;
    let days: Vec<(i64, &Day)> = before
        .days
        .iter()
        .chain(&now.days)
        .filter_map(|d| {
            let midnight = d.date.parse::<NaiveDate>().ok()?.and_time(NaiveTime::MIN);
            Some((local_to_utc(zone, midnight).0.timestamp_millis(), d))
        })
        .collect();
    let column = |of: &dyn Fn(&Day) -> Option<f64>| days.iter().map(|(_, d)| of(d).unwrap_or(f64::NAN)).collect();
    let (energy, outdoor, load): (Vec<f64>, Vec<f64>, Vec<f64>) =
        (column(&|d| d.energy_kwh), column(&|d| d.outdoor_degc), column(&|d| d.load_kw));
    let time: Vec<i64> = days.iter().map(|d| d.0).collect();
    let record = Record {
        time_ms: &time,
        interval_ms: 86_400_000,
        timezone: zone,
        holidays: &review.plant.site.holidays,
        energy_kwh: &energy,
        outdoor_c: &outdoor,
        load_kw: &load,
    };
    let stretches = [
        Stretch { from_ms: earlier.from_ms, to_ms: earlier.to_ms, setting: Setting::Old },
        Stretch { from_ms: review.from_ms, to_ms: review.to_ms, setting: Setting::New },
    ];
    let saving = verify::saving(&record, &stretches).map_err(|r| refused(&r))?;
    let by: Vec<Driver> = saving.coverage.iter().map(|c| c.driver).collect();
    if by.is_empty() {
        return Err("neither outdoor temperature nor a metered load is known in both periods".to_owned());
    }
    let saved = saving.saving_fraction;
    let mut change = Estimate { estimate: -saved.estimate, low: -saved.high, high: -saved.low };
    if !(before.power_metered && now.power_metered) {
        let wider = |half: f64| half.hypot(UNMETERED);
        change.low = change.estimate - wider(change.estimate - change.low);
        change.high = change.estimate + wider(change.high - change.estimate);
    }
    Ok((change, saving.after.days, by))
}

/// In words of two periods.
fn refused(refusal: &Refusal) -> String {
    match refusal {
        Refusal::TooFewDays { setting, days, least, .. } => {
            let which = if *setting == Setting::Old { "that period" } else { "this period" };
            format!("energy and weather or load are known on {days} whole days of {which}, and {least} are needed")
        }
        Refusal::NothingInCommon { outside, days, .. } => {
            format!(
                "{outside} of this period's {days} days had weather or load that the other had on its outermost days only, or never"
            )
        }
        Refusal::NeverRan => "the pumps used no energy in that period".to_owned(),
        Refusal::NoEnergy => "no energy of a whole day is known".to_owned(),
        Refusal::NoModel | Refusal::Unequal { .. } | Refusal::NoClock => {
            "no line through that period's days can be fitted".to_owned()
        }
    }
}
