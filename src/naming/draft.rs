//! A plant file to start from, out of what the names say.
//!
//! What is sure stands filled in; the rest is commented, with the reason. Lines that must be filled in before a review
//! start with `#?`, those that would make it better with `#`.

use super::concepts::Concept::*;
use super::subjects::Name;
use super::{OfKind, Proposal, SURE, Seen, UnitFrom};
use crate::plant::{Belongs, Dimension, Role, Service, units};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

const HEAD: &str = "\
# A plant file to start from. Roles, owners and units were proposed from the names, units and values in the exports.
# Check every line. Lines that start with #? have to be filled in: take the two characters away and put what is yours.
# Lines that start with # may be: each makes the review know more.
";

const LOOP_FACTS: &str = "\
# name = \"\"                        # what the loop is called on site
# design_flow = \"68 m3/h\"          # design flow of the loop: hydraulic schedule, or the pumps' duty on the schedule
# design_head = \"162 kPa\"          # head at that flow: the same schedule
# supply_temperature = \"6 degC\"    # design temperatures: schedule of the chillers or boilers
# return_temperature = \"12 degC\"
# topology = \"primary-only\"        # primary-only, constant-primary, secondary, tertiary, district-direct, heat-exchanger: schematic
# minimum_flow = \"14 m3/h\"         # the least flow the machines need: their data sheets
# bypass = \"two-way\"               # none, two-way, three-way-coils, decoupler: schematic

# [control]                        # what the drive or controller is set to. Read it there and change nothing
# mode = \"constant-pressure\"       # constant-pressure, remote-pressure, proportional, quadratic, constant-flow, fixed-speed, external
# setpoint = \"90 kPa\"
# minimum_speed = \"35 %\"
# maximum_speed = \"100 %\"

# [[schedule]]                     # when the loop is meant to run: the controller's timetable
# days = \"mon-fri\"
# from = \"06:00\"
# to = \"20:00\"
";

const PUMP_FACTS: &str = "\
# rated_speed = \"1450 rpm\"         # motor's name plate; what 100 % means
# rated_frequency = \"50 Hz\"        # motor's name plate
# motor_power = \"7.5 kW\"           # motor's name plate
# motor_efficiency = 0.904         # motor's name plate or data sheet, at full load
# minimum_allowed_speed = \"30 %\"   # the maker's limit for pump, seal and motor: their manuals
# [[pump.curve]]                   # the pump's test curve or data sheet: six points or so at one speed
# speed = \"100 %\"
# power_is = \"shaft\"
# flow = { unit = \"m3/h\", values = [0, 20, 40, 60, 80, 90] }
# head = { unit = \"kPa\", values = [212, 210, 202, 183, 150, 127] }
# power = { unit = \"kW\", values = [1.8, 2.6, 3.4, 4.1, 4.7, 4.9] }
";

/// Text of a plant file: what is sure filled in, the rest commented with its reason.
#[must_use]
pub fn plant_file(points: &[(Seen<'_>, Proposal)], files: &[String], timezone: Option<&str>) -> String {
    plant_file_of(points, &[], files, timezone)
}

/// The same. `narrowed`: by point, the files that it is in, where its name stands in others too.
#[must_use]
pub fn plant_file_of(
    points: &[(Seen<'_>, Proposal)],
    narrowed: &[Option<String>],
    files: &[String],
    timezone: Option<&str>,
) -> String {
    let services: Vec<Option<Service>> = points.iter().map(|(seen, _)| medium(seen)).collect();
    let (service, why) = guess(&services);
    let met = Met::of(points, &services, service);
    let mut out = String::from(HEAD);
    out.push_str("\n[site]\n");
    match timezone {
        Some(zone) => _ = writeln!(out, "timezone = {}", quoted(zone)),
        None => {
            out.push_str("#? timezone = \"Europe/Lisbon\"      # the clock the exports are written in, Region/City\n");
        }
    }
    out.push_str("\n[loop]\n");
    match service {
        Some(service) => _ = writeln!(out, "service = \"{}\"   # {why}: check", service.word()),
        None => {
            _ = writeln!(
                out,
                "#? service = \"chilled-water\"        # chilled-water, heating-water or condenser-water; {why}"
            );
        }
    }
    out.push_str(LOOP_FACTS);
    met.write(&mut out);
    let list: Vec<String> = files.iter().map(|f| quoted(f)).collect();
    out.push_str("\n[trends]\n");
    if files.is_empty() {
        out.push_str("#? files = [\"trends/*.csv\"]         # the exports, from this file's folder\n");
    } else {
        let _ = writeln!(out, "files = [{}]", list.join(", "));
    }
    write_points(&mut out, points, narrowed, (&services, service), &met);
    out
}

/// The medium that a name speaks of.
fn medium(seen: &Seen<'_>) -> Option<Service> {
    let name = Name::read(seen);
    match name.medium() {
        Some(Chilled) => Some(Service::ChilledWater),
        Some(Heating) => Some(Service::HeatingWater),
        Some(Condenser) => Some(Service::CondenserWater),
        _ if name.has(Cooling) && name.has(Valve) => Some(Service::ChilledWater),
        _ if name.any(&[Heat, Reheat]) && name.has(Valve) => Some(Service::HeatingWater),
        _ => None,
    }
}

/// The loop's service, where most of the names that tell one agree.
fn guess(services: &[Option<Service>]) -> (Option<Service>, String) {
    let told: Vec<Service> = services.iter().flatten().copied().collect();
    let most = Service::ALL.iter().map(|s| (told.iter().filter(|t| *t == s).count(), *s)).max_by_key(|c| c.0);
    match most {
        Some((count, service)) if count * 3 >= told.len() * 2 && count > 0 => {
            (Some(service), format!("{count} of {} names that tell a medium say so", told.len()))
        }
        _ if told.is_empty() => (None, "no name tells it".to_owned()),
        _ => (None, "the names tell of several media, and a plant file holds one loop".to_owned()),
    }
}

/// Equipment that the points belong to.
struct Met {
    pumps: BTreeSet<String>,
    coils: BTreeSet<String>,
    sources: BTreeSet<String>,
}

impl Met {
    fn of(points: &[(Seen<'_>, Proposal)], services: &[Option<Service>], service: Option<Service>) -> Self {
        let mut met = Self { pumps: BTreeSet::new(), coils: BTreeSet::new(), sources: BTreeSet::new() };
        for ((_, proposal), own) in points.iter().zip(services) {
            if proposal.confidence < SURE || is_elsewhere(*own, service) {
                continue;
            }
            let (Some(role), Some(of)) = (proposal.role, &proposal.of) else { continue };
            let Some(list) = met.list(role, proposal.of_kind) else { continue };
            list.insert(of.clone());
        }
        met
    }
    fn list(&mut self, role: Role, kind: Option<OfKind>) -> Option<&mut BTreeSet<String>> {
        match (role.belongs(), kind) {
            (Belongs::Pump | Belongs::PumpOrAll, Some(OfKind::Pump)) => Some(&mut self.pumps),
            (Belongs::Coil | Belongs::CoilOrAll, Some(OfKind::Coil)) => Some(&mut self.coils),
            (Belongs::Source, Some(OfKind::Source)) => Some(&mut self.sources),
            _ => None,
        }
    }
    fn write(&self, out: &mut String) {
        for name in &self.sources {
            let _ = writeln!(out, "\n[[source]]\nname = {}", quoted(name));
            out.push_str("# minimum_flow = \"12 m3/h\"         # while it runs: the machine's data sheet\n");
        }
        for name in &self.coils {
            let _ = writeln!(out, "\n[[coil]]\nname = {}", quoted(name));
            out.push_str("# design_flow = \"17 m3/h\"          # schedule of the terminal units\n");
            out.push_str("# valve = \"two-way\"                # two-way, three-way, pressure-independent, thermostatic, none: schematic\n");
        }
        for name in &self.pumps {
            let _ = writeln!(out, "\n[[pump]]\nname = {}", quoted(name));
            out.push_str(PUMP_FACTS);
        }
        if self.pumps.is_empty() {
            out.push_str("\n#? [[pump]]                      # one for each pump of the loop\n#? name = \"P-1\"\n");
        }
    }
}

/// Whether a plant file reads the name: one line, not empty, not endless.
fn is_writable(name: &str) -> bool {
    !name.trim().is_empty() && name.chars().count() <= 200 && !name.chars().any(char::is_control)
}

/// Whether the name speaks of another loop than the file is for.
fn is_elsewhere(own: Option<Service>, service: Option<Service>) -> bool {
    matches!((own, service), (Some(own), Some(service)) if own != service)
}

fn write_points(
    out: &mut String,
    points: &[(Seen<'_>, Proposal)],
    narrowed: &[Option<String>],
    (services, service): (&[Option<Service>], Option<Service>),
    met: &Met,
) {
    let mut times: BTreeMap<&str, usize> = BTreeMap::new();
    points.iter().for_each(|(seen, _)| *times.entry(seen.name).or_insert(0) += 1);
    let mut doubtful = String::new();
    let mut without = String::new();
    for (i, ((seen, proposal), own)) in points.iter().zip(services).enumerate() {
        let file = narrowed.get(i).and_then(Option::as_deref);
        let Some(role) = proposal.role else {
            let _ = writeln!(without, "# {}: {}", quoted(&one_line(seen.name)), one_line(&proposal.why));
            continue;
        };
        let several = file.is_none() && times.get(seen.name).copied().unwrap_or(0) > 1;
        let doubt = match () {
            () if !is_writable(seen.name) => Some("a plant file takes names of one line and at most 200 characters"),
            () if is_elsewhere(*own, service) => Some("it belongs to another loop, which needs its own plant file"),
            () if several => Some("several columns bear this name: say which with file = \"...\""),
            () if is_ownerless(role, proposal, met) => Some("say which it belongs to with of = \"...\""),
            () if proposal.confidence < SURE => Some(""),
            () => None,
        };
        let point = block(seen, file, proposal, role);
        match doubt {
            None => _ = write!(out, "\n{point}"),
            Some(doubt) => {
                let reason = one_line(&proposal.why);
                let doubt = if doubt.is_empty() { String::new() } else { format!(" But {doubt}.") };
                let _ = writeln!(doubtful, "\n# {:.2}: {reason}{doubt}", proposal.confidence);
                point.lines().for_each(|line| _ = writeln!(doubtful, "# {line}"));
            }
        }
    }
    if !doubtful.is_empty() {
        let _ = write!(
            out,
            "\n# ---- Points to decide on: the proposal is doubtful. Take the # away where it is right.\n{doubtful}"
        );
    }
    if !without.is_empty() {
        let _ = write!(out, "\n# ---- Columns without a role. Give them a [[point]] where you know better.\n{without}");
    }
}

/// A pump's, coil's or source's point that does not say whose, where there is more than one to choose from or none.
fn is_ownerless(role: Role, proposal: &Proposal, met: &Met) -> bool {
    let known = match role.belongs() {
        Belongs::Pump => &met.pumps,
        Belongs::Coil => &met.coils,
        Belongs::Source => &met.sources,
        _ => return false,
    };
    match &proposal.of {
        Some(of) => !known.contains(of),
        None => known.len() != 1,
    }
}

/// The `[[point]]` of a proposal.
fn block(seen: &Seen<'_>, file: Option<&str>, proposal: &Proposal, role: Role) -> String {
    let mut out = format!("[[point]]\nname = {}\n", quoted(seen.name));
    if let Some(file) = file {
        let _ = writeln!(out, "file = {}", quoted(file));
    }
    let _ = writeln!(out, "role = \"{}\"", role.word());
    let owned = matches!(
        (role.belongs(), proposal.of_kind),
        (Belongs::Pump | Belongs::PumpOrAll, Some(OfKind::Pump))
            | (Belongs::Coil | Belongs::CoilOrAll, Some(OfKind::Coil))
            | (Belongs::Source, Some(OfKind::Source))
    );
    if let (true, Some(of)) = (owned, &proposal.of) {
        let _ = writeln!(out, "of = {}", quoted(of));
    }
    let fits = |unit: &str| units::unit(unit).ok().map(|u| u.dimension);
    match proposal.unit.as_deref().and_then(|u| Some((u, fits(u)?))) {
        Some((unit, Dimension::Voltage | Dimension::Current)) if !role.dimensions().contains(&Dimension::Current) => {
            let range = if unit == "V" { "[0, 10]" } else { "[4, 20]" };
            let _ =
                writeln!(out, "unit = {}\nrange = {range}   # the readings that mean 0 and 100 %: check", quoted(unit));
        }
        Some((unit, _)) if proposal.unit_from == Some(UnitFrom::Values) => {
            let _ = writeln!(out, "unit = {}   # read off the values: check", quoted(unit));
        }
        Some((unit, dimension)) if role.dimensions().contains(&dimension) => {
            let _ = writeln!(out, "unit = {}", quoted(unit));
        }
        _ if role.dimensions() != [Dimension::Count] => {
            let usual = role.dimensions().first().map(|d| d.si()).filter(|u| !u.is_empty()).unwrap_or("%");
            let _ = writeln!(out, "#? unit = {}   # the export does not tell it", quoted(usual));
        }
        _ => {}
    }
    out
}

/// A TOML string.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if is_hidden(c) => _ = write!(out, "\\u{:04X}", c as u32),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// Control characters and what turns the direction of writing: never as such in a file that a person reads.
fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}' | '\u{200b}'..='\u{200f}')
}

/// Longest piece of foreign text in a comment [characters].
const COMMENT: usize = 160;

/// Text for a comment or a sentence: one line, nothing hidden, not endless.
pub fn one_line(text: &str) -> String {
    let mut out: String = text.chars().take(COMMENT).map(|c| if is_hidden(c) { ' ' } else { c }).collect();
    if text.chars().nth(COMMENT).is_some() {
        out.push_str("...");
    }
    out
}
