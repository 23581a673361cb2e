//! Times the rules alone: `cargo run --release --example time-faults -- PLANT.toml [RUNS] [--each]`.
//!
//! Reads the record and takes it as far as the rules once, then times the stage that judges all sixteen faults: calendar, columns laid out, whatever the
//! rules look at together, verdicts, causes. `--each` also prints every rule by itself, in turn; the first that looks at what several share pays for it.
#![allow(clippy::panic, reason = "a plant that cannot be read ends the measurement")]

use offcurve::faults::{self, Calendar, Case, Fault, Verdict};
use offcurve::r#loop::{self as system_loop, Replay};
use offcurve::{ingest, operating, plant, regimes, screening};
use std::path::Path;
use std::time::Instant;

fn main() {
    let (options, words): (Vec<String>, Vec<String>) = std::env::args().skip(1).partition(|w| w.starts_with("--"));
    let path = words.first().unwrap_or_else(|| panic!("name a plant file"));
    let runs: usize = words.get(1).and_then(|n| n.parse().ok()).unwrap_or(5);
    let plant = plant::read(Path::new(&path)).unwrap_or_else(|e| panic!("{e}")).value;
    let trends = ingest::read(&plant, None).unwrap_or_else(|e| panic!("{e}")).value;
    let screened = screening::screen(&plant, trends).value;
    let points = operating::reconstruct(&plant, &screened).value;
    let regimes = regimes::sort(&plant, &screened, &points.points).value;
    let learned = system_loop::learn(&plant, &screened, &points);
    let need = system_loop::need(&plant, &screened, &points.points.system, learned.as_ref());
    let replay = Replay::new(&points.machines);
    let price = |flow: f64, head: f64, on: u8| replay.power_kw(flow, head, on);
    let stage = |judge: &dyn Fn(&Case)| {
        let start = Instant::now();
        let calendar = Calendar::of(&plant, &screened);
        judge(&Case::gather(&plant, &screened, &points, &regimes, &calendar, &need, &price));
        start.elapsed().as_secs_f64()
    };
    let all = |case: &Case| {
        let verdicts = faults::judge(case);
        let judged = |f: &Fault| verdicts.iter().any(|v| fault(v) == *f);
        assert!(Fault::ALL.iter().all(judged), "a fault has no verdict");
    };
    let mut took: Vec<f64> = (0..runs).map(|_| stage(&all)).collect();
    took.sort_by(f64::total_cmp);
    if options.iter().any(|o| o == "--each") {
        let begun = Instant::now();
        stage(&|case| {
            println!("calendar and columns: {:.1} ms", begun.elapsed().as_secs_f64() * 1000.0);
            for rule in faults::RULES {
                let start = Instant::now();
                let verdicts = (rule.judge)(case).len();
                println!(
                    "{}: {:.1} ms, {verdicts} verdicts",
                    rule.fault.code(),
                    start.elapsed().as_secs_f64() * 1000.0
                );
            }
        });
    }
    println!("rows={} median_s={:.4}", screened.clock.len, took[runs / 2]);
}

fn fault(verdict: &Verdict) -> Fault {
    match verdict {
        Verdict::Found(found) => found.fault,
        Verdict::Clear { fault, .. } | Verdict::CannotTell { fault, .. } => *fault,
    }
}
