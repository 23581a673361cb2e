//! How many more days with the new setting would settle whether it saves.

use super::Estimate;

/// No more days than this are promised: nobody waits longer, and a saving that small is none (common practice, no source).
const MOST_DAYS: f64 = 1095.0;

/// Days still needed, if the saving stays what it seems to be a day and the days to come err as those before did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DaysNeeded {
    /// The interval leaves zero out already.
    None,
    /// So many more with the new setting.
    More(usize),
    /// No number of them: the model of the days before is itself not sure enough, or the saving is too small to be seen in three years.
    NotByWaiting,
}

/// A saving over `m` days whose variance is `model` m^2 (the days before do not grow) plus `noise` m [kWh^2]; `t` standard errors make the interval.
/// Solves t^2 (model m^2 + noise m) = (saving a day times m)^2 for m.
pub(super) fn days_needed(saving: &Estimate, m: usize, model: f64, noise: f64, t: f64) -> DaysNeeded {
    if saving.low > 0.0 || saving.high < 0.0 {
        return DaysNeeded::None;
    }
    let a_day = saving.estimate / m as f64;
    let margin = a_day * a_day - t * t * model;
    let all = t * t * noise / margin;
    if !(margin > 0.0) || !(all <= MOST_DAYS) {
        return DaysNeeded::NotByWaiting;
    }
    // The interval is a little wider than t standard errors, so at least one day is asked for.
    DaysNeeded::More((all.ceil() as usize).saturating_sub(m).max(1))
}
