//! A change on an invented plant: hours of energy, weather and load as they were, and energy under the old and the new setting all through.
//!
//! Comes in: a seed, a kind, how many days. Goes out: [`Change`]. The decision to question: readings err by a little noise of their own only, since what a meter's gain is off
//! it is off before and after.

use crate::corpus::{Ask, Case, Trended, first, second};
use crate::simulator::noise::Rng;
use chrono::{DateTime, Days, NaiveDate};
use chrono_tz::Tz;
use offcurve::verify::{Record, Stretch, before_after};

pub const HOUR_MS: i64 = 3_600_000;
pub const DAY_MS: i64 = 24 * HOUR_MS;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Nothing,
    /// Weather shifts with the change; with an effect or without.
    Weather {
        effect: bool,
    },
    Effect,
}

impl Kind {
    pub fn effect(self) -> bool {
        matches!(self, Self::Effect | Self::Weather { effect: true })
    }

    pub fn word(self) -> &'static str {
        match self {
            Self::Nothing => "nothing changed",
            Self::Weather { effect: false } => "weather shifted, nothing changed",
            Self::Weather { effect: true } => "weather shifted, real effect",
            Self::Effect => "real effect",
        }
    }
}

/// What is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Wanted {
    pub seed: u64,
    pub generator: &'static str,
    pub kind: Kind,
    pub before: u32,
    pub after: u32,
    /// Run the new setting all through as well: for the yearly figure.
    pub year: bool,
}

pub struct Change {
    pub wanted: Wanted,
    pub zone: Tz,
    pub holidays: Vec<NaiveDate>,
    pub changed_ms: i64,
    pub time_ms: Vec<i64>,
    /// As read; NaN missing.
    pub energy_kwh: Vec<f64>,
    pub outdoor_c: Vec<f64>,
    /// Empty where it is not trended.
    pub load_kw: Vec<f64>,
    /// In truth: as it was, under the old setting all through, under the new one all through (empty where it was not asked for).
    pub was_kwh: Vec<f64>,
    pub old_kwh: Vec<f64>,
    pub new_kwh: Vec<f64>,
}

/// What one run of a plant gives, an hour each.
struct Ran {
    kwh: Vec<f64>,
    outdoor: Vec<f64>,
    load: Vec<f64>,
}

/// A plant under its old and its new setting.
enum Plant {
    First { plan: Box<first::plan::Plan>, seed: u64, old: first::plan::Curve, at: i64 },
    Second { b: Box<second::building::Building>, factor: f64, at: usize },
}

#[derive(Clone, Copy)]
enum Under {
    AsItWas,
    Old,
    New,
}

/// By how much of itself the head was above what is set now: from a twentieth to twice as a rule; in one of six the change raised it.
struct Effect {
    over: f64,
    raised: bool,
    /// The mode changes, or the zero-flow head alone.
    shape: bool,
}

impl Effect {
    fn draw(rng: &mut Rng) -> Self {
        let over = libm::exp(rng.between(libm::log(1.05), libm::log(1.7)));
        Self { over, raised: rng.chance(0.17), shape: rng.chance(0.4) }
    }
}

impl Change {
    /// `None` where the seed makes no plant.
    pub fn make(wanted: Wanted) -> Option<Self> {
        let mut rng = Rng::new(wanted.seed, 77);
        let plant = plant(&wanted, &mut rng)?;
        let (zone, start_ms, holidays) = plant.site(wanted.before + wanted.after);
        let changed_ms = plant.changed_ms();
        let was = plant.run(Under::AsItWas);
        let old_kwh = if wanted.kind.effect() { plant.run(Under::Old).kwh } else { was.kwh.clone() };
        let new_kwh = match (wanted.year, wanted.kind.effect()) {
            (false, _) => Vec::new(),
            (true, false) => was.kwh.clone(),
            (true, true) => plant.run(Under::New).kwh,
        };
        let time_ms: Vec<i64> = (0..was.kwh.len()).map(|h| start_ms + h as i64 * HOUR_MS).collect();
        let mut change = Self {
            wanted,
            zone,
            holidays,
            changed_ms,
            time_ms,
            energy_kwh: was.kwh.clone(),
            outdoor_c: was.outdoor,
            load_kw: if rng.chance(0.5) { was.load } else { Vec::new() },
            was_kwh: was.kwh,
            old_kwh,
            new_kwh,
        };
        change.read(&mut rng);
        Some(change)
    }

    /// Sensors and loggers: noise, an outdoor sensor's offset, an hour in a thousand missing, and in one plant of ten some whole days.
    fn read(&mut self, rng: &mut Rng) {
        let offset = 0.3 * rng.normal();
        self.energy_kwh.iter_mut().for_each(|e| *e *= 1.0 + 0.005 * rng.jitter());
        self.outdoor_c.iter_mut().for_each(|t| *t += offset + 0.2 * rng.jitter());
        self.load_kw.iter_mut().for_each(|l| *l *= 1.0 + 0.01 * rng.jitter());
        for e in &mut self.energy_kwh {
            if rng.chance(0.001) {
                *e = f64::NAN;
            }
        }
        if rng.chance(0.1) {
            let days = self.energy_kwh.len() / 24;
            for _ in 0..4 {
                let day = (rng.unit() * days as f64) as usize;
                self.energy_kwh[24 * day..24 * day + 24].fill(f64::NAN);
            }
        }
    }

    pub fn record(&self) -> Record<'_> {
        Record {
            time_ms: &self.time_ms,
            interval_ms: HOUR_MS,
            timezone: self.zone,
            holidays: &self.holidays,
            energy_kwh: &self.energy_kwh,
            outdoor_c: &self.outdoor_c,
            load_kw: &self.load_kw,
        }
    }

    pub fn stretches(&self) -> [Stretch; 2] {
        before_after(self.changed_ms, None, None)
    }

    /// Saved in truth between two instants [kWh].
    pub fn saved(&self, from_ms: i64, to_ms: i64) -> f64 {
        let inside = |h: &usize| (from_ms..to_ms).contains(&self.time_ms[*h]);
        (0..self.time_ms.len()).filter(inside).map(|h| self.old_kwh[h] - self.was_kwh[h]).sum()
    }

    /// The same, had the old setting stood all through and then the new one.
    pub fn would_save(&self, from_ms: i64, to_ms: i64) -> f64 {
        let inside = |h: &usize| (from_ms..to_ms).contains(&self.time_ms[*h]);
        (0..self.time_ms.len()).filter(inside).map(|h| self.old_kwh[h] - self.new_kwh[h]).sum()
    }
}

/// What an engineer would hand over of the same plant, and its change.
pub fn handed_over(wanted: Wanted, minutes: u32) -> Option<(Case, Change)> {
    let plant = plant(&wanted, &mut Rng::new(wanted.seed, 77))?;
    let ask = Ask {
        seed: wanted.seed,
        plant: Vec::new(),
        trended: Trended::All,
        minutes,
        days: wanted.before + wanted.after,
    };
    let case = match &plant {
        Plant::First { plan, seed, .. } => first::handed_over(plan, *seed, &ask),
        Plant::Second { b, .. } => second::handed_over(b, wanted.seed, &ask),
    };
    Some((case, Change::make(wanted)?))
}

fn plant(wanted: &Wanted, rng: &mut Rng) -> Option<Plant> {
    let effect = wanted.kind.effect().then(|| Effect::draw(rng));
    let shift = rng.between(2.0, 5.0) * if rng.chance(0.5) { 1.0 } else { -1.0 };
    let shift = matches!(wanted.kind, Kind::Weather { .. }).then_some(shift);
    // Some time of a working day.
    let minute = i64::from(wanted.before) * 1440 + (rng.between(8.0, 17.0) * 4.0) as i64 * 15;
    let season = rng.between(-8.0, 8.0);
    match wanted.generator {
        "first" => first_plant(wanted, effect.as_ref(), shift, minute),
        _ => Some(second_plant(wanted, effect.as_ref(), shift, minute, season)),
    }
}

fn first_plant(wanted: &Wanted, effect: Option<&Effect>, shift: Option<f64>, minute: i64) -> Option<Plant> {
    use first::plan::{Curve, Mode, Needs, figures};
    let over = effect.map(|e| e.over);
    let needs = Needs { head_over_need: over, plain: effect.is_some(), ..Needs::default() };
    let mut plan = first::plain(wanted.seed, wanted.before + wanted.after, &needs)?;
    let at = plan.start_ms + minute * 60_000;
    if let Some(kelvin) = shift {
        plan.weather.shift(at, kelvin);
    }
    let mut old = plan.curve;
    if let Some(e) = effect {
        let lower = match old.mode {
            Mode::Constant if e.shape => {
                Curve { mode: Mode::Quadratic, zero: figures(0.45 * old.design), design: old.design }
            }
            Mode::Proportional | Mode::Quadratic if e.shape => Curve { zero: figures(old.zero / e.over), ..old },
            _ => Curve { zero: figures(old.zero / e.over), design: figures(old.design / e.over), ..old },
        };
        let new = if e.raised { old } else { lower };
        old = if e.raised { lower } else { old };
        plan.before = Some((at, old));
        plan.curve = new;
    }
    Some(Plant::First { plan: Box::new(plan), seed: wanted.seed, old, at })
}

fn second_plant(wanted: &Wanted, effect: Option<&Effect>, shift: Option<f64>, minute: i64, season: f64) -> Plant {
    let days = wanted.before + wanted.after;
    let ask = Ask { seed: wanted.seed, plant: Vec::new(), trended: Trended::All, minutes: 15, days };
    let over = effect.map_or(1.0, |e| e.over);
    let mut b = second::plain(wanted.seed, &ask, over);
    let at = minute as usize;
    b.weather.shift = shift.map(|kelvin| (at, kelvin));
    b.weather.drift_c = season;
    let mut factor = 1.0;
    if let Some(e) = effect {
        if e.raised {
            factor = 1.0 / over;
        } else {
            factor = over;
            let c = &mut b.control;
            (c.zero_kpa, c.design_kpa, c.set_kpa) = (c.zero_kpa / over, c.design_kpa / over, c.set_kpa / over);
        }
        b.control.earlier = Some((at, factor));
    }
    Plant::Second { b: Box::new(b), factor, at }
}

impl Plant {
    /// Zone, start of the record, holidays.
    fn site(&self, days: u32) -> (Tz, i64, Vec<NaiveDate>) {
        match self {
            Self::First { plan, .. } => {
                let zone: Tz = plan.zone.name().parse().expect("a zone of the list");
                let first = DateTime::from_timestamp_millis(plan.start_ms).expect("a near year").with_timezone(&zone);
                let date = |d: &i64| first.date_naive() + Days::new(*d as u64);
                let holidays = plan.hours.holidays.iter().filter(|d| **d < i64::from(days)).map(date).collect();
                (zone, plan.start_ms, holidays)
            }
            Self::Second { b, .. } => {
                let zone = b.site.zone.parse().expect("a zone of the list");
                let date = |d: &i64| NaiveDate::default() + Days::new(*d as u64);
                (zone, b.site.start_ms, b.site.holidays.iter().map(date).collect())
            }
        }
    }

    fn changed_ms(&self) -> i64 {
        match self {
            Self::First { at, .. } => *at,
            Self::Second { b, at, .. } => b.site.at_ms(*at),
        }
    }

    fn run(&self, under: Under) -> Ran {
        match self {
            Self::First { plan, seed, old, .. } => {
                let mut plan = plan.clone();
                match under {
                    Under::AsItWas => {}
                    Under::Old => (plan.before, plan.curve) = (None, *old),
                    Under::New => plan.before = None,
                }
                run_first(&plan, *seed)
            }
            Self::Second { b, factor, .. } => {
                let mut b = b.clone();
                match under {
                    Under::AsItWas => {}
                    Under::Old => b.control.earlier = Some((usize::MAX, *factor)),
                    Under::New => b.control.earlier = None,
                }
                run_second(&b)
            }
        }
    }
}

/// Heat that a volume of water takes, near enough for a load [kWh/(m3 K)].
const WATER: f64 = 1.163;

fn run_first(plan: &first::plan::Plan, seed: u64) -> Ran {
    use first::world::{FLOW, OUTDOOR, POWER, RETURN, SUPPLY};
    let r = first::play(plan, seed, 60);
    let pumps = plan.station.units.len();
    let load = |h: usize| WATER * r.columns[FLOW][h] * (r.columns[RETURN][h] - r.columns[SUPPLY][h]).abs();
    Ran {
        kwh: (0..r.rows).map(|h| (0..pumps).map(|p| r.pump(p, POWER)[h]).sum()).collect(),
        load: (0..r.rows).map(load).collect(),
        outdoor: r.columns[OUTDOOR].clone(),
    }
}

fn run_second(b: &second::building::Building) -> Ran {
    let r = second::run::play(b, 0..b.site.minutes());
    let hours = r.flow.len() / 60;
    let mean = |of: &dyn Fn(usize) -> f64| -> Vec<f64> {
        (0..hours).map(|h| (60 * h..60 * h + 60).map(of).sum::<f64>() / 60.0).collect()
    };
    Ran {
        kwh: mean(&|m| r.pumps.iter().map(|p| f64::from(p.power[m])).sum()),
        load: mean(&|m| WATER * f64::from(r.flow[m]) * f64::from((r.back[m] - r.supply[m]).abs())),
        outdoor: mean(&|m| f64::from(r.outdoor[m])),
    }
}
