//! The yardstick of the operating points: invented plants by the thousand, their truth, and how near the analyser came.
//!
//! Comes in: a number of plants. Goes out: a table of scores ([`score`], [`table`]). `nuisance.rs` says what plants may be like and is frozen; `machine.rs` and
//! `plant.rs` are the truth, in equations that are not the analyser's; `write.rs` is what an engineer hands over; `oracle.rs` says how sharp
//! anybody could be. The decision to question: plants are laws, not networks (tests/simulator has those), so that thousands can be scored.
//! `cargo run --release --example score-points -- --plants 2000 --write scores.md` makes the table.
#![allow(dead_code, reason = "each including target uses its own part")]

pub mod chances;
pub mod machine;
pub mod nuisance;
pub mod oracle;
pub mod plant;
pub mod score;
pub mod table;
pub mod write;
