#[path = "../simulator/mod.rs"]
pub mod simulator;

mod samples_regenerate;
mod simulator_checks;
