//! Water temperatures held against each other where they must agree, or where one must lie between others.
//!
//! Three places, the surest first. Water that circulates while every valve is shut has one temperature. Water that mixes cannot leave warmer than the
//! warmest of what it is mixed of, nor colder than the coldest: a loop's return against its coils' returns, and a coil's return
//! against the supply. Pipes that stand for a night drift to their rooms: there a sensor is named only where several others agree,
//! since pipes in different rooms honestly differ by a kelvin or two; a lone pair must differ by more, night after night alike. Where the pair
//! alone is seen, the declared supply temperature says which of the two is the likelier, and both are named.

mod mixing;
mod no_load;
mod settled;

use super::doubt::{Kind, Sign};
use super::swapped::toward_load;
use super::{Doubt, Seen};
use crate::ingest::{Clock, Series};
use crate::plant::{Plant, Role};

/// Shut [-], and so long before water has gone round [h].
const SHUT: f64 = 0.03;
const ROUND_H: f64 = 1.0;
/// Visits agree within this [K].
const ALIKE_K: f64 = 0.8;

/// Judges supply, return and coil returns; removes those that are surely off.
pub(super) fn judge(plant: &Plant, clock: &Clock, series: &mut [Series], seen: &Seen) -> Vec<Doubt> {
    let Some(look) = Look::of(plant, clock, series, seen) else { return Vec::new() };
    let mut found = look.coils_on_the_wrong_side();
    if found.is_empty() {
        found.extend(look.at_no_load().or_else(|| look.beyond_its_coils()).or_else(|| look.settled()));
    }
    let mut doubts = Vec::new();
    let mut remove = Vec::new();
    for off in found {
        if off.removed {
            remove.push(off.at);
        }
        doubts.push(off.doubt(clock, series));
    }
    remove.into_iter().for_each(|k| series[k].values.fill(f64::NAN));
    doubts
}

/// A sensor that is off.
struct Off {
    at: usize,
    beside: Option<usize>,
    by_k: f64,
    hours: f64,
    confidence: f64,
    removed: bool,
    name: &'static str,
    expected: &'static str,
    why: String,
}

impl Off {
    fn doubt(self, clock: &Clock, series: &[Series]) -> Doubt {
        let kept = if self.removed { "It was removed" } else { "It was kept" };
        let rows = (self.hours / clock.hours()) as usize;
        Doubt {
            beside: self.beside.map(|k| series[k].name.clone()).into_iter().collect(),
            removed: self.removed,
            confidence: self.confidence,
            sign: Some(Sign { name: self.name.into(), value: self.by_k, unit: "K", expected: self.expected.into() }),
            why: format!("{}. {kept}", self.why),
            was: super::doubt::kept(&series[self.at], self.removed),
            ..Doubt::of(clock, &series[self.at], Kind::Biased, (0, clock.len - 1), rows)
        }
    }
}

struct CoilSeen<'a> {
    back: Option<usize>,
    valve: Option<&'a [f64]>,
    flow: Option<f64>,
}

struct Look<'a> {
    plant: &'a Plant,
    clock: &'a Clock,
    series: &'a [Series],
    seen: &'a Seen,
    supply: usize,
    back: usize,
    coils: Vec<CoilSeen<'a>>,
    toward: f64,
    /// Rows in which a pump has run for an hour.
    running: Vec<bool>,
}

impl<'a> Look<'a> {
    fn of(plant: &'a Plant, clock: &'a Clock, series: &'a [Series], seen: &'a Seen) -> Option<Self> {
        let running = seen.running.as_ref()?;
        let find = |role: Role, of: Option<&str>| series.iter().position(|s| s.role == role && s.of.as_deref() == of);
        let coils = plant.coils.iter().map(|c| {
            let of = Some(c.name.as_str());
            let valve = find(Role::ValvePosition, of).or_else(|| find(Role::ValveCommand, of));
            CoilSeen {
                back: find(Role::CoilReturnTemperature, of),
                valve: valve.map(|k| series[k].values.as_slice()),
                flow: c.design_flow.map(crate::quantity::Flow::in_m3h),
            }
        });
        let round = (ROUND_H / clock.hours()).ceil() as u32;
        let mut count = 0u32;
        let running = running
            .iter()
            .map(|r| {
                count = if *r { count.saturating_add(1) } else { 0 };
                count > round
            })
            .collect();
        Some(Self {
            plant,
            clock,
            series,
            seen,
            supply: find(Role::SupplyTemperature, None)?,
            back: find(Role::ReturnTemperature, None)?,
            coils: coils.collect(),
            toward: toward_load(plant),
            running,
        })
    }

    fn at(&self, k: usize, i: usize) -> f64 {
        self.series[k].values[i]
    }

    /// Return less supply, positive toward the load [K].
    fn difference(&self, i: usize) -> f64 {
        self.toward * (self.at(self.back, i) - self.at(self.supply, i))
    }

    fn hours(&self, rows: usize) -> f64 {
        rows as f64 * self.clock.hours()
    }

    fn name(&self, k: usize) -> &str {
        &self.series[k].name
    }
}
