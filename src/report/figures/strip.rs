//! The period on a strip: what each pump did, with speed, flow and power under it.

use super::{
    Figure, Key, Layer,
    frame::{Frame, Pen, Scale, axis_layers},
    palette,
};
use crate::{
    pipeline::Review,
    regimes::Regime,
    report::{show::Show, words},
};
use plotters::prelude::*;
use std::ops::Range;

/// No more bins than this, so that a year's strip stays small: an hour a bin for a month.
const MOST_BINS: usize = 800;
/// Height of a pump's ribbon and of a panel [px].
const RIBBON: u32 = 44;
const PANEL: u32 = 190;

/// Rows of the clock that go into a bin, and the bins' edges in local days since the first midnight.
struct Bins {
    rows: Vec<Range<usize>>,
    edges: Vec<f64>,
    days: Range<f64>,
}

/// The figure; `None` for a period without rows.
pub fn figure(review: &Review, show: &Show) -> Option<Figure> {
    let bins = bins(review, show)?;
    let pumps = &review.regimes.pumps;
    let ribbons_end = 20 + RIBBON * pumps.len() as u32;
    let height = ribbons_end + 3 * PANEL + 84;
    let panel = |k: u32, y: Range<f64>, below: u32| Frame {
        height,
        top: ribbons_end + k * PANEL,
        bottom: ribbons_end + (k + 1) * PANEL + below,
        x: bins.days.clone(),
        y,
        below,
    };
    let mut layers = Vec::new();
    let mut seen: Vec<Regime> = Vec::new();
    for (k, pump) in pumps.iter().enumerate() {
        let frame = Frame {
            height,
            top: 6 + RIBBON * k as u32,
            bottom: 6 + RIBBON * (k as u32 + 1),
            x: bins.days.clone(),
            y: 0.0..1.0,
            below: 0,
        };
        let regimes = dominant(&pump.regime, &bins);
        for regime in words::REGIMES {
            if regimes.contains(&Some(regime)) {
                let body = frame.layer(|pen| ribbon(pen, regime, &regimes, &bins));
                layers.push(Layer::new(
                    format!("strip-{k}-{}", words::regime_code(regime)),
                    format!("ribbon {}", words::regime_code(regime)),
                    body,
                ));
                if !seen.contains(&regime) {
                    seen.push(regime);
                }
            }
        }
        let body = frame.layer(|pen| pen.words(&pump.pump, bins.days.start, 0.5, (-118, -12), palette::INK));
        layers.push(Layer::new(format!("strip-{k}-name"), "name", body));
    }
    layers.extend(speed_panel(review, show, &bins, &panel));
    layers.extend(flow_panel(review, show, &bins, &panel));
    layers.extend(power_panel(review, show, &bins, &panel));
    Some(Figure {
        id: "time-strip".into(),
        title: "The period hour by hour".to_owned(),
        description: description(review, show),
        caption: "What each pump did most of every hour (taller where it left its curve), with speed, flow of the loop and power below. Gaps are gaps in the record. Local time."
            .to_owned(),
        keys: words::REGIMES
            .iter()
            .filter(|r| seen.contains(r))
            .map(|&r| Key { class: words::regime_code(r), label: words::regime(r).to_owned(), sample: block_sample(r) })
            .collect(),
        height,
        layers,
    })
}

fn bins(review: &Review, show: &Show) -> Option<Bins> {
    let clock = review.clock;
    let first = show.local(clock.at_ms(0)).filter(|_| clock.len > 1)?;
    let midnight = first.naive_local().date().and_time(chrono::NaiveTime::MIN);
    let day = |i: usize| -> f64 {
        let local = show.local(clock.at_ms(i)).map_or(midnight, |t| t.naive_local());
        (local - midnight).num_seconds() as f64 / 86_400.0
    };
    let an_hour = (3600 / clock.step_s.max(1)).max(1) as usize;
    let step = an_hour.max(clock.len.div_ceil(MOST_BINS));
    let rows: Vec<Range<usize>> = (0..clock.len).step_by(step).map(|i| i..(i + step).min(clock.len)).collect();
    let mut edges: Vec<f64> = rows.iter().map(|r| day(r.start)).collect();
    edges.push(day(clock.len));
    let days = edges[0].floor()..edges.last().copied().unwrap_or(1.0).ceil().max(1.0);
    Some(Bins { rows, edges, days })
}

/// The regime that fills most of each bin.
fn dominant(regime: &[Regime], bins: &Bins) -> Vec<Option<Regime>> {
    let most = |rows: &Range<usize>| {
        let own = regime.get(rows.clone())?;
        words::REGIMES
            .iter()
            .copied()
            .filter(|r| own.contains(r))
            .max_by_key(|r| own.iter().filter(|o| *o == r).count())
    };
    bins.rows.iter().map(most).collect()
}

/// Runs of one regime as blocks; height goes with colour, so that the ribbon reads without it.
fn ribbon(pen: &Pen, regime: Regime, regimes: &[Option<Regime>], bins: &Bins) {
    let tall = match regime {
        Regime::Off | Regime::Unknown => 0.12,
        Regime::OnCurve | Regime::Transient => 0.45,
        Regime::SpeedFloor => 0.65,
        Regime::AboveCurve | Regime::BelowCurve | Regime::FullSpeed => 0.95,
    };
    let style = palette::regime(regime).filled();
    let mut i = 0;
    while i < regimes.len() {
        let run = regimes[i..].iter().take_while(|r| **r == Some(regime)).count();
        if run > 0 {
            pen.block(bins.edges[i]..bins.edges[i + run], 0.0..tall, style);
        }
        i += run.max(1);
    }
}

fn block_sample(regime: Regime) -> String {
    let c = palette::regime(regime);
    let tall = match regime {
        Regime::Off | Regime::Unknown => 5,
        Regime::OnCurve | Regime::Transient => 14,
        Regime::SpeedFloor => 20,
        _ => 30,
    };
    format!(
        "<rect x=\"8\" y=\"{}\" width=\"32\" height=\"{tall}\" fill=\"#{:02X}{:02X}{:02X}\"/>",
        31 - tall,
        c.0,
        c.1,
        c.2
    )
}

fn means(values: &[f64], bins: &Bins) -> Vec<f64> {
    let mean = |rows: &Range<usize>| {
        let known: Vec<f64> =
            values.get(rows.clone()).unwrap_or_default().iter().copied().filter(|v| v.is_finite()).collect();
        if known.is_empty() { f64::NAN } else { known.iter().sum::<f64>() / known.len() as f64 }
    };
    bins.rows.iter().map(mean).collect()
}

fn trace(pen: &Pen, means: &[f64], bins: &Bins, style: ShapeStyle) {
    let middle = |i: usize| (bins.edges[i] + bins.edges[i + 1]) / 2.0;
    pen.line(means.iter().enumerate().map(|(i, v)| (middle(i), *v)), style);
}

fn top(series: &[Vec<f64>]) -> f64 {
    series.iter().flatten().copied().filter(|v| v.is_finite()).fold(1e-6, f64::max) * 1.08
}

type Panel<'p> = &'p dyn Fn(u32, Range<f64>, u32) -> Frame;

fn speed_panel(review: &Review, _: &Show, bins: &Bins, panel: Panel) -> Vec<Layer> {
    let series: Vec<Vec<f64>> = review
        .points
        .pumps
        .iter()
        .map(|p| means(&p.speed, bins))
        .map(|s| s.iter().map(|v| v * 100.0).collect())
        .collect();
    let frame = panel(0, 0.0..top(&series).max(105.0), 0);
    let axis = frame.axes(
        &Scale { description: "", factor: 1.0 },
        &Scale { description: "speed, %", factor: 1.0 },
        Some(&|_| String::new()),
    );
    let lines = frame.layer(|pen| {
        for (k, s) in series.iter().enumerate() {
            trace(pen, s, bins, if k == 0 { palette::INK.stroke_width(2) } else { palette::PROPOSED.stroke_width(2) });
        }
    });
    vec![Layer::new("strip-speed-axis", "axis", axis), Layer::new("strip-speed", "trace", lines)]
}

fn flow_panel(review: &Review, show: &Show, bins: &Bins, panel: Panel) -> Vec<Layer> {
    let flow = means(&review.points.system.flow_m3h, bins);
    let frame = panel(1, 0.0..top(std::slice::from_ref(&flow)), 0);
    let mut layers = axis_layers("strip-flow", show.units, |units| {
        let show = show.within(units);
        let description = format!("flow, {}", show.flow_unit());
        frame.axes(
            &Scale { description: "", factor: 1.0 },
            &Scale { description: &description, factor: show.flow_value(1.0) },
            Some(&|_| String::new()),
        )
    });
    layers.push(Layer::new(
        "strip-flow",
        "trace",
        frame.layer(|pen| trace(pen, &flow, bins, palette::INK.stroke_width(2))),
    ));
    layers
}

fn power_panel(review: &Review, show: &Show, bins: &Bins, panel: Panel) -> Vec<Layer> {
    let power = means(&review.points.system.power_kw, bins);
    let frame = panel(2, 0.0..top(std::slice::from_ref(&power)), 84);
    let first = review.clock.at_ms(0);
    let midnight = show.local(first).map(|t| t.naive_local().date());
    let date = move |day: f64| -> String {
        let on =
            midnight.and_then(|m| m.checked_add_signed(chrono::TimeDelta::seconds((day * 86_400.0).round() as i64)));
        if (day - day.round()).abs() > 1e-6 {
            String::new()
        } else {
            on.map_or_else(String::new, |d| d.format("%-d %b").to_string())
        }
    };
    let axis = frame.axes(
        &Scale { description: "", factor: 1.0 },
        &Scale { description: "power, kW", factor: 1.0 },
        Some(&date),
    );
    let line = frame.layer(|pen| trace(pen, &power, bins, palette::INK.stroke_width(2)));
    vec![Layer::new("strip-power-axis", "axis", axis), Layer::new("strip-power", "trace", line)]
}

fn description(review: &Review, show: &Show) -> String {
    let pumps: Vec<String> = review.regimes.pumps.iter().map(|p| p.pump.clone()).collect();
    format!(
        "Strip of time from {} to {}: what {} did hour by hour, with speed, flow and power.",
        show.date(review.from_ms),
        show.date(review.to_ms - 1),
        words::join(&pumps)
    )
}
