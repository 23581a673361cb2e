//! A workbook (.xlsx): its sheets, strings and number formats. The cells themselves: `sheet`.
//!
//! Source of the layout: ECMA-376 part 1 (SpreadsheetML) and part 2 (packages). Read as a stream out of the archive; only
//! the shared strings are held, up to a limit.

use super::fault::Fault;
use super::serial::{Shows, built_in, by_code};
use super::xml::{Xml, attribute, fault, text, unescape, words};
use super::zip::{Archive, Member};
use quick_xml::events::{BytesStart, Event};
use std::collections::BTreeMap;
use std::io::{self, Read};

/// All shared strings together [bytes], and how many sheets and formats [-] a workbook may have.
const MOST_STRINGS: usize = 512 << 20;
const MOST_SHEETS: usize = 10_000;
const MOST_FORMATS: usize = 1 << 20;

/// What all sheets share.
pub(super) struct Workbook {
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
    pub part: String,
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

/// The parts of a workbook by their names.
pub(super) struct Parts<'a> {
    archive: Archive<'a>,
    members: BTreeMap<String, Member>,
}

/// A part of a workbook as a document.
type Part<'p> = Xml<Box<dyn Read + Send + 'p>>;

impl<'a> Parts<'a> {
    pub fn of(mut archive: Archive<'a>) -> Self {
        let members = std::mem::take(&mut archive.members).into_iter().map(|m| (key(&m.name), m)).collect();
        Self { archive, members }
    }

    /// A part; `None` when the workbook lacks it.
    pub fn document(&mut self, part: &str) -> io::Result<Option<Part<'_>>> {
        let Some(member) = self.members.get(&key(part)) else { return Ok(None) };
        match self.archive.read(member)? {
            Ok(stream) => Ok(Some(Xml::new(stream))),
            Err(why) => Err(fault(part, io::Error::other(why))),
        }
    }

    fn relations(&mut self, part: &str, folder: &str) -> io::Result<Vec<Relation>> {
        let Some(mut document) = self.document(part)? else { return Ok(Vec::new()) };
        let mut found = Vec::new();
        loop {
            match document.next().map_err(|e| fault(part, e))? {
                Event::Eof => return Ok(found),
                Event::Start(tag) | Event::Empty(tag)
                    if tag.local_name().as_ref() == b"Relationship" && found.len() < MOST_SHEETS =>
                {
                    let kind = words(&tag, "Type").rsplit('/').next().unwrap_or_default().to_string();
                    found.push(Relation { id: words(&tag, "Id"), kind, part: below(folder, &words(&tag, "Target")) });
                }
                _ => {}
            }
        }
    }
}

impl Workbook {
    pub fn open(parts: &mut Parts<'_>) -> io::Result<Self> {
        let root = parts.relations("_rels/.rels", "")?;
        let main =
            root.into_iter().find(|r| r.kind == "officeDocument").map_or("xl/workbook.xml".to_string(), |r| r.part);
        let (folder, name) = main.rsplit_once('/').unwrap_or(("", &main));
        let relations = parts.relations(&format!("{folder}/_rels/{name}.rels"), folder)?;
        let (sheets, from_1904) = sheets(parts, &main, &relations)?;
        let mut book = Self { sheets, strings: Strings::default(), shows: Vec::new(), from_1904 };
        let of_kind = |kind: &str| relations.iter().find(|r| r.kind == kind).map(|r| r.part.clone());
        if let Some(part) = of_kind("sharedStrings") {
            book.strings = parts.document(&part)?.map_or(Ok(Strings::default()), |d| strings(d, &part))?;
        }
        if let Some(part) = of_kind("styles") {
            book.shows = parts.document(&part)?.map_or(Ok(Vec::new()), |d| formats(d, &part))?;
        }
        Ok(book)
    }
}

/// The sheets of cells, and whether days are counted from 1904.
fn sheets(parts: &mut Parts<'_>, main: &str, relations: &[Relation]) -> io::Result<(Vec<Sheet>, bool)> {
    let Some(mut document) = parts.document(main)? else {
        return Err(fault(main, io::Error::other("missing")));
    };
    let (mut found, mut from_1904) = (Vec::new(), false);
    loop {
        match document.next().map_err(|e| fault(main, e))? {
            Event::Eof => return Ok((found, from_1904)),
            Event::Start(tag) | Event::Empty(tag) => match tag.local_name().as_ref() {
                b"workbookPr" => from_1904 = matches!(words(&tag, "date1904").as_str(), "1" | "true" | "on"),
                b"sheet" if found.len() < MOST_SHEETS => {
                    // `sheetId` is not it: the relation's is `r:id`.
                    let id = words(&tag, "id");
                    let relation = relations.iter().find(|r| r.id == id);
                    if relation.is_some_and(|r| r.kind != "worksheet") {
                        continue;
                    }
                    let by_order = format!("xl/worksheets/sheet{}.xml", found.len() + 1);
                    found.push(Sheet {
                        name: words(&tag, "name"),
                        is_hidden: attribute(&tag, "state").is_some_and(|s| *s != *b"visible"),
                        part: relation.map_or(by_order, |r| r.part.clone()),
                    });
                }
                _ => {}
            },
            _ => {}
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

/// The shared strings: the runs of each put together, phonetic readings left out.
fn strings(mut document: Part<'_>, part: &str) -> io::Result<Strings> {
    let mut found = Strings::default();
    let (mut in_text, mut spoken, mut raw) = (false, false, Vec::new());
    loop {
        match document.next().map_err(|e| fault(part, e))? {
            Event::Eof => return Ok(found),
            Event::Empty(tag) if tag.local_name().as_ref() == b"si" => found.ends.push(found.text.len()),
            Event::Start(tag) => match tag.local_name().as_ref() {
                b"t" => in_text = !spoken,
                b"rPh" => spoken = true,
                _ => {}
            },
            Event::End(tag) => match tag.local_name().as_ref() {
                b"t" => in_text = false,
                b"rPh" => spoken = false,
                b"si" => {
                    unescape(&raw, &mut found.text);
                    raw.clear();
                    found.ends.push(found.text.len());
                }
                _ => {}
            },
            event if in_text => text(&event, &mut raw),
            _ => {}
        }
        if found.text.len() + raw.len() + found.ends.len() * 8 > MOST_STRINGS {
            let why = format!("its texts are longer than {} MiB together", MOST_STRINGS >> 20);
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
            Event::Eof => return Ok(found),
            Event::Start(tag) | Event::Empty(tag) => match tag.local_name().as_ref() {
                b"numFmt" if written.len() < MOST_FORMATS => {
                    if let Some(id) = format_id(&tag) {
                        written.insert(id, by_code(&words(&tag, "formatCode")));
                    }
                }
                b"cellXfs" => of_cells = true,
                b"xf" if of_cells && found.len() < MOST_FORMATS => {
                    let id = format_id(&tag).unwrap_or(0);
                    found.push(written.get(&id).copied().unwrap_or_else(|| built_in(id)));
                }
                _ => {}
            },
            Event::End(tag) if tag.local_name().as_ref() == b"cellXfs" => of_cells = false,
            _ => {}
        }
    }
}

fn format_id(tag: &BytesStart<'_>) -> Option<u32> {
    words(tag, "numFmtId").parse().ok()
}
