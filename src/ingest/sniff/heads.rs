//! What stands above the readings: names, equipment, units, and the lines above those.

use super::super::cell::is_known_word;
use super::grid::{Grid, is_time};
use crate::plant::units;

/// Lines above the readings that may head them.
pub(super) const NEAR: usize = 4;
/// A row is one of units where this share of its filled cells are [share].
const MOSTLY: f64 = 0.6;
/// Words that head a column and say nothing of the point (common practice, no source).
const SAYS_NOTHING: [&str; 34] = [
    "value",
    "values",
    "reading",
    "present value",
    "data",
    "val",
    "sample",
    "measurement",
    "result",
    "wert",
    "werte",
    "messwert",
    "valeur",
    "mesure",
    "valor",
    "medida",
    "valore",
    "waarde",
    "time",
    "date",
    "timestamp",
    "zeit",
    "datum",
    "datum/zeit",
    "fecha",
    "hora",
    "heure",
    "unit",
    "units",
    "einheit",
    "unité",
    "unidad",
    "point",
    "y",
];
/// Words before a colon, or in the first cell of a line, that say that the point's name follows.
const NAMES_A_POINT: [&str; 30] = [
    "point",
    "point name",
    "name",
    "tag",
    "tag name",
    "trend",
    "trend name",
    "object",
    "object name",
    "channel",
    "sensor",
    "variable",
    "series",
    "log",
    "trend log",
    "signal",
    "messpunkt",
    "messstelle",
    "datenpunkt",
    "punkt",
    "bezeichnung",
    "kanal",
    "nom",
    "nom du point",
    "point de mesure",
    "voie",
    "punto",
    "nombre",
    "etiqueta",
    "canal",
];
const NAMES_A_UNIT: [&str; 12] = [
    "unit",
    "units",
    "uom",
    "eu",
    "engineering unit",
    "engineering units",
    "einheit",
    "unité",
    "unite",
    "unidad",
    "unidades",
    "unità",
];

/// The heads of a table.
#[derive(Debug, Default, Clone)]
pub(in super::super) struct Heads {
    /// Line of the names; 0 without.
    pub line: u64,
    pub names: Option<Vec<String>>,
    /// Equipment above the names, where it stands once for several.
    above: Option<Vec<String>>,
    pub units: Option<Vec<String>>,
    /// These lines as they stand.
    pub all: Vec<Vec<String>>,
    pub preamble: Vec<Vec<String>>,
}

impl Heads {
    pub fn width(&self) -> usize {
        self.names.as_ref().map_or(0, Vec::len)
    }

    /// What a column may be called: equipment and point, the header as it stands, and without its unit.
    pub fn names_of(&self, column: usize) -> Vec<String> {
        let cell = |row: &Option<Vec<String>>| row.as_ref().and_then(|r| r.get(column)).cloned().unwrap_or_default();
        let (name, above) = (cell(&self.names), cell(&self.above));
        let mut names = Vec::new();
        if !above.is_empty() {
            names.push(if says_nothing(&name) { above } else { format!("{above} {name}") });
        }
        names.push(name);
        for i in 0..names.len() {
            let (bare, unit) = parted_unit(&names[i]);
            if unit.is_some() {
                names.insert(0, bare.to_owned());
            }
        }
        names.retain(|n| !n.is_empty());
        names.dedup();
        names
    }

    /// The unit that the heads state for a column.
    pub fn unit_of(&self, column: usize) -> Option<String> {
        let row = self.units.as_ref().and_then(|u| u.get(column)).filter(|u| !u.is_empty());
        row.map(|u| u.trim_matches(['(', ')', '[', ']']).to_owned()).or_else(|| {
            let name = self.names.as_ref()?.get(column)?;
            parted_unit(name).1.map(str::to_owned)
        })
    }
}

/// The heads above the first reading of a grid.
pub(super) fn above(grid: &Grid, width: usize, is_time_column: &dyn Fn(usize) -> bool) -> Heads {
    of_lines(&grid.rows[..grid.first], width, is_time_column)
}

/// The heads among the lines above some readings.
pub(in super::super) fn of_lines(
    lines: &[(u64, Vec<String>)],
    width: usize,
    is_time_column: &dyn Fn(usize) -> bool,
) -> Heads {
    let filled = |r: &[String]| r.iter().filter(|c| !c.is_empty()).count();
    let values = |r: &[String]| {
        r.iter()
            .enumerate()
            .filter(|(c, v)| !is_time_column(*c) && !v.is_empty())
            .map(|(_, v)| v.clone())
            .collect::<Vec<_>>()
    };
    let mut heads = Heads::default();
    let mut used = lines.len();
    for (i, (line, row)) in lines.iter().enumerate().rev().take(NEAR) {
        let wide = 2 * row.len() > width && !values(row).is_empty();
        let has_numbers = values(row).iter().any(|v| v.parse::<f64>().is_ok());
        let has_times = row.iter().any(|c| is_time(c));
        if heads.names.is_none() {
            if !wide || has_times {
                continue;
            }
            if heads.units.is_none() && is_unit_row(&values(row)) {
                heads.units = Some(row.clone());
            } else if filled(row) >= 2 || (width <= 2 && !has_numbers) {
                heads.names = Some(row.clone());
                heads.line = *line;
            } else {
                continue;
            }
            heads.all.push(row.clone());
            used = i;
            continue;
        }
        let names = heads.names.as_deref().unwrap_or_default();
        let stands_above = i + 1 == used && 2 * row.len() > width && filled(row) > 0 && !is_key_line(row);
        if stands_above && !has_times && !has_numbers && heads_equipment(row, names, is_time_column) {
            heads.above = Some(spread(row, names, is_time_column));
            heads.all.push(row.clone());
            used = i;
        }
        break;
    }
    if heads.names.is_none() && heads.units.is_some() {
        // A row of words that happen to be units is the header itself.
        heads.names = heads.units.take();
        heads.line = lines.get(used).map_or(0, |l| l.0);
    }
    heads.preamble = lines[..used].iter().map(|(_, r)| r.clone()).collect();
    heads
}

fn is_unit_row(values: &[String]) -> bool {
    let is_unit = |v: &String| {
        let bare = v.trim_matches(['(', ')', '[', ']']);
        units::dimension(bare).is_some() || is_unit_word(bare)
    };
    let hits = values.iter().filter(|v| is_unit(v)).count();
    hits > 0 && hits as f64 >= MOSTLY * values.len() as f64
}

fn is_unit_word(word: &str) -> bool {
    let word = word.to_lowercase();
    matches!(
        word.as_str(),
        "-" | "on/off" | "off/on" | "0/1" | "bool" | "boolean" | "binary" | "enum" | "state" | "no units" | "none"
    ) || NAMES_A_UNIT.contains(&word.as_str())
}

/// "Unit;kW": a word that says what follows it.
fn is_key_line(row: &[String]) -> bool {
    let key = row.first().map(|c| c.trim_end_matches(':').trim().to_lowercase()).unwrap_or_default();
    let filled = row.iter().filter(|c| !c.is_empty()).count();
    filled <= 2 && (NAMES_A_UNIT.contains(&key.as_str()) || NAMES_A_POINT.contains(&key.as_str()))
}

/// Whether a row stands for the equipment of the names below it.
fn heads_equipment(row: &[String], names: &[String], is_time_column: &dyn Fn(usize) -> bool) -> bool {
    let mut below: Vec<String> = names
        .iter()
        .enumerate()
        .filter(|(c, n)| !is_time_column(*c) && !n.is_empty())
        .map(|(_, n)| n.to_lowercase())
        .collect();
    let count = below.len();
    below.sort_unstable();
    below.dedup();
    let repeated = below.len() < count || below.iter().all(|n| says_nothing(n));
    let over_times = (0..row.len().max(names.len())).filter(|c| is_time_column(*c));
    let blank_there = over_times.clone().all(|c| row.get(c).is_none_or(String::is_empty)) && over_times.count() > 0;
    repeated || blank_there
}

/// Equipment that stands once over several columns, over each of them.
fn spread(row: &[String], names: &[String], is_time_column: &dyn Fn(usize) -> bool) -> Vec<String> {
    let mut last = String::new();
    (0..names.len().max(row.len()))
        .map(|c| {
            if let Some(cell) = row.get(c).filter(|c| !c.is_empty()) {
                last.clone_from(cell);
            }
            if is_time_column(c) { String::new() } else { last.clone() }
        })
        .collect()
}

/// A header that says nothing of the point.
pub(in super::super) fn says_nothing(name: &str) -> bool {
    let (bare, _) = parted_unit(name);
    SAYS_NOTHING.contains(&bare.to_lowercase().as_str()) || units::dimension(bare).is_some()
}

/// A name and the unit behind it: "P1 Power (kW)", "P1 Power [kW]", "P1 Power, kW", "P1 Power / kW".
pub(in super::super) fn parted_unit(name: &str) -> (&str, Option<&str>) {
    let name = name.trim();
    for (open, close) in [('(', ')'), ('[', ']'), ('{', '}')] {
        if let Some(inside) = name.strip_suffix(close)
            && let Some((bare, unit)) = inside.rsplit_once(open)
            && is_unit(unit)
            && !bare.trim().is_empty()
        {
            return (bare.trim_end(), Some(unit.trim()));
        }
    }
    for mark in [", ", " / ", "; ", " in ", " - "] {
        if let Some((bare, unit)) = name.rsplit_once(mark)
            && is_unit(unit)
            && !bare.trim().is_empty()
        {
            return (bare.trim_end(), Some(unit.trim()));
        }
    }
    (name, None)
}

fn is_unit(written: &str) -> bool {
    units::dimension(written.trim()).is_some()
}

/// A point's name and unit among the lines above its readings: after a word that says so, else a line that says nothing else.
pub(in super::super) fn named_in(lines: &[Vec<String>]) -> (Option<String>, Option<String>) {
    let (mut name, mut unit, mut title) = (None, None, None);
    for row in lines {
        let cells: Vec<&str> = row.iter().map(String::as_str).filter(|c| !c.is_empty()).collect();
        let (key, value) = match cells.as_slice() {
            [only] => match only.split_once(':') {
                Some((key, value)) => (key, value),
                None => (*only, ""),
            },
            [key, value] => (key.trim_end_matches(':'), *value),
            _ => continue,
        };
        let (key, value) = (key.trim().to_lowercase(), value.trim());
        if !value.is_empty() && NAMES_A_POINT.contains(&key.as_str()) {
            name = Some(value.to_owned());
        } else if !value.is_empty() && NAMES_A_UNIT.contains(&key.as_str()) {
            unit = Some(value.to_owned());
        } else if let [only] = cells.as_slice()
            && !says_nothing(only)
            && !is_known_word(only.as_bytes())
            && only.parse::<f64>().is_err()
            && (value.is_empty() || !only.contains(": "))
        {
            title = Some((*only).to_owned());
        }
    }
    (name.or(title), unit)
}
