//! How near the analyser came to an invented plant's truth, and whether its intervals are true.
//!
//! Comes in: plant numbers. Goes out: one [`Outcome`] a plant and trended set. A row counts where the analyser calls it steady and
//! gives a flow, and the pump's table reaches to the true one. The plant is the sample, since its errors are common to its
//! rows. Rows whose basis is a bound count for coverage and width, not for error. Start at [`single`] and [`parallel`].

use super::chances;
use super::nuisance as table;
use super::oracle::{Tangent, Told, bound};
use super::plant::{Held, Key, Plant, Record, run};
use super::write;
use crate::simulator::noise::Rng;
use offcurve::operating::{self, PumpPoints, Reconstructed, State};
use offcurve::{ingest, plant, screening};
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What is trended of a plant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Set {
    HeadPower,
    Head,
    Power,
    HeaderPower,
    MeterHeadPower,
    MeterPower,
    HeatPower,
    RemotePower,
    Speed,
    Parallel,
    ParallelMeter,
}

impl Set {
    /// Every set of a plant with one pump; the first three are scored on all plants.
    pub const SINGLE: [Self; 9] = [
        Self::HeadPower,
        Self::Head,
        Self::Power,
        Self::HeaderPower,
        Self::MeterHeadPower,
        Self::MeterPower,
        Self::HeatPower,
        Self::RemotePower,
        Self::Speed,
    ];
    pub const PARALLEL: [Self; 2] = [Self::Parallel, Self::ParallelMeter];

    pub fn word(self) -> &'static str {
        match self {
            Self::HeadPower => "head+power",
            Self::Head => "head",
            Self::Power => "power",
            Self::HeaderPower => "header+power",
            Self::MeterHeadPower => "meter+head+power",
            Self::MeterPower => "meter+power",
            Self::HeatPower => "heat+power",
            Self::RemotePower => "remote dp+power",
            Self::Speed => "speed alone",
            Self::Parallel => "2-3 pumps, head+power",
            Self::ParallelMeter => "2-3 pumps, meter+head+power",
        }
    }

    /// The points besides each pump's speed.
    fn keys(self, plant: &Plant) -> Vec<Key> {
        let mut keys: Vec<Key> = (0..plant.machines.len()).map(Key::Speed).collect();
        let each = |key: fn(usize) -> Key| (0..plant.machines.len()).map(key).collect::<Vec<_>>();
        let head =
            || if plant.machines.len() > 1 && plant.header_trended { vec![Key::Header] } else { each(Key::Head) };
        let (heads, powers) = (head(), each(Key::Power));
        keys.extend(match self {
            Self::HeadPower | Self::Parallel => [heads, powers].concat(),
            Self::Head => heads,
            Self::Power => powers,
            Self::HeaderPower => [vec![Key::Header], powers].concat(),
            Self::MeterHeadPower | Self::ParallelMeter => [heads, powers, vec![Key::Meter]].concat(),
            Self::MeterPower => [powers, vec![Key::Meter]].concat(),
            Self::HeatPower => [powers, vec![Key::Load, Key::Supply, Key::Return]].concat(),
            Self::RemotePower => [powers, vec![Key::Remote]].concat(),
            Self::Speed => Vec::new(),
        });
        keys
    }
}

/// Share of plants on which the further sets are scored.
const FURTHER: f64 = 1.0 / 3.0;
/// Every how many rows the oracle looks: a day has 96.
const THINNED: usize = 4;
/// A band needs as many rows of a plant to say anything of it.
const LEAST_ROWS: usize = 12;
/// Loads that part the bands, share of design flow.
const BANDS: [f64; 2] = [0.40, 0.75];
pub const BAND_WORDS: [&str; 4] = ["all", "under 40 %", "40 to 75 %", "over 75 %"];

/// What one plant shows in one band.
#[derive(Debug, Clone, Copy)]
pub struct Band {
    pub rows: usize,
    /// Share of rows whose true flow lies in the interval.
    pub covered: f64,
    /// Mean width of the intervals over the oracle's.
    pub width: f64,
    /// Mean standard deviation of the oracle, share of design flow.
    pub sharpest: f64,
    /// That of the one that is told how each choice fell.
    pub clairvoyant: f64,
    /// Median and 95th percentile of the error, share of design flow; NaN where all rows are bounds.
    pub error_50: f64,
    pub error_95: f64,
    /// Mean of the signed error over its own standard deviation.
    pub signed: f64,
}

/// One plant under one trended set.
#[derive(Debug, Clone)]
pub struct Outcome {
    pub plant: u64,
    pub set: Set,
    /// All rows, then the three load bands; `None` where rows are too few.
    pub bands: [Option<Band>; 4],
    /// Share of running rows with a flow.
    pub answered: f64,
    pub flat: bool,
    pub half_speed: bool,
    /// What kind of plant it is, for diagnosis: names as in [`TRAITS`].
    pub traits: Vec<String>,
    rows: Vec<Row>,
}

/// Names of an outcome's traits: those of the first pump, where there are more.
pub const TRAITS: [&str; 12] = [
    "slip",
    "loss",
    "family",
    "service",
    "read_at",
    "read_at_declared",
    "plate_declared",
    "sheet_is_drive_input",
    "speed_unit",
    "floor_rows",
    "head_level",
    "power_level",
];

/// One row that counts.
#[derive(Debug, Clone, Copy)]
struct Row {
    row: usize,
    truth: f64,
    flow: f64,
    low: f64,
    high: f64,
    is_bound: bool,
    /// The oracle's standard deviation where it looked, else NaN; the same of the one that is told how each choice fell.
    sharpest: f64,
    clairvoyant: f64,
}

/// Whether fusion was no worse than a single method.
#[derive(Debug, Clone, Copy)]
pub struct Fusion {
    /// 95th percentile of error on the same rows: both, head alone, power alone.
    pub errors: [f64; 3],
    /// Mean width of head's and power's own intervals there.
    pub widths: [f64; 2],
}

/// A worse error than this times a single method's counts against fusion.
pub const NO_WORSE: f64 = 1.1;

impl Fusion {
    pub fn beats_the_better(&self) -> bool {
        self.errors[0] <= NO_WORSE * self.errors[1].min(self.errors[2])
    }
    /// The one that would be chosen by its own interval.
    pub fn beats_the_chosen(&self) -> bool {
        let chosen = if self.widths[0] <= self.widths[1] { self.errors[1] } else { self.errors[2] };
        self.errors[0] <= NO_WORSE * chosen
    }
}

/// Fusion against the single methods on rows that all three call points; the outcomes of one plant.
pub fn fusion(outcomes: &[Outcome]) -> Option<Fusion> {
    let of = |set: Set| outcomes.iter().find(|o| o.set == set).map(|o| &o.rows);
    let (both, head, power) = (of(Set::HeadPower)?, of(Set::Head)?, of(Set::Power)?);
    let at = |rows: &[Row], row: usize| rows.iter().find(|r| r.row == row && !r.is_bound).copied();
    let shared: Vec<[Row; 3]> =
        both.iter().filter(|r| !r.is_bound).filter_map(|r| Some([*r, at(head, r.row)?, at(power, r.row)?])).collect();
    if shared.len() < LEAST_ROWS {
        return None;
    }
    let errors = [0, 1, 2].map(|k| {
        let mut errors: Vec<f64> = shared.iter().map(|r| (r[k].flow - r[k].truth).abs()).collect();
        quantile(&mut errors, 0.95)
    });
    let width = |k: usize| shared.iter().map(|r| r[k].high - r[k].low).sum::<f64>() / shared.len() as f64;
    Some(Fusion { errors, widths: [width(1), width(2)] })
}

/// The value below which a share of them lies; NaN of none.
pub fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    match values.len() {
        0 => f64::NAN,
        n => values[((share * n as f64) as usize).min(n - 1)],
    }
}

/// A plant with one pump under its trended sets.
pub fn single(number: u64, sets: &[Set]) -> Vec<Outcome> {
    let plant = Plant::single(number);
    let at_pump = Run::new(&plant, Held::AtPump);
    let mut drawn = Rng::new(number, 7);
    let mut outcomes = Vec::new();
    for set in sets {
        let further = !matches!(set, Set::HeadPower | Set::Head | Set::Power);
        // Drawn whether asked for or not, so that one set never shifts another.
        if !drawn.chance(FURTHER) && further {
            continue;
        }
        if *set == Set::RemotePower {
            outcomes.push(Run::new(&plant, Held::Remote).score(*set));
        } else {
            outcomes.push(at_pump.score(*set));
        }
    }
    outcomes
}

/// A plant with pumps in parallel; the loop's flow is scored.
pub fn parallel(number: u64) -> Vec<Outcome> {
    let plant = Plant::parallel(number);
    let run = Run::new(&plant, Held::AtHeader);
    Set::PARALLEL.iter().map(|set| run.score(*set)).collect()
}

/// Outcomes of many plants on all cores, in the order of their numbers.
pub fn many<T: Send>(numbers: &[u64], work: impl Fn(u64) -> T + Sync) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let mut done: Vec<(usize, T)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|_| {
                scope.spawn(|| {
                    let mut mine = Vec::new();
                    loop {
                        let i = next.fetch_add(1, Ordering::Relaxed);
                        let Some(number) = numbers.get(i) else { break mine };
                        mine.push((i, work(*number)));
                    }
                })
            })
            .collect();
        workers.into_iter().flat_map(|w| w.join().expect("a plant's scoring does not panic")).collect()
    });
    done.sort_unstable_by_key(|d| d.0);
    done.into_iter().map(|d| d.1).collect()
}

/// A plant's record with the oracle's derivatives.
struct Run<'a> {
    plant: &'a Plant,
    held: Held,
    record: Record,
    tangent: Tangent,
    clairvoyant: Tangent,
}

impl<'a> Run<'a> {
    fn new(plant: &'a Plant, held: Held) -> Self {
        let record = run(plant, held);
        let rows: Vec<usize> = (0..record.rows).step_by(THINNED).filter(|i| record.total(*i) > 0.0).collect();
        let tangent = Tangent::new(plant, &record, rows.clone(), Told::Chances(chances::FROZEN));
        let clairvoyant = Tangent::new(plant, &record, rows, Told::Draw);
        Self { plant, held, record, tangent, clairvoyant }
    }

    /// The oracle's standard deviation of loop flow row by row, NaN where it did not look.
    fn sharpest(&self, tangent: &Tangent, keys: &[Key]) -> Vec<f64> {
        let mut sharpest = vec![f64::NAN; self.record.rows];
        for (row, s) in tangent.rows.iter().zip(bound(self.plant, &self.record, tangent, keys)) {
            sharpest[*row] = s.total;
        }
        sharpest
    }

    fn score(&self, set: Set) -> Outcome {
        let keys = set.keys(self.plant);
        let (points, start_ms, step_ms) = self.reconstructed(&keys);
        let [sharpest, clairvoyant] = [&self.tangent, &self.clairvoyant].map(|t| self.sharpest(t, &keys));
        let running: Vec<usize> = (0..self.record.rows).filter(|i| self.record.on.iter().any(|o| o[*i])).collect();
        let mut rows = Vec::new();
        let mut answered = 0;
        for &row in &running {
            let time = write::START_MS + (row * table::STEP_MIN * 60_000) as i64;
            let Ok(i) = usize::try_from((time - start_ms) / step_ms) else { continue };
            let Some(said) = self.said(&points, row, i) else { continue };
            answered += usize::from(said.flow.is_finite());
            if said.flow.is_finite() && said.steady && self.in_table(row) {
                rows.push(Row {
                    row,
                    truth: self.record.total(row),
                    flow: said.flow,
                    low: said.low,
                    high: said.high,
                    is_bound: said.is_bound,
                    sharpest: sharpest[row],
                    clairvoyant: clairvoyant[row],
                });
            }
        }
        self.outcome(set, rows, answered as f64 / running.len().max(1) as f64)
    }

    fn reconstructed(&self, keys: &[Key]) -> (Reconstructed, i64, i64) {
        let text = write::plant_file(self.plant, self.held, keys);
        let declared =
            plant::parse(&text, Path::new("invented/plant.toml")).unwrap_or_else(|e| panic!("{e}\n{text}")).value;
        let bytes = write::export(&self.record, keys);
        let files = [("trend.csv".to_owned(), bytes.as_slice())];
        let trends = ingest::from_bytes(&declared, &files).unwrap_or_else(|e| panic!("{e}"));
        let screened = screening::screen(&declared, trends.value).value;
        let clock = screened.clock;
        (operating::reconstruct(&declared, &screened).value, clock.start_ms, clock.step_s * 1000)
    }

    /// What the analyser says of the loop's flow in a row: the pump's where there is one.
    fn said(&self, r: &Reconstructed, row: usize, i: usize) -> Option<Said> {
        let pumps = &r.points.pumps;
        if pumps.first()?.state.len() <= i {
            return None;
        }
        let is_bound = |p: &PumpPoints| p.basis[i].word().contains("bound");
        if let [p] = pumps.as_slice() {
            return Some(Said {
                flow: p.flow_m3h[i],
                low: p.flow_low_m3h[i],
                high: p.flow_high_m3h[i],
                steady: p.state[i] == State::Steady,
                is_bound: is_bound(p),
            });
        }
        let system = &r.points.system;
        let on: Vec<&PumpPoints> =
            pumps.iter().enumerate().filter(|(p, _)| self.record.on[*p][row]).map(|(_, p)| p).collect();
        Some(Said {
            flow: system.flow_m3h[i],
            low: system.flow_low_m3h[i],
            high: system.flow_high_m3h[i],
            steady: on.iter().all(|p| p.state[i] == State::Steady),
            is_bound: on.iter().any(|p| is_bound(p)),
        })
    }

    fn in_table(&self, row: usize) -> bool {
        self.plant
            .machines
            .iter()
            .enumerate()
            .all(|(p, m)| !self.record.on[p][row] || m.in_table(self.record.flow[p][row], self.record.shown[row]))
    }

    fn outcome(&self, set: Set, rows: Vec<Row>, answered: f64) -> Outcome {
        let design = self.plant.design_flow;
        let band = |k: usize, r: &Row| {
            let load = r.truth / design;
            k == 0 || k == 1 + BANDS.iter().filter(|b| load >= **b).count()
        };
        let bands = [0, 1, 2, 3].map(|k| {
            let of_band: Vec<Row> = rows.iter().filter(|r| band(k, r)).copied().collect();
            (of_band.len() >= LEAST_ROWS).then(|| judged(&of_band, design))
        });
        let machine = &self.plant.machines[0];
        Outcome {
            plant: self.plant.number,
            set,
            bands,
            answered,
            flat: machine.sheet.is_flat(),
            half_speed: self.plant.half_speed,
            traits: self.traits(),
            rows,
        }
    }

    fn traits(&self) -> Vec<String> {
        let (plant, machine) = (self.plant, &self.plant.machines[0]);
        let slip = match (machine.permanent, machine.slip_hidden) {
            (true, _) => "none",
            (_, true) => "hidden",
            _ => "shown",
        };
        let at_floor = self.record.shown.iter().filter(|s| **s == plant.floor).count();
        let running = self.record.shown.iter().filter(|s| **s > 0.0).count();
        vec![
            slip.to_owned(),
            format!("{:?}", machine.loss),
            format!("{:?}", machine.sheet.family),
            format!("{:?}", plant.service),
            format!("{:?}", machine.read_at),
            plant.read_at_declared.to_string(),
            plant.plate_declared.to_string(),
            plant.table.drive_input.to_string(),
            format!("{:?}", plant.speed_unit),
            format!("{:.3}", at_floor as f64 / running.max(1) as f64),
            format!("{:.4}", machine.truth[super::machine::HEAD_LEVEL]),
            format!("{:.4}", machine.truth[super::machine::POWER_LEVEL]),
        ]
    }
}

struct Said {
    flow: f64,
    low: f64,
    high: f64,
    steady: bool,
    is_bound: bool,
}

fn judged(rows: &[Row], design: f64) -> Band {
    let n = rows.len() as f64;
    let covered = rows.iter().filter(|r| r.low <= r.truth && r.truth <= r.high).count() as f64 / n;
    // Means of both over the same rows; two-sided 95 % of a normal is 3.92 standard deviations wide.
    let looked = || rows.iter().filter(|r| r.sharpest.is_finite());
    let width = looked().map(|r| r.high - r.low).sum::<f64>() / (3.92 * looked().map(|r| r.sharpest).sum::<f64>());
    let mean = |f: fn(&Row) -> f64| looked().map(f).sum::<f64>() / (design * looked().count().max(1) as f64);
    let (sharpest, clairvoyant) = (mean(|r| r.sharpest), mean(|r| r.clairvoyant));
    let mut errors: Vec<f64> = rows.iter().filter(|r| !r.is_bound).map(|r| (r.flow - r.truth).abs() / design).collect();
    let signed = rows.iter().map(|r| 3.92 * (r.flow - r.truth) / (r.high - r.low).max(1e-9)).sum::<f64>() / n;
    let (error_50, error_95) = (quantile(&mut errors, 0.50), quantile(&mut errors, 0.95));
    Band { rows: rows.len(), covered, width, sharpest, clairvoyant, error_50, error_95, signed }
}
