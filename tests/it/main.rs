//! One test binary, so that the heavy libraries link once.

#[path = "../simulator/mod.rs"]
pub mod simulator;

mod cli;
mod coverage;
mod fixture;
mod hydraulics;
mod ingest;
mod kill;
mod mutations;
mod operating;
mod outside;
mod plant;
mod plants;
mod quantity;
mod report;
mod samples;
mod samples_regenerate;
mod screening;
mod simulator_checks;
