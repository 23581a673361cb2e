//! The stage itself: files to sheets, sheets to samples, samples to trends on one clock, and what to say about it.

use super::align::{failed, flat_hours, place};
use super::error::IngestError;
use super::gathering::Gathering;
use super::ledger::reason;
use super::open::matching;
use super::rhythm::Rhythm;
use super::samples::{Samples, bulk};
use super::undeclared::unit_of;
use super::{Clock, Ledger, PointLedger, Series, Trends};
use crate::notice::{Notice, Noticed};
use crate::plant::{Plant, Role};
use rayon::prelude::*;
use std::path::Path;

/// Interval where no point is logged regularly [s]: common practice for trending hydronic plants, no source.
const DEFAULT_INTERVAL_S: i64 = 300;
/// A longer interval is no trend [s]: a month.
const LONGEST_INTERVAL_S: i64 = 31 * 86_400;
/// Rows times points of one review: 14 points a minute over a year are 7 million, and 150 million are 1.2 GB.
const MOST_CELLS: i64 = 150_000_000;

/// Reads the files that the plant's `[trends].files` name and lays its points on one clock.
///
/// `window`: the period asked for [ms UTC], from inclusive, to exclusive; the clock then spans it whole.
///
/// # Errors
/// Where no file could be read, the dates are ambiguous, or no declared point has a valid reading.
pub fn read(plant: &Plant, window: Option<(i64, i64)>) -> Result<Noticed<Trends>, IngestError> {
    let mut gathering = Gathering::declared(plant);
    let mut seen: Vec<std::path::PathBuf> = Vec::new();
    for pattern in &plant.trends.files {
        let found = matching(&plant.dir, pattern);
        if found.is_empty() {
            gathering.say(format!("[trends].files: no file matches \"{pattern}\""));
        }
        seen.extend(found);
    }
    seen.sort();
    seen.dedup();
    if seen.is_empty() {
        let patterns = plant.trends.files.iter().map(|p| format!("\"{p}\"")).collect::<Vec<_>>().join(", ");
        return Err(IngestError::NoFiles { patterns, dir: plant.dir.display().to_string() });
    }
    for path in &seen {
        let shown = relative(path, &plant.dir);
        gathering.path(path, &shown)?;
    }
    gathering.align(window)
}

/// The same as [`read`] with the whole record, from memory: name and bytes of each file.
///
/// # Errors
/// As [`read`].
pub fn from_bytes(plant: &Plant, files: &[(String, &[u8])]) -> Result<Noticed<Trends>, IngestError> {
    from_bytes_within(plant, files, None)
}

/// The same as [`read`], from memory.
///
/// # Errors
/// As [`read`].
pub fn from_bytes_within(
    plant: &Plant,
    files: &[(String, &[u8])],
    window: Option<(i64, i64)>,
) -> Result<Noticed<Trends>, IngestError> {
    let mut gathering = Gathering::declared(plant);
    for (path, bytes) in files {
        gathering.bytes(bytes, path)?;
    }
    gathering.align(window)
}

fn relative(path: &Path, dir: &Path) -> String {
    let inside = path.strip_prefix(dir).unwrap_or(path);
    inside.components().map(|c| c.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/")
}

impl Gathering<'_> {
    fn align(mut self, window: Option<(i64, i64)>) -> Result<Noticed<Trends>, IngestError> {
        if self.losses.len() == self.accounts.len()
            && let Some(first) = self.losses.first()
        {
            return Err(match self.losses.len() {
                1 => first.clone(),
                count => IngestError::AllLost { count, first: Box::new(first.clone()) },
            });
        }
        let mut samples = self.merge();
        let units = self.units(&mut samples);
        if let Some((from, to)) = bulk(&samples) {
            for (s, p) in samples.iter_mut().zip(&self.plant.points) {
                s.keep(from, to, &p.name, &mut self.accounts);
            }
        }
        samples.par_iter_mut().for_each(Samples::measure);
        let blank = self.plant.trends.blank;
        let rhythms: Vec<Rhythm> = samples.par_iter().map(|s| Rhythm::of(s, blank)).collect();
        let clock = self.clock(&samples, &rhythms, window)?;
        let ends = self.file_ends(&samples);
        if let Some((from, to)) = window {
            for (s, point) in samples.iter().zip(&self.plant.points).filter(|(_, p)| p.role != Role::Ignore) {
                s.book(|t| !(from..to).contains(&t), reason::OUTSIDE, &point.name, &mut self.accounts);
            }
        }
        let plant = self.plant;
        let laid = |(i, (s, rhythm)): (usize, (Samples, Rhythm))| {
            let point = &plant.points[i];
            let facts = Facts::of(&s, rhythm, window);
            (facts, place(s, rhythm, &clock, (point.role, blank), &ends))
        };
        let both = samples.into_par_iter().zip(rhythms).enumerate();
        let laid: Vec<_> =
            both.filter(|(i, _)| plant.points[*i].role != Role::Ignore).map(|(i, b)| (i, laid((i, b)))).collect();
        let mut series = Vec::with_capacity(laid.len());
        for (i, (facts, values)) in laid {
            let point = &plant.points[i];
            facts.into(&mut self.points[i]);
            series.push(Series {
                name: point.name.clone(),
                role: point.role,
                of: point.of.clone(),
                point: i,
                unit: unit_of(plant, point, units[i].as_ref()),
                values: values.map_err(|e| failed(&point.name, &e))?,
            });
        }
        self.say_refusals();
        let ledger = Ledger {
            files: self.accounts.into_iter().map(|a| a.file).collect(),
            points: self
                .points
                .into_iter()
                .zip(&self.plant.points)
                .filter(|(_, p)| p.role != Role::Ignore)
                .map(|(l, _)| l)
                .collect(),
        };
        Ok(Noticed { value: Trends { clock, series, ledger }, notices: self.notices })
    }

    /// The name in the exports that a point nobody found most likely means.
    fn meant(&self, name: &str) -> String {
        let unclaimed = self.accounts.iter().flat_map(|a| &a.file.refused).filter(|r| r.reason == reason::UNCLAIMED);
        let names = unclaimed.map(|r| r.example.as_str());
        let likeness = |n: &str| strsim::jaro_winkler(&n.to_lowercase(), &name.to_lowercase());
        names
            .map(|n| (likeness(n), n))
            .filter(|(like, _)| *like >= LIKE)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map_or_else(String::new, |(_, near)| format!("; the nearest name there is \"{near}\""))
    }

    fn merge(&mut self) -> Vec<Samples> {
        let pieces = std::mem::take(&mut self.pieces);
        let mut all = Vec::with_capacity(pieces.len());
        for (point, pieces) in self.plant.points.iter().zip(pieces) {
            if pieces.is_empty() && point.role != Role::Ignore {
                let narrowed = point.file.as_ref().map_or(String::new(), |f| format!(" named \"{f}\""));
                let meant = self.meant(&point.name);
                let text = format!("point \"{}\" is in no trend file{narrowed}{meant}", point.name);
                self.notices.push(Notice::new("ingest", text));
            }
            all.push(Samples::merge(pieces, &point.name, &mut self.accounts));
        }
        all
    }

    fn clock(
        &mut self,
        samples: &[Samples],
        rhythms: &[Rhythm],
        window: Option<(i64, i64)>,
    ) -> Result<Clock, IngestError> {
        let first = samples.iter().filter_map(|s| s.readings().next().map(|r| r.0)).min();
        let last = samples.iter().filter_map(|s| s.readings().next_back().map(|r| r.0)).max();
        let (Some(first), Some(last)) = (first, last) else { return Err(self.nothing_claimed()) };
        let step_s = self
            .plant
            .trends
            .interval_s
            .filter(|s| (1..=LONGEST_INTERVAL_S).contains(s))
            .unwrap_or_else(|| self.interval_s(rhythms));
        let step = step_s.saturating_mul(1000);
        let (from, to) = window.unwrap_or((first, last + 1));
        let start_ms = from.div_euclid(step) * step;
        let rows = (to.saturating_sub(start_ms) as u64).div_ceil(step as u64) as i64;
        let rows = if to <= start_ms { 0 } else { rows };
        let limit = MOST_CELLS / samples.len().max(1) as i64;
        if rows > limit {
            return Err(IngestError::TooLong { days: (to - from) / 86_400_000, step_s, rows, limit });
        }
        Ok(Clock { start_ms, step_s, len: rows as usize })
    }

    /// The interval most points are logged at; the finer of two as common.
    fn interval_s(&mut self, rhythms: &[Rhythm]) -> i64 {
        let mut intervals: Vec<i64> = rhythms
            .iter()
            .filter_map(|r| match r {
                Rhythm::Regular(ms) => Some((ms / 1000).max(1)),
                Rhythm::OnChange(_) => None,
            })
            .collect();
        intervals.sort_unstable();
        let most = intervals.chunk_by(|a, b| a == b).reduce(|a, b| if b.len() > a.len() { b } else { a });
        most.map_or_else(|| {
            self.say(format!(
                "no point is logged at regular intervals; the record was laid on a grid of {} min (interval = \"…\" under [trends] sets another)",
                DEFAULT_INTERVAL_S / 60
            ));
            DEFAULT_INTERVAL_S
        }, |run| run[0])
    }

    fn nothing_claimed(&self) -> IngestError {
        let path = self.accounts.first().map_or(String::new(), |a| a.file.path.clone());
        let mut names: Vec<String> = self
            .accounts
            .iter()
            .flat_map(|a| &a.file.refused)
            .filter(|r| r.reason == reason::UNCLAIMED)
            .map(|r| format!("\"{}\"", r.example))
            .collect();
        if names.is_empty() {
            names = self.headers.iter().flatten().filter(|h| !h.is_empty()).map(|h| format!("\"{h}\"")).collect();
        }
        names.dedup();
        names.truncate(12);
        IngestError::NothingClaimed { path, points: self.plant.points.len(), columns: names.join(", ") }
    }

    /// The last cell of each file [ms UTC].
    fn file_ends(&self, samples: &[Samples]) -> Vec<i64> {
        let mut ends = vec![i64::MIN / 2; self.accounts.len()];
        for s in samples {
            s.ends(&mut ends);
        }
        ends
    }
}

/// What the ledger says of a point's readings.
struct Facts {
    first_ms: i64,
    last_ms: i64,
    samples: u64,
    interval_s: i64,
    flat_hours: f64,
}

impl Facts {
    fn of(samples: &Samples, rhythm: Rhythm, window: Option<(i64, i64)>) -> Self {
        let inside = |t: i64| window.is_none_or(|(from, to)| (from..to).contains(&t));
        let mut facts = Self {
            first_ms: 0,
            last_ms: 0,
            samples: 0,
            interval_s: rhythm.interval_s(),
            flat_hours: flat_hours(samples, rhythm),
        };
        if let (Some(_), None, [first, .., last]) = (samples.unbroken, window, &samples.times[..]) {
            (facts.first_ms, facts.last_ms, facts.samples) = (*first, *last, samples.times.len() as u64);
            return facts;
        }
        for (t, _) in samples.readings().filter(|r| inside(r.0)) {
            if facts.samples == 0 {
                facts.first_ms = t;
            }
            facts.last_ms = t;
            facts.samples += 1;
        }
        facts
    }

    fn into(self, point: &mut PointLedger) {
        point.first_ms = self.first_ms;
        point.last_ms = self.last_ms;
        point.samples = self.samples;
        point.interval_s = self.interval_s;
        point.flat_hours = self.flat_hours;
    }
}

/// Jaro-Winkler likeness below which a name is no guess worth making [-].
const LIKE: f64 = 0.85;
