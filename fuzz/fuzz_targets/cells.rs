#![no_main]

#[path = "../checks/cells.rs"]
mod cells;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| cells::check(bytes));
