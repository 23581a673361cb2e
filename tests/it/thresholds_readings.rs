//! A row on each side of the limits on what a reading can be, how long it may stand, and how far its clock may be off. What is varied is the only thing
//! that differs between the two.

use super::thresholds::{Limit, sides};
use super::*;

/// One odd reading among usual ones; it stays at the first value and goes at the second.
#[test]
fn thresholds_of_what_a_reading_can_be() {
    use Role::*;
    let p = plant(vec![point("x", Role::PumpPower)]);
    // (role, unit, usual reading, odd and kept, odd and removed)
    let rows = [
        (SupplyTemperature, "degC", 6.0, -55.0, -65.0),
        (ReturnTemperature, "degC", 90.0, 140.0, 160.0),
        (CoilReturnTemperature, "degC", 90.0, 140.0, 160.0),
        (SourceSupplyTemperature, "degC", 90.0, 140.0, 160.0),
        (OutdoorTemperature, "degC", 10.0, -55.0, -65.0),
        (AirTemperature, "degC", 20.0, 80.0, 100.0),
        (SpaceTemperature, "degC", 20.0, 80.0, 100.0),
        (ValvePosition, "fraction", 0.5, 1.04, 1.06),
        (ValveCommand, "fraction", 0.5, -0.04, -0.06),
        (BypassPosition, "fraction", 0.5, 1.04, 1.06),
        (PumpSpeed, "fraction", 0.8, 1.45, 1.55),
        (PumpSpeed, "fraction", 0.8, -0.04, -0.06),
        // A column of percentages.
        (PumpSpeed, "fraction", 80.0, 145.0, 155.0),
        // Rated 60 Hz and 3600 rpm where nothing is declared.
        (PumpSpeed, "Hz", 45.0, 80.0, 100.0),
        (PumpSpeedCommand, "rpm", 1450.0, 4800.0, 6000.0),
        // 2 % of the 5.5 kW and of the 66 m3/h that 95 in 100 readings stay below.
        (PumpPower, "kW", 5.0, -0.09, -0.13),
        (LoopFlow, "m3/h", 60.0, -1.1, -1.6),
        (PumpFlow, "m3/h", 60.0, 80_000.0, 120_000.0),
        (BypassFlow, "m3/h", 5.0, -80_000.0, -120_000.0),
        (PumpHead, "kPa", 150.0, 3500.0, 4500.0),
        (DifferentialPressure, "kPa", 150.0, -3500.0, -4500.0),
        (SuctionPressure, "kPa", 150.0, -95.0, -108.0),
        (DischargePressure, "kPa", 300.0, 3500.0, 4500.0),
        (PumpStarts, "count", 10.0, 0.0, -1.0),
    ];
    for (role, unit, usual, kept, removed) in rows {
        for (odd, goes) in [(kept, false), (removed, true)] {
            let s = series("x", role, unit, |i| if i == 7 { odd } else { usual * (1.0 + 0.1 * wave(i)) });
            let out = screened(&p, vec![s]);
            assert_eq!(gone(&out.series[0]), usize::from(goes), "{role:?} {odd} {unit}: {:?}", out.doubts);
        }
    }
    // Up to 1.9 they are fractions, and above one and a half of rated speed; from 2.2 on they are percentages.
    for (top, goes) in [(1.9, true), (2.2, false)] {
        let out = screened(&p, vec![series("x", Role::PumpSpeed, "fraction", |i| top * (1.0 - 0.1 * wave(i)))]);
        assert_eq!(gone(&out.series[0]) > 0, goes, "up to {top}: {:?}", out.doubts);
    }
    // The declared frequency is held to, where there is one: one and a half times 50 Hz.
    let mut declared = crate::declared::plant();
    declared.pumps[0].rated_frequency = Some(offcurve::quantity::Frequency::hz(50.0));
    for (odd, goes) in [(70.0, 0), (80.0, 1)] {
        let s = series("x", Role::PumpSpeed, "Hz", |i| if i == 7 { odd } else { 40.0 + wave(i) });
        let out = screened(&declared, vec![of("P-1", s)]);
        assert_eq!(gone(&out.series[0]), goes, "{odd} Hz of 50: {:?}", out.doubts);
    }
}

fn running() -> Series {
    of("P-1", series("speed", Role::PumpSpeed, "fraction", |i| 0.5 + 0.4 * wave(i)))
}
fn at_one_speed() -> Series {
    of("P-1", series("speed", Role::PumpSpeed, "fraction", |_| 0.7))
}
/// A return temperature that changes by `value`, and stands at 9 degC for so many rows from the 240th on.
fn stands(rows: usize, value: impl Fn(usize) -> f64) -> Series {
    series("R", Role::ReturnTemperature, "degC", move |i| {
        if (240..240 + rows).contains(&i) { 9.0 } else { 10.0 + 2.0 * value(i) }
    })
}
/// A speed that goes up and down in so many steps of four hours, and a head of 100 kPa and so much more that follows it but for 60 rows.
fn by_steps(steps: usize, more: f64) -> Screened {
    let at = move |i: usize| {
        let k = i / 4 % (2 * steps);
        (if k <= steps { k } else { 2 * steps - k }) as f64 / steps as f64
    };
    let head = move |i: usize| if (240..300).contains(&i) { 103.3 } else { 100.0 + more * at(i) };
    with(vec![
        of("P-1", series("speed", Role::PumpSpeed, "fraction", move |i| 0.5 + 0.4 * at(i))),
        of("P-1", series("dp", Role::PumpHead, "kPa", head)),
    ])
}

#[test]
fn thresholds_of_a_point_s_habits() {
    let limits: [Limit; 9] = [
        ("rows of 20 without a new value", (5.0, ""), (3.0, "R removed"), |n| {
            with(vec![running(), stands(48, |i| wave(i - usize::from((i * 7) % 20 < n as usize)))])
        }),
        ("rows at one value beside six elsewhere", (32.0, ""), (40.0, "R removed"), |n| {
            with(vec![running(), stands(n as usize, |i| wave(if (400..406).contains(&i) { 400 } else { i }))])
        }),
        // Eight tenths of what it follows by: 24 and 36 kPa of 115 and 122.
        ("kPa that it follows by", (30.0, ""), (45.0, "dp removed"), |more| by_steps(10, more)),
        ("steps that it takes from end to end", (5.0, ""), (6.0, "dp removed"), |n| by_steps(n as usize, 80.0)),
        // Middle 90 % of it.
        ("K by which the supply moves, the speed standing", (2.0, ""), (2.6, "R removed"), |k| {
            let supply = series("S", Role::SupplyTemperature, "degC", move |i| 5.0 + k * wave(i + 3));
            with(vec![at_one_speed(), supply, stands(60, wave)])
        }),
        ("times at the end of its range", (3.0, ""), (2.0, "kW removed"), |n| {
            let top = move |i: usize| i / 150 < n as usize && i % 150 >= 100 && i % 150 < 140;
            let kw = move |i: usize| if top(i) { 5.0 } else { 5.0 * (0.5 + 0.4 * wave(i)).powi(3) };
            with(vec![running(), of("P-1", series("kW", Role::PumpPower, "kW", kw))])
        }),
        ("opening of the coil's valve meanwhile", (0.04, ""), (0.06, "T removed"), |open| {
            let still = |i: usize| (240..300).contains(&i);
            let valve = move |i: usize| if still(i) { open } else { 0.4 + 0.2 * wave(i) };
            let back = move |i: usize| if still(i) { 11.0 } else { 11.0 + wave(i + 9) };
            with(vec![
                running(),
                of("C-1", series("V", Role::ValvePosition, "fraction", valve)),
                of("C-1", series("T", Role::CoilReturnTemperature, "degC", back)),
            ])
        }),
        ("running hours of a power that never changes", (20.0, ""), (28.0, "kW removed"), |h| {
            let speed = move |i: usize| if i < h as usize { 0.5 + 0.4 * wave(i) } else { 0.0 };
            with(vec![
                of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
                of("P-1", series("kW", Role::PumpPower, "kW", move |i| if i < h as usize { 4.2 } else { 0.0 })),
            ])
        }),
        ("samples", (45.0, ""), (55.0, "kW removed"), |n| {
            let mut t = trends(vec![running(), of("P-1", series("kW", Role::PumpPower, "kW", |_| 4.2))]);
            t.ledger.points[1].samples = n as u64;
            screen(&crate::declared::plant(), t).value
        }),
    ];
    sides(&limits);
}

/// Noise that repeats and has no habit: 0 to 1.
fn noise(i: usize, k: u64) -> f64 {
    let mut x = (i as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(k.wrapping_mul(0xD1B5_4A32_D192_ED03));
    x = (x ^ (x >> 31)).wrapping_mul(0x94D0_49BB_1331_11EB);
    x = (x ^ (x >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    ((x ^ (x >> 32)) >> 11) as f64 / (1u64 << 53) as f64
}
/// A power that follows its pump's speed so many rows later, `at_once` of it in the same row, beside `other` of its own.
fn late(by: usize, at_once: f64, other: f64) -> Vec<Series> {
    let speed = |i: usize| 0.5 + 0.4 * noise(i, 1);
    let kw = move |i: usize| 3.0 + noise(i + 99 - by, 1) + at_once * noise(i + 99, 1) + other * noise(i, 2);
    vec![
        of("P-1", series("speed", Role::PumpSpeed, "fraction", move |i| speed(i + 99))),
        of("P-1", series("kW", Role::PumpPower, "kW", kw)),
    ]
}

#[test]
fn thresholds_of_clocks() {
    let limits: [Limit; 4] = [
        ("hours late", (13.0, ""), (11.0, "kW removed"), |h| with(late(h as usize, 0.0, 0.0))),
        // A part n of its own beside 1 of the speed's leaves a correlation of 1 / sqrt(1 + n^2), 0.53 and 0.64; either half must reach a half.
        ("its own noise", (1.6, ""), (1.2, "kW removed"), |n| with(late(3, 0.0, n))),
        // The correlation at once over that at the lag.
        ("part that comes at once", (0.36, ""), (0.30, "kW removed"), |m| with(late(3, m, 0.0))),
        ("changes", (18.0, ""), (22.0, "kW removed"), |n| {
            let level = move |i: usize| (i * (n as usize + 1) / ROWS * 7 % 5) as f64 / 5.0;
            with(vec![
                of("P-1", series("speed", Role::PumpSpeed, "fraction", move |i| 0.5 + 0.4 * level(i))),
                of("P-1", series("kW", Role::PumpPower, "kW", move |i| 3.0 + level(i.saturating_sub(3)))),
            ])
        }),
    ];
    sides(&limits);
    // Rows two minutes apart, looked at every four: two of those are 8 min, three 12.
    for (rows, wanted) in [(4, 0), (6, 1)] {
        let every = |s: Series| Series { values: (0..8 * ROWS).map(|i| s.values[i / 2 % ROWS]).collect(), ..s };
        let all: Vec<Series> = late(rows / 2, 0.0, 0.0).into_iter().map(every).collect();
        let mut t = trends(all);
        t.clock = Clock { start_ms: 0, step_s: 120, len: 8 * ROWS };
        let out = screen(&crate::declared::plant(), t).value;
        assert_eq!(faults(&out).len(), wanted, "{} min: {:?}", 2 * rows, out.doubts);
    }
}

/// A head of 100 kPa and up to so much more, and what stands in its place in some rows; how many rows go.
fn sentinels(spread: f64, odd: impl Fn(usize) -> Option<f64>) -> usize {
    let value = |i: usize| odd(i).unwrap_or(100.0 + spread * wave(i));
    gone(&with(vec![series("x", Role::PumpHead, "kPa", value)]).series[0])
}
/// One in so many rows, counted from the third on.
fn nth(i: usize, every: usize) -> Option<usize> {
    (i % every == 3).then_some(i / every)
}

#[test]
fn thresholds_of_numbers_that_stand_for_no_reading() {
    let alike = |n: usize| sentinels(15.0, move |i| nth(i, 100).filter(|k| *k < n).map(|_| 999.0));
    assert_eq!((alike(2), alike(3)), (0, 3), "rows alike");
    let share = |n: usize| sentinels(15.0, move |i| ((i * 7) % 100 < n).then_some(999.0));
    assert_eq!((share(23), share(17)), (0, 102), "of a hundred rows");
    // The middle 60 % of it, twenty times, is 264 and 288 kPa; 400 lie 281 to 282 beyond.
    let spread = |s: f64| sentinels(s, |i| nth(i, 100).map(|_| 400.0));
    assert_eq!((spread(24.0), spread(22.0)), (0, 6), "beside this spread");
    let times = |x: f64| sentinels(1.0, move |i| nth(i, 100).map(|_| x * 100.8));
    assert_eq!((times(2.7), times(3.3)), (0, 6), "times the largest");
    // Of 25 that far off, this many are no two the same.
    let own = |n: usize| sentinels(15.0, move |i| nth(i, 24).map(|k| if k < n { 900.0 + k as f64 } else { 999.0 }));
    assert_eq!((own(3), own(2)), (0, 23), "single ones of 25");
    let kinds = |n: usize| sentinels(15.0, move |i| nth(i, 30).map(|k| 900.0 + (k % n) as f64));
    assert_eq!((kinds(4), kinds(3)), (0, 20), "different ones");
}
