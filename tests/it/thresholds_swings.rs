//! A row on each side of each limit of the rules on swings, starts and staging. What is varied is the only thing that differs between the two.

use super::*;

/// What is varied, its two values with the answers wanted, and the record they make.
pub(super) type Limit = (&'static str, (f64, Want), (f64, Want), fn(f64) -> (Plant, Rows));

pub(super) fn sides(fault: Fault, limits: &[Limit]) {
    for (why, one, other, case) in limits {
        for (value, want) in [one, other] {
            check(&format!("{why}: {value}"), &case(*value), fault, *want);
        }
    }
}

use Want::{CannotTell, Clear, Found, Quiet};
const PUMP: Want = Found("P-1");
const LOOP: Want = Found("loop");

/// The usual pump with a counter of these readings, 15 min apart.
fn counting(reading: impl Fn(usize) -> f64) -> (Plant, Rows) {
    let (p, mut rows) = one_pump(15, 7, |_, _| 0.6);
    let values = (0..rows.len()).map(reading).collect();
    rows.trend("starts", Role::PumpStarts, Some("P-1"), "count", values);
    (p, rows)
}

#[test]
fn thresholds_short_cycling() {
    let limits: [Limit; 9] = [
        ("starts an hour", (2.7, Clear), (3.3, PUMP), |n| counted(15, 7, n, 6.0)),
        ("days", (2.0, CannotTell), (3.0, PUMP), |d| counted(15, d as usize, 5.0, 6.0)),
        ("minutes between the rows of a status", (5.0, CannotTell), (4.0, PUMP), |m| cycles(m as u32, 5, 12.0, 5.0)),
        ("hours of each of seven days that a counter is known", (3.0, CannotTell), (4.0, Clear), |h| {
            counting(move |i| if (i % 96) as f64 >= 4.0 * h { f64::NAN } else { (i / 96) as f64 * 12.0 })
        }),
        (
            "starts within a quarter of an hour, once a day: more than one a minute is no start",
            (20.0, Clear),
            (14.0, PUMP),
            |n| counting(move |i| (i / 96) as f64 * n),
        ),
        ("speed of a stopped pump over that of a running one", (0.6, Clear), (0.4, PUMP), |left| {
            let mut c = cycles(1, 5, 12.0, 5.0);
            c.1.trends[0].values.iter_mut().filter(|v| **v == 0.0).for_each(|v| *v = 0.6 * left);
            c
        }),
        // Every window of two hours that holds six of them counts: 3.9 h with 11 starts, 4.0 h with 12, where three an hour less 3 % are asked.
        ("starts five minutes apart, once a day", (11.0, Clear), (12.0, PUMP), |n| {
            let (p, mut rows) = one_pump(5, 7, |_, _| 0.6);
            let counted = |i: usize| (i / 288) as f64 * n + ((i % 288) as f64 - 100.0).clamp(0.0, n);
            let values = (0..rows.len()).map(counted).collect();
            rows.trend("starts", Role::PumpStarts, Some("P-1"), "count", values);
            (p, rows)
        }),
        // 100 hp bears 5.2 starts an hour on four poles, 2.58 on two.
        ("rated speed of 100 hp, 2.72 starts an hour", (1780.0, Clear), (2300.0, PUMP), |rpm| {
            let (mut p, rows) = counted(15, 7, 2.72, 6.0);
            p.pumps[0].motor_power = Some(Power::hp(100.0));
            p.pumps[0].rated_speed = Some(ShaftSpeed::rpm(rpm));
            (p, rows)
        }),
        // From the record's start on: 3.5 and 4.5 h of windows that hold twelve.
        ("hours with six starts an hour, on one day", (2.25, Clear), (3.25, CannotTell), |h| {
            counting(move |i| (i as f64 / 4.0).min(h) * 6.0)
        }),
    ];
    sides(Starts, &limits);
    // It comes and goes from 8 to 16 h; the other runs through until so much of that is over.
    for (share, beside) in [(0.52, false), (0.68, true)] {
        let cycling = |t: f64| (480.0..960.0).contains(&(t % 1440.0)) && t % 12.0 < 5.0;
        let mut c = shared(2, 1, 5, |t| (if cycling(t) { 2 } else { 1 }, 50.0, 0.8));
        for i in (0..c.1.len()).filter(|i| (i % 1440) as f64 >= 480.0 + 480.0 * share) {
            run(&mut c.1.pumps[0], i, f64::NAN);
        }
        let f = check("beside another", &c, Starts, Found("P-2")).expect("found");
        assert_eq!(f.because.contains("beside another pump"), beside, "{share} of its starts: {}", f.because);
    }
}

/// Two pumps at 25 m3/h for the first hours of each day, one for the rest of so many hours.
fn many(days: usize, hours: f64, of: f64) -> (Plant, Rows) {
    shared(2, 15, days, move |t| match t % 1440.0 / 60.0 {
        h if h < hours => (2, 25.0, 0.8),
        h if h < of => (1, 25.0, 0.8),
        _ => (0, 0.0, f64::NAN),
    })
}
/// Two pumps all day that each take this much besides their water [kW].
fn idling(each: fn(f64, f64, u8) -> f64, share: f64) -> (Plant, Rows) {
    priced_at(many(10, 24.0 * share, 24.0), each)
}
fn priced_at(mut c: (Plant, Rows), each: fn(f64, f64, u8) -> f64) -> (Plant, Rows) {
    c.1.price = each;
    for i in 0..c.1.len() {
        let n = c.1.pumps.iter().filter(|p| p.state[i] == State::Steady).count() as u8;
        for p in &mut c.1.pumps {
            p.power[i] = if p.state[i] == State::Steady { each(25.0, 100.0, n) / f64::from(n) } else { 0.0 };
        }
    }
    c
}
/// One pump alone for so many hours of a day at a speed and a head where 100 kPa are asked; two share the duty.
fn alone(days: usize, hours: f64, speed: f64, head: f64) -> (Plant, Rows) {
    let mut c = shared(2, 15, days, move |t| if t % 1440.0 < hours * 60.0 { (1, 45.0, speed) } else { (2, 70.0, 0.8) });
    c.0.system.pumps_on_duty = Some(2);
    for i in (0..c.1.len()).filter(|i| c.1.pumps[1].state[*i] == State::Off).collect::<Vec<_>>() {
        c.1.pumps[0].head[i] = head;
    }
    c
}
/// A lag pump that is on for half of every cycle from 8 to 16 h; the flow when it goes, where it comes at 50 m3/h.
fn lag(days: usize, cycle: f64, off_at: f64) -> (Plant, Rows) {
    let on = (cycle / 2.0).floor();
    shared(2, 1, 6, move |t| {
        let both = t < 1440.0 * days as f64 && (480.0..960.0).contains(&(t % 1440.0)) && t % cycle < on;
        (if both { 2 } else { 1 }, if both && t % cycle >= on - 1.0 { off_at } else { 50.0 }, 0.8)
    })
}

#[test]
fn thresholds_poor_staging() {
    let limits: [Limit; 21] = [
        ("share of the hours with two", (0.27, Clear), (0.35, LOOP), |share| many(10, 24.0 * share, 24.0)),
        // Half an hour after the start counts for neither: 10.5 and 14 of 28.5 h.
        ("hours with two on each of three days of 10 h", (4.0, Clear), (5.25, LOOP), |h| many(3, h, 10.0)),
        ("days with two", (2.0, Clear), (3.0, LOOP), |d| {
            shared(2, 15, 5, move |t| (if t < 1440.0 * d { 2 } else { 1 }, 25.0, 0.8))
        }),
        // 0.105 kW of 1.25: 8.4 %, of 37 and of 44 % of the energy.
        ("share of the hours in which one fewer saves 8.4 %", (0.35, Clear), (0.42, LOOP), |share| {
            idling(|q, h, n| 0.105 * f64::from(n) + q * h / 3600.0 / 0.67, share)
        }),
        ("hours", (24.0, CannotTell), (48.0, Clear), |h| shared(2, 15, (h / 24.0) as usize, |_| (1, 25.0, 0.8))),
        // 100 kPa of 150 at no flow: 38 m3/h ask 92 % speed, 46 m3/h 97 %; of best flow 40 that is 1.03 and 1.19.
        ("m3/h that one would take", (46.0, Clear), (38.0, LOOP), |q| {
            if q < 40.0 { shared(2, 15, 7, |_| (2, 38.0, 0.8)) } else { shared(2, 15, 7, |_| (2, 46.0, 0.8)) }
        }),
        ("pumps of five with flow by power alone", (3.0, CannotTell), (2.0, LOOP), |n| {
            let mut c = shared(5, 15, 7, |_| (5, 30.0, 0.8));
            for p in &mut c.1.pumps[..n as usize] {
                p.basis = offcurve::operating::Basis::Measured(2);
            }
            c
        }),
        // Half an hour after the change counts for none: 3.75 and 4.5 h in three days, 4 and 5 % of 14.
        ("hours alone in three days", (1.75, Clear), (2.0, LOOP), |h| alone(3, h, 1.0, 80.0)),
        ("hours alone in 14 days", (1.4, Clear), (1.75, LOOP), |h| alone(14, h, 1.0, 80.0)),
        ("speed alone", (0.982, Clear), (0.988, LOOP), |s| alone(7, 8.0, s, 80.0)),
        // Known to 3 kPa.
        ("kPa of 100 alone", (94.6, Clear), (93.3, LOOP), |head| alone(7, 8.0, 1.0, head)),
        ("hours together that make a duty of two", (8.0, Quiet), (12.0, LOOP), |h| {
            let mut c = shared(2, 15, 7, move |t| if t < 60.0 * h { (2, 70.0, 0.8) } else { (1, 45.0, 1.0) });
            c.0.system.pumps_on_duty = None;
            for i in (0..c.1.len()).filter(|i| c.1.pumps[1].state[*i] == State::Off).collect::<Vec<_>>() {
                c.1.pumps[0].head[i] = 80.0;
            }
            c
        }),
        // Three starts in two hours: two cycles of less than an hour.
        ("minutes of a cycle, above", (64.0, Clear), (57.0, LOOP), |m| lag(6, m, 50.0)),
        ("minutes of a cycle: below, it is short cycling", (13.0, Quiet), (19.0, LOOP), |m| lag(6, m, 50.0)),
        ("days on which it comes and goes", (4.0, Clear), (5.0, LOOP), |d| lag(d as usize, 30.0, 50.0)),
        ("m3/h at which it goes", (37.0, Clear), (44.0, LOOP), |q| lag(6, 30.0, q)),
        // 7 and 9.4 %.
        ("power that one fewer saves at all", (0.084, Clear), (0.12, LOOP), |kw| {
            if kw < 0.09 {
                idling(|q, h, n| 0.084 * f64::from(n) + q * h / 3600.0 / 0.67, 1.0)
            } else {
                idling(|q, h, n| 0.12 * f64::from(n) + q * h / 3600.0 / 0.67, 1.0)
            }
        }),
        // Half an hour after a change is six rows.
        ("rows of 5 min with two, seven with one", (6.0, Clear), (7.0, LOOP), |n| {
            let c = shared(2, 5, 16, move |t| (if t / 5.0 % (n + 7.0) < n { 2 } else { 1 }, 25.0, 0.8));
            priced_at(c, |q, h, n| 5.0 * f64::from(n) + q * h / 3600.0 / 0.67)
        }),
        // Three starts in 80 min and none for five hours: hardly one an hour in the mean of the windows that hold them.
        ("minutes between the rows", (10.0, Clear), (6.0, LOOP), |m| {
            shared(2, m as u32, 6, |t| (if t % 360.0 < 80.0 && t % 30.0 < 20.0 { 2 } else { 1 }, 50.0, 0.8))
        }),
        // Four and six rows a cycle.
        ("minutes of a cycle that is seen every six", (24.0, CannotTell), (36.0, LOOP), |c| {
            shared(2, 6, 6, move |t| (if t % c < c / 2.0 { 2 } else { 1 }, 50.0, 0.8))
        }),
        // The window before the last of them holds six starts for half an hour more.
        ("hours in which a counter tells of four starts an hour", (6.5, Quiet), (4.5, LOOP), |h| {
            let mut c = lag(6, 30.0, 50.0);
            let values = (0..c.1.len()).map(|i| (i as f64 / 60.0).min(h) * 4.0).map(f64::floor).collect();
            c.1.trend("starts", Role::PumpStarts, Some("P-2"), "count", values);
            c
        }),
    ];
    sides(Staging, &limits);
}

/// A pump that swings by 12 % every 30 min all day, beside something that does so too.
pub(super) fn beside(change: impl Fn(&mut Rows)) -> (Plant, Rows) {
    let (p, mut rows) = one_pump(1, 8, |t, n| 0.6 + 0.003 * n.normal() + 0.06 * (t / 30.0 * TAU).sin());
    change(&mut rows);
    (p, rows)
}
pub(super) fn wave(rows: &Rows, middle: f64, by: f64, ahead_min: f64) -> Vec<f64> {
    (0..rows.len()).map(|i| middle + by / 2.0 * ((i as f64 + ahead_min) / 30.0 * TAU).sin()).collect()
}

#[test]
fn thresholds_speed_hunting() {
    let limits: [Limit; 9] = [
        ("from trough to crest", (0.035, Clear), (0.047, PUMP), |by| one_pump(1, 8, sine(20.0, by, 8.0))),
        ("hours of each of four days", (0.9, Clear), (1.25, PUMP), |h| one_pump(1, 4, sine(10.0, 0.12, h))),
        ("days of eight", (1.0, Clear), (2.0, PUMP), |d| {
            one_pump(1, 8, move |t, n| if t < 1440.0 * d { sine(20.0, 0.12, 8.0)(t, n) } else { 0.6 })
        }),
        ("minutes of a period, above", (105.0, Clear), (82.0, PUMP), |m| one_pump(1, 8, sine(m, 0.12, 12.0))),
        ("minutes of a period seen every five", (22.0, CannotTell), (26.0, PUMP), |m| {
            one_pump(5, 8, sine(m, 0.12, 8.0))
        }),
        ("minutes between rows, a period of 60", (10.0, CannotTell), (6.0, PUMP), |m| {
            one_pump(m as u32, 8, sine(60.0, 0.12, 12.0))
        }),
        ("stroke of a valve that leads by 2 min", (0.047, CannotTell), (0.030, PUMP), |by| {
            beside(move |r| r.valves[1] = Some(wave(r, 0.5, by, 2.0)))
        }),
        ("share of its mean that a setpoint ahead moves", (0.035, CannotTell), (0.022, PUMP), |by| {
            beside(move |r| r.dp_setpoint = Some(wave(r, 90.0, 90.0 * by, 1.0)))
        }),
        ("down in 34 min, up in 6", (0.05, CannotTell), (0.075, PUMP), |by| {
            one_pump(1, 8, move |t, n| {
                let phase = t / 40.0 % 1.0;
                let fall = if phase < 0.85 { 1.0 - phase / 0.85 } else { (phase - 0.85) / 0.15 };
                0.6 + 0.002 * n.normal() + by * fall
            })
        }),
    ];
    sides(Speed, &limits);
    let mut undeclared = one_pump(1, 8, sine(20.0, 0.12, 8.0));
    undeclared.0.control.minimum_speed = None;
    check("no floor declared: a swing above it is one all the same", &undeclared, Speed, PUMP);
}

#[test]
fn thresholds_minimum_speed_hunting() {
    let limits: [Limit; 5] = [
        ("rise off the floor", (0.033, Clear), (0.043, PUMP), |by| one_pump(1, 8, off_floor(25.0, by, 6.0))),
        ("hours of each of four days", (0.9, Clear), (1.5, PUMP), |h| one_pump(1, 4, off_floor(10.0, 0.1, h))),
        ("days of eight", (1.0, Clear), (2.0, PUMP), |d| {
            one_pump(1, 8, move |t, n| if t < 1440.0 * d { off_floor(25.0, 0.1, 8.0)(t, n) } else { 0.35 })
        }),
        ("minutes of a period, above", (110.0, Clear), (80.0, PUMP), |m| one_pump(1, 8, off_floor(m, 0.1, 12.0))),
        ("minutes between rows, a period of 60", (10.0, CannotTell), (6.0, PUMP), |m| {
            one_pump(m as u32, 8, off_floor(60.0, 0.1, 12.0))
        }),
    ];
    sides(Floor, &limits);
}

/// The day of the first row told: two pumps for half of the day from day 10 on, for so many hours before.
#[test]
fn when_one_pump_too_many_began() {
    // Half an hour after the change counts for neither: next to nothing is 15 % of 11.5 h, 1.7 h.
    for (before, day) in [(2.5, 0), (2.0, 10)] {
        let c = shared(2, 15, 30, move |t| {
            let hours = if t < 10.0 * 1440.0 { before } else { 12.0 };
            (if t % 1440.0 / 60.0 < hours { 2 } else { 1 }, 25.0, 0.8)
        });
        let f = check(&format!("{before} h a day before"), &c, Staging, LOOP).expect("found");
        assert_eq!((f.first_seen_ms - crate::rows::START_MS) / 86_400_000, day, "{before} h a day before");
    }
}
