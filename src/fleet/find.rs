//! The plant files below a folder.
//!
//! A file that ends in `.toml` is a plant file where two or more of a plant file's own tables stand in it, or where it is called `plant.toml`; so a plant file
//! with mistakes in it is one, and is named as one that could not be read. Every other `.toml` is passed over, and said.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use toml::de::DeTable;

/// Tables that every plant file has.
const TABLES: [&str; 5] = ["site", "loop", "pump", "trends", "point"];
/// So many of them make a file a plant file.
const ENOUGH: usize = 2;
/// What a folder of results holds; it is not looked into.
const RESULTS: [&str; 3] = ["findings.json", "verification.json", "fleet.json"];

/// What a folder holds.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Found {
    /// By path.
    pub plants: Vec<Candidate>,
    pub passed_over: Vec<PassedOver>,
}

/// A plant file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    pub path: PathBuf,
    /// Below the folder, with forward slashes.
    pub shown: String,
    /// Where its results go, below the folder for results: its own relative path.
    pub place: String,
    /// Another plant file (as shown) whose results go to the same place.
    pub shares_with: Option<String>,
}

impl Candidate {
    /// A message with the paths in it below the folder of the fleet, so that it does not depend on where that lies.
    #[must_use]
    pub fn named(&self, message: &str) -> String {
        let path = self.path.to_string_lossy();
        let above = path.strip_suffix(&self.shown).unwrap_or_default();
        if above.is_empty() { message.to_owned() } else { message.replace(above, "") }
    }
}

/// A file or folder that was not taken, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PassedOver {
    pub shown: String,
    pub why: String,
}

/// Every plant file below `folder`, folders in the order of their names; hidden folders and those with results are left out, and `out` with all below it.
/// A link that leads to a folder or file met before is not followed again.
///
/// # Errors
/// Where the folder cannot be listed.
pub fn below(folder: &Path, out: &Path) -> Result<Found, String> {
    let refused = |why: &str, hint: &str| Err(format!("{}: {why}\nhint: {hint}", folder.display()));
    if folder.is_file() {
        return refused("it is a file, not a folder", &format!("offcurve review {}", folder.display()));
    }
    if let Err(e) = std::fs::read_dir(folder) {
        let why = match e.kind() {
            std::io::ErrorKind::NotFound => "there is no such folder",
            std::io::ErrorKind::PermissionDenied => "this user may not list the folder",
            _ => "the folder cannot be listed",
        };
        return refused(why, "offcurve fleet FOLDER   # every plant has its plant file somewhere below FOLDER");
    }
    let mut walk = Walk { out: out.canonicalize().ok(), been: BTreeSet::new(), found: Found::default() };
    walk.look(folder, "");
    let mut found = walk.found;
    let of_folder = std::path::absolute(folder).ok().and_then(|f| Some(f.file_name()?.to_string_lossy().into_owned()));
    for k in 0..found.plants.len() {
        if found.plants[k].place.is_empty() {
            found.plants[k].place = of_folder.clone().unwrap_or_else(|| "plant".to_owned());
        }
        let (before, rest) = found.plants.split_at_mut(k);
        rest[0].shares_with = before.iter().find(|b| b.place == rest[0].place).map(|b| b.shown.clone());
    }
    Ok(found)
}

struct Walk {
    out: Option<PathBuf>,
    been: BTreeSet<PathBuf>,
    found: Found,
}

impl Walk {
    fn look(&mut self, folder: &Path, shown: &str) {
        let Ok(real) = folder.canonicalize() else { return };
        if self.out.as_ref() == Some(&real) || !self.been.insert(real) {
            return;
        }
        let Ok(listing) = std::fs::read_dir(folder) else {
            self.pass_over(shown, "the folder cannot be listed");
            return;
        };
        let mut entries: Vec<(String, PathBuf)> = listing
            .filter_map(Result::ok)
            .map(|e| (e.file_name().to_string_lossy().into_owned(), e.path()))
            .filter(|(name, _)| !name.starts_with('.'))
            .collect();
        entries.sort();
        if !shown.is_empty() && entries.iter().any(|(name, _)| RESULTS.contains(&name.as_str())) {
            return;
        }
        for (name, path) in entries {
            let shown = if shown.is_empty() { name.clone() } else { format!("{shown}/{name}") };
            if path.is_dir() {
                self.look(&path, &shown);
            } else if path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")) {
                self.take(path, &shown, &name);
            }
        }
    }

    fn take(&mut self, path: PathBuf, shown: &str, name: &str) {
        if path.canonicalize().is_ok_and(|real| !self.been.insert(real)) {
            self.pass_over(shown, "a link to a plant file that is reviewed already");
            return;
        }
        // A file that cannot be read may be a plant file: the review says why it cannot.
        let plant = match std::fs::read(&path) {
            Ok(bytes) => name.eq_ignore_ascii_case("plant.toml") || is_plant_file(&String::from_utf8_lossy(&bytes)),
            Err(_) => true,
        };
        if plant {
            let place = place(shown);
            self.found.plants.push(Candidate { path, shown: shown.to_owned(), place, shares_with: None });
        } else {
            self.pass_over(shown, "no plant file: it lacks [site], [loop], [[pump]], [trends] or [[point]]");
        }
    }

    fn pass_over(&mut self, shown: &str, why: &str) {
        self.found.passed_over.push(PassedOver { shown: shown.to_owned(), why: why.to_owned() });
    }
}

/// Whether a plant file's tables stand in the text, slips of syntax aside.
fn is_plant_file(text: &str) -> bool {
    let (root, _) = DeTable::parse_recoverable(text);
    let has = |table: &&&str| root.get_ref().iter().any(|(key, _)| key.get_ref().as_ref() == **table);
    TABLES.iter().filter(has).count() >= ENOUGH
}

/// The path without its ending, or the folder's where the file is called `plant`; empty for a `plant.toml` at the top.
fn place(shown: &str) -> String {
    let (folder, name) = shown.rsplit_once('/').unwrap_or(("", shown));
    match name.rsplit_once('.').map_or(name, |(stem, _)| stem) {
        "plant" => folder.to_owned(),
        stem if folder.is_empty() => stem.to_owned(),
        stem => format!("{folder}/{stem}"),
    }
}
