//! A row on each side of the limits on what stands behind what, what a fault costs and when it began. What is varied is the only thing that differs
//! between the two.

use super::thresholds::{in_share, running_rows};
use super::thresholds_water::{OPENS, Opens, opens};
use super::*;
use offcurve::faults::onset;
use offcurve::screening::{Doubt, Kind};

fn found(c: &(Plant, Rows), fault: Fault) -> Finding {
    let all = c.1.judge(&c.0, fault);
    match all.iter().find_map(|v| if let Verdict::Found(f) = v { Some(f) } else { None }) {
        Some(f) => f.as_ref().clone(),
        None => panic!("{fault:?}: {all:#?}"),
    }
}

/// Off its curve from 6 h of day 6 on; a head sensor that is known to read wrong from one day to another.
fn behind_a_sensor(from: f64, to: f64) -> Option<Fault> {
    behind(from, to, 0.9)
}
fn behind(from: f64, to: f64, confidence: f64) -> Option<Fault> {
    let c = changed(held(kept(15, 14), 3.0, 6, |_, c| c + 19.4), |_, r| {
        let head = r.pumps[0].head.clone();
        r.trend("dp", Role::PumpHead, Some("P-1"), "kPa", head);
        let ms = |d: f64| START_MS + (d * DAY_MS as f64) as i64;
        r.doubts = vec![Doubt {
            point: "dp".into(),
            kind: Kind::Biased,
            rows: 400,
            confidence,
            first_ms: ms(from),
            last_ms: ms(to),
            ..Doubt::default()
        }];
    });
    found(&c, Fault::OffControlCurve).caused_by
}

#[test]
fn thresholds_of_what_stands_behind_what() {
    let sensor = Some(Fault::SensorFault);
    assert_eq!(behind_a_sensor(0.0, 14.0), sensor, "all along");
    // Two days after the effect, which began at 6.25 days.
    assert_eq!(behind_a_sensor(7.9, 14.0), sensor, "1.65 days later: one event");
    assert_eq!(behind_a_sensor(8.6, 14.0), None, "2.35 days later");
    assert_eq!(behind_a_sensor(0.0, 6.3), sensor, "gone within the hour");
    assert_eq!(behind(0.0, 14.0, 0.55), sensor, "a little better than even odds");
    assert_eq!(behind(0.0, 14.0, 0.45), None, "a little worse");
    assert_eq!(behind_a_sensor(0.0, 6.2), None, "gone an hour before");
}

/// Far more head than needed from the first day on; a fifth of the water past the coils from another day on, by their mixed water.
fn plenty_and_past(from: usize) -> (Plant, Rows) {
    changed(plenty(15, 14), |_, r| {
        let (_, past) = mixed(15, from, 0.18, 0.0);
        for i in running_rows(r) {
            // The share past the coils, at this loop's flows.
            let share = if day(r, i) >= from { 0.18 * 60.0 / r.pumps[0].flow[i] } else { 0.0 };
            r.back.as_mut().expect("trended")[i] = 6.0 + 6.75 * (1.0 - share);
        }
        (r.coil_back, r.supply) = (past.coil_back, past.supply);
        // A third of what it gives, so that what passes by cannot explain it.
        r.need.iter_mut().for_each(|n| *n *= 0.5);
    })
}

#[test]
fn thresholds_of_a_setting_beside_a_bypass() {
    let answer = |from: usize| {
        let c = plenty_and_past(from);
        let since = (found(&c, Fault::StuckBypass).first_seen_ms - START_MS) / DAY_MS;
        assert_eq!(since, from as i64, "the bypass is dated");
        check("", Fault::SetpointTooHigh, &c, if from <= 2 { Want::CannotTell } else { Want::Found("loop", 0) });
    };
    // The setting was too high from the first day on: within two days it is one event, and the need is not known.
    answer(2);
    answer(3);
}

/// All coils at 65 % of their design difference, for so many days.
fn low(days: usize) -> (Plant, Rows) {
    coils(days, |_, _| 0.65, |_, _| 0.7)
}

#[test]
fn thresholds_of_what_a_fault_costs() {
    for (share, priced) in [(0.25, false), (0.15, true)] {
        let c = changed(low(14), |_, r| {
            for i in running_rows(r).into_iter().filter(|i| in_share(*i, share)) {
                r.pumps[0].power[i] = f64::NAN;
            }
        });
        let f = found(&c, Fault::LowDeltaT);
        assert_eq!(f.waste_kwh.is_some(), priced, "power missing in {share} of the rows: {:?}", f.waste_kwh);
    }
    for (days, a_year) in [(24, false), (32, true)] {
        let f = found(&low(days), Fault::LowDeltaT);
        assert_eq!(f.waste_kwh_per_year.is_some(), a_year, "{days} days where four weeks carry a year");
    }
    // Half of it may lie in the seasons not seen, a tenth in the replay.
    let f = found(&low(32), Fault::LowDeltaT);
    let half = |e: offcurve::faults::Estimate| (e.high - e.low) / 2.0 / e.estimate;
    let (record, year) = (f.waste_kwh.expect("priced"), f.waste_kwh_per_year.expect("a month"));
    assert!((0.10..0.125).contains(&half(record)), "{record:?}: {}", half(record));
    // 0.5 x (1 - 768 / 8766) = 0.456 beside that.
    assert!((0.456..0.48).contains(&half(year)), "{year:?}: {}", half(year));
}

/// The waste is this share of the record's energy: the rest is drawn at night.
fn urgency(share: f64) -> Urgency {
    let c = low(14);
    let waste = found(&c, Fault::LowDeltaT).waste_kwh.expect("priced").estimate;
    let night = changed(c, |_, r| {
        let of_day: f64 = r.pumps[0].power.iter().sum::<f64>() * r.step_h;
        let rest: Vec<usize> = (0..r.len()).filter(|i| r.pumps[0].flow[*i] == 0.0).collect();
        let kw = (waste / share - of_day) / rest.len() as f64 / r.step_h;
        assert!(kw > 0.0, "{waste} of {of_day}");
        rest.into_iter().for_each(|i| r.pumps[0].power[i] = kw);
    });
    found(&night, Fault::LowDeltaT).urgency
}

#[test]
fn thresholds_of_urgency() {
    for (share, want) in [(0.034, Urgency::Watch), (0.046, Urgency::Plan), (0.13, Urgency::Plan), (0.17, Urgency::Act)]
    {
        assert_eq!(urgency(share), want, "{share} of the pumps' energy");
    }
}

#[test]
fn thresholds_of_a_step() {
    // A step without any noise is known to a fiftieth of itself and no better.
    let y: Vec<f64> = (0..14).map(|d| if d >= 7 { 1.0 } else { 0.0 }).collect();
    let step = onset::step(&y, &[], 3).expect("a step");
    assert!((step.t - 50.0).abs() < 1e-9 && step.at == 7, "{step:?}");
    // A bypass opens on day 7, on days that differ by themselves.
    let from_day_to_day = |by: f64| {
        changed(opens(Opens { share: 0.2, fell: 0.2, ..OPENS }), |_, r| {
            for i in running_rows(r) {
                r.pumps[0].flow[i] *= 1.0 + by * ripple(day(r, i), 77);
            }
        })
    };
    // At 9 % each way the step stands at six times its error.
    check("days that differ by 11 %", Fault::StuckBypass, &from_day_to_day(0.11), Want::CannotTell);
    check("days that differ by 8 %", Fault::StuckBypass, &from_day_to_day(0.08), Want::Found("loop", 7));
}
