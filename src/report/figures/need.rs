//! The head that would have been enough, over flow, with today's curve and the proposed one.

use super::{
    Figure, Key, Layer,
    frame::Frame,
    head_flow,
    marks::{self, Mark},
    palette,
};
use crate::{
    pipeline::Review,
    regimes::Regime,
    report::show::{Show, figures as round},
};
use plotters::prelude::*;

/// The figure; `None` where the need is known nowhere.
pub fn figure(review: &Review, show: &Show) -> Option<Figure> {
    let flow = &review.points.system.flow_m3h;
    let known = |(x, y): &(f64, f64)| x.is_finite() && y.is_finite();
    let rows: Vec<(f64, f64)> = flow.iter().copied().zip(review.need_kpa.iter().copied()).filter(known).collect();
    if rows.is_empty() {
        return None;
    }
    let hours = review.clock.hours();
    let curves = head_flow::control_heads(review);
    let right = rows.iter().map(|r| r.0).fold(1e-6, f64::max) * 1.08;
    let top = rows.iter().map(|r| r.1).chain(curves).fold(1e-6, f64::max) * 1.1;
    let frame = Frame::whole(620, 0.0..right, 0.0..top);
    let marks = marks::binned(&frame, rows.iter().map(|&(x, y)| Mark { x, y, regime: Regime::OnCurve, hours }));
    let body = cells(&frame, &marks);
    let mut layers = head_flow::axes("need", &frame, show);
    layers.push(Layer::new("need-points", "need", body));
    let mut keys = vec![Key {
        class: "need",
        label: "head that was enough".to_owned(),
        sample: "<rect x=\"15\" y=\"7\" width=\"18\" height=\"18\" fill=\"#8D9096\"/>".to_owned(),
    }];
    let (curves, curve_keys) = head_flow::control_curves(review, &frame, "need");
    layers.extend(curves);
    keys.extend(curve_keys);
    Some(Figure {
        id: "need-over-flow",
        title: "Head that was enough, over flow".to_owned(),
        description: format!(
            "Scatter of the head that would have been enough over flow, known over {} hours, with the control curves.",
            round(hours * rows.len() as f64, 3)
        ),
        caption: "The head that would have been enough at each moment, with the neediest valve at 90 % open. The gap up to the present curve is head that valves throttle away."
            .to_owned(),
        keys,
        height: frame.height,
        layers,
    })
}

fn cells(frame: &Frame, marks: &[Mark]) -> String {
    let most = marks.iter().map(|m| m.hours).fold(1e-9, f64::max);
    frame.layer(|pen| {
        for m in marks {
            let share = (m.hours / most).sqrt();
            let (x, y) = pen.at(m.x, m.y);
            let r = (4.0 + 5.0 * share).round() as i32;
            pen.draw(&Rectangle::new([(x - r, y - r), (x + r, y + r)], palette::PUMP.mix(0.35 + 0.6 * share).filled()));
        }
    })
}
