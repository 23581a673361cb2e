//! Scratch folders that vanish with the test. (A crate for it would switch on features that the heavy libraries share, and build them twice.)

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// A folder of one test's own, removed when dropped.
pub struct Scratch(PathBuf);

impl Scratch {
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        // A folder that cannot be removed lies in target/ and harms nobody.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// Makes a new empty folder below cargo's folder for tests.
pub fn folder() -> Scratch {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let name = format!("scratch-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::create_dir_all(&path).expect("a scratch folder");
    Scratch(path)
}
