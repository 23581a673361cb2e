//! What lies in a file, and in what lies in it: each text is handed out while its container is open.

use super::columnar::{self, Stored};
use super::fault::told;
use super::recognise::{HEAD, Kind, recognise, refused};
use super::source::{self, Base, Tally, Watched};
use super::workbook::{self, Office, Parts, Sheet, Workbook};
use super::zip::{self, Archive, Member};
use super::{Hashing, Lost, Opened, Outcome, See, cells, ipc, sheet, squeezed, text};
use crate::ingest::IngestError;
use std::io::{Cursor, Read};
use std::sync::atomic::Ordering::Relaxed;
use std::sync::{Arc, Mutex};

/// Containers within containers [-]: a gzip in a zip in a zip is three.
const DEPTH: usize = 4;
/// Archives within archives [-].
const ARCHIVES: usize = 2;
/// What is held whole because it must be read from any place [bytes].
const HELD: u64 = 512 << 20;

/// How deep a source lies.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Nested {
    containers: usize,
    archives: usize,
}

pub(super) struct Opening<'s> {
    pub see: See<'s>,
    pub tally: Arc<Tally>,
    pub outcome: Outcome,
    pub hashing: Hashing,
}

impl Opening<'_> {
    /// A source that can only be read from front to back.
    pub fn stream(
        &mut self,
        mut stored: Box<dyn Read + Send + '_>,
        shown: &str,
        nested: Nested,
    ) -> Result<(), IngestError> {
        if nested.containers > DEPTH {
            return Err(IngestError::TooDeep { path: shown.to_string() });
        }
        let mut head = Vec::new();
        let cut = (&mut stored).take(HEAD as u64).read_to_end(&mut head).err();
        if let Some(fault) = &cut
            && head.is_empty()
        {
            return Err(told(fault, shown, 1));
        }
        let kind = recognise(&head, shown)?;
        // A fault within the head comes again behind it.
        let whole: Box<dyn Read + Send + '_> = match cut {
            None => Box::new(Cursor::new(head.clone()).chain(stored)),
            Some(fault) => Box::new(Cursor::new(head.clone()).chain(source::Failing(Some(fault)))),
        };
        if !matches!(kind, Kind::Zip | Kind::Parquet) {
            return self.in_order(kind, &head, whole, shown, nested);
        }
        let mut held = Vec::new();
        whole.take(HELD + 1).read_to_end(&mut held).map_err(|e| told(&e, shown, 1))?;
        if held.len() as u64 > HELD {
            return Err(IngestError::TooLargeInside { path: shown.to_string(), limit: HELD });
        }
        self.at_any_place(kind, Base::Bytes(&held), shown, nested)
    }

    /// What is read from front to back.
    pub fn in_order(
        &mut self,
        kind: Kind,
        head: &[u8],
        stored: Box<dyn Read + Send + '_>,
        shown: &str,
        mut nested: Nested,
    ) -> Result<(), IngestError> {
        let at_start = |e: std::io::Error| told(&e, shown, 1);
        nested.containers += 1;
        match kind {
            Kind::Gzip => {
                let text = squeezed::gzip(stored, &self.tally);
                self.stream(Box::new(text), shown, nested)
            }
            Kind::Zstd => {
                let text = squeezed::zstd(stored, &self.tally).map_err(at_start)?;
                self.stream(Box::new(text), shown, nested)
            }
            Kind::Arrow(is_file) => {
                let table = ipc::arrow(stored, is_file).map_err(at_start)?;
                self.table(table, "arrow", shown)
            }
            Kind::Text | Kind::Zip | Kind::Parquet => {
                let found = text::look(head, head.len() < HEAD);
                let mark = [[].as_slice(), &[], &[], b"\xEF\xBB\xBF"][found.mark];
                let as_stored =
                    (found.is_untouched() && nested.containers == 1 && self.tally.stored < u64::MAX).then_some(mark);
                let text = text::open(found, stored).map_err(at_start)?;
                let opened = Opened {
                    shown: shown.to_string(),
                    sheet: None,
                    is_hidden: false,
                    encoding: found.encoding,
                    typed: false,
                    left_out: Vec::new(),
                    as_stored: as_stored.filter(|_| self.hashing == Hashing::Caller),
                    text,
                };
                self.hand_out(opened)
            }
        }
    }

    /// What is read from any place.
    pub fn at_any_place(
        &mut self,
        kind: Kind,
        base: Base<'_>,
        shown: &str,
        mut nested: Nested,
    ) -> Result<(), IngestError> {
        let at_start = |e: std::io::Error| told(&e, shown, 1);
        nested.containers += 1;
        if kind == Kind::Parquet {
            let stored = match base {
                Base::Bytes(bytes) => Stored::Bytes(bytes::Bytes::copy_from_slice(bytes)),
                Base::File(file, len) => Stored::File(Arc::new(Mutex::new(file.try_clone().map_err(at_start)?)), len),
            };
            self.tally.read.fetch_max(base.len(), Relaxed);
            let table = columnar::parquet(stored).map_err(at_start)?;
            return self.table(table, "parquet", shown);
        }
        let mut archive = Archive::open(base, &self.tally).map_err(at_start)?;
        match workbook::is_one(&archive.members) {
            Some(Office::Workbook) if archive.cut_off => Err(cut_off(shown, "workbook", base.len())),
            Some(Office::Workbook) => {
                let mut parts = Parts::of(archive);
                let book = Workbook::open(&mut parts).map_err(at_start)?;
                self.sheets(&mut parts, &book, shown)
            }
            Some(Office::BinaryWorkbook) => {
                Err(refused(shown, "a binary workbook (.xlsb)", "save it as an .xlsx workbook or export it as CSV"))
            }
            Some(Office::OpenDocument) => {
                Err(refused(shown, "an OpenDocument file", "save it as an .xlsx workbook or export it as CSV"))
            }
            Some(Office::Other) => Err(refused(shown, "a text document or slides", "export the readings as CSV")),
            None => self.members(&mut archive, base.len(), shown, nested),
        }
    }

    fn members(
        &mut self,
        archive: &mut Archive<'_>,
        len: u64,
        shown: &str,
        mut nested: Nested,
    ) -> Result<(), IngestError> {
        nested.archives += 1;
        if nested.archives > ARCHIVES {
            return Err(IngestError::TooDeep { path: shown.to_string() });
        }
        let mut members = std::mem::take(&mut archive.members);
        members.retain(|m| !zip::is_by_the_way(&m.name));
        members.sort_by(|a, b| a.name.cmp(&b.name));
        if members.is_empty() {
            if archive.cut_off {
                return Err(cut_off(shown, zip::WHAT, len));
            }
            return Err(refused(shown, "an archive without a file in it", "pack the exports into it"));
        }
        let before = self.outcome.lost.len();
        for member in &members {
            let shown = format!("{shown}/{}", member.name);
            let read = self.member(archive, member, &shown, nested);
            self.unless_lost(&shown, read)?;
        }
        let told_already = self.outcome.lost[before..].iter().any(|l| matches!(l.why, IngestError::CutOff { .. }));
        if archive.cut_off && !told_already {
            let why = cut_off(shown, zip::WHAT, len);
            self.outcome.lost.push(Lost { shown: shown.to_string(), why });
        }
        if archive.hidden > 0 {
            let why = format!("{} of its members have the name of another, and only the last is read", archive.hidden);
            let why = IngestError::Damaged { path: shown.to_string(), what: zip::WHAT, at: 0, why };
            self.outcome.lost.push(Lost { shown: shown.to_string(), why });
        }
        Ok(())
    }

    fn member(
        &mut self,
        archive: &mut Archive<'_>,
        member: &Member,
        shown: &str,
        nested: Nested,
    ) -> Result<(), IngestError> {
        if member.is_locked {
            return Err(IngestError::Locked { path: shown.to_string() });
        }
        if zip::climbs(&member.name) {
            return Err(IngestError::Climbs { path: shown.to_string() });
        }
        match archive.read(member).map_err(|e| told(&e, shown, 1))? {
            Ok(stream) => self.stream(stream, shown, nested),
            Err(packed) => Err(refused(shown, &packed, "pack it again as a plain zip (deflate)")),
        }
    }

    fn sheets(&mut self, parts: &mut Parts<'_>, book: &Workbook, shown: &str) -> Result<(), IngestError> {
        if book.sheets.is_empty() {
            return Err(refused(shown, "a workbook without a sheet of cells", "export the readings as CSV"));
        }
        for sheet in &book.sheets {
            let shown = format!("{shown}/{}", sheet.name);
            let read = self.sheet(parts, book, sheet, &shown);
            self.unless_lost(&shown, read)?;
        }
        Ok(())
    }

    fn sheet(&mut self, parts: &mut Parts<'_>, book: &Workbook, sheet: &Sheet, shown: &str) -> Result<(), IngestError> {
        let Some(document) = parts.document(&sheet.part).map_err(|e| told(&e, shown, 1))? else {
            return Err(IngestError::Damaged {
                path: shown.to_string(),
                what: "workbook",
                at: 0,
                why: "the sheet is missing".into(),
            });
        };
        let mut rows = sheet::Rows::new(document, book, &sheet.name);
        let made = cells::Made::new(move |out: &mut Vec<u8>| rows.more(out));
        self.hand_out(Opened {
            shown: shown.to_string(),
            sheet: Some(sheet.name.clone()),
            is_hidden: sheet.is_hidden,
            encoding: "workbook",
            typed: true,
            left_out: Vec::new(),
            as_stored: None,
            text: Box::new(Watched { inner: made, what: "workbook", tally: self.tally.clone() }),
        })
    }

    fn table(&mut self, table: columnar::Opened<'_>, encoding: &'static str, shown: &str) -> Result<(), IngestError> {
        self.hand_out(Opened {
            shown: shown.to_string(),
            sheet: None,
            is_hidden: false,
            encoding,
            typed: true,
            left_out: table.left_out,
            as_stored: None,
            text: Box::new(Watched { inner: table.text, what: encoding, tally: self.tally.clone() }),
        })
    }

    fn hand_out(&mut self, opened: Opened<'_>) -> Result<(), IngestError> {
        self.outcome.texts += 1;
        (self.see)(opened)
    }

    /// A lost member is noted, and the others are read, unless the person must decide.
    fn unless_lost(&mut self, shown: &str, read: Result<(), IngestError>) -> Result<(), IngestError> {
        match read {
            Err(why) if !why.stops_everything() => self.outcome.lost.push(Lost { shown: shown.to_string(), why }),
            other => return other,
        }
        Ok(())
    }
}

fn cut_off(shown: &str, what: &'static str, at: u64) -> IngestError {
    IngestError::CutOff { path: shown.to_string(), what, at }
}
