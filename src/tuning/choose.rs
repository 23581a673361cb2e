//! The one setting named: candidates of each kind raised until they are enough, replayed, and weighed against each other.

use super::curve::Curve;
use super::enough::{MISSED, enough, wanted};
use super::proposal::{Proposal, Set};
use super::record::{Held, Record, Row};
use super::saving::{Before, Saved, saved};
use super::{Today, Tuning, least_flow, refuse, reset};
use crate::plant::{ControlMode, Valve};
use rayon::prelude::*;

/// Savings below this share are not worth a change.
const WORTH: f64 = 0.02;
/// Another mode than today's is named only where it saves this much more, of the energy and of the saving [-].
const CLEARLY: f64 = 0.03;
const CLEARLY_OF: f64 = 0.25;
/// Halvings of the way from a first guess to today's head.
const HALVINGS: usize = 7;
/// A remote setpoint is lowered as far as the record speaks for design flow: from this share of it on by the record itself [-].
const SEEN_DESIGN: f64 = 0.85;
/// A proposed remote setpoint is never below this share of today's head at design flow (common practice, no source) [-].
const REMOTE_MIN: f64 = 0.08;

pub struct Chosen {
    pub proposal: Proposal,
    pub saved: Saved,
    pub others: Vec<(Proposal, Saved)>,
    pub why: String,
    /// Why the speed floor stays, where it holds the pumps.
    pub floor_stays: Option<String>,
}

/// The best of what is enough.
pub fn best(record: &Record, today: &Today, high: f64) -> Result<Chosen, Tuning> {
    let least = least_flow::kept(record);
    let (floor, floor_set, floor_stays) = match least_flow::lower_floor(record) {
        Ok((set, shaft)) => (shaft, Some(set), None),
        Err(why) => (record.floor, None, why),
    };
    let sets = candidates(record, today, high);
    let with_floor = |set: Set, floor: f64, floor_set: Option<f64>| Proposal { set, floor, floor_set };
    let before = Before::of(record);
    let option = |set: Set| -> Option<(Proposal, Saved)> {
        let kept = raised(record, today, with_floor(set, record.floor, None), least);
        let lower = floor_set.and_then(|_| raised(record, today, with_floor(set, floor, floor_set), least));
        let replayed = [kept, lower].into_iter().flatten().filter_map(|p| saved(record, &before, &p).map(|s| (p, s)));
        replayed.max_by(|a, b| a.1.fraction.estimate.total_cmp(&b.1.fraction.estimate))
    };
    let each: Vec<Option<(Proposal, Saved)>> = sets.into_par_iter().with_max_len(1).map(option).collect();
    let mut options: Vec<(Proposal, Saved)> = each.into_iter().flatten().collect();
    options.sort_by(|a, b| b.1.fraction.estimate.total_cmp(&a.1.fraction.estimate));
    let of = |o: &(Proposal, Saved)| o.1.fraction.estimate;
    let Some(first) = options.first() else {
        return nothing(record, &before, today, high);
    };
    let most = of(first);
    let same = options.iter().position(|(p, _)| p.mode() == today.mode());
    let chosen = same.filter(|k| most - of(&options[*k]) <= CLEARLY.max(CLEARLY_OF * most)).unwrap_or(0);
    if most <= 0.0 {
        return nothing(record, &before, today, high);
    }
    if of(&options[chosen]) < WORTH {
        let text = format!(
            "today's setting is close to what the record needed: the best change would save {:.1} %",
            100.0 * of(&options[chosen])
        );
        return refuse(&[], text);
    }
    let (proposal, saved_now) = options.remove(chosen);
    let why = why(today, &proposal, &saved_now, &options, same.is_some());
    let mut others = options;
    if let Some(p) = reset::proposal(record, &proposal)
        && let Some(s) = saved(record, &before, &p)
    {
        others.push((p, s));
    }
    others.retain(|o| of(o) > WORTH);
    Ok(Chosen { proposal, saved: saved_now, others, why, floor_stays })
}

/// Why there is nothing to lower.
fn nothing<T>(record: &Record, before: &Before, today: &Today, high: f64) -> Result<T, Tuning> {
    let but_for_machines = candidates(record, today, high).into_iter().filter_map(|set| {
        let p = Proposal { set, floor: record.floor, floor_set: None };
        raised(record, today, p, 0.0).and_then(|p| saved(record, before, &p)).map(|s| s.fraction.estimate)
    });
    let would = but_for_machines.fold(0.0, f64::max);
    if would > WORTH {
        let least = least_flow::kept(record);
        let which = if least_flow::declared(record.b).is_some() {
            "the machines' least flow"
        } else {
            "the least flow that the record saw"
        };
        let text = format!(
            "at a lower head less than {which}, {least:.0} m3/h, would pass while the valves are nearly shut; with a bypass valve that holds that flow a change would save about {:.0} %",
            100.0 * would
        );
        return refuse(&[], text);
    }
    if record.b.plant.coils.iter().any(|c| c.valve == Some(Valve::PressureIndependent)) {
        return refuse(
            &["differential-pressure"],
            "pressure-independent valves show flow, not need: how much of today's head the pipe takes is not known, and it may be all of it",
        );
    }
    refuse(&[], "the neediest valve needed about as much head as today's setting gives: there is nothing to lower")
}

fn why(today: &Today, p: &Proposal, saved: &Saved, others: &[(Proposal, Saved)], same_there: bool) -> String {
    let own = 100.0 * saved.fraction.estimate;
    let next = others.iter().map(|o| 100.0 * o.1.fraction.estimate).fold(f64::NAN, f64::max);
    let (mode, present) = (p.mode().word(), today.mode().word());
    if mode == present {
        if next > own {
            format!(
                "{mode}, as today, saves {own:.0} %; another kind of control would save {next:.0} %, not clearly more"
            )
        } else {
            format!("{mode}, as today, saves {own:.0} %, and no other kind of control saves more")
        }
    } else if same_there {
        format!(
            "{mode} saves {own:.0} %, clearly more than today's kind of control, {present}; take it if the drive can do it, else one of the table"
        )
    } else {
        format!(
            "{mode} saves {own:.0} %; today's kind of control, {present}, leaves nothing to lower; take it if the drive can do it"
        )
    }
}

/// What each row asks of a curve: flow [m3/h] and the head it must ask where it is measured [kPa]. What the speed floor gives is not counted on:
/// a curve stands on its own.
fn asked(record: &Record, remote: bool) -> Vec<(f64, f64)> {
    let judged = |r: &&Row| r.judged && !matches!(r.held, Held::Apart);
    record
        .rows
        .iter()
        .filter(judged)
        .map(|r| {
            let want = wanted(r);
            let base = if r.held == Held::Curve && r.then.is_finite() { r.then } else { r.shown };
            (r.flow, if remote { want } else { (want - r.head + base).max(0.0) })
        })
        .collect()
}

fn candidates(record: &Record, today: &Today, high: f64) -> Vec<Set> {
    let remote = matches!(today, Today::Remote(_));
    let needs = asked(record, remote);
    let mut sets: Vec<Set> = Curve::candidates(&today.at_pumps(), &needs, high, MISSED)
        .into_iter()
        .map(|c| Set::Curve(all_at_once(record, c)))
        .collect();
    if let Today::Remote(pipe) = today {
        sets.extend(remote_setpoint(record, pipe, high).map(Set::Remote));
    }
    if today.resets() {
        // The widest valve sets it already: only its upper end is looked at.
        sets.retain(|set| {
            matches!(
                (set, today),
                (Set::Remote(_), Today::Remote(_))
                    | (Set::Curve(Curve { mode: ControlMode::ConstantPressure, .. }), Today::Curve(_))
            )
        });
    }
    sets
}

/// The head at design flow must serve all coils at their declared flow at once, as far as the learned loops say what that takes: a curve through it
/// by the one that asks most, a constant pressure (which gives as much at every flow) by their mean.
fn all_at_once(record: &Record, c: Curve) -> Curve {
    let Some(a) = record.b.need.at_design else { return c };
    let today = record.today.at_pumps();
    let most = today.head(today.design_flow);
    if c.mode == ControlMode::ConstantPressure {
        c.from_zero(c.zero_flow_head.max(a.mean_kpa.min(most)))
    } else {
        Curve { design_head: c.design_head.max(a.high_kpa.ceil().min(most)), ..c }
    }
}

/// The lowest setpoint of the remote sensor that covers the needs: what is lost before it stays, since the coils keep their flows.
fn remote_setpoint(record: &Record, pipe: &super::pipe::Pipe, high: f64) -> Option<f64> {
    let judged = record.rows.iter().filter(|r| r.judged);
    let mut needs: Vec<f64> = judged.map(|r| wanted(r) - (r.head - r.shown)).collect();
    let k = ((needs.len() as f64) * (1.0 - MISSED)).ceil() as usize;
    let at = k.min(needs.len()).checked_sub(1)?;
    let seen = *needs.select_nth_unstable_by(at, f64::total_cmp).1;
    let square = pipe.design_flow.powi(2);
    let at_design = record.b.need.at_design.map(|a| a.high_kpa - pipe.resistance * square);
    let unseen = if high >= SEEN_DESIGN * pipe.design_flow { Some(0.0) } else { at_design };
    let set = seen.max(unseen?).max(REMOTE_MIN * (pipe.setpoint + pipe.resistance * square)).ceil();
    (set < pipe.setpoint).then_some(set)
}

/// Raised towards today's until it is enough: first at no flow, then at design flow too; `None` where only today's is.
fn raised(record: &Record, today: &Today, p: Proposal, least: f64) -> Option<Proposal> {
    if enough(record, &p, least) {
        return Some(p);
    }
    let top = today.at_pumps();
    match p.set {
        Set::Curve(c) if c.mode == ControlMode::ConstantPressure => {
            let at = |set: f64| Proposal { set: Set::Curve(c.from_zero(set)), ..p };
            between(record, c.zero_flow_head, top.head(top.design_flow), at, least)
        }
        Set::Curve(c) => {
            let most = if c.mode == top.mode { top.zero_flow_head.max(c.zero_flow_head) } else { top.design_head };
            [c.design_head, top.design_head].into_iter().find_map(|design_head| {
                let at = |zero: f64| Proposal { set: Set::Curve(Curve { design_head, ..c }.from_zero(zero)), ..p };
                between(record, c.zero_flow_head, most.min(design_head), at, least)
            })
        }
        Set::Remote(set) => {
            let at = |set: f64| Proposal { set: Set::Remote(set.ceil()), ..p };
            between(record, set, today.asks(0.0), at, least)
        }
        Set::Reset { .. } => None,
    }
}

/// The lowest that is enough, by halving the way.
fn between(record: &Record, low: f64, high: f64, at: impl Fn(f64) -> Proposal, least: f64) -> Option<Proposal> {
    let (mut low, mut high) = (low, high);
    if enough(record, &at(low), least) {
        return Some(at(low));
    }
    if !enough(record, &at(high), least) {
        return None;
    }
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if enough(record, &at(middle), least) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(at(high))
}
