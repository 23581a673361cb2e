//! What a trended speed means, from readings made by hand: where they stop, where they start, and what head and power say.

use offcurve::notice::Noticed;
use offcurve::operating::speed::{Record, Shows, Signal, SpeedMeaning, disagreement, meaning};
use offcurve::plant::{MotorKind, PercentOf, Point, PowerIs, Pump, Role, TestedCurve, units};
use offcurve::quantity::{Fraction, Frequency, Power, ShaftSpeed};

/// Example pump E1 (tests/reference): flow 0 to 100 m3/h, head 120 to 48 kPa, shaft power 1.9 to 4.3 kW at full speed.
fn pump(rated_rpm: Option<f64>, rated_hz: Option<f64>, maximum_hz: Option<f64>) -> Pump {
    Pump {
        name: "P-1".into(),
        rated_speed: rated_rpm.map(ShaftSpeed::rpm),
        rated_frequency: rated_hz.map(Frequency::hz),
        maximum_frequency: maximum_hz.map(Frequency::hz),
        minimum_allowed_speed: None,
        motor: MotorKind::Induction,
        best_efficiency_flow: None,
        motor_power: Some(Power::kw(5.5)),
        motor_efficiency: Some(0.9),
        drive_efficiency: Some(0.97),
        curves: vec![TestedCurve {
            speed: Fraction::of_one(1.0),
            power_is: PowerIs::DriveInput,
            tolerance: None,
            head_flow_m3h: vec![0.0, 25.0, 50.0, 75.0, 100.0],
            head_kpa: vec![120.0, 118.0, 108.0, 86.0, 48.0],
            power_flow_m3h: vec![0.0, 25.0, 50.0, 75.0, 100.0],
            power_kw: vec![1.9, 2.9, 3.7, 4.2, 4.3],
        }],
    }
}

fn point(unit: Option<&str>, percent_of: Option<PercentOf>) -> Point {
    Point {
        name: "P1 speed".into(),
        file: None,
        sheet: None,
        role: Role::PumpSpeed,
        of: Some("P-1".into()),
        unit: unit.map(|u| units::unit(u).unwrap()),
        accuracy: None,
        noise: None,
        percent_of,
        scale: 1.0,
        offset: 0.0,
        range: None,
        power_is: None,
        computed_from: Vec::new(),
        on: Vec::new(),
        line: 1,
    }
}

/// Readings that wander over `low` to `high` and are held at `high` for a fifth of the time.
fn held(low: f64, high: f64) -> Vec<f64> {
    (0..1000).map(|i| if i % 5 == 0 { high } else { low + (high - low) * f64::from(i * 37 % 1000) / 1000.0 }).collect()
}

/// Readings that wander over `low` to `high` and stop nowhere.
fn loose(low: f64, high: f64) -> Vec<f64> {
    (0..1000).map(|i| low + (high - low) * (f64::from(i * 37 % 1000) / 999.0).powf(0.7)).collect()
}

fn scaled(values: &[f64], by: f64) -> Vec<f64> {
    values.iter().map(|v| v * by).collect()
}

/// Everything about one signal; what is not said is absent.
struct Case<'a> {
    pump: Pump,
    point: Option<Point>,
    maximum_speed: Option<f64>,
    unit: &'a str,
    values: Vec<f64>,
    /// The factor that makes a true speed of the readings, where head and power are trended.
    truth: Option<f64>,
}

impl Case<'_> {
    fn read(&self) -> Noticed<Option<SpeedMeaning>> {
        // Affinity: the pump runs where it makes 108 kPa and takes 3.7 kW at full speed.
        let truth = self.truth.unwrap_or(f64::NAN);
        let head: Vec<f64> = self.values.iter().map(|v| 108.0 * (v * truth).powi(2)).collect();
        let power: Vec<f64> = self.values.iter().map(|v| 3.7 * (v * truth).powi(3)).collect();
        let record = Record {
            readings: &self.values,
            running: &[],
            head: Some(&head),
            power: Some(&power),
            power_is: PowerIs::DriveInput,
        };
        let consistent = |factor: f64| disagreement(&self.pump, &record, factor);
        meaning(&Signal {
            pump: &self.pump,
            point: self.point.as_ref(),
            maximum_speed: self.maximum_speed,
            unit: self.unit,
            values: &self.values,
            running: &[],
            consistent: self.truth.is_some().then_some(&consistent),
        })
    }

    /// The factor, what it shows, and words of the notice (none: no notice).
    fn check(&self, name: &str, factor: Option<f64>, shows: Shows, said: Option<&str>) {
        let Noticed { value, notices } = self.read();
        let texts: Vec<&str> = notices.iter().map(|n| n.text.as_str()).collect();
        match factor {
            Some(factor) => {
                let found = value.unwrap_or_else(|| panic!("{name}: nothing, {texts:?}"));
                assert!((found.factor / factor - 1.0).abs() < 1e-9, "{name}: {found:?}, {texts:?}");
                assert_eq!(found.shows, shows, "{name}: {texts:?}");
            }
            None => assert_eq!(value, None, "{name}: {texts:?}"),
        }
        match said {
            Some(words) => assert!(texts.len() == 1 && texts[0].contains(words), "{name}: {texts:?}"),
            None => assert!(texts.is_empty(), "{name}: {texts:?}"),
        }
    }
}

fn case(pump: Pump, unit: &str, values: Vec<f64>) -> Case<'_> {
    Case { pump, point: None, maximum_speed: None, unit, values, truth: None }
}

/// A column in %: kept as readings over 100.
fn percent(pump: Pump, readings: &[f64], percent_of: Option<PercentOf>) -> Case<'static> {
    Case { point: Some(point(Some("%"), percent_of)), ..case(pump, "fraction", scaled(readings, 0.01)) }
}

const FOUR_POLE: Option<f64> = Some(1450.0);
const MAINS: Option<f64> = Some(50.0);

#[test]
fn hertz() {
    let frequency = Shows::Frequency;
    let declared = case(pump(None, Some(60.0), None), "Hz", held(25.0, 60.0));
    declared.check("declared", Some(1.0 / 60.0), frequency, None);
    // Declared 60 Hz wins over readings that stop at 50: the drive may be capped.
    case(pump(None, Some(60.0), None), "Hz", held(25.0, 50.0)).check("capped", Some(1.0 / 60.0), frequency, None);
    // 1450 rpm: 1500 at 50 Hz less 3.3 % of slip; 1800 at 60 Hz would be 19 %.
    case(pump(FOUR_POLE, None, None), "Hz", loose(20.0, 47.0)).check(
        "1450 rpm",
        Some(0.02),
        frequency,
        Some("a 50 Hz one"),
    );
    case(pump(Some(1750.0), None, None), "Hz", loose(20.0, 47.0)).check(
        "1750 rpm",
        Some(1.0 / 60.0),
        frequency,
        Some("a 60 Hz one"),
    );
    case(pump(None, None, None), "Hz", held(20.0, 50.0)).check(
        "plateau",
        Some(0.02),
        frequency,
        Some("stop at 50.0 Hz"),
    );
    case(pump(None, None, None), "Hz", loose(20.0, 57.0)).check(
        "above 50",
        Some(1.0 / 60.0),
        frequency,
        Some("60 Hz is taken"),
    );
    // A name plate that gives the synchronous speed: 60 * 50 / 2.
    case(pump(Some(1500.0), None, None), "Hz", loose(20.0, 47.0)).check(
        "1500 rpm",
        Some(0.02),
        frequency,
        Some("a 50 Hz one"),
    );
    // 47 Hz at most and nothing else known: 50 or 60 Hz could be full speed.
    case(pump(None, None, None), "Hz", loose(20.0, 47.0)).check("unknown", None, frequency, Some("rated_frequency"));
    // Head and power of full speed at 60 Hz settle it: 60 Hz read as 50 would be 1.44 times the head at 1.73 times the power.
    let mut told = case(pump(None, None, None), "Hz", loose(20.0, 47.0));
    told.truth = Some(1.0 / 60.0);
    told.check("settled by the table", Some(1.0 / 60.0), frequency, Some("60 Hz as full speed only"));
    let mut no_slip = case(pump(None, MAINS, None), "Hz", held(20.0, 50.0));
    no_slip.pump.motor = MotorKind::PermanentMagnet;
    no_slip.check("a motor without slip", Some(0.02), Shows::Shaft, None);
}

#[test]
fn revolutions() {
    let rated = Some(1.0 / 1450.0);
    case(pump(FOUR_POLE, None, None), "rpm", held(600.0, 1450.0)).check("shaft", rated, Shows::Shaft, None);
    case(pump(FOUR_POLE, None, None), "rpm", loose(600.0, 1300.0)).check("part speed", rated, Shows::Shaft, None);
    // 1500 = 60 * 50 / 2 pole pairs: an induction motor turns so without load only.
    case(pump(FOUR_POLE, None, None), "rpm", held(600.0, 1500.0)).check(
        "computed from the frequency",
        Some(1.0 / 1500.0),
        Shows::Frequency,
        Some("1500 rpm as the whole"),
    );
    // Near miss: 1490 is 0.7 % below synchronous, a lightly loaded shaft.
    case(pump(FOUR_POLE, None, None), "rpm", held(600.0, 1490.0)).check("light load", rated, Shows::Shaft, None);
    // Near miss: one reading beyond and no plateau is no computed speed.
    case(pump(FOUR_POLE, None, None), "rpm", loose(600.0, 1500.0)).check("overspeed", rated, Shows::Shaft, None);
    // 1800 belongs to 60 Hz, not to a 1450 rpm motor.
    case(pump(FOUR_POLE, None, None), "rpm", held(600.0, 1800.0)).check("other mains", rated, Shows::Shaft, None);
    // A name plate that gives the synchronous speed itself hides nothing.
    case(pump(Some(1500.0), None, None), "rpm", held(600.0, 1500.0)).check(
        "synchronous name plate",
        Some(1.0 / 1500.0),
        Shows::Shaft,
        None,
    );
    case(pump(None, None, None), "rpm", held(700.0, 1760.0)).check(
        "undeclared, stops at a rated speed",
        Some(1.0 / 1760.0),
        Shows::Shaft,
        Some("1760 rpm is full speed"),
    );
    case(pump(None, None, None), "rpm", held(700.0, 3000.0)).check(
        "undeclared, stops at a synchronous speed",
        Some(1.0 / 3000.0),
        Shows::Frequency,
        Some("3000 rpm is full speed"),
    );
    // 1305 = 90 % of 1450.
    let mut capped = case(pump(None, None, None), "rpm", held(700.0, 1305.0));
    capped.check("undeclared, no motor's speed", None, Shows::Shaft, Some("declare rated_speed"));
    capped.maximum_speed = Some(0.9);
    capped.check("undeclared but capped at 90 %", Some(1.0 / 1450.0), Shows::Shaft, Some("1450 rpm is full speed"));
    case(pump(None, None, None), "rpm", loose(700.0, 1440.0)).check(
        "undeclared, no plateau",
        None,
        Shows::Shaft,
        Some("declare rated_speed"),
    );
}

#[test]
fn percentages_as_declared() {
    let of = |percent_of| percent(pump(FOUR_POLE, MAINS, Some(60.0)), &held(30.0, 100.0), Some(percent_of));
    of(PercentOf::RatedSpeed).check("rated speed", Some(1.0), Shows::Shaft, None);
    of(PercentOf::RatedFrequency).check("rated frequency", Some(1.0), Shows::Frequency, None);
    of(PercentOf::MaximumFrequency).check("maximum frequency", Some(60.0 / 50.0), Shows::Frequency, None);
    // The rated frequency follows from 1450 rpm.
    percent(pump(FOUR_POLE, None, Some(60.0)), &held(30.0, 80.0), Some(PercentOf::MaximumFrequency)).check(
        "maximum frequency, rated one undeclared",
        Some(1.2),
        Shows::Frequency,
        Some("a 50 Hz one"),
    );
    // 100 % of 100 Hz on a 50 Hz motor: twice its speed.
    percent(pump(FOUR_POLE, MAINS, Some(100.0)), &held(30.0, 100.0), Some(PercentOf::MaximumFrequency)).check(
        "absurd",
        Some(2.0),
        Shows::Frequency,
        Some("200 % of rated speed"),
    );
    // Readings are Hz (50.0 is full speed) although declared: said, not changed.
    let mut wrong = percent(pump(FOUR_POLE, MAINS, None), &held(25.0, 50.0), Some(PercentOf::RatedSpeed));
    wrong.truth = Some(2.0);
    wrong.check("declared against the table", Some(1.0), Shows::Shaft, Some("contradict its declared percent_of"));
    let mut right = percent(pump(FOUR_POLE, MAINS, None), &held(25.0, 50.0), Some(PercentOf::RatedSpeed));
    right.truth = Some(1.0);
    right.check("declared with the table", Some(1.0), Shows::Shaft, None);
}

#[test]
fn percent_that_is_hertz() {
    let us = || pump(Some(1750.0), None, None);
    let mut hz = percent(us(), &held(25.0, 60.0), None);
    hz.check("no evidence", Some(1.0), Shows::Either, Some("could be in Hz"));
    hz.truth = Some(100.0 / 60.0);
    hz.check("head and power of full speed", Some(100.0 / 60.0), Shows::Frequency, Some("as Hz only"));
    let mut capped = percent(us(), &held(25.0, 60.0), None);
    capped.truth = Some(1.0);
    capped.check("head and power of 60 %", Some(1.0), Shows::Either, None);
    // Near miss: it holds 60 % all month, and nothing says otherwise.
    percent(us(), &[60.0; 1000], None).check("constant 60 %", Some(1.0), Shows::Either, None);
    let mut constant = percent(us(), &[60.0; 1000], None);
    constant.truth = Some(1.0);
    constant.check("constant 60 %, by its head", Some(1.0), Shows::Either, None);
    // Near miss: the controller's own cap explains the plateau.
    let mut set = percent(us(), &held(25.0, 50.0), None);
    set.maximum_speed = Some(0.5);
    set.check("maximum_speed = 50 %", Some(1.0), Shows::Either, None);
    // Near misses: other values, a floor below any drive's, no plateau.
    percent(us(), &held(25.0, 62.0), None).check("62", Some(1.0), Shows::Either, None);
    percent(us(), &held(4.0, 60.0), None).check("a floor of 4", Some(1.0), Shows::Either, None);
    percent(us(), &loose(25.0, 60.0), None).check("no plateau", Some(1.0), Shows::Either, None);
    // However many rows: without a plateau the highest thousandth holds no more than the next.
    let dense: Vec<f64> = (0..40_000).map(|i| 25.0 + 35.0 * f64::from(i) / 39_999.0).collect();
    percent(us(), &dense, None).check("dense, no plateau", Some(1.0), Shows::Either, None);
    // No unit at all, readings kept as they are: first a percentage, then hertz where the table says so.
    let bare = || case(us(), "fraction", held(25.0, 60.0));
    assert_eq!(bare().read().value, Some(SpeedMeaning { factor: 0.01, shows: Shows::Either }));
    let read = Case { truth: Some(1.0 / 60.0), ..bare() }.read();
    let expected = SpeedMeaning { factor: 1.0 / 60.0, shows: Shows::Frequency };
    let found = read.value.unwrap();
    assert!((found.factor / expected.factor - 1.0).abs() < 1e-9 && found.shows == expected.shows, "{found:?}");
}

#[test]
fn fractions_and_percentages() {
    let plain = || pump(FOUR_POLE, MAINS, None);
    percent(plain(), &held(30.0, 100.0), None).check("percent", Some(1.0), Shows::Either, None);
    percent(plain(), &held(0.3, 1.0), None).check(
        "% up to 1.0",
        Some(100.0),
        Shows::Either,
        Some("taken as a fraction"),
    );
    percent(plain(), &held(0.3, 1.2), None).check(
        "% up to 1.2",
        Some(100.0),
        Shows::Either,
        Some("taken as a fraction"),
    );
    case(plain(), "fraction", held(30.0, 100.0)).check(
        "a fraction up to 100",
        Some(0.01),
        Shows::Either,
        Some("taken as %"),
    );
    case(plain(), "fraction", held(0.3, 1.1)).check("a fraction", Some(1.0), Shows::Either, None);
    // 0 to 10 V or 4 to 20 mA without a range: unknown.
    case(plain(), "fraction", held(3.0, 10.0)).check("volts", None, Shows::Either, Some("range"));
    case(plain(), "fraction", held(6.0, 20.0)).check("milliamperes", None, Shows::Either, Some("range"));
    // Hardly a reading: as declared, and nothing is said.
    percent(plain(), &[0.0, 0.0, 40.0], None).check("three rows", Some(1.0), Shows::Either, None);
    percent(plain(), &[f64::NAN; 50], None).check("nothing", Some(1.0), Shows::Either, None);
}

#[test]
fn percent_of_the_maximum_frequency_undeclared() {
    let fast = || pump(FOUR_POLE, MAINS, Some(60.0));
    percent(fast(), &held(30.0, 83.0), None).check("unknown", Some(1.0), Shows::Either, Some("% of rated speed"));
    let told = |truth: f64| Case { truth: Some(truth), ..percent(fast(), &held(30.0, 83.0), None) };
    told(1.2).check("of maximum", Some(1.2), Shows::Frequency, Some("maximum frequency of 60 Hz only"));
    told(1.0).check("of rated", Some(1.0), Shows::Either, None);
    // 110 % cannot be a share of the maximum.
    percent(fast(), &held(30.0, 110.0), None).check("above the whole", Some(1.0), Shows::Either, None);
}

/// The record against the table: at 80 % speed and 40 m3/h, 0.64 * 108 kPa and 0.512 * 3.7 kW lie on it; 1.44 times the head at the
/// same speed lies 1.296 - 1 = 30 % of shut-off above it, five standard deviations of 6 %.
#[test]
fn distance_from_the_table() {
    let p = pump(FOUR_POLE, MAINS, None);
    let readings = [0.8; 10];
    let of = |head: f64, power: Option<f64>| {
        let (head, power) = ([head; 10], power.map(|p| [p; 10]));
        let record = Record {
            readings: &readings,
            running: &[],
            head: Some(&head),
            power: power.as_ref().map(<[f64; 10]>::as_slice),
            power_is: PowerIs::DriveInput,
        };
        disagreement(&p, &record, 1.0)
    };
    assert!(of(0.64 * 108.0, Some(0.512 * 3.7)).unwrap() < 0.1);
    let above = of(0.64 * 1.296 * 120.0, None).unwrap();
    assert!((above - 0.296 / 0.06).abs() < 0.01, "{above}");
    assert_eq!(of(f64::NAN, None), None);
}
