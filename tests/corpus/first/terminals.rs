//! Terminals: valve, pipe, coil or radiator, and the controller that moves the valve.
//!
//! Flow [m3/h], pressure [kPa], heat [kW], temperature [degC], capacities [kW/K]. Coils are crossflow with both sides unmixed, radiators go by their
//! excess temperature to the power 1.3; neither is a form that the analyser uses.

use crate::simulator::noise::{Rng, Wander};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Port {
    TwoWay,
    ThreeWay,
    /// Holds its flow share whatever the pressure.
    Independent,
}

/// Flow through a valve at like pressure over its stroke.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Law {
    /// With its range.
    EqualPercentage(f64),
    Linear,
}

impl Law {
    /// Share of full conductance [-].
    pub fn through(self, stroke: f64, leak: f64) -> f64 {
        let x = stroke.clamp(0.0, 1.0);
        let f = match self {
            Self::EqualPercentage(range) => {
                // A straight foot down to the seat.
                let foot = 0.06;
                if x < foot { x / foot * range.powf(foot - 1.0) } else { range.powf(x - 1.0) }
            }
            Self::Linear => x,
        };
        f.max(leak)
    }
}

/// What gives the heat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Body {
    /// Water to air; resistances of both sides at design [K/kW] and the air's capacity at full air.
    Coil { water: f64, air: f64, capacity: f64 },
    /// Radiators of a zone: emission at one kelvin [kW], what the zone loses [kW/K] and holds [kWh/K].
    Radiators { emission: f64, loss: f64, holds: f64 },
}

#[derive(Debug, Clone)]
pub struct Terminal {
    pub name: String,
    pub port: Port,
    pub law: Law,
    pub leak: f64,
    pub body: Body,
    pub design_flow: f64,
    pub design_kw: f64,
    /// Mains before it, coil with its pipe, valve fully open [kPa/(m3/h)2].
    pub main: f64,
    pub branch: f64,
    pub valve: f64,
    /// Least pressure of one that holds its flow [kPa].
    pub least_kpa: f64,
    /// Integral per minute and proportional, over [K].
    pub gain: f64,
    /// What its load is like.
    pub load: Load,
    // What faults move.
    pub clean: f64,
    pub setpoint_off: f64,
    // State.
    pub air: f64,
    pub entering: f64,
    pub setpoint: f64,
    pub command: f64,
    pub position: f64,
    pub flow: f64,
    pub pressure: f64,
    pub leaving: f64,
    pub measured: f64,
    pub water_out: f64,
    pub kw: f64,
    pub last_error: f64,
}

/// How a terminal's load comes about.
#[derive(Debug, Clone)]
pub struct Load {
    /// Share of outdoor air, and of full air at least.
    pub outdoor: f64,
    pub least: f64,
    /// Air by people, by sun (with its hour), by weather [-].
    pub people: f64,
    pub sun: f64,
    pub hour: f64,
    pub weather: f64,
    /// Runs day and night, weekends too.
    pub always: bool,
    pub wander: Wander,
}

/// Heat capacity flow of water [kW/K per m3/h].
pub fn water_capacity(heating: bool) -> f64 {
    if heating { 1.142 } else { 1.166 }
}

/// Crossflow, both unmixed: effectiveness at transfer units and ratio of capacities.
pub fn effectiveness(units: f64, ratio: f64) -> f64 {
    if units <= 0.0 {
        return 0.0;
    }
    let n = units.powf(0.22);
    let r = ratio.max(1e-3);
    1.0 - (n / r * ((-r * units / n).exp() - 1.0)).exp()
}

impl Terminal {
    /// Resistance of its branch at a valve position.
    pub fn resistance(&self) -> f64 {
        match self.port {
            Port::ThreeWay => self.branch + self.valve,
            Port::TwoWay => {
                let f = self.law.through(self.position, self.leak);
                self.branch + self.valve / (f * f)
            }
            Port::Independent => {
                let wanted = self.law.through(self.position, self.leak) * self.design_flow * 1.1;
                (self.branch + self.valve).max(self.pressure / (wanted * wanted))
            }
        }
    }

    /// Pressure over its branch that would do for a flow with the valve 90 % open.
    pub fn needs_kpa(&self, flow: f64) -> f64 {
        match self.port {
            Port::ThreeWay => 0.0,
            Port::TwoWay => {
                let f = self.law.through(0.9, self.leak);
                (self.branch + self.valve / (f * f)) * flow * flow
            }
            Port::Independent => {
                if flow < 0.02 * self.design_flow {
                    0.0
                } else {
                    self.least_kpa.max((self.branch + self.valve) * flow * flow)
                }
            }
        }
    }

    /// Heat [kW] and water leaving at a flow through the coil itself.
    pub fn gives(&self, flow: f64, water_in: f64, heating: bool) -> (f64, f64) {
        let capacity = water_capacity(heating) * flow;
        if capacity < 1e-4 {
            return (0.0, self.water_out);
        }
        let kw = match self.body {
            Body::Coil { water, air, capacity: full } => {
                if self.air < 0.02 {
                    return (0.0, water_in);
                }
                let c_air = full * self.air;
                let share = flow / self.design_flow;
                let resistance = water / share.max(0.01).powf(0.8) + air / self.air.powf(0.6) / self.clean;
                // Dirt sits on either side: it takes from the whole.
                let conductance = 1.0 / (resistance + (1.0 / self.clean - 1.0) * water);
                let (least, most) = if capacity < c_air { (capacity, c_air) } else { (c_air, capacity) };
                effectiveness(conductance / least, least / most) * least * (self.entering - water_in)
            }
            Body::Radiators { emission, .. } => {
                let room = self.measured;
                let mean = 0.5 * (water_in + self.water_out);
                let steep = self.clean * emission * ((mean - room).max(0.5)).powf(0.3);
                // u (mean - room) = C (in - out), mean of in and out.
                let out = (capacity * water_in - steep * (0.5 * water_in - room)) / (capacity + 0.5 * steep);
                -capacity * (water_in - out.max(room.min(water_in)))
            }
        };
        (kw, water_in + kw / capacity)
    }

    /// Share of a branch's flow that goes through the coil.
    pub fn through_coil(&self) -> f64 {
        if self.port == Port::ThreeWay { self.law.through(self.position, self.leak) } else { 1.0 }
    }

    /// A minute of heat: `water_in` at the branch, `outdoor` for rooms.
    pub fn exchange(&mut self, water_in: f64, outdoor: f64, gains_kw: f64, heating: bool) {
        let through = self.through_coil();
        let (kw, out) = self.gives(self.flow * through, water_in, heating);
        // Positive: heat moved in the sense of the service.
        self.kw = if heating { -kw } else { kw };
        let mixed = through * out + (1.0 - through) * water_in;
        self.water_out += (mixed - self.water_out) * 0.5;
        match self.body {
            Body::Coil { capacity, .. } => {
                let c_air = (capacity * self.air).max(1e-3);
                self.leaving = if self.air < 0.02 { self.entering } else { self.entering - kw / c_air };
                self.measured += (self.leaving - self.measured) * 0.32;
            }
            Body::Radiators { loss, holds, .. } => {
                let net = self.kw + gains_kw - loss * (self.measured - outdoor);
                self.measured += net / (60.0 * holds);
                self.leaving = self.measured;
            }
        }
    }

    /// Moves the valve: positive error opens.
    pub fn control(&mut self, running: bool, heating: bool, holds: bool) {
        if !running {
            if !holds {
                self.command = (self.command - 0.4).max(0.0);
            }
            self.last_error = 0.0;
        } else {
            let wanted = self.setpoint;
            let error = if heating { wanted - self.measured } else { self.measured - wanted };
            let proportional = if matches!(self.body, Body::Coil { .. }) { 2.2 } else { 14.0 };
            let moved =
                self.gain * (error.clamp(-6.0, 6.0) + proportional * (error - self.last_error).clamp(-2.0, 2.0));
            self.command = (self.command + moved).clamp(0.0, 1.0);
            self.last_error = error;
        }
        // An actuator that takes two minutes over its stroke, with a little play.
        let step = (self.command - self.position).clamp(-0.5, 0.5);
        if step.abs() > 0.004 {
            self.position += step;
        }
    }

    /// Flow that meets the setpoint for good; the design flow's 1.25-fold at most.
    pub fn steady_flow(&self, water_in: f64, heating: bool, outdoor: f64, gains_kw: f64) -> f64 {
        let mut probe = self.clone();
        let target = match self.body {
            Body::Coil { capacity, .. } => (self.entering - self.setpoint) * capacity * self.air,
            Body::Radiators { loss, .. } => {
                probe.measured = self.setpoint;
                gains_kw - loss * (self.setpoint - outdoor)
            }
        };
        if (target <= 0.0) != heating || target.abs() < 0.01 * self.design_kw || self.air < 0.02 {
            return 0.0;
        }
        let (mut low, mut high) = (0.0, 1.25 * self.design_flow);
        for _ in 0..14 {
            let mid = 0.5 * (low + high);
            probe.water_out = water_in;
            let mut kw = 0.0;
            // Radiators look at their own leaving water.
            for _ in 0..if matches!(self.body, Body::Coil { .. }) { 1 } else { 3 } {
                let (k, out) = probe.gives(mid, water_in, heating);
                kw = k;
                probe.water_out = out;
            }
            if kw.abs() < target.abs() { low = mid } else { high = mid }
        }
        0.5 * (low + high)
    }
}

/// Outdoor and people of an hour, for all terminals alike.
#[derive(Debug, Clone, Copy)]
pub struct Hour {
    pub outdoor: f64,
    /// Local hour of the day.
    pub clock: f64,
    /// Share of the people who are in.
    pub people: f64,
    /// Sun over a clear midday's.
    pub sun: f64,
    /// First hour of a working day: the building is still warm or cold [0 to 1].
    pub morning: f64,
    /// A week of one load.
    pub steady: bool,
    /// Outdoor at which terminals are sized [degC].
    pub design_outdoor: f64,
}

impl Terminal {
    /// Sets air, entering air and setpoint; `open` says whether its fans may run.
    pub fn take_load(&mut self, h: &Hour, rng: &mut Rng, open: bool, heating: bool) {
        let wander = self.load.wander.next(rng);
        let runs = open || self.load.always;
        let stray = if h.steady { 0.0 } else { wander };
        let l = &self.load;
        let sun = if h.steady { 0.25 } else { h.sun * (-((h.clock - l.hour) / 3.0).powi(2)).exp() };
        let outdoor = if h.steady { if heating { 5.0 } else { 25.0 } } else { h.outdoor };
        match self.body {
            Body::Coil { .. } => {
                let middle = if heating { 16.0 } else { 14.0 };
                let weather = (outdoor - middle) / (h.design_outdoor - middle);
                let people = if h.steady { 0.7 } else { h.people };
                let air = l.people * people + l.sun * sun + l.weather * weather.clamp(0.0, 1.1) + 0.35 * h.morning;
                self.air = if runs { (l.least + air * (1.0 - l.least) + stray).clamp(l.least, 1.0) } else { 0.0 };
                let room = if heating { 20.5 - 1.5 * h.morning } else { 24.3 + 1.8 * h.morning };
                let mixed = room + l.outdoor * (outdoor - room);
                self.entering = if heating { mixed.max(2.0) } else { mixed.max(13.5) };
                self.setpoint = if heating { 27.0 - 0.15 * (outdoor - 4.0) } else { 13.0 } + self.setpoint_off;
            }
            Body::Radiators { .. } => {
                self.air = 1.0;
                self.setpoint = if runs { 20.8 } else { 17.5 } + self.setpoint_off;
                self.entering = outdoor;
            }
        }
    }

    /// Heat of people and sun in a room with radiators [kW].
    pub fn gains_kw(&self, h: &Hour) -> f64 {
        if h.steady { 0.12 * self.design_kw } else { self.design_kw * (0.10 * h.people + 0.14 * h.sun * self.load.sun) }
    }
}
