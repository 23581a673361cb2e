//! From shaft to meter: motor and drive efficiency, at part load too, and the slip between frequency and speed.
//!
//! Comes in: shaft power, rated power, full-load efficiencies. Goes out: electric power at the drive's input, and back.
//! The decision a reader would question: part-load factors were published for motors on the mains; at reduced
//! frequency losses differ, so [`chain_sd`] widens toward low load. A permanent-magnet motor has no slip and smaller losses
//! at part load than the table says. Start at [`electric_from_shaft`].

use super::raised::Raised;
use std::sync::LazyLock;

/// Efficiency class and poles for which the standard's polynomial is held here (50 Hz).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MotorClass {
    /// IE2, four poles.
    Ie2FourPole,
    /// IE3, two poles.
    Ie3TwoPole,
    /// IE3, four poles.
    Ie3FourPole,
    /// IE3, six poles.
    Ie3SixPole,
    /// IE4, four poles.
    Ie4FourPole,
}

/// Range of the standard's polynomial [kW].
const POLYNOMIAL_KW: std::ops::RangeInclusive<f64> = 0.75..=200.0;

/// Nominal full-load efficiency \[-\] of a motor of `rated_kw` [kW] shaft power; `None` outside 0.75 to 200 kW.
///
/// eta % = A x^3 + B x^2 + C x + D with x = log10(P / kW). Source: IEC 60034-30-1 as printed in the UK regulations
/// SI 2021/745, Schedule 16, Table 28.
///
/// ```
/// use offcurve::hydraulics::motor::{class_efficiency, MotorClass};
/// // The same table's coefficients at 7.5 kW: 90.44 % (IE3) and 92.58 % (IE4).
/// assert!((class_efficiency(MotorClass::Ie3FourPole, 7.5).unwrap() - 0.9044).abs() < 1e-4);
/// assert!((class_efficiency(MotorClass::Ie4FourPole, 7.5).unwrap() - 0.9258).abs() < 1e-4);
/// ```
#[must_use]
pub fn class_efficiency(class: MotorClass, rated_kw: f64) -> Option<f64> {
    let [a, b, c, d] = match class {
        MotorClass::Ie2FourPole => [0.0278, -1.9247, 10.4395, 80.9761],
        MotorClass::Ie3TwoPole => [0.3569, -3.3076, 11.6108, 82.2503],
        MotorClass::Ie3FourPole => [0.0773, -1.8951, 9.2984, 83.7025],
        MotorClass::Ie3SixPole => [0.1252, -2.6130, 11.9963, 80.4769],
        MotorClass::Ie4FourPole => [0.2412, -2.3608, 8.4460, 86.8321],
    };
    let x = rated_kw.log10();
    POLYNOMIAL_KW.contains(&rated_kw).then(|| (((a * x + b) * x + c) * x + d) / 100.0)
}

/// [`class_efficiency`] of an IE3 four-pole motor, what a pump set of the last decade has as a rule (common practice, no
/// source).
#[must_use]
pub fn ie3_efficiency(rated_kw: f64) -> Option<f64> {
    class_efficiency(MotorClass::Ie3FourPole, rated_kw)
}

/// Loads \[-\] of the part-load table.
const MOTOR_LOADS: [f64; 7] = [0.1, 0.2, 0.3, 0.4, 0.6, 0.8, 1.0];
/// Rated powers [kW] of the part-load table.
const MOTOR_SIZES_KW: [f64; 6] = [0.7, 2.5, 7.5, 15.0, 35.0, 70.0];
/// Efficiency over full-load efficiency \[-\], one row a size. Entries that the source's graph shows flat are 1.
const MOTOR_PART_LOAD: [[f64; 7]; 6] = [
    [0.3198, 0.5517, 0.7165, 0.8170, 0.9064, 0.9569, 1.0],
    [0.3299, 0.6133, 0.8042, 0.9225, 1.0, 1.0, 1.0],
    [0.4580, 0.7527, 0.8866, 0.9502, 1.0, 1.0, 1.0],
    [0.5761, 0.8432, 0.9369, 0.9803, 1.0, 1.0, 1.0],
    [0.6440, 0.9035, 0.9570, 1.0, 1.0, 1.0, 1.0],
    [0.7244, 0.9625, 0.9871, 1.0, 1.0, 1.0, 1.0],
];

/// Motor efficiency at part load over that at full load \[-\], for `load` = shaft power over rated \[-\].
///
/// Linear in load and in the logarithm of size; beyond the table its nearest entry. (Below a tenth of load
/// [`electric_from_shaft`] holds the loss, not this ratio.)
/// Source: US DOE, *Determining Electric Motor Load and Efficiency* (2014), graph as tabulated in the open Modelica
/// Buildings library (`motorEfficiencyCurve`).
///
/// ```
/// use offcurve::hydraulics::motor::motor_part_load;
/// // The table's own entries for 7.5 kW.
/// assert!((motor_part_load(7.5, 0.2) - 0.7527).abs() < 1e-12);
/// ```
#[must_use]
pub fn motor_part_load(rated_kw: f64, load: f64) -> f64 {
    let of_size = |row: &[f64; 7]| linear(&MOTOR_LOADS, row, load);
    let (i, w) = place(&MOTOR_SIZES_KW.map(f64::ln), rated_kw.ln());
    (1.0 - w) * of_size(&MOTOR_PART_LOAD[i]) + w * of_size(&MOTOR_PART_LOAD[i + 1])
}

/// Loads \[-\] of the drive table: share of the motor's rated electric power.
const DRIVE_LOADS: [f64; 7] = [0.016, 0.125, 0.25, 0.42, 0.5, 0.75, 1.0];
/// Motor sizes [hp] of the drive table.
const DRIVE_SIZES_HP: [f64; 11] = [3.0, 5.0, 10.0, 20.0, 30.0, 50.0, 60.0, 75.0, 100.0, 200.0, 400.0];
/// Drive efficiency \[-\], one row a size.
const DRIVE_EFFICIENCY: [[f64; 7]; 11] = [
    [0.31, 0.77, 0.86, 0.90, 0.91, 0.93, 0.94],
    [0.35, 0.80, 0.88, 0.91, 0.92, 0.94, 0.95],
    [0.41, 0.83, 0.90, 0.93, 0.94, 0.95, 0.96],
    [0.47, 0.86, 0.93, 0.94, 0.95, 0.96, 0.97],
    [0.50, 0.88, 0.93, 0.95, 0.95, 0.96, 0.97],
    [0.46, 0.86, 0.92, 0.95, 0.95, 0.96, 0.97],
    [0.51, 0.87, 0.92, 0.95, 0.95, 0.96, 0.97],
    [0.47, 0.86, 0.93, 0.95, 0.96, 0.97, 0.97],
    [0.55, 0.89, 0.94, 0.95, 0.96, 0.97, 0.97],
    [0.61, 0.91, 0.95, 0.96, 0.96, 0.97, 0.97],
    [0.61, 0.91, 0.95, 0.96, 0.96, 0.97, 0.97],
];
/// One mechanical horsepower [kW].
const HP_KW: f64 = 0.745_699_871_582_270_2;

/// Efficiency \[-\] of a pulse-width drive for a motor of `rated_kw` [kW] at `load` = motor input over its rated input \[-\].
///
/// Linear in load and size; 3 to 400 hp and 0.016 to 1 of load, beyond that the nearest entry. Generic values from a trade
/// table, no standard's minimum. Source: the table held by the library fluids 1.3.1, `VFD_efficiency`.
///
/// ```
/// use offcurve::hydraulics::motor::drive_efficiency;
/// // fluids 1.3.1: VFD_efficiency(10*hp) = 0.96, VFD_efficiency(100*hp, load=0.2) = 0.92.
/// assert!((drive_efficiency(7.457, 1.0) - 0.96).abs() < 1e-6);
/// assert!((drive_efficiency(74.57, 0.2) - 0.92).abs() < 1e-4);
/// ```
#[must_use]
pub fn drive_efficiency(rated_kw: f64, load: f64) -> f64 {
    let (i, w) = place(&DRIVE_SIZES_HP, rated_kw / HP_KW);
    let of_size = |row: &[f64; 7]| linear(&DRIVE_LOADS, row, load);
    (1.0 - w) * of_size(&DRIVE_EFFICIENCY[i]) + w * of_size(&DRIVE_EFFICIENCY[i + 1])
}

/// Shares of a motor's full-load loss: iron and friction, magnetising current, load current. The constant and the load part are told apart
/// as IEC 60034-2-1 does; the shares are those usual for four-pole motors of some kilowatts (common practice, no source). At full speed and a
/// tenth of load they give 0.77 of full-load efficiency, above the two handbooks (WSEO 1993 0.673, DOE 2014 0.458), which hold
/// older motors: the doubt about the constant part is set accordingly.
const MOTOR_LOSS: [f64; 3] = [0.25, 0.13, 0.62];
/// Iron and friction loss goes as speed to this power on a drive: hysteresis as speed, eddy currents and friction as its square
/// (common practice, no source).
const IRON_POWER: f64 = 1.3;
static IRON: LazyLock<Raised> = LazyLock::new(|| Raised::to(IRON_POWER));
/// Shares of a drive's full-load loss: switching and supply, and current.
const DRIVE_LOSS: [f64; 2] = [0.40, 0.60];

/// Loss of motor and drive together [kW]: the part that is there without load, and the part that comes with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loss {
    pub constant: f64,
    pub load: f64,
    /// What the handbooks' tables of motors and drives at part load say beyond both: [`electric_from_shaft`] less shaft power and the two parts
    /// above. Large at low load, where those older motors on the mains lost most.
    pub low_load: f64,
}

/// Loss [kW] of motor and drive together for `shaft_kw` [kW] at `speed` (shaft over rated \[-\]), the motor fed by the drive.
///
/// `motor` and `drive` are the full-load efficiencies \[-\]. Unlike [`electric_from_shaft`], whose tables are of motors at mains
/// frequency, iron loss falls with speed here. Exact at full load and speed; below a quarter of load good to about a third
/// (the two handbooks differ by twice that). Source: separation of losses as in IEC 60034-2-1; shares as above.
///
/// ```
/// use offcurve::hydraulics::motor::loss_on_drive;
/// // Full load: 7.5 / (0.904 * 0.97) - 7.5 = 1.053 kW.
/// let loss = loss_on_drive(7.5, 1.0, 7.5, 0.904, 0.97);
/// assert!((loss.constant + loss.load - 1.053).abs() < 1e-3);
/// ```
#[must_use]
pub fn loss_on_drive(shaft_kw: f64, speed: f64, rated_kw: f64, motor: f64, drive: f64) -> Loss {
    MotorOnDrive::new(rated_kw, motor, drive).loss(shaft_kw, speed)
}

/// One motor behind its drive: the tables of both taken at their size once, where many duties are asked of them.
#[derive(Debug, Clone)]
pub struct MotorOnDrive {
    rated_kw: f64,
    /// Full-load losses of the motor and of the drive [kW].
    of_motor: f64,
    of_drive: f64,
    /// Motor efficiency by load, and that of the drive by its share of the motor's rated input.
    motor: Knots,
    drive: Knots,
    /// Motor input by the tables' share of rated input [1/kW].
    share: f64,
    /// Motor loss at the least load of its table [kW], held below it.
    idling: f64,
}

impl MotorOnDrive {
    /// `rated_kw` [kW]; `motor` and `drive`: full-load efficiencies \[-\]. See [`loss_on_drive`].
    #[must_use]
    pub fn new(rated_kw: f64, motor: f64, drive: f64) -> Self {
        let at_full = drive_efficiency(rated_kw, 1.0);
        let by_load = MOTOR_LOADS.map(|load| motor * motor_part_load(rated_kw, load));
        Self {
            rated_kw,
            of_motor: rated_kw * (1.0 / motor - 1.0),
            of_drive: rated_kw / motor * (1.0 / drive - 1.0),
            motor: Knots::new(MOTOR_LOADS, by_load),
            drive: Knots::new(DRIVE_LOADS, DRIVE_LOADS.map(|load| drive * drive_efficiency(rated_kw, load) / at_full)),
            share: motor / rated_kw,
            idling: MOTOR_LOADS[0] * rated_kw * (1.0 / by_load[0] - 1.0),
        }
    }

    /// As [`loss_on_drive`].
    #[must_use]
    pub fn loss(&self, shaft_kw: f64, speed: f64) -> Loss {
        let shaft = shaft_kw.max(0.0);
        let torque = shaft / speed.max(0.05) / self.rated_kw;
        let iron = MOTOR_LOSS[0] * IRON.of(speed.max(0.0)) + MOTOR_LOSS[1];
        let constant = self.of_motor * iron + self.of_drive * DRIVE_LOSS[0];
        let load = self.of_motor * MOTOR_LOSS[2] * torque * torque + self.of_drive * DRIVE_LOSS[1] * torque;
        Loss { constant, load, low_load: self.electric(shaft) - shaft - constant - load }
    }

    /// As [`electric_from_shaft`].
    #[must_use]
    pub fn electric(&self, shaft_kw: f64) -> f64 {
        if shaft_kw.is_nan() {
            return f64::NAN;
        }
        let (shaft, least) = (shaft_kw.max(0.0), MOTOR_LOADS[0] * self.rated_kw);
        let input = if shaft >= least { shaft / self.motor.at(shaft / self.rated_kw) } else { shaft + self.idling };
        input / self.drive.at(input * self.share)
    }
}

/// Electric power [kW] at the drive's input that gives `shaft_kw` [kW] at the pump.
///
/// `motor` and `drive` are the full-load efficiencies \[-\]; part load follows [`motor_part_load`] and [`drive_efficiency`].
/// Rises with shaft power everywhere; at no shaft power it is the loss of an idling motor. Negative shaft power reads as
/// none; NaN stays NaN. Source: products of the named ones.
///
/// ```
/// use offcurve::hydraulics::motor::electric_from_shaft;
/// // Full load is the product of the two declared efficiencies: 7.5 / (0.904 * 0.97) = 8.553 kW.
/// assert!((electric_from_shaft(7.5, 7.5, 0.904, 0.97) - 8.553).abs() < 1e-3);
/// ```
#[must_use]
pub fn electric_from_shaft(shaft_kw: f64, rated_kw: f64, motor: f64, drive: f64) -> f64 {
    MotorOnDrive::new(rated_kw, motor, drive).electric(shaft_kw)
}

/// Shaft power [kW] behind an electric power [kW]: the inverse of [`electric_from_shaft`]. Electric power at or below an idling
/// motor's loss gives 0, which is a bound rather than a reading.
///
/// ```
/// use offcurve::hydraulics::motor::{electric_from_shaft, shaft_from_electric};
/// let electric = electric_from_shaft(2.0, 7.5, 0.904, 0.97);
/// assert!((shaft_from_electric(electric, 7.5, 0.904, 0.97) - 2.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn shaft_from_electric(electric_kw: f64, rated_kw: f64, motor: f64, drive: f64) -> f64 {
    if electric_kw.is_nan() {
        return f64::NAN;
    }
    // Shaft power never exceeds electric power, so the answer lies between; 80 halvings exhaust an f64.
    let (mut low, mut high) = (0.0, electric_kw.max(0.0));
    let of = MotorOnDrive::new(rated_kw, motor, drive);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if of.electric(middle) < electric_kw { low = middle } else { high = middle }
    }
    if low == 0.0 { 0.0 } else { 0.5 * (low + high) }
}

/// Loads at which [`chain_sd`] is given \[-\].
const SD_LOADS: [f64; 6] = [0.05, 0.1, 0.25, 0.5, 0.75, 1.0];
/// Half of what two handbooks differ by for a 7.5 kW motor (DOE 2014 against WSEO 1993: ratios 0.458 and 0.673 at a tenth of
/// load, 0.820 and 0.916 at a quarter, 0.975 and 0.985 at half), and 1.5 % for the tolerance of the declared efficiencies
/// (IEC 60034-1 lets losses be 15 % higher, from memory), added as squares. Below a tenth neither says anything: twice that.
const SD: [f64; 6] = [0.38, 0.19, 0.058, 0.016, 0.015, 0.015];

/// Relative standard deviation \[-\] of [`electric_from_shaft`] at `load` = shaft power over rated \[-\].
///
/// It grows toward low load, where what remains is loss and two handbooks disagree on it.
/// Beyond the ends the nearest value.
#[must_use]
pub fn chain_sd(load: f64) -> f64 {
    linear(&SD_LOADS, &SD, load)
}

/// Synchronous speed [rpm] of the motor that turns at `rated_rpm` at full load: 120 f / poles, the least that is not below it.
/// `None` where neither number is positive.
///
/// ```
/// use offcurve::hydraulics::motor::synchronous_rpm;
/// assert_eq!(synchronous_rpm(1450.0, 50.0), Some(1500.0));
/// assert_eq!(synchronous_rpm(1750.0, 60.0), Some(1800.0));
/// ```
#[must_use]
pub fn synchronous_rpm(rated_rpm: f64, rated_hz: f64) -> Option<f64> {
    let pole_pairs = (60.0 * rated_hz / rated_rpm).floor();
    (rated_rpm > 0.0 && pole_pairs >= 1.0).then(|| 60.0 * rated_hz / pole_pairs)
}

/// Shaft speed over rated speed \[-\] of an induction motor at `frequency` over rated frequency \[-\].
///
/// `slip` is that at rated load, (synchronous - rated) / synchronous \[-\]; `torque` gives torque over rated torque at a speed
/// over rated, and must not fall with speed faster than slip allows (pump loads rise). At constant volts per hertz the slip in
/// hertz goes as torque: n = (f - slip T(n)) / (1 - slip), solved by repetition. Negative results read 0.
/// Source: derived from the induction motor's linear torque-slip range (common practice, no source).
///
/// ```
/// use offcurve::hydraulics::motor::speed_with_slip;
/// // 1750 rpm at 60 Hz, quadratic load, at 30 Hz: 0.50694, not 0.5.
/// let n = speed_with_slip(0.5, 50.0 / 1800.0, |n| n * n);
/// assert!((n - 0.506943).abs() < 1e-5);
/// ```
#[must_use]
pub fn speed_with_slip(frequency: f64, slip: f64, torque: impl Fn(f64) -> f64) -> f64 {
    let mut speed = frequency;
    // Each step shrinks the error by slip * dT/dn, some 0.06: a dozen steps end at rounding.
    for _ in 0..40 {
        let next = ((frequency - slip * torque(speed)) / (1.0 - slip)).max(0.0);
        if (next - speed).abs() < 1e-13 {
            return next;
        }
        speed = next;
    }
    speed
}

/// Piecewise linear, beyond the ends the end's value.
fn linear(x: &[f64], y: &[f64], at: f64) -> f64 {
    let (i, w) = place(x, at);
    (1.0 - w) * y[i] + w * y[i + 1]
}

/// The interval of ascending `x` that holds `at`, and how far into it \[0, 1\].
fn place(x: &[f64], at: f64) -> (usize, f64) {
    let i = x.partition_point(|&k| k <= at).clamp(1, x.len() - 1) - 1;
    (i, ((at - x[i]) / (x[i + 1] - x[i])).clamp(0.0, 1.0))
}

/// A table by load, straight between its knots; beyond the ends the end's value.
#[derive(Debug, Clone)]
struct Knots {
    x: [f64; 7],
    y: [f64; 7],
    slope: [f64; 7],
}

impl Knots {
    fn new(x: [f64; 7], y: [f64; 7]) -> Self {
        let slope = std::array::from_fn(|i| if i < 6 { (y[i + 1] - y[i]) / (x[i + 1] - x[i]) } else { 0.0 });
        Self { x, y, slope }
    }

    #[inline]
    fn at(&self, x: f64) -> f64 {
        let x = x.clamp(self.x[0], self.x[6]);
        // Seven knots: counted without a branch, that is quicker than any search.
        let i: usize = (1..7).map(|k| usize::from(self.x[k] <= x)).sum();
        self.y[i] + self.slope[i] * (x - self.x[i])
    }
}
