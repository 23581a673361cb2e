//! Scores the operating points: `cargo run --release --example score-points -- [--plants N] [--from N] [--write FILE.md] [--csv FILE.csv]`.
#![allow(clippy::panic, reason = "a plant that cannot be read is an error of the tests")]

#[path = "mod.rs"]
mod points;
#[path = "../simulator/mod.rs"]
mod simulator;

use points::score::{self, Outcome, Set};
use points::{nuisance, table};
use std::process::ExitCode;

const PLANTS: u64 = 2000;

struct Asked {
    plants: u64,
    from: u64,
    write: Option<String>,
    csv: Option<String>,
}

fn asked() -> Result<Asked, String> {
    let mut asked = Asked { plants: PLANTS, from: 0, write: None, csv: None };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().ok_or(format!("{word} needs a value"))?;
        let number = || value.parse().map_err(|_| format!("{word}: \"{value}\" is no whole number"));
        match word.as_str() {
            "--plants" => asked.plants = number()?,
            "--from" => asked.from = number()?,
            "--write" => asked.write = Some(value),
            "--csv" => asked.csv = Some(value),
            _ => return Err(format!("{word} is not known; there are --plants, --from, --write, --csv")),
        }
    }
    Ok(asked)
}

fn main() -> ExitCode {
    let asked = match asked() {
        Ok(asked) => asked,
        Err(e) => {
            eprintln!("{e}");
            return ExitCode::from(2);
        }
    };
    let started = std::time::Instant::now();
    let numbers: Vec<u64> = (asked.from..asked.from + asked.plants).collect();
    let single: Vec<Vec<Outcome>> = score::many(&numbers, |n| score::single(n, &Set::SINGLE));
    let some = (asked.plants as f64 * nuisance::PARALLEL_PLANTS) as usize;
    let parallel: Vec<Vec<Outcome>> = score::many(&numbers[..some], score::parallel);
    let text = table::markdown(&single, &parallel);
    let rows = table::csv(single.iter().chain(&parallel).flatten());
    for (path, text) in [(&asked.write, &text), (&asked.csv, &rows)] {
        let Some(path) = path else { continue };
        if let Err(e) = std::fs::write(path, text) {
            eprintln!("{path}: not written: {e}");
            return ExitCode::from(2);
        }
    }
    if asked.write.is_none() {
        println!("{text}");
    }
    eprintln!("{} plants in {:.0} s", single.len() + parallel.len(), started.elapsed().as_secs_f64());
    ExitCode::SUCCESS
}
