//! What faults do to a running plant, and when.

use super::plan::{Curve, Plan};
use crate::simulator::calendar::Local;
use std::cell::Cell;

/// From and to [ms].
pub type Span = (i64, i64);

fn within(span: Span, t: i64) -> bool {
    (span.0..span.1).contains(&t)
}

/// A limit cycle.
#[derive(Debug, Clone, Copy)]
pub struct Hunts {
    pub off_floor: bool,
    pub swing: f64,
    pub period: f64,
}

/// Hours of each day in which something happens: local hour from, and how long [h].
#[derive(Debug, Clone, Copy)]
pub struct Daily {
    pub span: Span,
    pub from: f64,
    pub hours: f64,
    /// Offset of the plant's local time at the record's start [ms]; a fault does not care for summer time.
    pub offset_ms: i64,
}

impl Daily {
    pub fn at(&self, t: i64) -> bool {
        let clock = ((t + self.offset_ms).rem_euclid(86_400_000)) as f64 / 3_600_000.0;
        within(self.span, t) && (clock - self.from).rem_euclid(24.0) < self.hours
    }
}

#[derive(Debug, Clone, Default)]
pub struct Effects {
    /// Terminals, conductance left.
    pub foul: Option<(Span, Vec<usize>, f64)>,
    /// Terminals, how far the setpoint is off [K].
    pub air_off: Option<(Span, Vec<usize>, f64)>,
    /// Stroke at which the bypass hangs; whether its position shows it.
    pub bypass: Option<(Span, f64)>,
    pub bypass_shown: bool,
    pub hunts: Option<(Daily, Hunts)>,
    /// What the drive really holds.
    pub curve: Option<(Span, Curve)>,
    pub hand: Option<(Span, f64)>,
    pub extra: Option<(Span, f64, bool)>,
    /// Fans run in the extra hours as well.
    pub extra_open: bool,
    /// Pump, what is left at the end, from when to when it wears.
    pub worn: Option<(Span, usize, f64)>,
    /// Starts an hour.
    pub cycling: Option<(Daily, f64)>,
    /// One pump more (or fewer) than the load asks, in this share of the hours.
    pub staging: Option<(Span, i64, f64)>,
    /// A pump behind a shut valve.
    pub dead: Option<(Daily, usize)>,
    /// All terminals shut while the pump runs.
    pub shut: Option<Daily>,
    // What holds in the minute at hand, for the signals. The setpoint that is trended is the one that is meant; a drive off its curve holds another.
    pub curve_now: Cell<Option<Curve>>,
    pub hand_now: Cell<bool>,
    pub dead_now: Cell<usize>,
    pub outdoor_now: Cell<f64>,
}

impl Effects {
    pub fn remember(&self, t: i64, curve: Curve, dead: usize, outdoor: f64) {
        self.curve_now.set(Some(curve));
        self.hand_now.set(self.hand_at(t).is_some());
        self.dead_now.set(dead);
        self.outdoor_now.set(outdoor);
    }

    pub fn terminal_at(&self, t: i64, k: usize) -> (f64, f64) {
        let of = |e: &Option<(Span, Vec<usize>, f64)>| {
            e.as_ref().filter(|(s, which, _)| within(*s, t) && which.contains(&k)).map(|e| e.2)
        };
        (of(&self.foul).unwrap_or(1.0), of(&self.air_off).unwrap_or(0.0))
    }

    pub fn bypass_at(&self, t: i64) -> f64 {
        self.bypass.filter(|b| within(b.0, t)).map_or(0.0, |b| b.1)
    }

    pub fn hunts_at(&self, t: i64) -> Option<Hunts> {
        self.hunts.filter(|h| h.0.at(t)).map(|h| h.1)
    }

    pub fn curve_at(&self, t: i64) -> Option<Curve> {
        self.curve.filter(|c| within(c.0, t)).map(|c| c.1)
    }

    pub fn hand_at(&self, t: i64) -> Option<f64> {
        self.hand.filter(|h| within(h.0, t)).map(|h| h.1)
    }

    /// Beyond the schedule: after it (or, in the third place, before it) on working days.
    pub fn extra_at(&self, t: i64, l: &Local, day: i64, plan: &Plan) -> bool {
        let Some((span, hours, early)) = self.extra.filter(|e| within(e.0, t)) else { return false };
        let _ = span;
        let clock = l.clock();
        let h = &plan.hours;
        if early {
            return h.works(l, day) && clock >= h.from - h.lead - hours && clock < h.from;
        }
        // Past midnight it belongs to the day before.
        let since = (clock - h.to).rem_euclid(24.0);
        let begun = if clock < h.to { day - 1 } else { day };
        let weekday = (l.weekday - (day - begun)).rem_euclid(7);
        let works = (weekday < 5 || (h.saturday && weekday == 5)) && !h.holidays.contains(&begun);
        works && since < hours + h.run_on
    }

    /// The worn pump and what is left of it now.
    pub fn worn_at(&self, t: i64) -> Option<(usize, f64)> {
        self.worn.map(|((from, to), p, left)| {
            let share = ((t - from) as f64 / (to - from).max(1) as f64).clamp(0.0, 1.0);
            (p, 1.0 - (1.0 - left) * share)
        })
    }

    /// Whether a cycling pump stands still this minute.
    pub fn cycles_off(&self, t: i64) -> bool {
        self.cycling.is_some_and(|(d, starts)| {
            let minute = (t / 60_000) as f64;
            d.at(t) && (minute * starts / 60.0).fract() >= 0.55
        })
    }

    pub fn count_at(&self, t: i64, count: usize, most: usize) -> usize {
        let Some((span, step, share)) = self.staging.filter(|s| within(s.0, t)) else { return count };
        // Blocks of three hours; the low-discrepancy sequence of the golden ratio spreads them.
        let block = (t - span.0) / (3 * 3_600_000);
        let wrong = (block as f64 * 0.618_034).fract() < share;
        if wrong { (count as i64 + step).clamp(1, most as i64) as usize } else { count }
    }

    pub fn dead_at(&self, t: i64) -> Option<usize> {
        self.dead.filter(|d| d.0.at(t)).map(|d| d.1)
    }

    pub fn shut_at(&self, t: i64) -> bool {
        self.shut.is_some_and(|d| d.at(t))
    }
}
