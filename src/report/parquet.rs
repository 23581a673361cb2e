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
    datatypes::{DataType, Field, FieldRef, Schema, TimeUnit},
    error::ArrowError,
    record_batch::RecordBatch,
};
use parquet::{
    arrow::{
        ArrowWriter,
        arrow_writer::{ArrowColumnChunk, ArrowColumnWriter, compute_leaves},
    },
    basic::Compression,
    errors::ParquetError,
    file::{
        metadata::KeyValue,
        properties::{EnabledStatistics, WriterProperties},
    },
    schema::types::ColumnPath,
};
use rayon::prelude::*;
use std::{
    collections::HashMap,
    io::{self, Write},
    ops::Range,
    sync::Arc,
};

/// Lines of a group of rows: a long record's table is never held whole beside the record.
const GROUP: usize = 1 << 17;

/// The table's name in a result's folder.
pub const NAME: &str = "operating-points.parquet";

/// Writes the table, one group of rows after the other, the columns of each beside each other, and hands the writer back; its metadata carry
/// what is declared of the plant under `facts`, as JSON.
pub fn write<W: Write + Send>(review: &Review, to: W) -> Result<W, ReportError> {
    let readings = readings::beside(review);
    let facts = KeyValue::new("facts".to_owned(), readings::facts::write(review, &readings));
    let schema = Arc::new(schema(&readings));
    let columns = columns(review, &readings);
    let rows = rows(review);
    let each = (GROUP / review.points.pumps.len().max(1)).max(1);
    let groups = rows.clone().step_by(each).map(|from| from..(from + each).min(rows.end));
    let write = || -> Result<W, ParquetError> {
        let properties = properties(&schema, Some(vec![facts]));
        let (mut file, writers) =
            ArrowWriter::try_new(to, schema.clone(), Some(properties))?.into_serialized_writer()?;
        for (k, rows) in groups.enumerate() {
            let encode = |((mut writer, column), field): ((ArrowColumnWriter, &Column), &FieldRef)| {
                let leaves = compute_leaves(field, &column(&rows))?;
                leaves.iter().try_for_each(|leaf| writer.write(leaf))?;
                writer.close()
            };
            let all = writers.create_column_writers(k)?.into_par_iter().zip(&columns).zip(&schema.fields()[..]);
            let encoded: Vec<Result<ArrowColumnChunk, ParquetError>> = all.with_max_len(1).map(encode).collect();
            let mut group = file.next_row_group()?;
            encoded.into_iter().try_for_each(|chunk| chunk?.append_to_row_group(&mut group))?;
            group.close()?;
        }
        file.into_inner()
    };
    write().map_err(|e| refused(NAME, &e))
}

/// A table as a file, batch by batch; all batches have the first one's columns.
pub(super) fn bytes(
    name: &'static str,
    batches: impl IntoIterator<Item = Result<RecordBatch, ArrowError>>,
) -> Result<Vec<u8>, ReportError> {
    into(name, batches, Vec::new())
}

fn into<W: Write + Send>(
    name: &'static str,
    batches: impl IntoIterator<Item = Result<RecordBatch, ArrowError>>,
    to: W,
) -> Result<W, ReportError> {
    let mut batches = batches.into_iter();
    let batch = batches.next().unwrap_or_else(|| Ok(RecordBatch::new_empty(Arc::new(Schema::empty()))));
    let table = |e: ArrowError| unmade(name, &e);
    let refused = |e: ParquetError| refused(name, &e);
    let batch = batch.map_err(table)?;
    let mut writer =
        ArrowWriter::try_new(to, batch.schema(), Some(properties(&batch.schema(), None))).map_err(refused)?;
    writer.write(&batch).map_err(refused)?;
    for batch in batches {
        writer.write(&batch.map_err(table)?).map_err(refused)?;
    }
    writer.into_inner().map_err(refused)
}

/// How a table of these columns is packed.
fn properties(schema: &Schema, metadata: Option<Vec<KeyValue>>) -> WriterProperties {
    // Measured numbers hardly repeat: a dictionary of them is work for nothing, and nobody looks for rows by their least and greatest. Words do.
    let plain = WriterProperties::builder().set_compression(Compression::SNAPPY).set_dictionary_enabled(false);
    let packed = schema.fields().iter().fold(plain, |p, f| {
        let column = ColumnPath::from(f.name().clone());
        match f.data_type() {
            DataType::Utf8 => p.set_column_dictionary_enabled(column, true),
            DataType::Float64 | DataType::Float32 => p.set_column_statistics_enabled(column, EnabledStatistics::None),
            _ => p,
        }
    });
    packed
        .set_created_by(concat!("offcurve ", env!("CARGO_PKG_VERSION")).to_owned())
        .set_key_value_metadata(metadata)
        .build()
}

/// A full disk is no defect of the program.
fn refused(name: &'static str, e: &ParquetError) -> ReportError {
    match e {
        ParquetError::External(inner) => match inner.downcast_ref::<io::Error>() {
            Some(e) => ReportError::file(name, "write", e),
            None => unmade(name, e),
        },
        _ => unmade(name, e),
    }
}

fn unmade(name: &'static str, e: &dyn std::fmt::Display) -> ReportError {
    ReportError::Table { name, why: format!("the table could not be made ({e})") }
}

/// Rows of the clock that lie in the period.
fn rows(review: &Review) -> Range<usize> {
    let inside = |row: &usize| (review.from_ms..review.to_ms).contains(&review.clock.at_ms(*row));
    let first = (0..review.clock.len).find(inside).unwrap_or(review.clock.len);
    let last = (first..review.clock.len).rfind(inside).map_or(first, |row| row + 1);
    first..last
}

/// Makes a column for some rows of the clock: a line for each row and pump, by time, then the pump's name.
type Column<'r> = Box<dyn Fn(&Range<usize>) -> ArrayRef + Sync + 'r>;

/// All columns, as [`schema`] names them.
fn columns<'r>(review: &'r Review, readings: &'r [Reading]) -> Vec<Column<'r>> {
    let points = &review.points.pumps;
    let mut order: Vec<usize> = (0..points.len()).collect();
    order.sort_by(|&a, &b| points[a].pump.cmp(&points[b].pump));
    let pumps: Vec<&PumpPoints> = order.iter().map(|&p| &points[p]).collect();
    let regimes: Vec<Option<&PumpRegimes>> =
        pumps.iter().map(|p| review.regimes.pumps.iter().find(|r| r.pump == p.pump)).collect();
    let of_pump = |column: fn(&PumpPoints) -> &[f64]| numbers_of(pumps.iter().map(|p| column(p)).collect());
    let of_loop = |column: &'r [f64]| numbers_of(vec![column; pumps.len()]);
    let clock = review.clock;
    let time = {
        let n = pumps.len();
        move |rows: &Range<usize>| -> ArrayRef {
            let each = rows.clone().flat_map(|row| std::iter::repeat_n(clock.at_ms(row), n));
            Arc::new(TimestampMillisecondArray::from_iter_values(each).with_timezone("UTC"))
        }
    };
    let name = {
        let pumps = pumps.clone();
        move |rows: &Range<usize>| -> ArrayRef {
            let lines = 0..rows.len() * pumps.len();
            Arc::new(StringArray::from_iter_values(lines.map(|line| pumps[line % pumps.len()].pump.as_str())))
        }
    };
    let curve = numbers_of(regimes.iter().map(|r| r.map_or(&[][..], |r| &r.curve_head_kpa)).collect());
    let regime = move |rows: &Range<usize>| -> ArrayRef {
        let each = rows.clone().flat_map(|row| regimes.iter().map(move |r| r.and_then(|r| r.regime.get(row))));
        Arc::new(StringArray::from_iter(each.map(|r| r.map(|&r| words::regime_code(r)))))
    };
    let steady = {
        let pumps = pumps.clone();
        move |rows: &Range<usize>| -> ArrayRef {
            let each = rows.clone().flat_map(|row| pumps.iter().map(move |p| p.state.get(row)));
            Arc::new(BooleanArray::from_iter(each.map(|s| s.map(|&s| s == State::Steady))))
        }
    };
    let basis = {
        let pumps = pumps.clone();
        move |rows: &Range<usize>| -> ArrayRef {
            let each = rows.clone().flat_map(|row| pumps.iter().map(move |p| p.basis.get(row)));
            Arc::new(StringArray::from_iter(each.map(|b| b.filter(|&&b| b != Basis::None).map(|b| b.word()))))
        }
    };
    let system = &review.points.system;
    let mut columns: Vec<Column> = vec![
        Box::new(time),
        Box::new(name),
        of_pump(|p| &p.speed),
        of_pump(|p| &p.flow_m3h),
        of_pump(|p| &p.flow_low_m3h),
        of_pump(|p| &p.flow_high_m3h),
        of_pump(|p| &p.head_kpa),
        of_pump(|p| &p.head_low_kpa),
        of_pump(|p| &p.head_high_kpa),
        of_pump(|p| &p.power_kw),
        of_pump(|p| &p.efficiency),
        curve,
        Box::new(regime),
        Box::new(steady),
        Box::new(basis),
        of_loop(&system.flow_m3h),
        of_loop(&system.flow_low_m3h),
        of_loop(&system.flow_high_m3h),
        of_pump(|p| &p.flow_sd_common_m3h),
        of_pump(|p| &p.head_sd_common_kpa),
    ];
    columns.extend(readings.iter().map(|r| -> Column {
        let order = order.clone();
        Box::new(move |rows: &Range<usize>| {
            let each = rows.clone().flat_map(|row| order.iter().map(move |&p| r.at(p, row).unwrap_or(f32::NAN)));
            let values: Vec<f32> = each.collect();
            let there = nulls(values.iter().map(|v| v.is_finite()));
            Arc::new(Float32Array::new(values.into(), there))
        })
    }));
    columns
}

/// A column of numbers, from one of each pump; what is not finite is null.
fn numbers_of(pumps: Vec<&[f64]>) -> Column<'_> {
    Box::new(move |rows: &Range<usize>| {
        let mut values: Vec<f64> = match &pumps[..] {
            [one] if one.len() >= rows.end => one[rows.clone()].to_vec(),
            pumps => {
                let at = |row: usize| pumps.iter().map(move |p| p.get(row).copied().unwrap_or(f64::NAN));
                rows.clone().flat_map(at).collect()
            }
        };
        let there = nulls(values.iter().map(|v| v.is_finite()));
        values.iter_mut().filter(|v| !v.is_finite()).for_each(|v| *v = 0.0);
        Arc::new(Float64Array::new(values.into(), there))
    })
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
