//! `offcurve verify` from outside, on invented plants whose saving is known (`verify_plant.rs`).

use crate::verify_plant::{DAY_MS, MONDAY_MS, Made, PLAIN, Plant, time};
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::RowAccessor;
use serde_json::Value;
use std::fs;
use std::path::PathBuf;

/// The change of most plants: a Monday, seven in the evening, after eight weeks.
const CHANGE: f64 = 56.0 + 19.0 / 24.0;

fn range(v: &Value) -> (f64, f64, f64) {
    let of = |k: &str| v[k].as_f64().unwrap_or_else(|| panic!("{k} of {v}"));
    (of("low"), of("estimate"), of("high"))
}

fn result(plant: &Plant) -> PathBuf {
    let folder = plant.folder.path().join("notebooks-out");
    let below =
        |p: &PathBuf| fs::read_dir(p).expect("a folder").map(|e| e.expect("an entry").path()).find(|p| p.is_dir());
    below(&below(&folder).expect("the plant's folder")).expect("the result's folder")
}

/// The days after the change that were compared: day number, used and predicted [kWh].
fn compared(plant: &Plant) -> Vec<(usize, f64, f64)> {
    let file = fs::File::open(result(plant).join("daily.parquet")).expect("the table of days");
    let reader = SerializedFileReader::new(file).expect("parquet");
    let rows = reader.get_row_iter(None).expect("rows").map(|r| r.expect("a row"));
    rows.filter(|r| r.get_bool(3).expect("compared") && r.get_string(2).expect("setting") == "after")
        .map(|r| {
            let day = (r.get_timestamp_millis(0).expect("from") - MONDAY_MS) / DAY_MS;
            (day as usize, r.get_double(5).expect("energy"), r.get_double(6).expect("predicted"))
        })
        .collect()
}

/// What was truly saved on the days compared lies in the interval, the best value is near, and the table of days adds up to it.
fn check_saving(plant: &Plant, json: &Value, near: f64) {
    let (low, estimate, high) = range(&json["saving_kwh"]);
    let days = compared(plant);
    let truth: f64 = days.iter().map(|d| plant.saved_kwh[d.0]).sum();
    let used: f64 = days.iter().map(|d| plant.used_kwh[d.0]).sum();
    assert!(low < truth && truth < high, "{truth} is not in {low} to {high}");
    assert!((estimate - truth).abs() < near * (used + truth), "{estimate} for {truth}");
    let told = json["after"]["energy_kwh"].as_f64().expect("energy");
    assert!((told - used).abs() < 0.01 * used, "{told} used, {used} in truth: meters err by a hundredth a row");
    let summed: f64 = days.iter().map(|d| d.2 - d.1).sum();
    assert!((summed - estimate).abs() < 1e-3 * estimate.abs().max(1.0), "{summed} from the days, {estimate} told");
}

/// The head at no flow goes from 110 to 50 kPa: saved, taken, nothing worse, no year from twelve weeks.
#[test]
fn a_true_saving() {
    let plant = Made { changes: vec![CHANGE], ..PLAIN }.make();
    let json = plant.json(&[]);
    check_saving(&plant, &json, 0.03);
    assert_eq!(json["schema"], "offcurve/verification/1");
    assert_eq!(json["told"], "saved");
    assert_eq!(
        (&json["changed"], &json["change"]["source"]),
        (&"2026-03-02T19:00:00Z".into(), &"control-history".into())
    );
    assert_eq!(json["took"]["took"], true, "{}", json["took"]);
    assert_eq!(
        (&json["settings"]["before"]["zero_flow_head_kpa"], &json["settings"]["after"]["zero_flow_head_kpa"]),
        (&110.0.into(), &50.0.into())
    );
    assert_eq!(json["days_needed"], 0);
    assert!(json["model"]["acceptable"].as_bool().expect("a word") && json["model"]["n"].as_u64().expect("rows") > 50);
    // Twelve weeks know no year's weather.
    assert!(json["saving_kwh_per_year"].is_null() && json["no_yearly_figure"].as_str().expect("why").contains("365"));
    // 0.20 EUR and 0.25 kg a kWh.
    let kwh = range(&json["saving_kwh"]).1;
    assert!(
        (range(&json["saving_money"]).1 - 0.20 * kwh).abs() < 0.01
            && (range(&json["saving_kg_co2e"]).1 - 0.25 * kwh).abs() < 0.01
    );
    assert_eq!(json["excluded"][0]["reason"], "part-of-a-day");
    assert_ne!(json["comfort"]["tendency"], "rose", "{}", json["comfort"]);
}

/// Every file of the result, the notebook's key cell, and the memo's parts; a second run gives the same bytes.
#[test]
fn the_memo_is_whole() {
    let plant = Made { changes: vec![CHANGE], ..PLAIN }.make();
    let out = plant.verify(&[]);
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    let said = String::from_utf8(out.stdout).expect("UTF-8");
    assert!(said.lines().count() < 30 && said.contains("What it saved") && said.contains("report.html"), "{said}");
    let folder = result(&plant);
    assert!(folder.ends_with("verify-2026-03-02-1900"), "{}", folder.display());
    let files = crate::runs::tree(&folder);
    let names: Vec<String> = files.keys().map(|p| p.display().to_string()).collect();
    assert_eq!(
        names,
        [
            "daily.parquet",
            "figures/daily-energy.svg",
            "figures/head-before-after.svg",
            "report.html",
            "report.md",
            "verification.json",
            "verify.ipynb"
        ]
    );
    let text = |name: &str| String::from_utf8(files[&PathBuf::from(name)].clone()).expect("UTF-8");
    for part in [
        "What was changed, and when",
        "The model, and whether it is acceptable",
        "Limits of this memo",
        "Cautions",
        "Signature",
        "CV(RMSE)",
    ] {
        assert!(text("report.html").contains(part), "{part} on the page");
        assert!(text("report.md").replace('\\', "").contains(part), "{part} in the Markdown");
    }
    assert!(text("verify.ipynb").contains("after[\\\"predicted\\\"] - after[\\\"energy\\\"]"));
    assert_eq!(plant.verify(&["--quiet", "--jobs", "1"]).stdout.len(), 0);
    assert_eq!(crate::runs::tree(&folder), files, "a second run on one thread");
    // Feet and degrees Fahrenheit for those who ask.
    plant.verify(&["--quiet", "--units", "IP"]);
    let page = fs::read_to_string(folder.join("report.html")).expect("the page");
    assert!(page.contains("°F") && !page.contains("kPa</td>"));
}

/// Nothing was changed in truth: no saving is told, and the points cannot have moved.
#[test]
fn no_effect() {
    let plant = Made { zero: (110.0, 110.0), history: false, seed: 8, ..PLAIN }.make();
    let json = plant.json(&["--changed", &time(CHANGE)]);
    check_saving(&plant, &json, 0.03);
    assert_eq!(json["told"], "cannot-tell", "{}", json["saving_fraction"]);
    assert!(
        json["took"]["took"].is_null() && json["took"]["why"].as_str().expect("why").contains("[[control_history]]")
    );
    assert_ne!(json["days_needed"], 0);
    let notices = json["notices"].to_string();
    assert!(!notices.contains("stepped again"), "{notices}");
}

/// The plant file says that the curve was lowered, and the drive kept the old one.
#[test]
fn a_change_that_did_not_take() {
    let plant = Made { zero: (110.0, 110.0), history: false, seed: 9, ..PLAIN }.make();
    let path = plant.folder.path().join("plant.toml");
    let text = fs::read_to_string(&path)
        .expect("the plant file")
        .replace("zero_flow_head = \"110 kPa\"", "zero_flow_head = \"50 kPa\"");
    let history = format!("[[control_history]]\nuntil = \"{}\"\nzero_flow_head = \"110 kPa\"\n", time(CHANGE));
    fs::write(&path, text + &history).expect("written");
    let json = plant.json(&[]);
    assert_eq!(json["took"]["took"], false, "{}", json["took"]);
    assert_ne!(json["told"], "saved");
    assert!(json["side_effects"].to_string().contains("off-control-curve"), "{}", json["side_effects"]);
}

/// --changed left out and no history: the step of head over flow is found, to the day.
#[test]
fn the_change_is_found() {
    let plant = Made { changes: vec![CHANGE], history: false, seed: 10, ..PLAIN }.make();
    let json = plant.json(&[]);
    assert_eq!(json["change"]["source"], "found");
    let at = chrono::DateTime::parse_from_rfc3339(json["changed"].as_str().expect("a time"))
        .expect("a time")
        .timestamp_millis();
    let truth = MONDAY_MS + (CHANGE * DAY_MS as f64) as i64;
    assert!((at - truth).abs() < DAY_MS / 8, "{} for {}", json["changed"], time(CHANGE));
    assert_eq!(json["change"]["step"]["relation"], "head over flow");
    assert!(json["change"]["step"]["confidence"].as_f64().expect("a number") > 0.99);
    assert_eq!(json["told"], "saved");
    // Nothing changed, nothing found: the caller is asked.
    let plant = Made { history: false, seed: 11, ..PLAIN }.make();
    let out = plant.verify(&[]);
    assert_eq!(out.status.code(), Some(2));
    let said = String::from_utf8(out.stderr).expect("UTF-8");
    assert!(
        said.contains("the change was not found") && said.contains("hint: say when it was made: --changed"),
        "{said}"
    );
}

/// A wrong date is held against the record.
#[test]
fn a_wrong_date_is_told() {
    let plant = Made { changes: vec![CHANGE], history: false, seed: 12, ..PLAIN }.make();
    let json = plant.json(&["--changed", &time(35.0)]);
    let notices = json["notices"].to_string();
    assert!(
        notices.contains("shows no step of the control at 2026-02-09 00:00") && notices.contains("2026-03-02"),
        "{notices}"
    );
}

/// Two weeks each in turn, as [[control_history]] has it: one model for both, and still the truth.
#[test]
fn settings_in_turn() {
    let changes = (1..6).map(|k| 14.0 * f64::from(k)).collect();
    let plant = Made { changes, ..PLAIN }.make();
    let json = plant.json(&[]);
    assert_eq!((&json["experiment"], &json["change"]["times"]), (&"alternating".into(), &5.into()));
    assert_eq!(json["told"], "saved");
    assert_eq!(json["took"]["took"], true, "{}", json["took"]);
    check_saving(&plant, &json, 0.03);
}

/// What starves the coil saves energy, and the memo says what it cost.
#[test]
fn comfort_that_was_lost() {
    let plant = Made { changes: vec![CHANGE], zero: (110.0, 2.0), seed: 13, ..PLAIN }.make();
    let json = plant.json(&[]);
    let share = |side: &str| json["comfort"][side]["share"].as_f64().expect("a share");
    assert!(share("after") > share("before") + 0.02, "{}", json["comfort"]);
    assert_eq!(json["comfort"]["tendency"], "rose");
}

/// A heat meter is a driver; a load that a drive's flow estimate was put into is not.
#[test]
fn the_load_is_used_where_the_pump_does_not_make_it() {
    let plant = Made { changes: vec![CHANGE], load: true, ..PLAIN }.make();
    let json = plant.json(&[]);
    assert!(json["load_from"].as_str().expect("words").contains("Heat"));
    assert!(json["model"]["form"].as_str().expect("words").contains("load"), "{}", json["model"]["form"]);
    check_saving(&plant, &json, 0.03);
    let path = plant.folder.path().join("plant.toml");
    let text = fs::read_to_string(&path).expect("the plant file").replace(
        "unit = \"kW\"\n[[control_history]]",
        "unit = \"kW\"\ncomputed_from = [\"P1 Speed\"]\n[[control_history]]",
    );
    assert!(text.contains("computed_from"));
    fs::write(&path, text).expect("written");
    let json = plant.json(&[]);
    assert!(json["load_from"].is_null() && json["notices"].to_string().contains("was not used as a driver"));
}

/// Three days after the change are too few: a memo without a saving, that says how many more it takes.
#[test]
fn too_few_days_after() {
    let plant = Made { changes: vec![80.0 + 19.0 / 24.0], ..PLAIN }.make();
    let json = plant.json(&[]);
    assert!(json["saving_kwh"].is_null() && json["model"].is_null());
    assert_eq!(json["told"], "cannot-tell");
    assert_eq!(json["days_needed"], 4, "seven whole days are asked for, three are there");
    assert!(json["why"].as_str().expect("why").starts_with("3 whole days with the new setting"));
    let page = fs::read_to_string(result(&plant).join("report.html")).expect("the page");
    assert!(page.contains("4 more whole days with the new setting are needed"));
}

/// What cannot be done ends with status 2, names the place and says what to do; nothing is written.
#[test]
fn what_cannot_be_verified() {
    let changed = Made { changes: vec![CHANGE], history: false, ..PLAIN };
    let at = |day: f64| vec!["--changed".to_owned(), time(day)];
    let text = |args: &[&str]| args.iter().map(|a| (*a).to_owned()).collect::<Vec<String>>();
    let no_power = Made { power: false, ..changed.clone() };
    let rows: [(&Made, Vec<String>, &str, &str); 9] = [
        // The day of the change is nobody's: on the first and on the last day nothing is left on one side.
        (
            &changed,
            at(0.4),
            "no whole day of the record lies before the change at 2026-01-05 09:36",
            "14 whole days before it are needed",
        ),
        (&changed, at(83.4), "no whole day of the record lies after the change", "7 whole days after it are needed"),
        (
            &changed,
            at(-3.0),
            "--changed: 2026-01-02 00:00 lies outside the record, which runs from 2026-01-05 00:00 to 2026-03-30 00:00",
            "give a time inside it",
        ),
        (&changed, at(90.0), "--changed: 2026-04-05 00:00 lies outside the record", "give a time inside it"),
        (&changed, text(&["--changed", "yesterday"]), "--changed: \"yesterday\" is not a time", "--changed 2026-03-01"),
        (
            &changed,
            text(&["--changed", "2026-03-02", "--before", "2026-03-10..2026-03-20"]),
            "--before: the period begins after the change",
            "--before 2026-01-05..",
        ),
        (
            &changed,
            text(&["--changed", "2026-03-02", "--after", "2026-01-10..2026-01-20"]),
            "--after: the period ends before the change",
            "--after 2026-03-02..",
        ),
        (
            &changed,
            text(&["--before", "2026-03-10"]),
            "--before: \"2026-03-10\" is not a period",
            "--before 2025-11-01..2026-02-10",
        ),
        (
            &no_power,
            at(CHANGE),
            "the pumps' energy is not known at any time of the record",
            "trend pump-power, pump-energy or total-power",
        ),
    ];
    let (with, without) = (changed.make(), no_power.make());
    for (made, args, said, hint) in rows {
        let plant = if made.power { &with } else { &without };
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        let out = plant.verify(&args);
        let error = String::from_utf8(out.stderr).expect("UTF-8");
        assert_eq!(out.status.code(), Some(2), "{args:?}: {error}");
        let (first, second) = error.split_once("\nhint: ").unwrap_or_else(|| panic!("{args:?}: no hint in {error}"));
        assert!(first.contains(said) && second.contains(hint), "{args:?}: {error}");
        assert!(out.stdout.is_empty() && !plant.folder.path().join("notebooks-out").exists());
    }
}

/// Periods that are given are kept to: a fortnight before, and eight days after.
#[test]
fn given_periods() {
    let plant = Made { changes: vec![CHANGE], history: false, ..PLAIN }.make();
    let json = plant.json(&["--before", "2026-02-01..2026-02-28", "--after", "2026-03-03..2026-03-20"]);
    assert_eq!(
        (&json["before"]["from"], &json["before"]["to"]),
        (&"2026-02-01T00:00:00Z".into(), &"2026-03-01T00:00:00Z".into())
    );
    assert_eq!(
        (&json["after"]["from"], &json["after"]["to"]),
        (&"2026-03-03T00:00:00Z".into(), &"2026-03-21T00:00:00Z".into())
    );
    assert_eq!(json["before"]["days"], 28);
    check_saving(&plant, &json, 0.05);
}

/// Left where the browser's check finds it: target/tmp/page/verify.
#[test]
fn writes_a_memo_for_the_browser_check() {
    let out = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("page").join("verify");
    let plant = Made { changes: vec![CHANGE], ..PLAIN }.make();
    // Each run's scratch folder has another name, and with it the plant.
    let _ = fs::remove_dir_all(&out);
    let done = plant.verify(&["--quiet", "--out", out.to_str().expect("UTF-8")]);
    assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
}

#[test]
fn the_help_has_an_example() {
    let plant = PLAIN.make();
    let out = plant.verify(&["--help"]);
    let said = String::from_utf8(out.stdout).expect("UTF-8");
    assert!(said.contains("offcurve verify my-plant/plant.toml --changed \"2026-02-11 19:00\""), "{said}");
}
