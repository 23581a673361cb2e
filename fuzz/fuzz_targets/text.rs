#![no_main]

#[path = "../checks/text.rs"]
mod text;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| text::check(bytes));
