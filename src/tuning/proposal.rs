//! A setting that could be in force instead, and where it puts a row.

use super::Today;
use super::curve::{Curve, head_words};
use super::record::{Record, Row};
use crate::r#loop::Settles;
use crate::plant::{Control, ControlMode, HeadAt, Reset};
use crate::quantity::{Fraction, Pressure};

/// What is set instead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Set {
    Curve(Curve),
    /// Setpoint of the remote sensor [kPa].
    Remote(f64),
    /// A setpoint that follows the widest valve between two ends [kPa], with this much over the need [-].
    Reset {
        low: f64,
        high: f64,
        response: f64,
    },
}

/// A setting with its speed floor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Proposal {
    pub set: Set,
    /// As a shaft speed [-], and as it is set.
    pub floor: f64,
    pub floor_set: Option<f64>,
}

/// No row is put below this share of its head: the model has seen nothing there [-].
const LEAST_HEAD: f64 = 0.1;

impl Proposal {
    /// Flow [m3/h] and head [kPa] of a row under it, with this share of the flow falling with head.
    pub fn puts(&self, record: &Record, row: &Row, open: f64) -> (f64, f64) {
        let fixed = record.b.learned.map_or(0.0, |l| l.static_kpa);
        let common = record.b.learned.map_or(0.0, |l| l.common_resistance);
        let settles = Settles { flow: row.flow, head: row.from, static_kpa: fixed, common_resistance: common, open };
        settles.under(|flow| self.head(record, row, flow))
    }

    /// Head [kPa] of a row at a flow under it.
    fn head(&self, record: &Record, row: &Row, flow: f64) -> f64 {
        if row.frost {
            return row.from;
        }
        // At a smaller flow a floor lifts a little more: today's is not asked again.
        let floor = if self.floor == record.floor {
            row.floor_head
        } else {
            record.head_at_floor(row.i, row.flow, row.head, flow, self.floor, row.on)
        };
        // Under a reset only its upper end moves: what it asked below that stays.
        let asked = if row.then.is_finite() { row.then } else { row.shown };
        let within_reset = |target: f64| if record.today.resets() { target.min(asked) } else { target };
        let at_pumps = |target: f64| match row.held {
            super::record::Held::Full if row.shown < row.now => target.min(row.head),
            super::record::Held::Apart | super::record::Held::Full if !record.mended => row.head,
            _ => target.max(floor.min(row.from)),
        };
        let head = match (&record.today, self.set) {
            (Today::Curve(_), Set::Curve(c)) => record.moved(row, within_reset(c.head(flow)), floor),
            (Today::Remote(_), Set::Remote(set)) => record.moved(row, within_reset(set), floor),
            (_, Set::Curve(c)) => at_pumps(c.head(flow)),
            (_, Set::Remote(_)) => row.from,
            (_, Set::Reset { low, high, response }) => {
                let wanted = if row.need.is_finite() { (1.0 + response) * row.need } else { row.from };
                at_pumps(wanted.clamp(low, high.max(low)).min(row.from))
            }
        };
        head.max(LEAST_HEAD * row.head)
    }

    /// Head at the pumps that it asks at a flow [m3/h], in [kPa]; NaN for a reset.
    pub fn asks(&self, today: &Today, flow: f64) -> f64 {
        match (self.set, today) {
            (Set::Curve(c), _) => c.head(flow),
            (Set::Remote(set), Today::Remote(pipe)) => set + pipe.resistance * flow * flow,
            _ => f64::NAN,
        }
    }

    pub fn mode(&self) -> ControlMode {
        match self.set {
            Set::Curve(c) => c.mode,
            Set::Remote(_) => ControlMode::RemotePressure,
            Set::Reset { .. } => ControlMode::ConstantPressure,
        }
    }

    /// As settings for a drive, on top of today's.
    pub fn as_control(&self, current: &Control) -> Control {
        let kpa = |v: f64| Some(Pressure::kpa(v));
        let resets = current.reset.is_some_and(|r| r != Reset::None);
        let mut out = match self.set {
            Set::Curve(Curve { zero_flow_head: set, .. }) | Set::Remote(set) if resets => Control {
                setpoint: current.setpoint.and(kpa(set)),
                setpoint_low: current.setpoint_low.map(|low| Pressure::kpa(low.in_kpa().min(set))),
                setpoint_high: kpa(set),
                ..current.clone()
            },
            Set::Curve(c) => {
                let mut out = c.as_control(current);
                if current.mode == Some(ControlMode::RemotePressure) {
                    out.head_at = Some(HeadAt::Pump);
                    out.sensor_at = None;
                }
                out.reset = None;
                (out.setpoint_low, out.setpoint_high) = (None, None);
                out
            }
            Set::Remote(set) => {
                Control { setpoint: kpa(set), reset: None, setpoint_low: None, setpoint_high: None, ..current.clone() }
            }
            Set::Reset { low, high, .. } => Control {
                mode: Some(ControlMode::ConstantPressure),
                setpoint: None,
                zero_flow_head: None,
                setpoint_low: kpa(low),
                setpoint_high: kpa(high),
                reset: Some(Reset::MostOpenValve),
                ..current.clone()
            },
        };
        if let Some(floor) = self.floor_set {
            out.minimum_speed = Some(Fraction::of_one(floor));
        }
        out
    }

    /// In SI units: the report shows them in the reader's.
    pub fn in_words(&self) -> String {
        let set = match self.set {
            Set::Curve(c) => c.in_words(),
            Set::Remote(set) => format!("{} at the remote sensor", head_words(set)),
            Set::Reset { low, high, .. } => {
                format!("a setpoint that follows the widest valve between {} and {}", head_words(low), head_words(high))
            }
        };
        match self.floor_set {
            Some(floor) => format!("{set}, with a speed floor of {:.0} %", 100.0 * floor),
            None => set,
        }
    }
}
