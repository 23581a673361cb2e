//! An invented plant and its short record: loop, pumps, a load, and what sensors showed.
//!
//! Comes in: a plant's number. Goes out: [`Plant`] and [`Record`]. The loop is a law of flow and head, not a network: load
//! makes flow, the drive holds a head for it or sits at its floor, the real pump is solved for speed. Every point draws
//! its noise from a stream of its own, so that all trended sets of a plant show the same readings. Start at [`Plant::draw`].

use super::machine::{Common, Duty, Fluid, HEAD_ZERO, Machine};
use super::nuisance::{self as table, Curve, Service, SpeedUnit, pick};
use crate::simulator::noise::{Rng, Wander};

/// Continuous nuisances of what the pumps share.
pub const STATION: usize = 10;
pub type Station = [f64; STATION];
/// Head sensor between the headers: gain, and zero [kPa].
pub const SHARED_GAIN: usize = 0;
pub const SHARED_ZERO: usize = 1;
pub const METER_GAIN: usize = 2;
/// [m3/h]
pub const METER_ZERO: usize = 3;
pub const LOAD_GAIN: usize = 4;
/// [K]
pub const PAIR_BIAS: usize = 5;
/// Loss of the pipes before the remote sensor at design flow [kPa].
pub const PIPE: usize = 6;
pub const REMOTE_GAIN: usize = 7;
pub const REMOTE_ZERO: usize = 8;
/// Setpoint scale [-]; nobody is told it.
pub const SETPOINT: usize = 9;

/// How head is controlled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    AtPump,
    AtHeader,
    Remote,
}

/// What row noise and steps the points have.
#[derive(Debug, Clone, Copy)]
pub struct Noise {
    pub head_kpa: f64,
    pub power: f64,
    pub head_unit: &'static str,
    /// In the unit of the reading.
    pub head_step: f64,
    pub power_step: f64,
}

#[derive(Debug, Clone)]
pub struct Plant {
    pub number: u64,
    pub service: Service,
    pub glycol_share: f64,
    pub fluid: Fluid,
    pub supply_c: f64,
    pub difference_k: f64,
    pub design_flow: f64,
    pub design_head: f64,
    pub half_speed: bool,
    pub curve: Curve,
    pub zero_flow_head: f64,
    pub floor: f64,
    pub floor_gives: f64,
    pub mains_hz: f64,
    pub maximum_hz: f64,
    pub speed_unit: SpeedUnit,
    pub machines: Vec<Machine>,
    pub truth: Station,
    pub prior_sd: Station,
    pub noise: Noise,
    /// What the file declares.
    pub plate_declared: bool,
    pub drive_declared: bool,
    pub read_at_declared: bool,
    pub head_accuracy_declared: bool,
    pub table: TableRead,
    /// Parallel pumps: head between the headers is trended, not each pump's own.
    pub header_trended: bool,
}

/// How the maker's sheet was read.
#[derive(Debug, Clone, Copy)]
pub struct TableRead {
    pub points: usize,
    pub speeds: &'static [f64],
    pub drive_input: bool,
    pub head_unit: &'static str,
}

// Streams of a plant's random numbers.
const OF_PLANT: u64 = 1;
const OF_LOAD: u64 = 2;
const OF_POINTS: u64 = 100;

impl Plant {
    /// A plant with one pump.
    pub fn single(number: u64) -> Self {
        Self::draw(number, false)
    }

    /// A plant with two or three pumps in parallel.
    pub fn parallel(number: u64) -> Self {
        Self::draw(number, true)
    }

    fn draw(number: u64, parallel: bool) -> Self {
        let mut rng = Rng::new(number, OF_PLANT + u64::from(parallel) * 10);
        let rng = &mut rng;
        let service = pick(table::SERVICE, rng);
        let (supply_c, glycol_share, difference) = match service {
            Service::Chilled => (table::CHILLED_SUPPLY_C.draw(rng), 0.0, table::CHILLED_DIFFERENCE_K),
            Service::Heating => (table::HEATING_SUPPLY_C.draw(rng), 0.0, table::HEATING_DIFFERENCE_K),
            _ => (table::GLYCOL_SUPPLY_C.draw(rng), table::GLYCOL_SHARE.draw(rng), table::CHILLED_DIFFERENCE_K),
        };
        // What the file says is what the truth goes by.
        let (supply_c, glycol_share) = (rounded(supply_c, 0.1), rounded(glycol_share, 0.01));
        let fluid = fluid(service, glycol_share, supply_c);
        let design_flow = figures(table::DESIGN_FLOW_M3H.draw(rng));
        let design_head = figures(table::DESIGN_HEAD_KPA.draw(rng));
        let half_speed = rng.chance(table::HALF_SPEED) && !parallel;
        let permanent = rng.chance(table::PERMANENT_MAGNET);
        let common = Common {
            permanent,
            slip_hidden: rng.chance(table::SLIP_HIDDEN),
            mains_hz: pick(table::MAINS_HZ, rng),
            read_at: pick(table::READ_AT, rng),
        };
        let units = if common.slip_hidden { table::FREQUENCY_UNIT } else { table::SHAFT_UNIT };
        let speed = if half_speed { table::HALF_SPEED_AT_DESIGN.draw(rng) } else { 1.0 };
        let selection = if half_speed { 1.0 } else { table::SELECTION.draw(rng) };
        let number_of_pumps = if parallel { pick(table::PARALLEL, rng) } else { 1 };
        let head = design_head * selection;
        let machines = machines(rng, number_of_pumps, design_flow, design_head, head, speed, &fluid, &common);
        let (truth, prior_sd) = station(rng, design_flow, design_head);
        let (head_unit, steps) = pick(table::HEAD_UNIT, rng);
        let fine: Vec<f64> = table::POWER_STEPS_KW
            .into_iter()
            .filter(|s| *s <= table::POWER_STEP_SHARE * machines[0].motor_kw)
            .collect();
        let noise = Noise {
            head_kpa: table::HEAD_NOISE.draw(rng) * design_head,
            power: table::POWER_NOISE.draw(rng),
            head_unit,
            head_step: if rng.chance(0.5) { steps[0] } else { steps[1] },
            power_step: *choice(&fine, rng).unwrap_or(&table::POWER_STEPS_KW[0]),
        };
        let (fewest, most) = table::TABLE_POINTS;
        let read = TableRead {
            points: fewest + (rng.unit() * (most - fewest + 1) as f64) as usize,
            speeds: pick(table::TABLE_SPEEDS, rng),
            drive_input: rng.chance(table::TABLE_DRIVE_INPUT),
            head_unit: pick(table::TABLE_HEAD_UNIT, rng),
        };
        Self {
            number,
            service,
            glycol_share,
            fluid,
            supply_c,
            difference_k: rounded(difference.draw(rng), 0.1),
            design_flow,
            design_head,
            half_speed,
            curve: pick(table::CURVE, rng),
            zero_flow_head: figures(table::ZERO_FLOW_HEAD.draw(rng) * design_head),
            floor: rounded(table::FLOOR.draw(rng), 0.01),
            floor_gives: table::FLOOR_GIVES.draw(rng),
            mains_hz: common.mains_hz,
            maximum_hz: rounded(table::MAXIMUM_HZ.draw(rng), 1.0).max(common.mains_hz),
            speed_unit: pick(units, rng),
            machines,
            truth,
            prior_sd,
            noise,
            plate_declared: rng.chance(table::NAMEPLATE),
            drive_declared: rng.chance(table::DRIVE_PLATE),
            read_at_declared: rng.chance(table::READ_AT_DECLARED),
            head_accuracy_declared: rng.chance(table::HEAD_ACCURACY_DECLARED),
            table: read,
            header_trended: rng.chance(table::PARALLEL_HEADER),
        }
    }

    /// Head that the drive holds at a loop flow.
    fn held_head(&self, flow: f64, held: Held) -> f64 {
        let share = flow / self.design_flow;
        let rest = self.design_head - self.zero_flow_head;
        let scale = self.truth[SETPOINT];
        match (held, self.curve) {
            (Held::Remote, _) => {
                let pipe = self.truth[PIPE];
                scale * (self.design_head - pipe) + pipe * libm::pow(share, table::PIPE_EXPONENT)
            }
            (_, Curve::Quadratic) => scale * (self.zero_flow_head + rest * share * share),
            (_, Curve::Proportional) => scale * (self.zero_flow_head + rest * share),
            (_, Curve::Constant) => scale * self.design_head,
        }
    }
}

fn choice<'a, T>(from: &'a [T], rng: &mut Rng) -> Option<&'a T> {
    from.get((rng.unit() * from.len() as f64) as usize)
}

/// To a step.
pub fn rounded(v: f64, step: f64) -> f64 {
    // Steps are decimal: dividing by their inverse keeps whole numbers whole.
    let inverse = (1.0 / step).round();
    if inverse > 1.0 { (v * inverse).round() / inverse } else { (v / step).round() * step }
}

/// To the significant figures of a sheet.
pub fn figures(v: f64) -> f64 {
    if v == 0.0 {
        return 0.0;
    }
    let digits = table::TABLE_FIGURES - 1 - libm::floor(libm::log10(v.abs())) as i32;
    format!("{v:.*}", digits.max(0) as usize).parse().unwrap_or(v)
}

#[allow(clippy::too_many_arguments, reason = "a duty, spelt out")]
fn machines(
    rng: &mut Rng,
    number: usize,
    flow: f64,
    design_head: f64,
    head: f64,
    speed: f64,
    fluid: &Fluid,
    common: &Common,
) -> Vec<Machine> {
    let alike = rng.chance(table::ALIKE);
    let sizes: Vec<f64> = (0..number).map(|_| if alike { 1.0 } else { table::UNLIKE_SIZE.draw(rng) }).collect();
    let total: f64 = sizes.iter().sum();
    let duty = |size: f64| Duty { flow: flow * size / total, head, design_head, speed };
    let first = Machine::draw(rng, &duty(sizes[0]), fluid, common);
    let mut machines = vec![first];
    for size in &sizes[1..] {
        let next =
            if alike { machines[0].sibling(rng, design_head) } else { Machine::draw(rng, &duty(*size), fluid, common) };
        machines.push(next);
    }
    machines
}

fn station(rng: &mut Rng, design_flow: f64, design_head: f64) -> (Station, Station) {
    let (mut truth, mut sd) = ([0.0; STATION], [0.0; STATION]);
    let mut set = |k: usize, spread: table::Spread, scale: f64| {
        truth[k] = scale * spread.draw(rng);
        sd[k] = scale * spread.sd();
    };
    let span = table::HEAD_SPAN * design_head;
    set(SHARED_GAIN, table::HEAD_GAIN, 1.0);
    set(SHARED_ZERO, table::HEAD_ZERO, span);
    set(METER_GAIN, table::METER_GAIN, 1.0);
    set(METER_ZERO, table::METER_ZERO, design_flow);
    set(LOAD_GAIN, table::LOAD_GAIN, 1.0);
    set(PAIR_BIAS, table::PAIR_BIAS_K, 1.0);
    set(PIPE, table::PIPE_SHARE, design_head);
    set(REMOTE_GAIN, table::HEAD_GAIN, 1.0);
    set(REMOTE_ZERO, table::HEAD_ZERO, span);
    set(SETPOINT, table::SETPOINT_SCALE, 1.0);
    (truth, sd)
}

/// Density, heat capacity and viscosity at a supply temperature.
///
/// Water's density: Kell's form (J. Chem. Eng. Data 1975) with coefficients from memory, checked in `tests/it/points.rs` against IAPWS-IF97. Glycol
/// and the rest: straight lines through values of Melinder (IIR 2010) and IAPWS at a few temperatures.
pub fn fluid(service: Service, share: f64, supply_c: f64) -> Fluid {
    let t = supply_c;
    // Values at 30 and 40 % by mass and 5 degC, then change of density a kelvin and of ln viscosity a kelvin.
    let glycol = |density: [f64; 2], heat: [f64; 2], viscosity: [f64; 2], falls: f64, thins: f64| {
        let w = (share - 0.30) / 0.10;
        let between = |v: [f64; 2]| v[0] + w * (v[1] - v[0]);
        let mu = libm::exp(between(viscosity.map(libm::log)) - thins * (t - 5.0));
        let rho = between(density) - falls * (t - 5.0);
        Fluid { density: rho, heat_capacity: between(heat), thick: Some(1000.0 * mu / rho) }
    };
    match service {
        Service::ColdEthylene => glycol([1043.47, 1058.45], [3.6734, 3.4559], [3.5592, 4.7569], 0.32, 0.036),
        Service::ColdPropylene => glycol([1029.89, 1040.06], [3.8163, 3.6580], [5.5694, 8.9817], 0.36, 0.052),
        Service::Chilled | Service::Heating => {
            let density = 1000.0 * (1.0 - (t + 288.9414) / (508_929.2 * (t + 68.129_63)) * (t - 3.9863).powi(2));
            let heat_capacity = if t < 20.0 { 4.2007 - 0.0011 * (t - 7.0) } else { 4.1828 + 0.00066 * (t - 60.0) };
            Fluid { density, heat_capacity, thick: None }
        }
    }
}

/// One trended point's readings.
#[derive(Debug, Clone)]
pub struct Column {
    pub values: Vec<f64>,
    pub decimals: usize,
}

/// What can be trended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    Speed(usize),
    Power(usize),
    Head(usize),
    Header,
    Meter,
    Load,
    Supply,
    Return,
    Remote,
}

/// The truth row by row, and what was read.
#[derive(Debug, Clone)]
pub struct Record {
    pub rows: usize,
    /// Shown speed, the same for all that run [-].
    pub shown: Vec<f64>,
    /// Flow a pump and row; 0 where it stands.
    pub flow: Vec<Vec<f64>>,
    pub on: Vec<Vec<bool>>,
    pub difference_k: Vec<f64>,
    pub columns: Vec<(Key, Column)>,
}

impl Record {
    pub fn total(&self, row: usize) -> f64 {
        self.flow.iter().map(|f| f[row]).sum()
    }
}

const ROWS: usize = table::DAYS * 24 * 60 / table::STEP_MIN;

/// Runs the plant.
pub fn run(plant: &Plant, held: Held) -> Record {
    let mut rng = Rng::new(plant.number, OF_LOAD + u64::from(plant.machines.len() > 1) * 10);
    let loads = loads(&mut rng);
    let (shape, number) = (table::FLOW_OVER_LOAD.draw(&mut rng), plant.machines.len());
    let difference_falls = 1.0 - shape;
    let mut record = Record {
        rows: ROWS,
        shown: vec![0.0; ROWS],
        flow: vec![vec![0.0; ROWS]; number],
        on: vec![vec![false; ROWS]; number],
        difference_k: vec![f64::NAN; ROWS],
        columns: Vec::new(),
    };
    let mut running = 1;
    for (row, load) in loads.into_iter().enumerate() {
        let Some(load) = load else { continue };
        let wanted = plant.design_flow * libm::pow(load, shape);
        running = staged(plant, running, wanted);
        let strays = 1.0 + table::HELD_HEAD_NOISE * rng.jitter();
        let (shown, flows) = operate(&plant.machines[..running], wanted, held, plant, strays);
        record.shown[row] = shown;
        for (pump, flow) in flows.into_iter().enumerate() {
            record.flow[pump][row] = flow;
            record.on[pump][row] = true;
        }
        record.difference_k[row] = plant.difference_k * libm::pow(load, difference_falls);
    }
    record.columns = columns(plant, &record, held);
    record
}

/// Load share a row; `None` where the plant stands.
fn loads(rng: &mut Rng) -> Vec<Option<f64>> {
    let (night, noon) = (table::NIGHT_LOAD.draw(rng), table::NOON_LOAD.draw(rng));
    let stops = rng.chance(table::NIGHT_STOP);
    let days: Vec<f64> = (0..table::DAYS).map(|_| rng.between(0.80, 1.0)).collect();
    let (sd, memory) = table::LOAD_WANDER;
    let mut wander = Wander::new(rng, sd, memory);
    (0..ROWS)
        .map(|row| {
            let hour = (row * table::STEP_MIN) as f64 / 60.0;
            let (day, of_day) = ((hour / 24.0) as usize, hour % 24.0);
            // A half wave from five in the morning to nine at night.
            let up = libm::sin(core::f64::consts::PI * ((of_day - 5.0) / 16.0).clamp(0.0, 1.0));
            let load = (night + (noon * days[day] - night) * up) * (1.0 + wander.next(rng));
            (!stops || (5.0..21.0).contains(&of_day)).then_some(load.clamp(0.05, 1.1))
        })
        .collect()
}

/// How many pumps run for a flow.
fn staged(plant: &Plant, mut running: usize, wanted: f64) -> usize {
    let makes = |n: usize| plant.machines[..n].iter().map(|m| m.design_flow).sum::<f64>();
    let (up, down) = table::STAGING;
    while running < plant.machines.len() && wanted > up * makes(running) {
        running += 1;
    }
    while running > 1 && wanted < down * makes(running - 1) {
        running -= 1;
    }
    running
}

/// Shown speed and flows for a wanted flow.
fn operate(on: &[Machine], wanted: f64, held: Held, plant: &Plant, strays: f64) -> (f64, Vec<f64>) {
    let at_header = held == Held::AtHeader;
    let head = plant.held_head(wanted, held) * strays;
    let needed = match on {
        // Below the first bound its laws end.
        [one] => root((wanted / (1.4 * one.sheet.end_flow)).max(0.05), 1.6, |shown| {
            one.made(wanted, shown, at_header) - head
        }),
        _ => root(0.05, 1.6, |shown| total(on, shown, head, at_header) - wanted),
    };
    if (plant.floor..=1.0).contains(&needed) {
        let flows = if on.len() == 1 { vec![wanted] } else { flows(on, needed, head, at_header) };
        return (needed, flows);
    }
    // Off the curve: between valves that hold the flow and valves that stay where they are.
    let shown = needed.clamp(plant.floor, 1.0);
    let most: f64 = on.iter().map(|m| 1.3 * shown * m.sheet.end_flow).sum();
    let system = |q: f64| head * (q / wanted).powi(2);
    let stays = match on {
        [one] => root(0.0, most, |q| system(q) - one.made(q, shown, at_header)),
        _ => root(0.0, most, |q| q - total(on, shown, system(q), at_header)),
    };
    let gives = if needed > 1.0 { 1.0 } else { plant.floor_gives };
    let flow = (wanted + gives * (stays - wanted)).min(most);
    if on.len() == 1 {
        return (shown, vec![flow]);
    }
    let highest = on.iter().map(|m| m.made(peak(m, shown, at_header), shown, at_header)).fold(0.0, f64::max);
    let head = root(0.0, highest, |h| flow - total(on, shown, h, at_header));
    (shown, flows(on, shown, head, at_header))
}

/// Flow of the highest head: zero but for a head that rises from shut-off.
fn peak(machine: &Machine, shown: f64, at_header: bool) -> f64 {
    let made = |q: f64| machine.made(q, shown, at_header);
    let step = 0.02 * shown * machine.sheet.end_flow;
    (1..=25).map(|k| step * f64::from(k)).take_while(|q| made(*q) > made(*q - step)).last().unwrap_or(0.0)
}

fn total(on: &[Machine], shown: f64, head: f64, at_header: bool) -> f64 {
    flows(on, shown, head, at_header).iter().sum()
}

/// What each makes against a head; nothing where its check valve stays shut.
fn flows(on: &[Machine], shown: f64, head: f64, at_header: bool) -> Vec<f64> {
    on.iter()
        .map(|m| {
            let peak = peak(m, shown, at_header);
            if m.made(peak, shown, at_header) <= head {
                return 0.0;
            }
            root(peak, 1.4 * shown * m.sheet.end_flow, |q| head - m.made(q, shown, at_header))
        })
        .collect()
}

/// Where a rising function crosses zero between two bounds (false position, Illinois), or the nearer bound.
fn root(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    /// Of flow [m3/h] or head [kPa].
    const CLOSE: f64 = 1e-5;
    let (mut a, mut b, mut fa, mut fb) = (low, high, f(low), f(high));
    if fa >= 0.0 {
        return a;
    }
    if fb <= 0.0 {
        return b;
    }
    let mut last = 0;
    for _ in 0..60 {
        let x = (a * fb - b * fa) / (fb - fa);
        let fx = f(x);
        if fx.abs() < CLOSE {
            return x;
        }
        if fx < 0.0 {
            (a, fa) = (x, fx);
            fb *= if last == -1 { 0.5 } else { 1.0 };
            last = -1;
        } else {
            (b, fb) = (x, fx);
            fa *= if last == 1 { 0.5 } else { 1.0 };
            last = 1;
        }
    }
    0.5 * (a + b)
}

/// Factor from kPa to a unit of trended head.
pub fn head_in(unit: &str, density: f64) -> f64 {
    let metres = 1000.0 / (density * 9.806_65);
    match unit {
        "bar" => 0.01,
        "psi" => 1.0 / 6.894_757,
        "m" => metres,
        "ft" => metres / 0.3048,
        _ => 1.0,
    }
}

/// A point's way from truth to text: noise, outliers, step.
struct Logger {
    rng: Rng,
    step: f64,
}

impl Logger {
    fn new(plant: &Plant, stream: u64, step: f64) -> Self {
        let parallel = u64::from(plant.machines.len() > 1) * 1000;
        Self { rng: Rng::new(plant.number, OF_POINTS + parallel + stream), step }
    }

    fn read(&mut self, exact: f64, noise: f64) -> f64 {
        let mut v = exact + noise * self.rng.normal();
        if self.rng.chance(table::OUTLIERS) {
            let far = table::OUTLIER_SDS.draw(&mut self.rng);
            v += if self.rng.chance(0.5) { far * noise } else { -far * noise };
        }
        rounded(v, self.step)
    }

    fn column(mut self, values: impl Iterator<Item = (f64, f64)>, floor: f64) -> Column {
        let values = values.map(|(exact, noise)| self.read(exact, noise).max(floor)).collect();
        Column { values, decimals: decimals(self.step) }
    }
}

fn decimals(step: f64) -> usize {
    (-libm::floor(libm::log10(step) + 1e-9)).max(0.0) as usize
}

/// Speed as it is trended: factor from the shown share, and step.
pub fn speed_in(plant: &Plant, machine: &Machine) -> (f64, f64) {
    match plant.speed_unit {
        SpeedUnit::PercentOfSpeed | SpeedUnit::PercentOfFrequency => (100.0, table::SPEED_STEP),
        SpeedUnit::PercentOfMaximum => (100.0 * plant.mains_hz / plant.maximum_hz, table::SPEED_STEP),
        SpeedUnit::Hertz => (plant.mains_hz, table::SPEED_STEP),
        SpeedUnit::Rpm => (machine.plate_rpm, table::RPM_STEP),
        SpeedUnit::Fraction => (1.0, table::SPEED_STEP / 100.0),
    }
}

fn columns(plant: &Plant, record: &Record, held: Held) -> Vec<(Key, Column)> {
    let rows = 0..record.rows;
    let runs: Vec<bool> = rows.clone().map(|i| record.on.iter().any(|o| o[i])).collect();
    let mut columns = Vec::new();
    let head = |exact_kpa: f64| {
        let unit = head_in(plant.noise.head_unit, plant.fluid.density);
        (unit * exact_kpa, unit * plant.noise.head_kpa)
    };
    // A transmitter at rest is quiet.
    let quiet = |(exact, noise): (f64, f64), runs: bool| (exact, if runs { noise } else { 0.3 * noise });
    for (p, machine) in plant.machines.iter().enumerate() {
        let stream = 10 * p as u64;
        let (factor, step) = speed_in(plant, machine);
        let on = |i: usize| record.on[p][i];
        let at = |i: usize| machine.readings(&machine.truth, record.flow[p][i], record.shown[i]);
        let speed = rows.clone().map(|i| (if on(i) { factor * record.shown[i] } else { 0.0 }, 0.0));
        columns.push((Key::Speed(p), Logger::new(plant, stream, step).column(speed, 0.0)));
        let power = rows.clone().map(|i| {
            let kw = if on(i) { at(i).power } else { 0.0 };
            (kw, plant.noise.power * kw)
        });
        columns.push((Key::Power(p), Logger::new(plant, stream + 1, plant.noise.power_step).column(power, 0.0)));
        let own = rows.clone().map(|i| quiet(head(if on(i) { at(i).head } else { machine.truth[HEAD_ZERO] }), on(i)));
        let logger = Logger::new(plant, stream + 2, plant.noise.head_step);
        columns.push((Key::Head(p), logger.column(own, f64::NEG_INFINITY)));
    }
    let truth = &plant.truth;
    let header_kpa = |i: usize| {
        (0..plant.machines.len())
            .filter(|p| record.on[*p][i])
            .map(|p| plant.machines[p].made(record.flow[p][i], record.shown[i], true))
            .fold(0.0, f64::max)
    };
    let header = rows.clone().map(|i| {
        let kpa = if runs[i] { header_kpa(i) } else { 0.0 };
        quiet(head((1.0 + truth[SHARED_GAIN]) * kpa + truth[SHARED_ZERO]), runs[i])
    });
    let logger = Logger::new(plant, 50, plant.noise.head_step);
    columns.push((Key::Header, logger.column(header, f64::NEG_INFINITY)));
    // A meter shows nothing where nothing flows.
    let meter = rows.clone().map(|i| {
        let m3h = if runs[i] { (1.0 + truth[METER_GAIN]) * record.total(i) + truth[METER_ZERO] } else { 0.0 };
        (m3h, table::METER_NOISE * m3h)
    });
    columns.push((Key::Meter, Logger::new(plant, 51, meter_step(plant)).column(meter, 0.0)));
    let load = rows.clone().map(|i| {
        let kw = if runs[i] {
            (1.0 + truth[LOAD_GAIN]) * heat_kw(plant, record.total(i), record.difference_k[i])
        } else {
            0.0
        };
        (kw, table::LOAD_NOISE * kw)
    });
    columns.push((Key::Load, Logger::new(plant, 52, 0.1).column(load, 0.0)));
    let step = table::TEMPERATURE_STEP_K;
    let supply = rows.clone().map(|_| (plant.supply_c, table::TEMPERATURE_NOISE_K));
    columns.push((Key::Supply, Logger::new(plant, 53, step).column(supply, -50.0)));
    let sign = if plant.service == Service::Heating { -1.0 } else { 1.0 };
    let back = rows.clone().map(|i| {
        let difference = if runs[i] { record.difference_k[i] + truth[PAIR_BIAS] } else { 0.0 };
        (plant.supply_c + sign * difference, table::TEMPERATURE_NOISE_K)
    });
    columns.push((Key::Return, Logger::new(plant, 54, step).column(back, -50.0)));
    if held == Held::Remote {
        let machine = &plant.machines[0];
        let remote = rows.map(|i| {
            let kpa = if runs[i] {
                remote_kpa(plant, machine.made(record.flow[0][i], record.shown[i], false), record.flow[0][i])
            } else {
                0.0
            };
            quiet(head((1.0 + truth[REMOTE_GAIN]) * kpa + truth[REMOTE_ZERO]), runs[i])
        });
        let logger = Logger::new(plant, 55, plant.noise.head_step);
        columns.push((Key::Remote, logger.column(remote, f64::NEG_INFINITY)));
    }
    columns
}

/// Heat that a flow carries [kW].
pub fn heat_kw(plant: &Plant, flow: f64, difference_k: f64) -> f64 {
    plant.fluid.density * plant.fluid.heat_capacity * flow / 3600.0 * difference_k
}

/// Pressure at the remote sensor.
fn remote_kpa(plant: &Plant, head: f64, flow: f64) -> f64 {
    head - plant.truth[PIPE] * libm::pow(flow / plant.design_flow, table::PIPE_EXPONENT)
}

/// The meter's step: a tenth in small plants, one in large ones [m3/h].
pub fn meter_step(plant: &Plant) -> f64 {
    if plant.design_flow < 50.0 { 0.01 } else { 0.1 }
}
