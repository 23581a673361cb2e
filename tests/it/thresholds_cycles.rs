//! A row on each side of the limits on what makes a swing: its cycles, how the published measures agree, who leads it. What is varied is the only thing
//! that differs between the two.

use super::thresholds::{Limit, beside, sides, wave};
use super::*;
use Want::{CannotTell, Clear, Found};

const PUMP: Want = Found("P-1");

/// Cycles one after another, each with its own period [min] and swing [-] by its number, all day, with so much noise.
fn by_cycles(days: usize, noise: f64, cycle: impl Fn(usize) -> (f64, f64)) -> (Plant, Rows) {
    let mut at = vec![(0.0, 0.0)];
    while at[at.len() - 1].0 < 1440.0 * days as f64 {
        let (period, swing) = cycle(at.len() - 1);
        let last = at.len() - 1;
        at[last].1 = swing;
        at.push((at[last].0 + period, swing));
    }
    one_pump(1, days, move |t, n| {
        let k = at.partition_point(|c| c.0 <= t) - 1;
        let phase = (t - at[k].0) / (at[k + 1].0 - at[k].0);
        0.6 + noise * n.normal() + at[k].1 / 2.0 * (phase * TAU).sin()
    })
}
/// Noise that repeats and has no order: -1 to 1.
fn chance(i: usize, k: u64) -> f64 {
    let mut x = (i as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(k.wrapping_mul(0xD1B5_4A32_D192_ED03));
    x = (x ^ (x >> 31)).wrapping_mul(0x94D0_49BB_1331_11EB);
    x = (x ^ (x >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    ((x ^ (x >> 32)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

/// Cycles of 20 min and 12 %, of which every so-manieth has this share of the swing, or of the period.
fn odd_one(every: usize, swing: f64, period: f64) -> (Plant, Rows) {
    by_cycles(8, 0.002, move |k| {
        let odd = k % every == every - 1;
        (20.0 * if odd { period } else { 1.0 }, 0.12 * if odd { swing } else { 1.0 })
    })
}
/// Down slowly, up in this part of the period [min]: 5 % in all.
fn saw(minutes: u32, period: f64, rising: f64) -> (Plant, Rows) {
    one_pump(minutes, 8, move |t, n| {
        let phase = t / period % 1.0;
        let falling = 1.0 - rising;
        let at = if phase < falling { 1.0 - phase / falling } else { (phase - falling) / rising };
        0.6 + 0.002 * n.normal() + 0.052 * at
    })
}
/// A minute's status is missing for so many minutes of every half hour.
fn with_holes(minutes: usize) -> (Plant, Rows) {
    let (p, mut rows) = one_pump(1, 8, sine(20.0, 0.12, 12.0));
    for i in
        (0..rows.len()).filter(|i| i % 30 < minutes && rows.pumps[0].state[*i] == State::Steady).collect::<Vec<_>>()
    {
        rows.pumps[0].state[i] = State::Unknown;
        rows.pumps[0].speed[i] = f64::NAN;
    }
    (p, rows)
}

#[test]
fn thresholds_of_cycles() {
    let limits: [Limit; 14] = [
        ("noise of every row: below the way back that makes a turning point", (0.018, Clear), (0.011, PUMP), |by| {
            by_cycles(8, by, |_| (20.0, 0.12))
        }),
        // The last cycle counts for a half.
        ("cycles in a row of 20", (3.0, Clear), (4.0, PUMP), |n| {
            by_cycles(8, 0.002, move |k| (20.0, if k % 20 < n as usize { 0.12 } else { 0.0 }))
        }),
        ("cycles on each of three days, less a half", (4.0, Clear), (5.0, PUMP), |n| {
            by_cycles(3, 0.002, move |k| (50.0, if (8..8 + n as usize).contains(&(k % 29)) { 0.12 } else { 0.0 }))
        }),
        ("swing of every other cycle", (0.33, Clear), (0.43, PUMP), |r| odd_one(2, r, 1.0)),
        ("period of every third cycle", (0.50, Clear), (0.65, PUMP), |q| odd_one(3, 1.0, q)),
        ("missing minutes of every half hour", (6.0, Clear), (5.0, PUMP), |m| with_holes(m as usize)),
        ("running hours in two days", (11.0, CannotTell), (13.0, PUMP), |h| {
            let (p, mut rows) = one_pump(1, 2, sine(10.0, 0.12, 12.0));
            for i in (0..rows.len()).filter(|i| (i % 1440) as f64 >= 360.0 + 30.0 * h) {
                run(&mut rows.pumps[0], i, f64::NAN);
            }
            (p, rows)
        }),
        ("minutes of a saw-tooth", (23.0, CannotTell), (18.0, PUMP), |m| saw(1, m, 0.15)),
        ("part of a saw-tooth that rises", (0.25, CannotTell), (0.36, PUMP), |r| saw(1, 40.0, r)),
        ("rows of a saw-tooth: 9 and 7 of 5 min", (45.0, CannotTell), (35.0, PUMP), |m| saw(5, m, 0.15)),
        // Three and six tenths of what swings.
        ("cycles of 20 that follow one another, the others at random", (7.0, Clear), (8.0, PUMP), |n| {
            by_cycles(8, 0.002, move |k| {
                let random = (12.0 + 30.0 * (k % 2) as f64, 0.06 + 0.2 * ((k / 2) % 2) as f64);
                if k % 20 < n as usize { (20.0, 0.12) } else { random }
            })
        }),
        ("minutes of swinging after each start, every five", (29.0, Clear), (33.0, PUMP), |m| {
            one_pump(1, 8, move |t, n| match t % 80.0 {
                at if at < m => 0.6 + 0.002 * n.normal() + 0.06 * (at / 5.0 * TAU).sin(),
                at if at < 60.0 => 0.6 + 0.002 * n.normal(),
                _ => f64::NAN,
            })
        }),
        // Three rows a cycle: too few to measure, and seen as such from six of its halves on.
        ("cycles of 15 min seen every five, every two hours", (3.25, Clear), (3.5, CannotTell), |c| {
            one_pump(5, 8, move |t, n| {
                let at = t % 120.0;
                0.6 + 0.001 * n.normal() + if at < 15.0 * c { 0.06 * (at / 15.0 * TAU).sin() } else { 0.0 }
            })
        }),
        // A lift of 8 min has one half period below the limit of the load, one of 11 min none: 57 and 62 % are above it.
        ("lifts of 20 that are wide", (3.0, Clear), (5.0, PUMP), |wide| {
            one_pump(1, 8, move |t, n| {
                let m = if ((t / 40.0) as usize * 7 % 20) < wide as usize { 11.0 } else { 8.0 };
                let at = t % 40.0;
                0.6 + 0.002 * n.normal() + if at < m { 0.07 * (at / m * TAU / 2.0).sin() } else { 0.0 }
            })
        }),
    ];
    sides(Speed, &limits);
}

fn above_floor(by: f64) -> (Plant, Rows) {
    one_pump(1, 14, move |t, n| {
        let lift = if t % 1440.0 < 960.0 { 0.0 } else { by + 0.1 * (t / 25.0 * TAU).sin().max(0.0) };
        0.35 + 0.0005 * n.next().abs() + lift
    })
}
/// Each day with the next of three periods: this many times less than 20 min, 20 min, as many times more.
fn of_three_periods(times: f64) -> (Plant, Rows) {
    one_pump(1, 9, move |t, n| {
        let period = 20.0 * times.powi((t / 1440.0) as i32 % 3 - 1);
        0.6 + 0.002 * n.normal() + 0.06 * (t % 1440.0 / period * TAU).sin()
    })
}
#[test]
fn thresholds_of_how_the_measures_agree() {
    let limits: [Limit; 6] = [
        // Each period by chance: regularity and decay fall together.
        ("by how much each period differs", (0.345, Clear), (0.33, PUMP), |by| {
            by_cycles(8, 0.002, move |k| (20.0 * (1.0 + by * chance(k, 1)), 0.12))
        }),
        // Regular within each day: mean over three standard deviations 0.9 and 1.1.
        ("how far the periods of days differ", (1.54, Clear), (1.46, PUMP), of_three_periods),
        // Half periods that resemble the next: six and seven tenths.
        ("period of every fourth cycle", (0.38, Clear), (0.40, PUMP), |q| odd_one(4, 1.0, q)),
        // Three hours of each: 20 min and so many times that; 0.45 in logarithms is 1.57.
        ("times the period of the first half", (1.65, Clear), (1.49, PUMP), |times| {
            one_pump(1, 2, move |t, n| {
                let period = 20.0 * if t < 1440.0 { 1.0 } else { times };
                let on = (480.0..660.0).contains(&(t % 1440.0));
                0.6 + 0.002 * n.normal() + if on { 0.06 * ((t % 1440.0 - 480.0) / period * TAU).sin() } else { 0.0 }
            })
        }),
        ("share of the hours of another pump's swing", (0.095, PUMP), (0.12, Found("loop")), |part| {
            pumps(2, 1, 10, move |k, t| {
                let on = k == 0 || t % 1440.0 < 1440.0 * part;
                if on { 0.6 + 0.06 * (t / 20.0 * TAU).sin() } else { 0.5 }
            })
        }),
        // It rests on the floor for ten hours of the day; then it swings with its troughs so far above.
        ("troughs above the floor", (0.010, Clear), (0.015, PUMP), above_floor),
    ];
    sides(Speed, &limits);
}

#[test]
fn thresholds_of_who_swings_first() {
    let limits: [Limit; 4] = [
        // An eighth of 30 min, whole minutes: 3; a minute is 12 degrees: beside 5 more the correlation is 0.5, beside 4 it is 0.67.
        ("minutes that a valve is ahead", (8.0, PUMP), (7.0, CannotTell), |m| {
            beside(move |r| r.valves[1] = Some(wave(r, 0.5, 0.10, m)))
        }),
        ("noise of the valve over half of its swing", (1.9, PUMP), (1.3, CannotTell), |by| {
            beside(move |r| {
                let v = wave(r, 0.5, 0.10, 2.0);
                r.valves[1] = Some(v.iter().enumerate().map(|(i, v)| v + 0.05 * by * chance(i, 3)).collect());
            })
        }),
        ("days of eight on which it leads", (3.0, PUMP), (5.0, CannotTell), |d| {
            beside(move |r| {
                let v = wave(r, 0.5, 0.10, 2.0);
                r.valves[1] =
                    Some(v.iter().enumerate().map(|(i, v)| if i < 1440 * d as usize { *v } else { 0.5 }).collect());
            })
        }),
        ("how far a machine's status goes up and down", (0.25, PUMP), (0.36, CannotTell), |by| {
            let (mut p, mut rows) = beside(|_| ());
            p.sources.push(offcurve::plant::Source { name: "CH-1".into(), minimum_flow: None, maximum_flow: None });
            let status = wave(&rows, 0.5, by, 2.0);
            rows.trend("status", Role::SourceStatus, Some("CH-1"), "", status);
            (p, rows)
        }),
    ];
    sides(Speed, &limits);
}

/// Next to nothing before: so many hours a day, and eight from the tenth day on.
#[test]
fn thresholds_of_when_a_swing_began() {
    for (hours, day) in [(1.12, 10), (1.38, 0)] {
        let c = one_pump(1, 20, move |t, n| sine(10.0, 0.12, if t < 14_400.0 { hours } else { 8.0 })(t, n));
        let f = check(&format!("{hours} h a day before"), &c, Speed, PUMP).expect("found");
        assert_eq!((f.first_seen_ms - crate::rows::START_MS) / 86_400_000, day, "{hours} h a day before");
    }
}

/// A lift off the floor that is there or not, twelve minutes each.
#[test]
fn thresholds_of_a_lift_off_the_floor() {
    for (by, want) in [(0.030, Clear), (0.040, PUMP)] {
        let c = one_pump(1, 8, move |t, n| {
            0.35 + 0.0005 * n.next().abs()
                + if t % 24.0 < 12.0 { by * (t % 24.0 / 3.0).min((12.0 - t % 24.0) / 3.0).min(1.0) } else { 0.0 }
        });
        check(&format!("{by} off the floor"), &c, Floor, want);
    }
    for (above, want) in [(0.010, PUMP), (0.015, Clear)] {
        check(&format!("troughs {above} above it"), &above_floor(above), Floor, want);
    }
}

/// A swing too small to cost anything is something to plan for by its wear alone: by its share of the 14 h that the pump runs a day.
#[test]
fn thresholds_of_wear() {
    use offcurve::faults::Urgency;
    for (share, want) in [(0.08, Urgency::Watch), (0.12, Urgency::Plan)] {
        let c = one_pump(1, 8, sine(10.0, 0.06, 14.0 * share));
        let f = check(&format!("{share} of the running hours"), &c, Speed, PUMP).expect("found");
        assert_eq!(f.urgency, want, "{share} of the running hours: {:?}", f.waste_kwh);
    }
}
