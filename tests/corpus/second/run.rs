//! A building through its record, minute by minute.
//!
//! Order within a minute: who wants water, sources, valves, pipes and pumps, heat, then the controllers for the next minute.

mod flows;
mod heat;
mod keep;
mod regulate;

use super::building::*;
use super::chance::Chance;
use super::terminals::*;

/// One pump's columns, one value a minute.
#[derive(Debug, Clone, Default)]
pub struct PumpTrack {
    pub on: Vec<bool>,
    pub phi: Vec<f32>,
    pub speed: Vec<f32>,
    pub flow: Vec<f32>,
    pub head: Vec<f32>,
    pub power: Vec<f32>,
    pub starts: Vec<u32>,
}

#[derive(Debug, Clone, Default)]
pub struct CoilTrack {
    pub stem: Vec<f32>,
    pub flow: Vec<f32>,
    pub leaving: Vec<f32>,
    pub air: Vec<f32>,
    pub air_set: Vec<f32>,
    pub fan: Vec<f32>,
}

/// What happened.
#[derive(Debug, Clone, Default)]
pub struct Record {
    pub pumps: Vec<PumpTrack>,
    pub coils: Vec<CoilTrack>,
    pub outdoor: Vec<f32>,
    pub supply: Vec<f32>,
    pub back: Vec<f32>,
    pub flow: Vec<f32>,
    /// Between the pumps' headers [kPa].
    pub header: Vec<f32>,
    /// What the control holds and what it asks [kPa].
    pub held: Vec<f32>,
    pub asked: Vec<f32>,
    /// What the declared curve asks at this flow [kPa]; the head where the curve is held.
    pub curve: Vec<f32>,
    pub curve_head: Vec<f32>,
    pub bypass_flow: Vec<f32>,
    pub bypass_shown: Vec<f32>,
    pub hand: Vec<bool>,
    pub wanted: Vec<bool>,
    /// Head between the pumps' headers that would do with the neediest valve at 90 % open [kPa]; every tenth minute, else the last.
    pub need: Vec<f32>,
    /// On the floor, at the top: the base of the speed, not what hunting adds.
    pub on_floor: Vec<bool>,
    pub at_top: Vec<bool>,
    /// A coil is short of water: wide open below its design flow, and its air or room is not where it should be.
    pub starving: Vec<bool>,
    /// One pump fewer would have done and taken less power (every tenth minute, else the last).
    pub fewer: Vec<bool>,
    /// Hunting was at work.
    pub swinging: Vec<bool>,
    pub dead: Vec<bool>,
}

#[derive(Debug, Clone, Default)]
struct PumpState {
    on: bool,
    guess: f64,
    starts: u32,
}

/// Where a swing stands.
#[derive(Debug, Clone, Default)]
struct Rocking {
    phase_min: f64,
    period: f64,
    size: f64,
    used_min: f64,
    day: i64,
}

pub struct Run<'b> {
    b: &'b Building,
    c: Chance,
    coils: Vec<CoilState>,
    pumps: Vec<PumpState>,
    pipes: super::pipes::Pipes,
    shares: Vec<f64>,
    branch: Vec<f64>,
    ports: Vec<f64>,
    synoptic: f64,
    cloud: f64,
    supply: f64,
    back: f64,
    bypass: CoilState,
    base: f64,
    last_error: f64,
    phi: f64,
    set: f64,
    header: f64,
    flow: f64,
    held: f64,
    running_on: usize,
    extra_pumps: usize,
    up_for: u32,
    down_for: u32,
    up_wait: u32,
    rock: Rocking,
    asked: f64,
    need: f64,
    fewer: bool,
    outdoor: f64,
    record: Record,
}

/// The record of these minutes.
pub fn play(b: &Building, minutes: std::ops::Range<usize>) -> Record {
    let mut run = Run::new(b);
    // Weather is drawn from the first minute on, so that a part of the record is the same part.
    for m in 0..minutes.end {
        run.weather(m);
        if m >= minutes.start {
            run.minute(m);
        }
    }
    run.record
}

impl<'b> Run<'b> {
    fn new(b: &'b Building) -> Self {
        let n = b.coils.len();
        let room = |k: &Coil| CoilState {
            room: k.room.set_c,
            mass: k.room.set_c,
            head_sensor: k.room.set_c,
            air: k.room.set_c,
            leaving: 22.0,
            wander: 0.0,
            ..CoilState::default()
        };
        Self {
            b,
            c: Chance::new(b.seed, 2),
            coils: b.coils.iter().map(room).collect(),
            pumps: vec![PumpState::default(); b.pumps.len()],
            pipes: b.pipes.clone(),
            shares: vec![0.01 * b.design_flow / n as f64; n],
            branch: vec![0.0; n],
            ports: vec![0.0; n],
            synoptic: 0.0,
            cloud: 0.3,
            supply: 22.0,
            back: 22.0,
            bypass: CoilState::default(),
            base: 0.5,
            last_error: 0.0,
            phi: 0.0,
            set: b.control.reset.map_or(b.control.set_kpa, |r| 0.6 * r.0 + 0.4 * r.1),
            header: 0.0,
            flow: 0.0,
            held: 0.0,
            running_on: 0,
            extra_pumps: 0,
            up_for: 0,
            down_for: 0,
            up_wait: 0,
            rock: Rocking { day: -1, ..Rocking::default() },
            asked: 0.0,
            need: f64::NAN,
            fewer: false,
            outdoor: b.weather.mean_c,
            record: Record {
                pumps: vec![PumpTrack::default(); b.pumps.len()],
                coils: vec![CoilTrack::default(); n],
                ..Record::default()
            },
        }
    }

    fn weather(&mut self, m: usize) {
        let w = &self.b.weather;
        if m.is_multiple_of(60) {
            self.synoptic = 0.985 * self.synoptic + w.spread_c * 0.1725 * self.c.bell();
            self.cloud = (self.cloud + 0.12 * self.c.bell() - 0.02 * (self.cloud - 0.4)).clamp(0.0, 1.0);
        }
        let (_, hour) = self.b.site.local(m);
        let done = m as f64 / self.b.site.minutes() as f64 - 0.5;
        let day = w.swing_c * libm::cos((hour - 15.0) * std::f64::consts::PI / 12.0) * (1.1 - 0.6 * self.cloud);
        let shift = w.shift.filter(|s| m >= s.0).map_or(0.0, |s| s.1);
        let target = w.mean_c + w.drift_c * done + self.synoptic + day + shift;
        self.outdoor += (target - self.outdoor) / 30.0;
    }

    fn sun(&self, hour: f64) -> f64 {
        let up = libm::sin((hour - 6.0) * std::f64::consts::PI / 13.0);
        if (6.0..19.0).contains(&hour) { up * (1.0 - 0.8 * self.cloud) } else { 0.0 }
    }

    fn minute(&mut self, m: usize) {
        let (day, hour) = self.b.site.local(m);
        let weekday = Site::weekday(day);
        let occupied = self.b.scheduled_at(day, hour)
            && weekday < 5
            && (6.5..20.0).contains(&hour)
            && !self.b.site.holidays.contains(&day);
        let wanted = self.wanted(m, day, hour, weekday);
        let dead = self.dead(m, hour, wanted);
        self.sequence(m, day, hour, weekday, wanted);
        self.sources(m, wanted);
        self.valves(m, hour, occupied);
        let on = self.pumps.iter().filter(|p| p.on).count();
        let (phis, base_at) = self.speeds(m, day, hour, on, dead);
        self.hydraulics(m, &phis, dead);
        self.heat(m, occupied, hour);
        self.regulate(m, on);
        self.keep(m, wanted, on, &phis, base_at, dead);
    }

    /// Whether anybody wants water: schedule, its early start, frost, or what is wrong.
    fn wanted(&mut self, m: usize, day: i64, hour: f64, weekday: usize) -> bool {
        let b = self.b;
        let mut wanted = b.scheduled_at(day, hour);
        if !b.schedule.is_empty() {
            let cold = if b.heating { (8.0 - self.outdoor) / 12.0 } else { (self.outdoor - 18.0) / 10.0 };
            let early = b.optimum_h * cold.clamp(0.1, 1.0);
            wanted |= hour < 12.0 && b.scheduled_at(day, hour + early);
            if let Some((span, before, after)) = b.mischief.extra
                && span.holds(m)
            {
                let later = hour - after;
                wanted |= b.scheduled_at(day, hour + before) || (later >= 0.0 && b.scheduled_at(day, later));
                if later < 0.0 {
                    wanted |= b.scheduled_at(day - 1, later + 24.0);
                }
            }
        }
        if let Some(frost) = b.frost_c {
            let margin = if self.running_on > 0 && !wanted { 0.0 } else { 0.6 };
            wanted |= self.outdoor < frost - margin;
        }
        if let Some((span, starts, from, to)) = b.mischief.cycling
            && span.holds(m)
            && wanted
            && (from..to).contains(&hour)
            && weekday < 7
        {
            let cycle = 60.0 / starts;
            let wobble = 0.08 * libm::sin(m as f64 * 0.37);
            wanted = (m as f64 / cycle).fract() < 0.5 + wobble;
        }
        wanted
    }

    fn dead(&self, m: usize, hour: f64, wanted: bool) -> Option<Dead> {
        let (span, dead) = self.b.mischief.dead?;
        (span.holds(m) && wanted && (dead.hour..dead.hour + dead.hours).contains(&hour)).then_some(dead)
    }

    /// Which pumps run.
    fn sequence(&mut self, m: usize, day: i64, hour: f64, weekday: usize, wanted: bool) {
        let b = self.b;
        let cycling = b.mischief.cycling.is_some_and(|(s, _, from, to)| s.holds(m) && (from..to).contains(&hour));
        if wanted {
            self.running_on = if cycling { 0 } else { b.run_on_min };
        } else {
            self.running_on = self.running_on.saturating_sub(1);
        }
        let running = wanted || self.running_on > 0;
        let n = b.pumps.len();
        let lead = if b.rotate { (day.div_euclid(7).rem_euclid(n as i64)) as usize } else { 0 };
        let dead_beside = b
            .mischief
            .dead
            .is_some_and(|(s, d)| s.holds(m) && !d.main_shut && wanted && (d.hour..d.hour + d.hours).contains(&hour));
        let mut count = if running { 1 + self.extra_pumps } else { 0 };
        if dead_beside {
            count = count.max(2);
        }
        let minute = (hour * 60.0).round() as usize;
        for i in 0..n {
            let place = (i + n - lead) % n;
            let mut on = place < count;
            if dead_beside && b.mischief.dead.is_some_and(|(_, d)| d.pump == i) {
                on = true;
            }
            // Once a week each pump that stands is turned for a few minutes, one after the other.
            if b.exercise && weekday == 6 && (180 + 10 * i..184 + 10 * i).contains(&minute) {
                on = true;
            }
            let p = &mut self.pumps[i];
            if on && !p.on {
                p.starts += 1;
            }
            p.on = on;
        }
    }

    fn sources(&mut self, m: usize, wanted: bool) {
        let (b, s) = (self.b, &self.b.supply);
        let on = self.flow > 0.01 * b.design_flow;
        let x = ((self.outdoor - s.at.0) / (s.at.1 - s.at.0)).clamp(0.0, 1.0);
        let ripple = s.ripple_k * libm::sin(m as f64 * std::f64::consts::TAU / s.ripple_min);
        let target = s.gives.0 + x * (s.gives.1 - s.gives.0) + ripple;
        if on && wanted {
            self.supply += (target - self.supply) / 12.0;
        } else if !on {
            self.supply += (21.0 - self.supply) / 110.0;
            self.back += (21.0 - self.back) / 110.0;
        }
    }
}
