//! `offcurve fleet` from outside, and its parts: which files are plants, the order, the boundary that holds what goes wrong.

use crate::runs::{program, tree};
use crate::scratch::{self, Scratch};
use offcurve::fleet::{find, work};
use parquet::file::reader::{FileReader, SerializedFileReader};
use serde_json::Value;
use std::{
    fs,
    path::{Path, PathBuf},
    process::Output,
    sync::atomic::{AtomicUsize, Ordering},
};

/// A plant file that can be reviewed with [`EXPORT`]: one pump that never stops, and a schedule.
fn plant_file(site: &str, price: &str) -> String {
    format!(
        "[site]\nname = \"{site}\"\ntimezone = \"UTC\"\n{price}\n[loop]\nname = \"Heating\"\nservice = \"heating-water\"\n\
         [[pump]]\nname = \"P\"\n[[schedule]]\ndays = \"mon-fri\"\nfrom = \"06:00\"\nto = \"18:00\"\n\
         [trends]\nfiles = [\"*.csv\"]\n[[point]]\nname = \"Hz\"\nrole = \"pump-speed\"\nof = \"P\"\nunit = \"%\"\n\
         [[point]]\nname = \"kW\"\nrole = \"pump-power\"\nof = \"P\"\nunit = \"kW\"\n"
    )
}

/// Four weeks and two days every quarter of an hour from Monday 2 March 2026: 2 kW, day and night.
fn export(kw: f64) -> String {
    let mut out = String::from("Time,Hz,kW\n");
    let start = chrono::NaiveDate::from_ymd_opt(2026, 3, 2).expect("a date").and_hms_opt(0, 0, 0).expect("a time");
    for row in 0..96 * 30 {
        let time = start + chrono::TimeDelta::minutes(15 * row);
        // Readings of a real sensor differ in their last figure.
        let wander = f64::from((row * 7 % 11) as i32) * 0.01;
        out.push_str(&format!("{},{:.2},{:.3}\n", time.format("%Y-%m-%d %H:%M"), 70.0 + wander, kw + wander / 10.0));
    }
    out
}

const EUR: &str = "currency = \"EUR\"\nenergy_price = 0.20";

/// Puts a plant into a folder.
fn put(root: &Path, at: &str, price: &str, kw: f64) {
    let folder = root.join(at);
    fs::create_dir_all(&folder).expect("a folder");
    fs::write(folder.join("plant.toml"), plant_file(at, price)).expect("written");
    fs::write(folder.join("trends.csv"), export(kw)).expect("written");
}

/// Six plants: two of one name in different folders, one in dollars, one without a price, and two that cannot be reviewed.
fn mixed() -> Scratch {
    let dir = scratch::folder();
    let root = dir.path().join("plants");
    put(&root, "north/hall", EUR, 2.0);
    put(&root, "south/hall", EUR, 4.0);
    put(&root, "west/hall", "currency = \"USD\"\nenergy_price = 0.10", 9.0);
    put(&root, "east/<b>hall", "", 3.0);
    fs::create_dir_all(root.join("lost/no-trends")).expect("a folder");
    fs::write(root.join("lost/no-trends/plant.toml"), plant_file("Lost", EUR)).expect("written");
    fs::write(root.join("lost/slip.toml"), plant_file("Slip", EUR).replace("[loop]", "[loop")).expect("written");
    fs::write(root.join("south/hall/notes.toml"), "author = \"someone\"\n").expect("written");
    dir
}

fn fleet(dir: &Scratch, more: &[&str]) -> Output {
    program(dir.path()).args(["fleet", "plants"]).args(more).output().expect("the program starts")
}

fn said(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn json(dir: &Scratch) -> Value {
    let text = fs::read_to_string(dir.path().join("notebooks-out/fleet/fleet.json")).expect("fleet.json");
    serde_json::from_str(&text).expect("JSON")
}

/// A broken plant stops no other; each loss has its reason; every link leads to a report; names are text on the page.
#[test]
fn a_broken_plant_stops_no_other() {
    let dir = mixed();
    let out = fleet(&dir, &[]);
    let (stdout, stderr) = (said(&out.stdout), said(&out.stderr));
    assert_eq!(out.status.code(), Some(0), "{stderr}");
    assert!(stdout.starts_with("4 of 6 plants need something done; at stake are about EUR "), "{stdout}");
    assert!(stdout.contains("2 could not be reviewed.") && !stdout.contains('\u{1b}'), "{stdout}");
    assert!(
        stderr.contains("not reviewed: lost/no-trends/plant.toml: ") && stderr.contains("no file matches"),
        "{stderr}"
    );
    assert!(stderr.contains("not reviewed: lost/slip.toml:") && stderr.contains("\nhint: [loop]"), "{stderr}");
    assert!(stderr.contains("passed over (not plant files): south/hall/notes.toml"), "{stderr}");

    let json = json(&dir);
    assert_eq!(json["schema"], "offcurve/fleet/1");
    assert_eq!(json["counts"]["plants"], 6);
    let lost: Vec<&str> =
        json["not_reviewed"].as_array().unwrap().iter().map(|l| l["path"].as_str().unwrap()).collect();
    assert_eq!(lost, ["lost/no-trends/plant.toml", "lost/slip.toml"]);
    // Two of one name keep their relative paths.
    let at = |k: usize, key: &str| json["plants"][k][key].clone();
    assert_eq!((at(0, "plant"), at(1, "plant")), ("hall".into(), "hall".into()));
    let page = fs::read_to_string(dir.path().join("notebooks-out/fleet/fleet.html")).expect("the page");
    for plant in json["plants"].as_array().unwrap() {
        let report = plant["report"].as_str().expect("a path");
        assert!(dir.path().join("notebooks-out").join(report).is_file(), "{report}");
    }
    assert!(page.contains("href=\"../south/hall/2026-03-02_2026-03-31/report.html\""));
    // RFC 3986: what is reserved stands as its bytes in a path; and no name becomes markup.
    assert!(
        page.contains("href=\"../east/%3Cb%3Ehall/")
            && page.contains("east/&lt;b&gt;hall")
            && !page.contains("<b>hall")
    );
    assert!(!page.contains("<script") && !page.contains("http://") && !page.contains("https://"));
}

/// By money within a currency, which are not added together; without a price by energy, last.
#[test]
fn ranked_by_money_within_a_currency() {
    let dir = mixed();
    assert_eq!(fleet(&dir, &["--quiet"]).status.code(), Some(0));
    let json = json(&dir);
    let of = |key: &str| -> Vec<Value> { json["plants"].as_array().unwrap().iter().map(|p| p[key].clone()).collect() };
    // South takes twice the power of north at the same price. West uses most of all, but in another currency.
    assert_eq!(
        of("path"),
        ["south/hall/plant.toml", "north/hall/plant.toml", "west/hall/plant.toml", "east/<b>hall/plant.toml"]
    );
    assert_eq!(of("rank"), [1, 2, 1, 1]);
    assert_eq!(of("currency"), [Value::from("EUR"), "EUR".into(), "USD".into(), Value::Null]);
    let stake = &json["at_stake"];
    let estimate = |v: &Value| v["estimate"].as_f64().unwrap();
    let money = of("at_stake_money_per_year");
    // Numbers of the file have seven figures.
    let close = |a: f64, b: f64| (a - b).abs() <= 2e-6 * b;
    assert!(close(estimate(&stake[0]["per_year"]), estimate(&money[0]) + estimate(&money[1])), "{stake}");
    assert!(close(estimate(&stake[1]["per_year"]), estimate(&money[2])), "{stake}");
    assert_eq!(
        (&stake[0]["currency"], &stake[1]["currency"], &stake[2]["currency"]),
        (&"EUR".into(), &"USD".into(), &Value::Null)
    );
    // Price times energy: 0.20 a kWh.
    assert!(close(estimate(&money[0]), 0.20 * estimate(&of("at_stake_kwh_per_year")[0])));
    // 4 kW through all 168 hours, meant for 60 of them: most 4 kW * 108/168 * 8766 h are wasted.
    assert!(estimate(&of("at_stake_kwh_per_year")[0]) <= 4.02 * 108.0 / 168.0 * 8766.0 * 1.02);
}

/// The gate asks the most urgent finding of all; a slip in the period is one error.
#[test]
fn gates_and_periods() {
    let dir = mixed();
    let status = |more: &[&str]| {
        let mut all = vec!["--quiet"];
        all.extend(more);
        fleet(&dir, &all).status.code()
    };
    // Two thirds of the hours are out of schedule: more than the 15 % of energy that are to be acted on.
    assert_eq!(status(&["--gate", "act"]), Some(1));
    assert_eq!(status(&["--month", "2026-13"]), Some(2));
    let out = fleet(&dir, &["--month", "2025-01"]);
    assert_eq!(out.status.code(), Some(2), "no plant has trends of that month");
    let stderr = said(&out.stderr);
    assert!(
        stderr.contains("no reading of any point lies in the period") || stderr.contains("no trends in the period"),
        "{stderr}"
    );
    assert!(stderr.contains("none of its 6 plant files could be reviewed\nhint: "), "{stderr}");
    let quiet = fleet(&dir, &["--quiet"]);
    assert!(quiet.stdout.is_empty() && quiet.stderr.is_empty());
    let printed = fleet(&dir, &["--quiet", "--format", "json"]);
    assert_eq!(serde_json::from_slice::<Value>(&printed.stdout).expect("JSON"), json(&dir));
}

/// A second month finds what the first did, at the plant's own relative path.
#[test]
fn a_later_period_says_what_persists() {
    let dir = mixed();
    assert_eq!(fleet(&dir, &["--quiet", "--to", "2026-03-15"]).status.code(), Some(0));
    assert_eq!(json(&dir)["plants"][0]["findings"][0]["status"], "new");
    assert_eq!(fleet(&dir, &["--quiet", "--from", "2026-03-16"]).status.code(), Some(0));
    let json = json(&dir);
    let finding = &json["plants"][0]["findings"][0];
    assert_eq!(
        (&finding["status"], &json["plants"][0]["path"]),
        (&"persisting".into(), &"south/hall/plant.toml".into())
    );
    assert!(finding["since"].as_str().unwrap() < "2026-03-10", "{finding}");
}

#[test]
fn the_same_bytes_again_and_with_any_number_of_threads() {
    let written = |more: &[&str]| {
        let dir = mixed();
        assert_eq!(fleet(&dir, more).status.code(), Some(0));
        let first = tree(&dir.path().join("notebooks-out"));
        if more.is_empty() {
            assert_eq!(fleet(&dir, more).status.code(), Some(0));
            assert!(first == tree(&dir.path().join("notebooks-out")), "a rerun differs");
        }
        // Whose results a folder holds stands in a hidden file, with the whole path.
        first.into_iter().filter(|(p, _)| !p.ends_with(".plant-file")).collect::<Vec<_>>()
    };
    let first = written(&[]);
    assert!(first.iter().any(|(p, _)| p.ends_with("fleet/fleet.parquet")));
    for jobs in ["1", "2"] {
        let other = written(&["--jobs", jobs]);
        for (a, b) in first.iter().zip(&other) {
            assert!(a == b, "--jobs {jobs}: {} differs", a.0.display());
        }
        assert_eq!(first.len(), other.len());
    }
}

/// No plant at all, no folder, a file instead: status 2, with something to do.
#[test]
fn nothing_to_review_is_said_with_a_hint() {
    let dir = scratch::folder();
    fs::create_dir_all(dir.path().join("plants/.hidden")).expect("a folder");
    fs::write(dir.path().join("plants/Cargo.toml"), "[package]\nname = \"x\"\n").expect("written");
    fs::write(dir.path().join("plants/.hidden/plant.toml"), plant_file("Hidden", EUR)).expect("written");
    let rows = [
        ("plants", "plants: there is no plant file below it; Cargo.toml is none\nhint: offcurve inspect"),
        ("nowhere", "nowhere: there is no such folder\nhint: "),
        ("plants/Cargo.toml", "plants/Cargo.toml: it is a file, not a folder\nhint: offcurve review plants/Cargo.toml"),
    ];
    for (typed, wanted) in rows {
        let out = program(dir.path()).args(["fleet", typed]).output().expect("the program starts");
        assert_eq!(out.status.code(), Some(2), "{typed}");
        assert!(out.stdout.is_empty() && said(&out.stderr).contains(wanted), "{typed}: {}", said(&out.stderr));
    }
    assert!(!dir.path().join("notebooks-out").exists());
}

/// What counts as a plant file, where its results go, and what shares a place.
#[test]
fn plant_files_are_told_from_other_files() {
    let dir = scratch::folder();
    let put = |name: &str, text: &str| {
        let path = dir.path().join(name);
        fs::create_dir_all(path.parent().expect("a folder")).expect("a folder");
        fs::write(path, text).expect("written");
    };
    let good = plant_file("x", EUR);
    put("a/plant.toml", "");
    put("a.toml", &good);
    put("b/loop one.TOML", &good);
    // A slip of syntax before most of its tables: still a plant file.
    put("c/slip.toml", &good.replacen("[loop]", "[loop", 1));
    put("d/learned-curve-P.toml", "[[pump]]\n[[pump.curve]]\nspeed = \"100 %\"\n");
    put("out/old/2026-03-01_2026-03-31/learned.toml", &good);
    put("old-results/x/findings.json", "{}");
    put("old-results/x/plant.toml", &good);
    put("plant.toml", &good);
    let found = find::below(dir.path(), &dir.path().join("out")).expect("a folder");
    let shown: Vec<&str> = found.plants.iter().map(|c| c.shown.as_str()).collect();
    assert_eq!(shown, ["a/plant.toml", "a.toml", "b/loop one.TOML", "c/slip.toml", "plant.toml"]);
    let own = dir.path().file_name().expect("a name").to_string_lossy().into_owned();
    let places: Vec<&str> = found.plants.iter().map(|c| c.place.as_str()).collect();
    assert_eq!(places, ["a", "a", "b/loop one", "c/slip", own.as_str()]);
    let shared: Vec<Option<&str>> = found.plants.iter().map(|c| c.shares_with.as_deref()).collect();
    assert_eq!(shared, [None, Some("a/plant.toml"), None, None, None]);
    let passed: Vec<&str> = found.passed_over.iter().map(|p| p.shown.as_str()).collect();
    assert_eq!(passed, ["d/learned-curve-P.toml"]);
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(dir.path().join("b"), dir.path().join("e")).expect("a link");
        std::os::unix::fs::symlink(dir.path(), dir.path().join("c/back")).expect("a link");
        let again = find::below(dir.path(), &dir.path().join("out")).expect("a folder");
        assert_eq!(again.plants, found.plants, "links lead to nothing new");
    }
}

/// A panic in one is that one's reason; the others are done, in order, and never more at once than asked.
#[test]
fn a_panic_is_held_at_the_boundary() {
    let (done, busy, most) = (AtomicUsize::new(0), AtomicUsize::new(0), AtomicUsize::new(0));
    let items: Vec<i32> = (0..20).collect();
    let results = work::each(&items, 3, &done, |&k| {
        most.fetch_max(busy.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
        std::thread::sleep(std::time::Duration::from_millis(2));
        busy.fetch_sub(1, Ordering::SeqCst);
        match k {
            5 => panic!("row {k} of nothing"),
            7 => Err("no trends".to_owned()),
            _ => Ok(k * 2),
        }
    });
    assert_eq!((results.len(), done.load(Ordering::SeqCst)), (20, 20));
    assert!(most.load(Ordering::SeqCst) <= 3);
    for (k, result) in results.iter().enumerate() {
        match (k, result) {
            (5, Err(stopped)) => {
                let text = stopped.to_string();
                assert!(
                    text.contains("row 5 of nothing") && text.contains("\nhint: ") && text.contains("report it"),
                    "{text}"
                );
            }
            (7, Err(stopped)) => assert_eq!(stopped.to_string(), "no trends"),
            (k, result) => assert_eq!(*result, Ok(k as i32 * 2)),
        }
    }
}

/// One row a finding, with units; plants without a finding have one row.
#[test]
fn the_table_holds_every_finding() {
    let dir = mixed();
    assert_eq!(fleet(&dir, &["--quiet"]).status.code(), Some(0));
    let file = fs::File::open(dir.path().join("notebooks-out/fleet/fleet.parquet")).expect("the table");
    let reader = SerializedFileReader::new(file).expect("parquet");
    let rows: Vec<String> = reader.get_row_iter(None).expect("rows").map(|r| r.expect("a row").to_string()).collect();
    let json = json(&dir);
    let wanted: usize =
        json["plants"].as_array().unwrap().iter().map(|p| p["findings"].as_array().unwrap().len().max(1)).sum();
    assert_eq!(rows.len(), wanted);
    assert!(rows[0].contains("south/hall/plant.toml") && rows[0].contains("out-of-hours-running"), "{}", rows[0]);
    let schema = reader.metadata().file_metadata().key_value_metadata().expect("metadata");
    assert!(schema.iter().any(|k| k.key == "ARROW:schema"));
}

/// A fleet's folder that is also a plant's place keeps that plant's results.
#[test]
fn a_plant_called_fleet_keeps_its_results() {
    let dir = scratch::folder();
    put(&dir.path().join("plants"), "fleet", EUR, 2.0);
    for _ in 0..2 {
        assert_eq!(fleet(&dir, &["--quiet"]).status.code(), Some(0));
        let out: PathBuf = dir.path().join("notebooks-out/fleet");
        assert!(out.join("fleet.html").is_file() && out.join("2026-03-02_2026-03-31/report.html").is_file());
    }
}

/// The page of many plants stays below 1 MB: its own share of a plant times five hundred.
#[test]
fn the_page_of_five_hundred_plants_is_light() {
    let dir = mixed();
    assert_eq!(fleet(&dir, &["--quiet"]).status.code(), Some(0));
    let page = fs::read_to_string(dir.path().join("notebooks-out/fleet/fleet.html")).expect("the page");
    let row = page.lines().filter(|l| l.starts_with("<tr role=\"row\"><td")).map(str::len).max().expect("a row");
    assert!(page.len() + 500 * row < 1_000_000, "{} and {row} a plant", page.len());
}
