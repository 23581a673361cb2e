//! Archives, workbooks and squeezed texts, through the one way into all of them.
//!
//! The first byte says how the rest is packed before it is read, so that what lies behind checksums and compression is reached too:
//! `Z` a zip of the parts that start with a line `--- NAME`, stored as they are (a workbook, where the names are a workbook's);
//! `D` the same, deflated; `G` gzip; `S` Zstandard; anything else: as it is.

use flate2::Compression;
use flate2::write::{DeflateEncoder, GzEncoder};
use offcurve::ingest::IngestError;
use offcurve::ingest::container::{Hashing, Opened, Outcome, each_text_of, told};
use std::io::{Read, Write};

/// Starts a line that names the next part.
const PART: &[u8] = b"--- ";
/// More of a text is not looked at [bytes].
const ENOUGH: u64 = 8 << 20;

/// Opens a file and asserts what holds of every one.
pub fn check(bytes: &[u8]) {
    let Some((how, rest)) = bytes.split_first() else { return };
    let file = match how {
        b'Z' => zipped(&parts(rest), false),
        b'D' => zipped(&parts(rest), true),
        b'G' => squeezed(GzEncoder::new(Vec::new(), Compression::fast()), rest, GzEncoder::finish),
        b'S' => zstd::encode_all(rest, 1).expect("memory takes every byte"),
        _ => rest.to_vec(),
    };
    let mut texts = 0;
    let outcome = each_text_of(&file, "t/f", Hashing::Here, &mut |opened| {
        texts += 1;
        read(opened)
    });
    match outcome {
        Ok(outcome) => accounted(&outcome, &file, texts),
        Err(error) => says(&error),
    }
}

/// Its head says what it is; what comes out of a typed one is text, and a fault is told.
fn read(opened: Opened<'_>) -> Result<(), IngestError> {
    let Opened { shown, typed, encoding, text, left_out, .. } = opened;
    assert!(shown.starts_with("t/f") && !encoding.is_empty(), "{shown}: {encoding}");
    assert!(left_out.iter().all(|(_, why)| !why.is_empty()));
    let mut all = Vec::new();
    let fault = text.take(ENOUGH).read_to_end(&mut all).err();
    if typed && fault.is_none() && (all.len() as u64) < ENOUGH {
        assert!(std::str::from_utf8(&all).is_ok(), "a typed text is UTF-8");
    }
    assert!(!all.contains(&0), "a byte of value 0 in a text");
    let line = 1 + all.iter().filter(|b| **b == b'\n').count() as u64;
    fault.map_or(Ok(()), |e| Err(told(&e, &shown, line)))
}

fn accounted(outcome: &Outcome, file: &[u8], texts: usize) {
    assert_eq!((outcome.bytes, outcome.texts), (file.len() as u64, texts));
    let print = outcome.sha256.as_deref().unwrap_or_default();
    assert!(print.len() == 64 && print.bytes().all(|b| b.is_ascii_hexdigit()), "{print}");
    for lost in &outcome.lost {
        assert!(lost.shown.starts_with("t/f"), "{}", lost.shown);
        says(&lost.why);
    }
}

fn says(error: &IngestError) {
    assert!(error.to_string().contains("t/f"), "{error:?} names no file");
}

// ---- packing ----

/// Names and contents.
fn parts(spec: &[u8]) -> Vec<(&[u8], &[u8])> {
    let mut found: Vec<(&[u8], &[u8])> = Vec::new();
    let (mut rest, mut at_line) = (spec, 0);
    while let Some(start) = next_part(&rest[at_line..]).map(|n| n + at_line) {
        if let Some(last) = found.last_mut() {
            last.1 = &rest[..start];
        }
        let behind = &rest[start + PART.len()..];
        let end = behind.iter().position(|b| *b == b'\n').unwrap_or(behind.len());
        rest = behind.get(end + 1..).unwrap_or_default();
        found.push((&behind[..end], rest));
        at_line = 0;
    }
    found
}

/// Where the next line that names a part starts.
fn next_part(text: &[u8]) -> Option<usize> {
    if text.starts_with(PART) {
        return Some(0);
    }
    text.windows(PART.len() + 1).position(|w| w[0] == b'\n' && &w[1..] == PART).map(|n| n + 1)
}

fn squeezed<W>(mut pack: W, bytes: &[u8], finish: impl FnOnce(W) -> std::io::Result<Vec<u8>>) -> Vec<u8>
where
    W: Write,
{
    pack.write_all(bytes).and_then(|()| finish(pack)).expect("memory takes every byte")
}

/// An archive as APPNOTE 6.3.9 lays it out: each member behind its header (4.3.7), then the directory (4.3.12) and its end (4.3.16).
fn zipped(members: &[(&[u8], &[u8])], deflated: bool) -> Vec<u8> {
    let (mut out, mut directory) = (Vec::new(), Vec::new());
    let four = |n: usize| u32::try_from(n).expect("inputs are small").to_le_bytes();
    let two = |n: usize| u16::try_from(n).unwrap_or(u16::MAX).to_le_bytes();
    for (name, content) in members {
        let name = &name[..name.len().min(usize::from(u16::MAX))];
        let packed = if deflated {
            squeezed(DeflateEncoder::new(Vec::new(), Compression::fast()), content, DeflateEncoder::finish)
        } else {
            content.to_vec()
        };
        let mut crc = flate2::Crc::new();
        crc.update(content);
        let at = out.len();
        let mut about = vec![20, 0, 0, 8, if deflated { 8 } else { 0 }, 0, 0, 0, 0, 0];
        about.extend(crc.sum().to_le_bytes());
        about.extend(four(packed.len()));
        about.extend(four(content.len()));
        about.extend(two(name.len()));
        about.extend([0, 0]);
        out.extend(b"PK\x03\x04");
        out.extend(&about);
        out.extend(name);
        out.extend(packed);
        directory.extend(b"PK\x01\x02\x14\0");
        directory.extend(&about);
        directory.extend([0; 10]);
        directory.extend(four(at));
        directory.extend(name);
    }
    let at = out.len();
    out.extend(&directory);
    out.extend(b"PK\x05\x06\0\0\0\0");
    out.extend(two(members.len()));
    out.extend(two(members.len()));
    out.extend(four(directory.len()));
    out.extend(four(at));
    out.extend([0, 0]);
    out
}
