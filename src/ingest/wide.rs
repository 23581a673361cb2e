//! The wide shape: a row a time, a column a point.
//!
//! A row with fewer cells than the header lacks its last readings; cells beyond the header are refused. A row whose time
//! cannot be read is refused whole. Start at [`read`].

use super::cell::{cell_at, plain_number_at, text};
use super::error::IngestError;
use super::ledger::{Account, reason};
use super::open::{Block, Lines, rows};
use super::shape::{Claim, Filling, Sheet, Stamps, Task, claim, each_block};
use super::time::{Parser, Stamp};
use std::io::Read;

/// Reads a wide file.
pub(super) fn read<R: Read>(
    task: &Task<'_>,
    source: &mut Lines<R>,
    account: &mut Account,
) -> Result<Sheet, IngestError> {
    let mut table = Table::new(task);
    each_block(source, |block| table.block(block, account))?;
    Ok(table.finish(account))
}

enum Column {
    Time,
    Nameless,
    /// Counted once for all rows.
    Refused(&'static str),
    Point(usize),
}

struct Table<'a> {
    task: &'a Task<'a>,
    columns: Vec<Column>,
    /// Columns whose cells the account counts in every row.
    counted: u64,
    fillings: Vec<Filling<'a>>,
    stamps: Stamps,
    parser: Parser,
    sheet: Sheet,
    kept_rows: u64,
    first_kept: u64,
}

impl<'a> Table<'a> {
    fn new(task: &'a Task<'a>) -> Self {
        let mut sheet = Sheet::default();
        let mut fillings: Vec<Filling> = Vec::new();
        let column = |(c, name): (usize, &String)| {
            if c == task.layout.time || Some(c) == task.layout.time_of_day {
                return Column::Time;
            }
            if name.is_empty() {
                return Column::Nameless;
            }
            match claim(task.plant, task.path, name) {
                Claim::Nobody => Column::Refused(reason::UNCLAIMED),
                Claim::Ignored => Column::Refused(reason::IGNORED),
                Claim::Point(p) if fillings.iter().any(|f| f.track.point == p) => Column::Refused(reason::REPEATED),
                Claim::Point(p) => {
                    let declared = &task.plant.points[p].name;
                    if declared != name {
                        sheet.respelled.push((declared.clone(), name.clone()));
                    }
                    fillings.push(Filling::new(task.plant, p, 0, task.layout.delimiter));
                    Column::Point(fillings.len() - 1)
                }
            }
        };
        let columns: Vec<Column> = task.layout.header.iter().enumerate().map(column).collect();
        let counted = columns.iter().filter(|c| matches!(c, Column::Refused(_) | Column::Point(_))).count() as u64;
        let (stamps, parser) = (Stamps::default(), Parser::default());
        Self { task, columns, counted, fillings, stamps, parser, sheet, kept_rows: 0, first_kept: 0 }
    }

    fn block(&mut self, block: &Block<'_>, account: &mut Account) {
        for (number, line, unended) in rows(block, self.task.layout.header_line) {
            self.row(number, line, unended, account);
        }
    }

    fn row(&mut self, number: u64, line: &[u8], unended: bool, account: &mut Account) {
        account.file.rows += 1;
        account.file.cells += self.counted;
        if unended && self.is_cut(line) {
            return account.refuse(reason::CUT, self.counted, number, &text(line));
        }
        let Some(stamp) = self.stamp(line) else {
            return account.refuse(reason::NO_TIME, self.counted, number, &text(line));
        };
        self.stamps.stamps.push(stamp);
        self.stamps.lines.push(u32::try_from(number).unwrap_or(u32::MAX));
        self.kept_rows += 1;
        if self.kept_rows == 1 {
            self.first_kept = number;
        }
        self.cells(number, line, account);
    }

    /// A last line without its end and with fewer cells than the header.
    fn is_cut(&self, line: &[u8]) -> bool {
        super::cell::cells(line, self.task.layout.delimiter).len() < self.columns.len()
    }

    fn stamp(&mut self, line: &[u8]) -> Option<Stamp> {
        let layout = self.task.layout;
        let date = nth(line, layout.delimiter, layout.time)?;
        let joined;
        let written: &[u8] = match layout.time_of_day {
            None => &date,
            Some(column) => {
                joined = [date.trim_ascii(), b" ", nth(line, layout.delimiter, column)?.trim_ascii()].concat();
                &joined
            }
        };
        let stamp = self.parser.parse(written)?;
        if self.sheet.evidence.add(stamp) || self.sheet.example.is_empty() {
            self.sheet.example = text(written.trim_ascii()).into_owned();
        }
        Some(stamp)
    }

    fn cells(&mut self, number: u64, line: &[u8], account: &mut Account) {
        let (delimiter, blank) = (self.task.layout.delimiter, self.task.plant.trends.blank);
        let mut at = Some(0);
        for column in &self.columns {
            let Some(here) = at else {
                if let Column::Point(slot) = *column {
                    self.fillings[slot].blank(blank, account);
                }
                continue;
            };
            if let Column::Point(slot) = *column {
                let filling = &mut self.fillings[slot];
                if filling.reader.takes_plain_numbers()
                    && let Some((reading, end)) = plain_number_at(line, here, delimiter)
                {
                    filling.number(reading, number, account);
                    at = (end < line.len()).then_some(end + 1);
                    continue;
                }
                let (cell, next) = cell_at(line, here, delimiter);
                filling.slow(&cell, number, blank, account);
                at = next;
                continue;
            }
            let (cell, next) = cell_at(line, here, delimiter);
            at = next;
            if matches!(column, Column::Nameless) && !cell.trim_ascii().is_empty() {
                account.file.cells += 1;
                account.refuse(reason::NAMELESS, 1, number, &text(&cell));
            }
        }
        beyond(number, line, at, delimiter, account);
    }

    fn finish(mut self, account: &mut Account) -> Sheet {
        for (column, name) in self.columns.iter().zip(&self.task.layout.header) {
            if let Column::Refused(reason) = column {
                account.refuse_each(reason, self.kept_rows, self.first_kept, name);
            }
        }
        self.sheet.tracks = self.fillings.into_iter().map(|f| f.track).collect();
        self.sheet.columns = vec![self.stamps];
        self.sheet
    }
}

/// Cells after the last that the header names.
fn beyond(number: u64, line: &[u8], mut at: Option<usize>, delimiter: u8, account: &mut Account) {
    while let Some(here) = at {
        let (cell, next) = cell_at(line, here, delimiter);
        at = next;
        if !cell.trim_ascii().is_empty() {
            account.file.cells += 1;
            account.refuse(reason::TOO_MANY, 1, number, &text(&cell));
        }
    }
}

/// Cell number `n` of a line.
pub(super) fn nth(line: &[u8], delimiter: u8, n: usize) -> Option<std::borrow::Cow<'_, [u8]>> {
    let mut at = 0;
    for _ in 0..n {
        at = cell_at(line, at, delimiter).1?;
    }
    Some(cell_at(line, at, delimiter).0)
}
