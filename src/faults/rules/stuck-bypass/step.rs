//! Whether a step of the conductance is a bypass that opened.

use super::conductance::{Conductance, Fit, row, through};
use super::{LEAST_DAYS, OPEN_SHARE, Stuck};
use crate::faults::rules::number;
use crate::faults::rules::setpoint_too_high::trended_share;
use crate::faults::spread::{deviation, median, quantile};
use crate::faults::{Case, CoilCase, What, onset, say};

/// Smallest rise of the conductance that counts [-]: the table's shape and valve characteristics leave a few per cent.
const LEAST_RISE: f64 = 0.06;
/// Share of the spread that the step must take out of the fit [-].
const EXPLAINS: f64 = 0.25;
/// Bypass share from which the difference of temperature must fall with it [-]: less drowns in the load's own changes.
const TELLS_IN_WATER: f64 = 0.12;
/// Part of the share by which it must fall at least [-]: valves at the same place do not mean quite the same load.
const SUPPORTS: f64 = 0.4;
/// Valves trended, by design flow, from which they explain the conductance by themselves [-].
const VALVES_TRENDED: f64 = 0.8;

/// Whether the step is large, sure, lasting, and not contradicted by the water's temperature.
pub fn weigh(case: &Case, moving: &[&CoilCase], days: &[Vec<usize>], fit: &Fit) -> Conductance {
    let step = *fit.c.last().unwrap_or(&0.0);
    let left_over = |i: &usize| {
        let row = row(case, moving, *i, fit.r)?;
        let known: f64 = row.x.iter().zip(&fit.c).map(|(x, c)| x * c).sum();
        Some((row.y - known) / row.y)
    };
    let daily: Vec<f64> = days.iter().map(|d| median(d.iter().filter_map(left_over))).collect();
    let before: Vec<f64> = daily[..fit.at].iter().copied().filter(|v| v.is_finite()).collect();
    let noise = deviation(&before).max(fit.with.sqrt() / 3.0);
    let least = LEAST_RISE.max(onset::BELIEVED * noise / (before.len() as f64).sqrt());
    let found = onset::step(&daily, &[], LEAST_DAYS);
    let rows: Vec<usize> = (case.days()[fit.at].start..case.rows())
        .filter(|i| case.pumps_on[*i] > 0)
        .filter(|i| case.loop_flow_m3h[*i].is_finite())
        .collect();
    let share = median(
        days[fit.at..].iter().flatten().filter_map(|i| row(case, moving, *i, fit.r).map(|r| r.x[0] * step / r.y)),
    );
    let sure = found.is_some_and(|s| s.t >= onset::BELIEVED && s.size > 0.0 && s.at.abs_diff(fit.at) <= 1);
    let lasting = daily[fit.at..].iter().filter(|v| v.is_finite() && **v >= share / 2.0).count();
    let after = daily[fit.at..].iter().filter(|v| v.is_finite()).count();
    let explains = fit.with <= (1.0 - EXPLAINS) * fit.without;
    if !(sure && explains && share >= LEAST_RISE && lasting as f64 >= OPEN_SHARE * after as f64) || rows.is_empty() {
        return Conductance::Steady { least };
    }
    let fell = temperature_ratio(case, moving, days, fit);
    let supported = fell <= 1.0 - SUPPORTS * share;
    let contradicted = share >= TELLS_IN_WATER && fell.is_finite() && !supported;
    if contradicted || (!supported && trended_share(case) < VALVES_TRENDED) {
        return Conductance::Contradicted {
            why: format!(
                "{} more water passes since {} than the valves explain, but the return temperature does not show that it \
                 passes the coils by",
                say::percent(share),
                case.say_when(rows[0])
            ),
        };
    }
    let t = found.map_or(0.0, |s| s.t);
    let what = What::Unexplained { daily: daily.iter().map(|d| *d as f32).collect(), at: fit.at, least: LEAST_RISE };
    Conductance::Stuck(Stuck { what, ..stuck(case, rows, share, fell, supported, t) })
}

fn stuck(case: &Case, rows: Vec<usize>, share: f64, fell: f64, supported: bool, t: f64) -> Stuck {
    let source = "loop conductance Q/sqrt(H) against valve positions";
    let mut evidence = vec![
        number(
            "share of the flow that the valves do not explain",
            share,
            "fraction",
            format!("below {LEAST_RISE}"),
            source,
        ),
        number("step over its standard error", t, "-", format!("below {}", onset::BELIEVED), source),
    ];
    if fell.is_finite() {
        let expected = format!("{:.2} if that water passes the coils by", 1.0 - share);
        evidence.push(number(
            "temperature difference after over before, at like valves",
            fell,
            "fraction",
            expected,
            "supply and return temperature",
        ));
    }
    Stuck {
        share,
        confidence: (0.65 + if supported { 0.2 } else { 0.0 } + (share / 2.0).min(0.1)).min(0.95),
        because: format!(
            "Since {} about {} of the flow passes by a way that no coil valve explains{}.",
            case.say_when(rows[0]),
            say::percent(share),
            if supported {
                format!(
                    ", and the temperature difference fell to {} of what it was with the valves alike",
                    say::percent(fell)
                )
            } else {
                String::new()
            }
        ),
        evidence,
        what: What::Nothing,
        rows,
    }
}

/// Temperature difference after the step over before, at like conductance of the coils [-]; NaN unknown.
fn temperature_ratio(case: &Case, moving: &[&CoilCase], days: &[Vec<usize>], fit: &Fit) -> f64 {
    const BINS: usize = 8;
    let field = |i: usize| -> f64 {
        moving.iter().zip(&fit.c[1..]).map(|(c, k)| k * through(c, c.valve.map_or(f64::NAN, |v| v[i]))).sum()
    };
    let of = |days: &[Vec<usize>]| -> Vec<(f64, f64)> {
        days.iter().flatten().map(|i| (field(*i), case.delta_t_k(*i))).filter(|p| p.1.is_finite()).collect()
    };
    let (before, after) = (of(&days[..fit.at]), of(&days[fit.at..]));
    let edges: Vec<f64> = (0..=BINS).map(|b| quantile(before.iter().map(|p| p.0), b as f64 / BINS as f64)).collect();
    let (mut weight, mut sum) = (0.0, 0.0);
    for e in edges.windows(2) {
        let within = |p: &&(f64, f64)| p.0 >= e[0] && p.0 < e[1];
        let b: Vec<f64> = before.iter().filter(within).map(|p| p.1).collect();
        let a: Vec<f64> = after.iter().filter(within).map(|p| p.1).collect();
        if a.len() >= 5 && b.len() >= 5 {
            let n = a.len().min(b.len()) as f64;
            weight += n;
            sum += n * median(a) / median(b);
        }
    }
    sum / weight
}
