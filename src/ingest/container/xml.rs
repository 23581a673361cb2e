//! The little of XML that workbooks are written in: tags with attributes, text, entities.
//!
//! Pieces come out of a window over a stream; one longer than [`LONGEST`] is a fault, so memory is bounded. Names are
//! without their prefix. No document type is read, so no entity can be defined.

use super::fault::Fault;
use std::io::{self, Read};

/// No tag or text of a workbook is longer [bytes]: a cell holds 32,767 characters.
const LONGEST: usize = 4 << 20;
const BLOCK: usize = 64 << 10;

/// A piece of a document.
#[derive(Debug, PartialEq)]
pub(super) enum Piece<'a> {
    Open(Tag<'a>),
    Close(&'a [u8]),
    /// As written; [`unescape`] decodes it.
    Text(&'a [u8]),
    Verbatim(&'a [u8]),
    End,
}

/// An opening tag. `is_empty`: it closes itself, and no `Close` follows.
#[derive(Debug, PartialEq)]
pub(super) struct Tag<'a> {
    pub name: &'a [u8],
    pub is_empty: bool,
    rest: &'a [u8],
}

impl<'a> Tag<'a> {
    /// Attributes as written, without prefix.
    pub fn attributes(&self) -> impl Iterator<Item = (&'a [u8], &'a [u8])> + use<'a> {
        let mut rest = self.rest;
        std::iter::from_fn(move || {
            let equals = memchr::memchr(b'=', rest)?;
            let name = local(rest[..equals].trim_ascii());
            let after = rest[equals + 1..].trim_ascii_start();
            let quote = *after.first().filter(|q| matches!(q, b'"' | b'\''))?;
            let end = memchr::memchr(quote, &after[1..])?;
            rest = &after[end + 2..];
            Some((name, &after[1..=end]))
        })
    }
    pub fn attribute(&self, wanted: &str) -> Option<&'a [u8]> {
        self.attributes().find(|(name, _)| *name == wanted.as_bytes()).map(|(_, value)| value)
    }
}

/// A document as a stream of pieces.
pub(super) struct Xml<R> {
    source: R,
    window: Vec<u8>,
    at: usize,
    filled: usize,
    ended: bool,
}

impl<R: Read> Xml<R> {
    pub fn new(source: R) -> Self {
        Self { source, window: vec![0; BLOCK], at: 0, filled: 0, ended: false }
    }

    /// The next piece.
    pub fn next(&mut self) -> io::Result<Piece<'_>> {
        loop {
            if self.at == self.filled && !self.fill()? {
                return Ok(Piece::End);
            }
            if self.window[self.at] != b'<' {
                let len = match self.find(0, b"<")? {
                    Some(len) => len,
                    None => self.filled - self.at,
                };
                let from = self.skip(len);
                return Ok(Piece::Text(&self.window[from..from + len]));
            }
            self.need(9)?;
            let start = &self.window[self.at..self.filled];
            if start.starts_with(b"<!--") {
                self.pass(4, b"-->")?;
            } else if start.starts_with(b"<![CDATA[") {
                let len = self.find(9, b"]]>")?.ok_or_else(cut)?;
                let from = self.skip(len + 3);
                return Ok(Piece::Verbatim(&self.window[from + 9..from + len]));
            } else if start.starts_with(b"<?") {
                self.pass(2, b"?>")?;
            } else if start.starts_with(b"<!") {
                self.pass(2, b">")?;
            } else {
                return self.tag();
            }
        }
    }

    fn tag(&mut self) -> io::Result<Piece<'_>> {
        let end = self.end_of_tag()?;
        let from = self.skip(end + 1);
        let inside = &self.window[from + 1..from + end];
        if let Some(name) = inside.strip_prefix(b"/") {
            return Ok(Piece::Close(local(name.trim_ascii_end())));
        }
        let (inside, is_empty) = inside.strip_suffix(b"/").map_or((inside, false), |i| (i, true));
        let name_end = inside.iter().position(u8::is_ascii_whitespace).unwrap_or(inside.len());
        Ok(Piece::Open(Tag { name: local(&inside[..name_end]), is_empty, rest: &inside[name_end..] }))
    }

    /// The `>` outside quotes.
    fn end_of_tag(&mut self) -> io::Result<usize> {
        let mut at = 1;
        loop {
            let close = self.find(at, b">")?.ok_or_else(cut)?;
            let so_far = &self.window[self.at..self.at + close];
            let mut quote = None;
            for &b in so_far {
                match (quote, b) {
                    (None, b'"' | b'\'') => quote = Some(b),
                    (Some(q), b) if q == b => quote = None,
                    _ => {}
                }
            }
            if quote.is_none() {
                return Ok(close);
            }
            at = close + 1;
        }
    }

    fn pass(&mut self, from: usize, end: &[u8]) -> io::Result<()> {
        let len = self.find(from, end)?.ok_or_else(cut)?;
        self.skip(len + end.len());
        Ok(())
    }

    /// Steps over bytes, and tells where they stand.
    fn skip(&mut self, len: usize) -> usize {
        let from = self.at;
        self.at += len;
        from
    }

    /// Where `what` stands, counted from the current place; `None` when the document ends first.
    fn find(&mut self, mut from: usize, what: &[u8]) -> io::Result<Option<usize>> {
        loop {
            let seen = self.at + from;
            let rest = self.window.get(seen..self.filled).unwrap_or_default();
            let found = if let [one] = what { memchr::memchr(*one, rest) } else { memchr::memmem::find(rest, what) };
            if let Some(n) = found {
                return Ok(Some(from + n));
            }
            from = (self.filled - self.at).saturating_sub(what.len() - 1).max(from);
            if !self.fill()? {
                return Ok(None);
            }
        }
    }

    fn need(&mut self, len: usize) -> io::Result<()> {
        while self.filled - self.at < len && self.fill()? {}
        Ok(())
    }

    /// Reads on, keeping what was not handed out; false at the end.
    fn fill(&mut self) -> io::Result<bool> {
        if self.ended {
            return Ok(false);
        }
        self.window.copy_within(self.at..self.filled, 0);
        self.filled -= self.at;
        self.at = 0;
        if self.filled == self.window.len() {
            if self.filled >= LONGEST {
                return Err(io::Error::other(format!("a tag or text is longer than {LONGEST} bytes")));
            }
            self.window.resize(self.filled * 2, 0);
        }
        let read = loop {
            match self.source.read(&mut self.window[self.filled..]) {
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                other => break other?,
            }
        };
        self.filled += read;
        self.ended = read == 0;
        Ok(read > 0)
    }
}

fn cut() -> io::Error {
    io::Error::other("the document stops inside a tag")
}

fn local(name: &[u8]) -> &[u8] {
    memchr::memchr(b':', name).map_or(name, |at| &name[at + 1..])
}

/// A document that cannot be read as a fault.
pub(super) fn fault(part: &str, error: io::Error) -> io::Error {
    if super::fault::within(&error).is_some() {
        return error;
    }
    Fault::Damaged { what: "workbook", at: 0, why: format!("{part}: {error}") }.into()
}

/// Text with its entities and its `_x000D_` escapes decoded (ECMA-376 part 1, 22.4.2.4, ST_Xstring), at the end of `out`.
pub(super) fn unescape(raw: &[u8], out: &mut Vec<u8>) {
    let mut rest = raw;
    while let Some(at) = memchr::memchr2(b'&', b'_', rest) {
        out.extend_from_slice(&rest[..at]);
        rest = &rest[at..];
        let (c, len) = if rest[0] == b'&' { entity(rest) } else { escape(rest) };
        match c {
            Some(c) => out.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes()),
            None => out.extend_from_slice(&rest[..len]),
        }
        rest = &rest[len..];
    }
    out.extend_from_slice(rest);
}

fn entity(rest: &[u8]) -> (Option<char>, usize) {
    let Some(end) = rest.iter().take(12).position(|b| *b == b';') else { return (None, 1) };
    let c = match &rest[1..end] {
        b"lt" => Some('<'),
        b"gt" => Some('>'),
        b"amp" => Some('&'),
        b"quot" => Some('"'),
        b"apos" => Some('\''),
        [b'#', b'x' | b'X', hex @ ..] => number(hex, 16),
        [b'#', decimal @ ..] => number(decimal, 10),
        _ => None,
    };
    (c, if c.is_some() { end + 1 } else { 1 })
}

fn escape(rest: &[u8]) -> (Option<char>, usize) {
    match rest {
        [b'_', b'x', hex @ ..] if hex.len() > 4 && hex[4] == b'_' => match number(&hex[..4], 16) {
            Some(c) => (Some(c), 7),
            None => (None, 1),
        },
        _ => (None, 1),
    }
}

fn number(digits: &[u8], base: u32) -> Option<char> {
    let digits = std::str::from_utf8(digits).ok().filter(|d| d.bytes().all(|b| b.is_ascii_hexdigit()))?;
    char::from_u32(u32::from_str_radix(digits, base).ok()?).filter(|c| *c != '\0')
}
