//! Temperature difference over flow: whether the water brings back what the coils should give it.

use super::{
    Figure, Key, Layer, Shows,
    frame::{Frame, Scale, axis_layers},
    marks::{self, Mark},
    numbers::{Bands, Datum, Over, over_flow, titled},
    palette,
};
use crate::{
    pipeline::Review,
    plant::Role,
    regimes::Regime,
    report::{
        document::Table,
        show::{Show, figures as round},
    },
};

use plotters::style::Color;

/// Bands of flow in the table.
const BANDS: usize = 16;

/// The figure; `None` unless both temperatures and the flow are known somewhere.
pub fn figure(review: &Review, shows: Shows) -> Option<[Figure; 2]> {
    let rows = rows(review)?;
    let design = design(review);
    let right = rows.iter().map(|m| m.x).fold(1e-6, f64::max) * 1.08;
    let top = rows.iter().map(|m| m.y).chain(design).fold(1e-6, f64::max) * 1.15;
    let frame = Frame::whole(620, 0.0..right, 0.0..top);
    let data = rows.iter().map(|m| Datum { x: m.x, y: m.y, kind: 0, hours: m.hours });
    let bands = Bands::of(data, BANDS, 1, frame.x.end);
    let marks = marks::binned(&frame, rows.iter().copied());
    let points = marks::layers("delta-t", &frame, &marks);
    Some(shows.map(|show| drawn(&Seen { design, frame: &frame, bands: &bands, marks: &marks, points: &points }, show)))
}

/// What both systems of units draw.
struct Seen<'s> {
    /// The design difference [K].
    design: Option<f64>,
    frame: &'s Frame,
    bands: &'s Bands,
    marks: &'s [Mark],
    points: &'s (Vec<Layer>, Vec<Key>),
}

fn drawn(seen: &Seen, show: &Show) -> Figure {
    let Seen { design, frame, bands, marks, points: (points, keys) } = *seen;
    let mut keys = keys.clone();
    let right = frame.x.end;
    let mut layers = axis_layers("delta-t", show.units, |units| {
        let show = show.within(units);
        let x = format!("flow of the loop, {}", show.flow_unit());
        let y = format!("temperature difference, {}", show.difference_unit());
        frame.axes(
            &Scale { description: &x, factor: show.flow_value(1.0) },
            &Scale { description: &y, factor: show.difference_value(1.0) },
            None,
        )
    });
    if let Some(design) = design {
        let body =
            frame.layer(|pen| marks::dashed(pen, &[(0.0, design), (right, design)], palette::PROPOSED.stroke_width(5)));
        layers.push(Layer::new("delta-t-design", "design", body));
        let label = format!("design ({})", show.difference(design));
        keys.push(Key { class: "design", label, sample: marks::line_sample(palette::PROPOSED, true) });
    }
    layers.extend(points.iter().cloned());
    let last = layers.pop().map(|l| l.with_table(table(bands, show)));
    layers.extend(last);
    Figure {
        id: "delta-t-over-flow".into(),
        title: "Temperature difference over flow".to_owned(),
        description: description(marks, design, show),
        caption: "Difference between supply and return over the flow of the loop, steady rows. Much flow at a small difference is water that came back unused."
            .to_owned(),
        keys,
        height: frame.height,
        layers,
    }
}

fn table(bands: &Bands, show: &Show) -> Table {
    let titles = [
        titled(show, "#Flow from, m³/h", "#Flow from, gpm"),
        "#to",
        "#Hours",
        titled(show, "#Difference, K: mean", "#Difference, °F: mean"),
        "#least",
        "#most",
    ];
    let over = Over {
        caption: "Temperature difference by band of flow, steady rows.".to_owned(),
        titles: &titles,
        kinds: &[String::new()],
        value: &|v| show.difference_value(v),
    };
    over_flow(bands, &over, show)
}

fn rows(review: &Review) -> Option<Vec<Mark>> {
    let supply = review.screened.values(Role::SupplyTemperature, None)?;
    let back = review.screened.values(Role::ReturnTemperature, None)?;
    let system = &review.points.system;
    let row = |i: usize| -> Option<Mark> {
        let (x, y) = (*system.flow_m3h.get(i)?, (back.get(i)? - supply.get(i)?).abs());
        let running = *system.steady.get(i)? && x > 0.0;
        let regime =
            review.regimes.pumps.iter().filter_map(|p| p.regime.get(i).copied()).find(|r| *r != Regime::Off)?;
        (running && y.is_finite()).then(|| Mark { x, y, regime, hours: review.clock.hours() })
    };
    Some((0..review.clock.len).filter_map(row).collect::<Vec<_>>()).filter(|rows| !rows.is_empty())
}

/// The design difference [K].
fn design(review: &Review) -> Option<f64> {
    let system = &review.plant.system;
    Some(system.return_temperature?.minus(system.supply_temperature?).in_kelvin().abs())
}

fn description(marks: &[Mark], design: Option<f64>, show: &Show) -> String {
    let hours: f64 = marks.iter().map(|m| m.hours).sum();
    let mean = marks.iter().map(|m| m.y * m.hours).sum::<f64>() / hours;
    let against = design.map_or_else(String::new, |d| format!(", against {} in design", show.difference(d)));
    format!(
        "Scatter of temperature difference over flow: {} on average over {} steady hours{against}.",
        show.difference(mean),
        round(hours, 3)
    )
}
