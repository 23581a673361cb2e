//! Why a report could not be written.

use std::{io, path::PathBuf};

/// A report that could not be written.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// A file or folder could not be made, written or moved.
    #[error("{}: could not {what}: {why}\nhint: {hint}", path.display())]
    File { path: PathBuf, what: &'static str, why: String, hint: &'static str },
    /// The folder holds results of another plant file.
    #[error(
        "{}: holds results of another plant file, {}, and two plants cannot share a folder\nhint: write somewhere else with --out FOLDER",
        folder.display(),
        theirs.display()
    )]
    Shared { folder: PathBuf, theirs: PathBuf },
    /// Rows could not be put into a table; a defect of this program.
    #[error("{name}: {why}\nhint: this is a defect of offcurve, not of your data; please report it")]
    Table { name: &'static str, why: String },
}

impl ReportError {
    /// A file error in plain words.
    pub(super) fn file(path: impl Into<PathBuf>, what: &'static str, error: &io::Error) -> Self {
        let (why, hint) = in_words(error);
        Self::File { path: path.into(), what, why, hint }
    }
}

/// What an input or output error means, and what to do about it.
fn in_words(error: &io::Error) -> (String, &'static str) {
    let elsewhere = "write somewhere else with --out FOLDER";
    let (why, hint) = match error.kind() {
        io::ErrorKind::NotFound => ("it does not exist", elsewhere),
        io::ErrorKind::PermissionDenied => ("no permission", elsewhere),
        io::ErrorKind::AlreadyExists | io::ErrorKind::NotADirectory => {
            ("a file stands where a folder should", elsewhere)
        }
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
            ("no space is left on the disk", "free some space, or use --out FOLDER on another disk")
        }
        io::ErrorKind::ReadOnlyFilesystem => ("the disk is read-only", elsewhere),
        _ => return (format!("the system refused (code {})", error.raw_os_error().unwrap_or(0)), elsewhere),
    };
    (why.to_owned(), hint)
}
