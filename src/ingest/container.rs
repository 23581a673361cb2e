//! Files of any kind to texts: what an archive, a workbook or a table holds becomes lines, so that one reader serves all.
//!
//! Comes in: a path, or bytes. Goes out: one [`Opened`] after another, handed to the caller while its container is open, and
//! an [`Outcome`]. What a file is, its first bytes say, never its name. Everything is streamed: a file in an archive that must
//! be read from any place (a workbook, a Parquet file, a further archive) is the one thing that is held whole, up to
//! 512 MiB. Nothing is written to disk, and names in archives are only names. A member that is lost does not lose the others.
//!
//! The decision one may question: workbooks are read by our own reader of the little XML they need, not by a library.
//! Those at hand hold strings and rows without a limit, and a file may be built to use that up. So old binary
//! workbooks (.xls) and OpenDocument are refused by name.
//!
//! Start at [`each_text`].

mod cells;
#[cfg(feature = "review")]
mod columnar;
#[cfg(not(feature = "review"))]
#[path = "container/no_columnar.rs"]
mod columnar;
mod fault;
mod folder;
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
use columnar::Stored;
use recognise::{HEAD, Kind, recognise, refused};
use source::{Base, Fingerprint, Hashed, Part, Piped, Tally, Watched};
use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;
use std::sync::atomic::Ordering::Relaxed;
use std::sync::{Arc, Mutex};
use workbook::{Office, Workbook};

/// Containers within containers [-]: a gzip in a zip in a zip is three.
const DEPTH: usize = 4;
/// Archives within archives [-].
const ARCHIVES: usize = 2;
/// What is held whole because it must be read from any place [bytes].
const HELD: u64 = 512 << 20;

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
    let unreadable = |e: std::io::Error| IngestError::Unreadable { path: shown.to_string(), why: e.to_string() };
    let file = File::open(path).map_err(unreadable)?;
    let about = file.metadata().map_err(unreadable)?;
    if about.is_dir() {
        return Err(refused(shown, "a folder", "name the files in it"));
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

/// How deep a source lies.
#[derive(Debug, Clone, Copy, Default)]
struct Nested {
    containers: usize,
    archives: usize,
}

struct Opening<'s> {
    see: See<'s>,
    tally: Arc<Tally>,
    outcome: Outcome,
    hashing: Hashing,
}

impl Opening<'_> {
    /// A source that can only be read from front to back.
    fn stream(
        &mut self,
        mut stored: Box<dyn Read + Send + '_>,
        shown: &str,
        nested: Nested,
    ) -> Result<(), IngestError> {
        if nested.containers > DEPTH {
            return Err(IngestError::TooDeep { path: shown.to_string() });
        }
        let mut head = Vec::new();
        let cut = (&mut stored).take(HEAD as u64).read_to_end(&mut head).err();
        if let Some(fault) = &cut
            && head.is_empty()
        {
            return Err(told(fault, shown, 1));
        }
        let kind = recognise(&head, shown)?;
        // A fault within the head comes again behind it.
        let whole: Box<dyn Read + Send + '_> = match cut {
            None => Box::new(Cursor::new(head.clone()).chain(stored)),
            Some(fault) => Box::new(Cursor::new(head.clone()).chain(source::Failing(Some(fault)))),
        };
        if !matches!(kind, Kind::Zip | Kind::Parquet) {
            return self.in_order(kind, &head, whole, shown, nested);
        }
        let mut held = Vec::new();
        whole.take(HELD + 1).read_to_end(&mut held).map_err(|e| told(&e, shown, 1))?;
        if held.len() as u64 > HELD {
            return Err(IngestError::TooLargeInside { path: shown.to_string(), limit: HELD });
        }
        self.at_any_place(kind, Base::Bytes(&held), shown, nested)
    }

    /// What is read from front to back.
    fn in_order(
        &mut self,
        kind: Kind,
        head: &[u8],
        stored: Box<dyn Read + Send + '_>,
        shown: &str,
        mut nested: Nested,
    ) -> Result<(), IngestError> {
        let at_start = |e: std::io::Error| told(&e, shown, 1);
        nested.containers += 1;
        match kind {
            Kind::Gzip => {
                let text = squeezed::gzip(stored, &self.tally);
                self.stream(Box::new(text), shown, nested)
            }
            Kind::Zstd => {
                let text = squeezed::zstd(stored, &self.tally).map_err(at_start)?;
                self.stream(Box::new(text), shown, nested)
            }
            Kind::Arrow(is_file) => {
                let table = columnar::arrow(stored, is_file).map_err(at_start)?;
                self.table(table, "arrow", shown)
            }
            Kind::Text | Kind::Zip | Kind::Parquet => {
                let found = text::look(head, head.len() < HEAD);
                let mark = [[].as_slice(), &[], &[], b"\xEF\xBB\xBF"][found.mark];
                let as_stored =
                    (found.is_untouched() && nested.containers == 1 && self.tally.stored < u64::MAX).then_some(mark);
                let text = text::open(found, stored).map_err(at_start)?;
                let opened = Opened {
                    shown: shown.to_string(),
                    sheet: None,
                    is_hidden: false,
                    encoding: found.encoding,
                    typed: false,
                    left_out: Vec::new(),
                    as_stored: as_stored.filter(|_| self.hashing == Hashing::Caller),
                    text,
                };
                self.hand_out(opened)
            }
        }
    }

    /// What is read from any place.
    fn at_any_place(&mut self, kind: Kind, base: Base<'_>, shown: &str, mut nested: Nested) -> Result<(), IngestError> {
        let at_start = |e: std::io::Error| told(&e, shown, 1);
        nested.containers += 1;
        if kind == Kind::Parquet {
            let stored = match base {
                Base::Bytes(bytes) => Stored::Bytes(bytes::Bytes::copy_from_slice(bytes)),
                Base::File(file, len) => Stored::File(Arc::new(Mutex::new(file.try_clone().map_err(at_start)?)), len),
            };
            self.tally.read.fetch_max(base.len(), Relaxed);
            let table = columnar::parquet(stored).map_err(at_start)?;
            return self.table(table, "parquet", shown);
        }
        let directory = zip::directory(base).map_err(at_start)?;
        match workbook::is_one(&directory.members) {
            Some(Office::Workbook) if directory.cut_off => Err(cut_off(shown, "workbook", base.len())),
            Some(Office::Workbook) => {
                let book = Workbook::open(base, directory.members, &self.tally).map_err(at_start)?;
                self.sheets(&book, shown)
            }
            Some(Office::BinaryWorkbook) => {
                Err(refused(shown, "a binary workbook (.xlsb)", "save it as an .xlsx workbook or export it as CSV"))
            }
            Some(Office::OpenDocument) => {
                Err(refused(shown, "an OpenDocument file", "save it as an .xlsx workbook or export it as CSV"))
            }
            Some(Office::Other) => Err(refused(shown, "a text document or slides", "export the readings as CSV")),
            None => self.members(base, directory, shown, nested),
        }
    }

    fn members(
        &mut self,
        base: Base<'_>,
        directory: zip::Directory,
        shown: &str,
        mut nested: Nested,
    ) -> Result<(), IngestError> {
        nested.archives += 1;
        if nested.archives > ARCHIVES {
            return Err(IngestError::TooDeep { path: shown.to_string() });
        }
        let mut members = directory.members;
        members.retain(|m| !zip::is_by_the_way(&m.name));
        members.sort_by(|a, b| a.name.cmp(&b.name));
        if members.is_empty() && !directory.cut_off {
            return Err(refused(shown, "an archive without a file in it", "pack the exports into it"));
        }
        let before = self.outcome.lost.len();
        for member in &members {
            let shown = format!("{shown}/{}", member.name.trim_start_matches('/'));
            let read = self.member(base, member, &shown, nested);
            self.unless_lost(&shown, read)?;
        }
        let told_already = self.outcome.lost[before..].iter().any(|l| matches!(l.why, IngestError::CutOff { .. }));
        if directory.cut_off && !told_already {
            let why = cut_off(shown, zip::WHAT, base.len());
            self.outcome.lost.push(Lost { shown: shown.to_string(), why });
        }
        Ok(())
    }

    fn member(&mut self, base: Base<'_>, member: &zip::Member, shown: &str, nested: Nested) -> Result<(), IngestError> {
        if member.is_locked {
            return Err(IngestError::Locked { path: shown.to_string() });
        }
        let stream = zip::open(base, member, &self.tally).map_err(|e| told(&e, shown, 1))?;
        match stream {
            Ok(stream) => self.stream(stream, shown, nested),
            Err(packed) => Err(IngestError::NotAnExport {
                path: shown.to_string(),
                what: packed,
                help: "pack it again as a plain zip (deflate)",
            }),
        }
    }

    fn sheets(&mut self, book: &Workbook<'_>, shown: &str) -> Result<(), IngestError> {
        if book.sheets.is_empty() {
            return Err(refused(shown, "a workbook without a sheet of cells", "export the readings as CSV"));
        }
        for sheet in &book.sheets {
            let shown = format!("{shown}/{}", sheet.name);
            let read = self.sheet(book, sheet, &shown);
            self.unless_lost(&shown, read)?;
        }
        Ok(())
    }

    fn sheet(&mut self, book: &Workbook<'_>, sheet: &workbook::Sheet, shown: &str) -> Result<(), IngestError> {
        let Some(document) = book.cells(sheet).map_err(|e| told(&e, shown, 1))? else {
            return Err(IngestError::Damaged {
                path: shown.to_string(),
                what: "workbook",
                at: 0,
                why: "the sheet is missing".into(),
            });
        };
        let mut rows = sheet::Rows::new(document, book, &sheet.name);
        let made = cells::Made::new(move |out: &mut Vec<u8>| rows.more(out));
        self.hand_out(Opened {
            shown: shown.to_string(),
            sheet: Some(sheet.name.clone()),
            is_hidden: sheet.is_hidden,
            encoding: "workbook",
            typed: true,
            left_out: Vec::new(),
            as_stored: None,
            text: Box::new(Watched { inner: made, what: "workbook", tally: self.tally.clone() }),
        })
    }

    fn table(&mut self, table: columnar::Opened<'_>, encoding: &'static str, shown: &str) -> Result<(), IngestError> {
        self.hand_out(Opened {
            shown: shown.to_string(),
            sheet: None,
            is_hidden: false,
            encoding,
            typed: true,
            left_out: table.left_out,
            as_stored: None,
            text: Box::new(Watched { inner: table.text, what: encoding, tally: self.tally.clone() }),
        })
    }

    fn hand_out(&mut self, opened: Opened<'_>) -> Result<(), IngestError> {
        self.outcome.texts += 1;
        (self.see)(opened)
    }

    /// A lost member is noted, and the others are read, unless the person must decide.
    fn unless_lost(&mut self, shown: &str, read: Result<(), IngestError>) -> Result<(), IngestError> {
        match read {
            Err(why) if !why.stops_everything() => self.outcome.lost.push(Lost { shown: shown.to_string(), why }),
            other => return other,
        }
        Ok(())
    }
}

fn cut_off(shown: &str, what: &'static str, at: u64) -> IngestError {
    IngestError::CutOff { path: shown.to_string(), what, at }
}
