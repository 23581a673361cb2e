//! The tall shape: a row a reading, with time, the point's name and the value.
//!
//! The account counts one cell a row: the value. Blocks are parsed side by side with the names known so far; one that meets a new name is
//! parsed again once the name is known, so what a name becomes depends on the order of the text alone. Start at [`read`].

use super::blocks::{Block, Blocks, Pool, in_order};
use super::cell::{Cell, is_bad_word, plain_number_at, text};
use super::error::IngestError;
use super::ledger::{Account, reason};
use super::shape::{Column, Dates, Sheet, Stamps, Task, Track, put_blank};
use super::sniff::{Shape, TimeColumns, clean, parted_unit};
use super::split::Part;
use super::time::{Parser, Stamp};
use super::wanted::{Claim, Wanted};
use std::borrow::Cow;
use std::collections::{HashMap, HashSet};
use std::io::Read;
use std::sync::RwLock;

/// Distinct names kept apart; more are counted together, so that a damaged file cannot fill the memory.
const MOST_NAMES: usize = 20_000;
/// Status words that say a reading is one, beside those that the reader of cells knows.
const GOOD: [&str; 8] = ["good", "ok", "gut", "bon", "bueno", "buono", "0", "192"];

/// Reads a tall text with names in one column and values in another.
pub(super) fn read<R: Read + Send>(
    task: &Task<'_>,
    wanted: &mut Wanted<'_>,
    source: &mut Blocks<R>,
    account: &mut Account,
) -> Result<Option<Sheet>, IngestError> {
    let Shape::Tall { time, name, value, unit, status } = task.layout.shape else { return Ok(None) };
    let list = List { task, time, name, value, unit, status, spare: Pool::default() };
    let names = RwLock::new(Names::default());
    let known = || names.read().unwrap_or_else(std::sync::PoisonError::into_inner);
    let mut whole = Whole::default();
    let parse = |block: &Block| {
        let names = known();
        let parsed = list.block(block, &names);
        let again = (!parsed.new.is_empty()).then(|| block.clone());
        (parsed, again)
    };
    in_order(source, parse, |(parsed, again)| {
        let Some(block) = again else { return whole.append(parsed, &list.spare) };
        let mut names = names.write().unwrap_or_else(std::sync::PoisonError::into_inner);
        for (written, unit) in &parsed.new {
            names.meet(task, wanted, written, unit.as_deref(), &mut whole);
        }
        whole.append(list.block(&block, &names), &list.spare)
    })?;
    let names = names.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    for (name, rows) in names.all.iter().zip(&whole.rows) {
        if let Owner::Refused(reason) = name.owner {
            account.refuse_each(reason, rows.0, rows.1, &name.shown);
        }
    }
    account.absorb(whole.account);
    let tracks = whole.slots.into_iter().enumerate().map(|(i, s)| (s.stamps, Track { column: i, ..s.track }));
    let (columns, tracks) = tracks.unzip();
    Ok(Some(Sheet { columns, tracks, dates: whole.dates, respelled: names.respelled, word: "tall" }))
}

struct Name {
    /// As its cell first stood there.
    written: Vec<u8>,
    shown: String,
    owner: Owner,
}

#[derive(Clone, Copy)]
enum Owner {
    Slot(usize),
    Refused(&'static str),
}

/// Names met so far.
struct Names {
    all: Vec<Name>,
    by_name: HashMap<Vec<u8>, usize>,
    columns: Vec<Column>,
    respelled: Vec<(String, String)>,
}

impl Default for Names {
    fn default() -> Self {
        let rest = Name { written: Vec::new(), shown: String::new(), owner: Owner::Refused(reason::REST) };
        Self { all: vec![rest], by_name: HashMap::new(), columns: Vec::new(), respelled: Vec::new() }
    }
}

impl Names {
    fn meet(
        &mut self,
        task: &Task<'_>,
        wanted: &mut Wanted<'_>,
        written: &[u8],
        unit: Option<&str>,
        whole: &mut Whole,
    ) {
        if self.by_name.contains_key(written) || self.all.len() > MOST_NAMES {
            return;
        }
        let shown = clean(&text(written));
        let (bare, behind) = parted_unit(&shown);
        let unit = unit.or(behind).map(str::to_owned);
        let names = if behind.is_some() { vec![bare.to_owned(), shown.clone()] } else { vec![shown.clone()] };
        let owner = match wanted.meet(task.at, &names, unit.as_deref()) {
            Claim::Nobody => Owner::Refused(reason::UNCLAIMED),
            Claim::Ignored => Owner::Refused(reason::IGNORED),
            Claim::Point(p) => Owner::Slot(self.slot(task, wanted, p, (&names, unit.as_deref()), whole)),
        };
        self.all.push(Name { written: written.to_vec(), shown, owner });
        self.by_name.insert(written.to_vec(), self.all.len() - 1);
    }

    fn slot(
        &mut self,
        task: &Task<'_>,
        wanted: &Wanted<'_>,
        point: usize,
        (names, unit): (&[String], Option<&str>),
        whole: &mut Whole,
    ) -> usize {
        let declared = &wanted.points()[point].name;
        if !names.contains(declared) {
            self.respelled.push((declared.clone(), names.last().cloned().unwrap_or_default()));
        }
        if let Some(slot) = self.columns.iter().position(|c| c.point == point) {
            return slot;
        }
        let column = Column::new(wanted, point, unit, task.layout.decimal(value_column(task)));
        whole.slots.push(Slot { stamps: Stamps::default(), track: column.track(0, 0) });
        self.columns.push(column);
        self.columns.len() - 1
    }
}

fn value_column(task: &Task<'_>) -> usize {
    match task.layout.shape {
        Shape::Tall { value, .. } => value,
        Shape::Table(_) => 0,
    }
}

struct List<'a> {
    task: &'a Task<'a>,
    time: TimeColumns,
    name: usize,
    value: usize,
    unit: Option<usize>,
    status: Option<usize>,
    /// Taken over already, with the room they have.
    spare: Pool<Parsed>,
}

/// What a line holds of interest.
#[derive(Default)]
struct Row<'l> {
    date: Option<Cow<'l, [u8]>>,
    clock: Option<Cow<'l, [u8]>>,
    name: Cow<'l, [u8]>,
    unit: Option<Cow<'l, [u8]>>,
    status: Option<Cow<'l, [u8]>>,
    /// Where the value starts; `None` where the line ends before it.
    value_at: Option<usize>,
}

impl List<'_> {
    fn block(&self, block: &Block, names: &Names) -> Parsed {
        let mut parsed = self.spare.take().unwrap_or_default();
        let met = parsed.slots.len();
        parsed
            .slots
            .extend(names.columns[met..].iter().map(|c| Slot { stamps: Stamps::default(), track: c.track(0, 0) }));
        parsed.rows.resize(names.all.len(), (0, 0));
        parsed.next.resize(names.all.len(), 0);
        let first_end = memchr::memchr(b'\n', block.bytes()).and_then(|n| block.bytes()[..n].last());
        parsed.before.end = if first_end == Some(&b'\r') { b'\r' } else { b'\n' };
        let mut parser = self.task.parser();
        let quick = |parsed: &mut Parsed, number, rest: &[u8]| self.as_before(parsed, names, number, rest);
        block.records_or(self.task.dialect(), &mut parsed, quick, |parsed, number, line, unended| {
            if number > self.task.layout.above {
                self.row(parsed, names, &mut parser, number, line, unended);
            }
        });
        parsed
    }

    fn row(&self, parsed: &mut Parsed, names: &Names, parser: &mut Parser, number: u64, line: &[u8], unended: bool) {
        let refuse = |parsed: &mut Parsed, why| {
            parsed.account.file.rows += 1;
            parsed.account.file.cells += 1;
            parsed.account.refuse(why, 1, number, &text(line));
        };
        if unended && self.task.dialect().cells(line).len() < self.task.layout.header.len() {
            return refuse(parsed, reason::CUT);
        }
        let row = self.split(line);
        let written = match (row.date, row.clock) {
            (Some(date), None) if self.time.clock.is_none() => date,
            (Some(date), Some(clock)) => Cow::Owned([date.trim_ascii(), b" ", clock.trim_ascii()].concat()),
            _ => return refuse(parsed, reason::NO_TIME),
        };
        let Some(stamp) = parser.parse(&written) else {
            if !self.says_the_header(line) {
                refuse(parsed, reason::NO_TIME);
            }
            return;
        };
        parsed.account.file.rows += 1;
        parsed.account.file.cells += 1;
        parsed.dates.add(stamp, &written);
        parsed.before.learn(self, matches!(written, Cow::Borrowed(_)).then_some(&written[..]), stamp);
        let Some(known) = parsed.known(names, &row.name) else {
            let unit = row.unit.map(|u| clean(&text(&u))).filter(|u| !u.is_empty());
            if names.all.len() > MOST_NAMES {
                parsed.count(0, number);
            } else if !parsed.met.contains(&row.name[..]) {
                parsed.met.insert(row.name.to_vec());
                parsed.new.push((row.name.into_owned(), unit));
            }
            return;
        };
        parsed.count(known, number);
        if let Owner::Slot(slot) = names.all[known].owner {
            parsed.slots[slot].stamps.push(stamp, number);
            let doubted = row.status.as_ref().is_some_and(|s| is_doubted(s));
            self.fill(parsed, &names.columns[slot], slot, number, line, row.value_at, doubted);
        }
    }

    /// The short way for a row of the last row's time whose name is the one that followed the last name before, and whose last cell is a plain
    /// number: how long the line is, with its end.
    #[inline]
    fn as_before(&self, parsed: &mut Parsed, names: &Names, number: u64, rest: &[u8]) -> Option<usize> {
        let stamp = parsed.before.stamp?;
        let guess = parsed.next[parsed.last];
        let name = &names.all[guess];
        let Owner::Slot(slot) = name.owner else { return None };
        let (time, delimiter) = (&parsed.before.written[..], self.task.dialect().delimiter());
        let after = |cell: &[u8], at: usize| {
            let rest = rest.get(at..)?;
            (rest.get(cell.len()) == Some(&delimiter) && rest.starts_with(cell)).then(|| at + cell.len() + 1)
        };
        let at = if self.time.date == 0 {
            after(time, 0).and_then(|at| after(&name.written, at))
        } else {
            after(&name.written, 0).and_then(|at| after(time, at))
        };
        let column = &names.columns[slot];
        let (reading, end) = plain_number_at(rest, at.filter(|_| column.plain)?, parsed.before.end)?;
        let end = end + if parsed.before.end == b'\r' { 2 } else { 1 };
        if rest.get(end - 1) != Some(&b'\n') {
            return None;
        }
        parsed.account.file.rows += 1;
        parsed.account.file.cells += 1;
        parsed.dates.evidence.add(stamp);
        parsed.last = guess;
        parsed.count(guess, number);
        let Parsed { account, slots, .. } = parsed;
        slots[slot].stamps.push(stamp, number);
        column.number(&mut slots[slot].track, reading, number, account);
        Some(end)
    }

    /// Whether a line repeats a line of the header.
    fn says_the_header(&self, line: &[u8]) -> bool {
        if line.starts_with(b"#") {
            return true;
        }
        let cells: Vec<String> = self.task.dialect().cells(line).iter().map(|c| clean(&text(c))).collect();
        let filled = |row: &[String]| row.iter().filter(|c| !c.is_empty()).cloned().collect::<Vec<_>>();
        self.task.layout.heads.iter().any(|h| filled(h) == filled(&cells))
    }

    fn split<'l>(&self, line: &'l [u8]) -> Row<'l> {
        let mut row = Row::default();
        let mut at = Some(0);
        let mut column = 0;
        let wanted = [Some(self.time.date), self.time.clock, Some(self.name), Some(self.value), self.unit, self.status];
        let last = wanted.into_iter().flatten().max().unwrap_or(0);
        while let Some(here) = at.filter(|_| column <= last) {
            if column == self.value {
                row.value_at = Some(here);
                if column == last {
                    break;
                }
            }
            let (cell, next) = self.task.dialect().cell_at(line, here);
            if column == self.time.date {
                row.date = Some(cell);
            } else if column == self.name {
                row.name = cell;
            } else if Some(column) == self.time.clock {
                row.clock = Some(cell);
            } else if Some(column) == self.unit {
                row.unit = Some(cell);
            } else if Some(column) == self.status {
                row.status = Some(cell);
            }
            (at, column) = (next, column + 1);
        }
        row
    }

    #[allow(clippy::too_many_arguments, reason = "one cell with all that is known of it")]
    fn fill(
        &self,
        parsed: &mut Parsed,
        column: &Column,
        slot: usize,
        number: u64,
        line: &[u8],
        at: Option<usize>,
        doubted: bool,
    ) {
        let Parsed { account, slots, .. } = parsed;
        let (dialect, track) = (self.task.dialect(), &mut slots[slot].track);
        let Some(at) = at else { return put_blank(track, self.task.blank, account) };
        if !doubted
            && column.plain
            && matches!(dialect.part, Part::Byte(_))
            && let Some((reading, _)) = plain_number_at(line, at, dialect.delimiter())
        {
            return column.number(track, reading, number, account);
        }
        let cell = dialect.cell_at(line, at).0;
        if doubted && !matches!(column.reader.read(&cell), Cell::Blank) {
            return column.bad(track, &cell, reason::BAD_STATUS, number, account);
        }
        column.slow(track, &cell, number, self.task.blank, account);
    }
}

/// Whether a word of status says that the reading is none.
fn is_doubted(status: &[u8]) -> bool {
    let word = clean(&text(status)).to_lowercase();
    !word.is_empty() && !GOOD.contains(&word.as_str()) && is_bad_word(&word)
}

/// The time of the last row, where the next may be compared with it as it stands.
#[derive(Default)]
struct Before {
    written: Vec<u8>,
    stamp: Option<Stamp>,
    /// The first byte of the block's line ends.
    end: u8,
}

impl Before {
    /// Time and name in front, then the value, no status. `written`: the cell, where it stands so in the text.
    #[inline]
    fn learn(&mut self, list: &List<'_>, written: Option<&[u8]>, stamp: Stamp) {
        self.stamp = None;
        let in_front = list.time.clock.is_none() && list.status.is_none() && list.time.date + list.name == 1;
        if let Some(cell) = written
            && in_front
            && list.value == 2
            && matches!(list.task.dialect().part, Part::Byte(_))
        {
            self.written.clear();
            self.written.extend_from_slice(cell);
            self.stamp = Some(stamp);
        }
    }
}

#[derive(Default)]
struct Slot {
    stamps: Stamps,
    track: Track,
}

/// What comes of some lines.
#[derive(Default)]
struct Parsed {
    account: Account,
    dates: Dates,
    slots: Vec<Slot>,
    /// By name: rows, and the first of them.
    rows: Vec<(u64, u64)>,
    /// By name: the name that followed it last time.
    next: Vec<usize>,
    last: usize,
    /// Names not known yet, in the order of the text, with their units.
    new: Vec<(Vec<u8>, Option<String>)>,
    /// The same names.
    met: HashSet<Vec<u8>>,
    before: Before,
}

impl Parsed {
    /// Index of a name; the one that followed the last name before is tried first.
    #[inline]
    fn known(&mut self, names: &Names, name: &[u8]) -> Option<usize> {
        let guess = self.next[self.last];
        let found = if guess > 0 && names.all[guess].written == name { guess } else { *names.by_name.get(name)? };
        self.next[self.last] = found;
        self.last = found;
        Some(found)
    }

    #[inline]
    fn count(&mut self, name: usize, line: u64) {
        let rows = &mut self.rows[name];
        if rows.0 == 0 {
            rows.1 = line;
        }
        rows.0 += 1;
    }
}

/// What comes of the whole text.
#[derive(Default)]
struct Whole {
    account: Account,
    dates: Dates,
    slots: Vec<Slot>,
    rows: Vec<(u64, u64)>,
}

impl Whole {
    /// Readings held so far.
    fn append(&mut self, mut next: Parsed, spare: &Pool<Parsed>) -> usize {
        self.account.absorb(std::mem::take(&mut next.account));
        self.dates.append(&mut next.dates);
        for (mine, next) in self.slots.iter_mut().zip(&mut next.slots) {
            mine.stamps.append(&mut next.stamps);
            mine.track.append(&mut next.track);
        }
        self.rows.resize(self.rows.len().max(next.rows.len()), (0, 0));
        for (mine, next) in self.rows.iter_mut().zip(&mut next.rows) {
            if mine.0 == 0 {
                mine.1 = next.1;
            }
            mine.0 += std::mem::take(&mut next.0);
        }
        next.before.stamp = None;
        spare.put(next);
        self.slots.iter().map(|s| s.track.values.len()).sum()
    }
}
