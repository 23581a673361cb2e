//! The reader of times, cell by cell: forms, orders, years, zones, and both nights when the clocks change.
//!
//! The reader is private to the stage, so its files are built into this module as they stand. Expected instants come from
//! Python 3.11's `zoneinfo` with tzdata 2025b: `int(datetime(y, mo, d, h, mi, tzinfo=ZoneInfo(tz), fold=f).timestamp() * 1000)`;
//! the serial from `(datetime(2026, 3, 2, 10, 5) - datetime(1899, 12, 30)).total_seconds() / 86400`.
#![allow(dead_code, reason = "what only the stage itself calls")]

mod error {
    pub use offcurve::ingest::IngestError;
}
mod shape {
    /// As the stage's own.
    #[derive(Debug, Default)]
    pub(super) struct Stamps {
        pub stamps: Vec<super::time::Stamp>,
        pub lines: Vec<u32>,
    }
}
#[path = "../../src/ingest/time/mod.rs"]
mod time;
#[path = "../../src/ingest/zone.rs"]
mod zone;

use chrono_tz::Tz;
use error::IngestError;
use shape::Stamps;
use time::{Evidence, Moment, Order, Parser, Place, Reading, Stamp, Told, Year, is_time_of_day, look};
use zone::{Doubled, NO_DAY, SKIPPED};

const DAY_FIRST: Order = Order { day_first: true, short_year_first: false };
const MONTH_FIRST: Order = Order { day_first: false, short_year_first: false };
const YEAR_FIRST: Order = Order { day_first: true, short_year_first: true };
const PLACE: Place<'static> = Place { path: "a.csv", column: "Time", example: "02/03/2026 10:05" };

/// 2026-03-02 10:05 Europe/Berlin.
const MORNING: i64 = 1_772_442_300_000;
const MIDNIGHT: i64 = 1_772_406_000_000;
const EVENING: i64 = 1_772_485_500_000;
const AFTER_MIDNIGHT: i64 = 1_772_406_300_000;
const NOON: i64 = 1_772_449_500_000;
const NEXT_MIDNIGHT: i64 = 1_772_492_400_000;
const MORNING_1998: i64 = 888_829_500_000;
/// 2026-03-02 10:05 UTC.
const UTC: i64 = 1_772_445_900_000;

fn reading(order: Order) -> Reading {
    Reading { order, year: None, settled_by_midnights: None }
}

fn column(stamps: Vec<Stamp>) -> Stamps {
    let lines = (2..).take(stamps.len()).collect();
    Stamps { stamps, lines }
}

fn stamp(cell: &[u8]) -> Option<Stamp> {
    Parser::default().parse(cell)
}

/// The instant of one cell.
fn instant(cell: &[u8], parser: &mut Parser, tz: Tz, order: Order) -> Option<i64> {
    let stamp = parser.parse(cell)?;
    let (all, _) = zone::instants(tz, &reading(order), vec![column(vec![stamp])]);
    Some(all[0].0[0])
}

fn shown(cell: &[u8]) -> String {
    String::from_utf8_lossy(cell).into_owned()
}

/// Cells of one time, each read alone, and again by a parser that has just read it.
fn all_say(expected: i64, order: Order, tz: Tz, parser: fn() -> Parser, cells: &[&[u8]]) {
    for cell in cells {
        let mut parser = parser();
        assert_eq!(instant(cell, &mut parser, tz, order), Some(expected), "{}", shown(cell));
        assert_eq!(instant(cell, &mut parser, tz, order), Some(expected), "again: {}", shown(cell));
        assert!(look(cell).is_some(), "{}", shown(cell));
    }
}

#[test]
fn every_form_says_the_same_time() {
    let berlin = chrono_tz::Europe::Berlin;
    let say = |expected, order, cells: &[&str]| {
        let cells: Vec<&[u8]> = cells.iter().map(|c| c.as_bytes()).collect();
        all_say(expected, order, berlin, Parser::default, &cells);
    };
    #[rustfmt::skip]
    say(MORNING, DAY_FIRST, &[
        "2026-03-02 10:05", "2026-03-02T10:05", "2026-03-02T10:05:00", "2026-03-02t10:05:00", "2026-03-02 10:05:00.000",
        "2026-03-02 10:05:00,000", "2026-03-02 10:05:00.000000000", "2026-03-02 10:05:00:000", "  2026-03-02  10:05 ",
        "2026-03-02_10:05", "2026-03-02, 10:05", "2026-3-2 10:05", "2026/03/02 10:05", "2026/3/2 10:05:00", "2026.03.02 10:05",
        "2026-03-02 - 10:05", "2026-03-02-10.05.00.000000", "2026-03-02 10h05", "2026-03-02 10 h 05", "2026-03-02 10:05 h",
        "2026-03-02T100500", "2026-03-02 1005", "2026-Mar-02 10:05", "2026 Mar 02 10:05",
        "02.03.2026 10:05", "2.3.2026 10:05", "2. 3. 2026 10:05", "02/03/2026 10:05", "02-03-2026 10:05:00", "02.03.2026 10.05",
        "02.03.2026 10.05.00", "02.03.2026 10:05 Uhr", "02.03.2026, 10:05 Uhr", "02.03.2026 um 10:05 Uhr", "02/03/2026 10h05",
        "02/03/2026 à 10h05", "02/03/2026 10:05 a.m.", "02/03/2026 10:05:00 a. m.", "02/03/2026 10:05 AM", "02/03/26 10:05",
        "02.03.26 10:05", "2.3.26 10:05", "02-03-26 10:05", "02/03/2026 10:05AM", "02/03/2026 10:05\u{202f}a.\u{a0}m.",
        "20260302 100500", "20260302T100500", "20260302 10:05", "20260302-100500", "20260302 1005",
    ]);
    #[rustfmt::skip]
    say(MORNING, MONTH_FIRST, &[
        "03/02/2026 10:05", "3/2/2026 10:05 AM", "3/2/2026 10:05:00 am", "03/02/26 10:05 A.M.", "03-02-2026 10:05:00.0 AM", "3/2/2026, 10:05:00 AM",
    ]);
    say(MORNING, YEAR_FIRST, &["26-03-02 10:05", "26/03/02 10:05"]);
    #[rustfmt::skip]
    say(MORNING, DAY_FIRST, &[
        "2 Mar 2026 10:05", "02-Mar-2026 10:05:00", "02-Mar-26 10:05", "02/Mar/2026:10:05:00", "2 March 2026 10:05", "2nd March 2026 10:05",
        "02Mar2026 10:05", "02MAR2026:10:05:00", "2 Mar '26 10:05", "2.Mar.2026 10:05", "Mar 2, 2026 10:05 AM", "Mar 2 2026 10:05AM", "March 2nd, 2026 at 10:05 AM",
        "Mar. 2, 2026, 10:05 a.m.", "Mar-02-2026 10:05", "March 2, 2026 10:05:00", "Mon Mar 2 10:05:00 2026", "Mon, 02 Mar 2026 10:05:00",
        "Monday, March 2, 2026 10:05:00 AM", "Monday 2 March 2026 10:05", "Mon 02/03/2026 10:05", "Mon. 02.03.2026 10:05",
        // German, French, Spanish, Italian, Portuguese, Dutch.
        "2. März 2026 10:05 Uhr", "2. Mrz. 2026 10:05", "02-Mrz-2026 10:05", "2. Maerz 2026 10:05", "Montag, 2. März 2026 10:05", "Mo, 02.03.2026 10:05", "Mo. 2. Mär. 2026 10:05",
        "2 mars 2026 10:05", "2 mars 2026 à 10h05", "lundi 2 mars 2026 10:05:00", "lun. 2 mars 2026 10:05", "02-mars-26 10:05",
        "2 de marzo de 2026 10:05", "2 marzo 2026 10:05", "2-mar-2026 10:05", "lunes, 2 de marzo de 2026, 10:05", "lunes 2 de marzo de 2026 a las 10:05", "2 mar 2026 10:05 a. m.",
        "2 marzo 2026 10:05", "lunedì 2 marzo 2026 10:05", "lun 2 mar 2026 10.05",
        "2 de março de 2026 10:05", "02/mar/2026 10:05", "segunda-feira, 2 de março de 2026 10:05", "seg 02/03/2026 10:05", "2 de mar. de 2026 às 10:05",
        "2 maart 2026 10:05", "2 mrt 2026 10:05", "maandag 2 maart 2026 10:05", "ma 2 mrt. 2026 om 10:05 uur",
    ]);
    // Latin-1: ä, ç, ì.
    let latin: [&[u8]; 3] = [b"2. M\xe4rz 2026 10:05", b"2 de mar\xe7o de 2026 10:05", b"luned\xec 2 marzo 2026 10:05"];
    all_say(MORNING, DAY_FIRST, berlin, Parser::default, &latin);
    say(
        MIDNIGHT,
        DAY_FIRST,
        &[
            "2026-03-02",
            "02.03.2026",
            "2 Mar 2026",
            "Mar 2, 2026",
            "2026-03-02 00:00",
            "02/03/2026 12:00 AM",
            "2026-03-01 24:00",
            "20260301 240000",
        ],
    );
    say(AFTER_MIDNIGHT, DAY_FIRST, &["02/03/2026 12:05 AM", "02/03/2026 12:05am", "2026-03-02 00:05"]);
    say(NOON, DAY_FIRST, &["02/03/2026 12:05 PM", "02/03/2026 12:05 p. m."]);
    say(EVENING, DAY_FIRST, &["02/03/2026 10:05 PM", "2/3/2026 10:05:00 p.m.", "2026-03-02 22:05", "2 Mar 2026 22h05"]);
    say(
        NEXT_MIDNIGHT,
        DAY_FIRST,
        &["02.03.2026 24:00", "02/03/26 24:00:00", "2 mars 2026 24:00", "2026-03-02T24:00:00"],
    );
    say(MORNING_1998, DAY_FIRST, &["1998-03-02 10:05", "02.03.98 10:05", "2-Mar-98 10:05"]);
    say(
        MORNING + 250,
        DAY_FIRST,
        &["2026-03-02 10:05:00.25", "2026-03-02T10:05:00,250", "2026-03-02 10:05:00.250999", "02.03.2026 10:05:00,25"],
    );
    say(
        MORNING + 7_000,
        DAY_FIRST,
        &["2026-03-02 10:05:07", "20260302 100507", "02/03/2026 10h05m07s", "02/03/2026 10:05:07 AM"],
    );
    // The same in UTC: an offset or Z is taken at its word.
    #[rustfmt::skip]
    say(UTC, DAY_FIRST, &[
        "2026-03-02T10:05:00Z", "2026-03-02 10:05 UTC", "2026-03-02 10:05 GMT", "2026-03-02T11:05:00+01:00", "2026-03-02 05:05:00 -0500", "2026-03-02T11:05+01",
        "2026-03-02 11:05 GMT+1", "2026-03-02 11:05 UTC+01:00", "2026-03-02T11:05:00.000+01:00[Europe/Berlin]", "20260302T100500Z", "2 Mar 2026 10:05 UTC",
        "02/03/2026 11:05 +01:00", "02/Mar/2026:11:05:00 +0100", "02.03.2026 15:35 (+05:30)", "Mon Mar 02 11:05:00 CET 2026", "02/03/2026 05:05 AM EST", "2026-03-02 10:05\u{2212}00:00",
        "02.03.2026 11:05 MEZ", "02.03.26 11:05 (CET)", "2 Mar 2026 12:05 EET",
    ]);
}

#[test]
fn months_in_seven_languages() {
    // Names of the twelve months, from memory, as dates are written with them.
    let languages = [
        "January February March April May June July August September October November December",
        "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
        "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
        "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
        "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
        "janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro",
        "januari februari maart april mei juni juli augustus september oktober november december",
        "jan feb mar apr may jun jul aug sep oct nov dec",
        "Jan. Feb. Mär. Apr. Mai Jun. Jul. Aug. Sep. Okt. Nov. Dez.",
        "janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc.",
        "ene. feb. mar. abr. may. jun. jul. ago. sep. oct. nov. dic.",
        "gen feb mar apr mag giu lug ago set ott nov dic",
        "jan. fev. mar. abr. mai. jun. jul. ago. set. out. nov. dez.",
        "jan. feb. mrt. apr. mei jun. jul. aug. sep. okt. nov. dec.",
    ];
    for names in languages {
        for (i, name) in names.split(' ').enumerate() {
            let expected = stamp(format!("2026-{:02}-09 10:05", i + 1).as_bytes());
            let bare = name.trim_end_matches('.');
            for cell in [
                format!("9 {name} 2026 10:05"),
                format!("09-{bare}-26 10:05"),
                format!("{name} 9, 2026 10:05"),
                format!("9 {} 2026 10:05", name.to_uppercase()),
            ] {
                assert_eq!(stamp(cell.as_bytes()), expected, "{cell}");
            }
        }
    }
    // Begins the names of two months; begins none; too short.
    for word in ["jui", "mxr", "ma", "j", "sam"] {
        assert_eq!(stamp(format!("9 {word} 2026 10:05").as_bytes()), None, "{word}");
    }
}

#[test]
fn numbers_alone_are_times_only_where_the_caller_says_so() {
    let berlin = chrono_tz::Europe::Berlin;
    #[rustfmt::skip]
    let rows: &[(i64, &str, &[&str])] = &[
        // 46083.42013888889 is the serial of the morning; the others are it, rounded to fewer digits.
        (MORNING, "spreadsheet serial", &["46083.42013888889", "46083.4201389", "46083,4201389", "46083.42014", "46083.4201", "46083.420139"]),
        (MIDNIGHT, "spreadsheet serial", &["46083", "46083.0", "46083,000000"]),
        (MORNING, "Unix seconds", &["1772442300", "1772442300.0"]),
        (MORNING + 250, "Unix seconds", &["1772442300.25"]),
        (MORNING, "Unix milliseconds", &["1772442300000"]),
        (MORNING, "Unix microseconds", &["1772442300000000"]),
        (MORNING, "Unix nanoseconds", &["1772442300000000000"]),
        (MORNING_1998, "Unix seconds", &["888829500"]),
        (MORNING_1998, "Unix milliseconds", &["888829500000"]),
        (MORNING, "YYYYMMDDHHMM", &["202603021005"]),
        (MORNING, "YYYYMMDDHHMMSS", &["20260302100500"]),
        (MORNING + 250, "YYYYMMDDHHMMSSmmm", &["20260302100500250"]),
        (MIDNIGHT, "YYYYMMDD", &["20260302"]),
        (NEXT_MIDNIGHT, "YYYYMMDDHHMM", &["202603022400"]),
    ];
    for (expected, look_like, cells) in rows {
        let cells: Vec<&[u8]> = cells.iter().map(|c| c.as_bytes()).collect();
        all_say(*expected, DAY_FIRST, berlin, Parser::numbers_are_times, &cells);
        for cell in cells {
            assert_eq!(stamp(cell), None, "not without being told: {}", shown(cell));
            assert_eq!(look(cell).expect("a look").describe(true), *look_like, "{}", shown(cell));
        }
    }
    // Other forms are still read.
    all_say(MORNING, DAY_FIRST, berlin, Parser::numbers_are_times, &[b"2026-03-02 10:05", b"02.03.2026 10:05"]);
    for cell in [
        "0",
        "1",
        "43.2",
        "1999",
        "12345",
        "99999",
        "20261302",
        "20260231",
        "202603022500",
        "20260302106000",
        "123456789",
        "9999999999",
        "1772442300e0",
        "-46083",
        "46083.",
        "46083.4.2",
        "631151999",
        "4102444800",
        "",
    ] {
        let read = Parser::numbers_are_times().parse(cell.as_bytes());
        assert!(read.is_none() || cell == "46083.", "{cell}: {read:?}");
    }
    // From cells that hold numbers already.
    assert_eq!(Stamp::civil(UTC), stamp(b"2026-03-02 10:05"));
    assert_eq!(Stamp::instant(UTC), stamp(b"2026-03-02 10:05Z"));
    assert_eq!((Stamp::civil(-1), Stamp::instant(i64::MAX)), (None, None));
}

#[test]
fn what_is_no_time_is_refused() {
    let cells: &[&[u8]] = &[
        b"",
        b" ",
        b"43.2",
        b"1.2.3",
        b"12:61",
        b"10:05",
        b"Time",
        b"Mar",
        b"Mar 2",
        b"2 Mar",
        b"Mar-26",
        b"March 2026",
        b"mon",
        b"Monday",
        b"12/25",
        b"1/2",
        b"2026-13-02 10:05",
        b"2026-02-30 10:05",
        b"2026-03-02 25:00",
        b"2026-03-02 24:01",
        b"2026-03-02 10:60",
        b"2026-03-02 10:05:60",
        b"2026-03-02 10",
        b"2026-03-02 10:5",
        b"2026-03-02 13:05 PM",
        b"2026-03-02 00:05 AM",
        b"2026-03-02 10:05 XYZ",
        b"2026-03-02 10:05 +1",
        b"2026-03-02 10:05 +15:00",
        b"2026-03-02 10:05 CET+",
        b"2026-03-02 10:05 (CET",
        b"2026-03-02x10:05",
        b"2026-03-02 10:05 ok",
        b"2026-03-02/10:05",
        b"2026-03/02 10:05",
        b"02.03/2026 10:05",
        b"02 03 2026 10:05",
        b"32.03.2026 10:05",
        b"13.13.2026 10:05",
        b"0.3.2026 10:05",
        b"00/00/2026 00:00",
        b"02.03.1989 10:05",
        b"02.03.2100 10:05",
        b"02.03.202 10:05",
        b"2026-03-02 10:05:",
        b"2026-03-02 10:05.",
        b"2026-03-02 :05",
        b"x2026-03-02 10:05",
        b"P1-2026-03-02 10:05",
        b"10.20.30.40",
        b"192.168.10.26",
        b"2 foo 2026 10:05",
        b"Foo 2 March 2026 10:05",
        b"2026-03-02T",
        b"20260302",
        b"202603021005",
        b"1772442300",
        b"46083.42",
        b"2026-W10-1",
        b"02/03/2026 10:05 AM PM",
        b"2 Mar 2026 10:05 2026",
        b"Mar 2 10:05:00 CET",
        b"\xff\xfe",
        b"\x00",
        b"2026-03-02\x0010:05",
        b"2026-03-02 10:05 with quite a lot of text behind it that no time has in it",
    ];
    for cell in cells {
        let read = stamp(cell);
        let without_year = read.is_some_and(|s| s.moment(DAY_FIRST) == Moment::Never);
        assert!(read.is_none() || (without_year && cell.starts_with(b"Mar 2 10")), "{}: {read:?}", shown(cell));
    }
    for cell in ["10:05", "10:05:00", " 9:05 ", "10h05", "10:05 AM", "10:05:00,25", "24:00", "10 AM", "10:05 CET"] {
        assert!(is_time_of_day(cell.as_bytes()), "{cell}");
    }
    for cell in ["10.05", "1005", "100500", "10", "10h", "25:00", "10:05 x", "-1:05", "", "2026-03-02 10:05", "43.2"] {
        assert!(!is_time_of_day(cell.as_bytes()), "{cell}");
    }
}

#[test]
fn looks_in_words() {
    let rows: &[(&str, Order, &str)] = &[
        ("02.03.2026 10:05", DAY_FIRST, "DD.MM.YYYY HH:MM"),
        ("03/02/2026 10:05:00 AM", MONTH_FIRST, "MM/DD/YYYY hh:MM:SS AM/PM"),
        ("2026-03-02T10:05:00Z", DAY_FIRST, "YYYY-MM-DDTHH:MM:SS with offset"),
        ("26-03-02 10:05", YEAR_FIRST, "YY-MM-DD HH:MM"),
        ("26-03-02 10:05", DAY_FIRST, "DD-MM-YY HH:MM"),
        ("2 mars 2026 10h05", DAY_FIRST, "DD Mon YYYY HHhMM"),
        ("02-Mar-26 10:05", DAY_FIRST, "DD-Mon-YY HH:MM"),
        ("Mar 2, 2026 10:05 AM", DAY_FIRST, "Mon DD YYYY hh:MM AM/PM"),
        ("03/02 10:05", MONTH_FIRST, "MM/DD HH:MM without year"),
        ("2 Mar 10:05", DAY_FIRST, "DD Mon HH:MM without year"),
        ("02.03.2026 10.05", DAY_FIRST, "DD.MM.YYYY HH.MM"),
        ("20260302 100500", DAY_FIRST, "YYYYMMDD HHMMSS"),
        ("20260302T1005", DAY_FIRST, "YYYYMMDDTHHMM"),
        ("02.03.2026 10:05 MEZ", DAY_FIRST, "DD.MM.YYYY HH:MM with zone"),
        ("2026-Mar-02", DAY_FIRST, "YYYY-Mon-DD"),
        ("1772442300", DAY_FIRST, "Unix seconds"),
        ("46083.42", DAY_FIRST, "spreadsheet serial"),
    ];
    for (cell, order, expected) in rows {
        assert_eq!(look(cell.as_bytes()).expect(cell).describe(*order), *expected, "{cell}");
    }
}

// ---- order ----

fn evidence(cells: &[String]) -> (Evidence, Vec<Stamp>) {
    let mut parser = Parser::default();
    let mut evidence = Evidence::default();
    let stamps: Vec<Stamp> =
        cells.iter().map(|c| parser.parse(c.as_bytes()).unwrap_or_else(|| panic!("{c}"))).collect();
    stamps.iter().for_each(|s| _ = evidence.add(*s));
    (evidence, stamps)
}

/// Rows every `minutes` through each of these dates.
fn days(dates: &[&str], minutes: usize) -> Vec<String> {
    let times = || (0..1440).step_by(minutes).map(|m| format!("{:02}:{:02}", m / 60, m % 60));
    dates.iter().flat_map(|d| times().map(move |t| format!("{d} {t}"))).collect()
}

fn settle(cells: &[String]) -> Result<Reading, IngestError> {
    evidence(cells).0.reading(&Told::default(), &PLACE)
}

#[test]
fn an_order_is_settled_by_the_calendar_or_by_the_course_of_the_times() {
    let ambiguous = |cells: &[String]| matches!(settle(cells), Err(IngestError::AmbiguousDates { .. }));
    let order = |cells: &[String]| settle(cells).map(|r| (r.order, r.settled_by_midnights)).expect("an order");
    // By the calendar.
    assert_eq!(order(&days(&["12/02/2026", "13/02/2026"], 60)), (DAY_FIRST, None));
    assert_eq!(order(&days(&["02/12/2026", "02/13/2026"], 60)), (MONTH_FIRST, None));
    // Three days in a row, hour by hour: two midnights. Month-first they were 2 January, 2 February, 2 March.
    assert_eq!(order(&days(&["01/02/2026", "02/02/2026", "03/02/2026"], 5)), (DAY_FIRST, Some(2)));
    assert_eq!(order(&days(&["02/01/2026", "02/02/2026", "02/03/2026"], 60)), (MONTH_FIRST, Some(2)));
    let why = settle(&days(&["01/02/2026", "02/02/2026", "03/02/2026"], 5)).expect("an order").why();
    assert_eq!(
        why.as_deref(),
        Some("dates were read day-first: so the times run on evenly over 2 midnights, otherwise they jump by months")
    );
    // The latest rows first.
    let mut backwards = days(&["01/02/2026", "02/02/2026", "03/02/2026"], 15);
    backwards.reverse();
    assert_eq!(order(&backwards), (DAY_FIRST, Some(2)));
    // Tall: every time stands there for two points.
    let tall: Vec<String> =
        days(&["01/02/2026", "02/02/2026", "03/02/2026"], 15).iter().flat_map(|c| [c.clone(), c.clone()]).collect();
    assert_eq!(order(&tall), (DAY_FIRST, Some(2)));
    // One midnight is too little; so are days apart from one another, and a row a day: months apart they were as regular.
    assert!(ambiguous(&days(&["01/02/2026", "02/02/2026"], 5)));
    assert!(ambiguous(&days(&["01/02/2026", "03/04/2026", "05/06/2026"], 5)));
    assert!(ambiguous(&days(&["01/02/2026", "02/02/2026", "03/02/2026", "04/02/2026"], 1440)));
    // Only office hours: the step over the night is as long under one reading as it is odd under the other, so it settles nothing.
    let office: Vec<String> = days(&["01/02/2026", "02/02/2026", "03/02/2026"], 60)
        .into_iter()
        .filter(|c| ("08:00".."17:00").contains(&&c[11..]))
        .collect();
    assert!(ambiguous(&office));
    // Each day proves the other order.
    assert!(matches!(settle(&days(&["13/02/2026", "02/13/2026"], 60)), Err(IngestError::MixedDates { .. })));
    // Of a hundred rows and more, one is damaged.
    let mut damaged = days(&["13/02/2026"], 10);
    damaged.push("02/13/2026 10:05".into());
    assert_eq!(order(&damaged), (DAY_FIRST, None));
    // A declaration stands over the course of the times.
    let declared = Told { day_first: Some(false), year: None };
    let (proof, _) = evidence(&days(&["01/02/2026", "02/02/2026", "03/02/2026"], 5));
    assert_eq!(proof.reading(&declared, &PLACE).expect("declared").order, MONTH_FIRST);
}

#[test]
fn the_end_at_which_a_short_year_stands_is_proved_or_asked_for() {
    let order = |cells: &[String]| settle(cells).map(|r| r.order).expect("an order");
    // No year 2032 begins with a day 32; no month 26.
    assert_eq!(order(&days(&["32-03-02"], 60)), YEAR_FIRST);
    assert_eq!(order(&days(&["02-26-03"], 60)), MONTH_FIRST);
    assert_eq!(order(&days(&["13-03-98"], 60)), DAY_FIRST);
    // Days run on at the end, or at the start.
    assert_eq!(order(&days(&["26-03-02", "26-03-03"], 5)), YEAR_FIRST);
    assert_eq!(order(&days(&["14-03-26", "15-03-26"], 5)), DAY_FIRST);
    assert_eq!(order(&days(&["03-14-26", "03-15-26"], 5)), MONTH_FIRST);
    // One day, with dashes: nobody knows. With dots and slashes the year is last.
    let error = settle(&days(&["26-03-14"], 60)).expect_err("either end");
    assert_eq!(
        error.to_string(),
        "a.csv: dates in column \"Time\" are ambiguous: \"02/03/2026\" could begin or end with its year\nhint: where it ends with the year, set day_first = true or false under [trends]; else export years with four digits"
    );
    assert_eq!(order(&days(&["26.03.14"], 60)), DAY_FIRST);
    let (proof, _) = evidence(&days(&["26-03-14"], 60));
    let told = Told { day_first: Some(true), year: None };
    assert_eq!(proof.reading(&told, &PLACE).expect("declared").order, DAY_FIRST);
    // Years of two and four digits in one column.
    let mixed: Vec<String> = ["13/02/2026 10:05", "14/02/26 10:05"].map(String::from).to_vec();
    let (proof, stamps) = evidence(&mixed);
    let order = proof.reading(&Told::default(), &PLACE).expect("day-first").order;
    assert_eq!(stamps[1].moment(order), stamp(b"2026-02-14 10:05").expect("a time").moment(order));
}

#[test]
fn blocks_merge_to_what_the_rows_prove_one_by_one() {
    let mut columns = vec![
        days(&["01/02/2026", "02/02/2026", "03/02/2026"], 240),
        days(&["01/02/2026", "02/02/2026", "03/02/2026"], 1440),
        days(&["26-03-02", "26-03-03", "26-03-04"], 360),
        days(&["2026-03-02"], 240),
        [
            "02/03/2026 10:05",
            "02/03/2026 10:05",
            "03/03/2026 10:05 CET",
            "2026-03-03 10:05",
            "03/03 11:05",
            "04/03/26 01:05",
            "04/03/26 02:05",
        ]
        .map(String::from)
        .to_vec(),
    ];
    columns.push(columns[0].iter().flat_map(|c| [c.clone(), c.clone()]).collect());
    for cells in &columns {
        let (whole, stamps) = evidence(cells);
        let part = |stamps: &[Stamp]| {
            let mut part = Evidence::default();
            stamps.iter().for_each(|s| _ = part.add(*s));
            part
        };
        for first in 0..=stamps.len() {
            for second in first..=stamps.len() {
                let mut merged = Evidence::default();
                for range in [0..first, first..second, second..stamps.len()] {
                    merged.merge(&part(&stamps[range]));
                }
                assert_eq!(merged, whole, "{first} and {second} of {cells:?}");
            }
        }
    }
}

// ---- years ----

#[test]
fn years_that_are_not_written() {
    let lisbon = chrono_tz::Europe::Lisbon;
    let error = settle(&["03/02 10:05".to_string()]).expect_err("no year");
    assert!(error.to_string().contains("have no year, as in \"02/03/2026 10:05\""), "{error}");
    let read = |cells: &[&str], day_first, year| {
        let cells: Vec<String> = cells.iter().map(|c| (*c).to_string()).collect();
        let (proof, stamps) = evidence(&cells);
        let reading = proof.reading(&Told { day_first, year: Some(year) }, &PLACE).expect("a reading");
        zone::instants(lisbon, &reading, vec![column(stamps)]).0.remove(0).0.to_vec()
    };
    // 2025-12-31, 2026-01-01; 2026-12-31, 2027-01-01.
    let (old, new, later, last) = (1_767_139_200_000, 1_767_225_600_000, 1_798_675_200_000, 1_798_761_600_000);
    assert_eq!(read(&["31/12 00:00", "01/01 00:00"], None, Year::OfFirst(2025)), [old, new]);
    assert_eq!(read(&["31 Dec 00:00", "1 Jan 00:00"], None, Year::OfFirst(2025)), [old, new]);
    assert_eq!(read(&["12/31 00:00", "01/01 00:00"], None, Year::OfLast(2026)), [old, new]);
    assert_eq!(
        read(&["Jan 1 06:00", "Jan 1 00:00", "Dec 31 00:00"], None, Year::OfFirst(2026)),
        [new + 21_600_000, new, old],
        "latest rows first"
    );
    assert_eq!(read(&["1. Jan. 00:00", "31. Dez. 00:00", "30. Dez. 00:00"], None, Year::OfLast(2025))[..2], [new, old]);
    let two_years = ["31.12. 00:00", "01.01. 00:00", "30.06. 00:00", "31.12. 00:00", "01.01. 00:00"];
    let read_years = read(&two_years, None, Year::OfFirst(2025));
    assert_eq!((read_years[0], read_years[1], read_years[3], read_years[4]), (old, new, later, last));
    // A row out of order about New Year does not cost a year.
    assert_eq!(
        read(&["31/12 00:00", "01/01 00:00", "31/12 00:00", "01/01 00:00"], None, Year::OfFirst(2025)),
        [old, new, old, new]
    );
    // 29 February of no leap year.
    assert_eq!(read(&["29 Feb 10:05"], None, Year::OfFirst(2025)), [NO_DAY]);
    // Two points: in the order of lines, or a block each. 2025-03-01, 2026-02-01.
    let both = |a: &[(u32, &str)], b: &[(u32, &str)]| {
        let stamps = |rows: &[(u32, &str)]| Stamps {
            stamps: rows.iter().map(|(_, c)| stamp(c.as_bytes()).expect("a time")).collect(),
            lines: rows.iter().map(|(l, _)| *l).collect(),
        };
        let reading = Reading { order: DAY_FIRST, year: Some(Year::OfFirst(2025)), settled_by_midnights: None };
        let (all, _) = zone::instants(lisbon, &reading, vec![stamps(a), stamps(b)]);
        (all[0].0.to_vec(), all[1].0.to_vec())
    };
    let (march, february) = (1_740_787_200_000, 1_769_904_000_000);
    let sorted =
        both(&[(2, "01/03 00:00"), (3, "31/12 00:00"), (4, "01/01 00:00"), (6, "01/02 00:00")], &[(5, "01/02 00:00")]);
    assert_eq!(sorted, (vec![march, old, new, february], vec![february]));
    let blocks = both(
        &[(2, "01/03 00:00"), (3, "31/12 00:00"), (4, "01/02 00:00")],
        &[(5, "01/03 00:00"), (6, "31/12 00:00"), (7, "01/02 00:00")],
    );
    assert_eq!(blocks, (vec![march, old, february], vec![march, old, february]));
}

// ---- zones ----

#[test]
fn abbreviations_mean_what_the_plant_means_by_them() {
    use chrono_tz::{America, Asia, Europe};
    let rows: &[(&str, Tz, Option<i64>)] = &[
        ("2026-03-02 10:05 CST", America::Chicago, Some(1_772_467_500_000)),
        ("2026-03-02 10:05 CST", America::Havana, Some(1_772_463_900_000)),
        ("2026-03-02 10:05 CST", Asia::Shanghai, Some(1_772_417_100_000)),
        ("2026-03-02 10:05 CST", Europe::Lisbon, None),
        ("2026-03-02 10:05 IST", Asia::Kolkata, Some(1_772_426_100_000)),
        ("2026-03-02 10:05 IST", Asia::Jerusalem, Some(1_772_438_700_000)),
        ("2026-07-14 10:05 IST", Europe::Dublin, Some(1_784_019_900_000)),
        ("2026-07-14 10:05 BST", Europe::London, Some(1_784_019_900_000)),
        ("2026-07-14 10:05 BST", Asia::Dhaka, None),
        ("2026-07-14 10:05 PST", Asia::Manila, Some(1_783_994_700_000)),
        ("7/14/2026 10:05 AM PDT", America::Los_Angeles, Some(1_784_048_700_000)),
        // Not the plant's, but the same wherever it is used.
        ("2026-03-02 10:05 AKST", Europe::Lisbon, Some(1_772_478_300_000)),
        ("2026-03-02 10:05 EST", America::Los_Angeles, Some(1_772_463_900_000)),
        ("14.07.2026 10:05 MESZ", Europe::Lisbon, Some(1_784_016_300_000)),
        ("2026-07-14 10:05 EEST", Europe::Athens, Some(1_784_012_700_000)),
        ("2026-07-14 10:05 WEST", chrono_tz::Atlantic::Madeira, Some(1_784_019_900_000)),
        // A logger that keeps winter time says so in July: 09:05 UTC.
        ("2026-07-14 10:05 CET", Europe::Berlin, Some(1_784_019_900_000)),
        // Both passes of 02:30, and a time that the clocks skip.
        ("2025-10-26 02:30 CEST", Europe::Berlin, Some(1_761_438_600_000)),
        ("2025-10-26 02:30 CET", Europe::Berlin, Some(1_761_442_200_000)),
        ("11/2/2025 1:30 AM CDT", America::Chicago, Some(1_762_065_000_000)),
        ("11/2/2025 1:30 AM CST", America::Chicago, Some(1_762_068_600_000)),
        ("2026-03-29 02:30 CET", Europe::Berlin, Some(1_774_747_800_000)),
    ];
    for (cell, tz, expected) in rows {
        let order = if cell.contains("14/2026") || cell.contains("2/2025") { MONTH_FIRST } else { DAY_FIRST };
        let read = instant(cell.as_bytes(), &mut Parser::default(), *tz, order);
        assert_eq!(read, Some(expected.unwrap_or(NO_DAY)), "{cell} in {tz}");
        let (proof, _) = evidence(&[(*cell).to_string()]);
        let refused = zone::refuse_ambiguous(*tz, &proof, &PLACE);
        assert_eq!(refused.is_err(), expected.is_none(), "{cell} in {tz}");
    }
    let (proof, _) = evidence(&["2026-03-02 10:05 CST".to_string()]);
    let error = zone::refuse_ambiguous(Europe::Lisbon, &proof, &PLACE).expect_err("three zones");
    assert_eq!(
        error.to_string(),
        "a.csv: times in column \"Time\" end with \"CST\", which stands for several zones, none of them Europe/Lisbon\nhint: set timezone under [trends] to the zone that is meant, or export with offsets"
    );
}

/// Rows of columns: line and cell.
fn night(columns: &[&[(u32, &str)]]) -> (Vec<Vec<i64>>, Doubled) {
    let column = |rows: &&[(u32, &str)]| Stamps {
        stamps: rows.iter().map(|(_, c)| stamp(c.as_bytes()).expect("a time")).collect(),
        lines: rows.iter().map(|(l, _)| *l).collect(),
    };
    let (all, doubled) =
        zone::instants(chrono_tz::Europe::Lisbon, &reading(DAY_FIRST), columns.iter().map(column).collect());
    (all.into_iter().map(|c| c.0.to_vec()).collect(), doubled)
}

/// 2025-10-26 in Lisbon: 00:30, 01:00 and 01:30 in summer time, 01:00 and 01:30 in winter time, 02:00.
const AUTUMN: [i64; 6] =
    [1_761_435_000_000, 1_761_436_800_000, 1_761_438_600_000, 1_761_440_400_000, 1_761_442_200_000, 1_761_444_000_000];

#[test]
fn the_doubled_hour() {
    let (t0, t1, t2, t3) = ("2025-10-26 00:30", "2025-10-26 01:00", "2025-10-26 01:30", "2025-10-26 02:00");
    // Wide, and backwards.
    let wide = [(2, t0), (3, t1), (4, t2), (5, t1), (6, t2), (7, t3)];
    assert_eq!(night(&[&wide]).0[0], AUTUMN);
    let back = [(2, t3), (3, t2), (4, t1), (5, t2), (6, t1), (7, t0)];
    assert_eq!(night(&[&back]).0[0], AUTUMN.iter().rev().copied().collect::<Vec<_>>());
    // Tall, sorted by time: both points by the one step back of the file; b has one row in that hour.
    let (a, b) = ([(2, t0), (3, t1), (5, t2), (6, t1), (8, t2)], [(4, t1), (7, t1), (9, t3)]);
    let (read, doubled) = night(&[&a, &b]);
    assert_eq!((read[0].as_slice(), read[1].as_slice()), (&AUTUMN[..5], &[AUTUMN[1], AUTUMN[3], AUTUMN[5]][..]));
    assert_eq!((doubled.told, doubled.untold), (6, 0));
    // The same, the latest rows first.
    let (a, b) = ([(9, t0), (8, t1), (6, t2), (5, t1), (3, t2)], [(7, t1), (4, t1), (2, t3)]);
    let turned = |rows: &[(u32, &'static str)]| rows.iter().rev().copied().collect::<Vec<_>>();
    let (read, _) = night(&[&turned(&a), &turned(&b)]);
    assert_eq!(read[0], AUTUMN[..5].iter().rev().copied().collect::<Vec<_>>());
    assert_eq!(read[1], [AUTUMN[5], AUTUMN[3], AUTUMN[1]]);
    // A block a point: each by its own step back.
    let blocks: [&[(u32, &str)]; 2] = [&[(2, t1), (3, t2), (4, t1), (5, t2)], &[(6, t1), (7, t2), (8, t1), (9, t2)]];
    let (read, doubled) = night(&blocks);
    assert_eq!((read[0].as_slice(), read[1].as_slice(), doubled.untold), (&AUTUMN[1..5], &AUTUMN[1..5], 0));
    // Hourly rows of two points, tall: equal times, the second is the second pass.
    let hourly: [&[(u32, &str)]; 2] = [&[(2, t2), (4, t2)], &[(3, t2), (5, t2)]];
    assert_eq!(night(&hourly).0, [[AUTUMN[2], AUTUMN[4]], [AUTUMN[2], AUTUMN[4]]]);
    // Sorted by civil time: each time twice in a row.
    let sorted = [(2, t0), (3, t1), (4, t1), (5, t2), (6, t2), (7, t3)];
    assert_eq!(night(&[&sorted]).0[0], [AUTUMN[0], AUTUMN[1], AUTUMN[3], AUTUMN[2], AUTUMN[4], AUTUMN[5]]);
    // Every row of the file stands there twice: that is no second pass.
    let copied = [(2, t0), (3, t0), (4, t1), (5, t1), (6, t2), (7, t2), (8, t3), (9, t3)];
    let (read, doubled) = night(&[&copied]);
    assert_eq!(read[0], [AUTUMN[0], AUTUMN[0], AUTUMN[1], AUTUMN[1], AUTUMN[2], AUTUMN[2], AUTUMN[5], AUTUMN[5]]);
    assert_eq!((doubled.told, doubled.untold), (0, 4));
    // Once only: the first pass, and counted.
    let (read, doubled) = night(&[&[(2, t0), (3, t1), (4, t2), (5, t3)]]);
    assert_eq!((read[0].as_slice(), doubled.untold), (&[AUTUMN[0], AUTUMN[1], AUTUMN[2], AUTUMN[5]][..], 2));
    // Abbreviations and offsets need no order of rows.
    let said = [
        (2, "2025-10-26 01:30 WET"),
        (3, "2025-10-26 01:00 WEST"),
        (4, "2025-10-26T01:30+01:00"),
        (5, "2025-10-26T01:00Z"),
    ];
    assert_eq!(night(&[&said]).0[0], [AUTUMN[4], AUTUMN[1], AUTUMN[2], AUTUMN[3]]);
}

#[test]
fn the_missing_hour_and_loggers_that_keep_standard_time() {
    // 2026-03-29 in Lisbon: 00:30 is 1774744200000, 02:00 is 1774746000000.
    let spring = [
        "2026-03-29 00:00",
        "2026-03-29 00:30",
        "2026-03-29 01:00",
        "2026-03-29 01:30",
        "2026-03-29 02:00",
        "2026-03-29 02:30",
    ];
    let rows: Vec<(u32, &str)> = (2..).zip(spring).collect();
    let (read, doubled) = night(&[&rows]);
    assert_eq!(read[0], [1_774_742_400_000, 1_774_744_200_000, SKIPPED, SKIPPED, 1_774_746_000_000, 1_774_747_800_000]);
    assert!(doubled.skipped == 2 && doubled.keeps_standard_time);
    // The autumn hour twice: the clock does change, and the rows of spring are odd.
    let autumn = ["2025-10-26 01:00", "2025-10-26 01:30", "2025-10-26 01:00", "2025-10-26 01:30"];
    let both: Vec<(u32, &str)> = (2..).zip(autumn.into_iter().chain(spring)).collect();
    assert!(!night(&[&both]).1.keeps_standard_time);
    // Once only, as a clock that never changes writes it.
    let once: Vec<(u32, &str)> = (2..).zip(autumn[..2].iter().copied().chain(spring)).collect();
    assert!(night(&[&once]).1.keeps_standard_time);
    // A stray time in that hour is no habit.
    let (_, doubled) = night(&[&[
        (2, "2026-03-29 00:00"),
        (3, "2026-03-29 00:30"),
        (4, "2026-03-29 01:10"),
        (5, "2026-03-29 02:00"),
        (6, "2026-03-29 02:30"),
    ]]);
    assert!(doubled.skipped == 1 && !doubled.keeps_standard_time);
    // UTC and offsets know no missing hour.
    let utc: Vec<String> = spring.iter().map(|t| format!("{t}Z")).collect();
    let utc: Vec<(u32, &str)> = (2..).zip(utc.iter().map(String::as_str)).collect();
    assert_eq!(night(&[&utc]).1, Doubled::default());
}

// ---- properties ----

/// Numbers from a linear congruential generator (Knuth's MMIX constants).
struct Draw(u64);
impl Draw {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

#[test]
fn every_form_comes_back_for_any_time() {
    use chrono::{DateTime, Datelike, Timelike};
    let mut draw = Draw(7);
    let months =
        ["Jan", "Feb", "Mär", "avr.", "mayo", "giugno", "juil.", "Aug", "setembro", "Okt.", "november", "déc."];
    let mut numbers = Parser::numbers_are_times();
    let mut plain = Parser::default();
    for round in 0..20_000 {
        // 1990-01-01 to 2099-12-31, seconds.
        let seconds =
            631_152_000 + (draw.below(1 << 31) as i64 * 2 + draw.below(2) as i64) % (4_102_444_800 - 631_152_000);
        let t = DateTime::from_timestamp(seconds, 0).expect("in range").naive_utc();
        let (y, mo, d, h, mi, s) = (t.year(), t.month(), t.day(), t.hour(), t.minute(), t.second());
        let (h12, half) = (if h % 12 == 0 { 12 } else { h % 12 }, if h < 12 { "AM" } else { "p. m." });
        let (yy, word) = (y % 100, months[mo as usize - 1]);
        let mut rows: Vec<(String, Order)> = vec![
            (format!("{y}-{mo:02}-{d:02} {h:02}:{mi:02}:{s:02}"), DAY_FIRST),
            (format!("{y}/{mo}/{d} {h}:{mi:02}:{s:02}"), DAY_FIRST),
            (format!("{y}{mo:02}{d:02} {h:02}{mi:02}{s:02}"), DAY_FIRST),
            (format!("{y}{mo:02}{d:02}T{h:02}{mi:02}{s:02}"), DAY_FIRST),
            (format!("{d:02}.{mo:02}.{y} {h:02}:{mi:02}:{s:02}"), DAY_FIRST),
            (format!("{d}. {mo}. {y} {h:02}.{mi:02}.{s:02}"), DAY_FIRST),
            (format!("{d}/{mo}/{y} {h12}:{mi:02}:{s:02} {half}"), DAY_FIRST),
            (format!("{mo}/{d}/{y} {h12}:{mi:02}:{s:02} {half}"), MONTH_FIRST),
            (format!("{d} {word} {y} {h:02}:{mi:02}:{s:02}"), DAY_FIRST),
            (format!("{word} {d}, {y} {h12}:{mi:02}:{s:02} {half}"), DAY_FIRST),
            (format!("{d} de {word} de {y} {h}h{mi:02}m{s:02}"), DAY_FIRST),
            (format!("{y}-{word}-{d} {h:02}:{mi:02}:{s:02},000"), DAY_FIRST),
        ];
        if (1990..2090).contains(&y) {
            rows.push((format!("{d:02}-{mo:02}-{yy:02} {h:02}:{mi:02}:{s:02}"), DAY_FIRST));
            rows.push((format!("{mo:02}/{d:02}/{yy:02} {h:02}:{mi:02}:{s:02}"), MONTH_FIRST));
            rows.push((format!("{yy:02}-{mo:02}-{d:02} {h:02}:{mi:02}:{s:02}"), YEAR_FIRST));
            rows.push((format!("{d:02}-{word}-{yy:02} {h:02}:{mi:02}:{s:02}"), DAY_FIRST));
        }
        let expected = Moment::Civil(seconds * 1000);
        for (cell, order) in &rows {
            let read = plain.parse(cell.as_bytes());
            assert_eq!(read.map(|s| s.moment(*order)), Some(expected), "{cell}");
        }
        let without_year = format!("{d}/{mo} {h:02}:{mi:02}:{s:02}");
        let read = plain.parse(without_year.as_bytes()).expect("a time").in_year(DAY_FIRST, y.into());
        assert_eq!(read.moment(DAY_FIRST), expected, "{without_year}");
        let serial = (seconds as f64) / 86_400.0 + 25_569.0;
        for cell in [
            format!("{serial:.7}"),
            format!("{serial:.10}"),
            format!("{serial}").replace('.', ","),
            format!("{y}{mo:02}{d:02}{h:02}{mi:02}{s:02}"),
        ] {
            assert_eq!(numbers.parse(cell.as_bytes()).map(|s| s.moment(DAY_FIRST)), Some(expected), "{cell}");
        }
        let unit = [1_u64, 1000, 1_000_000, 1_000_000_000][round % 4];
        let mut cells = vec![(seconds as u64 * unit).to_string(), format!("{y}-{mo:02}-{d:02}T{h:02}:{mi:02}:{s:02}Z")];
        let minutes = draw.below(28 * 4) as i64 * 15 - 14 * 60;
        let local = DateTime::from_timestamp(seconds + minutes * 60, 0).expect("in range").naive_utc();
        if (1990..2100).contains(&local.year()) {
            let sign = if minutes < 0 { '-' } else { '+' };
            cells.push(format!(
                "{}{sign}{:02}:{:02}",
                local.format("%Y-%m-%dT%H:%M:%S"),
                minutes.abs() / 60,
                minutes.abs() % 60
            ));
            cells.push(format!(
                "{} {sign}{:02}{:02}",
                local.format("%d/%m/%Y %H:%M:%S"),
                minutes.abs() / 60,
                minutes.abs() % 60
            ));
        }
        for cell in cells {
            let read = numbers.parse(cell.as_bytes()).map(|s| s.moment(DAY_FIRST));
            assert_eq!(read, Some(Moment::Instant(seconds * 1000)), "{cell}");
        }
    }
}

#[test]
fn the_short_way_says_what_the_long_way_says() {
    // Cells that differ from the one before in a byte or two, so that the short way is taken or just missed.
    let starts: [&str; 8] = [
        "2026-03-02 10:05",
        "02.03.2026 10:05:00",
        "3/2/2026 9:05:00 AM",
        "2026-03-02T10:05:00.250Z",
        "02/03/26 10h05",
        "2 mars 2026 10:05 CET",
        "20260302 100500",
        "2026-03-02 10:05:00.123456",
    ];
    let mut draw = Draw(11);
    let mut numbers = 0;
    for start in starts {
        let mut parser = Parser::default();
        let mut cell = start.as_bytes().to_vec();
        for _ in 0..20_000 {
            if parser.parse(&cell).is_none() || draw.below(8) == 0 {
                cell = start.as_bytes().to_vec();
                parser.parse(&cell);
            }
            let at = draw.below(cell.len() as u64) as usize;
            cell[at] = if draw.below(10) == 0 { draw.below(256) as u8 } else { b'0' + draw.below(10) as u8 };
            let read = parser.parse(&cell);
            assert_eq!(read, stamp(&cell), "{}", shown(&cell));
            numbers += u32::from(read.is_some());
        }
    }
    assert!(numbers > 40_000, "{numbers} were times");
}

#[test]
fn no_bytes_stop_the_reader() {
    let mut draw = Draw(3);
    let alphabet = b"0123456789012345678901234567890123456789-/.: ,TZaApPmMhH+(')[]janmarfebsetoutdezmrtuhr\xe4\xc3\xa4\xe2\x80\xaf\xff\0\t\"";
    let nearly = [
        "02.03.2026 10:05",
        "2 mars 2026 10h05",
        "1772442300",
        "46083.42",
        "3/2/26 9:05 PM EST",
        "02/03 10:05",
        "2026-03-02T10:05:00+01:00",
        "26-03-02 10:05",
    ];
    let mut numbers = Parser::numbers_are_times();
    let mut plain = Parser::default();
    let (mut evidence, mut stamps) = (Evidence::default(), Vec::new());
    for round in 0..400_000 {
        let length = draw.below(if round % 100 == 0 { 200 } else { 24 });
        let mut cell: Vec<u8> = (0..length)
            .map(|_| {
                if round % 3 == 0 {
                    draw.below(256) as u8
                } else {
                    alphabet[draw.below(alphabet.len() as u64) as usize]
                }
            })
            .collect();
        if round % 5 == 0 {
            // Nearly a time.
            cell = nearly[draw.below(nearly.len() as u64) as usize].as_bytes().to_vec();
            let at = draw.below(cell.len() as u64) as usize;
            cell[at] = alphabet[draw.below(alphabet.len() as u64) as usize];
        }
        let _ = (look(&cell).map(|l| (l.describe(true), l.describe(YEAR_FIRST))), is_time_of_day(&cell));
        for read in [plain.parse(&cell), numbers.parse(&cell)].into_iter().flatten() {
            evidence.add(read);
            stamps.push(read);
        }
    }
    assert!(stamps.len() > 30_000, "{} were times", stamps.len());
    let _ = evidence.reading(&Told::default(), &PLACE);
    for order in [DAY_FIRST, MONTH_FIRST, YEAR_FIRST] {
        let reading = Reading { order, year: Some(Year::OfFirst(2026)), settled_by_midnights: None };
        let (all, _) = zone::instants(chrono_tz::Europe::Lisbon, &reading, vec![column(stamps.clone())]);
        // 1989-12-30 to 2100-01-02, in which every stamp lies.
        assert!(all[0].0.iter().all(|t| *t < zone::NONE_BELOW || (630_979_200_000..4_102_617_600_000).contains(t)));
    }
}
