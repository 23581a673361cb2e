//! The stages as the commands call them, one line each, with errors as text for a person.

use crate::{
    faults, fleet, ingest,
    ingest::Trends,
    inspection::{self, Inspection},
    notice::Noticed,
    operating,
    pipeline::{self, Review},
    plant::{self, Plant},
    report,
    verification::{self, Verification},
};
use std::path::{Path, PathBuf};

/// First instant, and first instant after [ms UTC].
pub type Window = Option<(i64, i64)>;

pub fn read_plant(path: &Path) -> Result<Noticed<Plant>, String> {
    plant::read(path).map_err(|e| e.to_string())
}

pub fn read_plant_for_exports(path: &Path) -> Result<Noticed<Plant>, String> {
    plant::read_for_exports(path).map_err(|e| e.to_string())
}

pub fn parse_plant(text: &str, path: &Path) -> Result<Noticed<Plant>, String> {
    plant::parse(text, path).map_err(|e| e.to_string())
}

pub fn inspect(plant: &Plant, paths: &[PathBuf]) -> Result<Inspection, String> {
    inspection::inspect(plant, paths).map_err(|e| e.to_string())
}

pub fn files_at(paths: &[PathBuf]) -> Vec<PathBuf> {
    ingest::files_at(paths)
}

pub fn patterns(path: &Path, folder: &Path) -> Vec<String> {
    ingest::patterns(path, folder)
}

/// The plant files below a folder, that of results left out.
pub fn plants_below(folder: &Path, out: &Path) -> Result<fleet::Found, String> {
    fleet::find::below(folder, out)
}

/// Writes a file that was asked for; `over`: also where there is one already.
pub fn save(path: &Path, bytes: &[u8], over: bool) -> Result<(), String> {
    report::inspected::save(path, bytes, over).map_err(|e| e.to_string())
}

pub fn inspection_json(inspection: &Inspection) -> String {
    report::inspected::json(inspection)
}

pub fn inspection_text(inspection: &Inspection) -> String {
    report::inspected::text(inspection)
}

pub fn samples_table(inspection: &Inspection) -> Result<Vec<u8>, String> {
    report::inspected::table(inspection).map_err(|e| e.to_string())
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
