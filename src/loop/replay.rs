//! Any duty through the same pumps, motors and drives.

use crate::operating::{Machine, model::Hour};

/// Prices duties with the pump models that the record taught.
#[derive(Debug, Clone, Copy)]
pub struct Replay<'a> {
    machines: &'a [Machine],
}

impl<'a> Replay<'a> {
    /// Over the pumps that have a table.
    #[must_use]
    pub fn new(machines: &'a [Machine]) -> Self {
        Self { machines }
    }

    /// Drive input of `pumps_on` like pumps sharing `flow` [m3/h] at `head` [kPa], in [kW]; NaN where no pump model can say or
    /// the pumps cannot make it.
    #[must_use]
    pub fn power_kw(&self, flow: f64, head: f64, pumps_on: u8) -> f64 {
        self.mean(pumps_on, |m, n| {
            let share = flow / n;
            let s = m.model.speed_for(share, head, &m.learned.common)?;
            m.model
                .has_power()
                .then(|| n * m.model.makes((share / s).min(m.model.q_max), s, Hour::DESIGN, &m.learned.common).power)
        })
    }

    /// Speed of `pumps_on` like pumps sharing `flow` [m3/h] at `head` [kPa], over rated [-].
    #[must_use]
    pub fn speed(&self, flow: f64, head: f64, pumps_on: u8) -> f64 {
        self.mean(pumps_on, |m, n| m.model.speed_for(flow / n, head, &m.learned.common))
    }

    /// Head [kPa] that `pumps_on` like pumps make at `flow` [m3/h] and `speed` [-]; NaN outside the table.
    #[must_use]
    pub fn head_kpa(&self, flow: f64, speed: f64, pumps_on: u8) -> f64 {
        self.mean(pumps_on, |m, n| {
            let q = flow / n / speed;
            (q <= m.model.q_max).then(|| m.model.makes(q, speed, Hour::DESIGN, &m.learned.common).head)
        })
    }

    fn mean(&self, pumps_on: u8, one: impl Fn(&Machine, f64) -> Option<f64>) -> f64 {
        if pumps_on == 0 || self.machines.is_empty() {
            return f64::NAN;
        }
        let n = f64::from(pumps_on);
        let said: Vec<f64> = self.machines.iter().filter_map(|m| one(m, n)).collect();
        if said.len() < self.machines.len() { f64::NAN } else { said.iter().sum::<f64>() / said.len() as f64 }
    }
}
