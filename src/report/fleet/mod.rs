//! A fleet in every form: page, JSON, table, and the lines of a terminal.
//!
//! Comes in: a [`Fleet`](crate::fleet::Fleet), whose lines [`extract`] makes of each review while its report is written. Goes out: bytes; `write.rs` puts them
//! in their place. Nothing of a review but its extract is kept, so that memory does not grow with the fleet by more than some kilobytes a plant.

mod extract;
mod json;
mod page;
mod page_tables;
mod table;
mod text;
mod words;

pub use extract::extract;
pub use json::{SCHEMA, write as json};
pub use page::write as page;
pub use table::write as table;
pub use text::summary;
