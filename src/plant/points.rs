//! `[[point]]`: what each trended point means.

use super::document::{Bounds, Page, Section, short};
use super::units::{self, QuantityError, UnitError};
use super::words::{Belongs, nearest};
use super::{Accuracy, Coil, ControlSensor, Dimension, PercentOf, Point, Pump, Role, Source, Unit};
use crate::quantity::Density;

const SCALE: Bounds = Bounds { low: -1e9, high: 1e9, rule: "it must be a number from -1e9 to 1e9" };

/// What points may hang on.
pub(super) struct Things<'a> {
    pub(super) pumps: &'a [Pump],
    pub(super) coils: &'a [Coil],
    pub(super) sources: &'a [Source],
    pub(super) sensors: &'a [ControlSensor],
    pub(super) density: Density,
}

/// Every point, in the order written.
pub(super) fn points(page: &mut Page, sections: Vec<Section<'_>>, things: &Things<'_>) -> Vec<Point> {
    let mut points: Vec<Point> = Vec::new();
    for mut section in sections {
        if let Some(point) = point(page, &mut section, things) {
            check_twice(page, &section, &point, &points);
            points.push(point);
        }
        section.finish(page);
    }
    points
}

fn point(page: &mut Page, section: &mut Section<'_>, things: &Things<'_>) -> Option<Point> {
    let name = section.text(page, "name", "P1 speed");
    if !section.has("name") {
        page.refuse(
            section.line,
            "[[point]] has no name",
            "it is the point's name in the export",
            "name = \"P1 speed\"",
        );
    }
    if let Some(name) = &name {
        section.title = format!("[[point]] \"{}\"", short(name));
    }
    let role: Option<Role> = section.word(page, "role");
    if !section.has("role") {
        page.refuse(
            section.line,
            format!("{} has no role", section.title),
            "the role says what the point means",
            "role = \"pump-speed\"   # or \"ignore\"",
        );
    }
    let file = section.text(page, "file", "north/*.csv");
    let sheet = section.text(page, "sheet", "Sheet1");
    let of = section.text(page, "of", "P-1");
    let range = range(page, section);
    let unit = unit(page, section, role, range.is_some(), things.density);
    let reading = Reading { role: role.unwrap_or(Role::Ignore), unit: unit.as_ref(), density: things.density };
    let accuracy = accuracy(page, section, "accuracy", &reading);
    let noise = accuracy_of_row(page, section, &reading);
    let percent_of = section.word(page, "percent_of");
    let scale = section.number(page, "scale", SCALE, "1.0").unwrap_or(1.0);
    let offset = section.number(page, "offset", SCALE, "0.0").unwrap_or(0.0);
    let power_is = section.word(page, "power_is");
    let computed_from = section.texts(page, "computed_from", "[\"CHW FLOW\", \"CHWS\", \"CHWR\"]").unwrap_or_default();
    let on = section.texts(page, "on", "[\"On\", \"1\"]").unwrap_or_default();
    let (name, role) = (name?, role?);
    let of = owner(page, section, role, of, things);
    let point = Point {
        name,
        file,
        sheet,
        role,
        of,
        unit,
        accuracy,
        noise,
        percent_of,
        scale,
        offset,
        range,
        power_is,
        computed_from,
        on,
        line: section.line,
    };
    check_scale(page, section, &point);
    check_meaning(page, section, &point);
    check_speed(page, section, &point, things);
    Some(point)
}

/// The readings that mean 0 and 100 %.
fn range(page: &mut Page, section: &mut Section<'_>) -> Option<(f64, f64)> {
    let numbers = section.numbers(page, "range", "[0, 10]")?;
    match numbers[..] {
        [low, high] if low != high && low.abs() <= SCALE.high && high.abs() <= SCALE.high => Some((low, high)),
        _ => {
            let line = section.line_of(page, "range");
            let found = format!(
                "range in {} holds {}",
                section.title,
                if numbers.len() == 2 {
                    "two numbers that are equal or too large".to_owned()
                } else {
                    format!("{} numbers", numbers.len())
                }
            );
            page.refuse(line, found, "it holds the readings that mean 0 and 100 %", "range = [0, 10]");
            None
        }
    }
}

fn unit(
    page: &mut Page,
    section: &mut Section<'_>,
    role: Option<Role>,
    ranged: bool,
    density: Density,
) -> Option<Unit> {
    let written = if section.has("unit") {
        section.text(page, "unit", "%")?
    } else {
        let _ = section.get("unit");
        return None;
    };
    // With a range the reading's own unit (V, mA) says nothing about the value.
    let read = units::unit(&written);
    let fits = match (&read, role) {
        (Ok(unit), Some(role)) if !ranged => units::for_role(role, unit, density).map(|_| ()),
        _ => Ok(()),
    };
    if let Ok(unit) = &read {
        page.heads_used |= unit.dimension == Dimension::Head;
    }
    match read.and_then(|unit| fits.map(|()| unit)) {
        Ok(unit) => Some(unit),
        Err(error) => {
            refuse_unit(page, section, role, &error);
            None
        }
    }
}

fn refuse_unit(page: &mut Page, section: &Section<'_>, role: Option<Role>, error: &UnitError) {
    let line = section.line_of(page, "unit");
    let role = role.map_or_else(String::new, |r| format!(" with role {}", r.word()));
    let kelvin =
        matches!(error, UnitError::Dimension { found, .. } if *found == Dimension::TemperatureDifference.word());
    let hint = if kelvin {
        "unit = \"degC\"   # an absolute temperature in kelvin also has offset = -273.15".to_owned()
    } else {
        format!("unit = \"{}\"", error.instead())
    };
    page.refuse(line, format!("the unit of {}{role} cannot be used", section.title), error.to_string(), hint);
}

/// How a point reads, for its accuracy.
struct Reading<'a> {
    role: Role,
    unit: Option<&'a Unit>,
    density: Density,
}

impl Reading<'_> {
    /// What an absolute accuracy may be given in: differences for temperatures, else what the reading measures.
    fn differences(&self) -> Vec<Dimension> {
        let own = self.unit.map_or(self.role.dimensions(), |u| std::slice::from_ref(&u.dimension));
        let mut wanted = Vec::new();
        for dimension in own {
            match dimension {
                Dimension::Temperature => wanted.push(Dimension::TemperatureDifference),
                Dimension::Pressure | Dimension::Head => wanted.extend([Dimension::Pressure, Dimension::Head]),
                other => wanted.push(*other),
            }
        }
        wanted
    }
    /// Whether a bare % is an amount of the value itself, as for valves.
    fn is_share(&self) -> bool {
        self.differences().contains(&Dimension::Fraction)
    }
}

/// "1 % of reading", "1 % of span", "0.3 K".
fn accuracy(page: &mut Page, section: &mut Section<'_>, key: &'static str, reading: &Reading<'_>) -> Option<Accuracy> {
    let written = section.text(page, key, "1 % of reading")?;
    let (amount, of) = match written.split_once(" of ") {
        Some((amount, of)) => (amount, Some(of.trim())),
        None => (written.as_str(), None),
    };
    let wanted = if of.is_some() { vec![Dimension::Fraction] } else { reading.differences() };
    let line = section.line_of(page, key);
    let found = format!("{key} in {} is \"{}\"", section.title, short(&written));
    let hint = format!("{key} = \"1 % of reading\"");
    let measured = match units::measured(amount, &wanted) {
        Ok(measured) => measured,
        Err(error) => {
            let hint = match &error {
                QuantityError::Unit(unit @ UnitError::Dimension { .. }) if of.is_none() => {
                    let number: String =
                        amount.trim().chars().take_while(|c| c.is_ascii_digit() || *c == '.').collect();
                    format!("{key} = \"{number} {}\"", unit.instead())
                }
                _ => hint,
            };
            page.refuse(line, found, error.to_string(), hint);
            return None;
        }
    };
    if !(measured.si >= 0.0 && measured.si <= 1e6) || (measured.dimension == Dimension::Fraction && measured.si > 1.0) {
        page.refuse(line, found, "it must be from 0 to 100 %, or a small amount of what is measured", hint);
        return None;
    }
    match of {
        None => Some(Accuracy::Absolute(absolute(page, measured, reading))),
        Some("reading") => Some(Accuracy::OfReading(measured.si)),
        Some("span") => Some(Accuracy::OfSpan(measured.si)),
        Some(_) => {
            page.refuse(line, found, "it is of reading or of span", hint);
            None
        }
    }
}

fn absolute(page: &mut Page, measured: units::Measured, reading: &Reading<'_>) -> f64 {
    if measured.dimension == Dimension::Head {
        page.heads_used = true;
        return units::head_kpa(measured.si, reading.density);
    }
    measured.si
}

/// `noise`: as accuracy, but a bare % of what is no share itself is one of the reading.
fn accuracy_of_row(page: &mut Page, section: &mut Section<'_>, reading: &Reading<'_>) -> Option<Accuracy> {
    let written = section.get("noise").and_then(|v| v.get_ref().as_str());
    if !reading.is_share()
        && let Some(measured) = written.and_then(|w| units::measured(w, &[Dimension::Fraction]).ok())
        && (0.0..=1.0).contains(&measured.si)
    {
        return Some(Accuracy::OfReading(measured.si));
    }
    accuracy(page, section, "noise", reading)
}

/// Whom the point belongs to; the only one there is, where none is named.
fn owner(
    page: &mut Page,
    section: &Section<'_>,
    role: Role,
    of: Option<String>,
    things: &Things<'_>,
) -> Option<String> {
    let pumps: Vec<&str> = things.pumps.iter().map(|p| p.name.as_str()).collect();
    let coils: Vec<&str> = things.coils.iter().map(|c| c.name.as_str()).collect();
    let sources: Vec<&str> = things.sources.iter().map(|s| s.name.as_str()).collect();
    let sensors: Vec<&str> = things.sensors.iter().map(|s| s.name.as_str()).collect();
    let (what, known, needed) = match role.belongs() {
        Belongs::Pump => ("[[pump]]", pumps, true),
        Belongs::PumpOrAll => ("[[pump]]", pumps, false),
        Belongs::Coil => ("[[coil]]", coils, true),
        Belongs::CoilOrAll => ("[[coil]]", coils, false),
        Belongs::Source => ("[[source]]", sources, true),
        Belongs::Sensor => ("[[sensor]] or [[coil]]", sensors.into_iter().chain(coils).collect(), false),
        Belongs::Free => return of,
        Belongs::Loop => return loop_wide(page, section, role, of),
    };
    match of {
        Some(name) if known.contains(&name.as_str()) || page.partial => Some(name),
        Some(name) => {
            unknown_owner(page, section, what, &name, &known);
            None
        }
        None if !needed || page.partial || section.has("of") => None,
        None if known.len() == 1 => Some(known[0].to_owned()),
        None => {
            missing_owner(page, section, role, what, &known);
            None
        }
    }
}

fn loop_wide(page: &mut Page, section: &Section<'_>, role: Role, of: Option<String>) -> Option<String> {
    let name = of?;
    let line = section.line_of(page, "of");
    let found = format!("{} has role {} and of = \"{}\"", section.title, role.word(), short(&name));
    page.refuse(
        line,
        found,
        "a point of this role belongs to the loop as a whole",
        format!("role = \"{}\"   # without of", role.word()),
    );
    None
}

fn unknown_owner(page: &mut Page, section: &Section<'_>, what: &str, name: &str, known: &[&str]) {
    let line = section.line_of(page, "of");
    let found = format!("of in {} is \"{}\"", section.title, short(name));
    match nearest(name, known.iter().copied()) {
        Some(near) => page.refuse(
            line,
            found,
            format!("it must name a {what}; the nearest is \"{near}\""),
            format!("of = \"{near}\""),
        ),
        None => {
            let table = what.split(' ').next().unwrap_or(what);
            page.refuse(
                line,
                found,
                format!("it must name a {what}, but none is declared"),
                format!("{table}\nname = \"{}\"", short(name)),
            );
        }
    }
}

fn missing_owner(page: &mut Page, section: &Section<'_>, role: Role, what: &str, known: &[&str]) {
    let found = format!("{} has role {} and no of", section.title, role.word());
    match known.first() {
        Some(first) => {
            let rule = format!("with {} {what} tables it must say which it belongs to", known.len());
            page.refuse(section.line, found, rule, format!("of = \"{first}\""));
        }
        None => page.refuse(
            section.line,
            found,
            format!("it belongs to a {what}, but none is declared"),
            format!("{what}\nname = \"...\""),
        ),
    }
}

fn check_scale(page: &mut Page, section: &Section<'_>, point: &Point) {
    if point.scale == 0.0 {
        let line = section.line_of(page, "scale");
        page.refuse(
            line,
            format!("scale in {} is 0", section.title),
            "every reading would mean the same",
            "scale = 1.0",
        );
    }
    if point.range.is_none() {
        return;
    }
    let line = section.line_of(page, "range");
    if point.scale != 1.0 || point.offset != 0.0 {
        page.refuse(
            line,
            format!("{} has range together with scale or offset", section.title),
            "range stands instead of them",
            "range = [0, 10]   # without scale and offset",
        );
    }
    let dimensions = point.role.dimensions();
    if !dimensions.is_empty() && !dimensions.contains(&Dimension::Fraction) {
        let found = format!("{} with role {} has a range", section.title, point.role.word());
        page.refuse(
            line,
            found,
            "a range gives the readings that mean 0 and 100 %, for valves and speeds",
            "scale = 10.0\noffset = 0.0",
        );
    }
}

/// Keys that say nothing for the point's role.
fn check_meaning(page: &mut Page, section: &Section<'_>, point: &Point) {
    let power = matches!(point.role, Role::PumpPower | Role::TotalPower | Role::PumpEnergy);
    let speed = matches!(point.role, Role::PumpSpeed | Role::PumpSpeedCommand);
    let status = point.role.dimensions() == [Dimension::Count] && point.role != Role::PumpStarts;
    for (said, fits, key) in [
        (point.power_is.is_some(), power, "power_is"),
        (point.percent_of.is_some(), speed, "percent_of"),
        (!point.on.is_empty(), status, "on"),
    ] {
        if said && !fits && point.role != Role::Ignore {
            page.notice(format!(
                "{key} in {} is not used: it says nothing for role {}.",
                section.title,
                point.role.word()
            ));
        }
    }
}

/// What a speed needs from its pump to become a share of rated speed.
fn check_speed(page: &mut Page, section: &Section<'_>, point: &Point, things: &Things<'_>) {
    if !matches!(point.role, Role::PumpSpeed | Role::PumpSpeedCommand) || point.range.is_some() {
        return;
    }
    let Some(pump) = things.pumps.iter().find(|p| Some(&p.name) == point.of.as_ref()) else { return };
    if point.percent_of == Some(PercentOf::MaximumFrequency) && pump.maximum_frequency.is_none() {
        let line = section.line_of(page, "percent_of");
        page.refuse(
            line,
            format!("{} is a % of the maximum frequency", section.title),
            format!("{} must then have maximum_frequency", pump.name),
            "maximum_frequency = \"60 Hz\"   # under the [[pump]]",
        );
    }
    let missing = match point.unit.as_ref().map(|u| u.dimension) {
        Some(Dimension::Frequency) if pump.rated_frequency.is_none() => "rated_frequency",
        Some(Dimension::ShaftSpeed) if pump.rated_speed.is_none() => "rated_speed",
        _ => return,
    };
    let unit = point.unit.as_ref().map_or("", |u| u.written.as_str());
    page.notice(format!("The speed of {} is trended in {unit}, but its {missing} is not declared, so its share of rated speed is not known; declare it under the [[pump]].", pump.name));
}

/// One column mapped twice is an error; one meaning given by two columns is worth a notice.
fn check_twice(page: &mut Page, section: &Section<'_>, point: &Point, before: &[Point]) {
    if let Some(first) = before.iter().find(|p| p.name == point.name && p.file == point.file && p.sheet == point.sheet)
    {
        let line = section.line_of(page, "name");
        page.refuse(
            line,
            format!("{} is given twice, first at line {}", section.title, first.line),
            "one point of the export has one meaning",
            "file = \"north/*.csv\"   # where one name stands in several files",
        );
    } else if point.role != Role::Ignore
        && let Some(first) = before.iter().find(|p| p.role == point.role && p.of == point.of && p.name != point.name)
    {
        let of = point.of.as_deref().unwrap_or("the loop");
        page.notice(format!(
            "Two points have role {} of {of}: \"{}\" (line {}) and \"{}\" (line {}).",
            point.role.word(),
            first.name,
            first.line,
            point.name,
            point.line
        ));
    }
}
