//! What held in truth, counted minute by minute: the checks that a healthy plant passes and that find what a planted fault brings along.

use super::plan::Plan;
use super::pumps::Station;
use super::weather::Why;

/// One minute's truth.
pub struct Moment {
    pub day: i64,
    pub why: Why,
    /// Masks of running pumps, and of those behind a shut valve.
    pub live: usize,
    pub dead: usize,
    pub flow: f64,
    pub header: f64,
    /// Of the shaft, of the reference, and what the control would have.
    pub speed: f64,
    pub reference: f64,
    pub wanted: f64,
    /// Head held above the declared curve, over its design head.
    pub excess: f64,
    pub each: [f64; 3],
    /// Starts so far.
    pub starts: f64,
    /// Running for twenty minutes.
    pub settled: bool,
    /// How far the worst terminal with a valve at its end misses its setpoint [K].
    pub short: f64,
    pub bypass: f64,
    pub kw: f64,
    pub flows: f64,
    pub hour: usize,
    /// Header head that would do with every valve at most 90 % open; looked at every quarter of an hour, NaN between.
    pub need: f64,
}

#[derive(Debug, Clone, Default)]
pub struct Tally {
    pub running: f64,
    /// Settled minutes, of which between the limits, above and below the curve there.
    pub settled: f64,
    pub between: f64,
    pub above: f64,
    pub below: f64,
    /// On the floor with the head above what the curve asks, by a twentieth of its design head.
    pub floor_above: f64,
    pub on_floor: f64,
    pub full: f64,
    /// Pump-minutes, and those outside 70 to 120 % of best flow.
    pub pump_minutes: f64,
    pub outside: f64,
    pub starved: f64,
    pub dead: f64,
    /// Minutes beyond schedule and honest reasons.
    pub extra: f64,
    /// Looked at every quarter of an hour: how often, and how often one pump more or fewer would save a tenth.
    pub counts: f64,
    pub wrong_count: f64,
    pub kw: f64,
    pub flow: f64,
    pub bypass: f64,
    pub header: f64,
    /// Hours with two starts or more.
    pub hasty_hours: f64,
    /// Need over head; and, at low flow, the zero-flow head that would do over the one that is set.
    pub need: Vec<f64>,
    pub zero: Vec<f64>,
    /// Flow [m3/h], the header head that would do and the one that was there [kPa], at every look.
    pub wanted: Vec<(f64, f64, f64)>,
    hour: usize,
    starts_at_hour: f64,
    quiet: f64,
    days: f64,
}

impl Tally {
    pub fn new(plan: &Plan) -> Self {
        Self { days: f64::from(plan.days), ..Self::default() }
    }

    pub fn add(&mut self, plan: &Plan, station: &Station, m: &Moment) {
        if m.hour != self.hour {
            // A start of each pump an hour is staging's or the schedule's.
            let pumps = station.units.len() as f64;
            self.hasty_hours += f64::from(u8::from(m.starts - self.starts_at_hour > pumps.max(1.0)));
            (self.hour, self.starts_at_hour) = (m.hour, m.starts);
        }
        if m.live == 0 {
            self.quiet = 0.0;
            return;
        }
        self.running += 1.0;
        self.extra += f64::from(u8::from(m.why == Why::Extra));
        self.kw += m.kw;
        self.flow += m.flow;
        self.bypass += m.bypass;
        self.header += m.header;
        self.pumps(station, m);
        if !m.settled || matches!(m.why, Why::Frost | Why::Exercise) {
            return;
        }
        self.settled += 1.0;
        let (at_floor, at_full) = (m.reference < plan.floor + 0.006, m.reference > 0.994);
        self.full += f64::from(u8::from(at_full));
        self.on_floor += f64::from(u8::from(at_floor));
        self.floor_above += f64::from(u8::from(at_floor && m.excess > 0.05));
        if !at_floor && !at_full {
            self.between += 1.0;
            self.above += f64::from(u8::from(m.excess > 0.08));
            self.below += f64::from(u8::from(m.excess < -0.08));
        }
        if m.need.is_finite() {
            self.wanted.push((m.flow, m.need, m.header));
        }
        if m.need.is_finite() && !at_floor {
            self.need.push(m.need / m.header);
            if let Some(zero) = plan.zero_wanted(m.flow, m.need) {
                self.zero.push(zero);
            }
        }
        self.starved += f64::from(u8::from(m.short > 0.8 && !at_full));
        if (self.settled as u64).is_multiple_of(15) && plan.duty > 1 {
            self.staging(plan, station, m);
        }
    }

    fn pumps(&mut self, station: &Station, m: &Moment) {
        let mut dead = false;
        for p in (0..station.units.len()).filter(|p| m.live >> p & 1 == 1) {
            let best = station.units[p].best_flow * m.speed.max(0.05);
            let place = if m.dead >> p & 1 == 1 { 0.0 } else { m.each[p] / best };
            self.pump_minutes += 1.0;
            self.outside += f64::from(u8::from(!(0.70..=1.20).contains(&place)));
            dead |= place < 0.03;
        }
        self.quiet = if dead { self.quiet + 1.0 } else { 0.0 };
        if self.quiet >= 5.0 {
            self.dead += if self.quiet == 5.0 { 5.0 } else { 1.0 };
        }
    }

    fn staging(&mut self, plan: &Plan, station: &Station, m: &Moment) {
        let count = m.live.count_ones() as usize;
        let now = station.kw_for(m.live, m.flow, m.header).1;
        let other = |n: usize| {
            if n == 0 || n > plan.duty {
                return false;
            }
            let (speed, kw) = station.kw_for((1 << n) - 1, m.flow, m.header);
            speed > plan.floor && speed < 0.97 && kw < 0.90 * now
        };
        self.counts += 1.0;
        self.wrong_count += f64::from(u8::from(m.dead == 0 && (other(count + 1) || other(count - 1))));
    }

    /// Shares and daily hours.
    pub fn outside_share(&self) -> f64 {
        self.outside / self.pump_minutes.max(1.0)
    }

    pub fn starved_share(&self) -> f64 {
        self.starved / self.settled.max(1.0)
    }

    pub fn floor_share(&self) -> f64 {
        self.floor_above / self.settled.max(1.0)
    }

    pub fn above_share(&self) -> f64 {
        self.above / self.settled.max(1.0)
    }

    pub fn below_share(&self) -> f64 {
        self.below / self.settled.max(1.0)
    }

    pub fn wrong_count_share(&self) -> f64 {
        self.wrong_count / self.counts.max(1.0)
    }

    pub fn dead_h(&self) -> f64 {
        self.dead / 60.0 / self.days
    }

    pub fn extra_h(&self) -> f64 {
        self.extra / 60.0 / self.days
    }

    /// Heat over water moved: a temperature difference in units that only compare.
    pub fn difference(&self) -> f64 {
        self.kw / self.flow.max(1e-9)
    }

    pub fn mean_header(&self) -> f64 {
        self.header / self.running.max(1.0)
    }
}
