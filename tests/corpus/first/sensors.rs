//! From signals to an export: which points are trended, sensors with their errors, units, steps, and wrong readings that were planted.

use super::super::Trended;
use super::plan::Plan;
use super::world::{self, Record};
use crate::invented::plant::head_in;
use crate::simulator::calendar::{Zone, utc_text};
use crate::simulator::export::{decimal, whole};
use crate::simulator::noise::Rng;

/// A trended point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    Speed(usize),
    Status(usize),
    Power(usize),
    Head(usize),
    Hand(usize),
    Starts(usize),
    Header,
    Meter,
    Control,
    Setpoint,
    Supply,
    Return,
    Outdoor,
    Bypass,
    Valve(usize),
    CoilReturn(usize),
    Air(usize),
    AirSet(usize),
}

/// A reading that lies.
#[derive(Debug, Clone, Copy)]
pub enum Wrong {
    Bias {
        key: Key,
        kelvin: f64,
        from: i64,
    },
    Scale {
        key: Key,
        factor: f64,
        from: i64,
    },
    Stuck {
        key: Key,
        from: i64,
        to: i64,
    },
    Swapped,
    /// Declared in another unit than it is written in.
    Unit {
        key: Key,
    },
}

impl Key {
    pub fn name(self, plan: &Plan) -> String {
        let term = |k: usize| plan.terminals[k].name.clone();
        let pump = |p: usize| plan.station.units[p].name.clone();
        match self {
            Self::Speed(p) => format!("{} Speed", pump(p)),
            Self::Status(p) => format!("{} Status", pump(p)),
            Self::Power(p) => format!("{} Power", pump(p)),
            Self::Head(p) => format!("{} DP", pump(p)),
            Self::Hand(p) => format!("{} Mode", pump(p)),
            Self::Starts(p) => format!("{} Starts", pump(p)),
            Self::Header => "Header DP".to_owned(),
            Self::Meter => "Loop Flow".to_owned(),
            Self::Control => "System DP".to_owned(),
            Self::Setpoint => "System DP Setpoint".to_owned(),
            Self::Supply => "Supply Temp".to_owned(),
            Self::Return => "Return Temp".to_owned(),
            Self::Outdoor => "Outdoor Temp".to_owned(),
            Self::Bypass => "Bypass Valve".to_owned(),
            Self::Valve(k) => format!("{} Valve", term(k)),
            Self::CoilReturn(k) => format!("{} Water Out", term(k)),
            Self::Air(k) => format!("{} {}", term(k), if plan.radiators { "Room" } else { "Leaving Air" }),
            Self::AirSet(k) => format!("{} {} Setpoint", term(k), if plan.radiators { "Room" } else { "Leaving Air" }),
        }
    }

    pub fn role(self, plan: &Plan) -> (&'static str, Option<String>) {
        let term = |k: usize| Some(plan.terminals[k].name.clone());
        let pump = |p: usize| Some(plan.station.units[p].name.clone());
        match self {
            Self::Speed(p) => ("pump-speed", pump(p)),
            Self::Status(p) => ("pump-status", pump(p)),
            Self::Power(p) => ("pump-power", pump(p)),
            Self::Head(p) => ("pump-head", pump(p)),
            Self::Hand(p) => ("pump-mode", pump(p)),
            Self::Starts(p) => ("pump-starts", pump(p)),
            Self::Header => ("pump-head", None),
            Self::Meter => ("loop-flow", None),
            Self::Control => ("differential-pressure", None),
            Self::Setpoint => ("differential-pressure-setpoint", None),
            Self::Supply => ("supply-temperature", None),
            Self::Return => ("return-temperature", None),
            Self::Outdoor => ("outdoor-temperature", None),
            Self::Bypass => ("bypass-position", None),
            Self::Valve(k) => ("valve-position", term(k)),
            Self::CoilReturn(k) => ("coil-return-temperature", term(k)),
            Self::Air(k) if plan.radiators => ("space-temperature", term(k)),
            Self::Air(k) => ("air-temperature", term(k)),
            Self::AirSet(k) if plan.radiators => ("space-temperature-setpoint", term(k)),
            Self::AirSet(k) => ("air-temperature-setpoint", term(k)),
        }
    }
}

/// What a set trends.
pub fn keys(plan: &Plan, trended: Trended) -> Vec<Key> {
    let pumps = plan.station.units.len();
    let mut keys: Vec<Key> = (0..pumps).flat_map(|p| [Key::Speed(p), Key::Status(p)]).collect();
    let has = |sets: &[Trended]| sets.contains(&trended);
    use Trended::{All, Drive, Metered, NoPressure, Temperatures, Usual};
    if has(&[All, Usual, NoPressure, Drive]) {
        keys.extend((0..pumps).map(Key::Power));
    }
    if has(&[Usual, Metered]) {
        keys.push(Key::Header);
    }
    if has(&[All]) {
        keys.extend((0..pumps).map(Key::Head));
        keys.extend([Key::Control, Key::Setpoint]);
    }
    if has(&[All, Metered]) {
        keys.push(Key::Meter);
    }
    if has(&[All, Usual, NoPressure, Metered, Temperatures]) {
        keys.extend([Key::Supply, Key::Return, Key::Outdoor]);
    }
    if has(&[All, Usual, NoPressure]) {
        keys.extend((0..plan.terminals.len()).map(Key::Valve));
    }
    if has(&[All]) {
        let n = plan.terminals.len();
        keys.extend((0..n).map(Key::CoilReturn));
        keys.extend((0..n).flat_map(|k| [Key::Air(k), Key::AirSet(k)]));
        if plan.minimum_flow.is_some() {
            keys.push(Key::Bypass);
        }
        keys.extend((0..pumps).flat_map(|p| [Key::Hand(p), Key::Starts(p)]));
    }
    keys
}

/// How the logger writes: one draw a plant.
#[derive(Debug, Clone)]
pub struct Logger {
    pub speed_unit: &'static str,
    pub head_unit: &'static str,
    pub fine_degrees: bool,
    pub words: [&'static str; 2],
    pub sampled: bool,
    /// Blank until a value changes by its band.
    pub on_change: bool,
    pub gaps: Vec<(usize, usize)>,
    pub utc: bool,
    pub accuracy_declared: bool,
    pub speed_bits: u32,
}

impl Logger {
    pub fn draw(rng: &mut Rng, plan: &Plan, rows: usize, minutes: u32) -> Self {
        let hidden = plan.station.units[0].machine.slip_hidden;
        let speed_unit = if hidden { ["%", "Hz", "%"] } else { ["%", "rpm", "%"] }[(rng.unit() * 3.0) as usize % 3];
        let head_unit = if plan.ip { ["ft", "psi"] } else { ["kPa", "m"] }[(rng.unit() * 2.0) as usize % 2];
        let end_ms = plan.start_ms + i64::from(plan.days) * 86_400_000;
        let shifts = plan.zone.offset_ms(plan.start_ms) != plan.zone.offset_ms(end_ms);
        let holes = if rng.chance(0.3) { 1 + (rng.unit() * 3.0) as usize } else { 0 };
        let mut gaps = Vec::new();
        for _ in 0..holes {
            let from = (rng.unit() * rows as f64) as usize;
            gaps.push((from, from + (rng.between(20.0, 300.0) / f64::from(minutes)) as usize));
        }
        Self {
            speed_unit,
            head_unit,
            fine_degrees: rng.chance(0.5),
            words: if rng.chance(0.5) { ["Off", "On"] } else { ["0", "1"] },
            sampled: rng.chance(0.4),
            on_change: rng.chance(0.25),
            gaps,
            utc: shifts || rng.chance(0.2),
            accuracy_declared: rng.chance(0.5),
            speed_bits: if rng.chance(0.25) { 0 } else { 1 },
        }
    }
}

/// One column's way from truth to text.
struct Chain {
    factor: f64,
    shift: f64,
    gain: f64,
    offset: f64,
    noise: f64,
    relative: f64,
    decimals: u32,
    /// Change below which a logger on change of value writes nothing, in steps.
    band: i64,
    low: f64,
    high: f64,
}

impl Chain {
    fn exact(factor: f64, decimals: u32, band: i64) -> Self {
        Self {
            factor,
            shift: 0.0,
            gain: 1.0,
            offset: 0.0,
            noise: 0.0,
            relative: 0.0,
            decimals,
            band,
            low: 0.0,
            high: f64::MAX,
        }
    }
}

pub fn unit(plan: &Plan, logger: &Logger, key: Key) -> &'static str {
    let degrees = if plan.ip { "degF" } else { "degC" };
    match key {
        Key::Speed(_) => logger.speed_unit,
        Key::Power(_) => "kW",
        Key::Head(_) | Key::Header | Key::Control | Key::Setpoint => logger.head_unit,
        Key::Meter => {
            if plan.ip {
                "gpm"
            } else {
                "m3/h"
            }
        }
        Key::Bypass | Key::Valve(_) => "%",
        Key::Supply | Key::Return | Key::Outdoor | Key::CoilReturn(_) | Key::Air(_) | Key::AirSet(_) => degrees,
        Key::Status(_) | Key::Hand(_) | Key::Starts(_) => "",
    }
}

pub fn density(plan: &Plan) -> f64 {
    if plan.heating { 1000.6 - 0.0128 * plan.supply_c - 0.00362 * plan.supply_c * plan.supply_c } else { 999.8 }
}

pub const GPM: f64 = 4.402_867;

fn chain(plan: &Plan, logger: &Logger, key: Key, rng: &mut Rng) -> Chain {
    let two = |rng: &mut Rng| rng.normal().clamp(-2.0, 2.0);
    match key {
        Key::Speed(p) => {
            let machine = &plan.station.units[p].machine;
            let factor = match logger.speed_unit {
                "Hz" => plan.mains_hz,
                "rpm" => machine.plate_rpm,
                _ => 100.0,
            };
            let decimals = if logger.speed_unit == "rpm" { 0 } else { logger.speed_bits };
            Chain::exact(factor, decimals, if decimals == 0 { 1 } else { 3 })
        }
        Key::Power(p) => {
            let size = plan.station.units[p].machine.motor_kw;
            let decimals = if size > 25.0 { 1 } else { 2 };
            let (gain, relative) = (1.0 + 0.015 * two(rng), rng.between(0.004, 0.012));
            Chain { gain, relative, ..Chain::exact(1.0, decimals, 3) }
        }
        Key::Head(_) | Key::Header | Key::Control => {
            let factor = head_in(logger.head_unit, density(plan));
            let design = plan.design_head();
            Chain {
                gain: 1.0 + 0.007 * two(rng),
                offset: 0.003 * design * factor * two(rng),
                noise: rng.between(0.002, 0.006) * design * factor,
                low: f64::MIN,
                ..Chain::exact(factor, if factor > 0.5 { 1 } else { 2 }, 3)
            }
        }
        Key::Setpoint => {
            let factor = head_in(logger.head_unit, density(plan));
            Chain::exact(factor, if factor > 0.5 { 1 } else { 2 }, 1)
        }
        Key::Meter => {
            let factor = if plan.ip { GPM } else { 1.0 };
            Chain { gain: 1.0 + 0.012 * two(rng), relative: 0.008, ..Chain::exact(factor, 1, 5) }
        }
        Key::Bypass | Key::Valve(_) => {
            Chain { offset: 0.4 * two(rng), high: 100.0, ..Chain::exact(100.0, u32::from(logger.fine_degrees), 1) }
        }
        Key::Status(_) | Key::Hand(_) | Key::Starts(_) => Chain::exact(1.0, 0, 1),
        Key::Supply | Key::Return | Key::Outdoor | Key::CoilReturn(_) | Key::Air(_) | Key::AirSet(_) => {
            let (factor, shift) = if plan.ip { (1.8, 32.0) } else { (1.0, 0.0) };
            let set = matches!(key, Key::AirSet(_));
            let sd = if matches!(key, Key::Supply | Key::Return) { 0.09 } else { 0.16 };
            Chain {
                shift,
                offset: if set { 0.0 } else { factor * sd * two(rng) },
                noise: if set { 0.0 } else { factor * 0.035 },
                low: f64::MIN,
                ..Chain::exact(
                    factor,
                    if logger.fine_degrees { 2 } else { 1 },
                    if logger.fine_degrees { 10 } else { 1 },
                )
            }
        }
    }
}

/// The signal behind a point.
fn signal(record: &Record, pumps: usize, key: Key) -> &[f64] {
    match key {
        Key::Speed(p) => record.pump(p, world::SPEED),
        Key::Status(p) => record.pump(p, world::STATUS),
        Key::Power(p) => record.pump(p, world::POWER),
        Key::Head(p) => record.pump(p, world::HEAD),
        Key::Hand(p) => record.pump(p, world::HAND),
        Key::Starts(p) => record.pump(p, world::STARTS),
        Key::Header => &record.columns[world::HEADER],
        Key::Meter => &record.columns[world::FLOW],
        Key::Control => &record.columns[world::CONTROL],
        Key::Setpoint => &record.columns[world::SETPOINT],
        Key::Supply => &record.columns[world::SUPPLY],
        Key::Return => &record.columns[world::RETURN],
        Key::Outdoor => &record.columns[world::OUTDOOR],
        Key::Bypass => &record.columns[world::BYPASS],
        Key::Valve(k) => record.coil(pumps, k, world::VALVE),
        Key::CoilReturn(k) => record.coil(pumps, k, world::COIL_RETURN),
        Key::Air(k) => record.coil(pumps, k, world::AIR),
        Key::AirSet(k) => record.coil(pumps, k, world::AIR_SET),
    }
}

/// One point's readings as whole steps.
struct Column {
    name: String,
    decimals: u32,
    words: Option<[&'static str; 2]>,
    band: i64,
    values: Vec<i64>,
}

fn column(plan: &Plan, logger: &Logger, record: &Record, key: Key, wrong: &[Wrong], seed: u64, step_ms: i64) -> Column {
    let number = record_number(key);
    let mut rng = Rng::new(seed, 400 + number);
    let c = chain(plan, logger, key, &mut rng);
    let scale = 10_f64.powi(c.decimals as i32);
    let source = match (key, wrong.iter().any(|w| matches!(w, Wrong::Swapped))) {
        (Key::Supply, true) => Key::Return,
        (Key::Return, true) => Key::Supply,
        _ => key,
    };
    let words = match key {
        Key::Status(_) => Some(logger.words),
        Key::Hand(_) => Some(["Auto", "Hand"]),
        _ => None,
    };
    let values = signal(record, plan.station.units.len(), source).iter().map(|v| {
        if words.is_some() {
            return i64::from(*v >= 0.5);
        }
        let exact = c.factor * v + c.shift;
        let reading = c.gain * exact + c.offset + rng.jitter() * (c.noise + c.relative * exact.abs());
        (reading.clamp(c.low, c.high) * scale).round() as i64
    });
    let mut values: Vec<i64> = values.collect();
    for w in wrong {
        spoil(&mut values, w, key, plan, &c, step_ms);
    }
    Column { name: key.name(plan), decimals: c.decimals, words, band: c.band, values }
}

fn record_number(key: Key) -> u64 {
    match key {
        Key::Speed(p) => 10 + p as u64,
        Key::Status(p) => 14 + p as u64,
        Key::Power(p) => 18 + p as u64,
        Key::Head(p) => 22 + p as u64,
        Key::Hand(p) => 26 + p as u64,
        Key::Starts(p) => 30 + p as u64,
        Key::Header => 1,
        Key::Meter => 2,
        Key::Control => 3,
        Key::Setpoint => 4,
        Key::Supply => 5,
        Key::Return => 6,
        Key::Outdoor => 7,
        Key::Bypass => 8,
        Key::Valve(k) => 40 + k as u64,
        Key::CoilReturn(k) => 60 + k as u64,
        Key::Air(k) => 80 + k as u64,
        Key::AirSet(k) => 100 + k as u64,
    }
}

fn spoil(values: &mut [i64], wrong: &Wrong, key: Key, plan: &Plan, c: &Chain, step_ms: i64) {
    let scale = 10_f64.powi(c.decimals as i32);
    let row = |t: i64| ((t - plan.start_ms).max(0) / step_ms) as usize;
    match *wrong {
        Wrong::Bias { key: k, kelvin, from } if k == key => {
            let steps = (kelvin * c.factor * scale).round() as i64;
            values.iter_mut().skip(row(from)).for_each(|v| *v += steps);
        }
        Wrong::Scale { key: k, factor, from } if k == key => {
            values.iter_mut().skip(row(from)).for_each(|v| *v = (*v as f64 * factor).round() as i64);
        }
        Wrong::Stuck { key: k, from, to } if k == key => {
            let (from, to) = (row(from), row(to).min(values.len()));
            // It sticks at a reading of a running pump, so that it is not nothing.
            let held = (from..to).map(|i| values[i]).find(|v| *v != 0).unwrap_or(0);
            let held = if matches!(key, Key::Power(_) | Key::Head(_) | Key::Header | Key::Meter | Key::Control) {
                let mut seen: Vec<i64> = values[from..to].iter().copied().filter(|v| *v > 0).collect();
                seen.sort_unstable();
                seen.get(seen.len() / 2).copied().unwrap_or(held)
            } else {
                held
            };
            values[from..to].iter_mut().for_each(|v| *v = held);
        }
        _ => {}
    }
}

/// The unit that the plant file says.
pub fn declared_unit(plan: &Plan, logger: &Logger, key: Key, wrong: &[Wrong]) -> &'static str {
    let real = unit(plan, logger, key);
    let mistaken = wrong.iter().any(|w| matches!(w, Wrong::Unit { key: k } if *k == key));
    match (mistaken, real) {
        (false, _) => real,
        (true, "kPa") => "ft",
        (true, "m") => "ft",
        (true, "ft") => "m",
        (true, "psi") => "kPa",
        (true, "kW") => "hp",
        (true, "gpm") => "m3/h",
        (true, "m3/h") => "gpm",
        (true, other) => other,
    }
}

/// A wide CSV of these points.
pub fn export(
    plan: &Plan,
    logger: &Logger,
    record: &Record,
    keys: &[Key],
    wrong: &[Wrong],
    seed: u64,
    minutes: u32,
) -> Vec<u8> {
    let step_ms = i64::from(minutes) * world::MINUTE_MS;
    let columns: Vec<Column> = keys.iter().map(|k| column(plan, logger, record, *k, wrong, seed, step_ms)).collect();
    let mut out = Vec::with_capacity(record.rows * (18 + 6 * columns.len()));
    out.extend_from_slice(b"Time");
    for c in &columns {
        out.push(b',');
        out.extend_from_slice(c.name.as_bytes());
    }
    out.push(b'\n');
    let mut shown: Vec<i64> = vec![i64::MIN / 2; columns.len()];
    let longest = (60 / minutes).max(1) as usize;
    for i in 0..record.rows {
        if logger.gaps.iter().any(|g| (g.0..g.1).contains(&i)) {
            continue;
        }
        stamp(&mut out, plan.zone, plan.start_ms + i as i64 * step_ms, logger.utc);
        for (c, last) in columns.iter().zip(&mut shown) {
            out.push(b',');
            let v = c.values[i];
            if logger.on_change && i % longest != 0 && (v - *last).abs() < c.band {
                continue;
            }
            *last = v;
            match c.words {
                Some(words) => out.extend_from_slice(words[usize::from(v != 0)].as_bytes()),
                None => decimal(&mut out, v, c.decimals),
            }
        }
        out.push(b'\n');
    }
    out
}

fn stamp(out: &mut Vec<u8>, zone: Zone, t: i64, utc: bool) {
    if utc {
        out.extend_from_slice(utc_text(t).as_bytes());
        return;
    }
    let l = zone.local(t);
    for (v, width, after) in
        [(l.year, 4, b'-'), (l.month, 2, b'-'), (l.day, 2, b' '), (l.hour, 2, b':'), (l.minute, 2, 0)]
    {
        whole(out, v as u64, width);
        if after != 0 {
            out.push(after);
        }
    }
}
