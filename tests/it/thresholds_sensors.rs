//! A row on each side of each limit of the rules on sensors and wear. What is varied is the only thing that differs between the two.

use super::*;

/// What is varied; two values, each with what is named ("" for nobody); and the rows they make.
type Limit = (&'static str, (f64, &'static str), (f64, &'static str), fn(f64) -> Rows);

/// Wear by three readings: this much head [-], in logarithms.
pub(super) fn wear(m: f64) -> Story {
    Story { pairs: [-m, -m, 0.0], alone: [-0.75 * m, -0.5 * m, -0.9 * m] }
}
/// Head and power alone: misfit, and each at like speed.
pub(super) fn two(misfit: f64, head: f64, power: f64) -> Rows {
    rows(Some(check_of(Story { pairs: [misfit, NAN, NAN], alone: [head, power, NAN] }, step)), false)
}
pub(super) fn about(r: &mut Rows, values: impl Fn(&mut crate::rows::PumpRows, usize)) {
    (0..r.len()).for_each(|i| values(&mut r.pumps[0], i));
}

#[test]
fn thresholds_of_what_moved() {
    let limits: [Limit; 9] = [
        ("head lost", (0.025, ""), (0.037, "P-1"), |m| rows(Some(check_of(wear(m), step)), false)),
        ("days after it", (2.0, ""), (4.0, "P-1"), |n| {
            rows(Some(check_of(wear(0.12), |d| f64::from(u8::from(d + n as usize >= DAYS)))), false)
        }),
        ("days in all", (6.0, ""), (9.0, "P-1"), |n| {
            let mut check = check_of(wear(0.12), |d| f64::from(u8::from(d >= n as usize / 2)));
            check.days.truncate(n as usize);
            rows(Some(check), false)
        }),
        ("power against flow beside 0.12 of head: a quarter of it", (0.035, ""), (0.025, "dp"), |p| {
            rows(Some(check_of(Story { pairs: [-0.12, -0.12, p], alone: [-0.12, 0.0, 0.0] }, step)), false)
        }),
        ("power at like speed beside 0.12 of head: 0.15 of it", (0.014, ""), (0.022, "P-1"), |b| two(-0.12, -0.06, -b)),
        ("how far power rises with flow", (0.12, ""), (0.19, "dp"), |rises| {
            let mut r = two(-0.12, -0.12, 0.0);
            r.pumps[0].check.as_mut().unwrap().days.iter_mut().for_each(|d| d.power_rises = rises);
            r
        }),
        // 10th to 90th percentile: 1.67 of it.
        ("half the range of the head, power falling", (0.058, ""), (0.088, "kW"), |by| {
            let mut r = two(-0.10, 0.0, -0.10);
            about(&mut r, |p, i| p.head[i] = 100.0 * (1.0 + by * jitter(i)));
            r
        }),
        ("half the range of the speed about 0.7: 0.036 and 0.062 of it", (0.015, ""), (0.026, "dp"), |by| {
            let mut r = two(-0.12, -0.12, 0.0);
            about(&mut r, |p, i| p.speed[i] = 0.7 + by * jitter(i));
            r
        }),
        ("how long it lasted: gone in the last third", (8.0, ""), (14.0, "P-1"), |n| {
            rows(Some(check_of(wear(0.12), |d| f64::from(u8::from(d >= ON && d < ON + n as usize)))), false)
        }),
    ];
    for (why, one, other, rows) in limits {
        for (value, wanted) in [one, other] {
            let r = rows(value);
            let named: Vec<String> = answers(&r).into_iter().map(|a| a.1).collect();
            assert_eq!(
                named.join(" "),
                wanted,
                "{why}: {value}: {:#?}",
                r.judge(&declared::plant(), Fault::PumpDegraded)
            );
        }
    }
}

#[test]
fn thresholds_of_wear_and_of_doubts() {
    // A loss that a load may go without; its waste has no price here.
    let urgency = |m: f64| {
        let mut r = rows(Some(check_of(wear(m), step)), false);
        about(&mut r, |p, i| p.power[i] = f64::NAN);
        match r.judge(&declared::plant(), Fault::PumpDegraded).as_slice() {
            [Verdict::Found(f)] => f.urgency,
            other => panic!("{other:#?}"),
        }
    };
    assert!(urgency(0.14) < urgency(0.19), "13 and 17 % of the head: {:?} and {:?}", urgency(0.14), urgency(0.19));
    // 3 % proved and 5 % of a sensor's own.
    let mut proved = declared::plant();
    proved.pumps[0].curves = vec![plant::TestedCurve {
        speed: offcurve::quantity::Fraction::of_one(1.0),
        power_is: plant::PowerIs::Shaft,
        tolerance: Some(0.03),
        head_flow_m3h: vec![0.0, 90.0],
        head_kpa: vec![200.0, 100.0],
        power_flow_m3h: vec![],
        power_kw: vec![],
    }];
    for (at_least, found) in [(0.073, false), (0.088, true)] {
        let mut told = check_of(wear(0.12), |_| 1.0);
        let offset = |of, estimate: f64| Offset {
            of,
            estimate,
            low: estimate - 0.02,
            high: estimate + 0.02,
            told_by_record: true,
        };
        told.offsets = vec![
            offset(OffsetOf::HeadScale, -at_least - 0.02),
            offset(OffsetOf::PowerScale, 0.0),
            offset(OffsetOf::MeterScale, 0.0),
        ];
        let all = rows(Some(told), false).judge(&proved, Fault::PumpDegraded);
        assert_eq!(all.iter().any(|v| matches!(v, Verdict::Found(_))), found, "{at_least} at least: {all:#?}");
    }
    // Running hours from which a point may be called well.
    for (hours, clear) in [(20, false), (28, true)] {
        let mut r = rows(None, false);
        r.pumps[0].state.iter_mut().skip(hours).for_each(|s| *s = State::Off);
        let all = r.judge(&declared::plant(), Fault::SensorFault);
        assert!(all.iter().all(|v| matches!(v, Verdict::Clear { .. }) == clear), "{hours} h: {all:#?}");
    }
    let bare = Rows::new(&declared::plant(), 60, DAYS).judge(&declared::plant(), Fault::SensorFault);
    assert!(matches!(bare.as_slice(), [Verdict::CannotTell { .. }]), "no measured point is trended: {bare:#?}");
    // Sure enough to name.
    for (by, found) in [(-0.05, false), (0.05, true)] {
        let mut r = rows(None, false);
        let confidence = offcurve::screening::AT_FAULT + by;
        r.doubts = vec![Doubt { point: "kW".into(), kind: Kind::Biased, rows: 48, confidence, ..Doubt::default() }];
        let all = r.judge(&declared::plant(), Fault::SensorFault);
        assert_eq!(all.iter().any(|v| matches!(v, Verdict::Found(_))), found, "{confidence}: {all:#?}");
    }
}
