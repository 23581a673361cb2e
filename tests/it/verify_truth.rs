//! Savings against plants run again under the old setting: a small part of `cargo run --release --example score-verify`.

use crate::changes::score::{many, wanted};
use crate::changes::{counts, table};
use offcurve::verify::Told;

/// Two dozen changes of both generators, records of more than a year left out: intervals hold, nothing is called a saving, by exact tests that fail once in a thousand sets of seeds.
#[test]
fn savings_against_plants_run_again() {
    let all: Vec<_> = (0..26).map(|i| wanted(i, 40_000)).filter(|w| !w.year).collect();
    let outcomes = many(&all, 2);
    let answers: Vec<_> = outcomes.iter().filter_map(|o| o.answer.as_ref().ok()).collect();
    assert!(answers.len() >= 15, "{} of {} told", answers.len(), outcomes.len());
    let inside = answers.iter().filter(|a| table::holds(a)).count();
    assert!(counts::at_most(inside, answers.len(), counts::COVERAGE) > 1e-3, "{inside} of {}", answers.len());
    let none: Vec<_> = outcomes.iter().filter(|o| o.without_effect()).collect();
    let called = none.iter().filter(|o| o.answer.as_ref().is_ok_and(|a| a.told == Told::Saved)).count();
    assert!(counts::at_least(called, none.len(), counts::FALSE_SAVING) > 1e-3, "{called} of {}", none.len());
    assert!(answers.iter().all(|a| a.year.is_none() && a.year_allowed));
    // Large effects are there, are told as a rule, and never the wrong way round.
    let large = outcomes.iter().filter_map(|o| o.answer.as_ref().ok()).filter(|a| a.truth > 0.2);
    let large: Vec<(f64, Told)> = large.map(|a| (a.truth, a.told)).collect();
    let told = large.iter().filter(|l| l.1 == Told::Saved).count();
    assert!(told >= 3 && large.iter().all(|l| l.1 != Told::UsedMore), "{large:?}");
}

/// Twice the smaller tail, and Clopper and Pearson's interval: 5 of 10 against a half, and the published 18.7 to 81.3 % (from memory).
#[test]
fn the_binomial_of_the_score() {
    assert!((counts::two_sided(5, 10, 0.5) - 1.0).abs() < 1e-9);
    // 0 of 5 at a half: 1/32 a tail.
    assert!((counts::two_sided(0, 5, 0.5) - 2.0 / 32.0).abs() < 1e-9);
    let (low, high) = counts::range(5, 10);
    assert!((low - 0.187).abs() < 1e-3 && (high - 0.813).abs() < 1e-3, "{low} {high}");
    assert_eq!(counts::range(0, 10).0, 0.0);
}
