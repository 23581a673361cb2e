//! Invented pump energy for the tests of `verify`: weather, load, a schedule, errors that neighbouring days share, and a change whose saving is known.
//!
//! Nothing here uses the code under test.

use crate::simulator::noise::Rng;
use chrono_tz::Tz;
use offcurve::verify::{Record, Setting, Stretch};

pub const DAY_MS: i64 = 86_400_000;
/// Monday 2 January 2023, 00:00 UTC.
pub const MONDAY: i64 = 19_359;

/// What the energy truly hangs on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Truth {
    Flat,
    /// A slope above a temperature.
    Cooling,
    /// A slope below one.
    Heating,
    /// Slopes on either side of a level.
    Both,
    /// A line in a metered load.
    Load,
    /// No form that is tried: a smooth bend.
    Bend,
}

/// A plant and its change.
#[derive(Debug, Clone, Copy)]
pub struct World {
    pub seed: u64,
    pub truth: Truth,
    /// Days before and after.
    pub before: usize,
    pub after: usize,
    /// Day of the year on which it begins.
    pub begins: usize,
    /// Rows of an hour instead of a day.
    pub hourly: bool,
    /// Weekends at this share of a weekday.
    pub weekend: f64,
    /// Standard deviation of a day's error over the mean day, and its autocorrelation.
    pub noise: f64,
    pub r: f64,
    /// Share of energy that the change saves.
    pub effect: f64,
    /// By how much the weather after is warmer [K].
    pub warmer: f64,
    /// Settings change each so many days, beginning with the old one; 0 for one change.
    pub turns: usize,
}

pub const PLAIN: World = World {
    seed: 1,
    truth: Truth::Cooling,
    before: 180,
    after: 90,
    begins: 60,
    hourly: false,
    weekend: 0.6,
    noise: 0.08,
    r: 0.5,
    effect: 0.0,
    warmer: 0.0,
    turns: 0,
};

/// What was trended of it.
pub struct Trended {
    pub time_ms: Vec<i64>,
    pub interval_ms: i64,
    pub energy_kwh: Vec<f64>,
    pub outdoor_c: Vec<f64>,
    pub load_kw: Vec<f64>,
    /// What the change saved in each row [kWh].
    pub saved_kwh: Vec<f64>,
    pub stretches: Vec<Stretch>,
}

impl Trended {
    pub fn record(&self) -> Record<'_> {
        Record {
            time_ms: &self.time_ms,
            interval_ms: self.interval_ms,
            timezone: Tz::UTC,
            holidays: &[],
            energy_kwh: &self.energy_kwh,
            outdoor_c: &self.outdoor_c,
            load_kw: &self.load_kw,
        }
    }

    /// What was saved between two instants [kWh].
    pub fn saved(&self, from_ms: i64, to_ms: i64) -> f64 {
        let inside = |t: &i64| (from_ms..to_ms).contains(t);
        self.time_ms.iter().zip(&self.saved_kwh).filter(|(t, _)| inside(t)).map(|(_, s)| s).sum()
    }
}

impl World {
    pub fn new_on(&self, day: usize) -> bool {
        day.checked_div(self.turns).map_or(day >= self.before, |turn| turn % 2 == 1)
    }

    pub fn run(&self) -> Trended {
        let mut weather = Rng::new(self.seed, 1);
        let mut errors = Rng::new(self.seed, 2);
        let steps = if self.hourly { 24 } else { 1 };
        let interval_ms = DAY_MS / steps as i64;
        let mut out = Trended {
            time_ms: vec![],
            interval_ms,
            energy_kwh: vec![],
            outdoor_c: vec![],
            load_kw: vec![],
            saved_kwh: vec![],
            stretches: self.stretches(),
        };
        let (mut front, mut error) = (4.0 * weather.normal(), self.noise * errors.normal());
        for day in 0..self.before + self.after {
            front = 0.75 * front + 4.0 * (1.0f64 - 0.75 * 0.75).sqrt() * weather.normal();
            error = self.r * error + self.noise * (1.0 - self.r * self.r).sqrt() * errors.normal();
            let season = 11.0 - 10.0 * libm::cos(std::f64::consts::TAU * (day + self.begins) as f64 / 365.0);
            let mean = season + front + if day >= self.before { self.warmer } else { 0.0 };
            let rest = if day % 7 >= 5 { self.weekend } else { 1.0 };
            for step in 0..steps {
                let hour = if self.hourly { step } else { 12 };
                let swing =
                    if self.hourly { 4.0 * libm::sin((hour as f64 - 9.0) / 24.0 * std::f64::consts::TAU) } else { 0.0 };
                let t = mean + swing;
                let load = rest * (30.0 + 6.0 * (t - 12.0).max(0.0)) * (1.0 + 0.05 * weather.normal());
                let busy = if self.hourly && !(6..20).contains(&hour) { 0.4 } else { 1.0 };
                let within = if self.hourly { 0.1 * errors.normal() } else { 0.0 };
                let shape = match self.truth {
                    Truth::Flat => 1.0,
                    Truth::Cooling => 0.7 + 0.05 * (t - 14.0).max(0.0),
                    Truth::Heating => 0.7 + 0.05 * (13.0 - t).max(0.0),
                    Truth::Both => 0.7 + 0.04 * (8.0 - t).max(0.0) + 0.05 * (t - 16.0).max(0.0),
                    Truth::Load => (20.0 + load) / 70.0,
                    Truth::Bend => 0.7 + 0.25 * libm::log1p(libm::exp((t - 14.0) / 4.0)),
                };
                let level = if self.truth == Truth::Load { 1.0 } else { rest };
                let old = 100.0 / steps as f64 * (level * shape * busy + error + within).max(0.0);
                let saved = if self.new_on(day) { old * self.effect } else { 0.0 };
                out.time_ms.push((MONDAY + day as i64) * DAY_MS + step as i64 * interval_ms);
                out.energy_kwh.push(old - saved);
                out.outdoor_c.push(t);
                out.load_kw.push(load);
                out.saved_kwh.push(saved);
            }
        }
        out
    }

    fn stretches(&self) -> Vec<Stretch> {
        let days = self.before + self.after;
        let at = |day: usize| (MONDAY + day as i64) * DAY_MS;
        let mut out: Vec<Stretch> = Vec::new();
        for day in 0..days {
            let setting = if self.new_on(day) { Setting::New } else { Setting::Old };
            match out.last_mut() {
                Some(last) if last.setting == setting => last.to_ms = at(day + 1),
                _ => out.push(Stretch { from_ms: at(day), to_ms: at(day + 1), setting }),
            }
        }
        out
    }
}
