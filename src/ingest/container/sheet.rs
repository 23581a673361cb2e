//! The cells of a sheet as lines: row 7 is line 7, column C the third cell, whatever is empty before them.

use super::cells;
use super::serial::{Shows, instant};
use super::workbook::{Strings, Workbook};
use super::xml::{Piece, Xml, fault, unescape};
use std::io::{self, Read};

/// What a sheet may have: ECMA-376 leaves it open, every spreadsheet program stops here.
const ROWS: u32 = 1_048_576;
const COLUMNS: u32 = 16_384;
/// Blank lines made at once.
const BLANKS: u32 = 1 << 16;

/// Where in the sheet the reader is.
pub(super) struct Rows<'b, R> {
    document: Xml<R>,
    strings: &'b Strings,
    shows: &'b [Shows],
    from_1904: bool,
    name: String,
    /// Lines handed out.
    lines: u32,
    /// A row that begins below blank ones: its number.
    waiting: Option<u32>,
    value: Vec<u8>,
    text: Vec<u8>,
    ended: bool,
}

/// What the attributes of a cell say.
struct Cell {
    column: Option<u32>,
    kind: Kind,
    style: usize,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Number,
    Shared,
    Text,
    Truth,
    /// Error words and ISO dates: as written.
    Word,
}

impl<'b, R: Read> Rows<'b, R> {
    pub fn new(document: Xml<R>, book: &'b Workbook<'_>, name: &str) -> Self {
        Self {
            document,
            strings: &book.strings,
            shows: &book.shows,
            from_1904: book.from_1904,
            name: name.to_string(),
            lines: 0,
            waiting: None,
            value: Vec::new(),
            text: Vec::new(),
            ended: false,
        }
    }

    /// Puts the next row, or the blank ones before it, at the end of `out`; false after the last.
    pub fn more(&mut self, out: &mut Vec<u8>) -> io::Result<bool> {
        while !self.ended {
            if let Some(row) = self.waiting {
                let blanks = (row - 1).saturating_sub(self.lines).min(BLANKS);
                if blanks > 0 {
                    out.resize(out.len() + blanks as usize, b'\n');
                    self.lines += blanks;
                    return Ok(true);
                }
                self.waiting = None;
                self.row(out)?;
                self.lines += 1;
                out.push(b'\n');
                return Ok(true);
            }
            self.next_row()?;
        }
        Ok(false)
    }

    /// Goes to the next row that holds something.
    fn next_row(&mut self) -> io::Result<()> {
        match self.document.next().map_err(|e| fault(&self.name, e))? {
            Piece::End => Err(fault(&self.name, io::Error::other("the sheet stops before its end"))),
            Piece::Close(b"sheetData") => {
                self.ended = true;
                Ok(())
            }
            Piece::Open(tag) if tag.name == b"sheetData" && tag.is_empty => {
                self.ended = true;
                Ok(())
            }
            Piece::Open(tag) if tag.name == b"row" => {
                let number = tag.attribute("r").and_then(whole).unwrap_or(self.lines + 1);
                if number > ROWS || self.lines >= ROWS {
                    return Err(fault(&self.name, io::Error::other(format!("row {number}, where a sheet has {ROWS}"))));
                }
                if !tag.is_empty {
                    self.waiting = Some(number.max(1));
                }
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn row(&mut self, out: &mut Vec<u8>) -> io::Result<()> {
        let mut written = 0;
        loop {
            match self.document.next().map_err(|e| fault(&self.name, e))? {
                Piece::End => return Err(fault(&self.name, io::Error::other("the sheet stops inside a row"))),
                Piece::Close(b"row") => return Ok(()),
                Piece::Open(tag) if tag.name == b"c" => {
                    let cell = Cell::of(tag.attributes());
                    let column = cell.column.filter(|c| *c >= written).unwrap_or(written);
                    if column >= COLUMNS {
                        let why = format!("column {}, where a sheet has {COLUMNS}", column + 1);
                        return Err(fault(&self.name, io::Error::other(why)));
                    }
                    let is_empty = tag.is_empty;
                    // Commas only up to what holds something: a row of nothing but formats stays blank.
                    if is_empty || !self.value()? {
                        continue;
                    }
                    let commas = if written == 0 { column } else { column + 1 - written };
                    out.resize(out.len() + commas as usize, b',');
                    self.put(&cell, out);
                    written = column + 1;
                }
                _ => {}
            }
        }
    }

    /// Reads what a cell holds into `value`; false for nothing.
    fn value(&mut self) -> io::Result<bool> {
        self.value.clear();
        let (mut wanted, mut spoken) = (false, false);
        loop {
            match self.document.next().map_err(|e| fault(&self.name, e))? {
                Piece::End => return Err(fault(&self.name, io::Error::other("the sheet stops inside a cell"))),
                Piece::Close(b"c") => return Ok(!self.value.is_empty()),
                Piece::Open(tag) => match tag.name {
                    b"v" | b"t" => wanted = !tag.is_empty && !spoken,
                    b"rPh" => spoken = !tag.is_empty,
                    _ => {}
                },
                Piece::Close(b"v" | b"t") => wanted = false,
                Piece::Close(b"rPh") => spoken = false,
                Piece::Text(raw) if wanted => self.value.extend_from_slice(raw),
                Piece::Verbatim(raw) if wanted => escape(raw, &mut self.value),
                Piece::Close(_) | Piece::Text(_) | Piece::Verbatim(_) => {}
            }
        }
    }

    fn put(&mut self, cell: &Cell, out: &mut Vec<u8>) {
        match cell.kind {
            Kind::Shared => {
                let text = whole(&self.value).and_then(|i| self.strings.get(i as usize));
                cells::word(text.unwrap_or(b"#REF!"), out);
            }
            Kind::Text | Kind::Word => {
                self.text.clear();
                unescape(&self.value, &mut self.text);
                cells::word(&self.text, out);
            }
            Kind::Truth => {
                let is_true = matches!(self.value.trim_ascii(), b"1" | b"true");
                out.extend_from_slice(if is_true { b"true" } else { b"false" });
            }
            Kind::Number => self.number(cell, out),
        }
    }

    fn number(&self, cell: &Cell, out: &mut Vec<u8>) {
        let shows = self.shows.get(cell.style).copied().unwrap_or(Shows::Number);
        if shows == Shows::Number && is_shortest(&self.value) {
            return out.extend_from_slice(&self.value);
        }
        match std::str::from_utf8(&self.value).ok().and_then(|v| v.trim().parse::<f64>().ok()) {
            Some(value) => instant(value, shows, self.from_1904, out),
            None => cells::word(&self.value, out),
        }
    }
}

impl Cell {
    fn of<'x>(attributes: impl Iterator<Item = (&'x [u8], &'x [u8])>) -> Self {
        let mut cell = Self { column: None, kind: Kind::Number, style: 0 };
        for (name, value) in attributes {
            match name {
                b"r" => cell.column = column(value),
                b"s" => cell.style = whole(value).unwrap_or(0) as usize,
                b"t" => {
                    cell.kind = match value {
                        b"s" => Kind::Shared,
                        b"str" | b"inlineStr" => Kind::Text,
                        b"b" => Kind::Truth,
                        b"e" | b"d" => Kind::Word,
                        _ => Kind::Number,
                    }
                }
                _ => {}
            }
        }
        cell
    }
}

/// Verbatim text as it would stand outside.
fn escape(raw: &[u8], out: &mut Vec<u8>) {
    for &b in raw {
        if b == b'&' { out.extend_from_slice(b"&amp;") } else { out.push(b) }
    }
}

/// The column of a cell's address, from 0.
fn column(address: &[u8]) -> Option<u32> {
    let letters = address.iter().take_while(|b| b.is_ascii_alphabetic()).take(4);
    let number = letters.fold(0, |sum: u32, b| sum * 26 + u32::from(b.to_ascii_uppercase() - b'A') + 1);
    number.checked_sub(1)
}

fn whole(digits: &[u8]) -> Option<u32> {
    if digits.is_empty() || digits.len() > 9 {
        return None;
    }
    digits.iter().try_fold(0, |sum: u32, b| b.is_ascii_digit().then(|| sum * 10 + u32::from(b - b'0')))
}

/// A plain decimal of up to 15 digits that ends in none too many: it is already the shortest that reads back.
fn is_shortest(text: &[u8]) -> bool {
    let digits = text.strip_prefix(b"-").unwrap_or(text);
    let Some(&first) = digits.first() else { return false };
    if digits.len() > 16 || !first.is_ascii_digit() {
        return false;
    }
    let point = memchr::memchr(b'.', digits);
    let (whole, behind) = point.map_or((digits, None), |at| (&digits[..at], Some(&digits[at + 1..])));
    let is_plain = |part: &[u8]| part.iter().all(u8::is_ascii_digit);
    let small = first == b'0' && (whole.len() > 1 || behind.is_none_or(|b| b.starts_with(b"000000")));
    let ends_well = behind.is_none_or(|b| b.last().is_some_and(|l| *l != b'0'));
    let is_zero = text == b"0";
    is_zero
        || (is_plain(whole)
            && behind.is_none_or(is_plain)
            && !small
            && ends_well
            && whole.len() + behind.map_or(0, <[u8]>::len) <= 15)
}
