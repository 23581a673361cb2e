//! The committed samples are what the simulator makes, byte for byte.

use crate::simulator::{SAMPLES, sample_files};
use std::path::{Path, PathBuf};

fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-trends")
}

#[test]
fn regenerating_gives_the_committed_bytes() {
    for (folder, ..) in SAMPLES {
        for (path, bytes) in sample_files(folder) {
            let committed = std::fs::read(samples().join(&path)).unwrap_or_default();
            let first = committed.iter().zip(&bytes).position(|(a, b)| a != b);
            assert!(
                committed == bytes,
                "{path}: {} bytes committed, {} made, first difference at {first:?}; \
                 `cargo run --release --example make-samples` makes them anew",
                committed.len(),
                bytes.len()
            );
        }
    }
}

#[test]
fn no_file_lies_in_a_sample_that_the_simulator_does_not_make() {
    for (folder, ..) in SAMPLES {
        let made: Vec<PathBuf> = sample_files(folder).into_iter().map(|(path, _)| samples().join(path)).collect();
        let mut open = vec![samples().join(folder)];
        while let Some(place) = open.pop() {
            for entry in std::fs::read_dir(&place).expect("a folder of the repository").flatten() {
                let path = entry.path();
                if path.is_dir() {
                    open.push(path);
                } else {
                    assert!(made.contains(&path), "{} is not made by the simulator", path.display());
                }
            }
        }
    }
}
