//! The figures of a verified change: energy day by day against what the old setting would have used, and head over flow before and after.

use super::{
    Figure, Key, Layer,
    frame::{Frame, Pen, Scale},
    head_flow, marks,
    numbers::{Bands, Datum, Over, over_flow, titled},
    palette,
};
use crate::{
    report::{
        document::Table,
        show::{Show, figures as round},
    },
    verification::Verification,
    verify::{DayRow, Saving, Setting},
};
use plotters::prelude::*;
use std::collections::BTreeMap;

/// More changes than this are not each marked by a line.
const MOST_LINES: usize = 16;
/// No more rows than this in a table, and bands of flow in the other.
const MOST_ROWS: usize = 60;
const BANDS: usize = 12;
/// Cells across and up of the points before and after.
const CELLS: (f64, f64) = (60.0, 42.0);
const BEFORE: RGBColor = palette::BY_POWER;
const AFTER: RGBColor = palette::BY_HEAD;

/// Energy day by day; `None` where nothing was compared.
pub fn daily(v: &Verification, show: &Show) -> Option<Figure> {
    let saving = v.saving.as_ref().ok()?;
    let first = show.local(saving.days.first()?.from_ms)?.date_naive();
    let day = |ms: i64| show.local(ms).map_or(f64::NAN, |t| (t.date_naive() - first).num_days() as f64);
    let known = |d: &&DayRow| d.setting.is_some() || d.energy_kwh.is_finite();
    let days: Vec<(f64, &DayRow)> = saving.days.iter().filter(known).map(|d| (day(d.from_ms) + 0.5, d)).collect();
    let top =
        days.iter().flat_map(|(_, d)| [d.energy_kwh, d.predicted_kwh]).filter(|e| e.is_finite()).fold(1e-6, f64::max);
    let right = days.last().map_or(1.0, |d| d.0 + 0.5);
    let frame = Frame::whole(620, 0.0..right, 0.0..top * 1.12);
    let date = |d: f64| {
        let on = first.checked_add_signed(chrono::TimeDelta::days(d.round() as i64));
        on.map_or_else(String::new, |d| d.format("%-d %b").to_string())
    };
    let axes = frame.axes(
        &Scale { description: "day", factor: 1.0 },
        &Scale { description: "energy of the pumps, kWh a day", factor: 1.0 },
        Some(&date),
    );
    let mut layers = vec![Layer::new("daily-axis", "axis", axes).with_table(daily_table(&days, show))];
    layers.push(Layer::new("daily-change", "change", frame.layer(|pen| changes(pen, v, &frame, show, &day))));
    layers.push(Layer::new("daily-predicted", "predicted", frame.layer(|pen| predicted(pen, &days))));
    let (mut keys, class) = (Vec::new(), |class, label: &str, sample| Key { class, label: label.to_owned(), sample });
    for (name, label, of) in [
        ("left-out", "left out", None),
        ("before", "used, before", Some(Setting::Old)),
        ("after", "used, after", Some(Setting::New)),
    ] {
        let own: Vec<(f64, f64)> = days
            .iter()
            .filter(|(_, d)| if d.predicted_kwh.is_finite() { d.setting == of } else { of.is_none() })
            .map(|(x, d)| (*x, d.energy_kwh))
            .filter(|(_, y)| y.is_finite())
            .collect();
        if own.is_empty() {
            continue;
        }
        let body = frame.layer(|pen| own.iter().for_each(|(x, y)| mark(pen, of, pen.at(*x, *y), 7.0, 0.85)));
        layers.push(Layer::new(format!("daily-{name}"), name, body));
        keys.push(class(name, label, sample(of)));
    }
    keys.push(class("predicted", "the old setting would have used", marks::line_sample(palette::INK, false)));
    keys.push(class("change", "change of the setting", marks::line_sample(palette::PROPOSED, true)));
    Some(Figure {
        id: "daily-energy".into(),
        title: "Energy day by day".to_owned(),
        description: description(saving, show),
        caption: "What the pumps used each day, and what the old setting would have used by its model at that day's weather, load and calendar. \
                  Days that were not compared are pale and have no prediction."
            .to_owned(),
        keys,
        height: frame.height,
        layers,
    })
}

/// The days, or means of as many as make a table of a readable size.
fn daily_table(days: &[(f64, &DayRow)], show: &Show) -> Table {
    let each = days.len().div_ceil(MOST_ROWS).max(1);
    let mean = |own: &[(f64, &DayRow)], of: fn(&DayRow) -> f64| {
        let known: Vec<f64> = own.iter().map(|d| of(d.1)).filter(|v| v.is_finite()).collect();
        if known.is_empty() { "–".to_owned() } else { round(known.iter().sum::<f64>() / known.len() as f64, 3) }
    };
    let setting = |s: Option<Setting>| match s {
        Some(Setting::Old) => "old",
        Some(Setting::New) => "new",
        None => "left out",
    };
    let row = |own: &[(f64, &DayRow)]| {
        let mut settings: Vec<&str> = own.iter().map(|d| setting(d.1.setting)).collect();
        settings.dedup();
        vec![
            show.date(own[0].1.from_ms),
            settings.join(", "),
            mean(own, |d| d.energy_kwh),
            mean(own, |d| d.predicted_kwh),
        ]
    };
    let span = if each == 1 { "Day by day".to_owned() } else { format!("Means of {each} days each") };
    let caption = format!("{span}: what the pumps used, and what the old setting would have used.");
    let titles = ["From", "Setting", "#Used, kWh a day", "#Old setting, kWh a day"];
    Table::new(caption, &titles, days.chunks(each).map(row).collect())
}

/// Hours and heads before and after by band of flow.
fn moved_table(rows: &[(f64, f64, Setting)], end: f64, hours: f64, show: &Show) -> Table {
    let data = rows.iter().map(|r| Datum { x: r.0, y: r.1, kind: usize::from(r.2 == Setting::New), hours });
    let titles = [
        titled(show, "#Flow from, m³/h", "#Flow from, gpm"),
        "#to",
        "Setting",
        "#Hours",
        titled(show, "#Head, kPa: mean", "#Head, ft: mean"),
        "#least",
        "#most",
    ];
    let over = Over {
        caption: "Head by band of flow, steady rows.".to_owned(),
        titles: &titles,
        kinds: &["old".to_owned(), "new".to_owned()],
        value: &|v| show.head_value(v),
    };
    over_flow(&Bands::of(data, BANDS, over.kinds.len(), end), &over, show)
}

fn description(s: &Saving, show: &Show) -> String {
    format!(
        "Daily energy of the pumps from {} to {}: {} on {} days compared after the change, where the old setting would have used {}.",
        show.date(s.before.from_ms.min(s.after.from_ms)),
        show.date(s.before.to_ms.max(s.after.to_ms) - 1),
        show.energy(s.after.energy_kwh),
        s.after.days,
        show.energy(s.after.energy_kwh + s.saving_kwh.estimate)
    )
}

/// The prediction as a line that breaks where a day has none.
fn predicted(pen: &Pen, days: &[(f64, &DayRow)]) {
    let mut last = f64::NAN;
    let mut points = Vec::new();
    for (x, d) in days {
        if x - last > 1.5 {
            points.push((f64::NAN, f64::NAN));
        }
        points.push((*x, d.predicted_kwh));
        last = *x;
    }
    pen.line(points, palette::INK.stroke_width(3));
}

fn changes(pen: &Pen, v: &Verification, frame: &Frame, show: &Show, day: &dyn Fn(i64) -> f64) {
    let at = v.stretches.windows(2).filter(|w| w[0].setting != w[1].setting).map(|w| w[1].from_ms);
    for ms in at.take(MOST_LINES) {
        let within =
            show.local(ms).map_or(0.0, |t| f64::from(chrono::Timelike::num_seconds_from_midnight(&t)) / 86_400.0);
        let x = day(ms) + within;
        marks::dashed(pen, &[(x, frame.y.start), (x, frame.y.end)], palette::PROPOSED.stroke_width(4));
    }
}

/// A round mark before, a triangle after, a small pale one for what was left out.
fn mark(pen: &Pen, of: Option<Setting>, at: (i32, i32), radius: f64, depth: f64) {
    match of {
        Some(Setting::Old) => marks::placed(pen, None, BEFORE.mix(depth).filled(), at, radius),
        Some(Setting::New) => marks::placed(pen, Some(marks::POINTS_UP), AFTER.mix(depth).filled(), at, radius),
        None => pen.draw(&Circle::new(at, 4, palette::PUMP.mix(0.6).filled())),
    }
}

fn sample(of: Option<Setting>) -> String {
    let hex = |c: RGBColor| format!("#{:02X}{:02X}{:02X}", c.0, c.1, c.2);
    match of {
        Some(Setting::Old) => format!("<circle cx=\"24\" cy=\"16\" r=\"9\" fill=\"{}\"/>", hex(BEFORE)),
        Some(Setting::New) => format!("<polygon points=\"24,5 34,24 14,24\" fill=\"{}\"/>", hex(AFTER)),
        None => format!("<circle cx=\"24\" cy=\"16\" r=\"5\" fill=\"{}\"/>", hex(palette::PUMP)),
    }
}

/// Head over flow before and after, with the curves that were asked for; `None` where no head over flow is known.
pub fn moved(v: &Verification, show: &Show) -> Option<Figure> {
    let system = &v.points.system;
    let row = |i: usize| {
        let (x, y) = (*system.flow_m3h.get(i)?, *system.head_kpa.get(i)?);
        let setting = v.setting_at(v.clock.at_ms(i))?;
        (*system.steady.get(i)? && x.is_finite() && y.is_finite() && y > 0.0).then_some((x, y, setting))
    };
    let rows: Vec<(f64, f64, Setting)> = (0..v.clock.len).filter_map(row).collect();
    if rows.is_empty() {
        return None;
    }
    let most = |of: fn(&(f64, f64, Setting)) -> f64| rows.iter().map(of).fold(1e-6, f64::max);
    let frame = Frame::whole(700, 0.0..most(|r| r.0) * 1.1, 0.0..most(|r| r.1) * 1.2);
    let one = v.settings.0 == v.settings.1;
    let table = moved_table(&rows, frame.x.end, v.clock.hours(), show);
    let mut layers: Vec<Layer> =
        head_flow::axes("moved", &frame, show).into_iter().map(|l| l.with_table(table.clone())).collect();
    let mut keys = Vec::new();
    for (name, label, of) in [("before", "before", Setting::Old), ("after", "after", Setting::New)] {
        let cells = binned(&frame, rows.iter().filter(|r| r.2 == of));
        let hours = cells.iter().map(|c| c.2).sum::<f64>() * v.clock.hours();
        let deepest = cells.iter().map(|c| c.2).fold(1e-6, f64::max);
        let body = frame.layer(|pen| {
            for (x, y, n) in &cells {
                let share = (n / deepest).sqrt();
                mark(pen, Some(of), pen.at(*x, *y), 4.0 + 7.0 * share, 0.3 + 0.6 * share);
            }
        });
        if hours > 0.0 {
            layers.push(Layer::new(format!("moved-{name}"), name, body));
            keys.push(Key { class: name, label: format!("{label} ({} h)", round(hours, 3)), sample: sample(Some(of)) });
        }
    }
    for (name, label, control, whole) in [
        ("old-curve", "old control curve", &v.settings.0, true),
        ("new-curve", if one { "control curve in the plant file" } else { "new control curve" }, &v.settings.1, false),
    ] {
        let color = if whole { palette::INK } else { palette::PROPOSED };
        if whole && one {
            continue;
        }
        if let Some(curve) = head_flow::drawn(control, &frame) {
            let curve: Vec<(f64, f64)> =
                curve.into_iter().filter(|(q, h)| *q <= frame.x.end && *h <= frame.y.end).collect();
            let body = frame.layer(|pen| {
                if whole {
                    pen.line(curve.clone(), color.stroke_width(5));
                } else {
                    marks::dashed(pen, &curve, color.stroke_width(6));
                }
            });
            layers.push(Layer::new(format!("moved-{name}"), name, body));
            keys.push(Key { class: name, label: label.to_owned(), sample: marks::line_sample(color, !whole) });
        }
    }
    Some(Figure {
        id: "head-before-after".into(),
        title: "Head over flow, before and after".to_owned(),
        description: "Scatter of head over flow of steady rows with the old and with the new setting, and the control curves where the settings fix them."
            .to_owned(),
        caption: "Steady rows. Each mark is a small patch of hours, larger and deeper the more it holds. Points on the new curve say that the change took.".to_owned(),
        keys,
        height: frame.height,
        layers,
    })
}

/// One mark a cell: mean place, and how many rows.
fn binned<'r>(frame: &Frame, rows: impl Iterator<Item = &'r (f64, f64, Setting)>) -> Vec<(f64, f64, f64)> {
    let mut cells: BTreeMap<(i64, i64), (f64, f64, f64)> = BTreeMap::new();
    for (x, y, _) in rows {
        let cell = ((x / frame.x.end * CELLS.0) as i64, (y / frame.y.end * CELLS.1) as i64);
        let sums = cells.entry(cell).or_default();
        *sums = (sums.0 + x, sums.1 + y, sums.2 + 1.0);
    }
    cells.into_values().map(|(x, y, n)| (x / n, y / n, n)).collect()
}
