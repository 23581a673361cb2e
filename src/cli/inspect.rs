//! `offcurve inspect`: exports of any shape to what was understood of them, and a plant file to start from.

use super::args::{Format, InspectOptions};
use super::review::use_threads;
use super::{Outcome, print, progress, say, stages};
use crate::plant::Plant;
use chrono_tz::Tz;
use std::path::{Path, PathBuf};

/// Looks at files, folders and archives.
pub fn files(paths: &[PathBuf], options: &InspectOptions) -> Result<Outcome, String> {
    use_threads(options.running.jobs);
    let plant = plant(options)?;
    let all = stages::files_at(paths);
    let inspection = progress::beside(options.running.quiet, || stages::inspect(&plant, &all))?;
    for file in inspection.looked.files.iter().filter(|f| f.error.is_some()) {
        let error = file.error.as_deref().unwrap_or_default();
        let place =
            if error.starts_with(&file.ledger.path) { String::new() } else { format!("{}: ", file.ledger.path) };
        say(options.running.quiet, &format!("offcurve: {place}{error}"));
    }
    if plant.trends.timezone == chrono_tz::UTC && options.timezone.is_none() {
        say(
            options.running.quiet,
            "offcurve: times without an offset were read as UTC; for another clock: --timezone Europe/Lisbon",
        );
    }
    if let Some(path) = &options.table {
        if let Some(file) = inspection.looked.files.iter().find(|f| f.unread_from.is_some()) {
            return Err(format!(
                "--table: {} holds more readings than inspect takes, so the table would not be whole\nhint: name fewer files, or export fewer points or a shorter period",
                file.ledger.path
            ));
        }
        stages::save(path, &stages::samples_table(&inspection)?, true)?;
    }
    if let Some(path) = &options.write {
        let folder = path.parent().unwrap_or(Path::new(""));
        let names: Vec<String> = paths.iter().flat_map(|p| stages::patterns(p, folder)).collect();
        let text = inspection.plant_file(&names, options.timezone.as_deref(), folder);
        stages::save(path, text.as_bytes(), false)?;
        say(
            options.running.quiet,
            &format!("offcurve: {} is a plant file to start from; fill in what is marked #? in it", path.display()),
        );
    }
    match options.running.format {
        Format::Json => print(&stages::inspection_json(&inspection))?,
        Format::Text if options.running.quiet => {}
        Format::Text => print(&stages::inspection_text(&inspection))?,
    }
    Ok(Outcome::Done)
}

/// What is known before: a plant file's trends and points, or a clock and an order of dates.
fn plant(options: &InspectOptions) -> Result<Plant, String> {
    let named = |name: &str| {
        name.parse::<Tz>().map_err(|_| {
            format!("--timezone: \"{name}\" is not a time zone written Region/City\nhint: --timezone Europe/Lisbon, or --timezone UTC")
        })
    };
    let timezone = options.timezone.as_deref().map(named).transpose()?;
    let mut plant = match &options.plant {
        Some(path) => stages::read_plant_for_exports(path)?.value,
        None => Plant::bare(timezone.unwrap_or(chrono_tz::UTC), options.day_first),
    };
    if let Some(timezone) = timezone {
        plant.trends.timezone = timezone;
    }
    plant.trends.day_first = options.day_first.or(plant.trends.day_first);
    Ok(plant)
}
