//! Which trended points can be believed: the witnesses that later stages may call.
//!
//! Comes in: [`Trends`]. Goes out: [`Screened`]: the same columns with unbelievable values
//! taken out (NaN) and a doubt for each, and look-ups by role. It errs towards belief: a wrong doubt silences a good witness, so
//! only what cannot be is removed, and what is merely odd is kept and said. Readings finer than the clock were averaged before
//! they come here; a sentinel among them is seen only if it carries its row out of the possible range. What only a pump's model can tell
//! (power against head, a scale that moved) is judged later, by the rule on sensors. Start at [`screen`].

mod clocks;
mod doubt;
mod far;
mod limits;
mod pairs;
mod position;
mod running;
mod spikes;
mod still;
mod swapped;
mod unit;
mod zero;

pub use doubt::{Doubt, Kind, Sign};
pub use far::is_measured;

use crate::ingest::{Clock, Series, Trends};
use crate::notice::{Notice, Noticed};
use crate::plant::{Plant, Role};
use rayon::prelude::*;

/// Trends that later stages may rely on.
#[derive(Debug, Clone)]
pub struct Screened {
    pub clock: Clock,
    pub series: Vec<Series>,
    pub doubts: Vec<Doubt>,
    /// The points at fault as they were read, before anything was taken out: for whoever counts again.
    pub as_read: Vec<AsRead>,
}

/// A point's readings before screening, one a row, in the unit of its series; NaN is missing.
#[derive(Debug, Clone)]
pub struct AsRead {
    pub point: String,
    pub values: Vec<f32>,
}

impl Screened {
    /// The first series of a role, of this pump or coil (or of the loop where `of` is `None`).
    #[must_use]
    pub fn find(&self, role: Role, of: Option<&str>) -> Option<&Series> {
        self.series.iter().find(|s| s.role == role && s.of.as_deref() == of)
    }
    /// Opening of a coil's valve: its position, or the command where no position is trended.
    #[must_use]
    pub fn valve(&self, coil: &str) -> Option<&[f64]> {
        self.values(Role::ValvePosition, Some(coil)).or_else(|| self.values(Role::ValveCommand, Some(coil)))
    }
    /// Its values.
    #[must_use]
    pub fn values(&self, role: Role, of: Option<&str>) -> Option<&[f64]> {
        self.find(role, of).map(|s| s.values.as_slice())
    }
}

/// What a first look tells of every row.
struct Seen {
    /// Whether any pump runs; `None` where no point can tell.
    running: Option<Vec<bool>>,
    /// Rows since every pump is known to stand; 0 while one runs or nothing is known.
    since_stop: Vec<u32>,
}

/// From this probability on a point is at fault; below, it is kept and named.
pub const AT_FAULT: f64 = 0.5;

/// Takes out what cannot be believed, and says what is odd.
#[must_use]
pub fn screen(plant: &Plant, trends: Trends) -> Noticed<Screened> {
    let Trends { clock, mut series, ledger } = trends;
    let mut doubts = Vec::new();
    let mut notices = Vec::new();
    // Half the width: only those at fault are kept, and only to be counted again.
    let mut as_read: Vec<AsRead> = series.par_iter().map(AsRead::of).collect();
    let alone = |s: &mut Series| {
        let valid = s.values.iter().filter(|v| v.is_finite()).count();
        let mut found: Vec<Doubt> = far::remove(&clock, s).into_iter().collect();
        found.extend(limits::remove(plant, &clock, s));
        spikes::in_bulk(&mut found, valid);
        found
    };
    doubts.extend(series.par_iter_mut().map(alone).collect::<Vec<_>>().into_iter().flatten());
    let (running, since_stop) =
        rayon::join(|| running::rows(plant, &series, clock.len), || running::since_stop(plant, &series, clock.len));
    let seen = Seen { running, since_stop };
    if seen.running.is_none() && !plant.pumps.is_empty() {
        let text = "no point tells when the pumps run; readings were judged over the whole record";
        notices.push(Notice::new("screening", text));
    }
    let samples: Vec<u64> = ledger.points.iter().map(|p| p.samples).collect();
    // Each looks at what those before it left.
    let add = |found: Vec<Doubt>, doubts: &mut Vec<Doubt>| doubts.extend(found);
    add(still::judge(&clock, &mut series, &samples, &seen), &mut doubts);
    add(unit::judge(plant, &clock, &mut series, &seen), &mut doubts);
    add(clocks::judge(plant, &clock, &mut series), &mut doubts);
    add(swapped::judge(plant, &clock, &mut series, &seen), &mut doubts);
    add(zero::judge(plant, &clock, &mut series, &seen), &mut doubts);
    let swapped = doubts.iter().any(|d| d.kind == Kind::Swapped);
    if !swapped {
        add(pairs::judge(plant, &clock, &mut series, &seen), &mut doubts);
    }
    add(spikes::judge(&clock, &mut series, &seen), &mut doubts);
    add(position::judge(&clock, &series), &mut doubts);
    let at_fault = |a: &AsRead| doubts.iter().any(|d| d.point == a.point && d.confidence >= AT_FAULT);
    as_read.retain(at_fault);
    Noticed { value: Screened { clock, series, doubts, as_read }, notices }
}

impl AsRead {
    fn of(s: &Series) -> Self {
        Self { point: s.name.clone(), values: s.values.iter().map(|v| *v as f32).collect() }
    }
}

/// The value below which a share of the valid ones lies; `None` where none is valid.
fn quantile(sorted: &[f64], share: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    sorted.get((share * last as f64).round() as usize).copied()
}

/// Valid values in rising order.
fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut valid: Vec<f64> = values.filter(|v| v.is_finite()).collect();
    valid.sort_unstable_by(f64::total_cmp);
    valid
}

/// The value below which a share of the valid ones lies, without sorting; NaN where there are none.
fn share_of(values: impl Iterator<Item = f64>, share: f64) -> f64 {
    let mut valid: Vec<f64> = values.filter(|v| v.is_finite()).collect();
    quantile_of(&mut valid, share).unwrap_or(f64::NAN)
}

/// The same of valid values at hand, which are left in another order; `None` where there are none.
fn quantile_of(valid: &mut [f64], share: f64) -> Option<f64> {
    let last = valid.len().checked_sub(1)?;
    Some(*valid.select_nth_unstable_by((share * last as f64).round() as usize, f64::total_cmp).1)
}
