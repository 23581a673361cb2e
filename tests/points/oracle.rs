//! How sharp anybody could be: the width of an estimator that is told the true nuisance distribution.
//!
//! Comes in: a plant, its record, the trended points. Goes out: a standard deviation of flow a pump and row, and of the loop's. It is the
//! Bayesian information bound at the truth, in the truth's own parameters: the nuisances that all rows share with their frozen
//! standard deviations as Gaussian priors, each row's flows free with a flat prior, row noise as drawn. Readings that bend over the flows
//! still possible are drawn as their mean line there, with what strays from it as noise (statistical linearisation), else a curve flat just
//! at the truth would seem to teach its own level.
//!
//! What the table leaves to choice (loss family and its shape, where power is read if the file does not say, whether the shown speed hides slip) is told as it is
//! known: by shares. [`Told::Chances`] takes power as read for a random function with the mean and covariance of `chances.rs`, and hidden slip for
//! a share of itself with the mean and variance of yes or no given the trended unit. Being linear in them it does not hold on to one family as
//! an exact posterior would once the record tells two apart, so it may be a little wide there. [`Told::Draw`] knows each choice as it fell:
//! no estimator can be as sharp. Both are told the nameplate and the drive's efficiency where the file does not declare them, and the pump's family. Neither
//! uses that a control curve is held.
//!
//! The decision to question: the flat priors count for each row's own interval, but together no more than one row's for what rows teach of their common
//! errors. Hundreds of independent flat priors would fix the mean load, which nobody knows, and with it every gain. (Tried on four plants: the exact posterior with
//! such priors, walked by Metropolis on 24 rows. With head or power alone it was narrower than this kind of bound by a third as a rule, and often wrong by two to five
//! of its own standard deviations, alike in all rows. With both it agreed to 6 % on three of the four with a bound that counted the same priors in full.
//! This bound, which does not, has been held to arithmetic only: a lone meter.)

use super::chances::{Chances, Known, Place, noise_kw};
use super::machine::{COUNT, HEAD_ZERO, LOSS_LN, Machine, Nuisances, POWER_GAIN, Readings, SHAPE, SLIP};
use super::nuisance as table;
use super::plant::{self, Key, Plant, Record, STATION, heat_kw, meter_step};

/// Readings of a pump: own head, header pressure, power, head between flanges.
const OUTPUTS: usize = 4;
const POWER: usize = 2;
/// Two pumps at one header differ by no more than this share of design head.
const SAME_HEADER: f64 = 2e-4;

/// Flows over the table's range at which readings are kept.
const NODES: usize = 49;
/// Rounds in which slopes and spreads of flow are made to fit each other.
const ROUNDS: usize = 5;
/// Mean readings of power are drawn over as many flows, and straight between them: losses bend little.
const LOSS_NODES: usize = 13;

/// What the oracle is told of the choices that a plant is drawn with.
#[derive(Debug, Clone, Copy)]
pub enum Told {
    /// Each as it fell.
    Draw,
    /// How likely each is.
    Chances(Chances),
}

/// A pump's readings in a row and how they move.
struct Moves {
    pump: usize,
    flow: f64,
    base: [f64; OUTPUTS],
    /// Slope over flow at the truth.
    by_flow: [f64; OUTPUTS],
    by_nuisance: [[f64; COUNT]; OUTPUTS],
    /// Slopes over what only the oracle that is told chances has: the share of hidden slip, then what errors of power are shared.
    by_chance: Vec<[f64; OUTPUTS]>,
    /// Variance of power that these leave.
    rest: f64,
    /// Flows the table reaches to, and readings over them.
    range: f64,
    over: Vec<[f64; OUTPUTS]>,
}

/// A reading's mean slope over the flows that are still possible, and how far it strays from that line (a variance).
#[derive(Clone, Copy)]
struct Chord {
    slope: [f64; OUTPUTS],
    strays: [f64; OUTPUTS],
}

impl Moves {
    /// Information of a flat prior over the table's range.
    fn flat(&self) -> f64 {
        12.0 / (self.range * self.range)
    }

    /// The line through the readings at flows spread by `sd` about the truth.
    fn chord(&self, sd: f64) -> Chord {
        let step = self.range / (NODES - 1) as f64;
        if sd < step {
            return Chord { slope: self.by_flow, strays: [0.0; OUTPUTS] };
        }
        let node = |i: usize| step * i as f64 - self.flow;
        let weights: Vec<f64> = (0..NODES).map(|i| libm::exp(-0.5 * (node(i) / sd).powi(2))).collect();
        let total: f64 = weights.iter().sum();
        let mean = |f: &dyn Fn(usize) -> f64| weights.iter().enumerate().map(|(i, w)| w * f(i)).sum::<f64>() / total;
        let centre = mean(&node);
        let variance = mean(&|i| (node(i) - centre).powi(2));
        let mut chord = Chord { slope: [0.0; OUTPUTS], strays: [0.0; OUTPUTS] };
        for o in 0..OUTPUTS {
            let level = mean(&|i| self.over[i][o]);
            let slope = mean(&|i| (node(i) - centre) * (self.over[i][o] - level)) / variance;
            chord.slope[o] = slope;
            chord.strays[o] = mean(&|i| (self.over[i][o] - level - slope * (node(i) - centre)).powi(2));
        }
        chord
    }
}

/// Derivatives at chosen rows, good for every trended set of the record.
pub struct Tangent {
    pub rows: Vec<usize>,
    moves: Vec<Vec<Moves>>,
    /// Probability of hidden slip and number of shared errors of power, where chances are told.
    chances: Option<(f64, usize)>,
}

fn outputs(r: &Readings) -> [f64; OUTPUTS] {
    [r.head, r.header, r.power, r.flanges]
}

impl Tangent {
    pub fn new(plant: &Plant, record: &Record, rows: Vec<usize>, told: Told) -> Self {
        let hidden = match told {
            Told::Draw => None,
            Told::Chances(chances) => Some(chances.hidden(plant)),
        };
        let running =
            |row: usize| (0..plant.machines.len()).filter(move |p| record.on[*p][row] && record.flow[*p][row] > 0.0);
        let view =
            |row: usize, p: usize| View::new(&plant.machines[p], p, record.flow[p][row], record.shown[row], hidden);
        let views: Vec<Vec<View>> = rows.iter().map(|&row| running(row).map(|p| view(row, p)).collect()).collect();
        let mut known = match told {
            Told::Draw => Vec::new(),
            Told::Chances(chances) => {
                let places: Vec<Place> = views.iter().flatten().map(View::place).collect();
                chances.known(plant, &places)
            }
        }
        .into_iter();
        let chances = hidden.map(|hidden| (hidden, known.as_slice().first().map_or(0, |k| k.shared.len())));
        let moves = views.iter().map(|row| row.iter().map(|v| v.moves(known.next().as_ref())).collect()).collect();
        Self { rows, moves, chances }
    }

    /// Standard deviations of all nuisances: pump by pump, the station's, those of chance.
    fn prior_sd(&self, plant: &Plant) -> Vec<f64> {
        let hidden = self.chances.map(|c| c.0);
        let mut sd: Vec<f64> =
            plant.machines.iter().flat_map(|m| pump_prior_sd(m, hidden)).chain(plant.prior_sd).collect();
        if let Some((hidden, shared)) = self.chances {
            sd.push(yes_or_no(hidden));
            sd.resize(sd.len() + shared, 1.0);
        }
        sd
    }
}

/// Standard deviation of what is one with this probability, else nothing.
fn yes_or_no(probability: f64) -> f64 {
    (probability * (1.0 - probability)).sqrt()
}

/// A pump's own nuisances. Where chances are told, its losses' are among those of power as read.
fn pump_prior_sd(machine: &Machine, hidden: Option<f64>) -> Nuisances {
    let mut sd = machine.prior_sd;
    let Some(hidden) = hidden else { return sd };
    sd[LOSS_LN] = 0.0;
    sd[SHAPE..SHAPE + 8].fill(0.0);
    // It counts only where slip is hidden; the slopes over it are taken at the mean share.
    sd[SLIP] = if hidden > 0.0 { table::TRUE_SLIP.sd() / hidden.sqrt() } else { 0.0 };
    sd
}

/// A pump at a row, seen by one who takes this share of slip for hidden.
struct View<'a> {
    machine: &'a Machine,
    pump: usize,
    flow: f64,
    shown: f64,
    truth: Nuisances,
    prior_sd: Nuisances,
    hidden: f64,
    told_hidden: Option<f64>,
}

impl<'a> View<'a> {
    fn new(machine: &'a Machine, pump: usize, flow: f64, shown: f64, told_hidden: Option<f64>) -> Self {
        let mut truth = machine.truth;
        if !machine.slip_hidden {
            truth[SLIP] = table::TRUE_SLIP.moments().0;
        }
        let hidden = told_hidden.unwrap_or(f64::from(u8::from(machine.slip_hidden)));
        let prior_sd = pump_prior_sd(machine, told_hidden);
        Self { machine, pump, flow, shown, truth, prior_sd, hidden, told_hidden }
    }

    fn speed(&self, c: &Nuisances, hidden: f64, flow: f64) -> f64 {
        let slips = if hidden == 0.0 { 0.0 } else { self.machine.slipped(c, flow, self.shown) - self.shown };
        self.shown + hidden * slips
    }

    fn shaft_kw(&self, flow: f64) -> f64 {
        self.machine.shaft_power(&self.truth, flow, self.speed(&self.truth, self.hidden, flow))
    }

    fn range(&self) -> f64 {
        self.speed(&self.truth, self.hidden, self.flow) * self.machine.sheet.end_flow
    }

    /// Flow at a node among so many; the laws end a little above none.
    fn node(&self, i: usize, of: usize) -> f64 {
        self.range() * (i as f64 / (of - 1) as f64).max(0.01 / (NODES - 1) as f64)
    }

    fn place(&self) -> Place {
        Place {
            pump: self.pump,
            flow: self.flow,
            speed: self.speed(&self.truth, self.hidden, self.flow),
            shaft_kw: self.shaft_kw(self.flow),
            others_kw: (0..LOSS_NODES).map(|i| self.shaft_kw(self.node(i, LOSS_NODES))).collect(),
        }
    }

    /// Readings, with power where it is read as a function of shaft power and speed.
    fn at(&self, c: &Nuisances, hidden: f64, flow: f64, power: impl Fn(f64, f64) -> f64) -> [f64; OUTPUTS] {
        let speed = self.speed(c, hidden, flow);
        let read = power(self.machine.shaft_power(c, flow, speed), speed);
        outputs(&self.machine.sensed(c, flow, speed, read))
    }

    /// Power where it is read near the truth: the machine's own, or what is known of it.
    fn power(&self, c: &Nuisances, known: Option<&Known>, shaft_kw: f64, speed: f64) -> f64 {
        let Some(k) = known else { return self.machine.power_at(c, shaft_kw, speed, self.machine.read_at) };
        let (more, faster) = (shaft_kw - k.shaft_kw, speed - k.speed);
        k.mean_kw + k.by_shaft * more + k.by_speed * faster
    }

    fn moves(&self, known: Option<&Known>) -> Moves {
        let at = |c: &Nuisances, hidden: f64, flow: f64| {
            self.at(c, hidden, flow, |kw, speed| self.power(c, known, kw, speed))
        };
        let slope =
            |up: [f64; OUTPUTS], down: [f64; OUTPUTS], step: f64| core::array::from_fn(|k| (up[k] - down[k]) / step);
        let (c, flow, range) = (&self.truth, self.flow, self.range());
        let step = 0.005 * range;
        let by_flow: [f64; OUTPUTS] =
            slope(at(c, self.hidden, flow + step), at(c, self.hidden, flow - step), 2.0 * step);
        let base = at(c, self.hidden, flow);
        let mut by_nuisance = [[0.0; COUNT]; OUTPUTS];
        for k in (0..COUNT).filter(|k| self.prior_sd[*k] > 0.0) {
            let step = 0.1 * self.prior_sd[k];
            let mut moved = *c;
            moved[k] += step;
            let s: [f64; OUTPUTS] = slope(at(&moved, self.hidden, flow), base, step);
            for (o, v) in s.into_iter().enumerate() {
                by_nuisance[o][k] = v;
            }
        }
        let mut by_chance = Vec::new();
        let gain = 1.0 + c[POWER_GAIN];
        if self.told_hidden.is_some() {
            const STEP: f64 = 0.1;
            by_chance.push(slope(at(c, self.hidden + STEP, flow), base, STEP));
        }
        for shared in known.iter().flat_map(|k| &k.shared) {
            let mut moves = [0.0; OUTPUTS];
            moves[POWER] = gain * shared;
            by_chance.push(moves);
        }
        let over = (0..NODES)
            .map(|i| {
                let flow = self.node(i, NODES);
                self.at(c, self.hidden, flow, |kw, speed| match known {
                    None => self.power(c, None, kw, speed),
                    Some(k) => kw + self.between_nodes(k, i),
                })
            })
            .collect();
        let rest = known.map_or(0.0, |k| gain * gain * k.rest);
        Moves { pump: self.pump, flow, base, by_flow, by_nuisance, by_chance, rest, range, over }
    }

    /// What is read above shaft power at a node, in the mean.
    fn between_nodes(&self, known: &Known, node: usize) -> f64 {
        let x = (node * (LOSS_NODES - 1)) as f64 / (NODES - 1) as f64;
        let i = (x as usize).min(LOSS_NODES - 2);
        let w = x - i as f64;
        (1.0 - w) * known.above_kw[i] + w * known.above_kw[i + 1]
    }
}

/// One measurement: slopes over the row's flows and over all nuisances, over its standard deviation.
struct Measured {
    by_flow: Vec<f64>,
    by_nuisance: Vec<f64>,
}

/// Standard deviation of flow, a pump in the row's order, and of their sum.
pub struct Sharpest {
    pub pumps: Vec<(usize, f64)>,
    pub total: f64,
}

/// The bound at each row of the tangent, whose rows stand for all that run.
pub fn bound(plant: &Plant, record: &Record, tangent: &Tangent, keys: &[Key]) -> Vec<Sharpest> {
    let running = (0..record.rows).filter(|i| record.on.iter().any(|o| o[*i])).count();
    // Every flow of the table at first; then only those that the last round left possible.
    let flat = |at: &Vec<Moves>| at.iter().map(|m| m.range / 12.0_f64.sqrt()).collect::<Vec<f64>>();
    let mut spread: Vec<Vec<f64>> = tangent.moves.iter().map(flat).collect();
    let mut sharpest = Vec::new();
    for _ in 0..ROUNDS {
        sharpest = round(plant, record, tangent, keys, &spread, running);
        for (row, said) in spread.iter_mut().zip(&sharpest) {
            row.iter_mut().zip(&said.pumps).for_each(|(sd, (_, new))| *sd = *new);
        }
    }
    sharpest
}

/// The bound with readings drawn as straight lines over flows of this spread.
fn round(
    plant: &Plant,
    record: &Record,
    tangent: &Tangent,
    keys: &[Key],
    spread: &[Vec<f64>],
    running: usize,
) -> Vec<Sharpest> {
    let station = plant.machines.len() * COUNT;
    let sd = tangent.prior_sd(plant);
    let size = sd.len();
    // In units of prior standard deviations: the prior is the unit matrix. What has no spread has no slope either.
    let mut information = vec![vec![0.0; size]; size];
    for (k, row) in information.iter_mut().enumerate() {
        row[k] = 1.0;
    }
    for (k, more) in at_rest(plant, record, keys, station) {
        information[k][k] += more * sd[k] * sd[k];
    }
    let weight = running as f64 / tangent.rows.len().max(1) as f64;
    let mut rows = Vec::new();
    for (i, &row) in tangent.rows.iter().enumerate() {
        let at = &tangent.moves[i];
        let chords: Vec<Chord> = at.iter().zip(&spread[i]).map(|(m, sd)| m.chord(*sd)).collect();
        let measured = measured(plant, record, row, at, &chords, keys, &sd);
        let prepared = Prepared::new(at, &measured, size, running as f64);
        add_row(&mut information, &measured, &prepared, weight);
        rows.push(prepared);
    }
    let factor = cholesky(&information);
    rows.iter().zip(&tangent.moves).map(|(row, at)| row.sharpest(&factor, at)).collect()
}

/// What a row says of the nuisances once its own flows are taken out.
fn add_row(information: &mut [Vec<f64>], measured: &[Measured], row: &Prepared, weight: f64) {
    let moved: Vec<usize> =
        (0..information.len()).filter(|a| measured.iter().any(|m| m.by_nuisance[*a] != 0.0)).collect();
    for &a in &moved {
        for &b in &moved {
            let direct: f64 = measured.iter().map(|m| m.by_nuisance[a] * m.by_nuisance[b]).sum();
            let through: f64 = row.cross.iter().zip(&row.solved).map(|(c, s)| c[a] * s[b]).sum();
            information[a][b] += weight * (direct - through);
        }
    }
}

/// What standing pumps tell: the zeros of head sensors.
fn at_rest(plant: &Plant, record: &Record, keys: &[Key], station: usize) -> Vec<(usize, f64)> {
    let sd = (0.3 * plant.noise.head_kpa).hypot(head_step_kpa(plant));
    let all_off = (0..record.rows).filter(|i| record.on.iter().all(|o| !o[*i])).count() as f64;
    keys.iter()
        .filter_map(|key| match key {
            Key::Head(p) => {
                let off = record.on[*p].iter().filter(|on| !**on).count() as f64;
                Some((p * COUNT + HEAD_ZERO, off / (sd * sd)))
            }
            Key::Header => Some((station + plant::SHARED_ZERO, all_off / (sd * sd))),
            Key::Remote => Some((station + plant::REMOTE_ZERO, all_off / (sd * sd))),
            _ => None,
        })
        .collect()
}

/// A step's standard deviation: a twelfth of its square.
fn of_step(step: f64) -> f64 {
    step / 12.0_f64.sqrt()
}

fn head_step_kpa(plant: &Plant) -> f64 {
    of_step(plant.noise.head_step / plant::head_in(plant.noise.head_unit, plant.fluid.density))
}

fn measured(
    plant: &Plant,
    record: &Record,
    row: usize,
    at: &[Moves],
    chords: &[Chord],
    keys: &[Key],
    sd: &[f64],
) -> Vec<Measured> {
    let (flows, size) = (at.len(), sd.len());
    let station = plant.machines.len() * COUNT;
    let blank = || Measured { by_flow: vec![0.0; flows], by_nuisance: vec![0.0; size] };
    // One output of one pump, times a factor.
    let add = |m: &mut Measured, k: usize, output: usize, factor: f64| {
        let one = &at[k];
        m.by_flow[k] += factor * chords[k].slope[output];
        for (j, slope) in one.by_nuisance[output].iter().enumerate() {
            m.by_nuisance[one.pump * COUNT + j] += factor * slope;
        }
        for (j, slopes) in one.by_chance.iter().enumerate() {
            m.by_nuisance[station + STATION + j] += factor * slopes[output];
        }
    };
    let head_sd = plant.noise.head_kpa.hypot(head_step_kpa(plant));
    let total: f64 = record.total(row);
    let truth = &plant.truth;
    let mut out: Vec<Measured> = Vec::new();
    let mut push = |mut m: Measured, noise: f64| {
        m.by_flow.iter_mut().for_each(|v| *v /= noise);
        m.by_nuisance.iter_mut().zip(sd).for_each(|(v, sd)| *v *= sd / noise);
        out.push(m);
    };
    for k in 1..flows {
        let mut m = blank();
        add(&mut m, k, 1, 1.0);
        add(&mut m, 0, 1, -1.0);
        push(m, (SAME_HEADER * plant.design_head).hypot((chords[0].strays[1] + chords[k].strays[1]).sqrt()));
    }
    for key in keys {
        let mut m = blank();
        match key {
            Key::Power(p) | Key::Head(p) => {
                let Some(k) = at.iter().position(|a| a.pump == *p) else { continue };
                let power = matches!(key, Key::Power(_));
                let output = if power { POWER } else { 0 };
                add(&mut m, k, output, 1.0);
                let noise = if power { noise_kw(plant, at[k].base[POWER]).hypot(at[k].rest.sqrt()) } else { head_sd };
                push(m, noise.hypot(chords[k].strays[output].sqrt()));
            }
            Key::Header if flows > 0 => {
                add(&mut m, 0, 1, 1.0 + truth[plant::SHARED_GAIN]);
                m.by_nuisance[station + plant::SHARED_GAIN] = at[0].base[1];
                m.by_nuisance[station + plant::SHARED_ZERO] = 1.0;
                push(m, head_sd.hypot(chords[0].strays[1].sqrt()));
            }
            Key::Remote if flows > 0 => {
                let share = libm::pow(total / plant.design_flow, table::PIPE_EXPONENT);
                let gain = 1.0 + truth[plant::REMOTE_GAIN];
                add(&mut m, 0, 3, gain);
                m.by_flow[0] -= gain * truth[plant::PIPE] * table::PIPE_EXPONENT * share / total;
                m.by_nuisance[station + plant::PIPE] = -gain * share;
                m.by_nuisance[station + plant::REMOTE_GAIN] = at[0].base[3] - truth[plant::PIPE] * share;
                m.by_nuisance[station + plant::REMOTE_ZERO] = 1.0;
                push(m, head_sd.hypot(chords[0].strays[3].sqrt()));
            }
            Key::Meter => {
                m.by_flow.fill(1.0 + truth[plant::METER_GAIN]);
                m.by_nuisance[station + plant::METER_GAIN] = total;
                m.by_nuisance[station + plant::METER_ZERO] = 1.0;
                push(m, (table::METER_NOISE * total).hypot(of_step(meter_step(plant))));
            }
            // Load over temperature difference: a flow, with the difference's doubt in it.
            Key::Load => {
                let difference = record.difference_k[row];
                m.by_flow.fill(1.0);
                m.by_nuisance[station + plant::LOAD_GAIN] = total;
                m.by_nuisance[station + plant::PAIR_BIAS] = -total / difference;
                let load = table::LOAD_NOISE.hypot(of_step(0.1) / heat_kw(plant, total, difference));
                let pair = core::f64::consts::SQRT_2 * table::TEMPERATURE_NOISE_K / difference;
                push(m, total * load.hypot(pair));
            }
            _ => {}
        }
    }
    out
}

/// A row with its own flows taken out.
struct Prepared {
    /// Inverse information of the flows alone, nuisances known.
    own: Vec<Vec<f64>>,
    /// Information between flows and nuisances, and that times `own`.
    cross: Vec<Vec<f64>>,
    solved: Vec<Vec<f64>>,
}

impl Prepared {
    fn new(at: &[Moves], measured: &[Measured], size: usize, rows: f64) -> Self {
        let n = at.len();
        let mut own = vec![vec![0.0; n]; n];
        for a in 0..n {
            own[a][a] = at[a].flat() / rows;
            for b in 0..n {
                own[a][b] += measured.iter().map(|m| m.by_flow[a] * m.by_flow[b]).sum::<f64>();
            }
        }
        let cross: Vec<Vec<f64>> = (0..n)
            .map(|k| (0..size).map(|j| measured.iter().map(|m| m.by_flow[k] * m.by_nuisance[j]).sum()).collect())
            .collect();
        let own = inverse(&own);
        let solved =
            (0..n).map(|k| (0..size).map(|j| (0..n).map(|l| own[k][l] * cross[l][j]).sum()).collect()).collect();
        Self { own, cross, solved }
    }

    fn sharpest(&self, factor: &[Vec<f64>], at: &[Moves]) -> Sharpest {
        let n = at.len();
        let through: Vec<Vec<f64>> = self.solved.iter().map(|s| forward(factor, s)).collect();
        let shared = |a: usize, b: usize| through[a].iter().zip(&through[b]).map(|(x, y)| x * y).sum::<f64>();
        let covariance: Vec<Vec<f64>> =
            (0..n).map(|a| (0..n).map(|b| self.own[a][b] + shared(a, b)).collect()).collect();
        let mut information = inverse(&covariance);
        (0..n).for_each(|a| information[a][a] += at[a].flat());
        let covariance = inverse(&information);
        Sharpest {
            pumps: (0..n).map(|k| (at[k].pump, covariance[k][k].sqrt())).collect(),
            total: covariance.iter().flatten().sum::<f64>().sqrt(),
        }
    }
}

/// Inverse of a small positive definite matrix.
fn inverse(a: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let factor = cholesky(a);
    let unit = |k: usize| (0..a.len()).map(|j| f64::from(u8::from(j == k))).collect::<Vec<f64>>();
    (0..a.len()).map(|k| backward(&factor, &forward(&factor, &unit(k)))).collect()
}

/// Lower factor of a positive definite matrix.
fn cholesky(a: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n = a.len();
    let mut l = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..=i {
            let sum: f64 = (0..j).map(|k| l[i][k] * l[j][k]).sum();
            l[i][j] = if i == j { (a[i][i] - sum).max(1e-300).sqrt() } else { (a[i][j] - sum) / l[j][j] };
        }
    }
    l
}

fn forward(l: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    let mut y = vec![0.0; b.len()];
    for i in 0..b.len() {
        let sum: f64 = (0..i).map(|k| l[i][k] * y[k]).sum();
        y[i] = (b[i] - sum) / l[i][i];
    }
    y
}

fn backward(l: &[Vec<f64>], b: &[f64]) -> Vec<f64> {
    let mut x = vec![0.0; b.len()];
    for i in (0..b.len()).rev() {
        let sum: f64 = (i + 1..b.len()).map(|k| l[k][i] * x[k]).sum();
        x[i] = (b[i] - sum) / l[i][i];
    }
    x
}
