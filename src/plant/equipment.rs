//! `[[source]]`, `[[coil]]` and `[[pump]]`: the machines and terminals of the loop.

use super::curve;
use super::document::{Bounds, Page, Section};
use super::{Coil, Dimension, MotorKind, Pump, Serves, Source};
use crate::quantity::{Density, Flow, Fraction, Frequency, Power, ShaftSpeed};

/// Bounds are wide: they catch a slip of the keyboard, not an unusual plant. A district main is below 100,000 m3/h.
pub(super) const FLOW: Bounds = Bounds { low: 0.0, high: 1e5, rule: "it must be from 0 to 100,000 m3/h" };
/// Pumps of building loops stay below 10 MPa by far.
pub(super) const HEAD: Bounds = Bounds { low: 0.0, high: 1e4, rule: "it must be from 0 to 10,000 kPa" };
const LOAD: Bounds = Bounds { low: 0.0, high: 1e6, rule: "it must be from 0 to 1,000,000 kW" };
const MOTOR: Bounds = Bounds { low: 1e-3, high: 2e4, rule: "it must be from 0.001 to 20,000 kW" };
const SHAFT_SPEED: Bounds = Bounds { low: 10.0, high: 3e4, rule: "it must be from 10 to 30,000 rpm" };
const FREQUENCY: Bounds = Bounds { low: 10.0, high: 1000.0, rule: "it must be from 10 to 1,000 Hz" };
const SPEED: Bounds = Bounds { low: 0.0, high: 1.0, rule: "it must be from 0 to 100 %" };

/// A name that is there, is not taken, and does not mean the loop as a whole.
pub(super) fn check_name(
    page: &mut Page,
    section: &Section<'_>,
    name: Option<String>,
    taken: &[&str],
    example: &str,
) -> Option<String> {
    let Some(name) = name else {
        if !section.has("name") {
            page.refuse(
                section.line,
                format!("{} has no name", section.title),
                "points refer to it by its name",
                format!("name = \"{example}\""),
            );
        }
        return None;
    };
    let line = section.line_of(page, "name");
    if name == "loop" {
        page.refuse(
            line,
            format!("a {} is named \"loop\"", section.title),
            "that name means the loop as a whole",
            format!("name = \"{example}\""),
        );
        return None;
    }
    if taken.contains(&name.as_str()) {
        let hint = format!("name = \"{}\"", free_name(&name, taken));
        page.refuse(
            line,
            format!("the name \"{name}\" is given twice"),
            "pumps, coils and sources need names of their own",
            hint,
        );
        return None;
    }
    Some(name)
}

/// The name with the first free number behind it.
fn free_name(name: &str, taken: &[&str]) -> String {
    (2..).map(|i| format!("{name}-{i}")).find(|n| !taken.contains(&n.as_str())).unwrap_or_default()
}

fn flow(page: &mut Page, section: &mut Section<'_>, key: &'static str, example: &str) -> Option<Flow> {
    section.quantity(page, key, &[Dimension::Flow], FLOW, example).map(|q| Flow::m3h(q.0))
}

/// The machines in the loop.
pub(super) fn sources(page: &mut Page, sections: Vec<Section<'_>>, taken: &mut Vec<String>) -> Vec<Source> {
    let mut sources = Vec::new();
    for mut section in sections {
        let name = section.text(page, "name", "CH-1");
        let minimum_flow = flow(page, &mut section, "minimum_flow", "\"12 m3/h\"");
        let maximum_flow = flow(page, &mut section, "maximum_flow", "\"60 m3/h\"");
        if let (Some(low), Some(high)) = (minimum_flow, maximum_flow)
            && low > high
        {
            let line = section.line_of(page, "minimum_flow");
            let (low, high) = (low.in_m3h(), high.in_m3h());
            let found = format!("minimum_flow in [[source]] is {low:.1} m3/h, above maximum_flow, {high:.1} m3/h");
            page.refuse(
                line,
                found,
                "the least flow cannot exceed the most",
                format!("minimum_flow = \"{high:.1} m3/h\"\nmaximum_flow = \"{low:.1} m3/h\""),
            );
        }
        if let Some(name) = named(page, &section, name, taken, "CH-1") {
            sources.push(Source { name, minimum_flow, maximum_flow });
        }
        section.finish(page);
    }
    sources
}

fn named(
    page: &mut Page,
    section: &Section<'_>,
    name: Option<String>,
    taken: &mut Vec<String>,
    example: &str,
) -> Option<String> {
    let others: Vec<&str> = taken.iter().map(String::as_str).collect();
    let name = check_name(page, section, name, &others, example)?;
    taken.push(name.clone());
    Some(name)
}

/// The terminal units.
pub(super) fn coils(
    page: &mut Page,
    sections: Vec<Section<'_>>,
    serves: Serves,
    density: Density,
    taken: &mut Vec<String>,
) -> Vec<Coil> {
    let mut coils = Vec::new();
    for mut section in sections {
        let name = section.text(page, "name", "AHU-1");
        let coil = Coil {
            name: String::new(),
            terminal: section.word(page, "terminal"),
            count: section.count(page, "count", 100_000).unwrap_or(1),
            design_flow: flow(page, &mut section, "design_flow", "\"17 m3/h\""),
            design_load: section
                .quantity(page, "design_load", &[Dimension::Power], LOAD, "\"118 kW\"")
                .map(|q| Power::kw(q.0)),
            valve: section.word(page, "valve"),
            characteristic: section.word(page, "characteristic"),
            minimum_differential_pressure: section.pressure(
                page,
                "minimum_differential_pressure",
                density,
                HEAD,
                "\"20 kPa\"",
            ),
            index: section.flag(page, "index").unwrap_or(false),
            serves: section.word(page, "serves").unwrap_or(serves),
            freeze_risk: section.flag(page, "freeze_risk").unwrap_or(false),
        };
        if let Some(name) = named(page, &section, name, taken, "AHU-1") {
            coils.push(Coil { name, ..coil });
        }
        section.finish(page);
    }
    coils
}

/// The pumps with their tested curves.
pub(super) fn pumps(
    page: &mut Page,
    sections: Vec<Section<'_>>,
    density: Density,
    taken: &mut Vec<String>,
) -> Vec<Pump> {
    let mut pumps = Vec::new();
    for mut section in sections {
        let name = section.text(page, "name", "P-1");
        let shown = name.clone().unwrap_or_else(|| "a pump without a name".to_owned());
        let pump = pump(page, &mut section, &shown, density);
        if let Some(name) = named(page, &section, name, taken, "P-1") {
            pumps.push(Pump { name, ..pump });
        }
        section.finish(page);
    }
    pumps
}

fn pump(page: &mut Page, section: &mut Section<'_>, shown: &str, density: Density) -> Pump {
    let rated_speed = section.quantity(page, "rated_speed", &[Dimension::ShaftSpeed], SHAFT_SPEED, "\"1450 rpm\"");
    let frequency = |page: &mut Page, section: &mut Section<'_>, key| {
        section.quantity(page, key, &[Dimension::Frequency], FREQUENCY, "\"50 Hz\"").map(|q| Frequency::hz(q.0))
    };
    let rated_frequency = frequency(page, section, "rated_frequency");
    let maximum_frequency = frequency(page, section, "maximum_frequency");
    let least = section.quantity(page, "minimum_allowed_speed", &[Dimension::Fraction], SPEED, "\"30 %\"");
    let motor = section.word(page, "motor");
    if !section.has("motor") {
        page.assume(format!("{shown} has an induction motor ([[pump]].motor is not declared): its speed slips below the drive's frequency."));
    }
    let mut pump = Pump {
        name: String::new(),
        rated_speed: rated_speed.map(|q| ShaftSpeed::rpm(q.0)),
        rated_frequency,
        maximum_frequency,
        minimum_allowed_speed: least.map(|q| Fraction::of_one(q.0)),
        motor: motor.unwrap_or(MotorKind::Induction),
        best_efficiency_flow: flow(page, section, "best_efficiency_flow", "\"66 m3/h\""),
        motor_power: section
            .quantity(page, "motor_power", &[Dimension::Power], MOTOR, "\"7.5 kW\"")
            .map(|q| Power::kw(q.0)),
        motor_efficiency: section.share(page, "motor_efficiency", "0.904"),
        drive_efficiency: section.share(page, "drive_efficiency", "0.97"),
        curves: Vec::new(),
    };
    let tables = section.tables(page, "curve", "[[pump.curve]]");
    pump.curves = curve::curves(page, tables, &pump, shown, density);
    pump
}
