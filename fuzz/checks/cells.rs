//! Cells of one line: parted, and read as every role reads them.
//!
//! The first byte is the delimiter (a comma where it is none). Numbers are held against the standard library's `str::parse`, and the short way of a plain number
//! against the long one.

use offcurve::ingest::cell::*;
use offcurve::plant::{Dimension, Point, Role, units};

/// What parts the cells of a line.
const DELIMITERS: &[u8] = b",;\t| ";

/// Parts and reads the cells of some lines and asserts what holds of all of them.
pub fn check(bytes: &[u8]) {
    let Some((first, text)) = bytes.split_first() else { return };
    let delimiter = if DELIMITERS.contains(first) { *first } else { b',' };
    let readers = readers();
    for line in text.split(|b| *b == b'\n') {
        let parted = cells(line, delimiter);
        walked(line, delimiter, parted.len());
        let mut evidence = NumberEvidence::default();
        let mut numbers = Vec::new();
        for cell in &parted {
            evidence.add(cell);
            read(&readers, cell, &mut numbers);
        }
        assert!(evidence.numbers <= parted.len() as u64, "{evidence:?}");
        let _ = (evidence.decimal(), evidence.likelier(delimiter));
        counted(&numbers);
    }
}

/// Every cell starts where the one before says, and the short way reads no number that the long one does not.
fn walked(line: &[u8], delimiter: u8, count: usize) {
    let (mut at, mut seen) = (Some(0), 0);
    while let Some(here) = at {
        let (cell, next) = cell_at(line, here, delimiter);
        assert!(next.is_none_or(|n| n > here && n <= line.len()), "{next:?} behind {here}");
        let comma = comma_number_at(line, here, delimiter).filter(|_| delimiter != b',');
        let short = [(Decimal::Point, plain_number_at(line, here, delimiter)), (Decimal::Comma, comma)];
        for (decimal, (value, end)) in short.into_iter().filter_map(|(d, s)| Some((d, s?))) {
            assert!(end >= here && end <= line.len());
            let long = std::str::from_utf8(&cell).ok().and_then(|c| number(c, decimal));
            assert_eq!(long.map(f64::to_bits), Some(value.to_bits()), "{:?}", String::from_utf8_lossy(&cell));
        }
        (at, seen) = (next, seen + 1);
    }
    assert_eq!(seen, count);
}

fn readers() -> Vec<Reader> {
    let point = |role, unit: Option<&str>, on: &[&str]| Point {
        name: "p".to_owned(),
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
        on: on.iter().map(|w| (*w).to_owned()).collect(),
        line: 1,
    };
    let points = [
        point(Role::Ignore, None, &[]),
        point(Role::PumpStatus, None, &[]),
        point(Role::PumpStatus, None, &["Run", "1"]),
        point(Role::PumpAlarm, None, &[]),
        point(Role::PumpMode, None, &[]),
        point(Role::ValvePosition, Some("%"), &[]),
        point(Role::SupplyTemperature, Some("degF"), &[]),
        point(Role::LoopFlow, Some("gpm"), &[]),
    ];
    let of = |p: &Point| {
        [Reader::new(p, true), Reader::new(p, false), Reader::with(p, Decimal::Point), Reader::with(p, Decimal::Comma)]
    };
    points.iter().flat_map(of).collect()
}

fn read(readers: &[Reader], cell: &[u8], numbers: &mut Vec<f64>) {
    let word = text(cell);
    for (i, reader) in readers.iter().enumerate() {
        let (said, by_hand) = reader.read_flagged(cell);
        match said {
            Cell::Number(n) => assert!(n.is_finite(), "{word:?}: {n}"),
            Cell::NumberIn(n, unit) => {
                assert!(n.is_finite() && units::dimension(unit.as_str()).is_some(), "{word:?}: {n} {unit:?}");
            }
            Cell::State(s) => assert!(s == 0.0 || s == 1.0, "{word:?}: {s}"),
            Cell::Blank => assert!(word.trim().is_empty(), "{word:?} is blank"),
            Cell::WrongUnit(unit) => assert!(!unit.as_str().is_empty(), "{word:?}"),
            Cell::Bad | Cell::Unknown => {}
        }
        assert!(
            !by_hand || matches!(said, Cell::Number(_) | Cell::NumberIn(..) | Cell::State(_)),
            "{word:?}: {said:?}"
        );
        if let (0, Cell::Number(n)) = (i, said) {
            numbers.push(n);
        }
    }
    parsed(&word);
    let _ = (is_reading(cell), carried_unit(cell), is_known_word(cell), is_bad_word(&word), units::proposed(&word));
    if let Ok(unit) = units::unit(&word) {
        assert!(unit.factor.is_finite() && unit.factor != 0.0 && unit.offset.is_finite(), "{unit:?}");
        assert_eq!(units::dimension(&word), Some(unit.dimension));
    }
    for wanted in [Dimension::Flow, Dimension::Pressure, Dimension::Temperature] {
        if let Ok(measured) = units::measured(&word, &[wanted]) {
            assert!(measured.si.is_finite(), "{word:?}: {measured:?}");
        }
    }
}

/// A number as programs write it is what the standard library reads, to the last bit.
fn parsed(word: &str) {
    let plain = |c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | 'e' | 'E');
    let Ok(wanted) = word.parse::<f64>() else { return };
    if word.chars().all(plain) && wanted.is_finite() && !word.starts_with('+') {
        assert_eq!(number(word, Decimal::Point).map(f64::to_bits), Some(wanted.to_bits()), "{word:?}");
    }
}

/// A number that stands for no reading is in the column, as often as is said.
fn counted(numbers: &[f64]) {
    for role in [None, Some(Role::SupplyTemperature), Some(Role::PumpEnergy)] {
        for found in sentinels(numbers, role) {
            let count = numbers.iter().filter(|n| **n == found.value).count() as u64;
            assert!(found.count == count && count > 0 && !found.reason.is_empty(), "{found:?}, {count} times");
        }
    }
}
