//! The plant file that a careful person would have filled in.

use super::building::*;
use super::chance::Chance;
use super::export::{Channel, Style, head_factor, rated_hz, rated_rpm};
use super::files::{Look, Stamp, date};
use super::terminals::Kind;
use std::fmt::Write;

/// Three figures.
fn three(v: f64) -> f64 {
    if v == 0.0 {
        return 0.0;
    }
    let digits = 2 - libm::floor(libm::log10(v.abs())) as i32;
    let scale = libm::pow(10.0, f64::from(digits));
    (v * scale).round() / scale
}

struct Pen<'a> {
    b: &'a Building,
    style: &'a Style,
    out: String,
    c: Chance,
}

pub fn plant_toml(b: &Building, style: &Style, channels: &[Channel], look: &Look, minutes: u32) -> String {
    let mut p = Pen { b, style, out: String::new(), c: Chance::new(b.seed, 5) };
    p.site();
    p.the_loop();
    p.coils();
    p.control();
    p.schedule();
    for i in 0..b.pumps.len() {
        p.pump(i);
    }
    p.trends(look, minutes);
    for ch in channels {
        p.point(ch);
    }
    p.out
}

impl Pen<'_> {
    fn line(&mut self, text: impl AsRef<str>) {
        self.out.push_str(text.as_ref());
        self.out.push('\n');
    }
    fn flow(&self, m3h: f64) -> String {
        match self.style.flow {
            "gpm" => format!("{} gpm", three(m3h / 0.227_124_7)),
            "L/s" => format!("{} L/s", three(m3h / 3.6)),
            _ => format!("{} m3/h", three(m3h)),
        }
    }
    fn head(&self, kpa: f64) -> String {
        let (factor, _) = head_factor(self.style.head, self.b.water.density);
        format!("{} {}", three(kpa * factor), self.style.head)
    }
    fn warm(&self, c: f64) -> String {
        if self.style.ip_heat { format!("{:.1} degF", 1.8 * c + 32.0) } else { format!("{c:.1} degC") }
    }

    fn site(&mut self) {
        let b = self.b;
        let ip = b.site.zone.starts_with("America");
        self.line(format!("units = \"{}\"\n\n[site]", if ip { "IP" } else { "SI" }));
        self.line(format!("name = \"{}\"\ntimezone = \"{}\"", b.name, b.site.zone));
        if self.c.yes(0.8) {
            let price = self.c.between(0.1, 0.3);
            self.line(format!("currency = \"EUR\"\nenergy_price = {price:.2}"));
        }
        if !b.site.holidays.is_empty() {
            let days: Vec<String> = b
                .site
                .holidays
                .iter()
                .map(|d| {
                    let (y, m, d) = date(*d);
                    format!("\"{y}-{m:02}-{d:02}\"")
                })
                .collect();
            self.line(format!("holidays = [{}]", days.join(", ")));
        }
    }

    fn the_loop(&mut self) {
        let b = self.b;
        self.line("\n[loop]\nname = \"Loop 1\"");
        self.line(format!(
            "service = \"{}\"\nfluid = \"water\"",
            if b.heating { "heating-water" } else { "chilled-water" }
        ));
        self.line(format!("design_flow = \"{}\"", self.flow(b.design_flow)));
        let head = b.control.design_kpa
            + if b.control.at_pump {
                0.0
            } else {
                let each = b.design_flow / b.duty as f64;
                b.pumps[0].k_local * each * each
            };
        self.line(format!("design_head = \"{}\"", self.head(head)));
        self.line(format!("supply_temperature = \"{}\"", self.warm(b.supply_c)));
        self.line(format!("return_temperature = \"{}\"", self.warm(b.return_c)));
        self.line(format!("topology = \"{}\"", b.topology));
        let bypass = if b.bypass.is_some() {
            "two-way"
        } else if b.coils.iter().any(|k| k.valve.three_way) {
            "three-way-coils"
        } else {
            "none"
        };
        self.line(format!("bypass = \"{bypass}\""));
        if let Some(y) = &b.bypass {
            self.line(format!("minimum_flow = \"{}\"", self.flow(y.least_flow)));
        }
        self.line(format!("pumps_on_duty = {}\nserves = \"comfort\"", b.duty));
        if let Some(frost) = b.frost_c {
            self.line(format!("frost_protection_below = \"{}\"", self.warm(frost)));
        }
        if let Some(least) = b.source_least {
            self.line(format!("\n[[source]]\nname = \"{}\"", if b.heating { "Boiler" } else { "Chiller" }));
            self.line(format!("minimum_flow = \"{}\"", self.flow(least)));
        }
    }

    fn coils(&mut self) {
        for (i, k) in self.b.coils.iter().enumerate() {
            let terminal = match k.kind {
                Kind::Air => "air-coil",
                Kind::FanCoil => "fan-coil",
                Kind::Radiator => "radiator",
            };
            self.line(format!("\n[[coil]]\nname = \"{}\"\nterminal = \"{terminal}\"\ncount = {}", k.name, k.count));
            self.line(format!("design_flow = \"{}\"\ndesign_load = \"{} kW\"", self.flow(k.flow), three(k.load_kw)));
            let valve = match (k.kind, k.valve.three_way) {
                (_, true) => "three-way",
                (Kind::Radiator, _) => "thermostatic",
                _ => "two-way",
            };
            self.line(format!("valve = \"{valve}\""));
            if k.kind != Kind::Radiator {
                let kind = if k.valve.equal_percentage { "equal-percentage" } else { "linear" };
                self.line(format!("characteristic = \"{kind}\""));
            }
            if i == self.b.control.sensor {
                self.line("index = true");
            }
            if self.b.heating && k.kind == Kind::Air {
                self.line("freeze_risk = true");
            }
        }
    }

    /// The lines of a setting whose heads are asked times a factor.
    fn heads(&mut self, factor: f64) {
        let c = &self.b.control;
        let text = match c.mode {
            Mode::Proportional | Mode::Quadratic => format!(
                "zero_flow_head = \"{}\"\ndesign_head = \"{}\"",
                self.head(factor * c.zero_kpa),
                self.head(factor * c.design_kpa)
            ),
            Mode::Constant | Mode::Remote => format!("setpoint = \"{}\"", self.head(factor * c.set_kpa)),
            Mode::Fixed => return,
        };
        self.line(text);
    }

    fn control(&mut self) {
        let c = &self.b.control;
        let mode = match c.mode {
            Mode::Constant => "constant-pressure",
            Mode::Remote => "remote-pressure",
            Mode::Proportional => "proportional",
            Mode::Quadratic => "quadratic",
            Mode::Fixed => "fixed-speed",
        };
        self.line(format!("\n[control]\nmode = \"{mode}\""));
        if c.mode != Mode::Remote && c.mode != Mode::Fixed {
            self.line(format!("head_at = \"{}\"", if c.at_pump { "pump" } else { "header" }));
        }
        if matches!(c.mode, Mode::Proportional | Mode::Quadratic) {
            self.line(format!("design_flow = \"{}\"", self.flow(self.b.design_flow)));
        }
        self.heads(1.0);
        if c.mode == Mode::Remote {
            let name = self.b.coils[c.sensor].name.clone();
            self.line(format!("sensor_at = \"{name}\""));
        }
        if let Some((low, high)) = c.reset {
            let text = format!(
                "reset = \"most-open-valve\"\nsetpoint_low = \"{}\"\nsetpoint_high = \"{}\"",
                self.head(low),
                self.head(high)
            );
            self.line(text);
        }
        if c.mode != Mode::Fixed {
            self.line(format!(
                "minimum_speed = \"{:.0} %\"\nmaximum_speed = \"{:.0} %\"",
                100.0 * c.floor,
                100.0 * c.top
            ));
        }
        if let Some((until, factor)) = c.earlier {
            let (day, hour) = self.b.site.local(until);
            let (y, m, d) = date(day);
            let minute = (hour * 60.0).round() as i64;
            self.line("\n[[control_history]]");
            self.line(format!("until = \"{y}-{m:02}-{d:02} {:02}:{:02}\"", minute / 60, minute % 60));
            self.heads(factor);
        }
    }

    fn schedule(&mut self) {
        const DAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
        let clock = |h: f64| format!("{:02}:{:02}", h as u32, ((h.fract() * 60.0).round()) as u32);
        for p in &self.b.schedule.clone() {
            let days: Vec<&str> = (0..7).filter(|d| p.days[*d]).map(|d| DAYS[d]).collect();
            let days = days.join(", ");
            self.line(format!(
                "\n[[schedule]]\ndays = \"{days}\"\nfrom = \"{}\"\nto = \"{}\"",
                clock(p.from_h),
                clock(p.to_h)
            ));
        }
    }

    fn pump(&mut self, i: usize) {
        let p = &self.b.pumps[i];
        let m = &p.motor;
        self.line(format!("\n[[pump]]\nname = \"{}\"", p.name));
        self.line(format!(
            "rated_speed = \"{:.0} rpm\"\nrated_frequency = \"{:.0} Hz\"",
            rated_rpm(self.b),
            rated_hz(self.b)
        ));
        if self.b.maker_said {
            self.line(format!("minimum_allowed_speed = \"{:.0} %\"", 100.0 * self.b.maker_least));
        }
        self.line(format!("motor = \"{}\"", if m.permanent { "permanent-magnet" } else { "induction" }));
        self.line(format!("motor_power = \"{} kW\"\nmotor_efficiency = {:.3}", three(m.rated_kw), m.eta));
        self.line(format!("drive_efficiency = {:.2}", m.drive_eta));
        // The same sheet for pumps of one type.
        let mut c = Chance::new(self.b.seed, 6);
        let (points, as_efficiency, second) = (c.whole(6, 9), c.yes(0.4), c.yes(0.25));
        self.curve(i, 1.0, points, as_efficiency);
        if second {
            self.curve(i, 0.75, points, as_efficiency);
        }
    }

    fn curve(&mut self, i: usize, s: f64, points: usize, as_efficiency: bool) {
        let p = &self.b.pumps[i];
        let mut end = 1.6;
        while p.shape.at(end).0 < 0.3 {
            end -= 0.05;
        }
        let flows: Vec<f64> = (0..points).map(|j| three(end * s * p.q_b * j as f64 / (points - 1) as f64)).collect();
        let (factor, _) = head_factor(self.style.head, self.b.water.density);
        let heads: Vec<f64> = flows.iter().map(|q| p.h_b * s * s * p.shape.at(q / (s * p.q_b)).0).collect();
        let join = |v: &mut dyn Iterator<Item = f64>| v.map(|x| format!("{x}")).collect::<Vec<_>>().join(", ");
        let (unit, scale) = match self.style.flow {
            "gpm" => ("gpm", 1.0 / 0.227_124_7),
            "L/s" => ("L/s", 1.0 / 3.6),
            _ => ("m3/h", 1.0),
        };
        let mut text = format!("\n[[pump.curve]]\nspeed = \"{:.0} %\"\npower_is = \"shaft\"\n", 100.0 * s);
        let q = join(&mut flows.iter().map(|q| three(q * scale)));
        let h = join(&mut heads.iter().map(|h| three(h * factor)));
        let _ = writeln!(text, "flow = {{ unit = \"{unit}\", values = [{q}] }}");
        let _ = writeln!(text, "head = {{ unit = \"{}\", values = [{h}] }}", self.style.head);
        let shaft: Vec<f64> = flows.iter().map(|q| p.type_shaft(*q, s)).collect();
        if as_efficiency {
            let e = join(&mut (0..points).map(|j| (1000.0 * flows[j] * heads[j] / 3600.0 / shaft[j]).round() / 1000.0));
            let _ = writeln!(text, "efficiency = {{ values = [{e}] }}");
        } else {
            let e = join(&mut shaft.iter().map(|p| three(*p)));
            let _ = writeln!(text, "power = {{ unit = \"kW\", values = [{e}] }}");
        }
        self.out.push_str(&text);
    }

    fn trends(&mut self, look: &Look, minutes: u32) {
        self.line(format!("\n[trends]\nfiles = [\"exports/*.csv\"]\ninterval = \"{minutes} min\""));
        match look.stamp {
            Stamp::DayFirst => self.line("day_first = true"),
            Stamp::MonthFirst => self.line("day_first = false"),
            _ => {}
        }
    }

    fn point(&mut self, ch: &Channel) {
        self.line(format!("\n[[point]]\nname = \"{}\"\nrole = \"{}\"", ch.name, ch.role));
        if let Some(of) = &ch.of {
            self.line(format!("of = \"{of}\""));
        }
        if let Some(unit) = ch.unit {
            self.line(format!("unit = \"{unit}\""));
        }
        for l in &ch.lines {
            self.line(l);
        }
    }
}
