//! What commands the pumps: speed, staging, the bypass, the reset, and hunting.

use super::super::building::*;
use super::{Rocking, Run};

impl Run<'_> {
    /// Frequency of each pump, and where its base lies: on the floor, at the top.
    pub(super) fn speeds(
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
    pub(super) fn rocked(&mut self, m: usize, day: i64, hour: f64, on: usize, base: f64) -> (f64, bool) {
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

    /// What the control asks [kPa] now.
    pub(super) fn asks(&self, m: usize) -> f64 {
        let b = self.b;
        let plain = if b.control.reset.is_some() { self.set } else { b.curve(self.flow) };
        let earlier = b.control.earlier.filter(|(until, _)| m < *until).map_or(1.0, |(_, f)| f);
        let off = b.mischief.off_curve.filter(|(s, _)| s.holds(m)).map_or(0.0, |(_, kpa)| kpa);
        (plain * earlier + off).max(5.0)
    }

    pub(super) fn regulate(&mut self, m: usize, on: usize) {
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

    pub(super) fn bypass_control(&mut self, on: usize) {
        let Some(bypass) = &self.b.bypass else { return };
        if on == 0 {
            self.bypass.command = 0.0;
            return;
        }
        let short = (1.05 * bypass.least_flow - self.flow) / bypass.least_flow;
        self.bypass.command = (self.bypass.command + (0.35 * short).clamp(-0.06, 0.12)).clamp(0.0, 1.0);
    }

    pub(super) fn reset(&mut self, m: usize) {
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

    pub(super) fn staging(&mut self, m: usize, on: usize) {
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
}
