//! Operating points against simulated truth: error, and whether the 95 % intervals are true.
//!
//! The plant is the sample: what is wrong with a pump, a meter or a drive is wrong in all its rows. The simulator shares no
//! equation with the analyser (tests/simulator). Bounds: 95 % of steady points within 4 % of design flow with head and power, within
//! 8 % with power and speed; coverage averaged over plants with a lower bound of at least 90 %.

use crate::plants;
use crate::simulator::{self, HeadPoint, Options, Run};
use offcurve::operating::{Basis, State};

/// What one plant shows.
pub struct Scored {
    /// Share of steady rows whose true flow lies in the interval.
    pub covered: f64,
    /// 95th percentile of the error, share of design flow.
    pub error_95: f64,
    rows: usize,
}

pub fn score(run: &Run) -> Scored {
    let (reconstructed, start_ms, step_ms) = plants::reconstructed(run);
    let (mut inside, mut inside_of, mut errors) = (0usize, 0usize, Vec::new());
    for (points, truth) in reconstructed.points.pumps.iter().zip(&run.truth.pumps) {
        for (k, &time) in run.truth.time_ms.iter().enumerate() {
            let Ok(i) = usize::try_from((time - start_ms) / step_ms) else { continue };
            if i >= points.state.len()
                || points.state[i] != State::Steady
                || !truth.steady[k]
                || !points.flow_m3h[i].is_finite()
            {
                continue;
            }
            let flow = truth.flow_m3h[k];
            inside += usize::from(points.flow_low_m3h[i] <= flow && flow <= points.flow_high_m3h[i]);
            inside_of += 1;
            // Under a fifth of rated load power alone gives a bound, not a point, and says so in its basis.
            if points.basis[i] == Basis::PowerBound {
                continue;
            }
            errors.push((points.flow_m3h[i] - flow).abs() / run.truth.design_flow_m3h);
        }
    }
    errors.sort_by(f64::total_cmp);
    let at = ((errors.len() as f64 * 0.95) as usize).min(errors.len().saturating_sub(1));
    if errors.is_empty() {
        errors.push(0.0);
    }
    Scored { covered: inside as f64 / inside_of as f64, error_95: errors[at], rows: inside_of }
}

/// Mean coverage over plants and the lower end of its 95 % interval, plants as the sample.
fn mean_and_bound(plants: &[Scored]) -> (f64, f64) {
    let n = plants.len() as f64;
    let mean = plants.iter().map(|p| p.covered).sum::<f64>() / n;
    let sd = (plants.iter().map(|p| (p.covered - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    (mean, mean - 1.96 * sd / n.sqrt())
}

fn over_seeds(name: &str, seeds: u64, make: impl Fn(u64) -> Run) -> (f64, f64) {
    let scored: Vec<Scored> = (0..seeds).map(|seed| score(&make(seed))).filter(|s| s.rows >= 100).collect();
    assert!(
        scored.len() as u64 * 10 >= seeds * 9,
        "{name}: only {} of {seeds} plants have 100 steady rows",
        scored.len()
    );
    let (mean, bound) = mean_and_bound(&scored);
    let mut errors: Vec<f64> = scored.iter().map(|s| s.error_95).collect();
    errors.sort_by(f64::total_cmp);
    let (median, ninth) = (errors[errors.len() / 2], errors[errors.len() * 9 / 10]);
    println!(
        "{name}: {} plants, coverage {:.1} % (lower bound {:.1} %), 95th percentile error of the median plant {:.1} %, of the ninth in ten {:.1} %",
        scored.len(),
        100.0 * mean,
        100.0 * bound,
        100.0 * median,
        100.0 * ninth
    );
    (bound, median)
}

const DAYS: u32 = 4;

#[test]
fn intervals_with_head_and_power_are_true_over_500_plants() {
    let options = Options { bad_cells: false, ..Options::healthy() };
    let chilled = over_seeds("chilled, head and power", 250, |seed| simulator::chilled(seed, DAYS, &options));
    let options = Options { head: Some(HeadPoint::Pump), ..options };
    let heating = over_seeds("heating, head and power", 250, |seed| simulator::heating(seed, DAYS, &options));
    for (bound, _) in [chilled, heating] {
        assert!(bound >= 0.90, "coverage over plants has a lower bound of {bound}");
    }
}

#[test]
fn intervals_with_power_alone_are_true_over_500_plants() {
    let options = Options { bad_cells: false, head: None, ..Options::healthy() };
    let chilled = over_seeds("chilled, power", 250, |seed| simulator::chilled(seed, DAYS, &options));
    let heating = over_seeds("heating, power", 250, |seed| simulator::heating(seed, DAYS, &options));
    for (bound, _) in [chilled, heating] {
        assert!(bound >= 0.90, "coverage over plants has a lower bound of {bound}");
    }
}

#[test]
fn intervals_with_head_alone_are_true() {
    let options = Options { bad_cells: false, power: false, head: Some(HeadPoint::Pump), ..Options::healthy() };
    let (bound, _) = over_seeds("chilled, head", 100, |seed| simulator::chilled(seed, DAYS, &options));
    assert!(bound >= 0.90, "coverage over plants has a lower bound of {bound}");
}

/// The committed samples: 4 % of design flow with head and power, 8 % with power and speed.
#[test]
fn points_of_the_samples_lie_near_the_truth() {
    for (folder, seed, days) in simulator::SAMPLES {
        let both = score(&simulator::sample_run(folder));
        let options = Options { head: None, ..Options::sample() };
        let power = score(&if folder == "quay-house" {
            simulator::chilled(seed, days, &options)
        } else {
            simulator::heating(seed, days, &options)
        });
        println!(
            "{folder}: head and power {:.2} % over {} rows, power {:.2} %",
            100.0 * both.error_95,
            both.rows,
            100.0 * power.error_95
        );
        assert!(
            both.error_95 <= 0.04,
            "{folder}: head and power, 95 % of steady points within {} of design flow",
            both.error_95
        );
        assert!(
            power.error_95 <= 0.08,
            "{folder}: power, 95 % of steady points within {} of design flow",
            power.error_95
        );
    }
}
