//! What `inspect` says: as text for people, as JSON, and as a table of cleaned samples.

mod json;
mod table;
mod text;

pub use json::json;
pub use table::table;
pub use text::text;
