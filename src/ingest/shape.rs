//! What every shape of export hands over: columns of times, columns of readings, an account of the rest.
//!
//! A further shape is one function that turns blocks of lines into a [`Sheet`] and keeps the account. Everything after it (order of day
//! and month, zone, clock) is the same for all shapes.

use super::cell::{Cell, Reader, text};
use super::ledger::{Account, reason};
use super::sniff::Layout;
use super::split::Dialect;
use super::time::{Evidence, Parser, Stamp};
use super::wanted::{Place, Wanted};
use crate::plant::{Blank, Role, units};

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

impl Stamps {
    pub fn push(&mut self, stamp: Stamp, line: u64) {
        self.stamps.push(stamp);
        self.lines.push(u32::try_from(line).unwrap_or(u32::MAX));
    }

    pub fn append(&mut self, other: &Self) {
        self.stamps.extend_from_slice(&other.stamps);
        self.lines.extend_from_slice(&other.lines);
    }
}

/// One point's cells in one file, in the order of its rows.
#[derive(Debug, Default)]
pub(super) struct Track {
    /// Index into the wanted points.
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
    /// The unit that the export states.
    pub unit: Option<String>,
    /// Cells that say their unit themselves.
    pub with_unit: u64,
}

impl Track {
    /// What follows in the same file.
    pub fn append(&mut self, mut next: Self) {
        if self.values.is_empty() {
            self.values = next.values;
        } else {
            self.values.append(&mut next.values);
        }
        self.bad += next.bad;
        self.missing += next.missing;
        self.with_unit += next.with_unit;
        self.unit = self.unit.take().or(next.unit);
        match (&self.first_bad, next.first_bad) {
            (None, first) => (self.first_bad, self.alike) = (first, next.alike),
            (Some((_, mine)), Some((_, word))) if *mine == word => self.alike += next.alike,
            _ => {}
        }
    }
}

/// What the times of a text prove, and one of them to show.
#[derive(Debug, Default)]
pub(super) struct Dates {
    pub evidence: Evidence,
    /// The first date whose day and month could be exchanged, as written; else the first time.
    pub example: String,
    open: bool,
}

impl Dates {
    #[inline]
    pub fn add(&mut self, stamp: Stamp, written: &[u8]) {
        let open = self.evidence.add(stamp);
        if open || self.example.is_empty() {
            self.example = text(written.trim_ascii()).into_owned();
            self.open = open;
        }
    }

    /// What follows in the same text.
    pub fn append(&mut self, next: Self) {
        if !next.example.is_empty() && (self.example.is_empty() || (next.open && !self.open)) {
            (self.example, self.open) = (next.example, next.open);
        }
        self.evidence.merge(&next.evidence);
    }
}

/// A text, read.
#[derive(Debug, Default)]
pub(super) struct Sheet {
    /// One column of times in wide files, one a track in tall ones.
    pub columns: Vec<Stamps>,
    pub tracks: Vec<Track>,
    pub dates: Dates,
    /// Plant points that were found under another spelling: (declared, as in the file).
    pub respelled: Vec<(String, String)>,
    /// As `inspect` calls it.
    pub word: &'static str,
}

/// What a shape needs to read a text.
pub(super) struct Task<'a> {
    pub at: Place<'a>,
    pub layout: &'a Layout,
    pub blank: Blank,
}

impl Task<'_> {
    pub fn dialect(&self) -> Dialect {
        self.layout.dialect
    }

    pub fn parser(&self) -> Parser {
        if self.layout.numbers_are_times { Parser::numbers_are_times() } else { Parser::default() }
    }
}

/// Turns readings of one point into the role's SI unit.
#[derive(Debug, Clone, Copy)]
pub(super) struct ToSi {
    factor: f64,
    offset: f64,
}

impl ToSi {
    /// The reading in SI; not finite where the conversion is none.
    #[inline]
    pub fn apply(self, reading: f64) -> f64 {
        reading * self.factor + self.offset
    }
}

/// How one column's cells are read.
pub(super) struct Column {
    pub point: usize,
    pub name: String,
    pub reader: Reader,
    /// Plain numbers need no reader.
    pub plain: bool,
    pub to_si: ToSi,
    pub unit: Option<String>,
}

impl Column {
    /// `unit`: as the export's header states it.
    pub fn new(wanted: &Wanted<'_>, point: usize, unit: Option<&str>, decimal_comma: bool) -> Self {
        let p = &wanted.points()[point];
        let reader = Reader::new(p, decimal_comma);
        let declared = point < wanted.declared_count() && p.role != Role::Ignore;
        let stated = unit.and_then(|u| units::unit(u).ok());
        let conversion = declared.then(|| p.conversion(stated.as_ref(), wanted.plant.density()));
        let to_si = match conversion {
            Some(Ok(Some(c))) => ToSi { factor: c.factor, offset: c.offset },
            _ => ToSi { factor: p.scale, offset: p.offset },
        };
        Self {
            point,
            name: p.name.clone(),
            plain: reader.takes_plain_numbers(),
            reader,
            to_si,
            unit: unit.map(str::to_owned),
        }
    }

    /// An empty track for this column.
    pub fn track(&self, column: usize, rows: usize) -> Track {
        Track {
            point: self.point,
            column,
            values: Vec::with_capacity(rows),
            unit: self.unit.clone(),
            ..Track::default()
        }
    }

    /// One cell that is not a plain number.
    pub fn slow(&self, track: &mut Track, cell: &[u8], line: u64, blank: Blank, account: &mut Account) {
        match self.reader.read(cell) {
            Cell::Number(reading) => self.number(track, reading, line, account),
            Cell::State(state) => push(track, state, account),
            Cell::Blank => put_blank(track, blank, account),
            Cell::Bad => self.bad(track, cell, reason::BAD_WORD, line, account),
            Cell::Unknown => self.bad(track, cell, reason::NOT_A_NUMBER, line, account),
        }
    }

    /// A reading.
    #[inline]
    pub fn number(&self, track: &mut Track, reading: f64, line: u64, account: &mut Account) {
        let si = self.to_si.apply(reading);
        if si.is_finite() {
            push(track, si, account);
        } else {
            self.bad(track, reading.to_string().as_bytes(), reason::NOT_A_NUMBER, line, account);
        }
    }

    pub fn bad(&self, track: &mut Track, cell: &[u8], reason: &str, line: u64, account: &mut Account) {
        let word = text(cell.trim_ascii());
        account.refuse(reason, 1, line, &format!("{}: {word}", self.name));
        track.values.push(BAD);
        track.bad += 1;
        let (_, first) = track.first_bad.get_or_insert_with(|| (line, word.chars().take(40).collect()));
        track.alike += u64::from(*first == word);
    }
}

#[inline]
fn push(track: &mut Track, value: f64, account: &mut Account) {
    account.file.used += 1;
    track.values.push(value);
}

/// Nothing in the cell.
pub(super) fn put_blank(track: &mut Track, blank: Blank, account: &mut Account) {
    track.values.push(BLANK);
    match blank {
        Blank::Unchanged => account.file.used += 1,
        Blank::Missing => {
            account.file.missing += 1;
            track.missing += 1;
        }
    }
}
