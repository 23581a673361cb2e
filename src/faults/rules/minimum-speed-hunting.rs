//! Speed that leaves its floor and falls back to it, over and over.
//!
//! Judged on raw rows, since hunting rows are never steady. A cycle runs from one rise off the floor to the next; a
//! train of cycles counts when two methods agree on its period: the regularity of the rises (mean over three standard
//! deviations, the zero-crossing test of Thornhill, Huang and Zhang 2003, from memory) and the autocorrelation.

use super::{cannot_tell, clear, lines, number};
use crate::faults::spread::{mean, median};
use crate::faults::{Case, Fault, Finding, PumpCase, Urgency, Verdict, price, say};
use crate::operating::State;
use crate::regimes::speed_floor;

const FAULT: Fault = Fault::MinimumSpeedHunting;
/// On the floor up to this much above it [-]: drives report whole per cents.
const ON_FLOOR: f64 = 0.012;
/// Off the floor from this much above it [-]: below that it is noise.
const OFF_FLOOR: f64 = 0.035;
/// Rows a period must span to be measured [rows]: below four to six a period is not to be trusted.
const LEAST_ROWS: f64 = 4.0;
/// Slower than this it is the load that swings [h].
const SLOWEST_H: f64 = 1.5;
/// Cycles a train must have [-].
const LEAST_CYCLES: usize = 8;
/// Mean period over three standard deviations from which rises are regular [-].
const REGULAR: f64 = 1.0;
/// Autocorrelation at the period from which it is one [-].
const ALIKE: f64 = 0.35;
/// How far the two periods may differ [-].
const AGREE: f64 = 0.25;
/// Found from so many hours in trains [h].
const LEAST_H: f64 = 4.0;
/// An interval longer than this hides the loop periods that pumps hunt at [h]: at 10 minutes nothing under 40 shows.
const COARSEST_H: f64 = 8.0 / 60.0;
/// Rows after a start or a staging change that are its own [rows].
const SETTLING: usize = 3;
/// Running hours the record must have [h].
const LEAST_RUNNING_H: f64 = 12.0;
/// Share of the running hours from which wear makes it something to plan for [-].
const WEARS: f64 = 0.10;

/// One verdict a pump.
pub fn judge(case: &Case) -> Vec<Verdict> {
    case.pumps.iter().map(|p| judge_pump(case, p)).collect()
}

fn judge_pump(case: &Case, pump: &PumpCase) -> Verdict {
    let running = pump.speed.iter().zip(pump.state).filter(|(v, s)| v.is_finite() && runs(**s)).count();
    if running as f64 * case.step_h < LEAST_RUNNING_H {
        return cannot_tell(FAULT, pump.name, &["pump-speed"], "fewer than 12 running hours with a known speed");
    }
    if case.step_h > COARSEST_H {
        let why = format!("rows {:.0} min apart cannot show a loop that hunts", case.step_h * 60.0);
        return cannot_tell(FAULT, pump.name, &["pump-speed every 5 min or finer"], why);
    }
    let Some((floor, _)) = speed_floor(&case.plant.control, pump.state, pump.speed) else {
        let why = "no minimum speed is declared and the speed shows none";
        return cannot_tell(FAULT, pump.name, &["[control].minimum_speed"], why);
    };
    let rises = rises(case, pump, floor);
    let trains: Vec<Train> = trains(case, pump, &rises);
    let hours: f64 = trains.iter().map(|t| t.rows() as f64 * case.step_h).sum();
    if hours >= LEAST_H {
        return found(case, pump, floor, &rises, &trains, running);
    }
    let hasty = too_fast(case, &rises);
    if hasty >= LEAST_H {
        let why = format!(
            "for {hasty:.0} h the speed leaves its floor and returns within fewer than four rows: too fast for the interval"
        );
        return cannot_tell(FAULT, pump.name, &["pump-speed at 1 min or finer"], why);
    }
    clear(
        FAULT,
        pump.name,
        format!(
            "{LEAST_H:.0} h of cycles off a floor of {}, at least {} high and {:.0} to {:.0} min long",
            say::percent(floor),
            say::percent(OFF_FLOOR),
            LEAST_ROWS * case.step_h * 60.0,
            SLOWEST_H * 60.0
        ),
    )
}

fn runs(state: State) -> bool {
    matches!(state, State::Steady | State::Transient | State::Starting)
}

/// Rows at which the speed rises off the floor, a list for each stretch of running without start or staging.
fn rises(case: &Case, pump: &PumpCase, floor: f64) -> Vec<Vec<usize>> {
    let mut all = Vec::new();
    let mut current: Vec<usize> = Vec::new();
    let (mut since, mut was_low) = (0usize, false);
    for i in 0..pump.speed.len() {
        let broken =
            !runs(pump.state[i]) || !pump.speed[i].is_finite() || (i > 0 && case.pumps_on[i] != case.pumps_on[i - 1]);
        if broken {
            all.push(std::mem::take(&mut current));
            (since, was_low) = (0, false);
            continue;
        }
        since += 1;
        if since <= SETTLING {
            continue;
        }
        if pump.speed[i] <= floor + ON_FLOOR {
            was_low = true;
        } else if was_low && pump.speed[i] >= floor + OFF_FLOOR {
            current.push(i);
            was_low = false;
        }
    }
    all.push(current);
    all.retain(|r| r.len() > 1);
    all
}

/// Cycles in a row that share a period.
struct Train {
    first: usize,
    last: usize,
    period_rows: f64,
    regularity: f64,
    alike: f64,
}

impl Train {
    fn rows(&self) -> usize {
        self.last - self.first
    }
}

fn trains(case: &Case, pump: &PumpCase, rises: &[Vec<usize>]) -> Vec<Train> {
    let slowest = SLOWEST_H / case.step_h;
    let mut found = Vec::new();
    for stretch in rises {
        for run in stretch.chunk_by(|a, b| ((b - a) as f64) <= slowest) {
            found.extend(windows(run).filter_map(|w| train(pump, w)));
        }
    }
    found
}

/// Pieces of a run of about two dozen cycles, so that a change of period halfway does not spoil all of it.
fn windows(run: &[usize]) -> impl Iterator<Item = &[usize]> {
    const CYCLES: usize = 24;
    let pieces = (run.len().saturating_sub(1) / CYCLES).max(1);
    let size = run.len().saturating_sub(1).div_ceil(pieces).max(1);
    (0..pieces).filter_map(move |k| run.get(k * size..((k + 1) * size + 1).min(run.len())))
}

fn train(pump: &PumpCase, rises: &[usize]) -> Option<Train> {
    let periods: Vec<f64> = rises.windows(2).map(|w| (w[1] - w[0]) as f64).collect();
    if periods.len() < LEAST_CYCLES {
        return None;
    }
    let period = mean(periods.iter().copied());
    let sd = (mean(periods.iter().map(|p| (p - period).powi(2)))).sqrt();
    let regularity = period / (3.0 * sd.max(0.1));
    let (first, last) = (rises[0], *rises.last()?);
    let (lag, alike) = repeats_after(&pump.speed[first..last], period)?;
    let holds = period >= LEAST_ROWS
        && regularity >= REGULAR
        && alike >= ALIKE
        && (lag as f64 - period).abs() <= (AGREE * period).max(1.0);
    holds.then_some(Train { first, last, period_rows: period, regularity, alike })
}

/// The lag between half and one and a half periods at which the series is most like itself, and how much.
fn repeats_after(speed: &[f64], period: f64) -> Option<(usize, f64)> {
    let centre = mean(speed.iter().copied());
    let deviation: Vec<f64> = speed.iter().map(|v| v - centre).collect();
    let variance: f64 = deviation.iter().map(|d| d * d).sum::<f64>() / deviation.len() as f64;
    let at = |lag: usize| {
        let n = deviation.len().saturating_sub(lag);
        let sum: f64 = deviation.iter().zip(&deviation[lag.min(deviation.len())..]).map(|(a, b)| a * b).sum();
        sum / n.max(1) as f64 / variance
    };
    let (from, to) = ((period / 2.0).ceil() as usize, (period * 1.5).floor() as usize);
    (from..=to).map(|lag| (lag, at(lag))).filter(|(_, r)| r.is_finite()).max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Hours in runs of cycles that are too short to be measured at this interval.
fn too_fast(case: &Case, rises: &[Vec<usize>]) -> f64 {
    let mut rows = 0;
    for stretch in rises {
        for run in stretch.chunk_by(|a, b| ((b - a) as f64) < LEAST_ROWS) {
            if run.len() > LEAST_CYCLES {
                rows += run[run.len() - 1] - run[0];
            }
        }
    }
    rows as f64 * case.step_h
}

fn found(case: &Case, pump: &PumpCase, floor: f64, rises: &[Vec<usize>], trains: &[Train], running: usize) -> Verdict {
    let rows: Vec<usize> = trains.iter().flat_map(|t| t.first..t.last).collect();
    let hours = rows.len() as f64 * case.step_h;
    let (first, last) = seen_between(rises, trains);
    let period_min = median(trains.iter().map(|t| t.period_rows)) * case.step_h * 60.0;
    let swing = median(trains.iter().map(|t| {
        let v = &pump.speed[t.first..t.last];
        v.iter().copied().fold(f64::MIN, f64::max) - v.iter().copied().fold(f64::MAX, f64::min)
    }));
    let waste = price::waste(case, &rows, |i| evened_out(case, trains, i));
    let share = rows.len() as f64 / running as f64;
    let cycles = hours * 60.0 / period_min;
    let priced = price::urgency(case, waste, false);
    let regularity = median(trains.iter().map(|t| t.regularity));
    let alike = median(trains.iter().map(|t| t.alike));
    let source = "raw speed rows";
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: pump.name.into(),
        urgency: if share >= WEARS { priced.max(Urgency::Plan) } else { priced },
        confidence: (0.6 + 0.25 * alike.min(1.0) + 0.05 * (hours / LEAST_H).min(2.0)).min(0.95),
        first_seen_ms: case.time_ms[first],
        last_seen_ms: case.time_ms[last],
        hours,
        waste_kwh: waste,
        waste_kwh_per_year: price::per_year(case, waste),
        caused_by: None,
        because: format!(
            "{} swings between its speed floor of {} and {} every {period_min:.0} min, for {hours:.0} h ({} of its running hours), \
             about {cycles:.0} cycles.",
            pump.name,
            say::percent(floor),
            say::percent(floor + swing),
            say::percent(share),
        ),
        evidence: vec![
            number("period", period_min, "min", "no regular period", source),
            number("swing of the speed", swing, "fraction", format!("below {OFF_FLOOR}"), source),
            number("regularity (mean period over three standard deviations)", regularity, "-", "below 1", source),
            number("autocorrelation at that period", alike, "-", format!("below {ALIKE}"), source),
        ],
        could_also_be: lines(&[
            "a load or a machine that itself cycles with this period (a compressor, a hot-water coil)",
            "a controller elsewhere that hunts (valves of the largest coil) and takes the pump along",
        ]),
        check_on_site: lines(&[
            "Trend speed, head and the largest valve at 10 s or finer for two hours at low load.",
            "Put the pump's controller in hand at a speed just above the floor: if the swing stops, the pump's loop is the \
             one that hunts; if the valves go on, theirs is.",
            "Compare the pressure that the floor makes at no flow with the setpoint: where it is higher, the control can \
             never settle there.",
        ]),
        change:
            "Slow the pump's controller down (less gain, longer integral time, a dead band, no wind-up at the limit); \
                 where the setpoint lies below what the floor makes, let the pump rest on the floor or stop it by need."
                .into(),
        caution: case.caution("Keep the maker's minimum speed for seal and motor."),
    }))
}

/// First and last row of it: once it is found, shorter runs of the same period belong to it too.
fn seen_between(rises: &[Vec<usize>], trains: &[Train]) -> (usize, usize) {
    const SHORT_RUN: usize = 3;
    let period = median(trains.iter().map(|t| t.period_rows));
    let alike = |a: &usize, b: &usize| ((b - a) as f64 / period - 1.0).abs() <= 0.35;
    let mut runs = Vec::new();
    for stretch in rises {
        let of_period = stretch.chunk_by(alike).filter(|r| r.len() > SHORT_RUN);
        runs.extend(of_period.map(|r| (r[0], r[r.len() - 1])));
    }
    runs.extend(trains.iter().map(|t| (t.first, t.last)));
    let first = runs.iter().map(|r| r.0).min().unwrap_or(0);
    (first, runs.iter().map(|r| r.1).max().unwrap_or(first))
}

/// Mean flow and head of the train a row belongs to.
fn evened_out(case: &Case, trains: &[Train], i: usize) -> (f64, f64) {
    let Some(t) = trains.iter().find(|t| t.first <= i && i < t.last) else { return (f64::NAN, f64::NAN) };
    let of = |v: &[f64]| mean(v[t.first..t.last].iter().copied());
    (of(case.loop_flow_m3h), of(case.loop_head_kpa))
}
