//! Operating points from a handful of rows: what is measured, what is concluded, what stays unknown.

use offcurve::operating::field::Field;
use offcurve::operating::learn::{Learned, Weighted};
use offcurve::operating::model::{COMMON, Common, Hour, Made, Prior, PumpModel, Setting, error};
use offcurve::operating::noise::Noise;
use offcurve::operating::posterior::{Estimator, Said, Silent};
use offcurve::operating::witness::Row;
use offcurve::plant::{self, PowerIs};
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
}
