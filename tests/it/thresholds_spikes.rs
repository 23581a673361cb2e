//! A row on each side of the limits on spikes, on when a pump runs or rests, and on numbers that stand for no reading. What is varied is the only thing
//! that differs between the two.

use super::thresholds::{Limit, sides};
use super::*;

fn every(step_s: i64, all: Vec<Series>) -> Screened {
    let mut t = trends(all);
    t.clock = Clock { start_ms: 0, step_s, len: t.series[0].values.len() };
    screen(&crate::declared::plant(), t).value
}
/// Up and down by one in a hundred rows; nine tenths of it span 0.9.
fn slow(i: usize) -> f64 {
    (i % 100).abs_diff(50) as f64 / 50.0
}
/// What spikes stand in: so many rows of a reading that spans this much about a middle, and so many spikes of a size, up and down in turn; the row after each lies
/// this much off the row before it.
struct Spikes {
    rows: usize,
    middle: f64,
    span: f64,
    spikes: usize,
    size: f64,
    apart: f64,
}
const SPIKES: Spikes = Spikes { rows: ROWS, middle: 10.0, span: 4.0, spikes: 33, size: 10.0, apart: 0.0 };

impl Spikes {
    fn values(&self) -> Vec<f64> {
        let mut v: Vec<f64> = (0..self.rows).map(|i| self.middle + self.span / 0.9 * (slow(i) - 0.5)).collect();
        for k in 0..self.spikes {
            let i = self.at(k);
            v[i] = v[i - 1] + if k % 2 == 0 { self.size } else { -self.size };
            v[i + 1] = v[i - 1] + self.apart;
        }
        v
    }
    fn at(&self, k: usize) -> usize {
        7 + k * (self.rows / (self.spikes + 1))
    }
    fn temperature(&self) -> Series {
        Series { values: self.values(), ..series("S", Role::SupplyTemperature, "degC", |_| 0.0) }
    }
}

#[test]
fn thresholds_of_spikes() {
    let limits: [Limit; 8] = [
        ("spans of the readings that a spike stands off", (0.85, ""), (1.15, "S removed"), |x| {
            with(vec![Spikes { size: 4.0 * x, ..SPIKES }.temperature()])
        }),
        // A quarter of the span.
        ("K of 4 by which its neighbours differ", (1.2, ""), (0.8, "S removed"), |k| {
            with(vec![Spikes { apart: k, ..SPIKES }.temperature()])
        }),
        ("K of a spike in a steady temperature", (0.85, ""), (1.15, "S removed"), |k| {
            with(vec![Spikes { span: 0.2, size: k, ..SPIKES }.temperature()])
        }),
        ("kPa of a spike in a steady 100", (4.3, ""), (5.8, "dp removed"), |kpa| {
            let values = Spikes { middle: 100.0, span: 0.2, size: kpa, ..SPIKES }.values();
            with(vec![Series { values, ..series("dp", Role::PumpHead, "kPa", |_| 0.0) }])
        }),
        ("spikes", (27.0, ""), (33.0, "S removed"), |n| {
            with(vec![Spikes { spikes: n as usize, ..SPIKES }.temperature()])
        }),
        ("spikes in 4000 rows", (34.0, ""), (46.0, "S removed"), |n| {
            every(3600, vec![Spikes { rows: 4000, spikes: n as usize, ..SPIKES }.temperature()])
        }),
        ("readings in 2000 rows that cannot be", (86.0, ""), (116.0, "S removed"), |n| {
            let mut s = Spikes { rows: 2000, spikes: 0, ..SPIKES }.temperature();
            (0..n as usize).for_each(|k| s.values[7 + 17 * k] = 850.0 + k as f64);
            every(3600, vec![s])
        }),
        // Of the speed there: 5.9 and 4.1 % of it.
        ("share by which the speed rises with it", (0.063, ""), (0.043, "S removed"), |share| {
            let speed = |i: usize| 0.7 * if (0..33).any(|k| SPIKES.at(k) == i) { 1.0 + share } else { 1.0 };
            with(vec![of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)), SPIKES.temperature()])
        }),
    ];
    sides(&limits);
}

/// Supply and return the wrong way round, looked at in the rows in which the pump runs.
fn wrong_way_round(witness: Series, seen: fn(usize) -> bool) -> Screened {
    with(vec![
        witness,
        series("S", Role::SupplyTemperature, "degC", |i| if seen(i) { 12.0 + 0.1 * wave(i) } else { f64::NAN }),
        series("R", Role::ReturnTemperature, "degC", |i| 6.0 + 0.1 * wave(i)),
    ])
}

#[test]
fn thresholds_of_running_and_resting() {
    let limits: [Limit; 5] = [
        ("share of thirty rows for which a status was on", (0.45, ""), (0.60, "S R removed"), |on| {
            let status = move |i: usize| if (100..130).contains(&i) { on } else { 0.0 };
            wrong_way_round(of("P-1", series("status", Role::PumpStatus, "fraction", status)), |_| true)
        }),
        // At full speed in one of fifteen rows, in which no temperature is read.
        ("share of its usual speed for thirty rows", (0.042, ""), (0.058, "S R removed"), |share| {
            let speed = move |i: usize| match i {
                100..130 => share,
                200..240 => 1.0,
                _ => 0.0,
            };
            wrong_way_round(of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)), |i| {
                !(200..240).contains(&i)
            })
        }),
        // 95 in 100 readings lie below 0.88.
        ("share of its usual speed at rest", (0.058, ""), (0.042, "dp"), |share| {
            let speed = move |i: usize| if by_day(i) { 0.5 + 0.4 * wave(i) } else { 0.88 * share };
            let dp = |i: usize| if by_day(i) { 80.0 + 40.0 * wave(i) } else { 8.0 };
            with(vec![
                of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
                of("P-1", series("dp", Role::PumpHead, "kPa", dp)),
            ])
        }),
        // Half an hour is six rows of five minutes; stops of an hour.
        ("rows that the water takes to come to rest", (7.0, ""), (6.0, "dp"), |n| {
            let rest = |i: usize| i % 24 >= 12;
            let speed = move |i: usize| if rest(i) { 0.0 } else { 0.5 + 0.4 * wave(i) };
            let dp = move |i: usize| match i % 24 {
                k @ 12.. if k < 12 + n as usize => 40.0,
                12.. => 8.0,
                _ => 80.0 + 40.0 * wave(i),
            };
            let all = vec![
                of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
                of("P-1", series("dp", Role::PumpHead, "kPa", dp)),
            ];
            every(300, all)
        }),
        // Three in the first stop.
        ("hours at rest in two stops", (5.0, ""), (7.0, "dp"), |h| {
            let rest = move |i: usize| (100..104).contains(&i) || (400..398 + h as usize).contains(&i);
            let speed = move |i: usize| if rest(i) { 0.0 } else { 0.5 + 0.4 * wave(i) };
            let dp = move |i: usize| if rest(i) { 8.0 } else { 80.0 + 40.0 * wave(i) };
            with(vec![
                of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
                of("P-1", series("dp", Role::PumpHead, "kPa", dp)),
            ])
        }),
    ];
    sides(&limits);
}

#[test]
fn thresholds_of_sentinels_on_both_sides() {
    let gone_of = |n: usize, spread: f64, far: f64| {
        let value = move |i: usize| match (i * 7) % 100 {
            k if k < n => far,
            k if k < 2 * n => -far,
            _ => 100.0 + spread * wave(i),
        };
        gone(&with(vec![series("x", Role::PumpHead, "kPa", value)]).series[0])
    };
    // 24 and 16 of a hundred rows.
    assert_eq!((gone_of(12, 15.0, 999.0), gone_of(8, 15.0, 999.0)), (0, 96), "rows on both sides");
}
