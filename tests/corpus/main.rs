//! Scores the rules: `cargo run --release --example score-faults -- [--cases N a fault and severity] [--healthy PUMP-MONTHS] [--from SEED]
//! [--generator first|second|both] [--fault CODE,CODE] [--healthy-sets SET,SET] [--days N] [--write FILE.md] [--csv FILE.csv]`.
//!
//! `-- --draws N` only draws. Fits the confidence: `-- --fit FIRST.csv [--test SECOND.csv] [--share 0.3]`. Shows one case: `-- --show SEED --fault CODE` (severe; all points, 5 min)
//! or `-- --show SEED` (healthy) prints plant file and verdicts, and with `--write FOLDER` writes plant file and export there.
//! `-- --folders FOLDER [--from SEED] [--fault CODE,CODE] [--minutes N] [--days N] [--severity WORD] [--set SET]` writes a plant of each fault there, and judges nothing.
#![allow(clippy::panic, reason = "a plant that cannot be read is an error of the tests")]

#[path = "mod.rs"]
mod corpus;
#[path = "../points/mod.rs"]
mod invented;
#[path = "../simulator/mod.rs"]
mod simulator;

use corpus::score::{self, Outcome, Wanted};
use corpus::{Ask, Case, FAULTS, Generator, Severity, Trended, first, fit, second, table};
use std::process::ExitCode;

/// The generators by name.
const GENERATORS: &[&dyn Generator] = &[&first::First, &second::Second];

struct Asked {
    wanted: Wanted,
    generator: String,
    write: Option<String>,
    csv: Option<String>,
    fit: Option<String>,
    test: Option<String>,
    share: f64,
    show: Option<u64>,
    folders: Option<String>,
    draws: u64,
    set: String,
    minutes: u32,
    severity: String,
}

fn asked() -> Result<Asked, String> {
    let wanted = Wanted { cases: 10, healthy: 100.0, from: 1, faults: Vec::new(), days: 28, healthy_sets: Vec::new() };
    let mut a = Asked {
        wanted,
        generator: "both".to_owned(),
        write: None,
        csv: None,
        fit: None,
        test: None,
        share: 0.3,
        show: None,
        folders: None,
        draws: 0,
        set: "all".to_owned(),
        minutes: 5,
        severity: "severe".to_owned(),
    };
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().ok_or(format!("{word} needs a value"))?;
        let number = || value.parse::<f64>().map_err(|_| format!("{word}: \"{value}\" is no number"));
        match word.as_str() {
            "--cases" => a.wanted.cases = number()? as u64,
            "--healthy" => a.wanted.healthy = number()?,
            "--from" => a.wanted.from = number()? as u64,
            "--days" => a.wanted.days = number()? as u32,
            "--fault" => {
                a.wanted.faults = value.split(',').map(str::to_owned).collect();
                if let Some(f) = a.wanted.faults.iter().find(|f| !FAULTS.contains(&f.as_str())) {
                    return Err(format!("\"{f}\" is none of {}", FAULTS.join(", ")));
                }
            }
            "--healthy-sets" => a.wanted.healthy_sets = value.split(',').map(set).collect::<Result<_, _>>()?,
            "--generator" => a.generator = value,
            "--write" => a.write = Some(value),
            "--csv" => a.csv = Some(value),
            "--fit" => a.fit = Some(value),
            "--test" => a.test = Some(value),
            "--share" => a.share = number()?,
            "--show" => a.show = Some(number()? as u64),
            "--folders" => a.folders = Some(value),
            "--draws" => a.draws = number()? as u64,
            "--set" => a.set = value,
            "--minutes" => a.minutes = number()? as u32,
            "--severity" => a.severity = value,
            _ => return Err(format!("{word} is not known; the header of tests/corpus/main.rs lists what is")),
        }
    }
    Ok(a)
}

/// A set of trended points by its name.
fn set(name: &str) -> Result<Trended, String> {
    Trended::ALL
        .into_iter()
        .find(|t| t.word() == name)
        .ok_or(format!("there is no set \"{name}\": all, usual, no pressure, ..."))
}

fn generators(name: &str) -> Result<Vec<&'static dyn Generator>, String> {
    let chosen: Vec<_> = GENERATORS.iter().copied().filter(|g| name == "both" || g.name() == name).collect();
    if chosen.is_empty() {
        let names: Vec<&str> = GENERATORS.iter().map(|g| g.name()).collect();
        return Err(format!("there is no generator \"{name}\"; there are {}", names.join(", ")));
    }
    Ok(chosen)
}

fn put(path: &str, bytes: &[u8]) -> Result<(), String> {
    std::fs::write(path, bytes).map_err(|e| format!("{path}: not written: {e}"))
}

fn get(path: &str) -> Result<String, String> {
    std::fs::read_to_string(path).map_err(|e| format!("{path}: not read: {e}"))
}

fn fitted(a: &Asked, home: &str) -> Result<(), String> {
    let home = fit::read(&get(home)?)?;
    let away = a.test.as_ref().map(|p| fit::read(&get(p)?)).transpose()?;
    println!("{}", fit::told(&home, away.as_ref(), a.share));
    Ok(())
}

/// Draws without reviews: how long they take, and why seeds of the first generator are no such plant.
fn drawn(a: &Asked) {
    let severity = Severity::ALL.into_iter().find(|s| s.word() == a.severity).unwrap_or(Severity::Severe);
    for fault in FAULTS
        .into_iter()
        .filter(|f| a.wanted.faults.is_empty() || a.wanted.faults.iter().any(|w| w == f))
        .map(Some)
        .chain([None])
    {
        let started = std::time::Instant::now();
        let mut reasons = std::collections::BTreeMap::new();
        for seed in a.wanted.from..a.wanted.from + a.draws {
            let plant = fault.into_iter().map(|f| (f, severity)).collect();
            let ask = Ask { seed, plant, trended: Trended::All, minutes: a.minutes, days: a.wanted.days };
            *reasons.entry(first::attempt(&ask, 0).err().unwrap_or("drawn")).or_insert(0) += 1;
        }
        let each = started.elapsed().as_secs_f64() / a.draws as f64;
        println!("{}: {each:.3} s a try; {reasons:?}", fault.unwrap_or("healthy"));
    }
}

/// One case, as an engineer would get it, with its verdicts.
fn show(a: &Asked, seed: u64) -> Result<(), String> {
    let severity =
        Severity::ALL.into_iter().find(|s| s.word() == a.severity).ok_or("severity: mild, moderate, severe")?;
    let trended = set(&a.set)?;
    let plant = FAULTS.into_iter().filter(|f| a.wanted.faults.iter().any(|w| w == f)).map(|f| (f, severity)).collect();
    let ask = Ask { seed, plant, trended, minutes: a.minutes, days: a.wanted.days };
    for g in generators(&a.generator)? {
        let Some(case) = g.draw(&ask) else {
            println!("{}: this seed cannot be", g.name());
            continue;
        };
        println!(
            "{}\n{:#?}\nalso true: {:?}\nlook-alikes: {:?}",
            case.plant_toml, case.planted, case.also_true, case.look_alikes
        );
        for s in score::review(g.name(), &ask, &case).said {
            println!(
                "{} {} {} {:.2} {} {}",
                s.fault,
                s.subject,
                s.answer.word(),
                s.confidence,
                s.truth.word(),
                s.because
            );
        }
        if let Some(folder) = &a.write {
            lay_out(folder, &case)?;
        }
    }
    Ok(())
}

/// Plant file and exports, as an engineer would get them.
fn lay_out(folder: &str, case: &Case) -> Result<(), String> {
    std::fs::create_dir_all(folder).map_err(|e| format!("{folder}: {e}"))?;
    put(&format!("{folder}/plant.toml"), case.plant_toml.as_bytes())?;
    for (path, bytes) in &case.files {
        let into = std::path::Path::new(folder).join(path);
        into.parent().map_or(Ok(()), std::fs::create_dir_all).map_err(|e| format!("{folder}: {e}"))?;
        put(&format!("{folder}/{path}"), bytes)?;
    }
    Ok(())
}

/// One plant a fault and generator, by the first seed that can have it.
fn folders(a: &Asked, into: &str) -> Result<(), String> {
    const SEEDS_TRIED: u64 = 50;
    let severity =
        Severity::ALL.into_iter().find(|s| s.word() == a.severity).ok_or("severity: mild, moderate, severe")?;
    let trended = set(&a.set)?;
    for fault in FAULTS.into_iter().filter(|f| a.wanted.faults.is_empty() || a.wanted.faults.iter().any(|w| w == f)) {
        for g in generators(&a.generator)? {
            let ask =
                |seed| Ask { seed, plant: vec![(fault, severity)], trended, minutes: a.minutes, days: a.wanted.days };
            let mut seeds = a.wanted.from..a.wanted.from + SEEDS_TRIED;
            match seeds.find_map(|seed| g.draw(&ask(seed))) {
                Some(case) => lay_out(&format!("{into}/{fault}-{}", g.name()), &case)?,
                None => eprintln!("{}: no seed has {fault}", g.name()),
            }
        }
    }
    Ok(())
}

/// What stands above the tables: the command that made them, as it was typed.
fn head() -> String {
    let typed: Vec<String> = std::env::args().skip(1).collect();
    format!(
        "# Rules on invented plants

Made by `cargo run --release --example score-faults -- {}`
(about three quarters of an hour on 2 cores). What may be judged from which points (`judgeable.rs`), and how strong a fault is (`severity.rs`), was written before any figure.
Beside the columns: a case counts as found from a confidence of one half on; precision takes its false alarms from the faulty cases of that severity and all healthy ones.

",
        typed.join(" ")
    )
}

/// A table a generator; with two, how the confidence fitted on the first does on the second.
fn told(chosen: &[&dyn Generator], outcomes: &[Outcome], share: f64) -> Result<String, String> {
    let mut text = head();
    let mut rows = Vec::new();
    for g in chosen {
        let own: Vec<Outcome> = outcomes.iter().filter(|o| o.generator == g.name()).cloned().collect();
        text += &format!("## The {} generator\n\n{}\n", g.name(), table::markdown(&own));
        rows.push(fit::read(&table::csv(&own))?);
    }
    if let [home, away] = rows.as_slice() {
        text += &format!(
            "## Confidence fitted on the first, tested on the second\n\n{}\n",
            fit::told(home, Some(away), share)
        );
    }
    Ok(text)
}

fn scored(a: &Asked) -> Result<(), String> {
    let started = std::time::Instant::now();
    let chosen = generators(&a.generator)?;
    let jobs = score::jobs(&chosen, &a.wanted);
    let outcomes: Vec<_> = score::many(&jobs).into_iter().flatten().collect();
    let text = told(&chosen, &outcomes, a.share)?;
    if let Some(path) = &a.csv {
        put(path, table::csv(&outcomes).as_bytes())?;
    }
    match &a.write {
        Some(path) => put(path, text.as_bytes())?,
        None => println!("{text}"),
    }
    let lost = jobs.len() - outcomes.len();
    eprintln!("{} cases ({lost} asks no seed could fill) in {:.0} s", outcomes.len(), started.elapsed().as_secs_f64());
    Ok(())
}

fn main() -> ExitCode {
    let done = asked().and_then(|a| match (&a.fit, a.show) {
        (None, None) if a.folders.is_some() => folders(&a, a.folders.as_deref().unwrap_or_default()),
        (Some(home), _) => fitted(&a, home),
        (None, Some(seed)) => show(&a, seed),
        (None, None) if a.draws > 0 => {
            drawn(&a);
            Ok(())
        }
        (None, None) => scored(&a),
    });
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("{e}");
            ExitCode::from(2)
        }
    }
}
