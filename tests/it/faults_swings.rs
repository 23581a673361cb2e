//! What swings, starts too often or is staged poorly, each on signals of a line or two written here. Every row says why its answer is right.

use crate::declared;
use crate::rows::{PumpRows, Rows};
use offcurve::faults::{Fault, Finding, Verdict};
use offcurve::operating::State;
use offcurve::plant::{Plant, Role, Serves};
use offcurve::quantity::{Power, ShaftSpeed, Temperature};
use offcurve::regimes::Regime;
use std::f64::consts::TAU;

/// Noise that repeats: uniform in -1..1.
struct Noise(u64);
impl Noise {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as f64 / f64::from(1u32 << 30) - 1.0
    }
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.next()).sum::<f64>() / 2.0
    }
}

fn plant(pumps: usize) -> Plant {
    let mut plant = declared::plant();
    while plant.pumps.len() < pumps {
        let mut next = plant.pumps[0].clone();
        next.name = format!("P-{}", plant.pumps.len() + 1);
        plant.pumps.push(next);
    }
    plant.system.pumps_on_duty = None;
    plant
}

/// Runs a pump in a row at a speed; NaN stands still.
fn run(p: &mut PumpRows, i: usize, speed: f64) {
    let on = speed.is_finite();
    p.state[i] = if on { State::Steady } else { State::Off };
    p.regime[i] = if on { Regime::OnCurve } else { Regime::Off };
    p.speed[i] = if on { speed } else { 0.0 };
    p.flow[i] = p.speed[i] * 40.0;
    p.head[i] = 200.0 * p.speed[i] * p.speed[i];
    p.power[i] = p.flow[i] * p.head[i] / 3600.0 / 0.6;
}

/// One pump whose speed is a function of minutes from the start (and of its own noise), from 6 to 20 h.
fn one_pump(minutes: u32, days: usize, speed: impl Fn(f64, &mut Noise) -> f64) -> (Plant, Rows) {
    let plant = plant(1);
    let mut rows = Rows::new(&plant, minutes, days);
    let mut noise = Noise(11);
    for i in 0..rows.len() {
        let t = i as f64 * f64::from(minutes);
        let s = if (360.0..1200.0).contains(&(t % 1440.0)) { speed(t, &mut noise) } else { f64::NAN };
        run(&mut rows.pumps[0], i, s);
    }
    (plant, rows)
}

/// A sine about 60 % of rated speed: period [min], trough to crest [-], hours a day from 8 h on, with 0.3 % of noise.
fn sine(period: f64, swing: f64, hours: f64) -> impl Fn(f64, &mut Noise) -> f64 {
    move |t, n| {
        let on = (480.0..480.0 + 60.0 * hours).contains(&(t % 1440.0));
        0.6 + 0.003 * n.normal() + if on { swing / 2.0 * (t / period * TAU).sin() } else { 0.0 }
    }
}

/// Off a floor of 35 %: the upper half of a sine.
fn off_floor(period: f64, rise: f64, hours: f64) -> impl Fn(f64, &mut Noise) -> f64 {
    move |t, n| {
        let on = (480.0..480.0 + 60.0 * hours).contains(&(t % 1440.0));
        0.35 + 0.002 * n.next().abs() + if on { rise * (t / period * TAU).sin().max(0.0) } else { 0.0 }
    }
}

#[derive(Debug, PartialEq, Clone, Copy)]
enum Want {
    Found(&'static str),
    Clear,
    CannotTell,
    /// Anything but found.
    Quiet,
}

/// Every verdict on the fault is as wanted, and a finding is the only one; gives it.
fn check(why: &str, (plant, rows): &(Plant, Rows), fault: Fault, want: Want) -> Option<Finding> {
    let verdicts = rows.judge(plant, fault);
    assert!(!verdicts.is_empty(), "{why}: no answer");
    let mut found = Vec::new();
    for v in &verdicts {
        match (v, want) {
            (Verdict::Found(f), _) => found.push(f.as_ref().clone()),
            (Verdict::Clear { .. }, Want::Clear | Want::Quiet | Want::Found(_))
            | (Verdict::CannotTell { .. }, Want::CannotTell | Want::Quiet | Want::Found(_)) => {}
            _ => panic!("{why}: {verdicts:#?}"),
        }
    }
    match want {
        Want::Found(subject) => {
            assert!(found.len() == 1 && found[0].subject == subject, "{why}: {verdicts:#?}");
            assert!(found[0].confidence >= 0.5 && found[0].confidence <= 0.97, "{why}: {:?}", found[0].confidence);
        }
        _ => assert!(found.is_empty(), "{why}: {verdicts:#?}"),
    }
    found.pop()
}

use Fault::{MinimumSpeedHunting as Floor, PoorStaging as Staging, ShortCycling as Starts, SpeedHunting as Speed};

#[test]
fn a_speed_that_swings() {
    let found = Want::Found("P-1");
    for period in [6.0, 10.0, 20.0, 35.0, 50.0, 75.0] {
        let f = check(
            &format!("12 % every {period} min, every minute"),
            &one_pump(1, 8, sine(period, 0.12, 8.0)),
            Speed,
            found,
        );
        let f = f.expect("found");
        let said = f.evidence.iter().find(|e| e.name == "period").expect("it says its period").value;
        assert!((said / period - 1.0).abs() < 0.05, "{period} min is told as {said}");
        let swing = f.evidence.iter().find(|e| e.name.starts_with("swing")).expect("and its size").value;
        assert!((swing - 0.12).abs() < 0.02, "12 % is told as {swing}");
        assert!((f.hours - 8.0 * 8.0).abs() < 12.0, "64 h are told as {}", f.hours);
        check("one swing is one finding", &one_pump(1, 8, sine(period, 0.12, 8.0)), Floor, Want::Clear);
    }
    for period in [25.0, 33.0, 50.0] {
        check(
            &format!("{period} min every 5: five rows and more"),
            &one_pump(5, 8, sine(period, 0.12, 8.0)),
            Speed,
            found,
        );
    }
    check("mild: 6 % for 4 h a day, five rows a cycle", &one_pump(5, 14, sine(25.0, 0.06, 4.0)), Speed, found);
    check("mild, every minute", &one_pump(1, 14, sine(6.5, 0.06, 4.0)), Speed, found);
    let wanders =
        |t: f64, n: &mut Noise| 0.6 + 0.003 * n.normal() + 0.06 * (t / 20.0 * TAU + 2.0 * (t / 400.0).sin()).sin();
    check("its period wanders by a tenth", &one_pump(1, 8, wanders), Speed, found);
    let drifts =
        |t: f64, n: &mut Noise| 0.55 + 0.15 * (t / 700.0).sin() + 0.003 * n.normal() + 0.05 * (t / 20.0 * TAU).sin();
    check("under it the load comes and goes", &one_pump(1, 8, drifts), Speed, found);
    let whole = |t: f64, n: &mut Noise| (100.0 * sine(20.0, 0.12, 8.0)(t, n)).round() / 100.0;
    check("in whole per cents", &one_pump(1, 8, whole), Speed, found);
    let holes = |t: f64, n: &mut Noise| if t as i64 % 97 == 0 { f64::NAN } else { sine(20.0, 0.12, 8.0)(t, n) };
    let (p, mut rows) = one_pump(1, 8, holes);
    for i in (0..rows.len()).filter(|i| i % 97 == 0) {
        rows.pumps[0].state[i] = State::Unknown;
        rows.pumps[0].speed[i] = f64::NAN;
    }
    check("a missing row in a hundred", &(p, rows), Speed, found);
}

#[test]
fn a_speed_that_does_not_hunt() {
    check("2 % is noise", &one_pump(1, 8, sine(20.0, 0.02, 8.0)), Speed, Want::Clear);
    check("3.5 % is below the 4 % that count", &one_pump(1, 8, sine(20.0, 0.035, 8.0)), Speed, Want::Clear);
    check("4.8 % is above", &one_pump(1, 8, sine(20.0, 0.048, 8.0)), Speed, Want::Found("P-1"));
    check("3 h in all", &one_pump(1, 4, sine(10.0, 0.12, 0.75)), Speed, Want::Clear);
    check("6 h in all", &one_pump(1, 4, sine(10.0, 0.12, 1.5)), Speed, Want::Found("P-1"));
    let one_day = |t: f64, n: &mut Noise| if t < 1440.0 { sine(20.0, 0.12, 8.0)(t, n) } else { 0.6 };
    check("8 h on the first of eight days: a controller being tuned", &one_pump(1, 8, one_day), Speed, Want::Clear);
    check("every 2 hours it is the load", &one_pump(1, 8, sine(120.0, 0.2, 12.0)), Speed, Want::Clear);
    let day = |t: f64, n: &mut Noise| 0.6 + 0.2 * (t / 1440.0 * TAU).sin() + 0.003 * n.normal();
    check("the day's own pattern", &one_pump(5, 14, day), Speed, Want::Clear);
    let steps = |t: f64, _: &mut Noise| 0.5 + 0.1 * ((t as i64 / 200 * 7919 % 5) as f64) / 5.0;
    check("steps by hand", &one_pump(1, 8, steps), Speed, Want::Clear);
    check("every 15 min, seen every 5: three rows", &one_pump(5, 8, sine(15.0, 0.12, 8.0)), Speed, Want::CannotTell);
    check("every 22 min, seen every 5: 4.4 rows", &one_pump(5, 8, sine(22.0, 0.12, 8.0)), Speed, Want::CannotTell);
    let coarse = one_pump(15, 8, sine(50.0, 0.12, 8.0));
    check("seen every 15 min", &coarse, Speed, Want::CannotTell);
    let said = coarse.1.judge(&coarse.0, Speed);
    let tells = matches!(&said[0], Verdict::CannotTell { why, .. } if why.contains("75 min"));
    assert!(tells, "it says from which period on it would have shown: {said:#?}");
    check("a pump that never ran", &one_pump(5, 8, |_, _| f64::NAN), Speed, Want::CannotTell);
    check("no row at all", &one_pump(5, 0, |_, _| 0.5), Speed, Want::CannotTell);
    let (p, mut rows) = one_pump(5, 8, sine(50.0, 0.12, 8.0));
    rows.pumps[0].speed.iter_mut().for_each(|s| *s = f64::NAN);
    check("no speed is known", &(p, rows), Speed, Want::CannotTell);
    let saw = |t: f64, n: &mut Noise| {
        let phase = t / 40.0 % 1.0;
        0.6 + 0.002 * n.normal() + 0.05 * if phase < 0.85 { 1.0 - phase / 0.85 } else { (phase - 0.85) / 0.15 }
    };
    check("5 % down in 34 min, up in 6: trim and respond", &one_pump(1, 8, saw), Speed, Want::CannotTell);
}

/// Loads that wander at random, quickly and slowly: nothing in them is regular.
#[test]
fn a_load_that_wanders_is_no_hunting() {
    let mut wrong = Vec::new();
    for minutes in [1, 5] {
        for (k, (memory, sd)) in
            [(3.0, 0.03), (8.0, 0.04), (15.0, 0.05), (30.0, 0.06), (60.0, 0.08), (15.0, 0.02)].into_iter().enumerate()
        {
            // About 60 %, and about a floor of 35 %.
            for (smooth, level) in [(1.0, 0.6), (4.0, 0.6), (10.0, 0.6), (1.0, 0.36), (4.0, 0.36)] {
                let p = plant(1);
                let mut rows = Rows::new(&p, minutes, 28);
                for seed in 0..5 {
                    let mut noise = Noise(77 + k as u64 + 1000 * seed);
                    let (mut load, mut speed) = (0.0, 0.0);
                    for i in 0..rows.len() {
                        let keep = (-f64::from(minutes) / memory).exp();
                        load = keep * load + (1.0 - keep * keep).sqrt() * sd * noise.normal();
                        speed += (load - speed) * (f64::from(minutes) / smooth).min(1.0);
                        run(&mut rows.pumps[0], i, (level + speed).clamp(0.35, 1.0));
                    }
                    for v in rows.judge(&p, Speed).into_iter().chain(rows.judge(&p, Floor)) {
                        if let Verdict::Found(f) = v {
                            let e: Vec<String> = f.evidence.iter().map(|e| format!("{:.2}", e.value)).collect();
                            wrong.push(format!(
                                "{minutes} min, memory {memory}, sd {sd}, smooth {smooth}: {} {}",
                                e.join(" "),
                                f.because
                            ));
                        }
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{} found:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn a_speed_that_leaves_its_floor_and_falls_back() {
    let found = Want::Found("P-1");
    for period in [15.0, 25.0, 40.0, 75.0] {
        check(
            &format!("10 % off the floor every {period} min, 6 h a day, every minute"),
            &one_pump(1, 14, off_floor(period, 0.10, 6.0)),
            Floor,
            found,
        );
        check("one swing is one finding", &one_pump(1, 14, off_floor(period, 0.10, 6.0)), Speed, Want::Quiet);
    }
    for period in [25.0, 40.0, 75.0] {
        check(
            &format!("the same every {period} min, seen every 5"),
            &one_pump(5, 14, off_floor(period, 0.10, 6.0)),
            Floor,
            found,
        );
        check("one swing is one finding", &one_pump(5, 14, off_floor(period, 0.10, 6.0)), Speed, Want::Quiet);
    }
    // A lift of 13 minutes that comes after a wait of 12 to 24.
    let probe = |t: f64, n: &mut Noise| {
        let k = (t / 31.0).floor();
        let at = t - k * 31.0 - 9.0 - 3.0 * (k * 2.39996).sin();
        0.35 + 0.002 * n.next().abs()
            + if (0.0..13.0).contains(&at) { 0.13 * (at / 4.0).min((13.0 - at) / 6.0).min(1.0) } else { 0.0 }
    };
    check("short lifts after waits that differ", &one_pump(1, 8, probe), Floor, found);
    check("the same seen every 5 min", &one_pump(5, 8, probe), Floor, found);
}

/// Two pumps, each with its own speed by minute; NaN stands still. All day.
fn pumps(count: usize, minutes: u32, days: usize, speed: impl Fn(usize, f64) -> f64) -> (Plant, Rows) {
    let plant = plant(count);
    let mut rows = Rows::new(&plant, minutes, days);
    for i in 0..rows.len() {
        for k in 0..count {
            run(&mut rows.pumps[k], i, speed(k, i as f64 * f64::from(minutes)));
        }
    }
    (plant, rows)
}

#[test]
fn which_swing_is_whose() {
    let swings = |t: f64| 0.6 + 0.06 * (t / 20.0 * TAU).sin();
    let f =
        check("two pumps at one speed are one swing", &pumps(2, 1, 6, |_, t| swings(t)), Speed, Want::Found("loop"));
    let f = f.expect("found");
    assert!(f.because.contains("P-1 and P-2"), "both are named: {}", f.because);
    assert!((f.hours - 144.0).abs() < 4.0, "six days, counted once: {}", f.hours);
    let turns = |k: usize, t: f64| if (t as i64 / 1440) % 2 == k as i64 { swings(t) } else { f64::NAN };
    check("duty that changes every day is one swing", &pumps(2, 1, 8, turns), Speed, Want::Found("loop"));
    let one = |k: usize, t: f64| if k == 1 { swings(t) } else { 0.5 };
    check("one of two swings", &pumps(2, 1, 6, one), Speed, Want::Found("P-2"));
    let floor = |_: usize, t: f64| 0.35 + 0.10 * (t / 30.0 * TAU).sin().max(0.0);
    check("two pumps off one floor", &pumps(2, 1, 6, floor), Floor, Want::Found("loop"));
    // The lag pump comes for half of every 40 minutes, and both fall back when it does.
    let staged = |k: usize, t: f64| {
        let both = t % 40.0 < 20.0;
        if k == 0 {
            if both { 0.5 } else { 0.62 }
        } else if both {
            0.5
        } else {
            f64::NAN
        }
    };
    check("the speed steps with the number of pumps", &pumps(2, 1, 6, staged), Speed, Want::Clear);
    check("nor does it leave a floor", &pumps(2, 1, 6, staged), Floor, Want::Quiet);
    // A quarter of the time on the floor, the rest above it: one cause, one name.
    let mixed = |t: f64, _: &mut Noise| {
        let middle = if t % 1440.0 < 600.0 { 0.35 } else { 0.55 };
        (middle + 0.06 * (t / 30.0 * TAU).sin()).max(0.35)
    };
    check("mostly above the floor", &one_pump(1, 8, mixed), Speed, Want::Found("P-1"));
    check("mostly above the floor, so not here", &one_pump(1, 8, mixed), Floor, Want::CannotTell);
}

#[test]
fn who_swings_first() {
    let speed = |t: f64, n: &mut Noise| 0.6 + 0.003 * n.normal() + 0.06 * (t / 30.0 * TAU).sin();
    let with_valve = |minutes: u32, valve: &dyn Fn(f64) -> f64| {
        let (p, mut rows) = one_pump(minutes, 8, speed);
        rows.valves[1] = Some((0..rows.len()).map(|i| valve(i as f64 * f64::from(minutes))).collect());
        (p, rows)
    };
    // The valve opens 2 min before the speed rises: 24 degrees of 30 min.
    let leads = |t: f64| 0.5 + 0.10 * ((t + 2.0) / 30.0 * TAU).sin();
    check("a valve that hunts takes the pump along", &with_valve(1, &leads), Speed, Want::CannotTell);
    check("the same seen every 5 min", &with_valve(5, &leads), Speed, Want::CannotTell);
    let said = with_valve(1, &leads);
    let named = matches!(&said.1.judge(&said.0, Speed)[0], Verdict::CannotTell { why, .. } if why.contains("C-2"));
    assert!(named, "the valve is named");
    // Closes as the pressure rises, 3 min late.
    let answers = |t: f64| 0.5 - 0.10 * ((t - 3.0) / 30.0 * TAU).sin();
    check("a valve that answers", &with_valve(1, &answers), Speed, Want::Found("P-1"));
    check("the same seen every 5 min", &with_valve(5, &answers), Speed, Want::Found("P-1"));
    let still = |t: f64| 0.5 + 0.01 * (t / 30.0 * TAU).sin();
    check("1 % of a stroke takes no pump along", &with_valve(1, &still), Speed, Want::Found("P-1"));
    let other = |t: f64| 0.5 + 0.10 * (t / 47.0 * TAU).sin();
    check("a valve with another period", &with_valve(1, &other), Speed, Want::Found("P-1"));
    let (p, mut rows) = one_pump(1, 8, speed);
    rows.dp_setpoint =
        Some((0..rows.len()).map(|i| 90.0 * (1.0 + 0.1 * ((i as f64 + 1.0) / 30.0 * TAU).sin())).collect());
    check("the setpoint swings", &(p, rows), Speed, Want::CannotTell);
}

#[test]
fn when_a_swing_began() {
    let from = |day: f64| {
        move |t: f64, n: &mut Noise| {
            if t >= day * 1440.0 { sine(20.0, 0.12, 8.0)(t, n) } else { sine(20.0, 0.0, 8.0)(t, n) }
        }
    };
    let f = check(
        "from the tenth day on",
        &one_pump(5, 24, move |t, n| if t < 14_400.0 { 0.6 } else { sine(30.0, 0.12, 8.0)(t, n) }),
        Speed,
        Want::Found("P-1"),
    );
    let day = (f.expect("found").first_seen_ms - crate::rows::START_MS) / 86_400_000;
    assert_eq!(day, 10);
    let f = check("every minute", &one_pump(1, 14, from(6.0)), Speed, Want::Found("P-1"));
    assert_eq!((f.expect("found").first_seen_ms - crate::rows::START_MS) / 86_400_000, 6);
}

/// A counter that goes up by one whenever `start` says so for a row.
fn counter(rows: usize, start: impl Fn(usize) -> f64) -> Vec<f64> {
    let mut sum = 1000.0;
    (0..rows)
        .map(|i| {
            sum += start(i);
            sum
        })
        .collect()
}

/// A steady pump with a starts counter: so many starts an hour from 8 h on for so many hours a day.
fn counted(minutes: u32, days: usize, per_hour: f64, hours: f64) -> (Plant, Rows) {
    let (p, mut rows) = one_pump(minutes, days, |_, _| 0.6);
    let n = rows.len();
    let at = |i: usize| {
        let t = i as f64 * f64::from(minutes);
        let of_day = (t % 1440.0 - 480.0).clamp(0.0, hours * 60.0) / 60.0;
        ((t / 1440.0).floor() * hours + of_day) * per_hour
    };
    let starts = counter(n, |i| if i > 0 { at(i).floor() - at(i - 1).floor() } else { 0.0 });
    rows.trend("starts", Role::PumpStarts, Some("P-1"), "count", starts);
    (p, rows)
}

/// A pump that runs for `on` of every `cycle` minutes from 8 to 16 h, with its raw speed trended.
fn cycles(minutes: u32, days: usize, cycle: f64, on: f64) -> (Plant, Rows) {
    let (p, mut rows) = one_pump(minutes, days, move |t, _| {
        let cycling = (480.0..960.0).contains(&(t % 1440.0));
        if cycling && t % cycle >= on { f64::NAN } else { 0.6 }
    });
    let raw = rows.pumps[0].speed.clone();
    rows.trend("speed", Role::PumpSpeed, Some("P-1"), "fraction", raw);
    (p, rows)
}

#[test]
fn starts_that_come_too_often() {
    let found = Want::Found("P-1");
    for minutes in [1, 5, 15] {
        let why = format!("5 starts an hour by the counter, rows {minutes} min apart");
        let f = check(&why, &counted(minutes, 7, 5.0, 4.0), Starts, found).expect("found");
        let told = f.evidence[0].value;
        assert!((3.0..5.5).contains(&told), "{why}: told as {told}");
        assert!((28.0..50.0).contains(&f.hours), "7 days of 4 h: {}", f.hours);
        assert!(f.waste_kwh.is_none(), "wear has no price");
    }
    check("3.2 an hour is above the 3 that count", &counted(15, 7, 3.2, 6.0), Starts, found);
    check("2.5 an hour is below", &counted(15, 7, 2.5, 6.0), Starts, Want::Clear);
    check("on two days only: a trial", &counted(15, 2, 5.0, 6.0), Starts, Want::CannotTell);
    check("on three", &counted(15, 3, 5.0, 6.0), Starts, found);
    let trial = |why: &str, want| {
        let (p, mut rows) = counted(15, 14, 0.0, 6.0);
        rows.trends.clear();
        let starts = counter(rows.len(), |i| if (40..52).contains(&i) { 1.0 } else { 0.0 });
        rows.trend("starts", Role::PumpStarts, Some("P-1"), "count", starts);
        check(why, &(p, rows), Starts, want);
    };
    trial("twelve starts in one morning of two weeks: commissioning", Want::CannotTell);
    let by_state = |why: &str, case: (Plant, Rows), want| check(why, &case, Starts, want);
    by_state("12 min cycles by state, every minute", cycles(1, 5, 12.0, 5.0), found);
    by_state("30 min cycles: two an hour", cycles(1, 5, 30.0, 12.0), Want::Clear);
    by_state("12 min cycles, seen every 5 min without a counter", cycles(5, 5, 12.0, 5.0), Want::CannotTell);
    let mut flickers = cycles(1, 5, 12.0, 5.0);
    flickers.1.trends[0].values.iter_mut().for_each(|v| *v = 0.6);
    by_state("the status flickers while the speed stays", flickers, Want::Clear);
    let mut bare = cycles(1, 5, 12.0, 5.0);
    bare.1.trends.clear();
    bare.1.pumps[0].power.iter_mut().for_each(|v| *v = f64::NAN);
    let f = by_state("status alone", bare, found).expect("found");
    assert!(f.could_also_be.iter().any(|c| c.contains("flickers")), "what could not be checked is said");
    by_state("once a day", one_pump(1, 14, |_, _| 0.6), Want::Clear);
    let exercise =
        |t: f64, _: &mut Noise| if t % 10_080.0 < 600.0 + 5.0 && t % 10_080.0 >= 600.0 { 0.6 } else { f64::NAN };
    by_state("five minutes a week", one_pump(1, 28, exercise), Want::Clear);
    by_state("no row", one_pump(1, 0, |_, _| 0.6), Want::CannotTell);
}

#[test]
fn a_counter_that_resets_jumps_or_dips() {
    let with = |values: Vec<f64>| {
        let (p, mut rows) = one_pump(15, 7, |_, _| 0.6);
        rows.trend("starts", Role::PumpStarts, Some("P-1"), "count", values);
        (p, rows)
    };
    let n = 7 * 96;
    check(
        "a start a day, reset to nothing halfway",
        &with((0..n).map(|i| ((i % 336) / 96) as f64).collect()),
        Starts,
        Want::Clear,
    );
    let dips = |i: usize| if i.is_multiple_of(9) { 0.0 } else { 5000.0 };
    check("a reading that falls to 0 for a row now and then", &with((0..n).map(dips).collect()), Starts, Want::Clear);
    let jumps = |i: usize| (i / 96) as f64 * 800.0;
    check("a jump of 800 a day is no start", &with((0..n).map(jumps).collect()), Starts, Want::Clear);
    let holes = |i: usize| if (8..92).contains(&(i % 96)) { f64::NAN } else { (i / 96) as f64 * 12.0 };
    check("known for 3 h a day, 21 h in all", &with((0..n).map(holes).collect()), Starts, Want::CannotTell);
    let (p, mut rows) = counted(15, 7, 5.0, 6.0);
    rows.trends[0].values.iter_mut().enumerate().filter(|(i, _)| i % 7 == 3).for_each(|(_, v)| *v = f64::NAN);
    check("a reading in seven is missing", &(p, rows), Starts, Want::Found("P-1"));
    check("nothing but holes, and rows of 15 min", &with(vec![f64::NAN; n]), Starts, Want::CannotTell);
}

#[test]
fn frost_and_the_motor_s_own_limit() {
    let (mut p, mut rows) = counted(15, 7, 5.0, 6.0);
    p.system.frost_protection_below = Some(Temperature::celsius(3.0));
    rows.frost.iter_mut().for_each(|f| *f = true);
    rows.in_schedule.iter_mut().for_each(|s| *s = false);
    check("a thermostat cycles it in frost, outside the schedule", &(p.clone(), rows), Starts, Want::Clear);
    let (_, mut rows) = counted(15, 7, 5.0, 6.0);
    rows.frost.iter_mut().for_each(|f| *f = true);
    check("frost within the schedule excuses nothing", &(p, rows), Starts, Want::Found("P-1"));
    // 100 hp, two poles: 5.2 * 6.2 / 12.5 = 2.58 starts an hour.
    let (mut p, rows) = counted(15, 7, 2.72, 6.0);
    p.pumps[0].motor_power = Some(Power::hp(100.0));
    check("2.72 an hour, four poles bear 5.2", &(p.clone(), rows), Starts, Want::Clear);
    p.pumps[0].rated_speed = Some(ShaftSpeed::rpm(2950.0));
    let f = check("2.72 an hour, two poles bear 2.58", &(p, counted(15, 7, 2.72, 6.0).1), Starts, Want::Found("P-1"));
    assert!(f.expect("found").because.contains("2.6 an hour"), "the motor's limit is told");
    let unknown = check("no size declared", &counted(15, 7, 5.0, 4.0), Starts, Want::Found("P-1")).expect("found");
    assert!(unknown.because.contains("not declared"), "that the default stands alone is said");
}

/// NEMA MG 10, Table 2-3 (4-pole 1, 5, 10, 25, 50, 100 hp; 2-pole 10 hp), and its example: 25 hp, load inertia 50 lb ft2, 2.44 starts an hour.
#[test]
fn starts_across_the_line() {
    use offcurve::faults::starts::across_the_line;
    assert!((across_the_line(25.0, false, Some(50.0)).per_hour - 2.44).abs() < 1e-9);
    for (hp, a, b, c) in [
        (1.0, 30.0, 5.8, 38.0),
        (5.0, 16.3, 27.0, 42.0),
        (10.0, 12.5, 51.0, 46.0),
        (25.0, 8.8, 122.0, 58.0),
        (50.0, 6.8, 232.0, 72.0),
        (100.0, 5.2, 441.0, 110.0),
    ] {
        let free = across_the_line(hp, false, None);
        assert!((free.per_hour - a).abs() < 1e-9 && (free.rest_s - c).abs() < 1e-9, "{hp} hp: {free:?}");
        let heavy = across_the_line(hp, false, Some(100.0 * b)).per_hour;
        assert!((heavy - 0.01).abs() < 1e-9, "{hp} hp: B over Wk2, {heavy}");
        assert!((across_the_line(hp, false, Some(1e-3)).per_hour - a).abs() < 1e-9, "{hp} hp: never more than A");
    }
    let two = across_the_line(10.0, true, Some(11.0));
    assert!((two.per_hour - 1.0).abs() < 1e-9 && (two.rest_s - 92.0).abs() < 1e-9, "{two:?}");
    let between = across_the_line(7.5, false, None).per_hour;
    assert!((12.5..16.3).contains(&between), "7.5 hp lies between 5 and 10: {between}");
    assert!((across_the_line(500.0, false, None).per_hour - 5.2).abs() < 1e-9, "beyond the table: as at its end");
}

/// Pumps that share a loop: how many run in a row, and the loop's flow [m3/h] at 100 kPa. Each runs at the speed given.
fn shared(count: usize, minutes: u32, days: usize, row: impl Fn(f64) -> (usize, f64, f64)) -> (Plant, Rows) {
    let plant = plant(count);
    let mut rows = Rows::new(&plant, minutes, days);
    for i in 0..rows.len() {
        let (on, flow, speed) = row(i as f64 * f64::from(minutes));
        for (k, p) in rows.pumps.iter_mut().enumerate() {
            run(p, i, if k < on { speed } else { f64::NAN });
            p.flow[i] = if k < on { flow / on as f64 } else { 0.0 };
            p.head[i] = if k < on { 100.0 } else { f64::NAN };
            p.curve[i] = 100.0;
            p.power[i] = if k < on { priced(flow, 100.0, on as u8) / on as f64 } else { 0.0 };
            (p.best_flow, p.shut_off) = (40.0, 150.0);
        }
    }
    rows.price = priced;
    (plant, rows)
}

/// Each pump takes a fixed 0.4 kW and its water over 70 %.
fn priced(flow: f64, head: f64, on: u8) -> f64 {
    0.4 * f64::from(on) + flow * head / 3600.0 / 0.7
}

#[test]
fn one_pump_too_many() {
    // 25 m3/h: two pumps take 0.8 + 0.99, one 0.4 + 0.99: 22 % less, and one at 25 of 40 m3/h is in its region.
    let found = Want::Found("loop");
    for minutes in [1, 5, 15] {
        let f = check("two pumps at 25 m3/h all day", &shared(2, minutes, 7, |_| (2, 25.0, 0.8)), Staging, found)
            .expect("found");
        assert!((f.hours - 168.0).abs() < 3.0, "seven days: {}", f.hours);
        let waste = f.waste_kwh.expect("it has a price");
        assert!((waste.estimate / (0.4 * 167.0) - 1.0).abs() < 0.03, "0.4 kW over 167 h: {}", waste.estimate);
        assert!(waste.low > 0.0 && waste.low < waste.estimate && waste.estimate < waste.high);
    }
    check(
        "at 60 m3/h one would be far past its best flow",
        &shared(2, 15, 7, |_| (2, 60.0, 0.8)),
        Staging,
        Want::Clear,
    );
    check("one pump runs", &shared(2, 15, 7, |_| (1, 25.0, 0.8)), Staging, Want::Clear);
    let part = |share: f64| {
        shared(2, 15, 10, move |t| if t % 1440.0 < 1440.0 * share { (2, 25.0, 0.8) } else { (1, 25.0, 0.8) })
    };
    check("40 % of the hours", &part(0.4), Staging, found);
    check("25 % of the hours: what staging in health may take", &part(0.25), Staging, Want::Clear);
    let mut dear = shared(2, 15, 7, |_| (2, 25.0, 0.8));
    // 0.05 kW a pump on 1.04: one fewer saves 4.4 %.
    dear.1.price = |q, h, n| 0.05 * f64::from(n) + q * h / 3600.0 / 0.67;
    check("one fewer would save less than 5 %", &dear, Staging, Want::Clear);
    let overlap = |t: f64| if t % 1440.0 < 45.0 { (2, 25.0, 0.8) } else { (1, 25.0, 0.8) };
    check("45 min of overlap a day", &shared(2, 5, 14, overlap), Staging, Want::Clear);
    let mut critical = shared(2, 15, 7, |_| (2, 25.0, 0.8));
    critical.0.system.serves = Serves::Critical;
    check("the second turns for a critical load", &critical, Staging, Want::CannotTell);
    critical.0.system.pumps_on_duty = Some(1);
    check("the second is not even on duty", &critical, Staging, found);
    let mut wide = shared(2, 15, 7, |_| (2, 25.0, 0.8));
    wide.1.price = |q, h, n| if q > 24.0 && n == 1 { f64::NAN } else { priced(q, h, n) };
    check("whether one could carry it is not known", &wide, Staging, Want::Clear);
    let mut blind = shared(2, 15, 7, |_| (2, 25.0, 0.8));
    blind.1.price = |_, _, _| f64::NAN;
    check("no power can be told", &blind, Staging, Want::CannotTell);
    let mut speed_only = shared(2, 15, 7, |_| (2, 25.0, 0.8));
    speed_only.1.pumps.iter_mut().for_each(|p| p.basis = offcurve::operating::Basis::Measured(2));
    check("flow by power alone", &speed_only, Staging, Want::CannotTell);
    check("one pump declared", &shared(1, 15, 7, |_| (1, 25.0, 0.8)), Staging, Want::Clear);
    check("no row", &shared(2, 15, 0, |_| (2, 25.0, 0.8)), Staging, Want::Quiet);
    let f = check(
        "from the eighth day on",
        &shared(2, 15, 20, |t| (if t < 8.0 * 1440.0 { 1 } else { 2 }, 25.0, 0.8)),
        Staging,
        found,
    );
    assert_eq!((f.expect("found").first_seen_ms - crate::rows::START_MS) / 86_400_000, 8);
}

#[test]
fn one_pump_too_few() {
    let found = Want::Found("loop");
    let short = |hours: f64, speed: f64| {
        shared(2, 15, 7, move |t| if t % 1440.0 < hours * 60.0 { (1, 45.0, speed) } else { (2, 70.0, 0.8) })
    };
    let declared = |mut c: (Plant, Rows), duty: Option<usize>, head: f64| {
        c.0.system.pumps_on_duty = duty;
        let alone: Vec<usize> = (0..c.1.len()).filter(|i| c.1.pumps[1].state[*i] == State::Off).collect();
        alone.into_iter().for_each(|i| c.1.pumps[0].head[i] = head);
        c
    };
    let f = check(
        "8 h a day at full speed, 20 of 100 kPa short, the other idle",
        &declared(short(8.0, 1.0), Some(2), 80.0),
        Staging,
        found,
    );
    let f = f.expect("found");
    assert!(f.waste_kwh.is_none() && f.urgency >= offcurve::faults::Urgency::Plan, "it starves: {f:#?}");
    check("duty as the record shows", &declared(short(8.0, 1.0), None, 80.0), Staging, found);
    check("declared standby", &declared(short(8.0, 1.0), Some(1), 80.0), Staging, Want::Quiet);
    check("at 90 % speed there is room", &declared(short(8.0, 0.9), Some(2), 80.0), Staging, Want::Clear);
    check("98 kPa of 100 within its interval", &declared(short(8.0, 1.0), Some(2), 98.0), Staging, Want::Clear);
    check("half an hour a day", &declared(short(0.5, 1.0), Some(2), 80.0), Staging, Want::Clear);
    let mut no_curve = declared(short(8.0, 1.0), Some(2), 80.0);
    no_curve.1.pumps.iter_mut().for_each(|p| p.curve.iter_mut().for_each(|c| *c = f64::NAN));
    check("neither curve nor setpoint", &no_curve, Staging, Want::CannotTell);
    no_curve.1.dp = Some(vec![60.0; no_curve.1.len()]);
    no_curve.1.dp_setpoint = Some(vec![90.0; no_curve.1.len()]);
    check("the control pressure is 60 of 90 kPa", &no_curve, Staging, found);
}

#[test]
fn a_pump_that_comes_and_goes() {
    // On for 15 of every 30 min from 8 to 16 h: two starts an hour, at 50 m3/h either way.
    let case = |cycle: f64, on: f64, off_at: f64| {
        shared(2, 1, 6, move |t| {
            let busy = (480.0..960.0).contains(&(t % 1440.0));
            let both = busy && t % cycle < on;
            (if both { 2 } else { 1 }, if both && t % cycle >= on - 1.0 { off_at } else { 50.0 }, 0.8)
        })
    };
    check("two starts an hour at one flow", &case(30.0, 15.0, 50.0), Staging, Want::Found("loop"));
    check("and it is no short cycling", &case(30.0, 15.0, 50.0), Starts, Want::Clear);
    check("nor does the speed hunt", &case(30.0, 15.0, 50.0), Speed, Want::Clear);
    check("it goes at 30 m3/h and comes at 50", &case(30.0, 15.0, 30.0), Staging, Want::Clear);
    check("one start an hour", &case(60.0, 20.0, 50.0), Staging, Want::Clear);
    check("six starts an hour are short cycling", &case(10.0, 4.0, 50.0), Starts, Want::Found("P-2"));
    check("and not named twice", &case(10.0, 4.0, 50.0), Staging, Want::Quiet);
    // The duty changes every 30 min with 5 min together: the pump that goes is another than the one that came.
    let plant = plant(2);
    let mut rows = Rows::new(&plant, 1, 6);
    for i in 0..rows.len() {
        let turn = (i / 30) % 2;
        for (k, p) in rows.pumps.iter_mut().enumerate() {
            let on = turn == k || i % 30 < 5;
            run(p, i, if on { 0.7 } else { f64::NAN });
        }
    }
    check("a duty that changes with some overlap", &(plant, rows), Staging, Want::Quiet);
}

/// Whatever stands in the rows: an answer from each of the four, and no stop.
#[test]
fn rows_of_anything_are_answered() {
    let states = [State::Unknown, State::Off, State::Starting, State::Transient, State::Steady];
    let mut noise = Noise(1);
    for minutes in [1, 5, 15, 60, 1440] {
        for days in [0, 1, 2, 12] {
            let plant = plant(3);
            let mut rows = Rows::new(&plant, minutes, days);
            let odd = [f64::NAN, 0.0, -1.0, f64::INFINITY, 1e300, 0.5, 0.9];
            let mut any = |k: usize| odd[(noise.next().abs() * 1000.0) as usize % k];
            for p in &mut rows.pumps {
                for i in 0..p.state.len() {
                    p.state[i] = states[(any(7).abs() as usize + i * 7919 % 11) % 5];
                    (p.speed[i], p.flow[i], p.head[i]) = (any(7), any(7), any(7));
                    (p.curve[i], p.power[i]) = (any(7), any(7));
                }
            }
            let n = rows.len();
            let counter: Vec<f64> = (0..n).map(|_| any(7)).collect();
            rows.trend("starts", Role::PumpStarts, Some("P-1"), "count", counter.clone());
            rows.trend("speed", Role::PumpSpeed, Some("P-2"), "fraction", counter.clone());
            (rows.dp, rows.dp_setpoint, rows.valves[0]) = (Some(counter.clone()), Some(counter.clone()), Some(counter));
            for fault in [Speed, Floor, Starts, Staging] {
                assert!(!rows.judge(&plant, fault).is_empty(), "{} at {minutes} min, {n} rows", fault.code());
            }
        }
    }
}

/// A row on each side of each limit.
#[path = "thresholds_swings.rs"]
mod thresholds;
#[path = "thresholds_cycles.rs"]
mod thresholds_cycles;
