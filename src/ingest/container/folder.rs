//! The files of a folder.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Folders within folders that are looked into.
const DEPTH: usize = 4;

/// Every file in a folder and up to four folders below, sorted by path; hidden ones are left out. Each with the name to show.
/// A link that leads back is followed once.
#[must_use]
pub fn files_below(folder: &Path, shown: &str) -> Vec<(PathBuf, String)> {
    let (mut found, mut been) = (Vec::new(), BTreeSet::new());
    gather(folder, shown.trim_end_matches('/'), 0, &mut been, &mut found);
    found
}

fn gather(folder: &Path, shown: &str, depth: usize, been: &mut BTreeSet<PathBuf>, found: &mut Vec<(PathBuf, String)>) {
    let Ok(real) = folder.canonicalize() else { return };
    if !been.insert(real) {
        return;
    }
    let Ok(listing) = std::fs::read_dir(folder) else { return };
    let mut entries: Vec<(PathBuf, String)> = listing
        .filter_map(Result::ok)
        .map(|e| (e.path(), e.file_name().to_string_lossy().into_owned()))
        .filter(|(_, name)| !name.starts_with('.'))
        .collect();
    entries.sort();
    for (path, name) in entries {
        let shown = format!("{shown}/{name}");
        if path.is_dir() {
            if depth < DEPTH {
                gather(&path, &shown, depth + 1, been, found);
            }
        } else if path.is_file() {
            found.push((path, shown));
        }
    }
}
