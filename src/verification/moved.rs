//! Did the points move to the new curve? Lays out what the old and the new setting ask in every row and hands it to [`took`].

use super::when::{is_free, sensor};
use super::{Changed, View};
use crate::plant::{Control, ControlMode, HeadAt};
use crate::quantity::Pressure;
use crate::regimes::ask_at;
use crate::verify::took::{Points, Took, took};
use crate::verify::{Setting, Stretch};

/// Judges by the first stretch with the old setting and the one with the new setting after it.
pub(super) fn judge(view: &View, changed: &Changed, stretches: &[Stretch], settings: &(Control, Control)) -> Took {
    let (old, new) = settings;
    let cannot = |why: String| Took { took: None, why, moved: None };
    if old == new {
        return cannot(format!(
            "the earlier setting is missing; add it as a [[control_history]] entry. {}",
            stepped(changed)
        ));
    }
    let rows = first_pair(stretches);
    let rows = |i: usize| {
        let ms = view.clock.at_ms(i);
        rows.iter().any(|s| (s.from_ms..s.to_ms).contains(&ms)) && is_free(view, i)
    };
    let Some((measured, asks)) = measured(view, old, new) else {
        return cannot(format!(
            "what the two settings differ in ({}) fixes no head or pressure that is known here. {}",
            differing(old, new),
            stepped(changed)
        ));
    };
    let keep = |of: &dyn Fn(usize) -> f64| -> Vec<f64> {
        (0..view.clock.len).map(|i| if rows(i) { of(i) } else { f64::NAN }).collect()
    };
    let (measured, before, after) = (keep(&|i| measured[i]), keep(&|i| asks(old, i)), keep(&|i| asks(new, i)));
    let times = view.times();
    took(&Points {
        time_ms: &times,
        timezone: view.plant.site.timezone,
        changed_ms: changed.at_ms,
        measured: &measured,
        old: &before,
        new: &after,
    })
}

type Asks<'a> = Box<dyn Fn(&Control, usize) -> f64 + 'a>;

/// What is measured, and what a setting asks of it in a row [kPa]; `None` where neither sensor nor head can be held against both settings.
fn measured<'a>(view: &'a View<'a>, old: &Control, new: &Control) -> Option<(Vec<f64>, Asks<'a>)> {
    let follows = |c: &Control| match c.mode {
        Some(ControlMode::RemotePressure) => true,
        Some(ControlMode::ConstantPressure) => c.head_at != Some(HeadAt::Pump),
        _ => false,
    };
    let setpoint = |c: &Control| c.setpoint.map_or(f64::NAN, Pressure::in_kpa);
    if follows(old)
        && follows(new)
        && (setpoint(old) - setpoint(new)).abs() > 0.0
        && let Some(dp) = sensor(view)
    {
        return Some((dp.to_vec(), Box::new(move |c, _| setpoint(c))));
    }
    let flow = &view.points.system.flow_m3h;
    let asks = move |c: &Control, i: usize| ask_at(view.plant, c, flow[i], f64::NAN);
    let apart = |i: usize| (asks(old, i) - asks(new, i)).abs() > 0.0;
    let head = &view.points.system.head_kpa;
    let any = (0..flow.len()).any(|i| head[i].is_finite() && apart(i));
    any.then(|| (head.clone(), Box::new(asks) as Asks))
}

fn first_pair(stretches: &[Stretch]) -> Vec<Stretch> {
    let new = stretches.iter().position(|s| s.setting == Setting::New);
    let old = new.and_then(|n| stretches[..n].iter().rposition(|s| s.setting == Setting::Old));
    old.into_iter().chain(new).map(|k| stretches[k]).collect()
}

/// What the record itself shows at the change.
fn stepped(changed: &Changed) -> String {
    changed.step.as_ref().map_or_else(
        || "No step of the control stands out at the change".to_owned(),
        |(s, relation)| format!("The record shows a step in {relation} there, {:.0} times its standard error", s.t),
    )
}

fn differing(old: &Control, new: &Control) -> String {
    let kinds: Vec<&str> = [
        ("control mode", old.mode != new.mode),
        ("minimum speed", old.minimum_speed != new.minimum_speed),
        ("maximum speed", old.maximum_speed != new.maximum_speed),
        ("setpoint", old.setpoint != new.setpoint || old.setpoint_flow != new.setpoint_flow),
        (
            "reset",
            old.reset != new.reset || old.setpoint_low != new.setpoint_low || old.setpoint_high != new.setpoint_high,
        ),
        ("curve", old.zero_flow_head != new.zero_flow_head || old.design_head != new.design_head),
        ("sensor", old.sensor_at != new.sensor_at || old.head_at != new.head_at),
    ]
    .into_iter()
    .filter_map(|(name, differs)| differs.then_some(name))
    .collect();
    kinds.join(", ")
}
