//! Control curves: today's and the proposed one, as lines in a plot of head over flow and as numbers.

use super::{Key, Layer, frame::Frame, head_flow::inside, marks, numbers::titled, palette};
use crate::hydraulics::system::ControlCurve;
use crate::quantity::Pressure;
use crate::{
    pipeline::Review,
    plant::{Control, ControlMode},
    report::{
        document::Table,
        show::{Show, figures as round},
    },
    tuning::Tuning,
};
use plotters::prelude::*;

/// Flows in the table.
const CURVE_ROWS: usize = 9;

/// Heads that a frame with the control curves must hold [kPa].
pub fn control_heads(review: &Review) -> Vec<f64> {
    let control = &review.plant.control;
    let own = [control.design_head, control.zero_flow_head, control.setpoint];
    own.into_iter().flatten().map(Pressure::in_kpa).collect()
}

/// The present control curve and the proposed one, as layers and keys.
pub fn control_curves(review: &Review, frame: &Frame, id: &str) -> (Vec<Layer>, Vec<Key>) {
    let mut layers = Vec::new();
    let mut keys = Vec::new();
    if let Some(curve) = present(review, frame) {
        let body = frame.layer(|pen| pen.line(inside(&curve, frame), palette::PRESENT.stroke_width(6)));
        layers.push(Layer::new(format!("{id}-present"), "present", body));
        let sample = marks::line_sample(palette::PRESENT, false);
        keys.push(Key { class: "present", label: "control curve, present".to_owned(), sample });
    }
    if let Some(curve) = proposed(review, frame) {
        let body = frame.layer(|pen| marks::dashed(pen, &inside(&curve, frame), palette::PROPOSED.stroke_width(6)));
        layers.push(Layer::new(format!("{id}-proposed"), "proposed", body));
        let sample = marks::line_sample(palette::PROPOSED, true);
        keys.push(Key { class: "proposed", label: "control curve, proposed".to_owned(), sample });
    }
    (layers, keys)
}

/// The control curve of today: as set, or as it was asked for.
fn present(review: &Review, frame: &Frame) -> Option<Vec<(f64, f64)>> {
    drawn(&review.plant.control, frame).or_else(|| asked(review))
}

fn proposed(review: &Review, frame: &Frame) -> Option<Vec<(f64, f64)>> {
    match &review.tuning {
        Tuning::Proposed(r) => drawn(&r.proposed, frame),
        Tuning::Refused { .. } => None,
    }
}

/// A control curve whose shape its settings fix, up to its design flow.
pub fn drawn(c: &Control, frame: &Frame) -> Option<Vec<(f64, f64)>> {
    let fixed = |of: fn(f64, f64, f64) -> ControlCurve| -> Option<Vec<(f64, f64)>> {
        let design = c.design_flow?.in_m3h();
        let curve = of(c.zero_flow_head?.in_kpa(), design, c.design_head?.in_kpa());
        Some((0..=40).map(|k| f64::from(k) / 40.0 * design).map(|q| (q, curve.head(q))).collect())
    };
    match c.mode? {
        ControlMode::Quadratic => fixed(|zero_flow_kpa, design_m3h, design_kpa| ControlCurve::Quadratic {
            zero_flow_kpa,
            design_m3h,
            design_kpa,
        }),
        ControlMode::Proportional => fixed(|zero_flow_kpa, design_m3h, design_kpa| ControlCurve::Proportional {
            zero_flow_kpa,
            design_m3h,
            design_kpa,
        }),
        ControlMode::ConstantPressure => {
            let h = c.setpoint?.in_kpa();
            Some(vec![(0.0, h), (frame.x.end, h)])
        }
        ControlMode::ConstantFlow => {
            let q = c.setpoint_flow?.in_m3h();
            Some(vec![(q, 0.0), (q, frame.y.end)])
        }
        _ => None,
    }
}

/// Where settings alone do not fix a curve: what was asked, as the median over bands of flow.
fn asked(review: &Review) -> Option<Vec<(f64, f64)>> {
    let pump = review.regimes.pumps.iter().find(|p| p.curve_head_kpa.iter().any(|v| v.is_finite()))?;
    let mut rows: Vec<(f64, f64)> = review
        .points
        .system
        .flow_m3h
        .iter()
        .copied()
        .zip(pump.curve_head_kpa.iter().copied())
        .filter(|(q, h)| q.is_finite() && h.is_finite())
        .collect();
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    let bands = rows.chunks((rows.len() / 24).max(1));
    let median = |band: &[(f64, f64)]| {
        let mut heads: Vec<f64> = band.iter().map(|r| r.1).collect();
        heads.sort_by(f64::total_cmp);
        (band[band.len() / 2].0, heads[heads.len() / 2])
    };
    Some(bands.map(median).collect())
}

/// The control curves at a few flows.
pub fn table(review: &Review, frame: &Frame, show: &Show) -> Option<Table> {
    let present = present(review, frame)?;
    let proposed = proposed(review, frame);
    let at = |curve: &[(f64, f64)], q: f64| -> String {
        let pair = curve.windows(2).find(|w| w[0].0 <= q && q <= w[1].0 && w[1].0 > w[0].0);
        let value = pair.map(|w| w[0].1 + (w[1].1 - w[0].1) * (q - w[0].0) / (w[1].0 - w[0].0));
        value.map_or_else(|| "–".to_owned(), |h| round(show.head_value(h), 3))
    };
    let end = present.iter().chain(proposed.iter().flatten()).map(|p| p.0).fold(0.0, f64::max);
    let flows = (0..CURVE_ROWS).map(|k| end * k as f64 / (CURVE_ROWS - 1) as f64);
    let rows = flows.map(|q| {
        let mut row = vec![round(show.flow_value(q), 3), at(&present, q)];
        row.extend(proposed.as_ref().map(|p| at(p, q)));
        row
    });
    let mut titles = vec![
        titled(show, "#Flow, m³/h", "#Flow, gpm"),
        titled(show, "#Present, kPa", "#Present, ft"),
        titled(show, "#Proposed, kPa", "#Proposed, ft"),
    ];
    titles.truncate(if proposed.is_some() { 3 } else { 2 });
    Some(Table::new("The control curve, as head at flow.", &titles, rows.collect()))
}
