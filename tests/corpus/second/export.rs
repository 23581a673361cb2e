//! The record as an export would show it: sampled at an instant, with sensors' errors, in units mixed by point.

use super::super::{Ask, Trended};
use super::building::*;
use super::chance::Chance;
use super::run::Record;
use super::terminals::Kind;

/// A trended quantity; the number is the pump's or the coil's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Point {
    Speed(usize),
    Status(usize),
    Power0(usize),
    /// Power of the pump that runs most, header head (or that pump's head where there is none): what a sensor fault picks.
    Power,
    Header,
    PumpHead(usize),
    Flow,
    Supply,
    Return,
    Outdoor,
    Dp,
    DpSet,
    Bypass,
    Mode(usize),
    Starts(usize),
    Valve(usize),
    CoilReturn(usize),
    Air(usize),
    AirSet(usize),
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Trouble {
    Bias(f64),
    Scale(f64),
    Stuck,
    Swapped,
    Unit,
}

#[derive(Debug, Clone, Copy)]
pub struct SensorFault {
    pub point: Point,
    pub trouble: Trouble,
    pub span: Span,
}

/// One column.
#[derive(Debug, Clone)]
pub struct Channel {
    pub point: Point,
    pub name: String,
    /// Equipment it belongs to, for exports by equipment.
    pub group: String,
    pub role: &'static str,
    pub of: Option<String>,
    pub unit: Option<&'static str>,
    /// Further lines of its `[[point]]`.
    pub lines: Vec<String>,
    pub decimals: usize,
    pub words: Option<[&'static str; 2]>,
    /// Least change that is logged, in its unit.
    pub change: f64,
    pub values: Vec<f64>,
}

/// How this site's export looks.
#[derive(Debug, Clone)]
pub struct Style {
    pub names: usize,
    pub ip_heat: bool,
    pub head: &'static str,
    pub flow: &'static str,
    pub power: &'static str,
    pub speed: usize,
    pub valve: usize,
    pub coarse: bool,
    pub accuracies: bool,
    pub words: [&'static str; 2],
    pub power_said: bool,
}

impl Style {
    pub fn draw(c: &mut Chance, zone: &str) -> Self {
        let ip = zone.starts_with("America") || c.yes(0.1);
        let flip = |c: &mut Chance| if c.yes(0.15) { !ip } else { ip };
        let (head_ip, flow_ip) = (flip(c), flip(c));
        Self {
            names: c.whole(0, 3),
            ip_heat: flip(c),
            head: if head_ip { c.pick(&["psi", "ft"]) } else { c.pick(&["kPa", "kPa", "bar", "m"]) },
            flow: if flow_ip { "gpm" } else { c.pick(&["m3/h", "L/s"]) },
            power: if ip && c.yes(0.2) { "hp" } else { c.pick(&["kW", "kW", "W"]) },
            speed: c.whole(0, 3),
            valve: c.whole(0, 5),
            coarse: c.yes(0.3),
            accuracies: c.yes(0.8),
            words: c.pick(&[["Off", "On"], ["0", "1"], ["Stopped", "Running"], ["Inactive", "Active"]]),
            power_said: c.yes(0.75),
        }
    }
}

/// The pump that runs most.
pub fn busiest(r: &Record) -> usize {
    let minutes = |i: &usize| r.pumps[*i].on.iter().filter(|o| **o).count();
    (0..r.pumps.len()).max_by_key(|i| (minutes(i), usize::MAX - i)).unwrap_or(0)
}

struct Maker<'a> {
    b: &'a Building,
    r: &'a Record,
    style: &'a Style,
    c: Chance,
    rows: Vec<usize>,
    faults: &'a [SensorFault],
    all: bool,
}

/// Every column of the set.
pub fn channels(b: &Building, r: &Record, ask: &Ask, style: &Style, faults: &[SensorFault]) -> Vec<Channel> {
    let rows = (0..b.site.minutes()).step_by(ask.minutes as usize).collect();
    let set = ask.trended;
    let mut m = Maker { b, r, style, c: Chance::new(b.seed, 7), rows, faults, all: set == Trended::All };
    let mut out = Vec::new();
    let power = matches!(set, Trended::All | Trended::Usual | Trended::NoPressure | Trended::Drive);
    for i in 0..b.pumps.len() {
        out.push(m.speed(i));
        out.push(m.status(i));
        if power {
            out.push(m.power(i));
        }
        if m.all {
            out.push(m.head(Point::PumpHead(i)));
            out.push(m.mode(i));
            out.push(m.starts(i));
        }
    }
    if matches!(set, Trended::Usual | Trended::Metered) {
        out.push(m.head(Point::Header));
    }
    if m.all {
        out.push(m.head(Point::Dp));
        if b.control.mode != Mode::Fixed {
            out.push(m.head(Point::DpSet));
        }
    }
    if matches!(set, Trended::All | Trended::Metered) {
        out.push(m.flow());
    }
    if set != Trended::Drive {
        out.push(m.temperature(Point::Supply));
        out.push(m.temperature(Point::Return));
        out.push(m.temperature(Point::Outdoor));
    }
    if m.all && b.bypass.is_some() {
        out.push(m.bypass());
    }
    if matches!(set, Trended::All | Trended::Usual | Trended::NoPressure) {
        for i in 0..b.coils.len() {
            m.coil(i, &mut out);
        }
    }
    out
}

fn celsius_as(f: bool, t: f64) -> f64 {
    if f { 1.8 * t + 32.0 } else { t }
}

impl Maker<'_> {
    fn name(&self, thing: &str, what: [&str; 4]) -> String {
        let w = what[self.style.names];
        match self.style.names {
            0 => format!("{thing} {w}"),
            1 => format!("{}/{w}", thing.replace(' ', "_")),
            2 => format!("{w} {thing}"),
            _ => format!("B07.{}.{w}", thing.replace([' ', '-'], "")),
        }
    }

    fn base(&self, point: Point, group: &str, name: String, role: &'static str) -> Channel {
        Channel {
            point,
            name,
            group: group.to_owned(),
            role,
            of: None,
            unit: None,
            lines: Vec::new(),
            decimals: 1,
            words: None,
            change: 0.0,
            values: Vec::new(),
        }
    }

    fn accuracy(&self, ch: &mut Channel, text: &str) {
        if self.style.accuracies {
            ch.lines.push(format!("accuracy = \"{text}\""));
        }
    }

    /// The value after a sensor fault, which works on what the sensor reads in SI.
    fn troubled(&self, point: Point, values: &mut [f64]) {
        for f in self.faults.iter().filter(|f| self.aims(f.point, point)) {
            let mut held = None;
            for (v, m) in values.iter_mut().zip(&self.rows) {
                if !f.span.holds(*m) {
                    continue;
                }
                match f.trouble {
                    Trouble::Bias(k) => *v += k,
                    Trouble::Scale(k) => *v *= k,
                    Trouble::Stuck => {
                        // It sticks at the first reading of a running plant.
                        let running = self.r.pumps.iter().any(|p| p.on[*m]);
                        if held.is_none() && running && v.abs() > 1e-6 {
                            held = Some(*v);
                        }
                        *v = held.unwrap_or(*v);
                    }
                    Trouble::Swapped | Trouble::Unit => {}
                }
            }
        }
    }

    fn aims(&self, aim: Point, point: Point) -> bool {
        match aim {
            Point::Power => point == Point::Power0(busiest(self.r)),
            Point::Header if self.all => point == Point::PumpHead(busiest(self.r)),
            _ => aim == point,
        }
    }

    fn wrong_unit(&self, point: Point) -> bool {
        self.faults.iter().any(|f| f.trouble == Trouble::Unit && self.aims(f.point, point))
    }

    fn speed(&mut self, i: usize) -> Channel {
        let p = &self.b.pumps[i];
        let mut ch = self.base(
            Point::Speed(i),
            &p.name,
            self.name(&p.name, ["Speed", "SPD_FB", "rotational speed", "n"]),
            "pump-speed",
        );
        ch.of = Some(p.name.clone());
        let t = &self.r.pumps[i];
        let phi = self.rows.iter().map(|m| f64::from(t.phi[*m]));
        let speed = self.rows.iter().map(|m| f64::from(t.speed[*m]));
        match self.style.speed {
            0 => {
                ch.unit = Some("%");
                ch.lines.push("percent_of = \"rated-speed\"".into());
                ch.values = speed.map(|s| 100.0 * s).collect();
            }
            1 => {
                ch.unit = Some("%");
                ch.lines.push("percent_of = \"rated-frequency\"".into());
                ch.values = phi.map(|s| 100.0 * s).collect();
            }
            2 => {
                ch.unit = Some("Hz");
                let f = rated_hz(self.b);
                ch.values = phi.map(|s| f * s).collect();
            }
            _ => {
                ch.unit = Some("rpm");
                ch.decimals = 0;
                let n = rated_rpm(self.b);
                ch.values = speed.map(|s| n * s).collect();
            }
        }
        ch.change = if ch.decimals == 0 { 5.0 } else { 0.2 };
        ch
    }

    fn status(&mut self, i: usize) -> Channel {
        let p = &self.b.pumps[i];
        let mut ch = self.base(
            Point::Status(i),
            &p.name,
            self.name(&p.name, ["Status", "RUN", "run state", "on"]),
            "pump-status",
        );
        ch.of = Some(p.name.clone());
        ch.words = Some(self.style.words);
        ch.values = self.rows.iter().map(|m| f64::from(u8::from(self.r.pumps[i].on[*m]))).collect();
        ch.change = 0.5;
        ch
    }

    fn power(&mut self, i: usize) -> Channel {
        let p = &self.b.pumps[i];
        let mut ch =
            self.base(Point::Power0(i), &p.name, self.name(&p.name, ["kW", "PWR", "power", "P"]), "pump-power");
        ch.of = Some(p.name.clone());
        let gain = 1.0 + 0.014 * self.c.bell();
        let mut values = self.noisy(&self.r.pumps[i].power, gain, 0.0, 0.01, 0.0);
        self.troubled(ch.point, &mut values);
        let (unit, factor, decimals) = match self.style.power {
            "W" => ("W", 1000.0, 0),
            "hp" => ("hp", 1.0 / 0.745_699_87, 2),
            _ => ("kW", 1.0, if p.motor.rated_kw < 3.0 { 3 } else { 2 }),
        };
        ch.values = values.into_iter().map(|v| factor * v).collect();
        (ch.unit, ch.decimals) = (Some(unit), decimals);
        if self.style.power_said {
            ch.lines.push("power_is = \"drive-input\"".into());
        }
        self.accuracy(&mut ch, "3 % of reading");
        ch.change = 0.01 * p.motor.rated_kw * factor;
        ch
    }

    /// Samples of a column with gain, offset and noise; what is exactly nothing (a standing pump) stays nothing.
    fn noisy(&self, column: &[f32], gain: f64, offset: f64, relative: f64, absolute: f64) -> Vec<f64> {
        let mut c = self.c.clone();
        self.rows
            .iter()
            .map(|m| {
                let v = f64::from(column[*m]);
                let noise = v * relative * c.bell() + absolute * c.bell();
                if v == 0.0 { 0.0 } else { v * gain + offset + noise }
            })
            .collect()
    }

    fn head(&mut self, point: Point) -> Channel {
        let (thing, what, role, of): (String, [&str; 4], &'static str, Option<String>) = match point {
            Point::PumpHead(i) => {
                let n = self.b.pumps[i].name.clone();
                (n.clone(), ["DP", "DPRESS", "head", "dp"], "pump-head", Some(n))
            }
            Point::Header => ("Header".into(), ["DP", "HDR_DP", "differential", "dp"], "pump-head", None),
            Point::Dp => ("System".into(), ["DP", "SYS_DP", "control pressure", "dpx"], "differential-pressure", None),
            _ => (
                "System".into(),
                ["DP SP", "SYS_DPSP", "pressure setpoint", "dpw"],
                "differential-pressure-setpoint",
                None,
            ),
        };
        let group = of.clone().unwrap_or_else(|| "plant".into());
        let mut ch = self.base(point, &group, self.name(&thing, what), role);
        ch.of = of;
        let column = match point {
            Point::PumpHead(i) => &self.r.pumps[i].head,
            Point::Header => &self.r.header,
            Point::Dp => &self.r.held,
            _ => &self.r.asked,
        };
        let set = point == Point::DpSet;
        let (gain, offset) = if set { (1.0, 0.0) } else { (1.0 + 0.008 * self.c.bell(), 0.4 * self.c.bell()) };
        let mut values = self.noisy(column, gain, offset, if set { 0.0 } else { 0.005 }, 0.0);
        self.troubled(point, &mut values);
        let (mut factor, decimals) = head_factor(self.style.head, self.b.water.density);
        ch.unit = Some(self.style.head);
        if self.wrong_unit(point) {
            // The export is in another unit than the plant file says.
            factor = if self.style.head == "psi" { 1.0 } else { 1.0 / 6.894_757 };
        }
        ch.values = values.into_iter().map(|v| factor * v).collect();
        ch.decimals = decimals - usize::from(self.style.coarse && decimals > 1);
        if !set {
            self.accuracy(&mut ch, "2 % of reading");
        }
        ch.change = 0.008 * self.b.control.design_kpa * factor;
        ch
    }

    fn flow(&mut self) -> Channel {
        let mut ch =
            self.base(Point::Flow, "plant", self.name("Loop", ["Flow", "FLOW", "water flow", "V"]), "loop-flow");
        let gain = 1.0 + 0.009 * self.c.bell();
        let mut values = self.noisy(&self.r.flow, gain, 0.0, 0.008, 0.002 * self.b.design_flow);
        self.troubled(Point::Flow, &mut values);
        let (factor, decimals) = match self.style.flow {
            "gpm" => (1.0 / 0.227_124_7, 0),
            "L/s" => (1.0 / 3.6, 2),
            _ => (1.0, 1),
        };
        ch.values = values.into_iter().map(|v| (factor * v).max(0.0)).collect();
        (ch.unit, ch.decimals) = (Some(self.style.flow), decimals);
        self.accuracy(&mut ch, "2 % of reading");
        ch.change = 0.01 * self.b.design_flow * factor;
        ch
    }

    fn celsius(&mut self, ch: &mut Channel, column: &[f32], offset: f64, noise: f64) {
        let mut values: Vec<f64> = self.noisy(column, 1.0, offset, 0.0, noise);
        self.troubled(ch.point, &mut values);
        ch.unit = Some(if self.style.ip_heat { "degF" } else { "degC" });
        let f = self.style.ip_heat != self.wrong_unit(ch.point);
        ch.values = values.into_iter().map(|v| celsius_as(f, v)).collect();
        ch.decimals = if self.style.coarse { 1 } else { 2 };
        ch.change = 0.15;
    }

    fn temperature(&mut self, point: Point) -> Channel {
        let medium = if self.b.heating { "HW" } else { "CHW" };
        let swapped = self.faults.iter().any(|f| f.trouble == Trouble::Swapped);
        let (what, role) = match point {
            Point::Supply => (["Supply Temp", "ST", "supply temperature", "TV"], "supply-temperature"),
            Point::Return => (["Return Temp", "RT", "return temperature", "TR"], "return-temperature"),
            _ => (["Outdoor Temp", "OAT", "outdoor temperature", "TA"], "outdoor-temperature"),
        };
        let thing = if point == Point::Outdoor { "Site" } else { medium };
        let mut ch = self.base(point, "plant", self.name(thing, what), role);
        let r = self.r;
        let column = match (point, swapped) {
            (Point::Supply, false) | (Point::Return, true) => &r.supply,
            (Point::Outdoor, _) => &r.outdoor,
            _ => &r.back,
        };
        let outdoor = point == Point::Outdoor;
        let offset = if outdoor { 0.4 } else { 0.1 } * self.c.bell();
        self.celsius(&mut ch, column, offset, if outdoor { 0.1 } else { 0.03 });
        if !outdoor {
            self.accuracy(&mut ch, "0.25 K");
        }
        ch
    }

    fn bypass(&mut self) -> Channel {
        let mut ch = self.base(
            Point::Bypass,
            "plant",
            self.name("Bypass", ["Pos", "BYP", "bypass valve", "Yb"]),
            "bypass-position",
        );
        ch.unit = Some("%");
        ch.values =
            self.noisy(&self.r.bypass_shown, 100.0, 0.0, 0.0, 0.2).iter().map(|v| v.clamp(0.0, 100.0)).collect();
        ch.change = 1.0;
        ch
    }

    fn mode(&mut self, i: usize) -> Channel {
        let p = &self.b.pumps[i];
        let mut ch =
            self.base(Point::Mode(i), &p.name, self.name(&p.name, ["Mode", "HOA", "mode", "mod"]), "pump-mode");
        ch.of = Some(p.name.clone());
        ch.words = Some(["Auto", "Hand"]);
        ch.values = self.rows.iter().map(|m| f64::from(u8::from(self.r.hand[*m]))).collect();
        ch.change = 0.5;
        ch
    }

    fn starts(&mut self, i: usize) -> Channel {
        let p = &self.b.pumps[i];
        let mut ch = self.base(
            Point::Starts(i),
            &p.name,
            self.name(&p.name, ["Starts", "STARTS", "starts", "cnt"]),
            "pump-starts",
        );
        ch.of = Some(p.name.clone());
        let before = (100.0 + 900.0 * self.c.share()).floor();
        ch.values = self.rows.iter().map(|m| before + f64::from(self.r.pumps[i].starts[*m])).collect();
        ch.decimals = 0;
        ch.change = 0.5;
        ch
    }

    fn coil(&mut self, i: usize, out: &mut Vec<Channel>) {
        let k = &self.b.coils[i];
        let r = self.r;
        let t = &r.coils[i];
        let of = Some(k.name.clone());
        if k.kind != Kind::Radiator {
            let mut ch = self.base(
                Point::Valve(i),
                &k.name,
                self.name(&k.name, ["Valve", "VLV", "valve position", "Y"]),
                "valve-position",
            );
            ch.of.clone_from(&of);
            let volts = self.style.valve;
            let (low, high) = match volts {
                0 => (0.0, 10.0),
                1 => (2.0, 10.0),
                _ => (0.0, 100.0),
            };
            let mut c = self.c.clone();
            ch.values = self
                .rows
                .iter()
                .map(|m| low + (high - low) * (f64::from(t.stem[*m]) + 0.002 * c.bell()).clamp(0.0, 1.0))
                .collect();
            if volts < 2 {
                ch.lines.push(format!("range = [{low}, {high}]"));
                ch.decimals = 2;
            } else {
                ch.unit = Some("%");
                ch.decimals = usize::from(!self.style.coarse);
            }
            ch.change = 0.015 * (high - low);
            out.push(ch);
        }
        if !self.all {
            return;
        }
        let mut back = self.base(
            Point::CoilReturn(i),
            &k.name,
            self.name(&k.name, ["Return Water", "LWT", "leaving water", "TRw"]),
            "coil-return-temperature",
        );
        back.of.clone_from(&of);
        let offset = 0.12 * self.c.bell();
        self.celsius(&mut back, &t.leaving, offset, 0.04);
        out.push(back);
        if k.kind != Kind::Air {
            return;
        }
        let offset = 0.15 * self.c.bell();
        for (point, what, role, column, offset, noise) in [
            (Point::Air(i), ["Supply Air", "SAT", "leaving air", "TZu"], "air-temperature", &t.air, offset, 0.06),
            (
                Point::AirSet(i),
                ["Supply Air SP", "SATSP", "leaving air setpoint", "TZuW"],
                "air-temperature-setpoint",
                &t.air_set,
                0.0,
                0.0,
            ),
        ] {
            let mut ch = self.base(point, &k.name, self.name(&k.name, what), role);
            ch.of.clone_from(&of);
            self.celsius(&mut ch, column, offset, noise);
            out.push(ch);
        }
    }
}

pub fn rated_hz(b: &Building) -> f64 {
    if b.site.zone.starts_with("America") { 60.0 } else { 50.0 }
}

pub fn rated_rpm(b: &Building) -> f64 {
    let poles: f64 = if b.seed.is_multiple_of(3) { 2.0 } else { 4.0 };
    let slip = b.pumps[0].motor.slip.max(0.02);
    (120.0 * rated_hz(b) / poles * (1.0 - slip) / 5.0).round() * 5.0
}

/// Readings per kPa, and decimals.
pub fn head_factor(unit: &str, density: f64) -> (f64, usize) {
    match unit {
        "bar" => (0.01, 3),
        "m" => (1000.0 / (9.80665 * density), 2),
        "psi" => (1.0 / 6.894_757, 2),
        "ft" => (1000.0 / (9.80665 * density * 0.3048), 1),
        _ => (1.0, 1),
    }
}
