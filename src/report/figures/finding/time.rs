//! A cut of time: panels of traces above each other, with what was expected, the limits, and the rows that count marked.

use super::{
    super::{
        Figure, Key, Layer,
        frame::{Frame, Pen},
        palette,
    },
    Scene, Told,
    numbers::{self, Part},
    plot::{self, Level, Look},
    quantity::Quantity,
};
use crate::faults::{Finding, shown::Stretches};
use plotters::prelude::*;
use std::ops::Range;

/// Height of a panel, of the first, and room below [px].
const PANEL: u32 = 230;
const FIRST: u32 = 300;
const BELOW: u32 = 84;
/// No more places along a trace than this; more rows are gathered, by their mean or by their ends.
const MOST: usize = 420;

/// A line over time: one value a row of the window.
pub struct Trace {
    pub label: String,
    pub values: Vec<f64>,
    pub look: Look,
    /// Holds its value until the next row.
    pub steps: bool,
}

/// One panel.
pub struct Panel {
    pub name: &'static str,
    pub quantity: Quantity,
    pub traces: Vec<Trace>,
    pub levels: Vec<Level>,
    /// Between which levels it usually moves, and what that is called.
    pub band: Option<(Range<f64>, String)>,
    pub from_zero: bool,
    /// All of what it can be is shown, whatever it was.
    pub whole: Option<Range<f64>>,
}

impl Panel {
    pub fn new(name: &'static str, quantity: Quantity) -> Self {
        Self { name, quantity, traces: Vec::new(), levels: Vec::new(), band: None, from_zero: false, whole: None }
    }
    /// With one more line, where any of it is known.
    pub fn with(mut self, label: impl Into<String>, look: Look, values: Vec<f64>) -> Self {
        if values.iter().any(|v| v.is_finite()) {
            self.traces.push(Trace { label: label.into(), values, look, steps: false });
        }
        self
    }
    pub fn in_steps(mut self) -> Self {
        self.traces.iter_mut().for_each(|t| t.steps = true);
        self
    }
    pub fn level(mut self, level: Level) -> Self {
        if level.at.is_finite() {
            self.levels.push(level);
        }
        self
    }
    fn is_empty(&self) -> bool {
        self.traces.is_empty()
    }
}

/// A figure of one window.
pub struct Cut {
    pub window: Range<usize>,
    /// The first one carries the evidence: without it there is no figure.
    pub panels: Vec<Panel>,
    /// What the marked rows are.
    pub counted: &'static str,
    /// Where they are not the rows that the finding counts; with none, nothing is marked.
    pub rows: Option<Stretches>,
}

impl Cut {
    pub fn figure(mut self, scene: &Scene, f: &Finding, told: Told) -> Option<Figure> {
        if self.window.len() < 3 || self.panels.first().is_none_or(Panel::is_empty) {
            return None;
        }
        self.panels.retain(|p| !p.is_empty());
        let hours = scene.hours_into(&self.window);
        let (Some(start), Some(end)) = (hours.first().copied(), hours.last().copied()) else { return None };
        let height = FIRST + PANEL * (self.panels.len() as u32 - 1) + BELOW;
        let id = super::id(f);
        let rows = self.rows.as_ref().unwrap_or(&f.shown.rows);
        let any = rows.within(&self.window).next().is_some();
        let (mut layers, mut keys) = (Vec::new(), Vec::new());
        keys.extend(any.then(|| counted_key(self.counted)));
        let mut top = 0;
        let last = self.panels.len() - 1;
        for (k, panel) in self.panels.iter().enumerate() {
            let below = if k == last { BELOW } else { 0 };
            let bottom = top + if k == 0 { FIRST } else { PANEL } + below;
            let y = panel.heights()?;
            let frame = Frame { height, top, bottom, x: start..end, y, below };
            layers.extend(panel.layers(&format!("{id}-{k}"), scene, &frame, (&self.window, &hours)));
            let body = frame.layer(|pen| marked(pen, &frame, rows, &self.window, &hours));
            layers.push(Layer::new(format!("{id}-{k}-counts"), "counts", body));
            panel.keys(&mut keys);
            top = bottom;
        }
        let table = numbers::of_cut(scene, &self.parts(rows), self.counted);
        Some(told.figure(f, height, layers, keys, table))
    }
}

impl Cut {
    /// Each line's values in the rows that count and in the others.
    fn parts(&self, rows: &Stretches) -> Vec<Part> {
        let lines = self.panels.iter().flat_map(|p| p.traces.iter().map(|t| (p.quantity, t)));
        let split = |t: &Trace, wanted: bool| {
            let at = t.values.iter().zip(self.window.clone());
            at.filter(|(_, row)| rows.has(*row) == wanted).map(|(v, _)| *v).collect()
        };
        lines
            .map(|(quantity, t)| Part {
                name: t.label.clone(),
                quantity,
                counted: split(t, true),
                others: split(t, false),
            })
            .collect()
    }
}

impl Panel {
    fn heights(&self) -> Option<Range<f64>> {
        let traces = self.traces.iter().flat_map(|t| t.values.iter().copied());
        let whole = self.whole.iter().flat_map(|w| [w.start, w.end]);
        let band = self.band.iter().flat_map(|b| [b.0.start, b.0.end]);
        plot::span(traces.chain(self.levels.iter().map(|l| l.at)).chain(band).chain(whole), self.from_zero)
    }

    fn layers(&self, id: &str, scene: &Scene, frame: &Frame, (window, hours): (&Range<usize>, &[f64])) -> Vec<Layer> {
        let ticks = scene.ticks(&frame.x, window);
        let mut layers = vec![plot::upright(id, scene.show, frame, (self.name, self.quantity), &ticks)];
        if let Some((range, _)) = &self.band {
            let style = palette::PUMP.mix(0.2).filled();
            let body = frame.layer(|pen| pen.block(frame.x.clone(), range.clone(), style));
            layers.push(Layer::new(format!("{id}-band"), "band", body));
        }
        for (k, t) in self.traces.iter().enumerate() {
            let body = frame.layer(|pen| pen.line(places(t, hours), t.look.style()));
            layers.push(t.look.layer(format!("{id}-trace-{k}"), body));
        }
        layers.extend(plot::levels(id, scene.show, frame, &self.levels, self.quantity));
        layers
    }

    /// A key for each look, which may stand for lines in several panels.
    fn keys(&self, keys: &mut Vec<Key>) {
        for t in &self.traces {
            match keys.iter_mut().find(|k| k.class == t.look.class()) {
                Some(key) if key.label.split("; ").any(|l| l == t.label) => {}
                Some(key) => key.label = format!("{}; {}", key.label, t.label),
                None => keys.push(t.look.key(t.label.clone())),
            }
        }
        if let Some((_, label)) = &self.band {
            let sample =
                "<rect x=\"4\" y=\"6\" width=\"40\" height=\"20\" fill=\"#8D9096\" opacity=\"0.4\"/>".to_owned();
            keys.push(Key { class: "band", label: label.clone(), sample });
        }
    }
}

/// Hours between ticks that people count by [h]; the first that gives few enough.
const TICKS_H: [f64; 9] = [0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 48.0];
const MOST_TICKS: f64 = 9.0;

impl Scene<'_> {
    /// Places and words along a window, in local hours since its first midnight: the time of day, and the date at midnight where it is days long.
    fn ticks(&self, hours: &Range<f64>, window: &Range<usize>) -> Vec<(f64, String)> {
        let span = hours.end - hours.start;
        let each =
            TICKS_H.into_iter().find(|h| span / h <= MOST_TICKS).unwrap_or(24.0 * (span / 24.0 / MOST_TICKS).ceil());
        let first = self.show.local(self.review.clock.at_ms(window.start)).map(|t| t.naive_local().date());
        let words = |hour: f64| {
            let minutes = (hour * 60.0).round() as i64;
            let (day, minute) = (minutes.div_euclid(24 * 60), minutes.rem_euclid(24 * 60));
            if span > 30.0 && minute == 0 {
                let date = first.and_then(|d| d.checked_add_signed(chrono::TimeDelta::days(day)));
                return date.map_or_else(String::new, |d| d.format("%-d %b").to_string());
            }
            format!("{:02}:{:02}", minute / 60, minute % 60)
        };
        let places = (hours.start / each).ceil() as i64..=(hours.end / each).floor() as i64;
        places.map(|k| k as f64 * each).map(|hour| (hour, words(hour))).collect()
    }
}

/// The rows that count: a bar along the top and a shade below it.
fn marked(pen: &Pen, frame: &Frame, rows: &Stretches, window: &Range<usize>, hours: &[f64]) {
    let (low, high) = (frame.y.start, frame.y.end);
    let bar = high - 0.035 * (high - low);
    for part in joined(rows, window) {
        let x = hours[part.start - window.start]..hours[part.end - window.start];
        pen.block(x.clone(), low..bar, palette::BY_POWER.mix(0.10).filled());
        pen.block(x, bar..high, palette::BY_POWER.filled());
    }
}

/// Stretches within a window; gaps that a figure could not show are closed.
fn joined(rows: &Stretches, window: &Range<usize>) -> Vec<Range<usize>> {
    let gap = window.len() / 400;
    let mut out: Vec<Range<usize>> = Vec::new();
    for r in rows.within(window) {
        match out.last_mut() {
            Some(last) if r.start <= last.end + gap => last.end = r.end,
            _ => out.push(r),
        }
    }
    out
}

fn counted_key(label: &str) -> Key {
    let sample = "<rect x=\"4\" y=\"4\" width=\"40\" height=\"24\" fill=\"#B04A1C\" opacity=\"0.12\"/><rect x=\"4\" y=\"4\" width=\"40\" height=\"6\" fill=\"#B04A1C\"/>";
    Key { class: "counts", label: label.to_owned(), sample: sample.to_owned() }
}

/// Where a trace passes; gathered where there are more rows than places.
fn places(t: &Trace, hours: &[f64]) -> Vec<(f64, f64)> {
    let each = t.values.len().div_ceil(MOST).max(1);
    let mut out = Vec::new();
    for (k, part) in t.values.chunks(each).enumerate() {
        let (from, to) = (hours[k * each], hours[k * each + part.len()]);
        let known: Vec<f64> = part.iter().copied().filter(|v| v.is_finite()).collect();
        let mean = if known.is_empty() { f64::NAN } else { known.iter().sum::<f64>() / known.len() as f64 };
        if t.steps {
            let held = part.iter().rev().copied().find(|v| v.is_finite()).unwrap_or(f64::NAN);
            out.extend([(from, held), (to, held)]);
        } else if each == 1 {
            out.push(((from + to) / 2.0, mean));
        } else {
            // Both ends of what was gathered are kept, so that no spike is lost.
            let low = known.iter().copied().fold(f64::INFINITY, f64::min);
            let high = known.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            if low < high { out.extend([(from, low), (to, high)]) } else { out.push(((from + to) / 2.0, mean)) }
        }
    }
    out
}
