//! What is kept of a minute, and what would have been enough.

use super::super::building::*;
use super::super::terminals::*;
use super::Run;
use super::heat::air_target;

impl Run<'_> {
    pub(super) fn keep(
        &mut self,
        m: usize,
        wanted: bool,
        on: usize,
        phis: &[f64; 4],
        at: (bool, bool, bool),
        dead: Option<Dead>,
    ) {
        let b = self.b;
        if m.is_multiple_of(10) && on > 0 {
            self.need = self.need_now();
            self.fewer = self.fewer_would_do(on, phis);
        }
        for i in 0..b.pumps.len() {
            let (p, phi) = (&b.pumps[i], phis[i]);
            let q = self.pumps[i].guess;
            let (mut s, mut head, mut kw) = (0.0, 0.0, 0.0);
            if phi > 0.0 {
                let torque = p.shaft(q, phi) / p.motor.rated_kw / phi;
                s = p.motor.speed(phi, torque);
                head = self.head_left(m, i) * p.head(q, s).0;
                kw = p.motor.input(p.shaft(q, s), phi, s);
            }
            let t = &mut self.record.pumps[i];
            t.on.push(self.pumps[i].on);
            t.phi.push(phi as f32);
            t.speed.push(s as f32);
            t.flow.push(q as f32);
            t.head.push(head as f32);
            t.power.push(kw as f32);
            t.starts.push(self.pumps[i].starts);
        }
        for (i, (s, k)) in self.coils.iter().zip(&b.coils).enumerate() {
            let t = &mut self.record.coils[i];
            t.stem.push(s.stem as f32);
            t.flow.push(s.flow as f32);
            t.leaving.push(s.leaving as f32);
            t.air.push(s.air as f32);
            t.air_set.push(air_target(b, k, self.outdoor, m, i) as f32);
            t.fan.push(s.fan as f32);
        }
        let shown = match b.mischief.bypass {
            Some((span, least, true)) if span.holds(m) => self.bypass.stem.max(shown_for(b, least)),
            _ => self.bypass.stem,
        };
        let running = on > 0;
        let short = |(s, k): (&CoilState, &Coil)| {
            let wide = if k.panel.is_some() { s.command > 0.9 } else { s.stem > 0.97 && s.last_error > 0.7 };
            wide && s.flow < 0.93 * k.flow && !k.valve.three_way
        };
        let starving = running && self.coils.iter().zip(&b.coils).any(short);
        let curve = b.curve(self.flow) * b.control.earlier.filter(|(until, _)| m < *until).map_or(1.0, |(_, f)| f);
        let r = &mut self.record;
        r.outdoor.push(self.outdoor as f32);
        r.supply.push(self.supply as f32);
        r.back.push(self.back as f32);
        r.flow.push(self.flow as f32);
        r.header.push(if running { self.header as f32 } else { 0.0 });
        r.held.push(if running { self.held as f32 } else { 0.0 });
        r.asked.push(self.asked as f32);
        r.curve.push(curve as f32);
        r.curve_head.push(self.held as f32);
        r.bypass_flow.push(self.bypass.flow as f32);
        r.bypass_shown.push(shown as f32);
        r.hand.push(b.mischief.hand.is_some_and(|(s, _)| s.holds(m)));
        r.wanted.push(wanted);
        r.need.push(self.need as f32);
        r.on_floor.push(running && at.0);
        r.at_top.push(running && at.1);
        r.starving.push(starving);
        r.fewer.push(running && self.fewer);
        r.swinging.push(running && at.2);
        r.dead.push(dead.is_some());
    }

    /// Head between the pumps' headers that would do [kPa].
    pub(super) fn need_now(&self) -> f64 {
        let b = self.b;
        let main = b.k_plant * self.flow * self.flow;
        let building = (self.header - main).max(0.0);
        let mut need: f64 = 0.0;
        for (i, (k, s)) in b.coils.iter().zip(&self.coils).enumerate() {
            if s.flow < 0.02 * k.flow || self.branch[i] <= 0.0 {
                continue;
            }
            let here = (s.through / self.branch[i]) * (s.through / self.branch[i]);
            need = need.max(building - here + k.branch_need(s.flow, 0.9));
        }
        main + need
    }

    /// Whether one pump fewer would give this flow at this header head with less power.
    pub(super) fn fewer_would_do(&self, on: usize, phis: &[f64; 4]) -> bool {
        if on < 2 || self.flow <= 0.0 {
            return false;
        }
        let p = &self.b.pumps[0];
        let each = self.flow / (on as f64 - 1.0);
        let s = p.speed_for(each, self.header);
        if s > 0.97 * self.b.control.top || s < self.b.control.floor {
            return false;
        }
        let fewer = (on as f64 - 1.0) * p.motor.input(p.shaft(each, s), s, s);
        let now: f64 = (0..self.b.pumps.len())
            .filter(|i| phis[*i] > 0.0)
            .map(|i| {
                let q = &self.b.pumps[i];
                q.motor.input(q.shaft(self.pumps[i].guess, phis[i]), phis[i], phis[i])
            })
            .sum();
        fewer < 0.97 * now
    }
}

/// Position at which the bypass valve has a conductance.
pub fn shown_for(b: &Building, conductance: f64) -> f64 {
    let Some(bypass) = &b.bypass else { return 0.0 };
    let wanted = (conductance * bypass.valve.k_open.sqrt()).min(1.0);
    (0..=100).map(|j| 0.01 * f64::from(j)).find(|x| bypass.valve.share(*x) >= wanted).unwrap_or(1.0)
}
