//! Orchard School: heating water for an invented school, one pump, six coils, a bypass that keeps the boiler's least flow.

use super::calendar::{Local, Zone};
use super::chilled::{pressure, pump_columns};
use super::confession::truth_toml;
use super::engine::{Control, Curve, Record, Sizing, World, simulate};
use super::export::{Column, list, point_entry, spoil, tall};
use super::network::{Pipes, Solved};
use super::noise::{Rng, Wander};
use super::physics::{Drive, Model, Pump};
use super::sensors::Sensor;
use super::{AlsoTrue, HeadPoint, LookAlike, Options, Planted, Run, Truth};

const ZONE: Zone = Zone::Chicago;
/// Exact by definition of gallon and foot; the foot of water at 180 degF (970.4 kg/m3).
const GPM: f64 = 0.227_124_707;
const FOOT_KPA: f64 = 0.3048 * 0.9704 * 9.806_65;
const PSI: f64 = 6.894_757;
const HP: f64 = 0.745_699_9;
const DESIGN_GPM: f64 = 360.0;
const DESIGN_FT: f64 = 55.0;
const ZERO_FT: f64 = 8.0;
const DESIGN_FLOW: f64 = DESIGN_GPM * GPM;
const DESIGN_HEAD: f64 = DESIGN_FT * FOOT_KPA;
/// 33 Hz of 60.
const FLOOR: f64 = 0.55;
const MINIMUM_GPM: f64 = 54.0;
/// Where the bypass valve's linkage hangs.
const STUCK_AT: f64 = 0.50;
const HEADER_LOSS: f64 = 4.0;

/// Name, design flow [gpm], main before it, coil and valve drop [kPa].
const UNITS: [(&str, f64, f64, f64, f64); 6] = [
    ("HC-1", 80.0, 4.0, 34.0, 44.0),
    ("HC-3", 75.0, 8.0, 36.0, 42.0),
    ("HC-2", 70.0, 10.0, 34.0, 40.0),
    ("HC-5", 50.0, 9.0, 33.0, 38.0),
    ("HC-4", 45.0, 10.0, 32.0, 36.0),
    ("HC-6", 40.0, 8.0, 32.0, 36.0),
];

struct State {
    onset_stuck_ms: Option<i64>,
    hunting: bool,
    rng: Rng,
    /// The floor cycle's own draws, so that switching it off leaves the weather as it was.
    cycle_rng: Rng,
    slow: Wander,
    fast: Wander,
    machine: Wander,
    load: Vec<Wander>,
    zone_c: Vec<f64>,
    setpoint_f: Vec<f64>,
    start_ms: i64,
    frost: bool,
    /// Scheduled to run, as of the last interval.
    scheduled: bool,
    night: bool,
    /// Minutes at the floor, minutes into a probe (0: none), and how long this wait is.
    waited: f64,
    probe: f64,
    patience: f64,
}

pub fn run(seed: u64, days: u32, options: &Options) -> Run {
    let start_ms = ZONE.utc_ms(2026, 3, 1, 0);
    let end_ms = ZONE.utc_ms(2026, 3, 1 + i64::from(days), 0);
    let (mut world, declared, model) = build(seed, options);
    let mut state = state(seed, options, start_ms);
    let rows = ((end_ms - start_ms) / 300_000) as usize;
    let record = simulate(&mut world, &mut state, start_ms, rows, row, minute);
    let mut truth = record.truth(&world, declared);
    confess(&mut truth, &state, &record, end_ms);
    let files = files(seed, options, &world, &record);
    let plant_toml = plant_toml(options, &world, &model);
    let truth_toml = truth_toml(seed, ZONE, &world, &truth);
    Run { plant_toml, files, truth_toml, truth }
}

fn build(seed: u64, options: &Options) -> (World, Curve, Model) {
    let mut rng = Rng::new(seed, 1);
    let place = rng.between(0.86, 1.08);
    let model = Model::draw(&mut rng, DESIGN_FLOW, DESIGN_HEAD, place);
    let compensated = rng.chance(0.5);
    let drive = Drive::draw(&mut rng, 7.5 * HP, 0.917, 1800.0 / 1750.0, compensated);
    let pump = Pump::draw(&mut rng, &model, HEADER_LOSS, DESIGN_FLOW, drive, options.departure);
    let sizing = Sizing { water: 1.138, water_in: 82.2, water_out: 71.1, air_in: 10.0, air_out: 30.0, wet: 1.0 };
    let mut beyond: f64 = UNITS.iter().map(|u| u.1 * GPM).sum();
    let mut coils = Vec::new();
    for (name, gpm, main, coil_kpa, valve_kpa) in UNITS {
        let mut coil = sizing.coil(&mut rng, name, gpm * GPM, coil_kpa, valve_kpa);
        coil.main_resistance = main / (beyond * beyond);
        coil.gain *= 0.6;
        beyond -= gpm * GPM;
        coils.push(coil);
    }
    let declared = Curve::Proportional(ZERO_FT * FOOT_KPA, DESIGN_HEAD);
    let transmitter = pressure(seed, options.noise, 0, DESIGN_HEAD);
    let control = Control {
        curve: declared,
        at_pump: options.head != Some(HeadPoint::Header),
        floor: FLOOR,
        flow_belief: Rng::new(seed, 6).between(0.96, 1.04),
        head_belief: [transmitter.gain, transmitter.offset],
        reference: 0.0,
        lifted_floor: 0.0,
        enabled: true,
    };
    let mut noise = Rng::new(seed, 5);
    let world = World {
        zone: ZONE,
        cooling: false,
        design_flow: DESIGN_FLOW,
        design_head: DESIGN_HEAD,
        pumps: vec![pump],
        pump_names: vec!["HWP-1"],
        pump_on: vec![true],
        coils,
        pipes: Pipes::new(30.0 / (DESIGN_FLOW * DESIGN_FLOW), 0.112),
        control,
        water: 1.138,
        density_slope: -6.0e-4,
        design_supply_c: 82.2,
        volume_m3: [1.6, 2.2],
        outdoor_c: 4.0,
        machine_c: 65.0,
        bypass_command: 0.0,
        hunting: false,
        speed_noise: Wander::new(&mut noise, 0.0008, 2.0),
        rng: noise,
        flows: vec![0.0],
        shaft: vec![0.0],
        torque: vec![0.1],
        power: vec![0.0],
        heads: vec![0.0],
        coil_supply_c: 65.0,
        return_tank_c: [55.0; 2],
        supply_sensor_c: 65.0,
        return_sensor_c: 55.0,
        solved: Solved::default(),
    };
    (world, declared, model)
}

fn state(seed: u64, options: &Options, start_ms: i64) -> State {
    let mut rng = Rng::new(seed, 2);
    State {
        onset_stuck_ms: options.faults.stuck_bypass_from.map(|d| ZONE.utc_ms(2026, 3, i64::from(d), 13)),
        hunting: options.faults.minimum_speed_hunting,
        slow: Wander::new(&mut rng, 3.2, 2.0 * 288.0),
        fast: Wander::new(&mut rng, 0.4, 18.0),
        machine: Wander::new(&mut rng, 0.25, 5.0),
        load: (0..UNITS.len()).map(|_| Wander::new(&mut rng, 0.05, 18.0)).collect(),
        zone_c: vec![19.0; UNITS.len()],
        setpoint_f: vec![70.0; UNITS.len()],
        start_ms,
        frost: false,
        scheduled: true,
        night: false,
        waited: 0.0,
        probe: 0.0,
        patience: 14.0,
        cycle_rng: Rng::new(seed, 20),
        rng,
    }
}

/// Weather, schedule, boiler and air handlers for the next interval.
fn row(w: &mut World, s: &mut State, t: i64, local: Local) {
    let clock = local.clock();
    let days = (t - s.start_ms) as f64 / 86_400_000.0;
    let swing = 4.0 * libm::cos(core::f64::consts::TAU * (clock - 15.0) / 24.0);
    w.outdoor_c = 4.5 + 0.15 * days + swing + s.slow.next(&mut s.rng) + s.fast.next(&mut s.rng);
    // Monday to Friday round the clock, and from Sunday evening on.
    s.scheduled = !local.is_weekend() || (local.weekday == 6 && local.hour >= 20);
    s.frost = !s.scheduled && w.outdoor_c < if s.frost { 3.1 } else { 2.2 };
    s.night = !(5.5..18.5).contains(&clock) || local.is_weekend();
    w.control.enabled = s.scheduled || s.frost;
    let boost = !local.is_weekend() && (5.5..7.0).contains(&clock);
    let compensated = (82.0 - 0.74 * (w.outdoor_c + 20.0)).clamp(52.0, 82.0);
    let shift = if boost {
        6.0
    } else if s.night {
        -4.0
    } else {
        0.0
    };
    let wanted = if w.control.enabled { (compensated + shift).min(83.0) + s.machine.next(&mut s.rng) } else { 32.0 };
    let pace = if w.control.enabled { 0.35 } else { 0.02 };
    w.machine_c += (wanted - w.machine_c) * pace;
    for k in 0..w.coils.len() {
        air_handler(w, s, k, local, boost);
    }
    if s.onset_stuck_ms.is_none_or(|on| t < on) {
        return;
    }
    w.pipes.bypass_position = w.pipes.bypass_position.max(STUCK_AT);
}

fn air_handler(w: &mut World, s: &mut State, k: usize, local: Local, boost: bool) {
    let clock = local.clock();
    let wander = s.load[k].next(&mut s.rng);
    let outdoor = w.outdoor_c;
    let coil = &mut w.coils[k];
    let (from, to, people) = match coil.name.as_str() {
        "HC-1" => (5.5, 17.5, 0.25),
        "HC-2" => (5.5, 17.5, 0.22),
        "HC-3" => (6.0, 21.0, 0.15),
        "HC-4" => (6.5, 17.0, 0.15),
        "HC-5" => (5.5, 15.0, 0.10),
        _ => (6.0, 18.0, 0.20),
    };
    let day = !local.is_weekend() && clock >= from && clock < to;
    let zone = &mut s.zone_c[k];
    let target = if day { 20.8 + people * 4.0 } else { 14.5 + 0.3 * outdoor };
    *zone += (target - *zone) * if day { 5.0 / 120.0 } else { 5.0 / 2400.0 };
    if !w.control.enabled {
        coil.fan = 0.0;
        coil.entering_c = *zone;
        return;
    }
    if day {
        let fresh = 0.40;
        coil.fan = (0.80 + people * 0.5 + wander).clamp(0.5, 1.0);
        coil.entering_c = fresh * outdoor + (1.0 - fresh) * *zone;
        coil.setpoint_c = 25.5 + 0.28 * (14.0 - outdoor).max(0.0) - 4.0 * people + if boost { 3.0 } else { 0.0 };
    } else {
        coil.fan = 0.40;
        coil.entering_c = 0.06 * outdoor + 0.94 * *zone;
        coil.setpoint_c = 19.5 + 0.40 * (9.0 - outdoor).max(0.0) + 6.0 * wander;
    }
    // The controller moves its setpoint in whole degrees Fahrenheit, and only once it is most of a degree off.
    let (held, wanted) = (s.setpoint_f[k], fahrenheit(coil.setpoint_c));
    if (wanted - held).abs() > 0.8 {
        s.setpoint_f[k] = libm::round(wanted);
    }
    coil.setpoint_c = (s.setpoint_f[k] - 32.0) / 1.8;
}

/// Bypass and floor logic, each minute.
fn minute(w: &mut World, s: &mut State, t: i64) {
    let flow = w.solved.flow * w.control.flow_belief;
    if w.control.enabled {
        let short = (1.08 * MINIMUM_GPM * GPM - flow) / DESIGN_FLOW;
        w.bypass_command = (w.bypass_command + 0.30 * short).clamp(0.0, 1.0);
    } else {
        w.bypass_command = 0.0;
    }
    // Command in whole percent; the stem takes two minutes a stroke.
    let command = libm::round(100.0 * w.bypass_command) / 100.0;
    let least = if s.onset_stuck_ms.is_some_and(|on| t >= on) { STUCK_AT } else { 0.0 };
    let position = w.pipes.bypass_position;
    w.pipes.bypass_position = (position + (command - position).clamp(-0.5, 0.5)).max(least);
    floor_cycle(w, s, flow);
}

/// The drive's no-flow watch: some minutes at the floor with little flow, and it lifts the speed to see whether flow
/// answers, finds that it does, and lets it sink again. A cycle that never ends while load stays low.
fn floor_cycle(w: &mut World, s: &mut State, flow: f64) {
    const LIFT: f64 = 0.13;
    let low = s.hunting && w.control.enabled && s.night && flow < 0.34 * DESIGN_FLOW && w.outdoor_c > 0.5;
    let at_floor = w.control.reference <= w.control.floor + 0.004;
    if !low {
        (s.waited, s.probe, w.control.lifted_floor, w.hunting) = (0.0, 0.0, 0.0, false);
        return;
    }
    if s.probe > 0.0 {
        s.probe += 1.0;
        let lift = if s.probe < 4.0 { LIFT * s.probe / 4.0 } else { LIFT * ((13.0 - s.probe) / 6.0).min(1.0) };
        w.control.lifted_floor = w.control.floor + lift.max(0.0);
        if s.probe >= 13.0 {
            (s.probe, s.waited, s.patience) = (0.0, 0.0, s.cycle_rng.between(12.0, 24.0));
            w.control.lifted_floor = 0.0;
        }
    } else if at_floor {
        s.waited += 1.0;
        if s.waited >= s.patience {
            s.probe = 1.0;
            w.hunting = true;
        }
    }
}

fn fahrenheit(c: f64) -> f64 {
    1.8 * c + 32.0
}

fn files(seed: u64, options: &Options, w: &World, record: &Record) -> Vec<(String, Vec<u8>)> {
    let mut rng = Rng::new(seed, 3);
    let mut bad = Rng::new(seed, 4);
    let n = options.noise;
    let mut columns = pump_columns(options, record, &mut rng, 0, &pump_names(), 60.0);
    // The status is logged when it changes.
    if let Some(status) = columns.iter_mut().find(|c| c.words.is_some()) {
        status.every = 0;
    }
    let head = Sensor { decimals: 2, ..pressure(seed, n, 0, DESIGN_HEAD / PSI) };
    if let Some(place) = options.head {
        let signal = if place == HeadPoint::Pump { record.pump(0, 3) } else { &record.columns[1] };
        columns.push(Column::new("HWP1 DP", &head, &mut rng, signal.iter().map(|h| h / PSI)).not_negative());
    }
    let meter_gain = 1.0 + 0.02 * n * rng.normal().clamp(-2.5, 2.5);
    let meter = Sensor { gain: meter_gain, offset: 0.0, relative_noise: 0.005 * n, noise: 0.2, lag: 0.1, decimals: 1 };
    if options.meter {
        let flow = record.columns[0].iter().map(|q| q / GPM);
        columns.push(Column::new("HW FLOW", &meter, &mut rng, flow).not_negative());
    }
    for (name, signal, every) in [("HWS TEMP", 4, 1), ("HWR TEMP", 5, 1), ("OA TEMP", 6, 3)] {
        let offset = (if every == 1 { 0.15 } else { 0.6 }) * n * rng.normal().clamp(-2.5, 2.5);
        let sensor = Sensor { offset, noise: 0.06 * n, lag: 0.2, ..Sensor::exact(1) };
        let signal = record.columns[signal].iter().map(|c| fahrenheit(*c));
        columns.push(Column::new(name, &sensor, &mut rng, signal).every(every));
    }
    let command = record.columns[7].iter().map(|x| 100.0 * x);
    columns.push(Column::new("BYP CMD", &Sensor::exact(0), &mut rng, command).percent());
    for k in unit_order(w) {
        let name = &w.coils[k].name;
        let stem = Sensor { offset: 0.6 * n * rng.normal(), noise: 0.15 * n, ..Sensor::exact(1) };
        let opening = record.coil(1, k, 0).iter().map(|x| 100.0 * x);
        columns.push(Column::new(&format!("{name} VLV"), &stem, &mut rng, opening).percent().every(3));
        let offset = 0.4 * n * rng.normal().clamp(-2.5, 2.5);
        let air = Sensor { offset, noise: 0.08 * n, lag: 0.2, ..Sensor::exact(1) };
        let leaving = record.coil(1, k, 1).iter().map(|c| fahrenheit(*c));
        columns.push(Column::new(&format!("{name} DAT"), &air, &mut rng, leaving).every(6));
        let setpoint = record.setpoints[k].iter().map(|c| fahrenheit(*c));
        columns.push(Column::new(&format!("{name} DAT SP"), &Sensor::exact(1), &mut rng, setpoint).every(0));
    }
    let mut gaps = Vec::new();
    if options.bad_cells {
        for column in columns.iter_mut().filter(|c| c.words.is_none() && c.every > 0) {
            spoil(column, &mut bad, &["Bad", "No Data", ""], 0.0012);
        }
        let rows = record.time_ms.len();
        gaps.push((rows * 20 / 31 + 100, rows * 20 / 31 + 117));
    }
    vec![("trends/hot-water.csv".to_owned(), tall("Timestamp,Point,Value", ZONE, &record.time_ms, &columns, &gaps))]
}

fn pump_names() -> [&'static str; 3] {
    ["HWP1 HZ", "HWP1 KW", "HWP1 STS"]
}

/// Units by name, not by their place on the main.
fn unit_order(w: &World) -> Vec<usize> {
    let mut order: Vec<usize> = (0..w.coils.len()).collect();
    order.sort_by(|a, b| w.coils[*a].name.cmp(&w.coils[*b].name));
    order
}

const HEAD_TEXT: &str = "\
# Orchard School, heating water: an invented school. Plant file as filled in at commissioning.
# One pump on a proportional curve; a bypass across the headers keeps the boiler's least flow.
units = \"IP\"

[site]
name = \"Orchard School\"
timezone = \"America/Chicago\"
currency = \"USD\"
energy_price = 0.13                    # per kWh
carbon_intensity = 0.38                # kg CO2e per kWh

[loop]
name = \"Heating water\"
service = \"heating-water\"
fluid = \"water\"
design_flow = \"360 gpm\"
design_head = \"55 ft\"
supply_temperature = \"180 degF\"        # at -4 degF outdoors; lower as it gets milder
return_temperature = \"160 degF\"
topology = \"primary-only\"
minimum_flow = \"54 gpm\"
bypass = \"two-way\"
pumps_on_duty = 1
serves = \"comfort\"
frost_protection_below = \"38 degF\"

[[source]]
name = \"B-1\"
minimum_flow = \"54 gpm\"

";

const TAIL_TEXT: &str = "\
[[schedule]]
days = \"mon-fri\"
from = \"00:00\"
to = \"24:00\"

[[schedule]]
days = \"sun\"
from = \"20:00\"
to = \"24:00\"

";

fn plant_toml(options: &Options, w: &World, model: &Model) -> String {
    let mut out = String::from(HEAD_TEXT);
    for k in unit_order(w) {
        let coil = &w.coils[k];
        let index = if coil.name == "HC-6" { "index = true                         # last on the main\n" } else { "" };
        out += &format!(
            "[[coil]]\nname = \"{}\"\nterminal = \"air-coil\"\ndesign_flow = \"{:.0} gpm\"\ndesign_load = \"{:.0} kBtu/h\"\nvalve = \"two-way\"\n\
             characteristic = \"equal-percentage\"\n{index}freeze_risk = true\n\n",
            coil.name,
            coil.design_flow / GPM,
            coil.design_load * 3.412_142
        );
    }
    let head_at = if w.control.at_pump { "pump" } else { "header" };
    out += &format!(
        "[control]\nmode = \"proportional\"\nhead_at = \"{head_at}\"\nzero_flow_head = \"{ZERO_FT:.0} ft\"\ndesign_flow = \"{DESIGN_GPM:.0} gpm\"\n\
         design_head = \"{DESIGN_FT:.0} ft\"\nminimum_speed = \"{:.0} %\"                  # 33 Hz\nmaximum_speed = \"100 %\"\n\n",
        100.0 * FLOOR
    );
    out += TAIL_TEXT;
    out += &pump_toml(model);
    out += "[trends]\nfiles = [\"trends/*.csv\"]\nday_first = false\ninterval = \"5 min\"\n\n";
    out += &points_toml(options, w);
    out
}

fn pump_toml(model: &Model) -> String {
    let top = 1.42 * model.best_flow / GPM;
    let flows: Vec<f64> =
        [0.0, 0.08, 0.18, 0.32, 0.46, 0.60, 0.73, 0.86, 1.0].iter().map(|k| 5.0 * libm::round(k * top / 5.0)).collect();
    format!(
        "[[pump]]\nname = \"HWP-1\"\nrated_speed = \"1750 rpm\"\nrated_frequency = \"60 Hz\"\n\
         minimum_allowed_speed = \"30 %\"          # the maker's limit for the seal\nmotor = \"induction\"\nmotor_power = \"7.5 hp\"\n\
         motor_efficiency = 0.917\ndrive_efficiency = 0.97\n\n[[pump.curve]]\nspeed = \"100 %\"\npower_is = \"shaft\"\n\
         flow = {{ unit = \"gpm\", values = [{}] }}\nhead = {{ unit = \"ft\", values = [{}] }}\nefficiency = {{ values = [{}] }}\n\n",
        list(flows.iter().copied(), 0),
        list(flows.iter().map(|q| model.head(q * GPM) / FOOT_KPA), 1),
        list(flows.iter().map(|q| model.efficiency(q * GPM)), 3),
    )
}

fn points_toml(options: &Options, w: &World) -> String {
    let mut out = String::new();
    let mut point = |name: &str, role: &str, of: &str, unit: &str, more: &str| {
        out += &point_entry(name, role, of, unit, more);
    };
    point("HWP1 HZ", "pump-speed", "HWP-1", "Hz", "");
    if options.power {
        let more = "accuracy = \"3 % of reading\"\npower_is = \"drive-input\"\n";
        point("HWP1 KW", "pump-power", "HWP-1", "kW", more);
    }
    point("HWP1 STS", "pump-status", "HWP-1", "", "");
    match options.head {
        Some(HeadPoint::Pump) => point("HWP1 DP", "pump-head", "HWP-1", "psi", "accuracy = \"2 % of reading\"\n"),
        Some(HeadPoint::Header) => point("HWP1 DP", "pump-head", "", "psi", "accuracy = \"2 % of reading\"\n"),
        None => {}
    }
    if options.meter {
        point("HW FLOW", "loop-flow", "", "gpm", "accuracy = \"4 % of reading\"\n");
    }
    point("HWS TEMP", "supply-temperature", "", "degF", "accuracy = \"0.2 K\"\n");
    point("HWR TEMP", "return-temperature", "", "degF", "accuracy = \"0.2 K\"\n");
    point("OA TEMP", "outdoor-temperature", "", "degF", "");
    point("BYP CMD", "bypass-position", "", "%", "# the command; the stem's own position is not trended\n");
    for k in unit_order(w) {
        let name = &w.coils[k].name;
        point(&format!("{name} VLV"), "valve-position", name, "%", "");
        point(&format!("{name} DAT"), "air-temperature", name, "degF", "");
        point(&format!("{name} DAT SP"), "air-temperature-setpoint", name, "degF", "");
    }
    out
}

/// Writes down what was planted, what only looks like a fault, and what a reader may fairly say besides.
fn confess(truth: &mut Truth, s: &State, record: &Record, end_ms: i64) {
    let rows = record.time_ms.len();
    let running = |i: &usize| record.pump(0, 5)[*i] > 0.5;
    let mut all = Vec::new();
    let mut also = Vec::new();
    if let Some(from) = s.onset_stuck_ms {
        let open = (0..rows).filter(|i| record.time_ms[*i] >= from && record.columns[7][*i] < 0.05).filter(running);
        all.push(Planted {
            fault: "stuck-bypass",
            subject: "loop",
            first_seen_ms: from,
            last_seen_ms: end_ms,
            hours: open.count() as f64 / 12.0,
            note: "bypass valve hangs half open; its command says 0 % whenever flow is above the minimum".to_owned(),
        });
        let caused = "the open bypass warms the return from its onset on: a consequence, not a second fault";
        also.push(AlsoTrue { fault: "low-delta-t", subject: "loop", note: caused });
    }
    let cycling: Vec<usize> = (0..rows).filter(|i| truth.hunting[*i]).collect();
    if let (Some(first), Some(last)) = (cycling.first(), cycling.last()) {
        all.push(Planted {
            fault: "minimum-speed-hunting",
            subject: "HWP-1",
            first_seen_ms: record.time_ms[*first],
            last_seen_ms: record.time_ms[*last],
            hours: cycling.len() as f64 / 12.0,
            note: "the drive's no-flow watch lifts the speed off its floor every 24 to 36 min on nights of low load"
                .to_owned(),
        });
    }
    let floor = "the speed floor lies above what nights need; it was not planted as a fault";
    also.push(AlsoTrue { fault: "minimum-speed-too-high", subject: "HWP-1", note: floor });
    truth.planted = all;
    truth.also_true = also;
    truth.look_alikes = look_alikes(s.onset_stuck_ms.unwrap_or(end_ms).min(end_ms), end_ms);
    truth.look_alikes.extend(frost_runs(record));
}

fn look_alikes(healthy_until_ms: i64, end_ms: i64) -> Vec<LookAlike> {
    let day = |d: i64, h: i64| ZONE.utc_ms(2026, 3, d, h);
    let alike = |would_be, subject, from_ms, to_ms, note| LookAlike { would_be, subject, from_ms, to_ms, note };
    let mild = "supply temperature follows the weather: the difference falls honestly on mild days";
    let bypass = "bypass flow at minimum load, on command, before the valve hung";
    let nights = "nights at the speed floor lie above the curve; the floor does that, not the curve";
    let boost = "morning boost: high flow and a warmer supply from 05:30 to 07:00, on the curve";
    let mut all = vec![
        alike("low-delta-t", "loop", day(1, 0), healthy_until_ms, mild),
        alike("stuck-bypass", "loop", day(2, 0), healthy_until_ms, bypass),
        alike("setpoint-too-high", "loop", day(1, 0), end_ms, nights),
        alike("off-control-curve", "HWP-1", day(3, 5), day(3, 7), boost),
    ];
    all.retain(|a| a.to_ms <= end_ms && a.from_ms < a.to_ms);
    all
}

/// Stretches of an hour or more outside the schedule, all of them frost protection.
fn frost_runs(record: &Record) -> Vec<LookAlike> {
    let note = "outside the schedule but below 38 degF outdoors: frost protection";
    let outside = |i: usize| {
        let l = ZONE.local(record.time_ms[i]);
        l.is_weekend() && !(l.weekday == 6 && l.hour >= 20) && record.pump(0, 5)[i] > 0.5
    };
    let mut runs = Vec::new();
    let mut first = None;
    for i in 0..=record.time_ms.len() {
        let on = i < record.time_ms.len() && outside(i);
        match (on, first) {
            (true, None) => first = Some(i),
            (false, Some(from)) => {
                if i - from >= 12 {
                    let (from_ms, to_ms) = (record.time_ms[from], record.time_ms[i - 1] + 300_000);
                    runs.push(LookAlike { would_be: "out-of-hours-running", subject: "HWP-1", from_ms, to_ms, note });
                }
                first = None;
            }
            _ => {}
        }
    }
    runs
}
