//! `offcurve verify` from outside, on invented plants whose saving is known (`verify_plant.rs`).

use crate::scratch;
use crate::simulator::{self, Faults, Options, Run};
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

/// The days after the change that were compared: first instant and first after [ms UTC], used and predicted [kWh].
fn days_after(plant: &Plant) -> Vec<(i64, i64, f64, f64)> {
    let file = fs::File::open(result(plant).join("daily.parquet")).expect("the table of days");
    let reader = SerializedFileReader::new(file).expect("parquet");
    let rows = reader.get_row_iter(None).expect("rows").map(|r| r.expect("a row"));
    let time = |r: &parquet::record::Row, k| r.get_timestamp_millis(k).expect("a time");
    let number = |r: &parquet::record::Row, k| r.get_double(k).expect("a number");
    rows.filter(|r| r.get_bool(3).expect("compared") && r.get_string(2).expect("setting") == "after")
        .map(|r| (time(&r, 0), time(&r, 1), number(&r, 5), number(&r, 6)))
        .collect()
}

/// The same by the number of the day.
fn compared(plant: &Plant) -> Vec<(usize, f64, f64)> {
    days_after(plant).into_iter().map(|d| (((d.0 - MONDAY_MS) / DAY_MS) as usize, d.2, d.3)).collect()
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

/// Plants on which nothing was changed, and the same with a tenth of the head taken off at no flow: no change is found in the first, and in the second its day is.
#[test]
fn small_changes_are_found_and_none_are_invented() {
    for seed in 100..104 {
        let still = Made { zero: (110.0, 110.0), history: false, seed, ..PLAIN }.make();
        assert_eq!(still.verify(&["--quiet"]).status.code(), Some(2), "{seed}: a change was found where none is");
        let json = still.json(&["--changed", &time(CHANGE)]);
        assert_eq!(json["told"], "cannot-tell", "{seed}: {}", json["saving_fraction"]);
        let moved = Made { zero: (110.0, 100.0), history: false, changes: vec![CHANGE], seed, ..PLAIN }.make();
        let json = moved.json(&[]);
        assert!(json["changed"].as_str().expect("a time").starts_with("2026-03-02"), "{seed}: {}", json["changed"]);
    }
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

/// The same curve all through, too low for hot days, and three kelvin warmer after the day that is said to be the change: the coil is short in more hours, by the weather alone.
/// On days of like weather no difference is told; where no weather is trended nothing is said of it.
#[test]
fn weather_is_no_loss_of_comfort() {
    let made = Made { zero: (2.0, 2.0), history: false, warmer: 3.0, seed: 21, ..PLAIN };
    let plant = made.make();
    let json = plant.json(&["--changed", &time(57.0)]);
    let comfort = &json["comfort"];
    let share = |side: &str| comfort[side]["share"].as_f64().expect("a share");
    assert!(share("after") > share("before") + 0.02, "{comfort}");
    assert_eq!(comfort["tendency"], "none-told", "{comfort}");
    let like = |what: &str| comfort["like"][what].as_f64().expect("a number");
    assert!((like("share_after") - like("share_before")).abs() < 0.5 * (share("after") - share("before")), "{comfort}");
    let path = plant.folder.path().join("plant.toml");
    let text = fs::read_to_string(&path).expect("the plant file");
    fs::write(&path, text.replace("role = \"outdoor-temperature\"", "role = \"ignore\"")).expect("written");
    let json = plant.json(&["--changed", &time(57.0)]);
    assert!(json["comfort"]["like"].is_null() && json["comfort"]["tendency"] == "unknown", "{}", json["comfort"]);
    let page = fs::read_to_string(result(&plant).join("report.md")).expect("the page");
    assert!(page.contains("Which way it went is not judged"), "{page}");
}

/// Plants that lack what most have: each still gets its figure, and the truth lies in it. Rows: what it lacks, and what the memo says of it.
#[test]
fn plants_at_the_edge() {
    let changed = Made { changes: vec![CHANGE], ..PLAIN };
    let rows = [
        (Made { valves: false, seed: 31, ..changed.clone() }, "no two-way coil valve is trended"),
        (Made { lift: 20.0, seed: 32, ..changed.clone() }, "one coil, short of nothing"),
        (Made { flat: true, seed: 33, ..changed.clone() }, "one load all through"),
    ];
    for (made, what) in rows {
        let plant = made.make();
        let json = plant.json(&[]);
        assert_eq!(json["told"], "saved", "{what}: {}", json["saving_fraction"]);
        check_saving(&plant, &json, 0.03);
        let why = json["comfort"]["why"].as_str().unwrap_or_default();
        assert_eq!(why.contains(what), !made.valves, "{what}: {why}");
    }
    // Five days before: nothing can be learned, and the memo says what is missing.
    let plant = changed.make();
    let json = plant.json(&["--before", "2026-02-25..2026-03-01"]);
    assert!(json["saving_kwh"].is_null());
    let why = json["why"].as_str().expect("why");
    assert!(why.starts_with("there are 5 whole days with the old setting; at least 14 are needed"), "{why}");
}

/// Somebody put the old curve back two weeks after the change: told, with the day.
#[test]
fn a_second_change_is_told() {
    let plant = Made { changes: vec![CHANGE, CHANGE + 14.0], history: false, days: 98, seed: 34, ..PLAIN }.make();
    let json = plant.json(&["--changed", &time(CHANGE)]);
    let notices = json["notices"].to_string();
    assert!(notices.contains("stepped again at 2026-03-16") && notices.contains("--after ends it there"), "{notices}");
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
    assert!(json["why"].as_str().expect("why").starts_with("there are 3 whole days with the new setting"));
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
            "at least 14 whole days before it",
        ),
        (&changed, at(83.4), "no whole day of the record lies after the change", "at least 7 whole days after it"),
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

/// The first sample's building from the tests' own simulator, once with its drive reloaded on the twentieth at two in the afternoon (a constant 189 kPa instead of the
/// curve), once without: two pumps, nine coils, gaps and bad words. What the reload cost is the difference of the two runs.
#[test]
fn a_reloaded_drive_of_the_simulators_building() {
    let run = |from| {
        let faults = Faults { off_control_curve_from: from, ..Faults::none() };
        simulator::chilled(4711, 31, &Options { faults, ..Options::sample() })
    };
    let (with, without) = (run(Some(20)), run(None));
    let folder = scratch::folder();
    for (path, bytes) in &with.files {
        let place = folder.path().join(path);
        fs::create_dir_all(place.parent().expect("a folder")).expect("made");
        fs::write(place, bytes).expect("written");
    }
    let toml =
        with.plant_toml.replacen("mode = \"quadratic\"", "mode = \"constant-pressure\"\nsetpoint = \"189 kPa\"", 1)
            + "\n[[control_history]]\nuntil = \"2025-10-20 14:00\"\nmode = \"quadratic\"\n";
    assert!(toml.contains("189 kPa"));
    fs::write(folder.path().join("plant.toml"), toml).expect("written");
    let plant = Plant { folder, saved_kwh: Vec::new(), used_kwh: Vec::new() };
    let json = plant.json(&[]);
    assert_eq!((&json["told"], &json["took"]["took"]), (&"used-more".into(), &true.into()), "{}", json["took"]);
    let days = days_after(&plant);
    assert!(days.len() >= 8, "{} days of eleven were compared", days.len());
    let inside = |ms: i64| days.iter().any(|d| (d.0..d.1).contains(&ms));
    let energy = |r: &Run| -> f64 {
        let rows = (0..r.truth.time_ms.len()).filter(|i| inside(r.truth.time_ms[*i]));
        rows.map(|i| r.truth.pumps.iter().map(|p| p.power_kw[i]).sum::<f64>() / 12.0).sum()
    };
    let truth = energy(&without) - energy(&with);
    let (low, estimate, high) = range(&json["saving_kwh"]);
    assert!(low < truth && truth < high, "{truth} is not in {low} to {high} ({estimate})");
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
    assert!(
        said.contains("offcurve verify sample-trends/quay-house/plant.toml --changed \"2025-10-20 14:00\""),
        "{said}"
    );
}
