//! Points drawn by regime: colour and shape together, hours as size and depth of colour.

use super::{
    Key, Layer,
    frame::{Frame, Pen},
    palette,
};
use crate::{regimes::Regime, report::words};
use plotters::prelude::*;

/// Cells across and up: with eight regimes at most a few thousand marks, and in practice some hundreds.
const CELLS: (f64, f64) = (85.0, 60.0);

/// Depth of colour of the mark with the fewest hours: single rows must be seen on light paper, dark screen and in grey print.
const FAINTEST: f64 = 0.6;

/// A place, its regime, and the hours it stands for.
#[derive(Debug, Clone, Copy)]
pub struct Mark {
    pub x: f64,
    pub y: f64,
    pub regime: Regime,
    pub hours: f64,
}

/// A cell that holds no more rows than this shows them as they are: what lies apart is kept exact.
const EXACT: u32 = 2;

/// What is drawn for many places.
pub struct Gathered {
    /// By regime in the order of [`words::REGIMES`].
    pub marks: Vec<Mark>,
    /// For each place given, which mark stands for it; `u32::MAX` for none.
    pub of: Vec<u32>,
}

/// What has fallen into a cell.
#[derive(Debug, Clone, Copy, Default)]
struct Cell {
    rows: u32,
    hours: f64,
    x: f64,
    y: f64,
    /// Of its first mark.
    index: u32,
}

/// Gathers marks into cells of the frame: one mark a cell and regime, at the mean place.
pub fn binned(frame: &Frame, marks: impl Iterator<Item = Mark> + Clone) -> Vec<Mark> {
    gathered(frame, marks).marks
}

/// The same, with which of them stands for each place.
pub fn gathered(frame: &Frame, places: impl Iterator<Item = Mark> + Clone) -> Gathered {
    let (across, up) = (CELLS.0 as usize, CELLS.1 as usize);
    let share = |v: f64, r: &std::ops::Range<f64>, n: usize| {
        (((v - r.start) / (r.end - r.start) * n as f64) as usize).min(n - 1)
    };
    let cell = |m: Mark| -> u32 {
        let inside = frame.x.contains(&m.x) && frame.y.contains(&m.y) && m.hours > 0.0;
        let order = words::REGIMES.iter().position(|r| *r == m.regime).filter(|_| inside);
        let at = |order| (order * across + share(m.x, &frame.x, across)) * up + share(m.y, &frame.y, up);
        order.map_or(u32::MAX, |order| at(order) as u32)
    };
    let mut cells = vec![Cell::default(); words::REGIMES.len() * across * up];
    // First the cell of each place; then the mark that stands for it.
    let mut of: Vec<u32> = places.clone().map(cell).collect();
    for (m, k) in places.clone().zip(&of) {
        let Some(c) = cells.get_mut(*k as usize) else { continue };
        *c = Cell { rows: c.rows + 1, hours: c.hours + m.hours, x: c.x + m.x * m.hours, y: c.y + m.y * m.hours, ..*c };
    }
    let mut marks: Vec<Mark> = Vec::new();
    for (k, c) in cells.iter_mut().enumerate().filter(|(_, c)| c.rows > 0) {
        c.index = marks.len() as u32;
        let mean =
            Mark { x: c.x / c.hours, y: c.y / c.hours, regime: words::REGIMES[k / (across * up)], hours: c.hours };
        marks.extend(std::iter::repeat_n(mean, if c.rows <= EXACT { c.rows as usize } else { 1 }));
    }
    for (m, of) in places.zip(&mut of) {
        let Some(c) = cells.get_mut(*of as usize) else { continue };
        *of = c.index;
        if c.rows <= EXACT {
            marks[c.index as usize] = m;
            c.index += 1;
        }
    }
    Gathered { marks, of }
}

/// A layer a regime, and its key.
pub fn layers(id: &str, frame: &Frame, marks: &[Mark]) -> (Vec<Layer>, Vec<Key>) {
    let most = marks.iter().map(|m| m.hours).fold(0.0, f64::max);
    let mut layers = Vec::new();
    let mut keys = Vec::new();
    // The rarer regimes are drawn last, on top.
    for &regime in words::REGIMES.iter() {
        let own: Vec<&Mark> = marks.iter().filter(|m| m.regime == regime).collect();
        if own.is_empty() {
            continue;
        }
        let code = words::regime_code(regime);
        let body = frame.layer(|pen| {
            for m in &own {
                let share = (m.hours / most).sqrt();
                place(pen, regime, pen.at(m.x, m.y), 4.0 + 7.0 * share, FAINTEST + (1.0 - FAINTEST) * share);
            }
        });
        layers.push(Layer::new(format!("{id}-{code}"), format!("points {code}"), body));
        let hours: f64 = own.iter().map(|m| m.hours).sum();
        let label = format!("{} ({} h)", words::regime(regime), crate::report::show::figures(hours, 3));
        keys.push(Key { class: code, label, sample: sample(regime) });
    }
    (layers, keys)
}

/// The regime's shape around a pixel.
fn place(pen: &Pen, regime: Regime, at: (i32, i32), radius: f64, depth: f64) {
    placed(pen, shape(regime), palette::regime(regime).mix(depth).filled(), at, radius);
}

/// A shape around a pixel; round where there are no corners.
pub fn placed(pen: &Pen, corners: Option<&[(f64, f64)]>, style: ShapeStyle, at: (i32, i32), radius: f64) {
    match corners {
        None => pen.draw(&Circle::new(at, radius.round() as i32, style)),
        Some(corners) => {
            let corner = |(x, y): &(f64, f64)| (at.0 + (x * radius).round() as i32, at.1 + (y * radius).round() as i32);
            pen.draw(&Polygon::new(corners.iter().map(corner).collect::<Vec<_>>(), style));
        }
    }
}

/// Corners on a circle of radius one, down being positive.
pub const POINTS_UP: &[(f64, f64)] = &[(0.0, -1.2), (1.1, 0.8), (-1.1, 0.8)];
pub const POINTS_DOWN: &[(f64, f64)] = &[(0.0, 1.2), (1.1, -0.8), (-1.1, -0.8)];
pub const DIAMOND: &[(f64, f64)] = &[(0.0, -1.3), (1.0, 0.0), (0.0, 1.3), (-1.0, 0.0)];

/// A regime's corners; a round mark where there are none.
fn shape(regime: Regime) -> Option<&'static [(f64, f64)]> {
    match regime {
        Regime::OnCurve => None,
        // Points up: too much head. Points down: too little.
        Regime::AboveCurve => Some(POINTS_UP),
        Regime::BelowCurve => Some(POINTS_DOWN),
        Regime::SpeedFloor => Some(&[(-1.2, -0.6), (1.2, -0.6), (1.2, 0.6), (-1.2, 0.6)]),
        Regime::FullSpeed => Some(DIAMOND),
        Regime::Transient => Some(&[(-1.1, 0.0), (0.0, -0.45), (1.1, 0.0), (0.0, 0.45)]),
        Regime::Unknown => Some(&[(-0.6, -1.0), (0.6, -1.0), (1.1, 0.9), (-1.1, 0.9)]),
        Regime::Off => Some(&[(-0.4, -1.1), (0.4, -1.1), (0.4, 1.1), (-0.4, 1.1)]),
    }
}

/// A key's small drawing.
pub fn sample(regime: Regime) -> String {
    drawn(palette::regime(regime), shape(regime))
}

/// A shape in a colour, as a key shows it; round where there are no corners.
pub fn drawn(c: RGBColor, corners: Option<&[(f64, f64)]>) -> String {
    let fill = format!("#{:02X}{:02X}{:02X}", c.0, c.1, c.2);
    match corners {
        None => format!("<circle cx=\"24\" cy=\"16\" r=\"10\" fill=\"{fill}\"/>"),
        Some(corners) => {
            let points: Vec<String> =
                corners.iter().map(|(x, y)| format!("{:.0},{:.0}", 24.0 + x * 10.0, 16.0 + y * 10.0)).collect();
            format!("<polygon points=\"{}\" fill=\"{fill}\"/>", points.join(" "))
        }
    }
}

/// A key for a line: whole or dashed.
pub fn line_sample(color: RGBColor, dashed: bool) -> String {
    let dash = if dashed { " stroke-dasharray=\"10 7\"" } else { "" };
    format!(
        "<line x1=\"2\" y1=\"16\" x2=\"46\" y2=\"16\" stroke=\"#{:02X}{:02X}{:02X}\" stroke-width=\"5\"{dash}/>",
        color.0, color.1, color.2
    )
}

/// A line in dashes, drawn as such: plotters' own dashes would be as long in data units as the eye is not.
pub fn dashed(pen: &Pen, points: &[(f64, f64)], style: ShapeStyle) {
    stroked(pen, points, style, &[22.0, 13.0]);
}

/// A line in strokes and gaps of these lengths in turn [px].
pub fn stroked(pen: &Pen, points: &[(f64, f64)], style: ShapeStyle, lengths: &[f64]) {
    let pixels: Vec<(f64, f64)> = points
        .iter()
        .filter(|(x, y)| x.is_finite() && y.is_finite())
        .map(|&(x, y)| pen.at(x, y))
        .map(|(x, y)| (f64::from(x), f64::from(y)))
        .collect();
    stroked_pixels(pen, &pixels, style, lengths);
}

/// The same through pixels.
pub fn stroked_pixels(pen: &Pen, pixels: &[(f64, f64)], style: ShapeStyle, lengths: &[f64]) {
    let whole: f64 = lengths.iter().sum();
    let on = |at: f64| {
        let mut left = at % whole;
        let ended = |length: &f64| {
            left -= length;
            left < 0.0
        };
        lengths.iter().position(ended).unwrap_or(0) % 2 == 0
    };
    let mut travelled = 0.0;
    let mut dash: Vec<(i32, i32)> = Vec::new();
    for pair in pixels.windows(2) {
        let length = (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1);
        let steps = (length / 3.0).ceil().max(1.0) as usize;
        for k in 0..steps {
            let share = k as f64 / steps as f64;
            if on(travelled + share * length) {
                let point = (pair[0].0 + share * (pair[1].0 - pair[0].0), pair[0].1 + share * (pair[1].1 - pair[0].1));
                dash.push((point.0.round() as i32, point.1.round() as i32));
            } else {
                finish(pen, &mut dash, style);
            }
        }
        travelled += length;
    }
    finish(pen, &mut dash, style);
}

fn finish(pen: &Pen, dash: &mut Vec<(i32, i32)>, style: ShapeStyle) {
    if let (Some(&first), Some(&last), true) = (dash.first(), dash.last(), dash.len() > 1) {
        let middle = dash[dash.len() / 2];
        pen.draw(&PathElement::new(vec![first, middle, last], style));
    }
    dash.clear();
}
