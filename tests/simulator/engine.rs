//! One minute of a loop after another: air, valves, pipes, pumps, water, controllers, sums for the record.

use super::calendar::{Local, Zone};
use super::network::{Pipes, Solved, pump_flows};
use super::noise::{Rng, Wander};
use super::physics::{Coil, Pump};
use super::{CoilTruth, PumpTruth, Truth};

/// The inner step, and how many of them make a trend interval.
pub const STEP_MS: i64 = 60_000;
pub const STEPS_A_ROW: usize = 5;
const MINUTE: f64 = 1.0;

/// What the drive tries to hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Curve {
    /// Head rises from the first value with flow squared to the second at design flow [kPa].
    Quadratic(f64, f64),
    /// The same, in proportion to flow.
    Proportional(f64, f64),
    /// One head at any flow.
    Constant(f64),
}

impl Curve {
    pub fn head(self, share: f64) -> f64 {
        match self {
            Curve::Quadratic(zero, design) => zero + (design - zero) * share * share,
            Curve::Proportional(zero, design) => zero + (design - zero) * share,
            Curve::Constant(head) => head,
        }
    }
}

/// Pump controller: one speed for all running pumps.
#[derive(Debug, Clone)]
pub struct Control {
    pub curve: Curve,
    /// The head is taken at the pump's flanges, not between the headers.
    pub at_pump: bool,
    pub floor: f64,
    /// The controller's own flow estimate over the true flow.
    pub flow_belief: f64,
    /// Gain and offset [kPa] of the transmitter that it reads, the one that is trended.
    pub head_belief: [f64; 2],
    pub reference: f64,
    /// Added to the floor by supervisory logic (start-up probe, floor cycle).
    pub lifted_floor: f64,
    pub enabled: bool,
}

/// A loop with its weather and its clock.
pub struct World {
    pub zone: Zone,
    pub cooling: bool,
    pub design_flow: f64,
    pub design_head: f64,
    pub pumps: Vec<Pump>,
    pub pump_names: Vec<&'static str>,
    pub pump_on: Vec<bool>,
    pub coils: Vec<Coil>,
    pub pipes: Pipes,
    pub control: Control,
    /// Heat capacity of the water [kW/K per m3/h].
    pub water: f64,
    /// Density over that at design supply temperature, per kelvin above it [1/K].
    pub density_slope: f64,
    pub design_supply_c: f64,
    /// Water in the supply and in the return main [m3].
    pub volume_m3: [f64; 2],
    pub outdoor_c: f64,
    /// Leaving the machine, as its controller makes it.
    pub machine_c: f64,
    pub bypass_command: f64,
    pub hunting: bool,
    pub rng: Rng,
    pub speed_noise: Wander,
    // State.
    pub flows: Vec<f64>,
    pub shaft: Vec<f64>,
    pub torque: Vec<f64>,
    pub power: Vec<f64>,
    pub heads: Vec<f64>,
    pub coil_supply_c: f64,
    pub return_tank_c: [f64; 2],
    pub supply_sensor_c: f64,
    pub return_sensor_c: f64,
    pub solved: Solved,
}

impl World {
    /// All that happens in a minute once the weather, the air side and the supervisory logic have spoken.
    pub fn minute(&mut self) {
        let sign = if self.cooling { 1.0 } else { -1.0 };
        for coil in &mut self.coils {
            coil.control(sign, MINUTE);
        }
        self.drive();
        self.hydraulics();
        self.heat();
    }

    /// The drive follows its curve: head goes as speed squared, so the speed is corrected by the root of what is missing.
    fn drive(&mut self) {
        let c = &mut self.control;
        let noise = self.speed_noise.next(&mut self.rng);
        if !c.enabled {
            c.reference = 0.0;
            return;
        }
        if c.reference <= 0.0 {
            c.reference = c.floor;
            return;
        }
        let share = self.solved.flow * c.flow_belief / self.design_flow;
        let head = if c.at_pump { mean_running(&self.heads, &self.pump_on) } else { self.solved.header_head };
        let wanted = c.curve.head(share);
        let read = head * c.head_belief[0] + c.head_belief[1];
        let factor = if read > 0.5 { libm::sqrt(wanted / read) } else { 1.05 };
        let target = c.reference * factor.clamp(0.8, 1.25) + noise;
        // Ramp: a full sweep takes ten minutes up and down.
        let step = (target - c.reference).clamp(-0.10 * MINUTE, 0.10 * MINUTE);
        c.reference = (c.reference + step).clamp(c.floor.max(c.lifted_floor), 1.0);
    }

    fn hydraulics(&mut self) {
        let density = 1.0 + self.density_slope * (self.coil_supply_c - self.design_supply_c);
        for k in 0..self.pumps.len() {
            let on = self.pump_on[k] && self.control.enabled;
            self.shaft[k] =
                if on { self.pumps[k].drive.shaft_speed(self.control.reference, self.torque[k]) } else { 0.0 };
        }
        let resistance = self.pipes.fold(&self.coils);
        pump_flows(&self.pumps, &self.shaft, &mut self.flows, resistance, density);
        for k in 0..self.pumps.len() {
            let (speed, flow) = (self.shaft[k], self.flows[k]);
            if speed <= 0.0 {
                (self.heads[k], self.power[k], self.torque[k]) = (0.0, 0.0, 0.0);
                continue;
            }
            let shaft_kw = self.pumps[k].shaft_power(flow, speed, density);
            self.heads[k] = self.pumps[k].head(flow, speed, density).0;
            self.torque[k] = shaft_kw / (speed * self.pumps[k].drive.motor_kw);
            self.power[k] = self.pumps[k].drive.input_power(shaft_kw, speed);
        }
        let flow: f64 = self.flows.iter().sum();
        self.solved = self.pipes.share(&mut self.coils, flow, resistance);
    }

    /// Coils, and the water in the mains as stirred tanks: what leaves now arrives minutes later.
    fn heat(&mut self) {
        let flow = self.solved.flow;
        let per_minute = flow / 60.0;
        self.coil_supply_c += (self.machine_c - self.coil_supply_c) * mixed(per_minute, self.volume_m3[0]);
        let mut carried = self.solved.bypass_flow * self.coil_supply_c;
        for coil in &mut self.coils {
            coil.exchange(self.coil_supply_c, self.water, MINUTE);
            carried += coil.flow * coil.water_out_c;
        }
        if flow > 0.05 {
            let share = mixed(per_minute, 0.5 * self.volume_m3[1]);
            self.return_tank_c[0] += (carried / flow - self.return_tank_c[0]) * share;
            self.return_tank_c[1] += (self.return_tank_c[0] - self.return_tank_c[1]) * share;
        } else {
            // Standing water takes the room's temperature over half a day.
            for tank in &mut self.return_tank_c {
                *tank += (24.0 - *tank) * (MINUTE / 600.0);
            }
        }
        self.supply_sensor_c += (self.machine_c - self.supply_sensor_c) * 0.6;
        self.return_sensor_c += (self.return_tank_c[1] - self.return_sensor_c) * 0.6;
    }
}

fn mixed(flow_per_minute: f64, volume: f64) -> f64 {
    let turnover = flow_per_minute * MINUTE / volume;
    turnover / (1.0 + turnover)
}

fn mean_running(values: &[f64], on: &[bool]) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for (v, _) in values.iter().zip(on).filter(|(_, on)| **on) {
        sum += v;
        n += 1.0;
    }
    if n > 0.0 { sum / n } else { 0.0 }
}

/// The signals that are averaged over an interval: a flat list, so that a minute costs little.
#[derive(Debug, Default)]
pub struct Record {
    pub time_ms: Vec<i64>,
    /// Signal by signal, a value an interval.
    pub columns: Vec<Vec<f64>>,
    pub setpoints: Vec<Vec<f64>>,
    pub hunting: Vec<bool>,
    sums: Vec<f64>,
    least: Vec<f64>,
    most: Vec<f64>,
    pub pump_swing: Vec<Vec<f64>>,
    minutes: usize,
}

/// Signals a pump and a coil have in [`Record::columns`], after [`LOOP_SIGNALS`] of the loop.
pub const LOOP_SIGNALS: usize = 10;
pub const PUMP_SIGNALS: usize = 6;
pub const COIL_SIGNALS: usize = 5;

impl Record {
    /// Adds a minute; closes the interval after the fifth.
    pub fn add(&mut self, world: &World, interval_start_ms: i64) {
        let mut k = 0;
        let n = LOOP_SIGNALS + PUMP_SIGNALS * world.pumps.len() + COIL_SIGNALS * world.coils.len();
        if self.sums.len() != n {
            self.sums = vec![0.0; n];
            self.columns = vec![Vec::new(); n];
            self.setpoints = vec![Vec::new(); world.coils.len()];
            self.pump_swing = vec![Vec::new(); world.pumps.len()];
            self.least = vec![f64::INFINITY; world.pumps.len()];
            self.most = vec![f64::NEG_INFINITY; world.pumps.len()];
        }
        let mut put = |sums: &mut [f64], v: f64| {
            sums[k] += v;
            k += 1;
        };
        let s = &world.solved;
        for v in [
            s.flow,
            s.header_head,
            s.need_head,
            s.bypass_flow,
            world.supply_sensor_c,
            world.return_sensor_c,
            world.outdoor_c,
            world.bypass_command,
            world.pipes.bypass_position,
            world.control.curve.head(s.flow / world.design_flow),
        ] {
            put(&mut self.sums, v);
        }
        for p in 0..world.pumps.len() {
            let on = world.shaft[p] > 0.0;
            let reference = if on { world.control.reference } else { 0.0 };
            for v in
                [reference, world.shaft[p], world.flows[p], world.heads[p], world.power[p], f64::from(u8::from(on))]
            {
                put(&mut self.sums, v);
            }
            self.least[p] = self.least[p].min(world.flows[p]);
            self.most[p] = self.most[p].max(world.flows[p]);
        }
        for c in &world.coils {
            for v in [c.position, c.measured_c, c.flow, c.heat_kw, c.water_out_c] {
                put(&mut self.sums, v);
            }
        }
        self.minutes += 1;
        if self.minutes == STEPS_A_ROW {
            self.close(world, interval_start_ms);
        }
    }

    fn close(&mut self, world: &World, interval_start_ms: i64) {
        self.time_ms.push(interval_start_ms);
        for (column, sum) in self.columns.iter_mut().zip(&mut self.sums) {
            column.push(*sum / STEPS_A_ROW as f64);
            *sum = 0.0;
        }
        for (column, coil) in self.setpoints.iter_mut().zip(&world.coils) {
            column.push(coil.setpoint_c);
        }
        for p in 0..world.pumps.len() {
            self.pump_swing[p].push(self.most[p] - self.least[p]);
            self.least[p] = f64::INFINITY;
            self.most[p] = f64::NEG_INFINITY;
        }
        self.hunting.push(world.hunting);
        self.minutes = 0;
    }

    pub fn pump(&self, pump: usize, signal: usize) -> &[f64] {
        &self.columns[LOOP_SIGNALS + PUMP_SIGNALS * pump + signal]
    }

    pub fn coil(&self, pumps: usize, coil: usize, signal: usize) -> &[f64] {
        &self.columns[LOOP_SIGNALS + PUMP_SIGNALS * pumps + COIL_SIGNALS * coil + signal]
    }

    /// The truth for the tests.
    pub fn truth(&self, world: &World, declared: Curve) -> Truth {
        let n = world.pumps.len();
        let pumps = (0..n).map(|p| self.pump_truth(world, p)).collect();
        let coils = world.coils.iter().enumerate().map(|(c, coil)| CoilTruth {
            name: coil.name.clone(),
            opening: self.coil(n, c, 0).to_vec(),
            flow_m3h: self.coil(n, c, 2).to_vec(),
            heat_kw: self.coil(n, c, 3).to_vec(),
            water_out_c: self.coil(n, c, 4).to_vec(),
        });
        let short = |i: usize| {
            let at_end = |c: &usize| self.coil(n, *c, 0)[i] > 0.96;
            let missed = |c: usize| {
                let above = self.coil(n, c, 1)[i] - self.setpoints[c][i];
                if world.cooling { above } else { -above }
            };
            (0..world.coils.len()).filter(at_end).map(missed).fold(0.0, f64::max)
        };
        Truth {
            short_k: (0..self.time_ms.len()).map(short).collect(),
            time_ms: self.time_ms.clone(),
            design_flow_m3h: world.design_flow,
            design_head_kpa: world.design_head,
            pumps,
            coils: coils.collect(),
            loop_flow_m3h: self.columns[0].clone(),
            loop_head_kpa: self.columns[1].clone(),
            need_head_kpa: self.columns[2].clone(),
            curve_head_kpa: self.columns[0].iter().map(|q| declared.head(q / world.design_flow)).collect(),
            bypass_flow_m3h: self.columns[3].clone(),
            supply_c: self.columns[4].clone(),
            return_c: self.columns[5].clone(),
            outdoor_c: self.columns[6].clone(),
            hunting: self.hunting.clone(),
            ..Truth::default()
        }
    }

    fn pump_truth(&self, world: &World, p: usize) -> PumpTruth {
        let flow = self.pump(p, 2);
        let running: Vec<bool> = self.pump(p, 5).iter().map(|on| *on > 0.999).collect();
        let allowed = 0.02 * world.design_flow;
        let near = |i: usize, j: usize| running[j] && (flow[i] - flow[j]).abs() <= allowed;
        let steady = (0..flow.len()).map(|i| {
            let quiet = running[i] && self.pump_swing[p][i] <= allowed;
            quiet && (i == 0 || near(i, i - 1)) && (i + 1 == flow.len() || near(i, i + 1))
        });
        PumpTruth {
            name: world.pump_names[p].to_owned(),
            steady: steady.collect(),
            flow_m3h: flow.to_vec(),
            head_kpa: self.pump(p, 3).to_vec(),
            speed: self.pump(p, 1).to_vec(),
            power_kw: self.pump(p, 4).to_vec(),
            running,
        }
    }
}

/// A terminal unit sized by its design flow, with a tenth to a quarter of surface in hand.
#[derive(Debug, Clone, Copy)]
pub struct Sizing {
    /// Heat capacity of the water [kW/K per m3/h].
    pub water: f64,
    /// Design temperatures [degC].
    pub water_in: f64,
    pub water_out: f64,
    pub air_in: f64,
    pub air_out: f64,
    /// Heat capacity of moist air over dry [-].
    pub wet: f64,
}

impl Sizing {
    pub fn coil(&self, rng: &mut Rng, name: &str, flow: f64, coil_kpa: f64, valve_kpa: f64) -> Coil {
        let load = self.water * flow * (self.water_out - self.water_in).abs();
        let air = load / (self.air_in - self.air_out).abs();
        let water = self.water * flow;
        let least = air.min(water);
        let effectiveness = load / (least * (self.air_in - self.water_in).abs());
        let ua =
            least * super::physics::transfer_units(effectiveness, least / air.max(water)) * rng.between(1.10, 1.25);
        Coil {
            name: name.to_owned(),
            port: super::physics::Port::TwoWay,
            design_flow: flow,
            design_load: load,
            main_resistance: 0.0,
            branch_resistance: coil_kpa * rng.between(0.85, 1.15) / (flow * flow),
            valve_resistance: valve_kpa * rng.between(0.7, 1.2) / (flow * flow),
            range_log: libm::log(rng.between(30.0, 55.0)),
            hysteresis: rng.between(0.004, 0.012),
            air_capacity: air / self.wet,
            air_side_ua: ua / 0.65 / self.wet,
            water_side_ua: ua / 0.35,
            gain: rng.between(0.010, 0.016),
            fan: 0.0,
            entering_c: self.air_out,
            setpoint_c: self.air_out,
            wet: self.wet,
            command: 0.0,
            position: 0.0,
            leaving_c: self.air_out,
            measured_c: self.air_out,
            last_error: 0.0,
            flow: 0.0,
            water_out_c: self.water_out,
            heat_kw: 0.0,
            cleanliness: 1.0,
        }
    }
}

/// Runs the minutes of a record; `row` speaks at each interval's start, `minute` each minute before the physics.
pub fn simulate<S>(
    world: &mut World,
    state: &mut S,
    start_ms: i64,
    rows: usize,
    mut row: impl FnMut(&mut World, &mut S, i64, Local),
    mut minute: impl FnMut(&mut World, &mut S, i64),
) -> Record {
    let mut record = Record::default();
    let row_ms = STEP_MS * STEPS_A_ROW as i64;
    // A day before the record lets temperatures and valves settle.
    let warm_up = 288;
    for k in 0..(rows + warm_up) as i64 {
        let t = start_ms + (k - warm_up as i64) * row_ms;
        row(world, state, t, world.zone.local(t));
        for m in 0..STEPS_A_ROW as i64 {
            minute(world, state, t + m * STEP_MS);
            world.minute();
            if k >= warm_up as i64 {
                record.add(world, t);
            }
        }
    }
    record
}
