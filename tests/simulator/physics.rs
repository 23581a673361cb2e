//! Pumps, drives, valves and coils: the laws, each in a form of its own that the analyser does not share.
//!
//! Flow [m3/h], head and pressure [kPa], power [kW], temperature [degC], speed as a fraction of rated.

use super::noise::Rng;

/// Value and slope of a cubic at x.
fn cubic(c: &[f64; 4], x: f64) -> (f64, f64) {
    let value = c[0] + x * (c[1] + x * (c[2] + x * c[3]));
    (value, c[1] + x * (2.0 * c[2] + x * 3.0 * c[3]))
}

/// What the maker's data sheet says of a pump: smooth laws that only the table is read from.
#[derive(Debug, Clone)]
pub struct Model {
    /// Flow at the best efficiency [m3/h].
    pub best_flow: f64,
    /// Head there at rated speed [kPa].
    pub best_head: f64,
    /// Efficiency there [-].
    pub best_efficiency: f64,
    /// Head over best head, a cubic of flow over best flow.
    head_shape: [f64; 4],
    /// Shaft power over best power, a cubic as well.
    power_shape: [f64; 4],
}

impl Model {
    /// A centrifugal pump whose curve passes at the design point, which lies at `place` of its best flow.
    pub fn draw(rng: &mut Rng, design_flow: f64, design_head: f64, place: f64) -> Self {
        // Shut-off head 1.24 to 1.36 of the best point's, a rise of at most 1 % near shut-off, efficiency highest at x = 1:
        // h(1) = 1 and p(1) = 1 hold, and h'(1) + 1 = p'(1) puts the peak there.
        let (h0, h1) = (rng.between(1.24, 1.36), rng.between(0.0, 0.10));
        let (p0, slope) = (rng.between(0.38, 0.48), rng.between(0.30, 0.42));
        let h_slope = slope - 1.0;
        let head_shape = [h0, h1, 3.0 * (1.0 - h0) - 2.0 * h1 - h_slope, h_slope + h1 - 2.0 * (1.0 - h0)];
        let p1 = rng.between(0.72, 0.86);
        let power_shape = [p0, p1, 3.0 * (1.0 - p0) - 2.0 * p1 - slope, slope + p1 - 2.0 * (1.0 - p0)];
        let best_head = design_head / cubic(&head_shape, place).0;
        let best_efficiency = rng.between(0.74, 0.80);
        Self { best_flow: design_flow / place, best_head, best_efficiency, head_shape, power_shape }
    }

    pub fn head(&self, flow: f64) -> f64 {
        self.best_head * cubic(&self.head_shape, flow / self.best_flow).0
    }

    fn best_power(&self) -> f64 {
        self.best_flow / 3600.0 * self.best_head / self.best_efficiency
    }

    pub fn shaft_power(&self, flow: f64) -> f64 {
        self.best_power() * cubic(&self.power_shape, flow / self.best_flow).0
    }

    pub fn efficiency(&self, flow: f64) -> f64 {
        flow / 3600.0 * self.head(flow) / self.shaft_power(flow)
    }
}

/// One pump as it stands in the plant room, with what its data sheet does not say.
#[derive(Debug, Clone)]
pub struct Pump {
    pub model: Model,
    /// Relative departure of head from the table: level, and tilt over flow.
    pub head_departure: [f64; 2],
    /// Departure of efficiency from the table over the table's best: level, and tilt.
    pub efficiency_departure: [f64; 2],
    /// Seals and bearings: a torque that does not fall with speed, over best power [-].
    pub friction: f64,
    /// Check valve, strainer and discharge valve between pump and header [kPa/(m3/h)2].
    pub header_resistance: f64,
    pub drive: Drive,
}

impl Pump {
    pub fn draw(rng: &mut Rng, model: &Model, header_loss_kpa: f64, at_flow: f64, drive: Drive, scale: f64) -> Self {
        let head_departure = [scale * rng.between(-0.03, 0.01), scale * rng.between(-0.014, 0.014)];
        let points = [scale * rng.between(-0.04, 0.0), scale * rng.between(-0.014, 0.014)];
        Self {
            model: model.clone(),
            head_departure,
            efficiency_departure: points.map(|p| p / model.best_efficiency),
            friction: rng.between(0.003, 0.008),
            header_resistance: header_loss_kpa * rng.between(0.7, 1.3) / (at_flow * at_flow),
            drive,
        }
    }

    /// Head [kPa] and its slope over flow at a speed; `density` is the water's over that of the table [-].
    pub fn head(&self, flow: f64, speed: f64, density: f64) -> (f64, f64) {
        let x = flow / (speed * self.model.best_flow);
        let (h, slope) = cubic(&self.model.head_shape, x);
        let real = 1.0 + self.head_departure[0] + self.head_departure[1] * (x - 0.7);
        let scale = self.model.best_head * density;
        let value = scale * speed * speed * h * real;
        (value, scale * speed * (slope * real + h * self.head_departure[1]) / self.model.best_flow)
    }

    /// Shaft power [kW].
    pub fn shaft_power(&self, flow: f64, speed: f64, density: f64) -> f64 {
        let x = flow / (speed * self.model.best_flow);
        let p = cubic(&self.model.power_shape, x).0;
        let real = (1.0 + self.head_departure[0] + self.head_departure[1] * (x - 0.7))
            / (1.0 + self.efficiency_departure[0] + self.efficiency_departure[1] * (x - 0.7));
        let best = self.model.best_power();
        best * (density * speed * speed * speed * (p * real - self.friction) + self.friction * speed)
    }
}

/// Motor and drive: losses as polynomials of speed and torque, slip from torque and flux.
#[derive(Debug, Clone)]
pub struct Drive {
    /// Nameplate [kW] and full-load efficiencies [-].
    pub motor_kw: f64,
    pub motor_efficiency: f64,
    pub drive_efficiency: f64,
    /// Real losses over nameplate losses [-].
    pub loss_scale: f64,
    /// Share of the motor's loss that is iron and windage, and of the magnetising current [-].
    pub iron: f64,
    pub magnetising: f64,
    /// Synchronous over rated speed [-].
    pub synchronous: f64,
    /// The drive raises its frequency with load, so that the shaft turns as asked.
    pub compensated: bool,
    /// How far the drive lowers the flux at light torque [-].
    pub flux_saving: f64,
    /// Below this speed the drive switches faster (quieter), which costs [-].
    pub switching_step: f64,
}

impl Drive {
    pub fn draw(rng: &mut Rng, motor_kw: f64, motor_efficiency: f64, synchronous: f64, compensated: bool) -> Self {
        Self {
            motor_kw,
            motor_efficiency,
            drive_efficiency: 0.97,
            loss_scale: 1.0 + 0.10 * rng.normal().clamp(-2.5, 2.5),
            iron: rng.between(0.18, 0.30),
            magnetising: rng.between(0.10, 0.20),
            synchronous,
            compensated,
            flux_saving: rng.between(0.0, 0.15),
            switching_step: rng.between(0.12, 0.30),
        }
    }

    /// Shaft speed over rated at a reference and a torque over rated [-].
    pub fn shaft_speed(&self, reference: f64, torque: f64) -> f64 {
        if self.compensated {
            return reference;
        }
        let flux = 1.0 - self.flux_saving * (1.0 - torque.min(1.0));
        self.synchronous * reference - (self.synchronous - 1.0) * torque / (flux * flux)
    }

    /// Electric power at the drive's input [kW].
    pub fn input_power(&self, shaft_kw: f64, speed: f64) -> f64 {
        let torque = shaft_kw / (speed * self.motor_kw);
        let square = torque * torque;
        let copper = 1.0 - self.iron - self.magnetising;
        let motor_full = self.motor_kw * (1.0 / self.motor_efficiency - 1.0) * self.loss_scale;
        let motor = motor_full * (self.iron * speed * libm::sqrt(speed) + self.magnetising + copper * square);
        let drive_full = self.motor_kw / self.motor_efficiency * (1.0 / self.drive_efficiency - 1.0) * self.loss_scale;
        let fast = if speed < 0.40 { self.switching_step } else { 0.0 };
        shaft_kw + motor + drive_full * (0.35 + fast + 0.25 * torque + 0.40 * square)
    }
}

/// How a valve's port takes the flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Port {
    /// Throttles its branch, equal-percentage.
    TwoWay,
    /// Diverts past its coil: the branch flow stays.
    ThreeWay,
}

/// A terminal unit: branch pipe, valve, coil, air side and the controller of its leaving air.
#[derive(Debug, Clone)]
pub struct Coil {
    pub name: String,
    pub port: Port,
    pub design_flow: f64,
    pub design_load: f64,
    /// Main pipe from the branch before [kPa/(m3/h)2].
    pub main_resistance: f64,
    /// Coil, fittings and pipe of the branch itself.
    pub branch_resistance: f64,
    /// Valve wide open.
    pub valve_resistance: f64,
    /// Natural logarithm of the rangeability.
    pub range_log: f64,
    /// How far the command must go before the stem follows [-].
    pub hysteresis: f64,
    /// Air capacity at full fan [kW/K], wet-coil factor included by the caller.
    pub air_capacity: f64,
    pub air_side_ua: f64,
    pub water_side_ua: f64,
    /// Controller gain [1/K].
    pub gain: f64,
    // State.
    pub fan: f64,
    pub entering_c: f64,
    pub setpoint_c: f64,
    pub wet: f64,
    pub command: f64,
    pub position: f64,
    pub leaving_c: f64,
    pub measured_c: f64,
    pub last_error: f64,
    pub flow: f64,
    pub water_out_c: f64,
    pub heat_kw: f64,
    /// 1 clean; less when fouled.
    pub cleanliness: f64,
}

/// Below this opening the plug seats: flow falls linearly to a small leak.
const SEAT: f64 = 0.03;
const LEAK: f64 = 0.002;

/// Opening at which the neediest valve still controls: the need of a loop is stated there.
pub const NEEDY_OPENING: f64 = 0.90;

/// Share of its full-open conductance that an equal-percentage valve passes.
pub fn equal_percentage(range_log: f64, opening: f64) -> f64 {
    if opening >= SEAT {
        return libm::exp(range_log * (opening - 1.0));
    }
    let seat = libm::exp(range_log * (SEAT - 1.0));
    LEAK + (seat - LEAK) * (opening / SEAT).max(0.0)
}

fn power_three_quarters(x: f64) -> f64 {
    let root = libm::sqrt(x);
    root * libm::sqrt(root)
}

impl Coil {
    /// Resistance of the branch at the valve's position [kPa/(m3/h)2].
    pub fn resistance(&self) -> f64 {
        match self.port {
            Port::ThreeWay => self.branch_resistance + self.valve_resistance,
            Port::TwoWay => {
                let f = equal_percentage(self.range_log, self.position);
                self.branch_resistance + self.valve_resistance / (f * f)
            }
        }
    }

    /// The same with the valve at the needy opening.
    pub fn needy_resistance(&self) -> f64 {
        let f = match self.port {
            Port::TwoWay => equal_percentage(self.range_log, NEEDY_OPENING),
            Port::ThreeWay => 1.0,
        };
        self.branch_resistance + self.valve_resistance / (f * f)
    }

    /// Exchanges heat for one step of `minutes` with water at `water_in_c`; `water` is its heat capacity [kW/K per m3/h].
    pub fn exchange(&mut self, water_in_c: f64, water: f64, minutes: f64) {
        let through = match self.port {
            Port::TwoWay => self.flow,
            Port::ThreeWay => self.flow * self.position,
        };
        let (air, wet) = (self.air_capacity * self.fan, self.wet);
        let (c_air, c_water) = (air * wet, water * through.max(1e-4));
        self.heat_kw = if self.fan < 0.02 { 0.0 } else { self.effective_ua_heat(c_air, c_water, through, water_in_c) };
        let leaving = if self.fan < 0.02 { self.entering_c } else { self.entering_c - self.heat_kw / c_air };
        // Coil mass and duct: 1.5 min; sensor in the duct: 1 min more.
        self.leaving_c += (leaving - self.leaving_c) * (minutes / (minutes + 1.5));
        self.measured_c += (self.leaving_c - self.measured_c) * (minutes / (minutes + 1.0));
        let branch = water * self.flow.max(1e-4);
        let out = water_in_c + self.heat_kw / branch;
        self.water_out_c += (out - self.water_out_c) * (minutes / (minutes + 1.0));
    }

    /// Counterflow effectiveness and number of transfer units.
    fn effective_ua_heat(&self, c_air: f64, c_water: f64, through: f64, water_in_c: f64) -> f64 {
        let air_side = self.air_side_ua * self.wet * power_three_quarters(self.fan);
        let water_side = self.water_side_ua * power_three_quarters((through / self.design_flow).max(1e-4));
        let ua = self.cleanliness / (1.0 / air_side + 1.0 / water_side);
        let (least, most) = if c_air < c_water { (c_air, c_water) } else { (c_water, c_air) };
        let (ntu, ratio) = (ua / least, least / most);
        let e = libm::exp(-ntu * (1.0 - ratio));
        let effectiveness = if 1.0 - ratio < 1e-4 { ntu / (1.0 + ntu) } else { (1.0 - e) / (1.0 - ratio * e) };
        effectiveness * least * (self.entering_c - water_in_c)
    }

    /// Moves the valve: proportional-integral on the leaving air; `sign` is +1 for cooling, -1 for heating.
    pub fn control(&mut self, sign: f64, minutes: f64) {
        const INTEGRAL_MIN: f64 = 4.0;
        let error = sign * (self.measured_c - self.setpoint_c);
        if self.fan < 0.02 {
            self.command = 0.0;
        } else {
            let step = self.gain * ((error - self.last_error) + error * minutes / INTEGRAL_MIN);
            self.command = (self.command + step).clamp(0.0, 1.0);
        }
        self.last_error = error;
        let travel = self.command - self.position;
        if travel.abs() > self.hysteresis || self.command == 0.0 || self.command == 1.0 {
            // Two minutes a stroke; the stem stops half the slack short of the command.
            let slack = if self.command == 0.0 || self.command == 1.0 { 0.0 } else { 0.5 * self.hysteresis };
            let wanted = travel - slack.copysign(travel);
            self.position = (self.position + wanted.clamp(-0.5 * minutes, 0.5 * minutes)).clamp(0.0, 1.0);
        }
    }
}

/// The number of transfer units that a counterflow exchanger needs for an effectiveness.
pub fn transfer_units(effectiveness: f64, ratio: f64) -> f64 {
    libm::log((1.0 - effectiveness * ratio) / (1.0 - effectiveness)) / (1.0 - ratio)
}
