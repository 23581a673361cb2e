//! Water that mixes lies between what it is mixed of; a coil's return lies beyond the supply.

use super::{Look, Off, SHUT};
use crate::plant::Bypass;
use crate::screening::share_of;

/// Hours of running rows and share of them that must say so [h], [-].
const RUNNING_H: f64 = 24.0;
const MOSTLY: f64 = 0.8;
/// A return beyond what it is mixed of [K].
const BEYOND_K: f64 = 1.2;
/// A coil's return on the wrong side of the supply [K].
const WRONG_SIDE_K: f64 = 1.0;
/// A coil counts from this opening on [-].
const OPEN: f64 = 0.10;
/// Share of the loop's design flow that the coils with a return temperature must carry [-].
const CARRIED: f64 = 0.85;

impl Look<'_> {
    /// Coil returns that lie on the wrong side of the supply while water passes; only a minority can be off by itself.
    pub(super) fn coils_on_the_wrong_side(&self) -> Vec<Off> {
        let mut out = Vec::new();
        let mut seen = 0;
        for c in &self.coils {
            let (Some(k), Some(valve)) = (c.back, c.valve) else { continue };
            let rows = || (0..self.clock.len).filter(|&i| self.running[i] && valve[i] > OPEN);
            let all: Vec<f64> = rows()
                .map(|i| self.toward * (self.at(k, i) - self.at(self.supply, i)))
                .filter(|d| d.is_finite())
                .collect();
            if self.hours(all.len()) < RUNNING_H {
                continue;
            }
            seen += 1;
            let wrong = all.iter().filter(|d| **d < 0.0).count() as f64;
            let middle = share_of(all.iter().copied(), 0.5);
            if middle > -WRONG_SIDE_K || wrong < MOSTLY * all.len() as f64 {
                continue;
            }
            let side = if self.toward > 0.0 { "colder" } else { "warmer" };
            let why = format!(
                "it is {side} than the supply \"{}\" by {:.1} K in the middle while water passes its coil, which no coil does",
                self.name(self.supply),
                -middle
            );
            out.push(Off {
                at: k,
                beside: None,
                by_k: middle,
                hours: self.hours(all.len()),
                confidence: 0.85,
                removed: true,
                name: "coil's return less supply, toward the load",
                expected: "above 0",
                why,
            });
        }
        // More than half of them: it is the supply, or the service.
        if 2 * out.len() > seen { Vec::new() } else { out }
    }

    /// The loop's return beyond what its coils return.
    pub(super) fn beyond_its_coils(&self) -> Option<Off> {
        let known: Vec<(usize, f64, Option<&[f64]>)> =
            self.coils.iter().filter_map(|c| Some((c.back?, c.flow?, c.valve))).collect();
        let carried: f64 = known.iter().map(|c| c.1).sum();
        let design = self.plant.system.design_flow.map_or(f64::NAN, crate::quantity::Flow::in_m3h);
        if known.len() < 3 || !(carried >= CARRIED * design) {
            return None;
        }
        let no_bypass = self.plant.system.bypass == Some(Bypass::None);
        let (mut above, mut below, mut rows) = (Vec::new(), Vec::new(), 0usize);
        for i in (0..self.clock.len).filter(|&i| self.running[i]) {
            let open = |v: Option<&[f64]>| v.is_none_or(|v| v[i] > SHUT);
            let returns = known.iter().filter(|c| open(c.2)).map(|c| self.toward * self.at(c.0, i));
            let (mut low, mut high, mut n) = (f64::MAX, f64::MIN, 0);
            for t in returns.filter(|t| t.is_finite()) {
                (low, high, n) = (low.min(t), high.max(t), n + 1);
            }
            let back = self.toward * self.at(self.back, i);
            if n >= 2 && back.is_finite() {
                rows += 1;
                above.push(back - high);
                below.push(low - back);
            }
        }
        if self.hours(rows) < RUNNING_H {
            return None;
        }
        let far = |v: &[f64]| {
            let share = v.iter().filter(|d| **d > 0.0).count() as f64 / v.len() as f64;
            let middle = share_of(v.iter().copied(), 0.5);
            (middle >= BEYOND_K && share >= MOSTLY).then_some(middle)
        };
        let by = far(&above).or_else(|| if no_bypass { far(&below).map(|b| -b) } else { None })?;
        let why = format!(
            "it lies {:.1} K beyond every one of {} coils' returns in the middle of {:.0} running hours, which no mixture of them does",
            by.abs(),
            known.len(),
            self.hours(rows)
        );
        Some(Off {
            at: self.back,
            beside: None,
            by_k: by,
            hours: self.hours(rows),
            confidence: 0.85,
            removed: true,
            name: "loop's return beyond its coils' returns, toward the load",
            expected: "below 0",
            why,
        })
    }
}
