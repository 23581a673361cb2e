//! The plant file from its text to a [`Plant`]: one function a table, all complaints collected.

use super::calendar;
use super::curve::head_at;
use super::document::{Bounds, Page, Section, short};
use super::equipment::{self, FLOW, HEAD};
use super::points::{self, Things};
use super::words::nearest;
use super::{
    Blank, Dimension, FluidKind, Noticed, Plant, PlantError, PlantErrors, Pump, Schedule, Serves, Service, Site,
    System, TrendFiles, UnitSystem, Written, control, density,
};
use crate::quantity::{Density, Flow, Temperature};
use chrono::NaiveDate;
use chrono_tz::Tz;
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Water in a building loop: from deep frost in glycol to hot water under pressure.
const TEMPERATURE: Bounds = Bounds { low: -60.0, high: 200.0, rule: "it must be from -60 to 200 degC" };
const PRICE: Bounds = Bounds { low: 0.0, high: 1e6, rule: "it must be from 0 to 1,000,000" };
/// The mixtures that are tabulated, and all that is sold.
const GLYCOL: Bounds = Bounds { low: 0.0, high: 0.6, rule: "it must be from 0 to 0.6, by mass" };
/// The grid to align to: from a second to a day.
const INTERVAL: Bounds = Bounds { low: 1.0, high: 86_400.0, rule: "it must be from 1 s to 1 d" };
/// Glycol that is declared without its share is taken as the usual winter strength. Common practice.
const USUAL_GLYCOL: f64 = 0.3;
/// Share of the design head by which the pumps may miss the design point before it is said. Common practice: tables
/// are toleranced at some 5 % of head, and design heads are rounded.
const HEAD_SLACK: f64 = 0.10;
/// The design head is far below what the pumps make there when it is under this share of it. Common practice.
const FAR_BELOW: f64 = 0.5;

/// Prints a plant file with every key and what it means.
const START_FROM: &str = "offcurve explain plant-file > plant.toml   # prints one to start from";

/// Reads a plant file.
///
/// # Errors
/// Everything that is wrong with it, in the order of its lines.
pub fn read(path: &Path) -> Result<Noticed<Plant>, PlantErrors> {
    read_as(path, false)
}

/// The same of a file of which only `[trends]` and the `[[point]]`s matter yet: whatever else is absent stays unknown.
///
/// # Errors
/// Everything that is wrong with what is there.
pub fn read_for_exports(path: &Path) -> Result<Noticed<Plant>, PlantErrors> {
    read_as(path, true)
}

fn read_as(path: &Path, partial: bool) -> Result<Noticed<Plant>, PlantErrors> {
    let whole = |found: &str, rule: String, hint: &str, line| PlantErrors {
        errors: vec![PlantError { file: path.to_owned(), line, found: found.to_owned(), rule, hint: hint.to_owned() }],
    };
    let bytes =
        std::fs::read(path).map_err(|e| whole("the plant file cannot be read", reason(&e), &remedy(&e, path), None))?;
    let text = String::from_utf8(bytes).map_err(|e| {
        let good = e.utf8_error().valid_up_to();
        let line = 1 + memchr::memchr_iter(b'\n', &e.as_bytes()[..good]).count();
        whole(
            "the text is not UTF-8",
            "a plant file is plain UTF-8 text".to_owned(),
            "save it again as plain text with the encoding UTF-8",
            Some(line),
        )
    })?;
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let mut noticed = parse_as(&text, path, partial)?;
    noticed.value.name = name_of(&absolute);
    Ok(noticed)
}

/// Why a file cannot be read, in words.
fn reason(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "this user may not read it".to_owned(),
        std::io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
        kind => format!("the system says: {kind}"),
    }
}

/// What to do where a file cannot be read.
fn remedy(error: &std::io::Error, path: &Path) -> String {
    match error.kind() {
        std::io::ErrorKind::IsADirectory if path.join("plant.toml").is_file() => {
            format!("name the file in it: {}", path.join("plant.toml").display())
        }
        std::io::ErrorKind::IsADirectory => {
            format!("offcurve fleet {}   # reviews every plant file below a folder", path.display())
        }
        std::io::ErrorKind::PermissionDenied => "ask whoever owns the file for the right to read it".to_owned(),
        _ => START_FROM.to_owned(),
    }
}

/// The file's stem, or its folder's name where the stem is `plant`.
fn name_of(path: &Path) -> String {
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).filter(|s| !s.is_empty());
    let folder = path.parent().and_then(Path::file_name).map(|s| s.to_string_lossy().into_owned());
    match (stem, folder) {
        (Some(stem), Some(folder)) if stem == "plant" => folder,
        (Some(stem), _) => stem,
        (None, _) => "plant".to_owned(),
    }
}

/// Reads the text of a plant file that lies, or would lie, at `path`. Touches no file.
///
/// # Errors
/// Everything that is wrong with it, in the order of its lines.
pub fn parse(text: &str, path: &Path) -> Result<Noticed<Plant>, PlantErrors> {
    parse_as(text, path, false)
}

fn parse_as(text: &str, path: &Path, partial: bool) -> Result<Noticed<Plant>, PlantErrors> {
    let mut page = Page::new(text, path);
    page.partial = partial;
    let (root, complaints) = DeTable::parse_recoverable(text);
    for complaint in &complaints {
        syntax(&mut page, text, complaint);
    }
    // After a slip of syntax the rest may be read askew: say only the slip.
    let plant = if complaints.is_empty() { plant(&mut page, &root, path) } else { None };
    let Page { mut errors, notices, assumed, .. } = page;
    errors.sort_by_key(|e| e.line);
    if !complaints.is_empty() {
        errors.dedup_by_key(|e| e.line);
    }
    match plant {
        Some(plant) if errors.is_empty() => Ok(Noticed { value: Plant { assumed, ..plant }, notices }),
        _ => Err(PlantErrors { errors }),
    }
}

/// A slip of TOML in our own words.
fn syntax(page: &mut Page, text: &str, error: &toml::de::Error) {
    let span = error.span().unwrap_or(0..0);
    let start = span.start.min(text.len());
    let line = page.line(&(start..start));
    // What follows the first slip on a line is its echo.
    if page.errors.last().is_some_and(|e| e.line == Some(line)) {
        return;
    }
    let written = page.written(text, line);
    let message = error.message();
    let says = |words: &[&str]| words.iter().any(|w| message.contains(w));
    let key = written.split('=').next().unwrap_or("").trim();
    let (rule, hint) = if says(&["duplicate key"]) {
        ("a key or table may stand only once", format!("# {}   # keep one of the two", short(written)))
    } else if says(&["must be quoted"]) {
        let value = written.split_once('=').map_or("", |(_, value)| value.split(" #").next().unwrap_or(value).trim());
        ("texts and quantities stand in double quotes", format!("{} = \"{}\"", short(key), short(value)))
    } else if says(&["quote", "string", "escape", "unicode"]) {
        ("texts stand in straight double quotes, opened and closed on one line", format!("{} = \"...\"", short(key)))
    } else if says(&["array", "comma"]) {
        let example = if written.contains('"') { "[\"...\", \"...\"]" } else { "[1, 2, 3]" };
        ("a list stands in square brackets, its entries parted by commas", format!("{} = {example}", short(key)))
    } else if says(&["inline table"]) {
        (
            "a small table stands in curly brackets, its keys parted by commas",
            "flow = { unit = \"m3/h\", values = [0, 20, 40] }".to_owned(),
        )
    } else if says(&["table"]) {
        ("a table's name stands in one or two pairs of square brackets", "[loop]".to_owned())
    } else if says(&["number", "digit", "zero", "sign", "radix", "integer"]) {
        (
            "a number has digits and at most one point; with a unit it stands in quotes",
            format!("{} = \"68 m3/h\"", short(key)),
        )
    } else {
        ("each line is a key, an equals sign and a value, or a table's name", "design_flow = \"68 m3/h\"".to_owned())
    };
    let found = if written.is_empty() {
        "this line cannot be read".to_owned()
    } else {
        format!("this line cannot be read, {}", quoted(written))
    };
    page.refuse(line, found, rule, hint);
}

fn quoted(written: &str) -> String {
    format!("`{}`", short(written))
}

/// The tables without which nothing can be reviewed.
const NEEDS: &str = "a plant file needs [site], [loop], a [[pump]], [trends] and [[point]]s";

/// All tables in the order of the file's logic.
fn plant(page: &mut Page, root: &Spanned<DeTable<'_>>, path: &Path) -> Option<Plant> {
    if root.get_ref().is_empty() && !page.partial {
        page.refuse(None, "there is nothing in it but blanks and comments", NEEDS, START_FROM);
        return None;
    }
    let mut root = Section::new("", 1, root.get_ref());
    let units = root.word::<UnitSystem>(page, "units").unwrap_or(UnitSystem::Si);
    let site = required(page, &mut root, "site", "[site]\ntimezone = \"Europe/Lisbon\"").and_then(|s| site(page, s));
    let system = required(page, &mut root, "loop", "[loop]\nservice = \"chilled-water\"").and_then(|s| system(page, s));
    let (system, density, duty_line) = match system {
        Some((system, density, line)) => (Some(system), density, line),
        None => (None, density(FluidKind::Water, 0.0, Temperature::celsius(20.0)), 1),
    };
    let serves = system.as_ref().map_or(Serves::Comfort, |s| s.serves);
    let timezone = site.as_ref().map_or(Tz::UTC, |s| s.timezone);
    let mut taken = Vec::new();
    let sections = root.tables(page, "pump", "[[pump]]");
    none_of(page, &root, "pump", "[[pump]]\nname = \"P-1\"");
    let pumps = equipment::pumps(page, sections, density, &mut taken);
    let sections = root.tables(page, "coil", "[[coil]]");
    let coils = equipment::coils(page, sections, serves, density, &mut taken);
    let sections = root.tables(page, "source", "[[source]]");
    let sources = equipment::sources(page, sections, &mut taken);
    let sections = root.tables(page, "sensor", "[[sensor]]");
    let sensors = control::sensors(page, sections, &coils, density);
    let section = root.table(page, "control", "[control]", "[control]");
    let history = root.tables(page, "control_history", "[[control_history]]");
    let blank = System::unknown();
    let control = control::current(page, section, system.as_ref().unwrap_or(&blank), &coils, density);
    let control_history = control::history(page, history, &control, &coils, density, timezone);
    let sections = root.tables(page, "schedule", "[[schedule]]");
    let schedule = schedules(page, sections);
    let trends = required(page, &mut root, "trends", "[trends]\nfiles = [\"trends/*.csv\"]")
        .and_then(|s| trends(page, s, timezone));
    let sections = root.tables(page, "point", "[[point]]");
    none_of(page, &root, "point", "[[point]]\nname = \"P1 speed\"\nrole = \"pump-speed\"\nof = \"P-1\"\nunit = \"%\"");
    let things = Things { pumps: &pumps, coils: &coils, sources: &sources, sensors: &sensors, density };
    let points = points::points(page, sections, &things);
    root.finish(page);
    let bare = Plant::bare(timezone, None);
    let (system, site, trends) = if page.partial {
        (system.or(Some(bare.system)), site.or(Some(bare.site)), trends.or(Some(bare.trends)))
    } else {
        (system, site, trends)
    };
    let system = system?;
    check_duty(page, &system, &pumps, duty_line);
    check_reach(page, &system, &pumps);
    say_density(page, &system);
    let dir = path.parent().filter(|p| !p.as_os_str().is_empty()).map_or_else(|| PathBuf::from("."), Path::to_owned);
    Some(Plant {
        name: name_of(path),
        path: path.to_owned(),
        dir,
        units,
        site: site?,
        system,
        sources,
        coils,
        control,
        control_history,
        sensors,
        schedule,
        pumps,
        trends: trends?,
        points,
        assumed: Vec::new(),
    })
}

/// A table that must be there.
fn required<'d>(page: &mut Page, root: &mut Section<'d>, key: &'static str, example: &str) -> Option<Section<'d>> {
    let section = root.table(page, key, &format!("[{key}]"), example);
    if !root.has(key) && !page.partial {
        page.refuse(None, format!("[{key}] is missing"), NEEDS, example);
    }
    section
}

/// Complains where a list that must hold something is not there or empty.
fn none_of(page: &mut Page, root: &Section<'_>, key: &str, example: &str) {
    if !page.partial && (!root.has(key) || root.is_empty_list(key)) {
        page.refuse(None, format!("there is no [[{key}]]"), NEEDS, example);
    }
}

fn site(page: &mut Page, mut section: Section<'_>) -> Option<Site> {
    let name = section.text(page, "name", "Harbour House");
    let timezone = timezone(page, &mut section, "timezone");
    if !section.has("timezone") && !page.partial {
        page.refuse(
            section.line,
            "[site] has no timezone",
            "local times in exports cannot be read without it",
            "timezone = \"Europe/Lisbon\"",
        );
    }
    let currency = section.text(page, "currency", "EUR");
    let energy_price = section.number(page, "energy_price", PRICE, "0.19");
    let carbon_intensity = section.number(page, "carbon_intensity", PRICE, "0.24");
    let holidays = holidays(page, &mut section);
    section.finish(page);
    Some(Site {
        name,
        timezone: timezone.or(page.partial.then_some(Tz::UTC))?,
        currency,
        energy_price,
        carbon_intensity,
        holidays,
    })
}

fn timezone(page: &mut Page, section: &mut Section<'_>, key: &'static str) -> Option<Tz> {
    let written = section.text(page, key, "Europe/Lisbon")?;
    if let Ok(zone) = written.parse::<Tz>() {
        return Some(zone);
    }
    let near = nearest_zone(&written);
    let line = section.line_of(page, key);
    let found = format!("{key} in {} is \"{}\"", section.title, short(&written));
    page.refuse(
        line,
        found,
        format!("it must be a time zone written Region/City; the nearest is \"{near}\""),
        format!("{key} = \"{near}\""),
    );
    None
}

/// The zone whose name, or whose city, comes nearest.
fn nearest_zone(written: &str) -> &'static str {
    let zones = || chrono_tz::TZ_VARIANTS.iter().map(|z| z.name());
    let city = |name: &'static str| name.rsplit('/').next().unwrap_or(name);
    let asked = written.rsplit('/').next().unwrap_or(written).replace(' ', "_");
    let by_city = nearest(&asked, zones().map(city)).unwrap_or("UTC");
    nearest(written, zones().filter(|z| city(z) == by_city)).unwrap_or("UTC")
}

fn holidays(page: &mut Page, section: &mut Section<'_>) -> Vec<NaiveDate> {
    let example = "holidays = [\"2026-01-01\", \"2026-12-25\"]";
    let Some(value) = section.get("holidays") else { return Vec::new() };
    let items: Vec<(usize, Option<String>)> = match value.get_ref() {
        DeValue::Array(list) => list.iter().map(|v| (page.line(&v.span()), date_text(v.get_ref()))).collect(),
        _ => vec![(section.line_of(page, "holidays"), None)],
    };
    let mut days = Vec::new();
    for (line, written) in items {
        match written.as_deref().and_then(calendar::date) {
            Some(day) => days.push(day),
            None => {
                let what =
                    written.map_or_else(|| "something that is no date".to_owned(), |w| format!("\"{}\"", short(&w)));
                page.refuse(
                    line,
                    format!("holidays in [site] holds {what}"),
                    "every entry is a date as in 2026-01-31",
                    example,
                );
            }
        }
    }
    days.sort_unstable();
    days.dedup();
    days
}

fn date_text(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::String(s) => Some(s.to_string()),
        DeValue::Datetime(d) => Some(d.to_string()),
        _ => None,
    }
}

/// `[loop]`, the density of its fluid at the design supply temperature, and the line of `pumps_on_duty`.
fn system(page: &mut Page, mut section: Section<'_>) -> Option<(System, Density, usize)> {
    let name = section.text(page, "name", "North loop");
    let service: Option<Service> = section.word(page, "service");
    if !section.has("service") && !page.partial {
        page.refuse(
            section.line,
            "[loop] has no service",
            "it says which side is warm, and so what a low temperature difference means",
            "service = \"chilled-water\"   # or heating-water, condenser-water",
        );
    }
    let (fluid, glycol_mass_fraction) = fluid(page, &mut section);
    let mut temperature = |page: &mut Page, key, example| {
        section.quantity(page, key, &[Dimension::Temperature], TEMPERATURE, example).map(|q| Temperature::celsius(q.0))
    };
    let supply_temperature = temperature(page, "supply_temperature", "\"6 degC\"");
    let return_temperature = temperature(page, "return_temperature", "\"12 degC\"");
    let frost_protection_below = temperature(page, "frost_protection_below", "\"3 degC\"");
    let density = density(fluid, glycol_mass_fraction, supply_temperature.unwrap_or_else(|| usual_supply(service)));
    let serves = section.word(page, "serves");
    if !section.has("serves") {
        page.assume("The loop serves comfort ([loop].serves is not declared): nothing critical hangs on it.");
    }
    let flow = |page: &mut Page, section: &mut Section<'_>, key, example| {
        section.quantity(page, key, &[Dimension::Flow], FLOW, example).map(|q| Flow::m3h(q.0))
    };
    let system = System {
        name,
        service: service.unwrap_or(Service::ChilledWater),
        fluid,
        glycol_mass_fraction,
        design_flow: flow(page, &mut section, "design_flow", "\"68 m3/h\""),
        design_head: section.pressure(page, "design_head", density, HEAD, "\"162 kPa\""),
        supply_temperature,
        return_temperature,
        topology: section.word(page, "topology"),
        minimum_flow: flow(page, &mut section, "minimum_flow", "\"14 m3/h\""),
        bypass: section.word(page, "bypass"),
        static_head: section.pressure(page, "static_head", density, HEAD, "\"0 kPa\""),
        pumps_on_duty: section.count(page, "pumps_on_duty", 1000).map(|n| n as usize),
        serves: serves.unwrap_or(Serves::Comfort),
        frost_protection_below,
    };
    check_loop(page, &section, &system, service.is_some());
    let duty_line = section.line_of(page, "pumps_on_duty");
    section.finish(page);
    (service.is_some() || page.partial).then_some((system, density, duty_line))
}

impl System {
    /// Density of the fluid at the design supply temperature, or at a usual one where none is declared.
    #[must_use]
    pub fn density(&self) -> Density {
        let t = self.supply_temperature.unwrap_or_else(|| usual_supply(Some(self.service)));
        density(self.fluid, self.glycol_mass_fraction, t)
    }
    /// A loop of which nothing is known, so that the rest of a file can be checked when `[loop]` is broken.
    pub(super) fn unknown() -> Self {
        System {
            name: None,
            service: Service::ChilledWater,
            fluid: FluidKind::Water,
            glycol_mass_fraction: 0.0,
            design_flow: None,
            design_head: None,
            supply_temperature: None,
            return_temperature: None,
            topology: None,
            minimum_flow: None,
            bypass: None,
            static_head: None,
            pumps_on_duty: None,
            serves: Serves::Comfort,
            frost_protection_below: None,
        }
    }
}

/// Supply temperatures as loops are usually designed. Common practice, no source.
fn usual_supply(service: Option<Service>) -> Temperature {
    Temperature::celsius(match service {
        Some(Service::ChilledWater) | None => 7.0,
        Some(Service::HeatingWater) => 60.0,
        Some(Service::CondenserWater) => 30.0,
    })
}

fn fluid(page: &mut Page, section: &mut Section<'_>) -> (FluidKind, f64) {
    let fluid: Option<FluidKind> = section.word(page, "fluid");
    let share = section.number(page, "glycol_mass_fraction", GLYCOL, "0.3");
    if !section.has("fluid") && share.is_none_or(|s| s == 0.0) {
        page.assume("The fluid is water ([loop].fluid is not declared).");
    }
    let line = section.line_of(page, "glycol_mass_fraction");
    let fluid = fluid.unwrap_or(FluidKind::Water);
    match (fluid, share) {
        (FluidKind::Water, Some(share)) if share > 0.0 => {
            page.refuse(
                line,
                format!("glycol_mass_fraction in [loop] is {share} and the fluid is water"),
                "water has no glycol in it",
                "fluid = \"propylene-glycol\"   # or glycol_mass_fraction = 0.0",
            );
            (fluid, 0.0)
        }
        (FluidKind::Water, _) => (fluid, 0.0),
        (_, Some(share)) if share > 0.0 => (fluid, share),
        (_, Some(_)) => {
            page.refuse(
                line,
                format!("glycol_mass_fraction in [loop] is 0 and the fluid is {}", fluid.word()),
                "a glycol mixture has glycol in it",
                "glycol_mass_fraction = 0.3   # by mass, not by volume",
            );
            (fluid, USUAL_GLYCOL)
        }
        (_, None) if section.has("glycol_mass_fraction") => (fluid, USUAL_GLYCOL),
        (_, None) => {
            page.assume(format!(
                "The {} is {:.0} % by mass ([loop].glycol_mass_fraction is not declared).",
                fluid.word().replace('-', " "),
                100.0 * USUAL_GLYCOL
            ));
            (fluid, USUAL_GLYCOL)
        }
    }
}

fn check_loop(page: &mut Page, section: &Section<'_>, system: &System, service_known: bool) {
    if let (Some(least), Some(design)) = (system.minimum_flow, system.design_flow)
        && least > design
    {
        let line = section.line_of(page, "minimum_flow");
        let found = format!(
            "minimum_flow in [loop] is {:.1} m3/h, above the design flow of {:.1} m3/h",
            least.in_m3h(),
            design.in_m3h()
        );
        page.refuse(
            line,
            found,
            "the loop's least flow cannot exceed its design flow",
            format!("minimum_flow = \"{:.0} m3/h\"   # at most the design flow", design.in_m3h().floor()),
        );
    }
    let (Some(supply), Some(back)) = (system.supply_temperature, system.return_temperature) else { return };
    let heating = system.service == Service::HeatingWater;
    let wrong = if heating { supply <= back } else { supply >= back };
    if service_known && wrong {
        let line = section.line_of(page, "return_temperature");
        let (supply, back) = (supply.in_celsius(), back.in_celsius());
        let found = format!("[loop] supplies {supply:.1} degC and returns {back:.1} degC as {}", system.service.word());
        let rule = if heating {
            "heating water returns colder than it was supplied"
        } else {
            "water that cools returns warmer than it was supplied"
        };
        page.refuse(
            line,
            found,
            rule,
            format!("supply_temperature = \"{back:.1} degC\"\nreturn_temperature = \"{supply:.1} degC\""),
        );
    }
}

/// Heads in metres or feet need a density; say at which temperature it was taken where none was declared.
fn say_density(page: &mut Page, system: &System) {
    if page.heads_used && system.supply_temperature.is_none() {
        let t = usual_supply(Some(system.service)).in_celsius();
        page.assume(format!("Heads in metres or feet became pressures at the density of the fluid at {t:.0} degC ([loop].supply_temperature is not declared)."));
    }
}

fn check_duty(page: &mut Page, system: &System, pumps: &[Pump], line: usize) {
    if let Some(duty) = system.pumps_on_duty
        && duty > pumps.len()
        && !pumps.is_empty()
    {
        page.refuse(
            line,
            format!("pumps_on_duty in [loop] is {duty}"),
            format!("only {} [[pump]] tables are declared", pumps.len()),
            format!("pumps_on_duty = {}", pumps.len()),
        );
    }
}

/// Says where the design point is not one that the pumps can make at full speed. A notice: design figures are often generous.
fn check_reach(page: &mut Page, system: &System, pumps: &[Pump]) {
    let (Some(flow), Some(head)) = (system.design_flow, system.design_head) else { return };
    let Some((pump, curve)) = pumps.iter().find_map(|p| Some((p, p.curves.first().filter(|c| c.head_kpa.len() >= 2)?)))
    else {
        return;
    };
    let sharing = system.pumps_on_duty.unwrap_or(pumps.len()).max(1);
    let each = flow.in_m3h() / sharing as f64;
    let s = curve.speed.in_of_one();
    let (head, head_there) =
        (head.in_kpa(), head_at(&curve.head_flow_m3h, &curve.head_kpa, each * s).map(|h| h / (s * s)));
    let last = curve.head_flow_m3h.last().copied().unwrap_or(0.0) / s;
    match head_there {
        None if each > last => page.notice(format!("The design flow asks {each:.1} m3/h of each of {sharing} pumps, beyond the last tested flow of {}, {last:.1} m3/h.", pump.name)),
        Some(there) if head > there * (1.0 + HEAD_SLACK) => page.notice(format!("The design point asks {head:.0} kPa at {each:.1} m3/h of each of {sharing} pumps; {} makes {there:.0} kPa there at full speed.", pump.name)),
        Some(there) if head < there * FAR_BELOW => page.notice(format!("The design head of {head:.0} kPa is less than half of the {there:.0} kPa that {} makes at {each:.1} m3/h at full speed.", pump.name)),
        _ => {}
    }
}

fn schedules(page: &mut Page, sections: Vec<Section<'_>>) -> Vec<Schedule> {
    let mut schedules = Vec::new();
    for mut section in sections {
        let days = if section.has("days") {
            days(page, &mut section)
        } else {
            let _ = section.get("days");
            Some([true; 7])
        };
        let from = time(page, &mut section, "from", "06:00");
        let to = time(page, &mut section, "to", "20:00");
        if let (Some((from, _)), Some((to, end_of_day))) = (from, to) {
            if from == to && !end_of_day {
                let line = section.line_of(page, "to");
                let found = format!("from and to in [[schedule]] are both {}", from.format("%H:%M"));
                page.refuse(
                    line,
                    found,
                    "they must differ; 00:00 to 24:00 is the whole day",
                    "from = \"00:00\"\nto = \"24:00\"",
                );
            } else if let Some(days) = days {
                schedules.push(Schedule { days, from, to });
            }
        }
        section.finish(page);
    }
    schedules
}

fn days(page: &mut Page, section: &mut Section<'_>) -> Option<[bool; 7]> {
    let written = section.text(page, "days", "mon-fri")?;
    let days = calendar::days(&written);
    if days.is_none() {
        let line = section.line_of(page, "days");
        page.refuse(
            line,
            format!("days in [[schedule]] is \"{}\"", short(&written)),
            "it must be English weekdays, as a span or a list",
            "days = \"mon-fri\"   # or \"mon, wed, sat-sun\", \"daily\"",
        );
    }
    days
}

fn time(
    page: &mut Page,
    section: &mut Section<'_>,
    key: &'static str,
    example: &str,
) -> Option<(chrono::NaiveTime, bool)> {
    if !section.has(key) {
        let _ = section.get(key);
        page.refuse(
            section.line,
            format!("[[schedule]] has no {key}"),
            "a run has a beginning and an end",
            format!("{key} = \"{example}\""),
        );
        return None;
    }
    let written = section.stamp(page, key, example)?;
    let time = calendar::time_of_day(&written).filter(|(_, end)| !end || key == "to");
    if time.is_none() {
        let line = section.line_of(page, key);
        page.refuse(
            line,
            format!("{key} in [[schedule]] is \"{}\"", short(&written)),
            "it must be a local time from 00:00 to 23:59; to may also be 24:00",
            format!("{key} = \"{example}\""),
        );
    }
    time
}

fn trends(page: &mut Page, mut section: Section<'_>, site_zone: Tz) -> Option<TrendFiles> {
    let example = "[\"trends/*.csv\"]";
    let files = section.texts(page, "files", example);
    if !page.partial && (!section.has("files") || files.as_ref().is_some_and(Vec::is_empty)) {
        let line = section.line_of(page, "files");
        page.refuse(
            line,
            "[trends] names no files",
            "there is nothing to review without them",
            format!("files = {example}"),
        );
    }
    let zone = timezone(page, &mut section, "timezone");
    let day_first = section.flag(page, "day_first");
    let interval = section.quantity(page, "interval", &[Dimension::Time], INTERVAL, "\"5 min\"");
    let blank = section.word(page, "blank").unwrap_or(Blank::Missing);
    let written = Written {
        delimiter: section.word(page, "delimiter"),
        decimal: section.word(page, "decimal"),
        shape: section.word(page, "shape"),
    };
    let interval_s = interval.and_then(|(s, _)| whole_seconds(page, &section, s));
    section.finish(page);
    Some(TrendFiles {
        files: files.or_else(|| page.partial.then(Vec::new))?,
        timezone: zone.unwrap_or(site_zone),
        day_first,
        interval_s,
        blank,
        written,
    })
}

fn whole_seconds(page: &mut Page, section: &Section<'_>, seconds: f64) -> Option<i64> {
    if (seconds - seconds.round()).abs() < 1e-6 {
        return Some(seconds.round() as i64);
    }
    let line = section.line_of(page, "interval");
    page.refuse(
        line,
        format!("interval in [trends] is {seconds} s"),
        "it must be whole seconds",
        "interval = \"5 min\"",
    );
    None
}
