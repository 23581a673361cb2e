//! Operating points of a part of the record, by the pump models that the whole of it taught.
//!
//! Comes in: what a record gave, and a part of it, screened by itself. Goes out: the same for the part. The decision a reader would question: the models are not taught
//! again, so that two parts of one record share their models' error and a difference between them is none of the models'; what measurements say of each other is looked
//! at anew, in the part alone. A pump that learned its table from a meter is not looked at so.

use super::witness::{self, Witnesses};
use super::{LoopPoints, Machine, OperatingPoints, PumpPoints, Reconstructed, check, priors::Sizes, share_the_loop};
use crate::plant::Plant;
use crate::screening::Screened;
use std::ops::Range;

impl Reconstructed {
    /// The part whose trends are `screened`, beginning with row `first`.
    #[must_use]
    pub fn part(&self, plant: &Plant, screened: &Screened, first: usize) -> Self {
        let points = self.points.rows(first..first + screened.clock.len);
        let mut gathered: Vec<Witnesses> = plant.pumps.iter().map(|p| witness::gather(plant, screened, p)).collect();
        let sizes: Vec<Sizes> = plant.pumps.iter().map(|pump| Sizes::of(plant, pump)).collect();
        share_the_loop(&mut gathered, &sizes, screened.clock.len);
        let look = |m: &Machine| {
            let k = plant.pumps.iter().position(|p| p.name == m.pump)?;
            let tabled = self.learned_tables.iter().all(|t| t.pump != m.pump);
            let (states, witnesses) = (&points.pumps.get(k)?.state, gathered.get(k)?);
            tabled.then(|| check::against(plant, screened.clock, states, witnesses, &m.mixture, m.noise))
        };
        let machine = |m: &Machine| Machine { check: look(m).unwrap_or_default(), ..m.clone() };
        Self {
            machines: self.machines.iter().map(machine).collect(),
            learned_tables: self.learned_tables.clone(),
            points,
        }
    }
}

impl OperatingPoints {
    fn rows(&self, part: Range<usize>) -> Self {
        let pumps = self.pumps.iter().map(|p| p.rows(part.clone())).collect();
        Self { pumps, system: self.system.rows(part) }
    }
}

impl PumpPoints {
    fn rows(&self, part: Range<usize>) -> Self {
        let cut = |column: &[f64]| column[part.clone()].to_vec();
        Self {
            pump: self.pump.clone(),
            state: self.state[part.clone()].to_vec(),
            speed: cut(&self.speed),
            flow_m3h: cut(&self.flow_m3h),
            flow_low_m3h: cut(&self.flow_low_m3h),
            flow_high_m3h: cut(&self.flow_high_m3h),
            head_kpa: cut(&self.head_kpa),
            head_low_kpa: cut(&self.head_low_kpa),
            head_high_kpa: cut(&self.head_high_kpa),
            power_kw: cut(&self.power_kw),
            efficiency: cut(&self.efficiency),
            basis: self.basis[part.clone()].to_vec(),
            flow_sd_common_m3h: cut(&self.flow_sd_common_m3h),
            head_sd_common_kpa: cut(&self.head_sd_common_kpa),
        }
    }
}

impl LoopPoints {
    fn rows(&self, part: Range<usize>) -> Self {
        let cut = |column: &[f64]| column[part.clone()].to_vec();
        Self {
            flow_m3h: cut(&self.flow_m3h),
            flow_low_m3h: cut(&self.flow_low_m3h),
            flow_high_m3h: cut(&self.flow_high_m3h),
            head_kpa: cut(&self.head_kpa),
            power_kw: cut(&self.power_kw),
            pumps_on: self.pumps_on[part.clone()].to_vec(),
            steady: self.steady[part].to_vec(),
        }
    }
}
