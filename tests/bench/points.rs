//! Times the operating points alone: `cargo run --release --example time-points -- PLANT.toml [RUNS]`.
//!
//! Reads and screens the record once, then times the stage that turns it into points with intervals, learning of the common errors included.
#![allow(clippy::panic, reason = "a plant that cannot be read ends the measurement")]

use offcurve::{ingest, operating, plant, screening};
use std::path::Path;
use std::time::Instant;

fn main() {
    let mut words = std::env::args().skip(1);
    let path = words.next().unwrap_or_else(|| panic!("name a plant file"));
    let runs: usize = words.next().and_then(|n| n.parse().ok()).unwrap_or(5);
    let plant = plant::read(Path::new(&path)).unwrap_or_else(|e| panic!("{e}")).value;
    let trends = ingest::read(&plant, None).unwrap_or_else(|e| panic!("{e}")).value;
    let screened = screening::screen(&plant, trends).value;
    let mut took: Vec<f64> = (0..runs)
        .map(|_| {
            let start = Instant::now();
            let points = operating::reconstruct(&plant, &screened).value;
            let seconds = start.elapsed().as_secs_f64();
            assert!(!points.machines.is_empty(), "no pump was reconstructed");
            seconds
        })
        .collect();
    took.sort_by(f64::total_cmp);
    println!("rows={} median_s={:.4}", screened.clock.len, took[runs / 2]);
}
