//! Pumps that run when the loop is meant to stand.
//!
//! Judged on what lies between two schedules: each run outside is held against what a healthy plant does there (run-on after the stop, an early start that varies,
//! minutes of exercise, frost protection). The decision a reader would question: a start before the schedule counts only where it is the same every
//! morning and longer than an hour, since an optimum start varies with the weather and the weekday. `out-of-hours-running/runs.rs` sorts the runs.

use super::{cannot_tell, clear, lines, number};
use crate::faults::spread::median;
use crate::faults::{Case, Estimate, Fault, Finding, Shown, Urgency, Verdict, What, onset, price};
use crate::plant::{Role, Serves, Service};
use runs::{Kind, Outside};

#[path = "out-of-hours-running/runs.rs"]
mod runs;

const FAULT: Fault = Fault::OutOfHoursRunning;
/// Hours outside the schedule with a known state that the record must have [h].
const LEAST_OUTSIDE_H: f64 = 12.0;
/// Found from so many hours, on so many days, and so much a day since it began [h], [days], [h].
const LEAST_H: f64 = 5.0;
const LEAST_DAYS: usize = 3;
const LEAST_MEAN_H: f64 = 0.5;
/// Below this outdoor temperature an undeclared frost protection may run [degC]: settings lie at 1 to 4 (common practice, no source).
const FROST_C: f64 = 4.0;
/// Share of the hours in the cold that makes it look like frost protection, and of mild hours that still run [-].
const IN_THE_COLD: f64 = 0.8;
const IN_THE_MILD: f64 = 0.1;
/// Where frost cannot be seen, the daily hours must be this alike: within so many hours of their middle, on that share of the days [h], [-].
const ALIKE_H: f64 = 0.5;
const ALIKE_SHARE: f64 = 0.7;
/// Early starts up to this long are within what optimum starts are set to [h] (common practice, no source).
const OPTIMUM_START_H: f64 = 1.75;
/// Share of the hours in which coils or machines call (or stand) for it to matter [-].
const MOSTLY: f64 = 0.5;
/// A valve this far open calls for water [-].
const CALLS: f64 = 0.10;
/// Power meters' scale, 95 % [-].
const METER: f64 = 0.05;
/// Share of the hours whose power must be known for a price [-].
const PRICEABLE: f64 = 0.8;

/// One verdict for the loop.
pub fn judge(case: &Case) -> Vec<Verdict> {
    vec![missing(case).unwrap_or_else(|| judge_loop(case))]
}

fn missing(case: &Case) -> Option<Verdict> {
    let tell = |missing: &[&str], why: String| Some(cannot_tell(FAULT, "loop", missing, why));
    if case.plant.schedule.is_empty() {
        return tell(
            &["[[schedule]]"],
            format!("no schedule is declared: nothing says when the loop is meant to stand still{}", stands_idle(case)),
        );
    }
    if case.plant.system.serves == Serves::DomesticHotWater {
        return tell(
            &[],
            "domestic hot water: circulation keeps the water safe, and its hours are not judged here".into(),
        );
    }
    let outside =
        (0..case.rows()).filter(|&i| !case.in_schedule[i] && runs::on(case, i).is_some()).count() as f64 * case.step_h;
    if outside < LEAST_OUTSIDE_H {
        let why = format!("fewer than {LEAST_OUTSIDE_H:.0} h outside the schedule with a known pump state");
        return tell(&["pump-status"], why);
    }
    None
}

/// Without a schedule: hours in which pumps run while the plant is not enabled or every trended fan stands.
fn stands_idle(case: &Case) -> String {
    let hours =
        (0..case.rows()).filter(|&i| runs::on(case, i) == Some(true) && idle(case, i)).count() as f64 * case.step_h;
    if hours < LEAST_H {
        return String::new();
    }
    format!("; pumps ran for {hours:.0} h while the plant was not enabled or every trended fan stood")
}

/// Whether something trended says that nobody needs the loop now.
fn idle(case: &Case, i: usize) -> bool {
    let disabled = case.trend(Role::PlantEnable, None).is_some_and(|e| e[i] < 0.5);
    let fans = || case.coils.iter().filter_map(|c| c.fan_on).map(|f| f[i]).filter(|f| f.is_finite());
    disabled || (fans().count() > 0 && fans().all(|f| f < 0.5))
}

/// Whether something trended says that the loop is called for now.
fn called(case: &Case, i: usize) -> bool {
    let enabled = case.trend(Role::PlantEnable, None).is_some_and(|e| e[i] >= 0.5);
    let machine = case.trends.iter().filter(|t| t.role == Role::SourceStatus).any(|t| t.values[i] >= 0.5);
    let coil =
        case.coils.iter().any(|c| c.fan_on.is_some_and(|f| f[i] >= 0.5) && c.valve.is_some_and(|v| v[i] > CALLS));
    enabled || machine || coil
}

fn judge_loop(case: &Case) -> Verdict {
    let outside = Outside::sort(case);
    let rows = outside.rows(case);
    let first = first_row(&outside, &rows);
    let rows: Vec<usize> = rows.into_iter().filter(|i| *i >= first).collect();
    let hours = rows.len() as f64 * case.step_h;
    let days = outside.days.iter().zip(&outside.excess_h).filter(|(d, h)| d.end > first && **h > 0.0).count();
    let since = first.min(case.rows() - 1);
    let span = f64::from(case.local_day[case.rows() - 1] - case.local_day[since]) + 1.0;
    if hours < LEAST_H || days < LEAST_DAYS || hours / span < LEAST_MEAN_H {
        return clear(
            FAULT,
            "loop",
            format!(
                "pumps running outside the schedule for {LEAST_MEAN_H:.1} h a day and {LEAST_H:.0} h in all, beyond run-on, early starts of \
                 up to {:.0} h that vary, exercise and frost protection",
                runs::EARLIEST_H
            ),
        );
    }
    if outside.mostly() == Kind::BeforeStart && hours / days as f64 <= OPTIMUM_START_H {
        let why = format!(
            "pumps start {:.1} h before the schedule on {days} days: an optimum start at its limit and a wrong time program look the same",
            hours / days as f64
        );
        return cannot_tell(FAULT, "loop", &["[[schedule]] with the earliest start that is allowed"], why);
    }
    frost_hides(case, &outside, &rows).unwrap_or_else(|| found(case, &outside, &rows, days))
}

/// The first row of it: by change point on the daily hours, else the first run's.
fn first_row(outside: &Outside, rows: &[usize]) -> usize {
    let Some(&first) = rows.first() else { return 0 };
    let step = onset::step(&outside.excess_h, std::slice::from_ref(&outside.free_h), 2);
    let Some(step) = step.filter(|s| s.t >= onset::BELIEVED && s.size >= LEAST_MEAN_H && s.before < s.size / 2.0)
    else {
        return first;
    };
    let from = outside.days[step.at].start;
    rows.iter().copied().find(|i| *i >= from).unwrap_or(first)
}

/// Running that frost protection would explain, declared or not, where the record cannot tell them apart.
fn frost_hides(case: &Case, outside: &Outside, rows: &[usize]) -> Option<Verdict> {
    let declared = case.plant.system.frost_protection_below.is_some();
    let Some(outdoor) = case.outdoor_c else {
        let daily: Vec<f64> = outside.excess_h.iter().copied().filter(|h| *h > 0.0).collect();
        let middle = median(daily.iter().copied());
        let alike =
            daily.iter().filter(|h| (**h - middle).abs() <= ALIKE_H).count() as f64 >= ALIKE_SHARE * daily.len() as f64;
        // In a cold spell frost protection runs every night through, as alike as the nights are long.
        let through = outside.mostly() == Kind::Through;
        let why = if through {
            "frost protection is declared, outdoor air is not trended, and the pumps run through from one schedule to the next, as they would in a cold spell"
        } else {
            "frost protection is declared, outdoor air is not trended, and the hours differ from day to day as they would with the weather"
        };
        return (declared && (through || !alike)).then(|| cannot_tell(FAULT, "loop", &["outdoor-temperature"], why));
    };
    if declared {
        return None;
    }
    let cold = |i: &usize| outdoor[*i] < FROST_C;
    let in_cold = rows.iter().filter(|i| cold(i)).count() as f64;
    let free = || (0..case.rows()).filter(|&i| !case.in_schedule[i] && runs::on(case, i).is_some());
    let mild = free().filter(|i| outdoor[*i] >= FROST_C).count() as f64;
    let mild_running = rows.iter().filter(|i| outdoor[**i] >= FROST_C).count() as f64;
    let looks = in_cold >= IN_THE_COLD * rows.len() as f64
        && mild * case.step_h >= LEAST_OUTSIDE_H
        && mild_running <= IN_THE_MILD * mild;
    let why = format!(
        "the pumps run outside the schedule only while it is below {FROST_C:.0} degC: frost protection that is not declared would look so"
    );
    looks.then(|| cannot_tell(FAULT, "loop", &["[loop].frost_protection_below"], why))
}

fn found(case: &Case, outside: &Outside, rows: &[usize], days: usize) -> Verdict {
    let hours = rows.len() as f64 * case.step_h;
    let share = |what: &dyn Fn(usize) -> bool| rows.iter().filter(|&&i| what(i)).count() as f64 / rows.len() as f64;
    let (calls, idles) = (share(&|i| called(case, i)), share(&|i| idle(case, i)));
    let waste = energy(case, rows);
    let stake =
        case.plant.system.serves != Serves::Comfort || case.plant.coils.iter().any(|c| c.serves != Serves::Comfort);
    let urgency = price::urgency(case, waste, false);
    let per_day = hours / days.max(1) as f64;
    let per_year = price::per_year(case, waste);
    Verdict::Found(Box::new(Finding {
        fault: FAULT,
        subject: "loop".into(),
        urgency: if stake { Urgency::Watch } else { urgency },
        confidence: confidence(calls, idles, days, stake, outside.mostly()),
        first_seen_ms: case.time_ms[rows[0]],
        last_seen_ms: case.time_ms[rows[rows.len() - 1]],
        hours,
        waste_kwh: waste,
        waste_kwh_per_year: per_year,
        caused_by: None,
        because: format!(
            "Pumps ran for {hours:.0} h outside the declared schedule, {per_day:.1} h on each of {days} days since {}, {}; frost \
             protection, run-on of up to half an hour, starts that vary and exercise are not counted.{}",
            case.say_when(rows[0]),
            words(outside.mostly()),
            if calls >= MOSTLY { " Coils or machines called for water in most of them." } else { "" },
        ),
        evidence: vec![
            number(
                "hours outside the schedule",
                hours,
                "h",
                format!("below {LEAST_H:.0}"),
                "pump states against the declared schedule",
            ),
            number("hours on each such day", per_day, "h", format!("below {LEAST_MEAN_H:.1}"), "the same"),
            number(
                "share of them in which coils or machines call",
                calls,
                "fraction",
                "none",
                "plant-enable, source-status, fans and valves",
            ),
            number("share of them in which plant or fans stand", idles, "fraction", "-", "plant-enable and fan-status"),
        ],
        could_also_be: could_be(case, calls, stake),
        check_on_site: lines(&[
            "Read the time program in the controller, with its exceptions and holidays, and compare it with the plant file.",
            "Ask who uses the building at those hours, and which machine or zone may call the pumps on.",
            "Look for an override: the pump's start command held on, a hand switch, an exercise or frost function that does not end.",
        ]),
        change: if stake {
            "Ask whoever answers for the load whether these hours are needed; only then bring program and plant file in line.".into()
        } else {
            "Stop the pumps outside the schedule, or, if those hours are meant, write them into the plant file.".into()
        },
        shown: Shown::new(rows, What::OutOfHours),
        caution: case
            .caution("Frost protection, and the cooling down of a boiler or chiller after its stop, must go on."),
    }))
}

fn confidence(calls: f64, idles: f64, days: usize, stake: bool, kind: Kind) -> f64 {
    let mut c: f64 = 0.84 + 0.06 * (days as f64 / 10.0).min(1.0);
    c += if idles >= MOSTLY { 0.05 } else { 0.0 };
    c -= if calls >= MOSTLY { 0.20 } else { 0.0 };
    c -= if stake { 0.15 } else { 0.0 };
    // The same start every morning may still be an optimum start at its earliest limit.
    c -= if kind == Kind::BeforeStart { 0.15 } else { 0.0 };
    c.clamp(0.5, 0.95)
}

/// All the energy of those hours [kWh].
fn energy(case: &Case, rows: &[usize]) -> Option<Estimate> {
    let known: Vec<f64> = rows.iter().map(|&i| case.loop_power_kw[i]).filter(|p| p.is_finite()).collect();
    if known.is_empty() || (known.len() as f64) < PRICEABLE * rows.len() as f64 {
        return None;
    }
    let mean = known.iter().sum::<f64>() / known.len() as f64;
    let estimate = mean * rows.len() as f64 * case.step_h;
    // The rows without a known power may differ by as much as all of it.
    let unknown = 1.0 - known.len() as f64 / rows.len() as f64;
    let half = estimate * METER.hypot(unknown);
    Some(Estimate { estimate, low: estimate - half, high: estimate + half })
}

fn could_be(case: &Case, calls: f64, stake: bool) -> Vec<String> {
    let mut out = Vec::new();
    if calls >= MOSTLY {
        out.push("a schedule that differs from the plant file: coils or machines call at those hours".to_owned());
    } else {
        out.push("a schedule that differs from the plant file (an event, cleaning, a longer season)".to_owned());
    }
    if case.plant.system.frost_protection_below.is_none() && case.plant.system.service != Service::CondenserWater {
        out.push("frost protection or a setback temperature held at night, neither of which is declared".to_owned());
    }
    if stake {
        out.push("hours that the process or the critical load needs".to_owned());
    }
    out.push("an optimum start at its earliest limit every morning".to_owned());
    out
}

/// What kinds of run make most of it, in words.
fn words(kind: Kind) -> &'static str {
    match kind {
        Kind::AfterStop => "mostly after the stop",
        Kind::BeforeStart => "mostly before the start, at the same time every morning",
        Kind::Through => "mostly from one schedule through to the next",
        Kind::Between => "mostly with a start and stop of their own",
    }
}
