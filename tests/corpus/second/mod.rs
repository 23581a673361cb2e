//! The second author's plants: a tree of risers or reverse return solved minute by minute, pumps by coefficients, rooms, drives and their
//! habits, and exports that sample instead of averaging.
//!
//! Comes in: an [`Ask`]. Goes out: a [`Case`]. The decision to question: what was drawn is kept only where the record itself shows it (a
//! fault at its size; nothing wrong with a healthy plant), else the same seed draws again; the measures are in `truth.rs`. It shares no
//! formula with the analyser nor with the other author. Start at [`Second`]; a building is drawn in `draw.rs`, played in `run.rs`.

pub mod building;
pub mod chance;
pub mod draw;
pub mod export;
pub mod files;
pub mod machine;
pub mod paper;
pub mod pipes;
pub mod plant_faults;
pub mod run;
pub mod terminals;
pub mod truth;

use super::{Ask, Case, Generator, Planted};
use building::{Building, Mischief, Mode, Span};
use chance::Chance;
use export::{Channel, Point, SensorFault, Style, Trouble};
use files::{Look, Shape};
pub use truth::Truth;

/// Draws of one seed before the caller must take the next.
const TRIES: u64 = 12;

/// Of these, the first are refused where something else holds that the planted faults do not bring about.
const PICKY_TRIES: u64 = 6;

/// What a planted fault brings about in truth.
const BRINGS: [(&str, &[&str]); 11] = [
    ("low-delta-t", &["setpoint-too-low"]),
    ("stuck-bypass", &["low-delta-t", "outside-preferred-region"]),
    ("minimum-speed-hunting", &["off-control-curve"]),
    ("speed-hunting", &["off-control-curve"]),
    ("setpoint-too-high", &["outside-preferred-region"]),
    ("off-control-curve", &["setpoint-too-high", "setpoint-too-low", "outside-preferred-region"]),
    ("fixed-speed", &["off-control-curve", "setpoint-too-high", "setpoint-too-low", "outside-preferred-region"]),
    ("short-cycling", &["setpoint-too-low", "off-control-curve"]),
    ("minimum-speed-too-high", &["outside-preferred-region", "off-control-curve"]),
    ("poor-staging", &["outside-preferred-region"]),
    ("deadheading", &["outside-preferred-region", "setpoint-too-low", "poor-staging", "off-control-curve"]),
];

/// The generator.
pub struct Second;

/// A case with what its record shows, for the generator's own tests.
pub struct Drawn {
    pub case: Case,
    pub building: Building,
    pub truth: Truth,
    /// The same over the time of each planted fault.
    pub during: Vec<Truth>,
    /// Flow-weighted difference of the same plant without faults [K]; NaN where no fault needs it.
    pub twin_delta_k: f64,
    /// What the record was refused for before, by try.
    pub refused: Vec<String>,
}

impl Generator for Second {
    fn name(&self) -> &'static str {
        "second"
    }
    fn draw(&self, ask: &Ask) -> Option<Case> {
        Self::drawn(ask).map(|d| d.case)
    }
}

impl Second {
    /// A case and its truth.
    pub fn drawn(ask: &Ask) -> Option<Drawn> {
        Self::attempts(ask).0
    }

    /// The same, with what each refused try was refused for.
    pub fn attempts(ask: &Ask) -> (Option<Drawn>, Vec<String>) {
        let mut refused = Vec::new();
        for attempt in 0..TRIES {
            match draw(ask, ask.seed.wrapping_mul(64).wrapping_add(attempt), attempt < PICKY_TRIES) {
                Ok(mut drawn) => {
                    drawn.refused.clone_from(&refused);
                    return (Some(drawn), refused);
                }
                Err(why) => refused.push(why),
            }
        }
        (None, refused)
    }
}

/// A building for runs of any length with its heads asked over what is needed, without what a healthy record of a month must show.
pub fn plain(seed: u64, ask: &Ask, head_factor: f64) -> Building {
    let wish = draw::Wish { head_factor, varied_speed: true, no_reset: true, ..draw::Wish::default() };
    let mut b = draw::building(seed, ask.days, &wish);
    plant_faults::fit(&mut b, ask, &mut Chance::new(seed, 3));
    b
}

/// What an engineer would hand over of it.
pub fn handed_over(b: &Building, seed: u64, ask: &Ask) -> Case {
    let record = run::play(b, 0..b.site.minutes());
    let mut c = Chance::new(seed, 4);
    let style = Style::draw(&mut c, b.site.zone);
    let channels = export::channels(b, &record, ask, &style, &[]);
    let look = Look::draw(&mut c, b.site.minutes() / ask.minutes as usize, b.site.zone);
    Case {
        plant_toml: paper::plant_toml(b, &style, &channels, &look, ask.minutes),
        files: files::files(b, &channels, &look, ask.minutes as usize),
        planted: Vec::new(),
        also_true: Vec::new(),
        pump_months: b.pumps.len() as f64 * f64::from(ask.days) / 30.4,
        look_alikes: Vec::new(),
    }
}

fn draw(ask: &Ask, seed: u64, picky: bool) -> Result<Drawn, String> {
    let mut c = Chance::new(seed, 3);
    let mut b = draw::building(seed, ask.days, &plant_faults::wish(ask));
    plant_faults::fit(&mut b, ask, &mut c);
    let (mut planted, sensors) = plant_faults::plant(&mut b, ask, &mut c).ok_or("this building cannot have it")?;
    let record = run::play(&b, 0..b.site.minutes());
    let whole = Span { from: 0, to: b.site.minutes() };
    let truth = truth::measure(&b, &record, whole);
    let twin_delta_k = if ask.plant.iter().any(|(f, _)| *f == "low-delta-t") { twin(&b, &planted) } else { f64::NAN };
    let during: Vec<Truth> = planted.iter().map(|p| truth::measure(&b, &record, part(&b, p))).collect();
    for (p, t) in planted.iter().zip(&during) {
        if !plant_faults::shows(&b, p, t, twin_delta_k, &truth) {
            return Err(format!("{} does not show: {} {t:?}, twin {twin_delta_k:.2} K", p.fault, p.note));
        }
        if p.fault == "pump-degraded" && !runs_on_both_sides(&b, &record, p) {
            return Err("the worn pump does not run on both sides of the change".into());
        }
    }
    let mut also_true = truth::holds(&b, &truth);
    for t in &during {
        for code in truth::holds(&b, t) {
            if !also_true.contains(&code) {
                also_true.push(code);
            }
        }
    }
    also_true.retain(|code| !planted.iter().any(|p| p.fault == *code));
    if planted.iter().any(|p| p.fault == "stuck-bypass") && !also_true.contains(&"low-delta-t") {
        also_true.push("low-delta-t");
    }
    if ask.plant.is_empty() && !also_true.is_empty() {
        return Err(format!("not healthy: {also_true:?}"));
    }
    let brought = |code: &str| BRINGS.iter().any(|(f, of)| of.contains(&code) && planted.iter().any(|p| p.fault == *f));
    if picky && !also_true.iter().all(|code| brought(code)) {
        return Err(format!("more than was asked: {also_true:?}"));
    }
    let style = Style::draw(&mut c, b.site.zone);
    let channels = export::channels(&b, &record, ask, &style, &sensors);
    name_sensors(&mut planted, &sensors, &channels, &record);
    let look = Look::draw(&mut c, b.site.minutes() / ask.minutes as usize, b.site.zone);
    let plant_toml = paper::plant_toml(&b, &style, &channels, &look, ask.minutes);
    let files = files::files(&b, &channels, &look, ask.minutes as usize);
    let case = Case {
        plant_toml,
        files,
        planted,
        also_true,
        pump_months: b.pumps.len() as f64 * f64::from(ask.days) / 30.4,
        look_alikes: look_alikes(&b, &record, &look),
    };
    Ok(Drawn { case, building: b, truth, during, twin_delta_k, refused: Vec::new() })
}

/// The minutes in which a planted fault stands.
fn part(b: &Building, p: &Planted) -> Span {
    let minute = |ms: i64| ((ms - b.site.start_ms) / 60_000).max(0) as usize;
    Span { from: minute(p.first_ms), to: minute(p.last_ms) }
}

/// Flow-weighted temperature difference of the same plant with nothing wrong, over the time of the first fault [K].
fn twin(b: &Building, planted: &[Planted]) -> f64 {
    let mut well = b.clone();
    well.mischief = Mischief { staging: b.mischief.staging, ..Mischief::default() };
    let record = run::play(&well, 0..well.site.minutes());
    let span = planted.iter().find(|p| p.fault == "low-delta-t").map(|p| part(b, p));
    span.map_or(f64::NAN, |s| truth::measure(&well, &record, s).delta_k)
}

/// At least a day's running before a step and after it.
fn runs_on_both_sides(b: &Building, r: &run::Record, p: &Planted) -> bool {
    let from = part(b, p).from;
    let Some(i) = b.pumps.iter().position(|q| p.subjects.contains(&q.name)) else { return false };
    let hours = |of: &[bool]| of.iter().filter(|o| **o).count() / 60;
    hours(&r.pumps[i].on[..from]) >= 24 && hours(&r.pumps[i].on[from..]) >= 24
}

fn name_sensors(planted: &mut [Planted], sensors: &[SensorFault], channels: &[Channel], r: &run::Record) {
    let busy = export::busiest(r);
    let mut faults = sensors.iter();
    for p in planted.iter_mut().filter(|p| p.fault == "sensor-fault") {
        let Some(f) = faults.next() else { return };
        let named = |point: Point| channels.iter().find(|c| c.point == point).map(|c| c.name.clone());
        let wanted: Vec<Option<String>> = match (f.point, f.trouble) {
            (_, Trouble::Swapped) => vec![named(Point::Supply), named(Point::Return)],
            (Point::Power, _) => vec![named(Point::Power0(busy))],
            (Point::Header, _) => vec![named(Point::Header), named(Point::PumpHead(busy))],
            (point, _) => vec![named(point)],
        };
        p.subjects = wanted.into_iter().flatten().collect();
    }
}

fn look_alikes(b: &Building, r: &run::Record, look: &Look) -> Vec<&'static str> {
    let frost = b.frost_c.is_some_and(|f| r.outdoor.iter().any(|t| f64::from(*t) < f)) && !b.schedule.is_empty();
    let rows = [
        ("frost protection", frost),
        ("exercise", b.exercise && b.pumps.len() > 1),
        ("run-on", b.run_on_min > 0 && !b.schedule.is_empty()),
        ("optimum start", b.optimum_h > 0.0 && !b.schedule.is_empty()),
        ("holidays", !b.site.holidays.is_empty() && !b.schedule.is_empty()),
        ("start-up mornings", !b.schedule.is_empty()),
        ("staging", b.duty > 1),
        ("reset", b.control.reset.is_some()),
        ("honest bypass", b.bypass.is_some() && r.bypass_flow.iter().any(|q| *q > 0.02 * b.design_flow as f32)),
        ("honest fall of the difference", b.heating || b.supply.gives.0 > b.supply.gives.1),
        ("three-way coils", b.coils.iter().any(|k| k.valve.three_way)),
        ("constant speed by design", b.control.mode == Mode::Fixed),
        ("steady week", b.steady_week.is_some()),
        ("gaps", !look.gaps.is_empty()),
        ("change of value", look.shape == Shape::TallOnChange),
    ];
    rows.into_iter().filter(|(_, is)| *is).map(|(name, _)| name).collect()
}
