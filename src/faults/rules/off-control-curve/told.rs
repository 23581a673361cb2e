//! What is said of points off their curve.

use super::doubts::FLOW_MOVED;
use super::excess::{
    by_sensor, curve_flow_m3h, curve_head_kpa, excess_kpa, on_curve, reference_head_kpa, setpoint_kpa,
};
use super::{FAULT, Tally, is_judged};
use crate::faults::rules::{lines, number};
use crate::faults::shown::column;
use crate::faults::spread::{deviation, median, quantile};
use crate::faults::{Case, Finding, Shown, Verdict, What, price};
use crate::plant::ControlMode;

/// A head that spreads no more than this, in design heads, is held [-].
const HEAD_HELD: f64 = 0.025;
/// Part of the rise up to which a point still tells the zero-flow head [-].
const LOW_ON_CURVE: f64 = 0.7;

/// A step that only the days' middle shows is never surer than this [-]: which side is off hangs on errors common to all rows.
const STEP_ONLY: f64 = 0.8;
const CHANGE_IT: &str = "Set the drive or controller back to the configured curve, or, if another curve is meant, write that into the plant file.";
const RAISED: &str = "Someone may have raised the head for a load that was short: ask before lowering it.";
const LOWERED: &str = "Too little head can starve the neediest load.";

impl Tally {
    pub(super) fn found(&self, case: &Case, subject: &str, excess: f64, change: Option<f64>) -> Verdict {
        let first = self.first_row(case);
        let rows: Vec<usize> = self.off_rows().into_iter().filter(|i| *i >= first).collect();
        let last = rows.last().copied().unwrap_or(first);
        let hours = rows.len() as f64 * case.step_h;
        let waste = if self.up { price::waste(case, &rows, |i| on_curve(case, &self.pumps, i)) } else { None };
        let yearly = price::per_year(case, waste);
        let side = if self.up { "above" } else { "below" };
        let changed = change.is_some();
        let from_start = !changed;
        let shape = self.shape(case);
        let because = format!(
            "Between its speed limits {} ran {} {side} the configured curve for {hours:.0} h, {}.{}{}",
            if subject == "loop" { "the loop" } else { subject },
            case.say_head(excess.abs()),
            if from_start { "from the first day on".to_owned() } else { format!("since {}", case.say_when(first)) },
            shape,
            if from_start {
                " Since it is there from the first day, the curve in the plant file may be the wrong one."
            } else {
                ""
            },
        );
        let z = excess.abs() / (self.half_kpa / 1.96).max(0.01 * reference_head_kpa(case));
        Verdict::Found(Box::new(Finding {
            fault: FAULT,
            subject: subject.into(),
            urgency: price::urgency(case, waste, !self.up),
            confidence: confidence(z, changed),
            first_seen_ms: case.time_ms[first],
            last_seen_ms: case.time_ms[last],
            hours,
            waste_kwh: waste,
            waste_kwh_per_year: yearly,
            caused_by: None,
            because,
            evidence: self.evidence(case, excess, change),
            could_also_be: could_also_be(from_start, self.up),
            check_on_site: check_on_site(),
            change: CHANGE_IT.into(),
            shown: self.shown(case, &rows),
            caution: case.caution(if self.up { RAISED } else { LOWERED }),
        }))
    }

    fn evidence(&self, case: &Case, excess: f64, change: Option<f64>) -> Vec<crate::faults::Evidence> {
        let judged: usize = self.days.iter().map(|d| d.judged).sum();
        let share = self.off_rows().len() as f64 / judged.max(1) as f64;
        let within =
            format!("within {:.1} kPa", self.half_kpa + crate::regimes::CURVE_TOLERANCE * reference_head_kpa(case));
        let source = "operating points against the configured control curve";
        let mut all = vec![
            number("median distance from the curve", excess, "kPa", within, source),
            number("half of the head's range (95 %)", self.half_kpa, "kPa", "smaller than the distance", source),
            number("share of judged rows off the curve", share, "fraction", "at most 0.05", source),
        ];
        if let Some(c) = change {
            all.push(number(
                "change against the days on the curve",
                c,
                "kPa",
                "0",
                "days off the curve against days on it, at the same flows",
            ));
        }
        all
    }

    /// Judged rows with what is asked there: of one pump, or of the first judged of several.
    fn shown(&self, case: &Case, rows: &[usize]) -> Shown {
        let judged = |i: usize| self.pumps.iter().copied().find(|p| is_judged(case.pumps[*p].regime[i]));
        let sensor = rows.first().is_some_and(|i| by_sensor(case, *i));
        let asked = |i: usize, p: usize| if sensor { setpoint_kpa(case, i) } else { case.pumps[p].curve_head_kpa[i] };
        let of = |of: &dyn Fn(usize, usize) -> f64| column(case.rows(), |i| judged(i).map_or(f64::NAN, |p| of(i, p)));
        let what = What::OffCurve {
            pumps: self.pumps.iter().map(|p| case.pumps[*p].name.into()).collect(),
            measured_kpa: of(&|i, p| asked(i, p) + excess_kpa(case, p, i)),
            asked_kpa: of(&asked),
            by_sensor: sensor,
            within_kpa: self.half_kpa + crate::regimes::CURVE_TOLERANCE * reference_head_kpa(case),
        };
        Shown::new(rows, what)
    }

    /// What the points off the curve look like instead.
    fn shape(&self, case: &Case) -> String {
        let of = |column: &dyn Fn(usize, usize) -> f64| -> Vec<f64> {
            self.off.iter().map(|(i, p)| column(*i, *p)).filter(|v| v.is_finite()).collect()
        };
        let flow = of(&|i, _| case.loop_flow_m3h[i]);
        let head = of(&|i, p| case.pumps[p].head_kpa[i]);
        let spread = quantile(flow.iter().copied(), 0.9) - quantile(flow.iter().copied(), 0.1);
        if !(spread >= FLOW_MOVED * case.design_flow_m3h()) {
            return " The flow moved too little to tell what is held instead.".into();
        }
        let centre = median(head.iter().copied());
        if deviation(&head) <= HEAD_HELD * reference_head_kpa(case) {
            return format!(" Its head stays near {} whatever the flow: a constant pressure.", case.say_head(centre));
        }
        self.other_curve(case)
    }

    /// Zero-flow head of a curve of the declared kind through the declared design point that fits these points.
    fn other_curve(&self, case: &Case) -> String {
        let power = match case.plant.control.mode {
            Some(ControlMode::Quadratic) => 2.0,
            Some(ControlMode::Proportional) => 1.0,
            _ => return String::new(),
        };
        let (qd, hd) = (curve_flow_m3h(case), curve_head_kpa(case));
        let zero = self.off.iter().filter_map(|(i, p)| {
            let x = (case.loop_flow_m3h[*i] / qd).powf(power);
            (x < LOW_ON_CURVE).then(|| (case.pumps[*p].head_kpa[*i] - hd * x) / (1.0 - x))
        });
        let zero = median(zero);
        if !zero.is_finite() {
            return String::new();
        }
        format!(" The points fit a curve of the same kind with a zero-flow head near {}.", case.say_head(zero))
    }

    /// The finding where only the days' middle tells.
    pub(super) fn stepped(&self, case: &Case, subject: &str, change: f64, t: f64) -> Verdict {
        let rows = self.off_rows();
        let (first, last) = (rows[0], rows[rows.len() - 1]);
        let lower = |i: usize| (case.loop_flow_m3h[i], case.loop_head_kpa[i] - change);
        let waste = if self.up { price::waste(case, &rows, lower) } else { None };
        let yearly = price::per_year(case, waste);
        let source = "daily distance from the configured control curve, at like flow";
        Verdict::Found(Box::new(Finding {
            fault: FAULT,
            subject: subject.into(),
            urgency: price::urgency(case, waste, !self.up),
            confidence: (0.6 + t / 200.0).min(STEP_ONLY),
            first_seen_ms: case.time_ms[first],
            last_seen_ms: case.time_ms[last],
            hours: rows.len() as f64 * case.step_h,
            waste_kwh: waste,
            waste_kwh_per_year: yearly,
            caused_by: None,
            because: format!(
                "From {} to {} {} held {} {} at the same flow than on the other days, while its configured curve stayed the same: on one side of that change it was off its curve.",
                case.say_when(first),
                case.say_when(last),
                if subject == "loop" { "the loop" } else { subject },
                case.say_head(change.abs()),
                if self.up { "more" } else { "less" },
            ),
            evidence: vec![
                number("change of the daily distance", change, "kPa", "0", source),
                number(
                    "step over its standard error",
                    t,
                    "-",
                    format!("below {}", crate::faults::onset::BELIEVED),
                    source,
                ),
                number("half of the distance's range (95 %)", self.half_kpa, "kPa", "smaller than the change", source),
            ],
            could_also_be: could_also_be(false, self.up),
            check_on_site: check_on_site(),
            change: CHANGE_IT.into(),
            shown: self.shown(case, &rows),
            caution: case.caution(if self.up { RAISED } else { LOWERED }),
        }))
    }
}

/// How sure: rises with the distance in standard deviations; less where no day on the curve is there to compare with.
fn confidence(z: f64, changed: bool) -> f64 {
    let sure = 1.0 - (-(z / 4.0)).exp() * 0.5;
    if changed { sure.clamp(0.6, 0.97) } else { (sure - 0.15).clamp(0.5, 0.85) }
}

fn could_also_be(from_start: bool, up: bool) -> Vec<String> {
    let mut all = Vec::new();
    if from_start {
        all.push("the curve in the plant file is not the one that is set".to_owned());
        all.push("the pump table, or the place where head is measured, is not what was declared".to_owned());
    } else {
        all.push("a setting that someone changed on purpose and did not write down".to_owned());
    }
    let sensor =
        if up { "the control sensor reads low, so the pump makes more" } else { "the control sensor reads high" };
    all.push(sensor.to_owned());
    all
}

fn check_on_site() -> Vec<String> {
    lines(&[
        "Read mode, setpoint, zero-flow head and hand/auto on the drive's display and in the controller.",
        "With a calibrated differential gauge across the pump, read the head at two flows and compare both with the curve.",
        "Vent the control sensor's lines and check its zero with its equalising valve open.",
    ])
}
