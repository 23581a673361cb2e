//! The corpus of faults: a fast subset of what `cargo run --release --example score-faults` scores, and the generators' own checks.

use crate::corpus::score::{self, Answer, Job, Outcome};
use crate::corpus::table::{count, wilson};
use crate::corpus::{Ask, Case, FAULTS, Generator, Severity, Trended, first, fit, second};
use offcurve::plant;
use std::path::Path;

/// The generators.
const GENERATORS: &[&dyn Generator] = &[&first::First, &second::Second];
const SEED: u64 = 5_000_000;

/// Least recall at severe, and most cases (of all) with a false alarm of the code, by rule. A rule joins the list when it is built; the
/// bounds are loose: a handful of cases can show that a rule is broken, not how good it is.
const HELD: &[(&str, f64, usize)] = &[
    ("low-delta-t", 0.25, 4),
    ("stuck-bypass", 0.20, 3),
    ("minimum-speed-hunting", 0.50, 3),
    ("setpoint-too-high", 0.20, 6),
    ("off-control-curve", 0.40, 4),
];
/// Cases a fault in the subset, and healthy ones, of each generator.
const CASES: u64 = 4;
const HEALTHY: u64 = 14;

fn ask(seed: u64, plant: &[(&'static str, Severity)], trended: Trended, minutes: u32) -> Ask {
    Ask { seed, plant: plant.to_vec(), trended, minutes, days: 28 }
}

/// The subset: severe faults and healthy plants, all or the usual points, every 5 min.
fn subset() -> Vec<Job<'static>> {
    let set = |i: u64| if i.is_multiple_of(2) { Trended::All } else { Trended::Usual };
    let mut jobs = Vec::new();
    for generator in GENERATORS.iter().copied() {
        for (n, (fault, ..)) in HELD.iter().enumerate() {
            for i in 0..CASES {
                let seed = SEED + (n as u64 * CASES + i) * score::STRIDE;
                jobs.push(Job { generator, ask: ask(seed, &[(fault, Severity::Severe)], set(i), 5) });
            }
        }
        for i in 0..HEALTHY {
            let seed = 2 * SEED + i * score::STRIDE;
            jobs.push(Job { generator, ask: ask(seed, &[], set(i), 5) });
        }
    }
    jobs
}

#[test]
fn rules_hold_on_invented_plants() {
    let outcomes: Vec<Outcome> = score::many(&subset()).into_iter().flatten().collect();
    let mut broken = Vec::new();
    for (fault, recall, alarms) in HELD {
        let c = count(&outcomes, fault, Some(Severity::Severe), &|_| true);
        println!(
            "{fault}: {} of {} found, {} false alarms in {} cases",
            c.found,
            c.inside,
            c.false_alarms,
            outcomes.len()
        );
        if c.inside == 0 || c.recall() < *recall || c.false_alarms > alarms * GENERATORS.len() {
            broken.push(format!("{fault}: {c:?}"));
        }
    }
    // A rule that answers nothing is not held, but it may not be wrong either.
    for fault in FAULTS.into_iter().filter(|f| HELD.iter().all(|h| h.0 != *f)) {
        let healthy = |o: &Outcome| o.planted.is_empty();
        let c = count(&outcomes, fault, None, &healthy);
        if c.false_alarms > 2 * GENERATORS.len() {
            broken.push(format!("{fault}: {} healthy plants with a false alarm", c.false_alarms));
        }
    }
    assert!(broken.is_empty(), "{broken:#?}");
}

fn drawn(generator: &dyn Generator, plant: &[(&'static str, Severity)], trended: Trended) -> (Ask, Case) {
    (0..40)
        .map(|k| ask(SEED + 77 + k, plant, trended, 15))
        .find_map(|a| generator.draw(&a).map(|c| (a, c)))
        .unwrap_or_else(|| panic!("{}: no seed of forty has {plant:?}", generator.name()))
}

/// A seed is a plant: the same bytes every time, others for another seed.
#[test]
fn draws_of_the_corpus_repeat() {
    for generator in GENERATORS {
        let (a, once) = drawn(*generator, &[], Trended::All);
        let again = generator.draw(&a).unwrap();
        assert_eq!(once.plant_toml, again.plant_toml);
        assert_eq!(once.files, again.files);
        let other = (1..40).find_map(|k| generator.draw(&Ask { seed: a.seed + k, ..a.clone() })).unwrap();
        assert_ne!(once.files, other.files);
    }
}

/// Every fault can be planted, is confessed, lies within the record, and comes with a plant file that can be read.
#[test]
fn every_fault_is_planted_and_confessed() {
    for generator in GENERATORS {
        for fault in FAULTS {
            let trended = if fault == "sensor-fault" { Trended::Usual } else { Trended::All };
            let (_, case) = drawn(*generator, &[(fault, Severity::Severe)], trended);
            let name = generator.name();
            let declared = plant::parse(&case.plant_toml, Path::new("corpus/plant.toml"));
            assert!(declared.is_ok(), "{name} {fault}: {}", declared.err().unwrap());
            let [planted] = &case.planted[..] else { panic!("{name} {fault}: {:?}", case.planted) };
            assert_eq!(planted.fault, fault);
            assert!(!planted.subjects.is_empty() && planted.first_ms < planted.last_ms, "{name} {planted:?}");
            assert_eq!(planted.period_min.is_finite(), fault.contains("hunting"), "{name} {planted:?}");
            assert!(!case.also_true.contains(&fault), "{name} {fault}: planted is not also true");
            let known = declared.unwrap().value;
            let of_plant = |s: &String| {
                let named = known.pumps.iter().any(|p| p.name == *s) || known.coils.iter().any(|c| c.name == *s);
                s == "loop" || named || case.plant_toml.contains(&format!("name = \"{s}\""))
            };
            assert!(planted.subjects.iter().all(of_plant), "{name} {fault}: {:?}", planted.subjects);
        }
    }
}

/// A healthy plant has nothing planted and nothing true; its look-alikes are named.
#[test]
fn healthy_plants_of_the_corpus_are_healthy() {
    for generator in GENERATORS {
        let mut look_alikes = Vec::new();
        for k in 0..8 {
            let Some(case) = generator.draw(&ask(SEED + 500 + k, &[], Trended::Usual, 15)) else { continue };
            assert!(case.planted.is_empty() && case.also_true.is_empty(), "{:?}", case.also_true);
            assert!(case.pump_months > 0.9);
            look_alikes.extend(case.look_alikes);
        }
        look_alikes.sort_unstable();
        look_alikes.dedup();
        assert!(look_alikes.len() >= 6, "{}: {look_alikes:?}", generator.name());
    }
}

/// Wilson's interval at 0 of 1,000: the upper end is z2 / (n + z2) = 3.8415 / 1003.8415 = 0.38 %; at 8 of 10 the textbook gives 0.490 to 0.943
/// (Wilson 1927, from memory).
#[test]
fn wilson_is_that_of_the_books() {
    let (low, high) = wilson(0.0, 1000.0);
    assert!(low.abs() < 1e-12 && (high - 3.8415 / 1003.8415).abs() < 1e-5, "{high}");
    let (low, high) = wilson(8.0, 10.0);
    assert!((low - 0.490).abs() < 1e-3 && (high - 0.943).abs() < 1e-3, "{low} {high}");
}

/// Rows whose raw confidence is honest are left about as they are; rows that boast are pulled down to their share.
#[test]
fn the_map_of_confidence_finds_the_shares() {
    let rows = |share_right: &dyn Fn(f64) -> f64| {
        let mut all = Vec::new();
        for raw in [0.55, 0.65, 0.75, 0.85, 0.95] {
            for k in 0..400 {
                // Exactly the share, in a fixed order.
                let right = (f64::from(k) + 0.5) / 400.0 < share_right(raw);
                let case = format!("{raw} {k}");
                all.push(fit::Row { case, faulty: right, fault: "low-delta-t".to_owned(), raw, right });
            }
        }
        let faulty = all.iter().filter(|r| r.faulty).count() as f64;
        fit::Rows { cases: [all.len() as f64 - faulty, faulty], rows: all }
    };
    let share = |r: &fit::Rows| r.cases[1] / (r.cases[0] + r.cases[1]);
    let honest = rows(&|raw| raw);
    let map = fit::fit(&honest, share(&honest));
    for raw in [0.55, 0.75, 0.95] {
        assert!((map.at("low-delta-t", raw) - raw).abs() < 0.02, "{raw} became {}", map.at("low-delta-t", raw));
    }
    let boasting = rows(&|raw| 0.5 * raw);
    let map = fit::fit(&boasting, share(&boasting));
    assert!((map.at("low-delta-t", 0.95) - 0.475).abs() < 0.06, "{}", map.at("low-delta-t", 0.95));
    let (raw, mapped) = (fit::scores(&boasting, None, 0.5).0, fit::scores(&boasting, Some(&map), share(&boasting)).0);
    assert!(mapped < raw, "Brier {raw} raw, {mapped} mapped");
}

/// What a found, a refused and a false verdict count as.
#[test]
fn outcomes_are_counted_as_defined() {
    let (a, case) = drawn(&first::First, &[], Trended::Usual);
    let outcome = score::review("first", &a, &case);
    assert!(outcome.said.iter().all(|s| s.truth == score::Truth::False));
    let c = count(std::slice::from_ref(&outcome), "low-delta-t", None, &|_| true);
    assert_eq!((c.inside, c.found, c.outside), (0, 0, 0));
    assert_eq!(outcome.answer("no such fault"), Answer::CannotTell);
}
