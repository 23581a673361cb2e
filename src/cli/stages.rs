//! The stages as the commands call them, one line each, with errors as text for a person.

use crate::{ingest::Trends, notice::Noticed, pipeline::Review, plant::Plant};
use std::path::Path;

/// First instant, and first instant after [ms UTC].
pub type Window = Option<(i64, i64)>;

pub fn read_plant(path: &Path) -> Result<Noticed<Plant>, String> {
    Err(format!("{}: the plant reader is not part of this build", path.display()))
}

pub fn parse_plant(_text: &str, path: &Path) -> Result<Noticed<Plant>, String> {
    Err(format!("{}: the plant reader is not part of this build", path.display()))
}

pub fn read_trends(_plant: &Plant, _window: Window) -> Result<Noticed<Trends>, String> {
    Err("trends: the trend reader is not part of this build".to_owned())
}

pub fn trends_from_bytes(_plant: &Plant, _files: &[(String, &[u8])]) -> Result<Noticed<Trends>, String> {
    Err("trends: the trend reader is not part of this build".to_owned())
}

pub fn judge(_plant: Plant, _trends: Noticed<Trends>, _window: Window) -> Result<Review, String> {
    Err("review: the pipeline is not part of this build".to_owned())
}

/// The text of a fault's rule.
pub fn rule_text(_fault: crate::faults::Fault) -> Option<&'static str> {
    None
}

/// The plant file to start from.
pub fn plant_template() -> &'static str {
    ""
}
