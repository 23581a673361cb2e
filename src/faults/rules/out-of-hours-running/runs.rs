//! Runs outside the schedule, and what a healthy plant does there.

use crate::faults::Case;
use crate::faults::spread::quantile;
use std::ops::Range;

/// Run-on after the stop, to carry a machine's heat or cold away [h] (common practice, no source).
const RUN_ON_H: f64 = 0.5;
/// An isolated run this short is exercise or a sensor's sample [h]; more than so much of them a night is none [h] (common practice, no source).
const EXERCISE_H: f64 = 0.5;
const EXERCISE_NIGHT_H: f64 = 1.0;
/// A start so long before the schedule is common, the same every day or not [h].
const PREHEAT_H: f64 = 1.0;
/// An optimum start begins no earlier [h]; longer after days of standing, within the same limit (common practice, no source).
pub(super) const EARLIEST_H: f64 = 3.0;
/// Early starts that differ by less are the same every morning [h], from so many mornings on.
const SAME_H: f64 = 0.25;
const LEAST_MORNINGS: usize = 5;
/// Frost protection lets go this far above its limit [K].
const LETS_GO_K: f64 = 2.0;

/// Where a run lies between two schedules.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    AfterStop,
    BeforeStart,
    Through,
    Between,
}

struct Run {
    rows: Range<usize>,
    kind: Kind,
    /// Rows that count: running, not for frost.
    hours: f64,
}

/// The runs that count, and their hours by day.
pub(super) struct Outside {
    runs: Vec<Run>,
    pub days: Vec<Range<usize>>,
    /// Hours of a day that count [h]; NaN where the day has none outside the schedule.
    pub excess_h: Vec<f64>,
    /// Hours of a day outside the schedule with a known state [h].
    pub free_h: Vec<f64>,
}

/// Whether any pump turns; `None` where nobody can say.
pub(super) fn on(case: &Case, i: usize) -> Option<bool> {
    use crate::operating::State;
    if case.pumps.iter().any(|p| p.state[i].turns()) {
        return Some(true);
    }
    let known = case.pumps.iter().all(|p| p.state[i] == State::Off) && !case.pumps.is_empty();
    known.then_some(false)
}

/// A row that counts: outside, running, and not for frost.
fn counts(case: &Case, i: usize) -> bool {
    !case.in_schedule[i] && on(case, i) == Some(true) && !for_frost(case, i)
}

fn for_frost(case: &Case, i: usize) -> bool {
    let limit = case.plant.system.frost_protection_below;
    case.frost[i] || limit.zip(case.outdoor_c).is_some_and(|(l, o)| o[i] < l.in_celsius() + LETS_GO_K)
}

impl Outside {
    pub(super) fn sort(case: &Case) -> Self {
        let mut runs = Vec::new();
        let mut i = 0;
        while i < case.rows() {
            let end = i + (i..case.rows()).take_while(|&k| case.in_schedule[k] == case.in_schedule[i]).count();
            if !case.in_schedule[i] {
                night(case, i..end, &mut runs);
            }
            i = end;
        }
        drop_early_starts(case, &mut runs);
        let days = case.days();
        let mut outside = Self { runs, days, excess_h: Vec::new(), free_h: Vec::new() };
        outside.by_day(case);
        outside
    }

    fn by_day(&mut self, case: &Case) {
        let mut excess = vec![0.0; self.days.len()];
        for run in &self.runs {
            for i in run.rows.clone().filter(|&i| counts(case, i)) {
                let day = self.days.partition_point(|d| d.end <= i);
                excess[day] += case.step_h;
            }
        }
        let free = |d: &Range<usize>| {
            d.clone().filter(|&i| !case.in_schedule[i] && on(case, i).is_some()).count() as f64 * case.step_h
        };
        self.free_h = self.days.iter().map(free).collect();
        self.excess_h =
            excess.into_iter().zip(&self.free_h).map(|(e, f)| if *f > 0.0 { e } else { f64::NAN }).collect();
    }

    /// Rows that count.
    pub(super) fn rows(&self, case: &Case) -> Vec<usize> {
        self.runs.iter().flat_map(|r| r.rows.clone()).filter(|&i| counts(case, i)).collect()
    }

    /// Which kind makes most of it.
    pub(super) fn mostly(&self) -> Kind {
        let hours = |kind: Kind| self.runs.iter().filter(|r| r.kind == kind).map(|r| r.hours).sum::<f64>();
        let kinds = [Kind::AfterStop, Kind::BeforeStart, Kind::Through, Kind::Between];
        let most = kinds.into_iter().max_by(|a, b| hours(*a).total_cmp(&hours(*b)));
        most.unwrap_or(Kind::Between)
    }
}

/// The runs of one time between schedules that are more than run-on or exercise.
fn night(case: &Case, window: Range<usize>, runs: &mut Vec<Run>) {
    let from = runs.len();
    let mut i = window.start;
    let mut short = 0.0;
    while i < window.end {
        if on(case, i) != Some(true) {
            i += 1;
            continue;
        }
        let end = i + (i..window.end).take_while(|&k| on(case, k) == Some(true)).count();
        let after = i == window.start && i > 0 && on(case, i - 1) == Some(true);
        let before = end == window.end && end < case.rows() && on(case, end) == Some(true);
        let kind = match (after, before) {
            (true, true) => Kind::Through,
            (true, false) => Kind::AfterStop,
            (false, true) => Kind::BeforeStart,
            (false, false) => Kind::Between,
        };
        let hours = (i..end).filter(|&k| counts(case, k)).count() as f64 * case.step_h;
        // One row more: a run's ends fall between rows.
        let excused = match kind {
            Kind::AfterStop => hours <= RUN_ON_H + case.step_h,
            Kind::Between => hours <= EXERCISE_H + case.step_h,
            Kind::BeforeStart | Kind::Through => false,
        };
        if kind == Kind::Between && excused {
            short += hours;
        }
        if !(kind == Kind::AfterStop && excused) && hours > 0.0 {
            runs.push(Run { rows: i..end, kind, hours });
        }
        i = end;
    }
    if short <= EXERCISE_NIGHT_H {
        let mut k = from;
        while k < runs.len() {
            if runs[k].kind == Kind::Between && runs[k].hours <= EXERCISE_H + case.step_h {
                runs.remove(k);
            } else {
                k += 1;
            }
        }
    }
}

/// Takes out starts that an optimum start or a common preheat explains: up to an hour, or up to three that vary.
fn drop_early_starts(case: &Case, runs: &mut Vec<Run>) {
    let room = case.step_h;
    let leads = || runs.iter().filter(|r| r.kind == Kind::BeforeStart).map(|r| r.hours);
    let long: Vec<f64> = leads().filter(|h| *h > PREHEAT_H + room && *h <= EARLIEST_H + room).collect();
    let at = |share| quantile(long.iter().copied(), share);
    let same = long.len() >= LEAST_MORNINGS && at(0.9) - at(0.1) <= SAME_H.max(2.0 * room);
    let middle = at(0.5);
    runs.retain(|r| {
        let early = r.kind == Kind::BeforeStart && r.hours <= EARLIEST_H + room;
        let of_the_same = same && (r.hours - middle).abs() <= SAME_H.max(2.0 * room);
        !early || of_the_same
    });
}
