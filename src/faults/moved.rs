//! Whether head, power and flow meter moved against each other within the record, and which of them, or the pump, did.
//!
//! Comes in: a pump's days ([`crate::operating::days::Day`]). Goes out: [`Looked`], which the rules on sensors and on wear share, so that one change is never
//! two findings. The decision a reader would question: where only two readings stand beside the speed, the loop's own habit is the third witness. A
//! reading whose scale changes leaves the other where it was at like speed; a pump that wears is driven along its system, so that flow,
//! head and power at like speed all fall; a loop that is set otherwise moves along the pump's curve, which is no misfit at all. Where these
//! do not part the stories, all are named and none is found. Start at [`look`]; `compared.rs` holds
//! the days before against those after, `who.rs` says who moved.

mod compared;
mod who;

use super::case::{Case, PumpCase};
use super::onset;
use super::spread::mean;
use crate::operating::days::Day;
use compared::moved;

/// Places in a day's readings.
pub(super) const HEAD: usize = 0;
pub(super) const POWER: usize = 1;
pub(super) const METER: usize = 2;
/// The same in words.
pub(super) const WORDS: [&str; 3] = ["head", "power", "flow meter"];

/// Days on either side of a change: fewer are weather [days].
const LEAST_DAYS: usize = 3;
/// From so many days on the load's season shows in the misfit [days].
const SEASONS: usize = 45;
/// A smaller misfit is no matter, however sure [-]: sensors and tables are good to no more over a season.
pub(super) const LEAST: f64 = 0.03;
/// A pair is asked who moved from this misfit on [-]: a flat curve shows a tenth of power as a fiftieth of head.
const ASKED: f64 = 0.015;
/// Changes of two pumps this near are one event [days].
const SAME_DAYS: usize = 2;

/// What the days of a pump show.
#[derive(Debug, Clone)]
pub(super) enum Looked {
    /// No two readings stand beside the speed, or no table does.
    NoPair(Vec<&'static str>, &'static str),
    TooShort(String),
    /// Nothing moved; the least change of head or power that would have shown [-].
    Still(f64),
    Moved(Moved),
}

/// A change, and who made it.
#[derive(Debug, Clone)]
pub(super) struct Moved {
    pub who: Who,
    /// Change of the one who moved, as share [-], and its standard error; of the clearest pair where nobody is named.
    pub size: f64,
    pub error: f64,
    /// Size over standard error.
    pub t: f64,
    /// First and last instant of it [ms UTC].
    pub first_ms: i64,
    pub last_ms: i64,
    /// Place of the first day after it.
    pub day: u32,
    pub slow: bool,
    /// Which of [`crate::operating::days::PAIRS`] tells it.
    pub pair: usize,
    /// Readings that were compared: two or three.
    pub readings: Vec<usize>,
    pub seen: Vec<Change>,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) enum Who {
    Reading(usize),
    Pump,
    /// One of these, or the pump where that is true.
    Either(Vec<usize>, bool),
}

/// One number it rests on.
#[derive(Debug, Clone)]
pub(super) struct Change {
    pub name: String,
    pub size: f64,
}

/// What every pump's days show; pumps that share a sensor bear witness for each other.
pub(super) fn look<'c>(case: &'c Case) -> &'c [Looked] {
    case.looks.moved.get_or_init(|| of_pumps(case))
}

fn of_pumps(case: &Case) -> Vec<Looked> {
    let mut all: Vec<Looked> = case.pumps.iter().map(|p| one(case, p)).collect();
    let alone: Vec<Looked> = all.clone();
    for (k, looked) in all.iter_mut().enumerate() {
        let others = alone.iter().enumerate().filter(|o| o.0 != k).map(|o| o.1);
        if let Looked::Moved(m) = looked {
            m.who = beside_others(case, &case.pumps[k], m, others);
        }
    }
    all
}

/// A sensor that several pumps share moves for all of them; one pump's wear moves for it alone.
fn beside_others<'a>(case: &Case, pump: &PumpCase, m: &Moved, others: impl Iterator<Item = &'a Looked>) -> Who {
    let own_head = case.trend(crate::plant::Role::PumpHead, Some(pump.name)).is_some();
    let suspect = matches!(m.who, Who::Pump)
        || m.who == Who::Reading(HEAD)
        || matches!(&m.who, Who::Either(r, true) if r.contains(&HEAD));
    if own_head || !suspect {
        return m.who.clone();
    }
    let (mut with, mut without) = (0, 0);
    for other in others {
        match other {
            Looked::Moved(o) if o.day.abs_diff(m.day) as usize <= SAME_DAYS && o.size * m.size > 0.0 => with += 1,
            Looked::Still(least) if *least <= m.size.abs() => without += 1,
            _ => {}
        }
    }
    match (with, without, &m.who) {
        (1.., 0, Who::Pump) => Who::Either(vec![HEAD], true),
        (0, 1.., Who::Either(..) | Who::Reading(_)) if m.size < 0.0 => Who::Pump,
        _ => m.who.clone(),
    }
}

fn one(case: &Case, pump: &PumpCase) -> Looked {
    let Some(check) = pump.check else {
        return Looked::NoPair(
            vec!["[[pump.curve]]"],
            "without a pump table nothing says what head and power belong to a flow",
        );
    };
    let days = &check.days;
    let there = |k: usize| days.iter().any(|d| d.pairs[k].is_finite());
    if days.is_empty() || !(0..3).any(there) {
        let missing = vec!["pump-head", "pump-power", "loop-flow"];
        return Looked::NoPair(
            missing,
            "fewer than two of head, power and a flow meter can be compared beside the speed",
        );
    }
    // A long record has seasons: what a curve's shape leaves over then hangs on the duty, too.
    let mut given = vec![days.iter().map(|d| d.speed).collect::<Vec<f64>>()];
    if days.len() > SEASONS {
        given.push(days.iter().map(|d| d.duty).collect());
    }
    let found = (0..3).filter(|k| there(*k)).filter_map(|k| {
        let y: Vec<f64> = days.iter().map(|d| d.pairs[k]).collect();
        onset::step(&y, &given, LEAST_DAYS).map(|s| (k, s, y))
    });
    let found: Vec<(usize, onset::Step, Vec<f64>)> = found.collect();
    let clear = found.iter().filter(|(_, s, y)| s.size.abs() >= ASKED && s.t >= onset::BELIEVED && lasts(y, s));
    match clear.max_by(|a, b| a.1.t.total_cmp(&b.1.t)) {
        Some((k, step, y)) => {
            let m = moved(case, pump, days, *k, *step, y);
            if m.size.abs() >= LEAST { Looked::Moved(m) } else { Looked::Still(LEAST.max(shows(days, *k))) }
        }
        None if found.is_empty() => {
            Looked::TooShort(format!("fewer than {} days on which the readings can be compared", 2 * LEAST_DAYS + 2))
        }
        None => Looked::Still(found.iter().map(|(k, _, _)| shows(days, *k)).fold(LEAST, f64::max)),
    }
}

/// The change is still there in the last third of the days after it.
fn lasts(y: &[f64], step: &onset::Step) -> bool {
    let after: Vec<f64> = y[step.at..].iter().copied().filter(|v| v.is_finite()).collect();
    let late = mean(after[after.len() - after.len().div_ceil(3)..].iter().copied()) - step.before;
    late * step.size > 0.0 && late.abs() >= 0.5 * step.size.abs()
}

/// The least step halfway that the spread of the days would have shown [-].
fn shows(days: &[Day], k: usize) -> f64 {
    let known: Vec<f64> = days.iter().map(|d| d.pairs[k]).filter(|v| v.is_finite()).collect();
    let between: Vec<f64> = known.windows(2).map(|w| (w[1] - w[0]).powi(2)).collect();
    let sd = (mean(between) / 2.0).sqrt();
    1.5 * onset::BELIEVED * sd * 2.0 / (known.len() as f64).sqrt()
}
