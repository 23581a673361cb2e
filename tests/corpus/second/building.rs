//! What a building is made of: plain data that `draw.rs` fills and `run.rs` plays.

use super::machine::Pump;
use super::pipes::{Pipes, Water};
use super::terminals::{Coil, Valve};

/// The calendar of a record.
#[derive(Debug, Clone)]
pub struct Site {
    pub zone: &'static str,
    pub start_ms: i64,
    pub days: u32,
    /// Civil minutes since 1970 at the start of each hour of the record.
    pub civil: Vec<i64>,
    /// Days since 1970.
    pub holidays: Vec<i64>,
}

impl Site {
    pub fn minutes(&self) -> usize {
        self.days as usize * 1440
    }
    /// Day since 1970 and hour of the day.
    pub fn local(&self, m: usize) -> (i64, f64) {
        let civil = self.civil[m / 60] + (m % 60) as i64;
        (civil.div_euclid(1440), civil.rem_euclid(1440) as f64 / 60.0)
    }
    /// Monday is 0.
    pub fn weekday(day: i64) -> usize {
        (day + 3).rem_euclid(7) as usize
    }
    pub fn at_ms(&self, m: usize) -> i64 {
        self.start_ms + m as i64 * 60_000
    }
}

#[derive(Debug, Clone, Copy)]
pub struct Weather {
    pub mean_c: f64,
    pub swing_c: f64,
    pub spread_c: f64,
    pub drift_c: f64,
    /// Warmer by so much from a minute on.
    pub shift: Option<(usize, f64)>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    Constant,
    Remote,
    Proportional,
    Quadratic,
    Fixed,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regulator {
    Pi,
    Steps,
}

#[derive(Debug, Clone)]
pub struct Control {
    pub mode: Mode,
    /// Head is held across the pump, else between the headers.
    pub at_pump: bool,
    pub zero_kpa: f64,
    pub design_kpa: f64,
    /// Constant and remote.
    pub set_kpa: f64,
    pub sensor: usize,
    pub reset: Option<(f64, f64)>,
    pub floor: f64,
    pub top: f64,
    /// Constant speed, of rated frequency.
    pub fixed: f64,
    pub regulator: Regulator,
    /// Of rated, a minute.
    pub ramp: f64,
    /// Before this minute every head was asked times this.
    pub earlier: Option<(usize, f64)>,
}

#[derive(Debug, Clone)]
pub struct Bypass {
    pub valve: Valve,
    pub least_flow: f64,
}

#[derive(Debug, Clone, Copy)]
pub struct Staging {
    pub by_speed: bool,
    pub up: f64,
    pub up_min: u32,
    pub down: f64,
    pub down_min: u32,
}

/// Supply temperature by outdoor temperature: two points, held beyond.
#[derive(Debug, Clone, Copy)]
pub struct Supply {
    pub at: (f64, f64),
    pub gives: (f64, f64),
    pub ripple_k: f64,
    pub ripple_min: f64,
}

#[derive(Debug, Clone, Copy)]
pub struct Period {
    pub days: [bool; 7],
    pub from_h: f64,
    pub to_h: f64,
}

/// From a minute to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    pub from: usize,
    pub to: usize,
}

impl Span {
    pub fn holds(&self, m: usize) -> bool {
        (self.from..self.to).contains(&m)
    }
}

/// What is wrong; each part with its own time.
#[derive(Debug, Clone, Default)]
pub struct Mischief {
    pub foul: Option<(Span, Vec<usize>)>,
    pub air: Option<(Span, Vec<usize>, f64)>,
    /// Conductance that the bypass never goes below [m3/h/kPa^0.5], and whether its position shows it.
    pub bypass: Option<(Span, f64, bool)>,
    pub floor_hunt: Option<(Span, Swing)>,
    pub speed_hunt: Option<(Span, Swing)>,
    /// Head asked beyond the declared curve [kPa].
    pub off_curve: Option<(Span, f64)>,
    pub hand: Option<(Span, f64)>,
    /// Hours before and after the schedule.
    pub extra: Option<(Span, f64, f64)>,
    /// Pump, share of head lost, minutes until it is all lost.
    pub wear: Option<(Span, usize, f64, f64)>,
    /// Starts an hour, first and last hour of the day.
    pub cycling: Option<(Span, f64, f64, f64)>,
    /// The next pump starts above this flow for each that runs [m3/h].
    pub staging: Option<(Span, f64)>,
    pub dead: Option<(Span, Dead)>,
}

#[derive(Debug, Clone, Copy)]
pub struct Swing {
    /// Trough to crest, of rated.
    pub size: f64,
    pub hours: f64,
    pub period_min: f64,
    /// Hour of the day at which it may begin.
    pub hour: f64,
}

#[derive(Debug, Clone, Copy)]
pub struct Dead {
    pub pump: usize,
    pub hours: f64,
    pub hour: f64,
    /// A valve in the main is shut; else this pump turns too slowly against another and its check valve stays shut.
    pub main_shut: bool,
}

#[derive(Debug, Clone)]
pub struct Building {
    pub name: String,
    pub site: Site,
    pub seed: u64,
    pub heating: bool,
    pub weather: Weather,
    pub water: Water,
    pub coils: Vec<Coil>,
    pub pipes: Pipes,
    /// Machines and strainer in the main [kPa/(m3/h)2].
    pub k_plant: f64,
    pub topology: &'static str,
    pub bypass: Option<Bypass>,
    pub source_least: Option<f64>,
    pub pumps: Vec<Pump>,
    /// How many share the design flow.
    pub duty: usize,
    pub design_flow: f64,
    /// What the neediest coil needs where the control's head is held [kPa], all coils at design flow; at no flow.
    pub need_kpa: f64,
    pub need_zero_kpa: f64,
    pub supply_c: f64,
    pub return_c: f64,
    pub supply: Supply,
    pub control: Control,
    pub schedule: Vec<Period>,
    pub run_on_min: usize,
    pub optimum_h: f64,
    pub frost_c: Option<f64>,
    pub exercise: bool,
    pub rotate: bool,
    /// A week in which nothing moves: an empty building at even load.
    pub steady_week: Option<usize>,
    pub staging: Staging,
    pub maker_least: f64,
    pub maker_said: bool,
    pub mischief: Mischief,
}

impl Building {
    pub fn scheduled(&self, m: usize) -> bool {
        let (day, hour) = self.site.local(m);
        self.scheduled_at(day, hour)
    }
    pub fn scheduled_at(&self, day: i64, hour: f64) -> bool {
        if self.schedule.is_empty() {
            return true;
        }
        if self.site.holidays.contains(&day) {
            return false;
        }
        self.schedule.iter().any(|p| p.days[Site::weekday(day)] && hour >= p.from_h && hour < p.to_h)
    }
    /// Head that the declared curve asks at a flow [kPa], before any change of setting.
    pub fn curve(&self, flow: f64) -> f64 {
        let c = &self.control;
        let x = flow / self.design_flow;
        match c.mode {
            Mode::Proportional => c.zero_kpa + (c.design_kpa - c.zero_kpa) * x,
            Mode::Quadratic => c.zero_kpa + (c.design_kpa - c.zero_kpa) * x * x,
            Mode::Constant | Mode::Remote => c.set_kpa,
            Mode::Fixed => f64::NAN,
        }
    }
}
