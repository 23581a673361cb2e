//! A row on each side of the limits on floors, run-out and idle turning that the first rows left out. What is varied is the only thing that differs
//! between the two.

use super::*;

/// What is varied, its two values with the answers wanted, and the world they make.
pub(super) type Limit = (&'static str, (f64, Want<'static>), (f64, Want<'static>), fn(f64) -> World);

pub(super) fn sides(fault: Fault, limits: &[Limit]) {
    for (why, one, other, world) in limits {
        for (value, want) in [one, other] {
            check(&format!("{why}: {value}"), fault, &world(*value), *want);
        }
    }
}

const PUMP: Want = Found("P-1", 0);
const BEST_POINT: Want = CannotTell("[[pump]].best_efficiency_flow");

/// A floor of 64 % under nights of 0.3 of the flow; 59.6 % would be enough.
fn nights() -> World {
    floored(0.64, Some(0.30))
}
/// Always at this share of a declared best flow of 42 m3/h at 80 % speed; its flow known to half a per cent.
fn always(x: f64) -> World {
    let mut w = sized(42.0);
    w.plant.pumps[0].best_efficiency_flow = Some(Flow::m3h(42.0));
    w.rows.pumps[0].flow_half = 0.005;
    for i in 0..w.rows.len() {
        if w.rows.pumps[0].state[i] != State::Off {
            w.run(0, i, x * 42.0 * 0.8, 0.8);
        }
    }
    w
}

/// On every other day 23 % of the hours on the floor, on the days between them this share; the rest of the nights at half of the flow, on the curve.
fn every_other_day(share: f64) -> World {
    let mut w = nights();
    for i in 0..w.rows.len() {
        if (6.0..20.0).contains(&w.hour(i)) {
            w.run(0, i, 0.6 * DESIGN_FLOW, speed_for(0.6 * DESIGN_FLOW, curve(0.6 * DESIGN_FLOW)));
            continue;
        }
        // Of 96 rows a day.
        let of_night = if w.hour(i) < 6.0 { w.hour(i) } else { w.hour(i) - 14.0 };
        let rows = 96.0 * if w.day(i).is_multiple_of(2) { 0.23 } else { share };
        if of_night * 4.0 >= rows {
            w.run(0, i, 0.5 * DESIGN_FLOW, speed_for(0.5 * DESIGN_FLOW, curve(0.5 * DESIGN_FLOW)));
        }
    }
    w
}

#[test]
fn thresholds_of_a_day_s_floor() {
    let limits: [Limit; 2] = [
        // 23 % on the others: with it 16 %, without it 11 % of all hours, of 15.
        ("share of every other day on the floor", (0.085, Clear), (0.12, PUMP), every_other_day),
        // A fiftieth of the day at less would be its lowest speed.
        ("speed of four rows a day on their way to a stop", (0.115, Clear), (0.085, PUMP), |s| {
            let mut w = nights();
            for i in 0..w.rows.len() {
                if w.rows.pumps[0].state[i] == State::Steady && (6.0..7.0).contains(&w.hour(i)) {
                    w.rows.pumps[0].speed[i] = s;
                }
            }
            w
        }),
    ];
    sides(Fault::MinimumSpeedTooHigh, &limits);
    // A machine's least flow through a full bypass: 20.4 m3/h by night are what the bypass makes, or more than that.
    let least: [Limit; 1] = [("least flow beside 20.4 m3/h known to 8 %", (18.5, Clear), (17.3, PUMP), |q| {
        let mut w = nights();
        w.rows.pumps[0].flow_half = 0.08;
        w.plant.system.minimum_flow = None;
        let minimum_flow = Some(Flow::m3h(q));
        w.plant.sources = vec![Source { name: "CH-1".into(), minimum_flow, maximum_flow: None }];
        w.rows.bypass_position = Some(vec![0.95; w.rows.len()]);
        w
    })];
    sides(Fault::MinimumSpeedTooHigh, &least);
}

#[test]
fn when_a_floor_rose() {
    // Nights at 64 % from the first day on; from day 14 on so much higher.
    for (by, day) in [(0.025, 0), (0.036, 14)] {
        let mut w = nights();
        for i in 0..w.rows.len() {
            if w.day(i) >= 14 {
                let (q, s) = (w.rows.pumps[0].flow[i], w.rows.pumps[0].speed[i]);
                w.run(0, i, q, s.max(0.64 + by));
            }
        }
        floor(&format!("{by} higher since day 14"), &w, Found("P-1", day));
    }
}

#[test]
fn thresholds_of_run_out_by_a_meter() {
    let limits: [Limit; 1] = [
        // The meter is good to 5 %: 1.20 / 0.95 = 1.263.
        ("a meter over best flow, beyond the table", (1.253, BEST_POINT), (1.274, PUMP), |x| {
            let mut w = always(x);
            let flow = w.rows.pumps[0].flow.clone();
            w.rows.pumps[0].flow.fill(f64::NAN);
            w.rows.pumps[0].basis = Basis::OutsideTable;
            w.trend(Role::LoopFlow, None, "m3/h", |i| flow[i]);
            w
        }),
    ];
    sides(Fault::OutsidePreferredRegion, &limits);
}
#[test]
fn when_run_out_began() {
    // Outside in a fifth of the rows from the first day on, in so many more from day 4 on.
    for (share, day) in [(0.36, 0), (0.46, 4)] {
        let mut w = always(1.0);
        for i in 0..w.rows.len() {
            let mine = if w.day(i) < 4 { 0.2 } else { 0.2 + share };
            let outside = ((i * 7) % 100) as f64 + 0.5 < 100.0 * mine;
            if w.rows.pumps[0].state[i] != State::Off && outside {
                w.run(0, i, 1.3 * 42.0 * 0.8, 0.8);
            }
        }
        region(&format!("{share} more since day 4"), &w, Found("P-1", day));
    }
}

#[test]
fn when_idle_turning_began() {
    // One stretch on day 2 and one a day from day 14 on: 0.23 and 0.31 h a day more.
    for (hours, day) in [(0.25, 2), (1.0 / 3.0, 14)] {
        let mut w = World::new(5, DAYS);
        let rows = (hours * 12.0_f64).round() as usize;
        for i in 0..w.rows.len() {
            let at = i % 288;
            if (w.day(i) == 2 || w.day(i) >= 14) && (144..144 + rows).contains(&at) {
                w.run(0, i, 0.0, 0.7);
            }
        }
        let (flow, head) = (w.rows.pumps[0].flow.clone(), w.rows.pumps[0].head.clone());
        w.trend(Role::LoopFlow, None, "m3/h", |i| flow[i]);
        w.trend(Role::PumpHead, None, "kPa", |i| head[i]);
        dead(&format!("{hours} h a day"), &w, Found("P-1", day));
    }
}
