//! A plant file and an export of a chosen set of points: what an engineer would hand over.
//!
//! Comes in: [`Plant`], [`Record`] and which points are trended. Goes out: the text of both. What the nuisance table says is not declared
//! is left out. The true setpoint is nowhere in it: the file holds the curve as designed.

use super::machine::{HEADER, LOSS_LN, Machine, Nuisances};
use super::nuisance::{self as table, Curve, ReadAt, Service, SpeedUnit};
use super::plant::{Column, Held, Key, Plant, Record, figures, head_in};
use std::fmt::Write;

/// Monday, 12 January 2026, 00:00 in Lisbon, which is UTC then.
pub const START_MS: i64 = 1_768_176_000_000;

fn name(key: Key) -> String {
    match key {
        Key::Speed(p) => format!("P{} SPD", p + 1),
        Key::Power(p) => format!("P{} KW", p + 1),
        Key::Head(p) => format!("P{} DP", p + 1),
        Key::Header => "HEADER DP".to_owned(),
        Key::Meter => "FLOW".to_owned(),
        Key::Load => "LOAD".to_owned(),
        Key::Supply => "SUPPLY T".to_owned(),
        Key::Return => "RETURN T".to_owned(),
        Key::Remote => "REMOTE DP".to_owned(),
    }
}

/// The export: wide, one column a point.
pub fn export(record: &Record, keys: &[Key]) -> Vec<u8> {
    let chosen: Vec<&(Key, Column)> = record.columns.iter().filter(|(k, _)| keys.contains(k)).collect();
    let mut text = String::from("Time");
    for (key, _) in &chosen {
        let _ = write!(text, ",{}", name(*key));
    }
    text.push('\n');
    for row in 0..record.rows {
        let minutes = row * table::STEP_MIN;
        let _ = write!(text, "2026-01-{:02} {:02}:{:02}", 12 + minutes / 1440, minutes / 60 % 24, minutes % 60);
        for (_, column) in &chosen {
            let _ = write!(text, ",{:.*}", column.decimals, column.values[row]);
        }
        text.push('\n');
    }
    text.into_bytes()
}

/// The plant file.
pub fn plant_file(plant: &Plant, held: Held, keys: &[Key]) -> String {
    let mut t = String::from("[site]\ntimezone = \"Europe/Lisbon\"\n\n");
    let (service, fluid) = match plant.service {
        Service::Chilled => ("chilled-water", "water"),
        Service::Heating => ("heating-water", "water"),
        Service::ColdEthylene => ("chilled-water", "ethylene-glycol"),
        Service::ColdPropylene => ("chilled-water", "propylene-glycol"),
    };
    let sign = if plant.service == Service::Heating { -1.0 } else { 1.0 };
    let back = plant.supply_c + sign * plant.difference_k;
    let _ = write!(
        t,
        "[loop]\nservice = \"{service}\"\nfluid = \"{fluid}\"\nglycol_mass_fraction = {:.2}\ndesign_flow = \"{} m3/h\"\n\
         design_head = \"{} kPa\"\nsupply_temperature = \"{:.1} degC\"\nreturn_temperature = \"{back:.1} degC\"\n\n",
        plant.glycol_share, plant.design_flow, plant.design_head, plant.supply_c,
    );
    t.push_str(&control(plant, held));
    for (p, machine) in plant.machines.iter().enumerate() {
        t.push_str(&pump(plant, machine, p));
    }
    t.push_str("[trends]\nfiles = [\"trend.csv\"]\n\n");
    for key in keys {
        t.push_str(&point(plant, *key));
    }
    t
}

fn control(plant: &Plant, held: Held) -> String {
    let place = if held == Held::AtHeader { "header" } else { "pump" };
    let (mode, more) = match (held, plant.curve) {
        (Held::Remote, _) => {
            let setpoint = figures(plant.design_head - plant.truth[super::plant::PIPE]);
            ("remote-pressure", format!("setpoint = \"{setpoint} kPa\"\n"))
        }
        (_, Curve::Constant) => {
            ("constant-pressure", format!("head_at = \"{place}\"\nsetpoint = \"{} kPa\"\n", plant.design_head))
        }
        (_, curve) => {
            let word = if curve == Curve::Quadratic { "quadratic" } else { "proportional" };
            let zero = plant.zero_flow_head;
            (word, format!("head_at = \"{place}\"\nzero_flow_head = \"{zero} kPa\"\n"))
        }
    };
    let floor = 100.0 * plant.floor;
    format!("[control]\nmode = \"{mode}\"\n{more}minimum_speed = \"{floor:.0} %\"\nmaximum_speed = \"100 %\"\n\n")
}

fn pump(plant: &Plant, machine: &Machine, p: usize) -> String {
    let mut t = format!(
        "[[pump]]\nname = \"P-{}\"\nrated_speed = \"{:.0} rpm\"\nrated_frequency = \"{:.0} Hz\"\n",
        p + 1,
        machine.plate_rpm,
        plant.mains_hz
    );
    if plant.speed_unit == SpeedUnit::PercentOfMaximum {
        let _ = writeln!(t, "maximum_frequency = \"{:.0} Hz\"", plant.maximum_hz);
    }
    if machine.permanent {
        t.push_str("motor = \"permanent-magnet\"\n");
    }
    if plant.plate_declared {
        let _ = writeln!(
            t,
            "motor_power = \"{} kW\"\nmotor_efficiency = {:.3}",
            machine.motor_kw, machine.motor_efficiency
        );
        if plant.drive_declared {
            let _ = writeln!(t, "drive_efficiency = {:.2}", machine.drive_efficiency);
        }
    }
    t.push('\n');
    for speed in plant.table.speeds {
        t.push_str(&curve(plant, machine, *speed));
    }
    t
}

/// The sheet's values: no departures, nominal losses.
fn nominal(machine: &Machine) -> Nuisances {
    let mut c = machine.truth;
    c[..=super::machine::POWER_BEND].fill(0.0);
    c[LOSS_LN] = 0.0;
    c[HEADER] = 0.0;
    c
}

fn curve(plant: &Plant, machine: &Machine, speed: f64) -> String {
    let c = nominal(machine);
    let points = plant.table.points;
    let flows: Vec<f64> =
        (0..points).map(|k| figures(speed * machine.sheet.end_flow * k as f64 / (points - 1) as f64)).collect();
    let (unit, factor) = (plant.table.head_unit, head_in(plant.table.head_unit, plant.fluid.density));
    let power = |q: f64| {
        let shaft = machine.sheet.shaft_power(q, speed);
        if plant.table.drive_input { machine.power_at(&c, shaft, speed, ReadAt::DriveInput) } else { shaft }
    };
    let list = |f: &dyn Fn(f64) -> f64| flows.iter().map(|q| figures(f(*q)).to_string()).collect::<Vec<_>>().join(", ");
    format!(
        "[[pump.curve]]\nspeed = \"{:.0} %\"\npower_is = \"{}\"\nflow = {{ unit = \"m3/h\", values = [{}] }}\n\
         head = {{ unit = \"{unit}\", values = [{}] }}\npower = {{ unit = \"kW\", values = [{}] }}\n\n",
        100.0 * speed,
        if plant.table.drive_input { "drive-input" } else { "shaft" },
        list(&|q| q),
        list(&|q| factor * machine.sheet.head(q, speed)),
        list(&power),
    )
}

fn point(plant: &Plant, key: Key) -> String {
    let (role, of, unit) = match key {
        Key::Speed(p) => ("pump-speed", Some(p), speed_unit(plant)),
        Key::Power(p) => ("pump-power", Some(p), "kW"),
        Key::Head(p) => ("pump-head", Some(p), plant.noise.head_unit),
        Key::Header => ("pump-head", None, plant.noise.head_unit),
        Key::Meter => ("loop-flow", None, "m3/h"),
        Key::Load => ("thermal-load", None, "kW"),
        Key::Supply => ("supply-temperature", None, "degC"),
        Key::Return => ("return-temperature", None, "degC"),
        Key::Remote => ("differential-pressure", None, plant.noise.head_unit),
    };
    let mut t = format!("[[point]]\nname = \"{}\"\nrole = \"{role}\"\nunit = \"{unit}\"\n", name(key));
    if let Some(p) = of {
        let _ = writeln!(t, "of = \"P-{}\"", p + 1);
    }
    match key {
        Key::Speed(_) => t.push_str(percent_of(plant)),
        Key::Power(_) if plant.read_at_declared => {
            let word = match plant.machines[0].read_at {
                ReadAt::DriveInput => "drive-input",
                ReadAt::DriveOutput => "drive-output",
                ReadAt::Shaft => "shaft",
            };
            let _ = writeln!(t, "power_is = \"{word}\"");
        }
        Key::Head(_) | Key::Header | Key::Remote if plant.head_accuracy_declared => {
            let _ = writeln!(t, "accuracy = \"{} % of span\"", table::HEAD_ACCURACY);
        }
        _ => {}
    }
    t.push('\n');
    t
}

fn speed_unit(plant: &Plant) -> &'static str {
    match plant.speed_unit {
        SpeedUnit::PercentOfSpeed | SpeedUnit::PercentOfFrequency | SpeedUnit::PercentOfMaximum => "%",
        SpeedUnit::Hertz => "Hz",
        SpeedUnit::Rpm => "rpm",
        SpeedUnit::Fraction => "fraction",
    }
}

fn percent_of(plant: &Plant) -> &'static str {
    match plant.speed_unit {
        SpeedUnit::PercentOfSpeed => "percent_of = \"rated-speed\"\n",
        SpeedUnit::PercentOfFrequency => "percent_of = \"rated-frequency\"\n",
        SpeedUnit::PercentOfMaximum => "percent_of = \"maximum-frequency\"\n",
        _ => "",
    }
}
