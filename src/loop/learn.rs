//! Conductance of the loop as a function of its valves, learned from steady rows.
//!
//! Model: `1/k^2 = Rc + 1/(sum c_i g(x_i) + c_0)^2` with `k = Q / sqrt(H - static)`, `g` the installed characteristic of a
//! valve of authority N: `g = 1/sqrt(1 - N + N/f(x)^2)`. Rc and N are searched, the c are non-negative least squares: no start
//! value, no local minimum.

use crate::operating::{LoopPoints, Reconstructed};
use crate::plant::{Bypass, Characteristic, Coil, Plant, Role, Valve};
use crate::quantity::{Flow, Pressure};
use crate::screening::Screened;

/// Turn-down of an equal-percentage valve between open and shut-off (common practice, no source).
const RANGEABILITY: f64 = 40.0;
/// A valve commanded below this passes nothing.
const SHUT: f64 = 0.02;
/// Rows used at most: more add nothing to a dozen unknowns.
const ROWS: usize = 1500;
/// A scatter within this factor of the least explains the record as well: common resistance and authority are hard to tell apart.
const AS_GOOD: f64 = 1.10;
/// Of those, so many are kept, evenly: the mean over them moves no more by the rest.
const AS_GOOD_KEPT: usize = 10;
/// Branches are sized and balanced for their declared flow: conductance over design flow is alike among them to this relative standard
/// deviation [-] before any row is looked at (common practice, no source). Valves that move together are told apart by nothing else.
const ALIKE: f64 = 0.30;
/// Rows that follow one another err alike: so many count as one.
const CORRELATED: f64 = 80.0;
/// Least scatter assumed of a row for that [-].
const ROW_SCATTER: f64 = 0.04;
/// A bypass valve of unknown position passes water up to this much over the machines' least flow [-]: it is tuned a little above it, and both
/// the flow and the valve's control have errors (common practice, no source). Such rows do not tell what the coils pass.
const BYPASS_PASSES: f64 = 1.10;
/// Fewer steady rows than this teach no loop.
const ROWS_MIN: usize = 60;

/// Share of full conductance of a valve and its coil at opening `x` [-], for authority `n` [-].
#[must_use]
pub fn installed(x: f64, characteristic: Characteristic, n: f64) -> f64 {
    installed_of(inherent(x, characteristic), n)
}

/// Share of full conductance of a valve alone at opening `x` [-]; nought where it is shut.
pub(super) fn inherent(x: f64, characteristic: Characteristic) -> f64 {
    if x < SHUT {
        return 0.0;
    }
    let x = x.min(1.0);
    match characteristic {
        Characteristic::EqualPercentage => RANGEABILITY.powf(x - 1.0),
        Characteristic::Linear => x,
    }
}

/// Share of full conductance of a valve and its coil, from the valve's own `f` [-] and its authority `n` [-].
pub(super) fn installed_of(f: f64, n: f64) -> f64 {
    if f > 0.0 { 1.0 / (1.0 - n + n / (f * f)).sqrt() } else { 0.0 }
}

/// A terminal whose valve is trended and throttles.
#[derive(Debug, Clone)]
pub struct Throttle {
    /// Index into the plant's coils.
    pub coil: usize,
    pub characteristic: Characteristic,
    /// Learned conductance when open [m3/h per sqrt(kPa)].
    pub conductance: f64,
}

/// The loop as its record taught it.
#[derive(Debug, Clone)]
pub struct Learned {
    pub static_kpa: f64,
    /// Resistance common to all coils [kPa per (m3/h)^2].
    pub common_resistance: f64,
    pub authority: f64,
    pub throttles: Vec<Throttle>,
    /// Conductance that no trended valve explains: three-way coils, bypass, terminals not trended.
    pub open_conductance: f64,
    /// Standard deviation of what is left unexplained, of conductance [-].
    pub scatter: f64,
    pub rows: usize,
    /// Other pairs of common resistance and authority that explain the record nearly as well: what it cannot tell apart.
    pub as_good: Vec<Learned>,
}

/// Coils whose trended valve throttles the loop.
fn throttles(plant: &Plant, screened: &Screened) -> Vec<(usize, Characteristic, Vec<f64>)> {
    let mut out = Vec::new();
    for (i, coil) in plant.coils.iter().enumerate() {
        if !throttling(coil) {
            continue;
        }
        let Some(v) = screened.valve(&coil.name) else { continue };
        out.push((i, coil.characteristic.unwrap_or(Characteristic::EqualPercentage), v.to_vec()));
    }
    out
}

fn throttling(coil: &Coil) -> bool {
    matches!(coil.valve, Some(Valve::TwoWay) | None)
}

/// Learns the loop; `None` where no throttling valve is trended or too few steady rows have flow and head.
#[must_use]
pub fn learn(plant: &Plant, screened: &Screened, reconstructed: &Reconstructed) -> Option<Learned> {
    let valves = throttles(plant, screened);
    if valves.is_empty() {
        return None;
    }
    let static_kpa = plant.system.static_head.map_or(0.0, Pressure::in_kpa);
    let bypass = screened.values(Role::BypassPosition, None);
    let rows = usable(&reconstructed.points.system, static_kpa, &valves);
    let rows = past_bypass(plant, bypass, &reconstructed.points.system, rows);
    if rows.len() < ROWS_MIN {
        return None;
    }
    let stride = rows.len().div_ceil(ROWS);
    let rows: Vec<usize> = rows.into_iter().step_by(stride).collect();
    let k: Vec<f64> = rows.iter().map(|&i| conductance(&reconstructed.points.system, i, static_kpa)).collect();
    let sized: Vec<f64> = valves.iter().map(|v| plant.coils[v.0].design_flow.map_or(f64::NAN, Flow::in_m3h)).collect();
    let mut tried: Vec<Learned> = Vec::new();
    let k_top = k.iter().copied().fold(0.0, f64::max);
    let alone: Vec<Vec<f64>> = valves.iter().map(|v| rows.iter().map(|&i| inherent(v.2[i], v.1)).collect()).collect();
    for authority in [1.0, 0.7, 0.5, 0.35, 0.2] {
        let columns = design(&rows, &alone, bypass, authority);
        for share in [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8] {
            let common_resistance = share / (k_top * k_top);
            let fitted = fit(&columns, &k, common_resistance, &sized);
            tried.push(assemble(
                &valves,
                &fitted,
                static_kpa,
                common_resistance,
                authority,
                bypass.is_some(),
                rows.len(),
            ));
        }
    }
    let least = tried.iter().map(|l| l.scatter).fold(f64::INFINITY, f64::min);
    tried.retain(|l| l.scatter <= AS_GOOD * least);
    let best = tried.iter().position(|l| l.scatter <= least)?;
    let mut learned = tried.swap_remove(best);
    let every = tried.len().div_ceil(AS_GOOD_KEPT).max(1);
    learned.as_good = tried.into_iter().step_by(every).collect();
    Some(learned)
}

fn assemble(
    valves: &[(usize, Characteristic, Vec<f64>)],
    fitted: &(Vec<f64>, f64),
    static_kpa: f64,
    common_resistance: f64,
    authority: f64,
    bypass: bool,
    rows: usize,
) -> Learned {
    let (c, scatter) = fitted;
    let throttles = valves
        .iter()
        .enumerate()
        .map(|(j, v)| Throttle { coil: v.0, characteristic: v.1, conductance: c[j] })
        .collect();
    let rest: f64 = c[valves.len() + usize::from(bypass)];
    let as_good = Vec::new();
    Learned {
        static_kpa,
        common_resistance,
        authority,
        throttles,
        open_conductance: rest,
        scatter: *scatter,
        rows,
        as_good,
    }
}

/// Conductance of the whole loop in a row [m3/h per sqrt(kPa)].
pub(super) fn conductance(system: &LoopPoints, i: usize, static_kpa: f64) -> f64 {
    system.flow_m3h[i] / (system.head_kpa[i] - static_kpa).max(1e-6).sqrt()
}

fn usable(system: &LoopPoints, static_kpa: f64, valves: &[(usize, Characteristic, Vec<f64>)]) -> Vec<usize> {
    (0..system.flow_m3h.len())
        .filter(|&i| system.steady[i] && system.flow_m3h[i] > 0.0 && system.head_kpa[i] > static_kpa + 1.0)
        .filter(|&i| valves.iter().all(|v| v.2[i].is_finite()))
        .collect()
}

/// The rows in which a bypass valve that nobody trends is shut: it opens only to hold the machines' least flow. All of them where no least flow
/// is declared, or where too few would be left.
fn past_bypass(plant: &Plant, position: Option<&[f64]>, system: &LoopPoints, rows: Vec<usize>) -> Vec<usize> {
    let held = plant.system.bypass == Some(Bypass::TwoWay) && position.is_none();
    let Some(least) = plant.least_flow().map(Flow::in_m3h).filter(|_| held) else { return rows };
    let (shut, passing): (Vec<usize>, Vec<usize>) =
        rows.into_iter().partition(|&i| system.flow_m3h[i] > BYPASS_PASSES * least);
    if shut.len() >= ROWS_MIN {
        return shut;
    }
    let mut all = [shut, passing].concat();
    all.sort_unstable();
    all
}

/// Regressors, one column a valve from what it would pass `alone`, then the bypass where trended, then what is always open.
fn design(rows: &[usize], alone: &[Vec<f64>], bypass: Option<&[f64]>, authority: f64) -> Vec<Vec<f64>> {
    let mut columns: Vec<Vec<f64>> =
        alone.iter().map(|valve| valve.iter().map(|&f| installed_of(f, authority)).collect()).collect();
    if let Some(b) = bypass {
        columns.push(rows.iter().map(|&i| if b[i].is_finite() { b[i].clamp(0.0, 1.0) } else { 0.0 }).collect());
    }
    columns.push(vec![1.0; rows.len()]);
    columns
}

/// Non-negative least squares of the coils' conductance, in relative error of the loop's; returns coefficients and scatter.
///
/// `sized`: design flow of each coil [m3/h], NaN where not declared: conductances of those that are, are drawn to be in proportion.
fn fit(columns: &[Vec<f64>], k: &[f64], common_resistance: f64, sized: &[f64]) -> (Vec<f64>, f64) {
    let m = columns.len();
    let y: Vec<f64> = k.iter().map(|k| 1.0 / (1.0 / (k * k) - common_resistance).max(1e-12).sqrt()).collect();
    let mut gram = vec![vec![0.0; m]; m];
    let mut right = vec![0.0; m];
    for (i, &yi) in y.iter().enumerate() {
        let w = 1.0 / (yi * yi);
        for a in 0..m {
            right[a] += w * columns[a][i] * yi;
            for b in 0..=a {
                gram[a][b] += w * columns[a][i] * columns[b][i];
            }
        }
    }
    for a in 0..m {
        for b in a + 1..m {
            gram[a][b] = gram[b][a];
        }
    }
    let mut c = non_negative(&gram, &right);
    let row = scatter(columns, k, &c, common_resistance).max(ROW_SCATTER);
    let declared = || sized.iter().enumerate().filter(|q| *q.1 > 0.0);
    // The common ratio is the record's own; twice, since it moves with what it draws.
    for _ in 0..2 {
        let ratio = declared().map(|(a, _)| c[a]).sum::<f64>() / declared().map(|(_, q)| q).sum::<f64>();
        if !(ratio > 0.0) {
            break;
        }
        let (mut gram, mut right) = (gram.clone(), right.clone());
        for (a, q) in declared() {
            let weight = CORRELATED * (row / (ALIKE * ratio * q)).powi(2);
            gram[a][a] += weight;
            right[a] += weight * ratio * q;
        }
        c = non_negative(&gram, &right);
    }
    let off = scatter(columns, k, &c, common_resistance);
    (c, off)
}

/// What coefficients leave unexplained of the loop's conductance [-].
fn scatter(columns: &[Vec<f64>], k: &[f64], c: &[f64], common_resistance: f64) -> f64 {
    let mut left: Vec<f64> = (0..k.len())
        .map(|i| {
            let coils: f64 = columns.iter().zip(c).map(|(column, c)| c * column[i]).sum();
            let model = 1.0 / (common_resistance + 1.0 / (coils * coils).max(1e-12)).sqrt();
            (k[i] / model.max(1e-9)).ln().abs()
        })
        .collect();
    // Two thirds of the rows lie within one standard deviation: a step in the loop does not spoil the choice.
    let at = left.len() * 2 / 3;
    let (_, left, _) = left.select_nth_unstable_by(at, f64::total_cmp);
    *left / 0.967
}

/// Non-negative least squares by cyclic coordinate descent on the normal equations (convex: one minimum).
fn non_negative(gram: &[Vec<f64>], right: &[f64]) -> Vec<f64> {
    let m = right.len();
    let mut c = vec![0.0; m];
    for _ in 0..400 {
        let mut moved = 0.0f64;
        for a in 0..m {
            if gram[a][a] <= 1e-12 {
                continue;
            }
            let others = |of: &[f64], c: &[f64], sum: f64| of.iter().zip(c).fold(sum, |sum, (g, c)| sum + g * c);
            let pull = others(&gram[a][a + 1..], &c[a + 1..], others(&gram[a][..a], &c[..a], 0.0));
            let new = ((right[a] - pull) / gram[a][a]).max(0.0);
            moved = moved.max((new - c[a]).abs() * gram[a][a].sqrt());
            c[a] = new;
        }
        if moved < 1e-9 * right.iter().copied().fold(0.0, f64::max) {
            break;
        }
    }
    c
}
