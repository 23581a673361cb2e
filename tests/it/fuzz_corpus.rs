//! The inputs that the fuzzer kept (`fuzz/corpus/`), through the checks of the fuzz targets; exports and archives also onto the clock.

use crate::fuzz_checks::{cells, containers, plant, text, times};
use offcurve::ingest::{Looked, Status, Trends, from_bytes};
use offcurve::plant::{Plant, Point, Role};
use std::panic::catch_unwind;
use std::path::Path;

/// A target's inputs all together [bytes], so that the corpus stays small.
const MOST: u64 = 500_000;
/// Rows of a clock that a kept input may ask for; a few readings years apart ask for millions.
const MOST_ROWS: i64 = 200_000;

/// Runs a check over every input of a target and names those that fail.
fn each(target: &str, least: usize, check: fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus").join(target);
    let listed = std::fs::read_dir(&folder).expect("the corpus is in the repository");
    let mut paths: Vec<_> = listed.map(|e| e.expect("its entries can be read").path()).collect();
    paths.sort();
    let inputs: Vec<Vec<u8>> = paths.iter().map(|p| std::fs::read(p).expect("an input is a file")).collect();
    let failed: Vec<_> = paths.iter().zip(&inputs).filter(|(_, b)| catch_unwind(|| check(b)).is_err()).collect();
    let names: Vec<_> = failed.iter().map(|(p, _)| p.strip_prefix(&folder).unwrap_or(p)).collect();
    assert!(names.is_empty(), "{target}: {names:?} (what failed stands above)");
    assert!(inputs.len() >= least, "{target}: only {} inputs", inputs.len());
    let bytes: u64 = inputs.iter().map(|b| b.len() as u64).sum();
    assert!(bytes <= MOST, "{target}: {bytes} bytes of inputs; fuzz/run --keep takes only what is new");
}

#[test]
fn kept_exports() {
    each("text", 200, |bytes| {
        text::check(bytes);
        let Some((plant, export)) = text::parted(bytes) else { return };
        let Ok(looked) = text::looked(&plant, export) else { return };
        if is_short(&looked) {
            on_a_clock(plant, &looked, export);
        }
    });
}

#[test]
fn kept_times() {
    each("times", 100, times::check);
}

#[test]
fn kept_cells() {
    each("cells", 100, cells::check);
}

#[test]
fn kept_plant_files() {
    each("plant", 100, plant::check);
}

#[test]
fn kept_containers() {
    each("containers", 50, containers::check);
}

fn is_short(looked: &Looked) -> bool {
    let samples = || looked.points.iter().flat_map(offcurve::ingest::LookedPoint::samples).map(|s| s.time_ms);
    let (Some(first), Some(last)) = (samples().min(), samples().max()) else { return false };
    let step = looked.points.iter().map(|p| p.interval_s).filter(|s| *s > 0).min().unwrap_or(1);
    (last - first) / 1000 / step <= MOST_ROWS
}

/// The points that were seen, declared as flows where nothing else is, and read as a review reads them.
fn on_a_clock(mut plant: Plant, looked: &Looked, export: &[u8]) {
    if plant.points.is_empty() {
        let flow = |name: &str| Point {
            name: name.to_owned(),
            role: Role::LoopFlow,
            unit: None,
            ..text::declared().remove(0)
        };
        plant.points = looked.points.iter().take(20).map(|p| flow(&p.name)).collect();
    }
    match from_bytes(&plant, &[(text::NAME.to_owned(), export)]) {
        Ok(noticed) => sound(&plant, &noticed.value),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
    let readings = looked
        .points
        .iter()
        .flat_map(offcurve::ingest::LookedPoint::samples)
        .filter(|s| s.status == Status::Ok)
        .count();
    assert!(readings > 0, "looked at without an error, and nothing was read");
}

/// Every cell is accounted for; a value is finite or NaN; no series is longer or shorter than the clock.
fn sound(plant: &Plant, trends: &Trends) {
    for f in &trends.ledger.files {
        let refused: u64 = f.refused.iter().map(|r| r.count).sum();
        assert_eq!(f.cells, f.used + f.missing + refused, "{f:?}");
        assert!(f.refused.iter().all(|r| r.count > 0 && r.first_line > 0), "{f:?}");
    }
    assert!(trends.clock.step_s > 0 && trends.series.len() <= plant.points.len(), "{:?}", trends.clock);
    for s in &trends.series {
        assert_eq!(s.values.len(), trends.clock.len, "{}", s.name);
        assert!(s.values.iter().all(|v| !v.is_infinite()), "{}", s.name);
    }
    for p in &trends.ledger.points {
        assert!(p.first_ms <= p.last_ms && p.flat_hours.is_finite() && p.flat_hours >= 0.0, "{p:?}");
    }
}
