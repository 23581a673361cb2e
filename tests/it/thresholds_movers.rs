//! A row on each side of the limits on what moved while a speed stood, and on runs outside the schedule, that the first rows left out. What is varied
//! is the only thing that differs between the two.

use super::thresholds_floors::{Limit, sides};
use super::*;

const PUMP: Want = Found("P-1", 0);
const LOOP: Want = Found("loop", 0);
const MODE: Want = CannotTell("pump-mode");

/// Part of the running day gone by, 0 to 1.
fn of_day(w: &World, i: usize) -> f64 {
    ((w.hour(i) - 6.0) / 14.0).clamp(0.0, 1.0)
}
/// At 80 % all month, and nothing trended beside it; in whole per cents where the reading is coarse.
fn bare(coarse: bool) -> World {
    let mut w = World::new(15, DAYS);
    w.at_speed(0..DAYS, 0.8).only_speed();
    if coarse {
        w.rows.pumps[0].speed.iter_mut().for_each(|s| *s = (*s * 100.0).round() / 100.0);
    }
    w
}
/// A line over each day whose 5th to 95th percentile spans so much about its middle.
fn spans(w: &World, middle: f64, range: f64) -> Vec<f64> {
    (0..w.rows.len()).map(|i| middle + range / 0.9 * (of_day(w, i) - 0.5)).collect()
}
fn read(coarse: bool, role: Role, of: Option<&str>, unit: &'static str, middle: f64, range: f64) -> World {
    let mut w = bare(coarse);
    let values = spans(&w, middle, range);
    w.trend(role, of, unit, |i| values[i]);
    w
}
/// Beside outdoor air that swings by 8 K.
fn load(coarse: bool, middle: f64, range: f64) -> World {
    let mut w = read(coarse, Role::ThermalLoad, None, "kW", middle, range);
    w.rows.outdoor = Some(spans(&w, 20.0, 8.0));
    w
}
fn difference(coarse: bool, middle: f64, range: f64) -> World {
    let mut w = bare(coarse);
    w.rows.supply = Some(vec![6.0; w.rows.len()]);
    w.rows.back = Some(spans(&w, 6.0 + middle, range));
    w.rows.outdoor = Some(spans(&w, 20.0, 8.0));
    w
}

#[test]
fn thresholds_of_what_moved() {
    let limits: [Limit; 13] = [
        ("head beside a speed in whole per cents", (0.10, MODE), (0.14, PUMP), |share| {
            read(true, Role::PumpHead, Some("P-1"), "kPa", 100.0, 100.0 * share)
        }),
        ("flow beside it", (0.38, MODE), (0.54, PUMP), |share| {
            read(true, Role::LoopFlow, None, "m3/h", 40.0, 40.0 * share)
        }),
        ("valves beside it", (0.17, MODE), (0.24, PUMP), |by| {
            let mut w = bare(true);
            w.rows.valves = vec![Some(spans(&w, 0.5, by)); 4];
            w
        }),
        ("the load beside it", (0.50, MODE), (0.72, PUMP), |share| load(true, 100.0, 100.0 * share)),
        ("the difference beside it", (0.34, MODE), (0.48, PUMP), |share| difference(true, 6.0, 6.0 * share)),
        ("the load", (0.34, MODE), (0.48, PUMP), |share| load(false, 100.0, 100.0 * share)),
        ("the difference", (0.21, MODE), (0.29, PUMP), |share| difference(false, 6.0, 6.0 * share)),
        // Shares of next to nothing are noise: so much outright.
        ("kW of a tenth of a load of 1.5", (0.85, MODE), (1.2, PUMP), |kw| load(false, 1.5, kw)),
        ("K of a difference of 2", (0.85, MODE), (1.2, PUMP), |k| difference(false, 2.0, k)),
        ("kW of a power of 0.3", (0.043, MODE), (0.06, PUMP), |kw| {
            let mut w = bare(false);
            w.rows.pumps[0].power = spans(&w, 0.3, kw);
            w
        }),
        ("kPa of a head of 15", (1.7, MODE), (2.4, PUMP), |kpa| {
            read(false, Role::PumpHead, Some("P-1"), "kPa", 15.0, kpa)
        }),
        ("m3/h of a flow of 1", (0.42, MODE), (0.60, PUMP), |q| read(false, Role::LoopFlow, None, "m3/h", 1.0, q)),
        // A line over the day beside a noise that has nothing to do with it.
        ("correlation of the speed with the power", (0.52, Clear), (0.38, PUMP), |r| {
            let mut w = bare(false);
            w.rows.pumps[0].power = spans(&w, 3.0, 0.6);
            for i in 0..w.rows.len() {
                let line = (of_day(&w, i) - 0.5) * 12_f64.sqrt();
                let noise = if i % 2 == 0 { 1.0 } else { -1.0 };
                if w.rows.pumps[0].state[i] != State::Off {
                    w.rows.pumps[0].speed[i] = 0.8 + 0.002 * (r * line + (1.0 - r * r).sqrt() * noise);
                }
            }
            w
        }),
    ];
    sides(Fault::FixedSpeed, &limits);
}

/// At 85 % from 8 h to 14.5 h and on its curve else, so many rows in the middle off it; its power moves by this share, and nothing else is trended.
fn within_a_day(off: usize, share: f64) -> World {
    let mut w = World::new(15, DAYS);
    for i in 0..w.rows.len() {
        let hour = w.hour(i);
        let held = (8.0..14.5).contains(&hour) && !(11.0..11.0 + 0.25 * off as f64).contains(&hour);
        if held {
            w.run(0, i, 0.5 * DESIGN_FLOW, 0.85);
            w.rows.pumps[0].power[i] = 3.0 * (1.0 + share / 0.9 * ((hour - 8.0) / 6.25 - 0.5));
        } else if w.rows.pumps[0].state[i] != State::Off {
            let q = DESIGN_FLOW * (0.3 + 0.5 * of_day(&w, i));
            w.run(0, i, q, speed_for(q, curve(q)));
        }
    }
    w.rows.valves = vec![None; 4];
    (w.rows.supply, w.rows.back, w.rows.outdoor) = (None, None, None);
    w
}
/// Two speeds in turn, three hours each, while power moves by so much.
fn in_turn(apart: f64, share: f64) -> World {
    let mut w = bare(false);
    w.rows.pumps[0].power = spans(&w, 3.0, 3.0 * share);
    for i in 0..w.rows.len() {
        if w.rows.pumps[0].state[i] != State::Off {
            w.rows.pumps[0].speed[i] = 0.8 + if w.hour(i) % 6.0 < 3.0 { apart } else { 0.0 };
        }
    }
    w
}

#[test]
fn thresholds_of_what_stands() {
    let limits: [Limit; 5] = [
        ("power that moves for hours within a day", (0.22, Clear), (0.28, PUMP), |share| within_a_day(0, share)),
        ("rows off the level that hours survive", (3.0, Clear), (2.0, PUMP), |off| within_a_day(off as usize, 0.4)),
        // Twice the band of 0.6 %.
        ("two speeds in turn", (0.0135, Clear), (0.009, PUMP), |apart| in_turn(apart, 0.3)),
        // Power moves by 18 %: less than the quarter that hides between steps of 0.4 %.
        ("steps of a reading", (0.0048, MODE), (0.0035, PUMP), |step| in_turn(step, 0.18)),
        // Up and down from row to row: the band grows with it, to 1.5 % each way.
        ("noise of a reading, each way", (0.017, Clear), (0.013, PUMP), |by| {
            let mut w = bare(false);
            w.rows.pumps[0].power = spans(&w, 3.0, 0.9);
            for i in 0..w.rows.len() {
                if w.rows.pumps[0].state[i] != State::Off {
                    w.rows.pumps[0].speed[i] = 0.8 + if i % 2 == 0 { by } else { -by };
                }
            }
            w
        }),
    ];
    sides(Fault::FixedSpeed, &limits);
}

#[test]
fn when_a_hand_began() {
    // So many hours at one speed on day 2 and on every day from 14 on, while power moves by a third: 0.35 and 0.43 of a day of 14 h more.
    for (hours, day) in [(5.1, 2), (6.4, 14)] {
        let mut w = World::new(15, DAYS);
        for i in 0..w.rows.len() {
            let hand = w.day(i) == 2 || w.day(i) >= 14;
            if hand && (8.0..8.0 + hours).contains(&w.hour(i)) {
                let q = DESIGN_FLOW * (0.3 + 0.5 * (w.hour(i) - 8.0) / hours);
                w.run(0, i, q, 0.85);
            } else if w.rows.pumps[0].state[i] != State::Off {
                let q = DESIGN_FLOW * (0.3 + 0.5 * of_day(&w, i));
                w.run(0, i, q, speed_for(q, curve(q)));
            }
        }
        fixed(&format!("{hours} h a day"), &w, Found("P-1", day));
    }
}

/// Meant to run from 6 to 20 h every day, minute by minute.
fn daily(days: usize) -> World {
    let mut w = World::new(1, days);
    let at = |h| chrono::NaiveTime::from_hms_opt(h, 0, 0).unwrap();
    w.plant.schedule = vec![Schedule { days: [true; 7], from: at(6), to: at(20) }];
    w.rows.in_schedule = (0..w.rows.len()).map(|i| (6.0..20.0).contains(&w.hour(i))).collect();
    w
}

#[test]
fn thresholds_of_runs_outside() {
    let limits: [Limit; 2] = [
        // The run of its own is 0.3 h a day in the middle: less than half an hour.
        ("hours of run-on, every other night a run of 0.6 h", (0.42, Clear), (0.60, LOOP), |h| {
            let mut w = daily(14);
            w.also(|day, hour| (20.0..20.0 + h).contains(&hour) || (day % 2 == 0 && (2.0..2.6).contains(&hour)));
            w
        }),
        ("how far starts of 2 h differ", (0.29, Clear), (0.22, LOOP), |apart| {
            let mut w = daily(15);
            w.also(|day, hour| (4.0 - apart * ((day * 2 % 5) as f64 / 4.0 - 0.5)..6.0).contains(&hour));
            w
        }),
    ];
    sides(Fault::OutOfHoursRunning, &limits);
}
