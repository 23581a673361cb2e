//! One hour, opened: what each measurement said of the flow, and what was concluded.

use super::{
    Figure, Key, Layer,
    frame::{Frame, Pen, Scale, axis_layers},
    marks, palette,
};
use crate::{
    operating::{MEASUREMENTS, Machine, ShownHour, model::witness},
    pipeline::Review,
    report::{document::Table, show::Show, words},
};
use plotters::prelude::*;
use std::ops::Range;

/// Height of the plot and of a line of labels above it [px].
const PLOT: u32 = 520;
const LABEL: u32 = 46;
/// Length of a label's sample of line, its distance from the words, and a guess at a letter's width [px].
const SAMPLE: i32 = 66;
const GAP: i32 = 12;
const LETTER: i32 = 13;

/// How a measurement is drawn: its class, colour, and lengths of strokes and gaps [px] by which paper without colour tells it too.
struct Look {
    class: &'static str,
    color: RGBColor,
    strokes: &'static [f64],
}

/// Top of the plot: a little above the highest likelihood.
const TOP: f64 = 1.03;

/// In the order of [`witness`].
const LOOKS: [Look; witness::COUNT] = [
    Look { class: "by-head", color: palette::BY_HEAD, strokes: &[26.0, 10.0] },
    Look { class: "by-power", color: palette::BY_POWER, strokes: &[7.0, 8.0] },
    Look { class: "by-meter", color: palette::BY_METER, strokes: &[26.0, 8.0, 6.0, 8.0] },
    Look { class: "by-heat", color: palette::BY_HEAT, strokes: &[14.0, 8.0] },
    Look { class: "by-remote", color: palette::BY_REMOTE, strokes: &[26.0, 8.0, 6.0, 8.0, 6.0, 8.0] },
];
const TOGETHER: Look = Look { class: "together", color: palette::INK, strokes: &[] };
const WIDTH: u32 = 5;
const WIDTH_TOGETHER: u32 = 7;

/// The figure: of the pump whose hour has most measurements, the first of these; `None` where no pump has one.
pub fn figure(review: &Review, show: &Show) -> Option<Figure> {
    let hours = review.machines.iter().filter_map(|m| m.hour.as_ref().map(|h| (m, h)));
    // The last of equals would win: counted backward, the first does.
    let (machine, hour) =
        hours.rev().max_by_key(|(_, h)| h.likelihood.len()).filter(|(_, h)| h.likelihood.len() > 1)?;
    let range = looked_at(hour)?;
    let above = LABEL * hour.likelihood.len() as u32 + 8;
    let height = above + PLOT;
    let plot = Frame { height, top: above, bottom: height, x: range.clone(), y: 0.0..TOP, below: 84 };
    let rows = hour.likelihood.len() as f64;
    let labels = Frame { height, top: 0, bottom: above, x: range.clone(), y: 0.0..rows, below: 0 };
    let mut layers = axis_layers("hour", show.units, |units| {
        let show = show.within(units);
        let x = format!("flow, {}", show.flow_unit());
        plot.axes(
            &Scale { description: &x, factor: show.flow_value(1.0) },
            &Scale { description: "likelihood, highest 1", factor: 1.0 },
            None,
        )
    });
    layers.push(Layer::new("hour-interval", "interval", plot.layer(|pen| interval(pen, hour, &range))));
    let mut keys = Vec::new();
    for (k, (which, curve)) in hour.likelihood.iter().enumerate() {
        let look = which.map_or(&TOGETHER, |w| &LOOKS[w]);
        let drawn = plot.layer(|pen| trace(pen, hour, curve, look, &range));
        let label = label(*which, hour, show);
        let words = labels.layer(|pen| sign(pen, peak(hour, curve), rows - k as f64 - 0.5, range.end, &label, look));
        let id = format!("hour-{}", look.class);
        layers.push(Layer::new(id, look.class, drawn + &words));
        let name = which.map_or("all together", |w| MEASUREMENTS[w]);
        keys.push(Key { class: look.class, label: name.to_owned(), sample: sample(look) });
    }
    let last = layers.pop().map(|l| l.with_table(table(hour, show)));
    layers.extend(last);
    let sample = "<rect x=\"6\" y=\"4\" width=\"36\" height=\"24\" fill=\"#8D9096\" opacity=\"0.3\"/>".to_owned();
    keys.push(Key { class: "interval", label: "95 % interval".to_owned(), sample });
    Some(Figure {
        id: "one-hour".into(),
        title: format!("One hour of {}, opened", machine.pump),
        description: description(machine, hour, review, show),
        caption: caption(hour, review, show),
        keys,
        height,
        layers,
    })
}

/// The flows that any measurement speaks for, with some room, and not less than a fifth of the table.
fn looked_at(hour: &ShownHour) -> Option<Range<f64>> {
    let end = hour.flow_m3h.last().copied().filter(|q| *q > 0.0)?;
    let spoken_for = |i: &usize| hour.likelihood.iter().any(|l| l.1.get(*i).is_some_and(|v| *v > FAINT));
    let places: Vec<usize> = (0..hour.flow_m3h.len()).filter(spoken_for).collect();
    let (first, last) = (hour.flow_m3h[*places.first()?], hour.flow_m3h[*places.last()?]);
    let room = (0.1 * (last - first)).max(0.5 * (LEAST * end - (last - first)));
    Some((first - room).max(0.0)..(last + room).min(end))
}

/// Likelihood, of the highest, that no eye sees.
const FAINT: f64 = 0.004;
/// Least part of the table's flow that is shown [-].
const LEAST: f64 = 0.2;

fn interval(pen: &Pen, hour: &ShownHour, range: &Range<f64>) {
    pen.block(hour.low.max(range.start)..hour.high.min(range.end), 0.0..TOP, palette::PUMP.mix(0.22).filled());
    pen.line([(hour.flow, 0.0), (hour.flow, TOP)], palette::INK.stroke_width(2));
}

fn trace(pen: &Pen, hour: &ShownHour, curve: &[f64], look: &Look, range: &Range<f64>) {
    let points: Vec<(f64, f64)> =
        hour.flow_m3h.iter().copied().zip(curve.iter().copied()).filter(|p| range.contains(&p.0)).collect();
    if look.strokes.is_empty() {
        pen.line(points, look.color.stroke_width(WIDTH_TOGETHER));
    } else {
        marks::stroked(pen, &points, look.color.stroke_width(WIDTH), look.strokes);
    }
}

/// Flow at which a curve is highest; the middle of a top that is flat.
fn peak(hour: &ShownHour, curve: &[f64]) -> f64 {
    const HIGHEST: f64 = 0.999;
    let (first, last) = (curve.iter().position(|v| *v >= HIGHEST), curve.iter().rposition(|v| *v >= HIGHEST));
    match (first, last) {
        (Some(a), Some(b)) => 0.5 * (hour.flow_m3h[a] + hour.flow_m3h[b]),
        _ => hour.flow,
    }
}

/// A label on its own line: a sample of the curve's line, the words, and a thin leader down to the curve's peak.
fn sign(pen: &Pen, at: f64, row: f64, end: f64, text: &str, look: &Look) {
    let (x, y) = pen.at(at, row);
    let floor = pen.at(at, 0.0).1;
    pen.draw(&PathElement::new(vec![(x, y), (x, floor)], palette::MUTED.stroke_width(1)));
    let whole = SAMPLE + GAP + LETTER * text.chars().count() as i32;
    // To the right of the leader while the words fit there.
    let start = if x + GAP + whole < pen.at(end, row).0 { x + GAP } else { (x - GAP - whole).max(8) };
    let ends = [start, start + SAMPLE].map(|px| (f64::from(px), f64::from(y)));
    let (width, strokes) = if look.strokes.is_empty() { (WIDTH_TOGETHER, None) } else { (WIDTH, Some(look.strokes)) };
    match strokes {
        Some(strokes) => marks::stroked_pixels(pen, &ends, look.color.stroke_width(width), strokes),
        None => pen.draw(&PathElement::new(vec![(start, y), (start + SAMPLE, y)], look.color.stroke_width(width))),
    }
    let style = ("sans-serif", 24).into_font().color(&palette::INK);
    pen.draw(&Text::new(text.to_owned(), (start + SAMPLE + GAP, y - 13), style));
}

fn label(which: Option<usize>, hour: &ShownHour, show: &Show) -> String {
    let Some(w) = which else { return format!("all together: {}", concluded(hour, show)) };
    format!("{} {}", MEASUREMENTS[w], reading(w, hour, show))
}

fn reading(which: usize, hour: &ShownHour, show: &Show) -> String {
    let value = hour.readings[which];
    match which {
        witness::HEAD | witness::REMOTE => show.head(value),
        witness::POWER => show.power(value),
        _ => show.flow(value),
    }
}

/// Flow and interval, in as many places as the interval bears.
fn concluded(hour: &ShownHour, show: &Show) -> String {
    let [flow, low, high] = [hour.flow, hour.low, hour.high].map(|q| show.flow_value(q));
    let places = usize::from(high - low < 8.0);
    format!("{flow:.places$} {} ({low:.places$} to {high:.places$})", show.flow_unit())
}

fn sample(look: &Look) -> String {
    let RGBColor(r, g, b) = look.color;
    let dashes: Vec<String> = look.strokes.iter().map(|s| format!("{:.0}", 0.7 * s)).collect();
    let dash = if dashes.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{}\"", dashes.join(" ")) };
    format!("<line x1=\"2\" y1=\"16\" x2=\"46\" y2=\"16\" stroke=\"#{r:02X}{g:02X}{b:02X}\" stroke-width=\"5\"{dash}/>")
}

fn when(hour: &ShownHour, review: &Review, show: &Show) -> String {
    show.time(review.clock.at_ms(hour.row))
}

fn measured(hour: &ShownHour, show: &Show) -> String {
    let each = hour.likelihood.iter().filter_map(|l| l.0);
    let said: Vec<String> = each.map(|w| format!("{} {}", MEASUREMENTS[w], reading(w, hour, show))).collect();
    words::join(&said)
}

fn description(machine: &Machine, hour: &ShownHour, review: &Review, show: &Show) -> String {
    let each = hour.likelihood.iter().filter_map(|(which, curve)| {
        let (low, high) = spoken_for(hour, curve)?;
        Some(format!(
            "{} by itself speaks for {:.0} to {:.0} {}",
            MEASUREMENTS[(*which)?],
            show.flow_value(low),
            show.flow_value(high),
            show.flow_unit()
        ))
    });
    format!(
        "Curves of likelihood over flow of {} at {}, speed {}, measured {}: {}; all together say {}.",
        machine.pump,
        when(hour, review, show),
        show.percent(hour.speed),
        measured(hour, show),
        each.collect::<Vec<_>>().join(", "),
        concluded(hour, show)
    )
}

/// The flows that a curve speaks for [m3/h].
fn spoken_for(hour: &ShownHour, curve: &[f64]) -> Option<(f64, f64)> {
    let above: Vec<f64> = hour.flow_m3h.iter().zip(curve).filter(|(_, l)| **l >= HALF).map(|(q, _)| *q).collect();
    Some((*above.first()?, *above.last()?))
}

/// What each measurement read and speaks for, and what was concluded.
fn table(hour: &ShownHour, show: &Show) -> Table {
    let row = |(which, curve): &(Option<usize>, Vec<f64>)| {
        let (low, high) = spoken_for(hour, curve)
            .map_or(("–".to_owned(), "–".to_owned()), |(low, high)| (show.flow(low), show.flow(high)));
        let name = which.map_or("all together", |w| MEASUREMENTS[w]);
        let read = which.map_or_else(|| concluded(hour, show), |w| reading(w, hour, show));
        vec![name.to_owned(), read, low, high]
    };
    let titles = ["Measurement", "#Reads", "#Speaks for", "#to"];
    let caption = "The flows that each measurement speaks for: those at least half as likely as its likeliest.";
    Table::new(caption, &titles, hour.likelihood.iter().map(row).collect())
}

/// Likelihood, of the highest, down to which a measurement speaks for a flow in the text that stands for the figure.
const HALF: f64 = 0.5;

fn caption(hour: &ShownHour, review: &Review, show: &Show) -> String {
    format!(
        "A usual hour, {} local time, at {} speed: {}. Each curve is high at the flows that fit one measurement through the pump's tested table, and as \
         wide as meter, table, motor and drive leave it in doubt; the thick line is all of them together. The upright line and the band are what was \
         concluded: {}. How: offcurve explain operating-points.",
        when(hour, review, show),
        show.percent(hour.speed),
        measured(hour, show),
        concluded(hour, show)
    )
}
