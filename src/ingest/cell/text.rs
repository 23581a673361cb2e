//! Bytes of a cell to text.

use std::borrow::Cow;

/// What Windows-1252 means by the bytes 0x80 to 0x9f, as the table of the WHATWG Encoding Standard ("index windows-1252") has it: bytes that
/// the code page leaves free stand for the control characters of the same number. All other bytes are those of ISO 8859-1.
const WINDOWS_1252: [char; 32] = [
    '€', '\u{81}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{8d}', 'Ž', '\u{8f}', '\u{90}', '‘', '’',
    '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{9d}', 'ž', 'Ÿ',
];

/// Text of a cell: UTF-8, or else Windows-1252, so that a stray degree sign loses nothing.
#[must_use]
pub fn text(bytes: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(s) => Cow::Borrowed(s),
        Err(_) => Cow::Owned(bytes.iter().map(|b| from_windows_1252(*b)).collect()),
    }
}

fn from_windows_1252(byte: u8) -> char {
    WINDOWS_1252.get(usize::from(byte).wrapping_sub(0x80)).copied().unwrap_or(char::from(byte))
}
