//! Speeds that swing, and pumps that start too often.

use super::{
    Scene, Told, part,
    plot::{Level, Look},
    quantity::Quantity,
    time::{Cut, Panel},
};
use crate::{
    faults::{Finding, What},
    plant::Role,
    report::{figures::Figure, show::figures as round, words},
};
use std::ops::Range;

/// So many periods are shown, and no less and no more than so many hours [h].
const PERIODS: f64 = 9.0;
const SHOWN_H: (f64, f64) = (1.0, 24.0);
/// Hours shown of starts [h].
const STARTS_H: f64 = 8.0;

pub fn swing(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::Swing { pumps, low, high, floor, period_min } = &f.shown.what else { return None };
    let stretch = scene.longest_stretch(&f.shown.rows)?;
    let hours = (PERIODS * period_min / 60.0).clamp(SHOWN_H.0, SHOWN_H.1);
    let window = scene.around((stretch.start + stretch.end) / 2, hours);
    let mut speed = Panel::new("speed", Quantity::Percent);
    for (k, name) in pumps.iter().enumerate() {
        if let Some(p) = scene.pump(name) {
            let running = |i: usize| if p.state[i].turns() { p.speed[i] } else { f64::NAN };
            speed = speed.with(format!("speed of {name}"), Look::nth(k), window.clone().map(running).collect());
        }
    }
    speed.band = Some((*low..*high, "middle trough to middle crest of all cycles".to_owned()));
    let speed = speed.level(Level::limit("speed floor", *floor));
    let names = words::join(pumps);
    let floor_said =
        if floor.is_finite() { format!(", with the floor at {}", scene.show.percent(*floor)) } else { String::new() };
    let told = Told {
        title: format!("How the speed of {names} swings"),
        caption: format!(
            "{} h around the middle of the longest stretch on the day with most of these hours, {}. A speed that settles would lie in a line; the grey band is where troughs and crests lie in the middle of all cycles. Local time.",
            round(scene.hours(window.len()), 2),
            scene.date(stretch.start)
        ),
        description: format!(
            "Traces over time: the speed of {names} swings between about {} and {} every {} min{floor_said}; head and valve below it.",
            scene.show.percent(*low),
            scene.show.percent(*high),
            round(*period_min, 2)
        ),
    };
    let panels = vec![speed, scene.head_panel(&window), scene.valve_panel(&window)];
    Cut { window, panels, counted: "cycles that count", rows: None }.figure(scene, f, told)
}

pub fn starts(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::Starts { starts, too_often } = &f.shown.what else { return None };
    let pump = scene.pump(&f.subject)?;
    let stretch = scene.longest_stretch(&f.shown.rows)?;
    let window = scene.around((stretch.start + stretch.end) / 2, STARTS_H);
    let on: Vec<f64> = pump.state[window.clone()].iter().map(|s| f64::from(u8::from(s.turns()))).collect();
    let hour = (1.0 / scene.review.clock.hours()).round().max(1.0) as usize;
    let within = |rows: Range<usize>| -> f64 {
        let from = starts.partition_point(|s| (s.0 as usize) < rows.start);
        starts[from..].iter().take_while(|s| (s.0 as usize) < rows.end).map(|s| f64::from(s.1)).sum()
    };
    let last_hour: Vec<f64> = window.clone().map(|i| within((i + 1).saturating_sub(hour)..i + 1)).collect();
    let busiest = last_hour.iter().copied().fold(0.0, f64::max);
    let mut often = Panel::new("starts an hour", Quantity::Number)
        .with("starts in the hour before", Look::First, last_hour)
        .in_steps()
        .level(Level::limit("too often from", *too_often));
    often.from_zero = true;
    let mut state = Panel::new("runs (1) or not", Quantity::Number).with("running", Look::Second, on).in_steps();
    state.from_zero = true;
    let mut speed =
        Panel::new("speed", Quantity::Percent).with("speed", Look::Third, part(&pump.speed, &window)).in_steps();
    speed.from_zero = true;
    let told = Told {
        title: format!("How often {} starts", f.subject),
        caption: format!(
            "{} h around the middle of the longest stretch on the day with most of these hours, {}. Starts are counted over the hour before each moment. Local time.",
            round(scene.hours(window.len()), 2),
            scene.date(stretch.start)
        ),
        description: format!(
            "Steps over time: {} starts up to {} times in an hour in this window; from {} an hour on it is too often. Running state and speed below.",
            f.subject,
            round(busiest, 2),
            round(*too_often, 2)
        ),
    };
    Cut { window, panels: vec![often, state, speed], counted: "hours that count", rows: None }.figure(scene, f, told)
}

impl Scene<'_> {
    /// The control pressure with its setpoint where trended, else the head the pumps make with what the curve asks.
    pub fn head_panel(&self, window: &Range<usize>) -> Panel {
        let cut = |v: &[f64]| part(v, window);
        if let Some(reading) = self.pressure() {
            let panel =
                Panel::new("control pressure", Quantity::Head).with("control pressure", Look::First, cut(reading));
            let setpoint = self.values(Role::DifferentialPressureSetpoint, None);
            return match setpoint {
                Some(s) => panel.with("its setpoint", Look::Expected, cut(s)),
                None => panel,
            };
        }
        let curve = self.review.regimes.pumps.first().map_or(&[][..], |p| p.curve_head_kpa.as_slice());
        let known = |v: &[f64]| if v.len() >= window.end { cut(v) } else { Vec::new() };
        Panel::new("head", Quantity::Head)
            .with("head of the loop", Look::First, cut(&self.review.points.system.head_kpa))
            .with("head that the control curve asks", Look::Expected, known(curve))
    }

    /// The widest of the trended valves; empty where none is.
    pub fn valve_panel(&self, window: &Range<usize>) -> Panel {
        let valves: Vec<&[f64]> =
            self.review.plant.coils.iter().filter_map(|c| self.review.screened.valve(&c.name)).collect();
        let widest = |i: usize| valves.iter().map(|v| v[i]).fold(f64::NAN, f64::max);
        let of = window.clone().map(widest).collect();
        let mut panel = Panel::new("widest valve", Quantity::Percent).with("widest valve", Look::First, of);
        panel.whole = Some(0.0..1.0);
        panel
    }
}
