//! A row on each side of the limits on what tells a pump that delivers nothing, where the first rows left them out. What is varied is the only thing that
//! differs between the two.

use super::thresholds_floors::{Limit, sides};
use super::*;

const PUMP: Want = Found("P-1", 0);

/// Two hours of every afternoon at 70 % and this flow, the head that of no flow, no meter; valves this far open then, the bypass shut.
fn afternoons(open: f64, q: f64) -> World {
    let mut w = metered(0.0, 2.0, 0);
    w.rows.trends.remove(0);
    w.rows.bypass_position = Some(vec![0.0; w.rows.len()]);
    for i in 0..w.rows.len() {
        if (12.0..14.0).contains(&w.hour(i)) {
            w.rows.valves.iter_mut().flatten().for_each(|v| v[i] = open);
            w.rows.pumps[0].flow[i] = q;
        }
    }
    w
}
/// So many rows at noon of every day with a meter at zero.
fn short(minutes: u32, rows: usize) -> World {
    let mut w = World::new(minutes, DAYS);
    let noon = (720 / minutes) as usize;
    let of_day = (1440 / minutes) as usize;
    for i in 0..w.rows.len() {
        if (noon..noon + rows).contains(&(i % of_day)) {
            w.run(0, i, 0.0, 0.7);
        }
    }
    let (flow, head) = (w.rows.pumps[0].flow.clone(), w.rows.pumps[0].head.clone());
    w.trend(Role::LoopFlow, None, "m3/h", |i| flow[i]);
    w.trend(Role::PumpHead, None, "kPa", |i| head[i]);
    w
}

#[test]
fn thresholds_of_no_flow() {
    let limits: [Limit; 5] = [
        ("valves that call for water", (0.65, Clear), (0.76, PUMP), |open| afternoons(open, 0.0)),
        // A fifth of the best flow of 68 at 70 % is 9.52, the interval 3 % each way.
        ("m3/h while they call for it", (10.5, Clear), (8.2, PUMP), |q| afternoons(0.9, q)),
        // 51 m3/h of 51 and so much more; at 8 m3/h it takes all valves to say that nothing flows.
        ("m3/h of the coil whose valve is not trended", (3.9, Clear), (1.5, PUMP), |q| {
            let mut w = afternoons(0.0, 8.0);
            w.plant.system.bypass = Some(Bypass::None);
            w.plant.coils[3].design_flow = Some(Flow::m3h(q));
            w.rows.valves[3] = None;
            w
        }),
        ("rows of three minutes", (4.0, Clear), (6.0, PUMP), |n| short(3, n as usize)),
        // A whole run of so many rows of 5 min, by night.
        ("rows of a whole run at no flow", (4.0, Clear), (5.0, PUMP), |n| {
            let mut w = metered(1.0, 0.0, 0);
            for i in 0..w.rows.len() {
                if (24..24 + n as usize).contains(&(i % 288)) {
                    w.run(0, i, 0.0, 0.7);
                    w.rows.trends[0].values[i] = 0.0;
                }
            }
            w
        }),
    ];
    sides(Fault::Deadheading, &limits);
}

/// P-2 beside P-1 at 80 % for so many hours in all, both at this power; in the last hour and a half P-2 takes so much of it, at a speed so much lower.
#[derive(Clone, Copy)]
struct Beside {
    hours: f64,
    kw: f64,
    left: f64,
    slower: f64,
}
const BESIDE: Beside = Beside { hours: 56.0, kw: 2.0, left: 0.5, slower: 0.0 };

fn beside(b: Beside) -> World {
    let mut w = World::new(5, 14).with_second();
    let rows = (12.0 * b.hours).round() as usize;
    let mine: Vec<usize> = (0..w.rows.len()).filter(|i| (8.0..12.0).contains(&w.hour(*i))).take(rows).collect();
    for (n, i) in mine.iter().enumerate() {
        let lost = n + 18 >= rows;
        w.run(0, *i, 0.5 * DESIGN_FLOW, 0.8);
        w.run(1, *i, 0.5 * DESIGN_FLOW, 0.8 * if lost { 1.0 - b.slower } else { 1.0 });
        w.rows.pumps[0].power[*i] = b.kw;
        w.rows.pumps[1].power[*i] = b.kw * if lost { b.left } else { 1.0 };
    }
    w
}
/// P-2 against a shut valve at 140.8 kPa from 9 to 11 h; P-1 beside it so far below an eleventh less.
fn parted(kpa: f64) -> World {
    let mut w = World::new(5, DAYS).with_second();
    for i in 0..w.rows.len() {
        if (9.0..11.0).contains(&w.hour(i)) {
            w.run(1, i, 0.0, 0.8);
            w.run(0, i, 0.62 * DESIGN_FLOW, 0.8);
        }
    }
    let of = |w: &World, i: usize, head: f64| if (9.0..11.0).contains(&w.hour(i)) { head } else { f64::NAN };
    let (one, two): (Vec<f64>, Vec<f64>) =
        (0..w.rows.len()).map(|i| (of(&w, i, (140.8 - kpa) / 1.10), of(&w, i, 140.8))).unzip();
    w.trend(Role::PumpHead, Some("P-1"), "kPa", |i| one[i]);
    w.trend(Role::PumpHead, Some("P-2"), "kPa", |i| two[i]);
    w
}

#[test]
fn thresholds_of_a_pump_beside_another() {
    type Side = (&'static str, f64, f64, fn(f64) -> World);
    let rows: [Side; 5] = [
        ("its share of the other's power", 0.75, 0.65, |left| beside(Beside { left, ..BESIDE })),
        ("how much slower it turns", 0.023, 0.017, |slower| beside(Beside { slower, ..BESIDE })),
        ("hours together", 10.0, 14.0, |hours| beside(Beside { hours, ..BESIDE })),
        ("kW of each", 0.13, 0.17, |kw| beside(Beside { kw, ..BESIDE })),
        ("kPa between them beyond a tenth", 1.7, 2.3, parted),
    ];
    for (why, quiet, found, world) in rows {
        let is = |v: f64| only(&world(v), "P-2").iter().any(|v| matches!(v, Verdict::Found(_)));
        assert!(!is(quiet), "{why}: {quiet}");
        assert!(is(found), "{why}: {found}");
    }
}
