//! The control curve is kept, and asks for more head than the neediest valve ever needed.
//!
//! At part load every loop needs less than its design head; that alone is no fault of the setting. So the need is also
//! carried up to design flow as flow squared, which overstates it where the coil that was neediest is so at design flow too, and understates it
//! where another is that took little; and told a second time by the learned loop. Both hang on how the loop learned shares its losses between
//! pipes and valves: where records leave that open, loops that explain them alike differ by a factor of three at design flow. So only when the
//! setting is too high by their mean, and not needed by the one that asks most either, is it found. A curve that rises with the flow has a second
//! end: its zero-flow head is too high when a curve from a lower one, through the same design point, would have met
//! nearly every need at lower flows; need that a fall of the temperature difference made is not counted there. A sensor that reads low makes too much head
//! at a right setpoint: `sensor.rs` looks for it. `told.rs` is what is said.

#[path = "setpoint-too-high/lower_end.rs"]
mod lower_end;
#[path = "setpoint-too-high/sensor.rs"]
mod sensor;
#[path = "setpoint-too-high/told.rs"]
mod told;

use super::low_delta_t::three_way_share;
use super::off_control_curve::head_is_read;
use super::{cannot_tell, clear};
use crate::faults::spread::{median, quantile};
use crate::faults::{Case, CoilCase, Fault, Verdict, onset, say};
use crate::plant::{ControlMode, Valve};
use crate::quantity::{Flow, Pressure};
use crate::regimes::{Regime, ask_at};

const FAULT: Fault = Fault::SetpointTooHigh;
/// Need over head that all but one hour in twenty stay below, from which there is too much [-].
const TOO_MUCH: f64 = 0.80;
/// Opening of the neediest valve that all but one hour in twenty stay below [-]: resets aim at 85 to 90 %.
const THROTTLED: f64 = 0.85;
/// A valve this far open is at its end [-]; this share of the hours there means the head was needed [-].
pub(super) const PEGGED: f64 = 0.95;
const PEGGED_SHARE: f64 = 0.02;
/// Need carried to design flow over the curve's head there, from which the setting is too high [-]: what the loop learned of itself is good to a
/// tenth, and a margin of a tenth is honest.
const AT_DESIGN: f64 = 0.80;
/// By the learned loop alone the need at design flow may be no more than this of the setting's head there, nor by both tellings with the loop that
/// asks most of those that explain the record [-]; where the record never came near design flow and the learned loop stands alone, no more than
/// that below, by the one that asks most [-].
const LEARNED_MOST: f64 = 0.95;
const LEARNED_ALONE: f64 = 0.65;
/// Flow from which a need may be carried to design flow, in design flows [-]: from half, the square is a factor of four at most.
const CARRIES: f64 = 0.5;
/// Hours needed: in all, and at such flows [h].
const LEAST_H: f64 = 24.0;
const LEAST_HIGH_H: f64 = 12.0;
/// Head left above the need in the counterfactual [-].
const MARGIN: f64 = 1.10;
/// Share of the coils' design flow whose valves must be trended [-].
const TRENDED: f64 = 0.6;
/// Days it must have been seen on [days].
const LEAST_DAYS: usize = 5;
/// Hours of a day on which its ratio stands [h].
const LEAST_DAY_H: f64 = 1.0;

/// One verdict for the loop.
pub fn judge(case: &Case) -> Vec<Verdict> {
    vec![missing(case).unwrap_or_else(|| judge_loop(case))]
}

fn missing(case: &Case) -> Option<Verdict> {
    let tell = |missing: &[&str], why: &str| Some(cannot_tell(FAULT, "loop", missing, why));
    match case.plant.control.mode {
        None => return tell(&["[control].mode"], "no control curve is declared"),
        Some(
            ControlMode::ConstantPressure
            | ControlMode::RemotePressure
            | ControlMode::Proportional
            | ControlMode::Quadratic,
        ) => {}
        Some(_) => return tell(&[], "the declared control has no head that could be set lower"),
    }
    if !case.design_flow_m3h().is_finite() {
        return tell(&["[loop].design_flow"], "how near the record comes to design flow is not known");
    }
    let untrended_index = case.coils.iter().any(|c| c.declared.index && c.valve.is_none());
    if trended_share(case) < TRENDED || untrended_index {
        return tell(
            &["valve-position"],
            "the valves of the index branch and of most of the design flow are not trended",
        );
    }
    if share_of(case, |c| c.valve.is_some() && opens_for_head(c)) < TRENDED {
        return tell(
            &[],
            "most valves hold their own flow: their position shows the flow they pass, not the head they lack",
        );
    }
    if !head_is_read(case) {
        return tell(&["pump-head"], "no head is read: one taken from the pump's table carries the table's errors");
    }
    None
}

/// Whether a valve's opening says how much head it lacks.
fn opens_for_head(c: &CoilCase) -> bool {
    !matches!(c.declared.valve, Some(Valve::PressureIndependent | Valve::Thermostatic | Valve::None))
}

/// The widest of the valves that say so and whose fan runs [-]; NaN where none is known.
pub(super) fn widest(case: &Case, i: usize) -> f64 {
    let counts = case.coils.iter().filter(|c| opens_for_head(c) && !c.fan_off(i));
    counts.filter_map(|c| c.valve).map(|v| v[i]).fold(f64::NAN, f64::max)
}

/// Of the steady running rows since the first of `rows`, the share at full speed with a valve at its end [-]: there the curve's head was needed, and more.
fn short_at_full_speed(case: &Case, rows: &[usize]) -> f64 {
    let first = rows.first().copied().unwrap_or(case.rows());
    let runs = |i: &usize| case.steady[*i] && !case.frost[*i] && case.loop_flow_m3h[*i] > 0.0;
    let short = |i: usize| case.all_in(i, &[Regime::FullSpeed]) && widest(case, i) >= PEGGED;
    let (all, at_end) =
        (first..case.rows()).filter(runs).fold((0usize, 0usize), |(all, at), i| (all + 1, at + usize::from(short(i))));
    at_end as f64 / all.max(1) as f64
}

/// Share of the coils (by design flow where all declare it, else by number) whose valves are trended.
pub(super) fn trended_share(case: &Case) -> f64 {
    share_of(case, |c| c.valve.is_some())
}

/// The same for coils of any kind.
fn share_of(case: &Case, wanted: impl Fn(&CoilCase) -> bool) -> f64 {
    let by_flow = case.coils.iter().all(|c| c.declared.design_flow.is_some());
    let weight = |c: &CoilCase| {
        if by_flow { c.declared.design_flow.map_or(0.0, Flow::in_m3h) } else { f64::from(c.declared.count) }
    };
    let all: f64 = case.coils.iter().map(weight).sum();
    let with: f64 = case.coils.iter().filter(|c| wanted(c)).map(weight).sum();
    if all > 0.0 { with / all } else { 0.0 }
}

/// The rows judged and what they say.
struct Judged {
    rows: Vec<usize>,
    ratio: f64,
    widest: f64,
    pegged: f64,
    high_h: f64,
    /// Head needed at design flow over what the setting asks there [-]: by the learned loop; and its geometric mean with what the record's rows
    /// carried there give.
    learned: Option<f64>,
    at_design: f64,
    /// That mean by the loop that asks most of those that explain the record [-].
    at_most: f64,
    highest_flow: f64,
    days: usize,
}

fn judge_loop(case: &Case) -> Verdict {
    let rows = kept_rows(case);
    if (rows.len() as f64) * case.step_h < LEAST_H {
        let floor = (0..case.rows()).filter(|i| case.all_in(*i, &[Regime::SpeedFloor])).count() as f64 * case.step_h;
        let why = format!(
            "fewer than {LEAST_H:.0} h on the curve with a known need; {floor:.0} h stood on the speed floor, which holds the \
             head there, not the setting"
        );
        return cannot_tell(FAULT, "loop", &[], why);
    }
    if off_curve(case) > rows.len() {
        let why = "the pumps are off their curve for longer than on it: what the setting gives shows once off-control-curve is mended";
        return cannot_tell(FAULT, "loop", &[], why);
    }
    let past = super::stuck_bypass::past_the_coils(case);
    let rows = since_change(case, rows);
    let rows: Vec<usize> =
        rows.into_iter().filter(|i| past.is_none_or(|(from, share)| *i < from || share > 0.0)).collect();
    if (rows.len() as f64) * case.step_h < LEAST_H {
        return cannot_tell(
            FAULT,
            "loop",
            &[],
            "since water goes past the coils, their need at design flow is not known",
        );
    }
    let low = sensor::reads_low(case, &rows);
    if let Some(found) = lower_end::judge(case, &rows) {
        return low.unwrap_or(found);
    }
    let j = Judged::new(case, rows, past);
    if j.pegged >= PEGGED_SHARE || j.ratio > TOO_MUCH || j.widest > THROTTLED {
        return clear(
            FAULT,
            "loop",
            "a head at least a quarter above what the neediest valve needed in 19 of 20 hours",
        );
    }
    if j.high_h < LEAST_HIGH_H && !(j.at_design <= LEARNED_ALONE) {
        let why = format!(
            "the record reaches {} of design flow only: what the loop needs at design flow was not seen",
            say::percent(j.highest_flow)
        );
        return cannot_tell(FAULT, "loop", &["weeks of higher load"], why);
    }
    if !(j.at_design <= AT_DESIGN) || j.learned.is_some_and(|l| l > LEARNED_MOST) {
        return clear(FAULT, "loop", "a setting more than a quarter above the seen need carried up to design flow");
    }
    if !(j.at_most <= LEARNED_MOST) {
        let why = format!(
            "loops that explain the record alike differ at design flow: by the one that asks most the need there is {} of what the setting gives",
            say::percent(j.at_most)
        );
        return cannot_tell(FAULT, "loop", &["weeks of higher load"], why);
    }
    if j.days < LEAST_DAYS {
        let why = format!("fewer than {LEAST_DAYS} days since the setting last moved");
        return cannot_tell(FAULT, "loop", &[], why);
    }
    low.unwrap_or_else(|| told::found(case, &j))
}

/// Steady rows off the curve, at neither end of the speed range.
fn off_curve(case: &Case) -> usize {
    let off = |i: &usize| case.all_in(*i, &[Regime::AboveCurve]) || case.all_in(*i, &[Regime::BelowCurve]);
    (0..case.rows()).filter(off).count()
}

/// Steady rows on their curve, at neither end of the speed range, with a known need, out of frost.
fn kept_rows(case: &Case) -> Vec<usize> {
    // Where the sensor at the load is not trended, whether the pumps keep its setpoint is not known, but what they make is.
    let unseen = case.plant.control.mode == Some(ControlMode::RemotePressure) && case.dp_kpa.is_none();
    (0..case.rows())
        .filter(|i| case.steady[*i] && !case.frost[*i] && case.need_kpa[*i].is_finite())
        .filter(|i| case.loop_head_kpa[*i] > 0.0 && case.loop_flow_m3h[*i] > 0.0)
        .filter(|i| case.all_in(*i, &[Regime::OnCurve]) || (unseen && case.all_in(*i, &[Regime::Unknown])))
        .collect()
}

/// Rows since the setting last moved: by what is declared, or by a step in the day's ratio from needed to too much.
fn since_change(case: &Case, rows: Vec<usize>) -> Vec<usize> {
    let declared = case.plant.control_history.last().map_or(i64::MIN, |(until, _)| until.timestamp_millis());
    let rows: Vec<usize> = rows.into_iter().filter(|i| case.time_ms[*i] >= declared).collect();
    let days = case.days();
    let daily: Vec<f64> = days
        .iter()
        .map(|d| {
            let mine = &rows[rows.partition_point(|i| *i < d.start)..rows.partition_point(|i| *i < d.end)];
            let enough = mine.len() as f64 * case.step_h >= LEAST_DAY_H;
            if enough { quantile(mine.iter().map(|i| ratio(case, *i)), 0.95) } else { f64::NAN }
        })
        .collect();
    let moved = onset::step(&daily, &[], 3).filter(|s| s.t >= onset::BELIEVED && s.size < 0.0 && s.before > TOO_MUCH);
    let from = moved.map_or(0, |s| days[s.at].start);
    rows.into_iter().filter(|i| *i >= from).collect()
}

fn ratio(case: &Case, i: usize) -> f64 {
    case.need_kpa[i] / case.loop_head_kpa[i]
}

impl Judged {
    fn new(case: &Case, rows: Vec<usize>, past: Option<(usize, f64)>) -> Self {
        let design = case.design_flow_m3h();
        let high: Vec<usize> = rows.iter().copied().filter(|i| case.loop_flow_m3h[*i] >= CARRIES * design).collect();
        let mut days: Vec<u32> = rows.iter().map(|i| case.local_day[*i]).collect();
        days.dedup();
        let up = |i: usize| (design / case.loop_flow_m3h[i]).powi(2).max(1.0);
        let asked = median(rows.iter().map(|i| asked_at_design_kpa(case, *i, up(*i))));
        let high_h = high.len() as f64 * case.step_h;
        let reached = high_h >= LEAST_HIGH_H;
        let told = |need: &[f64], learned: Option<f64>| {
            let carried = quantile(high.iter().map(|i| carried(case, *i, need[*i], past)), 0.90);
            learned.map_or(carried, |l| (carried * l).sqrt())
        };
        let learned = case.need_at_design.map(|n| n.mean_kpa / asked);
        let highest = case.need_at_design.map(|n| n.high_kpa / asked);
        let at_most = if reached { told(case.need_high_kpa, highest) } else { highest.unwrap_or(f64::NAN) };
        let at_design = if reached { told(case.need_kpa, learned) } else { at_most };
        let kept = rows.iter().filter(|i| widest(case, **i) >= PEGGED).count() as f64 / rows.len().max(1) as f64;
        let pegged = kept.max(short_at_full_speed(case, &rows));
        Self {
            ratio: quantile(rows.iter().map(|i| ratio(case, *i)), 0.95),
            widest: quantile(rows.iter().map(|i| widest(case, *i)), 0.95),
            pegged,
            high_h,
            learned,
            at_design,
            at_most,
            highest_flow: quantile(rows.iter().map(|i| case.loop_flow_m3h[*i]), 0.98) / design,
            days: days.len(),
            rows,
        }
    }
}

/// A row's need carried to design flow over what the control asks there [-]. Water past the coils is not theirs, and three-way valves let
/// theirs through at any load: what throttles has further to rise.
fn carried(case: &Case, i: usize, need_kpa: f64, past: Option<(usize, f64)>) -> f64 {
    let design = case.design_flow_m3h();
    let through = design * three_way_share(case);
    let coils = case.loop_flow_m3h[i] * past.filter(|p| i >= p.0).map_or(1.0, |p| 1.0 - p.1) - through;
    let up = ((design - through) / coils.max(0.0)).powi(2).max(1.0);
    let fixed = case.plant.system.static_head.map_or(0.0, Pressure::in_kpa);
    let need = fixed + (need_kpa - fixed).max(0.0) * up;
    need / asked_at_design_kpa(case, i, up)
}

fn asked_at_design_kpa(case: &Case, i: usize, up: f64) -> f64 {
    let control = &case.plant.control;
    let trended = case.dp_setpoint_kpa.map_or(f64::NAN, |s| s[i]);
    if control.mode == Some(ControlMode::RemotePressure) {
        let declared = control.setpoint.map_or(f64::NAN, Pressure::in_kpa);
        let setpoint = if trended.is_finite() { trended } else { declared };
        let reading = case.dp_kpa.map_or(setpoint, |d| d[i]);
        return setpoint + (case.loop_head_kpa[i] - reading).max(0.0) * up;
    }
    ask_at(case.plant, control, case.design_flow_m3h(), trended)
}
