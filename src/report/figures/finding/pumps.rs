//! A pump's readings held against each other, day by day, and against its own test.

use super::{
    Scene, Told,
    daily::{self, Days},
    middle,
    plot::{Kind, Look},
    quantity::Quantity,
    scatter::Scatter,
};
use crate::{
    faults::{Fault, Finding, What},
    operating::{State, days::Day},
    report::figures::Figure,
};
use std::collections::BTreeMap;

/// Names of [`crate::operating::days::PAIRS`], short enough to stand upright.
const PAIRS: [&str; 3] = ["head by power", "head by meter", "power by meter"];
/// The same in a sentence.
const PAIRS_SAID: [&str; 3] = [
    "head against what power and table say",
    "head against what meter and table say",
    "power against what meter and table say",
];
/// Names of [`crate::operating::days::READINGS`].
const READINGS: [&str; 3] = ["head, like speed", "power, like speed", "flow, like speed"];

pub fn moved(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::Moved { pump, pair, since_ms, within } = &f.shown.what else { return None };
    let machine = scene.review.machines.iter().find(|m| m.pump == *pump)?;
    let days = &machine.check.days;
    let at = scene.place(*since_ms);
    let of = |value: &dyn Fn(&Day) -> f64| -> Vec<f64> {
        let mut out = vec![f64::NAN; scene.days.len()];
        for d in days {
            if let Some(place) = out.get_mut(scene.place(d.from_ms)) {
                *place = value(d);
            }
        }
        let was = middle(out[..at].iter().copied());
        out.iter().map(|v| (v - was).exp_m1()).collect()
    };
    let panel = |name: &'static str, values: Vec<f64>| Days {
        name,
        quantity: Quantity::Percent,
        values,
        levels: Vec::new(),
        within: *within,
    };
    let known = |k: &usize| days.iter().any(|d| d.pairs[*k].is_finite());
    // The pair that tells it comes first.
    let order = [*pair].into_iter().chain((0..3).filter(|k| k != pair)).filter(known);
    let mut panels: Vec<Days> = order.map(|k| panel(PAIRS[k], of(&|d| d.pairs[k]))).collect();
    let alone = panels.len() == 1;
    let first_after = days.partition_point(|d| d.from_ms < *since_ms);
    if alone {
        let (a, b) = ([0, 0, 1][*pair], [1, 2, 2][*pair]);
        for reading in [a, b] {
            let usual = usual(&days[..first_after], reading);
            panels.push(panel(READINGS[reading], of(&|d| beside_usual(d, reading, &usual))));
        }
    }
    let change = middle(panels.first()?.values.get(at..)?.iter().copied());
    let told = Told {
        title: if f.fault == Fault::SensorFault {
            format!("\"{}\" against the other readings of {pump}, day by day", f.subject)
        } else {
            format!("The readings of {pump} against each other, day by day")
        },
        caption: format!(
            "Each mark is the middle of a day's steady rows, as change against the days before {}: {}. The band is {} each way, within what sensors and tables make over a season.{}",
            scene.show.date(*since_ms),
            PAIRS_SAID[*pair],
            scene.show.percent(*within),
            if alone {
                " Below: each reading at like speed, which tells a pump that wears (both fall) from a reading that moved (one does)."
            } else {
                " A reading that moved takes its two pairs along and leaves the third."
            }
        ),
        description: format!(
            "Daily marks: {} steps by {} from {} on; within {} would be no matter.",
            PAIRS_SAID[*pair],
            scene.show.percent(change),
            scene.show.date(*since_ms),
            scene.show.percent(*within)
        ),
    };
    daily::figure(scene, f, panels, at, told)
}

/// A reading's usual level in each step of speed and number of pumps, over days.
fn usual(days: &[Day], reading: usize) -> BTreeMap<(u16, u8), f64> {
    let mut sums: BTreeMap<(u16, u8), (f64, f64)> = BTreeMap::new();
    for s in days.iter().flat_map(|d| &d.at_speed).filter(|s| s.level[reading].is_finite()) {
        let sum = sums.entry((s.step, s.sharing)).or_default();
        *sum = (sum.0 + s.level[reading] * f64::from(s.rows), sum.1 + f64::from(s.rows));
    }
    sums.into_iter().map(|(cell, (sum, n))| (cell, sum / n)).collect()
}

/// A day's reading against its usual levels, over the speeds that both know (natural logarithm).
fn beside_usual(day: &Day, reading: usize, usual: &BTreeMap<(u16, u8), f64>) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for s in day.at_speed.iter().filter(|s| s.level[reading].is_finite()) {
        if let Some(level) = usual.get(&(s.step, s.sharing)) {
            sum += (s.level[reading] - level) * f64::from(s.rows);
            n += f64::from(s.rows);
        }
    }
    sum / n
}

/// Head over flow, both carried to rated speed, on the pump's own test.
pub fn below_test(scene: &Scene, f: &Finding) -> Option<Figure> {
    let pump = scene.pump(&f.subject)?;
    let declared = scene.review.plant.pumps.iter().find(|p| p.name == f.subject)?;
    let table = declared.curves.first()?;
    let speed = table.speed.in_of_one();
    let test: Vec<(f64, f64)> =
        table.head_flow_m3h.iter().zip(&table.head_kpa).map(|(q, h)| (q / speed, h / (speed * speed))).collect();
    let steady = (0..scene.rows()).filter(|i| pump.state[*i] == State::Steady && pump.speed[*i] > 0.2);
    let place = |i: usize| (pump.flow_m3h[i] / pump.speed[i], pump.head_kpa[i] / pump.speed[i].powi(2));
    let tolerance = table.tolerance.filter(|t| t.is_finite()).unwrap_or(0.0);
    let lost = f.evidence.first().map_or(f64::NAN, |e| -e.value);
    let told = Told {
        title: format!("{} against its own test", f.subject),
        caption: "Steady rows of the whole period, flow and head carried to rated speed by the affinity laws, with the tested points joined by straight lines and the test's own tolerance as a band."
            .to_owned(),
        description: format!(
            "Scatter of head over flow at rated speed: {} less head than the test says, over {}.",
            scene.show.percent(lost),
            scene.show.hours(f.hours)
        ),
    };
    let high = test.iter().map(|p| p.1).fold(0.0, f64::max);
    Scatter::new(("flow at rated speed", Quantity::Flow), ("head at rated speed", Quantity::Head))
        .cloud(Kind::Counts, "steady rows", steady.map(place))
        .line(Look::Expected, "the pump's own test", test, tolerance * high)
        .figure(scene, f, told)
}

impl Scene<'_> {
    /// Place among the days of an instant.
    fn place(&self, ms: i64) -> usize {
        let clock = self.review.clock;
        self.days.partition_point(|d| clock.at_ms(d.end) <= ms)
    }
}
