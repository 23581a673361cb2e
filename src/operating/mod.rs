//! Operating points with their intervals: where each pump really ran.
//!
//! Comes in: the plant's declarations and screened trends. Goes out: [`Reconstructed`]: flow, head, power a pump and row, with
//! 95 % intervals, and the pump models as the record taught them. Flow is a posterior, fed by whatever is trended
//! (`posterior.rs`); what is wrong hour after hour is learned from the whole record (`learn.rs`), not treated as noise. A row
//! that cannot be known stays NaN, with the reason counted. Start at [`reconstruct`].

mod balance;
mod basis;
mod by_speed;
pub mod check;
pub mod days;
pub mod field;
mod from_meter;
mod hour;
mod joined;
pub mod lattice;
pub mod learn;
pub mod learned_curve;
mod mixture;
pub mod model;
mod neighbours;
pub mod noise;
mod page;
mod part;
pub mod posterior;
mod priors;
mod rows;
pub mod speed;
mod state;
pub mod together;
pub mod witness;

pub use basis::Basis;
pub use hour::ShownHour;
pub use mixture::{Hypothesis, Mixture};
pub use page::explanation;
pub use priors::LossKind;

use crate::hydraulics::fluid;
use crate::ingest::Clock;
use crate::notice::{Notice, Noticed};
use crate::plant::{Plant, PowerIs, Pump};
use crate::quantity::{Density, Viscosity};
use crate::screening::Screened;
use from_meter::Taught;
use joined::Joined;
use learn::{Learned, Weighted};
use learned_curve::NotLearned;
use model::{PumpModel, Setting};
use priors::Sizes;
use rows::Tally;
use witness::Witnesses;

/// What a pump was doing in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    Unknown,
    Off,
    Starting,
    Transient,
    Steady,
}

impl State {
    /// Whether a pump in this state turns; unknown is not told to.
    #[must_use]
    pub fn turns(self) -> bool {
        matches!(self, Self::Starting | Self::Transient | Self::Steady)
    }
}

/// One pump's columns, one entry a row of the clock; NaN where it cannot be known.
#[derive(Debug, Clone)]
pub struct PumpPoints {
    pub pump: String,
    pub state: Vec<State>,
    /// Shaft speed over rated speed [-].
    pub speed: Vec<f64>,
    pub flow_m3h: Vec<f64>,
    pub flow_low_m3h: Vec<f64>,
    pub flow_high_m3h: Vec<f64>,
    pub head_kpa: Vec<f64>,
    pub head_low_kpa: Vec<f64>,
    pub head_high_kpa: Vec<f64>,
    /// Electric (drive input), as trended or reconstructed [kW].
    pub power_kw: Vec<f64>,
    /// Wire to water [-].
    pub efficiency: Vec<f64>,
    pub basis: Vec<Basis>,
    /// Part of the standard deviation that all rows of the pump share.
    pub flow_sd_common_m3h: Vec<f64>,
    pub head_sd_common_kpa: Vec<f64>,
}

/// The loop's columns: all pumps together.
#[derive(Debug, Clone)]
pub struct LoopPoints {
    pub flow_m3h: Vec<f64>,
    pub flow_low_m3h: Vec<f64>,
    pub flow_high_m3h: Vec<f64>,
    /// Head the pumps make together [kPa]: that of the running pumps.
    pub head_kpa: Vec<f64>,
    /// Electric power of all pumps [kW].
    pub power_kw: Vec<f64>,
    /// How many deliver.
    pub pumps_on: Vec<u8>,
    /// Every running pump steady.
    pub steady: Vec<bool>,
}

/// All operating points of a review.
#[derive(Debug, Clone)]
pub struct OperatingPoints {
    pub pumps: Vec<PumpPoints>,
    pub system: LoopPoints,
}

/// A pump as the record taught it.
#[derive(Debug, Clone)]
pub struct Machine {
    pub pump: String,
    /// The likeliest reading of the plant, and what it learned.
    pub model: PumpModel,
    pub learned: Learned,
    /// All that are possible.
    pub mixture: Mixture,
    pub noise: noise::Noise,
    /// A usual row, opened for a figure.
    pub hour: Option<ShownHour>,
    /// How the model stands against the record.
    pub check: check::SelfCheck,
}

/// Operating points and the models they came from.
#[derive(Debug, Clone)]
pub struct Reconstructed {
    pub points: OperatingPoints,
    /// One a pump that has a table, or that learned one with head in it.
    pub machines: Vec<Machine>,
    /// Tables that pumps without one learned from their metered rows.
    pub learned_tables: Vec<LearnedTable>,
}

/// A pump's curves, learned from the stretch in which its flow was metered.
#[derive(Debug, Clone)]
pub struct LearnedTable {
    pub pump: String,
    /// To paste into the plant file, below the pump's `[[pump]]`.
    pub toml: String,
    /// Steady metered rows it rests on, and the days they lie on.
    pub rows: usize,
    pub days: usize,
    /// Standard errors on days held out: of head and of power [-], NaN where there is no such curve, and of flow over the largest [-].
    pub head_error: f64,
    pub power_error: f64,
    pub flow_error: f64,
}

/// Reconstructs every pump's operating points.
#[must_use]
pub fn reconstruct(plant: &Plant, screened: &Screened) -> Noticed<Reconstructed> {
    let mut notices = Vec::new();
    let (mut machines, mut learned_tables) = (Vec::new(), Vec::new());
    let mut pumps = Vec::new();
    let mut gathered: Vec<Witnesses> = plant.pumps.iter().map(|pump| witness::gather(plant, screened, pump)).collect();
    let mut sizes: Vec<Sizes> = plant.pumps.iter().map(|pump| Sizes::of(plant, pump)).collect();
    share_the_loop(&mut gathered, &sizes, screened.clock.len);
    for ((pump, w), sizes) in plant.pumps.iter().zip(&mut gathered).zip(&mut sizes) {
        notices.append(&mut w.notices);
        let mut done = one_pump(plant, screened, pump, w, sizes);
        if let Some(m) = &mut done.machine {
            m.check = check::against(plant, screened.clock, &done.points.state, w, &m.mixture, m.noise);
        }
        notices.append(&mut done.notices);
        pumps.push(done.points);
        machines.push(done.machine);
        learned_tables.extend(done.table);
    }
    let joined: Vec<Joined> = gathered
        .iter()
        .zip(&sizes)
        .zip(&machines)
        .map(|((witnesses, sizes), machine)| Joined { witnesses, sizes, machine: machine.as_ref() })
        .collect();
    let together = joined::add_up(plant, screened, &mut pumps, &joined);
    notices.extend(together.notices);
    let points = OperatingPoints { pumps, system: together.value.system };
    let machines = machines.into_iter().flatten().collect();
    Noticed { value: Reconstructed { points, machines, learned_tables }, notices }
}

/// Tells each pump how many run in every row: the loop's own meters speak of one that runs alone.
fn share_the_loop(gathered: &mut [Witnesses], sizes: &[Sizes], rows: usize) {
    if gathered.len() < 2 {
        return;
    }
    let mut running = vec![0u8; rows];
    for (w, sizes) in gathered.iter().zip(sizes) {
        for (i, count) in running.iter_mut().enumerate() {
            *count = count.saturating_add(u8::from(state::is_running(w, i, sizes.rated_kw) != Some(false)));
        }
    }
    for w in gathered {
        w.sharing.clone_from(&running);
    }
}

/// One pump, done.
struct Done {
    points: PumpPoints,
    machine: Option<Machine>,
    table: Option<LearnedTable>,
    notices: Vec<Notice>,
}

fn one_pump(plant: &Plant, screened: &Screened, pump: &Pump, w: &mut Witnesses, sizes: &mut Sizes) -> Done {
    let clock = screened.clock;
    let states = state::states(w, clock.step_s, sizes.rated_kw);
    if let Some(done) = tabled(clock, pump, w, sizes, &states, setting(plant)) {
        return done;
    }
    match from_meter::teach(plant, clock, pump, w, &states) {
        Ok(taught) => untabled(plant, clock, taught, w, sizes, &states),
        Err(why) => not_taught(pump, w, &states, why),
    }
}

/// A pump with a table; `None` where it has none.
fn tabled(clock: Clock, pump: &Pump, w: &Witnesses, sizes: &Sizes, states: &[State], setting: Setting) -> Option<Done> {
    let noise = priors::noise(w, sizes);
    let mixture = Mixture::learn(pump, w, &teachers(w, states), sizes, &noise, setting)?;
    let likeliest = mixture.likeliest()?;
    let (model, learned) = (likeliest.model.clone(), likeliest.learned.clone());
    let mut points = blank(&pump.name, states, w);
    let mut tally = rows::fill(&mut points, w, &mixture, noise);
    let settled = neighbours::settle(&mut points, &tally.two, clock.step_s);
    let speed_only = only_speed(pump, &mut points, w, (&model, &learned), sizes, &mut tally);
    let mut notices = told(pump, states, &tally, settled);
    notices.extend(speed_only);
    let hour = hour::usual(&points, w, &mixture, noise);
    let check = check::SelfCheck::default();
    let machine = Machine { pump: pump.name.clone(), model, learned, mixture, noise, hour, check };
    Some(Done { points, machine: Some(machine), table: None, notices })
}

/// A pump that learned its table from a meter.
fn untabled(
    plant: &Plant,
    clock: Clock,
    taught: Taught,
    w: &mut Witnesses,
    sizes: &mut Sizes,
    states: &[State],
) -> Done {
    let Taught { pump, sizes: known, no_chain, power_is, has_head, table } = taught;
    *sizes = known;
    w.power_is = Some(power_is);
    let heads: Vec<f64> = (0..states.len()).map(|i| w.raw(model::witness::HEAD, i)).collect();
    if !has_head {
        w.forget(model::witness::HEAD);
    }
    let setting = Setting { no_chain, viscosity_cst: f64::NAN, ..setting(plant) };
    let Some(mut done) = tabled(clock, &pump, w, sizes, states, setting) else {
        return not_taught(&pump, w, states, NotLearned::NothingWithFlow);
    };
    from_meter::widen(&mut done.points, w, sizes);
    if !has_head {
        from_meter::heads_as_measured(&mut done.points, &heads, priors::of_head(w, sizes));
        done.machine = None;
    }
    done.notices.insert(0, taught_from(&table));
    done.table = Some(table);
    done
}

fn taught_from(table: &LearnedTable) -> Notice {
    let part = |error: f64, of: &str| error.is_finite().then(|| format!("{of} to {:.1} %", 100.0 * error));
    let errors: Vec<String> = [(table.head_error, "head"), (table.power_error, "power")]
        .into_iter()
        .filter_map(|(e, of)| part(e, of))
        .chain([format!("flow to {:.1} % of the largest", 100.0 * table.flow_error)])
        .collect();
    let text = format!(
        "{}: no pump table is declared; it was learned from {} metered rows on {} days and foretells {} on days held out, the meter's own error aside. The report holds it, to be pasted into the plant file",
        table.pump,
        table.rows,
        table.days,
        errors.join(", ")
    );
    Notice::new("operating", text)
}

/// No table, and none to be learned.
fn not_taught(pump: &Pump, w: &Witnesses, states: &[State], why: NotLearned) -> Done {
    let mut points = blank(&pump.name, states, w);
    let use_of_meter = if as_measured(&mut points, w) {
        "its flow is the meter's alone, and cannot be told where there is none"
    } else {
        "its flow cannot be told"
    };
    let text = format!("{}: no pump table is declared, and none can be learned: {why}. So {use_of_meter}", pump.name);
    Done { points, machine: None, table: None, notices: vec![Notice::new("operating", text)] }
}

/// Fills rows that have nothing but speed, and says how.
fn only_speed(
    pump: &Pump,
    points: &mut PumpPoints,
    w: &Witnesses,
    (model, learned): (&PumpModel, &Learned),
    sizes: &Sizes,
    tally: &mut Tally,
) -> Option<Notice> {
    let speeds = field::SPEED_FROM..=field::SPEED_TO;
    let unheard: Vec<usize> = (0..points.state.len())
        .filter(|&i| is_on(points.state[i]) && speeds.contains(&w.speed[i]) && points.basis[i] == Basis::None)
        .filter(|&i| w.row(i).measured(model) == 0)
        .collect();
    let from_record = by_speed::fill(points, model, learned, sizes, &unheard)?;
    let how = if from_record {
        "from the flow that went with their speed elsewhere in the record"
    } else {
        "between none and what the design's valves would pass: trend power or head to narrow it"
    };
    let filled = unheard.iter().filter(|&&i| points.basis[i] == Basis::Speed).count();
    tally.silent[posterior::Silent::NothingMeasured as usize] -= filled as u64;
    let (name, all) = (&pump.name, running(&points.state));
    let text = format!("{name}: {filled} of {all} running rows have nothing but speed; their flow is taken {how}");
    (filled > 0).then(|| Notice::new("operating", text))
}

/// What a moving row counts for, beside a steady one: its readings belong to slightly different instants. A loop's water settles in seconds, so
/// that a mean over minutes is still a duty, and a loop that drifts all day would else teach nothing.
const MOVING: f64 = 0.25;

fn teachers(w: &Witnesses, states: &[State]) -> Vec<Weighted> {
    let weight = |i: usize| match states[i] {
        State::Steady => 1.0,
        State::Transient => MOVING,
        State::Starting | State::Off | State::Unknown => 0.0,
    };
    let of_use: Vec<usize> = (0..states.len()).filter(|&i| weight(i) > 0.0).collect();
    let stride = of_use.len().div_ceil(learn::ROWS).max(1);
    // Whole stretches are dropped where there are too many, never every other row of one.
    let stretches = of_use.chunks(learn::STRETCH).step_by(stride);
    stretches.flatten().map(|&i| Weighted { row: w.row(i), weight: weight(i), at: i }).collect()
}

/// What all pumps of a plant share.
fn setting(plant: &Plant) -> Setting {
    let system = &plant.system;
    let (kind, share) = (system.fluid.in_books(), system.glycol_mass_fraction);
    let at = system.supply_temperature;
    let density = at.and_then(|t| fluid::density(kind, share, t)).map_or(1000.0, Density::in_kg_m3);
    let dynamic = at.and_then(|t| fluid::viscosity(kind, share, t)).map_or(f64::NAN, Viscosity::in_mpa_s);
    Setting {
        power_is: PowerIs::DriveInput,
        viscosity_cst: if kind == fluid::Fluid::Water { f64::NAN } else { dynamic / density * 1000.0 },
        density_kg_m3: density,
        no_chain: false,
    }
}

/// Why rows stayed silent.
const SILENT: [&str; 3] =
    ["nothing measured but speed", "outside the pump's table", "head and power contradict each other"];
/// Names of the measurements, in the order of [`model::witness`].
pub const MEASUREMENTS: [&str; model::witness::COUNT] =
    ["head", "power", "flow meter", "heat balance", "remote pressure"];

fn told(pump: &Pump, states: &[State], tally: &Tally, settled: usize) -> Vec<Notice> {
    let (all, name) = (running(states), &pump.name);
    let say = |text: String| Notice::new("operating", text);
    let mut out: Vec<Notice> = tally
        .silent
        .iter()
        .zip(SILENT)
        .filter(|(n, _)| **n > 0)
        .map(|(n, why)| {
            let doubt = if *n as f64 > MOSTLY * all as f64 && why != SILENT[0] {
                "; check the units of its points and the curve in the plant file"
            } else {
                ""
            };
            say(format!("{name}: {n} of {all} running rows have no flow: {why}{doubt}"))
        })
        .collect();
    if tally.no_speed > 0 {
        out.push(say(format!(
            "{name}: {} of {all} running rows have no flow: their speed is missing or was not believed",
            tally.no_speed
        )));
    }
    if tally.odd_speed > 0 {
        let (from, to) = (100.0 * field::SPEED_FROM, 100.0 * field::SPEED_TO);
        out.push(say(format!(
            "{name}: {} of {all} running rows have no flow: their speed is not between {from:.0} and {to:.0} % of rated",
            tally.odd_speed
        )));
    }
    for (n, what) in tally.odd.iter().zip(MEASUREMENTS) {
        if *n > 0 {
            out.push(say(format!(
                "{name}: in {n} of {all} running rows the {what} contradicts the others and is not used"
            )));
        }
    }
    if !tally.two.is_empty() {
        let n = tally.two.len();
        out.push(say(format!(
            "{name}: {n} of {all} running rows fit two flows; neighbouring rows settle {settled}, the others' intervals span both"
        )));
    }
    out
}

/// Without a table: head and flow as they were measured, with the sensors' own doubt; says whether any flow was.
fn as_measured(p: &mut PumpPoints, w: &Witnesses) -> bool {
    let (gain, zero) = priors::meter(w);
    let mut metered = false;
    for i in 0..p.state.len() {
        if !is_on(p.state[i]) {
            continue;
        }
        let row = w.row(i);
        let (head, meter) = (row.reading[model::witness::HEAD], row.reading[model::witness::METER]);
        if head.is_finite() {
            let sd = HEAD_ALONE * head.abs();
            (p.head_kpa[i], p.head_low_kpa[i], p.head_high_kpa[i]) = (head, head - 1.96 * sd, head + 1.96 * sd);
            p.head_sd_common_kpa[i] = sd;
        }
        if meter >= 0.0 {
            let common = (gain * meter).hypot(zero);
            let sd = common.hypot(METER_NOISE * meter);
            p.flow_m3h[i] = meter;
            (p.flow_low_m3h[i], p.flow_high_m3h[i]) = ((meter - 1.96 * sd).max(0.0), meter + 1.96 * sd);
            p.flow_sd_common_m3h[i] = common;
            p.basis[i] = Basis::Measured(1 << model::witness::METER);
            metered = true;
            if head.is_finite() && p.power_kw[i] > 0.0 {
                p.efficiency[i] = (meter * head / 3600.0 / p.power_kw[i]).clamp(0.0, 1.0);
            }
        }
    }
    metered
}

/// Standard deviation of a head that stands alone: a transmitter's 1 %, and half of that again for its zero [-].
const HEAD_ALONE: f64 = 0.015;
/// Row noise of a flow meter [-].
const METER_NOISE: f64 = 0.01;
/// Share of running rows outside the table from which the unit or the curve is the likelier culprit [-].
const MOSTLY: f64 = 0.3;

fn is_on(state: State) -> bool {
    !matches!(state, State::Off | State::Unknown)
}

fn running(states: &[State]) -> usize {
    states.iter().filter(|s| is_on(**s)).count()
}

fn blank(name: &str, states: &[State], w: &Witnesses) -> PumpPoints {
    let n = states.len();
    let off = |i: usize| states[i] == State::Off;
    let zero_when_off = || -> Vec<f64> { (0..n).map(|i| if off(i) { 0.0 } else { f64::NAN }).collect() };
    let nan = || vec![f64::NAN; n];
    let power = |i: usize| {
        let trended = w.raw(model::witness::POWER, i);
        if trended.is_nan() && off(i) { 0.0 } else { trended }
    };
    PumpPoints {
        pump: name.to_owned(),
        state: states.to_vec(),
        speed: (0..n).map(|i| if off(i) { 0.0 } else { w.speed[i] }).collect(),
        flow_m3h: zero_when_off(),
        flow_low_m3h: zero_when_off(),
        flow_high_m3h: zero_when_off(),
        head_kpa: nan(),
        head_low_kpa: nan(),
        head_high_kpa: nan(),
        power_kw: (0..n).map(power).collect(),
        efficiency: nan(),
        basis: (0..n).map(|i| if off(i) { Basis::Off } else { Basis::None }).collect(),
        flow_sd_common_m3h: zero_when_off(),
        head_sd_common_kpa: nan(),
    }
}
