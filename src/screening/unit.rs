//! Readings that are far off by what the plant file says they are, as if their unit were another.
//!
//! A unit is named only where its factor brings the reading to where it must lie: temperatures by the loop's design, head and flow by the pump's own table
//! at the speed of the row, power by table or name plate, a counter by the power beside it. What is off without such a factor may as well be a
//! wrong table: kept, and named. What a "%" of speed means is settled in the operating stage and is no fault.

mod against;

use super::doubt::{Kind, Sign, kept};
use super::swapped::toward_load;
use super::{Doubt, Seen, share_of};
use crate::ingest::{Clock, Series};
use crate::plant::{ControlMode, Plant, Role};
use crate::quantity::{Flow, Pressure, Temperature};
use against::{Speeds, heads, largest_power, last_flow, mistake, ratios};

/// Running hours that must be seen [h].
const LEAST_H: f64 = 24.0;
/// At most so many rows are looked at: more say the same.
const ROWS: usize = 4000;
/// A temperature is another unit's when it lies this far from design [K] and this near to design in the other unit [K].
const FAR_K: f64 = 15.0;
const NEAR_K: f64 = 7.0;
/// No climate and no room is this warm in the middle of a record [degC].
const HOT_C: f64 = 45.0;
/// Water in a loop without glycol is not this cold [degC].
const ICE_C: f64 = -2.0;
/// A reading is off where nine tenths of the rows lie beyond the range.
const MOSTLY: f64 = 0.9;
/// Slowest speed whose head says something, and whose power does: below, losses of motor and drive rule [-].
const SLOWEST: f64 = 0.3;
const SLOWEST_POWER: f64 = 0.5;
/// Head over shut-off head at the row's speed: up to this with all a sensor and a table may err; from this share of the table's last head on [-].
const HEAD_MOST: f64 = 1.3;
const HEAD_LEAST: f64 = 0.75;
/// Where the middle of a record lies, over the largest head at the row's speed: pumps ride high on their curve. Feet and metres differ from their
/// neighbours by a factor of three only, so that a wider range would make a unit of any wrong table [-].
const HEAD_USUAL: (f64, f64) = (0.6, 1.03);
/// Flow over the table's last at the row's speed [-].
const FLOW_MOST: f64 = 1.4;
/// Electric power over the table's largest shaft power at the row's speed: idle shafts take a quarter, losses at part load double it [-].
const POWER_RANGE: (f64, f64) = (0.08, 6.0);
/// Hydraulic over electric power [-]: no pump with its motor is better than 1, and none that moves water is worse than a twentieth.
const WIRE_TO_WATER: (f64, f64) = (0.05, 1.0);

/// Factors that bring a reading right, and the mistake behind each.
const PRESSURES: [(f64, &str); 10] = [
    (6.894_757, "psi read as kPa"),
    (9.806_65, "metres of water read as kPa"),
    (2.988_98, "feet of water read as kPa"),
    (100.0, "bar read as kPa"),
    (1.0 / 6.894_757, "kPa read as psi"),
    (1.0 / 9.806_65, "kPa read as metres of water"),
    (1.0 / 2.988_98, "kPa read as feet of water"),
    (0.01, "kPa read as bar"),
    (3.280_84, "metres read as feet"),
    (1.0 / 3.280_84, "feet read as metres"),
];
const FLOWS: [(f64, &str); 4] = [
    (1.0 / 4.402_868, "gpm read as m3/h"),
    (1.0 / 3.6, "m3/h read as l/s"),
    (1.0 / 60.0, "m3/h read as m3/min"),
    (0.001, "l/h read as m3/h"),
];
const POWERS: [(f64, &str); 2] = [(0.001, "W read as kW"), (1000.0, "kW read as W")];
const ENERGIES: [(f64, &str); 2] = [(1000.0, "MWh read as kWh"), (0.001, "Wh read as kWh")];

/// Judges every point that something can be held against; removes those whose unit is surely another.
pub(super) fn judge(plant: &Plant, clock: &Clock, series: &mut [Series], seen: &Seen) -> Vec<Doubt> {
    let run: Vec<usize> = running_rows(clock, series, seen);
    if run.len() as f64 * clock.hours() < LEAST_H {
        return Vec::new();
    }
    let rows: Vec<usize> = run.iter().copied().step_by(run.len().div_ceil(ROWS).max(1)).collect();
    let mut off: Vec<(usize, Off)> = Vec::new();
    for (k, s) in series.iter().enumerate() {
        let found = match s.role {
            Role::PumpHead | Role::DifferentialPressure => head(plant, series, s, &rows),
            Role::PumpPower => power(plant, series, s, &rows),
            Role::PumpFlow | Role::LoopFlow => flow(plant, series, s, &rows),
            Role::PumpEnergy => counter(clock, series, s),
            _ => temperature(plant, s, &rows),
        };
        off.extend(found.map(|f| (k, f)));
    }
    if off.is_empty() {
        return wire_to_water(plant, clock, series, &rows);
    }
    let doubts = off.iter().map(|(k, f)| f.doubt(clock, &series[*k])).collect();
    off.iter().filter(|(_, f)| f.named.is_some()).for_each(|(k, _)| series[*k].values.fill(f64::NAN));
    doubts
}

fn running_rows(clock: &Clock, _series: &[Series], seen: &Seen) -> Vec<usize> {
    (0..clock.len).filter(|&i| seen.running.as_ref().is_none_or(|r| r[i])).collect()
}

/// A reading that is off.
struct Off {
    sign: Sign,
    /// The mistake that explains it.
    named: Option<&'static str>,
}

impl Off {
    fn doubt(&self, clock: &Clock, s: &Series) -> Doubt {
        let rows = s.values.iter().filter(|v| v.is_finite()).count();
        let why = match self.named {
            Some(mistake) => format!(
                "{} is {:.3}, expected {}: as if it were {mistake}. It was removed",
                self.sign.name, self.sign.value, self.sign.expected
            ),
            None => format!(
                "{} is {:.3}, expected {}; no usual mistake of unit explains it, and the table or the speed may be wrong instead. It was kept",
                self.sign.name, self.sign.value, self.sign.expected
            ),
        };
        Doubt {
            removed: self.named.is_some(),
            confidence: if self.named.is_some() { 0.9 } else { 0.4 },
            sign: Some(self.sign.clone()),
            why,
            was: kept(s, self.named.is_some()),
            ..Doubt::of(clock, s, Kind::Unit, (0, clock.len - 1), rows)
        }
    }
}

fn temperature(plant: &Plant, s: &Series, rows: &[usize]) -> Option<Off> {
    use Role::*;
    let design = match s.role {
        SupplyTemperature | SourceSupplyTemperature => Some(plant.system.supply_temperature?),
        ReturnTemperature | CoilReturnTemperature | SourceReturnTemperature => Some(plant.system.return_temperature?),
        OutdoorTemperature | SpaceTemperature => None,
        AirTemperature if toward_load(plant) > 0.0 => None,
        _ => return None,
    };
    let design = design.map(Temperature::in_celsius);
    let all = 0..s.values.len();
    let middle = match design {
        Some(_) => share_of(rows.iter().map(|&i| s.values[i]), 0.5),
        None => share_of(all.step_by(s.values.len().div_ceil(ROWS).max(1)).map(|i| s.values[i]), 0.5),
    };
    let as_fahrenheit = |c: f64| 1.8 * c + 32.0;
    let as_celsius = |f: f64| (f - 32.0) / 1.8;
    let (expected, named) = match design {
        Some(d) if (middle - d).abs() > FAR_K && (middle - as_fahrenheit(d)).abs() < 1.8 * NEAR_K => {
            (format!("near {d:.0}"), "degF read as degC")
        }
        Some(d)
            if middle < ICE_C
                && plant.system.glycol_mass_fraction <= 0.0
                && (middle - as_celsius(d)).abs() < NEAR_K =>
        {
            (format!("near {d:.0}"), "degC read as degF")
        }
        None if middle > HOT_C => ("below 45".to_owned(), "degF read as degC"),
        _ => return None,
    };
    Some(Off {
        sign: Sign { name: "middle reading".into(), value: middle, unit: "degC", expected },
        named: Some(named),
    })
}

fn head(plant: &Plant, series: &[Series], s: &Series, rows: &[usize]) -> Option<Off> {
    use ControlMode::{ConstantPressure, Proportional, Quadratic};
    let at_pump = matches!(plant.control.mode, Some(ConstantPressure | Proportional | Quadratic));
    if s.role == Role::DifferentialPressure && (!at_pump || s.of.is_some()) {
        return None;
    }
    let speeds = Speeds::of(plant, series, s.of.as_deref())?;
    let last = speeds.of.iter().map(|(p, ..)| heads(p).1 / heads(p).0).fold(f64::NAN, f64::min);
    let range = (HEAD_LEAST * last, HEAD_MOST);
    let ratio = |i: usize| s.values[i] / speeds.made(i, SLOWEST, 2, |p| heads(p).0).0;
    let (middle, below, above) = ratios(rows, ratio, range)?;
    (below || above).then(|| Off {
        sign: Sign {
            name: "middle of head over the table's largest at the row's speed".into(),
            value: middle,
            unit: "fraction",
            expected: format!("{:.2} to 1", last),
        },
        named: mistake(middle, (last.max(HEAD_USUAL.0), HEAD_USUAL.1), &PRESSURES),
    })
}

fn flow(plant: &Plant, series: &[Series], s: &Series, rows: &[usize]) -> Option<Off> {
    let speeds = Speeds::of(plant, series, s.of.as_deref())?;
    let ratio = |i: usize| s.values[i] / speeds.made(i, SLOWEST, 1, last_flow).1;
    let (middle, _, above) = ratios(rows, ratio, (0.0, FLOW_MOST))?;
    above.then(|| Off {
        sign: Sign {
            name: "middle of flow over the table's largest at the row's speed".into(),
            value: middle,
            unit: "fraction",
            expected: "0 to 1".into(),
        },
        named: mistake(middle, (0.1, 1.0), &FLOWS),
    })
}

fn power(plant: &Plant, series: &[Series], s: &Series, rows: &[usize]) -> Option<Off> {
    let speeds = Speeds::of(plant, series, s.of.as_deref())?;
    let ratio = |i: usize| s.values[i] / speeds.made(i, SLOWEST_POWER, 3, largest_power).1;
    let (middle, below, above) = ratios(rows, ratio, POWER_RANGE)?;
    (below || above).then(|| Off {
        sign: Sign {
            name: "middle of power over the largest of table or name plate at the row's speed".into(),
            value: middle,
            unit: "fraction",
            expected: "0.25 to 2".into(),
        },
        named: mistake(middle, (0.1, 4.0), &POWERS),
    })
}

/// A counter against the power beside it.
fn counter(clock: &Clock, series: &[Series], s: &Series) -> Option<Off> {
    let power = series.iter().find(|p| p.role == Role::PumpPower && p.of == s.of)?;
    let (mut counted, mut metered) = (0.0, 0.0);
    for i in 1..clock.len {
        let (step, kwh) = (s.values[i] - s.values[i - 1], power.values[i - 1] * clock.hours());
        if step >= 0.0 && kwh.is_finite() {
            counted += step;
            metered += kwh;
        }
    }
    let ratio = counted / metered;
    // Counters and meters of one pump agree within a tenth; a third off is another machine's, not another unit.
    if !(metered > 0.0) || !(counted > 0.0) || (0.5..2.0).contains(&ratio) {
        return None;
    }
    Some(Off {
        sign: Sign {
            name: format!("energy counted over that of \"{}\"", power.name),
            value: ratio,
            unit: "fraction",
            expected: "1".into(),
        },
        named: mistake(ratio, (0.6, 1.6), &ENERGIES),
    })
}

/// Where nothing else is off: head times flow over power, of a loop with one meter of each.
fn wire_to_water(plant: &Plant, clock: &Clock, series: &[Series], rows: &[usize]) -> Vec<Doubt> {
    let [only] = plant.pumps.as_slice() else { return Vec::new() };
    let of =
        |role: Role| series.iter().find(|s| s.role == role && (s.of.is_none() || s.of.as_ref() == Some(&only.name)));
    let (Some(head), Some(flow), Some(power)) =
        (of(Role::PumpHead), of(Role::PumpFlow).or(of(Role::LoopFlow)), of(Role::PumpPower))
    else {
        return Vec::new();
    };
    // Flow near nothing has no efficiency: rows from a third of the design flow on.
    let least = plant.system.design_flow.map_or(0.0, |q| Flow::in_m3h(q) / 3.0);
    let design = plant.system.design_head.map_or(0.0, Pressure::in_kpa);
    let ratio = |i: usize| {
        let (q, h, p) = (flow.values[i], head.values[i], power.values[i]);
        if q > least && h > 0.1 * design && p > 0.0 { q * h / 3600.0 / p } else { f64::NAN }
    };
    let Some((middle, below, above)) = ratios(rows, ratio, WIRE_TO_WATER) else { return Vec::new() };
    if !(below || above) {
        return Vec::new();
    }
    let why = format!(
        "head times flow over electric power is {middle:.2}, where a pump with its motor gives 0.05 to 1: the unit or scale of \"{}\", \"{}\" or \"{}\" seems to be another. All were kept",
        head.name, flow.name, power.name
    );
    let sign = Sign {
        name: "hydraulic over electric power".into(),
        value: middle,
        unit: "fraction",
        expected: "0.05 to 1".into(),
    };
    vec![Doubt {
        beside: vec![flow.name.clone(), power.name.clone()],
        confidence: 0.4,
        sign: Some(sign),
        why,
        ..Doubt::of(clock, head, Kind::Unit, (0, clock.len - 1), rows.len())
    }]
}
