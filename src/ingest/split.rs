//! A line to cells: what parts them, what quotes them.
//!
//! Comes in: the bytes of a line. Goes out: cells, without their quotes. One row in the export stands on one line; a quote closes at the
//! latest at the line's end, so that one stray quote costs one row. Start at [`Dialect::cell_at`].

use std::borrow::Cow;

/// How the cells of a file are parted and quoted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Dialect {
    pub part: Part,
    pub quote: u8,
}

/// What stands between two cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    Byte(u8),
    /// At least this many blanks.
    Blanks(usize),
}

impl Dialect {
    /// The byte that parts cells; a byte that stands in no plain number where blanks do.
    pub fn delimiter(self) -> u8 {
        match self.part {
            Part::Byte(b) => b,
            Part::Blanks(_) => b' ',
        }
    }

    /// As people call it.
    pub fn shown(self) -> String {
        match self.part {
            Part::Byte(b'\t') => "tab".to_owned(),
            Part::Byte(b) => char::from(b).to_string(),
            Part::Blanks(_) => "blanks".to_owned(),
        }
    }

    /// The cell that starts at `at`, and where the next one starts (`None` at the line's end).
    #[inline]
    pub fn cell_at(self, line: &[u8], at: usize) -> (Cow<'_, [u8]>, Option<usize>) {
        match self.part {
            Part::Byte(delimiter) => parted(line, at, delimiter, self.quote),
            Part::Blanks(least) => blanks(line, at, least),
        }
    }

    /// All cells of a line.
    pub fn cells(self, line: &[u8]) -> Vec<Cow<'_, [u8]>> {
        let mut all = Vec::new();
        let mut at = Some(0);
        while let Some(here) = at {
            let (cell, next) = self.cell_at(line, here);
            all.push(cell);
            at = next;
        }
        all
    }

    /// Cell number `n` of a line.
    pub fn nth(self, line: &[u8], n: usize) -> Option<Cow<'_, [u8]>> {
        let mut at = 0;
        for _ in 0..n {
            at = self.cell_at(line, at).1?;
        }
        Some(self.cell_at(line, at).0)
    }

    /// Whether a quoted cell of the line is not closed on it.
    pub fn is_open(self, line: &[u8]) -> bool {
        if memchr::memchr_iter(self.quote, line).count().is_multiple_of(2) {
            return false;
        }
        let mut at = Some(0);
        while let Some(here) = at {
            let rest = line[here..].trim_ascii_start();
            let next = self.cell_at(line, here).1;
            if rest.first() == Some(&self.quote) && next.is_none() {
                return memchr::memchr_iter(self.quote, rest).count() % 2 == 1;
            }
            at = next;
        }
        false
    }
}

fn parted(line: &[u8], at: usize, delimiter: u8, quote: u8) -> (Cow<'_, [u8]>, Option<usize>) {
    let rest = line.get(at..).unwrap_or_default();
    let blank = rest.iter().take_while(|b| **b == b' ').count();
    if rest.get(blank) != Some(&quote) {
        return match memchr::memchr(delimiter, rest) {
            Some(n) => (Cow::Borrowed(&rest[..n]), Some(at + n + 1)),
            None => (Cow::Borrowed(rest), None),
        };
    }
    let (at, rest) = (at + blank, &rest[blank..]);
    let mut close = 1;
    let mut doubled = false;
    while let Some(n) = memchr::memchr(quote, rest.get(close..).unwrap_or_default()) {
        close += n;
        if rest.get(close + 1) != Some(&quote) {
            break;
        }
        doubled = true;
        close += 2;
    }
    let inside_end = if rest.get(close) == Some(&quote) { close } else { rest.len() };
    let inside = rest.get(1..inside_end).unwrap_or_default();
    let next = memchr::memchr(delimiter, rest.get(inside_end..).unwrap_or_default()).map(|n| at + inside_end + n + 1);
    if !doubled {
        return (Cow::Borrowed(inside), next);
    }
    let mut plain = Vec::with_capacity(inside.len());
    let mut skip = false;
    for &b in inside {
        skip = b == quote && !skip;
        if !skip {
            plain.push(b);
        }
    }
    (Cow::Owned(plain), next)
}

fn blanks(line: &[u8], at: usize, least: usize) -> (Cow<'_, [u8]>, Option<usize>) {
    let rest = line.get(at..).unwrap_or_default();
    // Blanks before the first cell of a line part nothing.
    let lead = if at == 0 { rest.iter().take_while(|b| **b == b' ').count() } else { 0 };
    let mut end = lead;
    while end < rest.len() {
        let run = rest[end..].iter().take_while(|b| matches!(**b, b' ' | b'\t')).count();
        if run >= least {
            let next = end + run;
            let more = next < rest.len();
            return (Cow::Borrowed(&rest[lead..end]), more.then_some(at + next));
        }
        end += run.max(1);
    }
    (Cow::Borrowed(&rest[lead..]), None)
}
