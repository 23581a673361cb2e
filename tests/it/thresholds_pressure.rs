//! A row on each side of each limit of the rules that judge the head and the water. What is varied is the only thing that differs between the two.

use super::*;
use offcurve::r#loop::AtDesign;

/// What is varied, its two values with the answers wanted, and the record they make.
pub(super) type Limit = (&'static str, (f64, Want), (f64, Want), fn(f64) -> (Plant, Rows));

pub(super) fn sides(fault: Fault, limits: &[Limit]) {
    for (why, one, other, case) in limits {
        for (value, want) in [one, other] {
            check(&format!("{why}: {value}"), fault, &case(*value), *want);
        }
    }
}

use Want::{CannotTell, Clear, Found};
const LOOP: Want = Found("loop", 0);
/// Twenty coil-hours by valves alone.
const MUTE: Starving = Starving { short: f64::NAN, ..STARVING };
/// Nobody short.
const CONTENT: Starving = Starving { valve: 0.7, short: 0.0, ..STARVING };

/// Rows in a thousand, evenly strewn.
pub(super) fn in_share(i: usize, share: f64) -> bool {
    (i * 37) % 1000 < (share * 1000.0).round() as usize
}
pub(super) fn running_rows(r: &Rows) -> Vec<usize> {
    (0..r.len()).filter(|i| r.pumps[0].flow[*i] > 0.0).collect()
}
pub(super) fn unknown(r: &mut Rows, when: impl Fn(&Rows, usize) -> bool) {
    for to in [Regime::OnCurve, Regime::AboveCurve, Regime::BelowCurve] {
        regime(r, to, Regime::Unknown, &when);
    }
}

#[test]
fn thresholds_setpoint_too_low() {
    let limits: [Limit; 10] = [
        ("hours of each day", (0.75, Clear), (1.25, LOOP), |h| {
            starving(Starving { hours: (10.0, 10.0 + h), ..STARVING })
        }),
        ("hours from the morning's start", (2.5, Clear), (3.25, LOOP), |h| {
            starving(Starving { hours: (6.0, 6.0 + h), ..STARVING })
        }),
        ("K by which the setpoint fell at 10 h", (1.3, Clear), (0.8, LOOP), |k| {
            changed(starving(Starving { hours: (10.0, 11.75), ..STARVING }), |_, r| {
                for c in 2..4 {
                    r.air_setpoint[c] =
                        Some((0..r.len()).map(|i| if hour(r, i) < 10.0 { 13.0 + k } else { 13.0 }).collect());
                }
            })
        }),
        ("water by valves alone", (1.01, CannotTell), (1.05, LOOP), |water| starving(Starving { water, ..MUTE })),
        ("valves at their end, one with 37 % of the flow", (1.0, Clear), (2.0, LOOP), |n| {
            let coils: &'static [usize] = if n < 1.5 { &[3] } else { &[2, 3] };
            changed(starving(Starving { coils, ..MUTE }), |p, _| p.coils[3].design_flow = Some(Flow::m3h(30.0)))
        }),
        // Of 34 beside: 31 and 37 %.
        ("m3/h of each of the two", (7.5, Clear), (10.0, LOOP), |q| {
            changed(starving(MUTE), |p, _| p.coils[2..].iter_mut().for_each(|c| c.design_flow = Some(Flow::m3h(q))))
        }),
        ("kPa of 120 that a reset stands at", (115.0, Clear), (119.0, LOOP), |kpa| {
            changed(starving(MUTE), |p, r| {
                p.control.mode = Some(ControlMode::ConstantPressure);
                p.control.reset = Some(Reset::MostOpenValve);
                p.control.setpoint_high = Some(Pressure::kpa(120.0));
                r.dp_setpoint = Some(vec![kpa; r.len()]);
            })
        }),
        ("days of 14 h", (1.0, CannotTell), (2.0, Clear), |d| starving(Starving { days: d as usize, ..CONTENT })),
        ("valves trended of four", (2.0, CannotTell), (3.0, Clear), |n| {
            changed(starving(CONTENT), |_, r| r.valves[..4 - n as usize].fill(None))
        }),
        ("the others' opening", (0.66, Clear), (0.74, LOOP), |open| {
            changed(starving(MUTE), |p, r| {
                for name in ["C-5", "C-6"] {
                    p.coils.push(declared::coil(name));
                    for column in [&mut r.air, &mut r.air_setpoint, &mut r.coil_back, &mut r.fans] {
                        column.push(None);
                    }
                    r.valves.push(Some(vec![open; r.len()]));
                }
                (0..2).for_each(|k| r.valves[k] = Some(vec![open; r.len()]));
            })
        }),
    ];
    sides(Fault::SetpointTooLow, &limits);
}

/// A quadratic curve kept with a need that starts at so much at no flow; the curve starts at `zero`.
fn lower_end(zero: f64, need: impl Fn(usize) -> f64) -> (Plant, Rows) {
    changed(kept(15, 14), |p, r| {
        p.control.zero_flow_head = Some(Pressure::kpa(zero));
        let line = |from: f64, q: f64| from + (DESIGN_HEAD - from) * (q / DESIGN_FLOW).powi(2);
        for i in running_rows(r) {
            let q = r.pumps[0].flow[i];
            hold(r, i, line(zero, q));
            r.pumps[0].curve[i] = line(zero, q);
            r.need[i] = line(need(i), q);
        }
    })
}
/// 200 kPa held at a share of the design flow; the need at design flow is that of `plenty`.
fn plenty_at(flow: impl Fn(f64) -> f64) -> (Plant, Rows) {
    changed(plenty(15, 10), |_, r| {
        for i in running_rows(r) {
            let q = DESIGN_FLOW * flow(hour(r, i));
            r.pumps[0].flow[i] = q;
            hold(r, i, 200.0);
            r.need[i] = 130.0 * (q / DESIGN_FLOW).powi(2);
        }
    })
}

#[test]
fn thresholds_setpoint_too_high() {
    let limits: [Limit; 19] = [
        ("need at design over 200 kPa", (172.0, Clear), (148.0, LOOP), |kpa| {
            changed(plenty(15, 10), |_, r| r.need.iter_mut().for_each(|n| *n *= kpa / 130.0))
        }),
        ("the widest valve", (0.90, Clear), (0.80, LOOP), |open| {
            changed(plenty(15, 10), |_, r| r.valves[1] = Some(vec![open; r.len()]))
        }),
        ("share of the rows with a valve at its end", (0.025, Clear), (0.015, LOOP), |share| {
            changed(plenty(15, 10), |_, r| {
                (0..r.len()).filter(|i| in_share(*i, share)).for_each(|i| r.valves[1].as_mut().unwrap()[i] = 1.0);
            })
        }),
        ("a valve in four rows of a hundred", (0.97, Clear), (0.93, LOOP), |open| {
            changed(plenty(15, 10), |_, r| {
                (0..r.len()).filter(|i| in_share(*i, 0.04)).for_each(|i| r.valves[1].as_mut().unwrap()[i] = open);
            })
        }),
        ("flow of all rows over design", (0.46, CannotTell), (0.54, LOOP), |x| plenty_at(|_| x)),
        ("hours at 0.6 of design flow each day of ten", (1.0, CannotTell), (1.5, LOOP), |h| {
            plenty_at(|of_day| if (10.0..10.0 + h).contains(&of_day) { 0.6 } else { 0.4 })
        }),
        ("hours on the curve each day of ten", (2.0, CannotTell), (3.0, LOOP), |h| {
            changed(plenty(15, 10), |_, r| unknown(r, |r, i| !(10.0..10.0 + h).contains(&hour(r, i))))
        }),
        ("days", (4.0, CannotTell), (5.0, LOOP), |d| plenty(15, d as usize)),
        ("share of the flow on valves that say so", (2.0, CannotTell), (3.0, LOOP), |n| {
            changed(plenty(15, 10), |p, _| {
                p.coils[n as usize..].iter_mut().for_each(|c| c.valve = Some(Valve::PressureIndependent));
            })
        }),
        ("kPa at no flow that would do, of 64", (50.0, Clear), (41.0, LOOP), |z| lower_end(64.0, |_| z)),
        // A fifth of 162 kPa is 32.4: 0.88 and 0.69 of what is set.
        ("kPa at no flow that are set where none are needed", (42.0, Clear), (52.0, LOOP), |z| lower_end(z, |_| 0.0)),
        ("share of the rows that need all of it", (0.05, Clear), (0.014, LOOP), |share| {
            lower_end(64.0, |i| if in_share(i, share) { 63.0 } else { 40.0 })
        }),
        // The curve's head is not enough in those rows.
        ("share of the rows at full speed with a valve at its end", (0.03, Clear), (0.01, LOOP), |share| {
            at_full(plenty(15, 10), share)
        }),
        ("the same, the curve from 64 kPa where 40 would do", (0.03, Clear), (0.01, LOOP), |share| {
            at_full(lower_end(64.0, |_| 40.0), share)
        }),
        // The rows carried up ask 130 of 200 kPa, and the loops' mean as much: 0.65. By the one that asks most, the root of 0.65 x 1.45 and 1.35.
        ("kPa that the loop which asks most wants at design flow, of 200", (290.0, CannotTell), (270.0, LOOP), |kpa| {
            learned(plenty(15, 10), [130.0, kpa])
        }),
        // The root of 0.65 x 0.97 is 0.79, below 0.80.
        ("kPa that the learned loop wants at design flow, of 200", (194.0, Clear), (186.0, LOOP), |kpa| {
            learned(plenty(15, 10), [kpa; 2])
        }),
        ("the same where no flow came near it", (140.0, CannotTell), (120.0, LOOP), |kpa| {
            learned(plenty_at(|_| 0.4), [120.0, kpa])
        }),
        // 3 kPa of interval and a tenth of 162.
        ("kPa that a header sensor reads low", (23.0, CannotTell), (16.0, LOOP), |wrong| header(wrong, 0.4)),
        // Flow squared from 0.45 of its design to this much more between the 10th and the 90th percentile.
        ("range of flow, the sensor 30 kPa low", (0.2, CannotTell), (0.03, LOOP), |range| header(30.0, range)),
    ];
    sides(Fault::SetpointTooHigh, &limits);
}

/// What the learned loops ask at design flow: their mean and the highest of them.
fn learned(c: (Plant, Rows), [mean_kpa, high_kpa]: [f64; 2]) -> (Plant, Rows) {
    changed(c, |_, r| r.at_design = Some(AtDesign { mean_kpa, high_kpa, coil: 0 }))
}
/// At full speed, below the curve, with a valve at its end in such a share of the running rows.
fn at_full(c: (Plant, Rows), share: f64) -> (Plant, Rows) {
    changed(c, |_, r| {
        r.valves[1].get_or_insert_with(|| vec![0.5; r.time_ms.len()]);
        for (k, i) in running_rows(r).into_iter().enumerate() {
            if in_share(k, share) {
                r.valves[1].as_mut().unwrap()[i] = 1.0;
                r.pumps[0].regime[i] = Regime::FullSpeed;
            }
        }
    })
}

/// A sensor at the header that reads low by so much.
fn header(wrong: f64, range: f64) -> (Plant, Rows) {
    changed(plenty_at(|h| 0.67 + range * (h - 13.0) / 14.0), |p, r| {
        p.control.head_at = Some(HeadAt::Header);
        p.control.setpoint = Some(Pressure::kpa(200.0 - wrong));
        for i in running_rows(r) {
            let lost = 10.0 * (r.pumps[0].flow[i] / DESIGN_FLOW).powi(2);
            hold(r, i, 200.0 + lost);
        }
        r.dp = Some(vec![200.0 - wrong; r.len()]);
    })
}

/// From day 6 on 30 kPa more, but only where `when` says so.
fn sometimes(from: usize, when: impl Fn(&Rows, usize) -> bool) -> (Plant, Rows) {
    let all = held(kept(15, 14), 3.0, from, |_, c| c + 30.0);
    changed(all, |_, r| {
        for i in running_rows(r) {
            if day(r, i) >= from && !when(r, i) {
                let head = r.pumps[0].curve[i];
                hold(r, i, head);
                r.pumps[0].regime[i] = Regime::OnCurve;
            }
        }
    })
}
/// In hand at 80 %, the flow about 0.6 of design and ranging so far, the speed drifting so far, on the last of 14 days.
fn in_hand(days: usize, flow: f64, drift: f64) -> (Plant, Rows) {
    let from = 14 - days;
    let c = running(declared::plant(), 15, 14, |_, h| 0.6 + flow * (h - 13.0) / 14.0);
    let c = held(c, 3.0, 6, |_, c| c + 40.0);
    changed(c, |_, r| {
        for i in running_rows(r) {
            if day(r, i) >= from {
                let s = 0.8 + drift * (hour(r, i) - 13.0) / 14.0;
                let q = r.pumps[0].flow[i];
                hold(r, i, 260.0 * s * s - 40.0 * (q / DESIGN_FLOW).powi(2));
                r.pumps[0].regime[i] = Regime::AboveCurve;
            }
        }
    })
}

#[test]
fn thresholds_off_control_curve() {
    const SIXTH: Want = Found("loop", 6);
    let limits: [Limit; 19] = [
        ("share of a day off", (0.40, Clear), (0.60, SIXTH), |share| sometimes(6, |_, i| in_share(i, share))),
        ("hours of a day that are judged", (0.75, Clear), (1.25, SIXTH), |h| {
            changed(sometimes(6, |_, _| true), |_, r| unknown(r, |r, i| !(10.0..10.0 + h).contains(&hour(r, i))))
        }),
        // Ten hours in all.
        ("hours of a day that are judged, twenty days", (0.75, Clear), (1.25, SIXTH), |h| {
            let c = held(kept(15, 20), 3.0, 6, |_, c| c + 19.4);
            changed(c, |_, r| unknown(r, |r, i| !(10.0..10.0 + h).contains(&hour(r, i))))
        }),
        ("hours off on each of two days", (3.5, Clear), (4.75, Found("loop", 12)), |h| {
            changed(sometimes(12, |_, _| true), |_, r| {
                unknown(r, |r, i| day(r, i) >= 12 && !(10.0..10.0 + h).contains(&hour(r, i)));
            })
        }),
        ("the first of the days off", (13.0, Clear), (12.0, Found("loop", 12)), |d| sometimes(d as usize, |_, _| true)),
        // 22 kPa of 10 each way: within twice the interval and the tolerance.
        ("days on the curve before", (1.0, CannotTell), (2.0, Found("loop", 2)), |d| {
            held(kept(15, 14), 10.0, d as usize, |_, c| c + 22.0)
        }),
        ("share off on the days before", (0.14, CannotTell), (0.07, SIXTH), |share| {
            changed(held(kept(15, 14), 10.0, 6, |_, c| c + 22.0), |_, r| {
                for i in running_rows(r).into_iter().filter(|i| in_share(*i, share)) {
                    if day(r, i) < 6 {
                        r.pumps[0].regime[i] = Regime::AboveCurve;
                    }
                }
            })
        }),
        // 14 kPa are within 14.9; 5 % of 162 are 8.1.
        ("kPa more than the 14 of the days before", (6.0, CannotTell), (10.0, SIXTH), |by| {
            let before = held(kept(15, 14), 10.0, 0, |_, c| c + 14.0);
            changed(before, |_, r| {
                for i in running_rows(r).into_iter().filter(|i| day(r, *i) >= 6).collect::<Vec<_>>() {
                    let head = r.pumps[0].curve[i] + 14.0 + by;
                    hold(r, i, head);
                    r.pumps[0].regime[i] = Regime::AboveCurve;
                }
            })
        }),
        ("kPa from the first day on, known to 10: twice that and 4.9", (22.0, CannotTell), (28.0, LOOP), |by| {
            held(kept(15, 14), 10.0, 0, |_, c| c + by)
        }),
        ("kPa to which the head is known", (19.0, CannotTell), (13.5, Clear), |half| {
            held(kept(15, 14), half, 0, |_, c| c)
        }),
        ("hours judged", (5.0, CannotTell), (7.0, Clear), |h| {
            changed(kept(15, 1), |_, r| unknown(r, |r, i| hour(r, i) >= 6.0 + h))
        }),
        // 8 % of 162 are 13.
        ("kPa of a step, rows known to 15", (11.0, Clear), (15.0, SIXTH), |by| {
            held(kept(15, 14), 15.0, 6, |_, c| c + by)
        }),
        ("the first day of a step", (12.0, Clear), (11.0, Found("loop", 11)), |d| {
            held(kept(15, 14), 15.0, d as usize, |_, c| c + 19.4)
        }),
        // 10th to 90th percentile of a line: 0.8 of it.
        ("drift of a speed in hand", (0.011, CannotTell), (0.019, SIXTH), |drift| in_hand(8, 0.3, drift)),
        ("range of the flow at one speed", (0.16, CannotTell), (0.10, SIXTH), |flow| in_hand(8, flow, 0.0)),
        ("days in hand of eight off", (7.0, CannotTell), (5.0, SIXTH), |d| in_hand(d as usize, 0.3, 0.0)),
        // 30 kPa on 64 to 143: the control's part of the change is 0.24 in logarithms, the reading's 0.34 and 0.14.
        ("factor of a reading beside 30 kPa of the control", (1.40, CannotTell), (1.15, SIXTH), |by| {
            changed(sometimes(6, |_, _| true), |_, r| {
                for i in running_rows(r) {
                    r.pumps[0].head[i] *= if day(r, i) >= 6 { by } else { 1.0 };
                }
            })
        }),
        ("the setpoint of a reset trended", (0.0, CannotTell), (1.0, LOOP), |trended| {
            changed(held(kept(15, 14), 3.0, 0, |_, _| 130.0), |p, r| {
                p.control.mode = Some(ControlMode::RemotePressure);
                p.control.reset = Some(Reset::MostOpenValve);
                r.dp = Some(vec![90.0; r.len()]);
                r.dp_setpoint = (trended > 0.5).then(|| vec![60.0; r.len()]);
                regime(r, Regime::OnCurve, Regime::AboveCurve, |_, _| true);
                regime(r, Regime::BelowCurve, Regime::AboveCurve, |_, _| true);
            })
        }),
        ("a mode with a head to keep", (0.0, CannotTell), (1.0, SIXTH), |has| {
            changed(sometimes(6, |_, _| true), |p, _| {
                p.control.mode = Some(if has > 0.5 { ControlMode::Quadratic } else { ControlMode::Temperature });
            })
        }),
    ];
    sides(Fault::OffControlCurve, &limits);
}

/// All coils at this share of their design difference.
pub(super) fn level(share: f64) -> (Plant, Rows) {
    coils(14, move |_, _| share, |_, _| 0.7)
}
/// All coils fall on day 7, their valves opening by so much.
pub(super) fn falls(from: f64, to: f64, opens: f64) -> (Plant, Rows) {
    coils(14, move |_, d| if d >= 7 { to } else { from }, move |_, d| if d >= 7 { 0.6 + opens } else { 0.6 })
}
/// The first coil alone, from the first day on.
pub(super) fn one_lags(left: f64, open: f64, others: f64) -> (Plant, Rows) {
    coils(14, move |k, _| if k == 0 { left } else { others }, move |k, _| if k == 0 { open } else { 0.6 })
}
/// The first coil alone, from day 7 on; its own design is not declared, so that only the change tells.
pub(super) fn one_opens(left: f64, by: f64) -> (Plant, Rows) {
    let of = move |k: usize, d: usize, was: f64, is: f64| if k == 0 && d >= 7 { is } else { was };
    changed(coils(14, move |k, d| of(k, d, 1.05, left), move |k, d| of(k, d, 0.55, 0.55 + by)), |p, _| {
        p.coils.iter_mut().for_each(|c| c.design_load = None);
    })
}

#[test]
fn thresholds_low_delta_t() {
    const SEVENTH: Want = Found("loop", 7);
    const COIL: Want = Found("C-1", 0);
    let limits: [Limit; 24] = [
        ("of the design difference", (0.79, Clear), (0.71, LOOP), level),
        ("of it in heating, from 70 degC", (0.66, Clear), (0.55, LOOP), |l| {
            changed(level(1.0), |p, r| {
                p.system.service = Service::HeatingWater;
                p.system.supply_temperature = Some(Temperature::celsius(70.0));
                p.system.return_temperature = Some(Temperature::celsius(50.0));
                r.supply = Some(vec![70.0; r.len()]);
                r.back = Some(vec![70.0 - 20.0 * l; r.len()]);
                r.coil_back.fill(None);
            })
        }),
        ("of design flow, no least flow", (0.21, CannotTell), (0.29, LOOP), |x| {
            changed(level(0.65), |p, r| {
                p.system.minimum_flow = None;
                r.pumps[0].flow.iter_mut().filter(|q| **q > 0.0).for_each(|q| *q = x * DESIGN_FLOW);
            })
        }),
        ("m3/h of least flow beside 24", (19.5, CannotTell), (17.2, LOOP), |least| {
            changed(level(0.65), |p, r| {
                p.system.minimum_flow = Some(Flow::m3h(least));
                r.pumps[0].flow.iter_mut().filter(|q| **q > 0.0).for_each(|q| *q = 24.0);
            })
        }),
        ("K above the design supply", (1.3, CannotTell), (0.7, LOOP), |k| {
            changed(level(0.65), |_, r| {
                let warm = |v: &mut Vec<f64>| v.iter_mut().for_each(|t| *t += k);
                [&mut r.supply, &mut r.back].into_iter().flatten().for_each(warm);
                r.coil_back.iter_mut().flatten().for_each(warm);
            })
        }),
        ("risers of four", (2.0, CannotTell), (1.0, LOOP), |n| {
            changed(level(0.65), |p, _| {
                p.coils[..n as usize].iter_mut().for_each(|c| c.terminal = Some(Terminal::Riser));
            })
        }),
        ("share of glycol at 0.6 of design flow", (0.18, CannotTell), (0.12, LOOP), |share| {
            changed(level(0.65), |p, r| {
                p.system.fluid = FluidKind::EthyleneGlycol;
                p.system.glycol_mass_fraction = share;
                r.pumps[0].flow.iter_mut().filter(|q| **q > 0.0).for_each(|q| *q = 0.6 * DESIGN_FLOW);
            })
        }),
        ("low days of 14", (7.0, Clear), (10.0, LOOP), |n| {
            coils(14, move |_, d| if (d * 5) % 14 < n as usize { 0.65 } else { 0.85 }, |_, _| 0.7)
        }),
        ("days", (4.0, CannotTell), (5.0, LOOP), |d| coils(d as usize, |_, _| 0.65, |_, _| 0.7)),
        ("fall from 0.92 to below 0.85", (0.10, Clear), (0.15, SEVENTH), |f| falls(0.92, 0.92 * (1.0 - f), 0.0)),
        ("left of 1.05", (0.89, Clear), (0.81, SEVENTH), |l| falls(1.05, l, 0.0)),
        ("fall from 1.25, no valve to ask", (0.215, Clear), (0.24, SEVENTH), |f| {
            changed(falls(1.25, 1.25 * (1.0 - f), 0.0), |_, r| {
                r.valves.fill(None);
                r.coil_back.fill(None);
            })
        }),
        ("fall with valves that opened", (0.062, Clear), (0.075, SEVENTH), |f| falls(1.05, 1.05 * (1.0 - f), 0.15)),
        (
            "opening of one coil that falls by a third: less bears witness for the loop",
            (0.085, SEVENTH),
            (0.13, Found("C-1", 7)),
            |by| one_opens(0.70, by),
        ),
        ("fall of one coil that opens by a fifth", (0.09, Clear), (0.15, Found("C-1", 7)), |f| {
            one_opens(1.05 * (1.0 - f), 0.20)
        }),
        ("opening of one that lags", (0.56, Clear), (0.65, COIL), |open| one_lags(0.70, open, 1.05)),
        ("of its design, of one that lags", (0.78, Clear), (0.72, COIL), |left| one_lags(left, 0.8, 1.05)),
        ("of its design, of one that idles", (0.26, Clear), (0.36, COIL), |left| one_lags(left, 0.8, 1.05)),
        ("of their design, of its siblings", (0.86, Clear), (0.94, COIL), |others| one_lags(0.70, 0.8, others)),
        ("opening of one at 0.6 of the loop's design, its own not declared", (0.86, Clear), (0.93, COIL), |open| {
            changed(one_lags(0.60, open, 1.05), |p, _| p.coils.iter_mut().for_each(|c| c.design_load = None))
        }),
        ("of the loop's design, of one wide open", (0.69, Clear), (0.60, COIL), |left| {
            changed(one_lags(left, 0.95, 1.05), |p, _| p.coils.iter_mut().for_each(|c| c.design_load = None))
        }),
        ("the coils' own water, the loop at 0.65", (0.99, CannotTell), (0.92, LOOP), |own| {
            changed(level(0.65), |_, r| (0..4).for_each(|k| r.coil_back[k] = Some(vec![6.0 + 6.0 * own; r.len()])))
        }),
        ("coils' water trended of four", (3.0, CannotTell), (2.0, LOOP), |n| {
            changed(level(0.65), |_, r| {
                (0..4).for_each(|k| r.coil_back[k] = (k < n as usize).then(|| vec![12.0; r.len()]));
            })
        }),
        ("left of an ordered coil", (0.89, Clear), (0.81, Found("C-1", 7)), |left| {
            changed(one_opens(left, 0.20), |_, r| {
                r.air_setpoint[0] = Some((0..r.len()).map(|i| if day(r, i) >= 7 { 11.0 } else { 13.0 }).collect());
                r.air[0] = r.air_setpoint[0].clone();
            })
        }),
    ];
    sides(Fault::LowDeltaT, &limits);
}

/// The bypass's position alone, at one flow [m3/h].
fn placed(position: impl Fn(&Rows, usize) -> f64, flow: f64, days: usize) -> (Plant, Rows) {
    changed(kept(15, days), |_, r| {
        r.bypass_position = Some((0..r.len()).map(|i| position(r, i)).collect());
        r.coil_back.fill(None);
        for i in running_rows(r) {
            r.pumps[0].flow[i] = flow;
        }
    })
}
/// Past the coils at one flow.
fn at_one_flow(share: f64) -> (Plant, Rows) {
    changed(mixed(15, 0, 0.18, 0.0), |_, r| {
        for i in running_rows(r) {
            r.pumps[0].flow[i] = 50.0;
            hold(r, i, 120.0);
            r.back.as_mut().unwrap()[i] = 6.0 + 6.75 * (1.0 - share);
        }
    })
}

#[test]
fn thresholds_stuck_bypass() {
    let limits: [Limit; 11] = [
        // At low flow more: in the middle 1.2 times as much.
        ("share past the coils at full flow", (0.093, Clear), (0.12, LOOP), |share| mixed(15, 0, share, 0.0)),
        ("m3/h of least flow beside 60, the bypass open", (44.0, CannotTell), (36.0, LOOP), |q| {
            changed(placed(|_, _| 1.0, 60.0, 14), |p, r| {
                p.system.minimum_flow = Some(Flow::m3h(q));
                r.valves.fill(None);
            })
        }),
        ("m3/h of each of three machines beside 60", (18.6, CannotTell), (17.9, LOOP), |q| {
            changed(placed(|_, _| 1.0, 60.0, 14), |p, r| {
                p.system.minimum_flow = None;
                r.valves.fill(None);
                for name in ["CH-1", "CH-2", "CH-3"] {
                    let minimum_flow = Some(Flow::m3h(q));
                    p.sources.push(Source { name: name.into(), minimum_flow, maximum_flow: None });
                }
            })
        }),
        ("of design flow, no least flow declared, the bypass open", (0.45, CannotTell), (0.56, LOOP), |x| {
            changed(placed(|_, _| 1.0, x * DESIGN_FLOW, 14), |p, r| {
                p.system.minimum_flow = None;
                r.valves.fill(None);
            })
        }),
        ("its position", (0.17, Clear), (0.23, LOOP), |open| {
            changed(placed(|_, _| open, 50.0, 14), |_, r| r.valves.fill(None))
        }),
        ("share of the rows it is open in", (0.7, Clear), (0.9, LOOP), |share| {
            changed(placed(|_, i| if in_share(i, share) { 1.0 } else { 0.0 }, 50.0, 14), |_, r| r.valves.fill(None))
        }),
        ("hours of a day that it is seen in", (10.0, CannotTell), (14.0, LOOP), |h| {
            changed(placed(|_, _| 1.0, 50.0, 1), |_, r| {
                for i in running_rows(r).into_iter().filter(|i| hour(r, *i) >= 6.0 + h).collect::<Vec<_>>() {
                    r.pumps[0].flow[i] = 5.0;
                }
            })
        }),
        ("coils' water trended of four", (3.0, Clear), (4.0, LOOP), |n| {
            changed(mixed(15, 0, 0.18, 0.0), |_, r| r.coil_back[n as usize..].fill(None))
        }),
        (
            "share past the coils at one flow: a sensor that wrong is plain",
            (0.26, CannotTell),
            (0.35, LOOP),
            at_one_flow,
        ),
        ("share at ranging flow: the pair of two sensors", (1.6, CannotTell), (0.5, Clear), |k| mixed(15, 0, 0.0, k)),
        ("a bypass at all", (0.0, Clear), (1.0, LOOP), |has| {
            changed(mixed(15, 0, 0.18, 0.0), |p, _| {
                if has < 0.5 {
                    p.system.bypass = Some(offcurve::plant::Bypass::None);
                }
            })
        }),
    ];
    sides(Fault::StuckBypass, &limits);
}
