//! Control curves a drive can follow, and the lowest of each kind that covers a cloud of needs.

use super::kpa;
use crate::hydraulics::system::ControlCurve;
use crate::plant::{Control, ControlMode};
use crate::quantity::Flow;
use rayon::prelude::*;

/// A head curve over loop flow: constant, proportional or quadratic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    pub mode: ControlMode,
    /// [kPa]; for constant pressure the setpoint, as `design_head`.
    pub zero_flow_head: f64,
    /// [m3/h]
    pub design_flow: f64,
    /// [kPa]
    pub design_head: f64,
}

/// A proposed zero-flow head is never below this share of the head at design flow: below it pressure control has no authority left
/// (common practice, no source).
const ZERO_HEAD_MIN: f64 = 0.08;
/// The record must have seen this share of design flow before the head at design flow itself is lowered.
const SEEN_DESIGN: f64 = 0.85;
/// Heads are proposed in steps of this [kPa]: a keypad's resolution.
const STEP: f64 = 1.0;
/// Heads at design flow tried between today's and the lowest allowed.
const DESIGN_STEPS: u32 = 12;
/// From this share of its rise on a curve's zero-flow head moves a flow's head no more [-].
const NEAR_DESIGN: f64 = 0.98;

impl Curve {
    /// Head that the curve asks at a loop flow [m3/h], in [kPa].
    pub fn head(&self, flow: f64) -> f64 {
        let (zero_flow_kpa, design_m3h, design_kpa) = (self.zero_flow_head, self.design_flow, self.design_head);
        let curve = match self.mode {
            ControlMode::Proportional => ControlCurve::Proportional { zero_flow_kpa, design_m3h, design_kpa },
            ControlMode::Quadratic => ControlCurve::Quadratic { zero_flow_kpa, design_m3h, design_kpa },
            _ => ControlCurve::Constant { head_kpa: zero_flow_kpa },
        };
        curve.head(flow)
    }

    /// The lowest curve of each kind that covers all but `missed` of the needs (flow [m3/h], head [kPa]); `high` is the highest
    /// flow seen [m3/h].
    pub fn candidates(today: &Curve, needs: &[(f64, f64)], high: f64, missed: f64) -> Vec<Curve> {
        let modes = [ControlMode::Quadratic, ControlMode::Proportional, ControlMode::ConstantPressure];
        let each: Vec<Option<Curve>> =
            modes.into_par_iter().with_max_len(1).map(|mode| lowest(today, mode, needs, high, missed)).collect();
        each.into_iter().flatten().collect()
    }

    /// The same with another head at no flow [kPa]; a constant one as a whole.
    pub fn from_zero(self, zero: f64) -> Self {
        let zero = stepped(zero);
        let design_head = if self.mode == ControlMode::ConstantPressure { zero } else { self.design_head };
        Self { zero_flow_head: zero, design_head, ..self }
    }

    /// As settings for a drive, on top of today's.
    pub fn as_control(&self, today: &Control) -> Control {
        let mut out = today.clone();
        out.mode = Some(self.mode);
        if self.mode == ControlMode::ConstantPressure {
            out.setpoint = kpa(self.zero_flow_head);
            out.zero_flow_head = None;
        } else {
            out.zero_flow_head = kpa(self.zero_flow_head);
            out.design_flow = Some(Flow::m3h(self.design_flow));
            out.design_head = kpa(self.design_head);
            out.setpoint = None;
        }
        out
    }

    /// In SI units: the report shows them in the reader's.
    pub fn in_words(&self) -> String {
        let head = head_words;
        match self.mode {
            ControlMode::ConstantPressure => format!("constant {}", head(self.zero_flow_head)),
            mode => format!(
                "{} from {} at no flow to {} at {}",
                if mode == ControlMode::Quadratic { "quadratic" } else { "proportional" },
                head(self.zero_flow_head),
                head(self.design_head),
                flow_words(self.design_flow)
            ),
        }
    }
}

/// A head for people.
pub fn head_words(kpa: f64) -> String {
    format!("{kpa:.0} kPa")
}

/// A flow for people.
pub fn flow_words(m3h: f64) -> String {
    format!("{m3h:.0} m3/h")
}

/// The lowest of a kind: of the heads at design flow that are allowed, the one whose curve asks least over the record.
fn lowest(today: &Curve, mode: ControlMode, needs: &[(f64, f64)], high: f64, missed: f64) -> Option<Curve> {
    let at_design = today.head(today.design_flow);
    if mode == ControlMode::ConstantPressure {
        // A constant pressure must serve flows not seen: the need grows as the square of flow from the highest seen.
        let set = covering(needs.iter().map(|n| n.1).collect(), missed)?.max(carried(today, needs, high, missed)?);
        let set = stepped(set.max(ZERO_HEAD_MIN * at_design));
        let curve = Curve { mode, zero_flow_head: set, design_head: set, ..*today };
        return (set <= at_design).then_some(curve).filter(|c| c.head(0.5 * high) < today.head(0.5 * high));
    }
    // Above the highest flow seen today's curve stays; only a record that came near design flow lowers the head there.
    let least = if high < SEEN_DESIGN * today.design_flow {
        at_design
    } else {
        stepped(carried(today, needs, high, missed).unwrap_or(at_design)).min(at_design)
    };
    let asks = |c: &Curve| needs.iter().map(|n| c.head(n.0) * n.0).sum::<f64>();
    (0..=DESIGN_STEPS)
        .map(|k| at_design - (at_design - least) * f64::from(k) / f64::from(DESIGN_STEPS))
        .filter_map(|design_head| through(today, mode, stepped(design_head).min(at_design), needs, missed))
        .filter(|c| c.head(0.5 * high) < today.head(0.5 * high))
        .min_by(|a, b| asks(a).total_cmp(&asks(b)))
}

/// The lowest zero-flow head of a curve through a head at design flow that covers the needs; `None` where none does.
fn through(today: &Curve, mode: ControlMode, design_head: f64, needs: &[(f64, f64)], missed: f64) -> Option<Curve> {
    let needed: Vec<f64> = needs
        .iter()
        .map(|&(q, h)| {
            let x = q / today.design_flow;
            let rise = if mode == ControlMode::Proportional { x } else { x * x };
            if rise < NEAR_DESIGN {
                (h - design_head * rise) / (1.0 - rise)
            } else if h <= design_head * rise {
                f64::NEG_INFINITY
            } else {
                f64::INFINITY
            }
        })
        .collect();
    let zero = stepped(covering(needed, missed)?.max(ZERO_HEAD_MIN * design_head));
    (zero <= design_head).then_some(Curve { mode, zero_flow_head: zero, design_flow: today.design_flow, design_head })
}

/// The need of the highest flows seen, carried to design flow by the square of flow [kPa].
fn carried(today: &Curve, needs: &[(f64, f64)], high: f64, missed: f64) -> Option<f64> {
    let near = needs.iter().filter(|n| n.0 > 0.75 * high);
    covering(near.map(|n| n.1 * (today.design_flow / n.0).powi(2).max(1.0)).collect(), missed)
}

/// Up to a keypad's resolution.
fn stepped(head: f64) -> f64 {
    ((head / STEP) - 1e-9).ceil() * STEP
}

/// The value that all but `missed` of `v` lie under; infinite ones count.
fn covering(mut v: Vec<f64>, missed: f64) -> Option<f64> {
    v.retain(|x| !x.is_nan());
    let k = ((v.len() as f64) * (1.0 - missed)).ceil() as usize;
    let at = k.min(v.len()).checked_sub(1)?;
    Some(*v.select_nth_unstable_by(at, f64::total_cmp).1)
}
