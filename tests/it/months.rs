//! A plant reviewed month after month. First by the program, as its user would: three months of an invented plant, where one fault goes, one comes, and one cannot
//! be judged in between. Then the rules of following a fault and its cost, on results made by hand, by arithmetic a reader can redo.

use crate::fixture;
use crate::scratch::{self, Scratch};
use crate::simulator::noise::Rng;
use offcurve::faults::{Estimate, Fault, Verdict};
use offcurve::pipeline::Review;
use offcurve::plant::UnitSystem;
use offcurve::report::{self, Written};
use serde_json::Value;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

const DAY_MS: i64 = 86_400_000;
/// 1 January 2026, 00:00 UTC.
const JANUARY_MS: i64 = 1_767_225_600_000;

/// Three months, a row every quarter of an hour: one pump on a curve from 110 kPa at no flow, one coil that would do with far less. In January and February the
/// pump runs through the nights; in February the valve is not in the export; from 10 to 13 February and March the outdoor sensor stands still.
fn three_months() -> Scratch {
    const DESIGN: (f64, f64) = (68.0, 162.0);
    const FALL: f64 = (230.0 - 172.0) / (68.0 * 68.0);
    let (mut weather, mut noise) = (Rng::new(5, 1), Rng::new(5, 2));
    let mut csv = String::from("Time,P1 Speed,P1 Power,P1 Head,Outdoor,AHU-1 Valve,AHU-1 Air,AHU-1 Air SP\n");
    let mut front = 0.0;
    for day in 0..90i64 {
        let month = if day < 31 {
            1
        } else if day < 59 {
            2
        } else {
            3
        };
        let of_month = day - [0, 31, 59][month - 1] + 1;
        front = 0.7 * front + 3.0 * weather.normal();
        let season = 5.0 * libm::sin(std::f64::consts::TAU * day as f64 / 28.0);
        let rest = if (day + 3) % 7 >= 5 { 0.75 } else { 1.0 };
        for step in 0..96 {
            let hour = f64::from(step) / 4.0;
            let mut t = 20.0 + season + front + 4.0 * libm::sin((hour - 9.0) / 24.0 * std::f64::consts::TAU);
            let by_day = (6.0..20.0).contains(&hour);
            let share = (0.38 + 0.016 * (t - 18.0) + 0.02 * weather.normal()).clamp(0.15, 0.98);
            let flow = DESIGN.0 * share * rest * if by_day { 1.0 } else { 0.6 };
            let head = 110.0 + (DESIGN.1 - 110.0) * (flow / DESIGN.0).powi(2);
            let speed = ((head + FALL * flow * flow) / 230.0).sqrt();
            let at_rated = flow / speed;
            let power = speed.powi(3) * (1.3 + 0.062 * at_rated - 0.000_19 * at_rated * at_rated);
            let on = if by_day || month < 3 { 1.0 } else { 0.0 };
            if month >= 2 && (10..14).contains(&of_month) {
                t = 17.3;
            }
            let valve = if month == 2 { String::new() } else { format!("{:.1}", 100.0 * flow / (8.0 * head.sqrt())) };
            let ms = JANUARY_MS + day * DAY_MS + step as i64 * 900_000;
            let time = chrono::DateTime::from_timestamp_millis(ms).expect("a time").format("%Y-%m-%d %H:%M");
            let _ = writeln!(
                csv,
                "{time},{:.2},{:.3},{:.2},{t:.1},{valve},{:.1},14.0",
                on * 100.0 * speed * (1.0 + 0.001 * noise.normal()),
                on * power * (1.0 + 0.01 * noise.normal()),
                on * head * (1.0 + 0.004 * noise.normal()),
                14.0 + 0.1 * noise.normal(),
            );
        }
    }
    let folder = scratch::folder();
    fs::write(folder.path().join("trends.csv"), csv).expect("written");
    fs::write(folder.path().join("wharf.toml"), WHARF).expect("written");
    folder
}

/// Head 230 kPa less 0.012543 Q^2, power 1.3 + 0.062 Q - 0.00019 Q^2 kW.
const WHARF: &str = r#"
[site]
name = "Wharf Hall"
timezone = "UTC"
currency = "EUR"
energy_price = 0.20
[loop]
name = "Chilled water"
service = "chilled-water"
design_flow = "68 m3/h"
design_head = "162 kPa"
static_head = "0 kPa"
[[coil]]
name = "AHU-1"
valve = "two-way"
characteristic = "linear"
design_flow = "68 m3/h"
[control]
mode = "quadratic"
head_at = "pump"
zero_flow_head = "110 kPa"
[[schedule]]
days = "mon-sun"
from = "06:00"
to = "20:00"
[[pump]]
name = "P-1"
rated_speed = "1450 rpm"
motor_power = "7.5 kW"
motor = "permanent-magnet"
[[pump.curve]]
speed = "100 %"
power_is = "drive-input"
flow = { unit = "m3/h", values = [0, 15, 30, 45, 60, 75, 90] }
head = { unit = "kPa", values = [230.000, 227.178, 218.711, 204.600, 184.844, 159.444, 128.400] }
power = { unit = "kW", values = [1.3, 2.18725, 2.989, 3.70525, 4.336, 4.88125, 5.341] }
[trends]
files = ["trends.csv"]
[[point]]
name = "P1 Speed"
role = "pump-speed"
of = "P-1"
unit = "%"
[[point]]
name = "P1 Power"
role = "pump-power"
of = "P-1"
unit = "kW"
[[point]]
name = "P1 Head"
role = "pump-head"
of = "P-1"
unit = "kPa"
[[point]]
name = "Outdoor"
role = "outdoor-temperature"
unit = "degC"
[[point]]
name = "AHU-1 Valve"
role = "valve-position"
of = "AHU-1"
unit = "%"
[[point]]
name = "AHU-1 Air"
role = "air-temperature"
of = "AHU-1"
unit = "degC"
[[point]]
name = "AHU-1 Air SP"
role = "air-temperature-setpoint"
of = "AHU-1"
unit = "degC"
"#;

/// Runs the program and gives what it printed, lines joined.
fn offcurve(here: &Path, args: &[&str]) -> String {
    let out = crate::runs::program(here).args(args).output().expect("the program starts");
    assert_eq!(out.status.code(), Some(0), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).expect("UTF-8").split_whitespace().collect::<Vec<_>>().join(" ")
}

fn result(here: &Path, folder: &str) -> Value {
    let text = fs::read_to_string(here.join("notebooks-out/wharf").join(folder).join("findings.json"));
    serde_json::from_str(&text.expect("a result")).expect("JSON")
}

fn of<'v>(json: &'v Value, list: &str, fault: &str) -> Option<&'v Value> {
    json[list].as_array().expect("a list").iter().find(|f| f["fault"] == fault)
}

fn estimate(range: &Value) -> f64 {
    range["estimate"].as_f64().unwrap_or_else(|| panic!("an estimate in {range}"))
}

/// The walk-through of an energy manager: a review a month.
#[test]
fn monthly_review_over_three_months() {
    let plant = three_months();
    let here = plant.path();
    let first = offcurve(here, &["review", "wharf.toml", "--month", "2026-01"]);
    assert!(!first.contains("Since the review"), "nothing is before the first: {first}");
    let second = offcurve(here, &["review", "wharf.toml", "--month", "2026-02"]);
    for said in [
        "Since the review of 1 Jan 2026 to 31 Jan 2026: 1 new (a sensor cannot be right, Outdoor); 1 still there (the pumps run when the loop is not meant to, since 1 Jan 2026",
        "1 that this record cannot judge (the pumps make more head than the loop needs, last seen 31 Jan 2026)",
        // Nothing that uses energy changed between the two.
        "At like weather the pumps' energy does not clearly differ from January 2026",
    ] {
        assert!(second.contains(said), "{said}\nin {second}");
    }
    let third = offcurve(here, &["review", "wharf.toml", "--month", "2026-03"]);
    for said in [
        "Since the review of 1 Feb 2026 to 28 Feb 2026: 0 new; 2 still there (the pumps make more head than the loop needs, since 1 Jan 2026, EUR ",
        "1 mended (the pumps run when the loop is not meant to)",
        "less than in February 2026",
    ] {
        assert!(third.contains(said), "{said}\nin {third}");
    }

    let (january, february, march) = (
        result(here, "2026-01-01_2026-01-31"),
        result(here, "2026-02-01_2026-02-28"),
        result(here, "2026-03-01_2026-03-31"),
    );
    // Found in January and in March: its cost is the sum of the two, February not in it, since nobody knows.
    let head = of(&march, "findings", "setpoint-too-high").expect("found");
    assert_eq!((&head["status"], &head["seen_in"], &head["not_told_in"]), (&"persisting".into(), &2.into(), &1.into()));
    let sum = estimate(&of(&january, "findings", "setpoint-too-high").expect("found")["waste_kwh"])
        + estimate(&head["waste_kwh"]);
    assert!((estimate(&head["cost_so_far_kwh"]) - sum).abs() < 1e-3 * sum, "{sum}: {head}");
    // 0.20 EUR a kWh.
    assert!((estimate(&head["cost_so_far_money"]) - 0.20 * sum).abs() < 1e-3 * sum);
    let missed = of(&february, "undecided", "setpoint-too-high").expect("listed");
    assert_eq!(missed["last_seen"], of(&january, "findings", "setpoint-too-high").expect("found")["last_seen"]);
    assert!(
        february["undecided"].as_array().expect("a list").len() == 1 && march["undecided"] == serde_json::json!([])
    );
    // Mended: what January and February cost.
    let hours = of(&march, "resolved", "out-of-hours-running").expect("resolved");
    let both: f64 = [&january, &february]
        .map(|m| estimate(&of(m, "findings", "out-of-hours-running").expect("found")["waste_kwh"]))
        .iter()
        .sum();
    assert!((estimate(&hours["cost_so_far_kwh"]) - both).abs() < 1e-3 * both);
    // The sensor is found by its standing still in February and again in March; it has no price.
    let sensor = of(&march, "findings", "sensor-fault").expect("found");
    assert_eq!((&sensor["since"], &sensor["cost_so_far_kwh"]), (&"2026-02-10T00:00:00Z".into(), &Value::Null));

    // The nights fell away. What they took in February is priced by another way, the waste of running out of hours.
    let against = &march["normalised"]["against"][0];
    assert_eq!((&against["which"], &against["told"]), (&"last".into(), &"less".into()));
    let nights = -estimate(&against["change_fraction"]);
    let waste = estimate(&of(&february, "findings", "out-of-hours-running").expect("found")["waste_kwh"]);
    let priced = waste / february["energy_kwh"].as_f64().expect("energy");
    assert!((nights - priced).abs() < 0.04, "{nights} told, {priced} by the price of the nights");
    assert!(against["days_compared"].as_u64().expect("days") >= 14);

    // A panel and a line a month.
    let folder = here.join("notebooks-out/wharf/2026-03-01_2026-03-31");
    let svg = fs::read_to_string(folder.join("figures/months.svg")).expect("the figure");
    for month in ["Jan 2026", "Feb 2026", "Mar 2026"] {
        assert_eq!(
            svg.matches(&format!("\n{month}\n")).count() + svg.matches(&format!(">{month}<")).count(),
            1,
            "{month}"
        );
    }
    let text = fs::read_to_string(folder.join("report.md")).expect("report.md");
    for line in [
        "| January 2026 |",
        "| February 2026 |",
        "| March 2026 |",
        "mended; last seen 28 Feb 2026",
        "2 reviews; 1 could not tell",
    ] {
        assert!(text.contains(line), "{line}");
    }
    assert!(
        !here.join("notebooks-out/wharf/2026-01-01_2026-01-31/figures/months.svg").exists(),
        "one month has none beside it"
    );

    // January again sees nothing of what came later, and is the same to the byte.
    let before = crate::runs::tree(&here.join("notebooks-out/wharf/2026-01-01_2026-01-31"));
    let again = offcurve(here, &["review", "wharf.toml", "--month", "2026-01"]);
    assert_eq!(again, first);
    assert!(before == crate::runs::tree(&here.join("notebooks-out/wharf/2026-01-01_2026-01-31")));
    // So is March, which is no earlier result to itself.
    let before = crate::runs::tree(&folder);
    offcurve(here, &["review", "wharf.toml", "--month", "2026-03"]);
    assert!(before == crate::runs::tree(&folder));

    // Elsewhere nothing is known of earlier months.
    let elsewhere = offcurve(here, &["review", "wharf.toml", "--month", "2026-03", "--out", "other"]);
    assert!(!elsewhere.contains("Since the review"), "{elsewhere}");

    // Other units and another currency in the plant file: kWh of January stay what they were, at today's price.
    let dollars = WHARF.replace("\"EUR\"", "\"USD\"").replace("0.20", "0.10").replacen('\n', "\nunits = \"IP\"\n", 1);
    fs::write(here.join("wharf.toml"), dollars).expect("written");
    offcurve(here, &["review", "wharf.toml", "--month", "2026-03"]);
    let march = result(here, "2026-03-01_2026-03-31");
    let head = of(&march, "findings", "setpoint-too-high").expect("found");
    assert_eq!(head["cost_so_far_money"]["currency"], "USD");
    assert!((estimate(&head["cost_so_far_kwh"]) - sum).abs() < 1e-3 * sum);
    assert!((estimate(&head["cost_so_far_money"]) - 0.10 * sum).abs() < 1e-3 * sum);
    let svg = fs::read_to_string(folder.join("figures/months.svg")).expect("the figure");
    assert!(svg.contains("flow, gpm") && svg.contains("head, ft"));
}

/// The fixture's ten days, moved by so many days, with these faults found, cleared or not judged: `None` is not judged.
fn ten_days(moved: i64, found: bool, clear: Option<&str>) -> Review {
    let mut review = fixture::review();
    let ms = moved * DAY_MS;
    review.from_ms += ms;
    review.to_ms += ms;
    review.clock.start_ms += ms;
    review.verdicts.retain_mut(|v| match v {
        Verdict::Found(f) if f.fault == Fault::OffControlCurve => {
            f.first_seen_ms += ms;
            f.last_seen_ms += ms;
            f.waste_kwh = Some(Estimate { estimate: 10.0, low: 8.0, high: 12.0 });
            found
        }
        _ => false,
    });
    review.verdicts.extend(clear.map(|words| Verdict::Clear {
        fault: Fault::OffControlCurve,
        subject: "P-1".into(),
        would_have_seen: words.into(),
    }));
    review
}

fn write(review: &Review, out: &Path) -> Written {
    report::write(review, out, UnitSystem::Si).expect("a scratch folder can be written")
}

fn json(written: &Written) -> Value {
    serde_json::from_str(&written.json).expect("JSON")
}

/// What the last of some reviews says of the one fault: status and since when in days after the first, found in and could not tell in; mended; not told.
#[track_caller]
fn check(reviews: &[Review], found: Option<(&str, i64, u64, u64)>, resolved: usize, undecided: usize) -> Value {
    let dir = scratch::folder();
    let mut last = Value::Null;
    for review in reviews {
        last = json(&write(review, dir.path()));
    }
    let days = |t: &Value| {
        let t = chrono::DateTime::parse_from_rfc3339(t.as_str().expect("an instant")).expect("an instant");
        (t.timestamp_millis() - fixture::START_MS).div_euclid(DAY_MS)
    };
    let of = of(&last, "findings", "off-control-curve");
    let told = of.map(|f| {
        let count = |k: &str| f[k].as_u64().expect("a count");
        (f["status"].as_str().expect("a word"), days(&f["since"]), count("seen_in"), count("not_told_in"))
    });
    assert_eq!(told, found);
    assert_eq!(last["resolved"].as_array().expect("a list").len(), resolved, "resolved");
    assert_eq!(last["undecided"].as_array().expect("a list").len(), undecided, "undecided");
    last
}

/// The fault of the fixture begins on the sixth day of each record (day 5).
const LEVEL: Option<&str> = Some("points 2 kPa or more off the curve for 12 h");

#[test]
fn a_fault_is_followed_through_the_reviews() {
    let (found, clear, silent) =
        (|at| ten_days(at, true, None), |at| ten_days(at, false, LEVEL), |at| ten_days(at, false, None));
    check(&[found(0)], Some(("new", 5, 1, 0)), 0, 0);
    check(&[found(0), found(10)], Some(("persisting", 5, 2, 0)), 0, 0);
    // A review that could not judge it is no end of it, nor are two, nor a gap of two months.
    check(&[found(0), silent(10)], None, 0, 1);
    check(&[found(0), silent(10), silent(20)], None, 0, 1);
    check(&[found(0), silent(10), found(20)], Some(("persisting", 5, 2, 1)), 0, 0);
    check(&[found(0), found(70)], Some(("persisting", 5, 2, 0)), 0, 0);
    // Mended, told once; back again it is new, with what was known of it.
    check(&[found(0), clear(10)], None, 1, 0);
    check(&[found(0), silent(10), clear(20)], None, 1, 0);
    check(&[found(0), clear(10), clear(20)], None, 0, 0);
    check(&[found(0), clear(10), silent(20)], None, 0, 0);
    let back = check(&[found(0), clear(10), found(20)], Some(("new", 25, 1, 0)), 0, 0);
    let returned = &of(&back, "findings", "off-control-curve").expect("found")["returned"];
    assert_eq!(returned["first_since"], "2026-03-06T06:00:00Z", "as the fixture has it: {returned}");
    assert_eq!(returned["gone_from"], "2026-03-11T00:00:00Z");
    check(&[found(0), clear(10), found(20), found(30)], Some(("persisting", 25, 2, 0)), 0, 0);
    // A check that looks for a change within its own record rules out nothing that began before.
    let change =
        |at| ten_days(at, false, Some("a loss of 3 % of head that came within the record and lasted to its end"));
    let open = check(&[found(0), change(10)], None, 0, 1);
    assert_eq!(open["undecided"][0]["review_from"], "2026-03-01T00:00:00Z", "{}", open["undecided"]);
    check(&[found(0), change(10), found(20)], Some(("persisting", 5, 2, 1)), 0, 0);
    // In whatever order they were run: the fourth is the last that is written here.
    check(&[clear(20), found(30), found(0), found(10)], Some(("persisting", 5, 2, 0)), 0, 0);
    // One that overlaps this one has seen a part of it, and is no earlier result.
    check(&[found(0), found(5)], Some(("new", 10, 1, 0)), 0, 0);
}

/// 10 kWh a review, of which the fault holds the days from the sixth to the end.
#[test]
fn a_time_that_two_reviews_cover_is_paid_for_once() {
    let cost = |reviews: &[Review]| {
        let dir = scratch::folder();
        let last = reviews.iter().map(|r| json(&write(r, dir.path()))).collect::<Vec<_>>().pop().expect("a review");
        let f = of(&last, "findings", "off-control-curve").expect("found").clone();
        (estimate(&f["cost_so_far_kwh"]), f["cost_so_far_priced_in"].as_u64().expect("a count"))
    };
    let seen = |at: i64| {
        let mut review = ten_days(at, true, None);
        // From the first instant of the sixth day to the last of the tenth: five days.
        for v in &mut review.verdicts {
            if let Verdict::Found(f) = v {
                (f.first_seen_ms, f.last_seen_ms) = (review.from_ms + 5 * DAY_MS, review.to_ms);
            }
        }
        review
    };
    assert_eq!(cost(&[seen(0)]), (10.0, 1));
    assert_eq!(cost(&[seen(0), seen(10)]), (20.0, 2));
    // Days 5 to 10 and, of a review of days 2 to 12, days 7 to 12: the first of them pays for what lies before day 2 of its own, which is nothing.
    let (a, b, now) = (seen(0), seen(2), seen(20));
    assert_eq!(cost(&[a, b, now]), (20.0, 2));
    // Of days 5 to 10, the review of days 7 to 17 covers 7 to 10: two fifths of 10 kWh are left.
    let (a, b, now) = (seen(0), seen(7), seen(20));
    assert_eq!(cost(&[a, b, now]), (24.0, 3));
}

/// A review of the same days that is not the same: what stands in the folder but cannot be used is named, and harms nothing.
#[test]
fn results_that_cannot_be_used_are_named_and_left_out() {
    let dir = scratch::folder();
    let folder = write(&ten_days(0, true, None), dir.path()).folder;
    let plant = folder.parent().expect("the plant's folder").to_owned();
    let put = |name: &str, text: &str| {
        fs::create_dir_all(plant.join(name)).expect("a folder");
        fs::write(plant.join(name).join("findings.json"), text).expect("written");
    };
    let good = fs::read_to_string(folder.join("findings.json")).expect("a result");
    put("2026-01-01_2026-01-31", "{ \"schema\": ");
    put("2026-02-01_2026-02-10", &good.replace("offcurve/findings/1", "offcurve/findings/2"));
    put("2026-02-11_2026-02-20", &good.replace("\"plant\": \"harbour-hall\"", "\"plant\": \"elsewhere\""));
    put("notes", "mine");
    let written = write(&ten_days(10, true, None), dir.path());
    let last = json(&written);
    let skipped: Vec<&str> = last["compared_with"]["skipped"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|s| s.as_str().expect("words"))
        .collect();
    assert_eq!(skipped.len(), 3, "{skipped:?}");
    assert!(
        skipped[0]
            .starts_with("2026-01-01_2026-01-31/findings.json was left out: it cannot be read as a result (line 1)")
    );
    assert!(skipped.iter().any(|s| s.contains("it has the form \"offcurve/findings/2\"")));
    assert!(skipped.iter().any(|s| s.contains("the plant \"elsewhere\"")));
    assert_eq!(last["findings"][0]["status"], "persisting", "the good one counts");
    let text = fs::read_to_string(written.folder.join("report.md")).expect("report.md");
    assert!(text.contains("Earlier results that could not be used"));

    // A result as it was written before: none of the new keys. Its faults are followed, its energy is not.
    let mut old: Value = serde_json::from_str(&good).expect("JSON");
    let keys = ["undecided", "compared_with", "normalised", "operation"];
    old.as_object_mut().expect("an object").retain(|k, _| !keys.contains(&k.as_str()));
    fs::write(folder.join("findings.json"), old.to_string()).expect("written");
    let last = json(&write(&ten_days(10, true, None), dir.path()));
    assert_eq!((&last["findings"][0]["status"], &last["findings"][0]["seen_in"]), (&"persisting".into(), &2.into()));
    assert!(last["normalised"]["against"][0]["why"].as_str().expect("why").contains("review that period once more"));
}

/// What is no longer in the plant file cannot be followed; that is said once.
#[test]
fn a_renamed_pump_is_told_of_once() {
    let dir = scratch::folder();
    let renamed = |at: i64| {
        let mut review = ten_days(at, true, None);
        review.plant.pumps.iter_mut().for_each(|p| p.name = p.name.replace("P-", "CHWP-"));
        for v in &mut review.verdicts {
            if let Verdict::Found(f) = v {
                f.subject = "CHWP-1".into();
            }
        }
        review
    };
    write(&ten_days(0, true, None), dir.path());
    let second = json(&write(&renamed(10), dir.path()));
    assert_eq!(second["findings"][0]["status"], "new");
    let why = second["undecided"][0]["why"].as_str().expect("why");
    assert!(why.contains("P-1 is no longer in the plant file"), "{why}");
    let third = json(&write(&renamed(20), dir.path()));
    assert_eq!((&third["findings"][0]["status"], &third["undecided"]), (&"persisting".into(), &serde_json::json!([])));
}

/// Ten days a year ago beside the last ten: both are held against, each once.
#[test]
fn the_same_period_a_year_ago_is_found() {
    let dir = scratch::folder();
    for at in [-365, -180, -10] {
        write(&ten_days(at, true, None), dir.path());
    }
    let last = json(&write(&ten_days(0, true, None), dir.path()));
    assert_eq!(last["compared_with"]["reviews"], 3);
    assert_eq!(last["compared_with"]["last"]["from"], "2026-02-19T00:00:00Z");
    assert_eq!(last["compared_with"]["same_period_last_year"]["from"], "2025-03-01T00:00:00Z");
    let which: Vec<&Value> =
        last["normalised"]["against"].as_array().expect("a list").iter().map(|a| &a["which"]).collect();
    assert_eq!(which, ["last", "same-period-last-year"]);
    // Ten days are fewer than the two weeks that a comparison needs, and the fixture trends no weather: the words say so.
    assert_eq!(last["normalised"]["against"][0]["told"], "cannot-tell");
}

/// Energy rises above 16 degC, as planted, so degree-days count from there; the record knows it from the fourth ten days on, and before that a convention stands.
/// Each day of one temperature: degree-days by hand are the sum of what lies above the base.
#[test]
fn degree_days_count_from_the_plants_own_base() {
    let temperature = |day: i64| 16.0 + 8.0 * libm::sin(std::f64::consts::TAU * day as f64 / 11.0);
    let weathered = |at: i64| {
        let mut review = ten_days(at, true, None);
        let day_of = |i: usize| at + (i / fixture::DAY) as i64;
        let day_kwh = |d: i64| {
            (24.0 + 3.0 * (temperature(d) - 16.0).max(0.0)) * (1.0 + 0.005 * ((d * 7).rem_euclid(5) - 2) as f64)
        };
        review.points.system.power_kw = (0..review.clock.len).map(|i| day_kwh(day_of(i)) / 24.0).collect();
        let mut outdoor = review.screened.series[0].clone();
        (outdoor.name, outdoor.role) = ("Outdoor".into(), offcurve::plant::Role::OutdoorTemperature);
        outdoor.values = (0..review.clock.len).map(|i| temperature(day_of(i))).collect();
        review.screened.series.push(outdoor);
        review
    };
    let dir = scratch::folder();
    let first = json(&write(&weathered(-50), dir.path()));
    // 65 degF.
    assert_eq!(
        (&first["normalised"]["base_degc"], &first["normalised"]["base_from"]),
        (&18.3.into(), &"convention".into())
    );
    for at in [-40, -30, -20] {
        write(&weathered(at), dir.path());
    }
    let n = json(&write(&weathered(-10), dir.path()))["normalised"].clone();
    let base = n["base_degc"].as_f64().expect("a base");
    assert!(n["base_from"] == "record" && (base - 16.0).abs() < 0.5, "{n}");
    let by_hand: f64 = (-10..0).map(|d| (temperature(d) - base).max(0.0)).sum();
    let told = n["degree_days"].as_f64().expect("degree-days");
    assert!((told - by_hand).abs() < 1e-3 * by_hand && n["degree_days_over_days"] == 10, "{told} for {by_hand}");
    let kwh: f64 = (-10..0).map(|d| 24.0 + 3.0 * (temperature(d) - 16.0).max(0.0)).sum();
    assert!((n["kwh_per_degree_day"].as_f64().expect("a rate") - kwh / by_hand).abs() < 0.02 * kwh / by_hand, "{n}");
    // Ten days are too few to be held against.
    assert!(
        n["against"][0]["why"].as_str().expect("why").contains("10 whole days of that period, and 14 are needed"),
        "{n}"
    );
}

/// Of two reviews that ended together, the one as long as this one; of the fault both count, in the order they ended.
#[test]
fn a_month_is_held_against_a_month_and_not_against_its_last_week() {
    let dir = scratch::folder();
    let mut week = ten_days(0, true, None);
    week.from_ms += 7 * DAY_MS;
    write(&week, dir.path());
    write(&ten_days(0, true, None), dir.path());
    let last = json(&write(&ten_days(10, true, None), dir.path()));
    assert_eq!(last["compared_with"]["reviews"], 2);
    assert_eq!(last["compared_with"]["last"]["from"], "2026-03-01T00:00:00Z");
}
