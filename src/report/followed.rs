//! One fault through the reviews: since when, in how many, at what cost so far, gone and come back.
//!
//! Comes in: the earlier results in the order they ended. Goes out: an [`Episode`] that is still open, or that nothing is.
//! A fault stays open through reviews that could not judge it. Only a check that rules it out closes it: one that looks for
//! a change within its own record rules out nothing that changed before (`faults/older.rs`). Where reviews overlap, what a
//! fault wasted is counted once: of the review that ended first only for the part that no later one covers, by time.

use super::history::{Earlier, EarlierFinding};
use crate::faults::{Estimate, Fault, older};

/// A fault's run of reviews without a clear one between.
#[derive(Debug, Clone, Default)]
pub struct Episode {
    pub since_ms: i64,
    pub last_seen_ms: i64,
    /// Reviews that found it.
    pub seen_in: usize,
    /// Reviews since it was first found that could not tell.
    pub not_told_in: usize,
    /// The last of those: since it was last found.
    pub silent: usize,
    /// When it was there, period by period, in the order the reviews ended.
    pub spells: Vec<Spell>,
}

/// That it was there before, and gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Returned {
    /// Since when the last time.
    pub first_since_ms: i64,
    /// The period of the review that found it gone.
    pub gone_from_ms: i64,
    pub gone_to_ms: i64,
}

/// What it has cost so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cost {
    /// `None` where none of the reviews could price it.
    pub kwh: Option<Estimate>,
    /// Reviews whose price is in it, of those that found it.
    pub priced_in: usize,
}

/// When a review saw it, and what it wasted in that period.
#[derive(Debug, Clone, Copy)]
pub struct Spell {
    pub from_ms: i64,
    pub to_ms: i64,
    pub first_seen_ms: i64,
    pub last_seen_ms: i64,
    pub waste_kwh: Option<Estimate>,
}

/// How a fault stands after the earlier reviews.
#[derive(Debug, Clone, Default)]
pub struct Standing<'h> {
    pub open: Option<Episode>,
    /// The newest finding of the open episode.
    pub found: Option<(&'h Earlier, &'h EarlierFinding)>,
    /// That it was gone before the open episode, or since the last one.
    pub returned: Option<Returned>,
}

impl<'h> Standing<'h> {
    /// Of one fault and subject.
    pub fn new(all: &'h [Earlier], fault: Fault, subject: &str) -> Self {
        let mut standing = Self::default();
        for earlier in all {
            standing.after(earlier, fault, subject);
        }
        standing
    }

    fn after(&mut self, earlier: &'h Earlier, fault: Fault, subject: &str) {
        let found = earlier.findings.iter().find(|f| f.fault == fault.code() && f.subject == subject);
        if let Some(found) = found {
            // What the first known review had from still earlier ones; once it had been gone, its own.
            let since_ms = if self.returned.is_some() { found.first_seen_ms } else { found.since_ms };
            let episode = self.open.get_or_insert_with(|| Episode::since(since_ms));
            episode.add(Spell::of(earlier, found));
            self.found = Some((earlier, found));
            return;
        }
        let Some(episode) = &mut self.open else { return };
        let clear = earlier.clear.iter().find(|c| c.fault == fault.code() && c.subject == subject);
        let gone = clear.is_some_and(|c| self.found.is_some_and(|f| rules_out(fault, f, &c.would_have_seen)));
        if gone {
            self.returned = Some(Returned {
                first_since_ms: episode.since_ms,
                gone_from_ms: earlier.from_ms,
                gone_to_ms: earlier.to_ms,
            });
            (self.open, self.found) = (None, None);
        } else {
            episode.not_told_in += 1;
            episode.silent += 1;
        }
    }

    /// Whether a check with these words rules the open episode out.
    pub fn ruled_out(&self, fault: Fault, would_have_seen: &str) -> bool {
        self.found.is_some_and(|f| rules_out(fault, f, would_have_seen))
    }
}

/// A fault that was there when its record began was there before, too; this far from its start counts as that [ms]: a day,
/// since many rules judge day by day.
const AT_THE_START_MS: i64 = 86_400_000;

fn rules_out(fault: Fault, (earlier, found): (&Earlier, &EarlierFinding), would_have_seen: &str) -> bool {
    let began_within = found.first_seen_ms > earlier.from_ms + AT_THE_START_MS;
    older::rules_out(would_have_seen, older::Older { fault, because: &found.because, began_within })
}

impl Episode {
    /// One that nothing is known of but its start.
    pub fn since(since_ms: i64) -> Self {
        Self { since_ms, ..Self::default() }
    }

    /// With one more review that found it.
    pub fn add(&mut self, spell: Spell) {
        self.since_ms = self.since_ms.min(spell.first_seen_ms);
        self.last_seen_ms = self.last_seen_ms.max(spell.last_seen_ms);
        self.seen_in += 1;
        self.silent = 0;
        self.spells.push(spell);
    }

    /// Sum of the waste over the periods in which it was found. The bounds are summed as well, which is the widest honest
    /// interval: the periods are priced through the same pump, motor and drive, so their errors go together.
    pub fn cost(&self) -> Cost {
        let mut spells = self.spells.clone();
        // The latest first; of those that end together the longest.
        spells.sort_by_key(|s| (std::cmp::Reverse(s.to_ms), s.from_ms));
        let mut covered: Vec<(i64, i64)> = Vec::new();
        let mut cost = Cost { kwh: None, priced_in: 0 };
        for spell in &spells {
            let Some(waste) = spell.waste_kwh else { continue };
            let share = spell.uncovered(&covered);
            covered.push((spell.from_ms, spell.to_ms));
            if share <= 0.0 {
                continue;
            }
            let sum = cost.kwh.unwrap_or(Estimate { estimate: 0.0, low: 0.0, high: 0.0 });
            cost.kwh = Some(Estimate {
                estimate: sum.estimate + share * waste.estimate,
                low: sum.low + share * waste.low,
                high: sum.high + share * waste.high,
            });
            cost.priced_in += 1;
        }
        cost
    }
}

impl Spell {
    fn of(earlier: &Earlier, found: &EarlierFinding) -> Self {
        Self {
            from_ms: earlier.from_ms,
            to_ms: earlier.to_ms,
            first_seen_ms: found.first_seen_ms.clamp(earlier.from_ms, earlier.to_ms),
            last_seen_ms: found.last_seen_ms.clamp(earlier.from_ms, earlier.to_ms),
            waste_kwh: found.waste_kwh,
        }
    }

    /// Share of the time it was seen that lies in none of these periods.
    fn uncovered(&self, covered: &[(i64, i64)]) -> f64 {
        let (from, to) = (self.first_seen_ms, self.last_seen_ms);
        if to <= from {
            return f64::from(u8::from(!covered.iter().any(|c| c.0 <= from && from < c.1)));
        }
        let mut ends: Vec<i64> = covered.iter().flat_map(|c| [c.0, c.1]).filter(|t| (from..to).contains(t)).collect();
        ends.extend([from, to]);
        ends.sort_unstable();
        let bare = |w: &&[i64]| !covered.iter().any(|c| c.0 <= w[0] && w[1] <= c.1);
        let free: i64 = ends.windows(2).filter(bare).map(|w| w[1] - w[0]).sum();
        free as f64 / (to - from) as f64
    }
}
