//! One plant's machines: what their record shows, what was proposed, what they get in truth before and after.

use super::again::{Plant, Ran};
use super::least;
use super::score::{reviewed, setting};
use offcurve::quantity::Flow;
use offcurve::tuning::Tuning;
use std::fmt::Write;

const QUANTILES: [f64; 8] = [0.0, 0.005, 0.02, 0.05, 0.1, 0.25, 0.5, 0.995];

fn line(t: &mut String, what: &str, values: impl Iterator<Item = f64>) {
    let mut v: Vec<f64> = values.filter(|x| x.is_finite()).collect();
    v.sort_by(f64::total_cmp);
    let at = |q: &f64| v.get(((v.len().max(1) - 1) as f64 * q) as usize).copied().unwrap_or(f64::NAN);
    let shown: Vec<String> = QUANTILES.iter().map(|q| format!("{:.2}", at(q))).collect();
    let _ = writeln!(t, "  {what}: {}", shown.join(" "));
}

fn truth(t: &mut String, what: &str, r: &Ran, least: f64) {
    let _ = writeln!(
        t,
        "{what}: {:.0} kWh, {:.0} h, under the least flow {:.2} %",
        r.kwh,
        r.running_h,
        100.0 * r.starved_machine_h / r.running_h.max(1e-9)
    );
    line(t, "loop flow", r.machines.iter().map(|m| m[0]));
    line(t, "head between headers", r.machines.iter().map(|m| m[1]));
    line(t, "bypass opening", r.machines.iter().map(|m| m[2]));
    let under = || r.machines.iter().filter(|m| m[0] < 0.95 * least);
    line(t, "flow where under", under().map(|m| m[0]));
    line(t, "head where under", under().map(|m| m[1]));
    line(t, "bypass where under", under().map(|m| m[2]));
    line(t, "minutes since start where under", under().map(|m| m[3]));
    let started = under().filter(|m| m[3] <= 30.0).count();
    let _ = writeln!(t, "  under: {} rows of {}, {started} in the first 30 min", under().count(), r.machines.len());
}

/// Everything about it, as plain lines; quantiles at 0, 0.5, 2, 5, 10, 25, 50 and 99.5 %.
pub fn machines(p: &Plant) -> String {
    let review = reviewed(p);
    let plant = &review.plant;
    let least = plant.least_flow().map_or(f64::NAN, Flow::in_m3h);
    let mut t = format!(
        "# {} {} ({}, {} min, planted {:?})\n",
        p.generator,
        p.seed,
        p.trended.word(),
        p.minutes,
        p.severity.map(crate::corpus::Severity::word)
    );
    let _ = writeln!(
        t,
        "least flow {least:.1} of {:.1} m3/h, bypass {:?}, control {:?}",
        plant.system.design_flow.map_or(f64::NAN, Flow::in_m3h),
        plant.system.bypass,
        setting(&plant.control)
    );
    for c in &plant.coils {
        let _ = writeln!(t, "  {} {:?} {:?} {:?}", c.name, c.valve, c.characteristic, c.design_flow.map(Flow::in_m3h));
    }
    let system = &review.points.system;
    let on = |i: &usize| system.pumps_on[*i] > 0;
    line(&mut t, "record's loop flow", (0..review.clock.len).filter(on).map(|i| system.flow_m3h[i]));
    line(&mut t, "record's low end", (0..review.clock.len).filter(on).map(|i| system.flow_low_m3h[i]));
    line(&mut t, "record's head", (0..review.clock.len).filter(on).map(|i| system.head_kpa[i]));
    let today = p.run(None);
    truth(&mut t, "today", &today, least);
    match &review.tuning {
        Tuning::Refused { why, .. } => {
            let _ = writeln!(t, "refused: {why}");
        }
        Tuning::Proposed(r) => {
            let set = setting(&r.proposed);
            let _ = writeln!(t, "proposed: {set:?}, {:?}", r.saving_fraction);
            for l in &r.limits {
                let _ = writeln!(t, "  - {l}");
            }
            if let Some(s) = set {
                let then = p.run(Some(s));
                truth(&mut t, "proposed", &then, least);
                let high = if s.zero < s.design { 0.97 * s.design } else { 3.0 * s.zero };
                let works = least::lowest(p, &today, s, high);
                let _ = writeln!(t, "least that works: {:?}", works.as_ref().map(|w| w.0));
                if let Some((_, ran)) = works {
                    truth(&mut t, "least that works", &ran, least);
                }
            }
        }
    }
    t
}
