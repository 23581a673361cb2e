//! Zip archives: which members there are, and each as a stream.
//!
//! The `zip` crate reads the directory, the headers, deflate and the checksums. Ours is what it does not do: it sets memory
//! aside for as many members as are declared, and it cannot read on without a directory where lengths stand behind the data.
//! Source of the layout: PKWARE, APPNOTE.TXT 6.3.10, sections 4.3 and 4.4.

use super::fault::{Fault, within};
use super::foreign::guarded;
use super::source::{Base, Part, Placed, Tally, Watched};
use ::zip::read::{ArchiveOffset, Config};
use ::zip::result::ZipError;
use ::zip::{CompressionMethod, ZipArchive};
use flate2::bufread::DeflateDecoder;
use std::io::{self, BufReader, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

/// What an archive may hold [-], and its directory [bytes].
const MOST_MEMBERS: u64 = 100_000;
const LONGEST_DIRECTORY: u64 = 16 << 20;
/// A record at the end, with the longest comment [bytes].
const END: usize = 22 + 65_535;
/// Read at once [bytes].
const BLOCK: usize = 16 << 10;
/// No member is unpacked further only to find the next one [bytes].
const SOUGHT: u64 = 2 << 30;
pub(super) const WHAT: &str = "zip archive";

/// A member, as the archive tells of it.
#[derive(Debug, Clone)]
pub(super) struct Member {
    /// To show: forward slashes, no control characters.
    pub name: String,
    pub is_locked: bool,
    method: CompressionMethod,
    at: At,
    /// Where the archive must at least reach to for the member to be whole; `u64::MAX` where nothing tells.
    end: u64,
}

/// Where a member stands.
#[derive(Debug, Clone, Copy)]
enum At {
    /// In the directory.
    Listed(usize),
    /// Its data, where the directory is lost.
    Data(u64),
}

/// An archive, and whether its directory was lost.
pub(super) struct Archive<'a> {
    pub members: Vec<Member>,
    pub cut_off: bool,
    /// Members [-] whose name another has too: only the last of each name can be read.
    pub hidden: usize,
    base: Base<'a>,
    tally: Arc<Tally>,
    listed: Option<ZipArchive<BufReader<Placed<'a>>>>,
}

impl<'a> Archive<'a> {
    pub fn open(base: Base<'a>, tally: &Arc<Tally>) -> io::Result<Self> {
        let mut archive =
            Self { members: Vec::new(), cut_off: false, hidden: 0, base, tally: tally.clone(), listed: None };
        let tail = base.some_at(base.len().saturating_sub(LONGEST_DIRECTORY), LONGEST_DIRECTORY as usize)?;
        let Some(end) = memchr::memmem::rfind(&tail[tail.len().saturating_sub(END)..], b"PK\x05\x06") else {
            (archive.members, archive.cut_off) = (by_headers(base)?, true);
            return Ok(archive);
        };
        let end = tail.len().saturating_sub(END) + end;
        check_declared(base, &tail)?;
        let left = Arc::new(AtomicU64::new(LONGEST_DIRECTORY));
        let placed = Placed { base, at: 0, tally: tally.clone(), left: left.clone() };
        // What starts as an archive has nothing before it.
        let config = Config { archive_offset: ArchiveOffset::Known(0) };
        let placed = BufReader::with_capacity(BLOCK, placed);
        let mut listed = guarded(WHAT, || ZipArchive::with_config(config, placed).map_err(of_crate))?;
        left.store(u64::MAX, Relaxed);
        archive.members = (0..listed.len()).map(|i| of_directory(&mut listed, i)).collect();
        // Beyond 65,534 members the count stands elsewhere.
        let declared = two(&tail, end + 10).filter(|n| *n < u16::MAX).map_or(0, usize::from);
        archive.hidden = declared.saturating_sub(listed.len());
        archive.listed = Some(listed);
        Ok(archive)
    }

    /// A member as a stream; the inner error is how it is packed, where we cannot unpack it.
    pub fn read(&mut self, member: &Member) -> io::Result<Result<Box<dyn Read + Send + '_>, String>> {
        let is_raw = match member.method {
            CompressionMethod::Stored | CompressionMethod::Deflated => false,
            CompressionMethod::ZSTD => true,
            other => return Ok(Err(packed_by(other))),
        };
        let inner: Box<dyn Read + Send + '_> = match (member.at, &mut self.listed) {
            (At::Listed(i), Some(listed)) => {
                let found = if is_raw { listed.by_index_raw(i) } else { listed.by_index(i) };
                Box::new(found.map_err(of_crate)?)
            }
            (At::Listed(_), None) => return Err(of_crate(ZipError::FileNotFound)),
            (At::Data(at), _) => {
                let part = Part { base: self.base, at, end: member.end, tally: self.tally.clone() };
                match member.method {
                    CompressionMethod::Deflated => Box::new(DeflateDecoder::new(BufReader::new(part))),
                    _ => Box::new(part),
                }
            }
        };
        let inner: Box<dyn Read + Send + '_> =
            if is_raw { Box::new(zstd::stream::read::Decoder::new(inner)?) } else { inner };
        let short = member.end > self.base.len() && member.end < u64::MAX;
        let checked = Checked { inner, at: self.base.len(), short };
        Ok(Ok(Box::new(Watched { inner: checked, what: WHAT, tally: self.tally.clone() })))
    }
}

/// A member of the directory; one whose header is not where the directory says fails when it is read.
fn of_directory(listed: &mut ZipArchive<BufReader<Placed<'_>>>, i: usize) -> Member {
    let lost = listed.name_for_index(i).map(as_name).unwrap_or_default();
    let Ok(found) = listed.by_index_raw(i) else {
        return Member { name: lost, is_locked: false, method: CompressionMethod::Stored, at: At::Listed(i), end: 0 };
    };
    let header = 30 + found.name_raw().len() as u64;
    Member {
        // Many write UTF-8 without saying so.
        name: std::str::from_utf8(found.name_raw()).map_or(lost, as_name),
        is_locked: found.encrypted(),
        method: found.compression(),
        at: At::Listed(i),
        end: found.header_start().saturating_add(header).saturating_add(found.compressed_size()),
    }
}

/// Refuses a directory of more members than any, before the crate sets memory aside for them. Fewer than 65,536 need no look.
fn check_declared(base: Base<'_>, tail: &[u8]) -> io::Result<()> {
    let eight = |bytes: &[u8], at: usize| bytes.get(at..)?.first_chunk().map(|b| u64::from_le_bytes(*b));
    for locator in memchr::memmem::find_iter(tail, b"PK\x06\x07") {
        let Some(at) = eight(tail, locator + 8) else { continue };
        let record = base.some_at(at.min(base.len()), 56)?;
        let (Some(longer), Some(members)) = (eight(&record, 4), eight(&record, 32)) else { continue };
        if record.starts_with(b"PK\x06\x06") && (members > MOST_MEMBERS || longer > LONGEST_DIRECTORY) {
            return Err(damaged(at, &format!("it lists {members} files, more than {MOST_MEMBERS}")));
        }
    }
    Ok(())
}

/// The members of an archive without a directory, by their own headers.
fn by_headers(base: Base<'_>) -> io::Result<Vec<Member>> {
    let (mut members, mut from) = (Vec::new(), 0_u64);
    while (members.len() as u64) < MOST_MEMBERS {
        let header = base.some_at(from, 30)?;
        let four = |at: usize| header.get(at..)?.first_chunk().map(|b| u32::from_le_bytes(*b));
        let (Some(flags), Some(method), Some(packed)) = (two(&header, 6), two(&header, 8), four(18)) else { break };
        let (Some(name), Some(extra)) = (two(&header, 26), two(&header, 28)) else { break };
        let name = base.some_at(from + 30, usize::from(name))?;
        if !header.starts_with(b"PK\x03\x04") || name.is_empty() {
            break;
        }
        let data = from + 30 + name.len() as u64 + u64::from(extra);
        #[allow(deprecated, reason = "the crate has no other way from a number to a method")]
        let method = CompressionMethod::from_u16(method);
        let open_ended = flags & 8 != 0 || packed == u32::MAX;
        let end = if open_ended { behind(base, data, method)? } else { Some(data + u64::from(packed)) };
        members.push(Member {
            name: as_name(&String::from_utf8_lossy(&name)),
            is_locked: flags & 1 != 0,
            method,
            at: At::Data(data),
            end: end.unwrap_or(u64::MAX),
        });
        match end {
            Some(end) => from = end,
            None => break,
        }
    }
    Ok(members)
}

/// Where the next header stands after a member whose length is told behind it.
fn behind(base: Base<'_>, data: u64, method: CompressionMethod) -> io::Result<Option<u64>> {
    if method != CompressionMethod::Deflated {
        return Ok(None);
    }
    let part = Part { base, at: data, end: u64::MAX, tally: Arc::default() };
    let mut inflated = DeflateDecoder::new(BufReader::new(part));
    if !io::copy(&mut inflated.by_ref().take(SOUGHT), &mut io::sink()).is_ok_and(|n| n < SOUGHT) {
        return Ok(None);
    }
    let end = data + inflated.total_in();
    let after = base.some_at(end, 28)?;
    // With or without its signature, with sizes of four or eight bytes.
    Ok([16, 12, 24, 20].into_iter().find(|n| after.get(*n..n + 4) == Some(b"PK\x03\x04")).map(|n| end + n as u64))
}

/// A member's stream with what the crate says of it in our words.
struct Checked<'a> {
    inner: Box<dyn Read + Send + 'a>,
    /// Length of the archive [bytes].
    at: u64,
    /// The archive ends before the member does.
    short: bool,
}

impl Read for Checked<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        match self.inner.read(into) {
            Ok(0) if self.short && !into.is_empty() => Err(Fault::CutOff { what: WHAT, at: self.at }.into()),
            Err(e) if within(&e).is_none() && e.to_string() == "Invalid checksum" => Err(if self.short {
                Fault::CutOff { what: WHAT, at: self.at }.into()
            } else {
                io::Error::other("the content of a file in it was changed or cut")
            }),
            other => other,
        }
    }
}

/// Whether a member's name leads out of the archive's own folder: up, from the root, or from a drive.
pub(super) fn climbs(name: &str) -> bool {
    let drive =
        name.as_bytes().first_chunk().is_some_and(|[letter, colon]| letter.is_ascii_alphabetic() && *colon == b':');
    name.starts_with('/') || drive || name.split('/').any(|step| step == "..")
}

/// Whether a member's name is one that file managers leave behind, or a folder.
pub(super) fn is_by_the_way(name: &str) -> bool {
    name.ends_with('/')
        || name.split('/').any(|p| (p.starts_with('.') && p != "." && p != "..") || p == "__MACOSX")
        || ["thumbs.db", "desktop.ini"].contains(&name.rsplit('/').next().unwrap_or_default().to_lowercase().as_str())
}

fn packed_by(method: CompressionMethod) -> String {
    let known = match method {
        CompressionMethod::DEFLATE64 => "deflate64",
        CompressionMethod::BZIP2 => "bzip2",
        CompressionMethod::LZMA => "LZMA",
        CompressionMethod::XZ => "xz",
        CompressionMethod::PPMD => "PPMd",
        _ => "a method that is not read here",
    };
    format!("packed with {known}")
}

/// What the crate says of an archive, in our words.
fn of_crate(error: ZipError) -> io::Error {
    match error {
        ZipError::Io(e) => e,
        ZipError::UnsupportedArchive(_) => {
            damaged(0, "it is one of several parts, or packed in a way that is not read here")
        }
        _ => damaged(0, "its directory is broken, or a member is not where the directory says"),
    }
}

fn damaged(at: u64, why: &str) -> io::Error {
    Fault::Damaged { what: WHAT, at, why: why.to_string() }.into()
}

fn two(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..)?.first_chunk().map(|b| u16::from_le_bytes(*b))
}

fn as_name(name: &str) -> String {
    name.chars()
        .map(|c| {
            if c == '\\' {
                '/'
            } else if c.is_control() {
                '?'
            } else {
                c
            }
        })
        .collect()
}
