//! A saving of each change, put to the truth: the after-period under the old setting less the after-period as it was, over the days compared.

use super::change::{Change, Kind, Wanted};
use super::counts::{BEYOND, KNOWN_DAYS, NO_EFFECT, SEEN, YEAR_DAYS};
use crate::simulator::noise::Rng;
use offcurve::verify::form::Driver;
use offcurve::verify::{DayRow, Saving, Setting, Told, saving};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What was told of one change.
#[derive(Debug, Clone)]
pub struct Answer {
    /// Over the energy that the old setting would have taken on the days compared [-]: truth, told with its interval.
    pub truth: f64,
    pub said: [f64; 3],
    pub told: Told,
    pub form: String,
    pub hourly: bool,
    pub weight: f64,
    pub days: (usize, usize),
    pub left_out: usize,
    /// Of daily rows [-].
    pub cv_days: f64,
    pub nmbe: f64,
    pub r: f64,
    pub acceptable: bool,
    /// Half width of the guideline's own interval at 95 % over the same energy [-]; NaN where it has none.
    pub guideline_half: f64,
    /// Yearly figure with its interval, and what it should be, both over the year's energy under the old setting.
    pub year: Option<([f64; 3], f64)>,
    pub year_allowed: bool,
}

#[derive(Debug, Clone)]
pub struct Outcome {
    pub wanted: Wanted,
    pub answer: Result<Answer, String>,
}

impl Outcome {
    /// Neither setting nor drive made a difference.
    pub fn without_effect(&self) -> bool {
        self.answer.as_ref().is_ok_and(|a| a.truth.abs() < NO_EFFECT)
    }
}

/// Days on either side; one change in twenty has a record of more than a year.
pub fn wanted(i: u64, from: u64) -> Wanted {
    let seed = from + i;
    let mut rng = Rng::new(seed, 78);
    let between = |rng: &mut Rng, low: f64, high: f64| rng.between(low, high) as u32;
    let kind = match i % 3 {
        0 => Kind::Nothing,
        1 => Kind::Weather { effect: (i / 3) % 2 == 1 },
        _ => Kind::Effect,
    };
    let year = i % 20 == 7;
    let (before, after) = if year {
        (between(&mut rng, 190.0, 240.0), between(&mut rng, 180.0, 200.0))
    } else {
        (between(&mut rng, 42.0, 120.0), between(&mut rng, 28.0, 60.0))
    };
    let generator = if (i / 6).is_multiple_of(2) { "first" } else { "second" };
    Wanted { seed, generator, kind, before, after, year }
}

/// Seeds tried for one change.
const PASSED_OVER: u64 = 20;
const STRIDE: u64 = 1_000_003;

pub fn one(wanted: Wanted) -> Option<Outcome> {
    let tries = (0..PASSED_OVER).map(|k| Wanted { seed: wanted.seed + k * STRIDE, ..wanted });
    let change = tries.into_iter().find_map(Change::make)?;
    let answer = match saving(&change.record(), &change.stretches()) {
        Ok(s) => Ok(judged(&change, &s)),
        Err(e) => Err(e.to_string()),
    };
    Some(Outcome { wanted: change.wanted, answer })
}

pub fn judged(change: &Change, s: &Saving) -> Answer {
    let compared = |d: &&DayRow| d.setting == Some(Setting::New) && d.left_out.is_none();
    let days: Vec<&DayRow> = s.days.iter().filter(compared).collect();
    let truth: f64 = days.iter().map(|d| change.saved(d.from_ms, d.to_ms)).sum();
    let base = s.after.energy_kwh + truth;
    let said = [s.saving_kwh.low, s.saving_kwh.estimate, s.saving_kwh.high].map(|v| v / base);
    let q = &s.quality;
    Answer {
        truth: truth / base,
        said,
        told: s.told,
        form: s.baseline.form.to_string(),
        hourly: s.baseline.form.hourly(),
        weight: s.baseline.weight,
        days: (s.before.days, s.after.days),
        left_out: s.excluded.iter().map(|e| e.days).sum(),
        cv_days: q.cv_rmse_days,
        nmbe: q.nmbe,
        r: q.autocorrelation,
        acceptable: q.acceptable,
        guideline_half: 1.96 * q.fractional_uncertainty * s.saving_kwh.estimate.abs() / base,
        year: s.saving_kwh_per_year.as_ref().ok().filter(|_| !change.new_kwh.is_empty()).map(|e| year(change, s, e)),
        year_allowed: s.saving_kwh_per_year.is_err() || year_allowed(s),
    }
}

fn year(change: &Change, s: &Saving, told: &offcurve::faults::Estimate) -> ([f64; 3], f64) {
    let to = s.days.last().map_or(0, |d| d.to_ms);
    let from = to - YEAR_DAYS * super::change::DAY_MS;
    let inside = |h: &usize| (from..to).contains(&change.time_ms[*h]);
    let base: f64 = (0..change.time_ms.len()).filter(inside).map(|h| change.old_kwh[h]).sum();
    ([told.low, told.estimate, told.high].map(|v| v / base), change.would_save(from, to) / base)
}

/// By this module's own count: each known day's driver against what either setting's compared days saw.
fn year_allowed(s: &Saving) -> bool {
    let on = s.baseline.form.on().unwrap_or(Driver::Outdoor);
    seen_by_both(s, &|d| d.outdoor_c) && (on == Driver::Outdoor || seen_by_both(s, &|d| d.load_kw))
}

fn seen_by_both(s: &Saving, of: &dyn Fn(&DayRow) -> f64) -> bool {
    let last = s.days.last().map_or(0, |d| d.to_ms);
    let known: Vec<f64> = s
        .days
        .iter()
        .filter(|d| d.from_ms >= last - YEAR_DAYS * super::change::DAY_MS - 3_600_000)
        .map(of)
        .filter(|v| v.is_finite())
        .collect();
    let seen = |setting: Setting| {
        let own = || s.days.iter().filter(move |d| d.setting == Some(setting) && d.left_out.is_none()).map(of);
        let (low, high) = (own().fold(f64::INFINITY, f64::min), own().fold(f64::NEG_INFINITY, f64::max));
        let margin = BEYOND * (high - low);
        let inside = known.iter().filter(|v| (low - margin..=high + margin).contains(*v)).count();
        inside as f64 >= SEEN * known.len() as f64
    };
    known.len() >= KNOWN_DAYS && seen(Setting::Old) && seen(Setting::New)
}

/// All of them in their order, on so many threads.
pub fn many(all: &[Wanted], threads: usize) -> Vec<Outcome> {
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<Option<Outcome>>> = Mutex::new(vec![None; all.len()]);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while let Some((i, wanted)) =
                    Some(next.fetch_add(1, Ordering::Relaxed)).and_then(|i| Some((i, all.get(i)?)))
                {
                    let outcome = one(*wanted);
                    done.lock().expect("no worker stops while it holds the list")[i] = outcome;
                }
            });
        }
    });
    done.into_inner().expect("no worker stops while it holds the list").into_iter().flatten().collect()
}
