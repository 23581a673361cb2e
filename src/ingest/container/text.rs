//! A stream of stored text to UTF-8 with `\n` ends: byte-order marks, UTF-16, lone carriage returns, bytes of value 0.
//!
//! Plain text goes through as it is. 8-bit text that is not UTF-8 is left for the cells' reader to decode.

use super::fault::Fault;
use std::io::{self, Read};

/// Text as found, before it is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Found {
    pub encoding: &'static str,
    /// Bytes of the byte-order mark.
    pub mark: usize,
    wide: Option<End>,
    lone_returns: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    Little,
    Big,
}

impl Found {
    /// Text is handed through as it is stored, but for the mark.
    pub fn is_untouched(&self) -> bool {
        self.wide.is_none() && !self.lone_returns
    }
}

/// How the text that starts with these bytes is written. `whole`: the text is no longer than this.
pub(super) fn look(head: &[u8], whole: bool) -> Found {
    let (encoding, mark, wide) = match head {
        [0xEF, 0xBB, 0xBF, ..] => ("UTF-8 with BOM", 3, None),
        [0xFF, 0xFE, ..] => ("UTF-16LE", 2, Some(End::Little)),
        [0xFE, 0xFF, ..] => ("UTF-16BE", 2, Some(End::Big)),
        _ => match unmarked_wide(head) {
            Some(End::Little) => ("UTF-16LE", 0, Some(End::Little)),
            Some(End::Big) => ("UTF-16BE", 0, Some(End::Big)),
            None => (if is_utf8(head, whole) { "UTF-8" } else { "8-bit text" }, 0, None),
        },
    };
    let lone_returns = match wide {
        None => has_lone_returns(head),
        Some(end) => {
            has_lone_returns(&units(&head[mark..], end).map(|u| u8::try_from(u).unwrap_or(b'?')).collect::<Vec<_>>())
        }
    };
    Found { encoding, mark, wide, lone_returns }
}

/// The text itself; `stored` starts with the mark.
pub(super) fn open<'a>(found: Found, mut stored: Box<dyn Read + Send + 'a>) -> io::Result<Box<dyn Read + Send + 'a>> {
    let mut mark = [0; 3];
    stored.read_exact(&mut mark[..found.mark])?;
    let text: Box<dyn Read + Send + 'a> = match found.wide {
        Some(end) => Box::new(Narrowed {
            inner: stored,
            end,
            raw: Vec::new(),
            high: None,
            out: Vec::new(),
            given: 0,
            ended: false,
        }),
        None => stored,
    };
    let text = NoNul { inner: text, hit: false };
    Ok(if found.lone_returns { Box::new(Returns(text)) } else { Box::new(text) })
}

/// UTF-16 without a mark: nearly every second byte of the first few thousand is 0, and always on the same side.
fn unmarked_wide(head: &[u8]) -> Option<End> {
    let head = &head[..head.len().min(4096) & !1];
    let (even, odd) =
        head.chunks_exact(2).fold((0, 0), |(e, o), p| (e + usize::from(p[0] == 0), o + usize::from(p[1] == 0)));
    let pairs = head.len() / 2;
    if pairs < 2 || even + odd < pairs * 3 / 4 {
        return None;
    }
    match (even, odd) {
        (0, _) => Some(End::Little),
        (_, 0) => Some(End::Big),
        _ => None,
    }
}

fn is_utf8(head: &[u8], whole: bool) -> bool {
    match std::str::from_utf8(head) {
        Ok(_) => true,
        // The head may end inside a character.
        Err(e) => !whole && e.error_len().is_none(),
    }
}

/// Carriage returns, and no line feed at all.
fn has_lone_returns(head: &[u8]) -> bool {
    // A return at the very end may have its line feed behind it.
    let before_last = &head[..head.len().saturating_sub(1)];
    memchr::memchr(b'\n', head).is_none() && memchr::memchr(b'\r', before_last).is_some()
}

fn units(bytes: &[u8], end: End) -> impl Iterator<Item = u16> + '_ {
    bytes.chunks_exact(2).map(move |p| match end {
        End::Little => u16::from_le_bytes([p[0], p[1]]),
        End::Big => u16::from_be_bytes([p[0], p[1]]),
    })
}

/// UTF-16 to UTF-8; halves of pairs that stand alone become U+FFFD.
struct Narrowed<'a> {
    inner: Box<dyn Read + Send + 'a>,
    end: End,
    /// Stored bytes not yet decoded.
    raw: Vec<u8>,
    /// First half of a pair.
    high: Option<u16>,
    out: Vec<u8>,
    given: usize,
    ended: bool,
}

impl Narrowed<'_> {
    fn refill(&mut self) -> io::Result<()> {
        let kept = self.raw.len();
        self.raw.resize(kept + (1 << 16), 0);
        let read = self.inner.read(&mut self.raw[kept..]);
        self.raw.truncate(kept + *read.as_ref().unwrap_or(&0));
        self.ended = read? == 0;
        (self.given, self.out) = (0, std::mem::take(&mut self.out));
        self.out.clear();
        for unit in units(&self.raw, self.end) {
            if let (Ok(plain @ 1..0x80), None) = (u8::try_from(unit), self.high) {
                self.out.push(plain);
                continue;
            }
            put(&mut self.high, unit, &mut self.out);
        }
        let done = self.raw.len() & !1;
        self.raw.drain(..done);
        if self.ended && (self.high.take().is_some() | !std::mem::take(&mut self.raw).is_empty()) {
            put_char(char::REPLACEMENT_CHARACTER, &mut self.out);
        }
        Ok(())
    }
}

fn put(high: &mut Option<u16>, unit: u16, out: &mut Vec<u8>) {
    if let Some(first) = high.take() {
        if let Some(Ok(c)) = char::decode_utf16([first, unit]).next() {
            return put_char(c, out);
        }
        put_char(char::REPLACEMENT_CHARACTER, out);
    }
    match unit {
        0xD800..=0xDBFF => *high = Some(unit),
        _ => put_char(char::from_u32(u32::from(unit)).unwrap_or(char::REPLACEMENT_CHARACTER), out),
    }
}

fn put_char(c: char, out: &mut Vec<u8>) {
    out.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes());
}

impl Read for Narrowed<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while self.given == self.out.len() && !self.ended {
            self.refill()?;
        }
        let n = into.len().min(self.out.len() - self.given);
        into[..n].copy_from_slice(&self.out[self.given..self.given + n]);
        self.given += n;
        Ok(n)
    }
}

/// Stops at a byte of value 0, after all that stands before it.
struct NoNul<R> {
    inner: R,
    hit: bool,
}

impl<R: Read> Read for NoNul<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.hit {
            return Err(Fault::Nul.into());
        }
        let n = self.inner.read(into)?;
        match memchr::memchr(0, &into[..n]) {
            None => Ok(n),
            Some(0) => {
                self.hit = true;
                Err(Fault::Nul.into())
            }
            Some(at) => {
                self.hit = true;
                Ok(at)
            }
        }
    }
}

/// Lone carriage returns to line feeds.
struct Returns<R>(R);

impl<R: Read> Read for Returns<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let n = self.0.read(into)?;
        for byte in &mut into[..n] {
            if *byte == b'\r' {
                *byte = b'\n';
            }
        }
        Ok(n)
    }
}
