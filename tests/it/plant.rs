//! The plant file: what is read, what is refused and in which words.
//!
//! Wording is checked letter by letter, one change of a sound file a row. Numbers follow from arithmetic beside them;
//! densities are compared with IAPWS-IF97 and with tabulated glycols, clock changes with the directive that sets them.

use chrono::{NaiveDate, TimeZone, Utc};
use offcurve::plant::{
    self, Accuracy, ControlMode, Dimension, FluidKind, Plant, PowerIs, Role, Serves, Valve, density,
};
use offcurve::quantity::Temperature;
use std::path::Path;

/// A sound file; rows change one thing in it.
const BASE: &str = r#"units = "SI"

[site]
timezone = "Europe/Lisbon"

[loop]
service = "chilled-water"
fluid = "water"
design_flow = "68 m3/h"
design_head = "162 kPa"
supply_temperature = "6 degC"
return_temperature = "12 degC"
minimum_flow = "14 m3/h"
serves = "comfort"

[[source]]
name = "CH-1"
minimum_flow = "12 m3/h"
maximum_flow = "60 m3/h"

[[coil]]
name = "AHU-1"
design_flow = "17 m3/h"

[[coil]]
name = "AHU-8"
count = 3

[control]
mode = "quadratic"
zero_flow_head = "64 kPa"
setpoint_low = "40 kPa"
setpoint_high = "90 kPa"
sensor_at = "AHU-8"
minimum_speed = "35 %"
maximum_speed = "100 %"

[[control_history]]
until = "2026-02-11 19:00"
minimum_speed = "50 %"

[[schedule]]
days = "mon-fri"
from = "06:00"
to = "20:00"

[[pump]]
name = "P-1"
motor = "induction"
rated_speed = "1450 rpm"
motor_efficiency = 0.904

[[pump.curve]]
speed = "100 %"
power_is = "shaft"
flow = { unit = "m3/h", values = [0, 20, 40, 60, 80] }
head = { unit = "kPa", values = [210, 212, 202, 183, 150] }
power = { unit = "kW", values = [1.8, 2.6, 3.4, 4.1, 4.7] }

[[pump]]
name = "P-2"
motor = "induction"

[trends]
files = ["trends/*.csv"]
interval = "5 min"

[[point]]
name = "P1 SPEED"
role = "pump-speed"
of = "P-1"
unit = "%"

[[point]]
name = "CHWS"
role = "supply-temperature"
unit = "degC"
accuracy = "0.3 K"

[[point]]
name = "VLV 8"
role = "valve-position"
of = "AHU-8"
range = [0, 10]
"#;

fn changed(from: &str, to: &str) -> String {
    assert_eq!(BASE.matches(from).count(), 1, "a row must change one place: {from}");
    BASE.replacen(from, to, 1)
}

/// The changed file is refused in just these words.
#[track_caller]
fn check(from: &str, to: &str, wanted: &str) {
    match plant::parse(&changed(from, to), Path::new("plant.toml")) {
        Ok(_) => panic!("read without complaint: {to}"),
        Err(errors) => assert_eq!(errors.to_string(), wanted),
    }
}

#[track_caller]
fn parsed(text: &str) -> Plant {
    plant::parse(text, Path::new("north/plant.toml")).unwrap_or_else(|e| panic!("{e}")).value
}

/// What is said about a changed file that is read all the same.
#[track_caller]
fn notices(from: &str, to: &str) -> Vec<String> {
    let noticed = plant::parse(&changed(from, to), Path::new("plant.toml")).unwrap_or_else(|e| panic!("{e}"));
    noticed.notices.into_iter().map(|n| n.text).collect()
}

fn close(got: f64, wanted: f64) {
    assert!((got - wanted).abs() <= 1e-9 * wanted.abs().max(1.0), "{got}, not {wanted}");
}

fn ms(written: &str) -> i64 {
    let t = chrono::NaiveDateTime::parse_from_str(written, "%Y-%m-%d %H:%M").expect("a time");
    t.and_utc().timestamp_millis()
}

#[test]
fn refuses_syntax() {
    // Slips of TOML come in our own words, one a line.
    check(
        r#"name = "CHWS""#,
        r#"name = "a
b""#,
        r#"plant.toml:75: this line cannot be read, `name = "a`: texts stand in straight double quotes, opened and closed on one line
hint: name = "..."
plant.toml:76: this line cannot be read, `b"`: each line is a key, an equals sign and a value, or a table's name
hint: design_flow = "68 m3/h""#,
    );
    check(
        r#"name = "CHWS""#,
        r#"name = "CHWS"#,
        r#"plant.toml:75: this line cannot be read, `name = "CHWS`: texts stand in straight double quotes, opened and closed on one line
hint: name = "...""#,
    );
    check(
        r#"name = "CHWS""#,
        r#"name = "CHWS"
name = "CHWR""#,
        r#"plant.toml:76: this line cannot be read, `name = "CHWR"`: a key or table may stand only once
hint: # name = "CHWR"   # keep one of the two"#,
    );
    check(
        r#"name = "CHWS""#,
        r#"name CHWS"#,
        r#"plant.toml:75: this line cannot be read, `name CHWS`: each line is a key, an equals sign and a value, or a table's name
hint: design_flow = "68 m3/h""#,
    );
    check(
        r#"interval = "5 min""#,
        r#"interval = 5 min"#,
        r#"plant.toml:66: this line cannot be read, `interval = 5 min`: texts and quantities stand in double quotes
hint: interval = "5 min""#,
    );
    check(
        r#"files = ["trends/*.csv"]"#,
        r#"files = ["trends/*.csv" "b"]"#,
        r#"plant.toml:65: this line cannot be read, `files = ["trends/*.csv" "b"]`: a list stands in square brackets, its entries parted by commas
hint: files = ["...", "..."]"#,
    );
    // The remark behind a value is none of it.
    check(
        r#"interval = "5 min""#,
        r#"interval = 5 min   # the site's"#,
        r#"plant.toml:66: this line cannot be read, `interval = 5 min   # the site's`: texts and quantities stand in double quotes
hint: interval = "5 min""#,
    );
}

#[test]
fn refuses_site_and_loop() {
    // Chilled water returns warmer, heating water colder; the least flow is at most the design flow; there are two pumps.
    check(
        r#"units = "SI""#,
        r#"units = "si""#,
        r#"plant.toml:1: units is "si": it must be one of SI, IP
hint: units = "SI""#,
    );
    check(
        r#"[site]
timezone = "Europe/Lisbon""#,
        r#""#,
        r#"plant.toml: [site] is missing: a plant file needs [site], [loop], a [[pump]], [trends] and [[point]]s
hint: [site]
timezone = "Europe/Lisbon""#,
    );
    check(
        r#"timezone = "Europe/Lisbon""#,
        r#"timezone = "Europe/Lisbonn""#,
        r#"plant.toml:4: timezone in [site] is "Europe/Lisbonn": it must be a time zone written Region/City; the nearest is "Europe/Lisbon"
hint: timezone = "Europe/Lisbon""#,
    );
    check(
        r#"timezone = "Europe/Lisbon""#,
        r#"timezome = "Europe/Lisbon""#,
        r#"plant.toml:3: [site] has no timezone: local times in exports cannot be read without it
hint: timezone = "Europe/Lisbon"
plant.toml:4: unknown key "timezome" in [site]: the nearest known key is "timezone"
hint: timezone = "Europe/Lisbon""#,
    );
    check(
        r#"[site]"#,
        r#"[sit]"#,
        r#"plant.toml: [site] is missing: a plant file needs [site], [loop], a [[pump]], [trends] and [[point]]s
hint: [site]
timezone = "Europe/Lisbon"
plant.toml:3: unknown table "sit": the nearest known table is "site"
hint: [site]"#,
    );
    check(
        r#"service = "chilled-water""#,
        r#""#,
        r#"plant.toml:6: [loop] has no service: it says which side is warm, and so what a low temperature difference means
hint: service = "chilled-water"   # or heating-water, condenser-water"#,
    );
    check(
        r#"service = "chilled-water""#,
        r#"service = "chiled-water""#,
        r#"plant.toml:7: service in [loop] is "chiled-water": it must be one of chilled-water, heating-water, condenser-water
hint: service = "chilled-water""#,
    );
    check(
        r#"fluid = "water""#,
        r#"fluid = 3"#,
        r#"plant.toml:8: fluid in [loop] is the number 3: it must be a word in quotes
hint: fluid = "water""#,
    );
    check(
        r#"fluid = "water""#,
        r#"glycol_mass_fraction = 0.3
fluid = "water""#,
        r#"plant.toml:8: glycol_mass_fraction in [loop] is 0.3 and the fluid is water: water has no glycol in it
hint: fluid = "propylene-glycol"   # or glycol_mass_fraction = 0.0"#,
    );
    check(
        r#"fluid = "water""#,
        r#"glycol_mass_fraction = 0.0
fluid = "ethylene-glycol""#,
        r#"plant.toml:8: glycol_mass_fraction in [loop] is 0 and the fluid is ethylene-glycol: a glycol mixture has glycol in it
hint: glycol_mass_fraction = 0.3   # by mass, not by volume"#,
    );
    check(
        r#"fluid = "water""#,
        r#"glycol_mass_fraction = 35
fluid = "ethylene-glycol""#,
        r#"plant.toml:8: glycol_mass_fraction in [loop] is 35: it must be from 0 to 0.6, by mass
hint: glycol_mass_fraction = 0.3"#,
    );
    check(
        r#"design_flow = "68 m3/h""#,
        r#"desing_flow = "68 m3/h""#,
        r#"plant.toml:9: unknown key "desing_flow" in [loop]: the nearest known key is "design_flow"
hint: design_flow = "68 m3/h""#,
    );
    check(
        r#"design_flow = "68 m3/h""#,
        r#"design_flow = 68"#,
        r#"plant.toml:9: design_flow in [loop] is the number 68: a quantity stands in quotes, with its unit
hint: design_flow = "68 m3/h""#,
    );
    check(
        r#"design_flow = "68 m3/h""#,
        r#"design_flow = "68""#,
        r#"plant.toml:9: design_flow in [loop] is "68": a quantity ends with its unit
hint: design_flow = "68 m3/h""#,
    );
    check(
        r#"design_flow = "68 m3/h""#,
        r#"design_flow = "1,068 m3/h""#,
        r#"plant.toml:9: design_flow in [loop] is "1,068 m3/h": decimals take a point, thousands take nothing
hint: design_flow = "1068 m3/h"   # or "1.068 m3/h""#,
    );
    check(
        r#"design_flow = "68 m3/h""#,
        r#"design_flow = "68,5 m3/h""#,
        r#"plant.toml:9: design_flow in [loop] is "68,5 m3/h": decimals take a point, thousands take nothing
hint: design_flow = "68.5 m3/h""#,
    );
    check(
        r#"design_flow = "68 m3/h""#,
        r#"design_flow = "about 68 m3/h""#,
        r#"plant.toml:9: design_flow in [loop] is "about 68 m3/h": a quantity starts with a number
hint: design_flow = "68 m3/h""#,
    );
    check(
        r#"design_flow = "68 m3/h""#,
        r#"design_flow = "68 m3/hh""#,
        r#"plant.toml:9: design_flow in [loop] is "68 m3/hh": "m3/hh" is not a known unit; the nearest is "m3/h"
hint: design_flow = "68 m3/h""#,
    );
    check(
        r#"design_flow = "68 m3/h""#,
        r#"design_flow = "68 kPa""#,
        r#"plant.toml:9: design_flow in [loop] is "68 kPa": unit "kPa" measures a pressure, but a flow is needed
hint: design_flow = "68 m3/h""#,
    );
    check(
        r#"design_flow = "68 m3/h""#,
        r#"design_flow = "-68 m3/h""#,
        r#"plant.toml:9: design_flow in [loop] is "-68 m3/h": it must be from 0 to 100,000 m3/h
hint: design_flow = "68 m3/h""#,
    );
    check(
        r#"design_flow = "68 m3/h""#,
        r#"design_flow = "1e308 m3/s""#,
        r#"plant.toml:9: design_flow in [loop] is "1e308 m3/s": the number is too large
hint: design_flow = "68 m3/h""#,
    );
    check(
        r#"supply_temperature = "6 degC""#,
        r#"supply_temperature = "16 degC""#,
        r#"plant.toml:12: [loop] supplies 16.0 degC and returns 12.0 degC as chilled-water: water that cools returns warmer than it was supplied
hint: supply_temperature = "12.0 degC"
return_temperature = "16.0 degC""#,
    );
    check(
        r#"service = "chilled-water""#,
        r#"service = "heating-water""#,
        r#"plant.toml:12: [loop] supplies 6.0 degC and returns 12.0 degC as heating-water: heating water returns colder than it was supplied
hint: supply_temperature = "12.0 degC"
return_temperature = "6.0 degC""#,
    );
    check(
        r#"supply_temperature = "6 degC""#,
        r#"supply_temperature = "6 K""#,
        r#"plant.toml:11: supply_temperature in [loop] is "6 K": unit "K" measures a temperature difference, but a temperature is needed
hint: supply_temperature = "6 degC""#,
    );
    check(
        r#"minimum_flow = "14 m3/h""#,
        r#"minimum_flow = "70 m3/h""#,
        r#"plant.toml:13: minimum_flow in [loop] is 70.0 m3/h, above the design flow of 68.0 m3/h: the loop's least flow cannot exceed its design flow
hint: minimum_flow = "68 m3/h"   # at most the design flow"#,
    );
    check(
        r#"serves = "comfort""#,
        r#"pumps_on_duty = 3
serves = "comfort""#,
        r#"plant.toml:14: pumps_on_duty in [loop] is 3: only 2 [[pump]] tables are declared
hint: pumps_on_duty = 2"#,
    );
    check(
        r#"serves = "comfort""#,
        r#"pumps_on_duty = 0
serves = "comfort""#,
        r#"plant.toml:14: pumps_on_duty in [loop] is the number 0: it must be a whole number from 1 to 1000
hint: pumps_on_duty = 1"#,
    );
    check(
        r#"timezone = "Europe/Lisbon""#,
        r#"timezone = "Europe/Lisbon"
holidays = ["2026-02-30", 3]"#,
        r#"plant.toml:5: holidays in [site] holds "2026-02-30": every entry is a date as in 2026-01-31
hint: holidays = ["2026-01-01", "2026-12-25"]
plant.toml:5: holidays in [site] holds something that is no date: every entry is a date as in 2026-01-31
hint: holidays = ["2026-01-01", "2026-12-25"]"#,
    );
}

#[test]
fn refuses_sources_and_coils() {
    // A name that is lost takes with it whoever referred to it, so those are complained about as well.
    check(
        r#"maximum_flow = "60 m3/h""#,
        r#"maximum_flow = "6 m3/h""#,
        r#"plant.toml:18: minimum_flow in [[source]] is 12.0 m3/h, above maximum_flow, 6.0 m3/h: the least flow cannot exceed the most
hint: minimum_flow = "6.0 m3/h"
maximum_flow = "12.0 m3/h""#,
    );
    check(
        r#"name = "AHU-8"
count = 3"#,
        r#"name = "AHU-1"
count = 3"#,
        r#"plant.toml:26: the name "AHU-1" is given twice: pumps, coils and sources need names of their own
hint: name = "AHU-1-2"
plant.toml:34: sensor_at in [control] is "AHU-8": it must name a [[coil]]; the nearest is "AHU-1"
hint: sensor_at = "AHU-1"
plant.toml:83: of in [[point]] "VLV 8" is "AHU-8": it must name a [[coil]]; the nearest is "AHU-1"
hint: of = "AHU-1""#,
    );
    check(
        r#"name = "AHU-8"
count = 3"#,
        r#"name = "loop"
count = 3"#,
        r#"plant.toml:26: a [[coil]] is named "loop": that name means the loop as a whole
hint: name = "AHU-1"
plant.toml:34: sensor_at in [control] is "AHU-8": it must name a [[coil]]; the nearest is "AHU-1"
hint: sensor_at = "AHU-1"
plant.toml:83: of in [[point]] "VLV 8" is "AHU-8": it must name a [[coil]]; the nearest is "AHU-1"
hint: of = "AHU-1""#,
    );
    check(
        r#"name = "AHU-8"
count = 3"#,
        r#"name = "AHU-8"
count = 2.5"#,
        r#"plant.toml:27: count in [[coil]] is the number 2.5: it must be a whole number from 1 to 100000
hint: count = 1"#,
    );
    check(
        r#"name = "AHU-8"
count = 3"#,
        r#"count = 3"#,
        r#"plant.toml:25: [[coil]] has no name: points refer to it by its name
hint: name = "AHU-1"
plant.toml:33: sensor_at in [control] is "AHU-8": it must name a [[coil]]; the nearest is "AHU-1"
hint: sensor_at = "AHU-1"
plant.toml:82: of in [[point]] "VLV 8" is "AHU-8": it must name a [[coil]]; the nearest is "AHU-1"
hint: of = "AHU-1""#,
    );
    check(
        r#"name = "AHU-8"
count = 3"#,
        r#"name = "AHU-8"
index = "yes""#,
        r#"plant.toml:27: index in [[coil]] is the text "yes": it must be true or false, without quotes
hint: index = true"#,
    );
}

#[test]
fn refuses_control() {
    // A control curve rises with flow: its head at no flow is at most the design head.
    check(
        r#"zero_flow_head = "64 kPa""#,
        r#"zero_flow_head = "180 kPa""#,
        r#"plant.toml:31: zero_flow_head in [control] is 180.0 kPa, above the design head of 162.0 kPa: a control curve does not fall as flow rises
hint: zero_flow_head = "162 kPa"   # at most the design head; a constant pressure has mode = "constant-pressure""#,
    );
    check(
        r#"setpoint_low = "40 kPa""#,
        r#"setpoint_low = "95 kPa""#,
        r#"plant.toml:32: setpoint_low in [control] is 95.0 kPa, above setpoint_high, 90.0 kPa: a reset moves between a low and a high end
hint: setpoint_low = "90.0 kPa"
setpoint_high = "95.0 kPa""#,
    );
    check(
        r#"sensor_at = "AHU-8""#,
        r#"sensor_at = "AHU-9""#,
        r#"plant.toml:34: sensor_at in [control] is "AHU-9": it must name a [[coil]]; the nearest is "AHU-1"
hint: sensor_at = "AHU-1""#,
    );
    check(
        r#"minimum_speed = "35 %""#,
        r#"minimum_speed = "35 Hz""#,
        r#"plant.toml:35: minimum_speed in [control] is "35 Hz": unit "Hz" measures a frequency, but a share in % is needed
hint: minimum_speed = "35 %""#,
    );
    check(
        r#"minimum_speed = "35 %""#,
        r#"minimum_speed = "120 %""#,
        r#"plant.toml:35: minimum_speed in [control] is 120.0 %, above maximum_speed, 100.0 %: the least speed cannot exceed the most
hint: minimum_speed = "100.0 %"
maximum_speed = "120.0 %""#,
    );
    check(
        r#"mode = "quadratic""#,
        r#"mode = "constant-flow"
setpoint = "90 kPa""#,
        r#"plant.toml:31: setpoint in [control] is a pressure, and mode is constant-flow: constant-flow holds a flow
hint: setpoint = "68 m3/h""#,
    );
    check(
        r#"mode = "quadratic""#,
        r#"mode = "constant-pressure"
setpoint = "90 m3/h""#,
        r#"plant.toml:31: setpoint in [control] is a flow, and mode is constant-pressure: constant-pressure holds a pressure
hint: setpoint = "90 kPa""#,
    );
    check(
        r#"mode = "quadratic""#,
        r#"mode = "quadratc""#,
        r#"plant.toml:30: mode in [control] is "quadratc": it must be one of constant-pressure, remote-pressure, proportional, quadratic, constant-flow, fixed-speed, temperature, delta-temperature, external
hint: mode = "quadratic""#,
    );
    check(
        r#"until = "2026-02-11 19:00""#,
        r#""#,
        r#"plant.toml:38: [[control_history]] has no until: an earlier setting says until when it stood
hint: until = "2026-02-11 19:00""#,
    );
    check(
        r#"until = "2026-02-11 19:00""#,
        r#"until = "11/02/2026""#,
        r#"plant.toml:39: until in [[control_history]] is "11/02/2026": it must be a local date and time, years 1900 to 2200
hint: until = "2026-02-11 19:00""#,
    );
    check(
        r#"until = "2026-02-11 19:00""#,
        r#"until = "2026-02-11 19:00"
[[control_history]]
until = 2026-02-11T19:00:00"#,
        r#"plant.toml:39: two [[control_history]] entries end at the same time: each setting stood until its own time
hint: until = "2026-02-11 19:00""#,
    );
    check(
        r#"[control]"#,
        r#"[[control]]"#,
        r#"plant.toml:29: [control] is written as a list of tables: there is one, in single brackets
hint: [control]"#,
    );
}

#[test]
fn refuses_schedule() {
    // Days and times as people write them.
    check(
        r#"days = "mon-fri""#,
        r#"days = "mon-fry""#,
        r#"plant.toml:43: days in [[schedule]] is "mon-fry": it must be English weekdays, as a span or a list
hint: days = "mon-fri"   # or "mon, wed, sat-sun", "daily""#,
    );
    check(
        r#"to = "20:00""#,
        r#"to = "06:00""#,
        r#"plant.toml:45: from and to in [[schedule]] are both 06:00: they must differ; 00:00 to 24:00 is the whole day
hint: from = "00:00"
to = "24:00""#,
    );
    check(
        r#"to = "20:00""#,
        r#"to = "25:00""#,
        r#"plant.toml:45: to in [[schedule]] is "25:00": it must be a local time from 00:00 to 23:59; to may also be 24:00
hint: to = "20:00""#,
    );
    check(
        r#"to = "20:00""#,
        r#""#,
        r#"plant.toml:42: [[schedule]] has no to: a run has a beginning and an end
hint: to = "20:00""#,
    );
}

#[test]
fn refuses_pumps() {
    check(
        r#"[[pump]]
name = "P-2"
motor = "induction""#,
        r#"[pumps]
name = "P-2""#,
        r#"plant.toml:60: unknown table "pumps": the nearest known table is "pump"
hint: [[pump]]"#,
    );
    check(
        r#"[[pump]]
name = "P-2"
motor = "induction""#,
        r#"[[pump]]
motor = "induction""#,
        r#"plant.toml:60: [[pump]] has no name: points refer to it by its name
hint: name = "P-1""#,
    );
    check(
        r#"motor_efficiency = 0.904"#,
        r#"motor_efficiency = 90.4"#,
        r#"plant.toml:51: motor_efficiency in [[pump]] is 90.4: it must be above 0 and at most 1 (or 100 %)
hint: motor_efficiency = 0.904"#,
    );
    check(
        r#"motor_efficiency = 0.904"#,
        r#"motor_efficiency = nan"#,
        r#"plant.toml:51: motor_efficiency in [[pump]] is nan: it must be above 0 and at most 1 (or 100 %)
hint: motor_efficiency = 0.904"#,
    );
}

#[test]
fn refuses_curves() {
    // The true curve peaks at 60 m3/h: 60 / 3600 * 183 = 3.05 kW of water for 4.1 kW of shaft, which is 74.4 %. A thousandfold
    // slip of the unit makes that 74390 % or 0.07 %; 80 m3/h is never reached twice; heads may rise to one peak.
    check(
        r#"speed = "100 %"
power_is"#,
        r#"speed = "50 Hz"
power_is"#,
        r#"plant.toml:54: speed in [[pump.curve]] of P-1 needs the pump's rated_frequency: a tested speed is kept as a share of the rated one
hint: rated_frequency = "50 Hz""#,
    );
    check(
        r#"speed = "100 %"
power_is"#,
        r#"speed = "2900 rpm"
power_is"#,
        r#"plant.toml:54: speed in [[pump.curve]] of P-1 is 200.0 % of the rated speed: it must be from 5 to 150 % of the rated speed
hint: speed = "100 %""#,
    );
    check(
        r#"speed = "100 %"
power_is"#,
        r#"tolerance = "20 %"
power_is"#,
        r#"plant.toml:54: tolerance in [[pump.curve]] of P-1 is "20 %": a test of this very pump is good to 0.01 to 10 %
hint: tolerance = "0.5 %""#,
    );
    check(
        r#"flow = { unit = "m3/h", values = [0, 20, 40, 60, 80] }"#,
        r#"flow = { unit = "m3/h", values = [0, 20, 60, 40, 80] }"#,
        r#"plant.toml:56: flow in [[pump.curve]] of P-1 goes from 60 to 40: flows must rise from point to point
hint: values = [0, 20, 40, 60]"#,
    );
    check(
        r#"flow = { unit = "m3/h", values = [0, 20, 40, 60, 80] }"#,
        r#"flow = { unit = "m3/h", values = [0, 20, 40, 80] }"#,
        r#"plant.toml:57: head in [[pump.curve]] of P-1 has 5 values at 4 flows: each flow has one value
hint: head = { ..., values = [..., ..., ..., ...] }
plant.toml:58: power in [[pump.curve]] of P-1 has 5 values at 4 flows: each flow has one value
hint: power = { ..., values = [..., ..., ..., ...] }"#,
    );
    check(
        r#"flow = { unit = "m3/h", values = [0, 20, 40, 60, 80] }"#,
        r#"flow = { unit = "m3/h", values = [0] }"#,
        r#"plant.toml:56: flow in [[pump.curve]] of P-1 has 1 value: a curve needs at least 2 points
hint: values = [0, 20, 40, 60]"#,
    );
    check(
        r#"flow = { unit = "m3/h", values = [0, 20, 40, 60, 80] }"#,
        r#"flow = { unit = "m3/h", values = [0, 20, 40, 60, "80"] }"#,
        r#"plant.toml:56: values in flow in [[pump.curve]] of P-1 holds the text "80": every entry must be a number, without quotes
hint: values = [0, 20, 40, 60]"#,
    );
    check(
        r#"flow = { unit = "m3/h", values = [0, 20, 40, 60, 80] }"#,
        r#"flow = { values = [0, 20, 40, 60, 80] }"#,
        r#"plant.toml:56: flow in [[pump.curve]] of P-1 has no unit: numbers need their unit
hint: unit = "m3/h""#,
    );
    check(
        r#"flow = { unit = "m3/h", values = [0, 20, 40, 60, 80] }"#,
        r#"flow = { unit = "m3/h" }"#,
        r#"plant.toml:56: flow in [[pump.curve]] of P-1 has no values: it is a list of numbers with a unit
hint: values = [0, 20, 40, 60]"#,
    );
    check(
        r#"flow = { unit = "m3/h", values = [0, 20, 40, 60, 80] }"#,
        r#"flow = [0, 20, 40, 60, 80]"#,
        r#"plant.toml:56: flow in [[pump.curve]] of P-1 is a list: it must be a table
hint: flow = { unit = "m3/h", values = [0, 20, 40, 60] }"#,
    );
    check(
        r#"flow = { unit = "m3/h", values = [0, 20, 40, 60, 80] }"#,
        r#""#,
        r#"plant.toml:57: head in [[pump.curve]] of P-1 has no flows beside it: every value stands at a flow
hint: flow = { unit = "m3/h", values = [0, 20, 40, 60] }
plant.toml:58: power in [[pump.curve]] of P-1 has no flows beside it: every value stands at a flow
hint: flow = { unit = "m3/h", values = [0, 20, 40, 60] }"#,
    );
    check(
        r#"values = [210, 212, 202, 183, 150]"#,
        r#"values = [210, 212, 183, 202, 150]"#,
        r#"plant.toml:57: head in [[pump.curve]] of P-1 rises again at 60.0 m3/h: a pump's head rises to one peak at most and then falls as flow grows
hint: head = { unit = "kPa", values = [212, 205, 160] }   # in the order of the flows"#,
    );
    check(
        r#"values = [210, 212, 202, 183, 150]"#,
        r#"values = [210, 202, 212, 183, 150]"#,
        r#"plant.toml:57: head in [[pump.curve]] of P-1 falls and rises again at 20.0 m3/h: a pump's head rises to one peak at most and then falls as flow grows
hint: head = { unit = "kPa", values = [212, 205, 160] }   # in the order of the flows"#,
    );
    check(
        r#"values = [210, 212, 202, 183, 150]"#,
        r#"values = [210, 212, 202, inf, 150]"#,
        r#"plant.toml:57: values in head in [[pump.curve]] of P-1 holds the number inf: every entry must be a number, without quotes
hint: values = [0, 20, 40, 60]"#,
    );
    check(
        r#"values = [210, 212, 202, 183, 150]"#,
        r#"values = [210, 212, 202, -183, 150]"#,
        r#"plant.toml:57: head in [[pump.curve]] of P-1 holds -183.0 kPa: heads must be from 0 to 10,000 kPa
hint: head = { unit = "kPa", values = [212, 205, 160] }"#,
    );
    check(
        r#"power = { unit = "kW", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#"power = { unit = "W", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#"plant.toml:58: power in [[pump.curve]] of P-1 makes the best efficiency 74390.2 %: hydraulic power cannot exceed the power put in
hint: power = { unit = "kW", ... }   # would make it 74 %"#,
    );
    check(
        r#"power = { unit = "kW", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#"power = { unit = "kW", values = [1800, 2600, 3400, 4100, 4700] }"#,
        r#"plant.toml:58: power in [[pump.curve]] of P-1 makes the best efficiency 0.1 %: even a small pump reaches 5 % at its best point, so a unit is likely wrong
hint: power = { unit = "W", ... }   # would make it 74 %"#,
    );
    check(
        r#"power = { unit = "kW", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#"power = { unit = "kW", values = [0, 0, 0, 0, 0] }"#,
        r#"plant.toml:58: power in [[pump.curve]] of P-1 is 0 where the pump makes head and flow: hydraulic power cannot exceed the power put in
hint: check the units of flow, head and power against the pump's data sheet, as in power = { unit = "kW", ... }"#,
    );
    check(
        r#"power = { unit = "kW", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#"efficiency = { values = [0, 44, 66, 74, 71] }"#,
        r#"plant.toml:58: efficiency in [[pump.curve]] of P-1 holds 44: efficiencies must be from 0 to 1, or have unit = "%"
hint: efficiency = { unit = "%", values = [0, 62, 78] }"#,
    );
    check(
        r#"power = { unit = "kW", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#"efficiency = { unit = "%", values = [0, 44, 66, 74, 171] }"#,
        r#"plant.toml:58: efficiency in [[pump.curve]] of P-1 holds 1.71: efficiencies must be from 0 to 100 %
hint: efficiency = { unit = "%", values = [0, 62, 78] }"#,
    );
    check(
        r#"power = { unit = "kW", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#"efficiency = { values = [0, 0, 0, 0, 0.7] }"#,
        r#"plant.toml:58: efficiency in [[pump.curve]] of P-1 leaves 1 usable points: a power curve needs at least 2 points
hint: efficiency = { values = [0, 0.62, 0.78] }"#,
    );
    check(
        r#"head = { unit = "kPa", values = [210, 212, 202, 183, 150] }"#,
        r#"efficiency = { values = [0, 0.44, 0.66, 0.74, 0.71] }"#,
        r#"plant.toml:57: [[pump.curve]] of P-1 has both power and efficiency: give one of them: the other follows from it
hint: efficiency = { values = [0, 0.62, 0.78] }   # or power, not both
plant.toml:57: [[pump.curve]] of P-1 has efficiency without head: power follows from efficiency, flow and head together
hint: head = { unit = "kPa", values = [212, 205, 160] }"#,
    );
    check(
        r#"head = { unit = "kPa", values = [210, 212, 202, 183, 150] }
power = { unit = "kW", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#""#,
        r#"plant.toml:53: [[pump.curve]] of P-1 has no head, power or efficiency: a curve needs at least one of them
hint: head = { unit = "kPa", values = [212, 205, 160] }"#,
    );
    check(
        r#"power = { unit = "kW", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#"power = { unit = "kWh", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#"plant.toml:58: the unit of power in [[pump.curve]] of P-1 cannot be used: unit "kWh" measures an energy, but a power is needed
hint: unit = "kW""#,
    );
    check(
        r#"power = { unit = "kW", values = [1.8, 2.6, 3.4, 4.1, 4.7] }"#,
        r#"power = { unit = "kW", at = [0, 30], values = [1.8, 2.6, 3.4] }

[[pump.curve]]
speed = "1450 rpm"
flow = { unit = "m3/h", values = [0, 80] }
head = { unit = "kPa", values = [210, 150] }"#,
        r#"plant.toml:58: power in [[pump.curve]] of P-1 has 3 values at 2 flows: each flow has one value
hint: power = { ..., values = [..., ...] }"#,
    );
}

#[test]
fn refuses_trends() {
    check(
        r#"files = ["trends/*.csv"]"#,
        r#"files = []"#,
        r#"plant.toml:65: [trends] names no files: there is nothing to review without them
hint: files = ["trends/*.csv"]"#,
    );
    check(
        r#"files = ["trends/*.csv"]"#,
        r#"files = "trends/*.csv""#,
        r#"plant.toml:65: files in [trends] is the text "trends/*.csv": it must be a list of texts in square brackets
hint: files = ["trends/*.csv"]"#,
    );
    check(
        r#"interval = "5 min""#,
        r#"interval = "0.5 s""#,
        r#"plant.toml:66: interval in [trends] is "0.5 s": it must be from 1 s to 1 d
hint: interval = "5 min""#,
    );
    check(
        r#"interval = "5 min""#,
        r#"interval = "1.5 s""#,
        r#"plant.toml:66: interval in [trends] is 1.5 s: it must be whole seconds
hint: interval = "5 min""#,
    );
    check(
        r#"interval = "5 min""#,
        r#"timezone = "Lisbon""#,
        r#"plant.toml:66: timezone in [trends] is "Lisbon": it must be a time zone written Region/City; the nearest is "Europe/Lisbon"
hint: timezone = "Europe/Lisbon""#,
    );
}

#[test]
fn refuses_points() {
    // Two pumps and two coils, so points must say whose they are.
    check(
        r#"role = "pump-speed""#,
        r#"role = "pump-sped""#,
        r#"plant.toml:70: role in [[point]] "P1 SPEED" is "pump-sped": the nearest of the 40 words it can be is "pump-speed"
hint: role = "pump-speed""#,
    );
    check(
        r#"role = "pump-speed""#,
        r#""#,
        r#"plant.toml:68: [[point]] "P1 SPEED" has no role: the role says what the point means
hint: role = "pump-speed"   # or "ignore""#,
    );
    check(
        r#"name = "P1 SPEED""#,
        r#""#,
        r#"plant.toml:68: [[point]] has no name: it is the point's name in the export
hint: name = "P1 speed""#,
    );
    check(
        r#"of = "P-1""#,
        r#"of = "P-11""#,
        r#"plant.toml:71: of in [[point]] "P1 SPEED" is "P-11": it must name a [[pump]]; the nearest is "P-1"
hint: of = "P-1""#,
    );
    check(
        r#"of = "P-1""#,
        r#""#,
        r#"plant.toml:68: [[point]] "P1 SPEED" has role pump-speed and no of: with 2 [[pump]] tables it must say which it belongs to
hint: of = "P-1""#,
    );
    check(
        r#"of = "AHU-8""#,
        r#""#,
        r#"plant.toml:80: [[point]] "VLV 8" has role valve-position and no of: with 2 [[coil]] tables it must say which it belongs to
hint: of = "AHU-1""#,
    );
    check(
        r#"unit = "degC""#,
        r#"of = "P-1"
unit = "degC""#,
        r#"plant.toml:77: [[point]] "CHWS" has role supply-temperature and of = "P-1": a point of this role belongs to the loop as a whole
hint: role = "supply-temperature"   # without of"#,
    );
    check(
        r#"unit = "degC""#,
        r#"unit = "kW""#,
        r#"plant.toml:77: the unit of [[point]] "CHWS" with role supply-temperature cannot be used: unit "kW" measures a power, but a temperature is needed
hint: unit = "degC""#,
    );
    check(
        r#"unit = "degC""#,
        r#"unit = "K""#,
        r#"plant.toml:77: the unit of [[point]] "CHWS" with role supply-temperature cannot be used: unit "K" measures a temperature difference, but a temperature is needed
hint: unit = "degC"   # an absolute temperature in kelvin also has offset = -273.15"#,
    );
    check(
        r#"unit = "degC""#,
        r#"unit = "dgC""#,
        r#"plant.toml:77: the unit of [[point]] "CHWS" with role supply-temperature cannot be used: "dgC" is not a known unit; the nearest is "degC"
hint: unit = "degC""#,
    );
    check(
        r#"accuracy = "0.3 K""#,
        r#"accuracy = "0.3 degC""#,
        r#"plant.toml:78: accuracy in [[point]] "CHWS" is "0.3 degC": unit "degC" measures a temperature, but a temperature difference is needed
hint: accuracy = "0.3 K""#,
    );
    check(
        r#"accuracy = "0.3 K""#,
        r#"accuracy = "1 % of rading""#,
        r#"plant.toml:78: accuracy in [[point]] "CHWS" is "1 % of rading": it is of reading or of span
hint: accuracy = "1 % of reading""#,
    );
    check(
        r#"accuracy = "0.3 K""#,
        r#"scale = 0"#,
        r#"plant.toml:78: scale in [[point]] "CHWS" is 0: every reading would mean the same
hint: scale = 1.0"#,
    );
    check(
        r#"accuracy = "0.3 K""#,
        r#"scale = "two""#,
        r#"plant.toml:78: scale in [[point]] "CHWS" is the text "two": it must be a number, without quotes
hint: scale = 1.0"#,
    );
    check(
        r#"range = [0, 10]"#,
        r#"range = [10, 10]"#,
        r#"plant.toml:84: range in [[point]] "VLV 8" holds two numbers that are equal or too large: it holds the readings that mean 0 and 100 %
hint: range = [0, 10]"#,
    );
    check(
        r#"range = [0, 10]"#,
        r#"range = [0, 10]
scale = 2"#,
        r#"plant.toml:84: [[point]] "VLV 8" has range together with scale or offset: range stands instead of them
hint: range = [0, 10]   # without scale and offset"#,
    );
    check(
        r#"accuracy = "0.3 K""#,
        r#"range = [4, 20]"#,
        r#"plant.toml:78: [[point]] "CHWS" with role supply-temperature has a range: a range gives the readings that mean 0 and 100 %, for valves and speeds
hint: scale = 10.0
offset = 0.0"#,
    );
    check(
        r#"unit = "%""#,
        r#"percent_of = "maximum-frequency""#,
        r#"plant.toml:72: [[point]] "P1 SPEED" is a % of the maximum frequency: P-1 must then have maximum_frequency
hint: maximum_frequency = "60 Hz"   # under the [[pump]]"#,
    );
    check(
        r#"name = "CHWS""#,
        r#"name = "VLV 8""#,
        r#"plant.toml:81: [[point]] "VLV 8" is given twice, first at line 74: one point of the export has one meaning
hint: file = "north/*.csv"   # where one name stands in several files"#,
    );
    check(
        r#"name = "CHWS""#,
        r#"name = """#,
        r#"plant.toml:75: name in [[point]] is empty: it must hold a text
hint: name = "P1 speed""#,
    );
}

#[test]
fn a_sound_file_says_nothing() {
    let noticed = plant::parse(BASE, Path::new("plant.toml")).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(
        (noticed.notices.len(), noticed.value.assumed.len()),
        (0, 0),
        "{:?} {:?}",
        noticed.notices,
        noticed.value.assumed
    );
}

#[test]
fn reads_values() {
    let plant = parsed(BASE);
    assert_eq!((plant.name.as_str(), plant.dir.as_path()), ("north", Path::new("north")));
    close(plant.system.design_flow.expect("said").in_m3h(), 68.0);
    close(plant.control.zero_flow_head.expect("said").in_kpa(), 64.0);
    // Design flow and head of [control] are the loop's where it says nothing.
    close(plant.control.design_head.expect("the loop's").in_kpa(), 162.0);
    assert_eq!(plant.trends.interval_s, Some(300));
    assert_eq!(plant.coils[1].count, 3);
    assert_eq!(plant.points[0].role, Role::PumpSpeed);
    assert_eq!(plant.points[0].line, 68);
    assert_eq!(plant.points[1].accuracy, Some(Accuracy::Absolute(0.3)));
    // A valve read from 0 to 10 V: 2.5 V is a quarter open.
    let c = plant.points[2].conversion(None, plant.density()).expect("fits").expect("known");
    close(2.5 * c.factor + c.offset, 0.25);
    assert_eq!(c.unit, "fraction");
}

/// In American units: 300 gpm is 68.14 m3/h (SP 811: 6.309020e-5 m3/s a gpm); 54 ft of water at 42.8 degF (6 degC,
/// 999.94 kg/m3 by IAPWS-IF97) is 54 * 0.3048 * 9.80665 * 0.99994 = 161.40 kPa.
#[test]
fn reads_american_units() {
    let text = BASE.replace("68 m3/h", "300 gpm").replace("162 kPa", "54 ft").replace("6 degC", "42.8 degF");
    let plant = parsed(&text);
    assert!((plant.system.design_flow.expect("said").in_m3h() - 68.137).abs() < 0.001);
    assert!((plant.system.design_head.expect("said").in_kpa() - 161.40).abs() < 0.02);
    assert!((plant.system.supply_temperature.expect("said").in_celsius() - 6.0).abs() < 1e-9);
}

/// 36 m3/h is 0.01 m3/s: against 180 kPa 1.8 kW of water, at 60 % 3 kW of shaft. 72 m3/h against 100 kPa is 2 kW, at 50 % 4 kW. At no flow
/// efficiency rises by (3 * 0.6/36 + 0.1/36) / 2 = 0.02639 a m3/h (the cubic's end slope), so power is 200 / 3600 / 0.02639 = 2.105 kW;
/// a table that does not begin at no flow has no such point.
#[test]
fn power_from_efficiency() {
    let flow = "flow = { unit = \"m3/h\", values = [0, 20, 40, 60, 80] }\nhead = { unit = \"kPa\", values = [210, 212, 202, 183, 150] }\npower = { unit = \"kW\", values = [1.8, 2.6, 3.4, 4.1, 4.7] }";
    for efficiency in [
        "{ values = [0, 0.6, 0.5] }",
        "{ unit = \"%\", values = [0, 60, 50] }",
        "{ values = [0.6, 0.5], at = [10, 20] }",
        "{ values = [0.6, 0.5], at = { unit = \"m3/h\", values = [36, 72] } }",
    ] {
        let to = format!(
            "flow = {{ unit = \"L/s\", values = [0, 10, 20] }}\nhead = {{ unit = \"bar\", values = [2.0, 1.8, 1.0] }}\nefficiency = {efficiency}"
        );
        let plant = parsed(&changed(flow, &to));
        let curve = &plant.pumps[0].curves[0];
        let (flows, powers) = if efficiency.contains("at =") {
            (vec![36.0, 72.0], vec![3.0, 4.0])
        } else {
            (vec![0.0, 36.0, 72.0], vec![200.0 / 3600.0 / (0.95 / 36.0), 3.0, 4.0])
        };
        assert_eq!(curve.power_kw.len(), powers.len(), "{efficiency}");
        for (got, wanted) in curve.power_flow_m3h.iter().zip(flows).chain(curve.power_kw.iter().zip(powers)) {
            close(*got, wanted);
        }
        assert_eq!((curve.head_flow_m3h.len(), curve.power_is), (3, PowerIs::Shaft));
    }
}

/// 1160 of 1450 rpm is 80 %; 40 of 50 Hz as well. Curves stand highest speed first, each with its own grids.
#[test]
fn curve_speeds_and_grids() {
    for speed in ["1160 rpm", "40 Hz", "80 %"] {
        let lower = format!(
            "rated_speed = \"1450 rpm\"\nrated_frequency = \"50 Hz\"\nmotor_efficiency = 0.904\n\n[[pump.curve]]\nspeed = \"{speed}\"\nhead = {{ unit = \"m\", values = [13.7, 9.8], at = {{ unit = \"m3/h\", values = [0, 64] }} }}\n"
        );
        let plant = parsed(&changed("rated_speed = \"1450 rpm\"\nmotor_efficiency = 0.904\n", &lower));
        let curves = &plant.pumps[0].curves;
        close(curves[0].speed.in_of_one(), 1.0);
        close(curves[1].speed.in_of_one(), 0.8);
        // 13.7 m of water at 6 degC and 0.3 MPa, 1000.04 kg/m3 (IAPWS-IF97): 13.7 * 9.80665 * 1.00004 = 134.357 kPa.
        assert!((curves[1].head_kpa[0] - 134.357).abs() < 0.01);
        assert!(curves[1].power_kw.is_empty());
    }
}

#[test]
fn defaults_are_said() {
    let text = "[site]\ntimezone = \"Europe/Lisbon\"\n[loop]\nservice = \"heating-water\"\ndesign_head = \"16 m\"\n[[pump]]\nname = \"P-1\"\n[[pump.curve]]\nflow = { unit = \"m3/h\", values = [0, 80] }\nhead = { unit = \"m\", values = [20, 10] }\npower = { unit = \"kW\", values = [1.8, 4.7] }\n[trends]\nfiles = [\"a.csv\"]\n[[point]]\nname = \"S\"\nrole = \"pump-speed\"\nunit = \"%\"\n";
    let plant = parsed(text);
    let wanted = [
        "The fluid is water ([loop].fluid is not declared).",
        "The loop serves comfort ([loop].serves is not declared): nothing critical hangs on it.",
        "P-1 has an induction motor ([[pump]].motor is not declared): its speed slips below the drive's frequency.",
        "[[pump.curve]] of P-1 is taken as tested at rated speed (speed is not declared).",
        "The power in [[pump.curve]] of P-1 is taken as shaft power (power_is is not declared).",
        "Heads in metres or feet became pressures at the density of the fluid at 60 degC ([loop].supply_temperature is not declared).",
    ];
    assert_eq!(plant.assumed, wanted);
    // The only pump is whose speed it is.
    assert_eq!(plant.points[0].of.as_deref(), Some("P-1"));
    // 16 m at 60 degC, 983.2106 kg/m3 by IAPWS-IF97: 154.27 kPa.
    assert!((plant.system.design_head.expect("said").in_kpa() - 154.27).abs() < 0.05);
}

#[test]
fn doubts_are_said() {
    let rows = [
        (
            "design_head = \"162 kPa\"",
            "design_head = \"262 kPa\"",
            "The design point asks 262 kPa at 34.0 m3/h of each of 2 pumps; P-1 makes 205 kPa there at full speed.",
        ),
        (
            "design_head = \"162 kPa\"",
            "pumps_on_duty = 1\ndesign_head = \"70 kPa\"",
            "The design head of 70 kPa is less than half of the 170 kPa that P-1 makes at 68.0 m3/h at full speed.",
        ),
        ("serves = \"comfort\"", "pumps_on_duty = 1\ntopology = \"secondary\"", ""),
        (
            "design_flow = \"68 m3/h\"",
            "design_flow = \"170 m3/h\"",
            "The design flow asks 85.0 m3/h of each of 2 pumps, beyond the last tested flow of P-1, 80.0 m3/h.",
        ),
        (
            "mode = \"quadratic\"",
            "mode = \"quadratic\"\nsetpoint = \"90 kPa\"",
            "The setpoint in [control] is not used: mode quadratic has none.",
        ),
        (
            "until = \"2026-02-11 19:00\"",
            "until = \"2025-10-26 01:30\"",
            "The clock was changed around 2025-10-26 01:30 (Europe/Lisbon); the setting is taken to end at 2025-10-26 00:30 UTC.",
        ),
        (
            "unit = \"%\"",
            "unit = \"Hz\"",
            "The speed of P-1 is trended in Hz, but its rated_frequency is not declared, so its share of rated speed is not known; declare it under the [[pump]].",
        ),
        (
            "unit = \"degC\"",
            "unit = \"degC\"\npower_is = \"shaft\"",
            "power_is in [[point]] \"CHWS\" is not used: it says nothing for role supply-temperature.",
        ),
        (
            "[[point]]\nname = \"VLV 8\"",
            "[[point]]\nname = \"CHWS2\"\nrole = \"supply-temperature\"\nunit = \"degF\"\n\n[[point]]\nname = \"VLV 8\"",
            "Two points have role supply-temperature of the loop: \"CHWS\" (line 74) and \"CHWS2\" (line 80).",
        ),
    ];
    for (from, to, wanted) in rows {
        if from.contains("\"70 kPa\"") || to.contains("\"70 kPa\"") {
            // The zero-flow head must lie below it as well.
            let text = changed(from, to).replace("zero_flow_head = \"64 kPa\"", "zero_flow_head = \"30 kPa\"");
            let noticed = plant::parse(&text, Path::new("plant.toml")).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!(noticed.notices[0].text, wanted);
        } else if wanted.is_empty() {
            assert_eq!(notices(from, to), Vec::<String>::new());
        } else {
            assert_eq!(notices(from, to), [wanted]);
        }
    }
}

/// 0.2 % of a speed in Hz is of the reading; of a valve in % it is an amount of opening.
#[test]
fn accuracies() {
    let rows = [
        ("unit = \"%\"", "unit = \"%\"\nnoise = \"0.2 %\"", Some(Accuracy::Absolute(0.002))),
        ("unit = \"%\"", "unit = \"rpm\"\nnoise = \"0.2 %\"", Some(Accuracy::OfReading(0.002))),
        ("unit = \"%\"", "unit = \"rpm\"\nnoise = \"5 rpm\"", Some(Accuracy::Absolute(5.0))),
        ("unit = \"%\"", "unit = \"%\"\nnoise = \"1 % of span\"", Some(Accuracy::OfSpan(0.01))),
        ("unit = \"%\"", "unit = \"%\"\nnoise = \"1 % of reading\"", Some(Accuracy::OfReading(0.01))),
    ];
    for (from, to, wanted) in rows {
        assert_eq!(parsed(&changed(from, to)).points[0].noise, wanted, "{to}");
    }
}

/// A reading of 120 with scale 0.1 and offset 1 is 13 psi (SP 811: 6.894757 kPa a psi).
#[test]
fn conversions() {
    let to = "name = \"DP\"\nrole = \"differential-pressure\"\nunit = \"psi\"\nscale = 0.1\noffset = 1.0";
    let plant =
        parsed(&changed("name = \"CHWS\"\nrole = \"supply-temperature\"\nunit = \"degC\"\naccuracy = \"0.3 K\"", to));
    let c = plant.points[1].conversion(None, plant.density()).expect("fits").expect("known");
    assert!((120.0 * c.factor + c.offset - 13.0 * 6.894_757).abs() < 1e-4);
    assert_eq!(c.unit, "kPa");
    // Without a unit in the file the export's serves, and without either there is none to be had.
    let to = "name = \"T\"\nrole = \"supply-temperature\"";
    let plant =
        parsed(&changed("name = \"CHWS\"\nrole = \"supply-temperature\"\nunit = \"degC\"\naccuracy = \"0.3 K\"", to));
    let export = plant::units::unit("°F").expect("known");
    let c = plant.points[1].conversion(Some(&export), plant.density()).expect("fits").expect("known");
    assert!((50.0 * c.factor + c.offset - 10.0).abs() < 1e-9);
    assert_eq!(plant.points[1].conversion(None, plant.density()), Ok(None));
}

#[test]
fn settings_over_time() {
    let history = "[[control_history]]\nuntil = \"2026-02-11 19:00\"\nminimum_speed = \"50 %\"\n";
    let more = format!(
        "{history}\n[[control_history]]\nuntil = 2025-12-01T08:00:00\nmode = \"proportional\"\nmaximum_speed = \"90 %\"\n"
    );
    let plant = parsed(&changed(history, &more));
    // (instant, mode, minimum, maximum): the oldest entry had the middle one's floor, since it says nothing of its own.
    let rows = [
        ("2025-12-01 07:59", ControlMode::Proportional, 0.50, 0.90),
        ("2025-12-01 08:00", ControlMode::Quadratic, 0.50, 1.00),
        ("2026-02-11 18:59", ControlMode::Quadratic, 0.50, 1.00),
        ("2026-02-11 19:00", ControlMode::Quadratic, 0.35, 1.00),
        ("2027-01-01 00:00", ControlMode::Quadratic, 0.35, 1.00),
    ];
    for (at, mode, low, high) in rows {
        let control = plant.control_at(ms(at));
        assert_eq!(control.mode, Some(mode), "{at}");
        close(control.minimum_speed.expect("said").in_of_one(), low);
        close(control.maximum_speed.expect("said").in_of_one(), high);
    }
}

/// 11 February 2026 is a Wednesday, 14 February a Saturday; Lisbon keeps UTC in winter and an hour more in summer.
#[test]
fn schedules() {
    let plain = parsed(BASE);
    let times = "from = \"06:00\"\nto = \"20:00\"";
    let night =
        parsed(&changed(&format!("days = \"mon-fri\"\n{times}"), "days = \"fri\"\nfrom = \"22:00\"\nto = \"05:00\""));
    let whole = parsed(&changed(times, "from = \"00:00\"\nto = \"24:00\""));
    let away = parsed(&changed(
        "timezone = \"Europe/Lisbon\"",
        "timezone = \"Europe/Lisbon\"\nholidays = [\"2026-02-11\", 2026-02-13]",
    ));
    let away_at_night = parsed(
        &changed(&format!("days = \"mon-fri\"\n{times}"), "days = \"fri\"\nfrom = \"22:00\"\nto = \"05:00\"")
            .replace("[loop]", "holidays = [\"2026-02-14\"]\n\n[loop]"),
    );
    let always = parsed(&changed(&format!("[[schedule]]\ndays = \"mon-fri\"\n{times}\n"), ""));
    let rows = [
        (&plain, "2026-02-11 05:59", false),
        (&plain, "2026-02-11 06:00", true),
        (&plain, "2026-02-11 19:59", true),
        (&plain, "2026-02-11 20:00", false),
        (&plain, "2026-02-14 12:00", false),
        (&plain, "2026-07-01 05:00", true), // 06:00 in summer
        (&night, "2026-02-13 21:59", false),
        (&night, "2026-02-13 23:00", true),
        (&night, "2026-02-14 04:59", true), // Friday's run
        (&night, "2026-02-14 05:00", false),
        (&night, "2026-02-13 04:00", false), // Thursday has none
        (&whole, "2026-02-11 00:00", true),
        (&whole, "2026-02-11 23:59", true),
        (&whole, "2026-02-14 00:00", false),
        (&away, "2026-02-11 12:00", false),
        (&away, "2026-02-12 12:00", true),
        (&away, "2026-02-13 12:00", false),
        (&away_at_night, "2026-02-14 04:00", true), // began on Friday, no holiday
        (&always, "2026-02-14 03:00", true),
    ];
    for (plant, at, wanted) in rows {
        assert_eq!(plant.scheduled(ms(at)), wanted, "{at} {:?}", plant.schedule);
    }
    for ms in [i64::MIN, i64::MAX] {
        let _ = plain.scheduled(ms);
    }
}

/// Directive 2000/84/EC: clocks in the Union go forward and back at 01:00 UTC on the last Sundays of March and October.
#[test]
fn clock_changes() {
    let lisbon = chrono_tz::Europe::Lisbon;
    let local =
        |m, d, h, min| NaiveDate::from_ymd_opt(2026, m, d).and_then(|x| x.and_hms_opt(h, min, 0)).expect("a time");
    let utc = |m, d, h, min| Utc.with_ymd_and_hms(2026, m, d, h, min, 0).single().expect("an instant");
    for (at, wanted) in [
        (local(3, 29, 0, 30), (utc(3, 29, 0, 30), true)),
        (local(3, 29, 1, 30), (utc(3, 29, 1, 30), false)), // never shown: 01:00 became 02:00
        (local(3, 29, 2, 30), (utc(3, 29, 1, 30), true)),
        (local(10, 25, 1, 30), (utc(10, 25, 0, 30), false)), // shown twice: the first
        (local(10, 25, 2, 30), (utc(10, 25, 2, 30), true)),
    ] {
        assert_eq!(plant::local_to_utc(lisbon, at), wanted, "{at}");
    }
}

/// Water: IAPWS-IF97 by the library iapws 1.5.5, to 0.05 %. Glycol: CoolProp 8.0.0, INCOMP::MEG and MPG, to 0.5 %.
#[test]
fn densities() {
    use FluidKind::{EthyleneGlycol as E, PropyleneGlycol as P, Water as W};
    let rows = [
        (W, 0.0, 7.0, 999.9040, 0.0005),
        (W, 0.0, 20.0, 998.2061, 0.0005),
        (W, 0.0, 40.0, 992.2243, 0.0005),
        (W, 0.0, 60.0, 983.2106, 0.0005),
        (W, 0.0, 82.0, 970.5457, 0.0005),
        (W, 0.0, 95.0, 961.8951, 0.0005),
        (E, 0.3, 5.0, 1043.47, 0.005),
        (E, 0.3, 60.0, 1017.46, 0.005),
        (E, 0.4, 5.0, 1058.45, 0.005),
        (P, 0.3, 5.0, 1029.89, 0.005),
        (P, 0.4, 5.0, 1040.06, 0.005),
        (P, 0.5, 5.0, 1048.17, 0.005),
    ];
    for (fluid, share, t, wanted, tolerance) in rows {
        let got = density(fluid, share, Temperature::celsius(t)).in_kg_m3();
        assert!((got / wanted - 1.0).abs() < tolerance, "{fluid:?} {share} {t}: {got}, not {wanted}");
    }
}

/// Every word reads back to its variant, and no two are alike.
#[test]
fn words() {
    assert_eq!(Role::ALL.len(), 40);
    for role in Role::ALL {
        assert_eq!(Role::from_word(role.word()), Some(*role));
    }
    assert_eq!(Role::from_word("pump speed"), None);
    for mode in ControlMode::ALL {
        assert_eq!(ControlMode::from_word(mode.word()), Some(*mode));
    }
    assert_eq!(Dimension::ALL.len(), 15);
}

#[test]
fn the_template_is_read() {
    let noticed = plant::parse(plant::TEMPLATE, Path::new("plant.toml")).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(noticed.notices.len(), 0);
    let plant = noticed.value;
    assert_eq!((plant.pumps.len(), plant.coils.len(), plant.sources.len(), plant.points.len()), (2, 2, 1, 9));
    assert_eq!(plant.control_history.len(), 1);
    // A valve that is shut at 10 V: 2.5 V is three quarters open.
    let c = plant.points[8].conversion(None, plant.density()).expect("fits").expect("known");
    close(2.5 * c.factor + c.offset, 0.75);
}

/// Part one alone is a plant file.
#[test]
fn the_template_s_first_part_is_enough() {
    let (first, _) = plant::TEMPLATE.split_once("# ============ PART TWO").expect("two parts");
    let text = first.to_owned() + "\n[[coil]]\nname = \"AHU-1\"\n[[coil]]\nname = \"AHU-2\"\n";
    assert_eq!(parsed(&text).pumps[0].curves.len(), 1);
}

/// Every key that the template's comments offer is one that is read: put in its table, nothing is unknown.
#[test]
fn the_template_s_comments_hold() {
    let mut tried = 0;
    for line in plant::TEMPLATE.lines().filter(|l| l.starts_with("# ") && l.contains(" = ")) {
        let mut rest = line;
        while let Some((before, after)) = rest.split_once(" = ") {
            let key = before.rsplit(' ').next().unwrap_or("").trim_start_matches('#');
            rest = after;
            if key.is_empty() || !key.chars().all(|c| c.is_ascii_lowercase() || c == '_') {
                continue;
            }
            let somewhere = [
                "[loop]\n",
                "[site]\n",
                "[control]\n",
                "[[pump]]\n",
                "[[pump]]\n[[pump.curve]]\n",
                "[[coil]]\n",
                "[[sensor]]\n",
                "[trends]\n",
                "[[point]]\n",
                "units = \"SI\"\n",
            ]
            .iter()
            .any(|table| {
                let text = format!("{table}{key} = 1\n");
                let text = if table.starts_with("units") { format!("{key} = 1\n") } else { text };
                plant::parse(&text, Path::new("p.toml")).is_err_and(|e| !e.to_string().contains(&format!("\"{key}\"")))
            });
            assert!(somewhere, "{key} is read nowhere");
            tried += 1;
        }
    }
    assert!(tried > 30, "{tried}");
}

#[test]
fn all_errors_at_once_in_order() {
    let text = BASE
        .replace("68 m3/h", "68 kPa")
        .replace("\"P-1\"\nunit", "\"P-3\"\nunit")
        .replace("mode = \"quadratic\"", "mode = \"square\"");
    let errors = plant::parse(&text, Path::new("plant.toml")).expect_err("three slips").errors;
    assert_eq!(errors.iter().map(|e| e.line).collect::<Vec<_>>(), [Some(9), Some(30), Some(71)]);
}

#[test]
fn files() {
    let dir = crate::scratch::folder();
    let path = dir.path().join("plant.toml");
    let error = plant::read(&path).expect_err("not there").to_string();
    assert_eq!(
        error,
        format!(
            "{}: the plant file cannot be read: there is no such file\nhint: offcurve explain plant-file > plant.toml   # prints one to start from",
            path.display()
        )
    );
    let of_folder =
        |at: &Path| plant::read(at).expect_err("a folder").to_string().replace(&*dir.path().to_string_lossy(), "DIR");
    assert_eq!(
        of_folder(dir.path()),
        "DIR: the plant file cannot be read: it is a folder\nhint: offcurve fleet DIR   # reviews every plant file below a folder"
    );
    std::fs::write(&path, b"# nothing yet\n").expect("written");
    assert_eq!(
        of_folder(dir.path()),
        "DIR: the plant file cannot be read: it is a folder\nhint: name the file in it: DIR/plant.toml"
    );
    assert_eq!(
        of_folder(&path),
        "DIR/plant.toml: there is nothing in it but blanks and comments: a plant file needs [site], [loop], a [[pump]], [trends] and [[point]]s\n\
         hint: offcurve explain plant-file > plant.toml   # prints one to start from"
    );
    std::fs::write(&path, b"units = \"SI\"\n# caf\xe9\n").expect("written");
    let error = plant::read(&path).expect_err("Latin-1").to_string();
    assert_eq!(
        error,
        format!(
            "{}:2: the text is not UTF-8: a plant file is plain UTF-8 text\nhint: save it again as plain text with the encoding UTF-8",
            path.display()
        )
    );
    std::fs::write(&path, [b"\xef\xbb\xbf", BASE.as_bytes()].concat()).expect("written");
    let plant = plant::read(&path).unwrap_or_else(|e| panic!("with a byte order mark: {e}")).value;
    assert_eq!(Some(plant.name.as_str()), dir.path().file_name().and_then(|n| n.to_str()));
    std::fs::write(&path, BASE.replace('\n', "\r\n")).expect("written");
    assert!(plant::read(&path).is_ok(), "with line ends of another system");
}

/// Ten thousand random changes of the template's bytes: an answer each time, and a hint with every complaint.
#[test]
fn no_panic_on_mutations() {
    // Numerical Recipes' 64-bit linear congruential generator (Press et al., 3rd ed., 7.1.4).
    let mut state = 2026_u64;
    let mut next = |below: usize| {
        state = state.wrapping_mul(2_862_933_555_777_941_757).wrapping_add(3_037_000_493);
        (state >> 33) as usize % below
    };
    let odd = b"\"\"''[]{}=#,.\\\n-+e0919nainf\xc3\xb3\0:T%";
    let mut refused = 0;
    for _ in 0..10_000 {
        let mut bytes = plant::TEMPLATE.as_bytes().to_vec();
        for _ in 0..=next(4) {
            let at = next(bytes.len());
            match next(5) {
                0 => bytes[at] = next(256) as u8,
                1 => bytes[at] = odd[next(odd.len())],
                2 => bytes.insert(at, odd[next(odd.len())]),
                3 => drop(bytes.drain(at..(at + 1 + next(40)).min(bytes.len()))),
                _ => {
                    let piece = bytes[at..(at + 1 + next(120)).min(bytes.len())].to_vec();
                    let to = next(bytes.len());
                    bytes.splice(to..to, piece);
                }
            }
        }
        if let Err(errors) = plant::parse(&String::from_utf8_lossy(&bytes), Path::new("plant.toml")) {
            refused += 1;
            assert!(!errors.errors.is_empty());
            assert!(errors.errors.iter().all(|e| !e.hint.is_empty() && !e.found.is_empty() && !e.rule.is_empty()));
        }
    }
    // Most of the template is comments, so many changes leave it sound, and many do not.
    assert!((1_000..9_900).contains(&refused), "{refused}");
}

/// The contract's own example, its gaps filled, with the second point that it needs.
#[test]
fn the_contract_s_example() {
    let plant = parsed(EXAMPLE);
    assert_eq!(plant.system.serves, Serves::Comfort);
    assert_eq!(plant.coils[0].serves, Serves::Critical);
    assert_eq!(plant.coils[0].valve, Some(Valve::TwoWay));
    close(plant.coils[0].design_load.expect("said").in_kw(), 118.0);
    assert_eq!(plant.control.sensor_at.as_deref(), Some("AHU-8"));
    close(plant.control_history[0].1.setpoint.expect("said").in_kpa(), 110.0);
    close(plant.pumps[0].minimum_allowed_speed.expect("said").in_percent(), 30.0);
    assert_eq!(plant.points[0].computed_from, ["CHW FLOW", "CHWS", "CHWR"]);
    assert_eq!(plant.trends.day_first, Some(true));
}

const EXAMPLE: &str = r#"units = "SI"

[site]
name = "Harbour House"
timezone = "Europe/Lisbon"
currency = "EUR"
energy_price = 0.19
carbon_intensity = 0.24
holidays = ["2026-01-01"]

[loop]
name = "North loop"
service = "chilled-water"
fluid = "water"
glycol_mass_fraction = 0.0
design_flow = "68 m3/h"
design_head = "162 kPa"
supply_temperature = "6 degC"
return_temperature = "12 degC"
topology = "primary-only"
minimum_flow = "14 m3/h"
bypass = "two-way"
static_head = "0 kPa"
pumps_on_duty = 1
serves = "comfort"
frost_protection_below = "3 degC"

[[source]]
name = "CH-1"
minimum_flow = "12 m3/h"
maximum_flow = "60 m3/h"

[[coil]]
name = "AHU-1"
terminal = "air-coil"
count = 1
design_flow = "17 m3/h"
design_load = "118 kW"
valve = "two-way"
characteristic = "equal-percentage"
minimum_differential_pressure = "20 kPa"
index = true
serves = "critical"
freeze_risk = true

[[coil]]
name = "AHU-8"

[control]
mode = "quadratic"
head_at = "pump"
zero_flow_head = "64 kPa"
design_flow = "68 m3/h"
design_head = "162 kPa"
setpoint = "90 kPa"
sensor_at = "AHU-8"
reset = "most-open-valve"
minimum_speed = "35 %"
maximum_speed = "100 %"

[[control_history]]
until = "2026-02-11 19:00"
setpoint = "110 kPa"

[[schedule]]
days = "mon-fri"
from = "06:00"
to = "20:00"

[[pump]]
name = "P-1"
rated_speed = "1450 rpm"
rated_frequency = "50 Hz"
minimum_allowed_speed = "30 %"
motor = "induction"
best_efficiency_flow = "66 m3/h"
motor_power = "7.5 kW"
motor_efficiency = 0.904
drive_efficiency = 0.97

[[pump.curve]]
speed = "100 %"
power_is = "shaft"
flow  = { unit = "m3/h", values = [0, 20, 40, 60, 80, 90] }
head  = { unit = "kPa",  values = [212, 210, 202, 183, 150, 127] }
power = { unit = "kW",   values = [1.8, 2.6, 3.4, 4.1, 4.7, 4.9] }

[trends]
files = ["trends/*.csv"]
timezone = "Europe/Lisbon"
day_first = true
interval = "5 min"
blank = "missing"

[[point]]
name = "P1 speed"
file = "north/*.csv"
role = "pump-speed"
of = "P-1"
unit = "%"
accuracy = "1 % of reading"
noise = "0.2 %"
percent_of = "rated-speed"
scale = 1.0
offset = 0.0
range = [0, 10]
power_is = "drive-input"
computed_from = ["CHW FLOW", "CHWS", "CHWR"]
on = ["On", "1"]
"#;
