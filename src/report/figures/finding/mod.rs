//! A figure a finding: its own evidence, cut to the hours that matter.
//!
//! Comes in: a review, whose findings keep what their rules looked at ([`What`]). Goes out: at most one [`Figure`] a finding; none where the data for it are
//! not there. The decision a reader would question: which hours. A rule says it, the same for all: the day with most of the rows that
//! count, the first of equals, and within it the longest stretch; the caption says so. Nothing is judged here: limits and expected values are the rules'.
//! Start at [`all`]. `time.rs`, `scatter.rs`, `daily.rs`, `region.rs` and `calendar.rs` draw; `swings.rs`, `running.rs`, `heads.rs`, `water.rs`,
//! `pumps.rs` and `sensors.rs` say what is drawn for which fault.

mod calendar;
mod daily;
mod heads;
mod numbers;
mod plot;
mod pumps;
mod quantity;
mod region;
mod running;
mod scatter;
mod sensors;
mod swings;
mod time;
mod water;
mod window;

use super::{Figure, Key, Layer, Shows};
use crate::report::document::Table;
use crate::{
    faults::{Finding, Verdict, What},
    operating::PumpPoints,
    pipeline::Review,
    plant::Role,
    regimes::PumpRegimes,
    report::show::Show,
};
use rayon::prelude::*;
use std::ops::Range;

/// Longest part of an id that a subject's name gives [characters].
const LONGEST: usize = 40;

/// The figures of all findings, in the order of the verdicts, in both systems of units.
pub fn all(review: &Review, shows: Shows) -> Vec<Option<[Figure; 2]>> {
    let findings: Vec<&Finding> = review
        .verdicts
        .iter()
        .filter_map(|v| if let Verdict::Found(f) = v { Some(f.as_ref()) } else { None })
        .collect();
    if findings.is_empty() {
        return Vec::new();
    }
    let days = window::days(review, shows[0]);
    let drawn = |f: &Finding| {
        let in_one = |show: &Show| one(&Scene { review, show, days: &days }, f);
        let (shown, other) = rayon::join(|| in_one(shows[0]), || in_one(shows[1]));
        Some([shown?, other?])
    };
    let mut figures: Vec<Option<[Figure; 2]>> = findings.into_par_iter().with_max_len(1).map(drawn).collect();
    // Of several with one id the first stays.
    let id = |figure: &Option<[Figure; 2]>| figure.as_ref().map(|f| f[0].id.clone());
    let ids: Vec<_> = figures.iter().map(id).collect();
    let mut at = 0..ids.len();
    figures.retain(|_| at.next().is_some_and(|k| !ids[..k].contains(&ids[k])));
    figures
}

/// The id of a finding's figure: "finding-fixed-speed-p-1".
pub fn id(f: &Finding) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let slug: String = f.subject.chars().map(plain).take(LONGEST).collect();
    let code = f.fault.code();
    if slug.eq_ignore_ascii_case(&f.subject) {
        return format!("finding-{code}-{slug}");
    }
    // Names that differ only in what an id cannot hold stay apart by a sum of their bytes (FNV-1a).
    let sum = f.subject.bytes().fold(0x811c_9dc5_u32, |h, b| (h ^ u32::from(b)).wrapping_mul(0x0100_0193));
    format!("finding-{code}-{}-{sum:08x}", slug.trim_matches('-'))
}

/// Whether a figure is a finding's.
pub fn is_one(id: &str) -> bool {
    id.starts_with("finding-")
}

fn one(scene: &Scene, f: &Finding) -> Option<Figure> {
    match &f.shown.what {
        What::Nothing => None,
        What::Swing { .. } => swings::swing(scene, f),
        What::Starts { .. } => swings::starts(scene, f),
        What::Stands { .. } => running::stands(scene, f),
        What::Floor { .. } => running::floor(scene, f),
        What::NoFlow { .. } => running::no_flow(scene, f),
        What::TooMany { .. } => running::too_many(scene, f),
        What::TooFew => running::too_few(scene, f),
        What::ComesAndGoes { .. } => running::comes_and_goes(scene, f),
        What::OutOfHours => calendar::out_of_hours(scene, f),
        What::OffCurve { .. } => heads::off_curve(scene, f),
        What::TooMuchHead { .. } => heads::too_much(scene, f),
        What::Starving { .. } => heads::starving(scene, f),
        What::Water { .. } => water::difference(scene, f),
        What::BypassOpen { .. } => water::bypass_open(scene, f),
        What::PastTheCoils { .. } => water::past_the_coils(scene, f),
        What::Unexplained { .. } => water::unexplained(scene, f),
        What::Region { .. } => region::region(scene, f),
        What::Moved { .. } => pumps::moved(scene, f),
        What::BelowTest => pumps::below_test(scene, f),
        What::Doubted => sensors::doubted(scene, f),
    }
}

/// What every figure is drawn from.
struct Scene<'r> {
    review: &'r Review,
    show: &'r Show,
    /// Rows of each local day.
    days: &'r [Range<usize>],
}

impl<'r> Scene<'r> {
    fn pump(&self, name: &str) -> Option<&'r PumpPoints> {
        self.review.points.pumps.iter().find(|p| p.pump == name)
    }
    fn regimes(&self, name: &str) -> Option<&'r PumpRegimes> {
        self.review.regimes.pumps.iter().find(|p| p.pump == name)
    }
    fn values(&self, role: Role, of: Option<&str>) -> Option<&'r [f64]> {
        self.review.screened.values(role, of).filter(|v| v.iter().any(|v| v.is_finite()))
    }
    /// Reading of the control sensor and its setpoint, as far as trended.
    fn pressure(&self) -> Option<&'r [f64]> {
        let at = self.review.plant.control.sensor_at.as_deref();
        let own = at.and_then(|at| self.values(Role::DifferentialPressure, Some(at)));
        own.or_else(|| self.values(Role::DifferentialPressure, None))
    }
    fn rows(&self) -> usize {
        self.review.clock.len
    }
    fn hours(&self, rows: usize) -> f64 {
        rows as f64 * self.review.clock.hours()
    }
}

/// What is said of a figure.
struct Told {
    title: String,
    caption: String,
    description: String,
}

impl Told {
    /// The figure of a finding, from what was drawn and its numbers.
    fn figure(self, f: &Finding, height: u32, mut layers: Vec<Layer>, keys: Vec<Key>, table: Table) -> Figure {
        let last = layers.pop().map(|l| l.with_table(table));
        layers.extend(last);
        Figure {
            id: id(f).into(),
            title: self.title,
            description: self.description,
            caption: self.caption,
            keys,
            height,
            layers,
        }
    }
}

/// A column's values within a window; none where it is shorter.
fn part(values: &[f64], window: &Range<usize>) -> Vec<f64> {
    values.get(window.clone()).unwrap_or_default().to_vec()
}

/// Single precision columns of the rules, as the others.
fn wide(values: &[f32], rows: Range<usize>) -> Vec<f64> {
    values.get(rows).unwrap_or_default().iter().map(|v| f64::from(*v)).collect()
}

/// The middle of the known values; NaN where there are none.
fn middle(values: impl IntoIterator<Item = f64>) -> f64 {
    let mut known: Vec<f64> = values.into_iter().filter(|v| v.is_finite()).collect();
    if known.is_empty() {
        return f64::NAN;
    }
    let at = known.len() / 2;
    *known.select_nth_unstable_by(at, f64::total_cmp).1
}
