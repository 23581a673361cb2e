//! Fixed speed, running out of hours, a floor too high, the preferred region and deadheading, each on rows of a loop of three equations
//! written here: pump H = 220 s^2 - 58 (Q/68)^2 kPa, electric power s^3 (1.4 + 3.4 Q / 68 s) + 0.3 kW, control curve 64 + 98 (Q/68)^2 kPa. From 6 to 20 h the
//! flow rises and falls between 0.35 and 0.8 of 68 m3/h. Every row says why its answer is right.

use crate::declared::{self, DESIGN_FLOW, DESIGN_HEAD, ZERO_FLOW_HEAD};
use crate::rows::{Rows, fault_of};
use offcurve::faults::{Fault, Finding, Urgency, Verdict};
use offcurve::operating::{Basis, State};
use offcurve::plant::{Bypass, ControlMode, HeadAt, Plant, Role, Schedule, Serves, Source, Valve};
use offcurve::quantity::{Flow, Fraction, Pressure, ShaftSpeed, Temperature};
use offcurve::regimes::Regime;

const SHUT_OFF: f64 = 220.0;
const FALLS: f64 = 58.0;
const DAYS: usize = 28;

fn head(q: f64, s: f64) -> f64 {
    SHUT_OFF * s * s - FALLS * (q / DESIGN_FLOW).powi(2)
}
fn curve(q: f64) -> f64 {
    ZERO_FLOW_HEAD + (DESIGN_HEAD - ZERO_FLOW_HEAD) * (q / DESIGN_FLOW).powi(2)
}
fn speed_for(q: f64, h: f64) -> f64 {
    ((h + FALLS * (q / DESIGN_FLOW).powi(2)) / SHUT_OFF).sqrt()
}
fn power(q: f64, s: f64) -> f64 {
    s.powi(3) * (1.4 + 3.4 * q / (DESIGN_FLOW * s)) + 0.3
}
/// Demand of an hour, m3/h: 0.35 to 0.8 of design, a little more on later weekdays.
fn demand(day: usize, hour: f64) -> f64 {
    let of_day = ((hour - 6.0) / 14.0 * std::f64::consts::PI).sin();
    DESIGN_FLOW * (0.35 + 0.40 * of_day * of_day + 0.05 * (day % 5) as f64 / 4.0)
}
/// Noise that repeats, -1 to 1.
fn noise(i: usize) -> f64 {
    let x = (i as u64).wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    ((x ^ (x >> 29)).wrapping_mul(0x94d0_49bb_1331_11eb) >> 33) as f64 / f64::from(1u32 << 30) - 1.0
}

struct World {
    plant: Plant,
    rows: Rows,
}

impl World {
    /// One pump on its curve from 6 to 20 h every day; head, power and four valves known.
    fn new(minutes: u32, days: usize) -> Self {
        let plant = declared::plant();
        let rows = Rows::new(&plant, minutes, days);
        let mut w = Self { plant, rows };
        w.rows.pumps[0].shut_off = SHUT_OFF;
        w.rows.pumps[0].best_flow = DESIGN_FLOW;
        w.rows.price = |q, h, _| power(q, speed_for(q, h));
        let n = w.rows.len();
        w.rows.outdoor =
            Some((0..n).map(|i| 16.0 + 5.0 * ((w.hour(i) - 9.0) / 12.0 * std::f64::consts::PI).sin()).collect());
        w.rows.supply = Some(vec![6.0; n]);
        w.rows.back = Some(vec![12.0; n]);
        w.rows.valves = vec![Some(vec![0.0; n]); 4];
        for i in 0..n {
            if (6.0..20.0).contains(&w.hour(i)) {
                let q = demand(w.day(i), w.hour(i));
                w.run(0, i, q, speed_for(q, curve(q)));
            }
        }
        w
    }
    fn hour(&self, i: usize) -> f64 {
        f64::from(self.rows.local_hour[i])
    }
    fn day(&self, i: usize) -> usize {
        (self.rows.local_day[i] - self.rows.local_day[0]) as usize
    }
    /// A pump's row at a flow and a speed; the valves open as far as the flow needs at that head.
    fn run(&mut self, k: usize, i: usize, q: f64, s: f64) {
        let s = s + 0.0005 * noise(3 * i);
        let h = head(q, s);
        let p = &mut self.rows.pumps[k];
        (p.state[i], p.regime[i]) = (State::Steady, Regime::OnCurve);
        (p.speed[i], p.flow[i], p.head[i], p.curve[i]) = (s, q, h, curve(q));
        p.power[i] = power(q, s) * (1.0 + 0.005 * noise(3 * i + 1));
        let open = (0.8 * q / DESIGN_FLOW * (DESIGN_HEAD / h.max(1.0)).sqrt()).clamp(0.0, 1.0);
        for v in self.rows.valves.iter_mut().flatten() {
            v[i] = open;
        }
        if let Some(back) = &mut self.rows.back {
            // Coils in health: the difference rises as the load falls (6 K at design, by a third at a third of the flow).
            back[i] = 6.0 + 6.0 * (1.5 - 0.5 * q / DESIGN_FLOW) + 0.05 * noise(3 * i + 2);
        }
    }
    /// Runs these rows at the flow of the hour (or this one) at a speed.
    fn at_speed(&mut self, days: std::ops::Range<usize>, speed: f64) -> &mut Self {
        for i in 0..self.rows.len() {
            if days.contains(&self.day(i)) && self.rows.pumps[0].state[i] != State::Off {
                let q = self.rows.pumps[0].flow[i];
                self.run(0, i, q, speed);
            }
        }
        self
    }
    fn steady_load(&mut self, share: f64) -> &mut Self {
        for i in 0..self.rows.len() {
            if self.rows.pumps[0].state[i] != State::Off {
                let q = share * DESIGN_FLOW;
                self.run(0, i, q, speed_for(q, curve(q)));
            }
        }
        self
    }
    /// A second pump, off.
    fn with_second(mut self) -> Self {
        let mut second = self.plant.pumps[0].clone();
        second.name = "P-2".into();
        self.plant.pumps.push(second);
        let mut rows = Rows::new(&self.plant, (self.rows.step_h * 60.0).round() as u32, DAYS);
        let other = rows.pumps.remove(1);
        self.rows.pumps.push(other);
        self.rows.pumps[1].shut_off = SHUT_OFF;
        self.rows.pumps[1].best_flow = DESIGN_FLOW;
        self
    }
    /// Nothing but speed, status and what is named is trended.
    fn only_speed(&mut self) -> &mut Self {
        let n = self.rows.len();
        let p = &mut self.rows.pumps[0];
        (p.flow, p.head, p.power) = (vec![f64::NAN; n], vec![f64::NAN; n], vec![f64::NAN; n]);
        p.curve = vec![f64::NAN; n];
        p.basis = Basis::None;
        self.rows.valves = vec![None; 4];
        (self.rows.supply, self.rows.back, self.rows.outdoor) = (None, None, None);
        self
    }
    fn trend(&mut self, role: Role, of: Option<&str>, unit: &'static str, f: impl Fn(usize) -> f64) -> &mut Self {
        let values = (0..self.rows.len()).map(f).collect();
        self.rows.trend("trend", role, of, unit, values);
        self
    }
    fn weekdays(&mut self) -> &mut Self {
        let days = [true, true, true, true, true, false, false];
        let at = |h| chrono::NaiveTime::from_hms_opt(h, 0, 0).unwrap();
        self.plant.schedule = vec![Schedule { days, from: at(6), to: at(20) }];
        for i in 0..self.rows.len() {
            let (day, hour) = (self.day(i), self.hour(i));
            let meant = day % 7 < 5 && (6.0..20.0).contains(&hour);
            self.rows.in_schedule[i] = meant;
            if !meant {
                self.off(0, i);
            }
        }
        self
    }
    fn off(&mut self, k: usize, i: usize) {
        let p = &mut self.rows.pumps[k];
        (p.state[i], p.speed[i], p.flow[i], p.power[i]) = (State::Off, 0.0, 0.0, 0.0);
        (p.head[i], p.curve[i]) = (f64::NAN, f64::NAN);
    }
    /// Also runs where the day and hour say so.
    fn also(&mut self, when: impl Fn(usize, f64) -> bool) -> &mut Self {
        for i in 0..self.rows.len() {
            if !self.rows.in_schedule[i] && when(self.day(i), self.hour(i)) {
                self.run(0, i, 0.35 * DESIGN_FLOW, 0.6);
            }
        }
        self
    }
}

#[derive(Clone, Copy)]
enum Want<'a> {
    /// Subject, and the day it began on.
    Found(&'a str, usize),
    Clear,
    /// A missing role or fact that must be named; empty: none must.
    CannotTell(&'a str),
}
use Want::{CannotTell, Clear, Found};

/// One rule's answer; gives the finding where there is one.
fn check(why: &str, fault: Fault, w: &World, want: Want) -> Option<Finding> {
    let mine = w.rows.judge(&w.plant, fault);
    let found: Vec<&Finding> =
        mine.iter().filter_map(|v| if let Verdict::Found(f) = v { Some(&**f) } else { None }).collect();
    match want {
        Found(subject, day) => {
            assert_eq!(found.len(), 1, "{why}: {mine:#?}");
            let began = (found[0].first_seen_ms - w.rows.time_ms[0]) / 86_400_000;
            assert!(found[0].subject == subject && began == day as i64, "{why}: day {began}: {mine:#?}");
            assert!((0.5..=0.97).contains(&found[0].confidence), "{why}: {mine:#?}");
            let of_finding = [&found[0].because, &found[0].change, &found[0].caution];
            assert!(found[0].evidence.iter().all(|e| e.value.is_finite()), "{why}: {mine:#?}");
            assert!(of_finding.iter().all(|t| !t.is_empty() && !t.contains("NaN")), "{why}: {mine:#?}");
            return Some(found[0].clone());
        }
        Clear => {
            assert!(mine.iter().all(|v| matches!(v, Verdict::Clear { .. })) && !mine.is_empty(), "{why}: {mine:#?}");
        }
        CannotTell(needs) => {
            let tells = |v: &Verdict| matches!(v, Verdict::CannotTell { missing, .. } if needs.is_empty() || missing.iter().any(|m| m == needs));
            assert!(mine.iter().all(tells) && !mine.is_empty(), "{why}: {mine:#?}");
        }
    }
    None
}

// ---- fixed speed ----

fn fixed(why: &str, w: &World, want: Want) -> Option<Finding> {
    check(why, Fault::FixedSpeed, w, want)
}

#[test]
fn a_speed_in_hand_is_found_and_dated() {
    let mut w = World::new(15, DAYS);
    fixed("speed follows its curve all month", &w, Clear);
    w.at_speed(0..DAYS, 0.85);
    let f = fixed("85 % all month while power moves by half", &w, Found("P-1", 0)).unwrap();
    // At 85 % the head is 130 to 155 kPa where 76 to 127 are asked: the waste is a good part of the energy, and is priced.
    assert!(f.waste_kwh.unwrap().low > 0.0, "{f:#?}");
    for minutes in [1, 5, 15] {
        let mut w = World::new(minutes, DAYS);
        w.at_speed(21..DAYS, 0.80);
        fixed("in hand since day 21, a quarter of the days", &w, Found("P-1", 21));
    }
    let mut w = World::new(15, DAYS);
    w.at_speed(10..12, 0.80);
    fixed("two days in hand are a service visit: three are needed", &w, Clear);
    w.at_speed(10..13, 0.80);
    fixed("three days of 28 are over a tenth", &w, Found("P-1", 10));
}

#[test]
fn a_speed_that_stands_needs_something_that_moves() {
    let mut w = World::new(15, DAYS);
    w.steady_load(0.6);
    fixed("one steady load: power, head and valves stand as the speed does", &w, CannotTell("pump-mode"));
    let mode = |i: usize| if (6..20).contains(&(i / 4 % 24)) { 0.0 } else { 1.0 };
    w.trend(Role::PumpMode, Some("P-1"), "", mode);
    fixed("the mode point says hand at one steady load", &w, Found("P-1", 0));
    let mut w = World::new(15, DAYS);
    w.steady_load(0.6);
    w.trend(Role::PumpMode, Some("P-1"), "", |_| 1.0);
    fixed("the mode point says automatic at one steady load", &w, CannotTell("pump-mode"));
    let mut w = World::new(15, DAYS);
    w.at_speed(0..DAYS, 0.8).only_speed();
    fixed("nothing but speed is trended", &w, CannotTell("pump-power"));
    let mut w = World::new(15, DAYS);
    w.at_speed(0..DAYS, 0.8);
    let moving = w.rows.pumps[0].power.clone();
    w.only_speed();
    w.rows.pumps[0].power = moving;
    fixed("speed and power alone: power moves by half at one speed", &w, Found("P-1", 0));
    let mut w = World::new(15, DAYS);
    w.only_speed();
    fixed("nothing but a speed that moves", &w, Clear);
    // Power says that the duty stands, whatever valves and weather do.
    let mut w = World::new(15, DAYS);
    w.steady_load(0.6);
    let n = w.rows.len();
    w.rows.valves = vec![Some((0..n).map(|i| 0.3 + 0.4 * (i % 96) as f64 / 96.0).collect()); 4];
    fixed("valves change places at one load", &w, CannotTell("pump-mode"));
}

/// Hours of frost and rest hold a pump low on purpose; so does a quiet night on its curve.
#[test]
fn rest_is_no_hand() {
    let mut w = World::new(15, DAYS);
    w.weekdays();
    w.plant.control.minimum_speed = Some(Fraction::of_one(0.3));
    for i in 0..w.rows.len() {
        if !w.rows.in_schedule[i] {
            // 20 kPa where the curve asks 65: frost protection at the floor.
            w.run(0, i, 5.0 + (i % 40) as f64 / 4.0, 0.3);
        }
    }
    fixed("nights at the floor, outside the schedule", &w, Clear);
    let mut w = World::new(15, DAYS);
    for i in 0..w.rows.len() {
        if !(6.0..20.0).contains(&w.hour(i)) {
            // Ten hours of night at one speed, power moving by 15 %.
            w.run(0, i, 0.1 * DESIGN_FLOW, 0.56);
            w.rows.pumps[0].power[i] = 0.8 * (1.0 + 0.15 * (i % 40) as f64 / 40.0);
        }
    }
    fixed("quiet nights", &w, Clear);
}

/// Supply, return and outdoor air alone.
#[test]
fn temperatures_alone_find_a_speed_in_hand() {
    let by_temperatures = |share: f64| {
        let mut w = World::new(15, DAYS);
        w.at_speed(0..DAYS, 0.8);
        let kept = (w.rows.supply.clone(), w.rows.back.clone(), w.rows.outdoor.clone());
        w.only_speed();
        (w.rows.supply, w.rows.back, w.rows.outdoor) = kept;
        // The difference, made to swing by so much of itself over a day.
        for i in 0..w.rows.len() {
            let of_day = ((w.hour(i) - 6.0) / 14.0 * std::f64::consts::PI).sin();
            w.rows.back.as_mut().unwrap()[i] = 12.0 + 6.0 * share * (of_day - 0.5);
        }
        w
    };
    let f = fixed("the difference moves by 40 %, outdoor air by 8 K", &by_temperatures(0.4), Found("P-1", 0)).unwrap();
    assert!(f.confidence < 0.75, "temperatures alone are weaker: {}", f.confidence);
    fixed("the difference moves by 10 % only: one steady load", &by_temperatures(0.1), CannotTell("pump-mode"));
    let mut w = by_temperatures(0.4);
    w.plant.coils.iter_mut().for_each(|c| c.valve = Some(Valve::ThreeWay));
    fixed("three-way valves: the loop's resistance does not move, so its control holds one speed", &w, CannotTell(""));
}

#[test]
fn ends_of_the_speed_range_are_not_a_hand() {
    let low_load = |floor: f64| {
        let mut w = World::new(15, DAYS);
        w.plant.control.minimum_speed = Some(Fraction::of_one(floor));
        w
    };
    // Floor of 80 %: the curve asks at most 78 % at 0.8 of design flow.
    let mut w = low_load(0.80);
    w.at_speed(0..DAYS, 0.80);
    fixed("rests on its floor, above what the curve asks", &w, CannotTell("pump-mode"));
    // 55 % is its floor, but the curve asks 65 to 78 % in every hour: the head is below it.
    let mut w = low_load(0.55);
    w.at_speed(0..DAYS, 0.55);
    fixed("stands on its floor while the head is far below the curve", &w, Found("P-1", 0));
    let mut w = World::new(15, DAYS);
    w.at_speed(0..DAYS, 1.0);
    fixed("flat out with 186 to 213 kPa where 76 to 127 are asked", &w, Found("P-1", 0));
    for i in 0..w.rows.len() {
        w.rows.pumps[0].curve[i] = 240.0;
    }
    fixed("flat out below its setpoint: never met", &w, CannotTell("pump-head"));
    // Without head: power at the low end is 0.72 of the high end where the flow goes from 0.35 to 0.8; 0.9 from 0.7 to 0.8.
    let flat_out = |least: f64| {
        let mut w = World::new(15, DAYS);
        for i in 0..w.rows.len() {
            if w.rows.pumps[0].state[i] != State::Off {
                let q = demand(w.day(i), w.hour(i)).max(least * DESIGN_FLOW);
                w.run(0, i, q, 1.0);
            }
        }
        let kept = w.rows.pumps[0].power.clone();
        w.only_speed();
        w.rows.pumps[0].power = kept;
        w
    };
    fixed("flat out, throttled far back at times", &flat_out(0.2), Found("P-1", 0));
    fixed("flat out and loaded: its setpoint may be out of reach", &flat_out(0.7), CannotTell("pump-mode"));
}

#[test]
fn declared_modes_and_commands_are_heard() {
    let held = |mode: Option<ControlMode>| {
        let mut w = World::new(15, DAYS);
        w.at_speed(0..DAYS, 0.8);
        w.plant.control.mode = mode;
        w
    };
    fixed("declared fixed-speed", &held(Some(ControlMode::FixedSpeed)), CannotTell(""));
    fixed("declared constant-flow", &held(Some(ControlMode::ConstantFlow)), CannotTell(""));
    fixed("something outside sets it", &held(Some(ControlMode::External)), CannotTell("pump-speed-command"));
    fixed("no mode is declared, and it never moves", &held(None), CannotTell("[control].mode"));
    let mut w = World::new(15, DAYS);
    w.plant.control.mode = None;
    w.at_speed(14..DAYS, 0.8);
    fixed("no mode is declared, but it moved for two weeks", &w, Found("P-1", 14));
    let mut w = held(Some(ControlMode::External));
    w.trend(Role::PumpSpeedCommand, Some("P-1"), "fraction", |i| 0.5 + 0.3 * (i % 96) as f64 / 96.0);
    fixed("the command moves from 50 to 80 % and the drive ignores it", &w, Found("P-1", 0));
    // On the floor a command below it moves nothing, one above it should.
    // Between 6 and 20 h it reaches 0.83 of its top: 33 and 79 %.
    for (top, want) in [(0.40, false), (0.95, true)] {
        let mut w = World::new(15, DAYS);
        w.plant.control.minimum_speed = Some(Fraction::of_one(0.6));
        w.steady_load(0.3).at_speed(0..DAYS, 0.6);
        w.trend(Role::PumpSpeedCommand, Some("P-1"), "fraction", |i| top * (i % 96) as f64 / 96.0);
        let want = if want { Found("P-1", 0) } else { CannotTell("pump-mode") };
        fixed("a command on the floor", &w, want);
    }
}

#[test]
fn flat_pumps_and_whole_per_cents_are_no_hand() {
    // Constant pressure at low load on a flat pump: 0.9 % of speed goes with a third of the power.
    let flat = |quantum: f64| {
        let mut w = World::new(5, DAYS);
        for i in 0..w.rows.len() {
            if w.rows.pumps[0].state[i] != State::Off {
                let x = (demand(w.day(i), w.hour(i)) / DESIGN_FLOW - 0.35) / 0.45;
                let q = DESIGN_FLOW * (0.05 + 0.2 * x);
                w.run(0, i, q, 0.866 + 0.009 * x);
                w.rows.pumps[0].power[i] = 2.0 + 0.4 * x + 0.01 * noise(i);
                if quantum > 0.0 {
                    w.rows.pumps[0].speed[i] = (w.rows.pumps[0].speed[i] / quantum).round() * quantum;
                }
            }
        }
        let kept = w.rows.pumps[0].power.clone();
        w.only_speed();
        w.rows.pumps[0].power = kept;
        w
    };
    fixed("it hardly moves, but with the load", &flat(0.0), Clear);
    // In whole per cents it reads 87 or 88 %, or 87 throughout: a fifth of the power may go with that.
    let verdicts = flat(0.01).rows.judge(&flat(0.01).plant, Fault::FixedSpeed);
    assert!(!verdicts.iter().any(|v| matches!(v, Verdict::Found(_))), "{verdicts:#?}");
    let mut w = World::new(5, DAYS);
    w.at_speed(0..DAYS, 0.85);
    w.rows.pumps[0].speed.iter_mut().for_each(|s| *s = (*s * 100.0).round() / 100.0);
    fixed("85 % in whole per cents while power moves by half", &w, Found("P-1", 0));
}

// ---- out of hours ----

fn extra(why: &str, w: &World, want: Want) -> Option<Finding> {
    check(why, Fault::OutOfHoursRunning, w, want)
}
fn office(minutes: u32) -> World {
    let mut w = World::new(minutes, DAYS);
    w.weekdays();
    w
}

#[test]
fn hours_outside_the_schedule_are_found_priced_and_dated() {
    extra("runs by its schedule", &office(15), Clear);
    for minutes in [1, 5, 15] {
        let mut w = office(minutes);
        w.also(|day, hour| day % 7 < 5 && (20.0..21.5).contains(&hour));
        let f = extra("an hour and a half after every stop", &w, Found("loop", 0)).unwrap();
        assert!((f.hours - 30.0).abs() < 0.6, "20 weekdays of 1.5 h: {}", f.hours);
        // 0.6^3 * 1.4 + 0.6^2 * 3.4 * 0.35 + 0.3 = 1.031 kW over 30 h.
        let waste = f.waste_kwh.unwrap();
        assert!((waste.estimate - 30.9).abs() < 0.7 && waste.low < 30.9 && waste.high > 30.9, "{waste:?}");
        let half = (waste.high - waste.low) / 2.0 / waste.estimate;
        assert!((0.049..0.051).contains(&half), "what the power meter may be off: {half}");
    }
    // Power known in 73 and in 87 % of those hours: four fifths make a price.
    for (share, priced) in [(0.75, false), (0.85, true)] {
        let mut w = office(15);
        w.also(|day, hour| day % 7 < 5 && (20.0..21.5).contains(&hour));
        for i in (0..w.rows.len()).filter(|i| ((i * 7) % 20) as f64 >= 20.0 * share) {
            if (20.0..21.5).contains(&w.hour(i)) {
                w.rows.pumps[0].power[i] = f64::NAN;
            }
        }
        let f = extra("an hour and a half after every stop", &w, Found("loop", 0)).unwrap();
        assert_eq!(f.waste_kwh.is_some(), priced, "{share}: {:?}", f.waste_kwh);
    }
    let mut w = office(15);
    w.also(|day, hour| day >= 14 && !(6.0..20.0).contains(&hour));
    extra("round the clock since day 14", &w, Found("loop", 14));
    let mut w = office(15);
    w.also(|day, hour| day % 7 == 5 && (8.0..14.0).contains(&hour));
    extra("six hours every Saturday: 24 h in 23 days", &w, Found("loop", 5));
    let mut w = office(15);
    w.also(|day, hour| day == 12 && (8.0..14.0).contains(&hour));
    extra("one Saturday", &w, Clear);
    let mut w = office(15);
    w.also(|day, hour| day % 7 < 5 && (1.0..2.0).contains(&hour) && day.is_multiple_of(2));
    extra("an hour every other night: below half an hour a day", &w, Clear);
}

#[test]
fn what_a_healthy_plant_does_outside_is_not_counted() {
    for minutes in [1, 5, 15] {
        let mut w = office(minutes);
        w.also(|day, hour| day % 7 < 5 && (20.0..20.5).contains(&hour));
        extra("runs on for half an hour", &w, Clear);
        let mut w = office(minutes);
        w.also(|_, hour| (2.0..2.25).contains(&hour));
        extra("a quarter of an hour's exercise every night", &w, Clear);
        // Optimum start: 45 min to 3 h before, longest on Mondays.
        let lead = |day: usize| if day.is_multiple_of(7) { 3.0 } else { 0.75 + 0.25 * (day * 5 % 9) as f64 };
        let mut w = office(minutes);
        w.also(|day, hour| day % 7 < 5 && (6.0 - lead(day)..6.0).contains(&hour));
        extra("an optimum start", &w, Clear);
        let mut w = office(minutes);
        w.also(|day, hour| day % 7 < 5 && (5.0..6.0).contains(&hour));
        extra("an hour's preheat every morning", &w, Clear);
        let mut w = office(minutes);
        w.also(|day, hour| day % 7 < 5 && (4.0..6.0).contains(&hour));
        let f = extra("two hours before every start, whatever the weather", &w, Found("loop", 0)).unwrap();
        assert!(f.confidence < 0.8, "an optimum start at its limit looks the same: {}", f.confidence);
    }
    let mut w = office(15);
    w.also(|_, hour| hour < 6.0 && hour.fract() < 0.25);
    extra("a quarter of every hour of the night is no exercise", &w, Found("loop", 0));
}

#[test]
fn frost_protection_is_told_apart_or_named() {
    let frosty = |declared: bool, trended: bool| {
        let mut w = office(15);
        // Nights 0 to 9 are cold.
        let cold = |day: usize, hour: f64| day < 10 && hour < 6.0;
        let n = w.rows.len();
        w.rows.outdoor = trended.then(|| (0..n).map(|i| if cold(w.day(i), w.hour(i)) { 0.0 } else { 9.0 }).collect());
        if declared {
            w.plant.system.frost_protection_below = Some(Temperature::celsius(3.0));
            w.rows.frost = (0..n).map(|i| trended && cold(w.day(i), w.hour(i))).collect();
        }
        w.also(|day, hour| day < 10 && (0.5 * (day % 9) as f64..6.0).contains(&hour));
        w
    };
    extra("declared, and cold", &frosty(true, true), Clear);
    extra(
        "runs in the cold only, and nobody declared it",
        &frosty(false, true),
        CannotTell("[loop].frost_protection_below"),
    );
    extra("declared, not trended, and different every night", &frosty(true, false), CannotTell("outdoor-temperature"));
    let mut w = office(15);
    w.plant.system.frost_protection_below = Some(Temperature::celsius(3.0));
    w.rows.outdoor = None;
    w.also(|day, hour| day % 7 < 5 && (20.0..23.0).contains(&hour));
    extra("declared, not trended, three hours after every stop", &w, Found("loop", 0));
}

#[test]
fn schedule_service_and_calls_bear_on_it() {
    let late = || {
        let mut w = office(15);
        w.also(|day, hour| day % 7 < 5 && (20.0..23.0).contains(&hour));
        w
    };
    let plain = extra("three hours after every stop", &late(), Found("loop", 0)).unwrap();
    let mut w = late();
    w.plant.schedule.clear();
    w.rows.in_schedule.fill(true);
    w.trend(Role::PlantEnable, None, "", |i| f64::from(u8::from((6..20).contains(&(i / 4 % 24)))));
    extra("no schedule", &w, CannotTell("[[schedule]]"));
    let said = w.rows.judge(&w.plant, Fault::OutOfHoursRunning);
    assert!(
        matches!(&said[0], Verdict::CannotTell { why, .. } if why.contains("60 h while the plant was not enabled")),
        "{said:#?}"
    );
    let mut w = late();
    w.plant.system.serves = Serves::DomesticHotWater;
    extra("domestic hot water keeps circulating", &w, CannotTell(""));
    let mut w = late();
    w.plant.system.serves = Serves::Critical;
    let f = extra("a critical load", &w, Found("loop", 0)).unwrap();
    assert!(f.confidence < plain.confidence && f.urgency == Urgency::Watch && f.change.starts_with("Ask"), "{f:#?}");
    let mut w = late();
    w.trend(Role::PlantEnable, None, "", |i| f64::from(u8::from((6..23).contains(&(i / 4 % 24)))));
    let f = extra("the plant is enabled in those hours", &w, Found("loop", 0)).unwrap();
    assert!(f.confidence < plain.confidence && f.could_also_be[0].contains("schedule"), "{f:#?}");
    let mut w = late();
    w.rows.pumps[0].state.fill(State::Unknown);
    extra("nobody knows when the pumps run", &w, CannotTell("pump-status"));
}

// ---- floor too high ----

fn floor(why: &str, w: &World, want: Want) -> Option<Finding> {
    check(why, Fault::MinimumSpeedTooHigh, w, want)
}
/// A floor under the speeds that the curve asks: 0.59 at 0.3 of design flow (73 + 5 = 78 kPa), 0.78 at 0.8. Nights at 0.3, days as ever.
fn floored(floor: f64, maker: Option<f64>) -> World {
    let mut w = World::new(15, DAYS);
    w.plant.control.minimum_speed = Some(Fraction::of_one(floor));
    w.plant.pumps[0].minimum_allowed_speed = maker.map(Fraction::of_one);
    for i in 0..w.rows.len() {
        let hour = w.hour(i);
        let q = if (6.0..20.0).contains(&hour) { demand(w.day(i), hour) } else { 0.3 * DESIGN_FLOW };
        w.run(0, i, q, speed_for(q, curve(q)).max(floor));
    }
    w
}

#[test]
fn a_floor_above_what_is_asked_is_found() {
    let f =
        floor("70 % where 59 % would do and the maker allows 30", &floored(0.70, Some(0.30)), Found("P-1", 0)).unwrap();
    // 280 h of nights at 0.3: head 220 * 0.49 - 5.2 = 102.6 kPa where 72.8 is asked.
    assert!(f.hours > 270.0 && f.waste_kwh.unwrap().low > 0.0, "{f:#?}");
    floor("60 % where 59 % would do", &floored(0.60, Some(0.30)), Clear);
    floor("70 % and the maker allows 67", &floored(0.70, Some(0.67)), Clear);
    floor("no floor is reached: the curve asks more", &floored(0.40, Some(0.30)), Clear);
    floor(
        "the maker's limit is not declared; 59 % of 70 is no clear excess",
        &floored(0.70, None),
        CannotTell("[[pump]].minimum_allowed_speed"),
    );
    let f = floor("80 % where 59 % would do, limit not declared", &floored(0.80, None), Found("P-1", 0)).unwrap();
    assert!(f.confidence < 0.6 && f.check_on_site[0].starts_with("Ask the makers"), "{f:#?}");
    floor("no limit, nothing to spare", &floored(0.60, None), Clear);
    let mut w = floored(0.70, Some(0.30));
    w.rows.pumps[0].curve.fill(f64::NAN);
    floor("nobody knows what is asked", &w, CannotTell("[control]"));
    let mut w = floored(0.70, Some(0.30));
    w.rows.need.fill(100.0);
    floor("the neediest valve needs the head that the floor makes", &w, Clear);
}

#[test]
fn few_hours_shut_valves_and_least_flow_hold_a_floor() {
    // By day 64 % is just what is asked at the least load; by night it makes 85 kPa where 73 are.
    floor("64 % at night, with valves open", &floored(0.64, Some(0.30)), Found("P-1", 0));
    let mut w = floored(0.64, Some(0.30));
    for i in 0..w.rows.len() {
        if !(6.0..20.0).contains(&w.hour(i)) {
            w.rows.valves.iter_mut().flatten().for_each(|v| v[i] = 0.01);
        }
    }
    floor("on its floor at night with every valve shut", &w, Clear);
    // The floor gives 20.4 m3/h at night; 20 must be kept.
    let kept = |bypass: Bypass, position: Option<f64>| {
        let mut w = floored(0.70, Some(0.30));
        w.plant.system.bypass = Some(bypass);
        w.plant.system.minimum_flow = None;
        w.plant.sources = vec![Source { name: "CH-1".into(), minimum_flow: Some(Flow::m3h(20.0)), maximum_flow: None }];
        let n = w.rows.len();
        w.rows.bypass_position = position.map(|p| vec![p; n]);
        w
    };
    floor(
        "a three-way coil keeps the machine's flow, which falls with speed",
        &kept(Bypass::ThreeWayCoils, None),
        Clear,
    );
    floor("a controlled bypass opens further", &kept(Bypass::TwoWay, Some(0.4)), Found("P-1", 0));
    floor("a controlled bypass that is all but open", &kept(Bypass::TwoWay, Some(0.9)), Clear);
    let mut w = kept(Bypass::ThreeWayCoils, None);
    w.plant.sources[0].minimum_flow = Some(Flow::m3h(12.0));
    floor("12 m3/h are kept down to 41 %", &w, Found("P-1", 0));
    let n = w.rows.len();
    w.rows.pumps[0].flow = vec![f64::NAN; n];
    floor("a least flow, and nobody knows the flow", &w, CannotTell("loop-flow"));
}

#[test]
fn a_floor_that_rises_is_dated_and_a_hand_is_not_a_floor() {
    let mut w = floored(0.55, Some(0.30));
    for i in 0..w.rows.len() {
        if w.day(i) >= 12 {
            let q = w.rows.pumps[0].flow[i];
            w.run(0, i, q, speed_for(q, curve(q)).max(0.72));
        }
    }
    floor("raised to 72 % on day 12, still declared as 55", &w, Found("P-1", 12));
    let mut w = floored(0.55, Some(0.30));
    w.at_speed(0..DAYS, 0.80);
    floor("80 % day and night, declared 55: a hand, and no floor", &w, Clear);
    // A whole curve 60 kPa too high is not the floor's doing.
    let mut w = floored(0.55, Some(0.30));
    for i in 0..w.rows.len() {
        let q = w.rows.pumps[0].flow[i];
        w.run(0, i, q, speed_for(q, curve(q) + 60.0));
    }
    floor("60 kPa above the curve at every speed", &w, CannotTell(""));
    // A remote sensor instead of a curve at the pump: 30 kPa above its setpoint on the floor, on it elsewhere.
    let mut w = floored(0.70, Some(0.30));
    w.plant.control.mode = Some(ControlMode::RemotePressure);
    w.plant.control.setpoint = Some(Pressure::kpa(40.0));
    let off: Vec<f64> = (0..w.rows.len()).map(|i| 40.0 + w.rows.pumps[0].head[i] - w.rows.pumps[0].curve[i]).collect();
    w.rows.pumps[0].curve.fill(f64::NAN);
    w.rows.dp = Some(off);
    floor("a sensor 30 kPa above its setpoint on the floor", &w, Found("P-1", 0));
}

// ---- preferred region ----

fn region(why: &str, w: &World, want: Want) -> Option<Finding> {
    check(why, Fault::OutsidePreferredRegion, w, want)
}
/// The usual day with a pump whose best flow is this at rated speed. At 0.35 of design flow the speed is 0.63, at 0.8 0.78: flows over
/// speed from 38 to 70 m3/h.
fn sized(best: f64) -> World {
    let mut w = World::new(15, DAYS);
    w.rows.pumps[0].best_flow = best;
    w
}

#[test]
fn pumps_far_from_their_best_flow_are_found() {
    region("best at 68 m3/h: 0.56 to 1.0 of it", &sized(68.0), Clear);
    let f = region("best at 130: 0.29 to 0.54, and 0.52 at design", &sized(130.0), Found("P-1", 0)).unwrap();
    assert!(f.urgency == Urgency::Watch && f.waste_kwh.is_none(), "{f:#?}");
    let f = region("best at 40: 0.95 to 1.75, above 1.2 for most of the day", &sized(40.0), Found("P-1", 0)).unwrap();
    assert!(f.urgency == Urgency::Plan && f.could_also_be[0].contains("bypass"), "{f:#?}");
    region("best at 60: 0.64 to 1.17", &sized(60.0), Clear);
    let mut w = sized(40.0);
    w.rows.pumps[0].flow_half = 0.5;
    region("the same flow, known to a half only", &w, CannotTell("[[pump]].best_efficiency_flow"));
    region("no table", &sized(f64::NAN), CannotTell("[[pump.curve]]"));
    for basis in [Basis::PowerBound, Basis::Speed, Basis::None] {
        let mut w = sized(130.0);
        w.rows.pumps[0].basis = basis;
        region("a bound or speed alone fixes no flow", &w, CannotTell("pump-head"));
    }
}

#[test]
fn part_load_of_a_pump_that_fits_is_no_fault() {
    // A mild month: 0.2 to 0.42 of design flow, so 0.36 to 0.69 of best flow; at design it is at 1.0.
    let mild = |best: f64| {
        let mut w = sized(best);
        for i in 0..w.rows.len() {
            if w.rows.pumps[0].state[i] != State::Off {
                let q = 0.2 * DESIGN_FLOW + 0.5 * (demand(w.day(i), w.hour(i)) - 0.35 * DESIGN_FLOW);
                w.run(0, i, q, speed_for(q, curve(q)));
            }
        }
        w
    };
    region("a mild month of a pump that fits, and reaches its region at times", &mild(60.0), Clear);
    region("the same month with twice the pump", &mild(130.0), Found("P-1", 0));
    // Two pumps share what one could give: 0.5 each, 1.0 alone.
    let mut w = sized(100.0).with_second();
    w.plant.system.pumps_on_duty = Some(2);
    for i in 0..w.rows.len() {
        if w.rows.pumps[0].state[i] != State::Off {
            let (q, s) = (w.rows.pumps[0].flow[i] / 2.0, w.rows.pumps[0].speed[i]);
            w.run(0, i, q, s);
            w.run(1, i, q, s);
        }
    }
    w.rows.pumps[1].best_flow = 30.0;
    let f = region("the larger of two runs far left beside the other", &w, Found("P-1", 0)).unwrap();
    assert!(f.because.contains("At its design duty"), "{f:#?}");
}

/// Above a US specific speed of 4,500 the region ends at 115 %: 1450 rpm, 500 m3/h (2201 gpm) and 60 kPa (20.07 ft) give
/// 1450 * 46.92 / 9.482 = 7,175.
#[test]
fn high_specific_speed_narrows_the_region() {
    use offcurve::plant::{PowerIs, TestedCurve};
    let near = |rpm: f64| {
        let mut w = sized(42.0);
        for i in 0..w.rows.len() {
            if w.rows.pumps[0].state[i] != State::Off {
                w.run(0, i, 1.18 * 42.0 * 0.8, 0.8);
            }
        }
        w.rows.pumps[0].flow_half = 0.005;
        w.plant.pumps[0].rated_speed = Some(ShaftSpeed::rpm(rpm));
        w.plant.pumps[0].best_efficiency_flow = Some(Flow::m3h(42.0));
        w.plant.pumps[0].curves = vec![TestedCurve {
            speed: Fraction::of_one(1.0),
            power_is: PowerIs::Shaft,
            tolerance: None,
            head_flow_m3h: vec![0.0, 42.0, 84.0],
            head_kpa: vec![60.0, 60.0, 60.0],
            power_flow_m3h: Vec::new(),
            power_kw: Vec::new(),
        }];
        w
    };
    // 42 m3/h is 184.9 gpm: 1450 rpm give 2,079, 3500 rpm 5,019.
    region("1.18 of best flow at specific speed 2,079", &near(1450.0), Clear);
    let mut w = near(3500.0);
    w.plant.pumps[0].best_efficiency_flow = None;
    region("1.18, and the best flow read off a table to 5 %", &w, CannotTell("[[pump]].best_efficiency_flow"));
    region("1.18 of best flow at specific speed 5,019", &near(3500.0), Found("P-1", 0));
}

/// Beyond the tested points the table is silent, a meter is not.
#[test]
fn run_out_beyond_the_table_is_seen_by_a_meter() {
    let mut w = sized(40.0);
    let flow = w.rows.pumps[0].flow.clone();
    let n = w.rows.len();
    w.rows.pumps[0].flow = vec![f64::NAN; n];
    w.rows.pumps[0].basis = Basis::OutsideTable;
    region("outside the table", &w, CannotTell("loop-flow"));
    w.trend(Role::LoopFlow, None, "m3/h", |i| flow[i]);
    region("outside the table, by the loop's meter", &w, Found("P-1", 0));
}

// ---- deadheading ----

fn dead(why: &str, w: &World, want: Want) -> Option<Finding> {
    check(why, Fault::Deadheading, w, want)
}
#[test]
fn a_head_that_stands_apart_is_behind_a_shut_valve() {
    // Two pumps at 80 %: one makes 140.8 kPa at no flow, the other 117 at 0.6 to 0.65 of design flow.
    let apart = |own: f64| {
        let mut w = World::new(5, DAYS).with_second();
        for i in 0..w.rows.len() {
            if (9.0..11.0).contains(&w.hour(i)) {
                let q = w.rows.pumps[0].flow[i];
                w.run(1, i, 0.0, 0.8);
                w.run(0, i, q, 0.8);
            }
        }
        let heads: Vec<Vec<f64>> = w.rows.pumps.iter().map(|p| p.head.clone()).collect();
        w.trend(Role::PumpHead, Some("P-1"), "kPa", |i| heads[0][i]);
        w.trend(Role::PumpHead, Some("P-2"), "kPa", |i| heads[1][i] * own);
        w
    };
    let w = apart(1.0);
    assert!(
        only(&w, "P-2").iter().any(|v| matches!(v, Verdict::Found(f) if f.urgency == Urgency::Act)),
        "{:#?}",
        only(&w, "P-2")
    );
    assert!(
        !only(&w, "P-1").iter().any(|v| matches!(v, Verdict::Found(_))),
        "the other delivers: {:#?}",
        only(&w, "P-1")
    );
    let w = apart(0.85);
    assert!(
        !only(&w, "P-2").iter().any(|v| matches!(v, Verdict::Found(_))),
        "120 kPa beside 117 are one header: {:#?}",
        only(&w, "P-2")
    );
    // One pump at the head of no flow, and nothing of it reaches the headers.
    let mut w = metered(0.0, 2.0, 0);
    let own = w.rows.pumps[0].head.clone();
    w.rows.trends.clear();
    w.trend(Role::PumpHead, Some("P-1"), "kPa", |i| own[i]);
    w.rows.dp = Some((0..own.len()).map(|i| if (12..14).contains(&(i / 12 % 24)) { 0.5 } else { 40.0 }).collect());
    dead("nothing reaches the headers", &w, Found("P-1", 0));
}

/// Two pumps; the second turns at a speed from 8 h for so many hours, every day. The first holds 76 to 127 kPa between the headers.
fn second_at(speed: f64, hours: f64, minutes: u32) -> World {
    let mut w = World::new(minutes, DAYS).with_second();
    let held: Vec<f64> = w.rows.pumps[0].head.clone();
    for i in 0..w.rows.len() {
        if w.hour(i) >= 8.0 && w.hour(i) < 8.0 + hours {
            let valves = w.rows.valves.clone();
            w.run(1, i, 0.0, speed);
            w.rows.valves = valves;
            w.rows.pumps[1].head[i] = held[i];
            w.rows.pumps[1].power[i] = 0.5;
        }
    }
    w.trend(Role::PumpHead, None, "kPa", |i| held[i]);
    w
}
fn only(w: &World, pump: &str) -> Vec<Verdict> {
    let of = |v: &Verdict| match v {
        Verdict::Found(f) => f.subject == pump,
        Verdict::Clear { subject, .. } | Verdict::CannotTell { subject, .. } => subject == pump,
    };
    w.rows.judge(&w.plant, Fault::Deadheading).into_iter().filter(of).collect()
}

#[test]
fn a_pump_behind_its_check_valve_is_found() {
    for minutes in [1, 5, 15] {
        // 45 % makes 44.6 kPa at no flow; the header holds 83 and more: it opens from sqrt(83 / 220) = 61 % on.
        let f = dead(
            "two hours a day at 45 % beside a pump at 65 to 78 %",
            &second_at(0.45, 2.0, minutes),
            Found("P-2", 0),
        )
        .unwrap();
        assert!(f.urgency == Urgency::Act && f.because.contains("check valve"), "{f:#?}");
        assert!(f.caution.contains("casing") && f.caution.contains("Local codes"), "{f:#?}");
        // 0.5 kW over 56 h, 28 days of two.
        assert!((f.waste_kwh.unwrap().estimate - 28.0).abs() < 0.1, "{f:#?}");
        // What the power meter may be off: 5 %.
        let half = f.waste_kwh.map(|w| (w.high - w.low) / 2.0 / w.estimate).unwrap();
        assert!((0.049..0.051).contains(&half), "{half}");
        // 0.5 kW electric, 0.85 of it to the shaft, into 10 L: 0.425 * 60 / (0.01 * 998.2 * 4.185) = 0.61 K/min.
        let pace = f.evidence.iter().find(|e| e.unit == "K/min").unwrap().value;
        assert!((pace - 0.61).abs() < 0.01, "{pace}");
        let f = dead("half an hour a day", &second_at(0.45, 0.5, minutes), Found("P-2", 0)).unwrap();
        assert_eq!(f.urgency, Urgency::Plan, "no stretch of an hour: {f:#?}");
    }
    let w = second_at(0.45, 1.0 / 6.0, 5);
    assert!(
        !only(&w, "P-2").iter().any(|v| matches!(v, Verdict::Found(_))),
        "ten minutes a day are staging: {:#?}",
        only(&w, "P-2")
    );
    let w = second_at(0.72, 2.0, 5);
    assert!(
        !only(&w, "P-2").iter().any(|v| matches!(v, Verdict::Found(_))),
        "72 % makes 114 kPa, above what is held at 8 to 10 h: {:#?}",
        only(&w, "P-2")
    );
    let mut w = second_at(0.45, 2.0, 5);
    w.rows.trends.clear();
    assert!(matches!(&only(&w, "P-2")[0], Verdict::CannotTell { .. }), "speed and power alone: {:#?}", only(&w, "P-2"));
    let mut w = second_at(0.45, 2.0, 5);
    w.rows.pumps[1].shut_off = f64::NAN;
    assert!(
        matches!(&only(&w, "P-2")[0], Verdict::CannotTell { missing, .. } if missing.iter().any(|m| m == "[[pump.curve]]")),
        "no table: {:#?}",
        only(&w, "P-2")
    );
}

/// One pump whose meter reads this share of the usual flow for so many hours of the afternoon.
fn metered(share: f64, hours: f64, from_day: usize) -> World {
    let mut w = World::new(5, DAYS);
    for i in 0..w.rows.len() {
        let in_it = w.day(i) >= from_day && w.hour(i) >= 12.0 && w.hour(i) < 12.0 + hours;
        if in_it {
            let q = share * w.rows.pumps[0].flow[i];
            w.run(0, i, q, 0.7);
        }
    }
    let (flow, head) = (w.rows.pumps[0].flow.clone(), w.rows.pumps[0].head.clone());
    w.trend(Role::LoopFlow, None, "m3/h", |i| flow[i]);
    w.trend(Role::PumpHead, None, "kPa", |i| head[i]);
    w
}

#[test]
fn a_meter_at_zero_is_heard_unless_something_contradicts() {
    dead("it delivers all month", &metered(1.0, 0.0, 0), Clear);
    dead("two hours a day at zero and at the head of no flow, since day 9", &metered(0.0, 2.0, 9), Found("P-1", 9));
    dead("a tenth of the flow is little, and flow", &metered(0.12, 2.0, 0), Clear);
    let mut w = metered(0.0, 2.0, 0);
    w.rows.trends[1].values.iter_mut().for_each(|h| *h *= 0.8);
    dead("the head says that water moves: the meter stands", &w, Clear);
    let mut w = metered(0.0, 2.0, 0);
    let n = w.rows.len();
    w.rows.bypass_position = Some(vec![0.3; n]);
    dead("the bypass is open, and the meter may be beyond it", &w, Clear);
    let mut w = metered(0.0, 2.0, 0);
    w.rows.trends.truncate(1);
    dead("the meter alone", &w, Found("P-1", 0));
    let mut w = metered(0.0, 2.0, 27);
    dead("one afternoon of two hours is a hazard", &w, Found("P-1", 27));
    // A run of 15 min against shut valves is an exercise; so are rows that are still starting.
    w = metered(0.0, 0.0, 0);
    for i in 0..w.rows.len() {
        if (2.0..2.25).contains(&w.hour(i)) {
            w.run(0, i, 0.0, 0.7);
            w.rows.trends[0].values[i] = 0.0;
        } else if (6.0..6.5).contains(&w.hour(i)) {
            w.rows.pumps[0].state[i] = State::Starting;
            w.rows.trends[0].values[i] = 0.0;
        }
    }
    dead("exercise and starts", &w, Clear);
}

#[test]
fn shut_valves_and_the_head_of_no_flow_tell_without_a_meter() {
    let shut = |open: f64, bypass: Option<f64>| {
        let mut w = metered(0.0, 2.0, 0);
        w.rows.trends.remove(0);
        let n = w.rows.len();
        w.rows.bypass_position = bypass.map(|b| vec![b; n]);
        for i in 0..n {
            if (12.0..14.0).contains(&w.hour(i)) {
                w.rows.valves.iter_mut().flatten().for_each(|v| v[i] = open);
            }
        }
        w
    };
    dead("every valve and the bypass are shut", &shut(0.0, Some(0.0)), Found("P-1", 0));
    dead("a least-flow bypass stands open", &shut(0.0, Some(0.3)), Clear);
    dead("valves are open: what flows is not known to be nothing", &shut(0.4, Some(0.0)), Clear);
    dead("nobody knows where the bypass stands", &shut(0.0, None), Clear);
    let mut w = shut(0.0, Some(0.0));
    w.rows.pumps[0].flow.iter_mut().filter(|q| **q == 0.0).for_each(|q| *q = 0.12 * DESIGN_FLOW);
    dead("all read shut and a tenth of the flow goes somewhere: a bypass may be stuck", &w, Clear);
    w.plant.system.bypass = Some(Bypass::None);
    w.rows.pumps[0].flow.iter_mut().filter(|q| **q == 0.12 * DESIGN_FLOW).for_each(|q| *q = 0.04 * DESIGN_FLOW);
    dead("no bypass, every valve shut, at the head of no flow", &w, Found("P-1", 0));
    let mut w = metered(0.0, 2.0, 0);
    w.rows.trends.clear();
    dead("power and speed alone", &w, CannotTell("pump-head"));
}

// ---- all five ----

const MINE: [Fault; 5] = [
    Fault::FixedSpeed,
    Fault::OutOfHoursRunning,
    Fault::MinimumSpeedTooHigh,
    Fault::OutsidePreferredRegion,
    Fault::Deadheading,
];

#[test]
fn healthy_rows_raise_none_of_the_five() {
    for minutes in [1, 5, 15] {
        let mut w = World::new(minutes, DAYS);
        w.weekdays();
        w.plant.pumps[0].minimum_allowed_speed = Some(Fraction::of_one(0.3));
        let verdicts = w.rows.judge_all(&w.plant);
        let found: Vec<&Verdict> =
            verdicts.iter().filter(|v| matches!(v, Verdict::Found(_)) && MINE.contains(&fault_of(v))).collect();
        assert!(found.is_empty(), "{minutes} min: {found:#?}");
    }
}

/// No rows, one row, nothing known, unknown here and there: every fault answers and none panics.
#[test]
fn rows_with_nothing_in_them_pass() {
    for days in [0, 1, 3] {
        let mut w = World::new(15, days);
        w.weekdays();
        let answers = |w: &World| MINE.iter().all(|f| !w.rows.judge(&w.plant, *f).is_empty());
        assert!(answers(&w));
        for i in (0..w.rows.len()).step_by(3) {
            let p = &mut w.rows.pumps[0];
            for column in [&mut p.speed, &mut p.flow, &mut p.head, &mut p.curve, &mut p.power] {
                column[i] = f64::NAN;
            }
            w.rows.valves.iter_mut().flatten().for_each(|v| v[i] = f64::NAN);
            w.rows.outdoor.as_mut().unwrap()[i] = f64::NAN;
        }
        assert!(answers(&w));
        w.only_speed();
        w.rows.pumps[0].speed.fill(f64::NAN);
        assert!(answers(&w));
        w.plant.pumps.clear();
        w.rows.pumps.clear();
        assert!(
            w.rows.judge(&w.plant, Fault::OutOfHoursRunning).iter().all(|v| matches!(v, Verdict::CannotTell { .. }))
        );
    }
}

/// A row on each side of each limit.
#[path = "thresholds_duty.rs"]
mod thresholds;
#[path = "thresholds_floors.rs"]
mod thresholds_floors;
#[path = "thresholds_idle.rs"]
mod thresholds_idle;
#[path = "thresholds_movers.rs"]
mod thresholds_movers;
