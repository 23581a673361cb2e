//! `inspect --format json`; `src/report/inspection.schema.json` is its schema.

use super::super::json::utc as instant;
use crate::ingest::LookedFile;
use crate::inspection::Inspection;
use serde::Serialize;

#[derive(Serialize)]
struct Document<'a> {
    schema: &'static str,
    version: &'static str,
    files: Vec<File<'a>>,
    points: Vec<Point<'a>>,
    notices: Vec<&'a str>,
}

#[derive(Serialize)]
struct File<'a> {
    path: &'a str,
    shape: Option<&'static str>,
    encoding: Option<&'a str>,
    delimiter: Option<&'a str>,
    decimal: Option<String>,
    header_line: Option<u64>,
    time_columns: &'a [String],
    time_format: Option<&'a str>,
    timezone: &'a str,
    rows: u64,
    cells: u64,
    used: u64,
    missing: u64,
    refused: Vec<Refused<'a>>,
    notices: &'a [String],
    error: Option<&'a str>,
}

#[derive(Serialize)]
struct Refused<'a> {
    reason: &'a str,
    count: u64,
    first_line: u64,
    example: &'a str,
}

#[derive(Serialize)]
struct Point<'a> {
    name: &'a str,
    file: &'a str,
    /// How many further files name it.
    further_files: usize,
    role: Option<&'static str>,
    of: Option<&'a str>,
    role_confidence: Option<f64>,
    why: &'a str,
    unit: Option<&'a str>,
    unit_from: Option<&'static str>,
    samples: u64,
    bad: u64,
    missing: u64,
    interval_s: Option<i64>,
    first: Option<String>,
    last: Option<String>,
    value_unit: Option<&'a str>,
    min: Option<f64>,
    mean: Option<f64>,
    max: Option<f64>,
}

/// The result as JSON.
#[must_use]
pub fn json(inspection: &Inspection) -> String {
    let looked = &inspection.looked;
    let number = |v: f64| v.is_finite().then_some(v);
    let points = looked.points.iter().zip(&inspection.points).map(|(p, u)| Point {
        name: &p.name,
        file: &looked.files[p.file].ledger.path,
        further_files: p.further_files,
        role: u.role.map(crate::plant::Role::word),
        of: u.of.as_deref(),
        role_confidence: u.role.map(|_| u.confidence),
        why: &u.why,
        unit: u.unit.as_deref(),
        unit_from: u.unit_from,
        samples: u.valid,
        bad: p.bad,
        missing: p.missing,
        interval_s: Some(p.interval_s).filter(|s| *s > 0),
        first: u.span.map(|s| instant(s.0)),
        last: u.span.map(|s| instant(s.1)),
        value_unit: u.shown_unit.as_deref(),
        min: number(u.min),
        mean: number(u.mean),
        max: number(u.max),
    });
    let document = Document {
        schema: "offcurve/inspection/1",
        version: env!("CARGO_PKG_VERSION"),
        files: looked.files.iter().map(|f| file(f, &inspection.timezone)).collect(),
        points: points.collect(),
        notices: looked.notices.iter().map(|n| n.text.as_str()).collect(),
    };
    let mut text = serde_json::to_string_pretty(&document).unwrap_or_default();
    text.push('\n');
    text
}

fn file<'a>(f: &'a LookedFile, timezone: &'a str) -> File<'a> {
    let read = f.error.is_none();
    let some = |text: &'a str| Some(text).filter(|t| read && !t.is_empty());
    File {
        path: &f.ledger.path,
        shape: Some(f.ledger.shape).filter(|s| read && !s.is_empty()),
        encoding: some(&f.encoding),
        delimiter: some(&f.delimiter),
        decimal: read.then(|| f.decimal.to_string()),
        header_line: Some(f.header_line).filter(|l| read && *l > 0),
        time_columns: &f.time_columns,
        time_format: some(&f.ledger.time_format),
        timezone,
        rows: f.ledger.rows,
        cells: f.ledger.cells,
        used: f.ledger.used,
        missing: f.ledger.missing,
        refused: f
            .ledger
            .refused
            .iter()
            .map(|r| Refused { reason: &r.reason, count: r.count, first_line: r.first_line, example: &r.example })
            .collect(),
        notices: &f.notices,
        error: f.error.as_deref(),
    }
}
