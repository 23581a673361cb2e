//! Which fault can be judged from which trended points at which interval. Frozen: written before any figure was made with it.
//!
//! Inside it, "cannot tell" counts as a miss; outside it, any verdict on a planted fault counts as an error. The reasons stand beside each
//! row; they are common practice, no source, but for the sampling limit of what swings.

use super::Trended;
use Trended::{All, Drive, Metered, NoPressure, Temperatures, Usual};

/// Rows that a period must span to be seen [rows]: below four to six a period is not to be trusted.
pub const PERIOD_ROWS: f64 = 5.0;

/// One fault: the longest interval [min] at which each set of points shows it; a set not named does not.
pub struct Row {
    pub fault: &'static str,
    pub longest: &'static [(Trended, u32)],
    pub why: &'static str,
}

/// The table.
pub const TABLE: [Row; 16] = [
    Row {
        fault: "low-delta-t",
        longest: &[(All, 15), (Usual, 15), (NoPressure, 15), (Metered, 15)],
        why: "needs both temperatures and a flow; from speed alone the flow is too wide",
    },
    Row {
        fault: "stuck-bypass",
        longest: &[(All, 15), (Usual, 15)],
        why: "needs what the coils took (valves) against what the pumps gave, with head; or the bypass's own position",
    },
    Row {
        fault: "minimum-speed-hunting",
        longest: &[(All, 5), (Usual, 5), (NoPressure, 5), (Metered, 5), (Drive, 5), (Temperatures, 5)],
        why: "speed alone; periods of at least five rows",
    },
    Row {
        fault: "speed-hunting",
        longest: &[(All, 5), (Usual, 5), (NoPressure, 5), (Metered, 5), (Drive, 5), (Temperatures, 5)],
        why: "speed alone; periods of at least five rows",
    },
    Row { fault: "setpoint-too-high", longest: &[(All, 15), (Usual, 15)], why: "needs head and the neediest valve" },
    Row {
        fault: "setpoint-too-low",
        longest: &[(All, 15), (Usual, 15)],
        why: "needs valves at their end while the pump keeps its curve below full speed; leaving air proves it",
    },
    Row {
        fault: "off-control-curve",
        longest: &[(All, 15), (Usual, 15), (Metered, 15)],
        why: "needs head; flow from power or meter",
    },
    Row {
        fault: "fixed-speed",
        longest: &[(All, 15), (Usual, 15), (NoPressure, 15), (Metered, 15), (Drive, 15), (Temperatures, 15)],
        why: "speed that stands while what should move it moves: head, power, valves or temperatures",
    },
    Row {
        fault: "out-of-hours-running",
        longest: &[(All, 15), (Usual, 15), (NoPressure, 15), (Metered, 15), (Drive, 15), (Temperatures, 15)],
        why: "status or speed against the declared schedule",
    },
    Row {
        fault: "pump-degraded",
        longest: &[(All, 15), (Usual, 15), (Metered, 15)],
        why: "two witnesses beside speed that part company within the record: head with power, or head with a meter",
    },
    Row {
        fault: "short-cycling",
        longest: &[(All, 15), (Usual, 1), (NoPressure, 1), (Metered, 1), (Drive, 1), (Temperatures, 1)],
        why: "a starts counter shows it at any interval; a status only where rows are shorter than the runs",
    },
    Row {
        fault: "sensor-fault",
        longest: &[(All, 15), (Usual, 15), (NoPressure, 15), (Metered, 15), (Drive, 15), (Temperatures, 15)],
        why: "generators plant only what the set can show: see severity.rs",
    },
    Row {
        fault: "minimum-speed-too-high",
        longest: &[(All, 15), (Usual, 15), (Metered, 15)],
        why: "hours on the floor with head above what the curve asks, and a maker's limit below the floor",
    },
    Row {
        fault: "outside-preferred-region",
        longest: &[(All, 15), (Usual, 15), (NoPressure, 15), (Metered, 15), (Drive, 15)],
        why: "needs flow over best-efficiency flow, whose interval lies outside the region",
    },
    Row {
        fault: "poor-staging",
        longest: &[(All, 15), (Usual, 15), (Metered, 15)],
        why: "needs flow and head, to price one pump more or fewer",
    },
    Row {
        fault: "deadheading",
        longest: &[(All, 15), (Usual, 15), (Metered, 15)],
        why: "needs head or a meter beside the speed: power alone does not tell no flow from little",
    },
];

/// Whether a fault can be judged. `period_min` is that of what swings, NaN elsewhere.
pub fn judgeable(fault: &str, trended: Trended, minutes: u32, period_min: f64) -> bool {
    let seen = TABLE.iter().filter(|r| r.fault == fault).flat_map(|r| r.longest);
    let shown = seen.into_iter().any(|(set, longest)| *set == trended && minutes <= *longest);
    shown && !(period_min < PERIOD_ROWS * f64::from(minutes))
}
