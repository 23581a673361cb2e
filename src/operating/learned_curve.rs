//! The curves of a pump that has no table, learned from the stretch in which its flow was metered.
//!
//! Comes in: steady rows with speed, flow and head or power, from a meter that is there or from a clamp-on of two weeks.
//! Goes out: [`LearnedCurve`]: head and power at full speed over the flows that were seen, with errors measured on days held
//! out, and a text to paste into the plant file; or [`NotLearned`] in plain words. Decisions a reader would question: the
//! curve tells the meter's and the sensors' truth, so an error of theirs that never changes is in it and in none of the stated errors; a
//! share of power that does not fall with speed is either the book's motor and drive losses or a constant of its own,
//! whichever does better on days held out. Nothing is said outside the reduced flows seen. Start at [`learn_curve`].

mod clean;
mod fit;
mod paste;
mod power;

use crate::hydraulics::pchip::Pchip;
use crate::plant::PowerIs;
use fit::{Polynomial, Span};
use power::Law;

/// One metered steady row.
#[derive(Debug, Clone, Copy)]
pub struct Metered {
    /// Shaft speed over rated [-].
    pub speed: f64,
    /// [m3/h]
    pub flow_m3h: f64,
    /// [kPa]; NaN if none.
    pub head_kpa: f64,
    /// [kW]; NaN if none.
    pub power_kw: f64,
    /// Density of the fluid over that of the design supply temperature [-].
    pub density: f64,
    /// Place of the row on the clock; rows of one day lie in one run of `rows_a_day`.
    pub time_index: usize,
}

/// What is declared of motor and drive, and where power is read.
#[derive(Debug, Clone, Copy)]
pub struct MotorFacts {
    /// Rated shaft power [kW].
    pub rated_kw: Option<f64>,
    /// At full load [-].
    pub motor_efficiency: Option<f64>,
    /// At full load [-].
    pub drive_efficiency: Option<f64>,
    /// What the trended power is.
    pub trended_is: PowerIs,
}

impl Default for MotorFacts {
    fn default() -> Self {
        Self { rated_kw: None, motor_efficiency: None, drive_efficiency: None, trended_is: PowerIs::DriveInput }
    }
}

/// A pump's curves at full speed, learned from a metered stretch.
#[derive(Debug, Clone)]
pub struct LearnedCurve {
    /// Knots at full speed, ascending, within what was seen [m3/h].
    pub flow_m3h: Vec<f64>,
    /// [kPa]; empty where head was not trended or did not follow flow.
    pub head_kpa: Vec<f64>,
    /// At full speed, as `power_is` says [kW]; empty where power was not trended or did not follow flow.
    pub power_kw: Vec<f64>,
    /// Shaft: motor and drive losses of the books lie between this table and the trend. Drive input: only `constant_kw` does.
    pub power_is: PowerIs,
    /// The part of `power_kw` that falls with speed as a motor's and drive's loss without load does, not as its cube [kW]; zero
    /// with shaft power.
    pub constant_kw: f64,
    /// Relative error of head on days held out, without the rows' own noise [-]; NaN without head.
    pub head_error: f64,
    /// The same of the trended power [-], with what speeds not seen together with a flow leave in doubt; NaN without power.
    pub power_error: f64,
    /// That doubt alone [-]: small where speed changed at like flows, as when a setpoint was changed while the meter was on.
    pub power_doubt: f64,
    /// Error of a row's flow on days held out, from head and power as far as they are there, over the largest flow [-].
    pub flow_error: f64,
    /// Scatter of single rows about the head curve, the meter's noise included [-]; NaN without head.
    pub head_noise: f64,
    /// The same of power [-]; NaN without power.
    pub power_noise: f64,
    /// Rows used.
    pub rows: usize,
    /// Days they lie on.
    pub days: usize,
    /// Rows left out since they lie far from all others.
    pub outliers: usize,
    /// Lowest and highest speed seen [-].
    pub speed_from: f64,
    pub speed_to: f64,
    /// The motor that the losses were taken from; the rest of it is assumed.
    pub motor: MotorFacts,
}

/// Why nothing was learned, and what to trend.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NotLearned {
    /// No row has flow.
    #[error("no steady row has a metered flow: trend a flow meter of this pump, or clamp one on for two weeks")]
    NothingWithFlow,
    /// Flow without speed.
    #[error("no metered row has the pump's speed: trend the drive's speed beside the flow meter")]
    NoSpeed,
    /// Flow and speed alone.
    #[error(
        "no metered row has the pump's head or power: trend the drive's power, the pressure across the pump, or better both, \
         while the meter is there"
    )]
    NeitherHeadNorPower,
    /// Too short.
    #[error("{rows} steady metered rows, and {needed} are needed: leave the meter on for longer, two weeks as a rule")]
    TooFewRows { rows: usize, needed: usize },
    /// The pump ran at one place of its curve.
    #[error(
        "the metered flows are one place of the curve: brought to full speed they run from {from_m3h:.1} to {to_m3h:.1} m3/h, \
         and the lowest must be a quarter below the highest, without wide gaps: meter mornings and nights as well as the busiest hours, \
         or throttle by hand for some hours"
    )]
    TooNarrow { from_m3h: f64, to_m3h: f64 },
    /// Neither head nor power follows flow and speed as a pump's do.
    #[error(
        "neither head nor power follows the metered flow and the speed as a pump's do (they scatter by {:.0} %): check that meter, \
         pressure and power belong to this pump alone, and their units",
        100.0 * error
    )]
    Scattered { error: f64 },
    /// More hydraulic than electric power.
    #[error(
        "metered flow and head make {:.0} % of the power put in, which no pump does: check the units of flow, head and power",
        100.0 * efficiency
    )]
    Impossible { efficiency: f64 },
}

/// Knots of a learned curve: enough for a droop, a knee and a steep end.
const KNOTS: usize = 7;
/// Rows needed: five times the dozen bins of flow that must be told apart.
const ROWS_MIN: usize = 60;
/// Days from which whole days are held out; below them thirds of the record.
const DAYS_MIN: usize = 3;
/// Parts held out one after the other, at most: more move no error.
const PARTS: usize = 14;
/// Degrees tried: a parabola is the least a pump is, a quartic follows any droop and knee within its range.
const DEGREES: [usize; 3] = [2, 3, 4];
/// Errors [-] above which head or power is no function of flow and speed: three times the tolerance of tested pumps
/// (ISO 9906:2012 grade 2B, 5 % of head and 8 % of power, from memory, taken as two standard deviations).
const HEAD_ERROR_MAX: f64 = 0.08;
const POWER_ERROR_MAX: f64 = 0.12;
/// A law whose misfit is within this factor of the best explains the rows as well: the factor varies by as much from one fortnight to the
/// next.
const AS_GOOD: f64 = 1.3;
/// Speeds at which laws are compared, over the one seen with a flow: what a new setting changes them by.
const OTHER_SPEEDS: [f64; 2] = [0.85, 1.15];
/// No error is stated below this [-]: the steps of a transmitter and of a control system's trends, common practice.
const LEAST_ERROR: f64 = 0.0005;
/// Rows on which flow is reconstructed to state its error: more move it no more.
const FLOW_ROWS: usize = 1500;

/// A row, or the mean of some that follow each other.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    speed: f64,
    /// Flow at full speed [m3/h].
    q: f64,
    density: f64,
    head: f64,
    power: f64,
    /// Rows in it.
    n: f64,
    day: usize,
    /// Weight in a fit: rows of like flow share a model error that does not average out.
    weight: f64,
}

/// Learns the curves of a pump from its metered steady rows.
///
/// `rows_a_day`: rows of the clock in a day, so that whole days can be held out.
///
/// # Errors
/// [`NotLearned`] where the rows cannot carry a curve.
pub fn learn_curve(rows: &[Metered], rows_a_day: usize, motor: &MotorFacts) -> Result<LearnedCurve, NotLearned> {
    let usable = clean::usable(rows, rows_a_day)?;
    let kept = clean::without_outliers(&usable, motor);
    let span = clean::span(&kept)?;
    let all: Vec<Seen> = kept.iter().filter(|r| span.holds(r.q)).copied().collect();
    if all.len() < ROWS_MIN {
        return Err(NotLearned::TooFewRows { rows: all.len(), needed: ROWS_MIN });
    }
    let trial = Trial::new(&all, span, motor)?;
    let best = trial.choose()?;
    let curve = trial.fitted(&best, trial.parts);
    if let Some(efficiency) = curve.efficiency().filter(|e| *e > 1.0) {
        return Err(NotLearned::Impossible { efficiency });
    }
    let flow_error = trial.flow_error(&best);
    Ok(LearnedCurve {
        flow_m3h: span.knots(KNOTS),
        constant_kw: curve.law.as_ref().map_or(0.0, Law::constant_kw),
        power_is: curve.law.as_ref().map_or(PowerIs::Shaft, Law::power_is),
        power_kw: curve.law.as_ref().map_or_else(Vec::new, Law::full_speed_kw),
        head_kpa: curve.head.map_or_else(Vec::new, |h| h.values().to_vec()),
        head_error: best.head.map_or(f64::NAN, |c| c.error),
        head_noise: best.head.map_or(f64::NAN, |c| c.noise),
        power_error: best.power.map_or(f64::NAN, |c| c.error),
        power_doubt: best.power.map_or(f64::NAN, |c| c.doubt),
        power_noise: best.power.map_or(f64::NAN, |c| c.noise),
        flow_error,
        rows: all.len(),
        days: clean::days(&all),
        outliers: usable.len() - kept.len(),
        speed_from: all.iter().map(|r| r.speed).fold(f64::INFINITY, f64::min),
        speed_to: all.iter().map(|r| r.speed).fold(0.0, f64::max),
        motor: *motor,
    })
}

/// A form of curve.
#[derive(Debug, Clone, Copy)]
struct Choice {
    degree: usize,
    /// Of power; head has one.
    kind: power::Kind,
}

/// A form of curve, and how it did on days held out [-].
#[derive(Debug, Clone, Copy)]
struct Judged {
    choice: Choice,
    /// The curve's own error, doubt included.
    error: f64,
    /// What days held out cannot tell of it.
    doubt: f64,
    /// The rows' scatter about it.
    noise: f64,
}

/// The forms that did best.
#[derive(Debug, Clone, Copy)]
struct Best {
    head: Option<Judged>,
    power: Option<Judged>,
}

/// Curves as they read: through the knots.
#[derive(Debug, Clone)]
struct Curves {
    head: Option<Pchip>,
    law: Option<Law>,
}

/// Rows to fit: as means that the meter's noise has no part in choosing.
struct Fitting {
    head: Vec<Seen>,
    power: Vec<Seen>,
}

impl Fitting {
    fn new(rows: &[Seen], span: &Span) -> Self {
        let with = |of: fn(&Seen) -> f64| -> Vec<Seen> { rows.iter().filter(|r| of(r).is_finite()).copied().collect() };
        Self {
            head: clean::means(&with(|r| r.head), span, |r| r.power),
            power: clean::means(&with(|r| r.power), span, |r| r.head),
        }
    }
}

/// The rows, and how they are parted to hold some out.
struct Trial<'a> {
    rows: &'a [Seen],
    part: Vec<usize>,
    parts: usize,
    span: Span,
    motor: &'a MotorFacts,
    degree_max: usize,
    /// The rows without each part, then all of them.
    without: Vec<Fitting>,
    /// Every second part, and the others: for choosing between curves, which single rows are too noisy for.
    halves: [Fitting; 2],
}

impl<'a> Trial<'a> {
    fn new(rows: &'a [Seen], span: Span, motor: &'a MotorFacts) -> Result<Self, NotLearned> {
        let degree_max = clean::degree(rows, &span)?;
        let (part, parts) = parted(rows);
        let fitting = |keep: &dyn Fn(usize) -> bool| {
            let kept: Vec<Seen> = rows.iter().zip(&part).filter(|(_, p)| keep(**p)).map(|(r, _)| *r).collect();
            Fitting::new(&kept, &span)
        };
        let without = (0..=parts).map(|p| fitting(&|q| q != p)).collect();
        let halves = [fitting(&|p| p % 2 == 0), fitting(&|p| p % 2 == 1)];
        Ok(Self { rows, part, parts, span, motor, degree_max, without, halves })
    }

    /// The degrees and law that do best from one half of the days to the other; a witness that follows no curve is left out.
    fn choose(&self) -> Result<Best, NotLearned> {
        let degrees = || DEGREES.into_iter().filter(|d| *d <= self.degree_max);
        let least = |a: &(f64, Choice), b: &(f64, Choice)| a.0.total_cmp(&b.0);
        let head = degrees()
            .filter_map(|degree| Some((self.head_misfit(degree)?, Choice { degree, kind: power::Kind::Chain })))
            .min_by(least)
            .and_then(|(_, choice)| self.head_judged(choice));
        let usable = head.filter(|h| h.error <= HEAD_ERROR_MAX);
        let power = power::Kind::of(self.motor.trended_is)
            .iter()
            .flat_map(|kind| degrees().map(move |degree| Choice { degree, kind: *kind }))
            .filter_map(|choice| Some((self.power_misfit(choice, usable)? * choice.kind.handicap(), choice)))
            .min_by(least)
            .and_then(|(misfit, choice)| {
                let judged = self.power_judged(choice, usable)?;
                let doubt = self.doubt(choice, misfit / choice.kind.handicap(), usable);
                Some(Judged { error: judged.error.hypot(doubt), doubt, ..judged })
            });
        let best = Best { head: usable, power: power.filter(|p| p.error <= POWER_ERROR_MAX) };
        let rough = head.iter().chain(&power).map(|c| c.error).fold(f64::INFINITY, f64::min);
        match (best.head, best.power) {
            (None, None) if rough.is_finite() => Err(NotLearned::Scattered { error: rough }),
            (None, None) => Err(NotLearned::NeitherHeadNorPower),
            _ => Ok(best),
        }
    }

    /// How far other laws of power that explain the rows as well lie from the chosen one at speeds not seen together with those flows,
    /// as one standard deviation [-]. Days held out cannot tell, since speed follows flow on all of them alike.
    fn doubt(&self, chosen: Choice, misfit: f64, head: Option<Judged>) -> f64 {
        let all = &self.without[self.parts];
        let Some(law) = self.law(all, chosen, head) else { return 0.0 };
        let mut most = 0.0_f64;
        for &kind in power::Kind::guesses(self.motor.trended_is).iter().filter(|k| **k != chosen.kind) {
            let other = Choice { kind, ..chosen };
            let as_good = self.power_misfit(other, head).is_some_and(|m| m <= AS_GOOD * misfit);
            let Some(guess) = self.law(all, other, head).filter(|_| as_good) else { continue };
            let (mut sum, mut n) = (0.0, 0.0);
            for mean in &all.power {
                for speed in OTHER_SPEEDS.map(|k| k * mean.speed) {
                    sum += mean.weight
                        * (guess.shown_kw(mean.q, speed, 1.0) / law.shown_kw(mean.q, speed, 1.0) - 1.0).powi(2);
                    n += mean.weight;
                }
            }
            most = most.max((sum / n).sqrt());
        }
        most
    }

    fn head(&self, from: &Fitting, choice: Choice) -> Option<Pchip> {
        head_curve(&from.head, &self.span, choice.degree)
    }

    fn law(&self, from: &Fitting, choice: Choice, head: Option<Judged>) -> Option<Law> {
        let head = head.and_then(|h| self.head(from, h.choice));
        Law::fit(&from.power, &self.span, choice.degree, choice.kind, head.as_ref(), self.motor)
    }

    /// The chosen curves, fitted without part `without`; with all rows where that is the number of parts.
    fn fitted(&self, best: &Best, without: usize) -> Curves {
        let from = &self.without[without];
        Curves {
            head: best.head.and_then(|h| self.head(from, h.choice)),
            law: best.power.and_then(|p| self.law(from, p.choice, best.head)),
        }
    }

    fn head_misfit(&self, degree: usize) -> Option<f64> {
        let choice = Choice { degree, kind: power::Kind::Chain };
        self.missed_across_halves(
            |f| &f.head,
            |from| {
                let curve = self.head(from, choice)?;
                Some(move |r: &Seen| head_miss(&curve, r))
            },
        )
    }

    fn power_misfit(&self, choice: Choice, head: Option<Judged>) -> Option<f64> {
        self.missed_across_halves(
            |f| &f.power,
            |from| {
                let law = self.law(from, choice, head)?;
                Some(move |r: &Seen| law.miss(r))
            },
        )
    }

    /// Root mean square of what the means of one half miss the curve of the other by [-].
    fn missed_across_halves<F: Fn(&Seen) -> f64>(
        &self,
        of: impl Fn(&Fitting) -> &[Seen],
        fit: impl Fn(&Fitting) -> Option<F>,
    ) -> Option<f64> {
        let (mut sum, mut total) = (0.0, 0.0);
        for (from, to) in [(0, 1), (1, 0)] {
            let miss = fit(&self.halves[from])?;
            for mean in of(&self.halves[to]) {
                sum += mean.weight * miss(mean).powi(2);
                total += mean.weight;
            }
        }
        Some((sum / total).sqrt()).filter(|m| m.is_finite())
    }

    fn head_judged(&self, choice: Choice) -> Option<Judged> {
        let misses = self.misses(|from| {
            let curve = self.head(from, choice)?;
            Some(move |r: &Seen| head_miss(&curve, r))
        });
        self.judged(choice, &misses)
    }

    fn power_judged(&self, choice: Choice, head: Option<Judged>) -> Option<Judged> {
        let misses = self.misses(|from| {
            let law = self.law(from, choice, head)?;
            Some(move |r: &Seen| law.miss(r))
        });
        self.judged(choice, &misses)
    }

    /// What each row misses the curve by that was fitted without its part [-]; NaN where there is no reading.
    fn misses<F: Fn(&Seen) -> f64>(&self, fit: impl Fn(&Fitting) -> Option<F>) -> Vec<f64> {
        let mut out = vec![f64::NAN; self.rows.len()];
        for p in 0..self.parts {
            let Some(miss) = fit(&self.without[p]) else { continue };
            for (i, row) in self.rows.iter().enumerate().filter(|(i, _)| self.part[*i] == p) {
                out[i] = miss(row);
            }
        }
        out
    }

    fn judged(&self, choice: Choice, misses: &[f64]) -> Option<Judged> {
        let seen: Vec<(&Seen, f64)> =
            self.rows.iter().zip(misses).filter(|(_, m)| m.is_finite()).map(|(r, m)| (r, *m)).collect();
        if seen.len() < ROWS_MIN {
            return None;
        }
        let (error, noise) = clean::parts_of_error(&seen, &self.span);
        // The fit itself cannot be better known than its rows' noise allows.
        let least = noise * ((choice.degree + 1) as f64 / seen.len() as f64).sqrt();
        Some(Judged { choice, error: error.max(least).max(LEAST_ERROR), doubt: 0.0, noise })
    }

    /// Root mean square of flow reconstructed against flow metered, over the largest flow, on parts held out.
    fn flow_error(&self, best: &Best) -> f64 {
        let stride = self.rows.len().div_ceil(FLOW_ROWS);
        let top = self.rows.iter().map(|r| r.q * r.speed).fold(0.0, f64::max);
        let (mut sum, mut n) = (0.0, 0.0);
        for p in 0..self.parts {
            let curves = self.fitted(best, p);
            for row in self.rows.iter().zip(&self.part).step_by(stride).filter(|r| *r.1 == p).map(|r| r.0) {
                let said = curves.flow(row, &Weights::of(best), &self.span);
                if said.is_finite() {
                    sum += ((said - row.q * row.speed) / top).powi(2);
                    n += 1.0;
                }
            }
        }
        (sum / n).sqrt()
    }
}

/// Days, or thirds of the record where there are too few: the part of each row, and their number.
fn parted(rows: &[Seen]) -> (Vec<usize>, usize) {
    let mut days: Vec<usize> = rows.iter().map(|r| r.day).collect();
    days.dedup();
    if days.len() < DAYS_MIN {
        return ((0..rows.len()).map(|i| i * DAYS_MIN / rows.len()).collect(), DAYS_MIN);
    }
    let parts = days.len().min(PARTS);
    let part = |day: usize| days.partition_point(|d| *d < day) * parts / days.len();
    (rows.iter().map(|r| part(r.day)).collect(), parts)
}

/// Head at full speed through the knots, falling but for a slight droop.
fn head_curve(rows: &[Seen], span: &Span, degree: usize) -> Option<Pchip> {
    let points: Vec<[f64; 3]> = rows
        .iter()
        .filter(|r| r.head.is_finite())
        .map(|r| [r.q, r.head / (r.density * r.speed.powi(2)), r.weight])
        .collect();
    let knots = span.knots(KNOTS);
    let fitted = Polynomial::robust(&points, span, degree)?;
    let values = fit::falling(&knots, &knots.iter().map(|q| fitted.at(*q)).collect::<Vec<_>>());
    Pchip::new(&knots, &values).ok().filter(|_| values.iter().all(|v| *v > 0.0))
}

/// What a row's head misses the curve by [-].
fn head_miss(curve: &Pchip, r: &Seen) -> f64 {
    r.head / (r.density * r.speed.powi(2) * curve.value_clamped(r.q)) - 1.0
}

/// Standard deviations of a row's head and power about the curves [-].
struct Weights {
    head: f64,
    power: f64,
}

impl Weights {
    fn of(best: &Best) -> Self {
        let sd = |c: Judged| c.error.hypot(c.noise);
        Self { head: best.head.map_or(f64::NAN, sd), power: best.power.map_or(f64::NAN, sd) }
    }
}

/// Flows tried before the best is refined.
const TRIES: usize = 120;
/// A row whose best flow is the end of the range, and which misses by more than this squared number of standard deviations,
/// lies outside.
const OUTSIDE: f64 = 9.0;

impl Curves {
    /// Flow [m3/h] that fits a row's head and power best; NaN where that lies outside what was seen.
    fn flow(&self, row: &Seen, sd: &Weights, span: &Span) -> f64 {
        let cost = |q: f64| {
            let head = self.head.as_ref().map_or(f64::NAN, |h| {
                (row.head / (row.density * row.speed.powi(2) * h.value_clamped(q)) - 1.0) / sd.head
            });
            let power = self
                .law
                .as_ref()
                .map_or(f64::NAN, |l| (row.power / l.shown_kw(q, row.speed, row.density) - 1.0) / sd.power);
            [head, power].iter().filter(|m| m.is_finite()).map(|m| m * m).sum::<f64>()
        };
        let head = self.head.is_some() && row.head.is_finite();
        if !head && (self.law.is_none() || !row.power.is_finite()) {
            return f64::NAN;
        }
        let step = (span.to - span.from) / TRIES as f64;
        let at = |i: usize| span.from + step * i as f64;
        let costs: Vec<f64> = (0..=TRIES).map(|i| cost(at(i))).collect();
        let best = (0..=TRIES).min_by(|a, b| costs[*a].total_cmp(&costs[*b])).unwrap_or(0);
        if best == 0 || best == TRIES {
            return if costs[best] > OUTSIDE { f64::NAN } else { at(best) * row.speed };
        }
        // The bottom of the parabola through the best and its neighbours.
        let (l, m, r) = (costs[best - 1], costs[best], costs[best + 1]);
        let bend = l - 2.0 * m + r;
        let shift = if bend > 0.0 { 0.5 * (l - r) / bend } else { 0.0 };
        (at(best) + step * shift.clamp(-1.0, 1.0)) * row.speed
    }

    /// Largest share of the power put in at full speed that flow and head make [-].
    fn efficiency(&self) -> Option<f64> {
        let (head, law) = (self.head.as_ref()?, self.law.as_ref()?);
        let shares = head.knots().iter().zip(head.values()).zip(law.full_speed_kw());
        shares.map(|((q, h), kw)| q * h / 3600.0 / kw).reduce(f64::max)
    }
}

impl LearnedCurve {
    /// Flow [m3/h] of a row from its head and power, as far as they are there; its own flow is not read. NaN where it lies outside what was
    /// seen.
    #[must_use]
    pub fn flow(&self, row: &Metered) -> f64 {
        let Some((curves, span)) = self.curves() else { return f64::NAN };
        let sd =
            Weights { head: self.head_error.hypot(self.head_noise), power: self.power_error.hypot(self.power_noise) };
        if !(row.speed > 0.0 && row.density > 0.0) {
            return f64::NAN;
        }
        let seen = Seen {
            speed: row.speed,
            q: f64::NAN,
            density: row.density,
            head: row.head_kpa,
            power: row.power_kw,
            n: 1.0,
            day: 0,
            weight: 1.0,
        };
        curves.flow(&seen, &sd, &span)
    }

    /// Power [kW] that the trend shows at a flow and a speed; NaN without a power curve. Beyond the flows seen, that of the nearest.
    #[must_use]
    pub fn shown_kw(&self, flow_m3h: f64, speed: f64, density: f64) -> f64 {
        let law = self.curves().and_then(|c| c.0.law);
        law.map_or(f64::NAN, |l| l.shown_kw(flow_m3h / speed, speed, density))
    }

    fn curves(&self) -> Option<(Curves, Span)> {
        let span = Span { from: *self.flow_m3h.first()?, to: *self.flow_m3h.last()? };
        let head = if self.head_kpa.is_empty() { None } else { Pchip::new(&self.flow_m3h, &self.head_kpa).ok() };
        let law = Law::from_table(self, head.as_ref());
        Some((Curves { head, law }, span))
    }
}
