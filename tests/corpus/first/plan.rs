//! What a plant is before it runs: terminals, pipes, hours, weather, what its loads ask of head and flow, and the curve and pumps chosen for that.
//!
//! The decision to question: the curve is set by someone who knew the need. A first pass finds, for a sample of hours, the flows that the
//! loads take and the head that would do for the neediest valve; a healthy setting lies a little above both its ends.

use super::pipes::Pipes;
use super::pumps::{self, Station, Wanted};
use super::terminals::{Body, Hour, Law, Load, Port, Terminal, effectiveness, water_capacity};
use super::weather::{Hours, Weather};
use crate::invented::machine::Fluid;
use crate::simulator::calendar::{DAY_MS, Zone};
use crate::simulator::noise::{Rng, Wander};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    Constant,
    Proportional,
    Quadratic,
    Remote,
}

/// A setting of the control.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    pub mode: Mode,
    /// Head at no flow and at design flow; the setpoint stands in `design` where there is one.
    pub zero: f64,
    pub design: f64,
}

impl Curve {
    /// Head at a share of design flow (a remote sensor's: its setpoint).
    pub fn ask(&self, share: f64) -> f64 {
        match self.mode {
            Mode::Constant | Mode::Remote => self.design,
            Mode::Proportional => self.zero + (self.design - self.zero) * share,
            Mode::Quadratic => self.zero + (self.design - self.zero) * share * share,
        }
    }

    pub fn times(self, factor: f64) -> Self {
        Self { zero: self.zero * factor, design: self.design * factor, ..self }
    }
}

/// What is wanted of a plant beyond chance.
#[derive(Debug, Clone, Default)]
pub struct Needs {
    pub heating: Option<bool>,
    pub pumps: Option<usize>,
    pub parallel: Option<bool>,
    pub always: Option<bool>,
    pub modes: Option<&'static [Mode]>,
    pub bypass: Option<bool>,
    pub low_floor: bool,
    /// No bypass, no three-way valve: nothing flows when all valves are shut.
    pub tight: bool,
    pub coils_only: bool,
    /// No reset of the setpoint.
    pub plain: bool,
    /// Share of the running hours that lie at the floor.
    pub on_floor: Option<f64>,
    /// Floor above what the maker allows.
    pub floor_above: f64,
    /// Head set over what is needed at design flow with the neediest valve 90 % open; below one, over what is needed with it fully open: with
    /// less nothing starves.
    pub head_over_need: Option<f64>,
    /// Median flow over best flow.
    pub place: Option<f64>,
    /// The setting was a healthy one until an instant [ms after the start] that the plant file knows.
    pub changed_ms: Option<i64>,
    /// Head in hand of the pump over the curve's [-].
    pub in_hand: f64,
    /// Hours of high load.
    pub hot: bool,
}

/// A plant.
#[derive(Clone)]
pub struct Plan {
    pub heating: bool,
    pub radiators: bool,
    pub ip: bool,
    pub zone: Zone,
    pub start_ms: i64,
    pub days: u32,
    pub supply_c: f64,
    pub delta_k: f64,
    pub design_outdoor: f64,
    /// Supply follows the weather.
    pub compensated: bool,
    pub design_flow: f64,
    pub terminals: Vec<Terminal>,
    pub pipes: Pipes,
    pub minimum_flow: Option<f64>,
    pub hours: Hours,
    pub weather: Weather,
    pub curve: Curve,
    /// An earlier setting, and until when it stood [ms].
    pub before: Option<(i64, Curve)>,
    pub head_at_pump: bool,
    /// Branch of the remote sensor.
    pub index: usize,
    /// Lowest and highest setpoint of a reset.
    pub reset: Option<(f64, f64)>,
    pub floor: f64,
    pub allowed: Option<f64>,
    pub station: Station,
    pub duty: usize,
    pub mains_hz: f64,
    /// Header head that the loop needs at design flow.
    pub design_need: f64,
    /// Days of one load, from and to.
    pub steady_days: Option<(i64, i64)>,
    /// Valves stay where they are when their fans stop.
    pub valves_hold: bool,
    /// Row by row of the first pass: loop flow, need.
    pub samples: Vec<(f64, f64)>,
}

const ENTERING_ROOM: (f64, f64) = (24.3, 20.5);

fn loguniform(rng: &mut Rng, low: f64, high: f64) -> f64 {
    libm::exp(rng.between(libm::log(low), libm::log(high)))
}

fn whole(rng: &mut Rng, low: usize, high: usize) -> usize {
    (low + (rng.unit() * (high - low + 1) as f64) as usize).min(high)
}

/// To three figures: what stands in a plant file is what the plant goes by.
pub fn figures(x: f64) -> f64 {
    if x == 0.0 {
        return 0.0;
    }
    let digits = 2 - libm::floor(libm::log10(x.abs())) as i32;
    let scale = libm::pow(10.0, f64::from(digits));
    (x * scale).round() / scale
}

impl Plan {
    /// `None` where this seed's plant cannot be what is wanted.
    pub fn draw(rng: &mut Rng, needs: &Needs, days: u32, remote_shown: bool, pump_heads_shown: bool) -> Option<Self> {
        let heating = needs.heating.unwrap_or_else(|| rng.chance(0.42));
        let zone = if rng.chance(0.5) { Zone::Lisbon } else { Zone::Chicago };
        let ip = (zone == Zone::Chicago) == rng.chance(0.85);
        let radiators = heating && rng.chance(0.35) && !needs.coils_only;
        let of_year = match (heating, zone) {
            (true, Zone::Lisbon) => 335 + whole(rng, 0, 75),
            (true, Zone::Chicago) => 290 + whole(rng, 0, 140),
            (false, _) if needs.hot => whole(rng, 165, 215),
            (false, _) => whole(rng, 120, 240),
        };
        let start_ms = zone.utc_ms(2025, 1, of_year as i64, 0);
        let design_outdoor = match (heating, zone) {
            (true, Zone::Lisbon) => 3.0,
            (true, Zone::Chicago) => -17.0,
            (false, Zone::Lisbon) => 33.0,
            (false, Zone::Chicago) => 33.0,
        };
        let extreme = if heating { -4.0 } else { 4.0 };
        let warmer = rng.between(-1.5, 1.5) + if needs.hot { extreme } else { 0.0 };
        let weather = Weather::new(rng, zone, start_ms, days, warmer);
        let supply_c = (if heating { rng.between(55.0, 78.0) } else { rng.between(6.0, 7.5) } * 2.0).round() / 2.0;
        let delta_k = (if heating { rng.between(10.0, 18.0) } else { rng.between(5.0, 7.0) } * 2.0).round() / 2.0;
        let always = needs.always.unwrap_or_else(|| rng.chance(0.35));
        let hours = hours(rng, always, heating, days);
        let design_flow = figures(loguniform(rng, 15.0, 240.0));
        let sizing = Sizing { heating, radiators, supply_c, delta_k, design_outdoor, always };
        let tight = needs.tight;
        let mut terminals = terminals(rng, &sizing, design_flow, tight, needs.bypass);
        let minimum_flow = needs
            .bypass
            .unwrap_or_else(|| !tight && !terminals.iter().any(|t| t.port == Port::ThreeWay) && rng.chance(0.75));
        let minimum_flow = minimum_flow.then(|| figures(design_flow * rng.between(0.16, 0.34)));
        if minimum_flow.is_none() && !tight && !terminals.iter().any(|t| t.port == Port::ThreeWay) {
            // Something must keep a minimum flow: one terminal keeps its three-way valve.
            let smallest =
                (0..terminals.len()).min_by(|a, b| terminals[*a].design_flow.total_cmp(&terminals[*b].design_flow))?;
            terminals[smallest].port = Port::ThreeWay;
            terminals[smallest].law = Law::Linear;
        }
        let mut plan = Self {
            heating,
            radiators,
            ip,
            zone,
            start_ms,
            days,
            supply_c,
            delta_k,
            design_outdoor,
            compensated: radiators || (heating && rng.chance(0.25)),
            design_flow,
            terminals,
            pipes: Pipes { common: 0.0, bypass: 0.0, bypass_at: 0.0, hangs_at: 0.0, design_flow },
            minimum_flow,
            hours,
            weather,
            curve: Curve { mode: Mode::Constant, zero: 0.0, design: 0.0 },
            before: None,
            head_at_pump: pump_heads_shown && rng.chance(0.5),
            index: 0,
            reset: None,
            floor: 0.3,
            allowed: None,
            station: Station::new(Vec::new()),
            duty: 1,
            mains_hz: if ip { 60.0 } else { 50.0 },
            design_need: 0.0,
            steady_days: rng.chance(0.18).then(|| {
                let d = whole(rng, 0, 2) as i64 * 7;
                (d, d + 7)
            }),
            valves_hold: rng.chance(0.2),
            samples: Vec::new(),
        };
        plan.lay_pipes(rng);
        plan.first_pass(rng);
        plan.set_curve(rng, needs, remote_shown)?;
        plan.choose_pumps(rng, needs)?;
        plan.set_floor(rng, needs)?;
        Some(plan)
    }

    /// Pressures at design flow: common part, mains along the ladder, branches with what is left balanced away or not.
    fn lay_pipes(&mut self, rng: &mut Rng) {
        let q = self.design_flow;
        self.pipes.common = rng.between(22.0, 55.0) / (q * q);
        let spread = rng.between(18.0, 75.0);
        let n = self.terminals.len();
        let parts: Vec<f64> = (0..n).map(|_| rng.between(0.4, 1.6)).collect();
        let total: f64 = parts.iter().sum();
        let authority = rng.between(0.35, 0.60);
        let balanced = rng.chance(0.6);
        let last = rng.between(30.0, 65.0);
        let mut beyond: f64 = self.terminals.iter().map(|t| t.design_flow).sum();
        let mut available = last + spread;
        for (t, part) in self.terminals.iter_mut().zip(parts) {
            let drop = spread * part / total;
            t.main = drop / (beyond * beyond);
            beyond -= t.design_flow;
            available -= drop;
            let own = (last * rng.between(0.75, 1.0)).min(available);
            let square = t.design_flow * t.design_flow;
            t.valve = authority * rng.between(0.8, 1.2) * own / square;
            t.branch = (own / square - t.valve).max(0.25 * own / square);
            if balanced && t.port == Port::TwoWay {
                t.branch += rng.between(0.5, 0.95) * (available - own).max(0.0) / square;
            } else if t.port == Port::ThreeWay {
                // A constant flow that was balanced, whatever the rest does.
                t.branch += (available - own).max(0.0) / square;
            }
            t.least_kpa = figures(rng.between(0.5, 0.8) * own);
        }
        let design: Vec<f64> = self.terminals.iter().map(|t| t.design_flow).collect();
        self.design_need = self.pipes.need(&self.terminals, &design, 0.0);
        // The minimum flow and some more at design pressure.
        let through = self.minimum_flow.unwrap_or(0.3 * q) * rng.between(1.2, 1.6);
        self.pipes.bypass = through / (self.design_need * 0.7).sqrt();
    }

    /// The design need with every valve fully open.
    fn design_need_open(&self) -> f64 {
        let open = |t: &Terminal| match t.port {
            Port::TwoWay => (t.branch + t.valve) * t.design_flow * t.design_flow,
            _ => t.needs_kpa(t.design_flow),
        };
        let flows: Vec<f64> = self.terminals.iter().map(|t| t.design_flow).collect();
        let lost = |k: usize| self.pipes.lost_before(&self.terminals, &flows, 0.0, k);
        self.terminals.iter().enumerate().map(|(k, t)| lost(k) + open(t)).fold(0.0, f64::max)
    }

    /// The declared setting at an instant.
    pub fn curve_at(&self, t: i64) -> Curve {
        self.before.filter(|b| t < b.0).map_or(self.curve, |b| b.1)
    }

    pub fn supply_at(&self, outdoor: f64) -> f64 {
        if !self.compensated {
            return self.supply_c;
        }
        // Full supply on the design day, a low one at 18 degC.
        let mild = if self.radiators { 32.0 } else { self.supply_c - 14.0 };
        let share = ((18.0 - outdoor) / (18.0 - self.design_outdoor)).clamp(0.0, 1.0);
        mild + (self.supply_c - mild) * libm::pow(share, 0.85)
    }

    pub fn hour(&self, t: i64) -> (Hour, i64, bool) {
        let l = self.zone.local(t);
        let day = (t - self.start_ms).div_euclid(DAY_MS);
        let clock = l.clock();
        let outdoor = self.weather.outdoor(t);
        let works = self.hours.works(&l, day);
        let (from, to) = (self.hours.from, self.hours.to);
        let ramp = |x: f64| x.clamp(0.0, 1.0);
        let inside = ramp(clock - from + 0.3).min(ramp((to - clock) / 1.5 + 0.1));
        let lunch = if (12.2..13.4).contains(&clock) { 0.72 } else { 1.0 };
        let people = if works { inside * lunch } else { 0.0 };
        let early = clock - from + self.hours.lead;
        let morning = if works && !self.hours.always && early >= 0.0 && clock < from + 0.7 {
            1.0 - early / (self.hours.lead + 0.7)
        } else {
            0.0
        };
        let steady = self.steady_days.is_some_and(|(a, b)| (a..b).contains(&day));
        let open = works && clock >= from - self.hours.lead && clock < to - 0.05;
        let hour = Hour {
            outdoor,
            clock,
            people,
            sun: self.weather.sun(t, clock),
            morning: morning.clamp(0.0, 1.0),
            steady,
            design_outdoor: self.design_outdoor,
        };
        (hour, day, open)
    }

    /// Flows that the loads take and the head that would do, every twenty minutes of the running hours.
    fn first_pass(&mut self, rng: &mut Rng) {
        let mut probe = self.terminals.clone();
        let mut rng = Rng::new((rng.unit() * 1e9) as u64, 7);
        let step = 1_200_000;
        let mut samples = Vec::new();
        for k in 0..i64::from(self.days) * DAY_MS / step {
            let t = self.start_ms + k * step;
            let (hour, day, open) = self.hour(t);
            let on = self.hours.always || {
                let l = self.zone.local(t);
                self.hours.works(&l, day) && (self.hours.from..self.hours.to).contains(&hour.clock)
            };
            let supply = self.supply_at(hour.outdoor);
            let flows: Vec<f64> = probe
                .iter_mut()
                .map(|term| {
                    // Twenty steps of the minute's wander.
                    for _ in 0..5 {
                        term.load.wander.next(&mut rng);
                    }
                    term.take_load(&hour, &mut rng, open, self.heating);
                    if term.port == Port::ThreeWay {
                        return term.design_flow;
                    }
                    let gains = term.gains_kw(&hour);
                    term.steady_flow(supply, self.heating, hour.outdoor, gains)
                })
                .collect();
            if !on {
                continue;
            }
            let total: f64 = flows.iter().sum();
            let past = (self.minimum_flow.unwrap_or(0.0) - total).max(0.0);
            let need = self.pipes.need(&self.terminals, &flows, past);
            if total + past > 0.01 * self.design_flow {
                samples.push((total + past, need));
            }
        }
        self.samples = samples;
    }

    fn set_curve(&mut self, rng: &mut Rng, needs: &Needs, remote_shown: bool) -> Option<()> {
        let all: &[Mode] = needs.modes.unwrap_or(&[Mode::Constant, Mode::Proportional, Mode::Quadratic, Mode::Remote]);
        let mode = all[whole(rng, 0, all.len() - 1)];
        let mode = if mode == Mode::Remote && !remote_shown { Mode::Quadratic } else { mode };
        if self.samples.len() < 60 {
            return None;
        }
        let q = self.design_flow;
        let most = quantile(self.samples.iter().map(|s| s.1), 0.995);
        if most > 1.10 * self.design_need {
            return None;
        }
        let margin = if needs.head_over_need.is_some() { 1.0 } else { rng.between(1.01, 1.07) };
        let design = self.design_need.max(most) * margin;
        let heads = |mode, zero| Curve { mode, zero, design };
        let over = match needs.head_over_need {
            Some(low) if low < 1.0 => low * self.design_need_open() / self.design_need,
            Some(high) => high,
            None => 1.0,
        };
        let curve = match mode {
            Mode::Constant => heads(mode, design),
            Mode::Remote => {
                let n = self.terminals.len();
                let flows: Vec<f64> = self.terminals.iter().map(|t| t.design_flow).collect();
                let lost = |k: usize| self.pipes.lost_before(&self.terminals, &flows, 0.0, k);
                self.index = (0..n).filter(|k| self.terminals[*k].port == Port::TwoWay).max_by(|a, b| {
                    let of = |k: usize| lost(k) + self.terminals[k].needs_kpa(flows[k]);
                    of(*a).total_cmp(&of(*b))
                })?;
                let set = self.design_need - lost(self.index);
                Curve { mode, zero: 0.0, design: set * margin }
            }
            rising => {
                // All but one or two hours in a hundred of low flow, as far as a curve through the design point serves.
                let rise = |f: f64| (heads(rising, 0.0).ask(f / q) / design).min(1.0);
                let low = self.samples.iter().map(|(f, need)| (rise(*f), need)).filter(|(g, _)| *g <= 0.5);
                let wanted = quantile(low.map(|(g, need)| (need - design * g) / (1.0 - g)), 0.985);
                let mut zero = if wanted.is_finite() { wanted.max(0.2 * design) } else { 0.2 * design };
                let short = |zero: f64| {
                    let c = heads(rising, zero);
                    let missed = self.samples.iter().filter(|(f, need)| c.ask(f / q) < *need).count();
                    missed as f64 / self.samples.len() as f64
                };
                while zero < 0.95 * design && short(zero) > 0.02 {
                    zero += 0.01 * design;
                }
                heads(rising, (zero * rng.between(1.0, 1.06)).min(0.97 * design))
            }
        };
        if let Some(after) = needs.changed_ms {
            let c = Curve { zero: figures(curve.zero * 1.03), design: figures(curve.design * 1.03), ..curve };
            self.before = Some((self.start_ms + after, c));
        }
        let curve = match mode {
            // What the mains lose comes on top of the setpoint.
            Mode::Remote => Curve { design: (over * design - (design - curve.design)).max(0.1 * design), ..curve },
            _ => curve.times(over),
        };
        self.curve = Curve { zero: figures(curve.zero), design: figures(curve.design), ..curve };
        if matches!(mode, Mode::Constant | Mode::Remote) && !needs.plain && over == 1.0 && rng.chance(0.3) {
            self.reset = Some((figures(0.45 * self.curve.design), self.curve.design));
        }
        Some(())
    }

    /// Header head that the control holds at a flow, as far as the first pass can know.
    pub fn head_at(&self, flow: f64, need: f64) -> f64 {
        match self.curve.mode {
            // The sensor sits behind the mains: about its setpoint plus what they lose.
            Mode::Remote => {
                let set = self.curve.design;
                let lost = (self.design_need - self.index_need()).max(0.0);
                (set + lost * (flow / self.design_flow).powi(2)).max(need.min(set + lost))
            }
            _ => self.curve.ask(flow / self.design_flow),
        }
    }

    fn index_need(&self) -> f64 {
        self.terminals[self.index].needs_kpa(self.terminals[self.index].design_flow)
    }

    /// Zero-flow head over the one set that would do for a need [kPa] at a low flow, through the same design point; `None` where the curve
    /// does not rise or the flow is high.
    pub fn zero_wanted(&self, flow: f64, need: f64) -> Option<f64> {
        let share = flow / self.design_flow;
        let rise = match self.curve.mode {
            Mode::Proportional => share,
            Mode::Quadratic => share * share,
            Mode::Constant | Mode::Remote => return None,
        };
        (rise <= 0.5).then(|| (need - self.curve.design * rise) / (1.0 - rise) / self.curve.zero)
    }

    /// Header head at design flow under the curve.
    pub fn design_head(&self) -> f64 {
        match self.curve.mode {
            Mode::Remote => self.curve.design + (self.design_need - self.index_need()).max(0.0),
            _ => self.curve.design,
        }
    }

    fn choose_pumps(&mut self, rng: &mut Rng, needs: &Needs) -> Option<()> {
        let parallel = needs.parallel.unwrap_or_else(|| rng.chance(0.4));
        let count = needs.pumps.unwrap_or_else(|| if parallel { whole(rng, 2, 3) } else { whole(rng, 1, 2) });
        self.duty = if parallel { count } else { 1 };
        let density = if self.heating {
            1000.6 - 0.0128 * self.supply_c - 0.00362 * self.supply_c * self.supply_c
        } else {
            999.8
        };
        let fluid = Fluid { density, heat_capacity: 4.19, thick: None };
        let head = self.design_head() * (1.0 + rng.between(0.04, 0.10) + needs.in_hand);
        let share = self.design_flow / self.duty as f64;
        // Pumps run as many as their share asks.
        let work: Vec<(f64, f64)> = self
            .samples
            .iter()
            .step_by((self.samples.len() / 250).max(1))
            .map(|(f, need)| {
                let on = (f / (0.92 * share)).ceil().clamp(1.0, self.duty as f64);
                (f / on, self.head_at(*f, *need))
            })
            .collect();
        let place = needs.place.unwrap_or_else(|| rng.between(0.82, 1.02));
        let wanted = Wanted {
            fluid,
            flow: share,
            head: head * 1.03,
            count,
            work: &work,
            place,
            design_place: if needs.place.is_some() { 2.2 } else { 1.28 },
            mains_hz: self.mains_hz,
            slip_hidden: rng.chance(0.5),
        };
        self.station = Station::new(pumps::draw(rng, &wanted));
        // At full speed the pumps on duty make the design point, or the seed is no plant.
        let mask = (1 << self.duty) - 1;
        let speed = self.station.speed_for(mask, self.design_flow, self.design_head());
        (speed < 1.02).then_some(())
    }

    /// Speeds that the hours of the first pass ask, fewest pumps that can.
    pub fn speeds(&self) -> Vec<f64> {
        let of = |(f, need): &(f64, f64)| {
            let head = self.head_at(*f, *need);
            (1..=self.duty).map(|n| self.station.speed_for((1 << n) - 1, *f, head)).find(|s| *s < 0.97).unwrap_or(1.0)
        };
        self.samples.iter().map(of).collect()
    }

    fn set_floor(&mut self, rng: &mut Rng, needs: &Needs) -> Option<()> {
        let speeds = self.speeds();
        let whole_percent = |x: f64| (x * 100.0).round() / 100.0;
        if let Some(share) = needs.on_floor {
            self.floor = whole_percent(quantile(speeds.iter().copied(), share) + 0.01);
            self.floor = self.floor.max(0.2 + needs.floor_above);
            let on = speeds.iter().filter(|s| **s < self.floor - 0.01).count() as f64 / speeds.len() as f64;
            if self.floor > 0.93 || on < 0.8 * share {
                return None;
            }
        } else {
            let low = quantile(speeds.iter().copied(), if needs.low_floor { 0.001 } else { 0.25 });
            let drawn = rng.between(0.25, 0.42);
            self.floor = whole_percent(drawn.min(low).max(0.2));
        }
        let declared = needs.floor_above > 0.0 || rng.chance(0.85);
        self.allowed = declared.then(|| whole_percent(self.floor - needs.floor_above));
        Some(())
    }
}

pub fn quantile(values: impl Iterator<Item = f64>, q: f64) -> f64 {
    let mut v: Vec<f64> = values.filter(|x| x.is_finite()).collect();
    v.sort_by(f64::total_cmp);
    if v.is_empty() { f64::NAN } else { v[((v.len() - 1) as f64 * q).round() as usize] }
}

fn hours(rng: &mut Rng, always: bool, heating: bool, days: u32) -> Hours {
    let from = (rng.between(5.5, 7.5) * 2.0).round() / 2.0;
    let to = (rng.between(17.5, 21.5) * 2.0).round() / 2.0;
    let holidays =
        if rng.chance(0.4) { vec![whole(rng, 2, days.saturating_sub(3).max(3) as usize) as i64] } else { Vec::new() };
    Hours {
        always,
        from,
        to,
        saturday: rng.chance(0.25),
        holidays,
        lead: if always { 0.0 } else { rng.between(0.3, 1.3) },
        run_on: if always { 0.0 } else { rng.between(0.0, 0.2) },
        exercise: rng.chance(0.5).then(|| (whole(rng, 0, 6) as i64, rng.between(5.0, 12.0))),
        frost: (heating && !always).then_some(3.0),
    }
}

struct Sizing {
    heating: bool,
    radiators: bool,
    supply_c: f64,
    delta_k: f64,
    design_outdoor: f64,
    always: bool,
}

fn terminals(rng: &mut Rng, s: &Sizing, design_flow: f64, tight: bool, bypass: Option<bool>) -> Vec<Terminal> {
    let n = whole(rng, 4, 10);
    let mut weights: Vec<f64> = (0..n).map(|_| rng.between(0.5, 1.6)).collect();
    // The last one is small: where something must keep a minimum flow without a bypass, its valve has three ways.
    weights[n - 1] = rng.between(0.08, 0.14) * n as f64;
    let total: f64 = weights.iter().sum();
    let independent = rng.chance(0.12);
    let linear = rng.chance(0.2);
    let three_way = !tight && bypass != Some(true) && rng.chance(0.3);
    (0..n)
        .map(|k| {
            let port = match k {
                _ if independent => Port::Independent,
                k if three_way && k + 1 == n => Port::ThreeWay,
                _ => Port::TwoWay,
            };
            let name = if s.radiators { format!("ZONE-{}", k + 1) } else { format!("AHU-{}", k + 1) };
            terminal(rng, s, name, figures(design_flow * weights[k] / total), port, linear || independent)
        })
        .collect()
}

fn terminal(rng: &mut Rng, s: &Sizing, name: String, flow: f64, port: Port, linear: bool) -> Terminal {
    let kw = water_capacity(s.heating) * flow * s.delta_k;
    let fresh = rng.between(0.15, 0.45);
    let room = if s.heating { ENTERING_ROOM.1 } else { ENTERING_ROOM.0 };
    let entering = (room + fresh * (s.design_outdoor - room)).max(2.0);
    let setpoint = if s.heating { 27.0 - 0.15 * (s.design_outdoor - 4.0) } else { 13.0 };
    let body = if s.radiators {
        let excess = s.supply_c - 0.5 * s.delta_k - 20.8;
        let loss = kw / (20.8 - s.design_outdoor);
        Body::Radiators {
            emission: kw * rng.between(1.0, 1.15) / libm::pow(excess, 1.3),
            loss,
            holds: loss * rng.between(6.0, 14.0),
        }
    } else {
        coil(s, kw * rng.between(1.0, 1.08), kw, flow, entering, setpoint)
    };
    let radiators = s.radiators;
    Terminal {
        name,
        port,
        law: if port == Port::ThreeWay || linear { Law::Linear } else { Law::EqualPercentage(rng.between(28.0, 50.0)) },
        leak: rng.between(0.0008, 0.004),
        body,
        design_flow: flow,
        design_kw: kw,
        main: 0.0,
        branch: 0.0,
        valve: 0.0,
        least_kpa: 0.0,
        gain: if radiators {
            0.012
        } else if s.heating {
            rng.between(0.004, 0.007)
        } else {
            rng.between(0.008, 0.013)
        },
        load: Load {
            outdoor: fresh,
            least: rng.between(0.3, 0.45),
            people: rng.between(0.25, 0.5),
            sun: rng.between(0.1, 0.35),
            hour: [9.5, 13.0, 16.5][whole(rng, 0, 2)],
            weather: rng.between(0.3, 0.55),
            always: s.always && rng.chance(0.6),
            wander: Wander::new(rng, rng_sd(radiators), 180.0),
        },
        clean: 1.0,
        setpoint_off: 0.0,
        air: 0.5,
        entering,
        setpoint,
        command: 0.3,
        position: 0.3,
        flow: 0.3 * flow,
        pressure: 40.0,
        leaving: if radiators { 20.0 } else { setpoint },
        measured: if radiators { 20.0 } else { setpoint },
        water_out: s.supply_c + if s.heating { -s.delta_k } else { s.delta_k },
        kw: 0.0,
        last_error: 0.0,
    }
}

fn rng_sd(radiators: bool) -> f64 {
    if radiators { 0.0 } else { 0.05 }
}

/// A coil that gives this heat at design.
fn coil(s: &Sizing, gives: f64, kw: f64, flow: f64, entering: f64, setpoint: f64) -> Body {
    let capacity = kw / (entering - setpoint).abs();
    let water = water_capacity(s.heating) * flow;
    let (least, most) = (capacity.min(water), capacity.max(water));
    let (mut low, mut high) = (0.01 * least, 60.0 * least);
    for _ in 0..50 {
        let mid = (low * high).sqrt();
        let got = effectiveness(mid / least, least / most) * least * (entering - s.supply_c).abs();
        if got < gives { low = mid } else { high = mid }
    }
    Body::Coil { water: 0.35 / low, air: 0.65 / low, capacity }
}
