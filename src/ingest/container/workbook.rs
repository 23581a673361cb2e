//! A workbook (.xlsx): its sheets, strings and number formats. The cells themselves: `sheet`.
//!
//! Source of the layout: ECMA-376 part 1 (SpreadsheetML) and part 2 (packages). Read as a stream out of the archive; only
//! the shared strings are held, up to a limit.

use super::fault::Fault;
use super::serial::{Shows, built_in, by_code};
use super::source::{Base, Tally};
use super::xml::{Piece, Xml, fault, unescape};
use super::zip::{self, Member};
use std::collections::BTreeMap;
use std::io::{self, Read};
use std::sync::Arc;

/// All shared strings together [bytes], and how many sheets and formats [-] a workbook may have.
const MOST_STRINGS: usize = 512 << 20;
const MOST_SHEETS: usize = 10_000;
const MOST_FORMATS: usize = 1 << 20;

/// A part of the workbook as a document.
type Part<'a> = Xml<Box<dyn Read + Send + 'a>>;

/// What all sheets share.
pub(super) struct Workbook<'a> {
    base: Base<'a>,
    tally: Arc<Tally>,
    members: BTreeMap<String, Member>,
    pub sheets: Vec<Sheet>,
    pub strings: Strings,
    /// What a number shows, by its cell's style.
    pub shows: Vec<Shows>,
    pub from_1904: bool,
}

/// A sheet in the order of the tabs.
pub(super) struct Sheet {
    pub name: String,
    pub is_hidden: bool,
    part: String,
}

/// The shared strings, end to end.
#[derive(Default)]
pub(super) struct Strings {
    text: Vec<u8>,
    ends: Vec<usize>,
}

impl Strings {
    pub fn get(&self, i: usize) -> Option<&[u8]> {
        let end = *self.ends.get(i)?;
        let start = i.checked_sub(1).map_or(0, |before| self.ends[before]);
        self.text.get(start..end)
    }
}

/// Name of a member as parts are compared by.
fn key(name: &str) -> String {
    name.trim_start_matches('/').to_lowercase()
}

/// Whether the members are those of an office document, and which.
pub(super) fn is_one(members: &[Member]) -> Option<Office> {
    let has = |wanted: &str| members.iter().any(|m| key(&m.name) == wanted);
    let below = |folder: &str| members.iter().any(|m| key(&m.name).starts_with(folder));
    if members.first().is_some_and(|m| m.name == "mimetype") && has("content.xml") {
        return Some(Office::OpenDocument);
    }
    if !has("[content_types].xml") {
        return None;
    }
    match () {
        () if has("xl/workbook.bin") => Some(Office::BinaryWorkbook),
        () if below("xl/") => Some(Office::Workbook),
        () if below("word/") || below("ppt/") => Some(Office::Other),
        () => None,
    }
}

/// Documents of office programs that are zip archives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Office {
    Workbook,
    BinaryWorkbook,
    OpenDocument,
    Other,
}

impl<'a> Workbook<'a> {
    pub fn open(base: Base<'a>, members: Vec<Member>, tally: &Arc<Tally>) -> io::Result<Self> {
        let members = members.into_iter().map(|m| (key(&m.name), m)).collect();
        let mut book = Self {
            base,
            tally: tally.clone(),
            members,
            sheets: Vec::new(),
            strings: Strings::default(),
            shows: Vec::new(),
            from_1904: false,
        };
        let root = book.relations("_rels/.rels", "")?;
        let main =
            root.into_iter().find(|r| r.kind == "officeDocument").map_or("xl/workbook.xml".to_string(), |r| r.part);
        let (folder, name) = main.rsplit_once('/').unwrap_or(("", &main));
        let relations = book.relations(&format!("{folder}/_rels/{name}.rels"), folder)?;
        book.read_sheets(&main, &relations)?;
        let of_kind = |kind: &str| relations.iter().find(|r| r.kind == kind).map(|r| r.part.clone());
        if let Some(part) = of_kind("sharedStrings") {
            book.strings = book.document(&part)?.map_or(Ok(Strings::default()), |d| strings(d, &part))?;
        }
        if let Some(part) = of_kind("styles") {
            book.shows = book.document(&part)?.map_or(Ok(Vec::new()), |d| formats(d, &part))?;
        }
        Ok(book)
    }

    /// The cells of a sheet as a document; `None` when the workbook lacks it.
    pub fn cells(&self, sheet: &Sheet) -> io::Result<Option<Part<'a>>> {
        self.document(&sheet.part)
    }

    fn document(&self, part: &str) -> io::Result<Option<Part<'a>>> {
        let Some(member) = self.members.get(&key(part)) else { return Ok(None) };
        match zip::open(self.base, member, &self.tally)? {
            Ok(stream) => Ok(Some(Xml::new(stream))),
            Err(why) => Err(fault(part, io::Error::other(why))),
        }
    }

    fn relations(&self, part: &str, folder: &str) -> io::Result<Vec<Relation>> {
        let Some(mut document) = self.document(part)? else { return Ok(Vec::new()) };
        let mut found = Vec::new();
        loop {
            match document.next().map_err(|e| fault(part, e))? {
                Piece::End => return Ok(found),
                Piece::Open(tag) if tag.name == b"Relationship" && found.len() < MOST_SHEETS => {
                    let text = |name| tag.attribute(name).map(plain).unwrap_or_default();
                    let kind = text("Type").rsplit('/').next().unwrap_or_default().to_string();
                    found.push(Relation { id: text("Id"), kind, part: below(folder, &text("Target")) });
                }
                _ => {}
            }
        }
    }

    fn read_sheets(&mut self, main: &str, relations: &[Relation]) -> io::Result<()> {
        let Some(mut document) = self.document(main)? else {
            return Err(fault(main, io::Error::other("missing")));
        };
        loop {
            match document.next().map_err(|e| fault(main, e))? {
                Piece::End => return Ok(()),
                Piece::Open(tag) if tag.name == b"workbookPr" => {
                    self.from_1904 = matches!(tag.attribute("date1904"), Some(b"1" | b"true" | b"on"));
                }
                Piece::Open(tag) if tag.name == b"sheet" && self.sheets.len() < MOST_SHEETS => {
                    let text = |name| tag.attribute(name).map(plain).unwrap_or_default();
                    // `sheetId` is not it: the relation's is `r:id`.
                    let id = text("id");
                    let relation = relations.iter().find(|r| r.id == id);
                    if relation.is_some_and(|r| r.kind != "worksheet") {
                        continue;
                    }
                    let by_order = format!("xl/worksheets/sheet{}.xml", self.sheets.len() + 1);
                    self.sheets.push(Sheet {
                        name: text("name"),
                        is_hidden: tag.attribute("state").is_some_and(|s| s != b"visible"),
                        part: relation.map_or(by_order, |r| r.part.clone()),
                    });
                }
                _ => {}
            }
        }
    }
}

struct Relation {
    id: String,
    /// Last step of its type.
    kind: String,
    part: String,
}

/// A target as written, from the folder of the part that names it.
fn below(folder: &str, target: &str) -> String {
    let whole = if target.starts_with('/') { target.to_string() } else { format!("{folder}/{target}") };
    let mut steps: Vec<&str> = Vec::new();
    for step in whole.split(['/', '\\']).filter(|s| !s.is_empty() && *s != ".") {
        if step == ".." {
            steps.pop();
        } else {
            steps.push(step);
        }
    }
    steps.join("/")
}

/// An attribute as text.
fn plain(raw: &[u8]) -> String {
    let mut out = Vec::new();
    unescape(raw, &mut out);
    String::from_utf8_lossy(&out).chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// The shared strings: the runs of each put together, phonetic readings left out.
fn strings(mut document: Part<'_>, part: &str) -> io::Result<Strings> {
    let mut found = Strings::default();
    let (mut in_text, mut spoken) = (false, false);
    loop {
        match document.next().map_err(|e| fault(part, e))? {
            Piece::End => return Ok(found),
            Piece::Open(tag) => match tag.name {
                b"t" => in_text = !tag.is_empty && !spoken,
                b"rPh" => spoken = !tag.is_empty,
                b"si" if tag.is_empty => found.ends.push(found.text.len()),
                _ => {}
            },
            Piece::Close(b"t") => in_text = false,
            Piece::Close(b"rPh") => spoken = false,
            Piece::Close(b"si") => found.ends.push(found.text.len()),
            Piece::Close(_) => {}
            Piece::Text(raw) if in_text => unescape(raw, &mut found.text),
            Piece::Verbatim(raw) if in_text => found.text.extend_from_slice(raw),
            Piece::Text(_) | Piece::Verbatim(_) => {}
        }
        if found.text.len() + found.ends.len() * 8 > MOST_STRINGS {
            let why = format!("its shared strings are longer than {} MiB", MOST_STRINGS >> 20);
            return Err(Fault::Damaged { what: "workbook", at: 0, why }.into());
        }
    }
}

/// What a number shows, by the cell's style.
fn formats(mut document: Part<'_>, part: &str) -> io::Result<Vec<Shows>> {
    let (mut written, mut found) = (BTreeMap::new(), Vec::new());
    let mut of_cells = false;
    loop {
        match document.next().map_err(|e| fault(part, e))? {
            Piece::End => return Ok(found),
            Piece::Open(tag) => match tag.name {
                b"numFmt" if written.len() < MOST_FORMATS => {
                    if let (Some(id), Some(code)) = (whole(tag.attribute("numFmtId")), tag.attribute("formatCode")) {
                        written.insert(id, by_code(&plain(code)));
                    }
                }
                b"cellXfs" => of_cells = !tag.is_empty,
                b"xf" if of_cells && found.len() < MOST_FORMATS => {
                    let id = whole(tag.attribute("numFmtId")).unwrap_or(0);
                    found.push(written.get(&id).copied().unwrap_or_else(|| built_in(id)));
                }
                _ => {}
            },
            Piece::Close(b"cellXfs") => of_cells = false,
            _ => {}
        }
    }
}

/// A whole number in an attribute.
fn whole(raw: Option<&[u8]>) -> Option<u32> {
    std::str::from_utf8(raw?).ok()?.parse().ok()
}
