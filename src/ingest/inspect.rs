//! Exports looked at before there is a plant file: what every file is, and every point in it as it stands.
//!
//! Comes in: files, and a plant of which only the trends and the points declared so far matter. Goes out: [`Looked`]. Nothing is laid on a
//! clock. A file that holds nothing usable is named with its reason, and the others are still read.

use super::cell::sentinels;
use super::error::IngestError;
use super::gathering::Gathering;
use super::ledger::reason;
use super::rhythm::Rhythm;
use super::samples::Samples;
use super::shape::BAD;
use super::{FileLedger, Notice};
use crate::plant::{Blank, Plant, Role};
use std::path::PathBuf;

/// What some exports hold.
#[derive(Debug, Clone)]
pub struct Looked {
    pub files: Vec<LookedFile>,
    pub points: Vec<LookedPoint>,
    /// What concerns no single file.
    pub notices: Vec<Notice>,
}

/// What one text (a file, a member of an archive, a sheet) was taken for.
#[derive(Debug, Clone, Default)]
pub struct LookedFile {
    pub ledger: FileLedger,
    pub encoding: String,
    pub delimiter: String,
    pub decimal: char,
    pub header_line: u64,
    pub time_columns: Vec<String>,
    /// The line that reading stopped at, where a text holds more than a look takes.
    pub unread_from: Option<u64>,
    pub notices: Vec<String>,
    pub error: Option<String>,
}

/// One point, over all files that name it.
#[derive(Debug, Clone)]
pub struct LookedPoint {
    pub name: String,
    /// Index into the plant's points, where it is declared.
    pub declared: Option<usize>,
    /// As the export states it.
    pub unit: Option<String>,
    /// "header" or "cell", where the export states a unit.
    pub unit_from: Option<&'static str>,
    /// Cells said a state in words.
    pub states: bool,
    samples: Samples,
    /// Blank cells mean unchanged: they are no samples.
    blank: Blank,
    pub bad: u64,
    pub missing: u64,
    pub interval_s: i64,
    /// First file, and how many more name it.
    pub file: usize,
    pub further_files: usize,
}

impl LookedPoint {
    /// Its cells in the order of time, made as they are asked for: a year of minutes has millions.
    pub fn samples(&self) -> impl Iterator<Item = Sample> + '_ {
        (0..self.samples.times.len()).filter_map(|k| {
            let value = self.samples.values[k];
            let status = if value == BAD {
                Status::Bad
            } else if value.is_finite() {
                Status::Ok
            } else if self.blank == Blank::Unchanged {
                return None;
            } else {
                Status::Missing
            };
            let value = if status == Status::Ok { value } else { f64::NAN };
            Some(Sample { time_ms: self.samples.times[k], file: self.samples.file(k), value, status })
        })
    }

    /// Its readings with their times [ms UTC].
    pub fn readings(&self) -> impl Iterator<Item = (i64, f64)> + '_ {
        self.samples.readings()
    }
}

/// One cell with its time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// [ms UTC].
    pub time_ms: i64,
    /// Index into the files.
    pub file: usize,
    /// In the declared role's SI unit, else as it stands; NaN where there is none.
    pub value: f64,
    pub status: Status,
}

/// What a cell was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Status {
    Ok,
    Bad,
    Missing,
}

/// Looks at exports. `plant`: time zone, order of day and month, blanks, and the points declared so far.
///
/// # Errors
/// Where nothing at all could be read.
pub fn inspect(plant: &Plant, paths: &[PathBuf]) -> Result<Looked, IngestError> {
    let mut gathering = Gathering::looking(plant);
    for path in paths {
        gathering.path(path, &path.to_string_lossy())?;
    }
    gathering.looked()
}

/// The same from memory: name and bytes of each file.
///
/// # Errors
/// As [`inspect`].
pub fn inspect_bytes(plant: &Plant, files: &[(String, &[u8])]) -> Result<Looked, IngestError> {
    let mut gathering = Gathering::looking(plant);
    for (path, bytes) in files {
        gathering.bytes(bytes, path)?;
    }
    gathering.looked()
}

impl Gathering<'_> {
    fn looked(mut self) -> Result<Looked, IngestError> {
        let blank = self.plant.trends.blank;
        let declared = self.wanted.declared_count();
        let pieces = std::mem::take(&mut self.pieces);
        let mut points = Vec::new();
        for (i, pieces) in pieces.into_iter().enumerate() {
            if pieces.is_empty() {
                continue;
            }
            let point = self.wanted.points()[i].clone();
            let mut files: Vec<usize> = pieces.iter().map(|p| p.file).collect();
            files.dedup();
            let mut samples = Samples::merge(pieces, &point.name, &mut self.accounts);
            let ledger = &mut self.points[i];
            if i >= declared {
                let readings: Vec<f64> = samples.readings().map(|r| r.1).collect();
                for found in sentinels(&readings, None) {
                    let hit = samples.condemn(found.value, reason::SENTINEL, &point.name, &mut self.accounts);
                    ledger.bad += hit;
                    self.notices.push(Notice::new(
                        "ingest",
                        format!(
                            "\"{}\": {hit} cells say {}: {}; treated as bad",
                            point.name, found.value, found.reason
                        ),
                    ));
                }
            }
            let rhythm = Rhythm::of(&samples, blank);
            let seen = &self.seen[i];
            points.push(LookedPoint {
                name: point.name.clone(),
                declared: (i < declared && point.role != Role::Ignore).then_some(i),
                unit: seen.unit.clone(),
                unit_from: seen.unit.as_ref().map(|_| if seen.in_cells { "cell" } else { "header" }),
                states: seen.states,
                samples,
                blank,
                bad: ledger.bad,
                missing: ledger.missing,
                interval_s: rhythm.interval_s(),
                file: files[0],
                further_files: files.len() - 1,
            });
        }
        if self.losses.len() == self.accounts.len()
            && let Some(first) = self.losses.first()
        {
            return Err(match self.losses.len() {
                1 => first.clone(),
                count => IngestError::AllLost { count, first: Box::new(first.clone()) },
            });
        }
        if points.iter().all(|p| p.readings().next().is_none()) {
            let path = self.accounts.first().map_or(String::new(), |a| a.file.path.clone());
            let first = self.points.iter().find_map(|p| p.first_bad.clone());
            return Err(IngestError::NoReadings {
                path,
                points: points.len(),
                line: first.as_ref().map_or(0, |f| f.0),
                word: first.map_or(String::new(), |f| f.1),
            });
        }
        self.say_refusals();
        let mut files = self.looks;
        for (file, account) in files.iter_mut().zip(self.accounts) {
            file.ledger = account.file;
        }
        // What was said of one file stands with it.
        let (mut rest, prefixes) =
            (Vec::new(), files.iter().map(|f| format!("{}: ", f.ledger.path)).collect::<Vec<_>>());
        for notice in self.notices {
            match prefixes.iter().position(|p| notice.text.starts_with(p.as_str())) {
                Some(i) => files[i].notices.push(notice.text[prefixes[i].len()..].to_owned()),
                None => rest.push(notice),
            }
        }
        Ok(Looked { files, points, notices: rest })
    }
}
