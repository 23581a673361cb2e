//! stub
#![allow(clippy::panic, reason = "a plant that cannot be read is an error of the tests")]
#[path = "mod.rs"]
mod corpus;
#[path = "../points/mod.rs"]
mod invented;
#[path = "../simulator/mod.rs"]
mod simulator;
use corpus::*;
fn main() {
    let mut reasons = std::collections::BTreeMap::new();
    let a: Vec<String> = std::env::args().collect();
    let fault = a.get(1).cloned().unwrap_or_default();
    let n: u64 = a.get(2).map_or(20, |s| s.parse().unwrap_or(20));
    let show = a.len() > 3;
    let t0 = std::time::Instant::now();
    let mut ok = 0;
    for seed in 0..n {
        let plant = FAULTS
            .iter()
            .find(|f| **f == fault)
            .map(|f| vec![(*f, Severity::ALL[(seed % 3) as usize])])
            .unwrap_or_default();
        let ask = Ask { seed, plant, trended: Trended::All, minutes: 5, days: 28 };
        for k in 0..10 {
            match first::attempt(&ask, k) {
                Ok(c) => {
                    ok += 1;
                    *reasons.entry("ok".to_owned()).or_insert(0) += 1;
                    if show {
                        println!("{}", c.plant_toml);
                        println!("{}", String::from_utf8_lossy(&c.files[0].1));
                    }
                    let o = score::review("first", &ask, &c);
                    println!(
                        "{seed}: {:?} also {:?}",
                        c.planted.iter().map(|p| (&p.note, p.step)).collect::<Vec<_>>(),
                        c.also_true
                    );
                    for s in o
                        .said
                        .iter()
                        .filter(|s| s.answer == score::Answer::Found || (!fault.is_empty() && s.fault == fault))
                    {
                        println!(
                            "    {} {} {:?} {:.2} {:?} {}",
                            s.fault, s.subject, s.answer, s.confidence, s.truth, s.because
                        );
                    }
                    break;
                }
                Err(e) => {
                    *reasons.entry(e.to_owned()).or_insert(0) += 1;
                }
            }
        }
    }
    println!("{ok} of {n} in {:?}: {reasons:?}", t0.elapsed());
}
