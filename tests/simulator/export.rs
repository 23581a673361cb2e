//! Readings to the bytes of an export: wide (a column a point) and tall (a row a sample).

use super::calendar::Zone;
use super::noise::Rng;
use super::sensors::Sensor;

/// A trended point: its readings as scaled whole numbers, or a word instead.
#[derive(Debug, Clone)]
pub struct Column {
    pub name: String,
    pub decimals: u32,
    pub values: Vec<i64>,
    /// Values stand for words (status): 0 and 1.
    pub words: Option<[&'static str; 2]>,
    /// Cells replaced: row and what stands there.
    pub bad: Vec<(usize, &'static str)>,
    /// Tall exports: every how many rows a sample is written; 0 writes on change only.
    pub every: usize,
}

impl Column {
    pub fn new(name: &str, sensor: &Sensor, rng: &mut Rng, signal: impl Iterator<Item = f64>) -> Self {
        let scale = 10_f64.powi(sensor.decimals as i32);
        Self {
            name: name.to_owned(),
            decimals: sensor.decimals,
            values: sensor.read(rng, signal, scale),
            words: None,
            bad: Vec::new(),
            every: 1,
        }
    }

    pub fn status(name: &str, words: [&'static str; 2], on: impl Iterator<Item = bool>) -> Self {
        Self {
            name: name.to_owned(),
            decimals: 0,
            values: on.map(i64::from).collect(),
            words: Some(words),
            bad: Vec::new(),
            every: 1,
        }
    }

    /// Reading never below nothing (a power, a flow, an opening).
    pub fn not_negative(mut self) -> Self {
        self.values.iter_mut().for_each(|v| *v = (*v).max(0));
        self
    }

    /// Openings stay between 0 and 100.
    pub fn percent(mut self) -> Self {
        let full = 100 * 10_i64.pow(self.decimals);
        self.values.iter_mut().for_each(|v| *v = (*v).clamp(0, full));
        self
    }

    pub fn every(mut self, rows: usize) -> Self {
        self.every = rows;
        self
    }

    fn cell(&self, out: &mut Vec<u8>, row: usize) {
        match self.words {
            Some(words) => out.extend_from_slice(words[usize::from(self.values[row] != 0)].as_bytes()),
            None => decimal(out, self.values[row], self.decimals),
        }
    }
}

/// Writes a scaled whole number with its decimals.
pub fn decimal(out: &mut Vec<u8>, value: i64, decimals: u32) {
    if value < 0 {
        out.push(b'-');
    }
    let scale = 10_u64.pow(decimals);
    let size = value.unsigned_abs();
    whole(out, size / scale, 1);
    if decimals > 0 {
        out.push(b'.');
        whole(out, size % scale, decimals as usize);
    }
}

/// Writes a whole number, padded with zeros.
pub fn whole(out: &mut Vec<u8>, mut value: u64, width: usize) {
    let mut digits = [b'0'; 20];
    let mut at = 20;
    while value > 0 || 20 - at < width {
        at -= 1;
        digits[at] = b'0' + (value % 10) as u8;
        value /= 10;
    }
    out.extend_from_slice(&digits[at..]);
}

/// Sprinkles bad words over a column and removes stretches.
pub fn spoil(column: &mut Column, rng: &mut Rng, words: &[&'static str], probability: f64) {
    for row in 0..column.values.len() {
        if rng.chance(probability) {
            let word = words[(rng.unit() * words.len() as f64) as usize % words.len()];
            column.bad.push((row, word));
        }
    }
}

/// A wide CSV; rows in `gaps` are left out altogether.
pub fn wide(time_header: &str, zone: Zone, time_ms: &[i64], columns: &[&Column], gaps: &[(usize, usize)]) -> Vec<u8> {
    let mut out = Vec::with_capacity(time_ms.len() * (18 + 7 * columns.len()));
    out.extend_from_slice(time_header.as_bytes());
    for c in columns {
        out.push(b',');
        out.extend_from_slice(c.name.as_bytes());
    }
    out.extend_from_slice(b"\r\n");
    let mut next_bad = vec![0; columns.len()];
    for (row, t) in time_ms.iter().enumerate() {
        let skip = gaps.iter().any(|g| (g.0..g.1).contains(&row));
        if !skip {
            let l = zone.local(*t);
            for (v, width, after) in
                [(l.year, 4, b'-'), (l.month, 2, b'-'), (l.day, 2, b' '), (l.hour, 2, b':'), (l.minute, 2, b',')]
            {
                whole(&mut out, v as u64, width);
                out.push(after);
            }
        }
        for (k, c) in columns.iter().enumerate() {
            let word = c.bad.get(next_bad[k]).filter(|b| b.0 == row).map(|b| b.1);
            next_bad[k] += usize::from(word.is_some());
            if skip {
                continue;
            }
            match word {
                Some(word) => out.extend_from_slice(word.as_bytes()),
                None => c.cell(&mut out, row),
            }
            out.push(b',');
        }
        if !skip {
            out.pop();
            out.extend_from_slice(b"\r\n");
        }
    }
    out
}

/// A tall CSV with US-style times, sorted by time.
pub fn tall(header: &str, zone: Zone, time_ms: &[i64], columns: &[Column], gaps: &[(usize, usize)]) -> Vec<u8> {
    let mut out = Vec::with_capacity(time_ms.len() * 34 * columns.len());
    out.extend_from_slice(header.as_bytes());
    out.extend_from_slice(b"\r\n");
    let mut next_bad = vec![0; columns.len()];
    let mut stamp = Vec::with_capacity(24);
    for (row, t) in time_ms.iter().enumerate() {
        stamp.clear();
        us_time(&mut stamp, zone, *t);
        let skip = gaps.iter().any(|g| (g.0..g.1).contains(&row));
        for (k, c) in columns.iter().enumerate() {
            let word = c.bad.get(next_bad[k]).filter(|b| b.0 == row).map(|b| b.1);
            next_bad[k] += usize::from(word.is_some());
            let due = match c.every {
                0 => row == 0 || c.values[row] != c.values[row - 1],
                n => row % n == 0,
            };
            if skip || !due {
                continue;
            }
            out.extend_from_slice(&stamp);
            out.extend_from_slice(c.name.as_bytes());
            out.push(b',');
            match word {
                Some(word) => out.extend_from_slice(word.as_bytes()),
                None => c.cell(&mut out, row),
            }
            out.extend_from_slice(b"\r\n");
        }
    }
    out
}

/// `3/8/2026 1:05:00 AM,`
fn us_time(out: &mut Vec<u8>, zone: Zone, t: i64) {
    let l = zone.local(t);
    let hour = if l.hour % 12 == 0 { 12 } else { l.hour % 12 };
    for (v, width, after) in
        [(l.month, 1, b'/'), (l.day, 1, b'/'), (l.year, 4, b' '), (hour, 1, b':'), (l.minute, 2, b':'), (0, 2, b' ')]
    {
        whole(out, v as u64, width);
        out.push(after);
    }
    out.extend_from_slice(if l.hour < 12 { b"AM," } else { b"PM," });
}

/// A `[[point]]` of a plant file; `of` and `unit` are left out where empty, `more` is whole lines.
pub fn point_entry(name: &str, role: &str, of: &str, unit: &str, more: &str) -> String {
    let said = |key: &str, value: &str| if value.is_empty() { String::new() } else { format!("{key} = \"{value}\"\n") };
    format!("[[point]]\nname = \"{name}\"\nrole = \"{role}\"\n{}{}{more}\n", said("of", of), said("unit", unit))
}

/// A list of numbers for a TOML file.
pub fn list(values: impl Iterator<Item = f64>, decimals: usize) -> String {
    values.map(|v| format!("{v:.decimals$}")).collect::<Vec<_>>().join(", ")
}
