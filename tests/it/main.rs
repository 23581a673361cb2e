//! One test binary, so that the heavy libraries link once.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by stopping")]

#[path = "../verify/mod.rs"]
mod changes;
#[path = "../corpus/mod.rs"]
pub mod corpus;
#[path = "../../fuzz/checks/mod.rs"]
mod fuzz_checks;
#[path = "../points/mod.rs"]
mod invented;
#[path = "../simulator/mod.rs"]
pub mod simulator;

mod cli;
#[path = "corpus.rs"]
mod corpus_checks;
mod corpus_second;
mod coverage;
mod declared;
mod exports;
mod exports_hostile;
mod faults;
mod faults_duty;
mod faults_pressure;
mod faults_sensors;
mod faults_swings;
mod finding_figures;
mod five_kinds;
mod fixture;
mod fleet;
mod fuzz_corpus;
mod hydraulics;
mod ingest;
mod ingest_cells;
mod ingest_containers;
mod ingest_times;
mod ingest_units;
mod inspect_apart;
mod kill;
mod lattice;
mod layers;
mod learned_curve;
mod memo;
mod months;
mod mutations;
mod naming;
mod network;
mod next_point;
mod notebook;
mod operating;
mod oscillation;
mod outside;
mod plant;
mod plants;
mod points;
mod quantity;
mod regimes;
mod report;
mod rows;
mod runs;
mod samples;
mod samples_regenerate;
mod scratch;
mod screening;
mod self_check;
mod simulator_checks;
mod speed;
mod together;
mod tuning;
mod tuning_bypass;
mod tuning_one_coil;
mod verify;
mod verify_calibration;
mod verify_cli;
mod verify_fields;
mod verify_found;
mod verify_plant;
mod verify_regression;
mod verify_truth;
mod verify_world;
mod walks;
