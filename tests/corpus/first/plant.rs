//! Faults planted: what each asks of the plant, what it does, and what is confessed about it. Sizes are those of severity.rs.

use super::super::severity::{self, at};
use super::super::{Ask, Planted, Severity, Trended};
use super::effects::{Daily, Effects, Hunts};
use super::plan::{Curve, Mode, Needs, Plan, quantile};
use super::sensors::{Key, Wrong};
use super::terminals::{Body, Port};
use crate::simulator::calendar::DAY_MS;
use crate::simulator::noise::Rng;

const HOUR_MS: f64 = 3_600_000.0;

/// Choices that are made before there is a plant.
#[derive(Debug, Clone)]
pub struct Intent {
    pub needs: Needs,
    /// One a fault asked, in order.
    pub each: Vec<Choice>,
}

#[derive(Debug, Clone)]
pub struct Choice {
    pub fault: &'static str,
    pub severity: Severity,
    /// Begins inside the record, and where [-].
    pub step: bool,
    pub onset: f64,
    /// A draw that splits the fault into its kinds [0 to 1].
    pub kind: f64,
}

/// What is wanted of the plant for these faults; `None` where they cannot stand together.
pub fn intend(ask: &Ask, rng: &mut Rng) -> Option<Intent> {
    let mut needs = Needs::default();
    let mut each = Vec::new();
    for (fault, severity) in &ask.plant {
        let c = Choice {
            fault,
            severity: *severity,
            step: rng.chance(0.5),
            onset: rng.between(0.25, 0.66),
            kind: rng.unit(),
        };
        want(&mut needs, &c, ask);
        each.push(c);
    }
    let clash = needs.low_floor && needs.on_floor.is_some() || needs.tight && needs.bypass == Some(true);
    (!clash).then_some(Intent { needs, each })
}

const WITH_HEAD: &[Mode] = &[Mode::Constant, Mode::Proportional, Mode::Quadratic];
const LEVEL: &[Mode] = &[Mode::Constant];

fn want(n: &mut Needs, c: &Choice, ask: &Ask) {
    let severe = c.severity == Severity::Severe;
    match c.fault {
        "low-delta-t" => {
            n.coils_only = true;
            n.hot = true;
        }
        "stuck-bypass" => n.bypass = Some(true),
        "minimum-speed-hunting" => {
            n.on_floor = Some(0.93);
            n.plain = true;
            n.always = n.always.or(severe.then_some(true));
        }
        "speed-hunting" => {
            n.low_floor = true;
            n.always = n.always.or(severe.then_some(true));
        }
        "setpoint-too-high" => {
            n.head_over_need = Some(at(severity::HEAD_TOO_HIGH, c.severity));
            n.plain = true;
            // A record of the season: what design flow needs does not show in a mild month.
            n.hot = true;
            n.changed_ms = c.step.then_some((c.onset * f64::from(ask.days)) as i64 * DAY_MS + 10 * 3_600_000);
            n.in_hand = 0.0;
        }
        "setpoint-too-low" => {
            n.head_over_need = Some(at(severity::HEAD_TOO_LOW, c.severity));
            n.plain = true;
            n.hot = true;
            n.coils_only = true;
            n.in_hand = 0.25;
        }
        "off-control-curve" => {
            n.plain = true;
            n.low_floor = true;
            n.modes = Some(if down(c) && c.severity != Severity::Mild { LEVEL } else { WITH_HEAD });
            n.in_hand = if down(c) { 0.0 } else { at(severity::OFF_CURVE, c.severity) };
        }
        "out-of-hours-running" => n.always = Some(false),
        "pump-degraded" => n.parallel = n.parallel.or(Some(c.kind < 0.4)),
        "short-cycling" => n.parallel = Some(false),
        "minimum-speed-too-high" => {
            n.floor_above = at(severity::FLOOR_ABOVE, c.severity);
            n.on_floor = Some(n.on_floor.unwrap_or(0.3 + 0.5 * c.kind));
            n.plain = true;
        }
        "outside-preferred-region" => {
            let below = c.kind < 0.65;
            let sizes = if below { severity::FLOW_BELOW } else { severity::FLOW_ABOVE };
            n.place = Some(at(sizes, c.severity));
            n.parallel = Some(false);
            n.low_floor = below;
        }
        "poor-staging" => n.parallel = Some(true),
        "deadheading" => {
            if c.kind < 0.5 {
                n.tight = true;
                n.parallel = Some(false);
            } else {
                n.parallel = Some(true);
            }
        }
        "sensor-fault" => {
            // Seen with the pumps off, where there is no second witness.
            n.always = Some(false);
        }
        _ => {}
    }
    if c.fault == "pump-degraded" && n.parallel == Some(false) {
        n.pumps = Some(1);
    }
}

fn down(c: &Choice) -> bool {
    c.kind < 0.35
}

/// The record's faults.
#[derive(Debug, Clone, Default)]
pub struct Done {
    pub effects: Effects,
    pub planted: Vec<Planted>,
    pub wrong: Vec<Wrong>,
    /// Hours a day and the like that the truth must show, by fault.
    pub also: Vec<&'static str>,
}

struct Site<'a> {
    plan: &'a Plan,
    ask: &'a Ask,
    start: i64,
    end: i64,
    offset_ms: i64,
}

/// `None` where this plant cannot have it.
pub fn plant(plan: &Plan, intent: &Intent, ask: &Ask, rng: &mut Rng) -> Option<Done> {
    let start = plan.start_ms;
    let site =
        Site { plan, ask, start, end: start + i64::from(plan.days) * DAY_MS, offset_ms: plan.zone.offset_ms(start) };
    let mut done = Done::default();
    for c in &intent.each {
        site.one(c, &mut done, rng)?;
    }
    Some(done)
}

impl Site<'_> {
    fn onset(&self, c: &Choice, rng: &mut Rng) -> i64 {
        let day = (c.onset * f64::from(self.plan.days)) as i64;
        let mut day = day.max(1);
        // On a working day, between nine and three.
        while !self.plan.hours.works(&self.plan.zone.local(self.start + day * DAY_MS + DAY_MS / 2), day) {
            day += 1;
        }
        self.start + day * DAY_MS + (rng.between(9.0, 15.0) * HOUR_MS) as i64
    }

    fn from(&self, c: &Choice, rng: &mut Rng) -> i64 {
        let onset = self.onset(c, rng);
        if c.step { onset } else { self.start - 2 * DAY_MS }
    }

    fn pumps(&self) -> Vec<String> {
        let mut names: Vec<String> = self.plan.station.units.iter().map(|u| u.name.clone()).collect();
        names.push("loop".to_owned());
        names
    }

    fn confess(&self, c: &Choice, from: i64, step: bool, subjects: Vec<String>, note: String) -> Planted {
        Planted {
            fault: c.fault,
            severity: c.severity,
            subjects,
            first_ms: from.max(self.start),
            last_ms: self.end,
            step: step && from > self.start,
            period_min: f64::NAN,
            note,
        }
    }

    /// Hours of the day in which the loop runs: from, and how long.
    fn running(&self) -> (f64, f64) {
        let h = &self.plan.hours;
        if h.always { (0.0, 24.0) } else { (h.from, h.to - h.from) }
    }

    fn one(&self, c: &Choice, done: &mut Done, rng: &mut Rng) -> Option<()> {
        let from = self.from(c, rng);
        let span = (from, self.end + DAY_MS);
        let size = |sizes| at(sizes, c.severity);
        let loop_only = vec!["loop".to_owned()];
        let planted = match c.fault {
            "low-delta-t" => self.low_delta_t(c, from, done, rng)?,
            "stuck-bypass" => {
                let share = size(severity::BYPASS_SHARE);
                let pressure =
                    (self.plan.design_head() - self.plan.pipes.common * self.plan.design_flow.powi(2)).max(10.0);
                let stroke = share * self.plan.design_flow / (self.plan.pipes.bypass * pressure.sqrt());
                done.effects.bypass = Some((span, stroke));
                done.effects.bypass_shown = c.kind < 0.6;
                let note =
                    format!("passes {share} of design flow at design head, shown: {}", done.effects.bypass_shown);
                self.confess(c, from, c.step, loop_only, note)
            }
            "minimum-speed-hunting" | "speed-hunting" => self.hunting(c, from, done, rng)?,
            "setpoint-too-high" | "setpoint-too-low" => {
                let from = self.plan.before.map_or(self.start, |b| b.0);
                let ratio = self.plan.design_head() / self.plan.design_need;
                self.confess(
                    c,
                    from,
                    self.plan.before.is_some(),
                    loop_only,
                    format!("asks {ratio:.2} of the need at design flow"),
                )
            }
            "off-control-curve" => self.off_curve(c, from, done)?,
            "fixed-speed" => self.fixed(c, done, rng)?,
            "out-of-hours-running" => {
                let hours = size(severity::EXTRA_HOURS);
                let (_, running) = self.running();
                if hours + running + self.plan.hours.lead > 23.5 {
                    return None;
                }
                let early = c.kind < 0.25 && hours < 4.0;
                done.effects.extra = Some((span, hours, early));
                done.effects.extra_open = rng.chance(0.5);
                let note = format!("{hours} h {} the schedule", if early { "before" } else { "after" });
                self.confess(c, from, c.step, self.pumps(), note)
            }
            "pump-degraded" => self.worn(c, done, rng),
            "short-cycling" => self.cycling(c, span, done, rng)?,
            "sensor-fault" => self.sensor(c, done, rng)?,
            "minimum-speed-too-high" => {
                let note = format!("floor {} where {:?} would do", self.plan.floor, self.plan.allowed);
                self.confess(c, self.start, false, self.pumps(), note)
            }
            "outside-preferred-region" => {
                self.confess(c, self.start, false, self.pumps(), "pump of the wrong size".to_owned())
            }
            "poor-staging" => {
                let share = size(severity::WRONG_COUNT);
                let step = if c.kind < 0.8 { 1 } else { -1 };
                done.effects.staging = Some((span, step, share));
                self.confess(c, from, c.step, self.pumps(), format!("{step:+} pump in {share} of the hours"))
            }
            "deadheading" => self.dead(c, span, done, rng)?,
            _ => return None,
        };
        done.planted.push(planted);
        Some(())
    }

    /// Terminals that carry half the design load.
    fn half(&self, rng: &mut Rng) -> Option<Vec<usize>> {
        let mut order: Vec<usize> = (0..self.plan.terminals.len())
            .filter(|k| {
                let t = &self.plan.terminals[*k];
                t.port != Port::ThreeWay && matches!(t.body, Body::Coil { .. })
            })
            .collect();
        for k in (1..order.len()).rev() {
            order.swap(k, (rng.unit() * (k + 1) as f64) as usize);
        }
        let total: f64 = self.plan.terminals.iter().map(|t| t.design_kw).sum();
        let (mut sum, mut chosen) = (0.0, Vec::new());
        for k in order {
            if sum >= 0.45 * total {
                break;
            }
            sum += self.plan.terminals[k].design_kw;
            chosen.push(k);
        }
        (sum >= 0.40 * total).then_some(chosen)
    }

    fn low_delta_t(&self, c: &Choice, from: i64, done: &mut Done, rng: &mut Rng) -> Option<Planted> {
        let half = self.half(rng)?;
        let span = (from, self.end + DAY_MS);
        let mut subjects: Vec<String> = half.iter().map(|k| self.plan.terminals[*k].name.clone()).collect();
        subjects.push("loop".to_owned());
        let note = if c.kind < 0.65 {
            let left = at(severity::CONDUCTANCE_LEFT, c.severity);
            done.effects.foul = Some((span, half, left));
            format!("coils fouled to {left} of their conductance")
        } else {
            let off = at(severity::AIR_SETPOINT_OFF_K, c.severity);
            done.effects.air_off = Some((span, half, if self.plan.heating { off } else { -off }));
            format!("leaving air set {off} K beyond what the coils can")
        };
        Some(self.confess(c, from, c.step, subjects, note))
    }

    fn hunting(&self, c: &Choice, from: i64, done: &mut Done, rng: &mut Rng) -> Option<Planted> {
        if done.effects.hunts.is_some() {
            return None;
        }
        let off_floor = c.fault == "minimum-speed-hunting";
        let (swings, hours, (least, most)) = if off_floor {
            (severity::FLOOR_SWING, severity::FLOOR_HOURS, severity::FLOOR_PERIOD_MIN)
        } else {
            (severity::SPEED_SWING, severity::SPEED_HOURS, severity::SPEED_PERIOD_MIN)
        };
        // Four in five are long enough for the rows asked.
        let shows = 5.0 * f64::from(self.ask.minutes) * 1.12;
        let least = if rng.chance(0.8) && shows < most { shows.max(least) } else { least };
        let period = libm::exp(rng.between(libm::log(least), libm::log(most)));
        let (hours, swing) = (at(hours, c.severity), at(swings, c.severity));
        let (begins, runs) = self.running();
        if hours > runs - 0.7 {
            return None;
        }
        if !off_floor && self.plan.floor + swing + 0.04 > 0.985 {
            return None;
        }
        let from_h = begins + 0.6 + rng.unit() * (runs - hours - 0.7).max(0.0);
        let daily = Daily { span: (from, self.end + DAY_MS), from: from_h, hours, offset_ms: self.offset_ms };
        done.effects.hunts = Some((daily, Hunts { off_floor, swing, period }));
        let note = format!("swing {swing}, period {period:.0} min, {hours} h a day from {from_h:.1} h");
        Some(Planted { period_min: period, ..self.confess(c, from, c.step, self.pumps(), note) })
    }

    fn off_curve(&self, c: &Choice, from: i64, done: &mut Done) -> Option<Planted> {
        let size = at(severity::OFF_CURVE, c.severity);
        let declared = self.plan.curve;
        let moved = if down(c) { -size } else { size } * declared.design;
        let level = declared.mode != Mode::Constant && !down(c) && c.kind > 0.7;
        let real = if level {
            let flows = self.plan.samples.iter().map(|s| s.0 / self.plan.design_flow);
            let middle = quantile(flows.map(|x| declared.ask(x)), 0.5) + moved;
            Curve { mode: Mode::Constant, zero: middle, design: middle }
        } else {
            Curve { zero: declared.zero + moved, design: declared.design + moved, ..declared }
        };
        if real.mode != Mode::Constant && real.zero < 0.08 * declared.design || real.design < 0.3 * declared.design {
            return None;
        }
        done.effects.curve = Some(((from, self.end + DAY_MS), real));
        let note = format!("{declared:?} declared, {real:?} held");
        Some(self.confess(c, from, c.step, self.pumps(), note))
    }

    fn fixed(&self, c: &Choice, done: &mut Done, rng: &mut Rng) -> Option<Planted> {
        let share = at(severity::FIXED_DAYS, c.severity);
        let speeds = self.plan.speeds();
        let (low, high) = (quantile(speeds.iter().copied(), 0.05), quantile(speeds.iter().copied(), 0.95));
        if high - low < 0.04 {
            return None;
        }
        let hand = if c.kind < 0.75 { high * rng.between(1.0, 1.12) } else { rng.between(0.5 * (low + high), high) };
        let hand = (hand.clamp(self.plan.floor + 0.02, 1.0) * 200.0).round() / 200.0;
        let length = share * f64::from(self.plan.days);
        let free = f64::from(self.plan.days) - length;
        let begins = if c.step { free } else { rng.unit() * free };
        let from =
            self.start + (begins * DAY_MS as f64) as i64 + if begins > 0.5 { (10.0 * HOUR_MS) as i64 } else { 0 };
        let to = (from + (length * DAY_MS as f64) as i64).min(self.end + DAY_MS);
        let from = if share >= 1.0 { self.start - 2 * DAY_MS } else { from };
        let to = if share >= 1.0 { self.end + DAY_MS } else { to };
        done.effects.hand = Some(((from, to), hand));
        let step = begins > 3.0 && to >= self.end;
        let planted =
            self.confess(c, from, step, self.pumps(), format!("in hand at {hand:.3}, asked {low:.2} to {high:.2}"));
        Some(Planted { last_ms: to.min(self.end), ..planted })
    }

    fn worn(&self, c: &Choice, done: &mut Done, rng: &mut Rng) -> Planted {
        let p = (rng.unit() * self.plan.station.units.len() as f64) as usize;
        let from = self.onset(c, rng);
        let creeps = c.kind < 0.6;
        let to = if creeps { from + (rng.between(0.25, 0.6) * (self.end - from) as f64) as i64 } else { from + 1 };
        let lost = at(severity::HEAD_LOST, c.severity);
        done.effects.worn = Some(((from, to), p, 1.0 - lost));
        let name = self.plan.station.units[p].name.clone();
        self.confess(c, from, !creeps, vec![name], format!("loses {lost} of head and efficiency, creeping: {creeps}"))
    }

    fn cycling(&self, c: &Choice, span: (i64, i64), done: &mut Done, rng: &mut Rng) -> Option<Planted> {
        let starts = at(severity::STARTS_H, c.severity);
        let (begins, runs) = self.running();
        let hours = rng.between(4.5, 8.0).min(runs - 1.5);
        let from_h = begins + 0.7 + rng.unit() * (runs - hours - 1.4).max(0.0);
        done.effects.cycling = Some((Daily { span, from: from_h, hours, offset_ms: self.offset_ms }, starts));
        let note = format!("{starts} starts an hour for {hours:.1} h a day");
        Some(Planted { period_min: f64::NAN, ..self.confess(c, span.0, c.step, self.pumps(), note) })
    }

    fn dead(&self, c: &Choice, span: (i64, i64), done: &mut Done, rng: &mut Rng) -> Option<Planted> {
        let hours = at(severity::DEAD_HOURS, c.severity);
        let (begins, runs) = self.running();
        if hours > runs - 4.0 {
            return None;
        }
        if c.kind < 0.5 {
            // Fans stop first.
            let from_h = if self.plan.hours.always { rng.between(0.0, 6.0) } else { begins + runs - hours };
            done.effects.shut = Some(Daily { span, from: from_h, hours, offset_ms: self.offset_ms });
            let note = format!("all valves shut for {hours} h a day, no bypass");
            return Some(self.confess(c, span.0, c.step, self.pumps(), note));
        }
        let p = (rng.unit() * self.plan.station.units.len() as f64) as usize;
        let from_h = begins + 1.0 + rng.unit() * (runs - hours - 2.0);
        done.effects.dead = Some((Daily { span, from: from_h, hours, offset_ms: self.offset_ms }, p));
        let name = self.plan.station.units[p].name.clone();
        Some(self.confess(c, span.0, c.step, vec![name], format!("behind a shut valve for {hours} h a day")))
    }

    fn sensor(&self, c: &Choice, done: &mut Done, rng: &mut Rng) -> Option<Planted> {
        let pumps = self.plan.station.units.len();
        let p = (rng.unit() * pumps as f64) as usize;
        let (heads, powers): (&[Key], &[Key]) = match self.ask.trended {
            Trended::All => (&[Key::Head(p), Key::Control, Key::Meter], &[Key::Power(p)]),
            Trended::Usual => (&[Key::Header], &[Key::Power(p)]),
            Trended::Metered => (&[Key::Header, Key::Meter], &[]),
            Trended::NoPressure | Trended::Drive => (&[], &[Key::Power(p)]),
            Trended::Temperatures => (&[], &[]),
        };
        let rest: &[Key] = if self.ask.trended == Trended::Drive { &[] } else { &[Key::Supply, Key::Return] };
        let scaled: Vec<Key> = heads.iter().chain(powers).copied().collect();
        let any: Vec<Key> = scaled.iter().chain(rest).copied().collect();
        let choose = |of: &[Key], rng: &mut Rng| of.get((rng.unit() * of.len() as f64) as usize).copied();
        let kinds: &[u8] = if rest.is_empty() {
            &[1, 2]
        } else if scaled.is_empty() {
            &[0, 2, 3]
        } else {
            &[0, 1, 1, 2, 3, 4]
        };
        let kind = kinds[((c.kind * kinds.len() as f64) as usize).min(kinds.len() - 1)];
        let onset = self.onset(c, rng);
        let up = rng.chance(0.5);
        let (wrong, from, step, subjects) = match kind {
            0 => {
                let key = choose(rest, rng)?;
                let off = at(severity::TEMPERATURE_BIAS_K, c.severity);
                let from = if c.step { onset } else { self.start };
                // Which of the pair is off, the other cannot say.
                (Wrong::Bias { key, kelvin: if up { off } else { -off }, from }, from, c.step, rest.to_vec())
            }
            1 => {
                let key = choose(&scaled, rng)?;
                let moved = at(severity::SCALE_MOVED, c.severity);
                (
                    Wrong::Scale { key, factor: if up { 1.0 + moved } else { 1.0 - moved }, from: onset },
                    onset,
                    true,
                    vec![key],
                )
            }
            2 => {
                let key = choose(&any, rng)?;
                let share = at(severity::STUCK_SHARE, c.severity);
                let length = (share * (self.end - self.start) as f64) as i64;
                let room = (self.end - self.start - length) as f64;
                let from = if c.step { self.end - length } else { self.start + (rng.unit() * room) as i64 };
                (Wrong::Stuck { key, from, to: from + length }, from, c.step, vec![key])
            }
            3 => (Wrong::Swapped, self.start, false, vec![Key::Supply, Key::Return]),
            _ => {
                let key = choose(&scaled, rng)?;
                (Wrong::Unit { key }, self.start, false, vec![key])
            }
        };
        let note = format!("{wrong:?}");
        let last_ms = if let Wrong::Stuck { to, .. } = wrong { to } else { self.end };
        done.wrong.push(wrong);
        let names = subjects.iter().map(|k| k.name(self.plan)).collect();
        Some(Planted { last_ms, ..self.confess(c, from, step, names, note) })
    }
}
