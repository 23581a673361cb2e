//! What `inspect` says: as text for people, as JSON, and as a table of cleaned samples.

mod json;
mod save;
mod table;
mod text;

pub use json::json;
pub use save::save;
pub use table::table;
pub use text::text;
