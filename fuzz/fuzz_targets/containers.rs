#![no_main]

#[path = "../checks/containers.rs"]
mod containers;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| containers::check(bytes));
