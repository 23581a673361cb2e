//! Simulated plants through the stages, in memory: what the end-to-end tests share.

use crate::simulator::Run;
use offcurve::operating::{self, Reconstructed};
use offcurve::pipeline::{self, Review};
use offcurve::plant::{self, Plant};
use offcurve::{ingest, screening};
use std::path::Path;

/// The declared plant of a run.
pub fn declared(run: &Run) -> Plant {
    plant::parse(&run.plant_toml, Path::new("simulated/plant.toml")).unwrap_or_else(|e| panic!("{e}")).value
}

fn files(run: &Run) -> Vec<(String, &[u8])> {
    run.files.iter().map(|(path, bytes)| (path.clone(), bytes.as_slice())).collect()
}

/// A whole review of a run.
pub fn reviewed(run: &Run) -> Review {
    let plant = declared(run);
    let trends = ingest::from_bytes(&plant, &files(run)).unwrap_or_else(|e| panic!("{e}"));
    pipeline::review(plant, trends, None).unwrap_or_else(|e| panic!("{e}"))
}

/// Only the operating points of a run.
pub fn reconstructed(run: &Run) -> (Reconstructed, i64, i64) {
    let plant = declared(run);
    let trends = ingest::from_bytes(&plant, &files(run)).unwrap_or_else(|e| panic!("{e}")).value;
    let screened = screening::screen(&plant, trends).value;
    let clock = screened.clock;
    (operating::reconstruct(&plant, &screened).value, clock.start_ms, clock.step_s * 1000)
}
