//! Which days are compared: whole days of one setting, with energy and drivers, inside what the old setting saw.

use super::form::Driver;
use super::model::driver;
use super::rows::{Day, days};
use super::{Coverage, Excluded, Record, Refusal, Setting, Side, Stretch, Why};

/// Whole days needed with the old setting: every day of the week twice (common practice, no source).
pub(super) const LEAST_OLD: usize = 14;
/// Whole days needed with the new setting: every day of the week once (common practice, no source).
pub(super) const LEAST_NEW: usize = 7;
/// A driver counts as trended when it is known on this share of both sides' days (common practice, no source) [-].
const LEAST_KNOWN: f64 = 0.8;
/// How far beyond the old setting's range a driver may go by CalTRACK 2.0, told as coverage [-].
const BEYOND: f64 = 0.1;
/// Share of the old setting's days at either end that do not count as having seen their weather [-]. Stricter than CalTRACK's rule, on purpose: where a
/// line bends beyond the last few days, intervals of days that lie there held 85 % instead of 95 in our trials, with this 93.
const OUTERMOST: f64 = 0.025;

/// The days to compare.
pub(super) struct Periods {
    pub old: Vec<Day>,
    pub new: Vec<Day>,
    /// All days of the record, for the year's weather.
    pub all: Vec<Day>,
    pub drivers: Vec<Driver>,
    pub excluded: Vec<Excluded>,
    /// The days left out, each once.
    pub left_out: Vec<(i64, Setting, Why)>,
    /// Settings in the order they stood, each once a stretch of whole days.
    pub order: Vec<Setting>,
}

impl Periods {
    pub fn new(record: &Record, stretches: &[Stretch]) -> Result<Self, Refusal> {
        check(record)?;
        let all = days(record);
        let mut p = Self {
            old: Vec::new(),
            new: Vec::new(),
            all,
            drivers: Vec::new(),
            excluded: Vec::new(),
            left_out: Vec::new(),
            order: Vec::new(),
        };
        for k in 0..p.all.len() {
            p.place(k, stretches);
        }
        p.enough("")?;
        p.drivers = [Driver::Outdoor, Driver::Load].into_iter().filter(|d| p.trended(*d)).collect();
        let drivers = p.drivers.clone();
        let known = |d: &Day| drivers.iter().all(|w| driver(*w, &d.row).is_finite());
        p.leave_out(Setting::Old, Why::NoDriver, known);
        p.leave_out(Setting::New, Why::NoDriver, known);
        p.enough(" on which weather and load are known")?;
        p.order.dedup();
        Ok(p)
    }

    fn place(&mut self, k: usize, stretches: &[Stretch]) {
        let day = &self.all[k];
        let touches = |s: &&Stretch| s.from_ms < day.to_ms && day.from_ms < s.to_ms;
        let holds = |s: &&Stretch| s.from_ms <= day.from_ms && day.to_ms <= s.to_ms;
        let Some(first) = stretches.iter().find(touches) else { return };
        let setting = first.setting;
        if !stretches.iter().filter(touches).all(|s| s.setting == setting && holds(&s)) {
            self.count(setting, Why::PartOfADay, &[day.row.day]);
        } else if !day.row.energy_kwh.is_finite() {
            self.count(setting, Why::NoEnergy, &[day.row.day]);
        } else {
            self.order.push(setting);
            let day = day.clone();
            self.side(setting).push(day);
        }
    }

    /// Leaves out the days of one setting that do not pass.
    fn leave_out(&mut self, setting: Setting, why: Why, passes: impl Fn(&Day) -> bool) {
        let side = self.side(setting);
        let left_out: Vec<i64> = side.iter().filter(|d| !passes(d)).map(|d| d.row.day).collect();
        side.retain(passes);
        self.count(setting, why, &left_out);
    }

    fn side(&mut self, setting: Setting) -> &mut Vec<Day> {
        match setting {
            Setting::Old => &mut self.old,
            Setting::New => &mut self.new,
        }
    }

    fn count(&mut self, setting: Setting, why: Why, left_out: &[i64]) {
        self.left_out.extend(left_out.iter().map(|day| (*day, setting, why)));
        let days = left_out.len();
        if days == 0 {
            return;
        }
        match self.excluded.iter_mut().find(|e| e.setting == setting && e.why == why) {
            Some(e) => e.days += days,
            None => self.excluded.push(Excluded { setting, why, days }),
        }
    }

    fn trended(&self, which: Driver) -> bool {
        let known = |side: &[Day]| side.iter().filter(|d| driver(which, &d.row).is_finite()).count() as f64;
        [&self.old, &self.new].into_iter().all(|side| known(side) >= LEAST_KNOWN * side.len() as f64)
    }

    fn enough(&self, hint: &'static str) -> Result<(), Refusal> {
        if self.all.iter().all(|d| !d.row.energy_kwh.is_finite() && d.hours.is_empty()) {
            return Err(Refusal::NoEnergy);
        }
        for (setting, days, least) in
            [(Setting::Old, self.old.len(), LEAST_OLD), (Setting::New, self.new.len(), LEAST_NEW)]
        {
            if days < least {
                return Err(Refusal::TooFewDays { setting, days, least, hint });
            }
        }
        Ok(())
    }

    /// How far each driver was covered; said of all days, before any is left out for it.
    pub fn coverage(&self) -> Vec<Coverage> {
        let of = |which: &Driver| {
            let (before, after) = (range(*which, &self.old), range(*which, &self.new));
            let margin = BEYOND * (before.1 - before.0);
            let share = |m: f64| {
                let inside = self.new.iter().filter(|d| within(driver(*which, &d.row), before, m)).count();
                inside as f64 / self.new.len() as f64
            };
            Coverage { driver: *which, before, after, share_inside: share(0.0), share_within_a_tenth: share(margin) }
        };
        self.drivers.iter().map(of).collect()
    }

    /// The trended drivers that a form stands on. One in the load stands on the weather, too: it sets the supply temperature, and with it the flow that a load takes.
    pub fn needed(&self, on: Option<Driver>) -> Vec<Driver> {
        self.drivers.iter().copied().filter(|d| on != Some(Driver::Outdoor) || *d == Driver::Outdoor).collect()
    }

    /// Leaves out the new setting's days whose drivers the old one never saw: those that a form stands on, or each one where it has none.
    pub fn keep_to_what_was_seen(&mut self, on: Option<Driver>) -> Result<(), Refusal> {
        let days = self.new.len();
        for which in self.needed(on) {
            let seen = well_seen(which, &self.old);
            self.leave_out(Setting::New, Why::OutsideDriver, |d| within(driver(which, &d.row), seen, 0.0));
        }
        if self.new.len() < LEAST_NEW {
            return Err(Refusal::NothingInCommon { outside: days - self.new.len(), days, least: LEAST_NEW });
        }
        Ok(())
    }
}

/// Least and most daily mean of a driver.
pub(super) fn range(which: Driver, days: &[Day]) -> (f64, f64) {
    let values = days.iter().map(|d| driver(which, &d.row)).filter(|v| v.is_finite());
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
}

/// Where enough days lie to hold a line: the range without its outermost days at either end.
fn well_seen(which: Driver, days: &[Day]) -> (f64, f64) {
    let mut values: Vec<f64> = days.iter().map(|d| driver(which, &d.row)).collect();
    values.sort_by(f64::total_cmp);
    let outer = (OUTERMOST * values.len() as f64) as usize;
    (values[outer], values[values.len() - 1 - outer])
}

fn within(v: f64, (low, high): (f64, f64), margin: f64) -> bool {
    v >= low - margin && v <= high + margin
}

pub(super) fn side(days: &[Day], energy_kwh: f64) -> Side {
    let from_ms = days.first().map_or(0, |d| d.from_ms);
    Side { days: days.len(), energy_kwh, from_ms, to_ms: days.last().map_or(0, |d| d.to_ms) }
}

fn check(record: &Record) -> Result<(), Refusal> {
    let wanted = record.time_ms.len();
    if record.energy_kwh.len() != wanted {
        return Err(Refusal::Unequal { found: record.energy_kwh.len(), wanted });
    }
    for column in [record.outdoor_c, record.load_kw] {
        if !column.is_empty() && column.len() != wanted {
            return Err(Refusal::Unequal { found: column.len(), wanted });
        }
    }
    if record.interval_ms <= 0 || !record.time_ms.is_sorted() {
        return Err(Refusal::NoClock);
    }
    if record.energy_kwh.iter().all(|v| !v.is_finite()) {
        return Err(Refusal::NoEnergy);
    }
    Ok(())
}
