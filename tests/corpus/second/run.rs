//! A building through its record, minute by minute.
//!
//! Order within a minute: who wants water, sources, valves, pipes and pumps, heat, then the controllers for the next minute.

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
        let target = w.mean_c + w.drift_c * done + self.synoptic + day;
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

    fn valves(&mut self, m: usize, hour: f64, occupied: bool) {
        let b = self.b;
        let sun = self.sun(hour);
        let running = self.pumps.iter().any(|p| p.on);
        let steady = b.steady_week.is_some_and(|w| (w * 10_080..(w + 1) * 10_080).contains(&m));
        for (i, (k, s)) in b.coils.iter().zip(&mut self.coils).enumerate() {
            if m.is_multiple_of(30) {
                s.wander = 0.97 * s.wander + 0.018 * self.c.bell();
            }
            let own = k.own + if steady { 0.0 } else { s.wander };
            let set = if occupied || k.critical_hours { k.room.set_c } else { k.room.setback_c };
            match k.kind {
                Kind::Air => {
                    let outer = if b.heating { 16.0 - self.outdoor } else { self.outdoor - 14.0 };
                    let busy = if occupied { 0.3 } else { 0.0 };
                    let pull = if steady {
                        0.55
                    } else {
                        0.15 + 0.035 * outer + 0.2 * sun * f64::from(u8::from(!b.heating)) + busy
                    };
                    let fan_on = occupied || k.critical_hours || b.schedule.is_empty();
                    let turn = if k.variable_air { (0.35 + 0.65 * pull * own).clamp(0.35, 1.0) } else { 1.0 };
                    s.fan = if fan_on { turn } else { 0.0 };
                    let target = air_target(b, k, self.outdoor, m, i);
                    if fan_on && running {
                        let e = if b.heating { target - s.air } else { s.air - target };
                        s.control(e, k.gain, k.reset_min);
                    } else {
                        s.command = 0.0;
                        s.last_error = 0.0;
                    }
                }
                Kind::FanCoil => {
                    let e = if b.heating { set - s.room } else { s.room - set };
                    s.fan = if e > 1.0 {
                        1.0
                    } else if e > 0.2 {
                        0.8
                    } else {
                        0.6
                    };
                    s.control(e, k.gain, k.reset_min);
                }
                Kind::Radiator => {
                    s.fan = 1.0;
                    s.head_sensor += (s.room - s.head_sensor) / 25.0;
                    s.command = ((k.room.set_c + 1.0 - s.head_sensor) / 2.0).clamp(0.0, 1.0);
                }
            }
            s.drive(&k.valve);
            let (coil, port) = k.conductance(s.plug, s.through.max(0.08 * k.flow));
            self.branch[i] = coil + port;
            self.ports[i] = if coil + port > 0.0 { coil / (coil + port) } else { 0.0 };
        }
    }

    /// Frequency of each pump, and where its base lies: on the floor, at the top.
    fn speeds(
        &mut self,
        m: usize,
        day: i64,
        hour: f64,
        on: usize,
        dead: Option<Dead>,
    ) -> ([f64; 4], (bool, bool, bool)) {
        let b = self.b;
        let mut phis = [0.0; 4];
        let hand = b.mischief.hand.filter(|(s, _)| s.holds(m));
        let fixed = b.control.mode == Mode::Fixed;
        let target = if fixed { b.control.fixed } else { self.base };
        let (rocked, swinging) = self.rocked(m, day, hour, on, target);
        let wanted = hand.map_or(rocked, |(_, phi)| phi);
        if on == 0 {
            self.phi = 0.0;
            self.base = self.base.max(b.control.floor);
        } else if self.phi == 0.0 {
            // Start: the drive comes up to its floor at once.
            self.phi = b.control.floor.min(wanted);
        }
        let ramp = if fixed { 1.0 } else { b.control.ramp.max(if swinging { 0.2 } else { 0.0 }) };
        self.phi += (wanted - self.phi).clamp(-ramp, ramp);
        for (i, p) in self.pumps.iter().enumerate() {
            if p.on {
                phis[i] = self.phi;
                if dead.is_some_and(|d| !d.main_shut && d.pump == i) {
                    phis[i] = (0.78 * self.phi).max(0.2);
                }
            }
        }
        let floor = b.control.floor + 0.004;
        (phis, (self.base <= floor && hand.is_none(), self.base >= b.control.top - 0.004, swinging))
    }

    /// The base with what hunting adds.
    fn rocked(&mut self, m: usize, day: i64, hour: f64, on: usize, base: f64) -> (f64, bool) {
        let b = self.b;
        let floor_hunt =
            b.mischief.floor_hunt.filter(|(s, w)| s.holds(m) && hour >= w.hour && base <= b.control.floor + 0.02);
        let speed_hunt = b.mischief.speed_hunt.filter(|(s, w)| s.holds(m) && hour >= w.hour);
        let Some((_, swing)) = floor_hunt.or(speed_hunt) else { return (base, false) };
        if self.rock.day != day {
            self.rock = Rocking { day, ..Rocking::default() };
        }
        if on == 0 || self.rock.used_min >= 60.0 * swing.hours {
            return (base, false);
        }
        let r = &mut self.rock;
        if r.phase_min >= r.period {
            r.phase_min = (r.phase_min - r.period).min(1.0);
            r.period = swing.period_min * (1.0 + 0.05 * self.c.bell());
            r.size = swing.size * (1.0 + 0.06 * self.c.bell());
        }
        r.used_min += 1.0;
        r.phase_min += 1.0;
        let x = r.phase_min / r.period;
        if floor_hunt.is_some() {
            // It rests on the floor, rises, and is driven back faster than it rose.
            let up = if x < 0.35 {
                0.0
            } else if x < 0.75 {
                (x - 0.35) / 0.4
            } else {
                (1.0 - x) / 0.25
            };
            let bump = (up * (2.0 - up)).clamp(0.0, 1.0);
            (b.control.floor + r.size * bump, true)
        } else {
            let saw = if x < 0.55 { x / 0.55 } else { (1.0 - x) / 0.45 };
            let wave = 3.0 * saw * saw - 2.0 * saw * saw * saw - 0.5;
            let middle = base.clamp(b.control.floor + 0.5 * r.size + 0.045, b.control.top - 0.5 * r.size - 0.01);
            (middle + r.size * wave, true)
        }
    }

    fn hydraulics(&mut self, m: usize, phis: &[f64; 4], dead: Option<Dead>) {
        let b = self.b;
        let building = self.pipes.solve(&self.branch, &mut self.shares);
        let bypass = self.bypass_conductance(m);
        let shut = dead.is_some_and(|d| d.main_shut);
        let c = if shut { 0.0 } else { building + bypass };
        let k_total = b.k_plant + if c > 1e-9 { 1.0 / (c * c) } else { 1e12 };
        let n = b.pumps.len();
        let mut speeds = [0.0; 4];
        let mut heads = [1.0; 4];
        for i in 0..n {
            let p = &b.pumps[i];
            heads[i] = self.head_left(m, i);
            if phis[i] > 0.0 {
                let q = self.pumps[i].guess.max(0.0);
                let torque = p.shaft(q, phis[i]) / p.motor.rated_kw / phis[i];
                speeds[i] = p.motor.speed(phis[i], torque);
            }
        }
        // Wear takes head at like flow and speed: the pump sees a header that much higher.
        let flow_of = |i: usize, header: f64, guess: f64| b.pumps[i].flow_at(header / heads[i], speeds[i], guess);
        let top = (0..n).map(|i| b.pumps[i].head(0.0, speeds[i].max(1e-3)).0 * heads[i]).fold(0.0, f64::max);
        let (mut low, mut high) = (0.0, top);
        let mut header = self.header.clamp(0.02 * top, 0.98 * top);
        let mut last: Option<(f64, f64)> = None;
        for _ in 0..40 {
            let sum: f64 = (0..n).map(|i| flow_of(i, header, self.pumps[i].guess)).sum();
            let f = sum - (header / k_total).sqrt();
            if f > 0.0 {
                low = header;
            } else {
                high = header;
            }
            let secant = last.map(|(h, g)| header - f * (header - h) / (f - g));
            last = Some((header, f));
            let next = secant.filter(|h| *h > low && *h < high).unwrap_or(0.5 * (low + high));
            if (next - header).abs() < 1e-4 * top.max(1e-9) {
                break;
            }
            header = next;
        }
        if top <= 0.0 {
            header = 0.0;
        }
        let flow = (header / k_total).sqrt();
        for i in 0..n {
            self.pumps[i].guess = if phis[i] > 0.0 { flow_of(i, header, self.pumps[i].guess) } else { 0.0 };
        }
        self.header = header;
        self.flow = flow;
        let root = if c > 1e-9 { flow / c } else { 0.0 };
        self.bypass.flow = bypass * root * if shut { 0.0 } else { 1.0 };
        for (i, s) in self.coils.iter_mut().enumerate() {
            s.through = if shut { 0.0 } else { self.shares[i] * root };
            s.flow = s.through * self.ports[i];
        }
        if m.is_multiple_of(5) {
            let flows: Vec<f64> = self.coils.iter().map(|s| s.through.max(1e-3)).collect();
            self.pipes.follow(&flows, b.water);
        }
        self.held = self.held_head(root * root);
    }

    fn head_left(&self, m: usize, i: usize) -> f64 {
        match self.b.mischief.wear {
            Some((span, pump, lost, minutes)) if pump == i && m >= span.from => {
                1.0 - lost * ((m - span.from) as f64 / minutes.max(1.0)).min(1.0)
            }
            _ => 1.0,
        }
    }

    fn bypass_conductance(&mut self, m: usize) -> f64 {
        let Some(bypass) = &self.b.bypass else { return 0.0 };
        self.bypass.drive(&bypass.valve);
        let f = bypass.valve.share(self.bypass.plug);
        let own = f / bypass.valve.k_open.sqrt();
        match self.b.mischief.bypass {
            Some((span, least, _)) if span.holds(m) => own.max(least),
            _ => own,
        }
    }

    /// What the control's sensor reads [kPa]; `building` is the head between the building's headers.
    fn held_head(&self, building: f64) -> f64 {
        let c = &self.b.control;
        if c.mode == Mode::Remote {
            let s = &self.coils[c.sensor];
            let branch = self.branch[c.sensor];
            let plug_shut = branch <= 0.0 || s.through <= 0.0;
            // With its valve shut the sensor sees what reaches the branch: nothing is lost beyond the last flow.
            return if plug_shut { building } else { (s.through / branch) * (s.through / branch) };
        }
        if c.at_pump {
            let i =
                self.pumps.iter().position(|p| p.on && p.guess > 0.0).or_else(|| self.pumps.iter().position(|p| p.on));
            return i
                .map_or(0.0, |i| self.header + self.b.pumps[i].k_local * self.pumps[i].guess * self.pumps[i].guess);
        }
        self.header
    }

    fn heat(&mut self, m: usize, occupied: bool, hour: f64) {
        let b = self.b;
        let sun = self.sun(hour);
        let (mut mixed, mut total) = (0.0, 0.0);
        let sign = if b.heating { 1.0 } else { -1.0 };
        for (i, (k, s)) in b.coils.iter().zip(&mut self.coils).enumerate() {
            let fouled = b.mischief.foul.as_ref().is_some_and(|(span, which)| span.holds(m) && which.contains(&i));
            let w = s.flow / k.flow;
            let (supply, mut kw) = (self.supply, 0.0);
            if let Some(panel) = &k.panel {
                let excess = (supply - s.room).max(0.5);
                if w > 0.005 {
                    let leaving = s.room + excess * panel.leaving(w, excess);
                    kw = WATER_KWH * s.flow * (supply - leaving);
                }
            } else if s.fan > 0.0 {
                let table = if fouled { &k.fouled } else { &k.clean };
                let entering = if k.kind == Kind::Air {
                    k.outdoor_share * self.outdoor + (1.0 - k.outdoor_share) * if b.heating { 20.5 } else { 24.0 }
                } else {
                    s.room
                };
                let heat = table.at(w, s.fan) * k.bundle.air * s.fan * (supply - entering);
                kw = sign * heat;
                let air = entering + heat / (k.bundle.air * s.fan);
                s.air += (air - s.air) / 2.5;
            } else {
                s.air += (s.room - s.air) / 30.0;
            }
            let out = if s.flow > 0.004 * k.flow {
                supply - sign * kw / (WATER_KWH * s.flow)
            } else {
                s.leaving + (22.0 - s.leaving) / 60.0
            };
            s.leaving += (out - s.leaving) / (1.0 + 1.2 / (w + 0.15));
            mixed += s.flow * s.leaving + (s.through - s.flow) * supply;
            total += s.through;
            if k.kind != Kind::Air {
                let r = &k.room;
                let people = if occupied { r.people_kw } else { 0.08 * r.people_kw };
                let gains = (people + r.sun_kw * sun) * (k.own + s.wander) + r.outside_kw_k * (self.outdoor - s.room);
                let walls = r.between_kw_k * (s.mass - s.room);
                s.room += (gains + walls + sign * kw) / r.air_kwh_k / 60.0;
                s.mass -= walls / r.mass_kwh_k / 60.0;
                if k.panel.is_some() || s.fan <= 0.0 {
                    s.air = s.room;
                }
            }
        }
        mixed += self.bypass.flow * self.supply;
        total += self.bypass.flow;
        if total > 0.005 * b.design_flow {
            let lag = 1.0 + 3.0 * b.design_flow / total.max(0.05 * b.design_flow) / 4.0;
            self.back += (mixed / total - self.back) / lag;
        }
    }

    /// What the control asks [kPa] now.
    fn asks(&self, m: usize) -> f64 {
        let b = self.b;
        let plain = if b.control.reset.is_some() { self.set } else { b.curve(self.flow) };
        let earlier = b.control.earlier.filter(|(until, _)| m < *until).map_or(1.0, |(_, f)| f);
        let off = b.mischief.off_curve.filter(|(s, _)| s.holds(m)).map_or(0.0, |(_, kpa)| kpa);
        (plain * earlier + off).max(5.0)
    }

    fn regulate(&mut self, m: usize, on: usize) {
        let b = self.b;
        self.bypass_control(on);
        if on == 0 {
            self.extra_pumps = 0;
            self.last_error = 0.0;
            self.base = b.control.floor;
            return;
        }
        self.staging(m, on);
        if b.control.mode == Mode::Fixed {
            self.asked = f64::NAN;
            return;
        }
        self.reset(m);
        self.asked = self.asks(m);
        let read = self.held * (1.0 + 0.004 * self.c.bell());
        let e = (self.asked - read) / b.control.design_kpa;
        let slow = if self.b.mischief.hand.is_some_and(|(s, _)| s.holds(m)) {
            0.0
        } else if b.mischief.speed_hunt.is_some_and(|(s, _)| s.holds(m)) && self.rock.used_min > 0.0 {
            0.15
        } else {
            1.0
        };
        let change = match b.control.regulator {
            Regulator::Pi => 0.28 * e + 0.15 * (e - self.last_error),
            Regulator::Steps if e.abs() > 0.012 => (0.3 * e).clamp(-0.03, 0.03),
            Regulator::Steps => 0.0,
        };
        self.last_error = e;
        if self.b.mischief.floor_hunt.is_some_and(|(s, _)| s.holds(m))
            && self.rock.phase_min > 0.0
            && self.phi > self.base + 0.01
        {
            // The swing's own crests do not drive the base up.
            self.base += change.clamp(-0.01, 0.0);
        } else {
            self.base += slow * change.clamp(-b.control.ramp, b.control.ramp);
        }
        self.base = self.base.clamp(b.control.floor, b.control.top);
    }

    fn bypass_control(&mut self, on: usize) {
        let Some(bypass) = &self.b.bypass else { return };
        if on == 0 {
            self.bypass.command = 0.0;
            return;
        }
        let short = (1.05 * bypass.least_flow - self.flow) / bypass.least_flow;
        self.bypass.command = (self.bypass.command + (0.35 * short).clamp(-0.06, 0.12)).clamp(0.0, 1.0);
    }

    fn reset(&mut self, m: usize) {
        let Some((low, high)) = self.b.control.reset else { return };
        if !m.is_multiple_of(6) {
            return;
        }
        let widest = self
            .coils
            .iter()
            .zip(&self.b.coils)
            .filter(|(_, k)| !k.valve.three_way)
            .map(|(s, _)| s.stem)
            .fold(0.0, f64::max);
        let span = high - low;
        if widest > 0.93 {
            self.set += 0.04 * span;
        } else if widest < 0.85 {
            self.set -= 0.015 * span;
        }
        self.set = self.set.clamp(low, high);
    }

    fn staging(&mut self, m: usize, on: usize) {
        let b = self.b;
        if b.duty < 2 {
            return;
        }
        let s = &b.staging;
        let low_threshold = b.mischief.staging.filter(|(span, _)| span.holds(m));
        let (up, down) = if let Some((_, per_pump)) = low_threshold {
            (self.flow > per_pump * on as f64, self.flow < 0.9 * per_pump * (on as f64 - 1.0))
        } else if s.by_speed {
            (self.phi > s.up, self.phi < s.down)
        } else {
            (self.flow > s.up * on as f64, self.flow < s.down * (on as f64 - 1.0))
        };
        self.up_for = if up { self.up_for + 1 } else { 0 };
        self.down_for = if down { self.down_for + 1 } else { 0 };
        self.up_wait = self.up_wait.saturating_sub(1);
        if self.up_for >= s.up_min && self.extra_pumps + 1 < b.duty && self.up_wait == 0 {
            self.extra_pumps += 1;
            self.up_for = 0;
            self.up_wait = 15;
        }
        if self.down_for >= s.down_min && self.extra_pumps > 0 && self.up_wait == 0 {
            self.extra_pumps -= 1;
            self.down_for = 0;
            self.up_wait = 15;
        }
    }

    fn keep(&mut self, m: usize, wanted: bool, on: usize, phis: &[f64; 4], at: (bool, bool, bool), dead: Option<Dead>) {
        let b = self.b;
        if m.is_multiple_of(10) && on > 0 {
            self.need = self.need_now();
            self.fewer = self.fewer_would_do(on, phis);
        }
        for i in 0..b.pumps.len() {
            let (p, phi) = (&b.pumps[i], phis[i]);
            let q = self.pumps[i].guess;
            let (mut s, mut head, mut kw) = (0.0, 0.0, 0.0);
            if phi > 0.0 {
                let torque = p.shaft(q, phi) / p.motor.rated_kw / phi;
                s = p.motor.speed(phi, torque);
                head = self.head_left(m, i) * p.head(q, s).0;
                kw = p.motor.input(p.shaft(q, s), phi, s);
            }
            let t = &mut self.record.pumps[i];
            t.on.push(self.pumps[i].on);
            t.phi.push(phi as f32);
            t.speed.push(s as f32);
            t.flow.push(q as f32);
            t.head.push(head as f32);
            t.power.push(kw as f32);
            t.starts.push(self.pumps[i].starts);
        }
        for (i, (s, k)) in self.coils.iter().zip(&b.coils).enumerate() {
            let t = &mut self.record.coils[i];
            t.stem.push(s.stem as f32);
            t.flow.push(s.flow as f32);
            t.leaving.push(s.leaving as f32);
            t.air.push(s.air as f32);
            t.air_set.push(air_target(b, k, self.outdoor, m, i) as f32);
            t.fan.push(s.fan as f32);
        }
        let shown = match b.mischief.bypass {
            Some((span, least, true)) if span.holds(m) => self.bypass.stem.max(shown_for(b, least)),
            _ => self.bypass.stem,
        };
        let running = on > 0;
        let short = |(s, k): (&CoilState, &Coil)| {
            let wide = if k.panel.is_some() { s.command > 0.9 } else { s.stem > 0.97 && s.last_error > 0.7 };
            wide && s.flow < 0.93 * k.flow && !k.valve.three_way
        };
        let starving = running && self.coils.iter().zip(&b.coils).any(short);
        let curve = b.curve(self.flow) * b.control.earlier.filter(|(until, _)| m < *until).map_or(1.0, |(_, f)| f);
        let r = &mut self.record;
        r.outdoor.push(self.outdoor as f32);
        r.supply.push(self.supply as f32);
        r.back.push(self.back as f32);
        r.flow.push(self.flow as f32);
        r.header.push(if running { self.header as f32 } else { 0.0 });
        r.held.push(if running { self.held as f32 } else { 0.0 });
        r.asked.push(self.asked as f32);
        r.curve.push(curve as f32);
        r.curve_head.push(self.held as f32);
        r.bypass_flow.push(self.bypass.flow as f32);
        r.bypass_shown.push(shown as f32);
        r.hand.push(b.mischief.hand.is_some_and(|(s, _)| s.holds(m)));
        r.wanted.push(wanted);
        r.need.push(self.need as f32);
        r.on_floor.push(running && at.0);
        r.at_top.push(running && at.1);
        r.starving.push(starving);
        r.fewer.push(running && self.fewer);
        r.swinging.push(running && at.2);
        r.dead.push(dead.is_some());
    }

    /// Head between the pumps' headers that would do [kPa].
    fn need_now(&self) -> f64 {
        let b = self.b;
        let main = b.k_plant * self.flow * self.flow;
        let building = (self.header - main).max(0.0);
        let mut need: f64 = 0.0;
        for (i, (k, s)) in b.coils.iter().zip(&self.coils).enumerate() {
            if s.flow < 0.02 * k.flow || self.branch[i] <= 0.0 {
                continue;
            }
            let here = (s.through / self.branch[i]) * (s.through / self.branch[i]);
            need = need.max(building - here + k.branch_need(s.flow, 0.9));
        }
        main + need
    }

    /// Whether one pump fewer would give this flow at this header head with less power.
    fn fewer_would_do(&self, on: usize, phis: &[f64; 4]) -> bool {
        if on < 2 || self.flow <= 0.0 {
            return false;
        }
        let p = &self.b.pumps[0];
        let each = self.flow / (on as f64 - 1.0);
        let s = p.speed_for(each, self.header);
        if s > 0.97 * self.b.control.top || s < self.b.control.floor {
            return false;
        }
        let fewer = (on as f64 - 1.0) * p.motor.input(p.shaft(each, s), s, s);
        let now: f64 = (0..self.b.pumps.len())
            .filter(|i| phis[*i] > 0.0)
            .map(|i| {
                let q = &self.b.pumps[i];
                q.motor.input(q.shaft(self.pumps[i].guess, phis[i]), phis[i], phis[i])
            })
            .sum();
        fewer < 0.97 * now
    }
}

/// Position at which the bypass valve has a conductance.
pub fn shown_for(b: &Building, conductance: f64) -> f64 {
    let Some(bypass) = &b.bypass else { return 0.0 };
    let wanted = (conductance * bypass.valve.k_open.sqrt()).min(1.0);
    (0..=100).map(|j| 0.01 * f64::from(j)).find(|x| bypass.valve.share(*x) >= wanted).unwrap_or(1.0)
}

/// Leaving air that the controller is set to [degC].
fn air_target(b: &Building, k: &Coil, outdoor: f64, m: usize, i: usize) -> f64 {
    let plain = if b.heating { k.air_set - 0.25 * (outdoor + 10.0).clamp(0.0, 24.0) } else { k.air_set };
    match &b.mischief.air {
        Some((span, which, off)) if span.holds(m) && which.contains(&i) => {
            if b.heating {
                plain + off
            } else {
                plain - off
            }
        }
        _ => plain,
    }
}
