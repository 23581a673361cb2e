//! `[[pump.curve]]`: tested points, and what they must not contradict.
//!
//! A head curve may rise from zero flow to one peak and then only falls. Hydraulic power over declared power is the
//! efficiency: above one the unit is wrong, and so it is, most likely, when even the best point lies below a twentieth.

use super::document::{Bounds, Page, Section};
use super::units::{self, UnitError};
use super::{Dimension, PowerIs, Pump, TestedCurve, Unit};
use crate::hydraulics::pchip::Pchip;
use crate::quantity::{Density, Fraction, Frequency, ShaftSpeed};

/// Tested speeds run from a twentieth of rated speed (nothing is tested below) to half above it (overspeed).
const SPEED: Bounds = Bounds { low: 0.05, high: 1.5, rule: "it must be from 5 to 150 % of the rated speed" };
/// A test of this very pump is good to a few per cent, and no test is perfect.
const TOLERANCE: Bounds = Bounds { low: 0.0001, high: 0.1, rule: "a test of this very pump is good to 0.01 to 10 %" };
/// Share of the peak by which a head read off a chart may rise again: the reading error of a drawn curve, common practice.
const READING_ERROR: f64 = 0.005;
/// Even small circulators reach a twentieth from wire to water at their best point; below it a unit is wrong. Common practice.
const LEAST_PEAK_EFFICIENCY: f64 = 0.05;
/// A unit is proposed when the best efficiency under it is that of a plausible pump. Common practice.
const PLAUSIBLE_PEAK: std::ops::RangeInclusive<f64> = 0.2..=0.9;

/// Values with their own flow grid, in SI.
struct Column {
    line: usize,
    unit: Unit,
    flow_m3h: Vec<f64>,
    values: Vec<f64>,
}

/// The curves of one pump, highest speed first.
pub(super) fn curves(
    page: &mut Page,
    sections: Vec<Section<'_>>,
    pump: &Pump,
    shown: &str,
    density: Density,
) -> Vec<TestedCurve> {
    let mut curves: Vec<TestedCurve> = Vec::new();
    for mut section in sections {
        section.title = format!("[[pump.curve]] of {shown}");
        let line = section.line;
        if let Some(curve) = curve(page, &mut section, pump, density) {
            if curves.iter().any(|c| (c.speed.in_of_one() - curve.speed.in_of_one()).abs() < 1e-6) {
                let found = format!("{} stands twice at {:.1} % speed", section.title, curve.speed.in_percent());
                page.refuse(line, found, "each tested speed has one table", "speed = \"80 %\"");
            } else {
                curves.push(curve);
            }
        }
        section.finish(page);
    }
    curves.sort_by(|a, b| b.speed.in_of_one().total_cmp(&a.speed.in_of_one()));
    curves
}

fn curve(page: &mut Page, section: &mut Section<'_>, pump: &Pump, density: Density) -> Option<TestedCurve> {
    let before = page.errors.len();
    let speed = speed(page, section, pump);
    let power_is = power_is(page, section);
    let tolerance =
        section.quantity(page, "tolerance", &[Dimension::Fraction], TOLERANCE, "\"0.5 %\"").map(|(share, _)| share);
    let grid = flow_grid(page, section);
    let head = column(page, section, "head", &[Dimension::Pressure, Dimension::Head], grid.as_ref(), density);
    let power = column(page, section, "power", &[Dimension::Power], grid.as_ref(), density);
    let efficiency = column(page, section, "efficiency", &[Dimension::Fraction], grid.as_ref(), density);
    if !["head", "power", "efficiency"].iter().any(|key| section.has(key)) {
        page.refuse(
            section.line,
            format!("{} has no head, power or efficiency", section.title),
            "a curve needs at least one of them",
            "head = { unit = \"kPa\", values = [212, 205, 160] }",
        );
    }
    if section.has("power") && section.has("efficiency") {
        let line = section.line_of(page, "efficiency");
        page.refuse(
            line,
            format!("{} has both power and efficiency", section.title),
            "give one of them: the other follows from it",
            "efficiency = { values = [0, 0.62, 0.78] }   # or power, not both",
        );
    }
    if section.has("efficiency") && !section.has("head") {
        let line = section.line_of(page, "efficiency");
        page.refuse(
            line,
            format!("{} has efficiency without head", section.title),
            "power follows from efficiency, flow and head together",
            "head = { unit = \"kPa\", values = [212, 205, 160] }",
        );
    }
    if let Some(head) = &head {
        check_head(page, section, head);
    }
    let made = match (&head, efficiency) {
        (Some(head), Some(efficiency)) => from_efficiency(page, section, head, &efficiency),
        _ => None,
    };
    if let (Some(head), Some(power)) = (&head, &power) {
        check_power(page, section, head, power);
    }
    if page.errors.len() > before {
        return None;
    }
    let (head_flow_m3h, head_kpa) = head.map_or_else(Default::default, |c| (c.flow_m3h, c.values));
    let (power_flow_m3h, power_kw) = made.or(power.map(|c| (c.flow_m3h, c.values))).unwrap_or_default();
    Some(TestedCurve { speed: speed?, power_is, tolerance, head_flow_m3h, head_kpa, power_flow_m3h, power_kw })
}

fn power_is(page: &mut Page, section: &mut Section<'_>) -> PowerIs {
    let power_is = section.word(page, "power_is");
    if !section.has("power_is") && section.has("power") {
        page.assume(format!("The power in {} is taken as shaft power (power_is is not declared).", section.title));
    }
    power_is.unwrap_or(PowerIs::Shaft)
}

fn speed(page: &mut Page, section: &mut Section<'_>, pump: &Pump) -> Option<Fraction> {
    if !section.has("speed") {
        let _ = section.get("speed");
        page.assume(format!("{} is taken as tested at rated speed (speed is not declared).", section.title));
        return Some(Fraction::of_one(1.0));
    }
    let free = Bounds { low: 0.0, high: 1e6, ..SPEED };
    let wanted = [Dimension::Fraction, Dimension::ShaftSpeed, Dimension::Frequency];
    let (value, dimension) = section.quantity(page, "speed", &wanted, free, "\"100 %\"")?;
    let rated = match dimension {
        Dimension::ShaftSpeed => pump.rated_speed.map(ShaftSpeed::in_rpm),
        Dimension::Frequency => pump.rated_frequency.map(Frequency::in_hz),
        _ => Some(1.0),
    };
    let line = section.line_of(page, "speed");
    let Some(rated) = rated else {
        let (key, example) =
            if dimension == Dimension::ShaftSpeed { ("rated_speed", "1450 rpm") } else { ("rated_frequency", "50 Hz") };
        page.refuse(
            line,
            format!("speed in {} needs the pump's {key}", section.title),
            "a tested speed is kept as a share of the rated one",
            format!("{key} = \"{example}\""),
        );
        return None;
    };
    let share = value / rated;
    if !(SPEED.low..=SPEED.high).contains(&share) {
        page.refuse(
            line,
            format!("speed in {} is {:.1} % of the rated speed", section.title, 100.0 * share),
            SPEED.rule,
            "speed = \"100 %\"",
        );
        return None;
    }
    Some(Fraction::of_one(share))
}

/// The flow grid that head, power and efficiency share, with its unit.
fn flow_grid(page: &mut Page, section: &mut Section<'_>) -> Option<(Unit, Vec<f64>)> {
    let title = format!("flow in {}", section.title);
    let example = "flow = { unit = \"m3/h\", values = [0, 20, 40, 60] }";
    let inner = section.table(page, "flow", &title, example)?;
    grid(page, inner)
}

/// A grid of rising flows in m3/h.
fn grid(page: &mut Page, mut inner: Section<'_>) -> Option<(Unit, Vec<f64>)> {
    let unit = unit(page, &mut inner, &[Dimension::Flow], "m3/h");
    let values = values(page, &mut inner);
    let line = inner.line_of(page, "values");
    let title = inner.title.clone();
    inner.finish(page);
    let (unit, values) = (unit?, values?);
    rising(page, line, &title, &values)?;
    let m3h = values.iter().map(|v| v * unit.factor).collect();
    Some((unit, m3h))
}

fn rising(page: &mut Page, line: usize, title: &str, values: &[f64]) -> Option<()> {
    if values.len() < 2 {
        page.refuse(
            line,
            format!("{title} has {} value{}", values.len(), if values.len() == 1 { "" } else { "s" }),
            "a curve needs at least 2 points",
            "values = [0, 20, 40, 60]",
        );
        return None;
    }
    if values[0] < 0.0 || values.last().is_some_and(|v| *v > super::equipment::FLOW.high) {
        page.refuse(
            line,
            format!("{title} runs from {} to {}", values[0], values[values.len() - 1]),
            super::equipment::FLOW.rule,
            "values = [0, 20, 40, 60]",
        );
        return None;
    }
    if let Some(pair) = values.windows(2).find(|w| w[1] <= w[0]) {
        page.refuse(
            line,
            format!("{title} goes from {} to {}", pair[0], pair[1]),
            "flows must rise from point to point",
            "values = [0, 20, 40, 60]",
        );
        return None;
    }
    Some(())
}

fn values(page: &mut Page, inner: &mut Section<'_>) -> Option<Vec<f64>> {
    if !inner.has("values") {
        let _ = inner.get("values");
        page.refuse(
            inner.line,
            format!("{} has no values", inner.title),
            "it is a list of numbers with a unit",
            "values = [0, 20, 40, 60]",
        );
        return None;
    }
    inner.numbers(page, "values", "[0, 20, 40, 60]")
}

fn unit(page: &mut Page, inner: &mut Section<'_>, wanted: &[Dimension], example: &str) -> Option<Unit> {
    if !inner.has("unit") {
        let _ = inner.get("unit");
        if wanted == [Dimension::Fraction] {
            return Some(Unit { written: String::new(), dimension: Dimension::Fraction, factor: 1.0, offset: 0.0 });
        }
        page.refuse(
            inner.line,
            format!("{} has no unit", inner.title),
            "numbers need their unit",
            format!("unit = \"{example}\""),
        );
        return None;
    }
    let line = inner.line_of(page, "unit");
    let written = inner.text(page, "unit", example)?;
    let read = units::unit(&written).and_then(|u| {
        if wanted.contains(&u.dimension) { Ok(u) } else { Err(units::wrong_dimension(&written, u.dimension, wanted)) }
    });
    match read {
        Ok(unit) => Some(unit),
        Err(error) => {
            refuse_unit(page, line, &inner.title, &error);
            None
        }
    }
}

fn refuse_unit(page: &mut Page, line: usize, title: &str, error: &UnitError) {
    page.refuse(
        line,
        format!("the unit of {title} cannot be used"),
        error.to_string(),
        format!("unit = \"{}\"", error.instead()),
    );
}

/// One of head, power, efficiency, on its own grid or the shared one.
fn column(
    page: &mut Page,
    section: &mut Section<'_>,
    key: &'static str,
    wanted: &[Dimension],
    shared: Option<&(Unit, Vec<f64>)>,
    density: Density,
) -> Option<Column> {
    let title = format!("{key} in {}", section.title);
    let example = match key {
        "head" => "head = { unit = \"kPa\", values = [212, 205, 160] }",
        "power" => "power = { unit = \"kW\", values = [2.1, 3.4, 4.2] }",
        _ => "efficiency = { values = [0, 0.62, 0.78] }",
    };
    let line = section.line_of(page, key);
    let mut inner = section.table(page, key, &title, example)?;
    let first = if key == "head" {
        "kPa"
    } else if key == "power" {
        "kW"
    } else {
        "%"
    };
    let unit = unit(page, &mut inner, wanted, first);
    let raw = values(page, &mut inner);
    let own = own_grid(page, &mut inner, shared);
    let has_own = inner.has("at");
    inner.finish(page);
    let (unit, raw) = (unit?, raw?);
    let flow_m3h = if has_own {
        own?
    } else {
        shared.map(|s| s.1.clone()).or_else(|| {
            if !section.has("flow") {
                page.refuse(
                    line,
                    format!("{title} has no flows beside it"),
                    "every value stands at a flow",
                    "flow = { unit = \"m3/h\", values = [0, 20, 40, 60] }",
                );
            }
            None
        })?
    };
    if raw.len() != flow_m3h.len() {
        let found = format!("{title} has {} values at {} flows", raw.len(), flow_m3h.len());
        page.refuse(
            line,
            found,
            "each flow has one value",
            format!("{key} = {{ ..., values = [{}] }}", vec!["..."; flow_m3h.len().min(12)].join(", ")),
        );
        return None;
    }
    page.heads_used |= unit.dimension == Dimension::Head;
    let values = units::column(&unit, &raw, density);
    check_range(page, line, &title, key, &values, &unit)?;
    Some(Column { line, unit, flow_m3h, values })
}

/// `at`: a list in the shared grid's unit, or a table with its own.
fn own_grid(page: &mut Page, inner: &mut Section<'_>, shared: Option<&(Unit, Vec<f64>)>) -> Option<Vec<f64>> {
    let at = inner.get("at")?;
    let line = inner.line_of(page, "at");
    let title = format!("at of {}", inner.title);
    if at.get_ref().is_table() {
        let table = inner.table(page, "at", &title, "at = { unit = \"m3/h\", values = [0, 20, 40, 60] }")?;
        return grid(page, table).map(|g| g.1);
    }
    let raw = inner.numbers(page, "at", "[0, 20, 40, 60]")?;
    let Some((unit, _)) = shared else {
        page.refuse(
            line,
            format!("{title} has no unit"),
            "without a flow table it needs its own",
            "at = { unit = \"m3/h\", values = [0, 20, 40, 60] }",
        );
        return None;
    };
    rising(page, line, &title, &raw)?;
    Some(raw.iter().map(|v| v * unit.factor).collect())
}

fn check_range(page: &mut Page, line: usize, title: &str, key: &str, values: &[f64], unit: &Unit) -> Option<()> {
    let (high, rule, hint) = match key {
        "head" => (
            super::equipment::HEAD.high,
            "heads must be from 0 to 10,000 kPa",
            "head = { unit = \"kPa\", values = [212, 205, 160] }",
        ),
        "power" => (2e4, "powers must be from 0 to 20,000 kW", "power = { unit = \"kW\", values = [2.1, 3.4, 4.2] }"),
        _ if unit.written.is_empty() => (
            1.0,
            "efficiencies must be from 0 to 1, or have unit = \"%\"",
            "efficiency = { unit = \"%\", values = [0, 62, 78] }",
        ),
        _ => (1.0, "efficiencies must be from 0 to 100 %", "efficiency = { unit = \"%\", values = [0, 62, 78] }"),
    };
    let Some(wrong) = values.iter().find(|v| !(0.0..=high).contains(*v)) else { return Some(()) };
    let shown = if key == "efficiency" { format!("{wrong}") } else { format!("{wrong:.1} {}", unit.dimension.si()) };
    page.refuse(line, format!("{title} holds {shown}"), rule, hint);
    None
}

/// Once it has fallen from its peak, the head does not rise again.
fn check_head(page: &mut Page, section: &Section<'_>, head: &Column) {
    let peak = head.values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let slack = READING_ERROR * peak;
    let mut lowest = f64::INFINITY;
    let at_peak = head.values.iter().position(|v| *v == peak).unwrap_or(0);
    // Before the peak nothing may have fallen, after it nothing may rise.
    let mut highest = f64::NEG_INFINITY;
    for (i, value) in head.values.iter().enumerate() {
        let dips = i <= at_peak && *value < highest - slack;
        let rises = i > at_peak && *value > lowest + slack;
        if dips || rises {
            let flow = head.flow_m3h[i];
            let how = if rises { "rises again" } else { "falls and rises again" };
            page.refuse(
                head.line,
                format!("head in {} {how} at {flow:.1} m3/h", section.title),
                "a pump's head rises to one peak at most and then falls as flow grows",
                "head = { unit = \"kPa\", values = [212, 205, 160] }   # in the order of the flows",
            );
            return;
        }
        highest = highest.max(*value);
        if i >= at_peak {
            lowest = lowest.min(*value);
        }
    }
}

/// The head at a flow, between tested points on a straight line; `None` outside them.
pub(super) fn head_at(flow_m3h: &[f64], head_kpa: &[f64], flow: f64) -> Option<f64> {
    let upper = flow_m3h.iter().position(|f| *f >= flow)?;
    if upper == 0 {
        return (flow_m3h[0] == flow).then_some(head_kpa[0]);
    }
    let share = (flow - flow_m3h[upper - 1]) / (flow_m3h[upper] - flow_m3h[upper - 1]);
    Some(head_kpa[upper - 1] + share * (head_kpa[upper] - head_kpa[upper - 1]))
}

/// Hydraulic power [kW] of a flow [m3/h] against a pressure [kPa]: their product, since head is kept as pressure.
fn hydraulic_kw(flow_m3h: f64, head_kpa: f64) -> f64 {
    flow_m3h / 3600.0 * head_kpa
}

/// Power at no flow [kW] follows from the slope of efficiency there, since `Q H / eta` tends to `H / eta'`; `None` where the table does not
/// begin at no flow and no efficiency, or where the slope makes no plausible power (a third to one and a half of the next point's).
fn power_at_no_flow(head: &Column, efficiency: &Column, next_kw: Option<f64>) -> Option<f64> {
    if efficiency.flow_m3h.first() != Some(&0.0) || efficiency.values.first() != Some(&0.0) {
        return None;
    }
    let (_, slope) = Pchip::new(&efficiency.flow_m3h, &efficiency.values).ok()?.value_and_slope(0.0)?;
    let kw = head_at(&head.flow_m3h, &head.values, 0.0)? / 3600.0 / slope;
    let next = next_kw?;
    (kw.is_finite() && (next / 3.0..1.5 * next).contains(&kw)).then_some(kw)
}

/// Power from efficiency; a point with flow and no efficiency carries none and is left out.
fn from_efficiency(
    page: &mut Page,
    section: &Section<'_>,
    head: &Column,
    efficiency: &Column,
) -> Option<(Vec<f64>, Vec<f64>)> {
    let (mut flows, mut powers, mut outside) = (Vec::new(), Vec::new(), 0);
    for (flow, eta) in efficiency.flow_m3h.iter().zip(&efficiency.values) {
        match head_at(&head.flow_m3h, &head.values, *flow) {
            Some(h) if *flow > 0.0 && *eta > 0.0 => {
                flows.push(*flow);
                powers.push(hydraulic_kw(*flow, h) / eta);
            }
            Some(_) => {}
            None => outside += 1,
        }
    }
    if let Some(at_rest) = power_at_no_flow(head, efficiency, powers.first().copied()) {
        flows.insert(0, 0.0);
        powers.insert(0, at_rest);
    }
    if outside > 0 {
        page.notice(format!(
            "{outside} of {} efficiencies in {} lie outside the flows with a tested head and are not used.",
            efficiency.values.len(),
            section.title
        ));
    }
    if flows.len() < 2 {
        let found = format!("efficiency in {} leaves {} usable points", section.title, flows.len());
        page.refuse(
            efficiency.line,
            found,
            "a power curve needs at least 2 points",
            "efficiency = { values = [0, 0.62, 0.78] }",
        );
        return None;
    }
    Some((flows, powers))
}

/// The declared power against the hydraulic power of the same point.
fn check_power(page: &mut Page, section: &Section<'_>, head: &Column, power: &Column) {
    let mut peak = 0.0_f64;
    for (flow, kw) in power.flow_m3h.iter().zip(&power.values) {
        let Some(h) = head_at(&head.flow_m3h, &head.values, *flow) else { continue };
        let hydraulic = hydraulic_kw(*flow, h);
        if hydraulic > 0.0 {
            peak = peak.max(if *kw > 0.0 { hydraulic / kw } else { f64::INFINITY });
        }
    }
    if peak == 0.0 || (LEAST_PEAK_EFFICIENCY..=1.0).contains(&peak) {
        return;
    }
    let found = if peak.is_infinite() {
        format!("power in {} is 0 where the pump makes head and flow", section.title)
    } else {
        format!("power in {} makes the best efficiency {:.1} %", section.title, 100.0 * peak)
    };
    let rule = if peak > 1.0 {
        "hydraulic power cannot exceed the power put in"
    } else {
        "even a small pump reaches 5 % at its best point, so a unit is likely wrong"
    };
    let hint = match fitting_unit(peak, power.unit.factor) {
        Some((unit, efficiency)) => format!("power = {{ unit = \"{unit}\", ... }}   # would make it {:.0} %", 100.0 * efficiency),
        None => "check the units of flow, head and power against the pump's data sheet, as in power = { unit = \"kW\", ... }".to_owned(),
    };
    page.refuse(power.line, found, rule, hint);
}

/// A power unit under which the best efficiency would be that of a pump.
fn fitting_unit(peak: f64, factor: f64) -> Option<(&'static str, f64)> {
    ["kW", "hp", "W"].into_iter().find_map(|name| {
        let efficiency = peak * factor / units::unit(name).ok()?.factor;
        PLAUSIBLE_PEAK.contains(&efficiency).then_some((name, efficiency))
    })
}
