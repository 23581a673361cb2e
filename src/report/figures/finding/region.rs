//! Hours by flow over best-efficiency flow, with the region the pump is made for.

use super::{
    super::{Figure, Key, Layer, frame::Frame, palette},
    Scene, Told, middle, plot,
    quantity::Quantity,
};
use crate::{
    faults::{Finding, What},
    report::{document::Table, show::figures as round},
};
use plotters::prelude::*;

const HEIGHT: u32 = 520;
/// Width of a bar [-].
const BAR: f64 = 0.05;
/// Beyond this a flow stands in the last bar [-].
const MOST: f64 = 1.6;

pub fn region(scene: &Scene, f: &Finding) -> Option<Figure> {
    let What::Region { ratio, low, high } = &f.shown.what else { return None };
    let bars = (MOST / BAR).round() as usize;
    let (mut counted, mut rest) = (vec![0usize; bars], vec![0usize; bars]);
    for (i, x) in ratio.iter().map(|x| f64::from(*x)).enumerate().filter(|(_, x)| x.is_finite()) {
        let bar = ((x / BAR).max(0.0) as usize).min(bars - 1);
        if f.shown.rows.has(i) { counted[bar] += 1 } else { rest[bar] += 1 }
    }
    let most = (0..bars).map(|k| counted[k] + rest[k]).max().filter(|n| *n > 0)?;
    let last =
        (0..bars).rev().find(|k| counted[*k] + rest[*k] > 0).map_or(1.3, |k| (k + 1) as f64 * BAR).max(high + 0.15);
    let frame =
        Frame { height: HEIGHT, top: 0, bottom: HEIGHT, x: 0.0..last, y: 0.0..1.18 * scene.hours(most), below: 84 };
    let id = super::id(f);
    let across = ("flow over best-efficiency flow at the speed of the hour", Quantity::Percent);
    let mut layers = vec![plot::axes(&id, scene.show, &frame, across, ("hours", Quantity::Other("h")))];
    let style = palette::PROPOSED.mix(0.13).filled();
    let words = format!("preferred region {} to {}", scene.show.percent(*low), scene.show.percent(*high));
    let body = frame.layer(|pen| {
        pen.block(*low..*high, frame.y.clone(), style);
        for edge in [low, high] {
            pen.line([(*edge, 0.0), (*edge, frame.y.end)], palette::PROPOSED.stroke_width(3));
        }
    });
    layers.push(Layer::new(format!("{id}-region"), "region", body));
    let block = |from: &[usize], on: Option<&[usize]>, inset: i32, color: RGBColor| {
        frame.layer(|pen| {
            for k in (0..bars).filter(|k| from[*k] > 0) {
                let base = on.map_or(0, |o| o[k]);
                let (y0, y1) = (scene.hours(base), scene.hours(base + from[k]));
                let (a, b) = (pen.at(k as f64 * BAR, y1), pen.at((k + 1) as f64 * BAR, y0));
                pen.draw(&Rectangle::new([(a.0 + inset, a.1), (b.0 - inset, b.1)], color.filled()));
            }
        })
    };
    layers.push(Layer::new(format!("{id}-counts"), "counts", block(&counted, None, 2, palette::BY_POWER)));
    layers.push(Layer::new(format!("{id}-beside"), "beside", block(&rest, Some(&counted), 9, palette::PUMP)));
    let text = frame.layer(|pen| pen.words(&words, *low, frame.y.end, (10, 8), palette::INK));
    layers.push(Layer::new(format!("{id}-words"), "words", plot::halo(&text)));
    let sample = |x: u32, fill: &str| {
        format!("<rect x=\"{x}\" y=\"4\" width=\"{}\" height=\"25\" fill=\"{fill}\"/>", 48 - 2 * x)
    };
    let keys = vec![
        Key {
            class: "counts",
            label: "outside with the whole interval of the flow (wide bars)".to_owned(),
            sample: sample(12, "#B04A1C"),
        },
        Key {
            class: "beside",
            label: "the other steady hours (narrow bars)".to_owned(),
            sample: sample(17, "#8D9096"),
        },
        Key {
            class: "region",
            label: "preferred region".to_owned(),
            sample: sample(4, "#1467B3").replace("/>", " opacity=\"0.2\"/>"),
        },
    ];
    let centre = middle(ratio.iter().map(|x| f64::from(*x)));
    let (out, all) = (counted.iter().sum::<usize>(), counted.iter().chain(&rest).sum::<usize>());
    let told = Told {
        title: format!("Where {} ran on its curve", f.subject),
        caption: "Steady hours by flow over best-efficiency flow at the speed of each hour, over the whole period. An hour counts as outside only where the whole 95 % interval of its flow is. Preferred region by ANSI/HI 9.6.3 as quoted in a trade article."
            .to_owned(),
        description: format!(
            "Histogram of the flow of {} over its best-efficiency flow: for {} of {} in steady running it lies outside the preferred region of {} to {}; the middle hour is at {}.",
            f.subject,
            scene.show.hours(scene.hours(out)),
            scene.show.hours(scene.hours(all)),
            scene.show.percent(*low),
            scene.show.percent(*high),
            scene.show.percent(centre)
        ),
    };
    let rows = (0..bars).filter(|k| counted[*k] + rest[*k] > 0).map(|k| {
        let edge = |k: usize| scene.show.percent(k as f64 * BAR);
        vec![edge(k), edge(k + 1), round(scene.hours(counted[k]), 3), round(scene.hours(rest[k]), 3)]
    });
    let titles = ["#Flow over best-efficiency flow from", "#to", "#Hours outside", "#Other hours"];
    let table = Table::new("The bars of this figure.", &titles, rows.collect());
    Some(told.figure(f, HEIGHT, layers, keys, table))
}
