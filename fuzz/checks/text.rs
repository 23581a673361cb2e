//! Exports as text, from bytes to one rising series a point.
//!
//! The first byte says what a person would have declared, counted from the character 0: bits 0 and 1 the order of day and month (0 and 3:
//! none), bit 2 that blank means unchanged, bit 3 a zone with summer time, bit 4 that points are declared. The rest is the export.

use offcurve::ingest::{IngestError, Looked, LookedFile, LookedPoint, Status, inspect_bytes};
use offcurve::plant::{Blank, Plant, Point, Role, units};

/// Times of trend logs [ms UTC]: 1990 to 2099, and a day at either end for zones.
const TIMES: std::ops::RangeInclusive<i64> = 631_065_600_000..=4_102_531_200_000;

/// What the export is called.
pub const NAME: &str = "trends/north 2026.csv";

/// Reads an export and asserts what holds of every one.
pub fn check(bytes: &[u8]) {
    let Some((plant, export)) = parted(bytes) else { return };
    match looked(&plant, export) {
        Ok(looked) => balanced(&looked),
        Err(error) => assert!(!error.to_string().trim().is_empty(), "{error:?} says nothing"),
    }
}

/// What is declared, and the export.
pub fn parted(bytes: &[u8]) -> Option<(Plant, &[u8])> {
    let (first, export) = bytes.split_first()?;
    let told = first.wrapping_sub(b'0');
    let day_first = [None, Some(true), Some(false), None][usize::from(told & 3)];
    let zone = if told & 8 == 0 { chrono_tz::UTC } else { chrono_tz::Europe::Lisbon };
    let mut plant = Plant::bare(zone, day_first);
    if told & 4 != 0 {
        plant.trends.blank = Blank::Unchanged;
    }
    if told & 16 != 0 {
        plant.points = declared();
    }
    Some((plant, export))
}

pub fn looked(plant: &Plant, export: &[u8]) -> Result<Looked, IngestError> {
    inspect_bytes(plant, &[(NAME.to_owned(), export)])
}

/// Points as the names of the seeds call them: a share, a power in another unit, a state, a counter, and one to be left alone.
pub fn declared() -> Vec<Point> {
    let point = |name: &str, role, unit: Option<&str>| Point {
        name: name.to_owned(),
        file: None,
        sheet: None,
        role,
        of: None,
        unit: unit.and_then(|u| units::unit(u).ok()),
        accuracy: None,
        noise: None,
        percent_of: None,
        scale: 1.0,
        offset: 0.0,
        range: None,
        power_is: None,
        computed_from: Vec::new(),
        on: Vec::new(),
        line: 1,
    };
    vec![
        point("P1 Speed", Role::PumpSpeed, Some("%")),
        point("P1 Power", Role::PumpPower, Some("W")),
        point("CHW Supply", Role::SupplyTemperature, Some("degF")),
        point("P1 Status", Role::PumpStatus, None),
        point("P1 Energy", Role::PumpEnergy, Some("kWh")),
        Point { file: Some("*2026.csv".to_owned()), ..point("Valve", Role::ValvePosition, None) },
        point("Notes", Role::Ignore, None),
    ]
}

fn balanced(looked: &Looked) {
    for file in &looked.files {
        cells_balance(file);
    }
    for point in &looked.points {
        assert!(point.file + point.further_files < looked.files.len(), "{}: of no file", point.name);
        rises(point, looked.files.len());
    }
}

/// Every cell is used, missing or refused.
fn cells_balance(file: &LookedFile) {
    let l = &file.ledger;
    let refused: u64 = l.refused.iter().map(|r| r.count).sum();
    assert_eq!(l.cells, l.used + l.missing + refused, "{l:?}");
    for r in &l.refused {
        assert!(r.count > 0 && r.first_line > 0 && !r.reason.is_empty(), "{r:?}");
    }
    assert!(file.error.is_some() || !l.shape.is_empty(), "{file:?}");
    assert!(file.error.as_ref().is_none_or(|e| !e.trim().is_empty()), "{file:?}");
}

/// Each instant once, in order; a reading is finite and everything else NaN.
fn rises(point: &LookedPoint, files: usize) {
    assert!(point.interval_s >= 0, "{}: {}", point.name, point.interval_s);
    let samples: Vec<_> = point.samples().collect();
    for pair in samples.windows(2) {
        assert!(pair[0].time_ms < pair[1].time_ms, "{}: {pair:?}", point.name);
    }
    for s in &samples {
        assert!(TIMES.contains(&s.time_ms) && s.file < files, "{}: {s:?}", point.name);
        let fits = if s.status == Status::Ok { s.value.is_finite() } else { s.value.is_nan() };
        assert!(fits, "{}: {s:?}", point.name);
    }
}
