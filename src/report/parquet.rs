//! `operating-points.parquet`: one row a pump and interval, with unit and description in every field's metadata.

use super::{
    error::ReportError,
    readings::{self, Reading},
    words,
};
use crate::{
    operating::{Basis, PumpPoints, State},
    pipeline::Review,
    regimes::PumpRegimes,
};
use arrow::{
    array::{ArrayRef, BooleanArray, Float32Array, Float64Array, StringArray, TimestampMillisecondArray},
    buffer::{BooleanBuffer, NullBuffer},
    datatypes::{DataType, Field, Schema, TimeUnit},
    record_batch::RecordBatch,
};
use parquet::{
    arrow::ArrowWriter,
    basic::Compression,
    errors::ParquetError,
    file::{metadata::KeyValue, properties::WriterProperties},
    schema::types::ColumnPath,
};
use std::{
    collections::HashMap,
    io::{self, Write},
    ops::Range,
    sync::Arc,
};

/// Lines that become one batch: a long record's table is never held whole beside the record.
const BATCH: usize = 1 << 16;

/// The table's name in a result's folder.
pub const NAME: &str = "operating-points.parquet";

/// Writes the table, batch by batch, and hands the writer back; its metadata carry what is declared of the plant under `facts`, as JSON.
pub fn write<W: Write + Send>(review: &Review, to: W) -> Result<W, ReportError> {
    let readings = readings::beside(review);
    let facts = KeyValue::new("facts".to_owned(), readings::facts::write(review, &readings));
    let lines = Lines::of(review);
    let batches = (0..lines.len().max(1)).step_by(BATCH);
    into(NAME, Some(vec![facts]), batches.map(|from| batch(review, &lines.part(from), &readings)), to)
}

/// A table as a file, batch by batch; all batches have the first one's columns.
pub(super) fn bytes(
    name: &'static str,
    batches: impl IntoIterator<Item = Result<RecordBatch, arrow::error::ArrowError>>,
) -> Result<Vec<u8>, ReportError> {
    into(name, None, batches, Vec::new())
}

fn into<W: Write + Send>(
    name: &'static str,
    metadata: Option<Vec<KeyValue>>,
    batches: impl IntoIterator<Item = Result<RecordBatch, arrow::error::ArrowError>>,
    to: W,
) -> Result<W, ReportError> {
    let table =
        |e: &dyn std::fmt::Display| ReportError::Table { name, why: format!("the table could not be made ({e})") };
    // A full disk is no defect of the program.
    let refused = |e: ParquetError| match &e {
        ParquetError::External(inner) => match inner.downcast_ref::<io::Error>() {
            Some(e) => ReportError::file(name, "write", e),
            None => table(&e),
        },
        _ => table(&e),
    };
    let mut batches = batches.into_iter();
    let batch = batches.next().unwrap_or_else(|| Ok(RecordBatch::new_empty(Arc::new(Schema::empty()))));
    let batch = batch.map_err(|e| table(&e))?;
    // Measured numbers hardly repeat: a dictionary of them is work for nothing. Words do.
    let words = batch
        .schema()
        .fields()
        .iter()
        .filter(|f| *f.data_type() == DataType::Utf8)
        .map(|f| f.name().clone())
        .collect::<Vec<_>>();
    let plain = WriterProperties::builder().set_compression(Compression::SNAPPY).set_dictionary_enabled(false);
    let properties = words
        .into_iter()
        .fold(plain, |p, name| p.set_column_dictionary_enabled(ColumnPath::from(name), true))
        .set_created_by(concat!("offcurve ", env!("CARGO_PKG_VERSION")).to_owned())
        .set_key_value_metadata(metadata)
        .build();
    let mut writer = ArrowWriter::try_new(to, batch.schema(), Some(properties)).map_err(refused)?;
    writer.write(&batch).map_err(refused)?;
    for batch in batches {
        writer.write(&batch.map_err(|e| table(&e))?).map_err(refused)?;
    }
    writer.into_inner().map_err(refused)
}

/// Which pump and row of the clock a line of the table comes from; by time, then pump.
struct Lines {
    /// In the order of their names.
    pumps: Vec<usize>,
    /// Those of the period.
    rows: Range<usize>,
}

impl Lines {
    fn of(review: &Review) -> Self {
        let mut pumps: Vec<usize> = (0..review.points.pumps.len()).collect();
        pumps.sort_by(|&a, &b| review.points.pumps[a].pump.cmp(&review.points.pumps[b].pump));
        let inside = |row: &usize| (review.from_ms..review.to_ms).contains(&review.clock.at_ms(*row));
        let first = (0..review.clock.len).find(inside).unwrap_or(review.clock.len);
        let last = (first..review.clock.len).rfind(inside).map_or(first, |row| row + 1);
        Self { pumps, rows: first..last }
    }
    fn len(&self) -> usize {
        self.rows.len() * self.pumps.len()
    }
    /// The lines of one batch: pump and row.
    fn part(&self, from: usize) -> Vec<(usize, usize)> {
        let n = self.pumps.len();
        (from..(from + BATCH).min(self.len())).map(|line| (self.pumps[line % n], self.rows.start + line / n)).collect()
    }
}

/// Lines of the table as a typed batch.
fn batch(
    review: &Review,
    lines: &[(usize, usize)],
    readings: &[Reading],
) -> Result<RecordBatch, arrow::error::ArrowError> {
    let pumps = &review.points.pumps;
    let regimes: Vec<Option<&PumpRegimes>> =
        pumps.iter().map(|p| review.regimes.pumps.iter().find(|r| r.pump == p.pump)).collect();
    let of_pump = |column: fn(&PumpPoints) -> &[f64]| -> ArrayRef {
        let columns: Vec<&[f64]> = pumps.iter().map(column).collect();
        known(lines.iter().map(|&(p, row)| columns[p].get(row).copied().unwrap_or(f64::NAN)).collect())
    };
    let of_loop = |column: &[f64]| -> ArrayRef {
        known(lines.iter().map(|&(_, row)| column.get(row).copied().unwrap_or(f64::NAN)).collect())
    };
    let system = &review.points.system;
    let mut columns: Vec<ArrayRef> = vec![
        Arc::new(
            TimestampMillisecondArray::from_iter_values(lines.iter().map(|&(_, row)| review.clock.at_ms(row)))
                .with_timezone("UTC"),
        ),
        Arc::new(StringArray::from_iter_values(lines.iter().map(|&(p, _)| pumps[p].pump.as_str()))),
        of_pump(|p| &p.speed),
        of_pump(|p| &p.flow_m3h),
        of_pump(|p| &p.flow_low_m3h),
        of_pump(|p| &p.flow_high_m3h),
        of_pump(|p| &p.head_kpa),
        of_pump(|p| &p.head_low_kpa),
        of_pump(|p| &p.head_high_kpa),
        of_pump(|p| &p.power_kw),
        of_pump(|p| &p.efficiency),
        known({
            let asked = |&(p, row): &(usize, usize)| regimes[p].and_then(|r| r.curve_head_kpa.get(row)).copied();
            lines.iter().map(|line| asked(line).unwrap_or(f64::NAN)).collect()
        }),
        Arc::new(StringArray::from_iter(
            lines.iter().map(|&(p, row)| regimes[p].and_then(|r| r.regime.get(row)).map(|&r| words::regime_code(r))),
        )),
        Arc::new(BooleanArray::from_iter(
            lines.iter().map(|&(p, row)| pumps[p].state.get(row).map(|&s| s == State::Steady)),
        )),
        Arc::new(StringArray::from_iter(
            lines.iter().map(|&(p, row)| pumps[p].basis.get(row).filter(|&&b| b != Basis::None).map(|b| b.word())),
        )),
        of_loop(&system.flow_m3h),
        of_loop(&system.flow_low_m3h),
        of_loop(&system.flow_high_m3h),
        of_pump(|p| &p.flow_sd_common_m3h),
        of_pump(|p| &p.head_sd_common_kpa),
    ];
    columns.extend(readings.iter().map(|r| -> ArrayRef {
        let values: Vec<f32> = lines.iter().map(|&(p, row)| r.at(p, row).unwrap_or(f32::NAN)).collect();
        let there = nulls(values.iter().map(|v| v.is_finite()));
        Arc::new(Float32Array::new(values.into(), there))
    }));
    RecordBatch::try_new(Arc::new(schema(readings)), columns)
}

/// A column in which what is not finite is null.
fn known(mut values: Vec<f64>) -> ArrayRef {
    let there = nulls(values.iter().map(|v| v.is_finite()));
    values.iter_mut().filter(|v| !v.is_finite()).for_each(|v| *v = 0.0);
    Arc::new(Float64Array::new(values.into(), there))
}

/// Which values are there; nothing where all are.
fn nulls(there: impl ExactSizeIterator<Item = bool>) -> Option<NullBuffer> {
    Some(NullBuffer::new(BooleanBuffer::from_iter(there))).filter(|n| n.null_count() > 0)
}

pub(super) fn numbers(values: impl Iterator<Item = Option<f64>>) -> ArrayRef {
    Arc::new(Float64Array::from_iter(values.map(|v| v.filter(|v| v.is_finite()))))
}

/// Names, types, units and descriptions, in order.
fn schema(readings: &[Reading]) -> Schema {
    let time = DataType::Timestamp(TimeUnit::Millisecond, Some("UTC".into()));
    let number = DataType::Float64;
    let text = DataType::Utf8;
    let mut fields = vec![
        field("time", time, false, "", "start of the interval, UTC"),
        field("pump", text.clone(), false, "", "the pump's name"),
        field("speed", number.clone(), true, "1", "shaft speed over rated speed"),
        field("flow", number.clone(), true, "m3/h", "flow through the pump"),
        field("flow_low", number.clone(), true, "m3/h", "flow, lower end of the 95 % interval"),
        field("flow_high", number.clone(), true, "m3/h", "flow, upper end of the 95 % interval"),
        field("head", number.clone(), true, "kPa", "head of the pump as a pressure at the loop fluid's density"),
        field("head_low", number.clone(), true, "kPa", "head, lower end of the 95 % interval"),
        field("head_high", number.clone(), true, "kPa", "head, upper end of the 95 % interval"),
        field("power", number.clone(), true, "kW", "electric power at the drive's input, as trended or reconstructed"),
        field("efficiency", number.clone(), true, "1", "hydraulic power over electric power (wire to water)"),
        field(
            "curve_head",
            number.clone(),
            true,
            "kPa",
            "head that the configured control curve asks at the loop's flow",
        ),
        field(
            "regime",
            text.clone(),
            true,
            "",
            &kinds("where the pump ran against its control curve", &words::REGIMES.map(words::regime_code)),
        ),
        field("steady", DataType::Boolean, true, "", "whether the pump ran steadily over the interval"),
        field("basis", text, true, "", &kinds("which measurements fixed the point, joined by +", &Basis::vocabulary())),
        field("loop_flow", number.clone(), true, "m3/h", "flow of all pumps together"),
        field(
            "loop_flow_low",
            number.clone(),
            true,
            "m3/h",
            "flow of all pumps together, lower end of the 95 % interval",
        ),
        field(
            "loop_flow_high",
            number.clone(),
            true,
            "m3/h",
            "flow of all pumps together, upper end of the 95 % interval",
        ),
        field(
            "flow_sd_common",
            number.clone(),
            true,
            "m3/h",
            "part of the flow's standard deviation that all rows of the pump share",
        ),
        field(
            "head_sd_common",
            number,
            true,
            "kPa",
            "part of the head's standard deviation that all rows of the pump share",
        ),
    ];
    fields.extend(readings.iter().map(|r| field(&r.column, DataType::Float32, true, r.unit, &r.description())));
    Schema::new(fields)
}

/// A description, and the words that the column can hold.
pub(super) fn kinds(description: &str, words: &[&str]) -> String {
    format!("{description}: {}", words.join(", "))
}

pub(super) fn field(name: &str, kind: DataType, nullable: bool, unit: &str, description: &str) -> Field {
    let metadata =
        HashMap::from([("unit".to_owned(), unit.to_owned()), ("description".to_owned(), description.to_owned())]);
    Field::new(name, kind, nullable).with_metadata(metadata)
}
