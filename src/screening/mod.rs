//! Which trended points can be believed: the witnesses that later stages may call.
//!
//! Comes in: [`Trends`]. Goes out: [`Screened`]: the same columns with unbelievable values
//! taken out (NaN) and a doubt for each, and look-ups by role. It errs towards belief: a wrong doubt silences a good witness, so
//! only what cannot be is removed, and what is merely odd is kept and said. Readings finer than the clock were averaged before
//! they come here; a sentinel among them is seen only if it carries its row out of the possible range. Start at [`screen`].

mod far;
mod limits;
mod running;
mod still;
mod swapped;

use crate::ingest::{Clock, Series, Trends};
use crate::notice::{Notice, Noticed};
use crate::plant::{Plant, Role};

/// A point, or a part of it, that was not believed.
#[derive(Debug, Clone)]
pub struct Doubt {
    pub point: String,
    pub rows: usize,
    pub why: String,
}

/// Trends that later stages may rely on.
#[derive(Debug, Clone)]
pub struct Screened {
    pub clock: Clock,
    pub series: Vec<Series>,
    pub doubts: Vec<Doubt>,
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

/// Takes out what cannot be believed, and says what is odd.
#[must_use]
pub fn screen(plant: &Plant, trends: Trends) -> Noticed<Screened> {
    let Trends { clock, mut series, ledger } = trends;
    let mut doubts = Vec::new();
    let mut notices = Vec::new();
    for s in &mut series {
        doubts.extend(far::remove(s));
        doubts.extend(limits::remove(plant, s));
    }
    let running = running::rows(plant, &series, clock.len);
    if running.is_none() && !plant.pumps.is_empty() {
        let text = "no point tells when the pumps run; readings were judged over the whole record";
        notices.push(Notice::new("screening", text));
    }
    let samples: Vec<u64> = ledger.points.iter().map(|p| p.samples).collect();
    doubts.extend(still::judge(&clock, &mut series, &samples, running.as_deref()));
    doubts.extend(swapped::judge(plant, &clock, &series, running.as_deref()));
    Noticed { value: Screened { clock, series, doubts }, notices }
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
