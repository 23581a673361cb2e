//! The nuisance table: what an invented plant may differ in, how often and by how much. Frozen: it was written before any figure was
//! made with it, and is changed only together with every figure that rests on it, never to please the analyser.
//!
//! Comes in: nothing. Goes out: one constant a line, with its reason or source beside it. The decision to question: most values are
//! the trade's experience and not a standard's; they are marked "common practice, no source", and "from memory" where a
//! standard is meant but was not at hand. `plant.rs` draws from it, `oracle.rs` is told it, a test holds the draws to it.

use crate::simulator::noise::Rng;

/// How a number is spread over plants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread {
    /// Mean and standard deviation.
    Normal(f64, f64),
    /// Normal, drawn again until it lies between the last two.
    Within(f64, f64, f64, f64),
    /// Even from the first to the second.
    Even(f64, f64),
    /// Even in the logarithm.
    LogEven(f64, f64),
}

/// Steps in which the moments of a spread without closed form are summed.
const MOMENT_STEPS: usize = 2000;

impl Spread {
    pub fn draw(self, rng: &mut Rng) -> f64 {
        match self {
            Self::Normal(mean, sd) => mean + sd * rng.normal(),
            Self::Within(mean, sd, low, high) => loop {
                let x = mean + sd * rng.normal();
                if (low..=high).contains(&x) {
                    return x;
                }
            },
            Self::Even(low, high) => rng.between(low, high),
            Self::LogEven(low, high) => libm::exp(rng.between(libm::log(low), libm::log(high))),
        }
    }

    /// Mean and standard deviation.
    pub fn moments(self) -> (f64, f64) {
        let density = |x: f64| match self {
            Self::Normal(mean, sd) | Self::Within(mean, sd, ..) => libm::exp(-0.5 * ((x - mean) / sd).powi(2)),
            Self::Even(..) => 1.0,
            Self::LogEven(..) => 1.0 / x,
        };
        let (low, high) = match self {
            Self::Normal(mean, sd) => return (mean, sd),
            Self::Within(_, _, low, high) | Self::Even(low, high) | Self::LogEven(low, high) => (low, high),
        };
        let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
        for k in 0..MOMENT_STEPS {
            let x = low + (high - low) * (k as f64 + 0.5) / MOMENT_STEPS as f64;
            let weight = density(x);
            sum += weight;
            first += weight * x;
            second += weight * x * x;
        }
        let mean = first / sum;
        (mean, (second / sum - mean * mean).sqrt())
    }

    pub fn sd(self) -> f64 {
        self.moments().1
    }
}

/// A choice among kinds: each with its share; the shares add to one.
pub type Shares<T> = &'static [(T, f64)];

/// Draws a kind.
pub fn pick<T: Copy>(shares: Shares<T>, rng: &mut Rng) -> T {
    let mut left = rng.unit();
    for (kind, share) in shares {
        left -= share;
        if left < 0.0 {
            return *kind;
        }
    }
    shares[shares.len() - 1].0
}

use Spread::{Even, LogEven, Normal, Within};

// ---- The loop -------------------------------------------------------------------------------------------------------------------

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Service {
    Chilled,
    Heating,
    ColdEthylene,
    ColdPropylene,
}
/// Most building loops carry water; glycol where pipes may freeze. Common practice, no source.
pub const SERVICE: Shares<Service> = &[
    (Service::Chilled, 0.50),
    (Service::Heating, 0.35),
    (Service::ColdEthylene, 0.075),
    (Service::ColdPropylene, 0.075),
];
/// Supply of chilled water [degC]: the usual design 6 to 7, and a warmer one. Common practice, no source.
pub const CHILLED_SUPPLY_C: Spread = Even(6.0, 8.0);
/// Supply of heating water [degC]: condensing boilers and heat pumps up to older boilers. Common practice, no source.
pub const HEATING_SUPPLY_C: Spread = Even(50.0, 80.0);
/// Supply of cold glycol [degC]. Common practice, no source.
pub const GLYCOL_SUPPLY_C: Spread = Even(0.0, 8.0);
/// Glycol by mass [-]: freezing point some -11 to -23 degC (Melinder, IIR 2010). The plant file declares fluid and share.
pub const GLYCOL_SHARE: Spread = Even(0.25, 0.40);
/// Design flow [m3/h]: a small air handler's loop to a mid-size plant. Common practice, no source.
pub const DESIGN_FLOW_M3H: Spread = LogEven(8.0, 250.0);
/// Design head [kPa]. Common practice, no source.
pub const DESIGN_HEAD_KPA: Spread = Even(60.0, 300.0);
/// Design flow over the pump's best-efficiency flow [-]: selection aims left of the best point. Common practice, no source.
pub const PLACE: Spread = Within(0.92, 0.13, 0.65, 1.25);
/// Head of the selected pump at design flow over design head [-]: the next impeller up. Common practice, no source.
pub const SELECTION: Spread = Even(1.00, 1.15);
/// Share of plants whose pump is much too large, so that most rows run at 40 to 60 % speed: the half-speed group. A group of its own, so
/// that enough plants fill it; no claim about buildings.
pub const HALF_SPEED: f64 = 0.15;
/// Speed at which such a pump makes the design point [-].
pub const HALF_SPEED_AT_DESIGN: Spread = Even(0.54, 0.66);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Curve {
    Quadratic,
    Proportional,
    Constant,
}
/// What the drive holds across the pump. Common practice, no source.
pub const CURVE: Shares<Curve> = &[(Curve::Quadratic, 0.40), (Curve::Proportional, 0.30), (Curve::Constant, 0.30)];
/// The curve's head at no flow over that at design [-]. Common practice, no source.
pub const ZERO_FLOW_HEAD: Spread = Even(0.25, 0.60);
/// Head really held over the declared curve [-]: commissioning trims it and nobody writes it down. Common practice, no source.
pub const SETPOINT_SCALE: Spread = Even(0.90, 1.15);
/// How far the held head strays from row to row [-]. Common practice, no source.
pub const HELD_HEAD_NOISE: f64 = 0.003;
/// Speed floor over rated speed [-]: makers' and seals' limits, cautious settings. Common practice, no source.
pub const FLOOR: Spread = Even(0.25, 0.50);
/// At the floor, between valves that hold the flow (0) and valves that stay where they are (1) [-]. Common practice, no source.
pub const FLOOR_GIVES: Spread = Even(0.0, 1.0);
/// Load at night over design [-].
pub const NIGHT_LOAD: Spread = Even(0.10, 0.35);
/// Load at noon over design [-].
pub const NOON_LOAD: Spread = Even(0.70, 1.05);
/// Flow share goes as load share to this power: above 1 where delta-T falls at low load, below where it rises. Common practice, no source.
pub const FLOW_OVER_LOAD: Spread = Even(0.80, 1.30);
/// Slow wander of the load, share of itself [-], and its memory [rows of 15 min]: steady for minutes, not for hours.
pub const LOAD_WANDER: (f64, f64) = (0.04, 16.0);
/// Share of plants that stop at night. Common practice, no source.
pub const NIGHT_STOP: f64 = 0.25;
/// Check valve, strainer and balancing valve between flanges and header at design flow, share of design head [-]. Common practice.
pub const HEADER_LOSS: Spread = Even(0.02, 0.06);
/// Share of the pump's head at design that pipes before a remote sensor take [-]. Common practice, no source.
pub const PIPE_SHARE: Spread = Even(0.25, 0.65);
/// Exponent of the pipes' loss [-]: between smooth (1.75) and fully rough (2) turbulence (Colebrook and White 1939; from memory).
pub const PIPE_EXPONENT: f64 = 1.9;

// ---- The pump ------------------------------------------------------------------------------------------------------------------

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Family {
    /// Smooth cubics of head and power.
    Cubic,
    /// Euler's head less friction and shock; leakage, disc friction and recirculation in the power.
    Euler,
    /// High specific speed: steep head, flat or falling power.
    Steep,
    /// Head rises from shut-off before it falls.
    Drooping,
}
/// Radial pumps as a rule; building services buy some of high specific speed; drooping heads are rare. Common practice, no source.
pub const FAMILY: Shares<Family> =
    &[(Family::Cubic, 0.43), (Family::Euler, 0.38), (Family::Steep, 0.15), (Family::Drooping, 0.04)];
/// Best efficiency [-] of 8 m3/h, gain by e-fold of flow, and scatter: 0.62 to 0.79 over the range. Common practice, no source.
pub const BEST_EFFICIENCY: (f64, f64) = (0.62, 0.05);
pub const BEST_EFFICIENCY_SCATTER: Spread = Within(0.0, 0.02, -0.05, 0.05);
/// Cubic: shut-off head over best head, its slope there, shut-off power over best power, slope at the best point, slope at shut-off.
/// Shapes of radial pumps on makers' sheets. Common practice, no source.
pub const CUBIC: [Spread; 5] =
    [Even(1.18, 1.36), Even(-0.05, 0.08), Even(0.36, 0.52), Even(0.24, 0.42), Even(0.65, 0.86)];
/// Drooping: the same five, with a head that rises a few per cent from shut-off.
pub const DROOPING: [Spread; 5] =
    [Even(1.10, 1.18), Even(0.15, 0.30), Even(0.36, 0.50), Even(0.28, 0.42), Even(0.65, 0.86)];
/// Euler: ideal head at no flow over that at the best point, hydraulic efficiency there, shock loss over the most that keeps the head from
/// rising from shut-off: drooping has a family of its own. Guelich, *Centrifugal Pumps* (from memory: orders of size only), as the next two.
pub const EULER_HEAD: [Spread; 3] = [Even(1.20, 1.45), Even(0.85, 0.92), Even(0.55, 1.00)];
/// Flow of no shock over best flow, leakage over best flow, disc friction over best power.
pub const EULER_POWER: [Spread; 3] = [Even(0.98, 1.06), Even(0.02, 0.06), Even(0.03, 0.08)];
/// Recirculation power at shut-off over best power, and share of best flow at which it ends.
pub const RECIRCULATION: [Spread; 2] = [Even(0.22, 0.34), Even(0.55, 0.75)];
/// Steep: shut-off head and shut-off power over those at the best point, and the power's slope there. Common practice, no source.
pub const STEEP: [Spread; 3] = [Even(1.50, 1.90), Even(0.85, 1.25), Even(-0.10, 0.10)];
/// Shaft power gained per e-fold of speed reduction, over one less the best efficiency [-]: friction grows as Reynolds number falls. The
/// published rule (Sarbu and Borza 1998) amounts to some 0.10; sheets differ.
pub const SPEED_DRIFT: Spread = Even(0.05, 0.20);
/// Bearings and seal: a torque that does not fall with speed, over best torque [-]. Common practice, no source.
pub const FRICTION: Spread = Even(0.002, 0.008);

/// Real head over the table's, level: ISO 9906:2012 grade 2B allows 5 % of head (from memory), taken as two standard deviations and a little
/// less; worn pumps are more than better ones.
pub const HEAD_LEVEL: Spread = Normal(-0.005, 0.020);
/// The same, from shut-off to the table's end: half of this at either end.
pub const HEAD_TILT: Spread = Normal(0.0, 0.010);
/// The same, middle against ends: a half wave, which no polynomial matches.
pub const HEAD_BEND: Spread = Normal(0.0, 0.006);
/// Real shaft power over the table's: grade 2B allows 8 % more power (from memory).
pub const POWER_LEVEL: Spread = Normal(0.010, 0.030);
pub const POWER_TILT: Spread = Normal(0.0, 0.015);
pub const POWER_BEND: Spread = Normal(0.0, 0.010);

/// Tested points read off the sheet [-]; whole numbers.
pub const TABLE_POINTS: (usize, usize) = (6, 9);
/// Last tested flow over best flow [-]. A sheet of a pump chosen right of its best point goes at least a little past design.
pub const TABLE_END: Spread = Even(1.15, 1.50);
/// Table's end over design place at least [-].
pub const TABLE_BEYOND_DESIGN: f64 = 1.08;
/// Significant figures of the table: what is read off a printed curve.
pub const TABLE_FIGURES: i32 = 3;
/// Tested speeds over rated. Most sheets show rated speed alone. Common practice, no source.
pub const TABLE_SPEEDS: Shares<&[f64]> = &[(&[1.0], 0.75), (&[1.0, 0.7], 0.15), (&[1.0, 0.8, 0.6], 0.10)];
/// Share of sheets whose power is the drive's input (pumps sold with their drive).
pub const TABLE_DRIVE_INPUT: f64 = 0.15;
/// Units of the table's head: shares. In metres and feet it is of the loop's own fluid. Power in the table stands for the loop fluid's
/// density and the viscosity of water: makers test with water, and who orders for glycol gets the density corrected.
pub const TABLE_HEAD_UNIT: Shares<&str> = &[("kPa", 0.40), ("m", 0.40), ("ft", 0.20)];

/// A pump whose shaft power varies less than this over the table beyond the place given, or falls there, is in the flat-power group [-].
pub const FLAT_POWER: (f64, f64) = (0.08, 0.70);

// ---- Motor and drive -------------------------------------------------------------------------------------------------------

/// IEC 60072 rated powers [kW] (from memory).
pub const MOTOR_SIZES_KW: [f64; 26] = [
    0.25, 0.37, 0.55, 0.75, 1.1, 1.5, 2.2, 3.0, 4.0, 5.5, 7.5, 11.0, 15.0, 18.5, 22.0, 30.0, 37.0, 45.0, 55.0, 75.0,
    90.0, 110.0, 132.0, 160.0, 200.0, 250.0,
];
/// Largest shaft power of the table times this takes the next size [-]: margins of ISO 5199 (from memory).
pub const MOTOR_MARGIN: Spread = Even(1.02, 1.35);
/// Share of permanent-magnet motors: no slip. The plant file says so; induction is its default.
pub const PERMANENT_MAGNET: f64 = 0.15;
/// Efficiency [%]: A x^3 + B x^2 + C x + D, x = log10(kW). IEC 60034-30-1 as printed in UK SI 2021/745, Schedule 16, Table 28: IE3, 4 poles.
pub const IE3: [f64; 4] = [0.0773, -1.8951, 9.2984, 83.7025];
/// The same table: IE4, 4 poles (permanent-magnet motors are sold at that class).
pub const IE4: [f64; 4] = [0.2412, -2.3608, 8.4460, 86.8321];
/// Share of plants whose nameplate (power, efficiency to 0.1 %) is declared.
pub const NAMEPLATE: f64 = 0.70;
/// Share of those that declare the drive's full-load efficiency as well.
pub const DRIVE_PLATE: f64 = 0.50;
/// Drive efficiency at full load [-]: makers' sheets. Common practice, no source.
pub const DRIVE_EFFICIENCY: Spread = Even(0.955, 0.980);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Loss {
    /// Separation of losses: a polynomial in speed and torque.
    Separation,
    /// Between eight (speed, torque) points, as IEC 61800-9-2 has them.
    Points,
    /// US DOE 2014 part-load graph times a drive table.
    Doe,
    /// WSEO 1993-like part-load factor times that drive table.
    Wseo,
    /// Efficiencies that do not change.
    Constant,
}
/// How losses really go at part load: physics as a rule, handbooks (which hold older motors) in a third. Common practice, no source.
pub const LOSS: Shares<Loss> =
    &[(Loss::Separation, 0.45), (Loss::Points, 0.20), (Loss::Doe, 0.15), (Loss::Wseo, 0.15), (Loss::Constant, 0.05)];
/// Natural logarithm of real over nominal loss: IEC 60034-1 allows 15 % more loss (from memory); test benches scatter by 10.
pub const LOSS_LN: Spread = Normal(0.0, 0.12);
/// Separation: iron's and windage's share of the motor's full-load loss, magnetising current's share, exponent of iron loss over speed, drop
/// of magnetising loss at no torque (drives that save flux). IEC 60034-2-1's kinds of loss; shares common practice, no source.
pub const SEPARATION: [Spread; 4] = [Even(0.15, 0.30), Even(0.08, 0.20), Even(1.2, 2.0), Even(0.0, 0.30)];
/// Separation: the drive's loss without torque, and the part linear in it, shares of its full-load loss.
pub const DRIVE_SHARES: [Spread; 2] = [Even(0.25, 0.45), Even(0.15, 0.35)];
/// Points: loss of motor and drive together over that at (100 %, 100 %), torques 25, 50, 100 % a row, speeds 0, 50, 90 % a column: IEC
/// 61800-9-2's grid (the standard has no point at 90 %, 25 %; here it follows from its neighbours). Sizes common practice, no source.
pub const POINTS: [[f64; 3]; 3] = [[0.24, 0.31, 0.42], [0.35, 0.43, 0.57], [0.78, 0.86, 0.97]];
/// Each of the points over its nominal size, natural logarithm.
pub const POINTS_LN: Spread = Normal(0.0, 0.08);
/// DOE: efficiency over full-load efficiency at these loads, one row a rated power. US DOE, *Determining Electric Motor Load and
/// Efficiency* (2014), graph as tabulated in the open Modelica Buildings library.
pub const DOE_LOADS: [f64; 7] = [0.1, 0.2, 0.3, 0.4, 0.6, 0.8, 1.0];
pub const DOE: [(f64, [f64; 7]); 6] = [
    (0.7, [0.3198, 0.5517, 0.7165, 0.8170, 0.9064, 0.9569, 1.0]),
    (2.5, [0.3299, 0.6133, 0.8042, 0.9225, 1.0, 1.0, 1.0]),
    (7.5, [0.4580, 0.7527, 0.8866, 0.9502, 1.0, 1.0, 1.0]),
    (15.0, [0.5761, 0.8432, 0.9369, 0.9803, 1.0, 1.0, 1.0]),
    (35.0, [0.6440, 0.9035, 0.9570, 1.0, 1.0, 1.0, 1.0]),
    (70.0, [0.7244, 0.9625, 0.9871, 1.0, 1.0, 1.0, 1.0]),
];
/// WSEO 1993 at 10 hp as the library fluids 1.3.1 computes it: 0.673, 0.916, 0.985 at a tenth, a quarter, a half; 1 from three quarters. The
/// shortfall from 1 goes as size to the power below (its 25 hp at a quarter: 0.952).
pub const WSEO_LOADS: [f64; 4] = [0.1, 0.25, 0.5, 0.75];
pub const WSEO: [f64; 4] = [0.67284, 0.91632, 0.98468, 1.0];
pub const WSEO_SIZE_KW: f64 = 7.457;
pub const WSEO_SIZE_POWER: f64 = -0.61;
/// Drive efficiency at these shares of the motor's rated input, one row a rated power [hp]: fluids 1.3.1, `VFD_efficiency`.
pub const DRIVE_LOADS: [f64; 7] = [0.016, 0.125, 0.25, 0.42, 0.5, 0.75, 1.0];
pub const DRIVE: [(f64, [f64; 7]); 7] = [
    (3.0, [0.31, 0.77, 0.86, 0.90, 0.91, 0.93, 0.94]),
    (5.0, [0.35, 0.80, 0.88, 0.91, 0.92, 0.94, 0.95]),
    (10.0, [0.41, 0.83, 0.90, 0.93, 0.94, 0.95, 0.96]),
    (20.0, [0.47, 0.86, 0.93, 0.94, 0.95, 0.96, 0.97]),
    (50.0, [0.46, 0.86, 0.92, 0.95, 0.95, 0.96, 0.97]),
    (100.0, [0.55, 0.89, 0.94, 0.95, 0.96, 0.97, 0.97]),
    (200.0, [0.61, 0.91, 0.95, 0.96, 0.96, 0.97, 0.97]),
];

/// Slip of an induction motor at rated load [-], as the nameplate's speed says. Common practice, no source.
pub const SLIP: Spread = Even(0.012, 0.040);
/// True slip over the nameplate's [-]: IEC 60034-1 allows 20 % (from memory).
pub const TRUE_SLIP: Spread = Even(0.85, 1.15);
/// Nameplate speeds are rounded to [rpm]: either.
pub const PLATE_RPM: Shares<f64> = &[(5.0, 0.5), (10.0, 0.5)];
/// Mains frequency [Hz].
pub const MAINS_HZ: Shares<f64> = &[(50.0, 0.6), (60.0, 0.4)];
/// Poles of the motor.
pub const POLES: Shares<f64> = &[(2.0, 0.35), (4.0, 0.65)];

// ---- What is trended -----------------------------------------------------------------------------------------------------

/// Share of induction plants whose trended speed is the drive's frequency: slip is not shown. Else it is the shaft's own (estimated or
/// compensated by the drive). Common practice, no source.
pub const SLIP_HIDDEN: f64 = 0.50;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpeedUnit {
    PercentOfSpeed,
    PercentOfFrequency,
    PercentOfMaximum,
    Hertz,
    Rpm,
    Fraction,
}
/// How speed is trended where it is a frequency; what it is a percentage of is declared. Common practice, no source.
pub const FREQUENCY_UNIT: Shares<SpeedUnit> = &[
    (SpeedUnit::PercentOfSpeed, 0.35),
    (SpeedUnit::PercentOfFrequency, 0.20),
    (SpeedUnit::PercentOfMaximum, 0.15),
    (SpeedUnit::Hertz, 0.20),
    (SpeedUnit::Fraction, 0.10),
];
/// How it is trended where it is the shaft's own; in hertz by a drive that raises its frequency with load and shows its reference.
pub const SHAFT_UNIT: Shares<SpeedUnit> =
    &[(SpeedUnit::PercentOfSpeed, 0.40), (SpeedUnit::Hertz, 0.20), (SpeedUnit::Rpm, 0.30), (SpeedUnit::Fraction, 0.10)];
/// What 100 % of the maximum frequency is [Hz]; never below the mains'.
pub const MAXIMUM_HZ: Spread = Even(55.0, 65.0);
/// Steps of the trended speed: % or Hz, and rpm.
pub const SPEED_STEP: f64 = 0.1;
pub const RPM_STEP: f64 = 1.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadAt {
    DriveInput,
    DriveOutput,
    Shaft,
}
/// Where power is read: meters and drives show input as a rule, some drives their output or an estimate of the shaft's. No source.
pub const READ_AT: Shares<ReadAt> = &[(ReadAt::DriveInput, 0.85), (ReadAt::DriveOutput, 0.12), (ReadAt::Shaft, 0.03)];
/// Share of plant files that say where.
pub const READ_AT_DECLARED: f64 = 0.60;
/// Power's gain error: a drive's display is good to some 4 % (makers' limit, taken as two standard deviations). Common practice, no source.
pub const POWER_GAIN: Spread = Normal(0.0, 0.020);
/// Row noise of power, share of the reading.
pub const POWER_NOISE: Spread = Even(0.005, 0.015);
/// Steps of trended power [kW]; one is drawn among those below the share of the motor's size, or the least.
pub const POWER_STEPS_KW: [f64; 4] = [0.01, 0.02, 0.05, 0.1];
pub const POWER_STEP_SHARE: f64 = 0.005;

/// Head's gain error: a transmitter's limit of 2 % of reading with wiring and scaling. Common practice, no source.
pub const HEAD_GAIN: Spread = Normal(0.0, 0.010);
/// Head's zero error, share of span; the span is 1.5 times design head.
pub const HEAD_ZERO: Spread = Normal(0.0, 0.005);
pub const HEAD_SPAN: f64 = 1.5;
/// Row noise of head, share of design head.
pub const HEAD_NOISE: Spread = Even(0.002, 0.008);
/// Share of plant files that declare the sensor's accuracy, as [% of span]: what gain and zero above amount to at two thirds of design head.
pub const HEAD_ACCURACY_DECLARED: f64 = 0.40;
pub const HEAD_ACCURACY: f64 = 1.4;
/// Units of trended head, and the two steps between which the logger's lies.
pub const HEAD_UNIT: Shares<(&str, [f64; 2])> = &[
    (("kPa", [0.1, 1.0]), 0.35),
    (("bar", [0.001, 0.01]), 0.15),
    (("psi", [0.01, 0.1]), 0.20),
    (("m", [0.01, 0.1]), 0.15),
    (("ft", [0.1, 0.1]), 0.15),
];

/// Flow meter's gain error: 4 % limit in the field. Common practice, no source.
pub const METER_GAIN: Spread = Normal(0.0, 0.020);
/// Its zero error, share of design flow.
pub const METER_ZERO: Spread = Normal(0.0, 0.004);
/// Its row noise, share of the reading.
pub const METER_NOISE: f64 = 0.010;
/// Gain error of an energy meter that has a flow meter of its own. EN 1434 class 2 allows some 5 % with its parts (from memory).
pub const LOAD_GAIN: Spread = Normal(0.0, 0.025);
/// Row noise of the load, share of the reading.
pub const LOAD_NOISE: f64 = 0.010;
/// Difference of the trended temperatures' errors [K]: two sensors that were not paired. Common practice, no source.
pub const PAIR_BIAS_K: Spread = Normal(0.0, 0.15);
/// Row noise of each temperature [K].
pub const TEMPERATURE_NOISE_K: f64 = 0.05;
/// Step of trended temperatures [K].
pub const TEMPERATURE_STEP_K: f64 = 0.01;
/// Design difference of supply and return [K].
pub const CHILLED_DIFFERENCE_K: Spread = Even(5.0, 8.0);
pub const HEATING_DIFFERENCE_K: Spread = Even(10.0, 20.0);

/// Share of readings that are far off, and how far in row standard deviations.
pub const OUTLIERS: f64 = 0.007;
pub const OUTLIER_SDS: Spread = Even(4.0, 8.0);

// ---- Parallel pumps --------------------------------------------------------------------------------------------------------

/// Plants with pumps in parallel for each with a single one: a group of its own.
pub const PARALLEL_PLANTS: f64 = 0.20;
/// Number of pumps.
pub const PARALLEL: Shares<usize> = &[(2, 0.6), (3, 0.4)];
/// Share of them whose pumps are alike.
pub const ALIKE: f64 = 0.75;
/// Size of an unlike pump over the even share [-].
pub const UNLIKE_SIZE: Spread = Even(0.60, 1.40);
/// Share of them whose head is trended at the headers (else each pump's own).
pub const PARALLEL_HEADER: f64 = 0.50;
/// One more pump starts above this share of what those running make at design, and stops below this share of what one fewer makes.
pub const STAGING: (f64, f64) = (0.95, 0.85);

// ---- The record ------------------------------------------------------------------------------------------------------------

/// A short record: days, and minutes a row.
pub const DAYS: usize = 4;
pub const STEP_MIN: usize = 15;
