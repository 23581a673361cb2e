//! A row on each side of each limit of the screening. What is varied is the only thing that differs between the two.

use super::*;

/// What is varied; two values, each with the points that are found at fault (and "removed" where one of them was); and the record they make.
pub(super) type Limit = (&'static str, (f64, &'static str), (f64, &'static str), fn(f64) -> Screened);

fn word(out: &Screened) -> String {
    let mut words: Vec<&str> = faults(out).into_iter().map(|f| f.0).collect();
    let is_gone = |name: &str| out.series.iter().any(|s| s.name == name && gone(s) > 0);
    if words.iter().any(|w| is_gone(w)) {
        words.push("removed");
    }
    words.join(" ")
}

pub(super) fn sides(limits: &[Limit]) {
    for (why, one, other, record) in limits {
        for (value, wanted) in [one, other] {
            let out = record(*value);
            assert_eq!(word(&out), *wanted, "{why}: {value}: {:?}", out.doubts);
        }
    }
}

/// A differential pressure of 80 to 120 kPa by day and this by night, with so much of hum.
fn pressure(zero: f64, hum: f64) -> Series {
    let dp = move |i: usize| if by_day(i) { 80.0 + 40.0 * wave(i) } else { zero + hum * wave(i + 1) };
    of("P-1", series("dp", Role::PumpHead, "kPa", dp))
}
/// The pump rests in these rows, and the pressure reads 8 kPa there.
fn resting(rest: fn(usize, f64) -> bool, v: f64) -> Screened {
    let speed = move |i: usize| if rest(i, v) { 0.0 } else { 0.5 + 0.4 * wave(i) };
    let dp = move |i: usize| if rest(i, v) { 8.0 } else { 80.0 + 40.0 * wave(i) };
    with(vec![
        of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
        of("P-1", series("dp", Role::PumpHead, "kPa", dp)),
    ])
}

#[test]
fn thresholds_of_zeros() {
    // Below 118 kPa in 95 of 100 running rows.
    let limits: [Limit; 7] = [
        ("kPa at rest", (5.1, ""), (6.7, "dp"), |z| with(vec![speed_by_day(), pressure(z, 0.1)])),
        ("kPa at rest that make the point worthless", (15.5, "dp"), (20.0, "dp removed"), |z| {
            with(vec![speed_by_day(), pressure(z, 0.1)])
        }),
        ("kPa at rest that another pump makes", (67.0, ""), (51.0, "dp removed"), |z| {
            with(vec![speed_by_day(), pressure(z, 0.1)])
        }),
        ("hum of 10 kPa at rest", (7.5, ""), (5.5, "dp"), |hum| with(vec![speed_by_day(), pressure(10.0, hum)])),
        // 6 and 8 % of 29 kPa.
        ("kPa at rest of a low pressure", (1.7, ""), (2.4, "dp"), |z| {
            let dp = move |i: usize| if by_day(i) { 20.0 + 10.0 * wave(i) } else { z };
            with(vec![speed_by_day(), of("P-1", series("dp", Role::PumpHead, "kPa", dp))])
        }),
        ("m3/h at rest of 49 where warm water rises", (4.2, ""), (5.6, "flow"), |z| {
            let mut p = crate::declared::plant();
            p.system.service = Service::HeatingWater;
            let flow = move |i: usize| if by_day(i) { 30.0 + 20.0 * wave(i) } else { z };
            screened(&p, vec![speed_by_day(), series("flow", Role::LoopFlow, "m3/h", flow)])
        }),
        ("stops of 12 h", (1.0, ""), (2.0, "dp"), |n| {
            resting(|i, n| i / 100 < n as usize && (50..62).contains(&(i % 100)), n)
        }),
    ];
    sides(&limits);
}

#[test]
fn thresholds_of_standing_still() {
    let limits: [Limit; 4] = [
        ("share by which the speed moves", (0.085, ""), (0.12, "kW removed"), |share| {
            let speed = move |i: usize| 0.8 * (1.0 + share / 0.9 * (wave(i) - 0.5));
            with(vec![
                of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
                of("P-1", series("kW", Role::PumpPower, "kW", |_| 4.2)),
            ])
        }),
        ("hours at 2 kW", (22.0, ""), (28.0, "kW removed"), |rows| {
            let kw = move |i: usize| if (240..240 + rows as usize).contains(&i) { 2.0 } else { power_by_day(i) };
            with(vec![speed_by_day(), of("P-1", series("kW", Role::PumpPower, "kW", kw))])
        }),
        ("running hours of 28 at 2 kW", (6.0, ""), (10.0, "kW removed"), |h| {
            let on = move |i: usize| (10..10 + h as usize).contains(&(i % 24));
            let speed = move |i: usize| if on(i) { 0.5 + 0.4 * wave(i) } else { 0.0 };
            let kw = move |i: usize| if (240..268).contains(&i) { 2.0 } else { 5.0 * speed(i).powi(3) };
            with(vec![
                of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
                of("P-1", series("kW", Role::PumpPower, "kW", kw)),
            ])
        }),
        ("hours of one outdoor temperature", (42.0, ""), (54.0, "OAT removed"), |rows| {
            let air = move |i: usize| if (100..100 + rows as usize).contains(&i) { 8.2 } else { 5.0 + 9.0 * wave(i) };
            with(vec![speed_by_day(), series("OAT", Role::OutdoorTemperature, "degC", air)])
        }),
    ];
    sides(&limits);
}

/// A position that leaves its command in the last rows.
fn stuck_valve(rows: usize, at: impl Fn(usize) -> f64, command: fn(usize) -> f64) -> Screened {
    let position = |i: usize| if i >= ROWS - rows { at(i) } else { command(i) };
    with(vec![
        of("C-1", series("cmd", Role::ValveCommand, "fraction", command)),
        of("C-1", series("pos", Role::ValvePosition, "fraction", position)),
    ])
}

#[test]
fn thresholds_of_spikes_and_positions() {
    let limits: [Limit; 6] = [
        ("rows between spikes: 26 and 35 of 600", (23.0, ""), (17.0, "S removed"), |every| {
            let s = move |i: usize| if i % every as usize == 3 { 40.0 } else { 6.0 + wave(i) };
            let steady = of("P-1", series("speed", Role::PumpSpeed, "fraction", |_| 0.7));
            with(vec![steady, series("S", Role::SupplyTemperature, "degC", s)])
        }),
        ("rows between readings that cannot be: 26 and 35 of 600", (23.0, ""), (17.0, "S removed"), |every| {
            let s = move |i: usize| if i % every as usize == 3 { 850.0 } else { 6.0 + wave(i) };
            with(vec![series("S", Role::SupplyTemperature, "degC", s)])
        }),
        ("hours that a valve stands", (21.0, ""), (28.0, "pos"), |h| {
            stuck_valve(h as usize, |_| 0.9, |i| 0.2 + 0.6 * wave(i))
        }),
        ("how far it stands still", (0.036, ""), (0.025, "pos"), |by| {
            stuck_valve(100, move |i| 0.9 + by * wave(i + 5), |i| 0.2 + 0.6 * wave(i))
        }),
        ("nine tenths of the command's span", (0.21, ""), (0.31, "pos"), |span| {
            if span < 0.25 {
                stuck_valve(100, |_| 0.9, |i| 0.5 + 0.21 / 0.9 * (wave(i) - 0.5))
            } else {
                stuck_valve(100, |_| 0.9, |i| 0.5 + 0.31 / 0.9 * (wave(i) - 0.5))
            }
        }),
        // A third of a stroke about its middle is off by a twelfth in the middle; from its end by a sixth.
        // By nine and twelve hundredths here.
        ("where it stands in a third of a stroke", (0.59, ""), (0.62, "pos"), |at| {
            stuck_valve(100, move |_| at, |i| 0.5 + (wave(i) - 0.5) / 3.0)
        }),
    ];
    sides(&limits);
}

/// Water that goes round past valves this far open, the return so much off the way a load makes it.
fn trickling(k: f64, open: f64) -> Screened {
    let mut all = waters(0.0, k, |_, _| 11.0, true);
    all.retain(|s| s.role != Role::CoilReturnTemperature);
    for s in all.iter_mut().filter(|s| s.role == Role::ValvePosition) {
        (0..ROWS).filter(|i| i % 24 < 6).for_each(|i| s.values[i] = open);
    }
    with(all)
}

#[test]
fn thresholds_of_temperatures() {
    let limits: [Limit; 17] = [
        ("K the wrong way round", (1.3, ""), (1.7, "S R removed"), |k| {
            with(vec![
                series("S", Role::SupplyTemperature, "degC", |i| 12.0 + 0.1 * wave(i)),
                series("R", Role::ReturnTemperature, "degC", move |i| 12.0 - k + 0.1 * wave(i)),
            ])
        }),
        ("share of the rows the wrong way round", (0.74, ""), (0.86, "S R removed"), |share| {
            let back = move |i: usize| if (i * 7) % 100 < (100.0 * share) as usize { 6.0 } else { 18.0 };
            with(vec![
                series("S", Role::SupplyTemperature, "degC", |i| 12.0 + 0.1 * wave(i)),
                series("R", Role::ReturnTemperature, "degC", move |i| back(i) + 0.1 * wave(i)),
            ])
        }),
        ("running hours the wrong way round", (20.0, ""), (28.0, "S R removed"), |h| {
            let speed = move |i: usize| if (i as f64) < h { 0.5 + 0.4 * wave(i) } else { 0.0 };
            with(vec![
                of("P-1", series("speed", Role::PumpSpeed, "fraction", speed)),
                series("S", Role::SupplyTemperature, "degC", |i| 12.0 + 0.1 * wave(i)),
                series("R", Role::ReturnTemperature, "degC", |i| 6.0 + 0.1 * wave(i)),
            ])
        }),
        ("K at no load, as no load makes it", (-0.8, ""), (-1.2, "R removed"), |k| {
            with(waters(0.0, k, |_, _| 11.0, true))
        }),
        ("K at no load, as a leaking valve makes it", (1.3, ""), (1.7, "R removed"), |k| {
            let mut all = waters(0.0, k, |_, _| 11.0, true);
            all.retain(|s| s.role != Role::CoilReturnTemperature);
            with(all)
        }),
        ("opening at no load, 1.8 K as a load makes them", (0.01, ""), (0.004, "R removed"), |x| trickling(1.8, x)),
        ("opening at no load, 1.2 K as none makes them", (0.04, ""), (0.02, "R removed"), |x| trickling(-1.2, x)),
        ("nights with every valve shut", (1.0, ""), (2.0, "R removed"), |n| {
            let mut all = waters(0.0, -1.2, |_, _| 11.0, true);
            for s in &mut all {
                for i in (0..ROWS).filter(|i| i / 24 >= n as usize && i % 24 < 6) {
                    match s.role {
                        Role::ValvePosition => s.values[i] = 0.5,
                        Role::ReturnTemperature => s.values[i] = 9.8,
                        _ => {}
                    }
                }
            }
            with(all)
        }),
        ("K beyond the coils' 11.4", (1.45, ""), (1.75, "R removed"), |k| {
            with(waters(0.0, k, |c, _| 10.5 + 0.3 * c as f64, false))
        }),
        ("coils with a return of four", (3.0, ""), (4.0, "R removed"), |n| {
            let mut all = waters(0.0, 1.8, |c, _| 10.5 + 0.3 * c as f64, false);
            all.retain(|s| n > 3.5 || s.name != "T0");
            with(all)
        }),
        ("K of one coil on the wrong side", (0.8, ""), (1.2, "T1 removed"), |k| {
            with(waters(
                0.0,
                0.0,
                if k < 1.0 { |c, _| if c == 1 { 5.2 } else { 11.0 } } else { |c, _| if c == 1 { 4.75 } else { 11.0 } },
                false,
            ))
        }),
        ("K off settled others", (0.8, ""), (1.2, "R removed"), |k| with(rests(0.0, -k, &[0.0, 0.1, -0.1]))),
        ("K by which the others differ", (0.78, ""), (0.52, "R removed"), |k| with(rests(0.0, -1.3, &[k, -k, 0.0]))),
        ("K of a lone pair", (1.9, ""), (2.45, "R"), |k| with(rests(0.0, -k, &[]))),
        ("K of a lone pair, the supply as much off its design", (1.3, ""), (1.75, "S"), |k| with(rests(k, 0.0, &[]))),
        ("nights at rest", (3.0, ""), (4.0, "R removed"), |n| {
            let mut all = rests(0.0, -1.3, &[0.0, 0.1, -0.1]);
            // After the last of them the pump runs on.
            for s in &mut all {
                for i in (0..ROWS).filter(|i| *i as f64 >= 24.0 * n && !by_day(*i)) {
                    s.values[i] = match s.role {
                        Role::PumpSpeed => 0.7 + 0.2 * wave(i),
                        Role::SupplyTemperature => 6.0 + 0.1 * wave(i),
                        Role::ReturnTemperature => 9.7 + 0.1 * wave(i),
                        _ => 11.0 + 0.1 * wave(i),
                    };
                }
            }
            with(all)
        }),
        ("hours of a stop", (9.0, ""), (12.0, "R removed"), |h| {
            let mut all = rests(0.0, -1.3, &[0.0, 0.1, -0.1]);
            for s in &mut all {
                for i in (0..ROWS).filter(|i| !by_day(*i) && ((*i + 6) % 24) as f64 >= h) {
                    s.values[i] = match s.role {
                        Role::PumpSpeed => 0.7 + 0.2 * wave(i),
                        Role::SupplyTemperature => 6.0 + 0.1 * wave(i),
                        Role::ReturnTemperature => 9.7 + 0.1 * wave(i),
                        _ => 11.0 + 0.1 * wave(i),
                    };
                }
            }
            with(all)
        }),
    ];
    sides(&limits);
    // The supply reads 1.7 K high.
    let mut all = waters(1.7, 0.0, |_, _| 11.0, true);
    all.retain(|s| s.role != Role::CoilReturnTemperature);
    let mut p = crate::declared::plant();
    assert_eq!(word(&screened(&p, all.clone())), "S removed");
    p.system.supply_temperature = None;
    let out = screened(&p, all);
    let why = "no design supply temperature: nothing says which of the two, so neither is removed";
    assert!(out.series.iter().all(|s| gone(s) == 0), "{why}: {:?}", out.doubts);
}
