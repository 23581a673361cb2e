//! Puts proposals to the truth: `cargo run --release --example score-tuning -- [--plants N] [--from SEED] [--days N] [--seed ONE-OF-THEM [--show FOLDER | --trace yes]] [--generator first|second|samples|all]
//! [--least no] [--write FILE.md] [--csv FILE.csv]`. Without the search for the least setting that works the rest comes at a tenth of the time.
//!
//! Plants of both corpus generators with the head set too high (moderate and severe) and healthy ones, and the samples' own chilled-water loop. What
//! may be proposed stands in `allowed.rs`, written before any figure was made.
#![allow(clippy::panic, reason = "a plant that cannot be read is an error of the tests")]

mod again;
mod allowed;
#[path = "../corpus/mod.rs"]
mod corpus;
#[path = "../points/mod.rs"]
mod invented;
mod least;
mod score;
mod shown;
#[path = "../simulator/mod.rs"]
mod simulator;
mod table;

use again::Plant;
use corpus::{Ask, Severity, Trended};
use std::process::ExitCode;

struct Asked {
    plants: u64,
    from: u64,
    days: u32,
    /// This one of them alone.
    seed: Option<u64>,
    /// Folder into which its plant file and exports are written.
    show: Option<String>,
    /// Prints what the machines get of each plant instead of a page.
    trace: bool,
    /// The truth finds its own least setting that works.
    least: bool,
    generator: String,
    write: Option<String>,
    csv: Option<String>,
}

fn asked() -> Result<Asked, String> {
    let mut a = Asked {
        plants: 60,
        from: 1,
        days: 28,
        seed: None,
        show: None,
        trace: false,
        least: true,
        generator: "all".to_owned(),
        write: None,
        csv: None,
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().ok_or(format!("{word} needs a value"))?;
        let number = || value.parse::<u64>().map_err(|_| format!("{word}: \"{value}\" is no whole number"));
        match word.as_str() {
            "--plants" => a.plants = number()?,
            "--from" => a.from = number()?,
            "--days" => a.days = number()? as u32,
            "--seed" => a.seed = Some(number()?),
            "--trace" => a.trace = value == "yes",
            "--least" => a.least = value != "no",
            "--show" => a.show = Some(value),
            "--generator" => a.generator = value,
            "--write" => a.write = Some(value),
            "--csv" => a.csv = Some(value),
            _ => return Err(format!("{word} is not known; the header of tests/tuning/main.rs lists what is")),
        }
    }
    Ok(a)
}

/// Seeds tried for one plant.
const PASSED_OVER: u64 = 12;
const STRIDE: u64 = 100;

type Job = Box<dyn Fn() -> Option<Plant> + Sync + Send>;

/// Two in five of each corpus generator, one in five of the samples' loop; of the corpus' plants one in four is healthy.
fn jobs(a: &Asked) -> Vec<Job> {
    let sets = [
        Trended::Usual,
        Trended::All,
        Trended::Usual,
        Trended::All,
        Trended::NoPressure,
        Trended::Usual,
        Trended::Metered,
    ];
    let mut jobs: Vec<Job> = Vec::new();
    for i in 0..a.plants {
        let (from, days) = (a.from + i * STRIDE, a.days);
        let generator = ["first", "second", "first", "second", "samples"][(i % 5) as usize];
        if a.seed.is_some_and(|s| s != from) {
            continue;
        }
        if a.generator != "all" && a.generator != generator {
            continue;
        }
        let turn = i / 5 * 2 + i % 5 / 2;
        if generator == "samples" {
            jobs.push(Box::new(move || Some(Plant::chilled(from, days, i % 2 == 0, i % 3 == 0))));
            continue;
        }
        let plant = match turn % 4 {
            0 | 2 => vec![("setpoint-too-high", Severity::Moderate)],
            1 => vec![("setpoint-too-high", Severity::Severe)],
            _ => Vec::new(),
        };
        let ask = Ask {
            seed: from,
            plant,
            trended: sets[(turn % 7) as usize],
            minutes: [5, 15, 5][(turn % 3) as usize],
            days,
        };
        jobs.push(Box::new(move || {
            (0..PASSED_OVER).find_map(|k| Plant::corpus(generator, &Ask { seed: ask.seed + k, ..ask.clone() }))
        }));
    }
    jobs
}

fn put(path: &str, text: &str) -> Result<(), String> {
    std::fs::write(path, text).map_err(|e| format!("{path}: not written: {e}"))
}

/// Writes the plants as an engineer would get them, for `offcurve review`.
fn shown(a: &Asked, folder: &str) -> Result<(), String> {
    for plant in jobs(a).iter().filter_map(|job| job()) {
        let place = format!("{folder}/{}-{}", plant.generator, plant.seed);
        let mut files = plant.files();
        files.push(("plant.toml".to_owned(), plant.plant_toml().as_bytes()));
        for (path, bytes) in files {
            let path = format!("{place}/{path}");
            let parent = std::path::Path::new(&path).parent().unwrap_or(std::path::Path::new("."));
            std::fs::create_dir_all(parent).map_err(|e| format!("{path}: {e}"))?;
            std::fs::write(&path, bytes).map_err(|e| format!("{path}: {e}"))?;
        }
    }
    Ok(())
}

fn run() -> Result<(), String> {
    let a = asked()?;
    let started = std::time::Instant::now();
    if let Some(folder) = &a.show {
        return shown(&a, folder);
    }
    if a.trace {
        for plant in jobs(&a).iter().filter_map(|job| job()) {
            println!("{}", shown::machines(&plant));
        }
        return Ok(());
    }
    let outcomes: Vec<_> = score::many(&jobs(&a), a.least).into_iter().flatten().collect();
    let page = table::page(&outcomes);
    if let Some(path) = &a.csv {
        put(path, &table::csv(&outcomes))?;
    }
    match &a.write {
        Some(path) => put(path, &page)?,
        None => println!("{page}"),
    }
    eprintln!("{} plants in {:.0} s", outcomes.len(), started.elapsed().as_secs_f64());
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
