//! By the bypass's own position.

use super::conductance::{Fit, by_day, modulates, row, rows};
use super::{Answer, LEAST_DAY_H, LEAST_OPEN_H, OPEN_SHARE, Stuck, from_flow_m3h};
use crate::faults::rules::number;
use crate::faults::spread::{deviation, median};
use crate::faults::{Case, CoilCase, What, say};

/// A bypass this far open is open [-].
const OPEN: f64 = 0.20;

/// By the bypass's own position. `None` where it is not trended or never seen well above minimum flow.
pub fn look(case: &Case) -> Option<Answer> {
    let position = case.bypass_position?;
    let from = from_flow_m3h(case);
    let high: Vec<usize> =
        (0..case.rows()).filter(|i| case.loop_flow_m3h[*i] >= from && position[*i].is_finite()).collect();
    if high.len() as f64 * case.step_h < LEAST_OPEN_H {
        return None;
    }
    let begun = first_stuck(case, position, &high)?;
    let open: Vec<usize> = high.into_iter().filter(|i| *i >= begun && position[*i] >= OPEN).collect();
    if (open.len() as f64) * case.step_h < LEAST_OPEN_H {
        return Some(Answer::Shut);
    }
    let at = median(open.iter().map(|i| position[*i]));
    let share = share_by_position(case, position, &open);
    let evidence = number("bypass position well above minimum flow", at, "fraction", "0", "bypass position");
    Some(Answer::Stuck(Stuck {
        share,
        confidence: 0.9,
        because: format!(
            "The bypass is {} open while the flow is above {}, for {:.0} h since {}.",
            say::percent(at),
            case.say_flow(from),
            open.len() as f64 * case.step_h,
            case.say_when(open[0])
        ),
        evidence: vec![evidence],
        what: What::BypassOpen { from_m3h: from, open: OPEN },
        rows: open,
    }))
}

/// What the open bypass passes, of the flow [-], where its position moved enough in the record for the conductance to
/// tell; zero where that is not known.
fn share_by_position(case: &Case, position: &[f64], open: &[usize]) -> f64 {
    let moving: Vec<&CoilCase> = case.coils.iter().filter(|c| c.valve.is_some() && modulates(c)).collect();
    let moved = deviation(&position.iter().copied().filter(|p| p.is_finite()).collect::<Vec<f64>>()) >= OPEN / 2.0;
    if !moved || moving.is_empty() {
        return 0.0;
    }
    let days = by_day(case, &rows(case, &moving));
    let Some(fit) = Fit::best(case, &moving, &days) else { return 0.0 };
    let at = 1 + moving.len();
    let shares = open.iter().filter_map(|i| row(case, &moving, *i, fit.r).map(|r| r.x[at] * fit.c[at] / r.y));
    let share = median(shares.step_by(open.len().div_ceil(2000)));
    if share.is_finite() { share.clamp(0.0, 0.9) } else { 0.0 }
}

/// First row of the last stretch of days on which the bypass stood open nearly all the time well above minimum flow;
/// the end of the record where there is none.
fn first_stuck(case: &Case, position: &[f64], high: &[usize]) -> Option<usize> {
    let mut begun = None;
    for d in case.days() {
        let mine = &high[high.partition_point(|i| *i < d.start)..high.partition_point(|i| *i < d.end)];
        if (mine.len() as f64) * case.step_h < LEAST_DAY_H {
            continue;
        }
        let open = mine.iter().filter(|i| position[**i] >= OPEN).count();
        if (open as f64) < OPEN_SHARE * mine.len() as f64 {
            // The day it opened on is only partly open: its open tail counts.
            let tail = mine.iter().rposition(|i| position[*i] < OPEN).map_or(0, |k| k + 1);
            begun = mine.get(tail).copied();
        } else if begun.is_none() {
            begun = Some(mine[0]);
        }
    }
    Some(begun.unwrap_or(case.rows()))
}
