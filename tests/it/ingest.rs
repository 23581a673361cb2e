//! Trend files to trends: rows of small files with the values a reader can work out from them.
//!
//! Instants marked "zoneinfo" come from Python 3.11's `zoneinfo` with tzdata 2025b:
//! `int(datetime(y, mo, d, h, mi, tzinfo=ZoneInfo(tz), fold=f).timestamp() * 1000)`.
//! SHA-256 of "abc" is the example of FIPS 180-4 (the secure hash standard), as published with its test vectors.

use offcurve::ingest::{IngestError, Trends, from_bytes, read};
use offcurve::notice::Noticed;
use offcurve::plant::*;

/// A plant with nothing declared but its trends.
pub fn plant(points: Vec<Point>) -> Plant {
    let lisbon = chrono_tz::Europe::Lisbon;
    Plant { name: "test".into(), path: "plant.toml".into(), dir: ".".into(), points, ..Plant::bare(lisbon, None) }
}

/// A point of a role, its readings already in the role's SI unit.
pub fn point(name: &str, role: Role) -> Point {
    Point {
        name: name.into(),
        file: None,
        sheet: None,
        role,
        of: None,
        unit: None,
        accuracy: None,
        noise: None,
        percent_of: None,
        scale: 1.0,
        offset: 0.0,
        range: None,
        power_is: None,
        computed_from: vec![],
        on: vec![],
        line: 1,
    }
}

fn in_unit(mut p: Point, written: &str, dimension: Dimension, factor: f64, offset: f64) -> Point {
    p.unit = Some(Unit { written: written.into(), dimension, factor, offset });
    p
}

fn one(text: &str, plant: &Plant) -> Result<Noticed<Trends>, IngestError> {
    from_bytes(plant, &[("north.csv".to_string(), text.as_bytes())])
}

fn ok(text: &str, plant: &Plant) -> Noticed<Trends> {
    let noticed = one(text, plant).unwrap_or_else(|e| panic!("{e}\nin\n{text}"));
    balanced(&noticed.value);
    noticed
}

/// Every cell is used, missing or refused.
fn balanced(trends: &Trends) {
    for f in &trends.ledger.files {
        let refused: u64 = f.refused.iter().map(|r| r.count).sum();
        assert_eq!(f.cells, f.used + f.missing + refused, "{}: {f:?}", f.path);
        assert!(f.refused.iter().all(|r| r.count > 0 && r.first_line > 0), "{:?}", f.refused);
    }
}

/// Instants and values of the rows that hold one.
fn pairs(trends: &Trends, series: usize) -> Vec<(i64, f64)> {
    let values = trends.series[series].values.iter().enumerate();
    values.filter(|(_, v)| !v.is_nan()).map(|(i, v)| (trends.clock.at_ms(i), *v)).collect()
}

fn refused(trends: &Trends, part: &str) -> u64 {
    let all = trends.ledger.files.iter().flat_map(|f| &f.refused);
    all.filter(|r| r.reason.contains(part)).map(|r| r.count).sum()
}

fn told(noticed: &Noticed<Trends>, part: &str) {
    assert!(noticed.notices.iter().any(|n| n.text.contains(part)), "no notice with {part:?} in {:#?}", noticed.notices);
}

/// zoneinfo: 2026-03-14 00:00 Europe/Lisbon.
const MIDNIGHT: i64 = 1_773_446_400_000;
const MIN: i64 = 60_000;

#[test]
fn shapes_and_forms_give_the_same_rows() {
    let two = || plant(vec![point("P1 power", Role::PumpPower), point("CHWS", Role::SupplyTemperature)]);
    let mut month_first = two();
    month_first.trends.day_first = Some(false);
    let mut day_first = two();
    day_first.trends.day_first = Some(true);
    // Every text says: at midnight 4.5 and 6, five minutes later 4.75 and 6.25.
    let rows: &[(&str, &str, &Plant)] = &[
        ("ISO", "Time,P1 power,CHWS\n2026-03-14 00:00,4.5,6\n2026-03-14 00:05,4.75,6.25\n", &two()),
        ("T and seconds", "Time,P1 power,CHWS\n2026-03-14T00:00:00,4.5,6\n2026-03-14T00:05:00,4.75,6.25\n", &two()),
        (
            "Z; Lisbon keeps UTC in winter",
            "Time,P1 power,CHWS\n2026-03-14T00:00:00Z,4.5,6\n2026-03-14T00:05:00Z,4.75,6.25\n",
            &two(),
        ),
        ("offset", "Time,P1 power,CHWS\n2026-03-14T01:00:00+01:00,4.5,6\n2026-03-13T19:05:00-0500,4.75,6.25\n", &two()),
        ("day first by 14", "Time,P1 power,CHWS\n14/03/2026 00:00,4.5,6\n14/03/2026 00:05,4.75,6.25\n", &two()),
        ("month first by 14", "Time,P1 power,CHWS\n3/14/2026 12:00 AM,4.5,6\n3/14/2026 12:05 AM,4.75,6.25\n", &two()),
        (
            "month first, declared",
            "Time,P1 power,CHWS\n3/14/2026 12:00:00 AM,4.5,6\n3/14/2026 12:05:00 AM,4.75,6.25\n",
            &month_first,
        ),
        (
            "dots, semicolons, decimal commas",
            "Zeit;P1 power;CHWS\n14.03.2026 00:00;4,5;6\n14.03.2026 00:05;4,75;6,25\n",
            &two(),
        ),
        (
            "tabs, dashes, short year, declared: it could stand first",
            "Time\tP1 power\tCHWS\n14-03-26 00:00\t4.5\t6\n14-03-26 00:05\t4.75\t6.25\n",
            &day_first,
        ),
        ("month by name", "Time|P1 power|CHWS\n14-Mar-2026 00:00|4.5|6\n14-Mar-2026 00:05|4.75|6.25\n", &two()),
        (
            "preamble, quotes, byte-order mark, CRLF",
            "\u{feff}Report\r\n\r\n\"Time\",\"P1 power\",\"CHWS\"\r\n\"2026-03-14 00:00\",\"4.5\",\"6\"\r\n\"2026-03-14 00:05\",\"4.75\",\"6.25\"\r\n",
            &two(),
        ),
        ("time not first", "CHWS,Time,P1 power\n6,2026-03-14 00:00,4.5\n6.25,2026-03-14 00:05,4.75\n", &two()),
        (
            "date and time apart",
            "Date,Time,P1 power,CHWS\n14/03/2026,00:00:00,4.5,6\n14/03/2026,00:05:00,4.75,6.25\n",
            &two(),
        ),
        ("no end of line at the end", "Time,P1 power,CHWS\n2026-03-14 00:00,4.5,6\n2026-03-14 00:05,4.75,6.25", &two()),
        ("rows in disorder", "Time,P1 power,CHWS\n2026-03-14 00:05,4.75,6.25\n2026-03-14 00:00,4.5,6\n", &two()),
        (
            "tall",
            "timestamp,point,value\n2026-03-14 00:00,P1 power,4.5\n2026-03-14 00:00,CHWS,6\n2026-03-14 00:05,P1 power,4.75\n2026-03-14 00:05,CHWS,6.25\n",
            &two(),
        ),
        (
            "tall by point, value first",
            "value,point,timestamp\n4.5,P1 power,3/14/2026 12:00:00 AM\n4.75,P1 power,3/14/2026 12:05:00 AM\n6,CHWS,3/14/2026 12:00:00 AM\n6.25,CHWS,3/14/2026 12:05:00 AM\n",
            &two(),
        ),
        (
            "tall with a unit column",
            "timestamp,point,unit,value\n2026-03-14 00:00,P1 power,kW,4.5\n2026-03-14 00:00,CHWS,degC,6\n2026-03-14 00:05,P1 power,kW,4.75\n2026-03-14 00:05,CHWS,degC,6.25\n",
            &two(),
        ),
    ];
    for (what, text, plant) in rows {
        let trends = ok(text, plant).value;
        assert_eq!(pairs(&trends, 0), [(MIDNIGHT, 4.5), (MIDNIGHT + 5 * MIN, 4.75)], "{what}");
        assert_eq!(pairs(&trends, 1), [(MIDNIGHT, 6.0), (MIDNIGHT + 5 * MIN, 6.25)], "{what}");
        assert_eq!(trends.clock.step_s, 300, "{what}");
        assert_eq!(trends.ledger.files[0].used, 4, "{what}");
    }
}

#[test]
fn an_afternoon_hour_is_afternoon() {
    // zoneinfo: 2026-07-14 13:05 Europe/Lisbon (summer time).
    let text = "Time,kW\n7/14/2026 1:05 PM,1\n7/14/2026 1:10 PM,2\n";
    assert_eq!(pairs(&ok(text, &plant(vec![point("kW", Role::PumpPower)])).value, 0)[0].0, 1_784_030_700_000);
    // 24:00 is the next day's midnight: 1773446400000 + 24 h.
    let text = "Time,kW\n2026-03-14 23:00,1\n2026-03-14 24:00,2\n";
    assert_eq!(pairs(&ok(text, &plant(vec![point("kW", Role::PumpPower)])).value, 0)[1].0, MIDNIGHT + 24 * 60 * MIN);
}

#[test]
fn the_order_of_day_and_month_is_settled_by_the_whole_column_or_refused() {
    let p = plant(vec![point("kW", Role::PumpPower)]);
    // The first 12 days could be either; the 13th settles it: rows are one day apart only day-first.
    let days: String = (1..=13).map(|d| format!("{d:02}/04/2026 00:00,{d}\n")).collect();
    let trends = ok(&format!("Time,kW\n{days}"), &p).value;
    assert_eq!(trends.clock.step_s, 86_400);
    assert_eq!(trends.series[0].values.len(), 13);
    assert_eq!(trends.ledger.files[0].time_format, "DD/MM/YYYY HH:MM");
    let error = one("Time,kW\n04/04/2025 00:00,1\n03/04/2025 00:00,1\n", &p).expect_err("no day is above 12");
    assert_eq!(
        error.to_string(),
        "north.csv: dates in column \"Time\" are ambiguous: no day is above 12, so \"03/04/2025\" could be day-first or month-first\nhint: set day_first = true or false under [trends]; for inspect: --day-first true or false"
    );
    // 4 April is 4 April in either order.
    assert_eq!(ok("Time,kW\n04/04/2025 00:00,1\n04/04/2025 00:05,1\n", &p).value.ledger.files[0].used, 2);
    let mixed = one("Time,kW\n13/04/2025 00:00,1\n04/13/2025 00:05,1\n", &p).expect_err("both orders");
    assert!(matches!(mixed, IngestError::MixedDates { .. }), "{mixed}");
    // The other file being readable does not hide the question.
    let files = [
        ("a.csv".to_string(), &b"Time,kW\n2025-04-13 00:00,1\n2025-04-13 00:05,1\n"[..]),
        ("b.csv".to_string(), &b"Time,kW\n03/04/2025 00:00,1\n"[..]),
    ];
    assert!(matches!(from_bytes(&p, &files), Err(IngestError::AmbiguousDates { .. })));
}

#[test]
fn both_nights_when_the_clocks_change() {
    let row = |tz: chrono_tz::Tz, what: &str, text: String, expected: &[(i64, f64)]| {
        let mut p = plant(vec![point("kW", Role::PumpPower)]);
        p.trends.timezone = tz;
        p.trends.interval_s = Some(1800);
        let trends = ok(&text, &p).value;
        assert_eq!(pairs(&trends, 0), expected, "{what}");
        trends
    };
    let rows = |times: &[&str]| {
        let cells: String = times.iter().enumerate().map(|(i, t)| format!("{t},{}\n", i + 1)).collect();
        format!("Time,kW\n{cells}")
    };
    let lisbon = chrono_tz::Europe::Lisbon;
    let chicago = chrono_tz::America::Chicago;
    // All instants: zoneinfo.
    let autumn = [
        "2025-10-26 00:30",
        "2025-10-26 01:00",
        "2025-10-26 01:30",
        "2025-10-26 01:00",
        "2025-10-26 01:30",
        "2025-10-26 02:00",
    ];
    let expected = [
        (1_761_435_000_000, 1.),
        (1_761_436_800_000, 2.),
        (1_761_438_600_000, 3.),
        (1_761_440_400_000, 4.),
        (1_761_442_200_000, 5.),
        (1_761_444_000_000, 6.),
    ];
    row(lisbon, "autumn: after the step back it is winter time", rows(&autumn), &expected);
    let backwards: Vec<&str> = autumn.iter().rev().copied().collect();
    let mirrored: Vec<(i64, f64)> =
        expected.iter().rev().enumerate().map(|(i, (t, _))| (*t, i as f64 + 1.0)).rev().collect();
    row(lisbon, "the same, latest row first", rows(&backwards), &mirrored);
    row(
        chicago,
        "autumn in Chicago",
        rows(&[
            "11/2/2025 12:30 AM",
            "11/2/2025 1:00 AM",
            "11/2/2025 1:30 AM",
            "11/2/2025 1:00 AM",
            "11/2/2025 1:30 AM",
            "11/2/2025 2:00 AM",
        ])
        .replace("Time,kW\n", "Time,kW\n10/31/2025 12:00 AM,-1\n"),
        &[
            (1_761_886_800_000, -1.),
            (1_762_061_400_000, 1.),
            (1_762_063_200_000, 2.),
            (1_762_065_000_000, 3.),
            (1_762_066_800_000, 4.),
            (1_762_068_600_000, 5.),
            (1_762_070_400_000, 6.),
        ],
    );
    // Hourly rows: the second of two equal times is the second pass. On the half-hour clock each row stands for its hour.
    row(
        lisbon,
        "autumn, hourly",
        rows(&["2025-10-26 00:30", "2025-10-26 01:30", "2025-10-26 01:30", "2025-10-26 02:30"]),
        &[
            (1_761_435_000_000, 1.),
            (1_761_436_800_000, 1.),
            (1_761_438_600_000, 2.),
            (1_761_440_400_000, 2.),
            (1_761_442_200_000, 3.),
            (1_761_444_000_000, 3.),
            (1_761_445_800_000, 4.),
        ],
    );
    // Lord Howe turns back by half an hour: 01:30 and 01:45 come twice.
    let howe = row(
        chrono_tz::Australia::Lord_Howe,
        "autumn by half an hour, in the south",
        rows(&["2026-04-05 01:30", "2026-04-05 01:30", "2026-04-05 02:00"]),
        &[(1_775_313_000_000, 1.), (1_775_314_800_000, 2.), (1_775_316_600_000, 3.)],
    );
    assert_eq!(howe.clock.step_s, 1800);
    // Spring: 01:00 to 02:00 does not exist; what stands there is refused.
    let spring = row(
        lisbon,
        "spring",
        rows(&["2026-03-29 00:30", "2026-03-29 01:00", "2026-03-29 01:30", "2026-03-29 02:00"]),
        &[(1_774_744_200_000, 1.), (1_774_746_000_000, 4.)],
    );
    assert_eq!(refused(&spring, "skip"), 2);
    row(
        chicago,
        "spring in Chicago",
        rows(&["2026-03-08 01:30", "2026-03-08 03:00"]),
        &[(1_772_955_000_000, 1.), (1_772_956_800_000, 2.)],
    );
    // Tall and sorted by time: the step back is seen over all points, so a point with one row in that hour is told apart too.
    let mut p = plant(vec![point("a", Role::PumpPower), point("b", Role::PumpPower)]);
    p.trends.interval_s = Some(1800);
    let tall = "time,point,value\n2025-10-26 00:30,b,0\n2025-10-26 01:00,a,1\n2025-10-26 01:30,a,2\n2025-10-26 01:00,a,3\n2025-10-26 01:30,a,4\n2025-10-26 01:30,b,5\n2025-10-26 02:00,b,6\n";
    let b = pairs(&ok(tall, &p).value, 1);
    assert!(b.contains(&(1_761_442_200_000, 5.0)) && b.contains(&(1_761_438_600_000, 0.0)), "{b:?}");
}

#[test]
fn bad_words_and_odd_cells_are_counted_with_their_first_line() {
    let kw = || plant(vec![point("P1 power", Role::PumpPower), point("x", Role::LoopFlow)]);
    for word in ["NaN", "Bad", "Fault", "null", "--", "#N/A", "No Data", "Offline", "comm fail", "COMM FAIL", "\"Bad\""]
    {
        let text = format!(
            "Time,P1 power,x\n2026-03-14 00:00,4.5,1\n2026-03-14 00:05,{word},1\n2026-03-14 00:10,{word},1\n2026-03-14 00:15,5,1\n"
        );
        let noticed = ok(&text, &kw());
        assert_eq!(pairs(&noticed.value, 0), [(MIDNIGHT, 4.5), (MIDNIGHT + 15 * MIN, 5.0)], "{word}");
        let point = &noticed.value.ledger.points[0];
        let word = word.trim_matches('"');
        assert_eq!(
            (point.samples, point.bad, point.missing, &point.first_bad),
            (2, 2, 0, &Some((3, word.to_string())))
        );
        told(
            &noticed,
            &format!("north.csv: 2 cells of \"P1 power\" say \"{word}\" (first in line 3); treated as missing"),
        );
    }
    let cells: &[(&str, Option<f64>)] = &[
        ("1e38", Some(1e38)), // screening's to judge
        ("-9999", Some(-9999.0)),
        ("+4.5", Some(4.5)),
        (" 4.5 ", Some(4.5)),
        ("\"1,234\"", Some(1234.0)),
        ("\"1,234.5\"", Some(1234.5)),
        ("4.5 kW", Some(4.5)), // the cell carries its unit
        ("4500 W", Some(4.5)),
        ("4.5 m3/h", None), // no unit of a power
        ("inf", None),
        ("1e999", None),
        ("4.5.6", None),
        (".", None),
        ("-", None),
        ("", None),
        ("0.1", Some(0.1)),
        ("123456789012345678", Some(123_456_789_012_345_678.0)),
        ("0.30000000000000004", Some(0.300_000_000_000_000_04)),
    ];
    for (cell, expected) in cells {
        let text = format!("Time,P1 power,x\n2026-03-14 00:00,{cell},1\n2026-03-14 00:05,7,1\n");
        let values = pairs(&ok(&text, &kw()).value, 0);
        let first = values.iter().find(|(t, _)| *t == MIDNIGHT).map(|(_, v)| *v);
        assert_eq!(first, *expected, "{cell}");
    }
}

#[test]
fn plain_numbers_read_as_the_standard_library_reads_them() {
    // Second path: `str::parse`, correctly rounded. Digits from a linear congruential generator.
    let mut seed = 1u64;
    let mut next = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        seed >> 33
    };
    let texts: Vec<String> = (0..2000)
        .map(|_| {
            format!(
                "{}{}.{:0w$}",
                if next() % 2 == 0 { "-" } else { "" },
                next() % 100_000,
                next() % 1_000_000,
                w = 6 + (next() % 8) as usize
            )
        })
        .collect();
    let rows: String = texts
        .iter()
        .enumerate()
        .map(|(i, t)| format!("2026-03-14 {:02}:{:02}:{:02},{t}\n", i / 3600, i / 60 % 60, i % 60))
        .collect();
    let trends = ok(&format!("Time,kW\n{rows}"), &plant(vec![point("kW", Role::PumpPower)])).value;
    for (text, value) in texts.iter().zip(&trends.series[0].values) {
        assert_eq!(text.parse::<f64>().expect("a number").to_bits(), value.to_bits(), "{text}");
    }
}

#[test]
fn units_and_states() {
    let check = |p: Point, cell: &str, expected: f64, unit: &str| {
        let text = format!("Time,{}\n2026-03-14 00:00,{cell}\n2026-03-14 00:05,{cell}\n", p.name);
        let trends = ok(&text, &plant(vec![p])).value;
        let value = trends.series[0].values[0];
        assert!(
            (value - expected).abs() <= 1e-9 * expected.abs() || (value.is_nan() && expected.is_nan()),
            "{cell}: {value}, expected {expected}"
        );
        assert_eq!(trends.series[0].unit, unit, "{cell}");
    };
    let speed = || point("s", Role::PumpSpeed);
    check(in_unit(speed(), "%", Dimension::Fraction, 0.01, 0.0), "35", 0.35, "fraction");
    check(in_unit(speed(), "%", Dimension::Fraction, 0.01, 0.0), "35 %", 0.35, "fraction");
    check(in_unit(speed(), "Hz", Dimension::Frequency, 1.0, 0.0), "47.5", 47.5, "Hz");
    check(in_unit(speed(), "rpm", Dimension::ShaftSpeed, 1.0, 0.0), "1450", 1450.0, "rpm");
    // 212 degF is 100 degC by definition of the scales.
    check(
        in_unit(point("t", Role::SupplyTemperature), "degF", Dimension::Temperature, 5.0 / 9.0, -160.0 / 9.0),
        "212",
        100.0,
        "degC",
    );
    // 2 to 10 V mean shut to open: 4 V is (4 - 2) / 8.
    let mut volts = point("v", Role::ValvePosition);
    volts.range = Some((2.0, 10.0));
    check(volts, "4", 0.25, "fraction");
    // (3 * 2 + 4) kPa, in units of 10 kPa.
    let mut scaled = in_unit(point("h", Role::PumpHead), "x", Dimension::Pressure, 10.0, 0.0);
    (scaled.scale, scaled.offset) = (2.0, 4.0);
    check(scaled, "3", 100.0, "kPa");
    for (cell, on) in [
        ("On", 1.0),
        ("off", 0.0),
        ("Active", 1.0),
        ("Inactive", 0.0),
        ("Running", 1.0),
        ("Stopped", 0.0),
        ("TRUE", 1.0),
        ("False", 0.0),
        ("1", 1.0),
        ("0", 0.0),
        ("0.0", 0.0),
    ] {
        check(point("st", Role::PumpStatus), cell, on, "fraction");
    }
    let mut own = point("st", Role::PumpStatus);
    own.on = vec!["Marche".into()];
    check(own.clone(), "marche", 1.0, "fraction");
    check(own, "Arret", 0.0, "fraction");
    check(point("al", Role::PumpAlarm), "Fault", 1.0, "fraction");
    check(point("mo", Role::PumpMode), "Auto", 1.0, "fraction");
    check(point("mo", Role::PumpMode), "Hand", 0.0, "fraction");
}

#[test]
fn names_are_mapped_and_what_is_not_is_said() {
    let mut ignored = point("spare", Role::Ignore);
    ignored.unit = None;
    let p = plant(vec![point("P1 Power", Role::PumpPower), ignored, point("gone", Role::LoopFlow)]);
    let text = "Time, p1  power ,spare,other,P1 POWER\n2026-03-14 00:00,4,1,2,9\n2026-03-14 00:05,4,1,2,9\n";
    let noticed = ok(text, &p);
    let trends = &noticed.value;
    assert_eq!(pairs(trends, 0).len(), 2);
    assert_eq!(refused(trends, "ignored by the plant file"), 2);
    assert_eq!(refused(trends, "no [[point]] claims it"), 2);
    assert_eq!(refused(trends, "stands twice in the header"), 2);
    assert_eq!((trends.ledger.files[0].cells, trends.ledger.files[0].used), (8, 2));
    told(&noticed, "\"p1  power\" was taken for the point \"P1 Power\"");
    told(&noticed, "point \"gone\" is in no trend file");
    assert!(trends.series[1].values.iter().all(|v| v.is_nan()));
    assert_eq!(trends.series[1].name, "gone");
    // `file` narrows a name that stands in two files.
    let (mut a, mut b) = (point("kW", Role::PumpPower), point("kW", Role::PumpPower));
    (a.file, b.file) = (Some("north/*.csv".into()), Some("south/*.csv".into()));
    let text = |v: u8| format!("Time,kW\n2026-03-14 00:00,{v}\n2026-03-14 00:05,{v}\n");
    let (north, south) = (text(1), text(2));
    let files = [("north/a.csv".to_string(), north.as_bytes()), ("south/a.csv".to_string(), south.as_bytes())];
    let trends = from_bytes(&plant(vec![a, b]), &files).expect("both readable").value;
    assert_eq!((trends.series[0].values[0], trends.series[1].values[0]), (1.0, 2.0));
    let error = one("Time,other\n2026-03-14 00:00,4\n", &p).expect_err("nothing claimed");
    assert!(error.to_string().contains("its columns are \"other\""), "{error}");
}

#[test]
fn a_changed_value_holds_and_a_gap_does_not() {
    // Status changes at 00:00, 00:07, 02:00: on for 7 of the first 10 minutes' 5-minute rows.
    let p = plant(vec![point("kW", Role::PumpPower), point("st", Role::PumpStatus)]);
    let regular: String =
        (0..36).filter(|i| *i != 10).map(|i| format!("2026-03-14 {:02}:{:02},kW,{i}\n", i / 12, i * 5 % 60)).collect();
    let text = format!(
        "time,point,value\n{regular}2026-03-14 00:00,st,On\n2026-03-14 00:07,st,Off\n2026-03-14 00:09,st,On\n2026-03-14 01:00,st,Bad\n2026-03-14 02:00,st,Off\n"
    );
    let trends = ok(&text, &p).value;
    let (kw, st) = (&trends.series[0].values, &trends.series[1].values);
    assert_eq!(trends.clock.step_s, 300);
    assert_eq!(kw.len(), 36);
    // The regular point's missing row is missing.
    assert!(kw[10].is_nan() && kw[9] == 9.0 && kw[11] == 11.0);
    // 00:05 to 00:10: on for 2 + 1 of 5 minutes.
    assert!((st[1] - 0.6).abs() < 1e-12, "{}", st[1]);
    assert!(st[2..12].iter().all(|v| *v == 1.0), "held until the bad word");
    assert!(st[12..24].iter().all(|v| v.is_nan()), "a bad word ends what is held");
    assert!(st[24..36].iter().all(|v| *v == 0.0), "held to the end");
}

#[test]
fn a_held_value_ends_a_day_after_its_file() {
    // Two files: the status' file ends on 14 March 01:00, the power's runs to 16 March.
    let power: String =
        (0..48 * 3).map(|i| format!("2026-03-{:02} {:02}:{:02},1\n", 14 + i / 48, i / 2 % 24, i % 2 * 30)).collect();
    let (power, status) = (
        format!("Time,kW\n{power}"),
        "time,point,value\n2026-03-14 00:00,st,1\n2026-03-14 00:10,st,0\n2026-03-14 01:00,st,1\n",
    );
    let p = plant(vec![point("kW", Role::PumpPower), point("st", Role::PumpStatus)]);
    let files = [("a.csv".to_string(), power.as_bytes()), ("b.csv".to_string(), status.as_bytes())];
    let trends = from_bytes(&p, &files).expect("both readable").value;
    let last = trends.series[1].values.iter().rposition(|v| !v.is_nan()).expect("held");
    // 15 March 01:00 is row 2 * 25 of half-hours; the row before is the last.
    assert_eq!(last, 49);
}

#[test]
fn blank_is_missing_or_unchanged_as_declared() {
    let text = "Time,a,b\n2026-03-14 00:00,1,1\n2026-03-14 00:05,,2\n2026-03-14 00:10,,3\n2026-03-14 00:15,4,4\n2026-03-14 00:20,5,5\n2026-03-14 00:25,6,6\n2026-03-14 00:30,7,7\n2026-03-14 00:35,8,8\n2026-03-14 00:40,9,9\n";
    let mut p = plant(vec![point("a", Role::PumpPower), point("b", Role::LoopFlow)]);
    let missing = ok(text, &p).value;
    assert!(missing.series[0].values[1].is_nan());
    assert_eq!((missing.ledger.points[0].missing, missing.ledger.files[0].missing), (2, 2));
    p.trends.blank = Blank::Unchanged;
    p.trends.interval_s = Some(300);
    let unchanged = ok(text, &p).value;
    assert_eq!(unchanged.series[0].values[..4], [1.0, 1.0, 1.0, 4.0]);
    assert_eq!((unchanged.ledger.points[0].missing, unchanged.ledger.files[0].missing), (0, 0));
}

#[test]
fn finer_samples_are_averaged_and_coarser_ones_stand_for_their_interval() {
    let mut p = plant(vec![
        point("fine", Role::PumpPower),
        point("coarse", Role::SupplyTemperature),
        point("kWh", Role::PumpEnergy),
    ]);
    p.trends.interval_s = Some(300);
    let fine: String =
        (0..20).map(|m| format!("2026-03-14 00:{m:02},fine,{m}\n2026-03-14 00:{m:02},kWh,{}\n", 100 + m)).collect();
    let coarse = "2026-03-14 00:00,coarse,6\n2026-03-14 00:10,coarse,7\n";
    let trends = ok(&format!("time,point,value\n{fine}{coarse}"), &p).value;
    // (0+1+2+3+4)/5 = 2, then 7, 12, 17.
    assert_eq!(trends.series[0].values, [2.0, 7.0, 12.0, 17.0]);
    assert_eq!(trends.series[1].values, [6.0, 6.0, 7.0, 7.0]);
    // The next ten-minute reading after 00:10 is missing: nothing is known from 00:20 to 00:30.
    let gap = "2026-03-14 00:00,coarse,6\n2026-03-14 00:10,coarse,7\n2026-03-14 00:30,coarse,8\n2026-03-14 00:40,coarse,8\n2026-03-14 00:50,coarse,8\n2026-03-14 01:00,coarse,8\n2026-03-14 01:10,coarse,8\n";
    let gapped = ok(&format!("time,point,value\n{fine}{gap}"), &p).value;
    let known: Vec<bool> = gapped.series[1].values[..8].iter().map(|v| !v.is_nan()).collect();
    assert_eq!(known, [true, true, true, true, false, false, true, true]);
    // A counter is what it shows when the row starts.
    assert_eq!(trends.series[2].values, [100.0, 105.0, 110.0, 115.0]);
}

#[test]
fn polars_averages_agree_with_ours() {
    // Second path: polars' own groups by quarter hour and its own mean of each.
    use polars::prelude::*;
    let value = |i: i64| ((i * 7919) % 1000) as f64 / 7.0;
    let minutes: Vec<i64> = (0..300).filter(|m| m % 11 != 3).collect();
    let rows: String =
        minutes.iter().map(|m| format!("2026-03-14 {:02}:{:02},{}\n", m / 60, m % 60, value(*m))).collect();
    let mut p = plant(vec![point("kW", Role::PumpPower)]);
    p.trends.interval_s = Some(900);
    let ours = ok(&format!("Time,kW\n{rows}"), &p).value;
    let quarter = Column::new("quarter".into(), minutes.iter().map(|m| m / 15).collect::<Vec<_>>());
    let values = Column::new("v".into(), minutes.iter().map(|m| value(*m)).collect::<Vec<_>>());
    let frame = DataFrame::new_infer_height(vec![quarter, values]).expect("equal lengths");
    let grouped = frame.group_by_stable(["quarter"]).expect("a key").into_groups();
    let mean = frame.column("v").expect("v").f64().expect("numbers");
    let mean: Vec<f64> = grouped
        .iter()
        .filter_map(|g| match g {
            GroupsIndicator::Idx((_, all)) => mean.take(all.as_slice()).ok()?.mean(),
            GroupsIndicator::Slice([first, count]) => mean.slice(i64::from(first), count as usize).mean(),
        })
        .collect();
    let theirs = mean;
    assert_eq!(theirs.len(), ours.series[0].values.len());
    for (a, b) in theirs.iter().zip(&ours.series[0].values) {
        assert!((a - b).abs() < 1e-12 * a.abs().max(1.0), "{a} {b}");
    }
}

#[test]
fn the_same_time_twice() {
    let p = plant(vec![point("kW", Role::PumpPower)]);
    let text = "Time,kW\n2026-03-14 00:00,1\n2026-03-14 00:05,2\n2026-03-14 00:05,2\n2026-03-14 00:10,3\n2026-03-14 00:10,4\n2026-03-14 00:15,5\n";
    let trends = ok(text, &p).value;
    assert_eq!(trends.series[0].values, [1.0, 2.0, 4.0, 5.0]);
    assert_eq!((refused(&trends, "with the same value"), refused(&trends, "with another value")), (1, 1));
    assert_eq!(trends.ledger.points[0].samples, 4);
    // Over two files that overlap: the later file's value is the last.
    let (a, b) =
        ("Time,kW\n2026-03-14 00:00,1\n2026-03-14 00:05,2\n", "Time,kW\n2026-03-14 00:05,9\n2026-03-14 00:10,3\n");
    let trends = from_bytes(&p, &[("a.csv".to_string(), a.as_bytes()), ("b.csv".to_string(), b.as_bytes())])
        .expect("readable")
        .value;
    balanced(&trends);
    assert_eq!(trends.series[0].values, [1.0, 9.0, 3.0]);
    assert_eq!(trends.ledger.files[0].refused[0].first_line, 3);
}

#[test]
fn stray_times_do_not_stretch_the_record() {
    // A controller that lost its clock: one row in 1999 beside five in 2026.
    let p = plant(vec![point("kW", Role::PumpPower)]);
    let rows: String = (0..5).map(|i| format!("2026-03-14 00:{:02},1\n", i * 5)).collect();
    let noticed = ok(&format!("Time,kW\n1999-01-01 00:00,1\n{rows}"), &p);
    assert_eq!((noticed.value.clock.start_ms, noticed.value.clock.len), (MIDNIGHT, 5));
    assert_eq!(refused(&noticed.value, "more than a year apart"), 1);
    told(&noticed, "more than a year apart from the bulk");
}

#[test]
fn hostile_files_are_named_and_the_others_still_read() {
    let p = plant(vec![point("kW", Role::PumpPower)]);
    let long = format!("Time,kW\n2026-03-14 00:00,{}\n", "1".repeat(3 << 20));
    let rows: &[(&str, &[u8], &str)] = &[
        ("empty", b"", "north.csv: the file is empty"),
        ("blank lines", b"\n\n\n", "north.csv: the file is empty"),
        ("header only", b"Time,kW\n", "north.csv: line 1: no column holds times, first looked at \"Time,kW\""),
        (
            "no header",
            b"2026-03-14 00:00,1\n2026-03-14 00:05,1\n",
            "north.csv: line 1: readings start here, but no line above names the columns",
        ),
        ("NUL", b"Time,kW\n2026-03-14 00:00,1\n2026-\x00\n", "north.csv: line 3: a byte of value 0"),
        ("zip", b"PK\x03\x04abc", "north.csv: the zip archive is cut off: it stops at byte 7, before its end"),
        ("UTF-16", b"\xff\xfeT\x00i\x00", "north.csv: line 1: no column holds times, first looked at \"Ti\""),
        ("noise", b"\x01\x02\x03\xff\xfe\x80\n\x99\x98", "north.csv: line 1: no column holds times"),
        ("long line", long.as_bytes(), "north.csv: line 2: longer than the limit of 1048576 bytes"),
    ];
    let good = &b"Time,kW\n2026-03-14 00:00,1\n2026-03-14 00:05,1\n"[..];
    for (what, bytes, expected) in rows {
        let error = from_bytes(&p, &[("north.csv".to_string(), *bytes)]).expect_err(what);
        assert!(error.to_string().starts_with(expected), "{what}: {error}");
        assert!(error.to_string().contains("\nhint: "), "{what}: {error}");
        let both = from_bytes(&p, &[("north.csv".to_string(), *bytes), ("good.csv".to_string(), good)]).expect(what);
        balanced(&both.value);
        assert_eq!(both.value.series[0].values, [1.0, 1.0], "{what}");
        told(&both, "; the file was left out");
        assert_eq!(both.value.ledger.files.len(), 2, "{what}");
    }
    // A last line that was cut is not half believed.
    let cut = ok("Time,a,kW\n2026-03-14 00:00,1,1\n2026-03-14 00:05,1,2\n2026-03-14 00:10,1", &p).value;
    assert_eq!(cut.series[0].values, [1.0, 2.0]);
    assert_eq!(refused(&cut, "ends in the middle"), 2);
    // Rows of another length, a repeated header, a total at the end.
    let ragged =
        ok("Time,kW,b\n2026-03-14 00:00,1\n2026-03-14 00:05,2,3,4\nTime,kW,b\n2026-03-14 00:10,3,3\nTotal,6,9\n", &p)
            .value;
    assert_eq!(ragged.series[0].values, [1.0, 2.0, 3.0]);
    // A header that comes again is one; the total is no reading, nor is a cell that no name stands above.
    assert_eq!((refused(&ragged, "time of its row"), refused(&ragged, "its column has no name")), (2, 1));
}

#[test]
fn files_are_found_by_pattern_with_their_fingerprints() {
    let folder = crate::scratch::folder();
    std::fs::create_dir(folder.path().join("trends")).expect("made");
    let write =
        |name: &str, text: &str| std::fs::write(folder.path().join("trends").join(name), text).expect("written");
    write("b.csv", "Time,kW\n2026-03-14 00:10,3\n2026-03-14 00:15,4\n");
    write("a.csv", "Time,kW\n2026-03-14 00:00,1\n2026-03-14 00:05,2\n");
    write("c.txt", "abc");
    let mut p = plant(vec![point("kW", Role::PumpPower)]);
    p.dir = folder.path().to_path_buf();
    p.trends.files = vec!["trends/?.csv".into(), "trends/a*".into(), "trends/*.txt".into(), "nothing/*".into()];
    let noticed = read(&p, None).expect("readable");
    balanced(&noticed.value);
    let paths: Vec<&str> = noticed.value.ledger.files.iter().map(|f| f.path.as_str()).collect();
    assert_eq!(paths, ["trends/a.csv", "trends/b.csv", "trends/c.txt"]);
    assert_eq!(
        noticed.value.ledger.files[2].sha256,
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
    assert_eq!(noticed.value.series[0].values, [1.0, 2.0, 3.0, 4.0]);
    told(&noticed, "no file matches \"nothing/*\"");
    // A period: the clock spans it whole, and what lies outside is refused.
    let window = Some((MIDNIGHT + 5 * MIN, MIDNIGHT + 30 * MIN));
    let part = read(&p, window).expect("readable").value;
    balanced(&part);
    assert_eq!((part.clock.start_ms, part.clock.len), (MIDNIGHT + 5 * MIN, 5));
    assert_eq!(part.series[0].values[..3], [2.0, 3.0, 4.0]);
    assert!(part.series[0].values[3..].iter().all(|v| v.is_nan()));
    assert_eq!(refused(&part, "outside the period"), 1);
    p.trends.files = vec!["nothing/*".into()];
    let error = read(&p, None).expect_err("no file");
    assert!(error.to_string().starts_with("[trends].files: no file matches \"nothing/*\""), "{error}");
}

#[test]
fn flat_hours_are_those_of_regular_points() {
    // 7 h of one value, then 5 h of another: only the first run counts. The status is held, not flat.
    let rows: String = (0..12 * 4 + 1)
        .map(|q| format!("2026-03-14 {:02}:{:02},kW,{}\n", q / 4, q % 4 * 15, if q <= 28 { 5 } else { 6 }))
        .collect();
    let text = format!("time,point,value\n{rows}2026-03-14 00:00,st,1\n2026-03-14 00:10,st,0\n2026-03-14 11:10,st,1\n");
    let trends = ok(&text, &plant(vec![point("kW", Role::PumpPower), point("st", Role::PumpStatus)])).value;
    assert_eq!(trends.ledger.points[0].flat_hours, 7.0);
    assert_eq!(trends.ledger.points[1].flat_hours, 0.0);
    assert_eq!(trends.ledger.points[0].interval_s, 900);
}

#[test]
fn ten_thousand_damaged_files_do_not_panic() {
    let mut p = plant(vec![
        point("P1 power", Role::PumpPower),
        point("CHWS", Role::SupplyTemperature),
        point("P1 status", Role::PumpStatus),
    ]);
    p.trends.timezone = chrono_tz::America::Chicago;
    let wide: String = (0..8).map(|i| format!("3/14/2026 12:{:02} AM,4.{i},6.25,On\n", i * 5)).collect();
    let wide = format!("Time,P1 power,CHWS,P1 status\n{wide}");
    let tall: String = (0..6)
        .map(|i| format!("2026-03-08T0{i}:55:00,P1 power,4.{i}\n2026-03-08T0{i}:55:30,P1 status,Off\n"))
        .collect();
    let tall = format!("timestamp,point,value\n{tall}");
    let mut seed = 20_260_314u64;
    let mut next = |below: usize| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as usize % below
    };
    let mut read = 0;
    for round in 0..10_000 {
        let mut bytes = if round % 2 == 0 { wide.clone() } else { tall.clone() }.into_bytes();
        for _ in 0..=next(4) {
            if bytes.is_empty() {
                break;
            }
            let at = next(bytes.len());
            match next(4) {
                0 => bytes[at] = next(256) as u8,
                1 => bytes[at] = b"0123456789,;\"\n/-:. APMTZ+"[next(25)],
                2 => drop(bytes.remove(at)),
                _ => bytes.truncate(at + 1),
            }
        }
        if let Ok(noticed) = from_bytes(&p, &[("damaged.csv".to_string(), &bytes)]) {
            balanced(&noticed.value);
            read += 1;
        }
    }
    assert!(read > 3000, "only {read} of 10000 were readable, so most of the reader was not tried");
}
