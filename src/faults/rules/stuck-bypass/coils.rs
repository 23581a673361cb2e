//! By the coils' leaving water: the plant's water is their mix and what went past them.
//!
//! Water past the coils takes the more off the difference the less flows through them; a sensor that reads wrong takes off the same everywhere.
//! Where the flow does not range far enough to tell the two apart, nothing is said.

use super::conductance::through;
use super::{LEAST_DAY_H, LEAST_DAYS, LEAST_OPEN_H, OPEN_SHARE, Stuck, from_flow_m3h};
use crate::faults::rules::number;
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, CoilCase, What, onset, say};
use crate::plant::Valve;
use crate::quantity::Flow;

/// Share of the coils whose leaving water must be trended to mix them [-], and how far open a coil counts [-].
const COILS_TRENDED: f64 = 0.8;
const COIL_OPEN: f64 = 0.15;
/// Share of the flow past the coils, by their mixed water, from which it counts [-]: sensors and weights leave some 5 %.
const LEAST_SHARE: f64 = 0.12;
/// At the same time the plant's difference must lie below that of the worst open coil, to so much of it [-].
const BELOW_WORST: f64 = 0.97;
/// Beyond this share a sensor that is wrong by as much would be plain to see [-].
const BEYOND_SENSORS: f64 = 0.30;
/// Flow must range this far, 90th over 10th percentile, to tell a bypass from a sensor [-], and one must fit better by so much [-].
const RANGES: f64 = 1.25;
const BETTER: f64 = 0.8;
/// Rows looked at a day; more would add time, not knowledge [-].
const ROWS_A_DAY: usize = 96;

/// What the coils' water says.
pub enum Balance {
    Past(Stuck),
    /// Something is off, and it may be a sensor.
    Doubted(String),
    /// The mix accounts for the plant's water.
    Closed,
    Unknown,
}

/// The least that this witness shows, as a sentence.
pub fn would_have_seen() -> String {
    format!(
        "a bypass that passes {} or more of the flow past the coils for {LEAST_OPEN_H:.0} h, open before the record began or since",
        say::percent(LEAST_SHARE)
    )
}

/// One row's balance.
struct Point {
    row: usize,
    /// Hours it stands for.
    hours: f64,
    /// Plant's difference, the coils' mixed, the worst open coil's [K].
    plant: f64,
    mix: f64,
    worst: f64,
    /// Root of head over flow: what a bypass of a fixed opening takes of the flow goes with it.
    slack: f64,
}

impl Point {
    fn share(&self) -> f64 {
        1.0 - self.plant / self.mix
    }
}

pub fn look(case: &Case) -> Balance {
    let with = case.coils.iter().filter(|c| c.return_c.is_some() && c.valve.is_some()).count();
    let plain = case.coils.iter().all(|c| !matches!(c.declared.valve, Some(Valve::ThreeWay | Valve::None)));
    let (true, Some(supply)) = (plain && case.coils.len() >= 2, case.supply_c) else { return Balance::Unknown };
    if (with as f64) < COILS_TRENDED * case.coils.len() as f64 {
        return Balance::Unknown;
    }
    let days = case.days();
    let points: Vec<Vec<Point>> = days.iter().map(|d| points(case, supply, d.clone())).collect();
    let daily: Vec<f64> = points
        .iter()
        .map(|p| if p.len() < LEAST_DAYS { f64::NAN } else { median(p.iter().map(Point::share)) })
        .collect();
    let step = onset::step(&daily, &[], LEAST_DAYS).filter(|s| s.t >= onset::BELIEVED && s.size >= LEAST_SHARE / 2.0);
    let from = step.map_or(0, |s| s.at);
    let seen = daily.iter().filter(|d| d.is_finite()).count();
    let highest = quantile(daily.iter().copied(), OPEN_SHARE);
    let since: Vec<Point> = points.into_iter().skip(from).flatten().collect();
    match weigh(case, &since, step.is_some()) {
        // Nothing is closed that was not seen on enough days, or was open on many of them.
        Balance::Closed if seen < 2 * LEAST_DAYS || highest >= LEAST_SHARE => Balance::Unknown,
        answer => answer,
    }
}

/// A day's balance, thinned evenly.
fn points(case: &Case, supply: &[f64], day: std::ops::Range<usize>) -> Vec<Point> {
    let from = from_flow_m3h(case);
    let rows: Vec<usize> = day.filter(|i| case.steady[*i] && case.loop_flow_m3h[*i] >= from).collect();
    if (rows.len() as f64) * case.step_h < LEAST_DAY_H {
        return Vec::new();
    }
    let stride = rows.len().div_ceil(ROWS_A_DAY);
    let of = |i: &usize| point(case, supply, *i, stride as f64 * case.step_h);
    rows.iter().step_by(stride).filter_map(of).collect()
}

fn point(case: &Case, supply: &[f64], i: usize, hours: f64) -> Option<Point> {
    let (mut sum, mut weights, mut worst) = (0.0, 0.0, f64::NAN);
    for c in &case.coils {
        let Some((opening, own)) = open_difference(case, c, supply, i) else { continue };
        let weight = through(c, opening) * c.declared.design_flow.map_or(1.0, Flow::in_m3h);
        weights += weight;
        sum += weight * own;
        worst = if opening >= COIL_OPEN { own.min(worst) } else { worst };
    }
    let (plant, mix) = (case.delta_t_k(i), sum / weights);
    let head = case.loop_head_kpa[i];
    let slack = if head > 0.0 { head.sqrt() } else { 1.0 } / case.loop_flow_m3h[i];
    (plant.is_finite() && mix > 1.0 && worst > 1.0).then_some(Point { row: i, hours, plant, mix, worst, slack })
}

fn open_difference(case: &Case, c: &CoilCase, supply: &[f64], i: usize) -> Option<(f64, f64)> {
    let opening = c.valve?[i];
    let own = case.toward_load(supply[i], c.return_c?[i]);
    (opening.is_finite() && own.is_finite()).then_some((opening, own))
}

fn weigh(case: &Case, points: &[Point], came: bool) -> Balance {
    if points.iter().map(|p| p.hours).sum::<f64>() < LEAST_OPEN_H {
        return Balance::Unknown;
    }
    let share = median(points.iter().map(Point::share));
    let past: Vec<usize> = points.iter().filter(|p| p.plant <= BELOW_WORST * p.worst).map(|p| p.row).collect();
    if share < LEAST_SHARE || (past.len() as f64) < OPEN_SHARE * points.len() as f64 {
        return Balance::Closed;
    }
    let fit = Kind::of(points);
    let told = came || fit == Kind::Bypass || (fit == Kind::Open && share >= BEYOND_SENSORS);
    if fit == Kind::Sensor || !told {
        return Balance::Doubted(format!(
            "the plant's temperature difference is {} below that of the coils' mixed water, {}: a temperature sensor that reads wrong does that too",
            say::percent(share),
            if fit == Kind::Sensor { "by as much at low flow as at high" } else { "and the flow hardly ranges" }
        ));
    }
    let ratio = median(points.iter().map(|p| p.plant / p.worst));
    Balance::Past(Stuck {
        share,
        confidence: if fit == Kind::Bypass { 0.85 } else { 0.7 },
        because: format!(
            "The plant's temperature difference is {} of that of the coils' mixed water, and {} of that of even the worst open coil{}: \
             about {} of the water goes past the coils.",
            say::percent(1.0 - share),
            say::percent(ratio),
            if fit == Kind::Bypass { ", more so the less flows" } else { "" },
            say::percent(share)
        ),
        evidence: vec![
            number(
                "share of the flow past the coils",
                share,
                "fraction",
                format!("below {LEAST_SHARE}"),
                "supply, return and coil return temperatures, mixed by valve and design flow",
            ),
            number(
                "plant difference over the smallest of the open coils",
                ratio,
                "fraction",
                format!("above {BELOW_WORST}"),
                "supply, return and coil return temperatures",
            ),
        ],
        what: What::PastTheCoils {
            points: points.iter().map(|p| (p.row as u32, p.plant as f32, p.mix as f32)).collect(),
            least_share: LEAST_SHARE,
        },
        rows: (past[0]..case.rows())
            .filter(|i| case.steady[*i] && case.loop_flow_m3h[*i] >= from_flow_m3h(case))
            .collect(),
    })
}

/// Which of the two the lack of difference looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// In proportion to root of head over flow.
    Bypass,
    /// The same number of kelvin everywhere.
    Sensor,
    /// The record does not tell them apart.
    Open,
}

impl Kind {
    fn of(points: &[Point]) -> Self {
        let ranges = quantile(points.iter().map(|p| p.slack), 0.9) / quantile(points.iter().map(|p| p.slack), 0.1);
        if !(ranges >= RANGES) {
            return Self::Open;
        }
        let lack = |p: &Point| p.mix - p.plant;
        let like_bypass = |p: &Point| p.mix * p.slack;
        let constant = median(points.iter().map(lack));
        let slope = median(points.iter().map(|p| lack(p) / like_bypass(p)));
        let as_sensor = median(points.iter().map(|p| (lack(p) - constant).abs()));
        let as_bypass = median(points.iter().map(|p| (lack(p) - slope * like_bypass(p)).abs()));
        if as_bypass <= BETTER * as_sensor {
            Self::Bypass
        } else if as_sensor <= BETTER * as_bypass {
            Self::Sensor
        } else {
            Self::Open
        }
    }
}
