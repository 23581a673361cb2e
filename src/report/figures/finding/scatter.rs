//! Points over something they should follow: gathered into cells, with the line that was expected and the limits beside it.

use super::{
    super::{Figure, Layer, frame::Frame, marks},
    Scene, Told, middle, numbers,
    plot::{self, Kind, Level, Look},
    quantity::Quantity,
};
use crate::faults::Finding;
use plotters::prelude::*;
use std::ops::Range;

const HEIGHT: u32 = 600;
/// Cells across and up at first; fewer where so many marks would be drawn that the figure grows heavy.
const CELLS: (f64, f64) = (56.0, 40.0);
const MOST_MARKS: usize = 380;
/// Depth of colour of the mark with the fewest rows.
const FAINTEST: f64 = 0.5;
/// Bands across in which the middle of an expected column is taken.
const BANDS: usize = 24;
/// A band speaks from so many rows on.
const LEAST_ROWS: usize = 3;

/// An axis: its name and what it measures.
pub struct Axis {
    pub name: &'static str,
    pub quantity: Quantity,
}

/// Points of one kind.
pub struct Cloud {
    pub kind: Kind,
    pub label: String,
    pub points: Vec<(f64, f64)>,
}

/// A line through places.
pub struct Line {
    pub look: Look,
    pub label: String,
    pub points: Vec<(f64, f64)>,
    /// Half of what is within the errors around it, in the vertical's units.
    pub within: f64,
}

pub struct Scatter {
    pub x: Axis,
    pub y: Axis,
    pub clouds: Vec<Cloud>,
    pub lines: Vec<Line>,
    pub levels: Vec<Level>,
    /// Both axes span the same, so that equal readings lie on the diagonal.
    pub square: bool,
}

impl Scatter {
    pub fn new(x: (&'static str, Quantity), y: (&'static str, Quantity)) -> Self {
        let axis = |(name, quantity)| Axis { name, quantity };
        Self { x: axis(x), y: axis(y), clouds: Vec::new(), lines: Vec::new(), levels: Vec::new(), square: false }
    }
    /// With the points whose both places are known.
    pub fn cloud(mut self, kind: Kind, label: impl Into<String>, points: impl Iterator<Item = (f64, f64)>) -> Self {
        let points: Vec<(f64, f64)> = points.filter(|(x, y)| x.is_finite() && y.is_finite()).collect();
        if !points.is_empty() {
            self.clouds.push(Cloud { kind, label: label.into(), points });
        }
        self
    }
    pub fn line(mut self, look: Look, label: impl Into<String>, points: Vec<(f64, f64)>, within: f64) -> Self {
        if points.len() > 1 {
            self.lines.push(Line { look, label: label.into(), points, within });
        }
        self
    }
    pub fn level(mut self, level: Level) -> Self {
        if level.at.is_finite() {
            self.levels.push(level);
        }
        self
    }

    pub fn figure(self, scene: &Scene, f: &Finding, mut told: Told) -> Option<Figure> {
        self.clouds.iter().find(|c| c.kind == Kind::Counts)?;
        let frame = self.frame()?;
        told.caption.push_str(" Larger and deeper marks stand for more hours.");
        let id = super::id(f);
        let across = (self.x.name, self.x.quantity);
        let mut layers = vec![plot::axes(&id, scene.show, &frame, across, (self.y.name, self.y.quantity))];
        let mut keys = Vec::new();
        for (k, l) in self.lines.iter().enumerate().filter(|(_, l)| l.within > 0.0) {
            let body = frame.layer(|pen| {
                let kept = |y: f64| y.clamp(frame.y.start, frame.y.end);
                let edge = |sign: f64| l.points.iter().map(move |(x, y)| (*x, kept(y + sign * l.within)));
                let around: Vec<(i32, i32)> = edge(1.0).chain(edge(-1.0).rev()).map(|(x, y)| pen.at(x, y)).collect();
                pen.draw(&Polygon::new(around, l.look.style().color.mix(0.13).filled()));
            });
            layers.push(Layer::new(format!("{id}-within-{k}"), "expected within", body));
        }
        // Those that count are drawn last, on top.
        let order = [Kind::Beside, Kind::Other, Kind::Counts];
        let most = MOST_MARKS / self.clouds.len().max(1);
        for (kind, cloud) in
            order.iter().flat_map(|k| self.clouds.iter().filter(move |c| c.kind == *k).map(move |c| (k, c)))
        {
            let body = drawn(&frame, cloud, most);
            layers.push(Layer::new(format!("{id}-points-{}", kind.class()), kind.class(), body));
            let hours = scene.show.hours(scene.hours(cloud.points.len()));
            keys.push(kind.key(format!("{} ({hours})", cloud.label)));
        }
        for (k, l) in self.lines.iter().enumerate() {
            let body = frame.layer(|pen| pen.line(plot::clipped(&frame, &l.points), l.look.style()));
            layers.push(l.look.layer(format!("{id}-line-{k}"), body));
            match keys.iter_mut().find(|key| key.class == l.look.class()) {
                Some(key) => key.label = format!("{}; {}", key.label, l.label),
                None => keys.push(l.look.key(l.label.clone())),
            }
        }
        layers.extend(plot::levels(&id, scene.show, &frame, &self.levels, self.y.quantity));
        let marks: Vec<numbers::Marks> = self.clouds.iter().map(|c| (c.label.as_str(), c.points.as_slice())).collect();
        let table = numbers::of_scatter(scene, &marks, self.x.quantity, self.y.quantity);
        Some(told.figure(f, frame.height, layers, keys, table))
    }

    /// What the points span; lines may leave it.
    fn frame(&self) -> Option<Frame> {
        let points = || self.clouds.iter().flat_map(|c| c.points.iter().copied());
        let lines = self.lines.iter().filter(|l| l.look == Look::Expected).flat_map(|l| l.points.iter().copied());
        let levels = self.levels.iter().map(|l| l.at);
        let mut x = plot::span(points().map(|p| p.0), self.x.quantity == Quantity::Flow)?;
        let reached = |p: &(f64, f64)| p.0 <= x.end;
        let mut y = plot::span(points().chain(lines.filter(reached)).map(|p| p.1).chain(levels), false)?;
        if self.square {
            let both: Range<f64> = x.start.min(y.start)..x.end.max(y.end);
            (x, y) = (both.clone(), both);
        }
        Some(Frame::whole(HEIGHT, x, y))
    }
}

/// A cloud as marks, larger and deeper the more rows lie there.
fn drawn(frame: &Frame, cloud: &Cloud, most: usize) -> String {
    let mut scale = 1.0;
    let mut cells = gathered(frame, cloud.points.iter().map(|(x, y)| (*x, *y, 1.0)), scale);
    while cells.len() > most && scale > 0.2 {
        scale *= 0.8;
        cells = gathered(frame, cells.into_iter(), scale);
    }
    let largest = cells.iter().map(|c| c.2).fold(1.0, f64::max);
    frame.layer(|pen| {
        for (x, y, rows) in &cells {
            let share = (rows / largest).sqrt();
            let style = cloud.kind.color().mix(FAINTEST + (1.0 - FAINTEST) * share).filled();
            marks::placed(pen, cloud.kind.corners(), style, pen.at(*x, *y), 5.0 + 6.0 * share);
        }
    })
}

/// Mean place and rows of each cell that has any, from places with the rows they stand for.
fn gathered(frame: &Frame, places: impl Iterator<Item = (f64, f64, f64)>, scale: f64) -> Vec<(f64, f64, f64)> {
    let count = |n: f64| ((n * scale) as usize).max(1);
    let (across, up) = (count(CELLS.0), count(CELLS.1));
    let cell = |v: f64, r: &Range<f64>, n: usize| (((v - r.start) / (r.end - r.start) * n as f64) as usize).min(n - 1);
    let mut cells = vec![(0.0, 0.0, 0.0); across * up];
    for (x, y, rows) in places {
        let sums = &mut cells[cell(x, &frame.x, across) * up + cell(y, &frame.y, up)];
        *sums = (sums.0 + rows * x, sums.1 + rows * y, sums.2 + rows);
    }
    cells.into_iter().filter(|c| c.2 > 0.0).map(|(x, y, n)| (x / n, y / n, n)).collect()
}

/// A column as a line: its middle in bands of like width, where enough rows lie.
pub fn line_of(points: impl Iterator<Item = (f64, f64)>) -> Vec<(f64, f64)> {
    let known: Vec<(f64, f64)> = points.filter(|(x, y)| x.is_finite() && y.is_finite()).collect();
    let (low, high) = known.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p.0), h.max(p.0)));
    if !(high > low) {
        return Vec::new();
    }
    let mut bands: Vec<Vec<(f64, f64)>> = vec![Vec::new(); BANDS];
    for p in known {
        bands[(((p.0 - low) / (high - low) * BANDS as f64) as usize).min(BANDS - 1)].push(p);
    }
    let enough = bands.iter().filter(|b| b.len() >= LEAST_ROWS);
    enough.map(|b| (middle(b.iter().map(|p| p.0)), middle(b.iter().map(|p| p.1)))).collect()
}
