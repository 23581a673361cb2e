//! The second generator's plants: they repeat, faults show in their truth, healthy ones are healthy, its parts meet outside numbers, and
//! reviews of its plants run.

use crate::corpus::second::chance::Chance;
use crate::corpus::second::pipes::{Layout, Pipes, Stretch, Water};
use crate::corpus::second::plant_faults::{fit, wish};
use crate::corpus::second::terminals::Bundle;
use crate::corpus::second::{Drawn, Second, draw, run};
use crate::corpus::severity::{self, at};
use crate::corpus::{Ask, Case, FAULTS, Generator, Severity, Trended};
use offcurve::faults::Verdict;
use offcurve::pipeline::{self, Review};
use offcurve::{ingest, plant};
use std::path::Path;

fn ask(seed: u64, plant: &[(&'static str, Severity)]) -> Ask {
    Ask { seed, plant: plant.to_vec(), trended: Trended::All, minutes: 15, days: 28 }
}

fn reviewed(case: &Case) -> Review {
    let parsed = plant::parse(&case.plant_toml, Path::new("second/plant.toml")).unwrap_or_else(|e| panic!("{e}"));
    let files: Vec<(String, &[u8])> = case.files.iter().map(|(p, b)| (p.clone(), b.as_slice())).collect();
    let trends = ingest::from_bytes(&parsed.value, &files).unwrap_or_else(|e| panic!("{e}"));
    pipeline::review(parsed.value, trends, None).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn second_repeats_byte_for_byte() {
    let severe = Severity::Severe;
    for plant in [vec![], vec![("low-delta-t", severe)], vec![("sensor-fault", severe), ("short-cycling", severe)]] {
        let one = Second.draw(&ask(7, &plant)).expect("some try of seed 7");
        let two = Second.draw(&ask(7, &plant)).expect("the same try");
        assert_eq!(one.plant_toml, two.plant_toml);
        assert_eq!(one.files, two.files);
        let other = Second.draw(&ask(8, &plant)).expect("some try of seed 8");
        assert_ne!(one.files, other.files, "two seeds, one plant");
    }
}

/// How a fault's size is measured in the true record, and the least that severe must show.
fn shown(fault: &str, d: &Drawn) -> (f64, f64) {
    let t = &d.during[0];
    let size = |sizes| 0.75 * at(sizes, Severity::Severe);
    match fault {
        // Flow-weighted supply-return difference against the same plant without the fault: at least a seventh lost.
        "low-delta-t" => (d.twin_delta_k / t.delta_k, 1.0 / 0.86),
        // Water past the coils, of all water, while the flow is well above the least.
        "stuck-bypass" => (t.past_coils, size(severity::BYPASS_SHARE)),
        // Range of the true frequency within an hour of hunting.
        "minimum-speed-hunting" => (t.swing, size(severity::FLOOR_SWING)),
        "speed-hunting" => (t.swing, size(severity::SPEED_SWING)),
        // Asked over needed, all coils at design flow.
        "setpoint-too-high" => (t.asked_over_need, 1.9),
        "setpoint-too-low" => (1.0 / t.asked_over_need, 1.0 / 0.62),
        // Share of the hours between floor and full speed that the true head is 8 % of design off the declared curve.
        "off-control-curve" => (t.off_curve, 0.5),
        "fixed-speed" => (t.hand_days, 0.99),
        "out-of-hours-running" => (t.extra_h, size(severity::EXTRA_HOURS)),
        "short-cycling" => (t.starts_h, size(severity::STARTS_H)),
        "minimum-speed-too-high" => (t.floor_spare, size(severity::FLOOR_ABOVE)),
        "outside-preferred-region" => (t.outside, 0.6),
        "poor-staging" => (t.fewer, size(severity::WRONG_COUNT)),
        "deadheading" => (t.dead_h, 0.5 * at(severity::DEAD_HOURS, Severity::Severe)),
        // Head and flow of the worn pump, and a reading against what it stands for: held by the two tests below.
        _ => (1.0, 1.0),
    }
}

#[test]
fn second_can_have_every_fault_and_it_shows() {
    for fault in FAULTS {
        for trended in [Trended::All, Trended::Drive] {
            let asked = |seed| Ask { trended, ..ask(seed, &[(fault, Severity::Severe)]) };
            let drawn = (0..6).find_map(|seed| Second::drawn(&asked(seed))).expect(fault);
            let p = &drawn.case.planted[0];
            assert_eq!(p.fault, fault);
            assert!(!p.subjects.is_empty() && p.first_ms < p.last_ms, "{fault}: {:?}", p.note);
            let (got, least) = shown(fault, &drawn);
            assert!(got >= least, "{fault}: {got:.3} under {least:.3}: {} {:?}", p.note, drawn.truth);
            assert!(!drawn.case.also_true.contains(&fault));
        }
    }
}

/// At like flow and speed the worn pump gives a fifth less head after than before.
#[test]
fn second_worn_pumps_lose_head() {
    let asked = ask(3, &[("pump-degraded", Severity::Severe)]);
    let mut b = draw::building(11, 28, &wish(&asked));
    let mut c = Chance::new(11, 3);
    fit(&mut b, &asked, &mut c);
    let (planted, _) = crate::corpus::second::plant_faults::plant(&mut b, &asked, &mut c).expect("any plant can");
    let i = b.pumps.iter().position(|p| planted[0].subjects.contains(&p.name)).expect("named");
    let r = run::play(&b, 0..b.site.minutes());
    let share = |m: usize| {
        let p = &r.pumps[i];
        let new = b.pumps[i].head(f64::from(p.flow[m]), f64::from(p.speed[m])).0;
        f64::from(p.head[m]) / new
    };
    let on: Vec<usize> = (0..b.site.minutes()).filter(|m| r.pumps[i].on[*m] && r.pumps[i].speed[*m] > 0.2).collect();
    let (first, last) = (on[0], on[on.len() - 1]);
    assert!((share(first) - 1.0).abs() < 1e-3, "{}", share(first));
    assert!((share(last) - 0.8).abs() < 0.03, "{}", share(last));
}

#[test]
fn second_healthy_plants_are_healthy() {
    let mut look_alikes: Vec<&str> = Vec::new();
    for seed in 0..14 {
        let Some(d) = Second::drawn(&ask(seed, &[])) else { continue };
        assert!(d.case.also_true.is_empty() && d.case.planted.is_empty());
        let t = &d.truth;
        assert!(t.outside <= 0.5 && t.off_curve <= 0.15 && t.fewer <= 0.25, "{seed}: {t:?}");
        assert!(t.past_coils <= 0.1 && t.dead_h <= 0.3 && t.extra_h <= 0.5 && t.starts_h <= 2.5, "{seed}: {t:?}");
        assert!(t.hand_days == 0.0 && t.swing_h == 0.0, "{seed}: {t:?}");
        assert!(t.run_h > 2.0, "{seed}: it hardly runs: {t:?}");
        look_alikes.extend(&d.case.look_alikes);
    }
    for wanted in
        ["exercise", "run-on", "optimum start", "holidays", "staging", "honest bypass", "gaps", "change of value"]
    {
        assert!(look_alikes.contains(&wanted), "no healthy plant of fourteen has {wanted}");
    }
}

/// Pumps' flows add to what the network takes, their heads meet at the header, and the coils' heat is what the water lost.
#[test]
fn second_balances_close() {
    for seed in [2, 5, 9, 31] {
        let asked = ask(seed, &[]);
        let mut b = draw::building(seed, 8, &wish(&asked));
        fit(&mut b, &asked, &mut Chance::new(seed, 3));
        let r = run::play(&b, 0..b.site.minutes());
        for m in (0..b.site.minutes()).step_by(7).filter(|m| r.flow[*m] > 0.05 * b.design_flow as f32) {
            let sum: f32 = r.pumps.iter().map(|p| p.flow[m]).sum();
            assert!((sum - r.flow[m]).abs() < 0.01 * b.design_flow as f32, "{seed} {m}: {sum} {}", r.flow[m]);
            let coils: f32 = r.coils.iter().map(|k| k.flow[m]).sum::<f32>() + r.bypass_flow[m];
            let three_way = b.coils.iter().any(|k| k.valve.three_way);
            assert!(three_way || (coils - r.flow[m]).abs() < 0.01 * b.design_flow as f32, "{seed} {m}: {coils}");
            for (p, pump) in r.pumps.iter().zip(&b.pumps).filter(|(p, _)| p.on[m] && p.flow[m] > 0.5) {
                let header = f64::from(p.head[m]) - pump.k_local * f64::from(p.flow[m] * p.flow[m]);
                assert!((header - f64::from(r.header[m])).abs() < 0.02 * b.need_kpa, "{seed} {m}: {header}");
            }
        }
    }
}

/// A counterflow coil cut into segments against effectiveness and number of transfer units: 0.6667 at NTU 1.4631 and air over water
/// 10 / 16.867 (closed form of the counterflow exchanger).
#[test]
fn second_coils_meet_the_closed_form() {
    let bundle = Bundle { air: 10.0, water: 16.867, ua: 14.631, inside: 0.3, laminar: 0.1 };
    assert!((bundle.effect(1.0, 1.0) - 0.6667).abs() < 2e-3, "{}", bundle.effect(1.0, 1.0));
    let table = bundle.table();
    for (w, a) in [(0.33, 0.6), (1.1, 0.9), (0.07, 0.4)] {
        assert!((table.at(w, a) - bundle.effect(w, a)).abs() < 0.015, "{w} {a}");
    }
}

/// Density and viscosity of water against IAPWS values (R12-08 and IF97), friction against Darcy with Colebrook's factor iterated.
#[test]
fn second_water_and_friction_meet_outside_numbers() {
    for (t, rho, mu) in [(7.0, 999.904, 1.42704e-3), (60.0, 983.211, 0.46604e-3), (82.0, 970.546, 0.34540e-3)] {
        let w = Water::at(t);
        assert!((w.density / rho - 1.0).abs() < 5e-4, "{t}: {}", w.density);
        assert!((w.viscosity * w.density / mu - 1.0).abs() < 0.02, "{t}: {}", w.viscosity * w.density);
    }
    let water = Water::at(20.0);
    let mut s = Stretch { diameter_m: 0.105, length_m: 100.0, k: 0.0 };
    s.follow(40.0, water);
    let area = std::f64::consts::PI * 0.105 * 0.105 / 4.0;
    let v = 40.0 / 3600.0 / area;
    let re = v * 0.105 / water.viscosity;
    let f = (0..50).fold(0.02, |f: f64, _| (-2.0 * (4.5e-5 / 0.105 / 3.7 + 2.51 / (re * f.sqrt())).log10()).powi(-2));
    let colebrook = 1.4 * f * 100.0 / 0.105 * water.density * v * v / 2.0 / 1000.0;
    assert!((s.k * 1600.0 / colebrook - 1.0).abs() < 0.015, "{} {colebrook}", s.k * 1600.0);
}

/// Three equal branches without pipe losses share alike in either layout; with losses the flows still satisfy each loop.
#[test]
fn second_networks_satisfy_their_loops() {
    let stretch = |k: f64| Stretch { diameter_m: 0.1, length_m: 1.0, k };
    let branch = [2.0, 3.0, 1.5];
    let reverse = Pipes {
        layout: Layout::Reverse { back: vec![stretch(2e-3), stretch(3e-3), stretch(4e-3)] },
        before: vec![stretch(5e-3), stretch(4e-3), stretch(6e-3)],
    };
    let mut q = vec![0.1; 3];
    for _ in 0..20 {
        reverse.solve(&branch, &mut q);
    }
    let out = |i: usize| [q[0] + q[1] + q[2], q[1] + q[2], q[2]][i];
    let home = |i: usize| [q[0], q[0] + q[1], q[0] + q[1] + q[2]][i];
    let (s, b) = ([5e-3, 4e-3, 6e-3], [2e-3, 3e-3, 4e-3]);
    for i in 0..3 {
        let there: f64 = (0..=i).map(|j| s[j] * out(j) * out(j)).sum();
        let back: f64 = (i..3).map(|j| b[j] * home(j) * home(j)).sum();
        let own = (q[i] / branch[i]) * (q[i] / branch[i]);
        assert!((there + back + own - 1.0).abs() < 5e-3, "branch {i}: {}", there + back + own);
    }
    let tree = Pipes {
        layout: Layout::Tree { risers: vec![vec![0, 1], vec![2]], feeds: vec![stretch(1e-2), stretch(2e-2)] },
        before: vec![stretch(5e-3), stretch(4e-3), stretch(6e-3)],
    };
    let c = tree.solve(&branch, &mut q);
    assert!((c - q.iter().sum::<f64>()).abs() < 1e-9);
    let trunk = (q[0] + q[1]) * (q[0] + q[1]);
    let far = 1e-2 * trunk + 5e-3 * trunk + 4e-3 * q[1] * q[1] + (q[1] / 3.0) * (q[1] / 3.0);
    assert!((far - 1.0).abs() < 1e-9, "{far}");
}

#[test]
fn second_plants_are_reviewed() {
    let plants = [vec![], vec![("stuck-bypass", Severity::Severe)], vec![("sensor-fault", Severity::Moderate)]];
    for (i, trended) in Trended::ALL.into_iter().enumerate() {
        for (j, minutes) in [1, 5, 15].into_iter().enumerate() {
            let asked =
                Ask { seed: (10 * i + j) as u64, plant: plants[(i + j) % 3].clone(), trended, minutes, days: 9 };
            let Some(case) = Second.draw(&asked) else { continue };
            let review = reviewed(&case);
            assert!(review.coverage > 0.8, "{} {minutes}: {:.2}", trended.word(), review.coverage);
            assert!(review.verdicts.iter().any(|v| !matches!(v, Verdict::Found(_))));
        }
    }
}
