//! Do the 95 % intervals of a saving hold, and is nothing called a saving where nothing was saved? On invented pumps, by exact binomial tests.

use crate::verify_world::{PLAIN, Truth, World};
use offcurve::verify::{Told, saving};

const CASES: u64 = 100;
/// A test that fails by chance in one of a thousand runs of new seeds.
const CHANCE: f64 = 1e-3;

/// Probability of `k` or fewer of `n` at probability `p` each.
fn at_most(k: u64, n: u64, p: f64) -> f64 {
    let mut term = n as f64 * (1.0 - p).ln();
    let mut sum = term.exp();
    for i in 0..k {
        term += ((n - i) as f64 / (i + 1) as f64).ln() + (p / (1.0 - p)).ln();
        sum += term.exp();
    }
    sum
}

/// Coverage, and (where nothing was saved) savings and losses told, over `CASES` plants of a kind. `width`: mean half width over 1.96 root mean square errors, no more
/// than so much: an interval that always holds is worth nothing.
fn holds(name: &str, world: World, width: f64) {
    let (mut inside, mut saved, mut lost, mut all) = (0, 0, 0, 0);
    let (mut half, mut squares) = (0.0, 0.0);
    for seed in 0..CASES {
        let trended = World { seed: 5_000 + seed, ..world }.run();
        let Ok(s) = saving(&trended.record(), &trended.stretches) else { continue };
        let truth = s.after.energy_kwh * world.effect / (1.0 - world.effect);
        all += 1;
        inside += u64::from(s.saving_kwh.low <= truth && truth <= s.saving_kwh.high);
        saved += u64::from(s.told == Told::Saved);
        lost += u64::from(s.told == Told::UsedMore);
        half += 0.5 * (s.saving_kwh.high - s.saving_kwh.low) / s.after.energy_kwh;
        squares += ((s.saving_kwh.estimate - truth) / s.after.energy_kwh).powi(2);
    }
    let ratio = half / all as f64 / (1.96 * (squares / all as f64).sqrt());
    println!("{name}: {inside} of {all} inside, {saved} saved, {lost} lost, width {ratio:.2}");
    assert!(all >= CASES * 9 / 10, "{name}: {all} of {CASES} told");
    assert!(at_most(inside, all, 0.95) > CHANCE, "{name}: {inside} of {all} inside");
    assert!(ratio < width, "{name}: {ratio} times as wide as it need be");
    if world.effect == 0.0 {
        for (what, n) in [("saved", saved), ("lost", lost)] {
            let so_many_or_more = if n == 0 { 1.0 } else { 1.0 - at_most(n - 1, all, 0.025) };
            assert!(so_many_or_more > CHANCE, "{name}: {n} of {all} {what} where nothing changed");
        }
    }
}

const SHORT: World = World { before: 84, after: 42, begins: 110, ..PLAIN };

#[test]
fn the_binomial_is_the_textbooks() {
    // Two of three at one half: 1/8 + 3/8 + 3/8.
    assert!((at_most(2, 3, 0.5) - 0.875).abs() < 1e-12);
    assert!((at_most(0, 20, 0.05) - 0.95f64.powi(20)).abs() < 1e-12);
}

#[test]
fn nothing_changed_on_a_constant_plant() {
    holds("independent days", World { truth: Truth::Flat, r: 0.0, ..SHORT }, 1.6);
    holds("days much alike", World { truth: Truth::Flat, r: 0.7, ..SHORT }, 1.6);
}

#[test]
fn nothing_changed_but_the_weather() {
    holds("warmer", World { warmer: 2.0, ..SHORT }, 1.6);
}

#[test]
fn a_tenth_saved_under_cooling_and_load() {
    holds("cooling", World { effect: 0.1, ..SHORT }, 1.6);
    holds("load", World { truth: Truth::Load, effect: 0.1, ..SHORT }, 1.6);
}

/// A bend that none of the forms has: the intervals hold all the same, through the forms that share the saving.
#[test]
fn a_line_that_no_form_has() {
    holds("smooth bend", World { truth: Truth::Bend, warmer: 2.0, before: 120, after: 60, ..PLAIN }, 1.6);
}

/// Where few days lie beyond the bend, forms are hard to tell apart: the hard case.
#[test]
fn heating_into_spring() {
    holds("heating", World { truth: Truth::Heating, begins: 270, before: 150, after: 60, ..PLAIN }, 1.8);
}

#[test]
fn weeks_in_turn() {
    let world = World { before: 56, after: 56, turns: 7, begins: 100, ..PLAIN };
    holds("alternating", world, 1.7);
    holds("alternating, a tenth saved", World { effect: 0.1, ..world }, 1.7);
}

#[test]
fn by_the_hour() {
    holds("hourly", World { hourly: true, before: 63, after: 28, begins: 120, ..PLAIN }, 1.8);
}
