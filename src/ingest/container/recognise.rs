//! What a file is, from its first bytes: never from its name.

use crate::ingest::IngestError;

/// Bytes that settle it.
pub(super) const HEAD: usize = 64 << 10;

/// What can be opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Text,
    Gzip,
    Zstd,
    /// Zip archives and workbooks.
    Zip,
    Parquet,
    /// Arrow IPC; true for the file format, false for the stream.
    Arrow(bool),
}

const AS_CSV: &str = "export the readings as CSV";
const AS_BOOK: &str = "save it as an .xlsx workbook or export it as CSV";
const UNPACK: &str = "unpack it, or pack it as zip, gzip or zstd";

/// Starts of files that hold no readings or cannot be read: what they are, and what would help.
const REFUSED: [(&[u8], &str, &str); 34] = [
    (b"%PDF", "a PDF document", AS_CSV),
    (b"\x89PNG\r\n", "a picture (PNG)", AS_CSV),
    (b"\xFF\xD8\xFF", "a picture (JPEG)", AS_CSV),
    (b"GIF8", "a picture (GIF)", AS_CSV),
    (b"II*\0", "a picture (TIFF)", AS_CSV),
    (b"MM\0*", "a picture (TIFF)", AS_CSV),
    (b"\0\0\x01\0", "a picture (icon)", AS_CSV),
    (b"MZ", "a program", AS_CSV),
    (b"\x7FELF", "a program", AS_CSV),
    (b"\xCF\xFA\xED\xFE", "a program", AS_CSV),
    (b"\xCA\xFE\xBA\xBE", "a program", AS_CSV),
    (b"SQLite format 3\0", "a database file (SQLite)", "export the table of readings as CSV"),
    (b"\0\x01\0\0Standard Jet DB", "a database file (Access)", "export the table of readings as CSV"),
    (b"\0\x01\0\0Standard ACE DB", "a database file (Access)", "export the table of readings as CSV"),
    (b"\x01\x0F\0\0", "a database file (SQL Server)", "export the table of readings as CSV"),
    (b"\x89HDF\r\n", "an HDF5 file", AS_CSV),
    (b"MATLAB 5.0", "a MATLAB file", AS_CSV),
    (b"CDF\x01", "a NetCDF file", AS_CSV),
    (b"CDF\x02", "a NetCDF file", AS_CSV),
    (b"Obj\x01", "an Avro file", "export as CSV or Parquet"),
    (b"ORC", "an ORC file", "export as CSV or Parquet"),
    (b"PARE", "an encrypted Parquet file", "export it without encryption"),
    (b"FEA1", "a Feather file of version 1", "write it as Feather version 2, Parquet or CSV"),
    (b"\x93NUMPY", "a NumPy array", AS_CSV),
    (b"{\\rtf", "a text document (RTF)", AS_CSV),
    (b"%!PS", "a print file (PostScript)", AS_CSV),
    (b"BZh", "packed with bzip2", UNPACK),
    (b"\xFD7zXZ\0", "packed with xz", UNPACK),
    (b"7z\xBC\xAF\x27\x1C", "a 7z archive", UNPACK),
    (b"Rar!\x1A\x07", "a RAR archive", UNPACK),
    (b"\x04\x22\x4D\x18", "packed with LZ4", UNPACK),
    (b"\x1F\x9D", "packed with compress", UNPACK),
    (b"\xFF\xFE\0\0", "text in UTF-32", "save it in UTF-8"),
    (b"\0\0\xFE\xFF", "text in UTF-32", "save it in UTF-8"),
];

/// An old compound file: a binary workbook, or a workbook behind a password.
const COMPOUND: &[u8] = b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1";
/// Binary workbooks older than that: BIFF 2 to 4.
const BIFF: [&[u8]; 3] = [b"\x09\0\x04\0", b"\x09\x02\x06\0", b"\x09\x04\x06\0"];

/// What starts with these bytes.
pub(super) fn recognise(head: &[u8], shown: &str) -> Result<Kind, IngestError> {
    if head.is_empty() {
        return Err(IngestError::Empty { path: shown.to_string() });
    }
    let starts = |with: &[u8]| head.starts_with(with);
    if starts(b"\x1F\x8B") {
        return Ok(Kind::Gzip);
    }
    if starts(b"\x28\xB5\x2F\xFD") || (head.len() > 4 && head[0] & 0xF0 == 0x50 && head[1..4] == *b"\x2A\x4D\x18") {
        return Ok(Kind::Zstd);
    }
    if starts(b"PK\x03\x04") || starts(b"PK\x05\x06") || starts(b"PK\x07\x08") {
        return Ok(Kind::Zip);
    }
    if starts(b"PAR1") {
        return Ok(Kind::Parquet);
    }
    if starts(b"ARROW1\0\0") {
        return Ok(Kind::Arrow(true));
    }
    if starts(b"\xFF\xFF\xFF\xFF") && head.len() > 12 && head[6..8] == [0, 0] {
        return Ok(Kind::Arrow(false));
    }
    if starts(COMPOUND) {
        return Err(compound(head, shown));
    }
    if BIFF.iter().any(|b| starts(b)) {
        return Err(refused(shown, "an old binary workbook (.xls)", AS_BOOK));
    }
    if let Some((_, what, help)) = REFUSED.iter().find(|(magic, _, _)| starts(magic)) {
        return Err(refused(shown, what, help));
    }
    if head.get(257..262) == Some(b"ustar") {
        return Err(refused(shown, "a tar archive", "unpack it, or pack the files as zip"));
    }
    match markup(head) {
        Some((what, help)) => Err(refused(shown, what, help)),
        None => Ok(Kind::Text),
    }
}

/// Refused by name.
pub(super) fn refused(shown: &str, what: &str, help: &'static str) -> IngestError {
    IngestError::NotAnExport { path: shown.to_string(), what: what.to_string(), help }
}

fn compound(head: &[u8], shown: &str) -> IngestError {
    let wide = |s: &str| s.bytes().flat_map(|b| [b, 0]).collect::<Vec<_>>();
    if memchr::memmem::find(head, &wide("EncryptedPackage")).is_some() {
        return IngestError::Locked { path: shown.to_string() };
    }
    if memchr::memmem::find(head, &wide("WordDocument")).is_some() {
        return refused(shown, "a text document (.doc)", AS_CSV);
    }
    refused(shown, "an old binary workbook (.xls) or another office file of that age", AS_BOOK)
}

/// Web pages, spreadsheets as XML and JSON are text, but no table of lines.
fn markup(head: &[u8]) -> Option<(&'static str, &'static str)> {
    let head = head.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(head).trim_ascii_start();
    let start = head[..head.len().min(4096)].to_ascii_lowercase();
    let has = |what: &str| memchr::memmem::find(&start, what.as_bytes()).is_some();
    if ["<!doctype html", "<html", "<table", "<head", "<body", "<meta"].iter().any(|t| start.starts_with(t.as_bytes()))
    {
        return Some(("a web page (HTML), whatever its name says", AS_BOOK));
    }
    if start.starts_with(b"<?xml") || start.starts_with(b"<!--") {
        return Some(if has("office:spreadsheet") {
            ("a workbook written as XML", AS_BOOK)
        } else if has("<html") {
            ("a web page (HTML), whatever its name says", AS_BOOK)
        } else {
            ("an XML document", AS_CSV)
        });
    }
    let dense: Vec<u8> = start.iter().copied().filter(|b| !b.is_ascii_whitespace()).take(2).collect();
    match dense.as_slice() {
        b"{\"" | b"[{" | b"[[" => Some(("a JSON document", AS_CSV)),
        _ => None,
    }
}
