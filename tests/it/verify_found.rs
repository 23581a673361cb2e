//! Finding when a setting was changed, and whether it took.

use crate::simulator::noise::Rng;
use chrono_tz::Tz;
use offcurve::verify::found::{Found, NotFound, change, residual};
use offcurve::verify::took::{Points, took};

const HOUR_MS: i64 = 3_600_000;
const START: i64 = 19_359 * 24 * HOUR_MS;

/// Hourly residuals [kPa] of so many days: noise of 2 a row, errors of days with autocorrelation `r` and standard deviation `sd`, and steps at hours.
fn rows(seed: u64, days: usize, r: f64, sd: f64, steps: &[(usize, f64)]) -> (Vec<i64>, Vec<f64>) {
    let mut rng = Rng::new(seed, 9);
    let mut of_day = sd * rng.normal();
    let (mut times, mut values) = (Vec::new(), Vec::new());
    for hour in 0..24 * days {
        if hour % 24 == 0 {
            of_day = r * of_day + sd * (1.0 - r * r).sqrt() * rng.normal();
        }
        let level: f64 = steps.iter().filter(|(at, _)| hour >= *at).map(|(_, size)| size).sum();
        times.push(START + hour as i64 * HOUR_MS);
        values.push(of_day + level + 2.0 * rng.normal());
    }
    (times, values)
}

fn found((times, values): &(Vec<i64>, Vec<f64>)) -> Result<Found, NotFound> {
    change(times, values, Tz::UTC)
}

/// A step of 20 kPa at 14:00 of day 40 of 90, errors of 2: the hour to one, the size to a kPa and a half, and sure.
#[test]
fn the_hour_of_a_change() {
    for seed in 0..10 {
        let f = found(&rows(seed, 90, 0.5, 2.0, &[(40 * 24 + 14, -20.0)])).expect("ten times the noise");
        let truth = START + (40 * 24 + 14) * HOUR_MS;
        assert!((f.step.at_ms - truth).abs() <= 2 * HOUR_MS, "{} h off", (f.step.at_ms - truth) / HOUR_MS);
        assert!(f.step.from_ms <= truth && truth <= f.step.to_ms, "{:?}", f.step);
        assert!(f.step.to_ms - f.step.from_ms <= 5 * 24 * HOUR_MS, "{:?}", f.step);
        assert!((f.step.size + 20.0).abs() < 3.0 && f.step.confidence > 0.99, "{:?}", f.step);
        assert!(f.others.is_empty(), "{:?}", f.others);
    }
}

/// Someone put half of it back three weeks later: told beside the first.
#[test]
fn a_second_change() {
    let f = found(&rows(3, 120, 0.4, 1.5, &[(50 * 24, -20.0), (75 * 24 + 9, 10.0)])).expect("two steps");
    let at = |hour: i64| START + hour * HOUR_MS;
    assert!((f.step.at_ms - at(50 * 24)).abs() <= 3 * HOUR_MS, "{:?}", f.step);
    assert_eq!(f.others.len(), 1, "{:?}", f.others);
    assert!((f.others[0].at_ms - at(75 * 24 + 9)).abs() <= 3 * HOUR_MS && f.others[0].size > 0.0, "{:?}", f.others);
}

/// Nothing changed, days alike by 0.6: of 200 records at most four name a change (2 %; 1 % wanted, and the chance of five at that is a third of a percent).
#[test]
fn nothing_changed() {
    let named = (0..200).filter(|seed| found(&rows(100 + seed, 90, 0.6, 3.0, &[])).is_ok()).count();
    println!("{named} of 200 name a change where there is none");
    assert!(named <= 4, "{named} of 200");
}

/// A relation that drifts all along has no day of a change.
#[test]
fn a_drift_is_no_change() {
    let (times, mut values) = rows(5, 120, 0.3, 1.0, &[]);
    values.iter_mut().enumerate().for_each(|(hour, v)| *v += 0.02 * hour as f64);
    assert_eq!(found(&(times, values)), Err(NotFound::Drift));
}

#[test]
fn too_little_to_say() {
    let few = rows(1, 9, 0.0, 1.0, &[(100, 30.0)]);
    assert_eq!(found(&few), Err(NotFound::TooFewDays { days: 9, least: 10 }));
    let (times, values) = rows(1, 60, 0.0, 1.0, &[(700, 30.0)]);
    assert_eq!(
        change(&times, &vec![f64::NAN; values.len()], Tz::UTC),
        Err(NotFound::TooFewDays { days: 0, least: 10 })
    );
    assert_eq!(change(&[], &[], Tz::UTC), Err(NotFound::TooFewDays { days: 0, least: 10 }));
    // One level, no noise at all: nothing to find, and no division by nought.
    assert!(matches!(change(&times, &vec![7.0; values.len()], Tz::UTC), Err(NotFound::NoStep { .. })));
    assert!(matches!(found(&rows(8, 60, 0.3, 3.0, &[])), Err(NotFound::NoStep { .. })));
    let why = found(&few).expect_err("nine days").to_string();
    assert_eq!(why, "the control relation is known on 9 days; at least 10 are needed");
}

/// Head = 60 + 20 q + 40 q^2, from day 30 on 15 less; flow follows hour and weather. The part that hangs on flow is learned within days, so the step
/// stays whole although it falls together with a season of more flow.
#[test]
fn what_flow_explains_is_taken_off() {
    let mut rng = Rng::new(4, 4);
    let (mut times, mut flow, mut head) = (Vec::new(), Vec::new(), Vec::new());
    for hour in 0..60usize * 24 {
        let season = if hour >= 30 * 24 { 0.25 } else { 0.0 };
        let q = 0.4 + season + 0.2 * libm::sin((hour % 24) as f64 / 24.0 * std::f64::consts::TAU) + 0.05 * rng.normal();
        times.push(START + hour as i64 * HOUR_MS);
        flow.push(q);
        head.push(60.0 + 20.0 * q + 40.0 * q * q - if hour >= 30 * 24 { 15.0 } else { 0.0 } + 0.5 * rng.normal());
    }
    flow[5] = f64::NAN;
    let left = residual(&times, &flow, &head, Tz::UTC);
    assert!(left[5].is_nan() && left.iter().filter(|v| v.is_nan()).count() == 1);
    let f = change(&times, &left, Tz::UTC).expect("thirty times the noise");
    assert!((f.step.size + 15.0).abs() < 1.0, "{:?}", f.step);
    assert!((f.step.at_ms - START - 30 * 24 * HOUR_MS).abs() <= HOUR_MS);
    // Flow that never moves within a day explains nothing: the column itself is left.
    assert_eq!(residual(&times, &vec![1.0; times.len()], &head, Tz::UTC), head);
}

/// A curve of 100 + 60 q^2 kPa lowered to 70 + 60 q^2; the points go a share of the way, read by a sensor that is 8 kPa off before and after.
/// Rows: share gone, answer.
#[test]
fn whether_it_took() {
    for (gone, answer) in
        [(1.0, Some(true)), (0.9, Some(true)), (0.0, Some(false)), (0.2, Some(false)), (2.0, Some(false)), (0.5, None)]
    {
        let (moved, told) = way(gone, 30.0, 20);
        assert_eq!(told, answer, "{gone} of the way: {moved:?}");
        let moved = moved.expect("enough days");
        assert!(moved.0 < gone && gone < moved.1 && moved.1 - moved.0 < 0.2, "{gone}: {moved:?}");
    }
    // Settings 2 kPa apart where 4 are needed; two days after.
    assert_eq!(way(1.0, 2.0, 20), (None, None));
    assert_eq!(way(1.0, 30.0, 2), (None, None));
}

/// Low and high of the way gone, and the answer.
fn way(gone: f64, lowered: f64, after: usize) -> (Option<(f64, f64)>, Option<bool>) {
    let mut rng = Rng::new(6, 6);
    let changed = 20 * 24 * HOUR_MS + START;
    let (mut times, mut measured, mut old, mut new) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for hour in 0..24 * (21 + after as i64) {
        let (time, q) = (START + hour * HOUR_MS, rng.between(0.2, 1.0));
        let before = 100.0 + 60.0 * q * q;
        let moved = if time >= changed + 24 * HOUR_MS { gone * lowered } else { 0.0 };
        times.push(time);
        old.push(before);
        new.push(before - lowered);
        measured.push(before - moved + 8.0 + 2.0 * rng.normal());
    }
    measured[7] = f64::NAN;
    let points =
        Points { time_ms: &times, timezone: Tz::UTC, changed_ms: changed, measured: &measured, old: &old, new: &new };
    let t = took(&points);
    assert!(!t.why.is_empty());
    (t.moved.map(|m| (m.low, m.high)), t.took)
}
