//! One real pump with its motor and drive: the laws, in forms of their own that the analyser does not share.
//!
//! Comes in: draws from the nuisance table. Goes out: head, shaft power and electric power at a flow and a shown speed, for any value of the
//! continuous nuisances [`Nuisances`], so that the oracle can move them one by one. Flow [m3/h], head [kPa] at the loop
//! fluid's density, power [kW], speed over the nameplate's [-]. Start at [`Machine::draw`] and [`Machine::readings`].

use super::nuisance::{self as table, Family, Loss, ReadAt, Spread, pick};
use crate::simulator::noise::Rng;

/// Number of continuous nuisances of a pump.
pub const COUNT: usize = 22;
pub type Nuisances = [f64; COUNT];
pub const HEAD_LEVEL: usize = 0;
pub const HEAD_TILT: usize = 1;
pub const HEAD_BEND: usize = 2;
pub const POWER_LEVEL: usize = 3;
pub const POWER_TILT: usize = 4;
pub const POWER_BEND: usize = 5;
pub const FRICTION: usize = 6;
pub const DRIFT: usize = 7;
pub const LOSS_LN: usize = 8;
/// Eight places: the loss family's own shape.
pub const SHAPE: usize = 9;
/// True slip over the nameplate's [-].
pub const SLIP: usize = 17;
pub const POWER_GAIN: usize = 18;
pub const HEAD_GAIN: usize = 19;
/// [kPa]
pub const HEAD_ZERO: usize = 20;
/// Loss between flanges and header at the pump's design flow [kPa].
pub const HEADER: usize = 21;

/// The loop's fluid at supply temperature.
#[derive(Debug, Clone, Copy)]
pub struct Fluid {
    /// [kg/m3]
    pub density: f64,
    /// [kJ/(kg K)]
    pub heat_capacity: f64,
    /// Kinematic viscosity [mm2/s] where it matters: glycol.
    pub thick: Option<f64>,
}

/// Head and shaft power over those at the best point, over flow there.
#[derive(Debug, Clone, Copy)]
pub enum Shape {
    Polynomial {
        head: [f64; 4],
        power: [f64; 4],
    },
    Euler {
        /// Ideal head at no flow over that at the best point, and the latter over real head.
        ideal: f64,
        one: f64,
        friction: f64,
        shock: f64,
        no_shock: f64,
        leakage: f64,
        disc: f64,
        recirculation: f64,
        ends: f64,
        /// Power at the best point, in units of hydraulic power there.
        norm: f64,
    },
}

fn cubic(c: &[f64; 4], x: f64) -> f64 {
    c[0] + x * (c[1] + x * (c[2] + x * c[3]))
}

/// The cubic with these values and slopes at 0, and 1 with this slope at 1.
fn hermite(value: f64, slope: f64, slope_at_one: f64) -> [f64; 4] {
    let rise = 1.0 - value;
    [value, slope, 3.0 * rise - 2.0 * slope - slope_at_one, slope_at_one + slope - 2.0 * rise]
}

impl Shape {
    fn draw(rng: &mut Rng, family: Family) -> Self {
        match family {
            Family::Cubic => Self::radial(rng, &table::CUBIC),
            Family::Drooping => Self::radial(rng, &table::DROOPING),
            Family::Steep => Self::steep(rng),
            Family::Euler => Self::euler(rng),
        }
    }

    /// Efficiency is highest at x = 1 where the slope of power is one more than that of head.
    fn radial(rng: &mut Rng, spreads: &[Spread; 5]) -> Self {
        let [h0, h_slope, p0, slope, p_slope] = spreads.map(|s| s.draw(rng));
        Self::Polynomial { head: hermite(h0, h_slope, slope - 1.0), power: hermite(p0, p_slope, slope) }
    }

    /// Parabolas through shut-off and the best point.
    fn steep(rng: &mut Rng) -> Self {
        let [h0, p0, slope] = table::STEEP.map(|s| s.draw(rng));
        let parabola = |value: f64, slope: f64| [value, 2.0 * (1.0 - value) - slope, slope - 1.0 + value, 0.0];
        Self::Polynomial { head: parabola(h0, slope - 1.0), power: parabola(p0, slope) }
    }

    fn euler(rng: &mut Rng) -> Self {
        let [ideal, hydraulic, shocks] = table::EULER_HEAD.map(|s| s.draw(rng));
        let [no_shock, leakage, disc] = table::EULER_POWER.map(|s| s.draw(rng));
        let [recirculation, ends] = table::RECIRCULATION.map(|s| s.draw(rng));
        let one = 1.0 / hydraulic;
        let shock = shocks * (ideal - 1.0) * one / (2.0 * no_shock);
        let friction = one - 1.0 - shock * (1.0 - no_shock).powi(2);
        let norm = (1.0 + leakage) * one / (1.0 - disc);
        Self::Euler { ideal, one, friction, shock, no_shock, leakage, disc, recirculation, ends, norm }
    }

    pub fn head(&self, x: f64) -> f64 {
        match self {
            Self::Polynomial { head, .. } => cubic(head, x),
            Self::Euler { ideal, one, friction, shock, no_shock, .. } => {
                one * (ideal - (ideal - 1.0) * x) - friction * x * x - shock * (x - no_shock).powi(2)
            }
        }
    }

    pub fn power(&self, x: f64) -> f64 {
        match self {
            Self::Polynomial { power, .. } => cubic(power, x),
            Self::Euler { ideal, one, leakage, disc, recirculation, ends, norm, .. } => {
                let into_fluid = (x + leakage) * one * (ideal - (ideal - 1.0) * x) / norm;
                into_fluid + disc + recirculation * (1.0 - x / ends).max(0.0).powi(2)
            }
        }
    }
}

/// What the maker's sheet says: the law from which the table is read.
#[derive(Debug, Clone)]
pub struct Sheet {
    pub family: Family,
    pub shape: Shape,
    /// At the best point and rated speed.
    pub best_flow: f64,
    pub best_head: f64,
    pub best_efficiency: f64,
    /// Last tested flow at rated speed.
    pub end_flow: f64,
    pub friction: f64,
    pub drift: f64,
}

impl Sheet {
    fn best_power(&self) -> f64 {
        self.best_flow / 3600.0 * self.best_head / self.best_efficiency
    }

    pub fn head(&self, flow: f64, speed: f64) -> f64 {
        self.best_head * speed * speed * self.shape.head(flow / (speed * self.best_flow))
    }

    /// Shaft power under a friction and a drift with speed.
    fn power_with(&self, flow: f64, speed: f64, friction: f64, drift: f64) -> f64 {
        let p = self.shape.power(flow / (speed * self.best_flow));
        let grows = 1.0 - drift * (1.0 - self.best_efficiency) * libm::log(speed);
        self.best_power() * (speed * speed * speed * (p - friction) * grows + friction * speed)
    }

    pub fn shaft_power(&self, flow: f64, speed: f64) -> f64 {
        self.power_with(flow, speed, self.friction, self.drift)
    }

    /// Largest shaft power of the table.
    fn largest_power(&self) -> f64 {
        (0..=40).map(|k| self.shaft_power(self.end_flow * f64::from(k) / 40.0, 1.0)).fold(0.0, f64::max)
    }

    /// Whether power says little of flow over the last part of the table.
    pub fn is_flat(&self) -> bool {
        let (little, from) = table::FLAT_POWER;
        let beyond: Vec<f64> = (0..=20)
            .map(|k| self.shaft_power(self.end_flow * (from + (1.0 - from) * f64::from(k) / 20.0), 1.0))
            .collect();
        let (least, most) = beyond.iter().fold((f64::MAX, 0.0_f64), |(a, b), p| (a.min(*p), b.max(*p)));
        (most - least) / most < little || beyond[20] < beyond[0]
    }
}

/// The pump as it stands in the plant room.
#[derive(Debug, Clone)]
pub struct Machine {
    pub sheet: Sheet,
    /// Its share of the loop's design flow.
    pub design_flow: f64,
    pub thick: Option<f64>,
    pub motor_kw: f64,
    pub motor_efficiency: f64,
    pub drive_efficiency: f64,
    pub permanent: bool,
    pub loss: Loss,
    pub synchronous_rpm: f64,
    pub plate_rpm: f64,
    pub slip_hidden: bool,
    pub read_at: ReadAt,
    /// The true nuisances, and the standard deviations the oracle is told (0: none).
    pub truth: Nuisances,
    pub prior_sd: Nuisances,
}

/// What sensors without noise would show.
#[derive(Debug, Clone, Copy)]
pub struct Readings {
    /// Pump's own head sensor [kPa].
    pub head: f64,
    /// True pressure between the headers [kPa].
    pub header: f64,
    pub power: f64,
    /// True head between the flanges [kPa].
    pub flanges: f64,
}

impl Machine {
    /// Draws a pump for a duty; `speed_at_design` is 1 unless it is much too large.
    pub fn draw(rng: &mut Rng, duty: &Duty, fluid: &Fluid, common: &Common) -> Self {
        let sheet = draw_sheet(rng, duty);
        let margin = table::MOTOR_MARGIN.draw(rng);
        let wanted = margin * sheet.largest_power();
        let motor_kw = table::MOTOR_SIZES_KW.into_iter().find(|kw| *kw >= wanted).unwrap_or(wanted);
        let class = if common.permanent { &table::IE4 } else { &table::IE3 };
        let x = libm::log10(motor_kw);
        let motor_efficiency = (((class[0] * x + class[1]) * x + class[2]) * x + class[3]) / 100.0;
        let slip = table::SLIP.draw(rng);
        let round = pick(table::PLATE_RPM, rng);
        let synchronous_rpm = 120.0 * common.mains_hz / pick(table::POLES, rng);
        let plate_rpm =
            if common.permanent { synchronous_rpm } else { (synchronous_rpm * (1.0 - slip) / round).round() * round };
        let mut machine = Self {
            sheet,
            design_flow: duty.flow,
            thick: fluid.thick,
            motor_kw,
            motor_efficiency,
            drive_efficiency: table::DRIVE_EFFICIENCY.draw(rng),
            permanent: common.permanent,
            loss: pick(table::LOSS, rng),
            synchronous_rpm,
            plate_rpm,
            slip_hidden: common.slip_hidden && !common.permanent,
            read_at: common.read_at,
            truth: [0.0; COUNT],
            prior_sd: [0.0; COUNT],
        };
        machine.draw_common(rng, duty.design_head);
        machine
    }

    /// One more of the same make: its own departures and sensors.
    pub fn sibling(&self, rng: &mut Rng, design_head: f64) -> Self {
        let mut other = self.clone();
        other.draw_common(rng, design_head);
        // What is of the make stays: friction, drift and the losses' shape.
        other.truth[FRICTION] = self.truth[FRICTION];
        other.truth[DRIFT] = self.truth[DRIFT];
        other.truth[SHAPE..SHAPE + 8].copy_from_slice(&self.truth[SHAPE..SHAPE + 8]);
        other.sheet = self.sheet.clone();
        other
    }

    fn draw_common(&mut self, rng: &mut Rng, design_head: f64) {
        let mut set = |k: usize, spread: Spread, scale: f64| {
            self.truth[k] = scale * spread.draw(rng);
            self.prior_sd[k] = scale * spread.sd();
        };
        set(HEAD_LEVEL, table::HEAD_LEVEL, 1.0);
        set(HEAD_TILT, table::HEAD_TILT, 1.0);
        set(HEAD_BEND, table::HEAD_BEND, 1.0);
        set(POWER_LEVEL, table::POWER_LEVEL, 1.0);
        set(POWER_TILT, table::POWER_TILT, 1.0);
        set(POWER_BEND, table::POWER_BEND, 1.0);
        set(FRICTION, table::FRICTION, 1.0);
        set(DRIFT, table::SPEED_DRIFT, 1.0);
        set(LOSS_LN, table::LOSS_LN, 1.0);
        set(POWER_GAIN, table::POWER_GAIN, 1.0);
        set(HEAD_GAIN, table::HEAD_GAIN, 1.0);
        set(HEAD_ZERO, table::HEAD_ZERO, table::HEAD_SPAN * design_head);
        set(HEADER, table::HEADER_LOSS, design_head);
        loss_shape(self.loss).into_iter().enumerate().for_each(|(k, s)| set(SHAPE + k, s, 1.0));
        if self.slip_hidden {
            set(SLIP, table::TRUE_SLIP, 1.0);
        }
        // Sheet and pump are of one make.
        self.sheet.friction = self.truth[FRICTION];
        self.sheet.drift = self.truth[DRIFT];
    }

    /// The same pump with a loss family and its shape drawn anew; the nameplate stays.
    pub fn with_losses(&self, rng: &mut Rng, family: Loss) -> Self {
        let mut other = self.clone();
        other.loss = family;
        for (k, spread) in loss_shape(family).into_iter().enumerate() {
            other.truth[SHAPE + k] = spread.draw(rng);
        }
        other
    }

    /// Real over table, from level, tilt and half wave.
    fn departs(c: &Nuisances, first: usize, u: f64) -> f64 {
        use core::f64::consts::{FRAC_2_PI, PI};
        1.0 + c[first] + c[first + 1] * (u - 0.5) + c[first + 2] * (libm::sin(PI * u) - FRAC_2_PI)
    }

    /// Factors on flow and efficiency of a thick fluid at a speed: ANSI/HI 9.6.7, over those of the water that makers test with.
    fn viscous(&self, speed: f64) -> Option<(f64, f64)> {
        const TEST_WATER: f64 = 1.0;
        let nu = self.thick?;
        let s = &self.sheet;
        let head_m = s.best_head / 9.806_65;
        let size = 16.5 * libm::pow(head_m, 0.0625) / (libm::pow(s.best_flow, 0.375) * libm::pow(self.plate_rpm, 0.25));
        let factors = |nu: f64| {
            let b = (size * libm::sqrt(nu / speed)).max(1.0);
            let flow = libm::exp(-0.165 * libm::pow(libm::log10(b), 3.15));
            (flow, libm::pow(b, -0.0547 * libm::pow(b, 0.69)))
        };
        let (thick, water) = (factors(nu), factors(TEST_WATER));
        Some((thick.0 / water.0, thick.1 / water.1))
    }

    /// Head between the flanges.
    pub fn head(&self, c: &Nuisances, flow: f64, speed: f64) -> f64 {
        let real = Self::departs(c, HEAD_LEVEL, flow / (speed * self.sheet.end_flow));
        let Some((on_flow, _)) = self.viscous(speed) else { return real * self.sheet.head(flow, speed) };
        let share = (flow / (speed * self.sheet.best_flow)).max(0.0);
        let on_head = 1.0 - (1.0 - on_flow) * libm::pow(share, 0.75);
        real * on_head * self.sheet.head(flow / on_flow, speed)
    }

    pub fn shaft_power(&self, c: &Nuisances, flow: f64, speed: f64) -> f64 {
        let real = Self::departs(c, POWER_LEVEL, flow / (speed * self.sheet.end_flow));
        let water = |flow| self.sheet.power_with(flow, speed, c[FRICTION], c[DRIFT]);
        match self.viscous(speed) {
            None => real * water(flow),
            Some((on_flow, on_efficiency)) => real * water(flow / on_flow) * on_flow * on_flow / on_efficiency,
        }
    }

    /// Shaft speed at a shown one: a frequency hides the slip.
    pub fn speed(&self, c: &Nuisances, flow: f64, shown: f64) -> f64 {
        if self.slip_hidden { self.slipped(c, flow, shown) } else { shown }
    }

    /// Shaft speed at a shown frequency.
    pub fn slipped(&self, c: &Nuisances, flow: f64, shown: f64) -> f64 {
        let unslipped = shown * self.synchronous_rpm / self.plate_rpm;
        let slip = c[SLIP] * (self.synchronous_rpm / self.plate_rpm - 1.0);
        let mut speed = shown;
        for _ in 0..4 {
            speed = unslipped - slip * self.shaft_power(c, flow, speed) / (speed * self.motor_kw);
        }
        speed
    }

    /// Loss of motor and of drive [kW].
    pub fn losses(&self, c: &Nuisances, shaft_kw: f64, speed: f64) -> (f64, f64) {
        let kw = self.motor_kw;
        let (motor_full, drive_full) = (
            kw * (1.0 / self.motor_efficiency - 1.0),
            kw / self.motor_efficiency * (1.0 / self.drive_efficiency - 1.0),
        );
        let torque = shaft_kw / (speed * kw);
        let (motor, drive) = match self.loss {
            Loss::Separation => {
                let [iron, magnetising, exponent, saves, fixed, linear] = [0, 1, 2, 3, 4, 5].map(|k| c[SHAPE + k]);
                let square = torque * torque;
                let flux = 1.0 - saves * (1.0 - torque.min(1.0));
                let motor =
                    iron * libm::pow(speed, exponent) + magnetising * flux + (1.0 - iron - magnetising) * square;
                (motor_full * motor, drive_full * (fixed + linear * torque + (1.0 - fixed - linear) * square))
            }
            Loss::Points => {
                let share = between_points(&c[SHAPE..SHAPE + 8], torque, speed);
                (motor_full * share, drive_full * share)
            }
            Loss::Doe => self.losses_of_efficiencies(shaft_kw, doe(kw, shaft_kw / kw)),
            Loss::Wseo => self.losses_of_efficiencies(shaft_kw, wseo(kw, shaft_kw / kw)),
            Loss::Constant => {
                let motor_in = shaft_kw / self.motor_efficiency;
                (motor_in - shaft_kw, motor_in * (1.0 / self.drive_efficiency - 1.0))
            }
        };
        let scale = libm::exp(c[LOSS_LN]);
        (scale * motor, scale * drive)
    }

    /// From the motor's part-load factor and the drive table; below the tables' least load the loss stays.
    fn losses_of_efficiencies(&self, shaft_kw: f64, (factor, least): (f64, f64)) -> (f64, f64) {
        let at = shaft_kw.max(least * self.motor_kw);
        let motor = at * (1.0 / (self.motor_efficiency * factor) - 1.0);
        let rated_in = self.motor_kw / self.motor_efficiency;
        let motor_in = (shaft_kw + motor).max(table::DRIVE_LOADS[0] * rated_in);
        (motor, motor_in * (1.0 / drive(self.motor_kw, motor_in / rated_in) - 1.0))
    }

    /// Power where it is read, without the reading's error.
    pub fn power_at(&self, c: &Nuisances, shaft_kw: f64, speed: f64, place: ReadAt) -> f64 {
        let (motor, drive) = self.losses(c, shaft_kw, speed);
        match place {
            ReadAt::DriveInput => shaft_kw + motor + drive,
            ReadAt::DriveOutput => shaft_kw + motor,
            ReadAt::Shaft => shaft_kw,
        }
    }

    /// What sensors without noise show at a flow and a shown speed.
    pub fn readings(&self, c: &Nuisances, flow: f64, shown: f64) -> Readings {
        let speed = self.speed(c, flow, shown);
        let shaft = self.shaft_power(c, flow, speed);
        self.sensed(c, flow, speed, self.power_at(c, shaft, speed, self.read_at))
    }

    /// The same at a shaft speed and a power where it is read.
    pub fn sensed(&self, c: &Nuisances, flow: f64, speed: f64, power: f64) -> Readings {
        let head = self.head(c, flow, speed);
        Readings {
            head: (1.0 + c[HEAD_GAIN]) * head + c[HEAD_ZERO],
            header: head - c[HEADER] * (flow / self.design_flow).powi(2),
            power: (1.0 + c[POWER_GAIN]) * power,
            flanges: head,
        }
    }

    /// True head between flanges, or what of it reaches the header.
    pub fn made(&self, flow: f64, shown: f64, at_header: bool) -> f64 {
        let head = self.head(&self.truth, flow, self.speed(&self.truth, flow, shown));
        if at_header { head - self.truth[HEADER] * (flow / self.design_flow).powi(2) } else { head }
    }

    /// Whether the table reaches to this flow at a shown speed.
    pub fn in_table(&self, flow: f64, shown: f64) -> bool {
        flow >= 0.0 && flow <= self.speed(&self.truth, flow, shown) * self.sheet.end_flow
    }
}

/// What a pump is bought for.
#[derive(Debug, Clone, Copy)]
pub struct Duty {
    pub flow: f64,
    pub head: f64,
    /// The loop's design head: sensors and header losses go by it.
    pub design_head: f64,
    /// Speed at which the duty is made: 1, or less where the pump is much too large.
    pub speed: f64,
}

/// What pumps of one plant have in common.
#[derive(Debug, Clone, Copy)]
pub struct Common {
    pub permanent: bool,
    pub slip_hidden: bool,
    pub mains_hz: f64,
    pub read_at: ReadAt,
}

fn draw_sheet(rng: &mut Rng, duty: &Duty) -> Sheet {
    let family = pick(table::FAMILY, rng);
    let shape = Shape::draw(rng, family);
    let place = table::PLACE.draw(rng);
    let best_flow = duty.flow / (duty.speed * place);
    let (small, growth) = table::BEST_EFFICIENCY;
    let scatter = table::BEST_EFFICIENCY_SCATTER.draw(rng);
    let end = table::TABLE_END.draw(rng).max(table::TABLE_BEYOND_DESIGN * place);
    Sheet {
        family,
        shape,
        best_flow,
        best_head: duty.head / (duty.speed * duty.speed * shape.head(place)),
        best_efficiency: (small + growth * libm::log(best_flow / 8.0) + scatter).clamp(0.45, 0.86),
        end_flow: end * best_flow,
        friction: 0.0,
        drift: 0.0,
    }
}

/// How a loss family's own shape is spread.
fn loss_shape(family: Loss) -> Vec<Spread> {
    match family {
        Loss::Separation => table::SEPARATION.into_iter().chain(table::DRIVE_SHARES).collect(),
        Loss::Points => vec![table::POINTS_LN; 8],
        Loss::Doe | Loss::Wseo | Loss::Constant => Vec::new(),
    }
}

/// The IEC grid: straight lines between its points, on beyond them, never below a third of the nearest.
fn between_points(ln: &[f64], torque: f64, speed: f64) -> f64 {
    const TORQUES: [f64; 3] = [0.25, 0.5, 1.0];
    const SPEEDS: [f64; 3] = [0.0, 0.5, 0.9];
    let moved = |t: usize, s: usize| {
        // Row by row without the corner that the standard leaves out.
        let l = match (t, s) {
            (0, 2) => 0.5 * (ln[1] + ln[4]),
            (0, s) => ln[s],
            (t, s) => ln[3 * t + s - 1],
        };
        table::POINTS[t][s] * libm::exp(l)
    };
    let (t, s) = (usize::from(torque > TORQUES[1]), usize::from(speed > SPEEDS[1]));
    let (a, b) =
        ((torque - TORQUES[t]) / (TORQUES[t + 1] - TORQUES[t]), (speed - SPEEDS[s]) / (SPEEDS[s + 1] - SPEEDS[s]));
    let at = |t: usize| (1.0 - b) * moved(t, s) + b * moved(t, s + 1);
    ((1.0 - a) * at(t) + a * at(t + 1)).max(at(t) / 3.0)
}

/// Between rows of a table by the logarithm of size, within a row by [`smooth`].
fn by_size(rows: &[(f64, [f64; 7])], loads: &[f64; 7], size: f64, load: f64) -> f64 {
    let i = rows.iter().position(|r| r.0 >= size).unwrap_or(rows.len() - 1).max(1);
    let w = (libm::log(size / rows[i - 1].0) / libm::log(rows[i].0 / rows[i - 1].0)).clamp(0.0, 1.0);
    (1.0 - w) * smooth(loads, &rows[i - 1].1, load) + w * smooth(loads, &rows[i].1, load)
}

fn doe(kw: f64, load: f64) -> (f64, f64) {
    let least = table::DOE_LOADS[0];
    (by_size(&table::DOE, &table::DOE_LOADS, kw, load.max(least)), least)
}

fn wseo(kw: f64, load: f64) -> (f64, f64) {
    let least = table::WSEO_LOADS[0];
    let size = libm::pow(kw / table::WSEO_SIZE_KW, table::WSEO_SIZE_POWER).clamp(0.3, 1.6);
    (1.0 - size * (1.0 - smooth(&table::WSEO_LOADS, &table::WSEO, load.max(least))), least)
}

fn drive(kw: f64, load: f64) -> f64 {
    by_size(&table::DRIVE, &table::DRIVE_LOADS, kw / 0.7457, load)
}

/// A smooth curve through points, with straight-line slopes averaged at each (Bessel), constant outside.
fn smooth(x: &[f64], y: &[f64], at: f64) -> f64 {
    let last = x.len() - 1;
    if at <= x[0] || at >= x[last] {
        return if at <= x[0] { y[0] } else { y[last] };
    }
    let i = x.iter().position(|v| *v > at).unwrap_or(last).clamp(1, last) - 1;
    let secant = |k: usize| (y[k + 1] - y[k]) / (x[k + 1] - x[k]);
    let slope = |k: usize| match k {
        0 => secant(0),
        k if k == last => 0.0,
        // Never steeper than twice the flatter side, so that it cannot overshoot.
        k => {
            let (a, b) = (secant(k - 1), secant(k));
            if a * b <= 0.0 { 0.0 } else { (0.5 * (a + b)).abs().min(2.0 * a.abs().min(b.abs())).copysign(a) }
        }
    };
    let (h, t) = (x[i + 1] - x[i], (at - x[i]) / (x[i + 1] - x[i]));
    let rise = y[i + 1] - y[i];
    let (m, n) = (h * slope(i), h * slope(i + 1));
    y[i] + t * (m + t * (3.0 * rise - 2.0 * m - n + t * (m + n - 2.0 * rise)))
}
