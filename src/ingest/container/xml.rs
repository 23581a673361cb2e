//! The parts of a workbook as XML events, in bounded memory.
//!
//! `quick-xml` reads them; it holds an event whole, however long, and the names of all open tags. So a part is cut at
//! [`LONGEST`] bytes an event and [`DEEPEST`] open tags. No entity can be defined: a document type is stepped over.

use super::fault::{Fault, within};
use quick_xml::Reader;
use quick_xml::escape::resolve_xml_entity;
use quick_xml::events::{BytesStart, Event};
use std::borrow::Cow;
use std::io::{self, BufRead, BufReader, Read};

/// No tag or text of a workbook is longer [bytes]: a cell holds 32,767 characters.
const LONGEST: usize = 4 << 20;
/// Tags within tags [-]; a sheet has some ten.
const DEEPEST: usize = 64;
const BLOCK: usize = 64 << 10;

/// A part as a stream of events.
pub(super) struct Xml<R: Read> {
    reader: Reader<Bounded<BufReader<R>>>,
    buffer: Vec<u8>,
    depth: usize,
}

impl<R: Read> Xml<R> {
    pub fn new(source: R) -> Self {
        let source = Bounded { inner: BufReader::with_capacity(BLOCK, source), left: 0 };
        let mut reader = Reader::from_reader(source);
        let config = reader.config_mut();
        // Whoever reads the events says where the document stops.
        (config.check_end_names, config.allow_unmatched_ends, config.allow_dangling_amp) = (false, true, true);
        Self { reader, buffer: Vec::new(), depth: 0 }
    }

    /// The next event; the end comes as often as it is asked for.
    pub fn next(&mut self) -> io::Result<Event<'_>> {
        self.buffer.clear();
        self.reader.get_mut().left = LONGEST;
        let event = self.reader.read_event_into(&mut self.buffer).map_err(of_crate)?;
        match event {
            Event::Start(_) if self.depth == DEEPEST => return Err(io::Error::other("its tags lie too deep")),
            Event::Start(_) => self.depth += 1,
            Event::End(_) => self.depth = self.depth.saturating_sub(1),
            _ => {}
        }
        Ok(event)
    }
}

/// Gives no more than `left` bytes.
struct Bounded<R> {
    inner: R,
    left: usize,
}

impl<R: BufRead> Read for Bounded<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let n = self.fill_buf()?.read(into)?;
        self.consume(n);
        Ok(n)
    }
}

impl<R: BufRead> BufRead for Bounded<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.left == 0 {
            return Err(io::Error::other(format!("a tag or text is longer than {LONGEST} bytes")));
        }
        let found = self.inner.fill_buf()?;
        Ok(&found[..found.len().min(self.left)])
    }
    fn consume(&mut self, n: usize) {
        self.left -= n;
        self.inner.consume(n);
    }
}

/// What the crate says of a part, in our words.
fn of_crate(error: quick_xml::Error) -> io::Error {
    match error {
        quick_xml::Error::Io(e) => match within(&e) {
            Some(fault) => fault.clone().into(),
            None => io::Error::new(e.kind(), e.to_string()),
        },
        quick_xml::Error::Syntax(_) => io::Error::other("the document stops inside a tag"),
        _ => io::Error::other("it is not written as a workbook is"),
    }
}

/// A document that cannot be read as a fault.
pub(super) fn fault(part: &str, error: io::Error) -> io::Error {
    if within(&error).is_some() {
        return error;
    }
    Fault::Damaged { what: "workbook", at: 0, why: format!("{part}: {error}") }.into()
}

/// Attributes as written, by their names without prefix.
pub(super) fn attributes<'t>(tag: &'t BytesStart<'_>) -> impl Iterator<Item = (&'t [u8], Cow<'t, [u8]>)> {
    let mut all = tag.attributes();
    all.with_checks(false);
    all.map_while(Result::ok).map(|a| (a.key.local_name().into_inner(), a.value))
}

pub(super) fn attribute<'t>(tag: &'t BytesStart<'_>, wanted: &str) -> Option<Cow<'t, [u8]>> {
    attributes(tag).find(|(name, _)| *name == wanted.as_bytes()).map(|(_, value)| value)
}

/// An attribute as text to show; empty when it is missing.
pub(super) fn words(tag: &BytesStart<'_>, wanted: &str) -> String {
    let raw = attribute(tag, wanted).unwrap_or_default();
    let raw = String::from_utf8_lossy(&raw);
    let text = quick_xml::escape::unescape(&raw).unwrap_or(Cow::Borrowed(&raw));
    let mut out = Vec::new();
    unescape(text.as_bytes(), &mut out);
    String::from_utf8_lossy(&out).chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// Puts what an event holds of a text at the end of `out`.
pub(super) fn text(event: &Event<'_>, out: &mut Vec<u8>) {
    match event {
        Event::Text(raw) => out.extend_from_slice(raw),
        Event::CData(raw) => out.extend_from_slice(raw),
        Event::GeneralRef(name) => match (name.resolve_char_ref(), std::str::from_utf8(name).map(resolve_xml_entity)) {
            (Ok(Some(c)), _) if c != '\0' => out.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes()),
            (_, Ok(Some(c))) => out.extend_from_slice(c.as_bytes()),
            _ => [b"&", &**name, b";"].iter().for_each(|part| out.extend_from_slice(part)),
        },
        _ => {}
    }
}

/// Text with its `_x000D_` escapes decoded (ECMA-376 part 1, 22.4.2.4, ST_Xstring), at the end of `out`.
pub(super) fn unescape(raw: &[u8], out: &mut Vec<u8>) {
    let mut rest = raw;
    while let Some(at) = memchr::memchr(b'_', rest) {
        out.extend_from_slice(&rest[..at]);
        rest = &rest[at..];
        let c = escaped(rest);
        match c {
            Some(c) => out.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes()),
            None => out.push(b'_'),
        }
        rest = &rest[if c.is_some() { 7 } else { 1 }..];
    }
    out.extend_from_slice(rest);
}

fn escaped(rest: &[u8]) -> Option<char> {
    let hex = rest.strip_prefix(b"_x").and_then(|r| r.get(..5)).and_then(|r| r.strip_suffix(b"_"))?;
    let hex = std::str::from_utf8(hex).ok().filter(|h| h.bytes().all(|b| b.is_ascii_hexdigit()))?;
    char::from_u32(u32::from_str_radix(hex, 16).ok()?).filter(|c| *c != '\0')
}
