//! Files to samples: every text of every file is read in its shape, its times become instants, and what is to be said is gathered.

use super::bad_words::BadWords;
use super::blocks::{Blocks, Bound, LEAST_LOOKED_AT, MOST_HELD, MOST_LOOKED_AT};
use super::container::{self, Hashing, Opened};
use super::error::IngestError;
use super::inspect::LookedFile;
use super::ledger::Account;
use super::samples::{Piece, Rows};
use super::shape::{Dates, Sheet, Task, Track};
use super::sniff::{Layout, Shape, sniff};
use super::wanted::{Place, Wanted};
use super::{PointLedger, sections, table, tall, time, zone};
use crate::notice::Notice;
use crate::plant::{Plant, Point, TrendShape};
use std::collections::BTreeSet;
use std::io::Read;
use std::path::Path;
use std::sync::Arc;

/// Share of blank cells from which unchanged values left blank are the likelier reading [share].
const MOSTLY_BLANK: f64 = 0.5;

/// Files read so far.
pub(super) struct Gathering<'a> {
    pub plant: &'a Plant,
    pub wanted: Wanted<'a>,
    pub accounts: Vec<Account>,
    pub headers: Vec<Vec<String>>,
    /// By point.
    pub pieces: Vec<Vec<Piece>>,
    pub points: Vec<PointLedger>,
    pub seen: Vec<Seen>,
    /// By file.
    pub looks: Vec<LookedFile>,
    pub notices: Vec<Notice>,
    pub losses: Vec<IngestError>,
    /// Readings of all files so far.
    held: usize,
    /// Nothing hangs on the files yet: what a person has to decide stops no other file.
    only_looks: bool,
}

/// What the exports say of a point beside its readings.
#[derive(Debug, Clone, Default)]
pub(super) struct Seen {
    pub unit: Option<String>,
    pub in_cells: bool,
    pub states: bool,
}

/// Texts of one file that are read already, and those to be read section by section.
#[derive(Default)]
struct Turns {
    done: BTreeSet<String>,
    by_sections: BTreeSet<String>,
    again: bool,
}

impl<'a> Gathering<'a> {
    /// Only what the plant file declares.
    pub fn declared(plant: &'a Plant) -> Self {
        Self::new(plant, Wanted::declared(plant))
    }

    /// Whatever there is.
    pub fn looking(plant: &'a Plant) -> Self {
        Self { only_looks: true, ..Self::new(plant, Wanted::everything(plant)) }
    }

    fn new(plant: &'a Plant, wanted: Wanted<'a>) -> Self {
        let ledger = |p: &Point| PointLedger {
            name: p.name.clone(),
            role: p.role.word().to_owned(),
            of: p.of.clone(),
            ..PointLedger::default()
        };
        Self {
            plant,
            wanted,
            accounts: Vec::new(),
            headers: Vec::new(),
            pieces: plant.points.iter().map(|_| Vec::new()).collect(),
            points: plant.points.iter().map(ledger).collect(),
            seen: vec![Seen::default(); plant.points.len()],
            looks: Vec::new(),
            notices: Vec::new(),
            losses: Vec::new(),
            held: 0,
            only_looks: false,
        }
    }

    pub fn say(&mut self, text: String) {
        self.notices.push(Notice::new("ingest", text));
    }

    /// Reads all texts of a file.
    pub fn path(&mut self, path: &Path, shown: &str) -> Result<(), IngestError> {
        let each = |see: container::See<'_>| container::each_text(path, shown, Hashing::Here, see);
        self.texts(shown, &each, &|| container::fingerprint(path))
    }

    /// The same from memory.
    pub fn bytes(&mut self, bytes: &[u8], shown: &str) -> Result<(), IngestError> {
        let each = |see: container::See<'_>| container::each_text_of(bytes, shown, Hashing::Here, see);
        self.texts(shown, &each, &|| container::fingerprint_of(bytes))
    }

    fn texts(
        &mut self,
        shown: &str,
        each: &dyn Fn(container::See<'_>) -> Result<container::Outcome, IngestError>,
        print: &dyn Fn() -> Option<String>,
    ) -> Result<(), IngestError> {
        let first = self.accounts.len();
        let mut turns = Turns::default();
        let outcome = loop {
            turns.again = false;
            let outcome = each(&mut |opened| self.text(opened, &mut turns));
            if !turns.again || outcome.is_err() {
                break outcome;
            }
        };
        match outcome {
            Ok(outcome) => {
                let sha256 = outcome.sha256.unwrap_or_default();
                self.accounts[first..].iter_mut().for_each(|a| a.file.sha256.clone_from(&sha256));
                outcome.lost.into_iter().try_for_each(|lost| self.lost(&lost.shown, lost.why))
            }
            Err(error) => {
                self.lost(shown, error)?;
                let sha256 = print().unwrap_or_default();
                self.accounts[first..].iter_mut().for_each(|a| a.file.sha256.clone_from(&sha256));
                Ok(())
            }
        }
    }

    /// A text that could not be read: the others still are, unless the person has to decide something first.
    pub fn lost(&mut self, path: &str, error: IngestError) -> Result<(), IngestError> {
        if error.stops_everything() && !self.only_looks {
            return Err(error);
        }
        let shown = error.to_string();
        let said = shown.split('\n').next().unwrap_or_default();
        let place = if said.contains(path) { String::new() } else { format!("{path}: ") };
        self.say(format!("{place}{said}; the file was left out"));
        self.accounts.push(Account::default());
        self.accounts.last_mut().into_iter().for_each(|a| a.file.path = path.to_string());
        self.headers.push(Vec::new());
        self.looks.push(LookedFile { error: Some(shown), ..LookedFile::default() });
        self.losses.push(error);
        Ok(())
    }

    fn text(&mut self, opened: Opened<'_>, turns: &mut Turns) -> Result<(), IngestError> {
        let Opened { shown, sheet, encoding, text, left_out, .. } = opened;
        if turns.done.contains(&shown) {
            return Ok(());
        }
        let by_sections = turns.by_sections.contains(&shown);
        let mut account = Account::default();
        account.file.path.clone_from(&shown);
        super::progress::opened(&shown);
        let mut source = Blocks::new(&shown, text, self.bound());
        let at = Place { path: &shown, sheet: sheet.as_deref() };
        let Some((found, layout)) = self.sheet(at, by_sections, &mut source, &mut account)? else {
            turns.by_sections.insert(shown);
            turns.again = true;
            return Ok(());
        };
        for (column, why) in left_out {
            self.say(format!("{shown}: the column \"{column}\" was left out: {why}"));
        }
        account.file.shape = found.word;
        if let Some(line) = source.stopped {
            self.say(format!(
                "{shown}: only the lines up to {} were looked at, since it holds more readings than a look takes; a review reads the points that the plant file declares, to the end",
                line.saturating_sub(1)
            ));
        }
        self.accounts.push(account);
        self.looks.push(LookedFile {
            encoding: encoding.to_owned(),
            delimiter: layout.dialect.shown(),
            decimal: if layout.decimal_comma() { ',' } else { '.' },
            header_line: layout.header_line,
            time_columns: layout.time_names(),
            unread_from: source.stopped,
            ..LookedFile::default()
        });
        let taken = self.take(&shown, found, layout);
        if taken.is_err() {
            self.accounts.pop();
            self.looks.pop();
        }
        turns.done.insert(shown);
        taken
    }

    /// What the next text may give.
    fn bound(&self) -> Bound {
        match self.only_looks {
            true => Bound { most: MOST_LOOKED_AT.saturating_sub(self.held).max(LEAST_LOOKED_AT), stops: true },
            false => Bound { most: MOST_HELD, stops: false },
        }
    }

    /// `None`: to be read again, section by section.
    fn sheet<R: Read + Send>(
        &mut self,
        at: Place<'_>,
        by_sections: bool,
        source: &mut Blocks<R>,
        account: &mut Account,
    ) -> Result<Option<(Sheet, Layout)>, IngestError> {
        let names: Vec<&str> = self.plant.points.iter().map(|p| p.name.as_str()).collect();
        let layout = match source.next()? {
            None => return Err(IngestError::Empty { path: at.path.to_string() }),
            Some(block) => {
                let layout = match sniff(at.path, &block, &names, self.plant.trends.written) {
                    Ok(layout) => layout,
                    // What broke the text off, a line without an end say, explains it better than what is missing above it.
                    Err(error) => return Err(source.next().err().unwrap_or(error)),
                };
                source.give_back(block);
                layout
            }
        };
        let task = Task { at, layout: &layout, blank: self.plant.trends.blank };
        let by_sections = by_sections || self.by_blocks();
        let wanted = &mut self.wanted;
        let sheet = match layout.shape {
            Shape::Tall { .. } => tall::read(&task, wanted, source, account)?,
            Shape::Table(_) if by_sections || layout.one_value() => {
                let stem = at.sheet.unwrap_or_else(|| stem(at.path));
                let sheet = sections::read(&task, wanted, stem, source, account)?;
                if sheet.tracks.is_empty() && layout.header_line == 0 && sheet.word == "one-point" {
                    return Err(IngestError::NoHeader { path: at.path.to_string(), line: layout.above + 1 });
                }
                Some(sheet)
            }
            Shape::Table(_) => table::read(&task, wanted, source, account)?,
        };
        Ok(sheet.map(|s| (s, layout)))
    }

    /// The plant file says that points stand below one another.
    fn by_blocks(&self) -> bool {
        matches!(self.plant.trends.written.shape, Some(TrendShape::Blocks | TrendShape::OnePoint))
    }

    fn take(&mut self, path: &str, sheet: Sheet, layout: Layout) -> Result<(), IngestError> {
        let file = self.accounts.len() - 1;
        let column = layout.time_names().first().cloned().unwrap_or_default();
        let trends = &self.plant.trends;
        let Dates { evidence, example, .. } = &sheet.dates;
        let place = time::Place { path, column: &column, example };
        let told = time::Told { day_first: trends.day_first, year: year_told(&layout, path) };
        let reading = evidence.reading(&told, &place)?;
        zone::refuse_ambiguous(trends.timezone, evidence, &place)?;
        let look = time::look(example.as_bytes());
        self.accounts[file].file.time_format = look.map_or(String::new(), |l| l.describe(reading.order));
        if let Some(why) = reading.why() {
            self.say(format!("{path}: {why}"));
        }
        for (declared, found) in &sheet.respelled {
            self.say(format!("{path}: \"{found}\" was taken for the point \"{declared}\""));
        }
        let (columns, doubled) = zone::instants(trends.timezone, &reading, sheet.columns);
        if doubled.keeps_standard_time {
            self.say(format!(
                "{path}: {} times lie in the hour that the clocks skip in spring, one regular step after the other: the logger seems to keep standard time all year; if so, set timezone under [trends] to a zone without summer time",
                doubled.skipped
            ));
        }
        if doubled.untold > 0 {
            self.say(format!(
                "{path}: {} times lie in the hour that comes twice in autumn, but stand there once; they were read as its first pass",
                doubled.untold
            ));
        }
        let columns = Rows::of(columns);
        // Rows read from the last to the first are in order too.
        let moved = columns.iter().map(|rows| rows.course.back.min(rows.course.forth)).max();
        if let Some(places @ 1..) = moved {
            let often = if places == 1 { "once".to_owned() } else { format!("{places} times") };
            self.say(format!(
                "{path}: the rows are not in the order of time, they step back {often}; they were sorted"
            ));
        }
        let held = self.held + sheet.tracks.iter().map(|t| t.values.len()).sum::<usize>();
        if held > MOST_HELD && !self.only_looks {
            return Err(IngestError::TooMuch { path: path.to_string(), line: layout.header_line, held });
        }
        self.held = held;
        let mut bad = BadWords::default();
        for track in sheet.tracks {
            self.track(path, file, &columns, track, &mut bad);
        }
        bad.sentences(path).into_iter().for_each(|s| self.say(s));
        self.headers.push(layout.header);
        Ok(())
    }

    fn track(&mut self, path: &str, file: usize, columns: &[Arc<Rows>], track: Track, bad: &mut BadWords) {
        while self.pieces.len() <= track.point {
            self.pieces.push(Vec::new());
            self.seen.push(Seen::default());
            self.points.push(PointLedger {
                name: self.wanted.points()[self.points.len()].name.clone(),
                ..PointLedger::default()
            });
        }
        let seen = &mut self.seen[track.point];
        seen.unit = seen.unit.take().or_else(|| track.unit.clone());
        seen.in_cells |= track.with_unit > 0;
        seen.states |= track.states > 0;
        let name = &self.wanted.points()[track.point].name;
        let point = &mut self.points[track.point];
        point.bad += track.bad;
        point.missing += track.missing;
        let cells = track.values.len();
        if let Some((line, word)) = &track.first_bad {
            point.first_bad.get_or_insert_with(|| (*line, word.clone()));
            bad.meet(word, track.alike == track.bad, (track.bad, name, *line));
        }
        if track.missing as f64 > MOSTLY_BLANK * cells as f64 {
            let text = format!(
                "{path}: {} of {cells} cells of \"{name}\" are blank and treated as missing; if blank means unchanged there, set blank = \"unchanged\" under [trends]",
                track.missing
            );
            self.say(text);
        }
        let whole = track.bad + track.blank == 0;
        let piece = Piece { file, rows: Arc::clone(&columns[track.column]), values: track.values, whole };
        self.pieces[track.point].push(piece);
    }
}

/// A path's last part without its ending.
fn stem(path: &str) -> &str {
    let name = path.rsplit(['/', '\\']).next().unwrap_or(path);
    name.rsplit_once('.').map_or(name, |(stem, _)| stem)
}

/// Words beside the time when an export was made: its last row's year (common practice, no source).
const MADE: [&str; 13] = [
    "export",
    "created",
    "printed",
    "generated",
    "report date",
    "run at",
    "erstellt",
    "gedruckt",
    "exportiert",
    "créé",
    "imprimé",
    "creado",
    "impreso",
];

/// The year of rows that have none: of a period above the readings, of the export's date, or in the file's name.
fn year_told(layout: &Layout, path: &str) -> Option<time::Year> {
    let lines = layout.preamble.iter().map(|row| row.join(" "));
    let told = lines.filter_map(|line| years_in(&line).next().map(|year| (line.to_lowercase(), year)));
    let told: Vec<(String, i64)> = told.collect();
    let made = |line: &str| MADE.iter().any(|w| line.contains(w));
    if let Some((_, year)) = told.iter().find(|(line, _)| !made(line)) {
        return Some(time::Year::OfFirst(*year));
    }
    let in_name = || years_in(path.rsplit(['/', '\\']).next().unwrap_or(path)).next().map(time::Year::OfFirst);
    in_name().or_else(|| told.first().map(|(_, year)| time::Year::OfLast(*year)))
}

/// Four digits alone that are a year of trend logs.
fn years_in(text: &str) -> impl Iterator<Item = i64> {
    text.split(|c: char| !c.is_ascii_digit())
        .filter(|d| d.len() == 4)
        .filter_map(|d| d.parse().ok())
        .filter(|y| (1990..=2099).contains(y))
}
