//! Parquet files, batch by batch; tables as text. Arrow IPC: `ipc`.

use super::cells::Made;
use super::fault::{Fault, of_decoder};
use super::foreign::guarded;
use super::table::{self, Columns};
use bytes::Bytes;
use parquet::arrow::ProjectionMask;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use parquet::errors::ParquetError;
use parquet::file::reader::{ChunkReader, Length};
use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom};
use std::sync::{Arc, Mutex};

const PARQUET: &str = "Parquet file";
/// Cells decoded at once [-].
const CELLS: usize = 1 << 19;

/// Rows decoded at once [-] of a table with so many columns.
pub(super) fn rows_at_once(columns: usize) -> usize {
    (CELLS / columns.max(1)).clamp(64, 1 << 14)
}

/// A table as text, and the columns that are left out.
pub(super) struct Opened<'a> {
    pub text: Box<dyn Read + Send + 'a>,
    pub left_out: Vec<(String, String)>,
}

/// Bytes of a Parquet file, read from any place.
#[derive(Clone)]
pub(super) enum Stored {
    File(Arc<Mutex<File>>, u64),
    Bytes(Bytes),
}

impl Length for Stored {
    fn len(&self) -> u64 {
        match self {
            Self::File(_, len) => *len,
            Self::Bytes(bytes) => bytes.len() as u64,
        }
    }
}

/// A place in them.
pub(super) struct Place {
    stored: Stored,
    at: u64,
}

impl Read for Place {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let n = match &self.stored {
            Stored::File(file, _) => {
                let mut file = file.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
                file.seek(SeekFrom::Start(self.at))?;
                file.read(into)?
            }
            Stored::Bytes(bytes) => {
                let mut rest = usize::try_from(self.at).ok().and_then(|at| bytes.get(at..)).unwrap_or_default();
                rest.read(into)?
            }
        };
        self.at += n as u64;
        Ok(n)
    }
}

impl ChunkReader for Stored {
    type T = BufReader<Place>;

    fn get_read(&self, start: u64) -> Result<Self::T, ParquetError> {
        Ok(BufReader::new(Place { stored: self.clone(), at: start }))
    }
    fn get_bytes(&self, start: u64, length: usize) -> Result<Bytes, ParquetError> {
        if start.checked_add(length as u64).is_none_or(|end| end > self.len()) {
            return Err(ParquetError::EOF(format!("{length} bytes at {start} of {}", self.len())));
        }
        if let Self::Bytes(bytes) = self {
            let start = usize::try_from(start).unwrap_or(usize::MAX);
            return Ok(bytes.slice(start..start + length));
        }
        let mut found = Vec::with_capacity(length);
        Place { stored: self.clone(), at: start }.take(length as u64).read_to_end(&mut found)?;
        if found.len() < length {
            return Err(ParquetError::EOF(format!("{} bytes at {start}", found.len())));
        }
        Ok(found.into())
    }
}

/// A Parquet file as text.
pub(super) fn parquet<'a>(stored: Stored) -> io::Result<Opened<'a>> {
    let len = stored.len();
    let mut ending = Vec::new();
    Place { stored: stored.clone(), at: len.saturating_sub(4) }.read_to_end(&mut ending)?;
    if len < 12 || ending != b"PAR1" {
        return Err(Fault::CutOff { what: PARQUET, at: len }.into());
    }
    let damaged = |e: ParquetError| of_decoder(io::Error::other(e.to_string()), PARQUET, 0);
    let builder = guarded(PARQUET, || ParquetRecordBatchReaderBuilder::try_new(stored).map_err(damaged))?;
    let schema = builder.schema().clone();
    let Columns { kept, left_out } = table::columns(&schema);
    let mask = ProjectionMask::roots(builder.parquet_schema(), kept.iter().copied());
    let rows = rows_at_once(kept.len());
    let mut batches =
        guarded(PARQUET, || builder.with_projection(mask).with_batch_size(rows).build().map_err(damaged))?;
    let mut is_new = true;
    let all: Vec<usize> = (0..kept.len()).collect();
    let text = Made::new(move |out: &mut Vec<u8>| {
        if std::mem::take(&mut is_new) {
            table::header(&schema, &kept, out);
            return Ok(true);
        }
        guarded(PARQUET, || match batches.next() {
            None => Ok(false),
            Some(batch) => {
                let batch = batch.map_err(|e| of_decoder(io::Error::other(e.to_string()), PARQUET, 0))?;
                table::rows(&batch, &all, out).map_err(|e| of_decoder(e, PARQUET, 0))?;
                Ok(true)
            }
        })
    });
    Ok(Opened { text: Box::new(text), left_out })
}
