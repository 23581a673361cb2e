//! A figure a day over the whole record, with the day it stepped and the middle before and after.

use super::{
    super::{Figure, Layer, frame::Frame, marks, palette},
    Scene, Told, middle, numbers,
    plot::{self, Kind, Level, Look},
    quantity::Quantity,
};
use crate::faults::Finding;
use plotters::prelude::*;

const PANEL: u32 = 260;
const BELOW: u32 = 84;
/// Of a longer record, neighbouring days are one mark.
const MOST: usize = 190;

/// A panel: one value a day, NaN where there is none.
pub struct Days {
    pub name: &'static str,
    pub quantity: Quantity,
    pub values: Vec<f64>,
    pub levels: Vec<Level>,
    /// Half of what is within the errors around zero; NaN where nothing is.
    pub within: f64,
}

/// `at`: place of the first day after the step.
pub fn figure(scene: &Scene, f: &Finding, panels: Vec<Days>, at: usize, told: Told) -> Option<Figure> {
    let panels: Vec<Days> = panels.into_iter().filter(|p| p.values.iter().any(|v| v.is_finite())).collect();
    let days = panels.iter().map(|p| p.values.len()).max()?;
    let height = PANEL * panels.len() as u32 + BELOW;
    let id = super::id(f);
    let mut layers = Vec::new();
    let last = panels.len() - 1;
    for (k, p) in panels.iter().enumerate() {
        let below = if k == last { BELOW } else { 0 };
        let top = PANEL * k as u32;
        let within = if p.within.is_finite() { vec![-p.within, p.within] } else { Vec::new() };
        let y = plot::span(p.values.iter().copied().chain(p.levels.iter().map(|l| l.at)).chain(within), false)?;
        let frame = Frame { height, top, bottom: top + PANEL + below, x: 0.0..days as f64, y, below };
        let id = format!("{id}-{k}");
        layers.push(plot::upright(&id, scene.show, &frame, (p.name, p.quantity), &scene.dates(0..days)));
        layers.extend(panel(&id, &frame, p, at));
        layers.extend(plot::levels(&id, scene.show, &frame, &p.levels, p.quantity));
    }
    let mut keys = vec![
        Kind::Counts.key("a day, from the step on"),
        Kind::Beside.key("a day before"),
        Look::First.key("middle of the days before and after"),
    ];
    if panels.iter().any(|p| p.within.is_finite()) {
        let sample = "<rect x=\"4\" y=\"6\" width=\"40\" height=\"20\" fill=\"#1467B3\" opacity=\"0.25\"/>".to_owned();
        keys.push(super::Key { class: "within", label: "within what errors make".to_owned(), sample });
    }
    let all = panels.iter().map(|p| (p.name, p.quantity, p.values.as_slice()));
    let table = numbers::of_days(scene.show, all, at);
    Some(told.figure(f, height, layers, keys, table))
}

fn panel(id: &str, frame: &Frame, p: &Days, at: usize) -> Vec<Layer> {
    let mut layers = Vec::new();
    if p.within.is_finite() {
        let style = palette::PROPOSED.mix(0.13).filled();
        let body = frame.layer(|pen| pen.block(frame.x.clone(), -p.within..p.within, style));
        layers.push(Layer::new(format!("{id}-within"), "within", body));
    }
    let step = frame.layer(|pen| {
        let (x, _) = pen.at(at as f64, frame.y.start);
        let (_, top) = pen.at(0.0, frame.y.end);
        let (_, bottom) = pen.at(0.0, frame.y.start);
        pen.draw(&PathElement::new(vec![(x, top), (x, bottom)], palette::MUTED.stroke_width(2)));
    });
    layers.push(Layer::new(format!("{id}-step"), "step", step));
    let each = p.values.len().div_ceil(MOST).max(1);
    for (kind, range) in
        [(Kind::Beside, 0..at.min(p.values.len())), (Kind::Counts, at.min(p.values.len())..p.values.len())]
    {
        let body = frame.layer(|pen| {
            for (k, part) in p.values[range.clone()].chunks(each).enumerate() {
                let value = middle(part.iter().copied());
                if value.is_finite() {
                    let day = (range.start + k * each) as f64 + part.len() as f64 / 2.0;
                    let place = pen.at(day, value);
                    marks::placed(pen, kind.corners(), kind.color().filled(), place, 8.0);
                }
            }
        });
        layers.push(Layer::new(format!("{id}-{}", kind.class()), kind.class(), body));
        let level = middle(p.values[range.clone()].iter().copied());
        if level.is_finite() {
            let ends = [(range.start as f64, level), (range.end as f64, level)];
            let body = frame.layer(|pen| pen.line(ends, Look::First.style()));
            layers.push(Look::First.layer(format!("{id}-middle-{}", kind.class()), body));
        }
    }
    layers
}
