//! Columns of Arrow arrays as lines of text.

use super::cells::{self, Ascii};
use arrow::array::{Array, ArrayRef, AsArray, RecordBatch};
use arrow::compute::cast;
use arrow::datatypes::{
    DataType, Date32Type, Date64Type, Decimal32Type, Decimal64Type, Decimal128Type, Decimal256Type, DecimalType,
    Float16Type, Float32Type, Float64Type, Int8Type, Int16Type, Int32Type, Int64Type, Schema, Time32MillisecondType,
    Time32SecondType, Time64MicrosecondType, Time64NanosecondType, TimeUnit, TimestampMicrosecondType,
    TimestampMillisecondType, TimestampNanosecondType, TimestampSecondType, UInt8Type, UInt16Type, UInt32Type,
    UInt64Type,
};
use std::fmt::Write as _;
use std::io;

/// Which columns are read, and which are not and why.
pub(super) struct Columns {
    pub kept: Vec<usize>,
    pub left_out: Vec<(String, String)>,
}

/// The columns of a table that hold one value a row.
pub(super) fn columns(schema: &Schema) -> Columns {
    let (mut kept, mut left_out) = (Vec::new(), Vec::new());
    for (i, field) in schema.fields().iter().enumerate() {
        match why_not(field.data_type()) {
            None => kept.push(i),
            Some(why) => left_out.push((field.name().clone(), why)),
        }
    }
    Columns { kept, left_out }
}

fn why_not(kind: &DataType) -> Option<String> {
    match kind {
        DataType::List(_)
        | DataType::LargeList(_)
        | DataType::ListView(_)
        | DataType::LargeListView(_)
        | DataType::FixedSizeList(..)
        | DataType::Struct(_)
        | DataType::Map(..)
        | DataType::Union(..) => Some("holds several values a row".to_string()),
        DataType::Duration(_) | DataType::Interval(_) => Some("holds durations, not readings or instants".to_string()),
        DataType::Dictionary(_, of) => why_not(of),
        DataType::RunEndEncoded(_, of) => why_not(of.data_type()),
        _ => None,
    }
}

/// The names of the kept columns as the first line.
pub(super) fn header(schema: &Schema, kept: &[usize], out: &mut Vec<u8>) {
    for (i, at) in kept.iter().enumerate() {
        if i > 0 {
            out.push(b',');
        }
        cells::word(schema.field(*at).name().as_bytes(), out);
    }
    out.push(b'\n');
}

/// Writes one cell.
type Put<'a> = Box<dyn Fn(usize, &mut Vec<u8>) + 'a>;

/// The rows of a batch as lines. `kept`: its columns, by place.
pub(super) fn rows(batch: &RecordBatch, kept: &[usize], out: &mut Vec<u8>) -> io::Result<()> {
    let plain: Vec<ArrayRef> = kept.iter().map(|i| unfolded(batch.column(*i))).collect::<io::Result<_>>()?;
    let puts: Vec<(Put<'_>, &dyn Array)> =
        plain.iter().map(|a| Ok((put(a.as_ref())?, a.as_ref()))).collect::<io::Result<_>>()?;
    for row in 0..batch.num_rows() {
        for (i, (put, array)) in puts.iter().enumerate() {
            if i > 0 {
                out.push(b',');
            }
            if array.is_valid(row) {
                put(row, out);
            }
        }
        out.push(b'\n');
    }
    Ok(())
}

/// A column in which each row holds its own value.
fn unfolded(array: &ArrayRef) -> io::Result<ArrayRef> {
    let of = match array.data_type() {
        DataType::Dictionary(_, of) => of.as_ref().clone(),
        DataType::RunEndEncoded(_, of) => of.data_type().clone(),
        _ => return Ok(array.clone()),
    };
    let unfolded = cast(array, &of).map_err(|e| io::Error::other(e.to_string()))?;
    // A dictionary of dictionaries.
    if unfolded.data_type() == array.data_type() { Ok(unfolded) } else { self::unfolded(&unfolded) }
}

macro_rules! whole {
    ($array:expr, $kind:ty) => {{
        let values = $array.as_primitive::<$kind>();
        Box::new(move |i, out: &mut Vec<u8>| {
            // Writing to memory does not fail.
            let _ = write!(Ascii(out), "{}", values.value(i));
        })
    }};
}
macro_rules! decimal {
    ($array:expr, $kind:ty, $scale:expr, $precision:expr) => {{
        let values = $array.as_primitive::<$kind>();
        let (precision, scale) = ($precision, $scale);
        Box::new(move |i, out: &mut Vec<u8>| {
            out.extend_from_slice(<$kind>::format_decimal(values.value(i), precision, scale).as_bytes());
        })
    }};
}
macro_rules! instants {
    ($array:expr, $kind:ty, $per_second:expr, $utc:expr) => {{
        let values = $array.as_primitive::<$kind>();
        let utc = $utc;
        Box::new(move |i, out: &mut Vec<u8>| cells::instant(values.value(i), $per_second, utc, out))
    }};
}
macro_rules! clocks {
    ($array:expr, $kind:ty, $nanos:expr) => {{
        let values = $array.as_primitive::<$kind>();
        Box::new(move |i, out: &mut Vec<u8>| cells::clock(i64::from(values.value(i)).saturating_mul($nanos), out))
    }};
}

/// How the cells of a column are written.
fn put(array: &dyn Array) -> io::Result<Put<'_>> {
    Ok(match array.data_type() {
        DataType::Null => Box::new(|_, _| ()),
        DataType::Boolean => {
            let values = array.as_boolean();
            Box::new(move |i, out| out.extend_from_slice(if values.value(i) { b"true" } else { b"false" }))
        }
        DataType::Int8 => whole!(array, Int8Type),
        DataType::Int16 => whole!(array, Int16Type),
        DataType::Int32 => whole!(array, Int32Type),
        DataType::Int64 => whole!(array, Int64Type),
        DataType::UInt8 => whole!(array, UInt8Type),
        DataType::UInt16 => whole!(array, UInt16Type),
        DataType::UInt32 => whole!(array, UInt32Type),
        DataType::UInt64 => whole!(array, UInt64Type),
        DataType::Float16 => {
            let values = array.as_primitive::<Float16Type>();
            Box::new(move |i, out| cells::short_number(values.value(i).to_f32(), out))
        }
        DataType::Float32 => {
            let values = array.as_primitive::<Float32Type>();
            Box::new(move |i, out| cells::short_number(values.value(i), out))
        }
        DataType::Float64 => {
            let values = array.as_primitive::<Float64Type>();
            Box::new(move |i, out| cells::number(values.value(i), out))
        }
        DataType::Decimal32(p, s) => decimal!(array, Decimal32Type, *s, *p),
        DataType::Decimal64(p, s) => decimal!(array, Decimal64Type, *s, *p),
        DataType::Decimal128(p, s) => decimal!(array, Decimal128Type, *s, *p),
        DataType::Decimal256(p, s) => decimal!(array, Decimal256Type, *s, *p),
        DataType::Timestamp(unit, zone) => {
            let utc = zone.is_some();
            match unit {
                TimeUnit::Second => instants!(array, TimestampSecondType, 1, utc),
                TimeUnit::Millisecond => instants!(array, TimestampMillisecondType, 1_000, utc),
                TimeUnit::Microsecond => instants!(array, TimestampMicrosecondType, 1_000_000, utc),
                TimeUnit::Nanosecond => instants!(array, TimestampNanosecondType, 1_000_000_000, utc),
            }
        }
        DataType::Date32 => {
            let values = array.as_primitive::<Date32Type>();
            Box::new(move |i, out| cells::date(i64::from(values.value(i)), out))
        }
        DataType::Date64 => {
            let values = array.as_primitive::<Date64Type>();
            Box::new(move |i, out| cells::date(values.value(i).div_euclid(86_400_000), out))
        }
        DataType::Time32(TimeUnit::Second) => clocks!(array, Time32SecondType, 1_000_000_000),
        DataType::Time32(_) => clocks!(array, Time32MillisecondType, 1_000_000),
        DataType::Time64(TimeUnit::Microsecond) => clocks!(array, Time64MicrosecondType, 1_000),
        DataType::Time64(_) => clocks!(array, Time64NanosecondType, 1),
        DataType::Utf8 => {
            let values = array.as_string::<i32>();
            Box::new(move |i, out| cells::word(values.value(i).as_bytes(), out))
        }
        DataType::LargeUtf8 => {
            let values = array.as_string::<i64>();
            Box::new(move |i, out| cells::word(values.value(i).as_bytes(), out))
        }
        DataType::Utf8View => {
            let values = array.as_string_view();
            Box::new(move |i, out| cells::word(values.value(i).as_bytes(), out))
        }
        // Writers that know no text mark theirs as bytes.
        DataType::Binary => {
            let values = array.as_binary::<i32>();
            Box::new(move |i, out| bytes(values.value(i), out))
        }
        DataType::LargeBinary => {
            let values = array.as_binary::<i64>();
            Box::new(move |i, out| bytes(values.value(i), out))
        }
        DataType::BinaryView => {
            let values = array.as_binary_view();
            Box::new(move |i, out| bytes(values.value(i), out))
        }
        DataType::FixedSizeBinary(_) => {
            let values = array.as_fixed_size_binary();
            Box::new(move |i, out| bytes(values.value(i), out))
        }
        other => return Err(io::Error::other(format!("a column of type {other} cannot be read"))),
    })
}

fn bytes(value: &[u8], out: &mut Vec<u8>) {
    cells::word(String::from_utf8_lossy(value).as_bytes(), out);
}
