//! `daily.parquet`: the days behind the saving, with unit and description in every field's metadata.

use super::{json, told};
use crate::{
    report::{
        error::ReportError,
        parquet::{bytes, field, kinds, numbers},
    },
    verification::Verification,
    verify::DayRow,
};
use arrow::{
    array::{ArrayRef, BooleanArray, StringArray, TimestampMillisecondArray},
    datatypes::{DataType, Schema, TimeUnit},
    error::ArrowError,
    record_batch::RecordBatch,
};
use std::sync::Arc;

/// The file's bytes; no rows where nothing could be compared.
pub fn write(v: &Verification) -> Result<Vec<u8>, ReportError> {
    bytes("daily.parquet", [batch(v)])
}

fn batch(v: &Verification) -> Result<RecordBatch, ArrowError> {
    let days: &[DayRow] = v.saving.as_ref().map_or(&[], |s| s.days.as_slice());
    let times = |of: fn(&DayRow) -> i64| -> ArrayRef {
        Arc::new(TimestampMillisecondArray::from_iter_values(days.iter().map(of)).with_timezone("UTC"))
    };
    let number = |of: fn(&DayRow) -> f64| -> ArrayRef { numbers(days.iter().map(|d| Some(of(d)))) };
    let columns: Vec<ArrayRef> = vec![
        times(|d| d.from_ms),
        times(|d| d.to_ms),
        Arc::new(StringArray::from_iter(days.iter().map(|d| d.setting.map(told::setting)))),
        Arc::new(BooleanArray::from_iter(days.iter().map(|d| Some(d.predicted_kwh.is_finite())))),
        Arc::new(StringArray::from_iter(days.iter().map(|d| d.left_out.map(json::reason)))),
        number(|d| d.energy_kwh),
        number(|d| d.predicted_kwh),
        number(|d| d.outdoor_c),
        number(|d| d.load_kw),
    ];
    RecordBatch::try_new(Arc::new(schema()), columns)
}

fn schema() -> Schema {
    let time = || DataType::Timestamp(TimeUnit::Millisecond, Some("UTC".into()));
    let number = || DataType::Float64;
    Schema::new(vec![
        field("from", time(), false, "", "local midnight at which the day begins, UTC"),
        field("to", time(), false, "", "first instant after the day, UTC"),
        field("setting", DataType::Utf8, true, "", &kinds("which setting stood", &["before", "after"])),
        field("compared", DataType::Boolean, false, "", "whether the day entered the comparison"),
        field(
            "left_out",
            DataType::Utf8,
            true,
            "",
            &kinds("why it did not", &["part-of-a-day", "no-energy", "no-driver", "outside-driver"]),
        ),
        field("energy", number(), true, "kWh", "what the pumps used"),
        field("predicted", number(), true, "kWh", "what the old setting would have used, by every form that counts"),
        field("outdoor", number(), true, "degC", "mean outdoor temperature"),
        field("load", number(), true, "kW", "mean load, metered apart from the pumps"),
    ])
}
