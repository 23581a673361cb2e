//! The looked-at rows, parted in one way, with the columns that hold times.

use super::super::cell::{Decimal, NumberEvidence, Verdict};
use super::super::error::IngestError;
use super::super::split::{Dialect, Part};
use super::super::time::{Parser, is_time_of_day, look};
use super::{Group, Layout, Shape, TimeColumns, ValueColumn, heads, tall};
use crate::plant::{DecimalSign, TrendShape, Written};

/// Columns searched for times.
const WIDEST: usize = 512;
/// A column holds times where this share of its filled cells are times [share].
const MOSTLY: f64 = 0.8;
/// A second column of times has at least this many.
const FEW: usize = 3;

pub(super) struct Grid {
    pub dialect: Dialect,
    pub rows: Vec<(u64, Vec<String>)>,
    /// The column with most times.
    pub time: usize,
    /// Index into `rows` of the first reading.
    pub first: usize,
    /// Rows with a time and at least one more cell.
    pub dated: usize,
    pub typical_width: usize,
    /// A line near above the first reading has as many cells: a header parted alike.
    headed: bool,
    pub numbers: bool,
}

impl Grid {
    pub fn of(rows: &[(u64, Vec<String>)], dialect: Dialect, numbers: bool) -> Option<Self> {
        let rows = rows.to_vec();
        let widest = rows.iter().map(|(_, r)| r.len()).max()?.min(WIDEST);
        let mut best: Option<(usize, usize)> = None;
        for column in 0..widest {
            let dated = |r: &[String]| r.len() > 1 && r.get(column).is_some_and(|c| timed(c, numbers));
            let dated = rows.iter().filter(|(_, r)| dated(r)).count();
            if dated > best.map_or(0, |b| b.1) && (!numbers || rises(&rows, column)) {
                best = Some((column, dated));
            }
        }
        let (time, dated) = best?;
        let widths = |from: usize| {
            let dated = |r: &[String]| r.len() > 1 && r.get(time).is_some_and(|c| timed(c, numbers));
            let mut widths: Vec<usize> = rows[from..].iter().filter(|(_, r)| dated(r)).map(|(_, r)| r.len()).collect();
            widths.sort_unstable();
            widths[widths.len() / 2]
        };
        let typical_width = widths(0);
        let is_reading =
            |r: &[String]| 2 * r.len() > typical_width && r.len() > 1 && r.get(time).is_some_and(|c| timed(c, numbers));
        // A preamble may hold dates too: the readings start where two rows in a row have a time, or with the only one.
        let at = |i: usize| rows.get(i).is_some_and(|(_, r)| is_reading(r));
        let first = (0..rows.len()).find(|i| at(*i) && at(i + 1)).or_else(|| (0..rows.len()).find(|i| at(*i)))?;
        let headed = rows[..first].iter().rev().take(heads::NEAR).any(|(_, r)| r.len() == typical_width);
        Some(Self { dialect, rows, time, first, dated, typical_width, headed, numbers })
    }

    /// The one with more dated rows, then a real delimiter, then a header parted alike, then with more cells a row; the first on a tie.
    pub fn better(self, other: Self) -> Self {
        let bytes = |g: &Self| matches!(g.dialect.part, Part::Byte(_));
        let key = |g: &Self| (g.dated, bytes(g), g.headed, g.typical_width);
        if key(&other) > key(&self) { other } else { self }
    }

    /// Rows with a time, from the first reading on.
    pub fn data(&self) -> impl Iterator<Item = &Vec<String>> {
        self.rows[self.first..]
            .iter()
            .map(|(_, r)| r)
            .filter(|r| r.get(self.time).is_some_and(|c| timed(c, self.numbers)))
    }

    fn clock_of(&self, date: usize) -> Option<usize> {
        let cells = |c: usize| self.data().filter_map(move |r| r.get(c)).filter(|t| !t.is_empty());
        let bare = cells(date).all(|c| !c.contains(':'));
        let all_times = |c: usize| cells(c).next().is_some() && cells(c).all(|t| is_time_of_day(t.as_bytes()));
        [date + 1, date.wrapping_sub(1)].into_iter().find(|c| bare && all_times(*c))
    }

    /// All columns of times; only the first where times are bare numbers.
    fn times(&self) -> Vec<TimeColumns> {
        let whole = |date: usize| TimeColumns { date, clock: self.clock_of(date) };
        if self.numbers {
            return vec![whole(self.time)];
        }
        let mostly = |c: usize| {
            let filled: Vec<&String> = self.data().filter_map(|r| r.get(c)).filter(|t| !t.is_empty()).collect();
            let times = filled.iter().filter(|t| is_time(t)).count();
            times >= FEW.min(self.dated) && times as f64 >= MOSTLY * filled.len() as f64
        };
        (0..self.typical_width.min(WIDEST)).filter(|c| *c == self.time || mostly(*c)).map(whole).collect()
    }

    pub fn layout(&self, path: &str, names: &[&str], written: Written) -> Result<Layout, IngestError> {
        let times = self.times();
        let own =
            times.iter().copied().find(|t| t.date == self.time).unwrap_or(TimeColumns { date: self.time, clock: None });
        let is_time_column = |c: usize| times.iter().any(|t| t.date == c || t.clock == Some(c));
        let width = self.rows[self.first..].iter().map(|(_, r)| r.len()).max().unwrap_or(0).max(self.typical_width);
        let heads = heads::above(self, width, &is_time_column);
        let others: Vec<usize> = (0..width.max(heads.width())).filter(|c| !is_time_column(*c)).collect();
        let tall = || tall::tall(self, &heads, &others, own, names);
        let shape = match written.shape {
            Some(TrendShape::Tall) => tall()
                .or_else(|| tall::declared(self, &heads, &others, own))
                .ok_or_else(|| IngestError::NotTall { path: path.to_string(), line: self.rows[self.first].0 })?,
            None => tall().unwrap_or_else(|| self.table(&heads, &times, own, &others)),
            Some(TrendShape::Wide) => self.table(&heads, &[own], own, &others),
            Some(_) => self.table(&heads, &times, own, &others),
        };
        let values = match &shape {
            Shape::Table(groups) => groups.iter().map(|g| g.values.len()).sum(),
            Shape::Tall { .. } => 1,
        };
        if heads.names.is_none() && values > 1 {
            return Err(IngestError::NoHeader { path: path.to_string(), line: self.rows[self.first].0 });
        }
        let decimals = match written.decimal {
            Some(DecimalSign::Point) => vec![Decimal::Point; width],
            Some(DecimalSign::Comma) => vec![Decimal::Comma; width],
            None => self.decimals(width, &is_time_column),
        };
        let above = if self.first == 0 { 0 } else { self.rows[self.first - 1].0 };
        Ok(Layout {
            dialect: self.dialect,
            header_line: heads.line,
            above,
            header: heads.names.clone().unwrap_or_default(),
            heads: heads.all.clone(),
            preamble: heads.preamble.clone(),
            decimals,
            numbers_are_times: self.numbers,
            shape,
        })
    }

    fn table(&self, heads: &heads::Heads, times: &[TimeColumns], own: TimeColumns, others: &[usize]) -> Shape {
        let value = |c: usize| ValueColumn { column: c, names: heads.names_of(c), unit: heads.unit_of(c) };
        // Where every column of times has readings of its own to its right, each reading belongs to the nearest on its left.
        let owner = |c: usize| times.iter().copied().rfind(|t| t.date.max(t.clock.unwrap_or(0)) < c);
        let owned = |t: &TimeColumns| {
            others.iter().copied().filter(|c| owner(*c).is_some_and(|o| o.date == t.date)).collect::<Vec<_>>()
        };
        let groups: Vec<Group> = times
            .iter()
            .map(|t| Group { time: *t, values: owned(t).into_iter().map(value).collect() })
            .filter(|g| g.values.iter().any(|v| self.is_filled(v.column)))
            .collect();
        let left_of_all = others.iter().any(|c| owner(*c).is_none() && self.is_filled(*c));
        if groups.len() > 1 && !left_of_all {
            return Shape::Table(groups);
        }
        let time = groups.first().filter(|_| times.len() > 1 && !left_of_all).map_or(own, |g| g.time);
        Shape::Table(vec![Group {
            time,
            values: others
                .iter()
                .copied()
                .map(value)
                .filter(|v| !v.names.is_empty() || self.is_filled(v.column))
                .collect(),
        }])
    }

    pub fn is_filled(&self, column: usize) -> bool {
        self.data().any(|r| r.get(column).is_some_and(|c| !c.is_empty()))
    }

    /// The decimal sign of each column: as the column itself proves, else as all of them together do.
    fn decimals(&self, width: usize, is_time: &dyn Fn(usize) -> bool) -> Vec<Decimal> {
        let evidence = |c: usize| {
            let mut evidence = NumberEvidence::default();
            if !is_time(c) {
                self.data().filter_map(|r| r.get(c)).for_each(|cell| evidence.add(cell.as_bytes()));
            }
            evidence
        };
        let columns: Vec<NumberEvidence> = (0..width).map(evidence).collect();
        let mut all = NumberEvidence::default();
        columns.iter().for_each(|c| all.merge(c));
        let usual = match all.decimal() {
            // Nothing tells: where a comma does not part the cells it may yet stand in a number further down.
            Verdict::Either if self.dialect.part != Part::Byte(b',') => Decimal::Comma,
            _ => all.likelier(self.dialect.delimiter()),
        };
        let of = |c: &NumberEvidence| match c.decimal() {
            Verdict::Decided(decimal) => decimal,
            _ => usual,
        };
        columns.iter().map(of).collect()
    }
}

fn timed(cell: &str, numbers: bool) -> bool {
    if numbers { is_number_time(cell) } else { is_time(cell) }
}

/// Whether a cell is a time in letters or digits with marks between.
pub(in super::super) fn is_time(cell: &str) -> bool {
    !is_bare_number(cell) && look(cell.as_bytes()).is_some() && Parser::default().parse(cell.as_bytes()).is_some()
}

/// Digits with at most one sign among them, as most cells of an export are.
fn is_bare_number(cell: &str) -> bool {
    let unsigned = cell.strip_prefix('-').unwrap_or(cell);
    unsigned
        .bytes()
        .filter(|b| !b.is_ascii_digit())
        .take(2)
        .fold(0, |n, b| n + if matches!(b, b'.' | b',') { 1 } else { 2 })
        < 2
}

fn is_number_time(cell: &str) -> bool {
    Parser::numbers_are_times().parse(cell.as_bytes()).is_some()
}

/// Whether the numbers of a column go one way: a clock, not a reading that lies where clocks do.
fn rises(rows: &[(u64, Vec<String>)], column: usize) -> bool {
    let numbers: Vec<f64> = rows
        .iter()
        .filter_map(|(_, r)| r.get(column))
        .filter(|c| is_number_time(c))
        .filter_map(|c| c.replace(',', ".").parse().ok())
        .collect();
    let steps = numbers.windows(2).filter(|w| w[1] != w[0]).count();
    let up = numbers.windows(2).filter(|w| w[1] > w[0]).count();
    let one_way = up.max(steps - up);
    numbers.len() >= 2 && steps > 0 && one_way as f64 >= MOSTLY * steps as f64 && 2 * steps >= numbers.len().min(8)
}
