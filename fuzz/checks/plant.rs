//! Plant files.

use offcurve::plant::{Accuracy, Plant, PlantErrors, parse};
use std::path::Path;

/// Reads a plant file and asserts that what is wrong is told with its place and a hint, and that what is right is numbers.
pub fn check(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let path = Path::new("north/plant.toml");
    match parse(text, path) {
        Err(errors) => told(&errors, path, text),
        Ok(noticed) => {
            assert!(noticed.notices.iter().all(|n| !n.text.trim().is_empty()));
            finite(&noticed.value);
            whole(&noticed.value);
        }
    }
}

fn told(errors: &PlantErrors, path: &Path, text: &str) {
    assert!(!errors.errors.is_empty(), "refused without a word");
    assert!(errors.errors.is_sorted_by_key(|e| e.line), "not in the order of lines");
    let lines = 1 + text.matches('\n').count();
    for e in &errors.errors {
        assert_eq!(e.file, path);
        assert!(e.line.is_none_or(|l| (1..=lines).contains(&l)), "{e:?} of {lines} lines");
        for said in [&e.found, &e.rule, &e.hint] {
            assert!(!said.trim().is_empty(), "{e:?}");
        }
    }
    assert!(errors.to_string().contains("hint: "));
}

/// Every number that was declared.
fn finite(plant: &Plant) {
    let mut all: Vec<(&str, f64)> = vec![
        ("density", plant.density().in_kg_m3()),
        ("least flow", plant.least_flow().map_or(0.0, offcurve::quantity::Flow::in_m3h)),
        ("glycol", plant.system.glycol_mass_fraction),
        ("energy price", plant.site.energy_price.unwrap_or(0.0)),
        ("carbon intensity", plant.site.carbon_intensity.unwrap_or(0.0)),
    ];
    let s = &plant.system;
    all.extend([s.design_flow, s.minimum_flow].iter().flatten().map(|f| ("loop's flow", f.in_m3h())));
    all.extend([s.design_head, s.static_head].iter().flatten().map(|p| ("loop's head", p.in_kpa())));
    let temperatures = [s.supply_temperature, s.return_temperature, s.frost_protection_below];
    all.extend(temperatures.iter().flatten().map(|t| ("loop's temperature", t.in_celsius())));
    for s in &plant.sources {
        all.extend([s.minimum_flow, s.maximum_flow].iter().flatten().map(|f| ("source's flow", f.in_m3h())));
    }
    for c in &plant.coils {
        all.extend(c.design_flow.map(|f| ("coil's flow", f.in_m3h())));
        all.extend(c.design_load.map(|p| ("coil's load", p.in_kw())));
        all.extend(c.minimum_differential_pressure.map(|p| ("coil's pressure", p.in_kpa())));
    }
    for c in std::iter::once(&plant.control).chain(plant.control_history.iter().map(|(_, c)| c)) {
        let pressures = [c.zero_flow_head, c.design_head, c.setpoint, c.setpoint_low, c.setpoint_high];
        all.extend(pressures.iter().flatten().map(|p| ("control's pressure", p.in_kpa())));
        all.extend([c.design_flow, c.setpoint_flow].iter().flatten().map(|f| ("control's flow", f.in_m3h())));
        all.extend([c.minimum_speed, c.maximum_speed].iter().flatten().map(|f| ("control's speed", f.in_of_one())));
    }
    for p in &plant.pumps {
        all.extend(p.rated_speed.map(|n| ("pump's speed", n.in_rpm())));
        all.extend([p.rated_frequency, p.maximum_frequency].iter().flatten().map(|f| ("pump's frequency", f.in_hz())));
        all.extend(p.minimum_allowed_speed.map(|f| ("pump's least speed", f.in_of_one())));
        all.extend(p.best_efficiency_flow.map(|f| ("pump's best flow", f.in_m3h())));
        all.extend(p.motor_power.map(|w| ("pump's motor", w.in_kw())));
        all.extend([p.motor_efficiency, p.drive_efficiency].iter().flatten().map(|e| ("pump's efficiency", *e)));
        for c in &p.curves {
            all.push(("curve's speed", c.speed.in_of_one()));
            let columns = [&c.head_flow_m3h, &c.head_kpa, &c.power_flow_m3h, &c.power_kw];
            all.extend(columns.into_iter().flatten().map(|v| ("curve", *v)));
        }
    }
    for p in &plant.points {
        all.extend([("point's scale", p.scale), ("point's offset", p.offset)]);
        all.extend([p.accuracy, p.noise].iter().flatten().map(|a| ("point's accuracy", of(*a))));
        if let Ok(Some(c)) = p.conversion(None, plant.density()) {
            all.extend([("point's factor", c.factor), ("point's offset in SI", c.offset)]);
        }
    }
    for (what, value) in all {
        assert!(value.is_finite(), "{what}: {value}");
    }
}

fn of(accuracy: Accuracy) -> f64 {
    match accuracy {
        Accuracy::OfReading(v) | Accuracy::OfSpan(v) | Accuracy::Absolute(v) => v,
    }
}

/// What the contract asks of every plant, and what its readers rely on.
fn whole(plant: &Plant) {
    assert!(!plant.pumps.is_empty() && !plant.points.is_empty() && !plant.trends.files.is_empty());
    assert!(plant.pumps.iter().all(|p| !p.name.is_empty()));
    assert!(plant.trends.interval_s.is_none_or(|s| s > 0), "{:?}", plant.trends.interval_s);
    for c in plant.pumps.iter().flat_map(|p| &p.curves) {
        assert_eq!((c.head_flow_m3h.len(), c.power_flow_m3h.len()), (c.head_kpa.len(), c.power_kw.len()));
        for flows in [&c.head_flow_m3h, &c.power_flow_m3h] {
            assert!(flows.is_sorted_by(|a, b| a < b), "{flows:?}");
        }
    }
    let lasts: Vec<_> = plant.control_history.iter().map(|h| h.0).collect();
    assert!(lasts.is_sorted(), "{lasts:?}");
}
