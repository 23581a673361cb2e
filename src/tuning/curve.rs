//! Control curves a drive can follow, and the lowest of each kind that covers a cloud of needs.

use super::kpa;
use crate::hydraulics::system::ControlCurve;
use crate::plant::{Control, ControlMode};
use crate::quantity::Flow;

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
        let design_head = lowered_design(today, needs, high, missed);
        [ControlMode::Quadratic, ControlMode::Proportional, ControlMode::ConstantPressure]
            .into_iter()
            .filter_map(|mode| lowest(today, mode, design_head, needs, high, missed))
            .collect()
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
fn head_words(kpa: f64) -> String {
    format!("{kpa:.0} kPa")
}

/// A flow for people.
pub fn flow_words(m3h: f64) -> String {
    format!("{m3h:.0} m3/h")
}

/// Head at design flow: today's, unless the record came near design flow and needed less; then the need carried to design flow by the
/// square of flow.
fn lowered_design(today: &Curve, needs: &[(f64, f64)], high: f64, missed: f64) -> f64 {
    let at_design = today.head(today.design_flow);
    if high < SEEN_DESIGN * today.design_flow {
        return at_design;
    }
    let near: Vec<f64> =
        needs.iter().filter(|n| n.0 > 0.75 * high).map(|n| n.1 * (today.design_flow / n.0).powi(2)).collect();
    match covering(near, missed) {
        Some(head) => ((head / STEP).ceil() * STEP).min(at_design),
        None => at_design,
    }
}

fn lowest(
    today: &Curve,
    mode: ControlMode,
    design_head: f64,
    needs: &[(f64, f64)],
    high: f64,
    missed: f64,
) -> Option<Curve> {
    let least = ZERO_HEAD_MIN * design_head;
    let constant = mode == ControlMode::ConstantPressure;
    let needed: Vec<f64> = needs
        .iter()
        .map(|&(q, h)| {
            let x = q / today.design_flow;
            let rise = if mode == ControlMode::Proportional { x } else { x * x };
            if constant || rise >= 0.98 { h } else { (h - design_head * rise) / (1.0 - rise) }
        })
        .collect();
    let mut zero = covering(needed, missed)?.max(least);
    if constant && high < SEEN_DESIGN * today.design_flow {
        // A constant pressure must serve flows not seen: the need grows as the square of flow from the highest seen.
        let near: Vec<f64> =
            needs.iter().filter(|n| n.0 > 0.75 * high).map(|n| n.1 * (today.design_flow / n.0).powi(2)).collect();
        zero = zero.max(covering(near, missed)?);
    }
    let zero = (zero / STEP).ceil() * STEP;
    let proposed = Curve {
        mode,
        zero_flow_head: zero,
        design_flow: today.design_flow,
        design_head: if constant { zero } else { design_head },
    };
    // Never above today's curve anywhere in the range seen.
    (zero <= design_head.max(today.design_head) && proposed.head(0.5 * high) < today.head(0.5 * high))
        .then_some(proposed)
}

/// The value that all but `missed` of `v` lie under.
fn covering(mut v: Vec<f64>, missed: f64) -> Option<f64> {
    v.retain(|x| x.is_finite());
    v.sort_by(f64::total_cmp);
    let k = ((v.len() as f64) * (1.0 - missed)).ceil() as usize;
    v.get(k.min(v.len()).checked_sub(1)?).copied()
}
