//! What every shape of export hands over: columns of times, columns of readings, an account of the rest.
//!
//! A further shape is one function that turns blocks of lines into a [`Sheet`] and keeps the account. Everything after it (order of day
//! and month, zone, clock) is the same for all shapes.

use super::cell::{Cell, Decimal, Reader, UnitText, carried_unit, text};
use super::ledger::{Account, reason};
use super::sniff::Layout;
use super::split::Dialect;
use super::time::{Evidence, Parser, Stamp};
use super::wanted::{Place, Wanted};
use crate::plant::{Blank, Point, units};
use crate::quantity::Density;

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

    /// Takes over the rows of another, which keeps its room.
    pub fn append(&mut self, other: &mut Self) {
        self.stamps.append(&mut other.stamps);
        self.lines.append(&mut other.lines);
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
    /// Blank cells, missing or not.
    pub blank: u64,
    pub missing: u64,
    pub first_bad: Option<(u64, String)>,
    /// Bad cells that say the same as the first.
    pub alike: u64,
    /// The unit that the export states.
    pub unit: Option<String>,
    /// Cells that say their unit themselves.
    pub with_unit: u64,
    /// Cells that say a state in words.
    pub states: u64,
    /// The last cell that said one, and the state: the next says the same as a rule.
    pub said: Option<(Vec<u8>, f64)>,
}

impl Track {
    /// Takes over what follows in the same file; the other keeps its room.
    pub fn append(&mut self, next: &mut Self) {
        self.values.append(&mut next.values);
        let add = |mine: &mut u64, next: &mut u64| *mine += std::mem::take(next);
        add(&mut self.bad, &mut next.bad);
        add(&mut self.blank, &mut next.blank);
        add(&mut self.missing, &mut next.missing);
        add(&mut self.with_unit, &mut next.with_unit);
        add(&mut self.states, &mut next.states);
        self.unit = self.unit.take().or(next.unit.take());
        let alike = std::mem::take(&mut next.alike);
        match (&self.first_bad, next.first_bad.take()) {
            (None, first) => (self.first_bad, self.alike) = (first, alike),
            (Some((_, mine)), Some((_, word))) if *mine == word => self.alike += alike,
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

    /// What follows in the same text, taken over.
    pub fn append(&mut self, next: &mut Self) {
        let next = std::mem::take(next);
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
    /// Plain numbers with a decimal point need no reader.
    pub plain: bool,
    pub to_si: ToSi,
    pub unit: Option<String>,
    /// Nobody declared the point: its cells stand as they are.
    stranger: bool,
    declared: Option<Box<(Point, Density)>>,
}

impl Column {
    /// `unit`: as the export's header states it.
    pub fn new(wanted: &Wanted<'_>, point: usize, unit: Option<&str>, decimal: Decimal) -> Self {
        let p = &wanted.points()[point];
        let reader = Reader::with(p, decimal);
        let stranger = point >= wanted.declared_count();
        let stated = unit.and_then(|u| units::unit(u).ok());
        let conversion = (!stranger).then(|| p.conversion(stated.as_ref(), wanted.plant.density()));
        let to_si = match conversion {
            Some(Ok(Some(c))) => ToSi { factor: c.factor, offset: c.offset },
            _ if stranger => ToSi { factor: 1.0, offset: 0.0 },
            _ => ToSi { factor: p.scale, offset: p.offset },
        };
        Self {
            point,
            name: p.name.clone(),
            plain: reader.takes_plain_numbers() && decimal == Decimal::Point,
            reader,
            to_si,
            unit: unit.map(str::to_owned),
            stranger,
            declared: (!stranger).then(|| Box::new((p.clone(), wanted.plant.density()))),
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
        if let Some((word, state)) = &track.said
            && word == cell
        {
            let state = *state;
            track.states += 1;
            return push(track, state, account);
        }
        match self.reader.read(cell) {
            Cell::Number(reading) => {
                if self.stranger
                    && let Some(unit) = carried_unit(cell)
                {
                    track.with_unit += 1;
                    track.unit.get_or_insert_with(|| unit.as_str().to_owned());
                }
                self.number(track, reading, line, account);
            }
            Cell::NumberIn(reading, unit) => self.in_unit(track, reading, unit, (cell, line), account),
            Cell::State(state) => {
                track.states += 1;
                track.said = Some((cell.to_vec(), state));
                push(track, state, account);
            }
            Cell::Blank => put_blank(track, blank, account),
            Cell::Bad => self.bad(track, cell, reason::BAD_WORD, line, account),
            Cell::WrongUnit(_) => self.bad(track, cell, reason::WRONG_UNIT, line, account),
            Cell::Unknown => self.bad(track, cell, reason::NOT_A_NUMBER, line, account),
        }
    }

    /// A reading in the unit that its cell carries, which stands before the declared one.
    fn in_unit(
        &self,
        track: &mut Track,
        reading: f64,
        unit: UnitText,
        (cell, line): (&[u8], u64),
        account: &mut Account,
    ) {
        let Some(declared) = &self.declared else { return self.number(track, reading, line, account) };
        let (mut point, density) = (declared.0.clone(), declared.1);
        point.unit = units::unit(unit.as_str()).ok();
        let conversion = point.conversion(None, density).ok().flatten();
        let si = conversion.map(|c| reading * c.factor + c.offset).filter(|si| si.is_finite());
        track.with_unit += 1;
        match si {
            Some(si) => push(track, si, account),
            None => self.bad(track, cell, reason::WRONG_UNIT, line, account),
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
    track.blank += 1;
    match blank {
        Blank::Unchanged => account.file.used += 1,
        Blank::Missing => {
            account.file.missing += 1;
            track.missing += 1;
        }
    }
}
