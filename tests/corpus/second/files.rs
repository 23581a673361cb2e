//! Columns into files: wide by month or by equipment, tall by month, tall on change of value.

use super::building::Building;
use super::chance::Chance;
use super::export::Channel;
use std::fmt::Write;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    WideByMonth,
    WideByEquipment,
    Tall,
    TallOnChange,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stamp {
    Plain,
    DayFirst,
    MonthFirst,
    Utc,
}

/// How the files look.
#[derive(Debug, Clone)]
pub struct Look {
    pub shape: Shape,
    pub stamp: Stamp,
    pub delimiter: char,
    /// First and last row of what is missing.
    pub gaps: Vec<(usize, usize)>,
    pub blanks: f64,
}

impl Look {
    pub fn draw(c: &mut Chance, rows: usize, zone: &str) -> Self {
        let shape =
            c.pick(&[Shape::WideByMonth, Shape::WideByMonth, Shape::WideByEquipment, Shape::Tall, Shape::TallOnChange]);
        let stamp = if zone.starts_with("America") {
            c.pick(&[Stamp::Plain, Stamp::MonthFirst, Stamp::Utc])
        } else {
            c.pick(&[Stamp::Plain, Stamp::DayFirst, Stamp::Utc])
        };
        let many = if c.yes(0.35) { c.whole(1, 3) } else { 0 };
        let gaps = (0..many)
            .map(|_| {
                let from = c.whole(rows / 10, rows * 9 / 10);
                (from, from + c.whole(1, rows / 60 + 1))
            })
            .collect();
        Self {
            shape,
            stamp,
            delimiter: c.pick(&[',', ',', ';']),
            gaps: if shape == Shape::TallOnChange { Vec::new() } else { gaps },
            blanks: if c.yes(0.3) { 0.002 } else { 0.0 },
        }
    }
}

struct Writer<'a> {
    b: &'a Building,
    look: &'a Look,
    minutes: usize,
    c: Chance,
}

/// The files, with paths below the plant file's folder.
pub fn files(b: &Building, channels: &[Channel], look: &Look, minutes: usize) -> Vec<(String, Vec<u8>)> {
    let mut w = Writer { b, look, minutes, c: Chance::new(b.seed, 9) };
    let rows = channels.first().map_or(0, |c| c.values.len());
    let months = w.months(rows);
    let all: Vec<&Channel> = channels.iter().collect();
    match look.shape {
        Shape::WideByMonth => {
            months.iter().map(|(name, r)| (format!("exports/{name}.csv"), w.wide(&all, r.clone()))).collect()
        }
        Shape::WideByEquipment => {
            let mut groups: Vec<&str> = Vec::new();
            for c in channels {
                if !groups.contains(&c.group.as_str()) {
                    groups.push(&c.group);
                }
            }
            let file = |g: &str| g.to_lowercase().replace(|c: char| !c.is_ascii_alphanumeric(), "_");
            groups
                .iter()
                .map(|g| {
                    let of: Vec<&Channel> = channels.iter().filter(|c| c.group == *g).collect();
                    (format!("exports/{}.csv", file(g)), w.wide(&of, 0..rows))
                })
                .collect()
        }
        Shape::Tall => {
            months.iter().map(|(name, r)| (format!("exports/log-{name}.csv"), w.tall(&all, r.clone()))).collect()
        }
        Shape::TallOnChange => vec![("exports/changes.csv".to_owned(), w.changes(&all, rows))],
    }
}

impl Writer<'_> {
    /// Year and month, and its rows, by the civil calendar.
    fn months(&self, rows: usize) -> Vec<(String, std::ops::Range<usize>)> {
        let mut out: Vec<(String, std::ops::Range<usize>)> = Vec::new();
        for row in 0..rows {
            let (day, _) = self.b.site.local(row * self.minutes);
            let (y, m, _) = date(day);
            let name = format!("{y}-{m:02}");
            match out.last_mut() {
                Some((n, r)) if *n == name => r.end = row + 1,
                _ => out.push((name, row..row + 1)),
            }
        }
        out
    }

    fn stamp(&self, out: &mut String, row: usize) {
        let m = row * self.minutes;
        let civil = match self.look.stamp {
            Stamp::Utc => self.b.site.start_ms / 60_000 + m as i64,
            _ => self.b.site.civil[m / 60] + (m % 60) as i64,
        };
        let (y, mo, d) = date(civil.div_euclid(1440));
        let minute = civil.rem_euclid(1440);
        let (h, mi) = (minute / 60, minute % 60);
        let done = match self.look.stamp {
            Stamp::Plain => write!(out, "{y}-{mo:02}-{d:02} {h:02}:{mi:02}"),
            Stamp::DayFirst => write!(out, "{d:02}.{mo:02}.{y} {h:02}:{mi:02}"),
            Stamp::MonthFirst => {
                let (half, h12) = (if h < 12 { "AM" } else { "PM" }, if h % 12 == 0 { 12 } else { h % 12 });
                write!(out, "{mo}/{d}/{y} {h12}:{mi:02}:00 {half}")
            }
            Stamp::Utc => write!(out, "{y}-{mo:02}-{d:02}T{h:02}:{mi:02}:00Z"),
        };
        done.expect("a string takes what is written");
    }

    fn cell(&mut self, out: &mut String, ch: &Channel, v: f64) {
        if let Some(words) = ch.words {
            out.push_str(words[usize::from(v > 0.5)]);
            return;
        }
        if !v.is_finite() || (self.look.blanks > 0.0 && self.c.yes(self.look.blanks)) {
            return;
        }
        write!(out, "{v:.*}", ch.decimals).expect("a string takes what is written");
    }

    fn gap(&self, row: usize) -> bool {
        self.look.gaps.iter().any(|(a, z)| (*a..*z).contains(&row))
    }

    fn wide(&mut self, channels: &[&Channel], rows: std::ops::Range<usize>) -> Vec<u8> {
        let d = self.look.delimiter;
        let mut out = String::from("Time");
        for ch in channels {
            out.push(d);
            out.push_str(&ch.name);
        }
        out.push('\n');
        for row in rows.filter(|r| !self.look.gaps.iter().any(|(a, z)| (*a..*z).contains(r))) {
            self.stamp(&mut out, row);
            for ch in channels {
                out.push(d);
                self.cell(&mut out, ch, ch.values[row]);
            }
            out.push('\n');
        }
        out.into_bytes()
    }

    fn tall(&mut self, channels: &[&Channel], rows: std::ops::Range<usize>) -> Vec<u8> {
        let d = self.look.delimiter;
        let mut out = format!("Timestamp{d}Point{d}Value\n");
        for row in rows {
            if self.gap(row) {
                continue;
            }
            let mut stamp = String::new();
            self.stamp(&mut stamp, row);
            for ch in channels {
                let mut cell = String::new();
                self.cell(&mut cell, ch, ch.values[row]);
                if !cell.is_empty() {
                    out.push_str(&stamp);
                    out.push(d);
                    out.push_str(&ch.name);
                    out.push(d);
                    out.push_str(&cell);
                    out.push('\n');
                }
            }
        }
        out.into_bytes()
    }

    /// A row where a value moved by its increment since the last one that was logged.
    fn changes(&mut self, channels: &[&Channel], rows: usize) -> Vec<u8> {
        let d = self.look.delimiter;
        let mut out = format!("Timestamp{d}Point{d}Value\n");
        let mut last = vec![f64::NAN; channels.len()];
        for row in 0..rows {
            let mut stamp = String::new();
            for (ch, last) in channels.iter().zip(&mut last) {
                let v = ch.values[row];
                let off = v == 0.0 && *last != 0.0;
                if !v.is_finite() || !((v - *last).abs() < ch.change) && row > 0 && last.is_nan() && !v.is_finite() {
                    continue;
                }
                if (v - *last).abs() < ch.change && !off {
                    continue;
                }
                *last = v;
                if stamp.is_empty() {
                    self.stamp(&mut stamp, row);
                }
                let mut cell = String::new();
                self.cell(&mut cell, ch, v);
                if !cell.is_empty() {
                    out.push_str(&stamp);
                    out.push(d);
                    out.push_str(&ch.name);
                    out.push(d);
                    out.push_str(&cell);
                    out.push('\n');
                }
            }
        }
        out.into_bytes()
    }
}

/// Year, month and day of a day since 1970 (era arithmetic on 400-year cycles, from memory).
pub fn date(day: i64) -> (i64, i64, i64) {
    let z = day + 719_468;
    let era = z.div_euclid(146_097);
    let doe = z.rem_euclid(146_097);
    let yoe = (doe - doe / 1460 + doe / 36_524 - doe / 146_096) / 365;
    let doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    let mp = (5 * doy + 2) / 153;
    let d = doy - (153 * mp + 2) / 5 + 1;
    let m = if mp < 10 { mp + 3 } else { mp - 9 };
    (yoe + era * 400 + i64::from(m <= 2), m, d)
}
