//! The first sample plant, built into the program, so that it can be tried from any folder.

use include_dir::{Dir, include_dir};

static SAMPLE: Dir = include_dir!("$CARGO_MANIFEST_DIR/sample-trends/quay-house");

/// The sample's name, as its folder has it.
pub const NAME: &str = "quay-house";

/// Its plant file.
pub fn plant_file() -> Option<&'static str> {
    SAMPLE.get_file("plant.toml")?.contents_utf8()
}

/// The exports of the sample, by path relative to the plant file, sorted.
pub fn files() -> Vec<(String, &'static [u8])> {
    let mut all = Vec::new();
    gather(&SAMPLE, &mut all);
    all.sort();
    all
}

fn gather(dir: &Dir<'static>, all: &mut Vec<(String, &'static [u8])>) {
    for file in dir.files() {
        // Paths in a plant file have forward slashes on every system.
        let path = file.path().to_string_lossy().replace('\\', "/");
        if path.starts_with("trends/") {
            all.push((path, file.contents()));
        }
    }
    for below in dir.dirs() {
        gather(below, all);
    }
}
