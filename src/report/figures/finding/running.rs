//! Speeds that stand, floors that hold too much head, pumps that turn for nothing, and how many of them run.

use super::{
    Scene, Told, middle, part,
    plot::{Level, Look},
    quantity::Quantity,
    time::{Cut, Panel},
    wide,
};
use crate::{
    faults::{Finding, What},
    plant::Role,
    quantity::Fraction,
    report::{figures::Figure, show::figures as round},
};
use std::ops::Range;

/// Hours shown of a pump that comes and goes, and around a stretch without flow [h].
const COMES_H: f64 = 8.0;
const AROUND_H: f64 = 4.0;

pub fn stands(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::Stands { level } = f.shown.what else { return None };
    let pump = scene.pump(&f.subject)?;
    let day = scene.day_of_most(&f.shown.rows)?;
    let window = scene.days_around(day, 1);
    let cut = |v: &[f64]| part(v, &window);
    let mut speed = Panel::new("speed", Quantity::Percent).with("speed as trended", Look::First, cut(&pump.speed));
    if let Some(command) = scene.values(Role::PumpSpeedCommand, Some(&f.subject)) {
        speed = speed.with("speed command", Look::Second, cut(command));
    }
    speed.from_zero = true;
    let speed = speed.level(Level { label: "stands at".into(), at: level, look: Look::Limit });
    let power = Panel::new("power", Quantity::Power).with("power", Look::First, cut(&pump.power_kw));
    let flow = Panel::new("flow of the loop", Quantity::Flow).with(
        "flow",
        Look::First,
        cut(&scene.review.points.system.flow_m3h),
    );
    let moved = if scene.values(Role::LoopFlow, None).is_some() { flow } else { power };
    let asked = scene.regimes(&f.subject).map(|r| cut(&r.curve_head_kpa)).unwrap_or_default();
    let head = Panel::new("head", Quantity::Head).with("head", Look::First, cut(&pump.head_kpa)).with(
        "head that the control curve asks",
        Look::Expected,
        asked,
    );
    let hours = scene.show.hours(f.hours);
    let told = Told {
        title: format!("The speed of {}, and what should have moved it", f.subject),
        caption: format!(
            "The day with most of these hours, {}, with the days before and after. A controlled speed follows the load; this one stands while flow, power or head move below it. Local time.",
            scene.date(scene.days[day].start)
        ),
        description: format!(
            "Traces over time: the speed of {} stands at {} ({hours} in all) while {} and head move.",
            f.subject,
            scene.show.percent(level),
            moved.name
        ),
    };
    Cut { window, panels: vec![speed, moved, head], counted: "hours at one speed that count", rows: None }
        .figure(scene, f, told)
}

pub fn floor(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::Floor { floor, lowest, asked_kpa } = &f.shown.what else { return None };
    let pump = scene.pump(&f.subject)?;
    let day = scene.day_of_most(&f.shown.rows)?;
    let window = scene.days[day].clone();
    let running = |v: f64, i: usize| if pump.state[i].turns() { v } else { f64::NAN };
    let of = |v: &[f64]| window.clone().map(|i| running(v[i], i)).collect::<Vec<f64>>();
    let asked: Vec<f64> =
        window.clone().map(|i| running(asked_kpa.get(i).map_or(f64::NAN, |v| f64::from(*v)), i)).collect();
    let mut speed = Panel::new("speed", Quantity::Percent)
        .with("speed", Look::First, of(&pump.speed))
        .level(Level::limit("speed floor", *floor))
        .level(Level::expected("lowest that is allowed", *lowest));
    speed.from_zero = true;
    let mut head = Panel::new("head", Quantity::Head).with("head", Look::First, of(&pump.head_kpa)).with(
        "head that is enough (asked or needed)",
        Look::Expected,
        asked,
    );
    head.from_zero = true;
    let flow = Panel::new("flow of the loop", Quantity::Flow).with(
        "flow",
        Look::First,
        of(&scene.review.points.system.flow_m3h),
    );
    let counted = || scene.days.iter().flat_map(|d| f.shown.rows.within(d)).flatten();
    let made = middle(counted().map(|i| pump.head_kpa[i]));
    let enough = middle(counted().map(|i| asked_kpa.get(i).map_or(f64::NAN, |v| f64::from(*v))));
    let told = Told {
        title: format!("{} on its speed floor", f.subject),
        caption: format!(
            "The day with most of these hours, {}. On the floor the head is what the floor makes, not what is asked: the gap between the two is spent. Local time.",
            scene.date(window.start)
        ),
        description: format!(
            "Traces over one day: the speed of {} rests on its floor of {}, where it makes {} (middle of {}) and {} would have been enough; {} is the lowest allowed.",
            f.subject,
            scene.show.percent(*floor),
            scene.show.head(made),
            scene.show.hours(f.hours),
            scene.show.head(enough),
            scene.show.percent(*lowest)
        ),
    };
    Cut { window, panels: vec![speed, head, flow], counted: "hours on the floor with head to spare", rows: None }
        .figure(scene, f, told)
}

pub fn no_flow(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::NoFlow { no_flow_kpa, held_kpa } = &f.shown.what else { return None };
    let pump = scene.pump(&f.subject)?;
    let stretch = scene.longest_stretch(&f.shown.rows)?;
    let hours = (scene.hours(stretch.len()) + 2.0 * AROUND_H).min(24.0);
    let window = scene.around((stretch.start + stretch.end) / 2, hours);
    let cut = |v: &[f64]| part(v, &window);
    let mut speed =
        Panel::new("speed", Quantity::Percent).with(format!("speed of {}", f.subject), Look::First, cut(&pump.speed));
    for (k, other) in scene.review.points.pumps.iter().filter(|p| p.pump != f.subject).take(3).enumerate() {
        speed = speed.with(format!("speed of {}", other.pump), Look::nth(k + 1), cut(&other.speed));
    }
    speed.from_zero = true;
    let running = |of: &[f32]| -> Vec<f64> {
        let values = wide(of, window.clone());
        values.into_iter().zip(window.clone()).map(|(v, i)| if pump.state[i].turns() { v } else { f64::NAN }).collect()
    };
    let own = scene.values(Role::PumpHead, Some(&f.subject)).map(cut).unwrap_or_default();
    let held = running(held_kpa);
    let mut head = Panel::new("head", Quantity::Head)
        .with(
            format!("head of {} at no flow, by its table at this speed", f.subject),
            Look::Expected,
            running(no_flow_kpa),
        )
        .with(format!("head read across {}", f.subject), Look::First, own)
        .with("head held between the headers", Look::Second, held);
    head.from_zero = true;
    let meter = scene.values(Role::PumpFlow, Some(&f.subject)).or_else(|| scene.values(Role::LoopFlow, None));
    let flow =
        Panel::new("flow by meter", Quantity::Flow).with("flow meter", Look::First, meter.map(cut).unwrap_or_default());
    let power =
        Panel::new("power", Quantity::Power).with(format!("power of {}", f.subject), Look::First, cut(&pump.power_kw));
    let of = |v: &[f32]| middle(stretch.clone().map(|i| v.get(i).map_or(f64::NAN, |v| f64::from(*v))));
    let heads = match (of(no_flow_kpa), of(held_kpa)) {
        (a, b) if a.is_finite() && b.is_finite() => format!(
            " Its table gives {} at no flow and that speed; {} is held between the headers.",
            scene.show.head(a),
            scene.show.head(b)
        ),
        _ => String::new(),
    };
    let told = Told {
        title: format!("{} turns and delivers nothing", f.subject),
        caption: format!(
            "{} h around the longest stretch on the day with most of these hours, {}. A pump that makes no more head than the others hold, or whose meter stands at zero, moves no water. Local time.",
            round(scene.hours(window.len()), 2),
            scene.date(stretch.start)
        ),
        description: format!(
            "Traces over time: {} turns without flow for {} at a stretch, at {} of rated speed.{heads}",
            f.subject,
            scene.show.hours(scene.hours(stretch.len())),
            scene.show.percent(middle(stretch.clone().map(|i| pump.speed[i])))
        ),
    };
    Cut { window, panels: vec![speed, head, flow, power], counted: "turning without flow", rows: None }
        .figure(scene, f, told)
}

pub fn too_many(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::TooMany { with_fewer_kw } = &f.shown.what else { return None };
    let window = scene.days[scene.day_of_most(&f.shown.rows)?].clone();
    let system = &scene.review.points.system;
    let mut fewer = vec![f64::NAN; window.len()];
    for (row, kw) in with_fewer_kw.iter().filter(|(row, _)| window.contains(&(*row as usize))) {
        fewer[*row as usize - window.start] = f64::from(*kw);
    }
    let now =
        middle(with_fewer_kw.iter().map(|(row, _)| system.power_kw.get(*row as usize).copied().unwrap_or(f64::NAN)));
    let less = middle(with_fewer_kw.iter().map(|r| f64::from(r.1)));
    let mut power = Panel::new("power of all pumps", Quantity::Power)
        .with("power as it was", Look::First, part(&system.power_kw, &window))
        .with("with one pump fewer, same flow and head", Look::Expected, fewer);
    power.from_zero = true;
    let told = Told {
        title: "Power as it was, and with one pump fewer".to_owned(),
        caption: format!(
            "The day with most of these hours, {}. One pump fewer is priced at the same flow and head by the pumps' tables as the record taught them, and only where it would stay inside its preferred region. Local time.",
            scene.date(window.start)
        ),
        description: format!(
            "Traces over one day: in the hours marked the pumps take {} in the middle, and one fewer would take {}; the number of running pumps and the flow below.",
            scene.show.power(now),
            scene.show.power(less)
        ),
    };
    let panels = vec![power, scene.count_panel(&window), scene.flow_panel(&window)];
    Cut { window, panels, counted: "hours with one pump too many", rows: None }.figure(scene, f, told)
}

pub fn too_few(scene: &Scene, f: &Finding) -> Option<Figure> {
    let window = scene.days[scene.day_of_most(&f.shown.rows)?].clone();
    let most = scene.review.plant.control.maximum_speed.map_or(1.0, Fraction::in_of_one);
    let mut speed = Panel::new("speed", Quantity::Percent);
    for (k, p) in scene.review.points.pumps.iter().take(4).enumerate() {
        speed = speed.with(format!("speed of {}", p.pump), Look::nth(k), part(&p.speed, &window));
    }
    speed.from_zero = true;
    let speed = speed.level(Level::limit("full speed", most));
    let told = Told {
        title: "Full speed with a pump idle".to_owned(),
        caption: format!(
            "The day with most of these hours, {}. Every running pump is at full speed and the head lies below what is asked, while another stands. Local time.",
            scene.date(window.start)
        ),
        description: format!(
            "Traces over one day: {} in all at full speed ({}) with a pump idle and the head short; speeds, head and what is asked, and the number of running pumps.",
            scene.show.hours(f.hours),
            scene.show.percent(most)
        ),
    };
    let panels = vec![speed, scene.head_panel(&window), scene.count_panel(&window)];
    Cut { window, panels, counted: "hours with one pump too few", rows: None }.figure(scene, f, told)
}

pub fn comes_and_goes(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::ComesAndGoes { on_m3h, off_m3h } = f.shown.what else { return None };
    let stretch = scene.longest_stretch(&f.shown.rows)?;
    let window = scene.around((stretch.start + stretch.end) / 2, COMES_H);
    let flow =
        scene.flow_panel(&window).level(Level::limit("comes at", on_m3h)).level(Level::expected("goes at", off_m3h));
    let told = Told {
        title: "A pump that comes and goes".to_owned(),
        caption: format!(
            "{} h around the middle of the longest stretch on the day with most of these hours, {}. The lines are the flows just before it comes and just before it goes, in the middle of all times. Local time.",
            round(scene.hours(window.len()), 2),
            scene.date(stretch.start)
        ),
        description: format!(
            "Steps over time: the number of running pumps goes up and down; a pump comes at {} and goes at {}.",
            scene.show.flow(on_m3h),
            scene.show.flow(off_m3h)
        ),
    };
    let panels = vec![scene.count_panel(&window), flow, scene.head_panel(&window)];
    Cut { window, panels, counted: "hours in which it comes and goes", rows: None }.figure(scene, f, told)
}

impl Scene<'_> {
    /// How many pumps turn.
    fn count_panel(&self, window: &Range<usize>) -> Panel {
        let count = |i: usize| self.review.points.pumps.iter().filter(|p| p.state[i].turns()).count() as f64;
        let mut panel = Panel::new("pumps running", Quantity::Number)
            .with("pumps running", Look::First, window.clone().map(count).collect())
            .in_steps();
        panel.from_zero = true;
        panel
    }

    fn flow_panel(&self, window: &Range<usize>) -> Panel {
        let flow = part(&self.review.points.system.flow_m3h, window);
        Panel::new("flow of the loop", Quantity::Flow).with("flow of the loop", Look::First, flow)
    }
}
