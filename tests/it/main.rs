#[path = "../simulator/mod.rs"]
pub mod simulator;

mod samples_regenerate;
