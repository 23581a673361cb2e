//! What more than one rule looks at, kept beside the case.
//!
//! Comes in: a [`Case`]. Goes out: days, floors, and the places where rules leave what others look at, too. The decision a reader would question: rules
//! run on several threads and wait for each other here, so what is filled in must not itself wait for a thread.

use super::moved::Looked;
use super::onset::Step;
use super::oscillation::swing::Swings;
use super::rules::low_delta_t::{Opened, Water};
use super::rules::stuck_bypass::Stuck;
use super::{Case, PumpCase, Verdict};
use crate::regimes::speed_floor;
use std::ops::Range;
use std::sync::OnceLock;

/// Lowest speed of a pump [-], and whether it is declared.
type Floor = OnceLock<Option<(f64, bool)>>;

/// What more than one rule looks at, looked at once: filled by the first that asks, while others that ask wait. So nothing in here may itself be
/// spread over threads: one that waits for its parts could be handed a rule that waits for it.
#[derive(Default)]
pub struct Looks {
    pub(super) days: OnceLock<Vec<Range<usize>>>,
    pub(super) swings: OnceLock<Swings>,
    pub(super) moved: OnceLock<Vec<Looked>>,
    pub(super) bypass: OnceLock<Result<Stuck, Verdict>>,
    pub(super) by_speed_alone: OnceLock<bool>,
    pub(super) water: OnceLock<Water>,
    pub(super) fall: OnceLock<Option<Step>>,
    /// One a coil.
    pub(super) opened: OnceLock<Vec<OnceLock<Option<Opened>>>>,
    pub(super) three_way_share: OnceLock<f64>,
    pub(super) head_is_read: OnceLock<bool>,
    /// Each pump's floor under each setting it ever had, in the order of [`Case::floor_at`].
    pub(super) floors: OnceLock<Vec<Floor>>,
}

impl Case<'_> {
    /// Rows of each local day.
    #[must_use]
    pub fn days(&self) -> Vec<Range<usize>> {
        self.looks.days.get_or_init(|| self.look_at_days()).clone()
    }

    fn look_at_days(&self) -> Vec<Range<usize>> {
        let mut days = Vec::new();
        let mut start = 0;
        while start < self.rows() {
            let day = self.local_day[start];
            let end = start + self.local_day[start..].partition_point(|d| *d <= day);
            days.push(start..end);
            start = end;
        }
        days
    }

    /// The lowest speed that a pump is held at under the setting of an instant, and whether it is declared ([`speed_floor`]).
    #[must_use]
    pub fn floor_at(&self, pump: &PumpCase, ms: i64) -> Option<(f64, bool)> {
        let history = &self.plant.control_history;
        let settings = history.len() + 1;
        let setting = history.iter().position(|(until, _)| ms < until.timestamp_millis()).unwrap_or(history.len());
        let all = || (0..self.pumps.len() * settings).map(|_| OnceLock::new()).collect();
        let control = history.get(setting).map_or(&self.plant.control, |(_, control)| control);
        let look = || speed_floor(control, pump.state, pump.speed);
        match self.pumps.iter().position(|p| p.name == pump.name) {
            Some(k) => *self.looks.floors.get_or_init(all)[k * settings + setting].get_or_init(look),
            None => look(),
        }
    }
}
