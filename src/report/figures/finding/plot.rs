//! What the kinds of figure share: axes in the reader's units, lines told apart without colour, limits with their words.

use super::{
    super::{
        Key, Layer,
        frame::{Frame, Pen, Scale},
        marks, palette,
    },
    quantity::Quantity,
};
use crate::report::show::Show;
use plotters::prelude::*;

/// How a line is drawn: colour with width and strokes, so that paper without colour tells it too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    First,
    Second,
    Third,
    Fourth,
    /// What was to be expected.
    Expected,
    /// A limit that a rule holds things against.
    Limit,
}

impl Look {
    /// Of the k-th line of a plot.
    pub fn nth(k: usize) -> Self {
        [Self::First, Self::Second, Self::Third, Self::Fourth][k.min(3)]
    }
    pub fn class(self) -> &'static str {
        match self {
            Self::First => "first",
            Self::Second => "second",
            Self::Third => "third",
            Self::Fourth => "fourth",
            Self::Expected => "expected",
            Self::Limit => "limit",
        }
    }
    fn color(self) -> RGBColor {
        match self {
            Self::First => palette::INK,
            Self::Second => palette::BY_METER,
            Self::Third => palette::BY_REMOTE,
            Self::Fourth => palette::BY_HEAT,
            Self::Expected => palette::PROPOSED,
            Self::Limit => palette::BY_POWER,
        }
    }
    /// Strokes and gaps, ready to stand in a tag; inherited by the lines of a layer.
    fn strokes(self) -> &'static str {
        match self {
            Self::First => "",
            Self::Second => " stroke-dasharray=\"14 7\"",
            Self::Third => " stroke-dasharray=\"5 7\"",
            Self::Fourth => " stroke-dasharray=\"22 7 5 7\"",
            Self::Expected => " stroke-dasharray=\"26 12\"",
            Self::Limit => " stroke-dasharray=\"10 6\"",
        }
    }
    fn width(self) -> u32 {
        match self {
            Self::First | Self::Expected => 4,
            _ => 3,
        }
    }
    pub fn style(self) -> ShapeStyle {
        self.color().stroke_width(self.width())
    }
    pub fn key(self, label: impl Into<String>) -> Key {
        let c = self.color();
        let sample = format!(
            "<line x1=\"1\" y1=\"16\" x2=\"47\" y2=\"16\" stroke=\"#{:02X}{:02X}{:02X}\" stroke-width=\"{}\"{}/>",
            c.0,
            c.1,
            c.2,
            self.width() + 1,
            self.strokes()
        );
        Key { class: self.class(), label: label.into(), sample }
    }
    /// A layer of lines in this look.
    pub fn layer(self, id: String, body: String) -> Layer {
        let strokes = self.strokes();
        let body = if strokes.is_empty() { body } else { format!("<g{strokes}>\n{body}</g>\n") };
        Layer::new(id, self.class(), body)
    }
}

/// A level with its words: "its floor", and the number behind them in the reader's units.
#[derive(Debug, Clone)]
pub struct Level {
    pub label: String,
    pub at: f64,
    pub look: Look,
}

impl Level {
    pub fn limit(label: impl Into<String>, at: f64) -> Self {
        Self { label: label.into(), at, look: Look::Limit }
    }
    pub fn expected(label: impl Into<String>, at: f64) -> Self {
        Self { label: label.into(), at, look: Look::Expected }
    }
}

/// A plot's axes, both measured.
pub fn axes(id: &str, show: &Show, frame: &Frame, across: (&str, Quantity), up: (&str, Quantity)) -> Layer {
    let mut own = in_units(show, frame, up.1);
    own.x = across.1.value(show, frame.x.start)..across.1.value(show, frame.x.end);
    let (x, y) = (across.1.axis(show, across.0), up.1.axis(show, up.0));
    let plain = |description| Scale { description, factor: 1.0 };
    Layer::new(format!("{id}-axis"), "axis", own.axes(&plain(&x), &plain(&y), None))
}

/// The upright axis, and lines across it at places with their words; words only where there is room below.
pub fn upright(id: &str, show: &Show, frame: &Frame, up: (&str, Quantity), ticks: &[(f64, String)]) -> Layer {
    let axis = in_units(show, frame, up.1).upright(&Scale { description: &up.1.axis(show, up.0), factor: 1.0 });
    let across = frame.layer(|pen| {
        for (x, words) in ticks.iter().filter(|(x, _)| (frame.x.start..=frame.x.end).contains(x)) {
            pen.line([(*x, frame.y.start), (*x, frame.y.end)], palette::GRID.stroke_width(2));
            if frame.below > 0 {
                pen.words_below(words, *x, frame.y.start, 12, palette::INK);
            }
        }
    });
    Layer::new(format!("{id}-axis"), "axis", across + &axis)
}

/// The frame with its upright axis in the reader's units.
fn in_units(show: &Show, frame: &Frame, up: Quantity) -> Frame {
    Frame { y: up.value(show, frame.y.start)..up.value(show, frame.y.end), ..frame.clone() }
}

/// Layers of lines at levels, and their words.
pub fn levels(id: &str, show: &Show, frame: &Frame, levels: &[Level], quantity: Quantity) -> Vec<Layer> {
    let mut layers = Vec::new();
    for (k, l) in levels.iter().enumerate() {
        let body = frame.layer(|pen| pen.line([(frame.x.start, l.at), (frame.x.end, l.at)], l.look.style()));
        layers.push(l.look.layer(format!("{id}-level-{k}"), body));
    }
    if levels.is_empty() {
        return layers;
    }
    let words = |show: &Show| {
        frame.layer(|pen| {
            for l in levels {
                let text = format!("{} {}", l.label, quantity.say(show, l.at)).trim().to_owned();
                said(pen, frame, &text, l.at);
            }
        })
    };
    layers.push(Layer::new(format!("{id}-words"), "words", halo(&words(show))));
    layers
}

/// Words above a level, or below one that lies high up.
fn said(pen: &Pen, frame: &Frame, text: &str, at: f64) {
    let high = (at - frame.y.start) > 0.8 * (frame.y.end - frame.y.start);
    pen.words(text, frame.x.start, at, (12, if high { 8 } else { -32 }), palette::INK);
}

/// Words that stay readable over lines.
pub fn halo(words: &str) -> String {
    format!("<g stroke=\"#FFFFFF\" stroke-width=\"7\" stroke-linejoin=\"round\" paint-order=\"stroke\">\n{words}</g>\n")
}

/// Known values' least and greatest, with room; from zero where that is not far.
pub fn span(values: impl IntoIterator<Item = f64>, from_zero: bool) -> Option<std::ops::Range<f64>> {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for v in values.into_iter().filter(|v| v.is_finite()) {
        (low, high) = (low.min(v), high.max(v));
    }
    if low > high {
        return None;
    }
    let room = 0.08 * (high - low).max(1e-3 * high.abs()).max(1e-6);
    // What lies far from zero would be a flat line above much nothing.
    let zero = from_zero || (low >= 0.0 && low < 0.4 * high);
    Some(if zero && low >= 0.0 { 0.0..1.16 * high.max(1e-6) } else { low - room..high + 2.0 * room })
}

/// A line through places, as far as it lies within a frame.
pub fn clipped(frame: &Frame, points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    for pair in points.windows(2) {
        let ((x, y), (dx, dy)) = (pair[0], (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1));
        let (mut from, mut to) = (0.0_f64, 1.0_f64);
        // Each side of the frame cuts the part that lies beyond it (Liang and Barsky).
        for (p, q) in [(-dx, x - frame.x.start), (dx, frame.x.end - x), (-dy, y - frame.y.start), (dy, frame.y.end - y)]
        {
            if p < 0.0 {
                from = from.max(q / p);
            } else if p > 0.0 {
                to = to.min(q / p);
            } else if q < 0.0 {
                to = -1.0;
            }
        }
        if from <= to {
            let (a, b) = ((x + from * dx, y + from * dy), (x + to * dx, y + to * dy));
            if out.last() != Some(&a) {
                // A new stretch begins.
                out.push((f64::NAN, f64::NAN));
                out.push(a);
            }
            out.push(b);
        }
    }
    out
}

/// A mark's kind: those that count, those before or beside them, and a second reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Counts,
    Beside,
    Other,
}

impl Kind {
    pub fn class(self) -> &'static str {
        match self {
            Self::Counts => "counts",
            Self::Beside => "beside",
            Self::Other => "other",
        }
    }
    pub fn color(self) -> RGBColor {
        match self {
            Self::Counts => palette::BY_POWER,
            Self::Beside => palette::PUMP,
            Self::Other => palette::BY_HEAD,
        }
    }
    pub fn corners(self) -> Option<&'static [(f64, f64)]> {
        match self {
            Self::Counts => Some(marks::POINTS_UP),
            Self::Beside => None,
            Self::Other => Some(marks::DIAMOND),
        }
    }
    pub fn key(self, label: impl Into<String>) -> Key {
        Key { class: self.class(), label: label.into(), sample: marks::drawn(self.color(), self.corners()) }
    }
}
