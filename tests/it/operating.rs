//! Operating points from a handful of rows: what is measured, what is concluded, what stays unknown.

use offcurve::ingest;
use offcurve::notice::Noticed;
use offcurve::operating::field::Field;
use offcurve::operating::learn::{Learned, Weighted};
use offcurve::operating::model::{COMMON, Common, Hour, Made, Prior, PumpModel, Setting, error};
use offcurve::operating::noise::Noise;
use offcurve::operating::posterior::{Estimator, Said, Silent};
use offcurve::operating::witness::Row;
use offcurve::operating::{self, Basis, PumpPoints, State};
use offcurve::plant::{self, PowerIs};
use offcurve::screening;
use std::path::Path;

/// Example pump E1 of the reference numbers (tests/reference): flow 0 to 100 m3/h, head 30 to 12 m taken as kPa for plain numbers,
/// shaft power 1.9 to 4.3 kW, read at the shaft; no slip, so that table and readings are the same thing.
const PLANT: &str = r#"
units = "SI"
[site]
timezone = "UTC"
[loop]
service = "chilled-water"
[[pump]]
name = "P-1"
motor = "permanent-magnet"
motor_power = "5.5 kW"
[[pump.curve]]
speed = "100 %"
power_is = "shaft"
flow = { unit = "m3/h", values = [0, 25, 50, 75, 100] }
head = { unit = "kPa", values = [120, 118, 108, 86, 48] }
power = { unit = "kW", values = [1.9, 2.9, 3.7, 4.2, 4.3] }
[trends]
files = ["x.csv"]
[[point]]
name = "S"
role = "pump-speed"
of = "P-1"
unit = "%"
"#;

/// Priors small enough that readings alone decide.
fn exact() -> Prior {
    Prior {
        head_table: [1e-4; 4],
        power_table: [1e-4; 4],
        head_gain: 1e-4,
        head_zero: 1e-3,
        power_gain: 1e-4,
        loss: [1e-4; 2],
        low_load: 1e-4,
        low_load_mean: 0.0,
        proportional_loss: false,
        loss_speed: 1e-4,
        drift: 1e-4,
        drift_low_mean: 1.0,
        drift_low: 1e-4,
        slip_mean: 0.0,
        slip: 0.0,
        header: 0.0,
        header_mean: 0.0,
        meter_gain: 1e-3,
        meter_zero: 1e-3,
        heat_gain: 0.02,
        heat_pair: 0.2,
        pipe_mean: 0.0,
        pipe: 0.0,
        remote_gain: 0.0,
        remote_zero: 0.0,
        model_head: 1e-4,
        model_power: 1e-4,
    }
}

fn model(prior: Prior) -> PumpModel {
    let plant = plant::parse(PLANT, Path::new("e1/plant.toml")).unwrap_or_else(|e| panic!("{e}")).value;
    PumpModel::new(&plant.pumps[0], prior, Setting { power_is: PowerIs::Shaft, no_chain: true, ..Setting::PLAIN })
        .expect("a pump with a table")
}

const NONE: Common = [0.0; COMMON];

/// Head 0.5 %, power 1 %, meter 1 % of the reading and a little more.
const NOISE: Noise = Noise { of: [(0.005, 0.1), (0.01, 0.01), (0.01, 0.1), (0.02, 0.1), (0.005, 0.1)], delta_t: 0.07 };

fn say(model: &PumpModel, row: Row) -> Result<Said, Silent> {
    let field = Field::new(model, &Learned::prior(model));
    Estimator { field: &field, noise: NOISE, has_power: model.has_power() }.say(&row)
}

fn row(speed: f64, head: f64, power: f64, meter: f64) -> Row {
    Row::new(speed, head, power, meter)
}

fn makes(model: &PumpModel, q: f64, speed: f64) -> Made {
    model.makes(q, speed, Hour::DESIGN, &NONE)
}

const NOT: f64 = f64::NAN;

#[test]
fn a_model_is_finite_over_its_table() {
    let m = model(exact());
    for i in 0..=20 {
        for j in 1..=12 {
            let shown = makes(&m, f64::from(i) / 20.0 * m.q_max, f64::from(j) / 10.0);
            assert!(shown.head.is_finite() && shown.power.is_finite(), "{i} {j}: {shown:?}");
        }
    }
    assert!((m.q_max - 100.0).abs() < 1e-9);
}

/// Each row: what is measured, and where the flow must lie. Head and power come from the table by the affinity laws by hand:
/// at 80 % speed and 40 m3/h (50 at full speed) head is 0.64 * 108 = 69.12 kPa.
#[test]
fn flow_is_where_the_readings_put_it() {
    let m = model(exact());
    let at = |flow: f64, speed: f64| makes(&m, flow / speed, speed);
    assert!((at(40.0, 0.8).head - 69.12).abs() < 0.02, "affinity: head goes as speed squared");
    // Efficiency at full speed is 50 * 108 / 3600 / 3.7 = 0.4054; at 80 % 1 - 0.5946 * 1.25^0.1 = 0.3920 (Sarbu and Borza), so power is
    // 0.512 * 3.7 * 0.4054 / 0.3920 = 1.9594 kW.
    assert!((at(40.0, 0.8).power - 1.9594).abs() < 1e-3, "{}", at(40.0, 0.8).power);
    let check = |name: &str, reading: Row, low: f64, high: f64| {
        let said = say(&m, reading).unwrap_or_else(|e| panic!("{name}: {e:?}"));
        assert!(low <= said.flow && said.flow <= high, "{name}: {said:?}");
        assert!(said.low <= said.flow && said.flow <= said.high, "{name}: {said:?}");
        said
    };
    let point = at(40.0, 0.8);
    check("head and power", row(0.8, point.head, point.power, NOT), 39.0, 41.0);
    check("power alone", row(0.8, NOT, point.power, NOT), 38.0, 42.0);
    check("head alone", row(0.8, point.head, NOT, NOT), 38.0, 42.0);
    check("a meter alone", row(0.8, NOT, NOT, 40.0), 39.5, 40.5);
    // Past 75 m3/h the power curve is nearly flat: power alone leaves a wide interval there, and says so.
    let flat = at(90.0, 1.0);
    let wide = check("power on the flat", row(1.0, NOT, flat.power, NOT), 70.0, 100.0);
    let narrow = check("head and power on the flat", row(1.0, flat.head, flat.power, NOT), 88.0, 92.0);
    assert!(wide.high - wide.low > 4.0 * (narrow.high - narrow.low), "{wide:?} against {narrow:?}");
}

#[test]
fn rows_that_cannot_be_known_say_why() {
    let m = model(exact());
    assert_eq!(say(&m, row(0.8, NOT, NOT, NOT)).err(), Some(Silent::NothingMeasured));
    // 160 kPa is above the pump's shut-off head of 120: no flow makes it.
    assert_eq!(say(&m, row(1.0, 160.0, NOT, NOT)).err(), Some(Silent::OutsideTable));
    // Head says 25 m3/h, power says 75: they contradict each other by far more than noise.
    let contradiction = say(&m, row(1.0, 118.0, 4.2, NOT));
    assert_eq!(contradiction.err(), Some(Silent::MeasurementsDisagree), "{contradiction:?}");
}

/// With real priors an interval is wider than with exact ones, and most of it is common to all rows.
#[test]
fn common_errors_widen_every_interval() {
    let real = Prior {
        head_table: [0.02, 0.012, 0.006, 0.003],
        power_table: [0.03, 0.02, 0.012, 0.006],
        power_gain: 0.02,
        head_gain: 0.01,
        ..exact()
    };
    let (sharp, doubtful) = (model(exact()), model(real));
    let point = makes(&sharp, 50.0, 0.8);
    let reading = row(0.8, point.head, point.power, NOT);
    let (a, b) = (
        say(&sharp, reading).unwrap_or_else(|e| panic!("{e:?}")),
        say(&doubtful, reading).unwrap_or_else(|e| panic!("{e:?}")),
    );
    assert!(b.high - b.low > 1.3 * (a.high - a.low), "{a:?} against {b:?}");
    assert!(b.sd_common > 0.7 * (b.high - b.low) / 3.92, "{b:?}");
}

/// The record teaches a sensor's scale where head and power over-determine the point: a head reading 3 % high in every row is mostly
/// taken back when the table is trusted.
#[test]
fn the_record_teaches_a_sensor_scale() {
    let prior = Prior { head_gain: 0.03, ..exact() };
    let m = model(prior);
    let rows: Vec<Row> = (0..400)
        .map(|i| {
            let (speed, q) = (0.6 + 0.001 * f64::from(i), 30.0 + 40.0 * f64::from(i % 20) / 20.0);
            let s = makes(&m, q, speed);
            row(speed, 1.03 * s.head, s.power, NOT)
        })
        .collect();
    let rows: Vec<Weighted> = rows.into_iter().enumerate().map(|(at, row)| Weighted { row, weight: 1.0, at }).collect();
    let cells = offcurve::operating::learn::gather(&m, &rows, &NOISE);
    let learned = offcurve::operating::learn::learn(&m, &cells, &NOISE);
    // One prior standard deviation is 3 %.
    assert!(
        (0.6..1.2).contains(&learned.common[error::HEAD_GAIN]),
        "head scale {:?}",
        learned.common[error::HEAD_GAIN]
    );
    assert!(
        learned.covariance[error::HEAD_GAIN][error::HEAD_GAIN] < 0.5,
        "{}",
        learned.covariance[error::HEAD_GAIN][error::HEAD_GAIN]
    );
    // There is no flow meter: what was known of one stays known, no more and no less.
    assert_eq!(learned.common[error::METER_GAIN], 0.0);
    assert_eq!(learned.covariance[error::METER_GAIN][error::METER_GAIN], 1.0);
    assert_eq!(learned.covariance[error::METER_GAIN][error::HEAD_GAIN], 0.0);
}

/// Each row: a flow, a head, and the speed for it by the affinity laws by hand: 108 kPa at 50 m3/h and full speed are 69.12 kPa at 40 m3/h and 80 %. The
/// pump's table ends at 100 m3/h, so that 40 m3/h need 40 % at least, however little head is asked; no drive runs it at three times its speed.
#[test]
fn a_duty_has_its_speed() {
    let m = model(exact());
    let speed = |flow: f64, head: f64| m.speed_for(flow, head, &NONE);
    for (flow, head, expected) in [(50.0, 108.0, 1.0), (40.0, 69.12, 0.8), (60.0, 155.52, 1.2), (40.0, 0.0, 0.4)] {
        let found = speed(flow, head).unwrap_or(f64::NAN);
        assert!((found - expected).abs() < 1e-5, "{flow} m3/h at {head} kPa: {found}, not {expected}");
    }
    assert_eq!(speed(50.0, 9.0 * 108.0), None);
    // At every other duty of the table the speed that was asked for comes back.
    for i in 1..20 {
        for j in 3..=12 {
            let (q, s) = (f64::from(i) * 5.0, f64::from(j) / 10.0);
            let found = speed(q * s, makes(&m, q, s).head).unwrap_or(f64::NAN);
            assert!((found - s).abs() < 1e-5, "{q} m3/h reduced at {s}: {found}");
        }
    }
}

/// The same plant with everything trended.
const TRENDED: &str = r#"
[[point]]
name = "H"
role = "pump-head"
of = "P-1"
unit = "kPa"
[[point]]
name = "P"
role = "pump-power"
of = "P-1"
unit = "kW"
power_is = "shaft"
[[point]]
name = "R"
role = "pump-status"
of = "P-1"
"#;

/// What stands in one row of the export: speed [%], head [kPa], power [kW].
type Cells = [String; 3];

/// Two days of five minutes through the stages, the pump running all the time; `break_row` spoils the cells of a row.
fn through_the_stages(text: &str, break_row: impl Fn(usize, &mut Cells)) -> (PumpPoints, Vec<String>) {
    let m = model(exact());
    let mut csv = String::from("Time,S,H,P,R\n");
    for i in 0..576 {
        let (speed, q) = (0.6 + 0.0005 * f64::from(i), 45.0 + 20.0 * (f64::from(i) / 40.0).sin());
        let made = makes(&m, q, speed);
        let mut cells = [format!("{:.2}", 100.0 * speed), format!("{:.3}", made.head), format!("{:.4}", made.power)];
        break_row(i as usize, &mut cells);
        let (day, minute) = (2 + i / 288, i % 288 * 5);
        csv += &format!("2026-03-{day:02} {:02}:{:02},{},On\n", minute / 60, minute % 60, cells.join(","));
    }
    let plant = plant::parse(text, Path::new("e1/plant.toml")).unwrap_or_else(|e| panic!("{e}")).value;
    let files = [("x.csv".to_owned(), csv.as_bytes())];
    let trends = ingest::from_bytes(&plant, &files).unwrap_or_else(|e| panic!("{e}"));
    let screened = screening::screen(&plant, trends.value).value;
    let Noticed { mut value, notices } = operating::reconstruct(&plant, &screened);
    (value.points.pumps.remove(0), trends.notices.into_iter().chain(notices).map(|n| n.text).collect())
}

/// How many running rows the notices with these words count.
fn counted(notices: &[String], words: &str) -> usize {
    let of = |n: &&String| n.contains("running rows") && n.contains(words);
    let number = |n: &String| n.trim_start_matches("P-1: ").split(' ').next().and_then(|w| w.parse::<usize>().ok());
    notices.iter().filter(of).filter_map(number).sum()
}

/// Four rows in a hundred of each kind are spoiled: none of them has a flow, and each is counted under its reason. At 60 to 89 % of speed the pump
/// makes 43 kPa to 95 kPa at most, so 200 kPa is none of its heads.
#[test]
fn what_cannot_be_has_no_flow_and_is_counted() {
    let text = format!("{PLANT}{TRENDED}");
    let check = |name: &str, spoil: &dyn Fn(&mut Cells), reason: &str| {
        let spoiled = |i: usize| i % 25 == 10;
        let (pump, notices) = through_the_stages(&text, |i, cells| {
            if spoiled(i) {
                spoil(cells);
            }
        });
        let mut rows = 0;
        for i in 0..pump.state.len() {
            if spoiled(i) {
                rows += 1;
                assert!(
                    pump.flow_m3h[i].is_nan() && pump.flow_low_m3h[i].is_nan(),
                    "{name}, row {i}: {:?} {}",
                    pump.basis[i],
                    pump.flow_m3h[i]
                );
                assert_ne!(pump.state[i], State::Off, "{name}, row {i}");
            } else {
                assert!(pump.flow_m3h[i].is_finite(), "{name}, sound row {i}: {:?}, {notices:?}", pump.basis[i]);
            }
        }
        assert_eq!(rows, 23);
        assert_eq!(counted(&notices, reason), rows, "{name}: {notices:?}");
    };
    let set = |k: usize, to: &'static str| move |cells: &mut Cells| cells[k] = to.to_owned();
    check("no speed", &set(0, ""), "speed is missing");
    check("a word for a speed", &set(0, "Bad"), "speed is missing");
    check("three times rated speed", &set(0, "300"), "speed is missing");
    check("faster than any drive", &set(0, "140"), "speed is not between 5 and 130 %");
    check(
        "head above shut-off, no power",
        &|c| (c[1], c[2]) = ("200".to_owned(), String::new()),
        "outside the pump's table",
    );
    check("head above shut-off against power", &set(1, "200"), "have no flow");
    check("power of another pump", &set(2, "9.5"), "contradict");
}

/// A row that has nothing but speed left is no measurement: what stands there says so, is wide, and is counted.
#[test]
fn a_row_with_nothing_but_speed_says_so() {
    let text = format!("{PLANT}{TRENDED}");
    let (pump, notices) = through_the_stages(&text, |i, cells| {
        if i % 25 == 10 {
            (cells[1], cells[2]) = ("Bad".to_owned(), "-5".to_owned());
        }
    });
    for i in (10..pump.state.len()).step_by(25) {
        assert_eq!(pump.basis[i], Basis::Speed, "row {i}");
        let [alone, measured] = [i, i + 1].map(|k| pump.flow_high_m3h[k] - pump.flow_low_m3h[k]);
        assert!(alone > 1.5 * measured, "row {i}: {alone} against {measured}");
    }
    assert_eq!(counted(&notices, "nothing but speed"), 23, "{notices:?}");
    assert_eq!(counted(&notices, "have no flow"), 0, "{notices:?}");
}

/// Speeds in % that nobody declared a unit for, and a fraction called a %, are the same speeds; each is said.
#[test]
fn a_speed_is_read_for_what_it_is() {
    let plain = format!("{PLANT}{TRENDED}");
    let (as_declared, _) = through_the_stages(&plain, |_, _| ());
    let same = |name: &str, text: &str, by: f64, said: &str| {
        let (pump, notices) = through_the_stages(text, |_, cells| {
            let value: f64 = cells[0].parse().unwrap();
            cells[0] = format!("{:.6}", value * by);
        });
        for (a, b) in pump.flow_m3h.iter().zip(&as_declared.flow_m3h) {
            assert!((a - b).abs() < 1e-3, "{name}: {a} and {b}");
        }
        assert!(notices.iter().any(|n| n.contains(said)), "{name}: {notices:?}");
    };
    same("% without a unit", &plain.replacen("unit = \"%\"\n", "", 1), 1.0, "are %, and were taken so");
    same("a fraction called %", &plain, 0.01, "so it is taken as a fraction");
}

/// With one common error moved, a duty worked from where that error first plays a part is the duty worked anew, bit for bit: as tested at the shaft and at
/// the drive's input, with slip, and for a fluid thick enough to slow the pump.
#[test]
fn a_moved_error_is_worked_from_where_it_plays_a_part() {
    let wide = Prior {
        head_table: [0.02; 4],
        power_table: [0.03; 4],
        loss: [0.2; 2],
        low_load: 0.3,
        low_load_mean: 0.5,
        loss_speed: 0.3,
        drift: 0.3,
        drift_low: 0.3,
        slip_mean: 0.5,
        slip: 0.3,
        header: 0.1,
        header_mean: 0.1,
        ..exact()
    };
    let induction = "motor = \"induction\"\nrated_speed = \"1450 rpm\"\nrated_frequency = \"50 Hz\"";
    let (mut pumps, mut compared) = (0, 0);
    for (motor, place, viscosity_cst) in [
        ("motor = \"permanent-magnet\"", "shaft", f64::NAN),
        (induction, "shaft", f64::NAN),
        (induction, "drive-input", f64::NAN),
        (induction, "shaft", 40.0),
    ] {
        let text = PLANT
            .replace("motor = \"permanent-magnet\"", motor)
            .replace("power_is = \"shaft\"", &format!("power_is = \"{place}\""));
        let plant = plant::parse(&text, Path::new("e1/plant.toml")).unwrap_or_else(|e| panic!("{e}")).value;
        let setting = Setting { viscosity_cst, ..Setting::PLAIN };
        let model = PumpModel::new(&plant.pumps[0], wide, setting).expect("a pump with a table");
        pumps += usize::from(model.slips()) + usize::from(model.thickens());
        let hour = Hour { density: 0.99, thicker: 0.1 };
        let c: Common = std::array::from_fn(|k| 0.1 * k as f64 - 1.0);
        for (q, speed) in [(0.0, 0.4), (31.0, 0.55), (74.0, 0.8), (99.0, 1.0)] {
            let working = model.working(q, speed, hour, &c);
            assert_eq!(working.duty, model.duty(q, speed, hour, &c));
            let denser = Hour { density: 1.02, ..hour };
            assert_eq!(model.denser(&working, 1.02, &c), model.duty(q, speed, denser, &c));
            for k in 0..COMMON {
                let mut moved = c;
                moved[k] += 0.5;
                assert_eq!(model.moved(&working, k, &moved), model.duty(q, speed, hour, &moved), "error {k}");
                compared += usize::from(model.duty(q, speed, hour, &moved) != working.duty);
            }
        }
    }
    // Both kinds of pump are among them, and the errors do something.
    assert_eq!(pumps, 4);
    assert!(compared > 200, "{compared}");
}
