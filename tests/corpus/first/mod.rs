//! Generator A: plants of the usual make, drawn whole and run minute by minute.
//!
//! Comes in: an [`Ask`]. Goes out: a [`Case`]. `plan.rs` draws a plant and a setting that fits its need, `world.rs` runs it, `effects.rs` is what faults
//! do, `plant.rs` plants them, `tally.rs` counts what held in truth, `sensors.rs` and `file.rs` write what an engineer would hand over. Nothing of the
//! analyser is used. The decision to question: every plant is also run without its faults; that twin must pass all the checks of a healthy
//! plant, and what the faulty one fails of them beside what was planted is `also_true`. Start at [`First`].

mod effects;
mod file;
mod pipes;
pub mod plan;
mod plant;
mod pumps;
mod sensors;
pub mod tally;
pub mod terminals;
mod weather;
pub mod world;

use super::{Ask, Case, Generator, Planted, Trended};
use crate::simulator::noise::Rng;
use effects::Effects;
use plan::Plan;
use plant::Done;
use sensors::Logger;
use tally::Tally;
use world::Record;

pub struct First;

/// Plants drawn for one seed before it is given up.
const TRIES: u64 = 10;
/// Steps at which a twin is run [min].
const MEAN_MONTH_DAYS: f64 = 30.4;

impl Generator for First {
    fn name(&self) -> &'static str {
        "first"
    }

    fn draw(&self, ask: &Ask) -> Option<Case> {
        (0..TRIES).find_map(|k| attempt(ask, k).ok())
    }
}

/// A case with the plant behind it, so that it can run again under another setting.
pub struct Drawn {
    pub case: Case,
    pub plan: Plan,
    effects: Effects,
    seed: u64,
    minutes: u32,
    sampled: bool,
}

impl Drawn {
    /// The same plant, weather and faults under this plan: only its setting may differ.
    pub fn run(&self, plan: &Plan) -> Record {
        world::run(plan, &self.effects, self.seed, self.minutes, self.sampled)
    }
}

/// The first try of a seed that is such a plant.
pub fn drawn(ask: &Ask) -> Option<Drawn> {
    (0..TRIES).find_map(|k| try_one(ask, k).ok())
}

/// A try of a seed; the reason where it is no such plant.
pub fn attempt(ask: &Ask, number: u64) -> Result<Case, &'static str> {
    try_one(ask, number).map(|d| d.case)
}

fn try_one(ask: &Ask, number: u64) -> Result<Drawn, &'static str> {
    let seed = ask.seed.wrapping_mul(1009).wrapping_add(number);
    let mut rng = Rng::new(seed, 1);
    let intent = plant::intend(ask, &mut rng).ok_or("faults that cannot stand together")?;
    let remote_shown = ask.trended == Trended::All;
    let plan =
        Plan::draw(&mut Rng::new(seed, 2), &intent.needs, ask.days, remote_shown, remote_shown).ok_or("no plant")?;
    let mut rng = Rng::new(seed, 3);
    let done = plant::plant(&plan, &intent, ask, &mut rng).ok_or("this plant cannot have it")?;
    let rows = (i64::from(ask.days) * 1440 / i64::from(ask.minutes)) as usize;
    let logger = Logger::draw(&mut Rng::new(seed, 4), &plan, rows, ask.minutes);
    let run = |effects: &Effects| world::run(&plan, effects, seed, ask.minutes, logger.sampled);
    let twin = run(&Effects::default());
    let beyond: Vec<&'static str> = {
        let wanted: Vec<&str> = ask.plant.iter().map(|p| p.0).collect();
        truths(&plan, &twin.tally, None).into_iter().filter(|f| !wanted.contains(f)).collect()
    };
    // A fault of design brings its own: those stay as also true.
    let by_design = [
        "setpoint-too-high",
        "setpoint-too-low",
        "minimum-speed-too-high",
        "outside-preferred-region",
        "minimum-speed-hunting",
    ];
    let designed = ask.plant.iter().any(|p| by_design.contains(&p.0));
    if !designed && let Some(first) = beyond.first() {
        return Err(first);
    }
    let (record, plain) = if ask.plant.is_empty() { (twin, None) } else { (run(&done.effects), Some(twin.tally)) };
    if let Some(missing) = unseen(&plan, &done, &record, plain.as_ref(), ask) {
        return Err(missing);
    }
    let case = case(ask, &plan, &done, &logger, &record, seed, plain.as_ref());
    Ok(Drawn { case, effects: done.effects, seed, minutes: ask.minutes, sampled: logger.sampled, plan })
}

/// A plant for runs of any length, without what a healthy record of a month must show; `None` where the seed makes none.
pub fn plain(seed: u64, days: u32, needs: &plan::Needs) -> Option<Plan> {
    (0..TRIES).find_map(|k| Plan::draw(&mut Rng::new(seed * 1009 + k, 2), needs, days, true, true))
}

/// It runs, nothing wrong; means of so many minutes. The same seed gives the same loads whatever the setting.
pub fn play(plan: &Plan, seed: u64, minutes: u32) -> Record {
    world::run(plan, &Effects::default(), seed, minutes, false)
}

/// What an engineer would hand over of it.
pub fn handed_over(plan: &Plan, seed: u64, ask: &Ask) -> Case {
    let rows = (i64::from(ask.days) * 1440 / i64::from(ask.minutes)) as usize;
    let logger = Logger::draw(&mut Rng::new(seed, 4), plan, rows, ask.minutes);
    let record = world::run(plan, &Effects::default(), seed, ask.minutes, logger.sampled);
    let nothing = Done { effects: Effects::default(), planted: Vec::new(), wrong: Vec::new(), also: Vec::new() };
    case(ask, plan, &nothing, &logger, &record, seed, None)
}

fn case(
    ask: &Ask,
    plan: &Plan,
    done: &Done,
    logger: &Logger,
    record: &Record,
    seed: u64,
    plain: Option<&Tally>,
) -> Case {
    let keys = sensors::keys(plan, ask.trended);
    let planted: Vec<&str> = ask.plant.iter().map(|p| p.0).collect();
    let mut also_true = truths(plan, &record.tally, plain);
    also_true.extend(consequences(&planted, done));
    also_true.retain(|f| !planted.contains(f));
    also_true.sort_unstable();
    also_true.dedup();
    let bytes = sensors::export(plan, logger, record, &keys, &done.wrong, seed, ask.minutes);
    Case {
        plant_toml: file::plant_file(plan, logger, &keys, &done.wrong, "trend.csv"),
        files: vec![("trend.csv".to_owned(), bytes)],
        planted: done.planted.iter().map(|p| weighed(p, &record.tally, plain)).collect(),
        also_true,
        pump_months: plan.station.units.len() as f64 * f64::from(ask.days) / MEAN_MONTH_DAYS,
        look_alikes: look_alikes(plan, logger),
    }
}

/// With what it did to the water's temperature difference in its note, for whoever looks at a miss.
fn weighed(p: &Planted, t: &Tally, twin: Option<&Tally>) -> Planted {
    let Some(twin) = twin.filter(|_| matches!(p.fault, "low-delta-t" | "stuck-bypass")) else { return p.clone() };
    let left = t.difference() / twin.difference();
    Planted { note: format!("{}; difference over the record {left:.2} of the healthy twin's", p.note), ..p.clone() }
}

/// What holds of a record, by its tally; `twin` is the same plant without its faults.
fn truths(plan: &Plan, t: &Tally, twin: Option<&Tally>) -> Vec<&'static str> {
    let mut held = Vec::new();
    let mut note = |fault, holds: bool| {
        if holds {
            held.push(fault);
        }
    };
    note("outside-preferred-region", t.outside_share() >= 0.40);
    note("setpoint-too-low", t.starved_share() >= 0.03);
    note("minimum-speed-too-high", t.floor_share() >= 0.10 && plan.allowed.is_some_and(|a| plan.floor > a + 0.03));
    note("off-control-curve", t.above_share() >= 0.06 || t.below_share() >= 0.06);
    note("poor-staging", t.wrong_count_share() >= 0.20);
    note("deadheading", t.dead_h() >= 0.2);
    note("out-of-hours-running", t.extra_h() >= 0.3);
    note("short-cycling", t.hasty_hours >= 8.0);
    let zero = plan::quantile(t.zero.iter().copied(), 0.985).max(0.2 * plan.curve.design / plan.curve.zero);
    let too_high_at_no_flow = t.zero.len() > 96 && zero < 0.88;
    note("setpoint-too-high", plan.design_head() >= 1.15 * plan.design_need || too_high_at_no_flow);
    if let Some(twin) = twin {
        note("low-delta-t", t.difference() <= 0.92 * twin.difference());
        // More head than the curve asks, not more flow along it.
        note("setpoint-too-high", t.above_share() >= 0.06 && t.mean_header() >= 1.15 * twin.mean_header());
    }
    held
}

/// What a planted fault is by another name.
fn consequences(planted: &[&str], done: &Done) -> Vec<&'static str> {
    let mut all = Vec::new();
    for fault in planted {
        match *fault {
            // One swing, seen from its floor or from its middle.
            "minimum-speed-hunting" => all.push("speed-hunting"),
            "speed-hunting" => all.push("minimum-speed-hunting"),
            // Water goes past the coils.
            "stuck-bypass" => all.push("low-delta-t"),
            // A speed in hand is off the curve wherever it is not on it by chance.
            "fixed-speed" => all.push("off-control-curve"),
            // Valves shut and the pump stopped between.
            "short-cycling" => all.push("speed-hunting"),
            _ => {}
        }
    }
    if done.effects.staging.is_some_and(|s| s.1 < 0) {
        all.push("setpoint-too-low");
    }
    all
}

/// The first of what was planted that cannot be seen in the truth, in its least size.
fn unseen(plan: &Plan, done: &Done, record: &Record, twin: Option<&Tally>, ask: &Ask) -> Option<&'static str> {
    let t = &record.tally;
    let twin = twin?;
    let seen = |fault: &str| match fault {
        // While it stands; water past the coils beside it only lowers it more.
        "low-delta-t" => {
            let first = done.planted.iter().find(|p| p.fault == "low-delta-t").map_or(plan.start_ms, |p| p.first_ms);
            let stands = 1.0 - (first - plan.start_ms) as f64 / (f64::from(plan.days) * 86_400_000.0);
            t.difference() <= (1.0 - 0.06 * stands) * twin.difference()
        }
        // A third of design flow at least once a day or so, or nobody can know.
        "setpoint-too-high" => {
            plan::quantile(record.columns[world::FLOW].iter().copied(), 0.98) >= 0.35 * plan.design_flow
        }
        "stuck-bypass" => t.bypass / t.flow >= twin.bypass / twin.flow + 0.01,
        "setpoint-too-low" => t.starved_share() >= 0.015,
        "off-control-curve" => t.above_share() + t.below_share() >= 0.15,
        "out-of-hours-running" => t.extra_h() >= 0.4,
        "short-cycling" => t.hasty_hours >= 20.0,
        "minimum-speed-too-high" => t.floor_share() >= 0.12,
        "outside-preferred-region" => t.outside_share() >= 0.5,
        "poor-staging" => t.wrong_count_share() >= 0.2,
        "deadheading" => t.dead_h() >= 0.2,
        "pump-degraded" => done.effects.worn.is_some_and(|w| plan.station.units.len() > w.1),
        _ => true,
    };
    ask.plant.iter().map(|p| p.0).find(|f| !seen(f))
}

fn look_alikes(plan: &Plan, logger: &Logger) -> Vec<&'static str> {
    let h = &plan.hours;
    let mut all = Vec::new();
    let mut note = |what, there: bool| {
        if there {
            all.push(what);
        }
    };
    note("frost protection", h.frost.is_some());
    note("pump exercise", h.exercise.is_some() && !h.always);
    note("run-on", h.run_on > 0.05);
    note("optimum start", h.lead > 0.0);
    note("holiday", !h.holidays.is_empty());
    note("reset that works", plan.reset.is_some());
    note("minimum-flow bypass", plan.minimum_flow.is_some());
    note("radiators on weather-compensated supply", plan.radiators);
    note("weather-compensated supply", plan.compensated && !plan.radiators);
    note("standby pump", plan.station.units.len() > plan.duty);
    note("staging", plan.duty > 1);
    note("change of value", logger.on_change);
    note("gaps", !logger.gaps.is_empty());
    note("a week of one load", plan.steady_days.is_some());
    note("valves open on stopped fans", plan.valves_hold);
    note("samples, not means", logger.sampled);
    all
}
