//! Exports looked at before there is a plant file: what every file is, and every point in it as it stands.
//!
//! Comes in: files, and a plant of which only the trends and the points declared so far matter. Goes out: [`Looked`]. Nothing is laid on a
//! clock. A file that holds nothing usable is named with its reason, and the others are still read.

use super::apart::Apart;
use super::cell::sentinels;
use super::error::IngestError;
use super::gathering::Gathering;
use super::ledger::reason;
use super::rhythm::Rhythm;
use super::samples::{Piece, Samples};
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
    /// Its files, where another point bears the same name in other files.
    pub only_in: Vec<usize>,
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
    /// That one name is several points.
    fn say_apart(&mut self, point: usize, groups: &[Vec<Piece>]) {
        let [first, second, ..] = groups else { return };
        let path = |group: &[Piece]| group.first().map_or("", |p| self.accounts[p.file].file.path.as_str());
        let text = format!(
            "\"{}\" has other readings in {} than in {} over the same hours: they are taken for {} points of one name",
            self.wanted.points()[point].name,
            path(second),
            path(first),
            groups.len()
        );
        self.notices.push(Notice::new("ingest", text));
    }

    fn looked(mut self) -> Result<Looked, IngestError> {
        let blank = self.plant.trends.blank;
        let declared = self.wanted.declared_count();
        let pieces = std::mem::take(&mut self.pieces);
        let strangers = pieces.get(declared..).unwrap_or_default();
        let apart = Apart::of(strangers.iter().filter(|p| p.len() > 1).map(Vec::as_slice));
        let mut points = Vec::new();
        let mut groups: Vec<(usize, bool, Vec<Piece>)> = Vec::new();
        for (i, pieces) in pieces.into_iter().enumerate().filter(|(_, pieces)| !pieces.is_empty()) {
            if i < declared {
                groups.push((i, false, pieces));
                continue;
            }
            let several = apart.groups(pieces, |file| &self.accounts[file].file.path);
            self.say_apart(i, &several);
            let split = several.len() > 1;
            groups.extend(several.into_iter().map(|pieces| (i, split, pieces)));
        }
        for (i, split, pieces) in groups {
            let point = self.wanted.points()[i].clone();
            let mut files: Vec<usize> = pieces.iter().map(|p| p.file).collect();
            files.dedup();
            let cells = |is: fn(f64) -> bool| pieces.iter().flat_map(|p| &p.values).filter(|v| is(**v)).count() as u64;
            if split {
                self.points[i].bad = cells(|v| v == BAD);
                self.points[i].missing = if blank == Blank::Missing { cells(f64::is_nan) } else { 0 };
            }
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
                only_in: if split { files } else { Vec::new() },
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
