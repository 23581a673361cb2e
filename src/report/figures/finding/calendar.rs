//! Running by day and hour, against the declared schedule.

use super::{
    super::{Figure, Key, Layer, frame::Frame, palette},
    Scene, Told,
};
use crate::{
    faults::Finding,
    report::{document::Table, show::figures as round},
};
use plotters::prelude::*;
use std::ops::Range;

const HEIGHT: u32 = 560;
/// Days shown: of a longer record those around the day with most of it, since a year of blocks is heavy and thin [days].
const MOST_DAYS: usize = 42;
/// Pieces of an hour in which running is told [h].
const PIECE_H: f64 = 0.25;

pub fn out_of_hours(scene: &Scene, f: &Finding) -> Option<Figure> {
    let most = scene.day_of_most(&f.shown.rows)?;
    let span = shown(scene.days.len(), most);
    let frame = Frame { height: HEIGHT, top: 0, bottom: HEIGHT, x: 0.0..span.len() as f64, y: 0.0..24.0, below: 84 };
    let id = super::id(f);
    let dates = scene.dates(span.clone());
    let mut layers = vec![Layer::new(format!("{id}-axis"), "axis", axis(&frame, &dates))];
    let (mut inside, mut counted, mut excused, mut meant) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for (k, day) in span.clone().enumerate() {
        for (hours, piece) in scene.pieces(&scene.days[day]) {
            let cell = (k, hours);
            if scene.scheduled(piece.start) {
                meant.push(cell.clone());
            }
            match scene.runs(&piece, f) {
                Some(Ran::Counts) => counted.push(cell),
                Some(Ran::Inside) => inside.push(cell),
                Some(Ran::Excused) => excused.push(cell),
                None => {}
            }
        }
    }
    let blocks = |cells: Vec<(usize, Range<f64>)>, inset: f64, style: ShapeStyle| {
        frame.layer(|pen| {
            for (day, hours) in joined(cells) {
                pen.block(day as f64 + inset..(day + 1) as f64 - inset, hours, style);
            }
        })
    };
    layers.push(Layer::new(format!("{id}-meant"), "region", blocks(meant, 0.0, palette::PROPOSED.mix(0.13).filled())));
    layers.push(Layer::new(format!("{id}-beside"), "beside", blocks(inside, 0.32, palette::PUMP.filled())));
    layers.push(Layer::new(format!("{id}-excused"), "excused", blocks(excused, 0.40, palette::INK.filled())));
    layers.push(Layer::new(format!("{id}-counts"), "counts", blocks(counted, 0.12, palette::BY_POWER.filled())));
    let bar = |x: u32, fill: &str, more: &str| {
        format!("<rect x=\"{x}\" y=\"3\" width=\"{}\" height=\"27\" fill=\"{fill}\"{more}/>", 48 - 2 * x)
    };
    let key = |class, label: &str, sample| Key { class, label: label.to_owned(), sample };
    let keys = vec![
        key("counts", "running outside the schedule that counts (wide)", bar(10, "#B04A1C", "")),
        key("beside", "running within the schedule (narrower)", bar(17, "#8D9096", "")),
        key("excused", "run-on, early start, exercise or frost, not counted (thin)", bar(21, "#20242A", "")),
        key("region", "declared schedule", bar(4, "#1467B3", " opacity=\"0.2\"")),
    ];
    let rows = scene.days[span.start].start..scene.days[span.end - 1].end;
    let (hours, worst) = (scene.hours(f.shown.rows.count_in(&rows)), &scene.days[most]);
    let all = span.len() == scene.days.len();
    let told = Told {
        title: "When the pumps ran, against the schedule".to_owned(),
        caption: format!(
            "{} by local date and hour of the day; the blue ground is the declared schedule. Every quarter of an hour in which any pump ran most of the time is drawn.",
            if all {
                "All days".to_owned()
            } else {
                format!("The {} days around the one with most of these hours", span.len())
            }
        ),
        description: format!(
            "Calendar of running: {} outside the declared schedule over {} days, most on {} with {} h.",
            scene.show.hours(hours),
            span.len(),
            scene.date(worst.start),
            round(scene.hours(f.shown.rows.count_in(worst)), 3)
        ),
    };
    let rows = span.clone().map(|day| {
        let rows = &scene.days[day];
        let on = |i: &usize| scene.review.points.pumps.iter().any(|p| p.state.get(*i).is_some_and(|s| s.turns()));
        let ran = rows.clone().filter(on).count();
        let counts = f.shown.rows.count_in(rows);
        vec![scene.date(rows.start), round(scene.hours(ran), 3), round(scene.hours(counts), 3)]
    });
    let titles = ["Day", "#Hours any pump ran", "#Hours that count"];
    let table = Table::new("Hours of each day shown.", &titles, rows.collect());
    Some(told.figure(f, HEIGHT, layers, keys, table))
}

/// Hours of the day up, dates across.
fn axis(frame: &Frame, dates: &[(f64, String)]) -> String {
    frame.layer(|pen| {
        for hour in [0, 6, 12, 18, 24] {
            let y = f64::from(hour);
            pen.line([(0.0, y), (frame.x.end, y)], palette::GRID.stroke_width(2));
            pen.words(&format!("{hour:02}:00"), 0.0, y, (-86, -13), palette::INK);
        }
        for (x, words) in dates {
            pen.line([(*x, 0.0), (*x, 24.0)], palette::GRID.stroke_width(2));
            pen.words_below(words, *x, 0.0, 12, palette::INK);
        }
    })
}

fn shown(all: usize, most: usize) -> Range<usize> {
    let from = most.saturating_sub(MOST_DAYS / 2).min(all.saturating_sub(MOST_DAYS));
    from..(from + MOST_DAYS).min(all)
}

enum Ran {
    Inside,
    Counts,
    Excused,
}

/// Neighbouring hours of a day as one.
fn joined(cells: Vec<(usize, Range<f64>)>) -> Vec<(usize, Range<f64>)> {
    let mut out: Vec<(usize, Range<f64>)> = Vec::new();
    for (day, hours) in cells {
        match out.last_mut() {
            Some((d, h)) if *d == day && (h.end - hours.start).abs() < 1e-6 => h.end = hours.end,
            _ => out.push((day, hours)),
        }
    }
    out
}

impl Scene<'_> {
    /// A day's pieces: local hours, and rows.
    fn pieces(&self, day: &Range<usize>) -> Vec<(Range<f64>, Range<usize>)> {
        let step = self.review.clock.hours();
        let each = (PIECE_H / step).round().max(1.0) as usize;
        let hour = |row: usize| {
            let local = self.show.local(self.review.clock.at_ms(row)).map(|t| t.naive_local());
            local.map_or(0.0, |t| chrono::Timelike::num_seconds_from_midnight(&t.time()).into()) / 3600.0
        };
        let piece = |row: usize| {
            let rows = row..(row + each).min(day.end);
            let from: f64 = hour(row);
            (from..(from + rows.len() as f64 * step).min(24.0), rows)
        };
        day.clone().step_by(each).map(piece).collect()
    }

    fn scheduled(&self, row: usize) -> bool {
        let local = self.show.local(self.review.clock.at_ms(row));
        local.is_some_and(|t| self.review.plant.scheduled_at(t.naive_local()))
    }

    /// What most of a piece is; `None` where no pump ran, or nobody knows.
    fn runs(&self, piece: &Range<usize>, f: &Finding) -> Option<Ran> {
        let on = |i: &usize| self.review.points.pumps.iter().any(|p| p.state.get(*i).is_some_and(|s| s.turns()));
        if piece.clone().filter(on).count() * 2 <= piece.len() {
            return None;
        }
        Some(if f.shown.rows.count_in(piece) * 2 > piece.len() {
            Ran::Counts
        } else if self.scheduled(piece.start) {
            Ran::Inside
        } else {
            Ran::Excused
        })
    }
}
