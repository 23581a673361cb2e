//! One pump as the analyser knows it: reduced curves, motor and drive, and the common errors that may bend them.
//!
//! Comes in: the declared pump. Goes out: [`PumpModel`], which says what head and electric power a flow and a speed
//! would show under given common errors ([`Common`]). The decision a reader would question: everything that is the same
//! hour after hour (table departure, sensor scale, loss level, slip) is a parameter here, not noise.

use crate::hydraulics::curve::EFFICIENCY_EXPONENT;
use crate::hydraulics::motor::{self, MotorOnDrive};
use crate::hydraulics::pchip::Pchip;
use crate::hydraulics::raised::Raised;
use crate::hydraulics::viscosity;
use crate::plant::{MotorKind, PowerIs, Pump};
use crate::quantity::{Flow, Power, ShaftSpeed};
use std::sync::LazyLock;

/// Points at which a reduced curve is sampled once, so that rows need no search.
const SAMPLES: usize = 241;

/// One tested speed, reduced by affinity to full speed: head over s^2 [kPa], shaft power over s^3 [kW], at q = Q/s.
#[derive(Debug, Clone)]
struct Reduced {
    speed: f64,
    head: Vec<f64>,
    shaft: Vec<f64>,
    /// Where the table's power was taken at the drive's input: motor and drive loss of the test, reduced like the power, by kind (constant,
    /// load, low load); `shaft` is then the power at the drive's input.
    test_loss: Option<Vec<[f64; 3]>>,
}

/// Head and power that a pump makes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Made {
    /// [kPa]
    pub head: f64,
    /// Drive input [kW]
    pub power: f64,
}

/// The number of common errors.
pub const COMMON: usize = 26;

/// Common errors of one pump, each in standard deviations of its prior; zero is the prior's mean.
pub type Common = [f64; COMMON];

/// Where each common error stands in [`Common`].
pub mod error {
    /// Head table: level, tilt, bend, ripple.
    pub const HEAD_TABLE: usize = 0;
    /// Power table: level, tilt, bend, ripple.
    pub const POWER_TABLE: usize = 4;
    pub const HEAD_GAIN: usize = 8;
    pub const HEAD_ZERO: usize = 9;
    pub const POWER_GAIN: usize = 10;
    /// Loss without load, loss with load, excess at low load, and how the first falls with speed.
    pub const LOSS_CONSTANT: usize = 11;
    pub const LOSS_LOAD: usize = 12;
    pub const LOSS_LOW: usize = 13;
    pub const LOSS_SPEED: usize = 14;
    pub const SLIP: usize = 15;
    /// Between flanges and headers.
    pub const HEADER: usize = 16;
    pub const METER_GAIN: usize = 17;
    pub const METER_ZERO: usize = 18;
    pub const HEAT_GAIN: usize = 19;
    pub const HEAT_PAIR: usize = 20;
    /// Between headers and the remote pressure sensor.
    pub const PIPE: usize = 21;
    pub const REMOTE_GAIN: usize = 22;
    pub const REMOTE_ZERO: usize = 23;
    /// How much of the published fall of efficiency with speed this pump shows.
    pub const DRIFT: usize = 24;
    /// How much more of it shows where there is little efficiency.
    pub const DRIFT_LOW: usize = 25;
}

/// What can be measured of a pump's flow.
pub mod witness {
    pub const HEAD: usize = 0;
    pub const POWER: usize = 1;
    pub const METER: usize = 2;
    pub const HEAT: usize = 3;
    pub const REMOTE: usize = 4;
    /// How many kinds there are.
    pub const COUNT: usize = 5;
}
use witness::COUNT;

/// The fluid of one hour against that of the declared curves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hour {
    /// Density over that at the design supply temperature [-].
    pub density: f64,
    /// Natural logarithm of kinematic viscosity over that at the design supply temperature [-].
    pub thicker: f64,
}

impl Hour {
    /// As designed.
    pub const DESIGN: Self = Self { density: 1.0, thicker: 0.0 };
}

/// What stands around one reading of the loop's own sensors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Around {
    /// Return over supply, without sign [K]; for a heat balance.
    pub delta_t: f64,
    /// How many like pumps share the loop's flow; for a remote pressure.
    pub sharing: f64,
}

impl Around {
    /// One pump alone; no heat balance.
    pub const ALONE: Self = Self { delta_t: f64::NAN, sharing: 1.0 };
}

/// What a standard deviation of each common error is. Where no source is named the reason is.
#[derive(Debug, Clone, Copy)]
pub struct Prior {
    /// Departure of the pump's head from its table: level, tilt over flow, bend, ripple [-]. ISO 9906:2012 grade 2B allows
    /// 5 % of head, taken as two standard deviations (from memory); wear lowers it.
    pub head_table: [f64; 4],
    /// Departure of shaft power from the table, likewise [-]. ISO 9906:2012 grade 2B, 8 % of power (from memory).
    pub power_table: [f64; 4],
    /// Scale of the head sensor [-]: declared accuracy, else 1 %.
    pub head_gain: f64,
    /// Zero of the head sensor [kPa]: 0.5 % of its span, taken as 1.5 times the design head.
    pub head_zero: f64,
    /// Scale of the power reading [-]: declared accuracy, else 2 % (drives report power no better).
    pub power_gain: f64,
    /// Motor and drive losses over the model's, natural logarithm: the constant part and the part with load. Two handbooks differ by half at
    /// a quarter of load, and each drive shapes flux and switching in its own way, so the constant part is doubted most.
    pub loss: [f64; 2],
    /// How far losses at low load lie from the model towards the handbooks' tables [-] (`hydraulics::motor::Loss::low_load`).
    pub low_load: f64,
    /// The same, mean: none for a motor of today behind its drive, those of the handbooks where they hold.
    pub low_load_mean: f64,
    /// Losses go with shaft power, as if efficiencies never changed.
    pub proportional_loss: bool,
    /// How the constant part falls with speed, natural logarithm at standstill: iron loss on a drive depends on flux and switching.
    pub loss_speed: f64,
    /// How much of the published fall of efficiency with speed a pump shows [-], about 1: bearings add to it, rough casings show less.
    pub drift: f64,
    /// How much of what the published form adds where efficiency is below the best a pump shows [-]: mean and standard deviation. What is lost near
    /// shut-off is recirculation, which knows no speed; the form takes all of it for friction.
    pub drift_low_mean: f64,
    pub drift_low: f64,
    /// How much of the induction motor's slip the speed signal does not show [-]: mean, none where the signal is the shaft's, all where it is the
    /// frequency.
    pub slip_mean: f64,
    /// The same, standard deviation: name plates are rounded and slip follows the motor's temperature.
    pub slip: f64,
    /// Flow-squared loss between pump flanges and headers, share of shut-off head at the end of the table.
    pub header: f64,
    /// Mean of the same; zero where the head is taken at the flanges.
    pub header_mean: f64,
    /// Scale of a flow meter [-].
    pub meter_gain: f64,
    /// Zero of a flow meter [m3/h].
    pub meter_zero: f64,
    /// Scale of a heat meter's reading over its temperatures [-].
    pub heat_gain: f64,
    /// Error of a pair of temperature sensors [K].
    pub heat_pair: f64,
    /// Loss between the headers and a remote pressure sensor: mean [kPa/(m3/h)2]; zero where there is no such sensor.
    pub pipe_mean: f64,
    /// The same, natural logarithm.
    pub pipe: f64,
    /// Scale [-] and zero [kPa] of the remote sensor.
    pub remote_gain: f64,
    pub remote_zero: f64,
    /// Model error of a cell that no common error describes, of head and of power [-]: the table's interpolation, part-load wrinkles.
    pub model_head: f64,
    pub model_power: f64,
}

impl Prior {
    /// Standard deviation of a common error in its own unit; zero where it plays no part.
    #[must_use]
    pub fn sd(&self, k: usize) -> f64 {
        match k {
            0..4 => self.head_table[k],
            4..8 => self.power_table[k - 4],
            error::HEAD_GAIN => self.head_gain,
            error::HEAD_ZERO => self.head_zero,
            error::POWER_GAIN => self.power_gain,
            error::LOSS_CONSTANT => self.loss[0],
            error::LOSS_LOAD => self.loss[1],
            error::LOSS_LOW => self.low_load,
            error::LOSS_SPEED => self.loss_speed,
            error::SLIP => self.slip,
            error::HEADER => self.header,
            error::METER_GAIN => self.meter_gain,
            error::METER_ZERO => self.meter_zero,
            error::HEAT_GAIN => self.heat_gain,
            error::HEAT_PAIR => self.heat_pair,
            error::PIPE => self.pipe,
            error::REMOTE_GAIN => self.remote_gain,
            error::REMOTE_ZERO => self.remote_zero,
            error::DRIFT => self.drift,
            _ => self.drift_low,
        }
    }
}

/// A pump with a usable table.
#[derive(Debug, Clone)]
pub struct PumpModel {
    /// Largest reduced flow of the table [m3/h].
    pub q_max: f64,
    /// Smallest reduced flow of the table [m3/h]; below it curves are carried on straight, so that a reading there shows where it lies.
    pub q_min: f64,
    /// Reduced flow of best efficiency [m3/h].
    pub q_best: f64,
    /// Efficiency of the pump there [-].
    best: f64,
    curves: Vec<Reduced>,
    single_speed: bool,
    has_power: bool,
    /// What the trended power is taken at.
    trended_is: PowerIs,
    rated_kw: f64,
    motor_efficiency: f64,
    drive_efficiency: f64,
    motor: MotorOnDrive,
    /// The learned table holds what is trended: no chain lies between.
    no_chain: bool,
    /// Slip at rated load over rated speed [-]; zero where there is none to correct.
    slip: f64,
    /// HI 9.6.7's B at rated speed and design temperature [-]; zero for a fluid like water.
    viscous_b: f64,
    pub prior: Prior,
}

/// What is known beside the pump's own declaration.
#[derive(Debug, Clone, Copy)]
pub struct Setting {
    /// What the trended power is taken at.
    pub power_is: PowerIs,
    /// Kinematic viscosity at the design supply temperature [mm2/s]; NaN or water's: no correction.
    pub viscosity_cst: f64,
    /// The declared density [kg/m3], for the head in metres that the viscosity correction asks for.
    pub density_kg_m3: f64,
    /// The table's power is what is trended, at the same place: motor and drive are already in it.
    pub no_chain: bool,
}

impl Setting {
    /// Water, power at the drive's input.
    pub const PLAIN: Self =
        Self { power_is: PowerIs::DriveInput, viscosity_cst: f64::NAN, density_kg_m3: 1000.0, no_chain: false };
}

/// Motor output power assumed where none is declared: the table's largest shaft power and a tenth.
const MOTOR_OVERSIZE: f64 = 1.1;
/// Thinner than this no fluid slows a pump that was tested with cold water [mm2/s].
const LIKE_WATER: f64 = 1.6;
/// Rated speed where none is declared [rpm]: four poles at 50 Hz.
const USUAL_RPM: f64 = 1450.0;
/// The correction for thick fluids is itself good to about a third of what it corrects (the standard gives it for pumps of ordinary design).
const VISCOUS_DOUBT: f64 = 0.3;

/// How far the losses of one motor and drive lie from what is known of another's, in a test of the type [-]: IEC 60034-1 allows the motor 15 % more (from
/// memory), and as much again for what the maker's own test stand and its drive do otherwise.
const UNIT_LOSS: f64 = 0.25;

impl PumpModel {
    /// Builds from a declared pump; `None` where it has no head table.
    #[must_use]
    pub fn new(pump: &Pump, prior: Prior, setting: Setting) -> Option<Self> {
        let first = pump.curves.first()?;
        let end = |flow: &[f64], speed: f64| flow.last().copied().unwrap_or(f64::INFINITY) / speed;
        // Where the power table ends earlier than the head's, its last value is held: head alone still serves there.
        let q_max =
            pump.curves.iter().map(|c| end(&c.head_flow_m3h, c.speed.in_of_one())).fold(f64::INFINITY, f64::min);
        if !(q_max > 0.0 && q_max.is_finite()) {
            return None;
        }
        let start = |flow: &[f64], speed: f64| flow.first().copied().unwrap_or(0.0) / speed;
        let q_min = pump.curves.iter().map(|c| start(&c.head_flow_m3h, c.speed.in_of_one())).fold(0.0, f64::max);
        let mut curves = Vec::new();
        for c in &pump.curves {
            let s = c.speed.in_of_one();
            let head = sample(&c.head_flow_m3h, &c.head_kpa, q_max, s, s.powi(2))?;
            let shaft = if c.power_kw.is_empty() {
                vec![f64::NAN; SAMPLES]
            } else {
                sample(&c.power_flow_m3h, &c.power_kw, q_max, s, s.powi(3))?
            };
            curves.push(Reduced { speed: s, head, shaft, test_loss: None });
        }
        curves.sort_by(|a, b| a.speed.total_cmp(&b.speed));
        let top_power =
            curves.iter().flat_map(|c| c.shaft.iter().copied()).filter(|p| p.is_finite()).fold(0.0, f64::max);
        let has_power = top_power > 0.0;
        let at_input = first.power_is == PowerIs::DriveInput;
        let rated_kw = pump.motor_power.map_or(
            if at_input { top_power * MOTOR_OVERSIZE * USUAL_CHAIN } else { top_power * MOTOR_OVERSIZE },
            Power::in_kw,
        );
        let motor_efficiency = pump.motor_efficiency.unwrap_or_else(|| motor::ie3_efficiency(rated_kw).unwrap_or(0.88));
        let drive_efficiency = pump.drive_efficiency.unwrap_or(0.965);
        let mut model = Self {
            q_max,
            q_min,
            q_best: q_max,
            best: USUAL_BEST,
            single_speed: curves.len() == 1,
            has_power,
            trended_is: setting.power_is,
            curves,
            rated_kw,
            motor_efficiency,
            drive_efficiency,
            motor: MotorOnDrive::new(rated_kw, motor_efficiency, drive_efficiency),
            no_chain: setting.no_chain,
            slip: slip_of(pump),
            viscous_b: 0.0,
            prior,
        };
        if has_power && at_input && !setting.no_chain {
            model.take_chain_out();
            model.doubt_loss_of_test();
        }
        model.q_best = pump.best_efficiency_flow.map_or_else(|| model.find_best(), Flow::in_m3h).min(q_max);
        model.best = model.efficiency_at(model.q_best);
        model.thicken(pump, setting);
        Some(model)
    }

    /// A table taken at the drive's input holds the losses of its own test: keeps them apart, to be given back at the test's speed.
    fn take_chain_out(&mut self) {
        let mut curves = std::mem::take(&mut self.curves);
        let chain = |shaft: f64, speed: f64| self.chain(shaft, speed);
        for c in &mut curves {
            let cube = c.speed.powi(3);
            let losses = c.shaft.iter().map(|&input| {
                // Input less loss is shaft, and loss follows shaft: a few rounds settle it.
                let mut shaft = input * cube * USUAL_CHAIN;
                let mut of = [0.0; 3];
                for _ in 0..12 {
                    of = chain(shaft, c.speed);
                    let beyond = self.prior.low_load_mean * of[2];
                    // A table whose losses leave no shaft power is not believed that far.
                    shaft = (input * cube - of[0] - of[1] - beyond).max(0.05 * input * cube);
                }
                of.map(|v| v / cube)
            });
            c.test_loss = Some(losses.collect());
        }
        self.curves = curves;
    }

    /// The test's motor and drive are of the type, those of the plant are a pair of their own: by so much their losses differ, and no common error
    /// of the losses takes that back.
    fn doubt_loss_of_test(&mut self) {
        let at = self.affine(self.q_best, self.curves[self.curves.len() - 1].speed);
        let loss: f64 = at.test_loss.map_or(0.0, |l| l.iter().sum());
        let doubt = UNIT_LOSS * loss / (at.power - loss).max(loss).max(1e-9);
        self.prior.power_table[0] = self.prior.power_table[0].hypot(doubt);
    }

    /// Motor and drive loss of the three kinds [kW] for a shaft power [kW] at `speed` [-].
    fn chain(&self, shaft: f64, speed: f64) -> [f64; 3] {
        if self.prior.proportional_loss {
            let (motor, drive) = (self.motor_efficiency, self.drive_efficiency);
            return [0.0, shaft * (1.0 / (motor * drive) - 1.0), 0.0];
        }
        let of = self.motor.loss(shaft, speed);
        [of.constant, of.load, of.low_load]
    }

    fn thicken(&mut self, pump: &Pump, setting: Setting) {
        if !(setting.viscosity_cst > LIKE_WATER) {
            return;
        }
        let rpm = pump.rated_speed.map_or(USUAL_RPM, ShaftSpeed::in_rpm);
        let head_m = self.table(self.q_best, 1.0, 0.0).0 * 1000.0 / (setting.density_kg_m3 * GRAVITY);
        if let Some(f) = viscosity::viscous_factors(self.q_best, head_m, rpm, setting.viscosity_cst) {
            self.viscous_b = f.b;
            let doubt = VISCOUS_DOUBT * (1.0 / f.efficiency - 1.0);
            self.prior.power_table[0] = self.prior.power_table[0].hypot(doubt);
        }
    }

    /// Shut-off head of the table at full speed [kPa].
    #[must_use]
    pub fn shut_off(&self) -> f64 {
        self.curves[self.curves.len() - 1].head[0]
    }
    /// Whether a power curve was declared.
    #[must_use]
    pub fn has_power(&self) -> bool {
        self.has_power
    }
    /// Rated motor output [kW].
    #[must_use]
    pub fn rated_kw(&self) -> f64 {
        self.rated_kw
    }
    /// Full-load efficiency of motor and of drive [-].
    #[must_use]
    pub fn full_load_efficiency(&self) -> (f64, f64) {
        (self.motor_efficiency, self.drive_efficiency)
    }
    /// Where the trended power is taken.
    #[must_use]
    pub fn power_is(&self) -> PowerIs {
        self.trended_is
    }
    /// Whether motor and drive losses lie between the table and the reading.
    #[must_use]
    pub fn has_chain(&self) -> bool {
        self.has_power && !self.no_chain
    }
    /// Whether the motor slips at all.
    #[must_use]
    pub fn slips(&self) -> bool {
        self.slip > 0.0 && self.has_power
    }

    /// Whether the fluid is thick enough to slow the pump.
    #[must_use]
    pub fn thickens(&self) -> bool {
        self.viscous_b > 0.0
    }

    /// Efficiency of the highest tested speed at reduced flow `q`; a usual one where no power is tested.
    fn efficiency_at(&self, q: f64) -> f64 {
        let at = self.affine(q, self.curves[self.curves.len() - 1].speed);
        let shaft = at.power - at.test_loss.map_or(0.0, |l| l[0] + l[1]);
        let e = q * at.head / 3600.0 / shaft;
        if self.has_power && e.is_finite() { e.clamp(0.05, 0.92) } else { USUAL_BEST }
    }

    /// Flows at rated speed [m3/h] between which the table's efficiency lies within 2 % of its best: where in there the best point is, the
    /// table's own tolerance does not tell. Both are NaN without a table of power.
    #[must_use]
    pub fn best_range_m3h(&self) -> (f64, f64) {
        if !self.has_power {
            return (f64::NAN, f64::NAN);
        }
        const STEPS: usize = 200;
        let near = |k: &usize| self.efficiency_at(self.q_max * *k as f64 / STEPS as f64) >= FLAT_TOP * self.best;
        let at = |k: usize| self.q_max * k as f64 / STEPS as f64;
        let middle = ((self.q_best / self.q_max * STEPS as f64) as usize).clamp(1, STEPS);
        let low = (1..=middle).rev().take_while(near).last().unwrap_or(middle);
        let high = (middle..=STEPS).take_while(near).last().unwrap_or(middle);
        (at(low).min(self.q_best), at(high).max(self.q_best))
    }

    fn find_best(&self) -> f64 {
        if !self.has_power {
            return self.q_max * 0.7;
        }
        let top = &self.curves[self.curves.len() - 1];
        let step = self.q_max / (SAMPLES - 1) as f64;
        let shaft = |i: usize| top.shaft[i] - top.test_loss.as_ref().map_or(0.0, |l| l[i][0] + l[i][1]);
        let best = (1..SAMPLES).max_by(|&a, &b| {
            let e = |i: usize| i as f64 * step * top.head[i] / shaft(i).max(1e-9);
            e(a).total_cmp(&e(b))
        });
        best.unwrap_or(SAMPLES - 1) as f64 * step
    }

    /// Head [kPa] and shaft power [kW] of the table at flow `q*s` and speed `s`, for a fluid `thicker` than at design
    /// (`Hour::thicker` [-]).
    #[must_use]
    pub fn table(&self, q: f64, s: f64, thicker: f64) -> (f64, f64) {
        let (head, shaft, _) = self.tested(q, s, thicker, &[0.0; COMMON]);
        (head, shaft)
    }

    /// Head [kPa], shaft power [kW], and how much of the test's own loss was taken out of that [kW].
    fn tested(&self, q: f64, s: f64, thicker: f64, c: &Common) -> (f64, f64, f64) {
        let b = self.thickness(s, thicker);
        if b > 1.0 {
            // Best-efficiency flow and head fall with speed, which leaves B as the inverse root of speed.
            let flow = (-0.165 * b.log10().powf(3.15)).exp();
            let efficiency = b.powf(-0.0547 * b.powf(0.69));
            let with_water = (q / flow).min(self.q_max);
            let head = 1.0 - (1.0 - flow) * (with_water / self.q_best).powf(0.75);
            let (h, p, loss) = self.watery(with_water, s, c);
            return (h * head, p * flow * head / efficiency, loss);
        }
        self.watery(q, s, c)
    }

    /// HI 9.6.7's B at speed `s` [-]; zero for a fluid like water.
    fn thickness(&self, s: f64, thicker: f64) -> f64 {
        if self.thickens() { self.viscous_b * (0.5 * thicker).exp() / s.sqrt() } else { 0.0 }
    }

    /// The head alone of [`PumpModel::tested`] [kPa], which asks for no power.
    fn tested_head(&self, q: f64, s: f64, thicker: f64) -> f64 {
        if self.thickness(s, thicker) > 1.0 {
            return self.tested(q, s, thicker, &[0.0; COMMON]).0;
        }
        s * s * self.affine_head(q, s)
    }

    /// The head alone of [`PumpModel::affine`].
    fn affine_head(&self, q: f64, s: f64) -> f64 {
        let x = (q / self.q_max * (SAMPLES - 1) as f64).clamp(0.0, (SAMPLES - 1) as f64);
        let i = (x as usize).min(SAMPLES - 2);
        let w = x - i as f64;
        let at = |v: &[f64]| v[i] + w * (v[i + 1] - v[i]);
        if self.single_speed {
            return at(&self.curves[0].head);
        }
        let k = self.curves.partition_point(|c| c.speed <= s).clamp(1, self.curves.len() - 1);
        let (a, b) = (&self.curves[k - 1], &self.curves[k]);
        let t = ((s - a.speed) / (b.speed - a.speed)).clamp(0.0, 1.0);
        at(&a.head) + t * (at(&b.head) - at(&a.head))
    }

    fn watery(&self, q: f64, s: f64, c: &Common) -> (f64, f64, f64) {
        let at = self.affine(q, s);
        let loss = at.test_loss.map_or(0.0, |l| self.scaled(&l, at.tested.max(1e-3), c).min(0.95 * at.power));
        let (h, p) = (at.head, at.power - loss);
        let cube = s.powi(3);
        if at.drifts_from <= 0.0 {
            return (s * s * h, cube * p, cube * loss);
        }
        let r = FALL.of((s / at.drifts_from).max(0.05));
        let (here, least) = (drift(efficiency(q, h, p), DRIFT_FLOOR * self.best, r), drift(self.best, 0.0, r));
        let pr = &self.prior;
        let shown = 1.0
            + (least - 1.0) * (1.0 + pr.drift * c[error::DRIFT])
            + (here - least) * (pr.drift_low_mean + pr.drift_low * c[error::DRIFT_LOW]);
        (s * s * h, cube * p * shown, cube * loss)
    }

    /// Reduced head and power by affinity alone.
    fn affine(&self, q: f64, s: f64) -> Affine {
        let x = (q / self.q_max * (SAMPLES - 1) as f64).clamp(0.0, (SAMPLES - 1) as f64);
        let i = (x as usize).min(SAMPLES - 2);
        let w = x - i as f64;
        let at = |v: &[f64]| v[i] + w * (v[i + 1] - v[i]);
        let loss_at =
            |c: &Reduced| c.test_loss.as_ref().map(|l| std::array::from_fn(|k| l[i][k] + w * (l[i + 1][k] - l[i][k])));
        if self.single_speed {
            let c = &self.curves[0];
            return Affine {
                head: at(&c.head),
                power: at(&c.shaft),
                test_loss: loss_at(c),
                tested: c.speed,
                drifts_from: c.speed,
            };
        }
        let k = self.curves.partition_point(|c| c.speed <= s).clamp(1, self.curves.len() - 1);
        let (a, b) = (&self.curves[k - 1], &self.curves[k]);
        let t = ((s - a.speed) / (b.speed - a.speed)).clamp(0.0, 1.0);
        let between = |a: &[f64], b: &[f64]| at(a) + t * (at(b) - at(a));
        let test_loss = match (loss_at(a), loss_at(b)) {
            (Some(x), Some(y)) => Some(std::array::from_fn(|k| x[k] + t * (y[k] - x[k]))),
            _ => None,
        };
        Affine {
            head: between(&a.head, &b.head),
            power: between(&a.shaft, &b.shaft),
            test_loss,
            tested: a.speed + t * (b.speed - a.speed),
            drifts_from: if s < a.speed { a.speed } else { 0.0 },
        }
    }

    /// Motor and drive loss of the three kinds under common errors, at `speed` [-].
    fn scaled(&self, of: &[f64; 3], speed: f64, c: &Common) -> f64 {
        let pr = &self.prior;
        let constant = pr.loss[0] * c[error::LOSS_CONSTANT] + pr.loss_speed * c[error::LOSS_SPEED] * (1.0 - speed);
        of[0] * constant.exp()
            + of[1] * (pr.loss[1] * c[error::LOSS_LOAD]).exp()
            + of[2] * (pr.low_load_mean + pr.low_load * c[error::LOSS_LOW])
    }

    /// Speed [-] of the shaft at reduced flow `q` [m3/h] for a shown speed, with the slip that is not shown.
    #[must_use]
    pub fn speed(&self, q: f64, shown: f64, c: &Common) -> f64 {
        if !self.slips() {
            return shown;
        }
        let unseen = self.prior.slip_mean + self.prior.slip * c[error::SLIP];
        // Affinity is close enough for a torque.
        let at = self.affine(q, shown);
        let shaft = shown.powi(3) * (at.power - at.test_loss.map_or(0.0, |l| l[0] + l[1]));
        let torque = shaft / shown.max(0.05) / self.rated_kw.max(1e-6);
        shown + unseen * self.slip * (shown - torque)
    }

    /// What a sensor of kind `which` would show at reduced flow `q` = Q/s and shown speed, under common errors.
    #[must_use]
    pub fn reading(&self, which: usize, at: &Duty, around: Around, c: &Common) -> f64 {
        let pr = &self.prior;
        match which {
            witness::HEAD => {
                (at.head - at.between) * (1.0 + pr.head_gain * c[error::HEAD_GAIN]) + pr.head_zero * c[error::HEAD_ZERO]
            }
            witness::POWER => {
                let share = if self.no_chain { 0.0 } else { loss_share(self.trended_is) };
                (at.shaft + at.loss * share) * (1.0 + pr.power_gain * c[error::POWER_GAIN])
            }
            witness::METER => {
                at.flow * (1.0 + pr.meter_gain * c[error::METER_GAIN]) + pr.meter_zero * c[error::METER_ZERO]
            }
            witness::HEAT => {
                let pair = if around.delta_t > 0.0 { pr.heat_pair * c[error::HEAT_PAIR] / around.delta_t } else { 0.0 };
                at.flow * (1.0 + pr.heat_gain * c[error::HEAT_GAIN] + pair)
            }
            _ => {
                let pipe = pr.pipe_mean * (pr.pipe * c[error::PIPE]).exp() * (around.sharing * at.flow).powi(2);
                (at.head - pipe * at.density) * (1.0 + pr.remote_gain * c[error::REMOTE_GAIN])
                    + pr.remote_zero * c[error::REMOTE_ZERO]
            }
        }
    }

    /// All five readings.
    #[must_use]
    pub fn shown(&self, q: f64, shown_speed: f64, hour: Hour, around: Around, c: &Common) -> [f64; COUNT] {
        let at = self.duty(q, shown_speed, hour, c);
        std::array::from_fn(|w| self.reading(w, &at, around, c))
    }

    /// Head across the pump [kPa] and drive input [kW], without the sensors' errors.
    #[must_use]
    pub fn makes(&self, q: f64, shown_speed: f64, hour: Hour, c: &Common) -> Made {
        let at = self.duty(q, shown_speed, hour, c);
        Made { head: at.head, power: at.shaft + at.loss }
    }

    /// What the pump does at reduced flow `q` = Q/s [m3/h] and a shown speed [-].
    #[must_use]
    pub fn duty(&self, q: f64, shown_speed: f64, hour: Hour, c: &Common) -> Duty {
        self.working(q, shown_speed, hour, c).duty
    }

    /// The same, with what stands on the way to it.
    #[must_use]
    pub fn working(&self, q: f64, shown_speed: f64, hour: Hour, c: &Common) -> Working {
        let speed = self.speed(q, shown_speed, c);
        let (head, shaft, _) = self.tested(q * shown_speed / speed, speed, hour.thicker, c);
        self.bent_by(ByTable { q, shown_speed, hour, speed, head, shaft }, c)
    }

    /// The duty of a working with one common error moved, `c` being all of them after that: worked again from where the error first plays a part. The
    /// same numbers as [`PumpModel::duty`] gives, bit for bit.
    #[must_use]
    pub fn moved(&self, from: &Working, k: usize, c: &Common) -> Duty {
        match k {
            error::HEAD_GAIN | error::HEAD_ZERO | error::POWER_GAIN => from.duty,
            error::METER_GAIN..=error::REMOTE_ZERO => from.duty,
            error::HEAD_TABLE..error::POWER_TABLE | error::HEADER => {
                let (head, between) = self.heads(&from.by_table, c);
                Duty { head, between, ..from.duty }
            }
            error::POWER_TABLE..error::HEAD_GAIN => {
                let shaft = self.shaft(&from.by_table, c);
                let loss = self.scaled(&self.losses(shaft, from.by_table.speed), from.by_table.speed, c);
                Duty { shaft, loss, ..from.duty }
            }
            // Losses come in with the table only where its test's own were taken out of it.
            error::LOSS_CONSTANT..=error::LOSS_SPEED if self.curves[0].test_loss.is_none() => {
                Duty { loss: self.scaled(&from.losses, from.by_table.speed, c), ..from.duty }
            }
            _ => self.duty(from.by_table.q, from.by_table.shown_speed, from.by_table.hour, c),
        }
    }

    /// The duty of a working with a fluid of another relative density [-].
    #[must_use]
    pub fn denser(&self, from: &Working, density: f64, c: &Common) -> Duty {
        let hour = Hour { density, ..from.by_table.hour };
        self.bent_by(ByTable { hour, ..from.by_table }, c).duty
    }

    fn bent_by(&self, by_table: ByTable, c: &Common) -> Working {
        let at = &by_table;
        let (head, between) = self.heads(at, c);
        let shaft = self.shaft(at, c);
        let losses = self.losses(shaft, at.speed);
        let duty = Duty {
            speed: at.speed,
            flow: at.q * at.shown_speed,
            density: at.hour.density,
            head,
            between,
            shaft,
            loss: self.scaled(&losses, at.speed, c),
        };
        Working { by_table, losses, duty }
    }

    /// Head across the pump and what is lost to the headers [kPa].
    fn heads(&self, at: &ByTable, c: &Common) -> (f64, f64) {
        let x = at.q / self.q_max;
        let pr = &self.prior;
        let square = at.speed * at.speed;
        let between = (pr.header_mean + pr.header * c[error::HEADER]).max(0.0) * self.shut_off() * square * x * x;
        let head = at.hour.density * at.head * bent(&pr.head_table, &c[error::HEAD_TABLE..], x);
        (head, at.hour.density * between)
    }

    /// Shaft power [kW].
    fn shaft(&self, at: &ByTable, c: &Common) -> f64 {
        at.hour.density * at.shaft * bent(&self.prior.power_table, &c[error::POWER_TABLE..], at.q / self.q_max)
    }

    /// Losses of motor and drive by kind [kW], before common errors.
    fn losses(&self, shaft: f64, speed: f64) -> [f64; 3] {
        if self.no_chain || self.rated_kw <= 0.0 { [0.0; 3] } else { self.chain(shaft, speed) }
    }

    /// Speed [-] at which the pump makes head `h` [kPa] at flow `flow` [m3/h] under common errors; `None` where it cannot.
    #[must_use]
    pub fn speed_for(&self, flow: f64, head: f64, c: &Common) -> Option<f64> {
        let excess = |s: f64| self.head((flow / s).min(self.q_max), s, c) - head;
        let near = |e: f64| e.abs() < 1e-6 * head.abs().max(1.0);
        let (mut low, mut high) = ((flow / self.q_max).max(0.05), SPEED_TOP);
        if let Some(s) = self.by_square(low, high, excess, near) {
            return Some(s);
        }
        let (mut below, mut above) = (excess(low), if low < high { excess(high) } else { -1.0 });
        if above < 0.0 {
            return None;
        }
        if below > 0.0 {
            return Some(low);
        }
        // False position, halving the end that stays (Illinois): head rises smoothly with speed, so a handful of steps do.
        for _ in 0..60 {
            let s = low + (high - low) * below / (below - above).min(-f64::MIN_POSITIVE);
            let e = excess(s);
            if near(e) || high - low < 1e-9 {
                return Some(s);
            }
            if e < 0.0 {
                (low, below, above) = (s, e, 0.5 * above);
            } else {
                (high, above, below) = (s, e, 0.5 * below);
            }
        }
        Some(0.5 * (low + high))
    }

    /// A speed between two at which there is no excess of head, by secants over the square of speed: head at one flow is nearly straight there, with
    /// the head at no flow for its slope. `None` where that leads to no such speed in between.
    fn by_square(&self, low: f64, high: f64, excess: impl Fn(f64) -> f64, near: impl Fn(f64) -> bool) -> Option<f64> {
        let (least, most) = (low * low, high * high);
        let mut square = 1.0f64.max(least).min(most);
        let mut slope = self.shut_off();
        let mut here = excess(square.sqrt());
        for _ in 0..6 {
            if near(here) {
                return Some(square.sqrt());
            }
            let next = square - here / slope;
            if !(least..=most).contains(&next) {
                return None;
            }
            let there = excess(next.sqrt());
            slope = (there - here) / (next - square);
            (square, here) = (next, there);
        }
        near(here).then(|| square.sqrt())
    }

    /// Head across the pump [kPa] at reduced flow `q` and shown speed, as designed.
    fn head(&self, q: f64, shown_speed: f64, c: &Common) -> f64 {
        let s = self.speed(q, shown_speed, c);
        self.tested_head(q * shown_speed / s, s, 0.0)
            * bent(&self.prior.head_table, &c[error::HEAD_TABLE..], q / self.q_max)
    }
}

/// Relative speed as the published fall of efficiency takes it.
static FALL: LazyLock<Raised> = LazyLock::new(|| Raised::to(-EFFICIENCY_EXPONENT));
/// No drive runs a pump faster than this over rated speed.
const SPEED_TOP: f64 = 1.3;
/// Standard gravity [m/s2].
const GRAVITY: f64 = 9.806_65;
/// Efficiency this near its best is the best as far as a tested table tells [-]: ISO 9906 grade 2B leaves several per cent of it (from memory).
const FLAT_TOP: f64 = 0.98;
/// Best efficiency where no power is tested [-].
const USUAL_BEST: f64 = 0.7;
/// Shaft power over drive input at full load, to start from.
const USUAL_CHAIN: f64 = 0.88;

/// A table's reduced values and where they were tested.
struct Affine {
    head: f64,
    /// Shaft power, or the drive's input where `test_loss` stands.
    power: f64,
    test_loss: Option<[f64; 3]>,
    tested: f64,
    /// Tested speed from which efficiency drifts; 0 between tested speeds.
    drifts_from: f64,
}

/// Departure from a table at share `x` of its flow: level, tilt, bend and ripple (Legendre polynomials on the table's range) [-].
fn bent(sd: &[f64; 4], c: &[f64], x: f64) -> f64 {
    let y = 2.0 * x - 1.0;
    1.0 + sd[0] * c[0]
        + sd[1] * c[1] * y
        + sd[2] * c[2] * 0.5 * (3.0 * y * y - 1.0)
        + sd[3] * c[3] * 0.5 * y * (5.0 * y * y - 3.0)
}

/// A duty, and what stands on the way to it.
#[derive(Debug, Clone, Copy)]
pub struct Working {
    by_table: ByTable,
    /// Of motor and drive by kind [kW], before common errors.
    losses: [f64; 3],
    pub duty: Duty,
}

/// What shaft and table give before the errors of table, header, losses and sensors.
#[derive(Debug, Clone, Copy)]
struct ByTable {
    q: f64,
    shown_speed: f64,
    hour: Hour,
    speed: f64,
    head: f64,
    shaft: f64,
}

/// What the pump does at a duty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duty {
    /// The shaft's, over rated [-].
    pub speed: f64,
    /// [m3/h]
    pub flow: f64,
    /// The fluid's over the declared curves' [-].
    pub density: f64,
    /// Across the pump [kPa].
    pub head: f64,
    /// Lost between flanges and headers [kPa]; zero where the head is taken at the flanges.
    pub between: f64,
    /// [kW]
    pub shaft: f64,
    /// Of motor and drive [kW].
    pub loss: f64,
}

/// Share of motor and drive loss that lies between the shaft and where power is read; the drive's own is about a quarter
/// of both (a motor of 0.90 behind a drive of 0.97).
fn loss_share(trended_is: PowerIs) -> f64 {
    match trended_is {
        PowerIs::DriveInput => 1.0,
        PowerIs::DriveOutput => 0.75,
        PowerIs::Shaft => 0.0,
    }
}

/// Samples a tested curve at its own speed onto the common reduced grid: past its last flow the last value is held, before its first the first
/// slope, down to a share of the first value.
fn sample(flow: &[f64], value: &[f64], q_max: f64, speed: f64, reduce: f64) -> Option<Vec<f64>> {
    let curve = Pchip::new(flow, value).ok()?;
    let first = *flow.first()?;
    let (at_first, slope) = curve.value_and_slope(first)?;
    let grid = (0..SAMPLES).map(|i| {
        let q = i as f64 / (SAMPLES - 1) as f64 * q_max * speed;
        let v = if q < first {
            (at_first - (first - q) * slope).max(LEAST_CARRIED * at_first)
        } else {
            curve.value_clamped(q)
        };
        v / reduce
    });
    Some(grid.collect())
}

/// No curve is carried on below this share of its first value [-].
const LEAST_CARRIED: f64 = 0.3;

/// Share of the best efficiency under which the fall with speed is held [-]: near shut-off the published form, which takes all that is not
/// efficiency for friction, would double the power; what is lost there is recirculation, which knows no speed.
const DRIFT_FLOOR: f64 = 0.5;

/// Hydraulic over shaft power [-].
fn efficiency(q: f64, head: f64, shaft: f64) -> f64 {
    q * head / 3600.0 / shaft.max(1e-9)
}

/// Power over affinity's where relative speed to the form's power is `r`: efficiency falls as 1 - (1 - eta)(1/r)^0.1 (Sarbu and Borza 1998, as in EPANET 2.2), with
/// `floor` the least efficiency it is asked at.
fn drift(efficiency: f64, floor: f64, r: f64) -> f64 {
    let eta = efficiency.clamp(floor.max(0.01), 0.95);
    let at_r = 1.0 - (1.0 - eta) * r;
    eta / at_r.max(0.5 * eta)
}

fn slip_of(pump: &Pump) -> f64 {
    if pump.motor == MotorKind::PermanentMagnet {
        return 0.0;
    }
    let (Some(rated), Some(frequency)) = (pump.rated_speed, pump.rated_frequency) else { return 0.0 };
    let n = rated.in_rpm();
    // A name plate rounded up to the synchronous speed has no slip to correct.
    match motor::synchronous_rpm(0.999 * n, frequency.in_hz()) {
        Some(synchronous) => ((synchronous - n) / n).clamp(0.0, 0.08),
        None => 0.0,
    }
}
