//! One pump as the analyser knows it: reduced curves, motor and drive, and the common errors that may bend them.
//!
//! Comes in: the declared pump. Goes out: [`PumpModel`], which says what head and electric power a flow and a speed
//! would show under given common errors ([`Common`]). The decision a reader would question: everything that is the same
//! hour after hour (table departure, sensor scale, loss level, slip) is a parameter here, not noise.

use crate::hydraulics::motor;
use crate::hydraulics::pchip::Pchip;
use crate::plant::{MotorKind, PowerIs, Pump};
use crate::quantity::{Flow, Power};

/// Points at which a reduced curve is sampled once, so that rows need no search.
const SAMPLES: usize = 241;

/// One tested speed, reduced by affinity to full speed: head over s^2 [kPa], shaft power over s^3 [kW], at q = Q/s.
#[derive(Debug, Clone)]
struct Reduced {
    speed: f64,
    head: Vec<f64>,
    shaft: Vec<f64>,
}

/// Head and power that a pump would show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// [kPa]
    pub head: f64,
    /// Drive input [kW]
    pub power: f64,
}

/// The number of common errors.
pub const COMMON: usize = 14;

/// Common errors of one pump, each in standard deviations of its prior; zero is the prior's mean.
pub type Common = [f64; COMMON];

/// What a standard deviation of each common error is. Where no source is named the reason is.
#[derive(Debug, Clone)]
pub struct Prior {
    /// Departure of the pump's head from its table: level, tilt over flow, bend [-]. ISO 9906:2012 grade 2B allows
    /// 5 % of head, taken as two standard deviations (from memory); wear lowers it.
    pub head_table: [f64; 3],
    /// Departure of shaft power from the table: level, tilt, bend [-]. ISO 9906:2012 grade 2B, 8 % of power (from memory).
    pub power_table: [f64; 3],
    /// Scale of the head sensor [-]: declared accuracy, else 1 %.
    pub head_gain: f64,
    /// Zero of the head sensor [kPa]: 0.5 % of its span, taken as 1.5 times the design head.
    pub head_zero: f64,
    /// Scale of the power reading [-]: declared accuracy, else 2 % (drives report power no better).
    pub power_gain: f64,
    /// Motor and drive losses over the model's, natural logarithm: the constant part and the part with load. Two handbooks differ by half at
    /// a quarter of load, and each drive shapes flux and switching in its own way, so the constant part is doubted most.
    pub loss: [f64; 2],
    /// Loss at low load beyond that [units of `hydraulics::motor::Loss::low_load`]: the handbooks lie 0.3 and 1.8 above the model, constant
    /// chain efficiency below it.
    pub low_load: f64,
    /// How much of the induction motor's slip the speed signal does not show [-]; mean a half, since drives differ: some report the shaft's
    /// speed, some the frequency.
    pub slip: f64,
    /// Flow-squared loss between pump flanges and headers, share of shut-off head at the end of the table.
    pub header: f64,
    /// Mean of the same; zero where the head is taken at the flanges.
    pub header_mean: f64,
    /// Scale of a flow meter [-].
    pub meter_gain: f64,
}

/// A pump with a usable table.
#[derive(Debug, Clone)]
pub struct PumpModel {
    /// Largest reduced flow of the table [m3/h].
    pub q_max: f64,
    /// Reduced flow of best efficiency [m3/h].
    pub q_best: f64,
    curves: Vec<Reduced>,
    single_speed: bool,
    has_power: bool,
    power_is: PowerIs,
    /// What the trended power is taken at.
    trended_is: PowerIs,
    rated_kw: f64,
    motor_efficiency: f64,
    drive_efficiency: f64,
    /// Slip at rated load over rated speed [-]; zero where there is none to correct.
    slip: f64,
    pub prior: Prior,
}

/// Motor output power assumed where none is declared: the table's largest shaft power and a tenth.
const MOTOR_OVERSIZE: f64 = 1.1;

impl PumpModel {
    /// Builds from a declared pump; `None` where it has no head table.
    #[must_use]
    pub fn new(pump: &Pump, prior: Prior, trended_is: PowerIs, slip_seen: bool) -> Option<Self> {
        let first = pump.curves.first()?;
        let q_max = pump
            .curves
            .iter()
            .map(|c| c.head_flow_m3h.last().copied().unwrap_or(0.0) / c.speed.in_of_one())
            .fold(f64::INFINITY, f64::min);
        if !(q_max > 0.0 && q_max.is_finite()) {
            return None;
        }
        let mut curves = Vec::new();
        for c in &pump.curves {
            let s = c.speed.in_of_one();
            let head = sample(&c.head_flow_m3h, &c.head_kpa, q_max, s, s.powi(2))?;
            let shaft = if c.power_kw.is_empty() {
                vec![f64::NAN; SAMPLES]
            } else {
                sample(&c.power_flow_m3h, &c.power_kw, q_max, s, s.powi(3))?
            };
            curves.push(Reduced { speed: s, head, shaft });
        }
        curves.sort_by(|a, b| a.speed.total_cmp(&b.speed));
        let top_shaft =
            curves.iter().flat_map(|c| c.shaft.iter().copied()).filter(|p| p.is_finite()).fold(0.0, f64::max);
        let has_power = top_shaft > 0.0;
        let rated_kw = pump.motor_power.map_or(top_shaft * MOTOR_OVERSIZE, Power::in_kw);
        let motor_efficiency = pump.motor_efficiency.unwrap_or_else(|| motor::ie3_efficiency(rated_kw).unwrap_or(0.88));
        let drive_efficiency = pump.drive_efficiency.unwrap_or(0.965);
        let slip = if slip_seen { 0.0 } else { slip_of(pump) };
        let mut model = Self {
            q_max,
            q_best: q_max,
            single_speed: curves.len() == 1,
            has_power,
            power_is: first.power_is,
            trended_is,
            curves,
            rated_kw,
            motor_efficiency,
            drive_efficiency,
            slip,
            prior,
        };
        model.q_best = pump.best_efficiency_flow.map_or_else(|| model.find_best(), Flow::in_m3h).min(q_max);
        Some(model)
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

    fn find_best(&self) -> f64 {
        if !self.has_power {
            return self.q_max * 0.7;
        }
        let top = &self.curves[self.curves.len() - 1];
        let step = self.q_max / (SAMPLES - 1) as f64;
        let best = (1..SAMPLES).max_by(|&a, &b| {
            let e = |i: usize| i as f64 * step * top.head[i] / top.shaft[i].max(1e-9);
            e(a).total_cmp(&e(b))
        });
        best.unwrap_or(SAMPLES - 1) as f64 * step
    }

    /// Head [kPa] and shaft power [kW] of the table at flow `q*s` and speed `s`.
    #[must_use]
    pub fn table(&self, q: f64, s: f64) -> (f64, f64) {
        let (h, p, tested) = self.affine(q, s);
        if tested <= 0.0 {
            return (s * s * h, s.powi(3) * p);
        }
        (s * s * h, s.powi(3) * p * drift(q, h, p, s / tested))
    }

    /// Reduced head and shaft power by affinity alone, and the tested speed from which efficiency drifts (0 between tested speeds).
    fn affine(&self, q: f64, s: f64) -> (f64, f64, f64) {
        let x = (q / self.q_max * (SAMPLES - 1) as f64).clamp(0.0, (SAMPLES - 1) as f64);
        let i = (x as usize).min(SAMPLES - 2);
        let w = x - i as f64;
        let at = |v: &[f64]| v[i] + w * (v[i + 1] - v[i]);
        if self.single_speed {
            let c = &self.curves[0];
            return (at(&c.head), at(&c.shaft), c.speed);
        }
        let k = self.curves.partition_point(|c| c.speed <= s).clamp(1, self.curves.len() - 1);
        let (a, b) = (&self.curves[k - 1], &self.curves[k]);
        let t = ((s - a.speed) / (b.speed - a.speed)).clamp(0.0, 1.0);
        let between = |a: &[f64], b: &[f64]| at(a) + t * (at(b) - at(a));
        (between(&a.head, &b.head), between(&a.shaft, &b.shaft), if s < a.speed { a.speed } else { 0.0 })
    }

    /// True shaft speed from the one shown, with the share of slip that the signal does not show.
    fn true_speed(&self, shown: f64, shaft_guess: f64, c: &Common) -> f64 {
        if self.slip <= 0.0 {
            return shown;
        }
        // Between none and all of it, smoothly: a wall here would leave the learning without a slope.
        let unseen = 0.5 + self.prior.slip * c[11].tanh();
        let torque = shaft_guess / shown.max(0.05) / self.rated_kw.max(1e-6);
        shown + unseen * self.slip * (shown - torque)
    }

    /// Speed [-] of the shaft at reduced flow `q` [m3/h] for a shown speed, with the slip that is not shown.
    #[must_use]
    pub fn speed(&self, q: f64, shown: f64, c: &Common) -> f64 {
        if self.slip <= 0.0 || !self.has_power {
            return shown;
        }
        // Affinity is close enough for a torque.
        self.true_speed(shown, shown.powi(3) * self.affine(q, shown).1, c)
    }

    /// What sensors would show at reduced flow `q` = Q/s and shown speed, under common errors; `density` is the fluid's over
    /// the declared curve's [-].
    #[must_use]
    pub fn shown(&self, q: f64, shown_speed: f64, density: f64, c: &Common) -> Shown {
        let pr = &self.prior;
        let at = self.duty(q, shown_speed, density, c);
        let power = at.shaft + at.loss * loss_share(self.trended_is);
        Shown {
            head: (at.head - at.between) * (1.0 + pr.head_gain * c[6]) + pr.head_zero * c[7],
            power: power * (1.0 + pr.power_gain * c[8]),
        }
    }

    /// Head across the pump [kPa] and drive input [kW], without the sensors' errors.
    #[must_use]
    pub fn makes(&self, q: f64, shown_speed: f64, density: f64, c: &Common) -> Shown {
        let at = self.duty(q, shown_speed, density, c);
        Shown { head: at.head, power: at.shaft + at.loss }
    }

    /// Loss between pump flanges and headers at this duty [kPa]; zero where the head is taken at the flanges.
    #[must_use]
    pub fn between(&self, q: f64, shown_speed: f64, density: f64, c: &Common) -> f64 {
        self.duty(q, shown_speed, density, c).between
    }

    fn duty(&self, q: f64, shown_speed: f64, density: f64, c: &Common) -> Duty {
        let s = self.speed(q, shown_speed, c);
        let (h, p) = self.table(q * shown_speed / s, s);
        let x = q / self.q_max;
        let pr = &self.prior;
        let between = (pr.header_mean + pr.header * c[12]).max(0.0) * self.shut_off() * s * s * x * x;
        let shaft = density * p * bent(&pr.power_table, &c[3..6], x);
        let loss = if self.power_is == PowerIs::DriveInput || self.rated_kw <= 0.0 {
            0.0
        } else {
            let of = motor::loss_on_drive(shaft, s, self.rated_kw, self.motor_efficiency, self.drive_efficiency);
            of.constant * (pr.loss[0] * c[9]).exp()
                + of.load * (pr.loss[1] * c[10]).exp()
                + of.low_load * pr.low_load * c[13]
        };
        Duty { head: density * h * bent(&pr.head_table, &c[0..3], x), between: density * between, shaft, loss }
    }

    /// Speed [-] at which the pump makes head `h` [kPa] at flow `flow` [m3/h] under common errors; `None` where it cannot.
    #[must_use]
    pub fn speed_for(&self, flow: f64, head: f64, c: &Common) -> Option<f64> {
        let excess = |s: f64| self.head((flow / s).min(self.q_max), s, c) - head;
        let (mut low, mut high) = ((flow / self.q_max).max(0.05), SPEED_TOP);
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
            if e.abs() < 1e-6 * head.abs().max(1.0) || high - low < 1e-9 {
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

    /// Head across the pump [kPa] at reduced flow `q` and shown speed, for the declared density.
    fn head(&self, q: f64, shown_speed: f64, c: &Common) -> f64 {
        let s = self.speed(q, shown_speed, c);
        s * s * self.affine(q * shown_speed / s, s).0 * bent(&self.prior.head_table, &c[0..3], q / self.q_max)
    }
}

/// No drive runs a pump faster than this over rated speed.
const SPEED_TOP: f64 = 1.3;

/// Departure from a table at share `x` of its flow: level, tilt and bend [-].
fn bent(sd: &[f64; 3], c: &[f64], x: f64) -> f64 {
    1.0 + sd[0] * c[0] + sd[1] * c[1] * (2.0 * x - 1.0) + sd[2] * c[2] * (1.0 - 6.0 * x * (1.0 - x))
}

/// What the pump does at a duty: head across it, loss to the headers [kPa], shaft power and motor and drive loss [kW].
struct Duty {
    head: f64,
    between: f64,
    shaft: f64,
    loss: f64,
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

/// Samples a tested curve at its own speed onto the common reduced grid; past its last flow the last slope is held flat.
fn sample(flow: &[f64], value: &[f64], q_max: f64, speed: f64, reduce: f64) -> Option<Vec<f64>> {
    let curve = Pchip::new(flow, value).ok()?;
    let (first, last) = (*flow.first()?, *flow.last()?);
    let grid = (0..SAMPLES).map(|i| {
        let q = (i as f64 / (SAMPLES - 1) as f64 * q_max * speed).clamp(first, last);
        curve.value(q).map_or(f64::NAN, |v| v / reduce)
    });
    Some(grid.collect())
}

/// Power over affinity's at relative speed `r`: efficiency falls as 1 - (1 - eta)(1/r)^0.1 (Sarbu and Borza 1998, as in EPANET 2.2).
/// At no flow there is no efficiency to speak of; the factor tends to 1.
fn drift(q: f64, head: f64, shaft: f64, r: f64) -> f64 {
    let eta = (q * head / 3600.0 / shaft.max(1e-9)).clamp(0.0, 0.99);
    if eta < 0.05 || r <= 0.0 {
        return 1.0;
    }
    let at_r = 1.0 - (1.0 - eta) * (1.0 / r).powf(0.1);
    if at_r <= 0.02 { 1.0 } else { eta / at_r }
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
