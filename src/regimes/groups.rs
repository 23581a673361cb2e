//! The named groups with their share of hours and energy, centre and spread.

use super::cells::{ALL, Clusters};
use super::{Group, Regime};
use crate::operating::PumpPoints;
use crate::plant::Role;
use crate::screening::Screened;

/// Supply minus return as a positive difference, where both are trended [K].
pub(super) fn delta_t(screened: &Screened) -> Option<Vec<f64>> {
    let supply = screened.values(Role::SupplyTemperature, None)?;
    let back = screened.values(Role::ReturnTemperature, None)?;
    Some(supply.iter().zip(back).map(|(s, r)| (s - r).abs()).collect())
}

/// Sums of one quantity, from which centre and spread come.
#[derive(Default, Clone, Copy)]
struct Sums {
    n: f64,
    first: f64,
    sum: f64,
    squares: f64,
}

impl Sums {
    fn add(&mut self, v: f64) {
        if !v.is_finite() {
            return;
        }
        if self.n == 0.0 {
            self.first = v;
        }
        let d = v - self.first;
        self.n += 1.0;
        self.sum += d;
        self.squares += d * d;
    }

    /// Mean and standard deviation; NaN where there is nothing.
    fn centre_and_spread(&self) -> (f64, f64) {
        if self.n == 0.0 {
            return (f64::NAN, f64::NAN);
        }
        let mean = self.sum / self.n;
        (self.first + mean, (self.squares / self.n - mean * mean).max(0.0).sqrt())
    }
}

#[derive(Default, Clone, Copy)]
struct Tally {
    rows: usize,
    energy_kwh: f64,
    of: [Sums; 4],
}

/// All groups of a pump: first by regime, then by cluster; rows outside clusters of their regime's name form the rest.
pub(super) fn of(
    pump: &PumpPoints,
    regime: &[Regime],
    clusters: &Clusters,
    names: &[Regime],
    excess_kpa: &[f64],
    delta_t_k: Option<&[f64]>,
    step_h: f64,
) -> Vec<Group> {
    let columns = clusters.count() + 1;
    let mut tallies = vec![Tally::default(); ALL.len() * columns];
    for (i, r) in regime.iter().enumerate() {
        let own = clusters.of(i).filter(|c| names[*c] == *r).unwrap_or(clusters.count());
        let t = &mut tallies[*r as usize * columns + own];
        t.rows += 1;
        if pump.power_kw[i].is_finite() {
            t.energy_kwh += pump.power_kw[i] * step_h;
        }
        let delta_t = delta_t_k.map_or(f64::NAN, |d| d[i]);
        for (sums, v) in t.of.iter_mut().zip([pump.flow_m3h[i], excess_kpa[i], pump.speed[i], delta_t]) {
            sums.add(v);
        }
    }
    let unknown = Regime::Unknown as usize * columns..;
    let known = regime.len() - tallies[unknown].iter().map(|t| t.rows).sum::<usize>();
    let energy: f64 = tallies.iter().map(|t| t.energy_kwh).sum();
    let filled = tallies.iter().enumerate().filter(|(_, t)| t.rows > 0);
    filled.map(|(k, t)| group(pump, ALL[k / columns], t, known, energy, step_h)).collect()
}

fn group(pump: &PumpPoints, regime: Regime, t: &Tally, known: usize, energy_kwh: f64, step_h: f64) -> Group {
    let share = |part: f64, whole: f64| if whole > 0.0 { part / whole } else { 0.0 };
    Group {
        pump: pump.pump.clone(),
        regime,
        hours: t.rows as f64 * step_h,
        share_of_hours: if regime == Regime::Unknown { 0.0 } else { share(t.rows as f64, known as f64) },
        share_of_energy: share(t.energy_kwh, energy_kwh),
        flow_m3h: t.of[0].centre_and_spread(),
        head_excess_kpa: t.of[1].centre_and_spread(),
        speed: t.of[2].centre_and_spread(),
        delta_t_k: t.of[3].centre_and_spread(),
    }
}
