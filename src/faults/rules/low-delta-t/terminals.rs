//! Whether the terminals are the cause at all, and what they were asked for.

use super::expected::coil_ratio;
use super::seen::{AIR_MOVED_K, air_ordered, working};
use crate::faults::spread::{mean, median};
use crate::faults::{Case, say};
use crate::plant::{Service, Valve};
use crate::quantity::Flow;

/// Share of the coils' design flow whose leaving water must be trended to clear them [-].
const TRENDED: f64 = 0.6;
/// The coils' own difference over what it should be from which they are in health [-]; a loop that is low from the first day on lies far below that.
const IN_HEALTH: f64 = 0.95;
/// Part of the loop's fall that the coils' own water must share, or the fall is not theirs [-].
const SHARED: f64 = 0.35;
/// A coil whose valve is open by less says little [-].
const OPEN: f64 = 0.15;
/// Rows looked at; more would add time, not knowledge [-].
const MOST_ROWS: usize = 2000;
/// Leaving air asked for within this of a chilled supply is more than coils are built for [K]: 12 to 14 degC from 6 or 7 degC water is common
/// practice (no source).
const OUT_OF_REACH_K: f64 = 6.0;
/// Share of what it should be at or below which such a coil's water is the price of it [-].
const PRICE: f64 = 0.85;

/// What the coils' own water says.
pub enum Terminals {
    /// They give what they should: what is low is made elsewhere.
    InHealth(String),
    Open,
}

impl Terminals {
    /// `start`: first row of the fall; `None`: low from the first day on. `fell`: by what share; `level`: the loop's since.
    pub fn look(case: &Case, rows: &[usize], start: Option<usize>, fell: f64, level: f64) -> Self {
        let weight = |k: usize| case.coils[k].declared.design_flow.map_or(1.0, Flow::in_m3h);
        let all: f64 = (0..case.coils.len()).map(weight).sum();
        let plain = |k: &usize| !matches!(case.coils[*k].declared.valve, Some(Valve::ThreeWay | Valve::None));
        let seen = |k: &usize| plain(k) && case.coils[*k].return_c.is_some() && case.coils[*k].valve.is_some();
        let with: Vec<usize> = (0..case.coils.len()).filter(seen).collect();
        if with.iter().map(|k| weight(*k)).sum::<f64>() < TRENDED * all || with.is_empty() {
            return Self::Open;
        }
        let own = |from: usize, to: usize| {
            let mine = &rows[rows.partition_point(|i| *i < from)..rows.partition_point(|i| *i < to)];
            median(mine.iter().step_by(mine.len().div_ceil(MOST_ROWS).max(1)).map(|i| mixed(case, &with, *i)))
        };
        match start {
            None => {
                let own = own(0, case.rows());
                if !(own >= IN_HEALTH) {
                    return Self::Open;
                }
                Self::InHealth(format!(
                    "the loop's difference is {} of what it should be, while the coils' own water shows {}: water goes past them, or a \
                     temperature sensor of the loop reads wrong",
                    say::percent(level),
                    say::percent(own)
                ))
            }
            Some(start) => {
                let (before, after) = (own(0, start), own(start, case.rows()));
                let theirs = 1.0 - after / before;
                if !(theirs < SHARED * fell) {
                    return Self::Open;
                }
                Self::InHealth(format!(
                    "since {} the loop's difference is lower by {}, while the coils' own water shows no such fall: water goes past \
                     them, or a temperature sensor of the loop reads wrong",
                    case.say_when(start),
                    say::percent(fell)
                ))
            }
        }
    }
}

/// What the open coils' water takes up over what it should, by design flow and opening [-].
fn mixed(case: &Case, coils: &[usize], i: usize) -> f64 {
    let (mut sum, mut weights) = (0.0, 0.0);
    for k in coils {
        let c = &case.coils[*k];
        let open = c.valve.map_or(f64::NAN, |v| v[i]);
        let ratio = coil_ratio(case, *k, i);
        if open >= OPEN && ratio.is_finite() {
            let weight = open * c.declared.design_flow.map_or(1.0, Flow::in_m3h);
            weights += weight;
            sum += weight * ratio;
        }
    }
    sum / weights
}

/// A sentence on coils that answer an order they are not built for: their air setpoint moved with the fall, or lies too near the supply.
pub fn ordered(case: &Case, rows: &[usize], fall: Option<usize>) -> String {
    let names: Vec<&str> = match fall {
        Some(at) => {
            let moved = |k: &usize| {
                let c = &case.coils[*k];
                c.valve.is_some()
                    && c.air_setpoint_c.is_some()
                    && air_ordered(case, c, &working(case, c), at) >= AIR_MOVED_K
            };
            (0..case.coils.len()).filter(moved).map(|k| case.coils[k].name).collect()
        }
        None => (0..case.coils.len()).filter(|k| out_of_reach(case, *k, rows)).map(|k| case.coils[k].name).collect(),
    };
    if names.is_empty() {
        return String::new();
    }
    let what = if fall.is_some() {
        "moved with it toward more work for the coil"
    } else {
        "lies within 6 K of the supply water"
    };
    format!(
        " The air setpoint of {} {what}: {} asked for more than coils give at their design difference.",
        names.join(" and "),
        if names.len() > 1 { "they are" } else { "it is" }
    )
}

/// Whether a coil is asked for air too near its chilled supply water, and its water pays for it.
pub fn out_of_reach(case: &Case, k: usize, rows: &[usize]) -> bool {
    let (c, Some(supply)) = (&case.coils[k], case.supply_c) else { return false };
    let Some(setpoint) = c.air_setpoint_c.filter(|_| case.plant.system.service == Service::ChilledWater) else {
        return false;
    };
    let sampled = || rows.iter().step_by(rows.len().div_ceil(MOST_ROWS).max(1));
    let apart = mean(sampled().map(|i| setpoint[*i] - supply[*i]));
    // Where the coil's own water is not trended, the setpoint alone is said.
    let paid = median(sampled().map(|i| coil_ratio(case, k, *i)));
    apart < OUT_OF_REACH_K && !(paid > PRICE)
}
