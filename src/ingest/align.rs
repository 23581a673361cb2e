//! Samples of one point onto the clock.
//!
//! Comes in: rising samples and a clock. Goes out: one number a row. polars finds which samples fall into which row
//! (whole numbers, the same on any number of threads); sums of readings run here, in the
//! order of time, since polars' float sums depend on the number of threads. A regular point is averaged where it is finer than the clock and
//! stands for its own interval where it is coarser; a point logged on change of value holds until the next sample and is weighted by
//! time within a row, so that a status becomes the share of the interval that it was on. A counter is read, not averaged.

use super::Clock;
use super::error::IngestError;
use super::rhythm::Rhythm;
use super::samples::Samples;
use super::shape::BAD;
use crate::plant::{Blank, Role};
use polars::prelude::*;

/// A held value ends this long after the end of its file [ms]: nobody wrote that it was still so.
const HOLD_PAST_FILE_MS: i64 = 86_400_000;
/// A row of a held point is known when this share of its interval is [share].
const KNOWN_SHARE: f64 = 0.5;
/// Unchanged for this long is called flat [ms].
const FLAT_MS: i64 = 6 * 3_600_000;

/// One point on the clock. `ends`: where each file ends [ms UTC].
pub(super) fn place(
    mut samples: Samples,
    rhythm: Rhythm,
    clock: &Clock,
    (role, blank): (Role, Blank),
    ends: &[i64],
) -> PolarsResult<Vec<f64>> {
    let step = clock.step_s * 1000;
    let skip_blanks = blank == Blank::Unchanged || matches!(rhythm, Rhythm::Regular(_));
    let is_on_step = |t: &i64| (t - clock.start_ms) % step == 0;
    let on_steps = match samples.unbroken {
        Some(own) => own == step && samples.times.first().is_none_or(is_on_step),
        None => rhythm == Rhythm::Regular(step) && samples.times.iter().all(is_on_step),
    };
    if rhythm == Rhythm::Regular(step) && on_steps {
        return Ok(if lies_on(&samples, clock) { on_the_clock(&mut samples) } else { scatter(&samples, clock) });
    }
    let kept: Vec<usize> = (0..samples.times.len()).filter(|i| !(skip_blanks && samples.values[*i].is_nan())).collect();
    let times: Vec<i64> = kept.iter().map(|i| samples.times[*i]).collect();
    let values: Vec<f64> = kept.iter().map(|i| samples.values[*i]).collect();
    let until: Vec<i64> = match rhythm {
        Rhythm::Regular(own) => times.iter().map(|t| t + own).collect(),
        Rhythm::OnChange(_) => {
            kept.iter().map(|i| ends[samples.file(*i)].max(samples.times[*i]) + HOLD_PAST_FILE_MS).collect()
        }
    };
    let inside = inside(&times, clock)?;
    let rows = Rows { in_force: in_force(&times, &inside, clock), inside, times, values, until };
    let one = |row: usize| match (role, rhythm) {
        (Role::PumpEnergy | Role::PumpStarts, _) => rows.reading(row, clock),
        (_, Rhythm::Regular(_)) => rows.mean(row, clock),
        (_, Rhythm::OnChange(_)) => rows.weighted(row, clock),
    };
    Ok((0..clock.len).map(one).collect())
}

/// Whether the samples are the rows of the clock, one each; they lie on whole steps and rise.
fn lies_on(samples: &Samples, clock: &Clock) -> bool {
    samples.times.len() == clock.len
        && samples.times.first() == Some(&clock.start_ms)
        && samples.times.last() == Some(&clock.at_ms(clock.len - 1))
}

/// The samples themselves, without marks.
fn on_the_clock(samples: &mut Samples) -> Vec<f64> {
    let mut values = std::mem::take(&mut samples.values);
    if samples.unbroken.is_none() {
        values.iter_mut().filter(|v| **v == BAD).for_each(|v| *v = f64::NAN);
    }
    values
}

/// Samples that lie on the clock, each into its row.
fn scatter(samples: &Samples, clock: &Clock) -> Vec<f64> {
    let mut out = vec![f64::NAN; clock.len];
    for (t, v) in samples.readings() {
        let row = (t - clock.start_ms).div_euclid(clock.step_s * 1000);
        if let Some(slot) = usize::try_from(row).ok().and_then(|r| out.get_mut(r)) {
            *slot = v;
        }
    }
    out
}

struct Rows {
    times: Vec<i64>,
    values: Vec<f64>,
    /// Until when a sample stands, if no other follows.
    until: Vec<i64>,
    /// First sample within a row and how many.
    inside: Vec<(u32, u32)>,
    /// The sample in force when a row starts.
    in_force: Vec<Option<u32>>,
}

impl Rows {
    fn within(&self, row: usize) -> std::ops::Range<usize> {
        let (first, count) = self.inside[row];
        first as usize..(first + count) as usize
    }

    /// The value in force when a row starts, NaN where none is.
    fn held(&self, row: usize, clock: &Clock) -> f64 {
        let Some(i) = self.in_force[row].map(|i| i as usize) else { return f64::NAN };
        if self.until[i] > clock.at_ms(row) && self.values[i] != BAD { self.values[i] } else { f64::NAN }
    }

    fn mean(&self, row: usize, clock: &Clock) -> f64 {
        let (mut sum, mut count) = (0.0, 0.0);
        for i in self.within(row).filter(|i| self.values[*i].is_finite()) {
            sum += self.values[i];
            count += 1.0;
        }
        match self.within(row).is_empty() {
            true => self.held(row, clock),
            false if count > 0.0 => sum / count,
            false => f64::NAN,
        }
    }

    /// Mean over time of a value that holds from sample to sample.
    fn weighted(&self, row: usize, clock: &Clock) -> f64 {
        let (start, end) = (clock.at_ms(row), clock.at_ms(row + 1));
        if self.within(row).is_empty() {
            return self.held(row, clock);
        }
        let (mut sum, mut known) = (0.0, 0.0);
        let mut add = |value: f64, from: i64, to: i64| {
            if value.is_finite() && to > from {
                sum += value * (to - from) as f64;
                known += (to - from) as f64;
            }
        };
        let first = self.within(row).start;
        add(self.held(row, clock), start, self.times[first]);
        for i in self.within(row) {
            let next = if i + 1 < self.within(row).end { self.times[i + 1] } else { end };
            add(self.values[i], self.times[i], next);
        }
        if known >= KNOWN_SHARE * (end - start) as f64 { sum / known } else { f64::NAN }
    }

    /// A counter as it stands when a row starts, else its first reading within the row.
    fn reading(&self, row: usize, clock: &Clock) -> f64 {
        let first = self.within(row).find(|i| self.values[*i].is_finite()).map(|i| (self.times[i], self.values[i]));
        match first {
            Some((time, value)) if time == clock.at_ms(row) => value,
            Some((_, value)) => Some(self.held(row, clock)).filter(|h| h.is_finite()).unwrap_or(value),
            None => self.held(row, clock),
        }
    }
}

const TIME: &str = "time";

/// For each row of the clock the first sample in it and how many there are: polars' dynamic groups, whose windows and ours both start
/// at whole steps since 1970.
fn inside(times: &[i64], clock: &Clock) -> PolarsResult<Vec<(u32, u32)>> {
    let mut out = vec![(0, 0); clock.len];
    let (from, to) = (clock.start_ms, clock.at_ms(clock.len));
    let skipped = times.partition_point(|t| *t < from);
    let within = &times[skipped..times.partition_point(|t| *t < to).max(skipped)];
    if within.is_empty() {
        return Ok(out);
    }
    let column = Column::new(TIME.into(), within).cast(&DataType::Datetime(TimeUnit::Milliseconds, None))?;
    let step = Duration::parse(&format!("{}s", clock.step_s));
    let options = DynamicGroupOptions {
        index_column: TIME.into(),
        every: step,
        period: step,
        offset: Duration::parse("0s"),
        ..Default::default()
    };
    let (starts, _, groups) = DataFrame::new_infer_height(vec![column])?.group_by_dynamic(None, &options)?;
    let starts = starts.cast(&DataType::Int64)?;
    for (start, group) in starts.i64()?.iter().zip(groups.iter()) {
        let (first, count) = match group {
            GroupsIndicator::Slice([first, count]) => (first, count),
            GroupsIndicator::Idx((first, all)) => (first, all.len() as IdxSize),
        };
        let row = start.and_then(|s| usize::try_from((s - from) / (clock.step_s * 1000)).ok());
        if let Some(slot) = row.and_then(|r| out.get_mut(r)) {
            *slot = (first + skipped as IdxSize, count);
        }
    }
    Ok(out)
}

/// For each row of the clock the last sample at or before its start.
fn in_force(times: &[i64], inside: &[(u32, u32)], clock: &Clock) -> Vec<Option<u32>> {
    let mut last = times.partition_point(|t| *t < clock.start_ms).checked_sub(1).map(|i| i as u32);
    let mut out = Vec::with_capacity(inside.len());
    for (row, &(first, count)) in inside.iter().enumerate() {
        let at_start = count > 0 && times[first as usize] == clock.at_ms(row);
        out.push(if at_start { Some(first) } else { last });
        if count > 0 {
            last = Some(first + count - 1);
        }
    }
    out
}

/// Hours in which a regular point did not change at all, in runs of at least six hours [h]. A value held between samples is not called flat.
pub(super) fn flat_hours(samples: &Samples, rhythm: Rhythm) -> f64 {
    let Rhythm::Regular(own) = rhythm else { return 0.0 };
    if samples.unbroken == Some(own) {
        let least = usize::try_from(FLAT_MS.div_euclid(own.max(1)).saturating_add(1)).unwrap_or(usize::MAX);
        let runs = long_runs(&samples.values, least).into_iter().map(|run| (run as i64 - 1) * own);
        return runs.filter(|ms| *ms >= FLAT_MS).sum::<i64>() as f64 / 3_600_000.0;
    }
    let (mut flat_ms, mut start, mut last) = (0, None::<i64>, None::<(i64, f64)>);
    for (t, v) in samples.readings().chain([(i64::MAX / 2, f64::NAN)]) {
        let goes_on = last.is_some_and(|(before, value)| value == v && t - before <= own + own / 2);
        if !goes_on {
            let run = last.zip(start).map_or(0, |((end, _), start)| end - start);
            flat_ms += if run >= FLAT_MS { run } else { 0 };
            start = Some(t);
        }
        last = Some((t, v));
    }
    flat_ms as f64 / 3_600_000.0
}

/// Lengths of runs of equal values, of those that have at least so many: such a run holds a whole block of half its length.
fn long_runs(values: &[f64], least: usize) -> Vec<usize> {
    let block = (least / 2).max(1);
    let mut runs = Vec::new();
    let (mut at, mut done) = (0, 0);
    while at + block <= values.len() {
        let value = values[at];
        let alike = |v: &&f64| **v == value;
        if !values[at..at + block].iter().all(|v| *v == value) {
            at += block;
            continue;
        }
        let start = at - values[done..at].iter().rev().take_while(alike).count();
        done = at + values[at..].iter().take_while(alike).count();
        runs.push(done - start);
        at = done;
    }
    runs
}

/// The failure of an alignment, in the project's words.
pub(super) fn failed(point: &str, error: &PolarsError) -> IngestError {
    IngestError::Alignment { point: point.to_string(), why: error.to_string() }
}
