//! `offcurve fleet`: every plant file below a folder to a report each, and one ranked page.

use super::{
    Outcome,
    args::{Format, ReviewOptions},
    period, print, progress,
    review::{is_a_loss, use_threads, within},
    say, stages,
};
use crate::{
    faults::Urgency,
    fleet::{Candidate, Fleet, Found, Line, work},
    report,
};
use std::{
    path::{Path, PathBuf},
    sync::{Arc, Mutex, PoisonError, atomic::AtomicUsize},
};

/// Files passed over that are named on stderr; the page holds all.
const NAMED: usize = 3;

/// Reviews the plants below a folder.
pub fn below(folder: &Path, options: &ReviewOptions) -> Result<Outcome, String> {
    use_threads(options.running.jobs);
    let quiet = options.running.quiet;
    // A slip in the period is one error, and not one a plant.
    period::asked(options, chrono_tz::UTC)?;
    let found = stages::plants_below(folder, &options.writing.out)?;
    if found.plants.is_empty() {
        return Err(none(folder, &found));
    }
    let results = review_all(&found, options);
    let losses: Vec<String> = results.iter().flatten().flat_map(|r| r.said.clone()).collect();
    let lines = results.into_iter().map(|r| r.map(|r| r.line)).collect();
    let fleet = Fleet::of(found, lines);
    for text in &losses {
        say(quiet, text);
    }
    for lost in &fleet.lost {
        let place = if lost.why.starts_with(&lost.path) { String::new() } else { format!("{}: ", lost.path) };
        say(quiet, &format!("offcurve: not reviewed: {place}{}", lost.why));
    }
    passed_over(&fleet, quiet);
    let (place, json) = report::write_fleet(&fleet, &options.writing.out).map_err(|e| e.to_string())?;
    match options.running.format {
        Format::Json => print(&json)?,
        Format::Text if quiet => {}
        Format::Text => print(&report::fleet::summary(&fleet, &place))?,
    }
    if fleet.lines().next().is_none() {
        return Err(format!(
            "{}: none of its {} plant files could be reviewed\nhint: offcurve review {}   # tries the first alone",
            folder.display(),
            fleet.lost.len(),
            folder.join(&fleet.lost[0].path).display()
        ));
    }
    let tripped = options.gate.map(Urgency::from).is_some_and(|least| fleet.urgency() >= Some(least));
    Ok(if tripped { Outcome::Gated } else { Outcome::Done })
}

fn none(folder: &Path, found: &Found) -> String {
    let met = match found.passed_over.len() {
        0 => "there is no plant file (.toml) below it".to_owned(),
        1 => format!("there is no plant file below it; {} is none", found.passed_over[0].shown),
        n => format!("there is no plant file below it; none of its {n} .toml files is one"),
    };
    format!(
        "{}: {met}\nhint: offcurve inspect FOLDER/trends --write FOLDER/plant.toml   # starts a plant file from a plant's exports",
        folder.display()
    )
}

/// What became of one plant, and what is to be said of it on the way.
struct Reviewed {
    line: Line,
    said: Vec<String>,
}

fn review_all(found: &Found, options: &ReviewOptions) -> Vec<Result<Reviewed, work::Stopped>> {
    let at_once =
        options.running.jobs.map_or_else(|| std::thread::available_parallelism().map_or(1, usize::from), usize::from);
    let done = Arc::new(AtomicUsize::new(0));
    let panics = Panics::held_back();
    let work = || work::each(&found.plants, at_once, &done, |c| one(c, options).map_err(|why| c.named(&why)));
    let mut results = progress::counted(options.running.quiet, found.plants.len(), &done, work);
    for result in &mut results {
        if let Err(work::Stopped::Defect(what)) = result {
            panics.place(what);
        }
    }
    results
}

/// One plant, from its file to its report and its line.
fn one(candidate: &Candidate, options: &ReviewOptions) -> Result<Reviewed, String> {
    if let Some(other) = &candidate.shares_with {
        return Err(format!(
            "its results would go to the same folder as those of {other}\nhint: give one of the two plant files another name"
        ));
    }
    let plant = stages::read_plant(&candidate.path)?;
    let asked = period::asked(options, plant.value.site.timezone)?;
    let (mut trends, window) = within(asked, |window| stages::read_trends(&plant.value, window))?;
    let units = options.writing.units.map_or(plant.value.units, Into::into);
    trends.notices.splice(0..0, plant.notices);
    let losses = trends.notices.iter().filter(|n| is_a_loss(&n.text));
    let mut said: Vec<String> = losses.map(|n| format!("offcurve: {}: {}", candidate.shown, n.text)).collect();
    let review = stages::judge(plant.value, trends, window)?;
    let folder = options.writing.out.join(PathBuf::from(&candidate.place));
    let written = report::write_line(&review, &folder, units).map_err(|e| e.to_string())?;
    if written.notebook_kept {
        said.push(format!(
            "offcurve: {}: review.ipynb has been edited and was kept; the new one is review.new.ipynb",
            candidate.shown
        ));
    }
    let dates = written.folder.file_name().unwrap_or_default().to_string_lossy();
    let line = Line {
        path: candidate.shown.clone(),
        folder: format!("{}/{dates}", candidate.place),
        extract: written.extract,
    };
    Ok(Reviewed { line, said })
}

fn passed_over(fleet: &Fleet, quiet: bool) {
    let all = &fleet.passed_over;
    if all.is_empty() {
        return;
    }
    let named: Vec<&str> = all.iter().take(NAMED).map(|p| p.shown.as_str()).collect();
    let more = if all.len() > NAMED { format!(" and {} more", all.len() - NAMED) } else { String::new() };
    say(quiet, &format!("offcurve: passed over (not plant files): {}{more}", named.join(", ")));
}

/// Message and place of each panic since; nothing of it is printed, since each becomes a plant's reason.
struct Panics(Arc<Mutex<Vec<(String, String)>>>);

impl Panics {
    fn held_back() -> Self {
        let seen = Arc::new(Mutex::new(Vec::new()));
        let keep = Arc::clone(&seen);
        std::panic::set_hook(Box::new(move |info| {
            let text = info.payload_as_str().unwrap_or_default().to_owned();
            let place = info.location().map_or_else(String::new, |l| format!("{}:{}", l.file(), l.line()));
            keep.lock().unwrap_or_else(PoisonError::into_inner).push((text, place));
        }));
        Self(seen)
    }

    /// Adds where a message came from.
    fn place(&self, message: &mut String) {
        let seen = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, place)) = seen.iter().find(|(text, _)| text == message) {
            message.push_str(&format!(", {place}"));
        }
    }
}

impl Drop for Panics {
    fn drop(&mut self) {
        let _ = std::panic::take_hook();
    }
}
