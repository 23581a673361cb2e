#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by stopping")]

mod layers;
