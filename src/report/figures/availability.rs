//! What there is of each point, day by day: a bar as high as the share of the day's rows that hold a reading.

use super::{Figure, Key, Layer, Shows, dates, frame::Frame, palette};
use crate::{
    pipeline::Review,
    report::{document::Table, show::Show, words},
};
use plotters::prelude::*;
use std::ops::Range;

/// Where it stands is chosen by this name.
pub const ID: &str = "availability";
/// A point's row: its name above, its bars below [px].
const ROW: u32 = 46;
/// Of more points only those with most missing are drawn: the figure fits a page.
const MOST_POINTS: usize = 30;
/// No more rows than this in the table.
const MOST_ROWS: usize = 60;
/// No more bars than this in a row; of a longer record a bar stands for several days.
const MOST_BARS: usize = 400;
/// Steps in which a bar grows: neighbours that look alike are drawn as one.
const STEPS: f64 = 20.0;

struct Bars {
    /// Rows of the clock, by bar.
    rows: Vec<Range<usize>>,
    /// Days since the first midnight, one more than bars.
    edges: Vec<f64>,
    days_each: usize,
}

/// The figure; `None` without rows or points.
pub fn figure(review: &Review, shows: Shows) -> Option<[Figure; 2]> {
    let bars = bars(review, shows[0])?;
    let mut points: Vec<(&str, Vec<f64>)> =
        review.screened.series.iter().map(|s| (s.name.as_str(), shares(&s.values, &bars))).collect();
    let tables = shows.map(|show| table(&points, show));
    let all = points.len();
    if all > MOST_POINTS {
        let held = |p: &(&str, Vec<f64>)| p.1.iter().sum::<f64>();
        points.sort_by(|a, b| held(a).total_cmp(&held(b)));
        points.truncate(MOST_POINTS);
    }
    let count = u32::try_from(points.len()).ok().filter(|n| *n > 0)?;
    let height = count * ROW + 100;
    let days = bars.edges[0]..bars.edges.last().copied()?;
    let whole = Frame { height, top: 0, bottom: count * ROW + 84, x: days.clone(), y: 0.0..1.0, below: 84 };
    let first = shows[0].local(review.clock.at_ms(0)).map(|t| t.naive_local().date());
    let axis = Layer::new(format!("{ID}-axis"), "axis", dates::axis(&whole, first));
    let mut layers = Vec::new();
    for (k, (name, shares)) in points.iter().enumerate() {
        let top = ROW * k as u32;
        let frame = Frame { height, top, bottom: top + ROW, x: days.clone(), y: 0.0..2.2, below: 0 };
        let body = frame.layer(|pen| {
            pen.line([(days.start, 0.0), (days.end, 0.0)], palette::GRID.stroke_width(2));
            draw(pen, shares, &bars);
            pen.words(name, days.start, 2.2, (0, -4), palette::INK);
        });
        layers.push(Layer::new(format!("{ID}-{k}"), "held", body));
    }
    let in_one = |show: &Show, table: Table| {
        Figure {
        id: ID.into(),
        title: "What there is of each point".to_owned(),
        description: description(&points, show),
        caption: caption(all, points.len(), bars.days_each),
        keys: vec![Key {
            class: "held",
            label: "share of the rows that hold a reading".to_owned(),
            sample: "<rect x=\"8\" y=\"5\" width=\"16\" height=\"24\" fill=\"#1F5C8F\"/><rect x=\"24\" y=\"19\" width=\"16\" height=\"10\" fill=\"#1F5C8F\"/>"
                .to_owned(),
        }],
        height,
        layers: std::iter::once(axis.clone().with_table(table)).chain(layers.iter().cloned()).collect(),
    }
    };
    let [shown, other] = tables;
    Some([in_one(shows[0], shown), in_one(shows[1], other)])
}

/// The points with least first.
fn table(points: &[(&str, Vec<f64>)], show: &Show) -> Table {
    let mean = |shares: &[f64]| shares.iter().sum::<f64>() / shares.len().max(1) as f64;
    let mut order: Vec<&(&str, Vec<f64>)> = points.iter().collect();
    order.sort_by(|a, b| mean(&a.1).total_cmp(&mean(&b.1)));
    let row = |(name, shares): &&(&str, Vec<f64>)| {
        let nothing = shares.iter().filter(|s| **s <= 0.0).count();
        let worst = shares.iter().copied().fold(1.0, f64::min);
        vec![(*name).to_owned(), show.percent(mean(shares)), show.percent(worst), nothing.to_string()]
    };
    let titles = ["Point", "#Rows with a reading", "#In the worst bar", "#Bars with nothing"];
    let caption = "Share of rows with a reading, least first.";
    Table::new(caption, &titles, order.iter().take(MOST_ROWS).map(row).collect())
}

/// Runs of bars of one height.
fn draw(pen: &super::frame::Pen, shares: &[f64], bars: &Bars) {
    let step = |s: f64| (s * STEPS).ceil();
    let mut i = 0;
    while i < shares.len() {
        let run = shares[i..].iter().take_while(|s| step(**s) == step(shares[i])).count();
        if shares[i] > 0.0 {
            pen.block(bars.edges[i]..bars.edges[i + run], 0.0..step(shares[i]) / STEPS, palette::BY_HEAD.filled());
        }
        i += run;
    }
}

/// Share of each bar's rows with a reading [-].
fn shares(values: &[f64], bars: &Bars) -> Vec<f64> {
    let share = |rows: &Range<usize>| {
        let own = values.get(rows.clone()).unwrap_or_default();
        own.iter().filter(|v| v.is_finite()).count() as f64 / rows.len().max(1) as f64
    };
    bars.rows.iter().map(share).collect()
}

/// Local days, or several of them a bar.
fn bars(review: &Review, show: &Show) -> Option<Bars> {
    let clock = review.clock;
    let first = show.local(clock.at_ms(0)).filter(|_| clock.len > 1)?.naive_local().date();
    // Clocks change on the hour or half hour: no piece of a quarter of an hour lies in two days.
    let piece = (900 / clock.step_s.max(1)).max(1) as usize;
    let day = |row: usize| show.local(clock.at_ms(row)).map_or(0, |t| (t.naive_local().date() - first).num_days());
    let last = day(clock.len - 1).max(0) as usize;
    let days_each = (last + 1).div_ceil(MOST_BARS);
    let count = (last + 1).div_ceil(days_each);
    let mut rows: Vec<Range<usize>> = vec![clock.len..0; count];
    for start in (0..clock.len).step_by(piece) {
        let bar = &mut rows[(day(start).max(0) as usize / days_each).min(count - 1)];
        *bar = bar.start.min(start)..(start + piece).min(clock.len);
    }
    rows.iter_mut().filter(|r| r.start > r.end).for_each(|r| *r = 0..0);
    Some(Bars { rows, edges: (0..=count).map(|k| (k * days_each) as f64).collect(), days_each })
}

fn caption(all: usize, drawn: usize, days_each: usize) -> String {
    let which = if drawn < all { format!("The {drawn} of {all} points with most missing. ") } else { String::new() };
    let each = if days_each == 1 { "each day".to_owned() } else { format!("each {days_each} days") };
    format!(
        "{which}A bar as high as its row: a reading on every row of {each}; no bar: none. Readings that were taken out count as none. Local time."
    )
}

fn description(points: &[(&str, Vec<f64>)], show: &Show) -> String {
    let held = |shares: &[f64]| shares.iter().sum::<f64>() / shares.len().max(1) as f64;
    let worst: Vec<String> = points
        .iter()
        .filter(|(_, s)| held(s) < 0.995)
        .take(8)
        .map(|(name, s)| format!("{name} {}", show.percent(held(s))))
        .collect();
    if worst.is_empty() {
        return "Every point has a reading on nearly every row of every day.".to_owned();
    }
    format!(
        "Share of rows with a reading, day by day. Over the whole period: {}; the others nearly all.",
        words::join(&worst)
    )
}
