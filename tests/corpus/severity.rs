//! How strong a planted fault is: mild, moderate, severe. Frozen with `judgeable.rs`, before any figure was made. Both generators take their
//! sizes from here, in their own equations. Common practice, no source, unless said.
//!
//! A fault stands from the first day, or comes as a step between a quarter and two thirds of the record (`Planted::step`), as the generator
//! draws; `pump-degraded` and a drift always come within it.

use super::Severity;

/// Three sizes.
pub type Sizes = [f64; 3];

/// Of a severity.
pub fn at(sizes: Sizes, severity: Severity) -> f64 {
    sizes[severity as usize]
}

/// low-delta-t, coils that foul: conductance left of the coils that carry half the load [-].
pub const CONDUCTANCE_LEFT: Sizes = [0.75, 0.55, 0.40];
/// low-delta-t, leaving air set too low (cooling) or too high (heating) for what the coil can do [K].
pub const AIR_SETPOINT_OFF_K: Sizes = [1.0, 2.0, 3.5];
/// stuck-bypass: flow through it at design head over the loop's design flow [-].
pub const BYPASS_SHARE: Sizes = [0.08, 0.18, 0.35];
/// minimum-speed-hunting: how far the speed rises off its floor, of rated [-]; hours a day.
pub const FLOOR_SWING: Sizes = [0.06, 0.10, 0.18];
pub const FLOOR_HOURS: Sizes = [3.0, 6.0, 10.0];
/// Period of either kind of hunting [min], even in the logarithm.
pub const FLOOR_PERIOD_MIN: (f64, f64) = (15.0, 75.0);
pub const SPEED_PERIOD_MIN: (f64, f64) = (6.0, 50.0);
/// speed-hunting: swing from trough to crest, of rated [-]; hours a day.
pub const SPEED_SWING: Sizes = [0.06, 0.12, 0.25];
pub const SPEED_HOURS: Sizes = [4.0, 8.0, 16.0];
/// setpoint-too-high: head that the curve asks over that which the neediest coil needs at design flow [-] (and at no flow, of a rising curve).
pub const HEAD_TOO_HIGH: Sizes = [1.25, 1.5, 2.0];
/// setpoint-too-low: the same, below.
pub const HEAD_TOO_LOW: Sizes = [0.85, 0.70, 0.55];
/// off-control-curve: head held above or below what the declared curve asks, of design head [-].
pub const OFF_CURVE: Sizes = [0.12, 0.25, 0.45];
/// fixed-speed: hours a day at one speed in hand [h] (24: all day), or the share of days.
pub const FIXED_DAYS: Sizes = [0.25, 0.6, 1.0];
/// out-of-hours-running: hours a day beyond the schedule [h].
pub const EXTRA_HOURS: Sizes = [1.5, 3.0, 8.0];
/// pump-degraded: head lost at like flow and speed [-], with efficiency lost by as much again.
pub const HEAD_LOST: Sizes = [0.06, 0.12, 0.20];
/// short-cycling: starts an hour, over at least four hours a day.
pub const STARTS_H: Sizes = [3.0, 5.0, 8.0];
/// sensor-fault, by kind: bias of a water temperature [K]; a pressure's, meter's or power's scale moved within the record [-]; share of the record for
/// which a reading is stuck [-]. Swapped supply and return, and a wrong unit, have one size. Drive: stuck or rescaled power. Temperatures: bias (seen
/// with the pump off and settled, or against its pair), stuck, or swapped.
pub const TEMPERATURE_BIAS_K: Sizes = [1.0, 1.8, 3.0];
pub const SCALE_MOVED: Sizes = [0.08, 0.15, 0.30];
pub const STUCK_SHARE: Sizes = [0.2, 0.5, 0.9];
/// minimum-speed-too-high: floor set above what minimum flow and maker allow, of rated speed [-].
pub const FLOOR_ABOVE: Sizes = [0.10, 0.20, 0.35];
/// outside-preferred-region: median flow over best-efficiency flow at the speed of the hour [-], of a pump much too large; or too small (above).
pub const FLOW_BELOW: Sizes = [0.58, 0.45, 0.30];
pub const FLOW_ABOVE: Sizes = [1.25, 1.32, 1.42];
/// poor-staging: share of the running hours with one pump too many (or at full speed with one too few) [-].
pub const WRONG_COUNT: Sizes = [0.35, 0.65, 0.95];
/// deadheading: hours a day in which a running pump delivers nothing [h].
pub const DEAD_HOURS: Sizes = [0.5, 2.0, 6.0];
