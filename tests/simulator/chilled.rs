//! Quay House: chilled water for an invented office building by the water, two parallel pumps, nine terminal units.

use super::calendar::{DAY_MS, Local, Zone};
use super::confession::truth_toml;
use super::engine::{Control, Curve, Record, Sizing, World, simulate};
use super::export::{Column, list, point_entry, spoil, wide};
use super::network::{Pipes, Solved};
use super::noise::{Rng, Wander};
use super::physics::{Drive, Model, Port, Pump};
use super::sensors::Sensor;
use super::{AlsoTrue, HeadPoint, LookAlike, Options, Planted, Run, Truth};

const ZONE: Zone = Zone::Lisbon;
const DESIGN_FLOW: f64 = 132.0;
const DESIGN_HEAD: f64 = 210.0;
/// Zero-flow head that the neediest valve asks for over all but a percent or two of the month, and the planted one.
const ENOUGH_ZERO_HEAD: f64 = 45.0;
const PLANTED_ZERO_HEAD: f64 = 100.0;
/// After the reload the drive holds this share of the design head.
const RELOADED_SHARE: f64 = 0.90;
/// Heat transfer that the fouled coils keep.
const FOULED: f64 = 0.70;
/// Check valve, strainer and discharge valve at a pump's design flow [kPa].
const HEADER_LOSS: f64 = 4.0;

/// Name, design flow, main pipe before it (kPa at the flow that passes there at design), coil and valve drop [kPa].
const UNITS: [(&str, f64, f64, f64, f64); 9] = [
    ("AHU-3", 18.0, 3.0, 42.0, 45.0),
    ("CR-1", 14.0, 1.0, 44.0, 48.0),
    ("AHU-1", 28.0, 4.0, 45.0, 42.0),
    ("AHU-4", 16.0, 4.0, 42.0, 42.0),
    ("AHU-2", 25.0, 5.0, 45.0, 40.0),
    ("AHU-7", 11.0, 4.0, 40.0, 38.0),
    ("AHU-5", 14.0, 3.0, 42.0, 38.0),
    ("AHU-8", 9.0, 3.0, 38.0, 36.0),
    ("AHU-6", 12.0, 3.0, 45.0, 40.0),
];

struct State {
    onset_fouling_ms: Option<i64>,
    onset_reload_ms: Option<i64>,
    rng: Rng,
    slow: Wander,
    fast: Wander,
    humid: Wander,
    cloud: Wander,
    machine: Wander,
    load: Vec<Wander>,
    zone_c: Vec<f64>,
    /// What today's conference asks.
    event: f64,
    start_ms: i64,
    lead: usize,
    minutes_over: u32,
    minutes_under: u32,
    minutes_two: u32,
}

pub fn run(seed: u64, days: u32, options: &Options) -> Run {
    let start_ms = ZONE.utc_ms(2025, 10, 1, 0);
    let end_ms = ZONE.utc_ms(2025, 10, 1 + i64::from(days), 0);
    let (mut world, declared, model) = build(seed, options);
    let mut state = state(seed, options, start_ms, world.coils.len());
    let rows = ((end_ms - start_ms) / 300_000) as usize;
    let record = simulate(&mut world, &mut state, start_ms, rows, row, minute);
    let mut truth = record.truth(&world, declared);
    confess(&mut truth, options, &world, &state, &record, end_ms);
    let files = files(seed, options, &world, &record);
    let plant_toml = plant_toml(options, &world, declared, &model);
    let truth_toml = truth_toml(seed, ZONE, &world, &truth);
    Run { plant_toml, files, truth_toml, truth }
}

fn build(seed: u64, options: &Options) -> (World, Curve, Model) {
    let mut rng = Rng::new(seed, 1);
    let place = rng.between(0.86, 1.08);
    let model = Model::draw(&mut rng, 0.5 * DESIGN_FLOW, DESIGN_HEAD + HEADER_LOSS, place);
    let compensated = rng.chance(0.5);
    let pumps: Vec<Pump> = (0..2)
        .map(|_| {
            let drive = Drive::draw(&mut rng, 7.5, 0.904, 1500.0 / 1450.0, compensated);
            Pump::draw(&mut rng, &model, HEADER_LOSS, 0.5 * DESIGN_FLOW, drive, options.departure)
        })
        .collect();
    let sizing = Sizing { water: 1.1667, water_in: 6.0, water_out: 12.0, air_in: 27.0, air_out: 13.5, wet: 1.2 };
    let total: f64 = UNITS.iter().map(|u| u.1).sum();
    let mut beyond = total;
    let mut coils = Vec::new();
    for (name, flow, main, coil_kpa, valve_kpa) in UNITS {
        let mut coil = sizing.coil(&mut rng, name, flow, coil_kpa, valve_kpa);
        coil.main_resistance = main / (beyond * beyond);
        beyond -= flow;
        if name == "CR-1" {
            coil.port = Port::ThreeWay;
        }
        coils.push(coil);
    }
    let zero = if options.faults.setpoint_too_high { PLANTED_ZERO_HEAD } else { ENOUGH_ZERO_HEAD };
    let declared = Curve::Quadratic(zero, DESIGN_HEAD);
    // The installer set the floor a little above what the zero-flow head that is enough needs on paper, in whole percent.
    let floor = libm::ceil(100.0 * libm::sqrt(1.12 * ENOUGH_ZERO_HEAD / model.head(0.0))) / 100.0;
    let belief = Rng::new(seed, 6).between(0.96, 1.04);
    let transmitter = pressure(seed, options.noise, 0, DESIGN_HEAD);
    let set = options.set.unwrap_or(super::Set { curve: declared, floor });
    let control = Control {
        curve: set.curve,
        at_pump: options.head == Some(HeadPoint::Pump),
        floor: set.floor,
        flow_belief: belief,
        head_belief: [transmitter.gain, transmitter.offset],
        reference: 0.0,
        lifted_floor: 0.0,
        enabled: true,
    };
    let mut noise = Rng::new(seed, 5);
    let world = World {
        zone: ZONE,
        cooling: true,
        design_flow: DESIGN_FLOW,
        design_head: DESIGN_HEAD,
        pumps,
        pump_names: vec!["P-1", "P-2"],
        pump_on: vec![true, false],
        coils,
        pipes: Pipes::new(92.0 / (DESIGN_FLOW * DESIGN_FLOW), f64::INFINITY),
        control,
        water: 1.1667,
        density_slope: 0.0,
        design_supply_c: 6.0,
        volume_m3: [3.0, 4.0],
        outdoor_c: 18.0,
        machine_c: 6.4,
        bypass_command: 0.0,
        hunting: false,
        speed_noise: Wander::new(&mut noise, 0.0008, 2.0),
        rng: noise,
        flows: vec![0.0; 2],
        shaft: vec![0.0; 2],
        torque: vec![0.1; 2],
        power: vec![0.0; 2],
        heads: vec![0.0; 2],
        coil_supply_c: 6.5,
        return_tank_c: [11.0; 2],
        supply_sensor_c: 6.5,
        return_sensor_c: 11.0,
        solved: Solved::default(),
    };
    (world, declared, model)
}

fn state(seed: u64, options: &Options, start_ms: i64, coils: usize) -> State {
    let mut rng = Rng::new(seed, 2);
    let day = |d: u32, hour: i64| ZONE.utc_ms(2025, 10, i64::from(d), hour);
    State {
        onset_fouling_ms: options.faults.low_delta_t_from.map(|d| day(d, 11)),
        onset_reload_ms: options.faults.off_control_curve_from.map(|d| day(d, 14)),
        slow: Wander::new(&mut rng, 1.4, 2.5 * 288.0),
        fast: Wander::new(&mut rng, 0.35, 18.0),
        humid: Wander::new(&mut rng, 0.5, 200.0),
        cloud: Wander::new(&mut rng, 0.25, 60.0),
        machine: Wander::new(&mut rng, 0.12, 6.0),
        load: (0..coils).map(|_| Wander::new(&mut rng, 0.06, 18.0)).collect(),
        zone_c: vec![24.3; coils],
        event: 0.0,
        start_ms,
        lead: 0,
        minutes_over: 0,
        minutes_under: 0,
        minutes_two: 0,
        rng,
    }
}

/// A smooth hump of height 1 about a clock time [h].
fn hump(clock: f64, centre: f64, width: f64) -> f64 {
    let x = (clock - centre) / width;
    if x.abs() >= 1.0 { 0.0 } else { (1.0 - x * x) * (1.0 - x * x) }
}

/// Weather, zones and air handlers for the next interval.
fn row(w: &mut World, s: &mut State, t: i64, local: Local) {
    let clock = local.clock();
    let days = (t - s.start_ms) as f64 / DAY_MS as f64;
    // The warm spell: four days about the middle of the month.
    let spell = 4.5 * hump(days, 15.3, 2.6);
    let swing = 4.2 * libm::cos(core::f64::consts::TAU * (clock - 15.5) / 24.0);
    w.outdoor_c = 18.6 - 0.07 * days + spell + swing + s.slow.next(&mut s.rng) + s.fast.next(&mut s.rng);
    let humid = (0.5 + s.humid.next(&mut s.rng)).clamp(0.0, 1.2);
    let cloud = (0.75 + s.cloud.next(&mut s.rng)).clamp(0.3, 1.0);
    if local.hour == 0 && local.minute == 0 {
        let weekday_event = !local.is_weekend() && s.rng.chance(0.65);
        let saturday_event = local.weekday == 5 && s.rng.chance(0.3);
        s.event = if weekday_event || saturday_event { s.rng.between(0.75, 1.0) } else { 0.0 };
    }
    // Mondays before work the start-up program runs the pumps flat out while the building is pulled down.
    let pull_down = local.weekday == 0 && (5.5..6.5).contains(&clock);
    w.control.lifted_floor = if pull_down { 1.0 } else { 0.0 };
    for k in 0..w.coils.len() {
        air_handler(w, s, k, local, humid, cloud);
        if pull_down && w.coils[k].fan > 0.0 && !["CR-1", "AHU-8"].contains(&UNITS[k].0) {
            w.coils[k].fan = 1.0;
            w.coils[k].setpoint_c = 12.0;
        }
    }
    let heat: f64 = w.coils.iter().map(|c| c.heat_kw).sum();
    w.machine_c = 6.4 + s.machine.next(&mut s.rng) + 2.5 * (heat / 900.0 - 0.85).max(0.0);
    for (name, factor) in [("AHU-1", FOULED), ("AHU-2", FOULED)] {
        if let Some(coil) = w.coils.iter_mut().find(|c| c.name == name) {
            coil.cleanliness = if s.onset_fouling_ms.is_some_and(|on| t >= on) { factor } else { 1.0 };
        }
    }
    if s.onset_reload_ms.is_some_and(|on| t >= on) {
        w.control.curve = Curve::Constant(RELOADED_SHARE * DESIGN_HEAD);
    }
}

fn air_handler(w: &mut World, s: &mut State, k: usize, local: Local, humid: f64, cloud: f64) {
    let clock = local.clock();
    let wander = s.load[k].next(&mut s.rng);
    let outdoor = w.outdoor_c;
    let coil = &mut w.coils[k];
    coil.wet = 1.10 + 0.2 * humid;
    let workday = !local.is_weekend();
    // Start, stop [h], hour of the sun on its side, sun's share.
    let (from, to, noon, sun) = match coil.name.as_str() {
        "CR-1" => {
            coil.fan = 1.0;
            coil.entering_c = 24.5 + 8.0 * wander;
            coil.setpoint_c = 17.5;
            return;
        }
        "AHU-1" => (5.75, 19.5, 15.5, 0.34),
        "AHU-2" => (5.75, 19.0, 11.0, 0.32),
        "AHU-3" => (6.0, 19.5, 13.0, 0.22),
        "AHU-4" => (6.0, 18.5, 16.5, 0.34),
        "AHU-5" => (6.25, 20.0, 10.0, 0.30),
        "AHU-6" => (6.5, 20.0, 12.0, 0.10),
        "AHU-7" => (6.5, 18.0, 14.0, 0.20),
        _ => (0.0, 24.0, 14.0, 0.18),
    };
    let always = coil.name == "AHU-8";
    let saturday = coil.name == "AHU-6" && local.weekday == 5 && s.event > 0.0 && (9.0..16.0).contains(&clock);
    let on = always || saturday || (workday && clock >= from && clock < to);
    let people = if workday { 0.30 * hump(clock, 10.5, 4.0).max(0.9 * hump(clock, 15.0, 4.0)) } else { 0.0 };
    let event =
        if coil.name == "AHU-6" { 0.56 * s.event * hump(clock, 11.5, 4.0).max(hump(clock, 14.5, 2.5)) } else { 0.0 };
    let load = 0.18 + people + event + sun * cloud * hump(clock, noon, 5.0) + 0.022 * (outdoor - 18.0) + wander;
    let zone = &mut s.zone_c[k];
    if on {
        *zone += (23.8 + 1.2 * (load - 0.4) - *zone) * (5.0 / 80.0);
    } else {
        *zone += (27.6 + 0.2 * (outdoor - 18.0) - *zone) * (5.0 / 3000.0);
    }
    coil.setpoint_c = if coil.name == "AHU-6" { 13.0 } else { 14.0 };
    coil.fan = match (on, *zone > 25.2) {
        (false, _) => 0.0,
        (true, true) => 1.0,
        (true, false) => (0.25 + 0.75 * load).clamp(0.35, 1.0),
    };
    let fresh = if always { 0.15 } else { 0.25 };
    coil.entering_c = if on { fresh * outdoor + (1.0 - fresh) * *zone } else { *zone };
}

/// Staging: the second pump above 47 % of design flow for ten minutes, off below 40 % for a quarter of an hour.
fn minute(w: &mut World, s: &mut State, t: i64) {
    let share = w.solved.flow * w.control.flow_belief / DESIGN_FLOW;
    let two = w.pump_on.iter().all(|on| *on);
    s.minutes_over = if share > 0.47 { s.minutes_over + 1 } else { 0 };
    s.minutes_under = if share < 0.40 { s.minutes_under + 1 } else { 0 };
    s.minutes_two = if two { s.minutes_two + 1 } else { 0 };
    // The lead changes on Mondays at five.
    let week = (t - ZONE.utc_ms(2025, 9, 29, 5)).div_euclid(7 * DAY_MS);
    let lead = week.rem_euclid(2) as usize;
    if lead != s.lead && !two {
        s.lead = lead;
    }
    let both = if two { !(s.minutes_under >= 15 && s.minutes_two >= 30) } else { s.minutes_over >= 10 };
    for k in 0..w.pump_on.len() {
        w.pump_on[k] = both || k == s.lead;
    }
}

fn files(seed: u64, options: &Options, w: &World, record: &Record) -> Vec<(String, Vec<u8>)> {
    let mut rng = Rng::new(seed, 3);
    let mut bad = Rng::new(seed, 4);
    let n = options.noise;
    let mut plant_room = Vec::new();
    for p in 0..w.pumps.len() {
        let name = if p == 0 { "P1" } else { "P2" };
        let names = [format!("{name} Speed"), format!("{name} Power"), format!("{name} Status")];
        plant_room.extend(pump_columns(options, record, &mut rng, p, &names.each_ref().map(String::as_str), 100.0));
        let head = pressure(seed, n, p as u64, DESIGN_HEAD);
        if options.head == Some(HeadPoint::Pump) {
            let column = Column::new(&format!("{name} DP"), &head, &mut rng, record.pump(p, 3).iter().copied());
            plant_room.push(silent_when_off(column, record, p));
        }
    }
    let header = pressure(seed, n, 0, DESIGN_HEAD);
    if options.head == Some(HeadPoint::Header) {
        plant_room
            .push(Column::new("CHW Header DP", &header, &mut rng, record.columns[1].iter().copied()).not_negative());
    }
    let meter_gain = 1.0 + 0.02 * n * rng.normal().clamp(-2.5, 2.5);
    let meter = Sensor { gain: meter_gain, offset: 0.0, relative_noise: 0.005 * n, noise: 0.05, lag: 0.1, decimals: 1 };
    if options.meter {
        let flow = record.columns[0].iter().copied();
        plant_room.push(Column::new("CHW Flow", &meter, &mut rng, flow).not_negative());
    }
    for (name, signal, offset, decimals) in
        [("CHW Supply Temp", 4, 0.08, 2), ("CHW Return Temp", 5, 0.08, 2), ("Outdoor Temp", 6, 0.3, 1)]
    {
        let sensor = thermometer(&mut rng, n, offset, decimals);
        plant_room.push(Column::new(name, &sensor, &mut rng, record.columns[signal].iter().copied()));
    }
    let (mut low, mut high) = (Vec::new(), Vec::new());
    for number in 1..=9 {
        let name = if number == 9 { "CR-1".to_owned() } else { format!("AHU-{number}") };
        let k = w.coils.iter().position(|c| c.name == name).expect("every unit is in the list");
        let into = if number <= 4 { &mut low } else { &mut high };
        let stem = Sensor { offset: 0.6 * n * rng.normal(), noise: 0.15 * n, ..Sensor::exact(1) };
        let opening = record.coil(2, k, 0).iter().map(|x| 100.0 * x);
        into.push(Column::new(&format!("{name} Valve"), &stem, &mut rng, opening).percent());
        let air = thermometer(&mut rng, n, 0.2, 1);
        into.push(Column::new(
            &format!("{name} Supply Air Temp"),
            &air,
            &mut rng,
            record.coil(2, k, 1).iter().copied(),
        ));
        let setpoint = record.setpoints[k].iter().copied();
        into.push(Column::new(&format!("{name} Supply Air Setpoint"), &Sensor::exact(1), &mut rng, setpoint));
        if number <= 2 {
            let water = thermometer(&mut rng, n, 0.1, 2);
            let out = record.coil(2, k, 4).iter().copied();
            into.push(Column::new(&format!("{name} Return Water Temp"), &water, &mut rng, out));
        }
    }
    let mut gaps = Vec::new();
    if options.bad_cells {
        for column in plant_room.iter_mut().chain(&mut low).chain(&mut high) {
            spoil(column, &mut bad, &["", "", "N/A"], 0.0006);
        }
        let rows = record.time_ms.len();
        // The logger was off for 40 minutes, and the first pump's meter sent nothing for five hours.
        let dropout = rows * 12 / 31 + 110;
        gaps.push((rows * 17 / 31 + 130, rows * 17 / 31 + 138));
        if let Some(power) = plant_room.iter_mut().find(|c| c.name == "P1 Power") {
            power.bad.retain(|b| !(dropout..dropout + 60).contains(&b.0));
            power.bad.extend((dropout..dropout + 60).map(|row| (row, "")));
            power.bad.sort_by_key(|b| b.0);
        }
    }
    let file = |name: &str, columns: &[Column]| {
        let columns: Vec<&Column> = columns.iter().collect();
        (format!("trends/{name}.csv"), wide("Time", ZONE, &record.time_ms, &columns, &gaps))
    };
    vec![file("plant-room", &plant_room), file("air-handlers-1-4", &low), file("air-handlers-5-8", &high)]
}

/// Speed, power and status of a pump under these names; a reading of `full` means rated speed or frequency.
pub fn pump_columns(
    options: &Options,
    record: &Record,
    rng: &mut Rng,
    pump: usize,
    names: &[&str; 3],
    full: f64,
) -> Vec<Column> {
    let n = options.noise;
    // Power meter: gain 1.5 % (one standard deviation).
    let gain = 1.0 + 0.015 * n * rng.normal().clamp(-2.5, 2.5);
    let meter = Sensor { gain, offset: 0.0, relative_noise: 0.004 * n, noise: 0.004 * n, lag: 0.05, decimals: 2 };
    let speed = Sensor { noise: 0.0003 * full * n, ..Sensor::exact(1) };
    let reading = record.pump(pump, 0).iter().map(|r| full * r);
    let mut columns = vec![silent_when_off(Column::new(names[0], &speed, rng, reading), record, pump)];
    let power = Column::new(names[1], &meter, rng, record.pump(pump, 4).iter().copied());
    if options.power {
        columns.push(silent_when_off(power, record, pump));
    }
    let on = record.pump(pump, 5).iter().map(|on| *on > 0.5);
    columns.push(Column::status(names[2], ["Off", "On"], on));
    columns
}

/// A drive that is off reports nothing but zeros.
fn silent_when_off(mut column: Column, record: &Record, pump: usize) -> Column {
    for (value, on) in column.values.iter_mut().zip(record.pump(pump, 5)) {
        *value = if *on > 0.0 { (*value).max(0) } else { 0 };
    }
    column
}

/// Differential pressure transmitter `number`: gain 1 %, zero 0.3 % of design head (one standard deviation), in the unit
/// of the design head. The controller reads the same one.
pub fn pressure(seed: u64, n: f64, number: u64, design_head: f64) -> Sensor {
    let mut rng = Rng::new(seed, 7 + number);
    Sensor {
        gain: 1.0 + 0.01 * n * rng.normal().clamp(-2.5, 2.5),
        offset: 0.003 * design_head * n * rng.normal().clamp(-2.5, 2.5),
        relative_noise: 0.003 * n,
        noise: 0.0007 * design_head * n,
        lag: 0.08,
        decimals: 1,
    }
}

fn thermometer(rng: &mut Rng, n: f64, offset: f64, decimals: u32) -> Sensor {
    let offset = offset * n * rng.normal().clamp(-2.5, 2.5);
    Sensor { gain: 1.0, offset, relative_noise: 0.0, noise: 0.03 * n, lag: 0.2, decimals }
}

fn plant_toml(options: &Options, w: &World, declared: Curve, model: &Model) -> String {
    let (zero, design) = match declared {
        Curve::Quadratic(zero, design) | Curve::Proportional(zero, design) => (zero, design),
        Curve::Constant(head) => (head, head),
    };
    let mut out = String::from(HEAD_TEXT);
    for number in 1..=9 {
        let name = if number == 9 { "CR-1".to_owned() } else { format!("AHU-{number}") };
        let coil = w.coils.iter().find(|c| c.name == name).expect("every unit is in the list");
        let more = match name.as_str() {
            "CR-1" => {
                "valve = \"three-way\"                  # keeps water moving at night; its bypass is by design\ncharacteristic = \"linear\"\n"
            }
            "AHU-6" => {
                "valve = \"two-way\"\ncharacteristic = \"equal-percentage\"\nindex = true                         # conference rooms, last on the main\n"
            }
            _ => "valve = \"two-way\"\ncharacteristic = \"equal-percentage\"\n",
        };
        out += &format!(
            "[[coil]]\nname = \"{name}\"\nterminal = \"air-coil\"\ndesign_flow = \"{:.0} m3/h\"\ndesign_load = \"{:.0} kW\"\n{more}\n",
            coil.design_flow, coil.design_load
        );
    }
    let head_at = if w.control.at_pump { "pump" } else { "header" };
    out += &format!(
        "[control]\nmode = \"quadratic\"\nhead_at = \"{head_at}\"\nzero_flow_head = \"{zero:.0} kPa\"\ndesign_flow = \"{DESIGN_FLOW:.0} m3/h\"\n\
         design_head = \"{design:.0} kPa\"\nminimum_speed = \"{:.0} %\"\nmaximum_speed = \"100 %\"\n\n",
        100.0 * w.control.floor
    );
    for name in &w.pump_names {
        out += &pump_toml(name, model);
    }
    out += "[trends]\nfiles = [\"trends/*.csv\"]\ninterval = \"5 min\"\n\n";
    out += &points_toml(options, w.pumps[0].drive.compensated);
    out
}

const HEAD_TEXT: &str = "\
# Quay House, chilled water: an invented building. Plant file as filled in at commissioning.
# Two equal pumps share the design flow and take turns as lead; the second one starts at high flow.
units = \"SI\"

[site]
name = \"Quay House\"
timezone = \"Europe/Lisbon\"
currency = \"EUR\"
energy_price = 0.19                    # per kWh
carbon_intensity = 0.17                # kg CO2e per kWh

[loop]
name = \"Chilled water\"
service = \"chilled-water\"
fluid = \"water\"
design_flow = \"132 m3/h\"
design_head = \"210 kPa\"
supply_temperature = \"6 degC\"
return_temperature = \"12 degC\"
topology = \"primary-only\"
minimum_flow = \"12 m3/h\"
bypass = \"three-way-coils\"
pumps_on_duty = 2
serves = \"comfort\"

";

fn pump_toml(name: &str, model: &Model) -> String {
    let top = 1.42 * model.best_flow;
    let flows: Vec<f64> = [0.0, 0.17, 0.33, 0.48, 0.62, 0.75, 0.88, 1.0].iter().map(|k| libm::round(k * top)).collect();
    format!(
        "[[pump]]\nname = \"{name}\"\nrated_speed = \"1450 rpm\"\nrated_frequency = \"50 Hz\"\n\
         minimum_allowed_speed = \"30 %\"          # the maker's limit for the seal\nmotor = \"induction\"\nmotor_power = \"7.5 kW\"\n\
         motor_efficiency = 0.904\ndrive_efficiency = 0.97\n\n[[pump.curve]]\nspeed = \"100 %\"\npower_is = \"shaft\"\n\
         flow = {{ unit = \"m3/h\", values = [{}] }}\nhead = {{ unit = \"kPa\", values = [{}] }}\npower = {{ unit = \"kW\", values = [{}] }}\n\n",
        list(flows.iter().copied(), 0),
        list(flows.iter().map(|q| model.head(*q)), 1),
        list(flows.iter().map(|q| model.shaft_power(*q)), 3),
    )
}

fn points_toml(options: &Options, compensated: bool) -> String {
    let mut out = String::new();
    let mut point = |name: &str, role: &str, of: &str, unit: &str, more: &str| {
        out += &point_entry(name, role, of, unit, more);
    };
    // A drive that compensates slip shows the speed it was asked for; one that does not shows its frequency.
    let percent = if compensated { "percent_of = \"rated-speed\"\n" } else { "percent_of = \"rated-frequency\"\n" };
    for (short, pump) in [("P1", "P-1"), ("P2", "P-2")] {
        point(&format!("{short} Speed"), "pump-speed", pump, "%", percent);
        if options.power {
            let more = "accuracy = \"3 % of reading\"\npower_is = \"drive-input\"\n";
            point(&format!("{short} Power"), "pump-power", pump, "kW", more);
        }
        point(&format!("{short} Status"), "pump-status", pump, "", "");
        if options.head == Some(HeadPoint::Pump) {
            point(&format!("{short} DP"), "pump-head", pump, "kPa", "accuracy = \"2 % of reading\"\n");
        }
    }
    if options.head == Some(HeadPoint::Header) {
        let more =
            "accuracy = \"2 % of reading\"          # between the headers; check valves and strainers lie before it\n";
        point("CHW Header DP", "pump-head", "", "kPa", more);
    }
    if options.meter {
        point("CHW Flow", "loop-flow", "", "m3/h", "accuracy = \"4 % of reading\"\n");
    }
    point("CHW Supply Temp", "supply-temperature", "", "degC", "accuracy = \"0.2 K\"\n");
    point("CHW Return Temp", "return-temperature", "", "degC", "accuracy = \"0.2 K\"\n");
    point("Outdoor Temp", "outdoor-temperature", "", "degC", "");
    for number in 1..=9 {
        let name = if number == 9 { "CR-1".to_owned() } else { format!("AHU-{number}") };
        point(&format!("{name} Valve"), "valve-position", &name, "%", "");
        point(&format!("{name} Supply Air Temp"), "air-temperature", &name, "degC", "");
        point(&format!("{name} Supply Air Setpoint"), "air-temperature-setpoint", &name, "degC", "");
        if number <= 2 {
            point(&format!("{name} Return Water Temp"), "coil-return-temperature", &name, "degC", "");
        }
    }
    out
}

/// Writes down what was planted, what only looks like a fault, and what a reader may fairly say besides.
fn confess(truth: &mut Truth, options: &Options, w: &World, s: &State, record: &Record, end_ms: i64) {
    let hours = |from: i64, on: &dyn Fn(usize) -> bool| {
        (0..record.time_ms.len()).filter(|i| record.time_ms[*i] >= from && on(*i)).count() as f64 / 12.0
    };
    let planted = |fault, from: i64, hours: f64, note: String| Planted {
        fault,
        subject: "loop",
        first_seen_ms: from,
        last_seen_ms: end_ms,
        hours,
        note,
    };
    let mut all = Vec::new();
    if options.faults.setpoint_too_high {
        let much = hours(s.start_ms, &|i| truth.curve_head_kpa[i] > 1.3 * truth.need_head_kpa[i]);
        let note = format!(
            "zero-flow head {PLANTED_ZERO_HEAD:.0} kPa declared and set; {ENOUGH_ZERO_HEAD:.0} kPa would have been enough"
        );
        all.push(planted("setpoint-too-high", s.start_ms, much, note));
    }
    if let Some(from) = s.onset_fouling_ms {
        let k = w.coils.iter().position(|c| c.name == "AHU-1").expect("a unit of the list");
        let much = hours(from, &|i| record.coil(2, k, 2)[i] > 1.0);
        let note = format!("AHU-1 and AHU-2 keep {:.0} % of their heat transfer from here on", 100.0 * FOULED);
        all.push(planted("low-delta-t", from, much, note));
    }
    if let Some(from) = s.onset_reload_ms {
        let held = RELOADED_SHARE * DESIGN_HEAD;
        let note = format!("after a controller reload the drives hold {held:.0} kPa at any flow");
        all.push(planted("off-control-curve", from, hours(from, &|_| true), note));
    }
    truth.planted = all;
    truth.look_alikes = look_alikes(end_ms);
    let floor = "the speed floor lies above what nights and weekends need; the curve, not the floor, was planted";
    truth.also_true = vec![AlsoTrue { fault: "minimum-speed-too-high", subject: "loop", note: floor }];
}

fn look_alikes(end_ms: i64) -> Vec<LookAlike> {
    let day = |d: i64, h: i64| ZONE.utc_ms(2025, 10, d, h);
    let alike = |would_be, subject, from_ms, to_ms, note| LookAlike { would_be, subject, from_ms, to_ms, note };
    let three_way =
        "three-way valve: part of its water goes past the coil by design, so the loop's difference is small at night";
    let weekend = "weekend: the lead pump rides its speed floor, above the curve on purpose";
    let monday = "the start-up program runs the pumps flat out from 05:30 to 06:30 to pull the building down";
    let meter = "the meter sent nothing for five hours";
    let spell = "a warm spell: both pumps run long hours, on the curve";
    let mut all = vec![
        alike("low-delta-t", "CR-1", day(1, 0), end_ms, three_way),
        alike("off-control-curve", "loop", day(4, 0), day(6, 0), weekend),
        alike("off-control-curve", "loop", day(6, 5), day(6, 8), monday),
        alike("sensor-fault", "P1 Power", day(13, 9), day(13, 15), meter),
        alike("off-control-curve", "loop", day(14, 0), day(18, 0), spell),
    ];
    all.retain(|a| a.to_ms <= end_ms);
    all
}
