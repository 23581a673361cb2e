//! When the setting was changed, and which setting stood when.
//!
//! What the caller says wins, then what the plant file's `[[control_history]]` says, then the record itself. Whatever was said is held against the record: a step of the
//! control relation at another time, or a second one after the change, is told.

use super::error::local;
use super::{Asked, VerifyError, View};
use crate::notice::Notice;
use crate::plant::{Control, ControlMode, Reset, Role};
use crate::regimes::Regime;
use crate::verify::found::{self, Found, NotFound, Step};
use crate::verify::{Setting, Stretch, before_after};

/// Another step this near to the change is the same one [ms].
const SAME: i64 = 3 * DAY_MS;
/// An entry of `[[control_history]]` this near to a time given on the command line is the same change [ms].
const SAME_ENTRY: i64 = DAY_MS;
const DAY_MS: i64 = 86_400_000;
/// Steady rows from which a control relation is looked at (common practice, no source).
const LEAST_ROWS: usize = 60;

const SETPOINT: &str = "the trended setpoint";

/// Who says when.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    Given,
    History,
    Found,
}

/// The change.
#[derive(Debug, Clone)]
pub struct Changed {
    /// First instant with the new setting [ms UTC].
    pub at_ms: i64,
    pub source: Source,
    /// How often the setting changed within the stretches: more than once where both stood in turn.
    pub times: usize,
    /// What the record itself shows nearest to it, and in which relation.
    pub step: Option<(Step, &'static str)>,
}

/// Places the change and the stretches in the record.
pub(super) fn settle(
    view: &View,
    asked: &Asked,
    notices: &mut Vec<Notice>,
) -> Result<(Changed, Vec<Stretch>), VerifyError> {
    check_periods(view, asked)?;
    let seen = look(view);
    let (at_ms, source, stretches) = match asked.changed_ms.or_else(|| between(asked)) {
        Some(at) => (at, Source::Given, given(view, asked, at)),
        None => match history(view, notices) {
            Some(stretches) => (first_new(&stretches), Source::History, cut(&stretches, asked)),
            None => {
                let at = found_in(&seen)?.step.at_ms;
                (at, Source::Found, before_after(at, asked.before, asked.after).to_vec())
            }
        },
    };
    inside(view, at_ms)?;
    let stretches = within_record(view, &stretches);
    let times = stretches.windows(2).filter(|w| w[0].setting != w[1].setting).count();
    let step = seen.ok().and_then(|(found, relation)| {
        tell(view, &found, at_ms, source, &stretches, notices);
        nearest(&found, at_ms).map(|s| (s, relation))
    });
    Ok((Changed { at_ms, source, times, step }, stretches))
}

fn found_in<'s>(seen: &'s Result<(Found, &'static str), VerifyError>) -> Result<&'s Found, VerifyError> {
    seen.as_ref().map(|(found, _)| found).map_err(Clone::clone)
}

fn check_periods(view: &View, asked: &Asked) -> Result<(), VerifyError> {
    let wrong = |option: &'static str, what: &str, example: (i64, i64)| {
        let date = |ms: i64| view.plant.local(ms).format("%Y-%m-%d").to_string();
        let example = format!("{option} {}..{}", date(example.0), date(example.1 - 1));
        Err(VerifyError::Period { option, what: what.to_owned(), example })
    };
    let (start, end) = (view.clock.at_ms(0), view.end_ms());
    let at = asked.changed_ms.or(asked.after.map(|a| a.0)).or(asked.before.map(|b| b.1)).unwrap_or(end);
    if asked.before.is_some_and(|b| b.0 >= at) {
        return wrong("--before", "the period begins after the change", (start, at.clamp(start + DAY_MS, end)));
    }
    if asked.after.is_some_and(|a| a.1 <= at) {
        return wrong("--after", "the period ends before the change", (at.clamp(start, end - DAY_MS), end));
    }
    if let (None, Some(b), Some(a)) = (asked.changed_ms, asked.before, asked.after)
        && a.0 < b.1
    {
        return wrong("--after", "the period begins before the one given as --before ends", (b.1, end));
    }
    Ok(())
}

/// The change lies between two periods that are both given.
fn between(asked: &Asked) -> Option<i64> {
    asked.before?;
    asked.after.map(|a| a.0)
}

fn inside(view: &View, at: i64) -> Result<(), VerifyError> {
    let (from, to) = (view.clock.at_ms(0), view.end_ms());
    if (from..to).contains(&at) {
        return Ok(());
    }
    let time = |ms: i64| local(view.plant, ms);
    Err(VerifyError::Outside { at: time(at), from: time(from), to: time(to) })
}

/// One change, with the time about it in which the plant file names no other.
fn given(view: &View, asked: &Asked, at: i64) -> Vec<Stretch> {
    let until = || view.plant.control_history.iter().map(|(until, _)| until.timestamp_millis());
    let last = until().filter(|u| *u < at - SAME_ENTRY).max();
    let next = until().filter(|u| *u > at + SAME_ENTRY).min();
    let before = asked.before.or(last.map(|l| (l, at)));
    let after = asked.after.or(next.map(|n| (at, n)));
    before_after(at, before, after).to_vec()
}

/// The stretches that `[[control_history]]` names. Two settings, however often in turn, are compared as such; of more, the last change is.
fn history(view: &View, notices: &mut Vec<Notice>) -> Option<Vec<Stretch>> {
    let (start, end) = (view.clock.at_ms(0), view.end_ms());
    let mut ends: Vec<i64> = view.plant.control_history.iter().map(|(until, _)| until.timestamp_millis()).collect();
    ends.retain(|u| (start + 1..end).contains(u));
    if ends.is_empty() {
        return None;
    }
    ends.push(end);
    let mut parts: Vec<(i64, i64, &Control)> = Vec::new();
    let mut from = start;
    for to in ends {
        let control = view.plant.control_at(from);
        match parts.last_mut() {
            Some(last) if last.2 == control => last.1 = to,
            _ => parts.push((from, to, control)),
        }
        from = to;
    }
    let first = parts.first()?.2;
    let two = parts.len() > 1
        && parts.iter().enumerate().all(|(k, p)| (p.2 == first) == (k % 2 == 0))
        && parts.iter().skip(1).step_by(2).all(|p| p.2 == parts[1].2);
    if parts.len() > 2 && !two {
        let text = "the plant file has more than two settings within the record: only the last change is verified, and days under still earlier settings are left out";
        notices.push(Notice::new("verification", text));
        parts.drain(..parts.len() - 2);
    }
    let setting = |k: usize| if k.is_multiple_of(2) { Setting::Old } else { Setting::New };
    let stretch = |(k, p): (usize, &(i64, i64, &Control))| Stretch { from_ms: p.0, to_ms: p.1, setting: setting(k) };
    (parts.len() > 1).then(|| parts.iter().enumerate().map(stretch).collect())
}

fn first_new(stretches: &[Stretch]) -> i64 {
    stretches.iter().find(|s| s.setting == Setting::New).map_or(0, |s| s.from_ms)
}

/// Each setting's stretches cut to the period asked for.
fn cut(stretches: &[Stretch], asked: &Asked) -> Vec<Stretch> {
    let own = |s: &Stretch| if s.setting == Setting::Old { asked.before } else { asked.after };
    let cut = |s: &Stretch| {
        let (from, to) = own(s).unwrap_or((i64::MIN, i64::MAX));
        Stretch { from_ms: s.from_ms.max(from), to_ms: s.to_ms.min(to), ..*s }
    };
    stretches.iter().map(cut).filter(|s| s.from_ms < s.to_ms).collect()
}

fn within_record(view: &View, stretches: &[Stretch]) -> Vec<Stretch> {
    let (start, end) = (view.clock.at_ms(0), view.end_ms());
    let held = stretches.iter().map(|s| Stretch { from_ms: s.from_ms.max(start), to_ms: s.to_ms.min(end), ..*s });
    held.filter(|s| s.from_ms < s.to_ms).collect()
}

fn nearest(found: &Found, at: i64) -> Option<Step> {
    let all = std::iter::once(&found.step).chain(&found.others);
    all.filter(|s| (s.from_ms - SAME..s.to_ms + SAME).contains(&at)).min_by_key(|s| (s.at_ms - at).abs()).copied()
}

/// What the record shows beside what was said.
fn tell(view: &View, found: &Found, at: i64, source: Source, stretches: &[Stretch], notices: &mut Vec<Notice>) {
    let mut say = |text: String| notices.push(Notice::new("verification", text));
    let time = |ms: i64| local(view.plant, ms);
    if source != Source::Found && stretches.len() <= 2 && nearest(found, at).is_none() {
        let s = &found.step;
        say(format!(
            "the record shows no step of the control at {}; the strongest step is at {} (between {} and {})",
            time(at),
            time(s.at_ms),
            time(s.from_ms),
            time(s.to_ms)
        ));
    }
    if stretches.len() > 2 {
        return;
    }
    let within = |setting: Setting, s: &Step| {
        stretches.iter().any(|p| p.setting == setting && (p.from_ms..p.to_ms).contains(&s.at_ms))
    };
    let all = std::iter::once(&found.step).chain(&found.others);
    for s in all.filter(|s| !(s.from_ms - SAME..=s.to_ms + SAME).contains(&at)) {
        let (word, side, option) = match (within(Setting::Old, s), within(Setting::New, s)) {
            (true, _) => ("had stepped before", "before", "--before begins"),
            (_, true) => ("stepped again", "after", "--after ends"),
            _ => continue,
        };
        say(format!(
            "the control {word} at {} (between {} and {}): the period {side} the change may hold more than one setting; {option} it there",
            time(s.at_ms),
            time(s.from_ms),
            time(s.to_ms)
        ));
    }
}

/// The strongest step of the first control relation that is known on enough days, and which relation that is.
fn look(view: &View) -> Result<(Found, &'static str), VerifyError> {
    let times = view.times();
    let zone = view.plant.site.timezone;
    let mut why = None;
    for (relation, x, y) in relations(view) {
        let rows = match &x {
            Some(x) => found::residual(&times, x, &y, zone),
            None => y,
        };
        if rows.iter().filter(|v| v.is_finite()).count() < LEAST_ROWS {
            continue;
        }
        match found::change(&times, &rows, zone) {
            Ok(found) => return Ok((found, relation)),
            Err(NotFound::TooFewDays { days, least }) => why = why.or(Some(NotFound::TooFewDays { days, least })),
            // A setpoint that stood still leaves open what else was set.
            Err(other) if relation == SETPOINT => why = why.or(Some(other)),
            Err(other) => return Err(VerifyError::NotFound { why: other }),
        }
    }
    Err(why.map_or(VerifyError::NoRelation, |why| VerifyError::NotFound { why }))
}

type Relation = (&'static str, Option<Vec<f64>>, Vec<f64>);

/// What the control keeps, the most direct first: a trended setpoint, the pressure it follows, head over flow, speed over flow or load.
fn relations(view: &View) -> Vec<Relation> {
    let free: Vec<bool> = (0..view.clock.len).map(|i| is_free(view, i)).collect();
    let of = |v: &[f64]| -> Vec<f64> { v.iter().zip(&free).map(|(v, f)| if *f { *v } else { f64::NAN }).collect() };
    let control = &view.plant.control;
    let system = &view.points.system;
    let mut all: Vec<Relation> = Vec::new();
    if control.reset.is_none_or(|r| r == Reset::None)
        && let Some(s) = view.screened.values(Role::DifferentialPressureSetpoint, None)
    {
        all.push((SETPOINT, None, of(s)));
    }
    if matches!(control.mode, Some(ControlMode::RemotePressure | ControlMode::ConstantPressure))
        && let Some(dp) = sensor(view)
    {
        all.push(("differential pressure at the control sensor", None, of(dp)));
    }
    all.push(("head over flow", Some(system.flow_m3h.clone()), of(&system.head_kpa)));
    let speed = of(&fastest(view));
    all.push(("speed over flow", Some(system.flow_m3h.clone()), speed.clone()));
    if let Some(load) = view.screened.values(Role::ThermalLoad, None) {
        all.push(("speed over load", Some(load.to_vec()), speed));
    }
    all
}

/// The pressure that the control follows.
pub(super) fn sensor<'a>(view: &View<'a>) -> Option<&'a [f64]> {
    let at = view.plant.control.sensor_at.as_deref();
    let screened = view.screened;
    at.and_then(|coil| screened.values(Role::DifferentialPressure, Some(coil)))
        .or_else(|| screened.values(Role::DifferentialPressure, None))
}

/// Speed of the fastest running pump [-].
fn fastest(view: &View) -> Vec<f64> {
    let of =
        |i: usize| view.points.pumps.iter().filter(|p| p.state[i].turns()).map(|p| p.speed[i]).fold(f64::NAN, f64::max);
    (0..view.clock.len).map(of).collect()
}

/// Steady, with no pump held at its floor or at full speed: the control was free to follow its curve.
pub(super) fn is_free(view: &View, i: usize) -> bool {
    let held = |r: Regime| matches!(r, Regime::SpeedFloor | Regime::FullSpeed | Regime::Transient);
    let running = view.points.pumps.iter().any(|p| p.state[i].turns());
    running && view.points.system.steady[i] && !view.regimes.pumps.iter().any(|p| held(p.regime[i]))
}
