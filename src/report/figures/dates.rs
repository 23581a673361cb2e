//! A horizontal axis of local days: lines at days that people count by, and their dates.

use super::{
    frame::{Frame, Pen},
    palette,
};
use chrono::{Datelike, NaiveDate, TimeDelta, Weekday};
use plotters::prelude::*;
use std::ops::Range;

/// Longest axis [d] with a line at each sixth hour, at each day, each Monday, each month.
const BY_HOUR: f64 = 2.0;
const BY_DAY: f64 = 12.0;
const BY_WEEK: f64 = 80.0;
const BY_MONTH: f64 = 550.0;

/// Lines through the frame, and dates below it; the frame's horizontal data are days since `first`'s midnight.
pub fn axis(frame: &Frame, first: Option<NaiveDate>) -> String {
    let ticks = first.map_or_else(Vec::new, |first| ticks(first, &frame.x));
    frame.layer(|pen| {
        for (day, label) in &ticks {
            pen.line([(*day, frame.y.start), (*day, frame.y.end)], palette::GRID.stroke_width(2));
            named(pen, frame, *day, label);
        }
        pen.line([(frame.x.start, frame.y.start), (frame.x.end, frame.y.start)], palette::MUTED.stroke_width(2));
    })
}

fn named(pen: &Pen, frame: &Frame, day: f64, label: &str) {
    pen.words_below(label, day, frame.y.start, 12, palette::INK);
}

/// Days since `first` with what is written there.
fn ticks(first: NaiveDate, days: &Range<f64>) -> Vec<(f64, String)> {
    let span = days.end - days.start;
    if span <= BY_HOUR {
        let quarters = (days.start * 4.0).ceil() as i64..=(days.end * 4.0).floor() as i64;
        return quarters.map(|q| (q as f64 / 4.0, format!("{:02}:00", 6 * q.rem_euclid(4)))).collect();
    }
    let wanted = |d: &NaiveDate| match span {
        s if s <= BY_DAY => true,
        s if s <= BY_WEEK => d.weekday() == Weekday::Mon,
        s if s <= BY_MONTH => d.day() == 1,
        _ => d.day() == 1 && d.month() % 3 == 1,
    };
    let label = |d: NaiveDate| match span {
        s if s <= BY_WEEK => d.format("%-d %b").to_string(),
        _ if d.month() == 1 => d.format("%Y").to_string(),
        _ => d.format("%b").to_string(),
    };
    let date = |day: i64| first.checked_add_signed(TimeDelta::days(day));
    (days.start.ceil() as i64..=days.end.floor() as i64)
        .filter_map(|day| date(day).filter(wanted).map(|d| (day as f64, label(d))))
        .collect()
}
