//! Points that screening does not believe: beside what they should move with, or against a second point.
//!
//! Readings that were taken out are kept with the doubt, so that the figure shows what was not believed.

use super::{
    Scene, Told, part,
    plot::{Kind, Level, Look},
    quantity::Quantity,
    scatter::Scatter,
    time::{Cut, Panel},
};
use crate::{
    faults::{Finding, shown::Stretches},
    ingest::Series,
    plant::{Role, Service},
    report::{figures::Figure, show::figures as round},
    screening::{AT_FAULT, Doubt, Kind as Doubts},
};
use std::ops::Range;

/// Hours shown around a change that comes too early or too late, and around a spike [h].
const CLOCK_H: f64 = 6.0;
const SPIKES_H: f64 = 12.0;

pub fn doubted(scene: &Scene, f: &Finding) -> Option<Figure> {
    let found = |d: &&Doubt| {
        d.point == f.subject && d.confidence >= AT_FAULT && !matches!(d.kind, Doubts::Odd | Doubts::NoValue)
    };
    let doubt = scene.review.doubts.iter().find(found)?;
    match doubt.kind {
        Doubts::Stuck => stuck(scene, f, doubt),
        Doubts::Outliers => spikes(scene, f, doubt),
        Doubts::Clock => clock(scene, f, doubt),
        Doubts::Unit => unit(scene, f, doubt),
        Doubts::Swapped | Doubts::Position => against(scene, f, doubt),
        Doubts::Biased if doubt.beside.is_empty() => at_rest(scene, f, doubt),
        Doubts::Biased => against(scene, f, doubt),
        Doubts::Odd | Doubts::NoValue => None,
    }
}

/// A point as it read: as kept with the doubt, else as screening left it.
fn as_read<'a>(scene: &Scene<'a>, doubt: &'a Doubt, name: &str) -> Option<&'a Series> {
    let kept = doubt.was.iter().find(|s| s.name == name);
    kept.or_else(|| scene.review.screened.series.iter().find(|s| s.name == name))
        .filter(|s| s.values.iter().any(|v| v.is_finite()))
}

fn panel_of(name: &'static str, s: &Series, look: Look, window: &Range<usize>) -> Panel {
    Panel::new(name, Quantity::of_unit(s.unit)).with(format!("\"{}\"", s.name), look, part(&s.values, window))
}

/// Speeds of the pumps, which most readings should move with.
fn speeds(scene: &Scene, window: &Range<usize>) -> Panel {
    let mut panel = Panel::new("speed", Quantity::Percent);
    for (k, p) in scene.review.points.pumps.iter().take(3).enumerate() {
        panel = panel.with(format!("speed of {}", p.pump), Look::nth(k + 1), part(&p.speed, window));
    }
    panel.from_zero = true;
    panel
}

fn sign_said(scene: &Scene, doubt: &Doubt) -> String {
    doubt.sign.as_ref().map_or_else(String::new, |s| {
        let expected = scene.show.expected(&s.expected, s.unit);
        format!(
            " {}: {}; expected {expected}.",
            crate::report::words::capital(&s.name),
            scene.show.value(s.value, s.unit)
        )
    })
}

/// The figure of a cut around rows of a point.
fn cut(
    scene: &Scene,
    f: &Finding,
    window: Range<usize>,
    panels: Vec<Panel>,
    (counted, rows): (&'static str, Stretches),
    told: Told,
) -> Option<Figure> {
    Cut { window, panels, counted, rows: Some(rows) }.figure(scene, f, told)
}

fn stuck(scene: &Scene, f: &Finding, doubt: &Doubt) -> Option<Figure> {
    let s = as_read(scene, doubt, &f.subject)?;
    let first = scene.days.partition_point(|d| d.end <= doubt.first_row);
    let window = scene.days_around(first, 1);
    let told = Told {
        title: format!("\"{}\" stands still", f.subject),
        caption: format!(
            "The first day on which it stands, {}, with the days before and after. Local time.",
            scene.date(doubt.first_row)
        ),
        description: format!(
            "Traces over time: \"{}\" keeps one value while the pumps' speed moves.{}",
            f.subject,
            sign_said(scene, doubt)
        ),
    };
    let left = scene.review.screened.series.iter().find(|o| o.name == f.subject);
    let gone = |i: &usize| s.values[*i].is_finite() && left.is_none_or(|l| !l.values[*i].is_finite());
    let still = Stretches::of(f.shown.rows.within(&window).flatten().filter(gone));
    let partner = match s.role {
        Role::SupplyTemperature => scene.review.screened.find(Role::ReturnTemperature, None),
        Role::ReturnTemperature => scene.review.screened.find(Role::SupplyTemperature, None),
        _ => None,
    };
    let mut panels = vec![panel_of("reading", s, Look::First, &window), speeds(scene, &window)];
    panels.extend(partner.map(|p| panel_of("its partner", p, Look::Second, &window)));
    cut(scene, f, window, panels, ("the stretch that is not believed", still), told)
}

fn spikes(scene: &Scene, f: &Finding, doubt: &Doubt) -> Option<Figure> {
    let s = as_read(scene, doubt, &f.subject)?;
    let left = scene.review.screened.series.iter().find(|o| o.name == f.subject)?;
    let out = |i: &usize| s.values[*i].is_finite() && !left.values[*i].is_finite();
    let taken = Stretches::of((0..scene.rows()).filter(out));
    let day = &scene.days[scene.day_of_most(&taken)?];
    let first = taken.within(day).next()?.start;
    let window = scene.around(first + (SPIKES_H / 3.0 / scene.review.clock.hours()) as usize, SPIKES_H);
    let told = Told {
        title: format!("\"{}\" spikes", f.subject),
        caption: format!(
            "{} h from the first spike of the day with most of them, {}. What remains once they are taken out is drawn below. Local time.",
            round(scene.hours(window.len()), 2),
            scene.date(first)
        ),
        description: format!(
            "Traces over time: single readings of \"{}\" stand far off their neighbours, {} of them on that day.{}",
            f.subject,
            taken.count_in(day),
            sign_said(scene, doubt)
        ),
    };
    let panels = vec![
        panel_of("as read", s, Look::First, &window),
        panel_of("without spikes", left, Look::Second, &window),
        speeds(scene, &window),
    ];
    cut(scene, f, window, panels, ("taken out", taken), told)
}

/// A zero that is off: the reading while every pump rests.
fn at_rest(scene: &Scene, f: &Finding, doubt: &Doubt) -> Option<Figure> {
    let s = as_read(scene, doubt, &f.subject)?;
    let rests = |i: &usize| scene.review.points.pumps.iter().all(|p| !p.state[*i].turns()) && s.values[*i].is_finite();
    let rest = Stretches::of((0..scene.rows()).filter(rests));
    // A day with rest and running: the one whose share of rest is nearest to a half.
    let far = |d: &Range<usize>| (rest.count_in(d) as f64 / d.len().max(1) as f64 - 0.5).abs();
    let day = scene.days.iter().min_by(|a, b| far(a).total_cmp(&far(b))).filter(|d| rest.count_in(d) > 0)?;
    let (window, quantity) = (day.clone(), Quantity::of_unit(s.unit));
    let value = doubt.sign.as_ref().map_or(f64::NAN, |s| s.value);
    let reading = panel_of("reading", s, Look::First, &window)
        .level(Level::expected("with every pump at rest it should read", 0.0))
        .level(Level::limit("it reads", value));
    let told = Told {
        title: format!("\"{}\" with every pump at rest", f.subject),
        caption: format!(
            "The day whose share of rest is nearest to a half, {}. With no pump running a reading across pump or flow meter should be zero. Local time.",
            scene.date(window.start)
        ),
        description: format!(
            "Traces over one day: \"{}\" reads {} while every pump stands, where it should read nothing.{}",
            f.subject,
            quantity.say(scene.show, value),
            sign_said(scene, doubt)
        ),
    };
    let panels = vec![reading, speeds(scene, &window)];
    cut(scene, f, window, panels, ("every pump at rest", rest), told)
}

/// A point that moves earlier or later than the pump's others.
fn clock(scene: &Scene, f: &Finding, doubt: &Doubt) -> Option<Figure> {
    let s = as_read(scene, doubt, &f.subject)?;
    // Where a pump that rested starts.
    let states = scene.review.points.pumps.iter().map(|p| &p.state);
    let starts = states
        .flat_map(|st| (1..st.len()).filter(move |i| st[*i].turns() && st[*i - 1] == crate::operating::State::Off));
    let minutes = doubt.sign.as_ref().map_or(f64::NAN, |s| s.value);
    let lag_h = if minutes.is_finite() { minutes.abs() / 60.0 } else { 1.0 };
    let start = starts.min().unwrap_or(scene.rows() / 2);
    let window = scene.around(start, CLOCK_H.max(3.0 * lag_h));
    let told = Told {
        title: format!("\"{}\" and its pump's other points", f.subject),
        caption: format!(
            "{} h around the first start of a pump in the record, {}. Points of one pump move together. Local time.",
            round(scene.hours(window.len()), 2),
            scene.date(start)
        ),
        description: format!(
            "Traces over time: \"{}\" moves {} min {} the pump's speed.",
            f.subject,
            round(minutes.abs(), 3),
            if minutes > 0.0 { "after" } else { "before" }
        ),
    };
    let panels = vec![panel_of("reading", s, Look::First, &window), speeds(scene, &window)];
    cut(scene, f, window, panels, ("", Stretches::default()), told)
}

/// A reading in another unit, over speed, with what the pump's table can make there.
fn unit(scene: &Scene, f: &Finding, doubt: &Doubt) -> Option<Figure> {
    let s = as_read(scene, doubt, &f.subject)?;
    let pumps = &scene.review.points.pumps;
    let pump = pumps.iter().find(|p| s.of.as_deref() == Some(&p.pump)).or_else(|| pumps.first())?;
    let declared = scene.review.plant.pumps.iter().find(|p| p.name == pump.pump)?;
    let Some(table) = declared.curves.first() else { return by_design(scene, f, doubt, s) };
    let n = table.speed.in_of_one();
    let (most, power) = match s.role {
        Role::PumpHead | Role::DifferentialPressure => (table.head_kpa.iter().copied().fold(f64::NAN, f64::max), 2),
        Role::PumpPower => (table.power_kw.iter().copied().fold(f64::NAN, f64::max), 3),
        Role::PumpFlow | Role::LoopFlow => (table.head_flow_m3h.last().copied().unwrap_or(f64::NAN), 1),
        _ => return by_design(scene, f, doubt, s),
    };
    let rated = most / n.powi(power);
    let curve: Vec<(f64, f64)> = (0..=20).map(|k| f64::from(k) / 20.0).map(|v| (v, rated * v.powi(power))).collect();
    let rows = (0..scene.rows()).filter(|i| pump.state[*i].turns());
    let told = Told {
        title: format!("\"{}\" over the speed of {}", f.subject, pump.pump),
        caption: "Running rows of the whole period, as declared, with the most that the pump's table can make at each speed by the affinity laws. A reading in another unit lies far off it everywhere."
            .to_owned(),
        description: format!("Scatter over speed.{}", sign_said(scene, doubt)),
    };
    Scatter::new(("speed", Quantity::Percent), ("reading", Quantity::of_unit(s.unit)))
        .cloud(Kind::Counts, format!("\"{}\"", f.subject), rows.map(|i| (pump.speed[i], s.values[i])))
        .line(
            Look::Expected,
            format!("most that {} can make by its table", pump.pump),
            if rated.is_finite() { curve } else { Vec::new() },
            0.0,
        )
        .figure(scene, f, told)
}

/// A reading in another unit, beside its design value where one is declared.
fn by_design(scene: &Scene, f: &Finding, doubt: &Doubt, s: &Series) -> Option<Figure> {
    let running = |i: &usize| scene.review.points.pumps.iter().any(|p| p.state[*i].turns()) && s.values[*i].is_finite();
    let day = scene.day_of_most(&Stretches::of((0..scene.rows()).filter(running)))?;
    let window = scene.days[day].clone();
    let system = &scene.review.plant.system;
    let design = match s.role {
        Role::SupplyTemperature => system.supply_temperature,
        Role::ReturnTemperature => system.return_temperature,
        _ => None,
    };
    let mut reading = panel_of("reading", s, Look::First, &window);
    if let Some(design) = design {
        reading = reading.level(Level::expected("design", design.in_celsius()));
    }
    let told = Told {
        title: format!("\"{}\" as it was read", f.subject),
        caption: format!(
            "The day with most running hours, {}, in the unit that is declared. Local time.",
            scene.date(window.start)
        ),
        description: format!("Traces over one day.{}", sign_said(scene, doubt)),
    };
    let panels = vec![reading, speeds(scene, &window)];
    cut(scene, f, window, panels, ("", Stretches::default()), told)
}

/// Two points against each other.
fn against(scene: &Scene, f: &Finding, doubt: &Doubt) -> Option<Figure> {
    let own = as_read(scene, doubt, &f.subject)?;
    let other = as_read(scene, doubt, doubt.beside.first()?)?;
    let quantity = Quantity::of_unit(own.unit);
    let running = |i: &usize| scene.review.points.system.pumps_on[*i] > 0;
    let rows = || (0..scene.rows()).filter(running).filter(|i| f.shown.rows.has(*i));
    let known = || rows().map(|i| other.values[i]).filter(|v| v.is_finite());
    let (low, high) = known().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let warms = scene.review.plant.system.service != Service::HeatingWater;
    let line = match doubt.kind {
        Doubts::Swapped => {
            let back = own.role == Role::ReturnTemperature;
            let side = if back == warms { "above" } else { "below" };
            format!("equal; \"{}\" should lie {side} it", f.subject)
        }
        _ => "equal".to_owned(),
    };
    let told = Told {
        title: format!("\"{}\" against \"{}\"", own.name, other.name),
        caption: "Rows with a pump running; the line is where both read the same.".to_owned(),
        description: format!(
            "Scatter of one point against the other, {} rows.{}",
            round(rows().count() as f64, 3),
            sign_said(scene, doubt)
        ),
    };
    let mut plot = Scatter::new(("the other point", quantity), ("the point itself", quantity))
        .cloud(
            Kind::Counts,
            format!("\"{}\" over \"{}\"", own.name, other.name),
            rows().map(|i| (other.values[i], own.values[i])),
        )
        .line(Look::Expected, line, vec![(low, low), (high, high)], 0.0);
    plot.square = true;
    plot.figure(scene, f, told)
}
