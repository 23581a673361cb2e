//! Faults into a building, at the sizes of `severity.rs`.

mod sensors;
mod shows;

use sensors::sensor;
pub use shows::shows;

use super::super::severity::{self, at};
use super::super::{Ask, Planted, Severity, Trended};
use super::building::*;
use super::chance::Chance;
use super::draw::{Wish, select};
use super::export::SensorFault;
use super::run::{Record, play};
use super::truth;

/// What the building must have for these faults.
pub fn wish(ask: &Ask) -> Wish {
    let mut w = Wish { head_factor: 1.0, ..Wish::default() };
    for (fault, s) in &ask.plant {
        match *fault {
            "low-delta-t" => (w.valves, w.varied_speed) = (true, true),
            "stuck-bypass" => (w.valves, w.bypass, w.varied_speed) = (true, true, true),
            "minimum-speed-hunting" => (w.always_on, w.low_load, w.varied_speed, w.no_reset) = (true, true, true, true),
            "speed-hunting" => (w.varied_speed, w.no_reset) = (true, true),
            "setpoint-too-high" => {
                (w.valves, w.varied_speed, w.no_reset) = (true, true, true);
                w.head_factor = at(severity::HEAD_TOO_HIGH, *s);
            }
            "setpoint-too-low" => {
                (w.valves, w.varied_speed, w.no_reset, w.high_load) = (true, true, true, true);
                w.head_factor = at(severity::HEAD_TOO_LOW, *s);
            }
            "off-control-curve" => (w.curve_at_plant, w.varied_speed) = (true, true),
            "fixed-speed" => w.varied_speed = true,
            "out-of-hours-running" | "sensor-fault" => w.scheduled = true,
            "minimum-speed-too-high" => {
                (w.low_zero, w.low_load, w.varied_speed, w.maker_said) = (true, true, true, true);
            }
            "outside-preferred-region" => w.run_out = true,
            "poor-staging" => (w.several_duty, w.low_load, w.varied_speed) = (true, true, true),
            _ => {}
        }
    }
    w
}

/// Size the pumps by where they run, the floor and the staging by what is planted.
pub fn fit(b: &mut Building, ask: &Ask, c: &mut Chance) {
    let days = b.site.days as usize;
    let window = (days / 3) * 1440..(days / 3 + 7).min(days) * 1440;
    let region = ask.plant.iter().find(|(f, _)| *f == "outside-preferred-region");
    let above = region.is_some() && c.yes(0.3);
    let target = match region {
        Some((_, s)) if above => at(severity::FLOW_ABOVE, *s) + 0.02,
        Some((_, s)) => at(severity::FLOW_BELOW, *s) - 0.01,
        None => c.between(0.88, 1.02),
    };
    let each = b.design_flow / b.duty as f64;
    let rounds = if region.is_some() { 4 } else { 2 };
    for _ in 0..rounds {
        let record = play(b, window.clone());
        let t = truth::measure(b, &record, Span { from: 0, to: record.flow.len() });
        let middle = t.ratio.iter().copied().filter(|r| r.is_finite()).fold(0.0, f64::max);
        if middle > 0.0 {
            let (least, most) = if region.is_some() { (0.2, 1.75) } else { (0.75, 1.2) };
            let q_b = (b.pumps[0].q_b * middle / target).clamp(each / most, each / least);
            for p in &mut b.pumps {
                select(p, each, &b.control, q_b);
            }
        }
    }
    low_end(b, &play(b, window.clone()), c);
    let allowed = truth::allowed_floor(b);
    b.control.floor = b.control.floor.max((100.0 * allowed).ceil() / 100.0);
    if ask.plant.iter().any(|(f, _)| matches!(*f, "minimum-speed-hunting" | "minimum-speed-too-high" | "poor-staging"))
    {
        by_speed(b, ask, &play(b, window));
    }
}

/// The low end of a rising curve is set by trial: just above what the neediest valve asked for at little flow.
fn low_end(b: &mut Building, r: &Record, c: &mut Chance) {
    let power = match b.control.mode {
        Mode::Proportional => 1.0,
        Mode::Quadratic => 2.0,
        _ => return,
    };
    let factor = b.control.design_kpa / b.need_kpa;
    let each = b.design_flow / b.duty as f64;
    let at_pump = if b.control.at_pump { b.pumps[0].k_local } else { 0.0 };
    let mut wanted: Vec<f64> = (0..r.flow.len())
        .filter(|m| r.pumps.iter().any(|p| p.on[*m]) && r.need[*m] > 0.0)
        .map(|m| {
            let x = f64::from(r.flow[m]) / b.design_flow;
            let local = at_pump * (x * each) * (x * each);
            let bend = libm::pow(x, power).min(0.8);
            (x, (f64::from(r.need[m]) + local - b.need_kpa * bend) / (1.0 - bend))
        })
        .filter(|(x, _)| *x < 0.75)
        .map(|(_, z)| z)
        .collect();
    wanted.sort_by(f64::total_cmp);
    if let Some(z) = wanted.get(wanted.len() * 95 / 100) {
        let z = z.clamp(0.07 * b.need_kpa, b.need_zero_kpa.max(0.1 * b.need_kpa)) * c.between(1.0, 1.06);
        b.need_zero_kpa = z;
        b.control.zero_kpa = factor * z;
    }
}

fn by_speed(b: &mut Building, ask: &Ask, record: &Record) {
    let (phi, flow) = truth::sorted(record);
    let quantile =
        |v: &[f64], share: f64| v.get(((v.len().max(1) - 1) as f64 * share) as usize).copied().unwrap_or(0.5);
    let round = |x: f64| (100.0 * x).round() / 100.0;
    for (fault, s) in &ask.plant {
        match *fault {
            "minimum-speed-hunting" => {
                let share = (at(severity::FLOOR_HOURS, *s) * 1.3 / 24.0).min(0.7);
                let floor = round(quantile(&phi, share)).clamp(b.control.floor, 0.7);
                b.control.floor = floor;
                b.maker_least = b.maker_least.max(round(floor - 0.03));
            }
            "minimum-speed-too-high" => {
                let above = at(severity::FLOOR_ABOVE, *s);
                let maker = round((quantile(&phi, 0.5) - above).clamp(0.2, 0.5));
                b.maker_least = maker;
                b.control.floor = round(truth::allowed_floor(b) + above + 0.005).min(0.95);
            }
            "poor-staging" => {
                let share = at(severity::WRONG_COUNT, *s);
                let per_pump = quantile(&flow, (1.0 - share - 0.03).max(0.0)) * 0.97;
                b.mischief.staging = Some((Span { from: 0, to: usize::MAX }, per_pump));
            }
            _ => {}
        }
    }
}

/// From the first day, or from a step between a quarter and two thirds of the record.
fn span(b: &Building, c: &mut Chance, step: f64) -> (Span, bool) {
    let all = b.site.minutes();
    if !c.yes(step) {
        return (Span { from: 0, to: all }, false);
    }
    let from = (c.between(0.27, 0.64) * all as f64) as usize;
    (Span { from, to: all }, true)
}

/// Plants all that is asked; `None` where this building cannot have it.
pub fn plant(b: &mut Building, ask: &Ask, c: &mut Chance) -> Option<(Vec<Planted>, Vec<SensorFault>)> {
    let mut planted = Vec::new();
    let mut sensors = Vec::new();
    for (fault, severity) in &ask.plant {
        let (fault, s) = (*fault, *severity);
        let done = match fault {
            "low-delta-t" | "stuck-bypass" | "pump-degraded" => water(b, c, fault, s, ask.trended)?,
            "minimum-speed-hunting" | "speed-hunting" => swings(b, c, fault, s)?,
            "sensor-fault" => {
                let (one, sensor) = sensor(b, c, s, ask)?;
                sensors.push(sensor);
                one
            }
            _ => settings(b, c, fault, s)?,
        };
        let (span, step, subjects, period_min, note) = done;
        planted.push(Planted {
            fault,
            severity: s,
            subjects,
            first_ms: b.site.at_ms(span.from),
            last_ms: b.site.at_ms(span.to.min(b.site.minutes())),
            step,
            period_min,
            note,
        });
    }
    Some((planted, sensors))
}

type Done = (Span, bool, Vec<String>, f64, String);

fn pump_names(b: &Building) -> Vec<String> {
    std::iter::once("loop".to_owned()).chain(b.pumps.iter().map(|p| p.name.clone())).collect()
}

fn water(b: &mut Building, c: &mut Chance, fault: &str, s: Severity, trended: Trended) -> Option<Done> {
    let nan = f64::NAN;
    match fault {
        "low-delta-t" => {
            let (span, step) = span(b, c, 0.5);
            let air = truth::half_the_load(b, true);
            let by_air: f64 = air.iter().map(|i| b.coils[*i].load_kw).sum();
            let all: f64 = b.coils.iter().map(|k| k.load_kw).sum();
            let which = truth::half_the_load(b, false);
            let mut subjects = vec!["loop".to_owned()];
            if c.yes(0.4) && by_air >= 0.45 * all {
                let off = at(severity::AIR_SETPOINT_OFF_K, s);
                subjects.extend(air.iter().map(|i| b.coils[*i].name.clone()));
                let note = format!("leaving air set {off} K too far at {} coils", air.len());
                b.mischief.air = Some((span, air, off));
                return Some((span, step, subjects, nan, note));
            }
            if which.is_empty() {
                return None;
            }
            let left = at(severity::CONDUCTANCE_LEFT, s);
            for i in &which {
                let k = &mut b.coils[*i];
                let mut bundle = k.bundle;
                bundle.ua *= left;
                k.fouled = bundle.table();
                subjects.push(k.name.clone());
            }
            let note = format!("{} coils keep {left} of their conductance", which.len());
            b.mischief.foul = Some((span, which));
            Some((span, step, subjects, nan, note))
        }
        "stuck-bypass" => {
            b.bypass.as_ref()?;
            let shown = trended == Trended::All && c.yes(0.5);
            let (span, step) = span(b, c, if shown { 0.5 } else { 0.8 });
            let share = at(severity::BYPASS_SHARE, s);
            let header = b.control.design_kpa - b.k_plant * b.design_flow * b.design_flow;
            let conductance = share * b.design_flow / header.max(10.0).sqrt();
            b.mischief.bypass = Some((span, conductance, shown));
            let note = format!("bypass passes {share} of design flow at design head; position shows it: {shown}");
            Some((span, step, vec!["loop".into()], nan, note))
        }
        _ => {
            let (mut span, _) = span(b, c, 1.0);
            let pump = c.whole(0, b.pumps.len() - 1);
            // The one that leads at the time: a standby pump's wear shows in nothing.
            let (day, _) = b.site.local(span.from + 2880);
            let lead = if b.rotate { day.div_euclid(7).rem_euclid(b.pumps.len() as i64) as usize } else { 0 };
            let pump = if b.duty > 1 && !b.rotate { pump.min(b.duty - 1).min(lead) } else { lead };
            let step = c.yes(0.5);
            let minutes = if step { 1.0 } else { 0.6 * (span.to - span.from) as f64 };
            if !step {
                span.from = (0.25 * b.site.minutes() as f64) as usize;
            }
            let lost = at(severity::HEAD_LOST, s);
            b.mischief.wear = Some((span, pump, lost, minutes));
            let note = format!("{lost} of head lost within {:.0} h", minutes / 60.0);
            Some((span, step, vec![b.pumps[pump].name.clone()], nan, note))
        }
    }
}

fn swings(b: &mut Building, c: &mut Chance, fault: &str, s: Severity) -> Option<Done> {
    let (span, step) = span(b, c, 0.5);
    let floor = fault == "minimum-speed-hunting";
    let (low, high) = if floor { severity::FLOOR_PERIOD_MIN } else { severity::SPEED_PERIOD_MIN };
    let period_min = c.log_between(low, high);
    let (sizes, hours) = if floor {
        (severity::FLOOR_SWING, severity::FLOOR_HOURS)
    } else {
        (severity::SPEED_SWING, severity::SPEED_HOURS)
    };
    let hour = if floor || b.schedule.is_empty() { 0.0 } else { b.schedule[0].from_h + 0.5 };
    let swing = Swing { size: at(sizes, s), hours: at(hours, s), period_min, hour };
    let note = format!("{:.2} of rated, {:.0} h a day, every {period_min:.0} min", swing.size, swing.hours);
    if floor {
        b.mischief.floor_hunt = Some((span, swing));
    } else {
        b.mischief.speed_hunt = Some((span, swing));
    }
    Some((span, step, pump_names(b), period_min, note))
}

fn settings(b: &mut Building, c: &mut Chance, fault: &str, s: Severity) -> Option<Done> {
    let nan = f64::NAN;
    let all = Span { from: 0, to: b.site.minutes() };
    let the_loop = || vec!["loop".to_owned()];
    match fault {
        "setpoint-too-high" | "setpoint-too-low" => {
            let (span, step) = span(b, c, 0.35);
            let sizes = if fault == "setpoint-too-high" { severity::HEAD_TOO_HIGH } else { severity::HEAD_TOO_LOW };
            let factor = at(sizes, s);
            if step {
                b.control.earlier = Some((span.from, 1.0 / factor));
            }
            let mut subjects = the_loop();
            subjects.push(b.coils[b.control.sensor].name.clone());
            Some((span, step, subjects, nan, format!("asks {factor} of the need")))
        }
        "off-control-curve" => {
            let (span, step) = span(b, c, 0.5);
            let size = at(severity::OFF_CURVE, s) * b.control.design_kpa;
            let lowest = if b.control.mode == Mode::Constant { b.control.set_kpa } else { b.control.zero_kpa };
            let below = lowest - size > 0.15 * b.control.design_kpa && c.yes(0.5);
            b.mischief.off_curve = Some((span, if below { -size } else { size }));
            let note = format!("{:.0} kPa {}", size, if below { "below" } else { "above" });
            Some((span, step, pump_names(b), nan, note))
        }
        "fixed-speed" => {
            let share = at(severity::FIXED_DAYS, s);
            let length = (share * all.to as f64) as usize;
            let latest = all.to - length;
            let from = if share < 1.0 { (c.between(0.27, 0.64) * all.to as f64) as usize } else { 0 }.min(latest);
            let span = Span { from, to: from + length };
            let phi = (c.between(0.72, 1.0) * 50.0).round() / 50.0;
            b.mischief.hand = Some((span, phi));
            Some((span, from > 1440, pump_names(b), nan, format!("in hand at {phi}")))
        }
        "out-of-hours-running" => {
            let (span, step) = span(b, c, 0.5);
            let hours = at(severity::EXTRA_HOURS, s);
            let (before, after) = if hours > 4.0 {
                (hours * 0.3, hours * 0.7)
            } else if c.yes(0.6) {
                (0.0, hours)
            } else {
                (hours + b.optimum_h, 0.0)
            };
            // A mean over all days: the schedule has fewer days than the week.
            let worked = (0..7).filter(|d| b.schedule.iter().any(|p| p.days[*d])).count() as f64;
            let scale = 7.0 / worked.max(1.0);
            b.mischief.extra = Some((span, (before * scale).min(8.0), (after * scale).min(10.0)));
            Some((span, step, pump_names(b), nan, format!("{before:.1} h before and {after:.1} h after")))
        }
        "short-cycling" => {
            let (span, step) = span(b, c, 0.5);
            let starts = at(severity::STARTS_H, s);
            let from = if b.schedule.is_empty() { c.between(0.0, 16.0) } else { b.schedule[0].from_h + 1.0 };
            let to = (from + c.between(4.5, 8.0)).min(23.9);
            b.mischief.cycling = Some((span, starts, from, to));
            Some((span, step, pump_names(b), nan, format!("{starts} starts an hour from {from:.1} to {to:.1} h")))
        }
        "deadheading" => {
            let (span, step) = span(b, c, 0.5);
            let hours = at(severity::DEAD_HOURS, s);
            let main_shut = b.pumps.len() < 2 || c.yes(0.5);
            let pump = if main_shut { 0 } else { b.pumps.len() - 1 };
            if !main_shut {
                b.rotate = false;
            }
            let hour =
                if b.schedule.is_empty() { c.between(1.0, 14.0) } else { b.schedule[0].from_h + c.between(0.0, 3.0) };
            b.mischief.dead = Some((span, Dead { pump, hours, hour, main_shut }));
            let mut subjects = if main_shut { pump_names(b) } else { vec![b.pumps[pump].name.clone()] };
            if main_shut && !b.rotate {
                subjects = vec!["loop".into(), b.pumps[0].name.clone()];
            }
            let note = format!("{hours} h a day, {}", if main_shut { "main shut" } else { "behind its check valve" });
            Some((span, step, subjects, nan, note))
        }
        "minimum-speed-too-high" | "outside-preferred-region" | "poor-staging" => {
            let mut subjects = pump_names(b);
            if fault == "poor-staging" {
                subjects.truncate(1);
            }
            Some((all, false, subjects, nan, format!("floor {:.2}, best flow {:.1}", b.control.floor, b.pumps[0].q_b)))
        }
        _ => None,
    }
}
