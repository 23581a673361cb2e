//! Files of any kind to texts: what an archive, a workbook or a table holds becomes lines, so that one reader serves all.
//!
//! Comes in: a path, or bytes. Goes out: one [`Opened`] after another, handed to the caller while its container is open, and
//! an [`Outcome`]. What a file is, its first bytes say, never its name. Everything is streamed: a file in an archive that must
//! be read from any place (a workbook, a Parquet file, a further archive) is the one thing that is held whole, up to
//! 512 MiB. Nothing is written to disk, and a member whose name leads out of its archive is refused. A member that is lost does not lose the others.
//!
//! The decision one may question: zip archives and XML are read by libraries (`zip`, `quick-xml`), but not workbooks. Those
//! at hand hold strings, and a cell of any length, without a limit, and a file may be built to use that up. So old
//! binary workbooks (.xls) and OpenDocument are refused by name.
//!
//! Start at [`each_text`].

mod cells;
#[cfg(feature = "review")]
mod columnar;
#[cfg(not(feature = "review"))]
#[path = "container/no_columnar.rs"]
mod columnar;
#[cfg(not(feature = "review"))]
use columnar as ipc;
mod fault;
mod folder;
mod foreign;
#[cfg(feature = "review")]
mod ipc;
mod opening;
mod recognise;
mod serial;
mod sheet;
mod source;
mod squeezed;
#[cfg(feature = "review")]
mod table;
mod text;
mod workbook;
mod xml;
mod zip;

pub use fault::told;
pub use folder::files_below;

use super::IngestError;
use fault::in_words;
use opening::{Nested, Opening};
use recognise::{HEAD, Kind, recognise, refused};
use source::{Base, Fingerprint, Hashed, Part, Piped, Tally};
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::Arc;

/// One text inside a file.
pub struct Opened<'a> {
    /// As shown: "trends/a.csv", "trends/march.zip/north/p1.csv", "book.xlsx/Pumps".
    pub shown: String,
    /// Name of the sheet of a workbook.
    pub sheet: Option<String>,
    /// The sheet is hidden in its workbook.
    pub is_hidden: bool,
    /// "UTF-8", "UTF-8 with BOM", "UTF-16LE", "UTF-16BE", "8-bit text" (not UTF-8 within its first 64 KiB), "workbook", "parquet", "arrow".
    pub encoding: &'static str,
    /// Cells are typed, and the text is ours: comma parted, quoted as RFC 4180, no line breaks within cells; numbers with a decimal point in
    /// the shortest exact form; instants as ISO 8601, with Z where the column is UTC or has a zone, else civil; dates and times of day alone
    /// as such; true and false; missing is empty. In a sheet, lines are rows and cells stand in their columns.
    pub typed: bool,
    /// Columns that are not in the text, and why.
    pub left_out: Vec<(String, String)>,
    /// The text is what the file holds behind these bytes, byte by byte: with [`Hashing::Caller`] the caller fingerprints it.
    pub as_stored: Option<&'static [u8]>,
    /// UTF-8 (or bytes of a code page), lines end in `\n` or `\r\n`, no byte-order mark. Its errors are for [`told`]; what stands before one is good.
    pub text: Box<dyn Read + Send + 'a>,
}

/// Who takes the fingerprint of a file that is nothing but text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hashing {
    /// It is taken while the text is read.
    Here,
    /// The caller does (on another thread, say); only where [`Opened::as_stored`] is given.
    Caller,
}

/// What became of a file.
#[derive(Debug, Default)]
pub struct Outcome {
    /// SHA-256 of the file as stored, in hexadecimal; `None` where the caller takes it.
    pub sha256: Option<String>,
    /// Length of the file as stored [bytes]; 0 where the caller takes the fingerprint.
    pub bytes: u64,
    /// Texts that were handed out [-].
    pub texts: usize,
    /// What an archive or workbook holds and could not be read, or was refused by the caller.
    pub lost: Vec<Lost>,
}

/// A member that was lost.
#[derive(Debug)]
pub struct Lost {
    /// As [`Opened::shown`].
    pub shown: String,
    pub why: IngestError,
}

/// What a text is handed to.
pub type See<'s> = &'s mut dyn FnMut(Opened<'_>) -> Result<(), IngestError>;

/// Hands every text of a file to `see`. `shown` names the file in messages.
///
/// # Errors
/// When the file itself cannot be read or is refused, and what `see` says of a file that is no archive or that stops
/// everything. What `see` says of a member is collected in [`Outcome::lost`].
pub fn each_text(path: &Path, shown: &str, hashing: Hashing, see: See<'_>) -> Result<Outcome, IngestError> {
    let unreadable = |e: std::io::Error| IngestError::Unreadable { path: shown.to_string(), why: in_words(&e) };
    let file = File::open(path).map_err(unreadable)?;
    let about = file.metadata().map_err(unreadable)?;
    if about.is_dir() {
        let is_empty = files_below(path, "").is_empty();
        let path = shown.to_string();
        return Err(if is_empty {
            IngestError::EmptyFolder { path }
        } else {
            refused(shown, "a folder", "name the files in it")
        });
    }
    if about.is_file() {
        return outer(Base::File(&file, about.len()), shown, hashing, see);
    }
    let tally = Arc::new(Tally { stored: u64::MAX, ..Tally::default() });
    let mut print = Fingerprint::default();
    let mut opening = Opening { see, tally: tally.clone(), outcome: Outcome::default(), hashing: Hashing::Here };
    let piped = Hashed { inner: Piped { file: &file, tally: tally.clone() }, print: &mut print };
    opening.stream(Box::new(piped), shown, Nested::default())?;
    let mut outcome = opening.outcome;
    let mut rest = Hashed { inner: Piped { file: &file, tally }, print: &mut print };
    std::io::copy(&mut rest, &mut std::io::sink()).map_err(|e| told(&e, shown, 1))?;
    let (sha256, bytes) = print.told();
    (outcome.sha256, outcome.bytes) = (Some(sha256), bytes);
    Ok(outcome)
}

/// The same from memory.
///
/// # Errors
/// As [`each_text`].
pub fn each_text_of(bytes: &[u8], shown: &str, hashing: Hashing, see: See<'_>) -> Result<Outcome, IngestError> {
    outer(Base::Bytes(bytes), shown, hashing, see)
}

fn outer(base: Base<'_>, shown: &str, hashing: Hashing, see: See<'_>) -> Result<Outcome, IngestError> {
    let tally = Arc::new(Tally { stored: base.len(), ..Tally::default() });
    let mut opening = Opening { see, tally: tally.clone(), outcome: Outcome::default(), hashing };
    let head = base.some_at(0, HEAD).map_err(|e| told(&e, shown, 1))?;
    let kind = recognise(&head, shown)?;
    let is_callers =
        hashing == Hashing::Caller && kind == Kind::Text && text::look(&head, head.len() < HEAD).is_untouched();
    // A file that is being written is read as far as it goes.
    let whole = Part { base, at: 0, end: u64::MAX, tally };
    let mut print = Fingerprint::default();
    match kind {
        Kind::Zip | Kind::Parquet => opening.at_any_place(kind, base, shown, Nested::default())?,
        _ if is_callers => opening.in_order(kind, &head, Box::new(whole), shown, Nested::default())?,
        _ => {
            let hashed = Hashed { inner: whole, print: &mut print };
            opening.in_order(kind, &head, Box::new(hashed), shown, Nested::default())?;
        }
    }
    let mut outcome = opening.outcome;
    if !is_callers {
        let (sha256, bytes) = print.finish(base).map_err(|e| told(&e, shown, 1))?;
        (outcome.sha256, outcome.bytes) = (Some(sha256), bytes);
    }
    Ok(outcome)
}

/// A file that is longer is not read once more for its fingerprint alone [bytes].
const PRINTED: u64 = 1 << 30;

/// SHA-256 of a file that was not read to its end, in hexadecimal; `None` where it cannot be read or is very long.
#[must_use]
pub fn fingerprint(path: &Path) -> Option<String> {
    let file = File::open(path).ok()?;
    let about = file.metadata().ok().filter(|m| m.is_file() && m.len() <= PRINTED)?;
    Fingerprint::default().finish(Base::File(&file, about.len())).ok().map(|(sha256, _)| sha256)
}

/// The same from memory.
#[must_use]
pub fn fingerprint_of(bytes: &[u8]) -> Option<String> {
    Fingerprint::default().finish(Base::Bytes(bytes)).ok().map(|(sha256, _)| sha256)
}
