//! Times reading alone: `cargo run --release --example time-ingest -- PLANT.toml [RUNS]`.
//!
//! Files to columns on one clock, the ledger and the files' fingerprints included; the peak of memory is the process's own.
#![allow(clippy::panic, reason = "a plant that cannot be read ends the measurement")]

use offcurve::{ingest, plant};
use std::path::Path;
use std::time::Instant;

fn main() {
    let mut words = std::env::args().skip(1);
    let path = words.next().unwrap_or_else(|| panic!("name a plant file"));
    let runs: usize = words.next().and_then(|n| n.parse().ok()).unwrap_or(5);
    let plant = plant::read(Path::new(&path)).unwrap_or_else(|e| panic!("{e}")).value;
    let mut rows = 0;
    let mut took: Vec<f64> = (0..runs)
        .map(|_| {
            let start = Instant::now();
            let trends = ingest::read(&plant, None).unwrap_or_else(|e| panic!("{e}")).value;
            rows = trends.clock.len * trends.series.len();
            start.elapsed().as_secs_f64()
        })
        .collect();
    took.sort_by(f64::total_cmp);
    println!("cells={rows} median_s={:.4} least_s={:.4}", took[runs / 2], took[0]);
}
