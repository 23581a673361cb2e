//! Weather and the working calendar of an invented site.

use crate::simulator::calendar::{DAY_MS, Local, Zone, days_from_civil};
use crate::simulator::noise::{Rng, Wander};

/// Outdoor temperature every ten minutes, and the sun of each day.
#[derive(Debug, Clone)]
pub struct Weather {
    start_ms: i64,
    outdoor: Vec<f64>,
    clear: Vec<f64>,
}

const STEP_MS: i64 = 600_000;

impl Weather {
    pub fn new(rng: &mut Rng, zone: Zone, start_ms: i64, days: u32, warmer: f64) -> Self {
        // A mild coast and a continental inland.
        let (mean, season, day) = if zone == Zone::Lisbon { (17.0, 5.5, 4.0) } else { (10.5, 13.5, 5.0) };
        let day = day * rng.between(0.7, 1.3);
        let mut front = Wander::new(rng, 3.2, 6.0 * 40.0);
        let clear: Vec<f64> = (0..days + 3).map(|_| rng.between(0.25, 1.0)).collect();
        let n = (i64::from(days) + 2) * DAY_MS / STEP_MS;
        let outdoor = (0..n).map(|k| {
            let t = start_ms - DAY_MS + k * STEP_MS;
            let l = zone.local(t);
            let of_year = (days_from_civil(l.year, l.month, l.day) - days_from_civil(l.year, 1, 1)) as f64;
            let sky = clear[(k * STEP_MS / DAY_MS) as usize];
            let turn = core::f64::consts::TAU;
            mean + warmer
                + season * libm::cos(turn * (of_year - 202.0) / 365.0)
                + day * (0.4 + 0.7 * sky) * libm::cos(turn * (l.clock() - 15.5) / 24.0)
                + front.next(rng)
        });
        Self { start_ms: start_ms - DAY_MS, outdoor: outdoor.collect(), clear }
    }

    /// Warmer from an instant on [ms, K].
    pub fn shift(&mut self, from_ms: i64, kelvin: f64) {
        let from = ((from_ms - self.start_ms) / STEP_MS).max(0) as usize;
        self.outdoor.iter_mut().skip(from).for_each(|t| *t += kelvin);
    }

    pub fn outdoor(&self, t: i64) -> f64 {
        let x = (t - self.start_ms) as f64 / STEP_MS as f64;
        let k = (x.max(0.0) as usize).min(self.outdoor.len() - 2);
        let w = (x - k as f64).clamp(0.0, 1.0);
        self.outdoor[k] * (1.0 - w) + self.outdoor[k + 1] * w
    }

    /// Over a clear midday's.
    pub fn sun(&self, t: i64, clock: f64) -> f64 {
        let day = ((t - self.start_ms) / DAY_MS) as usize;
        let height = libm::sin(core::f64::consts::PI * ((clock - 6.0) / 13.0).clamp(0.0, 1.0));
        self.clear[day.min(self.clear.len() - 1)] * height
    }
}

/// When the loop is meant to run.
#[derive(Debug, Clone)]
pub struct Hours {
    /// Day and night, no schedule declared.
    pub always: bool,
    pub from: f64,
    pub to: f64,
    pub saturday: bool,
    /// Numbers of the days that are holidays, from the first day of the record.
    pub holidays: Vec<i64>,
    /// Longest start before time [h]; run-on after it [h].
    pub lead: f64,
    pub run_on: f64,
    /// Weekday on which idle pumps turn for some minutes, and for how many.
    pub exercise: Option<(i64, f64)>,
    /// Runs below this outdoor temperature [degC].
    pub frost: Option<f64>,
}

/// Why the loop runs or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    Off,
    Scheduled,
    Early,
    RunOn,
    Frost,
    Exercise,
    Extra,
}

impl Hours {
    pub fn works(&self, l: &Local, day: i64) -> bool {
        (l.weekday < 5 || (self.saturday && l.weekday == 5)) && !self.holidays.contains(&day)
    }

    /// `need` says how much of the lead this morning takes [0 to 1].
    pub fn why(&self, l: &Local, day: i64, outdoor: f64, need: f64) -> Why {
        if self.always {
            return Why::Scheduled;
        }
        let clock = l.clock();
        if self.works(l, day) {
            if (self.from..self.to).contains(&clock) {
                return Why::Scheduled;
            }
            if clock < self.from && clock >= self.from - self.lead * need {
                return Why::Early;
            }
            if clock >= self.to && clock < self.to + self.run_on {
                return Why::RunOn;
            }
        }
        if self.frost.is_some_and(|f| outdoor < f) {
            return Why::Frost;
        }
        let at = 3.0;
        if self.exercise.is_some_and(|(d, min)| l.weekday == d && clock >= at && clock < at + min / 60.0) {
            return Why::Exercise;
        }
        Why::Off
    }
}
