//! Where stored bytes come from, and how many went through: files and memory alike.

use super::fault::{Fault, of_decoder};
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

/// Below this much text [bytes] no ratio is asked for.
const SMALL: u64 = 64 << 20;
/// Text over stored bytes [-] beyond which a file is built to swell: deflate reaches 1,032, an export some 30,
/// one of thousands of columns that all stand still some 800.
const RATIO: u64 = 2_000;
/// The same once the text is long [bytes]: a text of 2 GiB in which hardly anything moves is no export.
const LONG: u64 = 2 << 30;
const RATIO_OF_LONG: u64 = 200;
/// All the text of one file [bytes].
const MOST: u64 = 64 << 30;

/// Stored bytes that can be read from any place.
#[derive(Clone, Copy)]
pub(super) enum Base<'a> {
    File(&'a File, u64),
    Bytes(&'a [u8]),
}

impl Base<'_> {
    pub fn len(&self) -> u64 {
        match self {
            Self::File(_, len) => *len,
            Self::Bytes(bytes) => bytes.len() as u64,
        }
    }

    /// Reads at a place; fewer bytes than asked for only where there are no more at once.
    pub fn read_at(&self, at: u64, into: &mut [u8]) -> io::Result<usize> {
        match self {
            Self::File(file, _) => {
                let mut file: &File = file;
                file.seek(SeekFrom::Start(at)).and_then(|_| file.read(into)).map_err(of_system)
            }
            Self::Bytes(bytes) => {
                let rest = usize::try_from(at).ok().and_then(|at| bytes.get(at..)).unwrap_or_default();
                let n = rest.len().min(into.len());
                into[..n].copy_from_slice(&rest[..n]);
                Ok(n)
            }
        }
    }

    /// Up to `len` bytes from a place; fewer where the base ends.
    pub fn some_at(&self, at: u64, len: usize) -> io::Result<Vec<u8>> {
        let mut found = vec![0; len];
        let mut filled = 0;
        while filled < len {
            match self.read_at(at + filled as u64, &mut found[filled..]) {
                Ok(0) => break,
                Ok(n) => filled += n,
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
        found.truncate(filled);
        Ok(found)
    }
}

fn of_system(error: io::Error) -> io::Error {
    if error.kind() == io::ErrorKind::Interrupted { error } else { Fault::System(error.to_string()).into() }
}

/// A part of a base, read from front to back.
pub(super) struct Part<'a> {
    pub base: Base<'a>,
    pub at: u64,
    pub end: u64,
    pub tally: Arc<Tally>,
}

impl Read for Part<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let n = into.len().min(usize::try_from(self.end.saturating_sub(self.at)).unwrap_or(usize::MAX));
        let read = self.base.read_at(self.at, &mut into[..n])?;
        self.at += read as u64;
        self.tally.read.fetch_add(read as u64, Relaxed);
        Ok(read)
    }
}

/// A base that is read from wherever its reader goes. `left` [bytes]: no more may be read until it is raised.
pub(super) struct Placed<'a> {
    pub base: Base<'a>,
    pub at: u64,
    pub left: Arc<AtomicU64>,
    pub tally: Arc<Tally>,
}

impl Read for Placed<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let read = self.base.read_at(self.at, into)?;
        self.at += read as u64;
        let Some(left) = self.left.load(Relaxed).checked_sub(read as u64) else {
            let why = "its directory is longer than any".to_string();
            return Err(Fault::Damaged { what: super::zip::WHAT, at: self.at, why }.into());
        };
        self.left.store(left, Relaxed);
        self.tally.read.fetch_add(read as u64, Relaxed);
        Ok(read)
    }
}

impl Seek for Placed<'_> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let at = match to {
            SeekFrom::Start(at) => Some(at),
            SeekFrom::End(by) => self.base.len().checked_add_signed(by),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
        };
        self.at = at.ok_or(io::ErrorKind::InvalidInput)?;
        Ok(self.at)
    }
}

/// What cannot be read from any place: a pipe.
pub(super) struct Piped<'a> {
    pub file: &'a File,
    pub tally: Arc<Tally>,
}

impl Read for Piped<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let mut file: &File = self.file;
        let read = file.read(into).map_err(of_system)?;
        self.tally.read.fetch_add(read as u64, Relaxed);
        Ok(read)
    }
}

/// Stored bytes read and text handed out, over the whole file.
#[derive(Default)]
pub(super) struct Tally {
    /// Stored bytes of the file; `u64::MAX` where unknown.
    pub stored: u64,
    pub read: AtomicU64,
    pub written: AtomicU64,
}

/// A text out of something compressed: translates the decoder's errors and stops what swells.
pub(super) struct Watched<R> {
    pub inner: R,
    pub what: &'static str,
    pub tally: Arc<Tally>,
}

impl<R: Read> Read for Watched<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let place = || self.tally.read.load(Relaxed).min(self.tally.stored);
        let n = self.inner.read(into).map_err(|e| of_decoder(e, self.what, place()))?;
        let written = self.tally.written.fetch_add(n as u64, Relaxed) + n as u64;
        let read = place();
        let beyond = |size, ratio| written > size && written / ratio > read;
        if written > MOST || beyond(SMALL, RATIO) || beyond(LONG, RATIO_OF_LONG) {
            return Err(Fault::Swells { written, read }.into());
        }
        Ok(n)
    }
}

/// The fingerprint of a file, taken while it is read from front to back.
#[derive(Default)]
pub(super) struct Fingerprint {
    hash: Sha256,
    at: u64,
}

impl Fingerprint {
    /// Reads what was not read yet, and tells the whole file's SHA-256 in hexadecimal and its length [bytes].
    pub fn finish(mut self, base: Base<'_>) -> io::Result<(String, u64)> {
        let mut block = vec![0; 1 << 20];
        loop {
            match base.read_at(self.at, &mut block) {
                Ok(0) => break,
                Ok(n) => self.add(&block[..n]),
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
        Ok(self.told())
    }
    /// The same of what was read.
    pub fn told(self) -> (String, u64) {
        (self.hash.finalize().iter().map(|b| format!("{b:02x}")).collect(), self.at)
    }
    fn add(&mut self, bytes: &[u8]) {
        self.hash.update(bytes);
        self.at += bytes.len() as u64;
    }
}

/// A source whose bytes are fingerprinted on their way.
pub(super) struct Hashed<'a, R> {
    pub inner: R,
    pub print: &'a mut Fingerprint,
}

impl<R: Read> Read for Hashed<'_, R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let n = self.inner.read(into)?;
        self.print.add(&into[..n]);
        Ok(n)
    }
}

/// A source that only fails, once.
pub(super) struct Failing(pub Option<io::Error>);

impl Read for Failing {
    fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
        self.0.take().map_or(Ok(0), Err)
    }
}
