//! Whether a table is tall: a row a reading, with the point's name in a column.

use super::super::cell::is_known_word;
use super::grid::Grid;
use super::heads::Heads;
use super::{Shape, TimeColumns, plain};
use crate::plant::units;
use std::cmp::Reverse;

/// Words that head a column of point names (common practice, no source).
const NAME_HEADERS: [&str; 42] = [
    "point",
    "point name",
    "pointname",
    "name",
    "tag",
    "tag name",
    "tagname",
    "object",
    "object name",
    "trend",
    "trend name",
    "channel",
    "variable",
    "sensor",
    "signal",
    "series",
    "point id",
    "pointid",
    "description",
    "path",
    "metric",
    "parameter",
    "messpunkt",
    "messstelle",
    "datenpunkt",
    "punkt",
    "bezeichnung",
    "kanal",
    "name des punktes",
    "nom",
    "nom du point",
    "point de mesure",
    "repère",
    "voie",
    "punto",
    "nombre",
    "etiqueta",
    "canal",
    "punto de medida",
    "nome",
    "id punto",
    "equipment point",
];
const VALUE_HEADERS: [&str; 21] = [
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
    "actual value",
    "point value",
    "istwert",
];
const UNIT_HEADERS: [&str; 10] =
    ["unit", "units", "uom", "eu", "engineering units", "einheit", "unité", "unite", "unidad", "unità"];
const STATUS_HEADERS: [&str; 12] = [
    "quality",
    "status",
    "reliability",
    "state",
    "flag",
    "flags",
    "qualität",
    "qualité",
    "qualite",
    "calidad",
    "qualità",
    "point status",
];

/// The tall shape of a grid, if it is tall.
pub(super) fn tall(grid: &Grid, heads: &Heads, others: &[usize], time: TimeColumns, names: &[&str]) -> Option<Shape> {
    let header = heads.names.as_deref().unwrap_or_default();
    let head = |c: usize| header.get(c).map(|h| plain(h)).unwrap_or_default();
    let names: Vec<String> = names.iter().map(|n| plain(n)).collect();
    let is_name = |c: &str| names.contains(&plain(c));
    let count =
        |c: usize, what: &dyn Fn(&str) -> bool| grid.data().filter(|r| r.get(c).is_some_and(|t| what(t))).count();
    let headed = |words: &[&str]| others.iter().copied().find(|c| words.contains(&head(*c).as_str()));
    let is_words = |c: &usize| count(*c, &is_label) * 10 >= 9 * grid.dated;
    let wide = header.iter().filter(|h| is_name(h)).count();
    let by_points = others.iter().copied().map(|c| (count(c, &is_name), Reverse(c))).max().filter(|m| m.0 > 0);
    let name = match by_points {
        Some((hits, Reverse(c))) if wide == 0 || 2 * hits > grid.dated => Some(c),
        _ if wide > 0 => None,
        _ => headed(&NAME_HEADERS).filter(is_words).or_else(|| by_repetition(grid, others, time)),
    }?;
    with_names_in(grid, heads, others, time, name)
}

/// The same where a person says that it is tall: the column most of whose cells are words holds the names.
pub(super) fn declared(grid: &Grid, heads: &Heads, others: &[usize], time: TimeColumns) -> Option<Shape> {
    let labels = |c: usize| grid.data().filter(|r| r.get(c).is_some_and(|t| is_label(t))).count();
    let most = others.iter().copied().map(|c| (labels(c), Reverse(c))).max().filter(|m| m.0 > 0)?;
    with_names_in(grid, heads, others, time, most.1.0)
}

/// Value, unit and status beside the column of names.
fn with_names_in(grid: &Grid, heads: &Heads, others: &[usize], time: TimeColumns, name: usize) -> Option<Shape> {
    let header = heads.names.as_deref().unwrap_or_default();
    let head = |c: usize| header.get(c).map(|h| plain(h)).unwrap_or_default();
    let count =
        |c: usize, what: &dyn Fn(&str) -> bool| grid.data().filter(|r| r.get(c).is_some_and(|t| what(t))).count();
    let rest = || others.iter().copied().filter(move |c| *c != name);
    let numbers = |c: usize| count(c, &|t| is_number(t) || is_known_word(t.as_bytes()));
    let value = rest()
        .find(|c| VALUE_HEADERS.contains(&head(*c).as_str()))
        .or_else(|| rest().map(|c| (numbers(c), Reverse(c))).max().filter(|m| m.0 > 0).map(|m| m.1.0))?;
    let rest = || rest().filter(move |c| *c != value);
    let is_unit = |t: &str| units::dimension(t).is_some();
    let unit = rest()
        .find(|c| UNIT_HEADERS.contains(&head(*c).as_str()))
        .or_else(|| rest().find(|c| count(*c, &is_unit) * 10 >= 9 * grid.dated));
    let status = rest().find(|c| Some(*c) != unit && STATUS_HEADERS.contains(&head(*c).as_str()));
    Some(Shape::Tall { time, name, value, unit, status })
}

/// Without a header that says so: a column of words beside one of readings, the times of whose rows come again or run anew.
fn by_repetition(grid: &Grid, others: &[usize], time: TimeColumns) -> Option<usize> {
    let words = |c: usize| grid.data().filter(|r| r.get(c).is_some_and(|t| is_label(t))).count() * 10 >= 9 * grid.dated;
    let numeric = |c: usize| grid.data().filter(|r| r.get(c).is_some_and(|t| is_number(t))).count() * 2 >= grid.dated;
    if others.iter().filter(|c| numeric(**c)).count() != 1 || grid.dated < 4 {
        return None;
    }
    let stamp = |r: &Vec<String>| {
        (r.get(time.date).cloned().unwrap_or_default(), time.clock.and_then(|c| r.get(c)).cloned().unwrap_or_default())
    };
    let stamps: Vec<(String, String)> = grid.data().map(stamp).collect();
    let again = stamps.windows(2).filter(|w| w[0] == w[1]).count();
    let candidates = others.iter().copied().filter(|c| words(*c));
    let distinct = |c: usize| {
        let mut seen: Vec<&String> = grid.data().filter_map(|r| r.get(c)).collect();
        seen.sort_unstable();
        seen.dedup();
        seen.len()
    };
    let best = candidates.map(|c| (distinct(c), Reverse(c))).max()?;
    let repeats = 4 * again >= stamps.len();
    (repeats && best.0 >= 2 && 2 * best.0 <= stamps.len()).then_some(best.1.0)
}

fn is_number(cell: &str) -> bool {
    let start = cell.trim_start_matches(['-', '+', '\u{2212}']);
    start.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','))
}

/// Words that could be a name: not a number, not a state, not empty.
fn is_label(cell: &str) -> bool {
    !cell.is_empty() && cell.parse::<f64>().is_err() && !is_known_word(cell.as_bytes())
}
