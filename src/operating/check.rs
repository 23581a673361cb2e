//! How a pump's model stands against its record, and whether that changed over the months.
//!
//! Comes in: a pump's witnesses and the models that the record taught. Goes out: [`SelfCheck`]: the offsets that hold for every row (scale of the
//! head, power and meter readings, what a header loses, whether the speed signal hides the slip), each with its interval and whether the record or
//! only the prior says so; and for each calendar month how far each measurement stands from what the others say. Rules that judge wear or sensors
//! read [`SelfCheck::drift`]: an offset that was there from the first day may be a wrong table, a change over time is none. The decision a reader
//! would question: months are compared at like duties only and with days as the sample, so that summer against winter is no drift. It does not
//! say which of two measurements moved where there are only two. Start at [`against`].

use super::State;
use super::days::{self, Day};
use super::mixture::{Hypothesis, Mixture};
use super::model::{COMMON, error, witness};
use super::noise::Noise;
use super::posterior::Estimator;
use super::priors::LossKind;
use super::witness::Witnesses;
use crate::hydraulics::student;
use crate::ingest::Clock;
use crate::plant::{Plant, PowerIs, local_to_utc};
use chrono::{Datelike, NaiveDate, NaiveTime};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;
use witness::{COUNT, HEAD, HEAT, METER, POWER, REMOTE};

/// What the record says of the model, and of the sensors.
#[derive(Debug, Clone, Default)]
pub struct SelfCheck {
    /// Stretches of rows in which two or more measurements over-determine the point; none: nothing was learned.
    pub cells: usize,
    /// Mean squared misfit a degree of freedom, at least 1 [-]: how much worse the record fits than its noise allows.
    pub misfit: f64,
    pub offsets: Vec<Offset>,
    /// That the speed signal is the frequency's, so that the motor's slip hides; `None` where nothing slips.
    pub slip_hidden: Option<Belief>,
    /// How motor and drive lose at part load, the likeliest kind; `None` where no loss lies between table and reading.
    pub loss: Option<(LossLike, Belief)>,
    /// Where power is read, the likeliest first; empty where the pump has no power to compare.
    pub power_is: Vec<(PowerIs, Belief)>,
    pub months: Vec<Month>,
    /// The clearest change, where one is clear to the end of the record.
    pub drift: Option<Drift>,
    /// What the measurements say of each other day by day; empty where no two can be compared.
    pub days: Vec<Day>,
}

/// How motor and drive lose at part load.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LossLike {
    /// As a motor of today behind its drive.
    Drive,
    /// As handbooks have it for older motors on the mains.
    Handbook,
    /// In proportion to shaft power, as if efficiencies never changed.
    Proportional,
}

impl LossLike {
    const ALL: [Self; 3] = [Self::Drive, Self::Handbook, Self::Proportional];

    fn of(h: &Hypothesis) -> Self {
        match h.loss {
            LossKind::Drive => Self::Drive,
            LossKind::Handbook => Self::Handbook,
            LossKind::Proportional => Self::Proportional,
        }
    }
    /// The word in result files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Drive => "drive",
            Self::Handbook => "handbook",
            Self::Proportional => "proportional",
        }
    }
}

/// What an offset is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OffsetOf {
    /// Head reading over what the table says at the same flow and speed: sensor's scale and zero, and the table's level together.
    HeadScale,
    /// Power reading over what table and usual losses say: reading's scale and the table's level together.
    PowerScale,
    /// Flow meter's scale and zero.
    MeterScale,
    /// Heat balance's scale, that of its temperature pair included.
    HeatScale,
    /// Lost between flanges and headers at design flow.
    HeaderLoss,
    /// Lost between headers and the remote sensor at design flow.
    PipeLoss,
}

impl OffsetOf {
    /// The word in result files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::HeadScale => "head-scale",
            Self::PowerScale => "power-scale",
            Self::MeterScale => "meter-scale",
            Self::HeatScale => "heat-scale",
            Self::HeaderLoss => "header-loss",
            Self::PipeLoss => "pipe-loss",
        }
    }
    /// The unit of its numbers.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::HeadScale | Self::PowerScale | Self::MeterScale | Self::HeatScale => "fraction",
            Self::HeaderLoss | Self::PipeLoss => "kPa",
        }
    }
}

/// One offset that all rows share: estimate and 95 % interval.
#[derive(Debug, Clone, Copy)]
pub struct Offset {
    pub of: OffsetOf,
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
    /// The interval is clearly narrower than before the record spoke; else it is the prior's word, and "cannot tell".
    pub told_by_record: bool,
}

/// One of two readings of the plant.
#[derive(Debug, Clone, Copy)]
pub struct Belief {
    /// [-]
    pub probability: f64,
    /// The record (or the plant file) settled it; else it is open.
    pub settled: bool,
}

/// One measurement in one calendar month of the plant's time zone.
#[derive(Debug, Clone, Copy)]
pub struct Month {
    /// When the month began on the plant's clock [ms UTC].
    pub from_ms: i64,
    /// Place in [`witness`].
    pub witness: usize,
    /// Mean of reading over what the other measurements say it should be, less one [-], and its 95 % interval by days: random errors alone.
    pub residual: f64,
    pub low: f64,
    pub high: f64,
    /// Change against the first month at like duties [-]: estimate, low, high. `None` for the first, and where too few duties are alike.
    pub change: Option<(f64, f64, f64)>,
}

/// A measurement that moved against the others.
#[derive(Debug, Clone)]
pub struct Drift {
    /// Place in [`witness`]. Where there are only two, either may be the one that moved.
    pub witness: usize,
    /// The measurements it moved against.
    pub against: Vec<usize>,
    /// Change in the last month against the first [-], with its 95 % interval.
    pub change: f64,
    pub low: f64,
    pub high: f64,
    /// First of the months, up to the last, that all show it [ms UTC].
    pub since_ms: i64,
}

/// A month speaks from so many steady rows on, and from so many days: below, its spread is a guess.
const ROWS: usize = 50;
const DAYS: usize = 3;
/// Rows looked at in a month: days are the sample, and more rows of a day say little more.
const LOOKED_AT: usize = 600;
/// Posterior over prior standard deviation up to which the record has told something [-].
const TOLD: f64 = 0.6;
/// Probability from which a reading of the plant is settled [-]; no prior reaches it.
const SETTLED: f64 = 0.95;
/// A change of less is no matter, however sure [-]: head and power; meters and balances are good to less.
const LEAST_CHANGE: f64 = 0.025;
const LEAST_CHANGE_OF_FLOW: f64 = 0.05;
/// Standard deviation of what the others say, of the reading [-], beyond which they say nothing worth comparing: on a flat curve a flow is a guess,
/// and a guess moves with the load.
const SHARP: f64 = 0.05;
/// Duties are alike within steps of speed [-] and a twelfth of the table's flow; this share of a month's rows must be at duties that the first month had.
const LIKE_SPEED: f64 = 0.05;
const LIKE_FLOW: f64 = 12.0;
const SHARED: f64 = 0.5;

/// Compares a pump's models with its record.
#[must_use]
pub fn against(
    plant: &Plant,
    clock: Clock,
    states: &[State],
    w: &Witnesses,
    mixture: &Mixture,
    noise: Noise,
) -> SelfCheck {
    let Some(likeliest) = mixture.likeliest() else { return SelfCheck::default() };
    let estimator = likeliest.estimator(noise);
    let months: Vec<Looked> = calendar_months(plant, clock)
        .into_par_iter()
        .filter_map(|(from_ms, rows)| Looked::at(plant, clock, from_ms, rows, states, w, &estimator))
        .collect();
    let (months, drift) = compare(&months);
    let model = &likeliest.model;
    let chance = |f: fn(&Hypothesis) -> bool| mixture.all.iter().filter(|h| f(h)).map(|h| h.weight).sum::<f64>();
    let has_power = w.has(POWER) && model.has_power();
    SelfCheck {
        cells: likeliest.learned.cells,
        misfit: likeliest.learned.strain,
        offsets: offsets(plant, states, w, mixture),
        slip_hidden: model.slips().then(|| belief(chance(|h| h.frequency_shown))),
        loss: (has_power && model.has_chain() && model.power_is() != PowerIs::Shaft).then(|| loss(mixture)),
        power_is: if has_power { places(w, mixture) } else { Vec::new() },
        months,
        drift,
        days: days::look(plant, clock, states, w, &estimator),
    }
}

fn belief(probability: f64) -> Belief {
    Belief { probability, settled: !(1.0 - SETTLED..SETTLED).contains(&probability) }
}

/// The likeliest kind of loss. Where it is one of a few, only its own probability can settle it.
fn loss(mixture: &Mixture) -> (LossLike, Belief) {
    let each = LossLike::ALL.map(|kind| {
        let p: f64 = mixture.all.iter().filter(|h| LossLike::of(h) == kind).map(|h| h.weight).sum();
        (kind, Belief { probability: p, settled: p >= SETTLED })
    });
    each.into_iter().fold(each[0], |best, next| if next.1.probability > best.1.probability { next } else { best })
}

fn places(w: &Witnesses, mixture: &Mixture) -> Vec<(PowerIs, Belief)> {
    let mut out: Vec<(PowerIs, Belief)> = [PowerIs::DriveInput, PowerIs::DriveOutput, PowerIs::Shaft]
        .into_iter()
        .map(|place| {
            let p = mixture.all.iter().filter(|h| h.model.power_is() == place).map(|h| h.weight).sum();
            (place, Belief { settled: w.power_is.is_some() || belief(p).settled, ..belief(p) })
        })
        .filter(|p| p.1.probability > 0.0)
        .collect();
    out.sort_by(|a, b| b.1.probability.total_cmp(&a.1.probability));
    out
}

// ---- offsets ----

/// A sum of common errors: each one's place, and what a prior standard deviation of it does.
type Sum = Vec<(usize, f64)>;

fn offsets(plant: &Plant, states: &[State], w: &Witnesses, mixture: &Mixture) -> Vec<Offset> {
    let usual = Usual::of(plant, states, w);
    [
        OffsetOf::HeadScale,
        OffsetOf::PowerScale,
        OffsetOf::MeterScale,
        OffsetOf::HeatScale,
        OffsetOf::HeaderLoss,
        OffsetOf::PipeLoss,
    ]
    .into_iter()
    .filter_map(|of| offset(of, &usual, w, mixture))
    .collect()
}

/// Middle readings of the steady rows, which turn a zero error into a share.
struct Usual {
    head_kpa: f64,
    meter_m3h: f64,
    delta_t_k: f64,
    design_m3h: f64,
}

impl Usual {
    fn of(plant: &Plant, states: &[State], w: &Witnesses) -> Self {
        let steady: Vec<usize> = (0..states.len()).filter(|&i| states[i] == State::Steady).collect();
        let stride = steady.len().div_ceil(LOOKED_AT).max(1);
        let middle = |f: &dyn Fn(usize) -> f64| {
            let mut v: Vec<f64> =
                steady.iter().step_by(stride).map(|&i| f(i)).filter(|v| *v > 0.0 && v.is_finite()).collect();
            v.sort_by(f64::total_cmp);
            v.get(v.len() / 2).copied().unwrap_or(f64::NAN)
        };
        let on_duty = plant.system.pumps_on_duty.map_or(1.0, |n| n.max(1) as f64);
        Self {
            head_kpa: middle(&|i| w.row(i).reading[HEAD]),
            meter_m3h: middle(&|i| w.row(i).reading[METER]),
            delta_t_k: middle(&|i| w.row(i).around.delta_t),
            design_m3h: plant.system.design_flow.map_or(f64::NAN, |q| q.in_m3h() / on_duty),
        }
    }
}

fn offset(of: OffsetOf, usual: &Usual, w: &Witnesses, mixture: &Mixture) -> Option<Offset> {
    let one = mixture.likeliest()?;
    let there = match of {
        OffsetOf::HeadScale => w.has(HEAD) && usual.head_kpa.is_finite(),
        OffsetOf::PowerScale => w.has(POWER) && one.model.has_power(),
        OffsetOf::MeterScale => w.has(METER) && usual.meter_m3h.is_finite(),
        OffsetOf::HeatScale => w.has(HEAT) && usual.delta_t_k.is_finite(),
        OffsetOf::HeaderLoss => w.has(HEAD) && one.model.prior.header > 0.0,
        OffsetOf::PipeLoss => w.has(REMOTE) && one.model.prior.pipe > 0.0,
    };
    if !there {
        return None;
    }
    let (mut mean, mut square, mut prior) = (0.0, 0.0, 0.0);
    for h in &mixture.all {
        let (middle, sum) = sum_of(of, h, usual);
        let (value, variance) = of_sum(&sum, &h.learned.common, &h.learned.covariance);
        mean += h.weight * (middle + value);
        square += h.weight * ((middle + value).powi(2) + variance);
        prior += h.weight * sum.iter().map(|s| s.1 * s.1).sum::<f64>();
    }
    let sd = (square - mean * mean).max(0.0).sqrt();
    let (low, high) = (mean - 1.96 * sd, mean + 1.96 * sd);
    let at = |v: f64| match of {
        // A resistance is known by its logarithm.
        OffsetOf::PipeLoss => one.model.prior.pipe_mean * v.exp() * usual.design_m3h.powi(2),
        OffsetOf::HeaderLoss => v.max(0.0),
        _ => v,
    };
    let (estimate, low, high) = (at(mean), at(low), at(high));
    estimate.is_finite().then_some(Offset { of, estimate, low, high, told_by_record: sd < TOLD * prior.sqrt() })
}

/// An offset as its prior mean and a sum of common errors.
fn sum_of(of: OffsetOf, h: &Hypothesis, usual: &Usual) -> (f64, Sum) {
    let pr = &h.model.prior;
    match of {
        OffsetOf::HeadScale => (
            0.0,
            vec![
                (error::HEAD_TABLE, pr.head_table[0]),
                (error::HEAD_GAIN, pr.head_gain),
                (error::HEAD_ZERO, pr.head_zero / usual.head_kpa),
            ],
        ),
        OffsetOf::PowerScale => {
            (0.0, vec![(error::POWER_TABLE, pr.power_table[0]), (error::POWER_GAIN, pr.power_gain)])
        }
        OffsetOf::MeterScale => {
            (0.0, vec![(error::METER_GAIN, pr.meter_gain), (error::METER_ZERO, pr.meter_zero / usual.meter_m3h)])
        }
        OffsetOf::HeatScale => {
            (0.0, vec![(error::HEAT_GAIN, pr.heat_gain), (error::HEAT_PAIR, pr.heat_pair / usual.delta_t_k)])
        }
        OffsetOf::HeaderLoss => {
            let full = h.model.shut_off() * (usual.design_m3h / h.model.q_max).powi(2);
            (pr.header_mean * full, vec![(error::HEADER, pr.header * full)])
        }
        OffsetOf::PipeLoss => (0.0, vec![(error::PIPE, pr.pipe)]),
    }
}

/// Value and variance of a sum of common errors: `a'c` and `a'Ca`, the errors in their prior standard deviations.
///
/// ```
/// use offcurve::operating::check::of_sum;
/// use offcurve::operating::model::COMMON;
/// let (mut c, mut cov) = ([0.0; COMMON], vec![[0.0; COMMON]; COMMON]);
/// (c[0], c[8]) = (1.0, 2.0);
/// (cov[0][0], cov[8][8], cov[0][8], cov[8][0]) = (0.5, 0.25, -0.25, -0.25);
/// // 2 % and 1 % a standard deviation: 0.02 + 0.02; 4e-4 * 0.5 + 1e-4 * 0.25 - 2 * 2e-4 * 0.25 = 1.25e-4.
/// let (value, variance) = of_sum(&[(0, 0.02), (8, 0.01)], &c, &cov);
/// assert!((value - 0.04).abs() < 1e-12 && (variance - 1.25e-4).abs() < 1e-12);
/// ```
#[must_use]
pub fn of_sum(sum: &[(usize, f64)], common: &[f64; COMMON], covariance: &[[f64; COMMON]]) -> (f64, f64) {
    let value = sum.iter().map(|&(k, a)| a * common[k]).sum();
    let variance = sum.iter().flat_map(|&(k, a)| sum.iter().map(move |&(l, b)| a * b * covariance[k][l])).sum();
    (value, variance)
}

// ---- months ----

/// Calendar months of the plant's clock that the record touches: their beginning [ms UTC] and their rows.
fn calendar_months(plant: &Plant, clock: Clock) -> Vec<(i64, Range<usize>)> {
    let step_ms = clock.step_s * 1000;
    if clock.len == 0 || step_ms <= 0 {
        return Vec::new();
    }
    let begins =
        |first: NaiveDate| local_to_utc(plant.site.timezone, first.and_time(NaiveTime::MIN)).0.timestamp_millis();
    let row = |ms: i64| ((ms - clock.start_ms + step_ms - 1).div_euclid(step_ms).max(0) as usize).min(clock.len);
    let mut out = Vec::new();
    let mut month = plant.local(clock.start_ms).date_naive().with_day(1);
    while let Some(first) = month {
        let next = first.checked_add_months(chrono::Months::new(1));
        let rows = row(begins(first))..next.map_or(clock.len, |n| row(begins(n)));
        if rows.start >= clock.len {
            break;
        }
        out.push((begins(first), rows));
        month = next;
    }
    out
}

/// One reading against what the others say.
#[derive(Debug, Clone, Copy)]
struct Sample {
    day: i32,
    duty: (i32, i32, i32),
    /// Reading over expected, less one [-].
    residual: f64,
    /// Over its random variance.
    weight: f64,
}

/// A month, looked at.
struct Looked {
    from_ms: i64,
    by_witness: [Vec<Sample>; COUNT],
    /// Which measurements stood beside each.
    beside: [u8; COUNT],
}

impl Looked {
    fn at(
        plant: &Plant,
        clock: Clock,
        from_ms: i64,
        rows: Range<usize>,
        states: &[State],
        w: &Witnesses,
        estimator: &Estimator,
    ) -> Option<Self> {
        let steady: Vec<usize> = rows.filter(|&i| states[i] == State::Steady).collect();
        if steady.len() < ROWS {
            return None;
        }
        let mut out = Self { from_ms, by_witness: Default::default(), beside: [0; COUNT] };
        for &i in steady.iter().step_by(steady.len().div_ceil(LOOKED_AT)) {
            let day = plant.local(clock.at_ms(i)).num_days_from_ce();
            out.look(i, day, w, estimator);
        }
        Some(out)
    }

    fn look(&mut self, i: usize, day: i32, w: &Witnesses, e: &Estimator) {
        let row = w.row(i);
        let Some(column) = e.field.column(row.speed, row.hour) else { return };
        for which in 0..COUNT {
            let reading = row.reading[which];
            let usable =
                reading.is_finite() && (which != POWER || e.has_power) && (which != HEAT || row.around.delta_t > 0.0);
            if !usable {
                continue;
            }
            let mut others = row;
            others.reading[which] = f64::NAN;
            let Ok(said) = e.say(&others) else { continue };
            let q = said.flow / row.speed;
            let expected = column.reading(which, q, row.around);
            // Two answers are no expectation.
            if said.peaks.is_some() || !(expected.value > 0.0) {
                continue;
            }
            let sd = (said.high - said.low) / 3.92 / row.speed;
            if expected.slope.abs() * sd > SHARP * expected.value {
                continue;
            }
            let flow_variance = (sd.powi(2) - (said.sd_common / row.speed).powi(2)).max(0.0);
            let variance = expected.slope.powi(2) * flow_variance + e.noise.variance(which, reading, row.around);
            self.beside[which] |= said.heard;
            self.by_witness[which].push(Sample {
                day,
                duty: (
                    (row.speed / LIKE_SPEED) as i32,
                    (q / e.field.q_max * LIKE_FLOW) as i32,
                    row.around.sharing as i32,
                ),
                residual: reading / expected.value - 1.0,
                weight: expected.value.powi(2) / variance,
            });
        }
    }
}

/// A mean with days as the sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ByDays {
    pub mean: f64,
    /// Standard error.
    pub error: f64,
    pub days: usize,
}

/// Weighted mean of (day, value, weight) and its standard error, rows of one day counted as one; `None` for fewer than three days.
///
/// ```
/// use offcurve::operating::check::by_days;
/// // Day means 1, 2 and 3, whatever the rows within a day: standard error 1 / sqrt(3).
/// let m = by_days(&[(1, 0.0, 1.0), (1, 2.0, 1.0), (2, 2.0, 2.0), (3, 3.0, 1.0), (3, 3.0, 1.0)]).unwrap();
/// assert!((m.mean - 2.0).abs() < 1e-12 && (m.error - 3.0f64.sqrt().recip()).abs() < 1e-12);
/// assert!(by_days(&[(1, 0.0, 1.0), (2, 2.0, 1.0)]).is_none());
/// ```
#[must_use]
pub fn by_days(rows: &[(i32, f64, f64)]) -> Option<ByDays> {
    let mut days: BTreeMap<i32, (f64, f64)> = BTreeMap::new();
    for &(day, value, weight) in rows {
        let sums = days.entry(day).or_default();
        *sums = (sums.0 + weight, sums.1 + weight * value);
    }
    let n = days.len();
    let total: f64 = days.values().map(|d| d.0).sum();
    if n < DAYS || !(total > 0.0) {
        return None;
    }
    let mean = days.values().map(|d| d.1).sum::<f64>() / total;
    let spread: f64 = days.values().map(|d| (d.1 - d.0 * mean).powi(2)).sum();
    Some(ByDays { mean, error: (spread * n as f64 / (n - 1) as f64).sqrt() / total, days: n })
}

/// Difference of two means with its standard error and degrees of freedom (Welch, *Biometrika* 34 (1947) 28; from memory).
#[derive(Debug, Clone, Copy)]
struct Change {
    by: f64,
    error: f64,
    freedom: f64,
}

impl Change {
    /// Half the width of an interval that holds with probability `sure` [-].
    fn reach(&self, sure: f64) -> f64 {
        student::quantile(0.5 + 0.5 * sure, self.freedom) * self.error
    }
}

/// Change of a measurement's residual between two months at like duties; `None` where too few are alike.
fn change(first: &[Sample], now: &[Sample]) -> Option<Change> {
    // Where the first month stood, duty by duty.
    let mut level: BTreeMap<(i32, i32, i32), (f64, f64)> = BTreeMap::new();
    for s in first {
        let sums = level.entry(s.duty).or_default();
        *sums = (sums.0 + s.weight, sums.1 + s.weight * s.residual);
    }
    let duties_now: std::collections::BTreeSet<(i32, i32, i32)> = now.iter().map(|s| s.duty).collect();
    let less = |s: &Sample| level.get(&s.duty).map(|l| (s.day, s.residual - l.1 / l.0, s.weight));
    let later: Vec<(i32, f64, f64)> = now.iter().filter_map(less).collect();
    let earlier: Vec<(i32, f64, f64)> =
        first.iter().filter(|s| duties_now.contains(&s.duty)).filter_map(less).collect();
    if (later.len() as f64) < SHARED * now.len() as f64 {
        return None;
    }
    let (a, b) = (by_days(&earlier)?, by_days(&later)?);
    let (va, vb) = (a.error.powi(2), b.error.powi(2));
    let freedom = (va + vb).powi(2) / (va * va / (a.days - 1) as f64 + vb * vb / (b.days - 1) as f64);
    Some(Change {
        by: b.mean - a.mean,
        error: (va + vb).sqrt(),
        freedom: if freedom.is_finite() { freedom.max(1.0) } else { 1.0 },
    })
}

fn compare(looked: &[Looked]) -> (Vec<Month>, Option<Drift>) {
    let rows = |s: &[Sample]| -> Vec<(i32, f64, f64)> { s.iter().map(|s| (s.day, s.residual, s.weight)).collect() };
    let mut months = Vec::new();
    let mut changes: Vec<(usize, usize, Change)> = Vec::new();
    for which in 0..COUNT {
        let mut first: Option<&Looked> = None;
        for (at, month) in looked.iter().enumerate() {
            let own = &month.by_witness[which];
            let Some(mean) = by_days(&rows(own)).filter(|_| own.len() >= ROWS) else { continue };
            let since = first.and_then(|f| change(&f.by_witness[which], own));
            first = first.or(Some(month));
            changes.extend(since.map(|c| (which, at, c)));
            let reach = student::quantile(0.975, (mean.days - 1) as f64) * mean.error;
            months.push(Month {
                from_ms: month.from_ms,
                witness: which,
                residual: mean.mean,
                low: mean.mean - reach,
                high: mean.mean + reach,
                change: since.map(|c| (c.by, c.by - c.reach(0.95), c.by + c.reach(0.95))),
            });
        }
    }
    months.sort_by_key(|m| (m.from_ms, m.witness));
    let drift = clearest(&changes, looked);
    (months, drift)
}

/// The measurement that moved most, in its standard errors, among those whose change is clear to the last month.
fn clearest(changes: &[(usize, usize, Change)], looked: &[Looked]) -> Option<Drift> {
    // The more is compared, the surer each must be, or a year of months would cry wolf by chance.
    let sure = 1.0 - 0.05 / changes.len().max(1) as f64;
    let clear = |which: usize, c: &Change| {
        let least = if matches!(which, HEAD | POWER | REMOTE) { LEAST_CHANGE } else { LEAST_CHANGE_OF_FLOW };
        c.by.abs() > least && c.by.abs() > c.reach(sure)
    };
    let trailing = |which: usize| -> Option<(usize, Change)> {
        let own: Vec<&(usize, usize, Change)> = changes.iter().filter(|c| c.0 == which).collect();
        let last = own.last()?.2;
        let run = own.iter().rev().take_while(|c| clear(which, &c.2) && c.2.by * last.by > 0.0).last()?;
        Some((run.1, last))
    };
    let all = (0..COUNT).filter_map(|which| trailing(which).map(|(since, c)| (which, since, c)));
    let strength = |c: &Change| c.by.abs() / c.error.max(f64::MIN_POSITIVE);
    let (which, since, c) = all.max_by(|a, b| strength(&a.2).total_cmp(&strength(&b.2)))?;
    let beside = looked[since].beside[which];
    Some(Drift {
        witness: which,
        against: (0..COUNT).filter(|k| beside & (1 << k) != 0).collect(),
        change: c.by,
        low: c.by - c.reach(0.95),
        high: c.by + c.reach(0.95),
        since_ms: looked[since].from_ms,
    })
}
