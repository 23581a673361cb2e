//! The plant file that an engineer would hand over with the export.

use super::plan::{Curve, Mode, Plan, figures};
use super::pumps::Unit;
use super::sensors::{GPM, Key, Logger, Wrong, declared_unit, density};
use super::terminals::{Law, Port};
use crate::invented::plant::head_in;
use crate::simulator::calendar::DAY_MS;
use std::fmt::Write;

/// A flow, head or temperature in the units of the file.
struct Units {
    ip: bool,
    density: f64,
}

impl Units {
    fn flow(&self, m3h: f64) -> String {
        if self.ip { format!("{} gpm", figures(m3h * GPM)) } else { format!("{} m3/h", figures(m3h)) }
    }

    /// To four figures, so that a setpoint is what it is.
    fn head(&self, kpa: f64) -> String {
        if self.ip { format!("{:.2} ft", kpa * head_in("ft", self.density)) } else { format!("{kpa:.1} kPa") }
    }

    fn degrees(&self, c: f64) -> String {
        if self.ip { format!("{:.1} degF", c * 1.8 + 32.0) } else { format!("{c:.1} degC") }
    }
}

pub fn plant_file(plan: &Plan, logger: &Logger, keys: &[Key], wrong: &[Wrong], file: &str) -> String {
    let u = Units { ip: plan.ip, density: density(plan) };
    let mut t =
        format!("units = \"{}\"\n\n[site]\ntimezone = \"{}\"\n", if plan.ip { "IP" } else { "SI" }, plan.zone.name());
    t.push_str("energy_price = 0.19\ncurrency = \"EUR\"\n");
    let holidays: Vec<String> = plan.hours.holidays.iter().map(|d| format!("\"{}\"", date(plan, *d))).collect();
    let _ = writeln!(t, "holidays = [{}]\n", holidays.join(", "));
    t.push_str(&system(plan, &u));
    for (k, _) in plan.terminals.iter().enumerate() {
        t.push_str(&terminal(plan, &u, k));
    }
    t.push_str(&control(plan, &u));
    t.push_str(&schedule(plan));
    for unit in &plan.station.units {
        t.push_str(&pump(plan, &u, unit));
    }
    let _ = writeln!(t, "[trends]\nfiles = [\"{file}\"]");
    if logger.on_change {
        t.push_str("blank = \"unchanged\"\n");
    }
    t.push('\n');
    for key in keys {
        t.push_str(&point(plan, logger, *key, wrong));
    }
    t
}

fn date(plan: &Plan, day: i64) -> String {
    let l = plan.zone.local(plan.start_ms + day * DAY_MS + DAY_MS / 2);
    format!("{:04}-{:02}-{:02}", l.year, l.month, l.day)
}

fn system(plan: &Plan, u: &Units) -> String {
    let service = if plan.heating { "heating-water" } else { "chilled-water" };
    let back = if plan.heating { plan.supply_c - plan.delta_k } else { plan.supply_c + plan.delta_k };
    let three_way = plan.terminals.iter().any(|t| t.port == Port::ThreeWay);
    let bypass = if plan.minimum_flow.is_some() {
        "two-way"
    } else if three_way {
        "three-way-coils"
    } else {
        "none"
    };
    let mut t = format!(
        "[loop]\nservice = \"{service}\"\ndesign_flow = \"{}\"\ndesign_head = \"{}\"\nsupply_temperature = \"{}\"\n\
         return_temperature = \"{}\"\ntopology = \"primary-only\"\nbypass = \"{bypass}\"\npumps_on_duty = {}\n",
        u.flow(plan.design_flow),
        u.head(plan.design_head()),
        u.degrees(plan.supply_c),
        u.degrees(back),
        plan.duty,
    );
    if let Some(least) = plan.minimum_flow {
        let _ = writeln!(t, "minimum_flow = \"{}\"", u.flow(least));
    }
    if let Some(below) = plan.hours.frost {
        let _ = writeln!(t, "frost_protection_below = \"{}\"", u.degrees(below));
    }
    t.push('\n');
    t
}

fn terminal(plan: &Plan, u: &Units, k: usize) -> String {
    let c = &plan.terminals[k];
    let valve = match c.port {
        Port::TwoWay => "two-way",
        Port::ThreeWay => "three-way",
        Port::Independent => "pressure-independent",
    };
    let kind = if plan.radiators { "radiator" } else { "air-coil" };
    let mut t = format!(
        "[[coil]]\nname = \"{}\"\nterminal = \"{kind}\"\ndesign_flow = \"{}\"\ndesign_load = \"{} kW\"\nvalve = \"{valve}\"\n",
        c.name,
        u.flow(c.design_flow),
        figures(c.design_kw),
    );
    if c.port == Port::TwoWay {
        let law = if c.law == Law::Linear { "linear" } else { "equal-percentage" };
        let _ = writeln!(t, "characteristic = \"{law}\"");
    }
    if c.port == Port::Independent {
        let _ = writeln!(t, "minimum_differential_pressure = \"{}\"", u.head(c.least_kpa));
    }
    t.push('\n');
    t
}

fn settings(plan: &Plan, u: &Units, c: &Curve) -> String {
    match c.mode {
        Mode::Constant | Mode::Remote => format!("setpoint = \"{}\"\n", u.head(c.design)),
        Mode::Proportional | Mode::Quadratic => format!(
            "zero_flow_head = \"{}\"\ndesign_flow = \"{}\"\ndesign_head = \"{}\"\n",
            u.head(c.zero),
            u.flow(plan.design_flow),
            u.head(c.design)
        ),
    }
}

fn control(plan: &Plan, u: &Units) -> String {
    let mode = match plan.curve.mode {
        Mode::Constant => "constant-pressure",
        Mode::Remote => "remote-pressure",
        Mode::Proportional => "proportional",
        Mode::Quadratic => "quadratic",
    };
    let mut t = format!("[control]\nmode = \"{mode}\"\n{}", settings(plan, u, &plan.curve));
    if plan.curve.mode == Mode::Remote {
        let _ = writeln!(t, "sensor_at = \"{}\"", plan.terminals[plan.index].name);
    } else {
        let _ = writeln!(t, "head_at = \"{}\"", if plan.head_at_pump { "pump" } else { "header" });
    }
    if let Some((low, high)) = plan.reset {
        let _ = writeln!(
            t,
            "reset = \"most-open-valve\"\nsetpoint_low = \"{}\"\nsetpoint_high = \"{}\"",
            u.head(low),
            u.head(high)
        );
    }
    let _ = writeln!(t, "minimum_speed = \"{:.0} %\"\nmaximum_speed = \"100 %\"\n", 100.0 * plan.floor);
    if let Some((until, before)) = &plan.before {
        let l = plan.zone.local(*until);
        let _ = writeln!(t, "[[control_history]]\nuntil = \"{}\"\n{}", l.iso(), settings(plan, u, before));
    }
    t
}

fn schedule(plan: &Plan) -> String {
    let h = &plan.hours;
    if h.always {
        return String::new();
    }
    let clock = |x: f64| format!("{:02}:{:02}", x as u32, ((x.fract() * 60.0).round()) as u32);
    let days = if h.saturday { "mon-sat" } else { "mon-fri" };
    format!("[[schedule]]\ndays = \"{days}\"\nfrom = \"{}\"\nto = \"{}\"\n\n", clock(h.from), clock(h.to))
}

fn pump(plan: &Plan, u: &Units, unit: &Unit) -> String {
    let m = &unit.machine;
    let mut t = format!(
        "[[pump]]\nname = \"{}\"\nrated_speed = \"{:.0} rpm\"\nrated_frequency = \"{:.0} Hz\"\nmotor = \"{}\"\nmotor_power = \"{} kW\"\n\
         motor_efficiency = {:.3}\ndrive_efficiency = {:.2}\n",
        unit.name,
        m.plate_rpm,
        plan.mains_hz,
        if m.permanent { "permanent-magnet" } else { "induction" },
        m.motor_kw,
        m.motor_efficiency,
        m.drive_efficiency
    );
    if let Some(least) = plan.allowed {
        let _ = writeln!(t, "minimum_allowed_speed = \"{:.0} %\"", 100.0 * least);
    }
    t.push('\n');
    // A maker's sheet ends where the pump lifts nothing more.
    let lifts = |q: &f64| m.sheet.head(*q, 1.0) >= 0.0;
    let flows: Vec<f64> = (0..8).map(|k| figures(m.sheet.end_flow * f64::from(k) / 7.0)).filter(lifts).collect();
    let list = |f: &dyn Fn(f64) -> f64| flows.iter().map(|q| figures(f(*q)).to_string()).collect::<Vec<_>>().join(", ");
    let (unit_q, factor_q) = if plan.ip { ("gpm", GPM) } else { ("m3/h", 1.0) };
    let (unit_h, factor_h) = if plan.ip { ("ft", head_in("ft", u.density)) } else { ("kPa", 1.0) };
    let _ = writeln!(
        t,
        "[[pump.curve]]\nspeed = \"100 %\"\npower_is = \"shaft\"\nflow = {{ unit = \"{unit_q}\", values = [{}] }}\n\
         head = {{ unit = \"{unit_h}\", values = [{}] }}\npower = {{ unit = \"kW\", values = [{}] }}\n",
        list(&|q| factor_q * q),
        list(&|q| factor_h * m.sheet.head(q, 1.0)),
        list(&|q| m.sheet.shaft_power(q, 1.0)),
    );
    t
}

fn point(plan: &Plan, logger: &Logger, key: Key, wrong: &[Wrong]) -> String {
    let (role, of) = key.role(plan);
    let unit = declared_unit(plan, logger, key, wrong);
    let mut t = format!("[[point]]\nname = \"{}\"\nrole = \"{role}\"\n", key.name(plan));
    if let Some(of) = of {
        let _ = writeln!(t, "of = \"{of}\"");
    }
    if !unit.is_empty() {
        let _ = writeln!(t, "unit = \"{unit}\"");
    }
    match key {
        Key::Speed(p) if unit == "%" => {
            let hidden = plan.station.units[p].machine.slip_hidden;
            let of = if hidden { "rated-frequency" } else { "rated-speed" };
            let _ = writeln!(t, "percent_of = \"{of}\"");
        }
        Key::Power(_) => t.push_str("power_is = \"drive-input\"\n"),
        Key::Head(_) | Key::Header if logger.accuracy_declared => t.push_str("accuracy = \"2 % of reading\"\n"),
        Key::Supply | Key::Return if logger.accuracy_declared => {
            t.push_str(if plan.ip { "accuracy = \"0.4 delta_degF\"\n" } else { "accuracy = \"0.2 K\"\n" });
        }
        Key::Meter if logger.accuracy_declared => t.push_str("accuracy = \"2.5 % of reading\"\n"),
        _ => {}
    }
    t.push('\n');
    t
}
