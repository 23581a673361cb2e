//! A row on each side of the limits by which water temperatures are held against each other. What is varied is the only thing that differs between the
//! two.

use super::thresholds::{Limit, sides};
use super::*;

fn screened_every(step_s: i64, all: Vec<Series>) -> Screened {
    let mut t = trends(all);
    t.clock.step_s = step_s;
    screen(&crate::declared::plant(), t).value
}
/// A return 1.2 K below the supply while every valve is shut, the way no load makes it; each series changed.
fn at_no_load(mut change: impl FnMut(&mut Series)) -> Vec<Series> {
    let mut all = waters(0.0, -1.2, |_, _| 11.0, true);
    all.iter_mut().for_each(&mut change);
    all
}
/// The same every quarter of an hour, with so many visits of so many rows, the first six hours after the pump's start.
fn visits(n: usize, rows: usize) -> Screened {
    let shut = move |i: usize| (1..=n).contains(&(i / 24)) && i % 24 < rows;
    let all = at_no_load(|s| {
        for i in 0..ROWS {
            match s.role {
                Role::ValvePosition => s.values[i] = if shut(i) { 0.0 } else { 0.3 + 0.5 * wave(i) },
                Role::ReturnTemperature => s.values[i] = if shut(i) { 4.8 } else { 9.8 } + 0.1 * wave(i + 3),
                _ => {}
            }
        }
    });
    screened_every(900, all)
}
/// The supply reads so much too warm, and spans so much; the return tells it at no load. No coil's water is trended.
fn supply_reads_warm(off: f64, by: f64, span: f64) -> Screened {
    // Nine tenths less a tenth of a wave is 0.8.
    let supply = move |i: usize| 6.0 + off + span / 0.8 * (wave(i) - 0.5);
    let mut all = waters(0.0, 0.0, |_, _| 11.0, true);
    all.retain(|s| s.role != Role::CoilReturnTemperature);
    for s in &mut all {
        for i in 0..ROWS {
            match s.role {
                Role::SupplyTemperature => s.values[i] = supply(i),
                Role::ReturnTemperature if i % 24 < 6 => s.values[i] = supply(i) - by,
                _ => {}
            }
        }
    }
    with(all)
}

#[test]
fn thresholds_of_water_at_no_load() {
    let limits: [Limit; 8] = [
        ("opening of a valve that is shut", (0.035, ""), (0.025, "R removed"), |v| {
            with(at_no_load(|s| {
                if s.role == Role::ValvePosition {
                    s.values.iter_mut().filter(|x| **x == 0.0).for_each(|x| *x = v);
                }
            }))
        }),
        // Four quarters of an hour go by before the water has gone round; one row of each of 24 visits is left.
        ("rows of 15 min with every valve shut", (4.0, ""), (5.0, "R removed"), |rows| visits(24, rows as usize)),
        // Two visits of five and of seven quarters beside the first four.
        ("rows of 15 min of each of two visits", (9.0, ""), (11.0, "R removed"), |rows| visits(2, rows as usize)),
        ("K by which one night differs from the next", (0.9, ""), (0.7, "R removed"), |k| {
            with(at_no_load(|s| {
                if s.role == Role::ReturnTemperature {
                    (0..ROWS).filter(|i| i % 24 < 6).for_each(|i| s.values[i] -= 1.3 - k * f64::from(i / 24 % 2 == 1));
                }
            }))
        }),
        ("K that a held supply spans", (1.7, "R"), (1.3, "S removed"), |span| supply_reads_warm(1.7, 1.7, span)),
        // Off by 1.7 K less these: 41 and 29 % of it are left.
        ("K of 1.7 by which the supply stands off its design", (1.0, "R"), (1.2, "S removed"), |off| {
            supply_reads_warm(off, 1.7, 0.1)
        }),
        // 41 and 29 % of 1.7 K: the supply is where it is declared, so the return is the one.
        ("K of 1.7 by which it does not", (0.7, "R"), (0.5, "R removed"), |off| supply_reads_warm(off, 1.7, 0.1)),
        // A coil whose valve is shut stands in its own warm pipe.
        ("opening of a coil that mixes", (0.035, ""), (0.025, "R removed"), |v| {
            let mut all = waters(0.0, 1.8, |c, _| if c == 0 { 13.5 } else { 11.0 }, false);
            all.iter_mut().filter(|s| s.name == "V0").for_each(|s| s.values.fill(v));
            with(all)
        }),
    ];
    sides(&limits);
}

/// One coil returns water at so much while its valve is this far open; the pump runs through the first rows only.
fn one_coil(water: impl Fn(usize) -> f64 + Copy, open: Option<f64>, rows: usize) -> Screened {
    let mut all = waters(0.0, 0.0, move |c, i| if c == 1 { water(i) } else { 11.0 }, false);
    for s in &mut all {
        match (s.role, open) {
            (Role::PumpSpeed, _) => s.values[rows..].fill(0.0),
            (Role::ValvePosition, Some(v)) if s.name == "V1" => s.values.fill(v),
            _ => {}
        }
    }
    with(all)
}

#[test]
fn thresholds_of_water_that_mixes() {
    let limits: [Limit; 4] = [
        // The first hour of a run does not count.
        ("rows that the pump runs, one coil on the wrong side", (21.0, ""), (29.0, "T1 removed"), |n| {
            one_coil(|_| 4.6, None, n as usize)
        }),
        ("rows that the pump runs, the return beyond its coils", (21.0, ""), (29.0, "R removed"), |n| {
            let mut all = waters(0.0, 1.8, |c, _| 10.5 + 0.3 * c as f64, false);
            all.iter_mut().filter(|s| s.role == Role::PumpSpeed).for_each(|s| s.values[n as usize..].fill(0.0));
            with(all)
        }),
        ("share of the rows on the wrong side", (0.74, ""), (0.86, "T1 removed"), |share| {
            one_coil(move |i| if ((i * 7) % 100) < (100.0 * share) as usize { 4.6 } else { 7.0 }, None, ROWS)
        }),
        ("opening of its valve", (0.085, ""), (0.115, "T1 removed"), |v| one_coil(|_| 4.6, Some(v), ROWS)),
    ];
    sides(&limits);
    let beyond = |share: f64| {
        let mut all = waters(0.0, 1.8, |c, _| 10.5 + 0.3 * c as f64, false);
        for s in all.iter_mut().filter(|s| s.role == Role::ReturnTemperature) {
            (0..ROWS).filter(|i| ((i * 7) % 100) as f64 >= 100.0 * share).for_each(|i| s.values[i] = 11.0);
        }
        faults(&with(all)).len()
    };
    assert_eq!((beyond(0.74), beyond(0.86)), (0, 1), "share of the rows beyond the coils");
}

/// Every night the same: the return 1.3 K below the others but for what it is still to lose, by the hours before the pump starts.
fn settling(left: impl Fn(usize) -> f64) -> Screened {
    let mut all = rests(0.0, 0.0, &[0.0, 0.1, -0.1]);
    for s in &mut all {
        for i in (0..ROWS).filter(|i| !by_day(*i)) {
            s.values[i] = match s.role {
                Role::PumpSpeed => 0.0,
                Role::ReturnTemperature => 19.7 + left(11 - (i + 6) % 24),
                _ => 21.0,
            };
        }
    }
    with(all)
}

#[test]
fn thresholds_of_settled_pipes() {
    let limits: [Limit; 3] = [
        ("K by which the last four hours move", (0.18, ""), (0.12, "R removed"), |k| {
            settling(move |h| k * h as f64 / 4.0)
        }),
        ("rows before the start by which it has settled", (3.0, ""), (4.0, "R removed"), |n| {
            settling(move |h| if h > n as usize { 0.5 } else { 0.0 })
        }),
        ("K by which one night differs from the next", (0.95, ""), (0.65, "R removed"), |k| {
            let mut all = rests(0.0, -1.6, &[0.0, 0.1, -0.1]);
            for s in all.iter_mut().filter(|s| s.role == Role::ReturnTemperature) {
                (0..ROWS).filter(|i| !by_day(*i) && (i + 6) / 24 % 2 == 1).for_each(|i| s.values[i] -= k);
            }
            with(all)
        }),
    ];
    sides(&limits);
    // A lone pair that is named as unsure.
    let named = |k: f64| with(rests(0.0, -k, &[])).doubts.len();
    assert_eq!((named(0.85), named(1.15)), (0, 1), "K of a lone pair");
    // The wrong way round by what two good sensors may differ: named, and kept.
    let round = |k: f64| {
        let back = move |i: usize| 12.0 - k + 0.01 * wave(i);
        let all = vec![
            series("S", Role::SupplyTemperature, "degC", |_| 12.0),
            series("R", Role::ReturnTemperature, "degC", back),
        ];
        with(all).doubts.len()
    };
    assert_eq!((round(0.42), round(0.58)), (0, 2), "K the wrong way round");
}
