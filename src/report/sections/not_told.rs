//! What could not be told, the point to trend next, and what was looked for and not seen.

use crate::{
    faults::next_point::NextPoint,
    report::{
        document::{Block, Table},
        show::Show,
        summary::{Clear, NotJudged, Summary},
        words,
    },
};

pub fn open(summary: &Summary, show: &Show) -> Vec<Block> {
    if summary.not_judged.is_empty() {
        return Vec::new();
    }
    let said = "These were not cleared: the record could not decide them. That nothing is said of them does not mean they are well.";
    let rows = alike(&summary.not_judged)
        .into_iter()
        .map(|(faults, n)| {
            let what: Vec<String> = faults.iter().map(|f| words::code(f).to_owned()).collect();
            let why = words::sentence(&words::capital(&show.sentence(n.why.trim())));
            vec![words::capital(&what.join(", ")), n.subject.to_owned(), n.missing.join(", "), why]
        })
        .collect();
    let table = Table::new("Not judged, and why.", &["What", "Of", "Missing", "Why"], rows);
    vec![Block::Paragraph(said.to_owned()), Block::Table(table)]
}

/// What one more point would settle.
pub fn next(summary: &Summary, show: &Show) -> Vec<Block> {
    let Some((first, more)) = summary.next_points.split_first() else { return Vec::new() };
    let text = format!("{}. {}", words::capital(&words::point(first)), settles(first, show));
    let mut blocks = vec![Block::Labelled { label: "Trend this next", text }];
    if !more.is_empty() {
        let rows = summary.next_points.iter().map(|p| {
            let what: Vec<String> = p.would_settle.iter().map(|f| words::code(f).to_owned()).collect();
            vec![words::capital(&words::point(p)), what.join(", "), show.energy(p.worth_kwh_per_year)]
        });
        blocks.push(Block::Table(Table::new(
            "Points worth trending, most useful first. The last column is what such faults usually waste in a loop that uses this much energy, a year; it is no finding.",
            &["Point", "Would help to settle", "#Usual waste a year"],
            rows.collect(),
        )));
    }
    blocks
}

fn settles(p: &NextPoint, show: &Show) -> String {
    let codes: Vec<String> = p.would_settle.iter().map(|f| words::code(f).to_owned()).collect();
    let money = match p.worth_kwh_per_year {
        worth if worth > 0.0 => format!(
            " In a loop that uses this much energy such faults usually waste about {} a year (common practice, no source).",
            show.energy_and_money(worth)
        ),
        _ => String::new(),
    };
    format!("It would help to settle: {}.{money}", words::join(&codes))
}

/// Matters of one subject that could not be judged for the same reason, told once.
fn alike<'s>(all: &'s [NotJudged<'s>]) -> Vec<(Vec<&'static str>, &'s NotJudged<'s>)> {
    let mut groups: Vec<(Vec<&'static str>, &NotJudged)> = Vec::new();
    for n in all {
        match groups.iter_mut().find(|(_, g)| (g.subject, g.missing, g.why) == (n.subject, n.missing, n.why)) {
            Some((faults, _)) => faults.push(n.fault),
            None => groups.push((vec![n.fault], n)),
        }
    }
    groups
}

pub fn clear(summary: &Summary, show: &Show) -> Vec<Block> {
    if summary.clear.is_empty() {
        return Vec::new();
    }
    let rows: Vec<Vec<String>> = alike_clear(&summary.clear)
        .into_iter()
        .map(|(subjects, c)| {
            let seen = words::sentence(&words::capital(&show.sentence(c.would_have_seen.trim())));
            vec![words::capital(words::short(c.fault)), subjects.join(", "), seen]
        })
        .collect();
    vec![Block::Table(Table::new(
        "Looked for and not seen. The last column says what would have shown in this record; a smaller fault may be there unseen.",
        &["What", "Of", "What would have shown"],
        rows,
    ))]
}

/// The same answer for several subjects is told once.
fn alike_clear<'s, 'r>(all: &'s [Clear<'r>]) -> Vec<(Vec<&'r str>, &'s Clear<'r>)> {
    let mut groups: Vec<(Vec<&str>, &Clear)> = Vec::new();
    for c in all {
        match groups.iter_mut().find(|(_, g)| (g.fault, g.would_have_seen) == (c.fault, c.would_have_seen)) {
            Some((subjects, _)) => subjects.push(c.subject),
            None => groups.push((vec![c.subject], c)),
        }
    }
    groups
}
