//! Zip archives: the directory, and each member as a stream.
//!
//! Names are only names: nothing is written anywhere. Source of the layout: PKWARE, APPNOTE.TXT 6.3.10, sections 4.3 and 4.4.
//! An archive that was cut off has lost its directory; its members are then found by their own headers, from the front.

use super::fault::Fault;
use super::source::{Base, Part, Tally, Watched};
use flate2::bufread::DeflateDecoder;
use std::io::{self, BufReader, Read};
use std::sync::Arc;

/// What an archive may hold [-], and its directory [bytes].
const MOST_MEMBERS: usize = 100_000;
const LONGEST_DIRECTORY: u64 = 64 << 20;
pub(super) const WHAT: &str = "zip archive";

/// A member, as the directory tells of it.
#[derive(Debug, Clone, Default)]
pub(super) struct Member {
    pub name: String,
    pub method: u16,
    pub is_locked: bool,
    /// Sizes and checksum stand behind the data only.
    open_ended: bool,
    crc: u32,
    packed: u64,
    size: u64,
    header_at: u64,
}

/// The members, and whether the directory was lost.
pub(super) struct Directory {
    pub members: Vec<Member>,
    pub cut_off: bool,
}

/// The directory of an archive.
pub(super) fn directory(base: Base<'_>) -> io::Result<Directory> {
    match find_end(base)? {
        Some(end) => Ok(Directory { members: listed(base, &end)?, cut_off: false }),
        None => Ok(Directory { members: by_headers(base)?, cut_off: true }),
    }
}

/// A member as a stream.
pub(super) fn open<'a>(
    base: Base<'a>,
    member: &Member,
    tally: &Arc<Tally>,
) -> io::Result<Result<Box<dyn Read + Send + 'a>, String>> {
    let header = base.some_at(member.header_at, 30)?;
    if header.len() < 30 || header[..4] != *b"PK\x03\x04" {
        return Err(damaged(member.header_at, "a member's header is not where the directory says"));
    }
    let at = member.header_at + 30 + u64::from(two(&header, 26)) + u64::from(two(&header, 28));
    let packed = Part { base, at, end: at.saturating_add(member.packed), tally: tally.clone() };
    let short = at.saturating_add(member.packed) > base.len() && !member.open_ended;
    let inner: Box<dyn Read + Send + 'a> = match member.method {
        0 => Box::new(packed),
        8 => Box::new(DeflateDecoder::new(BufReader::with_capacity(1 << 16, packed))),
        93 => Box::new(zstd::stream::read::Decoder::new(packed)?),
        other => return Ok(Err(method_name(other))),
    };
    let checked = Checked {
        inner,
        crc: flate2::Crc::new(),
        wanted: (!member.open_ended).then_some((member.crc, member.size)),
        size: 0,
        at: base.len(),
        short,
    };
    Ok(Ok(Box::new(Watched { inner: checked, what: WHAT, tally: tally.clone() })))
}

fn method_name(method: u16) -> String {
    match method {
        9 => "packed with deflate64".to_string(),
        12 => "packed with bzip2".to_string(),
        14 => "packed with LZMA".to_string(),
        95 => "packed with xz".to_string(),
        98 => "packed with PPMd".to_string(),
        other => format!("packed by method {other}"),
    }
}

/// Whether a member's name is one that file managers leave behind, or a folder.
pub(super) fn is_by_the_way(name: &str) -> bool {
    name.ends_with('/')
        || name.split('/').any(|p| (p.starts_with('.') && p != "." && p != "..") || p == "__MACOSX")
        || ["thumbs.db", "desktop.ini"].contains(&name.rsplit('/').next().unwrap_or_default().to_lowercase().as_str())
}

/// Holds a member to the size and checksum that the directory tells.
struct Checked<'a> {
    inner: Box<dyn Read + Send + 'a>,
    crc: flate2::Crc,
    wanted: Option<(u32, u64)>,
    size: u64,
    at: u64,
    /// The archive ends before the member does.
    short: bool,
}

impl Read for Checked<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let n = self.inner.read(into)?;
        self.crc.update(&into[..n]);
        self.size += n as u64;
        if n > 0 || into.is_empty() {
            return Ok(n);
        }
        match self.wanted {
            Some(_) if self.short => Err(Fault::CutOff { what: WHAT, at: self.at }.into()),
            Some((_, size)) if size != self.size => {
                Err(io::Error::other(format!("a member holds {} bytes where the directory says {size}", self.size)))
            }
            Some((crc, _)) if crc != self.crc.sum() => {
                Err(io::Error::other("a member's checksum does not fit its content"))
            }
            _ => Ok(0),
        }
    }
}

// ---- the directory ----

struct End {
    at: u64,
    entries: u64,
    size: u64,
    offset: u64,
}

/// The record at the end: the last one whose comment reaches to the end of the file, else the last one.
fn find_end(base: Base<'_>) -> io::Result<Option<End>> {
    let from = base.len().saturating_sub(22 + 65_535);
    let tail = base.some_at(from, 22 + 65_535)?;
    let found: Vec<usize> =
        memchr::memmem::rfind_iter(&tail, b"PK\x05\x06").filter(|at| at + 22 <= tail.len()).collect();
    let fits = |at: &&usize| **at + 22 + usize::from(two(&tail, **at + 20)) == tail.len();
    let Some(&at) = found.iter().find(fits).or(found.first()) else { return Ok(None) };
    let end = End {
        at: from + at as u64,
        entries: u64::from(two(&tail, at + 10)),
        size: u64::from(four(&tail, at + 12)),
        offset: u64::from(four(&tail, at + 16)),
    };
    let is_long = end.entries == 0xFFFF || end.size == 0xFFFF_FFFF || end.offset == 0xFFFF_FFFF;
    if is_long && let Some(end) = long_end(base, end.at)? {
        return Ok(Some(end));
    }
    Ok(Some(end))
}

/// The record of archives beyond 4 GiB.
fn long_end(base: Base<'_>, before: u64) -> io::Result<Option<End>> {
    let Some(at) = before.checked_sub(20) else { return Ok(None) };
    let locator = base.some_at(at, 20)?;
    if locator.len() < 20 || locator[..4] != *b"PK\x06\x07" {
        return Ok(None);
    }
    let at = eight(&locator, 8);
    let record = base.some_at(at.min(base.len()), 56)?;
    if record.len() < 56 || record[..4] != *b"PK\x06\x06" {
        return Ok(None);
    }
    Ok(Some(End { at, entries: eight(&record, 32), size: eight(&record, 40), offset: eight(&record, 48) }))
}

fn listed(base: Base<'_>, end: &End) -> io::Result<Vec<Member>> {
    if end.size > LONGEST_DIRECTORY || end.entries > MOST_MEMBERS as u64 {
        return Err(damaged(end.at, &format!("a directory of {} members, more than {MOST_MEMBERS}", end.entries)));
    }
    // What stands before the archive (a program that unpacks it) shifts every place in it.
    let start = end.at.saturating_sub(end.size);
    let shift = start.saturating_sub(end.offset);
    let bytes = base.some_at(start, usize::try_from(end.size).unwrap_or_default())?;
    let (mut members, mut at) = (Vec::new(), 0);
    while at + 46 <= bytes.len() && members.len() < MOST_MEMBERS {
        if bytes[at..at + 4] != *b"PK\x01\x02" {
            return Err(damaged(start + at as u64, "its directory is broken"));
        }
        let name = usize::from(two(&bytes, at + 28));
        let extra = usize::from(two(&bytes, at + 30));
        let next = at + 46 + name + extra + usize::from(two(&bytes, at + 32));
        let Some(fields) = bytes.get(at + 46..at + 46 + name + extra) else { break };
        let flags = two(&bytes, at + 8);
        let mut member = Member {
            name: as_name(&fields[..name]),
            method: two(&bytes, at + 10),
            is_locked: flags & 1 != 0,
            open_ended: false,
            crc: four(&bytes, at + 16),
            packed: u64::from(four(&bytes, at + 20)),
            size: u64::from(four(&bytes, at + 24)),
            header_at: u64::from(four(&bytes, at + 42)),
        };
        lengthen(&mut member, &fields[name..]);
        member.header_at = member.header_at.saturating_add(shift);
        members.push(member);
        at = next;
    }
    Ok(members)
}

/// Sizes beyond 4 GiB stand in an extra field, in this order, each only where the short one is full.
fn lengthen(member: &mut Member, mut extra: &[u8]) {
    while extra.len() >= 4 {
        let (id, len) = (two(extra, 0), usize::from(two(extra, 2)));
        let Some(mut field) = extra.get(4..4 + len) else { return };
        extra = &extra[4 + len..];
        if id != 1 {
            continue;
        }
        for value in [&mut member.size, &mut member.packed, &mut member.header_at] {
            if *value == 0xFFFF_FFFF && field.len() >= 8 {
                *value = eight(field, 0);
                field = &field[8..];
            }
        }
    }
}

/// The members of an archive without a directory, by their own headers.
fn by_headers(base: Base<'_>) -> io::Result<Vec<Member>> {
    let (mut members, mut at) = (Vec::new(), 0);
    while members.len() < MOST_MEMBERS {
        let header = base.some_at(at, 30)?;
        if header.len() < 30 || header[..4] != *b"PK\x03\x04" {
            break;
        }
        let (name, extra) = (usize::from(two(&header, 26)), usize::from(two(&header, 28)));
        let fields = base.some_at(at + 30, name + extra)?;
        if fields.len() < name + extra {
            break;
        }
        let flags = two(&header, 6);
        let mut member = Member {
            name: as_name(&fields[..name]),
            method: two(&header, 8),
            is_locked: flags & 1 != 0,
            open_ended: flags & 8 != 0,
            crc: four(&header, 14),
            packed: u64::from(four(&header, 18)),
            size: u64::from(four(&header, 22)),
            header_at: at,
        };
        lengthen(&mut member, &fields[name..]);
        member.header_at = at;
        let data = at + 30 + (name + extra) as u64;
        if member.open_ended {
            member.packed = u64::MAX;
        }
        let Some(end) = (if member.open_ended {
            behind(base, data, member.method)?
        } else {
            Some(data.saturating_add(member.packed))
        }) else {
            members.push(member);
            break;
        };
        members.push(member);
        at = end;
    }
    Ok(members)
}

/// Where the next header stands after a member whose length is told behind it.
fn behind(base: Base<'_>, data: u64, method: u16) -> io::Result<Option<u64>> {
    if method != 8 {
        return Ok(None);
    }
    let part = Part { base, at: data, end: u64::MAX, tally: Arc::default() };
    let mut inflated = DeflateDecoder::new(BufReader::new(part));
    if io::copy(&mut inflated.by_ref().take(64 << 30), &mut io::sink()).is_err() {
        return Ok(None);
    }
    let end = data + inflated.total_in();
    let after = base.some_at(end, 28)?;
    // With or without its signature, with sizes of four or eight bytes.
    Ok([16, 12, 24, 20].into_iter().find(|n| after.get(*n..n + 4) == Some(b"PK\x03\x04")).map(|n| end + n as u64))
}

// ---- bytes ----

fn damaged(at: u64, why: &str) -> io::Error {
    Fault::Damaged { what: WHAT, at, why: why.to_string() }.into()
}
fn two(bytes: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([bytes[at], bytes[at + 1]])
}
fn four(bytes: &[u8], at: usize) -> u32 {
    u32::from(two(bytes, at)) | u32::from(two(bytes, at + 2)) << 16
}
fn eight(bytes: &[u8], at: usize) -> u64 {
    u64::from(four(bytes, at)) | u64::from(four(bytes, at + 4)) << 32
}

/// The upper half of code page 437, in which names stand that are not marked as UTF-8.
const UPPER_437: &str = "ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜ¢£¥₧ƒáíóúñÑªº¿⌐¬½¼¡«»░▒▓│┤╡╢╖╕╣║╗╝╜╛┐└┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌█▄▌▐▀αßΓπΣσµτΦΘΩδ∞φε∩≡±≥≤⌠⌡÷≈°∙·√ⁿ²■\u{a0}";

/// A name to show: forward slashes, no control characters.
fn as_name(bytes: &[u8]) -> String {
    let name =
        match std::str::from_utf8(bytes) {
            Ok(name) => name.to_string(),
            Err(_) => bytes
                .iter()
                .map(|b| {
                    if *b < 0x80 {
                        char::from(*b)
                    } else {
                        UPPER_437.chars().nth(usize::from(*b) - 0x80).unwrap_or('?')
                    }
                })
                .collect(),
        };
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
