//! Units that the plant file leaves out: the export's own, or the only one that the readings leave.

use super::gathering::Gathering;
use super::samples::Samples;
use crate::naming::unit_from_values;
use crate::plant::{Plant, Point, Role, Service, Unit, units};

/// Readings outside these quantiles of a record do not speak for its unit: a sentinel is no reading.
const TAIL: f64 = 0.005;

impl Gathering<'_> {
    /// The unit of a point's readings as they came, by point, where anybody stated it. What only the readings tell is applied here and said.
    pub(super) fn units(&mut self, samples: &mut [Samples]) -> Vec<Option<Unit>> {
        let plant = self.plant;
        let mut all = Vec::with_capacity(samples.len());
        for (i, (point, samples)) in plant.points.iter().zip(samples).enumerate() {
            let stated = self.seen.get(i).and_then(|s| s.unit.as_deref()).and_then(|u| units::unit(u).ok());
            let stated = point.unit.clone().or(stated.filter(|u| point.role.dimensions().contains(&u.dimension)));
            if stated.is_some() || point.range.is_some() || !needs_unit(point.role) || samples.values.is_empty() {
                all.push(stated);
                continue;
            }
            let found = only_one(plant, point, &samples.values);
            let text = match &found {
                Some((unit, low, high)) => {
                    apply(plant, point, unit, samples);
                    format!(
                        "point \"{}\" has no unit, here or in the export; readings from {low:.4} to {high:.4} are {}, and were taken so: put unit = \"{}\" into its [[point]] once that is checked",
                        point.name, unit.written, unit.written
                    )
                }
                None => format!(
                    "point \"{}\" has no unit, here or in the export; its readings were taken as {}: put unit = \"...\" into its [[point]]",
                    point.name,
                    usual_unit(point.role)
                ),
            };
            self.say(text);
            all.push(found.map(|f| f.0));
        }
        all
    }
}

/// The unit that a point's readings leave, with the range they were judged by.
fn only_one(plant: &Plant, point: &Point, values: &[f64]) -> Option<(Unit, f64, f64)> {
    // Declared factors bend what the readings show.
    if point.scale != 1.0 || point.offset != 0.0 {
        return None;
    }
    let mut valid: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    valid.sort_unstable_by(f64::total_cmp);
    let at = |share: f64| valid.get((share * (valid.len().saturating_sub(1)) as f64).round() as usize).copied();
    let (low, high) = (at(TAIL)?, at(1.0 - TAIL)?);
    let inside: Vec<f64> = valid.iter().copied().filter(|v| (low..=high).contains(v)).collect();
    let mean = inside.iter().sum::<f64>() / inside.len() as f64;
    let mut different = inside;
    different.dedup();
    let heating = plant.system.service == Service::HeatingWater;
    let unit = units::unit(unit_from_values(point.role, heating, (low, mean, high), different.len())?).ok()?;
    Some((unit, low, high))
}

/// Readings that were taken as they stand, in the role's own unit.
fn apply(plant: &Plant, point: &Point, unit: &Unit, samples: &mut Samples) {
    let Ok(Some(c)) = point.conversion(Some(unit), plant.density()) else { return };
    for v in samples.values.iter_mut().filter(|v| v.is_finite()) {
        *v = *v * c.factor + c.offset;
    }
}

/// Unit of a point's values on the clock.
pub(super) fn unit_of(plant: &Plant, point: &Point, stated: Option<&Unit>) -> &'static str {
    match point.conversion(stated, plant.density()) {
        Ok(Some(c)) if !c.unit.is_empty() => c.unit,
        _ => usual_unit(point.role),
    }
}

/// The unit that a role's values are kept in; states and shares are fractions.
fn usual_unit(role: Role) -> &'static str {
    match role {
        Role::PumpStarts => "count",
        _ => role.dimensions().first().map(|d| d.si()).filter(|unit| !unit.is_empty()).unwrap_or("fraction"),
    }
}

fn needs_unit(role: Role) -> bool {
    !(super::cell::is_state(role) || matches!(role, Role::PumpStarts | Role::Ignore))
}
