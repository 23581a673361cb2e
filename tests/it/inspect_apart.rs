//! One name in several files: parts of one record, or machines whose files are headed alike.

use offcurve::{ingest, plant};
use serde_json::Value;
use std::fmt::Write;
use std::fs;
use std::path::Path;
use std::process::Command;

/// Quarter hours from a day on: a speed of the pump's own, a status that never changes, and the weather, which all files share.
fn export(pump: usize, days: std::ops::Range<usize>) -> String {
    let mut text = String::from("Time,Speed (%),Status,Outdoor Temp (degC)\n");
    for i in days.start * 96..days.end * 96 {
        let speed = if pump == 1 { 40 + i * 7 % 23 } else { 60 + i * 11 % 31 };
        let (day, hour, minute) = (i / 96 + 1, i / 4 % 24, i % 4 * 15);
        let weather = i * 13 % 17;
        let _ = writeln!(text, "2026-03-{day:02} {hour:02}:{minute:02},{speed}.5,1,{weather}.25");
    }
    text
}

fn inspect(dir: &Path, names: &[&str], more: &[&str]) -> Value {
    let mut command = Command::new(env!("CARGO_BIN_EXE_offcurve"));
    command.args(["inspect", "--format", "json", "--timezone", "UTC"]).args(names).args(more).current_dir(dir);
    let done = command.output().expect("the program starts");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    serde_json::from_slice(&done.stdout).expect("JSON")
}

fn named<'a>(found: &'a Value, name: &str) -> Vec<&'a Value> {
    found["points"].as_array().expect("points").iter().filter(|p| p["name"] == name).collect()
}

#[test]
fn a_file_a_pump_headed_alike_is_a_point_a_pump() {
    let scratch = crate::scratch::folder();
    let dir = scratch.path();
    // Each pump's record in two parts that overlap by a day.
    for (name, pump, days) in [("pump1-a", 1, 0..8), ("pump1-b", 1, 7..15), ("pump2-a", 2, 0..8), ("pump2-b", 2, 7..15)]
    {
        fs::write(dir.join(format!("{name}.csv")), export(pump, days)).expect("a file");
    }
    let found = inspect(dir, &["."], &["--write", "plant.toml"]);
    for (name, count, files) in [("Speed", 2, 2), ("Status", 2, 2), ("Outdoor Temp", 1, 4)] {
        let points = named(&found, name);
        assert_eq!(points.len(), count, "{name}: {points:?}");
        for point in points {
            assert_eq!(point["further_files"], files - 1, "{name}");
            assert_eq!(point["samples"], 15 * 96, "{name}");
        }
    }
    let speeds: Vec<f64> = named(&found, "Speed").iter().filter_map(|p| p["mean"].as_f64()).collect();
    assert!((speeds[0] - 51.5).abs() < 0.5 && (speeds[1] - 75.5).abs() < 0.5, "{speeds:?}");
    assert!(found["notices"].to_string().contains("\\\"Speed\\\" has other readings in"), "{}", found["notices"]);
    let text = fs::read_to_string(dir.join("plant.toml")).expect("a plant file");
    for words in
        ["files = [\"*.csv\"]", "file = \"pump1-*.csv\"", "file = \"pump2-*.csv\"", "of = \"P-1\"", "of = \"P-2\""]
    {
        assert!(text.contains(words), "{words} in {text}");
    }
    // Neither the plant file beside the exports nor a result is one of them.
    fs::create_dir_all(dir.join("notebooks-out/plant/2026-03")).expect("a folder");
    fs::write(dir.join("notebooks-out/plant/2026-03/findings.json"), "{}").expect("a file");
    fs::write(dir.join("notebooks-out/plant/2026-03/table.csv"), "Time,Speed\n2026-03-01 00:00,1\n").expect("a file");
    assert_eq!(inspect(dir, &["."], &[])["files"].as_array().map(Vec::len), Some(4));
    // What was written is read back, and each pump has its own speed.
    fs::write(dir.join("plant.toml"), text.replace("#? service", "service")).expect("a file");
    let plant = plant::read_for_exports(&dir.join("plant.toml")).unwrap_or_else(|e| panic!("{e}")).value;
    let trends = ingest::read(&plant, None).unwrap_or_else(|e| panic!("{e}")).value;
    let mean = |of: &str| {
        let series = trends.series.iter().find(|s| s.name == "Speed" && s.of.as_deref() == Some(of)).expect("a speed");
        series.values.iter().sum::<f64>() / series.values.len() as f64
    };
    assert!((mean("P-1") - 0.515).abs() < 0.005 && (mean("P-2") - 0.755).abs() < 0.005);
}

#[test]
fn months_and_corrected_exports_are_one_record() {
    let scratch = crate::scratch::folder();
    let dir = scratch.path();
    fs::write(dir.join("march-a.csv"), export(1, 0..8)).expect("a file");
    fs::write(dir.join("march-b.csv"), export(1, 7..15)).expect("a file");
    // The same days again, a few readings corrected.
    fs::write(dir.join("march-c.csv"), export(1, 0..8).replace("05:00,", "05:00,9")).expect("a file");
    let found = inspect(dir, &["."], &[]);
    let points = named(&found, "Speed");
    assert_eq!((points.len(), &points[0]["further_files"]), (1, &Value::from(2)), "{points:?}");
}
