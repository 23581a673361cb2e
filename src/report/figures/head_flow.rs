//! Head over flow: where the pumps ran, the curves they can run on, and the curve they are asked to follow.

use super::{
    Figure, Key, Layer, Shows, control,
    frame::{Frame, Scale, axis_layers},
    marks::{self, Gathered, Mark},
    numbers::{Bands, Datum, Over, over_flow, settle, titled},
    palette,
};
use crate::hydraulics::pchip::Pchip;
use crate::quantity::{Flow, Pressure};
use crate::{
    pipeline::Review,
    plant::{Pump, TestedCurve},
    regimes::Regime,
    report::{
        document::Table,
        show::{Show, figures as round},
        words,
    },
};
use plotters::prelude::*;

pub use super::control::{control_curves, control_heads, drawn};

/// Speeds whose curves are drawn beside those that were tested [fraction of rated], and how near to one of these they may come.
const SPEEDS: [f64; 4] = [1.0, 0.8, 0.6, 0.4];
const APART: f64 = 0.1;
/// Straight strokes a pump curve is drawn in.
const STROKES: u32 = 60;
/// Points whose interval is drawn.
const CROSSES: usize = 14;

/// Name of this figure.
pub const ID: &str = "head-over-flow";
/// Bands of flow in the table.
const BANDS: usize = 8;

/// What lies over flow, gathered once: for this figure, and for what links it with the strip.
pub struct Seen {
    /// One mark a row.
    pub rows: Vec<(usize, Mark)>,
    pub frame: Frame,
    pub gathered: Gathered,
}

impl Seen {
    pub fn of(review: &Review) -> Self {
        let rows = rows(review);
        let frame = frame(review, &rows);
        let gathered = marks::gathered(&frame, rows.iter().map(|r| r.1));
        Self { rows, frame, gathered }
    }
}

/// The figure; `None` where no head over flow is known.
pub fn figure(review: &Review, seen: &Seen, shows: Shows) -> Option<[Figure; 2]> {
    if seen.rows.is_empty() && review.plant.pumps.iter().all(|p| p.curves.is_empty()) {
        return None;
    }
    let (frame, marks) = (&seen.frame, &seen.gathered.marks);
    let order = |r: Regime| words::REGIMES.iter().position(|o| *o == r).unwrap_or(0);
    let data = seen.rows.iter().map(|(_, m)| Datum { x: m.x, y: m.y, kind: order(m.regime), hours: m.hours });
    let bands = Bands::of(data, BANDS, words::REGIMES.len(), frame.x.end);
    let (mut points, keys) = marks::layers("head-flow", frame, marks);
    points.push(crosses(review, frame));
    let curves = control_curves(review, frame, "head-flow");
    Some(shows.map(|show| drawn_in(review, frame, show, (marks, &points, &keys), &bands, &curves)))
}

/// The figure in one system of units.
fn drawn_in(
    review: &Review,
    frame: &Frame,
    show: &Show,
    (marks, points, keys): (&[Mark], &[Layer], &[Key]),
    bands: &Bands,
    (curves, curve_keys): &(Vec<Layer>, Vec<Key>),
) -> Figure {
    let mut keys = keys.to_vec();
    let mut layers: Vec<Layer> =
        axes("head-flow", frame, show).into_iter().map(|l| l.with_table(table(bands, show))).collect();
    let of_pumps = pump_curves(review, frame, show);
    let has_curves = of_pumps.is_some();
    layers.extend(of_pumps);
    layers.extend(points.iter().cloned());
    layers.extend(curves.iter().cloned());
    keys.extend(curve_keys.iter().cloned());
    if let Some(last) = layers.pop() {
        let table = control::table(review, frame, show);
        layers.push(match table {
            Some(table) => last.with_table(table),
            None => last,
        });
    }
    if has_curves {
        let sample = marks::line_sample(palette::PUMP, false);
        keys.push(Key { class: "pump-curves", label: "pump curves (with rings: as tested)".to_owned(), sample });
    }
    if layers.iter().any(|l| l.class == "intervals" && !l.body.is_empty()) {
        let sample = "<path d=\"M6 16H42M24 5V27\" stroke=\"#20242A\" stroke-width=\"3\"/>".to_owned();
        keys.push(Key { class: "intervals", label: "95 % intervals of a few points".to_owned(), sample });
    }
    Figure {
        id: ID.into(),
        title: "Head over flow".to_owned(),
        description: description(marks, show),
        caption: "Head of the running pumps over the flow of the loop. Each mark is a small patch of hours, larger and deeper the more \
                  hours it holds; its shape says where it stands against the control curve. Where hours are few, each reading has its own mark."
            .to_owned(),
        keys,
        height: frame.height,
        layers,
    }
}

/// One mark a row with a running pump whose head and flow are known, in the regime of the first pump that runs, with its row.
fn rows(review: &Review) -> Vec<(usize, Mark)> {
    let system = &review.points.system;
    (0..review.clock.len)
        .filter_map(|i| {
            let (x, y) = (*system.flow_m3h.get(i)?, *system.head_kpa.get(i)?);
            let known = |r: &Regime| *r != Regime::Off;
            let regime = review.regimes.pumps.iter().filter_map(|p| p.regime.get(i).copied()).find(known)?;
            (x.is_finite() && y.is_finite() && y > 0.0).then(|| (i, Mark { x, y, regime, hours: review.clock.hours() }))
        })
        .collect()
}

/// Hours and heads by band of flow and regime.
fn table(bands: &Bands, show: &Show) -> Table {
    let titles = [
        titled(show, "#Flow from, m³/h", "#Flow from, gpm"),
        "#to",
        "Where",
        "#Hours",
        titled(show, "#Head, kPa: mean", "#Head, ft: mean"),
        "#least",
        "#most",
    ];
    let over = Over {
        caption: "Hours and heads by band of flow.".to_owned(),
        titles: &titles,
        kinds: &words::REGIMES.map(|r| words::regime(r).to_owned()),
        value: &|v| show.head_value(v),
    };
    over_flow(bands, &over, show)
}

/// The plot's frame: all rows, the design point and the pump's curve at full speed.
fn frame(review: &Review, rows: &[(usize, Mark)]) -> Frame {
    let control = &review.plant.control;
    let design = [control.design_flow, review.plant.system.design_flow].into_iter().flatten().map(Flow::in_m3h);
    let right = rows.iter().map(|(_, m)| m.x).chain(design).fold(0.0, f64::max).max(1e-6);
    let heads = [control.design_head, control.setpoint].into_iter().flatten().map(Pressure::in_kpa);
    let shut_off = review.plant.pumps.iter().filter_map(|p| p.curves.first()).flat_map(|c| c.head_kpa.iter().copied());
    let top = rows.iter().map(|(_, m)| m.y).chain(heads).chain(shut_off).fold(0.0, f64::max).max(1e-6);
    Frame::whole(820, 0.0..right * 1.12, 0.0..top * 1.06)
}

/// Axes of head over the loop's flow, one layer a unit system.
pub fn axes(id: &str, frame: &Frame, show: &Show) -> Vec<Layer> {
    axis_layers(id, show.units, |units| {
        let show = show.within(units);
        let x = format!("flow of the loop, {}", show.flow_unit());
        let y = format!("head, {}", show.head_unit());
        frame.axes(
            &Scale { description: &x, factor: show.flow_value(1.0) },
            &Scale { description: &y, factor: show.head_value(1.0) },
            None,
        )
    })
}

/// The first pump's curves at several speeds, and those of all pumps together at full speed where more than one ever ran.
fn pump_curves(review: &Review, frame: &Frame, show: &Show) -> Option<Layer> {
    let pump = review.plant.pumps.iter().find(|p| !p.curves.is_empty())?;
    let together = usize::from(review.points.system.pumps_on.iter().copied().max().unwrap_or(1)).max(1);
    let body = frame.layer(|pen| {
        for (speed, tested) in drawn_speeds(pump) {
            let curve = at_speed(pump, speed);
            pen.line(inside(&curve, frame), palette::PUMP.stroke_width(3));
            label(pen, &curve, frame, &show.percent(speed));
            let points = tested.map(|c| c.head_flow_m3h.iter().copied().zip(c.head_kpa.iter().copied()));
            for (q, h) in inside(&points.into_iter().flatten().collect::<Vec<_>>(), frame) {
                pen.draw(&Circle::new(pen.at(q, h), 5, palette::PUMP.stroke_width(2)));
            }
        }
        for n in 2..=together.min(3) {
            let curve: Vec<(f64, f64)> = at_speed(pump, 1.0).into_iter().map(|(q, h)| (q * n as f64, h)).collect();
            marks::dashed(pen, &inside(&curve, frame), palette::PUMP.stroke_width(3));
            label(pen, &curve, frame, &format!("{n} pumps"));
        }
    });
    Some(Layer::new("head-flow-pump-curves", "pump-curves", body))
}

/// The speeds of the tested curves with these, and further ones that lie apart from them.
fn drawn_speeds(pump: &Pump) -> Vec<(f64, Option<&TestedCurve>)> {
    let tested = pump.curves.iter().map(|c| (c.speed.in_of_one(), Some(c)));
    let apart = |s: &f64| pump.curves.iter().all(|c| (c.speed.in_of_one() - s).abs() >= APART);
    tested.chain(SPEEDS.into_iter().filter(apart).map(|s| (s, None))).collect()
}

/// Words at a curve's last point in the frame.
fn label(pen: &super::frame::Pen, curve: &[(f64, f64)], frame: &Frame, text: &str) {
    if let Some(&(q, h)) = inside(curve, frame).last() {
        let near_edge = q > 0.9 * frame.x.end;
        pen.words(text, q, h, if near_edge { (-100, -34) } else { (8, -10) }, palette::MUTED);
    }
}

/// A pump's curve at a speed, from the curve tested nearest to it, by the affinity laws (Q ~ n, H ~ n^2).
fn at_speed(pump: &Pump, speed: f64) -> Vec<(f64, f64)> {
    let distance = |c: &&TestedCurve| (c.speed.in_of_one() - speed).abs();
    let nearest = pump.curves.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)));
    let Some(curve) = nearest else { return Vec::new() };
    let ratio = speed / curve.speed.in_of_one();
    smooth(&curve.head_flow_m3h, &curve.head_kpa).into_iter().map(|(q, h)| (q * ratio, h * ratio * ratio)).collect()
}

/// Places along the smooth curve through tested points; the points alone where they make no curve.
fn smooth(x: &[f64], y: &[f64]) -> Vec<(f64, f64)> {
    let Ok(curve) = Pchip::new(x, y) else { return x.iter().copied().zip(y.iter().copied()).collect() };
    let step = (curve.last_x() - curve.first_x()) / f64::from(STROKES);
    (0..=STROKES).map(|k| curve.first_x() + f64::from(k) * step).map(|q| (q, curve.value_clamped(q))).collect()
}

/// The places of a curve that lie in the frame.
pub fn inside(curve: &[(f64, f64)], frame: &Frame) -> Vec<(f64, f64)> {
    curve.iter().copied().filter(|(q, h)| *q <= frame.x.end && *h <= frame.y.end && *h >= 0.0).collect()
}

/// A few points with both intervals, spread evenly over the flows that were seen.
fn crosses(review: &Review, frame: &Frame) -> Layer {
    let system = &review.points.system;
    let interval = |i: usize| -> Option<[f64; 6]> {
        let pump = review.points.pumps.iter().find(|p| p.head_low_kpa.get(i).is_some_and(|v| v.is_finite()))?;
        let all = [
            *system.flow_m3h.get(i)?,
            *system.flow_low_m3h.get(i)?,
            *system.flow_high_m3h.get(i)?,
            *system.head_kpa.get(i)?,
            *pump.head_low_kpa.get(i)?,
            *pump.head_high_kpa.get(i)?,
        ];
        (all.iter().all(|v| v.is_finite()) && *system.steady.get(i)?).then_some(all)
    };
    // In the order of flow, then of the record.
    let rows = (0..review.clock.len).filter(|i| interval(*i).is_some());
    let mut known: Vec<(f64, usize)> = rows.map(|i| (system.flow_m3h[i], i)).collect();
    let take = CROSSES.min(known.len());
    let places: Vec<usize> = (0..take).map(|k| (2 * k + 1) * known.len() / (2 * take)).collect();
    settle(&mut known, &places, &|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let body = frame.layer(|pen| {
        for [q, q0, q1, h, h0, h1] in places.iter().filter_map(|k| interval(known[*k].1)) {
            let style = palette::INK.stroke_width(2);
            pen.line([(q0.max(0.0), h), (q1.min(frame.x.end), h)], style);
            pen.line([(q, h0.max(0.0)), (q, h1.min(frame.y.end))], style);
        }
    });
    Layer::new("head-flow-intervals", "intervals", body)
}

fn description(marks: &[Mark], show: &Show) -> String {
    let hours = |r: Regime| marks.iter().filter(|m| m.regime == r).map(|m| m.hours).sum::<f64>();
    let all: f64 = marks.iter().map(|m| m.hours).sum();
    let flow = |f: fn(f64, f64) -> f64, start| marks.iter().map(|m| m.x).fold(start, f);
    if marks.is_empty() {
        return "Pump curves and control curve; no operating point is known.".to_owned();
    }
    let unit = show.flow_unit();
    format!(
        "Scatter of head over flow. Of {} running hours {} lie on the control curve, {} above it, {} below it and {} at the speed floor; flows from {} to {} {unit}.",
        round(all, 3),
        round(hours(Regime::OnCurve), 3),
        round(hours(Regime::AboveCurve), 3),
        round(hours(Regime::BelowCurve), 3),
        round(hours(Regime::SpeedFloor), 3),
        round(show.flow_value(flow(f64::min, f64::INFINITY)), 3),
        round(show.flow_value(flow(f64::max, 0.0)), 3)
    )
}
