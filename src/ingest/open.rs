//! Bytes of a file by whole lines, block by block, with their fingerprint.
//!
//! Comes in: anything that can be read. Goes out: blocks that end at a line's end, the number of their first line, and
//! the SHA-256 of all bytes. A file that is being written is read as far as it goes; it is never mapped into memory.
//! Also here: which files the patterns of `[trends].files` name.

use super::error::IngestError;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// No row of an export is longer [bytes]: 1 MiB holds 50,000 columns of 20 characters.
pub(super) const LONGEST_LINE: usize = 1 << 20;
/// What is read at once [bytes].
const BLOCK: usize = 1 << 20;

/// Opens a trend file; `shown` names it in messages.
pub(super) fn open(path: &Path, shown: &str) -> Result<File, IngestError> {
    File::open(path).map_err(|e| IngestError::Unreadable { path: shown.to_string(), why: e.to_string() })
}

/// Whole lines of a file.
pub(super) struct Lines<R> {
    source: R,
    path: String,
    buffer: Vec<u8>,
    /// Bytes of `buffer` that hold data.
    filled: usize,
    /// Bytes already handed out.
    given: usize,
    next_line: u64,
    hash: Sha256,
    ended: bool,
}

/// A block of whole lines.
pub(super) struct Block<'a> {
    pub bytes: &'a [u8],
    /// Number of its first line, from 1.
    pub line: u64,
    /// The file ends here.
    pub last: bool,
}

impl<R: Read> Lines<R> {
    /// Nothing is read yet.
    pub fn new(path: &str, source: R) -> Self {
        Self {
            source,
            path: path.to_string(),
            buffer: vec![0; BLOCK + LONGEST_LINE],
            filled: 0,
            given: 0,
            next_line: 1,
            hash: Sha256::new(),
            ended: false,
        }
    }

    /// The next block, `None` after the last.
    pub fn next(&mut self) -> Result<Option<Block<'_>>, IngestError> {
        self.buffer.copy_within(self.given..self.filled, 0);
        self.filled -= self.given;
        self.given = 0;
        self.fill()?;
        if self.filled == 0 {
            return Ok(None);
        }
        let line = self.next_line;
        let end = if self.ended { self.filled } else { self.end_of_lines(line)? };
        let bytes = &self.buffer[..end];
        self.given = end;
        self.next_line += memchr::memchr_iter(b'\n', bytes).count() as u64;
        Ok(Some(Block { bytes, line, last: self.ended }))
    }

    /// Hands the first block out once more.
    pub fn rewind(&mut self) {
        (self.given, self.next_line) = (0, 1);
    }

    fn fill(&mut self) -> Result<(), IngestError> {
        while !self.ended && self.filled < self.buffer.len() {
            let read = match self.source.read(&mut self.buffer[self.filled..]) {
                Ok(n) => n,
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => continue,
                Err(e) => return Err(IngestError::Unreadable { path: self.path.clone(), why: e.to_string() }),
            };
            self.hash.update(&self.buffer[self.filled..self.filled + read]);
            self.filled += read;
            self.ended = read == 0;
        }
        Ok(())
    }

    /// Where the last whole line ends.
    fn end_of_lines(&self, line: u64) -> Result<usize, IngestError> {
        let end = memchr::memrchr(b'\n', &self.buffer[..self.filled]).map_or(0, |at| at + 1);
        if self.filled - end <= LONGEST_LINE {
            return Ok(end);
        }
        let line = line + memchr::memchr_iter(b'\n', &self.buffer[..end]).count() as u64;
        Err(IngestError::LongLine { path: self.path.clone(), line, limit: LONGEST_LINE })
    }

    /// Fingerprint of the whole file, read to its end, in hexadecimal.
    pub fn sha256(mut self) -> String {
        let mut rest = vec![0; BLOCK];
        while let Ok(n @ 1..) = self.source.read(&mut rest) {
            self.hash.update(&rest[..n]);
        }
        self.hash.finalize().iter().map(|b| format!("{b:02x}")).collect()
    }
}

/// The lines below the header that hold something, with their numbers, and whether the file stops before the line's end.
pub(super) fn rows<'a>(block: &Block<'a>, header_line: u64) -> impl Iterator<Item = (u64, &'a [u8], bool)> + use<'a> {
    let last = block.line + memchr::memchr_iter(b'\n', block.bytes).count() as u64;
    let whole = !block.last;
    lines(block)
        .filter(move |(number, line)| *number > header_line && !line.trim_ascii().is_empty())
        .map(move |(number, line)| (number, line, !whole && number == last))
}

/// The lines of a block with their numbers, without line ends.
pub(super) fn lines<'a>(block: &Block<'a>) -> impl Iterator<Item = (u64, &'a [u8])> + use<'a> {
    let (bytes, first) = (block.bytes, block.line);
    let mut at = 0;
    let mut number = first;
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

/// The files that a pattern names, sorted: `*` and `?` stand for any part and any one character of a name, within one folder.
pub(super) fn matching(dir: &Path, pattern: &str) -> Vec<PathBuf> {
    let mut found = vec![if pattern.starts_with('/') { PathBuf::from("/") } else { dir.to_path_buf() }];
    for part in pattern.split(['/', '\\']).filter(|p| !p.is_empty() && *p != ".") {
        found = found.iter().flat_map(|folder| entries(folder, part)).collect();
    }
    found.retain(|p| p.is_file());
    found.sort();
    found
}

fn entries(folder: &Path, part: &str) -> Vec<PathBuf> {
    if !part.contains(['*', '?']) {
        let path = folder.join(part);
        return if path.exists() { vec![path] } else { Vec::new() };
    }
    let Ok(listing) = std::fs::read_dir(folder) else { return Vec::new() };
    let hidden_too = part.starts_with('.');
    listing
        .filter_map(Result::ok)
        .filter(|e| {
            let name = e.file_name();
            let name = name.to_string_lossy();
            (hidden_too || !name.starts_with('.')) && fits(part, &name)
        })
        .map(|e| e.path())
        .collect()
}

/// Whether a text is what a pattern with `*` and `?` describes.
pub(super) fn fits(pattern: &str, text: &str) -> bool {
    let (p, t): (Vec<char>, Vec<char>) = (pattern.chars().collect(), text.chars().collect());
    let (mut i, mut j) = (0, 0);
    let mut retry = None;
    while j < t.len() {
        if i < p.len() && p[i] == '*' {
            retry = Some((i, j));
            i += 1;
        } else if i < p.len() && (p[i] == '?' || p[i] == t[j]) {
            (i, j) = (i + 1, j + 1);
        } else if let Some((star, taken)) = retry {
            (i, j) = (star + 1, taken + 1);
            retry = Some((star, taken + 1));
        } else {
            return false;
        }
    }
    p[i..].iter().all(|c| *c == '*')
}

/// Whether a path, piece by piece, is what a pattern describes.
pub(super) fn path_fits(pattern: &str, path: &str) -> bool {
    let split =
        |s: &str| s.split(['/', '\\']).filter(|p| !p.is_empty() && *p != ".").map(str::to_string).collect::<Vec<_>>();
    let (p, t) = (split(pattern), split(path));
    p.len() == t.len() && p.iter().zip(&t).all(|(a, b)| fits(a, b))
}
