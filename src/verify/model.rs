//! One form fitted to rows: days or hours.
//!
//! Where a form has points at which the slope changes, they are searched on a grid between the driver's outermost rows, then on two finer grids about the best.
//! The points are as uncertain as the slopes: `Model::steep` gives how the fit moves with each, as one more column for the covariance (first order).
//!
//! Source of the forms: Kissock, Haberl and Claridge, *Inverse modeling toolkit: numerical algorithms* (RP-1050), ASHRAE Trans. 109 (2003) 425: grid and least squares.

use super::bins;
use super::form::{Calendar, Driver, Form, Shape};
use super::least_squares::{self, Fit};
use super::rows::Row;

/// Rows outside an outer point, at the least, and this share of all (common practice, no source). Fewer, and a slope hangs on one day.
const LEAST_OUTSIDE: usize = 4;
const LEAST_SHARE: f64 = 0.1;
/// Places on the first grid, for one point and for each of two.
const PLACES: usize = 60;
const PLACES_OF_TWO: usize = 16;
/// Finer grids, each this many times finer, so many steps to either side.
const FINER: [f64; 3] = [5.0, 5.0, 5.0];
const STEPS: i32 = 6;

/// A form with its numbers.
#[derive(Debug, Clone)]
pub struct Model {
    pub form: Form,
    /// Where the slope changes [degC or kW], ascending.
    pub points: Vec<f64>,
    pub fit: Fit,
    /// Ends of temperature bins [degF] and occupied hours of the week, for time of week and temperature.
    ends_f: Vec<f64>,
    occupied: Vec<bool>,
}

impl Model {
    /// Fits a form; `None` where the rows cannot carry it.
    #[must_use]
    pub fn new(form: Form, rows: &[Row]) -> Option<Self> {
        let (mut ends_f, mut occupied) = (Vec::new(), Vec::new());
        if form.shape == Shape::Bins {
            ends_f = bins::ends(&rows.iter().map(|r| bins::fahrenheit(r.outdoor_c)).collect::<Vec<f64>>());
            occupied = bins::occupied(rows).to_vec();
        }
        let points = search(form, rows)?;
        let of = |r: &Row| line(form, &points, &ends_f, &occupied, r);
        let fit = least_squares::fit(&energy(rows), &groups(form.calendar, rows), &columns(rows, of))?;
        (fit.n > fit.p).then_some(Self { form, points, fit, ends_f, occupied })
    }

    /// With the points where the slope changes given: what a published fit names.
    #[must_use]
    pub fn at(form: Form, points: &[f64], rows: &[Row]) -> Option<Self> {
        if points.len() != form.points() || form.shape == Shape::Bins {
            return None;
        }
        let of = |r: &Row| line(form, points, &[], &[], r);
        let fit = least_squares::fit(&energy(rows), &groups(form.calendar, rows), &columns(rows, of))?;
        Some(Self { form, points: points.to_vec(), fit, ends_f: Vec::new(), occupied: Vec::new() })
    }

    /// Predicted energy of a row [kWh]; NaN where its driver is unknown or its place in the calendar was never seen.
    #[must_use]
    pub fn predict(&self, row: &Row) -> f64 {
        self.fit.predict(group(self.form.calendar, row), &self.columns(row))
    }

    /// The columns of a row.
    pub(super) fn columns(&self, row: &Row) -> Vec<f64> {
        line(self.form, &self.points, &self.ends_f, &self.occupied, row)
    }

    /// How the prediction of a row moves with each point where the slope changes [kWh per unit of the driver].
    pub(super) fn steep(&self, row: &Row) -> Vec<f64> {
        let apart = if self.form.calendar == Calendar::WeekendApart { group(self.form.calendar, row) } else { 0 };
        let (x, s) = (driver(self.form.driver, row), &self.fit.slope[apart * self.fit.slope.len() / 2..]);
        let below = |p: f64| f64::from(u8::from(x < p));
        let above = |p: f64| f64::from(u8::from(x > p));
        match (self.form.shape, self.points.as_slice()) {
            (Shape::Above, [p]) => vec![-s[0] * above(*p)],
            (Shape::Below, [p]) => vec![s[0] * below(*p)],
            (Shape::TwoSlopes, [p]) => vec![s[0] * below(*p) - s[1] * above(*p)],
            (Shape::Between, [low, high]) => vec![s[0] * below(*low), -s[1] * above(*high)],
            _ => Vec::new(),
        }
    }

    /// Parameters in all: levels, slopes and points.
    #[must_use]
    pub fn parameters(&self) -> usize {
        self.fit.p + self.points.len()
    }
}

/// The driver of a row along which the line goes [degC or kW]; NaN where any part of it is unknown.
pub(super) fn driver(which: Driver, row: &Row) -> f64 {
    match which {
        Driver::Outdoor => row.outdoor_c,
        Driver::Load => row.load_kw,
        Driver::LoadAndOutdoor if row.outdoor_c.is_finite() => row.load_kw,
        Driver::LoadAndOutdoor => f64::NAN,
    }
}

pub(super) fn group(calendar: Calendar, row: &Row) -> usize {
    match calendar {
        Calendar::One => 0,
        Calendar::Weekend | Calendar::WeekendApart => usize::from(row.weekday >= 5),
        Calendar::Weekday => row.weekday,
        Calendar::HourOfWeek => bins::hour_of_week(row),
    }
}

pub(super) fn groups(calendar: Calendar, rows: &[Row]) -> Vec<usize> {
    rows.iter().map(|r| group(calendar, r)).collect()
}

pub(super) fn energy(rows: &[Row]) -> Vec<f64> {
    rows.iter().map(|r| r.energy_kwh).collect()
}

/// What a function gives a row, turned to columns.
pub(super) fn columns(rows: &[Row], of: impl Fn(&Row) -> Vec<f64>) -> Vec<Vec<f64>> {
    let Some(first) = rows.first() else { return Vec::new() };
    let mut columns = vec![Vec::with_capacity(rows.len()); of(first).len()];
    for row in rows {
        columns.iter_mut().zip(of(row)).for_each(|(c, v)| c.push(v));
    }
    columns
}

fn line(form: Form, points: &[f64], ends_f: &[f64], occupied: &[bool], row: &Row) -> Vec<f64> {
    let mut one = one_line(form, points, ends_f, occupied, row);
    if form.driver == Driver::LoadAndOutdoor {
        one.push(row.outdoor_c);
    }
    if form.calendar != Calendar::WeekendApart {
        return one;
    }
    let other = vec![0.0; one.len()];
    if group(form.calendar, row) == 0 { [one, other].concat() } else { [other, one].concat() }
}

fn one_line(form: Form, points: &[f64], ends_f: &[f64], occupied: &[bool], row: &Row) -> Vec<f64> {
    let x = driver(form.driver, row);
    match (form.shape, points) {
        (Shape::Linear, _) => vec![x],
        (Shape::Above, [p]) => vec![over(x - p)],
        (Shape::Below, [p]) => vec![over(p - x)],
        (Shape::TwoSlopes, [p]) => vec![over(p - x), over(x - p)],
        (Shape::Between, [low, high]) => vec![over(low - x), over(x - high)],
        (Shape::Bins, _) => {
            let parts = bins::split(bins::fahrenheit(x), ends_f);
            let busy = occupied.get(bins::hour_of_week(row)).copied().unwrap_or(false);
            let kept = |on: bool| parts.iter().map(move |v| if on { *v } else { 0.0 });
            kept(busy).chain(kept(!busy)).collect()
        }
        _ => Vec::new(),
    }
}

/// The part above zero; unknown stays unknown (`max` would make it zero).
fn over(v: f64) -> f64 {
    if v < 0.0 { 0.0 } else { v }
}

/// Where the slope changes: least squares on the grid. An empty list for a form without; `None` where there is no room.
fn search(form: Form, rows: &[Row]) -> Option<Vec<f64>> {
    let wanted = form.points();
    if wanted == 0 {
        return Some(Vec::new());
    }
    let (low, high) = room(form, rows)?;
    if !(high > low) {
        return None;
    }
    let inner = Inner::new(form, rows);
    let places = if wanted == 1 { PLACES } else { PLACES_OF_TWO };
    let mut step = (high - low) / places as f64;
    let axis: Vec<f64> = (0..=places).map(|k| low + step * k as f64).collect();
    let mut best = inner.best(&vec![axis; wanted], step)?;
    for finer in FINER {
        let least_apart = step;
        step /= finer;
        let about = |p: &f64| (-STEPS..=STEPS).map(|k| (p + step * f64::from(k)).clamp(low, high)).collect();
        best = inner.best(&best.iter().map(about).collect::<Vec<Vec<f64>>>(), least_apart).unwrap_or(best);
    }
    Some(best)
}

/// Where a point may lie: enough rows outside it on either side, of every part that has slopes of its own.
fn room(form: Form, rows: &[Row]) -> Option<(f64, f64)> {
    let parts = if form.calendar == Calendar::WeekendApart { 2 } else { 1 };
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for part in 0..parts {
        let of = |r: &&Row| parts == 1 || group(form.calendar, r) == part;
        let mut x: Vec<f64> = rows.iter().filter(of).map(|r| driver(form.driver, r)).collect();
        x.sort_by(f64::total_cmp);
        let outside = LEAST_OUTSIDE.max((LEAST_SHARE * x.len() as f64).ceil() as usize);
        low = low.max(*x.get(outside)?);
        high = high.min(*x.get(x.len().checked_sub(outside + 1)?)?);
    }
    Some((low, high))
}

/// What the search needs of the rows.
struct Inner {
    form: Form,
    x: Vec<f64>,
    group: Vec<usize>,
    count: Vec<f64>,
    y: Vec<f64>,
    /// What is fitted beside the line, centred.
    beside: Option<Vec<f64>>,
}

impl Inner {
    fn new(form: Form, rows: &[Row]) -> Self {
        let group = groups(form.calendar, rows);
        let mut count = vec![0.0; group.iter().max().map_or(0, |g| g + 1)];
        group.iter().for_each(|g| count[*g] += 1.0);
        let x = rows.iter().map(|r| driver(form.driver, r)).collect();
        let mut inner = Self { form, x, group, count, y: Vec::new(), beside: None };
        if form.driver == Driver::LoadAndOutdoor {
            inner.beside = Some(inner.centred(rows.iter().map(|r| r.outdoor_c).collect()));
        }
        inner.y = inner.cleared(energy(rows));
        inner
    }

    fn best(&self, axes: &[Vec<f64>], least_apart: f64) -> Option<Vec<f64>> {
        let mut best: Option<(f64, Vec<f64>)> = None;
        let mut try_at = |points: &[f64]| {
            let gain = self.gain(points);
            if best.as_ref().is_none_or(|(g, _)| gain > *g) {
                best = Some((gain, points.to_vec()));
            }
        };
        match axes {
            [one] => one.iter().for_each(|p| try_at(&[*p])),
            [first, second] => {
                for low in first {
                    second.iter().filter(|high| **high - low >= least_apart).for_each(|high| try_at(&[*low, *high]));
                }
            }
            _ => {}
        }
        best.map(|(_, points)| points)
    }

    /// By how much the sum of squares falls through the slopes: the columns made orthogonal, one after the other.
    fn gain(&self, points: &[f64]) -> f64 {
        let low = |x: f64| over(points[0] - x);
        let high = |x: f64| over(x - points[points.len() - 1]);
        let first = match self.form.shape {
            Shape::Above => self.column(high),
            _ => self.column(low),
        };
        let second = (self.form.shape == Shape::TwoSlopes || points.len() == 2).then(|| self.column(high));
        if self.form.calendar != Calendar::WeekendApart {
            return self.gain_of(&first, second.as_ref(), |_| true);
        }
        (0..self.count.len()).map(|g| self.gain_of(&first, second.as_ref(), |i| self.group[i] == g)).sum()
    }

    /// The same of the rows of one group; within a group the columns are centred already.
    fn gain_of(&self, first: &[f64], second: Option<&Vec<f64>>, of: impl Fn(usize) -> bool) -> f64 {
        let dot = |a: &[f64], b: &[f64]| (0..a.len()).filter(|i| of(*i)).map(|i| a[i] * b[i]).sum::<f64>();
        let one = |c: &[f64]| {
            let square = dot(c, c);
            if square > 1e-12 { dot(c, &self.y).powi(2) / square } else { 0.0 }
        };
        let Some(second) = second else { return one(first) };
        let square = dot(first, first);
        let share = if square > 1e-12 { dot(first, second) / square } else { 0.0 };
        let rest: Vec<f64> = second.iter().zip(first).map(|(s, f)| s - share * f).collect();
        one(first) + one(&rest)
    }

    fn column(&self, of: impl Fn(f64) -> f64) -> Vec<f64> {
        self.cleared(self.x.iter().map(|x| of(*x)).collect())
    }

    /// Centred, and made orthogonal to what is fitted beside.
    fn cleared(&self, column: Vec<f64>) -> Vec<f64> {
        let mut column = self.centred(column);
        if let Some(beside) = &self.beside {
            let dot = |a: &[f64]| a.iter().zip(beside).map(|(a, b)| a * b).sum::<f64>();
            let square = dot(beside);
            let share = if square > 1e-12 { dot(&column) / square } else { 0.0 };
            column.iter_mut().zip(beside).for_each(|(c, b)| *c -= share * b);
        }
        column
    }

    fn centred(&self, mut column: Vec<f64>) -> Vec<f64> {
        let mut sum = vec![0.0; self.count.len()];
        self.group.iter().zip(&column).for_each(|(g, v)| sum[*g] += v);
        self.group.iter().zip(&mut column).for_each(|(g, v)| *v -= sum[*g] / self.count[*g]);
        column
    }
}
