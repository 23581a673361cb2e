//! A line parted into cells, quotes taken off.

use std::borrow::Cow;

/// The cell that starts at `at`, without its quotes, and where the next one starts (`None` at the line's end).
///
/// A quote closes at the latest at the line's end: a line end inside quotes is not supported.
#[must_use]
pub fn cell_at(line: &[u8], at: usize, delimiter: u8) -> (Cow<'_, [u8]>, Option<usize>) {
    let rest = line.get(at..).unwrap_or_default();
    if rest.first() != Some(&b'"') {
        return match memchr::memchr(delimiter, rest) {
            Some(n) => (Cow::Borrowed(&rest[..n]), Some(at + n + 1)),
            None => (Cow::Borrowed(rest), None),
        };
    }
    let mut close = 1;
    let mut doubled = false;
    while let Some(n) = memchr::memchr(b'"', rest.get(close..).unwrap_or_default()) {
        close += n;
        if rest.get(close + 1) != Some(&b'"') {
            break;
        }
        doubled = true;
        close += 2;
    }
    let inside_end = if rest.get(close) == Some(&b'"') { close } else { rest.len() };
    let inside = rest.get(1..inside_end).unwrap_or_default();
    let next = memchr::memchr(delimiter, rest.get(inside_end..).unwrap_or_default()).map(|n| at + inside_end + n + 1);
    if !doubled {
        return (Cow::Borrowed(inside), next);
    }
    let mut plain = Vec::with_capacity(inside.len());
    let mut skip = false;
    for &b in inside {
        skip = b == b'"' && !skip;
        if !skip {
            plain.push(b);
        }
    }
    (Cow::Owned(plain), next)
}

/// All cells of a line.
#[must_use]
pub fn cells(line: &[u8], delimiter: u8) -> Vec<Cow<'_, [u8]>> {
    let mut all = Vec::new();
    let mut at = Some(0);
    while let Some(here) = at {
        let (cell, next) = cell_at(line, here, delimiter);
        all.push(cell);
        at = next;
    }
    all
}
