//! Numbers in sentences, in SI units: the report shows them in the reader's.

use super::Case;
use crate::plant::Service;
use chrono::{DateTime, TimeZone, Utc};

impl Case<'_> {
    pub(super) fn say_flow(&self, m3h: f64) -> String {
        format!("{m3h:.1} m3/h")
    }
    pub(super) fn say_head(&self, kpa: f64) -> String {
        format!("{kpa:.0} kPa")
    }
    pub(super) fn say_kelvin(&self, k: f64) -> String {
        format!("{k:.1} K")
    }
    /// Local date and time of a row.
    pub(super) fn say_when(&self, i: usize) -> String {
        self.say_instant(self.time_ms[i])
    }
    /// Local date and time of an instant [ms UTC].
    pub(super) fn say_instant(&self, ms: i64) -> String {
        let instant = DateTime::<Utc>::from_timestamp_millis(ms).unwrap_or_default();
        self.plant.site.timezone.from_utc_datetime(&instant.naive_utc()).format("%Y-%m-%d %H:%M").to_string()
    }
    /// What anyone who changes a setting or opens a panel here should know first.
    pub(super) fn caution(&self, own: &str) -> String {
        let fluid = match self.plant.system.service {
            Service::HeatingWater => {
                "Hot water scalds and pipes hold pressure; frost protection of coils comes before saving."
            }
            _ => "Keep every machine's minimum flow: a starved evaporator freezes.",
        };
        format!(
            "{own} Found from trends only: confirm on site before changing anything, change one thing, keep the old value, \
             watch the neediest load. {fluid} Work on drives, motors and couplings is for qualified people with the supply \
             isolated and locked: a stop from the automation is no isolation. Local codes and licensed practice rule."
        )
    }
}

/// A share as whole per cents.
pub(super) fn percent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}
