//! Water that passes the loop without passing a coil, while no minimum flow asks for it.
//!
//! Three witnesses, each enough by itself: the bypass's own position; a conductance Q/sqrt(H) that rose on a day and
//! that the coils' valves do not explain; a plant difference of temperature below that of every open coil.
//! A bypass stuck open since before the record shows only to the first and the last.

use super::setpoint_too_high::trended_share;
use super::{cannot_tell, clear, lines, number};
use crate::faults::fit::Moments;
use crate::faults::spread::{deviation, median, quantile};
use crate::faults::{Case, CoilCase, Evidence, Fault, Finding, Verdict, onset, price, say};
use crate::plant::{Bypass, Characteristic, Service, Valve};
use crate::quantity::Pressure;
use crate::regimes::{Regime, ask_at};

const FAULT: Fault = Fault::StuckBypass;
/// Rows count from this multiple of the minimum flow on [-]: below it a bypass is honestly open.
const WELL_ABOVE_MINIMUM: f64 = 1.5;
/// Where no minimum flow is declared: from this share of design flow [-]; machines' minimum flows lie at 30 to 50 %.
const WITHOUT_MINIMUM: f64 = 0.5;
/// For the conductance, rows may lie lower, since an honest bypass is there on every day alike [-].
const CONDUCTANCE_FROM: f64 = 0.25;
/// A bypass this far open is open [-].
const OPEN: f64 = 0.20;
/// Open in at least this share of the rows well above minimum flow [-], over so many hours [h].
const OPEN_SHARE: f64 = 0.8;
const LEAST_OPEN_H: f64 = 12.0;
/// Smallest rise of the conductance that counts [-]: the table's shape and valve characteristics leave a few per cent.
const LEAST_RISE: f64 = 0.06;
/// Share of the spread that the step must take out of the fit [-].
const EXPLAINS: f64 = 0.25;
/// Days on each side of a step [days], and rows a day needs [h].
const LEAST_DAYS: usize = 3;
const LEAST_DAY_H: f64 = 1.0;
/// Rows of a day that take part; more add time, not knowledge.
const ROWS_A_DAY: usize = 96;
/// Rangeability of an equal-percentage valve [-]: 30 to 50 is common practice.
const RANGEABILITY: f64 = 50.0;
/// Below this a valve is shut [-].
const SHUT: f64 = 0.02;
/// Parts of the smallest resistance seen that may lie in the common pipe [-].
const COMMON_PIPE: [f64; 5] = [0.0, 0.2, 0.4, 0.6, 0.8];
/// Bypass share from which the difference of temperature must fall with it [-]: less drowns in the load's own changes.
const TELLS_IN_WATER: f64 = 0.12;
/// Part of the share by which it must fall at least [-]: valves at the same place do not mean quite the same load.
const SUPPORTS: f64 = 0.4;
/// The plant's difference over that of the coldest-working open coil, from which water went past the coils [-].
const BELOW_EVERY_COIL: f64 = 0.85;
/// Share of the coils whose leaving water must be trended for that [-], and how far open a coil counts [-].
const COILS_TRENDED: f64 = 0.8;
const COIL_OPEN: f64 = 0.15;

/// One verdict for the loop.
pub fn judge(case: &Case) -> Vec<Verdict> {
    vec![judge_loop(case)]
}

fn judge_loop(case: &Case) -> Verdict {
    match look(case) {
        Ok(found) => found.verdict(case),
        Err(verdict) => verdict,
    }
}

/// From which row on water goes past the coils, and what share of the flow (zero: not known), where it does.
pub(super) fn past_the_coils(case: &Case) -> Option<(usize, f64)> {
    look(case).ok().map(|s| (s.rows[0], s.share))
}

/// The bypass found open, or the verdict that it is not or cannot be told.
fn look(case: &Case) -> Result<Stuck, Verdict> {
    match case.plant.system.bypass {
        Some(Bypass::None) => {
            return Err(clear(FAULT, "loop", "nothing: the plant file declares that there is no bypass"));
        }
        Some(Bypass::Decoupler) => {
            let why = "a decoupler passes water by design; its flow is judged with the sources";
            return Err(cannot_tell(FAULT, "loop", &[], why));
        }
        _ => {}
    }
    let shut = match position(case) {
        Some(Answer::Stuck(found)) => return Ok(found),
        Some(Answer::Shut) => true,
        None => false,
    };
    if let Some(found) = coil_balance(case) {
        return Ok(found);
    }
    match conductance(case) {
        Conductance::Stuck(found) => Ok(found),
        Conductance::Steady { least } => Err(clear(FAULT, "loop", would_have_seen(least, shut))),
        Conductance::Unknown { .. } if shut => {
            Err(clear(FAULT, "loop", "a bypass whose position stays open well above the minimum flow"))
        }
        Conductance::Unknown { missing, why } => Err(cannot_tell(FAULT, "loop", &missing, why)),
    }
}

fn would_have_seen(least: f64, by_position: bool) -> String {
    let before = if by_position {
        "would show only where the trended position is the stem's own and not its command"
    } else {
        "would not show without its position"
    };
    let share = say::percent(least);
    format!(
        "a bypass that opened during the record and passed {share} or more of the flow; one stuck open since before it {before}"
    )
}

/// A bypass found open, by whichever witness.
struct Stuck {
    rows: Vec<usize>,
    /// Share of the loop's flow past the coils [-].
    share: f64,
    confidence: f64,
    because: String,
    evidence: Vec<Evidence>,
}

enum Answer {
    Stuck(Stuck),
    Shut,
}

impl Stuck {
    fn verdict(&self, case: &Case) -> Verdict {
        let (first, last) = (self.rows[0], self.rows[self.rows.len() - 1]);
        let waste =
            if self.share > 0.0 { price::waste(case, &self.rows, |i| without(case, i, self.share)) } else { None };
        let yearly = price::per_year(case, waste);
        let machine = match case.plant.system.service {
            Service::HeatingWater => "the boilers see warmer return water",
            _ => "the chillers see colder return water",
        };
        Verdict::Found(Box::new(Finding {
            fault: FAULT,
            subject: "loop".into(),
            urgency: price::urgency(case, waste, false),
            confidence: self.confidence,
            first_seen_ms: case.time_ms[first],
            last_seen_ms: case.time_ms[last],
            hours: self.rows.len() as f64 * case.step_h,
            waste_kwh: waste,
            waste_kwh_per_year: yearly,
            caused_by: None,
            because: format!("{} The pumps move that water for nothing, and {machine}.{}", self.because, price::money(case, yearly)),
            evidence: self.evidence.clone(),
            could_also_be: lines(&[
                "a branch without a trended valve that was opened (a new zone, a flushing line, a balancing valve)",
                "a coil valve that no longer shuts although its position says so",
                "a three-way valve whose bypass port was opened",
            ]),
            check_on_site: lines(&[
                "At load well above minimum flow, feel or clamp a thermometer on both sides of the bypass valve: with the \
                 valve shut, the pipe behind it takes the room's temperature.",
                "Compare the valve's real stem position with its command and feedback.",
                "Read the minimum-flow or differential-pressure controller's setpoint, output and hand/auto switch.",
                "With the bypass isolated by hand for a few minutes at high load, see by how much speed or flow falls.",
            ]),
            change: "Mend or recommission the bypass valve, its actuator or its controller, so that it opens for the machines' \
                     minimum flow only."
                .into(),
            caution: case.caution("Do not shut the bypass for good: at low load it keeps the machines' minimum flow."),
        }))
    }
}

/// Flow and head of a row without the bypass's share: the head follows the control curve down.
fn without(case: &Case, i: usize, share: f64) -> (f64, f64) {
    let flow = case.loop_flow_m3h[i];
    let less = flow * (1.0 - share);
    let asked = |q: f64| ask_at(case.plant, &case.plant.control, q, case.dp_setpoint_kpa.map_or(f64::NAN, |s| s[i]));
    let fall = asked(flow) - asked(less);
    let at_floor = case.all_in(i, &[Regime::SpeedFloor, Regime::FullSpeed]);
    (less, case.loop_head_kpa[i] - if fall.is_finite() && !at_floor { fall } else { 0.0 })
}

fn from_flow_m3h(case: &Case) -> f64 {
    let minimum = case.minimum_flow_m3h();
    if minimum > 0.0 { WELL_ABOVE_MINIMUM * minimum } else { WITHOUT_MINIMUM * case.design_flow_m3h() }
}

/// By the bypass's own position. `None` where it is not trended or never seen well above minimum flow.
fn position(case: &Case) -> Option<Answer> {
    let position = case.bypass_position?;
    let from = from_flow_m3h(case);
    let high: Vec<usize> =
        (0..case.rows()).filter(|i| case.loop_flow_m3h[*i] >= from && position[*i].is_finite()).collect();
    if high.len() as f64 * case.step_h < LEAST_OPEN_H {
        return None;
    }
    let begun = first_stuck(case, position, &high)?;
    let open: Vec<usize> = high.into_iter().filter(|i| *i >= begun && position[*i] >= OPEN).collect();
    if (open.len() as f64) * case.step_h < LEAST_OPEN_H {
        return Some(Answer::Shut);
    }
    let at = median(open.iter().map(|i| position[*i]));
    let share = share_by_position(case, position, &open);
    let evidence = number("bypass position well above minimum flow", at, "fraction", "0", "bypass position");
    Some(Answer::Stuck(Stuck {
        share,
        confidence: 0.9,
        because: format!(
            "The bypass stands {} open while the flow is above {}, for {:.0} h since {}.",
            say::percent(at),
            case.say_flow(from),
            open.len() as f64 * case.step_h,
            case.say_when(open[0])
        ),
        evidence: vec![evidence],
        rows: open,
    }))
}

/// What the open bypass passes, of the flow [-], where its position moved enough in the record for the conductance to
/// tell; zero where that is not known.
fn share_by_position(case: &Case, position: &[f64], open: &[usize]) -> f64 {
    let moving: Vec<&CoilCase> = case.coils.iter().filter(|c| c.valve.is_some() && modulates(c)).collect();
    let moved = deviation(&position.iter().copied().filter(|p| p.is_finite()).collect::<Vec<f64>>()) >= OPEN / 2.0;
    if !moved || moving.is_empty() {
        return 0.0;
    }
    let days = by_day(case, &conductance_rows(case, &moving));
    let Some(fit) = Fit::best(case, &moving, &days) else { return 0.0 };
    let at = 1 + moving.len();
    let shares = open.iter().filter_map(|i| row(case, &moving, *i, fit.r).map(|r| r.x[at] * fit.c[at] / r.y));
    let share = median(shares.step_by(open.len().div_ceil(2000)));
    if share.is_finite() { share.clamp(0.0, 0.9) } else { 0.0 }
}

/// First row of the last stretch of days on which the bypass stood open nearly all the time well above minimum flow;
/// the end of the record where there is none.
fn first_stuck(case: &Case, position: &[f64], high: &[usize]) -> Option<usize> {
    let mut begun = None;
    for d in case.days() {
        let mine = &high[high.partition_point(|i| *i < d.start)..high.partition_point(|i| *i < d.end)];
        if (mine.len() as f64) * case.step_h < LEAST_DAY_H {
            continue;
        }
        let open = mine.iter().filter(|i| position[**i] >= OPEN).count();
        if (open as f64) < OPEN_SHARE * mine.len() as f64 {
            // The day it opened on is only partly open: its open tail counts.
            let tail = mine.iter().rposition(|i| position[*i] < OPEN).map_or(0, |k| k + 1);
            begun = mine.get(tail).copied();
        } else if begun.is_none() {
            begun = Some(mine[0]);
        }
    }
    Some(begun.unwrap_or(case.rows()))
}

/// By the coils' leaving water: the mix cannot differ less from the supply than each of its parts.
fn coil_balance(case: &Case) -> Option<Stuck> {
    let with = case.coils.iter().filter(|c| c.return_c.is_some() && c.valve.is_some()).count();
    let plain = case.coils.iter().all(|c| !matches!(c.declared.valve, Some(Valve::ThreeWay | Valve::None)));
    if !plain || case.coils.len() < 2 || (with as f64) < COILS_TRENDED * case.coils.len() as f64 {
        return None;
    }
    let (supply, from) = (case.supply_c?, from_flow_m3h(case));
    let mut rows = Vec::new();
    let (mut judged, mut ratios) = (0usize, Vec::new());
    for i in (0..case.rows()).filter(|i| case.steady[*i] && case.loop_flow_m3h[*i] >= from) {
        let least = case.coils.iter().filter_map(|c| open_difference(case, c, supply, i)).fold(f64::NAN, f64::min);
        let ratio = case.delta_t_k(i) / least;
        if least > 1.0 && ratio.is_finite() {
            judged += 1;
            ratios.push(ratio);
            if ratio <= BELOW_EVERY_COIL {
                rows.push(i);
            }
        }
    }
    let enough = rows.len() as f64 * case.step_h >= LEAST_OPEN_H && rows.len() as f64 >= OPEN_SHARE * judged as f64;
    enough.then(|| {
        let ratio = median(ratios);
        Stuck {
            share: 1.0 - ratio,
            confidence: 0.85,
            because: format!(
                "The plant's temperature difference is {} of that of even the worst open coil, so at least {} of the water \
                 goes past the coils.",
                say::percent(ratio),
                say::percent(1.0 - ratio)
            ),
            evidence: vec![number(
                "plant difference over the smallest of the open coils",
                ratio,
                "fraction",
                format!("above {BELOW_EVERY_COIL}"),
                "supply, return and coil return temperatures",
            )],
            rows,
        }
    })
}

fn open_difference(case: &Case, coil: &CoilCase, supply: &[f64], i: usize) -> Option<f64> {
    let open = coil.valve?[i] >= COIL_OPEN;
    open.then(|| case.toward_load(supply[i], coil.return_c.map_or(f64::NAN, |r| r[i]))).filter(|d| d.is_finite())
}

enum Conductance {
    Stuck(Stuck),
    Steady { least: f64 },
    Unknown { missing: Vec<&'static str>, why: String },
}

/// By a rise of the loop's conductance that the valves do not explain.
fn conductance(case: &Case) -> Conductance {
    let unknown =
        |missing: &[&'static str], why: &str| Conductance::Unknown { missing: missing.to_vec(), why: why.into() };
    let fixed = |c: &&CoilCase| matches!(c.declared.valve, Some(Valve::PressureIndependent | Valve::Thermostatic));
    if case.coils.iter().any(|c| fixed(&c)) {
        return unknown(
            &["bypass-position"],
            "the coils' valves hold their own flow, so the loop's conductance says little",
        );
    }
    let moving: Vec<&CoilCase> = case.coils.iter().filter(|c| c.valve.is_some() && modulates(c)).collect();
    if moving.is_empty() {
        return unknown(
            &["valve-position", "bypass-position"],
            "without valve positions a bypass looks like open coils",
        );
    }
    let rows = conductance_rows(case, &moving);
    let days = by_day(case, &rows);
    if days.iter().filter(|d| !d.is_empty()).count() < 2 * LEAST_DAYS {
        return unknown(
            &["loop-flow or a reconstructable operating point"],
            "fewer than six days with flow, head and valves known",
        );
    }
    let Some(fit) = Fit::best(case, &moving, &days) else {
        return unknown(&[], "the loop's conductance does not follow the valves closely enough");
    };
    weigh(case, &moving, &days, &fit)
}

/// Whether a valve changes the loop's conductance as it moves.
fn modulates(coil: &CoilCase) -> bool {
    !matches!(coil.declared.valve, Some(Valve::ThreeWay | Valve::None))
}

fn conductance_rows(case: &Case, moving: &[&CoilCase]) -> Vec<usize> {
    let from = (CONDUCTANCE_FROM * case.design_flow_m3h()).max(case.minimum_flow_m3h() * 1.1);
    let from = if from.is_finite() { from } else { 0.3 * quantile(case.loop_flow_m3h.iter().copied(), 0.95) };
    (0..case.rows())
        .filter(|i| case.steady[*i] && case.loop_flow_m3h[*i] >= from && case.loop_head_kpa[*i] > fixed_kpa(case))
        .filter(|i| moving.iter().all(|c| c.valve.is_some_and(|v| v[*i].is_finite())))
        .collect()
}

fn fixed_kpa(case: &Case) -> f64 {
    case.plant.system.static_head.map_or(0.0, Pressure::in_kpa)
}

/// Rows of each day, thinned evenly; empty where there are too few.
fn by_day(case: &Case, rows: &[usize]) -> Vec<Vec<usize>> {
    let of = |d: std::ops::Range<usize>| {
        let mine = &rows[rows.partition_point(|i| *i < d.start)..rows.partition_point(|i| *i < d.end)];
        let enough = mine.len() as f64 * case.step_h >= LEAST_DAY_H;
        if enough { mine.iter().copied().step_by(mine.len().div_ceil(ROWS_A_DAY)).collect() } else { Vec::new() }
    };
    case.days().into_iter().map(of).collect()
}

/// How much a valve lets through at this opening, of fully open [-]: equal-percentage unless declared linear.
fn through(coil: &CoilCase, opening: f64) -> f64 {
    if opening < SHUT {
        return 0.0;
    }
    let x = opening.min(1.0);
    if coil.declared.characteristic == Some(Characteristic::Linear) { x } else { RANGEABILITY.powf(x - 1.0) }
}

/// One row of the fit: what passes each way in, conductance and its weight.
struct Row {
    x: Vec<f64>,
    y: f64,
}

/// The field's conductance behind the common pipe, 1/sqrt(H/Q^2 - r), is the sum of what the branches let through;
/// each row is weighted to count relative errors of the loop's conductance.
fn row(case: &Case, moving: &[&CoilCase], i: usize, r: f64) -> Option<Row> {
    let resistance = (case.loop_head_kpa[i] - fixed_kpa(case)) / case.loop_flow_m3h[i].powi(2);
    let behind = resistance - r;
    if !(behind > 0.05 * resistance) {
        return None;
    }
    let field = behind.powf(-0.5);
    let weight = behind / resistance / field;
    let mut x = vec![weight];
    x.extend(moving.iter().map(|c| through(c, c.valve.map_or(f64::NAN, |v| v[i])) * weight));
    if let Some(bypass) = case.bypass_position {
        x.push(bypass[i].max(0.0) * weight);
    }
    x.iter().all(|v| v.is_finite()).then_some(Row { x, y: field * weight })
}

/// A fit with a step on a day.
struct Fit {
    r: f64,
    at: usize,
    /// Constant, branches, bypass by position, step.
    c: Vec<f64>,
    with: f64,
    without: f64,
}

impl Fit {
    fn best(case: &Case, moving: &[&CoilCase], days: &[Vec<usize>]) -> Option<Self> {
        let seen =
            days.iter().flatten().map(|i| (case.loop_head_kpa[*i] - fixed_kpa(case)) / case.loop_flow_m3h[*i].powi(2));
        let smallest = quantile(seen, 0.02);
        let fits = COMMON_PIPE.iter().filter_map(|p| Self::at_pipe(case, moving, days, p * smallest));
        fits.min_by(|a, b| a.with.total_cmp(&b.with))
    }

    fn at_pipe(case: &Case, moving: &[&CoilCase], days: &[Vec<usize>], r: f64) -> Option<Self> {
        let columns = 1 + moving.len() + usize::from(case.bypass_position.is_some());
        let daily: Vec<Moments> = days
            .iter()
            .map(|d| {
                let mut m = Moments::new(columns);
                d.iter().filter_map(|i| row(case, moving, *i, r)).for_each(|row| m.add(&row.x, row.y));
                m
            })
            .collect();
        let filled: Vec<usize> = (0..daily.len()).filter(|d| daily[*d].n > 0.0).collect();
        if filled.len() < 2 * LEAST_DAYS {
            return None;
        }
        let all = with_step(&daily, daily.len());
        let total = all.residual(&all.not_negative());
        let try_at = |k: &usize| {
            let m = with_step(&daily, filled[*k]);
            let c = m.not_negative();
            (filled[*k], m.residual(&c), c)
        };
        let stride = (filled.len() / 40).max(1);
        let coarse: Vec<usize> = (LEAST_DAYS..=filled.len() - LEAST_DAYS).step_by(stride).collect();
        let tried = coarse.iter().map(|k| (*k, try_at(k).1));
        let near = tried.min_by(|a, b| a.1.total_cmp(&b.1))?.0;
        let fine = near.saturating_sub(stride).max(LEAST_DAYS)..=(near + stride).min(filled.len() - LEAST_DAYS);
        let (at, with, c) = fine.map(|k| try_at(&k)).min_by(|a, b| a.1.total_cmp(&b.1))?;
        let n: f64 = daily.iter().map(|m| m.n).sum();
        Some(Self { r, at, c, with: with / n, without: total / n })
    }
}

/// Sums over all days with one more column: the constant's, from a day on.
fn with_step(daily: &[Moments], at: usize) -> Moments {
    let k = daily[0].xy.len();
    let mut m = Moments::new(k + 1);
    for (d, day) in daily.iter().enumerate() {
        for i in 0..k {
            for j in 0..k {
                m.xx[i][j] += day.xx[i][j];
            }
            m.xy[i] += day.xy[i];
            if d >= at {
                m.xx[k][i] += day.xx[0][i];
                m.xx[i][k] += day.xx[i][0];
            }
        }
        if d >= at {
            m.xx[k][k] += day.xx[0][0];
            m.xy[k] += day.xy[0];
        }
        m.yy += day.yy;
        m.n += day.n;
    }
    m
}

/// Whether the step is large, sure, lasting, and not contradicted by the water's temperature.
fn weigh(case: &Case, moving: &[&CoilCase], days: &[Vec<usize>], fit: &Fit) -> Conductance {
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
    if contradicted || (!supported && trended_share(case) < COILS_TRENDED) {
        return Conductance::Unknown {
            missing: vec!["valve-position of every branch", "bypass-position"],
            why: format!(
                "{} more water passes since {} than the valves explain, but the return temperature does not show that it \
                 passes the coils by",
                say::percent(share),
                case.say_when(rows[0])
            ),
        };
    }
    Conductance::Stuck(stuck(case, rows, share, fell, supported, found.map_or(0.0, |s| s.t)))
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
            "Since {} about {} of the flow passes that no coil valve explains{}.",
            case.say_when(rows[0]),
            say::percent(share),
            if supported {
                format!(", and the temperature difference fell to {} of what it was at like valves", say::percent(fell))
            } else {
                String::new()
            }
        ),
        evidence,
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
