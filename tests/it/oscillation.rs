//! The published measures of oscillation against the values that follow from their definitions.
//!
//! The papers' formulas are from memory; a check value that can be worked out by hand says how.

use offcurve::faults::oscillation::{
    HalfPeriod, decay, decay_ratio, forsman_stattin, half_periods, iae_limit, regular, regularity,
};
use std::f64::consts::TAU;

/// Noise that repeats: normal by twelve uniforms.
struct Noise(u64);
impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

fn near(what: &str, got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{what}: {got}, not {want}");
}

/// Hagglund 1995: half a period of a sin(w t) has 2 a / w = a T / pi. Amplitude 3, 600 s: 572.958; the limit for amplitude 1: 190.986.
#[test]
fn error_between_zero_crossings() {
    let sine: Vec<f64> = (0..3000).map(|t| 3.0 * ((f64::from(t) + 0.5) * TAU / 600.0).sin()).collect();
    let halves = half_periods(&sine, 1.0);
    // Nine crossings at 299.5, 599.5 ... 2699.5 have eight whole halves between them (the first and the last are cut).
    assert_eq!(halves.len(), 8);
    for h in &halves {
        near("length", h.length, 300.0, 1e-3);
        near("area", h.area, 572.958, 0.02);
    }
    near("the same by the formula", iae_limit(3.0, 600.0), 572.958, 1e-3);
    near("limit", iae_limit(1.0, 600.0), 190.986, 1e-3);
    // A triangle 0, 2, 0, -2, 0 with rows 10 s apart: each half lasts 20 s and has the area 2 * 20 / 2 = 20.
    let triangle = [-2.0, 0.0, 2.0, 0.0, -2.0, 0.0, 2.0];
    assert_eq!(half_periods(&triangle, 10.0), [HalfPeriod { length: 20.0, area: 20.0 }; 2]);
    // A missing row spoils the stretch it lies in, and only that.
    let mut gap = sine.clone();
    gap[1000] = f64::NAN;
    assert_eq!(
        half_periods(&gap, 1.0).len(),
        7,
        "the stretch with the hole is lost, the next one begins at its own crossing"
    );
    assert!(half_periods(&[], 1.0).is_empty() && half_periods(&[f64::NAN; 9], 1.0).is_empty());
    assert!(half_periods(&[1.0; 9], 1.0).is_empty(), "what never crosses zero has no half period");
}

/// Forsman and Stattin 1999 on 3 sin(2 pi (t + 1) / 600) every 60 s over 7200 s: 23 crossings, 22 stretches, of which the last two on either
/// side have no next: 20 / 22. White noise: about 0.2.
#[test]
fn forsman_and_stattin() {
    let sine: Vec<f64> = (0..120).map(|i| 3.0 * ((f64::from(i) * 60.0 + 1.0) * TAU / 600.0).sin()).collect();
    let halves = half_periods(&sine, 60.0);
    assert_eq!(halves.len(), 22);
    near("sine", forsman_stattin(&halves, 0.5, 0.5), 0.90909, 1e-5);
    let mut noise = Noise(5);
    for _ in 0..5 {
        let white: Vec<f64> = (0..2000).map(|_| noise.normal()).collect();
        // 0.19 to 0.23 with whole rows; crossings between rows make lengths a little more alike.
        near("white noise", forsman_stattin(&half_periods(&white, 1.0), 0.5, 0.5), 0.23, 0.05);
    }
    // Areas that halve and worse are not alike, though the lengths are: 4, 1.9 is under one half.
    let falling = [4.0, 4.0, 1.9, 1.9, 0.9, 0.9].map(|area| HalfPeriod { length: 1.0, area });
    near("falling", forsman_stattin(&falling, 0.5, 0.5), 0.0, 0.0);
    assert!(forsman_stattin(&[], 0.5, 0.5).is_nan());
}

/// Thornhill, Huang and Zhang 2003 on 3 sin(2 pi t / 600) + N(0, 1.5) every 60 s, 240 rows: the period within a per cent of 600 s, r far above
/// 1 (31.2 for one draw of another generator). White noise: below 1.
#[test]
fn regularity_of_the_autocovariance() {
    let mut noise = Noise(3);
    let sine: Vec<f64> = (0..240).map(|i| 3.0 * (f64::from(i) * TAU / 10.0).sin() + 1.5 * noise.normal()).collect();
    let (period, r) = regularity(&sine, 60.0).expect("it crosses");
    near("period", period, 600.0, 6.0);
    assert!((8.0..120.0).contains(&r), "regularity {r}");
    for seed in 0..6 {
        let mut noise = Noise(100 + seed);
        let white: Vec<f64> = (0..240).map(|_| noise.normal()).collect();
        let (_, r) = regularity(&white, 60.0).expect("noise crosses often");
        assert!(r < 1.0, "white noise is regular: {r}");
    }
    near("mean 9 and standard deviation 1", regular(9.0, 1.0), 3.0, 0.0);
    assert!(regularity(&sine[..20], 60.0).is_none(), "two periods have no eleven crossings");
    // A sine of ten rows a period crosses zero every five: the eleventh crossing lies half a period past the tenth interval's start.
    let clean = |rows: u32| regularity(&(0..rows).map(|i| (f64::from(i) * TAU / 10.0).sin()).collect::<Vec<_>>(), 60.0);
    assert!(clean(50).is_none(), "five periods have ten crossings");
    assert!(clean(61).is_some(), "six periods have twelve");
    assert!(regularity(&[], 60.0).is_none());
}

/// Miao and Seborg 1999 on exp(-t / 600) sin(2 pi t / 600): the response's decay ratio is e^-1, that of its autocorrelation the root of it,
/// 0.606531. A pure sine of 24 periods fades by its finite length only: 0.97872.
#[test]
fn decay_of_the_autocorrelation() {
    let damped: Vec<f64> =
        (0..18_000).map(|t| (-f64::from(t) / 600.0).exp() * (f64::from(t) * TAU / 600.0).sin()).collect();
    near("damped", decay_ratio(&damped).expect("it turns"), (-0.5f64).exp(), 2e-3);
    let sine: Vec<f64> = (0..240).map(|i| 3.0 * (f64::from(i) * TAU / 10.0).sin()).collect();
    near("sine", decay_ratio(&sine).expect("it turns"), 0.97872, 5e-4);
    // By hand: minima at -0.5 and -0.2, maximum 0.4 midway between, so a = 0.4 + 0.35, b = 0.7 + 0.5 with the line from 1 to 0.4 at its middle.
    near("by hand", decay((1.0, -0.5), (2.0, 0.4), (3.0, -0.2)), 0.75 / 1.2, 1e-12);
    assert!(decay_ratio(&[1.0, 2.0, 3.0]).is_none() && decay_ratio(&[]).is_none());
}
