//! How many pumps run against how many the duty asks for.
//!
//! Comes in: a [`Case`] with two pumps or more. Goes out: rows with one pump too many, and rows with one too few. The decision a reader would question: one pump fewer is judged at the same flow and head, through the
//! same pump models, so that the table's own error is in both powers; and only where the fewer pumps stay inside their preferred region.

use super::{Case, PumpCase, Shown, What};
use crate::operating::{State, model::witness};
use crate::quantity::Fraction;

/// Rows priced; more would only cost time [-].
const MOST_PRICED: usize = 4000;
/// So long after a change of the number of running pumps the change is still on its way [h]: overlaps at changeover, staging timers of 10 min.
const SETTLED_H: f64 = 0.5;
/// One pump fewer must save this much of the row's power [-].
pub(super) const LEAST_SAVING: f64 = 0.08;
/// Flow over best-efficiency flow up to which fewer pumps may go [-]: 120 % by ANSI/HI 9.6.3 for most pumps, less what the table may be off.
const MOST_OF_BEST: f64 = 1.15;
/// Head at best flow over shut-off head, where no table is declared [-] (common practice, no source).
const HEAD_AT_BEST: f64 = 0.8;
/// A speed within this of the maximum is at it [-].
const FULL: f64 = 0.015;
/// Head below the curve by more than this of the curve [-], beyond its own interval.
const SHORT_OF: f64 = 0.03;

/// Rows of one kind of wrong count.
#[derive(Debug, Default)]
pub(super) struct Wrong {
    pub rows: Vec<usize>,
    /// Share of the running hours judged, and hours [h].
    pub share: f64,
    pub hours: f64,
    pub judged_h: f64,
    /// Mean share of the power that one pump fewer saves [-].
    pub saving: f64,
    pub days: usize,
}

/// How many pumps turn in a row; `None` where one is unknown.
pub(super) fn running(case: &Case, i: usize) -> Option<usize> {
    let mut n = 0;
    for p in &case.pumps {
        n += match p.state[i] {
            State::Unknown => return None,
            State::Off => 0,
            _ => 1,
        };
    }
    Some(n)
}

/// Rows in which as many pumps as before run steadily, with the number.
fn settled(case: &Case) -> Vec<(usize, usize)> {
    let wait = (SETTLED_H / case.step_h - 1e-9).ceil().max(1.0) as usize;
    let (mut since, mut before) = (0, None);
    let mut rows = Vec::new();
    for i in 0..case.rows() {
        let now = running(case, i);
        since = if now.is_some() && now == before { since + 1 } else { 0 };
        before = now;
        if let Some(n) = now.filter(|n| *n > 0 && since >= wait && !case.frost[i]) {
            rows.push((i, n));
        }
    }
    rows
}

/// Rows in which one pump fewer would do with less power; counts only where the power of both can be told.
pub(super) fn too_many(case: &Case, spared: impl Fn(usize) -> bool) -> Wrong {
    let steady: Vec<(usize, usize)> = settled(case)
        .into_iter()
        .filter(|(i, _)| case.steady[*i] && case.loop_flow_m3h[*i] > 0.0 && case.loop_head_kpa[*i] > 0.0)
        .collect();
    let stride = steady.len().div_ceil(MOST_PRICED).max(1);
    let sampled: Vec<(usize, usize)> = steady.iter().copied().step_by(stride).collect();
    let mut wrong = Wrong { judged_h: steady.len() as f64 * case.step_h, ..Wrong::default() };
    let (mut known, mut saved) = (0usize, 0.0);
    for (i, n) in sampled {
        let saving = if n < 2 { 0.0 } else { saving_of_one_fewer(case, i, n) };
        if saving.is_nan() {
            continue;
        }
        known += 1;
        if saving >= LEAST_SAVING && !spared(n) {
            wrong.rows.push(i);
            saved += saving;
        }
    }
    wrong.judged_h *= known as f64 / steady.len().div_ceil(stride).max(1) as f64;
    wrong.share = wrong.rows.len() as f64 / known.max(1) as f64;
    wrong.hours = wrong.share * wrong.judged_h;
    wrong.saving = saved / wrong.rows.len() as f64;
    wrong.days = days(case, &wrong.rows);
    wrong
}

/// The day with most of these rows, priced row by row: what one pump fewer would take, where it would do.
pub(super) fn shown(case: &Case, w: &Wrong) -> Shown {
    let within =
        |d: &std::ops::Range<usize>| w.rows.partition_point(|i| *i < d.end) - w.rows.partition_point(|i| *i < d.start);
    // The last of equals would win: counted backward, the first does.
    let Some(day) = case.days().into_iter().rev().max_by_key(within) else { return Shown::default() };
    let settled = settled(case).into_iter().filter(|(i, n)| day.contains(i) && *n > 1 && case.steady[*i]);
    let mut rows = Vec::new();
    let mut with_fewer_kw = Vec::new();
    for (i, n) in settled {
        if saving_of_one_fewer(case, i, n) >= LEAST_SAVING {
            rows.push(i);
            let kw = (case.price)(case.loop_flow_m3h[i], case.loop_head_kpa[i], so_many(n - 1));
            with_fewer_kw.extend(u32::try_from(i).ok().map(|row| (row, kw as f32)));
        }
    }
    Shown::new(&rows, What::TooMany { with_fewer_kw })
}

/// Share of the power that one pump fewer would save at both ends of the flow's interval too; zero where it cannot do the duty or would leave its
/// region; NaN where today's power is not known.
fn saving_of_one_fewer(case: &Case, i: usize, n: usize) -> f64 {
    let head = case.loop_head_kpa[i];
    let saving = |flow: f64| part_saved(case, flow, head, n);
    let now = (case.price)(case.loop_flow_m3h[i], head, so_many(n));
    if !(now > 0.0) {
        return f64::NAN;
    }
    let ends = [case.loop_flow_low_m3h[i], case.loop_flow_high_m3h[i]];
    let certain = ends.into_iter().filter(|q| q.is_finite()).all(|q| saving(q) > 0.0);
    let best = saving(case.loop_flow_m3h[i]);
    if certain && best > 0.0 && within_region(case, i, case.loop_flow_m3h[i] / (n - 1) as f64, head) {
        best
    } else {
        0.0
    }
}

/// Share of the power that one pump fewer saves at a duty [-]; NaN where either cannot be told.
pub(super) fn part_saved(case: &Case, flow: f64, head: f64, n: usize) -> f64 {
    1.0 - (case.price)(flow, head, so_many(n - 1)) / (case.price)(flow, head, so_many(n))
}

fn so_many(n: usize) -> u8 {
    u8::try_from(n).unwrap_or(u8::MAX)
}

/// Whether every running pump could take this flow [m3/h] at this head [kPa] below its maximum speed and inside its preferred region; a pump whose
/// best flow is not known is taken by its price alone.
fn within_region(case: &Case, i: usize, flow: f64, head: f64) -> bool {
    let most = case.plant.control.maximum_speed.map_or(1.0, Fraction::in_of_one);
    case.pumps.iter().filter(|p| !matches!(p.state[i], State::Off | State::Unknown)).all(|p| {
        if !(p.best_flow_m3h > 0.0) {
            return true;
        }
        let speed = speed_for(p, flow, head);
        speed <= most && flow <= MOST_OF_BEST * speed * p.best_flow_m3h
    })
}

/// Speed [-] at which a pump makes a head at a flow, by its table and the affinity laws; beyond 1.5 it is infinite.
fn speed_for(p: &PumpCase, flow: f64, head: f64) -> f64 {
    let table = p.declared.curves.first();
    let makes = |s: f64| match table {
        Some(t) => {
            let part = s / t.speed.in_of_one();
            let at = (flow / part).min(t.head_flow_m3h.last().copied().unwrap_or(0.0));
            part * part * between(&t.head_flow_m3h, &t.head_kpa, at)
        }
        None => s * s * p.shut_off_kpa - (1.0 - HEAD_AT_BEST) * p.shut_off_kpa * (flow / p.best_flow_m3h).powi(2),
    };
    let (mut low, mut high) = (0.05, 1.5);
    if !(makes(high) >= head) {
        return f64::INFINITY;
    }
    for _ in 0..40 {
        let s = 0.5 * (low + high);
        if makes(s) >= head { high = s } else { low = s }
    }
    high
}

/// By straight lines between a table's points; NaN where it has none.
fn between(x: &[f64], y: &[f64], at: f64) -> f64 {
    let k = x.partition_point(|v| *v <= at).clamp(1, x.len().max(2) - 1);
    match (x.get(k - 1..=k), y.get(k - 1..=k)) {
        (Some([a, b]), Some([low, high])) => low + (high - low) * (at - a) / (b - a),
        _ => f64::NAN,
    }
}

/// Share of the running pumps' rows whose flow rests on a head or a meter, and not on power and speed alone [-].
pub(super) fn witnessed(case: &Case) -> f64 {
    let (mut known, mut running) = (0usize, 0usize);
    for p in &case.pumps {
        for (state, basis) in p.state.iter().zip(p.basis) {
            let on = matches!(state, State::Steady | State::Transient);
            running += usize::from(on);
            known += usize::from(on && (basis.rests_on(witness::HEAD) || basis.rests_on(witness::METER)));
        }
    }
    known as f64 / running.max(1) as f64
}

/// Rows in which every running pump is at full speed, the head lies below the curve (or the control pressure below its setpoint), and a pump that
/// shares the duty stands still. `None` where neither curve nor setpoint is known.
pub(super) fn too_few(case: &Case, on_duty: usize) -> Option<Wrong> {
    let rows = settled(case);
    let known = rows.iter().filter(|(i, _)| shortfall(case, *i).is_some()).count();
    let at_full = |i: usize| {
        let most = case.plant.control.maximum_speed.map_or(1.0, Fraction::in_of_one);
        case.pumps.iter().all(|p| p.state[i] == State::Off || p.speed[i] >= most - FULL)
    };
    if known == 0 {
        // Never at full speed with a pump to spare: nothing was short for want of a pump.
        let spare = rows.iter().any(|(i, n)| *n < on_duty && at_full(*i));
        let judged_h = rows.len() as f64 * case.step_h;
        return (!spare && !rows.is_empty()).then(|| Wrong { judged_h, ..Wrong::default() });
    }
    let wrong: Vec<usize> = rows
        .iter()
        .filter(|(i, n)| *n < on_duty && at_full(*i) && shortfall(case, *i) == Some(true))
        .map(|r| r.0)
        .collect();
    let judged_h = rows.len() as f64 * case.step_h;
    let share = wrong.len() as f64 / rows.len().max(1) as f64;
    Some(Wrong { share, hours: share * judged_h, judged_h, saving: f64::NAN, days: days(case, &wrong), rows: wrong })
}

/// Whether the head misses what the control asks for; `None` where that is not known.
fn shortfall(case: &Case, i: usize) -> Option<bool> {
    let on = case.pumps.iter().find(|p| !matches!(p.state[i], State::Off | State::Unknown))?;
    let (head, curve) = (on.head_high_kpa[i], on.curve_head_kpa[i]);
    if head.is_finite() && curve > 0.0 {
        return Some(head < curve * (1.0 - SHORT_OF));
    }
    let (dp, setpoint) = (case.dp_kpa?[i], case.dp_setpoint_kpa?[i]);
    (dp.is_finite() && setpoint > 0.0).then_some(dp < setpoint * (1.0 - SHORT_OF))
}

/// Most pumps that ran together for at least this many hours.
pub(super) fn most_together(case: &Case, hours: f64) -> usize {
    let mut rows = vec![0usize; case.pumps.len() + 1];
    for i in 0..case.rows() {
        if let Some(n) = running(case, i) {
            rows[n] += 1;
        }
    }
    (0..rows.len()).rev().find(|n| rows[*n..].iter().sum::<usize>() as f64 * case.step_h >= hours).unwrap_or(0)
}

fn days(case: &Case, rows: &[usize]) -> usize {
    rows.chunk_by(|a, b| case.local_day[*a] == case.local_day[*b]).count()
}
