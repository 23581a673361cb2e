//! Exports as they come (`tests/exports/`): every case read back exactly, or refused with the right words.
//!
//! The cases were written by a script from one clean table; the expected numbers come from that table and from what the script wrote, never
//! from a parser. `tests/exports/outside.py` reads the plain ones with Python's csv and zoneinfo, polars and openpyxl.

use offcurve::ingest::{Looked, LookedPoint, Sample, Status, inspect};
use offcurve::plant::{Blank, Plant, units};
use serde_json::Value;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/exports")
}

fn cases() -> Vec<Value> {
    let text = std::fs::read_to_string(folder().join("cases.json")).expect("the cases are in the repository");
    serde_json::from_str(&text).expect("the cases are JSON")
}

/// What a person would have declared.
fn declared(case: &Value) -> Plant {
    let needs = &case["needs"];
    let zone = needs["timezone"].as_str().unwrap_or("UTC").parse().expect("a zone");
    let mut plant = Plant::bare(zone, needs["day_first"].as_bool());
    if needs["blank"] == "unchanged" {
        plant.trends.blank = Blank::Unchanged;
    }
    plant
}

fn files(case: &Value) -> Vec<PathBuf> {
    let named = case["files"].as_array().expect("files").iter().map(|f| folder().join(f.as_str().expect("a path")));
    let below = |path: PathBuf| {
        if path.is_dir() {
            offcurve::ingest::container::files_below(&path, "").into_iter().map(|(p, _)| p).collect()
        } else {
            vec![path]
        }
    };
    named.flat_map(below).collect()
}

/// Each word, or one of its alternatives, in a text.
fn says(text: &str, words: &Value) -> Result<(), String> {
    let lower = text.to_lowercase();
    for word in words.as_array().into_iter().flatten().filter_map(Value::as_str) {
        if !word.split('|').any(|w| lower.contains(&w.to_lowercase())) {
            return Err(format!("no word of \"{word}\" in: {text}"));
        }
    }
    Ok(())
}

fn judge(case: &Value) -> Result<(), String> {
    let flag = |key: &str| case[key].as_bool() == Some(true);
    let result = inspect(&declared(case), &files(case));
    match (case["expect"].as_str().unwrap_or_default(), result) {
        ("refused", Ok(looked)) if flag("or_read") => says(&told(&looked), &case["refusal"]),
        ("refused", Ok(_)) => Err("it was read".to_owned()),
        ("refused", Err(error)) => says(&error.to_string(), &case["refusal"]),
        (_, Err(error)) if flag("or_refused") => says(&error.to_string(), &case["refusal"]),
        (_, Err(error)) => Err(format!("refused: {error}")),
        (_, Ok(looked)) => read(case, &looked),
    }
}

/// Everything that is said beside the numbers.
fn told(looked: &Looked) -> String {
    let of_files = looked
        .files
        .iter()
        .flat_map(|f| f.notices.iter().cloned().chain(f.error.iter().map(|e| format!("{}: {e}", f.ledger.path))));
    of_files.chain(looked.notices.iter().map(|n| n.text.clone())).collect::<Vec<_>>().join("\n")
}

fn read(case: &Value, looked: &Looked) -> Result<(), String> {
    if let Some(shape) = case["shape"].as_str() {
        for file in looked.files.iter().filter(|f| f.error.is_none()) {
            if file.ledger.shape != shape {
                return Err(format!("{} was taken for {}, not {shape}", file.ledger.path, file.ledger.shape));
            }
        }
    }
    says(&told(looked), &case["notices"])?;
    for lost in case["lost"].as_array().into_iter().flatten().filter_map(Value::as_str) {
        let name = lost.rsplit('/').next().unwrap_or(lost);
        let named = looked.files.iter().any(|f| f.error.is_some() && f.ledger.path.contains(name));
        if !named {
            return Err(format!("the loss of {lost} is not named"));
        }
    }
    for file in &looked.files {
        let l = &file.ledger;
        let refused: u64 = l.refused.iter().map(|r| r.count).sum();
        if l.cells != l.used + l.missing + refused {
            return Err(format!(
                "{}: {} cells, but {} used, {} missing, {refused} refused",
                l.path, l.cells, l.used, l.missing
            ));
        }
    }
    for wanted in case["points"].as_array().into_iter().flatten() {
        let names = [wanted["name"].as_str(), wanted["as_written"].as_str()];
        let found = looked.points.iter().find(|p| names.contains(&Some(p.name.as_str())));
        let Some(point) = found else {
            let all: Vec<&str> = looked.points.iter().map(|p| p.name.as_str()).collect();
            return Err(format!("no point {names:?} among {all:?}"));
        };
        numbers(wanted, point).map_err(|why| format!("{}: {why}", point.name))?;
    }
    Ok(())
}

fn numbers(wanted: &Value, point: &LookedPoint) -> Result<(), String> {
    let ok: Vec<Sample> = point.samples().filter(|s| s.status == Status::Ok).collect();
    let same = |what: &str, is: u64, key: &Value| match key.as_u64() {
        Some(wanted) if wanted != is => Err(format!("{is} {what}, not {wanted}")),
        _ => Ok(()),
    };
    same("samples", ok.len() as u64, &wanted["samples"])?;
    same("bad", point.bad, &wanted["bad"])?;
    same("missing", point.missing, &wanted["missing"])?;
    same("bad or missing", point.bad + point.missing, &wanted["unusable"])?;
    if let Some(mean) = wanted["mean"].as_f64() {
        let is = ok.iter().map(|s| s.value).sum::<f64>() / ok.len() as f64;
        if (is - mean).abs() > 1e-9 * mean.abs().max(1.0) {
            return Err(format!("mean {is}, not {mean}"));
        }
    }
    if let Some(unit) = wanted["unit"].as_str() {
        let canonical = |u: &str| units::proposed(u).map(str::to_lowercase);
        if point.unit.as_deref().is_none_or(|u| canonical(u) != canonical(unit)) {
            return Err(format!("unit {:?}, not {unit}", point.unit));
        }
    }
    let ms = |text: &Value| {
        text.as_str().map(|t| chrono::DateTime::parse_from_rfc3339(t).expect("an instant").timestamp_millis())
    };
    for (key, sample) in [("first", ok.first()), ("last", ok.last())] {
        if let Some(wanted) = ms(&wanted[key])
            && sample.is_none_or(|s| s.time_ms != wanted)
        {
            return Err(format!("{key} at {:?}, not {wanted}", sample.map(|s| s.time_ms)));
        }
    }
    for probe in wanted["probes"].as_array().into_iter().flatten() {
        let (at, value) = (ms(&probe[0]).expect("an instant"), probe[1].as_f64().expect("a number"));
        let found = ok.iter().find(|s| s.time_ms == at).map(|s| s.value);
        if found.is_none_or(|v| (v - value).abs() > 1e-9 * value.abs().max(1.0)) {
            return Err(format!("{found:?} at {}, not {value}", probe[0]));
        }
    }
    Ok(())
}

/// N of N.
#[test]
fn every_export_is_read_back_or_refused_with_the_right_words() {
    let cases: Vec<Value> = cases().into_iter().filter(|c| c["made_at_test_time"].is_null()).collect();
    let mut wrong = Vec::new();
    for case in &cases {
        if let Err(why) = judge(case) {
            wrong.push(format!("{}: {why}", case["id"].as_str().unwrap_or_default()));
        }
    }
    println!("{} of {} exports", cases.len() - wrong.len(), cases.len());
    assert!(wrong.is_empty(), "{} of {}:\n{}", cases.len() - wrong.len(), cases.len(), wrong.join("\n"));
}
