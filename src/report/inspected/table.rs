//! The samples as recorded, cleaned but not resampled: a row each, as Parquet.

use super::super::{error::ReportError, parquet::bytes};
use crate::ingest::Status;
use crate::inspection::Inspection;
use arrow::{
    array::{ArrayRef, Float64Array, StringArray, TimestampMillisecondArray},
    datatypes::{DataType, Field, Schema, TimeUnit},
    record_batch::RecordBatch,
};
use std::sync::Arc;

/// The file's bytes: time (UTC), file, point, role, value, unit of the value, status; by point, then time.
///
/// # Errors
/// Where the table could not be made.
pub fn table(inspection: &Inspection) -> Result<Vec<u8>, ReportError> {
    let looked = &inspection.looked;
    let lines: Vec<_> = looked
        .points
        .iter()
        .zip(&inspection.points)
        .flat_map(|(p, u)| p.samples.iter().map(move |s| (p, u, s)))
        .collect();
    let lines = || lines.iter().copied();
    let status = |s: Status| match s {
        Status::Ok => "ok",
        Status::Bad => "bad",
        Status::Missing => "missing",
    };
    let columns: Vec<ArrayRef> = vec![
        Arc::new(TimestampMillisecondArray::from_iter_values(lines().map(|(_, _, s)| s.time_ms)).with_timezone("UTC")),
        Arc::new(StringArray::from_iter_values(lines().map(|(_, _, s)| looked.files[s.file].ledger.path.as_str()))),
        Arc::new(StringArray::from_iter_values(lines().map(|(p, ..)| p.name.as_str()))),
        Arc::new(StringArray::from_iter(lines().map(|(_, u, _)| u.role.map(crate::plant::Role::word)))),
        Arc::new(Float64Array::from_iter(
            lines().map(|(_, u, s)| Some(s.value * u.factor + u.offset).filter(|v| v.is_finite())),
        )),
        Arc::new(StringArray::from_iter(lines().map(|(_, u, _)| u.shown_unit.as_deref()))),
        Arc::new(StringArray::from_iter_values(lines().map(|(_, _, s)| status(s.status)))),
    ];
    let text = |name: &str, null: bool| Field::new(name, DataType::Utf8, null);
    let schema = Schema::new(vec![
        Field::new("time", DataType::Timestamp(TimeUnit::Millisecond, Some("UTC".into())), false),
        text("file", false),
        text("point", false),
        text("role", true),
        Field::new("value", DataType::Float64, true),
        text("unit", true),
        text("status", false),
    ]);
    bytes("the table of samples", RecordBatch::try_new(Arc::new(schema), columns))
}
