//! What we say (document), then how (html, md, svg, json, parquet, ipynb).
//!
//! Comes in: a [`Review`](crate::pipeline::Review). Goes out: a folder with the report in every form. The decision a
//! reader would question: page and Markdown are two renderings of one tree ([`Document`]), so that neither can say what
//! the other does not. The page holds it in both systems of units (`both.rs`). It judges nothing; what a result adds to a
//! review (new or persisting, the next point to trend) is in `summary.rs`. Start at `document.rs`.

mod actions;
pub mod anchor;
mod both;
mod compared;
mod document;
mod error;
pub mod figures;
pub mod fleet;
mod followed;
mod headline;
mod history;
mod html;
pub mod inspected;
pub mod json;
mod markdown;
mod models;
mod months;
mod normalised;
pub mod notebook;
mod operation;
pub mod parquet;
mod readings;
mod sections;
mod settings;
pub mod show;
pub mod summary;
mod trades;
pub mod unbroken;
pub mod verified;
pub mod words;
mod worth;
mod write;

pub use document::{Action, Answer, Block, Column, Document, Headline, Section, Table};
pub use error::ReportError;
pub use history::{Earlier, EarlierClear, EarlierFinding, History};
pub use write::{Written, WrittenLine, write, write_fleet, write_line, write_verification};

/// The JSON Schema that `findings.json` meets.
pub const FINDINGS_SCHEMA: &str = include_str!("findings.schema.json");

/// The JSON Schema that `verification.json` meets.
pub const VERIFICATION_SCHEMA: &str = include_str!("verification.schema.json");

/// The JSON Schema that `fleet.json` meets.
pub const FLEET_SCHEMA: &str = include_str!("fleet.schema.json");
