//! `offcurve inspect`: exports of any shape to what was understood of them, and a plant file to start from.

use super::args::{Format, InspectOptions};
use super::review::use_threads;
use super::{Outcome, print, say, stages};
use crate::plant::Plant;
use chrono_tz::Tz;
use std::path::{Path, PathBuf};

/// Looks at files, folders and archives.
pub fn files(paths: &[PathBuf], options: &InspectOptions) -> Result<Outcome, String> {
    use_threads(options.jobs);
    let plant = plant(options)?;
    let mut all: Vec<PathBuf> = Vec::new();
    for path in paths {
        if path.is_dir() {
            let below = stages::files_below(path);
            if below.is_empty() {
                return Err(format!(
                    "{}: the folder holds no files\nhint: name the exports, or the folder that holds them",
                    path.display()
                ));
            }
            all.extend(below);
        } else {
            all.push(path.clone());
        }
    }
    let inspection = stages::inspect(&plant, &all)?;
    for file in inspection.looked.files.iter().filter(|f| f.error.is_some()) {
        let error = file.error.as_deref().unwrap_or_default();
        let place =
            if error.starts_with(&file.ledger.path) { String::new() } else { format!("{}: ", file.ledger.path) };
        say(options.quiet, &format!("offcurve: {place}{error}"));
    }
    if options.plant.is_none() && options.timezone.is_none() {
        say(
            options.quiet,
            "offcurve: times without an offset were read as UTC; --timezone Europe/Lisbon (say) reads them on that clock",
        );
    }
    if let Some(path) = &options.table {
        put(path, &stages::samples_table(&inspection)?)?;
    }
    if let Some(path) = &options.write {
        if path.exists() {
            return Err(format!(
                "{}: there is such a file already\nhint: name another one after --write, or move it away",
                path.display()
            ));
        }
        let names: Vec<String> = paths.iter().map(|p| as_pattern(p, path)).collect();
        put(path, inspection.plant_file(&names, options.timezone.as_deref()).as_bytes())?;
        say(
            options.quiet,
            &format!("offcurve: {} is a plant file to start from; fill in what is marked #? in it", path.display()),
        );
    }
    match options.format {
        Format::Json => print(&stages::inspection_json(&inspection))?,
        Format::Text if options.quiet => {}
        Format::Text => print(&stages::inspection_text(&inspection))?,
    }
    Ok(Outcome::Done)
}

/// What is known before: a plant file's trends and points, or a clock and an order of dates.
fn plant(options: &InspectOptions) -> Result<Plant, String> {
    let named = |name: &str| {
        name.parse::<Tz>().map_err(|_| {
            format!("--timezone: \"{name}\" is no time zone\nhint: --timezone Europe/Lisbon, or --timezone UTC")
        })
    };
    let timezone = options.timezone.as_deref().map(named).transpose()?;
    let mut plant = match &options.plant {
        Some(path) => stages::read_plant(path)?.value,
        None => Plant::bare(timezone.unwrap_or(chrono_tz::UTC), options.day_first),
    };
    if let Some(timezone) = timezone {
        plant.trends.timezone = timezone;
    }
    plant.trends.day_first = options.day_first.or(plant.trends.day_first);
    Ok(plant)
}

/// A file as the new plant file names it: from its own folder, where that leads there.
fn as_pattern(file: &Path, plant: &Path) -> String {
    let absolute = |p: &Path| std::path::absolute(p).unwrap_or_else(|_| p.to_owned());
    let (file_at, folder) = (absolute(file), absolute(plant).parent().map(Path::to_owned).unwrap_or_default());
    let shown = file_at.strip_prefix(&folder).map_or(file_at.clone(), Path::to_owned);
    let text =
        shown.components().map(|c| c.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/").replace("//", "/");
    if file.is_dir() { format!("{text}/*") } else { text }
}

fn put(path: &Path, bytes: &[u8]) -> Result<(), String> {
    std::fs::write(path, bytes).map_err(|e| format!("{}: could not be written: {e}", path.display()))
}
