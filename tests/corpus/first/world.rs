//! The plant running, minute by minute: control, pumps, pipes, terminals, and what faults do to them.
//!
//! Comes in: a [`Plan`] and [`Effects`]. Goes out: a [`Record`]: signals by interval and a [`Tally`] of what held in truth. Start at [`run`].

use super::effects::{Effects, Hunts};
use super::pipes::{Pipes, Shares};
use super::plan::{Curve, Mode, Plan};
use super::pumps::{Met, Station};
use super::tally::{Moment, Tally};
use super::terminals::{Body, Hour, Port, Terminal};
use super::weather::Why;
use crate::invented::machine::SLIP;
use crate::simulator::calendar::DAY_MS;
use crate::simulator::noise::{Rng, Wander};

pub const MINUTE_MS: i64 = 60_000;
/// Signals of the loop, of a pump, of a terminal, in [`Record::columns`].
pub const FLOW: usize = 0;
pub const HEADER: usize = 1;
pub const SUPPLY: usize = 2;
pub const RETURN: usize = 3;
pub const OUTDOOR: usize = 4;
pub const BYPASS: usize = 5;
pub const SETPOINT: usize = 6;
pub const CONTROL: usize = 7;
pub const LOOP: usize = 8;
pub const SPEED: usize = 0;
pub const STATUS: usize = 1;
pub const POWER: usize = 2;
pub const HEAD: usize = 3;
pub const HAND: usize = 4;
pub const STARTS: usize = 5;
pub const PUMP: usize = 6;
pub const VALVE: usize = 0;
pub const AIR: usize = 1;
pub const AIR_SET: usize = 2;
pub const COIL_RETURN: usize = 3;
pub const COIL: usize = 4;

pub struct Record {
    pub rows: usize,
    pub columns: Vec<Vec<f64>>,
    pub tally: Tally,
}

impl Record {
    pub fn pump(&self, p: usize, signal: usize) -> &[f64] {
        &self.columns[LOOP + PUMP * p + signal]
    }

    pub fn coil(&self, pumps: usize, k: usize, signal: usize) -> &[f64] {
        &self.columns[LOOP + PUMP * pumps + COIL * k + signal]
    }
}

/// One minute's control state.
struct World<'a> {
    plan: &'a Plan,
    effects: &'a Effects,
    rng: Rng,
    station: Station,
    terminals: Vec<Terminal>,
    pipes: Pipes,
    reference: f64,
    torque: f64,
    /// How many pumps are asked, and since how many minutes more or fewer would do.
    count: usize,
    more: f64,
    fewer: f64,
    running: usize,
    minutes_on: f64,
    reset: f64,
    machine_c: f64,
    supply_c: f64,
    return_c: [f64; 2],
    supply_shown: f64,
    return_shown: f64,
    wander: Wander,
    phase: f64,
    period: f64,
    starts: [f64; 3],
    quick: f64,
    belief: f64,
    worn: f64,
    bypass_flow: f64,
    flow: f64,
    header: f64,
    met: Met,
    power: [f64; 3],
    speed: f64,
}

/// Runs the record; a day before it settles temperatures and valves.
pub fn run(plan: &Plan, effects: &Effects, seed: u64, minutes: u32, sampled: bool) -> Record {
    let mut rng = Rng::new(seed, 31);
    let mut w = World {
        plan,
        effects,
        station: plan.station.clone(),
        terminals: plan.terminals.clone(),
        pipes: plan.pipes.clone(),
        reference: plan.floor,
        torque: 0.2,
        count: 1,
        more: 0.0,
        fewer: 0.0,
        running: 0,
        minutes_on: 0.0,
        reset: plan.curve.design,
        machine_c: plan.supply_c,
        supply_c: plan.supply_c,
        return_c: [plan.supply_c; 2],
        supply_shown: plan.supply_c,
        return_shown: plan.supply_c,
        wander: Wander::new(&mut rng, 0.15, 60.0),
        phase: 0.0,
        period: 30.0,
        starts: [0.0; 3],
        quick: rng.between(0.35, 0.8),
        belief: rng.between(0.985, 1.015),
        worn: 1.0,
        bypass_flow: 0.0,
        flow: 0.0,
        header: 0.0,
        met: Met::default(),
        power: [0.0; 3],
        speed: 0.0,
        rng,
    };
    let pumps = plan.station.units.len();
    let n = LOOP + PUMP * pumps + COIL * plan.terminals.len();
    let rows = (i64::from(plan.days) * DAY_MS / MINUTE_MS / i64::from(minutes)) as usize;
    let mut columns = vec![Vec::with_capacity(rows); n];
    let (mut sums, mut now) = (vec![0.0; n], vec![0.0; n]);
    let mut tally = Tally::new(plan);
    for m in -1440..i64::from(plan.days) * 1440 {
        let t = plan.start_ms + m * MINUTE_MS;
        let moment = w.minute(t);
        if m < 0 {
            continue;
        }
        tally.add(plan, &w.station, &moment);
        w.signals(&mut now);
        let within = m % i64::from(minutes);
        if sampled && within == 0 {
            sums.copy_from_slice(&now);
        } else if !sampled {
            sums.iter_mut().zip(&now).for_each(|(s, v)| *s += v);
        }
        if within == i64::from(minutes) - 1 {
            let over = if sampled { 1.0 } else { f64::from(minutes) };
            for (column, s) in columns.iter_mut().zip(&mut sums) {
                column.push(*s / over);
                *s = 0.0;
            }
        }
    }
    Record { rows, columns, tally }
}

impl World<'_> {
    fn minute(&mut self, t: i64) -> Moment {
        let (hour, day, open) = self.plan.hour(t);
        let (why, open) = self.wanted(t, &hour, day, open);
        self.age(t);
        let on = why != Why::Off;
        self.loads(t, &hour, open && on, on);
        let shares = self.pipes.share(&self.terminals);
        let k = 1.0 / shares.total.sqrt();
        let order = self.order(day);
        let live = self.stage(t, &order, on, k, why);
        let dead = self.dead_pump(t, live);
        let hydraulic = live & !dead;
        let before = self.running;
        self.running = live;
        for p in 0..self.station.units.len() {
            if live >> p & 1 == 1 && before >> p & 1 == 0 {
                self.starts[p] += 1.0;
            }
        }
        self.met = self.station.meet(hydraulic, k);
        self.minutes_on = if live == 0 { 0.0 } else { self.minutes_on + 1.0 };
        let wanted = self.wanted_speed(t, &shares, why);
        self.turn(t, wanted, live);
        self.flow = self.speed * self.met.x;
        self.header = self.speed * self.speed * self.met.y;
        self.draw_power(live, dead);
        self.distribute(&shares);
        self.keep_minimum(live != 0);
        self.heat(&hour, live != 0);
        self.moment(t, day, why, wanted, live, dead)
    }

    /// Whether and why the loop runs, and whether its fans may.
    fn wanted(&self, t: i64, hour: &Hour, day: i64, open: bool) -> (Why, bool) {
        let l = self.plan.zone.local(t);
        let need = if self.plan.heating { (17.0 - hour.outdoor) / 18.0 } else { (hour.outdoor - 12.0) / 16.0 };
        let why = self.plan.hours.why(&l, day, hour.outdoor, need.clamp(0.15, 1.0));
        if why == Why::Off && self.effects.extra_at(t, &l, day, self.plan) {
            return (Why::Extra, open || self.effects.extra_open);
        }
        (why, open)
    }

    /// What wears with time.
    fn age(&mut self, t: i64) {
        if let Some((p, left)) = self.effects.worn_at(t)
            && (self.worn - left).abs() > 0.003
        {
            self.worn = left;
            self.station.units[p].left = left;
            self.station.renew();
        }
        self.pipes.hangs_at = self.effects.bypass_at(t);
    }

    fn loads(&mut self, t: i64, hour: &Hour, open: bool, on: bool) {
        let shut = self.effects.shut_at(t);
        let heating = self.plan.heating;
        for (k, term) in self.terminals.iter_mut().enumerate() {
            (term.clean, term.setpoint_off) = self.effects.terminal_at(t, k);
            term.take_load(hour, &mut self.rng, open && !shut, heating);
            let radiators = matches!(term.body, Body::Radiators { .. });
            // Radiators' valves stand on their own; coils' shut with their fans.
            let runs = if shut { false } else { on && (radiators || term.air > 0.02) };
            term.control(runs, heating, self.plan.valves_hold && !shut);
        }
    }

    /// Lead and lag change places every week.
    fn order(&self, day: i64) -> [usize; 3] {
        let n = self.station.units.len();
        let lead = (day.div_euclid(7).rem_euclid(n as i64)) as usize;
        [0, 1, 2].map(|k| if k < n { (lead + k) % n } else { k })
    }

    fn stage(&mut self, t: i64, order: &[usize; 3], on: bool, k: f64, why: Why) -> usize {
        if !on {
            (self.count, self.more, self.fewer) = (1, 0.0, 0.0);
            return 0;
        }
        let n = self.station.units.len();
        if why == Why::Exercise {
            return (1 << n) - 1;
        }
        if self.effects.cycles_off(t) {
            // The only pump, or the whole station, stops and starts.
            return 0;
        }
        let duty = self.plan.duty;
        if duty > 1 && self.running != 0 {
            let (now, head) = (self.flow, self.header);
            let alone = self.station.meet(Station::mask(order, self.count), k);
            let place = self.place(&alone, order[0]);
            let strained = self.reference > 0.96 || place > 1.18;
            self.more = if strained && self.count < duty { self.more + 1.0 } else { 0.0 };
            let fewer = if self.count > 1 {
                let (speed, _) = self.station.kw_for(Station::mask(order, self.count - 1), now, head);
                let met = self.station.meet(Station::mask(order, self.count - 1), k);
                speed < 0.88 && self.place(&met, order[0]) < 1.08
            } else {
                false
            };
            self.fewer = if fewer { self.fewer + 1.0 } else { 0.0 };
            if self.more >= 6.0 {
                (self.count, self.more) = (self.count + 1, 0.0);
            } else if self.fewer >= 15.0 {
                (self.count, self.fewer) = (self.count - 1, 0.0);
            }
        }
        let count = self.effects.count_at(t, self.count, duty);
        match self.effects.dead_at(t) {
            // It runs for nothing, beside those that the load asks.
            Some(p) => {
                let others: Vec<usize> = order[..n].iter().copied().filter(|q| *q != p).collect();
                Station::mask(&others, count.min(others.len())) | 1 << p
            }
            None => Station::mask(order, count),
        }
    }

    /// Flow over best flow at the speed of the hour.
    fn place(&self, met: &Met, p: usize) -> f64 {
        met.each[p] / self.station.units[p].best_flow
    }

    /// The running pump whose discharge valve is shut.
    fn dead_pump(&self, t: i64, live: usize) -> usize {
        match self.effects.dead_at(t) {
            Some(p) if live >> p & 1 == 1 && live.count_ones() > 1 => 1 << p,
            _ => 0,
        }
    }

    /// The curve in force.
    fn curve(&self, t: i64) -> Curve {
        let c = self.effects.curve_at(t).unwrap_or(self.plan.curve_at(t));
        if self.plan.reset.is_some() && self.effects.curve_at(t).is_none() {
            Curve { design: self.reset, ..c }
        } else {
            c
        }
    }

    /// Shaft speed that the control asks.
    fn wanted_speed(&mut self, t: i64, shares: &Shares, why: Why) -> f64 {
        if matches!(why, Why::Frost | Why::Exercise) {
            return self.plan.floor;
        }
        if (t / MINUTE_MS) % 5 == 0 && self.plan.reset.is_some() {
            self.trim();
        }
        let curve = self.curve(t);
        let met = &self.met;
        let held = self.belief * if self.plan.head_at_pump { met.flanges } else { met.y };
        let (zero, rise, x) = (curve.zero, curve.design - curve.zero, met.x / self.plan.design_flow);
        let squared = match curve.mode {
            Mode::Constant => curve.design / held,
            Mode::Remote => {
                let node = shares.node[self.plan.index] * met.x * met.x;
                curve.design / (self.belief * node)
            }
            Mode::Quadratic => zero / (held - rise * x * x),
            Mode::Proportional => {
                let root = (rise * x + (rise * rise * x * x + 4.0 * held * zero).sqrt()) / (2.0 * held);
                root * root
            }
        };
        if squared > 0.0 && squared.is_finite() { squared.sqrt().min(1.5) } else { 1.5 }
    }

    /// Trim and respond on the widest valve.
    fn trim(&mut self) {
        let Some((low, high)) = self.plan.reset else { return };
        let modulating = self.terminals.iter().filter(|c| c.port != Port::ThreeWay && c.air > 0.02);
        let asks = modulating.filter(|c| c.position > 0.93).count();
        let moved = if self.running == 0 {
            0.0
        } else if asks > 0 {
            0.03 * asks.min(2) as f64
        } else {
            -0.015
        };
        self.reset = (self.reset + moved * high).clamp(low, high);
    }

    /// Moves the reference, and hunts.
    fn turn(&mut self, t: i64, wanted: f64, live: usize) {
        if live == 0 {
            (self.reference, self.speed) = (self.plan.floor, 0.0);
            return;
        }
        let first = &self.station.units[live.trailing_zeros() as usize].machine;
        let (gain, slip) = if first.slip_hidden {
            let over = first.synchronous_rpm / first.plate_rpm;
            (over, first.truth[SLIP] * (over - 1.0))
        } else {
            (1.0, 0.0)
        };
        let floor = self.plan.floor;
        let asked = ((wanted + slip * self.torque) / gain).clamp(floor, 1.0);
        if let Some(hand) = self.effects.hand_at(t) {
            self.reference = hand;
        } else if let Some(h) = self.effects.hunts_at(t) {
            self.reference = self.swing(&h, asked);
        } else {
            let step = ((asked - self.reference) * self.quick).clamp(-0.12, 0.12);
            self.reference = (self.reference + step).clamp(floor, 1.0);
        }
        self.speed = gain * self.reference - slip * self.torque;
    }

    /// One minute of a limit cycle.
    fn swing(&mut self, h: &Hunts, asked: f64) -> f64 {
        self.phase += 1.0 / self.period;
        if self.phase >= 1.0 || self.period < 1.0 {
            self.phase = self.phase.fract();
            self.period = h.period * self.rng.between(0.92, 1.08);
        }
        let floor = self.plan.floor;
        let turn = core::f64::consts::TAU;
        if h.off_floor {
            let rest = asked.max(floor);
            let up = if self.phase < 0.6 { 0.5 - 0.5 * libm::cos(turn * self.phase / 0.6) } else { 0.0 };
            // A little above one, so that the crest of the averages still reaches the swing.
            return (if rest < floor + 0.02 { floor } else { rest } + h.swing * up * 1.04).min(1.0);
        }
        let half = 0.5 * h.swing;
        let middle = asked.max(floor + half + 0.02).min(0.985 - half);
        middle + half * 1.04 * libm::sin(turn * self.phase)
    }

    fn draw_power(&mut self, live: usize, dead: usize) {
        self.power = [0.0; 3];
        let mut torque = 0.0;
        for p in (0..self.station.units.len()).filter(|p| live >> p & 1 == 1) {
            let unit = &self.station.units[p];
            let flow = if dead >> p & 1 == 1 { 0.0 } else { self.met.each[p] * self.speed };
            let shaft = unit.shaft_kw(flow, self.speed);
            self.power[p] = unit.input_kw(shaft, self.speed);
            torque += unit.torque(shaft, self.speed) / f64::from(live.count_ones());
        }
        self.torque = if live == 0 { 0.2 } else { torque };
    }

    fn distribute(&mut self, shares: &Shares) {
        self.bypass_flow = shares.bypass * self.flow;
        for (k, t) in self.terminals.iter_mut().enumerate() {
            t.flow = shares.branch[k] * self.flow;
            t.pressure = (shares.node[k] * self.flow * self.flow).max(1.0);
        }
    }

    /// The bypass valve keeps the machines' least flow.
    fn keep_minimum(&mut self, on: bool) {
        let Some(least) = self.plan.minimum_flow else { return };
        let short = (1.04 * least - self.flow) / self.plan.design_flow;
        let moved = (if short > 0.0 { 0.8 } else { 0.5 } * short).clamp(-0.15, 0.25);
        self.pipes.bypass_at = if on { (self.pipes.bypass_at + moved).clamp(0.0, 1.0) } else { 0.0 };
    }

    fn heat(&mut self, hour: &Hour, on: bool) {
        let plan = self.plan;
        let set = plan.supply_at(hour.outdoor) + self.wander.next(&mut self.rng);
        let room = 22.0;
        if on {
            // The machine pulls down or heats up in some twenty minutes.
            self.machine_c += (set - self.machine_c) * 0.08;
        } else {
            self.machine_c += (room - self.machine_c) * (1.0 / 600.0);
        }
        let volume = 0.06 * plan.design_flow;
        let mixed = |flow: f64, v: f64| (flow / 60.0 / v) / (1.0 + flow / 60.0 / v);
        self.supply_c += (self.machine_c - self.supply_c) * mixed(self.flow, volume);
        let mut carried = self.bypass_flow * self.supply_c;
        for t in &mut self.terminals {
            let gains = t.gains_kw(hour);
            t.exchange(self.supply_c, hour.outdoor, gains, plan.heating);
            carried += t.flow * t.water_out;
        }
        if on && self.flow > 0.003 * plan.design_flow {
            let share = mixed(self.flow, 0.5 * volume);
            self.return_c[0] += (carried / self.flow - self.return_c[0]) * share;
            self.return_c[1] += (self.return_c[0] - self.return_c[1]) * share;
        } else {
            // Standing water takes the room's temperature over hours; both pipes lie side by side.
            for tank in &mut self.return_c {
                *tank += (room - *tank) * (1.0 / 200.0);
            }
            self.supply_c += (room - self.supply_c) * (1.0 / 200.0);
            self.machine_c += (self.supply_c - self.machine_c) * 0.01;
        }
        let at_machine = if on { self.machine_c } else { self.supply_c };
        self.supply_shown += (at_machine - self.supply_shown) * 0.6;
        self.return_shown += (self.return_c[1] - self.return_shown) * 0.6;
    }

    fn signals(&self, now: &mut [f64]) {
        let on = self.running != 0;
        let curve = self.effects.curve_now.get().unwrap_or(self.plan.curve);
        let held = self.held();
        let share = self.flow / self.plan.design_flow;
        let ask = if self.plan.reset.is_some() { self.reset } else { curve.ask(share) };
        now[FLOW] = self.flow;
        now[HEADER] = self.header;
        now[SUPPLY] = self.supply_shown;
        now[RETURN] = self.return_shown;
        now[OUTDOOR] = self.effects.outdoor_now.get();
        now[BYPASS] = self.pipes.bypass_at.max(if self.effects.bypass_shown { self.pipes.hangs_at } else { 0.0 });
        now[SETPOINT] = ask;
        now[CONTROL] = held;
        for p in 0..self.station.units.len() {
            let of = &mut now[LOOP + PUMP * p..LOOP + PUMP * (p + 1)];
            let live = self.running >> p & 1 == 1;
            of[SPEED] = if live { self.reference } else { 0.0 };
            of[STATUS] = f64::from(u8::from(live));
            of[POWER] = self.power[p];
            let own = self.header + self.station.units[p].loss() * (self.met.each[p] * self.speed).powi(2);
            let shut = self.effects.dead_now.get() >> p & 1 == 1;
            let shut_off = self.speed * self.speed * self.station.meet(1 << p, 0.0).flanges;
            of[HEAD] = if !live {
                0.0
            } else if shut {
                shut_off
            } else {
                own
            };
            of[HAND] = f64::from(u8::from(on && self.effects.hand_now.get()));
            of[STARTS] = self.starts[p];
        }
        let base = LOOP + PUMP * self.station.units.len();
        for (k, t) in self.terminals.iter().enumerate() {
            let of = &mut now[base + COIL * k..base + COIL * (k + 1)];
            of[VALVE] = t.position;
            of[AIR] = t.measured;
            of[AIR_SET] = t.setpoint;
            of[COIL_RETURN] = t.water_out;
        }
    }

    /// What the control's sensor sees in truth.
    fn held(&self) -> f64 {
        match self.plan.curve.mode {
            Mode::Remote => {
                if self.running == 0 {
                    0.0
                } else {
                    self.terminals[self.plan.index].pressure
                }
            }
            _ if self.plan.head_at_pump => self.speed * self.speed * self.met.flanges,
            _ => self.header,
        }
    }

    fn moment(&self, t: i64, day: i64, why: Why, wanted: f64, live: usize, dead: usize) -> Moment {
        self.effects.remember(t, self.plan.curve_at(t), dead, self.plan.weather.outdoor(t));
        let flows: Vec<f64> = self.terminals.iter().map(|c| c.flow).collect();
        let looks = (t / MINUTE_MS) % 15 == 0 && live != 0;
        let need = if looks { self.pipes.need(&self.terminals, &flows, self.bypass_flow) } else { f64::NAN };
        let mut short = 0.0_f64;
        for c in &self.terminals {
            let off = if self.plan.heating { c.setpoint - c.measured } else { c.measured - c.setpoint };
            if c.port != Port::ThreeWay && c.air > 0.02 && c.position > 0.96 && c.clean > 0.99 && c.setpoint_off == 0.0
            {
                short = short.max(off);
            }
        }
        let share = self.flow / self.plan.design_flow;
        let declared = if self.plan.reset.is_some() { self.reset } else { self.plan.curve_at(t).ask(share) };
        let kw: f64 = self.terminals.iter().map(|c| c.kw).sum();
        Moment {
            day,
            why,
            live,
            dead,
            flow: self.flow,
            header: self.header,
            speed: self.speed,
            reference: self.reference,
            wanted,
            excess: if live == 0 { 0.0 } else { (self.held() - declared) / self.plan.curve.design },
            each: self.met.each.map(|x| x * self.speed),
            starts: self.starts.iter().sum(),
            settled: self.minutes_on > 20.0,
            short,
            bypass: self.bypass_flow,
            kw,
            flows: flows.iter().sum(),
            need,
            hour: ((t - self.plan.start_ms).div_euclid(3_600_000)) as usize,
        }
    }
}
