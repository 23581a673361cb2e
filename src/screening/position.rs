//! A valve's position that does not follow its command, where both are trended.

use super::Doubt;
use super::doubt::{Kind, Sign};
use super::share_of;
use crate::ingest::{Clock, Series};
use crate::plant::Role;

/// The position stays within this [-] ...
const STAYS: f64 = 0.03;
/// ... while the command spans this [-], over so many hours [h], standing off it by this at least half of the time [-].
const SPANS: f64 = 0.25;
const LEAST_H: f64 = 24.0;
const OFF_BY: f64 = 0.10;

/// Positions that stand while their command moves. They are kept: the valve may really stand there.
pub(super) fn judge(clock: &Clock, series: &[Series]) -> Vec<Doubt> {
    let positions = series.iter().filter(|s| s.role == Role::ValvePosition && s.of.is_some());
    positions.filter_map(|p| one(clock, p, series)).collect()
}

fn one(clock: &Clock, p: &Series, series: &[Series]) -> Option<Doubt> {
    let command = series.iter().find(|s| s.role == Role::ValveCommand && s.of == p.of)?;
    let known = |i: &usize| p.values[*i].is_finite() && command.values[*i].is_finite();
    let (first, last) = longest(&p.values, (0..clock.len).filter(known))?;
    let rows = || (first..=last).filter(known);
    let hours = rows().count() as f64 * clock.hours();
    let span = share_of(rows().map(|i| command.values[i]), 0.95) - share_of(rows().map(|i| command.values[i]), 0.05);
    let off = share_of(rows().map(|i| (p.values[i] - command.values[i]).abs()), 0.5);
    if hours < LEAST_H || span < SPANS || off < OFF_BY {
        return None;
    }
    let at = share_of(rows().map(|i| p.values[i]), 0.5);
    let why = format!(
        "it stays within {:.0} % of {:.0} % for {hours:.0} h while \"{}\" moves over {:.0} %; it was kept, since the valve itself may stand there",
        100.0 * STAYS,
        100.0 * at,
        command.name,
        100.0 * span
    );
    Some(Doubt {
        beside: vec![command.name.clone()],
        confidence: (0.7 + 0.1 * (hours / 72.0).min(2.0)).min(0.9),
        sign: Some(Sign {
            name: "middle of position less command".into(),
            value: off,
            unit: "fraction",
            expected: "below 0.1".into(),
        }),
        why,
        ..Doubt::of(clock, p, Kind::Position, (first, last), rows().count())
    })
}

/// The longest stretch in which the values stay within [`STAYS`]: first and last row.
fn longest(v: &[f64], rows: impl Iterator<Item = usize>) -> Option<(usize, usize)> {
    let mut best: Option<(usize, usize)> = None;
    let mut run: Option<(usize, usize, f64, f64)> = None;
    for i in rows {
        run = Some(match run {
            Some((a, _, low, high)) if v[i].max(high) - v[i].min(low) <= STAYS => (a, i, low.min(v[i]), high.max(v[i])),
            _ => (i, i, v[i], v[i]),
        });
        let (a, b) = run.map_or((i, i), |r| (r.0, r.1));
        if best.is_none_or(|(x, y)| b - a > y - x) {
            best = Some((a, b));
        }
    }
    best
}
