//! Tables: columns of readings beside a column of times (wide), or several such groups side by side (pairs).
//!
//! A row with fewer cells than the header lacks its last readings; cells beyond the header are refused. A row whose time
//! cannot be read is refused whole, but for lines that say again what the header says. Start at [`read`].

use super::blocks::{Block, Blocks, MOST_ABSENT, Pool, in_order};
use super::cell::{plain_number_at, text};
use super::error::IngestError;
use super::ledger::{Account, reason};
use super::shape::{Column, Dates, Sheet, Stamps, Task, Track, put_blank};
use super::sniff::{Group, Shape, TimeColumns, ValueColumn, clean};
use super::split::Part;
use super::time::{Parser, Stamp};
use super::wanted::{Claim, Wanted};
use std::borrow::Cow;
use std::collections::HashSet;
use std::io::Read;

/// Reads a table. `None`: another table with other columns follows below, so that it has to be read section by section.
pub(super) fn read<R: Read + Send>(
    task: &Task<'_>,
    wanted: &mut Wanted<'_>,
    source: &mut Blocks<R>,
    account: &mut Account,
) -> Result<Option<Sheet>, IngestError> {
    let Shape::Table(groups) = &task.layout.shape else { return Ok(None) };
    let mut sheet = Sheet { word: task.layout.word(), ..Sheet::default() };
    let plan = Plan::new(task, groups, wanted, &mut sheet);
    let mut whole = Parsed::new(&plan, 0, 0);
    in_order(source, |block| plan.block(block), |part| whole.append(part, &plan.spare))?;
    if whole.stacked {
        return Ok(None);
    }
    plan.finish(&mut whole, account);
    account.absorb(whole.account);
    sheet.dates = whole.dates;
    sheet.columns = whole.columns;
    sheet.tracks = whole.tracks;
    Ok(Some(sheet))
}

#[derive(Debug, Clone, Copy)]
enum Use {
    Time,
    Nameless,
    /// Counted once for all rows.
    Refused,
    Reading(usize),
}

/// What to do with each column, the same for all rows.
struct Plan<'a> {
    task: &'a Task<'a>,
    times: Vec<TimeColumns>,
    uses: Vec<Use>,
    columns: Vec<Column>,
    /// Index into `times` of each of `columns`.
    groups: Vec<usize>,
    /// Points that have a column.
    claimed: HashSet<usize>,
    /// Names of refused columns.
    refused: Vec<(usize, &'static str, String)>,
    /// Columns whose cells the account counts in every row.
    counted: u64,
    /// Taken over already, with the room they have.
    spare: Pool<Parsed>,
}

impl<'a> Plan<'a> {
    fn new(task: &'a Task<'a>, groups: &[Group], wanted: &mut Wanted<'_>, sheet: &mut Sheet) -> Self {
        let width = groups
            .iter()
            .flat_map(|g| g.values.iter().map(|v| v.column).chain([g.time.date, g.time.clock.unwrap_or(0)]))
            .max();
        let width = width.map_or(0, |w| w + 1).max(task.layout.header.len());
        let mut plan = Self {
            task,
            times: groups.iter().map(|g| g.time).collect(),
            uses: vec![Use::Nameless; width],
            columns: Vec::new(),
            groups: Vec::new(),
            claimed: HashSet::new(),
            refused: Vec::new(),
            counted: 0,
            spare: Pool::default(),
        };
        for (g, group) in groups.iter().enumerate() {
            for value in &group.values {
                plan.uses[value.column] = plan.claim(value, g, wanted, sheet);
            }
        }
        for t in &plan.times {
            plan.uses[t.date] = Use::Time;
            t.clock.into_iter().for_each(|c| plan.uses[c] = Use::Time);
        }
        plan.counted = plan.uses.iter().filter(|u| matches!(u, Use::Refused | Use::Reading(_))).count() as u64;
        plan
    }

    fn claim(&mut self, value: &ValueColumn, group: usize, wanted: &mut Wanted<'_>, sheet: &mut Sheet) -> Use {
        let Some(name) = value.names.first() else { return Use::Nameless };
        let mut refuse = |why| {
            self.refused.push((value.column, why, value.names.last().cloned().unwrap_or_default()));
            Use::Refused
        };
        match wanted.meet(self.task.at, &value.names, value.unit.as_deref()) {
            Claim::Nobody => refuse(reason::UNCLAIMED),
            Claim::Ignored => refuse(reason::IGNORED),
            Claim::Point(p) if !self.claimed.insert(p) => refuse(reason::REPEATED),
            Claim::Point(p) => {
                let declared = &wanted.points()[p].name;
                if !value.names.contains(declared) {
                    sheet.respelled.push((declared.clone(), name.clone()));
                }
                self.columns.push(Column::new(
                    wanted,
                    p,
                    value.unit.as_deref(),
                    self.task.layout.decimal(value.column),
                ));
                self.groups.push(group);
                Use::Reading(self.columns.len() - 1)
            }
        }
    }

    fn block(&self, block: &Block) -> Parsed {
        let anew = || Parsed::new(self, block.lines as usize + 1, block.bytes().len());
        let mut parsed = self.spare.take().unwrap_or_else(anew);
        let mut parsers: Vec<Parser> = self.times.iter().map(|_| self.task.parser()).collect();
        block.records(self.task.dialect(), |number, line, unended| {
            // Given up: what is held by now is refused.
            let stand = if self.times.len() == 1 { parsed.kept_rows as usize * self.columns.len() } else { 0 };
            let absent = stand > block.bytes().len() + MOST_ABSENT;
            if number > self.task.layout.above && !absent {
                self.row(&mut parsed, &mut parsers, number, line, unended);
            }
        });
        parsed
    }

    fn row(&self, parsed: &mut Parsed, parsers: &mut [Parser], number: u64, line: &[u8], unended: bool) {
        if unended && self.task.dialect().cells(line).len() < self.uses.len() {
            parsed.rows(self.counted);
            return parsed.account.refuse(reason::CUT, self.counted, number, &text(line));
        }
        if let [time] = self.times.as_slice() {
            // Most tables start with their times.
            let first = (time.date == 0).then(|| self.task.dialect().cell_at(line, 0));
            let cell = |c: usize| match &first {
                Some((cell, _)) if c == 0 => Some(Cow::Borrowed(&cell[..])),
                _ => self.task.dialect().nth(line, c),
            };
            let Some(stamp) = parsed.stamp(*time, &mut parsers[0], cell) else {
                return self.timeless(parsed, number, line);
            };
            parsed.rows(self.counted);
            parsed.columns[0].push(stamp, number);
            if parsed.kept_rows == 0 {
                parsed.first_kept = number;
            }
            parsed.kept_rows += 1;
            match first {
                Some((_, next)) => self.cells(parsed, number, line, 1, next),
                None => self.cells(parsed, number, line, 0, Some(0)),
            }
        } else {
            self.pairs(parsed, parsers, number, line);
        }
    }

    /// A row without a time: something the header says, a remark, or readings that are lost.
    fn timeless(&self, parsed: &mut Parsed, number: u64, line: &[u8]) {
        if line.starts_with(b"#") {
            return;
        }
        let cells: Vec<String> = self.task.dialect().cells(line).iter().map(|c| clean(&text(c))).collect();
        let filled = |row: &[String]| row.iter().filter(|c| !c.is_empty()).cloned().collect::<Vec<_>>();
        let (layout, own) = (self.task.layout, filled(&cells));
        if own.is_empty() || layout.heads.iter().any(|h| filled(h) == own) {
            return;
        }
        let time_head = layout.header.get(self.times[0].date).filter(|h| !h.is_empty());
        parsed.stacked |= time_head.is_some() && cells.get(self.times[0].date) == time_head && own.len() > 1;
        let lost = (own.len() as u64).min(self.counted.max(1));
        parsed.rows(lost);
        parsed.account.refuse(reason::NO_TIME, lost, number, &text(line));
    }

    /// The cells of a row from a column on, which starts at `at`; `None`: the line has ended.
    #[inline]
    fn cells(&self, parsed: &mut Parsed, number: u64, line: &[u8], column: usize, mut at: Option<usize>) {
        let (dialect, blank) = (self.task.dialect(), self.task.blank);
        let plain = matches!(dialect.part, Part::Byte(_));
        let delimiter = dialect.delimiter();
        for used in &self.uses[column..] {
            let Some(here) = at else {
                if let Use::Reading(slot) = *used {
                    put_blank(&mut parsed.tracks[slot], blank, &mut parsed.account);
                }
                continue;
            };
            if let Use::Reading(slot) = *used {
                let (column, track) = (&self.columns[slot], &mut parsed.tracks[slot]);
                if plain
                    && column.plain
                    && let Some((reading, end)) = plain_number_at(line, here, delimiter)
                {
                    column.number(track, reading, number, &mut parsed.account);
                    at = (end < line.len()).then_some(end + 1);
                    continue;
                }
                let (cell, next) = dialect.cell_at(line, here);
                column.slow(track, &cell, number, blank, &mut parsed.account);
                at = next;
                continue;
            }
            let (cell, next) = dialect.cell_at(line, here);
            at = next;
            if matches!(used, Use::Nameless) && !cell.trim_ascii().is_empty() {
                parsed.account.file.cells += 1;
                parsed.account.refuse(reason::NAMELESS, 1, number, &text(&cell));
            }
        }
        while let Some(here) = at {
            let (cell, next) = dialect.cell_at(line, here);
            at = next;
            if !cell.trim_ascii().is_empty() {
                parsed.account.file.cells += 1;
                parsed.account.refuse(reason::TOO_MANY, 1, number, &text(&cell));
            }
        }
    }

    /// Groups side by side; where one has ended, its cells are blank.
    fn pairs(&self, parsed: &mut Parsed, parsers: &mut [Parser], number: u64, line: &[u8]) {
        let cells = self.task.dialect().cells(line);
        let filled = |c: usize| cells.get(c).is_some_and(|c| !c.trim_ascii().is_empty());
        let mut stamps = Vec::with_capacity(self.times.len());
        for (time, parser) in self.times.iter().zip(parsers) {
            stamps.push(parsed.stamp(*time, parser, |c| cells.get(c).map(|cell| Cow::Borrowed(&cell[..]))));
        }
        if stamps.iter().all(Option::is_none) {
            return self.timeless(parsed, number, line);
        }
        parsed.account.file.rows += 1;
        for (g, stamp) in stamps.iter().enumerate() {
            if let Some(stamp) = stamp {
                parsed.columns[g].push(*stamp, number);
            }
        }
        if parsed.kept_rows == 0 {
            parsed.first_kept = number;
        }
        parsed.kept_rows += 1;
        for (c, used) in self.uses.iter().enumerate() {
            let cell = cells.get(c).map_or(&b""[..], |c| c);
            match *used {
                Use::Reading(slot) => match stamps[self.groups[slot]] {
                    Some(_) => {
                        parsed.account.file.cells += 1;
                        let track = &mut parsed.tracks[slot];
                        self.columns[slot].slow(track, cell, number, self.task.blank, &mut parsed.account);
                    }
                    None if filled(c) => {
                        parsed.account.file.cells += 1;
                        parsed.account.refuse(reason::NO_TIME, 1, number, &text(cell));
                    }
                    None => {}
                },
                Use::Refused => parsed.account.file.cells += 1,
                Use::Nameless if filled(c) => {
                    parsed.account.file.cells += 1;
                    parsed.account.refuse(reason::NAMELESS, 1, number, &text(cell));
                }
                Use::Nameless | Use::Time => {}
            }
        }
    }

    fn finish(&self, whole: &mut Parsed, account: &mut Account) {
        for (_, reason, name) in &self.refused {
            account.refuse_each(reason, whole.kept_rows, whole.first_kept, name);
        }
    }
}

/// What comes of some lines.
struct Parsed {
    account: Account,
    columns: Vec<Stamps>,
    tracks: Vec<Track>,
    dates: Dates,
    kept_rows: u64,
    first_kept: u64,
    stacked: bool,
}

impl Parsed {
    /// Room for so many rows in so many bytes; a whole row takes a byte a column at least.
    fn new(plan: &Plan<'_>, rows: usize, bytes: usize) -> Self {
        let whole = rows.min(bytes / plan.uses.len().max(1) + 1);
        let stamps = || Stamps { stamps: Vec::with_capacity(rows), lines: Vec::with_capacity(rows) };
        Self {
            account: Account::default(),
            columns: plan.times.iter().map(|_| stamps()).collect(),
            tracks: plan.columns.iter().zip(&plan.groups).map(|(c, g)| c.track(*g, whole)).collect(),
            dates: Dates::default(),
            kept_rows: 0,
            first_kept: 0,
            stacked: false,
        }
    }

    fn rows(&mut self, cells: u64) {
        self.account.file.rows += 1;
        self.account.file.cells += cells;
    }

    /// `cell`: the cell of a column of the row.
    #[inline]
    fn stamp<'l>(
        &mut self,
        time: TimeColumns,
        parser: &mut Parser,
        cell: impl Fn(usize) -> Option<Cow<'l, [u8]>>,
    ) -> Option<Stamp> {
        let date = cell(time.date)?;
        let written: Cow<'_, [u8]> = match time.clock {
            None => date,
            Some(column) => {
                let clock = cell(column)?;
                Cow::Owned([date.trim_ascii(), b" ", clock.trim_ascii()].concat())
            }
        };
        let stamp = parser.parse(&written)?;
        self.dates.add(stamp, &written);
        Some(stamp)
    }

    /// Readings held so far.
    fn append(&mut self, mut next: Self, spare: &Pool<Self>) -> usize {
        self.dates.append(&mut next.dates);
        self.account.absorb(std::mem::take(&mut next.account));
        for (mine, next) in self.columns.iter_mut().zip(&mut next.columns) {
            mine.append(next);
        }
        for (mine, next) in self.tracks.iter_mut().zip(&mut next.tracks) {
            mine.append(next);
        }
        if self.kept_rows == 0 {
            self.first_kept = next.first_kept;
        }
        self.kept_rows += std::mem::take(&mut next.kept_rows);
        self.stacked |= std::mem::take(&mut next.stacked);
        spare.put(next);
        self.tracks.iter().map(|t| t.values.len()).sum()
    }
}
