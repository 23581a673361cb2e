//! A finding's figure as a table: what its lines and marks amount to, in the hours that count and in the others.

use super::{Scene, quantity::Quantity};
use crate::report::{
    document::Table,
    show::{Show, figures as round},
};

/// Bands across in the table of a scatter.
const BANDS: usize = 8;

/// Some values of one line: how many hours, least, middle, most.
struct Summary {
    rows: usize,
    low: f64,
    middle: f64,
    high: f64,
}

impl Summary {
    fn of(values: impl IntoIterator<Item = f64>) -> Option<Self> {
        let known: Vec<f64> = values.into_iter().filter(|v| v.is_finite()).collect();
        let low = known.iter().copied().fold(f64::INFINITY, f64::min);
        let high = known.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (!known.is_empty()).then(|| Self { rows: known.len(), low, middle: super::middle(known), high })
    }
    fn cells(&self, quantity: Quantity, show: &Show) -> [String; 3] {
        [self.low, self.middle, self.high].map(|v| quantity.say(show, v))
    }
}

/// One line of a cut of time: its name, what it measures, and its values in the hours that count and in the others.
pub struct Part {
    pub name: String,
    pub quantity: Quantity,
    pub counted: Vec<f64>,
    pub others: Vec<f64>,
}

/// Each line of a cut in the hours that count and in the others.
pub fn of_cut(scene: &Scene, parts: &[Part], counted: &str) -> Table {
    let row = |p: &Part, which: &str, values: &[f64]| {
        let s = Summary::of(values.iter().copied())?;
        let head = [p.name.clone(), which.to_owned(), round(scene.hours(s.rows), 3)];
        Some(head.into_iter().chain(s.cells(p.quantity, scene.show)).collect::<Vec<String>>())
    };
    let rows = parts.iter().flat_map(|p| [row(p, counted, &p.counted), row(p, "the other hours shown", &p.others)]);
    let titles = ["Line", "When", "#Hours", "#Least", "#Middle", "#Most"];
    Table::new("The lines of this figure within the hours shown.", &titles, rows.flatten().collect())
}

/// A kind of marks of a scatter: its name and places.
pub type Marks<'m> = (&'m str, &'m [(f64, f64)]);

/// Each kind of marks in bands of what lies across.
pub fn of_scatter(scene: &Scene, marks: &[Marks], x: Quantity, y: Quantity) -> Table {
    let across = || marks.iter().flat_map(|m| m.1).map(|p| p.0);
    let (low, high) = across().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    let edge = |k: usize| low + (high - low) * k as f64 / BANDS as f64;
    let band = |v: f64| (((v - low) / (high - low).max(1e-12) * BANDS as f64) as usize).min(BANDS - 1);
    // Each kind of marks by band.
    let sorted = |(_, points): &Marks| {
        let mut bands: Vec<Vec<f64>> = vec![Vec::new(); BANDS];
        points.iter().for_each(|p| bands[band(p.0)].push(p.1));
        bands
    };
    let banded: Vec<Vec<Vec<f64>>> = marks.iter().map(sorted).collect();
    let row = |k: usize, (name, _): &Marks, bands: &[Vec<f64>]| {
        let s = Summary::of(bands[k].iter().copied())?;
        let head = [
            x.say(scene.show, edge(k)),
            x.say(scene.show, edge(k + 1)),
            (*name).to_owned(),
            round(scene.hours(s.rows), 3),
        ];
        Some(head.into_iter().chain(s.cells(y, scene.show)).collect::<Vec<String>>())
    };
    let kinds = || marks.iter().zip(&banded);
    let rows = (0..BANDS).flat_map(|k| kinds().filter_map(move |(m, bands)| row(k, m, bands)));
    let titles = ["#Across from", "#to", "Marks", "#Hours", "#Least", "#Middle", "#Most"];
    Table::new("The marks of this figure in bands of what lies across.", &titles, rows.collect())
}

/// Each panel of daily marks before and after the step.
pub fn of_days<'p>(show: &Show, panels: impl Iterator<Item = (&'p str, Quantity, &'p [f64])>, at: usize) -> Table {
    let rows = panels.flat_map(|(name, quantity, values)| {
        let (before, after) = values.split_at(at.min(values.len()));
        [("before", before), ("from the step on", after)].into_iter().filter_map(move |(when, days)| {
            let s = Summary::of(days.iter().copied())?;
            let head = [name.to_owned(), when.to_owned(), s.rows.to_string()];
            Some(head.into_iter().chain(s.cells(quantity, show)).collect::<Vec<String>>())
        })
    });
    let titles = ["Marks", "When", "#Days", "#Least", "#Middle", "#Most"];
    Table::new("The marks of this figure before and after the step.", &titles, rows.collect())
}
