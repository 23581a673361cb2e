//! Sections one below the other: a point, or a table, under a title or a header of its own.
//!
//! A text with one column of readings is read this way, since nobody can tell from its start that no other point follows. Lines without
//! a time between two readings either say again what is known, or remark, or name what follows. Start at [`read`].

use super::blocks::Blocks;
use super::cell::text;
use super::error::IngestError;
use super::ledger::{Account, reason};
use super::shape::{Column, Sheet, Stamps, Task};
use super::sniff::{Shape, TimeColumns, clean, heads_of, named_in, parted_unit, says_nothing};
use super::time::Parser;
use super::wanted::{Claim, Wanted};
use std::borrow::Cow;
use std::collections::HashMap;
use std::io::Read;

/// Lines between two sections that are kept to name the second: the last ones.
const KEPT: usize = 40;

/// Reads a text section by section. `stem`: the name of file, member or sheet, where nothing in the text names the point.
pub(super) fn read<R: Read + Send>(
    task: &Task<'_>,
    wanted: &mut Wanted<'_>,
    stem: &str,
    source: &mut Blocks<R>,
    account: &mut Account,
) -> Result<Sheet, IngestError> {
    let Shape::Table(groups) = &task.layout.shape else { return Ok(Sheet::default()) };
    let time = groups.first().map_or(TimeColumns { date: 0, clock: None }, |g| g.time);
    let mut reading = Reading {
        task,
        wanted,
        stem,
        time,
        account,
        parser: task.parser(),
        sheet: Sheet::default(),
        columns: Vec::new(),
        slots: HashMap::new(),
        current: Vec::new(),
        pending: Vec::new(),
        sections: 0,
        named: false,
    };
    while let Some(block) = source.next()? {
        let held = reading.sheet.tracks.iter().map(|t| t.values.len()).sum();
        if !source.may_hold(held)? {
            source.stopped = Some(block.line);
            break;
        }
        block.records(task.dialect(), |number, line, unended| reading.row(number, line, unended));
    }
    Ok(reading.finish())
}

struct Reading<'a, 'p> {
    task: &'a Task<'a>,
    wanted: &'a mut Wanted<'p>,
    stem: &'a str,
    time: TimeColumns,
    account: &'a mut Account,
    parser: Parser,
    sheet: Sheet,
    /// Points met, by slot; each has a track and a column of times in the sheet.
    columns: Vec<Column>,
    /// Slots by point.
    slots: HashMap<usize, usize>,
    /// Columns of the section being read.
    current: Vec<(usize, Owner)>,
    /// Lines without a time since the last reading.
    pending: Vec<(u64, Vec<String>)>,
    sections: usize,
    /// The point has a name of its own in the header.
    named: bool,
}

enum Owner {
    Slot(usize),
    Refused { reason: &'static str, name: String, rows: u64, first: u64 },
}

impl Reading<'_, '_> {
    fn row(&mut self, number: u64, line: &[u8], unended: bool) {
        if line.starts_with(b"#") {
            return;
        }
        let dialect = self.task.dialect();
        let cells = dialect.cells(line);
        let cell = |c: usize| cells.get(c).cloned().unwrap_or_default();
        let written: Cow<'_, [u8]> = match self.time.clock {
            None => cell(self.time.date),
            Some(clock) => Cow::Owned([cell(self.time.date).trim_ascii(), b" ", cell(clock).trim_ascii()].concat()),
        };
        let stamp = if number > self.task.layout.above && cells.len() > 1 { self.parser.parse(&written) } else { None };
        let Some(stamp) = stamp else {
            let row = cells.iter().map(|c| clean(&text(c))).collect();
            if self.pending.len() == KEPT {
                self.pending.remove(0);
            }
            return self.pending.push((number, row));
        };
        if !self.pending.is_empty() || self.current.is_empty() {
            self.section(cells.len());
        }
        self.account.file.rows += 1;
        self.account.file.cells += self.current.len() as u64;
        let widest = self.current.iter().map(|(c, _)| *c).max().unwrap_or(0);
        if unended && cells.len() <= widest {
            return self.account.refuse(reason::CUT, self.current.len() as u64, number, &text(line));
        }
        self.sheet.dates.add(stamp, &written);
        for (column, owner) in &mut self.current {
            match owner {
                Owner::Refused { rows, first, .. } => {
                    if *rows == 0 {
                        *first = number;
                    }
                    *rows += 1;
                }
                Owner::Slot(slot) => {
                    self.sheet.columns[*slot].push(stamp, number);
                    let cell = cells.get(*column).cloned().unwrap_or_default();
                    let track = &mut self.sheet.tracks[*slot];
                    self.columns[*slot].slow(track, &cell, number, self.task.blank, self.account);
                }
            }
        }
        let used =
            |c: usize| c == self.time.date || Some(c) == self.time.clock || self.current.iter().any(|(o, _)| *o == c);
        for (_, cell) in cells.iter().enumerate().filter(|(c, cell)| !used(*c) && !cell.trim_ascii().is_empty()) {
            self.account.file.cells += 1;
            self.account.refuse(reason::NAMELESS, 1, number, &text(cell));
        }
    }

    /// A reading follows lines without a time: they may name what it belongs to.
    fn section(&mut self, width: usize) {
        let lines = std::mem::take(&mut self.pending);
        let is_time = |c: usize| c == self.time.date || Some(c) == self.time.clock;
        let heads = heads_of(&lines, width, &is_time);
        let (titled, unit) = named_in(&heads.preamble);
        let others = (0..width.max(heads.width())).filter(|c| !is_time(*c));
        let says = |c: usize| {
            let names = heads.names_of(c);
            names.iter().any(|n| !says_nothing(n)) || self.wanted.claim(self.task.at, &names) != Claim::Nobody
        };
        let telling: Vec<usize> = others.clone().filter(|c| says(*c)).collect();
        let mut columns: Vec<(usize, Vec<String>, Option<String>)> = Vec::new();
        if telling.is_empty() {
            let first = self.current.is_empty();
            let Some(value) = others
                .clone()
                .find(|c| !first || heads.names.is_none() || !heads.names_of(*c).is_empty())
                .or(others.clone().next())
            else {
                return;
            };
            let title = match titled {
                Some(title) => title,
                None if first => self.stem.to_owned(),
                None => return,
            };
            let (bare, behind) = parted_unit(&title);
            let unit = unit.or_else(|| heads.unit_of(value)).or(behind.map(str::to_owned));
            let names = if behind.is_some() { vec![bare.to_owned(), title.clone()] } else { vec![title.clone()] };
            columns.push((value, names, unit));
        } else {
            self.named |= titled.is_none() || telling.len() > 1;
            columns.extend(telling.iter().map(|c| (*c, heads.names_of(*c), heads.unit_of(*c).or(unit.clone()))));
            // The title says which pump, the header which point of it.
            if let (Some(title), [only]) = (&titled, columns.as_mut_slice()) {
                only.1.push(title.clone());
            }
        }
        self.close();
        self.sections += 1;
        self.current =
            columns.into_iter().map(|(c, names, unit)| (c, self.owner(c, &names, unit.as_deref()))).collect();
    }

    fn owner(&mut self, at: usize, names: &[String], unit: Option<&str>) -> Owner {
        let name = names.last().cloned().unwrap_or_default();
        let refused = |reason| Owner::Refused { reason, name: name.clone(), rows: 0, first: 0 };
        match self.wanted.meet(self.task.at, names, unit) {
            Claim::Nobody => refused(reason::UNCLAIMED),
            Claim::Ignored => refused(reason::IGNORED),
            Claim::Point(p) => {
                if let Some(slot) = self.slots.get(&p) {
                    return Owner::Slot(*slot);
                }
                let declared = &self.wanted.points()[p].name;
                if !names.contains(declared) {
                    self.sheet.respelled.push((declared.clone(), name));
                }
                let column = Column::new(self.wanted, p, unit, self.task.layout.decimal(at));
                self.sheet.tracks.push(column.track(self.columns.len(), 0));
                self.sheet.columns.push(Stamps::default());
                self.slots.insert(p, self.columns.len());
                self.columns.push(column);
                Owner::Slot(self.columns.len() - 1)
            }
        }
    }

    /// Books what the section refused.
    fn close(&mut self) {
        for (_, owner) in self.current.drain(..) {
            if let Owner::Refused { reason, name, rows, first } = owner {
                self.account.refuse_each(reason, rows, first, &name);
            }
        }
    }

    fn finish(mut self) -> Sheet {
        self.close();
        self.sheet.word = match (self.sections, self.named) {
            (0 | 1, true) => "wide",
            (0 | 1, false) => "one-point",
            _ => "blocks",
        };
        self.sheet
    }
}
