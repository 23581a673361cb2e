//! The plant's picture: head over flow, time, temperature difference, valves, regimes, availability.

use super::positions;
use crate::{
    pipeline::Review,
    report::{
        document::{Block, Table},
        figures::{AVAILABILITY, Figure},
        show::{Show, figures as round},
        words,
    },
};

/// Figures in the order they are read here; those of other sections stand there.
const IN_ORDER: [&str; 4] = ["head-over-flow", "time-strip", "delta-t-over-flow", "valve-positions"];

/// A group of fewer hours is not worth a line [h].
const GROUP_MIN_H: f64 = 1.0;

pub fn blocks(review: &Review, show: &Show, figures: &[Figure]) -> Vec<Block> {
    let mut blocks: Vec<Block> = IN_ORDER.iter().flat_map(|wanted| positions(figures, |id| id == *wanted)).collect();
    blocks.extend(groups(review, show));
    blocks.extend(positions(figures, |id| id == AVAILABILITY));
    blocks
}

/// Where the pumps ran, group by group.
fn groups(review: &Review, show: &Show) -> Option<Block> {
    let spread = |(centre, sd): (f64, f64), value: &dyn Fn(f64) -> f64| {
        if centre.is_finite() {
            // The spread says no more places than the centre does.
            let (centre, sd) = (value(centre), value(sd));
            let places = if centre.abs() >= 10.0 || centre == 0.0 { 0 } else { 1 };
            let unit = 10f64.powi(places);
            let rounded = (sd * unit).round() / unit;
            let sd = if rounded == 0.0 { round(sd, 1) } else { round(rounded, 2) };
            format!("{}\u{a0}±\u{a0}{sd}", round(centre, 2))
        } else {
            "–".to_owned()
        }
    };
    let rows: Vec<Vec<String>> = review
        .regimes
        .groups
        .iter()
        .filter(|g| g.hours >= GROUP_MIN_H)
        .map(|g| {
            vec![
                g.pump.clone(),
                words::regime(g.regime).to_owned(),
                round(g.hours, 3),
                show.percent(g.share_of_hours),
                show.percent(g.share_of_energy),
                spread(g.flow_m3h, &|v| show.flow_value(v)),
                spread(g.head_excess_kpa, &|v| show.head_value(v)),
                spread(g.speed, &|v| v * 100.0),
                spread(g.delta_t_k, &|v| show.difference_value(v)),
            ]
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    let caption = format!(
        "Where the pumps ran: hours that belong together, with the middle and the usual spread (one standard deviation) of flow [{}], head above the control curve [{}], speed [%] and temperature difference [{}]. Groups of less than an hour are left out.",
        show.flow_unit(),
        show.head_unit(),
        show.difference_unit()
    );
    let titles = ["Pump", "Where", "#Hours", "#Of hours", "#Of energy", "#Flow", "#Head above curve", "#Speed", "#ΔT"];
    Some(Block::Table(Table::new(caption, &titles, rows)))
}
