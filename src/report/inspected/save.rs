//! A file that was asked for by name.

use super::super::error::ReportError;
use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::Path;

/// Writes it; `over`: also where there is one already.
///
/// # Errors
/// Where it cannot be written, or is there and may not be written over.
pub fn save(path: &Path, bytes: &[u8], over: bool) -> Result<(), ReportError> {
    let mut options = OpenOptions::new();
    options.write(true);
    if over {
        options.create(true).truncate(true);
    } else {
        options.create_new(true);
    }
    let written = options.open(path).and_then(|mut file| file.write_all(bytes));
    written.map_err(|e| match e.kind() {
        ErrorKind::AlreadyExists => ReportError::File {
            path: path.to_owned(),
            what: "write the file",
            why: "there is one already".to_owned(),
            hint: "name another file, or move that one away",
        },
        _ => ReportError::file(path, "write the file", &e),
    })
}
