//! Bytes of a text by blocks of whole lines, parsed on all threads and joined in order.
//!
//! Comes in: anything that can be read. Goes out: blocks that end at a line's end with the number of their first line. A file that is being written is read as far as it goes; it is never mapped into memory. While one batch of blocks
//! is parsed, the next is read and the last is joined, so the result does not depend on how many threads there are.

use super::error::IngestError;
use super::split::Dialect;
use rayon::prelude::*;
use std::io::Read;
use std::sync::{Mutex, PoisonError};

/// Cells that rows may lack before a text is given up: a few short rows are usual, a header of thousands above rows of two is no table.
pub(super) const MOST_ABSENT: usize = 20_000_000;
/// Readings held of all files together: 3.2 GB, a year of minutes of seven hundred points.
pub(super) const MOST_HELD: usize = 400_000_000;
/// The same of a look before there is a plant file, which takes whatever it meets: 640 MB.
pub(super) const MOST_LOOKED_AT: usize = 80_000_000;
/// Looked at in any file, however many went before it.
pub(super) const LEAST_LOOKED_AT: usize = 1_000_000;
/// No row of an export is longer [bytes]: 1 MiB holds 50,000 columns of 20 characters.
pub(super) const LONGEST_LINE: usize = 1 << 20;
/// What is read at once [bytes].
const BLOCK: usize = 1 << 20;
/// Lines that one quoted cell may go over.
const LONGEST_CELL: usize = 20;
/// Blocks in work for each thread: enough that a slow block holds nobody up.
const PER_THREAD: usize = 2;

/// How many readings a text may give.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bound {
    pub most: usize,
    /// More of them end the reading; otherwise they are an error.
    pub stops: bool,
}

/// Whole lines of a text.
pub(super) struct Blocks<R> {
    source: R,
    path: String,
    /// The start of a line whose end is not read yet.
    carry: Vec<u8>,
    spare: Vec<Vec<u8>>,
    /// Handed back, to be given out once more.
    first: Option<Block>,
    next_line: u64,
    /// Bytes so far.
    read: usize,
    ended: bool,
    bound: Bound,
    /// The first line that was not read.
    pub stopped: Option<u64>,
}

/// Some whole lines.
#[derive(Debug, Clone)]
pub(super) struct Block {
    /// Used over and over, so its end may hold what was read before.
    buffer: Vec<u8>,
    filled: usize,
    /// Number of its first line, from 1.
    pub line: u64,
    pub lines: u64,
    /// The text ends here.
    pub last: bool,
}

impl<R: Read> Blocks<R> {
    /// Nothing is read yet.
    pub fn new(path: &str, source: R, bound: Bound) -> Self {
        Self {
            source,
            path: path.to_string(),
            carry: Vec::new(),
            spare: Vec::new(),
            first: None,
            next_line: 1,
            read: 0,
            ended: false,
            bound,
            stopped: None,
        }
    }

    /// The next block, `None` after the last.
    pub fn next(&mut self) -> Result<Option<Block>, IngestError> {
        if let Some(first) = self.first.take() {
            return Ok(Some(first));
        }
        if self.ended {
            return Ok(None);
        }
        let mut buffer = self.spare.pop().unwrap_or_default();
        let mut filled = self.carry.len();
        buffer.resize(buffer.len().max(filled + BLOCK), 0);
        buffer[..filled].copy_from_slice(&self.carry);
        self.carry.clear();
        loop {
            let from = filled;
            filled = self.fill(&mut buffer, from)?;
            if self.ended {
                break;
            }
            if let Some(end) = memchr::memrchr(b'\n', &buffer[from..filled]) {
                self.carry.extend_from_slice(&buffer[from + end + 1..filled]);
                filled = from + end + 1;
                break;
            }
            if filled > LONGEST_LINE {
                let path = self.path.clone();
                return Err(IngestError::LongLine { path, line: self.next_line, limit: LONGEST_LINE });
            }
        }
        if filled == 0 {
            return Ok(None);
        }
        let (line, lines) = (self.next_line, memchr::memchr_iter(b'\n', &buffer[..filled]).count() as u64);
        self.next_line += lines;
        Ok(Some(Block { buffer, filled, line, lines, last: self.ended }))
    }

    /// Gives a block out once more.
    pub fn give_back(&mut self, block: Block) {
        self.first = Some(block);
    }

    /// Reads the next bytes behind those that are there; how many are there then.
    fn fill(&mut self, buffer: &mut Vec<u8>, from: usize) -> Result<usize, IngestError> {
        buffer.resize(buffer.len().max(from + BLOCK), 0);
        let mut filled = from;
        self.ended = false;
        while filled < from + BLOCK && !self.ended {
            match self.source.read(&mut buffer[filled..from + BLOCK]) {
                Ok(0) => self.ended = true,
                Ok(read) => filled += read,
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                Err(e) => {
                    let line = self.next_line + memchr::memchr_iter(b'\n', &buffer[..filled]).count() as u64;
                    return Err(super::container::told(&e, &self.path, line));
                }
            }
        }
        super::progress::read(filled - from);
        self.read += filled - from;
        Ok(filled)
    }

    /// Whether to read on with so many readings held. Every cell of a row takes a byte at least: what is held beyond that stands in for cells
    /// that are not there.
    pub fn may_hold(&self, held: usize) -> Result<bool, IngestError> {
        if held > self.read + MOST_ABSENT {
            return Err(IngestError::ShortRows { path: self.path.clone(), line: self.next_line });
        }
        if held > self.bound.most && !self.bound.stops {
            return Err(IngestError::TooMuch { path: self.path.clone(), line: self.next_line, held });
        }
        Ok(held <= self.bound.most)
    }

    fn batch(&mut self, most: usize) -> Result<Vec<Block>, IngestError> {
        let mut batch = Vec::new();
        while batch.len() < most
            && let Some(block) = self.next()?
        {
            batch.push(block);
        }
        Ok(batch)
    }
}

/// What was parsed and taken over, to be filled anew: fresh memory costs more than the copy out of it.
pub(super) struct Pool<P>(Mutex<Vec<P>>);

impl<P> Default for Pool<P> {
    fn default() -> Self {
        Self(Mutex::default())
    }
}

impl<P> Pool<P> {
    pub fn take(&self) -> Option<P> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).pop()
    }

    pub fn put(&self, emptied: P) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).push(emptied);
    }
}

/// Parses all blocks, several at once, and joins what comes of them in the order of the text.
pub(super) fn in_order<R: Read + Send, P: Send>(
    blocks: &mut Blocks<R>,
    parse: impl Fn(&Block) -> P + Sync,
    mut join: impl FnMut(P) -> usize + Send,
) -> Result<(), IngestError> {
    let most = PER_THREAD * rayon::current_num_threads();
    // The first is read already.
    let mut batch = blocks.batch(1)?;
    let mut done: Vec<P> = Vec::new();
    while !batch.is_empty() {
        let ready = std::mem::take(&mut done);
        let (next, (held, parsed)) = rayon::join(
            || blocks.batch(most),
            || {
                rayon::join(
                    || ready.into_iter().map(&mut join).last().unwrap_or(0),
                    || batch.par_iter().map(&parse).collect::<Vec<P>>(),
                )
            },
        );
        done = parsed;
        blocks.spare.extend(batch.into_iter().map(|b| b.buffer));
        batch = next?;
        if !blocks.may_hold(held)? {
            blocks.stopped = batch.first().map(|b| b.line);
            break;
        }
    }
    let held = done.into_iter().map(join).last().unwrap_or(0);
    blocks.may_hold(held).map(|_| ())
}

impl Block {
    pub fn bytes(&self) -> &[u8] {
        &self.buffer[..self.filled]
    }

    /// Hands over each row with the number of its first line; blank lines are left out, and a quoted cell may go on over line ends. The
    /// flag: the text stops before the row's end.
    pub fn records(&self, dialect: Dialect, mut see: impl FnMut(u64, &[u8], bool)) {
        let ended = self.line + self.lines;
        let filled = self.lines().filter(|(_, line)| !line.trim_ascii().is_empty());
        if !self.has_quotes(dialect) {
            return filled.for_each(|(number, line)| see(number, line, self.last && number == ended));
        }
        let mut lines = filled.peekable();
        while let Some((number, line)) = lines.next() {
            if !dialect.is_open(line) {
                see(number, line, self.last && number == ended);
                continue;
            }
            let mut joined = line.to_vec();
            let mut rest = lines.clone().take(LONGEST_CELL);
            let closed = rest.find(|(_, next)| {
                joined.push(b' ');
                joined.extend_from_slice(next);
                !dialect.is_open(&joined)
            });
            match closed {
                Some((last, _)) => {
                    while lines.next_if(|(n, _)| *n <= last).is_some() {}
                    see(number, &joined, self.last && last == ended);
                }
                // A stray quote.
                None => see(number, line, self.last && number == ended),
            }
        }
    }

    fn has_quotes(&self, dialect: Dialect) -> bool {
        memchr::memchr(dialect.quote, self.bytes()).is_some()
    }

    /// The same; before a line is looked for, `quick` is shown all that is left from its start, and says how many bytes of it are
    /// the line with its end, where it has dealt with it. It is asked for nothing where a text has quotes.
    pub fn records_or<S>(
        &self,
        dialect: Dialect,
        state: &mut S,
        mut quick: impl FnMut(&mut S, u64, &[u8]) -> Option<usize>,
        mut see: impl FnMut(&mut S, u64, &[u8], bool),
    ) {
        if self.has_quotes(dialect) {
            return self.records(dialect, |number, line, unended| see(state, number, line, unended));
        }
        let (bytes, ended) = (self.bytes(), self.line + self.lines);
        let (mut at, mut number) = (0, self.line);
        while at < bytes.len() {
            match quick(state, number, &bytes[at..]) {
                Some(length) => at += length,
                None => {
                    let end = memchr::memchr(b'\n', &bytes[at..]).map_or(bytes.len(), |n| at + n);
                    let line = bytes[at..end].strip_suffix(b"\r").unwrap_or(&bytes[at..end]);
                    if !line.trim_ascii().is_empty() {
                        see(state, number, line, self.last && number == ended);
                    }
                    at = end + 1;
                }
            }
            number += 1;
        }
    }

    /// The lines with their numbers, without line ends.
    pub fn lines(&self) -> impl Iterator<Item = (u64, &[u8])> + Clone {
        let bytes = self.bytes();
        let mut at = 0;
        let mut number = self.line;
        std::iter::from_fn(move || {
            if at >= bytes.len() {
                return None;
            }
            let end = memchr::memchr(b'\n', &bytes[at..]).map_or(bytes.len(), |n| at + n);
            let line = bytes[at..end].strip_suffix(b"\r").unwrap_or(&bytes[at..end]);
            let numbered = (number, line);
            at = end + 1;
            number += 1;
            Some(numbered)
        })
    }
}
