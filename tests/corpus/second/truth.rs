//! What holds in truth, by looking at the record itself: consequences and chance, and whether what was planted shows.

use super::building::*;
use super::run::Record;
use super::terminals::Kind;

/// Share of running hours outside 70 to 120 % of best-efficiency flow at the speed of the hour from which a pump is outside its region [-].
const MOST: f64 = 0.5;
/// The curve's head over the need at design flow that counts as too high, and as too low [-].
const TOO_HIGH: f64 = 1.2;
const TOO_LOW: f64 = 0.88;
/// Need over head held in nineteen of twenty running hours, under which a setting is too high whatever it was drawn as [-].
const FAR_BELOW: f64 = 0.55;
/// The same for a rising curve below half of design flow, in forty-nine of fifty hours [-].
const LOW_END: f64 = 0.80;
/// Head off the declared curve [of design], and share of judged hours.
const OFF_HEAD: f64 = 0.08;
const OFF_SHARE: f64 = 0.15;
/// Floor above what maker and minimum flow allow [of rated], and share of running hours on it with head to spare.
const FLOOR_SPARE: f64 = 0.06;
const FLOOR_SHARE: f64 = 0.1;
/// Share of running hours with one pump too many.
const STAGED_WRONG: f64 = 0.25;
/// Share with every running pump at its top speed, the head short of what the control asks by so much of it, and one that shares the duty idle: the
/// other half of the same fault.
const SHORT_HANDED: f64 = 0.05;
const SHORT_HEAD: f64 = 0.03;
/// Water past the coils beyond what the machines need, of all [-].
const PAST: f64 = 0.10;
/// Hours a day.
const DEAD_H: f64 = 0.3;

/// Minutes after a start that are left out where a control needs time, and the least minutes that a share is taken of.
const SETTLE_MIN: usize = 30;
const LEAST_JUDGED_MIN: usize = 600;

/// Figures of a record.
#[derive(Debug, Clone, Default)]
pub struct Truth {
    /// Highest share of a pump's running hours outside the region; median of flow over best flow at speed, one a pump.
    pub outside: f64,
    pub ratio: Vec<f64>,
    pub asked_over_need: f64,
    pub need_95: f64,
    pub need_low: f64,
    pub starved: f64,
    pub off_curve: f64,
    pub on_floor: f64,
    pub floor_spare: f64,
    pub fewer: f64,
    pub short_handed: f64,
    pub past_coils: f64,
    pub dead_h: f64,
    pub extra_h: f64,
    /// Starts an hour in the busiest four hours of a day, the median day.
    pub starts_h: f64,
    /// Share of days in hand at one speed.
    pub hand_days: f64,
    /// Hours a day and middle size of swings.
    pub swing_h: f64,
    pub swing: f64,
    /// Hours a day that anything runs; share of hours with flow above half of design.
    pub run_h: f64,
    pub busy: f64,
    /// Design difference that the loop gives, flow-weighted [K].
    pub delta_k: f64,
}

/// The lowest floor that maker and minimum flow allow [of rated].
pub fn allowed_floor(b: &Building) -> f64 {
    let by_flow = b.bypass.as_ref().map_or(0.0, |y| {
        let q = y.least_flow;
        let header = (y.valve.k_open + b.k_plant) * q * q;
        b.pumps[0].speed_for(q, header).min(0.8)
    });
    by_flow.max(b.maker_least)
}

fn quantile(values: &mut [f64], share: f64) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    values.sort_by(f64::total_cmp);
    values[((values.len() - 1) as f64 * share) as usize]
}

/// Frequencies of the running minutes, and flows, sorted.
pub fn sorted(record: &Record) -> (Vec<f64>, Vec<f64>) {
    let running = |m: &usize| record.pumps.iter().any(|p| p.on[*m]);
    let top = |m: usize| record.pumps.iter().map(|p| f64::from(p.phi[m])).fold(0.0, f64::max);
    let mut phi: Vec<f64> = (0..record.flow.len()).filter(running).map(top).collect();
    let mut flow: Vec<f64> = (0..record.flow.len()).filter(running).map(|m| f64::from(record.flow[m])).collect();
    phi.sort_by(f64::total_cmp);
    flow.sort_by(f64::total_cmp);
    (phi, flow)
}

pub fn measure(b: &Building, r: &Record, span: Span) -> Truth {
    let n = r.flow.len();
    let days = (span.to - span.from) as f64 / 1440.0;
    let span = Span { from: span.from, to: span.to.min(n) };
    let minutes = || span.from..span.to;
    let running = |m: usize| r.pumps.iter().any(|p| p.on[m]);
    let mut t = Truth { asked_over_need: b.control.design_kpa / b.need_kpa, ..Truth::default() };
    if b.control.mode == Mode::Remote && b.control.reset.is_none() {
        let branch = b.coils[b.control.sensor].branch_need(b.coils[b.control.sensor].flow, 0.95);
        t.asked_over_need = b.control.set_kpa / branch;
    }
    if let Some((when, kpa)) = b.mischief.off_curve
        && when.holds(span.from)
    {
        t.asked_over_need += kpa / b.need_kpa;
    }
    for (p, pump) in r.pumps.iter().zip(&b.pumps) {
        let mut ratios: Vec<f64> = minutes()
            .filter(|m| p.on[*m] && p.speed[*m] > 0.05)
            .map(|m| f64::from(p.flow[m]) / f64::from(p.speed[m]) / pump.q_b)
            .collect();
        if ratios.len() > 120 {
            let out = ratios.iter().filter(|x| !(0.7..=1.2).contains(*x)).count() as f64 / ratios.len() as f64;
            t.outside = t.outside.max(out);
        }
        t.ratio.push(quantile(&mut ratios, 0.5));
    }
    let run: Vec<usize> = minutes().filter(|m| running(*m)).collect();
    let share = |of: &dyn Fn(usize) -> bool, all: &[usize]| {
        all.iter().filter(|m| of(**m)).count() as f64 / all.len().max(1) as f64
    };
    let settled = |m: &usize| m.checked_sub(SETTLE_MIN).is_some_and(|from| (from..*m).step_by(5).all(running));
    let controlled: Vec<usize> =
        run.iter().copied().filter(|m| !r.on_floor[*m] && !r.at_top[*m] && r.need[*m] > 0.0 && settled(m)).collect();
    let mut needs: Vec<f64> = controlled.iter().map(|m| f64::from(r.need[*m] / r.header[*m].max(1.0))).collect();
    t.need_95 = quantile(&mut needs, 0.95);
    if matches!(b.control.mode, Mode::Proportional | Mode::Quadratic) {
        let low = |m: &&usize| f64::from(r.flow[**m]) < 0.5 * b.design_flow;
        let mut needs: Vec<f64> =
            controlled.iter().filter(low).map(|m| f64::from(r.need[*m] / r.header[*m].max(1.0))).collect();
        t.need_low = if needs.len() > 1440 { quantile(&mut needs, 0.98) } else { 1.0 };
    } else {
        t.need_low = 1.0;
    }
    let late: Vec<usize> = run.iter().copied().filter(settled).collect();
    t.starved = share(&|m| r.starving[m] && !r.at_top[m], &late);
    if b.control.mode != Mode::Fixed && b.control.mode != Mode::Remote && controlled.len() > LEAST_JUDGED_MIN {
        t.off_curve =
            share(&|m| f64::from((r.held[m] - r.curve[m]).abs()) > OFF_HEAD * b.control.design_kpa, &controlled);
    }
    t.on_floor = share(&|m| r.on_floor[m] && r.held[m] > 1.05 * r.curve[m], &run);
    t.floor_spare = b.control.floor - allowed_floor(b);
    t.fewer = share(&|m| r.fewer[m], &run);
    let idle = |m: usize| r.pumps.iter().filter(|p| p.on[m]).count() < b.duty;
    t.short_handed =
        share(&|m| r.at_top[m] && idle(m) && f64::from(r.held[m]) < (1.0 - SHORT_HEAD) * f64::from(r.asked[m]), &late);
    let least = b.bypass.as_ref().map_or(0.0, |y| y.least_flow);
    let above: Vec<usize> = run.iter().copied().filter(|m| f64::from(r.flow[*m]) > 1.3 * least).collect();
    let sum = |f: &dyn Fn(usize) -> f64, all: &[usize]| all.iter().map(|m| f(*m)).sum::<f64>();
    t.past_coils = sum(&|m| f64::from(r.bypass_flow[m]), &above) / sum(&|m| f64::from(r.flow[m]), &above).max(1e-9);
    t.delta_k = sum(&|m| f64::from((r.supply[m] - r.back[m]).abs() * r.flow[m]), &above)
        / sum(&|m| f64::from(r.flow[m]), &above).max(1e-9);
    let dead = |m: usize| r.pumps.iter().zip(&b.pumps).any(|(p, q)| p.on[m] && f64::from(p.flow[m]) < 0.01 * q.q_b);
    t.dead_h = run.iter().filter(|m| dead(**m)).count() as f64 / 60.0 / days;
    t.run_h = run.len() as f64 / 60.0 / days;
    t.busy = share(&|m| f64::from(r.flow[m]) > 0.5 * b.design_flow, &run);
    t.swing_h = share(&|m| r.swinging[m], &run) * t.run_h;
    t.starts_h = starts(r, span);
    t.swing = swing(r, span);
    extra(b, r, span, days, &mut t);
    t
}

/// Running beyond schedule, frost, early start, exercise and run-on; days in hand.
fn extra(b: &Building, r: &Record, span: Span, days: f64, t: &mut Truth) {
    let mut minutes = 0usize;
    for m in span.from..span.to {
        if !r.wanted[m] || !r.pumps.iter().any(|p| p.on[m]) {
            continue;
        }
        let (day, hour) = b.site.local(m);
        let early = hour < 12.0 && b.scheduled_at(day, hour + b.optimum_h);
        let frost = b.frost_c.is_some_and(|f| f64::from(r.outdoor[m]) < f + 0.1);
        minutes += usize::from(!b.scheduled_at(day, hour) && !early && !frost);
    }
    t.extra_h = minutes as f64 / 60.0 / days;
    let hand = (span.from..span.to).filter(|m| r.hand[*m]).count() as f64;
    t.hand_days = hand / (span.to - span.from) as f64;
}

fn starts(r: &Record, span: Span) -> f64 {
    let mut daily = Vec::new();
    let mut from = span.from;
    while from + 1440 <= span.to {
        let mut best: f64 = 0.0;
        for p in &r.pumps {
            for h in 0..=20 {
                let (a, z) = (from + 60 * h, from + 60 * (h + 4) - 1);
                best = best.max(f64::from(p.starts[z] - p.starts[a]) / 4.0);
            }
        }
        daily.push(best);
        from += 1440;
    }
    quantile(&mut daily, 0.6)
}

/// Middle of the ranges of speed within the periods of a swing.
fn swing(r: &Record, span: Span) -> f64 {
    let mut ranges = Vec::new();
    let mut from = span.from;
    while from + 60 <= span.to {
        let hour: Vec<usize> = (from..from + 60).filter(|m| r.swinging[*m]).collect();
        if hour.len() == 60 {
            let top = |m: &usize| r.pumps.iter().map(|p| f64::from(p.phi[*m])).fold(0.0, f64::max);
            let high = hour.iter().map(top).fold(0.0, f64::max);
            let low = hour.iter().map(top).fold(9.0, f64::min);
            ranges.push(high - low);
        }
        from += 30;
    }
    quantile(&mut ranges, 0.5)
}

/// Codes that hold in truth.
pub fn holds(b: &Building, t: &Truth) -> Vec<&'static str> {
    let varied = b.control.mode != Mode::Fixed;
    let too_high = varied
        && b.control.reset.is_none()
        && (t.asked_over_need > TOO_HIGH || t.need_95 < FAR_BELOW || t.need_low < LOW_END);
    let rows = [
        ("outside-preferred-region", t.outside > MOST),
        ("setpoint-too-high", too_high),
        ("setpoint-too-low", varied && (t.asked_over_need < TOO_LOW || t.starved > 0.10)),
        ("off-control-curve", t.off_curve > OFF_SHARE),
        ("minimum-speed-too-high", varied && t.floor_spare > FLOOR_SPARE && t.on_floor > FLOOR_SHARE),
        ("poor-staging", t.fewer > STAGED_WRONG || varied && t.short_handed > SHORT_HANDED),
        ("low-delta-t", t.past_coils > PAST),
        ("deadheading", t.dead_h > DEAD_H),
        ("out-of-hours-running", t.extra_h > 0.5),
        ("short-cycling", t.starts_h > 2.5),
    ];
    rows.into_iter().filter(|(_, is)| *is).map(|(code, _)| code).collect()
}

/// Coils by load, largest first, until they carry half of it.
pub fn half_the_load(b: &Building, air_only: bool) -> Vec<usize> {
    let mut order: Vec<usize> = (0..b.coils.len())
        .filter(|i| b.coils[*i].panel.is_none() && (!air_only || b.coils[*i].kind == Kind::Air))
        .collect();
    order.sort_by(|a, z| b.coils[*z].load_kw.total_cmp(&b.coils[*a].load_kw));
    let all: f64 = b.coils.iter().map(|k| k.load_kw).sum();
    let mut sum = 0.0;
    let mut taken = Vec::new();
    for i in order {
        if sum >= 0.5 * all {
            break;
        }
        sum += b.coils[i].load_kw;
        taken.push(i);
    }
    taken
}
