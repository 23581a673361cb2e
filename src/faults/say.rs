//! Numbers in sentences, in SI units: the report shows them in the reader's.

use super::Case;
use crate::plant::Service;
use chrono::{DateTime, TimeZone, Timelike, Utc};

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
    /// Local date and time of an instant [ms UTC]; midnight, where a whole day begins, is the date alone.
    pub(super) fn say_instant(&self, ms: i64) -> String {
        let instant = DateTime::<Utc>::from_timestamp_millis(ms).unwrap_or_default();
        let local = self.plant.site.timezone.from_utc_datetime(&instant.naive_utc());
        let whole_day = local.hour() == 0 && local.minute() == 0;
        local.format(if whole_day { "%-d %b %Y" } else { "%-d %b %Y %H:%M" }).to_string()
    }
    /// What anyone who changes a setting or opens a panel here should know first.
    pub(super) fn caution(&self, own: &str) -> String {
        format!("{own} {}", general_caution(self.plant.system.service))
    }
}

/// What holds for every finding.
#[must_use]
pub fn general_caution(service: Service) -> String {
    let fluid = match service {
        Service::HeatingWater => {
            "Hot water scalds and pipes hold pressure; frost protection of coils comes before any saving."
        }
        _ => "Keep every machine's minimum flow: a starved evaporator freezes.",
    };
    format!(
        "Found from trends only: confirm on site before changing anything, change one thing at a time, keep the old value, \
         watch the neediest load. {fluid} Work on drives, motors and couplings is for qualified people, with the supply \
         isolated and locked: a stop from the automation does not isolate. Local codes and licensed practice come first."
    )
}

/// A share as whole per cents.
pub(super) fn percent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}
