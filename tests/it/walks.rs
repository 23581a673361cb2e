//! Walk-throughs: commands in the order in which a person gives them, each ending with the right sentence on the first screen.

use crate::runs::program;
use crate::scratch;
use crate::verify_plant::{Made, PLAIN};
use std::{
    fs,
    path::{Path, PathBuf},
};

fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-trends")
}

/// Runs the program, which must end well, and gives what it printed, its lines joined.
fn run(here: &Path, args: &[&str]) -> String {
    let out = program(here).args(args).output().expect("the program starts");
    assert_eq!(out.status.code(), Some(0), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    joined(&String::from_utf8(out.stdout).expect("UTF-8"))
}

fn joined(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Replaces what must stand in the file, as often as it does there.
fn edit(text: &mut String, from: &str, to: &str) {
    assert!(text.contains(from), "no line {from:?} to edit in:\n{text}");
    *text = text.replace(from, to);
}

/// The block of the sample's own plant file that starts with a line, up to the next empty line.
fn block(text: &str, start: &str) -> String {
    let at = text.find(start).unwrap_or_else(|| panic!("no {start:?}"));
    text[at..].split("\n\n").next().expect("a block").to_owned()
}

/// A retro-commissioning agent with a folder of exports, a name plate, a data sheet and the drive's settings.
#[test]
fn diagnosing_a_plant_from_raw_exports() {
    let dir = scratch::folder();
    let here = dir.path();
    fs::create_dir_all(here.join("hall/trends")).expect("a folder");
    for entry in fs::read_dir(samples().join("quay-house/trends")).expect("the sample") {
        let path = entry.expect("an entry").path();
        fs::copy(&path, here.join("hall/trends").join(path.file_name().expect("a name"))).expect("copied");
    }
    let printed = run(here, &["inspect", "hall/trends", "--timezone", "Europe/Lisbon", "--write", "hall/plant.toml"]);
    assert!(printed.contains("pump-speed (P-1)") && printed.contains("differential-pressure"), "{printed}");

    // As it is, the file can be reviewed already: nothing is claimed, and the lack of a curve is said.
    let bare = run(here, &["review", "hall/plant.toml", "--out", "bare"]);
    assert!(joined(&bare).contains("this record shows little") && !bare.contains("do not follow"), "{bare}");

    // What no export knows: units that the file asks for, the schedule of the loop, coils, the drive's settings, the data sheet.
    let known = fs::read_to_string(samples().join("quay-house/plant.toml")).expect("the sample's plant file");
    let file = here.join("hall/plant.toml");
    let mut text = fs::read_to_string(&file).expect("the file that inspect wrote");
    edit(&mut text, "#? unit", "unit");
    edit(&mut text, "# design_flow = \"68 m3/h\"", "design_flow = \"132 m3/h\"");
    edit(&mut text, "# design_head = \"162 kPa\"", "design_head = \"210 kPa\"");
    edit(&mut text, "# supply_temperature", "supply_temperature");
    edit(&mut text, "# return_temperature", "return_temperature");
    edit(&mut text, "# topology", "topology");
    edit(&mut text, "# minimum_flow = \"14 m3/h\"", "minimum_flow = \"12 m3/h\"");
    edit(&mut text, "# bypass = \"two-way\"", "bypass = \"three-way-coils\"");
    // Its two sensors stand between the headers, not out in the building: what the names cannot say, whoever stood there can.
    edit(
        &mut text,
        "name = \"CHW Header DP\"\nrole = \"differential-pressure\"",
        "name = \"CHW Header DP\"\nrole = \"pump-head\"",
    );
    for coil in ["AHU-1", "AHU-2", "AHU-3", "AHU-4", "AHU-5", "AHU-6", "AHU-7", "AHU-8", "CR-1"] {
        let start = text.find(&format!("[[coil]]\nname = \"{coil}\"\n")).expect("the coil");
        let end = text[start..].find("\n\n").expect("its end") + start;
        text.replace_range(start..end, &block(&known, &format!("[[coil]]\nname = \"{coil}\"\n")));
    }
    for pump in ["P-1", "P-2"] {
        let start = text.find(&format!("[[pump]]\nname = \"{pump}\"\n")).expect("the pump");
        let end = text[start..].find("\n\n").expect("its end") + start;
        let plate = block(&known, &format!("[[pump]]\nname = \"{pump}\"\n"));
        text.replace_range(start..end, &format!("{plate}\n\n{}", block(&known, "[[pump.curve]]")));
    }
    text.push_str(&format!("\n\n{}\n", block(&known, "[control]")));
    fs::write(&file, &text).expect("written");

    let printed = run(here, &["review", "hall/plant.toml"]);
    let first_screen: String = printed.chars().take(900).collect();
    assert!(first_screen.contains("pumps do not follow their configured control curve"), "{printed}");
    // What was planted: since 21 October, a constant pressure.
    assert!(first_screen.contains("21") && first_screen.contains("constant pressure"), "{printed}");
}

/// A controls contractor lowered the head at no flow on a Monday evening.
#[test]
fn verifying_a_setpoint_change() {
    // 110 to 50 kPa after eight weeks: 2 March 2026, seven in the evening.
    let plant = Made { changes: vec![56.0 + 19.0 / 24.0], history: false, ..PLAIN }.make();
    let here = plant.folder.path();
    // Before: the memo advises less head.
    let printed = run(here, &["review", "plant.toml", "--to", "2026-03-01"]);
    assert!(printed.contains("pumps make more head than the loop needs"), "{printed}");
    assert!(joined(&printed).to_lowercase().contains("head at no flow from 110 kpa to"), "{printed}");
    // The setting is changed, and the plant file says so as the plan's last step asks.
    let file = here.join("plant.toml");
    let mut text = fs::read_to_string(&file).expect("the plant file");
    edit(
        &mut text,
        "zero_flow_head = \"110 kPa\"",
        "zero_flow_head = \"50 kPa\"\n[[control_history]]\nuntil = \"2026-03-02 19:00\"\nzero_flow_head = \"110 kPa\"",
    );
    fs::write(&file, text).expect("written");
    let printed = run(here, &["verify", "plant.toml"]);
    let first_screen: String = joined(&printed).chars().take(1200).collect();
    assert!(first_screen.contains("What it saved") && first_screen.contains("Did it take"), "{printed}");
    // The truth: what the same days would have used under the old setting, from a second run of the simulator.
    let days = 57..84;
    let (saved, used): (f64, f64) =
        (days.clone().map(|d| plant.saved_kwh[d]).sum(), days.map(|d| plant.used_kwh[d]).sum());
    let share = 100.0 * saved / (saved + used);
    let told: f64 = first_screen
        .split("What it saved: ")
        .nth(1)
        .and_then(|t| t.split(" % (").next()?.split_whitespace().last())
        .and_then(|t| t.parse().ok())
        .unwrap_or_else(|| panic!("no share in {first_screen}"));
    assert!((told - share).abs() < 3.0, "{told} % told, {share} % in truth: {first_screen}");
    assert!(first_screen.contains("the pumps moved to the new setting"), "it took: {first_screen}");
}

/// On the sample somebody wrote a constant pressure into the drive on 20 October, at two in the afternoon: not a saving, and said so.
#[test]
fn verifying_a_change_that_made_it_worse() {
    let dir = scratch::folder();
    let plant = samples().join("quay-house/plant.toml");
    let plant = plant.to_str().expect("UTF-8");
    let before = run(dir.path(), &["review", plant, "--to", "2025-10-19"]);
    assert!(!before.contains("do not follow their configured control curve"), "{before}");
    let printed = run(dir.path(), &["verify", plant, "--changed", "2025-10-20 14:00"]);
    let first_screen = joined(&printed);
    assert!(first_screen.contains("The pumps used more energy after the change"), "{printed}");
    assert!(first_screen.contains("used more by"), "{printed}");
    assert!(
        first_screen.to_lowercase().contains("pumps do not follow their configured control curve"),
        "what got worse: {printed}"
    );
}
