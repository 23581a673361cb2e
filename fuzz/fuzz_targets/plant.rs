#![no_main]

#[path = "../checks/plant.rs"]
mod plant;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| plant::check(bytes));
