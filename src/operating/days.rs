//! What the measurements say of each other, day by day.
//!
//! Comes in: a pump's witnesses and its likeliest model. Goes out: one [`Day`] a local day with steady rows: how far each reading stands from what
//! one other reading and the table say ([`Day::pairs`]), and where each stood at the speed it was read at ([`Day::at_speed`]). A step within
//! a month shows here, which calendar months hide. The decision a reader would question: each pair is looked at alone, so that a reading that
//! moved spoils two pairs and leaves the third still; and levels are the model's, only changes mean anything. It judges nothing: the rules on
//! sensors and on wear do. Start at [`look`].

use super::State;
use super::model::witness::{HEAD, METER, POWER};
use super::posterior::Estimator;
use super::witness::{Row, Witnesses};
use crate::ingest::Clock;
use crate::plant::{Plant, local_to_utc};
use chrono::{Datelike, NaiveDate, NaiveTime};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;

/// Pairs of places in [`super::model::witness`]: the first against what the second says.
pub const PAIRS: [(usize, usize); 3] = [(HEAD, POWER), (HEAD, METER), (POWER, METER)];
/// The readings of [`AtSpeed`]: head, power, meter.
pub const READINGS: [usize; 3] = [HEAD, POWER, METER];

/// Steady rows looked at a day: more of them say little more of that day.
const ROWS_A_DAY: usize = 40;
/// A day speaks from so many of them on.
const LEAST_ROWS: usize = 6;
/// Readings are compared within steps of speed of this size [-], reduced by the affinity laws within one.
pub const SPEED_STEP: f64 = 0.025;
/// Random standard deviation of what the other says, as share of the reading [-], beyond which it says nothing worth comparing. What is wrong
/// in every row alike does not count: it is the same before and after.
const SHARP: f64 = 0.10;

/// One local day of one pump; natural logarithms of ratios [-], NaN where too few rows tell.
#[derive(Debug, Clone)]
pub struct Day {
    /// Days since the start of the common era, local.
    pub day: u32,
    /// Its first instant and the next day's [ms UTC].
    pub from_ms: i64,
    pub to_ms: i64,
    /// Middle speed [-], and middle flow over the table's largest at that speed [-]: what the day's misfit may hang on.
    pub speed: f64,
    pub duty: f64,
    /// Middle of reading over expected, for each of [`PAIRS`].
    pub pairs: [f64; 3],
    /// How head and power hang on flow there: -d ln H / d ln Q and d ln P / d ln Q [-].
    pub head_falls: f64,
    pub power_rises: f64,
    pub at_speed: Vec<AtSpeed>,
}

/// The rows of a day within one step of speed.
#[derive(Debug, Clone, Copy)]
pub struct AtSpeed {
    pub step: u16,
    /// Pumps that ran.
    pub sharing: u8,
    pub rows: u16,
    /// Mean logarithm of head over speed squared, power over speed cubed and flow over speed; NaN where not read.
    pub level: [f64; 3],
}

/// Looks at every day.
#[must_use]
pub fn look(plant: &Plant, clock: Clock, states: &[State], w: &Witnesses, e: &Estimator) -> Vec<Day> {
    let paired = PAIRS.iter().any(|(a, b)| w.has(*a) && w.has(*b));
    if !paired {
        return Vec::new();
    }
    local_days(plant, clock)
        .into_par_iter()
        .filter_map(|d| {
            let steady: Vec<usize> = d.rows.clone().filter(|&i| states[i] == State::Steady).collect();
            (steady.len() >= LEAST_ROWS).then(|| one_day(&d, &steady, w, e))
        })
        .collect()
}

struct LocalDay {
    day: u32,
    from_ms: i64,
    to_ms: i64,
    rows: Range<usize>,
}

fn local_days(plant: &Plant, clock: Clock) -> Vec<LocalDay> {
    let step_ms = clock.step_s * 1000;
    if clock.len == 0 || step_ms <= 0 {
        return Vec::new();
    }
    let begins = |d: NaiveDate| local_to_utc(plant.site.timezone, d.and_time(NaiveTime::MIN)).0.timestamp_millis();
    let row = |ms: i64| ((ms - clock.start_ms + step_ms - 1).div_euclid(step_ms).max(0) as usize).min(clock.len);
    let mut out = Vec::new();
    let mut at = Some(plant.local(clock.start_ms).date_naive());
    while let Some(date) = at {
        let next = date.succ_opt();
        let (from_ms, to_ms) = (begins(date), next.map_or(i64::MAX, begins));
        let rows = row(from_ms)..row(to_ms);
        if rows.start >= clock.len {
            break;
        }
        out.push(LocalDay { day: u32::try_from(date.num_days_from_ce()).unwrap_or(0), from_ms, to_ms, rows });
        at = next;
    }
    out
}

fn one_day(d: &LocalDay, steady: &[usize], w: &Witnesses, e: &Estimator) -> Day {
    let stride = steady.len().div_ceil(ROWS_A_DAY).max(1);
    let rows: Vec<Row> = steady.iter().step_by(stride).map(|&i| w.row(i)).collect();
    let mut pairs: [Vec<f64>; 3] = Default::default();
    let (mut duty, mut falls, mut rises) = (Vec::new(), Vec::new(), Vec::new());
    for row in &rows {
        for (k, &(of, by)) in PAIRS.iter().enumerate() {
            let Some(seen) = against(row, of, by, e) else { continue };
            pairs[k].push(seen.residual);
            duty.push(seen.duty);
            falls.push(seen.head_falls);
            rises.push(seen.power_rises);
        }
    }
    Day {
        day: d.day,
        from_ms: d.from_ms,
        to_ms: d.to_ms,
        speed: middle(rows.iter().map(|r| r.speed).collect()),
        duty: middle(duty),
        pairs: pairs.map(|p| if p.len() >= LEAST_ROWS { middle(p) } else { f64::NAN }),
        head_falls: middle(falls),
        power_rises: middle(rises),
        at_speed: at_speed(&rows),
    }
}

/// One reading against what another says.
struct Seen {
    residual: f64,
    duty: f64,
    head_falls: f64,
    power_rises: f64,
}

fn against(row: &Row, of: usize, by: usize, e: &Estimator) -> Option<Seen> {
    let (reading, other) = (row.reading[of], row.reading[by]);
    let usable = reading > 0.0 && other > 0.0 && (e.has_power || (of != POWER && by != POWER));
    if !usable {
        return None;
    }
    let mut alone = *row;
    alone.reading = [f64::NAN; super::model::witness::COUNT];
    alone.reading[by] = other;
    let said = e.say(&alone).ok().filter(|s| s.peaks.is_none())?;
    let column = e.field.column(row.speed, row.hour)?;
    let q = said.flow / row.speed;
    let expected = column.reading(of, q, row.around);
    let all = (said.high - said.low) / 3.92;
    let sd = (all * all - said.sd_common * said.sd_common).max(0.0).sqrt() / row.speed;
    if !(expected.value > 0.0) || expected.slope.abs() * sd > SHARP * expected.value {
        return None;
    }
    let elastic = |which: usize| {
        let at = column.reading(which, q, row.around);
        at.slope * q / at.value
    };
    Some(Seen {
        residual: (reading / expected.value).ln(),
        duty: q / e.field.q_max,
        head_falls: -elastic(HEAD),
        power_rises: if e.has_power { elastic(POWER) } else { f64::NAN },
    })
}

/// Rows of a step of speed, and sum and count of each reading.
type Cell = (u16, [(f64, u32); 3]);

fn at_speed(rows: &[Row]) -> Vec<AtSpeed> {
    let mut sums: BTreeMap<(u16, u8), Cell> = BTreeMap::new();
    for row in rows.iter().filter(|r| r.speed > 0.0) {
        let cell = sums.entry(((row.speed / SPEED_STEP) as u16, row.around.sharing as u8)).or_default();
        cell.0 += 1;
        let laws = [row.speed.powi(2), row.speed.powi(3), row.speed];
        for (k, &which) in READINGS.iter().enumerate() {
            let reduced = row.reading[which] / laws[k];
            if reduced > 0.0 {
                cell.1[k] = (cell.1[k].0 + reduced.ln(), cell.1[k].1 + 1);
            }
        }
    }
    let mean = |s: (f64, u32)| if s.1 > 0 { s.0 / f64::from(s.1) } else { f64::NAN };
    sums.into_iter().map(|((step, sharing), (rows, s))| AtSpeed { step, sharing, rows, level: s.map(mean) }).collect()
}

fn middle(mut v: Vec<f64>) -> f64 {
    v.retain(|x| x.is_finite());
    if v.is_empty() {
        return f64::NAN;
    }
    let at = v.len() / 2;
    *v.select_nth_unstable_by(at, f64::total_cmp).1
}
