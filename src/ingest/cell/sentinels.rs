//! Numbers that stand for "no reading", learned from a whole column.
//!
//! Comes in: the readings of one point as written, before any conversion. Goes out: the values to take out, with the reason. A value is one where
//! it repeats exactly, far outside all other readings, with nothing between, and where the point is not one that jumps there by nature: a
//! state, a counter, a machine that mostly rests, a range that is full. What is left over is screening's to judge, by role.

use super::reader::is_state;
use crate::plant::{Dimension, Role};
use std::collections::BTreeMap;

/// One number that stands for "no reading" in a column.
#[derive(Debug, Clone, PartialEq)]
pub struct Sentinel {
    pub value: f64,
    pub count: u64,
    /// A sentence without its end, for a notice.
    pub reason: String,
}

/// Numbers of this size are none that a plant reads: the largest of binary32 is 3.4e38 [-].
const ABSURD: f64 = 1e30;
/// Marks that systems write in place of a reading (common practice, no source), and the ends of the ranges of 16 and 32 bits, as they are and
/// over 10 and 100.
const CODES: &[f64] = &[
    -9999.0,
    -999.0,
    -99.0,
    -999.9,
    -9999.9,
    -99_999.0,
    -999_999.0,
    999.0,
    999.9,
    9999.0,
    9999.9,
    99_999.0,
    999_999.0,
    888.8,
    8888.0,
    32_767.0,
    -32_768.0,
    32_768.0,
    65_535.0,
    65_534.0,
    -32_767.0,
    3276.7,
    -3276.8,
    327.67,
    -327.68,
    6553.5,
    655.35,
    2_147_483_647.0,
    -2_147_483_648.0,
    4_294_967_295.0,
];
/// No code lies in here [-].
const NO_CODES: std::ops::Range<f64> = -98.0..327.0;
/// The end of the table of IEC 60751 [degC, degF]: a platinum element whose line is cut reads it. Of other roles it is a number like any other.
const CUT_LINE: [f64; 2] = [850.0, 1562.0];
/// A negative code below this is one where it stands once; all others must repeat [-].
const PLAIN_CODE: f64 = -900.0;
/// Full and empty ranges are readings.
const ENDS_OF_RANGE: [f64; 3] = [0.0, 1.0, 100.0];

/// Fewer other readings say nothing of what is usual [readings].
const LEAST_OTHERS: usize = 20;
/// And they are at least this share of all [share]; a code may fill most of a column whose sensor is lost.
const LEAST_OTHERS_SHARE: f64 = 0.05;
/// A known code lies beyond the others by at least their whole width, and this many times the largest of them [-].
const CODE_TIMES: f64 = 2.0;
/// A number that is no known code repeats this often ...
const LEAST_ALIKE: u64 = 5;
/// ... fills no more than this share of the column [share] ...
const MOST_ALIKE: f64 = 0.2;
/// ... lies beyond the others by this many times their whole width, and is this many times the largest of them [-].
const LEARNED_WIDTHS: f64 = 5.0;
const LEARNED_TIMES: f64 = 3.0;
/// ... which take this many different values: a point that rests at one or two and runs at a third is read as it is [values].
const LEAST_DIFFERENT: usize = 20;
/// An export has one number for "no reading", or one a kind of failure [values].
const MOST_KINDS: usize = 4;
/// Readings that a look at what is usual takes, evenly spread [readings].
const LOOKED_AT: usize = 8192;

/// The numbers that stand for "no reading" among the readings of one point. What is not finite is passed over. One pass over the
/// column, and one more where something lies far out.
#[must_use]
pub fn sentinels(readings: &[f64], role: Option<Role>) -> Vec<Sentinel> {
    if role.is_some_and(is_state) {
        return Vec::new();
    }
    let mut found = codes(readings, role);
    let others = Others::of(readings, &found);
    let all = others.count + found.values().sum::<u64>() as usize;
    let usual = others.count >= LEAST_OTHERS && others.count as f64 >= LEAST_OTHERS_SHARE * all as f64;
    let different = different_beside(&sample(readings), &found) >= LEAST_DIFFERENT;
    found.retain(|bits, count| {
        let v = f64::from_bits(*bits);
        // What is mostly at rest and then runs at 999 W may well be read as it is.
        let stands_out = v < PLAIN_CODE || (*count > 1 && (v < 0.0 || different));
        v.abs() >= ABSURD || (usual && others.is_beyond(v, 1.0, CODE_TIMES) && stands_out)
    });
    if usual && may_be_learned(role) {
        found.extend(learned(readings, all, &found));
    }
    found.retain(|bits, _| !ENDS_OF_RANGE.contains(&f64::from_bits(*bits)));
    // What was dropped again is a reading like the others.
    let others = Others::of(readings, &found);
    let mut all: Vec<Sentinel> =
        found.into_iter().map(|(bits, count)| others.say(f64::from_bits(bits), count)).collect();
    all.sort_by(|a, b| a.value.total_cmp(&b.value));
    all
}

/// Measured numbers that cannot stand at the end of what a machine can do: speeds, flows and powers of a machine at full speed repeat exactly.
fn may_be_learned(role: Option<Role>) -> bool {
    use Role::*;
    role.is_some_and(|r| {
        matches!(
            r,
            PumpHead
                | SupplyTemperature
                | ReturnTemperature
                | DifferentialPressure
                | AirTemperature
                | SpaceTemperature
                | CoilReturnTemperature
                | SuctionPressure
                | DischargePressure
                | SourceSupplyTemperature
                | SourceReturnTemperature
                | OutdoorTemperature
        )
    })
}

/// How often known codes and absurd numbers stand there, by their bits.
fn codes(readings: &[f64], role: Option<Role>) -> BTreeMap<u64, u64> {
    let measures_temperature = role.is_none_or(|r| r.dimensions().contains(&Dimension::Temperature));
    let mut found = BTreeMap::new();
    for v in readings.iter().copied().filter(|v| v.is_finite()) {
        // Most readings are told from codes by their size alone.
        if NO_CODES.contains(&v) {
            continue;
        }
        let is_cut = || measures_temperature && CUT_LINE.iter().any(|c| same(*c, v));
        if v.abs() >= ABSURD || is_code(v) || is_cut() {
            *found.entry(v.to_bits()).or_default() += 1;
        }
    }
    found
}

fn is_code(v: f64) -> bool {
    CODES.iter().any(|c| same(*c, v))
}

/// Equal but for the last digits of binary32, in which many systems keep their values.
fn same(code: f64, v: f64) -> bool {
    (code - v).abs() <= 1e-7 * code.abs()
}

/// A single number far outside a column of many different ones.
fn learned(readings: &[f64], all: usize, known: &BTreeMap<u64, u64>) -> BTreeMap<u64, u64> {
    let mut far = BTreeMap::new();
    let sample = sample(readings);
    let (Some(low), Some(high)) = (at_share(&sample, 0.2), at_share(&sample, 0.8)) else { return far };
    // Wide enough for everything usual; what is beyond is judged below.
    let (reach, largest) = (LEARNED_WIDTHS * (high - low), low.abs().max(high.abs()));
    for v in readings.iter().copied().filter(|v| v.is_finite() && v.abs() < ABSURD) {
        if v - high > reach || low - v > reach {
            *far.entry(v.to_bits()).or_default() += 1;
            if far.len() > 64 {
                return BTreeMap::new();
            }
        }
    }
    far.retain(|bits, _| !is_code(f64::from_bits(*bits)));
    let alike: BTreeMap<u64, u64> = far.iter().filter(|(_, n)| **n >= LEAST_ALIKE).map(|(b, n)| (*b, *n)).collect();
    let rows: u64 = alike.values().sum();
    let others = Others::of(readings, &alike.iter().chain(known).map(|(b, n)| (*b, *n)).collect());
    let fits = |bits: &u64| others.is_beyond(f64::from_bits(*bits), LEARNED_WIDTHS, LEARNED_TIMES);
    let is_one = largest > 0.0
        && alike.len() <= MOST_KINDS
        && rows as f64 <= MOST_ALIKE * all as f64
        && different_beside(&sample, &alike) >= LEAST_DIFFERENT
        && alike.keys().all(fits);
    if is_one { alike } else { BTreeMap::new() }
}

/// Finite readings, evenly spread over the column, sorted.
fn sample(readings: &[f64]) -> Vec<f64> {
    let step = readings.len().div_ceil(LOOKED_AT).max(1);
    let is_code = |v: f64| !NO_CODES.contains(&v) && is_code(v);
    let mut taken: Vec<f64> =
        readings.iter().step_by(step).copied().filter(|v| v.is_finite() && v.abs() < ABSURD && !is_code(*v)).collect();
    taken.sort_unstable_by(f64::total_cmp);
    taken
}

/// Different values of a sorted sample that are no candidates.
fn different_beside(sorted: &[f64], candidates: &BTreeMap<u64, u64>) -> usize {
    let mut kinds: Vec<u64> = sorted.iter().map(|v| v.to_bits()).filter(|b| !candidates.contains_key(b)).collect();
    kinds.dedup();
    kinds.len()
}

fn at_share(sorted: &[f64], share: f64) -> Option<f64> {
    sorted.get((share * sorted.len().checked_sub(1)? as f64) as usize).copied()
}

/// The readings that are no candidates.
#[derive(Debug, Clone, Copy)]
struct Others {
    count: usize,
    low: f64,
    high: f64,
}

impl Others {
    fn of(readings: &[f64], candidates: &BTreeMap<u64, u64>) -> Self {
        let mut others = Self { count: 0, low: f64::INFINITY, high: f64::NEG_INFINITY };
        for v in readings.iter().filter(|v| v.is_finite()) {
            if candidates.is_empty() || !candidates.contains_key(&v.to_bits()) {
                others.count += 1;
                others.low = others.low.min(*v);
                others.high = others.high.max(*v);
            }
        }
        others
    }

    /// Beyond all of them, by so many times their width, and so many times the largest.
    fn is_beyond(&self, v: f64, widths: f64, times: f64) -> bool {
        let away = (v - self.high).max(self.low - v);
        let largest = self.low.abs().max(self.high.abs());
        away > widths * (self.high - self.low) && v.abs() > times * largest
    }

    fn say(&self, value: f64, count: u64) -> Sentinel {
        let value_shown = shown(value);
        let times = if count == 1 { "once".to_owned() } else { format!("{count} times") };
        let reason = if self.count == 0 {
            format!("{value_shown} stands there {times}; no plant reads such a number")
        } else {
            let (low, high) = (shown(self.low), shown(self.high));
            format!(
                "{value_shown} stands there {times}, far outside the other readings, which lie between {low} and {high}"
            )
        };
        Sentinel { value, count, reason }
    }
}

/// A number for people: not a line of noughts.
fn shown(v: f64) -> String {
    if v.abs() >= 1e12 { format!("{v:e}") } else { v.to_string() }
}
