//! Water that circulates while every valve is shut has one temperature; and which of a pair is the likelier to be off.

use super::{ALIKE_K, Look, Off, ROUND_H, SHUT};
use crate::plant::Bypass;
use crate::plant::Valve;
use crate::screening::quantile;
use crate::screening::share_of;
use crate::screening::sorted;

/// Opening up to which a valve passes nothing, where the difference is one that a load makes [-]: half a step of a trend in whole per cents. A coil at
/// a trickle brings its water to the temperature of its air, 15 to 50 K from the supply, and a few per cent of that in the water of a bypass are
/// more than the limit below.
const SEATED: f64 = 0.005;
/// Hours at no load that must be seen, in so many visits [h].
const NO_LOAD_H: f64 = 3.0;
const VISITS: usize = 2;
/// A difference at no load: the way no load can make it, and the way a leaking valve can [K].
const AGAINST_LOAD_K: f64 = 1.0;
const TOWARD_LOAD_K: f64 = 1.5;
/// A supply that is held spans less [K].
const HELD_K: f64 = 1.5;
/// The declared supply temperature points at a sensor where it accounts for the difference to within this share of it [-].
const ACCOUNTS: f64 = 0.35;

impl Look<'_> {
    pub(super) fn at_no_load(&self) -> Option<Off> {
        let shuts = |c: &crate::plant::Coil| !matches!(c.valve, Some(Valve::ThreeWay | Valve::None));
        let circulates = matches!(self.plant.system.bypass, Some(Bypass::TwoWay | Bypass::Decoupler));
        if !circulates || self.coils.is_empty() || !self.plant.coils.iter().all(shuts) {
            return None;
        }
        let valves: Vec<&[f64]> = self.coils.iter().map(|c| c.valve).collect::<Option<_>>()?;
        let mut seen = self.visits(&valves, SHUT);
        if middle(&seen)? > 0.0 {
            seen = self.visits(&valves, SEATED);
        }
        let rows: usize = seen.iter().map(Vec::len).sum();
        if self.hours(rows) < NO_LOAD_H || seen.len() < VISITS {
            return None;
        }
        let levels = levels(&seen);
        let (middle, low, high) = (middle(&seen)?, quantile(&levels, 0.1)?, quantile(&levels, 0.9)?);
        let least = if middle < 0.0 { AGAINST_LOAD_K } else { TOWARD_LOAD_K };
        if middle.abs() < least || high - low > ALIKE_K {
            return None;
        }
        let (at, beside, told) = self.which(middle);
        let sure = 0.75 + 0.05 * (seen.len().min(4) as f64 - 1.0);
        let why = format!(
            "with every valve shut and water circulating for {:.0} h, \"{}\" and \"{}\" differ by {:.1} K, where one water has one temperature; \"{}\" is the likelier of the two{}",
            self.hours(rows),
            self.name(self.supply),
            self.name(self.back),
            middle.abs(),
            self.name(at),
            if told { ", by the declared supply temperature" } else { "" }
        );
        Some(Off {
            at,
            beside: Some(beside),
            by_k: middle,
            hours: self.hours(rows),
            confidence: if told { sure } else { sure - 0.1 },
            removed: told,
            name: "return less supply at no load, toward the load",
            expected: "0",
            why,
        })
    }

    /// Differences while water has circulated long enough with no valve further open than `shut` [K], visit by visit.
    fn visits(&self, valves: &[&[f64]], shut: f64) -> Vec<Vec<f64>> {
        let round = (ROUND_H / self.clock.hours()).ceil() as usize;
        let mut visits: Vec<Vec<f64>> = Vec::new();
        let mut since = 0usize;
        for i in 0..self.clock.len {
            let now = self.running[i] && valves.iter().all(|v| v[i] <= shut);
            since = if now { since + 1 } else { 0 };
            let d = self.difference(i);
            if since <= round || !d.is_finite() {
                continue;
            }
            match visits.last_mut() {
                Some(last) if since > round + 1 => last.push(d),
                _ => visits.push(vec![d]),
            }
        }
        visits
    }

    /// Which of supply and return is off by a difference [K], and whether the declared supply temperature says so.
    pub(super) fn which(&self, difference: f64) -> (usize, usize, bool) {
        let rows = || (0..self.clock.len).filter(|&i| self.running[i]).map(|i| self.at(self.supply, i));
        let Some(design) = self.plant.system.supply_temperature.map(crate::quantity::Temperature::in_celsius) else {
            return (self.back, self.supply, false);
        };
        let held = share_of(rows(), 0.9) - share_of(rows(), 0.1) < HELD_K;
        let off = self.toward * (share_of(rows(), 0.5) - design);
        // A supply that reads more toward the load makes the difference smaller.
        let left = ACCOUNTS * difference.abs();
        if held && (off + difference).abs() <= left {
            (self.supply, self.back, true)
        } else {
            (self.back, self.supply, held && off.abs() <= left)
        }
    }
}

/// The middle of each visit, sorted [K]; and the middle of those.
fn levels(visits: &[Vec<f64>]) -> Vec<f64> {
    sorted(visits.iter().map(|v| share_of(v.iter().copied(), 0.5)))
}

fn middle(visits: &[Vec<f64>]) -> Option<f64> {
    quantile(&levels(visits), 0.5)
}
