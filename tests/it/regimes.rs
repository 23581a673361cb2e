//! Regimes on rows whose place against the curve is arithmetic: 64 kPa at no flow, 162 kPa at 68 m3/h, quadratic.

use crate::declared::{self, DESIGN_FLOW, DESIGN_HEAD, ZERO_FLOW_HEAD};
use linfa::traits::Transformer;
use offcurve::ingest::{Clock, Series};
use offcurve::operating::{Basis, LoopPoints, OperatingPoints, PumpPoints, State};
use offcurve::plant::{Control, ControlMode, HeadAt, Plant, Reset, Role};
use offcurve::quantity::{Fraction, Pressure};
use offcurve::regimes::{self, Regime, Regimes};
use offcurve::screening::Screened;

/// One row: state, speed, flow, head; the interval is 3 kPa and 2 % of flow each way.
#[derive(Clone, Copy)]
struct Row(State, f64, f64, f64);

fn points(rows: &[Row]) -> OperatingPoints {
    let of = |f: &dyn Fn(&Row) -> f64| rows.iter().map(f).collect::<Vec<f64>>();
    let (flow, head) = (of(&|r| r.2), of(&|r| r.3));
    let (low, high) = (of(&|r| r.2 * 0.98), of(&|r| r.2 * 1.02));
    let pump = PumpPoints {
        pump: "P-1".into(),
        state: rows.iter().map(|r| r.0).collect(),
        speed: of(&|r| r.1),
        flow_m3h: flow.clone(),
        flow_low_m3h: low.clone(),
        flow_high_m3h: high.clone(),
        head_kpa: head.clone(),
        head_low_kpa: of(&|r| r.3 - 3.0),
        head_high_kpa: of(&|r| r.3 + 3.0),
        power_kw: of(&|r| r.2 * r.3 / 1800.0),
        efficiency: of(&|_| 0.5),
        basis: vec![Basis::Measured(1); rows.len()],
        flow_sd_common_m3h: of(&|_| 0.0),
        head_sd_common_kpa: of(&|_| 0.0),
    };
    let system = LoopPoints {
        flow_m3h: flow,
        flow_low_m3h: low,
        flow_high_m3h: high,
        head_kpa: head,
        power_kw: pump.power_kw.clone(),
        pumps_on: rows.iter().map(|r| u8::from(r.0 != State::Off)).collect(),
        steady: rows.iter().map(|r| r.0 == State::Steady).collect(),
    };
    OperatingPoints { pumps: vec![pump], system }
}

fn screened(rows: usize, columns: &[(Role, Vec<f64>)]) -> Screened {
    let series = columns.iter().map(|(role, values)| Series {
        name: format!("{role:?}"),
        role: *role,
        of: None,
        point: 0,
        unit: "",
        values: values.clone(),
    });
    let clock = Clock { start_ms: 0, step_s: 300, len: rows };
    Screened { clock, series: series.collect(), doubts: Vec::new(), as_read: Vec::new() }
}

fn sort(plant: &Plant, rows: &[Row], columns: &[(Role, Vec<f64>)]) -> Regimes {
    regimes::sort(plant, &screened(rows.len(), columns), &points(rows)).value
}

fn curve(flow: f64) -> f64 {
    ZERO_FLOW_HEAD + (DESIGN_HEAD - ZERO_FLOW_HEAD) * (flow / DESIGN_FLOW).powi(2)
}

fn check(why: &str, plant: &Plant, row: Row, columns: &[(Role, f64)], want: Regime) {
    let columns: Vec<(Role, Vec<f64>)> = columns.iter().map(|(r, v)| (*r, vec![*v])).collect();
    assert_eq!(sort(plant, &[row], &columns).pumps[0].regime[0], want, "{why}");
}

#[test]
fn a_row_is_named_by_its_own_physics() {
    use State::{Off, Starting, Steady, Transient, Unknown};
    let plant = declared::plant();
    // At 34 m3/h, half of design flow, the curve asks 64 + 98 / 4 = 88.5 kPa; the tolerance is 0.03 x 162 = 4.9 kPa, the
    // head's interval 3 kPa, and 2 % of flow moves the curve by 1 kPa: above from 97.4 kPa, below from 79.7 kPa.
    let at = |head: f64| Row(Steady, 0.7, 34.0, head);
    check("on it", &plant, at(88.5), &[], Regime::OnCurve);
    check("8.5 above is inside interval and tolerance", &plant, at(97.0), &[], Regime::OnCurve);
    check("9.5 above is outside", &plant, at(98.0), &[], Regime::AboveCurve);
    check("8.5 below is inside", &plant, at(80.0), &[], Regime::OnCurve);
    check("9.5 below is outside", &plant, at(79.0), &[], Regime::BelowCurve);
    check("at the floor of 35 % it may stand above", &plant, Row(Steady, 0.35, 10.0, 90.0), &[], Regime::SpeedFloor);
    check("2 % above the floor it may not", &plant, Row(Steady, 0.37, 10.0, 90.0), &[], Regime::AboveCurve);
    check("at full speed it may stand below", &plant, Row(Steady, 0.995, 68.0, 120.0), &[], Regime::FullSpeed);
    check("2 % below full speed it may not", &plant, Row(Steady, 0.98, 68.0, 120.0), &[], Regime::BelowCurve);
    check("off", &plant, Row(Off, 0.0, 0.0, f64::NAN), &[], Regime::Off);
    check("starting", &plant, Row(Starting, 0.5, 20.0, 100.0), &[], Regime::Transient);
    check("between", &plant, Row(Transient, 0.5, 20.0, 100.0), &[], Regime::Transient);
    check("no state", &plant, Row(Unknown, 0.5, 20.0, 100.0), &[], Regime::Unknown);
    check("no head", &plant, Row(Steady, 0.5, 20.0, f64::NAN), &[], Regime::Unknown);
    check("no flow", &plant, Row(Steady, 0.5, f64::NAN, 100.0), &[], Regime::Unknown);
}

#[test]
fn each_mode_asks_what_it_should() {
    let with = |change: &dyn Fn(&mut Control)| {
        let mut plant = declared::plant();
        change(&mut plant.control);
        plant
    };
    let at = |head: f64| Row(State::Steady, 0.7, 34.0, head);
    // Proportional at half flow: 64 + 98 / 2 = 113 kPa.
    let proportional = with(&|c| c.mode = Some(ControlMode::Proportional));
    assert!((sort(&proportional, &[at(113.0)], &[]).pumps[0].curve_head_kpa[0] - 113.0).abs() < 1e-9);
    check("proportional", &proportional, at(113.0), &[], Regime::OnCurve);
    check("the quadratic head is below it", &proportional, at(88.5), &[], Regime::BelowCurve);
    let constant = with(&|c| {
        c.mode = Some(ControlMode::ConstantPressure);
        c.setpoint = Some(Pressure::kpa(90.0));
    });
    check("constant", &constant, at(90.0), &[], Regime::OnCurve);
    check(
        "a trended setpoint wins",
        &constant,
        at(90.0),
        &[(Role::DifferentialPressureSetpoint, 120.0)],
        Regime::BelowCurve,
    );
    let header = with(&|c| {
        c.mode = Some(ControlMode::ConstantPressure);
        c.setpoint = Some(Pressure::kpa(90.0));
        c.head_at = Some(HeadAt::Header);
    });
    // Between pump and header up to 0.12 x 162 / 4 = 4.9 kPa may go at half flow: above from 102.7 kPa.
    check("check valve and strainer", &header, at(101.0), &[], Regime::OnCurve);
    check("more than they take", &header, at(105.0), &[], Regime::AboveCurve);
    check(
        "the header's own sensor knows better",
        &header,
        at(105.0),
        &[(Role::DifferentialPressure, 91.0)],
        Regime::OnCurve,
    );
    let reset = with(&|c| {
        c.mode = Some(ControlMode::ConstantPressure);
        c.setpoint = Some(Pressure::kpa(90.0));
        c.reset = Some(Reset::MostOpenValve);
    });
    check("a reset whose setpoint nobody trends", &reset, at(120.0), &[], Regime::Unknown);
    let remote = with(&|c| {
        c.mode = Some(ControlMode::RemotePressure);
        c.setpoint = Some(Pressure::kpa(50.0));
    });
    check("remote, no sensor trended", &remote, at(90.0), &[], Regime::Unknown);
    check("remote, sensor at its setpoint", &remote, at(90.0), &[(Role::DifferentialPressure, 51.0)], Regime::OnCurve);
    check("remote, sensor 20 above", &remote, at(90.0), &[(Role::DifferentialPressure, 70.0)], Regime::AboveCurve);
    assert!(
        sort(&remote, &[at(90.0)], &[(Role::DifferentialPressure, vec![50.0])]).pumps[0].curve_head_kpa[0].is_nan()
    );
    check("no mode", &with(&|c| c.mode = None), at(90.0), &[], Regime::Unknown);
    check("temperature", &with(&|c| c.mode = Some(ControlMode::Temperature)), at(90.0), &[], Regime::Unknown);
}

/// Before 00:10 the curve was 20 kPa higher: rows at 0 and 5 min are held against it, the row at 10 min against today's.
#[test]
fn an_earlier_setting_stands_until_it_was_changed() {
    let mut plant = declared::plant();
    let earlier = Control {
        zero_flow_head: Some(Pressure::kpa(ZERO_FLOW_HEAD + 20.0)),
        design_head: Some(Pressure::kpa(DESIGN_HEAD + 20.0)),
        ..plant.control.clone()
    };
    let until = chrono::DateTime::from_timestamp_millis(600_000).expect("an instant");
    plant.control_history = vec![(until, earlier)];
    let sorted = sort(&plant, &[Row(State::Steady, 0.7, 34.0, 108.5); 3], &[]);
    assert_eq!(sorted.pumps[0].regime, [Regime::OnCurve, Regime::OnCurve, Regime::AboveCurve]);
}

/// A floor set in hertz shows as a shaft speed a little higher, since the motor slips less at light load.
#[test]
fn the_floor_is_where_the_rows_pile_up() {
    let state = vec![State::Steady; 100];
    let slipped: Vec<f64> = (0..100).map(|i| if i < 40 { 0.361 } else { 0.4 + 0.005 * f64::from(i) }).collect();
    let mut control = Control { minimum_speed: Some(Fraction::of_one(0.35)), ..Control::default() };
    assert_eq!(regimes::speed_floor(&control, &state, &slipped), Some((0.361, true)));
    let never: Vec<f64> = (0..100).map(|i| 0.5 + 0.005 * f64::from(i)).collect();
    assert_eq!(regimes::speed_floor(&control, &state, &never), Some((0.35, true)), "declared and never reached");
    control.minimum_speed = None;
    assert_eq!(regimes::speed_floor(&control, &state, &slipped), Some((0.361, false)), "four rows in ten stand on it");
    assert_eq!(regimes::speed_floor(&control, &state, &never), None, "none stand on it");
    assert_eq!(regimes::speed_floor(&control, &state, &[0.8; 100]), None, "a fixed speed is no floor");
}

/// 600 rows on the curve, 200 rows 40 kPa above it, 100 on the floor, 100 off.
fn month() -> Vec<Row> {
    let mut rows = Vec::new();
    for i in 0..600 {
        let flow = 20.0 + f64::from(i % 100) * 0.4;
        rows.push(Row(State::Steady, 0.5 + flow / 200.0, flow, curve(flow) + f64::from(i % 7) - 3.0));
    }
    for i in 0..200 {
        let flow = 30.0 + f64::from(i % 50) * 0.4;
        rows.push(Row(State::Steady, 0.6 + flow / 200.0, flow, curve(flow) + 40.0));
    }
    rows.extend((0..100).map(|i| Row(State::Steady, 0.35, 8.0 + f64::from(i % 5) * 0.2, 75.0)));
    rows.extend([Row(State::Off, 0.0, 0.0, f64::NAN); 100]);
    rows
}

#[test]
fn groups_hold_what_was_put_in() {
    let sorted = sort(&declared::plant(), &month(), &[]);
    let of = |r: Regime| sorted.groups.iter().filter(move |g| g.regime == r);
    let hours = |r: Regime| of(r).map(|g| g.hours).sum::<f64>();
    // Rows of 5 minutes: 600, 200, 100 and 100 of them.
    for (regime, rows) in
        [(Regime::OnCurve, 600.0), (Regime::AboveCurve, 200.0), (Regime::SpeedFloor, 100.0), (Regime::Off, 100.0)]
    {
        assert!((hours(regime) - rows / 12.0).abs() < 1e-9, "{regime:?}: {}", hours(regime));
    }
    let share: f64 = sorted.groups.iter().map(|g| g.share_of_hours).sum();
    let energy: f64 = sorted.groups.iter().map(|g| g.share_of_energy).sum();
    assert!((share - 1.0).abs() < 1e-9 && (energy - 1.0).abs() < 1e-9);
    let above = of(Regime::AboveCurve).max_by(|a, b| a.hours.total_cmp(&b.hours)).expect("there is one");
    assert!((above.head_excess_kpa.0 - 40.0).abs() < 0.1 && above.head_excess_kpa.1 < 0.1, "{above:?}");
    assert!((above.flow_m3h.0 - 39.8).abs() < 0.2, "30 to 49.6 m3/h: {above:?}");
}

#[test]
fn the_order_of_rows_does_not_matter() {
    let rows = month();
    // 7919 is prime and does not divide 1000: every row is met once.
    let order: Vec<usize> = (0..rows.len()).map(|i| i * 7919 % rows.len()).collect();
    let shuffled: Vec<Row> = order.iter().map(|i| rows[*i]).collect();
    let (a, b) = (sort(&declared::plant(), &rows, &[]), sort(&declared::plant(), &shuffled, &[]));
    for (at, from) in order.iter().enumerate() {
        assert_eq!(b.pumps[0].regime[at], a.pumps[0].regime[*from]);
    }
    let digest = |r: &Regimes| {
        let mut all: Vec<String> =
            r.groups.iter().map(|g| format!("{:?} {:.6} {:.6}", g.regime, g.hours, g.flow_m3h.0)).collect();
        all.sort();
        all
    };
    assert_eq!(digest(&a), digest(&b));
}

/// At 40 m3/h the curve asks 97.9 kPa and 99.3 at 2 % more flow: alone, a row counts as above from 1.4 + 3 + 4.9 = 9.3 kPa.
/// In the midst of rows on the curve it is taken in up to one tolerance more, 14.1 kPa, where the group's edge reaches it.
#[test]
fn a_stray_is_taken_in_by_its_neighbours() {
    let stray = |by: f64| {
        let mut rows = month();
        rows[50] = Row(State::Steady, rows[50].1, rows[50].2, curve(rows[50].2) + by);
        (
            sort(&declared::plant(), &rows[50..51], &[]).pumps[0].regime[0],
            sort(&declared::plant(), &rows, &[]).pumps[0].regime[50],
        )
    };
    assert_eq!(stray(9.0), (Regime::OnCurve, Regime::OnCurve));
    assert_eq!(stray(9.6), (Regime::AboveCurve, Regime::OnCurve));
    assert_eq!(stray(16.0), (Regime::AboveCurve, Regime::AboveCurve));
}

#[test]
fn nothing_and_gaps_are_no_trouble() {
    assert!(sort(&declared::plant(), &[], &[]).groups.is_empty());
    let gaps = vec![Row(State::Steady, f64::NAN, f64::NAN, f64::NAN); 10];
    assert!(sort(&declared::plant(), &gaps, &[]).pumps[0].regime.iter().all(|r| *r == Regime::Unknown));
}

/// The library joins as scikit-learn 1.9.1 does: data set of twelve points, DBSCAN(eps 0.05, min_samples 3), run there,
/// gives five, five and two left over.
#[test]
fn the_joining_library_agrees_with_another() {
    let d12 = [
        (20.0, 8.0),
        (21.0, 8.1),
        (22.0, 8.2),
        (20.5, 8.05),
        (21.5, 8.15),
        (50.0, 12.0),
        (51.0, 12.2),
        (52.0, 12.3),
        (50.5, 12.1),
        (51.5, 12.25),
        (80.0, 18.0),
        (35.0, 15.0),
    ];
    let at = ndarray::Array2::from_shape_fn((12, 2), |(i, d)| if d == 0 { d12[i].0 / 100.0 } else { d12[i].1 / 20.0 });
    let labels = linfa_clustering::Dbscan::params::<f64>(3).tolerance(0.05).transform(&at).expect("valid");
    let want: Vec<Option<usize>> = [vec![Some(0); 5], vec![Some(1); 5], vec![None; 2]].concat();
    assert_eq!(labels.to_vec(), want);
}

/// A year at one minute and two pumps' worth of rows: the bound is loose, since the machine is shared.
#[test]
fn a_year_of_minutes_is_sorted_quickly() {
    let mut seed = 1u64;
    let mut next = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as f64 / f64::from(1u32 << 31)
    };
    let rows: Vec<Row> = (0..525_600)
        .map(|_| {
            let flow = 15.0 + 50.0 * next();
            Row(State::Steady, 0.4 + flow / 120.0, flow, curve(flow) + 6.0 * (next() - 0.5))
        })
        .collect();
    let delta_t: Vec<f64> = rows.iter().map(|r| 6.0 + 3.0 * (1.0 - r.2 / 68.0) + 0.3 * next()).collect();
    let back = delta_t.iter().map(|d| 6.0 + d).collect();
    let columns = [(Role::SupplyTemperature, vec![6.0; rows.len()]), (Role::ReturnTemperature, back)];
    let (screened, points) = (screened(rows.len(), &columns), points(&rows));
    let plant = declared::plant();
    let started = std::time::Instant::now();
    let sorted = regimes::sort(&plant, &screened, &points).value;
    let took = started.elapsed();
    println!("a year of minutes, one pump: {took:?}, {} groups", sorted.groups.len());
    assert!(took.as_secs_f64() < 2.0, "{took:?}");
    assert!(sorted.pumps[0].regime.iter().all(|r| *r == Regime::OnCurve));
}
