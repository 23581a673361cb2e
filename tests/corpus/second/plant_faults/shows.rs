//! Whether what was planted shows in the truth.

use super::super::super::Planted;
use super::super::super::Severity;
use super::super::super::severity::{self, at};
use super::super::building::*;
use super::super::truth::Truth;

/// Whether what was planted shows in the truth, at least at three quarters of its size.
pub fn shows(b: &Building, p: &Planted, t: &Truth, twin_delta_k: f64, before: &Truth) -> bool {
    let s = p.severity;
    let enough = |got: f64, sizes: severity::Sizes| got >= 0.75 * at(sizes, s);
    match p.fault {
        "low-delta-t" => t.delta_k < twin_delta_k * [0.97, 0.92, 0.86][s as usize],
        "stuck-bypass" => t.past_coils > 0.8 * at(severity::BYPASS_SHARE, s),
        "minimum-speed-hunting" => enough(t.swing_h, severity::FLOOR_HOURS) && enough(t.swing, severity::FLOOR_SWING),
        "speed-hunting" => {
            t.swing_h >= 0.6 * at(severity::SPEED_HOURS, s).min(t.run_h) && enough(t.swing, severity::SPEED_SWING)
        }
        "setpoint-too-high" => t.need_95 < 1.02 && t.busy > 0.06 && t.on_floor < 0.5,
        "setpoint-too-low" => t.starved > 0.06,
        "off-control-curve" => t.off_curve > 0.5,
        "fixed-speed" => t.run_h > 3.0,
        "out-of-hours-running" => enough(t.extra_h, severity::EXTRA_HOURS),
        "pump-degraded" => t.ratio.iter().zip(&b.pumps).any(|(r, q)| p.subjects.contains(&q.name) && r.is_finite()),
        "short-cycling" => enough(t.starts_h, severity::STARTS_H),
        "minimum-speed-too-high" => t.on_floor > 0.15 && t.floor_spare > 0.75 * at(severity::FLOOR_ABOVE, s),
        "outside-preferred-region" => t.outside > 0.6 && far(t, s),
        "poor-staging" => enough(t.fewer, severity::WRONG_COUNT),
        // A schedule of five days in seven has the hours on five.
        "deadheading" => t.dead_h >= 0.5 * at(severity::DEAD_HOURS, s),
        _ => before.run_h > 1.0,
    }
}

pub(super) fn far(t: &Truth, s: Severity) -> bool {
    let (below, above) = (at(severity::FLOW_BELOW, s), at(severity::FLOW_ABOVE, s));
    t.ratio.iter().any(|r| (r / below - 1.0).abs() < 0.12 || (r / above - 1.0).abs() < 0.06)
}
