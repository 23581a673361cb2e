//! A review of each plant, its proposal put to the truth.
//!
//! Comes in: plants. Goes out: an [`Outcome`] each. The decision to question: the truth is the same plant run twice, under the latest declared
//! setting and under the proposed one (in hours of frost today's stays); conditions ("once mended") are not mended in the truth.

use super::again::{Mode, Plant, Ran, Setting};
use super::allowed::{Allowed, allowed};
use super::least;
use crate::corpus::{Severity, Trended};
use offcurve::plant::{Control, ControlMode, Reset};
use offcurve::quantity::{Flow, Fraction, Pressure};
use offcurve::tuning::{Recommendation, Tuning};
use offcurve::{ingest, pipeline, plant};
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A proposal against the truth.
#[derive(Debug, Clone)]
pub struct Proposed {
    pub mode: Mode,
    /// Saving fraction: predicted with its interval, and true.
    pub said: [f64; 3],
    pub truth: f64,
    /// Energy of the record in truth [kWh].
    pub kwh: f64,
    /// Share of running hours with a coil short, before and after.
    pub short: [f64; 2],
    /// Share of running hours with less than the machines' declared flow, before and after.
    pub under: [f64; 2],
    /// Zero-flow head (or setpoint) proposed, the least that works in truth in the same mode through the same design head (NaN: none), and that
    /// design head [kPa].
    pub zero: f64,
    pub least_zero: f64,
    pub design: f64,
    pub conditional: usize,
    pub text: String,
}

#[derive(Debug, Clone)]
pub enum Answer {
    Refused(String),
    Proposed(Box<Proposed>),
}

#[derive(Debug, Clone)]
pub struct Outcome {
    pub generator: &'static str,
    pub seed: u64,
    pub severity: Option<Severity>,
    pub trended: Trended,
    pub minutes: u32,
    pub allowed: Allowed,
    /// What the best setting that works saves in truth [-].
    pub there: f64,
    pub answer: Answer,
}

/// The plant's review, as anybody would get it.
pub fn reviewed(p: &Plant) -> pipeline::Review {
    let declared = plant::parse(p.plant_toml(), Path::new("invented/plant.toml"));
    let declared = declared.unwrap_or_else(|e| panic!("{} {}: {e}", p.generator, p.seed)).value;
    let trends =
        ingest::from_bytes(&declared, &p.files()).unwrap_or_else(|e| panic!("{} {}: {e}", p.generator, p.seed));
    pipeline::review(declared, trends, None).unwrap_or_else(|e| panic!("{} {}: {e}", p.generator, p.seed))
}

pub fn one(p: &Plant, least: bool) -> Outcome {
    let review = reviewed(p);
    let today = p.run(None);
    let answer = match &review.tuning {
        Tuning::Refused { why, .. } => Answer::Refused(why.clone()),
        Tuning::Proposed(r) => put_to_truth(p, &today, r, least),
    };
    let mut there = if least { there(p, &today, &review.plant) } else { 0.0 };
    if let Answer::Proposed(made) = &answer {
        there = there.max(made.truth);
    }
    Outcome {
        generator: p.generator,
        seed: p.seed,
        severity: p.severity,
        trended: p.trended,
        minutes: p.minutes,
        there,
        allowed: allowed(p.trended, p.follows(), p.terminals()).allowed,
        answer,
    }
}

/// The proposal as the plant's drives would take it.
pub fn setting(c: &Control) -> Option<Setting> {
    let mode = match c.mode? {
        ControlMode::ConstantPressure => Mode::Constant,
        ControlMode::RemotePressure => Mode::Remote,
        ControlMode::Proportional => Mode::Proportional,
        ControlMode::Quadratic => Mode::Quadratic,
        _ => return None,
    };
    if c.reset.is_some_and(|r| r != Reset::None) {
        return None;
    }
    let set = c.setpoint.map(Pressure::in_kpa);
    let rising = matches!(mode, Mode::Proportional | Mode::Quadratic);
    let zero = if rising { c.zero_flow_head?.in_kpa() } else { set? };
    let design = if rising { c.design_head?.in_kpa() } else { zero };
    Some(Setting { mode, zero, design, floor: c.minimum_speed.map_or(0.1, Fraction::in_of_one) })
}

/// What there was to save; nothing where no head is followed.
fn there(p: &Plant, today: &Ran, declared: &offcurve::plant::Plant) -> f64 {
    let c = &declared.control;
    let design = |own: Option<Pressure>| own.or(declared.system.design_head).map(Pressure::in_kpa);
    let flow = c.design_flow.or(declared.system.design_flow).map(Flow::in_m3h);
    let plain = Control { reset: None, setpoint: c.setpoint.or(c.setpoint_high), ..c.clone() };
    let (Some(set), Some(flow), Some(head)) = (setting(&plain), flow, design(c.design_head)) else { return 0.0 };
    least::best(p, today, set, flow, head)
}

fn put_to_truth(p: &Plant, today: &Ran, r: &Recommendation, least: bool) -> Answer {
    let Some(s) = setting(&r.proposed) else { return Answer::Refused("a proposal that cannot be run".to_owned()) };
    let then = p.run(Some(s));
    let share = |r: &Ran| r.short_h / r.running_h.max(1e-9);
    let f = r.saving_fraction;
    let rising = matches!(s.mode, Mode::Proportional | Mode::Quadratic);
    let high = if rising { 0.97 * s.design } else { 3.0 * s.zero };
    let found = if least { least::lowest(p, today, s, high) } else { None };
    let least = found.map_or(f64::NAN, |l| l.0.zero);
    Answer::Proposed(Box::new(Proposed {
        mode: s.mode,
        said: [f.estimate, f.low, f.high],
        truth: least::saves(today, &then),
        kwh: today.kwh,
        short: [share(today), share(&then)],
        under: [today, &then].map(|r| r.starved_machine_h / r.running_h.max(1e-9)),
        zero: s.zero,
        least_zero: least,
        design: s.design,
        conditional: r.conditional_on.len(),
        text: format!("{s:?}"),
    }))
}

/// All plants, on every core, in their order; `None` where no seed serves.
pub fn many(jobs: &[Box<dyn Fn() -> Option<Plant> + Sync + Send>], least: bool) -> Vec<Option<Outcome>> {
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<Option<Outcome>>> = Mutex::new(jobs.iter().map(|_| None).collect());
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while let Some((i, job)) =
                    Some(next.fetch_add(1, Ordering::Relaxed)).and_then(|i| Some((i, jobs.get(i)?)))
                {
                    let outcome = job().map(|p| one(&p, least));
                    done.lock().expect("no worker stops while it holds the list")[i] = outcome;
                }
            });
        }
    });
    done.into_inner().expect("no worker stops while it holds the list")
}
