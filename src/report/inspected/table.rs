//! The samples as recorded, cleaned but not resampled: a row each, as Parquet.

use super::super::{error::ReportError, parquet::bytes};
use crate::ingest::{LookedPoint, Status};
use crate::inspection::{Inspection, Understood};
use arrow::{
    array::{ArrayRef, Float64Array, StringArray, TimestampMillisecondArray},
    datatypes::{DataType, Field, Schema, TimeUnit},
    error::ArrowError,
    record_batch::RecordBatch,
};
use std::sync::Arc;

/// The file's bytes: time (UTC), file, point, role, value, unit of the value, status; by point, then time.
///
/// # Errors
/// Where the table could not be made.
pub fn table(inspection: &Inspection) -> Result<Vec<u8>, ReportError> {
    let schema = schema();
    let points = inspection.looked.points.iter().zip(&inspection.points);
    bytes("the table of samples", points.map(|(p, u)| point(inspection, p, u, &schema)))
}

/// The rows of one point: few enough to be held, however many points there are.
fn point(
    inspection: &Inspection,
    p: &LookedPoint,
    u: &Understood,
    schema: &Arc<Schema>,
) -> Result<RecordBatch, ArrowError> {
    let files = &inspection.looked.files;
    let status = |s: Status| match s {
        Status::Ok => "ok",
        Status::Bad => "bad",
        Status::Missing => "missing",
    };
    let columns: Vec<ArrayRef> = vec![
        Arc::new(TimestampMillisecondArray::from_iter_values(p.samples().map(|s| s.time_ms)).with_timezone("UTC")),
        Arc::new(StringArray::from_iter_values(p.samples().map(|s| files[s.file].ledger.path.as_str()))),
        Arc::new(StringArray::from_iter_values(p.samples().map(|_| p.name.as_str()))),
        Arc::new(StringArray::from_iter(p.samples().map(|_| u.role.map(crate::plant::Role::word)))),
        Arc::new(Float64Array::from_iter(
            p.samples().map(|s| Some(s.value * u.factor + u.offset).filter(|v| v.is_finite())),
        )),
        Arc::new(StringArray::from_iter(p.samples().map(|_| u.shown_unit.as_deref()))),
        Arc::new(StringArray::from_iter_values(p.samples().map(|s| status(s.status)))),
    ];
    RecordBatch::try_new(Arc::clone(schema), columns)
}

fn schema() -> Arc<Schema> {
    let text = |name: &str, null: bool| Field::new(name, DataType::Utf8, null);
    Arc::new(Schema::new(vec![
        Field::new("time", DataType::Timestamp(TimeUnit::Millisecond, Some("UTC".into())), false),
        text("file", false),
        text("point", false),
        text("role", true),
        Field::new("value", DataType::Float64, true),
        text("unit", true),
        text("status", false),
    ]))
}
