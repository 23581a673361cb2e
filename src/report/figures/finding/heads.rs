//! Heads against what is asked and what was needed, and coils that lack them.

use super::{
    Scene, Told, middle, part,
    plot::{Kind, Level, Look},
    quantity::Quantity,
    scatter::{Scatter, line_of},
    time::{Cut, Panel},
};
use crate::{
    faults::{Finding, What},
    hydraulics::system::ControlCurve,
    plant::{Role, Service},
    report::{figures::Figure, words},
};

/// Points of a curve that is drawn from its two ends.
const PLACES: usize = 40;

pub fn off_curve(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::OffCurve { measured_kpa, asked_kpa, by_sensor, within_kpa, .. } = &f.shown.what else { return None };
    let flow = &scene.review.points.system.flow_m3h;
    let at = |i: usize, of: &[f32]| (flow[i], of.get(i).map_or(f64::NAN, |v| f64::from(*v)));
    let judged = || (0..scene.rows()).filter(|i| measured_kpa.get(*i).is_some_and(|v| v.is_finite()));
    let counts = |i: &usize| f.shown.rows.has(*i);
    let (name, line) = if *by_sensor {
        ("pressure at the control sensor", "its setpoint")
    } else {
        ("head of the pump", "configured control curve")
    };
    let off = middle(judged().filter(counts).map(|i| at(i, measured_kpa).1 - at(i, asked_kpa).1));
    let side = if off > 0.0 { "above" } else { "below" };
    let others = judged().filter(|i| !counts(i)).map(|i| at(i, measured_kpa));
    let plot = Scatter::new(("flow of the loop", Quantity::Flow), (name, Quantity::Head))
        .cloud(Kind::Beside, "other rows between the speed limits", others)
        .cloud(Kind::Counts, format!("{side} the curve, counted"), judged().filter(counts).map(|i| at(i, measured_kpa)))
        .line(
            Look::Expected,
            format!("{line}, with what errors allow"),
            line_of(judged().map(|i| at(i, asked_kpa))),
            *within_kpa,
        );
    let subject = if f.subject == "loop" { "the loop" } else { &f.subject };
    let told = Told {
        title: format!("The head of {subject} against what its control asks"),
        caption: format!(
            "Steady rows between speed floor and full speed, whole period. The band around the {} is {} each way: half of the 95 % interval and the controller's own tolerance.",
            if *by_sensor { "setpoint" } else { "curve" },
            scene.show.head(*within_kpa)
        ),
        description: format!(
            "Scatter over flow: in {} the {name} lies {} {side} the {line} in the middle; {} each way would be within the errors.",
            scene.show.hours(f.hours),
            scene.show.head(off.abs()),
            scene.show.head(*within_kpa)
        ),
    };
    plot.figure(scene, f, told)
}

pub fn too_much(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::TooMuchHead { share, zero_enough_kpa } = f.shown.what else { return None };
    let system = &scene.review.points.system;
    let need = &scene.review.need_kpa;
    let known = |i: &usize| system.head_kpa[*i].is_finite() && need[*i].is_finite();
    let all: Vec<usize> = f.shown.rows.within(&(0..scene.rows())).flatten().filter(known).collect();
    let rows = || all.iter().copied();
    let (head, enough) = (middle(rows().map(|i| system.head_kpa[i])), middle(rows().map(|i| need[i])));
    let kept = line_of(rows().map(|i| (system.flow_m3h[i], system.head_kpa[i])));
    let mut plot = Scatter::new(("flow of the loop", Quantity::Flow), ("head", Quantity::Head))
        .cloud(Kind::Other, "head that would have been enough", rows().map(|i| (system.flow_m3h[i], need[i])))
        .cloud(Kind::Counts, "head that the pumps made", rows().map(|i| (system.flow_m3h[i], system.head_kpa[i])));
    plot = match zero_enough_kpa.and_then(|zero| lower_curve(scene, zero)) {
        Some(line) => {
            plot.line(Look::Expected, "curve to the same design point that would have been enough", line, 0.0)
        }
        None => {
            let limit = kept.iter().map(|(x, y)| (*x, share * y)).collect();
            plot.line(
                Look::Limit,
                format!("{} of the head made: need below it is too much head", scene.show.percent(share)),
                limit,
                0.0,
            )
        }
    };
    let told = Told {
        title: "Head that was made, and head that would have been enough".to_owned(),
        caption: "Steady hours on the control curve with a known need, whole period. Enough is the head at which the neediest valve would have stood 90 % open, by the loop learned from this record. The gap is throttled away in valves."
            .to_owned(),
        description: format!(
            "Scatter over flow: in {} the pumps made {} in the middle where {} would have been enough.",
            scene.show.hours(f.hours),
            scene.show.head(head),
            scene.show.head(enough)
        ),
    };
    plot.figure(scene, f, told)
}

/// The declared kind of curve from a lower start to the declared design point.
fn lower_curve(scene: &Scene, zero_flow_kpa: f64) -> Option<Vec<(f64, f64)>> {
    use crate::plant::ControlMode;
    let (control, system) = (&scene.review.plant.control, &scene.review.plant.system);
    let design_m3h = control.design_flow.or(system.design_flow)?.in_m3h();
    let design_kpa = control.design_head.or(system.design_head)?.in_kpa();
    let curve = match control.mode? {
        ControlMode::Quadratic => ControlCurve::Quadratic { zero_flow_kpa, design_m3h, design_kpa },
        ControlMode::Proportional => ControlCurve::Proportional { zero_flow_kpa, design_m3h, design_kpa },
        _ => return None,
    };
    let place = |k: usize| design_m3h * k as f64 / PLACES as f64;
    Some((0..=PLACES).map(|k| (place(k), curve.head(place(k)))).collect())
}

pub fn starving(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::Starving { coils, at_end, short_k } = &f.shown.what else { return None };
    let day = scene.day_of_most(&f.shown.rows)?;
    let window = scene.days[day].clone();
    let mut valves = Panel::new("valves", Quantity::Percent);
    valves.whole = Some(0.0..1.0);
    let mut air = Panel::new("air off its setpoint", Quantity::Difference);
    for (k, coil) in coils.iter().take(4).enumerate() {
        if let Some(v) = scene.review.screened.valve(coil) {
            valves = valves.with(coil, Look::nth(k), part(v, &window));
        }
        if let Some(off) = scene.short_by(coil) {
            air = air.with(coil, Look::nth(k), window.clone().map(off).collect());
        }
    }
    let valves = valves.level(Level::limit("at its end from", *at_end));
    let by_air = air.traces.len();
    let air = air.level(Level::limit("short from", *short_k));
    let head = scene.head_panel(&window);
    let told = Told {
        title: "Coils that ask for more than they get".to_owned(),
        caption: format!(
            "The day with most of these hours, {}. The valves stand at their end{} while the pumps keep their curve below full speed. Local time.",
            scene.date(window.start),
            if by_air > 0 { " and the air is off its setpoint on the starving side" } else { "" }
        ),
        description: format!(
            "Traces over one day: the valves of {} stand at or above {} open for {} that day ({} in all); {}head below.",
            words::join(&coils[..coils.len().min(4)]),
            scene.show.percent(*at_end),
            scene.show.hours(scene.hours(f.shown.rows.count_in(&window))),
            scene.show.hours(f.hours),
            if by_air > 0 { "how far their air is off its setpoint and " } else { "" }
        ),
    };
    Cut { window, panels: vec![valves, air, head], counted: "hours with coils short on the curve", rows: None }
        .figure(scene, f, told)
}

impl<'r> Scene<'r> {
    /// How far a coil's air, else its space, is off its setpoint on the starving side [K], by row.
    fn short_by(&self, coil: &str) -> Option<impl Fn(usize) -> f64 + 'r> {
        let pair = |a, b| self.values(a, Some(coil)).zip(self.values(b, Some(coil)));
        let (air, setpoint) = pair(Role::AirTemperature, Role::AirTemperatureSetpoint)
            .or_else(|| pair(Role::SpaceTemperature, Role::SpaceTemperatureSetpoint))?;
        let sign = if self.review.plant.system.service == Service::HeatingWater { -1.0 } else { 1.0 };
        Some(move |i: usize| sign * (air[i] - setpoint[i]))
    }
}
