//! Models held side by side until the record tells.
//!
//! Comes in: a pump, its witnesses and their cells. Goes out: [`Mixture`]: a learned model for each reading of the plant that is still possible
//! (does the speed signal hide the motor's slip; where is power taken), with its probability. A row's posterior is theirs, weighted. They are
//! not averaged into one model with a wide prior: half a slip is what no plant has.

use super::field::Field;
use super::learn::{self, Learned, Weighted};
use super::model::{PumpModel, Setting};
use super::noise::Noise;
use super::posterior::{Estimator, Said, Silent};
use super::priors::{self, LossKind, Sizes};
use super::witness::{Row, Witnesses};
use crate::plant::{PowerIs, Pump};
use rayon::prelude::*;

/// One reading of the plant.
#[derive(Debug, Clone)]
pub struct Hypothesis {
    /// Probability given the record [-].
    pub weight: f64,
    /// The speed signal is the frequency's: slip hides.
    pub frequency_shown: bool,
    /// How motor and drive lose at part load.
    pub loss: LossKind,
    pub model: PumpModel,
    pub learned: Learned,
    field: Field,
}

/// All that are still possible, the likeliest first.
#[derive(Debug, Clone)]
pub struct Mixture {
    pub all: Vec<Hypothesis>,
    /// How many cells of rows the record gave to tell them apart.
    pub cells: usize,
}

/// Where power is taken when the plant file does not say: a drive's or a meter's own word is at its input as a rule (common practice, no
/// source).
const UNDECLARED: [(PowerIs, f64); 3] =
    [(PowerIs::DriveInput, 0.85), (PowerIs::DriveOutput, 0.11), (PowerIs::Shaft, 0.04)];
/// How often losses are of a kind (common practice, no source): physics as a rule; handbooks' tables hold older motors; data sheets and simple
/// meters work with one efficiency.
const LOSSES: [(LossKind, f64); 3] =
    [(LossKind::Drive, 0.70), (LossKind::Handbook, 0.23), (LossKind::Proportional, 0.07)];

struct Reading {
    frequency_shown: bool,
    loss: LossKind,
}

/// Less probable than this is not followed [-].
const FOLLOWED: f64 = 0.03;
/// However clear the record, what is wrong with the model itself may speak for the wrong one: the log of odds is taken at two fifths.
const TEMPER: f64 = 0.4;
/// Models that can account for a row must be at least this probable together [-]; else the row lies outside the table.
const HEARD: f64 = 0.15;
/// Above this one speaks for all [-].
const ALONE: f64 = 0.97;

impl Mixture {
    /// Learns each, and weighs them; `None` where the pump has no table.
    #[must_use]
    pub fn learn(
        pump: &Pump,
        w: &Witnesses,
        rows: &[Weighted],
        sizes: &Sizes,
        noise: &Noise,
        base: Setting,
    ) -> Option<Self> {
        let places: Vec<(PowerIs, f64)> = match w.power_is {
            Some(p) => vec![(p, 1.0)],
            None => UNDECLARED.to_vec(),
        };
        let model = |power_is: PowerIs, frequency_shown: bool, loss: LossKind| {
            let prior = priors::prior(w, sizes, frequency_shown, loss);
            PumpModel::new(pump, prior, Setting { power_is, ..base })
        };
        let first = model(places[0].0, true, LossKind::Drive)?;
        let cells = learn::gather(&first, rows, noise);
        let slips: &[(bool, f64)] = if first.slips() {
            &[(true, w.shows.frequency), (false, 1.0 - w.shows.frequency)]
        } else {
            &[(false, 1.0)]
        };
        let mut possible: Vec<(PowerIs, Reading, f64)> = Vec::new();
        for (place, p) in places {
            // Power at the shaft has no chain behind it.
            let chained = first.has_chain() && place != PowerIs::Shaft;
            for &(frequency_shown, q) in slips {
                for (loss, r) in LOSSES.into_iter().filter(|l| chained || l.0 == LossKind::Drive) {
                    let prior = p * q * if chained { r } else { 1.0 };
                    possible.push((place, Reading { frequency_shown, loss }, prior.max(1e-9).ln()));
                }
            }
        }
        let try_one = |(place, reading, prior): (PowerIs, Reading, f64)| {
            let model = model(place, reading.frequency_shown, reading.loss)?;
            let learned = learn::learn(&model, &cells, noise);
            Some((TEMPER * learned.evidence + prior, reading, model, learned))
        };
        let mut tried = possible.into_par_iter().map(try_one).collect::<Option<Vec<_>>>()?;
        let top = tried.iter().map(|t| t.0).fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = tried.iter().map(|t| (t.0 - top).exp()).sum();
        tried.sort_by(|a, b| b.0.total_cmp(&a.0));
        tried.retain(|t| (t.0 - top).exp() / total >= FOLLOWED);
        let kept: f64 = tried.iter().map(|t| (t.0 - top).exp()).sum();
        let all = tried.into_par_iter().map(|(log, reading, model, learned)| {
            let field = Field::new(&model, &learned);
            let Reading { frequency_shown, loss } = reading;
            Hypothesis { weight: (log - top).exp() / kept, frequency_shown, loss, model, learned, field }
        });
        Some(Self { all: all.collect(), cells: cells.len() })
    }

    /// The likeliest.
    #[must_use]
    pub fn likeliest(&self) -> Option<&Hypothesis> {
        self.all.first()
    }

    /// Whether the pump's table has power.
    #[must_use]
    pub fn has_power(&self) -> bool {
        self.all.first().is_some_and(|h| h.model.has_power())
    }

    /// Rated motor output [kW]; zero where it is not known.
    #[must_use]
    pub fn rated_kw(&self) -> f64 {
        self.all.first().map_or(0.0, |h| h.model.rated_kw())
    }

    /// The posterior of one row over all that are possible.
    ///
    /// # Errors
    /// Why the likeliest has nothing to say, where none has.
    pub fn say(&self, row: &Row, noise: Noise) -> Result<Said, Silent> {
        let first = self.all.first().ok_or(Silent::NothingMeasured)?;
        let own = first.estimator(noise).say(row);
        if first.weight >= ALONE || self.all.len() == 1 {
            return own;
        }
        let mut said: Parts = [(0.0, None); MOST];
        said[0] = (first.weight, own.ok());
        let near = said[0].1.filter(|s| s.peaks.is_none()).map(|s| s.flow);
        for (k, h) in self.all.iter().enumerate().skip(1).take(MOST - 1) {
            said[k] = (h.weight, h.estimator(noise).say_near(row, near).ok());
        }
        let heard: f64 = said.iter().filter(|s| s.1.is_some()).map(|s| s.0).sum();
        if heard < HEARD {
            return Err(own.err().unwrap_or(Silent::MeasurementsDisagree));
        }
        Ok(merge(&said, heard))
    }

    /// Likelihood over flow of each measurement by itself (its place in `model::witness`) and of all together (`None`), at `points` flows from none
    /// to the table's end: those of all models, weighted.
    #[must_use]
    pub fn evidence(&self, row: &Row, noise: Noise, points: usize) -> Vec<(Option<usize>, Vec<f64>)> {
        let mut sum: Vec<(Option<usize>, Vec<f64>)> = Vec::new();
        for h in &self.all {
            for (k, (which, curve)) in h.estimator(noise).evidence(row, points).into_iter().enumerate() {
                // Each with the area of one, so that models are weighed and not their widths.
                let area: f64 = curve.iter().sum();
                match sum.get_mut(k) {
                    Some(at) => at.1.iter_mut().zip(&curve).for_each(|(a, c)| *a += h.weight * c / area),
                    None => sum.push((which, curve.iter().map(|c| h.weight * c / area).collect())),
                }
            }
        }
        for (_, curve) in &mut sum {
            let top = curve.iter().copied().fold(0.0, f64::max);
            curve.iter_mut().for_each(|c| *c /= top);
        }
        sum
    }
}

impl Hypothesis {
    /// Ready for rows.
    #[must_use]
    pub fn estimator(&self, noise: Noise) -> Estimator<'_> {
        Estimator { field: &self.field, noise, has_power: self.model.has_power() }
    }
}

/// As many as there can be: three places of power, slip hidden or not, losses of three kinds.
const MOST: usize = 18;
/// Models whose points differ by less than this, of their own variance, are one [-].
const AGREED: f64 = 0.15;
/// Width of a normal 95 % interval, in standard deviations.
const Z95_TWICE: f64 = 3.92;
type Parts = [(f64, Option<Said>); MOST];

fn merge(said: &Parts, heard: f64) -> Said {
    let each = || said.iter().filter_map(|(w, s)| s.as_ref().map(|s| (w / heard, s)));
    let mean = |f: fn(&Said) -> f64| each().map(|(w, s)| w * f(s)).sum::<f64>();
    let spread = |f: fn(&Said) -> f64, about: f64| each().map(|(w, s)| w * (f(s) - about).powi(2)).sum::<f64>();
    let (average, head) = (mean(|s| s.flow), mean(|s| s.head));
    let apart = spread(|s| s.flow, average);
    let own = mean(|s| (s.high - s.low).powi(2)) / Z95_TWICE.powi(2);
    // Models that agree are one normal; where they do not, the point is their middle and not their mean: an unlikely model far off must widen the
    // interval and not drag the point.
    let (flow, low, high) = if apart < AGREED * own {
        let more = (1.0 + apart / own).sqrt();
        (average, average - more * mean(|s| s.flow - s.low), average + more * mean(|s| s.high - s.flow))
    } else {
        (end(&|| each(), 0.5), end(&|| each(), 0.025), end(&|| each(), 0.975))
    };
    let (by_flow, by_head) = (spread(|s| s.flow, flow), spread(|s| s.head, head));
    let common = mean(|s| s.sd_common * s.sd_common) + by_flow;
    let head_common = mean(|s| s.head_sd_common * s.head_sd_common) + by_head;
    let one = each().next().map_or((0, None), |(_, s)| (s.heard, s.peaks));
    Said {
        flow,
        low,
        high,
        sd_common: common.sqrt(),
        head,
        head_sd: mean(|s| s.head_sd),
        head_sd_common: head_common.sqrt(),
        power: mean(|s| s.power),
        speed: mean(|s| s.speed),
        heard: one.0,
        peaks: one.1,
    }
}

/// The flow below which `share` of the mixture lies, each part taken as two half-normals.
fn end<'a, I: Iterator<Item = (f64, &'a Said)>>(each: &impl Fn() -> I, share: f64) -> f64 {
    let below = |x: f64| -> f64 {
        each()
            .map(|(w, s)| {
                let half = if x < s.flow { s.flow - s.low } else { s.high - s.flow };
                w * normal_below((x - s.flow) / half.max(1e-9) * 1.96)
            })
            .sum()
    };
    let (mut low, mut high) = each().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), (_, s)| {
        let (left, right) = (s.flow - s.low, s.high - s.flow);
        (a.min(s.flow - 2.0 * left), b.max(s.flow + 2.0 * right))
    });
    // The ends of an interval need no more than a thousandth of its width.
    for _ in 0..11 {
        let middle = 0.5 * (low + high);
        if below(middle) < share { low = middle } else { high = middle }
    }
    (0.5 * (low + high)).max(0.0)
}

/// The standard normal distribution, to 1e-3: Zelen and Severo's polynomial (Abramowitz and Stegun, *Handbook of Mathematical Functions*,
/// 26.2.18, from memory).
fn normal_below(z: f64) -> f64 {
    let x = z.abs();
    let p = 1.0 + x * (0.196_854 + x * (0.115_194 + x * (0.000_344 + x * 0.019_527)));
    let above = 0.5 / (p * p * p * p);
    if z < 0.0 { above } else { 1.0 - above }
}
