//! Puts savings to the truth: `cargo run --release --example score-verify -- [--changes N] [--from SEED] [--threads N] [--command N] [--write FILE.md] [--csv FILE.csv]`.
//!
//! `--command N` sends N more of them through `offcurve verify` from plant file and export (the command must be built).
#![allow(clippy::panic, reason = "a plant that cannot be read is an error of the tests")]

#[path = "mod.rs"]
mod changes;
mod command;
#[path = "../corpus/mod.rs"]
mod corpus;
#[path = "../points/mod.rs"]
mod invented;
#[path = "../simulator/mod.rs"]
mod simulator;

use std::process::ExitCode;

struct Asked {
    changes: u64,
    from: u64,
    threads: usize,
    command: u64,
    write: Option<String>,
    csv: Option<String>,
}

fn asked() -> Result<Asked, String> {
    let mut a = Asked { changes: 60, from: 1, threads: 1, command: 0, write: None, csv: None };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().ok_or(format!("{word} needs a value"))?;
        let number = || value.parse::<u64>().map_err(|_| format!("{word}: \"{value}\" is no whole number"));
        match word.as_str() {
            "--changes" => a.changes = number()?,
            "--from" => a.from = number()?,
            "--threads" => a.threads = number()? as usize,
            "--command" => a.command = number()?,
            "--write" => a.write = Some(value),
            "--csv" => a.csv = Some(value),
            _ => return Err(format!("{word} is not known; the header of tests/verify/main.rs lists what is")),
        }
    }
    Ok(a)
}

fn put(path: &str, text: &str) -> Result<(), String> {
    std::fs::write(path, text).map_err(|e| format!("{path}: not written: {e}"))
}

fn run() -> Result<(), String> {
    let a = asked()?;
    let started = std::time::Instant::now();
    let all: Vec<_> = (0..a.changes).map(|i| changes::score::wanted(i, a.from)).collect();
    let outcomes = changes::score::many(&all, a.threads);
    let mut command =
        format!("cargo run --release --example score-verify -- --changes {} --from {}", a.changes, a.from);
    if a.command > 0 {
        command += &format!(" --command {}", a.command);
    }
    let mut page = changes::table::page(&outcomes, &command);
    if a.command > 0 {
        page += &command::page(a.command, a.from + 500_000)?;
    }
    if let Some(path) = &a.csv {
        put(path, &changes::table::csv(&outcomes))?;
    }
    match &a.write {
        Some(path) => put(path, &page)?,
        None => println!("{page}"),
    }
    eprintln!("{} changes in {:.0} s", outcomes.len(), started.elapsed().as_secs_f64());
    Ok(())
}

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("{e}");
            ExitCode::from(2)
        }
    }
}
