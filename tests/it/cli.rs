//! The program from outside: what it prints and how it ends.

use clap::Parser;
use offcurve::cli::{
    args::Args,
    period::{self, Asked},
};
use std::process::{Command, Output};

fn offcurve(args: &[&str]) -> Output {
    let dir = crate::scratch::folder();
    Command::new(env!("CARGO_BIN_EXE_offcurve"))
        .args(args)
        .current_dir(dir.path())
        .output()
        .expect("the program starts")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("UTF-8")
}

/// The sixteen codes of the contract.
const CODES: [&str; 16] = [
    "low-delta-t",
    "stuck-bypass",
    "minimum-speed-hunting",
    "speed-hunting",
    "setpoint-too-high",
    "setpoint-too-low",
    "off-control-curve",
    "fixed-speed",
    "out-of-hours-running",
    "pump-degraded",
    "short-cycling",
    "sensor-fault",
    "minimum-speed-too-high",
    "outside-preferred-region",
    "poor-staging",
    "deadheading",
];

#[test]
fn explain_lists_every_fault() {
    let out = offcurve(&["explain"]);
    assert_eq!(out.status.code(), Some(0));
    let list = text(&out.stdout);
    for code in CODES {
        assert!(list.contains(code), "{code}");
        assert_eq!(offcurve(&["explain", code]).status.code(), Some(0), "{code}");
    }
    assert!(list.contains("plant-file") && list.contains("operating-points"));
    let page = offcurve(&["explain", "operating-points"]);
    assert_eq!(page.status.code(), Some(0));
    assert!(text(&page.stdout).starts_with("# Operating points"));
    assert!(text(&offcurve(&["explain", "--help"]).stdout).contains("operating-points"));
    assert!(out.stderr.is_empty());
}

#[test]
fn explain_names_the_nearest_word() {
    let rows = [
        ("setpoint-to-high", "setpoint-too-high"),
        ("plantfile", "plant-file"),
        ("dead-heading", "deadheading"),
        ("operating-point", "operating-points"),
    ];
    for (typed, meant) in rows {
        let out = offcurve(&["explain", typed]);
        assert_eq!(out.status.code(), Some(2), "{typed}");
        assert!(out.stdout.is_empty());
        let said = text(&out.stderr);
        assert!(
            said.contains(typed) && said.contains(&format!("hint: did you mean offcurve explain {meant}")),
            "{said}"
        );
    }
}

/// Status 2 for what cannot be done, with nothing on stdout and no panic.
#[test]
fn what_cannot_be_done_ends_with_status_2() {
    let rows: [&[&str]; 6] = [
        &["review", "no-such-plant.toml"],
        &["review"],
        &["--month", "2026-03", "--from", "2026-03-01"],
        &["--jobs", "0"],
        &["inspect"],
        &["--gate", "soon"],
    ];
    for args in rows {
        let out = offcurve(args);
        assert_eq!(out.status.code(), Some(2), "{args:?}");
        assert!(out.stdout.is_empty(), "{args:?}");
        let said = text(&out.stderr);
        assert!(!said.is_empty() && !said.contains("panicked") && !said.contains("os error"), "{args:?}: {said}");
    }
}

/// Periods on a plant's clock. Lisbon goes to summer time (UTC+1) on 29 March 2026 at 01:00 UTC and back on 25 October 2026
/// at 01:00 UTC; New York goes to UTC-4 on 8 March 2026 at 2:00 local (IANA time zone database).
#[test]
fn periods_are_on_the_plants_clock() {
    let rows: [(&str, &[&str], &str, &str); 8] = [
        ("Europe/Lisbon", &["--month", "2026-03"], "2026-03-01T00:00:00Z", "2026-03-31T23:00:00Z"),
        ("Europe/Lisbon", &["--month", "2026-12"], "2026-12-01T00:00:00Z", "2027-01-01T00:00:00Z"),
        ("America/New_York", &["--month", "2026-03"], "2026-03-01T05:00:00Z", "2026-04-01T04:00:00Z"),
        // A date given as the end is included.
        (
            "Europe/Lisbon",
            &["--from", "2026-03-01", "--to", "2026-03-01"],
            "2026-03-01T00:00:00Z",
            "2026-03-02T00:00:00Z",
        ),
        (
            "Europe/Lisbon",
            &["--from", "2026-03-01 06:00", "--to", "2026-03-01T18:30"],
            "2026-03-01T06:00:00Z",
            "2026-03-01T18:30:00Z",
        ),
        // 01:30 does not exist on 29 March: the clock jumps from 01:00 to 02:00, which is 01:00 UTC.
        (
            "Europe/Lisbon",
            &["--from", "2026-03-29 01:30", "--to", "2026-03-29"],
            "2026-03-29T01:00:00Z",
            "2026-03-29T23:00:00Z",
        ),
        // 01:30 comes twice on 25 October: the first is meant.
        (
            "Europe/Lisbon",
            &["--from", "2026-10-25 01:30", "--to", "2026-10-25"],
            "2026-10-25T00:30:00Z",
            "2026-10-26T00:00:00Z",
        ),
        (
            "Europe/Lisbon",
            &["--from", "2026-03-01T06:00:00Z", "--to", "2026-03-02"],
            "2026-03-01T06:00:00Z",
            "2026-03-03T00:00:00Z",
        ),
    ];
    for (zone, typed, from, to) in rows {
        let ms = |text: &str| chrono::DateTime::parse_from_rfc3339(text).expect("a time").timestamp_millis();
        assert_eq!(asked(zone, typed), Ok(Asked { from_ms: Some(ms(from)), to_ms: Some(ms(to)) }), "{zone} {typed:?}");
    }
    assert_eq!(asked("Europe/Lisbon", &[]), Ok(Asked { from_ms: None, to_ms: None }));
}

#[test]
fn periods_that_make_no_sense_are_refused_with_a_hint() {
    let rows: [(&[&str], &str); 4] = [
        (&["--month", "2026-13"], "--month: \"2026-13\" is not a month"),
        (&["--month", "March"], "--month: \"March\" is not a month"),
        (&["--from", "01/03/2026"], "--from: \"01/03/2026\" is not a time"),
        (&["--from", "2026-03-02", "--to", "2026-03-01"], "--to: the period ends before it starts"),
    ];
    for (typed, said) in rows {
        let error = asked("Europe/Lisbon", typed).expect_err(said);
        assert!(error.starts_with(said) && error.contains("\nhint: "), "{error}");
    }
}

fn asked(zone: &str, typed: &[&str]) -> Result<Asked, String> {
    let args = Args::try_parse_from(["offcurve"].iter().chain(typed)).expect("options that exist");
    period::asked(&args.options, zone.parse().expect("a zone"))
}

/// A word like nothing known is answered with the list, not with a guess.
#[test]
fn explain_does_not_guess_wildly() {
    let said = text(&offcurve(&["explain", "zzz"]).stderr);
    assert!(said.contains("lists the faults") && !said.contains("did you mean"), "{said}");
}

/// What a review has to do without is said on stderr: an empty file among good ones, and a point whose name is misspelt.
#[test]
fn losses_are_named_at_once() {
    let dir = crate::scratch::folder();
    let plant = "[site]\ntimezone = \"UTC\"\n[loop]\nservice = \"heating-water\"\n[[pump]]\nname = \"P\"\n\
        [trends]\nfiles = [\"*.csv\"]\n[[point]]\nname = \"Nord Hz\"\nrole = \"pump-speed\"\nunit = \"%\"\n\
        [[point]]\nname = \"Supply Tmp\"\nrole = \"supply-temperature\"\nunit = \"degC\"\n";
    let rows: String = (0..60).map(|m| format!("2026-03-14 10:{m:02},{},60\n", 50 + m % 3)).collect();
    let put = |name: &str, content: &str| std::fs::write(dir.path().join(name), content).expect("written");
    put("plant.toml", plant);
    put("good.csv", &format!("Time,Nord Hz,Supply Temp\n{rows}"));
    put("empty.csv", "");
    let run = |args: &[&str]| {
        let plant = dir.path().join("plant.toml");
        let mut all = vec!["review", plant.to_str().expect("UTF-8")];
        all.extend(args);
        offcurve(&all)
    };
    let out = run(&[]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let said = text(&out.stderr);
    assert!(said.contains("empty.csv: the file is empty; the file was left out"), "{said}");
    assert!(said.contains("\"Supply Tmp\" is in no trend file; the nearest name there is \"Supply Temp\""), "{said}");
    assert!(text(&run(&["--quiet"]).stderr).is_empty());
    // A month beside the record is refused, not reported as a month without faults.
    let out = run(&["--month", "2025-01"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("no reading of any point lies in the period asked for"));
}

/// A period is judged alone, whichever end is given and wherever the trends come from: two parts use what the whole uses.
#[test]
fn a_part_of_the_record_is_judged_alone() {
    let used = |args: &[&str]| {
        let mut all = args.to_vec();
        all.extend(["--format", "json", "--quiet"]);
        let out = offcurve(&all);
        assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
        let json: serde_json::Value = serde_json::from_slice(&out.stdout).expect("JSON");
        json["energy_kwh"].as_f64().expect("a number")
    };
    let plant = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-trends/quay-house/plant.toml");
    let whole = used(&["review", plant]);
    for run in [&["review", plant][..], &[][..]] {
        let part = |end: &[&str]| used(&[run, end].concat());
        let (before, after) = (part(&["--to", "2025-10-10"]), part(&["--from", "2025-10-11"]));
        assert!(before > 0.1 * whole && after > 0.1 * whole, "{before} {after} {whole}");
        // Powers that were not trended are filled from what each part taught; those are few.
        assert!((before + after - whole).abs() < 0.01 * whole, "{before} + {after} is not {whole}");
        let closed = part(&["--from", "2025-10-01", "--to", "2025-10-10"]);
        assert!((closed - before).abs() < 1e-6 * whole, "{closed} {before}");
    }
}

/// The commands that the help lists, `None` for the program itself.
const COMMANDS: [Option<&str>; 8] = [
    None,
    Some("inspect"),
    Some("review"),
    Some("verify"),
    Some("fleet"),
    Some("explain"),
    Some("completions"),
    Some("man"),
];

/// Every help shows an example that works as it is written, from the repository's folder.
#[test]
fn the_examples_of_the_help_work_as_written() {
    let dir = crate::scratch::folder();
    let samples = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-trends");
    let mut tried = 0;
    for command in COMMANDS {
        let help = text(&offcurve(&command.into_iter().chain(["--help"]).collect::<Vec<_>>()).stdout);
        let after = help.split("Example: ").nth(1).unwrap_or_else(|| panic!("{command:?} shows no example:\n{help}"));
        let example = after.lines().find_map(|l| l.trim().strip_prefix("offcurve ")).expect("a line with the program");
        let typed = example.split(" > ").next().expect("a command");
        let mut args: Vec<String> = Vec::new();
        for (k, part) in typed.split('"').enumerate() {
            if k % 2 == 1 {
                args.push(part.to_owned());
            } else {
                args.extend(part.split_whitespace().map(str::to_owned));
            }
        }
        for arg in &mut args {
            if let Some(below) = arg.strip_prefix("sample-trends") {
                *arg = format!("{}{below}", samples.display());
            }
        }
        assert_eq!(command.unwrap_or(&args[0]), args[0], "the example is of the command itself");
        let out = Command::new(env!("CARGO_BIN_EXE_offcurve"))
            .args(&args)
            .current_dir(dir.path())
            .output()
            .expect("the program starts");
        assert_eq!(out.status.code(), Some(0), "{example}: {}", text(&out.stderr));
        assert!(!out.stdout.is_empty(), "{example}");
        tried += 1;
    }
    assert_eq!(tried, COMMANDS.len());
    assert!(dir.path().join("plant.toml").is_file(), "what the example of inspect writes");
    assert!(dir.path().join("notebooks-out/fleet/fleet.html").is_file(), "what the example of fleet writes");
}

/// The list of commands in the help is the list above, so that none is left without an example.
#[test]
fn every_command_is_listed() {
    let help = text(&offcurve(&["--help"]).stdout);
    let list = help.split("Commands:").nth(1).and_then(|l| l.split("\n\n").next()).expect("a list of commands");
    let mut listed: Vec<&str> = list
        .lines()
        .filter(|l| l.starts_with("  ") && !l.starts_with("   "))
        .filter_map(|l| l.split_whitespace().next())
        .filter(|c| *c != "help")
        .collect();
    listed.sort_unstable();
    let mut known: Vec<&str> = COMMANDS.into_iter().flatten().collect();
    known.sort_unstable();
    assert_eq!(listed, known);
}

/// Completions name every command and option; a shell that is here takes them.
#[test]
fn completions_hold_every_command() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let out = offcurve(&["completions", shell]);
        assert_eq!(out.status.code(), Some(0), "{shell}");
        let script = text(&out.stdout);
        for word in COMMANDS.into_iter().flatten().chain(["month", "changed", "write"]) {
            assert!(script.contains(word), "{shell}: {word}");
        }
    }
    let dir = crate::scratch::folder();
    let script = dir.path().join("offcurve.bash");
    std::fs::write(&script, offcurve(&["completions", "bash"]).stdout).expect("written");
    // `-n` reads a script and runs nothing.
    if let Ok(out) = Command::new("bash").arg("-n").arg(&script).output() {
        assert!(out.status.success(), "{}", text(&out.stderr));
    }
    assert_eq!(offcurve(&["completions", "tcsh"]).status.code(), Some(2));
}

/// The manual page: a section a command, options, examples, exit status, in roff's own marks.
#[test]
fn the_manual_page_is_whole() {
    let out = offcurve(&["man"]);
    assert_eq!(out.status.code(), Some(0));
    let page = text(&out.stdout);
    for command in COMMANDS.into_iter().flatten() {
        assert!(page.contains(&format!(".SH \"OFFCURVE {}\"", command.to_uppercase())), "{command}");
    }
    for part in [".TH offcurve 1", ".SH SYNOPSIS", ".SS OPTIONS", "EXIT STATUS", "2025\\-10\\-20"] {
        assert!(page.contains(part), "{part}");
    }
    // One section a command, with its example.
    assert_eq!(page.matches("EXAMPLE").count(), COMMANDS.len(), "{page}");
}
