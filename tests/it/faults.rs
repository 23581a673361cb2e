//! The rules, each on a loop of a few equations written here and not in the project: four equal coils on
//! equal-percentage valves (rangeability 40, not the 50 the rules take), a common pipe that takes 30 % of the design
//! head, hourly rows from 6 to 20 h. Every row says why its answer is right.

use crate::declared::{self, DESIGN_FLOW, DESIGN_HEAD, ZERO_FLOW_HEAD};
use offcurve::faults::{self, Case, CoilCase, Fault, Looks, PumpCase, Verdict};
use offcurve::operating::{Basis, State};
use offcurve::plant::{Bypass, ControlMode, Plant, Service, Valve};
use offcurve::quantity::{Flow, Fraction, Temperature};
use offcurve::regimes::Regime;

/// What is planted. Shares are of the design flow or design head.
#[derive(Clone, Copy)]
struct Scenario {
    days: usize,
    /// Load at its height, share of design.
    peak: f64,
    /// Zero-flow and design head that the pump holds.
    held: (f64, f64),
    /// From a day on, another pair.
    held_from: Option<(usize, (f64, f64))>,
    /// Conductance of an open bypass over the loop's design conductance, from a day on.
    bypass: Option<(usize, f64)>,
    /// A bypass that opens below this flow only [m3/h].
    minimum_flow_bypass: Option<f64>,
    /// From a day on, the first coil needs this much more water for its load.
    foul: Option<(usize, f64)>,
    /// From a day on, all coils need this much more water (a fall of the difference without a bypass).
    thirst: Option<(usize, f64)>,
    /// Supply temperature minus design, per day index.
    supply_shift: fn(usize) -> f64,
    /// Valves are larger: their conductance over what the design needs.
    oversize: f64,
    head_half_kpa: f64,
}

impl Default for Scenario {
    fn default() -> Self {
        Self {
            days: 28,
            peak: 0.9,
            held: (ZERO_FLOW_HEAD, DESIGN_HEAD),
            held_from: None,
            bypass: None,
            minimum_flow_bypass: None,
            foul: None,
            thirst: None,
            supply_shift: |_| 0.0,
            oversize: 1.0,
            head_half_kpa: 3.0,
        }
    }
}

const COMMON_PIPE_KPA: f64 = 0.3 * DESIGN_HEAD;
const RANGEABILITY: f64 = 40.0;

struct Record {
    step_h: f64,
    time_ms: Vec<i64>,
    local_day: Vec<u32>,
    local_hour: Vec<f32>,
    flags: Vec<bool>,
    steady: Vec<bool>,
    state: Vec<State>,
    regime: Vec<Regime>,
    speed: Vec<f64>,
    flow: Vec<f64>,
    flow_low: Vec<f64>,
    flow_high: Vec<f64>,
    head: Vec<f64>,
    head_low: Vec<f64>,
    head_high: Vec<f64>,
    curve: Vec<f64>,
    power: Vec<f64>,
    pumps_on: Vec<u8>,
    supply: Option<Vec<f64>>,
    back: Option<Vec<f64>>,
    outdoor: Option<Vec<f64>>,
    bypass_position: Option<Vec<f64>>,
    valves: Vec<Option<Vec<f64>>>,
    coil_back: Vec<Option<Vec<f64>>>,
    need: Vec<f64>,
    neediest: Vec<u16>,
    priced: bool,
    /// Regimes of a second pump that otherwise does the same.
    second: Option<Vec<Regime>>,
}

/// Noise that repeats: uniform in -1..1.
struct Noise(u64);
impl Noise {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as f64 / f64::from(1u32 << 30) - 1.0
    }
}

fn since<T: Copy>(what: Option<(usize, T)>, day: usize) -> Option<T> {
    what.filter(|w| day >= w.0).map(|w| w.1)
}

fn simulate(s: &Scenario) -> Record {
    let rows = s.days * 24;
    let mut r = Record {
        step_h: 1.0,
        time_ms: (0..rows).map(|i| i as i64 * 3_600_000).collect(),
        local_day: (0..rows).map(|i| 738_000 + (i / 24) as u32).collect(),
        local_hour: (0..rows).map(|i| (i % 24) as f32).collect(),
        flags: vec![false; rows],
        steady: vec![false; rows],
        state: vec![State::Off; rows],
        regime: vec![Regime::Off; rows],
        speed: vec![0.0; rows],
        flow: vec![0.0; rows],
        flow_low: vec![0.0; rows],
        flow_high: vec![0.0; rows],
        head: vec![f64::NAN; rows],
        head_low: vec![f64::NAN; rows],
        head_high: vec![f64::NAN; rows],
        curve: vec![f64::NAN; rows],
        power: vec![0.0; rows],
        pumps_on: vec![0; rows],
        supply: Some(vec![6.0; rows]),
        back: Some(vec![12.0; rows]),
        outdoor: Some(vec![20.0; rows]),
        bypass_position: None,
        valves: vec![Some(vec![0.0; rows]); 4],
        coil_back: vec![Some(vec![12.0; rows]); 4],
        need: vec![f64::NAN; rows],
        neediest: vec![3; rows],
        priced: true,
        second: None,
    };
    let mut noise = Noise(7);
    for i in (0..rows).filter(|i| (6..20).contains(&(i % 24))) {
        one_row(s, &mut r, i, &mut noise);
    }
    r
}

fn one_row(s: &Scenario, r: &mut Record, i: usize, noise: &mut Noise) {
    let day = i / 24;
    let warm = 0.5 - 0.5 * ((day * 5 % 7) as f64 / 7.0 * std::f64::consts::TAU).cos();
    let of_day = ((i % 24) as f64 - 6.0) / 14.0 * std::f64::consts::PI;
    let load = s.peak * (0.45 + 0.35 * of_day.sin() + 0.2 * warm) * (1.0 + 0.02 * noise.next());
    let supply = 6.0 + (s.supply_shift)(day) + 0.05 * noise.next();
    // A coil in health: the difference rises as its load falls.
    let difference = 6.0 * (1.0 + 0.4 * (1.0 - load));
    let (mut wanted, mut more) = ([0.0; 4], [1.0; 4]);
    for (k, w) in wanted.iter_mut().enumerate() {
        // The index branch has meetings from 10 to 14 h: four fifths of its load, whatever the others have.
        let meeting = if k == 3 && (10..14).contains(&(i % 24)) { 0.82 } else { 0.0 };
        let own = (load * (1.0 + 0.06 * ((i * (k + 3)) as f64).sin())).max(meeting);
        more[k] = since(s.foul, day).filter(|_| k == 0).unwrap_or(1.0) * since(s.thirst, day).unwrap_or(1.0);
        *w = DESIGN_FLOW / 4.0 * own * 6.0 / difference * more[k];
    }
    let coils: f64 = wanted.iter().sum();
    let (zero, design) = since(s.held_from, day).unwrap_or(s.held);
    let asked = |q: f64| zero + (design - zero) * (q / DESIGN_FLOW).powi(2);
    // Bypass at the headers: its flow and the head of the curve find each other.
    let design_conductance = DESIGN_FLOW / DESIGN_HEAD.sqrt();
    let honest = s.minimum_flow_bypass.filter(|m| coils < *m).map(|m| m - coils);
    let mut past = 0.0;
    for _ in 0..40 {
        past = honest
            .unwrap_or_else(|| since(s.bypass, day).unwrap_or(0.0) * design_conductance * asked(coils + past).sqrt());
    }
    let flow = coils + past;
    let head = asked(flow);
    let pipe = COMMON_PIPE_KPA * (coils / DESIGN_FLOW).powi(2);
    let fully_open =
        s.oversize * (DESIGN_FLOW / 4.0) / (DESIGN_HEAD - COMMON_PIPE_KPA).sqrt() / RANGEABILITY.powf(-0.05);
    let through = |w: f64, over: f64| w / over.sqrt() / fully_open;
    for (k, w) in wanted.iter().enumerate() {
        let x = 1.0 + through(*w, head - pipe).ln() / RANGEABILITY.ln();
        r.valves[k].as_mut().expect("trended")[i] = (x + 0.004 * noise.next()).clamp(0.0, 1.0);
        let back = supply + difference / more[k];
        r.coil_back[k].as_mut().expect("trended")[i] = back + 0.05 * noise.next();
    }
    let most = wanted.iter().copied().fold(0.0, f64::max);
    r.need[i] = pipe + (most / (fully_open * RANGEABILITY.powf(-0.1))).powi(2);
    let taken: f64 = wanted.iter().zip(&more).map(|(w, m)| w * difference / m).sum();
    r.supply.as_mut().expect("trended")[i] = supply;
    r.back.as_mut().expect("trended")[i] = supply + taken / flow + 0.05 * noise.next();
    r.outdoor.as_mut().expect("trended")[i] = 15.0 + 15.0 * load;
    r.flow[i] = flow * (1.0 + 0.005 * noise.next());
    (r.flow_low[i], r.flow_high[i]) = (flow * 0.97, flow * 1.03);
    r.head[i] = head + 0.5 * noise.next();
    (r.head_low[i], r.head_high[i]) = (r.head[i] - s.head_half_kpa, r.head[i] + s.head_half_kpa);
    r.curve[i] = ZERO_FLOW_HEAD + (DESIGN_HEAD - ZERO_FLOW_HEAD) * (r.flow[i] / DESIGN_FLOW).powi(2);
    r.power[i] = electric(flow, head);
    r.speed[i] = ((head + 40.0 * (flow / DESIGN_FLOW).powi(2)) / 220.0).sqrt();
    r.pumps_on[i] = 1;
    r.steady[i] = true;
    r.state[i] = State::Steady;
    let room = s.head_half_kpa + 0.03 * DESIGN_HEAD;
    let off = r.head[i] - r.curve[i];
    r.regime[i] = if off > room {
        Regime::AboveCurve
    } else if off < -room {
        Regime::BelowCurve
    } else {
        Regime::OnCurve
    };
}

/// Hydraulic power over an efficiency of one half [kW].
fn electric(flow_m3h: f64, head_kpa: f64) -> f64 {
    flow_m3h * head_kpa / 3600.0 / 0.5
}

fn verdicts(plant: &Plant, r: &Record) -> Vec<Verdict> {
    let price = |q: f64, h: f64, _: u8| if r.priced { electric(q, h) } else { f64::NAN };
    let coils = plant.coils.iter().enumerate().map(|(k, declared)| CoilCase {
        name: &declared.name,
        valve: r.valves[k].as_deref(),
        air_c: None,
        air_setpoint_c: None,
        return_c: r.coil_back[k].as_deref(),
        fan_on: None,
        declared,
    });
    let basis = vec![Basis::Measured(3); r.flow.len()];
    let common = vec![f64::NAN; r.flow.len()];
    let case = Case {
        step_h: r.step_h,
        time_ms: &r.time_ms,
        local_day: &r.local_day,
        local_hour: &r.local_hour,
        in_schedule: &r.steady,
        frost: &r.flags,
        plant,
        pumps: [Some(&r.regime), r.second.as_ref()]
            .into_iter()
            .flatten()
            .zip(["P-1", "P-2"])
            .map(|(regime, name)| PumpCase {
                name,
                regime,
                state: &r.state,
                speed: &r.speed,
                flow_m3h: &r.flow,
                flow_low_m3h: &r.flow_low,
                flow_high_m3h: &r.flow_high,
                head_kpa: &r.head,
                head_low_kpa: &r.head_low,
                head_high_kpa: &r.head_high,
                curve_head_kpa: &r.curve,
                power_kw: &r.power,
                basis: &basis,
                flow_sd_common_m3h: &common,
                best_flow_m3h: f64::NAN,
                best_range_m3h: (f64::NAN, f64::NAN),
                shut_off_kpa: f64::NAN,
                check: None,
                declared: &plant.pumps[0],
            })
            .collect(),
        loop_flow_m3h: &r.flow,
        loop_flow_low_m3h: &r.flow_low,
        loop_flow_high_m3h: &r.flow_high,
        loop_head_kpa: &r.head,
        loop_power_kw: &r.power,
        pumps_on: &r.pumps_on,
        steady: &r.steady,
        supply_c: r.supply.as_deref(),
        return_c: r.back.as_deref(),
        outdoor_c: r.outdoor.as_deref(),
        bypass_position: r.bypass_position.as_deref(),
        dp_kpa: None,
        dp_setpoint_kpa: None,
        coils: coils.collect(),
        need_kpa: &r.need,
        need_high_kpa: &r.need,
        neediest: &r.neediest,
        need_at_design: None,
        price: &price,
        trends: &[],
        doubts: &[],
        looks: Looks::default(),
    };
    faults::judge(&case)
}

#[derive(Debug, PartialEq, Clone, Copy)]
enum Want {
    /// Subject, and the day it began on.
    Found(&'static str, usize),
    Clear,
    CannotTell,
}

/// One rule's answer on a scenario, after the plant file or the record were changed.
fn check(why: &str, fault: Fault, s: Scenario, change: impl Fn(&mut Plant, &mut Record), want: Want) -> Vec<Verdict> {
    let mut plant = declared::plant();
    let mut record = simulate(&s);
    change(&mut plant, &mut record);
    let verdicts = verdicts(&plant, &record);
    let found: Vec<(String, usize)> = verdicts
        .iter()
        .filter_map(|v| match v {
            Verdict::Found(f) if f.fault == fault => Some((f.subject.clone(), (f.first_seen_ms / 86_400_000) as usize)),
            _ => None,
        })
        .collect();
    let mine: Vec<&Verdict> = verdicts.iter().filter(|v| code(v) == fault).collect();
    match want {
        Want::Found(subject, day) => {
            assert!(found.iter().any(|(s, d)| s == subject && d.abs_diff(day) <= 1), "{why}: {mine:#?}");
            assert_eq!(found.len(), 1, "{why}: {mine:#?}");
        }
        Want::Clear => {
            assert!(mine.iter().all(|v| matches!(v, Verdict::Clear { .. })) && !mine.is_empty(), "{why}: {mine:#?}");
        }
        Want::CannotTell => {
            assert!(
                mine.iter().all(|v| matches!(v, Verdict::CannotTell { .. })) && !mine.is_empty(),
                "{why}: {mine:#?}"
            );
        }
    }
    verdicts
}

fn code(v: &Verdict) -> Fault {
    match v {
        Verdict::Found(f) => f.fault,
        Verdict::Clear { fault, .. } | Verdict::CannotTell { fault, .. } => *fault,
    }
}

fn as_is(_: &mut Plant, _: &mut Record) {}

/// Nothing planted: nothing found, by any rule.
fn check_quiet(why: &str, s: Scenario, change: impl Fn(&mut Plant, &mut Record)) {
    let mut plant = declared::plant();
    let mut record = simulate(&s);
    change(&mut plant, &mut record);
    let found: Vec<Verdict> =
        verdicts(&plant, &record).into_iter().filter(|v| matches!(v, Verdict::Found(_))).collect();
    assert!(found.is_empty(), "{why}: {found:#?}");
}

#[test]
fn a_loop_in_health_raises_no_alarm() {
    check_quiet("load up to design, everything as declared", Scenario::default(), as_is);
    check_quiet("low-load weeks only: little need is honest", Scenario { peak: 0.45, ..Scenario::default() }, as_is);
    check_quiet(
        "a bypass that opens below 20 m3/h keeps the minimum flow of 14",
        Scenario { peak: 0.6, minimum_flow_bypass: Some(20.0), ..Scenario::default() },
        as_is,
    );
    check_quiet("no trends of temperature, valves or need", Scenario::default(), |_, r| {
        (r.supply, r.back) = (None, None);
        r.valves.iter_mut().for_each(|v| *v = None);
        r.need.iter_mut().for_each(|n| *n = f64::NAN);
    });
    check_quiet("an empty record", Scenario { days: 0, ..Scenario::default() }, as_is);
    check_quiet("a record of nothing but gaps", Scenario::default(), |_, r| {
        for v in [&mut r.flow, &mut r.head, &mut r.head_low, &mut r.head_high, &mut r.speed, &mut r.power, &mut r.need]
        {
            v.iter_mut().for_each(|x| *x = f64::NAN);
        }
        r.state.iter_mut().for_each(|s| *s = State::Unknown);
        r.regime.iter_mut().for_each(|s| *s = Regime::Unknown);
    });
}

#[test]
fn every_fault_is_answered() {
    let verdicts = verdicts(&declared::plant(), &simulate(&Scenario::default()));
    let codes: std::collections::BTreeSet<Fault> = verdicts.iter().map(code).collect();
    assert_eq!(codes.len(), 16, "no fault goes unanswered");
}

#[test]
fn off_control_curve() {
    use Fault::OffControlCurve as F;
    let raised = |day, by: f64| Scenario {
        held_from: Some((day, (ZERO_FLOW_HEAD + by, DESIGN_HEAD + by))),
        ..Scenario::default()
    };
    check(
        "40 kPa more from day 10 on, a quarter of the design head, known to 3 kPa",
        F,
        raised(10, 40.0),
        as_is,
        Want::Found("loop", 10),
    );
    check("60 kPa less from day 10 on", F, raised(10, -60.0), as_is, Want::Found("loop", 10));
    check(
        "40 kPa more from the first day on: more than twice the interval and the tolerance",
        F,
        raised(0, 40.0),
        as_is,
        Want::Found("loop", 0),
    );
    check("4 kPa more: inside 3 kPa of interval and 4.9 kPa of tolerance", F, raised(10, 4.0), as_is, Want::Clear);
    // 0.03 * 162 = 4.9 kPa: with 10 kPa each way, 22 kPa is off every row, but from day 0 two half intervals and the tolerance are 24.9.
    let unsure = Scenario { head_half_kpa: 10.0, ..raised(0, 22.0) };
    check(
        "22 kPa from the first day on, known to 10: the pump table could be wrong",
        F,
        unsure,
        as_is,
        Want::CannotTell,
    );
    let came = Scenario { held_from: Some((10, (ZERO_FLOW_HEAD + 22.0, DESIGN_HEAD + 22.0))), ..unsure };
    check(
        "the same 22 kPa come on day 10: what all rows share cannot do that",
        F,
        came,
        as_is,
        Want::Found("loop", 10),
    );
    let blind = Scenario { head_half_kpa: 30.0, ..Scenario::default() };
    check("on the curve, but known to 30 kPa only", F, blind, as_is, Want::CannotTell);
    check(
        "the speed floor stands above the curve on purpose",
        F,
        raised(10, 40.0),
        |_, r| {
            r.regime.iter_mut().filter(|g| **g == Regime::AboveCurve).for_each(|g| *g = Regime::SpeedFloor);
        },
        Want::Clear,
    );
    check(
        "six hours on one day are a test, not a fault",
        F,
        Scenario::default(),
        |_, r| {
            (10 * 24 + 8..10 * 24 + 14).for_each(|i| {
                r.head[i] += 40.0;
                r.regime[i] = Regime::AboveCurve;
            });
        },
        Want::Clear,
    );
    check("no mode declared", F, raised(10, 40.0), |p, _| p.control.mode = None, Want::CannotTell);
    check(
        "no head known",
        F,
        raised(10, 40.0),
        |_, r| {
            r.regime.iter_mut().filter(|g| **g != Regime::Off).for_each(|g| *g = Regime::Unknown);
        },
        Want::CannotTell,
    );
}

/// One of two pumps that run together leaves the curve: it is named, and the other is clear.
#[test]
fn the_pump_that_leaves_the_curve_is_named() {
    let s = Scenario { held_from: Some((10, (ZERO_FLOW_HEAD + 40.0, DESIGN_HEAD + 40.0))), ..Scenario::default() };
    let kept = |_: &mut Plant, r: &mut Record| {
        let on = |g: &Regime| if *g == Regime::AboveCurve { Regime::OnCurve } else { *g };
        r.second = Some(r.regime.iter().map(on).collect());
    };
    check("P-2 keeps it", Fault::OffControlCurve, s, kept, Want::Found("P-1", 10));
    let both = |_: &mut Plant, r: &mut Record| r.second = Some(r.regime.clone());
    check("both leave it: their control does", Fault::OffControlCurve, s, both, Want::Found("loop", 10));
}

#[test]
fn the_schedule_knows_holidays_and_midnight() {
    let mut plant = declared::plant();
    let at = |h, m| chrono::NaiveTime::from_hms_opt(h, m, 0).expect("a time");
    let on = |y, m, d| chrono::NaiveDate::from_ymd_opt(y, m, d).expect("a day");
    assert!(plant.scheduled_at(on(2026, 3, 1).and_time(at(3, 0))), "no schedule: always");
    let weekdays = [true, true, true, true, true, false, false];
    plant.schedule = vec![offcurve::plant::Schedule { days: weekdays, from: at(22, 0), to: at(6, 0) }];
    plant.site.holidays = vec![on(2026, 3, 4)];
    // 2 March 2026 is a Monday, the 4th a holiday.
    for (day, hour, want, why) in [
        (2, 23, true, "Monday night"),
        (3, 5, true, "its morning"),
        (3, 6, false, "the end is not in it"),
        (2, 5, false, "Sunday night has none"),
        (4, 23, false, "a holiday's night"),
        (5, 5, false, "nor its morning"),
        (7, 5, true, "Friday's night ends on Saturday"),
        (7, 23, false, "Saturday has none"),
    ] {
        assert_eq!(plant.scheduled_at(on(2026, 3, day).and_time(at(hour, 0))), want, "{why}");
    }
}

/// The waste is that of the arithmetic: at the same flow, power goes with head.
#[test]
fn above_the_curve_is_priced_by_the_head_it_wastes() {
    let s = Scenario { held_from: Some((10, (ZERO_FLOW_HEAD + 40.0, DESIGN_HEAD + 40.0))), ..Scenario::default() };
    let r = simulate(&s);
    let verdicts = check("as above", Fault::OffControlCurve, s, as_is, Want::Found("loop", 10));
    let wasted: f64 = (10 * 24..28 * 24).filter(|i| r.pumps_on[*i] > 0).map(|i| electric(r.flow[i], 40.0)).sum();
    let f = verdicts.iter().find_map(|v| match v {
        Verdict::Found(f) if f.fault == Fault::OffControlCurve => Some(f),
        _ => None,
    });
    let waste = f.and_then(|f| f.waste_kwh).expect("priced");
    assert!((waste.estimate / wasted - 1.0).abs() < 0.03, "{waste:?} against {wasted}");
    assert!(waste.low < wasted && wasted < waste.high);
    // 28 days of 24 hours carry a year of 8766 hours: a factor of 13.04.
    let year = f.and_then(|f| f.waste_kwh_per_year).expect("four weeks");
    assert!((year.estimate / waste.estimate - 8766.0 / 672.0).abs() < 1e-9);
}

#[test]
fn setpoint_too_high() {
    use Fault::SetpointTooHigh as F;
    // Need at design: the pipe's 48.6 kPa and 113.4 kPa over the branches at 95 % open; 90 % open asks (40^0.05)^2 = 1.45 times that.
    let scaled = |by: f64| {
        move |p: &mut Plant, r: &mut Record| {
            let kpa = |v: f64| Some(offcurve::quantity::Pressure::kpa(v));
            p.control.zero_flow_head = kpa(ZERO_FLOW_HEAD * by);
            p.control.design_head = kpa(DESIGN_HEAD * by);
            r.regime.iter_mut().filter(|g| **g != Regime::Off).for_each(|g| *g = Regime::OnCurve);
        }
    };
    let constant = |kpa: f64| Scenario { held: (kpa, kpa), ..Scenario::default() };
    let set_constant = |kpa: f64| {
        move |p: &mut Plant, r: &mut Record| {
            p.control.mode = Some(ControlMode::ConstantPressure);
            p.control.setpoint = Some(offcurve::quantity::Pressure::kpa(kpa));
            r.regime.iter_mut().filter(|g| **g != Regime::Off).for_each(|g| *g = Regime::OnCurve);
        }
    };
    let held =
        |by: f64| Scenario { held: (ZERO_FLOW_HEAD * by, DESIGN_HEAD * by), oversize: 1.3, ..Scenario::default() };
    check(
        "valves 1.3 times as large and 1.6 times the head: need at design about 0.6 of it",
        F,
        held(1.6),
        scaled(1.6),
        Want::Found("loop", 0),
    );
    check(
        "the head the design needs: neediest valve near 90 % open at the peak",
        F,
        Scenario::default(),
        as_is,
        Want::Clear,
    );
    check(
        "a constant 220 kPa and low-load weeks: a low need at low flow is honest",
        F,
        Scenario { peak: 0.45, ..constant(220.0) },
        set_constant(220.0),
        Want::CannotTell,
    );
    check(
        "a constant 220 kPa, and design flow nearly seen: the branch needs 49 + 113 x 1.45 = 213 kPa there at 90 % open",
        F,
        constant(220.0),
        set_constant(220.0),
        Want::Clear,
    );
    check(
        "a constant 340 kPa where 213 would do at design flow: 63 %",
        F,
        constant(340.0),
        set_constant(340.0),
        Want::Found("loop", 0),
    );
    check(
        "a constant 270 kPa where 213 would do: 79 %, and the square overstates the need of uneven loads",
        F,
        constant(270.0),
        set_constant(270.0),
        Want::Clear,
    );
    // The meetings take 0.82 of the index branch's load at 0.68 of its flow: 113 x 1.45 x 0.46 + 12 = 88 kPa at half
    // flow, so that (88 - 162 / 4) / (3 / 4) = 63 kPa at no flow would be enough.
    let from = |zero: f64| Scenario { held: (zero, DESIGN_HEAD), ..Scenario::default() };
    let set_from = |zero: f64| {
        move |p: &mut Plant, r: &mut Record| {
            p.control.zero_flow_head = Some(offcurve::quantity::Pressure::kpa(zero));
            r.regime.iter_mut().filter(|g| **g != Regime::Off).for_each(|g| *g = Regime::OnCurve);
        }
    };
    check("a curve from 110 kPa where 63 would do", F, from(110.0), set_from(110.0), Want::Found("loop", 0));
    check("a curve from 68 kPa where 63 would do", F, from(68.0), set_from(68.0), Want::Clear);
    check("a curve from 30 kPa, less than a fifth of 162", F, from(30.0), set_from(30.0), Want::Clear);
    check(
        "one valve at its end: its coil needs the head",
        F,
        held(1.6),
        |p, r| {
            scaled(1.6)(p, r);
            r.valves[2].as_mut().expect("trended").iter_mut().for_each(|v| *v = 1.0);
        },
        Want::Clear,
    );
    check(
        "on the speed floor the setting does not hold the head",
        F,
        held(1.6),
        |p, r| {
            scaled(1.6)(p, r);
            r.regime.iter_mut().filter(|g| **g == Regime::OnCurve).for_each(|g| *g = Regime::SpeedFloor);
        },
        Want::CannotTell,
    );
    check(
        "no valves trended",
        F,
        held(1.6),
        |p, r| {
            scaled(1.6)(p, r);
            r.valves.iter_mut().for_each(|v| *v = None);
        },
        Want::CannotTell,
    );
    check(
        "the index branch is not trended",
        F,
        held(1.6),
        |p, r| {
            scaled(1.6)(p, r);
            r.valves[3] = None;
        },
        Want::CannotTell,
    );
    check(
        "no design flow declared",
        F,
        held(1.6),
        |p, r| {
            scaled(1.6)(p, r);
            p.system.design_flow = None;
        },
        Want::CannotTell,
    );
    check(
        "a mode without a head to set",
        F,
        held(1.6),
        |p, _| p.control.mode = Some(ControlMode::FixedSpeed),
        Want::CannotTell,
    );
}

#[test]
fn stuck_bypass() {
    use Fault::StuckBypass as F;
    let open = |day, share| Scenario { bypass: Some((day, share)), ..Scenario::default() };
    check(
        "a fifth of the design conductance from day 12 on, at load",
        F,
        open(12, 0.2),
        as_is,
        Want::Found("loop", 12),
    );
    check("a tenth from day 12 on", F, open(12, 0.1), as_is, Want::Found("loop", 12));
    check("two hundredths: below what valve characteristics leave over", F, open(12, 0.02), as_is, Want::Clear);
    check(
        "a fouled coil opens its own valve, which explains the flow",
        F,
        Scenario { foul: Some((12, 1.5)), ..Scenario::default() },
        as_is,
        Want::Clear,
    );
    check(
        "coils that all take more water open their valves",
        F,
        Scenario { thirst: Some((12, 1.2)), ..Scenario::default() },
        as_is,
        Want::Clear,
    );
    check(
        "a curve set higher closes the valves",
        F,
        Scenario { held_from: Some((12, (94.0, 192.0))), ..Scenario::default() },
        as_is,
        Want::Clear,
    );
    check(
        "a bypass for minimum flow only",
        F,
        Scenario { peak: 0.6, minimum_flow_bypass: Some(20.0), ..Scenario::default() },
        as_is,
        Want::Clear,
    );
    let placed = |p: f64, from: usize| {
        move |_: &mut Plant, r: &mut Record| {
            r.bypass_position = Some((0..r.flow.len()).map(|i| if i / 24 >= from { p } else { 0.0 }).collect());
            r.coil_back.iter_mut().for_each(|c| *c = None);
        }
    };
    check(
        "its position says open well above 1.5 x 14 m3/h, from the first day on",
        F,
        open(0, 0.2),
        placed(1.0, 0),
        Want::Found("loop", 0),
    );
    check("the same from day 12 on", F, open(12, 0.2), placed(1.0, 12), Want::Found("loop", 12));
    check("a position of 10 % is a seat that leaks, not open", F, Scenario::default(), placed(0.1, 0), Want::Clear);
    check(
        "open from the first day on and only the coils' water tells: 1/(1+share) of the coils' difference",
        F,
        open(0, 0.4),
        as_is,
        Want::Found("loop", 0),
    );
    check(
        "a branch nobody trends was opened: more flow, and the difference stays",
        F,
        open(12, 0.25),
        |_, r| {
            let supply = r.supply.clone().expect("trended");
            let load = |i: usize| (r.outdoor.as_ref().expect("trended")[i] - 15.0) / 15.0;
            r.back = Some((0..supply.len()).map(|i| supply[i] + 6.0 * (1.0 + 0.4 * (1.0 - load(i)))).collect());
        },
        Want::CannotTell,
    );
    check("no bypass in the plant", F, open(12, 0.2), |p, _| p.system.bypass = Some(Bypass::None), Want::Clear);
    check(
        "no valves, no position",
        F,
        open(12, 0.2),
        |_, r| r.valves.iter_mut().for_each(|v| *v = None),
        Want::CannotTell,
    );
    check(
        "valves that hold their own flow",
        F,
        open(12, 0.2),
        |p, r| {
            p.coils.iter_mut().for_each(|c| c.valve = Some(Valve::PressureIndependent));
            r.coil_back.iter_mut().for_each(|c| *c = None);
        },
        Want::CannotTell,
    );
    check("four days are too few", F, Scenario { days: 4, ..open(2, 0.2) }, as_is, Want::CannotTell);
}

/// What a bypass does to the return water is its consequence and not a second fault.
#[test]
fn a_bypass_is_named_as_the_cause_of_the_low_difference() {
    let s = Scenario { bypass: Some((12, 0.35)), ..Scenario::default() };
    for v in check("a large one", Fault::StuckBypass, s, as_is, Want::Found("loop", 12)) {
        if let Verdict::Found(f) = v {
            assert!(f.fault == Fault::StuckBypass || f.caused_by == Some(Fault::StuckBypass), "{f:#?}");
        }
    }
}

#[test]
fn low_delta_t() {
    use Fault::LowDeltaT as F;
    let thirst = |day, more| Scenario { thirst: Some((day, more)), ..Scenario::default() };
    // The healthy difference is 6 K x 1.04 to 1.3 here; twice the water leaves 52 to 65 % of design.
    check("all coils take twice the water from the first day on", F, thirst(0, 2.0), as_is, Want::Found("loop", 0));
    check("a tenth more water leaves 95 % of design and more", F, thirst(0, 1.1), as_is, Want::Clear);
    check(
        "half more water from day 12 on: a fall to two thirds at like load",
        F,
        thirst(12, 1.5),
        as_is,
        Want::Found("loop", 12),
    );
    check("nothing planted", F, Scenario::default(), as_is, Want::Clear);
    check(
        "one fouled coil is named, the loop is not",
        F,
        Scenario { foul: Some((12, 1.6)), ..Scenario::default() },
        |_, _| {},
        Want::Found("C-1", 12),
    );
    check(
        "condenser water gets no verdict",
        F,
        thirst(0, 2.0),
        |p, _| p.system.service = Service::CondenserWater,
        Want::CannotTell,
    );
    check("no return temperature", F, thirst(0, 2.0), |_, r| r.back = None, Want::CannotTell);
    check(
        "supply and return exchanged",
        F,
        Scenario::default(),
        |_, r| std::mem::swap(&mut r.supply, &mut r.back),
        Want::CannotTell,
    );
    check("no flow", F, thirst(0, 2.0), |_, r| r.flow.iter_mut().for_each(|q| *q = f64::NAN), Want::CannotTell);
    check(
        "the design temperatures are not declared and nothing fell",
        F,
        thirst(0, 2.0),
        |p, _| {
            (p.system.supply_temperature, p.system.return_temperature) = (None, None);
        },
        Want::CannotTell,
    );
    check(
        "a supply raised by 3 K all month changes the difference honestly",
        F,
        Scenario { supply_shift: |_| 3.0, ..thirst(0, 1.6) },
        as_is,
        Want::CannotTell,
    );
    check(
        "all of it on three-way valves: at constant flow the difference is the load's",
        F,
        thirst(0, 1.6),
        |p, _| p.coils.iter_mut().for_each(|c| c.valve = Some(Valve::ThreeWay)),
        Want::CannotTell,
    );
    check(
        "half of the design flow on declared three-way valves: at 60 % flow they leave a third",
        F,
        Scenario::default(),
        |p, r| {
            p.coils[0].valve = Some(Valve::ThreeWay);
            p.coils[1].valve = Some(Valve::ThreeWay);
            // Heat balance: half of the design flow always runs, the other half by load p: (p Q dT) / (0.5 + 0.5 p).
            for i in (0..r.flow.len()).filter(|i| r.pumps_on[*i] > 0) {
                let p = (r.outdoor.as_ref().expect("trended")[i] - 15.0) / 15.0;
                r.flow[i] = DESIGN_FLOW * (0.5 + 0.5 * p);
                r.back.as_mut().expect("trended")[i] =
                    r.supply.as_ref().expect("trended")[i] + 6.0 * p / (0.5 + 0.5 * p);
            }
        },
        Want::Clear,
    );
    check("four days are too few", F, Scenario { days: 4, ..thirst(0, 2.0) }, as_is, Want::CannotTell);
}

/// Weather-compensated heating: the difference falls with the supply temperature, in step with the load.
#[test]
fn a_compensated_supply_lowers_the_difference_honestly() {
    let heating = |left: f64| {
        move |p: &mut Plant, r: &mut Record| {
            p.system.service = Service::HeatingWater;
            p.system.supply_temperature = Some(Temperature::celsius(70.0));
            p.system.return_temperature = Some(Temperature::celsius(50.0));
            for i in (0..r.flow.len()).filter(|i| r.pumps_on[*i] > 0) {
                // Supply from 40 to 66 degC with the day; difference 20 K x (supply - 20.5) / 49.5.
                let supply = 40.0 + (i / 24 % 14) as f64 * 2.0;
                r.supply.as_mut().expect("trended")[i] = supply;
                r.back.as_mut().expect("trended")[i] = supply - left * 20.0 * (supply - 20.5) / 49.5;
                r.flow[i] = 0.7 * DESIGN_FLOW;
            }
            r.coil_back.iter_mut().for_each(|c| *c = None);
        }
    };
    check(
        "in health, down to 39 % of the design difference",
        Fault::LowDeltaT,
        Scenario::default(),
        heating(1.0),
        Want::Clear,
    );
    check(
        "half of what the supply should give, all month",
        Fault::LowDeltaT,
        Scenario::default(),
        heating(0.5),
        Want::Found("loop", 0),
    );
}

/// A day at 5 min whose speed does what it is told between 8 and 18 h.
fn hunting(step_min: usize, days: usize, speed: impl Fn(usize, &mut Noise) -> f64) -> (Plant, Record) {
    let per_day = 24 * 60 / step_min;
    let mut r = simulate(&Scenario { days: 0, ..Scenario::default() });
    let rows = per_day * days;
    let mut noise = Noise(3);
    r.step_h = step_min as f64 / 60.0;
    r.time_ms = (0..rows).map(|i| (i * step_min * 60_000) as i64).collect();
    r.local_day = (0..rows).map(|i| 738_000 + (i / per_day) as u32).collect();
    r.local_hour = vec![0.0; rows];
    r.speed = (0..rows).map(|i| speed(i, &mut noise)).collect();
    r.flags = vec![false; rows];
    r.steady = vec![false; rows];
    r.state = vec![State::Transient; rows];
    r.regime = vec![Regime::Transient; rows];
    r.pumps_on = vec![1; rows];
    r.flow = r.speed.iter().map(|s| 40.0 * s).collect();
    (r.flow_low, r.flow_high) = (r.flow.clone(), r.flow.clone());
    r.head = r.speed.iter().map(|s| 200.0 * s * s).collect();
    (r.head_low, r.head_high, r.curve) = (r.head.clone(), r.head.clone(), vec![f64::NAN; rows]);
    r.power = r.flow.iter().zip(&r.head).map(|(q, h)| electric(*q, *h)).collect();
    (r.supply, r.back, r.outdoor) = (None, None, None);
    r.valves = vec![None; 4];
    r.coil_back = vec![None; 4];
    r.need = vec![f64::NAN; rows];
    r.neediest = vec![u16::MAX; rows];
    (declared::plant(), r)
}

fn check_hunting(why: &str, (plant, r): (Plant, Record), want: Want) {
    let verdicts = verdicts(&plant, &r);
    let v = verdicts.iter().find(|v| code(v) == Fault::MinimumSpeedHunting).expect("every fault is answered");
    let right = match (want, v) {
        (Want::Found(subject, _), Verdict::Found(f)) => f.subject == subject,
        (Want::Clear, Verdict::Clear { .. }) | (Want::CannotTell, Verdict::CannotTell { .. }) => true,
        _ => false,
    };
    assert!(right, "{why}: {v:#?}");
}

/// Clamped sine off the floor of 35 %: period and swing as told.
fn swing(period_rows: f64, swing: f64) -> impl Fn(usize, &mut Noise) -> f64 {
    move |i, n| {
        let s = (i as f64 / period_rows * std::f64::consts::TAU).sin();
        0.35 + (swing * s).max(0.0) + 0.002 * n.next().abs()
    }
}

#[test]
fn minimum_speed_hunting() {
    let found = Want::Found("P-1", 0);
    check_hunting("10 % of speed off the floor every 40 min, seen every 5", hunting(5, 3, swing(8.0, 0.1)), found);
    check_hunting("the same every 25 min: five rows a cycle", hunting(5, 3, swing(5.0, 0.1)), found);
    check_hunting("2 % of speed is noise", hunting(5, 3, swing(8.0, 0.02)), Want::Clear);
    check_hunting("every 4 hours it is the load", hunting(5, 3, swing(48.0, 0.1)), Want::Clear);
    check_hunting(
        "every 10 min, seen every 5, is too fast to be measured",
        hunting(5, 3, |i, _| if i % 2 == 0 { 0.35 } else { 0.45 }),
        Want::CannotTell,
    );
    check_hunting("seen every 15 min no loop can be shown to hunt", hunting(15, 3, swing(8.0, 0.1)), Want::CannotTell);
    check_hunting("riding the floor", hunting(5, 3, |_, n| 0.35 + 0.003 * n.next().abs()), Want::Clear);
    check_hunting(
        "swinging between 50 and 60 % never touches the floor",
        hunting(5, 3, |i, _| 0.55 + 0.05 * (i as f64 * 0.8).sin()),
        Want::Clear,
    );
    let irregular = |i: usize, n: &mut Noise| if (i / 3 * 7919 % 13) > 8 && n.next() > -0.6 { 0.43 } else { 0.35 };
    check_hunting("leaves the floor at odd times", hunting(5, 3, irregular), Want::Clear);
    let mut staging = hunting(5, 3, swing(8.0, 0.1));
    for i in 0..staging.1.pumps_on.len() {
        staging.1.pumps_on[i] = if (i / 4) % 2 == 0 { 1 } else { 2 };
    }
    check_hunting("the swing comes with a pump that stages on and off", staging, Want::Clear);
    let mut undeclared = hunting(5, 3, |i, _| 0.6 + 0.2 * (i as f64 * 0.01).sin());
    undeclared.0.control.minimum_speed = None;
    check_hunting("no floor declared and none to see", undeclared, Want::CannotTell);
    let mut off = hunting(5, 3, swing(8.0, 0.1));
    off.1.state.iter_mut().for_each(|s| *s = State::Off);
    check_hunting("a pump that never ran", off, Want::CannotTell);
    let mut floor = hunting(5, 3, swing(8.0, 0.1));
    floor.0.control.minimum_speed = Some(Fraction::of_one(0.20));
    check_hunting("a floor declared at 20 % is not where it swings", floor, Want::Clear);
}

#[test]
fn a_step_is_found_where_it_is() {
    use offcurve::faults::onset::{BELIEVED, step};
    // Ten days at 1, ten at 2, with a wobble of 0.1: the step is 1 on day 10.
    let y: Vec<f64> = (0..20).map(|d| if d < 10 { 1.0 } else { 2.0 } + if d % 2 == 0 { 0.1 } else { -0.1 }).collect();
    let s = step(&y, &[], 3).expect("enough days");
    assert_eq!(s.at, 10);
    assert!((s.size - 1.0).abs() < 0.02 && s.t > BELIEVED, "{s:?}");
    // The same hangs wholly on another column: nothing is left over.
    let follows: Vec<f64> = y.iter().map(|v| 3.0 * v + 1.0).collect();
    assert!(step(&y, &[follows], 3).is_none_or(|s| s.size.abs() < 1e-6));
    // A wobble alone is not believed.
    let flat: Vec<f64> = (0..20).map(|d| ((d * 7919 % 13) as f64 - 6.0) / 20.0).collect();
    assert!(step(&flat, &[], 3).expect("enough days").t < BELIEVED);
    assert!(step(&y[..5], &[], 3).is_none(), "five days have no three on each side");
    // Numbers of another program: ruptures 1.1.10 places the largest single change of this series at 20 (levels 0, 5, 2).
    let series: Vec<f64> = (0..60).map(|i| [0.0, 5.0, 2.0][i / 20] + ((i * 7919 % 13) as f64 - 6.0) / 20.0).collect();
    assert_eq!(step(&series, &[], 2).expect("enough days").at, 20);
}

#[test]
fn minimum_flow_declared_by_a_machine_counts() {
    let mut plant = declared::plant();
    plant.system.minimum_flow = Some(Flow::m3h(1.0));
    plant.sources.push(offcurve::plant::Source {
        name: "CH-1".into(),
        minimum_flow: Some(Flow::m3h(60.0)),
        maximum_flow: None,
    });
    let mut r = simulate(&Scenario { peak: 0.8, ..Scenario::default() });
    r.bypass_position = Some(vec![1.0; r.flow.len()]);
    r.coil_back.iter_mut().for_each(|c| *c = None);
    let stuck =
        verdicts(&plant, &r).into_iter().any(|v| matches!(v, Verdict::Found(f) if f.fault == Fault::StuckBypass));
    assert!(!stuck, "at 1.5 x 60 m3/h and less an open bypass keeps the chiller's minimum flow");
}
