//! Starts of a pump: how many, how many an hour are too many, and when.
//!
//! Comes in: a starts counter, or a pump's states with its speed. Goes out: starts a row, and the hours in which they are too many. The
//! decision a reader would question: a stop that the speed does not follow is a status that flickers, not a stop.

use super::{Case, PumpCase};
use crate::operating::State;
use crate::plant::Role;

/// What a motor bears started across the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StartsLimit {
    /// Most starts an hour [1/h].
    pub per_hour: f64,
    /// Least rest between stop and start [s].
    pub rest_s: f64,
}

/// Size [hp], most starts an hour A [1/h], starts an hour times the load's inertia B [lb ft2/h], least rest C [s]; four poles.
const FOUR_POLES: [(f64, f64, f64, f64); 6] = [
    (1.0, 30.0, 5.8, 38.0),
    (5.0, 16.3, 27.0, 42.0),
    (10.0, 12.5, 51.0, 46.0),
    (25.0, 8.8, 122.0, 58.0),
    (50.0, 6.8, 232.0, 72.0),
    (100.0, 5.2, 441.0, 110.0),
];
/// Two poles over four, from the table's rows for 10 hp: 6.2 / 12.5, 11 / 51, 92 / 46 [-].
const TWO_POLES: (f64, f64, f64) = (6.2 / 12.5, 11.0 / 51.0, 92.0 / 46.0);

/// Starts that a NEMA design B motor bears an hour when started across the line: the smaller of A and B over the load's inertia Wk2
/// [lb ft2]; without an inertia, A. Between sizes by straight lines in the logarithms, beyond 1 to 100 hp as at the end.
///
/// NEMA MG 10, Table 2-3; two poles by the ratio of its rows for 10 hp.
///
/// ```
/// use offcurve::faults::starts::across_the_line;
/// // The standard's own example: 25 hp, four poles, load inertia 50 lb ft2: 122 / 50 = 2.44 starts an hour, rest 58 s.
/// let limit = across_the_line(25.0, false, Some(50.0));
/// assert!((limit.per_hour - 2.44).abs() < 1e-9 && (limit.rest_s - 58.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn across_the_line(size_hp: f64, two_poles: bool, inertia_lb_ft2: Option<f64>) -> StartsLimit {
    let hp = size_hp.clamp(FOUR_POLES[0].0, FOUR_POLES[FOUR_POLES.len() - 1].0);
    let k = FOUR_POLES.partition_point(|r| r.0 <= hp).clamp(1, FOUR_POLES.len() - 1);
    let (low, high) = (FOUR_POLES[k - 1], FOUR_POLES[k]);
    let part = (hp / low.0).ln() / (high.0 / low.0).ln();
    let between = |a: f64, b: f64| a * (b / a).powf(part);
    let poles = if two_poles { TWO_POLES } else { (1.0, 1.0, 1.0) };
    let (a, b, c) =
        (between(low.1, high.1) * poles.0, between(low.2, high.2) * poles.1, between(low.3, high.3) * poles.2);
    StartsLimit { per_hour: inertia_lb_ft2.filter(|i| *i > 0.0).map_or(a, |i| a.min(b / i)), rest_s: c }
}

/// No pump starts more often than this [1/h]: a counter that says so was replaced or misread (common practice, no source).
const MOST_H: f64 = 60.0;
/// A stop in which the speed stays above this part of what it was before is a status that flickers [-].
const KEEPS_TURNING: f64 = 0.5;

/// Starts a row [-]; a step of the counter over missing rows is spread over them.
pub(super) fn by_counter(case: &Case, counter: &[f64]) -> Vec<f32> {
    let mut starts = vec![0.0; counter.len()];
    let mut last: Option<(usize, f64)> = None;
    for (i, now) in counter.iter().copied().enumerate().filter(|(_, v)| v.is_finite()) {
        if let Some((from, before)) = last {
            let most = MOST_H * (i - from) as f64 * case.step_h + 2.0;
            // A counter that fell was reset: what it shows was counted since.
            let more = if now >= before { now - before } else { now };
            if more <= most {
                let each = (more / (i - from) as f64) as f32;
                starts[from + 1..=i].iter_mut().for_each(|s| *s += each);
            }
        }
        last = Some((i, now));
    }
    starts
}

/// Starts a row by the pump's state, how many stops were none, and whether any stop could be checked against speed or power.
pub(super) fn by_state(case: &Case, pump: &PumpCase) -> (Vec<f32>, usize, bool) {
    // As trended: the operating stage calls the speed of a stopped pump zero.
    let raw = case.trend(Role::PumpSpeed, Some(pump.name));
    let mut starts = vec![0.0; pump.state.len()];
    let (mut flickers, mut checked) = (0, false);
    // Speed and power while it ran last; the largest since it stopped.
    let (mut before, mut since): ((f64, f64), Option<(f64, f64)>) = ((f64::NAN, f64::NAN), None);
    for i in 0..pump.state.len() {
        let (speed, power) = (raw.map_or(f64::NAN, |r| r[i]), pump.power_kw[i]);
        match pump.state[i] {
            State::Unknown => {}
            State::Off => {
                let most = since.unwrap_or((f64::NAN, f64::NAN));
                // The least of a stop counts: within one row it may run down.
                since = Some((most.0.min(speed), most.1.min(power)));
            }
            _ => {
                if let Some((speed_off, power_off)) = since.take() {
                    let turns = speed_off > KEEPS_TURNING * before.0
                        || (before.0.is_nan() && power_off > KEEPS_TURNING * before.1);
                    checked |= (speed_off.is_finite() && before.0.is_finite())
                        || (power_off.is_finite() && before.1.is_finite());
                    flickers += usize::from(turns);
                    starts[i] = if turns { 0.0 } else { 1.0 };
                }
                before = (
                    if speed.is_finite() { speed } else { before.0 },
                    if power.is_finite() { power } else { before.1 },
                );
            }
        }
    }
    (starts, flickers, checked)
}

/// Rows in which starts come too often.
#[derive(Debug, Default)]
pub(super) struct Busy {
    pub rows: Vec<usize>,
    pub hours: f64,
    pub days: usize,
    /// Most starts in one hour [1/h], and mean over the busy rows.
    pub busiest: f64,
    pub mean: f64,
}

/// Rows of every window of `hours` with at least `per_hour` starts an hour in the mean.
pub(super) fn busy(case: &Case, starts: &[f32], per_hour: f64, hours: f64) -> Busy {
    let rows_of = |h: f64| (h / case.step_h).round().max(1.0) as usize;
    let (window, hour) = (rows_of(hours), rows_of(1.0));
    let mut found = Busy::default();
    let (mut sum, mut in_hour, mut marked) = (0.0, 0.0, 0);
    for i in 0..starts.len() {
        sum += f64::from(starts[i]);
        in_hour += f64::from(starts[i]);
        sum -= if i >= window { f64::from(starts[i - window]) } else { 0.0 };
        in_hour -= if i >= hour { f64::from(starts[i - hour]) } else { 0.0 };
        found.busiest = found.busiest.max(in_hour / (hour as f64 * case.step_h));
        if i + 1 >= window && sum + 0.01 >= per_hour * window as f64 * case.step_h {
            found.rows.extend((i + 1 - window).max(marked)..=i);
            marked = i + 1;
        }
    }
    found.hours = found.rows.len() as f64 * case.step_h;
    found.mean = found.rows.iter().map(|i| f64::from(starts[*i])).sum::<f64>() / found.hours;
    found.days = found.rows.chunk_by(|a, b| case.local_day[*a] == case.local_day[*b]).count();
    found
}
