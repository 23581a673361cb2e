//! Which trended points can be believed: what cannot be is removed, what is odd is said, what is fine is left alone.
//!
//! The limits are common practice, no source; the rows show both sides of each.

use crate::ingest::{plant, point};
use offcurve::ingest::{Clock, Ledger, PointLedger, Series, Trends};
use offcurve::plant::{Plant, Role, Service};
use offcurve::screening::{AT_FAULT, Kind, Screened, screen};

const ROWS: usize = 600;

/// Hourly rows of a series made by a rule.
fn series(name: &str, role: Role, unit: &'static str, value: impl Fn(usize) -> f64) -> Series {
    Series { name: name.into(), role, of: None, point: 0, unit, values: (0..ROWS).map(value).collect() }
}

fn trends(series: Vec<Series>) -> Trends {
    let points =
        series.iter().map(|s| PointLedger { name: s.name.clone(), samples: ROWS as u64, ..Default::default() });
    let ledger = Ledger { files: vec![], points: points.collect() };
    Trends { clock: Clock { start_ms: 0, step_s: 3600, len: ROWS }, series, ledger }
}

fn screened(plant: &Plant, all: Vec<Series>) -> Screened {
    screen(plant, trends(all)).value
}

fn wave(i: usize) -> f64 {
    ((i * 37) % 100) as f64 / 100.0
}

#[test]
fn impossible_values_are_removed_and_possible_ones_kept() {
    let p = plant(vec![point("x", Role::PumpPower)]);
    // (role, unit, usual reading, odd reading, is it removed)
    let rows = [
        (Role::SupplyTemperature, "degC", 6.0, 850.0, true),
        (Role::SupplyTemperature, "degC", 6.0, -3.0, false), // brine
        (Role::SupplyTemperature, "degC", 90.0, 140.0, false), // district heating
        (Role::OutdoorTemperature, "degC", 10.0, -45.0, false),
        (Role::OutdoorTemperature, "degC", 10.0, -99.0, true),
        (Role::ValvePosition, "fraction", 0.5, 1.03, false), // 103 % by calibration
        (Role::ValvePosition, "fraction", 0.5, 1.2, true),
        (Role::ValvePosition, "fraction", 0.5, -0.2, true),
        (Role::PumpSpeed, "fraction", 0.8, 1.2, false), // 60 Hz on a 50 Hz motor
        (Role::PumpSpeed, "fraction", 0.8, 1.6, true),
        (Role::PumpSpeed, "Hz", 45.0, 60.0, false),
        (Role::PumpSpeed, "Hz", 45.0, 120.0, true),
        (Role::PumpPower, "kW", 5.0, -0.05, false), // a meter's zero
        (Role::PumpPower, "kW", 5.0, -3.0, true),
        (Role::PumpPower, "kW", 5.0, 0.0, false),
        (Role::LoopFlow, "m3/h", 60.0, -20.0, true),
        (Role::BypassFlow, "m3/h", 5.0, -20.0, false), // a decoupler flows both ways
        (Role::PumpHead, "kPa", 150.0, 65535.0, true),
        (Role::PumpEnergy, "kWh", 1000.0, -1.0, true),
    ];
    for (role, unit, usual, odd, removed) in rows {
        let s = series("x", role, unit, |i| if i == 7 { odd } else { usual * (1.0 + 0.1 * wave(i)) });
        let out = screened(&p, vec![s]);
        let what = format!("{role:?} {odd} {unit}");
        assert_eq!(out.series[0].values[7].is_nan(), removed, "{what}");
        assert_eq!(out.series[0].values.iter().filter(|v| v.is_nan()).count(), usize::from(removed), "{what}");
        assert_eq!(out.doubts.len(), usize::from(removed), "{what}: {:?}", out.doubts);
        assert!(out.doubts.iter().all(|d| d.rows == 1 && d.point == "x" && d.why.contains("removed")), "{what}");
    }
}

#[test]
fn a_number_that_stands_for_no_reading_is_removed() {
    let p = plant(vec![point("x", Role::PumpHead)]);
    // 999 kPa on four rows beside 140 to 155: within what a pipe bears, but never a reading.
    let check = |spread: f64, odd: f64, every: usize, removed: usize| {
        let s = series("x", Role::PumpHead, "kPa", |i| if i % every == 3 { odd } else { 140.0 + spread * wave(i) });
        let out = screened(&p, vec![s]);
        let gone = out.series[0].values.iter().filter(|v| v.is_nan()).count();
        assert_eq!(gone, removed, "{odd} each {every}: {:?}", out.doubts);
    };
    check(15.0, 999.0, 150, 4);
    check(15.0, 999.0, 600, 0); // once is chance
    check(15.0, 999.0, 3, 0); // a third of all rows is how the point reads
    check(15.0, 0.0, 150, 0); // a pump at rest
    check(0.1, 0.0, 150, 0); // a pump at rest, of steady head else: many spreads away, but not larger
    check(15.0, 200.0, 150, 0); // near the others
}

#[test]
fn a_point_that_stands_still_while_its_pump_works_is_doubted() {
    let p = plant(vec![point("kW", Role::PumpPower)]);
    let speed = |moves: bool| {
        series("speed", Role::PumpSpeed, "fraction", move |i| if moves { 0.5 + 0.4 * wave(i) } else { 0.8 })
    };
    let power = || series("kW", Role::PumpPower, "kW", |_| 4.2);
    let found = screened(&p, vec![speed(true), power()]);
    assert_eq!(found.doubts.len(), 1);
    assert!(
        found.doubts[0].why.contains("4.2000 kW") && found.doubts[0].why.contains("\"speed\" moves; it was removed")
    );
    assert!(found.series[1].values.iter().all(|v| v.is_nan()));
    // Innocent: a pump at one speed draws one power.
    assert!(screened(&p, vec![speed(false), power()]).doubts.is_empty());
    // Innocent: at rest nothing moves. It runs in 20 of 600 hours, less than a day.
    let rest = series("speed", Role::PumpSpeed, "fraction", |i| if i < 20 { 0.5 + 0.4 * wave(i) } else { 0.0 });
    assert!(screened(&p, vec![rest, power()]).doubts.is_empty());
    // Innocent: logged on change of value, with three samples.
    let mut on_change = trends(vec![speed(true), power()]);
    on_change.ledger.points[1].samples = 3;
    assert!(screen(&p, on_change).value.doubts.is_empty());
    // A temperature in whole degrees is kept.
    let coarse = screened(
        &p,
        vec![
            series("S", Role::SupplyTemperature, "degC", |_| 6.0),
            series("R", Role::ReturnTemperature, "degC", |i| 9.0 + 4.0 * wave(i)),
        ],
    );
    assert!(coarse.doubts[0].why.contains("kept") && coarse.series[0].values.iter().all(|v| *v == 6.0));
    // No value at all.
    let none = screened(&p, vec![series("kW", Role::PumpPower, "kW", |_| f64::NAN)]);
    assert_eq!(none.doubts[0].why, "it has no valid value in this record");
}

#[test]
fn supply_and_return_exchanged_are_named_and_not_exchanged_back() {
    let check = |service: Service, supply: f64, back: f64, doubted: bool| {
        let mut p = plant(vec![]);
        p.system.service = service;
        let all = vec![
            series("S", Role::SupplyTemperature, "degC", |i| supply + wave(i)),
            series("R", Role::ReturnTemperature, "degC", |i| back + wave(i + 1)),
        ];
        let out = screened(&p, all);
        assert_eq!(out.doubts.len(), if doubted { 2 } else { 0 }, "{service:?} {supply} {back}: {:?}", out.doubts);
        assert!(out.doubts.iter().all(|d| d.why.contains("\"S\"") && d.why.contains("\"R\"")));
        // 1.5 K the wrong way round is no single sensor: neither is used. Less is kept as declared.
        let removed = doubted && (back - supply).abs() >= 2.0;
        assert_eq!(out.series[0].values[0].is_nan(), removed, "{service:?} {supply} {back}");
        assert!(out.doubts.iter().all(|d| d.kind == Kind::Swapped && (d.confidence >= AT_FAULT) == removed));
    };
    check(Service::ChilledWater, 6.0, 12.0, false);
    check(Service::ChilledWater, 12.0, 6.0, true);
    check(Service::HeatingWater, 70.0, 50.0, false);
    check(Service::HeatingWater, 50.0, 70.0, true);
    check(Service::CondenserWater, 27.0, 32.0, false);
    check(Service::CondenserWater, 32.0, 27.0, true);
    check(Service::ChilledWater, 6.2, 6.0, false); // no load, sensors' own difference
    // 1 K: the waves differ by up to 1, so that the middle is near -1.0 and 0.8 of the rows are below none; one sensor can do that.
    check(Service::ChilledWater, 7.0, 6.0, true);
}

// ---- stretches, zeros, pairs, units, clocks ----

/// Of a pump.
fn of(pump: &str, s: Series) -> Series {
    Series { of: Some(pump.into()), ..s }
}

/// The plant of `declared`: chilled water from 6 to 12 degC, one pump P-1, four coils on two-way valves, a bypass.
fn with(all: Vec<Series>) -> Screened {
    screened(&crate::declared::plant(), all)
}

fn faults(out: &Screened) -> Vec<(&str, Kind)> {
    out.doubts.iter().filter(|d| d.confidence >= AT_FAULT).map(|d| (d.point.as_str(), d.kind)).collect()
}

/// Runs from 6 to 18 h, as hourly rows.
fn by_day(i: usize) -> bool {
    (6..18).contains(&(i % 24))
}

fn speed_by_day() -> Series {
    of("P-1", series("speed", Role::PumpSpeed, "fraction", |i| if by_day(i) { 0.5 + 0.4 * wave(i) } else { 0.0 }))
}

/// Power that goes with that speed: 5 kW of its cube.
fn power_by_day(i: usize) -> f64 {
    if by_day(i) { 5.0 * (0.5 + 0.4 * wave(i)).powi(3) } else { 0.0 }
}

fn gone(s: &Series) -> usize {
    s.values.iter().filter(|v| v.is_nan()).count()
}

#[test]
fn a_stretch_at_one_value_is_taken_out_and_the_rest_kept() {
    // 48 h at 2 kW, day and night, while the pump starts and stops: 24 working hours at one value.
    let stuck =
        |from: usize, rows: usize| {
            of(
                "P-1",
                series("kW", Role::PumpPower, "kW", move |i| {
                    if (from..from + rows).contains(&i) { 2.0 } else { power_by_day(i) }
                }),
            )
        };
    let out = with(vec![speed_by_day(), stuck(240, 48)]);
    assert_eq!(faults(&out), [("kW", Kind::Stuck)], "{:?}", out.doubts);
    assert_eq!(gone(&out.series[1]), 48);
    let d = &out.doubts[0];
    assert_eq!((d.first_row, d.last_row, d.removed), (240, 287, true), "{d:?}");
    assert_eq!((d.first_ms, d.last_ms), (240 * 3_600_000, 288 * 3_600_000));
    // Near miss: 20 h, with 12 working hours, is less than a day.
    assert!(with(vec![speed_by_day(), stuck(240, 20)]).doubts.is_empty());
    // Innocent: the pump runs at one speed for three days; its power is one.
    let steady =
        of(
            "P-1",
            series("speed", Role::PumpSpeed, "fraction", |i| {
                if (240..312).contains(&i) { 0.7 } else { 0.5 + 0.4 * wave(i) }
            }),
        );
    let power = |i: usize| 5.0 * if (240..312).contains(&i) { 0.343 } else { (0.5 + 0.4 * wave(i)).powi(3) };
    assert!(with(vec![steady, of("P-1", series("kW", Role::PumpPower, "kW", power))]).doubts.is_empty());
    // Innocent: head in whole 20 kPa, held at its setpoint for two days while the speed moves: it rests elsewhere, too.
    let held = of(
        "P-1",
        series("dp", Role::PumpHead, "kPa", |i| {
            if by_day(i) { 100.0 + if (6..12).contains(&(i % 72)) { 20.0 } else { 0.0 } } else { 100.0 }
        }),
    );
    let out = with(vec![of("P-1", series("speed", Role::PumpSpeed, "fraction", |i| 0.5 + 0.4 * wave(i))), held]);
    assert!(faults(&out).is_empty(), "{:?}", out.doubts);
    // Innocent: a range that ends at 4 kW, reached again and again.
    let clamped = of(
        "P-1",
        series("kW", Role::PumpPower, "kW", |i| {
            (9.0 * (0.5 + 0.4 * wave(i)).powi(3)).min(if i % 90 < 30 { 0.9 } else { 9.0 })
        }),
    );
    let out = with(vec![of("P-1", series("speed", Role::PumpSpeed, "fraction", |i| 0.5 + 0.4 * wave(i))), clamped]);
    assert!(faults(&out).is_empty(), "{:?}", out.doubts);
}

#[test]
fn outdoor_air_that_stands_for_two_days_is_no_weather() {
    let air = |rows: usize| {
        series("OAT", Role::OutdoorTemperature, "degC", move |i| {
            if (100..100 + rows).contains(&i) { 8.2 } else { 5.0 + 9.0 * wave(i) }
        })
    };
    assert_eq!(faults(&with(vec![speed_by_day(), air(60)])), [("OAT", Kind::Stuck)]);
    assert!(with(vec![speed_by_day(), air(40)]).doubts.is_empty(), "a foggy day and a half");
}

#[test]
fn a_pressure_at_rest_reads_nothing() {
    // Running it reads 80 to 120, 100 in the middle.
    let dp = |zero: f64, hum: f64| {
        of(
            "P-1",
            series("dp", Role::PumpHead, "kPa", move |i| {
                if by_day(i) { 80.0 + 40.0 * wave(i) } else { zero + hum * wave(i + 1) }
            }),
        )
    };
    let check = |zero: f64, hum: f64, wanted: &[(&str, Kind)], removed: bool| {
        let out = with(vec![speed_by_day(), dp(zero, hum)]);
        assert_eq!(faults(&out), wanted, "{zero}: {:?}", out.doubts);
        assert_eq!(gone(&out.series[1]) > 0, removed, "{zero}");
    };
    check(0.0, 1.0, &[], false);
    check(4.0, 0.5, &[], false); // 4 % of the usual
    check(8.0, 0.5, &[("dp", Kind::Biased)], false); // 8 %
    check(-8.0, 0.5, &[("dp", Kind::Biased)], false);
    check(20.0, 0.5, &[("dp", Kind::Biased)], true); // a fifth
    check(2.0, 40.0, &[], false); // another pump in the same water comes and goes
    // Without knowing that the pump rests nothing is said.
    let out = with(vec![dp(20.0, 0.5)]);
    assert!(faults(&out).is_empty(), "{:?}", out.doubts);
}

#[test]
fn a_flow_meter_at_rest_reads_nothing_but_for_water_that_rises_by_itself() {
    let check = |service: Service, zero: f64, doubted: bool| {
        let mut p = crate::declared::plant();
        p.system.service = service;
        let flow =
            series("flow", Role::LoopFlow, "m3/h", move |i| if by_day(i) { 30.0 + 20.0 * wave(i) } else { zero });
        let out = screened(&p, vec![speed_by_day(), flow]);
        assert_eq!(!faults(&out).is_empty(), doubted, "{service:?} {zero}: {:?}", out.doubts);
    };
    check(Service::ChilledWater, 1.2, false); // 3 % of 40
    check(Service::ChilledWater, 3.2, true); // 8 %
    check(Service::HeatingWater, 3.2, false); // gravity
    check(Service::HeatingWater, 5.2, true); // 13 %
}

/// Supply, return, four valves and four coil returns; valves shut from 0 to 5 h while the pump runs all day.
fn waters(supply: f64, back: f64, coil: impl Fn(usize, usize) -> f64 + Copy, shut: bool) -> Vec<Series> {
    let shuts = move |i: usize| shut && i % 24 < 6;
    let mut all = vec![
        of("P-1", series("speed", Role::PumpSpeed, "fraction", |i| 0.5 + 0.4 * wave(i))),
        series("S", Role::SupplyTemperature, "degC", move |i| 6.0 + supply + 0.1 * wave(i)),
        series("R", Role::ReturnTemperature, "degC", move |i| {
            back + if shuts(i) { 6.0 } else { 11.0 } + 0.1 * wave(i + 3)
        }),
    ];
    for k in 0..4 {
        let name = format!("C-{}", k + 1);
        all.push(of(
            &name,
            series(
                &format!("V{k}"),
                Role::ValvePosition,
                "fraction",
                move |i| if shuts(i) { 0.0 } else { 0.3 + 0.5 * wave(i) },
            ),
        ));
        all.push(of(
            &name,
            series(&format!("T{k}"), Role::CoilReturnTemperature, "degC", move |i| coil(k, i) + 0.1 * wave(i + k)),
        ));
    }
    all
}

#[test]
fn water_that_circulates_at_no_load_has_one_temperature() {
    let coil = |_: usize, _: usize| 11.0;
    let check = |supply: f64, back: f64, wanted: &[(&str, Kind)]| {
        let out = with(waters(supply, back, coil, true));
        assert_eq!(faults(&out), wanted, "{supply} {back}: {:?}", out.doubts);
    };
    check(0.0, 0.0, &[]);
    check(0.0, -0.7, &[]);
    // The supply is at its declared 6, so the return is the one: 1.2 K below it, the way no load can make.
    check(0.0, -1.2, &[("R", Kind::Biased)]);
    // 1.2 K above may be a leaking valve; 1.8 K is not.
    check(0.0, 1.0, &[]);
    check(0.0, 1.8, &[("R", Kind::Biased)]);
    // The supply reads 7.5 where 6 is declared, and 1.5 above the return.
    check(1.5, 0.0, &[("S", Kind::Biased)]);
    // A three-way valve passes water with its coil shut: nothing is said.
    let mut p = crate::declared::plant();
    p.coils[2].valve = Some(offcurve::plant::Valve::ThreeWay);
    assert!(faults(&screened(&p, waters(0.0, -1.2, coil, true))).is_empty());
}

#[test]
fn a_mixture_lies_between_what_it_is_mixed_of() {
    let coil = |k: usize, _: usize| 10.5 + 0.3 * k as f64; // 10.5 to 11.4
    let check = |back: f64, wanted: &[(&str, Kind)]| {
        let out = with(waters(0.0, back, coil, false));
        assert_eq!(faults(&out), wanted, "{back}: {:?}", out.doubts);
    };
    check(0.0, &[]);
    check(1.2, &[]); // 12.2 against 11.4: 0.8 K
    check(1.8, &[("R", Kind::Biased)]); // 12.8: 1.4 K beyond the warmest
    check(-2.0, &[]); // colder: water through the bypass does that
    let mut p = crate::declared::plant();
    p.system.bypass = Some(offcurve::plant::Bypass::None);
    assert_eq!(
        faults(&screened(&p, waters(0.0, -2.0, coil, false))),
        [("R", Kind::Biased)],
        "9.0 against 10.5, no bypass"
    );
    // One coil returns water colder than its supply.
    let one = |k: usize, _: usize| if k == 1 { 4.6 } else { 11.0 };
    assert_eq!(faults(&with(waters(0.0, 0.0, one, false))), [("T1", Kind::Biased)]);
    // All of them: it is the supply or the service, not four sensors.
    let all = |_: usize, _: usize| 4.6;
    assert!(!faults(&with(waters(0.0, -7.0, all, false))).iter().any(|f| f.0.starts_with('T')));
}

/// The pump runs from 6 to 18 h and rests for twelve hours, over which the pipes come to their rooms within an hour.
fn rests(supply: f64, back: f64, coils: &[f64]) -> Vec<Series> {
    let room = |i: usize| 21.0 + 0.1 * wave(i);
    let mut all = vec![
        speed_by_day(),
        series("S", Role::SupplyTemperature, "degC", move |i| supply + if by_day(i) { 6.0 } else { room(i) }),
        series("R", Role::ReturnTemperature, "degC", move |i| back + if by_day(i) { 11.0 } else { room(i + 5) }),
    ];
    for (k, off) in coils.iter().enumerate() {
        let (name, off) = (format!("C-{}", k + 1), *off);
        all.push(of(
            &name,
            series(&format!("T{k}"), Role::CoilReturnTemperature, "degC", move |i| {
                off + if by_day(i) { 11.0 } else { room(i + k) }
            }),
        ));
    }
    all
}

#[test]
fn settled_pipes_name_a_sensor_only_among_others() {
    let check = |supply: f64, back: f64, coils: &[f64], wanted: &[(&str, Kind)]| {
        let out = with(rests(supply, back, coils));
        assert_eq!(faults(&out), wanted, "{supply} {back} {coils:?}: {:?}", out.doubts);
        out.doubts.len()
    };
    check(0.0, 0.0, &[0.0, 0.1, -0.1], &[]);
    check(0.0, -1.3, &[0.0, 0.1, -0.1], &[("R", Kind::Biased)]);
    check(0.0, -0.8, &[0.0, 0.1, -0.1], &[]);
    // Rooms differ: the others spread by a kelvin either way, so 1.3 is nothing.
    check(0.0, -1.3, &[0.9, -1.0, 0.1], &[]);
    // A lone pair: 1.8 K is named and not found, since rooms do that; 2.5 K is found; where the supply stands 1.8 K off what is declared, too.
    assert_eq!(check(0.0, -1.8, &[], &[]), 1);
    check(0.0, -2.5, &[], &[("R", Kind::Biased)]);
    check(1.8, 0.0, &[], &[("S", Kind::Biased)]);
    assert_eq!(check(0.0, -0.7, &[], &[]), 0);
}

/// A pump with a table: 200 kPa at no flow, 100 at 90 m3/h, 4 kW at most.
fn tabled() -> Plant {
    let mut p = crate::declared::plant();
    p.pumps[0].curves = vec![offcurve::plant::TestedCurve {
        speed: offcurve::quantity::Fraction::of_one(1.0),
        power_is: offcurve::plant::PowerIs::Shaft,
        tolerance: None,
        head_flow_m3h: vec![0.0, 45.0, 90.0],
        head_kpa: vec![200.0, 180.0, 100.0],
        power_flow_m3h: vec![0.0, 45.0, 90.0],
        power_kw: vec![2.0, 3.2, 4.0],
    }];
    p
}

#[test]
fn another_unit_is_named_where_its_factor_puts_the_reading_right() {
    let speed = |i: usize| 0.6 + 0.4 * wave(i);
    let runs = || of("P-1", series("speed", Role::PumpSpeed, "fraction", speed));
    let head = move |i: usize| 170.0 * speed(i).powi(2);
    // (reading, wanted, removed)
    let rows: Vec<(Series, Option<&str>)> = vec![
        (of("P-1", series("x", Role::PumpHead, "kPa", head)), None),
        (of("P-1", series("x", Role::PumpHead, "kPa", move |i| head(i) / 6.895)), Some("psi read as kPa")),
        (of("P-1", series("x", Role::PumpHead, "kPa", move |i| head(i) * 6.895)), Some("kPa read as psi")),
        // 40 % of shut-off: at the end of the table, which is half.
        (of("P-1", series("x", Role::PumpHead, "kPa", move |i| head(i) * 0.5)), None),
        (of("P-1", series("x", Role::PumpPower, "kW", move |i| 4.0 * speed(i).powi(3))), None),
        (of("P-1", series("x", Role::PumpPower, "kW", move |i| 4000.0 * speed(i).powi(3))), Some("W read as kW")),
        (of("P-1", series("x", Role::PumpPower, "kW", move |i| 0.004 * speed(i).powi(3))), Some("kW read as W")),
        (series("x", Role::LoopFlow, "m3/h", move |i| 50.0 * speed(i)), None),
        (series("x", Role::LoopFlow, "m3/h", move |i| 220.0 * speed(i)), Some("gpm read as m3/h")),
        // 43 degF is 6 degC.
        (series("x", Role::SupplyTemperature, "degC", |i| 43.0 + wave(i)), Some("degF read as degC")),
        (series("x", Role::SupplyTemperature, "degC", |i| 9.0 + wave(i)), None),
        (series("x", Role::OutdoorTemperature, "degC", |i| 60.0 + 10.0 * wave(i)), Some("degF read as degC")),
        (series("x", Role::OutdoorTemperature, "degC", |i| 30.0 + 12.0 * wave(i)), None), // a desert
    ];
    for (s, wanted) in rows {
        let what = format!("{:?} {:.3} {}", s.role, s.values[5], s.unit);
        let out = screened(&tabled(), vec![runs(), s]);
        let named: Vec<&str> = out.doubts.iter().filter(|d| d.kind == Kind::Unit).map(|d| d.why.as_str()).collect();
        assert_eq!(named.len(), usize::from(wanted.is_some()), "{what}: {:?}", out.doubts);
        assert!(wanted.is_none_or(|w| named[0].contains(w)), "{what}: {named:?}");
        assert_eq!(gone(&out.series[1]) == ROWS, wanted.is_some(), "{what}");
    }
    // Head 1.5 times what the pump can make: no unit does that. Kept, and not found.
    let odd = of("P-1", series("x", Role::PumpHead, "kPa", move |i| 310.0 * speed(i).powi(2)));
    let out = screened(&tabled(), vec![runs(), odd]);
    assert!(out.doubts.len() == 1 && faults(&out).is_empty() && gone(&out.series[1]) == 0, "{:?}", out.doubts);
    // Without a table nothing says what the head should be.
    let psi = of("P-1", series("x", Role::PumpHead, "kPa", move |i| head(i) / 6.895));
    assert!(with(vec![runs(), psi]).doubts.is_empty());
}

#[test]
fn a_counter_is_held_against_the_power_beside_it() {
    let power = |i: usize| 3.0 + wave(i);
    let total = |i: usize| (0..i).map(power).sum::<f64>();
    for (factor, wanted) in
        [(1.0, None), (1.1, None), (0.001, Some("MWh read as kWh")), (1000.0, Some("Wh read as kWh"))]
    {
        let counter = of("P-1", series("kWh", Role::PumpEnergy, "kWh", |i| 5000.0 + factor * total(i)));
        let out = with(vec![
            of("P-1", series("speed", Role::PumpSpeed, "fraction", |i| 0.5 + 0.4 * wave(i))),
            of("P-1", series("kW", Role::PumpPower, "kW", power)),
            counter,
        ]);
        let named = out.doubts.iter().find(|d| d.point == "kWh");
        assert_eq!(named.is_some(), wanted.is_some(), "{factor}: {:?}", out.doubts);
        assert!(wanted.is_none_or(|w| named.unwrap().why.contains(w)), "{named:?}");
    }
}

#[test]
fn spikes_are_removed_in_bulk_only() {
    let spiky = |every: usize| {
        series("S", Role::SupplyTemperature, "degC", move |i| if i % every == 3 { 40.0 } else { 6.0 + wave(i) })
    };
    let steady = || of("P-1", series("speed", Role::PumpSpeed, "fraction", |_| 0.7));
    // 60 of 600 rows; 10 of them are an exception.
    let out = with(vec![steady(), spiky(10)]);
    assert_eq!(faults(&out), [("S", Kind::Outliers)], "{:?}", out.doubts);
    assert_eq!(gone(&out.series[1]), 60);
    assert!(faults(&with(vec![steady(), spiky(60)])).is_empty());
}

#[test]
fn a_clock_that_is_hours_off_is_seen_where_things_move_together() {
    // Quarter-hourly starts at irregular hours: the wave is no clock.
    let on = |i: usize| ((i / 7) * 29) % 11 > 4;
    let speed = move |i: usize| if on(i) { 0.5 + 0.4 * wave(i) } else { 0.0 };
    let late =
        |by: usize| of("P-1", series("kW", Role::PumpPower, "kW", move |i| 5.0 * speed(i.saturating_sub(by)).powi(3)));
    let check = |by: usize, wanted: &[(&str, Kind)]| {
        let out = with(vec![of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)), late(by)]);
        assert_eq!(faults(&out), wanted, "{by}: {:?}", out.doubts);
        assert_eq!(gone(&out.series[1]) > 0, !wanted.is_empty());
    };
    check(0, &[]);
    check(1, &[]); // stamped at the end of the interval
    check(3, &[("kW", Kind::Clock)]);
    // What does not move with the pump says nothing of clocks.
    let out = with(vec![
        of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
        series("dp", Role::PumpHead, "kPa", |i| 100.0 + wave(7 * i + 2)),
    ]);
    assert!(faults(&out).is_empty(), "{:?}", out.doubts);
}

#[test]
fn a_position_follows_its_command() {
    let command = || of("C-1", series("cmd", Role::ValveCommand, "fraction", |i| 0.2 + 0.6 * wave(i)));
    let position = |from: usize| {
        of(
            "C-1",
            series("pos", Role::ValvePosition, "fraction", move |i| if i >= from { 0.9 } else { 0.2 + 0.6 * wave(i) }),
        )
    };
    let out = with(vec![command(), position(500)]);
    assert_eq!(faults(&out), [("pos", Kind::Position)], "{:?}", out.doubts);
    assert_eq!((out.doubts[0].first_row, gone(&out.series[1])), (500, 0), "kept: the valve may stand there");
    assert!(with(vec![command(), position(ROWS)]).doubts.is_empty());
    assert!(with(vec![command(), position(ROWS - 20)]).doubts.is_empty(), "20 h");
}

#[test]
fn nothing_stops_the_screening() {
    let roles = [
        Role::PumpPower,
        Role::PumpHead,
        Role::LoopFlow,
        Role::SupplyTemperature,
        Role::ReturnTemperature,
        Role::OutdoorTemperature,
    ];
    for rows in [0usize, 1, 2] {
        let mut all: Vec<Series> = roles.iter().map(|r| series("x", *r, "kW", |_| f64::NAN)).collect();
        all.push(speed_by_day());
        all.iter_mut().for_each(|s| s.values.truncate(rows));
        let mut t = trends(all);
        t.clock.len = rows;
        assert!(screen(&crate::declared::plant(), t).value.doubts.iter().all(|d| d.confidence < AT_FAULT));
    }
    let nan = roles.iter().map(|r| series("x", *r, "kW", |_| f64::NAN)).collect();
    assert!(faults(&screened(&tabled(), nan)).is_empty());
}

/// A row on each side of each limit.
#[path = "thresholds_screening.rs"]
mod thresholds;
#[path = "thresholds_pairs.rs"]
mod thresholds_pairs;
#[path = "thresholds_readings.rs"]
mod thresholds_readings;
#[path = "thresholds_spikes.rs"]
mod thresholds_spikes;
#[path = "thresholds_units.rs"]
mod thresholds_units;
