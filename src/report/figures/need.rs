//! The head that would have been enough, over flow, with today's curve and the proposed one; the coil that needed it told by colour and shape.

use super::{
    Figure, Key, Layer, Shows,
    frame::Frame,
    head_flow,
    marks::{self, Mark},
    numbers::{Bands, Datum, Over, over_flow, titled},
    palette,
};
use crate::{
    pipeline::Review,
    regimes::Regime,
    report::{
        document::Table,
        show::{Show, figures as round},
    },
};
use plotters::prelude::*;
use std::collections::BTreeMap;

/// Name of this figure: it stands beside the setting that is advised.
pub const ID: &str = "need-over-flow";

/// Corners of the coils' shapes on a circle of radius one, in the order of [`palette::COILS`]; the rest is round.
const SHAPES: [&[(f64, f64)]; 4] =
    [marks::POINTS_UP, &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)], marks::DIAMOND, marks::POINTS_DOWN];
/// Classes of their layers.
const CLASSES: [&str; 4] = ["need-coil-1", "need-coil-2", "need-coil-3", "need-coil-4"];
const OTHERS: &str = "need-coil-others";

/// Bands of flow in the table.
const BANDS: usize = 10;

/// A row whose need is known.
struct Row {
    flow: f64,
    need: f64,
    coil: u16,
}

/// The figure; `None` where the need is known nowhere.
pub fn figure(review: &Review, shows: Shows) -> Option<[Figure; 2]> {
    let rows = rows(review);
    if rows.is_empty() {
        return None;
    }
    let hours = review.clock.hours();
    let curves = head_flow::control_heads(review);
    let right = rows.iter().map(|r| r.flow).fold(1e-6, f64::max) * 1.08;
    let top = rows.iter().map(|r| r.need).chain(curves).fold(1e-6, f64::max) * 1.1;
    let frame = Frame::whole(620, 0.0..right, 0.0..top);
    let often = neediest(&rows);
    let (mut layers, mut keys) = (Vec::new(), Vec::new());
    // The rarer ones are drawn last, on top; they stand last among the keys too.
    let named = often.iter().take(SHAPES.len());
    let all_named: Vec<u16> = named.clone().map(|c| c.0).collect();
    for (k, (coil, n)) in named.enumerate() {
        let name = review.plant.coils.get(usize::from(*coil)).map_or("a coil not named", |c| c.name.as_str());
        let style = Style { color: palette::COILS[k], corners: Some(SHAPES[k]) };
        let label = format!("{name} neediest ({} h)", round(hours * *n as f64, 3));
        let of = |r: &&Row| r.coil == *coil;
        add(&mut layers, &mut keys, &frame, (CLASSES[k], label), &style, &marks(&frame, rows.iter().filter(of), hours));
    }
    let others = || rows.iter().filter(|r| !all_named.contains(&r.coil));
    let n = others().count();
    if n > 0 {
        let style = Style { color: palette::PUMP, corners: None };
        let label = format!("another one ({} h)", round(hours * n as f64, 3));
        add(&mut layers, &mut keys, &frame, (OTHERS, label), &style, &marks(&frame, others(), hours));
    }
    let (curves, curve_keys) = head_flow::control_curves(review, &frame, "need");
    layers.extend(curves);
    keys.extend(curve_keys);
    let kind = |coil: u16| all_named.iter().position(|n| *n == coil).unwrap_or(all_named.len());
    let data = rows.iter().map(|r| Datum { x: r.flow, y: r.need, kind: kind(r.coil), hours });
    let bands = Bands::of(data, BANDS, all_named.len() + 1, frame.x.end);
    let own = |show: &Show| {
        let mut all = head_flow::axes("need", &frame, show);
        all.extend(layers.iter().cloned());
        let last = all.pop().map(|l| l.with_table(table(review, &bands, &all_named, show)));
        all.extend(last);
        all
    };
    Some(shows.map(|show| Figure {
        id: ID.into(),
        title: "Head that was enough, over flow".to_owned(),
        description: format!(
            "Scatter of the head that would have been enough over flow, known over {} hours, by the coil that needed it, with the control curves.",
            round(hours * rows.len() as f64, 3)
        ),
        caption: "The head that would have been enough at each moment, with the neediest valve at 90 % open; colour and shape tell whose valve that was. The gap up to the present curve is head that valves throttle away. One coil that stands alone above the others is to be looked at before the curve is raised for all."
            .to_owned(),
        keys: keys.clone(),
        height: frame.height,
        layers: own(show),
    }))
}

fn rows(review: &Review) -> Vec<Row> {
    let flow = &review.points.system.flow_m3h;
    let each = flow.iter().zip(&review.need_kpa).zip(&review.neediest);
    let known = |r: &Row| r.flow.is_finite() && r.need.is_finite();
    each.map(|((&flow, &need), &coil)| Row { flow, need, coil }).filter(known).collect()
}

/// The need by band of flow and neediest coil.
fn table(review: &Review, bands: &Bands, named: &[u16], show: &Show) -> Table {
    let name = |coil: &u16| {
        review.plant.coils.get(usize::from(*coil)).map_or_else(|| "a coil not named".to_owned(), |c| c.name.clone())
    };
    let kinds: Vec<String> = named.iter().map(name).chain(["another one".to_owned()]).collect();
    let titles = [
        titled(show, "#Flow from, m³/h", "#Flow from, gpm"),
        "#to",
        "Neediest",
        "#Hours",
        titled(show, "#Head enough, kPa: mean", "#Head enough, ft: mean"),
        "#least",
        "#most",
    ];
    let over = Over {
        caption: "The head that would have been enough, by band of flow and neediest coil.".to_owned(),
        titles: &titles,
        kinds: &kinds,
        value: &|v| show.head_value(v),
    };
    over_flow(bands, &over, show)
}

/// Coils with the number of rows in which each was neediest, the most frequent first.
fn neediest(rows: &[Row]) -> Vec<(u16, usize)> {
    let mut count: BTreeMap<u16, usize> = BTreeMap::new();
    for r in rows.iter().filter(|r| r.coil != u16::MAX) {
        *count.entry(r.coil).or_default() += 1;
    }
    let mut often: Vec<(u16, usize)> = count.into_iter().collect();
    often.sort_by_key(|c| (std::cmp::Reverse(c.1), c.0));
    often
}

fn marks<'r>(frame: &Frame, rows: impl Iterator<Item = &'r Row> + Clone, hours: f64) -> Vec<Mark> {
    marks::binned(frame, rows.map(|r| Mark { x: r.flow, y: r.need, regime: Regime::OnCurve, hours }))
}

struct Style {
    color: RGBColor,
    corners: Option<&'static [(f64, f64)]>,
}

/// A layer of marks and its key.
fn add(
    layers: &mut Vec<Layer>,
    keys: &mut Vec<Key>,
    frame: &Frame,
    (class, label): (&'static str, String),
    style: &Style,
    marks: &[Mark],
) {
    let most = marks.iter().map(|m| m.hours).fold(1e-9, f64::max);
    let body = frame.layer(|pen| {
        for m in marks {
            let share = (m.hours / most).sqrt();
            let filled = style.color.mix(0.6 + 0.4 * share).filled();
            marks::placed(pen, style.corners, filled, pen.at(m.x, m.y), 5.0 + 5.0 * share);
        }
    });
    layers.push(Layer::new(format!("need-points-{class}"), class, body));
    keys.push(Key { class, label, sample: marks::drawn(style.color, style.corners) });
}
