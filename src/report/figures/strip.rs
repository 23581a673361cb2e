//! The period on a strip: what each pump did, with speed, flow and power under it.

use super::{
    Figure, Key, Layer, Shows,
    bins::{Bins, Each},
    dates,
    frame::{Frame, Pen, Scale, axis_layers},
    numbers::titled,
    palette,
};
use crate::{
    pipeline::Review,
    regimes::Regime,
    report::{
        document::Table,
        show::{Show, figures as round},
        words,
    },
};
use plotters::prelude::*;
use std::ops::Range;

/// Name of this figure.
pub const ID: &str = "time-strip";
/// Letters of a pump's name that fit beside its ribbon.
const LETTERS: usize = 8;
/// No more rows than this in the table.
const MOST_ROWS: usize = 60;
/// Height of a pump's ribbon and of a panel [px].
const RIBBON: u32 = 44;
const PANEL: u32 = 190;

/// The figure; `None` for a period without rows.
pub fn figure(review: &Review, shows: Shows) -> Option<[Figure; 2]> {
    let bins = Bins::new(review, shows[0])?;
    let pumps = &review.regimes.pumps;
    let place = place(pumps.len());
    let Place { height, ribbons_end, .. } = place;
    let panel = |k: u32, y: Range<f64>| Frame {
        height,
        top: ribbons_end + k * PANEL,
        bottom: ribbons_end + (k + 1) * PANEL,
        x: bins.days.clone(),
        y,
        below: 0,
    };
    let under = frame(place, &bins);
    let mut layers = vec![Layer::new("strip-dates", "axis", dates::axis(&under, Some(bins.first)))];
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
        let regimes = bins.dominant(&pump.regime);
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
        let short: String = pump.pump.chars().take(LETTERS).collect();
        let body = frame.layer(|pen| pen.words(&short, bins.days.start, 0.5, (-112, -12), palette::INK));
        layers.push(Layer::new(format!("strip-{k}-name"), "name", body));
    }
    layers.extend(speed_panel(review, &bins, &panel));
    let flow = Series::new(&review.points.system.flow_m3h, &bins);
    let power = power_panel(review, &bins, &panel);
    let stretches = Stretches::of(review, &bins);
    let own = |show: &Show| {
        let mut all = layers.clone();
        all.extend(flow_panel(&flow, show, &bins, &panel));
        all.extend(power.iter().cloned());
        let last = all.pop().map(|l| l.with_table(stretches.table(show)));
        all.extend(last);
        all
    };
    Some(shows.map(|show| {
        Figure {
            id: ID.into(),
            title: if matches!(bins.each, Each::Days(_)) { "The period day by day" } else { "The period hour by hour" }
                .to_owned(),
            description: description(review, show),
            caption: caption(review, &bins),
            keys: words::REGIMES
                .iter()
                .filter(|r| seen.contains(r))
                .map(|&r| Key {
                    class: words::regime_code(r),
                    label: words::regime(r).to_owned(),
                    sample: block_sample(r),
                })
                .collect(),
            height,
            layers: own(show),
        }
    }))
}

/// How high the figure is, and where its ribbons end and its panels [px].
#[derive(Debug, Clone, Copy)]
pub struct Place {
    pub height: u32,
    pub ribbons_end: u32,
    pub panels_end: u32,
}

/// For so many pumps.
pub fn place(pumps: usize) -> Place {
    let ribbons_end = 20 + RIBBON * pumps as u32;
    let panels_end = ribbons_end + 3 * PANEL;
    Place { height: panels_end + 60, ribbons_end, panels_end }
}

/// The panels as one plot, with room for dates below.
pub fn frame(place: Place, bins: &Bins) -> Frame {
    Frame {
        height: place.height,
        top: place.ribbons_end,
        bottom: place.height,
        x: bins.days.clone(),
        y: 0.0..1.0,
        below: place.height - place.panels_end,
    }
}

fn caption(review: &Review, bins: &Bins) -> String {
    let (what, span) = match bins.each {
        Each::Hours(1) => ("most of every hour", "hour".to_owned()),
        Each::Hours(n) => ("most of every few hours", format!("{n} h")),
        Each::Days(1) => ("most of the time it ran, day by day", "day".to_owned()),
        Each::Days(n) => ("most of the time it ran", format!("{n} days")),
    };
    let second = if review.regimes.pumps.len() > 1 {
        " Where there are several pumps, the first one's speed is dark and the others' are blue."
    } else {
        ""
    };
    format!(
        "What each pump did {what} (taller where it left its curve), with speed, flow of the loop and power below: the line is the mean of every {span}, the band reaches from the least to the greatest reading in it.{second} Gaps are gaps in the record. Local time."
    )
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

/// Mean, least and greatest of a series in each bin.
struct Series {
    mean: Vec<f64>,
    low: Vec<f64>,
    high: Vec<f64>,
}

impl Series {
    fn new(values: &[f64], bins: &Bins) -> Self {
        let one = |rows: &Range<usize>| {
            let known = values.get(rows.clone()).unwrap_or_default().iter().copied().filter(|v| v.is_finite());
            let (sum, n, low, high) = known
                .fold((0.0, 0u32, f64::INFINITY, f64::NEG_INFINITY), |(s, n, low, high), v| {
                    (s + v, n + 1, low.min(v), high.max(v))
                });
            if n == 0 { [f64::NAN; 3] } else { [sum / f64::from(n), low, high] }
        };
        let each: Vec<[f64; 3]> = bins.rows.iter().map(one).collect();
        let column = |k: usize| each.iter().map(|c| c[k]).collect();
        Self { mean: column(0), low: column(1), high: column(2) }
    }
    fn top<'s>(series: impl IntoIterator<Item = &'s Self>) -> f64 {
        series.into_iter().flat_map(|s| &s.high).copied().filter(|v| v.is_finite()).fold(1e-6, f64::max) * 1.08
    }
}

/// The means as a line, over a band from least to greatest.
fn trace(pen: &Pen, s: &Series, bins: &Bins, color: RGBColor) {
    let mut i = 0;
    while i < s.low.len() {
        let run = s.low[i..].iter().take_while(|v| v.is_finite()).count();
        // Edges to edges: a bin that stands alone is seen too.
        let edges =
            (i..i + run).flat_map(|k| [(bins.edges[k], s.low[k], s.high[k]), (bins.edges[k + 1], s.low[k], s.high[k])]);
        if run > 0 {
            pen.band(&edges.collect::<Vec<_>>(), color.mix(0.2).filled());
        }
        i += run.max(1);
    }
    pen.line(s.mean.iter().enumerate().map(|(i, v)| (bins.middle(i), *v)), color.stroke_width(2));
}

/// A panel's frame by its number from above and the span of its values.
type Panel<'p> = &'p dyn Fn(u32, Range<f64>) -> Frame;

fn speed_panel(review: &Review, bins: &Bins, panel: Panel) -> Vec<Layer> {
    let of = |speed: &[f64]| Series::new(&speed.iter().map(|v| v * 100.0).collect::<Vec<f64>>(), bins);
    let series: Vec<Series> = review.points.pumps.iter().map(|p| of(&p.speed)).collect();
    let frame = panel(0, 0.0..Series::top(&series).max(105.0));
    let axis = frame.upright(&Scale { description: "speed, %", factor: 1.0 });
    let lines = frame.layer(|pen| {
        for (k, s) in series.iter().enumerate() {
            trace(pen, s, bins, if k == 0 { palette::INK } else { palette::PROPOSED });
        }
    });
    vec![Layer::new("strip-speed-axis", "axis", axis), Layer::new("strip-speed", "trace", lines)]
}

fn flow_panel(flow: &Series, show: &Show, bins: &Bins, panel: Panel) -> Vec<Layer> {
    let frame = panel(1, 0.0..Series::top([flow]));
    let mut layers = axis_layers("strip-flow", show.units, |units| {
        let show = show.within(units);
        let description = format!("flow, {}", show.flow_unit());
        frame.upright(&Scale { description: &description, factor: show.flow_value(1.0) })
    });
    layers.push(Layer::new("strip-flow", "trace", frame.layer(|pen| trace(pen, flow, bins, palette::INK))));
    layers
}

fn power_panel(review: &Review, bins: &Bins, panel: Panel) -> Vec<Layer> {
    let power = Series::new(&review.points.system.power_kw, bins);
    let frame = panel(2, 0.0..Series::top([&power]));
    let axis = frame.upright(&Scale { description: "power, kW", factor: 1.0 });
    let line = frame.layer(|pen| trace(pen, &power, bins, palette::INK));
    vec![Layer::new("strip-power-axis", "axis", axis), Layer::new("strip-power", "trace", line)]
}

/// The days, or stretches of several days, in numbers.
struct Stretches {
    /// Days that each is long.
    each: usize,
    /// First date, hours running, and means of flow [m3/h], head [kPa] and power [kW]; NaN where nothing is known.
    rows: Vec<(String, f64, [f64; 3])>,
}

impl Stretches {
    fn of(review: &Review, bins: &Bins) -> Self {
        let last = bins.days.end.ceil() as usize;
        let each = last.div_ceil(MOST_ROWS).max(1);
        let system = &review.points.system;
        let row = |k: usize| -> Option<(String, f64, [f64; 3])> {
            let inside = |i: &usize| (bins.edges[*i] / each as f64) as usize == k;
            let own: Vec<usize> = (0..bins.rows.len()).filter(inside).collect();
            let rows = bins.rows[*own.first()?].start..bins.rows[*own.last()?].end;
            let running = rows.clone().filter(|i| system.pumps_on.get(*i).is_some_and(|n| *n > 0)).count();
            let mean = |values: &[f64]| {
                let known = rows.clone().filter_map(|i| values.get(i).copied()).filter(|v| v.is_finite());
                let (sum, n) = known.fold((0.0, 0.0), |(s, n), v| (s + v, n + 1.0));
                sum / n
            };
            let days = chrono::Days::new((k * each) as u64);
            let date = bins.first.checked_add_days(days)?.format("%-d %b %Y").to_string();
            let means = [&system.flow_m3h, &system.head_kpa, &system.power_kw].map(|values| mean(values));
            Some((date, running as f64 * review.clock.hours(), means))
        };
        Self { each, rows: (0..=last / each).filter_map(row).collect() }
    }

    fn table(&self, show: &Show) -> Table {
        let factors = [show.flow_value(1.0), show.head_value(1.0), 1.0];
        let row = |(date, hours, means): &(String, f64, [f64; 3])| {
            let mean = |(v, factor): (&f64, f64)| if v.is_nan() { "–".to_owned() } else { round(v * factor, 3) };
            let means = means.iter().zip(factors).map(mean);
            [date.clone(), round(*hours, 3)].into_iter().chain(means).collect()
        };
        let titles = [
            "From",
            "#Hours running",
            titled(show, "#Flow, m³/h", "#Flow, gpm"),
            titled(show, "#Head, kPa", "#Head, ft"),
            "#Power, kW",
        ];
        let each = self.each;
        let span = if each == 1 { "Day by day".to_owned() } else { format!("In stretches of {each} days") };
        let caption = format!("{span}: hours with a pump running, and means of what is known.");
        Table::new(caption, &titles, self.rows.iter().map(row).collect())
    }
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
