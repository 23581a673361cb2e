//! What every shape of export hands over, and how names find their points.
//!
//! A further shape is one function with the signature of [`ReadShape`]: it turns blocks of lines into a [`Sheet`] and
//! keeps the account. Everything after it (order of day and month, zone, clock) is the same for all shapes.

use super::cell::{Cell, Reader, UnitText, text};
use super::error::IngestError;
use super::ledger::{Account, reason};
use super::open::{Block, Lines};
use super::sniff::{Layout, same_name};
use super::time::{Evidence, Stamp};
use crate::plant::{Blank, Plant, Role, units};
use std::io::Read;

/// A bad word stands where a reading would: the value from then on is not known. (No reading is infinite.)
pub(super) const BAD: f64 = f64::INFINITY;
/// A blank cell stands there.
pub(super) const BLANK: f64 = f64::NAN;

/// Times of rows, as written, and their lines.
#[derive(Debug, Default)]
pub(super) struct Stamps {
    pub stamps: Vec<Stamp>,
    pub lines: Vec<u32>,
}

/// One point's cells in one file, in the order of its rows.
#[derive(Debug)]
pub(super) struct Track {
    /// Index into the plant's points.
    pub point: usize,
    /// Index into [`Sheet::columns`].
    pub column: usize,
    /// Readings in the point's role's SI unit, [`BAD`] or [`BLANK`].
    pub values: Vec<f64>,
    pub bad: u64,
    pub missing: u64,
    pub first_bad: Option<(u64, String)>,
    /// Bad cells that say the same as the first.
    pub alike: u64,
}

/// A file, read.
#[derive(Debug, Default)]
pub(super) struct Sheet {
    /// One column of times in wide files, one a track in tall ones.
    pub columns: Vec<Stamps>,
    pub tracks: Vec<Track>,
    pub evidence: Evidence,
    /// The first date whose day and month could be exchanged, as written; else the first time.
    pub example: String,
    /// Plant points that were found under another spelling: (declared, as in the file).
    pub respelled: Vec<(String, String)>,
}

/// What a shape needs to read a file.
pub(super) struct Task<'a> {
    pub plant: &'a Plant,
    pub path: &'a str,
    pub layout: &'a Layout,
}

/// Reads the lines of a file in one shape.
pub(super) type ReadShape<R> = fn(&Task<'_>, &mut Lines<R>, &mut Account) -> Result<Sheet, IngestError>;

/// Reads lines after the first block, which the caller has already seen.
pub(super) fn each_block<R: Read>(lines: &mut Lines<R>, mut see: impl FnMut(&Block<'_>)) -> Result<(), IngestError> {
    while let Some(block) = lines.next()? {
        see(&block);
    }
    Ok(())
}

/// What becomes of a name in an export.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Claim {
    Point(usize),
    Ignored,
    Nobody,
}

/// The point that a name in a file belongs to: the exact name first, then but for case and blanks.
pub(super) fn claim(plant: &Plant, path: &str, name: &str) -> Claim {
    let here = |file: &Option<String>| {
        file.as_ref()
            .is_none_or(|glob| super::open::path_fits(glob, path) || super::open::path_fits(glob, name_of(path)))
    };
    let mut candidates = plant.points.iter().enumerate().filter(|(_, p)| here(&p.file));
    let exact = candidates.clone().find(|(_, p)| p.name == name);
    match exact.or_else(|| candidates.find(|(_, p)| same_name(&p.name, name))) {
        Some((_, p)) if p.role == Role::Ignore => Claim::Ignored,
        Some((i, _)) => Claim::Point(i),
        None => Claim::Nobody,
    }
}

fn name_of(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

/// Turns readings of one point into the role's SI unit.
#[derive(Debug, Clone, Copy)]
pub(super) struct ToSi {
    factor: f64,
    offset: f64,
}

impl ToSi {
    /// As the plant file declares the point; a point with no unit is taken as it reads.
    pub fn of(plant: &Plant, point: usize) -> Self {
        let p = &plant.points[point];
        match p.conversion(None, plant.density()) {
            Ok(Some(c)) => Self { factor: c.factor, offset: c.offset },
            _ => Self { factor: p.scale, offset: p.offset },
        }
    }

    /// The same where the cell carries its own unit, which stands before the declared one; `None` for one that the role cannot have.
    pub fn in_unit(plant: &Plant, point: usize, unit: &str) -> Option<Self> {
        let mut p = plant.points[point].clone();
        p.unit = units::unit(unit).ok();
        let c = p.conversion(None, plant.density()).ok()??;
        Some(Self { factor: c.factor, offset: c.offset })
    }

    /// The reading in SI; not finite where the conversion is none.
    #[inline]
    pub fn apply(self, reading: f64) -> f64 {
        reading * self.factor + self.offset
    }
}

/// Spellings of units kept for one point of one file; a file with more pays for each cell.
const MOST_CARRIED: usize = 16;

/// A point being filled from one file.
pub(super) struct Filling<'a> {
    plant: &'a Plant,
    name: String,
    /// Units that cells carried so far.
    carried: Vec<(UnitText, Option<ToSi>)>,
    pub track: Track,
    pub reader: Reader,
    pub to_si: ToSi,
}

impl<'a> Filling<'a> {
    pub fn new(plant: &'a Plant, point: usize, column: usize, delimiter: u8) -> Self {
        Self {
            plant,
            carried: Vec::new(),
            name: plant.points[point].name.clone(),
            track: Track { point, column, values: Vec::new(), bad: 0, missing: 0, first_bad: None, alike: 0 },
            reader: Reader::new(&plant.points[point], delimiter != b','),
            to_si: ToSi::of(plant, point),
        }
    }

    /// One cell that is not a plain number.
    pub fn slow(&mut self, cell: &[u8], line: u64, blank: Blank, account: &mut Account) {
        match self.reader.read(cell) {
            Cell::Number(reading) => self.number(reading, line, account),
            Cell::NumberIn(reading, unit) => self.in_unit(reading, unit, cell, line, account),
            Cell::State(state) => self.push(state, account),
            Cell::Blank => self.blank(blank, account),
            Cell::Bad => self.bad(cell, reason::BAD_WORD, line, account),
            Cell::WrongUnit(_) => self.bad(cell, reason::WRONG_UNIT, line, account),
            Cell::Unknown => self.bad(cell, reason::NOT_A_NUMBER, line, account),
        }
    }

    /// A reading.
    #[inline]
    pub fn number(&mut self, reading: f64, line: u64, account: &mut Account) {
        let si = self.to_si.apply(reading);
        if si.is_finite() {
            self.push(si, account);
        } else {
            self.bad(reading.to_string().as_bytes(), reason::NOT_A_NUMBER, line, account);
        }
    }

    /// A reading in the unit that its cell carries.
    fn in_unit(&mut self, reading: f64, unit: UnitText, cell: &[u8], line: u64, account: &mut Account) {
        let known = self.carried.iter().find(|(u, _)| *u == unit).map(|(_, to_si)| *to_si);
        let to_si = known.unwrap_or_else(|| {
            let to_si = ToSi::in_unit(self.plant, self.track.point, unit.as_str());
            if self.carried.len() < MOST_CARRIED {
                self.carried.push((unit, to_si));
            }
            to_si
        });
        match to_si.map(|t| t.apply(reading)).filter(|si| si.is_finite()) {
            Some(si) => self.push(si, account),
            None => self.bad(cell, reason::WRONG_UNIT, line, account),
        }
    }

    #[inline]
    fn push(&mut self, value: f64, account: &mut Account) {
        account.file.used += 1;
        self.track.values.push(value);
    }

    /// Nothing in the cell.
    pub fn blank(&mut self, blank: Blank, account: &mut Account) {
        self.track.values.push(BLANK);
        match blank {
            Blank::Unchanged => account.file.used += 1,
            Blank::Missing => {
                account.file.missing += 1;
                self.track.missing += 1;
            }
        }
    }

    fn bad(&mut self, cell: &[u8], reason: &str, line: u64, account: &mut Account) {
        let word = text(cell.trim_ascii());
        account.refuse(reason, 1, line, &format!("{}: {word}", self.name));
        self.track.values.push(BAD);
        self.track.bad += 1;
        let (_, first) = self.track.first_bad.get_or_insert_with(|| (line, word.chars().take(40).collect()));
        self.track.alike += u64::from(*first == word);
    }
}
