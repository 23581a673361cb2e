//! The tall shape: a row a reading, with time, the point's name and the value.
//!
//! The account counts one cell a row: the value. Start at [`read`].

use super::cell::{cell_at, cells, plain_number_at, text};
use super::error::IngestError;
use super::ledger::{Account, reason};
use super::open::{Block, Lines, rows};
use super::shape::{Claim, Filling, Sheet, Stamps, Task, claim, each_block};
use super::sniff::Shape;
use super::time::Parser;
use std::borrow::Cow;
use std::collections::HashMap;
use std::io::Read;

/// Distinct names kept apart; more are counted together, so that a damaged file cannot fill the memory.
const MOST_NAMES: usize = 20_000;

/// Reads a tall file with names in one column and values in another.
pub(super) fn read<R: Read>(
    task: &Task<'_>,
    source: &mut Lines<R>,
    account: &mut Account,
) -> Result<Sheet, IngestError> {
    let Shape::Tall { name, value } = task.layout.shape else { return Ok(Sheet::default()) };
    let mut list = List::new(task, name, value);
    each_block(source, |block| list.block(block, account))?;
    Ok(list.finish(account))
}

struct Name {
    written: Vec<u8>,
    owner: Owner,
    rows: u64,
    first_line: u64,
    /// The name that followed it last time.
    next: usize,
}

#[derive(Clone, Copy)]
enum Owner {
    Slot(usize),
    Refused(&'static str),
}

struct List<'a> {
    task: &'a Task<'a>,
    name: usize,
    value: usize,
    names: Vec<Name>,
    by_name: HashMap<Vec<u8>, usize>,
    last: usize,
    fillings: Vec<Filling<'a>>,
    columns: Vec<Stamps>,
    parser: Parser,
    sheet: Sheet,
}

/// What a line holds of interest.
struct Row<'l> {
    time: Cow<'l, [u8]>,
    time_of_day: Option<Cow<'l, [u8]>>,
    name: Cow<'l, [u8]>,
    /// Where the value starts; `None` where the line ends before it.
    value_at: Option<usize>,
}

impl<'a> List<'a> {
    fn new(task: &'a Task<'a>, name: usize, value: usize) -> Self {
        let rest = Name { written: Vec::new(), owner: Owner::Refused(reason::REST), rows: 0, first_line: 0, next: 0 };
        Self {
            task,
            name,
            value,
            names: vec![rest],
            by_name: HashMap::new(),
            last: 0,
            fillings: Vec::new(),
            columns: Vec::new(),
            parser: Parser::default(),
            sheet: Sheet::default(),
        }
    }

    fn block(&mut self, block: &Block<'_>, account: &mut Account) {
        for (number, line, unended) in rows(block, self.task.layout.header_line) {
            self.row(number, line, unended, account);
        }
    }

    fn row(&mut self, number: u64, line: &[u8], unended: bool, account: &mut Account) {
        account.file.rows += 1;
        account.file.cells += 1;
        let layout = self.task.layout;
        if unended && cells(line, layout.delimiter).len() < layout.header.len() {
            return account.refuse(reason::CUT, 1, number, &text(line));
        }
        let Some(row) = self.split(line) else {
            return account.refuse(reason::NO_TIME, 1, number, &text(line));
        };
        let written = match &row.time_of_day {
            None => row.time,
            Some(time) => Cow::Owned([row.time.trim_ascii(), b" ", time.trim_ascii()].concat()),
        };
        let Some(stamp) = self.parser.parse(&written) else {
            return account.refuse(reason::NO_TIME, 1, number, &text(line));
        };
        if self.sheet.evidence.add(stamp) || self.sheet.example.is_empty() {
            self.sheet.example = text(written.trim_ascii()).into_owned();
        }
        let known = self.known(&row.name);
        let entry = &mut self.names[known];
        entry.rows += 1;
        if entry.rows == 1 {
            entry.first_line = number;
        }
        if let Owner::Slot(slot) = entry.owner {
            self.columns[slot].stamps.push(stamp);
            self.columns[slot].lines.push(u32::try_from(number).unwrap_or(u32::MAX));
            self.fill(slot, number, line, row.value_at, account);
        }
    }

    fn split<'l>(&self, line: &'l [u8]) -> Option<Row<'l>> {
        let layout = self.task.layout;
        let (mut time, mut time_of_day, mut name, mut value_at) = (None, None, None, None);
        let mut at = Some(0);
        let mut column = 0;
        let last = layout.time.max(self.name).max(self.value).max(layout.time_of_day.unwrap_or(0));
        while let Some(here) = at.filter(|_| column <= last) {
            if column == self.value {
                value_at = Some(here);
                if column == last {
                    break;
                }
            }
            let (cell, next) = cell_at(line, here, layout.delimiter);
            if column == layout.time {
                time = Some(cell);
            } else if Some(column) == layout.time_of_day {
                time_of_day = Some(cell);
            } else if column == self.name {
                name = Some(cell);
            }
            (at, column) = (next, column + 1);
        }
        if layout.time_of_day.is_some() && time_of_day.is_none() {
            return None;
        }
        Some(Row { time: time?, time_of_day, name: name.unwrap_or_default(), value_at })
    }

    /// Index of a name; the one that followed the last name before is tried first.
    fn known(&mut self, name: &[u8]) -> usize {
        let guess = self.names[self.last].next;
        let found = if guess > 0 && self.names[guess].written == name {
            guess
        } else {
            let found = match self.by_name.get(name) {
                Some(i) => *i,
                None => self.meet(name),
            };
            self.names[self.last].next = found;
            found
        };
        self.last = found;
        found
    }

    fn meet(&mut self, name: &[u8]) -> usize {
        if self.names.len() > MOST_NAMES {
            return 0;
        }
        let written = text(name.trim_ascii()).into_owned();
        let owner = match claim(self.task.plant, self.task.path, &written) {
            Claim::Nobody => Owner::Refused(reason::UNCLAIMED),
            Claim::Ignored => Owner::Refused(reason::IGNORED),
            Claim::Point(p) => Owner::Slot(self.slot(p, &written)),
        };
        self.names.push(Name { written: name.to_vec(), owner, rows: 0, first_line: 0, next: 0 });
        self.by_name.insert(name.to_vec(), self.names.len() - 1);
        self.names.len() - 1
    }

    fn slot(&mut self, point: usize, written: &str) -> usize {
        let declared = &self.task.plant.points[point].name;
        if declared != written {
            self.sheet.respelled.push((declared.clone(), written.to_string()));
        }
        if let Some(slot) = self.fillings.iter().position(|f| f.track.point == point) {
            return slot;
        }
        let slot = self.fillings.len();
        self.fillings.push(Filling::new(self.task.plant, point, slot, self.task.layout.delimiter));
        self.columns.push(Stamps::default());
        slot
    }

    fn fill(&mut self, slot: usize, number: u64, line: &[u8], at: Option<usize>, account: &mut Account) {
        let (delimiter, blank) = (self.task.layout.delimiter, self.task.plant.trends.blank);
        let filling = &mut self.fillings[slot];
        let Some(at) = at else { return filling.blank(blank, account) };
        if filling.reader.takes_plain_numbers()
            && let Some((reading, _)) = plain_number_at(line, at, delimiter)
        {
            return filling.number(reading, number, account);
        }
        filling.slow(&cell_at(line, at, delimiter).0, number, blank, account);
    }

    fn finish(mut self, account: &mut Account) -> Sheet {
        for name in &self.names {
            if let Owner::Refused(reason) = name.owner {
                account.refuse_each(reason, name.rows, name.first_line, &text(name.written.trim_ascii()));
            }
        }
        self.sheet.tracks = self.fillings.into_iter().map(|f| f.track).collect();
        self.sheet.columns = self.columns;
        self.sheet
    }
}
