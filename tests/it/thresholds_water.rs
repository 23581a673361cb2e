//! A row on each side of the limits of water past the coils as the loop's conductance shows it, and of what clears the terminals. What is varied is the
//! only thing that differs between the two.

use super::thresholds::{Limit, level, one_lags, one_opens, running_rows, sides};
use super::*;
use Want::{CannotTell, Clear, Found};

const LOOP: Want = Found("loop", 0);

/// A loop whose flow is what its coils' valves let through at 120 kPa, and from a day on a bypass with this share of it. No coil's water is trended.
#[derive(Clone, Copy)]
pub(super) struct Opens {
    pub(super) days: usize,
    pub(super) from: usize,
    pub(super) share: f64,
    /// By which share the loop's difference of temperature fell with it.
    pub(super) fell: f64,
    /// Of the flow, row by row, each way.
    pub(super) noise: f64,
    /// Valves move within this of 0.7 each way, and let through 40 m3/h times this in the middle.
    pub(super) by: f64,
    pub(super) size: f64,
}

pub(super) const OPENS: Opens = Opens { days: 14, from: 7, share: 0.2, fell: 0.2, noise: 0.002, by: 0.15, size: 1.0 };

pub(super) fn opens(o: Opens) -> (Plant, Rows) {
    opens_when(o, |d| d >= o.from)
}

fn opens_when(o: Opens, open: impl Fn(usize) -> bool) -> (Plant, Rows) {
    changed(running(declared::plant(), 15, o.days, |_, _| 0.6), |p, r| {
        p.system.minimum_flow = None;
        let n = r.len();
        // Equal percentage of 50: half a stroke is 50^-0.5.
        let valves: [Vec<f64>; 4] = [0, 1, 2, 3].map(|k| (0..n).map(|i| 0.7 + o.by * ripple(i, 70 + k)).collect());
        let field = |i: usize| valves.iter().map(|v| 50f64.powf(v[i] - 0.7)).sum::<f64>() / 4.0;
        for i in running_rows(r) {
            let past = if open(day(r, i)) { o.share / (1.0 - o.share) } else { 0.0 };
            r.pumps[0].flow[i] = 40.0 * o.size * (field(i) + past) * (1.0 + o.noise * ripple(i, 80));
            hold(r, i, 120.0);
            let left = if open(day(r, i)) { 1.0 - o.fell } else { 1.0 };
            r.back.as_mut().expect("trended")[i] = 6.0 + 6.3 * left;
        }
        valves.into_iter().enumerate().for_each(|(k, v)| r.valves[k] = Some(v));
    })
}

/// The pump runs for so many hours of each day from 10 h on.
fn for_hours(c: (Plant, Rows), h: f64) -> (Plant, Rows) {
    changed(c, |_, r| {
        for i in running_rows(r).into_iter().filter(|i| !(10.0..10.0 + h).contains(&hour(r, *i))).collect::<Vec<_>>() {
            r.pumps[0].state[i] = State::Off;
            r.pumps[0].flow[i] = 0.0;
        }
    })
}

#[test]
fn thresholds_stuck_bypass_by_conductance() {
    const SEVENTH: Want = Found("loop", 7);
    let limits: [Limit; 12] = [
        // 6 % of the flow; the water shows it, as far as it can.
        ("share past the coils", (0.052, Clear), (0.070, SEVENTH), |s| opens(Opens { share: s, fell: s, ..OPENS })),
        // A step of 12 % in the middle that takes less than a quarter out of the spread from row to row.
        ("noise of the rows each way", (0.30, Clear), (0.24, SEVENTH), |noise| {
            opens(Opens { share: 0.12, fell: 0.12, noise, ..OPENS })
        }),
        // Less than 12 % drowns in the load's own changes; every valve is trended.
        ("share past the coils that the water denies", (0.138, CannotTell), (0.104, SEVENTH), |s| {
            opens(Opens { share: s, fell: 0.0, ..OPENS })
        }),
        // Four tenths of 20 %.
        ("fall of the difference beside 20 %", (0.065, CannotTell), (0.098, SEVENTH), |fell| {
            opens(Opens { fell, ..OPENS })
        }),
        // Without its valve the last coil stands at 0.7.
        ("design flow of valves trended", (0.75, CannotTell), (0.85, SEVENTH), |share| {
            changed(opens(Opens { share: 0.1, fell: 0.0, ..OPENS }), |p, r| {
                p.coils[3].design_flow = Some(Flow::m3h(51.0 * (1.0 - share) / share));
                for i in running_rows(r) {
                    let moved = 50f64.powf(r.valves[3].as_ref().expect("trended")[i] - 0.7) - 1.0;
                    r.pumps[0].flow[i] -= 10.0 * moved;
                }
                r.valves[3] = None;
            })
        }),
        ("days before it opened", (2.0, CannotTell), (3.0, Found("loop", 3)), |d| {
            opens(Opens { from: d as usize, ..OPENS })
        }),
        ("days in all", (6.0, CannotTell), (7.0, Found("loop", 3)), |d| {
            opens(Opens { days: d as usize, from: 3, ..OPENS })
        }),
        ("hours of a day", (0.75, CannotTell), (1.25, Found("loop", 14)), |h| {
            for_hours(opens(Opens { days: 28, from: 14, ..OPENS }), h)
        }),
        // Open on 75 and 85 % of the thirty days since, strewn.
        ("days of 20 on which it is shut again", (5.0, Clear), (3.0, Found("loop", 30)), |n| {
            let o = Opens { days: 70, from: 30, ..OPENS };
            opens_when(o, |d| d >= 30 && (d * 7) % 20 >= n as usize)
        }),
        // A quarter of 68 m3/h is 17.
        ("flow over 40 m3/h", (0.30, CannotTell), (0.45, SEVENTH), |size| {
            opens(Opens { share: 0.1, fell: 0.1, by: 0.05, size, ..OPENS })
        }),
        ("valves that hold their own flow, of four", (1.0, CannotTell), (0.0, SEVENTH), |n| {
            changed(opens(OPENS), |p, _| {
                p.coils[..n as usize].iter_mut().for_each(|c| c.valve = Some(Valve::PressureIndependent));
            })
        }),
        // The loop's difference all along, over 6 K: 0.80 and 0.90.
        ("K of the difference, no step", (4.8, CannotTell), (5.4, Clear), |k| {
            changed(opens(Opens { share: 0.0, fell: 0.0, ..OPENS }), |_, r| {
                r.back = Some(vec![6.0 + k; r.len()]);
            })
        }),
    ];
    sides(Fault::StuckBypass, &limits);
}

/// The loop at 65 % of its design difference, from a day on or always; the coils' own water at another share, their valves this far open.
fn elsewhere(from: usize, before: f64, since: f64, open: f64) -> (Plant, Rows) {
    changed(coils(14, |_, _| 1.0, move |_, _| open), |_, r| {
        let n = r.len();
        let late: Vec<bool> = (0..n).map(|i| day(r, i) >= from).collect();
        r.back = Some((0..n).map(|i| 6.0 + if late[i] { 3.9 } else { 6.0 } + 0.05 * ripple(i, 60)).collect());
        (0..n).filter(|i| late[*i]).for_each(|i| r.pumps[0].flow[i] /= 0.65);
        for k in 0..4 {
            r.coil_back[k] = Some((0..n).map(|i| 6.0 + 6.0 * if late[i] { since } else { before }).collect());
        }
    })
}

/// So many of the coils are on three-way valves, and the flow is that of design.
fn on_three_way(share: f64) -> (Plant, Rows) {
    changed(coils(14, |_, _| 0.65, |_, _| 0.7), |p, r| {
        p.coils[0].valve = Some(Valve::ThreeWay);
        p.coils[0].design_flow = Some(Flow::m3h(DESIGN_FLOW * share));
        p.coils[1..].iter_mut().for_each(|c| c.design_flow = Some(Flow::m3h(DESIGN_FLOW * (1.0 - share) / 3.0)));
        p.coils.iter_mut().for_each(|c| c.design_load = None);
        r.pumps[0].flow.iter_mut().filter(|q| **q > 0.0).for_each(|q| *q = DESIGN_FLOW);
    })
}

#[test]
fn thresholds_of_what_clears_the_terminals() {
    const SEVENTH: Want = Found("loop", 7);
    let limits: [Limit; 6] = [
        (
            "share of the loop's fall by 35 % that the coils' water shares",
            (0.095, CannotTell),
            (0.15, SEVENTH),
            |fell| elsewhere(7, 1.0, 1.0 - fell, 0.6),
        ),
        ("the coils' own water, the loop at 65 %", (0.965, CannotTell), (0.935, LOOP), |own| {
            elsewhere(0, own, own, 0.6)
        }),
        // The rule's own rows: 0.01 of ripple about it.
        ("opening from which a coil's water counts", (0.175, CannotTell), (0.13, LOOP), |open| {
            elsewhere(0, 1.0, 1.0, open)
        }),
        ("design flow on three-way valves", (0.80, CannotTell), (0.60, LOOP), on_three_way),
        ("risers of three coils: a third", (1.0, CannotTell), (0.0, LOOP), |n| {
            changed(coils(14, |_, _| 0.65, |_, _| 0.7), |p, r| {
                p.coils.pop();
                for column in [&mut r.valves, &mut r.air, &mut r.air_setpoint, &mut r.coil_back, &mut r.fans] {
                    column.pop();
                }
                p.coils[..n as usize].iter_mut().for_each(|c| c.terminal = Some(Terminal::Riser));
            })
        }),
        ("risers of four coils: a quarter", (2.0, CannotTell), (1.0, LOOP), |n| {
            changed(coils(14, |_, _| 0.65, |_, _| 0.7), |p, _| {
                p.coils[..n as usize].iter_mut().for_each(|c| c.terminal = Some(Terminal::Riser));
            })
        }),
    ];
    sides(Fault::LowDeltaT, &limits);
}

/// Five coils, so many of which give 70 % of their design difference where the others give 115 %: two are named, three are not what is at fault.
#[test]
fn thresholds_of_how_many_coils_are_at_fault() {
    for (n, named) in [(2, vec!["C-1", "C-2"]), (3, vec![])] {
        let (mut p, mut r) = coils(14, |k, _| if k < n { 0.70 } else { 1.15 }, |k, _| if k < n { 0.8 } else { 0.6 });
        p.coils.push(p.coils[3].clone());
        p.coils[4].name = "C-5".into();
        for column in [&mut r.valves, &mut r.air, &mut r.air_setpoint, &mut r.coil_back, &mut r.fans] {
            let last = column[3].clone();
            column.push(last);
        }
        let found = |v: &Verdict| match v {
            Verdict::Found(f) if f.subject != "loop" => Some(f.subject.clone()),
            _ => None,
        };
        let all = r.judge(&p, Fault::LowDeltaT);
        assert_eq!(all.iter().filter_map(found).collect::<Vec<_>>(), named, "{n} of five: {all:#?}");
    }
}

/// The coil that lags has its valve open where this says so, and at four tenths else.
fn lags_while(open: impl Fn(&Rows, usize) -> bool) -> (Plant, Rows) {
    changed(one_lags(0.70, 0.8, 1.05), |_, r| {
        let valve = (0..r.len()).map(|i| if open(r, i) { 0.8 } else { 0.4 }).collect();
        r.valves[0] = Some(valve);
    })
}
/// Noise that repeats and has no order: -1 to 1.
fn chance(i: usize, k: u64) -> f64 {
    let mut x = (i as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(k.wrapping_mul(0xD1B5_4A32_D192_ED03));
    x = (x ^ (x >> 31)).wrapping_mul(0x94D0_49BB_1331_11EB);
    x = (x ^ (x >> 29)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    ((x ^ (x >> 32)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}
/// Days whose load, supply and valves differ by themselves, each by its own.
fn by_chance(c: (Plant, Rows)) -> (Plant, Rows) {
    changed(c, |_, r| {
        let days: Vec<usize> = (0..r.len()).map(|i| day(r, i)).collect();
        let moved = |v: &mut Vec<f64>, by: f64, k: u64| {
            v.iter_mut().zip(&days).for_each(|(v, d)| *v += by * chance(*d, k));
        };
        [&mut r.supply, &mut r.back].into_iter().flatten().for_each(|v| moved(v, 0.2, 1));
        r.coil_back.iter_mut().flatten().for_each(|v| moved(v, 0.2, 1));
        r.valves.iter_mut().enumerate().for_each(|(k, v)| {
            if let Some(v) = v {
                moved(v, 0.02, 10 + k as u64);
            }
        });
        r.pumps[0].flow.iter_mut().zip(&days).for_each(|(q, d)| *q *= 1.0 + 0.05 * chance(*d, 2));
    })
}
/// All coils fall on day 7, on days that differ by themselves by this much each way; no valve to ask, or valves that opened.
fn wavering(from: f64, to: f64, by: f64, valves: bool) -> (Plant, Rows) {
    let of = move |d: usize| (if d >= 7 { to } else { from }) * (1.0 + by * chance(d, 3));
    let opened = move |_: usize, d: usize| if d >= 7 { 0.75 } else { 0.6 };
    changed(by_chance(coils(14, move |_, d| of(d), opened)), |_, r| {
        if !valves {
            r.valves.fill(None);
            r.coil_back.fill(None);
        }
    })
}

#[test]
fn thresholds_of_the_water_and_its_witnesses() {
    const COIL: Want = Found("C-1", 0);
    const SEVENTH: Want = Found("loop", 7);
    let limits: [Limit; 9] = [
        // Toward less work: the valve that opened is no fault of the coil's.
        ("K by which the setpoint of a coil that opened was raised", (1.0, Clear), (0.6, Found("C-1", 7)), |k| {
            changed(by_chance(one_opens(0.70, 0.20)), |_, r| {
                r.air_setpoint[0] = Some((0..r.len()).map(|i| if day(r, i) >= 7 { 13.0 + k } else { 13.0 }).collect());
                r.air[0] = r.air_setpoint[0].clone();
            })
        }),
        ("hours a day of fourteen that a coil lags", (1.25, Clear), (1.75, COIL), |h| {
            lags_while(|r, i| (10.0..10.0 + h).contains(&hour(r, i)))
        }),
        ("days that a coil lags", (3.0, Clear), (4.0, COIL), |n| lags_while(|r, i| day(r, i) < n as usize)),
        ("opening of one valve on the day of a fall by 9 %", (0.05, Clear), (0.07, SEVENTH), |by| {
            let opened = move |k: usize, d: usize| if k == 0 && d >= 7 { 0.6 + by } else { 0.6 };
            coils(14, |_, d| if d >= 7 { 0.955 } else { 1.05 }, opened)
        }),
        ("hours a day", (0.75, CannotTell), (1.25, LOOP), |h| for_hours(level(0.65), h)),
        // 20.5 degC and 5 K more.
        ("degC of a compensated heating supply", (24.5, CannotTell), (26.5, LOOP), |c| {
            changed(level(1.0), |p, r| {
                p.system.service = Service::HeatingWater;
                p.system.supply_temperature = Some(Temperature::celsius(70.0));
                p.system.return_temperature = Some(Temperature::celsius(50.0));
                r.supply = Some(vec![c; r.len()]);
                r.back = Some(vec![c - 0.5 * 20.0 * (c - 20.5) / 49.5; r.len()]);
                r.coil_back.fill(None);
            })
        }),
        // Four times its error on the day that valves name, eight times where no valve can be asked.
        ("wavering of a fall by 12 % with valves that opened", (0.09, Clear), (0.072, SEVENTH), |by| {
            wavering(1.05, 1.05 * 0.88, by, true)
        }),
        // Half of the fall is taken for the load's, which fell with it: a fifth is asked.
        ("wavering of a fall by 40 %, no valve to ask", (0.17, Clear), (0.15, SEVENTH), |by| {
            wavering(1.45, 0.87, by, false)
        }),
        ("wavering of a fall by 52 %, no valve to ask", (0.20, Clear), (0.18, SEVENTH), |by| {
            wavering(1.8, 0.87, by, false)
        }),
    ];
    sides(Fault::LowDeltaT, &limits);
}

#[test]
fn thresholds_stuck_bypass_by_the_coils_water() {
    let limits: [Limit; 2] = [
        ("opening of the coils' valves", (0.13, Clear), (0.17, LOOP), |open| {
            changed(mixed(15, 0, 0.18, 0.0), |_, r| {
                let n = r.len();
                r.valves.iter_mut().for_each(|v| *v = Some(vec![open; n]));
            })
        }),
        ("coils of five whose water is trended: by number", (3.0, Clear), (4.0, LOOP), |n| {
            changed(mixed(15, 0, 0.18, 0.0), |p, r| {
                p.coils.push(declared::coil("C-5"));
                for column in [&mut r.valves, &mut r.air, &mut r.air_setpoint, &mut r.coil_back, &mut r.fans] {
                    column.push(None);
                }
                r.valves[4] = r.valves[3].clone();
                r.coil_back[n as usize..].fill(None);
            })
        }),
    ];
    sides(Fault::StuckBypass, &limits);
}

/// The plant's water comes back this much nearer the supply than the coils' mixed water at the middle of the day's flows: a part of it as a bypass of a
/// fixed opening makes it, the rest as a sensor that reads wrong. The flow falls by this from 0.9 of design over the day; the first coil's own
/// difference, the mixture staying at 6.75 K.
#[derive(Clone, Copy)]
struct Lacks {
    share: f64,
    as_bypass: f64,
    falls: f64,
    worst: f64,
}
const LACKS: Lacks = Lacks { share: 0.2, as_bypass: 1.0, falls: 0.5, worst: 6.3 };

fn lacks(l: Lacks) -> (Plant, Rows) {
    changed(running(declared::plant(), 15, 14, |_, h| 0.9 - l.falls * (h - 6.0) / 14.0), |_, r| {
        let n = r.len();
        // Root of head over flow, over that in the middle of the day.
        let slack = |q: f64| asked(q).sqrt() / q;
        let middle = slack(DESIGN_FLOW * (0.9 - l.falls / 2.0));
        let lack = |q: f64| l.share * (1.0 - l.as_bypass + l.as_bypass * slack(q) / middle);
        let of = |i: usize| if r.pumps[0].flow[i] > 0.0 { lack(r.pumps[0].flow[i]) } else { 0.0 };
        r.back = Some((0..n).map(|i| 6.0 + 6.75 * (1.0 - of(i)) + 0.005 * ripple(i, 30)).collect());
        r.supply = Some(vec![6.0; n]);
        for k in 0..4 {
            let own = if k == 0 { l.worst } else { (4.0 * 6.75 - l.worst) / 3.0 };
            r.coil_back[k] = Some(vec![6.0 + own; n]);
            r.valves[k] = Some((0..n).map(|i| 0.55 + 0.3 * r.pumps[0].flow[i] / DESIGN_FLOW).collect());
        }
    })
}

#[test]
fn thresholds_stuck_bypass_told_from_a_sensor() {
    let limits: [Limit; 6] = [
        ("share past the coils in the middle", (0.105, Clear), (0.14, LOOP), |share| {
            lacks(Lacks { share, worst: 6.7, ..LACKS })
        }),
        // At the 80th per cent of the rows 83 % of the mixed water's 6.75 K are left, 5.6 K: over these.
        ("K of the worst coil", (5.4, Clear), (6.1, LOOP), |worst| lacks(Lacks { worst, ..LACKS })),
        // 90th over 10th per cent of root of head over flow: 1.15 and 1.34.
        ("share of design by which the flow falls", (0.25, CannotTell), (0.42, LOOP), |falls| {
            lacks(Lacks { falls, ..LACKS })
        }),
        // What is left of it by a sensor goes into the bypass's misfit, and the other way round: 88 and 72 % of the other's.
        ("part of it as a bypass makes it", (0.532, CannotTell), (0.581, LOOP), |as_bypass| {
            lacks(Lacks { as_bypass, ..LACKS })
        }),
        ("part of four tenths as a bypass makes it", (0.419, CannotTell), (0.468, LOOP), |as_bypass| {
            lacks(Lacks { share: 0.4, as_bypass, ..LACKS })
        }),
        ("share past the coils, the flow hardly ranging", (0.27, CannotTell), (0.34, LOOP), |share| {
            lacks(Lacks { share, falls: 0.2, ..LACKS })
        }),
    ];
    sides(Fault::StuckBypass, &limits);
}
