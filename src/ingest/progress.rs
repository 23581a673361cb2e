//! How far reading has come: a count that anybody may look at while another thread reads. One a process; it decides nothing.

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

static BYTES: AtomicU64 = AtomicU64::new(0);
static FILE: Mutex<String> = Mutex::new(String::new());

/// The text being read, and how much of all texts was read so far [bytes, unpacked]; `None` before the first.
#[must_use]
pub fn so_far() -> Option<(String, u64)> {
    let file = FILE.lock().unwrap_or_else(std::sync::PoisonError::into_inner).clone();
    (!file.is_empty()).then(|| (file, BYTES.load(Ordering::Relaxed)))
}

pub(super) fn opened(path: &str) {
    let mut file = FILE.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    file.clear();
    file.push_str(path);
}

pub(super) fn read(bytes: usize) {
    BYTES.fetch_add(bytes as u64, Ordering::Relaxed);
}
