//! The stages as the commands call them, one line each, with errors as text for a person.

use crate::{
    faults, ingest,
    ingest::Trends,
    notice::Noticed,
    operating,
    pipeline::{self, Review},
    plant::{self, Plant},
    verification::{self, Verification},
};
use std::path::Path;

/// First instant, and first instant after [ms UTC].
pub type Window = Option<(i64, i64)>;

pub fn read_plant(path: &Path) -> Result<Noticed<Plant>, String> {
    plant::read(path).map_err(|e| e.to_string())
}

pub fn parse_plant(text: &str, path: &Path) -> Result<Noticed<Plant>, String> {
    plant::parse(text, path).map_err(|e| e.to_string())
}

pub fn read_trends(plant: &Plant, window: Window) -> Result<Noticed<Trends>, String> {
    ingest::read(plant, window).map_err(|e| e.to_string())
}

pub fn trends_from_bytes(plant: &Plant, files: &[(String, &[u8])], window: Window) -> Result<Noticed<Trends>, String> {
    ingest::from_bytes_within(plant, files, window).map_err(|e| e.to_string())
}

pub fn judge(plant: Plant, trends: Noticed<Trends>, window: Window) -> Result<Review, String> {
    pipeline::review(plant, trends, window).map_err(|e| e.to_string())
}

pub fn verify(plant: Plant, trends: Noticed<Trends>, asked: &verification::Asked) -> Result<Verification, String> {
    verification::verify(plant, trends, asked).map_err(|e| e.to_string())
}

/// The text of a fault's rule.
pub fn rule_text(fault: faults::Fault) -> &'static str {
    faults::text(fault)
}

/// All faults on one page.
pub fn faults_page() -> String {
    faults::page()
}

/// The plant file to start from.
pub fn plant_template() -> &'static str {
    plant::TEMPLATE
}

/// How operating points come about.
pub fn operating_points_page() -> String {
    operating::explanation()
}
