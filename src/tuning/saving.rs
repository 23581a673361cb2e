//! The record replayed under another curve: what it would have saved, with an interval.
//!
//! Each row keeps the flow its coils took. Its power under the other head comes from the ratio of two model powers, so that what the
//! model gets wrong at both cancels. The interval joins the day-to-day spread (whole days resampled in their variance) and the model's
//! own doubt.

use super::Basis;
use super::curve::Curve;
use crate::faults::Estimate;
use crate::r#loop::Replay;

/// The model's doubt about a head ratio's power ratio, one standard deviation of the saving [-]: part-load losses and the learned loop.
const MODEL_DOUBT: f64 = 0.10;
/// A record shorter than this carries no yearly figure [days].
const YEAR_FROM_DAYS: usize = 28;
/// Doubt about carrying one season to a year, one standard deviation [-].
const SEASON_DOUBT: f64 = 0.2;
/// No row is replayed below this share of today's head: the model has seen nothing there.
const LEAST_HEAD: f64 = 0.1;

/// What a replay needs.
pub struct Job<'a> {
    pub b: &'a Basis<'a>,
    pub rows: &'a [usize],
    pub replay: &'a Replay<'a>,
    pub today: Curve,
    /// Speed floor [-].
    pub floor: f64,
}

/// What a curve saves.
#[derive(Debug, Clone, Copy)]
pub struct Saved {
    pub kwh: Estimate,
    pub fraction: Estimate,
    pub per_year: Option<Estimate>,
}

/// Replays the record; `None` where no row can be replayed.
pub fn saved(job: &Job, proposed: &Curve) -> Option<Saved> {
    let system = &job.b.reconstructed.points.system;
    let step_h = job.b.clock.hours();
    let mut days: Vec<(u32, f64, f64)> = Vec::new();
    for &i in job.rows {
        let (flow, head, n, power) = (system.flow_m3h[i], system.head_kpa[i], system.pumps_on[i], system.power_kw[i]);
        // Rows above the configured curve are another fault's waste: here they count as if they were on it.
        let from = head.min(job.today.head(flow).max(floor_head(job, flow, n)));
        let to = proposed.head(flow).max(floor_head(job, flow, n)).max(LEAST_HEAD * head).min(from);
        let (was, at, new) =
            (job.replay.power_kw(flow, head, n), job.replay.power_kw(flow, from, n), job.replay.power_kw(flow, to, n));
        if !(was > 0.0 && at > 0.0 && new > 0.0 && power > 0.0) {
            continue;
        }
        let day = job.b.local_day[i];
        let (before, after) = (power * at / was * step_h, power * new / was * step_h);
        match days.last_mut() {
            Some(d) if d.0 == day => {
                d.1 += before;
                d.2 += before - after;
            }
            _ => days.push((day, before, before - after)),
        }
    }
    let energy: f64 = days.iter().map(|d| d.1).sum();
    let kwh: f64 = days.iter().map(|d| d.2).sum();
    if energy <= 0.0 {
        return None;
    }
    let fraction = kwh / energy;
    let n = days.len() as f64;
    let ratio_sq: f64 = days.iter().map(|d| (d.2 - fraction * d.1).powi(2)).sum();
    let sampling = if n > 1.0 { (ratio_sq * n / (n - 1.0)).sqrt() / energy } else { fraction };
    let sd = sampling.hypot(MODEL_DOUBT * fraction);
    let around = |scale: f64, sd: f64| Estimate {
        estimate: scale * fraction,
        low: scale * (fraction - 1.96 * sd),
        high: scale * (fraction + 1.96 * sd),
    };
    let whole = recorded_days(job.b);
    let per_year =
        (whole >= YEAR_FROM_DAYS).then(|| around(energy * 365.0 / whole as f64, sd.hypot(SEASON_DOUBT * fraction)));
    Some(Saved { kwh: around(energy, sd), fraction: around(1.0, sd), per_year })
}

/// Days of the record, idle ones included.
fn recorded_days(b: &Basis) -> usize {
    (b.clock.len as f64 * b.clock.hours() / 24.0).round() as usize
}

/// Head that the speed floor makes at this flow [kPa]; 0 where there is none.
fn floor_head(job: &Job, flow: f64, n: u8) -> f64 {
    if job.floor <= 0.0 {
        return 0.0;
    }
    let head = job.replay.head_kpa(flow, job.floor, n);
    if head.is_finite() { head } else { 0.0 }
}
