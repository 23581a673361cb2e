//! Water temperatures held against each other where they must agree, or where one must lie between others.
//!
//! Three places, the surest first. Water that circulates while every valve is shut has one temperature. Water that mixes cannot leave warmer than the
//! warmest of what it is mixed of, nor colder than the coldest: a loop's return against its coils' returns, and a coil's return
//! against the supply. Pipes that stand for a night drift to their rooms: there a sensor is named only where several others agree,
//! since pipes in different rooms honestly differ by a kelvin or two; a lone pair must differ by more, night after night alike. Where the pair
//! alone is seen, the declared supply temperature says which of the two is the likelier, and both are named.

use super::doubt::{Kind, Sign};
use super::swapped::toward_load;
use super::{Doubt, Seen, quantile, share_of, sorted};
use crate::ingest::{Clock, Series};
use crate::plant::{Bypass, Plant, Role, Valve};

/// Shut [-], and so long before water has gone round [h].
const SHUT: f64 = 0.03;
const ROUND_H: f64 = 1.0;
/// Hours at no load that must be seen, in so many visits [h].
const NO_LOAD_H: f64 = 3.0;
const VISITS: usize = 2;
/// A difference at no load: the way no load can make it, and the way a leaking valve can [K].
const AGAINST_LOAD_K: f64 = 1.0;
const TOWARD_LOAD_K: f64 = 1.5;
/// Visits agree within this [K].
const ALIKE_K: f64 = 0.8;
/// Hours of running rows and share of them that must say so [h], [-].
const RUNNING_H: f64 = 24.0;
const MOSTLY: f64 = 0.8;
/// A return beyond what it is mixed of [K].
const BEYOND_K: f64 = 1.2;
/// A coil's return on the wrong side of the supply [K].
const WRONG_SIDE_K: f64 = 1.0;
/// A coil counts from this opening on [-].
const OPEN: f64 = 0.10;
/// Share of the loop's design flow that the coils with a return temperature must carry [-].
const CARRIED: f64 = 0.85;
/// A stop this long settles, if its last hours move by no more than this [h], [K].
const STOP_H: f64 = 10.0;
const LAST_H: f64 = 4.0;
const MOVES_K: f64 = 0.15;
/// Nights that must agree, and by how much one stands off the others' middle [K]; and off by so many times what the others differ.
const NIGHTS: usize = 3;
const ODD_K: f64 = 1.0;
const OVER_SPREAD: f64 = 2.0;
/// A lone pair: what two rooms do not make [K]; less where the declared supply temperature points at the same sensor.
const PAIR_K: f64 = 2.2;
const PAIR_TOLD_K: f64 = 1.5;
/// From here on a pair is named as unsure [K].
const PAIR_NAMED_K: f64 = 1.0;
/// A supply that is held spans less [K].
const HELD_K: f64 = 1.5;

/// Judges supply, return and coil returns; removes those that are surely off.
pub(super) fn judge(plant: &Plant, clock: &Clock, series: &mut [Series], seen: &Seen) -> Vec<Doubt> {
    let Some(look) = Look::of(plant, clock, series, seen) else { return Vec::new() };
    let mut found = look.coils_on_the_wrong_side();
    if found.is_empty() {
        found.extend(look.at_no_load().or_else(|| look.beyond_its_coils()).or_else(|| look.settled()));
    }
    let mut doubts = Vec::new();
    let mut remove = Vec::new();
    for off in found {
        if off.removed {
            remove.push(off.at);
        }
        doubts.push(off.doubt(clock, series));
    }
    remove.into_iter().for_each(|k| series[k].values.fill(f64::NAN));
    doubts
}

/// A sensor that is off.
struct Off {
    at: usize,
    beside: Option<usize>,
    by_k: f64,
    hours: f64,
    confidence: f64,
    removed: bool,
    name: &'static str,
    expected: &'static str,
    why: String,
}

impl Off {
    fn doubt(self, clock: &Clock, series: &[Series]) -> Doubt {
        let kept = if self.removed { "It was removed" } else { "It was kept" };
        let rows = (self.hours / clock.hours()) as usize;
        Doubt {
            beside: self.beside.map(|k| series[k].name.clone()).into_iter().collect(),
            removed: self.removed,
            confidence: self.confidence,
            sign: Some(Sign { name: self.name.into(), value: self.by_k, unit: "K", expected: self.expected.into() }),
            why: format!("{}. {kept}", self.why),
            ..Doubt::of(clock, &series[self.at], Kind::Biased, (0, clock.len - 1), rows)
        }
    }
}

struct CoilSeen<'a> {
    back: Option<usize>,
    valve: Option<&'a [f64]>,
    flow: Option<f64>,
}

struct Look<'a> {
    plant: &'a Plant,
    clock: &'a Clock,
    series: &'a [Series],
    seen: &'a Seen,
    supply: usize,
    back: usize,
    coils: Vec<CoilSeen<'a>>,
    toward: f64,
    /// Rows in which a pump has run for an hour.
    running: Vec<bool>,
}

impl<'a> Look<'a> {
    fn of(plant: &'a Plant, clock: &'a Clock, series: &'a [Series], seen: &'a Seen) -> Option<Self> {
        let running = seen.running.as_ref()?;
        let find = |role: Role, of: Option<&str>| series.iter().position(|s| s.role == role && s.of.as_deref() == of);
        let coils = plant.coils.iter().map(|c| {
            let of = Some(c.name.as_str());
            let valve = find(Role::ValvePosition, of).or_else(|| find(Role::ValveCommand, of));
            CoilSeen {
                back: find(Role::CoilReturnTemperature, of),
                valve: valve.map(|k| series[k].values.as_slice()),
                flow: c.design_flow.map(crate::quantity::Flow::in_m3h),
            }
        });
        let round = (ROUND_H / clock.hours()).ceil() as u32;
        let mut count = 0u32;
        let running = running
            .iter()
            .map(|r| {
                count = if *r { count.saturating_add(1) } else { 0 };
                count > round
            })
            .collect();
        Some(Self {
            plant,
            clock,
            series,
            seen,
            supply: find(Role::SupplyTemperature, None)?,
            back: find(Role::ReturnTemperature, None)?,
            coils: coils.collect(),
            toward: toward_load(plant),
            running,
        })
    }

    fn at(&self, k: usize, i: usize) -> f64 {
        self.series[k].values[i]
    }

    /// Return less supply, positive toward the load [K].
    fn difference(&self, i: usize) -> f64 {
        self.toward * (self.at(self.back, i) - self.at(self.supply, i))
    }

    fn hours(&self, rows: usize) -> f64 {
        rows as f64 * self.clock.hours()
    }

    fn name(&self, k: usize) -> &str {
        &self.series[k].name
    }

    // ---- no load ----

    fn at_no_load(&self) -> Option<Off> {
        let shuts = |c: &crate::plant::Coil| !matches!(c.valve, Some(Valve::ThreeWay | Valve::None));
        let circulates = matches!(self.plant.system.bypass, Some(Bypass::TwoWay | Bypass::Decoupler));
        if !circulates || self.coils.is_empty() || !self.plant.coils.iter().all(shuts) {
            return None;
        }
        let valves: Vec<&[f64]> = self.coils.iter().map(|c| c.valve).collect::<Option<_>>()?;
        let round = (ROUND_H / self.clock.hours()).ceil() as usize;
        let mut visits: Vec<Vec<f64>> = Vec::new();
        let mut shut = 0usize;
        for i in 0..self.clock.len {
            let now = self.running[i] && valves.iter().all(|v| v[i] <= SHUT);
            shut = if now { shut + 1 } else { 0 };
            let d = self.difference(i);
            if shut > round && d.is_finite() {
                if shut == round + 1 || visits.is_empty() {
                    visits.push(Vec::new());
                }
                visits.last_mut()?.push(d);
            }
        }
        let rows: usize = visits.iter().map(Vec::len).sum();
        if self.hours(rows) < NO_LOAD_H || visits.len() < VISITS {
            return None;
        }
        let levels = sorted(visits.iter().map(|v| share_of(v.iter().copied(), 0.5)));
        let (middle, low, high) = (quantile(&levels, 0.5)?, quantile(&levels, 0.1)?, quantile(&levels, 0.9)?);
        let least = if middle < 0.0 { AGAINST_LOAD_K } else { TOWARD_LOAD_K };
        if middle.abs() < least || high - low > ALIKE_K {
            return None;
        }
        let (at, beside, told) = self.which(middle);
        let sure = 0.75 + 0.05 * (visits.len().min(4) as f64 - 1.0);
        let why = format!(
            "with every valve shut and water circulating for {:.0} h, \"{}\" and \"{}\" differ by {:.1} K, where one water has one temperature; \"{}\" is the likelier of the two{}",
            self.hours(rows),
            self.name(self.supply),
            self.name(self.back),
            middle.abs(),
            self.name(at),
            if told { ", by the declared supply temperature" } else { "" }
        );
        Some(Off {
            at,
            beside: Some(beside),
            by_k: middle,
            hours: self.hours(rows),
            confidence: if told { sure } else { sure - 0.1 },
            removed: told,
            name: "return less supply at no load, toward the load",
            expected: "0",
            why,
        })
    }

    /// Which of supply and return is off by a difference [K], and whether the declared supply temperature says so.
    fn which(&self, difference: f64) -> (usize, usize, bool) {
        let rows = || (0..self.clock.len).filter(|&i| self.running[i]).map(|i| self.at(self.supply, i));
        let Some(design) = self.plant.system.supply_temperature.map(crate::quantity::Temperature::in_celsius) else {
            return (self.back, self.supply, false);
        };
        let held = share_of(rows(), 0.9) - share_of(rows(), 0.1) < HELD_K;
        let off = self.toward * (share_of(rows(), 0.5) - design);
        // A supply that reads more toward the load makes the difference smaller.
        if held && (off + difference).abs() <= 0.35 * difference.abs() {
            (self.supply, self.back, true)
        } else {
            (self.back, self.supply, held && off.abs() <= 0.35 * difference.abs())
        }
    }

    // ---- mixing ----

    /// Coil returns that lie on the wrong side of the supply while water passes; only a minority can be off by itself.
    fn coils_on_the_wrong_side(&self) -> Vec<Off> {
        let mut out = Vec::new();
        let mut seen = 0;
        for c in &self.coils {
            let (Some(k), Some(valve)) = (c.back, c.valve) else { continue };
            let rows = || (0..self.clock.len).filter(|&i| self.running[i] && valve[i] > OPEN);
            let all: Vec<f64> = rows()
                .map(|i| self.toward * (self.at(k, i) - self.at(self.supply, i)))
                .filter(|d| d.is_finite())
                .collect();
            if self.hours(all.len()) < RUNNING_H {
                continue;
            }
            seen += 1;
            let wrong = all.iter().filter(|d| **d < 0.0).count() as f64;
            let middle = share_of(all.iter().copied(), 0.5);
            if middle > -WRONG_SIDE_K || wrong < MOSTLY * all.len() as f64 {
                continue;
            }
            let side = if self.toward > 0.0 { "colder" } else { "warmer" };
            let why = format!(
                "it is {side} than the supply \"{}\" by {:.1} K in the middle while water passes its coil, which no coil does",
                self.name(self.supply),
                -middle
            );
            out.push(Off {
                at: k,
                beside: None,
                by_k: middle,
                hours: self.hours(all.len()),
                confidence: 0.85,
                removed: true,
                name: "coil's return less supply, toward the load",
                expected: "above 0",
                why,
            });
        }
        // More than half of them: it is the supply, or the service.
        if 2 * out.len() > seen { Vec::new() } else { out }
    }

    /// The loop's return beyond what its coils return.
    fn beyond_its_coils(&self) -> Option<Off> {
        let known: Vec<(usize, f64, Option<&[f64]>)> =
            self.coils.iter().filter_map(|c| Some((c.back?, c.flow?, c.valve))).collect();
        let carried: f64 = known.iter().map(|c| c.1).sum();
        let design = self.plant.system.design_flow.map_or(f64::NAN, crate::quantity::Flow::in_m3h);
        if known.len() < 3 || !(carried >= CARRIED * design) {
            return None;
        }
        let no_bypass = self.plant.system.bypass == Some(Bypass::None);
        let (mut above, mut below, mut rows) = (Vec::new(), Vec::new(), 0usize);
        for i in (0..self.clock.len).filter(|&i| self.running[i]) {
            let open = |v: Option<&[f64]>| v.is_none_or(|v| v[i] > SHUT);
            let returns = known.iter().filter(|c| open(c.2)).map(|c| self.toward * self.at(c.0, i));
            let (mut low, mut high, mut n) = (f64::MAX, f64::MIN, 0);
            for t in returns.filter(|t| t.is_finite()) {
                (low, high, n) = (low.min(t), high.max(t), n + 1);
            }
            let back = self.toward * self.at(self.back, i);
            if n >= 2 && back.is_finite() {
                rows += 1;
                above.push(back - high);
                below.push(low - back);
            }
        }
        if self.hours(rows) < RUNNING_H {
            return None;
        }
        let far = |v: &[f64]| {
            let share = v.iter().filter(|d| **d > 0.0).count() as f64 / v.len() as f64;
            let middle = share_of(v.iter().copied(), 0.5);
            (middle >= BEYOND_K && share >= MOSTLY).then_some(middle)
        };
        let by = far(&above).or_else(|| if no_bypass { far(&below).map(|b| -b) } else { None })?;
        let why = format!(
            "it lies {:.1} K beyond every one of {} coils' returns in the middle of {:.0} running hours, which no mixture of them does",
            by.abs(),
            known.len(),
            self.hours(rows)
        );
        Some(Off {
            at: self.back,
            beside: None,
            by_k: by,
            hours: self.hours(rows),
            confidence: 0.85,
            removed: true,
            name: "loop's return beyond its coils' returns, toward the load",
            expected: "below 0",
            why,
        })
    }

    // ---- settled ----

    /// Rows at which a long stop has settled: the last before the pumps start again.
    fn nights(&self) -> Vec<usize> {
        let since = &self.seen.since_stop;
        let (long, last) = ((STOP_H / self.clock.hours()) as usize, (LAST_H / self.clock.hours()) as usize);
        let ends =
            (0..self.clock.len).filter(|&i| since.get(i + 1).copied().unwrap_or(0) == 0 && since[i] as usize >= long);
        let still = |i: usize| {
            let moved = self.difference(i) - self.difference(i - last);
            moved.abs() <= MOVES_K
        };
        ends.filter(|&i| i >= last && still(i)).collect()
    }

    fn settled(&self) -> Option<Off> {
        let nights = self.nights();
        if nights.len() < NIGHTS {
            return None;
        }
        let mut all = vec![self.supply, self.back];
        all.extend(self.coils.iter().filter_map(|c| c.back));
        if all.len() >= 4 {
            return self.odd_one(&all, &nights);
        }
        self.lone_pair(&nights)
    }

    /// The one that stands off the others, every night alike.
    fn odd_one(&self, all: &[usize], nights: &[usize]) -> Option<Off> {
        let mut found: Vec<Off> = Vec::new();
        for &k in all {
            let (mut off, mut spread) = (Vec::new(), Vec::new());
            for &i in nights {
                let others = sorted(all.iter().filter(|o| **o != k).map(|&o| self.at(o, i)));
                let (Some(middle), Some(low), Some(high)) =
                    (quantile(&others, 0.5), quantile(&others, 0.0), quantile(&others, 1.0))
                else {
                    continue;
                };
                off.push(self.at(k, i) - middle);
                spread.push((high - middle).max(middle - low));
            }
            let off = sorted(off.into_iter());
            let (Some(by), Some(low), Some(high)) = (quantile(&off, 0.5), quantile(&off, 0.1), quantile(&off, 0.9))
            else {
                continue;
            };
            let others = share_of(spread.into_iter(), 0.5);
            if off.len() < NIGHTS || by.abs() < ODD_K.max(OVER_SPREAD * others) || high - low > ALIKE_K {
                continue;
            }
            let why = format!(
                "at the end of {} stops of {STOP_H:.0} h or more it stands {:.1} K off {} other water temperatures, which lie within {others:.1} K of their middle",
                off.len(),
                by.abs(),
                all.len() - 1
            );
            found.push(Off {
                at: k,
                beside: None,
                by_k: by,
                hours: off.len() as f64 * STOP_H,
                confidence: (0.65 + 0.03 * off.len().min(6) as f64).min(0.85),
                removed: true,
                name: "settled reading less the middle of the others",
                expected: "0",
                why,
            });
        }
        // Two that stand off are two rooms.
        if found.len() == 1 { found.pop() } else { None }
    }

    fn lone_pair(&self, nights: &[usize]) -> Option<Off> {
        let levels = sorted(nights.iter().map(|&i| self.difference(i)));
        let (middle, low, high) = (quantile(&levels, 0.5)?, quantile(&levels, 0.1)?, quantile(&levels, 0.9)?);
        if middle.abs() < PAIR_NAMED_K || high - low > ALIKE_K || levels.len() < NIGHTS {
            return None;
        }
        let (at, beside, told) = self.which(middle);
        let points = told && at == self.supply && middle.abs() >= PAIR_TOLD_K;
        let confidence = if points {
            0.65
        } else if middle.abs() >= PAIR_K {
            0.6
        } else {
            0.35
        };
        let why = format!(
            "at the end of {} stops of {STOP_H:.0} h or more \"{}\" and \"{}\" differ by {:.1} K, every time alike; pipes in different rooms can do that, and \"{}\" is the likelier of the two if they do not",
            levels.len(),
            self.name(self.supply),
            self.name(self.back),
            middle.abs(),
            self.name(at),
        );
        Some(Off {
            at,
            beside: Some(beside),
            by_k: middle,
            hours: levels.len() as f64 * STOP_H,
            confidence,
            removed: false,
            name: "return less supply with settled pipes, toward the load",
            expected: "0",
            why,
        })
    }
}
