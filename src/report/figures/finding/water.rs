//! Differences of temperature, and water that goes past the coils.

use super::{
    Scene, Told,
    daily::{self, Days},
    middle,
    plot::{Kind, Level, Look},
    quantity::Quantity,
    scatter::{Scatter, line_of},
    wide,
};
use crate::{
    faults::{Finding, What},
    plant::{Role, Service},
    report::figures::Figure,
};

pub fn difference(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::Water { coil, expected_k, limit, since } = &f.shown.what else { return None };
    let supply = scene.values(Role::SupplyTemperature, None)?;
    let back = match coil {
        Some(name) => scene.values(Role::CoilReturnTemperature, Some(name))?,
        None => scene.values(Role::ReturnTemperature, None)?,
    };
    let sign = if scene.review.plant.system.service == Service::HeatingWater { -1.0 } else { 1.0 };
    let system = &scene.review.points.system;
    let (x, name) = match coil {
        Some(name) => (scene.review.screened.valve(name)?, ("opening of its valve", Quantity::Percent)),
        None => (system.flow_m3h.as_slice(), ("flow of the loop", Quantity::Flow)),
    };
    let running = |i: &usize| system.pumps_on[*i] > 0 && (coil.is_none() || x[*i] >= 0.1) && system.steady[*i];
    let taken = |i: usize| (x[i], sign * (back[i] - supply[i]));
    let expected = |i: usize| (x[i], expected_k.get(i).map_or(f64::NAN, |v| f64::from(*v)));
    let rows = || (0..scene.rows()).filter(running);
    let counts = |i: &usize| f.shown.rows.has(*i);
    let from = since.map(|s| s as usize);
    let before = |i: &usize| from.is_none_or(|s| *i < s) && !counts(i);
    let line = match from {
        Some(_) => line_of(rows().filter(before).map(taken)),
        None => line_of(rows().filter(counts).map(expected)),
    };
    let low = line.iter().map(|(x, y)| (*x, limit * y)).collect();
    let (counted, beside) = match from {
        Some(s) => (format!("since {}", scene.date(s)), "before it fell"),
        None => ("counted".to_owned(), "other running rows"),
    };
    let now = middle(rows().filter(counts).map(|i| taken(i).1));
    let should = middle(rows().filter(counts).map(|i| expected(i).1));
    let was = middle(rows().filter(before).map(|i| taken(i).1));
    let plot = Scatter::new(name, ("temperature difference", Quantity::Difference))
        .cloud(Kind::Beside, beside, rows().filter(before).map(taken))
        .cloud(Kind::Counts, counted, rows().filter(counts).map(taken))
        .line(
            Look::Expected,
            if from.is_some() { "as it was before" } else { "what it should be in those hours" },
            line,
            0.0,
        )
        .line(Look::Limit, format!("low: {} of that", scene.show.percent(*limit)), low, 0.0);
    let of = coil.as_deref().unwrap_or("the loop");
    let against = match from {
        Some(s) => format!(", where it was {} before {}", scene.show.difference(was), scene.date(s)),
        None if should.is_finite() => format!(", where it should be {}", scene.show.difference(should)),
        None => String::new(),
    };
    let told = Told {
        title: format!("How far the water of {of} {} on its way", if sign > 0.0 { "warms" } else { "cools" }),
        caption: format!(
            "Difference between supply and return of {of}, steady running rows over the whole period. {}",
            if from.is_some() {
                "The fall is held against the days before it, at like conditions."
            } else {
                "What it should be follows the design difference, the supply temperature of the hour and declared three-way valves."
            }
        ),
        description: format!(
            "Scatter of the temperature difference: {} in the middle of {}{against}.",
            scene.show.difference(now),
            scene.show.hours(f.hours)
        ),
    };
    plot.figure(scene, f, told)
}

pub fn bypass_open(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::BypassOpen { from_m3h, open } = f.shown.what else { return None };
    let position = scene.values(Role::BypassPosition, None)?;
    let system = &scene.review.points.system;
    let rows = || (0..scene.rows()).filter(|i| system.pumps_on[*i] > 0);
    let place = |i: usize| (system.flow_m3h[i], position[i]);
    let counts = |i: &usize| f.shown.rows.has(*i);
    let at = middle(rows().filter(counts).map(|i| position[i]));
    let plot = Scatter::new(("flow of the loop", Quantity::Flow), ("position of the bypass", Quantity::Percent))
        .cloud(Kind::Beside, "other running rows", rows().filter(|i| !counts(i)).map(place))
        .cloud(Kind::Counts, "open well above the minimum flow", rows().filter(counts).map(place))
        .line(Look::Limit, "right of it the bypass should be shut", vec![(from_m3h, 0.0), (from_m3h, 1.0)], 0.0)
        .level(Level::limit("open from", open));
    let told = Told {
        title: "The bypass's position over the flow".to_owned(),
        caption: format!(
            "Running rows of the whole period. A bypass opens for the machines' minimum flow; above {} it has no business to be open.",
            scene.show.flow(from_m3h)
        ),
        description: format!(
            "Scatter of the bypass's position over flow: it stands {} open in the middle of {} at flows above {}, where it should be shut.",
            scene.show.percent(at),
            scene.show.hours(f.hours),
            scene.show.flow(from_m3h)
        ),
    };
    plot.figure(scene, f, told)
}

pub fn past_the_coils(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::PastTheCoils { points, least_share } = &f.shown.what else { return None };
    let places = || points.iter().map(|(_, plant, mix)| (f64::from(*mix), f64::from(*plant)));
    let (low, high) = places().fold((f64::INFINITY, 0.0_f64), |(l, h), (x, _)| (l.min(x), h.max(x)));
    let line = |share: f64| vec![(low, share * low), (high, share * high)];
    let ratio = middle(places().map(|(x, y)| y / x));
    let plot = Scatter::new(
        ("difference of the coils' mixed water", Quantity::Difference),
        ("difference of the plant's water", Quantity::Difference),
    )
    .cloud(Kind::Counts, "rows looked at", places())
    .line(Look::Expected, "all water through the coils: the two are equal", line(1.0), 0.0)
    .line(
        Look::Limit,
        format!("{} of the water past the coils", scene.show.percent(*least_share)),
        line(1.0 - least_share),
        0.0,
    );
    let told = Told {
        title: "The plant's water against the coils' mixed water".to_owned(),
        caption: "Each coil's leaving water, mixed by valve opening and design flow, against what reaches the plant; steady rows well above the minimum flow, thinned evenly. Water past the coils pulls the plant's difference below the line."
            .to_owned(),
        description: format!(
            "Scatter: the plant's temperature difference is {} of that of the coils' mixed water in the middle; equal is expected, and below {} it counts.",
            scene.show.percent(ratio),
            scene.show.percent(1.0 - least_share)
        ),
    };
    plot.figure(scene, f, told)
}

pub fn unexplained(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::Unexplained { daily, at, least } = &f.shown.what else { return None };
    let values = wide(daily, 0..daily.len());
    let (before, after) = (middle(values[..*at].iter().copied()), middle(values[*at..].iter().copied()));
    let panel = Days {
        name: "flow not explained",
        quantity: Quantity::Percent,
        levels: vec![Level::limit("counts from", *least)],
        within: f64::NAN,
        values,
    };
    let told = Told {
        title: "Flow that no coil valve explains, day by day".to_owned(),
        caption: format!(
            "The loop's conductance Q/√H less what the trended valves let through, as share of it; the middle of each day's steady rows. The upright line is the day from which it is seen, {}.",
            scene.date(scene.days.get(*at)?.start)
        ),
        description: format!(
            "Daily marks: the share of the flow that the valves do not explain steps from {} to {} on {}; from {} it counts.",
            scene.show.percent(before),
            scene.show.percent(after),
            scene.date(scene.days.get(*at)?.start),
            scene.show.percent(*least)
        ),
    };
    daily::figure(scene, f, vec![panel], *at, told)
}
