//! The tests' own plants: two invented loops that run minute by minute and export what a building system would.
//!
//! Comes in: a seed, a number of days and [`Options`]. Goes out: a [`Run`]: plant file, exports and the truth behind them.
//! The one decision to question: nothing of the analyser is used here, not even its units, so that an error of the
//! analyser cannot be repeated in its own test data. Equations differ where the analyser has to assume something.
//! It does not try to be a building: zones are a handful of numbers an air handler.
//! Start at [`chilled`] and [`heating`]; one minute of a loop is `engine::World::minute`.
#![allow(dead_code, reason = "each including target uses its own part")]

pub mod calendar;
mod chilled;
mod confession;
pub mod engine;
pub mod export;
mod heating;
mod network;
pub mod noise;
pub mod physics;
mod sensors;

/// Where head is trended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeadPoint {
    /// One transmitter between the headers; check valves and strainers lie before it.
    Header,
    /// One across each pump.
    Pump,
}

/// What is wrong. A day counts from 1; `None` is healthy.
#[derive(Debug, Clone, PartialEq)]
pub struct Faults {
    /// Zero-flow head of the declared curve far above the need (chilled water).
    pub setpoint_too_high: bool,
    /// Two largest coils foul on this day (chilled water).
    pub low_delta_t_from: Option<u32>,
    /// Drive holds a constant pressure from this day (chilled water).
    pub off_control_curve_from: Option<u32>,
    /// Bypass valve does not close below half from this day (heating).
    pub stuck_bypass_from: Option<u32>,
    /// Speed cycles about its floor on nights of low load (heating).
    pub minimum_speed_hunting: bool,
}

impl Faults {
    /// As planted in the committed samples.
    pub fn planted() -> Self {
        Self {
            setpoint_too_high: true,
            low_delta_t_from: Some(9),
            off_control_curve_from: Some(20),
            stuck_bypass_from: Some(11),
            minimum_speed_hunting: true,
        }
    }

    pub fn none() -> Self {
        Self {
            setpoint_too_high: false,
            low_delta_t_from: None,
            off_control_curve_from: None,
            stuck_bypass_from: None,
            minimum_speed_hunting: false,
        }
    }
}

/// What to simulate and what of it is trended.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    pub faults: Faults,
    pub head: Option<HeadPoint>,
    pub power: bool,
    /// A loop flow meter (gain error 2 % one standard deviation).
    pub meter: bool,
    /// Scales gain errors, offsets and row noise of the sensors; 1 as in the samples.
    pub noise: f64,
    /// Scales the pumps' departure from their table; 1 as in the samples.
    pub departure: f64,
    /// Gaps, bad words and dropouts.
    pub bad_cells: bool,
    /// A setting in force other than the declared one, all the record: what a proposal would do.
    pub set: Option<Set>,
}

/// A setting in force: where the head is declared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Set {
    pub curve: engine::Curve,
    pub floor: f64,
}

impl Options {
    /// As the committed samples: head and power trended, all faults planted.
    pub fn sample() -> Self {
        Self {
            faults: Faults::planted(),
            head: Some(HeadPoint::Header),
            power: true,
            meter: false,
            noise: 1.0,
            departure: 1.0,
            bad_cells: true,
            set: None,
        }
    }

    /// The same plant in health.
    pub fn healthy() -> Self {
        Self { faults: Faults::none(), ..Self::sample() }
    }
}

/// One pump's truth, a value an interval (its mean).
#[derive(Debug, Clone, Default)]
pub struct PumpTruth {
    pub name: String,
    pub flow_m3h: Vec<f64>,
    /// Across the pump itself.
    pub head_kpa: Vec<f64>,
    /// Of the shaft, over rated speed.
    pub speed: Vec<f64>,
    /// At the drive's input.
    pub power_kw: Vec<f64>,
    /// On for the whole interval.
    pub running: Vec<bool>,
    /// Running, and flow within 2 % of design over the interval and against both neighbours.
    pub steady: Vec<bool>,
}

/// One coil's truth.
#[derive(Debug, Clone, Default)]
pub struct CoilTruth {
    pub name: String,
    pub flow_m3h: Vec<f64>,
    /// Valve stem, 0 to 1.
    pub opening: Vec<f64>,
    pub heat_kw: Vec<f64>,
    pub water_out_c: Vec<f64>,
}

/// A fault that was planted.
#[derive(Debug, Clone, PartialEq)]
pub struct Planted {
    pub fault: &'static str,
    pub subject: &'static str,
    pub first_seen_ms: i64,
    pub last_seen_ms: i64,
    pub hours: f64,
    pub note: String,
}

/// Something that looks like a fault and is none, within its time.
#[derive(Debug, Clone, PartialEq)]
pub struct LookAlike {
    pub would_be: &'static str,
    pub subject: &'static str,
    pub from_ms: i64,
    pub to_ms: i64,
    pub note: &'static str,
}

/// Something that was not planted but holds, so that finding it is no false alarm.
#[derive(Debug, Clone, PartialEq)]
pub struct AlsoTrue {
    pub fault: &'static str,
    pub subject: &'static str,
    pub note: &'static str,
}

/// The truth behind the exports, averaged over the same intervals.
#[derive(Debug, Clone, Default)]
pub struct Truth {
    /// Start of each interval, UTC.
    pub time_ms: Vec<i64>,
    pub design_flow_m3h: f64,
    pub design_head_kpa: f64,
    pub pumps: Vec<PumpTruth>,
    pub coils: Vec<CoilTruth>,
    pub loop_flow_m3h: Vec<f64>,
    /// Between the headers.
    pub loop_head_kpa: Vec<f64>,
    /// Header head that would have been enough with the neediest valve 90 % open and each coil's flow kept.
    pub need_head_kpa: Vec<f64>,
    /// What the declared control curve asks at the true flow, at the place where it is declared.
    pub curve_head_kpa: Vec<f64>,
    pub bypass_flow_m3h: Vec<f64>,
    pub supply_c: Vec<f64>,
    pub return_c: Vec<f64>,
    pub outdoor_c: Vec<f64>,
    /// How far the worst coil with its valve at the end misses its air setpoint [K].
    pub short_k: Vec<f64>,
    /// The floor cycle was active.
    pub hunting: Vec<bool>,
    pub planted: Vec<Planted>,
    pub look_alikes: Vec<LookAlike>,
    pub also_true: Vec<AlsoTrue>,
}

/// A simulated record.
#[derive(Debug, Clone)]
pub struct Run {
    pub plant_toml: String,
    /// Path below the plant file's folder, and the bytes.
    pub files: Vec<(String, Vec<u8>)>,
    pub truth_toml: String,
    pub truth: Truth,
}

/// A chilled-water loop: two parallel pumps, eight coils on two-way valves, one on a three-way valve. SI units.
pub fn chilled(seed: u64, days: u32, options: &Options) -> Run {
    chilled::run(seed, days, options)
}

/// A heating-water loop: one pump, six coils on two-way valves, a minimum-flow bypass. IP units.
pub fn heating(seed: u64, days: u32, options: &Options) -> Run {
    heating::run(seed, days, options)
}

/// Local time minus UTC in Lisbon [ms], from the rules.
pub fn offset_of_lisbon_ms(utc_ms: i64) -> i64 {
    calendar::Zone::Lisbon.offset_ms(utc_ms)
}

/// Local time minus UTC in Chicago [ms], from the rules.
pub fn offset_of_chicago_ms(utc_ms: i64) -> i64 {
    calendar::Zone::Chicago.offset_ms(utc_ms)
}

/// Transfer units of a counterflow coil [-] at an effectiveness and a ratio of heat capacities [-].
pub fn coil_transfer_units(effectiveness: f64, ratio: f64) -> f64 {
    physics::transfer_units(effectiveness, ratio)
}

/// Folder name, seed and days of the committed samples.
pub const SAMPLES: [(&str, u64, u32); 2] = [("quay-house", 20_251_001, 31), ("orchard-school", 26, 31)];

/// The run behind the committed sample of this folder name.
pub fn sample_run(folder: &str) -> Run {
    let (_, seed, days) = SAMPLES.into_iter().find(|s| s.0 == folder).expect("a folder named in SAMPLES");
    match folder {
        "quay-house" => chilled(seed, days, &Options::sample()),
        _ => heating(seed, days, &Options { head: Some(HeadPoint::Pump), ..Options::sample() }),
    }
}

/// The committed sample of this folder name: path below `sample-trends/`, and bytes.
pub fn sample_files(folder: &str) -> Vec<(String, Vec<u8>)> {
    let run = sample_run(folder);
    let mut files = run.files;
    files.push(("plant.toml".to_owned(), run.plant_toml.into_bytes()));
    files.push(("truth.toml".to_owned(), run.truth_toml.into_bytes()));
    files.into_iter().map(|(path, bytes)| (format!("{folder}/{path}"), bytes)).collect()
}
