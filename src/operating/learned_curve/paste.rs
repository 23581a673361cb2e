//! A learned curve as text to paste into the plant file, below its `[[pump]]`.
//!
//! Shaft power stands in one table at full speed: the review adds the losses. Drive input with a constant part stands in several, since
//! a plant file has no word for that part: between tested speeds the review interpolates.

use super::LearnedCurve;
use crate::plant::{PowerIs, TestedCurve, UnitSystem};
use crate::quantity::{Flow, Fraction, Power, Pressure};
use std::fmt::Write as _;

/// Ratio of one table's speed to the next: the constant part over the cube of speed is then interpolated to a twentieth of itself, which
/// is less than a hundredth of power.
const SPEED_RATIO: f64 = 0.85;
/// No table closer to full speed than this [-].
const BELOW_FULL: f64 = 0.9;
/// No table below this speed [-], which a plant file would refuse.
const LEAST_SPEED: f64 = 0.1;
/// A doubt about power at other speeds that is worth a word [-]: as much as a power reading's own scale.
const DOUBTFUL: f64 = 0.015;

impl LearnedCurve {
    /// The `[[pump.curve]]` blocks of pump `name`; `seen` tells in the comment when the flow was metered, such as two dates.
    #[must_use]
    pub fn to_toml(&self, units: UnitSystem, name: &str, seen: &str) -> String {
        let mut out = self.comment(name, seen);
        for speed in self.table_speeds() {
            self.block(&mut out, units, speed);
        }
        out
    }

    /// The curves as this review uses them. `as_trended`: at several speeds, with the power that the trend shows there; else at full speed alone, with
    /// the losses of motor and drive still to come. Without a head curve head stands at nothing: only power is to be asked.
    #[must_use]
    pub fn tables(&self, as_trended: bool) -> Vec<TestedCurve> {
        let speeds = if as_trended { self.trended_speeds() } else { vec![1.0] };
        let mut out: Vec<TestedCurve> = speeds.into_iter().map(|speed| self.table_at(speed, as_trended)).collect();
        out.sort_by(|a, b| b.speed.in_of_one().total_cmp(&a.speed.in_of_one()));
        out
    }

    fn table_at(&self, speed: f64, as_trended: bool) -> TestedCurve {
        let flow: Vec<f64> = self.flow_m3h.iter().map(|q| q * speed).collect();
        let head = if self.head_kpa.is_empty() {
            vec![0.0; flow.len()]
        } else {
            self.head_kpa.iter().map(|h| h * speed * speed).collect()
        };
        let power: Vec<f64> = match (self.power_kw.is_empty(), as_trended) {
            (true, _) => Vec::new(),
            (false, true) => flow.iter().map(|q| self.shown_kw(*q, speed, 1.0)).collect(),
            (false, false) => self.power_kw.clone(),
        };
        TestedCurve {
            speed: Fraction::of_one(speed),
            power_is: if as_trended { PowerIs::DriveInput } else { PowerIs::Shaft },
            tolerance: None,
            head_flow_m3h: flow.clone(),
            head_kpa: head,
            power_flow_m3h: if power.is_empty() { Vec::new() } else { flow },
            power_kw: power,
        }
    }

    /// Speeds from somewhat below the lowest seen to somewhat above the highest [-].
    fn trended_speeds(&self) -> Vec<f64> {
        let top = (self.speed_to / SPEED_RATIO).max(1.0);
        let mut speeds = vec![top];
        let mut speed = top;
        while speed > self.speed_from {
            speed *= SPEED_RATIO;
            speeds.push(speed);
        }
        speeds
    }

    fn comment(&self, name: &str, seen: &str) -> String {
        let mut out = format!(
            "# Learned from metered flow: {}, {}.\n# {} steady rows on {} days, speeds from {:.0} to {:.0} %.\n",
            one_line(name),
            one_line(seen),
            self.rows,
            self.days,
            100.0 * self.speed_from,
            100.0 * self.speed_to
        );
        let mut errors = Vec::new();
        if !self.head_kpa.is_empty() {
            errors.push(format!("head {:.1} %", 100.0 * self.head_error));
        }
        if !self.power_kw.is_empty() {
            errors.push(format!("power {:.1} %", 100.0 * self.power_error));
        }
        if self.flow_error.is_finite() {
            errors.push(format!("flow {:.1} % of the largest", 100.0 * self.flow_error));
        }
        let _ = writeln!(out, "# Standard error on days held out: {}.", errors.join(", "));
        out.push_str(
            "# The meter's and the sensors' own constant errors come on top; so does wear since.\n\
             # Outside these flows nothing was seen.\n",
        );
        if self.power_doubt > DOUBTFUL {
            out.push_str(
                "# Speed followed flow all the time, so power at other settings is less sure: some days with another setpoint, \
                 metered, would settle it.\n",
            );
        }
        if self.power_is == PowerIs::DriveInput && self.constant_kw > 0.0 {
            let _ = writeln!(
                out,
                "# {} kW of the power at full speed does not fall with the cube of speed, hence a table for each of several speeds.",
                figures(self.constant_kw)
            );
        }
        out
    }

    fn block(&self, out: &mut String, units: UnitSystem, speed: f64) {
        let (flow_unit, head_unit, power_unit) = match (units, self.power_is) {
            (UnitSystem::Si, _) => ("m3/h", "kPa", "kW"),
            (UnitSystem::Ip, PowerIs::Shaft) => ("gpm", "psi", "hp"),
            (UnitSystem::Ip, _) => ("gpm", "psi", "kW"),
        };
        let si = units == UnitSystem::Si;
        let flow = |v: &f64| if si { v * speed } else { Flow::m3h(v * speed).in_gpm() };
        let head = |v: &f64| {
            let kpa = v * speed.powi(2);
            if si { kpa } else { Pressure::kpa(kpa).in_psi() }
        };
        let power = |(q, v): (&f64, &f64)| {
            let kw = if speed == 1.0 { *v } else { self.shown_kw(q * speed, speed, 1.0) };
            if power_unit == "hp" { Power::kw(kw).in_hp() } else { kw }
        };
        let _ = writeln!(out, "[[pump.curve]]\nspeed = \"{:.0} %\"", 100.0 * speed);
        if !self.power_kw.is_empty() {
            let word = if self.power_is == PowerIs::Shaft { "shaft" } else { "drive-input" };
            let _ = writeln!(out, "power_is = \"{word}\"");
        }
        line(out, "flow", flow_unit, self.flow_m3h.iter().map(flow));
        if !self.head_kpa.is_empty() {
            line(out, "head", head_unit, self.head_kpa.iter().map(head));
        }
        if !self.power_kw.is_empty() {
            line(out, "power", power_unit, self.flow_m3h.iter().zip(&self.power_kw).map(power));
        }
    }

    /// Speeds to write tables at [-], in whole percent: full speed, and lower ones where power has a constant part.
    fn table_speeds(&self) -> Vec<f64> {
        let mut speeds = vec![1.0];
        if self.power_is == PowerIs::DriveInput && self.constant_kw > 0.0 {
            let mut speed = (self.speed_from.max(LEAST_SPEED) * 100.0).ceil() / 100.0;
            while speed < BELOW_FULL {
                speeds.push(speed);
                speed = (speed / SPEED_RATIO * 100.0).round() / 100.0;
            }
        }
        speeds[1..].reverse();
        speeds
    }
}

fn line(out: &mut String, key: &str, unit: &str, values: impl Iterator<Item = f64>) {
    let values: Vec<String> = values.map(figures).collect();
    let _ = writeln!(out, "{key} = {{ unit = \"{unit}\", values = [{}] }}", values.join(", "));
}

/// Four figures: ten times finer than any curve is known.
fn figures(v: f64) -> String {
    let digits = (3.0 - v.abs().max(1e-3).log10().floor()).clamp(0.0, 6.0) as usize;
    format!("{v:.digits$}")
}

/// A name from outside must not end a comment.
fn one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}
