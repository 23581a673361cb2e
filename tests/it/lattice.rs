//! A long record's points lie between corners that were worked out: held here, row by row, against the posterior of the row itself.

use offcurve::ingest;
use offcurve::operating::lattice::{MANY, STRAIGHT};
use offcurve::operating::{self, State, witness::Row};
use offcurve::plant;
use offcurve::screening;
use std::fmt::Write as _;
use std::path::Path;

/// Eighty days by the minute: more rows than are worked out one by one.
const ROWS: usize = 115_200;

/// An induction motor whose power may be taken anywhere, so that several models are weighed; `{has}` is what the record has beside speed.
fn plant_file(motor: &str, points: &str) -> String {
    format!(
        r#"
units = "SI"
[site]
timezone = "UTC"
[loop]
service = "chilled-water"
[[pump]]
name = "P-1"
motor = "{motor}"
motor_power = "5.5 kW"
rated_speed = "1450 rpm"
rated_frequency = "50 Hz"
[[pump.curve]]
speed = "100 %"
power_is = "shaft"
flow = {{ unit = "m3/h", values = [0, 25, 50, 75, 100] }}
head = {{ unit = "kPa", values = [120, 118, 108, 86, 48] }}
power = {{ unit = "kW", values = [1.9, 2.9, 3.7, 4.2, 4.3] }}
[trends]
files = ["x.csv"]
[[point]]
name = "S"
role = "pump-speed"
of = "P-1"
unit = "%"
percent_of = "rated-speed"
[[point]]
name = "R"
role = "pump-status"
of = "P-1"
{points}"#
    )
}

const HEAD: &str = "[[point]]\nname = \"H\"\nrole = \"pump-head\"\nof = \"P-1\"\nunit = \"kPa\"\n";
const POWER: &str = "[[point]]\nname = \"P\"\nrole = \"pump-power\"\nof = \"P-1\"\nunit = \"kW\"\n";

/// A duty that wanders over the whole table, and now and then a reading that no duty makes: rows of every kind.
fn export() -> String {
    let mut out = String::from("Time,S,H,P,R\n");
    let mut seed = 0x2545_f491_4f6c_dd1d_u64;
    let mut noise = move || {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        (seed >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    for i in 0..ROWS {
        let t = i as f64 / 1440.0;
        let speed = 0.68 + 0.27 * (0.9 * t).sin() + 0.02 * (41.0 * t).sin();
        // Reduced flow from 2 to 98 of 100 m3/h; heads and powers near the table's, by a parabola and a straight line of our own.
        let q = 50.0 + 48.0 * (1.7 * t + 0.3 * (23.0 * t).sin()).sin();
        let odd = if i % 97 == 0 { 1.12 } else { 1.0 };
        let head = (121.0 - 0.0073 * q * q) * speed * speed * odd * (1.0 + 0.01 * noise());
        let power = (2.3 + 0.026 * q) * speed.powi(3) / 0.86 * (1.0 + 0.015 * noise());
        let at = chrono::DateTime::UNIX_EPOCH + chrono::TimeDelta::minutes(29_538_720 + i as i64);
        let _ = writeln!(out, "{},{:.2},{head:.2},{power:.3},On", at.format("%Y-%m-%d %H:%M"), 100.0 * speed);
    }
    out
}

fn held(motor: &str, points: &str) {
    const { assert!(ROWS > MANY) };
    let plant = plant::parse(&plant_file(motor, points), Path::new("e1/plant.toml")).unwrap_or_else(|e| panic!("{e}"));
    let csv = export();
    let trends = ingest::from_bytes(&plant.value, &[("x.csv".to_owned(), csv.as_bytes())]);
    let screened = screening::screen(&plant.value, trends.unwrap_or_else(|e| panic!("{e}")).value).value;
    let done = operating::reconstruct(&plant.value, &screened).value;
    let (pump, machine) = (&done.points.pumps[0], &done.machines[0]);
    let of = |role| screened.values(role, Some("P-1"));
    let (speed, head, power) = (of(plant::Role::PumpSpeed), of(plant::Role::PumpHead), of(plant::Role::PumpPower));
    let reading = |column: Option<&[f64]>, i: usize| column.map_or(f64::NAN, |c| c[i]);
    let (mut rows, mut between, mut beyond, mut worst) = (0usize, 0usize, 0usize, 0.0f64);
    for i in 0..pump.state.len() {
        let noise = match pump.state[i] {
            State::Steady => machine.noise,
            State::Transient | State::Starting => machine.noise.widened(),
            State::Off | State::Unknown => continue,
        };
        let row = Row::new(reading(speed, i), reading(head, i), reading(power, i), f64::NAN);
        let Ok(exact) = machine.mixture.say(&row, noise) else {
            assert!(pump.flow_m3h[i].is_nan(), "row {i} has a flow that its own posterior denies");
            continue;
        };
        // Neighbours settle rows with two answers.
        if exact.peaks.is_some() || pump.flow_m3h[i].is_nan() {
            continue;
        }
        let half = 0.5 * (exact.high - exact.low);
        let off = |a: f64, b: f64| (a - b).abs() / half;
        let beside = off(pump.flow_m3h[i], exact.flow)
            .max(off(pump.flow_low_m3h[i], exact.low.max(0.0)))
            .max(off(pump.flow_high_m3h[i], exact.high));
        rows += 1;
        between += usize::from(beside > 0.0);
        beyond += usize::from(beside > 2.0 * STRAIGHT);
        worst = worst.max(beside);
    }
    println!("{rows} rows, {between} between corners, {beyond} beyond, worst {worst:.3} of half an interval");
    assert!(rows > ROWS / 2, "{rows} rows have one answer");
    assert!(5 * between > rows, "only {between} of {rows} rows came from the lattice");
    // The rest lies beside a jump of the posterior's own.
    assert!(beyond * 500 < rows, "{beyond} of {rows} rows lie beside their own posterior");
}

#[test]
fn points_between_corners_are_those_of_the_row_itself() {
    held("induction", &format!("{HEAD}{POWER}"));
}

#[test]
fn points_by_power_alone_are_those_of_the_row_itself() {
    held("permanent-magnet", POWER);
}

#[test]
fn points_by_head_alone_are_those_of_the_row_itself() {
    held("induction", HEAD);
}
