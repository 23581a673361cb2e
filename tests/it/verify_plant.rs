//! An invented plant whose control curve is changed, with the saving known: one pump, one coil, head, power, weather and a valve every quarter of an hour.
//!
//! Comes in: [`Made`]. Goes out: a folder with plant file and export, and what the change truly saved. Nothing here uses the code under test. The saving is the
//! difference of two runs that share every random number: one with the change, one without.

use crate::scratch::{self, Scratch};
use crate::simulator::noise::Rng;
use std::fmt::Write as _;
use std::process::{Command, Output};

pub const DAY_MS: i64 = 86_400_000;
/// Monday 5 January 2026, 00:00 UTC.
pub const MONDAY_MS: i64 = 1_767_571_200_000;
const STEP_MS: i64 = 900_000;
const DESIGN_FLOW: f64 = 68.0;
const DESIGN_HEAD: f64 = 162.0;
/// Head at no flow and rated speed [kPa], and its fall with the square of flow.
const SHUT_OFF: f64 = 230.0;
const FALL: f64 = (SHUT_OFF - 172.0) / (DESIGN_FLOW * DESIGN_FLOW);
/// Flow through the coil with its valve open, over the root of head [m3/h / kPa^0.5].
const OPEN: f64 = 4.6;

/// What to make.
#[derive(Debug, Clone)]
pub struct Made {
    pub seed: u64,
    pub days: i64,
    /// Days of the change with its hour, each switching between the two settings.
    pub changes: Vec<f64>,
    /// Head at no flow before and after [kPa].
    pub zero: (f64, f64),
    /// Put the earlier setting under [[control_history]].
    pub history: bool,
    /// Leave power out of the export, and its table out of the plant file.
    pub power: bool,
    /// A heat meter.
    pub load: bool,
    /// The valve and its air are in the plant file's points.
    pub valves: bool,
    /// One load day and night, all days.
    pub flat: bool,
    /// Lift that the pump makes beside the loop's resistance [kPa].
    pub lift: f64,
    /// Warmer from [`WARM_FROM`] on [K].
    pub warmer: f64,
}

/// Day from which weather is warmer.
pub const WARM_FROM: i64 = 57;

pub const PLAIN: Made = Made {
    seed: 7,
    days: 84,
    changes: Vec::new(),
    zero: (110.0, 50.0),
    history: true,
    power: true,
    load: false,
    valves: true,
    flat: false,
    lift: 0.0,
    warmer: 0.0,
};

/// A made plant.
pub struct Plant {
    pub folder: Scratch,
    /// Energy the change saved on each day [kWh]; days count from [`MONDAY_MS`].
    pub saved_kwh: Vec<f64>,
    /// Energy used on each day [kWh].
    pub used_kwh: Vec<f64>,
}

struct Row {
    speed: f64,
    power: f64,
    head: f64,
    flow: f64,
    valve: f64,
    short: bool,
}

/// Power at the drive's input at rated speed [kW] and flow [m3/h].
fn power_at(flow: f64) -> f64 {
    1.3 + 0.062 * flow - 0.000_19 * flow * flow
}

fn head_at(flow: f64) -> f64 {
    SHUT_OFF - FALL * flow * flow
}

/// The pump on its control curve, with the coil taking what it wants or what its open valve passes.
fn row(wanted: f64, zero: f64, lift: f64) -> Row {
    let asked = |q: f64| zero + (DESIGN_HEAD - zero) * (q / DESIGN_FLOW).powi(2);
    let mut most = 0.0;
    for k in 0..2000 {
        let q = f64::from(k) * 0.05;
        if q <= OPEN * (asked(q) - lift).max(0.0).sqrt() {
            most = q;
        }
    }
    let flow = wanted.min(most);
    let head = asked(flow);
    let speed = ((head + FALL * flow * flow) / SHUT_OFF).sqrt();
    let power = speed.powi(3) * power_at(flow / speed);
    Row {
        speed,
        power,
        head,
        flow,
        valve: (flow / (OPEN * (head - lift).sqrt())).min(1.0),
        short: wanted > 1.02 * most,
    }
}

impl Made {
    fn new_at(&self, day: f64) -> bool {
        self.changes.iter().filter(|c| day >= **c).count() % 2 == 1
    }

    pub fn make(&self) -> Plant {
        let (mut weather, mut noise) = (Rng::new(self.seed, 1), Rng::new(self.seed, 2));
        let mut csv = String::from("Time,P1 Speed,P1 Power,P1 Head,Outdoor,AHU-1 Valve,AHU-1 Air,AHU-1 Air SP,Heat\n");
        let (mut saved, mut used) = (Vec::new(), Vec::new());
        let mut front = 0.0;
        for day in 0..self.days {
            front = 0.7 * front + 3.0 * weather.normal();
            // Two swings of season over the record, so that both sides see all weather.
            let season = 5.0 * libm::sin(std::f64::consts::TAU * day as f64 / 28.0);
            let rest = if day % 7 >= 5 { 0.75 } else { 1.0 };
            let wander = 1.0 + 0.03 * weather.normal();
            let (mut saving, mut energy) = (0.0, 0.0);
            for step in 0..96 {
                let hour = f64::from(step) / 4.0;
                let warmer = if day >= WARM_FROM { self.warmer } else { 0.0 };
                let t = 20.0 + warmer + season + front + 4.0 * libm::sin((hour - 9.0) / 24.0 * std::f64::consts::TAU);
                let busy = if (6.0..20.0).contains(&hour) { 1.0 } else { 0.6 };
                let share = (0.38 + 0.016 * (t - 18.0) + 0.02 * weather.normal()).clamp(0.15, 0.98);
                let wanted = DESIGN_FLOW * if self.flat { 0.5 } else { share * rest * busy * wander };
                let (old, new) = (row(wanted, self.zero.0, self.lift), row(wanted, self.zero.1, self.lift));
                let at = day as f64 + hour / 24.0;
                let now = if self.new_at(at) { &new } else { &old };
                saving += 0.25 * (old.power - now.power);
                energy += 0.25 * now.power;
                let ms = MONDAY_MS + day * DAY_MS + step as i64 * STEP_MS;
                let time = chrono::DateTime::from_timestamp_millis(ms).expect("a time").format("%Y-%m-%d %H:%M");
                let air = if now.short { 16.5 } else { 14.0 } + 0.1 * noise.normal();
                let power = now.power * (1.0 + 0.01 * noise.normal());
                let _ = writeln!(
                    csv,
                    "{time},{:.2},{:.3},{:.2},{t:.1},{:.1},{air:.1},14.0,{:.1}",
                    100.0 * now.speed * (1.0 + 0.001 * noise.normal()),
                    power,
                    now.head * (1.0 + 0.004 * noise.normal()),
                    100.0 * now.valve,
                    now.flow * 6.0 * 1.1666,
                );
            }
            saved.push(saving);
            used.push(energy);
        }
        let folder = scratch::folder();
        std::fs::write(folder.path().join("plant.toml"), self.toml()).expect("written");
        std::fs::write(folder.path().join("trends.csv"), csv).expect("written");
        Plant { folder, saved_kwh: saved, used_kwh: used }
    }

    fn toml(&self) -> String {
        let zero = if self.history && self.changes.len() % 2 == 1 { self.zero.1 } else { self.zero.0 };
        let grid = [0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0];
        let list = |of: &dyn Fn(f64) -> f64| grid.map(|q| format!("{:.3}", of(q))).join(", ");
        let power = if self.power {
            format!("power = {{ unit = \"kW\", values = [{}] }}\n", list(&power_at))
        } else {
            String::new()
        };
        let mut out = format!(
            "[site]\nname = \"Wharf Hall\"\ntimezone = \"UTC\"\ncurrency = \"EUR\"\nenergy_price = 0.20\ncarbon_intensity = 0.25\n\
             [loop]\nname = \"Chilled water\"\nservice = \"chilled-water\"\ndesign_flow = \"{DESIGN_FLOW} m3/h\"\ndesign_head = \"{DESIGN_HEAD} kPa\"\nstatic_head = \"{} kPa\"\n\
             supply_temperature = \"6 degC\"\nreturn_temperature = \"12 degC\"\n\
             [[coil]]\nname = \"AHU-1\"\nvalve = \"two-way\"\ncharacteristic = \"linear\"\ndesign_flow = \"{DESIGN_FLOW} m3/h\"\n\
             [control]\nmode = \"quadratic\"\nhead_at = \"pump\"\nzero_flow_head = \"{zero} kPa\"\n\
             [[pump]]\nname = \"P-1\"\nrated_speed = \"1450 rpm\"\nmotor_power = \"7.5 kW\"\nmotor = \"permanent-magnet\"\n\
             [[pump.curve]]\nspeed = \"100 %\"\npower_is = \"drive-input\"\n\
             flow = {{ unit = \"m3/h\", values = [{}] }}\nhead = {{ unit = \"kPa\", values = [{}] }}\n{power}\
             [trends]\nfiles = [\"trends.csv\"]\n",
            self.lift,
            list(&|q| q),
            list(&head_at)
        );
        let mut point = |name: &str, role: &str, of: &str, unit: &str| {
            let of = if of.is_empty() { String::new() } else { format!("of = \"{of}\"\n") };
            let _ = write!(out, "[[point]]\nname = \"{name}\"\nrole = \"{role}\"\n{of}unit = \"{unit}\"\n");
        };
        point("P1 Speed", "pump-speed", "P-1", "%");
        if self.power {
            point("P1 Power", "pump-power", "P-1", "kW");
        }
        point("P1 Head", "pump-head", "P-1", "kPa");
        point("Outdoor", "outdoor-temperature", "", "degC");
        if self.valves {
            point("AHU-1 Valve", "valve-position", "AHU-1", "%");
            point("AHU-1 Air", "air-temperature", "AHU-1", "degC");
            point("AHU-1 Air SP", "air-temperature-setpoint", "AHU-1", "degC");
        }
        if self.load {
            point("Heat", "thermal-load", "", "kW");
        }
        if self.history {
            for (k, change) in self.changes.iter().enumerate() {
                let zero = if k % 2 == 0 { self.zero.0 } else { self.zero.1 };
                let _ = write!(
                    out,
                    "[[control_history]]\nuntil = \"{}\"\nzero_flow_head = \"{zero} kPa\"\n",
                    time(*change)
                );
            }
        }
        out
    }
}

/// A time of the plant, which keeps UTC.
pub fn time(day: f64) -> String {
    let ms = MONDAY_MS + (day * DAY_MS as f64).round() as i64;
    chrono::DateTime::from_timestamp_millis(ms).expect("a time").format("%Y-%m-%d %H:%M").to_string()
}

impl Plant {
    /// Runs `offcurve verify plant.toml` with these options.
    pub fn verify(&self, args: &[&str]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_offcurve"));
        command.args(["verify", "plant.toml"]).args(args).current_dir(self.folder.path());
        command.output().expect("the program starts")
    }

    /// The same for programs; it must succeed.
    pub fn json(&self, args: &[&str]) -> serde_json::Value {
        let out = self.verify(&[args, &["--format", "json"]].concat());
        assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
        serde_json::from_slice(&out.stdout).expect("JSON")
    }
}
