//! What else puts points off a curve, and a step that single rows are too uncertain to show.

use super::day::Day;
use super::{LEAST_OFF_H, Tally, is_judged, own_line};
use crate::faults::spread::{mean, median, quantile};
use crate::faults::{Case, Verdict, onset};

/// Where too few rows leave the curve for their own interval: a step of the daily distance at like flow from this size on, in design heads [-],
/// with so many days on each side [days]. Common errors cancel in it; a controller's dead band does not reach it.
const MOVED: f64 = 0.08;
const MOVED_DAYS: usize = 3;
/// A day's speed that spreads no more than this from its 10th to its 90th percentile stands still [-], so much of the rows off the curve must do so [-],
/// while the flow moves by so much of the design flow [-].
const SPEED_STANDS: f64 = 0.012;
const MOSTLY: f64 = 0.7;
pub const FLOW_MOVED: f64 = 0.10;

impl Tally {
    /// Whether most rows off the curve lie on days whose speed stands still although the flow moves.
    pub fn speed_stands(&self, case: &Case) -> bool {
        let (mut still, mut flows) = (0usize, Vec::new());
        for mine in self.off.chunk_by(|a, b| case.local_day[a.0] == case.local_day[b.0]) {
            let of = |share: f64| quantile(mine.iter().map(|(i, p)| case.pumps[*p].speed[*i]), share);
            if of(0.9) - of(0.1) <= SPEED_STANDS {
                still += mine.len();
                flows.extend(mine.iter().map(|(i, _)| case.loop_flow_m3h[*i]));
            }
        }
        let spread = quantile(flows.iter().copied(), 0.9) - quantile(flows.iter().copied(), 0.1);
        still as f64 >= MOSTLY * self.off.len() as f64 && spread >= FLOW_MOVED * case.design_flow_m3h()
    }

    /// Where the points moved off the pump's own line by as much as off the control curve, the reading moved, or the pump.
    pub fn by_the_reading(&self, case: &Case, subject: &str, change: Option<f64>) -> Option<Verdict> {
        let change = change?;
        let on: Vec<(usize, usize)> = self
            .days_rows(case, |d| Self::is_on(case, d))
            .filter(|(i, p)| is_judged(case.pumps[*p].regime[*i]))
            .collect();
        let moved = own_line::moved(case, &on, &self.off)?;
        let head = median(self.off.iter().map(|(i, p)| case.pumps[*p].head_kpa[*i]));
        own_line::explains(moved, change / (head - change)).then(|| own_line::not_the_control(case, subject, moved))
    }

    /// Row and pump of the days that are wanted.
    fn days_rows<'t>(
        &'t self,
        case: &'t Case,
        wanted: impl Fn(&Day) -> bool + 't,
    ) -> impl Iterator<Item = (usize, usize)> + 't {
        let days = self.days.iter().zip(case.days()).filter(move |(d, _)| wanted(d));
        days.flat_map(|(_, rows)| rows).flat_map(|i| self.pumps.iter().map(move |p| (i, *p)))
    }

    /// A step of the daily distance at like flow that single rows are too uncertain to show.
    pub fn moved(&self, case: &Case, subject: &str, design: f64) -> Option<Verdict> {
        if self.half_kpa + crate::regimes::CURVE_TOLERANCE * design < MOVED * design {
            // Single rows would have shown it.
            return None;
        }
        let daily: Vec<f64> = self.days.iter().map(|d| d.excess_kpa).collect();
        let flow = case.days().into_iter().map(|d| mean(d.filter(|i| case.steady[*i]).map(|i| case.loop_flow_m3h[i])));
        let step = onset::step(&daily, &[flow.collect()], MOVED_DAYS)?;
        if step.t < onset::BELIEVED || !(step.size.abs() >= MOVED * design) {
            return None;
        }
        let start = self.days[step.at].first;
        let later = |d: &Day| d.first >= start;
        let judged = |(i, p): &(usize, usize)| is_judged(case.pumps[*p].regime[*i]);
        let before: Vec<_> = self.days_rows(case, |d| !later(d)).filter(judged).collect();
        let after: Vec<_> = self.days_rows(case, later).filter(judged).collect();
        let (was, is) = (median(daily[..step.at].iter().copied()), median(daily[step.at..].iter().copied()));
        let ended = was.abs() > is.abs() + self.half_kpa.max(crate::regimes::CURVE_TOLERANCE * design);
        let off = if ended { before.clone() } else { after.clone() };
        let by = median(off.iter().map(|(i, p)| case.pumps[*p].head_kpa[*i]));
        if off.len() as f64 * case.step_h < LEAST_OFF_H * self.pumps.len() as f64 {
            return None;
        }
        if let Some(line) = own_line::moved(case, &before, &after)
            && own_line::explains(line, step.size / (by - step.size))
        {
            return Some(own_line::not_the_control(case, subject, line));
        }
        let change = if ended { -step.size } else { step.size };
        let shown =
            Tally { pumps: self.pumps.clone(), days: Vec::new(), off, up: change > 0.0, half_kpa: self.half_kpa };
        Some(shown.stepped(case, subject, change, step.t))
    }
}
