//! Times of one column, a line each.
//!
//! The reader of times is private to its stage, so its files are built into this module as they stand. Two ways through it are held
//! against one another: with the memory of the cell before and without, and row by row or in two halves.
#![allow(
    dead_code,
    clippy::duplicate_mod,
    reason = "what only the stage itself calls; another test builds the same files in"
)]

mod error {
    pub use offcurve::ingest::IngestError;
}
mod shape {
    /// As the stage's own.
    #[derive(Debug, Default, Clone)]
    pub(super) struct Stamps {
        pub stamps: Vec<super::time::Stamp>,
        pub lines: Vec<u32>,
    }
}
#[path = "../../src/ingest/time/mod.rs"]
mod time;
#[path = "../../src/ingest/zone.rs"]
mod zone;

use shape::Stamps;
use time::{Evidence, Moment, Parser, Place, Stamp, Told, Year, is_time_of_day, look};

/// Times of trend logs [ms UTC]: 1990 to 2099, and a day at either end for zones.
const TIMES: std::ops::RangeInclusive<i64> = 631_065_600_000..=4_102_531_200_000;
const PLACE: Place<'static> = Place { path: "a.csv", column: "Time", example: "02/03/2026 10:05" };

/// Reads a column of times and asserts what holds of every one.
pub fn check(bytes: &[u8]) {
    let cells: Vec<&[u8]> = bytes.split(|b| *b == b'\n').collect();
    let stamps = parsed(&cells);
    let evidence = weighed(&stamps);
    let lines: Vec<u32> = (1..).take(stamps.len()).collect();
    let column = Stamps { stamps, lines };
    for day_first in [None, Some(true), Some(false)] {
        for year in [None, Some(Year::OfFirst(2026)), Some(Year::OfLast(1990))] {
            placed(&evidence, &Told { day_first, year }, &column);
        }
    }
}

/// The memory of the last cell changes nothing.
fn parsed(cells: &[&[u8]]) -> Vec<Stamp> {
    let (mut with_memory, mut of_numbers) = (Parser::default(), Parser::numbers_are_times());
    let mut stamps = Vec::new();
    for cell in cells {
        let anew = Parser::default().parse(cell);
        assert_eq!(with_memory.parse(cell), anew, "{:?}", String::from_utf8_lossy(cell));
        let number_too = Parser::numbers_are_times().parse(cell);
        assert_eq!(of_numbers.parse(cell), number_too, "{:?}", String::from_utf8_lossy(cell));
        if let Some(stamp) = number_too {
            let look = look(cell).expect("what is a time has a look");
            assert!(!look.describe(true).is_empty() && !look.describe(false).is_empty());
            stamps.push(stamp);
        }
        let _ = is_time_of_day(cell);
    }
    stamps
}

/// Two halves prove what the whole does, wherever it is cut.
fn weighed(stamps: &[Stamp]) -> Evidence {
    let of = |stamps: &[Stamp]| {
        let mut evidence = Evidence::default();
        for stamp in stamps {
            evidence.add(*stamp);
        }
        evidence
    };
    let whole = of(stamps);
    for cut in [1, stamps.len() / 3, stamps.len() / 2, stamps.len().saturating_sub(1)] {
        let (head, tail) = stamps.split_at(cut.min(stamps.len()));
        let mut joined = of(head);
        joined.merge(&of(tail));
        assert_eq!(joined, whole, "cut at {cut} of {}", stamps.len());
    }
    whole
}

/// An instant a row, of the years that trend logs have, or none.
fn placed(evidence: &Evidence, told: &Told, column: &Stamps) {
    let reading = match evidence.reading(told, &PLACE) {
        Ok(reading) => reading,
        Err(error) => return assert!(!error.to_string().is_empty()),
    };
    let _ = reading.why();
    for tz in [chrono_tz::UTC, chrono_tz::Europe::Berlin, chrono_tz::Australia::Lord_Howe] {
        let _ = zone::refuse_ambiguous(tz, evidence, &PLACE);
        let (columns, _) = zone::instants(tz, &reading, vec![column.clone()]);
        let [(instants, lines)] = columns.as_slice() else { panic!("one column is one column") };
        assert_eq!((instants.len(), lines.len()), (column.stamps.len(), column.stamps.len()));
        for (instant, stamp) in instants.iter().zip(&column.stamps) {
            let none = *instant < zone::NONE_BELOW;
            assert!(none || TIMES.contains(instant), "{instant} of {stamp:?}");
            if let Moment::Instant(ms) = stamp.moment(reading.order) {
                assert_eq!(*instant, ms, "an instant is what its cell says, in any zone");
            }
        }
    }
}
