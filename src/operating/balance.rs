//! The balance of pumps and loop meter over the record, and what it says of each row.
//!
//! Comes in: pumps' points and a loop meter. Goes out: the meter's scale with the pumps' common errors, learned together, since
//! the record shows their difference only; then each row's flows, conditioned on their sum (Gaussian, with outliers left out). The
//! decision a reader would question: part of the common variance is never learned away. Start at [`Record`].

use super::model::witness;
use super::together::{EDGE, Loop, MeterGain, is_held_closed, runs};
use super::{Basis, LoopPoints, PumpPoints, State};
use crate::notice::Notice;

/// A meter reading further than this from what pumps and meter allow is not used [standard deviations].
const OUTLIER: f64 = 4.0;
/// Rows further apart teach nothing about the meter's scale: something else is wrong in them [standard deviations].
const TEACHES: f64 = 3.0;
/// A meter below the pumps' sum by more is a balance that does not close [standard deviations].
const SHORT: f64 = 3.0;
/// Rows of one hour say one thing, for their errors wander together [h].
const INDEPENDENT_H: f64 = 1.0;
/// Fewer hours do not teach a scale: each row would mostly learn from itself [h].
const TEACHING_H: usize = 24;
/// More rows add nothing but certainty that is not there.
const TEACHING_ROWS: usize = 400;
/// Part of the common variance that no record takes away: errors called common change a little with flow and season [-].
const UNTAUGHT: f64 = 0.3;
/// Rows that move are read at slightly different instants: so much more noise [-].
const MOVING: f64 = 2.0;
/// Balances that fail for a shorter time are fetching a change [h].
const HELD_H: f64 = 2.0;
/// Share of metered rows off from which the meter's unit or place is the likelier culprit [-].
const MOSTLY: f64 = 0.3;

/// The balance of pumps and meter over the record.
pub(super) struct Record<'a> {
    about: &'a Loop<'a>,
    /// Most probable common errors in their prior standard deviations: the meter's scale first, then the pumps.
    mean: Vec<f64>,
    /// Their covariance, row by row, and what it was before the record was seen.
    covariance: Vec<f64>,
    prior: Vec<f64>,
    taught_rows: usize,
    /// Whether the meter agrees with the pumps often enough to stand alone where they say nothing.
    credible: bool,
    metered_rows: usize,
    outlier_rows: usize,
    /// Rows in a row in which the balance fell short with this pump off, and the hours of those that lasted.
    short_rows: Vec<usize>,
    short_h: Vec<f64>,
    row: RowParts,
}

/// One row's parts, kept to spare allocations. Slots as in [`Record::mean`].
#[derive(Default)]
struct RowParts {
    /// What a unit of each common error adds to the meter's reading [m3/h].
    reach: Vec<f64>,
    /// Covariance times `reach`.
    spread: Vec<f64>,
    /// Row variance of each pump's flow [m3/h squared], meter's noise first.
    random: Vec<f64>,
}

/// A balance of one row.
#[derive(Clone, Copy)]
struct Balance {
    /// Meter less what was to be expected of it [m3/h].
    residual: f64,
    variance: f64,
}

impl<'a> Record<'a> {
    pub(super) fn new(pumps: usize, about: &'a Loop<'a>) -> Self {
        let n = pumps + 1;
        let mut prior = vec![0.0; n * n];
        for a in 0..n {
            for b in 0..n {
                prior[a * n + b] = match (a, b) {
                    _ if a == b => 1.0,
                    // A pump that says too much needs taking back, a meter that reads too much does not: opposite signs.
                    (0, k) | (k, 0) => -(about.with_meter)(k - 1).clamp(0.0, 1.0),
                    _ => (about.shared)(a - 1, b - 1).clamp(-1.0, 1.0),
                };
            }
        }
        let row = RowParts { reach: vec![0.0; n], spread: vec![0.0; n], random: vec![0.0; n] };
        Self {
            about,
            mean: vec![0.0; n],
            covariance: prior.clone(),
            prior,
            taught_rows: 0,
            credible: true,
            metered_rows: 0,
            outlier_rows: 0,
            short_rows: vec![0; pumps],
            short_h: vec![0.0; pumps],
            row,
        }
    }

    fn reading(&self, i: usize) -> Option<f64> {
        self.about.meter.map(|m| m.flow[i]).filter(|z| *z >= 0.0)
    }

    /// Fills the row's parts; sum of flows as the pumps say, `None` where one of them is not known.
    fn parts(&mut self, pumps: &[PumpPoints], i: usize, deliver: &[usize]) -> Option<f64> {
        let row = &mut self.row;
        row.reach.fill(0.0);
        row.random.fill(0.0);
        let (mut sum, mut moving) = (0.0, false);
        for &k in deliver {
            let p = &pumps[k];
            sum += p.flow_m3h[i];
            moving |= p.state[i] != State::Steady;
            let sd = flow_sd(p, i);
            let common = p.flow_sd_common_m3h[i];
            row.reach[k + 1] = common;
            row.random[k + 1] = sd.powi(2) - common.powi(2);
        }
        if let Some(m) = self.about.meter {
            row.reach[0] = m.gain_sd * sum;
            let noise = (m.noise.0 * sum).hypot(m.noise.1) * if moving { MOVING } else { 1.0 };
            row.random[0] = noise.powi(2);
        }
        (sum.is_finite() && row.random.iter().all(|r| r.is_finite())).then_some(sum)
    }

    /// Meter against pumps under the given covariance; leaves its product with `reach` in `spread`.
    fn balance(&mut self, reading: f64, sum: f64, learned: bool) -> Balance {
        let (row, n) = (&mut self.row, self.mean.len());
        let covariance = if learned { &self.covariance } else { &self.prior };
        for (a, spread) in row.spread.iter_mut().enumerate() {
            *spread = (0..n).map(|b| covariance[a * n + b] * row.reach[b]).sum();
        }
        let dot = |v: &[f64]| v.iter().zip(&row.reach).map(|(x, r)| x * r).sum::<f64>();
        let expected = if learned { sum + dot(&self.mean) } else { sum };
        Balance { residual: reading - expected, variance: dot(&row.spread) + row.random.iter().sum::<f64>() }
    }

    /// Learns the meter's scale, and the pumps' common errors with it, from steady rows an hour or more apart.
    pub(super) fn learn(&mut self, pumps: &[PumpPoints]) {
        let Some(meter) = self.about.meter else { return };
        let stride = (INDEPENDENT_H / self.about.hours).ceil().max(1.0) as usize;
        let fits: Vec<usize> = (0..meter.flow.len())
            .step_by(stride)
            .filter(|&i| {
                meter.flow[i] > 0.0
                    && pumps.iter().all(|p| matches!(p.state[i], State::Off | State::Steady))
                    && pumps.iter().any(|p| p.flow_m3h[i] > 0.0)
            })
            .collect();
        if fits.len() < TEACHING_H {
            return;
        }
        let mut on = Vec::with_capacity(pumps.len());
        let mut tried = 0;
        for &i in fits.iter().step_by(fits.len().div_ceil(TEACHING_ROWS)) {
            on.clear();
            on.extend((0..pumps.len()).filter(|&k| runs(&pumps[k], i) && !is_held_closed(pumps, k, i, self.about)));
            let Some(sum) = self.parts(pumps, i, &on) else { continue };
            tried += 1;
            let at_first = self.balance(meter.flow[i], sum, false);
            if at_first.residual.powi(2) < TEACHES.powi(2) * at_first.variance {
                self.take(meter.flow[i], sum);
                self.taught_rows += 1;
            }
        }
        self.credible = self.taught_rows as f64 >= (1.0 - MOSTLY) * f64::from(tried);
        if self.taught_rows < TEACHING_H {
            // Too few to believe: as if nothing had been learned.
            self.covariance.clone_from(&self.prior);
            self.mean.fill(0.0);
            self.taught_rows = 0;
            return;
        }
        for (now, before) in self.covariance.iter_mut().zip(&self.prior) {
            *now += UNTAUGHT * (before - *now);
        }
    }

    /// One step of linear regression on one row.
    fn take(&mut self, reading: f64, sum: f64) {
        let balance = self.balance(reading, sum, true);
        let n = self.mean.len();
        for a in 0..n {
            let share = self.row.spread[a] / balance.variance;
            self.mean[a] += share * balance.residual;
            for b in 0..n {
                self.covariance[a * n + b] -= share * self.row.spread[b];
            }
        }
    }

    /// The loop's flow in one row, and the pumps' corrected by it.
    pub(super) fn row(&mut self, pumps: &mut [PumpPoints], i: usize, deliver: &[usize], system: &mut LoopPoints) {
        if let [only] = deliver
            && pumps[*only].basis[i].rests_on(witness::METER)
            && pumps.iter().filter(|p| runs(p, i)).count() == 1
        {
            // It has heard the meter: its error is the meter's now, and what other rows taught of the pump's own is none of its business.
            let p = &pumps[*only];
            system.flow_m3h[i] = p.flow_m3h[i];
            (system.flow_low_m3h[i], system.flow_high_m3h[i]) = (p.flow_low_m3h[i], p.flow_high_m3h[i]);
            self.balance_unknown();
            return;
        }
        let reading = self.reading(i);
        if reading.is_some() && !deliver.is_empty() {
            self.metered_rows += 1;
        }
        let Some(sum) = self.parts(pumps, i, deliver) else {
            self.balance_unknown();
            self.metered_alone(pumps, i, deliver, system);
            return;
        };
        let used = reading.filter(|z| !deliver.is_empty() && self.can_use(pumps, i, *z, sum));
        let correction = used.map(|z| self.balance(z, sum, true));
        self.write_loop(pumps, i, deliver, correction, system);
        self.write_pumps(pumps, i, deliver, correction);
        if let [only] = deliver
            && pumps.iter().filter(|p| runs(p, i)).count() == 1
        {
            // One pump: the loop's flow is its own, edge for edge.
            let p = &pumps[*only];
            system.flow_m3h[i] = p.flow_m3h[i];
            (system.flow_low_m3h[i], system.flow_high_m3h[i]) = (p.flow_low_m3h[i], p.flow_high_m3h[i]);
        }
    }

    /// Whether the meter may speak: not far off, and not short while water may flow back through a standby pump.
    fn can_use(&mut self, pumps: &[PumpPoints], i: usize, reading: f64, sum: f64) -> bool {
        let at_first = self.balance(reading, sum, false);
        let short = at_first.residual < -SHORT * at_first.variance.sqrt();
        let mut standby = false;
        for k in 0..pumps.len() {
            let back = short && pumps[k].state[i] == State::Off;
            standby |= back;
            self.count_short(k, back);
        }
        let now = self.balance(reading, sum, true);
        let off = now.residual.powi(2) > OUTLIER.powi(2) * now.variance;
        self.outlier_rows += usize::from(off && !standby);
        !off && !standby
    }

    fn count_short(&mut self, k: usize, short: bool) {
        if short {
            self.short_rows[k] += 1;
            return;
        }
        let lasted = self.short_rows[k] as f64 * self.about.hours;
        if lasted >= HELD_H {
            self.short_h[k] += lasted;
        }
        self.short_rows[k] = 0;
    }

    /// No balance in this row: what was short till now ends here.
    pub(super) fn balance_unknown(&mut self) {
        for k in 0..self.short_rows.len() {
            self.count_short(k, false);
        }
    }

    /// A pump that runs has no flow: the loop's is the meter's alone, and so is the pump's where it is the only one.
    fn metered_alone(&self, pumps: &mut [PumpPoints], i: usize, deliver: &[usize], system: &mut LoopPoints) {
        let (Some(meter), Some(reading), true) = (self.about.meter, self.reading(i), self.credible) else { return };
        let gain = meter.gain_sd * self.mean[0];
        let flow = reading / (1.0 + gain);
        let common = meter.gain_sd * self.covariance[0].sqrt() * flow;
        let edge = EDGE * common.hypot((meter.noise.0 * flow).hypot(meter.noise.1));
        system.flow_m3h[i] = flow;
        (system.flow_low_m3h[i], system.flow_high_m3h[i]) = ((flow - edge).max(0.0), flow + edge);
        if let [only] = deliver {
            let p = &mut pumps[*only];
            // What lies outside its table is not trusted to be a duty at all.
            if p.basis[i] == Basis::None {
                p.flow_m3h[i] = flow;
                (p.flow_low_m3h[i], p.flow_high_m3h[i]) = (system.flow_low_m3h[i], system.flow_high_m3h[i]);
                p.flow_sd_common_m3h[i] = common;
                p.basis[i] = Basis::Measured(1 << witness::METER);
                rate(p, i);
            }
        }
    }

    /// The sum and its interval: row noise in squares, common errors as far as they are shared.
    fn write_loop(
        &self,
        pumps: &[PumpPoints],
        i: usize,
        deliver: &[usize],
        used: Option<Balance>,
        system: &mut LoopPoints,
    ) {
        let (n, row) = (self.mean.len(), &self.row);
        // Covariance of the sum's own error with itself and with the meter's reading.
        let (mut shift, mut common, mut with_meter) = (0.0, 0.0, 0.0);
        let (mut sum, mut random, mut below, mut above) = (0.0, 0.0, 0.0, 0.0);
        for &k in deliver {
            let (p, a) = (&pumps[k], k + 1);
            sum += p.flow_m3h[i];
            shift += row.reach[a] * self.mean[a];
            with_meter += row.reach[a] * self.cross(a);
            common +=
                deliver.iter().map(|&l| row.reach[a] * self.covariance[a * n + l + 1] * row.reach[l + 1]).sum::<f64>();
            random += row.random[a];
            let own = (EDGE * row.reach[a]).powi(2);
            below += ((p.flow_m3h[i] - p.flow_low_m3h[i]).powi(2) - own).max(0.0);
            above += ((p.flow_high_m3h[i] - p.flow_m3h[i]).powi(2) - own).max(0.0);
        }
        // A pump behind its valve adds what its interval leaves open.
        let closed = (0..pumps.len()).filter(|k| runs(&pumps[*k], i) && !deliver.contains(k));
        above += closed.map(|k| pumps[k].flow_high_m3h[i].powi(2)).filter(|h| h.is_finite()).sum::<f64>();
        let common = common.max(0.0);
        let (moved, left) = match used {
            Some(b) if b.variance > 0.0 => {
                let with = with_meter + random;
                (with / b.variance * b.residual, 1.0 - with.powi(2) / b.variance / (common + random).max(1e-12))
            }
            _ => (0.0, 1.0),
        };
        let edge = |own: f64| (own + EDGE.powi(2) * common).sqrt() * left.clamp(0.0, 1.0).sqrt();
        let flow = (sum + shift + moved).max(0.0);
        system.flow_m3h[i] = flow;
        system.flow_low_m3h[i] = (flow - edge(below)).max(0.0);
        system.flow_high_m3h[i] = flow + edge(above);
    }

    /// Covariance of common error `a` with the common part of the meter's reading.
    fn cross(&self, a: usize) -> f64 {
        let n = self.mean.len();
        (0..n).map(|b| self.covariance[a * n + b] * self.row.reach[b]).sum()
    }

    /// Each pump's flow with what was learned of its common error, and with this row's meter.
    fn write_pumps(&self, pumps: &mut [PumpPoints], i: usize, deliver: &[usize], used: Option<Balance>) {
        if used.is_none() && self.taught_rows == 0 {
            return;
        }
        let n = self.mean.len();
        for &k in deliver {
            let (a, row) = (k + 1, &self.row);
            let before = flow_sd(&pumps[k], i);
            let (own, random) = (row.reach[a], row.random[a]);
            let common = own.powi(2) * self.covariance[a * n + a];
            let (mut gain, mut residual) = (0.0, 0.0);
            let mut after = common + random;
            if let Some(b) = used.filter(|b| b.variance > 0.0) {
                let with = own * self.cross(a) + random;
                (gain, residual) = (with / b.variance, b.residual);
                after -= with.powi(2) / b.variance;
            }
            let p = &mut pumps[k];
            let flow = p.flow_m3h[i];
            let kept = if before > 0.0 { after.max(0.0).sqrt() / before } else { 1.0 };
            let (below, above) = (kept * (flow - p.flow_low_m3h[i]), kept * (p.flow_high_m3h[i] - flow));
            let moved = (flow + own * self.mean[a] + gain * residual).max(0.0);
            p.flow_m3h[i] = moved;
            (p.flow_low_m3h[i], p.flow_high_m3h[i]) = ((moved - below).max(0.0), moved + above);
            p.flow_sd_common_m3h[i] = self.common_after(a, gain).min(after.max(0.0).sqrt());
            if used.is_some() {
                p.basis[i] = with_meter(p.basis[i]);
            }
            rate(p, i);
        }
    }

    /// What all rows share of pump `a`'s error once the meter has corrected it with this gain [m3/h]: its own common error, less the part of
    /// everybody's that the correction takes.
    fn common_after(&self, a: usize, gain: f64) -> f64 {
        let (n, reach) = (self.mean.len(), &self.row.reach);
        let weight = |b: usize| if b == a { reach[b] } else { 0.0 } - gain * reach[b];
        let mut variance = 0.0;
        for b in 0..n {
            for c in 0..n {
                variance += weight(b) * self.covariance[b * n + c] * weight(c);
            }
        }
        variance.max(0.0).sqrt()
    }

    pub(super) fn gain(&self) -> Option<MeterGain> {
        let meter = self.about.meter.filter(|_| self.taught_rows > 0)?;
        let (gain, edge) = (meter.gain_sd * self.mean[0], EDGE * meter.gain_sd * self.covariance[0].max(0.0).sqrt());
        Some(MeterGain { gain, low: gain - edge, high: gain + edge, rows: self.taught_rows })
    }

    pub(super) fn notices(&self, pumps: &[PumpPoints]) -> Vec<Notice> {
        let Some(meter) = self.about.meter else { return Vec::new() };
        let short = pumps.iter().zip(&self.short_h).filter(|(_, h)| **h > 0.0).map(|(p, h)| {
            format!(
                "{}: for {h:.1} h while it was off, {} showed less than the running pumps make, by more than both allow; water may flow back through it (a check valve that does not close), or the meter reads low",
                p.pump, meter.name
            )
        });
        let own = [self.about_outliers(meter.name), self.about_gain(meter.name)];
        short.chain(own.into_iter().flatten()).map(|text| Notice::new("operating", text)).collect()
    }

    fn about_outliers(&self, meter: &str) -> Option<String> {
        let (off, all) = (self.outlier_rows, self.metered_rows);
        let mostly = off as f64 > MOSTLY * all as f64;
        let doubt = if mostly { "; check its unit, its scale and whether it sees all the pumps' water" } else { "" };
        let text = format!(
            "{meter}: in {off} of {all} rows it lies further from the pumps' flow than both allow, and was not used there{doubt}"
        );
        (off > 0).then_some(text)
    }

    fn about_gain(&self, meter: &str) -> Option<String> {
        let g = self.gain().filter(|g| g.low > 0.0 || g.high < 0.0)?;
        let (more, low, high) = if g.gain > 0.0 { ("more", g.low, g.high) } else { ("less", -g.high, -g.low) };
        Some(format!(
            "{meter}: it reads {:.1} % {more} than is there ({:.1} to {:.1} %), judged by the pumps in {} rows; this was taken back",
            100.0 * g.gain.abs(),
            100.0 * low,
            100.0 * high,
            g.rows
        ))
    }
}

/// Standard deviation of a flow [m3/h]: from its interval, and not less than the part all rows share.
fn flow_sd(p: &PumpPoints, i: usize) -> f64 {
    let sd = (p.flow_high_m3h[i] - p.flow_low_m3h[i]) / (2.0 * EDGE);
    if p.flow_m3h[i] == 0.0 && p.flow_low_m3h[i] == 0.0 { 2.0 * sd } else { sd }.max(p.flow_sd_common_m3h[i])
}

/// Wire to water for the flow as it now is.
fn rate(p: &mut PumpPoints, i: usize) {
    if p.power_kw[i] > 0.0 {
        p.efficiency[i] = (p.flow_m3h[i] * p.head_kpa[i] / 3600.0 / p.power_kw[i]).clamp(0.0, 1.0);
    }
}

/// What fixed a point, once the meter helped.
fn with_meter(basis: Basis) -> Basis {
    let meter = 1 << witness::METER;
    match basis {
        Basis::Measured(bits) => Basis::Measured(bits | meter),
        Basis::PowerBound => Basis::Measured(meter | 1 << witness::POWER),
        Basis::None | Basis::Speed => Basis::Measured(meter),
        known => known,
    }
}
