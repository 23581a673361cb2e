//! Changes of setting whose saving is known, because the same plant runs again under the other setting with the same weather, loads and noise.
//!
//! `change.rs` makes them from both corpus generators, `counts.rs` says what counts (frozen), `score.rs` puts verified savings to the truth, `table.rs` writes the page.
//! Nothing here uses the regression's equations: plants are run minute by minute.
#![allow(dead_code, reason = "each including target uses its own part")]

pub mod change;
pub mod counts;
pub mod score;
pub mod table;
