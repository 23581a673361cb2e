#![no_main]

#[path = "../checks/times.rs"]
mod times;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| times::check(bytes));
