//! What goes wrong while a text is being read out of its container, carried through `std::io::Error`.
//!
//! A text is a `Read`, so its faults travel as I/O errors. [`told`] turns one into words once the reader knows its line.

use crate::ingest::IngestError;
use std::fmt;
use std::io;

/// Why a text stops before its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Fault {
    /// The operating system refused.
    System(String),
    /// A byte of value 0 in what should be text: the bytes before it have been handed out.
    Nul,
    /// The file ends inside a compressed stream or table. `at`: bytes of the file that there are.
    CutOff { what: &'static str, at: u64 },
    /// The bytes contradict their format. `at`: near which byte of the file.
    Damaged { what: &'static str, at: u64, why: String },
    /// Expands beyond what an export does.
    Swells { written: u64, read: u64 },
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self:?}")
    }
}
impl std::error::Error for Fault {}

impl From<Fault> for io::Error {
    fn from(fault: Fault) -> Self {
        io::Error::other(fault)
    }
}

/// The fault inside an I/O error, if it is one of ours.
pub(super) fn within(error: &io::Error) -> Option<&Fault> {
    error.get_ref()?.downcast_ref()
}

/// An error of a foreign decoder as a fault; one that already is stays.
pub(super) fn of_decoder(error: io::Error, what: &'static str, at: u64) -> io::Error {
    if within(&error).is_some() || error.kind() == io::ErrorKind::Interrupted {
        return error;
    }
    if error.kind() == io::ErrorKind::UnexpectedEof {
        return Fault::CutOff { what, at }.into();
    }
    Fault::Damaged { what, at, why: error.to_string() }.into()
}

/// Why the operating system gave no file, without its numbers.
pub fn in_words(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file".to_owned(),
        io::ErrorKind::PermissionDenied => "this user may not read it".to_owned(),
        io::ErrorKind::IsADirectory => "it is a folder".to_owned(),
        kind => format!("the system says: {kind}"),
    }
}

/// A fault while a text was read, in words. `line` [-]: the line that was being read, from 1.
#[must_use]
pub fn told(error: &io::Error, shown: &str, line: u64) -> IngestError {
    let path = shown.to_string();
    match within(error) {
        None => IngestError::Unreadable { path, why: in_words(error) },
        Some(Fault::System(why)) => IngestError::Unreadable { path, why: why.clone() },
        Some(Fault::Nul) => IngestError::NotText { path, line, what: "a byte of value 0" },
        Some(Fault::CutOff { what, at }) => IngestError::CutOff { path, what, at: *at },
        Some(Fault::Damaged { what, at, why }) => IngestError::Damaged { path, what, at: *at, why: why.clone() },
        Some(Fault::Swells { written, read }) => IngestError::Swells { path, written: *written, read: *read },
    }
}
