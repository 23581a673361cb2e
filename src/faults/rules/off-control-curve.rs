//! Steady points off the configured control curve, at neither speed floor nor full speed.
//!
//! Errors common to all rows can put a whole month off a curve, so an offset that is there from the first day must
//! be far beyond the interval; one that came during the record is held against the days before it.

use super::{cannot_tell, clear, lines, number};
use crate::faults::spread::{deviation, median, quantile};
use crate::faults::{Case, Fault, Finding, Verdict, onset, price, say};
use crate::plant::ControlMode;
use crate::quantity::{Flow, Pressure};
use crate::regimes::Regime;

const FAULT: Fault = Fault::OffControlCurve;
/// A day is judged on at least this many hours at neither end of the speed range [h].
const LEAST_DAY_H: f64 = 1.0;
/// A day is off the curve when at least this share of them is, one way [-].
const DAY_OFF: f64 = 0.5;
/// A day keeps the curve when at most this share is off [-]: one row in twenty is expected outside a 95 % interval.
const DAY_ON: f64 = 0.10;
/// Found from this many hours off the curve, on at least so many days [h, days]: less is a test or a hand run.
const LEAST_OFF_H: f64 = 8.0;
const LEAST_DAYS: usize = 2;
/// Days that keep the curve needed to hold the others against [days].
const LEAST_GOOD_DAYS: usize = 2;
/// How far an excess must move within the record to be a change, in design heads [-]: common errors cancel, dead bands stay.
const CHANGE: f64 = 0.05;
/// How many half intervals an offset from the first day must reach [-]: two are about four standard deviations.
const FROM_FIRST_DAY: f64 = 2.0;
/// A head interval wider than this, each way, in design heads, hides too much to call the curve kept [-].
const TOO_WIDE: f64 = 0.10;
/// Hours at neither end that the record must have to be judged at all [h].
const LEAST_JUDGED_H: f64 = 6.0;

/// Judges the loop, or the one pump among several that leaves the curve.
pub fn judge(case: &Case) -> Vec<Verdict> {
    if let Some(v) = not_judgeable(case) {
        return vec![v];
    }
    let all: Vec<usize> = (0..case.pumps.len()).collect();
    let one_by_one: Vec<Tally> = all.iter().map(|p| Tally::new(case, &[*p])).collect();
    let off = one_by_one.iter().filter(|t| t.enough_off(case)).count();
    let with_hours = one_by_one.iter().filter(|t| t.judged_h(case) >= LEAST_JUDGED_H).count();
    if off > 0 && off < with_hours {
        let named = one_by_one.iter().zip(&case.pumps).filter(|(t, _)| t.judged_h(case) >= LEAST_JUDGED_H);
        return named.map(|(t, p)| t.verdict(case, p.name)).collect();
    }
    vec![Tally::new(case, &all).verdict(case, "loop")]
}

fn not_judgeable(case: &Case) -> Option<Verdict> {
    let mode = case.plant.control.mode;
    let why = match mode {
        None => return Some(cannot_tell(FAULT, "loop", &["[control].mode"], "no control curve is declared")),
        Some(ControlMode::Temperature | ControlMode::DeltaTemperature | ControlMode::External) => {
            "the declared control sets the speed by something other than pressure"
        }
        Some(ControlMode::FixedSpeed | ControlMode::ConstantFlow) => "the declared control has no head to keep",
        Some(_) => return None,
    };
    Some(cannot_tell(FAULT, "loop", &[], why))
}

/// One day's account.
struct Day {
    first: usize,
    judged: usize,
    above: usize,
    below: usize,
    excess_kpa: f64,
}

/// The rows judged of some pumps.
struct Tally {
    pumps: Vec<usize>,
    days: Vec<Day>,
    /// Row and pump of points off the curve on days that are off it, one way.
    off: Vec<(usize, usize)>,
    up: bool,
    half_kpa: f64,
}

impl Tally {
    fn new(case: &Case, pumps: &[usize]) -> Self {
        let days: Vec<Day> = case.days().into_iter().map(|rows| day(case, pumps, rows)).collect();
        let least = LEAST_DAY_H / case.step_h;
        let counts = |d: &&Day, n: usize| d.judged as f64 >= least && n as f64 >= DAY_OFF * d.judged as f64;
        let above: usize = days.iter().filter(|d| counts(d, d.above)).map(|d| d.above).sum();
        let below: usize = days.iter().filter(|d| counts(d, d.below)).map(|d| d.below).sum();
        let halves = pumps.iter().flat_map(|p| {
            let p = &case.pumps[*p];
            (0..case.rows()).filter(|i| is_judged(p.regime[*i])).map(|i| (p.head_high_kpa[i] - p.head_low_kpa[i]) / 2.0)
        });
        let half_kpa = if by_sensor(case) { 0.0 } else { median(halves) };
        let mut tally = Self { pumps: pumps.to_vec(), days, off: Vec::new(), up: above >= below, half_kpa };
        tally.off = tally.rows_off(case);
        tally
    }

    fn wanted(&self) -> Regime {
        if self.up { Regime::AboveCurve } else { Regime::BelowCurve }
    }

    fn is_off(&self, case: &Case, d: &Day) -> bool {
        let n = if self.up { d.above } else { d.below };
        d.judged as f64 * case.step_h >= LEAST_DAY_H && n as f64 >= DAY_OFF * d.judged as f64
    }

    fn is_on(case: &Case, d: &Day) -> bool {
        d.judged as f64 * case.step_h >= LEAST_DAY_H && (d.above + d.below) as f64 <= DAY_ON * d.judged as f64
    }

    fn rows_off(&self, case: &Case) -> Vec<(usize, usize)> {
        let mut off = Vec::new();
        for (d, rows) in self.days.iter().zip(case.days()) {
            if self.is_off(case, d) {
                for i in rows {
                    off.extend(
                        self.pumps.iter().filter(|p| case.pumps[**p].regime[i] == self.wanted()).map(|p| (i, *p)),
                    );
                }
            }
        }
        off
    }

    fn judged_h(&self, case: &Case) -> f64 {
        self.days.iter().map(|d| d.judged).sum::<usize>() as f64 * case.step_h
    }

    /// Hours off the curve: rows, not pumps.
    fn off_rows(&self) -> Vec<usize> {
        let mut rows: Vec<usize> = self.off.iter().map(|o| o.0).collect();
        rows.dedup();
        rows
    }

    fn enough_off(&self, case: &Case) -> bool {
        let days = self.days.iter().filter(|d| self.is_off(case, d)).count();
        self.off_rows().len() as f64 * case.step_h >= LEAST_OFF_H && days >= LEAST_DAYS
    }

    fn verdict(&self, case: &Case, subject: &str) -> Verdict {
        let design = reference_head_kpa(case);
        if self.judged_h(case) < LEAST_JUDGED_H {
            let flow_known = case.loop_flow_m3h.iter().any(|q| *q > 0.0);
            return if !flow_known {
                let why = "what the curve asks hangs on the flow, and the flow is not known";
                cannot_tell(FAULT, subject, &["loop-flow", "pump.curve"], why)
            } else {
                let missing = ["pump-head", "pump-power with a pump curve"];
                let why = "fewer than six steady hours with a known head between speed floor and full speed";
                cannot_tell(FAULT, subject, &missing, why)
            };
        }
        if !self.enough_off(case) {
            return self.kept(case, subject, design);
        }
        let excess = median(self.off.iter().map(|(i, p)| excess_kpa(case, *p, *i)));
        let change = self.change(case, excess);
        let far = excess.abs() >= FROM_FIRST_DAY * self.half_kpa + crate::regimes::CURVE_TOLERANCE * design;
        if !change.is_some_and(|c| c.abs() >= CHANGE * design) && !far {
            let why = format!(
                "the points lie {} {} the curve, which errors common to all rows (interval {} each way) could make too",
                case.say_head(excess.abs()),
                if self.up { "above" } else { "below" },
                case.say_head(self.half_kpa)
            );
            return cannot_tell(FAULT, subject, &["a pressure reading at the pump good to 2 %"], why);
        }
        self.found(case, subject, excess, change)
    }

    fn kept(&self, case: &Case, subject: &str, design: f64) -> Verdict {
        if self.half_kpa > TOO_WIDE * design || !design.is_finite() {
            let why = format!("the head is known only to {} each way", case.say_head(self.half_kpa));
            return cannot_tell(FAULT, subject, &["pump-head"], why);
        }
        let least = self.half_kpa + crate::regimes::CURVE_TOLERANCE * design;
        clear(
            FAULT,
            subject,
            format!("points {} or more off the curve for {LEAST_OFF_H} h on {LEAST_DAYS} days", case.say_head(least)),
        )
    }

    /// How far the excess of the days off stands from that of the days on, at flows both have seen [kPa].
    fn change(&self, case: &Case, excess: f64) -> Option<f64> {
        let flows = |i: &(usize, usize)| case.loop_flow_m3h[i.0];
        let (low, high) = (quantile(self.off.iter().map(flows), 0.05), quantile(self.off.iter().map(flows), 0.95));
        let mut good = Vec::new();
        let mut good_days = 0;
        for (d, rows) in self.days.iter().zip(case.days()) {
            if Self::is_on(case, d) {
                let before = good.len();
                for i in rows {
                    let like = case.loop_flow_m3h[i] >= low && case.loop_flow_m3h[i] <= high;
                    let judged = self.pumps.iter().filter(|p| like && is_judged(case.pumps[**p].regime[i]));
                    good.extend(judged.map(|p| excess_kpa(case, *p, i)));
                }
                good_days += usize::from(good.len() > before);
            }
        }
        (good_days >= LEAST_GOOD_DAYS).then(|| excess - median(good))
    }

    /// First row of the deviation: that of the first day off, unless a believed step says a later day.
    fn first_row(&self, case: &Case) -> usize {
        let daily: Vec<f64> = self.days.iter().map(|d| d.excess_kpa).collect();
        let first_day = self.days.iter().position(|d| self.is_off(case, d)).unwrap_or(0);
        let step = onset::step(&daily, &[], 2).filter(|s| s.t >= onset::BELIEVED && (s.size > 0.0) == self.up);
        let begun = step.map_or(0, |s| if s.at > first_day + 1 { self.days[s.at].first } else { 0 });
        self.off.iter().map(|o| o.0).find(|i| *i >= begun).unwrap_or(begun)
    }

    fn found(&self, case: &Case, subject: &str, excess: f64, change: Option<f64>) -> Verdict {
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
            "Between its speed limits {} ran {} {side} the configured curve for {hours:.0} h, {}.{}{}{}",
            if subject == "loop" { "the loop" } else { subject },
            case.say_head(excess.abs()),
            if from_start { "from the first day on".to_owned() } else { format!("since {}", case.say_when(first)) },
            shape,
            if from_start {
                " Since it is there from the first day, the curve in the plant file may be the wrong one."
            } else {
                ""
            },
            price::money(case, yearly),
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
            change:
                "Set the drive or controller back to the configured curve, or write the curve that is meant into the \
                     plant file."
                    .into(),
            caution: case.caution(if self.up {
                "Someone may have raised the head for a load that was short: ask before lowering it."
            } else {
                "Too little head can starve the neediest load."
            }),
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
            number("half of the head's 95 % interval", self.half_kpa, "kPa", "smaller than the distance", source),
            number("share of judged rows off the curve", share, "fraction", "at most 0.05", source),
        ];
        if let Some(c) = change {
            all.push(number(
                "change against the days on the curve",
                c,
                "kPa",
                "0",
                "days off against days on, same flows",
            ));
        }
        all
    }

    /// What the points off the curve look like instead.
    fn shape(&self, case: &Case) -> String {
        let of = |column: &dyn Fn(usize, usize) -> f64| -> Vec<f64> {
            self.off.iter().map(|(i, p)| column(*i, *p)).filter(|v| v.is_finite()).collect()
        };
        let flow = of(&|i, _| case.loop_flow_m3h[i]);
        let head = of(&|i, p| case.pumps[p].head_kpa[i]);
        let speed = of(&|i, p| case.pumps[p].speed[i]);
        let spread = quantile(flow.iter().copied(), 0.9) - quantile(flow.iter().copied(), 0.1);
        if !(spread >= FLOW_MOVED * case.design_flow_m3h()) {
            return " The flow moved too little to tell what is held instead.".into();
        }
        let centre = median(head.iter().copied());
        if deviation(&speed) <= SPEED_HELD {
            let held = median(speed.iter().copied());
            return format!(" Its speed stands at {} whatever the flow: a fixed speed.", say::percent(held));
        }
        if deviation(&head) <= HEAD_HELD * reference_head_kpa(case) {
            return format!(" Its head stands near {} whatever the flow: a constant pressure.", case.say_head(centre));
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
}

/// Flow must move this much of the design flow to tell a shape [-].
const FLOW_MOVED: f64 = 0.10;
/// A speed that spreads no more than this is held [-].
const SPEED_HELD: f64 = 0.008;
/// A head that spreads no more than this, in design heads, is held [-].
const HEAD_HELD: f64 = 0.025;
/// Part of the rise up to which a point still tells the zero-flow head [-].
const LOW_ON_CURVE: f64 = 0.7;

fn day(case: &Case, pumps: &[usize], rows: std::ops::Range<usize>) -> Day {
    let mut day = Day { first: rows.start, judged: 0, above: 0, below: 0, excess_kpa: f64::NAN };
    let mut excess = Vec::new();
    for i in rows {
        let mut sides = [0usize; 3];
        for p in pumps {
            let regime = case.pumps[*p].regime[i];
            if is_judged(regime) {
                sides[(regime == Regime::AboveCurve) as usize + 2 * (regime == Regime::BelowCurve) as usize] += 1;
                excess.push(excess_kpa(case, *p, i));
            }
        }
        let judged = sides[0] + sides[1] + sides[2];
        day.judged += usize::from(judged > 0);
        day.above += usize::from(judged > 0 && sides[1] * 2 > judged);
        day.below += usize::from(judged > 0 && sides[2] * 2 > judged);
    }
    if day.judged as f64 * case.step_h >= LEAST_DAY_H {
        day.excess_kpa = median(excess);
    }
    day
}

fn is_judged(regime: Regime) -> bool {
    matches!(regime, Regime::OnCurve | Regime::AboveCurve | Regime::BelowCurve)
}

/// Whether the control follows a sensor whose trend is held against its setpoint.
fn by_sensor(case: &Case) -> bool {
    let no_curve = case.pumps.iter().all(|p| p.curve_head_kpa.iter().all(|c| !c.is_finite()));
    no_curve && case.dp_kpa.is_some()
}

/// Head above the curve, or, where the curve at the pump is unknown, sensor reading above its setpoint [kPa].
fn excess_kpa(case: &Case, p: usize, i: usize) -> f64 {
    let curve = case.pumps[p].curve_head_kpa[i];
    if curve.is_finite() {
        return case.pumps[p].head_kpa[i] - curve;
    }
    let declared = case.plant.control.setpoint.map_or(f64::NAN, Pressure::in_kpa);
    let setpoint = case.dp_setpoint_kpa.map(|s| s[i]).filter(|s| s.is_finite()).unwrap_or(declared);
    case.dp_kpa.map_or(f64::NAN, |dp| dp[i] - setpoint)
}

/// Flow and head of the row on the curve.
fn on_curve(case: &Case, pumps: &[usize], i: usize) -> (f64, f64) {
    let excess = median(pumps.iter().filter(|p| is_judged(case.pumps[**p].regime[i])).map(|p| excess_kpa(case, *p, i)));
    (case.loop_flow_m3h[i], case.loop_head_kpa[i] - excess)
}

fn reference_head_kpa(case: &Case) -> f64 {
    let h = case.design_head_kpa();
    if h.is_finite() { h } else { median(case.loop_head_kpa.iter().copied()) }
}

fn curve_flow_m3h(case: &Case) -> f64 {
    case.plant.control.design_flow.or(case.plant.system.design_flow).map_or(f64::NAN, Flow::in_m3h)
}

fn curve_head_kpa(case: &Case) -> f64 {
    case.plant.control.design_head.or(case.plant.system.design_head).map_or(f64::NAN, Pressure::in_kpa)
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
        "With a calibrated differential gauge across the pump, read the head at two flows and lay both on the curve.",
        "Vent the control sensor's lines and check its zero with the valves to it equalised.",
    ])
}
