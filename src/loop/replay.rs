//! Any duty through the same pumps, motors and drives.

use crate::operating::{Machine, model::Hour};

/// Where the loop settles when its control asks another head: flow and head as they are and what of the flow does not throttle.
#[derive(Debug, Clone, Copy)]
pub struct Settles {
    /// [m3/h]
    pub flow: f64,
    /// Head that drives it today [kPa].
    pub head: f64,
    /// Of the head, what no flow moves [kPa].
    pub static_kpa: f64,
    /// Resistance common to all coils [kPa per (m3/h)^2].
    pub common_resistance: f64,
    /// Share of the flow that falls with head; the rest is held by its valves [-].
    pub open: f64,
}

/// Rounds in which flow and head settle, and the change of flow that ends them [-].
const ROUNDS: usize = 40;
const SETTLED: f64 = 1e-4;

impl Settles {
    /// Flow [m3/h] and head [kPa] under a control that asks `asks(flow)`: what is open takes flow as the root of the pressure across it.
    pub fn under(&self, asks: impl Fn(f64) -> f64) -> (f64, f64) {
        let across =
            |flow: f64, head: f64| (head - self.static_kpa - self.common_resistance * flow * flow).max(0.05 * head);
        let before = across(self.flow, self.head);
        let mut flow = self.flow;
        let mut head = asks(flow);
        if !(self.open > 0.0) {
            return (flow, head);
        }
        for _ in 0..ROUNDS {
            let next = self.flow * (1.0 - self.open + self.open * (across(flow, head) / before).sqrt());
            let moved = (next - flow).abs();
            // Half the way: a steep curve would swing.
            flow = 0.5 * (flow + next);
            head = asks(flow);
            if !(moved > SETTLED * self.flow) {
                break;
            }
        }
        (flow, head)
    }
}

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
        let sum = self.machines.iter().try_fold(0.0, |sum, m| one(m, n).map(|said| sum + said));
        sum.map_or(f64::NAN, |sum| sum / self.machines.len() as f64)
    }
}
