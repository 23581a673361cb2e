//! Valve positions: how open each coil's valve stood while the pumps ran.

use super::{Figure, Layer, Shows, frame::Frame, numbers::settle, palette};
use crate::{
    pipeline::Review,
    plant::Role,
    report::{
        document::Table,
        show::{Show, figures as round},
        words,
    },
};
use plotters::prelude::*;

/// Bands of 5 % opening.
const BANDS: usize = 20;
/// Height of a coil's strip [px].
const STRIP: u32 = 62;
/// Of more coils only those whose valves stood most open are drawn: the figure fits a page.
const MOST_COILS: usize = 24;
/// No more rows than this in the table.
const MOST_ROWS: usize = 60;
/// Nearly closed below this opening, nearly open as near to the other end [-].
const NEARLY: f64 = 0.05;

struct Coil<'r> {
    name: &'r str,
    /// Share of the running hours in each band.
    shares: [f64; BANDS],
    median: f64,
    /// Openings below which a quarter of the running hours lie, and above which [%].
    quarters: (f64, f64),
    /// Shares of the running hours nearly closed and nearly open.
    ends: (f64, f64),
    neediest: f64,
}

/// The figure; `None` where no valve is trended.
pub fn figure(review: &Review, shows: Shows) -> Option<[Figure; 2]> {
    let mut coils = coils(review);
    if coils.is_empty() {
        return None;
    }
    let tables = shows.map(|show| table(&coils, show));
    let all = coils.len();
    if all > MOST_COILS {
        coils.sort_by(|a, b| b.median.total_cmp(&a.median));
        coils.truncate(MOST_COILS);
    }
    let which = if all > MOST_COILS {
        format!("The {MOST_COILS} of {all} coils whose valves stood most open. ")
    } else {
        String::new()
    };
    let n = coils.len() as f64;
    let height = STRIP * coils.len() as u32 + 110;
    let frame = Frame::whole(height, 0.0..100.0, 0.0..n);
    let axis = axis(&frame);
    let most = coils.iter().flat_map(|c| c.shares).fold(1e-9, f64::max);
    let strips = frame.layer(|pen| {
        for (k, coil) in coils.iter().enumerate() {
            let base = n - 1.0 - k as f64;
            for (band, share) in coil.shares.iter().enumerate().filter(|(_, s)| **s > 0.0) {
                let x = band as f64 * 5.0;
                pen.block(
                    x + 0.3..x + 4.7,
                    base + 0.04..base + 0.04 + 0.84 * (share / most).sqrt(),
                    palette::PROPOSED.mix(0.75).filled(),
                );
            }
        }
    });
    let medians = frame.layer(|pen| {
        for (k, coil) in coils.iter().enumerate() {
            let base = n - 1.0 - k as f64;
            pen.line([(coil.median, base + 0.02), (coil.median, base + 0.9)], palette::INK.stroke_width(4));
        }
    });
    let names = frame.layer(|pen| {
        for (k, coil) in coils.iter().enumerate() {
            let short: String = coil.name.chars().take(9).collect();
            pen.words(&short, 0.0, n - 1.0 - k as f64 + 0.45, (-114, -12), palette::INK);
        }
    });
    let drawn = |show: &Show, table: Table| Figure {
        id: "valve-positions".into(),
        title: "Valve positions".to_owned(),
        description: description(&coils, show),
        caption: format!(
            "{which}How open each coil's valve stood while the pumps ran: a block is a band of 5 %, as tall as the root of its hours; the upright line is the middle. {}",
            neediest(&coils, show)
        ),
        keys: Vec::new(),
        height,
        layers: vec![
            Layer::new("valves-axis", "axis", axis.clone()).with_table(table),
            Layer::new("valves-strips", "strips", strips.clone()),
            Layer::new("valves-medians", "medians", medians.clone()),
            Layer::new("valves-names", "names", names.clone()),
        ],
    };
    let [table, other] = tables;
    Some([drawn(shows[0], table), drawn(shows[1], other)])
}

fn table(coils: &[Coil], show: &Show) -> Table {
    let mut order: Vec<&Coil> = coils.iter().collect();
    order.sort_by(|a, b| b.median.total_cmp(&a.median));
    let row = |c: &&Coil| {
        let openings = [c.quarters.0, c.median, c.quarters.1].map(|v| round(v, 3));
        let shares = [c.ends.0, c.ends.1, c.neediest].map(|v| show.percent(v));
        [vec![c.name.to_owned()], openings.to_vec(), shares.to_vec()].concat()
    };
    let titles = [
        "Coil",
        "#Quarter of hours below, %",
        "#Half below, %",
        "#Three quarters below, %",
        "#Hours nearly closed",
        "#Hours nearly open",
        "#Hours neediest",
    ];
    let caption =
        "Valve openings while the pumps ran, most open first; nearly closed: below 5 %, nearly open: above 95 %.";
    Table::new(caption, &titles, order.iter().take(MOST_ROWS).map(row).collect())
}

/// The horizontal axis, and a rule between coils.
fn axis(frame: &Frame) -> String {
    frame.layer(|pen| {
        let rows = frame.y.end as usize;
        for k in 0..=rows {
            pen.line([(0.0, k as f64), (100.0, k as f64)], palette::GRID.stroke_width(2));
        }
        for tick in (0..=100).step_by(20) {
            let x = f64::from(tick);
            pen.line([(x, 0.0), (x, frame.y.end)], palette::GRID.stroke_width(2));
            let left = if tick == 0 {
                -7
            } else if tick == 100 {
                -22
            } else {
                -15
            };
            pen.words(&tick.to_string(), x, 0.0, (left, 12), palette::INK);
        }
        pen.words("valve opening, %", 50.0, 0.0, (-95, 46), palette::MUTED);
    })
}

fn coils(review: &Review) -> Vec<Coil<'_>> {
    let system = &review.points.system;
    let running = |i: usize| system.pumps_on.get(i).is_some_and(|n| *n > 0);
    let coil = |(index, c): (usize, &'_ crate::plant::Coil)| -> Option<(usize, Vec<f64>)> {
        let values = review.screened.values(Role::ValvePosition, Some(&c.name))?;
        let mut known: Vec<f64> =
            values.iter().enumerate().filter(|(i, v)| v.is_finite() && running(*i)).map(|(_, v)| *v).collect();
        let places = quarters(known.len());
        settle(&mut known, &places, &f64::total_cmp);
        (!known.is_empty()).then_some((index, known))
    };
    let known_rows = review.neediest.iter().filter(|n| **n != u16::MAX).count().max(1) as f64;
    review
        .plant
        .coils
        .iter()
        .enumerate()
        .filter_map(coil)
        .map(|(index, known)| {
            let mut shares = [0.0; BANDS];
            for v in &known {
                shares[((v * BANDS as f64) as usize).min(BANDS - 1)] += 1.0 / known.len() as f64;
            }
            let at = |quarters: usize| known[quarters * known.len().saturating_sub(1) / 4] * 100.0;
            let share = |of: &dyn Fn(f64) -> bool| known.iter().filter(|v| of(**v)).count() as f64 / known.len() as f64;
            let own = review.neediest.iter().filter(|n| usize::from(**n) == index).count() as f64;
            Coil {
                name: &review.plant.coils[index].name,
                shares,
                median: at(2),
                quarters: (at(1), at(3)),
                ends: (share(&|v| v < NEARLY), share(&|v| v > 1.0 - NEARLY)),
                neediest: own / known_rows,
            }
        })
        .collect()
}

/// Places of the quarters among so many values in order.
fn quarters(values: usize) -> Vec<usize> {
    let mut places: Vec<usize> = (1..=3).map(|k| k * values.saturating_sub(1) / 4).collect();
    places.dedup();
    places.retain(|p| *p < values);
    places
}

fn neediest(coils: &[Coil], show: &Show) -> String {
    let most = coils.iter().max_by(|a, b| a.neediest.total_cmp(&b.neediest)).filter(|c| c.neediest > 0.0);
    most.map_or_else(String::new, |c| {
        format!("{} was the neediest in {} of the hours where that is known.", c.name, show.percent(c.neediest))
    })
}

fn description(coils: &[Coil], show: &Show) -> String {
    let all: Vec<String> = coils.iter().map(|c| format!("{} at {}", c.name, show.percent(c.median / 100.0))).collect();
    format!("Distribution of valve openings. Middle openings: {}.", words::join(&all))
}
