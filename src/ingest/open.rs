//! Which files the patterns of `[trends].files` name.

use std::path::{Path, PathBuf};

/// Every file that some paths stand for: a file itself, a folder all files below it, but for plant files and the results of reviews. A folder
/// without files stays, to be named.
#[must_use]
pub fn files_at(paths: &[PathBuf]) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for path in paths {
        if !path.is_dir() {
            all.push(path.clone());
            continue;
        }
        let below = exports_below(path);
        if below.is_empty() {
            all.push(path.clone());
        }
        all.extend(below);
    }
    all
}

/// What may be an export.
fn exports_below(folder: &Path) -> Vec<PathBuf> {
    let is_plant_file = |path: &Path| path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml"));
    let is_result = |path: &Path| {
        path.parent().is_some_and(|dir| ["findings.json", "fleet.json"].iter().any(|name| dir.join(name).is_file()))
    };
    let below = super::container::files_below(folder, "").into_iter().map(|(path, _)| path);
    below.filter(|path| !is_plant_file(path) && !is_result(path)).collect()
}

/// How `[trends].files` of a plant file in `folder` names all files that a path stands for. Beside the plant file itself they are named by
/// their endings, so that it does not name itself.
#[must_use]
pub fn patterns(path: &Path, folder: &Path) -> Vec<String> {
    let below = if path.is_dir() { exports_below(path) } else { Vec::new() };
    let mut all: Vec<String> = Vec::new();
    for file in &below {
        let own = as_pattern(file, folder);
        let name = own.rsplit('/').next().unwrap_or(&own);
        let pattern = match (own.rsplit_once('/'), name.split_once('.')) {
            (Some((above, _)), _) => format!("{above}/*"),
            (None, Some((_, ending))) => format!("*.{ending}"),
            (None, None) => own,
        };
        if !all.contains(&pattern) {
            all.push(pattern);
        }
    }
    if all.is_empty() { vec![as_pattern(path, folder)] } else { all }
}

/// How a plant file in `folder` names a path.
#[must_use]
pub fn as_pattern(path: &Path, folder: &Path) -> String {
    // The folder of a bare name is the one that we are in, and an empty path is none.
    let here = |p: &Path| if p.as_os_str().is_empty() { PathBuf::from(".") } else { p.to_owned() };
    let absolute = |p: &Path| std::path::absolute(here(p)).unwrap_or_else(|_| p.to_owned());
    let (at, folder) = (absolute(path), absolute(folder));
    let shown = at.strip_prefix(&folder).map_or(at.clone(), Path::to_owned);
    let parts: Vec<_> = shown.components().map(|c| c.as_os_str().to_string_lossy()).collect();
    let text = parts.join("/").replace("//", "/");
    match (path.is_dir(), text.is_empty()) {
        (false, _) => text,
        (true, false) => format!("{text}/*"),
        (true, true) => "*".to_owned(),
    }
}

/// The files that a pattern names, sorted: `*` and `?` stand for any part and any one character of a name, within one folder.
pub(super) fn matching(dir: &Path, pattern: &str) -> Vec<PathBuf> {
    let mut found = vec![if pattern.starts_with('/') { PathBuf::from("/") } else { dir.to_path_buf() }];
    for part in pattern.split(['/', '\\']).filter(|p| !p.is_empty() && *p != ".") {
        found = found.iter().flat_map(|folder| entries(folder, part)).collect();
    }
    found.retain(|p| p.is_file());
    found.sort();
    found
}

fn entries(folder: &Path, part: &str) -> Vec<PathBuf> {
    if !part.contains(['*', '?']) {
        let path = folder.join(part);
        return if path.exists() { vec![path] } else { Vec::new() };
    }
    let Ok(listing) = std::fs::read_dir(folder) else { return Vec::new() };
    let hidden_too = part.starts_with('.');
    listing
        .filter_map(Result::ok)
        .filter(|e| {
            let name = e.file_name();
            let name = name.to_string_lossy();
            (hidden_too || !name.starts_with('.')) && fits(part, &name)
        })
        .map(|e| e.path())
        .collect()
}

/// Whether a text is what a pattern with `*` and `?` describes.
pub(super) fn fits(pattern: &str, text: &str) -> bool {
    let (p, t): (Vec<char>, Vec<char>) = (pattern.chars().collect(), text.chars().collect());
    let (mut i, mut j) = (0, 0);
    let mut retry = None;
    while j < t.len() {
        if i < p.len() && p[i] == '*' {
            retry = Some((i, j));
            i += 1;
        } else if i < p.len() && (p[i] == '?' || p[i] == t[j]) {
            (i, j) = (i + 1, j + 1);
        } else if let Some((star, taken)) = retry {
            (i, j) = (star + 1, taken + 1);
            retry = Some((star, taken + 1));
        } else {
            return false;
        }
    }
    p[i..].iter().all(|c| *c == '*')
}

/// Whether a path, piece by piece, is what a pattern describes.
#[must_use]
pub fn names(pattern: &str, path: &str) -> bool {
    path_fits(pattern, path)
}

pub(super) fn path_fits(pattern: &str, path: &str) -> bool {
    let split =
        |s: &str| s.split(['/', '\\']).filter(|p| !p.is_empty() && *p != ".").map(str::to_string).collect::<Vec<_>>();
    let (p, t) = (split(pattern), split(path));
    p.len() == t.len() && p.iter().zip(&t).all(|(a, b)| fits(a, b))
}
