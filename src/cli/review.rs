//! `offcurve review`, and `offcurve` alone: a plant and its trends to a report and a summary of it.

use super::{
    Outcome,
    args::{Format, ReviewOptions},
    period, print, progress, sample, say,
    stages::{self, Window},
    summary::{Ink, summary},
};
use crate::{
    faults::{Urgency, Verdict},
    ingest::Trends,
    notice::Noticed,
    pipeline::Review,
    plant::Plant,
    report,
};
use std::path::Path;

/// Reviews a plant file.
pub fn plant(path: &Path, options: &ReviewOptions) -> Result<Outcome, String> {
    use_threads(options.running.jobs);
    let plant = stages::read_plant(path)?;
    let asked = period::asked(options, plant.value.site.timezone)?;
    let read = |window| progress::beside(options.running.quiet, || stages::read_trends(&plant.value, window));
    let (trends, window) = within(asked, read)?;
    finish(plant, trends, window, options)
}

/// Reviews the sample plant that is built in.
pub fn sample(options: &ReviewOptions) -> Result<Outcome, String> {
    use_threads(options.running.jobs);
    let text = sample::plant_file().ok_or("the built-in sample has no plant file; this is a defect of the build")?;
    let plant = stages::parse_plant(text, &Path::new(sample::NAME).join("plant.toml"))?;
    let asked = period::asked(options, plant.value.site.timezone)?;
    say(options.running.quiet, "reviewing the sample plant that is built in; for your own: offcurve review PLANT.toml");
    let files = sample::files();
    let (trends, window) = within(asked, |window| stages::trends_from_bytes(&plant.value, &files, window))?;
    finish(plant, trends, window, options)
}

/// The trends of the period asked for, and that period. With one end open the record is read twice: first to see where it ends,
/// since the stages judge every row they are given.
pub(super) fn within(
    asked: period::Asked,
    read: impl Fn(Window) -> Result<Noticed<Trends>, String>,
) -> Result<(Noticed<Trends>, Window), String> {
    let whole = asked.from_ms.zip(asked.to_ms);
    let trends = read(whole)?;
    let window = window(asked, &trends.value)?;
    let trends = if window == whole { trends } else { read(window)? };
    Ok((trends, window))
}

fn finish(
    plant: Noticed<Plant>,
    mut trends: Noticed<Trends>,
    window: Window,
    options: &ReviewOptions,
) -> Result<Outcome, String> {
    let units = options.writing.units.map_or(plant.value.units, Into::into);
    trends.notices.splice(0..0, plant.notices);
    for notice in trends.notices.iter().filter(|n| is_a_loss(&n.text)) {
        say(options.running.quiet, &format!("offcurve: {}", notice.text));
    }
    let review = stages::judge(plant.value, trends, window)?;
    let written = report::write(&review, &options.writing.out, units).map_err(|e| e.to_string())?;
    if written.notebook_kept {
        say(options.running.quiet, "review.ipynb has been edited and was kept; the new one is review.new.ipynb");
    }
    match options.running.format {
        Format::Json => print(&written.json)?,
        Format::Text if options.running.quiet => {}
        Format::Text => print(&summary(&written, Ink::of_stdout()))?,
    }
    Ok(gate(&review, options))
}

/// Files and points that the plant file names and the review has to do without: who runs it should hear that at once.
pub(super) fn is_a_loss(text: &str) -> bool {
    text.ends_with("the file was left out") || text.contains("is in no trend file")
}

/// The period to review: what was asked for, with a missing end taken from the record; `None` is the whole record.
fn window(asked: period::Asked, trends: &Trends) -> Result<Window, String> {
    let clock = trends.clock;
    let record = (clock.at_ms(0), clock.at_ms(clock.len));
    let (from, to) = match (asked.from_ms, asked.to_ms) {
        (None, None) => return Ok(None),
        (from, to) => (from.unwrap_or(record.0), to.unwrap_or(record.1)),
    };
    if from >= record.1 || to <= record.0 || from >= to {
        let at = |ms: i64| report::json::utc(ms);
        return Err(format!(
            "--from, --to: no trends in the period asked for, the record runs from {} to {}\nhint: leave out --from, --to and --month to review all of it",
            at(record.0),
            at(record.1)
        ));
    }
    // A period asked for as a whole is a clock of its own, which may lie beside the record.
    if trends.series.iter().all(|s| s.values.iter().all(|v| v.is_nan())) {
        return Err("--from, --to: no reading of any point lies in the period asked for\nhint: leave out --from, --to and --month to review all of the record".to_owned());
    }
    Ok(Some((from, to)))
}

/// polars asks the environment how many threads to start, once, before its first query; rayon is told.
pub(super) fn use_threads(jobs: Option<u16>) {
    if let Some(jobs) = jobs {
        // Refused only where the pool has started, which nothing does before this.
        let _ = rayon::ThreadPoolBuilder::new().num_threads(usize::from(jobs)).build_global();
        // SAFETY: no other thread runs yet: none is started before the stages, and polars starts its own at its first query.
        #[expect(unsafe_code, reason = "one thread runs yet; polars reads this variable once, when its pool starts")]
        unsafe {
            std::env::set_var("POLARS_MAX_THREADS", jobs.to_string());
        };
    }
}

fn gate(review: &Review, options: &ReviewOptions) -> Outcome {
    let Some(least) = options.gate.map(Urgency::from) else { return Outcome::Done };
    let urgent = |v: &Verdict| matches!(v, Verdict::Found(f) if f.urgency >= least);
    if review.verdicts.iter().any(urgent) { Outcome::Gated } else { Outcome::Done }
}
