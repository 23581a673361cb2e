//! Which trended points can be believed: what cannot be is removed, what is odd is said, what is fine is left alone.
//!
//! The limits are common practice, no source; the rows show both sides of each.

use crate::ingest::{plant, point};
use offcurve::ingest::{Clock, Ledger, PointLedger, Series, Trends};
use offcurve::plant::{Plant, Role, Service};
use offcurve::screening::{Screened, screen};

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
        assert!((out.series[0].values[0] - supply).abs() < 1.0, "kept as declared");
    };
    check(Service::ChilledWater, 6.0, 12.0, false);
    check(Service::ChilledWater, 12.0, 6.0, true);
    check(Service::HeatingWater, 70.0, 50.0, false);
    check(Service::HeatingWater, 50.0, 70.0, true);
    check(Service::CondenserWater, 27.0, 32.0, false);
    check(Service::CondenserWater, 32.0, 27.0, true);
    check(Service::ChilledWater, 6.2, 6.0, false); // no load, sensors' own difference
}
