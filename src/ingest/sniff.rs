//! What a text of rows looks like: what parts its cells, where its header is, which columns hold what.
//!
//! Comes in: the first block of a file and the names a plant declares. Goes out: a [`Layout`]. Only the layout is decided
//! from the first rows; how times are written is decided later, over the whole column. One row in the export stands on
//! one line. Wide: a column a point. Tall: a column of point names beside a column of values.

use super::cell::{cells, is_known_word, text};
use super::error::IngestError;
use super::open::{Block, lines};
use super::time::{Parser, is_time_of_day, look};

/// Lines looked at: enough for any preamble, few enough to cost nothing.
const LOOKED_AT: usize = 200;
const DELIMITERS: [u8; 4] = [b',', b';', b'\t', b'|'];
/// Words that head a column of point names (common practice, no source).
const NAME_HEADERS: [&str; 10] =
    ["point", "point name", "name", "tag", "tag name", "object", "object name", "trend", "channel", "variable"];
const VALUE_HEADERS: [&str; 6] = ["value", "reading", "present value", "data", "val", "sample"];

/// Where things stand in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Layout {
    pub delimiter: u8,
    /// Line of the header, from 1.
    pub header_line: u64,
    pub header: Vec<String>,
    pub time: usize,
    /// Where the time of day stands in a column of its own.
    pub time_of_day: Option<usize>,
    pub shape: Shape,
}

/// How points are laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    Wide,
    Tall { name: usize, value: usize },
}

/// The layout of a text.
pub(super) fn sniff(path: &str, block: &Block<'_>, names: &[&str]) -> Result<Layout, IngestError> {
    refuse_binary(path, block)?;
    let rows: Vec<(u64, &[u8])> = lines(block).filter(|(_, l)| !l.trim_ascii().is_empty()).take(LOOKED_AT).collect();
    let Some(&(first, first_line)) = rows.first() else { return Err(IngestError::Empty { path: path.to_string() }) };
    let Some(grid) = DELIMITERS.iter().filter_map(|d| Grid::of(&rows, *d)).reduce(Grid::better) else {
        let seen = quoted(first_line);
        return Err(IngestError::NoTimes { path: path.to_string(), line: first, seen });
    };
    let header = grid.header(path)?;
    let width = header.1.len().max(grid.time + 1);
    let time_of_day = grid.time_of_day();
    let shape = grid.shape(&header.1, width, time_of_day, names);
    Ok(Layout {
        delimiter: grid.delimiter,
        header_line: header.0,
        header: header.1,
        time: grid.time,
        time_of_day,
        shape,
    })
}

fn quoted(line: &[u8]) -> String {
    let shown: String =
        text(line.trim_ascii()).chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).take(60).collect();
    format!("\"{shown}\"")
}

fn refuse_binary(path: &str, block: &Block<'_>) -> Result<(), IngestError> {
    let what = match block.bytes {
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
    let nul = lines(block).take(LOOKED_AT).find(|(_, l)| memchr::memchr(0, l).is_some());
    match nul {
        Some((line, _)) => Err(IngestError::NotText { path: path.to_string(), line, what: "a byte of value 0" }),
        None => Ok(()),
    }
}

/// The looked-at rows, parted by one delimiter, with the column that holds times.
struct Grid {
    delimiter: u8,
    rows: Vec<(u64, Vec<String>)>,
    time: usize,
    /// Index into `rows` of the first with a time.
    first: usize,
    /// Rows with a time and at least one more cell.
    dated: usize,
    typical_width: usize,
}

impl Grid {
    fn of(rows: &[(u64, &[u8])], delimiter: u8) -> Option<Self> {
        let rows: Vec<(u64, Vec<String>)> = rows
            .iter()
            .map(|(n, line)| (*n, cells(line, delimiter).iter().map(|c| clean(&text(c))).collect()))
            .collect();
        let widest = rows.iter().map(|(_, r)| r.len()).max()?.min(64);
        let mut best: Option<(usize, usize)> = None;
        for column in 0..widest {
            let dated = rows.iter().filter(|(_, r)| r.len() > 1 && r.get(column).is_some_and(|c| is_time(c))).count();
            if dated > best.map_or(0, |b| b.1) {
                best = Some((column, dated));
            }
        }
        let (time, dated) = best?;
        let first = rows.iter().position(|(_, r)| r.len() > 1 && r.get(time).is_some_and(|c| is_time(c)))?;
        let mut widths: Vec<usize> = rows[first..].iter().map(|(_, r)| r.len()).collect();
        widths.sort_unstable();
        let typical_width = widths[widths.len() / 2];
        Some(Self { delimiter, rows, time, first, dated, typical_width })
    }

    /// The one with more dated rows, then with more cells a row; the first on a tie.
    fn better(self, other: Self) -> Self {
        if (other.dated, other.typical_width) > (self.dated, self.typical_width) { other } else { self }
    }

    /// The nearest line above the first reading that has about as many cells.
    fn header(&self, path: &str) -> Result<(u64, Vec<String>), IngestError> {
        let filled = |r: &[String]| r.iter().filter(|c| !c.is_empty()).count();
        let above = self.rows[..self.first].iter().rev();
        let fits = |r: &[String]| filled(r) >= 2 && 2 * r.len() > self.typical_width;
        match above.into_iter().find(|(_, r)| fits(r)) {
            Some((line, row)) => Ok((*line, row.clone())),
            None => Err(IngestError::NoHeader { path: path.to_string(), line: self.rows[self.first].0 }),
        }
    }

    fn data(&self) -> impl Iterator<Item = &Vec<String>> {
        self.rows[self.first..].iter().map(|(_, r)| r).filter(|r| r.get(self.time).is_some_and(|c| is_time(c)))
    }

    fn time_of_day(&self) -> Option<usize> {
        let bare = self.data().all(|r| !r[self.time].contains(':'));
        let all_times = |c: usize| self.data().all(|r| r.get(c).is_some_and(|t| is_time_of_day(t.as_bytes())));
        [self.time + 1, self.time.wrapping_sub(1)].into_iter().find(|c| bare && all_times(*c))
    }

    fn shape(&self, header: &[String], width: usize, time_of_day: Option<usize>, names: &[&str]) -> Shape {
        let names: Vec<String> = names.iter().map(|n| plain(n)).collect();
        let is_name = |c: &str| names.contains(&plain(c));
        let others: Vec<usize> = (0..width).filter(|c| *c != self.time && Some(*c) != time_of_day).collect();
        let count =
            |c: usize, what: &dyn Fn(&str) -> bool| self.data().filter(|r| r.get(c).is_some_and(|t| what(t))).count();
        let wide = header.iter().filter(|h| is_name(h)).count();
        let by_points =
            others.iter().copied().map(|c| (count(c, &is_name), std::cmp::Reverse(c))).max().filter(|m| m.0 > 0);
        let headed = |words: &[&str]| {
            others.iter().copied().find(|c| header.get(*c).is_some_and(|h| words.contains(&h.to_lowercase().as_str())))
        };
        let is_words = |c: usize| count(c, &|t| is_label(t)) * 10 >= 9 * self.dated;
        let name = match by_points {
            Some((hits, std::cmp::Reverse(c))) if wide == 0 || 2 * hits > self.dated => Some(c),
            _ if wide > 0 => None,
            _ => headed(&NAME_HEADERS).filter(|c| is_words(*c)),
        };
        let Some(name) = name else { return Shape::Wide };
        let numbers = |c: usize| count(c, &|t| t.parse::<f64>().is_ok() || is_known_word(t.as_bytes()));
        let most = others.iter().copied().filter(|c| *c != name).map(|c| (numbers(c), std::cmp::Reverse(c))).max();
        match headed(&VALUE_HEADERS).filter(|c| *c != name).or(most.map(|m| m.1.0)) {
            Some(value) => Shape::Tall { name, value },
            None => Shape::Wide,
        }
    }
}

fn is_time(cell: &str) -> bool {
    look(cell.as_bytes()).is_some() && Parser::default().parse(cell.as_bytes()).is_some()
}

/// Words that could be a name: not a number, not a state, not empty.
fn is_label(cell: &str) -> bool {
    !cell.is_empty() && cell.parse::<f64>().is_err() && !is_known_word(cell.as_bytes())
}

/// A header cell without byte-order mark and outer blanks.
fn clean(cell: &str) -> String {
    cell.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}').trim_matches('"').trim().to_string()
}

/// Equal but for case and blanks.
pub(super) fn same_name(a: &str, b: &str) -> bool {
    a == b || plain(a) == plain(b)
}

/// A name without what does not tell names apart.
fn plain(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}
