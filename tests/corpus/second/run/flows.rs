//! Pipes and pumps within a minute: one header pressure at which the pumps give what the network takes.

use super::super::building::*;
use super::Run;

impl Run<'_> {
    pub(super) fn hydraulics(&mut self, m: usize, phis: &[f64; 4], dead: Option<Dead>) {
        let b = self.b;
        let building = self.pipes.solve(&self.branch, &mut self.shares);
        let bypass = self.bypass_conductance(m);
        let shut = dead.is_some_and(|d| d.main_shut);
        let c = if shut { 0.0 } else { building + bypass };
        let k_total = b.k_plant + if c > 1e-9 { 1.0 / (c * c) } else { 1e12 };
        let n = b.pumps.len();
        let mut speeds = [0.0; 4];
        let mut heads = [1.0; 4];
        for i in 0..n {
            let p = &b.pumps[i];
            heads[i] = self.head_left(m, i);
            if phis[i] > 0.0 {
                let q = self.pumps[i].guess.max(0.0);
                let torque = p.shaft(q, phis[i]) / p.motor.rated_kw / phis[i];
                speeds[i] = p.motor.speed(phis[i], torque);
            }
        }
        // Wear takes head at like flow and speed: the pump sees a header that much higher.
        let flow_of = |i: usize, header: f64, guess: f64| b.pumps[i].flow_at(header / heads[i], speeds[i], guess);
        let top = (0..n).map(|i| b.pumps[i].head(0.0, speeds[i].max(1e-3)).0 * heads[i]).fold(0.0, f64::max);
        let (mut low, mut high) = (0.0, top);
        let mut header = self.header.clamp(0.02 * top, 0.98 * top);
        let mut last: Option<(f64, f64)> = None;
        for _ in 0..40 {
            let sum: f64 = (0..n).map(|i| flow_of(i, header, self.pumps[i].guess)).sum();
            let f = sum - (header / k_total).sqrt();
            if f > 0.0 {
                low = header;
            } else {
                high = header;
            }
            let secant = last.map(|(h, g)| header - f * (header - h) / (f - g));
            last = Some((header, f));
            let next = secant.filter(|h| *h > low && *h < high).unwrap_or(0.5 * (low + high));
            if (next - header).abs() < 1e-4 * top.max(1e-9) {
                break;
            }
            header = next;
        }
        if top <= 0.0 {
            header = 0.0;
        }
        let flow = (header / k_total).sqrt();
        for i in 0..n {
            self.pumps[i].guess = if phis[i] > 0.0 { flow_of(i, header, self.pumps[i].guess) } else { 0.0 };
        }
        self.header = header;
        self.flow = flow;
        let root = if c > 1e-9 { flow / c } else { 0.0 };
        self.bypass.flow = bypass * root * if shut { 0.0 } else { 1.0 };
        for (i, s) in self.coils.iter_mut().enumerate() {
            s.through = if shut { 0.0 } else { self.shares[i] * root };
            s.flow = s.through * self.ports[i];
        }
        if m.is_multiple_of(5) {
            let flows: Vec<f64> = self.coils.iter().map(|s| s.through.max(1e-3)).collect();
            self.pipes.follow(&flows, b.water);
        }
        self.held = self.held_head(root * root);
    }

    pub(super) fn head_left(&self, m: usize, i: usize) -> f64 {
        match self.b.mischief.wear {
            Some((span, pump, lost, minutes)) if pump == i && m >= span.from => {
                1.0 - lost * ((m - span.from) as f64 / minutes.max(1.0)).min(1.0)
            }
            _ => 1.0,
        }
    }

    pub(super) fn bypass_conductance(&mut self, m: usize) -> f64 {
        let Some(bypass) = &self.b.bypass else { return 0.0 };
        self.bypass.drive(&bypass.valve);
        let f = bypass.valve.share(self.bypass.plug);
        let own = f / bypass.valve.k_open.sqrt();
        match self.b.mischief.bypass {
            Some((span, least, _)) if span.holds(m) => own.max(least),
            _ => own,
        }
    }

    /// What the control's sensor reads [kPa]; `building` is the head between the building's headers.
    pub(super) fn held_head(&self, building: f64) -> f64 {
        let c = &self.b.control;
        if c.mode == Mode::Remote {
            let s = &self.coils[c.sensor];
            let branch = self.branch[c.sensor];
            let plug_shut = branch <= 0.0 || s.through <= 0.0;
            // With its valve shut the sensor sees what reaches the branch: nothing is lost beyond the last flow.
            return if plug_shut { building } else { (s.through / branch) * (s.through / branch) };
        }
        if c.at_pump {
            let i =
                self.pumps.iter().position(|p| p.on && p.guess > 0.0).or_else(|| self.pumps.iter().position(|p| p.on));
            return i
                .map_or(0.0, |i| self.header + self.b.pumps[i].k_local * self.pumps[i].guess * self.pumps[i].guess);
        }
        self.header
    }
}
