//! The running rows as tuning sees them: what the pumps did, what was asked of them, and what would have been enough.
//!
//! A curve declared between the headers is held there, while operating points speak of the pumps' flanges, and controllers have errors of their
//! own. So a row is never put on a curve: it moves from where it was by the difference of two curves. The decision a reader would question:
//! the first [`PULL_DOWN_MIN`] minutes after a start are not held to the need: valves stand open then whatever the head is.

use super::held_flow::HeldFlow;
use super::independent;
use super::{Basis, Today};
use crate::r#loop::{CoilNeeds, Replay};
use crate::operating::State;
use crate::plant::{Bypass, Coil, ControlMode, Role, Valve};
use crate::quantity::{Flow, Fraction, Pressure};
use crate::regimes::{Regime, ask_at, speed_floor};
use rayon::prelude::*;

/// Rows a thread takes at least.
const CHUNK: usize = 1024;

/// After a start of the pumps valves stand open whatever the head is [min] (common practice, no source).
pub const PULL_DOWN_MIN: f64 = 30.0;
/// A row this far above its curve, of the curve's design head, follows something else [-].
const APART: f64 = 0.15;

/// Most of a flow that declared flows may claim [-].
const MOST_OPEN: f64 = 0.9;

/// Beyond so many rows of the clock, those finer than [`LOOK_MIN`] [min] are looked at that often: a year by the minute tells no more.
const MANY: usize = 100_000;
const LOOK_MIN: f64 = 5.0;

/// What held the head of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    Curve,
    Floor,
    Full,
    /// Neither curve nor floor: a hand, a start-up program.
    Apart,
}

/// One running row.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// Row of the clock.
    pub i: usize,
    pub day: u32,
    pub flow: f64,
    /// At the pumps, as it was [kPa].
    pub head: f64,
    /// The same had today's setting been in force all the record [kPa].
    pub from: f64,
    pub on: u8,
    pub kw: f64,
    /// The model's power at its flow and head [kW].
    pub model: f64,
    /// What the setting of the hour asked, and today's would, where they are measured [kPa]; NaN unknown.
    pub then: f64,
    pub now: f64,
    /// What stood there against it [kPa].
    pub shown: f64,
    pub held: Held,
    /// Head at the pumps that would have been enough [kPa]; NaN unknown.
    pub need: f64,
    /// That need is what the neediest coil is owed at most, by the loop that asks most.
    pub owed: bool,
    /// Counts against a setting: the need is known, no frost, not just started.
    pub judged: bool,
    pub frost: bool,
    /// Share of the flow that falls with head [-].
    pub open: f64,
    /// Head that today's speed floor makes [kPa].
    pub floor_head: f64,
    /// Opening of the bypass valve that keeps the machines' flow [-]; NaN where there is none or it is not trended.
    pub bypass: f64,
    /// Low end of the flow [m3/h]; NaN unknown.
    pub low: f64,
}

pub struct Record<'a> {
    pub b: &'a Basis<'a>,
    pub today: Today,
    pub rows: Vec<Row>,
    pub replay: Replay<'a>,
    pub coils: Option<CoilNeeds<'a>>,
    /// Coils that are not asked: to be mended first.
    pub left_out: Vec<usize>,
    /// Whether part of the flow falls with head.
    pub loses: bool,
    /// Rows off their curve count as if they were on it: that is to be mended first.
    pub mended: bool,
    /// Today's floor as a shaft speed [-]; 0 where there is none.
    pub floor: f64,
    /// Opening of a two-way bypass valve, where it is trended [-].
    pub bypass: Option<&'a [f64]>,
    /// How a two-way bypass valve holds the machines' flow.
    pub held: Option<HeldFlow>,
    /// Every how many rows of the clock one is looked at.
    pub stride: usize,
}

impl<'a> Record<'a> {
    pub fn of(b: &'a Basis<'a>, today: Today, left_out: Vec<usize>, mended: bool) -> Self {
        let replay = Replay::new(&b.reconstructed.machines);
        let system = &b.reconstructed.points.system;
        let coils = b.learned.map(|l| CoilNeeds::of(b.plant, b.screened, system, l).as_owed(b.plant));
        let floor = b
            .reconstructed
            .points
            .pumps
            .iter()
            .filter_map(|p| speed_floor(&b.plant.control, &p.state, &p.speed).map(|f| f.0));
        let floor = if b.plant.control.minimum_speed.map_or(0.0, Fraction::in_of_one) > 0.0 {
            floor.fold(0.0, f64::max)
        } else {
            0.0
        };
        let two_way = b.plant.system.bypass == Some(Bypass::TwoWay);
        let bypass = b.screened.values(Role::BypassPosition, None).filter(|_| two_way);
        let loses = loses(b);
        let stride =
            if b.clock.len > MANY { (LOOK_MIN / (60.0 * b.clock.hours())).round().max(1.0) as usize } else { 1 };
        let mut record = Self {
            b,
            today,
            rows: Vec::new(),
            replay,
            coils,
            left_out,
            loses,
            mended,
            floor,
            bypass,
            held: None,
            stride,
        };
        record.rows = record.gathered();
        record.held = HeldFlow::of(b, &record.rows);
        record
    }

    fn gathered(&self) -> Vec<Row> {
        let b = self.b;
        let system = &b.reconstructed.points.system;
        let step_min = 60.0 * b.clock.hours();
        let mut since = f64::INFINITY;
        let mut running = Vec::new();
        for i in 0..b.clock.len {
            if system.pumps_on[i] == 0 {
                since = 0.0;
                continue;
            }
            since += step_min;
            if i % self.stride == 0 {
                running.push((i, since));
            }
        }
        running.into_par_iter().with_min_len(CHUNK).filter_map(|(i, since)| self.row(i, since)).collect()
    }

    fn row(&self, i: usize, since_start: f64) -> Option<Row> {
        let b = self.b;
        let system = &b.reconstructed.points.system;
        let (flow, head, on) = (system.flow_m3h[i], system.head_kpa[i], system.pumps_on[i]);
        if !(flow > 0.0 && head > 0.0) {
            return None;
        }
        let model = self.replay.power_kw(flow, head, on);
        let kw = if system.power_kw[i] > 0.0 { system.power_kw[i] } else { model };
        if !(model > 0.0 && kw > 0.0) {
            return None;
        }
        let control = b.plant.control_at(b.clock.at_ms(i));
        let setpoint = b.setpoint.map_or(f64::NAN, |s| s[i]);
        let (then, shown) = match &self.today {
            Today::Curve(_) => (ask_at(b.plant, control, flow, setpoint), head),
            Today::Remote(pipe) => {
                let declared = control.setpoint.map_or(f64::NAN, Pressure::in_kpa);
                let then = if control.mode == Some(ControlMode::RemotePressure) { declared } else { f64::NAN };
                let then = if setpoint.is_finite() { setpoint } else { then };
                (then, pipe.reading(i, flow, head))
            }
        };
        let now = self.today.asks(flow);
        let design = self.today.asks(self.today.design_flow());
        let held = self.held(i, shown - then, design);
        let neediest = self.coils.as_ref().and_then(|c| c.neediest(i, &self.left_out));
        let loop_need = neediest.map_or(f64::NAN, |n| n.1);
        let need = loop_need.max(independent::need(b, &self.today, i, flow));
        let owed = neediest.is_some_and(|n| n.2) && need <= loop_need;
        let share = match (&self.coils, b.learned) {
            (Some(c), Some(l)) if self.loses => c.open_share(l, i),
            (None, _) if self.loses => self.declared_open(flow, head),
            _ => 0.0,
        };
        let floor_head = self.head_at_floor(i, flow, head, flow, self.floor, on);
        let judged = need.is_finite() && !b.frost[i] && since_start > PULL_DOWN_MIN;
        let mut row = Row {
            i,
            day: b.local_day[i],
            flow,
            head,
            from: head,
            on,
            kw,
            model,
            then,
            now,
            shown,
            held,
            need,
            owed,
            judged,
            frost: b.frost[i],
            open: share,
            floor_head,
            bypass: self.bypass.map_or(f64::NAN, |x| x[i]),
            low: system.flow_low_m3h[i],
        };
        if !self.today.resets() {
            row.from = self.moved(&row, now, floor_head);
        }
        Some(row)
    }

    /// Share of the flow through terminals that do not throttle, by their declared flows, where no loop was learned [-].
    fn declared_open(&self, flow: f64, head: f64) -> f64 {
        let open = |c: &&Coil| matches!(c.valve, Some(Valve::ThreeWay | Valve::None));
        let declared: f64 =
            self.b.plant.coils.iter().filter(open).filter_map(|c| c.design_flow).map(Flow::in_m3h).sum();
        let top = self.today.at_pumps();
        (declared * (head / top.head(top.design_flow)).max(0.0).sqrt() / flow).clamp(0.0, MOST_OPEN)
    }

    fn held(&self, i: usize, above: f64, design: f64) -> Held {
        let of: Vec<Regime> = self.b.regimes.pumps.iter().map(|p| p.regime[i]).collect();
        if of.contains(&Regime::FullSpeed) {
            Held::Full
        } else if of.contains(&Regime::SpeedFloor) {
            Held::Floor
        } else if above > APART * design {
            Held::Apart
        } else {
            Held::Curve
        }
    }

    /// Head that a speed floor makes at another flow [kPa], by the model's ratio to the head of the row.
    pub fn head_at_floor(&self, i: usize, flow: f64, head: f64, at: f64, floor: f64, on: u8) -> f64 {
        if floor <= 0.0 {
            return 0.0;
        }
        let running = self.b.reconstructed.points.pumps.iter().filter(|p| State::turns(p.state[i]) && p.speed[i] > 0.0);
        let (sum, n) = running.fold((0.0, 0.0), |s, p| (s.0 + p.speed[i], s.1 + 1.0));
        let was = self.replay.head_kpa(flow, sum / n, on);
        let makes = self.replay.head_kpa(at, floor, on) * head / was;
        // Beyond its table a pump at its floor lifts next to nothing.
        if makes.is_finite() { makes.max(0.0) } else { 0.0 }
    }

    /// Head at the pumps [kPa] when the setting asks `target` where it is measured, over a floor that makes `floor_head`.
    pub fn moved(&self, row: &Row, target: f64, floor_head: f64) -> f64 {
        let by = |base: f64| row.head + target - base;
        match row.held {
            Held::Curve if row.then.is_finite() => by(row.then).max(floor_head),
            Held::Curve => by(row.shown).min(row.head).max(floor_head.min(row.head)),
            Held::Floor => by(row.shown).max(floor_head.min(row.head)),
            // What could not be reached is reached as far as it goes; a speed that was forced stays forced.
            Held::Full if row.shown < row.now => by(row.shown).min(row.head),
            Held::Apart | Held::Full if self.mended => by(row.shown).min(row.head).max(floor_head.min(row.head)),
            Held::Apart | Held::Full => row.head,
        }
    }
}

/// Whether any part of the flow falls with head: three-way valves, terminals without valves, a bypass that does not close.
fn loses(b: &Basis) -> bool {
    let open = |v: Option<Valve>| matches!(v, Some(Valve::ThreeWay | Valve::None));
    let by_bypass = matches!(b.plant.system.bypass, Some(Bypass::ThreeWayCoils | Bypass::Decoupler));
    by_bypass || b.plant.coils.iter().any(|c| open(c.valve)) || b.found(crate::faults::Fault::StuckBypass)
}
