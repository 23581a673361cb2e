//! `offcurve verify`: a plant, its trends and a change to a memo and a summary of it.

use super::{
    Outcome,
    args::{Format, VerifyOptions},
    period, print, progress,
    review::{is_a_loss, use_threads},
    say, stages,
    summary::{Ink, summary},
};
use crate::report;
use std::path::Path;

/// Verifies a change of a plant file's loop.
pub fn plant(path: &Path, options: &VerifyOptions) -> Result<Outcome, String> {
    use_threads(options.running.jobs);
    let plant = stages::read_plant(path)?;
    let asked = period::change(options, plant.value.site.timezone)?;
    let mut trends = progress::beside(options.running.quiet, || stages::read_trends(&plant.value, None))?;
    let units = options.writing.units.map_or(plant.value.units, Into::into);
    trends.notices.splice(0..0, plant.notices);
    for notice in trends.notices.iter().filter(|n| is_a_loss(&n.text)) {
        say(options.running.quiet, &format!("offcurve: {}", notice.text));
    }
    let verification = stages::verify(plant.value, trends, &asked)?;
    let written = report::write_verification(&verification, &options.writing.out, units).map_err(|e| e.to_string())?;
    if written.notebook_kept {
        say(options.running.quiet, "verify.ipynb has been edited and was kept; the new one is verify.new.ipynb");
    }
    match options.running.format {
        Format::Json => print(&written.json)?,
        Format::Text if options.running.quiet => {}
        Format::Text => print(&summary(&written, Ink::of_stdout()))?,
    }
    Ok(Outcome::Done)
}
