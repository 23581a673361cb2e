//! What a text of rows looks like: what parts its cells, where its header is, which columns hold what.
//!
//! Comes in: the first block of a text and the names a plant declares. Goes out: a [`Layout`]. Only the layout is decided
//! from the first rows; how times are written is decided later, over the whole column. Table: columns of values beside a column of
//! times (wide), or several times over (pairs). Tall: a column of point names beside a column of values. A table with one column of
//! values is read section by section, since other points may follow below (`sections`).

mod grid;
mod heads;
mod tall;

pub(super) use heads::{named_in, of_lines as heads_of, parted_unit, says_nothing};

use super::blocks::Block;
use super::cell::{Decimal, text};
use super::error::IngestError;
use super::split::{Dialect, Part};
use crate::plant::{Delimiter, Written};
use grid::Grid;

/// Lines looked at: enough for any preamble, few enough to cost nothing.
const LOOKED_AT: usize = 300;
/// No export has more columns [-]: a spreadsheet has 16,384.
const MOST_COLUMNS: usize = 50_000;
/// What parts cells, the likelier first.
const PARTS: [Part; 6] =
    [Part::Byte(b','), Part::Byte(b';'), Part::Byte(b'\t'), Part::Byte(b'|'), Part::Blanks(2), Part::Blanks(1)];

/// Where things stand in a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Layout {
    pub dialect: Dialect,
    /// Line of the header, from 1; 0 where there is none.
    pub header_line: u64,
    /// The line above the first row of readings: nothing up to here is a reading.
    pub above: u64,
    pub header: Vec<String>,
    /// Lines that name columns or units, as cells: where they come again, they are no readings.
    pub heads: Vec<Vec<String>>,
    /// What stands above the header.
    pub preamble: Vec<Vec<String>>,
    /// Of the numbers, by column; columns beyond have the last.
    pub decimals: Vec<Decimal>,
    /// The column of times holds bare numbers: a spreadsheet's days, or Unix time.
    pub numbers_are_times: bool,
    pub shape: Shape,
}

/// Which columns hold a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TimeColumns {
    pub date: usize,
    /// Where the time of day stands in a column of its own.
    pub clock: Option<usize>,
}

/// A column of readings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct ValueColumn {
    pub column: usize,
    /// What it may be called, the likelier first.
    pub names: Vec<String>,
    pub unit: Option<String>,
}

/// Readings that share a column of times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Group {
    pub time: TimeColumns,
    pub values: Vec<ValueColumn>,
}

/// How points are laid out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Shape {
    /// One group: wide. Several: pairs.
    Table(Vec<Group>),
    Tall {
        time: TimeColumns,
        name: usize,
        value: usize,
        unit: Option<usize>,
        status: Option<usize>,
    },
}

impl Layout {
    /// As `inspect` calls it; a table with one column of values is called by what is found below (`sections`).
    pub fn word(&self) -> &'static str {
        match &self.shape {
            Shape::Tall { .. } => "tall",
            Shape::Table(groups) if groups.len() > 1 => "pairs",
            Shape::Table(_) => "wide",
        }
    }

    /// Whether other points may follow below the first.
    pub fn one_value(&self) -> bool {
        matches!(&self.shape, Shape::Table(groups) if groups.len() == 1 && groups[0].values.len() <= 1)
    }

    /// The decimal sign of a column's numbers.
    pub fn decimal(&self, column: usize) -> Decimal {
        self.decimals.get(column).or(self.decimals.last()).copied().unwrap_or(Decimal::Point)
    }

    /// Whether most columns have decimal commas.
    pub fn decimal_comma(&self) -> bool {
        2 * self.decimals.iter().filter(|d| **d == Decimal::Comma).count() > self.decimals.len()
    }

    /// The time columns by name, for people.
    pub fn time_names(&self) -> Vec<String> {
        let of = |t: &TimeColumns| {
            [Some(t.date), t.clock].into_iter().flatten().map(|c| self.header.get(c).cloned().unwrap_or_default())
        };
        match &self.shape {
            Shape::Table(groups) => groups.iter().flat_map(|g| of(&g.time)).collect(),
            Shape::Tall { time, .. } => of(time).collect(),
        }
    }
}

/// The layout of a text.
pub(super) fn sniff(path: &str, block: &Block, names: &[&str], written: Written) -> Result<Layout, IngestError> {
    refuse_binary(path, block)?;
    let rows: Vec<(u64, &[u8])> = block
        .lines()
        .filter(|(_, l)| !l.trim_ascii().is_empty() && !l.starts_with(b"#") && !is_separator_line(l))
        .take(LOOKED_AT)
        .collect();
    let Some(&(first, first_line)) = rows.first() else { return Err(IngestError::Empty { path: path.to_string() }) };
    let quote = quote_of(&rows);
    for &(line, text) in &rows {
        let columns = 1 + b",;\t|".map(|part| memchr::memchr_iter(part, text).count()).into_iter().max().unwrap_or(0);
        if columns > MOST_COLUMNS {
            return Err(IngestError::TooManyColumns { path: path.to_string(), line, columns, limit: MOST_COLUMNS });
        }
    }
    let grids = |numbers: bool| {
        let parts = PARTS.iter().filter(|part| written.delimiter.is_none_or(|d| is_declared(d, **part)));
        let dialects = parts.map(|part| Dialect { part: *part, quote });
        dialects.filter_map(|d| Grid::of(&rows_of(&rows, d), d, numbers)).reduce(Grid::better)
    };
    let Some(grid) = grids(false).or_else(|| grids(true)) else {
        let seen = quoted(first_line);
        return Err(IngestError::NoTimes { path: path.to_string(), line: first, seen });
    };
    grid.layout(path, names, written)
}

/// Whether a plant file's word means this.
fn is_declared(delimiter: Delimiter, part: Part) -> bool {
    match part {
        Part::Byte(b',') => delimiter == Delimiter::Comma,
        Part::Byte(b';') => delimiter == Delimiter::Semicolon,
        Part::Byte(b'\t') => delimiter == Delimiter::Tab,
        Part::Byte(_) => delimiter == Delimiter::Bar,
        Part::Blanks(_) => delimiter == Delimiter::Blanks,
    }
}

/// Numbered lines as cells.
fn rows_of(rows: &[(u64, &[u8])], dialect: Dialect) -> Vec<(u64, Vec<String>)> {
    rows.iter().map(|(n, line)| (*n, dialect.cells(line).iter().map(|c| clean(&text(c))).collect())).collect()
}

/// "sep=;", as spreadsheets understand it.
fn is_separator_line(line: &[u8]) -> bool {
    let line = line.trim_ascii();
    let line = line.strip_prefix(b"\xef\xbb\xbf").unwrap_or(line).trim_ascii();
    line.len() <= 6 && line.get(..4).is_some_and(|l| l.eq_ignore_ascii_case(b"sep="))
}

/// Single quotes, where cells stand in them as a rule.
fn quote_of(rows: &[(u64, &[u8])]) -> u8 {
    let starts = |q: u8| rows.iter().filter(|(_, l)| l.first() == Some(&q)).count();
    if 2 * starts(b'\'') > rows.len() { b'\'' } else { b'"' }
}

fn quoted(line: &[u8]) -> String {
    let shown: String =
        text(line.trim_ascii()).chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).take(60).collect();
    format!("\"{shown}\"")
}

fn refuse_binary(path: &str, block: &Block) -> Result<(), IngestError> {
    let what = match block.bytes() {
        [b'P', b'K', 3, 4, ..] => Some("a zip archive or a workbook"),
        [0x1f, 0x8b, ..] => Some("a gzip archive"),
        [0x28, 0xb5, 0x2f, 0xfd, ..] => Some("a zstd archive"),
        [b'P', b'A', b'R', b'1', ..] => Some("a parquet file"),
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => Some("text in UTF-16"),
        _ => None,
    };
    if let Some(what) = what {
        return Err(IngestError::NotText { path: path.to_string(), line: 1, what });
    }
    let nul = block.lines().take(LOOKED_AT).find(|(_, l)| memchr::memchr(0, l).is_some());
    match nul {
        Some((line, _)) => Err(IngestError::NotText { path: path.to_string(), line, what: "a byte of value 0" }),
        None => Ok(()),
    }
}

/// A cell without byte-order mark and outer blanks.
pub(super) fn clean(cell: &str) -> String {
    cell.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}').trim_matches('"').trim().to_string()
}

/// Equal but for case and blanks.
pub(super) fn same_name(a: &str, b: &str) -> bool {
    a == b || plain(a) == plain(b)
}

/// A name without what does not tell names apart.
pub(super) fn plain(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}
