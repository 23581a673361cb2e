//! A figure's data as a table of a readable size: bands of flow instead of marks.

use crate::{
    plant::UnitSystem,
    report::{
        document::Table,
        show::{Show, figures as round},
    },
};

use std::cmp::Ordering;

/// One row of the record: a place, what kind of row it is, and the hours it stands for.
#[derive(Debug, Clone, Copy)]
pub struct Datum {
    pub x: f64,
    pub y: f64,
    pub kind: usize,
    pub hours: f64,
}

#[derive(Debug, Clone, Copy)]
struct Band {
    hours: f64,
    sum: f64,
    low: f64,
    high: f64,
}

/// Hours, sum, least and most of a quantity in bands of flow, for each kind of row: counted once for both systems of units.
pub struct Bands {
    /// By band, then kind.
    all: Vec<Vec<Band>>,
    end: f64,
}

impl Bands {
    /// So many bands of flow from nought to `end` [m3/h], and so many kinds.
    pub fn of(data: impl Iterator<Item = Datum>, bands: usize, kinds: usize, end: f64) -> Self {
        let empty = Band { hours: 0.0, sum: 0.0, low: f64::INFINITY, high: f64::NEG_INFINITY };
        let mut all = vec![vec![empty; kinds]; bands];
        for d in data.filter(|d| d.x.is_finite() && d.y.is_finite() && d.x >= 0.0) {
            let band = ((d.x / end * bands as f64) as usize).min(bands - 1);
            let Some(b) = all[band].get_mut(d.kind) else { continue };
            b.hours += d.hours;
            b.sum += d.hours * d.y;
            b.low = b.low.min(d.y);
            b.high = b.high.max(d.y);
        }
        Self { all, end }
    }
}

/// What the table says of the quantity over flow.
pub struct Over<'o> {
    pub caption: String,
    /// Titles of all columns, from "Flow from" on.
    pub titles: &'o [&'static str],
    /// Names of the kinds; one kind alone gets no column.
    pub kinds: &'o [String],
    /// From the data's unit to the reader's.
    pub value: &'o dyn Fn(f64) -> f64,
}

/// Hours, mean, least and most of a quantity in each band of flow, for each kind.
pub fn over_flow(bands: &Bands, over: &Over, show: &Show) -> Table {
    let edge = |k: usize| round(show.flow_value(bands.end * k as f64 / bands.all.len() as f64), 3);
    let rows = bands.all.iter().enumerate().flat_map(|(k, kinds)| {
        kinds.iter().enumerate().filter(|(_, b)| b.hours > 0.0).map(move |(kind, b)| {
            let mut row = vec![edge(k), edge(k + 1)];
            if over.kinds.len() > 1 {
                row.push(over.kinds[kind].clone());
            }
            row.push(round(b.hours, 3));
            row.extend([b.sum / b.hours, b.low, b.high].map(|v| round((over.value)(v), 3)));
            row
        })
    });
    Table::new(over.caption.clone(), over.titles, rows.collect())
}

/// Puts the values of these places, no two alike and all there, where sorting would have put them.
pub fn settle<T>(values: &mut [T], places: &[usize], order: &impl Fn(&T, &T) -> Ordering) {
    let Some(&middle) = places.get(places.len() / 2) else { return };
    values.select_nth_unstable_by(middle, order);
    let (below, above) = places.split_at(places.len() / 2);
    settle(&mut values[..middle], below, order);
    let above: Vec<usize> = above[1..].iter().map(|p| p - middle - 1).collect();
    settle(&mut values[middle + 1..], &above, order);
}

/// A title in the reader's units: of two, the one for SI or the one for IP.
pub fn titled(show: &Show, si: &'static str, ip: &'static str) -> &'static str {
    match show.units {
        UnitSystem::Si => si,
        UnitSystem::Ip => ip,
    }
}
