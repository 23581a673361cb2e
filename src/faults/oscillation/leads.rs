//! Who swings first: a valve, a setpoint or a machine that moves with the pump's period, ahead of it, and takes it along.
//!
//! Comes in: a [`Swing`] and what else is trended. Goes out: the name of what leads. The decision a reader would question: a valve that opens
//! takes pressure, and the pump speeds up at once or a little later: in step or less than an eighth of a period behind. A valve that answers
//! a hunting pump closes when the speed rises: the other way round, and later. So the sign and the lead tell one from the other, where they
//! are plain; with a coil's own lag near half a period they would not.

use super::swing::Swing;
use crate::faults::Case;
use crate::plant::Role;

/// How far ahead of the speed a leader may be, and how far behind a follower is looked for [periods]: one row behind tells it already, more rows only
/// where the correlation is rough.
const AHEAD: f64 = 0.125;
const BEHIND: f64 = 0.25;
/// Correlation from which they move together [-].
const TOGETHER: f64 = 0.6;
/// Swings below this do not take a pump along: of a valve's stroke [-], of a setpoint [of its mean], of a status [-].
const VALVE: f64 = 0.04;
const SETPOINT: f64 = 0.03;
const STATUS: f64 = 0.3;
/// Share of the chains it must lead in [-]; chains looked at: the others resemble them, and more would only cost time.
const MOST: f64 = 0.5;
const LOOKED_AT: usize = 40;
/// Peak to peak of a sine over its standard deviation [-].
const PEAKS: f64 = 2.828;

/// What leads the swing, in words; `None` where nothing trended does.
pub(in crate::faults) fn led_by(case: &Case, swing: &Swing) -> Option<String> {
    let mut candidates: Vec<(String, &[f64], f64, bool)> = Vec::new();
    for c in &case.coils {
        candidates.extend(c.valve.map(|v| (format!("the valve of {}", c.name), v, VALVE, false)));
    }
    candidates.extend(case.bypass_position.map(|v| ("the bypass valve".to_owned(), v, VALVE, false)));
    if let Some(v) = case.dp_setpoint_kpa {
        let middle = crate::faults::spread::mean(v.iter().copied());
        candidates.push(("the pressure setpoint".to_owned(), v, SETPOINT * middle, false));
    }
    for s in &case.plant.sources {
        let status = case.trend(Role::SourceStatus, Some(&s.name));
        candidates.extend(status.map(|v| (format!("the machine {}", s.name), v, STATUS, true)));
    }
    let share = |c: &(String, &[f64], f64, bool)| leads_in(case, swing, c.1, c.2, c.3);
    let led = candidates.iter().map(|c| (share(c), c)).filter(|(s, _)| *s >= MOST);
    led.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, c)| c.0.clone())
}

/// Share of the chains in which these values lead the speed [-].
fn leads_in(case: &Case, swing: &Swing, values: &[f64], least: f64, either_sign: bool) -> f64 {
    let stride = swing.chains.len().div_ceil(LOOKED_AT).max(1);
    let (mut led, mut looked) = (0.0, 0.0);
    for (k, c) in swing.chains.iter().step_by(stride) {
        let half = (c.period / 2.0).round() as usize;
        let (Some(x), Some(v)) =
            (wobble(&values[c.first..c.last], half), wobble(&case.pumps[*k].speed[c.first..c.last], half))
        else {
            continue;
        };
        looked += 1.0;
        if PEAKS * spread(&x) < least {
            continue;
        }
        let (ahead, behind) = ((AHEAD * c.period).floor() as isize, (BEHIND * c.period).floor() as isize);
        let best = |from: isize, to: isize, sign: f64| {
            (from..=to).map(|lead| sign * together(&x, &v, lead)).fold(f64::MIN, f64::max)
        };
        let leads = |sign: f64| {
            let front = best(0, ahead, sign);
            front >= TOGETHER && (behind < 1 || front >= best(-behind, -1, sign))
        };
        led += f64::from(u8::from(leads(1.0) || (either_sign && leads(-1.0))));
    }
    if looked > 0.0 { led / looked } else { 0.0 }
}

/// Values less their mean over a period around them; `None` where too few are known.
fn wobble(values: &[f64], half: usize) -> Option<Vec<f64>> {
    let mut sums = Vec::with_capacity(values.len() + 1);
    sums.push((0.0, 0.0));
    for v in values {
        let (sum, n) = sums[sums.len() - 1];
        sums.push(if v.is_finite() { (sum + v, n + 1.0) } else { (sum, n) });
    }
    let known = sums[values.len()].1;
    if values.len() < 2 * half + 4 || known < 0.8 * values.len() as f64 {
        return None;
    }
    let local = |i: usize| {
        let (a, b) = (i.saturating_sub(half), (i + half + 1).min(values.len()));
        (sums[b].0 - sums[a].0) / (sums[b].1 - sums[a].1)
    };
    Some(values.iter().enumerate().map(|(i, v)| if v.is_finite() { v - local(i) } else { 0.0 }).collect())
}

fn spread(x: &[f64]) -> f64 {
    (x.iter().map(|v| v * v).sum::<f64>() / x.len().max(1) as f64).sqrt()
}

/// Correlation of `x` with `v` so many rows later [-].
fn together(x: &[f64], v: &[f64], lead: isize) -> f64 {
    let shift = lead.unsigned_abs();
    let (a, b) = if lead >= 0 { (x, &v[shift.min(v.len())..]) } else { (&x[shift.min(x.len())..], v) };
    let n = a.len().min(b.len());
    let dot: f64 = a[..n].iter().zip(&b[..n]).map(|(a, b)| a * b).sum();
    let power = |s: &[f64]| s.iter().map(|v| v * v).sum::<f64>();
    let both = (power(&a[..n]) * power(&b[..n])).sqrt();
    if both > 0.0 { dot / both } else { 0.0 }
}
