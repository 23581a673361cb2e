//! `[control]`, `[[control_history]]` and `[[sensor]]`: what the drive or controller was told to do, and when.

use super::calendar;
use super::document::{Bounds, Page, Section};
use super::equipment::{HEAD, check_name};
use super::words::nearest;
use super::{Coil, Control, ControlMode, ControlSensor, Dimension, System};
use crate::quantity::{Density, Flow, Fraction, Length, Pressure};
use chrono::{DateTime, Utc};
use chrono_tz::Tz;

/// Setpoints and flows that no building loop exceeds.
const SETPOINT: Bounds = Bounds { low: 0.0, high: 1e5, rule: "it must be from 0 to 100,000 (m3/h or kPa)" };
const SPEED: Bounds = Bounds { low: 0.0, high: 1.5, rule: "it must be from 0 to 150 % of rated speed" };
const FLOW: Bounds = super::equipment::FLOW;

/// What one table says, and nothing more.
fn said(page: &mut Page, section: &mut Section<'_>, density: Density) -> Control {
    let mut control = Control {
        mode: section.word(page, "mode"),
        head_at: section.word(page, "head_at"),
        zero_flow_head: section.pressure(page, "zero_flow_head", density, HEAD, "\"64 kPa\""),
        design_flow: section
            .quantity(page, "design_flow", &[Dimension::Flow], FLOW, "\"68 m3/h\"")
            .map(|q| Flow::m3h(q.0)),
        design_head: section.pressure(page, "design_head", density, HEAD, "\"162 kPa\""),
        setpoint_low: section.pressure(page, "setpoint_low", density, HEAD, "\"40 kPa\""),
        setpoint_high: section.pressure(page, "setpoint_high", density, HEAD, "\"90 kPa\""),
        sensor_at: section.text(page, "sensor_at", "AHU-8"),
        reset: section.word(page, "reset"),
        minimum_speed: speed(page, section, "minimum_speed", "\"35 %\""),
        maximum_speed: speed(page, section, "maximum_speed", "\"100 %\""),
        ..Control::default()
    };
    let wanted = [Dimension::Pressure, Dimension::Head, Dimension::Flow];
    match section.quantity(page, "setpoint", &wanted, SETPOINT, "\"90 kPa\"") {
        Some((m3h, Dimension::Flow)) => control.setpoint_flow = Some(Flow::m3h(m3h)),
        Some((m, Dimension::Head)) => {
            page.heads_used = true;
            control.setpoint = Some(Pressure::of_column(Length::m(m), density));
        }
        Some((kpa, _)) => control.setpoint = Some(Pressure::kpa(kpa)),
        None => {}
    }
    control
}

fn speed(page: &mut Page, section: &mut Section<'_>, key: &'static str, example: &str) -> Option<Fraction> {
    section.quantity(page, key, &[Dimension::Fraction], SPEED, example).map(|q| Fraction::of_one(q.0))
}

/// `said`, completed from `base` where it says nothing.
fn over(said: Control, base: &Control) -> Control {
    Control {
        mode: said.mode.or(base.mode),
        head_at: said.head_at.or(base.head_at),
        zero_flow_head: said.zero_flow_head.or(base.zero_flow_head),
        design_flow: said.design_flow.or(base.design_flow),
        design_head: said.design_head.or(base.design_head),
        setpoint: said.setpoint.or(base.setpoint),
        setpoint_flow: said.setpoint_flow.or(base.setpoint_flow),
        setpoint_low: said.setpoint_low.or(base.setpoint_low),
        setpoint_high: said.setpoint_high.or(base.setpoint_high),
        sensor_at: said.sensor_at.or_else(|| base.sensor_at.clone()),
        reset: said.reset.or(base.reset),
        minimum_speed: said.minimum_speed.or(base.minimum_speed),
        maximum_speed: said.maximum_speed.or(base.maximum_speed),
    }
}

/// Today's settings; design flow and head are the loop's where `[control]` says nothing.
pub(super) fn current(
    page: &mut Page,
    section: Option<Section<'_>>,
    system: &System,
    coils: &[Coil],
    density: Density,
) -> Control {
    let from_loop = Control { design_flow: system.design_flow, design_head: system.design_head, ..Control::default() };
    let Some(mut section) = section else { return from_loop };
    let control = over(said(page, &mut section, density), &from_loop);
    check(page, &section, &control, coils);
    section.finish(page);
    control
}

/// Earlier settings, each completed from the next later one; the latest stands last.
pub(super) fn history(
    page: &mut Page,
    sections: Vec<Section<'_>>,
    current: &Control,
    coils: &[Coil],
    density: Density,
    timezone: Tz,
) -> Vec<(DateTime<Utc>, Control)> {
    let mut entries: Vec<(DateTime<Utc>, Control, Section<'_>)> = Vec::new();
    for mut section in sections {
        let control = said(page, &mut section, density);
        if let Some(until) = until(page, &mut section, timezone) {
            entries.push((until, control, section));
        } else {
            section.finish(page);
        }
    }
    entries.sort_by_key(|(until, _, _)| *until);
    let mut later = current.clone();
    let mut completed = Vec::new();
    let mut previous: Option<DateTime<Utc>> = None;
    for (until, control, section) in entries.into_iter().rev() {
        if previous == Some(until) {
            let line = section.line_of(page, "until");
            page.refuse(
                line,
                "two [[control_history]] entries end at the same time",
                "each setting stood until its own time",
                "until = \"2026-02-11 19:00\"",
            );
        }
        previous = Some(until);
        let whole = over(control, &later);
        check(page, &section, &whole, coils);
        section.finish(page);
        later = whole.clone();
        completed.push((until, whole));
    }
    completed.reverse();
    completed
}

fn until(page: &mut Page, section: &mut Section<'_>, timezone: Tz) -> Option<DateTime<Utc>> {
    let example = "2026-02-11 19:00";
    if !section.has("until") {
        let _ = section.get("until");
        page.refuse(
            section.line,
            "[[control_history]] has no until",
            "an earlier setting says until when it stood",
            format!("until = \"{example}\""),
        );
        return None;
    }
    let line = section.line_of(page, "until");
    let written = section.stamp(page, "until", example)?;
    let Some(local) = calendar::date_time(&written) else {
        let found = format!("until in [[control_history]] is \"{}\"", super::document::short(&written));
        page.refuse(
            line,
            found,
            "it must be a local date and time, years 1900 to 2200",
            format!("until = \"{example}\""),
        );
        return None;
    };
    let (instant, plain) = calendar::local_to_utc(timezone, local);
    if !plain {
        page.notice(format!(
            "The clock was changed around {written} ({timezone}); the setting is taken to end at {} UTC.",
            instant.format("%Y-%m-%d %H:%M")
        ));
    }
    Some(instant)
}

/// Contradictions within one setting. A value that was taken over from a later entry is complained about here only if
/// something said here met it.
fn check(page: &mut Page, section: &Section<'_>, control: &Control, coils: &[Coil]) {
    check_curve(page, section, control);
    check_limits(page, section, control);
    check_setpoint(page, section, control);
    if section.has("sensor_at")
        && let Some(at) = &control.sensor_at
    {
        check_coil(page, section, "sensor_at", at, coils);
    }
}

fn check_curve(page: &mut Page, section: &Section<'_>, control: &Control) {
    let (Some(zero), Some(design)) = (control.zero_flow_head, control.design_head) else { return };
    let said_here = section.has("zero_flow_head") || section.has("design_head");
    if said_here && zero > design {
        let line = section.line_of(page, if section.has("zero_flow_head") { "zero_flow_head" } else { "design_head" });
        let (zero, design) = (zero.in_kpa(), design.in_kpa());
        page.refuse(
            line,
            format!("zero_flow_head in {} is {zero:.1} kPa, above the design head of {design:.1} kPa", section.title),
            "a control curve does not fall as flow rises",
            format!("zero_flow_head = \"{:.0} kPa\"   # at most the design head; a constant pressure has mode = \"constant-pressure\"", design.floor()),
        );
    }
}

fn check_limits(page: &mut Page, section: &Section<'_>, control: &Control) {
    if let (Some(low), Some(high)) = (control.setpoint_low, control.setpoint_high)
        && low > high
        && (section.has("setpoint_low") || section.has("setpoint_high"))
    {
        let line = section.line_of(page, if section.has("setpoint_low") { "setpoint_low" } else { "setpoint_high" });
        let (low, high) = (low.in_kpa(), high.in_kpa());
        let found = format!("setpoint_low in {} is {low:.1} kPa, above setpoint_high, {high:.1} kPa", section.title);
        page.refuse(
            line,
            found,
            "a reset moves between a low and a high end",
            format!("setpoint_low = \"{high:.1} kPa\"\nsetpoint_high = \"{low:.1} kPa\""),
        );
    }
    if let (Some(low), Some(high)) = (control.minimum_speed, control.maximum_speed)
        && low > high
        && (section.has("minimum_speed") || section.has("maximum_speed"))
    {
        let line = section.line_of(page, if section.has("minimum_speed") { "minimum_speed" } else { "maximum_speed" });
        let (low, high) = (low.in_percent(), high.in_percent());
        let found = format!("minimum_speed in {} is {low:.1} %, above maximum_speed, {high:.1} %", section.title);
        page.refuse(
            line,
            found,
            "the least speed cannot exceed the most",
            format!("minimum_speed = \"{high:.1} %\"\nmaximum_speed = \"{low:.1} %\""),
        );
    }
}

fn check_setpoint(page: &mut Page, section: &Section<'_>, control: &Control) {
    if !section.has("setpoint") {
        return;
    }
    let line = section.line_of(page, "setpoint");
    let found =
        |what: &str, mode: ControlMode| format!("setpoint in {} is {what}, and mode is {}", section.title, mode.word());
    match control.mode {
        Some(mode @ ControlMode::ConstantFlow) if control.setpoint_flow.is_none() => {
            page.refuse(line, found("a pressure", mode), "constant-flow holds a flow", "setpoint = \"68 m3/h\"");
        }
        Some(mode @ (ControlMode::ConstantPressure | ControlMode::RemotePressure)) if control.setpoint.is_none() => {
            page.refuse(
                line,
                found("a flow", mode),
                format!("{} holds a pressure", mode.word()),
                "setpoint = \"90 kPa\"",
            );
        }
        Some(mode) if !holds_a_setpoint(mode) => {
            page.notice(format!("The setpoint in {} is not used: mode {} has none.", section.title, mode.word()));
        }
        _ => {}
    }
}

fn holds_a_setpoint(mode: ControlMode) -> bool {
    matches!(mode, ControlMode::ConstantFlow | ControlMode::ConstantPressure | ControlMode::RemotePressure)
}

/// Complains where `name` is no coil.
fn check_coil(page: &mut Page, section: &Section<'_>, key: &str, name: &str, coils: &[Coil]) {
    if coils.iter().any(|c| c.name == name) {
        return;
    }
    let line = section.line_of(page, key);
    let found = format!("{key} in {} is \"{name}\"", section.title);
    match nearest(name, coils.iter().map(|c| c.name.as_str())) {
        Some(near) => page.refuse(
            line,
            found,
            format!("it must name a [[coil]]; the nearest is \"{near}\""),
            format!("{key} = \"{near}\""),
        ),
        None => page.refuse(
            line,
            found,
            "it must name a [[coil]], and none is declared",
            format!("[[coil]]\nname = \"{name}\""),
        ),
    }
}

/// The control sensors, where there are several.
pub(super) fn sensors(
    page: &mut Page,
    sections: Vec<Section<'_>>,
    coils: &[Coil],
    density: Density,
) -> Vec<ControlSensor> {
    let mut sensors: Vec<ControlSensor> = Vec::new();
    for mut section in sections {
        let name = section.text(page, "name", "DP-1");
        let at = section.text(page, "at", "AHU-8");
        let setpoint = section.pressure(page, "setpoint", density, HEAD, "\"90 kPa\"");
        if let Some(at) = &at {
            check_coil(page, &section, "at", at, coils);
        }
        let taken: Vec<&str> = sensors.iter().map(|s| s.name.as_str()).collect();
        if let Some(name) = check_name(page, &section, name, &taken, "DP-1") {
            sensors.push(ControlSensor { name, at, setpoint });
        }
        section.finish(page);
    }
    sensors
}
