//! A row on each side of each limit of the five rules on duty. What is varied is the only thing that differs between the two, and lies a tenth to a
//! quarter away from the limit; the sums stand beside the rows where they are not plain.

use super::*;

/// What is varied, its two values with the answers wanted, and the world they make.
type Limit = (&'static str, (f64, Want<'static>), (f64, Want<'static>), fn(f64) -> World);

fn sides(fault: Fault, limits: &[Limit]) {
    for (why, one, other, world) in limits {
        for (value, want) in [one, other] {
            check(&format!("{why}: {value}"), fault, &world(*value), *want);
        }
    }
}

/// Found on P-1 from the first day on, or on the loop.
const PUMP: Want = Found("P-1", 0);
const LOOP: Want = Found("loop", 0);
const EARLIEST: Want = CannotTell("[[schedule]] with the earliest start that is allowed");
const BEST_POINT: Want = CannotTell("[[pump]].best_efficiency_flow");
const MODE: Want = CannotTell("pump-mode");

/// Part of the running day gone by, 0 to 1.
fn of_day(w: &World, i: usize) -> f64 {
    ((w.hour(i) - 6.0) / 14.0).clamp(0.0, 1.0)
}
/// Stops the pump where the day and hour say so.
fn stop(w: &mut World, when: impl Fn(usize, f64) -> bool) {
    for i in 0..w.rows.len() {
        if when(w.day(i), w.hour(i)) {
            w.off(0, i);
        }
    }
}
/// At 80 % all month, and nothing trended beside it.
fn bare(days: usize) -> World {
    let mut w = World::new(15, days);
    w.at_speed(0..days, 0.8).only_speed();
    w
}
/// A line over each day whose 5th to 95th percentile spans this share of its middle.
fn spans(w: &World, middle: f64, share: f64) -> Vec<f64> {
    (0..w.rows.len()).map(|i| middle * (1.0 + share / 0.9 * (of_day(w, i) - 0.5))).collect()
}

#[test]
fn thresholds_fixed_speed() {
    let limits: [Limit; 29] = [
        ("hours running in three days", (10.5, CannotTell("pump-speed")), (13.5, PUMP), |h| {
            let mut w = World::new(15, 3);
            w.at_speed(0..3, 0.8);
            stop(&mut w, |_, hour| hour >= 9.0 + h / 3.0 || hour < 9.0);
            w
        }),
        ("hours in hand in three of 13 days, the others of 4 h", (10.5, Clear), (13.5, PUMP), |h| {
            let mut w = World::new(15, 13);
            w.at_speed(0..3, 0.8);
            stop(&mut w, |day, hour| hour < 9.0 || hour >= 9.0 + if day < 3 { h / 3.0 } else { 4.0 });
            w
        }),
        ("days in hand of ten", (2.0, Clear), (3.0, PUMP), |d| {
            let mut w = World::new(15, 10);
            w.at_speed(0..d as usize, 0.8);
            w
        }),
        ("days of 40: 7.5 and 12.5 %", (3.0, Clear), (5.0, PUMP), |d| {
            let mut w = World::new(15, 40);
            w.at_speed(0..d as usize, 0.8);
            w
        }),
        ("days that temperatures alone witness", (4.0, Clear), (5.0, PUMP), |d| by_weather(d as usize, 0.4, 8.0)),
        (
            "hours in which an undeclared control moved",
            (10.0, CannotTell("[control].mode")),
            (14.0, Found("P-1", 1)),
            |h| {
                let mut w = World::new(15, 10);
                w.plant.control.mode = None;
                w.at_speed(1..10, 0.8);
                stop(&mut w, |day, hour| day == 0 && hour >= 6.0 + h);
                w
            },
        ),
        ("the end of the range over 80 %, power moving by a fifth", (0.809, MODE), (0.814, PUMP), |top| {
            let mut w = bare(DAYS);
            w.plant.control.maximum_speed = Some(Fraction::of_one(top));
            w.rows.pumps[0].power = spans(&w, 3.0, 0.2);
            w
        }),
        ("share of the rows on the floor whose head is too low", (0.20, MODE), (0.30, PUMP), |share| {
            let mut w = World::new(15, DAYS);
            w.plant.control.minimum_speed = Some(Fraction::of_one(0.8));
            w.at_speed(0..DAYS, 0.8);
            for i in 0..w.rows.len() {
                let asked = if ((i * 7) % 20) < (share * 20.0).round() as usize { 20.0 } else { -20.0 };
                w.rows.pumps[0].curve[i] = w.rows.pumps[0].head[i] + asked;
            }
            w
        }),
        ("the widest valve, flat out with a head by the pump's table", (0.97, MODE), (0.93, PUMP), |open| {
            let mut w = World::new(15, DAYS);
            w.at_speed(0..DAYS, 1.0);
            w.rows.pumps[0].basis = Basis::Measured(2);
            w.rows.pumps[0].power.fill(3.0);
            w.rows.valves[1] = Some(vec![open; w.rows.len()]);
            w
        }),
        ("power at the low end over that at the high end, flat out", (0.70, PUMP), (0.80, MODE), |left| {
            let mut w = World::new(15, DAYS);
            w.at_speed(0..DAYS, 1.0).only_speed();
            // From the 5th to the 95th percentile: 0.9 of the whole.
            w.rows.pumps[0].power = spans(&w, 5.0, 2.0 * (1.0 - left) / (1.0 + left));
            w
        }),
        ("power moves", (0.085, MODE), (0.12, PUMP), |share| {
            let mut w = bare(DAYS);
            w.rows.pumps[0].power = spans(&w, 3.0, share);
            w
        }),
        ("power beside a speed in whole per cents", (0.21, MODE), (0.30, PUMP), |share| {
            let mut w = bare(DAYS);
            w.rows.pumps[0].speed.iter_mut().for_each(|s| *s = (*s * 100.0).round() / 100.0);
            w.rows.pumps[0].power = spans(&w, 3.0, share);
            w
        }),
        ("head moves", (0.068, MODE), (0.095, PUMP), |share| {
            let mut w = bare(DAYS);
            let head = spans(&w, 100.0, share);
            w.trend(Role::PumpHead, Some("P-1"), "kPa", |i| head[i]);
            w
        }),
        ("flow moves", (0.25, MODE), (0.36, PUMP), |share| {
            let mut w = bare(DAYS);
            let flow = spans(&w, 40.0, share);
            w.trend(Role::LoopFlow, None, "m3/h", |i| flow[i]);
            w
        }),
        ("valves move", (0.10, MODE), (0.145, PUMP), |by| {
            let mut w = bare(DAYS);
            w.rows.valves = vec![Some(spans(&w, 0.5, by / 0.5)); 4];
            w
        }),
        ("the difference moves, with the weather", (0.21, MODE), (0.33, PUMP), |by| by_weather(DAYS, by, 8.0)),
        ("outdoor air moves, with the difference [K]", (5.2, MODE), (7.0, PUMP), |by| by_weather(DAYS, 0.4, by)),
        ("the command moves", (0.034, MODE), (0.047, PUMP), |by| {
            let mut w = World::new(15, DAYS);
            w.steady_load(0.6);
            let command = spans(&w, 0.7, by / 0.7);
            w.trend(Role::PumpSpeedCommand, Some("P-1"), "fraction", |i| command[i]);
            w
        }),
        ("share of the rows whose mode is hand", (0.7, MODE), (0.9, PUMP), |share| {
            let mut w = World::new(15, DAYS);
            w.steady_load(0.6);
            w.trend(Role::PumpMode, Some("P-1"), "", |i| f64::from(u8::from((i * 7) % 10 >= (share * 10.0) as usize)));
            w
        }),
        ("share of the rows whose mode is known", (0.4, MODE), (0.6, PUMP), |share| {
            let mut w = World::new(15, DAYS);
            w.steady_load(0.6);
            w.trend(Role::PumpMode, Some("P-1"), "", |i| {
                if (i * 7) % 10 < (share * 10.0) as usize { 0.0 } else { f64::NAN }
            });
            w
        }),
        // Three rows of 14 that follow the curve leave 79 %, one leaves 93 %; the stretches between are shorter than three and a half hours.
        ("rows of 14 off the level", (3.0, Clear), (1.0, PUMP), |off| {
            let mut w = World::new(15, DAYS);
            for i in 0..w.rows.len() {
                if w.rows.pumps[0].state[i] != State::Off && i % 14 >= off as usize {
                    let q = w.rows.pumps[0].flow[i];
                    w.run(0, i, q, 0.85);
                }
            }
            w
        }),
        ("hours at one speed from 8 h on, while power moves by a third", (4.25, Clear), (5.75, PUMP), |h| {
            let mut w = World::new(15, DAYS);
            for i in 0..w.rows.len() {
                if (8.0..8.0 + h).contains(&w.hour(i)) {
                    let q = DESIGN_FLOW * (0.3 + 0.5 * (w.hour(i) - 8.0) / h);
                    w.run(0, i, q, 0.85);
                } else if w.rows.pumps[0].state[i] != State::Off {
                    let q = DESIGN_FLOW * (0.3 + 0.5 * of_day(&w, i));
                    w.run(0, i, q, speed_for(q, curve(q)));
                }
            }
            w
        }),
        ("hours a day, ten days long", (1.5, Clear), (2.5, PUMP), |h| {
            let mut w = World::new(15, 10);
            w.at_speed(0..10, 0.8);
            stop(&mut w, |_, hour| !(8.0..8.0 + h).contains(&hour));
            w
        }),
        // Above the floor of the band of 0.6 % each way: two speeds a per cent apart are one level, two per cent apart two.
        ("two speeds in turn", (0.02, Clear), (0.009, PUMP), |apart| {
            let mut w = World::new(15, DAYS);
            for i in 0..w.rows.len() {
                if w.rows.pumps[0].state[i] != State::Off {
                    let q = w.rows.pumps[0].flow[i];
                    w.run(0, i, q, 0.85 + if w.hour(i) % 6.0 < 3.0 { apart } else { 0.0 });
                }
            }
            w
        }),
        ("a declared mode that is meant to stand", (0.0, CannotTell("")), (1.0, PUMP), |other| {
            let mut w = World::new(15, DAYS);
            w.at_speed(0..DAYS, 0.85);
            w.plant.control.mode = Some(if other > 0.5 { ControlMode::Quadratic } else { ControlMode::FixedSpeed });
            w
        }),
        (
            "the lowest speed of a pump that runs faster every third day needs half more",
            (0.12, Clear),
            (0.19, PUMP),
            |share| {
                let mut w = World::new(15, DAYS);
                w.at_speed(0..DAYS, 0.6).only_speed();
                let power = spans(&w, 3.0, share);
                w.rows.pumps[0].power = power;
                for i in 0..w.rows.len() {
                    // Every third day it runs at 70 to 80 %.
                    if w.rows.pumps[0].state[i] != State::Off && w.day(i) % 3 == 2 {
                        w.rows.pumps[0].speed[i] = 0.7 + 0.1 * of_day(&w, i);
                    }
                }
                w
            },
        ),
        // Its own interval of 3 kPa, and 15 % of 162 kPa for the tolerance and for what lies between pump and header.
        ("kPa above what is asked at the header, flat out", (23.5, MODE), (31.0, PUMP), |kpa| {
            let mut w = World::new(15, DAYS);
            w.at_speed(0..DAYS, 1.0);
            w.plant.control.head_at = Some(HeadAt::Header);
            for i in 0..w.rows.len() {
                w.rows.pumps[0].curve[i] = w.rows.pumps[0].head[i] - kpa;
            }
            w
        }),
        // A power that moves by an eighth is enough where it is not its lowest speed.
        ("how far below 60 % it runs at times", (0.025, Clear), (0.036, PUMP), |by| {
            at_its_lowest(move |part| if part < 0.2 { 0.6 - by } else { 0.7 + 0.1 * part })
        }),
        // The 90th per cent of all rows is the 70th of the third days.
        ("how far above 60 % it runs at times", (0.06, Clear), (0.042, PUMP), |by| {
            at_its_lowest(move |part| 0.6 + by + 0.06 * (part - 0.7))
        }),
    ];
    sides(Fault::FixedSpeed, &limits);
}

/// At 60 % while power moves by an eighth, and every third day at these speeds by the part of the day gone by.
fn at_its_lowest(speed: impl Fn(f64) -> f64) -> World {
    let mut w = World::new(15, DAYS);
    w.at_speed(0..DAYS, 0.6).only_speed();
    w.rows.pumps[0].power = spans(&w, 3.0, 0.125);
    for i in 0..w.rows.len() {
        if w.rows.pumps[0].state[i] != State::Off && w.day(i) % 3 == 2 {
            w.rows.pumps[0].speed[i] = speed(of_day(&w, i));
        }
    }
    w
}

/// In hand for the first days, the difference and the weather alone as witnesses.
fn by_weather(days: usize, share: f64, outdoor_k: f64) -> World {
    let of_month = days.max(10);
    let mut w = World::new(15, of_month);
    w.at_speed(0..days, 0.8);
    w.only_speed();
    w.rows.supply = Some(vec![6.0; w.rows.len()]);
    w.rows.back = Some(spans(&w, 6.0, share).iter().map(|d| 6.0 + d).collect());
    w.rows.outdoor = Some(spans(&w, 20.0, outdoor_k / 20.0));
    w
}

/// Meant to run from 6 to 20 h every day, minute by minute.
fn daily(days: usize) -> World {
    let mut w = World::new(1, days);
    let at = |h| chrono::NaiveTime::from_hms_opt(h, 0, 0).unwrap();
    w.plant.schedule = vec![Schedule { days: [true; 7], from: at(6), to: at(20) }];
    w.rows.in_schedule = (0..w.rows.len()).map(|i| (6.0..20.0).contains(&w.hour(i))).collect();
    w
}

fn after_stop(w: &mut World, hours: f64, on: impl Fn(usize) -> bool) {
    w.also(|day, hour| on(day) && (20.0..20.0 + hours).contains(&hour));
}
fn before_start(w: &mut World, lead: impl Fn(usize) -> f64) {
    w.also(|day, hour| (6.0 - lead(day)..6.0).contains(&hour));
}

#[test]
fn thresholds_out_of_hours() {
    let frost = CannotTell("[loop].frost_protection_below");
    let limits: [Limit; 20] = [
        ("hours outside with a known state", (10.0, CannotTell("pump-status")), (14.0, Clear), |h| {
            let mut w = office(15);
            let mut left = (4.0 * h) as usize;
            for i in 0..w.rows.len() {
                if !w.rows.in_schedule[i] {
                    w.rows.pumps[0].state[i] = if left > 0 { State::Off } else { State::Unknown };
                    left = left.saturating_sub(1);
                }
            }
            w
        }),
        ("hours on each of three days of a week", (1.5, Clear), (2.0, LOOP), |h| {
            let mut w = World::new(15, 7);
            w.weekdays();
            after_stop(&mut w, h, |day| day < 3);
            w
        }),
        ("days of 3 h in a week", (2.0, Clear), (3.0, LOOP), |d| {
            let mut w = World::new(15, 7);
            w.weekdays();
            after_stop(&mut w, 3.0, |day| day < d as usize);
            w
        }),
        // Ten such days in 28: 0.45 and 0.63 h a day.
        ("hours on every other weekday", (1.25, Clear), (1.75, LOOP), |h| {
            let mut w = office(15);
            after_stop(&mut w, h, |day| day % 7 < 5 && day % 2 == 0);
            w
        }),
        ("hours of run-on", (0.42, Clear), (0.60, LOOP), |h| {
            let mut w = daily(14);
            after_stop(&mut w, h, |_| true);
            w
        }),
        ("hours of a run of its own", (0.42, Clear), (0.60, LOOP), |h| {
            let mut w = daily(14);
            w.also(|_, hour| (2.0..2.0 + h).contains(&hour));
            w
        }),
        ("short runs of 0.4 h a night", (2.0, Clear), (3.0, LOOP), |n| {
            let mut w = daily(14);
            w.also(|_, hour| hour < n && hour.fract() < 0.4);
            w
        }),
        ("hours before every start, as an optimum start at its limit", (0.85, Clear), (1.2, EARLIEST), |h| {
            let mut w = daily(14);
            before_start(&mut w, |_| h);
            w
        }),
        ("hours before every start", (1.6, EARLIEST), (2.0, LOOP), |h| {
            let mut w = daily(14);
            before_start(&mut w, |_| h);
            w
        }),
        ("the longest of starts that vary", (2.7, Clear), (3.4, LOOP), |top| {
            let mut w = daily(15);
            before_start(&mut w, |day| [top, 1.2, 2.2, top, 1.6][day % 5]);
            w
        }),
        ("how far starts of 2 h differ", (0.42, Clear), (0.22, LOOP), |apart| {
            let mut w = daily(15);
            before_start(&mut w, |day| 2.0 + apart * ((day * 2 % 5) as f64 / 4.0 - 0.5));
            w
        }),
        ("mornings of 2 h", (4.0, Clear), (6.0, LOOP), |n| {
            let mut w = daily(7);
            before_start(&mut w, |day| if day < n as usize { 2.0 } else { 0.0 });
            w
        }),
        ("outdoor air over a declared frost limit of 3 degC", (4.6, Clear), (5.4, LOOP), |c| {
            let mut w = daily(14);
            w.plant.system.frost_protection_below = Some(Temperature::celsius(3.0));
            w.rows.outdoor = Some(vec![c; w.rows.len()]);
            w.also(|_, hour| hour < 3.0);
            w
        }),
        ("outdoor air of the nights it runs in, undeclared", (3.5, frost), (4.5, LOOP), |c| cold_nights(c, 10, 10)),
        ("cold nights of the ten it runs in", (9.0, frost), (7.0, LOOP), |n| cold_nights(0.0, n as usize, 10)),
        // 48 mild hours of a weekend, 60 cold ones with running.
        ("running hours in a mild weekend", (4.0, frost), (6.0, LOOP), |h| {
            let mut w = office(15);
            let mild = |day: usize| day == 5 || day == 6;
            w.rows.outdoor = Some((0..w.rows.len()).map(|i| if mild(w.day(i)) { 12.0 } else { 0.0 }).collect());
            w.also(|day, hour| (day < 12 && !mild(day) && hour < 6.0) || (day == 5 && (8.0..8.0 + h).contains(&hour)));
            w
        }),
        (
            "share of the days that are alike, frost declared and not trended",
            (0.6, CannotTell("outdoor-temperature")),
            (0.8, LOOP),
            |share| {
                let mut w = hidden_frost();
                w.also(|day, hour| {
                    let odd = if day % 2 == 0 { 1.5 } else { 4.5 };
                    let h = if (day * 3) % 10 < (share * 10.0).round() as usize { 3.0 } else { odd };
                    (20.0..20.0 + h).contains(&hour)
                });
                w
            },
        ),
        ("how far two days in five are from the others", (0.6, CannotTell("outdoor-temperature")), (0.4, LOOP), |by| {
            let mut w = hidden_frost();
            w.also(|day, hour| (20.0..20.0 + if day % 5 < 2 { 2.5 + by } else { 2.5 }).contains(&hour));
            w
        }),
        // Ten hours lead from a stop to the next start: a cold spell's nights are as alike.
        ("hours after every stop, frost not trended", (10.0, CannotTell("outdoor-temperature")), (8.0, LOOP), |h| {
            let mut w = hidden_frost();
            w.also(|_, hour| (hour - 20.0).rem_euclid(24.0) < h);
            w
        }),
        ("a service that must not stand", (0.0, CannotTell("")), (1.0, LOOP), |other| {
            let mut w = office(15);
            w.plant.system.serves = if other > 0.5 { Serves::Comfort } else { Serves::DomesticHotWater };
            after_stop(&mut w, 3.0, |day| day % 7 < 5);
            w
        }),
    ];
    sides(Fault::OutOfHoursRunning, &limits);
    // A call for water is a valve above a tenth beside a running fan, in half of the hours.
    for (open, share, calls) in [(0.08, 1.0, false), (0.12, 1.0, true), (0.5, 0.4, false), (0.5, 0.6, true)] {
        let mut w = office(15);
        after_stop(&mut w, 3.0, |day| day % 7 < 5);
        let n = w.rows.len();
        w.rows.fans[0] = Some((0..n).map(|i| f64::from(u8::from((i * 3) % 10 < (share * 10.0) as usize))).collect());
        w.rows.valves[0] = Some(vec![open; n]);
        let f = extra("with a coil", &w, LOOP).unwrap();
        assert_eq!(f.because.contains("called for water"), calls, "{open} open in {share}: {}", f.because);
    }
}

/// Runs from 0 to 6 h in the first ten nights, of which some are this cold; the rest of the month is mild.
fn cold_nights(c: f64, cold: usize, nights: usize) -> World {
    let mut w = office(15);
    let is = |day: usize, hour: f64| day < cold && hour < 6.0;
    w.rows.outdoor = Some((0..w.rows.len()).map(|i| if is(w.day(i), w.hour(i)) { c } else { 9.0 }).collect());
    w.also(|day, hour| day < nights && hour < 6.0);
    w
}
fn hidden_frost() -> World {
    let mut w = daily(20);
    w.plant.system.frost_protection_below = Some(Temperature::celsius(3.0));
    w.rows.outdoor = None;
    w
}

/// A floor under nights of 0.3 of the flow, so many hours in all; days on their curve, or so far above it [kPa].
fn nights(days: usize, floor: f64, hours: f64, above: f64) -> World {
    let mut w = World::new(15, days);
    w.plant.control.minimum_speed = Some(Fraction::of_one(floor));
    w.plant.pumps[0].minimum_allowed_speed = Some(Fraction::of_one(0.30));
    let mut left = (4.0 * hours) as usize;
    for i in 0..w.rows.len() {
        let hour = w.hour(i);
        if (6.0..20.0).contains(&hour) {
            let q = demand(w.day(i), hour);
            w.run(0, i, q, speed_for(q, curve(q) + above).max(floor));
        } else if left > 0 {
            left -= 1;
            w.run(0, i, 0.3 * DESIGN_FLOW, floor);
        }
    }
    w
}
/// The floor's speed kept by a machine's least flow with a bypass this far open.
fn machine(least: f64, open: f64) -> World {
    let mut w = floored(0.70, Some(0.30));
    w.plant.system.minimum_flow = None;
    w.plant.sources = vec![Source { name: "CH-1".into(), minimum_flow: Some(Flow::m3h(least)), maximum_flow: None }];
    w.rows.bypass_position = Some(vec![open; w.rows.len()]);
    w
}

#[test]
fn thresholds_minimum_speed_too_high() {
    let limit = CannotTell("[[pump]].minimum_allowed_speed");
    let limits: [Limit; 14] = [
        ("a floor of 70 %, the maker allows", (0.65, Clear), (0.63, PUMP), |m| floored(0.70, Some(m))),
        // 59.6 % is asked by night: 2.2 and 3.6 % less, with 5.9 and 10 kPa to spare beyond the tolerance of 4.9.
        ("a floor over 59.6 %", (0.6175, Clear), (0.632, PUMP), |floor| {
            let mut w = floored(floor, Some(0.30));
            w.rows.pumps[0].head_half = 0.1;
            w
        }),
        ("a floor over 59.6 %, the maker silent", (0.725, limit), (0.77, PUMP), |floor| floored(floor, None)),
        ("a floor over the 30 % supposed, next to nothing asked by night", (0.435, limit), (0.47, PUMP), |floor| {
            let mut w = floored(floor, None);
            for i in 0..w.rows.len() {
                if !(6.0..20.0).contains(&w.hour(i)) {
                    w.run(0, i, 0.1 * DESIGN_FLOW, floor);
                    w.rows.pumps[0].curve[i] = 8.0;
                }
            }
            w
        }),
        ("hours on the floor in four days", (20.0, Clear), (28.0, PUMP), |h| nights(4, 0.64, h, 0.0)),
        // 392 h of days: 11 and 19 %.
        ("hours on the floor in 28 days", (50.0, Clear), (90.0, PUMP), |h| nights(DAYS, 0.64, h, 0.0)),
        ("hours with a known curve", (20.0, CannotTell("[control]")), (28.0, Clear), |h| {
            let mut w = World::new(15, 3);
            let mut left = (4.0 * h) as usize;
            for i in 0..w.rows.len() {
                if w.rows.pumps[0].state[i] == State::Steady {
                    if left == 0 {
                        w.rows.pumps[0].curve[i] = f64::NAN;
                    }
                    left = left.saturating_sub(1);
                }
            }
            w.plant.pumps[0].minimum_allowed_speed = Some(Fraction::of_one(0.3));
            w
        }),
        // Half of the 100 h are too few: 10 % of 492.
        ("every other row of the nights so far above the floor", (0.0145, Clear), (0.008, PUMP), |by| {
            let mut w = nights(DAYS, 0.64, 100.0, 0.0);
            for i in (0..w.rows.len()).step_by(2) {
                if w.rows.pumps[0].state[i] == State::Steady && !(6.0..20.0).contains(&w.hour(i)) {
                    w.run(0, i, 0.3 * DESIGN_FLOW, 0.64 + by);
                }
            }
            w
        }),
        ("valves by night", (0.04, Clear), (0.065, PUMP), |open| {
            let mut w = floored(0.64, Some(0.30));
            for i in 0..w.rows.len() {
                if !(6.0..20.0).contains(&w.hour(i)) {
                    w.rows.valves.iter_mut().flatten().for_each(|v| v[i] = open);
                }
            }
            w
        }),
        // By night it is 12 kPa too much.
        ("kPa above the curve by day", (7.5, CannotTell("")), (4.5, PUMP), |by| nights(DAYS, 0.64, 280.0, by)),
        ("the bypass while it makes the least flow of 20", (0.86, Clear), (0.74, PUMP), |open| machine(20.0, open)),
        // Through a full bypass the flow falls with speed: 18.8 m3/h are kept from 66 % on; 15 m3/h are not what the 20.4 are made for.
        ("the least flow beside 20.4 m3/h and a full bypass", (18.8, Clear), (15.0, PUMP), |q| machine(q, 0.95)),
        (
            "share of the rows with a known flow, a least flow kept",
            (0.4, CannotTell("loop-flow")),
            (0.6, PUMP),
            |share| {
                let mut w = machine(12.0, 0.4);
                for i in (0..w.rows.len()).filter(|i| (i * 7) % 10 >= (share * 10.0) as usize) {
                    w.rows.pumps[0].flow[i] = f64::NAN;
                }
                w
            },
        ),
        ("a floor that stands above what the tolerance leaves", (0.612, Clear), (0.65, PUMP), |f| {
            floored(f, Some(0.3))
        }),
    ];
    sides(Fault::MinimumSpeedTooHigh, &limits);
}

/// Always at this share of a declared best flow at 80 % speed; its flow known to half a per cent.
fn always(best: f64, x: f64) -> World {
    let mut w = sized(best);
    w.plant.pumps[0].best_efficiency_flow = Some(Flow::m3h(best));
    w.rows.pumps[0].flow_half = 0.005;
    share_at(&mut w, 1.0, x, x);
    w
}
/// A share of the rows at one place, the others at another.
fn share_at(w: &mut World, share: f64, x: f64, other: f64) {
    let best = w.rows.pumps[0].best_flow;
    for i in 0..w.rows.len() {
        if w.rows.pumps[0].state[i] != State::Off {
            let x = if (i * 7) % 100 < (share * 100.0).round() as usize { x } else { other };
            w.run(0, i, x * best * 0.8, 0.8);
        }
    }
}
/// Those rows take this share of the energy.
fn energy_at(w: &mut World, share: f64, energy: f64) {
    for i in 0..w.rows.len() {
        if w.rows.pumps[0].state[i] != State::Off {
            let inside = (i * 7) % 100 < (share * 100.0).round() as usize;
            w.rows.pumps[0].power[i] = if inside { energy / share } else { (1.0 - energy) / (1.0 - share) };
        }
    }
}

#[test]
fn thresholds_outside_preferred_region() {
    let limits: [Limit; 18] = [
        ("flow over best flow", (1.17, Clear), (1.24, PUMP), |x| always(42.0, x)),
        ("the same, the best flow read off a table: known to 5 %", (1.235, BEST_POINT), (1.29, PUMP), |x| {
            let mut w = always(42.0, x);
            w.plant.pumps[0].best_efficiency_flow = None;
            w
        }),
        ("middle far left, twice the pump", (0.68, Clear), (0.64, PUMP), |x| always(110.0, x)),
        ("half of the interval at 0.62 of best flow", (0.15, Clear), (0.10, PUMP), |half| {
            let mut w = always(110.0, 0.62);
            w.rows.pumps[0].flow_half = half;
            w
        }),
        // At design: 68 over best flow, at full speed.
        ("best flow of a pump at 0.62 of it: 0.92 and 0.85 at design", (74.0, Clear), (80.0, PUMP), |b| {
            always(b, 0.62)
        }),
        ("best flow of a pump at 0.30 of it: 0.72 and 0.68 at design", (94.5, Clear), (100.0, PUMP), |b| {
            always(b, 0.30)
        }),
        ("flow over a best flow of 87, 0.78 at design: 0.46 and 0.54 of that", (0.36, Clear), (0.42, PUMP), |x| {
            always(87.0, x)
        }),
        ("one hour in ten reaches, design unknown", (0.96, Clear), (0.84, PUMP), |x| {
            let mut w = always(110.0, 0.6);
            (w.plant.system.design_flow, w.plant.control.design_flow) = (None, None);
            share_at(&mut w, 0.1, x, 0.6);
            w
        }),
        ("share of the hours above, power unknown", (0.44, Clear), (0.56, PUMP), |share| {
            let mut w = always(42.0, 1.0);
            share_at(&mut w, share, 1.3, 1.0);
            w.rows.pumps[0].power.fill(f64::NAN);
            w
        }),
        ("energy in 40 % of the hours above", (0.54, Clear), (0.66, PUMP), |energy| {
            let mut w = always(42.0, 1.0);
            share_at(&mut w, 0.4, 1.3, 1.0);
            energy_at(&mut w, 0.4, energy);
            w
        }),
        ("hours above with two thirds of the energy", (0.32, Clear), (0.39, PUMP), |share| {
            let mut w = always(42.0, 1.0);
            share_at(&mut w, share, 1.3, 1.0);
            energy_at(&mut w, share, 0.67);
            w
        }),
        ("energy in 60 % of the hours below", (0.44, Clear), (0.56, PUMP), |energy| {
            let mut w = always(110.0, 0.6);
            share_at(&mut w, 0.6, 0.6, 0.75);
            energy_at(&mut w, 0.6, energy);
            w
        }),
        ("share of the hours below", (0.44, Clear), (0.56, PUMP), |share| {
            let mut w = always(110.0, 0.6);
            share_at(&mut w, share, 0.6, 0.75);
            w
        }),
        ("hours with a known flow in two days", (20.0, CannotTell("pump-head")), (27.0, Clear), |h| {
            let mut w = World::new(15, 2);
            w.rows.pumps[0].best_flow = 60.0;
            stop(&mut w, |_, hour| hour >= 6.0 + h / 2.0);
            w
        }),
        ("share of the hours with a known flow", (0.4, CannotTell("pump-head")), (0.6, Clear), |share| {
            let mut w = sized(60.0);
            for i in (0..w.rows.len()).filter(|i| (i * 7) % 10 >= (share * 10.0) as usize) {
                w.rows.pumps[0].flow[i] = f64::NAN;
            }
            w
        }),
        // 42 m3/h at 60 kPa: 1.434 times the speed.
        ("rated speed at 1.18 of best flow: specific speed 4,230 and 4,820", (2950.0, Clear), (3360.0, PUMP), |rpm| {
            fast(rpm, 1.18)
        }),
        ("flow over best flow at specific speed 5,000", (1.12, Clear), (1.19, PUMP), |x| fast(3500.0, x)),
        ("slower than a curve is held to", (0.13, CannotTell("pump-head")), (0.17, PUMP), |s| {
            let mut w = always(42.0, 1.3);
            for i in 0..w.rows.len() {
                if w.rows.pumps[0].state[i] != State::Off {
                    w.run(0, i, 1.4 * 42.0 * s, s);
                }
            }
            w
        }),
    ];
    sides(Fault::OutsidePreferredRegion, &limits);
}

fn fast(rpm: f64, x: f64) -> World {
    use offcurve::plant::{PowerIs, TestedCurve};
    let mut w = always(42.0, x);
    w.plant.pumps[0].rated_speed = Some(ShaftSpeed::rpm(rpm));
    w.plant.pumps[0].curves = vec![TestedCurve {
        speed: Fraction::of_one(1.0),
        power_is: PowerIs::Shaft,
        tolerance: None,
        head_flow_m3h: vec![0.0, 42.0, 84.0],
        head_kpa: vec![60.0; 3],
        power_flow_m3h: Vec::new(),
        power_kw: Vec::new(),
    }];
    w
}

/// Two hours of every afternoon at no flow and 70 %, every valve and the bypass shut, no meter.
fn shut_in(open: f64, bypass: f64) -> World {
    let mut w = metered(0.0, 2.0, 0);
    w.rows.trends.remove(0);
    w.rows.bypass_position = Some(vec![bypass; w.rows.len()]);
    for i in 0..w.rows.len() {
        if (12.0..14.0).contains(&w.hour(i)) {
            w.rows.valves.iter_mut().flatten().for_each(|v| v[i] = open);
        }
    }
    w
}
/// P-2 stands against a shut valve beside P-1 at 80 % from 9 to 11 h: its head over that of no flow, and P-1's over what it makes.
fn parted(own: f64, beside: f64) -> World {
    let mut w = World::new(5, DAYS).with_second();
    for i in 0..w.rows.len() {
        if (9.0..11.0).contains(&w.hour(i)) {
            w.run(1, i, 0.0, 0.8);
            w.run(0, i, 0.62 * DESIGN_FLOW, 0.8);
        }
    }
    let heads: Vec<Vec<f64>> = w.rows.pumps.iter().map(|p| p.head.clone()).collect();
    w.trend(Role::PumpHead, Some("P-1"), "kPa", |i| heads[0][i] * beside);
    w.trend(Role::PumpHead, Some("P-2"), "kPa", |i| heads[1][i] * own);
    w
}
/// P-2 at a speed for two hours a day beside P-1 at 80 %, which holds 100 kPa between the headers.
fn behind(speed: f64) -> World {
    let mut w = World::new(5, DAYS).with_second();
    w.at_speed(0..DAYS, 0.8);
    for i in 0..w.rows.len() {
        if (8.0..10.0).contains(&w.hour(i)) {
            w.run(1, i, 0.0, speed);
            w.rows.pumps[1].head[i] = 100.0;
        }
    }
    w.trend(Role::PumpHead, None, "kPa", |_| 100.0);
    w
}

#[test]
fn thresholds_deadheading() {
    let limits: [Limit; 17] = [
        // Rows of 5 min: 25 and 35 min.
        ("hours of each of three afternoons", (0.41, Clear), (0.58, Found("P-1", 25)), |h| metered(0.0, h, 25)),
        ("the first of the afternoons of 50 min", (26.0, Clear), (25.0, Found("P-1", 25)), |d| {
            metered(0.0, 0.83, d as usize)
        }),
        ("hours of one afternoon", (0.85, Clear), (1.15, Found("P-1", 27)), |h| metered(0.0, h, 27)),
        ("hours of every afternoon", (0.16, Clear), (0.33, PUMP), |h| metered(0.0, h, 0)),
        ("hours in which a meter tells", (10.0, CannotTell("pump-head")), (14.0, Clear), |h| {
            let mut w = metered(1.0, 0.0, 0);
            w.rows.trends.truncate(1);
            let mut left = (12.0 * h) as usize;
            for i in 0..w.rows.len() {
                if w.rows.pumps[0].state[i] == State::Steady {
                    if left == 0 {
                        w.rows.trends[0].values[i] = f64::NAN;
                    }
                    left = left.saturating_sub(1);
                }
            }
            w
        }),
        // 2 % of 68 m3/h are 1.36.
        ("a meter at so many m3/h", (1.6, Clear), (1.15, PUMP), |q| {
            let mut w = metered(0.0, 2.0, 0);
            w.rows.trends[0].values.iter_mut().filter(|v| **v == 0.0).for_each(|v| *v = q);
            w
        }),
        // 5 % of 68 m3/h at 70 % speed are 2.38: less is neither nothing nor delivery.
        ("a meter that never reads more m3/h", (2.1, CannotTell("pump-head")), (2.7, Clear), |q| {
            let mut w = World::new(5, DAYS);
            w.at_speed(0..DAYS, 0.7);
            w.trend(Role::LoopFlow, None, "m3/h", |_| q);
            w
        }),
        ("a meter at zero, head over that of no flow", (0.79, Clear), (0.90, PUMP), |part| {
            let mut w = metered(0.0, 2.0, 0);
            w.rows.trends[1].values.iter_mut().for_each(|h| *h *= part);
            w
        }),
        ("shut valves, head over that of no flow", (0.91, Clear), (0.97, PUMP), |part| {
            let mut w = shut_in(0.0, 0.0);
            w.rows.trends[0].values.iter_mut().for_each(|h| *h *= part);
            w
        }),
        ("valves", (0.036, Clear), (0.025, PUMP), |open| shut_in(open, 0.0)),
        ("the bypass", (0.06, Clear), (0.04, PUMP), |open| shut_in(0.0, open)),
        // A tenth of the best flow at 70 % is 4.76, the interval 3 % each way.
        ("m3/h with all shut", (5.2, Clear), (4.2, PUMP), |q| {
            let mut w = shut_in(0.0, 0.0);
            w.rows.pumps[0].flow.iter_mut().filter(|v| **v == 0.0).for_each(|v| *v = q);
            w
        }),
        ("valves trended of four", (2.0, Clear), (3.0, PUMP), |n| {
            let mut w = shut_in(0.0, 0.0);
            w.rows.valves[n as usize..].fill(None);
            w
        }),
        // 107.8 kPa at 70 % and no flow.
        ("kPa of it at the headers", (13.5, Clear), (8.5, PUMP), |kpa| {
            let mut w = metered(0.0, 2.0, 0);
            let own = w.rows.pumps[0].head.clone();
            w.rows.trends.clear();
            w.trend(Role::PumpHead, Some("P-1"), "kPa", |i| own[i]);
            let in_it = |i: usize| (12..14).contains(&(i / 12 % 24));
            w.rows.dp = Some((0..own.len()).map(|i| if in_it(i) { kpa } else { 40.0 }).collect());
            w
        }),
        ("hours of a whole run against shut valves", (0.33, Clear), (0.42, PUMP), |h| {
            let mut w = metered(1.0, 0.0, 0);
            for i in 0..w.rows.len() {
                if (2.0..2.0 + h).contains(&w.hour(i)) {
                    w.run(0, i, 0.0, 0.7);
                    w.rows.trends[0].values[i] = 0.0;
                }
            }
            w
        }),
        ("speed below which a pump runs down", (0.08, Clear), (0.13, PUMP), |s| {
            let mut w = metered(0.0, 2.0, 0);
            w.rows.trends.truncate(1);
            w.rows.pumps[0].shut_off = f64::NAN;
            for i in 0..w.rows.len() {
                if (12.0..14.0).contains(&w.hour(i)) {
                    w.rows.pumps[0].speed[i] = s;
                }
            }
            w
        }),
        ("the bypass open, the meter perhaps beyond it", (0.06, Clear), (0.04, PUMP), |open| {
            let mut w = metered(0.0, 2.0, 0);
            w.rows.bypass_position = Some(vec![open; w.rows.len()]);
            w
        }),
    ];
    sides(Fault::Deadheading, &limits);
    // Of two pumps one is judged. 129 kPa beside 1.1 x 118.5 + 2 = 132.4; 123 beside 117 are apart, but no head of no flow.
    type Parted = (&'static str, f64, f64, fn(f64) -> World);
    let parted: [Parted; 3] = [
        ("head over that of no flow, 118.5 kPa beside it", 0.915, 0.97, |own| parted(own, 1.0)),
        ("head over that of no flow, 95 kPa beside it", 0.87, 0.93, |own| parted(own, 0.8)),
        // 106 % of the head of no flow: 93.3 and 101.9 kPa under the 100 held.
        ("speed under 100 kPa held", 0.675, 0.645, behind),
    ];
    for (why, quiet, found, world) in parted {
        let is = |v: f64| only(&world(v), "P-2").iter().any(|v| matches!(v, Verdict::Found(_)));
        assert!(!is(quiet), "{why}: {quiet}");
        assert!(is(found), "{why}: {found}");
    }
}
