//! Motor, drive and reading as one knows them who was told the nuisance table and not the draw: a mean and a covariance.
//!
//! Comes in: a plant, and the places at which its pumps' power matters. Goes out: at each the mean reading with its slopes, and how it moves with a few
//! independent errors of unit variance that all places share. [`DRAWS`] sets of losses are drawn for the plant's own nameplates, loss family and place of reading by their
//! shares, and what each would read is averaged: no closed form is needed, and errors that look alike along the record are seen to be alike.
//!
//! The decision to question: a sheet whose power is the drive's input holds its maker's own loss, without a motor's scatter about it. There a drawn loss is
//! first taken off the printed power, and the shaft power left is what that draw knows of the pump: at rated speed the two all but
//! cancel. Between tested speeds that share of shaft power is drawn straight, and it is taken at the true flow. Start at [`Chances::known`].

use super::machine::{LOSS_LN, Machine, Nuisances};
use super::nuisance::{self as table, Loss, ReadAt, Shares, SpeedUnit, Spread, pick};
use super::plant::Plant;
use crate::simulator::noise::Rng;

/// Sets of losses drawn for a plant: standard deviations from so many are good to 4 %, a little less where a rare place of reading makes them.
const DRAWS: usize = 400;
/// Stream of a plant's random numbers that nothing else draws from.
const STREAM: u64 = 60_000;
/// Shared errors are split off until what is left is this share of a row's noise, in variance: it may then count as noise.
const REST: f64 = 0.04;
/// No more shared errors than this for each pump.
const MOST: usize = 8;
/// Step of slopes: share of shaft power and of speed.
const STEP: f64 = 0.01;
/// Rounds in which a loss is taken off printed power; its slope is some tenth, so each round adds a digit.
const TAKEN_OFF: usize = 4;

/// What is left to chance: the frozen table's, or a test's own.
#[derive(Debug, Clone, Copy)]
pub struct Chances {
    pub loss: Shares<Loss>,
    pub loss_ln: Spread,
    pub read_at: Shares<ReadAt>,
    pub slip_hidden: f64,
}

/// The frozen table's.
pub const FROZEN: Chances =
    Chances { loss: table::LOSS, loss_ln: table::LOSS_LN, read_at: table::READ_AT, slip_hidden: table::SLIP_HIDDEN };

/// A pump's true shaft power at a row, and that at other flows.
#[derive(Debug, Clone)]
pub struct Place {
    pub pump: usize,
    pub flow: f64,
    pub speed: f64,
    pub shaft_kw: f64,
    /// Shaft powers for which the mean reading is wanted as well.
    pub others_kw: Vec<f64>,
}

/// What is known of the power read at a place, without the reading's own error.
#[derive(Debug, Clone)]
pub struct Known {
    /// The place: shaft power and speed.
    pub shaft_kw: f64,
    pub speed: f64,
    pub mean_kw: f64,
    pub by_shaft: f64,
    pub by_speed: f64,
    /// Mean reading above shaft power at the other shaft powers.
    pub above_kw: Vec<f64>,
    /// Reading over each shared error.
    pub shared: Vec<f64>,
    /// Variance that the shared errors leave.
    pub rest: f64,
}

/// A row's own error of power: noise, and the reading's step (a twelfth of its square).
pub fn noise_kw(plant: &Plant, power_kw: f64) -> f64 {
    (plant.noise.power * power_kw).hypot(plant.noise.power_step / 12.0_f64.sqrt())
}

/// One possible set of losses.
struct Draw {
    pumps: Vec<Drawn>,
    read_at: ReadAt,
}

struct Drawn {
    machine: Machine,
    real: Nuisances,
    /// As on the maker's bench: without the motor's own scatter.
    nominal: Nuisances,
}

impl Chances {
    /// Probability that the shown speed is a frequency, from the unit it is trended in.
    pub fn hidden(&self, plant: &Plant) -> f64 {
        if plant.machines[0].permanent {
            return 0.0;
        }
        let of = |units: Shares<SpeedUnit>| units.iter().filter(|u| u.0 == plant.speed_unit).map(|u| u.1).sum::<f64>();
        let frequency = self.slip_hidden * of(table::FREQUENCY_UNIT);
        frequency / (frequency + (1.0 - self.slip_hidden) * of(table::SHAFT_UNIT))
    }

    /// Mean and shared errors of the power read at each place.
    pub fn known(&self, plant: &Plant, places: &[Place]) -> Vec<Known> {
        let mut rng = Rng::new(plant.number, STREAM + plant.machines.len() as u64);
        let draws: Vec<Draw> = (0..DRAWS).map(|_| self.draw(plant, &mut rng)).collect();
        let (mut known, mut strays) = (Vec::new(), Vec::new());
        for place in places {
            let (k, of_draws) = mean(plant, &draws, place);
            strays.push(of_draws);
            known.push(k);
        }
        let noise: Vec<f64> = known.iter().map(|k| noise_kw(plant, k.mean_kw)).collect();
        let rest = split(&mut strays, &noise, MOST * plant.machines.len(), &mut known);
        known.iter_mut().zip(rest).for_each(|(k, rest)| k.rest = rest);
        known
    }

    fn draw(&self, plant: &Plant, rng: &mut Rng) -> Draw {
        let drawn_at = pick(self.read_at, rng);
        let read_at = if plant.read_at_declared { plant.machines[0].read_at } else { drawn_at };
        let mut pumps: Vec<Drawn> = Vec::new();
        for machine in &plant.machines {
            // Pumps of one make lose alike, but for each motor's scatter.
            let alike = pumps.iter().find(|d| d.machine.sheet.best_flow == machine.sheet.best_flow);
            let machine = match alike {
                Some(d) => d.machine.clone(),
                None => {
                    let family = pick(self.loss, rng);
                    machine.with_losses(rng, family)
                }
            };
            let (mut real, mut nominal) = (machine.truth, machine.truth);
            real[LOSS_LN] = self.loss_ln.draw(rng);
            nominal[LOSS_LN] = 0.0;
            pumps.push(Drawn { machine, real, nominal });
        }
        Draw { pumps, read_at }
    }
}

impl Drawn {
    /// Shaft power that this draw makes of a sheet that prints the drive's input, over the true one.
    fn share_of_shaft(&self, plant: &Plant, place: &Place) -> f64 {
        let truth = &plant.machines[place.pump];
        let mut bench = truth.truth;
        bench[LOSS_LN] = 0.0;
        let at = |tested: f64| {
            let shaft = truth.sheet.shaft_power(place.flow / place.speed * tested, tested);
            let printed = truth.power_at(&bench, shaft, tested, ReadAt::DriveInput);
            let mut left = shaft;
            for _ in 0..TAKEN_OFF {
                let (motor, drive) = self.machine.losses(&self.nominal, left, tested);
                left = (printed - motor - drive).max(0.1 * shaft);
            }
            left / shaft
        };
        // Tested speeds fall from rated speed.
        let tested = plant.table.speeds;
        let Some(below) = tested.iter().position(|s| *s <= place.speed) else { return at(tested[tested.len() - 1]) };
        if below == 0 {
            return at(tested[0]);
        }
        let (high, low) = (tested[below - 1], tested[below]);
        let w = (place.speed - low) / (high - low);
        w * at(high) + (1.0 - w) * at(low)
    }
}

/// The mean over draws, and how far each draw strays from it.
fn mean(plant: &Plant, draws: &[Draw], place: &Place) -> (Known, Vec<f64>) {
    let n = draws.len() as f64;
    let (shaft_kw, speed) = (place.shaft_kw, place.speed);
    let mut known = Known {
        shaft_kw,
        speed,
        mean_kw: 0.0,
        by_shaft: 0.0,
        by_speed: 0.0,
        above_kw: vec![0.0; place.others_kw.len()],
        shared: Vec::new(),
        rest: 0.0,
    };
    let mut strays = Vec::with_capacity(draws.len());
    let (more, faster) = (STEP * shaft_kw, STEP * speed);
    for draw in draws {
        let d = &draw.pumps[place.pump];
        let share = if plant.table.drive_input { d.share_of_shaft(plant, place) } else { 1.0 };
        let reads = |shaft_kw: f64, speed: f64| d.machine.power_at(&d.real, share * shaft_kw, speed, draw.read_at);
        let read = reads(shaft_kw, speed);
        strays.push(read);
        known.mean_kw += read / n;
        known.by_shaft += (reads(shaft_kw + more, speed) - reads(shaft_kw - more, speed)) / (2.0 * more * n);
        known.by_speed += (reads(shaft_kw, speed + faster) - reads(shaft_kw, speed - faster)) / (2.0 * faster * n);
        for (above, other_kw) in known.above_kw.iter_mut().zip(&place.others_kw) {
            *above += (reads(*other_kw, speed) - other_kw) / n;
        }
    }
    strays.iter_mut().for_each(|s| *s -= known.mean_kw);
    (known, strays)
}

/// Splits the covariance of strays (a row a place, a column a draw) into shared errors, and gives the variance left at each place: Cholesky's factor, column by
/// column, the place that strays most against its noise first.
fn split(strays: &mut [Vec<f64>], noise: &[f64], most: usize, known: &mut [Known]) -> Vec<f64> {
    let square = |s: &[f64]| s.iter().map(|v| v * v).sum::<f64>() / (DRAWS - 1) as f64;
    for _ in 0..most {
        let against = |i: usize, strays: &[Vec<f64>]| square(&strays[i]) / (noise[i] * noise[i]);
        let Some((first, largest)) =
            (0..strays.len()).map(|i| (i, against(i, strays))).max_by(|a, b| a.1.total_cmp(&b.1))
        else {
            break;
        };
        if largest < REST {
            break;
        }
        // A direction among the draws; what lies along it is one shared error.
        let length = square(&strays[first]).sqrt();
        let along: Vec<f64> = strays[first].iter().map(|s| s / length).collect();
        for (place, known) in strays.iter_mut().zip(known.iter_mut()) {
            let moves = place.iter().zip(&along).map(|(s, a)| s * a).sum::<f64>() / (DRAWS - 1) as f64;
            place.iter_mut().zip(&along).for_each(|(s, a)| *s -= moves * a);
            known.shared.push(moves);
        }
    }
    strays.iter().map(|s| square(s)).collect()
}
