//! The program from outside: what it prints and how it ends.

use std::process::{Command, Output};

fn offcurve(args: &[&str]) -> Output {
    let dir = tempfile::tempdir().expect("a scratch folder");
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
    assert!(list.contains("plant-file"));
    assert!(out.stderr.is_empty());
}

#[test]
fn explain_names_the_nearest_word() {
    let rows =
        [("setpoint-to-high", "setpoint-too-high"), ("plantfile", "plant-file"), ("dead-heading", "deadheading")];
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
