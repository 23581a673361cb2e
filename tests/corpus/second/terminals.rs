//! Terminals: coils and radiators cut into segments and laid down as tables, valves with play and stroke time, rooms of two masses.

/// kWh a cubic metre of water carries for each kelvin.
pub const WATER_KWH: f64 = 1.163;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Air,
    FanCoil,
    Radiator,
}

/// Heat over that of the air stream cooled to the water's temperature, by water flow and air flow over design.
#[derive(Debug, Clone)]
pub struct Table {
    cells: [[f64; AIR]; WATERS],
}

const WATERS: usize = 22;
const AIR: usize = 6;
const SEGMENTS: usize = 20;
const MOST_WATER: f64 = 2.4;

/// What a coil is made of.
#[derive(Debug, Clone, Copy)]
pub struct Bundle {
    /// Air stream at design [kW/K], water stream at design [kW/K].
    pub air: f64,
    pub water: f64,
    /// Conductance at design [kW/K], share of its resistance on the water side [-], water flow at which it turns laminar [of design].
    pub ua: f64,
    pub inside: f64,
    pub laminar: f64,
}

impl Bundle {
    /// Effectiveness on the air side [-]: counterflow, marched from where the air comes in; linear, so two marches give the answer.
    pub fn effect(&self, w: f64, a: f64) -> f64 {
        let inner = if w >= self.laminar { libm::pow(w, 0.8) } else { libm::pow(self.laminar, 0.8) * 0.6 };
        let soft = inner.max(0.25 * libm::pow(self.laminar, 0.8));
        let resistance = (1.0 - self.inside) / libm::pow(a, 0.6) + self.inside / soft;
        let (ca, cw) = (self.air * a, self.water * w.max(0.004));
        let u = self.ua / resistance / SEGMENTS as f64;
        let march = |leaving: f64| {
            let (mut air, mut water) = (1.0, leaving);
            for _ in 0..SEGMENTS {
                let q = u * (air - water) / (1.0 + 0.5 * u / ca - 0.5 * (u / cw).min(1.6));
                air -= q / ca;
                water -= q / cw;
            }
            (air, water)
        };
        let (w0, w1) = (march(0.0).1, march(1.0).1);
        let leaving = (-w0 / (w1 - w0)).clamp(0.0, 1.0);
        (1.0 - march(leaving).0).clamp(0.0, 1.0).min(cw / ca)
    }
    pub fn table(&self) -> Table {
        let mut cells = [[0.0; AIR]; WATERS];
        for (i, row) in cells.iter_mut().enumerate().skip(1) {
            for (j, cell) in row.iter_mut().enumerate() {
                *cell = self.effect(water_at(i), 0.2 + 0.18 * j as f64);
            }
        }
        Table { cells }
    }
    /// The conductance that gives an effectiveness at design.
    pub fn sized(mut self, wanted: f64) -> Self {
        let (mut low, mut high) = (0.02 * self.air, 12.0 * self.air);
        for _ in 0..40 {
            self.ua = 0.5 * (low + high);
            if self.effect(1.0, 1.0) < wanted {
                low = self.ua;
            } else {
                high = self.ua;
            }
        }
        self
    }
}

/// Grid: finer at little water.
fn water_at(i: usize) -> f64 {
    let x = i as f64 / (WATERS - 1) as f64;
    MOST_WATER * x * x
}

impl Table {
    pub fn at(&self, w: f64, a: f64) -> f64 {
        let x = ((w / MOST_WATER).clamp(0.0, 1.0).sqrt() * (WATERS - 1) as f64).min(WATERS as f64 - 1.001);
        let y = ((a - 0.2) / 0.18).clamp(0.0, AIR as f64 - 1.001);
        let (i, j) = (x as usize, y as usize);
        let (fx, fy) = (x - i as f64, y - j as f64);
        let c = &self.cells;
        (1.0 - fx) * ((1.0 - fy) * c[i][j] + fy * c[i][j + 1]) + fx * ((1.0 - fy) * c[i + 1][j] + fy * c[i + 1][j + 1])
    }
}

/// Radiators of a group: leaving excess over entering excess temperature, by flow over design and entering excess [K].
#[derive(Debug, Clone)]
pub struct Panel {
    cells: [[f64; 9]; WATERS],
    step_k: f64,
}

impl Panel {
    /// `water` [kW/K] at design flow, `size` [kW/K^1.3] over all.
    pub fn new(water: f64, size: f64) -> Self {
        let mut cells = [[0.0; 9]; WATERS];
        let step_k = 9.0;
        for (i, row) in cells.iter_mut().enumerate().skip(1) {
            for (j, cell) in row.iter_mut().enumerate().skip(1) {
                let entering = step_k * j as f64;
                let mut t = entering;
                for _ in 0..24 {
                    // Half a step ahead, then the whole step.
                    let rate = size / 24.0 / (water * water_at(i));
                    let middle = (t - 0.5 * rate * libm::pow(t, 1.3)).max(0.3 * t);
                    t = (t - rate * libm::pow(middle, 1.3)).max(0.2 * t);
                }
                *cell = t / entering;
            }
        }
        Self { cells, step_k }
    }
    pub fn leaving(&self, w: f64, excess: f64) -> f64 {
        let x = ((w / MOST_WATER).clamp(0.0, 1.0).sqrt() * (WATERS - 1) as f64).clamp(1.0, WATERS as f64 - 1.001);
        let y = (excess / self.step_k).clamp(1.0, 7.999);
        let (i, j) = (x as usize, y as usize);
        let (fx, fy) = (x - i as f64, y - j as f64);
        let c = &self.cells;
        (1.0 - fx) * ((1.0 - fy) * c[i][j] + fy * c[i][j + 1]) + fx * ((1.0 - fy) * c[i + 1][j] + fy * c[i + 1][j + 1])
    }
}

#[derive(Debug, Clone)]
pub struct Valve {
    pub three_way: bool,
    pub equal_percentage: bool,
    /// Ratio of the largest to the least controllable flow [-].
    pub rangeability: f64,
    /// Minutes from shut to open; command change that it does not answer [-]; play between stem and plug [-].
    pub stroke_min: f64,
    pub dead_band: f64,
    pub play: f64,
    /// Wide open [kPa/(m3/h)2].
    pub k_open: f64,
    /// Through the bypass port of a three-way valve, with its balancing valve [kPa/(m3/h)2].
    pub k_port: f64,
}

impl Valve {
    pub fn share(&self, x: f64) -> f64 {
        if self.equal_percentage {
            let floor = 1.0 / self.rangeability;
            (libm::pow(self.rangeability, x - 1.0) - floor).max(0.0) / (1.0 - floor)
        } else {
            let floor = 1.0 / self.rangeability;
            ((x - floor) / (1.0 - floor)).max(0.0)
        }
    }
}

/// A room: air and furniture, walls and slabs.
#[derive(Debug, Clone, Copy)]
pub struct Room {
    pub air_kwh_k: f64,
    pub mass_kwh_k: f64,
    pub between_kw_k: f64,
    pub outside_kw_k: f64,
    pub people_kw: f64,
    pub sun_kw: f64,
    pub set_c: f64,
    pub setback_c: f64,
}

#[derive(Debug, Clone)]
pub struct Coil {
    pub name: String,
    pub kind: Kind,
    pub count: u32,
    /// Design flow [m3/h] and load [kW].
    pub flow: f64,
    pub load_kw: f64,
    pub valve: Valve,
    /// Coil, pipework and balancing valve of the branch [kPa/(m3/h)2] at design flow.
    pub k_fixed: f64,
    pub bundle: Bundle,
    pub clean: Table,
    pub fouled: Table,
    pub panel: Option<Panel>,
    /// Leaving air [degC]; share of outdoor air [-]; fans turned down by load.
    pub air_set: f64,
    pub outdoor_share: f64,
    pub variable_air: bool,
    pub room: Room,
    /// Proportional gain [1/K] and reset time [min] of the valve's controller.
    pub gain: f64,
    pub reset_min: f64,
    /// How its load departs from the building's, and how fast that wanders.
    pub own: f64,
    pub critical_hours: bool,
}

/// What changes from minute to minute.
#[derive(Debug, Clone, Default)]
pub struct CoilState {
    pub command: f64,
    pub stem: f64,
    pub plug: f64,
    pub last_error: f64,
    pub air: f64,
    pub leaving: f64,
    pub room: f64,
    pub mass: f64,
    pub head_sensor: f64,
    pub wander: f64,
    pub fan: f64,
    pub flow: f64,
    pub through: f64,
}

impl Coil {
    /// Conductances [m3/h/kPa^0.5] through the coil and through the bypass port, at a plug position and the last flow.
    pub fn conductance(&self, plug: f64, flow: f64) -> (f64, f64) {
        let f = self.valve.share(plug);
        // Coil friction goes with flow to the power 1.85.
        let bend = libm::pow((flow / self.flow).clamp(0.08, 2.0), -0.15);
        let path = |share: f64, k: f64| {
            if share < 1e-4 { 0.0 } else { 1.0 / (k + self.valve.k_open / (share * share)).sqrt() }
        };
        let coil = path(f, self.k_fixed * bend);
        let port = if self.valve.three_way { path(self.valve.share(1.0 - plug), self.valve.k_port) } else { 0.0 };
        (coil, port)
    }
    /// Pressure [kPa] that its branch needs for the flow it takes, at a plug position.
    pub fn branch_need(&self, flow: f64, plug: f64) -> f64 {
        let f = self.valve.share(plug).max(1e-3);
        let bend = libm::pow((flow / self.flow).clamp(0.08, 2.0), -0.15);
        (self.k_fixed * bend + self.valve.k_open / (f * f)) * flow * flow
    }
}

impl CoilState {
    /// The actuator drives towards the command for a minute; the plug follows with play.
    pub fn drive(&mut self, valve: &Valve) {
        let gap = self.command - self.stem;
        let at_end = self.command <= 0.001 || self.command >= 0.999;
        if gap.abs() > valve.dead_band || (at_end && gap.abs() > 1e-4) {
            self.stem += gap.clamp(-1.0 / valve.stroke_min, 1.0 / valve.stroke_min);
        }
        self.plug = self.plug.clamp(self.stem - valve.play, self.stem + valve.play).clamp(0.0, 1.0);
        if self.stem <= 0.002 {
            self.plug = 0.0;
        }
    }
    /// A velocity-form controller: nothing winds up, since the command is the memory.
    pub fn control(&mut self, error: f64, gain: f64, reset_min: f64) {
        let change = gain * (error - self.last_error + error / reset_min);
        self.last_error = error;
        self.command = (self.command + change.clamp(-0.2, 0.2)).clamp(0.0, 1.0);
    }
}
