//! Stands in for `columnar.rs` where the crate is built without `review`: Parquet and Arrow are refused.

use bytes::Bytes;
use std::fs::File;
use std::io::{self, Read};
use std::sync::{Arc, Mutex};

const WITHOUT: &str = "this build reads no Parquet and no Arrow";

/// As in `columnar.rs`.
pub(super) struct Opened<'a> {
    pub text: Box<dyn Read + Send + 'a>,
    pub left_out: Vec<(String, String)>,
}

/// As in `columnar.rs`.
pub(super) enum Stored {
    File(Arc<Mutex<File>>, u64),
    Bytes(Bytes),
}

pub(super) fn parquet<'a>(_: Stored) -> io::Result<Opened<'a>> {
    Err(io::Error::new(io::ErrorKind::Unsupported, WITHOUT))
}

pub(super) fn arrow<'a>(_: Box<dyn Read + Send + 'a>, _: bool) -> io::Result<Opened<'a>> {
    Err(io::Error::new(io::ErrorKind::Unsupported, WITHOUT))
}
