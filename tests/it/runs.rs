//! Whole runs of the built program: the same bytes each time, within time and memory, and no two plants in one folder.

use std::{
    collections::BTreeMap,
    fs,
    path::{Path, PathBuf},
    process::{Command, Output, Stdio},
    time::{Duration, Instant},
};

/// A sample's plant file.
fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-trends").join(name).join("plant.toml")
}

/// The program, to be run in `here`.
pub fn program(here: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_offcurve"));
    command.current_dir(here);
    command
}

fn run(here: &Path, args: &[&str]) -> Output {
    program(here).args(args).output().expect("the program starts")
}

/// Every file below a folder by its path, with its bytes; hidden ones of `folder` itself are left out.
pub fn tree(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(dir) = open.pop() {
        for entry in fs::read_dir(&dir).unwrap_or_else(|e| panic!("{}: {e}", dir.display())) {
            let path = entry.expect("entry").path();
            if path.is_dir() {
                open.push(path);
            } else if dir != folder || !path.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.')) {
                let bytes = fs::read(&path).expect("a file can be read");
                all.insert(path.strip_prefix(folder).expect("below it").to_owned(), bytes);
            }
        }
    }
    all
}

/// What a run with these arguments writes for a plant.
fn written(plant: &str, args: &[&str]) -> BTreeMap<PathBuf, Vec<u8>> {
    let dir = crate::scratch::folder();
    let out = run(dir.path(), args);
    assert_eq!(out.status.code(), Some(0), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    tree(&dir.path().join("notebooks-out").join(plant))
}

fn same(what: &str, a: &BTreeMap<PathBuf, Vec<u8>>, b: &BTreeMap<PathBuf, Vec<u8>>) {
    assert_eq!(a.keys().collect::<Vec<_>>(), b.keys().collect::<Vec<_>>(), "{what}: other files");
    for (name, bytes) in a {
        assert!(bytes == &b[name], "{what}: {} differs", name.display());
    }
}

#[test]
fn the_same_trends_give_the_same_bytes_with_any_number_of_threads() {
    for name in ["quay-house", "orchard-school"] {
        let file = sample(name).to_string_lossy().into_owned();
        let first = written(name, &["review", &file]);
        assert!(first.len() >= 6, "{name}: {:?}", first.keys());
        same(&format!("{name}, again"), &first, &written(name, &["review", &file]));
        for jobs in ["1", "2"] {
            same(&format!("{name}, --jobs {jobs}"), &first, &written(name, &["review", &file, "--jobs", jobs]));
        }
    }
}

#[test]
fn trends_in_memory_give_the_same_bytes_as_trends_in_files() {
    let first = written("quay-house", &[]);
    same("again", &first, &written("quay-house", &[]));
    for jobs in ["1", "2"] {
        same(&format!("--jobs {jobs}"), &first, &written("quay-house", &["--jobs", jobs]));
    }
    let from_files = written("quay-house", &["review", &sample("quay-house").to_string_lossy()]);
    for name in ["operating-points.parquet", "figures/head-over-flow.svg", "figures/time-strip.svg"] {
        let of = |tree: &BTreeMap<PathBuf, Vec<u8>>| {
            tree.iter().find(|(path, _)| path.ends_with(name)).expect("a file of the contract").1.clone()
        };
        assert!(of(&first) == of(&from_files), "{name} differs");
    }
}

/// The first sample, with the disk's cache warm: under a second, and under 300 MB at its highest. A machine that does
/// other work as well spoils a run: one good run of five will do, and where the system tells it, time spent at work
/// counts as well as time on the wall.
#[test]
fn a_warm_review_of_the_first_sample_is_quick_and_small() {
    let file = sample("quay-house");
    let dir = crate::scratch::folder();
    let mut seen = Vec::new();
    for _ in 0..5 {
        let start = Instant::now();
        let mut child = program(dir.path())
            .arg("review")
            .arg(&file)
            .arg("--quiet")
            .stdout(Stdio::null())
            .spawn()
            .expect("the program starts");
        let (mut peak_mb, mut worked_s) = (0.0f64, f64::INFINITY);
        while child.try_wait().expect("wait").is_none() {
            peak_mb = peak_mb.max(high_water_mb(child.id()).unwrap_or(0.0));
            worked_s = seconds_at_work(child.id()).unwrap_or(worked_s);
            std::thread::sleep(Duration::from_millis(1));
        }
        let wall_s = start.elapsed().as_secs_f64();
        seen.push((wall_s, worked_s, peak_mb));
        if wall_s.min(worked_s) < 1.0 && peak_mb < 300.0 {
            assert!(peak_mb > 1.0 || !cfg!(target_os = "linux"), "the peak was not seen");
            return;
        }
    }
    panic!("seconds on the wall, seconds at work and MB of each run: {seen:.2?}");
}

/// The most memory a process has held so far, where the system says so in a file (Linux).
fn high_water_mb(pid: u32) -> Option<f64> {
    let status = fs::read_to_string(format!("/proc/{pid}/status")).ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix(" kB")?.trim().parse::<f64>().ok().map(|kb| kb / 1024.0)
}

/// Processor time a process has used so far, all threads, where the system says so in a file (Linux: fields 14 and 15 of
/// proc(5)'s stat, in hundredths of a second).
fn seconds_at_work(pid: u32) -> Option<f64> {
    let stat = fs::read_to_string(format!("/proc/{pid}/stat")).ok()?;
    // The program's name stands in brackets and may hold anything; the third field follows it.
    let fields: Vec<&str> = stat.rsplit_once(')')?.1.split_whitespace().collect();
    let ticks: f64 = fields.get(11)?.parse::<f64>().ok()? + fields.get(12)?.parse::<f64>().ok()?;
    Some(ticks / 100.0)
}

/// Copies a sample to `to`, so that two plant files of one name lie in two places.
fn copy_sample(to: &Path) -> PathBuf {
    let from = sample("quay-house");
    fs::create_dir_all(to.join("trends")).expect("a folder");
    fs::copy(&from, to.join("plant.toml")).expect("copy");
    for entry in fs::read_dir(from.with_file_name("trends")).expect("trends") {
        let path = entry.expect("entry").path();
        fs::copy(&path, to.join("trends").join(path.file_name().expect("a name"))).expect("copy");
    }
    to.join("plant.toml")
}

#[test]
fn two_plants_that_would_share_a_folder_are_an_error() {
    let dir = crate::scratch::folder();
    let here = dir.path();
    let (north, south) = (copy_sample(&here.join("north/hall")), copy_sample(&here.join("south/hall")));
    let review = |at: &Path, plant: &str, out: &str| run(at, &["review", plant, "--quiet", "--out", out]);
    let text = |out: &Output| String::from_utf8_lossy(&out.stderr).into_owned();

    let first = review(here, "north/hall/plant.toml", "out");
    assert_eq!(first.status.code(), Some(0), "{}", text(&first));
    let before = tree(&here.join("out/hall"));
    let second = review(here, "south/hall/plant.toml", "out");
    assert_eq!(second.status.code(), Some(2), "another plant file of that name");
    let said = text(&second);
    assert!(said.contains("out/hall: holds results of another plant file, "), "{said}");
    assert!(said.contains("\nhint: write somewhere else with --out FOLDER"), "{said}");
    same("refused", &before, &tree(&here.join("out/hall")));
    assert_eq!(review(here, "south/hall/plant.toml", "out-south").status.code(), Some(0), "what the hint says");

    // The same plant file by another path, and from another folder, is the same plant.
    let again = review(&here.join("north"), "../north/hall/plant.toml", "../out");
    assert_eq!(again.status.code(), Some(0), "{}", text(&again));
    same("from another folder", &before, &tree(&here.join("out/hall")));

    // A plant that was moved takes its results along.
    fs::remove_file(&north).expect("remove");
    let moved = review(here, &south.to_string_lossy(), "out");
    assert_eq!(moved.status.code(), Some(0), "{}", text(&moved));
}
