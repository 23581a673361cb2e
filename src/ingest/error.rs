//! What can go wrong while trends are read, in words for the person who exported them.
//!
//! Every message is `place: what was found, the rule it met`, then `hint:` with something to do.

/// Why trends could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum IngestError {
    /// No file has a name that `[trends].files` asks for.
    #[error(
        "[trends].files: no file matches {patterns} in {dir}\nhint: paths start at the folder of the plant file; `*` stands for any part of a name"
    )]
    NoFiles { patterns: String, dir: String },
    /// The operating system refused.
    #[error("{path}: could not be read: {why}\nhint: check the path, and that you may read the file")]
    Unreadable { path: String, why: String },
    /// A folder without files.
    #[error("{path}: the folder holds no files\nhint: name the exports, or the folder that holds them")]
    EmptyFolder { path: String },
    /// Nothing in it.
    #[error("{path}: the file is empty\nhint: export it again, or take it out of [trends].files")]
    Empty { path: String },
    /// Not text.
    #[error(
        "{path}: line {line}: {what}, where an export is text with one reading a cell\nhint: export as CSV in UTF-8"
    )]
    NotText { path: String, line: u64, what: &'static str },
    /// Something else than an export, known by its content.
    #[error("{path}: this is {what}, which cannot be read as an export of readings\nhint: {help}")]
    NotAnExport { path: String, what: String, help: &'static str },
    /// Behind a password.
    #[error("{path}: it is locked with a password\nhint: save or pack it without a password")]
    Locked { path: String },
    /// Ends too early.
    #[error(
        "{path}: the {what} is cut off: it stops at byte {at}, before its end\nhint: copy or export it again; it may have been copied while it was still being written"
    )]
    CutOff { path: String, what: &'static str, at: u64 },
    /// Contradicts its own format.
    #[error("{path}: the {what} is damaged{}: {why}\nhint: copy or export it again", near(*at))]
    Damaged { path: String, what: &'static str, at: u64, why: String },
    /// Made to swell.
    #[error(
        "{path}: it unpacks to more than {written} bytes from {read}, which no export does\nhint: check where the file comes from; unpack it yourself if it is sound"
    )]
    Swells { path: String, written: u64, read: u64 },
    /// Archives in archives in archives.
    #[error("{path}: it lies too deep: an archive may hold one further archive\nhint: unpack the outer archive")]
    TooDeep { path: String },
    /// A member of an archive whose name leads elsewhere.
    #[error(
        "{path}: its name climbs out of the archive (\"..\", a root or a drive), which no export's does\nhint: check where the archive comes from; unpack it yourself if it is sound"
    )]
    Climbs { path: String },
    /// Must be held whole to be read.
    #[error("{path}: it is longer than {limit} bytes, too long to be read inside an archive\nhint: unpack it")]
    TooLargeInside { path: String, limit: u64 },
    /// A line longer than any export has.
    #[error(
        "{path}: line {line}: longer than the limit of {limit} bytes, which no row of an export is\nhint: check that the lines of the file end as they should"
    )]
    LongLine { path: String, line: u64, limit: usize },
    /// More columns than any export has.
    #[error(
        "{path}: line {line}: {columns} columns, more than the limit of {limit}\nhint: check which sign stands between the cells, or export fewer points to a file"
    )]
    TooManyColumns { path: String, line: u64, columns: usize, limit: usize },
    /// No column of times.
    #[error(
        "{path}: line {line}: no column holds times, first looked at {seen}\nhint: every row needs a time, such as 2026-03-01 00:05, 03/01/2026 12:05 AM or 1.3.2026 00:05"
    )]
    NoTimes { path: String, line: u64, seen: String },
    /// Times, but nothing that names the columns.
    #[error(
        "{path}: line {line}: readings start here, but no line above names the columns\nhint: export with a header line"
    )]
    NoHeader { path: String, line: u64 },
    /// The plant file says that samples stand in rows, and they do not.
    #[error(
        "{path}: line {line}: no column here holds point names beside one of readings\nhint: take shape = \"tall\" out of [trends], or keep this export in a folder and plant file of its own"
    )]
    NotTall { path: String, line: u64 },
    /// Day and month cannot be told apart.
    #[error(
        "{path}: dates in column \"{column}\" are ambiguous: no day is above 12, so \"{example}\" could be day-first or month-first\nhint: set day_first = true or false under [trends]; for inspect: --day-first true or false"
    )]
    AmbiguousDates { path: String, column: String, example: String },
    /// Dates of both orders.
    #[error(
        "{path}: dates in column \"{column}\" are mixed: of {of}, {day_first} can only be day-first and {month_first} only month-first\nhint: split the file, or set day_first = true or false under [trends]: rows of the other order are then left out"
    )]
    MixedDates { path: String, column: String, day_first: u64, month_first: u64, of: u64 },
    /// The year of two digits may stand at either end.
    #[error(
        "{path}: dates in column \"{column}\" are ambiguous: \"{example}\" could begin or end with its year\nhint: where it ends with the year, set day_first = true or false under [trends]; else export years with four digits"
    )]
    AmbiguousYears { path: String, column: String, example: String },
    /// Dates without a year, and nothing that tells it.
    #[error(
        "{path}: dates in column \"{column}\" have no year, as in \"{example}\", and neither the lines above nor the file's name tell it\nhint: put the year of the first row into the file's name, as in trends-2026.csv"
    )]
    NoYear { path: String, column: String, example: String },
    /// An abbreviation that stands for several zones.
    #[error(
        "{path}: times in column \"{column}\" end with \"{word}\", which stands for several zones, none of them {timezone}\nhint: set timezone under [trends] to the zone that is meant, or export with offsets"
    )]
    AmbiguousZone { path: String, column: String, word: &'static str, timezone: String },
    /// Every file was lost.
    #[error("none of {count} trend files could be read; the first: {first}")]
    AllLost { count: usize, first: Box<IngestError> },
    /// Files were read, but hold no valid reading of any declared point.
    #[error(
        "{path}: no valid reading of any of the {points} [[point]]s; its columns are {columns}\nhint: check that each [[point]] has the name that the export uses, letter by letter, and that those columns hold readings"
    )]
    NothingClaimed { path: String, points: usize, columns: String },
    /// Points, but not one reading.
    #[error(
        "{path}: line {line}: no cell of its {points} points is a reading, only blanks and words for bad readings such as \"{word}\"\nhint: export a period in which the points were recorded"
    )]
    NoReadings { path: String, points: usize, line: u64, word: String },
    /// A clock with more rows than anyone trends.
    #[error(
        "the record runs over {days} days, which is {rows} rows at an interval of {step_s} s; at most {limit} are possible\nhint: set a longer interval under [trends], or review a shorter period with --from and --to"
    )]
    TooLong { days: i64, step_s: i64, rows: i64, limit: i64 },
    /// A header of many columns above rows of a few cells.
    #[error(
        "{path}: line {line}: the rows up to here hold far fewer cells than the header names columns\nhint: check that the same sign stands between the cells of header and rows, and export again"
    )]
    ShortRows { path: String, line: u64 },
    /// More than the program will hold.
    #[error(
        "{path}: line {line}: more than {held} readings up to here, more than a review can hold\nhint: name fewer files or points, or make the export's interval longer; a year of one plant is enough"
    )]
    TooMuch { path: String, line: u64, held: usize },
    /// The alignment itself failed.
    #[error(
        "point \"{point}\": could not be laid on the clock: {why}\nhint: this is a defect of offcurve, not of your data; please report it with the file"
    )]
    Alignment { point: String, why: String },
}

impl IngestError {
    /// The person must decide: reading the other files alone would hide it.
    pub(super) fn stops_everything(&self) -> bool {
        matches!(
            self,
            Self::AmbiguousDates { .. }
                | Self::MixedDates { .. }
                | Self::AmbiguousYears { .. }
                | Self::AmbiguousZone { .. }
        )
    }
}

/// Where a file is damaged, if that is known.
fn near(at: u64) -> String {
    if at > 0 { format!(" near byte {at}") } else { String::new() }
}
