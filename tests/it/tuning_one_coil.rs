//! A loop of one coil: the record is reckoned here by a square-root valve on a pipe of Hazen and Williams (exponent 1.852), not by the loop that the program learns.

use offcurve::plant;
use offcurve::tuning::Tuning;
use offcurve::{ingest, pipeline};
use std::fmt::Write;

/// Head held at the pump, far above what the coil needs [kPa].
const HELD: f64 = 180.0;
/// Flow of the coil and of the loop at full load [m3/h].
const FULL: f64 = 24.0;

pub const PLANT: &str = r#"
[site]
timezone = "UTC"
[loop]
service = "chilled-water"
design_flow = "24 m3/h"
design_head = "180 kPa"
[[coil]]
name = "AHU-1"
design_flow = "24 m3/h"
valve = "two-way"
characteristic = "equal-percentage"
[control]
mode = "constant-pressure"
setpoint = "180 kPa"
minimum_speed = "25 %"
[[pump]]
name = "P-1"
rated_speed = "2900 rpm"
minimum_allowed_speed = "25 %"
motor_power = "3 kW"
[[pump.curve]]
speed = "100 %"
power_is = "shaft"
flow  = { unit = "m3/h", values = [0, 6, 12, 18, 24, 30] }
head  = { unit = "kPa",  values = [240, 237, 228, 213, 192, 165] }
power = { unit = "kW",   values = [0.75, 1.0, 1.3, 1.6, 1.85, 2.05] }
[trends]
files = ["t.csv"]
[[point]]
name = "speed"
role = "pump-speed"
of = "P-1"
unit = "%"
[[point]]
name = "power"
role = "pump-power"
of = "P-1"
unit = "kW"
power_is = "shaft"
[[point]]
name = "dp"
role = "differential-pressure"
unit = "kPa"
[[point]]
name = "flow"
role = "loop-flow"
unit = "m3/h"
[[point]]
name = "valve"
role = "valve-position"
of = "AHU-1"
unit = "%"
"#;

/// Resistance of pipe and coil at full flow, and of the valve wide open [kPa].
const PIPE: f64 = 55.0;
const VALVE: f64 = 30.0;

/// Four weeks at a quarter of an hour; the load swings by day and wanders by week.
fn export() -> (String, f64) {
    with_bypass(|_, flow| flow)
}

/// The same where the loop takes another flow than the coil: by quarter of the day and the coil's flow [m3/h], the loop's.
pub fn with_bypass(passes: impl Fn(i32, f64) -> f64) -> (String, f64) {
    let mut csv = String::from("time,speed,power,dp,flow,valve\n");
    let mut most: f64 = 0.0;
    for i in 0..28 * 96 {
        let (day, hour) = (f64::from(i) / 96.0, f64::from(i % 96) / 4.0);
        let swing = 0.5 - 0.5 * (std::f64::consts::TAU * (hour - 3.0) / 24.0).cos();
        let flow = FULL * (0.22 + (0.55 + 0.15 * (day / 4.0).sin()) * swing);
        let pipe = PIPE * (flow / FULL).powf(1.852);
        // A valve of rangeability 50: 1 at wide open.
        let open = flow / FULL * (VALVE / (HELD - pipe)).sqrt();
        let valve = 1.0 + open.ln() / 50f64.ln();
        most = most.max(pipe + VALVE * (flow / FULL).powi(2) / 50f64.powf(-0.2));
        let flow = passes(i % 96, flow);
        let ratio = ((HELD + 240.0 / 2700.0 * flow * flow) / 240.0).sqrt();
        let at = flow / ratio;
        let shaft = (0.75 + 0.0455 * at - 0.0001 * at * at) * ratio.powi(3);
        let date = 1 + i / 96;
        let (h, m) = (i % 96 / 4, i % 4 * 15);
        writeln!(
            csv,
            "2026-06-{date:02} {h:02}:{m:02},{:.2},{shaft:.3},{HELD:.1},{flow:.2},{:.1}",
            100.0 * ratio,
            100.0 * valve
        )
        .expect("a string takes all");
    }
    (csv, most)
}

/// The answer for a plant file and its export.
pub fn tuned(plant: &str, csv: &str) -> Tuning {
    let plant =
        plant::parse(plant, std::path::Path::new("one-coil/plant.toml")).unwrap_or_else(|e| panic!("{e}")).value;
    let trends = ingest::from_bytes(&plant, &[("t.csv".into(), csv.as_bytes())]).unwrap_or_else(|e| panic!("{e}"));
    pipeline::review(plant, trends, None).unwrap_or_else(|e| panic!("{e}")).tuning
}

/// One coil is the neediest in every row, and the setting comes down to what it needs, no further.
#[test]
fn one_coil_sets_the_head() {
    let (csv, most) = export();
    match &tuned(PLANT, &csv) {
        Tuning::Proposed(r) => {
            let proposed =
                r.proposed.design_head.or(r.proposed.setpoint).or(r.proposed.zero_flow_head).expect("a setting");
            assert!(proposed.in_kpa() < HELD, "{r:?}");
            assert!(proposed.in_kpa() > 0.9 * most, "{} under what the coil needed, {most}", proposed.in_kpa());
            assert!(r.saving_fraction.estimate > 0.1, "{:?}", r.saving_fraction);
        }
        Tuning::Refused { why, .. } => panic!("{why}"),
    }
}
