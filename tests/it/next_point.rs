//! The point to trend next: computed from what could not be told, what is trended and what the loop uses. Each row says why its answer is right.

use crate::declared;
use offcurve::faults::needs::NEEDS;
use offcurve::faults::next_point::{self, NextPoint};
use offcurve::faults::{Fault, Verdict};
use offcurve::plant::{Plant, Point, PowerIs, Role, TestedCurve};
use offcurve::quantity::Fraction;

fn point(role: Role, of: Option<&str>) -> Point {
    Point {
        name: role.word().into(),
        file: None,
        sheet: None,
        role,
        of: of.map(str::to_owned),
        unit: None,
        accuracy: None,
        noise: None,
        percent_of: None,
        scale: 1.0,
        offset: 0.0,
        range: None,
        power_is: None,
        computed_from: Vec::new(),
        on: Vec::new(),
        line: 1,
    }
}

/// One pump with a table of head and power.
fn plant(points: &[(Role, Option<&str>)]) -> Plant {
    let mut plant = declared::plant();
    plant.pumps[0].curves = vec![TestedCurve {
        speed: Fraction::of_one(1.0),
        head_flow_m3h: vec![0.0, 40.0, 80.0],
        head_kpa: vec![220.0, 205.0, 140.0],
        power_flow_m3h: vec![0.0, 40.0, 80.0],
        power_kw: vec![1.8, 3.2, 4.4],
        power_is: PowerIs::Shaft,
        tolerance: None,
    }];
    plant.points = points.iter().map(|(r, of)| point(*r, *of)).collect();
    plant
}

fn unknown(fault: Fault) -> Verdict {
    Verdict::CannotTell { fault, subject: "loop".into(), missing: Vec::new(), why: "not in the record".into() }
}

fn best(plant: &Plant, verdicts: &[Verdict]) -> Vec<NextPoint> {
    next_point::best(verdicts, false, plant, 1000.0, 876.6)
}

const SPEED: (Role, Option<&str>) = (Role::PumpSpeed, Some("P-1"));
const POWER: (Role, Option<&str>) = (Role::PumpPower, Some("P-1"));
const SUPPLY: (Role, Option<&str>) = (Role::SupplyTemperature, None);
const RETURN: (Role, Option<&str>) = (Role::ReturnTemperature, None);

/// Speed, power and supply are trended, the table gives flow: only the return temperature stands between and a verdict on delta-T.
#[test]
fn the_one_missing_point_is_named() {
    let found = best(&plant(&[SPEED, POWER, SUPPLY]), &[unknown(Fault::LowDeltaT)]);
    assert_eq!(found[0].role, Role::ReturnTemperature);
    assert_eq!(found[0].would_settle, ["low-delta-t"]);
    assert_eq!((found[0].with, found[0].of.as_deref()), (None, None));
    // 1,000 kWh in a tenth of a year: 10,000 a year, times how often it is met and what it wastes.
    let need = NEEDS.iter().find(|n| n.fault == Fault::LowDeltaT).expect("one entry a fault");
    assert!((found[0].worth_kwh_per_year - 10_000.0 * need.met * need.wastes).abs() < 1e-6, "{found:?}");
}

/// Neither head nor valves: each alone settles nothing of the setpoint, both together do.
#[test]
fn two_points_are_named_where_one_is_not_enough() {
    let found = best(&plant(&[SPEED, POWER, SUPPLY, RETURN]), &[unknown(Fault::SetpointTooHigh)]);
    let pair = found.iter().find(|p| p.would_settle == ["setpoint-too-high"]).expect("a pair");
    let roles = [Some(pair.role), pair.with];
    assert!(roles.contains(&Some(Role::PumpHead)) && roles.contains(&Some(Role::ValvePosition)), "{found:?}");
}

/// Head opens five faults and the valves two of them: the point that settles most of the usual waste comes first.
#[test]
fn the_most_useful_point_comes_first() {
    let open: Vec<Verdict> =
        [Fault::OffControlCurve, Fault::MinimumSpeedTooHigh, Fault::PoorStaging, Fault::ShortCycling]
            .map(unknown)
            .to_vec();
    let found = best(&plant(&[POWER, SPEED]), &open);
    assert_eq!(found[0].role, Role::PumpHead, "{found:?}");
    assert_eq!(found[0].of.as_deref(), Some("P-1"));
    let worth: Vec<f64> = found.iter().map(|p| p.worth_kwh_per_year).collect();
    assert!(worth.windows(2).all(|w| w[0] >= w[1]), "{found:?}");
}

/// What was found or cleared is settled; what has all its points waits for a longer record, not for a point.
#[test]
fn nothing_is_advised_where_no_point_would_help() {
    let clear = Verdict::Clear { fault: Fault::LowDeltaT, subject: "loop".into(), would_have_seen: "anything".into() };
    let all = plant(&[SPEED, POWER, SUPPLY]);
    let settled = best(&all, &[clear]);
    assert!(settled.iter().all(|p| !p.would_settle.contains(&"low-delta-t")), "{settled:?}");
    let full = plant(&[SPEED, POWER, SUPPLY, RETURN]);
    let found =
        best(&full, &[unknown(Fault::LowDeltaT), unknown(Fault::FixedSpeed), unknown(Fault::OutsidePreferredRegion)]);
    let helped = |code: &str| found.iter().any(|p| p.would_settle.contains(&code));
    assert!(!helped("low-delta-t") && !helped("fixed-speed") && !helped("outside-preferred-region"), "{found:?}");
}

/// Every fault has one entry, and every role that a rule may ask for can be wired.
#[test]
fn the_table_of_needs_is_whole() {
    for fault in Fault::ALL {
        let of_fault: Vec<_> = NEEDS.iter().filter(|n| n.fault == fault).collect();
        assert_eq!(of_fault.len(), 1, "{}", fault.code());
        assert!(!of_fault[0].all_of.is_empty() && of_fault[0].met > 0.0 && of_fault[0].wastes > 0.0);
    }
}

/// Half of the loops could do with a lower curve, and it saves a fifth: a tenth of 10,000 kWh a year. Four points are named, and no fifth.
#[test]
fn thresholds_of_what_is_advised() {
    let found = next_point::best(&[], true, &plant(&[SPEED, POWER, SUPPLY, RETURN]), 1000.0, 876.6);
    assert_eq!(
        (found.len(), found[0].role, found[0].would_settle.as_slice()),
        (1, Role::ValvePosition, &["recommendation"][..])
    );
    assert!((found[0].worth_kwh_per_year - 1000.0).abs() < 1e-6, "{found:?}");
    let all: Vec<Verdict> = Fault::ALL.into_iter().map(unknown).collect();
    let mut bare = plant(&[]);
    bare.pumps[0].curves.clear();
    let found = next_point::best(&all, true, &bare, 1000.0, 876.6);
    assert_eq!(found.len(), 4, "{found:#?}");
}
