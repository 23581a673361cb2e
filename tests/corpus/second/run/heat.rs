//! Valves, coils and rooms within a minute.

use super::super::building::*;
use super::super::terminals::*;
use super::Run;

impl Run<'_> {
    pub(super) fn valves(&mut self, m: usize, hour: f64, occupied: bool) {
        let b = self.b;
        let sun = self.sun(hour);
        let running = self.pumps.iter().any(|p| p.on);
        let steady = b.steady_week.is_some_and(|w| (w * 10_080..(w + 1) * 10_080).contains(&m));
        for (i, (k, s)) in b.coils.iter().zip(&mut self.coils).enumerate() {
            if m.is_multiple_of(30) {
                s.wander = 0.97 * s.wander + 0.018 * self.c.bell();
            }
            let own = k.own + if steady { 0.0 } else { s.wander };
            let set = if occupied || k.critical_hours { k.room.set_c } else { k.room.setback_c };
            match k.kind {
                Kind::Air => {
                    let outer = if b.heating { 16.0 - self.outdoor } else { self.outdoor - 14.0 };
                    let busy = if occupied { 0.3 } else { 0.0 };
                    let pull = if steady {
                        0.55
                    } else {
                        0.15 + 0.035 * outer + 0.2 * sun * f64::from(u8::from(!b.heating)) + busy
                    };
                    let fan_on = occupied || k.critical_hours || b.schedule.is_empty();
                    let turn = if k.variable_air { (0.35 + 0.65 * pull * own).clamp(0.35, 1.0) } else { 1.0 };
                    s.fan = if fan_on { turn } else { 0.0 };
                    let target = air_target(b, k, self.outdoor, m, i);
                    if fan_on && running {
                        let e = if b.heating { target - s.air } else { s.air - target };
                        s.control(e, k.gain, k.reset_min);
                    } else {
                        s.command = 0.0;
                        s.last_error = 0.0;
                    }
                }
                Kind::FanCoil => {
                    let e = if b.heating { set - s.room } else { s.room - set };
                    s.fan = if e > 1.0 {
                        1.0
                    } else if e > 0.2 {
                        0.8
                    } else {
                        0.6
                    };
                    s.control(e, k.gain, k.reset_min);
                }
                Kind::Radiator => {
                    s.fan = 1.0;
                    s.head_sensor += (s.room - s.head_sensor) / 25.0;
                    s.command = ((k.room.set_c + 1.0 - s.head_sensor) / 2.0).clamp(0.0, 1.0);
                }
            }
            s.drive(&k.valve);
            let (coil, port) = k.conductance(s.plug, s.through.max(0.08 * k.flow));
            self.branch[i] = coil + port;
            self.ports[i] = if coil + port > 0.0 { coil / (coil + port) } else { 0.0 };
        }
    }

    pub(super) fn heat(&mut self, m: usize, occupied: bool, hour: f64) {
        let b = self.b;
        let sun = self.sun(hour);
        let (mut mixed, mut total) = (0.0, 0.0);
        let sign = if b.heating { 1.0 } else { -1.0 };
        for (i, (k, s)) in b.coils.iter().zip(&mut self.coils).enumerate() {
            let fouled = b.mischief.foul.as_ref().is_some_and(|(span, which)| span.holds(m) && which.contains(&i));
            let w = s.flow / k.flow;
            let (supply, mut kw) = (self.supply, 0.0);
            if let Some(panel) = &k.panel {
                let excess = (supply - s.room).max(0.5);
                if w > 0.005 {
                    let leaving = s.room + excess * panel.leaving(w, excess);
                    kw = WATER_KWH * s.flow * (supply - leaving);
                }
            } else if s.fan > 0.0 {
                let table = if fouled { &k.fouled } else { &k.clean };
                let entering = if k.kind == Kind::Air {
                    k.outdoor_share * self.outdoor + (1.0 - k.outdoor_share) * if b.heating { 20.5 } else { 24.0 }
                } else {
                    s.room
                };
                let heat = table.at(w, s.fan) * k.bundle.air * s.fan * (supply - entering);
                kw = sign * heat;
                let air = entering + heat / (k.bundle.air * s.fan);
                s.air += (air - s.air) / 2.5;
            } else {
                s.air += (s.room - s.air) / 30.0;
            }
            let out = if s.flow > 0.004 * k.flow {
                supply - sign * kw / (WATER_KWH * s.flow)
            } else {
                s.leaving + (22.0 - s.leaving) / 60.0
            };
            s.leaving += (out - s.leaving) / (1.0 + 1.2 / (w + 0.15));
            mixed += s.flow * s.leaving + (s.through - s.flow) * supply;
            total += s.through;
            if k.kind != Kind::Air {
                let r = &k.room;
                let people = if occupied { r.people_kw } else { 0.08 * r.people_kw };
                let gains = (people + r.sun_kw * sun) * (k.own + s.wander) + r.outside_kw_k * (self.outdoor - s.room);
                let walls = r.between_kw_k * (s.mass - s.room);
                s.room += (gains + walls + sign * kw) / r.air_kwh_k / 60.0;
                s.mass -= walls / r.mass_kwh_k / 60.0;
                if k.panel.is_some() || s.fan <= 0.0 {
                    s.air = s.room;
                }
            }
        }
        mixed += self.bypass.flow * self.supply;
        total += self.bypass.flow;
        if total > 0.005 * b.design_flow {
            let lag = 1.0 + 3.0 * b.design_flow / total.max(0.05 * b.design_flow) / 4.0;
            self.back += (mixed / total - self.back) / lag;
        }
    }
}

/// Leaving air that the controller is set to [degC].
pub(super) fn air_target(b: &Building, k: &Coil, outdoor: f64, m: usize, i: usize) -> f64 {
    let plain = if b.heating { k.air_set - 0.25 * (outdoor + 10.0).clamp(0.0, 24.0) } else { k.air_set };
    match &b.mischief.air {
        Some((span, which, off)) if span.holds(m) && which.contains(&i) => {
            if b.heating {
                plain + off
            } else {
                plain - off
            }
        }
        _ => plain,
    }
}
