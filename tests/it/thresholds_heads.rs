//! A row on each side of the limits on coils that starve and on points off their curve that the first rows left out: what stands at work, how sure a
//! finding is, what the points off a curve look like, and the pump's own line. What is varied is the only thing that differs between the two.

use super::thresholds::{Limit, running_rows, sides, unknown};
use super::*;
use Want::{CannotTell, Clear, Found};
use offcurve::operating::Basis;

const LOOP: Want = Found("loop", 0);
const SIXTH: Want = Found("loop", 6);

/// Two coils short from 10 h on for less than the two hours that a coil needs to settle.
fn short_from_ten(change: impl FnOnce(&mut Plant, &mut Rows)) -> (Plant, Rows) {
    changed(starving(Starving { hours: (10.0, 11.75), ..STARVING }), change)
}

#[test]
fn thresholds_of_starving_coils() {
    let limits: [Limit; 3] = [
        ("hours judged in two days", (20.0, CannotTell), (27.0, Clear), |h| {
            let content = Starving { days: 2, valve: 0.7, short: 0.0, ..STARVING };
            changed(starving(content), |_, r| unknown(r, |r, i| hour(r, i) >= 6.0 + h / 2.0))
        }),
        // A coil that was at work before has settled.
        ("their valves' opening until 10 h", (0.08, Clear), (0.12, LOOP), |open| {
            short_from_ten(|_, r| {
                for v in r.valves[2..].iter_mut().flatten().flatten().filter(|v| **v == 0.75) {
                    *v = open;
                }
            })
        }),
        ("K by which the setpoint fell at 10 h", (1.2, Clear), (0.8, LOOP), |k| {
            short_from_ten(|_, r| {
                let of = |r: &Rows, i: usize| if hour(r, i) < 10.0 { 13.0 + k } else { 13.0 };
                let column: Vec<f64> = (0..r.len()).map(|i| of(r, i)).collect();
                r.air_setpoint[2..].fill(Some(column));
            })
        }),
    ];
    sides(Fault::SetpointTooLow, &limits);
    // What the coils should bring back is not known beyond a kelvin either; what is said tells the two apart.
    let warm_by = |k: f64| {
        changed(starving(STARVING), |_, r| {
            let warm = |v: &mut Vec<f64>| v.iter_mut().for_each(|t| *t += k);
            [&mut r.supply, &mut r.back].into_iter().flatten().for_each(warm);
            r.coil_back.iter_mut().flatten().for_each(warm);
        })
    };
    check("0.8 K above the design supply", Fault::SetpointTooLow, &warm_by(0.8), LOOP);
    let (plant, rows) = warm_by(1.2);
    match &rows.judge(&plant, Fault::SetpointTooLow)[0] {
        Verdict::CannotTell { why, .. } => assert!(why.contains("supply is warmer than design"), "{why}"),
        v => panic!("1.2 K above the design supply: {v:#?}"),
    }
}

#[test]
fn how_sure_starving_coils_make() {
    let sure = |s: Starving, index: bool| {
        let c = changed(starving(s), |p, _| p.coils[2].index = index);
        check("", Fault::SetpointTooLow, &c, LOOP).expect("found").confidence
    };
    let two = sure(STARVING, false);
    // Water that comes back with more than 1.05 of its difference bears witness by itself.
    let by_water = |water: f64| sure(Starving { water, ..STARVING }, false);
    assert!(by_water(1.03) < two - 0.05, "{} against {two}", by_water(1.03));
    assert!((by_water(1.07) - two).abs() < 1e-9, "{} against {two}", by_water(1.07));
    // The index branch alone is a witness, but less of one than two coils: a strainer or a balancing valve of its own explains it.
    let one = sure(Starving { coils: &[2], ..STARVING }, true);
    assert!((two - one - 0.10).abs() < 1e-9, "{one} against {two}");
}

/// Off from day 6 on by what `head` makes of the row, its flow over design and the head asked.
fn from_day_6(flow: impl Fn(usize, f64) -> f64, head: impl Fn(usize, f64, f64) -> f64) -> (Plant, Rows) {
    changed(running(declared::plant(), 15, 14, flow), |_, r| {
        for i in running_rows(r).into_iter().filter(|i| day(r, *i) >= 6).collect::<Vec<_>>() {
            let q = r.pumps[0].flow[i];
            let h = head(i, q / DESIGN_FLOW, r.pumps[0].curve[i]);
            hold(r, i, h);
            r.pumps[0].regime[i] = Regime::AboveCurve;
        }
    })
}

#[test]
fn what_points_off_the_curve_look_like() {
    let says = |c: &(Plant, Rows), day: usize| {
        check("", Fault::OffControlCurve, c, Found("loop", day)).expect("found").because.clone()
    };
    // 2.5 % of 162 kPa are 4.05: 170 kPa each way by so much.
    for (by, held) in [(3.4, true), (4.7, false)] {
        let c = from_day_6(|_, h| 0.4 + 0.5 * (h - 6.0) / 14.0, |i, _, _| 170.0 + if i % 2 == 0 { by } else { -by });
        let because = says(&c, 6);
        assert_eq!(because.contains("a constant pressure"), held, "{by}: {because}");
    }
    // Curves through the design point with zero-flow heads of 90, 120 and 150 kPa, at 0.4, 0.6 and 0.8 of the way up to it: the last tell nothing of
    // zero flow, and of the others the second are more.
    let level = |h: f64| -> (f64, f64) {
        if h < 8.0 {
            (0.4, 90.0)
        } else if h < 12.5 {
            (0.6, 120.0)
        } else {
            (0.8, 150.0)
        }
    };
    let at = |i: usize| level((i % 96) as f64 / 4.0);
    let c = from_day_6(|_, h| level(h).0.sqrt(), |i, x, _| at(i).1 + (DESIGN_HEAD - at(i).1) * x * x);
    let because = says(&c, 6);
    assert!(because.contains("zero-flow head near 120"), "{because}");
    // A step without noise stands at fifty times its error: 0.6 + 50 / 200 = 0.85, were single rows to show it too.
    let c = held(kept(15, 14), 15.0, 6, |_, c| c + 15.0);
    let f = check("", Fault::OffControlCurve, &c, SIXTH).expect("found");
    assert!((f.confidence - 0.8).abs() < 1e-9, "{}", f.confidence);
}

/// The head reads 40 % more from day 6 on, beside 30 kPa of the control: the pump left its own line. So many rows on each of the first four days,
/// and none on the next two; their head apart by so much.
fn read_high(rows_a_day: usize, apart: f64) -> (Plant, Rows) {
    let c = held(kept(15, 14), 3.0, 6, |_, c| c + 30.0);
    changed(c, |_, r| {
        let first = 4 * 7;
        let seen = move |i: usize| (first..first + rows_a_day).contains(&(i % 96));
        unknown(r, |r, i| day(r, i) < 6 && !(day(r, i) < 4 && seen(i)));
        for i in running_rows(r) {
            r.pumps[0].head[i] *=
                if day(r, i) >= 6 { 1.4 } else { 1.0 + apart * (f64::from(u8::from(i % 2 == 0)) - 0.5) };
        }
    })
}

#[test]
fn thresholds_of_the_pump_s_own_line() {
    let limits: [Limit; 2] = [
        // In eight pieces 7 and 8.4 rows each, of which eight tell.
        ("rows a day, four days", (17.0, CannotTell), (14.0, SIXTH), |n| read_high(n as usize, 0.0)),
        ("spread of the head in a piece, beside its own slope", (0.08, CannotTell), (0.11, SIXTH), |apart| {
            read_high(40, apart)
        }),
    ];
    sides(Fault::OffControlCurve, &limits);
}

#[test]
fn thresholds_of_how_the_head_is_known() {
    let limits: [Limit; 2] = [
        // 0.12 x 0.64 x 162 = 12.4 kPa to the header, 4.9 of tolerance, and twice the interval: 3 of the head beside 0.03 x 2 x 98 x 0.64 = 3.8 by
        // the flow, 4.8. In all 26.9.
        ("kPa above the curve at the header, 0.8 of design flow", (25.0, CannotTell), (28.8, LOOP), |by| {
            let c = running(declared::plant(), 15, 14, |_, _| 0.8);
            changed(held(c, 3.0, 0, |_, c| c + by), |p, r| {
                p.control.head_at = Some(HeadAt::Header);
                regime(r, Regime::OnCurve, Regime::AboveCurve, |_, _| true);
            })
        }),
        ("pumps of five whose head is read", (2.0, CannotTell), (3.0, Clear), |n| {
            let mut plant = declared::plant();
            plant.pumps = ["P-1", "P-2", "P-3", "P-4", "P-5"].map(declared::pump).to_vec();
            let mut c = running(plant, 15, 14, |_, h| 0.5 + 0.02 * (h - 6.0));
            // The others' by power and speed.
            c.1.pumps[n as usize..].iter_mut().for_each(|p| p.basis = Basis::Measured(2));
            c
        }),
    ];
    sides(Fault::OffControlCurve, &limits);
}
