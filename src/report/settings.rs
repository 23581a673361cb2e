//! Control settings side by side: as they are, and as they should be.

use super::show::Show;
use crate::plant::Control;

/// One control setting, as it is and as it should be; empty where not set.
pub struct Setting {
    pub label: &'static str,
    /// Its name in the plant file.
    pub key: &'static str,
    pub present: String,
    pub proposed: String,
}

/// The settings that either side has.
pub fn settings(current: &Control, proposed: &Control, show: &Show) -> Vec<Setting> {
    let row = |label, key, get: &dyn Fn(&Control) -> Option<String>| Setting {
        label,
        key,
        present: get(current).unwrap_or_default(),
        proposed: get(proposed).unwrap_or_default(),
    };
    let all = vec![
        row("control mode", "mode", &|c| c.mode.map(|m| m.word().to_owned())),
        row("head at no flow", "zero_flow_head", &|c| c.zero_flow_head.map(|p| show.head_setting(p.in_kpa()))),
        row("head at design flow", "design_head", &|c| c.design_head.map(|p| show.head_setting(p.in_kpa()))),
        row("design flow", "design_flow", &|c| c.design_flow.map(|q| show.flow(q.in_m3h()))),
        row("pressure setpoint", "setpoint", &|c| c.setpoint.map(|p| show.head_setting(p.in_kpa()))),
        row("flow setpoint", "setpoint", &|c| c.setpoint_flow.map(|q| show.flow(q.in_m3h()))),
        row("setpoint reset", "reset", &|c| c.reset.map(|r| r.word().to_owned())),
        row("lowest setpoint", "setpoint_low", &|c| c.setpoint_low.map(|p| show.head_setting(p.in_kpa()))),
        row("highest setpoint", "setpoint_high", &|c| c.setpoint_high.map(|p| show.head_setting(p.in_kpa()))),
        row("sensor at", "sensor_at", &|c| c.sensor_at.clone()),
        row("lowest speed", "minimum_speed", &|c| c.minimum_speed.map(|s| show.percent(s.in_of_one()))),
        row("highest speed", "maximum_speed", &|c| c.maximum_speed.map(|s| show.percent(s.in_of_one()))),
    ];
    all.into_iter().filter(|s| !s.present.is_empty() || !s.proposed.is_empty()).collect()
}
