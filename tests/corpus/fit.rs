//! Confidence made honest: a map from the raw confidence to a probability, fitted on the rows of one generator and tested on another's.
//!
//! Comes in: CSV as table.rs writes it. Goes out: constants to paste, Brier scores and bins. The map is a logistic in the logit of the raw
//! confidence, one slope (never negative: it stays monotone) and one offset for all, and one more offset a fault that is pulled
//! to zero. The decision to question: cases are weighted so that a stated share of plants is faulty, since how often a finding is true hangs on it.

use super::table::CSV_HEAD;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

/// How hard a fault's own offset is pulled to none: as if its standard deviation over faults were this [logit].
const PULL_SD: f64 = 0.5;
/// The same for the slope, about one.
const SLOPE_SD: f64 = 1.0;
/// Raw confidences are kept this far from 0 and 1.
const EDGE: f64 = 0.005;

/// One finding.
#[derive(Debug, Clone)]
pub struct Row {
    pub case: String,
    pub faulty: bool,
    pub fault: String,
    pub raw: f64,
    pub right: bool,
}

/// Findings of a CSV, and how many cases it has of either kind (healthy, faulty).
pub struct Rows {
    pub rows: Vec<Row>,
    pub cases: [f64; 2],
}

/// The map.
#[derive(Debug, Clone)]
pub struct Map {
    pub slope: f64,
    pub offset: f64,
    pub by_fault: BTreeMap<String, f64>,
}

pub fn logit(p: f64) -> f64 {
    let p = p.clamp(EDGE, 1.0 - EDGE);
    libm::log(p / (1.0 - p))
}

pub fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-x))
}

impl Map {
    pub fn at(&self, fault: &str, raw: f64) -> f64 {
        logistic(self.offset + self.by_fault.get(fault).copied().unwrap_or(0.0) + self.slope * logit(raw))
    }
}

/// Reads what [`super::table::csv`] wrote.
pub fn read(text: &str) -> Result<Rows, String> {
    let head: Vec<&str> = CSV_HEAD.split(',').collect();
    let at = |name: &str| head.iter().position(|h| *h == name).ok_or(format!("no column {name}"));
    let [generator, seed, planted, fault, verdict, confidence, truth] =
        [at("generator")?, at("seed")?, at("planted")?, at("fault")?, at("verdict")?, at("confidence")?, at("truth")?];
    let (mut rows, mut kinds) = (Vec::new(), [BTreeSet::new(), BTreeSet::new()]);
    for (n, line) in text.lines().enumerate().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        if cells.len() != head.len() {
            return Err(format!("line {}: {} cells where the head has {}", n + 1, cells.len(), head.len()));
        }
        let case = format!("{} {} {}", cells[generator], cells[seed], cells[planted]);
        let faulty = !cells[planted].is_empty();
        kinds[usize::from(faulty)].insert(case.clone());
        if cells[verdict] != "found" || cells[truth] == "also" {
            continue;
        }
        let raw =
            cells[confidence].parse().map_err(|_| format!("line {}: \"{}\" is no number", n + 1, cells[confidence]))?;
        rows.push(Row { case, faulty, fault: cells[fault].to_owned(), raw, right: cells[truth] == "true" });
    }
    Ok(Rows { rows, cases: kinds.map(|k| k.len() as f64) })
}

/// Weight of a finding so that a share of the plants is faulty; the mean weight of a case is one.
fn weight(rows: &Rows, row: &Row, share: f64) -> f64 {
    let all = rows.cases[0] + rows.cases[1];
    let of = rows.cases[usize::from(row.faulty)].max(1.0);
    all * if row.faulty { share } else { 1.0 - share } / of
}

/// Penalised maximum likelihood by Newton's steps.
pub fn fit(rows: &Rows, share: f64) -> Map {
    let faults: Vec<String> = rows.rows.iter().map(|r| r.fault.clone()).collect::<BTreeSet<_>>().into_iter().collect();
    let n = 2 + faults.len();
    let mut beta = vec![0.0; n];
    beta[1] = 1.0;
    for _ in 0..60 {
        let mut gradient = vec![0.0; n];
        let mut hessian = vec![vec![0.0; n]; n];
        for r in &rows.rows {
            let k = 2 + faults.iter().position(|f| *f == r.fault).unwrap_or(0);
            let x = logit(r.raw);
            let p = logistic(beta[0] + beta[1] * x + beta[k]);
            let w = weight(rows, r, share);
            let (g, h) = (w * (f64::from(u8::from(r.right)) - p), w * p * (1.0 - p));
            let entries = [(0, 1.0), (1, x), (k, 1.0)];
            for (i, a) in entries {
                gradient[i] += g * a;
                for (j, b) in entries {
                    hessian[i][j] += h * a * b;
                }
            }
        }
        gradient[1] -= (beta[1] - 1.0) / (SLOPE_SD * SLOPE_SD);
        hessian[1][1] += 1.0 / (SLOPE_SD * SLOPE_SD);
        hessian[0][0] += 1e-6;
        for k in 2..n {
            gradient[k] -= beta[k] / (PULL_SD * PULL_SD);
            hessian[k][k] += 1.0 / (PULL_SD * PULL_SD);
        }
        let step = solve(hessian, gradient);
        let size = step.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
        let damped = if size > 1.0 { 1.0 / size } else { 1.0 };
        beta.iter_mut().zip(&step).for_each(|(b, s)| *b += damped * s);
        beta[1] = beta[1].max(0.0);
        if size < 1e-9 {
            break;
        }
    }
    Map { slope: beta[1], offset: beta[0], by_fault: faults.into_iter().zip(beta[2..].iter().copied()).collect() }
}

/// Gauss with pivots.
fn solve(mut a: Vec<Vec<f64>>, mut b: Vec<f64>) -> Vec<f64> {
    let n = b.len();
    for i in 0..n {
        let pivot = (i..n).max_by(|x, y| a[*x][i].abs().total_cmp(&a[*y][i].abs())).unwrap_or(i);
        a.swap(i, pivot);
        b.swap(i, pivot);
        if a[i][i].abs() < 1e-12 {
            continue;
        }
        for r in i + 1..n {
            let f = a[r][i] / a[i][i];
            for c in i..n {
                a[r][c] -= f * a[i][c];
            }
            b[r] -= f * b[i];
        }
    }
    let mut x = vec![0.0; n];
    for i in (0..n).rev() {
        let rest: f64 = (i + 1..n).map(|c| a[i][c] * x[c]).sum();
        x[i] = if a[i][i].abs() < 1e-12 { 0.0 } else { (b[i] - rest) / a[i][i] };
    }
    x
}

/// Weighted Brier score and log loss of a map; `None` is the raw confidence.
pub fn scores(rows: &Rows, map: Option<&Map>, share: f64) -> (f64, f64) {
    let (mut weights, mut brier, mut loss) = (0.0, 0.0, 0.0);
    for r in &rows.rows {
        let p = map.map_or(r.raw, |m| m.at(&r.fault, r.raw)).clamp(EDGE, 1.0 - EDGE);
        let (w, y) = (weight(rows, r, share), f64::from(u8::from(r.right)));
        weights += w;
        brier += w * (p - y) * (p - y);
        loss -= w * if r.right { libm::log(p) } else { libm::log(1.0 - p) };
    }
    (brier / weights, loss / weights)
}

/// The map as constants, with its scores at home and away.
pub fn told(home: &Rows, away: Option<&Rows>, share: f64) -> String {
    let map = fit(home, share);
    let mut t = format!(
        "Fitted at a share of faulty plants of {share}.\n\nconst SLOPE: f64 = {:.4};\nconst OFFSET: f64 = {:.4};\n",
        map.slope, map.offset
    );
    let _ = writeln!(t, "const OF_FAULT: [(&str, f64); {}] = [", map.by_fault.len());
    for (fault, offset) in &map.by_fault {
        let _ = writeln!(t, "    (\"{fault}\", {offset:.4}),");
    }
    t.push_str("];\n\n");
    for (word, rows) in [("fitted on", Some(home)), ("tested on", away)] {
        let Some(rows) = rows else { continue };
        let ((raw, raw_loss), (mapped, mapped_loss)) = (scores(rows, None, share), scores(rows, Some(&map), share));
        let _ = writeln!(
            t,
            "{word} {} findings of {:.0} cases: Brier {raw:.4} raw, {mapped:.4} mapped; log loss {raw_loss:.4} raw, {mapped_loss:.4} mapped\n",
            rows.rows.len(),
            rows.cases[0] + rows.cases[1]
        );
        t.push_str(&bins(rows, &map, share));
    }
    t
}

fn bins(rows: &Rows, map: &Map, share: f64) -> String {
    let mut t = String::from(
        "| mapped confidence | findings | weighted mean | weighted share true |\n| --- | --- | --- | --- |\n",
    );
    for edges in [0.0, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0].windows(2) {
        let (mut n, mut weights, mut sum, mut right) = (0, 0.0, 0.0, 0.0);
        for r in &rows.rows {
            let p = map.at(&r.fault, r.raw);
            if p >= edges[0] && p < edges[1] {
                let w = weight(rows, r, share);
                n += 1;
                weights += w;
                sum += w * p;
                right += w * f64::from(u8::from(r.right));
            }
        }
        if n > 0 {
            let _ =
                writeln!(t, "| {} to {} | {n} | {:.3} | {:.3} |", edges[0], edges[1], sum / weights, right / weights);
        }
    }
    t.push('\n');
    t
}
