//! The cells of a sheet as lines: row 7 is line 7, column C the third cell, whatever is empty before them.

use super::cells;
use super::serial::{Shows, instant};
use super::workbook::{Strings, Workbook};
use super::xml::{Xml, attribute, attributes, fault, text, unescape};
use quick_xml::events::{BytesStart, Event};
use std::io::{self, Read};

/// What a sheet may have: ECMA-376 leaves it open, every spreadsheet program stops here.
const ROWS: u32 = 1_048_576;
const COLUMNS: u32 = 16_384;
/// A row as text, and a cell [bytes].
const LONGEST: usize = 16 << 20;
/// Blank lines made at once.
const BLANKS: u32 = 1 << 16;

/// Where in the sheet the reader is.
pub(super) struct Rows<'b, R: Read> {
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
    pub fn new(document: Xml<R>, book: &'b Workbook, name: &str) -> Self {
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
        let event = self.document.next().map_err(|e| fault(&self.name, e))?;
        let (tag, is_empty) = match &event {
            Event::Eof => return Err(fault(&self.name, io::Error::other("the sheet stops before its end"))),
            Event::End(tag) if tag.local_name().as_ref() == b"sheetData" => {
                self.ended = true;
                return Ok(());
            }
            Event::Start(tag) => (tag, false),
            Event::Empty(tag) => (tag, true),
            _ => return Ok(()),
        };
        match tag.local_name().as_ref() {
            b"sheetData" => self.ended = is_empty,
            b"row" => {
                let number = attribute(tag, "r").and_then(|r| whole(&r)).unwrap_or(self.lines + 1);
                if number > ROWS || self.lines >= ROWS {
                    return Err(fault(&self.name, io::Error::other(format!("row {number}, where a sheet has {ROWS}"))));
                }
                if !is_empty {
                    self.waiting = Some(number.max(1));
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn row(&mut self, out: &mut Vec<u8>) -> io::Result<()> {
        let (mut written, from) = (0, out.len());
        loop {
            let cell = match self.document.next().map_err(|e| fault(&self.name, e))? {
                Event::Eof => return Err(fault(&self.name, io::Error::other("the sheet stops inside a row"))),
                Event::End(tag) if tag.local_name().as_ref() == b"row" => return Ok(()),
                Event::Start(tag) if tag.local_name().as_ref() == b"c" => Cell::of(&tag),
                _ => continue,
            };
            let column = cell.column.filter(|c| *c >= written).unwrap_or(written);
            if column >= COLUMNS {
                let why = format!("column {}, where a sheet has {COLUMNS}", column + 1);
                return Err(fault(&self.name, io::Error::other(why)));
            }
            // Commas only up to what holds something: a row of nothing but formats stays blank.
            if !self.value()? {
                continue;
            }
            let commas = if written == 0 { column } else { column + 1 - written };
            out.resize(out.len() + commas as usize, b',');
            self.put(&cell, out);
            written = column + 1;
            if out.len() - from > LONGEST {
                return Err(fault(&self.name, io::Error::other(format!("a row is longer than {LONGEST} bytes"))));
            }
        }
    }

    /// Reads what a cell holds into `value`; false for nothing.
    fn value(&mut self) -> io::Result<bool> {
        self.value.clear();
        let (mut wanted, mut spoken) = (false, false);
        loop {
            match self.document.next().map_err(|e| fault(&self.name, e))? {
                Event::Eof => return Err(fault(&self.name, io::Error::other("the sheet stops inside a cell"))),
                Event::Start(tag) => match tag.local_name().as_ref() {
                    b"v" | b"t" => wanted = !spoken,
                    b"rPh" => spoken = true,
                    _ => {}
                },
                Event::End(tag) => match tag.local_name().as_ref() {
                    b"c" => return Ok(!self.value.is_empty()),
                    b"v" | b"t" => wanted = false,
                    b"rPh" => spoken = false,
                    _ => {}
                },
                event if wanted && self.value.len() < LONGEST => text(&event, &mut self.value),
                _ => {}
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
        match std::str::from_utf8(&self.value).ok().and_then(|v| v.trim().parse::<f64>().ok()) {
            Some(value) => instant(value, shows, self.from_1904, out),
            None => cells::word(&self.value, out),
        }
    }
}

impl Cell {
    fn of(tag: &BytesStart<'_>) -> Self {
        let mut cell = Self { column: None, kind: Kind::Number, style: 0 };
        for (name, value) in attributes(tag) {
            match name {
                b"r" => cell.column = column(&value),
                b"s" => cell.style = whole(&value).unwrap_or(0) as usize,
                b"t" => {
                    cell.kind = match &*value {
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
