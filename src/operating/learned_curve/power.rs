//! Power at any speed from one curve at full speed. Shaft power falls as the cube of speed; what motor and drive lose does not.
//!
//! Two laws are tried. [`Kind::Chain`]: the curve is shaft power, efficiency drifts with speed as in books, and the losses of motor
//! and drive at part load come from [`motor::loss_on_drive`], as when a maker's table is read. [`Kind::Own`]: the curve is drive
//! input, with a constant part learned from the rows that falls with speed as a loss without load does; it needs no name plate.

use super::fit::{Equation, Span, solve_robust};
use super::{KNOTS, LearnedCurve, MotorFacts, Seen};
use crate::hydraulics::curve::reduced_speed_efficiency;
use crate::hydraulics::motor::{self, MotorOnDrive};
use crate::hydraulics::pchip::Pchip;
use crate::plant::PowerIs;

/// How power comes from the curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Chain,
    Own,
    /// As [`Self::Chain`], with an efficiency that stays: never chosen, since a plant file cannot say so, but as good a guess at speeds
    /// not seen.
    Steady,
    /// As [`Self::Chain`], with less loss without load, and with more.
    Less,
    More,
}

impl Kind {
    /// The laws to try, by where power is read. Between drive and motor, and at the shaft, a plant file knows no table with a constant part.
    pub fn of(trended_is: PowerIs) -> &'static [Self] {
        match trended_is {
            PowerIs::DriveInput => &[Self::Chain, Self::Own],
            PowerIs::DriveOutput | PowerIs::Shaft => &[Self::Chain],
        }
    }

    /// Laws that tell how far power at other speeds is in doubt. Not [`Self::Own`]: where speed follows flow, what is left of the meter's
    /// noise decides its constant.
    pub fn guesses(trended_is: PowerIs) -> &'static [Self] {
        match trended_is {
            PowerIs::DriveInput | PowerIs::DriveOutput => &[Self::Chain, Self::Steady, Self::Less, Self::More],
            PowerIs::Shaft => &[Self::Chain, Self::Steady],
        }
    }

    /// Loss without load over the books' [-].
    fn idle_scale(self) -> f64 {
        match self {
            Self::Less => 1.0 / IDLE_DOUBT,
            Self::More => IDLE_DOUBT,
            Self::Chain | Self::Own | Self::Steady => 1.0,
        }
    }

    /// The books' law holds at speeds not seen too, so the other must be better by this factor.
    pub fn handicap(self) -> f64 {
        if self == Self::Own { 1.15 } else { 1.0 }
    }
}

/// Motor output assumed where none is declared, over the largest shaft power: pumps come with the next larger motor (common practice,
/// no source).
const OVERSIZE: f64 = 1.1;
/// Full-load efficiencies where none is declared or none follows from the size [-]: motors and drives of some kilowatts (common
/// practice, no source).
const MOTOR_EFFICIENCY: f64 = 0.88;
const DRIVE_EFFICIENCY: f64 = 0.965;
/// Share of motor and drive loss between shaft and drive output: the drive's own is a quarter of both (0.90 behind 0.97).
const MOTOR_SHARE: f64 = 0.75;
/// Factor by which the loss without load may differ from the books', one standard deviation [-]: two handbooks differ by half at a quarter
/// of load, and each drive shapes flux and switching in its own way.
const IDLE_DOUBT: f64 = 1.5;
/// A pump less efficient than this is near no flow, where efficiency says nothing of its drift with speed [-].
const EFFICIENCY_MIN: f64 = 0.05;
/// The same at the lower speed [-].
const REDUCED_MIN: f64 = 0.02;
/// The constant loss over the largest power at full speed, before anything is known, and its standard deviation [-]: full-load losses
/// are 12 % (0.90 times 0.97), a third of them without load.
const CONSTANT: f64 = 0.04;
/// Weight of that among the rows: as one row whose noise is a percent.
const CONSTANT_WEIGHT: f64 = 0.01 / CONSTANT;
/// First guess of shaft over electric power [-].
const FIRST_GUESS: f64 = 0.85;
/// Newton's steps: the losses bend little, so a few do.
const STEPS: usize = 6;
/// Relative step of a slope.
const NUDGE: f64 = 1e-4;

/// Motor and drive.
#[derive(Debug, Clone)]
struct Chain {
    motor: MotorOnDrive,
    share: f64,
    idle_scale: f64,
}

impl Chain {
    fn new(facts: &MotorFacts, top_shaft_kw: f64, kind: Kind) -> Self {
        let rated_kw = facts.rated_kw.unwrap_or(OVERSIZE * top_shaft_kw);
        let motor = facts.motor_efficiency.or_else(|| motor::ie3_efficiency(rated_kw)).unwrap_or(MOTOR_EFFICIENCY);
        let share = match facts.trended_is {
            PowerIs::DriveInput => 1.0,
            PowerIs::DriveOutput => MOTOR_SHARE,
            PowerIs::Shaft => 0.0,
        };
        Self {
            motor: MotorOnDrive::new(rated_kw, motor, facts.drive_efficiency.unwrap_or(DRIVE_EFFICIENCY)),
            share,
            idle_scale: kind.idle_scale(),
        }
    }

    fn shown_kw(&self, shaft_kw: f64, speed: f64) -> f64 {
        let loss = self.motor.loss(shaft_kw, speed);
        shaft_kw + self.share * (self.idle_scale * loss.constant + loss.load)
    }

    /// Loss without load at a speed over that at full speed [-].
    fn idle(&self, speed: f64) -> f64 {
        let at = |s| self.motor.loss(0.0, s).constant;
        at(speed) / at(1.0)
    }
}

/// Shaft power over the cube of speed: grows as efficiency falls with speed.
fn drift(q: f64, head: f64, shaft_kw: f64, speed: f64) -> f64 {
    let at_full = q * head / 3600.0 / shaft_kw;
    let reduced = reduced_speed_efficiency(at_full, speed);
    if !(at_full >= EFFICIENCY_MIN && reduced > REDUCED_MIN && at_full < 1.0) { 1.0 } else { at_full / reduced }
}

/// Power as a function of flow and speed.
#[derive(Debug, Clone)]
pub(super) struct Law {
    kind: Kind,
    /// Shaft power at full speed, or drive input less its constant part [kW].
    curve: Pchip,
    constant_kw: f64,
    head: Option<Pchip>,
    chain: Chain,
}

impl Law {
    /// Fits the rows that have power; `None` where they do not fix a curve.
    pub fn fit(
        rows: &[Seen],
        span: &Span,
        degree: usize,
        kind: Kind,
        head: Option<&Pchip>,
        facts: &MotorFacts,
    ) -> Option<Self> {
        let rows: Vec<&Seen> = rows.iter().filter(|r| r.power.is_finite()).collect();
        let head = head.filter(|_| kind != Kind::Steady);
        let knots = span.knots(KNOTS);
        let (values, constant_kw) = match kind {
            Kind::Own => own(&rows, span, degree, &knots, facts)?,
            _ => (chained(&rows, span, degree, &knots, head, facts, kind)?, 0.0),
        };
        let top = values.iter().copied().fold(0.0, f64::max);
        let curve = Pchip::new(&knots, &values).ok().filter(|_| values.iter().all(|v| *v > 0.0))?;
        Some(Self { kind, curve, constant_kw, head: head.cloned(), chain: Chain::new(facts, top, kind) })
    }

    /// The law of a curve that was learned.
    pub fn from_table(learned: &LearnedCurve, head: Option<&Pchip>) -> Option<Self> {
        let kind = if learned.power_is == PowerIs::Shaft { Kind::Chain } else { Kind::Own };
        let values: Vec<f64> = learned.power_kw.iter().map(|p| p - learned.constant_kw).collect();
        let top = values.iter().copied().fold(0.0, f64::max);
        let curve = Pchip::new(&learned.flow_m3h, &values).ok()?;
        let chain = Chain::new(&learned.motor, top, kind);
        Some(Self { kind, curve, constant_kw: learned.constant_kw, head: head.cloned(), chain })
    }

    pub fn power_is(&self) -> PowerIs {
        if self.kind == Kind::Own { PowerIs::DriveInput } else { PowerIs::Shaft }
    }

    pub fn constant_kw(&self) -> f64 {
        self.constant_kw
    }

    /// The knots' power at full speed, as [`Self::power_is`] says [kW].
    pub fn full_speed_kw(&self) -> Vec<f64> {
        self.curve.values().iter().map(|p| p + self.constant_kw).collect()
    }

    /// What the trend shows [kW] at flow `q` brought to full speed; beyond the knots that of the nearest.
    pub fn shown_kw(&self, q: f64, speed: f64, density: f64) -> f64 {
        let p = self.curve.value_clamped(q);
        let cube = density * speed.powi(3) * p;
        match self.kind {
            Kind::Own => cube + self.constant_kw * self.chain.idle(speed),
            _ => self.chain.shown_kw(cube * drifted(self.head.as_ref(), q, p, speed), speed),
        }
    }

    /// What a row's power misses the law by [-].
    pub fn miss(&self, r: &Seen) -> f64 {
        r.power / self.shown_kw(r.q, r.speed, r.density) - 1.0
    }
}

fn drifted(head: Option<&Pchip>, q: f64, shaft_kw: f64, speed: f64) -> f64 {
    head.map_or(1.0, |h| drift(q, h.value_clamped(q), shaft_kw, speed))
}

/// Drive input over the cube of speed at the knots, and the constant part.
fn own(rows: &[&Seen], span: &Span, degree: usize, knots: &[f64], facts: &MotorFacts) -> Option<(Vec<f64>, f64)> {
    let top = rows.iter().map(|r| r.power / (r.density * r.speed.powi(3))).fold(0.0, f64::max);
    let chain = Chain::new(facts, top, Kind::Own);
    let equation = |r: &&Seen| {
        let cube = r.density * r.speed.powi(3);
        let mut terms: Vec<f64> = span.basis(r.q, degree).iter().map(|b| b * cube).collect();
        terms.push(chain.idle(r.speed));
        Equation { terms, target: r.power, weight: r.weight / r.power.powi(2), prior: false }
    };
    let mut equations: Vec<Equation> = rows.iter().map(equation).collect();
    let full = fit_top(&equations, knots, span, degree)?;
    let mut prior = vec![0.0; degree + 1];
    prior.push(1.0);
    let weight = (CONSTANT_WEIGHT / full).powi(2);
    equations.push(Equation { terms: prior, target: CONSTANT * full, weight, prior: true });
    let mut solution = solve_robust(&equations)?;
    let constant = solution.pop()?.max(0.0);
    if constant <= 0.0 {
        // No loss is negative: without one, then.
        equations.pop();
        for e in &mut equations {
            e.terms.pop();
        }
        solution = solve_robust(&equations)?;
    }
    Some((read(&solution, knots, span), constant))
}

/// Largest power at full speed by the cube alone [kW]: the scale of the constant part.
fn fit_top(equations: &[Equation], knots: &[f64], span: &Span, degree: usize) -> Option<f64> {
    let cubes: Vec<Equation> =
        equations.iter().map(|e| Equation { terms: e.terms[..=degree].to_vec(), ..e.clone() }).collect();
    Some(read(&solve_robust(&cubes)?, knots, span).into_iter().fold(0.0, f64::max)).filter(|t| *t > 0.0)
}

fn read(solution: &[f64], knots: &[f64], span: &Span) -> Vec<f64> {
    let at = |q: f64| span.basis(q, solution.len() - 1).iter().zip(solution).map(|(b, c)| b * c).sum();
    knots.iter().map(|q| at(*q)).collect()
}

/// Shaft power at full speed at the knots, such that losses and drift make it the power shown: Newton's steps.
fn chained(
    rows: &[&Seen],
    span: &Span,
    degree: usize,
    knots: &[f64],
    head: Option<&Pchip>,
    facts: &MotorFacts,
    kind: Kind,
) -> Option<Vec<f64>> {
    let first: Vec<Equation> = rows
        .iter()
        .map(|r| {
            let p = FIRST_GUESS * r.power / (r.density * r.speed.powi(3));
            Equation { terms: span.basis(r.q, degree), target: p, weight: r.weight / (p * p), prior: false }
        })
        .collect();
    let mut solution = solve_robust(&first)?;
    for _ in 0..STEPS {
        let top = read(&solution, knots, span).into_iter().fold(0.0, f64::max);
        if !(top > 0.0) {
            return None;
        }
        let chain = Chain::new(facts, top, kind);
        let equations: Vec<Equation> =
            rows.iter().map(|r| tangent(r, span, degree, &solution, &chain, head, top)).collect();
        solution = solve_robust(&equations)?;
    }
    Some(read(&solution, knots, span))
}

/// Least shaft power at which a tangent is taken, over the largest [-]: below it the losses are all there is.
const TANGENT_MIN: f64 = 0.02;

/// A row's equation, straightened at the shaft power found so far.
fn tangent(
    r: &Seen,
    span: &Span,
    degree: usize,
    solution: &[f64],
    chain: &Chain,
    head: Option<&Pchip>,
    top: f64,
) -> Equation {
    let basis = span.basis(r.q, degree);
    let p = basis.iter().zip(solution).map(|(b, c)| b * c).sum::<f64>().max(TANGENT_MIN * top);
    let shown = |p: f64| {
        let cube = r.density * r.speed.powi(3) * p;
        chain.shown_kw(cube * drifted(head, r.q, p, r.speed), r.speed)
    };
    let slope = (shown(p * (1.0 + NUDGE)) - shown(p)) / (NUDGE * p);
    Equation {
        target: r.power - shown(p) + slope * p,
        weight: r.weight / r.power.powi(2),
        terms: basis.iter().map(|b| b * slope).collect(),
        prior: false,
    }
}
