//! Invented plants that can run again under another setting: three generators behind one face.
//!
//! Comes in: a seed. Goes out: a [`Plant`] with its record, and [`Ran`] for any [`Setting`]: same weather, loads and faults, other control.

use super::allowed::{Follows, Terminals};
use crate::corpus::{Ask, Severity, Trended, first, second};
use crate::simulator::{self, Faults, HeadPoint, Options, Run, Set, engine};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    Constant,
    Proportional,
    Quadratic,
    Remote,
}

/// What the drives are told, in force over the whole record [kPa, of one].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    pub mode: Mode,
    /// The setpoint stands in both where there is one.
    pub zero: f64,
    pub design: f64,
    pub floor: f64,
}

/// A run's truth.
#[derive(Debug, Clone, Default)]
pub struct Ran {
    pub kwh: f64,
    /// Of it, in hours that the plant file calls frost: those keep today's setting.
    pub frost_kwh: f64,
    pub running_h: f64,
    /// Hours in which a coil with its valve at the end misses its setpoint while the pumps are not at full speed.
    pub short_h: f64,
    /// Hours in which the loop's flow lies under the declared least of its machines; none where none is declared.
    pub starved_machine_h: f64,
    /// Loop flow [m3/h], the head between the headers that would do with every valve at most 90 % open, and the one that was there [kPa].
    pub wanted: Vec<(f64, f64, f64)>,
    /// What the machines get: loop flow [m3/h], head between the headers [kPa], opening of the bypass valve [-] (NaN: none), minutes since the pumps
    /// started, row by row while they run.
    pub machines: Vec<[f64; 4]>,
}

enum Kind {
    First(Box<first::Drawn>),
    Second(Box<second::Drawn>),
    Chilled { seed: u64, days: u32, options: Options, run: Box<Run> },
}

pub struct Plant {
    kind: Kind,
    pub generator: &'static str,
    pub seed: u64,
    pub severity: Option<Severity>,
    pub trended: Trended,
    pub minutes: u32,
}

/// Declared least flow of the samples' chilled-water loop [m3/h].
const CHILLED_LEAST: f64 = 12.0;
/// Under the least by more than this counts [-]: a bypass control is good to that.
const UNDER: f64 = 0.95;

/// Share of design flow on terminals that are not of this kind, from which it counts as untrended.
const HALF: f64 = 0.5;

impl Plant {
    pub fn corpus(generator: &'static str, ask: &Ask) -> Option<Self> {
        let kind = match generator {
            "first" => Kind::First(Box::new(first::drawn(ask)?)),
            _ => Kind::Second(Box::new(second::Second::drawn(ask)?)),
        };
        let severity = ask.plant.first().map(|p| p.1);
        Some(Self { kind, generator, seed: ask.seed, severity, trended: ask.trended, minutes: ask.minutes })
    }

    /// The samples' own chilled-water loop under a curve far too high.
    pub fn chilled(seed: u64, days: u32, at_pump: bool, meter: bool) -> Self {
        let faults = Faults { setpoint_too_high: true, ..Faults::none() };
        let head = Some(if at_pump { HeadPoint::Pump } else { HeadPoint::Header });
        let options = Options { faults, head, meter, ..Options::sample() };
        let run = Box::new(simulator::chilled(seed, days, &options));
        let kind = Kind::Chilled { seed, days, options, run };
        let severity = Some(Severity::Severe);
        Self { kind, generator: "samples", seed, severity, trended: Trended::Usual, minutes: 5 }
    }

    pub fn plant_toml(&self) -> &str {
        match &self.kind {
            Kind::First(d) => &d.case.plant_toml,
            Kind::Second(d) => &d.case.plant_toml,
            Kind::Chilled { run, .. } => &run.plant_toml,
        }
    }

    pub fn files(&self) -> Vec<(String, &[u8])> {
        let files = match &self.kind {
            Kind::First(d) => &d.case.files,
            Kind::Second(d) => &d.case.files,
            Kind::Chilled { run, .. } => &run.files,
        };
        files.iter().map(|(path, bytes)| (path.clone(), bytes.as_slice())).collect()
    }

    pub fn follows(&self) -> Follows {
        use first::plan::Mode as A;
        use second::building::Mode as B;
        match &self.kind {
            Kind::First(d) if d.plan.reset.is_some() => Follows::Reset,
            Kind::First(d) if d.plan.curve.mode == A::Remote => Follows::Remote,
            Kind::Second(d) if d.building.control.reset.is_some() => Follows::Reset,
            Kind::Second(d) if d.building.control.mode == B::Remote => Follows::Remote,
            Kind::Second(d) if d.building.control.mode == B::Fixed => Follows::Fixed,
            _ => Follows::Curve,
        }
    }

    pub fn terminals(&self) -> Terminals {
        use first::terminals::Port;
        use second::terminals::Kind as Body;
        let shares = |flows: &mut dyn Iterator<Item = (f64, bool)>| {
            let (all, of) = flows.fold((0.0, 0.0), |s, (q, is)| (s.0 + q, s.1 + if is { q } else { 0.0 }));
            of / all
        };
        match &self.kind {
            Kind::First(d) => {
                let t = &d.plan.terminals;
                let independent = shares(&mut t.iter().map(|t| (t.design_flow, t.port == Port::Independent)));
                if independent > HALF { Terminals::Independent } else { Terminals::Throttling }
            }
            Kind::Second(d) => {
                let c = &d.building.coils;
                let hidden = shares(&mut c.iter().map(|c| (c.flow, c.kind == Body::Radiator || c.valve.three_way)));
                if hidden >= HALF { Terminals::Untrended } else { Terminals::Throttling }
            }
            Kind::Chilled { .. } => Terminals::Throttling,
        }
    }

    /// Whether the plant file declares a least flow of the loop or its machines.
    pub fn least_declared(&self) -> bool {
        self.plant_toml().contains("minimum_flow")
    }

    /// The record as it is, with the latest setting in force all through; or under another.
    pub fn run(&self, setting: Option<Setting>) -> Ran {
        match &self.kind {
            Kind::First(d) => run_first(d, setting),
            Kind::Second(d) => run_second(d, setting),
            Kind::Chilled { seed, days, options, .. } => {
                let set = setting.map(|s| Set { curve: curve_of(&s), floor: s.floor });
                run_chilled(&simulator::chilled(*seed, *days, &Options { set, ..options.clone() }))
            }
        }
    }
}

fn run_first(d: &first::Drawn, setting: Option<Setting>) -> Ran {
    use first::plan::{Curve, Mode as M};
    use first::world::{BYPASS, FLOW, HEADER};
    let mut plan = d.plan.clone();
    plan.before = None;
    if let Some(s) = setting {
        let mode = match s.mode {
            Mode::Constant => M::Constant,
            Mode::Proportional => M::Proportional,
            Mode::Quadratic => M::Quadratic,
            Mode::Remote => M::Remote,
        };
        plan.curve = Curve { mode, zero: s.zero, design: s.design };
        plan.floor = s.floor;
        plan.reset = None;
    }
    let record = d.run(&plan);
    let pumps = plan.station.units.len();
    let days = f64::from(plan.days);
    let mean: f64 =
        (0..pumps).map(|p| record.pump(p, first::world::POWER).iter().sum::<f64>()).sum::<f64>() / record.rows as f64;
    let t = &record.tally;
    let outdoor = &record.columns[first::world::OUTDOOR];
    let cold = |k: usize| plan.hours.frost.is_some_and(|f| outdoor[k] < f);
    let in_frost: f64 = (0..pumps)
        .map(|p| (0..record.rows).filter(|k| cold(*k)).map(|k| record.pump(p, first::world::POWER)[k]).sum::<f64>())
        .sum();
    let least = plan.minimum_flow.unwrap_or(0.0);
    let flow = &record.columns[first::world::FLOW];
    let on = |k: usize| (0..pumps).any(|p| record.pump(p, first::world::STATUS)[k] > 0.99);
    let under = (0..record.rows).filter(|k| on(*k) && flow[*k] < UNDER * least).count() as f64;
    Ran {
        kwh: mean * 24.0 * days,
        frost_kwh: in_frost * 24.0 * days / record.rows as f64,
        running_h: t.settled / 60.0,
        short_h: t.starved / 60.0,
        starved_machine_h: under * 24.0 * days / record.rows as f64,
        wanted: t.wanted.clone(),
        machines: (0..record.rows)
            .filter(|k| on(*k))
            .map(|k| {
                let since =
                    (0..=k).rev().take_while(|j| on(*j)).take(200).count() as f64 * days * 1440.0 / record.rows as f64;
                let of = |signal: usize| record.columns[signal][k];
                [of(FLOW), of(HEADER), of(BYPASS), since]
            })
            .collect(),
    }
}

fn run_second(d: &second::Drawn, setting: Option<Setting>) -> Ran {
    use second::building::Mode as M;
    let mut b = d.building.clone();
    b.control.earlier = None;
    if let Some(s) = setting {
        b.control.mode = match s.mode {
            Mode::Constant => M::Constant,
            Mode::Proportional => M::Proportional,
            Mode::Quadratic => M::Quadratic,
            Mode::Remote => M::Remote,
        };
        // The controller's error is taken over its design head: that stays.
        (b.control.zero_kpa, b.control.set_kpa) = (s.zero, s.zero);
        if matches!(s.mode, Mode::Proportional | Mode::Quadratic) {
            b.control.design_kpa = s.design;
        }
        b.control.floor = s.floor;
        b.control.reset = None;
    }
    let r = second::run::play(&b, 0..b.site.minutes());
    let running = |m: &usize| r.pumps.iter().any(|p| p.on[*m]);
    let kwh = r.pumps.iter().flat_map(|p| &p.power).fold(0.0, |s, p| s + f64::from(*p)) / 60.0;
    let cold = |m: usize| b.frost_c.is_some_and(|f| f64::from(r.outdoor[m]) < f);
    let frost_kwh = r.pumps.iter().flat_map(|p| p.power.iter().enumerate()).filter(|p| cold(p.0));
    let frost_kwh = frost_kwh.fold(0.0, |s, p| s + f64::from(*p.1)) / 60.0;
    let minutes: Vec<usize> = (0..r.flow.len()).filter(running).collect();
    let late = |m: &usize| m.checked_sub(30).is_some_and(|from| (from..*m).step_by(5).all(|k| running(&k)));
    let settled: Vec<usize> = minutes.iter().copied().filter(late).collect();
    let short = settled.iter().filter(|m| r.starving[**m] && !r.at_top[**m]).count() as f64 / 60.0;
    let least = b.bypass.as_ref().map_or(0.0, |y| y.least_flow).max(b.source_least.unwrap_or(0.0));
    let under = settled.iter().filter(|m| f64::from(r.flow[**m]) < UNDER * least).count() as f64 / 60.0;
    let wanted = settled.iter().filter(|m| **m % 10 == 0 && r.need[**m] > 0.0);
    Ran {
        kwh,
        frost_kwh,
        running_h: settled.len() as f64 / 60.0,
        short_h: short,
        starved_machine_h: under,
        wanted: wanted.map(|m| (r.flow[*m].into(), r.need[*m].into(), r.header[*m].into())).collect(),
        machines: minutes
            .iter()
            .map(|m| {
                let since = (0..=*m).rev().take(600).take_while(running).count() as f64;
                [r.flow[*m].into(), r.header[*m].into(), r.bypass_shown[*m].into(), since]
            })
            .collect(),
    }
}

fn curve_of(s: &Setting) -> engine::Curve {
    match s.mode {
        Mode::Quadratic => engine::Curve::Quadratic(s.zero, s.design),
        Mode::Proportional => engine::Curve::Proportional(s.zero, s.design),
        Mode::Constant | Mode::Remote => engine::Curve::Constant(s.zero),
    }
}

fn run_chilled(run: &Run) -> Ran {
    let t = &run.truth;
    let running = |i: &usize| t.loop_flow_m3h[*i] > 0.0 && t.pumps.iter().any(|p| p.running[*i]);
    let rows: Vec<usize> = (0..t.time_ms.len()).filter(running).collect();
    let full = |i: usize| t.pumps.iter().any(|p| p.speed[i] > 0.99);
    let need = |i: &&usize| t.need_head_kpa[**i] > 0.0;
    Ran {
        frost_kwh: 0.0,
        kwh: t.pumps.iter().flat_map(|p| &p.power_kw).sum::<f64>() / 12.0,
        running_h: rows.len() as f64 / 12.0,
        short_h: rows.iter().filter(|i| t.short_k[**i] > 0.8 && !full(**i)).count() as f64 / 12.0,
        starved_machine_h: rows.iter().filter(|i| t.loop_flow_m3h[**i] < UNDER * CHILLED_LEAST).count() as f64 / 12.0,
        wanted: rows
            .iter()
            .filter(need)
            .map(|i| (t.loop_flow_m3h[*i], t.need_head_kpa[*i], t.loop_head_kpa[*i]))
            .collect(),
        machines: rows.iter().map(|i| [t.loop_flow_m3h[*i], t.loop_head_kpa[*i], f64::NAN, f64::NAN]).collect(),
    }
}
