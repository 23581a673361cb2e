//! One test binary, so that the heavy libraries link once.

#[path = "../simulator/mod.rs"]
pub mod simulator;

mod hydraulics;
mod outside;
mod samples_regenerate;
